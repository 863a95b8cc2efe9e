//! What a server is told.

use super::backups::Backups;
use super::listening::Connections;
use crate::http::proxies;
use crate::http::quota::Allowance;
use crate::league::Clock;
use crate::league::account::register::Registration;
use crate::storage::Store;
use std::net::SocketAddr;
use std::path::PathBuf;

/// What a server is told.
#[derive(Clone)]
pub struct Options {
    /// Where the data is.
    pub database: Store,
    /// The file with the key that tokens are signed with; without it a file beside the database, or on PostgreSQL a row
    /// that all servers share.
    pub signing_key: Option<PathBuf>,
    /// The file with the key that heads of journals are signed with; without it as for the other key.
    pub journal_key: Option<PathBuf>,
    /// Where to listen.
    pub listen: SocketAddr,
    /// Whether other machines are served without TLS: where nothing is anybody's, and everything is thrown away.
    pub is_throwaway: bool,
    /// Whether a proxy stands in front.
    pub behind_proxy: bool,
    /// The proxies that are believed when they say where requests come from; without any those on this machine.
    pub trusted_proxies: Vec<proxies::Block>,
    /// Who may register; without it open on this machine alone, else by invitation.
    pub registration: Option<Registration>,
    /// How much each account may ask.
    pub allowance: Allowance,
    /// How many connections are open at once.
    pub connections: Connections,
    /// The file of acts that outlast a restore; without it one beside the database, or on PostgreSQL none.
    pub lasting_acts: Option<PathBuf>,
    /// Where and how often backups are made.
    pub backups: Option<Backups>,
    /// Whether devices keep pages, so that they open without a network.
    pub keeps_pages: bool,
    /// Where the time comes from.
    pub clock: Clock,
}
