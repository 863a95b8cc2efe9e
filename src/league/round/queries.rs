//! Queries about a card, and their answers: seen by whoever asks, the player and the organizers.

use crate::change;
use crate::domain::facts::{Answer, Query, Role};
use crate::domain::ids::{LeagueId, MemberId, RoundId};
use crate::league::keys::{RequestKey, created};
use crate::league::member::notices::{self, About, Tells};
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::members::{self, StoredMember};
use crate::storage::queries::{self, StoredAnswer, StoredQuery};
use crate::storage::row_hashes::{Written, wrote};
use crate::storage::{Conn, StorageError, leagues, rounds};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// A query with its answers.
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

/// An answer to a query.
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

impl From<StoredQuery> for QueryView {
    fn from(stored: StoredQuery) -> Self {
        let StoredQuery { id, round, member, query, received_at, .. } = stored;
        Self { id, round_id: round, member_id: member, query, received_at, answers: Vec::new() }
    }
}

impl From<StoredAnswer> for AnswerView {
    fn from(stored: StoredAnswer) -> Self {
        let StoredAnswer { id, query, member, answer, received_at, .. } = stored;
        Self { id, query_id: query, member_id: member, answer, received_at }
    }
}

fn is_seen_by(asked: &StoredQuery, player: MemberId, reader: &StoredMember) -> bool {
    reader.member.role == Role::Organizer || reader.id == player || reader.id == asked.member
}

impl Leagues {
    /// Stores a query about a round, at any time: also after the results are no longer provisional.
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
            let stored = StoredQuery { league, id, round, member: member.id, query: asked, seq, received_at: key.now };
            queries::insert(conn, &stored).await?;
            journal_of(conn, &key, league, ("ask", id), wrote("queries", id), &stored.query).await?;
            let mut to = members::organizers(conn, league).await?;
            to.push(row.member);
            notices::tell(conn, About::query(league, round, id), Tells::Query, &to, member.id, key.now).await?;
            let view = QueryView::from(stored);
            key.keep(conn, created(format!("/api/v1/rounds/{round}/queries"), 1, &view)).await
        })
    }

    /// Stores an answer to a query.
    ///
    /// # Errors
    /// Anybody but an organizer.
    pub async fn answer(&self, key: RequestKey, query_id: Uuid, given: Answer) -> Result<Reply, Refusal> {
        change!(self, query_id, |conn| {
            let asked = queries::get(conn, query_id).await?.ok_or(Refusal::NotFound)?;
            let league = asked.league;
            let member = access::member(conn, key.caller, league).await?;
            let round = rounds::get(conn, asked.round).await?.ok_or(Refusal::NotFound)?;
            if !is_seen_by(&asked, round.member, &member) {
                return Err(Refusal::NotFound);
            }
            if member.member.role != Role::Organizer {
                return Err(Refusal::Forbidden("only an organizer may answer"));
            }
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let (id, seq) = (Uuid::now_v7(), leagues::next_seq(conn, league).await?);
            let (query, by) = (query_id, member.id);
            let stored = StoredAnswer { id, query, member: by, answer: given, seq, received_at: key.now };
            queries::insert_answer(conn, league, &stored).await?;
            journal_of(conn, &key, league, ("answer", query_id), wrote("answers", id), &stored.answer).await?;
            let about = About::query(league, round.id, query_id);
            notices::tell(conn, about, Tells::Answer, &[asked.member, round.member], by, key.now).await?;
            let view = AnswerView::from(stored);
            key.keep(conn, created(format!("/api/v1/rounds/{}/queries", round.id), 1, &view)).await
        })
    }

    /// Reads the queries about a round that the caller may see, with their answers.
    ///
    /// # Errors
    /// A round that is not there or not the caller's to see.
    pub async fn queries(&self, caller: Caller, round: RoundId) -> Result<Vec<QueryView>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let row = rounds::get(&mut conn, round).await?.ok_or(Refusal::NotFound)?;
        let member = access::member(&mut conn, caller, row.league).await?;
        let asked = queries::of_round(&mut conn, row.league, round).await?;
        let seen = asked.into_iter().filter(|asked| is_seen_by(asked, row.member, &member));
        let mut seen: Vec<QueryView> = seen.map(QueryView::from).collect();
        for answer in queries::answers_of_round(&mut conn, row.league, round).await? {
            if let Some(asked) = seen.iter_mut().find(|asked| asked.id == answer.query) {
                asked.answers.push(answer.into());
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
