//! A roster: the members of a CSV, as organizers add them.

use crate::domain::facts::{Member, Role};
use crate::domain::units::Tenths;
use crate::http::body::decoded;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::league::member::roster::RosterLine;
use crate::wire::body::league;
use crate::wire::card_file::table::line_of;
use crate::wire::json::Node;
use crate::wire::schema::{FieldError, MOST_FAULTS, Schema};
use csv::{ReaderBuilder, StringRecord};
use serde::Deserialize;

/// The most lines of a roster.
const MOST_LINES: usize = 10_000;
/// The most columns of a roster: more than it can use, so that a column too many is still told by its name.
const MOST_COLUMNS: usize = 20;
/// The columns of a roster.
const COLUMNS: [&str; 3] = ["display_name", "flight", "starting_handicap"];

/// The shape of a member that an organizer adds.
pub fn new_member() -> Schema {
    Schema::Object(league::member_fields())
}

/// A member that an organizer adds.
#[derive(Deserialize)]
pub struct NewMember {
    display_name: String,
    #[serde(default)]
    flight: Option<String>,
    #[serde(default)]
    starting_handicap: Option<Tenths>,
    #[serde(default)]
    guest: bool,
}

impl From<NewMember> for Member {
    fn from(NewMember { display_name, flight, starting_handicap, guest }: NewMember) -> Self {
        Self { display_name, role: Role::Player, flight, starting_handicap, guest, earlier_starts: Vec::new() }
    }
}

fn wrong(line: u64, column: &str, code: &'static str, detail: String) -> FieldError {
    let pointer = if column.is_empty() { format!("/{line}") } else { format!("/{line}/{column}") };
    FieldError { pointer, detail: format!("line {line}: {detail}"), code, min: None, max: None }
}

/// Reads a roster: a line of column names, then a member a line. Pointers are `/line/column`.
///
/// # Errors
/// 422 with every line that is wrong; 413 for too many.
pub fn lines(text: &[u8]) -> Result<Vec<RosterLine>, Problem> {
    let text = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(text);
    let mut reader = ReaderBuilder::new().flexible(true).trim(csv::Trim::All).from_reader(text);
    let unreadable = |error: csv::Error| {
        let line = error.position().map_or(1, csv::Position::line);
        Problem::fields(vec![wrong(line, "", "unreadable", "the line cannot be read as CSV in UTF-8".into())])
    };
    let columns = reader.headers().map_err(unreadable)?.clone();
    if columns.len() > MOST_COLUMNS {
        let detail = format!("a list of players has at most {MOST_COLUMNS} columns; this one has {}", columns.len());
        return Err(Problem::fields(vec![wrong(1, "", "too-many-columns", detail)]));
    }
    let mut errors = Vec::new();
    for (n, column) in columns.iter().enumerate() {
        if !COLUMNS.contains(&column) {
            let detail =
                format!("{column:?} is not a column of a list of players; its columns are {}", COLUMNS.join(", "));
            errors.push(wrong(1, column, "unknown-field", detail));
        }
        if columns.iter().take(n).any(|other| other == column) {
            errors.push(wrong(1, column, "repeated-field", format!("the column {column} is there twice")));
        }
    }
    if !columns.iter().any(|column| column == COLUMNS[0]) {
        errors.push(wrong(1, COLUMNS[0], "missing", "the column display_name is missing".into()));
    }
    if !errors.is_empty() {
        return Err(Problem::fields(errors));
    }
    let mut members = Vec::new();
    for record in reader.records() {
        let record = record.map_err(unreadable)?;
        let line = record.position().map_or(0, |position| line_of(text, position));
        match member(line, &columns, &record) {
            Ok(member) => members.push(RosterLine { line, member: member.into() }),
            Err(found) => errors.extend(found),
        }
        if members.len() + errors.len() > MOST_LINES {
            let detail = format!("a list of players has at most {MOST_LINES} lines");
            return Err(Problem::new(Kind::PayloadTooLarge, detail));
        }
    }
    errors.truncate(MOST_FAULTS);
    if errors.is_empty() { Ok(members) } else { Err(Problem::fields(errors)) }
}

/// Reads a handicap as people write it: +2.8 is a plus handicap, which is -2.8 in bodies. Other text goes on to where it is
/// refused by name.
pub fn handicap(cell: &str) -> serde_json::Value {
    let typed = cell.replace(',', ".").replace('\u{2212}', "-");
    let number = match typed.strip_prefix('+') {
        Some(plus) if plus.starts_with(|c: char| c.is_ascii_digit()) => format!("-{plus}"),
        _ => typed,
    };
    serde_json::from_str::<serde_json::Number>(&number).map_or(cell.into(), Into::into)
}

fn member(line: u64, columns: &StringRecord, record: &StringRecord) -> Result<NewMember, Vec<FieldError>> {
    if record.len() != columns.len() {
        let detail = format!("there are {} values under {} column names", record.len(), columns.len());
        return Err(vec![wrong(line, "", "cell-count", detail)]);
    }
    let mut fields = serde_json::Map::new();
    for (column, cell) in columns.iter().zip(record) {
        // What our own tables put before text that a spreadsheet would run.
        let cell = cell.strip_prefix('\'').unwrap_or(cell);
        let value = match column {
            "display_name" => cell.into(),
            _ if cell.is_empty() => serde_json::Value::Null,
            "starting_handicap" => handicap(cell),
            _ => cell.into(),
        };
        fields.insert(column.to_owned(), value);
    }
    let text = serde_json::Value::Object(fields).to_string();
    let unreadable = |detail: String| vec![wrong(line, "", "unreadable", detail)];
    let node = Node::parse(text.as_bytes()).map_err(|malformed| unreadable(malformed.0))?;
    let mut errors = new_member().check(&node);
    for error in &mut errors {
        error.pointer = format!("/{line}{}", error.pointer);
        let (_, column) = error.pointer.rsplit_once('/').unwrap_or_default();
        error.detail = format!("line {line}: {column} {}", error.detail);
    }
    if !errors.is_empty() {
        return Err(errors);
    }
    decoded(&node).map_err(|problem| unreadable(problem.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_counted_before_they_are_compared() {
        let told = |columns: usize| {
            let names: Vec<String> = (0..columns).map(|n| format!("c{n}")).collect();
            let problem = lines(names.join(",").as_bytes()).unwrap_err().to_json(None);
            problem["errors"]
                .as_array()
                .unwrap()
                .iter()
                .map(|error| error["code"].as_str().unwrap().to_owned())
                .collect()
        };
        let all: Vec<String> = told(MOST_COLUMNS);
        assert_eq!(all.len(), MOST_COLUMNS + 1, "each name, and the one that is missing");
        assert!(all.iter().all(|code| code == "unknown-field" || code == "missing"));
        assert_eq!(told(MOST_COLUMNS + 1), ["too-many-columns"]);
    }
}
