//! Who competes as one: a player, or several with a ball each.

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};
use std::collections::BTreeMap;

/// The most balls of a side.
pub const MOST_BALLS: u8 = 6;
/// The pars of holes.
const PARS: std::ops::RangeInclusive<u8> = 3..=6;

/// Who competes as one.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", from = "AsSent")]
pub enum Side {
    #[default]
    Player,
    /// Several players, each with an own ball, of which the best so many count.
    Best { of: u8, count: BallCount, by: CountedBy },
}

/// A side as people write it.
#[derive(Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum AsSent {
    Player {},
    Best {
        of: u8,
        count: BallCount,
        #[serde(default)]
        by: CountedBy,
    },
}

impl From<AsSent> for Side {
    fn from(sent: AsSent) -> Self {
        match sent {
            AsSent::Player {} => Self::Player,
            AsSent::Best { of, count, by } => Self::Best { of, count, by },
        }
    }
}

/// How many balls count on a hole.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(untagged)]
pub enum BallCount {
    /// So many on every hole.
    Always(u8),
    /// So many by the hole's par.
    ByPar(BTreeMap<u8, u8>),
}

impl<'de> Deserialize<'de> for BallCount {
    /// Reads names as texts: serde buffers an object whose kind it does not know yet, and a buffered name is no number.
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum AsSent {
            Always(u8),
            ByPar(BTreeMap<String, u8>),
        }
        match AsSent::deserialize(deserializer)? {
            AsSent::Always(count) => Ok(Self::Always(count)),
            AsSent::ByPar(counts) => {
                let entry = |(par, count): (String, u8)| Ok((par.parse().map_err(D::Error::custom)?, count));
                Ok(Self::ByPar(counts.into_iter().map(entry).collect::<Result<_, _>>()?))
            }
        }
    }
}

/// What the best balls are the best of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum CountedBy {
    #[default]
    Hole,
    Card,
}

impl BallCount {
    /// Returns how many count on a hole of a par; where none is named for it, as many as on the next lower one.
    pub fn on(&self, par: u8) -> usize {
        match self {
            Self::Always(count) => usize::from(*count),
            Self::ByPar(counts) => {
                let lower = counts.range(..=par).next_back();
                usize::from(*lower.or(counts.iter().next()).map_or(&1, |(_, count)| count))
            }
        }
    }

    fn greatest(&self) -> u8 {
        match self {
            Self::Always(count) => *count,
            Self::ByPar(counts) => counts.values().copied().max().unwrap_or_default(),
        }
    }
}

impl Side {
    /// Returns how many balls a side has.
    pub fn balls(&self) -> usize {
        match self {
            Self::Player => 1,
            Self::Best { of, .. } => usize::from(*of),
        }
    }

    /// Returns how many of them count on holes of par 3, 4, 5 and 6.
    pub fn counts(&self) -> [usize; 4] {
        match self {
            Self::Player => [1; 4],
            Self::Best { count, .. } => [3, 4, 5, 6].map(|par| count.on(par)),
        }
    }

    /// Finds what the numbers of balls break, with the nearest that does not.
    pub(super) fn misfit(&self) -> Option<(&'static str, &'static str)> {
        let Self::Best { of, count, .. } = self else { return None };
        match count {
            _ if count.greatest() > *of => {
                Some(("/side/count", "no more balls can count than a side has: count at most as many"))
            }
            BallCount::ByPar(counts) if ![3, 4, 5].iter().all(|par| counts.contains_key(par)) => Some((
                "/side/count",
                "a count by par names par 3, 4 and 5; par 6 counts as par 5 where it is not named",
            )),
            BallCount::Always(_) | BallCount::ByPar(_) => None,
        }
    }
}

/// Says on which holes a count by par is another: such as 1 of par 3 and 4, 2 of par 5.
pub fn counts_in_words(counts: [usize; 4]) -> String {
    if counts.iter().all(|count| *count == counts[0]) {
        return format!("the best {} on each hole", counts[0]);
    }
    let by_par: Vec<String> =
        PARS.zip(counts).map(|(par, count)| format!("the best {count} on a hole of par {par}")).collect();
    by_par.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn sides_are_read_and_written() {
        let check = |sent: serde_json::Value, expect: Side, written: serde_json::Value| {
            let side: Side = serde_json::from_value(sent).expect("a side");
            assert_eq!(side, expect);
            assert_eq!(serde_json::to_value(&side).expect("values"), written);
        };
        check(json!({ "kind": "player" }), Side::Player, json!({ "kind": "player" }));
        let four_ball = Side::Best { of: 2, count: BallCount::Always(1), by: CountedBy::Hole };
        let written = json!({ "kind": "best", "of": 2, "count": 1, "by": "hole" });
        check(json!({ "kind": "best", "of": 2, "count": 1 }), four_ball, written);
        let by_par = json!({ "kind": "best", "of": 4, "count": { "3": 1, "4": 2, "5": 3 }, "by": "hole" });
        let side: Side = serde_json::from_value(by_par.clone()).expect("a side");
        assert_eq!((side.balls(), side.counts()), (4, [1, 2, 3, 3]));
        assert_eq!(serde_json::to_value(&side).expect("values"), by_par);
        assert_eq!(counts_in_words([1; 4]), "the best 1 on each hole");
        assert!(counts_in_words(side.counts()).starts_with("the best 1 on a hole of par 3, the best 2 on"));
    }
}
