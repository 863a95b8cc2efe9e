//! What was said of a round after it came in: rulings, queries and their answers.

use serde::{Deserialize, Serialize};

/// What an organizer decides about a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Decision {
    /// A slip on the card is mended.
    Correct,
    /// The round counts for nothing.
    ExcludeRound,
    /// The latest ruling in effect is undone.
    Reinstate,
}

impl Decision {
    /// The words for them.
    pub const WORDS: &'static [&'static str] = &["correct", "exclude_round", "reinstate"];

    /// Returns the word for it.
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize]
    }

    /// Reads the word for it.
    pub fn from_word(word: &str) -> Option<Self> {
        [Decision::Correct, Decision::ExcludeRound, Decision::Reinstate].into_iter().find(|known| known.word() == word)
    }
}

/// A doubt about a card.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Query {
    /// JSON Pointer to what is doubted in the round.
    #[serde(default)]
    pub pointer: Option<String>,
    /// The doubt in words.
    pub text: String,
}

/// An answer to a doubt.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    /// The answer in words.
    pub text: String,
}
