//! Who plays for a team in an event.

use super::stored::{By, New, create, remove, replace};
use crate::change;
use crate::domain::competition::matches::nights_as_substitute;
use crate::domain::facts::line_up::{LinedUp, beside_roster};
use crate::domain::facts::{Event, Fault, LineUp, Rules, Team};
use crate::domain::ids::{EventId, LeagueId, MemberId, SeasonId, TeamId};
use crate::domain::rule::Rule;
use crate::domain::season::Night;
use crate::league::access::{self, IfMatch};
use crate::league::member::notices::{self, About, Tells};
use crate::league::memory::books::LeagueBook;
use crate::league::refusal::final_event;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::EVENTS;
use crate::storage::members::StoredMember;
use crate::storage::season_facts::{self, Kind};
use crate::storage::{Conn, StorageError};
use jiff::Timestamp;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// A line-up of a team in an event.
#[derive(Clone, Debug, Serialize)]
pub struct LineUpView {
    pub id: Uuid,
    pub event_id: EventId,
    pub team_id: TeamId,
    #[serde(flatten)]
    pub line_up: LineUp,
}

/// Finds whether a line-up fits itself, its team, the other line-ups of the event and the terms of the competitions.
fn faults(book: &LeagueBook, night: &Night, id: TeamId, team: &Team, line_up: &LineUp) -> Vec<Fault> {
    let mut faults = line_up.broken();
    faults.extend(beside_roster(line_up, &team.roster(night.date)));
    let others = book.book.line_ups.iter().filter(|((event, other), _)| *event == night.id && *other != id);
    let others: Vec<&LineUp> = others.map(|(_, line_up)| line_up).collect();
    for (p, player) in line_up.players.iter().enumerate() {
        let at = format!("/players/{p}/member_id");
        if !book.book.members.contains_key(&player.member_id) {
            faults.push(Fault::new(at, Rule::UnknownMember, "this league has no such member"));
        } else if others.iter().any(|other| other.place_of(player.member_id).is_some()) {
            let detail = "this player stands in another team's line-up: one team a night";
            faults.push(Fault::new(at, Rule::SecondTeam, detail));
        }
    }
    faults.extend(substitute_faults(book, night, id, line_up));
    faults
}

/// Finds the substitutes that the terms of a competition of the team do not allow.
fn substitute_faults(book: &LeagueBook, night: &Night, id: TeamId, line_up: &LineUp) -> Vec<Fault> {
    let mut faults = Vec::new();
    let competitions = book.book.competitions_of(night.season);
    let of_team = competitions
        .iter()
        .filter(|(_, terms)| terms.is_of_teams() && terms.teams.as_ref().is_none_or(|teams| teams.contains(&id)));
    for (_, terms) in of_team {
        for (p, player) in line_up.players.iter().enumerate().filter(|(_, player)| player.substitute_for.is_some()) {
            let at = format!("/players/{p}/substitute_for");
            if !terms.substitutes.allowed {
                let detail = format!("the competition {} allows no substitutes", terms.name);
                faults.push(Fault::new(at, Rule::Substitute, detail));
                continue;
            }
            let nights = nights_as_substitute(&book.book, night.season, player.member_id, night.id);
            if let Some(most) = terms.substitutes.most.filter(|most| nights >= usize::from(*most)) {
                let detail = format!("the competition {} allows {most} nights as a substitute", terms.name);
                faults.push(Fault::new(at, Rule::Substitute, detail));
            }
        }
    }
    faults
}

/// Tells those of whom a line-up says something else than before: that they play, for whom, or no longer.
async fn tell(
    conn: &mut Conn,
    (league, event): (LeagueId, EventId),
    (before, after): (Option<&LineUp>, Option<&LineUp>),
    by: By,
) -> Result<(), StorageError> {
    let named = |line_up: Option<&LineUp>| -> BTreeMap<MemberId, LinedUp> {
        line_up.iter().flat_map(|line_up| &line_up.players).map(|player| (player.member_id, player.clone())).collect()
    };
    let (before, after) = (named(before), named(after));
    let members: BTreeSet<MemberId> = before.keys().chain(after.keys()).copied().collect();
    let to: Vec<MemberId> = members.into_iter().filter(|member| before.get(member) != after.get(member)).collect();
    notices::tell(conn, About::event(league, event), Tells::LineUp, &to, by.member, by.now).await
}

/// Passes whoever may name a line-up now: scorers and organizers until the event is final, the team's players and its
/// captain until it opens.
fn may_name(night: &Night, team: &Team, member: &StoredMember, now: Timestamp) -> Result<(), Refusal> {
    let is_of_team = team.captain == Some(member.id) || team.roster(night.date).contains(&member.id);
    match (member.member.role.keeps_scores(), is_of_team) {
        _ if night.event.is_final() => Err(final_event()),
        (true, _) => Ok(()),
        (false, true) if now < night.event.opens_at => Ok(()),
        (false, true) => Err(Refusal::Forbidden("once the event is open a scorer or an organizer names who plays")),
        (false, false) => Err(Refusal::Forbidden("only the team's players, scorers and organizers name who plays")),
    }
}

impl Leagues {
    /// Names who plays for a team in an event, in the place of whoever was named before.
    ///
    /// # Errors
    /// Anybody but the team's players, scorers and organizers; a final event; a stale version; players who do not fit.
    pub async fn put_line_up(
        &self,
        caller: Caller,
        event: EventId,
        team: TeamId,
        if_match: IfMatch,
        line_up: LineUp,
    ) -> Result<(LineUpView, i64), Refusal> {
        let this = self.clone();
        let now = self.now();
        let put = change!(self, event, |conn| {
            let (document, member) = access::document::<Event>(conn, caller, &EVENTS, event.0).await?;
            let season = SeasonId(document.parent.unwrap_or_default());
            let book = this.books.of(conn, document.league).await?;
            let night = book.book.nights.get(&event).ok_or(Refusal::NotFound)?;
            let (_, found) = book.book.teams.get(&team).filter(|(of, _)| *of == season).ok_or(Refusal::NotFound)?;
            may_name(night, found, &member, now)?;
            let before = season_facts::line_up(conn, document.league, team, event).await?;
            if_match.check(before.as_ref().map_or(0, |before| before.version))?;
            sound(faults(&book, night, team, found, &line_up))?;
            let by = By { caller, member: member.id, now };
            let old = before.as_ref().map(|before| before.body::<LineUp>()).transpose()?;
            tell(conn, (book.league, event), (old.as_ref(), Some(&line_up)), by).await?;
            let (id, version) = match before {
                Some(before) => (before.id, replace(conn, by, &book, &before, &line_up).await?),
                None => {
                    let new = New {
                        id: Uuid::now_v7(),
                        season,
                        kind: Kind::LineUp,
                        of: team.0,
                        event: Some(event),
                        body: &line_up,
                    };
                    (create(conn, by, &book, new).await?, 1)
                }
            };
            Ok::<_, Refusal>((LineUpView { id, event_id: event, team_id: team, line_up }, version))
        })?;
        self.boards.moved(event);
        Ok(put)
    }

    /// Takes a line-up back: whoever has a card plays.
    ///
    /// # Errors
    /// As for naming one; none that is there.
    pub async fn remove_line_up(
        &self,
        caller: Caller,
        event: EventId,
        team: TeamId,
        if_match: IfMatch,
    ) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        change!(self, event, |conn| {
            let (document, member) = access::document::<Event>(conn, caller, &EVENTS, event.0).await?;
            let book = this.books.of(conn, document.league).await?;
            let night = book.book.nights.get(&event).ok_or(Refusal::NotFound)?;
            let (_, found) = book.book.teams.get(&team).ok_or(Refusal::NotFound)?;
            may_name(night, found, &member, now)?;
            let before = season_facts::line_up(conn, document.league, team, event).await?.ok_or(Refusal::NotFound)?;
            if_match.check(before.version)?;
            let by = By { caller, member: member.id, now };
            tell(conn, (book.league, event), (Some(&before.body()?), None), by).await?;
            remove(conn, by, &book, &before).await
        })?;
        self.boards.moved(event);
        Ok(())
    }

    /// Reads the line-up of a team in an event.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see; a team without a line-up in it.
    pub async fn line_up(&self, caller: Caller, event: EventId, team: TeamId) -> Result<(LineUpView, i64), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (document, _) = access::document::<Event>(&mut conn, caller, &EVENTS, event.0).await?;
        let found = season_facts::line_up(&mut conn, document.league, team, event).await?.ok_or(Refusal::NotFound)?;
        let view = LineUpView { id: found.id, event_id: event, team_id: team, line_up: found.body()? };
        Ok((view, found.version))
    }
}
