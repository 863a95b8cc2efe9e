//! Bundles: a whole league in.

use crate::domain::facts::{Role, Round, Season};
use crate::domain::ids::{EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::{Life, RoundState};
use crate::league::bundle::matches::Coming;
use crate::league::finding::rule::leave_putts_out;
use crate::league::memory::books;
use crate::league::round::content::{body_hash, content_hash_input, in_order};
use crate::league::round::digests::entry_under;
use crate::league::round::judge::Admission;
use crate::league::season::derive;
use crate::league::{Leagues, Refusal};
use crate::storage::carried::{self, Stored};
use crate::storage::documents::{self, COMPETITIONS, COURSES, EVENTS, Kept, Kind, SEASONS, SETUPS};
use crate::storage::entrants::{self, StoredEntrant};
use crate::storage::findings::{self, StoredFinding};
use crate::storage::handicap_acts::{self, StoredAct};
use crate::storage::journal::{self, Act};
use crate::storage::members::{self, StoredMember};
use crate::storage::queries::{self, StoredAnswer, StoredQuery};
use crate::storage::results::{self, StoredResult};
use crate::storage::round_acts::RoundAct;
use crate::storage::rounds::{self, RoundRow};
use crate::storage::row_hashes::{Written, wrote, wrote_pair, wrote_version};
use crate::storage::{Conn, events_kept, leagues, round_acts, season_facts, weighing};
use crate::wire::bundle::finding::{FirstOpinion, SaidOfFinding, Told};
use crate::wire::bundle::ids::{AnswerIds, OfEvent, OfFinding, OfRound, QueryIds};
use crate::wire::bundle::line::{DeclaredRound, EarlierVersion, Entrant, Line, Received, RuledRounds, Sent};
use crate::{sql, values};
use jiff::Timestamp;
use std::collections::HashMap;
use uuid::Uuid;

/// Returns the version that follows those. They may have gaps: an attestation makes a version whose body is not kept.
fn version_after(versions: &[EarlierVersion]) -> i64 {
    versions.iter().map(|version| version.version).max().unwrap_or(0) + 1
}

/// Returns what a line is of, and the rows that it is stored as.
fn written_of(line: &Line) -> (&'static str, Uuid, Vec<Written>) {
    let whole = |kind, table, id: Uuid, versions: &[EarlierVersion]| {
        let earlier = versions.iter().map(|earlier| wrote_version(kind, id, earlier.version));
        (kind, id, [wrote(table, id)].into_iter().chain(earlier).collect())
    };
    let alone = |kind, table, id: Uuid| (kind, id, vec![wrote(table, id)]);
    match line {
        Line::League(line) => whole("league", "leagues", line.ids.id.0, &line.versions),
        Line::Member(line) => whole("member", "members", line.ids.id.0, &line.versions),
        Line::Setup(line) => whole("setup", "setups", line.ids.id.0, &line.versions),
        Line::Course(line) => whole("course", "courses", line.ids.id.0, &line.versions),
        Line::Season(line) => whole("season", "seasons", line.ids.id.0, &line.versions),
        Line::Event(line) => whole("event", "events", line.ids.id.0, &line.versions),
        Line::Competition(line) => whole("competition", "competitions", line.ids.id.0, &line.versions),
        Line::Round(line) => whole("round", "rounds", line.ids.id.0, &line.versions),
        Line::CarriedDifferential(line) => alone("carried_differential", "carried_differentials", line.ids.id),
        Line::CarriedResult(line) => alone("carried_result", "carried_results", line.ids.id),
        Line::HandicapAct(line) => alone("handicap_act", "handicap_acts", line.ids.id),
        Line::Acceptance(line) => alone("acceptance", "acceptances", line.ids.id),
        Line::Attestation(line) => alone("attestation", "attestations", line.ids.id),
        Line::FindingOpened(line) => alone("finding", "findings", line.ids.id),
        Line::Statement(line) | Line::Request(line) | Line::Recusal(line) => {
            alone("finding_word", "finding_words", line.ids.id)
        }
        Line::FirstOpinion(line) => alone("finding_word", "finding_words", line.ids.id),
        Line::Ruling(line) => {
            let touched = line.body.round_ids.iter().map(|round| wrote_pair("ruled_rounds", line.ids.id, *round));
            ("ruling", line.ids.id, [wrote("rulings", line.ids.id)].into_iter().chain(touched).collect())
        }
        Line::Withdrawal(line) => alone("withdrawal", "withdrawals", line.ids.id),
        Line::Entry(line) => alone("entry", "entrants", line.ids.id),
        Line::Query(line) => alone("query", "queries", line.ids.id),
        Line::Answer(line) => alone("answer", "answers", line.ids.id),
        Line::Team(_)
        | Line::LineUp(_)
        | Line::Fixture(_)
        | Line::Adjustment(_)
        | Line::Concession(_)
        | Line::SideContest(_) => {
            let coming = Coming::of(line).expect("these are lines of matches");
            whole(coming.kind.word(), "season_facts", coming.id, coming.versions)
        }
        Line::EventKept(line) => alone("event_kept", "events_kept", line.ids.event_id.0),
    }
}

/// After so many rounds PostgreSQL looks at what they are in. Of tables that it believes empty it takes any index for as good
/// as another, and looked for each hole's round among all rounds of the league.
const ENOUGH_TO_SEE: usize = 64;

/// A league on its way into a store. Nothing of it stays unless [`finish`](Self::finish) is reached.
pub struct Import {
    conn: Conn,
    now: Timestamp,
    league: Option<LeagueId>,
    seq: i64,
    /// Up to which fact the bundle's findings reach; none: to its end.
    evidence_seq: Option<i64>,
    seasons: HashMap<EventId, (SeasonId, Timestamp)>,
    /// The seasons of what teams and matches belong to.
    season_of: HashMap<Uuid, SeasonId>,
    organizers: Vec<(MemberId, String)>,
    lives: HashMap<RoundId, Life>,
    policies: HashMap<SeasonId, Season>,
}

impl Leagues {
    /// Begins an import. It holds the writing lock until it is finished or dropped.
    ///
    /// # Errors
    /// A failed database.
    pub async fn import(&self) -> Result<Import, Refusal> {
        let mut conn = self.database.writer().await?;
        conn.begin_long_write().await?;
        Ok(Import {
            conn,
            now: self.now(),
            league: None,
            seq: 0,
            evidence_seq: None,
            seasons: HashMap::new(),
            season_of: HashMap::new(),
            organizers: Vec::new(),
            lives: HashMap::new(),
            policies: HashMap::new(),
        })
    }
}

impl Import {
    /// Stores a line that was found to fit the lines before it, and journals it.
    ///
    /// # Errors
    /// A league that the store has already; a failed database.
    pub async fn add(&mut self, line: &Line) -> Result<(), Refusal> {
        self.store(line).await?;
        let league = self.league.ok_or(Refusal::NotFound)?;
        let (kind, id, rows) = written_of(line);
        let content = match line {
            Line::Round(line) => content_hash_input(&in_order(line.body.round.clone())),
            line => line.to_json().into_bytes(),
        };
        let act = Act { by: None, act: "import", kind, id, content: &content, rows: &rows };
        Ok(journal::append(&mut self.conn, league, act, self.now).await?)
    }

    async fn store(&mut self, line: &Line) -> Result<(), Refusal> {
        let now = self.now;
        let conn = &mut self.conn;
        if let Line::League(line) = line {
            let (id, league) = (line.ids.id, &line.body);
            self.evidence_seq = line.ids.evidence_seq;
            if leagues::get(conn, id).await?.is_some() {
                return Err(Refusal::conflict(Rule::LeagueExists, "this database has the league already"));
            }
            let (seq, at) = self.placed(&line.received, now);
            let version = version_after(&line.versions);
            leagues::insert(&mut self.conn, id, league, seq, books::new_mark(), at, version).await?;
            self.league = Some(id);
            return self.keep_versions("league", id.0, &line.versions).await;
        }
        let league = self.league.ok_or(Refusal::fault("/kind", Rule::NoLeague, "the first line is the league"))?;
        match line {
            Line::League(_) => Ok(()),
            Line::Member(line) => {
                let (seq, received_at) = self.placed(&line.received, now);
                let version = version_after(&line.versions);
                let stored = StoredMember {
                    id: line.ids.id,
                    league,
                    account: None,
                    member: line.body.clone(),
                    is_erased: line.ids.erased,
                    version,
                    seq,
                    received_at,
                };
                members::insert(&mut self.conn, &stored).await?;
                if line.body.role == Role::Organizer {
                    self.organizers.push((line.ids.id, line.body.display_name.clone()));
                }
                self.keep_versions("member", line.ids.id.0, &line.versions).await
            }
            Line::Setup(line) => {
                let owner = line.ids.member_id.map(|member| member.0);
                self.document(&SETUPS, line.ids.id.0, owner, &line.body, &line.received, &line.versions).await
            }
            Line::Course(line) => {
                self.document(&COURSES, line.ids.id.0, None, &line.body, &line.received, &line.versions).await
            }
            Line::Season(line) => {
                self.policies.insert(line.ids.id, line.body.clone());
                self.season_of.insert(line.ids.id.0, line.ids.id);
                self.document(&SEASONS, line.ids.id.0, None, &line.body, &line.received, &line.versions).await
            }
            Line::Event(line) => {
                self.seasons.insert(line.ids.id, (line.ids.season_id, line.body.opens_at));
                self.season_of.insert(line.ids.id.0, line.ids.season_id);
                let season = Some(line.ids.season_id.0);
                self.document(&EVENTS, line.ids.id.0, season, &line.body, &line.received, &line.versions).await
            }
            Line::Competition(line) => {
                self.season_of.insert(line.ids.id.0, line.ids.season_id);
                let season = Some(line.ids.season_id.0);
                let (id, body) = (line.ids.id.0, &line.body);
                self.document(&COMPETITIONS, id, season, body, &line.received, &line.versions).await
            }
            Line::Round(line) => self.round(league, line).await,
            Line::Attestation(line) => {
                let (seq, at) = self.placed(&line.received, now);
                round_acts::attest(&mut self.conn, league, &done(&line.ids, seq, at)).await?;
                self.live(line.ids.round_id).attest();
                Ok(())
            }
            Line::Acceptance(line) => {
                let (seq, at) = self.placed(&line.received, now);
                round_acts::accept(&mut self.conn, league, &done(&line.ids, seq, at)).await?;
                self.live(line.ids.round_id).accept();
                Ok(())
            }
            Line::Ruling(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let RuledRounds { finding_id, decision, reason, round_ids, replaced_version } = &line.body;
                let (id, by) = (line.ids.id, line.ids.member_id);
                let values = values![league, id, by, *finding_id, decision.word(), reason, seq, at];
                self.conn.run(sql!("ruling_insert"), values).await?;
                for round in round_ids {
                    let values = values![league, line.ids.id, *round, *replaced_version];
                    self.conn.run(sql!("ruled_round_insert"), values).await?;
                    self.live(*round).rule(*decision);
                }
                Ok(())
            }
            Line::FindingOpened(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let Some(opened) = line.body.fact(line.ids) else {
                    return Err(Refusal::fault("/finding_kind", Rule::UnknownId, "there is no such kind of finding"));
                };
                let (id, finding) = (opened.id, StoredFinding { league, opened, seq, received_at: at });
                findings::insert(&mut self.conn, &finding).await?;
                for Told { member_id, told_at, told_by } in &line.body.concerned {
                    findings::concern(&mut self.conn, league, id, *member_id, *told_at).await?;
                    if let (Some(at), Some(by)) = (told_at, told_by) {
                        findings::tell(&mut self.conn, league, id, *member_id, *at, Some(*by)).await?;
                    }
                }
                Ok(())
            }
            Line::Statement(sent) => self.said(league, "statement", sent).await,
            Line::Request(sent) => self.said(league, "request", sent).await,
            Line::Recusal(sent) => self.said(league, "recusal", sent).await,
            Line::FirstOpinion(sent) => self.first_opinion(league, sent).await,
            Line::Entry(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let Entrant { member_id: member, entry } = line.body.clone();
                let (id, event) = (line.ids.id, line.ids.event_id);
                let stored = StoredEntrant { league, id, event, member, entry, seq, received_at: at };
                Ok(entrants::insert(&mut self.conn, &stored).await?)
            }
            Line::Query(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let QueryIds { id, round_id: round, member_id: member } = line.ids;
                let stored = StoredQuery { league, id, round, member, query: line.body.clone(), seq, received_at: at };
                Ok(queries::insert(&mut self.conn, &stored).await?)
            }
            Line::Answer(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let AnswerIds { id, query_id: query, member_id: member } = line.ids;
                let stored = StoredAnswer { id, query, member, answer: line.body.clone(), seq, received_at: at };
                Ok(queries::insert_answer(&mut self.conn, league, &stored).await?)
            }
            Line::Withdrawal(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let reason = line.body.reason.as_deref();
                round_acts::withdraw(&mut self.conn, league, &done(&line.ids, seq, at), reason).await?;
                self.live(line.ids.round_id).withdraw();
                Ok(())
            }
            Line::CarriedDifferential(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let (id, of) = (line.ids.id, line.ids.member_id);
                let stored = Stored { id, of, carried: line.body.clone(), seq, received_at: at };
                Ok(carried::insert_differential(&mut self.conn, league, &stored).await?)
            }
            Line::HandicapAct(line) => {
                let (seq, received_at) = self.placed(&line.received, now);
                let (id, member) = (line.ids.id, line.ids.member_id);
                let stored = StoredAct { id, member, act: line.body.act.clone(), seq, received_at };
                Ok(handicap_acts::insert(&mut self.conn, league, &stored).await?)
            }
            Line::CarriedResult(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let (id, of) = (line.ids.id, line.ids.season_id);
                let stored = Stored { id, of, carried: line.body.clone(), seq, received_at: at };
                Ok(carried::insert_result(&mut self.conn, league, &stored).await?)
            }
            Line::Team(_)
            | Line::LineUp(_)
            | Line::Fixture(_)
            | Line::Adjustment(_)
            | Line::Concession(_)
            | Line::SideContest(_) => self.of_matches(league, line).await,
            Line::EventKept(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let (id, event) = (line.ids.id, line.ids.event_id);
                let kept = events_kept::Kept { id, event, record: line.body.clone(), seq, received_at: at };
                Ok(events_kept::insert(&mut self.conn, league, &kept).await?)
            }
        }
    }

    async fn said(
        &mut self,
        league: LeagueId,
        kind: &str,
        line: &Sent<OfFinding, SaidOfFinding>,
    ) -> Result<(), Refusal> {
        let (seq, at) = self.placed(&line.received, self.now);
        let said = findings::Word {
            id: line.ids.id,
            finding: line.ids.finding_id,
            kind: kind.to_owned(),
            member: line.ids.member_id,
            text: line.body.text.clone(),
            due_at: line.body.due_at,
            opinion: None,
            seq,
            received_at: at,
        };
        Ok(findings::say(&mut self.conn, league, &said).await?)
    }

    async fn first_opinion(&mut self, league: LeagueId, line: &Sent<OfFinding, FirstOpinion>) -> Result<(), Refusal> {
        let (seq, received_at) = self.placed(&line.received, self.now);
        let said = findings::Word {
            id: line.ids.id,
            finding: line.ids.finding_id,
            kind: "first_opinion".to_owned(),
            member: line.ids.member_id,
            text: line.body.text.clone(),
            due_at: None,
            opinion: Some(line.body.opinion),
            seq,
            received_at,
        };
        Ok(findings::say(&mut self.conn, league, &said).await?)
    }

    fn live(&mut self, round: RoundId) -> &mut Life {
        self.lives.entry(round).or_default()
    }

    /// Returns a line's number and time: its own, else the next number and `usual`.
    fn placed(&mut self, received: &Received, usual: Timestamp) -> (i64, Timestamp) {
        let seq = received.seq.unwrap_or(self.seq + 1);
        self.seq = self.seq.max(seq);
        (seq, received.received_at.unwrap_or(usual))
    }

    async fn document(
        &mut self,
        kind: &Kind,
        id: Uuid,
        parent: Option<Uuid>,
        body: &impl serde::Serialize,
        received: &Received,
        versions: &[EarlierVersion],
    ) -> Result<(), Refusal> {
        let league = self.league.ok_or(Refusal::NotFound)?;
        let (seq, at) = self.placed(received, self.now);
        let text = serde_json::to_string(body).expect("facts are plain values with text keys");
        let version = version_after(versions);
        documents::insert(&mut self.conn, kind, league, id, parent, version, seq, at, &text).await?;
        self.keep_versions(kind.word, id, versions).await
    }

    async fn of_matches(&mut self, league: LeagueId, line: &Line) -> Result<(), Refusal> {
        let Some(coming) = Coming::of(line) else { return Ok(()) };
        let season = *self.season_of.get(&coming.season_from).ok_or(Refusal::NotFound)?;
        self.season_of.insert(coming.id, season);
        let (kind, id, versions) = (coming.kind, coming.id, coming.versions);
        let placed = self.placed(coming.received, self.now);
        let fact = coming.fact(league, season, version_after(versions), placed);
        season_facts::insert(&mut self.conn, &fact).await?;
        self.keep_versions(kind.word(), id, versions).await
    }

    async fn keep_versions(&mut self, kind: &str, id: Uuid, versions: &[EarlierVersion]) -> Result<(), Refusal> {
        let league = self.league.ok_or(Refusal::NotFound)?;
        for earlier in versions {
            let (body, seq) = (earlier.body.to_string(), earlier.received.seq.unwrap_or(0));
            self.seq = self.seq.max(seq);
            let kept = Kept {
                version: earlier.version,
                seq,
                received_at: earlier.received.received_at.unwrap_or(self.now),
                by: None,
                reason: earlier.reason.as_deref(),
                body: &body,
            };
            documents::keep_version(&mut self.conn, kind, league, id, kept).await?;
        }
        Ok(())
    }

    async fn round(&mut self, league: LeagueId, line: &Sent<OfEvent<RoundId>, DeclaredRound>) -> Result<(), Refusal> {
        let round = in_order(line.body.round.clone());
        let (season, on_time) = *self.seasons.get(&line.ids.event_id).ok_or(Refusal::NotFound)?;
        let (seq, at) = self.placed(&line.received, on_time);
        let first: Option<Round> =
            line.versions.first().and_then(|version| serde_json::from_value(version.body.clone()).ok());
        let admission = Admission {
            league,
            season,
            event: line.ids.event_id,
            first_hash: body_hash(&first.map_or_else(|| round.clone(), in_order)),
            came_in: line.body.came_in,
            received_at: at,
            round,
        };
        let (row, round) = (admission.row(line.ids.id, version_after(&line.versions), seq), &admission.round);
        // Until the whole bundle is in, a member may have a withdrawn round and its successor side by side.
        let waiting = RoundRow { state: RoundState::Withdrawn, ..row.clone() };
        rounds::insert(&mut self.conn, &waiting, round).await?;
        let result = StoredResult::new(entry_under(self.policies.get(&season), &row, round), None);
        results::insert(&mut self.conn, league, &result).await?;
        self.lives.insert(row.id, Life::new(row.is_proposed, row.is_late));
        if self.lives.len() == ENOUGH_TO_SEE {
            self.conn.look_at_cards().await?;
        }
        self.keep_versions("round", row.id.0, &line.versions).await
    }

    /// Derives everything and keeps it. Returns the league and its organizers' records, for claiming codes.
    ///
    /// # Errors
    /// A bundle without a league; a failed database.
    pub async fn finish(mut self) -> Result<(LeagueId, Vec<(MemberId, String)>), Refusal> {
        let league = self.league.ok_or(Refusal::fault("/kind", Rule::NoLeague, "the bundle is empty"))?;
        leagues::raise_seq(&mut self.conn, league, self.seq).await?;
        let stored = leagues::get(&mut self.conn, league).await?.ok_or(Refusal::NotFound)?;
        let book = books::read(&mut self.conn, &stored).await?;
        for (round, life) in std::mem::take(&mut self.lives) {
            let values = values![league, round, life.state().word()];
            self.conn.run(sql!("round_settle_state"), values).await?;
            if life.are_putts_excluded() {
                leave_putts_out(&mut self.conn, &book, round, true).await?;
            }
        }
        derive::everybody(&mut self.conn, &book).await?;
        let upto = self.evidence_seq.unwrap_or(i64::MAX);
        crate::league::finding::evidence::walked(&mut self.conn, &book, upto, self.now).await?;
        let seq = leagues::get(&mut self.conn, league).await?.map_or(0, |stored| stored.seq);
        weighing::set_weighed(&mut self.conn, league, seq.min(upto)).await?;
        self.conn.commit().await?;
        self.conn.look_at_tables().await?;
        Ok((league, self.organizers))
    }
}

fn done(ids: &OfRound, seq: i64, received_at: Timestamp) -> RoundAct {
    RoundAct { id: ids.id, round: ids.round_id, member: ids.member_id, seq, received_at }
}
