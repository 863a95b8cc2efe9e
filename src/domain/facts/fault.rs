//! What is wrong with a fact, by name.

use crate::rule::Rule;

/// A rule that a body breaks, with the place where it breaks it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// JSON Pointer to the field.
    pub pointer: String,
    /// The rule that is broken.
    pub rule: Rule,
    /// What is wrong, with the limit.
    pub detail: String,
}

impl Fault {
    /// Names a broken rule.
    pub fn new(pointer: impl Into<String>, rule: Rule, detail: impl Into<String>) -> Self {
        Self { pointer: pointer.into(), rule, detail: detail.into() }
    }
}

/// A body with rules between its fields, of which it shows itself whether it keeps them.
pub trait Rules {
    /// Finds the rules that it breaks.
    fn broken(&self) -> Vec<Fault> {
        Vec::new()
    }
}
