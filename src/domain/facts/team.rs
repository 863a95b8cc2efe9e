//! A team of a season: its players by date, and its withdrawal.

use super::fault::{Fault, Rules};
use crate::ids::MemberId;
use crate::rule::Rule;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// The most members that a team may list, former ones included.
pub const MAX_MEMBERS: usize = 100;

/// A team of a season.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Team {
    /// What people call it.
    pub name: String,
    /// Who speaks for it.
    #[serde(default)]
    pub captain: Option<MemberId>,
    /// Its members, first the one who plays first where nothing else is said.
    #[serde(default)]
    pub members: Vec<TeamMember>,
    #[serde(default)]
    pub withdrawn: Option<Withdrawal>,
}

/// A member of a team, from one day until another, both included.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TeamMember {
    pub member_id: MemberId,
    /// The first day; `None`: from the start.
    #[serde(default)]
    pub from: Option<Date>,
    /// The last day; `None`: until the end.
    #[serde(default)]
    pub until: Option<Date>,
}

/// A team that plays no more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Withdrawal {
    /// The first day on which it does not play.
    pub from: Date,
    /// What becomes of its fixtures.
    pub results: WithdrawnResults,
}

/// What becomes of the fixtures of a team that has withdrawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum WithdrawnResults {
    /// No table counts any of them.
    Void,
    /// Those before stand; later ones are walk-overs.
    Stand,
}

impl TeamMember {
    /// Returns whether the member belongs to the team on a day.
    pub fn on(&self, day: Date) -> bool {
        self.from.is_none_or(|from| from <= day) && self.until.is_none_or(|until| day <= until)
    }

    /// Returns whether there is a day on which both hold.
    pub fn overlaps(&self, other: &Self) -> bool {
        let starts_in_time = |a: &Self, b: &Self| match (a.from, b.until) {
            (Some(from), Some(until)) => from <= until,
            _ => true,
        };
        starts_in_time(self, other) && starts_in_time(other, self)
    }
}

impl Team {
    /// Returns its members of a day, in their order.
    pub fn roster(&self, day: Date) -> Vec<MemberId> {
        self.members.iter().filter(|member| member.on(day)).map(|member| member.member_id).collect()
    }
}

impl Rules for Team {
    fn broken(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        for (m, member) in self.members.iter().enumerate() {
            if member.from.zip(member.until).is_some_and(|(from, until)| until < from) {
                let detail = "a member leaves on or after the day of joining";
                faults.push(Fault::new(format!("/members/{m}/until"), Rule::DateOrder, detail));
            }
            let again = |other: &TeamMember| other.member_id == member.member_id && other.overlaps(member);
            if self.members[..m].iter().any(again) {
                let detail = "this member belongs to the team on the same days already";
                faults.push(Fault::new(format!("/members/{m}"), Rule::RepeatedId, detail));
            }
        }
        if let Some(captain) = self.captain
            && !self.members.iter().any(|member| member.member_id == captain)
        {
            faults.push(Fault::new("/captain", Rule::NotInTeam, "the captain is one of the members"));
        }
        faults
    }
}

/// Finds the members of a team who belong to another one on the same day: of the other teams, each with its name.
pub fn in_two_teams<'a>(team: &Team, others: impl IntoIterator<Item = &'a Team>) -> Vec<Fault> {
    let mut faults = Vec::new();
    for other in others {
        for (m, member) in team.members.iter().enumerate() {
            let same = |theirs: &TeamMember| theirs.member_id == member.member_id && theirs.overlaps(member);
            if other.members.iter().any(same) {
                let detail = format!("this member belongs to {} on the same days: one team a day", other.name);
                faults.push(Fault::new(format!("/members/{m}"), Rule::SecondTeam, detail));
            }
        }
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use uuid::Uuid;

    fn member(n: u128, from: Option<i8>, until: Option<i8>) -> TeamMember {
        let day = |d: i8| date(2027, 3, d);
        TeamMember { member_id: MemberId(Uuid::from_u128(n)), from: from.map(day), until: until.map(day) }
    }

    fn team(members: &[TeamMember]) -> Team {
        Team { name: "Herons".into(), captain: None, members: members.to_vec(), withdrawn: None }
    }

    fn places(faults: &[Fault]) -> Vec<(&str, Rule)> {
        faults.iter().map(|fault| (fault.pointer.as_str(), fault.rule)).collect()
    }

    #[test]
    fn both_dates_of_a_member_are_included() {
        let herons = team(&[member(1, None, Some(9)), member(2, Some(10), None)]);
        let roster = |day| herons.roster(date(2027, 3, day)).iter().map(|id| id.0.as_u128()).collect::<Vec<_>>();
        assert_eq!([9, 10].map(roster), [[1], [2]]);
    }

    #[test]
    fn nobody_is_in_a_team_twice_on_a_day_or_in_two_teams() {
        let again = team(&[member(1, None, Some(9)), member(1, Some(10), None), member(1, Some(9), Some(9))]);
        assert_eq!(places(&again.broken()), [("/members/2", Rule::RepeatedId)]);
        let backwards = team(&[member(1, Some(9), Some(8))]);
        assert_eq!(places(&backwards.broken()), [("/members/0/until", Rule::DateOrder)]);
        let stranger = Team { captain: Some(MemberId(Uuid::from_u128(7))), ..team(&[member(1, None, None)]) };
        assert_eq!(places(&stranger.broken()), [("/captain", Rule::NotInTeam)]);
        let (before, after) =
            (team(&[member(1, None, Some(9))]), team(&[member(2, None, None), member(1, Some(10), None)]));
        assert_eq!(in_two_teams(&before, [&after]), []);
        let same_day = team(&[member(1, Some(9), None)]);
        assert_eq!(places(&in_two_teams(&same_day, [&after, &before])), [("/members/0", Rule::SecondTeam); 2]);
    }
}
