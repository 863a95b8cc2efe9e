//! Fields of plain forms and what is typed into them.

use super::fields::{Field, Kind, field};
use super::form::Form;
use crate::storage::idempotency::Reply;
use serde_json::Value;

pub(super) fn text(name: &'static str, label: &'static str, value: &str) -> Field {
    field(name, label, Kind::Input("text"), value)
}

pub(super) fn choice(name: &'static str, label: &'static str, choices: &[(&str, &str)]) -> Field {
    let choices: Vec<(String, String)> =
        choices.iter().map(|(value, words)| ((*value).to_owned(), (*words).to_owned())).collect();
    let first = choices.first().map(|(value, _)| value.clone()).unwrap_or_default();
    field(name, label, Kind::Choice(choices), first)
}

/// Reads a number as people type it; other text goes on to where it is refused by name.
pub(super) fn number(form: &Form, name: &str) -> Value {
    let typed = form.text(name).trim().replace(',', ".");
    if typed.is_empty() {
        return Value::Null;
    }
    serde_json::from_str::<serde_json::Number>(&typed).map_or_else(|_| typed.into(), Value::Number)
}

pub(super) fn id_of(reply: &Reply) -> String {
    let body: Value = serde_json::from_str(&reply.body).unwrap_or_default();
    body["id"].as_str().unwrap_or_default().to_owned()
}

/// Returns the field that the first word of a pointer names.
pub(super) fn same_name(pointer: &str) -> &'static str {
    const NAMES: [&str; 20] = [
        "name",
        "time_zone",
        "starts_on",
        "ends_on",
        "score",
        "basis",
        "meeting",
        "position",
        "allowance_pct",
        "best",
        "minimum",
        "concession_ft",
        "award",
        "tee_id",
        "stimp_ft",
        "opens_at",
        "closes_at",
        "holes",
        "first_hole",
        "roster",
    ];
    NAMES.into_iter().find(|name| pointer.split('/').any(|part| part == *name)).unwrap_or_default()
}
