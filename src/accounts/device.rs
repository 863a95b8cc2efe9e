//! What a session was begun on, in a few words that its holder recognizes.
//!
//! A client says what it is as it likes, so the words help to tell one's own devices apart and prove nothing.

/// How much of what a client says is read.
const MOST_READ: usize = 512;

/// How many characters of an unknown program's name are kept.
const MOST_OF_NAME: usize = 24;

/// Browsers by what they write. Most name those that they descend from too, so the first that fits is meant.
const BROWSERS: [(&str, &str); 9] = [
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser/", "Samsung Internet"),
    ("FxiOS/", "Firefox"),
    ("Firefox/", "Firefox"),
    ("CriOS/", "Chrome"),
    ("HeadlessChrome/", "Chrome"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
];

/// Systems by what browsers on them write.
const SYSTEMS: [(&str, &str); 7] = [
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("CrOS", "ChromeOS"),
    ("Macintosh", "Mac"),
    ("Linux", "Linux"),
];

/// Returns words for a client by its `User-Agent`: a browser and its system, or the name of another program.
pub fn words(agent: Option<&str>) -> String {
    let agent: String = agent.unwrap_or_default().chars().take(MOST_READ).collect();
    let find =
        |known: &[(&str, &'static str)]| known.iter().find(|(mark, _)| agent.contains(mark)).map(|(_, word)| *word);
    match (find(&BROWSERS), find(&SYSTEMS)) {
        (Some(browser), Some(system)) => format!("{browser} on {system}"),
        (Some(browser), None) => browser.to_owned(),
        (None, _) => match program(&agent) {
            name if name.is_empty() => "unknown program".to_owned(),
            name => name,
        },
    }
}

/// Returns the name of the first product (RFC 9110, section 10.1.5), without its version.
fn program(agent: &str) -> String {
    let is_kept = |c: &char| c.is_ascii_alphanumeric() || "-_.".contains(*c);
    agent.chars().take_while(is_kept).take(MOST_OF_NAME).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn browsers_and_systems_are_named() {
        let says = [
            ("Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:140.0) Gecko/20100101 Firefox/140.0", "Firefox on Windows"),
            (
                "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Mobile \
                 Safari/537.36",
                "Chrome on Android",
            ),
            (
                "Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) \
                 Version/18.5 Mobile/15E148 Safari/604.1",
                "Safari on iPhone",
            ),
            (
                "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 \
                 Safari/537.36 Edg/140.0.0.0",
                "Edge on Windows",
            ),
        ];
        for (agent, due) in says {
            assert_eq!(words(Some(agent)), due, "{agent}");
        }
    }

    #[test]
    fn other_programs_keep_their_name() {
        assert_eq!(words(Some("curl/8.14.1")), "curl");
        assert_eq!(words(Some("bay-machine 3")), "bay-machine");
    }

    #[test]
    fn the_words_are_short_whatever_a_client_says() {
        for agent in [None, Some(""), Some("<script>"), Some("\u{202e}x"), Some("  ")] {
            assert_eq!(words(agent), "unknown program", "{agent:?}");
        }
        for long in ["x".repeat(100_000), "Firefox/Windows".repeat(10_000), format!("{}Firefox/", "é".repeat(600))] {
            assert!(words(Some(&long)).chars().count() <= 60);
        }
        assert_eq!(words(Some(&"x".repeat(100))).len(), MOST_OF_NAME);
    }
}
