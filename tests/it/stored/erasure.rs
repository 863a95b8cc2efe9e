//! Erasure: what was written by and about a person is gone from wherever the server keeps it (S29).

use super::journal_bundle;
use crate::support::harness::{Api, PASSWORD, PATIENCE, Server, Settings, id, merged, own, round, text};
use evenfield::storage::Store;
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// How many texts are planted.
const PLANTED: usize = 21;

/// A text that stands nowhere else.
fn planted(n: usize) -> String {
    format!("planted{n:02}plum")
}

/// Returns which planted texts are in some bytes, in whatever letters.
fn found(bytes: &[u8]) -> Vec<usize> {
    let text = String::from_utf8_lossy(bytes).to_lowercase();
    (0..PLANTED).filter(|n| text.contains(&planted(*n))).collect()
}

/// Returns the files of a database and those beside it.
fn files(database: &Path) -> Vec<PathBuf> {
    let folder = database.parent().expect("a folder");
    fs::read_dir(folder).expect("the folder").map(|file| file.expect("a file").path()).collect()
}

/// Waits until the write-ahead log was emptied.
async fn log_is_empty(database: &Path) {
    let log = PathBuf::from(format!("{}-wal", database.display()));
    let began = Instant::now();
    while fs::metadata(&log).is_ok_and(|log| log.len() > 0) {
        assert!(began.elapsed() < PATIENCE, "the write-ahead log is not emptied");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}

/// Whatever was written by the person, or by others in fields about the person, is gone from the tables, from the file and
/// the log of SQLite, from a backup that is made afterwards and from the league's bundle; the numbers are what they were.
#[tokio::test]
async fn an_erased_person_is_gone_from_file_log_backup_and_bundle() {
    let api = Api::new(Server::start(Settings::default()));
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let post = async |path: String, body: Value, by| api.post(path, &body).by(by).key(&id()).expect(201).await.id();
    let roster = async |from: usize| {
        let rows: String = (from..from + 150).map(|n| format!("Filler {n}\n")).collect();
        let path = format!("/leagues/{}/rosters", night.league);
        let csv = format!("display_name\n{rows}");
        api.call("POST", &path).by(&cast.olga).key(&id()).raw("text/csv", csv).expect(201).await;
    };
    // Pages of the file are split while the texts stand in them.
    roster(0).await;
    let person = api.person(&planted(0)).await;
    let member = api.join(&night.league, &cast.olga, &person, "player").await;
    let record = format!("/members/{member}");
    let renamed = json!({ "display_name": planted(1) });
    api.patch(&record, &renamed).by(&cast.olga).matching("*").expect(200).await;
    let setup = json!({ "label": planted(2), "sensor": "radar", "notes": planted(3) });
    let setup = post(format!("/leagues/{}/setups", night.league), setup, &person).await;
    let relabelled = json!({ "label": planted(4) });
    api.patch(format!("/setups/{setup}"), &relabelled).by(&person).matching("*").expect(200).await;
    let bay = json!({ "label": "Bay 9", "sensor": "radar", "shared": true, "notes": planted(5) });
    post(format!("/leagues/{}/setups", night.league), bay, &person).await;
    let carried = json!({ "played_on": "2026-12-01", "differential": 12.3, "source": planted(6) });
    post(format!("{record}/carried-differentials"), carried, &cast.olga).await;
    let carried = json!({ "member_id": member, "label": planted(7), "value": 12, "source": planted(8) });
    post(format!("/seasons/{}/carried-results", night.season), carried, &cast.olga).await;

    let (finding, rounds) = api.finding(&cast, &night, &person, &member).await;
    let others = api.hand_in(&night.event, &cast.ben, &round(&night.ben)).await.id();
    let query = post(format!("/rounds/{others}/queries"), json!({ "text": planted(9) }), &person).await;
    post(format!("/queries/{query}/answers"), json!({ "text": planted(10) }), &cast.olga).await;
    let query = post(format!("/rounds/{}/queries", rounds[0]), json!({ "text": planted(11) }), &cast.ben).await;
    post(format!("/queries/{query}/answers"), json!({ "text": planted(12) }), &cast.olga).await;
    let mut corrected = api.get(format!("/rounds/{}", rounds[0])).by(&person).expect(200).await.json();
    let sent = crate::support::harness::softened(&member, &night.setup, 0);
    corrected = merged(sent, &json!({ "client_round_id": corrected["client_round_id"], "setup_id": null }));
    corrected["holes"][0]["strokes"] = json!(9);
    let at = format!("/rounds/{}?reason={}", rounds[0], planted(13));
    api.put(at, &corrected).by(&cast.sam).matching("*").expect(200).await;
    let gone = api.event(&cast, &night, json!({})).await;
    let gone = api.hand_in(&gone, &person, &round(&member)).await.id();
    let at = format!("/rounds/{gone}?reason={}", planted(14));
    api.delete(at).by(&cast.olga).matching("*").expect(204).await;
    let out = json!({ "decision": "exclude_round", "reason": planted(15) });
    let ruled = api.event(&cast, &night, json!({})).await;
    let ruled = api.hand_in(&ruled, &person, &round(&member)).await.id();
    post(format!("/rounds/{ruled}/rulings"), out, &cast.olga).await;
    post(format!("/findings/{finding}/statements"), json!({ "text": planted(16) }), &person).await;
    post(format!("/findings/{finding}/requests"), json!({ "text": planted(17) }), &cast.olga).await;
    let ruling = json!({ "decision": "no_action", "reason": planted(18) });
    post(format!("/findings/{finding}/rulings"), ruling, &cast.olga).await;
    let next = api.event(&cast, &night, json!({})).await;
    let place = json!({ "member_id": member, "slot": planted(19), "bay": planted(20) });
    post(format!("/events/{next}/entries"), place, &cast.olga).await;
    roster(150).await;

    let folder = TempDir::new().expect("a folder");
    let leagues = &api.server.app.leagues;
    let all: Vec<usize> = (0..PLANTED).collect();
    let backup = |name: &str| folder.path().join(name);
    leagues.backup(&backup("before")).await.expect("a backup");
    assert_eq!(found(&fs::read(backup("before")).expect("a backup")), all, "every text was planted");
    let table = format!("/seasons/{}/standings", night.season);
    let numbers = async || {
        let mut table = api.get(&table).by(&cast.olga).expect(200).await.json();
        for row in table["items"].as_array_mut().expect("rows") {
            row["display_name"] = Value::Null;
            for result in row["results"].as_array_mut().expect("results") {
                result["carried"] = Value::Null;
            }
        }
        table
    };
    let before = numbers().await;

    api.delete(&record).by(&person).matching("*").expect(204).await;
    api.delete("/me").by(&person).expect(204).await;
    assert_eq!(numbers().await, before, "the numbers stay");
    if let Store::File(path) = &api.server.store().store {
        log_is_empty(path).await;
        for file in files(path) {
            assert_eq!(found(&fs::read(&file).expect("a file")), Vec::<usize>::new(), "{}", file.display());
        }
    }
    leagues.backup(&backup("after")).await.expect("a backup");
    assert_eq!(found(&fs::read(backup("after")).expect("a backup")), Vec::<usize>::new(), "in a backup");
    let bundle = journal_bundle::bundle(&api, &night.league, &cast.olga).await;
    assert_eq!(found(bundle.as_bytes()), Vec::<usize>::new(), "in the bundle");
    journal_bundle::import(&own().server.app.leagues, &bundle).await;
    journal_bundle::clean(&api).await;
    let back = json!({ "email": person.email, "password": PASSWORD });
    api.post("/sessions", &back).refused(401, "unauthenticated").await;
    assert_eq!(text(&api.get(&record).by(&cast.olga).expect(200).await.json(), "display_name"), "Former player 1");
}

/// A reader of an earlier state delays the emptying of the log and does not prevent it; practice that is thrown away and
/// an account that ends empty it as well.
#[tokio::test]
async fn the_log_is_emptied_once_nobody_reads_an_earlier_state() {
    let api = Api::new(Server::start(Settings::default()));
    let Store::File(path) = &api.server.store().store else { return };
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let log = || fs::metadata(format!("{}-wal", path.display())).expect("the log").len();
    let practice = format!("/members/{}/practice", night.ann);
    let body = super::practice::block(&night.setup);
    let block = api.post(&practice, &body).by(&cast.ann).key(&id()).expect(201).await.id();
    assert!(log() > 0, "what comes in stands in the log first");
    api.delete(format!("/practice/{block}")).by(&cast.ann).matching("*").expect(204).await;
    log_is_empty(path).await;

    api.post(&practice, &body).by(&cast.ann).key(&id()).expect(201).await;
    let mut reader = api.server.app.leagues.database.reader().await.expect("a reader");
    reader.begin_read().await.expect("it begins");
    evenfield::storage::leagues::all(&mut reader).await.expect("it reads");
    api.delete(format!("/members/{}", night.ann)).by(&cast.ann).matching("*").expect(204).await;
    // Hand-ins go on meanwhile.
    api.hand_in(&night.event, &cast.ben, &round(&night.ben)).await;
    assert!(log() > 0, "somebody reads the state before");
    drop(reader);
    log_is_empty(path).await;

    api.hand_in(&night.event, &cast.sam, &round(&night.sam)).await;
    api.delete("/me").by(&cast.ben).expect(204).await;
    log_is_empty(path).await;
}
