//! Many players added from a list.

use crate::domain::facts::Member;
use crate::domain::ids::LeagueId;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::http::roster;
use crate::league::Caller;
use crate::league::keys::RequestKey;
use crate::pages::fields::{FormPage, Kind, field};
use crate::pages::form::Form;
use crate::pages::{Frame, page, reads, see_other, words};
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use askama::Template;
use uuid::Uuid;

fn roster_form(frame: Frame, league: LeagueId) -> FormPage {
    let lines = field("roster", "Players", Kind::Lines, "display_name,flight,starting_handicap\n");
    let mut form = FormPage::new(frame, "Add players from a list", format!("/leagues/{league}/roster"), vec![lines]);
    form.hint = "One player per line; the first line is the header. Flight and starting handicap may be empty. \
                 If one line is wrong, none is added.";
    form.button = "Check the list";
    form
}

async fn new_roster(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    app.leagues.may_organize(caller, LeagueId(id.0)).await?;
    page(&roster_form(Frame::in_league(&app, caller, LeagueId(id.0)).await?, LeagueId(id.0)))
}

/// A roster as it would be stored.
#[derive(Template)]
#[template(path = "roster.html")]
struct RosterPage {
    frame: Frame,
    league: LeagueId,
    members: Vec<Member>,
    roster: String,
    key: String,
}

async fn add_roster(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let league = LeagueId(id.0);
    if form.given("back").is_some() {
        let mut shown = roster_form(Frame::in_league(&app, caller, league).await?, league);
        form.text("roster").clone_into(&mut shown.fields[0].value);
        return page(&shown);
    }
    let sent = Body(Bytes::from(form.text("roster").to_owned()));
    let key = Uuid::try_parse(form.text("key")).ok();
    let operation = format!("POST /leagues/{league}/roster");
    let key = RequestKey { caller, operation, key, body_hash: sent.canonical_hash(), now: app.leagues.now() };
    let done = async {
        let lines = app.offload.run(move || roster::lines(&sent.0)).await??;
        if form.given("seen").is_none() {
            return Ok::<_, Problem>(Some(app.leagues.preview_roster(key, league, lines).await?));
        }
        app.leagues.add_roster(key, league, lines).await?;
        Ok(None)
    };
    match done.await {
        Ok(None) => Ok(see_other(&format!("/leagues/{league}/members"))),
        Ok(Some(members)) => {
            let frame = Frame::in_league(&app, caller, league).await?;
            let (roster, key) = (form.text("roster").to_owned(), form.text("key").to_owned());
            page(&RosterPage { frame, league, members, roster, key })
        }
        Err(problem) => {
            let shown = roster_form(Frame::in_league(&app, caller, league).await?, league);
            shown.again(&form, problem, |_| "roster")
        }
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let list = web::resource("/leagues/{id}/roster");
    config.service(list.route(reads().to(new_roster)).route(web::post().to(add_roster)));
}
