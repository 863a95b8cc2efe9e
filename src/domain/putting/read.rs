//! Reading a putt: where to aim it and how hard to strike it on slopes that change along the way.

pub use super::section::Section;

use super::path::{Crossing, Ground, Heading, Path, TurnedAway};
use super::roll::{self, INCHES_PER_FOOT, METRES_PER_FOOT, METRES_PER_INCH};
use crate::units::{Feet, Overrun, Stimp};
use serde::Serialize;
use std::f64::consts::{FRAC_PI_2, PI};

/// The most sections that a putt may have.
pub const MOST_SECTIONS: usize = 100;
/// How far the lengths may miss the distance, in feet: the rounding of lengths written with decimals.
const LENGTH_TOLERANCE_FT: f64 = 1e-6;
/// The least overrun that is rolled, in inches: a ball that stops exactly on the edge has no last heading.
const LEAST_PAST_IN: f64 = 1e-3;
/// How far from the ball, as an angle seen from the hole, a path may start and still be an answer.
const ANSWER_RAD: f64 = 1e-9;
/// How far from the ball the search for the path goes on.
const SEARCH_RAD: f64 = 1e-14;
/// The most headings that are tried between two.
const MOST_HEADINGS: u32 = 200;
/// After this many headings the search only halves, so that it is sure to end.
const SECANT_HEADINGS: u32 = 30;
/// Headings tried to either side of the straight one where the search itself finds no line.
const SCANNED_HEADINGS: i32 = 60;

/// The answer to a putt.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Read {
    /// Where to aim, in inches beside the hole's centre; positive is right.
    pub aim_in: f64,
    /// The start line off the straight line to the hole, in degrees; positive is right.
    pub start_line_deg: f64,
    /// The ball speed off the face, in mph.
    pub ball_speed_mph: f64,
    /// How far the ball breaks, in inches; positive is right. The opposite of the aim.
    pub break_in: f64,
    /// How far the ball has turned when it reaches the hole, in degrees; positive is to the right.
    pub turned_deg: f64,
    /// How far it turns in each section, in the order of the sections.
    pub turned_by_section_deg: Vec<f64>,
}

/// A putt that cannot be read.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ReadError {
    /// The sections don't cover the putt.
    #[error("the sections are {sections_ft} ft long together and the putt {distance_ft} ft")]
    LengthsDisagree {
        /// The distance of the putt.
        distance_ft: f64,
        /// The sum of the lengths.
        sections_ft: f64,
    },
    /// More sections than are read.
    #[error("a putt has at most {MOST_SECTIONS} sections")]
    TooManySections,
    /// No path over these slopes arrives with the pace asked for.
    #[error("no line brings the ball to the hole at this pace: the green is too steep for it to arrive so slowly")]
    NoLine,
}

/// Returns the line and the pace of a putt whose slopes change along the way.
///
/// The ball crosses the hole's centre at the speed that would carry it `past` beyond it on the level. An overrun under a
/// thousandth of an inch is taken as that much, for a ball that stops on the edge has no last heading.
///
/// # Formula
/// ```text
/// acceleration = -a v̂ - (5/7) g ∇h
/// ```
/// x from ball to hole, y to the right; rolling sphere, small slopes; slopes constant within a section, which ends where
/// x reaches its length. The path is followed backwards in time from the hole: that way the ball only gains speed where
/// a green lets a ball stop at all, so that no path dies on the way and one unknown is left, the last heading.
///
/// Within a section the path is known in closed form. With ψ the heading off the fall line, G = (5/7) g |∇h| and λ
/// counted backwards so that ds = v² dλ:
/// ```text
/// d(ln v)/dλ = a - G cos ψ     dψ/dλ = G sin ψ     tan(ψ/2) = tan(ψ₀/2) e^(Gλ)
/// v        = v₀ (c e^((a-G)λ) + s e^((a+G)λ))      c = cos²(ψ₀/2), s = sin²(ψ₀/2)
/// v cos ψ  = v₀ (c e^((a-G)λ) - s e^((a+G)λ))
/// v sin ψ  = v₀ sin ψ₀ e^(aλ)
/// ```
/// and the distances, integrals of v · (v cos ψ) and v · (v sin ψ), are sums of exponentials too.
///
/// The work is bounded: headings, sections and steps each have a greatest number. A usual putt takes under ten headings.
/// Where slopes are so steep that a ball may come by several lines, the straightest that is found counts. A ball that
/// dies on a climb across the line may pass the hole and curl back into it, over the last section's slope.
///
/// # Units
/// a: deceleration on the level, g: 9.81 m/s²; v in m/s, λ in s²/m.
///
/// # Shape
/// One turn a section, in the order of `sections`.
///
/// # Errors
/// [`ReadError`] where the lengths don't add up to the distance, the sections are too many, or no path exists.
///
/// # Source
/// Equation of motion of a rolling sphere on small slopes; the closed form is evenfield's own integration of it, held
/// against a step-by-step roll by its tests.
///
/// # Examples
/// ```
/// use evenfield_domain::putting::read::{Section, read};
/// use evenfield_domain::units::{Feet, Overrun, SlopePct, Stimp};
///
/// let level = SlopePct::new(0.0)?;
/// let right = Section { length: Feet::new(20.0)?, side_slope: SlopePct::new(2.0)?, up_slope: level };
/// let putt = read(Feet::new(20.0)?, Stimp::new(10.0)?, &[right], Overrun::new(12.0)?).unwrap();
/// assert!(putt.aim_in < 0.0 && putt.break_in > 0.0); // the ball breaks right, so the aim is left
/// # Ok::<(), evenfield_domain::units::OutOfRange>(())
/// ```
pub fn read(distance: Feet, stimp: Stimp, sections: &[Section], past: Overrun) -> Result<Read, ReadError> {
    if sections.len() > MOST_SECTIONS {
        return Err(ReadError::TooManySections);
    }
    let sections_ft: f64 = sections.iter().map(|section| section.length.get()).sum();
    let distance_ft = distance.get();
    let Some(last) = sections.last() else {
        return Err(ReadError::LengthsDisagree { distance_ft, sections_ft });
    };
    if (sections_ft - distance_ft).abs() > LENGTH_TOLERANCE_FT {
        return Err(ReadError::LengthsDisagree { distance_ft, sections_ft });
    }
    let deceleration = roll::deceleration_mps2(stimp);
    let arriving = (2.0 * deceleration * past.get().max(LEAST_PAST_IN) * METRES_PER_INCH).sqrt();
    let putt = Putt { sections, deceleration, arriving, length_m: sections_ft * METRES_PER_FOOT };
    let heading = putt.last_heading(Ground::of(last))?;

    let mut turned_by_section_deg = vec![0.0; sections.len()];
    let mut at_hole = None;
    let start = putt
        .start(heading, |index, leaving, entering| {
            // a level section turns nothing, not even by a rounding
            if !sections[index].is_level() {
                turned_by_section_deg[index] = (leaving - entering).to_degrees() + 0.0;
            }
            at_hole.get_or_insert(leaving);
        })
        .map_err(|_| ReadError::NoLine)?;
    let aim_in = distance_ft * INCHES_PER_FOOT * (start.vy / start.vx) + 0.0;
    Ok(Read {
        aim_in,
        start_line_deg: start.angle().to_degrees() + 0.0,
        ball_speed_mph: roll::ball_speed_mph(start.vx.hypot(start.vy)),
        break_in: 0.0 - aim_in,
        turned_deg: (at_hole.unwrap_or_default() - start.angle()).to_degrees() + 0.0,
        turned_by_section_deg,
    })
}

/// A putt in SI.
struct Putt<'a> {
    sections: &'a [Section],
    deceleration: f64,
    arriving: f64,
    length_m: f64,
}

impl Putt<'_> {
    /// Returns the heading at the hole, against the last section's fall line, whose path starts at the ball.
    ///
    /// The unknown is the angle off the fall line: floats are finest about zero, where the headings of dying balls
    /// crowd together. A heading farther right brings the ball from farther left, so the search knows its way.
    fn last_heading(&self, ground: Ground) -> Result<Heading, ReadError> {
        let straight = Heading { cos: ground.down.0, sin: 0.0 - ground.down.1 };
        let first_miss = self.miss(straight);
        if first_miss == 0.0 {
            return Ok(straight);
        }
        let side = first_miss.signum();
        let fall_line = side * (side * ground.down.1).atan2(ground.down.0);
        let square = side * FRAC_PI_2 - fall_line;
        // on a climb a dying ball may pass the hole and curl back: only its fall line ends the search
        let edges = match side * fall_line {
            angle if angle <= 0.0 => [square, square],
            angle if angle <= FRAC_PI_2 => [0.0, square],
            _ => [square, 0.0],
        };
        let mut near = (0.0 - fall_line, first_miss);
        let first_edge_miss = self.miss(Heading::off_fall_line(edges[0]));
        let mut edge = edges[0];
        if first_edge_miss * side > 0.0 {
            near = (edges[0], first_edge_miss);
            edge = edges[1];
        }
        self.between(near, edge).or_else(|| self.between_scanned(fall_line)).ok_or(ReadError::NoLine)
    }

    /// Returns a heading whose path starts at the ball, between one whose miss is known and one that misses to the
    /// other side: the secant rule kept inside the bracket, and halving where it does not help. At most 200 headings.
    fn between(&self, near: (f64, f64), edge: f64) -> Option<Heading> {
        let side = near.1.signum();
        let (mut known, mut beyond, mut before) = (near, edge, near);
        // a first guess as on the level, where the miss falls one for one
        let mut guess = near.0 + near.1;
        for tried in 0..MOST_HEADINGS {
            let is_inside = (guess - known.0) * (guess - beyond) < 0.0;
            if !is_inside || tried > SECANT_HEADINGS || tried % 8 == 7 {
                guess = halfway(known.0, beyond);
            }
            let heading = Heading::off_fall_line(guess);
            let miss = self.miss(heading);
            if miss.abs() <= SEARCH_RAD || guess == known.0 || guess == beyond {
                return (miss.abs() <= ANSWER_RAD).then_some(heading);
            }
            let secant = guess - miss * (guess - before.0) / (miss - before.1);
            before = (guess, miss);
            if miss * side > 0.0 {
                known = before;
            } else {
                beyond = guess;
            }
            guess = secant;
        }
        None
    }

    /// Returns a heading whose path starts at the ball where slopes are so steep that the miss jumps from side to side:
    /// the first change of side between neighbouring headings, from the straight one outwards.
    fn between_scanned(&self, fall_line: f64) -> Option<Heading> {
        let heading_at = |step: i32| FRAC_PI_2 * f64::from(step) / f64::from(SCANNED_HEADINGS + 1) - fall_line;
        let miss_at = |angle: f64| self.start_angle(Heading::off_fall_line(angle)).ok();
        for step in 0..SCANNED_HEADINGS {
            for (inner, outer) in [(step, step + 1), (-step, -step - 1)] {
                let (inner, outer) = (heading_at(inner), heading_at(outer));
                if let (Some(inner_miss), Some(outer_miss)) = (miss_at(inner), miss_at(outer))
                    && inner_miss * outer_miss < 0.0
                    && let Some(heading) = self.between((inner, inner_miss), outer)
                {
                    return Some(heading);
                }
            }
        }
        None
    }

    /// Returns where the path with that last heading starts, as an angle seen from the hole: 0 at the ball, positive
    /// to the right of it.
    ///
    /// A path that turns away misses by a right angle.
    fn miss(&self, heading: Heading) -> f64 {
        self.start_angle(heading).unwrap_or_else(|TurnedAway(side)| side * FRAC_PI_2)
    }

    /// Returns the miss of a path that comes to where the putt begins.
    fn start_angle(&self, heading: Heading) -> Result<f64, TurnedAway> {
        self.start(heading, |_, _, _| {}).map(|start| start.y.atan2(self.length_m))
    }

    /// Returns the start of the path with that last heading, and tells `seen` of each section its index and the angles
    /// at which the ball leaves and enters it.
    fn start(&self, heading: Heading, mut seen: impl FnMut(usize, f64, f64)) -> Result<Crossing, TurnedAway> {
        let mut heading = heading;
        let mut speed = self.arriving;
        let mut crossing = Crossing { y: 0.0, vx: 0.0, vy: 0.0 };
        for (index, section) in self.sections.iter().enumerate().rev() {
            let ground = Ground::of(section);
            if index + 1 < self.sections.len() {
                speed = crossing.vx.hypot(crossing.vy);
                heading = ground.heading(&crossing);
            }
            let path = Path::new(ground, self.deceleration, speed, heading);
            let leaving = path.velocity_at_end().angle();
            let entering = path.entry()?;
            seen(index, leaving, entering.angle());
            crossing = Crossing { y: crossing.y + entering.y, ..entering };
        }
        if crossing.y.is_finite() && crossing.vx > 0.0 {
            Ok(crossing)
        } else {
            Err(TurnedAway(0.0 - crossing.vy.signum()))
        }
    }
}

/// Returns an angle between two, in the middle of their logarithms where they differ by orders of magnitude.
fn halfway(a: f64, b: f64) -> f64 {
    let (small, big) = if a.abs() < b.abs() { (a, b) } else { (b, a) };
    let floor = small.abs().max(1e-200);
    if small * big >= 0.0 && floor * 1e3 < big.abs() {
        (floor.sqrt() * big.abs().sqrt()).copysign(big).clamp(-PI * 2.0, PI * 2.0)
    } else {
        0.5 * (a + b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::putting::roll::GRAVITY_MPS2;
    use crate::units::SlopePct;
    use proptest::prelude::*;

    fn section(length: f64, side: f64, up: f64) -> Section {
        Section {
            length: Feet::new(length).unwrap(),
            side_slope: SlopePct::new(side).unwrap(),
            up_slope: SlopePct::new(up).unwrap(),
        }
    }

    fn at(s: f64, past: f64, sections: &[(f64, f64, f64)]) -> Result<Read, ReadError> {
        let sections: Vec<_> = sections.iter().map(|(length, side, up)| section(*length, *side, *up)).collect();
        let distance = Feet::new(sections.iter().map(|section| section.length.get()).sum()).unwrap();
        read(distance, Stimp::new(s).unwrap(), &sections, Overrun::new(past).unwrap())
    }

    /// Where a ball is when it has rolled to x = the distance, found step by step forwards in time.
    struct Rolled {
        y_in: f64,
        square_at_hole: f64,
        square_at_start: f64,
        path_m: f64,
    }

    fn roll_forwards(s: f64, sections: &[(f64, f64, f64)], putt: &Read) -> Rolled {
        let a = roll::deceleration_mps2(Stimp::new(s).unwrap());
        let speed = roll::rolling_mps(putt.ball_speed_mph);
        let line = putt.start_line_deg.to_radians();
        let mut state = [0.0, speed * line.cos(), speed * line.sin(), 0.0];
        for (length, side, up) in sections {
            let length_m = length * METRES_PER_FOOT;
            let pull = 5.0 / 7.0 * GRAVITY_MPS2 / 100.0;
            // x is the variable: y, v_x, v_y and the way rolled per metre of x
            let change = |state: [f64; 4]| {
                let [_, vx, vy, _] = state;
                let v = vx.hypot(vy);
                [vy / vx, (-a * vx / v - pull * up) / vx, (-a * vy / v + pull * side) / vx, v / vx]
            };
            let steps = 20_000;
            let h = length_m / f64::from(steps);
            for _ in 0..steps {
                let plus = |k: [f64; 4], share: f64| std::array::from_fn(|i| state[i] + share * h * k[i]);
                let k1 = change(state);
                let k2 = change(plus(k1, 0.5));
                let k3 = change(plus(k2, 0.5));
                let k4 = change(plus(k3, 1.0));
                state = std::array::from_fn(|i| state[i] + h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]));
            }
        }
        Rolled {
            y_in: state[0] / METRES_PER_INCH,
            square_at_hole: state[1] * state[1] + state[2] * state[2],
            square_at_start: speed * speed,
            path_m: state[3],
        }
    }

    #[test]
    fn a_ball_rolled_step_by_step_along_the_read_crosses_the_centre_at_the_asked_pace() {
        for (s, past, sections) in [
            (10.0, 12.0, vec![(10.0, 2.0, 0.0), (10.0, -2.0, 1.0)]),
            (12.0, 18.0, vec![(30.0, -3.0, 1.5)]),
            (8.0, 6.0, vec![(5.0, 4.0, -2.0), (12.0, 0.0, 3.0), (3.0, -1.0, 0.0)]),
            (11.0, 24.0, vec![(6.0, 1.0, -4.0)]),
        ] {
            let putt = at(s, past, &sections).unwrap();
            let rolled = roll_forwards(s, &sections, &putt);
            let square = 2.0 * roll::deceleration_mps2(Stimp::new(s).unwrap()) * past * METRES_PER_INCH;
            // 1e-6 in and 1e-6 of the speed: the steps of the forward roll
            assert!(rolled.y_in.abs() < 1e-6, "{sections:?}: {} in", rolled.y_in);
            assert!((rolled.square_at_hole / square - 1.0).abs() < 1e-6, "{sections:?}");
        }
    }

    #[test]
    fn a_ball_that_stops_on_the_edge_is_read_like_one_that_barely_passes() {
        let (edge, barely) =
            (at(10.0, 0.0, &[(20.0, 2.0, 0.0)]).unwrap(), at(10.0, 0.01, &[(20.0, 2.0, 0.0)]).unwrap());
        // 0.01 in of overrun moves the aim by about as much
        assert!((edge.aim_in - barely.aim_in).abs() < 0.02);
    }

    #[test]
    fn a_putt_that_cannot_be_read_is_named() {
        let check = |sections: &[Section], expect: ReadError| {
            let (d, s, past) = (Feet::new(20.0).unwrap(), Stimp::new(12.0).unwrap(), Overrun::new(12.0).unwrap());
            assert_eq!(read(d, s, sections, past), Err(expect));
        };
        check(&[], ReadError::LengthsDisagree { distance_ft: 20.0, sections_ft: 0.0 });
        check(&[section(19.0, 0.0, 0.0)], ReadError::LengthsDisagree { distance_ft: 20.0, sections_ft: 19.0 });
        check(&vec![section(0.1, 0.0, 0.0); 101], ReadError::TooManySections);
        check(&[section(20.0, 0.0, -12.0)], ReadError::NoLine);
    }

    #[test]
    fn a_straight_putt_up_a_plane_needs_the_pace_of_its_climb() {
        use crate::units::Inches;
        let putt = at(11.0, 12.0, &[(20.0, 0.0, 2.0)]).unwrap();
        let climb = Inches::new(20.0 * 12.0 * 0.02).unwrap();
        let pace = roll::pace(Feet::new(20.0).unwrap(), Stimp::new(11.0).unwrap(), climb, Overrun::new(12.0).unwrap());
        assert_eq!((putt.aim_in, putt.turned_deg), (0.0, 0.0));
        assert!((putt.ball_speed_mph - pace.unwrap().ball_speed_mph).abs() < 1e-9);
    }

    fn is_close(a: f64, b: f64, tolerance: f64) -> bool {
        (a - b).abs() <= tolerance * (1.0 + b.abs())
    }

    proptest! {
        #[test]
        fn a_level_green_is_straight(d in 0.1..100.0f64, share in 0.1..0.9f64, s in 4.0..16.0f64, past in 0.0..60.0f64) {
            let putt = at(s, past, &[(d * share, 0.0, 0.0), (d * (1.0 - share), 0.0, 0.0)]).unwrap();
            prop_assert_eq!((putt.aim_in, putt.start_line_deg, putt.break_in, putt.turned_deg), (0.0, 0.0, 0.0, 0.0));
        }

        #[test]
        fn mirrored_slopes_mirror_the_aim(
            d in 2.0..60.0f64, s in 6.0..14.0f64, past in 1.0..36.0f64,
            one in -3.0..3.0f64, two in -3.0..3.0f64, up in -2.0..3.0f64,
        ) {
            let putt = at(s, past, &[(d, one, up), (d, two, -up)]);
            let mirrored = at(s, past, &[(d, -one, up), (d, -two, -up)]);
            match (putt, mirrored) {
                (Ok(putt), Ok(mirrored)) => {
                    prop_assert!(is_close(putt.aim_in, -mirrored.aim_in, 1e-9));
                    prop_assert!(is_close(putt.turned_deg, -mirrored.turned_deg, 1e-9));
                    prop_assert!(is_close(putt.ball_speed_mph, mirrored.ball_speed_mph, 1e-9));
                }
                (putt, mirrored) => prop_assert_eq!(putt.is_err(), mirrored.is_err()),
            }
        }

        #[test]
        fn equal_sections_are_one_slope(
            d in 2.0..100.0f64, share in 0.05..0.95f64, s in 6.0..14.0f64, past in 1.0..36.0f64,
            side in -4.0..4.0f64, up in -2.0..4.0f64,
        ) {
            let whole = at(s, past, &[(d, side, up)]);
            let halves = at(s, past, &[(d * share, side, up), (d * (1.0 - share), side, up)]);
            match (whole, halves) {
                (Ok(whole), Ok(halves)) => {
                    // 1e-8: the joint loses a few digits of the heading
                    prop_assert!(is_close(halves.aim_in, whole.aim_in, 1e-8));
                    prop_assert!(is_close(halves.ball_speed_mph, whole.ball_speed_mph, 1e-8));
                    prop_assert!(is_close(halves.turned_by_section_deg.iter().sum(), whole.turned_deg, 1e-8));
                }
                (whole, halves) => prop_assert_eq!(whole.is_err(), halves.is_err()),
            }
        }

        #[test]
        fn the_turns_of_the_sections_add_up(
            d in 1.0..60.0f64, s in 6.0..14.0f64, past in 0.0..36.0f64,
            one in -3.0..3.0f64, two in -3.0..3.0f64, up in -2.0..3.0f64,
        ) {
            if let Ok(putt) = at(s, past, &[(d, one, up), (d / 2.0, two, 0.0), (d, one, -up)]) {
                prop_assert!(is_close(putt.turned_by_section_deg.iter().sum(), putt.turned_deg, 1e-9));
                prop_assert_eq!(putt.break_in, 0.0 - putt.aim_in);
            }
        }

        #[test]
        fn a_read_is_finite_or_a_named_error(
            s in 4.0..=16.0f64, past in 0.0..=240.0f64,
            sections in prop::collection::vec((f64::MIN_POSITIVE..=20.0f64, -20.0..=20.0f64, -20.0..=20.0f64), 1..10),
        ) {
            match at(s, past, &sections) {
                Ok(putt) => {
                    for value in [putt.aim_in, putt.start_line_deg, putt.ball_speed_mph, putt.break_in, putt.turned_deg] {
                        prop_assert!(value.is_finite());
                    }
                    prop_assert!(putt.turned_by_section_deg.iter().all(|turned| turned.is_finite()));
                }
                Err(error) => prop_assert_eq!(error, ReadError::NoLine),
            }
        }

        #[test]
        fn a_green_that_stops_every_ball_has_a_line_for_every_putt(
            s in 4.0..=16.0f64, past in 0.0..=60.0f64,
            sections in prop::collection::vec((0.1..=20.0f64, -1.0..=1.0f64, -1.0..=1.0f64), 1..6), share in 0.0..0.95f64,
        ) {
            // the steepest slope on which a ball still stops, as a share of it
            let stops = roll::deceleration_mps2(Stimp::new(s).unwrap()) / (5.0 / 7.0 * GRAVITY_MPS2) * 100.0;
            let scale = share * stops / 2f64.sqrt();
            let sections: Vec<_> = sections.into_iter().map(|(length, side, up)| (length, side * scale, up * scale)).collect();
            prop_assert!(at(s, past, &sections).is_ok());
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(16))]

        #[test]
        fn energy_balances_on_a_plane(
            d in 3.0..40.0f64, s in 7.0..13.0f64, past in 4.0..36.0f64, side in -2.0..2.0f64, up in -1.5..2.5f64,
        ) {
            let plane = [(d, side, up)];
            let putt = at(s, past, &plane).unwrap();
            let rolled = roll_forwards(s, &plane, &putt);
            let a = roll::deceleration_mps2(Stimp::new(s).unwrap());
            let climb_m = d * METRES_PER_FOOT * up / 100.0;
            let lost = 2.0 * a * rolled.path_m + 10.0 / 7.0 * GRAVITY_MPS2 * climb_m;
            // 1e-6: the steps of the forward roll
            prop_assert!((rolled.square_at_start - rolled.square_at_hole - lost).abs() < 1e-6 * rolled.square_at_start);
            prop_assert!(rolled.y_in.abs() < 1e-5);
        }
    }
}
