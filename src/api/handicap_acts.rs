//! What organizers decide about a member's league index.

use crate::domain::facts::HandicapAct;
use crate::domain::ids::MemberId;
use crate::http::address::IdPath;
use crate::http::answer::{Answer, json, replied};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::keys::Key;
use crate::http::routes::{Access, Routes, creates, reads};
use crate::league::Caller;
use crate::league::views::Page;
use crate::wire::body::{handicap_act, views};
use actix_web::web::Data;

async fn decide(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let act: HandicapAct = sent.read_with_rules(&handicap_act::act())?;
    Ok(replied(app.leagues.decide_handicap(key.of(&app, caller, &sent), MemberId(id.0), act).await?))
}

async fn list(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let items = app.leagues.handicap_acts(caller, MemberId(id.0)).await?;
    Ok(json(&Page { items, next: None }))
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let path = "/members/{id}/handicap-acts";
    let decides = "Adjusts, freezes or caps another member's league index from a day on, or undoes such an act.";
    let doc = creates(path, decides, Access::Organizer, handicap_act::act(), handicap_act::shown());
    routes.add(doc, decide);
    let lists = "What organizers decided about the league index.";
    routes.add(reads(path, lists, Access::Member, views::whole_list(handicap_act::shown())), list);
}
