//! The shape of a body: one description that checks what comes in and writes the interface's own description.
//!
//! A check names every fault of a body at once, each with its pointer and the limit that it broke. The same value
//! becomes the OpenAPI schema, so what is documented is what is enforced.

mod by_number;
mod by_type;
mod describe;
mod mended;
mod name;

pub use crate::wire::schema::mended::Fill;

use crate::wire::json::{Node, pointer_to, whole_number};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use std::sync::LazyLock;

/// The years in which dates and times lie: far enough from the ends of the calendar to reckon with every one of them.
const YEARS: std::ops::RangeInclusive<i16> = 1900..=2199;

/// The most characters of a cursor.
const MOST_CURSOR: usize = 400;

/// The most faults that are reported of one body.
pub const MOST_FAULTS: usize = 100;
/// How many characters of a field's name a fault repeats.
const MOST_OF_A_NAME: usize = 100;

/// A field that a body got wrong.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FieldError {
    /// JSON Pointer to the field.
    pub pointer: String,
    /// What is wrong, with the limit: what follows the field's name in a sentence.
    pub detail: String,
    /// The kind of fault.
    pub code: &'static str,
    /// The least legal value, where one was undercut or overrun.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub min: Option<f64>,
    /// The greatest legal value, where one was undercut or overrun.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max: Option<f64>,
}

/// The shape of a value.
#[derive(Clone, Debug)]
pub enum Schema {
    /// An object with these fields and no others.
    Object(Vec<Field>),
    /// An array of `min` to `max` items.
    Array(Box<Schema>, usize, usize),
    /// A whole number in a range.
    Whole(i64, i64),
    /// One of these whole numbers.
    Numbers(&'static [i64]),
    /// A real number in a range, the lower end left out if `above`.
    Real {
        /// The lower end.
        min: f64,
        /// The upper end.
        max: f64,
        /// Whether the lower end itself is refused.
        above: bool,
    },
    /// A number with at most one decimal in a range, in tenths.
    Tenths(i32, i32),
    /// A string of `min` to `max` code points without control characters.
    Text(usize, usize),
    /// A name or label of 1 to `max` code points: one line, every character of which is seen.
    Name(usize),
    /// One of these words.
    Word(&'static [&'static str]),
    /// `true` or `false`.
    Flag,
    /// A UUID.
    Id,
    /// Where the next page of a collection begins, as the page before says.
    Cursor,
    /// A date, `YYYY-MM-DD`.
    Date,
    /// A time, RFC 3339.
    Instant,
    /// The name of a time zone.
    Zone,
    /// This, or null.
    Nullable(Box<Schema>),
    /// An object whose field `kind` tells which other fields it has.
    ByKind(Vec<(&'static str, Vec<Field>)>),
    /// One of several shapes that differ in their JSON type, such as a word or a number, or are objects whose first field
    /// the others lack.
    ByType(Vec<Schema>),
    /// An object of whole numbers by whole numbers, from and to.
    ByNumber {
        /// The least and the greatest name.
        keys: (i64, i64),
        /// The least and the greatest value.
        values: (i64, i64),
    },
    /// A shape that is described elsewhere in the document.
    Named(&'static str, &'static LazyLock<Schema>),
    /// Anything.
    Anything,
}

/// A field of an object.
#[derive(Clone, Debug)]
pub struct Field {
    /// Its name.
    pub name: &'static str,
    /// Its shape.
    pub schema: Schema,
    /// Whether it may be left out.
    pub optional: bool,
}

/// Describes a field that must be there.
pub fn field(name: &'static str, schema: Schema) -> Field {
    Field { name, schema, optional: false }
}

/// Describes a field that may be left out.
pub fn optional(name: &'static str, schema: Schema) -> Field {
    Field { name, schema, optional: true }
}

/// Describes an array.
pub fn list(items: Schema, min: usize, max: usize) -> Schema {
    Schema::Array(Box::new(items), min, max)
}

/// Describes a value that may be null.
pub fn nullable(schema: Schema) -> Schema {
    Schema::Nullable(Box::new(schema))
}

/// The way to a value, written out only where something is wrong with it.
#[derive(Clone, Copy)]
enum Path<'a> {
    Root,
    Field(&'a Path<'a>, &'a str),
    Item(&'a Path<'a>, usize),
}

impl Path<'_> {
    fn pointer(&self) -> String {
        match self {
            Path::Root => String::new(),
            Path::Field(parent, name) => pointer_to(&parent.pointer(), shortened(name)),
            Path::Item(parent, n) => pointer_to(&parent.pointer(), n),
        }
    }

    /// Returns the unit that the last part of a field's name stands for, as it follows a number.
    fn unit(&self) -> &'static str {
        match self {
            Path::Field(_, name) => unit_of(name),
            Path::Item(parent, _) => parent.unit(),
            Path::Root => "",
        }
    }
}

fn unit_of(name: &str) -> &'static str {
    match name.rsplit('_').next() {
        Some("ft") => " ft",
        Some("in") => " in",
        Some("mph") => " mph",
        Some("deg") => "°",
        Some("pct") => " %",
        _ => "",
    }
}

/// Cuts a name that no field of ours has, so that a fault is never longer than the body that it is about.
fn shortened(name: &str) -> String {
    match name.char_indices().nth(MOST_OF_A_NAME) {
        Some((end, _)) => format!("{}…", &name[..end]),
        None => name.to_owned(),
    }
}

struct Check {
    errors: Vec<FieldError>,
}

impl Check {
    fn fault(&mut self, at: &Path<'_>, code: &'static str, detail: String) {
        self.ranged(at, code, detail, None);
    }

    /// Says whether a text has a length that is allowed.
    fn length(&mut self, at: &Path<'_>, text: &str, min: usize, max: usize) -> bool {
        let length = text.chars().count();
        let is_good = (min..=max).contains(&length) && (min == 0 || !text.trim().is_empty());
        if !is_good {
            let detail = match length {
                0 => format!("must not be empty, and has at most {max} characters"),
                _ => format!("must have {min} to {max} characters, not all blank; it has {length}"),
            };
            self.ranged(at, "wrong-length", detail, Some((min as f64, max as f64)));
        }
        is_good
    }

    fn ranged(&mut self, at: &Path<'_>, code: &'static str, detail: String, range: Option<(f64, f64)>) {
        if self.errors.len() < MOST_FAULTS {
            let (min, max) = range.unzip();
            self.errors.push(FieldError { pointer: at.pointer(), detail, code, min, max });
        }
    }
}

impl Schema {
    /// Returns every fault of a value, at most [`MOST_FAULTS`].
    pub fn check(&self, node: &Node<'_>) -> Vec<FieldError> {
        let mut check = Check { errors: Vec::new() };
        self.walk(node, &Path::Root, &mut check);
        check.errors
    }

    fn walk(&self, node: &Node<'_>, at: &Path<'_>, check: &mut Check) {
        let wrong_type = |check: &mut Check, wanted: &str| {
            let detail = match node {
                Node::Null => "is missing".to_owned(),
                _ => format!("must be {wanted}, not {}", node.kind()),
            };
            check.fault(at, "wrong-type", detail);
        };
        match (self, node) {
            (Schema::Anything, _) | (Schema::Flag, Node::Bool(_)) | (Schema::Nullable(_), Node::Null) => {}
            (Schema::Nullable(inner), _) => inner.walk(node, at, check),
            (Schema::Named(_, schema), _) => schema.walk(node, at, check),
            (Schema::Object(fields), Node::Object(given)) => object(fields, given, None, at, check),
            (Schema::ByKind(kinds), Node::Object(given)) => {
                let kind = node.get("kind").and_then(Node::as_text);
                match kinds.iter().find(|(name, _)| Some(*name) == kind) {
                    Some((_, fields)) => object(fields, given, Some("kind"), at, check),
                    None => {
                        let words: Vec<&str> = kinds.iter().map(|(name, _)| *name).collect();
                        check.fault(
                            &Path::Field(at, "kind"),
                            "unknown-word",
                            format!("must be one of {}", words.join(", ")),
                        );
                    }
                }
            }
            (Schema::ByType(shapes), _) => match Self::of_its_type(shapes, node) {
                Some(shape) => shape.walk(node, at, check),
                None => wrong_type(check, "another kind of value"),
            },
            (Schema::ByNumber { keys, values }, Node::Object(given)) => {
                Self::by_number(*keys, *values, given, at, check);
            }
            (Schema::Array(items, min, max), Node::Array(given)) => {
                if given.len() < *min || given.len() > *max {
                    let detail = format!("must have {min} to {max} items; it has {}", given.len());
                    check.ranged(at, "wrong-length", detail, Some((*min as f64, *max as f64)));
                    return;
                }
                for (n, item) in given.iter().enumerate() {
                    items.walk(item, &Path::Item(at, n), check);
                }
            }
            (Schema::Whole(min, max), Node::Number(text)) => {
                let whole = whole_number(text);
                if !whole.is_some_and(|n| (*min..=*max).contains(&n)) {
                    let detail = format!("must be a whole number from {min} to {max}{}; it is {text}", at.unit());
                    check.ranged(at, "out-of-range", detail, Some((*min as f64, *max as f64)));
                }
            }
            (Schema::Numbers(numbers), Node::Number(text)) => {
                if !whole_number(text).is_some_and(|n| numbers.contains(&n)) {
                    let words: Vec<String> = numbers.iter().map(i64::to_string).collect();
                    let range = numbers.first().zip(numbers.last()).map(|(min, max)| (*min as f64, *max as f64));
                    check.ranged(at, "out-of-range", format!("must be {}; it is {text}", words.join(" or ")), range);
                }
            }
            (Schema::Real { min, max, above }, Node::Number(text)) => {
                let legal = |x: f64| x <= *max && (x > *min || (!above && x == *min));
                if !text.parse().is_ok_and(legal) {
                    let from = if *above { format!("more than {min} and at most") } else { format!("from {min} to") };
                    let detail = format!("must be {from} {max}{}; it is {text}", at.unit());
                    check.ranged(at, "out-of-range", detail, Some((*min, *max)));
                }
            }
            (Schema::Tenths(min, max), Node::Number(text)) => {
                let (low, high) = (f64::from(*min) / 10.0, f64::from(*max) / 10.0);
                let legal = |x: f64| (low..=high).contains(&x) && ((x * 10.0).round() / 10.0 == x);
                if !text.parse().is_ok_and(legal) {
                    let detail = format!("must be a number with one decimal from {low:.1} to {high:.1}; it is {text}");
                    check.ranged(at, "out-of-range", detail, Some((low, high)));
                }
            }
            (Schema::Name(max), Node::Text(text)) => {
                if let Some(unseen) = name::unseen(text) {
                    let detail = format!("must be one line of visible characters, without U+{:04X}", unseen as u32);
                    check.fault(at, "invisible-character", detail);
                } else {
                    check.length(at, text, 1, *max);
                }
            }
            (Schema::Text(min, max), Node::Text(text)) => {
                if check.length(at, text, *min, *max) && text.chars().any(|c| c.is_control() && c != '\n') {
                    check.fault(at, "control-character", "must not contain control characters".into());
                }
            }
            (Schema::Word(words), Node::Text(text)) => {
                if !words.contains(&text.as_ref()) {
                    check.fault(at, "unknown-word", format!("must be one of {}", words.join(", ")));
                }
            }
            (Schema::Id, Node::Text(text)) => {
                if uuid::Uuid::try_parse(text).is_err() || text.len() != 36 {
                    check.fault(at, "not-an-id", "must be a UUID in its 36-character form".into());
                }
            }
            (Schema::Cursor, Node::Text(text)) => {
                let is_one = |sign: u8| sign.is_ascii_alphanumeric() || b"_-".contains(&sign);
                if !(1..=MOST_CURSOR).contains(&text.len()) || !text.bytes().all(is_one) {
                    check.fault(at, "not-a-cursor", "must be the cursor of the page before".into());
                }
            }
            (Schema::Date, Node::Text(text)) => {
                if !(text.len() == 10 && text.parse::<Date>().is_ok_and(|date| YEARS.contains(&date.year()))) {
                    check.fault(at, "not-a-date", "must be a date from 1900 to 2199, such as 2027-01-14".into());
                }
            }
            (Schema::Instant, Node::Text(text)) => {
                if instant(text).is_none() {
                    let detail = "must be a time from 1900 to 2199, such as 2027-01-14T19:00:00Z (RFC 3339)";
                    check.fault(at, "not-a-time", detail.into());
                }
            }
            (Schema::Zone, Node::Text(text)) => {
                if jiff::tz::TimeZone::get(text).is_err() {
                    check.fault(at, "not-a-zone", "must be an IANA time zone, such as Europe/Zurich".into());
                }
            }
            (Schema::Object(_) | Schema::ByKind(_) | Schema::ByNumber { .. }, _) => wrong_type(check, "an object"),
            (Schema::Array(..), _) => wrong_type(check, "an array"),
            (Schema::Whole(..) | Schema::Numbers(_) | Schema::Real { .. } | Schema::Tenths(..), _) => {
                wrong_type(check, "a number")
            }
            (Schema::Flag, _) => wrong_type(check, "true or false"),
            _ => wrong_type(check, "text"),
        }
    }
}

/// Returns the fields that are given twice, at any depth: for values that are merged before their shape is checked.
pub fn repeated_fields(node: &Node<'_>) -> Vec<FieldError> {
    fn walk(node: &Node<'_>, at: &Path<'_>, check: &mut Check) {
        match node {
            Node::Object(given) => {
                for (n, (name, value)) in given.iter().enumerate() {
                    if given[..n].iter().any(|(before, _)| before == name) {
                        check.fault(&Path::Field(at, name), "repeated-field", "is given twice".into());
                    }
                    walk(value, &Path::Field(at, name), check);
                }
            }
            Node::Array(items) => {
                items.iter().enumerate().for_each(|(n, item)| walk(item, &Path::Item(at, n), check));
            }
            _ => {}
        }
    }
    let mut check = Check { errors: Vec::new() };
    walk(node, &Path::Root, &mut check);
    check.errors
}

fn object(
    fields: &[Field],
    given: &[(std::borrow::Cow<'_, str>, Node<'_>)],
    tag: Option<&str>,
    at: &Path<'_>,
    check: &mut Check,
) {
    for (n, (name, value)) in given.iter().enumerate() {
        if given[..n].iter().any(|(before, _)| before == name) {
            check.fault(&Path::Field(at, name), "repeated-field", "is given twice".into());
            continue;
        }
        match fields.iter().find(|field| field.name == name) {
            Some(field) => field.schema.walk(value, &Path::Field(at, name), check),
            None if tag == Some(name) => {}
            None => check.fault(&Path::Field(at, name), "unknown-field", "is not a field here".into()),
        }
    }
    for field in fields.iter().filter(|field| !field.optional) {
        if !given.iter().any(|(name, _)| name == field.name) {
            check.fault(&Path::Field(at, field.name), "missing", "is missing".into());
        }
    }
}

/// Reads a time as RFC 3339 (5.6) writes it, in one of the years. A leap second, which is the last of a month in UTC
/// (RFC 3339, 5.7), counts as the second before it.
fn instant(text: &str) -> Option<Timestamp> {
    let (clock, rest) = text.split_at_checked(19)?;
    let is_clock = clock.bytes().zip(*b"0000-00-00T00:00:00").all(|(found, due)| match due {
        b'0' => found.is_ascii_digit(),
        due => found.eq_ignore_ascii_case(&due),
    });
    let fraction = rest.strip_prefix('.').map_or(0, |rest| 1 + rest.bytes().take_while(u8::is_ascii_digit).count());
    let offset = rest.get(fraction..)?;
    let is_offset = offset.eq_ignore_ascii_case("z") || (offset.len() == 6 && offset.starts_with(['+', '-']));
    if !is_clock || !is_offset || fraction == 1 {
        return None;
    }
    let at: Timestamp = text.parse().ok()?;
    let utc = jiff::tz::TimeZone::UTC.to_datetime(at);
    let is_leap = clock.ends_with("60");
    let ends_month =
        (utc.hour(), utc.minute(), utc.second()) == (23, 59, 59) && utc.date() == utc.last_of_month().date();
    (YEARS.contains(&utc.year()) && (!is_leap || ends_month)).then_some(at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_those_of_rfc_3339_in_years_that_can_be_reckoned_with() {
        for good in [
            "1900-01-01T00:00:00Z",
            "2199-12-31T23:59:59.999999999Z",
            "2027-01-14t19:00:00z",
            "2027-01-14T19:00:00.5+05:30",
            "2016-12-31T23:59:60Z",
            "2017-01-01T08:59:60.25+09:00",
        ] {
            assert!(instant(good).is_some(), "{good} is refused");
        }
        let second_before: Timestamp = "2016-12-31T23:59:59Z".parse().unwrap();
        assert_eq!(instant("2016-12-31T23:59:60Z"), Some(second_before));
        for bad in [
            "1899-12-31T23:59:59Z",
            "2200-01-01T00:00:00Z",
            "9999-12-30T22:00:00Z",
            "9999-12-31T23:59:59Z",
            "10000-01-01T00:00:00Z",
            "+002027-01-14T19:00:00Z",
            "2027-01-14T19:00Z",
            "2027-01-14 19:00:00Z",
            "20270114T190000Z",
            "2027-01-14T19:00:00",
            "2027-01-14T19:00:00.Z",
            "2027-01-14T19:00:00+05",
            "2027-01-14T19:00:00+05:30[Asia/Kolkata]",
            "2027-01-14T19:00:60Z",
            "2027-01-14T23:59:60Z",
            "2016-12-31T23:59:60+09:00",
            "2016-12-31T23:59:61Z",
            "2027-02-29T19:00:00Z",
            "2027-01-14T24:00:00Z",
            "2027-01-14T19:00:0ñZ",
            "",
        ] {
            assert_eq!(instant(bad), None, "{bad}");
        }
    }

    fn faults(schema: &Schema, text: &str) -> Vec<(String, &'static str)> {
        let node = Node::parse(text.as_bytes()).unwrap();
        schema.check(&node).into_iter().map(|error| (error.pointer, error.code)).collect()
    }

    fn hole() -> Schema {
        Schema::Object(vec![
            field("number", Schema::Whole(1, 18)),
            optional("rating", Schema::Tenths(200, 900)),
            optional("name", nullable(Schema::Text(1, 5))),
            optional("putts", list(Schema::Real { min: 0.0, max: 200.0, above: true }, 0, 2)),
        ])
    }

    #[test]
    fn every_fault_is_named_at_once() {
        let text = r#"{"rating": 71.55, "name": "far too long", "putts": [0, 201.5], "colour": 1, "colour": 2}"#;
        assert_eq!(
            faults(&hole(), text),
            [
                ("/rating".into(), "out-of-range"),
                ("/name".into(), "wrong-length"),
                ("/putts/0".into(), "out-of-range"),
                ("/putts/1".into(), "out-of-range"),
                ("/colour".into(), "unknown-field"),
                ("/colour".into(), "repeated-field"),
                ("/number".into(), "missing"),
            ]
        );
    }

    #[test]
    fn faults_repeat_no_more_than_the_beginning_of_a_name() {
        let name = "é".repeat(MOST_OF_A_NAME);
        let [shown, cut] = [format!("{name}x"), name.clone()].map(|name| {
            let text = format!("{{\"{name}\": {{\"a\": 1, \"a\": 2}}}}");
            repeated_fields(&Node::parse(text.as_bytes()).unwrap()).remove(0).pointer
        });
        assert_eq!((shown, cut), (format!("/{name}…/a"), format!("/{name}/a")));
    }

    #[test]
    fn good_values_pass_and_numbers_beyond_all_range_do_not() {
        assert_eq!(faults(&hole(), r#"{"number": 18, "rating": 71.5, "name": null, "putts": [0.1, 2e2]}"#), []);
        for number in ["1e400", "9223372036854775808", "1.5", "-0.5"] {
            let text = format!(r#"{{"number": {number}}}"#);
            assert_eq!(faults(&hole(), &text), [("/number".into(), "out-of-range")], "{number}");
        }
    }
}
