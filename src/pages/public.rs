//! What somebody reads who knows a secret address: a league's table, boards and schedule, a screen for the clubroom, and
//! a member's calendar. No cookie is read here, and each look sees whether the address still stands.

use super::home::{Listed, seasons};
use super::season::parts;
use super::{page, words};
use crate::accounts::throttle::Network;
use crate::domain::competition::match_shown::{MatchTableRow, SideShown};
use crate::domain::facts::{Event, EventEntry, EventState, Leads, Names};
use crate::domain::ids::EventId;
use crate::http::address::QueryOf;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::http::quota::Asker;
use crate::http::who::{From, own_origin};
use crate::league::addresses::{Look, look};
use crate::league::event::board::BoardRows;
use crate::league::views::{EventView, SeasonView};
use crate::league::{Caller, Refusal};
use crate::pages::Frame;
use crate::storage::documents::EVENTS;
use crate::wire::calendar::{Night, calendar};
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use jiff::SignedDuration;
use jiff::tz::TimeZone;
use uuid::Uuid;

/// How many rows a screen shows at once.
const ROWS_OF_A_SCREEN: usize = 12;
/// For how long a screen shows them, in seconds.
const SCREEN_S: u32 = 20;
/// How far back a calendar reaches, and for how many nights ahead it tells bay and time.
const CALENDAR_BACK: SignedDuration = SignedDuration::from_hours(180 * 24);
const NIGHTS_WITH_PLACES: usize = 60;

/// A row of a table or board.
struct Row {
    place: String,
    name: String,
    figures: [String; 2],
}

/// A table or board.
struct Shown {
    caption: String,
    /// What the last two columns are.
    heads: [&'static str; 2],
    rows: Vec<Row>,
}

/// What every public page knows.
struct Around {
    code: String,
    league: String,
    zone: TimeZone,
    names: Names,
    caller: Caller,
    current: Option<Listed>,
}

impl Around {
    fn name(&self, name: &str) -> String {
        match self.names {
            Names::Full => name.to_owned(),
            Names::Initials => initials(name),
        }
    }
}

/// Writes a name's initials.
fn initials(name: &str) -> String {
    let words = name.split(|c: char| !c.is_alphanumeric());
    let letters = words.filter_map(|word| word.chars().next()).map(|first| format!("{}.", first.to_uppercase()));
    letters.collect::<Vec<_>>().join(" ")
}

#[derive(Template)]
#[template(path = "public.html")]
struct PublicPage {
    frame: Frame,
    around: Around,
    tables: Vec<Shown>,
    /// The event whose board is shown; none where it is the table.
    event: Option<EventView>,
}

#[derive(Template)]
#[template(path = "screen.html")]
struct Screen {
    frame: Frame,
    around: Around,
    title: String,
    /// The rows that are shown now; none before the first card.
    part: Option<Shown>,
    next: String,
}

/// Lets somebody in who knows an address; how often one network may look is limited as an account's reads are.
async fn let_in(app: &App, network: Network, code: &str) -> Result<Look, Problem> {
    app.quota.take(Asker::Visitors(network), false, app.leagues.now()).1?;
    Ok(look(&app.leagues, code).await?)
}

async fn around(app: &App, network: Network, code: String) -> Result<Around, Problem> {
    let Look { league, leads: Leads::ToPublicPages(names), caller, .. } = let_in(app, network, &code).await? else {
        return Err(Problem::not_found());
    };
    let (found, _) = app.leagues.league(caller, league).await?;
    let zone = TimeZone::get(&found.league.time_zone).unwrap_or(TimeZone::UTC);
    let (current, _) = seasons(app, caller, league).await?;
    Ok(Around { code, league: found.league.name, zone, names, caller, current })
}

fn place(position: Option<u32>) -> String {
    position.map_or_else(|| "–".to_owned(), |position| position.to_string())
}

async fn tables(app: &App, around: &Around, season: &SeasonView) -> Result<Vec<Shown>, Refusal> {
    let (standings, _) = app.leagues.standings(around.caller, season.id, None, None, None).await?;
    let matches = standings.items.matches();
    if !matches.is_empty() {
        let row = |row: &MatchTableRow| {
            let name = &row.side.display_name;
            let name = if row.side.member_id.is_some() { around.name(name) } else { name.clone() };
            Row {
                place: place(row.position),
                name,
                figures: [words::value(&row.total), row.fixtures.played.to_string()],
            }
        };
        let rows = matches.iter().map(row).collect();
        return Ok(vec![Shown { caption: season.season.name.clone(), heads: ["total", "played"], rows }]);
    }
    let parts = parts(standings.items.cards());
    let shown = parts.iter().map(|part| Shown {
        caption: part.name.unwrap_or("All players").to_owned(),
        heads: ["total", "behind"],
        rows: part
            .rows
            .iter()
            .map(|row| Row {
                place: place(row.position),
                name: around.name(&row.display_name),
                figures: [words::value(&row.total), part.behind(row)],
            })
            .collect(),
    });
    Ok(shown.collect())
}

async fn board(app: &App, around: &Around, event: EventId) -> Result<Vec<Shown>, Refusal> {
    let board = app.leagues.board(around.caller, event, None).await?;
    if let BoardRows::Fixtures(fixtures) = &board.items {
        let of_side = |side: &Option<SideShown>| match side {
            Some(side) if side.member_id.is_some() => around.name(&side.display_name),
            Some(side) => side.display_name.clone(),
            None => "nobody".to_owned(),
        };
        let rows = fixtures.iter().map(|fixture| Row {
            place: String::new(),
            name: format!("{} – {}", of_side(&fixture.a), of_side(&fixture.b)),
            figures: [
                fixture.points.as_ref().map(words::points).unwrap_or_default(),
                words::fixture_state(fixture.state),
            ],
        });
        return Ok(vec![Shown { caption: "Fixtures".into(), heads: ["points", "state"], rows: rows.collect() }]);
    }
    let shown = words::flights(board.items.cards()).into_iter().map(|(name, rows)| Shown {
        caption: name.unwrap_or("All players").to_owned(),
        heads: ["points", "holes"],
        rows: rows
            .into_iter()
            .map(|row| Row {
                place: place(row.position),
                name: around.name(&row.display_name),
                figures: [words::value(&row.value), row.holes_played.to_string()],
            })
            .collect(),
    });
    Ok(shown.collect())
}

/// Answers with what search engines are asked to leave out.
fn unlisted(answer: Answer) -> Answer {
    let mut answer = answer?;
    answer.headers_mut().insert(HeaderName::from_static("x-robots-tag"), HeaderValue::from_static("noindex"));
    Ok(answer)
}

async fn table(app: Data<App>, from: From, code: Path<String>) -> Answer {
    let around = around(&app, from.0, code.into_inner()).await?;
    let tables = match &around.current {
        Some(listed) => tables(&app, &around, &listed.season).await?,
        None => Vec::new(),
    };
    unlisted(page(&PublicPage { frame: Frame::default(), around, tables, event: None }))
}

async fn event_board(app: Data<App>, from: From, path: Path<(String, String)>) -> Answer {
    let (code, event) = path.into_inner();
    let event = Uuid::try_parse(&event).map_err(|_| Problem::not_found())?;
    let around = around(&app, from.0, code).await?;
    let found = app.leagues.document::<Event>(around.caller, &EVENTS, event).await?;
    let shown = EventView::of(found, app.leagues.now());
    // An organizer may be in several leagues; the address opens one.
    let is_here = around.current.iter().flat_map(|listed| &listed.events).any(|listed| listed.id == shown.id);
    if !is_here {
        return Err(Problem::not_found());
    }
    let tables = board(&app, &around, shown.id).await?;
    unlisted(page(&PublicPage { frame: Frame::default(), around, tables, event: Some(shown) }))
}

/// Shows twelve rows of the open night's board, or of the table, and then the next twelve.
async fn screen(app: Data<App>, from: From, code: Path<String>, query: QueryOf) -> Answer {
    let around = around(&app, from.0, code.into_inner()).await?;
    let open = around.current.iter().flat_map(|listed| &listed.events);
    let is_on = |event: &&EventView| event.event.state == Some(EventState::Open) && !event.event.is_void();
    let open = open.filter(is_on).min_by_key(|event| event.event.opens_at);
    let (title, found) = match (open, &around.current) {
        (Some(event), _) => (event.event.name.clone(), board(&app, &around, event.id).await?),
        (None, Some(listed)) => (listed.season.season.name.clone(), tables(&app, &around, &listed.season).await?),
        (None, None) => (String::new(), Vec::new()),
    };
    let mut parts: Vec<Shown> = Vec::new();
    for mut shown in found {
        while !shown.rows.is_empty() {
            let rest = shown.rows.split_off(shown.rows.len().min(ROWS_OF_A_SCREEN));
            parts.push(Shown { caption: shown.caption.clone(), heads: shown.heads, rows: shown.rows });
            shown.rows = rest;
        }
    }
    let asked = query.get("page").and_then(|page| page.parse::<usize>().ok()).unwrap_or(0);
    let at = asked % parts.len().max(1);
    let next = format!("/s/{}/screen?page={}", around.code, (at + 1) % parts.len().max(1));
    let part = parts.into_iter().nth(at);
    unlisted(page(&Screen { frame: Frame::default(), around, title, part, next }))
}

/// Answers with the nights of a league as a calendar (RFC 5545), with the bay and time of the member whose address it is.
async fn member_calendar(app: Data<App>, from: From, code: Path<String>, request: HttpRequest) -> Answer {
    let Look { league, leads: Leads::ToCalendar, caller, member } = let_in(&app, from.0, &code).await? else {
        return Err(Problem::not_found());
    };
    let (found, _) = app.leagues.league(caller, league).await?;
    let (current, others) = seasons(&app, caller, league).await?;
    let now = app.leagues.now();
    let since = now.checked_sub(CALENDAR_BACK).unwrap_or(now);
    let events = current.into_iter().chain(others).flat_map(|listed| listed.events);
    let mut events: Vec<EventView> = events.filter(|event| event.event.closes_at >= since).collect();
    events.sort_by_key(|event| (event.event.opens_at, event.id));
    let origin = own_origin(&request).unwrap_or_default();
    let (mut nights, mut asked) = (Vec::new(), 0);
    for event in events {
        let mut place = None;
        if event.event.closes_at > now && asked < NIGHTS_WITH_PLACES {
            asked += 1;
            let entrants = app.leagues.entrants(caller, event.id).await?;
            place = entrants.into_iter().find(|entrant| entrant.member_id == member).map(|entrant| entrant.entry);
        }
        nights.push(night(event, place, &origin));
    }
    let text = calendar(&found.league.name, &nights, now);
    unlisted(Ok(HttpResponse::Ok().insert_header((header::CONTENT_TYPE, "text/calendar; charset=utf-8")).body(text)))
}

fn night(view: EventView, place: Option<EventEntry>, origin: &str) -> Night {
    let EventView { id, event, version, .. } = view;
    let EventEntry { slot, bay, .. } = place.unwrap_or_default();
    let mut text = format!("{} holes, greens {} ft", event.holes.get(), words::number(event.stimp_ft.get()));
    if let Some(slot) = slot {
        text = format!("{text}; you play at {slot}");
    }
    Night {
        id: id.0,
        is_void: event.is_void(),
        name: event.name,
        opens_at: event.opens_at,
        closes_at: event.closes_at,
        changes: version - 1,
        text,
        bay,
        link: format!("{origin}/events/{}", id.0),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/s/{code}").route(super::reads().to(table)))
        .service(at("/s/{code}/events/{id}").route(super::reads().to(event_board)))
        .service(at("/s/{code}/screen").route(super::reads().to(screen)))
        .service(at("/s/{code}/calendar.ics").route(super::reads().to(member_calendar)));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn initials_are_the_first_letters_of_each_word() {
        for (name, due) in [
            ("Mira Kask", "M. K."),
            ("Ann-Marie o’Reed", "A. M. O. R."),
            ("李 明", "李. 明."),
            ("ß", "SS."),
            ("--", ""),
        ] {
            assert_eq!(initials(name), due, "{name}");
        }
    }
}
