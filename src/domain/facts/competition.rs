//! A competition of a season: how a card is scored, how the players meet, and what that is worth.

use super::counted_events::Counted;
use super::match_terms::{AbsentTerms, MatchTerms, SubstituteTerms};
use super::side::Side;
use super::staggered::Start;
use super::tie::Tie;
use crate::competition::allowance::{Allowance, Balls, Source, usual_allowance};
use crate::competition::better::Better;
use crate::competition::formats;
use crate::exact::{Exact, Value, whole};
use crate::ids::{CompetitionId, EventId, TeamId};
use crate::units::AllowancePct;
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// Points by result against par, such as 2 for 0 and 1 for 1.
pub type PointsByResult = BTreeMap<i32, i32>;

/// How a ball scores on a hole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Scoring {
    /// Strokes; fewest win.
    Strokes {},
    /// Points; most win: Stableford's where there is no table.
    Points {
        #[serde(default, deserialize_with = "by_result", skip_serializing_if = "Option::is_none")]
        table: Option<PointsByResult>,
    },
    /// Holes won less holes lost against par; most win.
    ParBogey {},
    /// Strokes with a limit on each hole; fewest win.
    MaximumScore { maximum: Maximum },
    /// Gross points less a number that the playing handicap lowers; most win.
    Quota {
        /// The number for a playing handicap of 0 over 18 holes.
        #[serde(default = "usual_base")]
        base: u32,
        #[serde(default, deserialize_with = "by_result", skip_serializing_if = "Option::is_none")]
        table: Option<PointsByResult>,
    },
}

/// Reads a table by the texts of its names: serde buffers an object whose kind it does not know yet, and a buffered name is
/// no number.
fn by_result<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<PointsByResult>, D::Error> {
    let Some(table) = Option::<BTreeMap<String, i32>>::deserialize(deserializer)? else { return Ok(None) };
    let entries = table.into_iter().map(|(result, points)| Ok((result.parse().map_err(D::Error::custom)?, points)));
    entries.collect::<Result<_, _>>().map(Some)
}

fn usual_base() -> u32 {
    crate::competition::quota::USUAL_BASE as u32
}

/// The limit of a hole under maximum score.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Maximum {
    /// A limit that hangs on the hole.
    ByPar(MaximumByPar),
    /// So many over par.
    OverPar { over_par: u8 },
    /// So many strokes on every hole.
    Fixed(u8),
}

/// A limit of a hole that hangs on its par.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MaximumByPar {
    DoublePar,
    /// Par + 2 + the strokes received.
    NetDoubleBogey,
}

/// Whether strokes received come off.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    #[default]
    Net,
    Gross,
}

/// How the sides of an event meet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Meeting {
    /// Totals of all are ranked.
    Field {},
    /// Two sides, hole by hole.
    Match(Box<MatchTerms>),
    /// Each hole is a contest of all: skins.
    Hole {
        /// Whether a hole that nobody won is played for on the next one too.
        #[serde(default = "yes")]
        carry: bool,
        /// What becomes of what hangs on the last hole.
        #[serde(default)]
        last: LastHole,
    },
    /// Each hole's best score over the season: eclectic.
    Season {},
    /// The values of other competitions of the season, added up event by event.
    Sum { of: Vec<CompetitionId> },
}

impl Default for Meeting {
    fn default() -> Self {
        Self::Field {}
    }
}

fn yes() -> bool {
    true
}

/// What becomes of skins that hang on the last hole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LastHole {
    /// Those level on it share them.
    #[default]
    Split,
    /// Nobody gets them.
    Void,
}

/// How an event's result becomes a value in the season.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Award {
    /// The score itself.
    ByScore {},
    /// Points for places: the first place's, the second's and so on.
    ByPlace {
        table: Vec<Value>,
        /// The points of every place beyond the table.
        #[serde(default)]
        beyond: Value,
    },
    /// What was won hole by hole.
    ByPoints {},
}

#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Field {
    /// The flights, each ranked apart; none: everybody in one ranking.
    #[serde(default)]
    pub flights: Vec<String>,
    /// Whether an event ranks only those whose entry names the competition.
    #[serde(default)]
    pub by_entry: bool,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counting {
    /// How many of the best values count; `None`: all.
    #[serde(default)]
    pub best: Option<u32>,
    /// How many of the worst of those drop.
    #[serde(default)]
    pub drop_worst: u32,
    /// How many events must have been played for a position.
    #[serde(default)]
    pub minimum: u32,
}

/// A competition and its terms.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "AsSent")]
pub struct Competition {
    /// What people call it.
    pub name: String,
    pub score: Scoring,
    pub basis: Basis,
    /// The share of the course handicap that is granted; `None`: the usual one of such a competition.
    pub allowance_pct: Option<AllowancePct>,
    pub side: Side,
    pub meeting: Meeting,
    pub award: Award,
    pub field: Field,
    /// The teams that compete; `None`: all of the season.
    pub teams: Option<Vec<TeamId>>,
    /// What it counts; `None`: every event of the season by itself.
    pub events: Option<Vec<Counted>>,
    /// What a place in another table is worth before the first event.
    pub start: Option<Start>,
    pub counting: Counting,
    pub ties: Vec<Tie>,
    /// What happens where a player of a match does not come.
    pub absent: AbsentTerms,
    /// Who may play in a member's place.
    pub substitutes: SubstituteTerms,
    /// Where it stands among the competitions of its season; the lowest is the main one.
    pub position: u32,
}

/// A competition as people write it, without what is usual.
#[derive(Deserialize)]
struct AsSent {
    name: String,
    score: Option<Scoring>,
    #[serde(default)]
    basis: Basis,
    allowance_pct: Option<AllowancePct>,
    #[serde(default)]
    side: Side,
    #[serde(default)]
    meeting: Meeting,
    award: Option<Award>,
    #[serde(default)]
    field: Field,
    teams: Option<Vec<TeamId>>,
    events: Option<Vec<Counted>>,
    start: Option<Start>,
    #[serde(default)]
    counting: Counting,
    ties: Option<Vec<Tie>>,
    #[serde(default)]
    absent: AbsentTerms,
    #[serde(default)]
    substitutes: SubstituteTerms,
    position: Option<u32>,
}

impl From<AsSent> for Competition {
    fn from(sent: AsSent) -> Self {
        let (usual_award, usual_ties) = match sent.meeting {
            Meeting::Match(_) => (Award::ByPoints {}, [Tie::HeadToHead, Tie::Won]),
            Meeting::Hole { .. } => (Award::ByPoints {}, [Tie::Firsts, Tie::BestValues]),
            Meeting::Field {} | Meeting::Season {} | Meeting::Sum { .. } => {
                (Award::ByScore {}, [Tie::Firsts, Tie::BestValues])
            }
        };
        Self {
            name: sent.name,
            score: sent.score.unwrap_or(Scoring::Strokes {}),
            basis: sent.basis,
            allowance_pct: sent.allowance_pct,
            side: sent.side,
            meeting: sent.meeting,
            award: sent.award.unwrap_or(usual_award),
            field: sent.field,
            teams: sent.teams,
            events: sent.events,
            start: sent.start,
            counting: sent.counting,
            ties: sent.ties.unwrap_or_else(|| usual_ties.to_vec()),
            absent: sent.absent,
            substitutes: sent.substitutes,
            position: sent.position.unwrap_or(1),
        }
    }
}

impl Scoring {
    /// Returns its row in the list of ways to score.
    pub fn format(&self) -> formats::Score {
        match self {
            Self::Strokes {} => formats::Score::Strokes,
            Self::Points { .. } => formats::Score::Points,
            Self::ParBogey {} => formats::Score::ParBogey,
            Self::MaximumScore { .. } => formats::Score::MaximumScore,
            Self::Quota { .. } => formats::Score::Quota,
        }
    }

    /// Returns which of two scores wins.
    pub fn better(&self) -> Better {
        match self {
            Self::Strokes {} | Self::MaximumScore { .. } => Better::Lower,
            Self::Points { .. } | Self::ParBogey {} | Self::Quota { .. } => Better::Higher,
        }
    }

    /// Returns its own table of points.
    pub fn table(&self) -> Option<&PointsByResult> {
        match self {
            Self::Points { table } | Self::Quota { table, .. } => table.as_ref(),
            Self::Strokes {} | Self::ParBogey {} | Self::MaximumScore { .. } => None,
        }
    }
}

impl Competition {
    /// Makes the competition that a season has where nobody names one.
    pub fn usual(name: String) -> Self {
        AsSent {
            name,
            score: None,
            basis: Basis::Net,
            allowance_pct: None,
            side: Side::default(),
            meeting: Meeting::default(),
            award: None,
            field: Field::default(),
            teams: None,
            events: None,
            start: None,
            counting: Counting::default(),
            ties: None,
            absent: AbsentTerms::default(),
            substitutes: SubstituteTerms::default(),
            position: None,
        }
        .into()
    }

    /// Returns the allowance and who says so; `None` as the source: the terms themselves.
    pub fn allowance(&self) -> (AllowancePct, Option<Source>) {
        if let Some(pct) = self.allowance_pct {
            return (pct, None);
        }
        let meeting = match self.meeting {
            Meeting::Field {} => formats::Meeting::Field,
            Meeting::Match(_) => formats::Meeting::Match,
            Meeting::Hole { .. } => formats::Meeting::Hole,
            Meeting::Season {} | Meeting::Sum { .. } => formats::Meeting::Season,
        };
        let [count, rest @ ..] = self.side.counts();
        // Nothing is published for a count that hangs on the par.
        let is_even = rest.iter().all(|other| *other == count);
        let usual = usual_allowance(self.score.format(), Balls::Own { count, of: self.side.balls() }, meeting);
        let (pct, source) = match usual {
            Some(Allowance { percentages: &[pct], source }) if is_even => (pct, source),
            _ => (100, Source::Custom),
        };
        (AllowancePct::new(pct.into()).expect("published allowances are percentages"), Some(source))
    }

    /// Returns what may surprise about the terms.
    pub fn notes(&self) -> Vec<&'static str> {
        let mut notes = Vec::new();
        if self.allowance() == (AllowancePct::new(95).expect("95 is a share"), Some(Source::AppendixC)) {
            notes.push("95 per cent is meant for fields of 30 or more; smaller ones usually grant 100.");
        }
        let adds_strokes = matches!(self.meeting, Meeting::Field {}) && self.better() == Better::Lower;
        if adds_strokes && self.counting.best.is_none() && self.counting.minimum == 0 {
            notes.push("Fewest strokes win and every event counts: whoever plays least is ahead. Set best or minimum.");
        }
        notes
    }

    /// Returns which of two values of its table wins.
    pub fn better(&self) -> Better {
        match self.award {
            Award::ByPlace { .. } | Award::ByPoints {} => Better::Higher,
            Award::ByScore {} => self.score.better(),
        }
    }

    /// Returns the terms of its matches.
    pub fn matches(&self) -> Option<&MatchTerms> {
        if let Meeting::Match(terms) = &self.meeting { Some(terms.as_ref()) } else { None }
    }

    /// Returns whether it ranks single cards.
    pub fn ranks_cards(&self) -> bool {
        self.matches().is_none()
    }

    /// Returns whether teams compete.
    pub fn is_of_teams(&self) -> bool {
        self.matches().is_some_and(|terms| terms.matches > 1 || self.side.balls() > 1)
    }

    /// Returns whether single holes compete, and not the whole card.
    pub fn goes_by_hole(&self) -> bool {
        matches!(self.meeting, Meeting::Hole { .. } | Meeting::Season {})
    }

    /// Returns whether each of its events has values, which another competition can add up.
    pub fn values_events(&self) -> bool {
        matches!(self.meeting, Meeting::Field {} | Meeting::Hole { .. }) && !self.has_results_of_several()
    }

    /// Returns whether level scores of an event are compared hole by hole.
    pub fn counts_back(&self) -> bool {
        self.ties.contains(&Tie::Countback) && matches!(self.award, Award::ByPlace { .. })
    }

    /// Returns whether its values mean something only over equally many holes.
    pub fn needs_equal_holes(&self) -> bool {
        match (&self.meeting, &self.award) {
            (Meeting::Field {}, Award::ByScore {}) => self.score.better() == Better::Lower,
            (meeting, _) => matches!(meeting, Meeting::Season {}),
        }
    }

    /// Returns the result that an event is part of; `None`: the competition does not count it.
    pub fn counted(&self, event: EventId) -> Option<Cow<'_, Counted>> {
        match &self.events {
            None => Some(Cow::Owned(Counted::alone(event))),
            Some(named) => named.iter().find(|counted| counted.event_ids.contains(&event)).map(Cow::Borrowed),
        }
    }

    /// Returns whether it counts an event.
    pub fn counts_event(&self, event: EventId) -> bool {
        self.events.as_ref().is_none_or(|named| named.iter().any(|counted| counted.event_ids.contains(&event)))
    }

    /// Returns whether an event makes a result with others.
    pub fn counts_with_others(&self, event: EventId) -> bool {
        self.has_results_of_several() && self.counted(event).is_some_and(|counted| counted.is_of_several())
    }

    /// Returns what the value of an event is multiplied by.
    pub fn weight_of(&self, event: EventId) -> Exact {
        let weights = self.events.iter().flatten().filter(|counted| counted.event_ids.contains(&event));
        weights.map(|counted| counted.weight.0).next().unwrap_or_else(|| whole(1))
    }

    /// Returns whether several events make one result somewhere.
    pub fn has_results_of_several(&self) -> bool {
        self.events.iter().flatten().any(Counted::is_of_several)
    }

    /// Returns the other competitions that its table rests on.
    pub fn rests_on(&self) -> Vec<CompetitionId> {
        let parts = match &self.meeting {
            Meeting::Sum { of } => of.as_slice(),
            Meeting::Field {} | Meeting::Match(_) | Meeting::Hole { .. } | Meeting::Season {} => &[],
        };
        let start = self.start.as_ref().map(|start| start.competition_id);
        parts.iter().copied().chain(start).collect()
    }

    /// Returns which terms that decide results differ from those of `other`, by the names of their fields.
    pub fn deciding_terms_changed(&self, other: &Self) -> Vec<&'static str> {
        // Every field is listed, so that a new one has to be put on one side or the other.
        #[rustfmt::skip]
        let Self {
            name: _, score, basis, allowance_pct, side, meeting, award, field, teams, events, start, counting, ties,
            absent, substitutes, position: _,
        } = self;
        let terms = [
            ("score", *score == other.score),
            ("basis", *basis == other.basis),
            ("allowance_pct", *allowance_pct == other.allowance_pct),
            ("side", *side == other.side),
            ("meeting", *meeting == other.meeting),
            ("award", *award == other.award),
            ("field", *field == other.field),
            ("teams", *teams == other.teams),
            ("events", *events == other.events),
            ("start", *start == other.start),
            ("absent", *absent == other.absent),
            ("substitutes", *substitutes == other.substitutes),
            ("counting", *counting == other.counting),
            ("ties", *ties == other.ties),
        ];
        terms.into_iter().filter(|(_, is_same)| !is_same).map(|(name, _)| name).collect()
    }
}
