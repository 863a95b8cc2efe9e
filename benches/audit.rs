//! How often the fair-play evidence is wrong, and how soon it is right: a program that prints figures from simulated
//! leagues, whose golfers have habits that the models lack.
//!
//! `cargo bench --bench audit -- [honest|softened|bays|chosen|cost|all] [--players N] [--nights N] [--seed N] [--world TEXT] [--kind TEXT] [--bay N]`

#[path = "../tests/support/simulated/mod.rs"]
mod simulated;

use evenfield::domain::audit::ledger::{About, Budget, Ledger, Taken, crossed};
use evenfield::domain::audit::{Digest, KINDS, RoundReadings, State, Subject, evidence, prepare, threshold_log10};
use evenfield::domain::ids::{MemberId, SetupId};
use evenfield::domain::packing::{Packer, Unpacker};
use evenfield::domain::units::OutOfRange;
use simulated::Random;
use simulated::audit::{self, Equipment, Golfer, Night, Recording, Softening};
use std::collections::{BTreeMap, BTreeSet};
use std::time::Instant;
use uuid::Uuid;

const FIELD: u32 = 200;

struct Run {
    players: usize,
    nights: u32,
    seed: u64,
    world: String,
    kind: String,
    /// How many honest players share each set-up; 0: a fifth of them share bays of four.
    bay: usize,
}

fn main() -> Result<(), OutOfRange> {
    let mut words = std::env::args().skip(1).filter(|word| word != "--bench").peekable();
    let what = words.next_if(|word| !word.starts_with("--")).unwrap_or_else(|| "all".to_owned());
    let mut run = Run { players: 200, nights: 30, seed: 1, world: String::new(), kind: String::new(), bay: 0 };
    while let (Some(name), Some(value)) = (words.next(), words.next()) {
        match name.as_str() {
            "--players" => run.players = value.parse().unwrap_or(run.players),
            "--nights" => run.nights = value.parse().unwrap_or(run.nights),
            "--seed" => run.seed = value.parse().unwrap_or(run.seed),
            "--world" => run.world = value,
            "--kind" => run.kind = value,
            "--bay" => run.bay = value.parse().unwrap_or(run.bay),
            _ => eprintln!("{name} is not known"),
        }
    }
    println!(
        "seed {}, {} players a world, {} nights; threshold log10 {:.2}",
        run.seed,
        run.players,
        run.nights,
        threshold()
    );
    let all = what == "all";
    if all || what == "cost" {
        cost(&run)?;
    }
    if all || what == "honest" {
        for world in honest_worlds().iter().filter(|world| world.name.contains(&run.world)) {
            honest(world, &run)?;
        }
    }
    if all || what == "softened" {
        for case in softened_cases().iter().filter(|case| case.name().contains(&run.world)) {
            softened(case, &run)?;
        }
    }
    if all || what == "bays" {
        bays(&run)?;
    }
    if all || what == "chosen" {
        chosen(&run)?;
    }
    Ok(())
}

fn threshold() -> f64 {
    threshold_log10(FIELD, 5.0, 0)
}

/// Ranges that a world's golfers and set-ups are drawn from.
struct World {
    name: &'static str,
    level: (f64, f64),
    habit: f64,
    bias: f64,
    line_noise: f64,
    line_step: f64,
    gimme_ft: f64,
    speed_ratio: f64,
    line_ratio: f64,
    slope: f64,
    read: (f64, f64),
    pace: (f64, f64),
    /// How the spread of line changes with distance: a normal distribution of powers beside the even one of `habit`.
    habit_sd: f64,
    /// The share of lines inside 10 ft that are shown as 0.
    unseen: f64,
    /// The green speed of every night, which is said to be 11; 0: what is said is true.
    true_stimp: f64,
    holes: &'static [i64],
    at_most_two: bool,
    change: Change,
}

/// What changes honestly on a night in the middle of the season.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Change {
    Nothing,
    /// The sensor is calibrated anew: what it shows of a line is multiplied by this from one night on.
    Calibration(f64),
    /// A lesson halves each player's spread from a night of that player's own on.
    Lesson,
    /// A new putter: another bias, pace and spread from a night of the player's own on.
    Putter,
    /// Two people take turns on one account.
    TwoPeople,
}

const PLAIN: World = World {
    name: "mixed",
    level: (1.3, 0.35),
    habit: 0.15,
    bias: 0.4,
    line_noise: 0.3,
    line_step: 0.1,
    gimme_ft: 0.0,
    speed_ratio: 0.06,
    line_ratio: 0.06,
    slope: 0.1,
    read: (0.25, 0.9),
    pace: (0.07, 0.15),
    habit_sd: 0.0,
    unseen: 0.0,
    true_stimp: 0.0,
    holes: &[18],
    at_most_two: false,
    change: Change::Nothing,
};

const ELITE: World = World { name: "all elite", level: (0.55, 0.15), read: (0.2, 0.5), pace: (0.06, 0.1), ..PLAIN };

/// Who plays on softened set-ups: as everywhere, but with the read error that the design names.
const SOFTENED: World = World { read: (0.25, 0.65), ..PLAIN };

fn honest_worlds() -> [World; 25] {
    [
        PLAIN,
        ELITE,
        World { name: "all novice", level: (2.4, 0.3), read: (0.6, 1.3), pace: (0.12, 0.2), bias: 0.8, ..PLAIN },
        World { name: "odd habits", habit: 0.3, bias: 1.0, ..PLAIN },
        World { name: "noisy sensors", line_noise: 0.6, ..PLAIN },
        World { name: "elite with noisy sensors and odd habits", habit: 0.3, line_noise: 0.6, ..ELITE },
        World { name: "gimmes of 2 ft", gimme_ft: 2.0, ..PLAIN },
        World { name: "gimmes of 6 ft", gimme_ft: 6.0, ..PLAIN },
        World { name: "calibration and slopes", speed_ratio: 0.13, line_ratio: 0.2, slope: 0.2, ..PLAIN },
        World { name: "whole degrees", line_step: 1.0, ..PLAIN },
        World { name: "half degrees", line_step: 0.5, ..PLAIN },
        World { name: "elite with whole degrees", line_step: 1.0, ..ELITE },
        World { name: "elite with half degrees", line_step: 0.5, ..ELITE },
        World { name: "zeros for a third of short lines", unseen: 0.35, ..PLAIN },
        World { name: "calibrated anew, × 0.8", change: Change::Calibration(0.8), ..PLAIN },
        World { name: "calibrated anew, × 1.25", change: Change::Calibration(1.25), ..PLAIN },
        World { name: "a lesson", change: Change::Lesson, ..PLAIN },
        World { name: "a new putter", change: Change::Putter, ..PLAIN },
        World { name: "two people on an account", change: Change::TwoPeople, ..PLAIN },
        World { name: "gimmes of 4 ft", gimme_ft: 4.0, ..PLAIN },
        World { name: "greens of 9 said to be 11", true_stimp: 9.0, ..PLAIN },
        World { name: "greens of 14 said to be 11", true_stimp: 14.0, ..PLAIN },
        World { name: "spreads by powers of distance", habit: 0.0, habit_sd: 0.35, ..PLAIN },
        World { name: "at most two putts", at_most_two: true, ..PLAIN },
        World { name: "nights of 6 and 9 holes", holes: &[6, 9], ..PLAIN },
    ]
}

fn golfer(world: &World, random: &mut Random) -> Golfer {
    let between = |random: &mut Random, (low, high): (f64, f64)| low + (high - low) * random.uniform();
    Golfer {
        skill_deg: world.level.0 * (world.level.1 * random.normal()).exp(),
        habit: world.habit * (2.0 * random.uniform() - 1.0)
            + if world.habit_sd > 0.0 { world.habit_sd * random.normal() } else { 0.0 },
        bias_deg: world.bias * (2.0 * random.uniform() - 1.0),
        read_deg: between(random, world.read),
        pace: between(random, world.pace),
        pace_bias: 0.06 * (2.0 * random.uniform() - 1.0),
        past_ft: between(random, (0.7, 2.1)),
        night: between(random, (0.05, 0.18)),
        improvement: between(random, (-0.1, 0.35)),
        long_game: between(random, (0.4, 1.4)),
    }
}

fn equipment(world: &World, random: &mut Random) -> Equipment {
    let mut around = |width: f64| 1.0 + width * (2.0 * random.uniform() - 1.0);
    let (speed_ratio, line_ratio) = (around(world.speed_ratio), around(world.line_ratio));
    Equipment {
        speed_ratio,
        line_ratio,
        speed_noise: 0.005 + 0.025 * random.uniform(),
        line_noise_deg: 0.02 + (world.line_noise - 0.02) * random.uniform(),
        line_step_deg: world.line_step,
        plays_measured: random.uniform() < 0.5,
        gimme_ft: world.gimme_ft,
        softening: None,
        shows_line: random.uniform() < 0.85,
        shows_played: random.uniform() < 0.6,
        shows_speed: random.uniform() < 0.85,
        absurd: 0.02 * random.uniform(),
        unseen: world.unseen,
        assists: None,
    }
}

fn night(number: u32, run: &Run, slope: f64, random: &mut Random) -> Night {
    let stimp = 8.0 + 4.0 * random.uniform();
    Night { number, of: run.nights, holes: 18, stimp, said_stimp: stimp, slope, received: u64::from(number) }
}

/// Returns who plays and on what, on a night, in a world where something changes honestly.
fn tonight(
    world: &World,
    (number, from, own): (u32, u32, u32),
    (golfer, other): (&Golfer, &Golfer),
    equipment: &Equipment,
) -> (Golfer, Equipment) {
    let (mut golfer, mut equipment, other) = (*golfer, *equipment, *other);
    match world.change {
        Change::Calibration(times) if number >= from => equipment.line_ratio *= times,
        Change::Lesson if number >= own => golfer.skill_deg *= 0.5,
        Change::Putter if number >= own => {
            golfer = Golfer {
                skill_deg: 1.2 * golfer.skill_deg,
                bias_deg: other.bias_deg,
                pace_bias: other.pace_bias,
                ..golfer
            };
        }
        Change::TwoPeople if number % 2 == 1 => golfer = other,
        _ => {}
    }
    (golfer, equipment)
}

/// Rows of one member on one set-up: a kind each.
type Rows = Vec<State>;

fn add(rows: &mut Rows, round: &RoundReadings, run: &Run) {
    for (state, kind) in rows.iter_mut().zip(KINDS).filter(|(_, kind)| kind.name.contains(&run.kind)) {
        state.add(kind, round);
    }
}

fn rows() -> Rows {
    vec![State::default(); KINDS.len()]
}

/// Returns each kind's evidence about the set-up of these players and about its first player.
fn factors(players: &[Rows], of_player: usize, run: &Run) -> Vec<(f64, f64)> {
    let of = |kind: usize| {
        if !KINDS[kind].name.contains(&run.kind) {
            return (0.0, 0.0);
        }
        let all: Vec<&State> = players.iter().map(|rows| &rows[kind]).collect();
        let one = evidence(KINDS[kind], Subject::Player, &[&players[of_player][kind]]).log10;
        (one, evidence(KINDS[kind], Subject::Setup, &all).log10)
    };
    (0..KINDS.len()).map(of).collect()
}

/// Plays honest seasons, a fifth of the players in bays of four, and prints the largest evidence of each kind.
fn honest(world: &World, run: &Run) -> Result<(), OutOfRange> {
    let started = Instant::now();
    let mut largest = vec![(f64::NEG_INFINITY, f64::NEG_INFINITY); KINDS.len()];
    let mut flagged = vec![(0, 0); KINDS.len()];
    let (mut played, mut group) = (0, 0u64);
    while played < run.players {
        let mut random = Random(run.seed.wrapping_mul(1_000_003).wrapping_add(group * 7_919));
        let size = match run.bay {
            // of 20 players, 16 have a set-up of their own and 4 share one
            0 if group % 17 == 16 => 4,
            0 => 1,
            bay => bay,
        };
        group += 1;
        played += size;
        let equipment = equipment(world, &mut random);
        let golfers: Vec<_> = (0..size).map(|_| golfer(world, &mut random)).collect();
        let others: Vec<_> = match world.change {
            Change::Putter | Change::TwoPeople => (0..size).map(|_| golfer(world, &mut random)).collect(),
            _ => golfers.clone(),
        };
        let mid = |random: &mut Random| match world.change {
            Change::Nothing => 0,
            _ => (run.nights as f64 * (0.25 + 0.5 * random.uniform())) as u32,
        };
        let from = mid(&mut random);
        let own: Vec<u32> = (0..size).map(|_| mid(&mut random)).collect();
        let recordings: Vec<_> = (0..size)
            .map(|_| {
                if world.at_most_two {
                    Recording::AtMostTwo
                } else if random.uniform() < 0.7 {
                    Recording::Every
                } else {
                    Recording::Share(0.3 + 0.65 * random.uniform())
                }
            })
            .collect();
        let mut players = vec![rows(); size];
        let mut seen = vec![(f64::NEG_INFINITY, f64::NEG_INFINITY); KINDS.len()];
        for number in 0..run.nights {
            let mut night = night(number, run, world.slope, &mut random);
            night.holes = world.holes[number as usize % world.holes.len()];
            if world.true_stimp > 0.0 {
                (night.stimp, night.said_stimp) = (world.true_stimp, 11.0);
            }
            for (n, golfer) in golfers.iter().enumerate() {
                let (golfer, equipment) = tonight(world, (number, from, own[n]), (golfer, &others[n]), &equipment);
                add(&mut players[n], &audit::play(&golfer, &equipment, recordings[n], night, &mut random)?, run);
                for (seen, (player, setup)) in seen.iter_mut().zip(factors(&players, n, run)) {
                    *seen = (seen.0.max(player), seen.1.max(setup));
                }
            }
        }
        for ((largest, flagged), seen) in largest.iter_mut().zip(&mut flagged).zip(seen) {
            *largest = (largest.0.max(seen.0), largest.1.max(seen.1));
            flagged.0 += usize::from(seen.0 >= threshold());
            flagged.1 += usize::from(seen.1 >= threshold());
        }
    }
    println!("honest, {}: {played} player-seasons, {:.0} s", world.name, started.elapsed().as_secs_f64());
    for (n, kind) in KINDS.iter().enumerate().filter(|(_, kind)| kind.name.contains(&run.kind)) {
        println!(
            "  {:20} largest log10 E: player {:6.2}, set-up {:6.2}; findings: {} players, {} set-ups{}",
            kind.name,
            largest[n].0,
            largest[n].1,
            flagged[n].0,
            flagged[n].1,
            if kind.is_notice { " (notices)" } else { "" }
        );
    }
    Ok(())
}

/// What a softened set-up records.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Shows {
    BothLines,
    PlayedLine,
    LineSpeedResults,
    LineResults,
    Results,
}

struct Case {
    factor: f64,
    radius_ft: f64,
    shows: Shows,
    bay: usize,
    /// The step in which lines are shown, in degrees.
    step_deg: f64,
    when: When,
}

/// On which nights a set-up is soft; they are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq)]
enum When {
    Always,
    From(u32),
    /// Every so many nights, the last of them first.
    Every(u32),
    /// The last four nights.
    Finals,
    /// On every night, but with another strength each.
    AnyStrength,
}

impl When {
    fn is_soft(self, night: u32, nights: u32) -> bool {
        match self {
            When::Always | When::AnyStrength => true,
            When::From(first) => night >= first,
            When::Every(nth) => night.is_multiple_of(nth),
            When::Finals => night + 4 > nights,
        }
    }

    /// Returns the first night that is soft.
    fn first(self, nights: u32) -> u32 {
        (1..=nights).find(|night| self.is_soft(*night, nights)).unwrap_or(1)
    }
}

impl Case {
    fn name(&self) -> String {
        let Self { factor, radius_ft, shows, bay, step_deg, when } = self;
        format!("× {factor} inside {radius_ft} ft, {when:?}, {shows:?} in steps of {step_deg}°, {bay} on the set-up")
    }
}

fn softened_cases() -> Vec<Case> {
    let case = |factor, shows, bay| Case { factor, radius_ft: 20.0, shows, bay, step_deg: 0.1, when: When::Always };
    let mut cases = vec![
        case(0.125, Shows::BothLines, 1),
        case(0.3, Shows::BothLines, 1),
        case(0.6, Shows::BothLines, 1),
        case(0.125, Shows::PlayedLine, 1),
        case(0.3, Shows::PlayedLine, 1),
        case(0.125, Shows::LineSpeedResults, 1),
        case(0.125, Shows::LineSpeedResults, 4),
        case(0.3, Shows::LineSpeedResults, 1),
        case(0.3, Shows::LineSpeedResults, 4),
        case(0.6, Shows::LineSpeedResults, 4),
        case(0.125, Shows::LineResults, 1),
        case(0.3, Shows::LineResults, 1),
        case(0.125, Shows::Results, 1),
        case(0.125, Shows::Results, 4),
        case(0.3, Shows::Results, 4),
        case(0.125, Shows::Results, 8),
        case(0.3, Shows::Results, 8),
        case(0.6, Shows::Results, 8),
    ];
    for factor in [0.2, 0.4, 0.6] {
        for radius_ft in [12.0, 16.0, 24.0] {
            cases.push(Case { radius_ft, ..case(factor, Shows::LineSpeedResults, 4) });
            cases.push(Case { radius_ft, ..case(factor, Shows::BothLines, 1) });
        }
    }
    for step_deg in [0.5, 1.0] {
        cases.push(Case { step_deg, ..case(0.125, Shows::BothLines, 1) });
        cases.push(Case { step_deg, ..case(0.3, Shows::BothLines, 1) });
        cases.push(Case { step_deg, ..case(0.125, Shows::PlayedLine, 1) });
    }
    let switching = [5, 11, 20].map(When::From).into_iter().chain([2, 3, 5].map(When::Every));
    for when in switching.chain([When::Finals, When::AnyStrength]) {
        for factor in [0.125, 0.3, 0.6] {
            cases.push(Case { when, ..case(factor, Shows::BothLines, 1) });
            cases.push(Case { when, ..case(factor, Shows::PlayedLine, 1) });
            cases.push(Case { when, ..case(factor, Shows::LineSpeedResults, 1) });
            cases.push(Case { when, ..case(factor, Shows::LineSpeedResults, 4) });
        }
    }
    for radius_ft in [6.0, 10.0] {
        cases.push(Case { radius_ft, ..case(0.125, Shows::BothLines, 1) });
    }
    cases
}

/// Plays seasons on softened set-ups and prints by which night they were found, about the players or the set-up.
fn softened(case: &Case, run: &Run) -> Result<(), OutOfRange> {
    let started = Instant::now();
    let groups = (run.players / 4 / case.bay).max(10);
    let mut found = Vec::new();
    let mut by = vec![0; KINDS.len()];
    for group in 0..groups {
        let mut random = Random(run.seed.wrapping_mul(7_368_787).wrapping_add(group as u64 * 104_729));
        let plain = equipment(&PLAIN, &mut random);
        let equipment = Equipment {
            line_step_deg: case.step_deg,
            shows_line: matches!(case.shows, Shows::BothLines | Shows::LineSpeedResults | Shows::LineResults),
            shows_played: matches!(case.shows, Shows::BothLines | Shows::PlayedLine),
            shows_speed: matches!(case.shows, Shows::BothLines | Shows::LineSpeedResults),
            ..plain
        };
        let golfers: Vec<_> = (0..case.bay).map(|_| golfer(&SOFTENED, &mut random)).collect();
        let mut players = vec![rows(); case.bay];
        let mut when = None;
        for number in 0..run.nights {
            let night = night(number, run, PLAIN.slope, &mut random);
            let factor = if case.when == When::AnyStrength { random.uniform() } else { case.factor };
            let softening = Some(Softening { radius_ft: case.radius_ft, factor });
            let is_soft = case.when.is_soft(number + 1, run.nights);
            let equipment = Equipment { softening: softening.filter(|_| is_soft), ..equipment };
            for (rows, golfer) in players.iter_mut().zip(&golfers) {
                add(rows, &audit::play(golfer, &equipment, Recording::Every, night, &mut random)?, run);
            }
            let largest: Vec<f64> = (0..case.bay)
                .map(|n| factors(&players, n, run))
                .reduce(|all, one| all.iter().zip(one).map(|(a, b)| (a.0.max(b.0), a.1.max(b.1))).collect())
                .unwrap_or_default()
                .iter()
                .map(|(player, setup)| player.max(*setup))
                .collect();
            let crossed: Vec<usize> =
                (0..KINDS.len()).filter(|n| !KINDS[*n].is_notice && largest[*n] >= threshold()).collect();
            if !crossed.is_empty() {
                // A finding before the first soft night would be a false alarm: night 0 and earlier.
                when = Some(i64::from(number) + 2 - i64::from(case.when.first(run.nights)));
                crossed.iter().for_each(|n| by[*n] += 1);
                break;
            }
        }
        found.push(when.unwrap_or(i64::MAX));
    }
    found.sort_unstable();
    let share = |night: i64| found.iter().filter(|when| **when <= night).count() as f64 / groups as f64;
    let at = |part: f64| match found[((part * groups as f64).ceil() as usize).clamp(1, groups) - 1] {
        i64::MAX => "–".to_owned(),
        night => night.to_string(),
    };
    let by: Vec<_> =
        KINDS.iter().zip(by).filter(|(_, n)| *n > 0).map(|(kind, n)| format!("{} {n}", kind.name)).collect();
    println!(
        "softened {}: {groups} set-ups; found by night: median {}, 75 % {}, 90 % {}, 95 % {}; share before the first soft night: {:.2}, by 2: {:.2}, 3: {:.2}, 5: {:.2}, 10: {:.2}, 30: {:.2}; first by {} ({:.0} s)",
        case.name(),
        at(0.5),
        at(0.75),
        at(0.9),
        at(0.95),
        share(0),
        share(2),
        share(3),
        share(5),
        share(10),
        share(30),
        by.join(", "),
        started.elapsed().as_secs_f64()
    );
    Ok(())
}

/// How many bays a venue has, and how many players use them.
const BAYS: usize = 6;
const REGULARS: usize = 24;

/// Plays leagues of a venue with one softened bay among six: everybody plays another bay each night. Prints whom findings
/// are about, and about how many players they would be if nobody looked at the set-up first.
fn bays(run: &Run) -> Result<(), OutOfRange> {
    let started = Instant::now();
    let leagues = (run.players / REGULARS).max(1);
    let of_a_setup: Vec<_> = KINDS.into_iter().filter(|kind| kind.is_of_a_setup()).collect();
    let (mut soft_found, mut others_found, mut players_found, mut would_be) = (0, 0, 0, 0);
    for league in 0..leagues {
        let mut random = Random(run.seed.wrapping_mul(2_750_159).wrapping_add(league as u64 * 86_028_121));
        let mut bays: Vec<Equipment> = (0..BAYS).map(|_| equipment(&PLAIN, &mut random)).collect();
        bays[0].softening = Some(Softening { radius_ft: 20.0, factor: 0.1 + 0.4 * random.uniform() });
        let golfers: Vec<_> = (0..REGULARS).map(|_| golfer(&SOFTENED, &mut random)).collect();
        let mut rounds = Vec::new();
        for number in 0..run.nights {
            let night = night(number, run, PLAIN.slope, &mut random);
            for (n, golfer) in golfers.iter().enumerate() {
                let bay = (random.uniform() * BAYS as f64) as usize % BAYS;
                let readings = audit::play(golfer, &bays[bay], Recording::Every, night, &mut random)?;
                let setup = Some(SetupId(Uuid::from_u128(1_000 + bay as u128)));
                let seq = rounds.len() as i64 + 1;
                rounds.push(Taken { seq, member: MemberId(Uuid::from_u128(n as u128)), setup, readings });
            }
        }
        let budget = Budget { field_size: FIELD, false_alarm_pct: 5.0 };
        let (_, openings) = crossed(Ledger::default(), &rounds, budget);
        let about: BTreeSet<About> = openings
            .iter()
            .filter(|opening| opening.crossing.kind.is_of_a_setup())
            .map(|opening| opening.crossing.about)
            .collect();
        let soft = About::Setup(SetupId(Uuid::from_u128(1_000)));
        soft_found += usize::from(about.contains(&soft));
        others_found += about.iter().filter(|about| matches!(about, About::Setup(_)) && **about != soft).count();
        players_found += about.iter().filter(|about| matches!(about, About::Player(_))).count();
        // as if no set-up was looked at first
        let mut rows: BTreeMap<(MemberId, Option<SetupId>, &str), State> = BTreeMap::new();
        let mut flagged = BTreeSet::new();
        for round in &rounds {
            for kind in &of_a_setup {
                rows.entry((round.member, round.setup, kind.name)).or_default().add(kind, &round.readings);
                let own = rows.iter().filter(|((member, _, name), _)| (*member, *name) == (round.member, kind.name));
                let own: Vec<&State> = own.map(|(_, row)| row).collect();
                if evidence(kind, Subject::Player, &own).log10 >= threshold() {
                    flagged.insert(round.member);
                }
            }
        }
        would_be += flagged.len();
    }
    println!(
        "one soft bay of six (× 0.1 to 0.5 inside 20 ft): {leagues} leagues of {REGULARS}; findings about {players_found} players \
         ({would_be} if nobody looked at the set-up first), the soft bay in {soft_found} leagues, {others_found} other bays \
         ({:.0} s)",
        started.elapsed().as_secs_f64()
    );
    Ok(())
}

/// Plays choosers of records, honest and not.
fn chosen(run: &Run) -> Result<(), OutOfRange> {
    let kind = KINDS.iter().position(|kind| kind.name == "chosen_records").unwrap_or(0);
    for (name, is_chosen) in [("chosen by score", true), ("a random 30 to 95 % of holes", false)] {
        let (mut found, mut largest) = (Vec::new(), f64::NEG_INFINITY);
        for player in 0..run.players as u64 {
            let mut random = Random(run.seed.wrapping_mul(15_485_863).wrapping_add(player * 32_452_843));
            let golfer = golfer(&PLAIN, &mut random);
            let recording = if is_chosen { Recording::Chosen } else { Recording::Share(0.3 + 0.65 * random.uniform()) };
            let (mut state, mut when) = (State::default(), u32::MAX);
            for number in 0..run.nights {
                let night = night(number, run, 0.1, &mut random);
                state.add(KINDS[kind], &audit::card(&golfer, recording, night, &mut random)?);
                let factor = evidence(KINDS[kind], Subject::Player, &[&state]).log10;
                largest = largest.max(factor);
                if factor >= threshold() && when == u32::MAX {
                    when = number + 1;
                }
            }
            found.push(when);
        }
        found.sort_unstable();
        let at = |part: f64| match found[((part * found.len() as f64).ceil() as usize).clamp(1, found.len()) - 1] {
            u32::MAX => "–".to_owned(),
            round => round.to_string(),
        };
        println!(
            "records {name}: {} players; largest log10 E {largest:.2}; found: {}, median round {}, 95 % by {}; share by 8: {:.3}",
            found.len(),
            found.iter().filter(|when| **when < u32::MAX).count(),
            at(0.5),
            at(0.95),
            found.iter().filter(|when| **when <= 8).count() as f64 / found.len() as f64
        );
    }
    Ok(())
}

/// Measures the tables and a hand-in's evidence over a season of one player.
fn cost(run: &Run) -> Result<(), OutOfRange> {
    let started = Instant::now();
    prepare();
    println!("tables: {:.0} ms", 1e3 * started.elapsed().as_secs_f64());
    let mut random = Random(run.seed);
    let golfer = golfer(&PLAIN, &mut random);
    let equipment =
        Equipment { shows_line: true, shows_played: true, shows_speed: true, ..equipment(&PLAIN, &mut random) };
    let night = night(3, run, 0.1, &mut random);
    let mut rounds = Vec::new();
    for received in 1..=30 {
        let night = Night { received, ..night };
        rounds.push(audit::play(&golfer, &equipment, Recording::Every, night, &mut random)?);
    }
    let putts = rounds.iter().map(|round| round.putts.len()).sum::<usize>() as f64 / rounds.len() as f64;
    for kind in KINDS {
        let mut state = State::default();
        let started = Instant::now();
        rounds.iter().for_each(|round| state.add(kind, round));
        println!(
            "  {:20} {:6.1} µs a round of {putts:.0} putts; {} bytes after {} rounds",
            kind.name,
            1e6 * started.elapsed().as_secs_f64() / rounds.len() as f64,
            packed(&state).len(),
            rounds.len()
        );
    }
    // a hand-in: each row read and written, the player weighed, the set-up's digest moved and weighed
    let (mut kept, mut digests) = (rows(), vec![Digest::default(); KINDS.len()]);
    let mut bytes: Vec<Vec<u8>> = kept.iter().map(packed).collect();
    let mut sum = 0.0;
    let started = Instant::now();
    for round in &rounds {
        for (n, kind) in KINDS.into_iter().enumerate() {
            let before = Digest::of(kind, &kept[n]);
            kept[n] = State::unpack(&mut Unpacker::of(&bytes[n])).unwrap_or_default();
            kept[n].add(kind, round);
            bytes[n] = packed(&kept[n]);
            sum += evidence(kind, Subject::Player, &[&kept[n]]).log10;
            digests[n] = std::mem::take(&mut digests[n]).minus(&before).plus(&Digest::of(kind, &kept[n]));
            sum += digests[n].evidence(kind).log10;
        }
    }
    println!(
        "one hand-in, every kind, player and set-up: {:.2} ms; rows of {} bytes (checksum {sum:.1})",
        1e3 * started.elapsed().as_secs_f64() / rounds.len() as f64,
        bytes.iter().map(Vec::len).sum::<usize>()
    );
    season()
}

fn packed(state: &State) -> Vec<u8> {
    let mut packer = Packer::default();
    state.pack(&mut packer);
    packer.finish()
}

/// Derives a season of 200 players, each with a set-up of its own and 30 rounds, from its readings.
fn season() -> Result<(), OutOfRange> {
    let run = Run { players: FIELD as usize, nights: 30, seed: 1, world: String::new(), kind: String::new(), bay: 0 };
    let mut random = Random(run.seed);
    let mut rounds = Vec::new();
    for player in 0..u128::from(FIELD) {
        let (golfer, plain) = (golfer(&PLAIN, &mut random), equipment(&PLAIN, &mut random));
        let equipment = Equipment { shows_line: true, shows_played: true, shows_speed: true, ..plain };
        for number in 0..run.nights {
            let night = night(number, &run, 0.1, &mut random);
            rounds.push(Taken {
                seq: rounds.len() as i64 + 1,
                member: MemberId(Uuid::from_u128(player)),
                setup: Some(SetupId(Uuid::from_u128(player))),
                readings: audit::play(&golfer, &equipment, Recording::Every, night, &mut random)?,
            });
        }
    }
    let started = Instant::now();
    let (_, openings) = crossed(Ledger::default(), &rounds, Budget { field_size: FIELD, false_alarm_pct: 5.0 });
    println!(
        "a season's evidence of {} rounds derived: {:.1} s; {} openings",
        rounds.len(),
        started.elapsed().as_secs_f64(),
        openings.len()
    );
    Ok(())
}
