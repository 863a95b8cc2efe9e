//! Putting: a member's report, against both baselines, and the field's own baseline.

use crate::domain::ids::{MemberId, SeasonId};
use crate::domain::putting::baseline::Yardstick;
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, json};
use crate::http::app::App;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::http::routes::{Access, RouteDoc, Routes, reads};
use crate::league::Caller;
use crate::wire::body::putting;
use actix_web::web::Data;

async fn show(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let season = query.id("season_id")?.map(SeasonId);
    let unknown = || Problem::parameter("baseline", Kind::Malformed, "baseline is tour or field");
    let named = query.get("baseline").map(|word| Yardstick::from_word(word).ok_or_else(unknown));
    let yardstick = named.transpose()?.unwrap_or_default();
    Ok(json(&app.leagues.putting(caller, MemberId(id.0), season, yardstick).await?))
}

async fn compare(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let season = query.id("season_id")?.map(SeasonId);
    Ok(json(&app.leagues.putting_compared(caller, MemberId(id.0), season).await?))
}

async fn field(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(json(&app.leagues.field_table(caller, SeasonId(id.0)).await?))
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::Member;
    let report = reads("/members/{id}/putting", "The putting report.", Member, putting::report());
    let query = &[
        ("season_id", "Only rounds of this season."),
        ("baseline", "tour, or field: the season's attested putts. tour without it."),
    ];
    routes.add(RouteDoc { query, ..report }, show);
    let both = "The putting report of a season against the tour and against the field.";
    let both = reads("/members/{id}/putting/comparison", both, Member, putting::compared());
    routes.add(RouteDoc { query: &[("season_id", "The season; the latest without it.")], ..both }, compare);
    let table = "The season's own baseline: what its attested putts took from each distance.";
    routes.add(reads("/seasons/{id}/baseline", table, Member, putting::field_table()), field);
}
