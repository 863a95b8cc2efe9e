//! Values in few bytes, as derived columns hold them. Each value has one form, so equal values are equal bytes.
//!
//! # Shape
//! ```text
//! whole number    groups of seven bits, the lowest first; a byte's top bit says that another follows
//! signed number   2n, or -2n - 1 below 0, as a whole number
//! optional one    0, or one more than the number
//! date            (12 · year + month - 1) · 31 + day - 1, as a signed number
//! real number     its hundredths as a signed number, plus one; or 0 and the eight bytes of one that has more decimals
//! text            its length in bytes as an optional number, and the bytes
//! ```
//!
//! # Source
//! Groups of seven bits: LEB128 of the DWARF debugging format. Signs in the lowest bit: common practice, no source.

use jiff::civil::Date;
use uuid::Uuid;

/// Writes values one after the other.
#[derive(Clone, Debug, Default)]
pub struct Packer(Vec<u8>);

impl Packer {
    /// Begins with room for so many bytes.
    pub fn with_room_for(bytes: usize) -> Self {
        Self(Vec::with_capacity(bytes))
    }

    /// Returns what was written.
    pub fn finish(self) -> Vec<u8> {
        self.0
    }

    /// Writes a byte as it is.
    pub fn byte(&mut self, byte: u8) {
        self.0.push(byte);
    }

    /// Writes a whole number.
    pub fn whole(&mut self, n: impl Into<u64>) {
        let mut n = n.into();
        while n >= 0x80 {
            self.0.push(n as u8 | 0x80);
            n >>= 7;
        }
        self.0.push(n as u8);
    }

    /// Writes a signed number.
    pub fn signed(&mut self, n: impl Into<i64>) {
        self.whole(unsigned(n.into()));
    }

    /// Writes a whole number of at most 32 bits that may be missing.
    pub fn optional_whole(&mut self, n: Option<u32>) {
        self.whole(n.map_or(0, |n| u64::from(n) + 1));
    }

    /// Writes a signed number of at most 32 bits that may be missing.
    pub fn optional_signed(&mut self, n: Option<i32>) {
        self.whole(n.map_or(0, |n| unsigned(n.into()) + 1));
    }

    /// Writes a real number.
    pub fn real(&mut self, x: f64) {
        match hundredths(x) {
            Some(hundredths) => self.whole(unsigned(hundredths) + 1),
            None => {
                self.byte(0);
                self.0.extend(x.to_be_bytes());
            }
        }
    }

    pub fn date(&mut self, date: Date) {
        self.signed((i64::from(date.year()) * 12 + i64::from(date.month()) - 1) * 31 + i64::from(date.day()) - 1);
    }

    /// Writes an id.
    pub fn id(&mut self, id: Uuid) {
        self.0.extend(id.as_bytes());
    }

    /// Writes a text that may be missing.
    pub fn optional_text(&mut self, text: Option<&str>) {
        self.optional_whole(text.map(|text| text.len() as u32));
        self.0.extend(text.unwrap_or_default().bytes());
    }
}

/// Returns the hundredths of a number that has no more decimals.
fn hundredths(x: f64) -> Option<i64> {
    let hundredths = (x * 100.0).round();
    (hundredths.abs() < 1e15 && (hundredths / 100.0).to_bits() == x.to_bits()).then_some(hundredths as i64)
}

/// Puts the sign of a number into its lowest bit.
fn unsigned(n: i64) -> u64 {
    (n << 1 ^ n >> 63) as u64
}

/// Reads values one after the other; each is `None` where the bytes are no such value.
#[derive(Clone, Copy, Debug)]
pub struct Unpacker<'a>(&'a [u8]);

impl<'a> Unpacker<'a> {
    /// Begins at the first byte.
    pub fn of(bytes: &'a [u8]) -> Self {
        Self(bytes)
    }

    /// Says whether everything was read.
    pub fn is_at_end(&self) -> bool {
        self.0.is_empty()
    }

    /// Reads a byte.
    pub fn byte(&mut self) -> Option<u8> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(*first)
    }

    fn bytes(&mut self, many: usize) -> Option<&'a [u8]> {
        let (first, rest) = self.0.split_at_checked(many)?;
        self.0 = rest;
        Some(first)
    }

    /// Reads a whole number.
    pub fn whole<T: TryFrom<u64>>(&mut self) -> Option<T> {
        let mut n = 0u64;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            let group = u64::from(byte & 0x7F);
            // Bits beyond the 64th, or a last group of zeros, would give a number a second form.
            if group << shift >> shift != group || (byte == 0 && shift > 0) {
                return None;
            }
            n |= group << shift;
            if byte < 0x80 {
                return T::try_from(n).ok();
            }
        }
        None
    }

    /// Reads a signed number.
    pub fn signed<T: TryFrom<i64>>(&mut self) -> Option<T> {
        T::try_from(signed(self.whole()?)).ok()
    }

    /// Reads a whole number that may be missing.
    pub fn optional_whole(&mut self) -> Option<Option<u32>> {
        match self.whole::<u64>()? {
            0 => Some(None),
            n => u32::try_from(n - 1).ok().map(Some),
        }
    }

    /// Reads a signed number that may be missing.
    pub fn optional_signed(&mut self) -> Option<Option<i32>> {
        match self.whole::<u64>()? {
            0 => Some(None),
            n => i32::try_from(signed(n - 1)).ok().map(Some),
        }
    }

    /// Reads a real number.
    pub fn real(&mut self) -> Option<f64> {
        match self.whole::<u64>()? {
            0 => {
                let (bytes, rest) = self.0.split_first_chunk::<8>()?;
                self.0 = rest;
                Some(f64::from_be_bytes(*bytes)).filter(|x| hundredths(*x).is_none())
            }
            n => {
                let x = signed(n - 1) as f64 / 100.0;
                hundredths(x).is_some().then_some(x)
            }
        }
    }

    pub fn date(&mut self) -> Option<Date> {
        let n: i64 = self.signed()?;
        let (months, day) = (n.div_euclid(31), n.rem_euclid(31) + 1);
        let (year, month) = (i16::try_from(months.div_euclid(12)).ok()?, months.rem_euclid(12) + 1);
        Date::new(year, month as i8, day as i8).ok()
    }

    /// Reads an id.
    pub fn id<T: From<Uuid>>(&mut self) -> Option<T> {
        Some(Uuid::from_slice(self.bytes(16)?).ok()?.into())
    }

    /// Reads a text that may be missing.
    pub fn optional_text(&mut self) -> Option<Option<String>> {
        let Some(length) = self.optional_whole()? else { return Some(None) };
        let text = std::str::from_utf8(self.bytes(length as usize)?).ok()?;
        Some(Some(text.to_owned()))
    }
}

fn signed(n: u64) -> i64 {
    (n >> 1) as i64 ^ -((n & 1) as i64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn values_come_back_and_nothing_else_does(
            whole in any::<u64>(),
            n in any::<i64>(),
            optional in any::<(Option<u32>, Option<i32>)>(),
            id in any::<u128>(),
            text in proptest::option::of(".{0,40}"),
            (real, short) in (any::<u64>().prop_map(f64::from_bits), -9_999..9_999i32),
        ) {
            let mut packer = Packer::default();
            packer.whole(whole);
            packer.signed(n);
            packer.optional_whole(optional.0);
            packer.optional_signed(optional.1);
            packer.id(Uuid::from_u128(id));
            packer.optional_text(text.as_deref());
            let short = f64::from(short) / 100.0;
            packer.real(real);
            packer.real(short);
            let bytes = packer.finish();
            let read = |bytes| {
                let mut reader = Unpacker::of(bytes);
                let numbers = (reader.whole::<u64>()?, reader.signed::<i64>()?);
                let optional = (reader.optional_whole()?, reader.optional_signed()?);
                let rest = (reader.id::<Uuid>()?, reader.optional_text()?);
                let reals = (reader.real()?.to_bits(), reader.real()?);
                reader.is_at_end().then_some((numbers, optional, rest, reals))
            };
            prop_assert_eq!(read(&bytes), Some(((whole, n), optional, (Uuid::from_u128(id), text), (real.to_bits(), short))));
            for end in 0..bytes.len() {
                prop_assert_eq!(read(&bytes[..end]), None);
            }
        }
    }

    #[test]
    fn dates_come_back_and_days_that_are_none_do_not() {
        for date in [Date::constant(2026, 12, 31), Date::constant(2028, 2, 29), Date::MIN, Date::MAX] {
            let mut packer = Packer::default();
            packer.date(date);
            assert_eq!(Unpacker::of(&packer.finish()).date(), Some(date));
        }
        let mut packer = Packer::default();
        packer.signed((2027 * 12 + 1) * 31 + 29);
        assert_eq!(Unpacker::of(&packer.finish()).date(), None, "the 30th of February");
    }

    #[test]
    fn small_numbers_take_one_byte() {
        for (n, length) in [(0, 1), (63, 1), (-64, 1), (64, 2), (-8_192, 2), (i64::MIN, 10)] {
            let mut packer = Packer::default();
            packer.signed(n);
            assert_eq!(packer.finish().len(), length, "{n}");
        }
    }

    #[test]
    fn a_number_has_one_form() {
        assert_eq!(Unpacker::of(&[0x80, 0x00]).whole::<u64>(), None);
        assert_eq!(Unpacker::of(&[0x00]).whole::<u64>(), Some(0));
        let too_many_bits = [0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x02];
        assert_eq!(Unpacker::of(&too_many_bits).whole::<u64>(), None);
        assert_eq!(Unpacker::of(&[0x80, 0x02]).whole::<u8>(), None);
    }
}
