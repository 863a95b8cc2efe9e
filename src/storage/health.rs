//! Whether a database still keeps what it acknowledges. A file of SQLite that was removed, replaced, made read-only or found
//! damaged takes no more changes: they would be lost with it.

use super::error::StorageError;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// What is known of a database; clones share it.
#[derive(Clone, Default)]
pub struct Health(Arc<Inner>);

#[derive(Default)]
struct Inner {
    /// The files that are open; none for a server of PostgreSQL.
    files: Vec<OpenFile>,
    /// What a statement found damaged. Only a restart clears it: it looks over the whole file.
    damage: Mutex<Option<String>>,
    is_stopping: AtomicBool,
    /// What the log was told last.
    logged: Mutex<Option<String>>,
}

/// A file by its path, and by what tells it from another one that comes to stand there.
struct OpenFile {
    path: PathBuf,
    identity: Identity,
}

/// Device and inode.
type Identity = (u64, u64);

#[cfg(unix)]
fn identity(path: &Path) -> io::Result<Identity> {
    use std::os::unix::fs::MetadataExt;
    std::fs::metadata(path).map(|data| (data.dev(), data.ino()))
}

#[cfg(not(unix))]
fn identity(path: &Path) -> io::Result<Identity> {
    std::fs::metadata(path).map(|_| (0, 0))
}

/// Says whether this process may write to a file. The file is not opened for it: closing it again would give up the locks
/// that SQLite holds on it (sqlite.org/howtocorrupt.html, 2.2).
fn is_writable(path: &Path) -> bool {
    let is_read_only = std::fs::metadata(path).is_ok_and(|data| data.permissions().readonly());
    #[cfg(unix)]
    let may_write =
        rustix::fs::accessat(rustix::fs::CWD, path, rustix::fs::Access::WRITE_OK, rustix::fs::AtFlags::EACCESS).is_ok();
    #[cfg(not(unix))]
    let may_write = true;
    may_write && !is_read_only
}

impl Health {
    /// Remembers the files that are open now.
    ///
    /// # Errors
    /// A file that is not there.
    pub(super) fn of_files(paths: &[&Path]) -> io::Result<Self> {
        let files = paths.iter().map(|path| Ok(OpenFile { path: path.to_path_buf(), identity: identity(path)? }));
        Ok(Self(Arc::new(Inner { files: files.collect::<io::Result<_>>()?, ..Inner::default() })))
    }

    /// Passes while changes can be kept.
    ///
    /// # Errors
    /// Why they cannot; it is logged once.
    pub(super) fn check(&self) -> Result<(), StorageError> {
        if self.0.is_stopping.load(Ordering::Relaxed) {
            return Err(StorageError::Busy);
        }
        self.state().inspect_err(|error| self.note(error))
    }

    /// Takes note of a change that was kept.
    pub(super) fn is_well(&self) {
        self.log(None);
    }

    /// Passes while the files that are open still stand at their paths.
    ///
    /// # Errors
    /// [`StorageError::Moved`].
    pub(super) fn check_place(&self) -> Result<(), StorageError> {
        let gone = self.0.files.iter().find(|file| identity(&file.path).ok() != Some(file.identity));
        gone.map_or(Ok(()), |file| Err(StorageError::Moved(file.path.clone())))
    }

    fn state(&self) -> Result<(), StorageError> {
        if let Some(what) = self.0.damage.lock().unwrap_or_else(PoisonError::into_inner).clone() {
            return Err(StorageError::Damaged(what));
        }
        self.check_place()?;
        let read_only = self.0.files.iter().find(|file| !is_writable(&file.path));
        read_only.map_or(Ok(()), |_| Err(StorageError::ReadOnly))
    }

    /// Takes note of a failure that concerns the whole database.
    pub(super) fn note(&self, error: &StorageError) {
        if let StorageError::Damaged(what) = error {
            self.0.damage.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert_with(|| what.clone());
        }
        if error.stops_changes() {
            self.log(Some(error));
        }
    }

    /// Says whether changes were refused since one was last kept.
    pub(super) fn is_stopped(&self) -> bool {
        self.0.logged.lock().unwrap_or_else(PoisonError::into_inner).is_some()
    }

    /// Has every later change refused: the server stops.
    pub(super) fn stop(&self) {
        self.0.is_stopping.store(true, Ordering::Relaxed);
    }

    /// Logs a failure once, and its end.
    fn log(&self, error: Option<&StorageError>) {
        let text = error.map(ToString::to_string);
        let mut logged = self.0.logged.lock().unwrap_or_else(PoisonError::into_inner);
        if *logged == text {
            return;
        }
        match &text {
            Some(error) => {
                let path = self.0.files.first().map(|file| file.path.display().to_string());
                tracing::error!(error, path, "the database takes no more changes");
            }
            None => tracing::info!("the database takes changes again"),
        }
        *logged = text;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn a_file_that_is_not_the_open_one_any_more_is_noticed_and_its_return_too() {
        let folder = tempfile::TempDir::new().expect("a folder");
        let [path, away] = ["league.sqlite", "away"].map(|name| folder.path().join(name));
        fs::write(&path, "rows").expect("written");
        let health = Health::of_files(&[&path]).expect("it is there");
        health.check().expect("nothing happened");
        fs::rename(&path, &away).expect("moved");
        assert!(matches!(health.check(), Err(StorageError::Moved(moved)) if moved == path));
        fs::write(&path, "rows").expect("written");
        assert!(matches!(health.check(), Err(StorageError::Moved(_))), "another file stands there");
        fs::rename(&away, &path).expect("moved back");
        health.check().expect("it is back");
        let mut permissions = fs::metadata(&path).expect("it is there").permissions();
        permissions.set_readonly(true);
        fs::set_permissions(&path, permissions).expect("set");
        assert!(matches!(health.check(), Err(StorageError::ReadOnly)));
    }

    #[test]
    fn damage_stays_known_until_a_restart() {
        let health = Health::default();
        health.note(&StorageError::Busy);
        health.check().expect("a busy database is not damaged");
        health.note(&StorageError::Damaged("malformed".into()));
        assert!(matches!(health.check(), Err(StorageError::Damaged(_))));
        assert!(matches!(health.clone().check(), Err(StorageError::Damaged(_))));
    }
}
