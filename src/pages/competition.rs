//! Competitions: laid down by answering questions, their terms in sentences, removed.

use super::ask::{Question, is_answered};
use super::competition_edit::numbers;
use super::counted_events;
use super::fields::{Field, FormPage, Kind, field};
use super::form::{Form, checked_body};
use super::typed::{choice, id_of, number, same_name, text};
use super::{Frame, page, see_other};
use crate::domain::competition::term::Term;
use crate::domain::facts::{Competition, Season};
use crate::domain::ids::{CompetitionId, EventId, LeagueId, SeasonId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::views::CompetitionView;
use crate::storage::documents::{COMPETITIONS, SEASONS};
use crate::wire::body;
use crate::wire::schema::Schema;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde_json::{Value, json};
use uuid::Uuid;

/// The questions that lay a competition down; `with_matches` where another one of the season ranks cards.
pub(super) fn questions(with_matches: bool) -> Vec<Field> {
    let score = [
        ("strokes", "Strokes"),
        ("points", "Stableford points"),
        ("par_bogey", "Par or bogey: holes won and lost against par"),
        ("double_par", "Strokes, at most twice par a hole"),
        ("net_double_bogey", "Strokes, at most net double bogey a hole"),
        ("quota", "Points above a quota"),
    ];
    let meeting = [
        ("field", "Everybody against everybody, by the total"),
        ("hole", "Hole by hole: skins"),
        ("season", "The best of each hole over the season"),
    ];
    let mut meeting = meeting.to_vec();
    if with_matches {
        meeting.push(("match", "In matches, two sides hole by hole: teams, or players one by one"));
    }
    let mut questions = vec![
        choice("score", "What counts on a hole", &score),
        choice("basis", "With or without handicap strokes", &[("net", "Net"), ("gross", "Gross")]),
        text("allowance_pct", "Handicap allowance, % (0 to 200; leave empty for the usual one)", ""),
        choice("meeting", "How players meet", &meeting),
        text("award", "Points by finishing place (leave empty to add up scores)", "12 10 8 7 6 5 4 3 2 1"),
        text("best", "Best results that count (leave empty for all)", ""),
        text("minimum", "Events to play before being ranked", "0"),
        choice("apart", "Who is ranked together", &[("", "Everybody"), ("flights", "Each flight apart")]),
        choice(
            "entry",
            "Who is in it",
            &[("", "Everybody with a card"), ("entry", "Only those who enter it for an event")],
        ),
    ];
    if with_matches {
        let stakes = [
            ("matches", "Matches of a fixture (1: players meet; 2 to 16: teams)", "1"),
            ("balls", "Balls of a side in a match (1: single players; 2 to 6: teams, the better ball counts)", "1"),
            ("per_match", "Points of a match", "1"),
            ("per_hole", "Points of a hole", "0"),
            ("per_total", "Points of the lower total of a fixture", "0"),
        ];
        questions.extend(stakes.map(|(name, label, usual)| text(name, label, usual)));
    }
    questions
}

/// Makes the body of a competition from what was answered. `flights` are the season's.
pub(super) fn answered(form: &Form, name: &str, flights: &[String]) -> Value {
    let score = match form.text("score") {
        limit @ ("double_par" | "net_double_bogey") => json!({ "kind": "maximum_score", "maximum": limit }),
        kind => json!({ "kind": kind }),
    };
    let places = numbers(form.text("award"));
    let award = match form.text("meeting") {
        "hole" | "match" => json!({ "kind": "by_points" }),
        "field" if !places.is_empty() => json!({ "kind": "by_place", "table": places }),
        _ => json!({ "kind": "by_score" }),
    };
    let meeting = match form.text("meeting") {
        "match" => {
            let points = ["per_match", "per_hole", "per_total"].map(|name| (name.to_owned(), number(form, name)));
            let points: serde_json::Map<String, Value> =
                points.into_iter().filter(|(_, points)| !points.is_null()).collect();
            json!({ "kind": "match", "matches": number(form, "matches"), "points": points })
        }
        kind => json!({ "kind": kind }),
    };
    let side = match number(form, "balls") {
        Value::Null => json!({ "kind": "player" }),
        one if one == json!(1) || form.text("meeting") != "match" => json!({ "kind": "player" }),
        balls => json!({ "kind": "best", "of": balls, "count": 1 }),
    };
    let apart = if form.text("apart") == "flights" { flights } else { &[] };
    json!({
        "name": name, "score": score, "basis": form.text("basis"), "allowance_pct": number(form, "allowance_pct"),
        "side": side, "meeting": meeting, "award": award, "field": { "flights": apart, "by_entry": form.text("entry") == "entry" },
        "counting": { "best": number(form, "best"), "minimum": number(form, "minimum") },
    })
}

/// What the form of a new competition is made from.
struct NewForm {
    shown: FormPage,
    flights: Vec<String>,
    events: Vec<(EventId, String)>,
}

async fn new_form(app: &App, caller: Caller, season: SeasonId) -> Result<NewForm, Problem> {
    let found = app.leagues.document::<Season>(caller, &SEASONS, season.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let mut fields = vec![text("name", "Name of the competition", "")];
    fields.extend(questions(true));
    fields.push(text("position", "Place among the competitions (1 to 1000; the lowest is the main one)", "2"));
    fields.push(field("events", counted_events::LABEL, Kind::Lines, String::new()));
    let events = app.leagues.events_of(caller, season, Uuid::nil(), i64::MAX).await?;
    let events = events.into_iter().map(|event| (EventId(event.id), event.body.name)).collect();
    let title = format!("Add a competition to {}", found.body.name);
    let mut form = FormPage::new(frame, title, format!("/seasons/{season}/competitions/new"), fields);
    form.hint = "All cards of its events count in it, including those already handed in.";
    form.button = "Add the competition";
    let flights = found.body.flights.into_iter().map(|flight| flight.name).collect();
    Ok(NewForm { shown: form, flights, events })
}

async fn new(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&new_form(&app, caller, SeasonId(id.0)).await?.shown)
}

async fn add(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let season = SeasonId(id.0);
    let NewForm { shown, flights, events } = new_form(&app, caller, season).await?;
    let mut body = answered(&form, form.text("name"), &flights);
    body["position"] = number(&form, "position");
    let schema = Schema::Object(body::competition::competition_fields());
    let done = async {
        body["events"] = counted_events::read(form.text("events"), &events)?;
        let operation = format!("POST /seasons/{season}/competitions/new");
        let (key, terms) = checked_body::<Competition>(&app, caller, operation, &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.create_competition(key, season, terms).await?)
    };
    match done.await {
        Ok(reply) => Ok(see_other(&format!("/competitions/{}", id_of(&reply)))),
        Err(problem) => shown.again(&form, problem, same_name),
    }
}

#[derive(Template)]
#[template(path = "competition.html")]
struct TermsPage {
    frame: Frame,
    league: LeagueId,
    season: String,
    view: CompetitionView,
    version: i64,
    terms: Vec<Term>,
}

async fn read(app: &App, caller: Caller, id: CompetitionId) -> Result<TermsPage, Problem> {
    let found = app.leagues.document::<Competition>(caller, &COMPETITIONS, id.0).await?;
    let (league, version, view) = (found.league, found.version, CompetitionView::from(found));
    let season = app.leagues.document::<Season>(caller, &SEASONS, view.season_id.0).await?.body.name;
    let terms = app.leagues.terms_of(caller, id).await?;
    Ok(TermsPage { frame: Frame::in_league(app, caller, league).await?, league, season, view, version, terms })
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&read(&app, caller, CompetitionId(id.0)).await?)
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = CompetitionId(id.0);
    let TermsPage { frame, view, version, league, .. } = read(&app, caller, id).await?;
    app.leagues.may_organize(caller, league).await?;
    let question = Question {
        title: format!("Remove the competition {}?", view.terms.name),
        lost: vec!["Its table, and its places on the boards.".into()],
        stays: vec!["Every card, and every other competition.".into()],
        action: format!("/competitions/{id}/removal"),
        button: "Remove it".into(),
        back: format!("/competitions/{id}"),
        frame,
        ..Question::default()
    };
    if !is_answered(&form) {
        return question.ask();
    }
    match app.leagues.remove_competition(caller, id, IfMatch::Version(version)).await {
        Ok(()) => Ok(see_other(&format!("/seasons/{}", view.season_id))),
        Err(refusal) => question.refused(&form, refusal.into()),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/seasons/{id}/competitions/new").route(super::reads().to(new)).route(web::post().to(add)))
        .service(at("/competitions/{id}").route(super::reads().to(show)))
        .service(at("/competitions/{id}/removal").route(web::post().to(remove)));
}
