//! A card as people type it: strokes as `5`, `p` or `7p`, putts as `31 2.5c`.

use crate::domain::facts::{CardHole, Putt, PuttResult};
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
/// unless the hole was picked up; `0` says that there was none; nothing that nobody wrote them down.
///
/// # Errors
/// What the text should be.
pub fn putts(text: &str, is_picked_up: bool) -> Result<Option<Value>, String> {
    let words: Vec<&str> = text.split([' ', ';', '\t']).filter(|word| !word.is_empty()).collect();
    if words.is_empty() {
        return Ok(None);
    }
    if words == ["0"] {
        return Ok(Some(json!([])));
    }
    let last = words.len() - 1;
    let putts: Result<Vec<Value>, String> =
        words.iter().enumerate().map(|(n, word)| putt(word, n == last && !is_picked_up)).collect();
    Ok(Some(Value::Array(putts?)))
}

fn putt(word: &str, is_last: bool) -> Result<Value, String> {
    let lower = word.to_ascii_lowercase();
    let (number, result) = match lower.strip_suffix('c') {
        Some(number) => (number, "conceded"),
        None => (lower.as_str(), if is_last { "holed" } else { "missed" }),
    };
    let distance: f64 = number.replace(',', ".").parse().map_err(|_| {
        format!("{word:?} is no distance: write feet, with spaces between putts, and c after a conceded one")
    })?;
    Ok(json!({ "distance_ft": distance, "result": result }))
}

/// Writes the strokes of a hole as they would be typed.
pub fn strokes_text(hole: &CardHole) -> String {
    let strokes = hole.strokes.map(|strokes| strokes.get().to_string()).unwrap_or_default();
    if hole.picked_up { strokes + "p" } else { strokes }
}

/// Writes the putts of a hole as they would be typed.
pub fn putts_text(hole: &CardHole) -> String {
    let word = |putt: &Putt| {
        let conceded = if putt.result == PuttResult::Conceded { "c" } else { "" };
        format!("{}{conceded}", putt.distance_ft.get())
    };
    match hole.putts.as_deref() {
        None => String::new(),
        Some([]) => "0".into(),
        Some(putts) => putts.iter().map(word).collect::<Vec<_>>().join(" "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hole(text: &str, putts_given: &str) -> CardHole {
        let mut hole = strokes(text).unwrap();
        hole["number"] = json!(4);
        let is_picked_up = hole["picked_up"] == json!(true);
        if let Some(putts) = putts(putts_given, is_picked_up).unwrap() {
            hole["putts"] = putts;
        }
        serde_json::from_value(hole).unwrap()
    }

    #[test]
    fn a_card_is_written_as_it_was_typed() {
        for (text, given) in [("5", "31 2.5c"), ("4", "0"), ("6", ""), ("7p", "20 4"), ("p", ""), ("", "")] {
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
        assert_eq!(hole("5", "3,5").putts.unwrap()[0].distance_ft.get(), 3.5);
    }

    #[test]
    fn what_cannot_be_read_is_said() {
        assert!(strokes("five").is_err() && strokes("-1").is_err() && strokes("5x").is_err());
        assert!(putts("31 ft", false).unwrap_err().contains("\"ft\""));
        assert!(putts("c", false).is_err());
    }
}
