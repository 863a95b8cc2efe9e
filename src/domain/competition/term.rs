//! A term of a competition in a sentence.

use serde::Serialize;

/// A term of a competition.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Term {
    pub head: &'static str,
    pub text: String,
    /// Where the rule stands that the term names.
    pub source: &'static str,
}

pub(super) const CUSTOM: &str = "terms of this competition";

pub(super) fn term(head: &'static str, text: impl Into<String>, source: &'static str) -> Term {
    Term { head, text: text.into(), source }
}
