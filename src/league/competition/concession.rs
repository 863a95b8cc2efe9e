//! What one side of a match gives to the other.

use super::stored::{By, New, create, remove};
use crate::change;
use crate::domain::facts::{Conceded, SideWord};
use crate::domain::ids::{FixtureId, MemberId};
use crate::domain::rule::Rule;
use crate::league::access::{self, IfMatch};
use crate::league::keys::{RequestKey, created};
use crate::league::member::notices::{self, About, Tells};
use crate::league::refusal::final_event;
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::idempotency::Reply;
use crate::storage::season_facts::Kind;
use crate::wire::body::matches::MOST_SAID;
use serde::Serialize;
use uuid::Uuid;

#[derive(Clone, Debug, Serialize)]
pub struct ConcessionView {
    pub id: Uuid,
    #[serde(flatten)]
    pub conceded: Conceded,
}

impl Leagues {
    /// Concedes a hole or a match of a fixture.
    ///
    /// # Errors
    /// Anybody but the conceding side's players in that match, scorers and organizers; a final event; a match or a hole
    /// that is not played, or that was conceded before.
    pub async fn concede(&self, key: RequestKey, conceded: Conceded) -> Result<Reply, Refusal> {
        let this = self.clone();
        let id = conceded.fixture_id;
        let (shown, _) = self.fixture(key.caller, id).await?;
        let event = shown.event_id;
        let reply = change!(self, id, |conn| {
            let (fact, member) = access::season_fact(conn, key.caller, Kind::Fixture, id.0).await?;
            let number = usize::from(conceded.match_number);
            let of_match = shown.matches.get(number.wrapping_sub(1));
            let own = of_match.map(|of| if conceded.by == SideWord::A { &of.a } else { &of.b });
            let is_own = own.is_some_and(|players| players.iter().any(|player| player.member_id == Some(member.id)));
            if !is_own && !member.member.role.keeps_scores() {
                return Err(Refusal::Forbidden("only players of the conceding side, scorers and organizers concede"));
            }
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let book = this.books.of(conn, fact.league).await?;
            let night = book.book.nights.get(&event).ok_or(Refusal::NotFound)?;
            if night.event.is_final() {
                return Err(final_event());
            }
            let Some(of_match) = of_match else {
                let detail = format!("this fixture has {} matches that are played", shown.matches.len());
                return Err(Refusal::fault("/match", Rule::Fixture, detail));
            };
            if let Some(hole) = conceded.hole
                && !of_match.holes.iter().any(|played| played.number == hole.get())
            {
                let detail = format!("hole {} is not played", hole.get());
                return Err(Refusal::fault("/hole", Rule::HoleNotOnCard, detail));
            }
            let before: Vec<&Conceded> =
                book.book.concessions.values().filter(|other| other.fixture_id == id).collect();
            let same = |other: &&Conceded| (other.match_number, other.hole) == (conceded.match_number, conceded.hole);
            if before.iter().any(same) {
                return Err(Refusal::fault("/hole", Rule::RepeatedId, "this was conceded before"));
            }
            if before.len() >= MOST_SAID {
                return Err(Refusal::conflict(Rule::TooMany, format!("a fixture has at most {MOST_SAID} concessions")));
            }
            let by = By { caller: key.caller, member: member.id, now: key.now };
            let new = New {
                id: Uuid::now_v7(),
                season: fact.season,
                kind: Kind::Concession,
                of: id.0,
                event: None,
                body: &conceded,
            };
            let made = create(conn, by, &book, new).await?;
            let to: Vec<MemberId> =
                of_match.a.iter().chain(&of_match.b).filter_map(|player| player.member_id).collect();
            notices::tell(conn, About::event(book.league, event), Tells::Concession, &to, by.member, by.now).await?;
            let view = ConcessionView { id: made, conceded };
            key.keep(conn, created(format!("/api/v1/fixtures/{id}/concessions"), 1, &view)).await
        })?;
        self.boards.moved(event);
        Ok(reply)
    }

    /// Removes a concession that was entered by mistake.
    ///
    /// # Errors
    /// Anybody but scorers and organizers; a final event.
    pub async fn remove_concession(&self, caller: Caller, id: Uuid, if_match: IfMatch) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        let event = change!(self, id, |conn| {
            let (before, member) = access::season_fact(conn, caller, Kind::Concession, id).await?;
            if !member.member.role.keeps_scores() {
                return Err(Refusal::Forbidden(
                    "a concession is not withdrawn: scorers and organizers correct mistakes",
                ));
            }
            if_match.check(before.version)?;
            let book = this.books.of(conn, before.league).await?;
            let (_, fixture) = book.book.fixtures.get(&FixtureId(before.of)).ok_or(Refusal::NotFound)?;
            if book.book.nights.get(&fixture.event_id).is_some_and(|night| night.event.is_final()) {
                return Err(final_event());
            }
            remove(conn, By { caller, member: member.id, now }, &book, &before).await?;
            Ok::<_, Refusal>(fixture.event_id)
        })?;
        self.boards.moved(event);
        Ok(())
    }

    /// Reads what was conceded in a fixture.
    ///
    /// # Errors
    /// A fixture that is not there or not the caller's to see.
    pub async fn concessions(&self, caller: Caller, id: FixtureId) -> Result<Vec<ConcessionView>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (fact, _) = access::season_fact(&mut conn, caller, Kind::Fixture, id.0).await?;
        let book = self.books.of(&mut conn, fact.league).await?;
        let all = book.book.concessions.iter().filter(|(_, conceded)| conceded.fixture_id == id);
        Ok(all.map(|(id, conceded)| ConcessionView { id: *id, conceded: *conceded }).collect())
    }
}
