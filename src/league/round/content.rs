//! The content of a card: in order, and as it is hashed.

use crate::domain::facts::Round;
use sha2::{Digest, Sha256};

/// Puts a card's holes in order: faults point into the card as it was sent, everything else wants it in order.
pub(in crate::league) fn in_order(mut round: Round) -> Round {
    round.holes.sort_by_key(|hole| hole.number);
    round
}

/// Returns the bytes whose hash stands for a round in the journal.
pub fn content_hash_input(round: &Round) -> Vec<u8> {
    serde_json::to_vec(round).expect("a round is plain values with text keys")
}

/// Returns the hash that tells whether a round sent again is the same, however its JSON is laid out: of a card in order.
pub fn body_hash(round: &Round) -> [u8; 32] {
    Sha256::digest(content_hash_input(round)).into()
}
