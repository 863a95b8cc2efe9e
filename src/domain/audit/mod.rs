//! Fair play: evidence that putting records don't come from putts that a ball and a hole allow.
//!
//! Evidence is for a person to judge. It has odds, honest explanations and a size, and it is never a verdict. Each kind
//! is a file: what it reads, its honest family and its one unfair cause. Adding a kind is a file and a line in
//! [`KINDS`].
//!
//! # Source
//! Universal inference and Ville's inequality: Wasserman, Ramdas, Balakrishnan (2020); Ramdas et al., *Game-theoretic
//! statistics and safe anytime-valid inference* (2023). The grids and priors are evenfield estimates, measured with
//! simulated leagues (docs/fair-play.md).

mod chosen_records;
mod evidence;
mod geometry;
mod holed_off_line;
pub mod ledger;
mod logs;
mod narrow_short_line;
mod outcome;
mod packed;
mod readings;
mod repeated_round;
mod says;
mod sensor_misread;
mod short_range_excess;
#[cfg(test)]
mod simulated;
mod size;
mod skills;
mod softened_line;
mod switched;
mod switching;
mod unreachable_pace;

pub use evidence::{Digest, Evidence, FEWEST_PUTTS, MOST_ROW_BYTES, State, Subject, evidence, threshold_log10};
pub use readings::{HoleReading, LONGEST_FT, Met, PuttReading, RoundReadings};
use says::says;
pub use says::{Count, MadeBand, Picture, Said};
pub use size::Size;

use serde::Serialize;

/// A kind of finding.
#[derive(Debug)]
pub struct Kind {
    /// Its name in findings.
    pub name: &'static str,
    /// What people read for its name.
    pub title: &'static str,
    /// Whom it can be about.
    pub subjects: &'static [Subject],
    /// Whether it is a notice to a set-up's owner, outside the budget of false alarms.
    pub is_notice: bool,
    /// What it needs, as in "it needs …".
    pub needs: &'static str,
    /// The unfair cause, as in "if …".
    pub unfair: &'static str,
    /// What the odds are against, as in "likelier than …".
    than: &'static str,
    /// Tells what was seen, with counts, and what to draw.
    tell: fn(&says::Seen, &[&State]) -> (String, Picture),
    /// Whether it reads cards rather than struck putts.
    reads_cards: bool,
    /// Adds a round to a row.
    add: fn(&mut State, &RoundReadings),
    /// Returns the evidence about a player from the rows of that player, in nats.
    player: fn(&[&State]) -> f64,
    /// Returns a row's part in its set-up's evidence, in nats: parts add up.
    digest: fn(&State) -> Vec<f64>,
    /// Returns the evidence about a set-up from the sums of the parts and of the nights of causes that switch, in nats.
    setup: fn(&[f64], &switching::Nights) -> f64,
    /// Returns the unfair cause that fits best, where the kind has a radius.
    strongest: fn(&[&State]) -> Option<Cause>,
    /// Returns the honest explanation that comes closest, in words.
    nearest: fn(&[&State]) -> String,
    /// What would settle it.
    pub settles: &'static str,
    /// How its size is worked out.
    size: Sizing,
    /// Builds its tables.
    prepare: fn(),
}

/// How a kind's size is worked out.
#[derive(Clone, Copy, Debug)]
enum Sizing {
    /// The putts inside the radius of its cause are replayed.
    InRadius,
    /// The putts that fell are replayed by this.
    Fell(fn(&[&State], &[&[RoundReadings]]) -> Option<Size>),
    /// It cannot be, as in "its size in strokes cannot be told: …".
    Untold(&'static str),
}

/// An unfair cause inside a radius.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Cause {
    /// Putts up to this distance.
    pub radius_ft: f64,
    /// What their line, or its spread, is multiplied by.
    pub factor: f64,
}

impl Kind {
    /// Says whether its cause is a set-up that softens short putts: then a finding of such a kind about a set-up may
    /// explain what players showed on it by any of these kinds.
    pub fn is_of_a_setup(&self) -> bool {
        !self.is_notice && self.subjects.contains(&Subject::Setup)
    }

    /// Returns the unfair cause that fits the rows best, where the kind has a radius.
    pub fn strongest(&self, rows: &[&State]) -> Option<Cause> {
        (self.strongest)(rows)
    }

    /// Returns the honest explanation that comes closest to the rows, in words.
    pub fn nearest(&self, rows: &[&State]) -> String {
        (self.nearest)(rows)
    }
}

/// The kinds, in the order in which people read them.
pub static KINDS: [&Kind; 8] = [
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

/// Returns what people read for the name of a kind.
pub fn title(name: &str) -> &str {
    kind(name).map_or(name, |kind| kind.title)
}

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

#[cfg(test)]
mod tests {
    use super::simulated::{putt, round};
    use super::*;

    /// Returns each kind's evidence about a subject whose only row holds these rounds.
    fn all(rounds: &[RoundReadings], subject: Subject) -> Vec<(&'static str, Evidence)> {
        KINDS
            .into_iter()
            .filter(|kind| kind.subjects.contains(&subject))
            .map(|kind| {
                let mut state = State::default();
                rounds.iter().for_each(|round| state.add(kind, round));
                assert!(state.size() <= MOST_ROW_BYTES, "{}", kind.name);
                (kind.name, evidence(kind, subject, &[&state]))
            })
            .collect()
    }

    fn silent(rounds: &[RoundReadings], kinds: &[&str]) {
        for subject in [Subject::Player, Subject::Setup] {
            for (name, found) in all(rounds, subject) {
                if kinds.contains(&name) || kinds.is_empty() {
                    assert_eq!(found.log10, 0.0, "{name}: {found:?}");
                    assert!(found.silent.is_some_and(|why| why.len() > 10), "{name} says why");
                } else {
                    assert!(found.log10.is_finite(), "{name}");
                }
            }
        }
    }

    /// A putt with everything recorded.
    fn whole(n: usize) -> PuttReading {
        let line = [0.4, -1.1, 0.8, -0.2, 1.9][n % 5];
        PuttReading {
            level_roll_ft: Some(3.0 + n as f64 + 1.4),
            ball_speed_mph: Some(4.0),
            start_line_deg: Some(line),
            played_line_deg: Some(line),
            ..putt(3.0 + n as f64)
        }
    }

    #[test]
    fn nothing_at_all_is_no_evidence_and_says_why() {
        silent(&[], &[]);
        silent(&[round(vec![])], &[]);
        silent(&vec![RoundReadings { conceded: 18, ..round(vec![]) }; 30], &[]);
    }

    #[test]
    fn three_putts_are_no_evidence_and_say_why() {
        silent(&[round((0..3).map(whole).collect())], &[]);
    }

    #[test]
    fn missing_lines_and_speeds_silence_the_kinds_that_need_them() {
        let without =
            |change: fn(PuttReading) -> PuttReading| vec![round((0..30).map(|n| change(whole(n))).collect()); 10];
        let lines = ["softened_line", "narrow_short_line", "holed_off_line"];
        silent(&without(|putt| PuttReading { start_line_deg: None, played_line_deg: None, ..putt }), &lines);
        silent(&without(|putt| PuttReading { start_line_deg: None, ..putt }), &["softened_line", "holed_off_line"]);
        silent(&without(|putt| PuttReading { played_line_deg: None, ..putt }), &["softened_line"]);
        let speeds = ["unreachable_pace", "repeated_round"];
        silent(&without(|putt| PuttReading { level_roll_ft: None, ball_speed_mph: None, ..putt }), &speeds);
    }

    #[test]
    fn a_declared_softening_is_no_evidence() {
        let kinds = ["softened_line", "narrow_short_line", "holed_off_line", "short_range_excess", "unreachable_pace"];
        let declared = (0..30).map(|n| PuttReading { is_declared: true, played_line_deg: Some(0.0), ..whole(n) });
        silent(&vec![round(declared.collect()); 10], &kinds);
    }

    #[test]
    fn a_league_of_one_has_a_threshold_and_needs_it() {
        assert!((threshold_log10(1, 5.0, 0) - 220f64.log10()).abs() < 1e-12);
        let (_, found) = all(&[round((0..30).map(whole).collect())], Subject::Setup).remove(0);
        assert!(found.log10 < threshold_log10(1, 5.0, 0));
    }

    #[test]
    fn extremes_stay_finite() {
        let extreme = |distance: f64, line: f64, roll: f64| PuttReading {
            start_line_deg: Some(line),
            played_line_deg: Some(-line),
            level_roll_ft: Some(roll),
            ball_speed_mph: Some(0.1),
            leave_ft: Some(200.0),
            is_holed: false,
            ..putt(distance)
        };
        let putts = [extreme(0.01, 45.0, 1e-4), extreme(60.0, -45.0, 5_000.0), extreme(200.0, 0.0, 1.0)];
        let rounds = vec![round(putts.into_iter().cycle().take(60).collect()); 100];
        for subject in [Subject::Player, Subject::Setup] {
            for (name, found) in all(&rounds, subject) {
                assert!(found.log10.is_finite(), "{name}");
            }
        }
    }

    #[test]
    fn eleven_pairs_share_the_budget_and_names_are_known() {
        let pairs: usize = KINDS.iter().filter(|kind| !kind.is_notice).map(|kind| kind.subjects.len()).sum();
        assert_eq!(pairs, 11);
        for found in KINDS {
            assert!(kind(found.name).is_some_and(|same| std::ptr::eq(same, found)), "{}", found.name);
        }
        assert!(kind("luck").is_none());
    }

    #[test]
    fn the_order_of_rows_makes_no_difference() {
        for kind in KINDS {
            let row = |from: usize| {
                let mut state = State::default();
                state.add(kind, &round((from..from + 25).map(whole).collect()));
                state
            };
            let (one, two) = (row(0), row(7));
            for subject in kind.subjects {
                let found = evidence(kind, *subject, &[&one, &two]).log10;
                // 1e-9: floats are added in another order
                assert!((found - evidence(kind, *subject, &[&two, &one]).log10).abs() < 1e-9, "{}", kind.name);
            }
        }
    }
}
