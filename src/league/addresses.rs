//! Secret addresses: made, listed, revoked, and looked at by whoever knows one.

use crate::accounts::secret_address;
use crate::change;
use crate::domain::facts::{Leads, Names, Role};
use crate::domain::ids::{LeagueId, MemberId};
use crate::domain::rule::Rule;
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::journal::{self, Act};
use crate::storage::members;
use crate::storage::row_hashes::wrote;
use crate::storage::secret_addresses::{self, SecretAddress};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// How many addresses a league has at once: for its public pages, and of calendars for each member.
const MOST_PUBLIC: usize = 20;
const MOST_CALENDARS: usize = 5;

/// An address as those see it who may revoke it.
#[derive(Debug, Serialize)]
pub struct AddressView {
    pub id: Uuid,
    pub kind: &'static str,
    /// How the pages name players; none for a calendar.
    pub names: Option<Names>,
    pub member_id: MemberId,
    pub created_at: Timestamp,
}

impl From<&SecretAddress> for AddressView {
    fn from(stored: &SecretAddress) -> Self {
        let SecretAddress { id, leads, member, created_at, .. } = stored;
        Self { id: *id, kind: leads.word(), names: leads.names(), member_id: *member, created_at: *created_at }
    }
}

/// An address as it is made: where it leads is told once, and only a hash of its code is kept.
#[derive(Debug, Serialize)]
pub struct NewAddressView {
    pub path: String,
    #[serde(flatten)]
    pub address: AddressView,
}

fn made(code: &str, stored: &SecretAddress) -> NewAddressView {
    let path = match stored.leads {
        Leads::ToPublicPages(_) => format!("/s/{code}"),
        Leads::ToCalendar => format!("/s/{code}/calendar.ics"),
    };
    NewAddressView { path, address: stored.into() }
}

/// Makes an address with a code; one that was made with it already is answered again.
///
/// # Errors
/// [`Refusal::Forbidden`] for public pages, where the caller is no organizer; a code whose address was revoked;
/// [`Rule::TooMany`].
pub async fn make(
    leagues: &Leagues,
    caller: Caller,
    league: LeagueId,
    leads: Leads,
    code: String,
) -> Result<NewAddressView, Refusal> {
    let now = leagues.now();
    change!(leagues, league, |conn| {
        let member = match leads {
            Leads::ToPublicPages(_) => access::organizer(conn, caller, league).await?,
            Leads::ToCalendar => access::member(conn, caller, league).await?,
        };
        let hash = secret_address::hash(&code);
        match secret_addresses::get(conn, hash).await? {
            Some(known) if known.is_revoked => {
                let detail = "this address was revoked: create another";
                return Err(Refusal::conflict(Rule::InvalidTransition, detail));
            }
            Some(known) => return Ok(made(&code, &known)),
            None => {}
        }
        let others = secret_addresses::list(conn, league, Uuid::nil(), i64::MAX).await?;
        let alike = |other: &&SecretAddress| match leads {
            Leads::ToPublicPages(_) => other.leads != Leads::ToCalendar,
            Leads::ToCalendar => other.leads == leads && other.member == member.id,
        };
        let (most, what) = match leads {
            Leads::ToPublicPages(_) => (MOST_PUBLIC, "public addresses of a league"),
            Leads::ToCalendar => (MOST_CALENDARS, "calendar addresses of a member"),
        };
        if others.iter().filter(alike).count() >= most {
            return Err(Refusal::conflict(Rule::TooMany, format!("there are at most {most} {what}; revoke one")));
        }
        let (id, is_revoked) = (Uuid::now_v7(), false);
        let address = SecretAddress { id, league, leads, member: member.id, created_at: now, is_revoked };
        secret_addresses::insert(conn, hash, &address).await?;
        let (by, content) = (Some(caller.account), leads.word().as_bytes());
        let rows = [wrote("secret_addresses", id)];
        let act = Act { by, act: "share", kind: "league", id: league.0, content, rows: &rows };
        journal::append(conn, league, act, now).await?;
        Ok(made(&code, &address))
    })
}

/// Lists the addresses that the caller may revoke: one's own calendars, and for organizers every address of the league.
///
/// # Errors
/// A league that the caller is not in.
pub async fn list(
    leagues: &Leagues,
    caller: Caller,
    league: LeagueId,
    after: Uuid,
    limit: i64,
) -> Result<Vec<AddressView>, Refusal> {
    let mut conn = leagues.database.reader().await?;
    conn.begin_read().await?;
    let member = access::member(&mut conn, caller, league).await?;
    let found = secret_addresses::list(&mut conn, league, after, i64::MAX).await?;
    let is_organizer = member.member.role == Role::Organizer;
    let may = found.iter().filter(|address| is_organizer || address.member == member.id);
    let limit = usize::try_from(limit).unwrap_or_default();
    Ok(may.take(limit).map(AddressView::from).collect())
}

/// Revokes an address: it is answered as an unknown one from then on.
///
/// # Errors
/// [`Refusal::NotFound`] where it was revoked or the caller is not in its league, [`Refusal::Forbidden`] for an address
/// that the caller neither made nor organizes.
pub async fn revoke(leagues: &Leagues, caller: Caller, id: Uuid) -> Result<(), Refusal> {
    let now = leagues.now();
    change!(leagues, id, |conn| {
        let known = secret_addresses::by_id(conn, id).await?.ok_or(Refusal::NotFound)?;
        let member = access::member(conn, caller, known.league).await?;
        let is_own = known.leads == Leads::ToCalendar && known.member == member.id;
        if !is_own && member.member.role != Role::Organizer {
            return Err(Refusal::Forbidden("only an organizer of the league, or whoever made it, may do this"));
        }
        if !secret_addresses::revoke(conn, id, now).await? {
            return Err(Refusal::NotFound);
        }
        let (by, content) = (Some(caller.account), known.leads.word().as_bytes());
        let act = Act { by, act: "revoke", kind: "league", id: known.league.0, content, rows: &[] };
        Ok(journal::append(conn, known.league, act, now).await?)
    })
}

/// What somebody looks at who knows an address.
pub struct Look {
    pub league: LeagueId,
    pub leads: Leads,
    /// The member whose rights are looked with: for a calendar whoever made it, for public pages an organizer. What is
    /// shown is what any member sees.
    pub caller: Caller,
    pub member: MemberId,
}

/// Opens an address by its code.
///
/// # Errors
/// [`Refusal::NotFound`] for a code that is unknown, revoked or of somebody who left.
pub async fn look(leagues: &Leagues, code: &str) -> Result<Look, Refusal> {
    if !secret_address::is_well_formed(code) {
        return Err(Refusal::NotFound);
    }
    let mut conn = leagues.database.reader().await?;
    conn.begin_read().await?;
    let known = secret_addresses::get(&mut conn, secret_address::hash(code)).await?;
    let known = known.filter(|known| !known.is_revoked).ok_or(Refusal::NotFound)?;
    let candidates = match known.leads {
        Leads::ToPublicPages(_) => members::organizers(&mut conn, known.league).await?,
        Leads::ToCalendar => vec![known.member],
    };
    for member in candidates {
        let record = members::get(&mut conn, member).await?.ok_or(Refusal::NotFound)?;
        if let Some(account) = record.account {
            let caller = Caller { account, session: known.id, browser_since: None };
            return Ok(Look { league: known.league, leads: known.leads, caller, member });
        }
    }
    Err(Refusal::NotFound)
}
