//! What a competition breaks by itself: choices that together mean nothing, each with the nearest that does.

use super::competition::{Award, Competition, Meeting, Scoring};
use super::counted_events::Counted;
use super::fault::{Fault, Rules};
use super::match_terms::{MatchTerms, TiedMatch};
use super::side::{CountedBy, Side};
use super::tie::Tie;
use crate::competition::better::Better;
use crate::ids::EventId;
use crate::rule::Rule;
use crate::scoring::points::PointsTable;

impl Competition {
    /// Finds what no single field shows.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        if let Award::ByPlace { table, beyond } = &self.award {
            let places: Vec<_> = table.iter().chain([beyond]).collect();
            for (p, pair) in places.windows(2).enumerate() {
                if pair[1] > pair[0] {
                    let beyond = p + 1 == table.len();
                    let at = if beyond { "/award/beyond".into() } else { format!("/award/table/{}", p + 1) };
                    let detail = "a place is never worth more than the one before it";
                    faults.push(Fault::new(at, Rule::AwardOrder, detail));
                }
            }
        }
        if let Some(Err(error)) = self.score.table().map(PointsTable::new) {
            faults.push(Fault::new("/score/table", Rule::PointsTable, format!("the table {error}")));
        }
        for (t, tie) in self.ties.iter().enumerate() {
            let (of_matches, of_others) = tie.splits();
            if self.ties[..t].contains(tie) {
                faults.push(Fault::new(format!("/ties/{t}"), Rule::RepeatedId, "each way to split stands here once"));
            } else if !(if self.ranks_cards() { of_others } else { of_matches }) {
                let detail = "a table of matches is split by head_to_head, won, points or best_values, any other by \
                              countback, firsts or best_values";
                faults.push(Fault::new(format!("/ties/{t}"), Rule::CompetitionMisfit, detail));
            }
        }
        for (t, team) in self.teams.iter().flatten().enumerate() {
            if self.teams.iter().flatten().take(t).any(|other| other == team) {
                faults.push(Fault::new(format!("/teams/{t}"), Rule::RepeatedId, "each team is named once"));
            }
        }
        faults.extend(self.matches().into_iter().flat_map(MatchTerms::faults));
        faults.extend(self.event_faults());
        faults.extend(self.misfit().map(|(at, detail)| Fault::new(at, Rule::CompetitionMisfit, detail)));
        faults
    }

    /// Finds choices that together mean nothing, with the nearest that do.
    fn misfit(&self) -> Option<(&'static str, &'static str)> {
        if self.ranks_cards() && (self.absent, self.substitutes) != Default::default() {
            return Some(("/absent", "absent players and substitutes are terms of matches: leave them out"));
        }
        if !self.is_of_teams() && self.teams.is_some() {
            return Some((
                "/teams",
                "teams compete in fixtures of two matches or two balls a side or more: leave the teams out",
            ));
        }
        if let Some(misfit) = self.misfit_of_start().or_else(|| self.side.misfit()) {
            return Some(misfit);
        }
        if let Side::Best { by, .. } = self.side {
            return self.misfit_of_several(by).or_else(|| self.misfit_of_meeting());
        }
        self.misfit_of_meeting()
    }

    /// Finds what means nothing for sides of several balls.
    fn misfit_of_several(&self, by: CountedBy) -> Option<(&'static str, &'static str)> {
        match self.matches() {
            None => Some(("/side", "the best of several balls compete in matches: let each player compete alone here")),
            Some(_) if by == CountedBy::Card => {
                Some(("/side/by", "a match goes hole by hole: count the best balls by hole"))
            }
            Some(terms) if terms.tied == TiedMatch::ExtraHoles => Some((
                "/meeting/tied",
                "extra holes decide a match of two balls: `half` shares the points of a tied one",
            )),
            Some(_) => None,
        }
    }

    fn misfit_of_meeting(&self) -> Option<(&'static str, &'static str)> {
        let Self { score, meeting, award, .. } = self;
        Some(match (meeting, award) {
            (Meeting::Match(_), _) if *score != (Scoring::Strokes {}) => {
                ("/score", "a match compares strokes, hole by hole: score strokes")
            }
            (Meeting::Match(_), Award::ByScore {} | Award::ByPlace { .. }) => {
                ("/award", "what is won in matches is awarded by_points")
            }
            (Meeting::Match(_), _) if self.field.by_entry => {
                ("/field/by_entry", "who competes in matches is whom the fixtures name: leave by_entry out")
            }
            (Meeting::Match(_), _) if !self.field.flights.is_empty() => {
                ("/field/flights", "who competes in matches is whom the fixtures name: leave the flights out")
            }
            (Meeting::Hole { .. } | Meeting::Season {}, _) if matches!(score, Scoring::Quota { .. }) => {
                ("/score", "quota is a result of a whole card: score points instead")
            }
            (Meeting::Hole { .. }, Award::ByScore {} | Award::ByPlace { .. }) => {
                ("/award", "what is won hole by hole is awarded by_points")
            }
            (Meeting::Field {}, Award::ByPoints {}) => {
                ("/award", "by_points needs holes to win: award by_score or by_place")
            }
            (Meeting::Season {} | Meeting::Sum { .. }, Award::ByPlace { .. } | Award::ByPoints {}) => {
                ("/award", "this has no places of an event: award by_score")
            }
            _ => return None,
        })
    }

    /// Finds what the events that it names break by themselves.
    fn event_faults(&self) -> Vec<Fault> {
        let Some(named) = &self.events else { return Vec::new() };
        let mut faults = Vec::new();
        let mut known: Vec<EventId> = Vec::new();
        for (n, counted) in named.iter().enumerate() {
            for (e, event) in counted.event_ids.iter().enumerate() {
                if known.contains(event) {
                    let at = format!("/events/{n}/event_ids/{e}");
                    faults.push(Fault::new(at, Rule::RepeatedId, "each event is counted once"));
                }
                known.push(*event);
            }
            let misfit = self
                .misfit_of(counted)
                .map(|(field, detail)| Fault::new(format!("/events/{n}/{field}"), Rule::CompetitionMisfit, detail));
            faults.extend(misfit);
        }
        faults
    }

    /// Finds a result that means nothing under the other terms, with the nearest that does.
    fn misfit_of(&self, counted: &Counted) -> Option<(&'static str, &'static str)> {
        let is_weighted = counted.is_weighted();
        let adds_strokes = self.award == Award::ByScore {} && self.better() == Better::Lower;
        match &self.meeting {
            Meeting::Field {} if counted.is_of_several() && self.ties.contains(&Tie::Countback) => Some((
                "event_ids",
                "countback compares the holes of one card: leave it out, or name each event by itself",
            )),
            Meeting::Field {} if is_weighted && adds_strokes => {
                Some(("weight", "strokes that are added up have no weight: leave it out, or award by_place"))
            }
            Meeting::Season {} | Meeting::Sum { .. } if is_weighted => {
                Some(("weight", "only values of events have a weight: leave it out here"))
            }
            Meeting::Field {} => None,
            Meeting::Match(_) | Meeting::Hole { .. } | Meeting::Season {} | Meeting::Sum { .. }
                if counted.is_of_several() =>
            {
                Some(("event_ids", "several events make one result where totals are ranked: name each event by itself"))
            }
            Meeting::Match(_) | Meeting::Hole { .. } | Meeting::Season {} | Meeting::Sum { .. } => None,
        }
    }

    /// Finds what means nothing for a staggered start, with the nearest that does.
    fn misfit_of_start(&self) -> Option<(&'static str, &'static str)> {
        self.start.as_ref()?;
        let is_of_strokes = self.meeting == Meeting::Field {} && self.award == Award::ByScore {};
        if !is_of_strokes || self.score.better() != Better::Lower {
            return Some((
                "/start",
                "a start is strokes to par: score strokes, rank totals (field) and award by_score",
            ));
        }
        if self.has_results_of_several() {
            return Some(("/start", "a start is added to the scores of single events: name each event by itself"));
        }
        None
    }
}

impl Rules for Competition {
    fn broken(&self) -> Vec<Fault> {
        self.faults()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value as Json, json};

    fn faults(terms: &Json) -> Vec<(String, Rule)> {
        let terms: Competition = serde_json::from_value(terms.clone()).expect("terms");
        terms.faults().into_iter().map(|fault| (fault.pointer, fault.rule)).collect()
    }

    #[test]
    fn results_that_mean_nothing_are_named() {
        let [one, two] = [1, 2].map(uuid::Uuid::from_u128);
        let places = json!({ "kind": "by_place", "table": [3, 1] });
        let with = |events: Json, more: Json| {
            let mut terms = json!({ "name": "X", "award": places, "events": events });
            terms.as_object_mut().expect("an object").extend(more.as_object().expect("an object").clone());
            terms
        };
        let both = json!([{ "event_ids": [one, two], "take": "best" }]);
        assert_eq!(faults(&with(both.clone(), json!({}))), []);
        assert_eq!(faults(&with(json!([{ "event_ids": [one], "weight": 1.5 }]), json!({}))), []);
        let by_score = json!({ "award": { "kind": "by_score" } });
        let misfit = Rule::CompetitionMisfit;
        let cases = [
            (
                json!([{ "event_ids": [one] }, { "event_ids": [two, one] }]),
                json!({}),
                "/events/1/event_ids/1",
                Rule::RepeatedId,
            ),
            (json!([{ "event_ids": [one], "weight": 2 }]), by_score.clone(), "/events/0/weight", misfit),
            (both.clone(), json!({ "ties": ["countback"] }), "/events/0/event_ids", misfit),
            (
                both.clone(),
                json!({ "meeting": { "kind": "hole" }, "award": { "kind": "by_points" } }),
                "/events/0/event_ids",
                misfit,
            ),
            (
                both.clone(),
                json!({ "meeting": { "kind": "season" }, "award": { "kind": "by_score" } }),
                "/events/0/event_ids",
                misfit,
            ),
            (
                json!([{ "event_ids": [one], "weight": 2 }]),
                json!({ "meeting": { "kind": "season" }, "award": { "kind": "by_score" } }),
                "/events/0/weight",
                misfit,
            ),
        ];
        for (events, more, pointer, rule) in cases {
            assert_eq!(faults(&with(events.clone(), more)), [(pointer.to_owned(), rule)], "{events}");
        }
        // Points that are added up may weigh more.
        let points = json!({ "award": { "kind": "by_score" }, "score": { "kind": "points" } });
        assert_eq!(faults(&with(json!([{ "event_ids": [one], "weight": 2 }]), points)), []);
    }
}
