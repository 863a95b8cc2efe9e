//! Work that takes more than a moment, such as reading a large file, is done beside the threads that answer requests: a
//! thread that is kept busy answers nobody, not even the question whether the server lives.

use crate::http::problem::Problem;
use std::num::NonZeroUsize;
use std::sync::Arc;
use tokio::sync::Semaphore;

/// How many pieces of work may wait.
const MOST_WAITING: usize = 64;

/// Runs such work, as many pieces at once as there are cores.
pub struct Offload {
    running: Arc<Semaphore>,
    places: Arc<Semaphore>,
}

impl Default for Offload {
    fn default() -> Self {
        let cores = std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN).get();
        Self::new(cores, MOST_WAITING)
    }
}

impl Offload {
    fn new(at_once: usize, waiting: usize) -> Self {
        let places = Arc::new(Semaphore::new(at_once + waiting));
        Self { running: Arc::new(Semaphore::new(at_once)), places }
    }

    /// Does a piece of work.
    ///
    /// # Errors
    /// 503, if too many pieces wait already.
    pub async fn run<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Result<T, Problem> {
        let place = Arc::clone(&self.places).try_acquire_owned().map_err(|_| Problem::busy())?;
        let turn = Arc::clone(&self.running).acquire_owned().await.map_err(|error| Problem::internal(&error))?;
        let done = tokio::task::spawn_blocking(move || {
            let done = work();
            // The turn ends with the work, also if nobody waits for it any more.
            drop((turn, place));
            done
        });
        done.await.map_err(|error| Problem::internal(&error))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn no_more_pieces_wait_than_may() {
        let offload = Arc::new(Offload::new(1, 1));
        let (release, held) = std::sync::mpsc::channel::<()>();
        let start = |work: Box<dyn FnOnce() + Send>| {
            let offload = Arc::clone(&offload);
            tokio::spawn(async move { offload.run(work).await })
        };
        let first = start(Box::new(move || {
            let _ = held.recv();
        }));
        let second = start(Box::new(|| {}));
        while offload.places.available_permits() > 0 {
            tokio::task::yield_now().await;
        }
        assert!(offload.run(|| {}).await.is_err(), "a second piece that waits");
        release.send(()).unwrap();
        assert!(first.await.unwrap().is_ok() && second.await.unwrap().is_ok());
        assert!(offload.run(|| {}).await.is_ok());
    }
}
