//! Whatever the program makes on disk is for its owner alone to read, however careless the shell that starts it is.

use super::alone;
use super::program::{EVENFIELD, Program, run_as, sqlite_in};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use tempfile::TempDir;

/// A shell that leaves new files open to all.
const CARELESS: [&str; 4] = ["sh", "-c", "umask 000; exec \"$@\"", "sh"];

/// The names of the files in a folder that others could read or write, and of all of them.
fn open_to_others(folder: &Path) -> (Vec<String>, Vec<String>) {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap());
    // The log is the shell's.
    let ours = entries.filter(|entry| !entry.file_name().to_string_lossy().ends_with(".log"));
    let (mut open, mut all) = (Vec::new(), Vec::new());
    for entry in ours {
        let name = entry.file_name().to_string_lossy().into_owned();
        if entry.metadata().unwrap().permissions().mode() & 0o077 != 0 {
            open.push(name.clone());
        }
        all.push(name);
    }
    all.sort();
    (open, all)
}

#[test]
fn nobody_else_can_read_a_database_a_backup_or_what_is_restored() {
    alone(|_| async move {
        let folder = TempDir::new().unwrap();
        let database = sqlite_in(folder.path());
        let at = |name: &str| folder.path().join(name).display().to_string();
        let mut server = Program::launch(&database, folder.path(), &CARELESS);
        server.answers().await;
        let (backup, restored) = (at("a.backup"), format!("sqlite:{}", at("restored.sqlite")));
        for words in [
            &["backup", &backup, "--database", &database][..],
            &["restore", &backup, "--database", &restored, "--without-lasting-acts"],
            &["invite", "--database", &restored],
        ] {
            let words: Vec<&str> = CARELESS.iter().chain(&[EVENFIELD]).chain(words).copied().collect();
            let ended = run_as(&words).await;
            assert!(ended.status.success(), "{words:?}: {}", String::from_utf8_lossy(&ended.stderr));
        }
        let (open, all) = open_to_others(folder.path());
        for made in ["a.backup", "league.sqlite", "league.sqlite-shm", "league.sqlite-wal", "restored.sqlite"] {
            assert!(all.iter().any(|name| name == made), "{made} is not in {all:?}");
        }
        assert!(open.is_empty(), "others may read {open:?} of {all:?}");
        server.terminate().await;
        println!("private: {all:?}");
    });
}
