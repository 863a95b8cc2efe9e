//! What a player should practise, and how sure that is.

use super::band::Band;
use super::baseline::Baseline;
use super::player::{PlayerPutting, ratio_of};
use super::spread::Z_975;
use super::spread_chances::{BANDS, known};
use super::struck::{Struck, rounded};
use super::sums::BAND_EDGES_FT;
use super::weakness::{Belief, beliefs};
use super::worth::{Game, Worth};
use serde::Serialize;

/// Weaknesses less probable than this are not weighed against others.
const WORTH_WEIGHING: f64 = 0.01;
/// What saves fewer strokes in a round is not advised (evenfield's own convention).
const LEAST_WORTH: f64 = 0.1;
/// How probable the first statement about one of line, pace and read is before a putt is struck.
const BEFORE: f64 = 0.1;
/// Fewer putts with line and speed do not settle anything: with so many, a spread twice as wide is found in most
/// (`benches/advice.rs`).
const FEWEST_THAT_SETTLE: u32 = 150;
/// Beyond this many more putts nobody waits.
const MOST_NEEDED: f64 = 2_000.0;

/// What to practise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Focus {
    /// Starting the ball on the intended line.
    Line,
    /// Rolling it the intended distance.
    Pace,
    /// Choosing the line.
    Read,
}

/// How sure an advice is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Certainty {
    /// Below 60 %: nothing is advised.
    Early,
    /// From 60 % on.
    Hint,
    /// From 80 % on.
    Likely,
    /// From 95 % on.
    Clear,
}

/// The one thing to practise.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Advice {
    /// What; `None` while it is too early to say.
    pub focus: Option<Focus>,
    /// The band's lower edge, excluded; 0 where the weakness has no distance.
    pub from_ft: Option<f64>,
    /// The band's upper edge, included; 200 where the weakness has no distance.
    pub to_ft: Option<f64>,
    /// Strokes gained for 18 recorded holes if that spread shrank by a quarter.
    pub worth_per_round: Option<f64>,
    /// Lower end of its 95 % interval.
    pub low: Option<f64>,
    /// Upper end of it.
    pub high: Option<f64>,
    /// How sure it is.
    pub certainty: Certainty,
    /// How probable it is that this is truly the worst, all ranges and causes together. Below 0.6 that of the best guess,
    /// which is not told.
    pub probability: f64,
    /// How many more putts with line and speed would make it clear, if they speak as those so far; `None` where those so
    /// far speak for no weakness.
    pub needs_putts: Option<u32>,
}

/// The strokes gained that stand beside an advice.
pub(super) struct Chart<'a> {
    /// By band.
    pub(super) bands: &'a [Band],
    /// Of all bands together.
    pub(super) all: Band,
}

/// A weakness that could be told: in a band, or of no distance.
struct Statement {
    focus: usize,
    band: Option<usize>,
    probability: f64,
}

impl Certainty {
    /// The words, as they are written.
    pub const WORDS: &'static [&'static str] = &["clear", "likely", "hint", "early"];

    /// Returns the word for a probability.
    pub fn of(probability: f64) -> Self {
        match probability {
            p if p >= 0.95 => Self::Clear,
            p if p >= 0.8 => Self::Likely,
            p if p >= 0.6 => Self::Hint,
            _ => Self::Early,
        }
    }
}

impl Focus {
    /// The words, as they are written.
    pub const WORDS: &'static [&'static str] = &["line", "pace", "read"];
    const ALL: [Self; 3] = [Self::Line, Self::Pace, Self::Read];
}

impl Chart<'_> {
    /// Says whether the chart bears a weakness out: the band lost most of all and its interval does not lie above zero;
    /// one of no distance, that all putts together do not lie above it.
    fn bears_out(&self, band: Option<usize>) -> bool {
        let is_not_above = |band: &Band| band.low_total.unwrap_or(band.strokes_gained_total) <= 0.0;
        let mut struck = self.bands.iter().filter(|band| band.putts > 0);
        let Some(own) = band.map(|band| &self.bands[band]) else {
            return is_not_above(&self.all) && struck.any(is_not_above);
        };
        own.putts > 0
            && own.strokes_gained_total < 0.0
            && is_not_above(own)
            && struck.map(|band| band.strokes_gained_total).all(|other| own.strokes_gained_total <= other)
    }
}

impl Advice {
    const NOTHING_KNOWN: Self = Self {
        focus: None,
        from_ft: None,
        to_ft: None,
        worth_per_round: None,
        low: None,
        high: None,
        certainty: Certainty::Early,
        probability: 0.0,
        needs_putts: Some(FEWEST_THAT_SETTLE),
    };

    /// Advises on a player's struck putts.
    ///
    /// # Formula
    /// Each of line, pace and read has its most probable weakness that the chart bears out, at a distance or at all, with
    /// the probability q that [`beliefs`] gives. Where several may be true, the worst is what would save most:
    /// ```text
    /// p(a) = q(a) · Π over the others b of (1 - w(b) · Φ((worth(b) - worth(a)) / sqrt(s(a)² + s(b)²)))
    /// ```
    /// w: the probability that b is weak at all. s: the standard deviation of the worth. The largest p is told, with its
    /// word: clear from 0.95 on, likely from 0.8, a hint from 0.6; below that nothing is. Nor is what saves next to nothing.
    ///
    /// Putts that would settle it: those so far have raised the logarithm of the odds by so much a putt.
    ///
    /// # Source
    /// evenfield estimate.
    pub(super) fn of(
        struck: &[Struck],
        player: &PlayerPutting,
        chart: &Chart,
        recorded_holes: u32,
        baseline: &Baseline,
    ) -> Self {
        let line_mean = player.start_line.map_or(0.0, |line| line.bias_deg);
        let means = [line_mean, player.pace.map_or(0.0, |pace| pace.bias_pct / 100.0)];
        let known = known(struck, |putt| ratio_of(&player.setups, putt), means);
        let readings = known.each_ref().map(|known| known.all_readings());
        if recorded_holes == 0 || readings.iter().all(|readings| *readings == 0) {
            return Self::NOTHING_KNOWN;
        }
        let beliefs = beliefs(&known);
        let game = Game::of(struck, means, recorded_holes, baseline);
        let worth = |statement: &Statement| {
            let is_in = |band| statement.band.is_none_or(|own| own == band);
            game.saved(statement.focus, is_in, &beliefs)
        };
        // what each may be, whether or not the chart bears it out: it may be the worse one
        let beside: Vec<(usize, Worth)> = (0..3)
            .filter(|focus| beliefs[*focus].weak > WORTH_WEIGHING)
            .filter_map(|focus| Some((focus, worth(&statement(focus, &beliefs[focus], |_| true)?))))
            .collect();
        let weighed = |statement: Statement| {
            let own = worth(&statement);
            let others = beside.iter().filter(|(other, _)| *other != statement.focus);
            let probability = others.fold(statement.probability, |p, (other, beside)| {
                let is_worse = share_above(beside.strokes - own.strokes, own.sd.hypot(beside.sd));
                p * (1.0 - beliefs[*other].weak * is_worse)
            });
            (statement, own, probability)
        };
        let told = (0..3).filter_map(|focus| statement(focus, &beliefs[focus], |band| chart.bears_out(band)));
        let worthwhile = told.map(weighed).filter(|(_, worth, _)| worth.strokes >= LEAST_WORTH);
        let best = worthwhile.max_by(|a, b| a.2.total_cmp(&b.2));
        let putts = readings[0].max(readings[1]);
        let Some((found, worth, probability)) = best else {
            return Self { needs_putts: needed(0.0, putts), ..Self::NOTHING_KNOWN };
        };
        let certainty = Certainty::of(probability);
        let needs_putts = needed(probability, putts);
        let untold = Self { certainty, probability: rounded(probability), needs_putts, ..Self::NOTHING_KNOWN };
        if certainty == Certainty::Early {
            return untold;
        }
        Self {
            focus: Some(Focus::ALL[found.focus]),
            from_ft: Some(found.band.map_or(0.0, |band| BAND_EDGES_FT[band])),
            to_ft: Some(BAND_EDGES_FT[found.band.map_or(BANDS, |band| band + 1)]),
            worth_per_round: Some(rounded(worth.strokes)),
            low: Some(rounded(worth.strokes - Z_975 * worth.sd)),
            high: Some(rounded(worth.strokes + Z_975 * worth.sd)),
            ..untold
        }
    }
}

/// Returns the most probable statement about a focus of those that may be told.
fn statement(focus: usize, belief: &Belief, is_told: impl Fn(Option<usize>) -> bool) -> Option<Statement> {
    let bands = belief.by_band.iter().enumerate().map(|(band, probability)| (Some(band), *probability));
    let all = [(None, belief.everywhere)].into_iter().chain(bands);
    let told = all.filter(|(band, probability)| *probability > WORTH_WEIGHING && is_told(*band));
    let (band, probability) = told.max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(Statement { focus, band, probability })
}

/// Returns the chance that a normal value lies above zero.
fn share_above(mean: f64, sd: f64) -> f64 {
    if sd > 0.0 { super::calibration::share_below(mean / sd) } else { f64::from(u8::from(mean > 0.0)) }
}

/// Returns how many more putts make it clear.
fn needed(probability: f64, putts: u32) -> Option<u32> {
    let ln_odds = |p: f64| (p / (1.0 - p)).ln();
    if probability >= 0.95 {
        return Some(0);
    }
    let gained = ln_odds(probability.max(1e-9)) - ln_odds(BEFORE);
    let more = f64::from(putts) * (ln_odds(0.95) - ln_odds(probability.max(1e-9))) / gained;
    let least = FEWEST_THAT_SETTLE.saturating_sub(putts);
    if gained > 0.0 && more <= MOST_NEEDED {
        // to the next ten: more would feign a precision that it has not
        return Some((10.0 * (more / 10.0).ceil()) as u32).map(|more| more.max(least));
    }
    (least > 0).then_some(least)
}
