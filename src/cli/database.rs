//! The database that a command works on.

use anyhow::{Context, bail};
use std::path::PathBuf;

/// The word for the database.
#[derive(Clone, Debug, clap::Args)]
pub struct DatabaseArg {
    /// The database, sqlite:PATH; without it a file under the user's data folder
    #[arg(long, value_name = "URL", env = "EVENFIELD_DATABASE")]
    pub database: Option<String>,
}

impl DatabaseArg {
    /// Returns the database file.
    ///
    /// # Errors
    /// Another kind of database; no data folder.
    pub fn path(&self) -> anyhow::Result<PathBuf> {
        match self.database.as_deref() {
            Some(url) if url.starts_with("postgres:") || url.starts_with("postgresql:") => {
                bail!("this version keeps its data in SQLite: say sqlite:PATH")
            }
            Some(url) => {
                let path = url.strip_prefix("sqlite://").or_else(|| url.strip_prefix("sqlite:")).unwrap_or(url);
                if path.is_empty() {
                    bail!("sqlite: needs a path, as in sqlite:/srv/evenfield/league.sqlite");
                }
                Ok(PathBuf::from(path))
            }
            None => {
                let home = || std::env::var_os("HOME").map(|home| PathBuf::from(home).join(".local/share"));
                let data = std::env::var_os("XDG_DATA_HOME").map(PathBuf::from).filter(|path| path.is_absolute());
                let folder = data.or_else(home).context("there is no data folder: say --database sqlite:PATH")?;
                Ok(folder.join("evenfield").join("evenfield.sqlite"))
            }
        }
    }

    /// Returns the database file of a command that needs one that is there.
    ///
    /// # Errors
    /// A file that is not there.
    pub fn existing(&self) -> anyhow::Result<PathBuf> {
        let path = self.path()?;
        if !path.is_file() {
            bail!("there is no database at {}", path.display());
        }
        Ok(path)
    }
}
