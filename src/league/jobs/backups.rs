//! Backups: one file with everything that the database holds, and the way back.

use crate::accounts::password::NO_PASSWORD;
use crate::domain::facts::Role;
use crate::domain::ids::{LeagueId, MemberId};
use crate::league::account::register;
use crate::league::member::change;
use crate::league::{Clock, Leagues, Refusal};
use crate::storage::backup::{self, CopyError};
use crate::storage::backup_file::{self, BackupFileError, LeagueHead, Manifest};
use crate::storage::lasting::{self, Deed, LastingAct, LastingActs, LastingError};
use crate::storage::secret_addresses;
use crate::storage::sqlite::{knows_schema, log_of};
use crate::storage::{
    Conn, Database, Scope, StorageError, Store, Writer, accounts as stored_accounts, acknowledged, journal,
    members as stored, private,
};
use crate::{change, sql, values};
use jiff::Timestamp;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// Why a backup was not made or not restored.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// It may not be done so; what to do instead.
    #[error("{0}")]
    Refused(String),
    /// The backup's file.
    #[error(transparent)]
    File(#[from] BackupFileError),
    /// The copy.
    #[error(transparent)]
    Copy(#[from] CopyError),
    /// The file of lasting acts.
    #[error(transparent)]
    Lasting(#[from] LastingError),
    /// What was restored does not follow from its raw records; nothing was put in place.
    #[error("what the backup holds does not follow from its raw records: {}", .0.join("; "))]
    Differences(Vec<String>),
    /// A file or folder.
    #[error("{0} cannot be written")]
    Io(PathBuf, #[source] io::Error),
    /// Anything else.
    #[error(transparent)]
    Refusal(#[from] Refusal),
}

impl From<StorageError> for BackupError {
    fn from(error: StorageError) -> Self {
        Refusal::from(error).into()
    }
}

/// What a restore did.
#[derive(Debug)]
pub struct Restored {
    /// What the backup holds.
    pub manifest: Manifest,
    /// What was done again because it came later than the backup.
    pub done_again: Vec<LastingAct>,
    /// Codes for leagues that nobody can organize.
    pub codes: Vec<OrganizerCode>,
    /// Where the file is that stood in its place.
    pub aside: Option<PathBuf>,
}

/// A code for organizing a league.
#[derive(Debug)]
pub struct OrganizerCode {
    /// The league.
    pub league: LeagueId,
    /// Its name.
    pub name: String,
    /// The record that it claims; none: it joins.
    pub member: Option<MemberId>,
    /// The code.
    pub code: String,
}

/// What a restore is told.
pub struct RestoreTerms {
    /// The backup.
    pub file: PathBuf,
    /// Where it goes.
    pub store: Store,
    /// What must hold however old the backup is.
    pub lasting: LastingActs,
    /// Whether it may take the place of a later state of the same database.
    pub replace: bool,
    /// The time.
    pub clock: Clock,
}

/// A folder for what is in the making, which nobody else can look into; it goes when this is dropped. A process that is
/// killed leaves it behind, with a whole copy of the database in it: the next one removes it.
struct Making {
    folder: PathBuf,
    /// Locked for as long as somebody works in the folder.
    _in_use: File,
}

/// What stands between a file's name and the random end of the name of such a folder.
const MAKING: &str = ".making-";
/// The file in it that is locked.
const IN_USE: &str = "in-use";

impl Making {
    fn beside(path: &Path) -> Result<Self, BackupError> {
        if let Some(folder) = path.parent() {
            remove_leftovers(folder);
        }
        let folder = PathBuf::from(format!("{}{MAKING}{}", path.display(), Uuid::new_v4().simple()));
        let failed = |error| BackupError::Io(folder.clone(), error);
        private::folder(&folder).map_err(failed)?;
        let in_use = private::file().write(true).create_new(true).open(folder.join(IN_USE)).map_err(failed)?;
        in_use.lock().map_err(failed)?;
        Ok(Self { folder, _in_use: in_use })
    }

    fn file(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }
}

impl Drop for Making {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.folder);
    }
}

/// Removes what backups and restores that were killed left in a folder: copies of all that the database held.
pub fn remove_leftovers(folder: &Path) {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    for left in fs::read_dir(folder).into_iter().flatten().flatten().map(|file| file.path()) {
        let name = left.file_name().unwrap_or_default().to_string_lossy();
        let is_ours = name.rsplit_once(MAKING).is_some_and(|(_, end)| Uuid::try_parse(end).is_ok());
        let Ok(in_use) = File::open(left.join(IN_USE)) else { continue };
        if is_ours && in_use.try_lock().is_ok() {
            let path = left.display().to_string();
            match fs::remove_dir_all(&left) {
                Ok(()) => tracing::info!(path, "what a killed backup or restore left was removed"),
                Err(error) => tracing::warn!(path, error = error.to_string(), "a leftover cannot be removed"),
            }
        }
    }
}

/// Puts a finished file in its place: it is there with its name on disk when this returns.
fn put(from: &Path, to: &Path) -> Result<(), BackupError> {
    let done = fs::rename(from, to).and_then(|()| private::sync_name(to));
    done.map_err(|error| BackupError::Io(to.to_owned(), error))
}

async fn apart<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, BackupFileError> + Send + 'static,
) -> Result<T, BackupError> {
    let done = tokio::task::spawn_blocking(work).await;
    Ok(done.unwrap_or_else(|error| Err(io::Error::other(error).into()))?)
}

impl Leagues {
    /// Writes a backup while others read and write, and succeeds only once the finished file was read again, unpacked and
    /// found to hold what its manifest says.
    ///
    /// # Errors
    /// A file that is there already or cannot be written; a failed database; a copy that is not sound.
    pub async fn backup(&self, file: &Path) -> Result<Manifest, BackupError> {
        if file.exists() {
            let text = format!("{} is there already: a backup overwrites nothing", file.display());
            return Err(BackupError::Refused(text));
        }
        let making = Making::beside(file)?;
        let [rows, packed, unpacked] = ["rows", "packed", "unpacked"].map(|name| making.file(name));
        backup::copy_out(&self.database, &rows).await?;
        let manifest = backup::manifest(&rows, self.now()).await?;
        let signed_heads = match &self.head_key {
            Some(key) => manifest.heads.iter().filter_map(|head| head.signed(key, manifest.made_at)).collect(),
            None => backup::signed_heads(&rows).await?,
        };
        let manifest = Manifest { signed_heads, ..manifest };
        let (to, written) = (packed.clone(), manifest.clone());
        apart(move || backup_file::write(&to, &written, &rows)).await?;
        let (from, to) = (packed.clone(), unpacked.clone());
        let read = apart(move || backup_file::unpack(&from, &to)).await?;
        backup::check(&unpacked, &read).await?;
        put(&packed, file)?;
        Ok(manifest)
    }

    /// Does to a restored copy what makes it fit to be served: nobody is signed in, no code is open, no tag of a page
    /// comes twice, and what was done later and must hold is done again.
    async fn settle(&self, acts: &[LastingAct]) -> Result<Vec<OrganizerCode>, Refusal> {
        let now = self.now();
        change!(self, Scope::Nothing, |conn| {
            conn.run(sql!("restored_commit_rename"), values![]).await?;
            conn.run(sql!("restored_session_delete"), values![]).await?;
            conn.run(sql!("restored_invitation_revoke"), values![now]).await?;
            secret_addresses::revoke_all(conn, now).await?;
            conn.run(sql!("restored_season_show_anew"), values![now.as_millisecond()]).await?;
            conn.run(sql!("restored_event_show_anew"), values![now.as_millisecond()]).await?;
            Ok::<_, Refusal>(())
        })?;
        for act in acts {
            let (this, act) = (self.clone(), *act);
            change!(self, Scope::Nothing, |conn| this.do_again(conn, act, now).await)?;
        }
        let mut codes = Vec::new();
        let rows = self.database.reader().await?.rows(sql!("restored_organizer_list"), values![]).await?;
        for row in rows {
            let (league, member) = (row.id("league_id")?, row.optional_id("member_id")?);
            let code = self.operator_code(Some((league, member, Role::Organizer))).await?;
            codes.push(OrganizerCode { league, name: row.get("name")?, member, code });
        }
        Ok(codes)
    }

    async fn do_again(&self, conn: &mut Conn, act: LastingAct, now: Timestamp) -> Result<(), Refusal> {
        match act.deed {
            Deed::EraseMember { member_id } => {
                let before = stored::get(conn, member_id).await?.filter(|member| !member.is_erased);
                if let Some(before) = before {
                    self.erase(conn, &before, member_id, None, now).await?;
                }
            }
            Deed::Demote { member_id, role } => {
                let before = stored::get(conn, member_id).await?;
                if let Some(before) = before.filter(|member| !member.is_erased && member.member.role > role) {
                    change::demote(conn, &before, role, now).await?;
                }
            }
            Deed::EndAccount { account_id } => register::end(conn, account_id, now).await?,
            Deed::ChangePassword { account_id } => stored_accounts::rehash(conn, account_id, NO_PASSWORD).await?,
        }
        Ok(lasting::know(conn, &act).await?)
    }
}

/// Restores a backup: unpacks it beside its place, checks it, does again what came later and must hold, derives everything
/// afresh and compares, and only then puts it in place.
///
/// # Errors
/// A damaged backup; a place that holds something else; a lost file of lasting acts; differences.
pub async fn restore(terms: RestoreTerms) -> Result<Restored, BackupError> {
    let RestoreTerms { file, store, lasting, replace, clock } = terms;
    if let Some(path) = lasting.0.as_deref().filter(|path| !path.is_file()) {
        return Err(BackupError::Refused(format!(
            "{} is not there: name the file of lasting acts with --lasting-acts, or, if it is lost, say \
             --without-lasting-acts and erase and demote by hand whom the backup brings back",
            path.display()
        )));
    }
    let place = if let Store::File(path) = &store { path.clone() } else { file.clone() };
    let making = Making::beside(&place)?;
    let staged = making.file("staged");
    let (from, to) = (file.clone(), staged.clone());
    let manifest = apart(move || backup_file::unpack(&from, &to)).await?;
    knows_schema(manifest.schema)?;
    backup::check(&staged, &manifest).await?;
    let standing = Standing::of(&store).await?;
    standing.gives_way(&manifest.heads, replace).await?;

    let database = Database::open_as_it_is(&Store::File(staged.clone())).await?;
    let writer = Writer::start(&database).await?;
    let leagues = Leagues::new(database, writer, clock);
    let done_again = lasting.unknown_to(&mut leagues.database.reader().await?, standing.acts().await?).await??;
    let codes = leagues.settle(&done_again).await?;
    let differences = leagues.verify().await?.differences;
    if !differences.is_empty() {
        return Err(BackupError::Differences(differences));
    }
    let now = leagues.now();
    leagues.database.close().await;
    drop(leagues);
    backup::whole(&staged).await?;
    let aside = standing.replaced_by(&staged, &store, now).await?;
    Ok(Restored { manifest, done_again, codes, aside })
}

/// Restores a backup to a place of its own beside it, as [`restore`] does, and deletes that again.
///
/// # Errors
/// As [`restore`].
pub async fn try_out(file: &Path, lasting: LastingActs, clock: Clock) -> Result<Restored, BackupError> {
    let making = Making::beside(file)?;
    let store = Store::File(making.file("tried.sqlite"));
    restore(RestoreTerms { file: file.to_owned(), store, lasting, replace: false, clock }).await
}

/// What stands where a backup goes.
struct Standing(Option<Database>);

impl Standing {
    async fn of(store: &Store) -> Result<Self, BackupError> {
        if let Store::File(path) = store
            && !path.exists()
        {
            return Ok(Self(None));
        }
        Ok(Self(Some(Database::open_as_it_is(store).await?)))
    }

    /// Reads the lasting acts that it knows.
    async fn acts(&self) -> Result<Vec<LastingAct>, BackupError> {
        match &self.0 {
            Some(database) => Ok(lasting::known(&mut database.reader().await?).await?),
            None => Ok(Vec::new()),
        }
    }

    /// Passes where there is nothing to lose, or, if that is asked for, a later state of what the backup holds: each of its
    /// leagues is there, and its journal goes on from where the backup's ends.
    async fn gives_way(&self, heads: &[LeagueHead], replace: bool) -> Result<(), BackupError> {
        let Some(database) = &self.0 else { return Ok(()) };
        let mut conn = database.reader().await?;
        let row = conn.row(sql!("account_count"), values![]).await?;
        let accounts: i64 = row.map_or(Ok(0), |row| row.get("accounts"))?;
        if accounts == 0 && crate::storage::leagues::all(&mut conn).await?.is_empty() {
            return Ok(());
        }
        let refused = |text: &str| Err(BackupError::Refused(text.into()));
        if !replace {
            return refused(
                "the database holds leagues or accounts: restore to another one, or, to take this one back to an older \
                 state of its own, say --replace",
            );
        }
        let mut is_older = !heads.is_empty();
        for head in heads {
            let row = conn.row(sql!("journal_hash"), values![head.league_id, head.n]).await?;
            let hash = row.map(|row| row.get::<Vec<u8>>("hash")).transpose()?;
            is_older &= hash.is_some_and(|hash| journal::hex(&hash) == head.hash);
        }
        if is_older { Ok(()) } else { refused("the backup is no older state of this database: restore to another one") }
    }

    /// Puts a finished copy in place. A file of SQLite that stood there is kept; on PostgreSQL all rows are exchanged in one
    /// change.
    async fn replaced_by(self, staged: &Path, store: &Store, now: Timestamp) -> Result<Option<PathBuf>, BackupError> {
        let path = match (store, &self.0) {
            (Store::Server(_), Some(database)) => {
                backup::copy_in(staged, database).await?;
                database.close().await;
                return Ok(None);
            }
            (Store::File(path), _) => path,
            (Store::Server(_), None) => return Ok(None),
        };
        let kept = PathBuf::from(format!("{}.before-restore-{}", path.display(), now.strftime("%Y%m%dT%H%M%SZ")));
        let mut aside = None;
        if let Some(database) = self.0 {
            database.close().await;
            backup::whole(path).await.map_err(|error| match error {
                CopyError::Storage(StorageError::Busy) => {
                    BackupError::Refused(format!("others have {} open: stop the server first", path.display()))
                }
                error => error.into(),
            })?;
            put(path, &kept)?;
            aside = Some(kept);
        } else if log_of(path).exists() {
            // SQLite would take the log of a file that was lost for that of the restored one.
            put(&log_of(path), &log_of(&kept))?;
        }
        // What was acknowledged before is no matter of the restored file, which has an id of its own.
        acknowledged::forget(path).map_err(|error| BackupError::Io(path.clone(), error))?;
        put(staged, path)?;
        Ok(aside)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_goes_and_what_is_in_use_or_somebody_elses_stays() {
        let folder = tempfile::TempDir::new().expect("a folder");
        let path = folder.path().join("monday.backup");
        let left = folder.path().join(format!("sunday.backup{MAKING}{}", Uuid::new_v4().simple()));
        let foreign = [folder.path().join(format!("notes{MAKING}today")), folder.path().join("in-use")];
        for made in foreign.iter().chain([&left]) {
            fs::create_dir(made).expect("a folder");
            fs::write(made.join(IN_USE), "").expect("written");
            fs::write(made.join("rows"), "names").expect("written");
        }
        let used = Making::beside(&path).expect("a folder");
        assert!(!left.exists(), "a whole copy is left lying about");
        let other = Making::beside(&path).expect("a second one at the same time");
        assert!(used.folder.exists() && foreign.iter().all(|folder| folder.exists()));
        drop(other);
        assert!(used.folder.exists());
        drop(used);
        assert_eq!(fs::read_dir(folder.path()).expect("the folder").count(), foreign.len());
    }
}
