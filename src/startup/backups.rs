//! Backups in turns: a file each time with its time in its name, and as many kept as was asked for.

use crate::league::Leagues;
use crate::league::jobs::backups::{BackupError, remove_leftovers};
use crate::storage::backup_file::is_backup;
use crate::storage::private;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use std::fs;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// What such a file is called.
const NAME: &str = "evenfield-%Y%m%dT%H%M%SZ.backup";

/// How often it is looked whether a turn has come. A machine that slept finds that out when it wakes.
const LOOK: Duration = Duration::from_secs(1);

/// Where and how often backups are made.
#[derive(Clone, Debug)]
pub struct Backups {
    /// Their folder.
    pub folder: PathBuf,
    /// The time from one to the next.
    pub every: SignedDuration,
    /// How many are kept.
    pub keep: NonZeroUsize,
}

impl Backups {
    /// Makes backups for as long as the server runs: the first when the last that is there is old enough. One that fails is
    /// made at the next turn.
    pub(super) async fn keep_up(self, leagues: Leagues) {
        remove_leftovers(&self.folder);
        let mut due = made(&self.folder).first().map_or(leagues.now(), |(at, _)| *at + self.every);
        loop {
            let now = leagues.now();
            // A clock that was set back does not put a turn off for longer than there is between two.
            due = due.min(now + self.every);
            if now < due {
                tokio::time::sleep(LOOK).await;
                continue;
            }
            due = now + self.every;
            match self.turn(&leagues).await {
                Ok(path) => tracing::info!(path = path.display().to_string(), "a backup was made"),
                Err(error) => {
                    let (path, error) = (self.folder.display().to_string(), format!("{:#}", anyhow::Error::new(error)));
                    tracing::error!(path, error, "a backup failed; the next turn tries again");
                }
            }
        }
    }

    /// Makes one backup, and deletes those of the server's own that are more than are kept.
    ///
    /// # Errors
    /// A folder that cannot be written; a backup that fails. Nothing is deleted then.
    pub async fn turn(&self, leagues: &Leagues) -> Result<PathBuf, BackupError> {
        let failed = |path: &Path| {
            let path = path.to_owned();
            move |error| BackupError::Io(path, error)
        };
        private::folder(&self.folder).map_err(failed(&self.folder))?;
        let path = self.folder.join(leagues.now().strftime(NAME).to_string());
        leagues.backup(&path).await?;
        for (_, old) in made(&self.folder).into_iter().skip(self.keep.get()) {
            fs::remove_file(&old).map_err(failed(&old))?;
        }
        Ok(path)
    }
}

/// Returns when the newest backup was made that a server made in a folder.
pub fn newest(folder: &Path) -> Option<Timestamp> {
    made(folder).first().map(|(at, _)| *at)
}

/// Lists the backups that a server made here, the newest first: files of such a name that begin as a backup does.
fn made(folder: &Path) -> Vec<(Timestamp, PathBuf)> {
    let files = fs::read_dir(folder).into_iter().flatten().flatten();
    let mut made: Vec<(Timestamp, PathBuf)> = files
        .filter_map(|file| {
            let at = DateTime::strptime(NAME, file.file_name().to_str()?).ok()?;
            let at = TimeZone::UTC.to_timestamp(at).ok()?;
            let path = file.path();
            is_backup(&path).then_some((at, path))
        })
        .collect();
    made.sort();
    made.reverse();
    made
}
