//! The reduction that an exceptionally good score brings.

use crate::exact::{Exact, whole};

/// Which differential is compared with the index in effect. It decides gaps such as 6.95 to 7.0.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Basis {
    /// The unrounded one (one stored copy of the rule; others are silent).
    #[default]
    Unrounded,
    /// The one rounded to a tenth.
    Rounded,
}

/// Returns what is added to each of the most recent 20 differentials: 0, -1 or -2.
///
/// # Formula
/// ```text
/// gap = index in effect − differential:   gap ≥ 10.0: −2   gap ≥ 7.0: −1   else 0
/// ```
///
/// # Source
/// Rules of Handicapping, Rule 5.9.
pub fn reduction(differential: Exact, index_in_effect: Exact) -> i32 {
    let gap = index_in_effect - differential;
    if gap >= whole(10) {
        -2
    } else if gap >= whole(7) {
        -1
    } else {
        0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::parse;

    #[test]
    fn seven_better_takes_one_and_ten_better_takes_two() {
        fn check(differential: &str, index: &str, expect: i32) {
            assert_eq!(reduction(parse(differential).unwrap(), parse(index).unwrap()), expect);
        }
        check("4.31", "11.3", 0);
        check("4.3", "11.3", -1);
        check("1.31", "11.3", -1);
        check("1.3", "11.3", -2);
        check("20", "11.3", 0);
        check("-9.0", "-2.0", -1);
    }
}
