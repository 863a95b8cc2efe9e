//! Secret addresses of a league: its public pages, for organizers, and the viewer's own calendar.

use super::ask::{Question, is_answered};
use super::form::Form;
use super::{Frame, page, see_other, words};
use crate::accounts::secret_address;
use crate::domain::facts::{Leads, Names};
use crate::domain::ids::LeagueId;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::http::who::own_origin;
use crate::league::addresses::{self, AddressView};
use crate::league::{Caller, Refusal};
use actix_web::HttpRequest;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use uuid::Uuid;

/// How many addresses are listed.
const MOST: i64 = 200;

#[derive(Template)]
#[template(path = "addresses.html")]
struct Addresses {
    frame: Frame,
    league: LeagueId,
    /// The address that was just made, as a whole link.
    link: Option<String>,
    listed: Vec<AddressView>,
    key: String,
}

impl Addresses {
    fn is_mine(&self, address: &AddressView) -> bool {
        address.member_id == self.frame.member()
    }

    fn what(&self, address: &AddressView) -> &'static str {
        what(address)
    }
}

fn what(address: &AddressView) -> &'static str {
    match address.names {
        Some(Names::Full) => "public pages with names",
        Some(Names::Initials) => "public pages with initials",
        None => "calendar",
    }
}

async fn shown(app: &App, caller: Caller, league: LeagueId, link: Option<String>) -> Answer {
    let frame = Frame::in_league(app, caller, league).await?;
    let listed = addresses::list(&app.leagues, caller, league, Uuid::nil(), MOST).await?;
    page(&Addresses { frame, league, link, listed, key: Uuid::new_v4().to_string() })
}

async fn list(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    shown(&app, caller, LeagueId(id.0), None).await
}

async fn make(app: Data<App>, caller: Caller, id: IdPath, form: Form, request: HttpRequest) -> Answer {
    let leads = match form.text("names") {
        "" => Leads::ToCalendar,
        word => Leads::ToPublicPages(Names::from_word(word).ok_or_else(|| Problem::malformed("choose the names"))?),
    };
    let names = leads.names().map_or("", Names::word);
    let words = format!("address {} {} {names} {}", caller.account, id.0, form.text("key"));
    let code = secret_address::kept(&app.config.cursor_secret, &words);
    let made = addresses::make(&app.leagues, caller, LeagueId(id.0), leads, code).await?;
    let link = format!("{}{}", own_origin(&request).unwrap_or_default(), made.path);
    shown(&app, caller, LeagueId(id.0), Some(link)).await
}

async fn revoke(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let named = Uuid::try_parse(form.text("address"));
    let address = named.map_err(|_| Problem::malformed("the form names its address"))?;
    let back = format!("/leagues/{}/addresses", id.0);
    if !is_answered(&form) {
        let listed = addresses::list(&app.leagues, caller, LeagueId(id.0), Uuid::nil(), MOST).await?;
        if let Some(found) = listed.iter().find(|listed| listed.id == address) {
            let frame = Frame::in_league(&app, caller, LeagueId(id.0)).await?;
            let question = Question {
                title: format!("Revoke the address of {}?", what(found)),
                lost: vec![
                    "The link stops working at once, for everybody who has it, and cannot be brought back.".into(),
                ],
                stays: vec!["You can create another at any time; it will be a different link.".into()],
                action: format!("{back}/revocation"),
                kept: vec![("address", address.to_string())],
                button: "Revoke address".into(),
                back,
                frame,
                ..Question::default()
            };
            return question.ask();
        }
    }
    match addresses::revoke(&app.leagues, caller, address).await {
        // Sent twice it is done once.
        Ok(()) | Err(Refusal::NotFound) => Ok(see_other(&back)),
        Err(refusal) => Err(refusal.into()),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/leagues/{id}/addresses").route(super::reads().to(list)).route(web::post().to(make)))
        .service(at("/leagues/{id}/addresses/revocation").route(web::post().to(revoke)));
}
