//! An event: its board, live where script runs.

use super::kept::{Clock, kept_but_for};
use super::{Frame, page};
use crate::domain::facts::{Competition, Event, EventState, Season, SideWord};
use crate::domain::ids::{CompetitionId, EventId, MemberId, RoundId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::league::Caller;
use crate::league::event::board::{Board, BoardRows};
use crate::league::views::{CompetitionView, EventView, SeasonView};
use crate::pages::words;
use crate::storage::documents::{EVENTS, SEASONS};
use actix_web::HttpRequest;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use jiff::Timestamp;
use std::collections::HashMap;
use uuid::Uuid;

/// How many rounds one board links.
const MOST: i64 = 1_000;

#[derive(Template)]
#[template(path = "event.html")]
struct EventPage {
    frame: Frame,
    event: EventView,
    season: SeasonView,
    /// The competitions that count the event, the main one first.
    competitions: Vec<CompetitionView>,
    terms: Competition,
    board: Board,
    rounds: HashMap<MemberId, RoundId>,
    now: Timestamp,
    /// Those without a card, for whom the viewer may hand one in.
    without: Vec<(MemberId, String)>,
}

/// The part of the page that moves.
#[derive(Template)]
#[template(path = "board.html")]
struct BoardPart {
    frame: Frame,
    terms: Competition,
    board: Board,
    rounds: HashMap<MemberId, RoundId>,
    now: Timestamp,
}

impl EventPage {
    /// Says whether a competition is the one that ranks what is shown.
    fn is_ranked_by(&self, listed: &CompetitionView) -> bool {
        self.board.competition_id == Some(listed.id)
    }

    fn is_open(&self) -> bool {
        self.event.event.state == Some(EventState::Open) && !self.event.event.is_void()
    }

    /// Says whether cards for others are taken now: from anybody while it is open, then from those who keep scores.
    fn takes_others(&self) -> bool {
        let is_closed = self.event.event.state == Some(EventState::Closed) && !self.event.event.is_void();
        self.is_open() || (self.frame.keeps_scores() && is_closed)
    }
}

/// Reads what the board shows; the page adds what is around it.
async fn read(
    app: &App,
    caller: Caller,
    id: EventId,
    query: &QueryOf,
) -> Result<EventPage, crate::http::problem::Problem> {
    let found = app.leagues.document::<Event>(caller, &EVENTS, id.0).await?;
    let frame = Frame::of_part(app, caller, found.league).await?;
    let now = app.leagues.now();
    let event = EventView::of(found, now);
    let season = app.leagues.document::<Season>(caller, &SEASONS, event.season_id.0).await?;
    let competition = query.given_id("competition")?.map(CompetitionId);
    let board = app.leagues.board(caller, id, competition).await?;
    let mut competitions = app.leagues.competitions_by_position(caller, event.season_id).await?;
    competitions.retain(|listed| listed.terms.counts_event(id));
    let ranked_by = competitions.iter().find(|listed| Some(listed.id) == board.competition_id);
    let terms = ranked_by.map_or_else(|| Competition::usual(String::new()), |listed| listed.terms.clone());
    let rounds = app.leagues.round_ids_of_event(caller, id, MOST).await?.into_iter().collect();
    let without = Vec::new();
    let season = SeasonView::from(season);
    Ok(EventPage { frame, event, season, competitions, terms, board, rounds, now, without })
}

async fn event(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf, request: HttpRequest) -> Answer {
    let mut shown = read(&app, caller, EventId(id.0), &query).await?;
    shown.frame = shown.frame.around(&app, caller).await?;
    if shown.takes_others() {
        let members = app.leagues.members_of(caller, shown.season.league_id, Uuid::nil(), MOST).await?;
        let is_other = |id: &MemberId| *id != shown.frame.member() && !shown.rounds.contains_key(id);
        let others = members.into_iter().filter(|member| is_other(&member.id));
        shown.without = others.map(|member| (member.id, member.member.display_name)).collect();
        shown.without.sort_by_key(|(id, name)| (name.to_lowercase(), *id));
    }
    // A board that did not move is the same page for a minute; then it says a later time.
    let time = format!("<time datetime=\"{}\">{}<", shown.now, words::time_of_day(&shown.now, shown.frame.zone()));
    let minute = (shown.now.as_second() / 60).to_string();
    kept_but_for(&request, &shown.frame, &shown, Clock { shown: &time, instead: &minute })
}

async fn board(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let EventPage { frame, terms, board, rounds, now, .. } = read(&app, caller, EventId(id.0), &query).await?;
    page(&BoardPart { frame, terms, board, rounds, now })
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/events/{id}").route(super::reads().to(event)))
        .service(web::resource("/events/{id}/board").route(super::reads().to(board)));
}
