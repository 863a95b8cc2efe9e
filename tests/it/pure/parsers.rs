//! What comes from outside is read without panic, hang or loss, whatever it is.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use evenfield::api::routes::all;
use evenfield::demo::{DemoTerms, league};
use evenfield::http::routes::Media;
use evenfield::wire::bundle::assemble::Assembler;
use evenfield::wire::bundle::line::Line;
use evenfield::wire::card_file::card::{column_faults, read};
use evenfield::wire::card_file::cells::Said;
use evenfield::wire::card_file::meaning::{CHOICES, Meaning};
use evenfield::wire::card_file::table::{MOST_CHARS, MOST_COLUMNS, MOST_ROWS, Separator, Table, text_of};
use evenfield::wire::json::Node;
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

/// Rows of what stands in cells, and what does not belong there.
fn cell_soup() -> impl Strategy<Value = String> {
    let cell = prop::sample::select(vec![
        "1",
        "2",
        "3",
        "9",
        "18",
        "31.5",
        "31,5",
        "-0.8",
        "0.8L",
        "left",
        "R",
        "holed",
        "missed",
        "c",
        "4p",
        "p",
        "x",
        "",
        "-",
        "n/a",
        "\"",
        "\"\"",
        "\"a;b\"",
        "1e400",
        "−4",
        "6 m/s",
        "30 ft",
        "°",
        "é",
        "\u{feff}",
        "999999999999",
    ]);
    let separator = prop::sample::select(vec![",", ";", "\t"]);
    let row = prop::collection::vec(cell, 0..9);
    (prop::collection::vec(row, 0..12), separator)
        .prop_map(|(rows, separator)| rows.into_iter().map(|row| row.join(separator)).collect::<Vec<_>>().join("\n"))
}

proptest! {
    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = Node::parse(&bytes);
        let _ = Line::read(&bytes);
        let _ = evenfield::cli::calc::answer_line(&bytes);
    }

    #[test]
    fn any_file_is_a_table_or_is_refused(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let Ok(text) = text_of(&bytes) else { return Ok(()) };
        for separator in [None, Some(Separator::Comma), Some(Separator::Semicolon), Some(Separator::Tab)] {
            if let Ok(table) = Table::read(&text, separator, None) {
                prop_assert!(table.names.len() <= MOST_COLUMNS && table.rows.len() <= MOST_ROWS);
                let lines = text.lines().count() as u64;
                for row in &table.rows {
                    prop_assert!((1..=lines).contains(&row.number));
                    prop_assert!(row.cells.iter().all(|cell| cell.chars().count() <= MOST_CHARS));
                }
            }
        }
    }

    #[test]
    fn any_rows_become_holes_or_reasons(text in cell_soup(), columns in prop::collection::vec(0..CHOICES.len(), 12)) {
        let Ok(table) = Table::read(&text, None, None) else { return Ok(()) };
        let mut meanings: Vec<Meaning> = columns.iter().map(|n| CHOICES[*n].meaning).collect();
        meanings.resize(table.names.len(), Meaning::NotUsed);
        let _ = column_faults(&table.names, &meanings);
        let played: Vec<u8> = (1..=9).collect();
        let reading = read(&table, &meanings, None, &played);
        // Each row is somewhere.
        prop_assert_eq!(reading.rows.len() + reading.of_other_rounds + reading.empty, table.rows.len());
        prop_assert_eq!(reading.good() + reading.bad().len(), reading.rows.len());
        prop_assert!(reading.rows.iter().flat_map(|row| &row.faults).all(|fault| !fault.is_empty()));
        // A hole has what its rows say: nothing bad without a reason, no putt lost in silence.
        for hole in &reading.holes {
            prop_assert!(played.contains(&hole.number.get()));
            let is_bad = |putt: &evenfield::wire::card_file::card::FilePutt| {
                putt.distance_ft.good().is_none() || putt.ball_speed_mph == Said::Bad || putt.result == Said::Bad
            };
            let is_whole = hole.strokes != Said::Bad && hole.putt_count != Said::Bad && !hole.putts.iter().any(is_bad);
            prop_assert!(is_whole || !reading.faults_of(hole).is_empty());
            let struck = reading.rows.iter().filter(|row| row.hole == Said::Good(hole.number) && row.putt.is_some());
            prop_assert!(struck.count() <= hole.putts.len() || !reading.faults_of(hole).is_empty());
        }
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
