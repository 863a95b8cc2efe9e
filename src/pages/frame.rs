//! What every page shows around its own part.

use crate::domain::facts::Role;
use crate::domain::ids::{AccountId, LeagueId, MemberId};
use crate::http::app::App;
use crate::league::views::LeagueView;
use crate::league::{Caller, Refusal};
use actix_web::{HttpMessage, HttpRequest};
use jiff::tz::TimeZone;
use uuid::Uuid;

/// How many notices are shown, newest first.
pub const MOST_NOTICES: i64 = 100;

/// What every page shows around its own part.
#[derive(Default)]
pub struct Frame {
    /// The account that looks at it. Its cards that wait on this phone are shown and sent, and no other's.
    pub account: Option<AccountId>,
    /// The name of that account; nothing is offered to it where this is missing.
    pub who: Option<String>,
    /// How many notices that account has not seen; no more than are listed.
    pub unseen: i64,
    /// The league that it belongs to.
    pub league: Option<Place>,
    /// Whether it is the viewer's own golf.
    pub is_mine: bool,
    /// Whether a device keeps the page: it shows nothing that waits for the viewer, no notices, findings and contacts.
    pub is_kept: bool,
}

/// A league in the eyes of one of its members.
#[derive(Clone)]
pub struct Place {
    pub id: LeagueId,
    pub name: String,
    /// The zone in which its times are shown.
    pub zone: TimeZone,
    /// The viewer's record.
    pub member: MemberId,
    /// The viewer's role.
    pub role: Role,
}

impl Place {
    fn of(view: LeagueView) -> Self {
        let zone = TimeZone::get(&view.league.time_zone).unwrap_or(TimeZone::UTC);
        Self { id: view.id, name: view.league.name, zone, member: view.member_id, role: view.role }
    }

    /// Returns whether the viewer organizes the league.
    pub fn is_organizer(&self) -> bool {
        self.role == Role::Organizer
    }
}

impl Frame {
    /// Makes the frame of a page that belongs to no league.
    ///
    /// # Errors
    /// An account that was ended.
    pub async fn of(app: &App, caller: Caller) -> Result<Self, Refusal> {
        let me = app.leagues.me(caller).await?;
        let unseen = app.leagues.unseen(caller, MOST_NOTICES).await?;
        Ok(Self { account: Some(caller.account), who: Some(me.account.display_name), unseen, ..Self::default() })
    }

    /// Makes the frame of a page that says why a request failed: of the account only its id is known.
    pub fn of_failure(request: &HttpRequest) -> Self {
        let account = request.extensions().get::<Caller>().map(|caller| caller.account);
        Self { account, ..Self::default() }
    }

    /// Makes the frame of a league's page.
    ///
    /// # Errors
    /// A league that the caller is not in.
    pub async fn in_league(app: &App, caller: Caller, league: LeagueId) -> Result<Self, Refusal> {
        Self::of_part(app, caller, league).await?.around(app, caller).await
    }

    /// Makes what a part of a league's page needs to know: nothing is shown around it.
    ///
    /// # Errors
    /// A league that the caller is not in.
    pub async fn of_part(app: &App, caller: Caller, league: LeagueId) -> Result<Self, Refusal> {
        let (view, _) = app.leagues.league(caller, league).await?;
        Ok(Self { league: Some(Place::of(view)), ..Self::default() })
    }

    /// Adds what is shown around a page.
    ///
    /// # Errors
    /// An account that was ended.
    pub async fn around(self, app: &App, caller: Caller) -> Result<Self, Refusal> {
        Ok(Self { league: self.league, ..Self::of(app, caller).await? })
    }

    /// Returns the zone in which the page shows times.
    pub fn zone(&self) -> TimeZone {
        self.league.as_ref().map_or(TimeZone::UTC, |place| place.zone.clone())
    }

    /// Returns the viewer's record in the page's league.
    pub fn member(&self) -> MemberId {
        self.league.as_ref().map_or(MemberId(Uuid::nil()), |place| place.member)
    }

    /// Returns whether the viewer keeps scores for others in the page's league.
    pub fn keeps_scores(&self) -> bool {
        self.league.as_ref().is_some_and(|place| place.role.keeps_scores())
    }

    /// Returns whether the viewer organizes the page's league.
    pub fn is_organizer(&self) -> bool {
        self.league.as_ref().is_some_and(Place::is_organizer)
    }
}
