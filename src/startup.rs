//! The server that `serve` and the tests both build.

pub mod backups;
pub mod error;
pub mod key;
pub mod listening;
pub mod options;
mod refusals;

pub use error::StartError;
pub use options::Options;

use crate::accounts::password::{Cost, Hasher, Waiting};
use crate::accounts::token::{LiveKeys, TokenKeys};
use crate::api::routes;
use crate::http::app::{App, Config};
use crate::http::measures::Measures;
use crate::http::problem::Problem;
use crate::http::quota::Quota;
use crate::http::rendered::Rendered;
use crate::http::{hosts, operator, proxies, watch};
use crate::league::account::register::{Door, Registration};
use crate::league::jobs::backups::remove_leftovers;
use crate::league::jobs::{clearing, heads, weighing};
use crate::league::{Clock, Leagues};
use crate::pages::last_shown::LastShown;
use crate::storage::lasting::{Completed, LastingActs, LastingError};
use crate::storage::{Conn, Database, Scope, Store, Writer, idempotency, mounts, private};
use crate::tasks::Retry;
use crate::{change, pages};
use actix_web::dev::{Server, ServerHandle};
use actix_web::middleware::{Compress, from_fn};
use actix_web::web::{self, Data};
use actix_web::{App as Actix, HttpResponse};
use jiff::{SignedDuration, Timestamp};
use key::SigningKeys;
use listening::Connections;
use sha2::{Digest, Sha256};
use std::io;
use std::net::{SocketAddr, TcpListener};
use std::num::NonZeroUsize;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Returns the system's clock.
pub fn system_clock() -> Clock {
    Arc::new(Timestamp::now)
}

/// A server that is ready to run.
pub struct Application {
    /// Where it listens.
    pub address: SocketAddr,
    /// What its handlers share.
    pub app: Data<App>,
    server: Server,
}

/// How many passwords wait for their turn to be hashed before the server says that it is busy.
const PASSWORDS_WAITING: Waiting = Waiting { sign_ins: 64, new_passwords: 64 };

/// How long requests may go on once the server stops.
const LAST_REQUESTS: Duration = Duration::from_secs(10);

/// Opens a store for a command, which has all the time that it needs.
///
/// # Errors
/// A database that cannot be opened.
pub async fn open(store: &Store, clock: Clock) -> Result<Leagues, StartError> {
    opened(store, clock, false).await
}

async fn opened(store: &Store, clock: Clock, is_serving: bool) -> Result<Leagues, StartError> {
    let folder = if let Store::File(path) = store { path.parent() } else { None };
    if let Some(folder) = folder.filter(|folder| !folder.as_os_str().is_empty()) {
        let what = || format!("the folder {} cannot be made", folder.display());
        private::folder(folder).map_err(|source| StartError::Io { what: what(), source })?;
    }
    if let Store::File(path) = store
        && let Some(kind) = mounts::remote(path)
    {
        return Err(StartError::Remote(path.clone(), kind));
    }
    let database = Database::open(store).await?;
    let database = if is_serving { database.answering_soon() } else { database };
    let writer = Writer::start(&database).await?;
    let lasting = LastingActs::beside(store);
    Ok(Leagues { lasting, ..Leagues::new(database, writer, clock) })
}

impl Application {
    /// Builds a server: opens the store, makes or reads the keys, listens.
    ///
    /// # Errors
    /// Anything that would keep it from serving safely.
    pub async fn build(options: Options) -> Result<Self, StartError> {
        if !options.listen.ip().is_loopback() && !options.behind_proxy && !options.is_throwaway {
            return Err(StartError::Exposed(options.listen));
        }
        let mut leagues = opened(&options.database, options.clock.clone(), true).await?;
        leagues.database.look_over().await?;
        if let Store::File(path) = &options.database
            && let Some(folder) = path.parent()
        {
            remove_leftovers(folder);
        }
        if let Some(path) = &options.lasting_acts {
            leagues.lasting = LastingActs(Some(path.clone()));
        }
        match &leagues.lasting {
            LastingActs(None) => tracing::warn!("without --lasting-acts a restore undoes erasures and demotions"),
            lasting => complete(lasting, &mut leagues.database.reader().await?).await?,
        }
        let head_key = key::head_key(&options, &leagues.database).await?;
        let cursor_secret = Sha256::digest(format!("cursors {}", head_key.expose())).into();
        leagues.head_key = Some(head_key);
        let keys = SigningKeys::of(&options);
        let ring = keys.ring_or_made(&leagues.database).await?;
        let tokens = TokenKeys { ring, issuer: "evenfield".into() };
        tokens.self_check(leagues.now())?;
        let cores = std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
        let usual = if options.listen.ip().is_loopback() && !options.behind_proxy {
            Registration::Open
        } else {
            Registration::Invited
        };
        let door = Door {
            keys: Arc::new(LiveKeys::new(tokens)),
            hasher: Hasher::new(Cost::FLOOR, cores, PASSWORDS_WAITING)?,
            sign_ins: Arc::default(),
            registrations: Arc::default(),
            registration: options.registration.unwrap_or(usual),
        };
        let what = || format!("{} cannot be listened on", options.listen);
        let listener = TcpListener::bind(options.listen).map_err(|source| StartError::Io { what: what(), source })?;
        let address = listener.local_addr().map_err(|source| StartError::Io { what: what(), source })?;
        let (trusted_proxies, hosts) = match (options.behind_proxy, options.trusted_proxies) {
            (false, _) => (Vec::new(), hosts::of_loopback(address)),
            (true, named) if named.is_empty() => (proxies::LOOPBACK.to_vec(), Vec::new()),
            (true, named) => (named, Vec::new()),
        };
        let app = Data::new(App {
            leagues,
            door,
            config: Config {
                behind_proxy: options.behind_proxy,
                trusted_proxies,
                hosts,
                keeps_pages: options.keeps_pages,
                cursor_secret,
            },
            quota: Quota::new(options.allowance),
            intake: Arc::default(),
            offload: Default::default(),
            tables: Rendered::default(),
            measures: Measures::default(),
            started: Instant::now(),
        });
        let tasks = app.leagues.writer.tasks();
        app.leagues.boards.share(&app.leagues.database, tasks);
        let leagues = app.leagues.clone();
        tasks.keep_running("old answers", move || forget_old_answers(leagues.clone()));
        let leagues = app.leagues.clone();
        tasks.keep_running("evidence", move || weighing::keep_up(leagues.clone()));
        let (due, database) = (app.leagues.clearing.clone(), app.leagues.database.clone());
        tasks.keep_running("erasures", move || clearing::keep_up(due.clone(), database.clone()));
        let leagues = app.leagues.clone();
        tasks.keep_running("signed heads", move || heads::keep_up(leagues.clone()));
        let (database, live) = (app.leagues.database.clone(), Arc::clone(&app.door.keys));
        tasks.keep_running("token keys", move || keys.clone().keep_up(database.clone(), Arc::clone(&live)));
        if let Some(backups) = options.backups {
            let leagues = app.leagues.clone();
            let turns = move || backups.clone().keep_up(leagues.clone());
            actix_web::rt::spawn(tasks.clone().kept_running("backups", turns));
        }
        let mut connections = options.connections;
        if options.behind_proxy {
            // The proxy is the one address that connects; how many it lets in from where is its business.
            connections.of_one_address = connections.all;
        }
        let server = serve(listener, connections.within_descriptors(), app.clone())
            .map_err(|source| StartError::Io { what: what(), source })?;
        Ok(Self { address, app, server })
    }

    /// Returns what stops it from outside.
    pub fn handle(&self) -> ServerHandle {
        self.server.handle()
    }

    /// Runs until it is told to stop: streams end first, then requests, then the writer.
    ///
    /// # Errors
    /// A socket that fails.
    pub async fn run(self) -> io::Result<()> {
        let handle = self.handle();
        let app = self.app.clone();
        tokio::spawn(async move {
            stop_signal().await;
            tracing::info!("stopping");
            app.measures.stop();
            handle.stop(true).await;
        });
        let app = self.app.clone();
        let outcome = self.serve().await;
        // A database that says nothing is not waited for.
        let _ = tokio::time::timeout(LAST_REQUESTS, app.leagues.database.close()).await;
        outcome
    }

    /// Serves until its handle stops it, and leaves the database open.
    ///
    /// # Errors
    /// A socket that fails.
    pub async fn serve(self) -> io::Result<()> {
        let outcome = self.server.await;
        self.app.measures.stop();
        outcome
    }
}

/// Makes the file of lasting acts whole before acts are added to it.
async fn complete(lasting: &LastingActs, conn: &mut Conn) -> Result<(), StartError> {
    match lasting.complete(conn).await? {
        Ok(Completed { cut_off, added, unknown }) => {
            if cut_off.is_some() || added > 0 {
                tracing::warn!(cut_off, added, "the file of lasting acts was completed from the database");
            }
            if !unknown.is_empty() {
                let what = "the file of lasting acts holds acts that the database does not know: their changes failed, or \
                            the database was put back without `evenfield restore`";
                tracing::warn!(acts = ?unknown, "{what}");
            }
            Ok(())
        }
        // Acts that have to be written there are refused until it can be.
        Err(error @ LastingError::Io(..)) => {
            tracing::error!(error = format!("{:#}", anyhow::Error::new(error)), "the file of lasting acts");
            Ok(())
        }
        Err(error) => Err(error.into()),
    }
}

/// How long answers are kept under their idempotency keys. A round's `client_round_id` is kept for ever.
const ANSWERS_KEPT: SignedDuration = SignedDuration::from_hours(90 * 24);

/// Forgets old answers once a day.
async fn forget_old_answers(leagues: Leagues) {
    let mut retry = Retry::new("old answers could not be forgotten", Duration::from_secs(10));
    loop {
        let before = leagues.now() - ANSWERS_KEPT;
        let forgotten = change!(leagues, Scope::Nothing, |conn| idempotency::expire(conn, before).await);
        let pause = match forgotten {
            Ok(_) => {
                retry.succeeded();
                Duration::from_secs(24 * 3600)
            }
            Err(error) => retry.failed(error),
        };
        tokio::time::sleep(pause).await;
    }
}

/// Waits for SIGTERM or Ctrl-C.
async fn stop_signal() {
    let interrupt = tokio::signal::ctrl_c();
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = interrupt => {}
                _ = terminate.recv() => {}
            }
            return;
        }
    }
    let _ = interrupt.await;
}

async fn nothing_here() -> Result<HttpResponse, Problem> {
    Err(Problem::not_found())
}

fn serve(listener: TcpListener, connections: Connections, app: Data<App>) -> io::Result<Server> {
    let docs = Data::new(routes::all().docs);
    let last_shown = Data::new(LastShown::default());
    listening::serve(listener, connections, LAST_REQUESTS, app.config.behind_proxy, move || {
        Actix::new()
            .app_data(app.clone())
            .app_data(docs.clone())
            .app_data(last_shown.clone())
            .wrap(Compress::default())
            .wrap(from_fn(watch::watch))
            .configure(operator::serve)
            .service(web::scope("/api/v1").configure(|config| routes::all().serve(config)))
            .service(web::resource("/api/{elsewhere:.*}").to(nothing_here))
            .configure(pages::serve)
    })
}
