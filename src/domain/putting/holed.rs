//! What each member of a season holed, by distance: for setting some of them beside all others.

use super::PuttResult;
use super::field::PlainHole;
use crate::ids::MemberId;
use std::collections::{BTreeMap, BTreeSet};

/// The longest putt that is counted, in feet.
const FEET: usize = 60;
/// Fewer others tell nothing of a field, and too much of each of them (evenfield's own convention).
pub const FEWEST_OTHERS: usize = 5;

/// Putts struck and holed by each member from each foot: the first up to 1 ft, the last from 59 to 60.
#[derive(Clone, Debug, Default)]
pub struct HoledByFoot(BTreeMap<MemberId, [(u32, u32); FEET]>);

impl HoledByFoot {
    /// Counts the putts of a season's attested rounds: those that the field's baseline rests on.
    pub fn of(rounds: impl IntoIterator<Item = (MemberId, impl AsRef<[PlainHole]>)>) -> Self {
        let mut counts = Self::default();
        for (member, holes) in rounds {
            let by_foot = counts.0.entry(member).or_insert([(0, 0); FEET]);
            for (distance, result) in holes.as_ref().iter().flatten() {
                let foot = (distance.get().ceil() as usize).saturating_sub(1);
                if let (Some((putts, holed)), true) = (by_foot.get_mut(foot), *result != PuttResult::Conceded) {
                    *putts += 1;
                    *holed += u32::from(*result == PuttResult::Holed);
                }
            }
        }
        counts
    }

    /// Returns the share that all but `these` members holed from beyond `from_ft` up to `to_ft`, both whole feet, to three
    /// decimals; `None` where fewer than five others putted.
    pub fn of_others(&self, these: &BTreeSet<MemberId>, from_ft: f64, to_ft: f64) -> Option<f64> {
        let feet = (from_ft as usize).min(FEET)..(to_ft as usize).min(FEET);
        let others = self.0.iter().filter(|(member, _)| !these.contains(member));
        let counts = others.map(|(_, by_foot)| {
            by_foot[feet.clone()].iter().fold((0, 0), |(putts, holed), (more, fell)| (putts + more, holed + fell))
        });
        let counts: Vec<(u32, u32)> = counts.filter(|(putts, _)| *putts > 0).collect();
        let (putts, holed) = counts.iter().fold((0, 0), |(putts, holed), (more, fell)| (putts + more, holed + fell));
        let share = || (1_000.0 * f64::from(holed) / f64::from(putts)).round() / 1_000.0;
        (counts.len() >= FEWEST_OTHERS).then(share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Feet;
    use PuttResult::{Conceded, Holed, Missed};
    use uuid::Uuid;

    fn member(n: u128) -> MemberId {
        MemberId(Uuid::from_u128(n))
    }

    fn hole(putts: &[(f64, PuttResult)]) -> PlainHole {
        putts.iter().map(|(distance, result)| (Feet::new(*distance).unwrap(), *result)).collect()
    }

    fn counted(rounds: &[(u128, PlainHole)]) -> HoledByFoot {
        HoledByFoot::of(rounds.iter().map(|(n, hole)| (member(*n), std::slice::from_ref(hole))))
    }

    #[test]
    fn the_share_of_others_leaves_out_those_whom_it_stands_beside() {
        let one = |n| (n, hole(&[(8.0, Missed), (2.0, Holed)]));
        let rounds: Vec<_> = (0..6).map(one).chain([(9, hole(&[(8.0, Holed)])), (9, hole(&[(7.1, Holed)]))]).collect();
        let counts = counted(&rounds);
        let these = BTreeSet::from([member(9)]);
        // six others missed from 8 ft; with the two that fell, 2 of 8
        assert_eq!(counts.of_others(&these, 7.0, 10.0), Some(0.0));
        assert_eq!(counts.of_others(&BTreeSet::new(), 7.0, 10.0), Some(0.25));
        assert_eq!(counts.of_others(&these, 0.0, 3.0), Some(1.0));
    }

    #[test]
    fn fewer_than_five_others_are_not_shown_however_often_they_putted() {
        let rounds = |players: u128| -> Vec<(u128, PlainHole)> {
            (0..40).map(|n| (n % players, hole(&[(4.5, if n % 3 == 0 { Holed } else { Missed })]))).collect()
        };
        let (four, five) = (counted(&rounds(4)), counted(&rounds(5)));
        assert_eq!(four.of_others(&BTreeSet::new(), 3.0, 5.0), None);
        // 14 of 40
        assert_eq!(five.of_others(&BTreeSet::new(), 3.0, 5.0), Some(0.35));
        assert_eq!(five.of_others(&BTreeSet::from([member(0)]), 3.0, 5.0), None);
        assert_eq!(five.of_others(&BTreeSet::new(), 5.0, 7.0), None, "nobody putted from there");
    }

    #[test]
    fn a_foot_begins_beyond_the_last_and_conceded_or_endless_putts_are_not_counted() {
        let putts = [(5.0, Holed), (5.1, Missed), (60.0, Missed), (60.5, Missed), (199.0, Missed), (1.0, Conceded)];
        let rounds: Vec<_> = (0..5).map(|n| (n, hole(&putts))).collect();
        let share = |from, to| counted(&rounds).of_others(&BTreeSet::new(), from, to);
        assert_eq!((share(3.0, 5.0), share(5.0, 7.0)), (Some(1.0), Some(0.0)));
        assert_eq!((share(20.0, 60.0), share(0.0, 3.0)), (Some(0.0), None));
        assert_eq!(share(0.0, 60.0), Some(0.333));
    }
}
