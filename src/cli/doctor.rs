//! `evenfield doctor`: what an operator would want to know before something breaks, each with what to do about it. It
//! changes nothing but what opening a database does.

use super::database::{BESIDE, DatabaseArg};
use super::saying::telling;
use super::serve::turn;
use crate::startup::backups::newest;
use crate::startup::{open, system_clock};
use crate::storage::lasting::LastingActs;
use crate::storage::{Store, mounts};
use jiff::{SignedDuration, Timestamp};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// How much room a database needs at the least, in MiB: its log grows while somebody reads.
const LEAST_ROOM_MIB: u64 = 512;
/// By how much a clock may be behind what was written.
const CLOCK_MAY_BE_BEHIND: SignedDuration = SignedDuration::from_mins(1);
/// The usual time between backups, where none is said.
const USUAL_TURN: SignedDuration = SignedDuration::from_hours(24);

/// The words after `evenfield doctor`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Exits with 1 if something is wrong.\n\nExample:\n  evenfield doctor --database sqlite:league.sqlite \
                  --backup-dir /backup/evenfield --backup-every 6h"
)]
pub struct DoctorArgs {
    #[command(flatten)]
    database: DatabaseArg,
    /// The folder in which the server makes backups
    #[arg(long, value_name = "DIR", env = "EVENFIELD_BACKUP_DIR")]
    backup_dir: Option<PathBuf>,
    /// Time between backups, such as 15m or 6h [default: 24h]
    #[arg(long, value_name = "DURATION", env = "EVENFIELD_BACKUP_EVERY", requires = "backup_dir", value_parser = turn)]
    backup_every: Option<SignedDuration>,
    /// The file of lasting acts that the servers write [default: the one beside the database]
    #[arg(long, value_name = "FILE", env = "EVENFIELD_LASTING_ACTS")]
    lasting_acts: Option<PathBuf>,
}

/// What was looked at: well, with what was seen; or wrong, with what to do.
type Looked = Result<String, String>;

/// Runs the command; `false`: something is wrong.
///
/// # Errors
/// No database at the place that is named.
pub fn run(args: &DoctorArgs, output: &mut dyn Write) -> anyhow::Result<bool> {
    let store = args.database.existing()?;
    let _looking = telling("looking");
    let mut looked = Vec::new();
    if let Store::File(path) = &store {
        looked.extend([privacy(path), place(path), room(path), clock(path)]);
    }
    let lasting = args.lasting_acts.clone().map_or_else(|| LastingActs::beside(&store), |path| LastingActs(Some(path)));
    looked.extend(tokio::runtime::Runtime::new()?.block_on(database(&store, &lasting)));
    looked.push(backups(args.backup_dir.as_deref(), args.backup_every.unwrap_or(USUAL_TURN), Timestamp::now()));
    for one in &looked {
        match one {
            Ok(seen) => writeln!(output, "well   {seen}")?,
            Err(wrong) => writeln!(output, "wrong  {wrong}")?,
        }
    }
    Ok(looked.iter().all(Result::is_ok))
}

/// The database, and what stands beside it.
fn files(path: &Path) -> impl Iterator<Item = PathBuf> {
    let beside = BESIDE.iter().map(move |ending| PathBuf::from(format!("{}{ending}", path.display())));
    std::iter::once(path.to_owned()).chain(beside).filter(|file| file.exists())
}

#[cfg(unix)]
fn privacy(path: &Path) -> Looked {
    use std::os::unix::fs::PermissionsExt;
    let is_open = |file: &PathBuf| fs::metadata(file).is_ok_and(|data| data.permissions().mode() & 0o077 != 0);
    let open: Vec<String> = files(path).filter(is_open).map(|file| file.display().to_string()).collect();
    if open.is_empty() {
        Ok("nobody but their owner reads the files of the database".into())
    } else {
        Err(format!("others may read or write {0}: chmod 600 {0}", open.join(" ")))
    }
}

#[cfg(not(unix))]
fn privacy(_: &Path) -> Looked {
    Ok("who may read the files of the database is not looked at on this system".into())
}

fn place(path: &Path) -> Looked {
    match mounts::remote(path) {
        None => Ok("the database is on a disk of this machine".into()),
        Some(kind) => Err(format!(
            "the database is on a network file system ({kind}), which loses rounds: move it to a disk of this machine, \
             or use PostgreSQL"
        )),
    }
}

#[cfg(unix)]
fn room(path: &Path) -> Looked {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let free = rustix::fs::statvfs(folder).map(|data| data.f_bavail.saturating_mul(data.f_frsize));
    let free = free.map_err(|error| format!("how much room {} has cannot be seen: {error}", folder.display()))? >> 20;
    let size = fs::metadata(path).map_or(0, |data| data.len()) >> 20;
    // A backup and a migration copy the database first.
    let needed = LEAST_ROOM_MIB.max(2 * size);
    if free >= needed {
        Ok(format!("{free} MiB are free"))
    } else {
        Err(format!("{free} MiB are free in {}, {needed} MiB should be: delete what is not needed", folder.display()))
    }
}

#[cfg(not(unix))]
fn room(_: &Path) -> Looked {
    Ok("how much room is left is not looked at on this system".into())
}

fn clock(path: &Path) -> Looked {
    let written = files(path).filter_map(|file| fs::metadata(file).ok()?.modified().ok());
    let last = written.max().and_then(|at| Timestamp::try_from(at).ok());
    let behind = last.map_or(SignedDuration::ZERO, |last| last.duration_since(Timestamp::now()));
    if behind <= CLOCK_MAY_BE_BEHIND {
        Ok("the clock is not behind what was written".into())
    } else {
        Err(format!("the clock is {} s behind the time at which the database was written: set it", behind.as_secs()))
    }
}

/// Opens the database, which looks at its settings and its schema, and reads every page of a file.
async fn database(store: &Store, lasting: &LastingActs) -> Vec<Looked> {
    let leagues = match open(store, system_clock()).await {
        Ok(leagues) => leagues,
        Err(error) => return vec![Err(format!("{:#}", anyhow::Error::new(error)))],
    };
    let mut looked = vec![match leagues.database.check().await {
        Ok(()) => Ok("the database takes changes and keeps what it acknowledges".to_owned()),
        Err(error) => Err(error.to_string()),
    }];
    looked.push(match leagues.database.first_fault().await {
        Ok(None) => Ok("every page of the database is whole".into()),
        Ok(Some(fault)) => Err(format!("the database is damaged ({fault}): restore a backup")),
        Err(error) => Err(error.to_string()),
    });
    looked.push(match (&lasting.0, leagues.database.reader().await) {
        (None, _) => Err("nothing writes down what a restore must not undo: serve with --lasting-acts FILE".into()),
        (Some(path), Ok(mut conn)) => match lasting.unknown_to(&mut conn, Vec::new()).await {
            Ok(Ok(_)) => Ok(format!("{} has every lasting act", path.display())),
            Ok(Err(error)) => Err(error.to_string()),
            Err(error) => Err(error.to_string()),
        },
        (_, Err(error)) => Err(error.to_string()),
    });
    leagues.database.close().await;
    looked
}

fn backups(folder: Option<&Path>, every: SignedDuration, now: Timestamp) -> Looked {
    let Some(folder) = folder else {
        return Err("no folder of backups is named: serve with --backup-dir, and name it here".into());
    };
    let Some(at) = newest(folder) else {
        return Err(format!("there is no backup in {}: serve with --backup-dir", folder.display()));
    };
    let age_h = now.duration_since(at).as_secs_f64() / 3600.0;
    // One turn may just have failed.
    if age_h <= 2.0 * every.as_secs_f64() / 3600.0 {
        Ok(format!("the newest backup in {} is {age_h:.1} h old", folder.display()))
    } else {
        Err(format!("the newest backup in {} is {age_h:.1} h old: look for why in the server's log", folder.display()))
    }
}
