//! The command line.

use clap::{ColorChoice, CommandFactory, FromArgMatches, Parser, Subcommand, ValueEnum};
use evenfield::cli;
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
    Serve(cli::serve::ServeArgs),
    /// Serves an invented league from a throwaway database
    Demo(cli::demo::DemoArgs),
    /// Writes standings, league indexes and putting of a bundle
    Report(cli::report::ReportArgs),
    /// Stores a bundle as a league
    Import(cli::bundles::ImportArgs),
    /// Writes a league as a bundle
    Export(cli::bundles::ExportArgs),
    /// Writes everything that the database holds to one file, while it is served
    Backup(cli::backups::BackupArgs),
    /// Brings a backup back, checked; what was erased or taken away since stays so
    Restore(cli::backups::RestoreArgs),
    /// Derives everything afresh and compares; exits 1 on a difference
    Verify(cli::verify::VerifyArgs),
    /// Prints a code to register with
    Invite(cli::invite::InviteArgs),
    /// Has another key sign tokens from a minute hence, while the servers run
    RotateKey(cli::rotate_key::RotateKeyArgs),
    /// Prints a link with which the holder of an account chooses a new password
    ResetPassword(cli::reset_password::ResetPasswordArgs),
    /// Answers calculations: JSON lines in, JSON lines out
    #[command(
        after_help = "Example:\n  echo '{\"id\": 1, \"op\": \"round_tenth\", \"value\": \"-1.55\"}' | evenfield calc"
    )]
    Calc,
}

fn main() -> ExitCode {
    let words = Arguments::command().color(asked_color()).get_matches();
    let arguments = Arguments::from_arg_matches(&words).unwrap_or_else(|error| error.exit());
    let mut output = BufWriter::new(io::stdout().lock());
    let outcome = match arguments.command {
        Command::Serve(args) => cli::serve::run(&args).map(|()| true),
        Command::Demo(args) => cli::demo::run(&args, &mut output).map(|()| true),
        Command::Report(args) => cli::report::run(&args, &mut output).map(|()| true),
        Command::Import(args) => cli::bundles::import(&args, &mut output).map(|()| true),
        Command::Export(args) => cli::bundles::export(&args, &mut output).map(|()| true),
        Command::Backup(args) => cli::backups::backup(&args, &mut output).map(|()| true),
        Command::Restore(args) => cli::backups::restore(&args, &mut output),
        Command::Verify(args) => cli::verify::run(&args, &mut output),
        Command::Invite(args) => cli::invite::run(&args, &mut output).map(|()| true),
        Command::RotateKey(args) => cli::rotate_key::run(&args, &mut output).map(|()| true),
        Command::ResetPassword(args) => cli::reset_password::run(&args, &mut output).map(|()| true),
        Command::Calc => cli::calc::run(io::stdin().lock(), &mut output).map_err(Into::into),
    };
    match outcome.and_then(|good| Ok(output.flush().map(|()| good)?)) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(1),
        Err(error) if is_closed_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            evenfield::log::say(format_args!("{error:#}"));
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
