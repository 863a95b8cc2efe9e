//! Teams of a season: who is in them, when, and whether they still play.

use super::fields::{Field, FormPage, Kind, field, version};
use super::form::{Form, checked_body};
use super::names::Names;
use super::typed::{same_name, text};
use super::{Frame, page, see_other};
use crate::domain::facts::{Season, Team};
use crate::domain::ids::{LeagueId, SeasonId, TeamId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::competition::team::TeamView;
use crate::league::views::CompetitionView;
use crate::storage::documents::SEASONS;
use crate::wire::body::matches::{MOST_TEAMS, team_fields};
use crate::wire::schema::Schema;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde_json::{Value, json};
use std::collections::HashMap;
use uuid::Uuid;

#[derive(Template)]
#[template(path = "teams.html")]
struct TeamsPage {
    frame: Frame,
    season: SeasonId,
    name: String,
    teams: Vec<TeamView>,
    names: Names,
    /// The competitions that have fixtures.
    competitions: Vec<CompetitionView>,
}

impl TeamsPage {
    fn members(&self, team: &Team) -> String {
        lines(team, &self.names).join("; ")
    }
}

async fn teams(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let season = SeasonId(id.0);
    let found = app.leagues.document::<Season>(caller, &SEASONS, season.0).await?;
    let mut competitions = app.leagues.competitions_by_position(caller, season).await?;
    competitions.retain(|listed| !listed.terms.ranks_cards());
    page(&TeamsPage {
        frame: Frame::in_league(&app, caller, found.league).await?,
        season,
        name: found.body.name,
        teams: app.leagues.teams(caller, season, Uuid::nil(), MOST_TEAMS as i64).await?,
        names: Names::of(&app, caller, found.league).await?,
        competitions,
    })
}

/// Writes the members of a team, one a line: `Name`, `Name, from 2027-02-01`, `Name, until 2027-02-01`.
fn lines(team: &Team, names: &Names) -> Vec<String> {
    let line = |member: &crate::domain::facts::TeamMember| {
        let from = member.from.map(|day| format!(", from {day}")).unwrap_or_default();
        let until = member.until.map(|day| format!(", until {day}")).unwrap_or_default();
        format!("{}{from}{until}", names.name(&member.member_id))
    };
    team.members.iter().map(line).collect()
}

fn fields(team: Option<&Team>, names: &Names) -> Vec<Field> {
    let members = team.map(|team| lines(team, names).join("\n")).unwrap_or_default();
    let captain = team.and_then(|team| team.captain).map(|captain| names.name(&captain).to_owned());
    let withdrawn = team.and_then(|team| team.withdrawn);
    let results = [
        ("", "It plays"),
        ("stand", "It has withdrawn: later fixtures are walk-overs"),
        ("void", "It has withdrawn: no table counts its fixtures"),
    ];
    let results = results.map(|(value, words)| (value.to_owned(), words.to_owned())).to_vec();
    let is = withdrawn.map_or("", |gone| match gone.results {
        crate::domain::facts::WithdrawnResults::Stand => "stand",
        crate::domain::facts::WithdrawnResults::Void => "void",
    });
    let mut fields = vec![
        text("name", "Name of the team", team.map_or("", |team| &team.name)),
        field(
            "members",
            "Members, one a line (a date may follow: “Ann, from 2027-02-01, until 2027-03-01”)",
            Kind::Lines,
            members,
        ),
        text("captain", "Captain (one of the members; leave empty for none)", &captain.unwrap_or_default()),
    ];
    if team.is_some() {
        fields.push(field("results", "Whether it plays", Kind::Choice(results), is));
        let from = withdrawn.map(|gone| gone.from.to_string()).unwrap_or_default();
        fields.push(field("withdrawn", "Withdrawn from (date)", Kind::Input("date"), from));
    }
    fields
}

/// Makes the body of a team from what was typed. A name that tells nobody goes on to where it is refused.
fn body(form: &Form, names: &HashMap<String, Uuid>) -> Value {
    let member = |name: &str| names.get(&name.trim().to_lowercase()).map_or_else(|| json!(name.trim()), |id| json!(id));
    let line = |line: &str| {
        let mut parts = line.split(',').map(str::trim);
        let mut body = json!({ "member_id": member(parts.next().unwrap_or_default()) });
        for part in parts {
            match part.split_once(' ') {
                Some((word @ ("from" | "until"), day)) => body[word] = json!(day.trim()),
                _ => body[part] = Value::Null,
            }
        }
        body
    };
    let members: Vec<Value> = form.text("members").lines().filter(|text| !text.trim().is_empty()).map(line).collect();
    let withdrawn = form.given("results").map(|results| json!({ "results": results, "from": form.text("withdrawn") }));
    json!({
        "name": form.text("name"), "members": members, "captain": form.given("captain").map(member),
        "withdrawn": withdrawn,
    })
}

/// Reads the members by name; a name that several share tells nobody, so that no wrong one is taken.
async fn ids_by_name(app: &App, caller: Caller, league: LeagueId) -> Result<HashMap<String, Uuid>, Problem> {
    let mut ids: HashMap<String, Vec<Uuid>> = HashMap::new();
    for member in app.leagues.members_of(caller, league, Uuid::nil(), i64::MAX).await? {
        ids.entry(member.member.display_name.to_lowercase()).or_default().push(member.id.0);
    }
    Ok(ids.into_iter().filter(|(_, ids)| ids.len() == 1).map(|(name, ids)| (name, ids[0])).collect())
}

fn owner(pointer: &str) -> &'static str {
    match pointer.split('/').nth(1) {
        Some("members") => "members",
        Some("captain") => "captain",
        Some("withdrawn") => "withdrawn",
        _ => same_name(pointer),
    }
}

async fn new_form(app: &App, caller: Caller, season: SeasonId) -> Result<(FormPage, LeagueId), Problem> {
    let found = app.leagues.document::<Season>(caller, &SEASONS, season.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let names = Names::of(app, caller, found.league).await?;
    let title = format!("Add a team to {}", found.body.name);
    let mut form = FormPage::new(frame, title, format!("/seasons/{season}/teams/new"), fields(None, &names));
    form.button = "Add the team";
    Ok((form, found.league))
}

async fn new(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&new_form(&app, caller, SeasonId(id.0)).await?.0)
}

async fn add(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let season = SeasonId(id.0);
    let (shown, league) = new_form(&app, caller, season).await?;
    let body = body(&form, &ids_by_name(&app, caller, league).await?);
    let done = async {
        let operation = format!("POST /seasons/{season}/teams/new");
        let schema = Schema::Object(team_fields());
        let (key, team) = checked_body::<Team>(&app, caller, operation, &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.create_team(key, season, team).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/seasons/{season}/teams"))),
        Err(problem) => shown.again(&form, problem, owner),
    }
}

async fn edit_form(app: &App, caller: Caller, id: TeamId) -> Result<(FormPage, TeamView, LeagueId), Problem> {
    let (view, version) = app.leagues.team(caller, id).await?;
    let league = app.leagues.document::<Season>(caller, &SEASONS, view.season_id.0).await?.league;
    app.leagues.may_organize(caller, league).await?;
    let frame = Frame::in_league(app, caller, league).await?;
    let names = Names::of(app, caller, league).await?;
    let fields = fields(Some(&view.team), &names);
    let title = format!("Change {}", view.team.name);
    let mut form = FormPage::of_version(frame, title, format!("/teams/{id}"), fields, version);
    form.hint = "Let members join or leave by dates: who was in the team on the day of a final event stands.";
    Ok((form, view, league))
}

async fn edit(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&edit_form(&app, caller, TeamId(id.0)).await?.0)
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = TeamId(id.0);
    let (shown, view, league) = edit_form(&app, caller, id).await?;
    let body = body(&form, &ids_by_name(&app, caller, league).await?);
    let done = async {
        let schema = Schema::Object(team_fields());
        let (_, team) = checked_body::<Team>(&app, caller, format!("POST /teams/{id}"), &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.change_team(caller, id, version(&form), move |_| Ok(team)).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/seasons/{}/teams", view.season_id))),
        Err(problem) => shown.again(&form, problem, owner),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/seasons/{id}/teams").route(super::reads().to(teams)))
        .service(at("/seasons/{id}/teams/new").route(super::reads().to(new)).route(web::post().to(add)))
        .service(at("/teams/{id}").route(super::reads().to(edit)).route(web::post().to(change)));
}
