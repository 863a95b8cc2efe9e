//! The fixtures of a competition: by night, and drawn.

use super::fields::{Field, FormPage, Kind, field};
use super::form::{Form, checked_body};
use super::typed::{choice, number, text};
use super::{Frame, page, see_other};
use crate::domain::competition::match_shown::FixtureShown;
use crate::domain::facts::{Competition, EventState};
use crate::domain::ids::{CompetitionId, LeagueId, SeasonId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::competition::fixture::NewFixtures;
use crate::league::views::{CompetitionView, EventView};
use crate::pages::home::events;
use crate::pages::words;
use crate::storage::documents::COMPETITIONS;
use crate::wire::body::matches::{MOST_FIXTURES, MOST_TEAMS, new_fixtures};
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde_json::{Value, json};
use uuid::Uuid;

#[derive(Template)]
#[template(path = "fixtures.html")]
struct FixturesPage {
    frame: Frame,
    view: CompetitionView,
    /// Each event that has fixtures, with these.
    nights: Vec<(EventView, Vec<FixtureShown>)>,
}

async fn fixtures(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let id = CompetitionId(id.0);
    let found = app.leagues.document::<Competition>(caller, &COMPETITIONS, id.0).await?;
    let frame = Frame::in_league(&app, caller, found.league).await?;
    let view = CompetitionView::from(found);
    let mut all = app.leagues.fixtures(caller, id, Uuid::nil(), MOST_FIXTURES as i64).await?;
    let mut nights = Vec::new();
    for event in events(&app, caller, view.season_id).await? {
        let (here, elsewhere): (Vec<_>, Vec<_>) = all.into_iter().partition(|fixture| fixture.event_id == event.id);
        all = elsewhere;
        if !here.is_empty() {
            nights.push((event, here));
        }
    }
    page(&FixturesPage { frame, view, nights })
}

/// Who may stand on a side: the id with its name.
async fn sides(
    app: &App,
    caller: Caller,
    league: LeagueId,
    view: &CompetitionView,
) -> Result<Vec<(String, String)>, Problem> {
    if view.terms.is_of_teams() {
        let teams = app.leagues.teams(caller, view.season_id, Uuid::nil(), MOST_TEAMS as i64).await?;
        return Ok(teams.into_iter().map(|team| (team.id.to_string(), team.team.name)).collect());
    }
    let members = app.leagues.members_of(caller, league, Uuid::nil(), i64::MAX).await?;
    Ok(members.into_iter().map(|member| (member.id.to_string(), member.member.display_name)).collect())
}

async fn new_form(app: &App, caller: Caller, id: CompetitionId) -> Result<(FormPage, CompetitionView), Problem> {
    let found = app.leagues.document::<Competition>(caller, &COMPETITIONS, id.0).await?;
    let league = found.league;
    app.leagues.may_organize(caller, league).await?;
    let frame = Frame::in_league(app, caller, league).await?;
    let view = CompetitionView::from(found);
    let sides = sides(app, caller, league, &view).await?;
    let open = to_come(app, caller, view.season_id).await?;
    let events: Vec<(String, String)> =
        open.iter().map(|event| (event.id.to_string(), event.event.name.clone())).collect();
    let mut fields: Vec<Field> = Vec::new();
    if view.terms.is_of_teams() {
        let how = [
            ("one", "One fixture"),
            ("1", "A round robin: every pair meets once"),
            ("2", "A round robin: every pair meets twice"),
        ];
        fields.push(choice("how", "What to add", &how));
        fields.push(text("bays", "Bays of a round robin, between commas (leave empty for none)", ""));
    }
    fields.push(field(
        "event",
        "Event; a round robin goes on from it, an event for each round",
        Kind::Choice(events),
        "",
    ));
    let mut other = sides.clone();
    other.push((String::new(), "Nobody: a bye".into()));
    fields.push(field("a", "First side of one fixture", Kind::Choice(sides), ""));
    fields.push(field("b", "Second side of one fixture", Kind::Choice(other), ""));
    fields.push(text("bay", "Bay of one fixture (leave empty for none)", ""));
    fields.push(text("slot", "Time of one fixture (leave empty for none)", ""));
    let title = format!("Add fixtures to {}", view.terms.name);
    let mut form = FormPage::new(frame, title, format!("/competitions/{id}/fixtures/new"), fields);
    form.button = "Add";
    Ok((form, view))
}

/// The events of a season that are not final, in their order.
async fn to_come(app: &App, caller: Caller, season: SeasonId) -> Result<Vec<EventView>, Problem> {
    let mut open = events(app, caller, season).await?;
    open.retain(|event| event.event.state != Some(EventState::Final));
    Ok(open)
}

async fn new(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&new_form(&app, caller, CompetitionId(id.0)).await?.0)
}

/// Makes the body of what was asked for. A round robin takes the events from the chosen one on, as many as it has rounds.
async fn body(app: &App, caller: Caller, view: &CompetitionView, form: &Form) -> Result<Value, Problem> {
    let times = number(form, "how");
    if let Some(times) = times.as_u64() {
        let all = app.leagues.teams(caller, view.season_id, Uuid::nil(), MOST_TEAMS as i64).await?;
        let competes = |id| view.terms.teams.as_ref().is_none_or(|teams| teams.contains(&id));
        let teams = all.iter().filter(|team| competes(team.id)).count();
        let rounds = (teams + teams % 2).saturating_sub(1) * usize::try_from(times).unwrap_or(1);
        let open = to_come(app, caller, view.season_id).await?;
        let from = open.iter().skip_while(|event| event.id.to_string() != form.text("event"));
        let events: Vec<String> = from.take(rounds).map(|event| event.id.to_string()).collect();
        let bays = form.text("bays").split(',').map(str::trim).filter(|bay| !bay.is_empty()).collect::<Vec<_>>();
        return Ok(json!({ "round_robin": { "times": times, "events": events, "bays": bays } }));
    }
    let id = if view.terms.is_of_teams() { "team_id" } else { "member_id" };
    let side = |name: &str| form.given(name).map(|side| json!({ id: side }));
    Ok(json!([{
        "event_id": form.text("event"), "a": side("a"), "b": side("b"), "bay": form.given("bay"),
        "slot": form.given("slot"),
    }]))
}

fn owner(pointer: &str) -> &'static str {
    const NAMES: [(&str, &str); 6] =
        [("events", "event"), ("event_id", "event"), ("bays", "bays"), ("bay", "bay"), ("slot", "slot"), ("a", "a")];
    let named = NAMES.iter().find(|(part, _)| pointer.split('/').any(|found| found == *part));
    named.map_or(if pointer.split('/').any(|part| part == "b") { "b" } else { "" }, |(_, name)| name)
}

async fn add(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = CompetitionId(id.0);
    let (shown, view) = new_form(&app, caller, id).await?;
    let done = async {
        let body = body(&app, caller, &view, &form).await?;
        let operation = format!("POST /competitions/{id}/fixtures/new");
        let (key, asked) = checked_body::<NewFixtures>(&app, caller, operation, &form, &body, &new_fixtures())?;
        Ok::<_, Problem>(app.leagues.create_fixtures(key, id, asked).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/competitions/{id}/fixtures"))),
        Err(problem) => shown.again(&form, problem, owner),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/competitions/{id}/fixtures").route(super::reads().to(fixtures)))
        .service(at("/competitions/{id}/fixtures/new").route(super::reads().to(new)).route(web::post().to(add)));
}
