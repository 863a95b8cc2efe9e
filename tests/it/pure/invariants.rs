//! What must never appear: each invariant of DEVELOPERS.md fails here in plain words.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use evenfield::http::kinds::{About, Kind};
use std::fs;
use std::path::{Path, PathBuf};

fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![PathBuf::from(folder)];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap_or_else(|_| panic!("{} is missing", folder.display())) {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|found| found == ending) {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

fn lines_with<'t>(text: &'t str, words: &'t [&str]) -> impl Iterator<Item = (usize, &'t str)> {
    let code = text.lines().enumerate().filter(|(_, line)| !line.trim_start().starts_with("//"));
    code.flat_map(move |(n, line)| {
        words.iter().filter(move |word| line.contains(**word)).map(move |word| (n + 1, *word))
    })
}

fn none_of(folder: &str, words: &[&str], advice: &str) {
    for file in files(folder, "rs") {
        let text = fs::read_to_string(&file).unwrap();
        if let Some((line, word)) = lines_with(&text, words).next() {
            panic!("{}:{line}: found `{word}`; {advice}", file.display());
        }
    }
}

#[test]
fn the_domain_is_pure() {
    let words = [
        "sqlx",
        "actix",
        "tokio",
        "async fn",
        "std::fs",
        "std::env",
        "std::net",
        "SystemTime",
        "Timestamp::now",
        "Instant::now",
        "now_v7",
        "new_v4",
        "getrandom",
        "println!",
        "crate::storage",
        "crate::league",
        "crate::http",
        "crate::api",
        "crate::wire",
        "crate::cli",
    ];
    none_of("src/domain", &words, "pass the value in as an argument");
}

#[test]
fn whatever_serves_writes_its_log_through_the_log() {
    for folder in ["src/storage", "src/league", "src/http", "src/api", "src/pages", "src/accounts", "src/startup"] {
        none_of(folder, &["println!", "eprint!"], "it panics where it cannot write; use `tracing`, or `log::say`");
    }
}

#[test]
fn sql_stays_with_the_store() {
    let words = ["SELECT ", "INSERT INTO", "DELETE FROM", "sql!("];
    for folder in ["src/http", "src/api", "src/cli", "src/wire", "src/demo", "src/accounts", "src/pages"] {
        none_of(folder, &words, "ask `league` or `storage` for it");
    }
}

#[test]
fn arrows_point_one_way() {
    let faces = ["crate::api", "crate::pages", "crate::cli"];
    let outer = ["crate::league", "crate::http", "crate::storage"].into_iter().chain(faces).collect::<Vec<_>>();
    let above_storage = ["crate::league", "crate::http"].into_iter().chain(faces).collect::<Vec<_>>();
    let above_league = ["crate::http"].into_iter().chain(faces).collect::<Vec<_>>();
    none_of("src/storage", &above_storage, "the store knows domain words alone");
    none_of("src/league", &above_league, "an act knows neither HTTP nor the command line");
    none_of("src/http", &faces, "what both faces share knows neither of them");
    none_of("src/api", &["crate::pages"], "the faces are siblings: what both need belongs into `http` or `league`");
    none_of("src/pages", &["crate::api"], "the faces are siblings: what both need belongs into `http` or `league`");
    none_of("src/accounts", &outer, "accounts are pure: hand the value in");
    none_of("src/wire", &outer, "what crosses a border is a shape, nothing more");
}

#[test]
fn every_statement_is_used_and_every_used_one_is_there() {
    let mut source = String::new();
    for file in files("src", "rs") {
        source.push_str(&fs::read_to_string(file).unwrap());
    }
    let of_kinds = ["course", "setup", "season", "event"];
    for file in files("src/storage/sql", "sql") {
        let name = file.file_stem().unwrap().to_str().unwrap();
        let is_used = source.contains(&format!("sql!(\"{name}\")"))
            || of_kinds.iter().any(|kind| {
                name.strip_prefix(kind).is_some_and(|verb| ["_get", "_list", "_insert", "_update"].contains(&verb))
            });
        assert!(is_used, "{} is not used: delete it", file.display());
    }
}

/// The compiler finds a problem without a page; here a page without a problem is found, and one that tells otherwise.
#[test]
fn the_page_of_a_problem_shows_it_as_it_is_answered() {
    for page in files("docs/problems", "md") {
        let slug = page.file_stem().unwrap().to_str().unwrap();
        let mut known = Kind::ALL.iter().map(|kind| kind.about());
        let known = known.find(|about| about.slug == slug);
        let About { status, title, page: text, .. } =
            known.unwrap_or_else(|| panic!("{} has no problem: delete it", page.display()));
        assert_eq!(text.lines().next(), Some(format!("# {title} (`{slug}`)").as_str()), "{}", page.display());
        let status = status.as_u16();
        let shown = format!(r#"{{"type": "/problems/{slug}", "title": "{title}", "status": {status}, "#);
        assert!(text.contains(&shown), "{} shows no answer that begins {shown}", page.display());
    }
}

/// A league index is not an official handicap, and the bodies' own terms are marked as theirs.
#[test]
fn people_read_plain_words() {
    let words = ["Handicap Index", "World Handicap", "Score Differential", "Course Handicap", "Playing Handicap"];
    for folder in ["src/cli", "src/http", "src/api", "src/demo", "docs"] {
        let ending = if folder == "docs" { "md" } else { "rs" };
        for file in files(folder, ending) {
            let text = fs::read_to_string(&file).unwrap();
            for word in words {
                assert!(
                    !text.contains(word),
                    "{}: say league index, round differential, course strokes",
                    file.display()
                );
            }
        }
    }
}

/// A link in a document leads to a file, and to a heading that is there.
#[test]
fn links_of_documents_lead_somewhere() {
    let mut documents = files("docs", "md");
    documents.extend(fs::read_dir(".").unwrap().map(|entry| PathBuf::from(entry.unwrap().file_name())));
    documents.retain(|path| path.extension().is_some_and(|ending| ending == "md"));
    for document in documents {
        let text = fs::read_to_string(&document).unwrap();
        let links = text.split("](").skip(1).map(|rest| rest.split(')').next().unwrap());
        for link in links.filter(|link| !link.contains("://")) {
            let (path, heading) = link.split_once('#').unwrap_or((link, ""));
            let target = if path.is_empty() { document.clone() } else { document.with_file_name(path) };
            assert!(target.exists(), "{}: {link} leads nowhere", document.display());
            let is_there = heading.is_empty() || headings(&fs::read_to_string(&target).unwrap()).any(|h| h == heading);
            assert!(is_there, "{}: {link}: there is no such heading", document.display());
        }
    }
    let readme = fs::read_to_string("README.md").unwrap();
    assert!(readme.lines().count() <= 120, "README.md has more than 120 lines: move what is for one kind of reader");
}

/// The names by which links find the headings of a document.
fn headings(text: &str) -> impl Iterator<Item = String> {
    text.lines().filter_map(|line| line.strip_prefix('#')).map(|heading| {
        let words = heading.trim_start_matches('#').trim().to_lowercase().replace(' ', "-");
        words.chars().filter(|c| c.is_alphanumeric() || *c == '-').collect()
    })
}

/// A change of the schema that one database gets, the other gets too.
#[test]
fn migrations_come_in_pairs() {
    let names = |folder: &str| -> Vec<String> {
        let mut names: Vec<_> = files(folder, "sql").iter().map(|file| file.file_name().unwrap().to_owned()).collect();
        names.sort();
        names.into_iter().map(|name| name.into_string().unwrap()).collect()
    };
    assert_eq!(names("migrations/sqlite"), names("migrations/postgres"));
}

/// A patch that breaks a promise fits the source, and the test that should notice is there.
#[test]
fn mutants_fit_the_source() {
    let patches = files("tests/mutants", "patch");
    assert_eq!(patches.len(), 8, "each promise has one");
    for patch in patches {
        let (text, at) = (fs::read_to_string(&patch).unwrap(), patch.display());
        let test = text.lines().find_map(|line| line.strip_prefix("test: --test ")).expect("it names its test");
        let (target, name) = test.split_once(' ').unwrap();
        let (module, function) = name.rsplit_once("::").unwrap();
        let tests = fs::read_to_string(format!("tests/{target}/{}.rs", module.replace("::", "/"))).unwrap();
        assert!(tests.contains(&format!("fn {function}()")), "{at}: there is no test {name}");
        for file in text.split("\n--- a/").skip(1) {
            let mut hunks = file.split("\n@@ ");
            let source = fs::read_to_string(hunks.next().unwrap().lines().next().unwrap()).unwrap();
            for hunk in hunks {
                let lines = hunk.lines().skip(1).filter(|line| line.starts_with([' ', '-']));
                let before = lines.map(|line| format!("{}\n", &line[1..])).collect::<String>();
                assert!(!before.is_empty() && source.contains(&before), "{at} does not fit any more:\n{before}");
            }
        }
    }
}

/// A file that holds two concepts grows; these few may be long, and the list only shrinks.
#[test]
fn files_stay_short() {
    let may_be_long =
        ["src/domain/putting/read.rs", "src/accounts/password.rs", "src/accounts/throttle.rs", "src/accounts/token.rs"];
    let is_long = |file: &PathBuf| fs::read_to_string(file).unwrap().lines().count() > 520;
    let listed = |file: &PathBuf| may_be_long.iter().any(|known| Path::new(known) == file);
    let long = files("src", "rs").into_iter().filter(|file| is_long(file) && !listed(file)).collect::<Vec<_>>();
    assert!(long.is_empty(), "more than 520 lines, to be split by concept: {long:?}");
}
