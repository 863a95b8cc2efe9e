//! Acts that outlast a restore: what erased a person, took a role or ended an account holds even where the database goes
//! back to an older state. They are written to a file outside the database, ids only, before they are answered.
//!
//! Each line of the file ends with a digest that covers the line and the digest of the line before it, so a line that was
//! cut off, changed or taken out is noticed. The database keeps the same acts: a server that starts completes the file.

use super::db::Conn;
use super::error::StorageError;
use super::journal::hex;
use super::private;
use super::store::Store;
use crate::domain::facts::Role;
use crate::domain::ids::{AccountId, MemberId};
use crate::{sql, values};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, HashSet};
use std::fs::{self, File};
use std::io::{self, Read, Write};
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

/// Why the file cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum LastingError {
    /// The file.
    #[error("{0} cannot be read or written")]
    Io(PathBuf, #[source] io::Error),
    /// Its last line does not end.
    #[error(
        "line {line} of {path} was cut off. Start the server of the database that wrote it: it completes the file. Or put a \
         whole copy of the file back. Where neither can be done, delete that line, and after the restore erase or demote by \
         hand whom the backup brings back"
    )]
    CutOff {
        /// The file.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
    },
    /// A line is not what was written, or does not follow from the one before it.
    #[error(
        "line {line} of {path} is damaged, or the line before it is missing: put a whole copy of the file back. If there is \
         none, move the file away and start the server: it writes a new file with the acts that the database knows. If the \
         database is lost too, restore with --without-lasting-acts and erase or demote by hand whom the backup brings back"
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
    },
    /// It lacks acts that a backup knows.
    #[error(
        "{path} lacks {missing} of the acts that the backup knows: it is another database's file, or an older copy. Name the \
         right file with --lasting-acts, or, if it is lost, say --without-lasting-acts and erase and demote by hand whom the \
         backup brings back"
    )]
    Lacks {
        /// The file.
        path: PathBuf,
        /// How many.
        missing: usize,
    },
}

/// The file that lasting acts are written to, if there is one.
#[derive(Clone, Debug, Default)]
pub struct LastingActs(pub Option<PathBuf>);

/// What a file lacked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Completed {
    /// A last line that was cut off, as it stood there.
    pub cut_off: Option<String>,
    /// How many acts of the database were added.
    pub added: usize,
    /// Acts of the file that the database does not know: their changes failed, or the database is an older state.
    pub unknown: Vec<Uuid>,
}

impl LastingActs {
    /// Returns the usual file: beside a database of SQLite; none for a server of PostgreSQL, which many share.
    pub fn beside(store: &Store) -> Self {
        match store {
            Store::File(path) => Self(Some(PathBuf::from(format!("{}.lasting-acts", path.display())))),
            Store::Server(_) => Self(None),
        }
    }

    /// Makes the file if it is not there, takes off a last line that was cut off, and adds what the database knows and the
    /// file lacks.
    ///
    /// # Errors
    /// A failed database; a file that cannot be written; one that is damaged before its end.
    pub async fn complete(&self, conn: &mut Conn) -> Result<Result<Completed, LastingError>, StorageError> {
        let Some(path) = self.0.clone() else { return Ok(Ok(Completed::default())) };
        let known = known(conn).await?;
        Ok(apart(self.0.clone(), move || complete(&path, &known)).await)
    }

    /// Notes an act in the database and writes it to the file; when this returns, the file is on disk. The last step of a
    /// change: whatever may still be refused comes before.
    ///
    /// # Errors
    /// A failed database; [`StorageError::LastingActs`] for a file that cannot be written.
    pub async fn note(&self, conn: &mut Conn, deed: Deed, at: Timestamp) -> Result<(), StorageError> {
        let act = LastingAct { id: Uuid::now_v7(), at, deed };
        know(conn, &act).await?;
        let Some(path) = self.0.clone() else { return Ok(()) };
        let mut written = apart(self.0.clone(), move || append(&path, &act)).await;
        // Another server was stopped while it wrote.
        if matches!(written, Err(LastingError::CutOff { .. })) {
            written = self.complete(conn).await?.map(drop);
        }
        written.map_err(|error| StorageError::LastingActs(io::Error::other(error)))
    }

    /// Reads the acts that a restored database does not know: those of the file, and those of the later state whose place
    /// it takes.
    ///
    /// # Errors
    /// A failed database; a file that is cut off, damaged or another database's.
    pub async fn unknown_to(
        &self,
        conn: &mut Conn,
        later: Vec<LastingAct>,
    ) -> Result<Result<Vec<LastingAct>, LastingError>, StorageError> {
        let known: HashSet<Uuid> = known(conn).await?.into_iter().map(|act| act.id).collect();
        let mut acts: BTreeMap<Uuid, LastingAct> = later.into_iter().map(|act| (act.id, act)).collect();
        if let Some(path) = &self.0 {
            let of_file = match read(path) {
                Ok(acts) => acts,
                Err(error) => return Ok(Err(error)),
            };
            let missing = known.len() - of_file.iter().filter(|act| known.contains(&act.id)).count();
            if missing > 0 {
                return Ok(Err(LastingError::Lacks { path: path.clone(), missing }));
            }
            acts.extend(of_file.into_iter().map(|act| (act.id, act)));
        }
        Ok(Ok(acts.into_values().filter(|act| !known.contains(&act.id)).collect()))
    }
}

/// Runs what waits for the disk beside the tasks.
async fn apart<T: Send + 'static>(
    path: Option<PathBuf>,
    work: impl FnOnce() -> Result<T, LastingError> + Send + 'static,
) -> Result<T, LastingError> {
    let done = tokio::task::spawn_blocking(work).await;
    done.unwrap_or_else(|error| Err(LastingError::Io(path.unwrap_or_default(), io::Error::other(error))))
}

/// Notes in the database that an act was done in it.
///
/// # Errors
/// A failed database.
pub async fn know(conn: &mut Conn, act: &LastingAct) -> Result<(), StorageError> {
    conn.run(sql!("lasting_act_insert"), values![act.id, text(act)]).await?;
    Ok(())
}

/// Reads the acts that a database knows, in the order in which they were done.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn known(conn: &mut Conn) -> Result<Vec<LastingAct>, StorageError> {
    conn.rows(sql!("lasting_act_list"), values![]).await?.iter().map(|row| row.json("lasting_acts", "body")).collect()
}

fn text(act: &LastingAct) -> String {
    serde_json::to_string(act).expect("an act is plain values with text keys")
}

/// What stands between an act and its digest, and after the digest.
const DIGEST: (&str, &str) = (",\"digest\":\"", "\"}");

/// A file as it was read.
#[derive(Debug, Default)]
struct Contents {
    acts: Vec<LastingAct>,
    /// The digest of the last whole line; empty before the first.
    digest: String,
    /// How many bytes the whole lines are.
    whole: usize,
    /// What follows them.
    cut_off: Option<String>,
}

impl Contents {
    fn of(path: &Path, bytes: &[u8]) -> Result<Self, LastingError> {
        let mut contents = Self::default();
        for line in bytes.split_inclusive(|byte| *byte == b'\n') {
            let Some(line) = line.strip_suffix(b"\n") else {
                contents.cut_off = Some(String::from_utf8_lossy(line).into_owned());
                break;
            };
            let act = str::from_utf8(line).ok().and_then(|line| contents.follow(line));
            let Some(act) = act else {
                return Err(LastingError::Damaged { path: path.to_owned(), line: contents.acts.len() + 1 });
            };
            contents.acts.push(act);
            contents.whole += line.len() + 1;
        }
        Ok(contents)
    }

    /// Reads a line that follows from those before it.
    fn follow(&mut self, line: &str) -> Option<LastingAct> {
        let (open, digest) = line.strip_suffix(DIGEST.1)?.rsplit_once(DIGEST.0)?;
        let text = format!("{open}}}");
        let due = link(&self.digest, &text);
        if due != digest {
            return None;
        }
        self.digest = due;
        serde_json::from_str(&text).ok()
    }

    /// Returns the next line.
    fn next(&mut self, act: &LastingAct) -> String {
        let text = text(act);
        self.digest = link(&self.digest, &text);
        let open = text.strip_suffix('}').unwrap_or(&text);
        format!("{open}{}{}{}\n", DIGEST.0, self.digest, DIGEST.1)
    }
}

/// Returns the digest of a line: SHA-256 over the digest before it and the act.
fn link(before: &str, text: &str) -> String {
    hex(&Sha256::new().chain_update(before).chain_update(text).finalize())
}

/// A file that nobody else writes until it is dropped.
struct Held {
    file: File,
    contents: Contents,
}

impl Held {
    fn open(path: &Path) -> Result<Self, LastingError> {
        let failed = |error| LastingError::Io(path.to_owned(), error);
        let is_new = !path.exists();
        let mut file = private::file().read(true).append(true).create(true).open(path).map_err(failed)?;
        if is_new {
            private::sync_name(path).map_err(failed)?;
        }
        match file.lock() {
            // A file system without locks: one server writes there.
            Err(error) if error.kind() != io::ErrorKind::Unsupported => return Err(failed(error)),
            _ => {}
        }
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(failed)?;
        Ok(Self { contents: Contents::of(path, &bytes)?, file })
    }

    /// Puts acts after the whole lines. What could be written in part only is taken back.
    fn add<'a>(&mut self, acts: impl IntoIterator<Item = &'a LastingAct>) -> io::Result<()> {
        let whole = self.contents.whole as u64;
        if self.contents.cut_off.is_some() {
            self.file.set_len(whole)?;
        }
        let lines: String = acts.into_iter().map(|act| self.contents.next(act)).collect();
        let written = self.file.write_all(lines.as_bytes()).and_then(|()| self.file.sync_data());
        if written.is_err() {
            let _ = self.file.set_len(whole);
        }
        written
    }
}

fn append(path: &Path, act: &LastingAct) -> Result<(), LastingError> {
    let mut held = Held::open(path)?;
    if held.contents.cut_off.is_some() {
        return Err(LastingError::CutOff { path: path.to_owned(), line: held.contents.acts.len() + 1 });
    }
    held.add([act]).map_err(|error| LastingError::Io(path.to_owned(), error))
}

fn complete(path: &Path, known: &[LastingAct]) -> Result<Completed, LastingError> {
    let mut held = Held::open(path)?;
    let there: HashSet<Uuid> = held.contents.acts.iter().map(|act| act.id).collect();
    let missing: Vec<&LastingAct> = known.iter().filter(|act| !there.contains(&act.id)).collect();
    let known: HashSet<Uuid> = known.iter().map(|act| act.id).collect();
    let unknown = held.contents.acts.iter().map(|act| act.id).filter(|id| !known.contains(id)).collect();
    let completed = Completed { cut_off: held.contents.cut_off.clone(), added: missing.len(), unknown };
    if completed.cut_off.is_some() || !missing.is_empty() {
        held.add(missing).map_err(|error| LastingError::Io(path.to_owned(), error))?;
    }
    Ok(completed)
}

/// Reads all acts of a file that is whole.
fn read(path: &Path) -> Result<Vec<LastingAct>, LastingError> {
    let bytes = fs::read(path).map_err(|source| LastingError::Io(path.to_owned(), source))?;
    let contents = Contents::of(path, &bytes)?;
    match contents.cut_off {
        Some(_) => Err(LastingError::CutOff { path: path.to_owned(), line: contents.acts.len() + 1 }),
        None => Ok(contents.acts),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn act(deed: Deed) -> LastingAct {
        LastingAct { id: Uuid::now_v7(), at: "2027-01-14T20:15:00Z".parse().expect("a time"), deed }
    }

    /// A file with three acts.
    fn written() -> (tempfile::TempDir, PathBuf, [LastingAct; 3]) {
        let folder = tempfile::TempDir::new().expect("a folder");
        let path = folder.path().join("acts");
        let acts = [
            act(Deed::EraseMember { member_id: MemberId(Uuid::now_v7()) }),
            act(Deed::Demote { member_id: MemberId(Uuid::now_v7()), role: Role::Player }),
            act(Deed::EndAccount { account_id: AccountId(Uuid::now_v7()) }),
        ];
        acts.iter().for_each(|act| append(&path, act).expect("written"));
        (folder, path, acts)
    }

    #[test]
    fn what_was_written_is_read() {
        let (_folder, path, acts) = written();
        assert_eq!(read(&path).expect("read"), acts);
    }

    /// Wherever the file ends, either the cut is seen or exactly the lines before it are read.
    #[test]
    fn a_cut_in_a_line_is_noticed_and_completed_from_the_database() {
        let (_folder, path, acts) = written();
        let whole = fs::read(&path).expect("read");
        for end in 0..whole.len() {
            fs::write(&path, &whole[..end]).expect("cut");
            let lines = whole[..end].iter().filter(|byte| **byte == b'\n').count();
            if end == 0 || whole[end - 1] == b'\n' {
                assert_eq!(read(&path).expect("read"), acts[..lines]);
            } else {
                let told = read(&path).expect_err("it is cut off").to_string();
                assert!(told.contains(&format!("line {} of {}", lines + 1, path.display())), "{told}");
                let refused = append(&path, &acts[0]);
                assert!(matches!(refused, Err(LastingError::CutOff { .. })), "{refused:?}");
            }
            let completed = complete(&path, &acts).expect("completed");
            assert_eq!((completed.added, completed.unknown), (3 - lines, vec![]));
            assert_eq!(fs::read(&path).expect("read"), whole, "as it was before byte {end}");
        }
    }

    #[test]
    fn every_changed_byte_and_every_missing_line_is_noticed() {
        let (_folder, path, acts) = written();
        let whole = fs::read(&path).expect("read");
        for place in 0..whole.len() - 1 {
            let mut changed = whole.clone();
            changed[place] ^= 1;
            fs::write(&path, changed).expect("changed");
            assert!(matches!(read(&path), Err(LastingError::Damaged { .. })), "byte {place}");
            assert!(complete(&path, &acts).is_err(), "byte {place}");
        }
        let lines: Vec<&[u8]> = whole.split_inclusive(|byte| *byte == b'\n').collect();
        for (gone, line) in [(0, 1), (1, 2)] {
            let left: Vec<u8> =
                lines.iter().enumerate().filter(|(n, _)| *n != gone).flat_map(|(_, l)| *l).copied().collect();
            fs::write(&path, left).expect("shortened");
            assert!(matches!(read(&path), Err(LastingError::Damaged { line: at, .. }) if at == line), "without {gone}");
        }
    }

    #[test]
    fn acts_that_the_database_does_not_know_are_told() {
        let (_folder, path, acts) = written();
        let completed = complete(&path, &acts[..2]).expect("completed");
        assert_eq!(completed, Completed { unknown: vec![acts[2].id], ..Completed::default() });
        assert_eq!(read(&path).expect("read"), acts);
    }
}
