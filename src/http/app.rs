//! What every handler shares.

use crate::http::intake::Intake;
use crate::http::measures::Measures;
use crate::http::offload::Offload;
use crate::http::proxies::Block;
use crate::http::quota::Quota;
use crate::http::rendered::Rendered;
use crate::league::Leagues;
use crate::league::account::register::Door;
use actix_web::HttpRequest;
use actix_web::web::Data;
use std::sync::Arc;
use std::time::Instant;

/// What a server was told at its start.
#[derive(Clone, Debug)]
pub struct Config {
    /// Whether a proxy with TLS stands in front.
    pub behind_proxy: bool,
    /// The proxies that are believed when they say where requests come from.
    pub trusted_proxies: Vec<Block>,
    /// The hosts that it answers for without a proxy; empty behind one, which knows.
    pub hosts: Vec<String>,
    /// Whether devices keep pages, so that they open without a network.
    pub keeps_pages: bool,
    /// Signs cursors.
    pub cursor_secret: [u8; 32],
}

/// Everything that handlers need.
pub struct App {
    pub leagues: Leagues,
    /// What signing in needs.
    pub door: Door,
    /// What the server was told.
    pub config: Config,
    /// How much each account may ask.
    pub quota: Quota,
    /// The bytes of bodies that are in memory.
    pub intake: Arc<Intake>,
    /// Does what would keep a worker's thread busy.
    pub offload: Offload,
    /// Tables as they were last written.
    pub tables: Rendered,
    /// What an operator watches.
    pub measures: Measures,
    /// When the server started.
    pub started: Instant,
}

impl App {
    /// Returns what the server was built with.
    pub fn of(request: &HttpRequest) -> Data<Self> {
        request.app_data::<Data<Self>>().expect("the server is built with its App").clone()
    }
}
