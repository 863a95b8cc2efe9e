//! What becomes of the fixtures of a competition: planned, in play, played or decided otherwise, and their points.

use super::balls::{BallTerms, ConcededInMatch, MatchNight, MatchSeen, play_match};
use super::fixture::{Ended, MatchEnd, Pairing, Points, Stakes, WalkOver, fixture_points, fixture_points_of};
use super::match_play::{Outcome, Side};
use super::seats::{MatchHole, NightPlayer, Players, Seat, seats};
use super::waiting::in_order;
use crate::exact::{Exact, whole};
use crate::facts::event::FinalFixture;
use crate::facts::{
    Competitor, Conceded, Contender, Fixture, FixtureSaid, Hole, LineUp, MatchTerms, Share, Team, TiedMatch,
    WithdrawnResults,
};
use crate::ids::{EventId, FixtureId, MemberId, TeamId};
use jiff::civil::Date;
use std::collections::{BTreeMap, HashMap};

/// Where a fixture stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FixtureState {
    /// No card of it is there.
    Planned,
    /// Some of its cards are there.
    InPlay,
    Played,
    /// It is not played in its event.
    Postponed,
    /// One side has it without playing.
    WalkOver,
    /// It counts for nothing.
    Void,
}

impl FixtureState {
    /// Every state with its word.
    pub const NAMED: &'static [(&'static str, Self)] = &[
        ("planned", Self::Planned),
        ("in_play", Self::InPlay),
        ("played", Self::Played),
        ("postponed", Self::Postponed),
        ("walk_over", Self::WalkOver),
        ("void", Self::Void),
    ];

    /// Returns the word for it.
    pub fn word(self) -> &'static str {
        Self::NAMED.iter().find(|(_, state)| *state == self).map_or("", |(word, _)| word)
    }
}

/// An event as a match competition sees it.
#[derive(Clone, Debug)]
pub struct EventSeen<'a> {
    pub id: EventId,
    pub day: Date,
    pub is_final: bool,
    /// Whether nothing of it counts.
    pub is_void: bool,
    /// The holes from the event's own tee.
    pub holes: &'a [Hole],
    pub players: Players<'a>,
    pub line_ups: HashMap<TeamId, &'a LineUp>,
}

/// A competition whose sides meet in matches, with all that its fixtures hang on.
#[derive(Clone, Debug)]
pub struct MatchCompetition<'a> {
    pub terms: &'a MatchTerms,
    pub balls: BallTerms,
    pub teams: BTreeMap<TeamId, &'a Team>,
    /// In the order of events.
    pub events: Vec<EventSeen<'a>>,
    pub fixtures: Vec<(FixtureId, &'a Fixture)>,
    /// Who stood on the sides of fixtures of final events that others decided.
    pub kept: HashMap<FixtureId, FinalFixture>,
    pub concessions: Vec<&'a Conceded>,
}

/// A fixture and what became of it.
#[derive(Clone, Debug, PartialEq)]
pub struct FixtureSeen {
    pub id: FixtureId,
    pub event: EventId,
    /// `None`: a bye, or nobody yet.
    pub a: Option<Competitor>,
    pub b: Option<Competitor>,
    /// Whether another fixture is still to decide who stands on a side.
    pub waits: bool,
    pub state: FixtureState,
    /// Its matches, each with how it ended or stands; none where it is decided without them.
    pub matches: Vec<(MatchSeen, MatchEnd)>,
    /// Its points, as they stand; `None` where there are none to give.
    pub points: Option<Points>,
    /// Those of the lower total.
    pub total: Points,
    /// The side that goes on: the winner's, or the one that an organizer named.
    pub goes_on: Option<Side>,
}

impl FixtureSeen {
    pub fn on(&self, side: Side) -> Option<Competitor> {
        match side {
            Side::A => self.a,
            Side::B => self.b,
        }
    }

    /// Returns whether its points stand in the table.
    pub fn counts(&self) -> bool {
        matches!(self.state, FixtureState::Played | FixtureState::WalkOver)
    }

    /// Returns the side with more points; `None`: level.
    pub fn winner(&self) -> Option<Side> {
        let points = self.points?;
        match points.a.cmp(&points.b) {
            std::cmp::Ordering::Greater => Some(Side::A),
            std::cmp::Ordering::Equal => None,
            std::cmp::Ordering::Less => Some(Side::B),
        }
    }
}

/// Works out every fixture, in the order given.
///
/// Nothing here knows the time: what has no card is open until an organizer says otherwise or its event is final. A bye is
/// played once its event is final. Nothing depends on the order in which cards came in.
pub fn meetings(competition: &MatchCompetition<'_>) -> Vec<FixtureSeen> {
    let recent = recent_totals(&competition.events);
    let by_event: HashMap<EventId, usize> =
        competition.events.iter().enumerate().map(|(n, event)| (event.id, n)).collect();
    let mut seen: HashMap<FixtureId, FixtureSeen> = HashMap::new();
    for (id, fixture) in in_order(&competition.fixtures).into_iter().map(|n| competition.fixtures[n]) {
        let Some(&n) = by_event.get(&fixture.event_id) else { continue };
        let event = &competition.events[n];
        let decided = |contender: Option<Contender>| contender.and_then(|contender| stands(contender, &seen));
        let kept = competition.kept.get(&id).filter(|_| event.is_final);
        let sides = kept.map_or_else(|| fixture.sides().map(decided), |kept| [kept.a, kept.b]);
        seen.insert(id, competition.meet((id, fixture), sides, event, &recent[n]));
    }
    competition.fixtures.iter().filter_map(|(id, _)| seen.remove(id)).collect()
}

/// Returns who stands on a side; `None`: another fixture is still to decide it.
fn stands(contender: Contender, seen: &HashMap<FixtureId, FixtureSeen>) -> Option<Competitor> {
    let Some(decides) = contender.waits_for() else { return contender.named() };
    let decides = seen.get(&decides)?;
    let winner = decides.goes_on?;
    let is_winner = matches!(contender, Contender::WinnerOf { .. });
    decides.on(if is_winner { winner } else { winner.other() })
}

/// Returns for each event the net totals to par that its players had in earlier ones over as many holes; void ones apart.
fn recent_totals(events: &[EventSeen<'_>]) -> Vec<HashMap<MemberId, Vec<Exact>>> {
    let mut by_length: HashMap<usize, HashMap<MemberId, Vec<Exact>>> = HashMap::new();
    let mut before = Vec::with_capacity(events.len());
    for event in events {
        let known = by_length.entry(event.holes.len()).or_default();
        before.push(known.clone());
        if event.is_void {
            continue;
        }
        for (member, player) in &event.players {
            if let Some(total) = net_to_par(player) {
                known.entry(*member).or_default().push(total);
            }
        }
    }
    before
}

fn net_to_par(player: &NightPlayer<'_>) -> Option<Exact> {
    let card = player.card.as_ref().filter(|card| !card.is_out)?;
    let over_par = |(score, hole): (&MatchHole, &Hole)| match score {
        MatchHole::Scored(strokes) => Some(i32::from(*strokes) - i32::from(hole.par.get())),
        MatchHole::Open | MatchHole::Unscored => None,
    };
    let gross = card.holes.iter().zip(player.holes).map(over_par).sum::<Option<i32>>()?;
    Some(whole(gross - player.playing_handicap))
}

impl MatchCompetition<'_> {
    fn stakes(&self) -> Stakes {
        let points = self.terms.points;
        Stakes {
            per_hole: points.per_hole.0,
            per_nine: points.per_nine.0,
            per_match: points.per_match.0,
            per_total: points.per_total.0,
            walk_over: WalkOver {
                holes: self.terms.walk_over.per_hole == Share::All,
                total: self.terms.walk_over.per_total == Share::All,
            },
        }
    }

    fn meet(
        &self,
        (id, fixture): (FixtureId, &Fixture),
        sides: [Option<Competitor>; 2],
        event: &EventSeen<'_>,
        recent: &HashMap<MemberId, Vec<Exact>>,
    ) -> FixtureSeen {
        let mut seen = FixtureSeen {
            id,
            event: event.id,
            a: sides[0],
            b: sides[1],
            waits: fixture.sides().iter().zip(sides).any(|(side, is)| side.is_some() && is.is_none()),
            state: FixtureState::Planned,
            matches: Vec::new(),
            points: None,
            total: Points::none(),
            goes_on: None,
        };
        let [a, b] = sides.map(|side| self.withdrawal(side, event.day));
        let without_play = match (fixture.state, a, b) {
            (Some(FixtureSaid::Void), ..) | (_, Some(Gone::Void), _) | (_, _, Some(Gone::Void)) => {
                seen.state = FixtureState::Void;
                return seen;
            }
            (Some(FixtureSaid::Postponed), ..) => {
                seen.state = FixtureState::Postponed;
                return seen;
            }
            _ if event.is_void => {
                seen.state = FixtureState::Void;
                return seen;
            }
            (Some(FixtureSaid::WalkOver), ..) => {
                let to = fixture.to.map(Side::from).filter(|to| seen.on(*to).is_some());
                to.map(|present| Pairing::WalkOver { present })
            }
            (None, Some(Gone::Later), Some(Gone::Later)) => Some(Pairing::NobodyCame),
            (None, Some(Gone::Later), None) => Some(Pairing::WalkOver { present: Side::B }),
            (None, None, Some(Gone::Later)) => Some(Pairing::WalkOver { present: Side::A }),
            (None, None, None) => None,
        };
        if !seen.waits && sides.contains(&None) {
            seen.state = match (a.or(b), event.is_final) {
                (Some(_), _) => FixtureState::Void,
                (None, true) => FixtureState::Played,
                (None, false) => FixtureState::Planned,
            };
            let alone = || [Side::A, Side::B].into_iter().find(|side| seen.on(*side).is_some());
            seen.goes_on = if a.or(b).is_none() { alone() } else { None };
            return seen;
        }
        let holes = event.holes.len();
        if let Some(pairing) = without_play {
            let pairings = vec![pairing; self.terms.matches.into()];
            let found = fixture_points(&pairings, holes, self.stakes());
            seen.state = FixtureState::WalkOver;
            (seen.points, seen.total) = (Some(found.points), found.total);
            seen.goes_on = fixture.goes_on.map(Side::from).or(seen.winner());
            return seen;
        }
        let [Some(side_a), Some(side_b)] = sides else {
            seen.goes_on = fixture.goes_on.map(Side::from);
            return seen;
        };
        let [a, b] = [side_a, side_b].map(|side| self.seats(side, event));
        let night = MatchNight { holes: event.holes, is_final: event.is_final, players: &event.players, recent };
        let of = self.balls.of.max(1);
        let matches: Vec<MatchSeen> = (1..)
            .zip(a.chunks(of).zip(b.chunks(of)))
            .map(|(number, (a, b))| {
                let conceded = self.conceded(id, number);
                play_match([a, b], night, self.balls, &conceded, &fixture.extra)
            })
            .collect();
        let pairings: Vec<Pairing> = matches.iter().map(|seen| seen.pairing.clone()).collect();
        let totals: Vec<_> = matches.iter().map(MatchSeen::totals).collect();
        let found = fixture_points_of(&pairings, &totals, holes, self.stakes());
        let goes_on_playing = self.terms.tied == TiedMatch::ExtraHoles
            && fixture.goes_on.is_none()
            && !event.is_final
            && found.matches.iter().any(|end| end.ended == Ended::Played(Outcome::Tied));
        let has_card = |seats: &[Seat]| {
            let card = |seat: &Seat| event.players.get(&seat.member?)?.card.as_ref();
            seats.iter().any(|seat| card(seat).is_some())
        };
        seen.state = if found.matches.iter().all(|end| end.is_over) && !goes_on_playing {
            FixtureState::Played
        } else if has_card(&a) || has_card(&b) {
            FixtureState::InPlay
        } else {
            FixtureState::Planned
        };
        (seen.points, seen.total) = (Some(found.points), found.total);
        seen.matches = matches.into_iter().zip(found.matches).collect();
        seen.goes_on = fixture.goes_on.map(Side::from).or(seen.winner().filter(|_| seen.counts()));
        seen
    }

    fn withdrawal(&self, side: Option<Competitor>, day: Date) -> Option<Gone> {
        let Some(Competitor::Team { team_id }) = side else { return None };
        let withdrawn = self.teams.get(&team_id)?.withdrawn?;
        match withdrawn.results {
            WithdrawnResults::Void => Some(Gone::Void),
            WithdrawnResults::Stand => (day >= withdrawn.from).then_some(Gone::Later),
        }
    }

    fn seats(&self, side: Competitor, event: &EventSeen<'_>) -> Vec<Seat> {
        match side {
            Competitor::Member { member_id } => vec![Seat::of(member_id)],
            Competitor::Team { team_id } => {
                let roster = self.teams.get(&team_id).map(|team| team.roster(event.day)).unwrap_or_default();
                let needed = usize::from(self.terms.matches) * self.balls.of.max(1);
                seats(event.line_ups.get(&team_id).copied(), &roster, needed, &event.players)
            }
        }
    }

    fn conceded(&self, fixture: FixtureId, number: u8) -> ConcededInMatch {
        let mut found = ConcededInMatch::default();
        let here = self.concessions.iter().filter(|one| one.fixture_id == fixture && one.match_number == number);
        for conceded in here {
            match conceded.hole {
                Some(hole) => found.holes.push((hole, conceded.by.into())),
                None => found.given_up = Some(conceded.by.into()),
            }
        }
        found
    }
}

/// What a withdrawal makes of a fixture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Gone {
    /// It counts for nothing.
    Void,
    /// The other side has a walk-over.
    Later,
}

#[cfg(test)]
mod tests;
