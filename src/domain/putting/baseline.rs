//! What an average player of a field takes from each distance: the yardstick of strokes gained.

use crate::units::Feet;
use serde::Serialize;
use std::sync::LazyLock;

/// Cells of half a foot, from 0 to 200 ft: every row of a table lies on a cell's edge, so a distance finds its
/// piece by one multiplication and no search.
const CELLS_PER_FOOT: f64 = 2.0;
const CELLS: usize = 401;

/// The table of the `tour` baseline.
const TOUR_CSV: &str = include_str!("baseline_tour.csv");

static TOUR: LazyLock<Baseline> =
    LazyLock::new(|| Baseline::from_csv(TOUR_CSV).expect("the embedded table is well-formed, as a test checks"));

/// Which baseline: the name that reports give it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Yardstick {
    /// The tour.
    #[default]
    Tour,
    /// The people one plays with: the season's attested putts.
    Field,
}

impl Yardstick {
    /// The words for them.
    pub const WORDS: &'static [&'static str] = &["tour", "field"];

    /// Reads the word for it.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Tour, Self::Field].into_iter().zip(Self::WORDS).find(|(_, known)| **known == word).map(|(name, _)| name)
    }
}

/// A row of a baseline's table: the distance in feet and what is known of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Row {
    pub(super) distance_ft: f64,
    pub(super) one_putt: f64,
    pub(super) three_putt: f64,
    pub(super) expected_putts: f64,
}

/// A baseline: for each distance the expected putts and the chances of one putt and of three or more.
///
/// Between the rows of its table every column is a monotone cubic, so a gain never jumps; 0 ft is 1 putt, and 200 ft
/// is the farthest row.
#[derive(Clone, Debug)]
pub struct Baseline {
    name: Yardstick,
    /// The piece that each half-foot cell belongs to.
    piece_of_cell: Vec<u8>,
    expected_putts: Curve,
    one_putt: Curve,
    three_putt: Curve,
}

/// What the baseline says about one distance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BaselineAt {
    /// The mean number of putts to hole out.
    pub expected_putts: f64,
    /// The chance to hole the first putt.
    pub one_putt: f64,
    /// The chance to take three putts or more.
    pub three_putt: f64,
}

/// A fault in a baseline's table.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BaselineError {
    /// A row that is not four finite numbers.
    #[error("row {row} of the baseline is not four numbers")]
    UnreadableRow {
        /// The row, the heading being row 1.
        row: usize,
    },
    /// Distances that don't rise from 0 to 200 ft on half feet.
    #[error("the baseline's distances must rise from 0 to 200 ft in multiples of half a foot")]
    UnusableDistances,
}

impl Baseline {
    /// Returns the `tour` baseline, the default.
    ///
    /// # Formula
    /// ```text
    /// one_putt(d)  the make model of `make`, with its fitted tour constants
    /// E(d) = 1 + (1 - one_putt(d)) · mean E(leave)
    /// leave of a miss: gamma distributed, mean 0.990 + 0.0676 d ft, shape 15
    /// ```
    /// The two numbers of the leave are calibrated to the published expected putts (largest difference 0.009).
    ///
    /// # Source
    /// evenfield estimate. One-putts: a fit to the Broadie2018 rows of *Model building and expansion for golf
    /// putting* (Gelman, open data). Expected putts: Broadie 2011 (*Putts Gained*), and Broadie, *Every Shot Counts*
    /// (from memory).
    pub fn tour() -> &'static Baseline {
        &TOUR
    }

    /// Returns its name.
    pub fn name(&self) -> Yardstick {
        self.name
    }

    /// Returns the distances of its table's rows in feet, from 0 to 200.
    pub(super) fn rows_ft(&self) -> impl Iterator<Item = f64> {
        self.expected_putts.pieces.iter().map(|piece| piece.start_ft).chain([Feet::MAX])
    }

    /// Returns the mean number of putts that the field takes from `distance`.
    #[inline]
    pub fn expected_putts(&self, distance: Feet) -> f64 {
        self.expected_putts.at(self.piece(distance), distance)
    }

    /// Returns the field's chance to hole a putt of `distance`.
    #[inline]
    pub fn one_putt(&self, distance: Feet) -> f64 {
        self.one_putt.at(self.piece(distance), distance).clamp(0.0, 1.0)
    }

    /// Returns the field's chance to take three putts or more from `distance`.
    #[inline]
    pub fn three_putt(&self, distance: Feet) -> f64 {
        self.three_putt.at(self.piece(distance), distance).clamp(0.0, 1.0)
    }

    /// Returns all that the baseline says about `distance`.
    pub fn at(&self, distance: Feet) -> BaselineAt {
        BaselineAt {
            expected_putts: self.expected_putts(distance),
            one_putt: self.one_putt(distance),
            three_putt: self.three_putt(distance),
        }
    }

    /// Reads a table of `distance_ft,one_putt,three_putt,expected_putts` under one heading row.
    fn from_csv(text: &str) -> Result<Self, BaselineError> {
        let mut rows = Vec::new();
        for (index, line) in text.lines().enumerate().skip(1) {
            let unreadable = BaselineError::UnreadableRow { row: index + 1 };
            let row: Vec<f64> =
                line.split(',').map(str::parse).collect::<Result<_, _>>().map_err(|_| unreadable.clone())?;
            let [distance_ft, one_putt, three_putt, expected_putts] = row[..] else { return Err(unreadable) };
            if !row.iter().all(|value| value.is_finite()) {
                return Err(unreadable);
            }
            rows.push(Row { distance_ft, one_putt, three_putt, expected_putts });
        }
        Self::through(Yardstick::Tour, &rows)
    }

    /// Draws the curves through the rows of a table.
    pub(super) fn through(name: Yardstick, rows: &[Row]) -> Result<Self, BaselineError> {
        let distances: Vec<f64> = rows.iter().map(|row| row.distance_ft).collect();
        let is_on_cells = distances.iter().all(|d| (d * CELLS_PER_FOOT).fract() == 0.0);
        let is_rising = distances.windows(2).all(|pair| pair[0] < pair[1]);
        let has_its_ends = distances.len() > 2 && distances[0] == 0.0 && distances.last() == Some(&Feet::MAX);
        if !(is_on_cells && is_rising && has_its_ends && distances.len() <= usize::from(u8::MAX)) {
            return Err(BaselineError::UnusableDistances);
        }
        let last_piece = distances.len() - 2;
        let piece_of_cell = (0..CELLS)
            .map(|cell| {
                let rows_up_to = distances.partition_point(|d| *d <= cell as f64 / CELLS_PER_FOOT);
                (rows_up_to - 1).min(last_piece) as u8
            })
            .collect();
        let curve = |column: fn(&Row) -> f64| Curve::through(&distances, &rows.iter().map(column).collect::<Vec<_>>());
        Ok(Self {
            name,
            piece_of_cell,
            expected_putts: curve(|row| row.expected_putts),
            one_putt: curve(|row| row.one_putt),
            three_putt: curve(|row| row.three_putt),
        })
    }

    /// Returns the piece of the table that `distance` lies in.
    #[inline]
    fn piece(&self, distance: Feet) -> usize {
        usize::from(self.piece_of_cell[(distance.get() * CELLS_PER_FOOT) as usize])
    }
}

/// A monotone piecewise cubic through the rows of a table.
#[derive(Clone, Debug)]
struct Curve {
    pieces: Vec<Piece>,
}

/// `value + t (slope + t (square + t cube))` with `t` in feet from the piece's start.
#[derive(Clone, Copy, Debug)]
struct Piece {
    start_ft: f64,
    value: f64,
    slope: f64,
    square: f64,
    cube: f64,
}

impl Curve {
    /// Returns the monotone cubic through the points.
    ///
    /// # Formula
    /// ```text
    /// h_k = x_{k+1} - x_k     δ_k = (y_{k+1} - y_k) / h_k
    /// inner slope: 0 where δ_{k-1} δ_k <= 0, else (w1 + w2) / (w1 / δ_{k-1} + w2 / δ_k),
    ///              w1 = 2 h_k + h_{k-1}, w2 = h_k + 2 h_{k-1}
    /// end slope:   ((2 h_0 + h_1) δ_0 - h_0 δ_1) / (h_0 + h_1), made 0 where its sign is not δ_0's, and at most
    ///              3 δ_0 where δ_0 and δ_1 differ in sign
    /// ```
    ///
    /// # Source
    /// PCHIP with weighted-harmonic slopes and three-point ends; another monotone cubic differs by 4e-4.
    fn through(xs: &[f64], ys: &[f64]) -> Self {
        let widths: Vec<f64> = xs.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let rises: Vec<f64> = ys.windows(2).zip(&widths).map(|(pair, width)| (pair[1] - pair[0]) / width).collect();
        let last = widths.len() - 1;
        let mut slopes = vec![end_slope(widths[0], widths[1], rises[0], rises[1])];
        for k in 1..=last {
            slopes.push(inner_slope(widths[k - 1], widths[k], rises[k - 1], rises[k]));
        }
        slopes.push(end_slope(widths[last], widths[last - 1], rises[last], rises[last - 1]));
        let pieces = (0..=last)
            .map(|k| {
                let (width, rise, from, to) = (widths[k], rises[k], slopes[k], slopes[k + 1]);
                Piece {
                    start_ft: xs[k],
                    value: ys[k],
                    slope: from,
                    square: (3.0 * rise - 2.0 * from - to) / width,
                    cube: (from + to - 2.0 * rise) / (width * width),
                }
            })
            .collect();
        Self { pieces }
    }

    #[inline]
    fn at(&self, piece: usize, distance: Feet) -> f64 {
        let piece = &self.pieces[piece];
        let t = distance.get() - piece.start_ft;
        piece.value + t * (piece.slope + t * (piece.square + t * piece.cube))
    }
}

/// Returns the slope at an inner row: the weighted harmonic mean of the slopes beside it.
fn inner_slope(width_before: f64, width_after: f64, rise_before: f64, rise_after: f64) -> f64 {
    if rise_before * rise_after <= 0.0 {
        return 0.0;
    }
    let (before, after) = (2.0 * width_after + width_before, width_after + 2.0 * width_before);
    (before + after) / (before / rise_before + after / rise_after)
}

/// Returns the slope at an end row: the three-point formula, kept monotone.
fn end_slope(width: f64, next_width: f64, rise: f64, next_rise: f64) -> f64 {
    let slope = ((2.0 * width + next_width) * rise - width * next_rise) / (width + next_width);
    if slope * rise <= 0.0 {
        0.0
    } else if rise * next_rise < 0.0 && slope.abs() > 3.0 * rise.abs() {
        3.0 * rise
    } else {
        slope
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn feet(d: f64) -> Feet {
        Feet::new(d).unwrap()
    }

    fn rows() -> impl Iterator<Item = [f64; 4]> {
        TOUR_CSV.lines().skip(1).map(|line| {
            let row: Vec<f64> = line.split(',').map(|field| field.parse().unwrap()).collect();
            row.try_into().unwrap()
        })
    }

    #[test]
    fn every_row_of_the_table_is_reproduced() {
        for [distance, one, three, expected] in rows().skip(1) {
            let at = Baseline::tour().at(feet(distance));
            // 1e-12: the last row is reached through a cubic, not looked up
            assert!((at.one_putt - one).abs() < 1e-12, "{distance} ft");
            assert!((at.three_putt - three).abs() < 1e-12, "{distance} ft");
            assert!((at.expected_putts - expected).abs() < 1e-12, "{distance} ft");
        }
        assert_eq!(rows().count(), 84);
    }

    #[test]
    fn a_putt_of_no_length_is_one_putt() {
        let at = Baseline::tour().at(feet(f64::MIN_POSITIVE));
        assert_eq!((at.expected_putts, at.one_putt, at.three_putt), (1.0, 1.0, 0.0));
    }

    #[test]
    fn the_curve_is_continuous_across_every_row() {
        for [distance, ..] in rows().skip(1) {
            let before = Baseline::tour().at(feet(distance.next_down()));
            let on = Baseline::tour().at(feet(distance));
            assert!((before.expected_putts - on.expected_putts).abs() < 1e-12, "{distance} ft");
            assert!((before.one_putt - on.one_putt).abs() < 1e-12, "{distance} ft");
            assert!((before.three_putt - on.three_putt).abs() < 1e-12, "{distance} ft");
        }
    }

    #[test]
    fn a_table_with_a_fault_is_refused() {
        let check = |text: &str, expect: BaselineError| assert_eq!(Baseline::from_csv(text).err(), Some(expect));
        check("h\n0,1,0,1\n1,1,0,x\n", BaselineError::UnreadableRow { row: 3 });
        check("h\n0,1,0,1\n1,1,0,NaN\n", BaselineError::UnreadableRow { row: 3 });
        check("h\n0,1,0,1\n1,1,0\n", BaselineError::UnreadableRow { row: 3 });
        check("h\n0,1,0,1\n0.3,1,0,1\n200,0,0,3\n", BaselineError::UnusableDistances);
        check("h\n0,1,0,1\n200,0,0,3\n", BaselineError::UnusableDistances);
        check("h\n0,1,0,1\n5,1,0,1\n100,0,0,3\n", BaselineError::UnusableDistances);
    }

    proptest! {
        #[test]
        fn farther_is_never_easier(a in 1e-9..200.0f64, b in 1e-9..200.0f64) {
            let (near, far) = (Baseline::tour().at(feet(a.min(b))), Baseline::tour().at(feet(a.max(b))));
            // 1e-12: the rounding of a cubic whose values are near 1
            prop_assert!(far.expected_putts >= near.expected_putts - 1e-12);
            prop_assert!(far.one_putt <= near.one_putt + 1e-12);
            prop_assert!(far.three_putt >= near.three_putt - 1e-12);
        }

        #[test]
        fn a_small_step_is_a_small_change(d in 1e-9..199.0f64, step in 0.0..0.01f64) {
            let (here, there) = (Baseline::tour().at(feet(d)), Baseline::tour().at(feet(d + step)));
            // the steepest piece gains less than 0.15 putts a foot
            prop_assert!((there.expected_putts - here.expected_putts).abs() <= 0.15 * step + 1e-12);
        }
    }
}
