//! Points given and taken in the table of a competition, with reasons.

use super::ask::{Question, is_answered};
use super::fields::{FormPage, Kind, field};
use super::form::{Form, checked_body};
use super::typed::{choice, number, one_of, text, typed};
use super::{Frame, page, see_other};
use crate::domain::facts::{Adjustment, Competition, Competitor};
use crate::domain::ids::{CompetitionId, LeagueId, MemberId, SeasonId, TeamId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::storage::documents::COMPETITIONS;
use crate::wire::body::matches::{self, MOST_TEAMS};
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde_json::json;
use uuid::Uuid;

/// An adjustment as a row.
struct Row {
    id: Uuid,
    whose: String,
    points: String,
    reason: String,
}

#[derive(Template)]
#[template(path = "adjustments.html")]
struct AdjustmentsPage {
    frame: Frame,
    competition: CompetitionId,
    season: SeasonId,
    name: String,
    rows: Vec<Row>,
    league: LeagueId,
    /// Who competes: the field that names each, the id and the name.
    sides: Vec<(&'static str, Uuid, String)>,
}

async fn read(app: &App, caller: Caller, id: CompetitionId) -> Result<AdjustmentsPage, Problem> {
    let found = app.leagues.document::<Competition>(caller, &COMPETITIONS, id.0).await?;
    let season = SeasonId(found.parent.unwrap_or_default());
    let members = app.leagues.members_of(caller, found.league, Uuid::nil(), i64::MAX).await?;
    let teams = app.leagues.teams(caller, season, Uuid::nil(), MOST_TEAMS as i64).await?;
    let members = members.into_iter().map(|member| ("member_id", member.id.0, member.member.display_name));
    let teams = teams.into_iter().map(|team| ("team_id", team.id.0, team.team.name));
    let is_of_teams = !found.body.ranks_cards() && found.body.is_of_teams();
    let all: Vec<_> = members.chain(teams).collect();
    let name_of = |side: Competitor| {
        let of = match side {
            Competitor::Member { member_id: MemberId(id) } | Competitor::Team { team_id: TeamId(id) } => id,
        };
        all.iter().find(|(_, known, _)| *known == of).map_or_else(String::new, |(_, _, name)| name.clone())
    };
    let row = |view: crate::league::competition::adjustment::AdjustmentView| Row {
        id: view.id,
        whose: name_of(view.adjustment.competitor),
        points: typed(&json!(view.adjustment.points)),
        reason: view.adjustment.reason,
    };
    let rows = app.leagues.adjustments(caller, id).await?.into_iter().map(row).collect();
    let competes = if is_of_teams { "team_id" } else { "member_id" };
    let sides = all.iter().filter(|(field, ..)| *field == competes).cloned().collect();
    let frame = Frame::in_league(app, caller, found.league).await?;
    let (name, league) = (found.body.name, found.league);
    Ok(AdjustmentsPage { frame, competition: id, season, name, rows, league, sides })
}

async fn adjustments(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&read(&app, caller, CompetitionId(id.0)).await?)
}

const COUNTS: [(&str, &str); 2] =
    [("after", "Added to the total"), ("before", "Like the value of an event: it can be among the best, or drop")];

async fn form_page(app: &App, caller: Caller, id: CompetitionId) -> Result<FormPage, Problem> {
    let shown = read(app, caller, id).await?;
    app.leagues.may_organize(caller, shown.league).await?;
    let sides = shown.sides.iter().map(|(field, id, name)| (format!("{field} {id}"), name.clone())).collect();
    let fields = vec![
        field("who", "Whose points", Kind::Choice(sides), ""),
        text("points", "Points or strokes, such as -2 (-1000 to 1000)", ""),
        choice("counts", "How they count", &COUNTS),
        text("reason", "Reason, which everybody in the league reads", ""),
    ];
    let title = format!("Give or take points, {}", shown.name);
    Ok(FormPage::new(shown.frame, title, format!("/competitions/{id}/adjustments/new"), fields))
}

async fn new_adjustment(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&form_page(&app, caller, CompetitionId(id.0)).await?)
}

async fn add(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = CompetitionId(id.0);
    let shown = form_page(&app, caller, id).await?;
    let (whose, side) = form.text("who").split_once(' ').unwrap_or(("member_id", ""));
    let body = json!({
        whose: side, "points": number(&form, "points"), "counts": form.text("counts"), "reason": form.text("reason"),
    });
    let done = async {
        let operation = format!("POST /competitions/{id}/adjustments/new");
        let (key, adjustment) =
            checked_body::<Adjustment>(&app, caller, operation, &form, &body, &matches::adjustment())?;
        Ok::<_, Problem>(app.leagues.adjust(key, id, adjustment).await?)
    };
    let owner = |pointer: &str| one_of(pointer, &["points", "counts", "reason"], "who");
    match done.await {
        Ok(_) => Ok(see_other(&format!("/competitions/{id}/adjustments"))),
        Err(problem) => shown.again(&form, problem, owner),
    }
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = CompetitionId(id.0);
    let shown = read(&app, caller, id).await?;
    let adjustment = Uuid::try_parse(form.text("id")).map_err(|_| Problem::not_found())?;
    let row = shown.rows.iter().find(|row| row.id == adjustment).ok_or_else(Problem::not_found)?;
    let question = Question {
        title: format!("Take back: {}, {}?", row.whose, row.points),
        moves: vec![format!("The table of {}.", shown.name)],
        stays: vec!["Every card.".into()],
        action: format!("/competitions/{id}/adjustments/removal"),
        kept: vec![("id", adjustment.to_string())],
        button: "Take it back".into(),
        back: format!("/competitions/{id}/adjustments"),
        frame: shown.frame,
        ..Question::default()
    };
    if !is_answered(&form) {
        return question.ask();
    }
    match app.leagues.remove_adjustment(caller, adjustment, IfMatch::Version(1)).await {
        Ok(()) => Ok(see_other(&format!("/competitions/{id}/adjustments"))),
        Err(refusal) => question.refused(&form, refusal.into()),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    let read = super::reads;
    config
        .service(at("/competitions/{id}/adjustments").route(read().to(adjustments)))
        .service(at("/competitions/{id}/adjustments/new").route(read().to(new_adjustment)).route(web::post().to(add)))
        .service(at("/competitions/{id}/adjustments/removal").route(web::post().to(remove)));
}
