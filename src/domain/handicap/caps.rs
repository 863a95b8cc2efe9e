//! Soft and hard cap: how far an index may rise above the low index.

use crate::exact::{Exact, round_tenth, whole};

/// Which cap held an index down.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Cap {
    /// None did.
    #[default]
    None,
    /// Half of the rise above three strokes was taken away.
    Soft,
    /// The rise was cut at five strokes.
    Hard,
}

impl Cap {
    /// Returns the name used in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Cap::None => "none",
            Cap::Soft => "soft",
            Cap::Hard => "hard",
        }
    }
}

/// Whether the average is rounded to a tenth before it is compared with the low index.
///
/// The rule's text rounds first; one union's worked example doesn't. They can differ by a tenth.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Rounding {
    /// Round, then compare (Rules of Handicapping, Rule 5.2b).
    #[default]
    BeforeCap,
    /// Compare the exact average (England Golf, soft cap example).
    AfterCap,
}

/// Returns the capped average, still to be rounded and cut, and the cap that held it. Downward moves are never limited.
///
/// # Formula
/// ```text
/// rise = average − low
/// rise ≤ 3: average          rise > 3: low + 3 + (rise − 3)/2, but at most low + 5
/// ```
///
/// # Source
/// Rules of Handicapping, Rule 5.8.
pub fn capped(average: Exact, low: Exact, rounding: Rounding) -> (Exact, Cap) {
    let average = rounded(average, rounding);
    let rise = average - low;
    if rise <= whole(3) {
        return (average, Cap::None);
    }
    let (soft, hard) = (low + whole(3) + (rise - whole(3)) / whole(2), low + whole(5));
    if soft > hard { (hard, Cap::Hard) } else { (soft, Cap::Soft) }
}

/// Returns the average as it goes into the comparison.
pub fn rounded(average: Exact, rounding: Rounding) -> Exact {
    match rounding {
        Rounding::BeforeCap => round_tenth(average).into(),
        Rounding::AfterCap => average,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::{parse, to_text};

    fn check(average: &str, low: &str, rounding: Rounding, expect: &str, cap: Cap) {
        let (value, found) = capped(parse(average).unwrap(), parse(low).unwrap(), rounding);
        assert_eq!((to_text(value).as_str(), found), (expect, cap));
    }

    #[test]
    fn a_rise_of_three_is_free_and_half_of_the_rest_counts_up_to_five() {
        check("9.5", "6.5", Rounding::BeforeCap, "9.5", Cap::None);
        check("11.6", "6.5", Rounding::BeforeCap, "10.55", Cap::Soft);
        check("17.2", "10.2", Rounding::BeforeCap, "15.2", Cap::Soft);
        check("18.2", "10.2", Rounding::BeforeCap, "15.2", Cap::Hard);
        check("2.0", "10.2", Rounding::BeforeCap, "2", Cap::None);
    }

    #[test]
    fn rounding_first_can_give_another_tenth() {
        check("19.6625", "14.8", Rounding::BeforeCap, "18.75", Cap::Soft);
        check("19.6625", "14.8", Rounding::AfterCap, "18.73125", Cap::Soft);
    }
}
