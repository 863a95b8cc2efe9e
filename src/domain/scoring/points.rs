//! Points of a hole: Stableford, and a committee's own table.

use std::collections::BTreeMap;

/// Returns the points of one hole; a hole without a score is worth none.
///
/// The published table ends at four under (6 points); beyond it the line goes on, 7 for five under (evenfield's reading).
///
/// # Formula
/// ```text
/// max(0, par + received + 2 − strokes)
/// ```
///
/// # Source
/// Rules of Golf, Rule 21.1.
///
/// # Examples
/// ```
/// use evenfield_domain::scoring::points::points;
/// assert_eq!(points(4, 1, Some(4)), 3);
/// assert_eq!(points(4, 1, None), 0);
/// ```
pub fn points(par: u8, received: i32, strokes: Option<u8>) -> i32 {
    strokes.map_or(0, |strokes| (i32::from(par) + 2 - i32::from(strokes)).saturating_add(received).max(0))
}

/// A committee's own points: an entry for each result against par, without a gap.
///
/// # Source
/// The committee's choice; no published rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PointsTable {
    lowest: i32,
    points: Vec<i32>,
    worst: i32,
}

/// Entries that make no table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TableError {
    /// There is no entry.
    #[error("must have an entry")]
    Empty,
    /// A result between the ends has no entry.
    #[error("must have an entry for {result}")]
    Gap {
        /// The first result that lacks one.
        result: i32,
    },
}

impl PointsTable {
    /// Makes a table of points by result against par, such as -1 for one under.
    ///
    /// # Errors
    /// [`TableError`] where an entry is missing.
    pub fn new(entries: &BTreeMap<i32, i32>) -> Result<Self, TableError> {
        let (Some((&lowest, _)), Some(&worst)) = (entries.first_key_value(), entries.values().min()) else {
            return Err(TableError::Empty);
        };
        match (lowest..).zip(entries.keys()).find(|(expected, given)| *expected != **given) {
            Some((result, _)) => Err(TableError::Gap { result }),
            None => Ok(Self { lowest, points: entries.values().copied().collect(), worst }),
        }
    }

    /// Returns the points of a result against par; a result beyond an end of the table counts as that end.
    ///
    /// A hole without a score takes the fewest points of the table, wherever they stand in it.
    ///
    /// # Examples
    /// ```
    /// use evenfield_domain::scoring::points::PointsTable;
    /// let table = PointsTable::new(&[(-1, 2), (0, 0), (1, -3), (2, -1)].into())?;
    /// assert_eq!([Some(-2), Some(0), Some(5), None].map(|result| table.points(result)), [2, 0, -1, -3]);
    /// # Ok::<(), evenfield_domain::scoring::points::TableError>(())
    /// ```
    pub fn points(&self, to_par: Option<i32>) -> i32 {
        let Some(to_par) = to_par else { return self.worst };
        let entry = to_par.saturating_sub(self.lowest).clamp(0, self.points.len() as i32 - 1);
        self.points[entry as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_names_every_result_between_its_ends() {
        fn check(entries: &[(i32, i32)], error: TableError) {
            assert_eq!(PointsTable::new(&entries.iter().copied().collect()), Err(error));
        }
        check(&[], TableError::Empty);
        check(&[(-2, 5), (0, 2)], TableError::Gap { result: -1 });
        check(&[(-1, 5), (0, 2), (3, 1), (5, 0)], TableError::Gap { result: 1 });
    }

    #[test]
    fn points_fall_by_one_a_stroke_and_stop_at_none() {
        fn check(par: u8, received: i32, strokes: Option<u8>, expect: i32) {
            assert_eq!(points(par, received, strokes), expect);
        }
        check(5, 0, Some(7), 0);
        check(5, 0, Some(5), 2);
        check(5, 0, Some(1), 6);
        check(5, 2, Some(1), 8);
        check(5, 0, Some(99), 0);
        check(4, -1, Some(4), 1);
        check(4, 2, None, 0);
    }
}
