//! How a putt rolls: the speed that a distance needs, what a climb is worth and what another green speed changes.

use crate::units::{Feet, Inches, Overrun, Stimp};
use serde::Serialize;

/// Metres in a foot (exact).
pub(super) const METRES_PER_FOOT: f64 = 0.3048;
/// Metres in an inch (exact).
pub(super) const METRES_PER_INCH: f64 = 0.0254;
/// Metres a second in a mile an hour (exact).
const MPS_PER_MPH: f64 = 0.44704;
/// Inches in a foot.
pub(super) const INCHES_PER_FOOT: f64 = 12.0;
/// The acceleration of gravity in m/s².
pub(super) const GRAVITY_MPS2: f64 = 9.81;
/// The speed at which a stimpmeter releases the ball, in m/s. USGA stimpmeter booklet (from memory); Holmes 1986/1991.
const STIMPMETER_RELEASE_MPS: f64 = 1.83;
/// The share of the ball's speed off the face that is left once it rolls purely (± 4 %).
///
/// evenfield estimate, from the common-practice pace values that the tests name. A full skid of a sliding sphere would
/// leave 5/7.
const LAUNCH_ROLL: f64 = 0.90;

/// A putt that cannot be rolled as asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RollError {
    /// The fall is too steep for the ball ever to stop: from rest beside the player it would already roll to the hole,
    /// and arrive faster than asked.
    #[error("the fall to the hole is too steep for the ball ever to stop there")]
    FallTooSteep,
}

/// The pace of a putt.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Pace {
    /// The ball speed off the face, in mph.
    pub ball_speed_mph: f64,
    /// The distance of the level putt that needs the same stroke to reach the hole, in feet.
    pub plays_like_ft: f64,
}

/// Two green speeds: the one that a stroke was learnt on and the one it is used on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GreenChange {
    /// The green that the distance was measured on.
    pub from: Stimp,
    /// The green that the same stroke is used on.
    pub to: Stimp,
}

/// What the same stroke does on another green.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Feel {
    /// How far the ball rolls on the second green, in feet.
    pub distance_ft: f64,
}

/// Returns the ball speed that a putt needs, and the level putt that it plays like.
///
/// # Formula
/// ```text
/// a = 1.83² / (2 S)
/// v_roll² = 2 a (d + past) + (10/7) g h       v_roll = 0.90 · v_ball
/// plays like: d + (10/7) g h / (2 a)
/// ```
/// Energy along the path of a rolling sphere. The skid is a constant share of the speed. The overrun is on the level.
/// Distances under 2 ft lie outside what the share was calibrated on.
///
/// # Units
/// d: distance, S: green speed, h: climb to the hole (negative: fall), past: overrun, all in metres; v in m/s; a and g
/// in m/s². One inch of climb is worth S / 9.41 ft, so the common "1 in is 1 ft" is exact only at 9.41 ft and 22 %
/// too little at 12.
///
/// # Errors
/// [`RollError::FallTooSteep`] where the equation has no real root above zero.
///
/// # Source
/// Stimpmeter release: USGA stimpmeter booklet (from memory); Holmes 1986/1991. The share of 0.90: evenfield estimate
/// from common practice, no source.
///
/// # Examples
/// ```
/// use evenfield_domain::putting::roll;
/// use evenfield_domain::units::{Feet, Inches, Overrun, Stimp};
///
/// let uphill = roll::pace(Feet::new(20.0)?, Stimp::new(12.0)?, Inches::new(7.0)?, Overrun::new(0.0)?).unwrap();
/// assert_eq!(uphill.plays_like_ft.round(), 29.0);
/// # Ok::<(), evenfield_domain::units::OutOfRange>(())
/// ```
pub fn pace(distance: Feet, stimp: Stimp, elevation: Inches, past: Overrun) -> Result<Pace, RollError> {
    let arriving = 2.0 * deceleration_mps2(stimp) * past.get() * METRES_PER_INCH;
    let square = square_lost_mps(distance, stimp, elevation) + arriving;
    let climb_ft = square_climbed_mps(elevation) / (2.0 * deceleration_mps2(stimp)) / METRES_PER_FOOT;
    Ok(Pace { ball_speed_mph: ball_speed_mph(root_mps(square)?), plays_like_ft: distance.get() + climb_ft })
}

/// Returns how far the stroke that rolls `distance` on one green rolls on another.
///
/// # Formula
/// ```text
/// D · B / A     D: distance (ft)   A, B: the green speeds (ft)
/// ```
/// On level greens, from v² = 2 a D with a in inverse proportion to the green speed.
///
/// # Source
/// Energy along the path, as [`pace`].
pub fn feel(distance: Feet, greens: GreenChange) -> Feel {
    Feel { distance_ft: distance.get() * greens.to.get() / greens.from.get() }
}

/// Returns the deceleration of a ball that rolls on the level, in m/s²: `1.83² / (2 S)`.
pub(super) fn deceleration_mps2(stimp: Stimp) -> f64 {
    STIMPMETER_RELEASE_MPS * STIMPMETER_RELEASE_MPS / (2.0 * stimp.get() * METRES_PER_FOOT)
}

/// Returns the square of speed that a ball loses on its way to the hole, in m²/s²; negative where the fall adds more
/// than the green takes.
pub(super) fn square_lost_mps(distance: Feet, stimp: Stimp, elevation: Inches) -> f64 {
    2.0 * deceleration_mps2(stimp) * distance.get() * METRES_PER_FOOT + square_climbed_mps(elevation)
}

/// Returns the level putt that a putt plays like, in feet; `None` where the fall is too steep for the ball to stop.
pub(crate) fn plays_like_ft(distance: Feet, stimp: Stimp, elevation: Inches) -> Option<f64> {
    let plays_like = square_lost_mps(distance, stimp, elevation) / square_lost_a_foot_mps(stimp);
    (plays_like > 0.0).then_some(plays_like)
}

/// Returns how far a ball that leaves the face at `ball_mph` rolls on the level, in feet.
///
/// # Formula
/// ```text
/// v_roll² / (2 a)      v_roll = 0.90 · v_ball
/// ```
pub(crate) fn level_roll_ft(ball_mph: f64, stimp: Stimp) -> f64 {
    rolling_mps(ball_mph).powi(2) / square_lost_a_foot_mps(stimp)
}

/// Returns the square of speed that a ball loses in each foot on the level, in m²/s²: 2 a.
fn square_lost_a_foot_mps(stimp: Stimp) -> f64 {
    2.0 * deceleration_mps2(stimp) * METRES_PER_FOOT
}

/// Returns the speed whose square is given, in m/s.
pub(super) fn root_mps(square: f64) -> Result<f64, RollError> {
    if square > 0.0 { Ok(square.sqrt()) } else { Err(RollError::FallTooSteep) }
}

/// Returns the speed off the face, in mph, of a ball that rolls purely at `rolling_mps`.
pub(super) fn ball_speed_mph(rolling_mps: f64) -> f64 {
    rolling_mps / LAUNCH_ROLL / MPS_PER_MPH
}

/// Returns the speed of pure roll, in m/s, of a ball that leaves the face at `ball_mph`.
pub(super) fn rolling_mps(ball_mph: f64) -> f64 {
    ball_mph * MPS_PER_MPH * LAUNCH_ROLL
}

/// Returns a rolling speed in mph.
pub(super) fn mph(mps: f64) -> f64 {
    mps / MPS_PER_MPH
}

/// Returns the square of speed that a climb takes from a rolling sphere, in m²/s²: `(10/7) g h`.
fn square_climbed_mps(elevation: Inches) -> f64 {
    10.0 / 7.0 * GRAVITY_MPS2 * elevation.get() * METRES_PER_INCH
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(d: f64, s: f64, h: f64, past: f64) -> Result<Pace, RollError> {
        let past = Overrun::new(past).unwrap();
        pace(Feet::new(d).unwrap(), Stimp::new(s).unwrap(), Inches::new(h).unwrap(), past)
    }

    #[test]
    fn a_fall_that_the_ball_cannot_stop_on_is_named() {
        assert_eq!(at(20.0, 12.0, -40.0, 0.0), Err(RollError::FallTooSteep));
        assert!(at(20.0, 12.0, -10.0, 0.0).is_ok());
    }

    #[test]
    fn an_inch_of_climb_is_worth_a_foot_on_one_green_speed_only() {
        let worth = |s: f64| at(20.0, s, 1.0, 0.0).unwrap().plays_like_ft - 20.0;
        // 9.41 is printed to two decimals
        assert!((worth(9.41) - 1.0).abs() < 1e-3);
        assert!((worth(12.0) - 1.27).abs() < 0.01);
    }

    #[test]
    fn a_faster_green_rolls_the_same_stroke_farther_in_proportion() {
        let greens = GreenChange { from: Stimp::new(10.0).unwrap(), to: Stimp::new(12.0).unwrap() };
        assert_eq!(feel(Feet::new(30.0).unwrap(), greens), Feel { distance_ft: 36.0 });
    }

    proptest! {
        #[test]
        fn pace_rises_with_distance_and_climb_and_falls_with_green_speed(
            d in 0.1..199.0f64, s in 4.0..15.9f64, h in -240.0..239.0f64, past in 0.0..239.0f64, more in 0.01..0.1f64,
        ) {
            if let Ok(here) = at(d, s, h, past) {
                prop_assert!(at(d + more, s, h, past).unwrap().ball_speed_mph > here.ball_speed_mph);
                prop_assert!(at(d, s, h + more, past).unwrap().ball_speed_mph > here.ball_speed_mph);
                prop_assert!(at(d, s, h, past + more).unwrap().ball_speed_mph > here.ball_speed_mph);
                prop_assert!(at(d, s, h + more, past).unwrap().plays_like_ft > here.plays_like_ft);
                if let Ok(faster) = at(d, s + more, h, past) {
                    prop_assert!(faster.ball_speed_mph < here.ball_speed_mph);
                }
            }
        }

        #[test]
        fn pace_is_finite_or_a_named_error(
            d in f64::MIN_POSITIVE..=200.0f64, s in 4.0..=16.0f64, h in -240.0..=240.0f64, past in 0.0..=240.0f64,
        ) {
            match at(d, s, h, past) {
                Ok(pace) => prop_assert!(pace.ball_speed_mph.is_finite() && pace.plays_like_ft.is_finite()),
                Err(error) => prop_assert_eq!(error, RollError::FallTooSteep),
            }
        }
    }
}
