//! Signed heads that were kept elsewhere show whatever is done to a journal, by whoever holds the database but not the key.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use crate::support::store::TestStore;
use evenfield::demo::{DemoTerms, league};
use evenfield::domain::ids::LeagueId;
use evenfield::league::Leagues;
use evenfield::startup::{open, system_clock};
use evenfield::storage::heads::{HeadKey, SignedHead};
use evenfield::storage::journal::{self, Act, Head, link};
use evenfield::storage::{StorageError, Store};
use sqlx::{Connection, SqliteConnection};
use std::collections::BTreeMap;
use uuid::Uuid;

/// How many entries the journal has, and how many lie between two heads.
const ENTRIES: usize = 330;
const A_HEAD: usize = 100;

type Entry = (String, Vec<u8>);

/// Numbers that follow from a seed alone (SplitMix64).
struct Draw(u64);

impl Draw {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((x ^ (x >> 31)) % end as u64) as usize
    }
}

/// A small league whose journal goes on to so many entries.
async fn kept(store: &TestStore) -> (Leagues, LeagueId) {
    let leagues = open(&store.store, system_clock()).await.unwrap();
    let terms = DemoTerms { seed: 5, players: 4, events: 1, today: "2026-11-02".parse().unwrap() };
    let mut import = leagues.import().await.unwrap();
    for line in &self::league(&terms).lines {
        import.add(line).await.unwrap();
    }
    let (league, _) = import.finish().await.unwrap();
    let now = leagues.now();
    let entries = leagues.writer.change(league, move |conn| {
        Box::pin(async move {
            while journal::head(conn, league).await?.n < ENTRIES as i64 {
                let act =
                    Act { by: None, act: "replace", kind: "setup", id: Uuid::now_v7(), content: b"{}", rows: &[] };
                journal::append(conn, league, act, now).await?;
            }
            Ok::<_, StorageError>(journal::head(conn, league).await?.n)
        })
    });
    assert_eq!(entries.await.unwrap(), ENTRIES as i64, "the league begins with more entries");
    (leagues, league)
}

/// Puts a journal in the place of another; its league's row tells of it.
async fn put(conn: &mut SqliteConnection, league: LeagueId, from: &[Entry], to: &[Option<Entry>]) {
    let mut changes = conn.begin().await.unwrap();
    for n in 0..from.len().max(to.len()) {
        let new = to.get(n).and_then(Option::as_ref);
        if from.get(n) == new {
            continue;
        }
        let gone = sqlx::query("DELETE FROM journal WHERE league_id = $1 AND n = $2").bind(league.0).bind(n as i64 + 1);
        gone.execute(&mut *changes).await.unwrap();
        if let Some((entry, hash)) = new {
            let sql = "INSERT INTO journal (league_id, n, entry, hash) VALUES ($1, $2, $3, $4)";
            let put = sqlx::query(sql).bind(league.0).bind(n as i64 + 1).bind(entry).bind(hash);
            put.execute(&mut *changes).await.unwrap();
        }
    }
    let last = to.iter().rposition(Option::is_some).unwrap();
    let (n, hash) = (last as i64 + 1, &to[last].as_ref().unwrap().1);
    let told = sqlx::query("UPDATE leagues SET journal_n = $2, journal_hash = $3 WHERE id = $1");
    told.bind(league.0).bind(n).bind(hash).execute(&mut *changes).await.unwrap();
    changes.commit().await.unwrap();
}

/// Writes another number into an entry.
fn numbered(entry: &str, n: usize) -> String {
    let mut value: serde_json::Value = serde_json::from_str(entry).unwrap();
    value["n"] = n.into();
    value.to_string()
}

/// Numbers and chains entries anew from one on.
fn chained(texts: Vec<String>) -> Vec<Option<Entry>> {
    let mut before = Vec::new();
    let link = |(n, text): (usize, String)| {
        let text = numbered(&text, n + 1);
        before = link(&before, &text).to_vec();
        Some((text, before.clone()))
    };
    texts.into_iter().enumerate().map(link).collect()
}

/// How sure it can be told which entry is the first that does not fit.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Named {
    Exactly,
    BetweenHeads,
}

/// Does something to a journal; returns it with the first entry that does not fit, from 1.
fn manipulated(entries: &[Entry], draw: &mut Draw) -> (&'static str, Vec<Option<Entry>>, usize, Named) {
    let mut changed: Vec<Option<Entry>> = entries.iter().cloned().map(Some).collect();
    let texts = || entries.iter().map(|(text, _)| text.clone()).collect::<Vec<_>>();
    let place = draw.below(entries.len());
    let other = |draw: &mut Draw| Uuid::from_u64_pair(draw.below(usize::MAX) as u64, 7).to_string();
    let edited = |text: &str, id: String| {
        let mut value: serde_json::Value = serde_json::from_str(text).unwrap();
        value["id"] = id.into();
        value.to_string()
    };
    match draw.below(9) {
        0 => {
            changed[place] = Some((edited(&entries[place].0, other(draw)), entries[place].1.clone()));
            ("an edit", changed, place + 1, Named::Exactly)
        }
        1 => {
            let second = (place + 1 + draw.below(entries.len() - 1)) % entries.len();
            changed.swap(place, second);
            ("a swap", changed, place.min(second) + 1, Named::Exactly)
        }
        2 => {
            changed[place] = None;
            ("a deletion", changed, place + 1, Named::Exactly)
        }
        3 => {
            // The last one taken out leaves a shorter journal.
            changed.remove(place);
            ("a deletion, the rest moved up", changed, place + 1, Named::Exactly)
        }
        4 => {
            let text = edited(&numbered(&entries[place].0, place + 1), other(draw));
            changed.insert(place, Some((text, vec![7; 32])));
            ("an insertion", changed, place + 1, Named::Exactly)
        }
        5 => {
            changed.truncate(1 + draw.below(entries.len() - 1));
            let first = changed.len() + 1;
            ("a truncation", changed, first, Named::Exactly)
        }
        6 => {
            let mut texts = texts();
            texts[place] = edited(&texts[place], other(draw));
            ("an edit, chained anew", chained(texts), place + 1, Named::BetweenHeads)
        }
        7 => {
            let mut texts = texts();
            texts.remove(place);
            ("a deletion, chained anew", chained(texts), place + 1, Named::BetweenHeads)
        }
        _ => {
            let mut texts = texts();
            let text = edited(&texts[place], other(draw));
            texts.insert(place, text);
            ("an insertion, chained anew", chained(texts), place + 1, Named::BetweenHeads)
        }
    }
}

#[tokio::test]
async fn whatever_is_done_to_a_journal_is_found_and_the_first_entry_named() {
    const TIMES: usize = 1000;
    let store = TestStore::file();
    let (leagues, league) = kept(&store).await;
    let Store::File(path) = &store.store else { panic!("a file was made") };
    let mut conn = SqliteConnection::connect(path.to_str().unwrap()).await.unwrap();
    // Whoever holds the database takes its guards away, and the heads that it keeps itself.
    for trigger in ["journal_never_changes", "journal_never_shrinks"] {
        let sql = sqlx::AssertSqlSafe(format!("DROP TRIGGER {trigger}"));
        sqlx::query(sql).execute(&mut conn).await.unwrap();
    }
    let read = sqlx::query_as("SELECT entry, hash FROM journal WHERE league_id = $1 ORDER BY n").bind(league.0);
    let entries: Vec<Entry> = read.fetch_all(&mut conn).await.unwrap();
    let key = HeadKey::of(&[3; 32]);
    let ends = (A_HEAD..ENTRIES).step_by(A_HEAD).chain([ENTRIES]);
    let heads: Vec<SignedHead> =
        ends.map(|n| key.sign(league, &Head { n: n as i64, hash: entries[n - 1].1.clone() }, leagues.now())).collect();
    let clean = leagues.verify_against(&heads).await.unwrap();
    assert!(clean.differences.is_empty(), "{:#?}", clean.differences);

    let mut done: BTreeMap<&str, usize> = BTreeMap::new();
    for seed in 0..TIMES {
        let (what, changed, first, named) = manipulated(&entries, &mut Draw(seed as u64));
        put(&mut conn, league, &entries, &changed).await;
        let found = leagues.verify_against(&heads).await.unwrap().differences;
        let before = heads.iter().rev().map(|head| head.n as usize).find(|n| *n < first).unwrap_or(0);
        let after = heads.iter().map(|head| head.n as usize).find(|n| *n >= first).unwrap_or(ENTRIES);
        let words = match named {
            Named::Exactly => vec![format!("journal entry {first} "), format!(": entry {first} is missing")],
            Named::BetweenHeads => vec![format!("journal entries {} to {after} ", before + 1)],
        };
        let is_named = found.first().is_some_and(|said| words.iter().any(|words| said.contains(words)));
        assert!(is_named, "seed {seed}: {what}, first at entry {first}: {:#?}", found.first());
        *done.entry(what).or_default() += 1;
        let back: Vec<Entry> = changed.iter().map(|entry| entry.clone().unwrap_or_default()).collect();
        put(&mut conn, league, &back, &entries.iter().cloned().map(Some).collect::<Vec<_>>()).await;
    }
    assert_eq!((done.len(), done.values().sum()), (9, TIMES), "{done:?}");
    let clean = leagues.verify_against(&heads).await.unwrap();
    assert!(clean.differences.is_empty(), "{:#?}", clean.differences);
}

#[test]
fn a_head_is_good_only_as_it_was_signed() {
    let key = HeadKey::of(&[9; 32]);
    let head = Head { n: 12, hash: vec![5; 32] };
    let signed = key.sign(LeagueId(Uuid::nil()), &head, "2027-01-14T20:15:00Z".parse().unwrap());
    assert!(signed.is_genuine());
    let other = HeadKey::of(&[8; 32]).sign(signed.league_id, &head, signed.at);
    let forged = [
        SignedHead { n: 13, ..signed.clone() },
        SignedHead { hash: journal::hex(&[6; 32]), ..signed.clone() },
        SignedHead { at: "2027-01-15T20:15:00Z".parse().unwrap(), ..signed.clone() },
        SignedHead { league_id: LeagueId(Uuid::max()), ..signed.clone() },
        SignedHead { key: other.key.clone(), ..signed.clone() },
        SignedHead { signature: other.signature, ..signed.clone() },
        SignedHead { signature: String::new(), ..signed },
    ];
    assert!(forged.iter().all(|head| !head.is_genuine()));
}
