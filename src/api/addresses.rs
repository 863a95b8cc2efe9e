//! `/leagues/{id}/addresses`: secret addresses of public pages and calendars.

use crate::accounts::secret_address;
use crate::domain::facts::{Leads, Names};
use crate::domain::ids::LeagueId;
use crate::http::address::IdPath;
use crate::http::answer::{Answer, done, paged};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::paging::PageOf;
use crate::http::problem::Problem;
use crate::http::routes::{Access, RouteDoc, Routes, creates, lists, removes};
use crate::league::{Caller, addresses};
use crate::wire::body::addresses as body;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum NewAddress {
    Public {
        #[serde(default = "initials")]
        names: Names,
    },
    Calendar,
}

fn initials() -> Names {
    Names::Initials
}

async fn make(app: Data<App>, caller: Caller, id: IdPath, sent: Body) -> Answer {
    let leads = match sent.read(&body::new_address())? {
        NewAddress::Public { names } => Leads::ToPublicPages(names),
        NewAddress::Calendar => Leads::ToCalendar,
    };
    let code = secret_address::generate().map_err(|error| Problem::internal(&error))?;
    let made = addresses::make(&app.leagues, caller, LeagueId(id.0), leads, code).await?;
    Ok(HttpResponse::Created().insert_header(("cache-control", "no-store")).json(made))
}

async fn list(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let found = addresses::list(&app.leagues, caller, LeagueId(id.0), page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(found, |address| address.id.to_string())))
}

async fn revoke(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    addresses::revoke(&app.leagues, caller, id.0).await?;
    Ok(done())
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let path = "/leagues/{id}/addresses";
    let summary = "Makes an address that is read without an account: public pages (organizers), or my calendar.";
    let made = creates(path, summary, Access::Member, body::new_address(), body::made());
    routes.add(RouteDoc { keyed: false, ..made }, make);
    let summary = "The addresses that I may revoke; where they lead is not kept.";
    routes.add(lists(path, summary, Access::Member, body::address()), list);
    let summary = "Revokes an address: it is answered as an unknown one.";
    routes.add(removes("/addresses/{id}", summary, Access::OwnerOrOrganizer, false), revoke);
}
