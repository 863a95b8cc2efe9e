//! Who plays an event from another tee, as it is typed: a line each.

use crate::domain::facts::TeeAssignment;
use crate::domain::ids::MemberId;
use crate::http::problem::Problem;
use crate::pages::lines::{self, is_same};
use serde_json::{Value, json};

/// The most lines that are read, as many as an event has room for.
const MOST: usize = 1_000;

/// Who and what a line can name.
pub struct Known {
    /// The flights of the season.
    pub flights: Vec<String>,
    /// The members of the league.
    pub members: Vec<(MemberId, String)>,
    /// The tees of the league by id, with the words for each.
    pub tees: Vec<(String, String)>,
}

impl Known {
    /// Writes assignments a line each.
    pub fn lines(&self, assignments: &[TeeAssignment]) -> String {
        let name = |id| self.members.iter().find(|(known, _)| Some(*known) == id).map(|(_, name)| name.as_str());
        let line = |assignment: &TeeAssignment| {
            let id = assignment.tee_id.to_string();
            let tee = self.tees.iter().find(|(known, _)| *known == id).map_or(id.as_str(), |(_, words)| words);
            let who = assignment.flight.as_deref().or(name(assignment.member_id)).unwrap_or_default();
            format!("{who} = {tee}")
        };
        assignments.iter().map(line).collect::<Vec<_>>().join("\n")
    }

    /// Reads such lines. A name that a flight and a player share is the flight's.
    ///
    /// # Errors
    /// Every line that names nobody, several players, or no tee.
    pub fn read(&self, typed: &str) -> Result<Value, Problem> {
        Ok(lines::read(typed, MOST, "/tees", |line| self.assignment(line))?.into())
    }

    fn assignment(&self, line: &str) -> Result<Value, String> {
        let (who, tee) = line.rsplit_once('=').ok_or("write player or flight = course, tee")?;
        let (who, tee) = (who.trim(), tee.trim());
        let (tee, _) = self.tees.iter().find(|(_, words)| is_same(words, tee)).ok_or_else(|| {
            let all: Vec<&str> = self.tees.iter().map(|(_, words)| words.as_str()).collect();
            format!("there is no tee {tee}; there are: {}", all.join("; "))
        })?;
        if let Some(flight) = self.flights.iter().find(|flight| is_same(flight, who)) {
            return Ok(json!({ "tee_id": tee, "flight": flight }));
        }
        let member = lines::only(&self.members, who, "no player and no flight", "players")?;
        Ok(json!({ "tee_id": tee, "member_id": member }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::ids::TeeId;
    use uuid::Uuid;

    #[test]
    fn lines_name_flights_players_and_tees() {
        let (ada, red) = (MemberId(Uuid::from_u128(1)), Uuid::from_u128(2));
        let known = Known {
            flights: vec!["Seniors".into()],
            members: vec![(ada, "Ada = Bell".into()), (MemberId(red), "Bo".into()), (ada, "bo".into())],
            tees: vec![(red.to_string(), "Mill Pond, Red".into())],
        };
        let typed = "Ada = Bell = Mill Pond, Red\nseniors=mill pond,  red\n\n".replace("pond,  red", "pond, red");
        let read = known.read(&typed).expect("both lines are good");
        let assignments: Vec<TeeAssignment> = serde_json::from_value(read).expect("assignments");
        assert_eq!(assignments[0].member_id, Some(ada));
        assert_eq!((assignments[1].flight.as_deref(), assignments[1].tee_id), (Some("Seniors"), TeeId(red)));
        assert_eq!(known.lines(&assignments), "Ada = Bell = Mill Pond, Red\nSeniors = Mill Pond, Red");
        for (line, said) in [
            ("Ada", "line 1: write player or flight"),
            ("Nobody = Mill Pond, Red", "no player and no flight is called Nobody"),
            ("Bo = Mill Pond, Red", "several players are called Bo"),
            ("Seniors = Blue", "there is no tee Blue; there are: Mill Pond, Red"),
        ] {
            let problem = known.read(line).expect_err("refused");
            assert!(problem.errors()[0].detail.contains(said), "{line}: {:?}", problem.errors());
        }
    }
}
