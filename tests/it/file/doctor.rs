//! `evenfield doctor`: what is wrong is named with what to do, and nothing is wrong with a server that is run as the
//! documentation says. And a backup that is tried out.

use crate::stored::backup::{ends, run};
use crate::support::harness::{Api, Server, Settings, round};
use crate::support::store::TestStore;
use evenfield::storage::Store;
use std::fs::{self, Permissions};
use std::os::unix::fs::PermissionsExt;
use std::sync::Arc;
use tempfile::TempDir;

#[tokio::test]
async fn what_is_wrong_with_a_server_is_named_with_what_to_do() {
    let folder = TempDir::new().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let acts: &'static str = at("acts").leak();
    let store = Arc::new(TestStore::file());
    let api = Api::new(Server::start_on(store, Settings { lasting_acts: Some(acts), ..Settings::default() }));
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let (store, backups) = (api.server.store(), at("backups"));
    fs::create_dir(&backups).unwrap();
    let asked = ["doctor", "--backup-dir", &backups, "--lasting-acts", acts];
    ends(&run(store, &["doctor", "--lasting-acts", acts]).await, 1, "wrong  no folder of backups is named");
    ends(&run(store, &asked).await, 1, "wrong  there is no backup in");
    let named = |at: jiff::Timestamp| format!("{backups}/{}", at.strftime("evenfield-%Y%m%dT%H%M%SZ.backup"));
    let now = jiff::Timestamp::now();
    let old = named(now - jiff::SignedDuration::from_hours(49));
    ends(&run(store, &["backup", &old]).await, 0, "1 round");
    ends(&run(store, &asked).await, 1, "49.0 h old: look for why");
    ends(&run(store, &[&asked[..], &["--backup-every", "25h"]].concat()).await, 0, "well   the newest backup");
    ends(&run(store, &["backup", &named(now)]).await, 0, "1 round");
    let well = run(store, &asked).await;
    ends(&well, 0, "well   every page of the database is whole");
    ends(&well, 0, "well   nobody but their owner reads");

    let Store::File(path) = &store.store else { panic!("a file") };
    fs::set_permissions(path, Permissions::from_mode(0o644)).unwrap();
    ends(&run(store, &asked).await, 1, &format!("chmod 600 {}", path.display()));
    fs::set_permissions(path, Permissions::from_mode(0o600)).unwrap();
    let text = fs::read_to_string(acts).unwrap_or_default();
    fs::write(acts, "{\"torn").unwrap();
    ends(&run(store, &asked).await, 1, "wrong  ");
    fs::write(acts, text).unwrap();

    // A backup is tried out: it says whether it could be restored, and leaves nothing.
    ends(&run(store, &["restore", &old, "--dry-run"]).await, 0, "it can be restored; nothing was");
    ends(&run(store, &["restore", &old, "--dry-run", "--replace"]).await, 2, "--replace");
    let mut bytes = fs::read(&old).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    fs::write(&old, bytes).unwrap();
    ends(&run(store, &["restore", &old, "--dry-run"]).await, 2, "backup");
    assert_eq!(fs::read_dir(&backups).unwrap().count(), 2, "nothing is left beside the backups");
    assert_eq!(api.rounds(&night.event, &cast.ann).await, 1, "the league is as it was");
}
