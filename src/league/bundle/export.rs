//! Bundles: a whole league out.

use crate::domain::facts::{Competition, Course, Event, Season, Setup};
use crate::domain::ids::{CompetitionId, CourseId, EventId, LeagueId, MemberId, SeasonId, SetupId};
use crate::domain::units::Feet;
use crate::league::bundle::matches;
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::documents::{self, COMPETITIONS, COURSES, Document, EVENTS, Kind, SEASONS, SETUPS};
use crate::storage::events_kept::{self, Kept};
use crate::storage::findings::{self, Ruled};
use crate::storage::round_acts::RoundAct;
use crate::storage::{
    Conn, StorageError, carried, entrants, handicap_acts, leagues, members, queries, round_acts, rounds, season_facts,
    weighing,
};
use crate::wire::bundle::finding::{FirstOpinion, Opened, SaidOfFinding, Told};
use crate::wire::bundle::ids::{
    AnswerIds, LeagueIds, MemberIds, OfEvent, OfFinding, OfLeague, OfMember, OfRound, OfSeason, QueryIds, RulingIds,
    SetupIds,
};
use crate::wire::bundle::line::{
    CameIn, DecidedOnIndex, DeclaredRound, EarlierVersion, Entrant, Line, Nothing, Received, RuledRounds, Sent,
    Withdrawal,
};
use jiff::Timestamp;
use std::time::Duration;
use tokio::sync::mpsc;
use uuid::Uuid;

/// How many rounds are read at once.
const CHUNK: i64 = 500;

/// For how long a reader may take no line.
const READER_WAITS: Duration = Duration::from_secs(120);

fn received(seq: i64, at: Timestamp) -> Received {
    Received { seq: Some(seq), received_at: Some(at) }
}

async fn earlier(conn: &mut Conn, kind: &str, league: LeagueId, id: Uuid) -> Result<Vec<EarlierVersion>, StorageError> {
    Ok(documents::versions(conn, kind, league, id).await?.into_iter().map(|(version, _)| version).collect())
}

/// Where the lines of an export go.
struct Out(mpsc::Sender<Line>);

impl Out {
    async fn write(&self, line: Line) -> Result<(), Refusal> {
        // A reader that went away ends the export, and so does one that stands still: the state that it reads cannot be
        // cleared away meanwhile.
        match tokio::time::timeout(READER_WAITS, self.0.send(line)).await {
            Ok(Ok(())) => Ok(()),
            Ok(Err(_)) | Err(_) => Err(Refusal::NotFound),
        }
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

    /// Passes an organizer of the league who may take the whole league away now.
    ///
    /// # Errors
    /// Anybody else; a browser whose password was given a while ago.
    pub async fn may_take_away(&self, caller: Caller, league: LeagueId) -> Result<(), Refusal> {
        self.may_organize(caller, league).await?;
        access::fresh(caller, self.now())
    }

    /// Reads a league as the lines of a bundle, from one state of the store. It does not wait for the evidence: rounds that
    /// evidence has not taken in yet are in the bundle, and findings that they will open are not.
    ///
    /// # Errors
    /// A league that is not there; a failed database; a reader that takes nothing for two minutes.
    pub async fn export(&self, league: LeagueId, lines: mpsc::Sender<Line>) -> Result<(), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.take_long();
        conn.begin_read().await?;
        let conn = &mut conn;
        let out = Out(lines);
        let stored = leagues::get(conn, league).await?.ok_or(Refusal::NotFound)?;
        let versions = earlier(conn, "league", league, league.0).await?;
        let weighed = weighing::weighed(conn, league).await?.filter(|weighed| weighed.waits);
        let ids = LeagueIds { id: league, evidence_seq: weighed.map(|weighed| weighed.upto) };
        out.write(Line::League(sent(ids, stored.league, stored.created_seq, stored.received_at, versions))).await?;
        for member in members::list(conn, league, Uuid::nil(), i64::MAX).await? {
            let versions = earlier(conn, "member", league, member.id.0).await?;
            let ids = MemberIds { id: member.id, league_id: league, erased: member.is_erased };
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
        out.documents::<Competition>(conn, &COMPETITIONS, league, |found, versions| {
            let ids = OfSeason { id: CompetitionId(found.id), season_id: SeasonId(found.parent.unwrap_or_default()) };
            Line::Competition(Box::new(sent(ids, found.body, found.seq, found.received_at, versions)))
        })
        .await?;
        export_matches(conn, league, &out, &[season_facts::Kind::Team]).await?;
        export_rounds(conn, league, &out).await?;
        export_others(conn, league, &out).await
    }
}

async fn export_matches(
    conn: &mut Conn,
    league: LeagueId,
    out: &Out,
    kinds: &[season_facts::Kind],
) -> Result<(), Refusal> {
    for fact in matches::of_kinds(conn, league, kinds).await? {
        let versions = earlier(conn, fact.kind.word(), league, fact.id).await?;
        out.write(matches::line(&fact, versions)?).await?;
    }
    Ok(())
}

async fn export_rounds(conn: &mut Conn, league: LeagueId, out: &Out) -> Result<(), Refusal> {
    let mut after = -1;
    loop {
        let rows = rounds::in_order(conn, league, after, CHUNK).await?;
        let Some(last) = rows.last() else { return Ok(()) };
        after = last.seq;
        for row in rows {
            let round = rounds::whole(conn, &row).await?;
            let versions = match row.version {
                1 => Vec::new(),
                _ => earlier(conn, "round", league, row.id.0).await?,
            };
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
    for found in carried::differentials(conn, league).await? {
        let ids = OfMember { id: found.id, member_id: found.of };
        let line = sent(ids, found.carried, found.seq, found.received_at, vec![]);
        out.write(Line::CarriedDifferential(line)).await?;
    }
    for found in carried::results(conn, league).await? {
        let ids = OfSeason { id: found.id, season_id: found.of };
        out.write(Line::CarriedResult(sent(ids, found.carried, found.seq, found.received_at, vec![]))).await?;
    }
    for found in handicap_acts::list(conn, league).await? {
        let ids = OfMember { id: found.id, member_id: found.member };
        out.write(Line::HandicapAct(sent(
            ids,
            DecidedOnIndex { act: found.act },
            found.seq,
            found.received_at,
            vec![],
        )))
        .await?;
    }
    for done in round_acts::all_acceptances(conn, league).await? {
        out.write(Line::Acceptance(sent(of_round(&done), Nothing {}, done.seq, done.received_at, vec![]))).await?;
    }
    for done in round_acts::all_attestations(conn, league).await? {
        out.write(Line::Attestation(sent(of_round(&done), Nothing {}, done.seq, done.received_at, vec![]))).await?;
    }
    for finding in findings::in_order(conn, league).await? {
        let concerned = findings::concerned(conn, league, finding.opened.id).await?;
        let told = concerned.into_iter().map(|known| Told {
            member_id: known.member,
            told_at: known.told_at,
            told_by: known.told_by,
        });
        let body = Opened::of(&finding.opened, told.collect());
        let ids = OfSeason { id: finding.opened.id, season_id: finding.opened.season };
        out.write(Line::FindingOpened(Box::new(sent(ids, body, finding.seq, finding.received_at, vec![])))).await?;
    }
    let words = findings::all_words(conn, league).await?;
    for kind in ["statement", "request", "recusal"] {
        for said in words.iter().filter(|said| said.kind == kind) {
            let ids = OfFinding { id: said.id, finding_id: said.finding, member_id: said.member };
            let body = SaidOfFinding { text: said.text.clone(), due_at: said.due_at };
            let line = sent(ids, body, said.seq, said.received_at, vec![]);
            out.write(match kind {
                "statement" => Line::Statement(line),
                "request" => Line::Request(line),
                _ => Line::Recusal(line),
            })
            .await?;
        }
    }
    for said in &words {
        let Some(opinion) = said.opinion else { continue };
        let ids = OfFinding { id: said.id, finding_id: said.finding, member_id: said.member };
        let body = FirstOpinion { opinion, text: said.text.clone() };
        out.write(Line::FirstOpinion(sent(ids, body, said.seq, said.received_at, vec![]))).await?;
    }
    for ruled in findings::all_rulings(conn, league).await? {
        let Ruled { id, finding, member, decision, rounds, replaced_version, reason, seq, received_at } = ruled;
        let ids = RulingIds { id, member_id: member };
        let body = RuledRounds { finding_id: finding, decision, reason, round_ids: rounds, replaced_version };
        out.write(Line::Ruling(sent(ids, body, seq, received_at, vec![]))).await?;
    }
    for (done, reason) in round_acts::all_withdrawals(conn, league).await? {
        let line = sent(of_round(&done), Withdrawal { reason }, done.seq, done.received_at, vec![]);
        out.write(Line::Withdrawal(line)).await?;
    }
    for found in entrants::in_order(conn, league).await? {
        let ids = OfEvent { id: found.id, event_id: found.event };
        let body = Entrant { member_id: found.member, entry: found.entry };
        out.write(Line::Entry(sent(ids, body, found.seq, found.received_at, vec![]))).await?;
    }
    for found in queries::in_order(conn, league).await? {
        let ids = QueryIds { id: found.id, round_id: found.round, member_id: found.member };
        out.write(Line::Query(sent(ids, found.query, found.seq, found.received_at, vec![]))).await?;
    }
    for found in queries::answers_in_order(conn, league).await? {
        let ids = AnswerIds { id: found.id, query_id: found.query, member_id: found.member };
        out.write(Line::Answer(sent(ids, found.answer, found.seq, found.received_at, vec![]))).await?;
    }
    let of_matches = [
        season_facts::Kind::LineUp,
        season_facts::Kind::Fixture,
        season_facts::Kind::Adjustment,
        season_facts::Kind::Concession,
        season_facts::Kind::SideContest,
    ];
    export_matches(conn, league, out, &of_matches).await?;
    for Kept { id, event, record, seq, received_at } in events_kept::in_order(conn, league).await? {
        let ids = OfEvent { id, event_id: event };
        out.write(Line::EventKept(Box::new(sent(ids, record, seq, received_at, vec![])))).await?;
    }
    Ok(())
}

fn of_round(done: &RoundAct) -> OfRound {
    OfRound { id: done.id, round_id: done.round, member_id: done.member }
}
