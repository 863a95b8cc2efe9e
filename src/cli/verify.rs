//! `evenfield verify`: everything derived is derived afresh and compared, and the journal's chain is walked.

use super::database::DatabaseArg;
use super::saying::{counted, telling};
use crate::league::Refusal;
use crate::startup::{open, system_clock};
use crate::storage::StorageError;
use crate::storage::heads::SignedHead;
use anyhow::{Context, ensure};
use std::collections::BTreeSet;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// The words after `evenfield verify`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  evenfield verify --database sqlite:league.sqlite")]
pub struct VerifyArgs {
    #[command(flatten)]
    database: DatabaseArg,
    /// Signed checkpoints of the audit log that were kept elsewhere, one per line, to compare with
    #[arg(long, value_name = "FILE")]
    head: Option<PathBuf>,
}

fn kept(path: &Path) -> anyhow::Result<Vec<SignedHead>> {
    let text = fs::read_to_string(path).with_context(|| format!("{} cannot be read", path.display()))?;
    let lines = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty());
    let heads: Result<Vec<SignedHead>, _> = lines
        .map(|(n, line)| {
            let head: Option<SignedHead> = serde_json::from_str(line).ok();
            let head = head.filter(SignedHead::is_genuine);
            head.with_context(|| format!("line {} of {} is not a signed checkpoint", n + 1, path.display()))
        })
        .collect();
    let heads = heads?;
    ensure!(!heads.is_empty(), "{} has no checkpoint", path.display());
    Ok(heads)
}

/// Returns what is said of a database that is damaged or lacks changes, if that is why it could not be verified.
fn damage(error: &anyhow::Error) -> Option<&StorageError> {
    let mut stored = error.chain().filter_map(|cause| cause.downcast_ref::<StorageError>());
    stored.find(|error| error.is_damage())
}

/// Runs the command; `false`: a difference was found.
///
/// # Errors
/// A failed database.
pub fn run(args: &VerifyArgs, output: &mut dyn Write) -> anyhow::Result<bool> {
    let store = args.database.existing()?;
    let heads = args.head.as_deref().map(kept).transpose()?.unwrap_or_default();
    let _verifying = telling("verifying");
    let found = tokio::runtime::Runtime::new()?.block_on(async {
        let leagues = open(&store, system_clock()).await?;
        leagues.verify_against(&heads).await.map_err(|refusal| match refusal {
            Refusal::Storage(error) => error.into(),
            refusal => anyhow::Error::new(refusal),
        })
    });
    if let Some(damage) = found.as_ref().err().and_then(damage) {
        writeln!(output, "{damage}")?;
        return Ok(false);
    }
    let found = found?;
    for difference in &found.differences {
        writeln!(output, "{difference}")?;
    }
    for key in heads.iter().map(|head| &head.key).collect::<BTreeSet<_>>() {
        let of_key: Vec<_> = heads.iter().filter(|head| head.key == *key).collect();
        writeln!(output, "{}, signed with the key {key}", counted(of_key.len() as i64, "checkpoint", "checkpoints"))?;
    }
    writeln!(
        output,
        "{}, {}, {}, {}",
        counted(found.leagues as i64, "league", "leagues"),
        counted(found.rounds as i64, "round", "rounds"),
        counted(found.entries as i64, "audit log entry", "audit log entries"),
        counted(found.differences.len() as i64, "difference", "differences")
    )?;
    Ok(found.differences.is_empty())
}
