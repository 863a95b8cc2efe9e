//! What comes from outside is read without panic, hang or loss, whatever it is.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use evenfield::api::routes::{Media, all};
use evenfield::bodies::bundle::Line;
use evenfield::bundle::Assembler;
use evenfield::demo::{DemoTerms, league};
use evenfield::json::Node;
use proptest::prelude::*;
use std::sync::LazyLock;

static LINES: LazyLock<Vec<String>> = LazyLock::new(|| {
    let terms = DemoTerms { seed: 3, players: 2, events: 2, today: "2027-01-14".parse().unwrap() };
    league(&terms).lines.iter().map(Line::to_json).collect()
});

/// JSON-like text: the tokens of JSON in any order, with odd numbers and strings.
fn token_soup() -> impl Strategy<Value = String> {
    let token = prop::sample::select(vec![
        "{",
        "}",
        "[",
        "]",
        ",",
        ":",
        "null",
        "true",
        "1e400",
        "-0.0",
        "9223372036854775808",
        "\"kind\"",
        "\"round\"",
        "\"\\u0000\"",
        "\"\\ud800\"",
        "\"holes\"",
        "1",
        " ",
        "\"\"",
        "01",
        ".5",
        "NaN",
        "\u{7f}",
        "é",
    ]);
    prop::collection::vec(token, 0..40).prop_map(|tokens| tokens.concat())
}

proptest! {
    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = Node::parse(&bytes);
        let _ = Line::read(&bytes);
        let _ = evenfield::cli::calc::answer_line(&bytes);
    }

    #[test]
    fn any_tokens_are_read_or_refused(text in token_soup()) {
        if let Ok(node) = Node::parse(text.as_bytes()) {
            // What was read is written as the same value.
            let again = node.to_string();
            prop_assert_eq!(Node::parse(again.as_bytes()).map(|node| node.to_string()), Ok(again.clone()));
            for doc in all().docs {
                if let Media::Json(schema) | Media::Patch(schema) | Media::Lines(schema) = &doc.takes {
                    let _ = schema.check(&node);
                }
            }
        }
        let _ = Line::read(text.as_bytes());
    }

    #[test]
    fn a_bundle_with_one_byte_changed_is_taken_in_or_refused(
        line in any::<prop::sample::Index>(),
        place in any::<prop::sample::Index>(),
        byte in any::<u8>(),
    ) {
        let broken = line.index(LINES.len());
        let mut assembler = Assembler::default();
        for (n, text) in LINES.iter().enumerate() {
            let mut bytes = text.clone().into_bytes();
            if n == broken {
                let place = place.index(bytes.len());
                bytes[place] = byte;
            }
            match Line::read(&bytes) {
                Ok(line) => {
                    // What it says is written and read again as the same.
                    prop_assert_eq!(Line::read(line.to_json().as_bytes()), Ok(line.clone()));
                    if assembler.add(line).is_err() {
                        return Ok(());
                    }
                }
                Err(errors) => {
                    prop_assert!(!errors.is_empty());
                    return Ok(());
                }
            }
        }
        let _ = assembler.finish();
    }
}
