//! What a league brings along: carried differentials and carried results.

use crate::api::rounds::reason;
use crate::domain::facts::{CarriedDifferential, CarriedResult};
use crate::domain::ids::{MemberId, SeasonId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, done, json, replied};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::keys::Key;
use crate::http::routes::{Access, RouteDoc, Routes, creates, reads, removes};
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::views::Page;
use crate::wire::body::{brought, views};
use crate::wire::schema::Schema;
use actix_web::web::Data;

fn differential_body() -> Schema {
    Schema::Object(brought::differential_fields())
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, query: QueryOf) -> Answer {
    app.leagues.remove_carried(caller, id.0, if_match, reason(&query)?).await?;
    Ok(done())
}

async fn carry_differential(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let carried: CarriedDifferential = sent.read(&differential_body())?;
    Ok(replied(app.leagues.carry_differential(key.of(&app, caller, &sent), MemberId(id.0), carried).await?))
}

async fn differentials(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let items = app.leagues.carried_differentials(caller, MemberId(id.0)).await?;
    Ok(json(&Page { items, next: None }))
}

async fn carry_result(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let carried: CarriedResult = sent.read(&brought::result())?;
    Ok(replied(app.leagues.carry_result(key.of(&app, caller, &sent), SeasonId(id.0), carried).await?))
}

async fn results(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let items = app.leagues.carried_results(caller, SeasonId(id.0)).await?;
    Ok(json(&Page { items, next: None }))
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Member, Organizer};
    let path = "/members/{id}/carried-differentials";
    let view = views::carried_differential();
    let doc = creates(path, "Brings a differential along.", Organizer, differential_body(), view.clone());
    routes.add(doc, carry_differential);
    routes.add(reads(path, "The differentials brought along.", Member, views::whole_list(view)), differentials);
    let path = "/seasons/{id}/carried-results";
    let view = views::carried_result();
    let doc = creates(path, "Brings a value along into a season.", Organizer, brought::result(), view.clone());
    routes.add(doc, carry_result);
    routes.add(reads(path, "The values brought along.", Member, views::whole_list(view)), results);
    for path in ["/carried-differentials/{id}", "/carried-results/{id}"] {
        let takes = removes(path, "Removes what was brought along, with a reason.", Organizer, true);
        routes.add(RouteDoc { query: &[("reason", "Why it goes; everybody sees it.")], ..takes }, remove);
    }
}
