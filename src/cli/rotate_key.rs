//! `evenfield rotate-key`: another key signs tokens from a minute hence, while the servers run.

use super::database::DatabaseArg;
use crate::startup::key::SigningKeys;
use crate::startup::{open, system_clock};
use std::io::Write;
use std::path::PathBuf;

/// The words after `evenfield rotate-key`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  evenfield rotate-key --database sqlite:league.sqlite")]
pub struct RotateKeyArgs {
    #[command(flatten)]
    database: DatabaseArg,
    /// The file with the keys, if the servers use --signing-key
    #[arg(long, value_name = "FILE", env = "EVENFIELD_SIGNING_KEY")]
    signing_key: Option<PathBuf>,
}

/// Runs the command.
///
/// # Errors
/// Keys that are not there or cannot be written; a failed database.
pub fn run(args: &RotateKeyArgs, output: &mut dyn Write) -> anyhow::Result<()> {
    let store = args.database.existing()?;
    let clock = system_clock();
    let ring = tokio::runtime::Runtime::new()?.block_on(async {
        let leagues = open(&store, clock.clone()).await?;
        SigningKeys::at(args.signing_key.as_ref(), &store).rotate(&leagues.database, clock()).await
    })?;
    let from = ring.last_from();
    writeln!(
        output,
        "the new key {} signs from {from:.0} on; the old key is accepted for ten more minutes",
        ring.signing(from).id()
    )?;
    Ok(())
}
