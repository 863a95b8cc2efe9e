//! JSON as it was written: numbers keep their text, objects their order and their repeated keys.
//!
//! Ordinary deserializing stops at the first fault, takes numbers through binary floats and drops a repeated key
//! in silence. Bodies, bundles, batches and calculator lines are first read into a [`Node`], so that every fault can be
//! named with its pointer and decimals stay exact.

use json_event_parser::{JsonEvent, SliceJsonParser};
use serde::de::value::{MapDeserializer, SeqDeserializer};
use serde::de::{self, IntoDeserializer, Visitor};
use std::borrow::Cow;
use std::fmt;

/// The deepest nesting that is read.
pub const MAX_DEPTH: usize = 32;
/// The most fields of one object. Names are compared with each other, so their number is limited before that.
pub const MAX_FIELDS: usize = 200;

/// A JSON value with its numbers as written.
#[derive(Clone, Debug, PartialEq)]
pub enum Node<'a> {
    /// `null`
    Null,
    /// `true` or `false`
    Bool(bool),
    /// A number, as written.
    Number(Cow<'a, str>),
    /// A string, unescaped.
    Text(Cow<'a, str>),
    /// An array.
    Array(Vec<Node<'a>>),
    /// An object in its written order; a key may occur twice.
    Object(Vec<(Cow<'a, str>, Node<'a>)>),
}

/// Input that is not JSON, is nested deeper than [`MAX_DEPTH`], or has an object of more than [`MAX_FIELDS`].
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{0}")]
pub struct Malformed(pub String);

impl<'a> Node<'a> {
    /// Reads one JSON value that takes up all of `text`.
    ///
    /// # Errors
    /// [`Malformed`] with the place of the fault, for anything that is not one JSON value, is nested too deep or has an
    /// object of too many fields.
    pub fn parse(text: &'a [u8]) -> Result<Self, Malformed> {
        enum Open<'a> {
            Array(Vec<Node<'a>>),
            Object(Vec<(Cow<'a, str>, Node<'a>)>, Option<Cow<'a, str>>),
        }
        let mut parser = SliceJsonParser::new(text);
        let mut open: Vec<Open<'a>> = Vec::new();
        let mut whole = None;
        loop {
            let event = parser.parse_next().map_err(|fault| Malformed(fault.to_string()))?;
            let node = match event {
                JsonEvent::Eof => return whole.ok_or_else(|| Malformed("the input is empty".into())),
                JsonEvent::Null => Node::Null,
                JsonEvent::Boolean(value) => Node::Bool(value),
                JsonEvent::Number(text) => Node::Number(text),
                JsonEvent::String(text) => Node::Text(text),
                JsonEvent::StartArray | JsonEvent::StartObject if open.len() == MAX_DEPTH => {
                    return Err(Malformed(format!("the input is nested more than {MAX_DEPTH} deep")));
                }
                JsonEvent::StartArray => {
                    open.push(Open::Array(Vec::new()));
                    continue;
                }
                JsonEvent::StartObject => {
                    open.push(Open::Object(Vec::new(), None));
                    continue;
                }
                JsonEvent::ObjectKey(name) => {
                    if let Some(Open::Object(fields, key)) = open.last_mut() {
                        if fields.len() == MAX_FIELDS {
                            return Err(Malformed(format!("an object has more than {MAX_FIELDS} fields")));
                        }
                        *key = Some(name);
                    }
                    continue;
                }
                JsonEvent::EndArray | JsonEvent::EndObject => match open.pop() {
                    Some(Open::Array(items)) => Node::Array(items),
                    Some(Open::Object(fields, _)) => Node::Object(fields),
                    None => return Err(Malformed("a closing bracket without its opening one".into())),
                },
            };
            match open.last_mut() {
                None => whole = Some(node),
                Some(Open::Array(items)) => items.push(node),
                Some(Open::Object(fields, key)) => fields.push((key.take().unwrap_or_default(), node)),
            }
        }
    }

    /// Returns the first field of that name, where this is an object that has one.
    pub fn get(&self, name: &str) -> Option<&Node<'a>> {
        match self {
            Node::Object(fields) => fields.iter().find(|(key, _)| key == name).map(|(_, value)| value),
            _ => None,
        }
    }

    /// Returns a field of an object, for a change; `None` for anything else.
    pub fn get_mut(&mut self, name: &str) -> Option<&mut Node<'a>> {
        match self {
            Node::Object(fields) => fields.iter_mut().find(|(known, _)| known == name).map(|(_, value)| value),
            _ => None,
        }
    }

    /// Gives an object a text field that it lacks.
    pub fn set_absent(&mut self, name: &'static str, text: impl fmt::Display) {
        if self.get(name).is_none()
            && let Node::Object(fields) = self
        {
            fields.push((name.into(), Node::Text(text.to_string().into())));
        }
    }

    /// Returns the text of a string.
    pub fn as_text(&self) -> Option<&str> {
        match self {
            Node::Text(text) => Some(text),
            _ => None,
        }
    }

    /// Returns the words for what this is, for messages.
    pub fn kind(&self) -> &'static str {
        match self {
            Node::Null => "null",
            Node::Bool(_) => "true or false",
            Node::Number(_) => "a number",
            Node::Text(_) => "text",
            Node::Array(_) => "an array",
            Node::Object(_) => "an object",
        }
    }

    /// Deserializes a checked value.
    ///
    /// # Errors
    /// Whatever `T` refuses.
    pub fn decode<'n, T: serde::Deserialize<'n>>(&'n self) -> Result<T, Unreadable> {
        T::deserialize(Reader(self))
    }
}

/// Writes a node as compact JSON: for echoing what a caller sent, numbers as they were written.
impl fmt::Display for Node<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let quoted = |text: &str| serde_json::to_string(text).map_err(|_| fmt::Error);
        match self {
            Node::Null => f.write_str("null"),
            Node::Bool(value) => value.fmt(f),
            Node::Number(text) => f.write_str(text),
            Node::Text(text) => f.write_str(&quoted(text)?),
            Node::Array(items) => {
                f.write_str("[")?;
                for (n, item) in items.iter().enumerate() {
                    write!(f, "{}{item}", if n == 0 { "" } else { "," })?;
                }
                f.write_str("]")
            }
            Node::Object(fields) => {
                f.write_str("{")?;
                for (n, (key, value)) in fields.iter().enumerate() {
                    write!(f, "{}{}:{value}", if n == 0 { "" } else { "," }, quoted(key)?)?;
                }
                f.write_str("}")
            }
        }
    }
}

/// Returns the whole number that a text stands for, however it is written.
pub fn whole_number(text: &str) -> Option<i64> {
    text.parse().ok().or_else(|| {
        let real: f64 = text.parse().ok()?;
        (real.fract() == 0.0 && real.abs() < 9e15).then_some(real as i64)
    })
}

/// Appends a name or an index to a JSON Pointer (RFC 6901).
pub fn pointer_to(parent: &str, name: impl fmt::Display) -> String {
    format!("{parent}/{}", name.to_string().replace('~', "~0").replace('/', "~1"))
}

/// A value of the right JSON shape that its type refused.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct Unreadable(String);

impl de::Error for Unreadable {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self(message.to_string())
    }
}

#[derive(Clone, Copy)]
struct Reader<'n, 'a>(&'n Node<'a>);

impl<'n, 'a> IntoDeserializer<'n, Unreadable> for Reader<'n, 'a> {
    type Deserializer = Self;
    fn into_deserializer(self) -> Self {
        self
    }
}

/// Whole numbers may be written as `5.0` or `5e0`, as a schema's integers may.
macro_rules! whole_numbers {
    ($($method:ident)*) => {$(
        fn $method<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Unreadable> {
            match self.0 {
                Node::Number(text) => match whole_number(text) {
                    Some(whole) => visitor.visit_i64(whole),
                    None => self.deserialize_any(visitor),
                },
                _ => self.deserialize_any(visitor),
            }
        }
    )*};
}

impl<'de> de::Deserializer<'de> for Reader<'de, '_> {
    type Error = Unreadable;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Unreadable> {
        match self.0 {
            Node::Null => visitor.visit_unit(),
            Node::Bool(value) => visitor.visit_bool(*value),
            Node::Number(text) => {
                if let Ok(whole) = text.parse::<i64>() {
                    visitor.visit_i64(whole)
                } else {
                    visitor.visit_f64(text.parse().map_err(|_| Unreadable(format!("{text} is not a number")))?)
                }
            }
            Node::Text(text) => visitor.visit_borrowed_str(text),
            Node::Array(items) => visitor.visit_seq(SeqDeserializer::new(items.iter().map(Reader))),
            Node::Object(fields) => {
                visitor.visit_map(MapDeserializer::new(fields.iter().map(|(key, value)| (key.as_ref(), Reader(value)))))
            }
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Unreadable> {
        match self.0 {
            Node::Null => visitor.visit_none(),
            _ => visitor.visit_some(self),
        }
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Unreadable> {
        match self.0 {
            Node::Text(text) => visitor.visit_enum(text.as_ref().into_deserializer()),
            other => Err(Unreadable(format!("expected a word, found {}", other.kind()))),
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        visitor: V,
    ) -> Result<V::Value, Unreadable> {
        visitor.visit_newtype_struct(self)
    }

    /// Minus zero becomes zero.
    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Unreadable> {
        match self.0 {
            Node::Number(text) => {
                let real: f64 = text.parse().map_err(|_| Unreadable(format!("{text} is not a number")))?;
                visitor.visit_f64(real + 0.0)
            }
            _ => self.deserialize_any(visitor),
        }
    }

    whole_numbers!(deserialize_i8 deserialize_i16 deserialize_i32 deserialize_i64);
    whole_numbers!(deserialize_u8 deserialize_u16 deserialize_u32 deserialize_u64);

    serde::forward_to_deserialize_any! {
        bool i128 u128 f32 char str string bytes byte_buf
        unit unit_struct seq tuple tuple_struct map struct identifier ignored_any
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_keep_their_text_and_repeated_keys_are_kept() {
        let node = Node::parse(br#"{"a": 16.950, "b": [1e3, "x\n"], "a": null}"#).unwrap();
        assert_eq!(node.get("a"), Some(&Node::Number("16.950".into())));
        assert_eq!(node.to_string(), r#"{"a":16.950,"b":[1e3,"x\n"],"a":null}"#);
    }

    #[test]
    fn what_is_not_one_json_value_is_refused() {
        for bad in ["", "{", "[1,]", "NaN", "{} {}", "{\"a\" 1}", "\u{1}"] {
            assert!(Node::parse(bad.as_bytes()).is_err(), "{bad}");
        }
        let deep = "[".repeat(MAX_DEPTH + 1) + &"]".repeat(MAX_DEPTH + 1);
        assert!(Node::parse(deep.as_bytes()).is_err());
        assert!(Node::parse(&deep.as_bytes()[1..deep.len() - 1]).is_ok());
    }

    #[test]
    fn checked_nodes_decode_into_plain_structs() {
        #[derive(serde::Deserialize, PartialEq, Debug)]
        struct Putt {
            distance: f64,
            note: Option<String>,
            #[serde(default)]
            conceded: bool,
        }
        let node = Node::parse(br#"[{"distance": 3, "note": null}]"#).unwrap();
        let putts: Vec<Putt> = node.decode().unwrap();
        assert_eq!(putts, [Putt { distance: 3.0, note: None, conceded: false }]);
    }

    #[test]
    fn pointers_escape_their_separators() {
        assert_eq!(pointer_to("/holes", "a/b~c"), "/holes/a~1b~0c");
    }
}
