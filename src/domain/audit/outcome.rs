//! What a ball and a hole make of a putt whose line was measured.

use super::geometry::{Beyond, SLICES, chance_inside, half_width_deg, reach_ft, slice_widths_deg};
use super::readings::PuttReading;
use crate::units::Stimp;

/// The share of absurd records.
const OUTLIERS: f64 = 0.03;

/// What a putt did, seen under each pace.
pub(super) struct Outcome {
    pub(super) distance_ft: f64,
    line_deg: f64,
    is_holed: bool,
    widths: [f64; SLICES],
    slices: Vec<[f64; SLICES]>,
    /// A miss that stopped somewhere: the room for the line at that pace, and the densities of short and long.
    stopped: Option<(f64, Vec<(f64, f64)>)>,
    outlier: f64,
}

impl Outcome {
    pub(super) fn of(putt: &PuttReading, line_deg: f64, stimp: Stimp, paces: impl Iterator<Item = Beyond>) -> Self {
        let reach_ft = reach_ft(stimp);
        let paces: Vec<Beyond> = paces.collect();
        let leave = putt.leave_ft.filter(|_| !putt.is_holed);
        // an absurd record holes half of the time, and leaves anything of the size of a leave
        let scale_ft = 2.0 + 0.1 * putt.distance_ft;
        Self {
            distance_ft: putt.distance_ft,
            line_deg,
            is_holed: putt.is_holed,
            widths: slice_widths_deg(putt.distance_ft, reach_ft),
            slices: paces.iter().map(|pace| pace.slices(reach_ft)).collect(),
            stopped: leave.map(|leave| {
                let width = half_width_deg(putt.distance_ft, leave, reach_ft);
                (width, paces.iter().map(|pace| (pace.density(-leave), pace.density(leave))).collect())
            }),
            outlier: OUTLIERS * 0.5 * leave.map_or(1.0, |leave| (-leave / scale_ft).exp() / scale_ft),
        }
    }

    /// Writes the likelihoods of the outcome, a pace each, if the ball runs along `share` of the measured line.
    ///
    /// # Formula
    /// ```text
    /// holed: Σ over slices of pace · chance of the line inside the slice's room
    /// missed, leave l: density(short by l) + density(long by l) · chance of the line outside the room at that pace
    /// ```
    /// A leave is taken as the distance along the line: so the chances of all outcomes add up to 1.
    pub(super) fn likelihoods(&self, share: f64, error_deg: f64, to: &mut [f64]) {
        let mean = share * self.line_deg;
        if let (false, Some((width, densities))) = (self.is_holed, &self.stopped) {
            let outside = 1.0 - chance_inside(*width, mean, error_deg);
            for (to, (short, long)) in to.iter_mut().zip(densities) {
                *to = (1.0 - OUTLIERS) * (short + long * outside) + self.outlier;
            }
            return;
        }
        let chances = self.widths.map(|width| chance_inside(width, mean, error_deg));
        for (to, slices) in to.iter_mut().zip(&self.slices) {
            let holed: f64 = slices.iter().zip(chances).map(|(slice, chance)| slice * chance).sum();
            *to = (1.0 - OUTLIERS) * if self.is_holed { holed } else { 1.0 - holed } + self.outlier;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::simulated::putt;
    use super::*;

    #[test]
    fn the_chances_of_all_outcomes_add_up_to_1() {
        let stimp = Stimp::new(10.0).unwrap();
        for (distance, line, roll, error) in [(8.0, 0.7, 9.5, 0.45), (20.0, -1.5, 19.0, 0.9), (4.0, 0.0, 7.0, 0.2)] {
            let pace = || [Beyond { mean_ft: roll - distance, sd_ft: 0.9 }].into_iter();
            let likelihood = |leave: Option<f64>| {
                let mut found = [0.0];
                let putt = PuttReading { is_holed: leave.is_none(), leave_ft: leave, ..putt(distance) };
                Outcome::of(&putt, line, stimp, pace()).likelihoods(1.0, error, &mut found);
                found[0]
            };
            let steps = 40_000;
            let leaves = (0..steps).map(|n| likelihood(Some(0.001 * (f64::from(n) + 0.5))) * 0.001);
            let sum = likelihood(None) + leaves.sum::<f64>();
            // 0.01: six slices stand in for the whole range of pace
            assert!((sum - 1.0).abs() < 0.01, "{distance} ft: {sum}");
        }
    }
}
