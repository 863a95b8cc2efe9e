//! The path of a ball over one stretch of green of one slope, followed backwards in time, in closed form.

use super::roll::{GRAVITY_MPS2, METRES_PER_FOOT};
use super::section::Section;

/// The most steps to find where a path enters its section.
const MOST_STEPS: u32 = 100;

/// The path through one section, backwards from where the ball leaves it. λ is as in [`read`](super::read::read).
pub(super) struct Path {
    ground: Ground,
    /// On the level, in m/s².
    deceleration: f64,
    /// v₀, where the ball leaves the section, in m/s.
    speed: f64,
    /// sin ψ₀.
    sin: f64,
    /// cos²(ψ₀/2) and sin²(ψ₀/2).
    shares: (f64, f64),
}

/// One section in SI.
#[derive(Clone, Copy)]
pub(super) struct Ground {
    /// The length along the line from ball to hole.
    length_m: f64,
    /// The unit vector down the fall line; any where the section is level.
    pub(super) down: (f64, f64),
    /// The pull down the fall line in m/s².
    pull: f64,
}

/// A heading against the fall line of a section.
///
/// It is kept so, and not against x, because the last heading of a dying ball lies within a hair of the fall line.
#[derive(Clone, Copy)]
pub(super) struct Heading {
    pub(super) cos: f64,
    pub(super) sin: f64,
}

/// The ball where it crosses from one section to the next: y in m, to the right; the velocity in m/s.
#[derive(Clone, Copy)]
pub(super) struct Crossing {
    pub(super) y: f64,
    pub(super) vx: f64,
    pub(super) vy: f64,
}

/// A path that, followed backwards, never comes to where its section begins.
///
/// It holds the side that the path was making for: -1 left, 1 right.
pub(super) struct TurnedAway(pub(super) f64);

impl Heading {
    /// Returns the heading at an angle off the fall line, in radians; positive is to the right.
    pub(super) fn off_fall_line(angle: f64) -> Self {
        Self { cos: angle.cos(), sin: angle.sin() }
    }
}

impl TurnedAway {
    /// Returns the failure of a path that, followed backwards, goes on from `end` for ever.
    fn after(end: &Crossing) -> Self {
        Self(if end.vy == 0.0 { 0.0 } else { 0.0 - end.vy.signum() })
    }
}

impl Ground {
    /// Returns the ground of a section.
    pub(super) fn of(section: &Section) -> Self {
        let (fall_x, fall_y) = (0.0 - section.up_slope.get() / 100.0, section.side_slope.get() / 100.0);
        let slope = fall_x.hypot(fall_y);
        let down = if slope > 0.0 { (fall_x / slope, fall_y / slope) } else { (1.0, 0.0) };
        Self { length_m: section.length.get() * METRES_PER_FOOT, down, pull: 5.0 / 7.0 * GRAVITY_MPS2 * slope }
    }

    /// Returns the heading of a ball against this section's fall line.
    pub(super) fn heading(&self, ball: &Crossing) -> Heading {
        let speed = ball.vx.hypot(ball.vy);
        Heading {
            cos: (ball.vx * self.down.0 + ball.vy * self.down.1) / speed,
            sin: (ball.vy * self.down.0 - ball.vx * self.down.1) / speed,
        }
    }
}

impl Crossing {
    /// Returns the angle of the ball's way against the line to the hole, in radians; positive is to the right.
    pub(super) fn angle(&self) -> f64 {
        self.vy.atan2(self.vx)
    }
}

impl Path {
    /// Returns the path of a ball that leaves `ground` with that speed and heading.
    pub(super) fn new(ground: Ground, deceleration: f64, speed: f64, heading: Heading) -> Self {
        // each share from the other's larger one: neither loses its digits near the fall line
        let quarter = 0.25 * heading.sin * heading.sin;
        let shares = if heading.cos > 0.0 {
            let with = 0.5 * (1.0 + heading.cos);
            (with, quarter / with)
        } else {
            let against = 0.5 * (1.0 - heading.cos);
            (quarter / against, against)
        };
        Self { ground, deceleration, speed, sin: heading.sin, shares }
    }

    /// Returns the velocity where the ball leaves the section.
    pub(super) fn velocity_at_end(&self) -> Crossing {
        let (along, across) = (self.speed * (self.shares.0 - self.shares.1), self.speed * self.sin);
        let (vx, vy) = self.to_xy(along, across);
        Crossing { y: 0.0, vx, vy }
    }

    /// Returns x and y of a vector given along the fall line and across it.
    fn to_xy(&self, along: f64, across: f64) -> (f64, f64) {
        let (x, y) = self.ground.down;
        (along * x - across * y, along * y + across * x)
    }

    /// Returns the point at λ.
    fn at(&self, lambda: f64) -> Point {
        let (a, pull) = (self.deceleration, self.ground.pull);
        let (with, against) = self.shares;
        let grown = |share: f64, rate: f64| if share == 0.0 { 0.0 } else { share * (rate * lambda).exp() };
        let (with_now, against_now) = (grown(with, a - pull), grown(against, a + pull));
        let sin_now = 2.0 * (with_now * against_now).sqrt().copysign(self.sin);
        // ∫ e^(rate λ), times the share that it starts from
        let sum = |rate: f64, start: f64, now: f64| {
            let exponent = rate * lambda;
            if exponent.abs() < 1e-3 {
                start * lambda * (1.0 + exponent / 2.0 * (1.0 + exponent / 3.0 * (1.0 + exponent / 4.0)))
            } else {
                (now - start) / rate
            }
        };
        let along = sum(2.0 * (a - pull), with * with, with_now * with_now)
            - sum(2.0 * (a + pull), against * against, against_now * against_now);
        let across = sum(2.0 * a - pull, with * self.sin, with_now * sin_now)
            + sum(2.0 * a + pull, against * self.sin, against_now * sin_now);
        let square = self.speed * self.speed;
        let (back_x, back_y) = self.to_xy(square * along, square * across);
        let (vx, vy) = self.to_xy(self.speed * (with_now - against_now), self.speed * sin_now);
        Point { back_x, back_y, vx, vy, speed: self.speed * (with_now + against_now) }
    }

    /// Returns the λ at which the ball rolls square to the line to the hole, where it ever does.
    ///
    /// There v_x = 0: a quadratic in e^(Gλ) with one positive root. On a fall towards the hole, a path followed further
    /// back moves away from the section's beginning; on a climb, only a path followed further back moves towards it.
    fn square_to_line(&self) -> Option<f64> {
        let (x, y) = self.ground.down;
        if x == 0.0 || self.ground.pull == 0.0 || self.shares.1 == 0.0 {
            return None;
        }
        let sideways = 0.0 - y * self.sin / x;
        let root = sideways.hypot(self.sin);
        let growth = if sideways > 0.0 {
            (sideways + root) / (2.0 * self.shares.1)
        } else {
            2.0 * self.shares.0 / (root - sideways)
        };
        Some(growth.ln() / self.ground.pull)
    }

    /// Returns where the ball enters the section; its y is counted from where it leaves. At most 100 steps.
    pub(super) fn entry(&self) -> Result<Crossing, TurnedAway> {
        let end = self.velocity_at_end();
        let length = self.ground.length_m;
        let is_falling = self.ground.down.0 > 0.0;
        // known to be short of the section's beginning, and known to be far enough
        let (mut short, mut enough) = (0.0, f64::INFINITY);
        match self.square_to_line() {
            Some(square) if is_falling => enough = square,
            Some(square) => short = square.max(0.0),
            None if end.vx > 0.0 => {}
            None => return Err(TurnedAway::after(&end)),
        }
        if enough <= 0.0 {
            return Err(TurnedAway::after(&end));
        }
        if enough.is_finite() {
            let farthest = self.at(enough);
            // beyond the floats' range it is far enough
            if farthest.back_x.is_finite() && farthest.back_x < length {
                return Err(TurnedAway(0.0 - farthest.vy.signum()));
            }
        } else if is_falling && self.shares.1 == 0.0 && self.ground.pull > self.deceleration {
            // straight down a fall that is steeper than the green is slow: backwards, the ball creeps to a halt
            let rest = self.speed * self.speed * self.ground.down.0 / (2.0 * (self.ground.pull - self.deceleration));
            if rest <= length {
                return Err(TurnedAway::after(&end));
            }
        }

        // Newton on the logarithm, in which a level path is a straight line
        let rate = 2.0 * self.deceleration;
        let scale = self.speed * self.speed.min(end.vx.abs().max(0.01 * self.speed)) / rate;
        let target = (length / scale).ln_1p();
        let mut lambda = (target / rate).min(0.5 * enough).max(2.0 * short);
        for _ in 0..MOST_STEPS {
            let point = self.at(lambda);
            let gap = match point.back_x / scale {
                back if !back.is_finite() => f64::INFINITY,
                back if back <= -0.5 => f64::NEG_INFINITY,
                back => back.ln_1p() - target,
            };
            if gap < 0.0 {
                short = lambda;
            } else {
                enough = lambda;
            }
            let mut next = lambda - gap * (scale + point.back_x) / (point.speed * point.vx);
            if !(next > short && next < enough) {
                if gap.abs() <= f64::EPSILON * 4.0 * target {
                    break;
                }
                next = if enough.is_finite() { 0.5 * (short + enough) } else { 2.0 * lambda };
            }
            // the steps' errors square: after one this small nothing is left
            let is_last = (next - lambda).abs() <= 1e-9 * next;
            lambda = next;
            if is_last {
                break;
            }
        }
        let point = self.at(lambda);
        Ok(Crossing { y: 0.0 - point.back_y, vx: point.vx, vy: point.vy })
    }
}

/// A point of a path: how far back from the section's end in m, and the velocity there in m/s.
struct Point {
    back_x: f64,
    back_y: f64,
    vx: f64,
    vy: f64,
    speed: f64,
}
