//! A program with nothing around its inserts: it stores the rows that a server stored, in grouped commits.

use super::served::Field;
use evenfield::storage::db::Value;
use evenfield::storage::{Conn, Database, idempotency, journal, results, rounds};
use evenfield::values;

/// How many rounds it puts into a commit.
pub const A_COMMIT: usize = 64;

/// What it stores of a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The card alone: round, holes and putts.
    Cards,
    /// All rows of a hand-in, with figures, journal and kept answer.
    All,
}

/// The rows of a hand-in.
pub struct Rows {
    round: Vec<Value>,
    holes: Vec<Value>,
    putts: Vec<Value>,
    result: Vec<Value>,
    journal: Vec<Value>,
    reply: Vec<Value>,
}

/// Reads back what servers stored, league by league.
pub async fn stored(database: &Database, fields: &[Field]) -> Vec<Vec<Rows>> {
    let conn = &mut database.reader().await.unwrap();
    let sql = "SELECT account_id, operation, key, body_hash, reply, etag, location FROM idempotency_keys";
    let mut replies = conn.rows(sql, vec![]).await.unwrap().into_iter();
    let mut leagues = Vec::new();
    for field in fields {
        let mut entries = journal::list(conn, field.league, 0, i64::MAX).await.unwrap().into_iter();
        let mut of_league = Vec::new();
        for member in &field.members {
            for result in results::of_member(conn, field.league, *member).await.unwrap() {
                let row = rounds::get(conn, result.entry.id).await.unwrap().unwrap();
                let card = rounds::whole(conn, &row).await.unwrap();
                let (holes, putts) = rounds::card_values(row.league, row.id, &card.holes);
                let entry = entries.next().unwrap();
                let reply = replies.next().unwrap();
                let text = |name: &str| reply.get::<String>(name).unwrap();
                let kept = idempotency::Reply {
                    status: 201,
                    body: text("reply"),
                    etag: Some(text("etag")),
                    location: Some(text("location")),
                    is_replay: false,
                };
                let hash = reply.get::<Vec<u8>>("body_hash").unwrap().try_into().unwrap();
                let (account, key) = (reply.id("account_id").unwrap(), reply.id("key").unwrap());
                of_league.push(Rows {
                    round: rounds::row_values(&row),
                    holes,
                    putts,
                    result: results::row_values(field.league, field.season, &result),
                    journal: values![field.league, entry.n, entry.text, entry.hash],
                    reply: idempotency::row_values(account, &text("operation"), key, hash, &kept, row.received_at),
                });
            }
        }
        leagues.push(of_league);
    }
    leagues
}

/// The values of one commit.
pub struct Group {
    part: Part,
    rounds: Vec<Value>,
    holes: Vec<Value>,
    putts: Vec<Value>,
    results: Vec<Value>,
    journal: Vec<Value>,
    replies: Vec<Value>,
}

/// Puts rows together, as many as go into a commit.
pub fn groups(rows: &[Rows], part: Part) -> Vec<Group> {
    let group = |rows: &[Rows]| {
        let of = |part: fn(&Rows) -> &Vec<Value>| rows.iter().flat_map(part).cloned().collect();
        Group {
            part,
            rounds: of(|rows| &rows.round),
            holes: of(|rows| &rows.holes),
            putts: of(|rows| &rows.putts),
            results: of(|rows| &rows.result),
            journal: of(|rows| &rows.journal),
            replies: of(|rows| &rows.reply),
        }
    };
    rows.chunks(A_COMMIT).map(group).collect()
}

/// Inserts groups, each in a commit of its own.
pub async fn insert(conn: &mut Conn, groups: Vec<Group>) {
    for group in groups {
        conn.begin_write().await.unwrap();
        rounds::insert_rows(conn, group.rounds).await.unwrap();
        rounds::insert_cards(conn, group.holes, group.putts).await.unwrap();
        if group.part == Part::All {
            results::insert_rows(conn, group.results).await.unwrap();
            journal::insert_rows(conn, group.journal).await.unwrap();
            idempotency::insert_rows(conn, group.replies).await.unwrap();
        }
        conn.commit().await.unwrap();
    }
}
