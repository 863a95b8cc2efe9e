//! Whether the hole takes the ball, and how much room pace and line leave.

use super::roll::{self, INCHES_PER_FOOT, RollError};
use crate::units::{Degrees, Feet, Inches, Mph, Overrun, Stimp};
use serde::Serialize;

/// The radius of the hole in inches (Rules of Golf: diameter 4.25 in).
pub(crate) const HOLE_RADIUS_IN: f64 = 2.125;
/// The fastest roll that still falls dead centre, in m/s.
///
/// Holmes, *Putting: how a golf ball and hole interact*, Am. J. Phys. 59 (1991).
pub(super) const FASTEST_CAPTURE_MPS: f64 = 1.63;

/// What a straight putt does at the hole.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Capture {
    /// Whether the hole takes the ball.
    pub holed: bool,
    /// How far off the hole's centre the ball's line passes, in inches; positive is right.
    pub offline_in: f64,
    /// The rolling speed at the hole in mph; 0 for a ball that stops short.
    pub speed_at_hole_mph: f64,
}

/// The room that a straight putt leaves.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Window {
    /// The ball speed that just arrives, in mph.
    pub slowest_mph: f64,
    /// The fastest ball speed that falls dead straight, in mph.
    pub fastest_mph: f64,
    /// How far to either side the line may be off at the asked pace, in degrees; 0 at a pace that no line holds.
    pub line_deg: f64,
}

/// Returns what a straight putt does at the hole.
///
/// # Formula
/// ```text
/// v² = v_roll² - 2 a d - (10/7) g h      v_roll = 0.90 · v_ball
/// holed where v > 0 and |offset| < R · sqrt(1 - v / v_max)      offset = d · tan(line)
/// ```
///
/// # Units
/// v: rolling speed at the hole (m/s). v_max: 1.63 m/s. R: 2.125 in. d: distance, h: climb to the hole.
///
/// # Source
/// The edge in the form given by Penner, Can. J. Phys. 80 (2002) (form from memory); v_max from Holmes, *Putting: how a
/// golf ball and hole interact*, Am. J. Phys. 59 (1991).
pub fn capture(line: Degrees, distance: Feet, ball_speed: Mph, stimp: Stimp, elevation: Inches) -> Capture {
    let rolling = roll::rolling_mps(ball_speed.get());
    let square = rolling * rolling - roll::square_lost_mps(distance, stimp, elevation);
    let speed = square.max(0.0).sqrt();
    let offline_in = distance.get() * INCHES_PER_FOOT * line.get().to_radians().tan();
    Capture {
        holed: speed > 0.0 && offline_in.abs() < half_width_in(speed),
        offline_in,
        speed_at_hole_mph: roll::mph(speed),
    }
}

/// Returns how far beyond the hole the fastest ball that falls would roll on the level, in feet.
pub(crate) fn reach_ft(stimp: Stimp) -> f64 {
    FASTEST_CAPTURE_MPS * FASTEST_CAPTURE_MPS / (2.0 * roll::deceleration_mps2(stimp)) / roll::METRES_PER_FOOT
}

/// Returns the window of pace and of line of a straight putt.
///
/// # Formula
/// ```text
/// slowest: just arrives      fastest: arrives at v_max = 1.63 m/s
/// line: atan(R · sqrt(1 - v / v_max) / d), v the rolling speed at the hole that would run `past` by
/// ```
///
/// # Errors
/// [`RollError::FallTooSteep`] where the ball reaches the hole even from rest, so that there is no slowest speed.
///
/// # Source
/// As [`capture`].
pub fn window(distance: Feet, stimp: Stimp, elevation: Inches, past: Overrun) -> Result<Window, RollError> {
    let lost = roll::square_lost_mps(distance, stimp, elevation);
    let arriving = (2.0 * roll::deceleration_mps2(stimp) * past.get() * roll::METRES_PER_INCH).sqrt();
    Ok(Window {
        slowest_mph: roll::ball_speed_mph(roll::root_mps(lost)?),
        fastest_mph: roll::ball_speed_mph(roll::root_mps(lost + FASTEST_CAPTURE_MPS * FASTEST_CAPTURE_MPS)?),
        line_deg: line_at_deg(arriving, distance),
    })
}

/// How many points an edge has.
const EDGE_POINTS: u32 = 24;

/// A point of the window's edge of a level putt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EdgePoint {
    /// How far past the hole the ball would roll, in feet.
    pub past_ft: f64,
    /// How far to either side the line may be off, in degrees.
    pub line_deg: f64,
}

/// Returns the edge of the window of a level putt, from the ball that dies at the hole to the fastest that falls.
///
/// # Formula
/// ```text
/// v = u · v_max, u from 0 to 1      past = v² / (2 a)      line = atan(R · sqrt(1 - u) / d)
/// ```
///
/// # Source
/// As [`capture`].
pub fn edge(distance: Feet, stimp: Stimp) -> Vec<EdgePoint> {
    let reach = reach_ft(stimp);
    let point = |n: u32| {
        let share = f64::from(n) / f64::from(EDGE_POINTS);
        // the share of speed is taken so that the points lie evenly along the line
        let speed = 1.0 - (1.0 - share) * (1.0 - share);
        EdgePoint { past_ft: reach * speed * speed, line_deg: half_line_deg(speed, distance) }
    };
    (0..=EDGE_POINTS).map(point).collect()
}

/// Returns how far to either side the line may be off, in degrees, at a share of the fastest speed that falls.
pub(super) fn half_line_deg(speed: f64, distance: Feet) -> f64 {
    line_at_deg(speed * FASTEST_CAPTURE_MPS, distance)
}

fn line_at_deg(speed_mps: f64, distance: Feet) -> f64 {
    half_width_in(speed_mps).atan2(distance.get() * INCHES_PER_FOOT).to_degrees()
}

/// Returns how far off centre a ball that rolls at `speed_mps` still falls, in inches; 0 where none does.
fn half_width_in(speed_mps: f64) -> f64 {
    HOLE_RADIUS_IN * (1.0 - speed_mps / FASTEST_CAPTURE_MPS).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(line: f64, d: f64, v: f64, s: f64, h: f64) -> Capture {
        let (line, d, v) = (Degrees::new(line).unwrap(), Feet::new(d).unwrap(), Mph::new(v).unwrap());
        capture(line, d, v, Stimp::new(s).unwrap(), Inches::new(h).unwrap())
    }

    fn window_at(d: f64, s: f64, h: f64, past: f64) -> Result<Window, RollError> {
        let past = Overrun::new(past).unwrap();
        window(Feet::new(d).unwrap(), Stimp::new(s).unwrap(), Inches::new(h).unwrap(), past)
    }

    #[test]
    fn a_ball_that_stops_short_is_not_holed() {
        let short = at(0.0, 10.0, 4.3, 11.0, 0.0);
        assert_eq!((short.holed, short.speed_at_hole_mph), (false, 0.0));
    }

    #[test]
    fn a_straight_ball_falls_from_the_slowest_to_the_fastest_speed() {
        let window = window_at(10.0, 11.0, 3.0, 12.0).unwrap();
        // 1e-9 mph inside and outside either edge, where a rounding could tip it
        assert!(at(0.0, 10.0, window.slowest_mph + 1e-9, 11.0, 3.0).holed);
        assert!(!at(0.0, 10.0, window.slowest_mph - 1e-9, 11.0, 3.0).holed);
        assert!(at(0.0, 10.0, window.fastest_mph - 1e-9, 11.0, 3.0).holed);
        assert!(!at(0.0, 10.0, window.fastest_mph + 1e-9, 11.0, 3.0).holed);
    }

    #[test]
    fn the_fastest_capture_is_3_65_mph_at_the_hole() {
        assert!((roll::mph(FASTEST_CAPTURE_MPS) - 3.65).abs() < 0.005);
    }

    #[test]
    fn a_pace_that_no_line_holds_has_a_window_of_nothing() {
        assert_eq!(window_at(10.0, 11.0, 0.0, 240.0).unwrap().line_deg, 0.0);
    }

    #[test]
    fn a_fall_that_feeds_the_hole_from_rest_has_no_slowest_speed() {
        assert_eq!(window_at(20.0, 12.0, -40.0, 12.0), Err(RollError::FallTooSteep));
    }

    #[test]
    fn a_ball_falls_inside_the_edge_and_not_outside() {
        let (distance, stimp, level) = (Feet::new(8.0).unwrap(), Stimp::new(10.5).unwrap(), Inches::new(0.0).unwrap());
        let points = edge(distance, stimp);
        assert_eq!((points[0].past_ft, points.last().unwrap().line_deg), (0.0, 0.0));
        for point in &points[1..points.len() - 1] {
            let past = Overrun::new(point.past_ft * INCHES_PER_FOOT).unwrap();
            let speed = roll::pace(distance, stimp, level, past).unwrap().ball_speed_mph;
            // a millionth of the width on either side
            assert!(at(point.line_deg * (1.0 - 1e-6), 8.0, speed, 10.5, 0.0).holed, "{point:?}");
            assert!(!at(point.line_deg * (1.0 + 1e-6), 8.0, speed, 10.5, 0.0).holed, "{point:?}");
        }
    }

    proptest! {
        #[test]
        fn left_and_right_are_alike(line in 0.0..3.0f64, d in 0.5..60.0f64, v in 0.5..20.0f64, s in 4.0..16.0f64) {
            let (right, left) = (at(line, d, v, s, 0.0), at(-line, d, v, s, 0.0));
            prop_assert_eq!((right.holed, right.offline_in), (left.holed, 0.0 - left.offline_in));
        }

        #[test]
        fn the_edge_of_the_line_is_the_edge_of_capture(d in 1.0..60.0f64, s in 4.0..16.0f64, past in 1.0..36.0f64) {
            let window = window_at(d, s, 0.0, past).unwrap();
            let distance = Feet::new(d).unwrap();
            let (stimp, past) = (Stimp::new(s).unwrap(), Overrun::new(past).unwrap());
            let speed = roll::pace(distance, stimp, Inches::new(0.0).unwrap(), past).unwrap().ball_speed_mph;
            // a millionth of the width on either side
            prop_assert!(at(window.line_deg * (1.0 - 1e-6), d, speed, s, 0.0).holed);
            prop_assert!(!at(window.line_deg * (1.0 + 1e-6), d, speed, s, 0.0).holed);
        }

        #[test]
        fn nothing_that_is_not_finite_comes_out(
            line in -45.0..=45.0f64, d in f64::MIN_POSITIVE..=200.0f64, v in f64::MIN_POSITIVE..=40.0f64,
            s in 4.0..=16.0f64, h in -240.0..=240.0f64, past in 0.0..=240.0f64,
        ) {
            let capture = at(line, d, v, s, h);
            prop_assert!(capture.offline_in.is_finite() && capture.speed_at_hole_mph.is_finite());
            if let Ok(window) = window_at(d, s, h, past) {
                prop_assert!(window.slowest_mph.is_finite() && window.fastest_mph.is_finite());
                prop_assert!(window.slowest_mph < window.fastest_mph && (0.0..=90.0).contains(&window.line_deg));
            }
        }
    }
}
