//! From scores to a table: places and what they are worth, fixtures, the season's total.

pub mod best_of;
pub mod places;
pub mod round_robin;
pub mod table;

/// Which of two values is the better one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Better {
    /// Points: the higher value.
    Higher,
    /// Strokes: the lower value.
    Lower,
}

impl Better {
    /// Compares two values; the better one is less and so sorts first.
    pub fn compare<T: Ord>(self, a: &T, b: &T) -> std::cmp::Ordering {
        match self {
            Better::Higher => b.cmp(a),
            Better::Lower => a.cmp(b),
        }
    }
}
