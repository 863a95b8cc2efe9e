//! `evenfield reset-password`: a code for a new password. The server sends no mail, and no organizer may do this.

use super::database::DatabaseArg;
use crate::startup::{open, system_clock};
use anyhow::Context;
use std::io::Write;

/// The words after `evenfield reset-password`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "The server sends no mail: hand what is printed to the holder of the account yourself, and to nobody \
                  else. It is good for 30 minutes and once; a changed password makes it worthless.\n\nExample:\n  \
                  evenfield reset-password mira@demo.example --origin https://golf.example --database sqlite:league.sqlite"
)]
pub struct ResetPasswordArgs {
    /// The account's address
    pub email: String,
    /// Where people reach the server
    #[arg(long, value_name = "URL", default_value = "http://127.0.0.1:8787")]
    pub origin: String,
    #[command(flatten)]
    database: DatabaseArg,
}

/// Runs the command.
///
/// # Errors
/// An address that no account has; a failed database.
pub fn run(args: &ResetPasswordArgs, output: &mut dyn Write) -> anyhow::Result<()> {
    let store = args.database.existing()?;
    let code = tokio::runtime::Runtime::new()?.block_on(async {
        let leagues = open(&store, system_clock()).await?;
        Ok::<_, anyhow::Error>(leagues.operator_reset(&args.email).await?)
    })?;
    let code = code.with_context(|| format!("no account has the address {}", args.email))?;
    writeln!(output, "{}/new-password#{code}", args.origin.trim_end_matches('/'))?;
    Ok(())
}
