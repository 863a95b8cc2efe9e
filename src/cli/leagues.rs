//! `evenfield leagues`: the leagues of a database, for the commands that want a league's id.

use super::database::DatabaseArg;
use crate::startup::{open, system_clock};
use std::io::Write;

/// The words after `evenfield leagues`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  evenfield leagues --database sqlite:league.sqlite")]
pub struct LeaguesArgs {
    #[command(flatten)]
    database: DatabaseArg,
}

/// Runs the command.
///
/// # Errors
/// A failed database.
pub fn run(args: &LeaguesArgs, output: &mut dyn Write) -> anyhow::Result<()> {
    let store = args.database.existing()?;
    let stored = tokio::runtime::Runtime::new()?.block_on(async {
        let leagues = open(&store, system_clock()).await?;
        Ok::<_, anyhow::Error>(leagues.every_league().await?)
    })?;
    for league in &stored {
        writeln!(output, "{}  {}", league.id, league.league.name)?;
    }
    if stored.is_empty() {
        writeln!(output, "There are no leagues in this database yet.")?;
    }
    Ok(())
}
