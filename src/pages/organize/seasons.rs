//! Seasons: created, changed, deleted.

use crate::domain::facts::Season;
use crate::domain::ids::{LeagueId, SeasonId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::views::NewSeason;
use crate::pages::ask::{Question, is_answered};
use crate::pages::competition;
use crate::pages::fields::{FormPage, Kind, field, version};
use crate::pages::form::{Form, checked_body};
use crate::pages::home::events;
use crate::pages::typed::{choice, first_part, handicap_of, number, same_name, text, typed};
use crate::pages::words;
use crate::pages::{Frame, page, reads, see_other};
use crate::storage::documents::SEASONS;
use crate::wire::body;
use crate::wire::schema::Schema;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use serde_json::{Value, json};

fn season_form(frame: Frame, league: LeagueId) -> FormPage {
    let fields = vec![
        text("name", "Name of the season", ""),
        field("starts_on", "First day", Kind::Input("date"), ""),
        field("ends_on", "Last day", Kind::Input("date"), ""),
        text("concession_ft", "Gimme distance, ft (0 = none)", "0"),
    ];
    let fields = fields.into_iter().chain(competition::questions(false)).filter(|field| field.name != "apart");
    let action = format!("/leagues/{league}/seasons/new");
    let mut form = FormPage::new(frame, "Create a season", action, fields.collect());
    form.hint = "Its first competition comes with it; you can add others later.";
    form
}

async fn new_season(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    app.leagues.may_organize(caller, LeagueId(id.0)).await?;
    page(&season_form(Frame::in_league(&app, caller, LeagueId(id.0)).await?, LeagueId(id.0)))
}

fn season_body(form: &Form) -> Value {
    let name = form.text("name");
    json!({
        "name": name, "starts_on": form.text("starts_on"), "ends_on": form.text("ends_on"),
        "concession_ft": number(form, "concession_ft"),
        "competitions": [competition::answered(form, name, &[])],
    })
}

async fn add_season(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let league = LeagueId(id.0);
    let schema = body::season::new_season();
    let done = async {
        let operation = format!("POST /leagues/{league}/seasons/new");
        let (key, made) = checked_body::<NewSeason>(&app, caller, operation, &form, &season_body(&form), &schema)?;
        Ok::<_, Problem>(app.leagues.create_season(key, league, made).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/leagues/{league}/organize"))),
        Err(problem) => {
            season_form(Frame::in_league(&app, caller, league).await?, league).again(&form, problem, same_name)
        }
    }
}

const SOFTENED: [(&str, &str); 2] = [("count", "They count like others"), ("leave_out", "They are left out")];

/// Writes flights a line each: the name, and the highest index after a sign of equality.
fn flight_lines(season: &Season) -> String {
    let line = |flight: &crate::domain::facts::Flight| match flight.handicap_max {
        Some(most) => format!("{} = {}", flight.name, words::handicap(&Some(most))),
        None => flight.name.clone(),
    };
    season.flights.iter().map(line).collect::<Vec<_>>().join("\n")
}

/// Reads flights as [`flight_lines`] writes them.
fn flights(typed: &str) -> Value {
    let line = |line: &str| match line.rsplit_once('=') {
        Some((name, most)) => json!({ "name": name.trim(), "handicap_max": handicap_of(most) }),
        None => json!({ "name": line.trim() }),
    };
    typed.lines().filter(|text| !text.trim().is_empty()).map(line).collect()
}

async fn edit_form(app: &App, caller: Caller, id: SeasonId) -> Result<FormPage, Problem> {
    let found = app.leagues.document::<Season>(caller, &SEASONS, id.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let body = serde_json::to_value(&found.body).unwrap_or_default();
    let audit = &body["audit"];
    let mut softened = choice("softened_putts", "Putts that a simulator is declared to straighten", &SOFTENED);
    softened.value = typed(&audit["softened_putts"]);
    let handicap = &body["handicap"];
    let mut plays_off = choice("kind", "What players play off", &PLAYS_OFF);
    plays_off.value = typed(&handicap["kind"]);
    let mut nines = choice("nines", "Differentials of nine holes", &NINES);
    nines.value = typed(&handicap["nines"]);
    let mut frozen = vec![(String::new(), "never".to_owned())];
    frozen.extend(events(app, caller, id).await?.into_iter().map(|event| (event.id.to_string(), event.event.name)));
    let flights = "Flights, one per line, lowest indexes first: name = highest index; the last one needs none";
    let alarm = "Fair play: of 100 wholly honest seasons, show a finding in at most (over 0, up to 50)";
    let fields = vec![
        text("name", "Name of the season", &found.body.name),
        field("starts_on", "First day", Kind::Input("date"), typed(&body["starts_on"])),
        field("ends_on", "Last day", Kind::Input("date"), typed(&body["ends_on"])),
        text("concession_ft", "Gimme distance, ft (0 = none)", &typed(&body["concession_ft"])),
        text("query_hours", "Hours in which a card can be queried (0 to 1440)", &typed(&body["query_hours"])),
        plays_off,
        text("last", "Average: of how many of the latest differentials (1 to 40)", &typed(&handicap["last"])),
        text("best", "Average: how many of the best of those count", &typed(&handicap["best"])),
        text("pct", "Average: of which so many % (0 to 200)", &typed(&handicap["pct"])),
        text(
            "limit",
            "Most strokes that anybody receives over 18 holes (leave empty for none)",
            &typed(&handicap["limit"]),
        ),
        nines,
        field("frozen_from", "Handicaps stop moving from", Kind::Choice(frozen), typed(&handicap["frozen_from"])),
        field("flights", flights, Kind::Lines, flight_lines(&found.body)),
        softened,
        text("false_alarm_pct", alarm, &typed(&audit["false_alarm_pct"])),
        text("field_size", "Fair play: number of players that this is for", &typed(&audit["field_size"])),
        text("answer_days", "Fair play: days to reply to a finding (1 to 90)", &typed(&audit["answer_days"])),
    ];
    let title = format!("Edit {}", found.body.name);
    let mut form = FormPage::of_version(frame, title, format!("/seasons/{id}/edit"), fields, found.version);
    form.hint = "Once an event is final, the gimme distance, the flights, the limit of strokes and what becomes of nine holes \
                 are settled. Scoring belongs to the competitions.";
    form.back = format!("/seasons/{id}");
    form.acts.push((format!("/seasons/{id}/removal"), "Delete this season…"));
    Ok(form)
}

const PLAYS_OFF: [(&str, &str); 3] = [
    ("computed", "The league index"),
    ("declared", "A handicap that the organizer declares (the starting handicap)"),
    ("average", "An average of the latest differentials"),
];

const NINES: [(&str, &str); 2] = [("pair", "Two make one of 18 holes"), ("double", "Each counts twice")];

const AVERAGE: [&str; 3] = ["last", "best", "pct"];

/// Makes the handicap terms of what was answered.
fn handicap(form: &Form) -> Value {
    let mut terms = json!({
        "kind": form.text("kind"), "limit": number(form, "limit"), "nines": form.text("nines"),
        "frozen_from": form.given("frozen_from"),
    });
    if form.text("kind") == "average" {
        for name in AVERAGE {
            terms[name] = number(form, name);
        }
    }
    terms
}

async fn edit(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&edit_form(&app, caller, SeasonId(id.0)).await?)
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = SeasonId(id.0);
    let shown = edit_form(&app, caller, id).await?;
    let patch = json!({
        "name": form.text("name").trim(), "starts_on": form.text("starts_on"), "ends_on": form.text("ends_on"),
        "concession_ft": number(&form, "concession_ft"), "query_hours": number(&form, "query_hours"),
        "flights": flights(form.text("flights")),
        "handicap": handicap(&form),
        "audit": {
            "softened_putts": form.text("softened_putts"), "false_alarm_pct": number(&form, "false_alarm_pct"),
            "field_size": number(&form, "field_size"), "answer_days": number(&form, "answer_days"),
        },
    });
    let mut patch = shown.only_changed(&form, patch);
    if patch["handicap"]["kind"].is_string() {
        // What an average is made of comes and goes with it.
        let was_average = shown.fields.iter().any(|field| field.name == "kind" && field.value == "average");
        for name in AVERAGE {
            match form.text("kind") {
                "average" => patch["handicap"][name] = number(&form, name),
                _ if was_average => patch["handicap"][name] = Value::Null,
                _ => {}
            }
        }
    }
    let done = async {
        let body = || Schema::Object(body::season::season_fields());
        let patched = Body(Bytes::from(patch.to_string())).patch::<Season>(body)?;
        Ok::<_, Problem>(app.leagues.change_season(caller, id, version(&form), patched).await?)
    };
    let done = done.await;
    shown.changed(&form, done, first_part, &format!("/seasons/{id}"))
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = SeasonId(id.0);
    let found = app.leagues.document::<Season>(caller, &SEASONS, id.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let names: Vec<String> = events(&app, caller, id).await?.into_iter().map(|event| event.event.name).collect();
    let mut lost = vec!["The season with its competitions and the results that were carried over into it.".to_owned()];
    if !names.is_empty() {
        lost.push(format!("Its events: {}.", names.join(", ")));
    }
    let question = Question {
        title: format!("Delete the season {}?", found.body.name),
        lost,
        stays: vec![
            "Players, courses and every other season. A season in which a card was handed in cannot be deleted.".into(),
            "The audit log, which says that you deleted it.".into(),
        ],
        action: format!("/seasons/{id}/removal"),
        button: "Delete this season".into(),
        back: format!("/seasons/{id}/edit"),
        frame: Frame::in_league(&app, caller, found.league).await?,
        ..Question::default()
    };
    if !is_answered(&form) {
        return question.ask();
    }
    match app.leagues.remove_season(caller, id, IfMatch::Version(found.version)).await {
        Ok(league) => Ok(see_other(&format!("/leagues/{league}/organize"))),
        Err(refusal) => question.refused(&form, refusal.into()),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/leagues/{id}/seasons/new").route(reads().to(new_season)).route(web::post().to(add_season)))
        .service(at("/seasons/{id}/edit").route(reads().to(edit)).route(web::post().to(change)))
        .service(at("/seasons/{id}/removal").route(web::post().to(remove)));
}
