//! The desk: what an organizer sets up and looks after, each thing one tap away.

use crate::domain::facts::{Course, Season};
use crate::domain::ids::{LeagueId, SeasonId};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::league::member::open_invitations::OpenInvitation;
use crate::league::views::{CourseView, EventView, SeasonView};
use crate::league::{Caller, Refusal};
use crate::pages::door::ShownCode;
use crate::pages::home::events;
use crate::pages::{Frame, page, words};
use crate::storage::documents::{COURSES, SEASONS};
use askama::Template;
use uuid::Uuid;

/// How many things of a kind the desk lists.
pub(super) const MOST: i64 = 200;

/// Reads the invitations that can still be taken up, each with whose record it claims.
///
/// # Errors
/// Anybody but an organizer.
pub(super) async fn open_invitations(
    app: &App,
    caller: Caller,
    league: LeagueId,
) -> Result<Vec<(OpenInvitation, Option<String>)>, Refusal> {
    let mut open = Vec::new();
    for invitation in app.leagues.open_invitations(caller, league, Uuid::nil(), MOST).await? {
        let claims = match invitation.member_id {
            Some(member) => Some(app.leagues.member(caller, member).await?.0.member.display_name),
            None => None,
        };
        open.push((invitation, claims));
    }
    Ok(open)
}

#[derive(Template)]
#[template(path = "organize.html")]
struct Desk {
    frame: Frame,
    league: LeagueId,
    courses: Vec<CourseView>,
    seasons: Vec<(SeasonView, Vec<EventView>)>,
    /// The code of an invitation that was just made, and whom it is for.
    invited: Option<(ShownCode, String)>,
    /// The invitations that can still be taken up, each with whose record it claims.
    open: Vec<(OpenInvitation, Option<String>)>,
    key: String,
}

/// Shows the desk, with an invitation that was just made.
///
/// # Errors
/// Anybody but an organizer.
pub(super) async fn desk(app: &App, caller: Caller, league: LeagueId, invited: Option<(ShownCode, String)>) -> Answer {
    app.leagues.may_organize(caller, league).await?;
    let frame = Frame::in_league(app, caller, league).await?;
    let courses = app.leagues.documents::<Course>(caller, &COURSES, league, Uuid::nil(), MOST).await?;
    let mut seasons = Vec::new();
    for season in app.leagues.documents::<Season>(caller, &SEASONS, league, Uuid::nil(), MOST).await? {
        let events = events(app, caller, SeasonId(season.id)).await?;
        seasons.push((SeasonView::from(season), events));
    }
    let courses = courses.into_iter().map(CourseView::from).collect();
    let open = open_invitations(app, caller, league).await?;
    page(&Desk { frame, league, courses, seasons, invited, open, key: Uuid::new_v4().to_string() })
}
