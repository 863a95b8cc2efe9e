//! The list of requirements: each is shown by tests that are there, and whoever cites a number finds it.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use super::invariants::files;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;

const LIST: &str = "docs/requirements.md";

/// Returns the requirements of the list: number and text.
fn requirements() -> BTreeMap<String, String> {
    let text = fs::read_to_string(LIST).unwrap();
    let items = text.split("\n- **").skip(1).map(|item| {
        let (number, rest) = item.split_once("**").unwrap();
        let text = rest.split("\n## ").next().unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
        (number.to_owned(), text)
    });
    items.collect()
}

/// The browser tests; what they install lies below them and is not ours.
fn browser_tests() -> Vec<PathBuf> {
    let found = fs::read_dir("tests/browser").unwrap().map(|entry| entry.unwrap().path());
    found.filter(|path| path.extension().is_some_and(|ending| ending == "mjs")).collect()
}

/// Returns what stands between each two marks of a text.
fn between(text: &str, mark: char) -> impl Iterator<Item = &str> {
    text.split(mark).skip(1).step_by(2)
}

fn is_number(word: &str) -> bool {
    let mut letters = word.chars();
    letters.next().is_some_and(|letter| "SRFAU".contains(letter))
        && (2..=3).contains(&word.len())
        && letters.all(|letter| letter.is_ascii_digit())
}

#[test]
fn every_requirement_is_shown_by_tests_that_are_there_or_says_why_not() {
    let mut tests = BTreeSet::new();
    for file in ["src", "tests"].into_iter().flat_map(|folder| files(folder, "rs")) {
        let text = fs::read_to_string(file).unwrap();
        let parts = text.split("fn ").skip(1);
        tests.extend(
            parts.map(|part| part.split(|c: char| !c.is_alphanumeric() && c != '_').next().unwrap().to_owned()),
        );
    }
    let in_browsers: String = browser_tests().into_iter().map(|file| fs::read_to_string(file).unwrap()).collect();
    let requirements = requirements();
    assert!(requirements.len() > 80, "the list was not read: {}", requirements.len());
    for (number, text) in &requirements {
        let named: Vec<_> =
            between(text, '`').filter(|name| name.contains('_') && !name.contains(['/', '.'])).collect();
        let titles: Vec<_> = between(text, '"').collect();
        for name in named.iter().filter(|name| **name != "validate_only") {
            assert!(tests.contains(*name), "{LIST}: {number} names `{name}`, and no test has that name");
        }
        for title in &titles {
            assert!(
                in_browsers.contains(&format!("test(\"{title}\"")),
                "{LIST}: {number}: no browser test \"{title}\""
            );
        }
        let says_why = text.contains("*Not shown") || text.contains("*Not met");
        assert!(says_why || named.len() + titles.len() > 0, "{LIST}: {number} names no test and does not say why");
    }
}

#[test]
fn every_number_that_is_cited_is_in_the_list() {
    let known = requirements();
    let rust = ["src", "tests"].into_iter().flat_map(|folder| files(folder, "rs"));
    let mut cited = 0;
    for file in rust.chain(browser_tests()) {
        for (n, line) in fs::read_to_string(&file).unwrap().lines().enumerate() {
            let Some((_, comment)) = line.split_once("//") else { continue };
            for word in comment.split(|c: char| !c.is_alphanumeric()).filter(|word| is_number(word)) {
                cited += 1;
                assert!(known.contains_key(word), "{}:{}: {word} is not in {LIST}", file.display(), n + 1);
            }
        }
    }
    assert!(cited > 50, "no comment was read");
}
