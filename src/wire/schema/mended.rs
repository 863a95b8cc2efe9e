//! A body that is wrong in places, with something of the right shape in each: so that the rest of it can be looked at.

use crate::wire::json::Node;
use crate::wire::schema::{Field, Schema};

/// Which of two values stands in for one that is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fill {
    /// The lowest that is allowed.
    Low,
    /// The highest that is allowed.
    High,
}

impl Fill {
    fn of<T>(self, low: T, high: T) -> T {
        match self {
            Fill::Low => low,
            Fill::High => high,
        }
    }
}

impl Schema {
    /// Returns a value with one of the right shape in each place that is wrong, so that the rest of it can be looked at.
    pub fn mended<'a>(&self, node: &Node<'a>, fill: Fill) -> Node<'a> {
        match (self, node) {
            (Schema::Nullable(_), Node::Null) => Node::Null,
            (Schema::Nullable(inner), _) => inner.mended(node, fill),
            (Schema::Named(_, schema), _) => schema.mended(node, fill),
            (Schema::Object(fields), Node::Object(given)) => mended_object(fields, given, None, fill),
            (Schema::ByKind(kinds), Node::Object(given)) => {
                let kind = node.get("kind").and_then(Node::as_text);
                match kinds.iter().find(|(name, _)| Some(*name) == kind) {
                    Some((name, fields)) => mended_object(fields, given, Some(name), fill),
                    None => self.sample(fill),
                }
            }
            (Schema::Array(items, min, max), Node::Array(given)) if (*min..=*max).contains(&given.len()) => {
                Node::Array(given.iter().map(|item| items.mended(item, fill)).collect())
            }
            (Schema::Array(..), _) => self.sample(fill),
            _ if self.check(node).is_empty() => node.clone(),
            _ => self.sample(fill),
        }
    }

    /// Returns a value of the shape.
    fn sample(&self, fill: Fill) -> Node<'static> {
        let number = |low: f64, high: f64| Node::Number(fill.of(low, high).to_string().into());
        let text = |low: &str, high: &str| Node::Text(fill.of(low, high).to_owned().into());
        match self {
            Schema::Object(fields) => mended_object(fields, &[], None, fill),
            Schema::ByKind(kinds) => {
                kinds.first().map_or(Node::Null, |(kind, fields)| mended_object(fields, &[], Some(kind), fill))
            }
            Schema::Array(items, min, _) => Node::Array((0..*min).map(|_| items.sample(fill)).collect()),
            Schema::Whole(min, max) => Node::Number(fill.of(*min, *max).to_string().into()),
            Schema::Numbers(numbers) => {
                let (first, last) = (numbers.first().copied(), numbers.last().copied());
                Node::Number(fill.of(first, last).unwrap_or_default().to_string().into())
            }
            Schema::Real { min, max, .. } => number(min + (max - min) / 4.0, max - (max - min) / 4.0),
            Schema::Tenths(min, max) => number(f64::from(*min) / 10.0, f64::from(*max) / 10.0),
            Schema::Name(_) | Schema::Cursor => text("x", "y"),
            Schema::Text(min, _) => Node::Text(fill.of("x", "y").repeat(*min.max(&1)).into()),
            Schema::Word(words) => {
                let (first, last) = (words.first().copied(), words.last().copied());
                text(first.unwrap_or_default(), last.unwrap_or_default())
            }
            Schema::Flag => Node::Bool(fill == Fill::High),
            Schema::Id => text("00000000-0000-4000-8000-000000000001", "00000000-0000-4000-8000-000000000002"),
            Schema::Date => text("1900-01-01", "2199-12-31"),
            Schema::Instant => text("1900-01-01T00:00:00Z", "2199-12-31T00:00:00Z"),
            Schema::Zone => text("UTC", "Etc/GMT+1"),
            Schema::Nullable(inner) => fill.of(Node::Null, inner.sample(fill)),
            Schema::Named(_, schema) => schema.sample(fill),
            Schema::ByType(shapes) => shapes.first().map_or(Node::Null, |shape| shape.sample(fill)),
            Schema::ByNumber { values, .. } => {
                let value = Node::Number(fill.of(values.0, values.1).to_string().into());
                Node::Object(vec![("0".into(), value)])
            }
            Schema::Anything => Node::Null,
        }
    }
}

fn mended_object<'a>(
    fields: &[Field],
    given: &[(std::borrow::Cow<'a, str>, Node<'a>)],
    kind: Option<&'static str>,
    fill: Fill,
) -> Node<'a> {
    let tag = kind.map(|kind| ("kind".into(), Node::Text(kind.into())));
    let mended = fields.iter().filter_map(|field| {
        let value = match given.iter().find(|(name, _)| name == field.name) {
            Some((_, value)) => field.schema.mended(value, fill),
            None if field.optional => return None,
            None => field.schema.sample(fill),
        };
        Some((field.name.into(), value))
    });
    Node::Object(tag.into_iter().chain(mended).collect())
}
