//! `evenfield import` and `evenfield export`: a league in, a league out.

use super::database::{DatabaseArg, NewDatabaseArg};
use super::report::{BadLine, read_bundle};
use super::saying::telling;
use crate::domain::facts::Role;
use crate::domain::ids::LeagueId;
use crate::league::Refusal;
use crate::startup::{open, system_clock};
use crate::wire::bundle::assemble::KeptPutts;
use crate::wire::bundle::line::Line;
use anyhow::{Context, bail};
use std::io::Write;
use tokio::sync::mpsc;
use uuid::Uuid;

/// The words after `evenfield import`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  evenfield import autumn.ndjson --database sqlite:league.sqlite")]
pub struct ImportArgs {
    /// The bundle; `-` reads standard input
    pub bundle: String,
    #[command(flatten)]
    database: NewDatabaseArg,
}

/// The words after `evenfield export`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  evenfield export 0198c2a4-2f7e-7d6b-9a1c-000000000001 > autumn.ndjson")]
pub struct ExportArgs {
    /// The league's id; `evenfield leagues` lists them
    pub league: String,
    #[command(flatten)]
    database: DatabaseArg,
}

/// Runs `import`: the whole bundle or nothing. Prints a claiming code for each organizer's record.
///
/// # Errors
/// A bad line; a league that the database has already; a failed database.
pub fn import(args: &ImportArgs, output: &mut dyn Write) -> anyhow::Result<()> {
    let store = args.database.store()?;
    let runtime = tokio::runtime::Runtime::new()?;
    let leagues = runtime.block_on(open(&store, system_clock()))?;
    let mut import = runtime.block_on(leagues.import())?;
    read_bundle(&args.bundle, KeptPutts::Nothing, |line: &Line, number| {
        runtime.block_on(import.add(line)).map_err(|refusal| match refusal {
            Refusal::Faults(faults) => {
                let faults = faults.into_iter().map(|fault| (fault.pointer, fault.detail)).collect();
                anyhow::Error::new(BadLine { line: number, faults })
            }
            other => anyhow::Error::new(other).context(format!("line {number}")),
        })
    })?;
    let storing = telling("importing");
    let (league, organizers) = runtime.block_on(import.finish())?;
    drop(storing);
    writeln!(output, "league {league}")?;
    for (member, name) in organizers {
        let code = runtime.block_on(leagues.operator_code(Some((league, Some(member), Role::Organizer))))?;
        writeln!(output, "organizer {member} {name}: claim with the code {code}")?;
    }
    Ok(())
}

/// Runs `export`.
///
/// # Errors
/// A league that is not there; a failed database.
pub fn export(args: &ExportArgs, output: &mut dyn Write) -> anyhow::Result<()> {
    let store = args.database.existing()?;
    let list = "list the leagues and their ids with: evenfield leagues";
    let Ok(id) = Uuid::try_parse(&args.league) else { bail!("{:?} is not a league's id; {list}", args.league) };
    let league = LeagueId(id);
    let _exporting = telling("exporting");
    let runtime = tokio::runtime::Runtime::new()?;
    runtime.block_on(async {
        let leagues = open(&store, system_clock()).await?;
        let (sender, mut lines) = mpsc::channel(64);
        let exporting = tokio::spawn(async move { leagues.export(league, sender).await });
        while let Some(line) = lines.recv().await {
            writeln!(output, "{}", line.to_json())?;
        }
        match exporting.await? {
            Err(Refusal::NotFound) => bail!("this database has no league {league}; {list}"),
            exported => exported.with_context(|| format!("the league {league} cannot be exported")),
        }
    })
}
