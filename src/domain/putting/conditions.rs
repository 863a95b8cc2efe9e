//! Putts by slope and by green speed, and where misses went.

use super::band::FEWEST_FOR_INTERVAL;
use super::pacing::Rolled;
use super::share;
use super::spread::half_interval;
use super::struck::{Struck, rounded};
use super::sums::six_decimals;
use crate::facts::PuttResult;
use crate::putting::baseline::Baseline;
use crate::units::StrokesGained;
use serde::Serialize;

/// A putt that climbs or falls by no more than this is level, in inches a foot: one in a hundred (evenfield's own
/// convention).
const LEVEL_IN_A_FOOT: f64 = 0.12;
/// Where a green is neither slow nor quick, in feet of stimp: from, to (common practice, no source).
const USUAL_STIMP_FT: (f64, f64) = (9.0, 11.0);

/// Putts under one condition.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Condition {
    pub putts: u32,
    pub made: u32,
    /// Putts that the baseline holes from there.
    pub expected_made: f64,
    pub strokes_gained_total: f64,
    /// Lower end of its 95 % interval; `None` below five putts.
    pub low_total: Option<f64>,
    pub high_total: Option<f64>,
}

/// Putts by whether they climb.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BySlope {
    /// The hole lies higher, by more than one in a hundred.
    pub uphill: Condition,
    pub level: Condition,
    /// The hole lies lower, by more than one in a hundred.
    pub downhill: Condition,
    /// Putts whose climb was not recorded.
    pub unrecorded: u32,
}

/// Putts by the speed of the green.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ByGreen {
    /// Below 9 ft.
    pub slow: Condition,
    /// From 9 to 11 ft.
    pub usual: Condition,
    /// Above 11 ft.
    pub quick: Condition,
}

/// Where missed putts went, as they were struck.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Misses {
    /// Misses with a measured line and a recorded speed, of 2 ft and more.
    pub putts: u32,
    /// Left of the intended line, and too soft to reach the hole.
    pub left_short: u32,
    /// Left, and firm enough to reach it.
    pub left_long: u32,
    /// Right, and too soft.
    pub right_short: u32,
    /// Right, and firm enough.
    pub right_long: u32,
    /// The share that started left, in per cent; `None` without a putt.
    pub left_pct: Option<f64>,
    /// Lower end of its 95 % interval.
    pub left_low_pct: Option<f64>,
    pub left_high_pct: Option<f64>,
    /// The share that was too soft, in per cent.
    pub short_pct: Option<f64>,
    /// Lower end of its 95 % interval.
    pub short_low_pct: Option<f64>,
    pub short_high_pct: Option<f64>,
    /// Other misses: line or speed was not recorded.
    pub unrecorded: u32,
}

impl Condition {
    fn of<'a>(struck: impl Iterator<Item = &'a Struck>, baseline: &Baseline) -> Self {
        let (mut putts, mut made, mut expected, mut gains, mut squares) = (0, 0, 0, 0, 0);
        for putt in struck {
            putts += 1;
            made += u32::from(putt.putt.result == PuttResult::Holed);
            expected += StrokesGained::from_strokes(baseline.one_putt(putt.putt.distance_ft)).0;
            gains += putt.gain.0;
            squares += super::sums::squared(putt.gain.0);
        }
        let total = |billionths: i64| six_decimals(i128::from(billionths), 1);
        let strokes = gains as f64 / 1e9;
        let half = (putts >= FEWEST_FOR_INTERVAL).then(|| half_interval(f64::from(putts), strokes, squares));
        Self {
            putts,
            made,
            expected_made: total(expected),
            strokes_gained_total: total(gains),
            low_total: half.map(|half| rounded(strokes - half)),
            high_total: half.map(|half| rounded(strokes + half)),
        }
    }
}

impl BySlope {
    pub(super) fn of(struck: &[Struck], baseline: &Baseline) -> Self {
        let in_a_foot = |putt: &Struck| Some(putt.putt.elevation_in?.get() / putt.putt.distance_ft.get());
        let of =
            |is: fn(f64) -> bool| Condition::of(struck.iter().filter(|putt| in_a_foot(putt).is_some_and(is)), baseline);
        Self {
            uphill: of(|rise| rise > LEVEL_IN_A_FOOT),
            level: of(|rise| rise.abs() <= LEVEL_IN_A_FOOT),
            downhill: of(|rise| rise < -LEVEL_IN_A_FOOT),
            unrecorded: struck.iter().filter(|putt| putt.putt.elevation_in.is_none()).count() as u32,
        }
    }
}

impl ByGreen {
    pub(super) fn of(struck: &[Struck], baseline: &Baseline) -> Self {
        let of = |is: fn(f64) -> bool| Condition::of(struck.iter().filter(|putt| is(putt.stimp.get())), baseline);
        Self {
            slow: of(|stimp| stimp < USUAL_STIMP_FT.0),
            usual: of(|stimp| (USUAL_STIMP_FT.0..=USUAL_STIMP_FT.1).contains(&stimp)),
            quick: of(|stimp| stimp > USUAL_STIMP_FT.1),
        }
    }
}

impl Misses {
    /// Counts where misses went; `ratio` is what a putt's recorded speed is divided by.
    pub(super) fn of(struck: &[Struck], ratio: impl Fn(&Struck) -> f64) -> Self {
        let misses = || struck.iter().filter(|putt| putt.putt.result == PuttResult::Missed);
        let place = |putt: &Struck| {
            let (line, ratio) = (putt.putt.start_line_deg?.get(), ratio(putt));
            let Rolled { plays_like_ft, level_ft } = Rolled::of(putt)?;
            Some((line < 0.0, level_ft / (ratio * ratio) < plays_like_ft))
        };
        let places: Vec<(bool, bool)> = misses().filter_map(place).collect();
        let count = |is: &dyn Fn(&(bool, bool)) -> bool| places.iter().filter(|place| is(place)).count() as u32;
        let putts = places.len() as u32;
        let pct = |part: u32| {
            let ends = share::interval(part, putts);
            let pct = |share: f64| rounded(100.0 * share);
            let share = ends.map(|_| pct(f64::from(part) / f64::from(putts)));
            (share, ends.map(|ends| pct(ends.0)), ends.map(|ends| pct(ends.1)))
        };
        let (left_pct, left_low_pct, left_high_pct) = pct(count(&|(left, _)| *left));
        let (short_pct, short_low_pct, short_high_pct) = pct(count(&|(_, short)| *short));
        Self {
            putts,
            left_short: count(&|place| *place == (true, true)),
            left_long: count(&|place| *place == (true, false)),
            right_short: count(&|place| *place == (false, true)),
            right_long: count(&|place| *place == (false, false)),
            left_pct,
            left_low_pct,
            left_high_pct,
            short_pct,
            short_low_pct,
            short_high_pct,
            unrecorded: misses().count() as u32 - putts,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::Putt;
    use crate::units::{Degrees, Feet, Inches, Mph, Stimp};

    fn struck(line: Option<f64>, speed: Option<f64>, rise: Option<f64>, stimp: f64) -> Struck {
        let putt = Putt {
            distance_ft: Feet::new(10.0).unwrap(),
            elevation_in: rise.map(|rise| Inches::new(rise).unwrap()),
            ball_speed_mph: speed.map(|speed| Mph::new(speed).unwrap()),
            start_line_deg: line.map(|line| Degrees::new(line).unwrap()),
            played_line_deg: None,
            result: PuttResult::Missed,
        };
        let gain = StrokesGained(-500_000_000);
        Struck { setup: None, stimp: Stimp::new(stimp).unwrap(), putt, leave_ft: Feet::new(2.0).ok(), gain }
    }

    #[test]
    fn misses_lie_where_line_and_speed_put_them() {
        // 10 ft at 11: 4.34 mph just arrives
        let putts = [
            struck(Some(-1.0), Some(4.0), None, 11.0),
            struck(Some(-1.0), Some(4.6), None, 11.0),
            struck(Some(-0.5), Some(4.6), None, 11.0),
            struck(Some(2.0), Some(4.0), None, 11.0),
            struck(None, Some(4.0), None, 11.0),
        ];
        let found = Misses::of(&putts, |_| 1.0);
        assert_eq!((found.left_short, found.left_long, found.right_short, found.right_long), (1, 2, 1, 0));
        assert_eq!((found.putts, found.unrecorded, found.left_pct, found.short_pct), (4, 1, Some(75.0), Some(50.0)));
        // speeds that show a tenth too little: all four would reach the hole
        assert_eq!(Misses::of(&putts, |_| 0.9).short_pct, Some(0.0));
        assert_eq!(Misses::of(&[], |_| 1.0).left_pct, None);
    }

    #[test]
    fn putts_are_told_apart_by_slope_and_green() {
        let putts = [
            struck(None, None, Some(2.0), 8.5),
            struck(None, None, Some(-1.3), 9.0),
            struck(None, None, Some(1.2), 11.0),
            struck(None, None, None, 11.5),
        ];
        let slopes = BySlope::of(&putts, Baseline::tour());
        let count = |found: &Condition| (found.putts, found.strokes_gained_total);
        assert_eq!([&slopes.uphill, &slopes.level, &slopes.downhill].map(count), [(1, -0.5); 3]);
        assert_eq!((slopes.unrecorded, slopes.level.low_total), (1, None));
        let greens = ByGreen::of(&putts, Baseline::tour());
        assert_eq!([&greens.slow, &greens.usual, &greens.quick].map(count), [(1, -0.5), (2, -1.0), (1, -0.5)]);
    }
}
