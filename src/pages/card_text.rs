//! A card as people type it: strokes as `5`, `p` or `7p`, putts as `31 2.5c`.

use crate::domain::facts::{CardHole, Putt, PuttResult};
use crate::domain::units::Strokes;
use crate::wire::card_file::card::{FileHole, FilePutt};
use crate::wire::card_file::cells::{HoleStrokes, Said};
use serde_json::{Value, json};

/// Reads the strokes of a hole: a number; `p` or a number with `p` for picked up; nothing for not played.
///
/// # Errors
/// What the text should be.
pub fn strokes(text: &str) -> Result<Value, String> {
    let text = text.trim().to_ascii_lowercase();
    if text.is_empty() {
        return Ok(json!({ "not_played": true }));
    }
    let (digits, is_picked_up) = match text.strip_suffix('p') {
        Some(digits) => (digits.trim(), true),
        None => (text.as_str(), false),
    };
    match (digits.parse::<u32>(), is_picked_up) {
        (Ok(strokes), false) => Ok(json!({ "strokes": strokes })),
        (Ok(strokes), true) => Ok(json!({ "strokes": strokes, "picked_up": true })),
        (Err(_), true) if digits.is_empty() => Ok(json!({ "picked_up": true })),
        _ => Err("strokes are a number, p for picked up, or nothing for a hole that was not played".into()),
    }
}

/// Reads the putts of a hole in order: distances in feet; `c` after one that was conceded. The last one was holed,
/// unless the hole was picked up or `m` stands after it; `0` says that there was none, `2 putts` how many there were;
/// nothing that nobody wrote them down. Answers what to add to the hole.
///
/// # Errors
/// What the text should be.
pub fn putts(text: &str, is_picked_up: bool) -> Result<Value, String> {
    let words: Vec<&str> = text.split([' ', ';', '\t']).filter(|word| !word.is_empty()).collect();
    match words.as_slice() {
        [] => return Ok(json!({})),
        ["0"] => return Ok(json!({ "putts": [] })),
        [count, word] if word.eq_ignore_ascii_case("putts") || word.eq_ignore_ascii_case("putt") => {
            let count: u32 = count.parse().map_err(|_| format!("{count:?} is no number of putts"))?;
            return Ok(json!({ "putt_count": count }));
        }
        _ => {}
    }
    let last = words.len() - 1;
    let putts: Result<Vec<Value>, String> =
        words.iter().enumerate().map(|(n, word)| putt(word, n == last && !is_picked_up)).collect();
    Ok(json!({ "putts": putts? }))
}

fn putt(word: &str, is_last: bool) -> Result<Value, String> {
    let lower = word.to_ascii_lowercase();
    let (number, result) = match (lower.strip_suffix('c'), lower.strip_suffix('m')) {
        (Some(number), _) => (number, "conceded"),
        (None, Some(number)) => (number, "missed"),
        (None, None) => (lower.as_str(), if is_last { "holed" } else { "missed" }),
    };
    let distance: f64 = number.replace(',', ".").parse().map_err(|_| {
        format!("{word:?} is no distance: write feet, with spaces between putts, and c after a conceded one")
    })?;
    Ok(json!({ "distance_ft": distance, "result": result }))
}

/// Writes strokes as they would be typed.
pub fn strokes_of(strokes: Option<Strokes>, is_picked_up: bool) -> String {
    let number = strokes.map(|strokes| strokes.get().to_string()).unwrap_or_default();
    if is_picked_up { number + "p" } else { number }
}

/// Writes the strokes of a hole as they would be typed.
pub fn strokes_text(hole: &CardHole) -> String {
    strokes_of(hole.strokes, hole.picked_up)
}

/// Writes the putts of a hole as they would be typed.
pub fn putts_text(hole: &CardHole) -> String {
    let word = |putt: &Putt| {
        let conceded = if putt.result == PuttResult::Conceded { "c" } else { "" };
        format!("{}{conceded}", putt.distance_ft.get())
    };
    match hole.putts.as_deref() {
        None => hole.putt_count.map(count_text).unwrap_or_default(),
        Some([]) => "0".into(),
        Some(putts) => putts.iter().map(word).collect::<Vec<_>>().join(" "),
    }
}

fn count_text(count: u8) -> String {
    match count {
        0 => "0".into(),
        1 => "1 putt".into(),
        count => format!("{count} putts"),
    }
}

/// What stands where a file said something that cannot be taken: it is no number, so that nothing is handed in before
/// somebody put it right.
pub const UNREAD: &str = "?";

/// Writes the strokes that a file says of a hole as they would be typed; nothing where it says none.
pub fn file_strokes(hole: &FileHole) -> String {
    match hole.strokes {
        Said::Nothing => String::new(),
        Said::Bad => UNREAD.into(),
        Said::Good(HoleStrokes { strokes, picked_up }) => strokes_of(strokes, picked_up),
    }
}

/// Writes the putts that a file says of a hole as they would be typed; nothing where it says none.
pub fn file_putts(hole: &FileHole) -> String {
    let last = hole.putts.len().wrapping_sub(1);
    let is_picked_up = hole.strokes.good().is_some_and(|strokes| strokes.picked_up);
    let word = |(n, putt): (usize, &FilePutt)| {
        let Some(distance) = putt.distance_ft.good() else { return UNREAD.to_owned() };
        let mark = match putt.result {
            Said::Good(PuttResult::Conceded) => "c",
            Said::Good(PuttResult::Missed) if n == last && !is_picked_up => "m",
            Said::Bad => UNREAD,
            Said::Good(_) | Said::Nothing => "",
        };
        format!("{}{mark}", distance.get())
    };
    match (hole.putts.is_empty(), hole.putt_count) {
        (true, Said::Good(count)) => count_text(count),
        (true, Said::Bad) => UNREAD.into(),
        _ => hole.putts.iter().enumerate().map(word).collect::<Vec<_>>().join(" "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hole(text: &str, putts_given: &str) -> CardHole {
        let mut hole = strokes(text).unwrap();
        hole["number"] = json!(4);
        let is_picked_up = hole["picked_up"] == json!(true);
        let given = putts(putts_given, is_picked_up).unwrap();
        hole.as_object_mut().unwrap().extend(given.as_object().unwrap().clone());
        serde_json::from_value(hole).unwrap()
    }

    #[test]
    fn a_card_is_written_as_it_was_typed() {
        for (text, given) in [
            ("5", "31 2.5c"),
            ("4", "0"),
            ("6", ""),
            ("7p", "20 4"),
            ("p", ""),
            ("", ""),
            ("5", "2 putts"),
            ("3", "1 putt"),
        ] {
            let hole = hole(text, given);
            assert_eq!((strokes_text(&hole).as_str(), putts_text(&hole).as_str()), (text, given));
        }
    }

    #[test]
    fn the_last_putt_was_holed_unless_the_hole_was_picked_up() {
        let results = |hole: CardHole| hole.putts.unwrap().iter().map(|putt| putt.result).collect::<Vec<_>>();
        use PuttResult::{Conceded, Holed, Missed};
        assert_eq!(results(hole("5", "31;3,5  1")), [Missed, Missed, Holed]);
        assert_eq!(results(hole("5", "31 2C")), [Missed, Conceded]);
        assert_eq!(results(hole("7p", "31 9")), [Missed, Missed]);
        assert_eq!(results(hole("5", "31m")), [Missed]);
        assert_eq!(hole("5", "3,5").putts.unwrap()[0].distance_ft.get(), 3.5);
    }

    #[test]
    fn what_cannot_be_read_is_said() {
        assert!(strokes("five").is_err() && strokes("-1").is_err() && strokes("5x").is_err());
        assert!(putts("31 ft", false).unwrap_err().contains("\"ft\""));
        assert!(putts("c", false).is_err() && putts("31 ? 2", false).is_err() && putts("31?", false).is_err());
        assert!(strokes(UNREAD).is_err() && putts("two putts", false).is_err());
    }
}
