//! A server in this process, on a thread of its own, that ends with the test that started it.

pub mod options;

use actix_web::dev::ServerHandle;
use actix_web::web::Data;
use evenfield::http::app::App;
use evenfield::startup::{Application, Options};
use std::net::SocketAddr;
use std::sync::mpsc;
use std::thread::JoinHandle;

/// A running server. Dropping it stops the server with all its tasks and waits for that: servers of tests that are over
/// would go on asking for a database that is gone, and keep the machine busy. Connections to the database close when
/// `app` is dropped: waiting for those that the test's own thread still has to give back would be for ever.
pub struct Serving {
    /// Where it listens.
    pub address: SocketAddr,
    /// What its handlers share.
    pub app: Data<App>,
    handle: ServerHandle,
    thread: Option<JoinHandle<()>>,
}

impl Serving {
    /// Starts a server and waits until it listens.
    pub fn start(options: Options) -> Self {
        let (sender, started) = mpsc::channel();
        let thread = std::thread::spawn(move || {
            actix_web::rt::System::new().block_on(async move {
                let application = Application::build(options).await.expect("the server starts");
                let (address, app, handle) = (application.address, application.app.clone(), application.handle());
                sender.send((address, app, handle)).expect("the test waits for the server");
                application.serve().await.expect("the server runs");
            });
        });
        let (address, app, handle) = started.recv().expect("the server starts; its panic stands above");
        Self { address, app, handle, thread: Some(thread) }
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        // Without waiting for open connections: clients keep theirs for the next request.
        drop(self.handle.stop(false));
        let ended = self.thread.take().map(JoinHandle::join);
        if let Some(Err(_)) = ended
            && !std::thread::panicking()
        {
            panic!("the server panicked; its message stands above");
        }
    }
}
