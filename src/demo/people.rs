//! The members of the demo league: invented names, and how each of them plays.

use super::chance::Chance;
use super::putt::Putter;
use super::{Stream, draws, id};
use crate::domain::facts::{Member, Role};
use crate::domain::ids::MemberId;
use crate::domain::units::Tenths;

/// The place of the organizer among the people.
pub const ORGANIZER: usize = 0;
/// The place of the player whom a visitor plays.
pub const VISITOR: usize = 1;
/// Who records the putts of good holes and leaves out those of bad ones.
pub const CHOOSER: usize = 8;
/// The highest index of the first flight.
pub const FIRST_FLIGHT_MAX: Tenths = Tenths(120);
/// The name of the first flight.
pub const FIRST_FLIGHT: &str = "First flight";
/// The name of the second flight.
pub const SECOND_FLIGHT: &str = "Second flight";

/// What a player records of the putts of a hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Recording {
    /// Every putt.
    Every,
    /// On this share of the holes only how many there were.
    CountOnly(f64),
    /// On this share of the holes nothing.
    Nothing(f64),
    /// Of good holes nearly all, of bad ones few: nothing of the rest.
    Chosen,
}

/// A member and how they play.
#[derive(Clone, Debug)]
pub struct Person {
    /// The member's id.
    pub id: MemberId,
    /// The member.
    pub member: Member,
    /// How good the player is: the index that the better rounds come out at. A plus index is negative.
    pub skill: f64,
    /// How the player putts.
    pub putter: Putter,
    /// The putting skill on the scale of an index.
    pub putting_skill: f64,
    /// The chance to play an event.
    pub attendance: f64,
    /// What the player records.
    pub recording: Recording,
    /// Whether the player has an own set-up.
    pub owns_setup: bool,
    /// Whether the player says which set-up a round was putted on.
    pub names_setup: bool,
}

impl Person {
    /// Returns the flight, as the season's terms put the member into one.
    pub fn flight(&self) -> &'static str {
        match (&self.member.flight, self.member.starting_handicap) {
            (Some(_), _) => FIRST_FLIGHT,
            (None, Some(index)) if index <= FIRST_FLIGHT_MAX => FIRST_FLIGHT,
            (None, _) => SECOND_FLIGHT,
        }
    }
}

const ORGANIZER_NAME: &str = "Ilse Vantreppen";
const VISITOR_NAME: &str = "Tomasz Okoliv";

const GIVEN: [&str; 40] = [
    "Amina", "Bruno", "Chidi", "Dagny", "Emre", "Farida", "Goran", "Hina", "Ivo", "Jacira", "Kwame", "Leila", "Mateo",
    "Nadia", "Oskar", "Priya", "Quim", "Rosa", "Sefa", "Tuuli", "Umar", "Vera", "Wanjiru", "Ximena", "Yusuf", "Zofia",
    "Anders", "Bao", "Carmen", "Dilip", "Eilidh", "Femi", "Greta", "Haruto", "Inés", "Jonas", "Keziah", "Linh",
    "Marek", "Noor",
];

/// Family names of no family: made up in the manner of many languages.
const FAMILY: [&str; 40] = [
    "Tarvenko",
    "Ollandt",
    "Mbeyani",
    "Kuroshita",
    "Halvenstad",
    "Quispero",
    "Ferrowen",
    "Dragulesc",
    "Achterlo",
    "Nwamadi",
    "Sandorvik",
    "Petrakelis",
    "Lozandre",
    "Bhattarin",
    "Yilmazer",
    "Cormelly",
    "Vestrupe",
    "Kahanui",
    "Moravenc",
    "Delacrin",
    "Oyelami",
    "Rantasuo",
    "Gavrilesk",
    "Tshombeni",
    "Aldarosa",
    "Fujikane",
    "Wielgosh",
    "Brannoch",
    "Castelmar",
    "Hoangly",
    "Iversby",
    "Jankoveri",
    "Lindqvor",
    "Mendizar",
    "Nakamori",
    "Osterwyk",
    "Pellegrand",
    "Szaboly",
    "Trevannick",
    "Zubarek",
];

/// Gathers the members: the organizer, the visitor's player, then the others from the best to the weakest in a
/// random order.
pub fn gather(seed: u64, players: usize) -> Vec<Person> {
    let others = players.saturating_sub(2);
    let mut skills: Vec<f64> = (0..others).map(|n| even_skill(seed, n, others)).collect();
    draws(seed, Stream::Order, &[]).shuffle(&mut skills);
    let skills = [9.3, 16.4].into_iter().chain(skills);
    skills.take(players).enumerate().map(|(place, skill)| person(seed, place, skill)).collect()
}

/// Spreads skills evenly from +2 to 30.
fn even_skill(seed: u64, n: usize, others: usize) -> f64 {
    let share = if others > 1 { n as f64 / (others - 1) as f64 } else { 0.3 };
    let wobble = draws(seed, Stream::Skill, &[n as u64]).between(-0.5, 0.5);
    (-2.0 + 32.0 * share + wobble).clamp(-2.0, 30.0)
}

fn person(seed: u64, place: usize, skill: f64) -> Person {
    let mut chance = draws(seed, Stream::Person, &[place as u64]);
    let putting_skill = (skill + 4.0 * chance.normal()).clamp(-3.0, 34.0);
    let known = place < 2 || place % 6 != 5;
    let starting = known.then(|| Tenths(((skill + 0.8 * chance.normal()) * 10.0).round() as i32));
    let is_put_first = !known && skill <= f64::from(FIRST_FLIGHT_MAX.0) / 10.0;
    Person {
        id: id(seed, Stream::Member, &[place as u64]).into(),
        member: Member {
            display_name: name(seed, place),
            role: if place == ORGANIZER { Role::Organizer } else { Role::Player },
            flight: is_put_first.then(|| FIRST_FLIGHT.to_owned()),
            starting_handicap: starting,
            guest: false,
            earlier_starts: Vec::new(),
        },
        skill,
        putter: putter(&mut chance, putting_skill),
        putting_skill,
        attendance: if place < 2 { 0.95 } else { chance.between(0.70, 1.0) },
        recording: match place {
            ORGANIZER | VISITOR => Recording::Every,
            _ if place == CHOOSER => Recording::Chosen,
            _ if place % 12 == 4 => Recording::CountOnly(0.3),
            _ if place % 12 == 9 => Recording::Nothing(0.4),
            _ => Recording::Every,
        },
        owns_setup: place == VISITOR || place > VISITOR && place % 4 == 2,
        names_setup: place < 2 || place % 11 != 7,
    }
}

/// Draws how somebody of that putting skill putts.
///
/// evenfield estimate: a start line of 0.8° and a read of 0.75° together are a little better than the 1.13° that the
/// tour's make rates fit; both widen with the index so that a field of 15 loses about two strokes a round on the
/// greens.
fn putter(chance: &mut Chance, skill: f64) -> Putter {
    let mut around = |spread: f64| (spread * chance.normal()).exp();
    Putter {
        line_sd_deg: (0.80 + 0.013 * skill) * around(0.10),
        read_sd_deg: (0.74 + 0.010 * skill) * around(0.10),
        pace_sd: (0.120 + 0.0018 * skill) * around(0.08),
        past_ft: 1.1 * around(0.15),
        line_bias_deg: 0.15 * chance.normal(),
        pace_bias: 0.015 * chance.normal(),
        concedes: chance.between(0.7, 1.0),
    }
}

/// Returns a name that nobody else among the first 1600 has; later ones are numbered.
fn name(seed: u64, place: usize) -> String {
    match place {
        ORGANIZER => return ORGANIZER_NAME.to_owned(),
        VISITOR => return VISITOR_NAME.to_owned(),
        _ => {}
    }
    let n = place - 2;
    let (given, family) = (GIVEN.len(), FAMILY.len());
    let turn = draws(seed, Stream::Name, &[]).below(given * family);
    let (lap, n) = (n / (given * family), n % (given * family));
    // every pair of a given and a family name comes up once a lap: the second shifts on with each run through the first
    let first = (n + turn) % given;
    let second = (n * 7 + n / given * 3 + turn / given) % family;
    let suffix = if lap == 0 { String::new() } else { format!(" {}", lap + 1) };
    format!("{} {}{suffix}", GIVEN[first], FAMILY[second])
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn nobody_shares_a_name() {
        for seed in [1, 2, 99] {
            let names: HashSet<String> = (0..1500).map(|place| name(seed, place)).collect();
            assert_eq!(names.len(), 1500, "seed {seed}");
        }
    }

    #[test]
    fn the_field_runs_from_plus_2_to_30_with_both_flights() {
        let people = gather(1, 24);
        let skills = people.iter().map(|person| person.skill);
        assert!(skills.clone().fold(f64::MAX, f64::min) <= -1.5);
        assert!(skills.fold(f64::MIN, f64::max) >= 29.4);
        let first = people.iter().filter(|person| person.flight() == FIRST_FLIGHT).count();
        assert!((8..=14).contains(&first), "{first}");
        assert!(people.iter().any(|person| person.member.starting_handicap.is_none()));
    }
}
