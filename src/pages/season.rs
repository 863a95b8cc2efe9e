//! A season's standings.

use super::Frame;
use super::home::events;
use super::kept::kept;
use crate::domain::competition::match_shown::MatchTableRow;
use crate::domain::competition::table::{ResultCell, StandingsRow};
use crate::domain::exact::{Exact, Value};
use crate::domain::facts::{Competition, Season};
use crate::domain::ids::{CompetitionId, EventId, MemberId, SeasonId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::league::reading::Standings;
use crate::league::views::{CompetitionView, EventView};
use crate::league::{Caller, Refusal};
use crate::pages::words;
use crate::storage::documents::SEASONS;
use crate::storage::heads::SignedHead;
use actix_web::HttpRequest;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use std::collections::HashMap;

/// A flight's part of the table.
pub(super) struct Part<'a> {
    pub name: Option<&'a str>,
    pub rows: Vec<&'a StandingsRow>,
}

impl Part<'_> {
    /// Writes how far a row's total is from that of the first.
    pub fn behind(&self, row: &StandingsRow) -> String {
        let first = self.rows.first().and_then(|first| first.total);
        let apart = first.zip(row.total).map(|(first, total)| Value(apart(first.0, total.0)));
        words::value(&apart.filter(|apart| apart.0 != Exact::ZERO))
    }
}

fn apart(one: Exact, other: Exact) -> Exact {
    if one > other { one - other } else { other - one }
}

/// Which table was asked for.
struct Asked {
    after_event: Option<EventId>,
    competition: Option<CompetitionId>,
    flight: Option<String>,
}

impl Asked {
    /// Writes the query that asks for the same again.
    fn query(&self) -> String {
        let flight = self.flight.as_deref().map(askama::filters::urlencode_strict);
        let parts = [
            self.after_event.map(|event| format!("after_event={event}")),
            self.competition.map(|id| format!("competition={id}")),
            flight.and_then(Result::ok).map(|flight| format!("flight={flight}")),
        ];
        let query = parts.into_iter().flatten().collect::<Vec<_>>().join("&");
        if query.is_empty() { query } else { format!("?{query}") }
    }
}

#[derive(Template)]
#[template(path = "season.html")]
struct SeasonPage<'a> {
    frame: Frame,
    id: SeasonId,
    season: &'a Season,
    /// The competitions of the season, the main one first.
    competitions: &'a [CompetitionView],
    /// The one whose table is shown.
    terms: &'a Competition,
    standings: &'a Standings,
    events: &'a [EventView],
    shown: Vec<&'a EventView>,
    parts: Vec<Part<'a>>,
    /// The rows of a competition of matches.
    matches: &'a [MatchTableRow],
    moved: HashMap<MemberId, i64>,
    /// The head of the journal that was signed when the season's last event became final.
    head: Option<SignedHead>,
    /// What was asked for, as the query that asks for it again.
    asked: Asked,
    /// Whether each night's result is shown, and not places alone.
    all_nights: bool,
}

impl SeasonPage<'_> {
    fn cell<'r>(&self, results: &'r [ResultCell], event: &EventView) -> Option<&'r ResultCell> {
        results.iter().find(|cell| cell.event_id == Some(event.id))
    }

    fn carried<'r>(&self, row: &'r StandingsRow) -> Vec<&'r ResultCell> {
        row.results.iter().filter(|cell| cell.event_id.is_none()).collect()
    }

    fn is_asked(&self, event: &EventView) -> bool {
        self.standings.as_of_event_id == Some(event.id)
    }

    /// Writes by how many positions a row moved since the event before, with a sign for the eye.
    fn movement(&self, row: &StandingsRow) -> String {
        let signed = |class: &str, sign: &str, word: &str, places: i64| {
            format!(
                "<span class=\"{class}\" aria-hidden=\"true\">{sign}{places}</span><span class=\"hidden\">{word} {places}</span>"
            )
        };
        match self.moved.get(&row.member_id) {
            None => String::new(),
            Some(0) => "<span class=\"hidden\">same place</span>".to_owned(),
            Some(up) if *up > 0 => signed("better", "▲", "up", *up),
            Some(down) => signed("worse", "▼", "down", -down),
        }
    }

    /// Says whether a competition's table is the one that is shown.
    fn is_shown(&self, listed: &CompetitionView) -> bool {
        listed.id == self.standings.competition_id
    }
}

pub(super) fn parts(rows: &[StandingsRow]) -> Vec<Part<'_>> {
    let mut parts: Vec<Part<'_>> = Vec::new();
    for row in rows {
        let name = row.flight.as_deref();
        match parts.last_mut().filter(|part| part.name == name) {
            Some(part) => part.rows.push(row),
            None => parts.push(Part { name, rows: vec![row] }),
        }
    }
    parts
}

async fn places(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf, request: HttpRequest) -> Answer {
    season(&app, caller, SeasonId(id.0), &query, &request, false).await
}

async fn nights(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf, request: HttpRequest) -> Answer {
    season(&app, caller, SeasonId(id.0), &query, &request, true).await
}

async fn season(
    app: &App,
    caller: Caller,
    id: SeasonId,
    query: &QueryOf,
    request: &HttpRequest,
    all_nights: bool,
) -> Answer {
    let found = app.leagues.document::<Season>(caller, &SEASONS, id.0).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let after_event = query.given_id("after_event")?.map(EventId);
    let competition = query.given_id("competition")?.map(CompetitionId);
    let competitions = app.leagues.competitions_by_position(caller, id).await?;
    let flight = query.get("flight").filter(|name| !name.is_empty()).map(str::to_owned);
    let (standings, _) = app.leagues.standings(caller, id, competition, after_event, flight.clone()).await?;
    let events = events(app, caller, id).await?;
    let played = |event: &EventView| standings.items.cells().any(|cell| cell.event_id == Some(event.id));
    let shown: Vec<&EventView> = events.iter().filter(|event| played(event)).collect();
    let mut moved = HashMap::new();
    if let [.., before, _] = shown.as_slice() {
        let (earlier, _) = app.leagues.standings(caller, id, competition, Some(before.id), flight.clone()).await?;
        for row in standings.items.cards() {
            let then = earlier.items.cards().iter().find(|then| then.member_id == row.member_id);
            let positions = then.and_then(|then| then.position).zip(row.position);
            moved.extend(positions.map(|(then, now)| (row.member_id, i64::from(then) - i64::from(now))));
        }
    }
    let is_final = !events.is_empty() && events.iter().all(|event| event.event.is_final());
    let head = if is_final { app.leagues.final_head(found.league, id).await? } else { None };
    let parts = parts(standings.items.cards());
    let shown_terms = competitions.iter().find(|listed| listed.id == standings.competition_id);
    let terms = &shown_terms.ok_or(Refusal::NotFound)?.terms;
    let (season, events, competitions, standings) = (&found.body, &events, &competitions, &standings);
    let asked = Asked { after_event, competition, flight };
    let shown = SeasonPage {
        frame,
        id,
        season,
        competitions,
        terms,
        standings,
        events,
        shown,
        parts,
        matches: standings.items.matches(),
        moved,
        head,
        asked,
        all_nights,
    };
    kept(request, &shown.frame, &shown)
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/seasons/{id}").route(super::reads().to(places)))
        .service(web::resource("/seasons/{id}/nights").route(super::reads().to(nights)));
}
