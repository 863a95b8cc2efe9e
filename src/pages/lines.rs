//! What is typed a line each: read line by line, with names that must tell one thing.

use crate::domain::facts::Fault;
use crate::domain::rule::Rule;
use crate::http::problem::Problem;
use serde_json::Value;

/// Says whether two names are the same, however they are spaced and whatever letters are capitals.
pub fn is_same(one: &str, other: &str) -> bool {
    one.split_whitespace().map(str::to_lowercase).eq(other.split_whitespace().map(str::to_lowercase))
}

/// Returns the one thing of a name; `things` says what they are, as in `players`.
///
/// # Errors
/// Nothing of that name, for which `none` says so, or several.
pub fn only<'k, T: Copy + 'k>(known: &'k [(T, String)], name: &str, none: &str, things: &str) -> Result<T, String> {
    let mut found = known.iter().filter(|(_, known)| is_same(known, name));
    match (found.next(), found.next()) {
        (Some((id, _)), None) => Ok(*id),
        (None, _) => Err(format!("{none} is called {name}")),
        (Some(_), Some(_)) => Err(format!("several {things} are called {name}: rename one of them first")),
    }
}

/// Reads each line that is not empty; one more than `most`, so that too many are refused where they are counted.
///
/// # Errors
/// What is wrong with each line, by its number.
pub fn read(
    typed: &str,
    most: usize,
    pointer: &str,
    line: impl Fn(&str) -> Result<Value, String>,
) -> Result<Vec<Value>, Problem> {
    let lines = typed.lines().enumerate().filter(|(_, line)| !line.trim().is_empty());
    let (mut good, mut faults) = (Vec::new(), Vec::new());
    for (n, text) in lines.take(most + 1) {
        match line(text) {
            Ok(value) => good.push(value),
            Err(detail) => faults.push(Fault::new(pointer, Rule::Validation, format!("line {}: {detail}", n + 1))),
        }
    }
    if faults.is_empty() { Ok(good) } else { Err(Problem::faults(faults)) }
}
