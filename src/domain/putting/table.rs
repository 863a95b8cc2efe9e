//! The putting of a season's players in one table.

use super::spread::t_975;
use super::struck::rounded;
use super::sums::{PuttingTotals, per_round, six_decimals};
use crate::competition::places::rank_by;
use crate::ids::MemberId;
use serde::Serialize;
use std::collections::BTreeMap;

/// The fewest rounds from which an interval is told.
const FEWEST_ROUNDS: usize = 5;
const HOLES: f64 = 18.0;

/// A player's putting in a season, against the tour.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PuttingRow {
    /// The position; `None` below the fewest holes.
    pub position: Option<u32>,
    pub member_id: MemberId,
    /// Rounds with a hole whose putts were recorded.
    pub rounds: u32,
    /// Holes whose putts were recorded.
    pub recorded_holes: u32,
    pub strokes_gained_total: f64,
    /// Strokes gained for 18 recorded holes.
    pub strokes_gained_per_round: f64,
    /// Lower end of its 95 % interval; `None` below five rounds.
    pub low_per_round: Option<f64>,
    pub high_per_round: Option<f64>,
}

/// Ranks players by strokes gained for 18 recorded holes, those with `fewest_holes` at least; the others follow. Equals share
/// a position.
///
/// # Formula
/// ```text
/// rate     r = 18 · Σg / Σh                                       of rounds with gains g over h recorded holes
/// interval r ± t(0.975, n − 1) · 18 / Σh · sqrt(n / (n − 1) · Σ(g − r h / 18)²)
/// ```
///
/// # Source
/// The ratio of two sums and its variance: Cochran, Sampling Techniques, chapter 6 (from memory). A test over simulated players
/// holds the interval against the truth.
pub fn putting_table(
    rounds: impl IntoIterator<Item = (MemberId, PuttingTotals)>,
    fewest_holes: u32,
) -> Vec<PuttingRow> {
    let mut by_member: BTreeMap<MemberId, Vec<PuttingTotals>> = BTreeMap::new();
    for (member, totals) in rounds.into_iter().filter(|(_, totals)| totals.recorded_holes > 0) {
        by_member.entry(member).or_default().push(totals);
    }
    let rows = by_member.iter().filter_map(|(member, rounds)| row(*member, rounds));
    let (ranked, mut others): (Vec<_>, Vec<_>) = rows.partition(|row| row.recorded_holes >= fewest_holes);
    let better = |a: &PuttingRow, b: &PuttingRow| b.strokes_gained_per_round.total_cmp(&a.strokes_gained_per_round);
    others.sort_by(better);
    let placed = rank_by(&ranked, better).into_iter();
    let placed = placed.map(|at| PuttingRow { position: Some(at.place as u32), ..ranked[at.item].clone() });
    placed.chain(others).collect()
}

fn row(member_id: MemberId, rounds: &[PuttingTotals]) -> Option<PuttingRow> {
    let gains: i64 = rounds.iter().map(|round| round.gains).sum();
    let recorded_holes: u32 = rounds.iter().map(|round| round.recorded_holes).sum();
    let rate = per_round(gains, recorded_holes)?;
    let half = half_width(rounds, rate);
    Some(PuttingRow {
        position: None,
        member_id,
        rounds: rounds.len() as u32,
        recorded_holes,
        strokes_gained_total: six_decimals(gains.into(), 1),
        strokes_gained_per_round: rate,
        low_per_round: half.map(|half| rounded(rate - half)),
        high_per_round: half.map(|half| rounded(rate + half)),
    })
}

fn half_width(rounds: &[PuttingTotals], rate: f64) -> Option<f64> {
    if rounds.len() < FEWEST_ROUNDS {
        return None;
    }
    let n = rounds.len() as f64;
    let holes: f64 = rounds.iter().map(|round| f64::from(round.recorded_holes)).sum();
    let square = |round: &PuttingTotals| {
        let gained = round.gains as f64 / 1e9;
        (gained - rate * f64::from(round.recorded_holes) / HOLES).powi(2)
    };
    let squares: f64 = rounds.iter().map(square).sum();
    Some(t_975(n - 1.0) * HOLES / holes * (n / (n - 1.0) * squares).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use uuid::Uuid;

    fn member(n: u128) -> MemberId {
        MemberId(Uuid::from_u128(n))
    }

    fn totals(gains: f64, recorded_holes: u32) -> PuttingTotals {
        PuttingTotals { holes: 18, recorded_holes, gains: (gains * 1e9) as i64, expected: 0 }
    }

    /// ```text
    /// 1: +1.0 of 18, −0.5 of 9, +0.4 of 9, +0.6 of 18, +0.3 of 18     18 · 1.8 / 72 = 0.45
    ///    residuals 0.55, −0.725, 0.175, 0.15, −0.15: Σ² = 0.90375; t(0.975, 4) = 2.776445 (any statistics text)
    ///    2.776445 · 18 / 72 · sqrt(5 / 4 · 0.90375) = 0.737749
    /// 2: +0.5 of 18                                                   0.5, below 36 holes
    /// 3: +0.9 of 36                                                   0.45
    /// ```
    #[test]
    fn players_are_ranked_from_the_fewest_holes_on_and_equals_share() {
        let rounds = [
            (member(2), totals(0.5, 18)),
            (member(1), totals(1.0, 18)),
            (member(3), totals(0.9, 36)),
            (member(1), totals(-0.5, 9)),
            (member(4), totals(3.0, 0)),
            (member(1), totals(0.4, 9)),
            (member(1), totals(0.6, 18)),
            (member(1), totals(0.3, 18)),
        ];
        let table = putting_table(rounds, 36);
        let seen: Vec<_> =
            table.iter().map(|row| (row.member_id.0.as_u128(), row.position, row.strokes_gained_per_round)).collect();
        assert_eq!(seen, [(1, Some(1), 0.45), (3, Some(1), 0.45), (2, None, 0.5)]);
        assert_eq!((table[0].rounds, table[0].recorded_holes, table[0].strokes_gained_total), (5, 72, 1.8));
        let half = table[0].high_per_round.unwrap() - 0.45;
        assert!((half - 0.737_749).abs() < 0.003, "{half}");
        assert_eq!(table[1].low_per_round, None);
    }

    /// 2,000 players of eight rounds over 9 or 18 recorded holes, each hole's gain with a spread of 0.6: the interval holds the
    /// truth in 93 to 97 of a hundred.
    #[test]
    fn the_interval_holds_the_truth_as_often_as_it_says() {
        let mut state = 7_u64;
        let mut uniform = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        let mut held = 0;
        let players = 2_000;
        for player in 0..players {
            let skill = -3.0 + 4.0 * uniform();
            let mut rounds = Vec::new();
            for n in 0..8 {
                let holes: u32 = if n % 2 == 0 { 18 } else { 9 };
                // The sum of twelve uniform draws less six has a mean of 0 and a variance of 1.
                let noise: f64 = (0..12).map(|_| uniform()).sum::<f64>() - 6.0;
                let gained = skill * f64::from(holes) / 18.0 + 0.6 * f64::from(holes).sqrt() * noise;
                rounds.push((member(player), totals(gained, holes)));
            }
            let row = putting_table(rounds, 1).remove(0);
            held += i32::from(row.low_per_round.unwrap() <= skill && skill <= row.high_per_round.unwrap());
        }
        let share = f64::from(held) / players as f64;
        assert!((0.93..=0.97).contains(&share), "{share}");
    }
}
