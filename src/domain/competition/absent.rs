//! Stand-ins: the net scores that count for an absent player's team.

use crate::exact::{Exact, whole};

/// Who stands in; the terms decide.
///
/// # Source
/// Common practice, no source.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum StandIn {
    /// Nobody: the opponent has a walk-over.
    Forfeit,
    /// Net par and so many strokes on each hole.
    NetParPlus(Exact),
    /// The player's own recent totals against net par, averaged and spread evenly over the holes.
    OwnAverage {
        /// Those totals.
        recent: Vec<Exact>,
        /// What stands in where there is none: so many strokes on each hole, as in [`NetParPlus`](Self::NetParPlus).
        otherwise: Exact,
    },
    /// Net par, so the opponent plays against it.
    OpponentToPar,
}

impl StandIn {
    /// Returns the net scores hole by hole; `None` for a forfeit.
    ///
    /// They are net, so strokes received do not change them.
    ///
    /// # Formula
    /// ```text
    /// own average: par + (Σ recent / number of recent) / number of holes     exact, unrounded
    /// ```
    pub fn net_holes(&self, pars: &[u8]) -> Option<Vec<Exact>> {
        let over_par = match self {
            Self::Forfeit => return None,
            Self::NetParPlus(plus) => *plus,
            Self::OwnAverage { recent, otherwise } if recent.is_empty() => *otherwise,
            Self::OwnAverage { recent, .. } => {
                recent.iter().sum::<Exact>() / whole(recent.len() as i128) / whole(pars.len() as i128)
            }
            Self::OpponentToPar => whole(0),
        };
        Some(pars.iter().map(|&par| whole(par) + over_par).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stand_in_plays_evenly_over_the_holes() {
        fn check(stand_in: StandIn, expect: Option<[Exact; 2]>) {
            assert_eq!(stand_in.net_holes(&[4, 3]), expect.map(Vec::from));
        }
        let average = |recent: &[i32]| StandIn::OwnAverage {
            recent: recent.iter().map(|&to_par| whole(to_par)).collect(),
            otherwise: whole(1),
        };
        check(StandIn::Forfeit, None);
        check(StandIn::OpponentToPar, Some([whole(4), whole(3)]));
        check(StandIn::NetParPlus(Exact::new(1, 2)), Some([Exact::new(9, 2), Exact::new(7, 2)]));
        check(average(&[]), Some([whole(5), whole(4)]));
        check(average(&[3, 4, 7]), Some([whole(4) + Exact::new(7, 3), whole(3) + Exact::new(7, 3)]));
        check(average(&[-4]), Some([whole(2), whole(1)]));
    }
}
