//! The putting of a season's players in one table.

use super::{Frame, page, words};
use crate::domain::facts::Season;
use crate::domain::ids::SeasonId;
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::league::Caller;
use crate::league::member::putting::{NamedPuttingRow, PuttingTable};
use crate::storage::documents::SEASONS;
use crate::wire::body::putting::{FEWEST_HOLES, USUAL_HOLES};
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;

#[derive(Template)]
#[template(path = "putting_table.html")]
struct PuttingTablePage {
    frame: Frame,
    name: String,
    table: PuttingTable,
}

impl PuttingTablePage {
    /// Writes the interval of a row.
    fn interval(&self, named: &NamedPuttingRow) -> String {
        match (named.row.low_per_round, named.row.high_per_round) {
            (Some(low), Some(high)) => format!("{} to {}", words::signed(&low, 2), words::signed(&high, 2)),
            _ => "too few rounds".to_owned(),
        }
    }
}

async fn show(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let season = SeasonId(id.0);
    let found = app.leagues.document::<Season>(caller, &SEASONS, season.0).await?;
    let fewest_holes = query.whole("min_holes", FEWEST_HOLES)?.unwrap_or(USUAL_HOLES);
    let table = app.leagues.putting_table(caller, season, fewest_holes).await?;
    let frame = Frame::in_league(&app, caller, found.league).await?;
    page(&PuttingTablePage { frame, name: found.body.name, table })
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config.service(web::resource("/seasons/{id}/putting").route(super::reads().to(show)));
}
