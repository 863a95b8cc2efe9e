//! What an organizer takes along into a spreadsheet: members, entries, cards hole by hole, putts.

use crate::domain::facts::{Event, Season};
use crate::domain::ids::{EventId, LeagueId, MemberId, SeasonId};
use crate::http::address::QueryOf;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::csv::{line, number, text};
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::league::round::cards::EventCard;
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::documents::{Document, SEASONS};
use actix_web::HttpResponse;
use actix_web::web::Bytes;
use jiff::tz::TimeZone;
use std::collections::HashMap;
use uuid::Uuid;

/// What the query of such a table may say.
pub const QUERY: &[(&str, &str)] = &[
    ("ids", "1: ids stand beside the names."),
    ("bom", "1: the CSV begins with a byte order mark, for spreadsheets that need it."),
];

/// A table of a season.
#[derive(Clone, Copy, Debug)]
pub enum Table {
    /// Who is entered when and where.
    Entries,
    /// A line for each hole of each card.
    Cards,
    /// A line for each putt.
    Putts,
}

impl Table {
    fn columns(self) -> &'static [&'static str] {
        match self {
            Table::Entries => &["date", "event", "player", "slot", "bay"],
            Table::Cards => {
                &["date", "event", "player", "state", "outcome", "hole", "strokes", "picked_up", "not_played", "putts"]
            }
            Table::Putts => &[
                "date",
                "event",
                "player",
                "state",
                "hole",
                "putt",
                "distance_ft",
                "elevation_in",
                "ball_speed_mph",
                "start_line_deg",
                "played_line_deg",
                "result",
            ],
        }
    }

    fn ids(self) -> &'static [&'static str] {
        match self {
            Table::Entries => &["event_id", "member_id"],
            Table::Cards | Table::Putts => &["event_id", "member_id", "round_id"],
        }
    }
}

/// How a table is asked for.
struct Asked {
    ids: bool,
    bom: bool,
}

impl Asked {
    fn of(query: &QueryOf) -> Result<Self, Problem> {
        let is_one = |name: &'static str| match query.get(name) {
            None => Ok(false),
            Some("1") => Ok(true),
            Some(_) => Err(Problem::parameter(name, Kind::Malformed, format!("{name} is 1, or left out"))),
        };
        Ok(Self { ids: is_one("ids")?, bom: is_one("bom")? })
    }

    /// Writes the line of column names.
    fn head(&self, columns: &[&str], ids: &[&str]) -> String {
        let ids = if self.ids { ids } else { &[] };
        let names: Vec<String> = columns.iter().chain(ids).map(|name| (*name).to_owned()).collect();
        format!("{}{}", if self.bom { "\u{feff}" } else { "" }, line(&names))
    }

    fn line(&self, mut cells: Vec<String>, ids: impl IntoIterator<Item = String>) -> String {
        if self.ids {
            cells.extend(ids);
        }
        line(&cells)
    }
}

/// Writes the word of a value, as bodies have it.
fn word(value: &impl serde::Serialize) -> String {
    serde_json::to_value(value).ok().and_then(|value| value.as_str().map(str::to_owned)).unwrap_or_default()
}

fn csv() -> actix_web::HttpResponseBuilder {
    let mut answer = HttpResponse::Ok();
    answer.content_type("text/csv; charset=utf-8").insert_header(("cache-control", "no-store"));
    answer
}

/// Answers a league's members as CSV.
///
/// # Errors
/// Anybody but an organizer.
pub async fn members(app: &App, caller: Caller, league: LeagueId, query: &QueryOf) -> Answer {
    let asked = Asked::of(query)?;
    app.leagues.may_organize(caller, league).await?;
    let mut members = app.leagues.members_of(caller, league, Uuid::nil(), i64::MAX).await?;
    members.sort_by_key(|member| (member.member.display_name.to_lowercase(), member.id));
    let indexes = app.leagues.league_indexes(caller, league).await?;
    let columns = ["display_name", "flight", "starting_handicap", "league_index", "role", "has_account"];
    let mut body = asked.head(&columns, &["member_id"]);
    for view in members {
        let member = &view.member;
        let cells = vec![
            text(&member.display_name),
            text(member.flight.as_deref().unwrap_or_default()),
            number(member.starting_handicap),
            number(indexes.get(&view.id).copied().flatten()),
            member.role.word().to_owned(),
            view.has_account.to_string(),
        ];
        body.push_str(&asked.line(cells, [view.id.to_string()]));
    }
    Ok(csv().body(body))
}

/// What the lines of one event are written with.
struct Writer {
    leagues: Leagues,
    caller: Caller,
    table: Table,
    asked: Asked,
    names: HashMap<MemberId, String>,
    zone: TimeZone,
}

impl Writer {
    fn name(&self, id: MemberId) -> String {
        text(self.names.get(&id).map_or("", String::as_str))
    }

    fn card(&self, event: EventId, beginning: &[String], card: &EventCard) -> String {
        let mut lines = String::new();
        let ids = || [event.to_string(), card.member.to_string(), card.id.to_string()];
        let start = [beginning, &[self.name(card.member), card.state.word().to_owned()]].concat();
        for hole in &card.round.holes {
            if let Table::Cards = self.table {
                let rest = [
                    word(&card.round.outcome),
                    hole.number.get().to_string(),
                    number(hole.strokes.map(|strokes| strokes.get())),
                    hole.picked_up.to_string(),
                    hole.not_played.to_string(),
                    number(hole.putts_taken()),
                ];
                lines.push_str(&self.asked.line([&start[..], &rest].concat(), ids()));
                continue;
            }
            for (n, putt) in (1..).zip(hole.putts.iter().flatten()) {
                let rest = [
                    hole.number.get().to_string(),
                    u32::to_string(&n),
                    putt.distance_ft.get().to_string(),
                    number(putt.elevation_in.map(|rise| rise.get())),
                    number(putt.ball_speed_mph.map(|speed| speed.get())),
                    number(putt.start_line_deg.map(|line| line.get())),
                    number(putt.played_line_deg.map(|line| line.get())),
                    word(&putt.result),
                ];
                lines.push_str(&self.asked.line([&start[..], &rest].concat(), ids()));
            }
        }
        lines
    }

    /// Writes the lines of an event.
    async fn event(&self, event: &Document<Event>) -> Result<String, Refusal> {
        let id = EventId(event.id);
        let date = self.zone.to_datetime(event.body.opens_at).date().to_string();
        let beginning = [date, text(&event.body.name)];
        let mut lines = String::new();
        if let Table::Entries = self.table {
            for entrant in self.leagues.entrants(self.caller, id).await? {
                let place = [entrant.entry.slot.as_deref(), entrant.entry.bay.as_deref()];
                let place = place.map(|cell| text(cell.unwrap_or_default()));
                let cells = [&beginning[..], &[self.name(entrant.member_id)], &place].concat();
                lines.push_str(&self.asked.line(cells, [id.to_string(), entrant.member_id.to_string()]));
            }
            return Ok(lines);
        }
        for card in self.leagues.cards_of_event(self.caller, id).await? {
            lines.push_str(&self.card(id, &beginning, &card));
        }
        Ok(lines)
    }
}

/// Answers a table of a season as CSV, event by event in order of time.
///
/// # Errors
/// Anybody but an organizer.
pub async fn season(app: &App, caller: Caller, season: SeasonId, table: Table, query: &QueryOf) -> Answer {
    let asked = Asked::of(query)?;
    let league = app.leagues.document::<Season>(caller, &SEASONS, season.0).await?.league;
    app.leagues.may_organize(caller, league).await?;
    let zone = app.leagues.league(caller, league).await?.0.league.zone();
    let zone = zone.map_err(|fault| Problem::faults(vec![fault]))?;
    let members = app.leagues.members_of(caller, league, Uuid::nil(), i64::MAX).await?;
    let names = members.into_iter().map(|member| (member.id, member.member.display_name)).collect();
    let mut events = app.leagues.events_of(caller, season, Uuid::nil(), i64::MAX).await?;
    events.sort_by_key(|event| (event.body.opens_at, event.id));
    let head = asked.head(table.columns(), table.ids());
    let writer = Writer { leagues: app.leagues.clone(), caller, table, asked, names, zone };
    let stream = async_stream::stream! {
        yield Ok::<_, actix_web::Error>(Bytes::from(head));
        for event in events {
            match writer.event(&event).await {
                Ok(lines) => yield Ok(Bytes::from(lines)),
                // A table that broke off must not look like a whole one.
                Err(_) => {
                    yield Err(actix_web::error::ErrorInternalServerError("the table broke off"));
                    break;
                }
            }
        }
    };
    Ok(csv().streaming(Box::pin(stream)))
}
