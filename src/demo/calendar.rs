//! The season of the demo league and its nights.

use super::ground::{Ground, NINE_HOLES, hole_number};
use super::people::{FIRST_FLIGHT, FIRST_FLIGHT_MAX, SECOND_FLIGHT};
use super::{Stream, draws, id};
use crate::domain::exact::{Value, whole};
use crate::domain::facts::HandicapPolicy;
use crate::domain::facts::competition::{Award, Competition, Counting, Field, LastHole, Meeting, Scoring};
use crate::domain::facts::course::Layout;
use crate::domain::facts::season::Audit;
use crate::domain::facts::tie::Tie;
use crate::domain::facts::{Event, Flight, Season, TeeAssignment};
use crate::domain::ids::EventId;
use crate::domain::units::{AllowancePct, HoleCount, PlayingConditions, Stimp};
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};

/// The IANA name of the zone in which the league's dates are counted.
pub const TIME_ZONE: &str = "Europe/Lisbon";
/// The longest putt that is conceded, in feet.
pub const CONCESSION_FT: f64 = 2.0;
/// How many days before the present the last night opened, and how many after it closes.
pub const OPEN_DAYS: i32 = 3;
/// The points of the sixth place; each further one is worth a point less.
const POINTS_BELOW: i64 = 16;

/// The points of the first five places: gaps of 6, 5, 4, 3 and 2 points, then of one.
const POINTS_AT_THE_TOP: [i64; 5] = [36, 30, 25, 21, 18];
/// The last day of a night, counted from the first as 0.
const LAST_DAY: i32 = 2 * OPEN_DAYS;

/// A night: the event, and the holes from each of its tees.
#[derive(Clone, Debug)]
pub struct Night {
    /// Its id.
    pub id: EventId,
    /// The day on which it opens.
    pub date: Date,
    /// The event.
    pub event: Event,
    /// The holes as the first flight plays them.
    pub first_flight: Layout,
    /// The holes as the second flight plays them.
    pub second_flight: Layout,
}

impl Night {
    /// Returns the holes as that flight plays them.
    pub fn layout(&self, flight: &str) -> &Layout {
        if flight == SECOND_FLIGHT { &self.second_flight } else { &self.first_flight }
    }
}

/// Finds the league's zone.
pub fn zone() -> TimeZone {
    TimeZone::get(TIME_ZONE).unwrap_or(TimeZone::UTC)
}

/// Returns the instant of a time of day in the league's zone.
pub fn instant(zone: &TimeZone, date: Date, time: Time) -> Timestamp {
    let local = date.to_datetime(time);
    zone.to_ambiguous_timestamp(local).compatible().unwrap_or(Timestamp::UNIX_EPOCH)
}

/// Moves a date by that many days; a date at the end of the calendar stays there.
pub fn days_after(date: Date, days: i32) -> Date {
    date.saturating_add(Span::new().days(days))
}

/// Lays down weekly nights, the last of which is open on `today`.
pub fn nights(seed: u64, count: usize, today: Date, grounds: &[Ground]) -> Vec<Night> {
    let zone = zone();
    let short = nine_hole_nights(count);
    (0..count)
        .map(|n| {
            let weeks_back = (count - 1 - n) as i32;
            let date = days_after(today, -OPEN_DAYS - 7 * weeks_back);
            night(seed, n, date, &zone, grounds, short.iter().position(|night| *night == n))
        })
        .collect()
}

/// Returns the places of the nine-hole nights: none in a short season, else two, or three from twelve nights on; never
/// the first or the last.
fn nine_hole_nights(count: usize) -> Vec<usize> {
    match count {
        0..4 => Vec::new(),
        4..12 => vec![count / 3, count * 2 / 3],
        _ => vec![count / 4, count / 2, count * 3 / 4],
    }
}

fn night(seed: u64, n: usize, date: Date, zone: &TimeZone, grounds: &[Ground], short: Option<usize>) -> Night {
    // the first nine-hole night goes out on the short course, the next ones on the back nine of the night's course
    let ground = &grounds[if short == Some(0) { NINE_HOLES } else { n % NINE_HOLES }].course;
    let first_hole = hole_number(if short.is_some_and(|turn| turn > 0) { 10 } else { 1 });
    let holes = if short.is_some() { HoleCount::Nine } else { HoleCount::Eighteen };
    let [back, forward] = [&ground.tees[0], &ground.tees[1]];
    let layout = |tee: &crate::domain::facts::Tee| tee.layout(holes, first_hole).expect("the tee has these holes");
    let mut chance = draws(seed, Stream::Green, &[n as u64]);
    let stimp = 8.5 + 0.5 * chance.below(8) as f64;
    let suffix = if short.is_some() { ", nine holes" } else { "" };
    Night {
        id: id(seed, Stream::Event, &[n as u64]).into(),
        date,
        first_flight: layout(back),
        second_flight: layout(forward),
        event: Event {
            name: format!("Week {}: {}{suffix}", n + 1, ground.name),
            tee_id: back.id,
            tees: vec![TeeAssignment { tee_id: forward.id, member_id: None, flight: Some(SECOND_FLIGHT.to_owned()) }],
            stimp_ft: Stimp::new(stimp).expect("8.5 to 12 ft is a green speed"),
            opens_at: instant(zone, date, Time::constant(6, 0, 0, 0)),
            closes_at: instant(zone, days_after(date, LAST_DAY), Time::constant(23, 0, 0, 0)),
            holes,
            first_hole,
            playing_conditions: PlayingConditions::new(0).expect("0 is a legal adjustment"),
            state: None,
            void: None,
        },
    }
}

/// Lays down the season around its nights.
pub fn season(nights: &[Night], today: Date) -> Season {
    Season {
        name: "Indoor season".to_owned(),
        starts_on: nights.first().map_or(today, |night| night.date),
        ends_on: days_after(today, 4 * OPEN_DAYS),
        concession_ft: CONCESSION_FT,
        query_hours: 48,
        handicap: HandicapPolicy::default(),
        flights: vec![
            Flight { name: FIRST_FLIGHT.to_owned(), handicap_max: Some(FIRST_FLIGHT_MAX) },
            Flight { name: SECOND_FLIGHT.to_owned(), handicap_max: None },
        ],
        audit: Audit::default(),
    }
}

/// Lays down the competitions of a season of so many nights: the same cards count in each.
pub fn competitions(nights: usize) -> Vec<Competition> {
    let count = nights as u32;
    let points = POINTS_AT_THE_TOP.into_iter().chain((1..=POINTS_BELOW).rev()).map(|points| Value(whole(points)));
    let flights = [FIRST_FLIGHT, SECOND_FLIGHT].map(str::to_owned).to_vec();
    let counting = Counting { best: Some((count * 7).div_ceil(10)), drop_worst: 0, minimum: (count * 3).div_ceil(10) };
    vec![
        Competition {
            allowance_pct: AllowancePct::new(95).ok(),
            award: Award::ByPlace { table: points.collect(), beyond: Value::default() },
            counting,
            field: Field { flights, by_entry: false },
            ties: vec![Tie::Countback, Tie::Firsts, Tie::BestValues],
            ..Competition::usual("Net table".to_owned())
        },
        Competition {
            score: Scoring::Points { table: None },
            counting,
            position: 2,
            ..Competition::usual("Stableford, everybody".to_owned())
        },
        Competition {
            meeting: Meeting::Hole { carry: true, last: LastHole::Split },
            award: Award::ByPoints {},
            position: 3,
            ..Competition::usual("Skins".to_owned())
        },
    ]
}

#[cfg(test)]
mod tests {
    use super::super::ground::lay_out;
    use super::*;
    use crate::domain::facts::EventState;
    use jiff::civil::date;

    #[test]
    fn past_nights_are_closed_and_the_last_is_open() {
        let today = date(2027, 3, 30); // the clocks change within the week before
        for count in [1, 4, 10, 52] {
            let nights = nights(1, count, today, &lay_out(1));
            let now = instant(&zone(), today, Time::constant(12, 0, 0, 0));
            let states: Vec<EventState> = nights.iter().map(|night| night.event.state_at(now)).collect();
            assert_eq!(states.last(), Some(&EventState::Open));
            assert!(states[..count - 1].iter().all(|state| *state == EventState::Closed), "{count}");
            assert_eq!(season(&nights, today).faults(), []);
        }
    }

    #[test]
    fn a_season_of_ten_has_two_nights_of_nine_holes() {
        let short = |count| {
            let nights = nights(1, count, date(2027, 1, 12), &lay_out(1));
            nights.iter().filter(|night| night.event.holes == HoleCount::Nine).count()
        };
        assert_eq!([1, 3, 4, 10, 12, 52].map(short), [0, 0, 2, 2, 3, 3]);
    }
}
