//! Files for a spreadsheet.

use crate::domain::ids::{LeagueId, SeasonId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::tables::{self, Table};
use crate::league::Caller;
use crate::pages::held::file;
use crate::pages::reads;
use actix_web::web::{self, Data, ServiceConfig};

async fn members(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let found = tables::members(&app, caller, LeagueId(id.0), &query).await?;
    Ok(file(found, "attachment; filename=\"players.csv\""))
}

async fn entries(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let found = tables::season(&app, caller, SeasonId(id.0), Table::Entries, &query).await?;
    Ok(file(found, "attachment; filename=\"entries.csv\""))
}

async fn cards(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let found = tables::season(&app, caller, SeasonId(id.0), Table::Cards, &query).await?;
    Ok(file(found, "attachment; filename=\"cards.csv\""))
}

async fn putts(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let found = tables::season(&app, caller, SeasonId(id.0), Table::Putts, &query).await?;
    Ok(file(found, "attachment; filename=\"putts.csv\""))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/leagues/{id}/members.csv").route(reads().to(members)))
        .service(at("/seasons/{id}/entries.csv").route(reads().to(entries)))
        .service(at("/seasons/{id}/cards.csv").route(reads().to(cards)))
        .service(at("/seasons/{id}/putts.csv").route(reads().to(putts)));
}
