//! A competition of matches as a season has it: its fixtures and its table, from the league's book and its cards.

use super::ball::given;
use super::balls::BallTerms;
use super::match_table::{Beside, LevelBy, MatchRow, TableTerms, match_table};
use super::meetings::{EventSeen, FixtureSeen, MatchCompetition, meetings};
use super::season_total::Counting;
use super::seats::{MatchCard, MatchHole, NightPlayer};
use super::waiting::candidates;
use crate::facts::course::Layout;
use crate::facts::{Adjustment, Basis, CardInPlay, CarriedResult, Competition, Competitor, LineUp, Outcome, Tie};
use crate::ids::{CompetitionId, EventId, MemberId, SeasonId, TeamId, TeeId};
use crate::season::book::{Book, Night, NightKey};
use crate::season::entry::{CardDigest, HoleScore};
use crate::season::figures::Figures;
use std::collections::{BTreeSet, HashMap, HashSet};

/// The cards of a season as its matches see them.
#[derive(Clone, Debug, Default)]
pub struct MatchCards<'a> {
    /// The figures of its counting rounds.
    pub figures: Vec<&'a Figures>,
    pub in_play: HashMap<(EventId, MemberId), CardInPlay>,
    /// Whose card a ruling leaves out.
    pub left_out: HashSet<(EventId, MemberId)>,
    /// What those bring along whom a fixture expects and who have no card that counts.
    pub without_card: HashMap<(EventId, MemberId), Figures>,
}

/// Returns whom the fixtures of an event may expect: the players of line-ups, the members of teams without one, and those who
/// compete for themselves; of a side that other fixtures decide everybody who may come.
pub fn expected(book: &Book, night: &Night) -> BTreeSet<MemberId> {
    let sides = book.fixtures_in(night.id).flat_map(|(.., fixture)| fixture.sides()).flatten();
    let sides = candidates(sides, |id| book.fixtures.get(&id).map(|(_, fixture)| fixture)).into_iter();
    sides.flat_map(|side| players(book, night, side)).collect()
}

/// Returns who may play for a side in an event: whom its line-up names, or without one the members of the team.
pub fn players(book: &Book, night: &Night, side: Competitor) -> Vec<MemberId> {
    match side {
        Competitor::Member { member_id } => vec![member_id],
        Competitor::Team { team_id } => match book.line_ups.get(&(night.id, team_id)) {
            Some(line_up) => line_up.players.iter().map(|player| player.member_id).collect(),
            None => book.teams.get(&team_id).map(|(_, team)| team.roster(night.date)).unwrap_or_default(),
        },
    }
}

/// Works out every fixture of a competition; `until` looks back: only events up to it are taken.
pub fn fixtures(book: &Book, id: CompetitionId, cards: &MatchCards<'_>, until: Option<NightKey>) -> Vec<FixtureSeen> {
    let Some((season, terms)) = book.competitions.get(&id) else { return Vec::new() };
    let Some(match_terms) = terms.matches() else { return Vec::new() };
    let nights: Vec<&Night> = nights(book, (*season, terms), until).collect();
    let mut layouts: HashMap<(EventId, TeeId), Layout> = HashMap::new();
    for night in &nights {
        for tee in night.event.tee_ids() {
            layouts.extend(book.layout(night, tee).map(|layout| ((night.id, tee), layout)));
        }
    }
    let mut events: Vec<EventSeen<'_>> = Vec::new();
    let mut places: HashMap<EventId, usize> = HashMap::new();
    for night in &nights {
        let Some(layout) = layouts.get(&(night.id, night.event.tee_id)) else { continue };
        places.insert(night.id, events.len());
        events.push(EventSeen {
            id: night.id,
            day: night.date,
            is_final: night.event.is_final(),
            is_void: night.event.is_void(),
            holes: &layout.holes,
            players: HashMap::new(),
            line_ups: book
                .line_ups
                .iter()
                .filter(|((event, _), _)| *event == night.id)
                .map(|((_, team), line_up)| (*team, line_up))
                .collect(),
        });
    }
    let without_card = cards.without_card.values().map(|figures| (figures, false));
    for (figures, has_card) in cards.figures.iter().map(|figures| (*figures, true)).chain(without_card) {
        let (Some(place), Some(night)) = (places.get(&figures.event), book.nights.get(&figures.event)) else {
            continue;
        };
        let Some(layout) = layouts.get(&(figures.event, figures.tee)) else { continue };
        let key = (figures.event, figures.member);
        let card = match (has_card, cards.in_play.get(&key)) {
            (true, _) => Some(of_digest(&figures.card, layout)),
            (false, _) if cards.left_out.contains(&key) => Some(MatchCard { holes: Vec::new(), is_out: true }),
            (false, in_play) => in_play.map(|card| of_card_in_play(card, layout)),
        };
        let player = NightPlayer {
            playing_handicap: given(book, night, terms, layout, figures.handicap).playing_handicap,
            index: figures.handicap.played_off,
            holes: &layout.holes,
            card,
        };
        events[*place].players.insert(figures.member, player);
    }
    meetings(&MatchCompetition {
        terms: match_terms,
        balls: BallTerms {
            is_net: terms.basis == Basis::Net,
            of: terms.side.balls(),
            counts: terms.side.counts(),
            absent: terms.absent,
        },
        teams: book.teams_of(*season).collect(),
        events,
        fixtures: book.fixtures_of(id).collect(),
        kept: nights
            .iter()
            .filter_map(|night| night.kept.as_ref())
            .flat_map(|kept| &kept.fixtures)
            .map(|kept| (kept.fixture_id, *kept))
            .collect(),
        concessions: book.concessions.values().collect(),
    })
}

/// Returns the events that a competition counts, in their order.
fn nights<'a>(
    book: &'a Book,
    (season, terms): (SeasonId, &Competition),
    until: Option<NightKey>,
) -> impl Iterator<Item = &'a Night> {
    let nights = book.nights_of(season).into_iter();
    nights.filter(move |night| terms.counts_event(night.id) && until.is_none_or(|until| night.key() <= until))
}

fn of_digest(card: &CardDigest, layout: &Layout) -> MatchCard {
    let on = |number| match card.score_on(number) {
        HoleScore::Holed(strokes) => MatchHole::Scored(strokes),
        HoleScore::PickedUp(_) | HoleScore::NotPlayed => MatchHole::Unscored,
    };
    MatchCard {
        holes: layout.holes.iter().map(|hole| on(hole.number.get())).collect(),
        is_out: card.outcome == Outcome::Disqualified,
    }
}

fn of_card_in_play(card: &CardInPlay, layout: &Layout) -> MatchCard {
    let on = |number| match card.holes.iter().find(|hole| hole.number == number) {
        None => MatchHole::Open,
        Some(hole) => match hole.strokes.filter(|_| !hole.picked_up && !hole.not_played) {
            Some(strokes) => MatchHole::Scored(strokes.get()),
            None => MatchHole::Unscored,
        },
    };
    MatchCard { holes: layout.holes.iter().map(|hole| on(hole.number)).collect(), is_out: false }
}

/// Returns who competes without being named by a fixture: the teams of the competition.
fn competitors(book: &Book, id: CompetitionId) -> Vec<Competitor> {
    let Some((season, terms)) = book.competitions.get(&id).filter(|(_, terms)| terms.is_of_teams()) else {
        return Vec::new();
    };
    let all = book.teams_of(*season).map(|(team, _)| team);
    let is_in = |team: &TeamId| terms.teams.as_ref().is_none_or(|named| named.contains(team));
    all.filter(is_in).map(|team_id| Competitor::Team { team_id }).collect()
}

/// Makes the table of a competition from its fixtures; `until` looks back as in [`fixtures`].
pub fn table(book: &Book, id: CompetitionId, fixtures: &[FixtureSeen], until: Option<NightKey>) -> Vec<MatchRow> {
    let Some((season, terms)) = book.competitions.get(&id) else { return Vec::new() };
    let Some(meeting) = terms.matches() else { return Vec::new() };
    let events: Vec<EventId> = nights(book, (*season, terms), until).map(|night| night.id).collect();
    let weights = events.iter().map(|event| (*event, terms.weight_of(*event))).collect();
    let adjustments: Vec<&Adjustment> =
        book.adjustments.values().filter(|(of, _)| *of == id).map(|(_, adjustment)| adjustment).collect();
    let ties: Vec<LevelBy> = terms.ties.iter().copied().filter_map(level_by).collect();
    let (counting, minimum) = (counting(terms), terms.counting.minimum);
    let table = TableTerms { meeting, counting, minimum, ties: &ties, weights: &weights };
    let carried: Vec<&CarriedResult> = book.carried_into(*season, id).collect();
    let beside = Beside { carried: &carried, adjustments: &adjustments };
    match_table(table, &competitors(book, id), &events, fixtures, beside)
}

fn counting(terms: &Competition) -> Counting {
    Counting { best: terms.counting.best.map(|best| best as usize), drop_worst: terms.counting.drop_worst as usize }
}

fn level_by(tie: Tie) -> Option<LevelBy> {
    match tie {
        Tie::HeadToHead => Some(LevelBy::HeadToHead),
        Tie::Won => Some(LevelBy::Won),
        Tie::Points => Some(LevelBy::Points),
        Tie::BestValues => Some(LevelBy::BestValues),
        Tie::Countback | Tie::Firsts => None,
    }
}

/// Returns in how many events of a season that are not void a member is named as a substitute, `but` one.
pub fn nights_as_substitute(book: &Book, season: SeasonId, member: MemberId, but: EventId) -> usize {
    let is_one = |((event, _), line_up): &(&(EventId, TeamId), &LineUp)| {
        *event != but
            && book.nights.get(event).is_some_and(|night| night.season == season && !night.event.is_void())
            && line_up.players.iter().any(|player| player.member_id == member && player.substitute_for.is_some())
    };
    book.line_ups.iter().filter(is_one).map(|((event, _), _)| event).collect::<BTreeSet<_>>().len()
}
