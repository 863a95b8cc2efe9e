//! Backups taken while rounds come in over a bad network, and restored (F15).

use super::checker::{Memory, export, faults, table, told_table};
use super::phones::{Crowd, World};
use super::program::{EVENFIELD, Program, run, run_as, sqlite_in, succeeds};
use super::proxy::BadNetwork;
use super::{alone, amount, bound, chance::Chance};
use serde_json::Value;
use std::time::Duration;
use tempfile::TempDir;

#[test]
fn a_backup_taken_meanwhile_restores_to_all_that_was_acknowledged_before() {
    alone(|seed| async move {
        let times = amount(2, 50);
        let folder = TempDir::new().unwrap();
        let at = |name: &str| folder.path().join(name).display().to_string();
        let database = sqlite_in(folder.path());
        let server = Program::start(&database, folder.path()).await;
        let world = World::found(&server.origin(), 32, 4, amount(40, 250)).await;
        let network = BadNetwork::before(server.address(), seed).await;
        let mut crowd = Crowd::start(&world, std::slice::from_ref(&network.origin), folder.path(), seed);
        let (mut chance, mut most) = (Chance::new(seed, 0), 0);
        for n in 0..times {
            tokio::time::sleep(Duration::from_millis(500 + chance.below(500))).await;
            let (backup, restored) = (at("a.backup"), format!("sqlite:{}", at(&format!("restored-{n}.sqlite"))));
            let acks = Memory::read(folder.path()).acks;
            succeeds(&["backup", &backup, "--database", &database]).await;
            assert!(crowd.is_busy(), "the phones were done before backup {n}");
            let memory = Memory { acks, ..Memory::read(folder.path()) };
            succeeds(&["restore", &backup, "--database", &restored, "--without-lasting-acts"]).await;
            let lines = export(&restored, &world.league).await;
            let found = faults(&memory, &lines);
            assert!(found.is_empty(), "{} faults: {:#?}", found.len(), &found[..found.len().min(20)]);
            assert!(memory.acks.len() > most, "nothing was acknowledged since the last backup");
            most = memory.acks.len();
            succeeds(&["verify", "--database", &restored]).await;
            let bundle = at("restored.bundle");
            std::fs::write(&bundle, succeeds(&["export", &world.league, "--database", &restored]).await).unwrap();
            let report = succeeds(&["report", &bundle, "--without-findings", "--format", "json"]).await;
            let report: Value = serde_json::from_str(&report).unwrap();
            let told = told_table(report["standings"].as_array().unwrap());
            assert_eq!(told, table(&world.events, &lines), "the table is not what cards say");

            let mut bytes = std::fs::read(&backup).unwrap();
            let flipped = chance.below(bytes.len() as u64) as usize;
            bytes[flipped] ^= 1 << chance.below(8);
            std::fs::write(&backup, &bytes).unwrap();
            let nowhere = at("nowhere.sqlite");
            let words = ["restore", &backup, "--without-lasting-acts", "--database", &format!("sqlite:{nowhere}")];
            let refused = run(&words).await;
            assert!(!refused.status.success(), "a backup whose byte {flipped} is another one is restored");
            assert!(!std::fs::exists(&nowhere).unwrap(), "a refused backup leaves a database behind");
            for name in [backup, at(&format!("restored-{n}.sqlite"))] {
                std::fs::remove_file(name).unwrap();
            }
        }
        crowd.fall_silent();
        crowd.finish().await;
        println!("F15: {times} backups, the last with {most} rounds acknowledged before it; faults {}", bound(times));
    });
}

/// A backup or a restore that is killed when all but its last step is done leaves whole copies of the database: the next
/// one removes them.
#[test]
fn what_a_killed_backup_or_restore_left_goes_with_the_next() {
    alone(|_| async move {
        let folder = TempDir::new().unwrap();
        let at = |name: &str| folder.path().join(name).display().to_string();
        let database = sqlite_in(folder.path());
        let server = Program::start(&database, folder.path()).await;
        World::found(&server.origin(), 1, 4, 1).await;
        let backup = at("a.backup");
        let copies = || {
            let names = std::fs::read_dir(folder.path()).unwrap().map(|file| file.unwrap().file_name());
            names.filter(|name| name.to_string_lossy().contains(".making-")).count()
        };
        let killed = async |words: &[&str]| {
            let at_last =
                ["strace", "-f", "-o", "/dev/null", "-e", "inject=rename,renameat,renameat2:signal=KILL", EVENFIELD];
            let output = run_as(&[&at_last, words].concat()).await;
            assert!(!output.status.success(), "{words:?} was not killed");
            assert_eq!(copies(), 1, "{words:?} was killed before its last step");
        };
        let restored = format!("sqlite:{}", at("restored.sqlite"));
        killed(&["backup", &backup, "--database", &database]).await;
        succeeds(&["backup", &backup, "--database", &database]).await;
        assert_eq!(copies(), 0);
        let words = ["restore", &backup, "--database", &restored, "--without-lasting-acts"];
        killed(&words).await;
        succeeds(&words).await;
        assert_eq!(copies(), 0);
    });
}
