//! What a league brings along from before it came here: values of a season's tables, differentials of a player.

use super::ask::{Question, Typed, is_answered};
use super::fields::{FormPage, Kind, field};
use super::form::{Form, checked_body};
use super::typed::{number, one_of, text};
use super::{Frame, page, see_other, words};
use crate::domain::facts::{CarriedDifferential, CarriedResult, Competitor, Season};
use crate::domain::ids::{CompetitionId, LeagueId, MemberId, SeasonId, TeamId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::storage::documents::SEASONS;
use crate::wire::body::brought;
use crate::wire::body::matches::MOST_TEAMS;
use crate::wire::schema::Schema;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde_json::json;
use uuid::Uuid;

/// Something that was brought along, as a row.
struct Row {
    id: Uuid,
    what: String,
    value: String,
    source: String,
}

#[derive(Template)]
#[template(path = "carried.html")]
struct CarriedPage {
    frame: Frame,
    title: String,
    /// Where it is shown.
    at: String,
    rows: Vec<Row>,
    /// What stands where nothing was brought along.
    empty: &'static str,
}

/// A season with the names of those who have rows in its tables.
struct Around {
    league: LeagueId,
    name: String,
    competitions: Vec<(CompetitionId, String)>,
    members: Vec<(MemberId, String)>,
    teams: Vec<(TeamId, String)>,
}

fn name_of<T: PartialEq>(names: &[(T, String)], id: T) -> &str {
    names.iter().find(|(known, _)| *known == id).map_or("", |(_, name)| name)
}

async fn around(app: &App, caller: Caller, season: SeasonId) -> Result<Around, Problem> {
    let found = app.leagues.document::<Season>(caller, &SEASONS, season.0).await?;
    let competitions = app.leagues.competitions_by_position(caller, season).await?;
    let members = app.leagues.members_of(caller, found.league, Uuid::nil(), i64::MAX).await?;
    let teams = app.leagues.teams(caller, season, Uuid::nil(), MOST_TEAMS as i64).await?;
    Ok(Around {
        league: found.league,
        name: found.body.name,
        competitions: competitions.into_iter().map(|listed| (listed.id, listed.terms.name)).collect(),
        members: members.into_iter().map(|member| (member.id, member.member.display_name)).collect(),
        teams: teams.into_iter().map(|team| (team.id, team.team.name)).collect(),
    })
}

impl Around {
    fn row(&self, id: Uuid, carried: &CarriedResult) -> Row {
        let whose = match carried.competitor {
            Competitor::Member { member_id } => name_of(&self.members, member_id),
            Competitor::Team { team_id } => name_of(&self.teams, team_id),
        };
        let main = self.competitions.first().map(|(id, _)| *id);
        let table = carried.competition_id.or(main).map_or("", |id| name_of(&self.competitions, id));
        Row {
            id,
            what: format!("{whose}: {}, {table}", carried.label),
            value: words::number(carried.value),
            source: carried.source.clone(),
        }
    }
}

async fn results_page(app: &App, caller: Caller, season: SeasonId) -> Result<CarriedPage, Problem> {
    let around = around(app, caller, season).await?;
    let found = app.leagues.carried_results(caller, season).await?;
    Ok(CarriedPage {
        frame: Frame::in_league(app, caller, around.league).await?,
        title: format!("Brought along into {}", around.name),
        at: format!("/seasons/{season}/carried"),
        rows: found.iter().map(|found| around.row(found.id, &found.carried)).collect(),
        empty: "Nothing was brought along. Values from before the league came here count in the tables.",
    })
}

async fn results(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&results_page(&app, caller, SeasonId(id.0)).await?)
}

async fn result_form(app: &App, caller: Caller, season: SeasonId) -> Result<FormPage, Problem> {
    let around = around(app, caller, season).await?;
    app.leagues.may_organize(caller, around.league).await?;
    let frame = Frame::in_league(app, caller, around.league).await?;
    let mut who: Vec<(String, String)> =
        around.members.iter().map(|(id, name)| (format!("member_id {id}"), name.clone())).collect();
    who.extend(around.teams.iter().map(|(id, name)| (format!("team_id {id}"), format!("{name} (team)"))));
    let tables = around.competitions.iter().map(|(id, name)| (id.to_string(), name.clone())).collect();
    let fields = vec![
        field("who", "Player or team", Kind::Choice(who), ""),
        field("competition_id", "Table", Kind::Choice(tables), ""),
        text("label", "What it is called, such as Autumn", ""),
        text("value", "Value", ""),
        text("source", "Where it comes from", ""),
    ];
    let title = format!("Bring a value along into {}", around.name);
    Ok(FormPage::new(frame, title, format!("/seasons/{season}/carried/new"), fields))
}

async fn new_result(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&result_form(&app, caller, SeasonId(id.0)).await?)
}

async fn add_result(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let season = SeasonId(id.0);
    let shown = result_form(&app, caller, season).await?;
    let (whose, id) = form.text("who").split_once(' ').unwrap_or(("member_id", ""));
    let body = json!({
        whose: id, "competition_id": form.given("competition_id"), "label": form.text("label"),
        "value": number(&form, "value"), "source": form.text("source"),
    });
    let done = async {
        let operation = format!("POST /seasons/{season}/carried/new");
        let (key, carried) = checked_body::<CarriedResult>(&app, caller, operation, &form, &body, &brought::result())?;
        Ok::<_, Problem>(app.leagues.carry_result(key, season, carried).await?)
    };
    let owner = |pointer: &str| one_of(pointer, &["competition_id", "label", "value", "source"], "who");
    match done.await {
        Ok(_) => Ok(see_other(&format!("/seasons/{season}/carried"))),
        Err(problem) => shown.again(&form, problem, owner),
    }
}

async fn member(app: &App, caller: Caller, id: MemberId) -> Result<(Frame, String), Problem> {
    let (found, _) = app.leagues.member(caller, id).await?;
    Ok((Frame::in_league(app, caller, found.league_id).await?, found.member.display_name))
}

async fn differentials_page(app: &App, caller: Caller, id: MemberId) -> Result<CarriedPage, Problem> {
    let (frame, name) = member(app, caller, id).await?;
    let found = app.leagues.carried_differentials(caller, id).await?;
    let row = |id, carried: &CarriedDifferential| Row {
        id,
        what: carried.played_on.to_string(),
        value: carried.differential.to_string(),
        source: carried.source.clone(),
    };
    Ok(CarriedPage {
        frame,
        title: format!("Differentials that {name} brought along"),
        at: format!("/members/{id}/carried"),
        rows: found.iter().map(|found| row(found.id, &found.carried)).collect(),
        empty: "Nothing was brought along. Differentials from before the league came here count for the league index.",
    })
}

async fn differentials(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&differentials_page(&app, caller, MemberId(id.0)).await?)
}

async fn differential_form(app: &App, caller: Caller, id: MemberId) -> Result<FormPage, Problem> {
    let (frame, name) = member(app, caller, id).await?;
    app.leagues.may_organize(caller, frame.league.clone().ok_or_else(Problem::not_found)?.id).await?;
    let fields = vec![
        field("played_on", "Played on", Kind::Input("date"), ""),
        text("differential", "Differential of 18 holes, such as 12.3", ""),
        text("source", "Where it comes from", ""),
    ];
    Ok(FormPage::new(
        frame,
        format!("Bring a differential of {name} along"),
        format!("/members/{id}/carried/new"),
        fields,
    ))
}

async fn new_differential(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&differential_form(&app, caller, MemberId(id.0)).await?)
}

async fn add_differential(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = MemberId(id.0);
    let shown = differential_form(&app, caller, id).await?;
    let body = json!({
        "played_on": form.text("played_on"), "differential": number(&form, "differential"),
        "source": form.text("source"),
    });
    let done = async {
        let operation = format!("POST /members/{id}/carried/new");
        let schema = Schema::Object(brought::differential_fields());
        let (key, carried) = checked_body::<CarriedDifferential>(&app, caller, operation, &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.carry_differential(key, id, carried).await?)
    };
    let owner = |pointer: &str| one_of(pointer, &["differential", "source"], "played_on");
    match done.await {
        Ok(_) => Ok(see_other(&format!("/members/{id}/carried"))),
        Err(problem) => shown.again(&form, problem, owner),
    }
}

/// Asks before one goes, with the reason; `shown` is where it stands.
async fn remove(app: &App, caller: Caller, shown: CarriedPage, form: &Form) -> Answer {
    let id = Uuid::try_parse(form.text("id")).map_err(|_| Problem::not_found())?;
    let row = shown.rows.iter().find(|row| row.id == id).ok_or_else(Problem::not_found)?;
    let question = Question {
        title: format!("Remove what was brought along: {}, {}?", row.what, row.value),
        moves: vec!["The tables and indexes that count it.".into()],
        stays: vec!["Every card.".into()],
        action: format!("{}/removal", shown.at),
        kept: vec![("id", id.to_string())],
        typed: Some(Typed {
            name: "reason",
            label: "Reason, which everybody in the league reads".into(),
            is_required: true,
            value: String::new(),
        }),
        button: "Remove it".into(),
        back: shown.at.clone(),
        frame: shown.frame,
        ..Question::default()
    };
    if !is_answered(form) {
        return question.ask();
    }
    let reason = form.given("reason").map(str::to_owned);
    match app.leagues.remove_carried(caller, id, IfMatch::Version(1), reason).await {
        Ok(()) => Ok(see_other(&shown.at)),
        Err(refusal) => question.refused(form, refusal.into()),
    }
}

async fn remove_result(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let shown = results_page(&app, caller, SeasonId(id.0)).await?;
    remove(&app, caller, shown, &form).await
}

async fn remove_differential(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let shown = differentials_page(&app, caller, MemberId(id.0)).await?;
    remove(&app, caller, shown, &form).await
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    let read = super::reads;
    config
        .service(at("/seasons/{id}/carried").route(read().to(results)))
        .service(at("/seasons/{id}/carried/new").route(read().to(new_result)).route(web::post().to(add_result)))
        .service(at("/seasons/{id}/carried/removal").route(web::post().to(remove_result)))
        .service(at("/members/{id}/carried").route(read().to(differentials)))
        .service(
            at("/members/{id}/carried/new").route(read().to(new_differential)).route(web::post().to(add_differential)),
        )
        .service(at("/members/{id}/carried/removal").route(web::post().to(remove_differential)));
}
