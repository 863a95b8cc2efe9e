//! `evenfield calc`: JSON lines in, one JSON line out for each, in order.
//!
//! Each topic has a table of [`Operation`]s; `TOPICS` lists the tables. An operation reads its arguments, calls
//! [`Arguments::finish`], and only then computes. All arguments have a limit, so a line is a bounded amount of work.

mod arguments;
mod competition;
mod handicap;
mod holes;
mod matches;
mod putting;
#[cfg(test)]
mod readings;
mod record;
mod scoring;
mod standings;

pub use arguments::{Arguments, Given, Whole};

use crate::wire::json::{Node, pointer_to};
use serde_json::Value;
use std::fmt::{self, Write as _};
use std::io::{self, BufRead, Read, Write};

/// The longest line that is read, in bytes.
pub const MAX_LINE_BYTES: usize = 1 << 20;

/// An operation of the calculator.
#[derive(Clone, Copy, Debug)]
pub struct Operation {
    /// Its name, as `op` gives it.
    pub name: &'static str,
    /// What it answers, in a sentence.
    pub summary: &'static str,
    /// Reads the arguments and computes the result.
    pub run: fn(&mut Arguments<'_>) -> Result<Value, CalcError>,
}

const TOPICS: &[&[Operation]] = &[
    handicap::OPERATIONS,
    putting::OPERATIONS,
    record::OPERATIONS,
    scoring::OPERATIONS,
    competition::OPERATIONS,
    matches::OPERATIONS,
    standings::OPERATIONS,
];

/// Returns every operation, topic by topic.
pub fn operations() -> impl Iterator<Item = &'static Operation> {
    TOPICS.iter().copied().flatten()
}

/// Returns the end of the command's help: an example, and every operation.
pub fn help() -> String {
    let mut help = String::from(concat!(
        "Example:\n  echo '{\"id\": 1, \"op\": \"round_tenth\", \"value\": \"-1.55\"}' | evenfield calc\n\n",
        "Operations (docs/calculator.md has their arguments):",
    ));
    let width = operations().map(|operation| operation.name.len()).max().unwrap_or(0);
    for Operation { name, summary, .. } in operations() {
        write!(help, "\n  {name:width$}  {summary}").expect("writing to a String never fails");
    }
    help
}

/// Why a line has no result: the place in the line and what is wrong there.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{pointer}: {detail}")]
pub struct CalcError {
    /// JSON Pointer to the fault (RFC 6901); empty for the line as a whole.
    pub pointer: String,
    /// What is wrong, with the limit where there is one.
    pub detail: String,
}

impl CalcError {
    /// Creates an error at a pointer.
    pub fn at(pointer: &str, detail: impl Into<String>) -> Self {
        Self { pointer: pointer.into(), detail: detail.into() }
    }

    /// Creates an error about the value being read; whoever reads it puts its name in front.
    pub fn here(detail: impl Into<String>) -> Self {
        Self::at("", detail)
    }

    /// Puts a name or an index in front of the pointer.
    #[must_use]
    pub fn under(mut self, name: impl fmt::Display) -> Self {
        self.pointer.insert_str(0, &pointer_to("", name));
        self
    }
}

/// The answer to one line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    is_ok: bool,
    json: String,
}

impl Answer {
    fn new(id: Option<&Node<'_>>, outcome: Result<Value, CalcError>) -> Self {
        let mut json = String::with_capacity(128);
        let is_ok = outcome.is_ok();
        let written = match (id, outcome) {
            (None, Ok(result)) => write!(json, r#"{{"id": null, "ok": true, "result": {result}}}"#),
            (Some(id), Ok(result)) => write!(json, r#"{{"id": {id}, "ok": true, "result": {result}}}"#),
            (id, Err(CalcError { pointer, detail })) => {
                let error = serde_json::json!({"pointer": pointer, "detail": detail});
                let id = id.unwrap_or(&Node::Null);
                write!(json, r#"{{"id": {id}, "ok": false, "error": {error}}}"#)
            }
        };
        written.expect("writing to a String never fails");
        Self { is_ok, json }
    }

    /// Returns whether the line had a result.
    pub fn is_ok(&self) -> bool {
        self.is_ok
    }

    /// Returns the answer as one line of JSON, without the line's end.
    pub fn json(&self) -> &str {
        &self.json
    }
}

/// Answers one line.
pub fn answer_line(line: &[u8]) -> Answer {
    let node = match Node::parse(line) {
        Ok(node) => node,
        Err(malformed) => return Answer::new(None, Err(CalcError::here(malformed.to_string()))),
    };
    Answer::new(node.get("id"), answer(&node))
}

fn answer(line: &Node<'_>) -> Result<Value, CalcError> {
    if !matches!(line, Node::Object(_)) {
        return Err(CalcError::at("/op", format!("the line must be an object with an op, not {}", line.kind())));
    }
    let mut arguments = Arguments::new(line)?;
    arguments.node("id")?;
    let operation = arguments.required("op", |given| {
        let name = given.text(usize::MAX)?;
        let found = operations().find(|operation| operation.name == name);
        found.ok_or_else(|| CalcError::here(format!("unknown operation: {name}")))
    })?;
    let result = (operation.run)(&mut arguments)?;
    arguments.finish()?;
    Ok(result)
}

/// Answers every line of `input`, skipping blank ones; returns whether all had a result.
///
/// # Errors
/// Reading or writing failed.
pub fn run(mut input: &mut dyn BufRead, output: &mut dyn Write) -> io::Result<bool> {
    let mut all_ok = true;
    let mut line = Vec::new();
    loop {
        line.clear();
        let read = (&mut input).take(MAX_LINE_BYTES as u64 + 1).read_until(b'\n', &mut line)?;
        if read == 0 {
            output.flush()?;
            return Ok(all_ok);
        }
        let answer = if read > MAX_LINE_BYTES && line.last() != Some(&b'\n') {
            skip_line(input)?;
            let detail = format!("the line must have at most {MAX_LINE_BYTES} bytes");
            Answer::new(None, Err(CalcError::here(detail)))
        } else if line.iter().all(u8::is_ascii_whitespace) {
            continue;
        } else {
            answer_line(&line)
        };
        all_ok &= answer.is_ok();
        output.write_all(answer.json().as_bytes())?;
        output.write_all(b"\n")?;
    }
}

fn skip_line(input: &mut dyn BufRead) -> io::Result<()> {
    loop {
        let buffer = input.fill_buf()?;
        if buffer.is_empty() {
            return Ok(());
        }
        let end = buffer.iter().position(|&byte| byte == b'\n');
        let length = end.map_or(buffer.len(), |end| end + 1);
        input.consume(length);
        if end.is_some() {
            return Ok(());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(line: &str, expect: &str) {
        assert_eq!(answer_line(line.as_bytes()).json(), expect);
    }

    #[test]
    fn an_id_comes_back_as_it_was_written() {
        let result = r#""ok": true, "result": {"rounded":-1}}"#;
        for id in ["1.50", "\"x\"", "null", r#"{"b":[1e3],"a":1}"#] {
            check(
                &format!(r#"{{"id": {id}, "op": "round_whole", "value": "-1.5"}}"#),
                &format!(r#"{{"id": {id}, {result}"#),
            );
        }
        check(r#"{"op": "round_whole", "value": "-1.5"}"#, &format!(r#"{{"id": null, {result}"#));
    }

    #[test]
    fn what_is_no_operation_is_named() {
        let bad = |id: &str, pointer: &str, detail: &str| {
            format!(r#"{{"id": {id}, "ok": false, "error": {{"pointer":"{pointer}","detail":"{detail}"}}}}"#)
        };
        check("[1]", &bad("null", "/op", "the line must be an object with an op, not an array"));
        check(r#"{"id": 7}"#, &bad("7", "/op", "is required"));
        check(r#"{"id": 7, "op": 3}"#, &bad("7", "/op", "must be a string, not a number"));
        check(r#"{"id": 7, "op": "guess"}"#, &bad("7", "/op", "unknown operation: guess"));
        let extra = r#"{"id": 7, "op": "round_whole", "value": 1, "places": 2}"#;
        check(extra, &bad("7", "/places", "unknown argument: places"));
    }

    #[test]
    fn refusals_point_at_the_argument_and_name_the_limit() {
        fn check(op: &str, arguments: &str, pointer: &str, detail: &str) {
            let answer = answer_line(format!(r#"{{"op": "{op}", {arguments}}}"#).as_bytes());
            let error = format!(r#""error": {}}}"#, serde_json::json!({"pointer": pointer, "detail": detail}));
            assert!(answer.json().ends_with(&error), "{} does not end with {error}", answer.json());
        }
        let course = r#""ags": 90, "course_rating": 71.5"#;
        check("differential", &format!(r#"{course}, "slope": 156"#), "/slope", "must be a whole number from 55 to 155");
        check("differential", &format!(r#"{course}, "slope": 113, "holes": 12"#), "/holes", "must be 9 or 18");
        check(
            "differential",
            &format!(r#"{course}, "slope": 113, "pcc": 4"#),
            "/pcc",
            "must be a whole number from -1 to 3",
        );
        check("round_tenth", r#""value": 0.1234567890123"#, "/value", "must have at most 12 decimals");
        check(
            "playing_handicap",
            r#""format": "match""#,
            "/index",
            "is required, with slope, where no course_handicap is given",
        );
        check(
            "team_handicap",
            r#""format": "foursomes", "course_handicaps": [1, 2, 3]"#,
            "/course_handicaps",
            "must have 2 course strokes, one a player",
        );
        check(
            "history",
            r#""scores": [{"date": "2026-02-30", "differential": 1}]"#,
            "/scores/0/date",
            "must be a date such as 2026-01-31",
        );
        check(
            "history",
            r#""scores": [{"date": "2026-02-03"}]"#,
            "/scores/0/differential",
            "is required, or ags, course_rating and slope in its place",
        );
        check(
            "strokes",
            r#""handicap": 3, "stroke_indexes": [1, 2, 1]"#,
            "/stroke_indexes/2",
            "must not be the index of another hole",
        );
        check("stableford", r#""scores": [4, 4], "pars": [4]"#, "/pars", "must have one entry for each of the 2 holes");
        check(
            "stableford",
            r#""scores": [4], "pars": [4], "playing_handicap": 1"#,
            "/stroke_indexes",
            "is required where there are handicap strokes",
        );
        let players = r#""players": [{"id": "a", "scores": [4, 4]}, {"id": "b", "scores": [4, null]}]"#;
        check("countback", players, "/players/1/scores/1", "is required: strokes have no total without it");
        check("countback", &players.replace("\"b\"", "\"a\""), "/players/1/id", "must not be the id of another player");
        check(
            "countback",
            &format!(r#"{players}, "segments": [1, 3]"#),
            "/segments/1",
            "must be at most the 2 holes of the cards",
        );
        check("share_points", r#""table": [1], "results": {"a": 1, "a": 2}"#, "/results/a", "is given more than once");
        check("berger", r#""teams": 201"#, "/teams", "must be a whole number from 2 to 200");
    }

    #[test]
    fn a_bad_line_does_not_end_the_run_and_blank_lines_are_skipped() {
        fn check(input: &str, ids: &[&str], all_ok: bool) {
            let mut output = Vec::new();
            assert_eq!(run(&mut input.as_bytes(), &mut output).unwrap(), all_ok);
            let output = String::from_utf8(output).unwrap();
            let found: Vec<_> = output.lines().map(|line| &line[7..line.find(',').unwrap()]).collect();
            assert_eq!(found, ids);
        }
        let good = |id: u8| format!(r#"{{"id": {id}, "op": "round_whole", "value": 1}}"#);
        check("", &[], true);
        check(&format!("{}\r\n\n  \n{}", good(1), good(2)), &["1", "2"], true);
        check(&format!("{}\nnonsense\n{}\n", good(1), good(2)), &["1", "null", "2"], false);
        check(&format!("{}\n{}", " ".repeat(MAX_LINE_BYTES + 1), good(2)), &["null", "2"], false);
        check(&"x".repeat(3 * MAX_LINE_BYTES), &["null"], false);
    }

    #[test]
    fn the_help_has_a_line_for_each_operation() {
        let help = help();
        let lines: Vec<&str> = help.lines().collect();
        assert!(lines.contains(&"  match                    Result of a match from net hole scores."), "{help}");
        assert_eq!(lines.iter().filter(|line| line.ends_with('.')).count(), operations().count(), "{help}");
    }

    #[test]
    fn every_operation_has_its_own_name() {
        let mut names: Vec<_> = operations().map(|operation| operation.name).collect();
        names.sort_unstable();
        let count = names.len();
        names.dedup();
        assert_eq!(names.len(), count);
    }
}
