//! Quantities as types, each with its legal range in one place.
//!
//! The only way in is `new`, so a value that exists is a value in range; nothing inside the domain checks again.

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};
use std::fmt;

/// A value outside the range of its quantity.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{quantity} must be {limit}")]
pub struct OutOfRange {
    /// What the value was meant to be.
    pub quantity: &'static str,
    /// The range that it must lie in, in words.
    pub limit: &'static str,
}

macro_rules! real_quantity {
    ($(#[$doc:meta])* $name:ident, $quantity:literal, $limit:literal, |$x:ident| $legal:expr, $min:expr, $max:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// The least legal value (itself excluded where the range says "more than").
            pub const MIN: f64 = $min;
            /// The greatest legal value.
            pub const MAX: f64 = $max;

            #[doc = concat!("Creates the value, refusing NaN and anything that is not ", $limit, ". Minus zero becomes zero.")]
            pub fn new($x: f64) -> Result<Self, OutOfRange> {
                if $legal { Ok(Self($x + 0.0)) } else { Err(OutOfRange { quantity: $quantity, limit: $limit }) }
            }

            /// Returns the number.
            pub const fn get(self) -> f64 { self.0 }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                Self::new(f64::deserialize(deserializer)?).map_err(D::Error::custom)
            }
        }
    };
}

macro_rules! whole_quantity {
    ($(#[$doc:meta])* $name:ident, $int:ty, $quantity:literal, $min:literal, $max:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        #[serde(transparent)]
        pub struct $name($int);

        impl $name {
            /// The least legal value.
            pub const MIN: i64 = $min;
            /// The greatest legal value.
            pub const MAX: i64 = $max;

            #[doc = concat!("Creates the value, refusing anything that is not from ", stringify!($min), " to ", stringify!($max), ".")]
            pub fn new(n: i64) -> Result<Self, OutOfRange> {
                if (Self::MIN..=Self::MAX).contains(&n) {
                    Ok(Self(n as $int))
                } else {
                    Err(OutOfRange { quantity: $quantity, limit: concat!("a whole number from ", stringify!($min), " to ", stringify!($max)) })
                }
            }

            /// Returns the number.
            pub const fn get(self) -> $int { self.0 }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                Self::new(i64::deserialize(deserializer)?).map_err(D::Error::custom)
            }
        }
    };
}

real_quantity!(
    /// The distance of a putt in feet.
    Feet, "the distance", "more than 0 and at most 200 ft", |x| x > 0.0 && x <= 200.0, 0.0, 200.0
);
real_quantity!(
    /// How much higher the hole lies than the ball, in inches; positive is uphill.
    Inches, "the elevation", "from -240 to 240 in", |x| (-240.0..=240.0).contains(&x), -240.0, 240.0
);
real_quantity!(
    /// A ball speed in miles per hour.
    Mph, "the ball speed", "more than 0 and at most 40 mph", |x| x > 0.0 && x <= 40.0, 0.0, 40.0
);
real_quantity!(
    /// A direction off the intended start line in degrees; positive is right.
    Degrees, "the line", "from -45 to 45 degrees", |x| (-45.0..=45.0).contains(&x), -45.0, 45.0
);
real_quantity!(
    /// A green speed as a stimpmeter reads it, in feet. Not a distance: it is never added to one.
    Stimp, "the green speed", "from 4 to 16 ft", |x| (4.0..=16.0).contains(&x), 4.0, 16.0
);

real_quantity!(
    /// How far a putt would run past the hole on level green, in inches.
    Overrun, "the overrun", "from 0 to 240 in", |x| (0.0..=240.0).contains(&x), 0.0, 240.0
);
real_quantity!(
    /// A slope of the green in per cent.
    SlopePct, "the slope", "from -20 to 20 %", |x| (-20.0..=20.0).contains(&x), -20.0, 20.0
);
real_quantity!(
    /// The standard deviation of a player's start line in degrees.
    LineSpread, "the spread of line", "from 0 to 45 degrees", |x| (0.0..=45.0).contains(&x), 0.0, 45.0
);
real_quantity!(
    /// The standard deviation of the distance that a ball rolls, as a share of the distance meant.
    DistanceSpread, "the spread of distance", "from 0 to 1", |x| (0.0..=1.0).contains(&x), 0.0, 1.0
);

whole_quantity!(
    /// The par of a hole.
    Par, u8, "the par", 3, 6
);
whole_quantity!(
    /// The number of a hole on its card.
    HoleNumber, u8, "the hole number", 1, 18
);
whole_quantity!(
    /// A hole's place in the order in which handicap strokes fall: 1 receives the first.
    StrokeIndex, u8, "the stroke index", 1, 18
);
whole_quantity!(
    /// The strokes of one hole, putts and conceded putts included.
    Strokes, u8, "the strokes", 1, 30
);
whole_quantity!(
    /// The slope rating of a tee; 113 is the standard.
    SlopeRating, u8, "the slope rating", 55, 155
);
whole_quantity!(
    /// The day's adjustment for playing conditions, in strokes over 18 holes; positive is a harder day.
    PlayingConditions, i8, "the playing conditions", -1, 3
);
whole_quantity!(
    /// The share of the course strokes that a competition grants, in per cent.
    AllowancePct, u8, "the allowance", 0, 200
);

/// How many holes are played, or belong to a rating.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(into = "u8", try_from = "u8")]
pub enum HoleCount {
    /// Nine.
    Nine,
    /// Eighteen.
    Eighteen,
}

impl HoleCount {
    /// Returns the number.
    pub fn get(self) -> usize {
        match self {
            HoleCount::Nine => 9,
            HoleCount::Eighteen => 18,
        }
    }
}

impl From<HoleCount> for u8 {
    fn from(count: HoleCount) -> u8 {
        count.get() as u8
    }
}

impl TryFrom<u8> for HoleCount {
    type Error = &'static str;
    fn try_from(count: u8) -> Result<Self, Self::Error> {
        match count {
            9 => Ok(HoleCount::Nine),
            18 => Ok(HoleCount::Eighteen),
            _ => Err("9 or 18 holes"),
        }
    }
}

/// A number with one decimal, held as a whole number of tenths so that the rules' rounding is exact.
///
/// Ratings, differentials and league indexes are tenths. A plus index is negative.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tenths(pub i32);

impl Tenths {
    /// The greatest league index, 54.0 (Rules of Handicapping, Rule 5.3).
    pub const MAX_INDEX: Tenths = Tenths(540);
    /// The lowest starting index that is accepted, plus 10.0 (evenfield's own limit against slips of the keyboard).
    pub const MIN_INDEX: Tenths = Tenths(-100);
    /// The least course rating that is accepted.
    pub const MIN_RATING: Tenths = Tenths(200);
    /// The greatest course rating that is accepted.
    pub const MAX_RATING: Tenths = Tenths(900);
}

/// Writes a handicap as people do: a plus handicap, which is negative, with a plus sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AsHandicap(pub Tenths);

impl fmt::Display for AsHandicap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plus = if self.0.0 < 0 { "+" } else { "" };
        write!(f, "{plus}{}", Tenths(self.0.0.saturating_abs()))
    }
}

impl fmt::Display for Tenths {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let size = self.0.unsigned_abs();
        write!(f, "{sign}{}.{}", size / 10, size % 10)
    }
}

impl Serialize for Tenths {
    /// Writes a JSON number with one decimal: the nearest binary number prints as exactly that.
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64(f64::from(self.0) / 10.0)
    }
}

impl<'de> Deserialize<'de> for Tenths {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let tenths = f64::deserialize(deserializer)? * 10.0;
        if (tenths - tenths.round()).abs() > 1e-6 || tenths.abs() > 1e6 {
            return Err(D::Error::custom("a number with one decimal is expected"));
        }
        Ok(Self(tenths.round() as i32))
    }
}

/// Strokes gained (positive: better than the baseline), in whole billionths of a stroke.
///
/// Sums of whole numbers don't depend on their order, so a total kept up round by round equals one made afresh.
/// Each putt's value is rounded to a billionth once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct StrokesGained(pub i64);

impl StrokesGained {
    /// Billionths in a stroke.
    pub const SCALE: i64 = 1_000_000_000;

    /// Rounds a value in strokes to the nearest billionth.
    pub fn from_strokes(strokes: f64) -> Self {
        Self((strokes * Self::SCALE as f64).round() as i64)
    }

    /// Returns the value in strokes.
    pub fn to_strokes(self) -> f64 {
        self.0 as f64 / Self::SCALE as f64
    }
}

impl std::ops::Add for StrokesGained {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl std::ops::AddAssign for StrokesGained {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl std::iter::Sum for StrokesGained {
    fn sum<I: Iterator<Item = Self>>(values: I) -> Self {
        values.fold(Self::default(), |total, value| total + value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_range_refuses_what_lies_outside_and_nan() {
        assert!(Feet::new(0.0).is_err());
        assert!(Feet::new(200.0).is_ok());
        assert!(Feet::new(200.000_1).is_err());
        assert!(Feet::new(f64::NAN).is_err());
        assert!(Stimp::new(3.9).is_err());
        assert!(Par::new(7).is_err());
        assert_eq!(SlopeRating::new(113).map(SlopeRating::get), Ok(113));
    }

    #[test]
    fn minus_zero_becomes_zero() {
        assert!(Degrees::new(-0.0).unwrap().get().is_sign_positive());
    }

    #[test]
    fn a_plus_handicap_is_written_with_its_plus() {
        for (tenths, text) in [(-28, "+2.8"), (0, "0.0"), (123, "12.3")] {
            assert_eq!(AsHandicap(Tenths(tenths)).to_string(), text);
        }
    }

    #[test]
    fn tenths_print_with_one_decimal_and_their_sign() {
        for (tenths, text) in [(-5, "-0.5"), (0, "0.0"), (169, "16.9"), (-123, "-12.3")] {
            assert_eq!(Tenths(tenths).to_string(), text);
        }
    }
}
