//! Derived columns of a round: its card, the totals of its putts, its figures. Each is a few bytes and none is JSON, so that
//! a board or a table of thousands of rounds parses nothing.
//!
//! # Shape
//! Values as [`packing`](crate::domain::packing) writes them, one after the other.
//! ```text
//! card      outcome · all putts? · score of each hole, from the first hole on; a hole out of turn: 0 · its number · score
//! score     1 not played · 2 picked up · 3 + 2s holed in s · 4 + 2s picked up with s as the most likely score
//! putting   holes started · holes recorded · gains · expected putts
//! figures   tee · index? · index played off? · course handicap · gross? · adjusted gross? ·
//!           differential (denominator or 0, numerator) · flight?
//! ```
//! A question mark means that it may be missing. A round's ids stand in columns of their own, and its season is its event's.

use crate::domain::exact::Exact;
use crate::domain::facts::Outcome;
use crate::domain::ids::{EventId, MemberId, RoundId, SeasonId};
use crate::domain::packing::{Packer, Unpacker};
use crate::domain::putting::PuttingTotals;
use crate::domain::season::{CardDigest, Figures, Handicap, HoleScore};
use crate::domain::units::Tenths;

const OUTCOMES: [Outcome; 3] = [Outcome::Complete, Outcome::NoReturn, Outcome::Disqualified];
/// Says that the hole is not the next one, and that its number follows.
const OUT_OF_TURN: u32 = 0;
const NOT_PLAYED: u32 = 1;
const PICKED_UP: u32 = 2;
/// The score of a hole that was holed in none; each stroke adds 2, and 1 says that it was picked up.
const SCORED: u32 = 3;

fn outcome_byte(outcome: Outcome) -> u8 {
    OUTCOMES.iter().position(|known| *known == outcome).unwrap_or_default() as u8
}

fn outcome(bytes: &mut Unpacker<'_>) -> Option<Outcome> {
    OUTCOMES.get(usize::from(bytes.byte()?)).copied()
}

/// Packs a card's scores.
pub(super) fn card(card: &CardDigest) -> Vec<u8> {
    let mut packer = Packer::with_room_for(3 + card.holes.len());
    packer.byte(outcome_byte(card.outcome));
    packer.optional_whole(card.putts);
    let mut next = 1;
    for (number, score) in &card.holes {
        if *number != next {
            packer.whole(OUT_OF_TURN);
            packer.byte(*number);
        }
        packer.whole(match score {
            HoleScore::NotPlayed => NOT_PLAYED,
            HoleScore::PickedUp(None) => PICKED_UP,
            HoleScore::Holed(strokes) => SCORED + 2 * u32::from(*strokes),
            HoleScore::PickedUp(Some(strokes)) => SCORED + 2 * u32::from(*strokes) + 1,
        });
        next = number.wrapping_add(1);
    }
    packer.finish()
}

/// Unpacks a card's scores.
pub(super) fn card_of(bytes: &[u8]) -> Option<CardDigest> {
    let mut bytes = Unpacker::of(bytes);
    let (outcome, putts) = (outcome(&mut bytes)?, bytes.optional_whole()?);
    let (mut holes, mut next) = (Vec::with_capacity(18), 1u8);
    while !bytes.is_at_end() {
        let (mut number, mut score) = (next, bytes.whole()?);
        if score == OUT_OF_TURN {
            (number, score) = (bytes.byte()?, bytes.whole()?);
            if number == next {
                return None;
            }
        }
        let strokes = |of: u32| u8::try_from(of.checked_sub(SCORED)? / 2).ok();
        let score = match score {
            NOT_PLAYED => HoleScore::NotPlayed,
            PICKED_UP => HoleScore::PickedUp(None),
            holed if holed % 2 == SCORED % 2 => HoleScore::Holed(strokes(holed)?),
            picked_up => HoleScore::PickedUp(Some(strokes(picked_up)?)),
        };
        holes.push((number, score));
        next = number.wrapping_add(1);
    }
    Some(CardDigest { outcome, holes, putts })
}

/// Packs the totals of a round's putts.
pub(super) fn putting(totals: PuttingTotals) -> Vec<u8> {
    let mut packer = Packer::with_room_for(16);
    packer.whole(totals.holes);
    packer.whole(totals.recorded_holes);
    packer.signed(totals.gains);
    packer.signed(totals.expected);
    packer.finish()
}

/// Unpacks the totals of a round's putts.
pub(super) fn putting_of(bytes: &[u8]) -> Option<PuttingTotals> {
    let mut bytes = Unpacker::of(bytes);
    let totals = PuttingTotals {
        holes: bytes.whole()?,
        recorded_holes: bytes.whole()?,
        gains: bytes.signed()?,
        expected: bytes.signed()?,
    };
    bytes.is_at_end().then_some(totals)
}

/// Packs a round's figures.
pub(super) fn figures(figures: &Figures) -> Vec<u8> {
    let mut packer = Packer::with_room_for(64);
    packer.id(figures.tee.0);
    for index in [figures.handicap.league_index, figures.handicap.played_off] {
        packer.optional_signed(index.map(|index| index.0));
    }
    packer.signed(figures.course_handicap);
    for total in [figures.gross, figures.adjusted_gross] {
        packer.optional_signed(total);
    }
    match figures.differential {
        None => packer.whole(0u64),
        // A rating has one decimal and a slope three digits, so both fit by far.
        Some(differential) => {
            packer.whole(*differential.denom() as u64);
            packer.signed(*differential.numer() as i64);
        }
    }
    packer.optional_text(figures.flight.as_deref());
    packer.finish()
}

/// Whose figures they are.
#[derive(Clone, Copy, Debug)]
pub(super) struct Whose {
    pub(super) round: RoundId,
    pub(super) event: EventId,
    pub(super) season: SeasonId,
    pub(super) member: MemberId,
}

/// Unpacks a round's figures.
pub(super) fn figures_of(bytes: &[u8], whose: Whose, card: CardDigest, putting: PuttingTotals) -> Option<Figures> {
    let mut bytes = Unpacker::of(bytes);
    let Whose { round, event, season, member } = whose;
    let tee = bytes.id()?;
    let handicap = Handicap {
        league_index: bytes.optional_signed()?.map(Tenths),
        played_off: bytes.optional_signed()?.map(Tenths),
    };
    let course_handicap = bytes.signed()?;
    let (gross, adjusted_gross) = (bytes.optional_signed()?, bytes.optional_signed()?);
    let differential = match bytes.whole::<u64>()? {
        0 => None,
        over => Some(fraction(bytes.signed()?, over)?),
    };
    let flight = bytes.optional_text()?;
    bytes.is_at_end().then_some(Figures {
        round,
        event,
        season,
        member,
        flight,
        tee,
        card,
        handicap,
        course_handicap,
        gross,
        adjusted_gross,
        differential,
        putting,
    })
}

/// Returns a fraction that stands in its lowest terms.
fn fraction(number: i64, over: u64) -> Option<Exact> {
    let over = i128::from(over);
    Some(Exact::new(number.into(), over)).filter(|fraction| *fraction.denom() == over)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::ids::TeeId;
    use proptest::collection::vec;
    use proptest::option::of;
    use proptest::prelude::*;
    use uuid::Uuid;

    /// The longest card: 18 holes, each out of turn.
    const LONGEST_CARD: usize = 4 + 3 * 18;
    /// The longest figures but for the flight, whose name has at most 40 characters.
    const LONGEST_FIGURES: usize = 40;

    fn score() -> impl Strategy<Value = HoleScore> {
        prop_oneof![
            Just(HoleScore::NotPlayed),
            of(1..=30u8).prop_map(HoleScore::PickedUp),
            (1..=30u8).prop_map(HoleScore::Holed)
        ]
    }

    fn any_outcome() -> impl Strategy<Value = Outcome> {
        (0..OUTCOMES.len()).prop_map(|n| OUTCOMES[n])
    }

    /// No part of the bytes, and no longer bytes, are the bytes of anything.
    fn is_whole<T: PartialEq + std::fmt::Debug>(bytes: &[u8], value: &T, read: impl Fn(&[u8]) -> Option<T>) {
        assert_eq!(read(bytes).as_ref(), Some(value));
        assert!((0..bytes.len()).all(|end| read(&bytes[..end]).as_ref() != Some(value)));
        assert_ne!(read(&[bytes, &[0]].concat()).as_ref(), Some(value));
    }

    proptest! {
        #[test]
        fn a_card_comes_back(outcome in any_outcome(), holes in vec((1..=18u8, score()), 0..=18), putts in of(0..2_000u32)) {
            let due = CardDigest { outcome, holes, putts };
            let bytes = card(&due);
            prop_assert!(bytes.len() <= LONGEST_CARD, "{}", bytes.len());
            is_whole(&bytes, &due, card_of);
        }

        #[test]
        fn the_totals_of_putts_come_back(holes in 0..=18u32, recorded_holes in 0..=18u32, gains: i64, expected: i64) {
            let due = PuttingTotals { holes, recorded_holes, gains, expected };
            is_whole(&putting(due), &due, putting_of);
        }

        #[test]
        fn figures_come_back(
            ids in any::<[u128; 5]>(),
            flight in of("\\PC{1,40}"),
            indexes in [of(-540..=540i32), of(-540..=540i32)],
            course_handicap in -200..=200i32,
            totals in [of(-999..=999i32), of(-999..=999i32)],
            differential in of((-1_000_000..=1_000_000i64, 1..=1_550i64)),
        ) {
            let [round, event, season, member, tee] = ids.map(Uuid::from_u128);
            let putting = PuttingTotals { holes: 18, ..PuttingTotals::default() };
            let card = CardDigest { outcome: Outcome::Complete, holes: vec![(1, HoleScore::Holed(4))], putts: None };
            let due = Figures {
                round: RoundId(round),
                event: EventId(event),
                season: SeasonId(season),
                member: MemberId(member),
                flight,
                tee: TeeId(tee),
                card: card.clone(),
                handicap: Handicap { league_index: indexes[0].map(Tenths), played_off: indexes[1].map(Tenths) },
                course_handicap,
                gross: totals[0],
                adjusted_gross: totals[1],
                differential: differential.map(|(number, over)| Exact::new(number.into(), over.into())),
                putting,
            };
            let bytes = figures(&due);
            let longest = LONGEST_FIGURES + due.flight.as_ref().map_or(0, |name| name.len());
            prop_assert!(bytes.len() <= longest, "{}", bytes.len());
            let whose = Whose { round: due.round, event: due.event, season: due.season, member: due.member };
            is_whole(&bytes, &due, |bytes| figures_of(bytes, whose, card.clone(), putting));
        }
    }

    #[test]
    fn a_round_of_eighteen_holes_takes_few_bytes() {
        let holes = (1..=18).map(|number| (number, HoleScore::Holed(4 + number % 3))).collect();
        assert_eq!(card(&CardDigest { outcome: Outcome::Complete, holes, putts: Some(32) }).len(), 20);
        let totals = PuttingTotals { holes: 18, recorded_holes: 18, gains: -2_345_678_901, expected: 30_123_456_789 };
        assert!(putting(totals).len() <= 13);
    }
}
