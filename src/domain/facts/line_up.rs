//! Who plays for a team in an event.

use super::fault::{Fault, Rules};
use crate::ids::MemberId;
use crate::rule::Rule;
use serde::{Deserialize, Serialize};

/// The most players that a line-up may name.
pub const MAX_PLAYERS: usize = 32;

/// Who plays for a team in an event, in every competition; where a competition needs fewer, the first of them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LineUp {
    pub players: Vec<LinedUp>,
    #[serde(default)]
    pub order: PlayingOrder,
}

/// One player of a line-up.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LinedUp {
    pub member_id: MemberId,
    /// The team's member whose place a substitute takes.
    #[serde(default)]
    pub substitute_for: Option<MemberId>,
    /// Whether the player does not come.
    #[serde(default)]
    pub absent: bool,
}

/// Who meets the other side's first player.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PlayingOrder {
    /// The lowest playing handicap; among equals the lower index.
    #[default]
    ByHandicap,
    /// Whoever is named first.
    AsNamed,
}

impl LineUp {
    /// Returns the place of a player in the list.
    pub fn place_of(&self, member: MemberId) -> Option<usize> {
        self.players.iter().position(|player| player.member_id == member)
    }
}

impl Rules for LineUp {
    fn broken(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        for (p, player) in self.players.iter().enumerate() {
            let before = &self.players[..p];
            if before.iter().any(|other| other.member_id == player.member_id) {
                let at = format!("/players/{p}/member_id");
                faults.push(Fault::new(at, Rule::RepeatedId, "a player stands in a line-up once"));
            }
            let Some(replaced) = player.substitute_for else { continue };
            let at = format!("/players/{p}/substitute_for");
            if replaced == player.member_id || self.place_of(replaced).is_some() {
                faults.push(Fault::new(at, Rule::Substitute, "whoever has a substitute does not play"));
            } else if before.iter().any(|other| other.substitute_for == Some(replaced)) {
                faults.push(Fault::new(at, Rule::Substitute, "a player has one substitute"));
            } else if player.absent {
                let detail = "a substitute who does not come is left out: name the player as absent";
                faults.push(Fault::new(format!("/players/{p}/absent"), Rule::Substitute, detail));
            }
        }
        faults
    }
}

/// Finds the players who do not fit the team's roster of the day: members play for themselves, others in a member's place.
pub fn beside_roster(line_up: &LineUp, roster: &[MemberId]) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (p, player) in line_up.players.iter().enumerate() {
        match player.substitute_for {
            None if !roster.contains(&player.member_id) => {
                let detail = "this player is no member of the team on that day: a substitute says for whom";
                faults.push(Fault::new(format!("/players/{p}/member_id"), Rule::NotInTeam, detail));
            }
            Some(_) if roster.contains(&player.member_id) => {
                let detail = "a member of the team plays for nobody else";
                faults.push(Fault::new(format!("/players/{p}/substitute_for"), Rule::Substitute, detail));
            }
            Some(replaced) if !roster.contains(&replaced) => {
                let detail = "a substitute plays for a member of the team of that day";
                faults.push(Fault::new(format!("/players/{p}/substitute_for"), Rule::NotInTeam, detail));
            }
            None | Some(_) => {}
        }
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::*;
    use uuid::Uuid;

    fn id(n: u128) -> MemberId {
        MemberId(Uuid::from_u128(n))
    }

    fn player(n: u128, substitute_for: Option<u128>, absent: bool) -> LinedUp {
        LinedUp { member_id: id(n), substitute_for: substitute_for.map(id), absent }
    }

    fn check(players: &[LinedUp], roster: &[u128], expect: &[(&str, Rule)]) {
        let line_up = LineUp { players: players.to_vec(), order: PlayingOrder::default() };
        let mut found = line_up.broken();
        found.extend(beside_roster(&line_up, &roster.iter().copied().map(id).collect::<Vec<_>>()));
        let found: Vec<_> = found.iter().map(|fault| (fault.pointer.as_str(), fault.rule)).collect();
        assert_eq!(found, expect);
    }

    #[test]
    fn members_play_for_themselves_and_others_in_the_place_of_one_who_does_not_play() {
        check(&[player(1, None, false), player(9, Some(2), false), player(3, None, true)], &[1, 2, 3], &[]);
        check(&[player(9, None, false)], &[1], &[("/players/0/member_id", Rule::NotInTeam)]);
        check(&[player(9, Some(8), false)], &[1], &[("/players/0/substitute_for", Rule::NotInTeam)]);
        check(&[player(1, Some(2), false)], &[1, 2], &[("/players/0/substitute_for", Rule::Substitute)]);
        check(&[player(1, None, false), player(1, None, false)], &[1], &[("/players/1/member_id", Rule::RepeatedId)]);
        let one_place = [player(8, Some(1), false), player(9, Some(1), false)];
        check(&one_place, &[1], &[("/players/1/substitute_for", Rule::Substitute)]);
        let plays_too = [player(8, Some(1), false), player(1, None, false)];
        check(&plays_too, &[1], &[("/players/0/substitute_for", Rule::Substitute)]);
        check(&[player(8, Some(1), true)], &[1], &[("/players/0/absent", Rule::Substitute)]);
    }
}
