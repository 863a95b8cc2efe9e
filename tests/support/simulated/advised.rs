//! Players with a known weakness, or with none, and what the putting report advises them to practise.

use super::{Player, Random, SETUP, players};
use evenfield::domain::facts::PuttResult;
use evenfield::domain::ids::{EventId, MemberId};
use evenfield::domain::putting::advice::{Advice, Certainty, Focus};
use evenfield::domain::putting::baseline::Baseline;
use evenfield::domain::putting::make::{Scatter, make};
use evenfield::domain::putting::report::{PuttedRound, PuttingReport};
use evenfield::domain::putting::sums::BAND_EDGES_FT;
use evenfield::domain::units::{Degrees, DistanceSpread, Feet, LineSpread, OutOfRange, Overrun, Stimp};
use jiff::civil::date;
use uuid::Uuid;

pub const NIGHTS: usize = 9;

/// What is truly weak: the focus and the bands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weak {
    pub focus: Focus,
    pub bands: (usize, usize),
    pub wider: f64,
}

pub const EVERYWHERE: (usize, usize) = (0, 8);

impl Weak {
    /// Says whether an advice names this: the distance too, where it has one.
    pub fn is_named(&self, advice: &Advice) -> bool {
        let bands = advice.from_ft.zip(advice.to_ft).map(|(from, to)| {
            if (from, to) == (0.0, 200.0) {
                EVERYWHERE
            } else {
                let band = BAND_EDGES_FT.iter().position(|edge| *edge == from).expect("a band's edge");
                (band, band)
            }
        });
        let is_there = bands.is_some_and(|(first, last)| match self.bands == EVERYWHERE {
            true => (first, last) == EVERYWHERE,
            false => (first, last) != EVERYWHERE && self.bands.0 <= first && last <= self.bands.1,
        });
        advice.focus == Some(self.focus) && is_there
    }
}

/// An amateur of usual spreads.
pub fn usual() -> Player {
    Player { line: (0.05, 1.05), pace: (0.02, 0.10), read_sd: 0.65, ..players()[0].1 }
}

pub fn weakened(mut player: Player, weak: Weak) -> Player {
    let focus = weak.focus as usize;
    (weak.bands.0..=weak.bands.1).for_each(|band| player.by_band[focus][band] *= weak.wider);
    player
}

/// The seven players that the advice is held against, with what is weak about them.
pub fn seven() -> [(&'static str, Player, Option<Weak>); 7] {
    let usual = usual();
    let weak = |name, focus, bands, wider| {
        let weak = Weak { focus, bands, wider };
        (name, weakened(usual, weak), Some(weak))
    };
    [
        weak("weak line", Focus::Line, EVERYWHERE, 2.0),
        weak("weak pace", Focus::Pace, EVERYWHERE, 2.0),
        weak("weak read", Focus::Read, EVERYWHERE, 2.5),
        weak("weak line from 10 to 15 ft alone", Focus::Line, (4, 4), 3.0),
        weak("weak pace beyond 20 ft", Focus::Pace, (6, 8), 2.5),
        ("good all over", Player { line: (0.05, 0.7), pace: (0.02, 0.07), read_sd: 0.4, ..usual }, None),
        ("no weakness", usual, None),
    ]
}

/// Plays nights of 18 holes, each on a green speed of its own.
pub fn nights(player: &Player, nights: usize, random: &mut Random) -> Result<Vec<PuttedRound>, OutOfRange> {
    let round = |n: usize| {
        let stimp = player.stimps_ft.0 + player.stimps_ft.1 * random.uniform();
        let tonight = Player { stimps_ft: (stimp, 0.0), ..*player };
        let mut by_hole = Vec::new();
        for _ in 0..18 {
            let (struck, _) = tonight.play(1, random)?;
            by_hole.push(struck.into_iter().map(|struck| struck.putt).collect::<Vec<_>>());
        }
        for putt in by_hole.iter_mut().flatten() {
            putt.played_line_deg = putt.start_line_deg;
        }
        let putts = by_hole.iter().map(Vec::len).sum::<usize>() as u32;
        let stimp = Stimp::new(stimp)?;
        Ok(PuttedRound {
            event: EventId(Uuid::from_u128(n as u128)),
            date: date(2027, 1, 7) + jiff::Span::new().weeks(n as i64),
            setup: Some(SETUP),
            stimp,
            holes: 18,
            recorded_holes: 18,
            putts: Some(putts),
            by_hole,
            numbers: (1..=18).collect(),
            left_out: None,
        })
    };
    (0..nights).map(round).collect()
}

pub fn report(rounds: &[PuttedRound]) -> PuttingReport {
    PuttingReport::of(MemberId(Uuid::from_u128(7)), rounds, Baseline::tour())
}

/// Finds what an advice says against the figures beside it: a range that is better than another, or certainly better than
/// the comparison; a word that is not its probability's; anything said while it is too early.
pub fn contradiction(report: &PuttingReport) -> Option<String> {
    let advice = &report.advice;
    let said = [advice.from_ft, advice.to_ft, advice.worth_per_round, advice.low, advice.high];
    let is_told = advice.focus.is_some();
    if is_told != (advice.certainty > Certainty::Early) || said.iter().any(|figure| figure.is_some() != is_told) {
        return Some(format!("an advice is whole or silent: {advice:?}"));
    }
    if is_told && Certainty::of(advice.probability) != advice.certainty {
        return Some(format!("the word is that of the probability: {advice:?}"));
    }
    let (Some(from), Some(to)) = (advice.from_ft, advice.to_ft) else { return None };
    if (from, to) == (0.0, 200.0) {
        let all_above = report.bands.iter().all(|band| band.putts == 0 || band.low_total.is_some_and(|low| low > 0.0));
        return all_above.then(|| format!("every range is certainly better than the comparison: {advice:?}"));
    }
    let Some(own) = report.bands.iter().find(|band| (band.from_ft, band.to_ft) == (from, to)) else {
        return Some(format!("no range of the report: {advice:?}"));
    };
    let worst = report.bands.iter().filter(|band| band.putts > 0).map(|band| band.strokes_gained_total);
    if own.strokes_gained_total > worst.fold(0.0, f64::min) {
        return Some(format!("another range lost more: {advice:?} beside {:?}", report.bands));
    }
    own.low_total.is_some_and(|low| low > 0.0).then(|| format!("certainly better than the comparison: {own:?}"))
}

/// How often one of the seven was told what.
#[derive(Clone, Copy, Debug, Default)]
pub struct Told {
    pub right: u32,
    pub another: u32,
    pub early: u32,
    /// Neither likely nor clear.
    pub unsure: u32,
}

pub fn told(player: &Player, weak: Option<Weak>, seeds: u64) -> Result<Told, OutOfRange> {
    let mut told = Told::default();
    for seed in 0..seeds {
        let advice = report(&nights(player, NIGHTS, &mut Random(seed + 1))?).advice;
        told.unsure += u32::from(advice.certainty <= Certainty::Hint);
        match (advice.focus, weak) {
            (None, _) => told.early += 1,
            (Some(_), Some(weak)) if weak.is_named(&advice) => told.right += 1,
            _ => told.another += 1,
        }
    }
    Ok(told)
}

/// A player drawn at random, with each weakness that was drawn.
pub fn drawn(random: &mut Random) -> (Player, Vec<Weak>) {
    let level = (0.15 + 0.4 * random.normal()).clamp(-0.8, 1.2).exp();
    let mut apart = || (0.15 * random.normal()).exp() * level;
    let (line, pace, read) = (apart(), apart(), apart());
    let mut player = Player {
        line: (0.2 * random.normal(), 0.9 * line),
        pace: (0.04 * random.normal(), 0.09 * pace),
        read_sd: 0.55 * read,
        speed_ratio: (0.03 * random.normal()).exp(),
        absurd_share: if random.uniform() < 0.3 { 0.01 } else { 0.0 },
        ..players()[0].1
    };
    for scale in player.by_band.iter_mut().flatten() {
        *scale = (0.1 * random.normal()).exp();
    }
    let mut all = Vec::new();
    for focus in [Focus::Line, Focus::Pace, Focus::Read] {
        if random.uniform() < 0.2 {
            let (at, one) = (random.uniform(), random.uniform());
            // a read shows from 5 ft on
            let first = if focus == Focus::Read { 2 } else { 0 };
            let bands = match at {
                at if at < 0.5 => EVERYWHERE,
                at if at < 0.75 => [first + ((8 - first) as f64 * one) as usize; 2].into(),
                at if at < 0.875 => (0, 2 + (3.0 * one) as usize),
                _ => (3 + (4.0 * one) as usize, 8),
            };
            let weak = Weak { focus, bands, wider: 2f64.powf((0.5 + 1.25 * random.uniform()).min(1.75)) };
            player = weakened(player, weak);
            all.push(weak);
        }
    }
    (player, all)
}

/// What a quarter less of a spread would truly save in 18 holes, in the bands where the putts were struck.
pub fn true_worth(
    player: &Player,
    focus: Focus,
    bands: (usize, usize),
    rounds: &[PuttedRound],
) -> Result<f64, OutOfRange> {
    let holes: u32 = rounds.iter().map(|round| round.recorded_holes).sum();
    let mut total = 0.0;
    for band in bands.0..=bands.1 {
        let of_band = |(stimp, feet): &(f64, f64)| {
            *stimp > 0.0 && BAND_EDGES_FT[band] < *feet && *feet <= BAND_EDGES_FT[band + 1]
        };
        let struck = rounds.iter().flat_map(|round| {
            let putts = round.by_hole.iter().flatten().filter(|putt| putt.result != PuttResult::Conceded);
            putts.map(|putt| (round.stimp.get(), putt.distance_ft.get()))
        });
        let putts: Vec<(f64, f64)> = struck.filter(of_band).collect();
        if putts.is_empty() {
            continue;
        }
        let count = putts.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| putts.iter().map(of).sum::<f64>() / count;
        let (stimp, feet) = (Stimp::new(mean(|putt| putt.0))?, Feet::new(mean(|putt| putt.1))?);
        let strokes = |spreads: [f64; 3]| -> Result<f64, OutOfRange> {
            let meant = feet.get() + 1.0;
            let line = spreads[0].hypot(spreads[2]);
            let past = (meant * (1.0 + player.pace.0) - feet.get()).max(0.0);
            let scatter = Scatter {
                line: LineSpread::new(line)?,
                distance: DistanceSpread::new((spreads[1] * meant / (feet.get() + past)).min(DistanceSpread::MAX))?,
                past: Overrun::new(12.0 * past)?,
                bias: Degrees::new(player.line.0)?,
            };
            let beside = feet.get() * line.to_radians().tan();
            let leave = (1.0 + player.pace.0 * meant).hypot(spreads[1] * meant).hypot(beside);
            let chance = make(feet, &scatter, stimp).make_probability;
            Ok(1.0 + (1.0 - chance) * Baseline::tour().expected_putts(Feet::new(leave)?))
        };
        let now: [f64; 3] =
            std::array::from_fn(|n| [player.line.1, player.pace.1, player.read_sd][n] * player.by_band[n][band]);
        let mut practised = now;
        practised[focus as usize] *= 0.75;
        total += 18.0 * count / f64::from(holes) * (strokes(now)? - strokes(practised)?);
    }
    Ok(total)
}

/// How often each word was right, over players drawn at random.
#[derive(Clone, Copy, Debug, Default)]
pub struct Kept {
    /// By certainty from early on: said, and right.
    pub said: [u32; 4],
    pub right: [u32; 4],
    /// Of the advices, how many have the truth inside the interval of what practice would save.
    pub worth_inside: u32,
    pub worth_all: u32,
}

pub fn kept(players: u32, seed: u64) -> Result<Kept, OutOfRange> {
    let mut random = Random(seed);
    let mut kept = Kept::default();
    for _ in 0..players {
        let (player, weak) = drawn(&mut random);
        let played = 2 + (16.0 * random.uniform()) as usize;
        let rounds = nights(&player, played, &mut random)?;
        let advice = report(&rounds).advice;
        let word = advice.certainty as usize;
        kept.said[word] += 1;
        let Some(focus) = advice.focus else { continue };
        let mut worth = Vec::new();
        for one in &weak {
            worth.push(true_worth(&player, one.focus, one.bands, &rounds)?);
        }
        let most = worth.iter().copied().fold(0.0, f64::max);
        let is_right = weak.iter().zip(&worth).any(|(one, worth)| one.is_named(&advice) && *worth == most);
        kept.right[word] += u32::from(is_right);
        let bands = match (advice.from_ft, advice.to_ft) {
            (Some(from), Some(to)) if (from, to) != (0.0, 200.0) => {
                let band = BAND_EDGES_FT.iter().position(|edge| *edge == from).expect("a band's edge");
                (band, band)
            }
            _ => EVERYWHERE,
        };
        let truth = true_worth(&player, focus, bands, &rounds)?;
        kept.worth_all += 1;
        if let (Some(low), Some(high)) = (advice.low, advice.high) {
            kept.worth_inside += u32::from((low..=high).contains(&truth));
        }
    }
    Ok(kept)
}
