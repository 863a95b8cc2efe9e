//! A file of separated values as a table: whatever separates its cells, with or without a row of names.

use csv::{ReaderBuilder, StringRecord};

/// The largest file, in bytes.
pub const MOST_BYTES: usize = 256 * 1024;
/// The most rows.
pub const MOST_ROWS: usize = 2_000;
/// The most columns.
pub const MOST_COLUMNS: usize = 60;
/// The most characters of a cell.
pub const MOST_CHARS: usize = 200;

/// Why a file is no table.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Unreadable {
    /// Nothing stands in it.
    #[error("the file is empty")]
    Empty,
    /// It is too large.
    #[error("the file has more than {} kB; bring the rows of one round", MOST_BYTES / 1024)]
    TooLarge,
    /// It is a spreadsheet's own file, a picture or the like.
    #[error("the file is not plain text: save it as CSV first")]
    NotText,
    /// It has too many rows.
    #[error("the file has more than {MOST_ROWS} rows; bring the rows of one round")]
    TooManyRows,
    /// It has too many columns.
    #[error("row {row} has more than {MOST_COLUMNS} columns")]
    TooManyColumns {
        /// The row.
        row: u64,
    },
    /// A cell is too long, often because a quotation mark was never closed.
    #[error("a cell of row {row} has more than {MOST_CHARS} characters; is a quotation mark missing?")]
    CellTooLong {
        /// The row.
        row: u64,
    },
}

/// What stands between two cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Separator {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// A tab.
    Tab,
}

impl Separator {
    /// All of them. Where a file could be cut by two of them, the earlier one is meant: decimal commas look like commas.
    pub const ALL: [Self; 3] = [Self::Tab, Self::Semicolon, Self::Comma];

    /// Returns the word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Separator::Comma => "comma",
            Separator::Semicolon => "semicolon",
            Separator::Tab => "tab",
        }
    }

    /// Finds one by its word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|separator| separator.word() == word)
    }

    const fn byte(self) -> u8 {
        match self {
            Separator::Comma => b',',
            Separator::Semicolon => b';',
            Separator::Tab => b'\t',
        }
    }
}

/// A row of cells.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// The line of the file on which it begins, from 1.
    pub number: u64,
    /// Its cells; a row may have fewer or more than there are columns.
    pub cells: Vec<String>,
}

/// A file cut into cells.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    /// What separates its cells.
    pub separator: Separator,
    /// Whether the first row gives the columns their names.
    pub has_names: bool,
    /// The names of the columns; `column 3` where the file gives none.
    pub names: Vec<String>,
    /// The rows under the names.
    pub rows: Vec<Row>,
    /// How many rows of another width stand before the table: titles and the like.
    pub rows_before: usize,
}

/// Reads bytes as text, with line ends of one kind and without a byte order mark.
///
/// Bytes that are not UTF-8 are taken as Latin-1, so that a degree sign in a heading spoils nothing.
///
/// # Errors
/// Too many bytes, or what is no text.
pub fn text_of(bytes: &[u8]) -> Result<String, Unreadable> {
    if bytes.len() > MOST_BYTES {
        return Err(Unreadable::TooLarge);
    }
    let text = match bytes {
        [0xff, 0xfe, rest @ ..] => utf16(rest, u16::from_le_bytes),
        [0xfe, 0xff, rest @ ..] => utf16(rest, u16::from_be_bytes),
        _ => match std::str::from_utf8(bytes) {
            Ok(text) => text.trim_start_matches('\u{feff}').to_owned(),
            Err(_) => bytes.iter().map(|byte| latin(*byte)).collect(),
        },
    };
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    if text.chars().any(|c| c.is_control() && !matches!(c, '\n' | '\t')) {
        return Err(Unreadable::NotText);
    }
    if text.trim().is_empty() { Err(Unreadable::Empty) } else { Ok(text) }
}

fn latin(byte: u8) -> char {
    if (0x80..0xa0).contains(&byte) { char::REPLACEMENT_CHARACTER } else { char::from(byte) }
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> String {
    let units = bytes.chunks_exact(2).map(|pair| unit([pair[0], pair[1]]));
    char::decode_utf16(units).map(|unit| unit.unwrap_or(char::REPLACEMENT_CHARACTER)).collect()
}

/// Returns the line on which a record begins: the reader's position stands before the empty lines that it passes over.
pub fn line_of(text: &[u8], position: &csv::Position) -> u64 {
    let from = text.get(position.byte() as usize..).unwrap_or_default();
    let empty = from.iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).filter(|byte| **byte == b'\n');
    position.line() + empty.count() as u64
}

impl Table {
    /// Cuts a text into cells. What is not said (the separator, whether the first row gives names) is seen from the text.
    ///
    /// # Errors
    /// A text beyond the limits, or without a row.
    pub fn read(text: &str, separator: Option<Separator>, has_names: Option<bool>) -> Result<Self, Unreadable> {
        let separator = separator.unwrap_or_else(|| likely_separator(text));
        let mut rows = Vec::new();
        for (number, record) in records(text, separator) {
            if rows.len() > MOST_ROWS {
                return Err(Unreadable::TooManyRows);
            }
            if record.len() > MOST_COLUMNS {
                return Err(Unreadable::TooManyColumns { row: number });
            }
            if record.iter().any(|cell| cell.chars().nth(MOST_CHARS).is_some()) {
                return Err(Unreadable::CellTooLong { row: number });
            }
            rows.push(Row { number, cells: record.iter().map(|cell| cell.trim().to_owned()).collect() });
        }
        let width = usual(rows.iter().map(|row| row.cells.len())).ok_or(Unreadable::Empty)?.0;
        let rows_before = rows.iter().position(|row| row.cells.len() == width).unwrap_or(0);
        rows.drain(..rows_before);
        let has_names = has_names.unwrap_or_else(|| looks_like_names(&rows[0]));
        let given = if has_names { rows.remove(0).cells } else { Vec::new() };
        let name = |n: usize| {
            let given = given.get(n).filter(|name| !name.is_empty());
            given.cloned().unwrap_or_else(|| format!("column {}", n + 1))
        };
        Ok(Self { separator, has_names, names: (0..width).map(name).collect(), rows, rows_before })
    }
}

/// Reads the records of a text with the line on which each begins; what cannot be read ends them.
fn records(text: &str, separator: Separator) -> impl Iterator<Item = (u64, StringRecord)> {
    let mut builder = ReaderBuilder::new();
    builder.flexible(true).has_headers(false).delimiter(separator.byte());
    let records = builder.from_reader(text.as_bytes()).into_records().map_while(Result::ok);
    records.map(|record| (record.position().map_or(0, |position| line_of(text.as_bytes(), position)), record))
}

/// Returns the most frequent of some numbers, the larger of equally frequent ones, and how often it is there.
fn usual(numbers: impl Iterator<Item = usize>) -> Option<(usize, usize)> {
    let mut counts = std::collections::BTreeMap::new();
    for number in numbers {
        *counts.entry(number).or_insert(0) += 1;
    }
    counts.into_iter().max_by_key(|(number, count)| (*count, *number))
}

/// Finds the separator that cuts most of the first rows into equally many cells, more than one.
fn likely_separator(text: &str) -> Separator {
    const LOOKED_AT: usize = 50;
    let fit = |separator: &Separator| {
        let widths = records(text, *separator).take(LOOKED_AT).map(|(_, record)| record.len());
        usual(widths).filter(|(width, _)| *width > 1).map_or(0, |(_, rows)| rows)
    };
    // Of equal ones `max_by_key` takes the last.
    let fitting = Separator::ALL.into_iter().rev().filter(|separator| fit(separator) > 0);
    fitting.max_by_key(fit).unwrap_or(Separator::Comma)
}

/// A row of names has no number in it.
fn looks_like_names(row: &Row) -> bool {
    row.cells.iter().all(|cell| crate::wire::card_file::cells::number(cell).is_none())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Table {
        Table::read(&text_of(text.as_bytes()).unwrap(), None, None).unwrap()
    }

    fn cells(table: &Table) -> Vec<Vec<&str>> {
        table.rows.iter().map(|row| row.cells.iter().map(String::as_str).collect()).collect()
    }

    #[test]
    fn cells_are_cut_at_what_separates_them() {
        for (text, separator) in [
            ("hole,feet\n1,31.5\n1,2", Separator::Comma),
            ("hole;feet\n1;31,5\n1;2,5", Separator::Semicolon),
            ("1;31,5\n1;2,5", Separator::Semicolon),
            ("hole\tfeet\r\n1\t31,5\r\n1\t2,5\r\n", Separator::Tab),
            ("hole,note\n1,a; b; c\n2,d\n3,e", Separator::Comma),
            ("feet\n31\n2", Separator::Comma),
        ] {
            assert_eq!(read(text).separator, separator, "{text:?}");
        }
    }

    #[test]
    fn names_are_there_or_not() {
        let with = read("hole,feet\n1,31");
        assert_eq!((with.has_names, with.names.as_slice()), (true, ["hole".to_owned(), "feet".to_owned()].as_slice()));
        let without = read("1,31\n2,8");
        assert_eq!((without.has_names, without.rows.len()), (false, 2));
        assert_eq!(without.names, ["column 1", "column 2"]);
        assert_eq!(Table::read("a,b\nc,d", None, Some(false)).unwrap().rows.len(), 2);
    }

    #[test]
    fn quoted_cells_marks_and_line_ends_are_read() {
        let table = read("\u{feff}hole,\"feet, from\"\r\r1,\"3\"\"1\"\r\n2,8");
        assert_eq!(table.names, ["hole", "feet, from"]);
        assert_eq!(cells(&table), [["1", "3\"1"], ["2", "8"]]);
        assert_eq!(text_of(b"angle \xb0,x\n1,2").unwrap(), "angle °,x\n1,2");
        let wide: Vec<u8> =
            [0xfeff_u16].into_iter().chain("a;b\n1;2".encode_utf16()).flat_map(u16::to_le_bytes).collect();
        assert_eq!(text_of(&wide).unwrap(), "a;b\n1;2");
    }

    #[test]
    fn rows_keep_the_lines_on_which_they_stand() {
        let table = read("An evening\n\nhole,feet\n\n1,31\n1,2,3\n\n\n2,8\n3,4");
        assert_eq!(table.rows_before, 1);
        assert_eq!(table.rows.iter().map(|row| row.number).collect::<Vec<_>>(), [5, 6, 9, 10]);
    }

    #[test]
    fn what_is_beyond_the_limits_is_refused() {
        let refused =
            |text: String| text_of(text.as_bytes()).and_then(|text| Table::read(&text, None, None)).unwrap_err();
        assert_eq!(refused(String::new()), Unreadable::Empty);
        assert_eq!(refused(" \n\n".into()), Unreadable::Empty);
        assert_eq!(refused("a\0b".into()), Unreadable::NotText);
        assert_eq!(refused("x".repeat(MOST_BYTES + 1)), Unreadable::TooLarge);
        assert_eq!(refused("1,2\n".repeat(MOST_ROWS + 2)), Unreadable::TooManyRows);
        assert_eq!(refused(format!("1{}\n", ",2".repeat(MOST_COLUMNS))), Unreadable::TooManyColumns { row: 1 });
        assert_eq!(refused(format!("1,2\n3,{}", "x".repeat(MOST_CHARS + 1))), Unreadable::CellTooLong { row: 2 });
        let open = format!("1,2\n\"3{}", ",4\n".repeat(100));
        assert_eq!(refused(open), Unreadable::CellTooLong { row: 2 });
        assert!(Table::read(&format!("a,b\n{}", "1,2\n".repeat(MOST_ROWS)), None, None).is_ok());
    }
}
