//! What a secret address leads to.

use serde::{Deserialize, Serialize};

/// How a public page names players.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Names {
    Full,
    Initials,
}

impl Names {
    /// The words, in the order of the variants.
    pub const WORDS: &[&str] = &["full", "initials"];

    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize]
    }

    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Full, Self::Initials].into_iter().find(|names| names.word() == word)
    }
}

/// What an address leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Leads {
    /// The league's table, boards and schedule.
    ToPublicPages(Names),
    /// The nights of the member who made it.
    ToCalendar,
}

impl Leads {
    /// The words, in the order of the variants.
    pub const WORDS: &[&str] = &["public", "calendar"];

    pub fn word(self) -> &'static str {
        match self {
            Leads::ToPublicPages(_) => Self::WORDS[0],
            Leads::ToCalendar => Self::WORDS[1],
        }
    }

    pub fn names(self) -> Option<Names> {
        match self {
            Leads::ToPublicPages(names) => Some(names),
            Leads::ToCalendar => None,
        }
    }
}
