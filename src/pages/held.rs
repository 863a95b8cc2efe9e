//! What is held on people: taken away, and erased. A league is taken away whole.

use super::ask::{Question, Typed, is_answered};
use super::form::Form;
use super::{Frame, page, see_other};
use crate::domain::ids::{LeagueId, MemberId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::downloads;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::views::MemberView;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::{CONTENT_DISPOSITION, HeaderValue};
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;

#[derive(Template)]
#[template(path = "held.html")]
struct Held {
    frame: Frame,
    member: MemberView,
    version: i64,
}

impl Held {
    fn is_mine(&self) -> bool {
        self.frame.member() == self.member.id
    }

    fn may_erase(&self) -> bool {
        self.is_mine() || self.frame.is_organizer()
    }
}

async fn read(app: &App, caller: Caller, id: MemberId) -> Result<Held, crate::league::Refusal> {
    let (member, version) = app.leagues.member(caller, id).await?;
    let frame = Frame::in_league(app, caller, member.league_id).await?;
    Ok(Held { frame, member, version })
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&read(&app, caller, MemberId(id.0)).await?)
}

/// Names the file that an answer is kept as.
pub(super) fn file(mut answer: HttpResponse, name: &'static str) -> HttpResponse {
    answer.headers_mut().insert(CONTENT_DISPOSITION, HeaderValue::from_static(name));
    answer
}

// A form, not a link: the answer may be the page that asks for the password.
async fn export(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    drop(form);
    let held = app.leagues.member_export(caller, MemberId(id.0)).await?;
    Ok(file(HttpResponse::Ok().json(held), "attachment; filename=\"held-on-me.json\""))
}

async fn bundle(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    drop(form);
    Ok(file(downloads::whole_league(&app, caller, LeagueId(id.0)).await?, "attachment; filename=\"league.ndjson\""))
}

/// Whether what was typed is the name, however it is spaced and whatever its letters' case.
fn is_name(typed: &str, name: &str) -> bool {
    let plain = |text: &str| text.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>();
    plain(typed) == plain(name)
}

impl Held {
    fn question(self) -> Question {
        let is_mine = self.is_mine();
        let (id, name) = (self.member.id, self.member.member.display_name);
        let league = self.frame.league.as_ref().map(|place| place.name.clone()).unwrap_or_default();
        let whose = if is_mine { "you" } else { &name };
        let mut lost = vec![
            format!("The name {name}: tables and cards show “Former player” in its place."),
            format!("Practice, simulators, notices and every text that {whose} typed in this league."),
        ];
        lost.push(if is_mine {
            format!("Your membership of {league}. If you join again, you start as a new player without these cards.")
        } else {
            format!("The membership of {league} of the account that belongs to this player, if there is one.")
        });
        let mut stays = vec!["Cards and their scores, so that the results of others do not change.".to_owned()];
        if is_mine {
            stays.push("Your account, and your membership of other leagues.".to_owned());
        }
        Question {
            title: if is_mine {
                format!("Erase yourself from {league}?")
            } else {
                format!("Erase {name} from {league}?")
            },
            lost,
            stays,
            action: format!("/members/{id}/erasure"),
            kept: vec![("version", self.version.to_string())],
            typed: Some(Typed {
                name: "name",
                label: format!("Type the name to confirm: {name}"),
                is_required: true,
                value: String::new(),
            }),
            button: format!("Erase {name} for good"),
            back: format!("/members/{id}/held"),
            frame: self.frame,
            ..Question::default()
        }
    }
}

async fn erase(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let shown = read(&app, caller, MemberId(id.0)).await?;
    let (member, league, is_mine) = (shown.member.id, shown.member.league_id, shown.is_mine());
    if shown.may_erase() {
        if !is_answered(&form) {
            return shown.question().ask();
        }
        if !is_name(form.text("name"), &shown.member.member.display_name) {
            let fault = "the name that you typed does not match the name of this player";
            return shown.question().ask_again(StatusCode::UNPROCESSABLE_ENTITY, &form, fault);
        }
    }
    let version = super::fields::version(&form);
    match app.leagues.erase_member(caller, member, version).await {
        Ok(()) if is_mine => Ok(see_other("/leagues")),
        Ok(()) => Ok(see_other(&format!("/leagues/{league}"))),
        Err(refusal) if shown.may_erase() => shown.question().refused(&form, Problem::from(refusal)),
        Err(refusal) => Err(refusal.into()),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/members/{id}/held").route(super::reads().to(show)))
        .service(web::resource("/members/{id}/export").route(web::post().to(export)))
        .service(web::resource("/members/{id}/erasure").route(web::post().to(erase)))
        .service(web::resource("/leagues/{id}/bundle").route(web::post().to(bundle)));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_confirmed_by_its_words() {
        assert!(is_name("  tomasz   OKOLIV ", "Tomasz Okoliv"));
        for other in ["", "Tomasz", "Tomasz Okoliv 2", "TomaszOkoliv"] {
            assert!(!is_name(other, "Tomasz Okoliv"), "{other}");
        }
    }
}
