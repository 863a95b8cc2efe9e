//! Who plays for a team in an event: each member plays, is absent or has a substitute.

use super::form::{Form, checked_body};
use super::{Frame, faults, page, page_with, see_other};
use crate::domain::facts::{Event, LineUp, PlayingOrder};
use crate::domain::ids::{EventId, MemberId, TeamId};
use crate::http::address::{IdPath, TeamPath};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::views::EventView;
use crate::league::{Caller, Refusal};
use crate::pages::fields::{is_beyond_typing, version};
use crate::storage::documents::EVENTS;
use crate::wire::body::matches::line_up_fields;
use crate::wire::schema::Schema;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde_json::{Value, json};
use uuid::Uuid;

/// A member of the team, with what is said of that member.
struct Row {
    member: MemberId,
    name: String,
    /// `plays`, `absent`, `out`, or the id of a substitute.
    said: String,
}

#[derive(Template)]
#[template(path = "line_up.html")]
struct LineUpPage {
    frame: Frame,
    event: EventView,
    team: TeamId,
    name: String,
    rows: Vec<Row>,
    /// Whoever may take a member’s place.
    others: Vec<(MemberId, String)>,
    as_named: bool,
    /// 0: none was named.
    version: i64,
    faults: Vec<String>,
}

impl LineUpPage {
    fn is_at(&self, place: &usize, own: &usize) -> bool {
        place == own
    }
}

async fn read(app: &App, caller: Caller, event: EventId, team: TeamId) -> Result<LineUpPage, Problem> {
    let found = app.leagues.document::<Event>(caller, &EVENTS, event.0).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let day = frame.zone().to_datetime(found.body.opens_at).date();
    let (view, _) = app.leagues.team(caller, team).await?;
    let (named, version) = match app.leagues.line_up(caller, event, team).await {
        Ok((named, version)) => (Some(named.line_up), version),
        Err(Refusal::NotFound) => (None, 0),
        Err(refusal) => return Err(refusal.into()),
    };
    let members = app.leagues.members_of(caller, found.league, Uuid::nil(), i64::MAX).await?;
    let name_of = |id: MemberId| {
        let known = members.iter().find(|member| member.id == id);
        known.map(|member| member.member.display_name.clone()).unwrap_or_default()
    };
    let roster = view.team.roster(day);
    let said = |member: MemberId| {
        let Some(named) = &named else { return "plays".to_owned() };
        let own = named.players.iter().find(|player| player.member_id == member);
        let substitute = named.players.iter().find(|player| player.substitute_for == Some(member));
        match (own, substitute) {
            (Some(own), _) if own.absent => "absent".into(),
            (Some(_), _) => "plays".into(),
            (None, Some(substitute)) => substitute.member_id.to_string(),
            (None, None) => "out".into(),
        }
    };
    let mut rows: Vec<Row> =
        roster.iter().map(|member| Row { member: *member, name: name_of(*member), said: said(*member) }).collect();
    if let Some(named) = &named {
        let place = |row: &Row| {
            let stands = |player: &crate::domain::facts::LinedUp| {
                player.member_id == row.member || player.substitute_for == Some(row.member)
            };
            named.players.iter().position(stands).unwrap_or(usize::MAX)
        };
        rows.sort_by_key(place);
    }
    let mut others: Vec<(MemberId, String)> = members
        .iter()
        .filter(|member| !roster.contains(&member.id))
        .map(|member| (member.id, member.member.display_name.clone()))
        .collect();
    others.sort_by_key(|(id, name)| (name.to_lowercase(), *id));
    Ok(LineUpPage {
        event: EventView::of(found, app.leagues.now()),
        frame,
        team,
        name: view.team.name,
        rows,
        others,
        as_named: named.is_some_and(|named| named.order == PlayingOrder::AsNamed),
        version,
        faults: Vec::new(),
    })
}

async fn show(app: Data<App>, caller: Caller, id: IdPath, team: TeamPath) -> Answer {
    page(&read(&app, caller, EventId(id.0), team.0).await?)
}

/// Makes the body of a line-up from what is said of each member, in the order of their places.
fn body(form: &Form, rows: &[Row]) -> Value {
    let mut placed: Vec<(i64, Value)> = Vec::new();
    for (n, row) in rows.iter().enumerate() {
        let place = form.text(&format!("place_{}", row.member)).parse().unwrap_or(n as i64 + 1);
        let player = match form.text(&format!("said_{}", row.member)) {
            "out" => continue,
            "plays" | "" => json!({ "member_id": row.member }),
            "absent" => json!({ "member_id": row.member, "absent": true }),
            substitute => json!({ "member_id": substitute, "substitute_for": row.member }),
        };
        placed.push((place, player));
    }
    placed.sort_by_key(|(place, _)| *place);
    let players: Vec<Value> = placed.into_iter().map(|(_, player)| player).collect();
    json!({ "players": players, "order": if form.has("as_named") { "as_named" } else { "by_handicap" } })
}

async fn put(app: Data<App>, caller: Caller, id: IdPath, team: TeamPath, form: Form) -> Answer {
    let (event, team) = (EventId(id.0), team.0);
    let mut shown = read(&app, caller, event, team).await?;
    let body = body(&form, &shown.rows);
    let done = async {
        let schema = Schema::Object(line_up_fields());
        let operation = format!("POST /events/{event}/line-ups/{team}");
        let (_, line_up) = checked_body::<LineUp>(&app, caller, operation, &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.put_line_up(caller, event, team, version(&form), line_up).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/events/{event}/line-ups/{team}"))),
        Err(problem) if is_beyond_typing(&problem) => Err(problem),
        Err(problem) => {
            for row in &mut shown.rows {
                form.text(&format!("said_{}", row.member)).clone_into(&mut row.said);
            }
            shown.as_named = form.has("as_named");
            shown.faults = faults::all(&problem);
            page_with(problem.status(), &shown)
        }
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config.service(at("/events/{id}/line-ups/{team_id}").route(super::reads().to(show)).route(web::post().to(put)));
}
