//! Letters for names, until a first opinion is noted.

/// Writes the name for the n-th of those concerned.
pub fn letter(n: usize) -> String {
    match u8::try_from(n) {
        Ok(n) if n < 26 => format!("Player {}", char::from(b'A' + n)),
        _ => format!("Player {}", n + 1),
    }
}

/// Puts a letter wherever a text has a name, or a part of one. `named` holds the names with what stands for each.
pub fn masked(text: &str, named: &[(String, String)]) -> String {
    let is_part = |word: &str, name: &str| {
        let parts = name.split(|c: char| !c.is_alphanumeric()).filter(|part| part.chars().count() > 1);
        let word = word.to_lowercase();
        parts.into_iter().any(|part| part.to_lowercase() == word)
    };
    let stands_for = |word: &str| named.iter().find(|(name, _)| is_part(word, name)).map(|(_, letter)| letter);
    let (mut out, mut rest) = (String::new(), text);
    let mut last: Option<&String> = None;
    while !rest.is_empty() {
        let word = rest.find(|c: char| !c.is_alphanumeric()).map_or(rest, |end| &rest[..end]);
        let after = &rest[word.len()..];
        let gap = after.find(char::is_alphanumeric).map_or(after, |end| &after[..end]);
        match stands_for(word) {
            // The rest of a name that began before this word.
            Some(letter) if last == Some(letter) => {}
            Some(letter) => out.push_str(letter),
            None => out.push_str(word),
        }
        rest = &after[gap.len()..];
        let next = rest.find(|c: char| !c.is_alphanumeric()).map_or(rest, |end| &rest[..end]);
        last = stands_for(word).filter(|_| gap.chars().all(|c| c.is_whitespace() || c == '-'));
        if last.is_none() || stands_for(next) != last {
            out.push_str(gap);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(names: &[&str]) -> Vec<(String, String)> {
        names.iter().enumerate().map(|(n, name)| ((*name).to_owned(), letter(n))).collect()
    }

    #[test]
    fn no_part_of_a_name_stays() {
        let named = named(&["Ann-Marie Reed", "Bo"]);
        let cases = [
            ("I, Ann-Marie Reed, putted.", "I, Player A, putted."),
            ("ann's bay, not BO’s", "Player A's bay, not Player B’s"),
            ("Ann, Reed and Bo", "Player A, Player A and Player B"),
            ("Bobbing reeds", "Bobbing reeds"),
            ("  \nlines stay ", "  \nlines stay "),
            ("Marie", "Player A"),
            ("", ""),
        ];
        for (text, due) in cases {
            assert_eq!(masked(text, &named), due);
        }
        assert_eq!(masked("Ann", &[]), "Ann");
    }

    #[test]
    fn letters_do_not_run_out() {
        assert_eq!([letter(0), letter(25), letter(26)], ["Player A", "Player Z", "Player 27"]);
    }
}
