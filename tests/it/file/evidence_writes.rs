//! How much is written to take rounds into the evidence.

use crate::support::store::TestStore;
use evenfield::demo::{DemoTerms, league};
use evenfield::league::Leagues;
use evenfield::startup::{open, system_clock};
use evenfield::storage::Store;
use evenfield::wire::bundle::line::Line;
use sqlx::{Connection, Executor, SqliteConnection};

/// A league on its file whose rounds all wait for the evidence.
async fn waiting(players: usize, events: usize) -> (TestStore, Leagues) {
    let store = TestStore::file();
    let leagues = open(&store.store, system_clock()).await.expect("opens");
    let terms = DemoTerms { seed: 5, players, events, today: "2026-11-02".parse().expect("a day") };
    let mut import = leagues.import().await.expect("an import begins");
    for line in league(&terms).lines {
        let line = match line {
            Line::League(mut first) => {
                first.ids.evidence_seq = Some(0);
                Line::League(first)
            }
            Line::FindingOpened(_) | Line::Statement(_) | Line::Request(_) | Line::Recusal(_) | Line::Ruling(_) => {
                continue;
            }
            other => other,
        };
        import.add(&line).await.expect("a line comes in");
    }
    import.finish().await.expect("the import ends");
    (store, leagues)
}

/// However many rounds wait, each row of evidence that they change is written once.
#[tokio::test]
async fn a_row_of_evidence_is_written_once_for_all_rounds_that_wait() {
    let (store, leagues) = waiting(8, 40).await;
    let Store::File(path) = &store.store else { unreachable!("a file was asked for") };
    let mut conn = SqliteConnection::connect(&path.display().to_string()).await.expect("it is there");
    let counts = "CREATE TABLE written (n INTEGER);
        CREATE TRIGGER inserted AFTER INSERT ON evidence_rows BEGIN INSERT INTO written VALUES (1); END;
        CREATE TRIGGER updated AFTER UPDATE ON evidence_rows BEGIN INSERT INTO written VALUES (1); END;";
    conn.execute(counts).await.expect("it counts");
    leagues.all_weighed().await.expect("evidence takes what waits");
    let count = |sql: &'static str| sqlx::query_scalar::<_, i64>(sql);
    let rounds = count("SELECT count(*) FROM rounds WHERE state IN ('submitted', 'attested')");
    let rounds = rounds.fetch_one(&mut conn).await.expect("rounds");
    assert!(rounds > 256, "{rounds} rounds are few");
    let rows = count("SELECT count(*) FROM evidence_rows").fetch_one(&mut conn).await.expect("rows");
    let written = count("SELECT count(*) FROM written").fetch_one(&mut conn).await.expect("writes");
    assert!(rows > 0 && written == rows, "{written} writes for {rows} rows");
    assert_eq!(leagues.verify().await.expect("verify runs").differences, Vec::<String>::new());
}
