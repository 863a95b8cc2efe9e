//! What was said of a round after it came in: rulings, queries and their answers.

use serde::{Deserialize, Serialize};

/// What an organizer decides about a round or a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Decision {
    /// A slip on the card is mended.
    Correct,
    /// The round counts for nothing.
    ExcludeRound,
    /// The latest ruling in effect is undone.
    Reinstate,
    /// The putts of the round count for no putting figure.
    ExcludePutts,
    /// A finding asks for nothing; evidence begins anew.
    NoAction,
}

impl Decision {
    /// The words for them.
    pub const WORDS: &'static [&'static str] = &["correct", "exclude_round", "reinstate", "exclude_putts", "no_action"];
    /// Those on a round without a finding.
    pub const ON_ROUNDS: &'static [&'static str] = &["correct", "exclude_round", "reinstate"];
    /// Those on a finding.
    pub const ON_FINDINGS: &'static [&'static str] = &["no_action", "exclude_putts", "exclude_round", "reinstate"];

    /// Returns the word for it.
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize]
    }

    /// Reads the word for it.
    pub fn from_word(word: &str) -> Option<Self> {
        let all = [
            Decision::Correct,
            Decision::ExcludeRound,
            Decision::Reinstate,
            Decision::ExcludePutts,
            Decision::NoAction,
        ];
        all.into_iter().find(|known| known.word() == word)
    }
}

/// What an organizer thinks of a finding at first, before knowing whom it is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Opinion {
    /// An unfair cause is likely.
    UnfairCause,
    /// An honest cause is likely.
    HonestCause,
    /// The evidence does not say.
    CannotSay,
}

impl Opinion {
    /// The words for them.
    pub const WORDS: &'static [&'static str] = &["unfair_cause", "honest_cause", "cannot_say"];

    /// Returns the word for it.
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize]
    }

    /// Reads the word for it.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::UnfairCause, Self::HonestCause, Self::CannotSay].into_iter().find(|known| known.word() == word)
    }
}

/// A query about a card.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Query {
    /// JSON Pointer to what is queried in the round.
    #[serde(default)]
    pub pointer: Option<String>,
    /// The query in words.
    pub text: String,
}

/// An answer to a query.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    /// The answer in words.
    pub text: String,
}
