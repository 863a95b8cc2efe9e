//! Simulated putts: a stroke with its errors, the roll, the hole, and what the sensor shows of it.
//!
//! The physics is that of a rolling ball with constant deceleration, so that whatever is inferred from the records
//! can be held against what really happened. The sensor measures a stroke; the simulator rolls the ball from that
//! measurement, on an honest set-up unchanged.

use super::chance::Chance;
use crate::domain::facts::{Putt, PuttResult};
use crate::domain::units::{Degrees, Feet, Inches, Mph, Stimp};

/// Radius of the hole in feet: 2.125 in (Rules of Golf).
const HOLE_RADIUS_FT: f64 = 2.125 / 12.0;
/// Release speed of a stimpmeter in m/s (stimpmeter booklet, from memory; Holmes 1991).
const RELEASE: f64 = 1.83;
/// Fastest dead-centre capture in m/s (Holmes, Am. J. Phys. 59, 1991).
const FASTEST_CAPTURE: f64 = 1.63;
/// Share of the ball speed left once the ball rolls purely (evenfield estimate, from common-practice pace values).
const LAUNCH_ROLL: f64 = 0.90;
const GRAVITY: f64 = 9.81;
const METRES_PER_FOOT: f64 = 0.3048;
const METRES_PER_INCH: f64 = 0.0254;
const MPS_PER_MPH: f64 = 0.447_04;
/// A hole longer than this many putts ends with the last one in: far beyond what is ever drawn.
const MOST_PUTTS: usize = 8;

/// How a player putts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Putter {
    /// Spread of the start line in degrees.
    pub line_sd_deg: f64,
    /// Mean of the start line in degrees; positive starts right.
    pub line_bias_deg: f64,
    /// Spread of the aim about the true one in degrees.
    pub read_sd_deg: f64,
    /// Spread of the roll as a share of the meant roll.
    pub pace_sd: f64,
    /// Mean of the roll as a share of the meant roll; positive rolls too far.
    pub pace_bias: f64,
    /// How far beyond the hole the player means the ball to roll, in feet.
    pub past_ft: f64,
    /// The chance that a putt within the concession is taken as conceded.
    pub concedes: f64,
}

/// How a set-up treats the launch direction of short putts, where it doesn't leave it alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Softening {
    /// Putts up to this distance are softened.
    pub radius_ft: f64,
    /// What the measured direction is multiplied by.
    pub factor: f64,
}

/// What a set-up measures and shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measuring {
    /// Measured over true ball speed; 1 is exact.
    pub speed_ratio: f64,
    /// Spread of the measured line in degrees.
    pub line_noise_deg: f64,
    /// Whether it records the measured line.
    pub shows_line: bool,
    /// Whether it records the line that the simulator used.
    pub shows_played_line: bool,
    /// Whether it records the ball speed.
    pub shows_speed: bool,
    /// How it treats short putts; `None` for an honest set-up.
    pub softening: Option<Softening>,
    /// The share of putts inside 10 ft whose speed it misreads.
    pub misreads: f64,
}

/// Where a putt is struck.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lie {
    /// The green speed.
    pub stimp: Stimp,
    /// From the ball to the hole in feet.
    pub distance_ft: f64,
    /// How much higher the hole lies in inches.
    pub elevation_in: f64,
}

/// What became of a struck ball.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stop {
    /// In the hole.
    Holed,
    /// Stopped before the hole, this far from it in feet.
    Short(f64),
    /// Stopped beyond the hole, this far from it in feet.
    Long(f64),
}

/// A struck putt: what was measured, what was played, what came of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Struck {
    /// The measured start line in degrees.
    pub measured_line_deg: f64,
    /// The start line that the simulator rolled the ball on, in degrees.
    pub played_line_deg: f64,
    /// The measured ball speed in mph.
    pub ball_speed_mph: f64,
    /// Where the ball stopped.
    pub stop: Stop,
}

impl Lie {
    /// Returns the length of the level putt that needs the same speed to just arrive.
    ///
    /// # Formula
    /// ```text
    /// d + (10/7) g h / (2a)     a = 1.83² / (2 S)     d: distance   h: climb   S: green speed, all in metres
    /// ```
    /// # Source
    /// Energy of a rolling sphere: v² = 2a(d + past) + (10/7) g h.
    pub fn plays_like_ft(&self) -> f64 {
        let rise = 10.0 / 7.0 * GRAVITY * self.elevation_in * METRES_PER_INCH;
        self.distance_ft + rise / (2.0 * self.deceleration()) / METRES_PER_FOOT
    }

    /// Returns the deceleration on the level in m/s².
    fn deceleration(&self) -> f64 {
        RELEASE.powi(2) / (2.0 * self.stimp.get() * METRES_PER_FOOT)
    }

    /// Returns the rolling speed in m/s that carries a ball `roll_ft` on the level.
    fn speed_for(&self, roll_ft: f64) -> f64 {
        (2.0 * self.deceleration() * roll_ft * METRES_PER_FOOT).sqrt()
    }

    /// Rolls a ball that leaves `line_deg` off the right line with enough speed for `roll_ft` on the level.
    ///
    /// # Formula
    /// ```text
    /// offset at the hole = d tan(line)     beyond = roll - plays-like
    /// holed: beyond > 0 and |offset| < R sqrt(1 - v / 1.63)     v: speed left at the hole (m/s)
    /// ```
    /// # Source
    /// The capture edge in the form of Penner, Can. J. Phys. 80 (2002), from memory.
    pub fn roll(&self, line_deg: f64, roll_ft: f64) -> Stop {
        let plays_like = self.plays_like_ft();
        let beyond = roll_ft - plays_like;
        let (sine, cosine) = line_deg.to_radians().sin_cos();
        if beyond <= 0.0 {
            let rolled = self.distance_ft * (roll_ft / plays_like).clamp(0.0, 1.0);
            let (along, across) = (rolled * cosine, rolled * sine);
            return Stop::Short((self.distance_ft - along).hypot(across));
        }
        let speed = self.speed_for(beyond);
        let offset = self.distance_ft * sine / cosine;
        if speed < FASTEST_CAPTURE && offset.abs() < HOLE_RADIUS_FT * (1.0 - speed / FASTEST_CAPTURE).sqrt() {
            return Stop::Holed;
        }
        let path = self.distance_ft / cosine + beyond;
        Stop::Long((path * cosine - self.distance_ft).hypot(path * sine))
    }
}

/// Strikes one putt.
pub fn strike(chance: &mut Chance, putter: &Putter, measuring: &Measuring, lie: &Lie) -> Struck {
    let start = putter.line_bias_deg + putter.line_sd_deg * chance.normal();
    let measured = start + measuring.line_noise_deg * chance.normal();
    let played = match measuring.softening {
        Some(softening) if lie.distance_ft <= softening.radius_ft => measured * softening.factor,
        _ => measured,
    };
    let read = putter.read_sd_deg * chance.normal();
    let meant = lie.plays_like_ft().max(0.5) + putter.past_ft;
    let error = (1.0 + putter.pace_bias + putter.pace_sd * chance.normal()).max(0.2);
    let roll = meant * error;
    let mut noise = 1.0 + 0.01 * chance.normal();
    if measuring.misreads > 0.0 && lie.distance_ft <= 10.0 && chance.happens(measuring.misreads) {
        noise = chance.between(0.3, 3.0);
    }
    let speed = lie.speed_for(roll) / LAUNCH_ROLL / MPS_PER_MPH;
    Struck {
        measured_line_deg: measured,
        played_line_deg: played,
        ball_speed_mph: speed * measuring.speed_ratio * noise,
        stop: lie.roll(played + read, roll),
    }
}

/// Putts from `first_ft` until the ball is in the hole or conceded, and returns what the sensor recorded.
pub fn hole_out(
    chance: &mut Chance,
    putter: &Putter,
    measuring: &Measuring,
    stimp: Stimp,
    first_ft: f64,
    concession_ft: f64,
) -> Vec<Putt> {
    let mut putts = Vec::new();
    let mut distance_ft = as_measured(first_ft);
    let mut grade = slope(chance);
    loop {
        if distance_ft <= concession_ft && chance.happens(putter.concedes) {
            putts.push(conceded(distance_ft));
            return putts;
        }
        let lie = Lie { stimp, distance_ft, elevation_in: tenth(grade * distance_ft) };
        let struck = strike(chance, putter, measuring, &lie);
        let is_last = putts.len() + 1 == MOST_PUTTS;
        let stop = if is_last { Stop::Holed } else { struck.stop };
        putts.push(record(chance, measuring, &lie, &struck, stop == Stop::Holed));
        distance_ft = match stop {
            Stop::Holed => return putts,
            Stop::Short(leave) | Stop::Long(leave) => as_measured(leave),
        };
        // a ball beyond the hole comes back over much the same slope the other way
        let turned = if matches!(stop, Stop::Long(_)) { -grade } else { grade };
        grade = (0.6 * turned + 0.5 * slope(chance)).clamp(-STEEPEST, STEEPEST);
    }
}

/// The steepest slope of a putt in inches a foot (3 %): gentle enough for a ball to stop on the quickest green.
const STEEPEST: f64 = 0.36;

fn slope(chance: &mut Chance) -> f64 {
    (0.13 * chance.normal()).clamp(-STEEPEST, STEEPEST)
}

fn record(chance: &mut Chance, measuring: &Measuring, lie: &Lie, struck: &Struck, holed: bool) -> Putt {
    // the sensor and the simulator each round their own copy of the line
    let shown_line = tenth(struck.measured_line_deg + 0.02 * chance.normal());
    let line = |degrees: f64| Degrees::new(tenth(degrees).clamp(Degrees::MIN, Degrees::MAX)).ok();
    Putt {
        distance_ft: feet(lie.distance_ft),
        elevation_in: Inches::new(lie.elevation_in).ok(),
        ball_speed_mph: measuring
            .shows_speed
            .then(|| Mph::new(tenth(struck.ball_speed_mph).clamp(0.1, Mph::MAX)).ok())
            .flatten(),
        start_line_deg: measuring.shows_line.then(|| line(shown_line)).flatten(),
        played_line_deg: measuring.shows_played_line.then(|| line(struck.played_line_deg)).flatten(),
        result: if holed { PuttResult::Holed } else { PuttResult::Missed },
    }
}

fn conceded(distance_ft: f64) -> Putt {
    Putt {
        distance_ft: feet(distance_ft),
        elevation_in: None,
        ball_speed_mph: None,
        start_line_deg: None,
        played_line_deg: None,
        result: PuttResult::Conceded,
    }
}

fn feet(distance_ft: f64) -> Feet {
    Feet::new(distance_ft).expect("a measured distance is from 0.1 to 200 ft")
}

/// Rounds a distance as a simulator shows it: to half a foot beyond 10 ft, to a tenth nearer.
fn as_measured(distance_ft: f64) -> f64 {
    let shown = if distance_ft > 10.0 { (distance_ft * 2.0).round() / 2.0 } else { tenth(distance_ft) };
    shown.clamp(0.1, Feet::MAX)
}

fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lie(stimp: f64, distance_ft: f64, elevation_in: f64) -> Lie {
        Lie { stimp: Stimp::new(stimp).unwrap(), distance_ft, elevation_in }
    }

    const EXACT: Measuring = Measuring {
        speed_ratio: 1.0,
        line_noise_deg: 0.0,
        shows_line: true,
        shows_played_line: true,
        shows_speed: true,
        softening: None,
        misreads: 0.0,
    };

    #[test]
    fn an_inch_of_climb_is_worth_a_share_of_the_green_speed() {
        for (stimp, worth_ft) in [(9.41, 1.0), (12.0, 1.275), (8.0, 0.850)] {
            let extra = lie(stimp, 20.0, 1.0).plays_like_ft() - 20.0;
            assert!((extra - worth_ft).abs() < 0.002, "{stimp}: {extra}");
        }
    }

    #[test]
    fn a_putt_needs_about_the_speed_that_players_know() {
        // common-practice values at a green speed of 12 ft, with 4 % of tolerance
        for (distance_ft, mph) in [(5.0, 2.94), (21.0, 6.02), (28.0, 6.95), (34.0, 7.66)] {
            let speed = lie(12.0, distance_ft, 0.0).speed_for(distance_ft) / LAUNCH_ROLL / MPS_PER_MPH;
            assert!((speed / mph - 1.0).abs() < 0.01, "{distance_ft} ft: {speed}");
        }
    }

    #[test]
    fn a_ball_falls_on_line_at_a_sane_speed_only() {
        let ten = lie(10.0, 10.0, 0.0);
        assert_eq!(ten.roll(0.0, 11.0), Stop::Holed);
        assert!(matches!(ten.roll(0.0, 9.9), Stop::Short(leave) if (leave - 0.1).abs() < 1e-9));
        assert!(matches!(ten.roll(1.1, 10.5), Stop::Long(_)), "past the edge of the hole");
        assert_eq!(ten.roll(0.9, 10.2), Stop::Holed, "a dying ball takes the wide line");
        assert!(matches!(ten.roll(0.9, 14.0), Stop::Long(_)), "a firm ball does not");
        assert!(matches!(ten.roll(0.0, 20.0), Stop::Long(leave) if (leave - 10.0).abs() < 1e-9), "too fast to fall");
    }

    #[test]
    fn softening_narrows_the_played_line_inside_its_radius_only() {
        let soft = Measuring { softening: Some(Softening { radius_ft: 6.0, factor: 0.5 }), ..EXACT };
        let putter = Putter {
            line_sd_deg: 1.5,
            line_bias_deg: 0.0,
            read_sd_deg: 0.5,
            pace_sd: 0.1,
            pace_bias: 0.0,
            past_ft: 1.0,
            concedes: 1.0,
        };
        let mut chance = Chance::at(3, &[]);
        for (distance_ft, factor) in [(5.0, 0.5), (6.0, 0.5), (6.1, 1.0)] {
            let struck = strike(&mut chance, &putter, &soft, &lie(10.0, distance_ft, 0.0));
            assert_eq!(struck.played_line_deg, struck.measured_line_deg * factor, "{distance_ft} ft");
        }
    }

    #[test]
    fn distances_are_rounded_as_they_are_shown() {
        for (distance_ft, shown) in [(0.01, 0.1), (4.26, 4.3), (10.3, 10.5), (31.2, 31.0)] {
            assert_eq!(as_measured(distance_ft), shown);
        }
    }
}
