//! Bundles: a whole league out, a whole league in.

use super::access;
use super::entrants::{StoredEntrant, entrant};
use super::findings::leave_putts_out;
use super::queries::{answer, query};
use super::rounds::{body_hash, content_hash_input, entry, in_order};
use super::{Caller, Leagues, Refusal, books, derive};
use crate::bodies::bundle::{
    AnswerIds, CameIn, DeclaredRound, EarlierVersion, Entrant, Line, Nothing, OfEvent, OfFinding, OfLeague, OfMember,
    OfRound, OfSeason, Opened, Own, QueryIds, Received, RuledRounds, RulingIds, SaidOfFinding, Sent, SetupIds, Told,
    Withdrawal,
};
use crate::domain::audit;
use crate::domain::audit::ledger::About;
use crate::domain::facts::{CarriedDifferential, CarriedResult, Course, Event, Role, Round, Season, Setup, StartPlace};
use crate::domain::ids::{CourseId, EventId, LeagueId, MemberId, RoundId, SeasonId, SetupId};
use crate::domain::season::{Life, RoundState};
use crate::domain::units::{Feet, Tenths};
use crate::storage::documents::{self, COURSES, Document, EVENTS, Kept, Kind, SEASONS, SETUPS};
use crate::storage::findings::{self, StoredFinding};
use crate::storage::journal::{self, Act};
use crate::storage::members::StoredMember;
use crate::storage::results::StoredResult;
use crate::storage::rounds::{self, RoundRow};
use crate::storage::{Conn, StorageError, leagues, members, results};
use crate::{sql, values};
use jiff::Timestamp;
use std::collections::HashMap;
use tokio::sync::mpsc;
use uuid::Uuid;

/// How many rounds are read at once.
const CHUNK: i64 = 500;

fn received(seq: i64, at: Timestamp) -> Received {
    Received { seq: Some(seq), received_at: Some(at) }
}

async fn earlier(conn: &mut Conn, kind: &str, league: LeagueId, id: Uuid) -> Result<Vec<EarlierVersion>, StorageError> {
    Ok(documents::versions(conn, kind, league, id).await?.into_iter().map(|(version, _)| version).collect())
}

/// Where the lines of an export go.
struct Out(mpsc::Sender<String>);

impl Out {
    async fn write(&self, line: Line) -> Result<(), Refusal> {
        let mut text = line.to_json();
        text.push('\n');
        // A reader that went away ends the export.
        self.0.send(text).await.map_err(|_| Refusal::NotFound)
    }

    async fn documents<T: serde::de::DeserializeOwned>(
        &self,
        conn: &mut Conn,
        kind: &Kind,
        league: LeagueId,
        line: impl Fn(Document<T>, Vec<EarlierVersion>) -> Line,
    ) -> Result<(), Refusal> {
        for document in documents::list::<T>(conn, kind, league, Uuid::nil(), i64::MAX).await? {
            let versions = earlier(conn, kind.word, league, document.id).await?;
            self.write(line(document, versions)).await?;
        }
        Ok(())
    }
}

fn sent<I, B>(ids: I, body: B, seq: i64, at: Timestamp, versions: Vec<EarlierVersion>) -> Sent<I, B> {
    Sent { ids, body, received: received(seq, at), versions }
}

impl Leagues {
    /// Passes an organizer of the league.
    ///
    /// # Errors
    /// Anybody else.
    pub async fn may_organize(&self, caller: Caller, league: LeagueId) -> Result<(), Refusal> {
        let mut conn = self.database.reader().await?;
        access::organizer(&mut conn, caller, league).await?;
        Ok(())
    }

    /// Writes a league as a bundle, line by line, from one state of the store.
    ///
    /// # Errors
    /// A league that is not there; a failed database.
    pub async fn export(&self, league: LeagueId, lines: mpsc::Sender<String>) -> Result<(), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let conn = &mut conn;
        let out = Out(lines);
        let stored = leagues::get(conn, league).await?.ok_or(Refusal::NotFound)?;
        let versions = earlier(conn, "league", league, league.0).await?;
        let ids = Own { id: league };
        out.write(Line::League(sent(ids, stored.league, stored.created_seq, stored.received_at, versions))).await?;
        for member in members::list(conn, league, Uuid::nil(), i64::MAX).await? {
            let versions = earlier(conn, "member", league, member.id.0).await?;
            let ids = OfLeague { id: member.id, league_id: league };
            out.write(Line::Member(sent(ids, member.member, member.seq, member.received_at, versions))).await?;
        }
        out.documents::<Setup>(conn, &SETUPS, league, |setup, versions| {
            let ids = SetupIds { id: SetupId(setup.id), league_id: league, member_id: setup.parent.map(MemberId) };
            Line::Setup(sent(ids, setup.body, setup.seq, setup.received_at, versions))
        })
        .await?;
        out.documents::<Course>(conn, &COURSES, league, |course, versions| {
            let ids = OfLeague { id: CourseId(course.id), league_id: league };
            Line::Course(sent(ids, course.body, course.seq, course.received_at, versions))
        })
        .await?;
        out.documents::<Season>(conn, &SEASONS, league, |season, versions| {
            let ids = OfLeague { id: SeasonId(season.id), league_id: league };
            Line::Season(sent(ids, season.body, season.seq, season.received_at, versions))
        })
        .await?;
        out.documents::<Event>(conn, &EVENTS, league, |event, versions| {
            let ids = OfSeason { id: EventId(event.id), season_id: SeasonId(event.parent.unwrap_or_default()) };
            Line::Event(sent(ids, event.body, event.seq, event.received_at, versions))
        })
        .await?;
        export_rounds(conn, league, &out).await?;
        export_others(conn, league, &out).await
    }
}

async fn export_rounds(conn: &mut Conn, league: LeagueId, out: &Out) -> Result<(), Refusal> {
    let mut after = -1;
    loop {
        let rows = rounds::in_order(conn, league, after, CHUNK).await?;
        let Some(last) = rows.last() else { return Ok(()) };
        after = last.seq;
        for row in rows {
            let round = rounds::whole(conn, &row).await?;
            let versions = earlier(conn, "round", league, row.id.0).await?;
            let declared_radius_ft = row.declared_radius_ft.map(Feet::new).transpose().map_err(|error| {
                StorageError::Corrupt { table: "rounds", column: "declared_radius_ft", detail: error.to_string() }
            })?;
            let ids = OfEvent { id: row.id, event_id: row.event };
            let (sent_by, proposed, late) = (row.sent_by, row.is_proposed, row.is_late);
            let came_in = CameIn { declared_radius_ft, sent_by, proposed, late };
            let body = DeclaredRound { came_in, round };
            out.write(Line::Round(Box::new(sent(ids, body, row.seq, row.received_at, versions)))).await?;
        }
    }
}

async fn export_others(conn: &mut Conn, league: LeagueId, out: &Out) -> Result<(), Refusal> {
    for row in conn.rows(sql!("carried_differential_list"), values![league]).await? {
        let ids = OfMember { id: row.get("id")?, member_id: row.id("member_id")? };
        let body = CarriedDifferential {
            played_on: row.parsed("carried_differentials", "played_on")?,
            differential: Tenths(row.get("differential")?),
            source: row.get("source")?,
        };
        let at = row.parsed("carried_differentials", "received_at")?;
        out.write(Line::CarriedDifferential(sent(ids, body, row.get("seq")?, at, vec![]))).await?;
    }
    for row in conn.rows(sql!("carried_result_list"), values![league]).await? {
        let ids = OfSeason { id: row.get("id")?, season_id: row.id("season_id")? };
        let body = CarriedResult {
            member_id: row.id("member_id")?,
            label: row.get("label")?,
            value: row.get("value")?,
            source: row.get("source")?,
        };
        let at = row.parsed("carried_results", "received_at")?;
        out.write(Line::CarriedResult(sent(ids, body, row.get("seq")?, at, vec![]))).await?;
    }
    for row in conn.rows(sql!("acceptance_list"), values![league]).await? {
        let ids = of_round(&row)?;
        let at = row.parsed("acceptances", "received_at")?;
        out.write(Line::Acceptance(sent(ids, Nothing {}, row.get("seq")?, at, vec![]))).await?;
    }
    for row in conn.rows(sql!("attestation_list"), values![league]).await? {
        let ids = of_round(&row)?;
        let at = row.parsed("attestations", "received_at")?;
        out.write(Line::Attestation(sent(ids, Nothing {}, row.get("seq")?, at, vec![]))).await?;
    }
    for finding in findings::in_order(conn, league).await? {
        let concerned = findings::concerned(conn, league, finding.id).await?;
        let (member_id, setup_id) = match finding.about {
            About::Player(member) => (Some(member), None),
            About::Setup(setup) => (None, Some(setup)),
        };
        let told = concerned.into_iter().map(|known| Told {
            member_id: known.member,
            told_at: known.told_at,
            told_by: known.told_by,
        });
        let body = Opened {
            finding_kind: finding.kind.name.to_owned(),
            member_id,
            setup_id,
            restart: finding.restart,
            opened_at_event_id: finding.event,
            factor_log10: finding.factor_log10,
            threshold_log10: finding.threshold_log10,
            concerned: told.collect(),
        };
        let ids = OfSeason { id: finding.id, season_id: finding.season };
        out.write(Line::FindingOpened(Box::new(sent(ids, body, finding.seq, finding.received_at, vec![])))).await?;
    }
    for kind in ["statement", "request", "recusal"] {
        for row in conn.rows(sql!("finding_word_list_all"), values![league]).await? {
            let said = findings::word(&row)?;
            if said.kind != kind {
                continue;
            }
            let ids = OfFinding { id: said.id, finding_id: row.get("finding_id")?, member_id: said.member };
            let body = SaidOfFinding { text: said.text, due_at: said.due_at };
            let line = sent(ids, body, said.seq, said.received_at, vec![]);
            out.write(match kind {
                "statement" => Line::Statement(line),
                "request" => Line::Request(line),
                _ => Line::Recusal(line),
            })
            .await?;
        }
    }
    let mut ruled: Option<Sent<RulingIds, RuledRounds>> = None;
    for row in conn.rows(sql!("ruling_list"), values![league]).await? {
        let ids = RulingIds { id: row.get("id")?, member_id: row.optional_id("member_id")? };
        let round = row.optional_id("round_id")?;
        if let Some(same) = ruled.as_mut().filter(|ruled| ruled.ids.id == ids.id) {
            same.body.round_ids.extend(round);
            continue;
        }
        let body = RuledRounds {
            finding_id: row.get("finding_id")?,
            decision: rounds::decision(&row)?,
            reason: row.get("reason")?,
            round_ids: round.into_iter().collect(),
            replaced_version: row.get("replaced_version")?,
        };
        let at = row.parsed("rulings", "received_at")?;
        if let Some(whole) = ruled.replace(sent(ids, body, row.get("seq")?, at, vec![])) {
            out.write(Line::Ruling(whole)).await?;
        }
    }
    if let Some(last) = ruled {
        out.write(Line::Ruling(last)).await?;
    }
    for row in conn.rows(sql!("withdrawal_list"), values![league]).await? {
        let ids = of_round(&row)?;
        let at = row.parsed("withdrawals", "received_at")?;
        let body = Withdrawal { reason: row.get("reason")? };
        out.write(Line::Withdrawal(sent(ids, body, row.get("seq")?, at, vec![]))).await?;
    }
    for row in conn.rows(sql!("entrant_list"), values![league]).await? {
        let StoredEntrant { seq, view, .. } = entrant(&row)?;
        let ids = OfEvent { id: view.id, event_id: view.event_id };
        let body = Entrant { member_id: view.member_id, place: view.place };
        out.write(Line::Entry(sent(ids, body, seq, view.received_at, vec![]))).await?;
    }
    for row in conn.rows(sql!("query_list"), values![league]).await? {
        let (_, seq, view) = query(&row)?;
        let ids = QueryIds { id: view.id, round_id: view.round_id, member_id: view.member_id };
        out.write(Line::Query(sent(ids, view.query, seq, view.received_at, vec![]))).await?;
    }
    for row in conn.rows(sql!("answer_list"), values![league]).await? {
        let (seq, view) = answer(&row)?;
        let ids = AnswerIds { id: view.id, query_id: view.query_id, member_id: view.member_id };
        out.write(Line::Answer(sent(ids, view.answer, seq, view.received_at, vec![]))).await?;
    }
    for row in conn.rows(sql!("event_kept_list"), values![league]).await? {
        let ids = OfEvent { id: row.get("id")?, event_id: row.id("event_id")? };
        let body = row.json("events_kept", "body")?;
        let at = row.parsed("events_kept", "received_at")?;
        out.write(Line::EventKept(Box::new(sent(ids, body, row.get("seq")?, at, vec![])))).await?;
    }
    Ok(())
}

fn of_round(row: &crate::storage::db::Row) -> Result<OfRound, StorageError> {
    Ok(OfRound { id: row.get("id")?, round_id: row.id("round_id")?, member_id: row.optional_id("member_id")? })
}

/// Returns the version that follows those. They may have gaps: an attestation makes a version whose body is not kept.
fn version_after(versions: &[EarlierVersion]) -> i64 {
    versions.iter().map(|version| version.version).max().unwrap_or(0) + 1
}

/// A league on its way into a store. Nothing of it stays unless [`finish`](Self::finish) is reached.
pub struct Import {
    conn: Conn,
    now: Timestamp,
    league: Option<LeagueId>,
    seq: i64,
    seasons: HashMap<EventId, (SeasonId, Timestamp)>,
    organizers: Vec<(MemberId, String)>,
    lives: HashMap<RoundId, Life>,
}

impl Leagues {
    /// Begins an import. It holds the writing lock until it is finished or dropped.
    ///
    /// # Errors
    /// A failed database.
    pub async fn import(&self) -> Result<Import, Refusal> {
        let mut conn = self.database.writer().await?;
        conn.begin_write().await?;
        Ok(Import {
            conn,
            now: self.now(),
            league: None,
            seq: 0,
            seasons: HashMap::new(),
            organizers: Vec::new(),
            lives: HashMap::new(),
        })
    }
}

impl Import {
    /// Stores a line that was found to fit the lines before it.
    ///
    /// # Errors
    /// A league that the store has already; a failed database.
    pub async fn add(&mut self, line: &Line) -> Result<(), Refusal> {
        let now = self.now;
        let conn = &mut self.conn;
        if let Line::League(line) = line {
            let (id, league) = (line.ids.id, &line.body);
            if leagues::get(conn, id).await?.is_some() {
                return Err(Refusal::conflict("league-exists", "this database has the league already"));
            }
            let (seq, at) = self.placed(&line.received, now);
            let version = version_after(&line.versions);
            leagues::insert(&mut self.conn, id, league, seq, books::new_mark(), at, version).await?;
            self.league = Some(id);
            return self.keep_versions("league", id.0, &line.versions).await;
        }
        let league = self.league.ok_or(Refusal::fault("/kind", "no-league", "the first line is the league"))?;
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
                    is_erased: false,
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
                self.document(&SEASONS, line.ids.id.0, None, &line.body, &line.received, &line.versions).await
            }
            Line::Event(line) => {
                self.seasons.insert(line.ids.id, (line.ids.season_id, line.body.opens_at));
                let season = Some(line.ids.season_id.0);
                self.document(&EVENTS, line.ids.id.0, season, &line.body, &line.received, &line.versions).await
            }
            Line::Round(line) => self.round(league, line).await,
            Line::Attestation(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let values = values![league, line.ids.id, line.ids.round_id, line.ids.member_id, seq, at];
                self.conn.run(sql!("attestation_insert"), values).await?;
                self.live(line.ids.round_id).attest();
                Ok(())
            }
            Line::Acceptance(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let values = values![league, line.ids.id, line.ids.round_id, line.ids.member_id, seq, at];
                self.conn.run(sql!("acceptance_insert"), values).await?;
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
                let Opened { member_id, setup_id, finding_kind, .. } = &line.body;
                let (Some(kind), Some(about)) =
                    (audit::kind(finding_kind), member_id.map(About::Player).or(setup_id.map(About::Setup)))
                else {
                    return Err(Refusal::fault("/finding_kind", "unknown-id", "there is no such kind of finding"));
                };
                let finding = StoredFinding {
                    id: line.ids.id,
                    league,
                    season: line.ids.season_id,
                    kind,
                    about,
                    restart: line.body.restart,
                    event: line.body.opened_at_event_id,
                    factor_log10: line.body.factor_log10,
                    threshold_log10: line.body.threshold_log10,
                    seq,
                    received_at: at,
                };
                findings::insert(&mut self.conn, &finding).await?;
                for Told { member_id, told_at, told_by } in &line.body.concerned {
                    findings::concern(&mut self.conn, league, finding.id, *member_id, *told_at).await?;
                    if let (Some(at), Some(by)) = (told_at, told_by) {
                        findings::tell(&mut self.conn, league, finding.id, *member_id, *at, Some(*by)).await?;
                    }
                }
                Ok(())
            }
            Line::Statement(sent) => self.said(league, "statement", sent).await,
            Line::Request(sent) => self.said(league, "request", sent).await,
            Line::Recusal(sent) => self.said(league, "recusal", sent).await,
            Line::Entry(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let Entrant { member_id, place: StartPlace { slot, bay } } = &line.body;
                let (id, event) = (line.ids.id, line.ids.event_id);
                let values = values![league, id, event, *member_id, slot.as_deref(), bay.as_deref(), seq, at];
                self.conn.run(sql!("entrant_insert"), values).await?;
                Ok(())
            }
            Line::Query(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let QueryIds { id, round_id, member_id } = line.ids;
                let (pointer, text) = (line.body.pointer.as_deref(), &line.body.text);
                let values = values![league, id, round_id, member_id, pointer, text, seq, at];
                self.conn.run(sql!("query_insert"), values).await?;
                Ok(())
            }
            Line::Answer(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let AnswerIds { id, query_id, member_id } = line.ids;
                let values = values![league, id, query_id, member_id, &line.body.text, seq, at];
                self.conn.run(sql!("answer_insert"), values).await?;
                Ok(())
            }
            Line::Withdrawal(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let reason = line.body.reason.as_deref();
                let values = values![league, line.ids.id, line.ids.round_id, line.ids.member_id, reason, seq, at];
                self.conn.run(sql!("withdrawal_insert"), values).await?;
                self.live(line.ids.round_id).withdraw();
                Ok(())
            }
            Line::CarriedDifferential(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let CarriedDifferential { played_on, differential, source } = &line.body;
                let values =
                    values![league, line.ids.id, line.ids.member_id, *played_on, differential.0, source, seq, at];
                self.conn.run(sql!("carried_differential_insert"), values).await?;
                Ok(())
            }
            Line::CarriedResult(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let CarriedResult { member_id, label, value, source } = &line.body;
                let values =
                    values![league, line.ids.id, line.ids.season_id, *member_id, label, *value, source, seq, at];
                self.conn.run(sql!("carried_result_insert"), values).await?;
                Ok(())
            }
            Line::EventKept(line) => {
                let (seq, at) = self.placed(&line.received, now);
                let body = serde_json::to_string(&line.body).expect("a record is plain values with text keys");
                let values = values![league, line.ids.event_id, line.ids.id, seq, at, body];
                self.conn.run(sql!("event_kept_insert"), values).await?;
                Ok(())
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
            kind: kind.to_owned(),
            member: line.ids.member_id,
            text: line.body.text.clone(),
            due_at: line.body.due_at,
            seq,
            received_at: at,
        };
        Ok(findings::say(&mut self.conn, league, line.ids.finding_id, &said).await?)
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

    async fn keep_versions(&mut self, kind: &str, id: Uuid, versions: &[EarlierVersion]) -> Result<(), Refusal> {
        let league = self.league.ok_or(Refusal::NotFound)?;
        for earlier in versions {
            let body = earlier.body.to_string();
            let kept = Kept {
                version: earlier.version,
                seq: earlier.received.seq.unwrap_or(0),
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
        let (round, came_in) = (in_order(line.body.round.clone()), line.body.came_in);
        let (season, on_time) = *self.seasons.get(&line.ids.event_id).ok_or(Refusal::NotFound)?;
        let (seq, at) = self.placed(&line.received, on_time);
        let first: Option<Round> =
            line.versions.first().and_then(|version| serde_json::from_value(version.body.clone()).ok());
        let row = RoundRow {
            id: line.ids.id,
            league,
            event: line.ids.event_id,
            member: round.member_id,
            setup: round.setup_id,
            client_round_id: round.client_round_id,
            first_body_hash: body_hash(&first.map_or_else(|| round.clone(), in_order)).to_vec(),
            played_on: round.played_on,
            outcome: round.outcome,
            state: RoundState::Submitted,
            declared_radius_ft: came_in.declared_radius_ft.map(Feet::get),
            version: version_after(&line.versions),
            seq,
            received_at: at,
            version_seq: seq,
            version_at: at,
            sent_by: came_in.sent_by,
            is_proposed: came_in.proposed,
            is_late: came_in.late,
            are_putts_excluded: false,
        };
        // Until the whole bundle is in, a member may have a withdrawn round and its successor side by side.
        let waiting = RoundRow { state: RoundState::Withdrawn, ..row.clone() };
        rounds::insert(&mut self.conn, &waiting, &round).await?;
        let result = StoredResult { entry: entry(&row, &round), figures: None };
        results::insert(&mut self.conn, league, season, &result).await?;
        self.lives.insert(row.id, Life::new(row.is_proposed, row.is_late));
        let content = content_hash_input(&round);
        let act = Act { by: None, act: "import", kind: "round", id: row.id.0, content: &content };
        journal::append(&mut self.conn, league, act, self.now).await?;
        self.keep_versions("round", row.id.0, &line.versions).await
    }

    /// Derives everything and keeps it. Returns the league and its organizers' records, for claiming codes.
    ///
    /// # Errors
    /// A bundle without a league; a failed database.
    pub async fn finish(mut self) -> Result<(LeagueId, Vec<(MemberId, String)>), Refusal> {
        let league = self.league.ok_or(Refusal::fault("/kind", "no-league", "the bundle is empty"))?;
        for (round, life) in std::mem::take(&mut self.lives) {
            let values = values![league, round, life.state().word()];
            self.conn.run(sql!("round_settle_state"), values).await?;
            if life.are_putts_excluded() {
                leave_putts_out(&mut self.conn, league, round, true).await?;
            }
        }
        leagues::raise_seq(&mut self.conn, league, self.seq).await?;
        let act = Act { by: None, act: "import", kind: "league", id: league.0, content: &[] };
        journal::append(&mut self.conn, league, act, self.now).await?;
        let stored = leagues::get(&mut self.conn, league).await?.ok_or(Refusal::NotFound)?;
        let book = books::read(&mut self.conn, &stored).await?;
        derive::everybody(&mut self.conn, &book).await?;
        super::evidence::walked(&mut self.conn, &book, self.now).await?;
        self.conn.commit().await?;
        Ok((league, self.organizers))
    }
}
