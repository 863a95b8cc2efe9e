//! Why a server could not start.

use crate::accounts::RandomnessError;
use crate::accounts::keys::KeyError;
use crate::accounts::password::HasherError;
use crate::accounts::token::IssueError;
use crate::storage::StorageError;
use crate::storage::lasting::LastingError;
use std::io;
use std::net::SocketAddr;
use std::path::PathBuf;

/// Why a server could not start.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The store.
    #[error("the store cannot be opened")]
    Storage(#[from] StorageError),
    /// A file or a socket.
    #[error("{what}")]
    Io {
        /// What was tried.
        what: String,
        /// What the system said.
        #[source]
        source: io::Error,
    },
    /// The key file.
    #[error("the key file {0} is not one that this server wrote")]
    Key(PathBuf, #[source] KeyError),
    /// The key in the database.
    #[error("the key in the database is not one that a server wrote")]
    SharedKey(#[source] KeyError),
    /// Others may read the key file.
    #[error("others may read the key file {0}; make it readable for its owner alone (chmod 600)")]
    OpenKey(PathBuf),
    /// The file of lasting acts is damaged.
    #[error(transparent)]
    LastingActs(#[from] LastingError),
    /// Signing does not work.
    #[error("tokens cannot be signed")]
    Signing(#[from] IssueError),
    /// Hashing does not work.
    #[error("passwords cannot be hashed")]
    Hashing(#[from] HasherError),
    /// No random bytes.
    #[error(transparent)]
    Randomness(#[from] RandomnessError),
    /// A file on another machine.
    #[error("{0} lies on a network file system ({1}), where SQLite can lose rounds: use a local disk, or PostgreSQL")]
    Remote(PathBuf, String),
    /// Plain text beyond this machine.
    #[error("refusing to serve plain HTTP to other machines ({0}): run behind a TLS proxy, with --behind-proxy")]
    Exposed(SocketAddr),
}
