//! The lines of teams, matches and side contests in a bundle.

use super::assemble::{Assembler, insert_new, none, repeated, unknown};
use super::line::Line;
use crate::domain::competition::waiting::waits_for_itself;
use crate::domain::facts::{Competitor, Contender, Fault, Fixture, Rules};
use crate::domain::ids::{CompetitionId, FixtureId, TeamId};
use crate::domain::rule::Rule;

impl Assembler {
    pub(super) fn of_matches(&mut self, line: Line) -> Result<(), Vec<Fault>> {
        match line {
            Line::Team(line) => {
                let season = line.ids.season_id;
                if !self.book.seasons.contains_key(&season) {
                    return Err(unknown("season_id", season));
                }
                for member in &line.body.members {
                    self.member("members", member.member_id)?;
                }
                none(line.body.broken())?;
                insert_new(self.book.teams.entry(line.ids.id), line.ids.id, (season, line.body))
            }
            Line::LineUp(line) => {
                let (event, team) = (line.ids.event_id, line.ids.team_id);
                if !self.book.nights.contains_key(&event) {
                    return Err(unknown("event_id", event));
                }
                self.team("team_id", team)?;
                for player in &line.body.players {
                    self.member("players", player.member_id)?;
                }
                none(line.body.broken())?;
                match self.book.line_ups.insert((event, team), line.body) {
                    None => Ok(()),
                    Some(_) => Err(repeated(line.ids.id)),
                }
            }
            Line::Fixture(line) => {
                let competition = line.ids.competition_id;
                let Some((season, terms)) = self.book.competitions.get(&competition) else {
                    return Err(unknown("competition_id", competition));
                };
                if terms.ranks_cards() {
                    let detail = "fixtures are those of a competition of matches";
                    return Err(vec![Fault::new("/competition_id", Rule::Fixture, detail)]);
                }
                let event = line.body.event_id;
                if self.book.nights.get(&event).is_none_or(|night| night.season != *season) {
                    return Err(unknown("event_id", event));
                }
                for side in line.body.sides().into_iter().flatten().filter_map(Contender::named) {
                    self.competitor(side)?;
                }
                none(line.body.broken())?;
                insert_new(self.book.fixtures.entry(line.ids.id), line.ids.id, (competition, line.body))
            }
            Line::Adjustment(line) => {
                let competition = line.ids.competition_id;
                if !self.book.competitions.contains_key(&competition) {
                    return Err(unknown("competition_id", competition));
                }
                self.competitor(line.body.competitor)?;
                none(line.body.broken())?;
                insert_new(self.book.adjustments.entry(line.ids.id), line.ids.id, (competition, line.body))
            }
            Line::Concession(line) => {
                if !self.book.fixtures.contains_key(&line.body.fixture_id) {
                    return Err(unknown("fixture_id", line.body.fixture_id));
                }
                insert_new(self.book.concessions.entry(line.ids.id), line.ids.id, line.body)
            }
            Line::SideContest(line) => {
                let event = line.ids.event_id;
                if !self.book.nights.contains_key(&event) {
                    return Err(unknown("event_id", event));
                }
                for noted in &line.body.entries {
                    self.member("entries", noted.member_id)?;
                }
                none(line.body.broken())?;
                insert_new(self.book.contests.entry(line.ids.id), line.ids.id, (event, line.body))
            }
            _ => Ok(()),
        }
    }

    /// Finds a fixture that waits for one that its competition does not have, or for itself. Those that decide others may stand
    /// after them, so only the whole bundle shows it.
    pub(super) fn waiting_in_vain(&self) -> Option<Fault> {
        let of = |competition, id| self.book.fixtures.get(&id).filter(|(of, _)| *of == competition);
        let is_broken = |(id, (competition, fixture)): &(&FixtureId, &(CompetitionId, Fixture))| {
            fixture.waits_for().any(|decides| of(*competition, decides).is_none())
                || waits_for_itself(**id, fixture, |id| of(*competition, id).map(|(_, fixture)| fixture))
        };
        let mut waiting = self.book.fixtures.iter().filter(|(_, (_, fixture))| fixture.waits_for().next().is_some());
        let (id, _) = waiting.find(is_broken)?;
        let detail = format!("the fixture {id} waits for one that its competition does not have, or for itself");
        Some(Fault::new("/a", Rule::Fixture, detail))
    }

    fn team(&self, field: &str, team: TeamId) -> Result<(), Vec<Fault>> {
        if self.book.teams.contains_key(&team) { Ok(()) } else { Err(unknown(field, team)) }
    }

    pub(super) fn competitor(&self, competitor: Competitor) -> Result<(), Vec<Fault>> {
        match competitor {
            Competitor::Member { member_id } => self.member("member_id", member_id),
            Competitor::Team { team_id } => self.team("team_id", team_id),
        }
    }
}
