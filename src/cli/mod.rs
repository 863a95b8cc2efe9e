//! The command line, and its commands, one file each.

pub mod backups;
pub mod bundles;
pub mod calc;
pub mod database;
pub mod demo;
mod demo_acts;
mod demo_matches;
pub mod doctor;
pub mod invite;
pub mod leagues;
pub mod report;
pub mod reset_password;
pub mod rotate_key;
mod saying;
pub mod serve;
pub mod verify;

use clap::{ColorChoice, CommandFactory, FromArgMatches, Parser, Subcommand, ValueEnum};
use std::io::{self, BufWriter, Write};
use std::process::ExitCode;

/// A league server for golfers who play on indoor simulators.
#[derive(Parser)]
#[command(version, after_help = "Example:\n  evenfield demo")]
struct Arguments {
    /// Colours in help and errors; NO_COLOR is respected too
    #[arg(long, global = true, value_enum, default_value = "auto")]
    color: ColorChoice,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Run the server
    Serve(serve::ServeArgs),
    /// Serve an invented league from a throwaway database
    Demo(demo::DemoArgs),
    /// Print standings, league indexes and putting from a bundle
    Report(report::ReportArgs),
    /// Import a league from a bundle
    Import(bundles::ImportArgs),
    /// Export a league as a bundle
    Export(bundles::ExportArgs),
    /// List the leagues with their ids
    Leagues(leagues::LeaguesArgs),
    /// Back up the database to one file while it is being served
    Backup(backups::BackupArgs),
    /// Restore and verify a backup; later erasures stay erased
    Restore(backups::RestoreArgs),
    /// Recompute everything and report differences; exits with 1 if there are any
    Verify(verify::VerifyArgs),
    /// Look whether all is well, and say what to do where it is not
    Doctor(doctor::DoctorArgs),
    /// Print a code for creating an account
    Invite(invite::InviteArgs),
    /// Switch to a new token-signing key in one minute, without a restart
    RotateKey(rotate_key::RotateKeyArgs),
    /// Print a link with which somebody can choose a new password
    ResetPassword(reset_password::ResetPasswordArgs),
    /// Calculate: JSON lines in, JSON lines out
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
        Command::Leagues(args) => leagues::run(&args, &mut output).map(|()| true),
        Command::Backup(args) => backups::backup(&args, &mut output).map(|()| true),
        Command::Restore(args) => backups::restore(&args, &mut output),
        Command::Verify(args) => verify::run(&args, &mut output),
        Command::Doctor(args) => doctor::run(&args, &mut output),
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
