//! Copies: an event again some days later, once or as a series; a season moved by some days.

use super::event::Event;
use super::fault::{Fault, Rules};
use super::handicap_policy::HandicapPolicy;
use super::season::Season;
use crate::ids::EventId;
use crate::rule::Rule;
use crate::units::PlayingConditions;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use serde::Deserialize;

/// The most characters of a name.
const LONGEST_NAME: usize = 80;

/// How an event is copied.
#[derive(Clone, Debug, Deserialize)]
pub struct EventCopies {
    /// The name of the first copy; where nobody says, the event's own counted on.
    #[serde(default)]
    pub name: Option<String>,
    /// How many days lie between one copy and the next, and between the event and the first.
    pub days: i64,
    /// How many copies are made.
    #[serde(default = "once")]
    pub times: usize,
    /// Days that are passed over.
    #[serde(default)]
    pub skip: Vec<Date>,
}

fn once() -> usize {
    1
}

impl Rules for EventCopies {}

/// How a season is copied.
#[derive(Clone, Debug, Deserialize)]
pub struct SeasonCopy {
    /// Its name; where nobody says, that of the season counted on.
    #[serde(default)]
    pub name: Option<String>,
    /// By how many days it is moved.
    pub days: i64,
    /// Whether its events are copied too.
    #[serde(default = "with_events")]
    pub events: bool,
    /// Days on which no event is copied.
    #[serde(default)]
    pub skip: Vec<Date>,
}

fn with_events() -> bool {
    true
}

impl Rules for SeasonCopy {}

/// Counts a name on: Night 9 becomes Night 10, Spring becomes Spring 2.
fn counted_on(name: &str, by: u64) -> String {
    let digits = name.len() - name.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let (word, number) = name.split_at(name.len() - digits);
    match number.parse::<u64>().ok().and_then(|number| number.checked_add(by)) {
        Some(next) => format!("{word}{next:0digits$}"),
        None => format!("{name} {}", by + 1),
    }
}

fn fitting(name: String) -> Result<String, Fault> {
    if name.chars().count() <= LONGEST_NAME {
        return Ok(name);
    }
    Err(Fault::new("/name", Rule::Validation, format!("the name {name} has more than {LONGEST_NAME} characters")))
}

/// Returns an event as it is some days later, at the same time by the league's clocks. The day's adjustment, a state that
/// was set by hand and a void stay behind.
fn later(event: &Event, days: i64, zone: &TimeZone) -> Result<Event, Fault> {
    let moved = |at: Timestamp| {
        let local = zone.to_datetime(at).checked_add(days.days()).ok()?;
        zone.to_timestamp(local).ok()
    };
    let (Some(opens_at), Some(closes_at)) = (moved(event.opens_at), moved(event.closes_at)) else {
        return Err(Fault::new("/days", Rule::Validation, format!("there is no day {days} days later")));
    };
    let playing_conditions = PlayingConditions::new(0).expect("0 is a legal adjustment");
    Ok(Event { opens_at, closes_at, playing_conditions, state: None, void: None, ..event.clone() })
}

impl EventCopies {
    /// Makes the copies of an event, in order.
    ///
    /// # Errors
    /// A name that becomes too long, or days past the end of the calendar.
    pub fn of(&self, event: &Event, zone: &TimeZone) -> Result<Vec<Event>, Fault> {
        let mut copies = Vec::new();
        let mut steps = 0;
        while copies.len() < self.times {
            steps += 1;
            let copy = later(event, self.days * steps, zone)?;
            if self.skip.contains(&zone.to_datetime(copy.opens_at).date()) {
                continue;
            }
            let n = copies.len() as u64;
            let name = match &self.name {
                Some(name) if n == 0 => name.clone(),
                Some(name) => counted_on(name, n),
                None => counted_on(&event.name, n + 1),
            };
            copies.push(Event { name: fitting(name)?, ..copy });
        }
        Ok(copies)
    }
}

impl SeasonCopy {
    /// Makes the copy of a season.
    ///
    /// # Errors
    /// A name that becomes too long, or days past the end of the calendar.
    pub fn of(&self, season: &Season) -> Result<Season, Fault> {
        let moved = |day: Date| {
            let past = || Fault::new("/days", Rule::Validation, format!("there is no day {} days later", self.days));
            day.checked_add(self.days.days()).map_err(|_| past())
        };
        let name = self.name.clone().unwrap_or_else(|| counted_on(&season.name, 1));
        let (starts_on, ends_on) = (moved(season.starts_on)?, moved(season.ends_on)?);
        let handicap = HandicapPolicy { frozen_from: None, ..season.handicap };
        Ok(Season { name: fitting(name)?, starts_on, ends_on, handicap, ..season.clone() })
    }

    /// Makes the copies of its events, which keep their names and order, each beside the id of what it is a copy of.
    ///
    /// # Errors
    /// Days past the end of the calendar.
    pub fn events_of<'a>(
        &self,
        events: impl IntoIterator<Item = (EventId, &'a Event)>,
        zone: &TimeZone,
    ) -> Result<Vec<(EventId, Event)>, Fault> {
        let copied = events.into_iter().filter(|_| self.events);
        let copies = copied.map(|(id, event)| Ok((id, later(event, self.days, zone)?)));
        let is_skipped = |(_, event): &(EventId, Event)| self.skip.contains(&zone.to_datetime(event.opens_at).date());
        copies.filter(|copy| !copy.as_ref().is_ok_and(is_skipped)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn names_are_counted_on() {
        for (name, by, next) in [
            ("Night 9", 1, "Night 10"),
            ("Night 09", 1, "Night 10"),
            ("Week 007", 3, "Week 010"),
            ("Winter 2027", 1, "Winter 2028"),
            ("Thursday", 1, "Thursday 2"),
            ("Thursday", 2, "Thursday 3"),
            ("7", 1, "8"),
            ("Night 18446744073709551615", 1, "Night 18446744073709551615 2"),
        ] {
            assert_eq!(counted_on(name, by), next, "{name} + {by}");
        }
    }

    fn event(opens_at: &str, closes_at: &str) -> Event {
        serde_json::from_value(serde_json::json!({
            "name": "Night 4", "tee_id": "00000000-0000-0000-0000-000000000001", "stimp_ft": 10.0, "holes": 18,
            "opens_at": opens_at, "closes_at": closes_at, "playing_conditions": 2, "state": "final",
            "void": { "reason": "no power", "handicap": false },
        }))
        .expect("an event")
    }

    /// Clocks go forward on 28 March 2027 in Zurich: 18:00 stays 18:00, an hour earlier in UTC.
    #[test]
    fn a_series_keeps_its_time_by_the_clock_and_passes_over_days() {
        let zone = TimeZone::get("Europe/Zurich").expect("a zone");
        let event = event("2027-03-18T17:00:00Z", "2027-03-18T22:30:00Z");
        let copies = EventCopies { name: None, days: 7, times: 3, skip: vec![date(2027, 4, 1)] };
        let made = copies.of(&event, &zone).expect("copies");
        let told: Vec<(String, String, String)> = made
            .iter()
            .map(|copy| (copy.name.clone(), copy.opens_at.to_string(), copy.closes_at.to_string()))
            .collect();
        let due = [
            ("Night 5", "2027-03-25T17:00:00Z", "2027-03-25T22:30:00Z"),
            ("Night 6", "2027-04-08T16:00:00Z", "2027-04-08T21:30:00Z"),
            ("Night 7", "2027-04-15T16:00:00Z", "2027-04-15T21:30:00Z"),
        ];
        assert_eq!(told, due.map(|(name, opens, closes)| (name.into(), opens.into(), closes.into())));
        let is_plain = |copy: &Event| copy.state.is_none() && copy.playing_conditions.get() == 0 && !copy.is_void();
        assert!(made.iter().all(is_plain));
        let named = EventCopies { name: Some("Final".into()), times: 2, ..copies.clone() };
        let names: Vec<String> = named.of(&event, &zone).expect("copies").into_iter().map(|copy| copy.name).collect();
        assert_eq!(names, ["Final", "Final 2"]);
        let long = EventCopies { name: Some("x".repeat(80)), times: 2, ..copies };
        assert_eq!(long.of(&event, &zone).expect_err("too long").pointer, "/name");
    }
}
