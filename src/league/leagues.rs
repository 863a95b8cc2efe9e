//! Leagues.

use super::access::{self, IfMatch};
use super::keys::{RequestKey, created};
use super::views::LeagueView;
use super::{Caller, Leagues, Refusal, sound};
use crate::change;
use crate::domain::facts::{Fault, League, Member, Role, fit};
use crate::domain::ids::{LeagueId, MemberId};
use crate::domain::rule::Rule;
use crate::domain::season::Night;
use crate::league::memory::books::{self, LeagueBook};
use crate::league::season::changes::Cause;
use crate::storage::documents::{self, Kept};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::leagues::StoredLeague;
use crate::storage::members::{self, StoredMember};
use crate::storage::row_hashes::{wrote, wrote_version};
use crate::storage::{Scope, StorageError, accounts, leagues};
use uuid::Uuid;

/// Finds the events whose days another time zone would put outside their season.
fn outside_seasons(book: &LeagueBook) -> Vec<Fault> {
    let fault = |night: &Night| {
        let season = book.book.seasons.get(&night.season)?;
        let fault = fit::day_faults(&night.event, season, |at| book.day(at)).into_iter().next()?;
        Some(Fault::new("/time_zone", Rule::OutsideSeason, format!("{}: {}", night.event.name, fault.detail)))
    };
    book.book.nights.values().filter_map(fault).collect()
}

impl Leagues {
    /// Founds a league; the caller is its organizer.
    ///
    /// # Errors
    /// A failed database.
    pub async fn create_league(&self, key: RequestKey, league: League) -> Result<Reply, Refusal> {
        change!(self, Scope::Account(key.caller.account), |conn| {
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let account = accounts::get(conn, key.caller.account).await?.ok_or(Refusal::NotFound)?;
            let (id, member_id) = (LeagueId(Uuid::now_v7()), MemberId(Uuid::now_v7()));
            leagues::insert(conn, id, &league, 1, books::new_mark(), key.now, 1).await?;
            let organizer = StoredMember {
                id: member_id,
                league: id,
                account: Some(account.id),
                member: Member {
                    display_name: account.display_name,
                    role: Role::Organizer,
                    flight: None,
                    starting_handicap: None,
                    guest: false,
                    earlier_starts: Vec::new(),
                },
                is_erased: false,
                version: 1,
                seq: leagues::next_seq(conn, id).await?,
                received_at: key.now,
            };
            members::insert(conn, &organizer).await?;
            let body = serde_json::to_string(&league).expect("a league is plain values with text keys");
            let (by, rows) = (Some(account.id), [wrote("leagues", id), wrote("members", member_id)]);
            let act = Act { by, act: "create", kind: "league", id: id.0, content: body.as_bytes(), rows: &rows };
            journal::append(conn, id, act, key.now).await?;
            let view = LeagueView { id, league, role: Role::Organizer, member_id };
            key.keep(conn, created(format!("/api/v1/leagues/{id}"), 1, &view)).await
        })
    }

    /// Changes a league's name or time zone.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; whatever `patched` finds wrong.
    pub async fn change_league(
        &self,
        caller: Caller,
        id: LeagueId,
        if_match: IfMatch,
        patched: impl FnOnce(&str) -> Result<League, Refusal> + Clone + Send + 'static,
    ) -> Result<(LeagueView, i64), Refusal> {
        let this = self.clone();
        let now = self.now();
        change!(self, id, |conn| {
            let member = access::organizer(conn, caller, id).await?;
            let before = leagues::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            if_match.check(before.version)?;
            let tables = this.tables(conn, id).await?;
            let old = serde_json::to_string(&before.league).expect("a league is plain values with text keys");
            let league = patched(&old)?;
            let kept = Kept {
                version: before.version,
                seq: before.created_seq,
                received_at: before.received_at,
                by: Some(member.id.0),
                reason: None,
                body: &old,
            };
            documents::keep_version(conn, "league", id, id.0, kept).await?;
            leagues::update(conn, id, &league).await?;
            let body = serde_json::to_string(&league).expect("a league is plain values with text keys");
            let rows = [wrote("leagues", id), wrote_version("league", id.0, before.version)];
            let (by, content) = (Some(caller.account), body.as_bytes());
            let act = Act { by, act: "replace", kind: "league", id: id.0, content, rows: &rows };
            journal::append(conn, id, act, now).await?;
            let cause = Cause { by: member.id, act: "replace", kind: "league", thing: id.0, reason: None };
            let book = this.terms_changed(conn, id, &tables, cause, now).await?;
            sound(outside_seasons(&book))?;
            let stored = leagues::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            Ok((LeagueView::of(&stored, member.member.role, member.id), stored.version))
        })
    }

    /// Reads a league.
    ///
    /// # Errors
    /// A league that the caller is not in.
    pub async fn league(&self, caller: Caller, id: LeagueId) -> Result<(LeagueView, i64), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let member = access::member(&mut conn, caller, id).await?;
        let stored = leagues::get(&mut conn, id).await?.ok_or(Refusal::NotFound)?;
        Ok((LeagueView::of(&stored, member.member.role, member.id), stored.version))
    }

    /// Reads the caller's leagues after an id.
    ///
    /// # Errors
    /// A failed database.
    pub async fn leagues_of(&self, caller: Caller, after: Uuid, limit: i64) -> Result<Vec<LeagueView>, Refusal> {
        let mut conn = self.database.reader().await?;
        let leagues = leagues::of_account(&mut conn, caller.account, after, limit).await?;
        Ok(leagues.iter().map(|(league, role, member)| LeagueView::of(league, *role, *member)).collect())
    }

    /// Reads every league, for whoever has the database itself.
    ///
    /// # Errors
    /// A failed database.
    pub async fn every_league(&self) -> Result<Vec<StoredLeague>, StorageError> {
        leagues::all(&mut self.database.reader().await?).await
    }
}
