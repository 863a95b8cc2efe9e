//! The key that tokens are signed with: in a file that its owner alone can read, or on PostgreSQL in a row that every
//! server of the database shares.

use super::{Options, StartError};
use crate::accounts::token::Key;
use crate::storage::{Database, Store, private, secrets};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Reads the signing key, or makes one at the first start.
pub(super) async fn signing_key(options: &Options, database: &Database) -> Result<Key, StartError> {
    match (&options.signing_key, &options.database) {
        (Some(path), _) => in_file(path),
        (None, Store::File(path)) => in_file(&PathBuf::from(format!("{}.key", path.display()))),
        (None, Store::Server(_)) => {
            let mut conn = database.writer().await?;
            let text = secrets::shared(&mut conn, "signing key", &Key::generate()?.expose()).await?;
            Key::parse(&text).map_err(StartError::SharedKey)
        }
    }
}

fn in_file(path: &Path) -> Result<Key, StartError> {
    let failed = |what: &str, source| StartError::Io { what: format!("{} cannot be {what}", path.display()), source };
    match fs::read_to_string(path) {
        Ok(text) => {
            if is_open(path) {
                return Err(StartError::OpenKey(path.to_owned()));
            }
            Key::parse(&text).map_err(|error| StartError::Key(path.to_owned(), error))
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            let key = Key::generate()?;
            write_private(path, &key.expose()).map_err(|source| failed("written", source))?;
            Ok(key)
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
        let made = in_file(&path).expect("a key is made").expose();
        assert_eq!(in_file(&path).expect("it is read").expose(), made);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).expect("its mode is set");
            assert!(matches!(in_file(&path), Err(StartError::OpenKey(_))));
        }
        fs::remove_file(&path).expect("it is there");
    }
}
