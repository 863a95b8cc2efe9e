//! The command line.

use clap::{Parser, Subcommand};
use evenfield::cli;
use std::io::{self, BufWriter, Write};
use std::process::ExitCode;

/// A league server for golfers who play on indoor simulators.
#[derive(Parser)]
#[command(version, after_help = "Example:\n  evenfield demo")]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Writes standings, league indexes and putting of a bundle
    Report(cli::report::ReportArgs),
    /// Answers calculations: JSON lines in, JSON lines out
    #[command(
        after_help = "Example:\n  echo '{\"id\": 1, \"op\": \"expected_putts\", \"distance_ft\": 8}' | evenfield calc"
    )]
    Calc,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let mut output = BufWriter::new(io::stdout().lock());
    let outcome = match arguments.command {
        Command::Report(args) => cli::report::run(&args, &mut output).map(|()| true),
        Command::Calc => cli::calc::run(io::stdin().lock(), &mut output).map_err(Into::into),
    };
    match outcome.and_then(|good| Ok(output.flush().map(|()| good)?)) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(1),
        Err(error) if is_closed_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("evenfield: {error:#}");
            ExitCode::from(2)
        }
    }
}

/// Whether the reader of our output went away, as `head` does.
fn is_closed_pipe(error: &anyhow::Error) -> bool {
    error
        .chain()
        .any(|cause| cause.downcast_ref::<io::Error>().is_some_and(|cause| cause.kind() == io::ErrorKind::BrokenPipe))
}
