//! Fair play: evidence that putting records don't come from putts that a ball and a hole allow.
//!
//! Evidence is for a person to judge. It has odds, honest explanations and a size, and it is never a verdict. Each kind
//! is a file: what it reads, its honest family and its one unfair cause. Adding a kind is a file and a line in
//! [`KINDS`].
//!
//! # Source
//! Universal inference and Ville's inequality: Wasserman, Ramdas, Balakrishnan (2020); Ramdas et al., *Game-theoretic
//! statistics and safe anytime-valid inference* (2023). The grids and priors are evenfield estimates, measured with
//! simulated leagues (README).

mod chosen_records;
mod evidence;
mod geometry;
mod holed_off_line;
mod narrow_short_line;
mod readings;
mod repeated_round;
mod sensor_misread;
mod short_range_excess;
mod softened_line;
mod unreachable_pace;

pub use evidence::{Evidence, FEWEST_PUTTS, MOST_CELLS, NotAState, State, Subject, evidence, threshold_log10};
pub use readings::{HoleReading, LONGEST_FT, Met, PuttReading, RoundReadings};

/// A kind of finding.
#[derive(Debug)]
pub struct Kind {
    /// Its name in findings.
    pub name: &'static str,
    /// Whom it can be about.
    pub subjects: &'static [Subject],
    /// Whether it is a notice to a set-up's owner, outside the budget of false alarms.
    pub is_notice: bool,
    /// What it needs, as in "it needs …".
    pub needs: &'static str,
    /// Whether it reads cards rather than struck putts.
    reads_cards: bool,
    /// Adds a round to a row.
    add: fn(&mut State, &RoundReadings),
    /// Returns a row's cells as they are without the rounds of an older copy.
    since: fn(&State, &State) -> Vec<i32>,
    /// Returns the evidence of rows in nats.
    weigh: fn(Subject, &[&State]) -> f64,
    /// Returns the honest explanation that comes closest, in words.
    nearest: fn(&[&State]) -> String,
    /// What would settle it.
    pub settles: &'static str,
    /// Builds its tables.
    prepare: fn(),
}

impl Kind {
    /// Returns the honest explanation that comes closest to the rows, in words.
    pub fn nearest(&self, rows: &[&State]) -> String {
        (self.nearest)(rows)
    }
}

/// The kinds, in the order in which people read them.
pub const KINDS: [&Kind; 8] = [
    &softened_line::KIND,
    &narrow_short_line::KIND,
    &holed_off_line::KIND,
    &short_range_excess::KIND,
    &unreachable_pace::KIND,
    &chosen_records::KIND,
    &repeated_round::KIND,
    &sensor_misread::KIND,
];

/// Players and set-ups.
const BOTH: &[Subject] = &[Subject::Player, Subject::Setup];

/// Returns the kind of that name.
pub fn kind(name: &str) -> Option<&'static Kind> {
    KINDS.into_iter().find(|kind| kind.name == name)
}

/// Builds every table, so that the first hand-in need not wait for them.
pub fn prepare() {
    for kind in KINDS {
        (kind.prepare)();
    }
}
