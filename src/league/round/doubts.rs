//! Doubts about a card, and their answers: seen by whoever asks, the player and the organizers.

use crate::domain::facts::{Answer, Query, Role};
use crate::domain::ids::{LeagueId, MemberId, RoundId};
use crate::league::keys::{RequestKey, created};
use crate::league::member::notices::{self, About, Tells};
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::members::StoredMember;
use crate::storage::row::Row;
use crate::storage::row_hashes::{Written, wrote};
use crate::storage::{Conn, StorageError, leagues, rounds};
use crate::{change, sql, values};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// A doubt with its answers.
#[derive(Debug, Serialize)]
pub struct QueryView {
    /// Its id.
    pub id: Uuid,
    /// The round.
    pub round_id: RoundId,
    /// Who asks.
    pub member_id: MemberId,
    /// What is asked.
    #[serde(flatten)]
    pub query: Query,
    /// When it came in.
    pub received_at: Timestamp,
    /// What was answered, in order.
    pub answers: Vec<AnswerView>,
}

/// An answer to a doubt.
#[derive(Debug, Serialize)]
pub struct AnswerView {
    /// Its id.
    pub id: Uuid,
    /// The query.
    pub query_id: Uuid,
    /// Who answers.
    pub member_id: MemberId,
    /// What is answered.
    #[serde(flatten)]
    pub answer: Answer,
    /// When it came in.
    pub received_at: Timestamp,
}

/// Reads a query's row; its league, its number, and itself without answers.
///
/// # Errors
/// An unreadable row.
pub fn query(row: &Row) -> Result<(LeagueId, i64, QueryView), StorageError> {
    let view = QueryView {
        id: row.get("id")?,
        round_id: row.id("round_id")?,
        member_id: row.id("member_id")?,
        query: Query { pointer: row.get("pointer")?, text: row.get("text")? },
        received_at: row.parsed("queries", "received_at")?,
        answers: Vec::new(),
    };
    Ok((row.id("league_id")?, row.get("seq")?, view))
}

/// Reads an answer's row and its number.
///
/// # Errors
/// An unreadable row.
pub fn answer(row: &Row) -> Result<(i64, AnswerView), StorageError> {
    let view = AnswerView {
        id: row.get("id")?,
        query_id: row.get("query_id")?,
        member_id: row.id("member_id")?,
        answer: Answer { text: row.get("text")? },
        received_at: row.parsed("answers", "received_at")?,
    };
    Ok((row.get("seq")?, view))
}

fn is_seen_by(view: &QueryView, player: MemberId, reader: &StoredMember) -> bool {
    reader.member.role == Role::Organizer || reader.id == player || reader.id == view.member_id
}

impl Leagues {
    /// Stores a doubt about a round, at any time: also after the results are no longer provisional.
    ///
    /// # Errors
    /// A round that is not there or not the caller's to see.
    pub async fn ask(&self, key: RequestKey, round: RoundId, asked: Query) -> Result<Reply, Refusal> {
        change!(self, round, |conn| {
            let row = rounds::get(conn, round).await?.ok_or(Refusal::NotFound)?;
            let member = access::member(conn, key.caller, row.league).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let (league, id, seq) = (row.league, Uuid::now_v7(), leagues::next_seq(conn, row.league).await?);
            let Query { pointer, text } = &asked;
            let values = values![league, id, round, member.id, pointer.as_deref(), text, seq, key.now];
            conn.run(sql!("query_insert"), values).await?;
            journal_of(conn, &key, league, ("ask", id), wrote("queries", id), &asked).await?;
            let mut to = notices::organizers(conn, league).await?;
            to.push(row.member);
            notices::tell(conn, About::query(league, round, id), Tells::Query, &to, member.id, key.now).await?;
            let view = QueryView {
                id,
                round_id: round,
                member_id: member.id,
                query: asked,
                received_at: key.now,
                answers: Vec::new(),
            };
            key.keep(conn, created(format!("/api/v1/rounds/{round}/queries"), 1, &view)).await
        })
    }

    /// Stores an answer to a doubt.
    ///
    /// # Errors
    /// Anybody but an organizer.
    pub async fn answer(&self, key: RequestKey, query_id: Uuid, given: Answer) -> Result<Reply, Refusal> {
        change!(self, query_id, |conn| {
            let row = conn.row(sql!("query_get"), values![query_id]).await?.ok_or(Refusal::NotFound)?;
            let (league, _, asked) = query(&row)?;
            let member = access::member(conn, key.caller, league).await?;
            let round = rounds::get(conn, asked.round_id).await?.ok_or(Refusal::NotFound)?;
            if !is_seen_by(&asked, round.member, &member) {
                return Err(Refusal::NotFound);
            }
            if member.member.role != Role::Organizer {
                return Err(Refusal::Forbidden("only an organizer answers"));
            }
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let (id, seq) = (Uuid::now_v7(), leagues::next_seq(conn, league).await?);
            conn.run(sql!("answer_insert"), values![league, id, query_id, member.id, &given.text, seq, key.now])
                .await?;
            journal_of(conn, &key, league, ("answer", query_id), wrote("answers", id), &given).await?;
            let about = About::query(league, round.id, query_id);
            notices::tell(conn, about, Tells::Answer, &[asked.member_id, round.member], member.id, key.now).await?;
            let view = AnswerView { id, query_id, member_id: member.id, answer: given, received_at: key.now };
            key.keep(conn, created(format!("/api/v1/rounds/{}/queries", round.id), 1, &view)).await
        })
    }

    /// Reads the doubts about a round that the caller may see, with their answers.
    ///
    /// # Errors
    /// A round that is not there or not the caller's to see.
    pub async fn queries(&self, caller: Caller, round: RoundId) -> Result<Vec<QueryView>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let row = rounds::get(&mut conn, round).await?.ok_or(Refusal::NotFound)?;
        let member = access::member(&mut conn, caller, row.league).await?;
        let rows = conn.rows(sql!("query_list_by_round"), values![row.league, round]).await?;
        let mut seen = Vec::new();
        for found in &rows {
            let (_, _, view) = query(found)?;
            if is_seen_by(&view, row.member, &member) {
                seen.push(view);
            }
        }
        for found in conn.rows(sql!("answer_list_by_round"), values![row.league, round]).await? {
            let (_, answer) = answer(&found)?;
            if let Some(asked) = seen.iter_mut().find(|asked| asked.id == answer.query_id) {
                asked.answers.push(answer);
            }
        }
        Ok(seen)
    }
}

async fn journal_of(
    conn: &mut Conn,
    key: &RequestKey,
    league: LeagueId,
    (act, id): (&'static str, Uuid),
    written: Written,
    body: &impl Serialize,
) -> Result<(), StorageError> {
    let content = serde_json::to_vec(body).expect("facts are plain values with text keys");
    let act = Act { by: Some(key.caller.account), act, kind: "query", id, content: &content, rows: &[written] };
    journal::append(conn, league, act, key.now).await
}
