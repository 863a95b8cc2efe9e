//! Rules between the fields of a body, told together with what is wrong with single fields.

use super::extract::{Body, decoded, parsed};
use super::problem::Problem;
use crate::domain::facts::{Fault, Rules};
use crate::json::Node;
use crate::schema::{FieldError, Fill, Schema};
use serde::de::DeserializeOwned;

/// Finds the rules between fields that a body breaks in which some fields are wrong: those that hang on none of these.
///
/// Each wrong field is replaced twice, by its lowest and its highest value; what is broken both times does not hang on it.
pub fn broken_beside(
    node: &Node<'_>,
    schema: &Schema,
    errors: &[FieldError],
    broken: impl Fn(Node<'_>) -> Vec<Fault>,
) -> Vec<Fault> {
    let (low, high) = (broken(schema.mended(node, Fill::Low)), broken(schema.mended(node, Fill::High)));
    let is_in = |fault: &Fault, error: &FieldError| {
        let rest = fault.pointer.strip_prefix(&error.pointer);
        rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
    };
    let mut found = low;
    found.retain(|fault| {
        let again = high.iter().any(|other| (other.rule, &other.pointer) == (fault.rule, &fault.pointer));
        again && !errors.iter().any(|error| is_in(fault, error))
    });
    found
}

/// Finds the rules of a type that a body breaks beside its wrong fields.
pub fn broken_of<T: DeserializeOwned + Rules>(node: &Node<'_>, schema: &Schema, errors: &[FieldError]) -> Vec<Fault> {
    broken_beside(node, schema, errors, |mended| mended.decode::<T>().map(|body| body.broken()).unwrap_or_default())
}

impl Body {
    /// Reads the body as a type with rules between its fields, which are told together with what is wrong with single ones.
    ///
    /// # Errors
    /// What cannot be read; wrong fields and broken rules, all at once.
    pub fn read_with_rules<T: DeserializeOwned + Rules>(&self, schema: &Schema) -> Result<T, Problem> {
        let node = parsed(&self.0)?;
        let errors = schema.check(&node);
        if errors.is_empty() {
            return decoded(&node);
        }
        let faults = broken_of::<T>(&node, schema, &errors);
        Err(Problem::fields_and_faults(errors, faults))
    }
}
