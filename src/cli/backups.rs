//! `evenfield backup` and `evenfield restore`: everything that the database holds as one file, and the way back.

use super::database::DatabaseArg;
use crate::league::jobs::backups::{BackupError, RestoreTerms, restore as bring_back};
use crate::log::say;
use crate::startup::{open, system_clock};
use crate::storage::backup_file::Manifest;
use crate::storage::lasting::{Deed, LastingActs};
use std::io::Write;
use std::path::PathBuf;

/// The words after `evenfield backup`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "The file serves both databases: what was taken from one can be restored to the other.\n\nExample:\n  \
                  evenfield backup /backup/monday.backup --database sqlite:league.sqlite"
)]
pub struct BackupArgs {
    /// The file to write; one that is there is not overwritten
    pub file: PathBuf,
    #[command(flatten)]
    database: DatabaseArg,
}

/// The words after `evenfield restore`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Stop the servers of the database first. A restore goes to a database that holds no league and no \
                  account. With --replace it also goes to one that holds a later state of the same leagues, told by \
                  their journals; a file of SQLite is then kept beside the restored one. Everybody is signed out, open \
                  codes are void, and what the file of lasting acts knows of erasures, demotions and ended accounts \
                  since the backup is done again.\n\nExample:\n  evenfield restore /backup/monday.backup --database \
                  sqlite:league.sqlite --replace"
)]
pub struct RestoreArgs {
    /// The backup
    pub file: PathBuf,
    #[command(flatten)]
    database: DatabaseArg,
    /// Takes a database back to an older state of its own
    #[arg(long)]
    replace: bool,
    /// The file of lasting acts that the servers wrote; without it the one beside the database
    #[arg(long, value_name = "FILE", env = "EVENFIELD_LASTING_ACTS")]
    lasting_acts: Option<PathBuf>,
    /// The file of lasting acts is lost: who was erased or demoted since the backup is back as before
    #[arg(long, conflicts_with = "lasting_acts")]
    without_lasting_acts: bool,
}

fn describe(output: &mut dyn Write, manifest: &Manifest) -> anyhow::Result<()> {
    let count = |table: &str| manifest.counts.get(table).copied().unwrap_or_default();
    writeln!(
        output,
        "{} leagues, {} rounds, {} journal entries as of {}, checked",
        count("leagues"),
        count("rounds"),
        count("journal"),
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
        None => {
            let beside = LastingActs::beside(&store);
            anyhow::ensure!(beside.0.is_some(), "say --lasting-acts FILE, or --without-lasting-acts if there is none");
            beside
        }
    };
    let terms = RestoreTerms { file: args.file.clone(), store, lasting, replace: args.replace, clock: system_clock() };
    let restored = match tokio::runtime::Runtime::new()?.block_on(bring_back(terms)) {
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
    for act in restored.done_again {
        match act.deed {
            Deed::EraseMember { member_id } => writeln!(output, "done again: member {member_id} erased")?,
            Deed::Demote { member_id, role } => {
                writeln!(output, "done again: member {member_id} is {} at most", role.word())?;
            }
            Deed::ChangePassword { account_id } => {
                writeln!(output, "account {account_id} had another password since: it needs evenfield reset-password")?
            }
            Deed::EndAccount { account_id } => writeln!(output, "done again: account {account_id} ended")?,
        }
    }
    for code in restored.codes {
        match code.member {
            Some(member) => writeln!(
                output,
                "league {} {}: organizer {member} has no account; claim with the code {}",
                code.league, code.name, code.code
            )?,
            None => writeln!(
                output,
                "league {} {} has no organizer; join as one with the code {}",
                code.league, code.name, code.code
            )?,
        }
    }
    if let Some(aside) = restored.aside {
        say(format_args!("the database that stood there is now {}", aside.display()));
    }
    Ok(true)
}
