//! How many bytes of bodies are in memory, of all clients and of each network.

use crate::accounts::throttle::Network;
use crate::http::problem::Problem;
use actix_web::web::Bytes;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// The bytes that all bodies together may hold in memory.
const MOST_HELD: usize = 64 << 20;

/// Counts the bytes of bodies that are in memory, of all clients and of each network.
pub struct Intake {
    most: usize,
    held: Mutex<Held>,
}

#[derive(Default)]
struct Held {
    all: usize,
    by_network: HashMap<Network, usize>,
}

impl Default for Intake {
    fn default() -> Self {
        Self::new(MOST_HELD)
    }
}

impl Intake {
    fn new(most: usize) -> Self {
        Self { most, held: Mutex::default() }
    }

    /// Begins to hold bytes for a client.
    pub fn hold(self: &Arc<Self>, network: Network) -> Hold {
        Hold { intake: Arc::clone(self), network, bytes: 0 }
    }
}

/// Bytes that are held for one client; given back when this is dropped.
pub struct Hold {
    intake: Arc<Intake>,
    network: Network,
    bytes: usize,
}

impl Hold {
    /// For whom.
    pub fn network(&self) -> Network {
        self.network
    }

    /// Holds more bytes.
    ///
    /// # Errors
    /// 503, if all bodies would hold too many then, or those of this network more than half of that.
    pub fn grow(&mut self, more: usize) -> Result<(), Problem> {
        let mut held = self.intake.held.lock().unwrap_or_else(PoisonError::into_inner);
        let here = held.by_network.get(&self.network).copied().unwrap_or(0) + more;
        if held.all + more > self.intake.most || here > self.intake.most / 2 {
            return Err(Problem::busy());
        }
        held.all += more;
        held.by_network.insert(self.network, here);
        self.bytes += more;
        Ok(())
    }
}

impl Drop for Hold {
    fn drop(&mut self) {
        let mut held = self.intake.held.lock().unwrap_or_else(PoisonError::into_inner);
        held.all -= self.bytes;
        match held.by_network.get_mut(&self.network) {
            Some(here) if *here > self.bytes => *here -= self.bytes,
            _ => {
                held.by_network.remove(&self.network);
            }
        }
    }
}

/// Bytes together with what counts them.
struct Counted {
    bytes: Vec<u8>,
    _hold: Hold,
}

impl AsRef<[u8]> for Counted {
    fn as_ref(&self) -> &[u8] {
        &self.bytes
    }
}

/// Makes bytes that stay counted for as long as anything refers to them.
pub fn counted(bytes: Vec<u8>, hold: Hold) -> Bytes {
    Bytes::from_owner(Counted { bytes, _hold: hold })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::net::Ipv4Addr;

    fn network(last: u8) -> Network {
        Network::V4(Ipv4Addr::new(192, 0, 2, last))
    }

    #[test]
    fn bytes_are_counted_in_all_and_of_each_network() {
        let intake = Arc::new(Intake::new(100));
        let mut one = intake.hold(network(1));
        assert!(one.grow(50).is_ok());
        assert!(one.grow(1).is_err(), "51 of 100 for one network");
        let mut same = intake.hold(network(1));
        assert!(same.grow(1).is_err(), "51 of 100 for one network, in two requests");
        let mut other = intake.hold(network(2));
        assert!(other.grow(50).is_ok());
        assert!(intake.hold(network(3)).grow(1).is_err(), "101 in all");
        drop(counted(Vec::new(), one));
        assert!(intake.hold(network(3)).grow(50).is_ok());
        drop((same, other));
        assert_eq!(intake.held.lock().unwrap().all, 0);
        assert!(intake.held.lock().unwrap().by_network.is_empty());
    }
}
