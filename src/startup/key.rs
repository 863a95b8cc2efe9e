//! The keys of a server: what tokens are signed with, and heads of journals. Each is in a file that its owner alone can
//! read, or on PostgreSQL in a row that every server of the database shares.

use super::{Options, StartError};
use crate::accounts::random;
use crate::accounts::token::{Key, KeyError};
use crate::storage::heads::HeadKey;
use crate::storage::{Database, Store, private, secrets};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Reads the key that tokens are signed with, or makes one at the first start.
pub(super) async fn signing_key(options: &Options, database: &Database) -> Result<Key, StartError> {
    let file = file(options.signing_key.as_ref(), &options.database, "key");
    let text = kept(file.as_deref(), database, "signing key", Key::generate()?.expose()).await?;
    Key::parse(&text).map_err(|error| unfit(file, error))
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
    let failed = |what: &str, source| StartError::Io { what: format!("{} cannot be {what}", path.display()), source };
    match fs::read_to_string(path) {
        Ok(_) if is_open(path) => Err(StartError::OpenKey(path.to_owned())),
        Ok(text) => Ok(text),
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            write_private(path, &fresh).map_err(|source| failed("written", source))?;
            Ok(fresh)
        }
        Err(source) => Err(failed("read", source)),
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

fn write_private(path: &Path, text: &str) -> io::Result<()> {
    use std::io::Write;
    let mut file = private::file().write(true).create_new(true).open(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
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
}
