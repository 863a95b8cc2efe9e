//! Simulated golfers for the fair-play evidence, with habits that its models lack.
//!
//! The physics is written down here once more, from the same sources, so that a slip in the house's own functions would
//! show.

use super::Random;
use evenfield::domain::audit::{HoleReading, Met, RoundReadings};
use evenfield::domain::facts::course::Layout;
use evenfield::domain::facts::round::{CardHole, Outcome, Round};
use evenfield::domain::facts::{Putt, PuttResult};
use evenfield::domain::ids::{ClientRoundId, MemberId};
use evenfield::domain::units::{
    Degrees, Feet, HoleCount, HoleNumber, Inches, Mph, OutOfRange, SlopeRating, Stimp, Strokes, Tenths,
};
use uuid::Uuid;

/// How a golfer putts.
#[derive(Clone, Copy, Debug)]
pub struct Golfer {
    /// Spread of the start line at 10 ft, in degrees.
    pub skill_deg: f64,
    /// The power of distance by which that spread changes.
    pub habit: f64,
    /// Mean of the start line in degrees.
    pub bias_deg: f64,
    /// Spread of the aim in degrees.
    pub read_deg: f64,
    /// Spread of the roll as a share.
    pub pace: f64,
    /// Mean of the roll over the meant one.
    pub pace_bias: f64,
    /// How far past the hole the ball is meant to roll, in feet.
    pub past_ft: f64,
    /// Log-normal spread of a night's form.
    pub night: f64,
    /// How much straighter the golfer gets over the season, as a share of the spread.
    pub improvement: f64,
    /// Strokes over par from tee to green, on average a hole.
    pub long_game: f64,
}

/// What a set-up does to short putts.
#[derive(Clone, Copy, Debug)]
pub struct Softening {
    /// Putts up to this distance.
    pub radius_ft: f64,
    /// What the line is multiplied by.
    pub factor: f64,
}

/// What a set-up records and how well.
#[derive(Clone, Copy, Debug)]
pub struct Equipment {
    /// Measured over true speed.
    pub speed_ratio: f64,
    /// Noise of a measured speed as a share.
    pub speed_noise: f64,
    /// Measured over true line.
    pub line_ratio: f64,
    /// Noise of the measured line in degrees.
    pub line_noise_deg: f64,
    /// The step in which lines are shown, in degrees.
    pub line_step_deg: f64,
    /// Whether the simulator rolls the ball along the measured line; otherwise along the true one, as a second sensor
    /// sees it, with half of that noise.
    pub plays_measured: bool,
    /// Putts up to this distance are conceded.
    pub gimme_ft: f64,
    /// Softening.
    pub softening: Option<Softening>,
    /// Whether the measured line is recorded.
    pub shows_line: bool,
    /// Whether the played line is recorded.
    pub shows_played: bool,
    /// Whether the ball speed is recorded.
    pub shows_speed: bool,
    /// The share of readings that are nonsense.
    pub absurd: f64,
    /// The share of lines inside 10 ft that are shown as 0 because the sensor saw nothing.
    pub unseen: f64,
    /// What it does to putts whatever their line.
    pub assists: Option<Assist>,
}

/// Help that is no softening.
#[derive(Clone, Copy, Debug)]
pub enum Assist {
    /// Of putts up to this distance 98.5 % fall.
    Falls { inside_ft: f64 },
    /// Up to 10 ft the hole is so many times as wide.
    Wider { times: f64 },
}

/// Which holes of a card have putts.
#[derive(Clone, Copy, Debug)]
pub enum Recording {
    /// All.
    Every,
    /// This share, at random.
    Share(f64),
    /// 95 % of holes at par or better, 70 % of bogeys, 30 % of worse.
    Chosen,
    /// Those with at most two putts.
    AtMostTwo,
}

/// A card of eighteen holes of par 4, as the league lays it out.
pub fn layout() -> Result<Layout, OutOfRange> {
    use evenfield::domain::facts::course::Hole;
    use evenfield::domain::units::{Par, StrokeIndex};
    let hole = |n: i64| -> Result<Hole, OutOfRange> {
        Ok(Hole { number: HoleNumber::new(n)?, par: Par::new(4)?, stroke_index: StrokeIndex::new(n)? })
    };
    Ok(Layout {
        holes: (1..=18).map(hole).collect::<Result<_, _>>()?,
        course_rating: Tenths(715),
        slope_rating: SlopeRating::new(113)?,
        count: HoleCount::Eighteen,
    })
}

/// A night: which one of how many, and what the league received before.
#[derive(Clone, Copy, Debug)]
pub struct Night {
    /// From 0 on.
    pub number: u32,
    /// Nights of the season.
    pub of: u32,
    /// How many holes are played.
    pub holes: i64,
    /// The green speed.
    pub stimp: f64,
    /// The green speed that the event says.
    pub said_stimp: f64,
    /// The steepest usual slope, in inches a foot.
    pub slope: f64,
    /// The round's place among the received.
    pub received: u64,
}

impl Night {
    /// One night a week.
    fn played_on(&self) -> jiff::civil::Date {
        jiff::civil::Date::constant(2026, 9, 1).saturating_add(jiff::Span::new().weeks(self.number))
    }
}

/// Plays a round and returns its readings.
pub fn play(
    golfer: &Golfer,
    equipment: &Equipment,
    recording: Recording,
    night: Night,
    random: &mut Random,
) -> Result<RoundReadings, OutOfRange> {
    let through = f64::from(night.number) / f64::from(night.of.max(1));
    let form = (golfer.night * random.normal() - golfer.improvement * (through - 0.5)).exp();
    let tonight = Golfer { skill_deg: golfer.skill_deg * form, ..*golfer };
    let mut holes = Vec::with_capacity(18);
    for number in 1..=night.holes {
        let first_ft = if random.uniform() < 0.35 {
            1.0 + 9.0 * random.uniform()
        } else {
            (22.0 * (0.55 * random.normal()).exp()).clamp(3.0, 90.0)
        };
        let putts = hole_out(&tonight, equipment, night, first_ft, random)?;
        let extra = (0..3).filter(|_| random.uniform() < golfer.long_game / 3.0).count();
        let strokes = (2 + extra + putts.len()).min(30) as i64;
        let is_recorded = match recording {
            Recording::Every => true,
            Recording::Share(share) => random.uniform() < share,
            Recording::Chosen => random.uniform() < [0.95, 0.7, 0.3][(strokes - 4).clamp(0, 2) as usize],
            Recording::AtMostTwo => putts.len() <= 2,
        };
        holes.push(CardHole {
            number: HoleNumber::new(number)?,
            strokes: Some(Strokes::new(strokes)?),
            picked_up: false,
            not_played: false,
            putt_count: (!is_recorded).then_some(putts.len() as u8),
            putts: is_recorded.then_some(putts),
        });
    }
    let round = Round {
        client_round_id: ClientRoundId(Uuid::from_u128(u128::from(night.received))),
        member_id: MemberId(Uuid::from_u128(1)),
        setup_id: None,
        played_on: night.played_on(),
        outcome: Outcome::Complete,
        holes,
    };
    let (played_on, stimp) = (night.played_on(), Stimp::new(night.said_stimp)?);
    let met = Met { received: night.received, played_on, stimp, declared_radius_ft: None };
    Ok(RoundReadings::of(&round, &layout()?, met))
}

/// Returns cards alone, for the kinds that look at nothing else.
pub fn card(
    golfer: &Golfer,
    recording: Recording,
    night: Night,
    random: &mut Random,
) -> Result<RoundReadings, OutOfRange> {
    let holes = (0..18).map(|_| {
        let strokes = (0..4).filter(|_| random.uniform() < (golfer.long_game + 0.8) / 4.0).count() as i32 - 1;
        let is_recorded = match recording {
            Recording::Every | Recording::AtMostTwo => true,
            Recording::Share(share) => random.uniform() < share,
            Recording::Chosen => random.uniform() < [0.95, 0.7, 0.3][strokes.clamp(0, 2) as usize],
        };
        HoleReading { to_par: strokes, is_recorded }
    });
    let holes = holes.collect();
    let (played_on, stimp) = (night.played_on(), Stimp::new(night.said_stimp)?);
    Ok(RoundReadings { received: night.received, played_on, stimp, putts: vec![], holes, conceded: 0 })
}

fn hole_out(
    golfer: &Golfer,
    equipment: &Equipment,
    night: Night,
    first_ft: f64,
    random: &mut Random,
) -> Result<Vec<Putt>, OutOfRange> {
    let mut putts = Vec::new();
    let mut distance = shown(first_ft);
    let mut grade = night.slope * random.normal();
    loop {
        if distance <= equipment.gimme_ft {
            putts.push(Putt {
                distance_ft: Feet::new(distance)?,
                elevation_in: None,
                ball_speed_mph: None,
                start_line_deg: None,
                played_line_deg: None,
                result: PuttResult::Conceded,
            });
            return Ok(putts);
        }
        let elevation = tenth((grade.clamp(-0.3, 0.3) * distance).clamp(-40.0, 40.0));
        let (putt, leave) = strike(golfer, equipment, night, (distance, elevation), putts.len() == 6, random)?;
        putts.push(putt);
        match leave {
            None => return Ok(putts),
            Some((leave, is_beyond)) => {
                distance = shown(leave);
                grade = if is_beyond { -grade } else { grade } + 0.3 * night.slope * random.normal();
            }
        }
    }
}

/// Release speed of a stimpmeter and fastest capture in m/s (Holmes 1991); share of speed left in pure roll (evenfield
/// estimate); radius of the hole in feet (Rules of Golf).
const RELEASE: f64 = 1.83;
const FASTEST: f64 = 1.63;
const LAUNCH_ROLL: f64 = 0.90;
const HOLE_FT: f64 = 2.125 / 12.0;

type Leave = Option<(f64, bool)>;

fn strike(
    golfer: &Golfer,
    equipment: &Equipment,
    night: Night,
    (distance, elevation): (f64, f64),
    is_last: bool,
    random: &mut Random,
) -> Result<(Putt, Leave), OutOfRange> {
    let line = golfer.bias_deg + golfer.skill_deg * (distance / 10.0).powf(golfer.habit) * random.normal();
    let noise = equipment.line_noise_deg * random.normal();
    let measured = equipment.line_ratio * line + noise;
    let seen =
        if equipment.plays_measured { measured } else { line + 0.5 * equipment.line_noise_deg * random.normal() };
    let played = match equipment.softening {
        Some(soft) if distance <= soft.radius_ft => soft.factor * seen,
        _ => seen,
    };
    // deceleration in ft/s² from v² = 2 a S; one inch of climb in feet of roll
    let deceleration = RELEASE * RELEASE / (2.0 * night.stimp * 0.3048);
    let plays_like = (distance + 10.0 / 7.0 * 9.81 * elevation * 0.0254 / (2.0 * deceleration) / 0.3048).max(0.3);
    let roll = ((plays_like + golfer.past_ft) * (1.0 + golfer.pace_bias + golfer.pace * random.normal())).max(0.2);
    let speed_mph = (2.0 * deceleration * roll * 0.3048).sqrt() / LAUNCH_ROLL / 0.447_04;
    let sent = (played + golfer.read_deg * random.normal()).to_radians();
    let beyond = roll + 0.15 * random.normal() - plays_like;
    let offset = distance * sent.tan();
    let arriving = (2.0 * deceleration * beyond.max(0.0) * 0.3048).sqrt();
    let wider = match equipment.assists {
        Some(Assist::Wider { times }) if distance <= 10.0 => times,
        _ => 1.0,
    };
    let room = wider * HOLE_FT * (1.0 - arriving / FASTEST).max(0.0).sqrt();
    let falls = match equipment.assists {
        Some(Assist::Falls { inside_ft }) if distance <= inside_ft => random.uniform() < 0.985,
        _ => beyond > 0.0 && arriving < FASTEST && offset.abs() < room,
    };
    let is_holed = falls || is_last;
    let along = if beyond > 0.0 { beyond } else { distance * (beyond / plays_like).max(-1.0) };
    let wide = (distance + along) * sent.sin();
    let is_absurd = random.uniform() < equipment.absurd;
    let step = equipment.line_step_deg;
    // the hundredths take off what binary fractions add
    let shown = |degrees: f64| (100.0 * (degrees / step).round() * step).round() / 100.0;
    let line = |degrees: f64| Degrees::new(shown(degrees).clamp(-45.0, 45.0));
    let speed = speed_mph * equipment.speed_ratio * (1.0 + equipment.speed_noise * random.normal());
    let is_unseen = equipment.unseen > 0.0 && distance <= 10.0 && random.uniform() < equipment.unseen;
    let played = if is_unseen { 0.0 } else { played };
    let measured = if is_unseen { 0.0 } else { measured };
    let (start, speed) =
        if is_absurd { (60.0 * random.uniform() - 30.0, 1.0 + 15.0 * random.uniform()) } else { (measured, speed) };
    let putt = Putt {
        distance_ft: Feet::new(distance)?,
        elevation_in: Some(Inches::new(elevation)?),
        ball_speed_mph: if equipment.shows_speed { Some(Mph::new(tenth(speed).clamp(0.1, 40.0))?) } else { None },
        start_line_deg: if equipment.shows_line { Some(line(start)?) } else { None },
        played_line_deg: if equipment.shows_played { Some(line(played)?) } else { None },
        result: if is_holed { PuttResult::Holed } else { PuttResult::Missed },
    };
    Ok((putt, (!is_holed).then(|| (along.hypot(wide), beyond > 0.0))))
}

/// A distance as a simulator shows it: tenths up to 10 ft, then half feet.
fn shown(distance: f64) -> f64 {
    let shown = if distance > 10.0 { (2.0 * distance).round() / 2.0 } else { tenth(distance) };
    shown.clamp(0.1, 199.0)
}

fn tenth(x: f64) -> f64 {
    (10.0 * x).round() / 10.0
}
