//! A league's nights as a calendar: iCalendar (RFC 5545), with the calendar's name of RFC 7986.

use ics::components::Property;
use ics::properties::{Description, DtEnd, DtStart, Location, Sequence, Status, Summary, URL};
use ics::{Event, ICalendar, escape_text};
use jiff::Timestamp;
use uuid::Uuid;

/// A night as a calendar shows it.
pub struct Night {
    pub id: Uuid,
    pub name: String,
    pub is_void: bool,
    pub opens_at: Timestamp,
    pub closes_at: Timestamp,
    /// How often what was laid down of it was changed.
    pub changes: i64,
    pub text: String,
    /// Where the holder of the calendar plays.
    pub bay: Option<String>,
    pub link: String,
}

fn at(time: Timestamp) -> String {
    time.strftime("%Y%m%dT%H%M%SZ").to_string()
}

/// Writes a calendar, as it stands now.
pub fn calendar(name: &str, nights: &[Night], now: Timestamp) -> String {
    let mut calendar = ICalendar::new("2.0", "-//evenfield//league nights//EN");
    calendar.push(Property::new("NAME", escape_text(name)));
    for night in nights {
        let mut event = Event::new(format!("{}@evenfield", night.id), at(now));
        event.push(DtStart::new(at(night.opens_at)));
        event.push(DtEnd::new(at(night.closes_at)));
        event.push(Sequence::new(night.changes.to_string()));
        event.push(if night.is_void { Status::cancelled() } else { Status::confirmed() });
        event.push(Summary::new(escape_text(format!("{}, {name}", night.name))));
        event.push(Description::new(escape_text(night.text.as_str())));
        if let Some(bay) = &night.bay {
            event.push(Location::new(escape_text(format!("bay {bay}"))));
        }
        event.push(URL::new(night.link.as_str()));
        calendar.add_event(event);
    }
    calendar.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn night(name: &str) -> Night {
        Night {
            id: Uuid::from_u128(7),
            name: name.into(),
            is_void: false,
            opens_at: "2026-10-01T16:00:00Z".parse().unwrap(),
            closes_at: "2026-10-01T21:00:00Z".parse().unwrap(),
            changes: 2,
            text: "9 holes; greens 10 ft".into(),
            bay: Some("2, left".into()),
            link: "https://golf.example/events/7".into(),
        }
    }

    #[test]
    fn a_night_is_an_event_of_rfc_5545() {
        let now = "2026-09-01T08:00:00Z".parse().unwrap();
        let text = calendar("Cellar; League", &[night("Night, one")], now);
        let due = [
            "BEGIN:VCALENDAR",
            "VERSION:2.0",
            "PRODID:-//evenfield//league nights//EN",
            "NAME:Cellar\\; League",
            "BEGIN:VEVENT",
            "UID:00000000-0000-0000-0000-000000000007@evenfield",
            "DTSTAMP:20260901T080000Z",
            "DTSTART:20261001T160000Z",
            "DTEND:20261001T210000Z",
            "SEQUENCE:2",
            "STATUS:CONFIRMED",
            "SUMMARY:Night\\, one\\, Cellar\\; League",
            "DESCRIPTION:9 holes\\; greens 10 ft",
            "LOCATION:bay 2\\, left",
            "URL:https://golf.example/events/7",
            "END:VEVENT",
            "END:VCALENDAR",
            "",
        ];
        assert_eq!(text, due.join("\r\n"));
    }

    #[test]
    fn a_void_night_is_cancelled() {
        let void = Night { is_void: true, ..night("Night one") };
        assert!(calendar("Liga", &[void], Timestamp::UNIX_EPOCH).contains("\r\nSTATUS:CANCELLED\r\n"));
    }

    /// RFC 5545, 3.1: lines are folded after 75 bytes (the space of a folded line comes on top), and no character is cut.
    #[test]
    fn long_lines_are_folded() {
        let text = calendar("Liga", &[night(&"Wörterbuch ".repeat(20))], Timestamp::UNIX_EPOCH);
        assert!(text.split("\r\n").all(|line| line.len() <= 76), "{text}");
        assert!(text.replace("\r\n ", "").contains(&"Wörterbuch ".repeat(20)), "{text}");
    }
}
