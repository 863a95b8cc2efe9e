//! `evenfield backup` and `evenfield restore`: everything that the database holds as one file, and the way back.

use super::database::DatabaseArg;
use super::saying::{counted, telling};
use crate::league::jobs::backups::{BackupError, RestoreTerms, restore as bring_back, try_out};
use crate::log::say;
use crate::startup::{open, system_clock};
use crate::storage::backup_file::Manifest;
use crate::storage::lasting::{Deed, LastingActs};
use std::io::Write;
use std::path::PathBuf;

/// The words after `evenfield backup`.
#[derive(Debug, clap::Args)]
#[command(after_help = "A backup from SQLite can be restored to PostgreSQL, and the other way round.\n\nExample:\n  \
                  evenfield backup /backup/monday.backup --database sqlite:league.sqlite")]
pub struct BackupArgs {
    /// The file to write; an existing file is not overwritten
    pub file: PathBuf,
    #[command(flatten)]
    database: DatabaseArg,
}

/// The words after `evenfield restore`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Stop the servers of the database first. The database must have no leagues and no accounts. With \
                  --replace it may have a later state of the same leagues; an SQLite file is then kept beside the \
                  restored one. Everybody is signed out, pending codes become void, and erasures, demotions and ended \
                  accounts since the backup are repeated from the file of lasting acts.\n\nExample:\n  evenfield restore /backup/monday.backup --database \
                  sqlite:league.sqlite --replace"
)]
pub struct RestoreArgs {
    /// The backup
    pub file: PathBuf,
    #[command(flatten)]
    database: DatabaseArg,
    /// Replace a later state of the same leagues
    #[arg(long)]
    replace: bool,
    /// The file of lasting acts that the servers wrote [default: the one beside the database]
    #[arg(long, value_name = "FILE", env = "EVENFIELD_LASTING_ACTS")]
    lasting_acts: Option<PathBuf>,
    /// Only prove that the backup can be restored: it is, beside it, and the copy is deleted again
    #[arg(long, conflicts_with = "replace")]
    dry_run: bool,
    /// Restore although the file of lasting acts is lost: later erasures and demotions are undone
    #[arg(long, conflicts_with = "lasting_acts")]
    without_lasting_acts: bool,
}

fn describe(output: &mut dyn Write, manifest: &Manifest) -> anyhow::Result<()> {
    let count = |table: &str| manifest.counts.get(table).copied().unwrap_or_default();
    writeln!(
        output,
        "{}, {}, {} as of {}, verified",
        counted(count("leagues"), "league", "leagues"),
        counted(count("rounds"), "round", "rounds"),
        counted(count("journal"), "audit log entry", "audit log entries"),
        manifest.made_at
    )?;
    Ok(())
}

/// Runs `backup`.
///
/// # Errors
/// A file that is there or cannot be written; a failed database.
pub fn backup(args: &BackupArgs, output: &mut dyn Write) -> anyhow::Result<()> {
    let store = args.database.existing()?;
    let _copying = telling("backing up");
    let manifest = tokio::runtime::Runtime::new()?.block_on(async {
        let leagues = open(&store, system_clock()).await?;
        Ok::<_, anyhow::Error>(leagues.backup(&args.file).await?)
    })?;
    describe(output, &manifest)
}

/// Runs `restore`; `false`: what the backup holds does not follow from its raw records.
///
/// # Errors
/// A damaged backup; a database that holds something else; a failed database.
pub fn restore(args: &RestoreArgs, output: &mut dyn Write) -> anyhow::Result<bool> {
    let store = args.database.store()?;
    let lasting = match &args.lasting_acts {
        _ if args.without_lasting_acts => LastingActs(None),
        Some(path) => LastingActs(Some(path.clone())),
        None if args.dry_run => LastingActs(None),
        None => {
            let beside = LastingActs::beside(&store);
            anyhow::ensure!(
                beside.0.is_some(),
                "add --lasting-acts FILE, or --without-lasting-acts if the file is lost"
            );
            beside
        }
    };
    let _restoring = telling("restoring and verifying");
    let restoring = async {
        if args.dry_run {
            return try_out(&args.file, lasting, system_clock()).await;
        }
        let (file, replace, clock) = (args.file.clone(), args.replace, system_clock());
        bring_back(RestoreTerms { file, store, lasting, replace, clock }).await
    };
    let restored = match tokio::runtime::Runtime::new()?.block_on(restoring) {
        Ok(restored) => restored,
        Err(BackupError::Differences(differences)) => {
            for difference in differences {
                writeln!(output, "{difference}")?;
            }
            say("nothing was restored");
            return Ok(false);
        }
        Err(error) => return Err(error.into()),
    };
    describe(output, &restored.manifest)?;
    if args.dry_run {
        writeln!(output, "it can be restored; nothing was")?;
        return Ok(true);
    }
    for act in restored.done_again {
        match act.deed {
            Deed::EraseMember { member_id } => writeln!(output, "repeated: member {member_id} erased")?,
            Deed::Demote { member_id, role } => {
                writeln!(output, "repeated: member {member_id} is now {}", role.word())?;
            }
            Deed::ChangePassword { account_id } => writeln!(
                output,
                "account {account_id} has changed its password since the backup: use evenfield reset-password"
            )?,
            Deed::EndAccount { account_id } => writeln!(output, "repeated: account {account_id} ended")?,
        }
    }
    for code in restored.codes {
        match code.member {
            Some(member) => writeln!(
                output,
                "league {} {}: organizer {member} has no account; invitation code: {}",
                code.league, code.name, code.code
            )?,
            None => writeln!(
                output,
                "league {} {} has no organizer; invitation code for a new one: {}",
                code.league, code.name, code.code
            )?,
        }
    }
    if let Some(aside) = restored.aside {
        say(format_args!("the previous database is now {}", aside.display()));
    }
    Ok(true)
}
