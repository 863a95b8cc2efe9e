//! Bodies in canonical form: keys in order, no white space, numbers as they were written.

use crate::wire::json::Node;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;

/// Returns the hash of a body in canonical form.
pub fn hash_of(node: &Node<'_>) -> [u8; 32] {
    let mut text = String::with_capacity(8 * 1024);
    write_canonical(node, &mut text);
    Sha256::digest(text).into()
}

fn write_canonical(node: &Node<'_>, text: &mut String) {
    match node {
        Node::Object(fields) => {
            let mut fields: Vec<_> = fields.iter().collect();
            fields.sort_by(|(a, _), (b, _)| a.cmp(b));
            text.push('{');
            for (name, value) in fields {
                write_quoted(name, text);
                text.push(':');
                write_canonical(value, text);
                text.push(',');
            }
            text.push('}');
        }
        Node::Array(items) => {
            text.push('[');
            for (n, item) in items.iter().enumerate() {
                if n > 0 {
                    text.push(',');
                }
                write_canonical(item, text);
            }
            text.push(']');
        }
        Node::Number(number) => text.push_str(number),
        Node::Text(words) => write_quoted(words, text),
        other => {
            let _ = write!(text, "{other}");
        }
    }
}

fn write_quoted(words: &str, text: &mut String) {
    if words.bytes().all(|byte| byte >= b' ' && byte != b'"' && byte != b'\\') {
        text.push('"');
        text.push_str(words);
        text.push('"');
    } else {
        let _ = write!(text, "{}", Node::Text(words.into()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_value_has_one_form() {
        let form = |text: &str| {
            let mut written = String::new();
            write_canonical(&Node::parse(text.as_bytes()).unwrap(), &mut written);
            written
        };
        let due = "{\"a\":[1.50,\"é \\\"x\\\"\"],\"b\":{\"c\":null,\"d\":true,},}";
        assert_eq!(form(r#"{"b": {"d": true, "c": null}, "a": [1.50, "\u00e9 \"x\""]}"#), due);
        assert_eq!(form(due.replace(",}", "}").as_str()), due);
    }
}
