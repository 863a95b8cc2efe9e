//! Statements of SQLite that take many rows at once.

use super::sqlite;
use std::collections::HashMap;
use std::sync::{LazyLock, Mutex, PoisonError};

/// How many values a statement of SQLite takes at most.
const MOST_VALUES: usize = 32_766;
/// The most rows of one statement.
const MOST_ROWS: usize = 2048;

/// Returns how many of so many rows the next statement takes. Each number is a statement to prepare, so there are few; each
/// statement is sent to SQLite's thread and waited for, so there are at most three for as many rows as are common.
pub(super) fn block_of(rows: usize, width: usize) -> usize {
    let rows = rows.min(MOST_ROWS).min(MOST_VALUES / width);
    match rows {
        0..=16 => rows,
        17..=127 => rows / 8 * 8,
        _ => rows / 128 * 128,
    }
}

/// What a wide statement is made of: its text without values, columns and rows.
type WideParts = (&'static str, usize, usize);

/// Returns the statement that takes so many rows of values, at its end or where it says `VALUES`; each is written once
/// and stays.
pub(super) fn wide(statement: &'static str, width: usize, rows: usize) -> &'static str {
    static KNOWN: LazyLock<Mutex<HashMap<WideParts, &'static str>>> = LazyLock::new(Mutex::default);
    let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    known.entry((statement, width, rows)).or_insert_with(|| {
        let (head, tail) = statement.split_once("VALUES").unwrap_or((statement, ""));
        format!("{head} VALUES {} {tail}", sqlite::placeholders(width, rows * width)).leak()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn any_number_of_rows_takes_few_statements_of_few_kinds() {
        for (width, at_most) in [(4, 3), (10, 3), (20, 4)] {
            let mut kinds = BTreeSet::new();
            for rows in 0..=MOST_ROWS {
                let (mut left, mut statements) = (rows, 0);
                while left > 0 {
                    let block = block_of(left, width);
                    assert!(block > 0 && block <= left && block * width <= MOST_VALUES, "{block} of {left}");
                    kinds.insert(block);
                    (left, statements) = (left - block, statements + 1);
                }
                assert!(statements <= at_most, "{rows} rows of {width}: {statements}");
            }
            assert!(kinds.len() <= 46, "{}", kinds.len());
        }
    }
}
