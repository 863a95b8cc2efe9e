//! What an organizer takes along into a spreadsheet, as CSV.

use crate::domain::ids::{LeagueId, SeasonId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::routes::{Access, Media, RouteDoc, Routes, reads};
use crate::http::tables::{self, QUERY, Table};
use crate::league::Caller;
use crate::wire::schema::Schema;
use actix_web::web::Data;

async fn members(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    tables::members(&app, caller, LeagueId(id.0), &query).await
}

async fn entries(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    tables::season(&app, caller, SeasonId(id.0), Table::Entries, &query).await
}

async fn cards(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    tables::season(&app, caller, SeasonId(id.0), Table::Cards, &query).await
}

async fn putts(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    tables::season(&app, caller, SeasonId(id.0), Table::Putts, &query).await
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let table = |path, doc| {
        let reading = reads(path, doc, Access::Organizer, Schema::Anything);
        RouteDoc { query: QUERY, answers: Media::Csv, ..reading }
    };
    routes.add(table("/leagues/{id}/members.csv", "The league's members as CSV."), members);
    routes.add(table("/seasons/{id}/entries.csv", "Who is entered in the season's events, as CSV."), entries);
    routes.add(table("/seasons/{id}/cards.csv", "The season's cards as CSV, a line for each hole."), cards);
    routes.add(table("/seasons/{id}/putts.csv", "The season's putts as CSV, a line for each."), putts);
}
