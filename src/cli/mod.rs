//! The command line, and its commands, one file each.

pub mod backups;
pub mod bundles;
pub mod calc;
pub mod database;
pub mod demo;
mod demo_acts;
pub mod invite;
pub mod report;
pub mod reset_password;
pub mod rotate_key;
pub mod serve;
pub mod verify;

use clap::{ColorChoice, CommandFactory, FromArgMatches, Parser, Subcommand, ValueEnum};
use std::io::{self, BufWriter, Write};
use std::process::ExitCode;

/// A league server for golfers who play on indoor simulators.
#[derive(Parser)]
#[command(version, after_help = "Example:\n  evenfield demo")]
struct Arguments {
    /// Whether help and errors may be coloured; NO_COLOR is respected too
    #[arg(long, global = true, value_enum, default_value = "auto")]
    color: ColorChoice,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Runs the server
    Serve(serve::ServeArgs),
    /// Serves an invented league from a throwaway database
    Demo(demo::DemoArgs),
    /// Writes standings, league indexes and putting of a bundle
    Report(report::ReportArgs),
    /// Stores a bundle as a league
    Import(bundles::ImportArgs),
    /// Writes a league as a bundle
    Export(bundles::ExportArgs),
    /// Writes everything that the database holds to one file, while it is served
    Backup(backups::BackupArgs),
    /// Brings a backup back, checked; what was erased or taken away since stays so
    Restore(backups::RestoreArgs),
    /// Derives everything afresh and compares; exits 1 on a difference
    Verify(verify::VerifyArgs),
    /// Prints a code to register with
    Invite(invite::InviteArgs),
    /// Has another key sign tokens from a minute hence, while the servers run
    RotateKey(rotate_key::RotateKeyArgs),
    /// Prints a link with which the holder of an account chooses a new password
    ResetPassword(reset_password::ResetPasswordArgs),
    /// Answers calculations: JSON lines in, JSON lines out
    #[command(after_help = calc::help())]
    Calc,
}

/// Does what the command line says; returns 0, 1 for a difference that was looked for and found, or 2 for a failure.
pub fn main() -> ExitCode {
    let words = Arguments::command().color(asked_color()).get_matches();
    let arguments = Arguments::from_arg_matches(&words).unwrap_or_else(|error| error.exit());
    let mut output = BufWriter::new(io::stdout().lock());
    let outcome = match arguments.command {
        Command::Serve(args) => serve::run(&args).map(|()| true),
        Command::Demo(args) => demo::run(&args, &mut output).map(|()| true),
        Command::Report(args) => report::run(&args, &mut output).map(|()| true),
        Command::Import(args) => bundles::import(&args, &mut output).map(|()| true),
        Command::Export(args) => bundles::export(&args, &mut output).map(|()| true),
        Command::Backup(args) => backups::backup(&args, &mut output).map(|()| true),
        Command::Restore(args) => backups::restore(&args, &mut output),
        Command::Verify(args) => verify::run(&args, &mut output),
        Command::Invite(args) => invite::run(&args, &mut output).map(|()| true),
        Command::RotateKey(args) => rotate_key::run(&args, &mut output).map(|()| true),
        Command::ResetPassword(args) => reset_password::run(&args, &mut output).map(|()| true),
        Command::Calc => calc::run(&mut io::stdin().lock(), &mut output).map_err(Into::into),
    };
    match outcome.and_then(|good| Ok(output.flush().map(|()| good)?)) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(1),
        Err(error) if is_closed_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            crate::log::say(format_args!("{error:#}"));
            ExitCode::from(2)
        }
    }
}

/// Returns the choice of colours before the words are parsed: help and errors come out of the parsing.
fn asked_color() -> ColorChoice {
    let mut words = std::env::args();
    let asked = words.find_map(|word| match word.strip_prefix("--color")? {
        "" => Some(None),
        rest => rest.strip_prefix('=').map(|choice| Some(choice.to_owned())),
    });
    let asked = asked.and_then(|choice| choice.or_else(|| words.next()));
    asked.and_then(|choice| ColorChoice::from_str(&choice, false).ok()).unwrap_or_default()
}

/// Whether the reader of our output went away, as `head` does.
fn is_closed_pipe(error: &anyhow::Error) -> bool {
    error
        .chain()
        .any(|cause| cause.downcast_ref::<io::Error>().is_some_and(|cause| cause.kind() == io::ErrorKind::BrokenPipe))
}
