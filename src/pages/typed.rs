//! Fields of plain forms and what is typed into them.

use super::fields::{Field, Kind, field};
use super::form::Form;
use crate::http::roster;
use crate::storage::idempotency::Reply;
use jiff::Timestamp;
use jiff::tz::TimeZone;
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

/// Reads a handicap as people write it: +2.8 is a plus handicap, which is -2.8 in bodies.
pub(super) fn handicap_of(typed: &str) -> Value {
    if typed.trim().is_empty() { Value::Null } else { roster::handicap(typed.trim()) }
}

/// Writes a value of a body as it is typed.
pub(super) fn typed(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// Reads a time of the league's zone; other text goes on to where it is refused by name.
pub(super) fn instant(form: &Form, name: &str, zone: &TimeZone) -> Value {
    let typed = form.text(name);
    let local = typed.parse::<jiff::civil::DateTime>().ok();
    let instant = local.and_then(|local| zone.to_timestamp(local).ok());
    instant.map_or_else(|| typed.into(), |instant| instant.to_string().into())
}

/// Writes a time as a field of dates and times holds it, on the clocks of the league's zone.
pub(super) fn local(at: Timestamp, zone: &TimeZone) -> String {
    zone.to_datetime(at).strftime("%Y-%m-%dT%H:%M").to_string()
}

/// Returns the first part of a pointer, or what it names in a group of fields.
pub(super) fn first_part(pointer: &str) -> &str {
    let rest = pointer.trim_start_matches('/');
    let rest = ["audit/", "handicap/"].into_iter().find_map(|group| rest.strip_prefix(group)).unwrap_or(rest);
    rest.split('/').next().unwrap_or_default()
}

/// Returns the field that the first part of a pointer names, or another one where it names none of them.
pub(super) fn one_of(pointer: &str, names: &[&'static str], otherwise: &'static str) -> &'static str {
    let first = pointer.trim_start_matches('/').split('/').next();
    names.iter().copied().find(|name| Some(*name) == first).unwrap_or(otherwise)
}

/// Returns the field that the first word of a pointer names.
pub(super) fn same_name(pointer: &str) -> &'static str {
    const NAMES: [&str; 26] = [
        "name",
        "time_zone",
        "starts_on",
        "ends_on",
        "score",
        "basis",
        "matches",
        "per_match",
        "per_hole",
        "per_total",
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
        "events",
        "balls",
    ];
    NAMES.into_iter().find(|name| pointer.split('/').any(|part| part == *name)).unwrap_or_default()
}
