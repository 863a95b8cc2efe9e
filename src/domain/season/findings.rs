//! Findings of a whole league: what was opened before, and what a season's rounds open now.

use super::book::{Book, NightKey};
use super::entry::{CardDigest, Entry, HoleScore};
use super::putting::PuttsOfRounds;
use crate::audit::ledger::{About, Budget, Explained, Ledger, OpenedFact, Restarts, SetupFinding, Taken, crossed};
use crate::audit::{Met, Picture, RoundReadings, Size, title};
use crate::facts::CardHole;
use crate::ids::{EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::putting::compact::CompactPutts;
use crate::putting::holed::HoledByFoot;
use crate::units::{Feet, HoleNumber, Strokes};
use jiff::civil::Date;
use serde::Serialize;
use std::collections::{BTreeSet, HashMap, HashSet};
use uuid::Uuid;

/// What is known of a league's evidence beside its rounds.
#[derive(Clone, Debug, Default)]
pub struct AuditFacts {
    /// The league.
    pub league: Option<LeagueId>,
    /// Putts that a ruling leaves out of putting figures; evidence goes on reading them.
    pub putts_out: PuttsOfRounds,
    /// The number that lets each round in, and the softening that it met.
    pub taken_at: HashMap<RoundId, (i64, Option<Feet>)>,
    /// What was opened.
    pub opened: Vec<OpenedFact>,
    /// Whom each of those concerns.
    pub concerned: HashMap<Uuid, Vec<MemberId>>,
    /// Rulings of "no action": the finding and the ruling's number.
    pub no_actions: Vec<(Uuid, i64)>,
    /// Findings that were ruled upon.
    pub ruled: HashSet<Uuid>,
    /// Who spoke about which finding.
    pub spoken: HashSet<(Uuid, MemberId)>,
}

/// A finding as a report shows it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingReport {
    /// Its id.
    pub id: Uuid,
    /// Its kind.
    pub kind: &'static str,
    /// Whom it is about.
    pub subject: About,
    /// Its season.
    pub season_id: SeasonId,
    /// Where it stands.
    pub state: &'static str,
    /// The event whose round made it cross.
    pub opened_at_event_id: EventId,
    /// The rounds behind it.
    pub rounds: Vec<RoundId>,
    /// The odds.
    pub evidence: Odds,
    /// What findings about set-ups explain of it: they are looked at first.
    pub explained_by: Option<Explained>,
    /// What was seen, in one sentence.
    pub summary: String,
    /// What set-ups explain of it, the odds and what they are not, the budget, the closest honest explanation, what would settle it, the size.
    pub reasons: Vec<String>,
    /// The nights on which its cause was rather on than off; none for kinds whose causes don't switch.
    pub nights: Option<Vec<Date>>,
    /// What to draw.
    pub picture: Picture,
    /// What it is worth, and what leaving the rounds out would do.
    pub effect: Effect,
}

/// What a finding is worth.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Effect {
    /// Strokes a round.
    #[serde(flatten)]
    pub worth: Worth,
    /// The positions that would change if the rounds were left out; for organizers and reviewers of a league that is
    /// served.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub positions: Option<Vec<PositionMove>>,
}

/// A position that would change.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PositionMove {
    /// Whose.
    pub member_id: MemberId,
    /// The position now.
    pub from: Option<u32>,
    /// The position then.
    pub to: Option<u32>,
}

/// The odds of a finding.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Odds {
    /// When it opened, as a power of ten.
    pub factor_log10: f64,
    /// What it crossed.
    pub threshold_log10: f64,
    /// By the rounds that are looked at.
    pub now_log10: f64,
    /// Readings that it rests on.
    pub putts: u32,
    /// Rounds that it rests on.
    pub rounds: u32,
    /// In how many of a hundred honest seasons any finding may show.
    pub false_alarm_pct: f64,
}

/// What a finding is worth.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Worth {
    /// Strokes a round.
    pub strokes_per_round: Option<f64>,
    /// The lower end.
    pub low: Option<f64>,
    /// The upper end.
    pub high: Option<f64>,
}

impl Worth {
    fn of(size: Option<Size>) -> Self {
        Self {
            strokes_per_round: size.map(|size| size.strokes_per_round),
            low: size.map(|size| size.low),
            high: size.map(|size| size.high),
        }
    }
}

impl FindingReport {
    /// Shows a finding by the rounds behind it, in the order received; `others` are the season's findings about set-ups,
    /// or those of them that are about the set-ups of these rounds.
    pub fn of(
        opened: &OpenedFact,
        state: &'static str,
        rounds: Vec<RoundId>,
        behind: &[&Taken],
        others: &[SetupFinding],
        false_alarm_pct: f64,
    ) -> Self {
        let (mut said, now) = opened.told_by(behind, false_alarm_pct);
        let explained_by = opened.explained_by(others, behind);
        said.reasons.splice(0..0, explained_by.iter().map(setup_first));
        Self {
            id: opened.id,
            kind: opened.kind.name,
            subject: opened.about,
            season_id: opened.season,
            state,
            opened_at_event_id: opened.event,
            rounds,
            evidence: Odds {
                factor_log10: opened.factor_log10,
                threshold_log10: opened.threshold_log10,
                now_log10: now.log10,
                putts: now.usable,
                rounds: now.rounds,
                false_alarm_pct,
            },
            explained_by,
            summary: said.summary,
            reasons: said.reasons,
            nights: said.nights,
            picture: said.picture,
            effect: Effect { worth: Worth::of(said.size), positions: None },
        }
    }

    /// Says whether the rest of the field belongs in the picture.
    pub fn needs_field(&self) -> bool {
        matches!(self.picture, Picture::MadeByDistance(_))
    }

    /// Sets the season's field beside the players behind the finding, without them.
    pub fn beside(mut self, field: &HoledByFoot, behind: &[&Taken]) -> Self {
        let these: BTreeSet<MemberId> = behind.iter().map(|taken| taken.member).collect();
        self.picture.beside(|band| field.of_others(&these, band.from_ft, band.to_ft));
        self
    }
}

/// Tells that set-ups with findings of their own come first, and what is left without them.
fn setup_first(explained: &Explained) -> String {
    let Explained { awaits_ruling, rounds, putts, left_rounds, left_log10, kinds, .. } = explained;
    let kinds: Vec<String> = kinds.iter().map(|kind| title(kind).to_owned()).collect();
    let left = match left_rounds {
        0 => "No other round is left".to_owned(),
        n => format!("The {n} other rounds alone have a factor of 10^{left_log10:.1}"),
    };
    let waits =
        if *awaits_ruling { " A ruling on this finding is possible after the one about the simulator." } else { "" };
    format!(
        "The simulator comes first: {rounds} of these {} rounds ({putts} putts) were putted on a simulator that has a \
         finding of its own ({}), and it may be the whole explanation. {left}.{waits}",
        rounds + left_rounds,
        kinds.join(", ")
    )
}

/// Says where a finding stands, given whether each of those concerned has spoken.
pub fn state(is_ruled: bool, have_spoken: impl IntoIterator<Item = bool>) -> &'static str {
    let mut spoken = have_spoken.into_iter().peekable();
    if is_ruled {
        "ruled"
    } else if spoken.peek().is_some() && spoken.all(|has_spoken| has_spoken) {
        "answered"
    } else {
        "open"
    }
}

/// Puts a card together again from its scores and its packed putts.
fn card(digest: &CardDigest, putts: &CompactPutts) -> Vec<CardHole> {
    let mut recorded: HashMap<u8, _> = putts.numbered().into_iter().collect();
    let hole = |(number, score): &(u8, HoleScore)| {
        let strokes = match score {
            HoleScore::Holed(strokes) => Some(*strokes),
            HoleScore::PickedUp(likely) => *likely,
            HoleScore::NotPlayed => None,
        };
        Some(CardHole {
            number: HoleNumber::new(i64::from(*number)).ok()?,
            strokes: strokes.and_then(|strokes| Strokes::new(i64::from(strokes)).ok()),
            picked_up: matches!(score, HoleScore::PickedUp(_)),
            not_played: *score == HoleScore::NotPlayed,
            putts: recorded.remove(number),
            putt_count: None,
        })
    };
    digest.holes.iter().filter_map(hole).collect()
}

fn taken(book: &Book, entry: &Entry, putts: &PuttsOfRounds, facts: &AuditFacts) -> Option<Taken> {
    let night = book.nights.get(&entry.event)?;
    let layout = book.layout(night, night.event.tee_id)?;
    let (seq, declared_radius_ft) = *facts.taken_at.get(&entry.id)?;
    let (received, played_on) = (seq.unsigned_abs(), entry.played_on);
    let met = Met { received, played_on, stimp: night.event.stimp_ft, declared_radius_ft };
    let holes = card(&entry.card, putts.get(&entry.id).or_else(|| facts.putts_out.get(&entry.id))?);
    let readings = RoundReadings::of_holes(&holes, &layout, met);
    Some(Taken { seq, member: entry.member, setup: entry.setup, readings })
}

/// Finds what was opened in a season and what its counting rounds open now.
///
/// `until` looks back: only rounds of events up to it, and only what opened by them; `field` is that of the season until
/// then.
pub fn findings(
    book: &Book,
    entries: &[Entry],
    putts: &PuttsOfRounds,
    facts: &AuditFacts,
    field: &HoledByFoot,
    season: SeasonId,
    until: Option<NightKey>,
) -> Vec<FindingReport> {
    let (Some(league), Some(policy)) = (facts.league, book.seasons.get(&season)) else { return Vec::new() };
    let looks_at = |event: &EventId| {
        book.nights
            .get(event)
            .is_some_and(|night| night.season == season && until.is_none_or(|until| night.key() <= until))
    };
    let counting = entries.iter().filter(|entry| entry.state.counts() && looks_at(&entry.event));
    let mut rounds: Vec<(&Entry, Taken)> =
        counting.filter_map(|entry| Some((entry, taken(book, entry, putts, facts)?))).collect();
    rounds.sort_by_key(|(entry, taken)| (taken.seq, entry.id));
    let (entries, takens): (Vec<&Entry>, Vec<Taken>) = rounds.into_iter().unzip();

    let opened = facts.opened.iter().filter(|opened| opened.season == season && looks_at(&opened.event));
    let mut restarts = Restarts::new();
    for (finding, seq) in &facts.no_actions {
        if let Some(opened) = facts.opened.iter().find(|opened| opened.id == *finding && opened.season == season) {
            restarts.entry((opened.kind.name, opened.about)).or_default().push(*seq);
        }
    }
    restarts.values_mut().for_each(|rulings| rulings.sort_unstable());
    let since = restarts.clone();
    let found = opened.clone().filter_map(OpenedFact::explaining).collect();
    let audit = &policy.audit;
    let budget = Budget { field_size: audit.field_size, false_alarm_pct: audit.false_alarm_pct };
    let (_, openings) = crossed(Ledger::new(restarts, found), &takens, budget);

    let mut all: Vec<OpenedFact> = opened.cloned().collect();
    for opening in openings {
        let opened = OpenedFact::of(league, season, &opening.crossing, entries[opening.round].event);
        if all.iter().all(|known| known.id != opened.id) {
            all.push(opened);
        }
    }
    let is_ruled = |opened: &OpenedFact| facts.ruled.contains(&opened.id);
    let about_setups: Vec<SetupFinding> = all
        .iter()
        .filter(|opened| opened.explaining().is_some())
        .map(|opened| SetupFinding { opened: opened.clone(), is_ruled: is_ruled(opened) })
        .collect();
    let show = |opened: &OpenedFact| {
        let rounds = entries.iter().zip(&takens).filter(|(_, taken)| opened.rests_on(&since, taken));
        let (ids, behind): (Vec<RoundId>, Vec<&Taken>) = rounds.map(|(entry, taken)| (entry.id, taken)).unzip();
        let players: BTreeSet<MemberId> = match facts.concerned.get(&opened.id) {
            Some(concerned) if !concerned.is_empty() => concerned.iter().copied().collect(),
            _ => behind.iter().map(|taken| taken.member).collect(),
        };
        let have_spoken = players.iter().map(|member| facts.spoken.contains(&(opened.id, *member)));
        let state = state(is_ruled(opened), have_spoken);
        FindingReport::of(opened, state, ids, &behind, &about_setups, audit.false_alarm_pct).beside(field, &behind)
    };
    all.iter().map(show).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audit::{PuttReading, kind};
    use crate::ids::SetupId;
    use crate::units::Stimp;

    fn taken(setup: Option<u128>, putts: usize) -> Taken {
        let putt = PuttReading {
            distance_ft: 8.0,
            plays_like_ft: 8.0,
            level_roll_ft: None,
            ball_speed_mph: None,
            start_line_deg: None,
            played_line_deg: None,
            is_holed: true,
            leave_ft: None,
            is_declared: false,
        };
        let stimp = Stimp::new(10.0).unwrap();
        let played_on = jiff::civil::Date::constant(2027, 1, 14);
        let putts = vec![putt; putts];
        let readings = RoundReadings { received: 1, played_on, stimp, putts, holes: vec![], conceded: 0 };
        Taken { seq: 1, member: MemberId(Uuid::nil()), setup: setup.map(|n| SetupId(Uuid::from_u128(n))), readings }
    }

    fn opened(name: &str, about: About) -> OpenedFact {
        OpenedFact {
            id: Uuid::nil(),
            season: SeasonId(Uuid::nil()),
            kind: kind(name).unwrap(),
            about,
            restart: 0,
            event: EventId(Uuid::nil()),
            factor_log10: 5.0,
            threshold_log10: 4.6,
        }
    }

    #[test]
    fn a_players_finding_says_first_what_a_set_up_explains_and_what_is_left() {
        let (on_it, elsewhere) = (taken(Some(7), 30), taken(None, 40));
        let behind = [&on_it, &on_it, &elsewhere];
        let about = About::Setup(SetupId(Uuid::from_u128(7)));
        let beside = |name, about, is_ruled| SetupFinding { opened: opened(name, about), is_ruled };
        let line = beside("softened_line", about, false);
        let other = beside("softened_line", About::Setup(SetupId(Uuid::from_u128(8))), false);
        let player = About::Player(MemberId(Uuid::nil()));
        let of_player = opened("softened_line", player);
        let shown =
            |of: &OpenedFact, others: &[SetupFinding]| FindingReport::of(of, "open", Vec::new(), &behind, others, 5.0);
        // A ruling on the line alone leaves that on the holed ones to be awaited.
        let ruled = SetupFinding { is_ruled: true, ..line.clone() };
        let report = shown(&of_player, &[ruled.clone(), beside("holed_off_line", about, false), other.clone()]);
        let explained = report.explained_by.unwrap();
        assert!(explained.awaits_ruling);
        assert_eq!((explained.rounds, explained.putts, explained.left_rounds), (2, 60, 1));
        assert_eq!((explained.left_log10, explained.finding_ids.len()), (0.0, 2));
        let first = &report.reasons[0];
        assert!(first.starts_with("The simulator comes first: 2 of these 3 rounds (60 putts)"), "{first}");
        assert!(
            first.contains("(putts holed off line, short putts helped on line)") && first.contains("is possible after"),
            "{first}"
        );
        let explained = shown(&of_player, std::slice::from_ref(&ruled)).explained_by.unwrap();
        assert!(!explained.awaits_ruling);

        assert_eq!(shown(&of_player, &[other]).explained_by, None);
        // which holes are recorded is no set-up's doing; nor does a set-up's finding point at itself
        assert_eq!(shown(&opened("chosen_records", player), std::slice::from_ref(&line)).explained_by, None);
        assert_eq!(shown(&line.opened, std::slice::from_ref(&line)).explained_by, None);
        // a misreading sensor is told its owner alone
        assert_eq!(shown(&of_player, &[beside("sensor_misread", about, false)]).explained_by, None);
    }
}
