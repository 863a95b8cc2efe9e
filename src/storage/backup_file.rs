//! A backup is one file: a line with the digest of everything after it, a line with the manifest as JSON, and then a
//! database of SQLite as it is, whichever database it was taken from.

use super::heads::{HeadKey, SignedHead};
use super::journal::{Head, hex};
use super::private;
use crate::domain::ids::LeagueId;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, BufRead, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::Path;
use uuid::Uuid;

/// How the first line begins: what it is, and the form of what follows.
pub const MAGIC: &str = "evenfield-backup 1 ";
/// The length of the first line: the beginning, a digest in hexadecimal, the end of the line.
const FIRST_LINE: usize = MAGIC.len() + 64 + 1;
/// No manifest is longer.
const LONGEST_MANIFEST: u64 = 64 * 1024 * 1024;

/// What a backup holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest {
    /// When it was made.
    pub made_at: Timestamp,
    /// The version of the program that made it.
    pub program: String,
    /// The number of its last migration.
    pub schema: i64,
    /// How many rows each table has.
    pub counts: BTreeMap<String, i64>,
    /// The head of each league's journal.
    pub heads: Vec<LeagueHead>,
    /// The last signed heads; none in backups of earlier programs.
    #[serde(default)]
    pub signed_heads: Vec<SignedHead>,
}

/// The head of a league's journal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeagueHead {
    /// The league.
    pub league_id: Uuid,
    /// The number of the last entry; 0 before the first.
    pub n: i64,
    /// Its hash in hexadecimal.
    pub hash: String,
}

impl LeagueHead {
    /// Signs it; nothing to sign before the first entry.
    pub fn signed(&self, key: &HeadKey, at: Timestamp) -> Option<SignedHead> {
        let hash = data_encoding::HEXLOWER.decode(self.hash.as_bytes()).ok().filter(|hash| !hash.is_empty())?;
        Some(key.sign(LeagueId(self.league_id), &Head { n: self.n, hash }, at))
    }
}

/// Why a file is not taken for a backup.
#[derive(Debug, thiserror::Error)]
pub enum BackupFileError {
    /// It cannot be read or written.
    #[error("the backup cannot be read or written")]
    Io(#[from] io::Error),
    /// It begins like something else.
    #[error("this is no backup that evenfield made")]
    Foreign,
    /// Its bytes are not those that were written.
    #[error("the backup is damaged: its bytes do not have the digest that stands in its first line")]
    Damaged,
    /// Its manifest is not one.
    #[error("the backup's manifest cannot be read")]
    Manifest(#[source] serde_json::Error),
}

/// Hashes what passes through.
struct Hashing<W> {
    to: W,
    hash: Sha256,
}

impl<W: Write> Write for Hashing<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let n = self.to.write(bytes)?;
        self.hash.update(&bytes[..n]);
        Ok(n)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}

fn first_line(digest: &[u8]) -> String {
    format!("{MAGIC}{}\n", hex(digest))
}

/// Writes a backup of a manifest and a database; it is on disk when this returns. Its owner alone can read it.
///
/// # Errors
/// A file that cannot be read or written, or that is there already.
pub fn write(path: &Path, manifest: &Manifest, database: &Path) -> Result<(), BackupFileError> {
    let mut file = private::file().write(true).create_new(true).open(path)?;
    file.write_all(first_line(&[0; 32]).as_bytes())?;
    let mut rest = Hashing { to: BufWriter::new(file), hash: Sha256::new() };
    serde_json::to_writer(&mut rest, manifest).map_err(BackupFileError::Manifest)?;
    rest.write_all(b"\n")?;
    io::copy(&mut File::open(database)?, &mut rest)?;
    let Hashing { to, hash } = rest;
    let digest = hash.finalize();
    let mut file = to.into_inner().map_err(io::IntoInnerError::into_error)?;
    file.seek(SeekFrom::Start(0))?;
    file.write_all(first_line(&digest).as_bytes())?;
    Ok(file.sync_all()?)
}

/// Reads a backup and writes its database to another file, once every byte has the digest of the first line.
///
/// # Errors
/// A file that is no backup or is damaged; one that cannot be read or written.
pub fn unpack(path: &Path, database: &Path) -> Result<Manifest, BackupFileError> {
    let mut file = File::open(path)?;
    let mut first = [0; FIRST_LINE];
    file.read_exact(&mut first).map_err(|_| BackupFileError::Foreign)?;
    if !first.starts_with(MAGIC.as_bytes()) {
        return Err(BackupFileError::Foreign);
    }
    let mut rest = Hashing { to: io::sink(), hash: Sha256::new() };
    io::copy(&mut file, &mut rest)?;
    if first != *first_line(&rest.hash.finalize()).as_bytes() {
        return Err(BackupFileError::Damaged);
    }
    file.seek(SeekFrom::Start(FIRST_LINE as u64))?;
    let mut file = BufReader::new(file);
    let mut line = Vec::new();
    file.by_ref().take(LONGEST_MANIFEST).read_until(b'\n', &mut line)?;
    let manifest = serde_json::from_slice(&line).map_err(BackupFileError::Manifest)?;
    let mut to = private::file().write(true).create_new(true).open(database)?;
    io::copy(&mut file, &mut to)?;
    to.sync_all()?;
    Ok(manifest)
}

/// Says whether a file begins as a backup does.
pub fn is_backup(path: &Path) -> bool {
    let mut first = [0; MAGIC.len()];
    File::open(path).and_then(|mut file| file.read_exact(&mut first)).is_ok() && first == *MAGIC.as_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn what_was_written_is_read_and_no_byte_may_change() {
        let folder = tempfile::TempDir::new().expect("a folder");
        let [path, database, out] = ["a.backup", "a.sqlite", "out.sqlite"].map(|name| folder.path().join(name));
        fs::write(&database, "rows\nand rows").expect("written");
        let manifest = Manifest {
            made_at: "2027-01-14T20:15:00Z".parse().expect("a time"),
            program: "0.1.0".into(),
            schema: 12,
            counts: BTreeMap::from([("rounds".into(), 3)]),
            heads: Vec::new(),
            signed_heads: Vec::new(),
        };
        write(&path, &manifest, &database).expect("written");
        assert!(matches!(write(&path, &manifest, &database), Err(BackupFileError::Io(_))), "nothing is overwritten");
        assert_eq!(unpack(&path, &out).expect("read"), manifest);
        assert_eq!(fs::read(&out).expect("read"), fs::read(&database).expect("read"));
        let good = fs::read(&path).expect("read");
        for place in 0..good.len() {
            let mut bad = good.clone();
            bad[place] ^= 1;
            fs::write(&path, bad).expect("written");
            let refused = unpack(&path, &folder.path().join("never"));
            assert!(
                matches!(refused, Err(BackupFileError::Foreign | BackupFileError::Damaged)),
                "{place}: {refused:?}"
            );
        }
        fs::write(&path, &good[..good.len() - 1]).expect("written");
        assert!(matches!(unpack(&path, &out), Err(BackupFileError::Damaged)), "a cut tail");
    }
}
