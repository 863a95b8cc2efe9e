//! A file of SQLite that is not what was written to it (R9, F5).

use super::backup::{ends, run};
use super::harness::{own, round};
use crate::store::TestStore;
use evenfield::storage::Store;
use std::fs;
use tempfile::TempDir;

/// The size of a page of SQLite.
const PAGE: usize = 4096;

/// `verify` names the damage and exits with 1; a server refuses to start on such a file.
#[tokio::test]
async fn a_damaged_file_is_named_and_not_served() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let folder = TempDir::new().expect("a folder");
    let backup = folder.path().join("night.backup").display().to_string();
    ends(&run(api.server.store(), &["backup", &backup]).await, 0, "");
    let store = TestStore::new();
    // PostgreSQL looks after its own pages.
    let Store::File(path) = &store.store else { return };
    ends(&run(&store, &["restore", &backup, "--without-lasting-acts"]).await, 0, "1 rounds");
    ends(&run(&store, &["verify"]).await, 0, " 0 differences");
    let whole = fs::read(path).expect("the file");
    for page in [1, 3, 20, whole.len() / PAGE / 2, whole.len() / PAGE - 20] {
        let mut damaged = whole.clone();
        damaged[page * PAGE..(page + 1) * PAGE].fill(0xA5);
        fs::write(path, damaged).expect("written");
        ends(&run(&store, &["verify"]).await, 1, "the file of the database is damaged");
        let served = run(&store, &["serve", "--listen", "127.0.0.1:0"]).await;
        ends(&served, 2, "restore a backup");
    }
}
