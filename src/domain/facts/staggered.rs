//! A staggered start: where a player stands in another table is worth strokes before the first event.

use crate::exact::Value;
use crate::ids::CompetitionId;
use serde::{Deserialize, Serialize};

/// The most places that have a start of their own.
pub const MOST_STARTS: usize = 1_000;

/// What a place in another table is worth at the start.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Start {
    /// Whose table it is, as it stood before the first event.
    pub competition_id: CompetitionId,
    /// Strokes to par of the first place, the second and so on; any other player starts as the last of them.
    pub table: Vec<Value>,
}

impl Start {
    /// Returns where a player starts who had that position, or none.
    pub fn of(&self, position: Option<u32>) -> Value {
        let place = position.and_then(|position| (position as usize).checked_sub(1));
        let named = place.and_then(|place| self.table.get(place));
        named.or(self.table.last()).copied().unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;
    use uuid::Uuid;

    #[test]
    fn whoever_is_beyond_the_table_starts_as_its_last() {
        let id = CompetitionId(Uuid::nil());
        let start: Start =
            serde_json::from_value(json!({ "competition_id": id, "table": [-3, -1.5, 0] })).expect("a start");
        let of = |position| serde_json::to_value(start.of(position)).expect("a value");
        assert_eq!(
            [Some(1), Some(2), Some(3), Some(9), None].map(of),
            [json!(-3), json!(-1.5), json!(0), json!(0), json!(0)]
        );
    }
}
