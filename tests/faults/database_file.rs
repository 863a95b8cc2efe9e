//! The file of the database is moved, replaced, damaged, made read-only or cut while the program serves it, or between two
//! starts (R9).

use super::chance::Chance;
use super::checker::{Memory, export, faults};
use super::phones::{self, Crowd, World};
use super::program::{Program, run, sqlite_in, succeeds};
use super::{alone, amount, bound};
use reqwest::Client;
use std::fs::{self, OpenOptions, Permissions};
use std::os::unix::fs::{FileExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::time::Duration;
use tempfile::TempDir;

/// A league, and a phone that hands in rounds one by one.
struct Night {
    folder: TempDir,
    server: Program,
    world: World,
    client: Client,
    token: String,
    chance: Chance,
    handed_in: usize,
}

impl Night {
    async fn begin(seed: u64) -> Self {
        let folder = TempDir::new().unwrap();
        let server = Program::start(&sqlite_in(folder.path()), folder.path()).await;
        let world = World::found(&server.origin(), 1, 30, 2).await;
        let token = world.phone_tokens(&server.origin()).await.remove(0);
        Self { folder, server, world, client: phones::client(), token, chance: Chance::new(seed, 0), handed_in: 0 }
    }

    fn database(&self) -> PathBuf {
        self.folder.path().join("league.sqlite")
    }

    fn log(&self) -> PathBuf {
        self.folder.path().join("league.sqlite-wal")
    }

    /// Makes a card that was not handed in yet; returns its key and body.
    fn card(&mut self) -> (String, String) {
        let member = &self.world.members[self.handed_in % self.world.members.len()];
        self.handed_in += 1;
        (self.chance.id(), phones::card(&mut self.chance, member).to_string())
    }

    async fn send(&self, (key, body): &(String, String)) -> (u16, String) {
        let origin = self.server.origin();
        phones::send(&self.client, &origin, &self.token, &self.world.events[0], key, body).await.unwrap()
    }

    async fn is_stored(&mut self) {
        let card = self.card();
        let (status, answer) = self.send(&card).await;
        assert_eq!(status, 201, "{answer}");
    }

    async fn ready(&self) -> (u16, String) {
        let answer = self.client.get(format!("{}/readyz", self.server.origin())).send().await.unwrap();
        (answer.status().as_u16(), answer.text().await.unwrap())
    }

    /// Rounds are refused with what to do, and `/readyz` says why; the log says it once.
    async fn takes_nothing(&mut self, why: &str, is_new: bool, what: &str) {
        let card = self.card();
        let (status, problem) = self.send(&card).await;
        assert_eq!(status, 503, "{what}: {problem}");
        assert!(problem.contains("/problems/storage-stopped"), "{what}: {problem}");
        let (status, text) = self.ready().await;
        assert!(status == 503 && text.contains(why), "{what}: {status} {text}");
        let told = if is_new { self.server.tells(why).await } else { self.server.told() };
        let errors = told.lines().filter(|line| line.contains("ERROR") && line.contains(why)).count();
        assert_eq!(errors, usize::from(is_new), "{what}: it is logged once\n{told}");
        self.server.forget_log();
    }

    async fn takes_rounds_again(&mut self) {
        self.is_stored().await;
        assert_eq!(self.ready().await.0, 200);
    }

    async fn table(&self) -> usize {
        self.world.table(&self.server.origin(), &self.token).await.len()
    }
}

#[test]
fn a_file_that_is_removed_replaced_or_read_only_takes_no_rounds_until_it_is_back() {
    alone(|seed| async move {
        let mut night = Night::begin(seed).await;
        night.is_stored().await;
        let (database, log) = (night.database(), night.log());
        let away = night.folder.path().join("away");
        for (file, what, stored) in [(&database, "the file", 1), (&log, "its log", 2)] {
            fs::rename(file, &away).unwrap();
            night.takes_nothing("removed or replaced", true, &format!("{what} was removed")).await;
            fs::copy(&away, file).unwrap();
            night.takes_nothing("removed or replaced", false, &format!("{what} was replaced by a copy")).await;
            assert_eq!(night.table().await, stored, "tables are still read");
            fs::rename(&away, file).unwrap();
            night.takes_rounds_again().await;
        }
        for (file, what) in [(&database, "the file"), (&log, "its log")] {
            let before = fs::metadata(file).unwrap().permissions();
            fs::set_permissions(file, Permissions::from_mode(0o400)).unwrap();
            night.takes_nothing("read-only", true, &format!("{what} is read-only")).await;
            fs::set_permissions(file, before).unwrap();
            night.takes_rounds_again().await;
        }
        night.server.terminate().await;
        let url = sqlite_in(night.folder.path());
        let lines = export(&url, &night.world.league).await;
        let rounds = lines.iter().filter(|line| line["kind"] == "round").count();
        assert_eq!(rounds, 5, "every acknowledged round, and no other, is there");
        succeeds(&["verify", "--database", &url]).await;
    });
}

const PAGE: usize = 4096;
const DAMAGED: [u8; PAGE] = [0xA5; PAGE];

#[test]
fn damage_that_a_statement_finds_stops_writes_until_a_restart_finds_the_file_whole() {
    alone(|seed| async move {
        let mut night = Night::begin(seed).await;
        for _ in 0..20 {
            night.is_stored().await;
        }
        // Everything is in the file, and nothing of it in a cache: a server that has just started reads its pages.
        night.server.terminate().await;
        night.server.launch_again();
        night.server.answers().await;
        let whole = fs::read(night.database()).unwrap();
        let file = OpenOptions::new().read(true).write(true).open(night.database()).unwrap();
        let places = (1..whole.len() / PAGE).map(|page| page * PAGE);
        for at in places.clone() {
            file.write_all_at(&DAMAGED, at as u64).unwrap();
        }
        let _ = night
            .client
            .get(format!("{}/api/v1/leagues", night.server.origin()))
            .bearer_auth(&night.token)
            .send()
            .await;
        let card = night.card();
        let (status, problem) = night.send(&card).await;
        assert!(status == 503 && problem.contains("/problems/storage-stopped"), "{status} {problem}");
        let (status, text) = night.ready().await;
        assert!(status == 503 && text.contains("restore a backup"), "{status} {text}");
        // The pages are good again, but nobody has looked yet at what else may be wrong.
        let mut found = DAMAGED;
        for at in places {
            file.read_exact_at(&mut found, at as u64).unwrap();
            // The server may have moved a page of its log here since.
            if found == DAMAGED {
                file.write_all_at(&whole[at..at + PAGE], at as u64).unwrap();
            }
        }
        drop(file);
        assert_eq!(night.send(&card).await.0, 503);
        night.server.kill();
        night.server.launch_again();
        night.server.answers().await;
        assert_eq!(night.send(&card).await.0, 201);
        assert_eq!(night.ready().await.0, 200);
    });
}

/// The files that the database consists of.
const FILES: [&str; 3] = ["league.sqlite", "league.sqlite-wal", "league.sqlite.acknowledged"];

fn copy_files(from: &Path, to: &Path) {
    let _ = fs::remove_file(to.join("league.sqlite-shm"));
    for name in FILES {
        fs::copy(from.join(name), to.join(name)).unwrap();
    }
}

/// Whatever part of its log a killed server's database lacks: either the next start is refused, or no acknowledged round
/// was in that part.
#[test]
fn a_log_that_is_missing_or_cut_after_a_kill_is_noticed() {
    alone(|seed| async move {
        let (mut refused, mut cuts) = (0, 0);
        for n in 0..amount(1, 20) {
            let seed = seed + n as u64;
            let (folder, kept) = (TempDir::new().unwrap(), TempDir::new().unwrap());
            let url = sqlite_in(folder.path());
            let mut server = Program::start(&url, folder.path()).await;
            let origin = server.origin();
            let world = World::found(&origin, 8, 10, 40).await;
            let mut crowd = Crowd::start(&world, std::slice::from_ref(&origin), folder.path(), seed);
            tokio::time::sleep(Duration::from_millis(1_500)).await;
            assert!(crowd.is_busy(), "the phones are done");
            crowd.fall_silent();
            server.kill();
            crowd.finish().await;
            copy_files(folder.path(), kept.path());
            let memory = Memory::read(folder.path());
            let log = folder.path().join("league.sqlite-wal");
            let length = fs::metadata(&log).unwrap().len();
            let mut chance = Chance::new(seed, 0);
            for cut in 0..amount(8, 100) {
                copy_files(kept.path(), folder.path());
                let left = match cut {
                    0 => None,
                    // Cuts that take little away are the hard ones.
                    n if n % 2 == 0 => Some(length - chance.below(length / 20)),
                    _ => Some(chance.below(length)),
                };
                match left {
                    None => fs::remove_file(&log).unwrap(),
                    Some(left) => OpenOptions::new().write(true).open(&log).unwrap().set_len(left).unwrap(),
                }
                cuts += 1;
                server.forget_log();
                server.launch_again();
                if server.answers_or_ends().await {
                    server.kill();
                    let lost = faults(&memory, &export(&url, &world.league).await);
                    assert!(lost.is_empty(), "served with {left:?} of {length} bytes of its log: {lost:#?}");
                    continue;
                }
                refused += 1;
                let told = server.told();
                assert!(told.contains("was acknowledged") && told.contains("--accept-loss"), "{told}");
                if cut == 0 {
                    let verified = run(&["verify", "--database", &url]).await;
                    let said = String::from_utf8_lossy(&verified.stdout).into_owned();
                    assert!(verified.status.code() == Some(1) && said.contains("was acknowledged"), "{said}");
                    server.launch_again_with(&["--accept-loss"]);
                    server.answers().await;
                    server.kill();
                    server.launch_again();
                    server.answers().await;
                    server.kill();
                }
            }
            assert!(refused > 0, "no cut took anything away");
            copy_files(kept.path(), folder.path());
            server.launch_again();
            server.answers().await;
            server.terminate().await;
            let lost = faults(&memory, &export(&url, &world.league).await);
            assert!(lost.is_empty(), "with its whole log nothing is missing: {lost:#?}");
        }
        println!(
            "{refused} of {cuts} starts on a log that was removed or cut were refused; a loss unnoticed {}",
            bound(cuts)
        );
    });
}

/// A path that is mistyped, or whose file was lost, does not become an empty league server.
#[test]
fn a_database_that_is_not_there_is_made_only_where_nothing_speaks_against_it() {
    alone(|_| async move {
        let folder = TempDir::new().unwrap();
        let at = |name: &str| format!("sqlite:{}", folder.path().join(name).display());
        // Without the word for it no path that is given makes a database.
        let output = run(&["serve", "--listen", "127.0.0.1:0", "--database", &at("league.sqlite")]).await;
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.code() == Some(2) && told.contains("--create"), "{told}");
        assert!(!folder.path().join("league.sqlite").exists(), "a database was made");
        let serve = async |database: &str| {
            let mut server = Program::launch(database, folder.path(), &[]);
            let is_served = server.answers_or_ends().await;
            if is_served {
                server.terminate().await;
            }
            (is_served, server.told())
        };
        let (is_served, told) = serve(&at("league.sqlite")).await;
        assert!(is_served && told.contains("creating a new, empty database at"), "{told}");
        let (is_served, told) = serve(&at("league.sqlite")).await;
        assert!(is_served && !told.contains("new, empty"), "{told}");
        for (path, why) in [("leaque.sqlite", "there is one at"), ("nowhere/league.sqlite", "there is no folder")] {
            let (is_served, told) = serve(&at(path)).await;
            assert!(!is_served && told.contains(why) && told.contains("--database"), "{path}: {told}");
            assert!(!folder.path().join(path).exists(), "{path} was made");
        }
        // The file is lost, or empty; its key says that there was one.
        for is_empty in [false, true] {
            let database = folder.path().join("league.sqlite");
            fs::remove_file(&database).unwrap();
            if is_empty {
                fs::write(&database, "").unwrap();
            }
            let (is_served, told) = serve(&at("league.sqlite")).await;
            assert!(!is_served && told.contains("belongs to one") && told.contains("evenfield restore"), "{told}");
            fs::write(&database, "").unwrap();
        }
        // Commands that need a database make none.
        for words in [["invite", "--database"], ["verify", "--database"]] {
            let missing = at("missing.sqlite");
            let output = run(&[words[0], words[1], &missing]).await;
            assert_eq!(output.status.code(), Some(2), "{words:?}");
            assert!(!folder.path().join("missing.sqlite").exists(), "{words:?} made a database");
        }
    });
}

/// A server that is told to stop leaves everything in one file.
#[test]
fn a_stop_empties_the_log() {
    alone(|seed| async move {
        let mut night = Night::begin(seed).await;
        for _ in 0..10 {
            night.is_stored().await;
        }
        assert!(fs::metadata(night.log()).unwrap().len() > 0);
        let (status, _) = night.server.terminate().await;
        assert!(status.success());
        assert_eq!(fs::metadata(night.log()).map_or(0, |data| data.len()), 0, "the log was not emptied");
        let alone = TempDir::new().unwrap();
        fs::copy(night.database(), alone.path().join("league.sqlite")).unwrap();
        let lines = export(&sqlite_in(alone.path()), &night.world.league).await;
        assert_eq!(lines.iter().filter(|line| line["kind"] == "round").count(), 10);
    });
}
