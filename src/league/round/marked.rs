//! A card as it is answered: putts inside a declared softening are marked.

use crate::domain::facts::{CardHole, Putt};
use serde::ser::{Serialize, SerializeSeq, Serializer};
use std::ops::Deref;

/// The holes of a card, and up to which distance softening was declared when it came in.
#[derive(Debug)]
pub struct MarkedHoles {
    holes: Vec<CardHole>,
    declared_radius_ft: Option<f64>,
}

impl MarkedHoles {
    /// Marks a card.
    pub fn of(holes: Vec<CardHole>, declared_radius_ft: Option<f64>) -> Self {
        Self { holes, declared_radius_ft }
    }
}

impl Deref for MarkedHoles {
    type Target = [CardHole];
    fn deref(&self) -> &[CardHole] {
        &self.holes
    }
}

#[derive(serde::Serialize)]
struct MarkedPutt<'a> {
    #[serde(flatten)]
    putt: &'a Putt,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    softened: bool,
}

#[derive(serde::Serialize)]
struct MarkedHole<'a> {
    #[serde(flatten)]
    hole: CardHole,
    #[serde(skip_serializing_if = "Option::is_none")]
    putts: Option<Vec<MarkedPutt<'a>>>,
}

impl Serialize for MarkedHoles {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Some(radius_ft) = self.declared_radius_ft else { return self.holes.serialize(serializer) };
        let mut holes = serializer.serialize_seq(Some(self.holes.len()))?;
        for hole in &self.holes {
            let mark = |putt| MarkedPutt { putt, softened: putt.distance_ft.get() <= radius_ft };
            let putts = hole.putts.as_ref().map(|putts| putts.iter().map(mark).collect());
            holes.serialize_element(&MarkedHole { hole: CardHole { putts: None, ..hole.clone() }, putts })?;
        }
        holes.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn putts_inside_the_radius_are_marked_and_no_others() {
        let card = json!([{"number": 1, "strokes": 4, "picked_up": false, "putts": [
            {"distance_ft": 12.5, "result": "missed"}, {"distance_ft": 12.0, "result": "missed"},
            {"distance_ft": 0.5, "result": "conceded"}]}, {"number": 2, "picked_up": true}]);
        let holes: Vec<CardHole> = serde_json::from_value(card.clone()).unwrap();
        assert_eq!(json!(MarkedHoles::of(holes.clone(), None)), card);
        let found = json!(MarkedHoles::of(holes, Some(12.0)));
        let marks: Vec<_> = found[0]["putts"].as_array().unwrap().iter().map(|putt| putt.get("softened")).collect();
        assert_eq!(marks, [None, Some(&json!(true)), Some(&json!(true))]);
        assert_eq!(found[1], card[1]);
    }
}
