//! Tells that boards show something else: to the streams of this server, and through a shared database to other servers.

use crate::domain::ids::EventId;
use crate::storage::{Database, news};
use crate::tasks::{Retry, Tasks};
use std::collections::BTreeSet;
use std::sync::{Arc, OnceLock};
use std::time::Duration;
use tokio::sync::{Mutex, broadcast, mpsc};
use tokio::time::{Instant, sleep};
use uuid::Uuid;

/// What is told to other servers within this time goes out together.
const TOGETHER: Duration = Duration::from_millis(100);
/// How long a server that hears nothing waits before it listens again, the first time. Meanwhile streams look every few
/// seconds.
const AGAIN: Duration = Duration::from_secs(1);
/// Whoever listened for so long was connected.
const LISTENED: Duration = Duration::from_secs(10);

/// The boards that somebody may look at.
#[derive(Clone)]
pub struct Boards {
    here: broadcast::Sender<EventId>,
    elsewhere: Arc<OnceLock<mpsc::UnboundedSender<EventId>>>,
}

impl Default for Boards {
    fn default() -> Self {
        Self { here: broadcast::channel(1024).0, elsewhere: Arc::default() }
    }
}

impl Boards {
    /// Tells that an event's board shows something else.
    pub fn moved(&self, event: EventId) {
        let _ = self.here.send(event);
        if let Some(elsewhere) = self.elsewhere.get() {
            let _ = elsewhere.send(event);
        }
    }

    /// Hears of boards that show something else, here or on other servers.
    pub fn subscribe(&self) -> broadcast::Receiver<EventId> {
        self.here.subscribe()
    }

    /// Shares news of boards with the other servers of the database, if it is one that servers share.
    pub fn share(&self, database: &Database, tasks: &Tasks) {
        if !database.is_shared() {
            return;
        }
        let (sender, receiver) = mpsc::unbounded_channel();
        if self.elsewhere.set(sender).is_ok() {
            let server = Uuid::new_v4();
            let receiver = Arc::new(Mutex::new(receiver));
            let from = database.clone();
            tasks.keep_running("board news, telling", move || tell(from.clone(), server, Arc::clone(&receiver)));
            let (from, here) = (database.clone(), self.here.clone());
            tasks.keep_running("board news, hearing", move || hear(from.clone(), server, here.clone()));
        }
    }
}

async fn tell(database: Database, server: Uuid, moved: Arc<Mutex<mpsc::UnboundedReceiver<EventId>>>) {
    let mut moved = moved.lock().await;
    let mut retry = Retry::new("other servers were not told of boards", AGAIN);
    while let Some(event) = moved.recv().await {
        let mut events = BTreeSet::from([event.0]);
        while let Ok(event) = moved.try_recv() {
            events.insert(event.0);
        }
        match news::tell(&database, server, events).await {
            Ok(()) => {
                retry.succeeded();
                sleep(TOGETHER).await;
            }
            Err(error) => sleep(retry.failed(error)).await,
        }
    }
}

async fn hear(database: Database, server: Uuid, here: broadcast::Sender<EventId>) {
    let mut retry = Retry::new("news of boards is not heard", AGAIN);
    loop {
        let began = Instant::now();
        let heard = news::hear(&database, |from, events| {
            // This server's own news is known here.
            for event in events.filter(|_| from != server) {
                let _ = here.send(EventId(event));
            }
        });
        let Err(error) = heard.await else { return };
        // Whoever listened for a while had been let in.
        if began.elapsed() > LISTENED {
            retry.succeeded();
        }
        sleep(retry.failed(error)).await;
    }
}
