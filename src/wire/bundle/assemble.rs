//! A bundle, line by line: what each line adds to a league, and every way in which it does not fit.

use crate::domain::facts::{Decided, Decision, Event, Fault, Rules, fit};
use crate::domain::ids::{ClientRoundId, EventId, LeagueId, MemberId, RoundId, SeasonId, SetupId};
use crate::domain::putting::PuttingTotals;
use crate::domain::putting::baseline::Baseline;
use crate::domain::putting::compact::CompactPutts;
use crate::domain::rule::Rule;
use crate::domain::season::findings::AuditFacts;
use crate::domain::season::putting::PuttsOfRounds;
use crate::domain::season::{Book, CardDigest, Entry, Life, Night, RoundState};
use crate::wire::bundle::ids::OfFinding;
use crate::wire::bundle::line::Line;
use crate::wire::json::pointer_to;
use jiff::tz::TimeZone;
use std::collections::{HashMap, HashSet};
use std::fmt::Display;
use uuid::Uuid;

/// Of which season the putts themselves are kept.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum KeptPutts {
    /// Of none.
    Nothing,
    /// Of the one that starts last.
    #[default]
    Latest,
    /// Of this one.
    Season(SeasonId),
}

/// A league put together from the lines of a bundle, putts boiled down to sums but for one season's.
pub struct Assembler {
    league: Option<LeagueId>,
    zone: TimeZone,
    setups: HashSet<SetupId>,
    round_places: HashMap<RoundId, usize>,
    lives: HashMap<RoundId, Life>,
    /// What a ruling leaves out, in case another brings it back.
    putts_out: HashMap<RoundId, PuttingTotals>,
    entered: HashSet<(EventId, MemberId)>,
    queries: HashSet<Uuid>,
    sent: HashSet<(MemberId, ClientRoundId)>,
    keeps: KeptPutts,
    /// The league, rounds apart.
    pub book: Book,
    /// What is known of its evidence beside the rounds.
    pub facts: AuditFacts,
    /// The rounds in the order of their lines.
    pub entries: Vec<Entry>,
    /// The putts of the rounds of one season.
    pub putts: PuttsOfRounds,
}

impl Default for Assembler {
    fn default() -> Self {
        Self::keeping(KeptPutts::default())
    }
}

impl Assembler {
    /// Begins a league, of which the putts of one season are kept.
    pub fn keeping(keeps: KeptPutts) -> Self {
        Self {
            league: None,
            zone: TimeZone::UTC,
            setups: HashSet::new(),
            round_places: HashMap::new(),
            lives: HashMap::new(),
            putts_out: HashMap::new(),
            entered: HashSet::new(),
            facts: AuditFacts::default(),
            queries: HashSet::new(),
            sent: HashSet::new(),
            keeps,
            book: Book::default(),
            entries: Vec::new(),
            putts: PuttsOfRounds::new(),
        }
    }
}

pub(super) fn unknown(field: &str, id: impl Display) -> Vec<Fault> {
    vec![Fault::new(pointer_to("", field), Rule::UnknownId, format!("no line before this one has the id {id}"))]
}

pub(super) fn repeated(id: impl Display) -> Vec<Fault> {
    vec![Fault::new("/id", Rule::RepeatedId, format!("a line before this one has the id {id}"))]
}

impl Assembler {
    /// Takes in the next line.
    ///
    /// # Errors
    /// Every way in which the line does not fit itself or the lines before it; nothing of it is taken in then.
    pub fn add(&mut self, line: Line) -> Result<(), Vec<Fault>> {
        match line {
            Line::League(line) => {
                if self.league.is_some() {
                    return Err(vec![Fault::new("/kind", Rule::SecondLeague, "a bundle holds one league")]);
                }
                self.zone = line.body.zone().map_err(|fault| vec![fault])?;
                self.league = Some(line.ids.id);
                self.facts.league = Some(line.ids.id);
                Ok(())
            }
            Line::Member(line) => {
                self.in_league(line.ids.league_id)?;
                insert_new(self.book.members.entry(line.ids.id), line.ids.id, line.body)
            }
            Line::Setup(line) => {
                self.in_league(line.ids.league_id)?;
                if let Some(owner) = line.ids.member_id {
                    self.member("member_id", owner)?;
                }
                if self.setups.insert(line.ids.id) { Ok(()) } else { Err(repeated(line.ids.id)) }
            }
            Line::Course(line) => {
                self.in_league(line.ids.league_id)?;
                none(line.body.faults())?;
                if let Some(t) = line.body.tees.iter().position(|tee| self.book.tees.contains_key(&tee.id)) {
                    return Err(vec![Fault::new(
                        format!("/tees/{t}/id"),
                        Rule::RepeatedId,
                        "this tee is known already",
                    )]);
                }
                self.book.tees.extend(line.body.tees.into_iter().map(|tee| (tee.id, tee)));
                Ok(())
            }
            Line::Season(line) => {
                self.in_league(line.ids.league_id)?;
                none(line.body.faults())?;
                let before = self.kept_season();
                insert_new(self.book.seasons.entry(line.ids.id), line.ids.id, line.body)?;
                if self.kept_season() != before {
                    // rounds of a season stand after it, so nothing of the new one was passed over
                    self.putts.clear();
                }
                Ok(())
            }
            Line::Event(line) => {
                let season = line.ids.season_id;
                let Some(policy) = self.book.seasons.get(&season) else { return Err(unknown("season_id", season)) };
                none(line.body.faults())?;
                none(fit::day_faults(&line.body, policy, |at| self.zone.to_datetime(at).date()))?;
                none(fit::tee_faults(&line.body, |tee| self.book.tees.get(&tee)))?;
                if self.book.nights.contains_key(&line.ids.id) {
                    return Err(repeated(line.ids.id));
                }
                let date = self.zone.to_datetime(line.body.opens_at).date();
                let night = Night { id: line.ids.id, season, date, event: line.body, kept: None };
                self.book.nights.insert(line.ids.id, night);
                Ok(())
            }
            Line::Competition(line) => {
                let (id, season, terms) = (line.ids.id, line.ids.season_id, line.body);
                if !self.book.seasons.contains_key(&season) {
                    return Err(unknown("season_id", season));
                }
                none(terms.faults())?;
                let events: Vec<(EventId, &Event)> =
                    self.book.nights_of(season).into_iter().map(|night| (night.id, &night.event)).collect();
                let named = terms.events.iter().flatten().flat_map(|counted| &counted.event_ids);
                if let Some(event) = named.copied().find(|event| !events.iter().any(|(known, _)| known == event)) {
                    return Err(unknown("events", event));
                }
                none(fit::uneven(&terms, &events).into_iter().collect())?;
                match self.book.competitions.insert(id, (season, terms)) {
                    None => Ok(()),
                    Some(_) => Err(repeated(id)),
                }
            }
            Line::Team(_)
            | Line::LineUp(_)
            | Line::Fixture(_)
            | Line::Adjustment(_)
            | Line::Concession(_)
            | Line::SideContest(_) => self.of_matches(line),
            Line::Round(line) => {
                let (round, came_in) = (&line.body.round, &line.body.came_in);
                self.member("member_id", round.member_id)?;
                if let Some(sender) = came_in.sent_by {
                    self.member("sent_by", sender)?;
                }
                if let Some(setup) = round.setup_id.filter(|setup| !self.setups.contains(setup)) {
                    return Err(unknown("setup_id", setup));
                }
                let Some(night) = self.book.nights.get(&line.ids.event_id) else {
                    return Err(unknown("event_id", line.ids.event_id));
                };
                if self.book.main_of(night.season).is_none() {
                    let detail = "the season of this event has no competition: its line stands before the rounds";
                    return Err(vec![Fault::new("/event_id", Rule::LastCompetition, detail)]);
                }
                none(self.book.card_faults(night, round))?;
                if self.round_places.contains_key(&line.ids.id) {
                    return Err(repeated(line.ids.id));
                }
                if !self.sent.insert((round.member_id, round.client_round_id)) {
                    let detail = "this member has a round with this client_round_id already";
                    return Err(vec![Fault::new("/client_round_id", Rule::RoundExists, detail)]);
                }
                if self.kept_season() == Some(night.season) {
                    self.putts.insert(line.ids.id, CompactPutts::of(&round.holes));
                    let seq = line.received.seq.unwrap_or(self.entries.len() as i64);
                    self.facts.taken_at.insert(line.ids.id, (seq, came_in.declared_radius_ft));
                }
                self.round_places.insert(line.ids.id, self.entries.len());
                let life = Life::new(came_in.proposed, came_in.late);
                let policy = self.book.seasons.get(&night.season);
                let left_out = policy.and_then(|policy| policy.left_out(came_in.declared_radius_ft));
                self.entries.push(Entry {
                    id: line.ids.id,
                    event: line.ids.event_id,
                    member: round.member_id,
                    setup: round.setup_id,
                    state: life.state(),
                    played_on: round.played_on,
                    card: CardDigest::of(round),
                    putting: PuttingTotals::of(&round.holes, Baseline::tour(), left_out),
                });
                if life != Life::default() {
                    self.lives.insert(line.ids.id, life);
                }
                Ok(())
            }
            Line::Attestation(line) => {
                if let Some(member) = line.ids.member_id {
                    self.member("member_id", member)?;
                }
                let player = self.entries[self.round("round_id", line.ids.round_id)?].member;
                if line.ids.member_id == Some(player) {
                    return Err(vec![Fault::new(
                        "/member_id",
                        Rule::OwnRound,
                        "nobody may confirm their own round as witness",
                    )]);
                }
                self.live(line.ids.round_id, |life| {
                    life.attest();
                    Ok(())
                })
            }
            Line::Acceptance(line) => {
                if let Some(member) = line.ids.member_id {
                    self.member("member_id", member)?;
                }
                self.round("round_id", line.ids.round_id)?;
                if let (Some(seq), Some(taken)) = (line.received.seq, self.facts.taken_at.get_mut(&line.ids.round_id)) {
                    taken.0 = seq;
                }
                self.live(line.ids.round_id, |life| {
                    let detail = "the round does not wait to be accepted";
                    if life.accept() {
                        Ok(())
                    } else {
                        Err(vec![Fault::new("/round_id", Rule::NothingToAccept, detail)])
                    }
                })
            }
            Line::FindingOpened(line) => {
                if !self.book.seasons.contains_key(&line.ids.season_id) {
                    return Err(unknown("season_id", line.ids.season_id));
                }
                let event = line.body.opened_at_event_id;
                if !self.book.nights.contains_key(&event) {
                    return Err(unknown("opened_at_event_id", event));
                }
                match (line.body.member_id, line.body.setup_id) {
                    (Some(member), None) => self.member("member_id", member)?,
                    (None, Some(setup)) if self.setups.contains(&setup) => {}
                    (None, Some(setup)) => return Err(unknown("setup_id", setup)),
                    _ => {
                        let detail = "a finding is about a member or a set-up, one of the two";
                        return Err(vec![Fault::new("/member_id", Rule::UnknownId, detail)]);
                    }
                }
                let Some(opened) = line.body.fact(line.ids) else {
                    return Err(unknown("finding_kind", &line.body.finding_kind));
                };
                for told in &line.body.concerned {
                    self.member("concerned", told.member_id)?;
                }
                if self.finding(line.ids.id).is_ok() {
                    return Err(repeated(line.ids.id));
                }
                self.facts.opened.push(opened);
                let concerned = line.body.concerned.iter().map(|told| told.member_id).collect();
                self.facts.concerned.insert(line.ids.id, concerned);
                Ok(())
            }
            Line::Statement(line) => {
                self.said(line.ids)?;
                self.facts.spoken.extend(line.ids.member_id.map(|member| (line.ids.finding_id, member)));
                Ok(())
            }
            Line::Request(line) | Line::Recusal(line) => self.said(line.ids),
            Line::FirstOpinion(line) => self.said(line.ids),
            Line::Ruling(line) => {
                if let Some(finding) = line.body.finding_id {
                    self.finding(finding)?;
                    self.facts.ruled.insert(finding);
                    if line.body.decision == Decision::NoAction {
                        let seq = line.received.seq.unwrap_or(i64::MAX);
                        self.facts.no_actions.push((finding, seq));
                    }
                }
                if let Some(member) = line.ids.member_id {
                    self.member("member_id", member)?;
                }
                for round in &line.body.round_ids {
                    self.round("round_ids", *round)?;
                }
                for round in line.body.round_ids {
                    self.live(round, |life| match life.rule(line.body.decision) {
                        Some(_) => Ok(()),
                        None => {
                            let detail = "there is nothing that this ruling could do after those before it";
                            Err(vec![Fault::new("/decision", Rule::NothingToUndo, detail)])
                        }
                    })?;
                }
                Ok(())
            }
            Line::Withdrawal(line) => {
                self.round("round_id", line.ids.round_id)?;
                self.live(line.ids.round_id, |life| {
                    life.withdraw();
                    Ok(())
                })
            }
            Line::Entry(line) => {
                self.member("member_id", line.body.member_id)?;
                if !self.book.nights.contains_key(&line.ids.event_id) {
                    return Err(unknown("event_id", line.ids.event_id));
                }
                let named = &line.body.entry.competitions;
                if let Some(competition) = named.iter().find(|id| !self.book.competitions.contains_key(id)) {
                    return Err(unknown("competitions", competition));
                }
                if !self.entered.insert((line.ids.event_id, line.body.member_id)) {
                    let detail = "this player is already entered";
                    return Err(vec![Fault::new("/member_id", Rule::AlreadyEntered, detail)]);
                }
                self.book.enter(line.ids.event_id, line.body.member_id, &line.body.entry);
                Ok(())
            }
            Line::Query(line) => {
                self.member("member_id", line.ids.member_id)?;
                self.round("round_id", line.ids.round_id)?;
                if self.queries.insert(line.ids.id) { Ok(()) } else { Err(repeated(line.ids.id)) }
            }
            Line::Answer(line) => {
                self.member("member_id", line.ids.member_id)?;
                let query = line.ids.query_id;
                if self.queries.contains(&query) { Ok(()) } else { Err(unknown("query_id", query)) }
            }
            Line::CarriedDifferential(line) => {
                self.member("member_id", line.ids.member_id)?;
                self.book.carried_differentials.entry(line.ids.member_id).or_default().push(line.body);
                Ok(())
            }
            Line::HandicapAct(line) => {
                let member = line.ids.member_id;
                self.member("member_id", member)?;
                let act = line.body.act;
                none(act.broken())?;
                let acts = self.book.handicap_acts.entry(member).or_default();
                if let Decided::Undo { undoes } = act.decided
                    && !acts.iter().any(|(id, _)| *id == undoes)
                {
                    return Err(unknown("undoes", undoes));
                }
                acts.push((line.ids.id, act));
                Ok(())
            }
            Line::CarriedResult(line) => {
                self.competitor(line.body.competitor)?;
                let season = line.ids.season_id;
                if !self.book.seasons.contains_key(&season) {
                    return Err(unknown("season_id", season));
                }
                let of_season = |id| self.book.competitions.get(&id).is_some_and(|(of, _)| *of == season);
                if let Some(unknown_one) = line.body.competition_id.filter(|id| !of_season(*id)) {
                    return Err(unknown("competition_id", unknown_one));
                }
                self.book.carried_results.entry(line.ids.season_id).or_default().push(line.body);
                Ok(())
            }
            Line::EventKept(line) => match self.book.nights.get_mut(&line.ids.event_id) {
                Some(night) => {
                    night.kept = Some(line.body);
                    Ok(())
                }
                None => Err(unknown("event_id", line.ids.event_id)),
            },
        }
    }

    /// Returns the season whose putts are kept, as far as the lines tell.
    fn kept_season(&self) -> Option<SeasonId> {
        match self.keeps {
            KeptPutts::Nothing => None,
            KeptPutts::Latest => latest_season(&self.book),
            KeptPutts::Season(season) => Some(season),
        }
    }

    /// Checks what only the whole bundle shows.
    ///
    /// # Errors
    /// A member with two rounds in one event, neither of them withdrawn: the place of the second among the rounds. A fixture
    /// that waits for what is not there.
    pub fn finish(&self) -> Result<(), (Option<usize>, Fault)> {
        if let Some(fault) = self.waiting_in_vain() {
            return Err((None, fault));
        }
        let mut seen: HashSet<(EventId, MemberId)> = HashSet::new();
        let all = self.entries.iter().enumerate();
        for (place, entry) in all.filter(|(_, entry)| entry.state != RoundState::Withdrawn) {
            if !seen.insert((entry.event, entry.member)) {
                let detail = "this member has another round in this event";
                return Err((Some(place), Fault::new("/event_id", Rule::SecondRound, detail)));
            }
        }
        Ok(())
    }

    fn in_league(&self, league: LeagueId) -> Result<(), Vec<Fault>> {
        if self.league == Some(league) { Ok(()) } else { Err(unknown("league_id", league)) }
    }

    pub(super) fn member(&self, field: &str, member: MemberId) -> Result<(), Vec<Fault>> {
        if self.book.members.contains_key(&member) { Ok(()) } else { Err(unknown(field, member)) }
    }

    fn said(&self, ids: OfFinding) -> Result<(), Vec<Fault>> {
        if let Some(member) = ids.member_id {
            self.member("member_id", member)?;
        }
        self.finding(ids.finding_id)
    }

    fn finding(&self, finding: Uuid) -> Result<(), Vec<Fault>> {
        let is_known = self.facts.opened.iter().any(|known| known.id == finding);
        if is_known { Ok(()) } else { Err(unknown("finding_id", finding)) }
    }

    fn round(&self, field: &str, round: RoundId) -> Result<usize, Vec<Fault>> {
        self.round_places.get(&round).copied().ok_or_else(|| unknown(field, round))
    }

    /// Takes in what was said of a known round.
    fn live(
        &mut self,
        round: RoundId,
        said: impl FnOnce(&mut Life) -> Result<(), Vec<Fault>>,
    ) -> Result<(), Vec<Fault>> {
        let life = self.lives.entry(round).or_default();
        said(life)?;
        let (state, are_putts_excluded) = (life.state(), life.are_putts_excluded());
        if let Some(place) = self.round_places.get(&round) {
            let entry = &mut self.entries[*place];
            entry.state = state;
            match (are_putts_excluded, self.putts_out.remove(&round)) {
                (true, None) => {
                    self.putts_out.insert(round, std::mem::take(&mut entry.putting));
                    self.facts.putts_out.extend(self.putts.remove(&round).map(|putts| (round, putts)));
                }
                (true, Some(out)) => {
                    self.putts_out.insert(round, out);
                }
                (false, Some(totals)) => {
                    entry.putting = totals;
                    self.putts.extend(self.facts.putts_out.remove(&round).map(|putts| (round, putts)));
                }
                (false, None) => {}
            }
        }
        Ok(())
    }
}

/// Returns the season that starts last.
pub fn latest_season(book: &Book) -> Option<SeasonId> {
    book.seasons.iter().max_by_key(|(id, season)| (season.starts_on, **id)).map(|(id, _)| *id)
}

pub(super) fn none(faults: Vec<Fault>) -> Result<(), Vec<Fault>> {
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

pub(super) fn insert_new<K: Display + Ord, V>(
    entry: std::collections::btree_map::Entry<'_, K, V>,
    id: K,
    value: V,
) -> Result<(), Vec<Fault>> {
    match entry {
        std::collections::btree_map::Entry::Occupied(_) => Err(repeated(id)),
        std::collections::btree_map::Entry::Vacant(place) => {
            place.insert(value);
            Ok(())
        }
    }
}
