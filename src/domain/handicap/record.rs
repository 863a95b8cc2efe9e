//! A scoring record: scores go in by date, each giving the league index that it makes.

use super::caps::{Cap, Rounding, capped, rounded};
use super::exceptional::{Basis, reduction};
use super::index::{WINDOW, issued, selection};
use crate::exact::{Exact, round_tenth, whole};
use crate::units::Tenths;
use jiff::SignedDuration;
use jiff::civil::Date;

/// The doubts of the published rules, as settings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// Days before the previous round in which an index can be the low one.
    pub low_window_days: i32,
    /// The number, counted from 1, of the first score that a cap can touch.
    pub first_capped_score: usize,
    /// Whether indexes from fewer than 20 scores can be the low one.
    pub low_includes_before_20: bool,
    /// Whether the average is rounded before it is compared with the low index.
    pub round_before_cap: bool,
    /// Which differential the exceptional-score test compares.
    pub exceptional_basis: Basis,
}

impl Default for Options {
    /// The rules' own text where it is clear, and otherwise the literal reading.
    ///
    /// # Source
    /// Rules of Handicapping, Rules 5.2b, 5.7, 5.8 and 5.9.
    fn default() -> Self {
        Self {
            low_window_days: 365,
            first_capped_score: 21,
            low_includes_before_20: true,
            round_before_cap: true,
            exceptional_basis: Basis::Unrounded,
        }
    }
}

/// What an exceptional score is measured against.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ExceptionalTest {
    /// The record's index by scores of earlier dates.
    AgainstRecord,
    /// A given index, such as a starting one.
    Against(Tenths),
    /// Nothing: no test is made.
    Never,
}

/// A score to add.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Score {
    /// The day on which it was played.
    pub date: Date,
    /// Its differential over 18 holes, unrounded.
    pub differential: Exact,
    /// What the exceptional-score test measures it against.
    pub test: ExceptionalTest,
}

/// What adding a score did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// The day on which the score was played.
    pub date: Date,
    /// Its differential, rounded and before any reduction.
    pub differential: Tenths,
    /// The index that the exceptional-score test used; none where there was no test or no index yet.
    pub index_in_effect: Option<Tenths>,
    /// What was added to each of the most recent 20 differentials: 0, -1 or -2.
    pub reduction: i32,
    /// The low index that the caps used.
    pub low_used: Option<Tenths>,
    /// The cap that held the index down.
    pub cap: Cap,
    /// The index that the record has now.
    pub index: Option<Tenths>,
    /// The low index from now on; none before 20 scores.
    pub low_after: Option<Tenths>,
}

/// A player's scoring record.
///
/// Adding a score looks at the last 20 differentials and at the indexes of the low-index window.
#[derive(Clone, Debug)]
pub struct Record {
    options: Options,
    adjusted: Vec<Tenths>,
    /// The index after each score, under the score's date, and after each adjustment, under the day before it holds.
    issued: Vec<Issued>,
    /// The first of those that can be the low index.
    low_from: usize,
}

#[derive(Clone, Copy, Debug)]
struct Issued {
    date: Date,
    index: Option<Tenths>,
    is_of_score: bool,
}

impl Record {
    /// Creates an empty record.
    pub fn new(options: Options) -> Self {
        Self { options, adjusted: Vec::new(), issued: Vec::new(), low_from: 0 }
    }

    /// Adds a score; its date must not be earlier than that of the score before.
    ///
    /// # Formula
    /// ```text
    /// 1. exceptional score: reduce the most recent 20 differentials, this one included
    /// 2. average of the lowest k of the last 20, + adjustment
    /// 3. soft and hard cap against the low index
    /// 4. round to a tenth, cut at 54.0
    /// ```
    ///
    /// # Source
    /// Rules of Handicapping, Rules 5.2, 5.3, 5.4 (daily revision) and 5.7 to 5.9.
    pub fn add(&mut self, score: Score) -> Step {
        debug_assert!(self.issued.last().is_none_or(|last| last.date <= score.date), "scores come in order of date");
        let differential = round_tenth(score.differential);
        let index_in_effect = match score.test {
            ExceptionalTest::AgainstRecord => self.index_before(score.date),
            ExceptionalTest::Against(index) => Some(index),
            ExceptionalTest::Never => None,
        };
        let tested = match self.options.exceptional_basis {
            Basis::Unrounded => score.differential,
            Basis::Rounded => differential.into(),
        };
        let reduction = index_in_effect.map_or(0, |index| reduction(tested, index.into()));
        self.adjusted.push(differential);
        for recent in self.latest_mut() {
            recent.0 += 10 * reduction;
        }

        let may_cap = self.adjusted.len() >= self.options.first_capped_score;
        let low_used = if may_cap { self.low() } else { None };
        let (index, cap) = self.calculate(low_used);
        self.issued.push(Issued { date: score.date, index, is_of_score: true });
        let low_after = if self.adjusted.len() >= WINDOW { self.low() } else { None };
        Step { date: score.date, differential, index_in_effect, reduction, low_used, cap, index, low_after }
    }

    /// Moves the latest differentials alike, so that the index is a value from a day on; nothing without an index. Earlier
    /// indexes are no longer the low one: the caps would take the adjustment back.
    ///
    /// # Formula
    /// ```text
    /// each of the latest 20 differentials + (value − the rounded average of those that count, + adjustment)
    /// ```
    ///
    /// # Source
    /// Rules of Handicapping, Rule 7.1a: the committee applies an adjustment to each of the latest 20 differentials. That the
    /// low index begins anew is our reading.
    pub fn adjust(&mut self, value: Tenths, from: Date) -> Option<Step> {
        let average = self.average()?;
        let moved = value.0 - round_tenth(average).0;
        for recent in self.latest_mut() {
            recent.0 += moved;
        }
        let date = from.yesterday().unwrap_or(from);
        self.low_from = self.issued.len();
        self.issued.push(Issued { date, index: Some(value), is_of_score: false });
        Some(Step {
            date,
            differential: Tenths(0),
            index_in_effect: None,
            reduction: 0,
            low_used: None,
            cap: Cap::None,
            index: Some(value),
            low_after: None,
        })
    }

    /// Returns the index that scores of earlier dates made: the one in effect on a date.
    ///
    /// # Source
    /// Rules of Handicapping, Rule 5.4: several rounds of one day use the index from before that day.
    pub fn index_before(&self, date: Date) -> Option<Tenths> {
        let earlier = self.issued.partition_point(|issued| issued.date < date);
        self.issued[..earlier].last().and_then(|issued| issued.index)
    }

    /// Returns the index by all scores so far.
    pub fn index(&self) -> Option<Tenths> {
        self.issued.last().and_then(|issued| issued.index)
    }

    /// Returns the index that each score made, oldest first.
    pub fn indexes(&self) -> impl Iterator<Item = Option<Tenths>> {
        self.issued.iter().filter(|issued| issued.is_of_score).map(|issued| issued.index)
    }

    /// Returns all differentials after reductions, oldest first.
    pub fn adjusted(&self) -> Vec<Tenths> {
        self.adjusted.clone()
    }

    /// Returns which of [`adjusted`](Self::adjusted) count now, oldest first; among equal ones the later counts.
    pub fn counting(&self) -> Vec<usize> {
        let first = self.adjusted.len().saturating_sub(WINDOW);
        let lowest = selection(self.adjusted.len()).map_or(0, |selection| selection.lowest);
        let mut ranked: Vec<usize> = (first..self.adjusted.len()).rev().collect();
        ranked.sort_by_key(|&score| self.adjusted[score]);
        ranked.truncate(lowest);
        ranked.sort_unstable();
        ranked
    }

    fn latest_mut(&mut self) -> &mut [Tenths] {
        let first = self.adjusted.len().saturating_sub(WINDOW);
        &mut self.adjusted[first..]
    }

    /// Returns the average of the differentials that count, with the adjustment of few scores.
    fn average(&self) -> Option<Exact> {
        let selection = selection(self.adjusted.len())?;
        let sum: i128 = self.counting().into_iter().map(|score| i128::from(self.adjusted[score].0)).sum();
        Some(Exact::new(sum, 10 * selection.lowest as i128) + whole(selection.adjustment))
    }

    fn calculate(&self, low: Option<Tenths>) -> (Option<Tenths>, Cap) {
        let Some(average) = self.average() else {
            return (None, Cap::None);
        };
        let rounding = if self.options.round_before_cap { Rounding::BeforeCap } else { Rounding::AfterCap };
        let (value, cap) = match low {
            None => (rounded(average, rounding), Cap::None),
            Some(low) => capped(average, low.into(), rounding),
        };
        (Some(issued(value)), cap)
    }

    /// Returns the lowest index of the window that ends on the date of the latest round in the record.
    ///
    /// An index counts by the date of the round that made it, so a lay-off doesn't drop the old window at once.
    ///
    /// # Source
    /// Rules of Handicapping, Rule 5.7 and its interpretations 5.7/1 and 5.7/2.
    fn low(&self) -> Option<Tenths> {
        let latest = self.issued.last()?.date;
        let window = SignedDuration::from_hours(24 * i64::from(self.options.low_window_days));
        let from = latest.saturating_sub(window);
        let first = if self.options.low_includes_before_20 { self.low_from } else { self.low_from.max(WINDOW - 1) };
        let eligible = self.issued.get(first..)?.iter().rev();
        eligible.take_while(|issued| issued.date >= from).filter_map(|issued| issued.index).min()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::parse;
    use jiff::civil::date;

    fn score(date: Date, differential: &str) -> Score {
        Score { date, differential: parse(differential).unwrap(), test: ExceptionalTest::AgainstRecord }
    }

    fn text(tenths: Option<Tenths>) -> String {
        tenths.map_or("-".into(), |tenths| tenths.to_string())
    }

    /// A record of daily scores from 1 January 2027.
    fn record(options: Options, differentials: &[&str]) -> (Record, Vec<Step>) {
        let mut record = Record::new(options);
        let mut day = date(2027, 1, 1);
        let mut steps = Vec::new();
        for differential in differentials {
            steps.push(record.add(score(day, differential)));
            day = day.tomorrow().unwrap();
        }
        (record, steps)
    }

    #[test]
    fn the_index_in_effect_comes_from_earlier_dates() {
        let (mut record, _) = record(Options::default(), &["15.0", "14.2", "19.8"]);
        let day = date(2027, 2, 1);
        assert_eq!(text(record.add(score(day, "11.1")).index_in_effect), "12.2");
        let second = record.add(score(day, "16.6"));
        assert_eq!((text(second.index_in_effect), text(second.index)), ("12.2".into(), "11.1".into()));
        assert_eq!(text(record.index_before(day)), "12.2");
        assert_eq!(text(record.index_before(date(2027, 1, 3))), "-");
        assert_eq!(text(record.index()), "11.1");
    }

    #[test]
    fn an_exceptional_score_lowers_what_is_on_record_and_not_what_follows() {
        let (record, steps) = record(Options::default(), &["15.0", "15.0", "15.0", "5.96", "15.0"]);
        assert_eq!(steps[3].reduction, -1, "13.0 less the unrounded 5.96 is at least 7");
        let adjusted: Vec<_> = record.adjusted().iter().map(Tenths::to_string).collect();
        assert_eq!(adjusted, ["14.0", "14.0", "14.0", "5.0", "15.0"]);
    }

    #[test]
    fn the_basis_and_the_kind_of_test_decide_an_exceptional_score() {
        fn check(basis: Basis, test: ExceptionalTest, differential: &str, expect: i32) {
            let mut record = Record::new(Options { exceptional_basis: basis, ..Options::default() });
            let differential = parse(differential).unwrap();
            let step = record.add(Score { date: date(2027, 1, 1), differential, test });
            assert_eq!(step.reduction, expect);
        }
        check(Basis::Unrounded, ExceptionalTest::Against(Tenths(130)), "6.04", 0);
        check(Basis::Rounded, ExceptionalTest::Against(Tenths(130)), "6.04", -1);
        check(Basis::Unrounded, ExceptionalTest::Never, "-20", 0);
        check(Basis::Unrounded, ExceptionalTest::AgainstRecord, "-20", 0);
    }

    #[test]
    fn caps_start_with_the_score_after_the_twentieth() {
        let mut scores = vec!["10.0"; 20];
        scores.extend(["30.0"; 20]);
        let (_, steps) = record(Options::default(), &scores);
        assert_eq!(text(steps[2].index), "8.0");
        assert_eq!((text(steps[18].low_after), text(steps[19].low_after)), ("-".into(), "8.0".into()));
        assert_eq!((text(steps[19].low_used), text(steps[20].low_used)), ("-".into(), "8.0".into()));
        assert_eq!((steps[39].cap, text(steps[39].index)), (Cap::Hard, "13.0".into()));
        let later = Options { low_includes_before_20: false, ..Options::default() };
        let (_, steps) = record(later, &scores);
        assert_eq!((steps[39].cap, text(steps[39].index)), (Cap::Hard, "15.0".into()));
    }

    #[test]
    fn the_low_index_window_ends_on_the_previous_round() {
        let (mut record, _) = record(Options::default(), &["10.0"; 20]);
        let back = date(2029, 1, 1);
        let first = record.add(score(back, "30.0"));
        assert_eq!((text(first.low_used), text(first.low_after)), ("8.0".into(), "10.0".into()));
        assert_eq!(text(record.add(score(back, "30.0")).low_used), "10.0");
    }

    #[test]
    fn the_first_day_of_the_window_counts() {
        fn check(days: i32, low: &str) {
            let options = Options { low_window_days: days, ..Options::default() };
            let (mut record, _) = record(options, &["10.0"; 20]);
            assert_eq!(text(record.add(score(date(2027, 2, 1), "10.0")).low_used), low);
        }
        // The index 8.0 belongs to 3 January and the previous round to 20 January.
        check(17, "8.0");
        check(16, "9.0");
    }

    /// ```text
    /// 10.0, 12.0, 11.0        lowest of three less 2.0: 8.0
    /// adjusted to 5.5         each − 2.5: 7.5, 9.5, 8.5; 7.5 − 2.0 = 5.5
    /// then 20.0               lowest of four less 1.0: 7.5 − 1.0 = 6.5
    /// ```
    #[test]
    fn an_adjustment_moves_the_differentials_alike_and_holds_from_its_day() {
        let (mut record, _) = record(Options::default(), &["10.0", "12.0", "11.0"]);
        let step = record.adjust(Tenths(55), date(2027, 1, 10)).unwrap();
        assert_eq!(step.index, Some(Tenths(55)));
        assert_eq!(record.adjusted(), [75, 95, 85].map(Tenths));
        assert_eq!(text(record.index_before(date(2027, 1, 9))), "8.0");
        assert_eq!(text(record.index_before(date(2027, 1, 10))), "5.5");
        assert_eq!(text(record.add(score(date(2027, 1, 10), "20.0")).index), "6.5");
        assert_eq!(record.indexes().count(), 4);
        assert!(Record::new(Options::default()).adjust(Tenths(55), date(2027, 1, 1)).is_none());
    }

    #[test]
    fn the_caps_do_not_take_an_adjustment_back() {
        let (mut record, _) = record(Options::default(), &["10.0"; 25]);
        record.adjust(Tenths(180), date(2027, 3, 1)).unwrap();
        let step = record.add(score(date(2027, 3, 1), "30.0"));
        assert_eq!((text(step.low_used), text(step.index)), ("18.0".into(), "18.0".into()));
    }

    #[test]
    fn among_equal_differentials_the_later_counts() {
        let (record, _) = record(Options::default(), &["10.0", "12.0", "10.0", "11.0"]);
        assert_eq!(record.counting(), [2]);
        assert_eq!(Record::new(Options::default()).counting(), [0; 0]);
    }
}
