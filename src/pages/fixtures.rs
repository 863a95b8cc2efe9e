//! The fixtures of a competition: by night, and drawn.

use super::fields::{Field, FormPage, Kind, field};
use super::form::{Form, checked_body};
use super::typed::{choice, number, text};
use super::{Frame, lines, page, see_other};
use crate::domain::competition::knock_out::draw;
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
    let mut how = vec![("one", "One fixture"), (KNOCK_OUT, "A knock-out: whoever loses is out")];
    if view.terms.is_of_teams() {
        how.push(("1", "A round robin: every pair meets once"));
        how.push(("2", "A round robin: every pair meets twice"));
    }
    fields.push(choice("how", "What to add", &how));
    let from = "Event; rounds go on from it, an event for each";
    fields.push(field("event", from, Kind::Choice(events), ""));
    if view.terms.is_of_teams() {
        fields.push(text("bays", "Bays of a round robin, between commas (leave empty for none)", ""));
    }
    let in_order = seeded(app, caller, &view).await?;
    let named = in_order.iter().filter_map(|id| sides.iter().find(|(side, _)| side == id));
    let names: Vec<&str> = named.map(|(_, name)| name.as_str()).collect();
    fields.push(field("seeds", "Seeds of a knock-out: a name a line, the best first", Kind::Lines, names.join("\n")));
    let beside = [
        ("no", "No"),
        ("third_place", "The match for third place"),
        ("consolation", "A consolation of those who lost in the first round"),
        ("both", "Both"),
    ];
    fields.push(choice("beside", "What a knock-out plays beside", &beside));
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

const KNOCK_OUT: &str = "knock_out";

/// Returns who competes in the order of the season's table: of its first team competition where teams compete, else of its
/// main one; a knock-out is seeded by it.
async fn seeded(app: &App, caller: Caller, view: &CompetitionView) -> Result<Vec<String>, Problem> {
    let of_teams = view.terms.is_of_teams();
    let all = app.leagues.competitions_by_position(caller, view.season_id).await?;
    let by = all.iter().find(|other| other.id != view.id && other.terms.is_of_teams() == of_teams);
    let Some(by) = by else { return Ok(Vec::new()) };
    let (table, _) = app.leagues.standings(caller, view.season_id, Some(by.id), None, None).await?;
    let teams = table.items.matches().iter().filter_map(|row| row.side.team_id.map(|id| id.to_string()));
    let members = table.items.cards().iter().filter(|row| row.position.is_some()).map(|row| row.member_id.to_string());
    Ok(teams.chain(members).take(MOST_TEAMS).collect())
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

/// Makes the body of what was asked for. A round robin and a knock-out take the events from the chosen one on, as many as they have rounds.
async fn body(app: &App, caller: Caller, view: &CompetitionView, form: &Form) -> Result<Value, Problem> {
    let id = if view.terms.is_of_teams() { "team_id" } else { "member_id" };
    let rounds_from = |open: &[EventView], rounds: usize| -> Vec<String> {
        let from = open.iter().skip_while(|event| event.id.to_string() != form.text("event"));
        from.take(rounds).map(|event| event.id.to_string()).collect()
    };
    if form.text("how") == KNOCK_OUT {
        let league = app.leagues.document::<Competition>(caller, &COMPETITIONS, view.id.0).await?.league;
        let known = sides(app, caller, league, view).await?;
        let known: Vec<(&str, String)> = known.iter().map(|(id, name)| (id.as_str(), name.clone())).collect();
        let (none, things) = if view.terms.is_of_teams() { ("no team", "teams") } else { ("nobody", "players") };
        let line = |name: &str| Ok(json!({ id: lines::only(&known, name, none, things)? }));
        let seeds = lines::read(form.text("seeds"), MOST_TEAMS, "/seeds", line)?;
        let events = rounds_from(&to_come(app, caller, view.season_id).await?, draw(seeds.len()).rounds as usize);
        let beside = form.text("beside");
        let is_played = |what| beside == what || beside == "both";
        return Ok(json!({ KNOCK_OUT: {
            "seeds": seeds, "events": events, "third_place": is_played("third_place"),
            "consolation": is_played("consolation"),
        } }));
    }
    let times = number(form, "how");
    if let Some(times) = times.as_u64() {
        let all = app.leagues.teams(caller, view.season_id, Uuid::nil(), MOST_TEAMS as i64).await?;
        let competes = |id| view.terms.teams.as_ref().is_none_or(|teams| teams.contains(&id));
        let teams = all.iter().filter(|team| competes(team.id)).count();
        let rounds = (teams + teams % 2).saturating_sub(1) * usize::try_from(times).unwrap_or(1);
        let events = rounds_from(&to_come(app, caller, view.season_id).await?, rounds);
        let bays = form.text("bays").split(',').map(str::trim).filter(|bay| !bay.is_empty()).collect::<Vec<_>>();
        return Ok(json!({ "round_robin": { "times": times, "events": events, "bays": bays } }));
    }
    let side = |name: &str| form.given(name).map(|side| json!({ id: side }));
    Ok(json!([{
        "event_id": form.text("event"), "a": side("a"), "b": side("b"), "bay": form.given("bay"),
        "slot": form.given("slot"),
    }]))
}

fn owner(pointer: &str) -> &'static str {
    const NAMES: [(&str, &str); 9] = [
        ("events", "event"),
        ("event_id", "event"),
        ("bays", "bays"),
        ("bay", "bay"),
        ("slot", "slot"),
        ("seeds", "seeds"),
        ("third_place", "beside"),
        ("consolation", "beside"),
        ("a", "a"),
    ];
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
