//! Backups and their restoration (R10, S30).

use crate::support::harness::{Api, Server, Settings, id, round, text};
use crate::support::store::TestStore;
use evenfield::startup::backups::Backups;
use evenfield::storage::Store;
use evenfield::storage::backup::TABLES;
use evenfield::storage::backup_file::is_backup;
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::Arc;
use std::time::Duration;
use tempfile::TempDir;

/// Runs a command of the program on a database.
pub async fn run(store: &TestStore, words: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_evenfield"));
    command.args(words).args(["--database", &store.url()]);
    // Apart, so that the client notices meanwhile which of its connections the server has closed.
    tokio::task::spawn_blocking(move || command.output()).await.expect("it ends").expect("it runs")
}

fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

#[track_caller]
pub fn ends(output: &Output, status: i32, says: &str) {
    let text = told(output);
    assert_eq!(output.status.code(), Some(status), "{text}");
    assert!(text.contains(says), "{says:?} is expected: {text}");
}

/// Sets a server's clock to the time that a command goes by.
pub fn to_the_present(api: &Api) {
    api.server.pass(jiff::Timestamp::now().duration_since(api.server.app.leagues.now()).as_secs());
}

/// A server whose lasting acts go to a file in a folder.
struct Served {
    api: Api,
    folder: TempDir,
    acts: PathBuf,
}

fn served() -> Served {
    let folder = TempDir::new().expect("a folder");
    let acts = folder.path().join("acts");
    let path: &'static str = acts.display().to_string().leak();
    let api = Api::new(Server::start(Settings { lasting_acts: Some(path), ..Settings::default() }));
    Served { api, folder, acts }
}

impl Served {
    fn file(&self, name: &str) -> String {
        self.folder.path().join(name).display().to_string()
    }
}

/// A server on a restored database that still takes the access tokens that the old one signed.
fn serve_again(old: &Api, store: Arc<TestStore>) -> Api {
    if let (Store::File(from), Store::File(to)) = (&old.server.store().store, &store.store) {
        let key = |path: &Path| format!("{}.key", path.display());
        fs::copy(key(from), key(to)).expect("the key");
    }
    Api::new(Server::start_on(store, Settings::default()))
}

/// A file of lasting acts that was cut off brings nobody back: a restore refuses it and says what to do, and a server that
/// starts completes it from its database. One that is damaged before its end keeps a server from starting.
#[tokio::test]
async fn a_file_of_lasting_acts_that_was_cut_off_brings_nobody_back() {
    let served = served();
    let api = &served.api;
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let backup = served.file("monday.backup");
    ends(&run(api.server.store(), &["backup", &backup]).await, 0, "1 league");
    for member in [&night.ben, &night.ann] {
        api.delete(format!("/members/{member}")).by(&cast.olga).matching("*").expect(204).await;
    }
    let acts = served.acts.display().to_string();
    let whole = fs::read(&served.acts).expect("the acts");
    let restored = async || {
        let store = TestStore::new();
        let output = run(&store, &["restore", &backup, "--lasting-acts", &acts]).await;
        (store, output)
    };
    for end in [whole.len() - 1, whole.len() - 40] {
        fs::write(&served.acts, &whole[..end]).expect("cut");
        let (store, refused) = restored().await;
        ends(&refused, 2, &format!("line 2 of {acts} was cut off. Start the server"));
        if let Store::File(path) = &store.store {
            assert!(!path.exists(), "nothing was restored");
        }
    }
    drop(api.server.beside());
    assert_eq!(fs::read(&served.acts).expect("the acts"), whole, "the server completed it");
    let (_, output) = restored().await;
    ends(&output, 0, &format!("repeated: member {} erased", night.ann));

    // A line in the middle that is missing or changed cannot be completed.
    let first = whole.iter().position(|byte| *byte == b'\n').expect("a line") + 1;
    let mut changed = whole.clone();
    changed[first / 2] ^= 1;
    for damaged in [&whole[first..], &changed] {
        fs::write(&served.acts, damaged).expect("damaged");
        ends(&restored().await.1, 2, &format!("line 1 of {acts} is damaged"));
        let words = ["serve", "--create", "--listen", "127.0.0.1:0", "--lasting-acts", &acts];
        ends(&run(api.server.store(), &words).await, 2, &format!("line 1 of {acts} is damaged"));
    }
    // Another database's file, or an older copy of this one, lacks what a later backup knows.
    let later = served.file("tuesday.backup");
    fs::write(&served.acts, &whole).expect("whole");
    ends(&run(api.server.store(), &["backup", &later]).await, 0, "1 league");
    fs::write(&served.acts, &whole[..first]).expect("an older copy");
    let store = TestStore::new();
    ends(&run(&store, &["restore", &later, "--lasting-acts", &acts]).await, 2, "lacks 1 of the acts");
}

fn without_names(mut table: Value) -> Value {
    for row in table["items"].as_array_mut().expect("rows") {
        row["display_name"] = Value::Null;
    }
    table
}

/// S30: whoever was erased, demoted or gone since the backup stays so, codes stay spent, and nobody is signed in.
#[tokio::test]
async fn a_restore_does_not_undo_what_must_last() {
    let served = served();
    let api = &served.api;
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    api.hand_in(&night.event, &cast.ben, &round(&night.ben)).await;
    let invitations = format!("/leagues/{}/invitations", night.league);
    let made = || api.post(&invitations, &json!({ "role": "scorer" })).by(&cast.olga).expect(201);
    let (spent, open) = (text(&made().await.json(), "code"), text(&made().await.json(), "code"));
    let table = format!("/seasons/{}/standings", night.season);
    let before = api.get(&table).by(&cast.olga).expect(200).await.json();

    let backup = served.file("monday.backup");
    ends(&run(api.server.store(), &["backup", &backup]).await, 0, "1 league, 2 rounds");
    ends(&run(api.server.store(), &["backup", &backup]).await, 2, "overwrites nothing");

    let ann = format!("/members/{}", night.ann);
    api.delete(&ann).by(&cast.olga).matching("*").expect(204).await;
    let sam = format!("/members/{}", night.sam);
    api.patch(&sam, &json!({ "role": "player" })).by(&cast.olga).matching("*").expect(200).await;
    api.delete("/me").by(&cast.ben).expect(204).await;
    let accept = |api: &Api, code: &str| api.call("POST", &format!("/invitations/{code}/acceptance"));
    accept(api, &spent).by(&cast.otto).expect(201).await;
    let changed =
        json!({ "current_password": crate::support::harness::PASSWORD, "new_password": "another mat, another cellar" });
    api.put("/me/password", &changed).by(&cast.sam).expect(204).await;
    let noted = fs::read_to_string(&served.acts).expect("the acts");
    assert_eq!(noted.lines().count(), 4, "{noted}");
    assert!(!noted.contains("Ann") && !noted.contains('@'), "ids only: {noted}");

    let acts = served.acts.display().to_string();
    let store = Arc::new(TestStore::new());
    let output = run(&store, &["restore", &backup, "--lasting-acts", &acts]).await;
    ends(&output, 0, &format!("repeated: member {} erased", night.ann));
    ends(&output, 0, &format!("repeated: member {} is now player", night.sam));
    ends(&run(&store, &["verify"]).await, 0, " 0 differences");
    let again = serve_again(api, store);
    for person in [&cast.olga, &cast.sam, &cast.ann, &cast.ben] {
        again.get("/me").by(person).refused(401, "unauthenticated").await;
        again.post("/sessions/refresh", &json!({ "refresh_token": person.refresh })).expect(401).await;
    }
    let olga = again.sign_in(&cast.olga.email).await;
    let erased = again.get(&ann).by(&olga).expect(200).await.json();
    assert_eq!(text(&erased, "display_name"), "Former player 1");
    assert_eq!(text(&again.get(&sam).by(&olga).expect(200).await.json(), "role"), "player");
    for person in [&cast.ben, &cast.sam] {
        let old = json!({ "email": person.email, "password": crate::support::harness::PASSWORD });
        again.post("/sessions", &old).refused(401, "unauthenticated").await;
    }
    let code = again.server.app.leagues.operator_reset(&cast.sam.email).await.expect("it runs").expect("a code");
    let new = json!({ "password": crate::support::harness::PASSWORD });
    again.post(format!("/password-resets/{code}"), &new).expect(204).await;
    again.sign_in(&cast.sam.email).await;
    let otto = again.sign_in(&cast.otto.email).await;
    for code in [&spent, &open] {
        accept(&again, code).by(&otto).refused(404, "not-found").await;
    }
    let after = again.get(&table).by(&olga).expect(200).await.json();
    assert_eq!(without_names(after), without_names(before), "the standings are what they were");

    // Without the file nothing is known of all that: so it has to be said that it is lost.
    let forgetful = Arc::new(TestStore::new());
    ends(&run(&forgetful, &["restore", &backup, "--lasting-acts", &served.file("none")]).await, 2, "is not there");
    ends(&run(&forgetful, &["restore", &backup, "--without-lasting-acts"]).await, 0, "1 league, 2 rounds");
    let again = serve_again(api, forgetful);
    let olga = again.sign_in(&cast.olga.email).await;
    assert_eq!(text(&again.get(&ann).by(&olga).expect(200).await.json(), "display_name"), "Ann");
}

/// Where the last organizer was demoted or left since, the operator is given a code.
#[tokio::test]
async fn a_league_that_nobody_can_organize_any_more_gets_a_code() {
    let served = served();
    let api = &served.api;
    let cast = api.cast().await;
    let (league, olga) = api.found(&cast.olga).await;
    let backup = served.file("monday.backup");
    ends(&run(api.server.store(), &["backup", &backup]).await, 0, "1 league, 0 rounds");
    api.join(&league, &cast.olga, &cast.otto, "organizer").await;
    let olga = format!("/members/{olga}");
    api.patch(&olga, &json!({ "role": "player" })).by(&cast.otto).matching("*").expect(200).await;

    let store = Arc::new(TestStore::new());
    let acts = served.acts.display().to_string();
    let output = run(&store, &["restore", &backup, "--lasting-acts", &acts]).await;
    ends(&output, 0, "has no organizer");
    let code =
        told(&output).lines().find_map(|line| line.split_once("for a new one: ").map(|(_, code)| code.to_owned()));
    let again = serve_again(api, store);
    to_the_present(&again);
    let otto = again.sign_in(&cast.otto.email).await;
    let path = format!("/invitations/{}/acceptance", code.expect("a code"));
    assert_eq!(text(&again.call("POST", &path).by(&otto).expect(201).await.json(), "role"), "organizer");
}

/// S30: what could not be written down outside is not done.
#[tokio::test]
async fn acts_that_must_last_wait_for_their_file() {
    let served = served();
    let api = &served.api;
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    fs::remove_file(&served.acts).expect("gone");
    fs::create_dir(&served.acts).expect("in the way");
    let ann = format!("/members/{}", night.ann);
    let sam = format!("/members/{}", night.sam);
    let demoted = json!({ "role": "player" });
    let busy = "temporary-reduced-capacity";
    let seen = api.delete(&ann).by(&cast.olga).matching("*").refused(503, busy).await;
    assert_eq!(seen.header("retry-after"), "30");
    api.patch(&sam, &demoted).by(&cast.olga).matching("*").refused(503, busy).await;
    api.delete("/me").by(&cast.ben).refused(503, busy).await;
    assert_eq!(text(&api.get(&ann).by(&cast.olga).expect(200).await.json(), "display_name"), "Ann");
    assert_eq!(text(&api.get(&sam).by(&cast.olga).expect(200).await.json(), "role"), "scorer");
    api.get("/me").by(&cast.ben).expect(200).await;
    // Nothing else waits: a promotion is undone by a restore, and that is all.
    api.patch(&sam, &json!({ "role": "organizer" })).by(&cast.olga).matching("*").expect(200).await;
    fs::remove_dir(&served.acts).expect("out of the way");
    api.delete(&ann).by(&cast.olga).matching("*").expect(204).await;
    assert!(fs::read_to_string(&served.acts).expect("written").contains(&night.ann));
}

/// A damaged backup is refused, a database that holds something else is not touched.
#[tokio::test]
async fn a_restore_takes_the_place_of_its_own_older_state_alone() {
    let served = served();
    let api = &served.api;
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let [first, second, other] = ["first.backup", "second.backup", "other.backup"].map(|name| served.file(name));
    ends(&run(api.server.store(), &["backup", &first]).await, 0, "0 rounds");
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    ends(&run(api.server.store(), &["backup", &second]).await, 0, "1 round");
    let stranger = self::served();
    let nora = stranger.api.person("Nora").await;
    stranger.api.found(&nora).await;
    ends(&run(stranger.api.server.store(), &["backup", &other]).await, 0, "1 league");

    let bytes = fs::read(&second).expect("the backup");
    let store = TestStore::new();
    for place in [0, 30, 100, bytes.len() / 2, bytes.len() - 1] {
        let mut bad = bytes.clone();
        bad[place] ^= 4;
        fs::write(served.file("bad.backup"), bad).expect("written");
        ends(&run(&store, &["restore", &served.file("bad.backup"), "--without-lasting-acts"]).await, 2, "backup");
    }
    let lost = "--without-lasting-acts";
    ends(&run(&store, &["restore", &second, lost]).await, 0, "1 round");
    ends(&run(&store, &["restore", &first, lost]).await, 2, "--replace");
    ends(&run(&store, &["restore", &other, lost, "--replace"]).await, 2, "no older state");
    ends(&run(&store, &["restore", &first, lost, "--replace"]).await, 0, "0 rounds");
    ends(&run(&store, &["verify"]).await, 0, "1 league, 0 rounds");
    // It goes one way: the newer state is none that this database ever left behind.
    ends(&run(&store, &["restore", &second, lost, "--replace"]).await, 2, "no older state");
    if let Store::File(path) = &store.store {
        let folder = fs::read_dir(path.parent().expect("a folder")).expect("the folder");
        let names: Vec<String> =
            folder.map(|file| file.expect("a file").file_name().into_string().expect("text")).collect();
        let kept = names.iter().find(|name| name.contains(".before-restore-")).expect("the later state is kept");
        let kept = format!("sqlite:{}", path.with_file_name(kept).display());
        let verified = Command::new(env!("CARGO_BIN_EXE_evenfield")).args(["verify", "--database", &kept]).output();
        ends(&verified.expect("it runs"), 0, "1 league, 1 round");
        assert!(!names.iter().any(|name| name.contains(".making-")), "nothing is left lying about: {names:?}");
        // A server that runs would go on writing to a file that nobody finds any more.
        let running = run(api.server.store(), &["restore", &first, lost, "--replace"]).await;
        ends(&running, 2, "stop the server");
        api.hand_in(&api.event(&cast, &night, json!({})).await, &cast.ann, &round(&night.ann)).await;
    }
}

/// While rounds come in, a backup holds one state: what it has follows from its raw records.
#[tokio::test]
async fn a_backup_is_one_state_while_rounds_come_in() {
    let served = served();
    let api = &served.api;
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let writing = tokio::spawn({
        let (api, cast, night) = (api.clone(), cast.clone(), night.clone());
        async move {
            for _ in 0..30 {
                let event = api.event(&cast, &night, json!({})).await;
                api.hand_in(&event, &cast.ann, &round(&night.ann)).await;
            }
        }
    });
    let mut seen = Vec::new();
    for n in 0..4 {
        let file = PathBuf::from(served.file(&format!("{n}.backup")));
        let manifest = api.server.app.leagues.backup(&file).await.expect("a backup");
        seen.push(manifest.counts["rounds"]);
        let store = TestStore::new();
        let output = run(&store, &["restore", &file.display().to_string(), "--without-lasting-acts"]).await;
        ends(&output, 0, &format!("{} round", manifest.counts["rounds"]));
        ends(&run(&store, &["verify"]).await, 0, " 0 differences");
    }
    writing.await.expect("rounds come in");
    assert!(seen.is_sorted(), "{seen:?}");
    let file = PathBuf::from(served.file("last.backup"));
    let last = api.server.app.leagues.backup(&file).await.expect("a backup");
    assert_eq!(last.counts["rounds"], 30);
    for left_out in ["sessions", "refresh_tokens", "password_resets"] {
        assert!(!last.counts.contains_key(left_out), "nobody signs in by a backup");
    }
    assert!(!String::from_utf8_lossy(&fs::read(&file).expect("read")).contains("efr_"), "no token is in it");
}

/// What was taken from one database goes to the other: a backup of either holds the same.
#[tokio::test]
async fn a_backup_serves_both_databases() {
    let served = served();
    let api = &served.api;
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    api.finding(&cast, &night, &cast.ann, &night.ann).await;
    api.setup_finding(&cast, &night, &cast.ann, &night.ann).await;
    let path = format!("/members/{}/practice", night.ann);
    api.post(path, &super::practice::block(&night.setup)).by(&cast.ann).key(&id()).expect(201).await;
    let first = served.file("first.backup");
    ends(&run(api.server.store(), &["backup", &first]).await, 0, "1 league");
    let there = TestStore::file();
    ends(&run(&there, &["restore", &first, "--without-lasting-acts"]).await, 0, "1 league");
    let second = served.file("second.backup");
    ends(&run(&there, &["backup", &second]).await, 0, "1 league");
    let back = Arc::new(TestStore::new());
    ends(&run(&back, &["restore", &second, "--without-lasting-acts"]).await, 0, "1 league");
    ends(&run(&back, &["verify"]).await, 0, " 0 differences");
    let again = Api::new(Server::start_on(back, Settings::default()));
    let bundle = super::journal_bundle::bundle(api, &night.league, &cast.olga).await;
    let olga = again.sign_in(&cast.olga.email).await;
    assert!(bundle.lines().count() > 10);
    let returned = super::journal_bundle::bundle(&again, &night.league, &olga).await;
    assert_eq!(returned, bundle, "the league went there and back");
    let ann = again.sign_in(&cast.ann.email).await;
    let practice = again.get(format!("/members/{}/practice", night.ann)).by(&ann).expect(200).await.json();
    assert_eq!(practice["items"].as_array().expect("blocks").len(), 1, "practice is in a backup, not in a bundle");
}

/// Every table is either copied or known to stay behind.
#[tokio::test]
async fn every_table_is_in_a_backup() {
    let mut known = TABLES.to_vec();
    known.sort_unstable();
    let mut tables: Vec<String> = Vec::new();
    for file in fs::read_dir("migrations/sqlite").expect("the migrations") {
        let text = fs::read_to_string(file.expect("a file").path()).expect("text");
        let made = text.lines().filter_map(|line| line.strip_prefix("CREATE TABLE ")?.split_whitespace().next());
        // `commits` counts the changes of one file, and a copy is another file.
        tables.extend(made.filter(|name| *name != "commits").map(str::to_owned));
    }
    tables.sort_unstable();
    assert_eq!(tables, known, "add the table to TABLES in storage/backup.rs");
}

/// A server's turns: the newest are kept, and nothing is deleted that it did not make.
#[tokio::test]
async fn turns_keep_the_newest_and_delete_their_own_alone() {
    let served = served();
    let api = &served.api;
    let folder = served.folder.path().join("backups");
    let every = jiff::SignedDuration::from_hours(6);
    let backups = Backups { folder: folder.clone(), every, keep: 2.try_into().expect("more than none") };
    fs::create_dir(&folder).expect("a folder");
    let foreign = ["notes.txt", "evenfield-20200101T000000Z.backup", "evenfield-monday.backup"];
    for name in foreign {
        fs::write(folder.join(name), "somebody else's").expect("written");
    }
    let mut made = Vec::new();
    for _ in 0..4 {
        made.push(backups.turn(&api.server.app.leagues).await.expect("a backup"));
        api.server.pass(6 * 3600);
    }
    let is_there: Vec<bool> = made.iter().map(|path| path.exists()).collect();
    assert_eq!(is_there, [false, false, true, true]);
    assert!(foreign.iter().all(|name| folder.join(name).exists()));
    let store = TestStore::new();
    ends(&run(&store, &["restore", &made[3].display().to_string(), "--without-lasting-acts"]).await, 0, "0 leagues");
    // A turn that fails deletes nothing, and the next goes well.
    api.server.pass(-6 * 3600);
    assert!(backups.turn(&api.server.app.leagues).await.is_err(), "the clock showed this second before");
    assert!(made[2].exists() && made[3].exists());
    api.server.pass(6 * 3600);
    backups.turn(&api.server.app.leagues).await.expect("a backup");
    let usage = Command::new(env!("CARGO_BIN_EXE_evenfield")).args(["serve", "--backup-dir", "x"]).output();
    ends(&usage.expect("it runs"), 2, "--keep");
}

/// Whoever wants a league out of a database is told how its id is found.
#[tokio::test]
async fn an_export_of_no_league_says_where_ids_are_listed() {
    let api = Api::new(Server::start(Settings::default()));
    let night = api.night(&api.cast().await).await;
    let store = api.server.store();
    ends(&run(store, &["leagues"]).await, 0, &format!("{}  ", night.league));
    for (league, says) in [("abc", "is not a league's id"), (night.olga.as_str(), "this database has no league")] {
        let output = run(store, &["export", league]).await;
        ends(&output, 2, says);
        ends(&output, 2, "evenfield leagues");
    }
}

/// A server makes its backups when their time has come and not before, after one that failed too, and goes by those that
/// it finds when it starts.
#[tokio::test]
async fn a_server_makes_a_backup_when_its_time_has_come() {
    let folder = TempDir::new().expect("a folder");
    let (every, keep) = (jiff::SignedDuration::from_hours(6), 9.try_into().expect("more than none"));
    let backups: &'static Backups = Box::leak(Box::new(Backups { folder: folder.path().to_owned(), every, keep }));
    let server = Server::start(Settings { backups: Some(backups), ..Settings::default() });
    let there = || {
        let files = fs::read_dir(folder.path()).expect("the folder").map(|file| file.expect("a file").path());
        files.filter(|path| is_backup(path)).count()
    };
    // The server looks once a second; what does not come in three does not come.
    let expect = async |count: usize, when: &str| {
        tokio::time::sleep(Duration::from_secs(3)).await;
        for _ in 0..6_000 {
            if there() >= count {
                break;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        assert_eq!(there(), count, "{when}");
    };
    expect(1, "there is none yet").await;
    server.pass(6 * 3600 - 1);
    expect(1, "a second too early").await;
    server.pass(1);
    expect(2, "six hours after the first").await;
    let at = server.app.leagues.now() + every;
    let in_the_way = folder.path().join(at.strftime("evenfield-%Y%m%dT%H%M%SZ.backup").to_string());
    fs::write(in_the_way, "somebody else's").expect("written");
    server.pass(6 * 3600);
    expect(2, "something is in the way").await;
    server.pass(6 * 3600 - 1);
    expect(2, "a failed one is not made before the next turn").await;
    server.pass(1);
    expect(3, "six hours after the one that failed").await;
    server.pass(3600);
    server.beside();
    expect(3, "the last that a new server finds is an hour old").await;
}
