//! Seasons: policy, standings.

use crate::domain::competition::match_shown::{MatchTableRow, TableRows};
use crate::domain::competition::table::StandingsRow;
use crate::domain::exact::Value;
use crate::domain::facts::{Competition, Season};
use crate::domain::ids::{CompetitionId, EventId, LeagueId, SeasonId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, done, paged, replied, versioned};
use crate::http::app::App;
use crate::http::body::{Body, decoded};
use crate::http::csv;
use crate::http::keys::Key;
use crate::http::kinds::Kind;
use crate::http::paging::PageOf;
use crate::http::problem::Problem;
use crate::http::rendered::{Asked, Form, Written};
use crate::http::routes::{Access, Media, RouteDoc, Routes, creates, lists, patches, reads, removes};
use crate::http::tag::{etag, is_known};
use crate::http::who::Bearer;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::reading::Standings;
use crate::league::views::{NewSeason, SeasonView};
use crate::storage::StorageError;
use crate::storage::documents::SEASONS;
use crate::wire::body::{season, tables, views};
use crate::wire::schema::Schema;
use actix_web::http::header;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use std::fmt::Write as _;

fn body() -> Schema {
    Schema::Object(season::season_fields())
}

/// The competitions that come with a new season.
#[derive(serde::Deserialize)]
struct Competitions {
    #[serde(default)]
    competitions: Vec<Competition>,
}

async fn create(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let schema = season::new_season();
    sent.read_with_rules::<NewSeason>(&schema)?;
    // Read again in two parts: a flattened body would not take 48.0 for a whole number, nor make -0.0 a 0.
    let node = sent.node(&schema)?;
    let Competitions { competitions } = decoded(&node)?;
    let new = NewSeason { season: decoded(&node)?, competitions };
    Ok(replied(app.leagues.create_season(key.of(&app, caller, &sent), LeagueId(id.0), new).await?))
}

async fn list(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let found = app.leagues.documents(caller, &SEASONS, LeagueId(id.0), page.after_id()?, page.limit + 1).await?;
    let views = found.into_iter().map(SeasonView::from).collect();
    Ok(paged(request.path(), page.limit, &page.cut(views, |view: &SeasonView| view.id.to_string())))
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let found = app.leagues.document::<Season>(caller, &SEASONS, id.0).await?;
    let version = found.version;
    Ok(versioned((SeasonView::from(found), version)))
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, sent: Body) -> Answer {
    let patched = sent.patch::<Season>(body)?;
    Ok(versioned(app.leagues.change_season(caller, SeasonId(id.0), if_match, patched).await?))
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.remove_season(caller, SeasonId(id.0), if_match).await?;
    Ok(done())
}

async fn standings(app: Data<App>, bearer: Bearer, id: IdPath, query: QueryOf, request: HttpRequest) -> Answer {
    table(&app, bearer, (SeasonId(id.0), None), &query, &request).await
}

/// Answers the table of a season's competition, the main one where none is named.
pub(super) async fn table(
    app: &App,
    bearer: Bearer,
    (season, competition): (SeasonId, Option<CompetitionId>),
    query: &QueryOf,
    request: &HttpRequest,
) -> Answer {
    let Bearer { caller, session } = bearer;
    let form = form(request, query)?;
    let shown = app.leagues.season_mark(caller, session, season).await?;
    let tag_of = |mark: i64| etag(format!("{mark}.{}", form.word()));
    let after_event = query.id("after_event")?.map(EventId);
    let flight = query.get("flight").map(str::to_owned);
    let asked = Asked::Table { season, competition, after_event, flight: flight.clone(), form };
    if let Some(age) = shown.age {
        let written = app.tables.last(asked, shown.mark).await.ok_or(StorageError::Away)?;
        let tag = tag_of(written.mark);
        return Ok(written.answer_aged(tag, form.kind(), age));
    }
    let tag = tag_of(shown.mark);
    if is_known(request, &tag) {
        return Ok(HttpResponse::NotModified().insert_header((header::ETAG, tag)).finish());
    }
    let written = app.tables.of(asked, shown.mark, || async {
        let (standings, mark) = app.leagues.standings(caller, season, competition, after_event, flight).await?;
        let body = match form {
            Form::Json => text_of(&standings),
            Form::Csv => written_as_csv(&standings),
            Form::MarkedCsv => format!("\u{feff}{}", written_as_csv(&standings)),
        };
        Ok(Written { mark, body: body.into() })
    });
    let written = written.await?;
    let tag = tag_of(written.mark);
    Ok(written.answer(tag, form.kind()))
}

fn text_of(standings: &Standings) -> String {
    serde_json::to_string(standings).expect("a table is plain values with text keys")
}

async fn changes(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let found = app.leagues.standings_changes(caller, SeasonId(id.0), page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(found, |change| change.id.to_string())))
}

fn form(request: &HttpRequest, query: &QueryOf) -> Result<Form, Problem> {
    let is_marked = match query.get("bom") {
        None => false,
        Some("1") => true,
        Some(_) => return Err(Problem::parameter("bom", Kind::Malformed, "bom is 1, or left out")),
    };
    Ok(match (prefers_csv(request)?, is_marked) {
        (false, _) => Form::Json,
        (true, false) => Form::Csv,
        (true, true) => Form::MarkedCsv,
    })
}

fn prefers_csv(request: &HttpRequest) -> Result<bool, Problem> {
    let Some(accept) = request.headers().get(header::ACCEPT) else { return Ok(false) };
    let mut best: Option<(f32, bool)> = None;
    for part in accept.to_str().unwrap_or("*/*").split(',') {
        let mut words = part.split(';').map(str::trim);
        let kind = words.next().unwrap_or_default().to_ascii_lowercase();
        let weight = words.find_map(|word| word.strip_prefix("q=")?.parse().ok()).unwrap_or(1.0);
        let csv = match kind.as_str() {
            "text/csv" => true,
            "application/json" | "application/*" | "*/*" => false,
            "text/*" => true,
            _ => continue,
        };
        if weight > 0.0 && best.is_none_or(|(known, _)| weight > known) {
            best = Some((weight, csv));
        }
    }
    best.map(|(_, csv)| csv)
        .ok_or_else(|| Problem::new(Kind::NotAcceptable, "standings are application/json or text/csv"))
}

/// Writes a table as CSV (RFC 4180): a row's scalars, then one value column an event.
fn written_as_csv(standings: &Standings) -> String {
    let (head, rows) = match &standings.items {
        TableRows::Cards(rows) => {
            (CARD_COLUMNS, rows.iter().map(|row| (card_cells(row), row.start, &row.results)).collect())
        }
        TableRows::Matches(rows) => {
            (MATCH_COLUMNS, rows.iter().map(|row| (match_cells(row), None, &row.results)).collect::<Vec<_>>())
        }
    };
    let has_starts = standings.items.cards().iter().any(|row| row.start.is_some());
    let mut text = head.join(",");
    if has_starts {
        text.push_str(",start");
    }
    for event in &standings.event_ids {
        let _ = write!(text, ",{event}");
    }
    text.push_str("\r\n");
    for (mut cells, start, results) in rows {
        if has_starts {
            cells.push(number(start));
        }
        cells.extend(standings.event_ids.iter().map(|event| {
            let cell = results.iter().find(|cell| cell.event_id == Some(*event));
            number(cell.and_then(|cell| cell.value))
        }));
        text.push_str(&cells.join(","));
        text.push_str("\r\n");
    }
    text
}

const CARD_COLUMNS: &[&str] = &[
    "position",
    "tied",
    "member_id",
    "display_name",
    "flight",
    "events_played",
    "events_counted",
    "total",
    "strokes_gained_putting_per_round",
];

fn card_cells(row: &StandingsRow) -> Vec<String> {
    vec![
        written(row.position),
        row.tied.to_string(),
        row.member_id.to_string(),
        csv::text(&row.display_name),
        csv::text(row.flight.as_deref().unwrap_or_default()),
        row.events_played.to_string(),
        row.events_counted.to_string(),
        number(row.total),
        written(row.strokes_gained_putting_per_round),
    ]
}

const MATCH_COLUMNS: &[&str] = &[
    "position",
    "tied",
    "member_id",
    "team_id",
    "display_name",
    "events_played",
    "events_counted",
    "total",
    "fixtures_played",
    "fixtures_won",
    "fixtures_tied",
    "fixtures_lost",
    "points_for",
    "points_against",
];

fn match_cells(row: &MatchTableRow) -> Vec<String> {
    vec![
        written(row.position),
        row.tied.to_string(),
        written(row.side.member_id),
        written(row.side.team_id),
        csv::text(&row.side.display_name),
        row.events_played.to_string(),
        row.events_counted.to_string(),
        number(row.total),
        row.fixtures.played.to_string(),
        row.fixtures.won.to_string(),
        row.fixtures.tied.to_string(),
        row.fixtures.lost.to_string(),
        number(Some(row.points_for)),
        number(Some(row.points_against)),
    ]
}

fn written(value: Option<impl ToString>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn number(value: Option<Value>) -> String {
    value.and_then(|value| serde_json::to_string(&value).ok()).unwrap_or_default()
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Member, Organizer};
    let view = views::season;
    let path = "/leagues/{id}/seasons";
    let adds = "Adds a season, with its competitions; without any it has one of its own name.";
    routes.add(creates(path, adds, Organizer, season::new_season(), views::new_season()), create);
    routes.add(lists(path, "The league's seasons.", Member, view()), list);
    routes.add(reads("/seasons/{id}", "A season.", Member, view()), show);
    routes.add(patches("/seasons/{id}", "Changes a season's policy.", Organizer, body(), view()), change);
    let doc = "Removes a season without cards, with its events, competitions and carried results.";
    routes.add(removes("/seasons/{id}", doc, Organizer, true), remove);
    routes.add(table_route("/seasons/{id}/standings", "The table of the season's main competition."), standings);
    let path = "/seasons/{id}/standings/changes";
    let doc = "What moved the table other than a round handed in on time: who, when, why.";
    routes.add(lists(path, doc, Member, views::standings_change()), changes);
}

/// Describes the route of a table.
pub(super) fn table_route(path: &'static str, summary: &'static str) -> RouteDoc {
    RouteDoc {
        query: &[
            ("flight", "Only this flight."),
            ("after_event", "Looks back: events up to this one."),
            ("bom", "1: the CSV begins with a byte order mark, for spreadsheets that need it."),
        ],
        answers: Media::JsonOrCsv(tables::standings()),
        ..reads(path, summary, Access::Member, Schema::Anything)
    }
}
