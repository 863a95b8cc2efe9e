//! The putts of a round in few bytes, for whole leagues at once.

use super::PuttResult;
use crate::facts::{CardHole, Putt};
use crate::units::{Degrees, Feet, Inches, Mph, OutOfRange};

/// Results by their number in the first byte of a putt.
const RESULTS: [PuttResult; 3] = [PuttResult::Holed, PuttResult::Missed, PuttResult::Conceded];
/// The number of a hole whose putts were recorded and were none.
const NO_PUTT: u8 = 0b11;
/// The bit of the first byte that says that a hole begins.
const BEGINS: u8 = 0b100;
/// Where the width of the played line stands in the first byte.
const PLAYED_AT: u8 = 3;

/// The recorded putts of one round, packed.
///
/// Records have few decimals, so a number mostly takes two bytes: hundredths, or else millionths in four, or else all
/// eight. Every number comes out as it went in.
///
/// # Shape
/// A putt is a byte (result, whether a hole begins, width of the played line), the hole's number where one begins, a byte
/// (two bits for the width of each other number), the numbers.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CompactPutts(Box<[u8]>);

impl CompactPutts {
    /// Packs the recorded putts of a card, by the number of the hole.
    pub fn of(holes: &[CardHole]) -> Self {
        let mut in_order: Vec<&CardHole> = holes.iter().collect();
        in_order.sort_by_key(|hole| hole.number);
        let mut bytes = Vec::with_capacity(12 * 36);
        for hole in in_order {
            if hole.putts.as_ref().is_some_and(Vec::is_empty) {
                bytes.extend([NO_PUTT | BEGINS, hole.number.get()]);
            }
            for (n, putt) in hole.putts.iter().flatten().enumerate() {
                let result = RESULTS.iter().position(|known| *known == putt.result).unwrap_or_default() as u8;
                let first_at = bytes.len();
                bytes.push(result);
                if n == 0 {
                    bytes[first_at] |= BEGINS;
                    bytes.push(hole.number.get());
                }
                let played = pack(putt, &mut bytes);
                bytes[first_at] |= played << PLAYED_AT;
            }
        }
        Self(bytes.into_boxed_slice())
    }

    /// Returns the putts by hole; holes without a putt are left out.
    pub fn by_hole(&self) -> Vec<Vec<Putt>> {
        self.numbered().into_iter().map(|(_, putts)| putts).filter(|putts| !putts.is_empty()).collect()
    }

    /// Returns the number and the putts of each hole whose putts were recorded, in order of numbers.
    pub fn numbered(&self) -> Vec<(u8, Vec<Putt>)> {
        let mut holes: Vec<(u8, Vec<Putt>)> = Vec::new();
        let mut bytes = Bytes(&self.0);
        while let Some(first) = bytes.next() {
            if first & BEGINS != 0 {
                holes.push((bytes.next().unwrap_or_default(), Vec::new()));
            }
            if first & 0b11 != NO_PUTT
                && let Some((_, putts)) = holes.last_mut()
            {
                putts.push(unpack(first, &mut bytes).expect("what was packed was in range"));
            }
        }
        holes
    }
}

/// Packs the numbers of a putt; returns the width of the played line.
fn pack(putt: &Putt, bytes: &mut Vec<u8>) -> u8 {
    let widths_at = bytes.len();
    bytes.push(0);
    let numbers = [
        Some(putt.distance_ft.get()),
        putt.elevation_in.map(Inches::get),
        putt.ball_speed_mph.map(Mph::get),
        putt.start_line_deg.map(Degrees::get),
    ];
    for (place, number) in numbers.into_iter().enumerate() {
        bytes[widths_at] |= number.map_or(0, |x| pack_number(x, bytes)) << (2 * place);
    }
    putt.played_line_deg.map_or(0, |line| pack_number(line.get(), bytes))
}

fn pack_number(x: f64, bytes: &mut Vec<u8>) -> u8 {
    let (hundredths, millionths) = ((x * 1e2).round(), (x * 1e6).round());
    // every legal value has fewer than 32,768 hundredths and 2^31 millionths
    if hundredths / 1e2 == x {
        bytes.extend((hundredths as i16).to_le_bytes());
        1
    } else if millionths / 1e6 == x {
        bytes.extend((millionths as i32).to_le_bytes());
        2
    } else {
        bytes.extend(x.to_le_bytes());
        3
    }
}

fn unpack(first: u8, bytes: &mut Bytes<'_>) -> Result<Putt, OutOfRange> {
    let widths = bytes.next().unwrap_or_default();
    let mut number = |place: u8| match if place == 4 { first >> PLAYED_AT } else { widths >> (2 * place) } & 0b11 {
        0 => None,
        1 => Some(f64::from(i16::from_le_bytes(bytes.take())) / 1e2),
        2 => Some(f64::from(i32::from_le_bytes(bytes.take())) / 1e6),
        _ => Some(f64::from_le_bytes(bytes.take())),
    };
    Ok(Putt {
        distance_ft: Feet::new(number(0).unwrap_or_default())?,
        elevation_in: number(1).map(Inches::new).transpose()?,
        ball_speed_mph: number(2).map(Mph::new).transpose()?,
        start_line_deg: number(3).map(Degrees::new).transpose()?,
        played_line_deg: number(4).map(Degrees::new).transpose()?,
        result: RESULTS[usize::from(first & 0b11)],
    })
}

/// Bytes that are read from the front.
struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn next(&mut self) -> Option<u8> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(*first)
    }

    fn take<const N: usize>(&mut self) -> [u8; N] {
        let (taken, rest) = self.0.split_first_chunk().expect("a packed number is whole");
        self.0 = rest;
        *taken
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::HoleNumber;
    use proptest::prelude::*;

    fn hole(number: i64, putts: Vec<Putt>) -> CardHole {
        CardHole {
            number: HoleNumber::new(number).unwrap(),
            strokes: None,
            picked_up: true,
            not_played: false,
            putts: Some(putts),
            putt_count: None,
        }
    }

    /// A number of some decimals within bounds, never 0.
    fn recorded(most: f64) -> impl Strategy<Value = f64> {
        (0..=17i32, 1e-9..most).prop_map(move |(decimals, x)| {
            let unit = 10f64.powi(decimals);
            let rounded = (x * unit).round() / unit;
            if rounded > 0.0 { rounded.min(most) } else { x }
        })
    }

    prop_compose! {
        fn putt()(
            d in recorded(200.0), h in prop::option::of(recorded(240.0)), v in prop::option::of(recorded(40.0)),
            line in prop::option::of((recorded(45.0), any::<bool>())), played in prop::option::of(recorded(45.0)),
            result in 0..3usize,
        ) -> Putt {
            Putt {
                distance_ft: Feet::new(d).unwrap(),
                elevation_in: h.map(|h| Inches::new(-h).unwrap()),
                ball_speed_mph: v.map(|v| Mph::new(v).unwrap()),
                start_line_deg: line.map(|(x, left)| Degrees::new(if left { -x } else { x }).unwrap()),
                played_line_deg: played.map(|x| Degrees::new(-x).unwrap()),
                result: RESULTS[result],
            }
        }
    }

    proptest! {
        #[test]
        fn what_is_packed_comes_out_as_it_went_in(
            holes in prop::collection::vec(prop::collection::vec(putt(), 0..6), 0..18),
        ) {
            let numbered = holes.iter().enumerate().map(|(n, putts)| hole(n as i64 + 1, putts.clone()));
            let due: Vec<Vec<Putt>> = holes.iter().filter(|putts| !putts.is_empty()).cloned().collect();
            // a card may list its holes in any order
            let packed = CompactPutts::of(&numbered.rev().collect::<Vec<_>>());
            prop_assert_eq!(packed.by_hole(), due);
            let numbered: Vec<(u8, Vec<Putt>)> = (1..).zip(holes).collect();
            prop_assert_eq!(packed.numbered(), numbered);
        }
    }

    #[test]
    fn a_usual_putt_takes_ten_bytes_and_a_hole_one() {
        let putt = Putt {
            distance_ft: Feet::new(31.5).unwrap(),
            elevation_in: Inches::new(-4.25).ok(),
            ball_speed_mph: Mph::new(6.13).ok(),
            start_line_deg: Degrees::new(-0.83).ok(),
            played_line_deg: None,
            result: PuttResult::Missed,
        };
        assert_eq!(CompactPutts::of(&[hole(1, vec![putt; 3])]).0.len(), 31);
    }
}
