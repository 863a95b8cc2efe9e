//! Matches of the demo league: teams of two with a substitute, a cup in its semi-finals, side contests of the open night.

use super::demo_acts::{events, made};
use crate::demo::DemoLeague;
use crate::domain::facts::{Competition, Event, Fixture, LineUp, SideContest, SideWord, Team};
use crate::domain::ids::{CompetitionId, EventId, MemberId, TeamId, TeeId};
use crate::domain::rule::Rule;
use crate::domain::units::HoleNumber;
use crate::league::access::IfMatch;
use crate::league::competition::fixture::NewFixtures;
use crate::league::keys::RequestKey;
use crate::league::{Caller, Leagues, Refusal};
use crate::wire::bundle::line::Line;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use uuid::Uuid;

const TEAM_NAMES: [&str; 6] = ["Herons", "Plovers", "Curlews", "Lapwings", "Swifts", "Martins"];
/// How many play for the cup.
const SEEDS: usize = 8;

/// Reads a fact that is written as its body.
fn body<T: DeserializeOwned>(body: Value) -> anyhow::Result<T> {
    Ok(serde_json::from_value(body)?)
}

struct Setting<'a> {
    leagues: &'a Leagues,
    demo: &'a DemoLeague,
    organizer: Caller,
    members: Vec<MemberId>,
    /// In the order of time, the open one last.
    events: Vec<EventId>,
}

impl Setting<'_> {
    fn key(&self) -> RequestKey {
        RequestKey::none(self.organizer, self.leagues.now())
    }

    /// Returns who has a card in an event.
    fn with_card(&self, event: EventId) -> Vec<MemberId> {
        let card = |line: &Line| match line {
            Line::Round(line) if line.ids.event_id == event => Some(line.body.round.member_id),
            _ => None,
        };
        let played: Vec<MemberId> = self.demo.lines.iter().filter_map(card).collect();
        self.members.iter().copied().filter(|member| played.contains(member)).collect()
    }

    async fn competition(&self, terms: Value) -> anyhow::Result<CompetitionId> {
        let terms: Competition = body(terms)?;
        Ok(CompetitionId(made(&self.leagues.create_competition(self.key(), self.demo.season, terms).await?)?))
    }

    /// Teams of two meet once each, the last round on the open night; the next player substitutes in the round before.
    async fn pairs(&self) -> anyhow::Result<()> {
        let count = if self.members.len() > 12 && self.events.len() >= 5 { 6 } else { 4 };
        let mut teams = Vec::new();
        for (name, members) in TEAM_NAMES.into_iter().zip(self.members.chunks_exact(2)).take(count) {
            let listed: Vec<Value> = members.iter().map(|member| json!({ "member_id": member })).collect();
            let team: Team = body(json!({ "name": name, "captain": members[0], "members": listed }))?;
            teams.push(TeamId(made(&self.leagues.create_team(self.key(), self.demo.season, team).await?)?));
        }
        let meeting = json!({ "kind": "match", "matches": 2, "points": { "per_match": 2, "per_total": 1 } });
        let pairs = json!({ "name": "Pairs", "meeting": meeting, "award": { "kind": "by_points" }, "position": 4 });
        let pairs = self.competition(pairs).await?;
        let rounds = &self.events[self.events.len() - (count - 1)..];
        let round_robin = json!({ "round_robin": {
            "events": rounds, "bays": ["1", "2", "3"], "slots": ["19:00", "20:30"],
        } });
        self.leagues.create_fixtures(self.key(), pairs, body(round_robin)?).await?;
        let (event, team) = (rounds[rounds.len() - 2], 1);
        let (first, second) = (self.members[2 * team], self.members[2 * team + 1]);
        let line_up: LineUp = body(json!({ "players": [
            { "member_id": first }, { "member_id": self.members[2 * count], "substitute_for": second },
        ] }))?;
        self.leagues.put_line_up(self.organizer, event, teams[team], IfMatch::Any, line_up).await?;
        Ok(())
    }

    /// Eight play for a cup: quarter-finals on the night before, semi-finals on the open night, the final a week later.
    async fn cup(&self) -> anyhow::Result<()> {
        let (before, open) = (self.events[self.events.len() - 2], self.demo.open_event);
        let seeds: Vec<MemberId> = self.with_card(before).into_iter().take(SEEDS).collect();
        if seeds.len() < SEEDS {
            return Ok(());
        }
        self.leagues.copy_event(self.key(), open, body(json!({ "days": 7 }))?).await?;
        let events = self.leagues.events_of(self.organizer, self.demo.season, Uuid::nil(), i64::MAX).await?;
        let last = events.iter().max_by_key(|event| event.body.opens_at).map(|event| EventId(event.id));
        let meeting = json!({ "kind": "match", "points": { "per_match": 1 } });
        let cup = json!({ "name": "Cup", "meeting": meeting, "award": { "kind": "by_points" }, "position": 5 });
        let cup = self.competition(cup).await?;
        let seeds: Vec<Value> = seeds.iter().map(|member| json!({ "member_id": member })).collect();
        let knock_out: NewFixtures =
            body(json!({ "knock_out": { "seeds": seeds, "events": [before, open, last], "third_place": true } }))?;
        self.leagues.create_fixtures(self.key(), cup, knock_out).await?;
        for shown in self.leagues.fixtures(self.organizer, cup, Uuid::nil(), i64::MAX).await? {
            let is_level = shown.points.as_ref().is_some_and(|points| points.a == points.b);
            if shown.event_id == before && is_level {
                let goes_on = |before: &str| {
                    let fixture: Fixture = serde_json::from_str(before)
                        .map_err(|error| Refusal::fault("", Rule::Validation, error.to_string()))?;
                    let reason = Some("All square: drawn by lot.".to_owned());
                    Ok(Fixture { goes_on: Some(SideWord::A), reason, ..fixture })
                };
                self.leagues.change_fixture(self.organizer, shown.fixture_id, IfMatch::Any, goes_on).await?;
            }
        }
        Ok(())
    }

    /// Returns the first hole of par 3 of a tee, from a hole on.
    fn shortest_hole(&self, tee: TeeId, first: HoleNumber) -> HoleNumber {
        let of_course = |line: &Line| match line {
            Line::Course(line) => line.body.tees.iter().find(|known| known.id == tee).cloned(),
            _ => None,
        };
        let tee = self.demo.lines.iter().find_map(of_course);
        let holes = tee.iter().flat_map(|tee| &tee.holes).filter(|hole| hole.number >= first && hole.par.get() == 3);
        holes.map(|hole| hole.number).min().unwrap_or(first)
    }

    /// Nearest the hole, noted by players, and the longest holed putt, from the cards.
    async fn side_contests(&self) -> anyhow::Result<()> {
        let open = self.demo.open_event;
        let event = self.leagues.document::<Event>(self.organizer, &crate::storage::documents::EVENTS, open.0).await?;
        let hole = self.shortest_hole(event.body.tee_id, event.body.first_hole);
        let noted = self.with_card(open).into_iter().zip([6.5, 11.25, 6.5]);
        let noted: Vec<Value> = noted.map(|(member, feet)| json!({ "member_id": member, "value": feet })).collect();
        let nearest =
            json!({ "name": "Nearest the hole", "hole": hole, "unit": "ft", "better": "lower", "entries": noted });
        let longest = json!({ "name": "Longest holed putt", "from_cards": "longest_holed" });
        for contest in [nearest, longest] {
            let contest: SideContest = body(contest)?;
            self.leagues.create_contest(self.key(), open, contest).await?;
        }
        Ok(())
    }
}

/// Lays down what is played beside the season's tables, where the league is big enough for it.
///
/// # Errors
/// A refusal: the demo league is made so that there is none.
pub async fn lay_down(leagues: &Leagues, demo: &DemoLeague, organizer: Caller) -> anyhow::Result<()> {
    let member = |line: &Line| if let Line::Member(line) = line { Some(line.ids.id) } else { None };
    let setting = Setting {
        leagues,
        demo,
        organizer,
        members: demo.lines.iter().filter_map(member).collect(),
        events: events(demo),
    };
    setting.side_contests().await?;
    if setting.members.len() > 8 && setting.events.len() >= 3 {
        setting.pairs().await?;
        setting.cup().await?;
    }
    Ok(())
}
