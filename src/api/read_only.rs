//! What an answer adds to a round and nobody can change: taken where it comes back as it was, so that a round that was
//! fetched can be sent again with a hole corrected.

use crate::domain::facts::Fault;
use crate::domain::rule::Rule;
use crate::league::views::RoundView;
use crate::wire::body::{round, views};
use crate::wire::json::{Node, pointer_to};
use crate::wire::schema::Schema;
use serde_json::Value;
use std::sync::LazyLock;

/// The fields of an answered round that a body does not have.
static FIELDS: LazyLock<Vec<&'static str>> = LazyLock::new(|| {
    let sent = round::round_fields();
    let Schema::Object(answered) = views::round() else { return Vec::new() };
    let names = answered.iter().map(|field| field.name);
    names.filter(|name| !sent.iter().any(|field| field.name == *name)).collect()
});

/// Fields of an answer that came back.
pub struct ReadOnly {
    fields: Vec<(String, Value)>,
    /// Marks of softened putts: hole and putt by their places, and what was said.
    marks: Vec<(usize, usize, Value)>,
}

/// Takes what nobody can change out of a round.
pub fn take(round: &mut Node<'_>) -> ReadOnly {
    let mut taken = ReadOnly { fields: Vec::new(), marks: Vec::new() };
    let Node::Object(fields) = round else { return taken };
    fields.retain(|(name, value)| {
        let stays = !FIELDS.contains(&name.as_ref());
        if !stays {
            taken.fields.push((name.to_string(), value.decode().unwrap_or_default()));
        }
        stays
    });
    if let Some(Node::Array(holes)) = round.get_mut("holes") {
        for (h, hole) in holes.iter_mut().enumerate() {
            let Some(Node::Array(putts)) = hole.get_mut("putts") else { continue };
            for (p, putt) in putts.iter_mut().enumerate() {
                let Node::Object(fields) = putt else { continue };
                fields.retain(|(name, value)| {
                    let is_mark = name == "softened";
                    if is_mark {
                        taken.marks.push((h, p, value.decode().unwrap_or_default()));
                    }
                    !is_mark
                });
            }
        }
    }
    taken
}

impl ReadOnly {
    /// Says whether nothing came back.
    pub fn is_empty(&self) -> bool {
        self.fields.is_empty() && self.marks.is_empty()
    }

    /// Finds each field that is not as the round is answered.
    pub fn faults(&self, view: &RoundView) -> Vec<Fault> {
        let answered = serde_json::to_value(view).unwrap_or_default();
        let mut faults = Vec::new();
        let mut compare = |pointer: String, said: &Value, is: Option<&Value>| {
            if !is_same(said, is.unwrap_or(&Value::Null)) {
                let detail = "this is worked out and cannot be sent otherwise than it was answered; leave it out";
                faults.push(Fault::new(pointer, Rule::ReadOnly, detail));
            }
        };
        // Places move with the cards of others, so what came back of them may be out of date.
        for (name, said) in self.fields.iter().filter(|(name, _)| name != "competitions") {
            compare(pointer_to("", name), said, answered.get(name));
        }
        for (h, p, said) in &self.marks {
            let pointer = format!("/holes/{h}/putts/{p}/softened");
            compare(pointer.clone(), said, answered.pointer(&pointer));
        }
        faults
    }
}

/// Compares values as JSON means them: 3 and 3.0 are the same.
fn is_same(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => a.as_f64() == b.as_f64(),
        (Value::Array(a), Value::Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| is_same(a, b)),
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(name, a)| b.get(name).is_some_and(|b| is_same(a, b)))
        }
        _ => a == b,
    }
}
