//! The names of a league's members.

use super::words;
use crate::domain::ids::{LeagueId, MemberId};
use crate::http::app::App;
use crate::league::{Caller, Refusal};
use std::collections::HashMap;
use uuid::Uuid;

/// The names of a league's members.
#[derive(Default)]
pub struct Names(HashMap<MemberId, String>);

impl Names {
    /// Reads the names.
    ///
    /// # Errors
    /// A league that the caller is not in.
    pub async fn of(app: &App, caller: Caller, league: LeagueId) -> Result<Self, Refusal> {
        let members = app.leagues.members_of(caller, league, Uuid::nil(), i64::MAX).await?;
        Ok(Self(members.into_iter().map(|member| (member.id, member.member.display_name)).collect()))
    }

    /// Returns the name of a member, if it is known.
    pub fn known(&self, id: &MemberId) -> Option<&str> {
        self.0.get(id).map(String::as_str)
    }

    /// Returns the name of a member, or what stands for a missing one.
    pub fn name(&self, id: &MemberId) -> &str {
        self.known(id).unwrap_or(words::MISSING)
    }

    /// Returns the name of whoever did something.
    pub fn get(&self, id: &Option<MemberId>) -> &str {
        id.as_ref().map_or(words::MISSING, |id| self.name(id))
    }
}
