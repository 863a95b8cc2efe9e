//! The last change of a file of SQLite that was acknowledged, in a small file beside it. A log (`-wal`) that is missing or
//! cut takes changes away without a trace in the database itself; a start behind what this file says is refused.
//!
//! The file holds two records, written in turns, so that a write that was cut leaves the one before it whole.

use super::error::StorageError;
use super::journal::hex;
use super::private;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use uuid::Uuid;

/// The length of a record: a block of the file system, so that the records are not written together.
const RECORD: usize = 4096;

/// A change of a database: the database's own id, and the change's number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Change {
    pub(super) database: Uuid,
    pub(super) n: i64,
}

impl Change {
    fn record(self) -> String {
        let text = format!("database {} change {}", self.database.simple(), self.n);
        let digest = hex(&Sha256::digest(&text));
        format!("{:<1$}\n", format!("{text} sha256 {digest}"), RECORD - 1)
    }

    fn parse(record: &[u8]) -> Option<Self> {
        let text = std::str::from_utf8(record).ok()?;
        let mut words = text.split_whitespace();
        let (database, n) = (words.nth(1)?.parse().ok()?, words.nth(1)?.parse().ok()?);
        let change = Self { database, n };
        (change.record() == text).then_some(change)
    }
}

/// Returns where the file of a database is.
pub(super) fn beside(database: &Path) -> PathBuf {
    PathBuf::from(format!("{}.acknowledged", database.display()))
}

/// Returns which of two records is the later, with its place.
fn latest(bytes: &[u8]) -> Option<(usize, Change)> {
    let records = bytes.chunks(RECORD).map(Change::parse).enumerate();
    records.filter_map(|(place, change)| Some((place, change?))).max_by_key(|(_, change)| change.n)
}

/// Reads the last change that was acknowledged; none where there is no file.
fn read(path: &Path) -> Result<Option<Change>, StorageError> {
    match std::fs::read(path) {
        Ok(bytes) => {
            let (_, change) = latest(&bytes).ok_or_else(|| StorageError::AcknowledgedUnreadable(path.to_owned()))?;
            Ok(Some(change))
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(StorageError::Acknowledged(error)),
    }
}

/// Passes a database that holds everything that was acknowledged. `found` is its last change; none where it holds nothing.
///
/// # Errors
/// [`StorageError::Behind`]; [`StorageError::AnotherDatabase`]; a file that cannot be read.
pub(super) fn compare(database: &Path, found: Option<Change>) -> Result<(), StorageError> {
    let file = beside(database);
    let Some(acknowledged) = read(&file)? else { return Ok(()) };
    match found {
        Some(found) if found.database != acknowledged.database => {
            Err(StorageError::AnotherDatabase { database: database.to_owned(), file })
        }
        Some(found) if found.n >= acknowledged.n => Ok(()),
        _ => Err(StorageError::Behind {
            database: database.to_owned(),
            found: found.map_or(0, |found| found.n),
            acknowledged: acknowledged.n,
        }),
    }
}

/// Forgets what was acknowledged: the database at that path is taken as it is from now on.
///
/// # Errors
/// A file that cannot be removed.
pub fn forget(database: &Path) -> io::Result<()> {
    let file = beside(database);
    match std::fs::remove_file(&file) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        Err(_) => Ok(()),
        Ok(()) => private::sync_name(&file),
    }
}

/// How often the file is synced at most. What was written survives a killed process at once, and a power failure from then
/// on.
const SYNC_EVERY: Duration = Duration::from_secs(1);

/// Writes down what is acknowledged.
#[derive(Clone)]
pub(super) struct Acknowledged {
    database: Uuid,
    file: Arc<Mutex<File>>,
    syncs: Arc<Mutex<Syncs>>,
}

#[derive(Default)]
struct Syncs {
    last: Option<Instant>,
    /// Whether a sync is planned that covers what is written until then.
    is_planned: bool,
}

impl Acknowledged {
    /// Opens the file, or makes it.
    ///
    /// # Errors
    /// A file that cannot be made or written.
    pub(super) fn open(database: &Path, last: Change) -> io::Result<Self> {
        let path = beside(database);
        // Another process of ours may make it at the same time: what both would write is the same.
        match private::create(&path, &last.record().repeat(2)) {
            Err(error) if error.kind() != io::ErrorKind::AlreadyExists => return Err(error),
            _ => {}
        }
        let file = private::file().read(true).write(true).open(&path)?;
        Ok(Self { database: last.database, file: Arc::new(Mutex::new(file)), syncs: Arc::default() })
    }

    /// Writes down a change before it is answered. It is synced too, if the last sync was a while ago; else a sync follows
    /// within [`SYNC_EVERY`].
    ///
    /// # Errors
    /// A file that cannot be written.
    pub(super) async fn note(&self, n: i64) -> io::Result<()> {
        let (is_due, is_left) = {
            let mut syncs = self.syncs.lock().unwrap_or_else(PoisonError::into_inner);
            let is_due = syncs.last.is_none_or(|last| last.elapsed() >= SYNC_EVERY);
            if is_due {
                syncs.last = Some(Instant::now());
            }
            let is_left = !is_due && !syncs.is_planned;
            syncs.is_planned |= is_left;
            (is_due, is_left)
        };
        let this = self.clone();
        apart(move || {
            this.write(n)?;
            if is_due { this.sync() } else { Ok(()) }
        })
        .await?;
        if is_left {
            tokio::spawn(self.clone().sync_later());
        }
        Ok(())
    }

    async fn sync_later(self) {
        tokio::time::sleep(SYNC_EVERY).await;
        {
            let mut syncs = self.syncs.lock().unwrap_or_else(PoisonError::into_inner);
            *syncs = Syncs { last: Some(Instant::now()), is_planned: false };
        }
        if let Err(error) = apart(move || self.sync()).await {
            tracing::error!(error = error.to_string(), "the file that says what was acknowledged cannot be synced");
        }
    }

    /// Writes down a change. A later one that is there already stays: other processes may write too.
    fn write(&self, n: i64) -> io::Result<()> {
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        file.lock()?;
        let written = put(&mut file, Change { database: self.database, n });
        file.unlock()?;
        written
    }

    /// Puts on disk what was written.
    ///
    /// # Errors
    /// A file that cannot be synced.
    pub(super) fn sync(&self) -> io::Result<()> {
        let file = self.file.lock().unwrap_or_else(PoisonError::into_inner).try_clone()?;
        file.sync_data()
    }
}

async fn apart(work: impl FnOnce() -> io::Result<()> + Send + 'static) -> io::Result<()> {
    tokio::task::spawn_blocking(work).await.unwrap_or_else(|error| Err(io::Error::other(error)))
}

/// Writes a change over the earlier of two records, unless the later is no earlier than it.
fn put(file: &mut File, change: Change) -> io::Result<()> {
    let mut bytes = Vec::with_capacity(2 * RECORD);
    file.rewind()?;
    file.read_to_end(&mut bytes)?;
    let place = match latest(&bytes) {
        Some((_, last)) if last.n >= change.n => return Ok(()),
        Some((place, _)) => 1 - place.min(1),
        None => 0,
    };
    file.seek(SeekFrom::Start((place * RECORD) as u64))?;
    file.write_all(change.record().as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_latest_change_is_read_and_a_record_that_was_cut_leaves_the_one_before() {
        let folder = tempfile::TempDir::new().expect("a folder");
        let path = folder.path().join("league.sqlite");
        let change = |n| Change { database: Uuid::from_u128(7), n };
        assert_eq!(read(&beside(&path)).expect("no file"), None);
        let file = Acknowledged::open(&path, change(3)).expect("made");
        for n in [4, 5, 6, 5] {
            file.write(n).expect("written");
        }
        let other = Acknowledged::open(&path, change(3)).expect("it is there");
        other.write(5).expect("written");
        assert_eq!(read(&beside(&path)).expect("read"), Some(change(6)), "an earlier change never replaces a later");
        let whole = std::fs::read(beside(&path)).expect("bytes");
        for cut in [0, 40, 140, RECORD - 1] {
            let mut torn = whole.clone();
            let (place, _) = latest(&whole).expect("a record");
            torn[place * RECORD + cut] = b'#';
            std::fs::write(beside(&path), &torn).expect("written");
            assert_eq!(read(&beside(&path)).expect("read"), Some(change(5)), "{cut}");
        }
        std::fs::write(beside(&path), "nothing of ours").expect("written");
        assert!(matches!(read(&beside(&path)), Err(StorageError::AcknowledgedUnreadable(_))));
    }

    #[test]
    fn only_a_database_that_holds_what_was_acknowledged_passes() {
        let folder = tempfile::TempDir::new().expect("a folder");
        let path = folder.path().join("league.sqlite");
        let change = |n| Change { database: Uuid::from_u128(7), n };
        compare(&path, None).expect("nothing was acknowledged");
        Acknowledged::open(&path, change(6)).expect("made");
        compare(&path, Some(change(6))).expect("all of it");
        compare(&path, Some(change(7))).expect("a change whose answer never left");
        assert!(matches!(compare(&path, Some(change(5))), Err(StorageError::Behind { found: 5, acknowledged: 6, .. })));
        assert!(matches!(compare(&path, None), Err(StorageError::Behind { found: 0, .. })));
        let other = Change { database: Uuid::from_u128(8), n: 9 };
        assert!(matches!(compare(&path, Some(other)), Err(StorageError::AnotherDatabase { .. })));
        forget(&path).expect("removed");
        compare(&path, Some(change(5))).expect("the loss was accepted");
    }
}
