//! Tasks that go on for as long as the server runs: one that panics is started again, and one whose work fails tries it
//! again after growing pauses.

use futures_util::FutureExt;
use std::any::Any;
use std::collections::BTreeSet;
use std::fmt::Display;
use std::panic::AssertUnwindSafe;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::time::{Instant, sleep};
use uuid::Uuid;

/// The pause before a task is started again; each further one is twice as long.
const FIRST_PAUSE: Duration = Duration::from_millis(100);
/// The longest pause, before a start and before another try.
const LONGEST_PAUSE: Duration = Duration::from_secs(60);

/// What is known of the tasks of one server.
#[derive(Clone, Default)]
pub struct Tasks(Arc<Inner>);

#[derive(Default)]
struct Inner {
    down: Mutex<BTreeSet<&'static str>>,
    failures: AtomicU64,
}

impl Tasks {
    /// Runs what `start` makes until it ends by itself, in a task of its own. If it panics, that is logged and counted, and it
    /// is started again after a pause; it counts as running again once it has run for a while.
    pub fn keep_running<F>(&self, name: &'static str, start: impl FnMut() -> F + Send + 'static)
    where
        F: Future<Output = ()> + Send + 'static,
    {
        tokio::spawn(self.clone().kept_running(name, start));
    }

    /// As [`keep_running`](Self::keep_running), in the task that waits for it.
    pub async fn kept_running<F: Future<Output = ()>>(self, name: &'static str, mut start: impl FnMut() -> F) {
        let mut pause = FIRST_PAUSE;
        loop {
            let began = Instant::now();
            let run = AssertUnwindSafe(async { start().await }).catch_unwind();
            tokio::pin!(run);
            let ended = tokio::select! {
                ended = &mut run => ended,
                () = sleep(pause) => {
                    self.down().remove(name);
                    run.await
                }
            };
            let Err(panic) = ended else {
                self.down().remove(name);
                return;
            };
            if began.elapsed() > LONGEST_PAUSE {
                pause = FIRST_PAUSE;
            }
            self.down().insert(name);
            self.0.failures.fetch_add(1, Ordering::Relaxed);
            tracing::error!(task = name, ?pause, "a task failed and is started again: {}", panic_text(&*panic));
            sleep(pause).await;
            pause = (pause * 2).min(LONGEST_PAUSE);
        }
    }

    /// Says whether every task runs.
    pub fn are_running(&self) -> bool {
        self.down().is_empty()
    }

    /// Returns how many times a task had to be started again.
    pub fn failures(&self) -> u64 {
        self.0.failures.load(Ordering::Relaxed)
    }

    fn down(&self) -> MutexGuard<'_, BTreeSet<&'static str>> {
        self.0.down.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Returns what a panic says.
pub fn panic_text(panic: &(dyn Any + Send)) -> &str {
    let text = panic.downcast_ref::<&str>().copied();
    text.or_else(|| panic.downcast_ref::<String>().map(String::as_str)).unwrap_or("panic of unknown kind")
}

/// Something that is done again and again. The first of its failures in a row is logged, and the pauses grow until it
/// succeeds.
pub struct Retry {
    what: &'static str,
    first: Duration,
    failures: u32,
}

impl Retry {
    /// `what` failed, the log will say; `first` is the pause after the first failure.
    pub fn new(what: &'static str, first: Duration) -> Self {
        Self { what, first, failures: 0 }
    }

    /// Notes a failure and returns the pause before the next try: with each failure twice as long up to a minute, and by
    /// chance up to a quarter shorter, so that servers do not all come back at once.
    pub fn failed(&mut self, error: impl Display) -> Duration {
        if self.failures == 0 {
            tracing::warn!(error = error.to_string(), "{}; it is tried again", self.what);
        }
        let pause = self.first.saturating_mul(1 << self.failures.min(16)).min(LONGEST_PAUSE);
        self.failures += 1;
        pause.mul_f64(1.0 - (Uuid::new_v4().as_u128() % 256) as f64 / 1024.0)
    }

    /// Notes a success.
    pub fn succeeded(&mut self) {
        if self.failures > 0 {
            tracing::info!(failures = self.failures, "no longer: {}", self.what);
        }
        self.failures = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::sync::mpsc;

    #[tokio::test]
    async fn a_task_that_panics_is_started_again_and_the_server_is_not_ready_meanwhile() {
        let tasks = Tasks::default();
        let (tell, mut told) = mpsc::unbounded_channel();
        let mut starts = 0;
        tasks.keep_running("restless", move || {
            starts += 1;
            let (this, tell) = (starts, tell.clone());
            async move {
                tell.send(this).expect("the test listens");
                assert!(this > 3, "not yet");
                std::future::pending::<()>().await;
            }
        });
        assert!(tasks.are_running());
        for start in 1..=4 {
            assert_eq!(told.recv().await, Some(start));
            assert!(!tasks.are_running(), "after start {start}");
        }
        assert_eq!(tasks.failures(), 3);
        let began = Instant::now();
        while !tasks.are_running() {
            assert!(began.elapsed() < Duration::from_secs(60), "it never counts as running again");
            sleep(FIRST_PAUSE).await;
        }
    }

    #[tokio::test]
    async fn a_task_that_ends_by_itself_is_not_started_again() {
        let tasks = Tasks::default();
        let (tell, mut told) = mpsc::unbounded_channel();
        tasks.keep_running("done", move || {
            let tell = tell.clone();
            async move { tell.send(()).expect("the test listens") }
        });
        assert_eq!(told.recv().await, Some(()));
        assert_eq!(told.recv().await, None, "it was started again");
        assert!(tasks.are_running() && tasks.failures() == 0);
    }

    #[test]
    fn pauses_double_up_to_a_minute_and_begin_anew_after_a_success() {
        let mut retry = Retry::new("a test fails", Duration::from_secs(5));
        for longest in [5, 10, 20, 40, 60, 60] {
            let (pause, longest) = (retry.failed("of course"), Duration::from_secs(longest));
            assert!(pause <= longest && pause > longest.mul_f64(0.74), "{pause:?}, at most {longest:?}");
        }
        retry.succeeded();
        assert!(retry.failed("of course") <= Duration::from_secs(5));
    }
}
