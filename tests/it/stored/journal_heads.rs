//! Signed heads of journals: who is given them, when they are signed, and what a head that was kept shows (S31).

use super::backup::{ends, run};
use crate::support::browsing::{page, signed_in};
use crate::support::harness::{Api, Cast, Night, id, own, round};
use evenfield::storage::Store;
use evenfield::storage::heads::{self, HeadKey, SignedHead};
use evenfield::storage::journal::Head;
use serde_json::json;
use std::fs;
use tempfile::TempDir;

async fn given(api: &Api, cast: &Cast, night: &Night) -> (String, Vec<SignedHead>) {
    let path = format!("/leagues/{}/journal/heads", night.league);
    let text = api.get(path).by(&cast.olga).expect(200).await.text();
    let heads = text.lines().map(|line| serde_json::from_str(line).expect("a head")).collect();
    (text, heads)
}

async fn stored(api: &Api, head: &SignedHead) -> Vec<i64> {
    let mut conn = api.server.app.leagues.database.reader().await.expect("a reader");
    heads::list(&mut conn, head.league_id).await.expect("heads").iter().map(|head| head.n).collect()
}

async fn add_members(api: &Api, cast: &Cast, night: &Night, count: usize) {
    for n in 0..count {
        let body = json!({ "display_name": format!("Guest {n}") });
        let path = format!("/leagues/{}/members", night.league);
        api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await;
    }
}

#[tokio::test]
async fn an_organizer_takes_signed_heads_along_and_they_fit_the_journal() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let (_, heads) = given(&api, &cast, &night).await;
    let last = heads.last().expect("a head");
    assert!(heads.iter().all(SignedHead::is_genuine));
    let path = format!("/leagues/{}/journal?limit=200", night.league);
    let journal = api.get(path).by(&cast.olga).expect(200).await.json();
    let entry = journal["items"].as_array().expect("entries").last().expect("an entry").clone();
    assert_eq!((json!(last.n), json!(last.hash)), (entry["n"].clone(), entry["hash"].clone()));
    assert_eq!(last.at, api.server.app.leagues.now());

    let cookie = signed_in(&api, &cast.olga.email).await;
    let journal = format!("/leagues/{}/journal", night.league);
    let shown = page(&api, &journal, &cookie).expect(200).await.text();
    assert!(shown.contains(&format!("href=\"{journal}/heads\"")), "{shown}");
    let file = page(&api, &format!("{journal}/heads"), &cookie).expect(200).await;
    assert!(file.header("content-disposition").contains("journal-heads.ndjson"));
    assert!(file.text().contains(&last.hash));

    // The key stays with the server, and nobody else reads it.
    if let Store::File(path) = &api.server.store().store {
        let file = format!("{}.journal-key", path.display());
        assert_eq!(fs::read_to_string(&file).expect("the key").len(), 64);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            assert_eq!(fs::metadata(&file).expect("the key").permissions().mode() & 0o777, 0o600);
        }
    }
    let (_, again) = given(&Api::new(api.server.beside()), &cast, &night).await;
    assert_eq!(again.last().expect("a head").key, last.key, "another start, another key");
}

#[tokio::test]
async fn a_head_is_signed_for_a_hundred_entries_or_a_day() {
    let api = own();
    let mut cast = api.cast().await;
    let night = api.night(&cast).await;
    let leagues = &api.server.app.leagues;
    leagues.sign_due().await.expect("signed");
    let (_, heads) = given(&api, &cast, &night).await;
    let first = stored(&api, &heads[0]).await;
    assert_eq!(first.len(), 1, "a journal's first entries wait for no day");
    let due = || async {
        leagues.sign_due().await.expect("signed");
        stored(&api, &heads[0]).await.len()
    };
    add_members(&api, &cast, &night, 1).await;
    api.server.pass(23 * 3600);
    assert_eq!(due().await, 1, "neither a hundred entries nor a day");
    api.server.pass(3600);
    assert_eq!(due().await, 2, "a day is over");
    api.server.pass(3 * 24 * 3600);
    assert_eq!(due().await, 2, "nothing was written meanwhile");
    // Access tokens last ten minutes.
    cast.olga = api.sign_in(&cast.olga.email).await;
    add_members(&api, &cast, &night, 1).await;
    assert_eq!(due().await, 3);
    add_members(&api, &cast, &night, 99).await;
    assert_eq!(due().await, 3, "ninety-nine");
    add_members(&api, &cast, &night, 1).await;
    assert_eq!(due().await, 4, "a hundred");
    let (_, heads) = given(&api, &cast, &night).await;
    assert_eq!(heads.len(), 4);
    let found = leagues.verify_against(&heads).await.expect("verify runs");
    assert!(found.differences.is_empty(), "{:#?}", found.differences);
}

#[tokio::test]
async fn final_standings_show_the_head_that_was_signed_then() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let cookie = signed_in(&api, &cast.ann.email).await;
    let standings = format!("/seasons/{}", night.season);
    let shown = page(&api, &standings, &cookie).expect(200).await.text();
    assert!(!shown.contains("Audit log signed"), "not final yet");
    api.settle(&night.event, &cast.olga).await;
    let (_, heads) = given(&api, &cast, &night).await;
    let head = heads.last().expect("a head");
    // What comes later does not show in it: the page tells nobody that something was done.
    add_members(&api, &cast, &night, 2).await;
    let shown = page(&api, &standings, &cookie).expect(200).await.text();
    assert!(shown.contains(&head.hash[..16]), "{shown}");
    let (_, later) = given(&api, &cast, &night).await;
    assert_eq!((later.len(), &later[0]), (2, head));
}

#[tokio::test]
async fn verify_tells_whether_a_journal_fits_the_heads_that_were_kept() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let folder = TempDir::new().expect("a folder");
    let file = folder.path().join("heads.ndjson").display().to_string();
    let (text, heads) = given(&api, &cast, &night).await;
    let head = heads.last().expect("a head");
    let store = api.server.store();
    let words = ["verify", "--head", &file];
    fs::write(&file, &text).expect("written");
    // The journal goes on meanwhile.
    add_members(&api, &cast, &night, 1).await;
    ends(&run(store, &words).await, 0, &format!("1 checkpoint, signed with the key {}", head.key));

    // A journal that says something else than what was signed; one that ends earlier; one that is not here.
    let key = HeadKey::of(&[1; 32]);
    let other = key.sign(head.league_id, &Head { n: head.n, hash: vec![1; 32] }, head.at);
    let longer = key.sign(head.league_id, &Head { n: head.n + 50, hash: vec![1; 32] }, head.at);
    let gone =
        key.sign(evenfield::domain::ids::LeagueId(uuid::Uuid::nil()), &Head { n: 1, hash: vec![1; 32] }, head.at);
    for (wrong, says) in [
        (other, format!("journal entries 1 to {} are not those that were signed", head.n)),
        (longer, format!("entry {} is missing", head.n + 2)),
        (gone, "it is not here".into()),
    ] {
        fs::write(&file, serde_json::to_string(&wrong).expect("a line")).expect("written");
        ends(&run(store, &words).await, 1, &says);
    }
    let forged = SignedHead { n: head.n - 1, ..head.clone() };
    fs::write(&file, serde_json::to_string(&forged).expect("a line")).expect("written");
    ends(&run(store, &words).await, 2, "line 1");
}

#[tokio::test]
async fn a_backup_holds_the_signed_heads() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let folder = TempDir::new().expect("a folder");
    let path = folder.path().join("a.backup");
    let made = api.server.app.leagues.backup(&path).await.expect("a backup");
    let (_, heads) = given(&api, &cast, &night).await;
    let [signed] = made.signed_heads.as_slice() else { panic!("{made:?}") };
    assert!(signed.is_genuine());
    assert_eq!((&signed.hash, &signed.key), (&heads[0].hash, &heads[0].key));
    // A command has no key: it takes the last that the server signed.
    api.server.app.leagues.sign_due().await.expect("signed");
    let later = folder.path().join("b.backup").display().to_string();
    ends(&run(api.server.store(), &["backup", &later]).await, 0, "");
    let bytes = fs::read(&later).expect("the backup");
    let manifest = bytes.split(|byte| *byte == b'\n').nth(1).expect("a manifest");
    let manifest: serde_json::Value = serde_json::from_slice(manifest).expect("a manifest");
    assert_eq!(manifest["signed_heads"][0]["hash"], json!(heads[0].hash));
}
