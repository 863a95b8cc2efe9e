//! A program with nothing around its inserts: it stores the rows that a server stored, in grouped commits.

use super::served::Field;
use evenfield::storage::row::Value;
use evenfield::storage::together::Rows;
use evenfield::storage::{Conn, Database, idempotency, journal, results, rounds};
use evenfield::values;

/// How many rounds it puts into a commit.
pub const A_COMMIT: usize = 64;
/// How often all of it is measured.
pub const TURNS: usize = 3;

/// What it stores of a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The card alone: round, holes and putts.
    Cards,
    /// All rows of a hand-in, with figures, journal and kept answer.
    All,
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
                    field: vec![],
                    rounds: rounds::row_values(&row),
                    holes,
                    putts,
                    results: results::row_values(field.league, &result),
                    journal: values![field.league, entry.n, entry.text, entry.hash],
                    replies: idempotency::row_values(account, &text("operation"), key, hash, &kept, row.received_at),
                });
            }
        }
        leagues.push(of_league);
    }
    leagues
}

/// Puts rows together, as many rounds as go into a commit.
pub fn groups(rows: &[Rows], part: Part, a_commit: usize) -> Vec<Rows> {
    let group = |rows: &[Rows]| {
        let of = |kind: fn(&Rows) -> &Vec<Value>| rows.iter().flat_map(kind).cloned().collect();
        let cards = Rows {
            rounds: of(|row| &row.rounds),
            holes: of(|row| &row.holes),
            putts: of(|row| &row.putts),
            ..Rows::default()
        };
        match part {
            Part::Cards => cards,
            Part::All => Rows {
                results: of(|row| &row.results),
                journal: of(|row| &row.journal),
                replies: of(|row| &row.replies),
                ..cards
            },
        }
    };
    rows.chunks(a_commit).map(group).collect()
}

/// Inserts groups, each in a commit of its own.
pub async fn insert(conn: &mut Conn, groups: Vec<Rows>) {
    for group in groups {
        conn.begin_write().await.unwrap();
        group.insert(conn).await.unwrap();
        conn.commit().await.unwrap();
    }
}

/// Measures all of it [`TURNS`] times, and returns the median of each figure.
pub fn medians<const N: usize>(mut turn: impl FnMut() -> [f64; N]) -> [f64; N] {
    let turns: [[f64; N]; TURNS] = std::array::from_fn(|_| turn());
    std::array::from_fn(|figure| {
        let mut of_turns = turns.map(|turn| turn[figure]);
        of_turns.sort_by(f64::total_cmp);
        of_turns[TURNS / 2]
    })
}
