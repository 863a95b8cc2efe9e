//! The steps of a working: what goes in, what comes out, and by which rule.

use crate::exact::{Exact, to_f64_six, to_whole, whole};
use crate::units::Tenths;
use serde::{Serialize, Serializer};

pub(super) const ALLOCATION: &str =
    "Strokes fall on the lowest stroke indexes first (Rules of Handicapping, Appendix E).";

/// A value of a step.
#[derive(Clone, Debug, PartialEq)]
pub enum Given {
    Nothing,
    /// A number; six decimals are shown.
    Number(Exact),
    /// Several, one a hole or one a differential.
    List(Vec<Given>),
}

impl Serialize for Given {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Given::Nothing => serializer.serialize_none(),
            Given::Number(exact) => match to_whole(*exact) {
                Some(whole) => serializer.serialize_i64(whole),
                None => serializer.serialize_f64(to_f64_six(*exact)),
            },
            Given::List(items) => serializer.collect_seq(items),
        }
    }
}

impl From<Exact> for Given {
    fn from(exact: Exact) -> Self {
        Given::Number(exact)
    }
}

impl From<i32> for Given {
    fn from(number: i32) -> Self {
        Given::Number(whole(number))
    }
}

impl From<Tenths> for Given {
    fn from(tenths: Tenths) -> Self {
        Given::Number(tenths.into())
    }
}

impl<T: Into<Given>> From<Option<T>> for Given {
    fn from(value: Option<T>) -> Self {
        value.map_or(Given::Nothing, Into::into)
    }
}

impl<T: Into<Given>> From<Vec<T>> for Given {
    fn from(values: Vec<T>) -> Self {
        Given::List(values.into_iter().map(Into::into).collect())
    }
}

/// A value with its name.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Named {
    /// The name that the formula uses.
    pub name: &'static str,
    pub value: Given,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Step {
    /// What it gives.
    pub name: &'static str,
    /// The rule behind it.
    pub rule: &'static str,
    /// How the result follows.
    pub formula: &'static str,
    /// What goes in.
    pub values: Vec<Named>,
    /// What comes out.
    pub result: Given,
}

/// The steps so far, and what has no figure.
pub(super) struct Steps {
    pub(super) steps: Vec<Step>,
    pub(super) notes: Vec<&'static str>,
}

impl Steps {
    /// Adds a step.
    pub(super) fn add(
        &mut self,
        name: &'static str,
        rule: &'static str,
        formula: &'static str,
        values: Vec<(&'static str, Given)>,
        result: impl Into<Given>,
    ) {
        let values = values.into_iter().map(|(name, value)| Named { name, value }).collect();
        self.steps.push(Step { name, rule, formula, values, result: result.into() });
    }
}
