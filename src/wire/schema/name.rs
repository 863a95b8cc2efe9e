//! What a name must not hold: characters that nobody sees, or that change how the text around them is read. With them two
//! names look alike that are not, and a name can turn the text after it.

use std::sync::LazyLock;

/// Characters that are refused: controls, line and paragraph separators, what turns the direction of writing, what is
/// shown as nothing (Unicode's `Default_Ignorable_Code_Point` and blank letters), and code points that are no characters.
const UNSEEN: [(char, char); 22] = [
    ('\0', '\u{1f}'),
    ('\u{7f}', '\u{9f}'),
    ('\u{ad}', '\u{ad}'),
    ('\u{34f}', '\u{34f}'),
    ('\u{61c}', '\u{61c}'),
    ('\u{115f}', '\u{1160}'),
    ('\u{17b4}', '\u{17b5}'),
    ('\u{180b}', '\u{180f}'),
    ('\u{200b}', '\u{200f}'),
    ('\u{2028}', '\u{202e}'),
    ('\u{2060}', '\u{206f}'),
    ('\u{2800}', '\u{2800}'),
    ('\u{3164}', '\u{3164}'),
    ('\u{fdd0}', '\u{fdef}'),
    ('\u{fe00}', '\u{fe0f}'),
    ('\u{feff}', '\u{feff}'),
    ('\u{ffa0}', '\u{ffa0}'),
    ('\u{fff0}', '\u{fffb}'),
    ('\u{fffe}', '\u{ffff}'),
    ('\u{1bca0}', '\u{1bca3}'),
    ('\u{1d173}', '\u{1d17a}'),
    ('\u{e0000}', '\u{e0fff}'),
];

/// The joiners that some scripts are spelt with, and the sign that makes a symbol an emoji.
const JOINERS: [char; 3] = ['\u{200c}', '\u{200d}', '\u{fe0f}'];

/// Up to this many joiners may follow a character of [`JOINED`].
const MOST_JOINERS: u32 = 2;

/// The scripts that need joiners (from Arabic on), and symbols; Latin, Greek and Cyrillic letters are not among them.
const JOINED: [(char, char); 2] = [('\u{600}', '\u{1dff}'), ('\u{2190}', '\u{1faff}')];

fn is_in(ranges: &[(char, char)], character: char) -> bool {
    ranges.iter().any(|(first, last)| (*first..=*last).contains(&character))
}

/// Returns the first character that no name may hold.
pub(super) fn unseen(text: &str) -> Option<char> {
    let mut joiners = 0;
    text.chars().find(|character| {
        if joiners > 0 && JOINERS.contains(character) {
            joiners -= 1;
            return false;
        }
        joiners = if is_in(&JOINED, *character) { MOST_JOINERS } else { 0 };
        is_in(&UNSEEN, *character)
    })
}

/// The same as a regular expression of ECMA-262, for the description of the interface.
pub(super) static PATTERN: LazyLock<String> = LazyLock::new(|| {
    let joiners = class(&JOINERS.map(|joiner| (joiner, joiner)));
    format!("^(?:[{}][{joiners}]{{1,{MOST_JOINERS}}}|[^{}])*$", class(&seen(&JOINED)), class(&UNSEEN))
});

/// Returns what is left of ranges without the characters that are refused.
fn seen(ranges: &[(char, char)]) -> Vec<(char, char)> {
    let mut left = Vec::new();
    for (first, last) in ranges {
        let mut next = Some(*first);
        for (from, to) in UNSEEN.iter().filter(|(from, to)| to >= first && from <= last) {
            if let Some(start) = next.filter(|start| start < from) {
                left.extend((start..*from).next_back().map(|end| (start, end)));
            }
            next = (*to..=*last).nth(1);
        }
        left.extend(next.map(|start| (start, *last)));
    }
    left
}

/// Writes the inside of a character class.
fn class(ranges: &[(char, char)]) -> String {
    let one = |character: char| match u16::try_from(u32::from(character)) {
        Ok(unit) => format!("\\u{unit:04x}"),
        // Escapes of these differ between the dialects of regular expressions.
        Err(_) => character.to_string(),
    };
    let range = |(first, last): &(char, char)| {
        if first == last { one(*first) } else { format!("{}-{}", one(*first), one(*last)) }
    };
    ranges.iter().map(range).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_any_script_and_emoji_are_names() {
        let names = [
            "Ann-Marie O'Brien",
            "Zoë Müller (2)",
            "Владимир",
            "عبد الله",
            "علی\u{200c}رضا",
            "ප්\u{200d}රසන්න",
            "क्\u{200d}ष",
            "山田　太郎",
            "\u{1f3cc}\u{fe0f}\u{200d}\u{2642}\u{fe0f} Monday",
            "⛳\u{fe0f} & ❤\u{fe0f}",
            "e\u{301}",
        ];
        for name in names {
            assert_eq!(unseen(name), None, "{name:?}");
        }
    }

    #[test]
    fn what_nobody_sees_and_what_turns_the_writing_is_refused() {
        let refused = [
            '\0',
            '\t',
            '\n',
            '\r',
            '\u{1b}',
            '\u{7f}',
            '\u{85}',
            '\u{ad}',
            '\u{61c}',
            '\u{200b}',
            '\u{200c}',
            '\u{200d}',
            '\u{200e}',
            '\u{200f}',
            '\u{2028}',
            '\u{2029}',
            '\u{202a}',
            '\u{202e}',
            '\u{2060}',
            '\u{2066}',
            '\u{2069}',
            '\u{2800}',
            '\u{3164}',
            '\u{fe0f}',
            '\u{feff}',
            '\u{ffa0}',
            '\u{fff9}',
            '\u{ffff}',
            '\u{e0041}',
        ];
        for character in refused {
            for name in [format!("Ann{character}"), format!("An{character}n"), character.to_string()] {
                assert_eq!(unseen(&name), Some(character), "{name:?}");
            }
        }
        assert_eq!(unseen("ع\u{200d}\u{200d}\u{200d}"), Some('\u{200d}'), "no more joiners than a script needs");
        assert_eq!(unseen("ع\u{202e}"), Some('\u{202e}'));
    }

    #[test]
    fn the_ranges_ascend_and_the_description_leaves_the_same_out() {
        assert!(UNSEEN.windows(2).all(|pair| pair[0].1 < pair[1].0));
        for character in ('\0'..='\u{10ffff}').filter(|character| is_in(&JOINED, *character)) {
            assert_eq!(is_in(&seen(&JOINED), character), !is_in(&UNSEEN, character), "{character:?}");
        }
        assert!(PATTERN.starts_with("^(?:[\\u0600-\\u061b\\u061d-"), "{}", *PATTERN);
        assert!(PATTERN.ends_with("])*$") && PATTERN.contains("[^\\u0000-\\u001f\\u007f-"), "{}", *PATTERN);
    }
}
