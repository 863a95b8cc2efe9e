//! A player's putting report: over many rounds by distance, and what the putts themselves say.

use super::advice::{Advice, Chart};
use super::band::Band;
use super::baseline::{Baseline, Yardstick};
use super::conditions::{ByGreen, BySlope, Misses};
use super::gained;
use super::holes::{FirstPutts, HoleEnds};
use super::player::{PlayerPutting, ratio_of};
use super::sums::{BAND_EDGES_FT, BandSums, PuttingSums, six_decimals};
use crate::facts::{Practice, Putt, PuttResult};
use crate::ids::{EventId, MemberId, SetupId};
use crate::putting::struck::{Struck, rounded};
use crate::units::{Feet, Stimp, StrokesGained};
use jiff::civil::Date;
use serde::Serialize;

/// What a report needs of one counting round.
#[derive(Clone, Debug, PartialEq)]
pub struct PuttedRound {
    pub event: EventId,
    pub date: Date,
    /// What it was putted on, where that is known.
    pub setup: Option<SetupId>,
    /// The green speed.
    pub stimp: Stimp,
    /// Holes started.
    pub holes: u32,
    /// Holes whose putts were recorded, chip-ins included.
    pub recorded_holes: u32,
    /// All putts, bare counts included; `None` where a hole tells nothing.
    pub putts: Option<u32>,
    /// The recorded putts by hole, in the order of holes and putts; a chip-in may be left out.
    pub by_hole: Vec<Vec<Putt>>,
    /// The number of each of these holes, where it is known.
    pub numbers: Vec<u8>,
    /// Putts up to this distance count for nothing: their softening was declared, and the season leaves them out.
    pub left_out: Option<Feet>,
}

/// A putting report.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PuttingReport {
    /// Whose it is.
    pub member_id: MemberId,
    /// Counting rounds.
    pub rounds: u32,
    /// All putts, conceded ones and bare counts included; `None` where a hole tells nothing.
    pub putts: Option<u32>,
    /// The conceded putts among them.
    pub conceded: Conceded,
    /// Holes started.
    pub holes: u32,
    /// Holes whose putts were recorded.
    pub recorded_holes: u32,
    /// What the figures are compared with.
    pub baseline: Yardstick,
    /// Strokes gained over all recorded holes.
    pub strokes_gained_total: f64,
    /// Strokes gained for 18 recorded holes; `None` without one.
    pub strokes_gained_per_round: Option<f64>,
    /// Feet of all putts that were holed.
    pub feet_holed_total: f64,
    /// The longest putt that was holed; `None` without one.
    pub longest_holed_ft: Option<f64>,
    /// The holes that were putted out, by all first putts.
    pub first_putts: FirstPutts,
    /// The same by the distance of the first putt: every band.
    pub first_putts_by_distance: Vec<FirstPutts>,
    /// Where missed putts went.
    pub misses: Misses,
    /// The struck putts by climb and fall.
    pub slopes: BySlope,
    /// The struck putts by green speed.
    pub greens: ByGreen,
    /// The struck putts by distance: every band, also one without putts.
    pub bands: Vec<Band>,
    /// What the putts say of line, pace, causes and set-ups.
    #[serde(flatten)]
    pub player: PlayerPutting,
    pub advice: Advice,
}

/// The conceded putts of a report.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Conceded {
    /// How many.
    pub putts: u32,
    /// Strokes gained that rest on them, over all rounds.
    pub strokes_gained_total: f64,
}

impl PuttedRound {
    /// Puts a hole's putts together with what belongs to them, but for those that count for nothing.
    pub(super) fn struck(&self, hole: &[Putt], gains: Vec<StrokesGained>) -> impl Iterator<Item = Struck> {
        let of = move |(n, (putt, gain)): (usize, (&Putt, StrokesGained))| {
            let leave_ft = hole.get(n + 1).map(|next| next.distance_ft);
            Struck { setup: self.setup, stimp: self.stimp, putt: *putt, leave_ft, gain }
        };
        let is_left_out = |putt: &Putt| self.left_out.is_some_and(|left_out| putt.distance_ft <= left_out);
        hole.iter().zip(gains).enumerate().filter(move |(_, (putt, _))| !is_left_out(putt)).map(of)
    }
}

impl PuttingReport {
    /// Makes the report of a member's counting rounds.
    ///
    /// # Shape
    /// `rounds` in the order of events: the floats are summed in that order, so that the same rounds always give the
    /// same digits.
    pub fn of(member_id: MemberId, rounds: &[PuttedRound], baseline: &Baseline) -> Self {
        let (mut sums, mut struck, mut taken) = (PuttingSums::default(), Vec::new(), Some(0));
        let (mut putts, mut ends) = (Vec::new(), HoleEnds::default());
        for round in rounds {
            sums.totals.holes += round.holes;
            sums.totals.recorded_holes += round.recorded_holes;
            taken = taken.zip(round.putts).map(|(taken, putts)| taken + putts);
            for hole in &round.by_hole {
                putts.clear();
                putts.extend(hole.iter().map(|putt| (putt.distance_ft, putt.result)));
                let gains = gained::hole(&putts, baseline);
                ends.add(hole, baseline);
                sums.add_hole(&putts, &gains, baseline, round.left_out);
                struck.extend(round.struck(hole, gains));
            }
        }
        Self::put_together(member_id, rounds.len() as u32, taken, (&sums, &ends), struck, baseline)
    }

    /// Makes the report of practised putts: in the same shape, with no round and no hole in it, and so with nothing
    /// that is told for a round.
    ///
    /// A practised putt stands alone: its leave is what was recorded with it. A miss without one is taken to leave what
    /// the baseline's misses leave.
    ///
    /// # Shape
    /// `blocks` by day and id, oldest first.
    pub fn of_practice(member_id: MemberId, blocks: &[Practice], baseline: &Baseline) -> Self {
        let (mut sums, mut ends, mut struck) = (PuttingSums::default(), HoleEnds::default(), Vec::new());
        for block in blocks {
            for practised in &block.putts {
                let (putt, leave_ft) = (practised.putt, practised.leave_ft);
                let gain = gained::alone(putt.distance_ft, putt.result, leave_ft, baseline);
                ends.add_holed(&putt);
                sums.add_putt(putt.distance_ft, putt.result, gain, baseline);
                struck.push(Struck { setup: block.setup_id, stimp: block.stimp_ft, putt, leave_ft, gain });
            }
        }
        let putts = struck.len() as u32;
        Self::put_together(member_id, 0, Some(putts), (&sums, &ends), struck, baseline)
    }

    fn put_together(
        member_id: MemberId,
        rounds: u32,
        putts: Option<u32>,
        (sums, ends): (&PuttingSums, &HoleEnds),
        mut struck: Vec<Struck>,
        baseline: &Baseline,
    ) -> Self {
        let holes = sums.totals.recorded_holes;
        let bands: Vec<Band> =
            (0..BAND_EDGES_FT.len() as u8 - 1).map(|band| Band::of(&sums.band(band), holes)).collect();
        let all = sums.bands.iter().fold(BandSums::default(), |mut all, band| {
            all.add(band);
            all
        });
        let chart = Chart { bands: &bands, all: Band::of(&all, holes) };
        struck.retain(|putt| putt.putt.result != PuttResult::Conceded);
        let player = PlayerPutting::of(&struck, holes);
        let (first_putts, first_putts_by_distance) = ends.rows();
        let advice = Advice::of(&struck, &player, &chart, holes, baseline);
        Self {
            member_id,
            rounds,
            putts,
            conceded: Conceded {
                putts: sums.conceded,
                strokes_gained_total: six_decimals(i128::from(sums.conceded_gains), 1),
            },
            holes: sums.totals.holes,
            recorded_holes: sums.totals.recorded_holes,
            baseline: baseline.name(),
            strokes_gained_total: six_decimals(i128::from(sums.totals.gains), 1),
            strokes_gained_per_round: sums.totals.gained_per_round(),
            feet_holed_total: rounded(ends.feet_holed),
            longest_holed_ft: ends.longest_holed_ft.map(rounded),
            first_putts,
            first_putts_by_distance,
            misses: Misses::of(&struck, |putt| ratio_of(&player.setups, putt)),
            slopes: BySlope::of(&struck, baseline),
            greens: ByGreen::of(&struck, baseline),
            bands,
            player,
            advice,
        }
    }
}
