//! What must never appear: each invariant of DEVELOPERS.md fails here in plain words.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use evenfield::http::kinds::{About, Kind};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

pub(super) fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
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
    ];
    none_of("src/domain", &words, "pass the value in as an argument");
    let package = fs::read_to_string("src/domain/Cargo.toml").unwrap();
    let (_, needs) = package.split_once("[dependencies]").unwrap();
    let needs = needs.split("\n\n").next().unwrap().lines().filter_map(|line| line.split_once(" = "));
    let needs: Vec<_> = needs.map(|(name, _)| name).collect();
    let pure = ["jiff", "num-rational", "num-traits", "serde", "serde_json", "thiserror", "uuid"];
    assert_eq!(needs, pure, "what the domain computes with has no database, web or async in it");
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

/// How many statements acts still run by themselves. They belong to the store, noun by noun; the number only falls.
const STATEMENTS_OF_ACTS: usize = 26;

#[test]
fn acts_leave_statements_to_the_store() {
    let count = |file: &PathBuf| fs::read_to_string(file).unwrap().matches("sql!(").count();
    let now: usize = files("src/league", "rs").iter().map(count).sum();
    assert!(now <= STATEMENTS_OF_ACTS, "src/league runs {now} statements by itself: put the new one into src/storage");
    assert_eq!(now, STATEMENTS_OF_ACTS, "src/league got better: write {now} into STATEMENTS_OF_ACTS");
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
    let of_kinds = ["course", "setup", "season", "competition", "event"];
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

/// Who reads a file can read what it needs first, and need not come back. These rooms are not free yet: so many of their
/// files stand in circles. A number only falls.
const NOT_FREE_YET: [(&str, usize); 3] = [("cli", 10), ("domain/audit", 13), ("storage", 11)];

/// The modules of the program: each with its file and its code, tests and comments apart.
struct House {
    code: BTreeMap<String, String>,
    /// What a module hands on under another path, by that path.
    handed_on: BTreeMap<String, String>,
}

impl House {
    fn read() -> Self {
        let mut code = BTreeMap::new();
        for file in files("src", "rs") {
            let path = file.strip_prefix("src").unwrap().with_extension("");
            let mut parts: Vec<_> = path.iter().map(|part| part.to_str().unwrap()).collect();
            if matches!(parts.last(), Some(&("mod" | "lib" | "main"))) {
                parts.pop();
            }
            let text = fs::read_to_string(&file).unwrap().replace("\npub(super) ", "\npub ");
            let text = text.replace("\npub mod tests", "\nmod tests");
            let text = text.split("#[cfg(test)]\nmod tests").next().unwrap();
            let lines = text.lines().filter(|line| !line.trim_start().starts_with("//"));
            code.insert(parts.join("::"), lines.map(|line| format!("{line}\n")).collect());
        }
        let mut house = Self { code, handed_on: BTreeMap::new() };
        let mut handed_on = BTreeMap::new();
        for (module, text) in &house.code {
            for used in text.split("\npub use ").skip(1).map(|rest| rest.split(';').next().unwrap()) {
                for path in house.paths(module, used) {
                    let name = path.rsplit("::").next().unwrap();
                    handed_on.insert(format!("{module}::{name}"), path.clone());
                }
            }
        }
        house.handed_on = handed_on;
        house
    }

    /// Finds the paths into the program that some code of a module names, from its root on.
    fn paths(&self, module: &str, code: &str) -> Vec<String> {
        let mut found = Vec::new();
        let children = self.code.keys().filter_map(|other| {
            let (parent, name) = other.rsplit_once("::").unwrap_or(("", other));
            (parent == module && !name.is_empty() && !module.is_empty()).then_some(name)
        });
        for start in ["crate", "super", "self"].into_iter().chain(children) {
            for (at, _) in code.match_indices(&format!("{start}::")) {
                let before = code[..at].chars().next_back().unwrap_or(' ');
                if before.is_alphanumeric() || matches!(before, '_' | ':' | '$' | '.') || code[..at].ends_with("(in ") {
                    continue;
                }
                spread(&code[at..], "", &mut found);
            }
        }
        found.into_iter().map(|path| from_root(module, &path)).collect()
    }

    /// Returns the module that a path leads into, through whatever hands it on.
    fn module_of(&self, path: &str) -> Option<&str> {
        let mut path = path.to_owned();
        for _ in 0..5 {
            let mut parts: Vec<&str> = path.split("::").collect();
            while !parts.is_empty() && !self.code.contains_key(&parts.join("::")) {
                parts.pop();
            }
            let module = parts.join("::");
            let named = path.strip_prefix(&module)?.trim_start_matches("::");
            let (name, rest) = named.split_once("::").unwrap_or((named, ""));
            match self.handed_on.get(&format!("{module}::{name}")) {
                Some(real) => path = format!("{real}::{rest}").trim_end_matches("::").to_owned(),
                None => return self.code.get_key_value(&module).map(|(module, _)| module.as_str()),
            }
        }
        None
    }

    /// Returns the modules that a module needs; what it only hands on it does not need.
    fn needs(&self, module: &str) -> BTreeSet<&str> {
        let mut code = String::new();
        for (n, part) in self.code[module].split("\npub use ").enumerate() {
            code.push_str(if n == 0 { part } else { part.split_once(';').unwrap().1 });
        }
        let paths = self.paths(module, &code);
        let mut needs: BTreeSet<&str> = paths.iter().filter_map(|path| self.module_of(path)).collect();
        needs.remove(module);
        needs
    }
}

/// Takes apart a path and the list in braces at its end.
fn spread(code: &str, before: &str, found: &mut Vec<String>) {
    let is_of_name = |c: char| c.is_alphanumeric() || c == '_';
    let end = code.find(|c| !is_of_name(c)).unwrap_or(code.len());
    let (name, rest) = code.split_at(end);
    let path =
        if before.is_empty() || name.is_empty() { format!("{before}{name}") } else { format!("{before}::{name}") };
    let Some(rest) = rest.strip_prefix("::") else { return found.push(path) };
    let Some(list) = rest.strip_prefix('{') else {
        return if rest.starts_with(is_of_name) { spread(rest, &path, found) } else { found.push(path) };
    };
    let (mut depth, mut start) = (0, 0);
    for (at, c) in list.char_indices() {
        if depth == 0 && matches!(c, ',' | '}') {
            let item = list[start..at].trim();
            if !item.is_empty() {
                spread(item, &path, found);
            }
            start = at + 1;
        }
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => return,
            '}' => depth -= 1,
            _ => {}
        }
    }
}

/// Writes a path from the root of the program on.
fn from_root(module: &str, path: &str) -> String {
    let mut place: Vec<&str> = module.split("::").filter(|part| !part.is_empty()).collect();
    let mut parts = path.split("::").peekable();
    match parts.peek() {
        // The domain is a package, whose root is `src/domain`.
        Some(&"crate") => place.truncate(usize::from(place.first() == Some(&"domain"))),
        Some(&"self") => {}
        Some(&"super") => {
            while parts.next_if(|part| *part == "super").is_some() {
                place.pop();
            }
            return place.into_iter().chain(parts).collect::<Vec<_>>().join("::");
        }
        _ => return place.into_iter().chain(parts).collect::<Vec<_>>().join("::"),
    }
    place.into_iter().chain(parts.skip(1)).filter(|part| *part != "self").collect::<Vec<_>>().join("::")
}

/// Returns the shortest way from a module back to itself.
fn circle_of<'h>(from: &'h str, needs: &BTreeMap<&'h str, BTreeSet<&'h str>>) -> Option<Vec<&'h str>> {
    let mut ways = vec![vec![from]];
    let mut seen = BTreeSet::new();
    while !ways.is_empty() {
        let mut longer = Vec::new();
        for way in ways {
            for next in &needs[way[way.len() - 1]] {
                let way = way.iter().copied().chain([*next]).collect::<Vec<_>>();
                if *next == from {
                    return Some(way);
                }
                if seen.insert(*next) {
                    longer.push(way);
                }
            }
        }
        ways = longer;
    }
    None
}

#[test]
fn no_files_of_a_room_need_each_other_in_a_circle() {
    let house = House::read();
    let room_of = |module: &str| {
        let depth = if module.starts_with("domain::") { 2 } else { 1 };
        module.split("::").take(depth).collect::<Vec<_>>().join("/")
    };
    let modules = house.code.keys().filter(|module| !module.is_empty()).map(String::as_str);
    let needs: BTreeMap<&str, BTreeSet<&str>> = modules
        .map(|module| {
            let mut needs = house.needs(module);
            needs.retain(|other| room_of(other) == room_of(module));
            (module, needs)
        })
        .collect();
    let mut circles: BTreeMap<String, Vec<Vec<&str>>> = BTreeMap::new();
    for circle in needs.keys().filter_map(|module| circle_of(module, &needs)) {
        circles.entry(room_of(circle[0])).or_default().push(circle);
    }
    for (room, circles) in &circles {
        let known = NOT_FREE_YET.iter().find(|(known, _)| known == room).map_or(0, |(_, known)| *known);
        assert!(
            circles.len() <= known,
            "src/{room}: {} files stand in circles, {known} are known; one circle is {}. Move what they share into a file \
             of its own",
            circles.len(),
            circles[0].join(" -> ")
        );
    }
    for (room, known) in NOT_FREE_YET {
        let now = circles.get(room).map_or(0, Vec::len);
        assert_eq!(now, known, "src/{room} got better: write {now} into NOT_FREE_YET");
    }
}

/// The test above sees what it should.
#[test]
fn paths_are_read_as_the_compiler_reads_them() {
    let mut code = BTreeMap::new();
    for (module, text) in [
        ("", ""),
        ("hall", "\npub use door::Door;\nmod door;\nmod lamp;\nfn lit() { lamp::light() }"),
        ("hall::door", "use super::lamp::{self, Light};\nuse crate::{hall::Door, cellar::{self, Box}};"),
        ("hall::lamp", "pub(in crate::hall) fn light() { let _ = super::Door; some::crate::thing(); }"),
        ("cellar", "// nothing"),
    ] {
        code.insert(module.to_owned(), text.to_owned());
    }
    let handed_on = BTreeMap::from([("hall::Door".to_owned(), "hall::door::Door".to_owned())]);
    let house = House { code, handed_on };
    let needs = |module: &str| house.needs(module).into_iter().collect::<Vec<_>>();
    assert_eq!(needs("hall"), ["hall::lamp"]);
    assert_eq!(needs("hall::door"), ["cellar", "hall::lamp"]);
    assert_eq!(needs("hall::lamp"), ["hall::door"]);
    let needs = house.code.keys().map(|module| (module.as_str(), house.needs(module))).collect();
    assert_eq!(circle_of("hall::door", &needs), Some(vec!["hall::door", "hall::lamp", "hall::door"]));
    assert_eq!(circle_of("hall", &needs), None);
}

/// The names of classes that a text gives to elements of pages.
fn classes(text: &str) -> impl Iterator<Item = &str> {
    let marks =
        ["class=\"", "class=\\\"", "className: \"", "className = \"", "classList.add(\"", "classList.toggle(\""];
    let given = marks.into_iter().flat_map(|mark| text.split(mark).skip(1));
    // What a template works out between the quotes is no name.
    given.flat_map(|rest| rest.split(['"', '\\', '{']).next().unwrap_or_default().split_whitespace())
}

#[test]
fn the_sheet_knows_every_class_and_no_element_has_a_style() {
    let sheet = fs::read_to_string("src/pages/assets/style.css").unwrap();
    let is_known = |class: &str| {
        sheet
            .split(&format!(".{class}"))
            .skip(1)
            .any(|rest| !rest.starts_with(|c: char| c.is_alphanumeric() || c == '-'))
    };
    let (markup, scripts) = (files("src/pages/templates", "html"), files("src/pages/assets", "js"));
    assert!(markup.len() > 30 && scripts.len() > 4);
    for file in markup.into_iter().chain(scripts).chain(files("src/pages", "rs")) {
        let text = fs::read_to_string(&file).unwrap();
        let text = text.split("#[cfg(test)]").next().unwrap();
        assert!(!text.contains("style="), "{}: an element has a style of its own", file.display());
        let unknown: Vec<&str> = classes(text).filter(|class| !is_known(class)).collect();
        assert!(unknown.is_empty(), "{}: the sheet lacks {unknown:?}", file.display());
    }
}
