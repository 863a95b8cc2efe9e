//! The database that a command works on.

use crate::storage::Store;
use anyhow::{Context, bail};
use std::path::PathBuf;

/// The word for the database.
#[derive(Clone, Debug, clap::Args)]
pub struct DatabaseArg {
    /// The database, sqlite:PATH or postgres://…; without it a file under the user's data folder
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
            Store::File(path) if !path.is_file() => bail!("there is no database at {}", path.display()),
            _ => Ok(store),
        }
    }
}
