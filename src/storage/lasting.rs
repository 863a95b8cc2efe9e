//! Acts that outlast a restore: what erased a person, took a role or ended an account holds even where the database goes
//! back to an older state. They are written to a file outside the database, ids only, before they are answered.

use super::db::Conn;
use super::error::StorageError;
use super::private;
use super::store::Store;
use crate::domain::facts::Role;
use crate::domain::ids::{AccountId, MemberId};
use crate::{sql, values};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::collections::HashSet;
use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// An act that outlasts a restore.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "act", rename_all = "snake_case")]
pub enum Deed {
    /// A member was erased.
    EraseMember {
        /// Whose record it was.
        member_id: MemberId,
    },
    /// A member may do less than before.
    Demote {
        /// Whose record it is.
        member_id: MemberId,
        /// What was left.
        role: Role,
    },
    /// An account was ended.
    EndAccount {
        /// Which.
        account_id: AccountId,
    },
    /// An account got another password: the one before it must open nothing.
    ChangePassword {
        /// Which.
        account_id: AccountId,
    },
}

/// A line of the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LastingAct {
    /// Its id.
    pub id: Uuid,
    /// When it was done.
    pub at: Timestamp,
    /// What was done.
    #[serde(flatten)]
    pub deed: Deed,
}

/// Why the file could not be read.
#[derive(Debug, thiserror::Error)]
pub enum LastingError {
    /// The file.
    #[error("{0} cannot be read")]
    Io(PathBuf, #[source] io::Error),
    /// A line of it.
    #[error("line {line} of {path} is no lasting act")]
    Line {
        /// The file.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
        /// What is wrong with it.
        #[source]
        source: serde_json::Error,
    },
}

/// The file that lasting acts are written to, if there is one.
#[derive(Clone, Debug, Default)]
pub struct LastingActs(pub Option<PathBuf>);

impl LastingActs {
    /// Returns the usual file: beside a database of SQLite; none for a server of PostgreSQL, which many share.
    pub fn beside(store: &Store) -> Self {
        match store {
            Store::File(path) => Self(Some(PathBuf::from(format!("{}.lasting-acts", path.display())))),
            Store::Server(_) => Self(None),
        }
    }

    /// Makes the file if it is not there, so that one that is missing later was lost.
    ///
    /// # Errors
    /// A file that cannot be written.
    pub fn prepare(&self) -> io::Result<()> {
        self.0.as_deref().map_or(Ok(()), |path| opened(path).map(drop))
    }

    /// Notes an act in the database and writes it to the file; when this returns, the file is on disk. The last step of a
    /// change: whatever may still be refused comes before.
    ///
    /// # Errors
    /// A failed database; [`StorageError::LastingActs`] for a file that cannot be written.
    pub async fn note(&self, conn: &mut Conn, deed: Deed, at: Timestamp) -> Result<(), StorageError> {
        let act = LastingAct { id: Uuid::now_v7(), at, deed };
        know(conn, act.id).await?;
        let Some(path) = self.0.clone() else { return Ok(()) };
        let written = tokio::task::spawn_blocking(move || append(&path, &act)).await;
        written.unwrap_or_else(|error| Err(io::Error::other(error))).map_err(StorageError::LastingActs)
    }

    /// Reads the acts that a database does not know.
    ///
    /// # Errors
    /// A failed database, or a file that cannot be read.
    pub async fn unknown_to(&self, conn: &mut Conn) -> Result<Result<Vec<LastingAct>, LastingError>, StorageError> {
        let rows = conn.rows(sql!("lasting_act_list"), values![]).await?;
        let known: Result<HashSet<Uuid>, _> = rows.iter().map(|row| row.get("id")).collect();
        let known = known?;
        let acts = self.0.as_deref().map_or(Ok(Vec::new()), read);
        Ok(acts.map(|acts| acts.into_iter().filter(|act| !known.contains(&act.id)).collect()))
    }
}

/// Notes in the database that an act was done in it.
///
/// # Errors
/// A failed database.
pub async fn know(conn: &mut Conn, id: Uuid) -> Result<(), StorageError> {
    conn.run(sql!("lasting_act_insert"), values![id]).await?;
    Ok(())
}

fn opened(path: &Path) -> io::Result<File> {
    let is_new = !path.exists();
    let file = private::file().read(true).append(true).create(true).open(path)?;
    if is_new {
        private::sync_name(path)?;
    }
    Ok(file)
}

fn append(path: &Path, act: &LastingAct) -> io::Result<()> {
    let mut file = opened(path)?;
    let mut line = serde_json::to_string(act)?;
    line.push('\n');
    // A line that was torn off ends here.
    if file.seek(SeekFrom::End(0))? > 0 {
        file.seek(SeekFrom::End(-1))?;
        let mut last = [0];
        file.read_exact(&mut last)?;
        if last != *b"\n" {
            line.insert(0, '\n');
        }
    }
    file.write_all(line.as_bytes())?;
    file.sync_data()
}

/// Reads all acts of a file. A line that was torn off belongs to an act that was never answered, and is passed over.
fn read(path: &Path) -> Result<Vec<LastingAct>, LastingError> {
    let text = fs::read_to_string(path).map_err(|source| LastingError::Io(path.to_owned(), source))?;
    let lines = text.lines().enumerate().filter(|(_, line)| line.ends_with('}'));
    lines
        .map(|(n, line)| {
            serde_json::from_str(line).map_err(|source| LastingError::Line {
                path: path.to_owned(),
                line: n + 1,
                source,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn act(deed: Deed) -> LastingAct {
        LastingAct { id: Uuid::now_v7(), at: "2027-01-14T20:15:00Z".parse().expect("a time"), deed }
    }

    #[test]
    fn what_was_written_is_read_and_a_torn_line_is_passed_over() {
        let folder = tempfile::TempDir::new().expect("a folder");
        let path = folder.path().join("acts");
        let acts = [
            act(Deed::EraseMember { member_id: MemberId(Uuid::now_v7()) }),
            act(Deed::Demote { member_id: MemberId(Uuid::now_v7()), role: Role::Player }),
            act(Deed::EndAccount { account_id: AccountId(Uuid::now_v7()) }),
        ];
        append(&path, &acts[0]).expect("written");
        fs::write(&path, fs::read_to_string(&path).expect("text") + "{\"id\":\"0198").expect("torn");
        append(&path, &acts[1]).expect("written");
        append(&path, &acts[2]).expect("written");
        assert_eq!(read(&path).expect("read"), acts);
        fs::write(&path, "{\"id\":1}\n").expect("spoilt");
        assert!(matches!(read(&path), Err(LastingError::Line { line: 1, .. })));
    }
}
