//! `evenfield invite`: a code to register with, the first organizer's too.

use super::database::DatabaseArg;
use crate::startup::{open, system_clock};
use std::io::Write;

/// The words after `evenfield invite`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  evenfield invite --database sqlite:league.sqlite")]
pub struct InviteArgs {
    #[command(flatten)]
    database: DatabaseArg,
}

/// Runs the command.
///
/// # Errors
/// A failed database.
pub fn run(args: &InviteArgs, output: &mut dyn Write) -> anyhow::Result<()> {
    let store = args.database.existing()?;
    let code = tokio::runtime::Runtime::new()?.block_on(async {
        let leagues = open(&store, system_clock()).await?;
        Ok::<_, anyhow::Error>(leagues.operator_code(None).await?)
    })?;
    writeln!(output, "{code}")?;
    Ok(())
}
