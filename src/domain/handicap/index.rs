//! The league index from adjusted differentials.

use crate::exact::{Exact, round_tenth, whole};
use crate::units::Tenths;

/// How many of the latest differentials a record looks at.
///
/// # Source
/// Rules of Handicapping, Rule 5.2.
pub const WINDOW: usize = 20;

/// Which of a record's differentials count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Selection {
    /// How many of the lowest count.
    pub lowest: usize,
    /// What is added to their average, in strokes.
    pub adjustment: i32,
}

/// Returns how many of the lowest differentials count and the adjustment; none below three differentials.
///
/// # Source
/// Rules of Handicapping, Rule 5.2a (table).
pub fn selection(differentials: usize) -> Option<Selection> {
    let (lowest, adjustment) = match differentials {
        0..=2 => return None,
        3 => (1, -2),
        4 => (1, -1),
        5 => (1, 0),
        6 => (2, -1),
        7..=8 => (2, 0),
        9..=11 => (3, 0),
        12..=14 => (4, 0),
        15..=16 => (5, 0),
        17..=18 => (6, 0),
        19 => (7, 0),
        _ => (8, 0),
    };
    Some(Selection { lowest, adjustment })
}

/// An average of the lowest differentials.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Average {
    /// The plain average.
    pub average: Exact,
    /// What it is made of.
    pub selection: Selection,
}

impl Average {
    /// Returns the average with its adjustment.
    pub fn adjusted(&self) -> Exact {
        self.average + whole(self.selection.adjustment)
    }
}

/// Returns the average of the lowest of the last 20 differentials (oldest first); none below three.
///
/// # Formula
/// ```text
/// sum of the lowest k of the last 20 / k
/// ```
///
/// # Source
/// Rules of Handicapping, Rule 5.2.
pub fn average(differentials: &[Exact]) -> Option<Average> {
    let latest = &differentials[differentials.len().saturating_sub(WINDOW)..];
    let selection = selection(latest.len())?;
    let mut sorted = latest.to_vec();
    sorted.sort_unstable();
    let sum: Exact = sorted.iter().take(selection.lowest).sum();
    Some(Average { average: sum / whole(selection.lowest as i128), selection })
}

/// Rounds to a tenth and cuts at 54.0: the last step of an index. There is no minimum.
///
/// # Source
/// Rules of Handicapping, Rule 5.3.
pub fn issued(uncut: Exact) -> Tenths {
    round_tenth(uncut).min(Tenths::MAX_INDEX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::parse;

    fn check(differentials: &[&str], expect: Option<&str>) {
        let exact: Vec<_> = differentials.iter().map(|text| parse(text).unwrap()).collect();
        let found = average(&exact).map(|average| issued(average.adjusted()).to_string());
        assert_eq!(found.as_deref(), expect);
    }

    #[test]
    fn few_differentials_are_adjusted_downwards() {
        check(&["15.0", "14.2"], None);
        check(&["15.3", "15.2", "16.6"], Some("13.2"));
        check(&["15.0", "14.2", "19.8", "11.1"], Some("10.1"));
        check(&["15.0", "14.2", "19.8", "11.1", "16.6", "13.7"], Some("11.4"));
    }

    #[test]
    fn only_the_last_twenty_count() {
        let mut record = vec!["1.0"];
        record.extend(["20.0"; 20]);
        check(&record, Some("20.0"));
    }

    #[test]
    fn no_index_is_above_54() {
        check(&["60", "60", "60"], Some("54.0"));
        check(&["-3", "-3", "-3"], Some("-5.0"));
    }
}
