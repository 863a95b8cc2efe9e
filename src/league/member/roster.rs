//! Rosters: many members at once, all of them or none.

use crate::change;
use crate::domain::facts::{Fault, Member};
use crate::domain::ids::LeagueId;
use crate::domain::rule::Rule;
use crate::league::keys::{RequestKey, created};
use crate::league::member::change::{add, folded};
use crate::league::memory::books;
use crate::league::views::MemberView;
use crate::league::{Leagues, Refusal, access, sound};
use crate::storage::idempotency::Reply;
use crate::storage::{Conn, members};
use serde::Serialize;
use std::collections::HashMap;
use uuid::Uuid;

/// A line of a roster.
#[derive(Clone, Debug)]
pub struct RosterLine {
    /// Its number in the file, from 1.
    pub line: u64,
    /// The member.
    pub member: Member,
}

/// The members that a roster added.
#[derive(Debug, Serialize)]
pub struct RosterView {
    /// The members, in order of lines; without ids where nothing was done.
    pub items: Vec<MemberView>,
    /// There is one page.
    pub next: Option<String>,
}

impl Leagues {
    /// Adds the members of a roster, all or none.
    ///
    /// # Errors
    /// Anybody but an organizer; names that are given twice or taken.
    pub async fn add_roster(
        &self,
        key: RequestKey,
        league: LeagueId,
        lines: Vec<RosterLine>,
    ) -> Result<Reply, Refusal> {
        change!(self, league, |conn| {
            access::organizer(conn, key.caller, league).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            sound(name_faults(conn, league, &lines).await?)?;
            let mut items = Vec::with_capacity(lines.len());
            for RosterLine { member, .. } in lines {
                let stored = add(conn, &key, league, member).await?;
                items.push(MemberView::from(&stored));
            }
            books::mark(conn, league).await?;
            let view = RosterView { items, next: None };
            key.keep(conn, created(format!("/api/v1/leagues/{league}/members"), 1, &view)).await
        })
    }

    /// Says what a roster would add, and adds nothing.
    ///
    /// # Errors
    /// As [`add_roster`](Self::add_roster).
    pub async fn preview_roster(
        &self,
        key: RequestKey,
        league: LeagueId,
        lines: Vec<RosterLine>,
    ) -> Result<Vec<Member>, Refusal> {
        let mut conn = self.database.reader().await?;
        access::organizer(&mut conn, key.caller, league).await?;
        sound(name_faults(&mut conn, league, &lines).await?)?;
        Ok(lines.into_iter().map(|line| line.member).collect())
    }
}

/// A roster sent twice, or a second player of a name: somebody is to look.
async fn name_faults(conn: &mut Conn, league: LeagueId, lines: &[RosterLine]) -> Result<Vec<Fault>, Refusal> {
    let known = members::list(conn, league, Uuid::nil(), i64::MAX).await?;
    let mut taken: HashMap<String, Option<u64>> =
        known.iter().map(|member| (folded(&member.member.display_name), None)).collect();
    let mut faults = Vec::new();
    for RosterLine { line, member } in lines {
        let pointer = format!("/{line}/display_name");
        match taken.insert(folded(&member.display_name), Some(*line)) {
            None => {}
            Some(None) => {
                let detail = format!("line {line}: the league already has a player called {}", member.display_name);
                faults.push(Fault::new(pointer, Rule::NameTaken, detail));
            }
            Some(Some(earlier)) => {
                let detail = format!("line {line}: line {earlier} has the name {} too", member.display_name);
                faults.push(Fault::new(pointer, Rule::NameTaken, detail));
            }
        }
    }
    Ok(faults)
}
