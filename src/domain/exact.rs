//! Exact decimals and fractions, and the one rounding rule of the handicap rules.
//!
//! Binary floats put exact halves on the wrong side (16.95 becomes 16.9), so nothing that is rounded passes through one.

use super::units::Tenths;
use num_rational::Ratio;
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// An exact number.
///
/// [`parse`] bounds what enters (at most [`MAX_MAGNITUDE`] with [`MAX_DECIMALS`] decimals), so that the few products and
/// sums of the domain stay far inside 128 bits.
pub type Exact = Ratio<i128>;

/// The greatest magnitude that [`parse`] accepts.
pub const MAX_MAGNITUDE: i128 = 1_000_000;
/// The most decimals that [`parse`] accepts; zeros at the end don't count.
pub const MAX_DECIMALS: i32 = 12;
/// The longest text that [`parse`] accepts, in characters: its digits always fit 128 bits.
pub const MAX_CHARACTERS: usize = 36;

const MILLION: i128 = 1_000_000;

/// A text that is no decimal within the bounds of [`parse`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DecimalError {
    /// The text is no decimal number.
    #[error("must be a decimal number such as 12.3 or -1.5")]
    NotADecimal,
    /// The number is beyond [`MAX_MAGNITUDE`].
    #[error("must be from -1000000 to 1000000")]
    TooLarge,
    /// The number has more than [`MAX_DECIMALS`] decimals.
    #[error("must have at most 12 decimals")]
    TooFine,
    /// The text is longer than [`MAX_CHARACTERS`].
    #[error("must be written in at most 36 characters")]
    TooLong,
}

/// Reads a decimal as JSON writes one, the exponent form included.
///
/// A leading `+` is refused: "+2.0" means -2.0 to a golfer and 2.0 to a programmer.
///
/// # Errors
/// [`DecimalError`], whose text names the limit.
///
/// # Examples
/// ```
/// use evenfield_domain::exact::{parse, to_text};
/// assert_eq!(to_text(parse("-1.550")?), "-1.55");
/// assert_eq!(parse("155e-2"), parse("1.55"));
/// # Ok::<(), evenfield_domain::exact::DecimalError>(())
/// ```
pub fn parse(text: &str) -> Result<Exact, DecimalError> {
    if text.len() > MAX_CHARACTERS {
        return Err(DecimalError::TooLong);
    }
    let (is_negative, unsigned) = text.strip_prefix('-').map_or((false, text), |rest| (true, rest));
    let (number, exponent) = match unsigned.split_once(['e', 'E']) {
        None => (unsigned, 0),
        Some((number, exponent)) => (number, whole_exponent(exponent)?),
    };
    let (whole, fraction) = match number.split_once('.') {
        None => (number, ""),
        Some((_, "")) => return Err(DecimalError::NotADecimal),
        Some(parts) => parts,
    };
    if whole.is_empty() {
        return Err(DecimalError::NotADecimal);
    }
    let mut digits: i128 = 0;
    for byte in whole.bytes().chain(fraction.bytes()) {
        if !byte.is_ascii_digit() {
            return Err(DecimalError::NotADecimal);
        }
        digits = digits * 10 + i128::from(byte - b'0');
    }
    if digits == 0 {
        return Ok(Exact::from_integer(0));
    }
    let mut decimals = fraction.len() as i32 - exponent;
    while decimals > 0 && digits % 10 == 0 {
        digits /= 10;
        decimals -= 1;
    }
    if decimals > MAX_DECIMALS {
        return Err(DecimalError::TooFine);
    }
    let scale = 10_i128.pow(decimals.max(0).unsigned_abs());
    if decimals < 0 {
        let zeros = 10_i128.checked_pow(decimals.unsigned_abs());
        digits = zeros.and_then(|zeros| digits.checked_mul(zeros)).ok_or(DecimalError::TooLarge)?;
    }
    if digits > MAX_MAGNITUDE * scale {
        return Err(DecimalError::TooLarge);
    }
    let signed = if is_negative { -digits } else { digits };
    Ok(if scale == 1 { Exact::from_integer(signed) } else { Exact::new(signed, scale) })
}

fn whole_exponent(text: &str) -> Result<i32, DecimalError> {
    let digits = text.strip_prefix(['+', '-']).unwrap_or(text);
    if digits.is_empty() || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return Err(DecimalError::NotADecimal);
    }
    // Clamped: any exponent this large is refused by the bounds, and a zero stays zero.
    let size = digits.parse::<i32>().unwrap_or(i32::MAX).min(1_000);
    Ok(if text.starts_with('-') { -size } else { size })
}

/// Returns the exact number of a whole one.
pub fn whole(n: impl Into<i128>) -> Exact {
    Exact::from_integer(n.into())
}

/// Rounds to the nearest tenth, an exact half towards +infinity: -1.55 becomes -1.5.
///
/// # Formula
/// ```text
/// floor(10 x + 1/2)   in tenths
/// ```
///
/// # Source
/// Rules of Handicapping, Rule 5.1 (minus values round "upward towards 0").
pub fn round_tenth(x: Exact) -> Tenths {
    let tenths = round_half_up(x, 10);
    Tenths(tenths.clamp(i32::MIN.into(), i32::MAX.into()) as i32)
}

/// Rounds to the nearest whole number, an exact half towards +infinity: -1.5 becomes -1.
///
/// # Formula
/// ```text
/// floor(x + 1/2)
/// ```
///
/// # Source
/// Rules of Handicapping, Rules 6.1 and 6.2 (".5 rounded upwards").
pub fn round_whole(x: Exact) -> i64 {
    round_half_up(x, 1).clamp(i64::MIN.into(), i64::MAX.into()) as i64
}

/// Whole part and remainder are scaled apart: the product with the whole numerator could overflow.
fn round_half_up(x: Exact, scale: i128) -> i128 {
    let (numerator, denominator) = x.into_raw();
    let (quotient, rest) = (numerator.div_euclid(denominator), numerator.rem_euclid(denominator));
    quotient * scale + (2 * rest * scale + denominator).div_euclid(2 * denominator)
}

/// Rounds to millionths, an exact half to the even neighbour.
fn to_millionths(x: Exact) -> i128 {
    let (numerator, denominator) = x.into_raw();
    let (quotient, rest) = (numerator.div_euclid(denominator), numerator.rem_euclid(denominator));
    let floor = quotient * MILLION + rest * MILLION / denominator;
    let beyond = rest * MILLION % denominator;
    let up = match (2 * beyond).cmp(&denominator) {
        std::cmp::Ordering::Less => false,
        std::cmp::Ordering::Equal => floor % 2 != 0,
        std::cmp::Ordering::Greater => true,
    };
    floor + i128::from(up)
}

/// Writes the number rounded half-even at six decimals, zeros at the end left off.
///
/// # Examples
/// ```
/// use evenfield_domain::exact::{Exact, parse, to_text};
/// assert_eq!(to_text(parse("15.7140625")?), "15.714062");
/// assert_eq!(to_text(Exact::new(14, 3)), "4.666667");
/// # Ok::<(), evenfield_domain::exact::DecimalError>(())
/// ```
pub fn to_text(x: Exact) -> String {
    let millionths = to_millionths(x);
    let sign = if millionths < 0 { "-" } else { "" };
    let size = millionths.unsigned_abs();
    let (whole, fraction) = (size / MILLION.unsigned_abs(), size % MILLION.unsigned_abs());
    if fraction == 0 {
        return format!("{sign}{whole}");
    }
    let mut text = format!("{sign}{whole}.{fraction:06}");
    text.truncate(text.trim_end_matches('0').len());
    text
}

/// Returns the nearest binary number to the value rounded half-even at six decimals: for JSON numbers only.
pub fn to_f64_six(x: Exact) -> f64 {
    to_millionths(x) as f64 / MILLION as f64
}

/// Returns a whole number; `None`: it is not whole, or too large.
pub fn to_whole(x: Exact) -> Option<i64> {
    if x.is_integer() { i64::try_from(x.to_integer()).ok() } else { None }
}

/// An exact number that stands in JSON with at most six decimals.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Value(pub Exact);

impl Serialize for Value {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match to_whole(self.0) {
            Some(whole) => serializer.serialize_i64(whole),
            None => serializer.serialize_f64(to_f64_six(self.0)),
        }
    }
}

impl<'de> Deserialize<'de> for Value {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        parse(&format!("{:.6}", f64::deserialize(deserializer)?)).map(Self).map_err(D::Error::custom)
    }
}

impl From<Tenths> for Exact {
    fn from(tenths: Tenths) -> Self {
        Exact::new(tenths.0.into(), 10)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_and_exponent_forms_are_read_exactly() {
        fn check(text: &str, numerator: i128, denominator: i128) {
            assert_eq!(parse(text), Ok(Exact::new(numerator, denominator)), "{text}");
        }
        check("16.95", 339, 20);
        check("-1.55", -31, 20);
        check("0", 0, 1);
        check("-0.0", 0, 1);
        check("0e99999999999", 0, 1);
        check("1e6", 1_000_000, 1);
        check("2.5E+1", 25, 1);
        check("125e-12", 125, 1_000_000_000_000);
        check("1.00000000000000000000000000000000", 1, 1);
    }

    #[test]
    fn what_is_no_decimal_within_bounds_is_refused_by_name() {
        fn check(text: &str, error: DecimalError) {
            assert_eq!(parse(text), Err(error), "{text}");
        }
        for text in ["", "-", "+2.0", ".5", "5.", "1e", "1e+", "1e1.5", "0x10", "1_000", "NaN", "--1", "1.2.3", "٣"] {
            check(text, DecimalError::NotADecimal);
        }
        for text in ["1000000.1", "-1000001", "1e7", "1e37", "1e999999999999"] {
            check(text, DecimalError::TooLarge);
        }
        check("0.0000000000001", DecimalError::TooFine);
        check("1e-999999999999", DecimalError::TooFine);
        check(&"9".repeat(37), DecimalError::TooLong);
    }

    #[test]
    fn an_exact_half_rounds_towards_plus_infinity() {
        fn check(text: &str, tenth: &str, whole: i64) {
            let x = parse(text).unwrap();
            assert_eq!((round_tenth(x).to_string().as_str(), round_whole(x)), (tenth, whole), "{text}");
        }
        check("5.65", "5.7", 6);
        check("12.5", "12.5", 13);
        check("-1.54", "-1.5", -2);
        check("-1.55", "-1.5", -2);
        check("-1.56", "-1.6", -2);
        check("-1.5", "-1.5", -1);
        check("-0.5", "-0.5", 0);
        check("16.95", "17.0", 17);
    }

    #[test]
    fn text_rounds_half_even_at_six_decimals() {
        fn check(x: Exact, text: &str) {
            assert_eq!(to_text(x), text);
        }
        check(parse("15.7140625").unwrap(), "15.714062");
        check(parse("-15.7140625").unwrap(), "-15.714062");
        check(parse("0.0000015").unwrap(), "0.000002");
        check(parse("-0.0000004").unwrap(), "0");
        check(Exact::new(10, 3), "3.333333");
        check(whole(-440), "-440");
        assert_eq!(to_f64_six(Exact::new(2, 3)), 0.666_667);
    }
}
