//! The program under test, as it is installed: a process that is started, killed and stopped.

use std::fs::OpenOptions;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Output, Stdio};
use std::time::{Duration, Instant};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

pub const EVENFIELD: &str = env!("CARGO_BIN_EXE_evenfield");
/// More than any phone asks.
const PLENTY: &str = "100000000";

/// Where a server's log goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LogTo {
    /// To a file in the folder; warnings alone.
    File,
    /// To a device that is always full.
    FullDevice,
    /// To a pipe whose reader goes away at once.
    PipeThatCloses,
    /// To a pipe that nobody reads.
    PipeThatStalls,
}

/// A server in a process of its own, always on the same port.
pub struct Program {
    port: u16,
    database: String,
    log: PathBuf,
    /// A program that runs the server, with its words.
    around: Vec<String>,
    log_to: LogTo,
    child: Child,
}

impl Program {
    /// Starts a server on a database and does not wait for it. Its log goes to the folder.
    pub fn launch(database: &str, folder: &Path, around: &[&str]) -> Self {
        Self::launch_logging(database, folder, around, LogTo::File)
    }

    /// As [`launch`](Self::launch), with a log that goes elsewhere.
    pub fn launch_logging(database: &str, folder: &Path, around: &[&str], log_to: LogTo) -> Self {
        // The port is free again by the time the server binds it.
        let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let log = folder.join(format!("server-{port}.log"));
        let around: Vec<String> = around.iter().map(ToString::to_string).collect();
        let child = spawn(port, database, &log, &around, log_to, &[]);
        Self { port, database: database.to_owned(), log, around, log_to, child }
    }

    /// Starts a server and waits until it answers.
    pub async fn start(database: &str, folder: &Path) -> Self {
        let mut program = Self::launch(database, folder, &[]);
        program.answers().await;
        program
    }

    /// Where it listens.
    pub fn origin(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }

    /// Where it listens, without the scheme.
    pub fn address(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// Waits until it answers.
    pub async fn answers(&mut self) {
        let began = Instant::now();
        while !self.is_live().await {
            let ended = self.child.try_wait().unwrap();
            assert!(ended.is_none(), "the server ended: {ended:?}\n{}", self.told());
            assert!(began.elapsed() < Duration::from_secs(300), "the server does not answer\n{}", self.told());
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    async fn is_live(&self) -> bool {
        let Ok(mut socket) = TcpStream::connect(self.address()).await else { return false };
        let asked = format!("GET /livez HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", self.address());
        let mut answer = Vec::new();
        socket.write_all(asked.as_bytes()).await.is_ok()
            && socket.read_to_end(&mut answer).await.is_ok()
            && answer.starts_with(b"HTTP/1.1 200")
    }

    /// Kills it as the system does that is out of memory: nothing of the server's own runs afterwards.
    pub fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Waits until it answers, or ends by itself, which must be with an error; says whether it answers.
    pub async fn answers_or_ends(&mut self) -> bool {
        let began = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                assert!(!status.success(), "the server ended as if it had been told to\n{}", self.told());
                return false;
            }
            if self.is_live().await {
                return true;
            }
            assert!(began.elapsed() < Duration::from_secs(300), "the server neither answers nor ends\n{}", self.told());
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    /// Empties its log.
    pub fn forget_log(&self) {
        std::fs::write(&self.log, "").unwrap();
    }

    /// Returns its log.
    pub fn told(&self) -> String {
        std::fs::read_to_string(&self.log).unwrap_or_default()
    }

    /// Waits until its log says something: the program writes it beside its answers. Returns the log.
    pub async fn tells(&self, what: &str) -> String {
        let began = Instant::now();
        loop {
            let told = self.told();
            if told.contains(what) {
                return told;
            }
            assert!(began.elapsed() < Duration::from_secs(50), "the log does not say {what}\n{told}");
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    /// Starts it again where it was.
    pub fn launch_again(&mut self) {
        self.launch_again_with(&[]);
    }

    /// Starts it again where it was, with more words.
    pub fn launch_again_with(&mut self, words: &[&str]) {
        self.child = spawn(self.port, &self.database, &self.log, &self.around, self.log_to, words);
    }

    /// Tells it to stop; returns how it ended, and after how long. One that does not end fails the test.
    pub async fn terminate(&mut self) -> (ExitStatus, Duration) {
        let began = Instant::now();
        let told = self.served_by();
        assert!(Command::new("kill").args(["-TERM", &told.to_string()]).status().unwrap().success());
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return (status, began.elapsed());
            }
            assert!(began.elapsed() < Duration::from_secs(300), "the server does not stop");
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    }

    /// The memory that it has in use, in KiB.
    pub fn resident_kib(&self) -> u64 {
        self.memory_kib("VmRSS:")
    }

    /// The most memory that it ever had in use, in KiB.
    pub fn most_resident_kib(&self) -> u64 {
        self.memory_kib("VmHWM:")
    }

    fn memory_kib(&self, line: &str) -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.served_by())).unwrap();
        let found = status.lines().find_map(|known| known.strip_prefix(line)).expect("a running process has memory");
        found.split_whitespace().next().unwrap().parse().unwrap()
    }

    /// Counts its open file descriptors.
    pub fn descriptors(&self) -> usize {
        std::fs::read_dir(format!("/proc/{}/fd", self.served_by())).unwrap().count()
    }

    /// The process that serves: the child, or its child where something else runs it and stays.
    fn served_by(&self) -> u32 {
        let child = self.child.id();
        if self.around.is_empty() {
            return child;
        }
        let children = std::fs::read_to_string(format!("/proc/{child}/task/{child}/children")).unwrap();
        // Some programs become the server rather than run it.
        children.split_whitespace().next().map_or(child, |first| first.parse().unwrap())
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        if self.child.try_wait().unwrap().is_none() {
            let _ = Command::new("kill").args(["-KILL", &self.served_by().to_string()]).status();
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}

fn spawn(port: u16, database: &str, log: &Path, around: &[String], log_to: LogTo, more: &[&str]) -> Child {
    let stderr = match log_to {
        LogTo::File => Stdio::from(OpenOptions::new().create(true).append(true).open(log).unwrap()),
        LogTo::FullDevice => Stdio::from(OpenOptions::new().write(true).open("/dev/full").unwrap()),
        LogTo::PipeThatCloses | LogTo::PipeThatStalls => Stdio::piped(),
    };
    let mut words = around.to_vec();
    let listen = format!("127.0.0.1:{port}");
    words.extend([EVENFIELD, "serve", "--create", "--database", database, "--listen", &listen].map(String::from));
    words.extend(["--reads-per-minute", PLENTY, "--writes-per-minute", PLENTY, "--streams", PLENTY].map(String::from));
    words.extend(more.iter().map(ToString::to_string));
    let mut command = Command::new(&words[0]);
    let level = if log_to == LogTo::File { "warn" } else { "info" };
    command.args(&words[1..]).env("EVENFIELD_LOG", level).stdin(Stdio::null()).stdout(Stdio::null()).stderr(stderr);
    let mut child = command.spawn().unwrap_or_else(|error| panic!("{} does not start: {error}", words[0]));
    if log_to == LogTo::PipeThatCloses {
        drop(child.stderr.take());
    }
    child
}

/// Names a file of SQLite in a folder.
pub fn sqlite_in(folder: &Path) -> String {
    format!("sqlite:{}", folder.join("league.sqlite").display())
}

/// Runs a command of the program to its end.
pub async fn run(words: &[&str]) -> Output {
    run_as(&[&[EVENFIELD], words].concat()).await
}

/// Runs a program with its words to its end.
pub async fn run_as(words: &[&str]) -> Output {
    let mut command = Command::new(words[0]);
    command.args(&words[1..]);
    tokio::task::spawn_blocking(move || command.output()).await.unwrap().unwrap()
}

/// Runs a command that must succeed; returns what it printed.
pub async fn succeeds(words: &[&str]) -> String {
    let output = run(words).await;
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{words:?} ended with {}: {told}", output.status);
    String::from_utf8(output.stdout).unwrap()
}
