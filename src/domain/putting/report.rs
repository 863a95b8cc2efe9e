//! A player's putting report: over many rounds by distance, and what the putts themselves say.

use super::baseline::{Baseline, Yardstick};
use super::gained;
use super::player::PlayerPutting;
use super::spread::half_interval;
use super::sums::{BAND_EDGES_FT, BandSums, PuttingSums, six_decimals};
use crate::domain::facts::{Practice, Putt};
use crate::domain::ids::{MemberId, SetupId};
use crate::domain::putting::struck::Struck;
use crate::domain::units::{Feet, Stimp, StrokesGained};
use serde::Serialize;

/// What a report needs of one counting round.
#[derive(Clone, Debug, PartialEq)]
pub struct PuttedRound {
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
    /// Strokes gained for 18 recorded holes.
    pub strokes_gained_per_round: Option<f64>,
    /// The struck putts by distance: every band, also one without putts.
    pub bands: Vec<Band>,
    /// What the putts say of line, pace, causes, set-ups and practice.
    #[serde(flatten)]
    pub player: PlayerPutting,
}

/// The conceded putts of a report.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Conceded {
    /// How many.
    pub putts: u32,
    /// Strokes gained that rest on them, over all rounds.
    pub strokes_gained: f64,
}

/// The struck putts of one distance band, over all rounds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Band {
    /// The band's lower edge, excluded.
    pub from_ft: f64,
    /// The band's upper edge, included.
    pub to_ft: f64,
    /// Putts struck.
    pub putts: u32,
    /// Putts holed.
    pub made: u32,
    /// Putts that the baseline holes from there.
    pub expected_made: f64,
    /// Strokes gained, all putts of the band together.
    pub strokes_gained: f64,
    /// Lower end of the 95 % interval of `strokes_gained`; `None` below five putts.
    pub low: Option<f64>,
    /// Upper end of that interval.
    pub high: Option<f64>,
}

/// The fewest putts of a band for an interval to be given.
pub const FEWEST_FOR_INTERVAL: u32 = 5;

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
        let mut putts = Vec::new();
        for round in rounds {
            sums.totals.holes += round.holes;
            sums.totals.recorded_holes += round.recorded_holes;
            taken = taken.zip(round.putts).map(|(taken, putts)| taken + putts);
            for hole in &round.by_hole {
                putts.clear();
                putts.extend(hole.iter().map(|putt| (putt.distance_ft, putt.result)));
                let gains = gained::hole(&putts, baseline);
                sums.add_hole(&putts, &gains, baseline, round.left_out);
                struck.extend(round.struck(hole, gains));
            }
        }
        Self::put_together(member_id, rounds.len() as u32, taken, &sums, struck, baseline)
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
        let (mut sums, mut struck) = (PuttingSums::default(), Vec::new());
        for block in blocks {
            for practised in &block.putts {
                let (putt, leave_ft) = (practised.putt, practised.leave_ft);
                let gain = gained::alone(putt.distance_ft, putt.result, leave_ft, baseline);
                sums.add_putt(putt.distance_ft, putt.result, gain, baseline);
                struck.push(Struck { setup: block.setup_id, stimp: block.stimp_ft, putt, leave_ft, gain });
            }
        }
        let putts = struck.len() as u32;
        Self::put_together(member_id, 0, Some(putts), &sums, struck, baseline)
    }

    fn put_together(
        member_id: MemberId,
        rounds: u32,
        putts: Option<u32>,
        sums: &PuttingSums,
        struck: Vec<Struck>,
        baseline: &Baseline,
    ) -> Self {
        let bands: Vec<Band> = (0..BAND_EDGES_FT.len() as u8 - 1).map(|band| Band::of(&sums.band(band))).collect();
        let player =
            PlayerPutting::of(struck, sums.totals.recorded_holes, baseline, |from_ft| lost_most(from_ft, &bands));
        Self {
            member_id,
            rounds,
            putts,
            conceded: Conceded {
                putts: sums.conceded,
                strokes_gained: six_decimals(i128::from(sums.conceded_gains), 1),
            },
            holes: sums.totals.holes,
            recorded_holes: sums.totals.recorded_holes,
            baseline: baseline.name(),
            strokes_gained_per_round: sums.totals.gained_per_round(),
            bands,
            player,
        }
    }
}

/// Says whether a band lost most of all, and is not certainly above the baseline. What to practise comes from a model of the
/// player's spreads; it is told only for the distance where strokes were lost.
fn lost_most(from_ft: f64, bands: &[Band]) -> bool {
    let struck = || bands.iter().filter(|band| band.putts > 0);
    let own = struck().find(|band| band.from_ft == from_ft);
    own.is_some_and(|own| {
        let is_worst = struck().all(|other| own.strokes_gained <= other.strokes_gained);
        is_worst && own.low.unwrap_or(own.strokes_gained) <= 0.0
    })
}

impl Band {
    /// Works out a band's figures; its interval is [`half_interval`] to either side.
    fn of(sums: &BandSums) -> Self {
        let half = (sums.putts >= FEWEST_FOR_INTERVAL)
            .then(|| half_interval(f64::from(sums.putts), sums.gains as f64 / 1e9, sums.squares));
        let edge =
            |sign: f64| half.map(|half| six_decimals(((sums.gains as f64 + sign * half * 1e9).round()) as i128, 1));
        Self {
            from_ft: BAND_EDGES_FT[usize::from(sums.band)],
            to_ft: BAND_EDGES_FT[usize::from(sums.band) + 1],
            putts: sums.putts,
            made: sums.made,
            expected_made: six_decimals(i128::from(sums.expected_made), 1),
            strokes_gained: six_decimals(i128::from(sums.gains), 1),
            low: edge(-1.0),
            high: edge(1.0),
        }
    }
}
