//! An invented league: people, set-ups, courses, a season of weekly nights and every card of it, as a whole bundle.
//!
//! ```text
//! seed ──► people.rs, equipment.rs, ground.rs, calendar.rs ──► card.rs (way to the green) ──► putt.rs (physics)
//!                                  └──────────── log.rs: the facts in the order received ──────────┘
//! ```
//!
//! Everything follows from the terms: each thing draws from a stream of chance that its own place in the league names,
//! so one card does not depend on another and a league of any size can be written card by card.

mod calendar;
mod card;
pub mod chance;
mod equipment;
mod ground;
mod log;
mod people;
pub mod putt;

#[cfg(test)]
mod tests;

use crate::domain::facts::{League, Round};
use crate::domain::ids::{CompetitionId, EventId, LeagueId, MemberId, SeasonId, SetupId};
use crate::wire::bundle::ids::{LeagueIds, MemberIds, OfLeague, OfSeason, SetupIds};
use crate::wire::bundle::line::{Line, Received, Sent};
use calendar::Night;
use chance::Chance;
use equipment::Equipment;
use ground::Ground;
use jiff::civil::{Date, Time};
use jiff::{Timestamp, ToSpan};
use people::{ORGANIZER, Person, VISITOR};
use std::io::{self, Write};
use uuid::Uuid;

/// What a demo league is made from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DemoTerms {
    /// The seed: the same one gives the same league.
    pub seed: u64,
    /// How many members play, the organizer among them; kept within [`DemoTerms::MIN_PLAYERS`] and
    /// [`DemoTerms::MAX_PLAYERS`].
    pub players: usize,
    /// How many weekly nights the season has so far, the open one included; kept within 1 and
    /// [`DemoTerms::MAX_EVENTS`].
    pub events: usize,
    /// The day on which the last night is open.
    pub today: Date,
}

impl DemoTerms {
    /// The fewest players.
    pub const MIN_PLAYERS: usize = 2;
    /// The most players.
    pub const MAX_PLAYERS: usize = 500;
    /// The most nights.
    pub const MAX_EVENTS: usize = 52;
    /// The players where nobody says how many.
    pub const USUAL_PLAYERS: usize = 24;
    /// The nights where nobody says how many.
    pub const USUAL_EVENTS: usize = 10;

    /// Returns the usual terms: 24 players, 10 nights.
    pub fn usual(seed: u64, today: Date) -> Self {
        Self { seed, players: Self::USUAL_PLAYERS, events: Self::USUAL_EVENTS, today }
    }
}

/// A demo league and the ids that somebody who shows it needs.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoLeague {
    /// The whole bundle, in the order of its kinds.
    pub lines: Vec<Line>,
    /// The league.
    pub league: LeagueId,
    /// The member who runs the league and also plays.
    pub organizer: MemberId,
    /// The member whom a visitor plays: has an own set-up and has not handed in on the open night.
    pub player: MemberId,
    /// That member's own set-up.
    pub player_setup: SetupId,
    /// The season.
    pub season: SeasonId,
    /// The night that is open on the day of the terms.
    pub open_event: EventId,
    /// A card that the player could hand in on the open night; it is not among the lines.
    pub next_round: Round,
}

/// Makes a demo league.
///
/// # Examples
/// ```
/// use evenfield::demo::{DemoTerms, league};
///
/// let terms = DemoTerms { players: 4, events: 2, ..DemoTerms::usual(7, jiff::civil::date(2027, 1, 14)) };
/// assert_eq!(league(&terms).lines, league(&terms).lines);
/// ```
pub fn league(terms: &DemoTerms) -> DemoLeague {
    let players = terms.players.clamp(DemoTerms::MIN_PLAYERS, DemoTerms::MAX_PLAYERS);
    let events = terms.events.clamp(1, DemoTerms::MAX_EVENTS);
    let ground = Groundwork::lay(terms.seed, players, events, terms.today);
    let mut lines = ground.lines();
    let last = events - 1;
    let (next_round, _) = ground.round(last, VISITOR, 0);
    let player_setup = ground.own[VISITOR].expect("the visitor's player has an own set-up");
    lines.extend(log::of(&ground, lines.len() as i64 + 1));
    DemoLeague {
        lines,
        league: ground.league,
        organizer: ground.people[ORGANIZER].id,
        player: ground.people[VISITOR].id,
        player_setup: ground.equipment[player_setup].id,
        season: ground.season,
        open_event: ground.nights[last].id,
        next_round,
    }
}

/// The nights of a big bundle.
const BIG_EVENTS: usize = 30;
/// The day on which a big bundle's last night is open.
const BIG_TODAY: Date = jiff::civil::date(2026, 4, 1);

/// Writes a bundle of `rounds` rounds over up to 30 nights, line by line: memory grows with the players, a thirtieth of
/// the rounds, and not with the rounds. Every eighth round is attested.
///
/// # Errors
/// What `out` reports.
pub fn big_bundle(seed: u64, rounds: usize, out: &mut impl Write) -> io::Result<()> {
    let events = (rounds / DemoTerms::MIN_PLAYERS).clamp(1, BIG_EVENTS);
    let players = rounds.div_ceil(events).max(DemoTerms::MIN_PLAYERS);
    let ground = Groundwork::lay(seed, players, events, BIG_TODAY);
    let mut seq = 0;
    for line in ground.lines() {
        seq += 1;
        writeln!(out, "{}", line.to_json())?;
    }
    // a night's cards come in evenly over five days, from ten hours after it opened
    let handed_in_at = |n: usize| {
        let seconds = 36_000 + 432_000 * (n % players) as i64 / players as i64;
        later(ground.nights[n / players].event.opens_at, seconds)
    };
    for n in 0..rounds {
        seq += 1;
        let (round, _) = ground.round(n / players, n % players, 0);
        let received = Received { seq: Some(seq), received_at: Some(handed_in_at(n)) };
        writeln!(out, "{}", log::round_line(&ground, n / players, n % players, 0, round, received).to_json())?;
    }
    for n in (0..rounds).step_by(8) {
        seq += 1;
        let received = Received { seq: Some(seq), received_at: Some(later(handed_in_at(n), 1800)) };
        let attester = (n % players + 1) % players;
        writeln!(out, "{}", log::attestation_line(&ground, n / players, n % players, 0, attester, received).to_json())?;
    }
    Ok(())
}

/// What a stream of chance is for. The numbers go into every id: a new one is added at the end.
#[derive(Clone, Copy, Debug)]
enum Stream {
    League,
    Member,
    Setup,
    Course,
    Tee,
    Season,
    Event,
    Round,
    ClientRound,
    Attestation,
    Withdrawal,
    Order,
    Skill,
    Person,
    Name,
    Home,
    Measuring,
    Green,
    Card,
    Attendance,
    OpenNight,
    HandIn,
    Attesting,
    Competition,
}

/// Starts the stream of chance of the thing at `place`.
fn draws(seed: u64, stream: Stream, place: &[u64]) -> Chance {
    let path: Vec<u64> = std::iter::once(stream as u64).chain(place.iter().copied()).collect();
    Chance::at(seed, &path)
}

/// Draws the id of the thing at `place`.
fn id(seed: u64, stream: Stream, place: &[u64]) -> Uuid {
    draws(seed, stream, place).id()
}

fn later(at: Timestamp, seconds: i64) -> Timestamp {
    at.saturating_add(seconds.seconds()).unwrap_or(at)
}

/// A league before the first card: what is laid down, and how everyone plays.
struct Groundwork {
    seed: u64,
    league: LeagueId,
    season: SeasonId,
    season_terms: crate::domain::facts::Season,
    people: Vec<Person>,
    equipment: Vec<Equipment>,
    /// The place of each person's own set-up.
    own: Vec<Option<usize>>,
    bays: usize,
    grounds: Vec<Ground>,
    nights: Vec<Night>,
}

impl Groundwork {
    fn lay(seed: u64, players: usize, events: usize, today: Date) -> Self {
        let people = people::gather(seed, players);
        let equipment = equipment::furnish(seed, &people);
        let grounds = ground::lay_out(seed);
        let nights = calendar::nights(seed, events, today, &grounds);
        let mut own = vec![None; people.len()];
        for (place, equipment) in equipment.iter().enumerate() {
            if let Some(owner) = equipment.owner {
                own[owner] = Some(place);
            }
        }
        Self {
            seed,
            league: id(seed, Stream::League, &[]).into(),
            season: id(seed, Stream::Season, &[]).into(),
            season_terms: calendar::season(&nights, today),
            bays: equipment.iter().filter(|equipment| equipment.owner.is_none()).count(),
            people,
            equipment,
            own,
            grounds,
            nights,
        }
    }

    /// Writes down everything but rounds, all of it laid down a week before the first night.
    fn lines(&self) -> Vec<Line> {
        let first = self.season_terms.starts_on;
        let founded_at =
            calendar::instant(&calendar::zone(), calendar::days_after(first, -7), Time::constant(9, 0, 0, 0));
        let mut lines = Vec::new();
        let mut add = |line: &dyn Fn(Received) -> Line| {
            let n = lines.len() as i64;
            lines.push(line(Received { seq: Some(n + 1), received_at: Some(later(founded_at, n)) }));
        };
        let league =
            League { name: "Lantern Street Indoor League".to_owned(), time_zone: calendar::TIME_ZONE.to_owned() };
        add(&|received| Line::League(sent(LeagueIds::new(self.league), league.clone(), received)));
        for person in &self.people {
            let ids = MemberIds { id: person.id, league_id: self.league, erased: false };
            add(&|received| Line::Member(sent(ids, person.member.clone(), received)));
        }
        for equipment in &self.equipment {
            let member_id = equipment.owner.map(|owner| self.people[owner].id);
            let ids = SetupIds { id: equipment.id, league_id: self.league, member_id };
            add(&|received| Line::Setup(sent(ids, equipment.setup.clone(), received)));
        }
        for ground in &self.grounds {
            add(&|received| Line::Course(sent(self.of_league(ground.id), ground.course.clone(), received)));
        }
        add(&|received| Line::Season(sent(self.of_league(self.season), self.season_terms.clone(), received)));
        for night in &self.nights {
            let ids = OfSeason { id: night.id, season_id: self.season };
            add(&|received| Line::Event(sent(ids, night.event.clone(), received)));
        }
        for (n, terms) in calendar::competitions(self.nights.len()).iter().enumerate() {
            let id = CompetitionId(id(self.seed, Stream::Competition, &[n as u64]));
            let ids = OfSeason { id, season_id: self.season };
            add(&|received| Line::Competition(Box::new(sent(ids, terms.clone(), received))));
        }
        lines
    }

    fn of_league<Id>(&self, id: Id) -> OfLeague<Id> {
        OfLeague { id, league_id: self.league }
    }

    /// Plays a person's round of a night, and says how many days after the opening it was played. Another `attempt` is
    /// the same round handed in again: only its ids differ.
    fn round(&self, night: usize, person: usize, attempt: u64) -> (Round, i32) {
        let place = [night as u64, person as u64];
        let (player, event) = (&self.people[person], &self.nights[night]);
        let mut chance = draws(self.seed, Stream::Card, &place);
        let at_home = if person == VISITOR { 1.0 } else { 0.85 };
        let own = self.own[person].filter(|_| chance.happens(at_home));
        // Nobody rules on a set-up that they use, so the organizer keeps to the first bay, which softens nothing; so does
        // whoever does not say what a round was putted on.
        let keeps_to_the_first = person == ORGANIZER || !player.names_setup;
        let used = own.unwrap_or_else(|| if keeps_to_the_first { 0 } else { chance.below(self.bays) });
        // on the open night, only the days before the present
        let days = if night + 1 == self.nights.len() { calendar::OPEN_DAYS } else { 2 * calendar::OPEN_DAYS };
        let day = chance.below(days as usize) as i32;
        let holes = card::play(&mut chance, player, event, &self.equipment[used].measuring);
        let round = Round {
            client_round_id: id(self.seed, Stream::ClientRound, &[place[0], place[1], attempt]).into(),
            member_id: player.id,
            setup_id: player.names_setup.then_some(self.equipment[used].id),
            played_on: calendar::days_after(event.date, day),
            outcome: crate::domain::facts::Outcome::Complete,
            holes,
        };
        (round, day)
    }
}

fn sent<Ids, Body>(ids: Ids, body: Body, received: Received) -> Sent<Ids, Body> {
    Sent { ids, body, received, versions: Vec::new() }
}
