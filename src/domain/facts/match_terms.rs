//! The terms of a competition whose sides meet in matches.

use super::fault::Fault;
use crate::exact::{Value, whole};
use crate::rule::Rule;
use serde::{Deserialize, Serialize};

/// The most matches of a fixture.
pub const MAX_MATCHES: u8 = 16;
/// The most points that anything in a fixture may be worth.
pub const MAX_POINTS: i32 = 1_000;

/// How sides meet hole by hole, and what that is worth.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MatchTerms {
    /// How many matches a fixture has.
    #[serde(default = "one")]
    pub matches: u8,
    #[serde(default)]
    pub points: MatchPoints,
    /// What the table counts for a fixture won, tied and lost; `None`: its points.
    #[serde(default)]
    pub result: Option<[Value; 3]>,
    /// What becomes of a match that is tied after its holes.
    #[serde(default)]
    pub tied: TiedMatch,
    #[serde(default)]
    pub walk_over: WalkOverTerms,
    /// What a bye is worth.
    #[serde(default)]
    pub bye: Value,
}

fn one() -> u8 {
    1
}

/// What is at stake in a fixture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MatchPoints {
    /// Points of each hole of each match.
    #[serde(default)]
    pub per_hole: Value,
    /// Points of each match.
    #[serde(default)]
    pub per_match: Value,
    /// Points of each nine of a match over 18 holes.
    #[serde(default)]
    pub per_nine: Value,
    /// Points of the lower total over all matches.
    #[serde(default)]
    pub per_total: Value,
}

impl Default for MatchPoints {
    /// A point a match.
    fn default() -> Self {
        let none = Value::default();
        Self { per_hole: none, per_match: Value(whole(1)), per_nine: none, per_total: none }
    }
}

/// What becomes of a match that is tied after its holes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TiedMatch {
    /// Half of its points go to each side.
    #[default]
    Half,
    /// It goes on, hole by hole, until one is won.
    ExtraHoles,
}

/// Who gets the points of a walk-over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct WalkOverTerms {
    #[serde(default)]
    pub per_hole: Share,
    #[serde(default = "half")]
    pub per_total: Share,
}

fn half() -> Share {
    Share::Half
}

impl Default for WalkOverTerms {
    fn default() -> Self {
        Self { per_hole: Share::All, per_total: Share::Half }
    }
}

/// How points are shared where only one side came.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Share {
    /// The side that came gets them.
    #[default]
    All,
    /// Each side gets half.
    Half,
}

/// What happens where a player does not come.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum AbsentTerms {
    /// The opponent has a walk-over.
    #[default]
    Forfeit,
    /// Net par and so many strokes on each hole play instead.
    NetParPlus {
        #[serde(default)]
        plus: Value,
    },
    /// The player's own net totals to par in the last so many events, averaged, play instead.
    OwnAverage {
        #[serde(default = "three")]
        last: u8,
    },
    /// The opponent plays against net par.
    OpponentToPar,
}

fn three() -> u8 {
    3
}

/// Who may play in a member's place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SubstituteTerms {
    #[serde(default = "yes")]
    pub allowed: bool,
    /// A member's most events as a substitute; `None`: any number.
    #[serde(default)]
    pub most: Option<u8>,
}

fn yes() -> bool {
    true
}

impl Default for SubstituteTerms {
    fn default() -> Self {
        Self { allowed: true, most: None }
    }
}

impl MatchTerms {
    /// Finds numbers beyond their limits and terms that cannot mean anything together, with pointers from `/meeting` on.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        if !(1..=MAX_MATCHES).contains(&self.matches) {
            let detail = format!("a fixture has from 1 to {MAX_MATCHES} matches");
            faults.push(Fault::new("/meeting/matches", Rule::Validation, detail));
        }
        let MatchPoints { per_hole, per_match, per_nine, per_total } = self.points;
        let stakes =
            [("per_hole", per_hole), ("per_match", per_match), ("per_nine", per_nine), ("per_total", per_total)];
        let named = stakes.map(|(name, value)| (format!("/meeting/points/{name}"), value));
        let results = self.result.into_iter().flatten().enumerate();
        let results = results.map(|(n, value)| (format!("/meeting/result/{n}"), value));
        for (at, Value(value)) in named.into_iter().chain(results).chain([("/meeting/bye".to_owned(), self.bye)]) {
            if value < whole(0) || value > whole(MAX_POINTS) {
                faults.push(Fault::new(at, Rule::Validation, format!("must be from 0 to {MAX_POINTS}")));
            }
        }
        if stakes.iter().all(|(_, Value(value))| *value == whole(0)) {
            let detail = "something must be at stake: name points of a hole, a match, a nine or the total";
            faults.push(Fault::new("/meeting/points", Rule::Fixture, detail));
        }
        if let Some([won, tied, lost]) = self.result
            && !(won >= tied && tied >= lost)
        {
            let detail = "a fixture won is worth no less than a tied one, and that no less than one lost";
            faults.push(Fault::new("/meeting/result", Rule::AwardOrder, detail));
        }
        if self.tied == TiedMatch::ExtraHoles && self.matches > 1 {
            let detail = "extra holes decide a fixture of one match: `half` shares the points of a tied one";
            faults.push(Fault::new("/meeting/tied", Rule::Fixture, detail));
        }
        faults
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn what_is_left_out_is_usual() {
        let usual: MatchTerms = serde_json::from_value(json!({})).unwrap();
        let points = json!({"per_hole": 0, "per_match": 1, "per_nine": 0, "per_total": 0});
        let expect = json!({"matches": 1, "points": points, "result": null, "tied": "half",
            "walk_over": {"per_hole": "all", "per_total": "half"}, "bye": 0});
        assert_eq!(serde_json::to_value(&usual).unwrap(), expect);
        assert_eq!(usual.faults(), []);
    }

    #[test]
    fn what_cannot_mean_anything_is_refused() {
        fn check(terms: serde_json::Value, expect: &[(&str, Rule)]) {
            let terms: MatchTerms = serde_json::from_value(terms).unwrap();
            let found = terms.faults();
            let found: Vec<_> = found.iter().map(|fault| (fault.pointer.as_str(), fault.rule)).collect();
            assert_eq!(found, expect);
        }
        check(json!({"result": [2, 1, 0], "points": {"per_hole": 0.5, "per_total": 1}}), &[]);
        check(json!({"points": {}}), &[("/meeting/points", Rule::Fixture)]);
        check(json!({"points": {"per_match": -1}}), &[("/meeting/points/per_match", Rule::Validation)]);
        check(json!({"bye": 1001}), &[("/meeting/bye", Rule::Validation)]);
        check(json!({"matches": 17}), &[("/meeting/matches", Rule::Validation)]);
        check(json!({"result": [1, 2, 0]}), &[("/meeting/result", Rule::AwardOrder)]);
        check(json!({"tied": "extra_holes"}), &[]);
        check(json!({"tied": "extra_holes", "matches": 2}), &[("/meeting/tied", Rule::Fixture)]);
    }
}
