//! `evenfield verify`: everything derived is derived afresh and compared, and the journal's chain is walked.

use super::database::DatabaseArg;
use crate::startup::{open, system_clock};
use std::io::Write;

/// The words after `evenfield verify`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  evenfield verify --database sqlite:league.sqlite")]
pub struct VerifyArgs {
    #[command(flatten)]
    database: DatabaseArg,
}

/// Runs the command; `false`: a difference was found.
///
/// # Errors
/// A failed database.
pub fn run(args: &VerifyArgs, mut output: impl Write) -> anyhow::Result<bool> {
    let store = args.database.existing()?;
    let found = tokio::runtime::Runtime::new()?.block_on(async {
        let leagues = open(&store, system_clock()).await?;
        Ok::<_, anyhow::Error>(leagues.verify().await?)
    })?;
    for difference in &found.differences {
        writeln!(output, "{difference}")?;
    }
    writeln!(
        output,
        "{} leagues, {} rounds, {} journal entries, {} differences",
        found.leagues,
        found.rounds,
        found.entries,
        found.differences.len()
    )?;
    Ok(found.differences.is_empty())
}
