//! `evenfield reset-password`: a code for a new password. The server sends no mail, and no organizer may do this.

use super::database::DatabaseArg;
use crate::startup::{open, system_clock};
use anyhow::Context;
use std::io::Write;

/// The words after `evenfield reset-password`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "The server sends no e-mail. Give the link to the person yourself, and to nobody else. It works once, \
                  within 30 minutes, and only until the password is changed.\n\nExample:\n  \
                  evenfield reset-password mira@demo.example --origin https://golf.example --database sqlite:league.sqlite"
)]
pub struct ResetPasswordArgs {
    /// The e-mail address of the account
    pub email: String,
    /// The address at which people open the server
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
    let code = code.with_context(|| format!("there is no account with the e-mail address {}", args.email))?;
    writeln!(output, "{}/new-password#{code}", args.origin.trim_end_matches('/'))?;
    Ok(())
}
