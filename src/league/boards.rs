//! Tells that boards show something else: to the streams of this server, and through a shared database to other servers.

use crate::domain::ids::EventId;
use crate::storage::{Database, news};
use std::collections::BTreeSet;
use std::sync::{Arc, OnceLock};
use std::time::Duration;
use tokio::sync::{broadcast, mpsc};
use uuid::Uuid;

/// What is told to other servers within this time goes out together.
const TOGETHER: Duration = Duration::from_millis(100);
/// How long a server that hears nothing waits before it listens again. Meanwhile streams look every few seconds.
const AGAIN: Duration = Duration::from_secs(1);

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
    pub fn share(&self, database: &Database) {
        if !database.is_shared() {
            return;
        }
        let (sender, receiver) = mpsc::unbounded_channel();
        if self.elsewhere.set(sender).is_ok() {
            let server = Uuid::new_v4();
            tokio::spawn(tell(database.clone(), server, receiver));
            tokio::spawn(hear(database.clone(), server, self.here.clone()));
        }
    }
}

async fn tell(database: Database, server: Uuid, mut moved: mpsc::UnboundedReceiver<EventId>) {
    while let Some(event) = moved.recv().await {
        let mut events = BTreeSet::from([event.0]);
        while let Ok(event) = moved.try_recv() {
            events.insert(event.0);
        }
        if let Err(error) = news::tell(&database, server, events).await {
            tracing::warn!(error = error.to_string(), "other servers were not told of boards");
        }
        tokio::time::sleep(TOGETHER).await;
    }
}

async fn hear(database: Database, server: Uuid, here: broadcast::Sender<EventId>) {
    loop {
        let heard = news::hear(&database, |from, events| {
            // This server's own news is known here.
            for event in events.filter(|_| from != server) {
                let _ = here.send(EventId(event));
            }
        });
        match heard.await {
            Ok(()) => return,
            Err(error) => tracing::warn!(error = error.to_string(), "news of boards is not heard"),
        }
        tokio::time::sleep(AGAIN).await;
    }
}
