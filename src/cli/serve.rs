//! `evenfield serve`: the server.

use super::database::DatabaseArg;
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
use std::time::Duration;
use tokio::time::Instant;

/// The words after `evenfield serve`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  evenfield serve --database sqlite:/srv/evenfield/league.sqlite --listen 127.0.0.1:8787 \\\n    --backup-dir /backup/evenfield --backup-every 6h --keep 28"
)]
pub struct ServeArgs {
    #[command(flatten)]
    database: DatabaseArg,
    /// The file with the key that signs tokens, made if it is not there; without it a file beside the database, or on
    /// PostgreSQL a row that all servers share
    #[arg(long, value_name = "FILE", env = "EVENFIELD_SIGNING_KEY")]
    signing_key: Option<PathBuf>,
    /// The file with the key that signs heads of journals, made if it is not there; without it a file beside the database,
    /// or on PostgreSQL a row that all servers share. Servers of one database share one file
    #[arg(long, value_name = "FILE", env = "EVENFIELD_JOURNAL_KEY")]
    journal_key: Option<PathBuf>,
    /// Where to listen
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8787", env = "EVENFIELD_LISTEN")]
    listen: SocketAddr,
    /// Who may register; without it open on this machine alone, else invited
    #[arg(long, value_enum, env = "EVENFIELD_REGISTRATION")]
    registration: Option<Registration>,
    /// A proxy with TLS stands in front and sets X-Forwarded-For
    #[arg(long, env = "EVENFIELD_BEHIND_PROXY")]
    behind_proxy: bool,
    /// The proxies whose X-Forwarded-For is believed: addresses or blocks, such as 10.0.0.5 or 10.0.0.0/8; without any
    /// those on this machine
    #[arg(
        long,
        value_name = "ADDR",
        env = "EVENFIELD_TRUSTED_PROXY",
        value_delimiter = ',',
        requires = "behind_proxy"
    )]
    trusted_proxy: Vec<Block>,
    /// Starts once with a file of SQLite that lacks changes that were acknowledged: they are given up
    #[arg(long)]
    accept_loss: bool,
    /// Reads a minute that an account may make
    #[arg(long, value_name = "N", default_value_t = 600, env = "EVENFIELD_READS_PER_MINUTE")]
    reads_per_minute: u32,
    /// Live boards that an account may have open at once
    #[arg(long, value_name = "N", default_value_t = 16, env = "EVENFIELD_STREAMS")]
    streams: u32,
    /// Writes a minute that an account may make in the long run; ten times as many at once
    #[arg(long, value_name = "N", default_value_t = 60, env = "EVENFIELD_WRITES_PER_MINUTE")]
    writes_per_minute: u32,
    /// Connections that are open at once; fewer where the system grants fewer file descriptors
    #[arg(long, value_name = "N", default_value_t = 4096, env = "EVENFIELD_CONNECTIONS",
        value_parser = clap::value_parser!(u32).range(1..))]
    connections: u32,
    /// Connections of one address that are open at once; half of all unless said. Behind a proxy the proxy limits them
    #[arg(long, value_name = "N", env = "EVENFIELD_CONNECTIONS_PER_ADDRESS",
        value_parser = clap::value_parser!(u32).range(1..))]
    connections_per_address: Option<u32>,
    /// The file, outside the database, of acts that outlast a restore: erasures, demotions, ended accounts, changed passwords; without it one
    /// beside the database, or on PostgreSQL none. Servers of one database share one file
    #[arg(long, value_name = "FILE", env = "EVENFIELD_LASTING_ACTS")]
    lasting_acts: Option<PathBuf>,
    /// The folder that backups are made in, with --backup-every and --keep; of servers of one database one makes them
    #[arg(long, value_name = "DIR", env = "EVENFIELD_BACKUP_DIR", requires_all = ["backup_every", "keep"])]
    backup_dir: Option<PathBuf>,
    /// How often a backup is made, as in 15m or 6h
    #[arg(long, value_name = "DURATION", env = "EVENFIELD_BACKUP_EVERY", requires = "backup_dir",
        value_parser = turn)]
    backup_every: Option<SignedDuration>,
    /// Devices keep no pages: what they keep for times without a network is removed at their next visit
    #[arg(long, env = "EVENFIELD_NO_KEPT_PAGES")]
    no_kept_pages: bool,
    /// How many backups are kept; older ones that the server made are deleted, nothing else is
    #[arg(long, value_name = "N", env = "EVENFIELD_KEEP", requires = "backup_dir")]
    keep: Option<NonZeroUsize>,
}

/// Reads how often something is done.
fn turn(text: &str) -> Result<SignedDuration, String> {
    match text.parse::<SignedDuration>() {
        Ok(turn) if turn >= SignedDuration::from_mins(1) => Ok(turn),
        Ok(_) => Err("a minute at least".into()),
        Err(_) => Err("hours and minutes, as in 6h or 1h 30m".into()),
    }
}

/// When a start that takes long first says what it waits for, and how often again.
const FIRST_WORD: Duration = Duration::from_secs(2);
const NEXT_WORDS: Duration = Duration::from_secs(10);

/// Runs the command until the server is told to stop.
///
/// # Errors
/// Anything that keeps it from serving.
pub fn run(args: &ServeArgs) -> anyhow::Result<()> {
    let _log = log::start();
    let database = args.database.existing_or_new()?;
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
        let database = options.database.to_string();
        let building = Application::build(options);
        tokio::pin!(building);
        let mut turns = tokio::time::interval_at(Instant::now() + FIRST_WORD, NEXT_WORDS);
        let application = loop {
            tokio::select! {
                built = &mut building => break built?,
                _ = turns.tick() => log::say(format_args!("not serving yet: waiting for {database}")),
            }
        };
        log::say(format_args!("listening on http://{}", application.address));
        application.run().await?;
        Ok(())
    })
}
