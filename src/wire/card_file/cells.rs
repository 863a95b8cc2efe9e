//! A cell as a number, a direction, a result: what people and programs write in them.

use crate::domain::facts::PuttResult;
use crate::domain::units::{Degrees, Feet, HoleNumber, Inches, Mph, Strokes};
use crate::wire::card_file::meaning::{Length, Positive, Speed};

/// What a cell says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Said<T> {
    /// Nothing.
    Nothing,
    /// This.
    Good(T),
    /// Something that cannot be taken.
    Bad,
}

impl<T> Said<T> {
    /// Returns what was said well.
    pub fn good(self) -> Option<T> {
        match self {
            Said::Good(value) => Some(value),
            Said::Nothing | Said::Bad => None,
        }
    }

    /// Returns whether anything was said, well or not.
    pub fn is_said(&self) -> bool {
        !matches!(self, Said::Nothing)
    }
}

/// What stands where there is nothing to say.
const NOTHING: &[&str] = &["", "-", "–", "—", "n/a", "na", "nan", "null", "none"];

/// Reads a number with a decimal point or comma; where both stand in it, the first one sets thousands apart.
pub fn number(cell: &str) -> Option<f64> {
    let text = cell.trim().replace('\u{2212}', "-");
    let (point, between) = match (text.rfind('.'), text.rfind(',')) {
        (Some(dot), Some(comma)) if comma > dot => (',', Some('.')),
        (Some(_), Some(_)) => ('.', Some(',')),
        (None, Some(_)) => (',', None),
        _ => ('.', None),
    };
    let digits = text.chars().filter(|c| Some(*c) != between);
    let plain: String = digits.map(|c| if c == point { '.' } else { c }).collect();
    let is_plain = plain.bytes().all(|byte| byte.is_ascii_digit() || b"+-.".contains(&byte));
    plain.parse().ok().filter(|number: &f64| is_plain && number.is_finite())
}

/// Reads a number that may have its unit behind it.
fn with_mark(cell: &str, marks: &[&str]) -> Option<f64> {
    let cell = cell.trim();
    let end = cell.rfind(|c: char| c.is_ascii_digit() || c == '.').map_or(0, |last| last + 1);
    let (digits, mark) = cell.split_at(end);
    let mark = mark.trim().to_lowercase();
    if mark.is_empty() || marks.contains(&mark.as_str()) { number(digits) } else { None }
}

fn said<T>(cell: &str, read: impl FnOnce(&str) -> Option<T>) -> Said<T> {
    let cell = cell.trim();
    if NOTHING.iter().any(|nothing| nothing.eq_ignore_ascii_case(cell)) {
        return Said::Nothing;
    }
    read(cell).map_or(Said::Bad, Said::Good)
}

fn whole(cell: &str) -> Option<i64> {
    number(cell).filter(|number| number.fract() == 0.0 && number.abs() < 1e9).map(|number| number as i64)
}

/// Reads the number of a hole.
pub fn hole(cell: &str) -> Said<HoleNumber> {
    said(cell, |cell| HoleNumber::new(whole(cell)?).ok())
}

/// Strokes on a hole; without a number only where it was picked up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HoleStrokes {
    /// How many.
    pub strokes: Option<Strokes>,
    /// Whether the hole was picked up.
    pub picked_up: bool,
}

/// Reads the strokes of a hole: a number, `p`, or a number with `p`.
pub fn strokes(cell: &str) -> Said<HoleStrokes> {
    said(cell, |cell| {
        let lower = cell.to_lowercase();
        let (digits, picked_up) = lower.strip_suffix('p').map_or((lower.as_str(), false), |digits| (digits, true));
        if picked_up && digits.trim().is_empty() {
            return Some(HoleStrokes { strokes: None, picked_up });
        }
        Some(HoleStrokes { strokes: Some(Strokes::new(whole(digits)?).ok()?), picked_up })
    })
}

/// Reads a small number: of putts, or of a putt.
pub fn count(cell: &str) -> Said<u8> {
    said(cell, |cell| whole(cell).and_then(|number| u8::try_from(number).ok()))
}

/// Reads the distance of a putt.
pub fn distance(cell: &str, unit: Length) -> Said<Feet> {
    said(cell, |cell| unit.to_feet(with_mark(cell, unit.marks())?))
}

/// Reads how much higher the hole lies.
pub fn rise(cell: &str, unit: Length, positive: Positive) -> Said<Inches> {
    said(cell, |cell| {
        let number = with_mark(cell, unit.marks())?;
        unit.to_inches(if positive == Positive::AsOurs { number } else { -number })
    })
}

/// Reads a ball speed.
pub fn speed(cell: &str, unit: Speed) -> Said<Mph> {
    said(cell, |cell| unit.to_mph(with_mark(cell, unit.marks())?))
}

/// A side of the intended line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Left of it.
    Left,
    /// Right of it.
    Right,
}

fn side_of(word: &str) -> Option<Side> {
    match word.trim().to_lowercase().as_str() {
        "l" | "left" => Some(Side::Left),
        "r" | "right" => Some(Side::Right),
        _ => None,
    }
}

/// Reads a side.
pub fn side(cell: &str) -> Said<Side> {
    said(cell, side_of)
}

/// Reads a direction: a number with a sign, or with the word for a side before or behind it.
///
/// A side, in this cell or in one of its own, goes before the sign's convention; a sign and a side together say two
/// things, and are refused.
pub fn direction(cell: &str, positive: Positive, apart: Option<Side>) -> Said<Degrees> {
    said(cell, |cell| {
        let is_word = |c: &char| c.is_alphabetic();
        let before: String = cell.chars().take_while(is_word).collect();
        let rest = &cell[before.len()..];
        let behind: String = rest.chars().rev().take_while(is_word).collect::<Vec<_>>().into_iter().rev().collect();
        let digits = rest[..rest.len() - behind.len()].trim().trim_end_matches('°');
        let behind = if matches!(behind.to_lowercase().as_str(), "deg" | "degrees") { "" } else { &behind };
        let own = match (before.as_str(), behind) {
            ("", "") => None,
            (word, "") | ("", word) => Some(side_of(word)?),
            _ => return None,
        };
        let number = number(digits)?;
        let signed = match own.or(apart) {
            None if positive == Positive::AsOurs => number,
            None => -number,
            Some(_) if number < 0.0 => return None,
            Some(Side::Left) => -number,
            Some(Side::Right) => number,
        };
        Degrees::new(signed).ok()
    })
}

/// Reads what became of a putt.
pub fn result(cell: &str) -> Said<PuttResult> {
    said(cell, |cell| match cell.to_lowercase().as_str() {
        "holed" | "made" | "make" | "in" | "yes" | "true" | "1" => Some(PuttResult::Holed),
        "missed" | "miss" | "out" | "no" | "false" | "0" => Some(PuttResult::Missed),
        "conceded" | "gimme" | "given" | "c" => Some(PuttResult::Conceded),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_a_point_or_a_comma() {
        for (cell, read) in [
            ("31.5", Some(31.5)),
            ("31,5", Some(31.5)),
            (" -0,8 ", Some(-0.8)),
            ("\u{2212}0.8", Some(-0.8)),
            ("+2", Some(2.0)),
            ("1,234.5", Some(1234.5)),
            ("1.234,5", Some(1234.5)),
            ("1,2,3", None),
            ("3e1", None),
            ("inf", None),
            ("nan", None),
            ("", None),
            ("-", None),
        ] {
            assert_eq!(number(cell), read, "{cell:?}");
        }
    }

    #[test]
    fn a_unit_behind_a_number_must_be_the_columns_own() {
        let feet = |cell: &str| distance(cell, Length::Feet);
        assert_eq!(feet("31.5 ft"), Said::Good(Feet::new(31.5).unwrap()));
        assert_eq!(feet("31'"), Said::Good(Feet::new(31.0).unwrap()));
        assert_eq!((feet("31 m"), feet("ft"), feet("300"), feet("0")), (Said::Bad, Said::Bad, Said::Bad, Said::Bad));
        assert_eq!((feet(""), feet(" n/a ")), (Said::Nothing, Said::Nothing));
        assert_eq!(speed("3,0 m/s", Speed::MetresPerSecond), Said::Good(Mph::new(6.71).unwrap()));
        let fall = |cell: &str| rise(cell, Length::Inches, Positive::Opposite);
        assert_eq!(
            (fall("4"), fall("0")),
            (Said::Good(Inches::new(-4.0).unwrap()), Said::Good(Inches::new(0.0).unwrap()))
        );
    }

    #[test]
    fn a_direction_has_a_sign_or_a_side() {
        let degrees = |x: f64| Said::Good(Degrees::new(x).unwrap());
        let ours = |cell: &str| direction(cell, Positive::AsOurs, None);
        for (cell, read) in [
            ("0.8", degrees(0.8)),
            ("-0.8°", degrees(-0.8)),
            ("0.8L", degrees(-0.8)),
            ("0,8 left", degrees(-0.8)),
            ("R 0.8", degrees(0.8)),
            ("0.8 deg", degrees(0.8)),
            ("0.0", degrees(0.0)),
            ("-0.8L", Said::Bad),
            ("L0.8R", Said::Bad),
            ("0.8x", Said::Bad),
            ("L", Said::Bad),
            ("46", Said::Bad),
            ("é°", Said::Bad),
        ] {
            assert_eq!(ours(cell), read, "{cell:?}");
        }
        assert_eq!(direction("0.8", Positive::Opposite, None), degrees(-0.8));
        assert_eq!(direction("0.8L", Positive::Opposite, None), degrees(-0.8), "a side needs no convention");
        assert_eq!(direction("0.8", Positive::Opposite, Some(Side::Right)), degrees(0.8));
        assert_eq!(direction("-0.8", Positive::AsOurs, Some(Side::Right)), Said::Bad);
    }

    #[test]
    fn scores_and_results_are_words_and_numbers() {
        let of = |strokes: Option<i64>, picked_up| {
            Said::Good(HoleStrokes { strokes: strokes.map(|n| Strokes::new(n).unwrap()), picked_up })
        };
        assert_eq!(
            (strokes("5"), strokes("5.0"), strokes("7p"), strokes("P")),
            (of(Some(5), false), of(Some(5), false), of(Some(7), true), of(None, true))
        );
        assert_eq!(
            (strokes("5.5"), strokes("0"), strokes("x"), strokes("")),
            (Said::Bad, Said::Bad, Said::Bad, Said::Nothing)
        );
        assert_eq!(
            (hole("18"), hole("19"), hole("one")),
            (Said::Good(HoleNumber::new(18).unwrap()), Said::Bad, Said::Bad)
        );
        assert_eq!((count("2"), count("-1"), count("256")), (Said::Good(2), Said::Bad, Said::Bad));
        assert_eq!(
            (result("Holed"), result("MISS"), result("gimme"), result("?")),
            (
                Said::Good(PuttResult::Holed),
                Said::Good(PuttResult::Missed),
                Said::Good(PuttResult::Conceded),
                Said::Bad
            )
        );
    }
}
