//! What a sensor said of the putts of a hole, as people type it: `6.1 0.8L 0.7L -4; 2.2`.
//!
//! For each putt in order the ball speed in mph, the start line and the played line in degrees, the rise in inches; a
//! dash for what is not known, `;` between putts.

use super::card_text::UNREAD;
use crate::domain::facts::{CardHole, Putt};
use crate::domain::units::{Degrees, Inches, Mph};
use crate::wire::card_file::card::FilePutt;
use crate::wire::card_file::cells::{self, Said};
use crate::wire::card_file::meaning::Positive;
use serde_json::Value;

/// The numbers of a putt in the order in which they are typed.
const NUMBERS: [(&str, &str); 4] = [
    ("ball_speed_mph", "the ball speed in mph"),
    ("start_line_deg", "the start line in degrees, as in 0.8L or 0.8R"),
    ("played_line_deg", "the played line in degrees, as in 0.8L or 0.8R"),
    ("elevation_in", "the rise in inches"),
];
const NOT_KNOWN: &str = "-";

/// Adds what is typed to the putts of a hole.
///
/// # Errors
/// What the text should be.
pub fn add(text: &str, hole: &mut Value) -> Result<(), String> {
    let said: Vec<&str> = text.split(';').collect();
    if text.trim().is_empty() {
        return Ok(());
    }
    let putts = hole.get_mut("putts").and_then(Value::as_array_mut).map(Vec::as_mut_slice).unwrap_or_default();
    if said.len() > putts.len() {
        return Err(format!("sensor numbers of {} putts, and {} putts with a distance", said.len(), putts.len()));
    }
    for (putt, said) in putts.iter_mut().zip(said) {
        let words: Vec<&str> = said.split_whitespace().collect();
        if words.len() > NUMBERS.len() {
            return Err(format!("{:?} has more than {} numbers: write ; between putts", said.trim(), NUMBERS.len()));
        }
        for ((name, what), word) in NUMBERS.iter().zip(words) {
            if let Some(number) = number(name, word).map_err(|()| format!("{word:?} is not {what}"))? {
                putt[*name] = number.into();
            }
        }
    }
    Ok(())
}

fn number(name: &str, word: &str) -> Result<Option<f64>, ()> {
    if matches!(word, NOT_KNOWN | "–") {
        return Ok(None);
    }
    if !name.ends_with("_line_deg") {
        return cells::number(word).map(Some).ok_or(());
    }
    match cells::direction(word, Positive::AsOurs, None) {
        Said::Good(line) => Ok(Some(line.get())),
        Said::Nothing => Ok(None),
        // A plain number beyond the limit is refused with the limit.
        Said::Bad => cells::number(word).map(Some).ok_or(()),
    }
}

fn line(degrees: f64) -> String {
    match degrees {
        left if left < 0.0 => format!("{}L", -left),
        right if right > 0.0 => format!("{right}R"),
        _ => "0".into(),
    }
}

/// Writes the numbers of putts; nothing where there is none.
fn written(putts: impl Iterator<Item = [Said<String>; 4]>) -> String {
    let of_putt = |numbers: [Said<String>; 4]| {
        let words = numbers.map(|number| match number {
            Said::Nothing => NOT_KNOWN.to_owned(),
            Said::Good(word) => word,
            Said::Bad => UNREAD.to_owned(),
        });
        let used = words.iter().rposition(|word| word != NOT_KNOWN).map_or(0, |last| last + 1);
        words[..used].join(" ")
    };
    let mut all: Vec<String> = putts.map(of_putt).collect();
    all.truncate(all.iter().rposition(|putt| !putt.is_empty()).map_or(0, |last| last + 1));
    all.join("; ")
}

/// Writes what a sensor said of a stored hole as it would be typed.
pub fn of_hole(hole: &CardHole) -> String {
    fn said<T>(value: Option<T>, write: impl FnOnce(T) -> String) -> Said<String> {
        value.map_or(Said::Nothing, |value| Said::Good(write(value)))
    }
    written(hole.putts.iter().flatten().map(|putt: &Putt| {
        [
            said(putt.ball_speed_mph, |speed| speed.get().to_string()),
            said(putt.start_line_deg, |degrees| line(degrees.get())),
            said(putt.played_line_deg, |degrees| line(degrees.get())),
            said(putt.elevation_in, |inches| inches.get().to_string()),
        ]
    }))
}

/// Writes what a file says as it would be typed.
pub fn of_file(putts: &[FilePutt]) -> String {
    fn said<T>(value: Said<T>, write: impl FnOnce(T) -> String) -> Said<String> {
        match value {
            Said::Nothing => Said::Nothing,
            Said::Good(value) => Said::Good(write(value)),
            Said::Bad => Said::Bad,
        }
    }
    written(putts.iter().map(|putt| {
        [
            said(putt.ball_speed_mph, |speed: Mph| speed.get().to_string()),
            said(putt.start_line_deg, |degrees: Degrees| line(degrees.get())),
            said(putt.played_line_deg, |degrees: Degrees| line(degrees.get())),
            said(putt.elevation_in, |inches: Inches| inches.get().to_string()),
        ]
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn hole(sensor: &str) -> Result<CardHole, String> {
        let putts = json!([{ "distance_ft": 31, "result": "missed" }, { "distance_ft": 2, "result": "holed" }]);
        let mut hole = json!({ "number": 4, "strokes": 5, "putts": putts });
        add(sensor, &mut hole)?;
        serde_json::from_value(hole).map_err(|error| error.to_string())
    }

    #[test]
    fn numbers_are_written_as_they_were_typed() {
        for text in ["", "6.1 0.8L 0.7R -4; 2.2", "- - - 3", "; 2.2 0", "6.1; 2.2"] {
            assert_eq!(of_hole(&hole(text).unwrap()), text);
        }
        assert_eq!(of_hole(&hole(" 6,1  -0,8 ;").unwrap()), "6.1 0.8L");
    }

    #[test]
    fn lines_have_a_sign_or_a_side() {
        let first = |text: &str| hole(text).unwrap().putts.unwrap()[0];
        assert_eq!(first("- 0.8L 0.5r").start_line_deg.unwrap().get(), -0.8);
        assert_eq!(first("- 0.8L 0.5r").played_line_deg.unwrap().get(), 0.5);
        assert_eq!(first("- -0,8 – −4").elevation_in.unwrap().get(), -4.0);
    }

    #[test]
    fn what_cannot_be_read_is_said() {
        assert!(hole("6.1 ? 0.7").unwrap_err().contains("the start line"));
        assert!(hole("fast").unwrap_err().contains("the ball speed"));
        assert!(hole("1; 2; 3").unwrap_err().contains("2 putts with a distance"));
        assert!(hole("1 2 3 4 5").unwrap_err().contains("; between putts"));
        assert!(add("6.1", &mut json!({ "number": 4, "putt_count": 2 })).is_err());
    }
}
