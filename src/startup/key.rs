//! The keys of a server: what tokens are signed with, and heads of journals. Each is in a file that its owner alone can
//! read, or on PostgreSQL in a row that every server of the database shares.

use super::{Options, StartError};
use crate::accounts::keys::{Key, KeyError, KeyRing};
use crate::accounts::random;
use crate::accounts::token::LiveKeys;
use crate::storage::heads::HeadKey;
use crate::storage::{Database, Store, private, secrets};
use crate::tasks::Retry;
use jiff::Timestamp;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// The row of the keys that tokens are signed with.
const SIGNING: &str = "signing key";
/// How often a server reads them again.
const AGAIN: Duration = Duration::from_secs(5);

/// Where the keys are that tokens are signed with: a file, or else the row.
#[derive(Clone, Debug)]
pub struct SigningKeys(Option<PathBuf>);

impl SigningKeys {
    pub(super) fn of(options: &Options) -> Self {
        Self::at(options.signing_key.as_ref(), &options.database)
    }

    /// Those in a file that was named, else those of a database.
    pub fn at(named: Option<&PathBuf>, store: &Store) -> Self {
        Self(file(named, store, "key"))
    }

    /// Reads them, or makes the first at the first start.
    pub(super) async fn ring_or_made(&self, database: &Database) -> Result<KeyRing, StartError> {
        let fresh = KeyRing::of(Key::generate()?).expose();
        self.parsed(&kept(self.0.as_deref(), database, SIGNING, fresh).await?)
    }

    fn parsed(&self, text: &str) -> Result<KeyRing, StartError> {
        KeyRing::parse(text).map_err(|error| unfit(self.0.clone(), error))
    }

    async fn ring(&self, database: &Database) -> Result<KeyRing, StartError> {
        let text = match &self.0 {
            Some(path) => read(path)?,
            None => secrets::get(&mut database.reader().await?, SIGNING).await?,
        };
        self.parsed(&text)
    }

    /// Has a new key sign soon: every server that runs reads it before.
    ///
    /// # Errors
    /// Keys that are not there or cannot be written.
    pub async fn rotate(&self, database: &Database, now: Timestamp) -> Result<KeyRing, StartError> {
        let before = self.ring(database).await?;
        let after = before.rotated(Key::generate()?, now);
        match &self.0 {
            Some(path) => private::replace(path, &after.expose()).map_err(|source| unwritten(path, source))?,
            None => secrets::replace(&mut database.writer().await?, SIGNING, &after.expose()).await?,
        }
        Ok(after)
    }

    /// Reads them again and again, for as long as the server runs.
    pub(super) async fn keep_up(self, database: Database, keys: Arc<LiveKeys>) {
        let mut retry = Retry::new("the keys for tokens cannot be read again, those that are known go on", AGAIN);
        let mut pause = AGAIN;
        loop {
            tokio::time::sleep(pause).await;
            pause = match self.ring(&database).await {
                Ok(ring) => {
                    if keys.go_on_with(&ring) {
                        tracing::info!("the keys for tokens were exchanged");
                    }
                    retry.succeeded();
                    AGAIN
                }
                Err(error) => retry.failed(format!("{:#}", anyhow::Error::new(error))),
            };
        }
    }
}

/// Reads the key that heads of journals are signed with, or makes one at the first start.
pub(super) async fn head_key(options: &Options, database: &Database) -> Result<HeadKey, StartError> {
    let file = file(options.journal_key.as_ref(), &options.database, "journal-key");
    if file.is_none() {
        tracing::warn!("without --journal-key whoever can change the database can sign heads of journals too");
    }
    let text = kept(file.as_deref(), database, "journal key", HeadKey::of(&random()?).expose()).await?;
    HeadKey::parse(&text).ok_or_else(|| unfit(file, KeyError::Form))
}

/// Returns the file of a key: the one that was named, or one beside a database of SQLite.
fn file(named: Option<&PathBuf>, store: &Store, ending: &str) -> Option<PathBuf> {
    match (named, store) {
        (Some(path), _) => Some(path.clone()),
        (None, Store::File(path)) => Some(PathBuf::from(format!("{}.{ending}", path.display()))),
        (None, Store::Server(_)) => None,
    }
}

fn unfit(file: Option<PathBuf>, error: KeyError) -> StartError {
    match file {
        Some(path) => StartError::Key(path, error),
        None => StartError::SharedKey(error),
    }
}

/// Returns what is kept of a key; `fresh`, where nothing was.
async fn kept(
    file: Option<&Path>,
    database: &Database,
    name: &'static str,
    fresh: String,
) -> Result<String, StartError> {
    match file {
        Some(path) => in_file(path, fresh),
        None => Ok(secrets::shared(&mut database.writer().await?, name, &fresh).await?),
    }
}

fn in_file(path: &Path, fresh: String) -> Result<String, StartError> {
    match read(path) {
        Err(StartError::Io { source, .. }) if source.kind() == io::ErrorKind::NotFound => {
            match private::create(path, &fresh) {
                Ok(()) => Ok(fresh),
                // Another server started at the same time and was first.
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => read(path),
                Err(source) => Err(unwritten(path, source)),
            }
        }
        outcome => outcome,
    }
}

fn unwritten(path: &Path, source: io::Error) -> StartError {
    StartError::Io { what: format!("{} cannot be written", path.display()), source }
}

fn read(path: &Path) -> Result<String, StartError> {
    match fs::read_to_string(path) {
        Ok(_) if is_open(path) => Err(StartError::OpenKey(path.to_owned())),
        Ok(text) => Ok(text),
        Err(source) => Err(StartError::Io { what: format!("{} cannot be read", path.display()), source }),
    }
}

#[cfg(unix)]
fn is_open(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt;
    fs::metadata(path).is_ok_and(|data| data.permissions().mode() & 0o077 != 0)
}

#[cfg(not(unix))]
fn is_open(_: &Path) -> bool {
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_file_is_made_once_and_only_its_owner_reads_it() {
        let path = std::env::temp_dir().join(format!("evenfield-{}.key", uuid::Uuid::new_v4().simple()));
        assert_eq!(in_file(&path, "one".into()).expect("a key is made"), "one");
        assert_eq!(in_file(&path, "another".into()).expect("it is read"), "one");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).expect("its mode is set");
            assert!(matches!(in_file(&path, "another".into()), Err(StartError::OpenKey(_))));
        }
        fs::remove_file(&path).expect("it is there");
    }

    #[test]
    fn of_servers_that_start_at_once_one_makes_the_key_and_all_have_it() {
        let folder = tempfile::TempDir::new().expect("a folder");
        let path = folder.path().join("key");
        let keys = std::thread::scope(|scope| {
            let starts: Vec<_> = (0..16)
                .map(|n| {
                    scope.spawn({
                        let path = &path;
                        move || in_file(path, format!("{n}").repeat(5000))
                    })
                })
                .collect();
            starts.into_iter().map(|start| start.join().expect("it ends").expect("a key")).collect::<Vec<_>>()
        });
        assert!(keys.iter().all(|key| *key == keys[0]), "they have different keys");
        assert_eq!(fs::read_dir(folder.path()).expect("the folder").count(), 1, "something is left lying about");
    }
}
