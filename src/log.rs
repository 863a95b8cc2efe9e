//! The log. A thread of its own writes its lines to standard error, so that no task waits for whoever reads them, and none
//! fails: a line that cannot be written is dropped and counted.

use std::fmt::Display;
use std::io::{self, Write};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;
use std::time::Duration;
use tracing_subscriber::EnvFilter;
use tracing_subscriber::fmt::MakeWriter;

/// How many lines may wait to be written.
const MOST_WAITING: usize = 4096;
/// How long the end of the program waits for the last lines.
const LAST_LINES: Duration = Duration::from_secs(1);

static DROPPED: AtomicU64 = AtomicU64::new(0);

/// Returns how many lines of the log were dropped since the program started.
pub fn dropped() -> u64 {
    DROPPED.load(Ordering::Relaxed)
}

/// Tells whoever runs the program something on standard error, if that can be written.
pub fn say(text: impl Display) {
    let _ = writeln!(io::stderr(), "evenfield: {text}");
}

enum Message {
    Line(Vec<u8>),
    /// Everything before this was written once the sender is dropped.
    Flush(#[expect(dead_code, reason = "it is held until it is dropped")] SyncSender<()>),
}

#[derive(Clone)]
struct Lines(SyncSender<Message>);

impl Lines {
    /// Starts the thread that writes to `output`; `None` where the system has no thread left.
    fn to(output: impl Write + Send + 'static) -> Option<Self> {
        let (sender, receiver) = sync_channel(MOST_WAITING);
        thread::Builder::new().name("log".into()).spawn(move || write(&receiver, output)).ok()?;
        Some(Self(sender))
    }
}

fn write(lines: &Receiver<Message>, mut output: impl Write) {
    for message in lines {
        if let Message::Line(line) = message
            && output.write_all(&line).is_err()
        {
            DROPPED.fetch_add(1, Ordering::Relaxed);
        }
    }
}

/// The formatter writes a line as a whole.
impl Write for Lines {
    fn write(&mut self, line: &[u8]) -> io::Result<usize> {
        if self.0.try_send(Message::Line(line.to_vec())).is_err() {
            DROPPED.fetch_add(1, Ordering::Relaxed);
        }
        Ok(line.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl MakeWriter<'_> for Lines {
    type Writer = Self;

    fn make_writer(&self) -> Self {
        self.clone()
    }
}

/// A log that was started: dropping it waits, for a moment at most, until its last lines are written.
pub struct Log(Option<Lines>);

impl Drop for Log {
    fn drop(&mut self) {
        let Some(Lines(lines)) = &self.0 else { return };
        let (held, released) = sync_channel(0);
        if lines.try_send(Message::Flush(held)).is_ok() {
            let _ = released.recv_timeout(LAST_LINES);
        }
    }
}

/// Starts the log, as much of it as `EVENFIELD_LOG` says. Panics are logged, too.
pub fn start() -> Log {
    let filter = EnvFilter::try_from_env("EVENFIELD_LOG").unwrap_or_else(|_| EnvFilter::new("warn,evenfield=info"));
    let lines = Lines::to(io::stderr());
    if let Some(lines) = lines.clone() {
        let log = tracing_subscriber::fmt().json().with_env_filter(filter).log_internal_errors(false);
        if log.with_writer(lines).try_init().is_ok() {
            // The usual hook writes to standard error itself, and would wait for whoever reads that.
            std::panic::set_hook(Box::new(|panic| {
                let place = panic.location().map(ToString::to_string).unwrap_or_default();
                let text = panic.payload_as_str().unwrap_or("of unknown kind");
                tracing::error!(place, "panic: {text}");
            }));
        }
    }
    Log(lines)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;
    use std::sync::mpsc::channel;

    /// Tests here read one counter.
    static TURN: Mutex<()> = Mutex::new(());

    struct Broken;

    impl Write for Broken {
        fn write(&mut self, _: &[u8]) -> io::Result<usize> {
            Err(io::ErrorKind::BrokenPipe.into())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    /// Takes a line only when it is told to.
    struct Stalled(Receiver<()>);

    impl Write for Stalled {
        fn write(&mut self, line: &[u8]) -> io::Result<usize> {
            let _ = self.0.recv();
            Ok(line.len())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn lines_that_cannot_be_written_are_dropped_and_counted() {
        let _turn = TURN.lock().expect("no test panicked with it");
        let before = dropped();
        let mut lines = Lines::to(Broken).expect("a thread");
        for _ in 0..3 {
            lines.write_all(b"a line\n").expect("nobody is told");
        }
        drop(Log(Some(lines)));
        assert_eq!(dropped() - before, 3);
    }

    #[test]
    fn nobody_waits_for_a_log_that_is_not_read() {
        let _turn = TURN.lock().expect("no test panicked with it");
        let before = dropped();
        let (go_on, stalled) = channel();
        let mut lines = Lines::to(Stalled(stalled)).expect("a thread");
        // One may be with the thread that writes.
        for _ in 0..MOST_WAITING + 2 {
            lines.write_all(b"a line\n").expect("nobody is told");
        }
        let lost = dropped() - before;
        assert!((1..=2).contains(&lost), "{lost} were dropped");
        drop(go_on);
    }
}
