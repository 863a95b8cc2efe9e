//! `evenfield serve`: the server.

use super::database::NewDatabaseArg;
use super::saying::telling;
use crate::http::proxies::Block;
use crate::http::quota::Allowance;
use crate::league::account::register::Registration;
use crate::log;
use crate::startup::backups::Backups;
use crate::startup::listening::Connections;
use crate::startup::{Application, Options, system_clock};
use crate::storage::{Store, acknowledged};
use anyhow::Context;
use jiff::SignedDuration;
use std::net::SocketAddr;
use std::num::NonZeroUsize;
use std::path::PathBuf;

/// The words after `evenfield serve`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  evenfield serve --database sqlite:/srv/evenfield/league.sqlite --listen 127.0.0.1:8787 \\\n    --backup-dir /backup/evenfield --backup-every 6h --keep 28"
)]
pub struct ServeArgs {
    #[command(flatten)]
    database: NewDatabaseArg,
    /// The file with the token-signing key, created if it does not exist [default: a file beside the database; with
    /// PostgreSQL a row that all servers share]
    #[arg(long, value_name = "FILE", env = "EVENFIELD_SIGNING_KEY")]
    signing_key: Option<PathBuf>,
    /// The file with the key that signs checkpoints of the audit log, created if it does not exist; all servers of a
    /// database use the same file [default: a file beside the database; with PostgreSQL a row that all servers share]
    #[arg(long, value_name = "FILE", env = "EVENFIELD_JOURNAL_KEY")]
    journal_key: Option<PathBuf>,
    /// Address and port to listen on
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8787", env = "EVENFIELD_LISTEN")]
    listen: SocketAddr,
    /// Who may create an account [default: open on this machine only, otherwise invited]
    #[arg(long, value_enum, env = "EVENFIELD_REGISTRATION")]
    registration: Option<Registration>,
    /// The server runs behind a TLS proxy, which sets X-Forwarded-For
    #[arg(long, env = "EVENFIELD_BEHIND_PROXY")]
    behind_proxy: bool,
    /// Proxies whose X-Forwarded-For is trusted: addresses or blocks, such as 10.0.0.5 or 10.0.0.0/8 [default: those on
    /// this machine]
    #[arg(
        long,
        value_name = "ADDR",
        env = "EVENFIELD_TRUSTED_PROXY",
        value_delimiter = ',',
        requires = "behind_proxy"
    )]
    trusted_proxy: Vec<Block>,
    /// Start once with an SQLite file that lacks confirmed changes, which are then lost
    #[arg(long)]
    accept_loss: bool,
    /// Reads per minute and account
    #[arg(long, value_name = "N", default_value_t = 600, env = "EVENFIELD_READS_PER_MINUTE")]
    reads_per_minute: u32,
    /// Live boards that an account may have open at the same time
    #[arg(long, value_name = "N", default_value_t = 16, env = "EVENFIELD_STREAMS")]
    streams: u32,
    /// Writes per minute and account, on average; ten times as many at once
    #[arg(long, value_name = "N", default_value_t = 60, env = "EVENFIELD_WRITES_PER_MINUTE")]
    writes_per_minute: u32,
    /// Connections that may be open at the same time; fewer if the system allows fewer open files
    #[arg(long, value_name = "N", default_value_t = 4096, env = "EVENFIELD_CONNECTIONS",
        value_parser = clap::value_parser!(u32).range(1..))]
    connections: u32,
    /// Connections from one address that may be open at the same time; behind a proxy, limit them there [default: half of
    /// all]
    #[arg(long, value_name = "N", env = "EVENFIELD_CONNECTIONS_PER_ADDRESS",
        value_parser = clap::value_parser!(u32).range(1..))]
    connections_per_address: Option<u32>,
    /// The file, outside the database, of changes that a restore must repeat: erasures, demotions, ended accounts, changed
    /// passwords; all servers of a database use the same file [default: a file beside the database; with PostgreSQL none]
    #[arg(long, value_name = "FILE", env = "EVENFIELD_LASTING_ACTS")]
    lasting_acts: Option<PathBuf>,
    /// The folder for automatic backups, with --backup-every and --keep; set it for one server of a database only
    #[arg(long, value_name = "DIR", env = "EVENFIELD_BACKUP_DIR", requires_all = ["backup_every", "keep"])]
    backup_dir: Option<PathBuf>,
    /// Time between backups, such as 15m or 6h
    #[arg(long, value_name = "DURATION", env = "EVENFIELD_BACKUP_EVERY", requires = "backup_dir",
        value_parser = turn)]
    backup_every: Option<SignedDuration>,
    /// Devices keep no pages: what they keep for times without a network is removed at their next visit
    #[arg(long, env = "EVENFIELD_NO_KEPT_PAGES")]
    no_kept_pages: bool,
    /// Number of backups to keep; the server deletes its own older ones and nothing else
    #[arg(long, value_name = "N", env = "EVENFIELD_KEEP", requires = "backup_dir")]
    keep: Option<NonZeroUsize>,
}

/// Reads how often something is done.
pub(super) fn turn(text: &str) -> Result<SignedDuration, String> {
    match text.parse::<SignedDuration>() {
        Ok(turn) if turn >= SignedDuration::from_mins(1) => Ok(turn),
        Ok(_) => Err("must be at least one minute".into()),
        Err(_) => Err("must be hours and minutes, such as 6h or 1h 30m".into()),
    }
}

/// Runs the command until the server is told to stop.
///
/// # Errors
/// Anything that keeps it from serving.
pub fn run(args: &ServeArgs) -> anyhow::Result<()> {
    let _log = log::start();
    let database = args.database.store()?;
    if let (true, Store::File(path)) = (args.accept_loss, &database) {
        acknowledged::forget(path).with_context(|| format!("{} cannot be taken as it is", path.display()))?;
        tracing::warn!("the database is taken as it is: acknowledged changes that it lacks are given up");
    }
    let (reads, writes) = (f64::from(args.reads_per_minute), f64::from(args.writes_per_minute));
    let options = Options {
        database,
        signing_key: args.signing_key.clone(),
        journal_key: args.journal_key.clone(),
        listen: args.listen,
        is_throwaway: false,
        behind_proxy: args.behind_proxy,
        trusted_proxies: args.trusted_proxy.clone(),
        registration: args.registration,
        allowance: Allowance {
            reads,
            reads_per_minute: reads,
            writes: writes * 10.0,
            writes_per_minute: writes,
            streams: args.streams,
        },
        connections: Connections {
            all: args.connections as usize,
            of_one_address: args.connections_per_address.unwrap_or(args.connections.div_ceil(2)) as usize,
        },
        lasting_acts: args.lasting_acts.clone(),
        backups: match (&args.backup_dir, args.backup_every, args.keep) {
            (Some(folder), Some(every), Some(keep)) => Some(Backups { folder: folder.clone(), every, keep }),
            _ => None,
        },
        keeps_pages: !args.no_kept_pages,
        clock: system_clock(),
    };
    actix_web::rt::System::new().block_on(async move {
        let starting = telling(format!("still starting: waiting for {}", options.database));
        let application = Application::build(options).await?;
        drop(starting);
        log::say(format_args!("listening on http://{}", application.address));
        application.run().await?;
        Ok(())
    })
}
