//! The database that a command works on.

use crate::log::say;
use crate::storage::Store;
use anyhow::{Context, bail};
use std::fs;
use std::path::{Path, PathBuf};

/// The endings of what stands beside a database of SQLite and belongs to it.
pub(super) const BESIDE: [&str; 5] = ["-wal", ".key", ".journal-key", ".lasting-acts", ".acknowledged"];

/// The word for the database.
#[derive(Clone, Debug, clap::Args)]
pub struct DatabaseArg {
    /// The database, sqlite:PATH or postgres://… [default: a file in the user's data folder]
    #[arg(long, value_name = "URL", env = "EVENFIELD_DATABASE", hide_env_values = true)]
    pub database: Option<Store>,
}

impl DatabaseArg {
    /// Returns where the data is.
    ///
    /// # Errors
    /// No data folder.
    pub fn store(&self) -> anyhow::Result<Store> {
        if let Some(store) = &self.database {
            return Ok(store.clone());
        }
        let home = || std::env::var_os("HOME").map(|home| PathBuf::from(home).join(".local/share"));
        let data = std::env::var_os("XDG_DATA_HOME").map(PathBuf::from).filter(|path| path.is_absolute());
        let folder = data.or_else(home).context("there is no data folder: say --database sqlite:PATH")?;
        Ok(Store::File(folder.join("evenfield").join("evenfield.sqlite")))
    }

    /// Returns where the data is of a command that needs a database that is there.
    ///
    /// # Errors
    /// A file that is not there.
    pub fn existing(&self) -> anyhow::Result<Store> {
        let store = self.store()?;
        match &store {
            Store::File(path) if !path.is_file() => {
                bail!("there is no database at {}: check --database", path.display())
            }
            _ => Ok(store),
        }
    }
}

/// The word for the database of a command that can make one.
#[derive(Clone, Debug, clap::Args)]
pub struct NewDatabaseArg {
    #[command(flatten)]
    database: DatabaseArg,
    /// Create the SQLite database that --database names if it does not exist
    #[arg(long, env = "EVENFIELD_CREATE")]
    create: bool,
}

impl NewDatabaseArg {
    /// Returns where the data is. A path that looks mistyped is refused: an empty league server would come of it.
    ///
    /// # Errors
    /// A database that is not there and is not to be made; a folder that is not there; files beside the path that belong
    /// to a database.
    pub fn store(&self) -> anyhow::Result<Store> {
        let store = self.database.store()?;
        let Store::File(path) = &store else { return Ok(store) };
        if fs::metadata(path).is_ok_and(|data| data.len() > 0) {
            return Ok(store);
        }
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let is_named = self.database.database.is_some();
        if is_named && !folder.is_dir() {
            bail!("there is no folder {}: check --database, or create the folder first", folder.display());
        }
        if let Some(left) = left_beside(path) {
            bail!(
                "there is no database at {}, but {} belongs to one: check --database, put the lost file back, or restore \
                 a backup (evenfield restore); to start from scratch, move the files {}* to another folder",
                path.display(),
                left.display(),
                path.display()
            );
        }
        if let Some(other) = other_in(folder) {
            bail!(
                "there is no database at {}, but there is one at {}: check --database; a second database needs a folder of \
                 its own",
                path.display(),
                other.display()
            );
        }
        if is_named && !self.create {
            bail!("there is no database at {}: check --database, or add --create to make a new one", path.display());
        }
        say(format_args!("creating a new, empty database at {}", path.display()));
        Ok(store)
    }
}

/// Finds a file that belongs to a database at a path.
fn left_beside(path: &Path) -> Option<PathBuf> {
    let beside = BESIDE.iter().map(|ending| PathBuf::from(format!("{}{ending}", path.display())));
    beside.into_iter().find(|file| file.exists())
}

/// Finds a database in a folder by a file beside it.
fn other_in(folder: &Path) -> Option<PathBuf> {
    let files = fs::read_dir(folder).ok()?.flatten().map(|file| file.path());
    let names = files.filter_map(|file| Some(PathBuf::from(file.to_str()?.strip_suffix(".acknowledged")?)));
    names.into_iter().find(|database| database.is_file())
}
