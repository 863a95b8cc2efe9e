//! What is built in: where it comes from, under which licence, and that no second version of it creeps in.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

const REGISTRY: &str = "registry+https://github.com/rust-lang/crates.io-index";

/// Licences that let anybody use, change and pass on evenfield under its own two (SPDX names).
const LICENCES: &[&str] =
    &["MIT", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "ISC", "Zlib", "Unicode-3.0", "CDLA-Permissive-2.0"];

/// Crates that stand in the lock file in two versions, each for a dependency that has not moved on. The list may only get
/// shorter.
const TWICE: &[&str] = &[
    "base64",        // reqwest, in tests, is ahead of jsonwebtoken and sqlx
    "block-buffer",  // digest
    "const-oid",     // of features that are not built
    "cpufeatures",   // curve25519-dalek, sha2
    "crypto-common", // digest
    "digest",        // ed25519-dalek and sqlx stay with 0.10
    "getrandom",     // ring
    "hashbrown",     // sqlx
    "http",          // actix-web
    "rand_core",     // of features that are not built
    "sha2",          // ed25519-dalek, sqlx
    "syn",           // derive macros of two generations
    "windows-sys",   // not built on Linux
];

/// Says whether a licence expression of SPDX can be met with licences of the list.
fn is_met(expression: &str) -> bool {
    let expression = expression.trim();
    for (word, needs_all) in [(" OR ", false), (" AND ", true)] {
        let parts = top_level(expression, word);
        if parts.len() > 1 {
            return if needs_all { parts.into_iter().all(is_met) } else { parts.into_iter().any(is_met) };
        }
    }
    match expression.strip_prefix('(').and_then(|rest| rest.strip_suffix(')')) {
        Some(inner) => is_met(inner),
        None => LICENCES.contains(&expression),
    }
}

/// Cuts an expression at a word that stands in no brackets.
fn top_level<'e>(expression: &'e str, word: &str) -> Vec<&'e str> {
    let (mut parts, mut from, mut depth) = (Vec::new(), 0, 0);
    for (at, letter) in expression.char_indices() {
        match letter {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ if depth == 0 && at >= from && expression[at..].starts_with(word) => {
                parts.push(&expression[from..at]);
                from = at + word.len();
            }
            _ => {}
        }
    }
    parts.push(&expression[from..]);
    parts
}

#[test]
fn licences_are_met_by_one_choice_or_by_all_parts() {
    for (expression, met) in [
        ("MIT", true),
        ("GPL-3.0-only", false),
        ("GPL-3.0-only OR MIT", true),
        ("GPL-3.0-only AND MIT", false),
        ("(MIT OR GPL-3.0-only) AND Unicode-3.0", true),
        ("(MIT OR Apache-2.0) AND GPL-3.0-only", false),
        ("MIT AND (GPL-3.0-only OR GPL-2.0-only)", false),
    ] {
        assert_eq!(is_met(expression), met, "{expression}");
    }
}

#[test]
fn what_is_built_in_comes_from_one_registry_under_free_licences_once() {
    let output = Command::new(env!("CARGO")).args(["metadata", "--locked", "--format-version", "1"]).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: Value = serde_json::from_slice(&output.stdout).unwrap();
    let mut versions: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for package in metadata["packages"].as_array().unwrap() {
        let name = package["name"].as_str().unwrap();
        if name.starts_with("evenfield") {
            continue;
        }
        versions.entry(name).or_default().insert(package["version"].as_str().unwrap());
        assert_eq!(package["source"], REGISTRY, "{name} comes from elsewhere");
        let licence = package["license"].as_str().unwrap_or("none").replace('/', " OR ");
        assert!(is_met(&licence), "{name}: its licence is {licence}");
    }
    assert!(versions.len() > 100, "nothing was read");
    let twice: Vec<_> = versions.iter().filter(|(_, found)| found.len() > 1).map(|(name, _)| *name).collect();
    assert_eq!(twice, TWICE, "crates in two versions: a new one needs a reason here, one that went goes here too");
}
