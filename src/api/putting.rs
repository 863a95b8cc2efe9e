//! Putting: a member's report, against both baselines, and the field's own baseline.

use crate::domain::ids::{EventId, MemberId, SeasonId, SetupId};
use crate::domain::putting::baseline::Yardstick;
use crate::domain::season::putting::Chosen;
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, json};
use crate::http::app::App;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::http::routes::{Access, Media, RouteDoc, Routes, reads};
use crate::league::Caller;
use crate::league::member::putting::Asked;
use crate::wire::body::putting;
use actix_web::HttpResponse;
use actix_web::web::Data;

/// Reads which putting is asked for.
///
/// # Errors
/// 400 for what is no id, no day and no baseline.
fn asked(query: &QueryOf) -> Result<Asked, Problem> {
    let unknown = || Problem::parameter("baseline", Kind::Malformed, "baseline is tour or field");
    let named = query.get("baseline").map(|word| Yardstick::from_word(word).ok_or_else(unknown));
    let chosen = Chosen {
        event: query.id("event_id")?.map(EventId),
        from: query.date("from")?,
        to: query.date("to")?,
        setup: query.id("setup_id")?.map(SetupId),
    };
    Ok(Asked {
        season: query.id("season_id")?.map(SeasonId),
        chosen,
        yardstick: named.transpose()?.unwrap_or_default(),
    })
}

async fn show(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    Ok(json(&app.leagues.putting(caller, MemberId(id.0), asked(&query)?).await?))
}

async fn trend(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    Ok(json(&app.leagues.putting_trend(caller, MemberId(id.0), asked(&query)?).await?))
}

async fn putts(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let text = app.leagues.putts_csv(caller, MemberId(id.0), asked(&query)?).await?;
    Ok(HttpResponse::Ok().content_type("text/csv; charset=utf-8").body(text))
}

async fn compare(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    Ok(json(&app.leagues.putting_compared(caller, MemberId(id.0), asked(&query)?).await?))
}

async fn table(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let fewest_holes = query.whole("min_holes", putting::FEWEST_HOLES)?.unwrap_or(putting::USUAL_HOLES);
    Ok(json(&app.leagues.putting_table(caller, SeasonId(id.0), fewest_holes).await?))
}

async fn field(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(json(&app.leagues.field_table(caller, SeasonId(id.0)).await?))
}

/// Which rounds a report is of; the last one names the baseline.
const CHOICE: &[(&str, &str)] = &[
    ("season_id", "Only rounds of this season; a comparison is of the latest without it."),
    ("event_id", "Only the round of this event."),
    ("from", "Only rounds of events from this day on."),
    ("to", "Only rounds of events up to this day."),
    ("setup_id", "Only rounds putted on this set-up."),
    ("baseline", "tour, or field: the season's attested putts. tour without it."),
];

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::Member;
    let report = reads("/members/{id}/putting", "The putting report.", Member, putting::report());
    routes.add(RouteDoc { query: CHOICE, ..report }, show);
    let nights = "The member's putting night by night, and whether it has changed.";
    let nights = reads("/members/{id}/putting/trend", nights, Member, putting::trend());
    routes.add(RouteDoc { query: CHOICE, ..nights }, trend);
    let rows = "The putts behind the report, a row each.";
    let rows = reads("/members/{id}/putting/putts", rows, Member, putting::report());
    routes.add(RouteDoc { query: CHOICE, answers: Media::Csv, ..rows }, putts);
    let both = "The putting report of a season against the tour and against the field.";
    let both = reads("/members/{id}/putting/comparison", both, Member, putting::compared());
    routes.add(RouteDoc { query: &CHOICE[..5], ..both }, compare);
    let ranked = "The putting of the season's players, by strokes gained for 18 recorded holes.";
    let ranked = reads("/seasons/{id}/putting-table", ranked, Member, putting::table());
    let query = &[("min_holes", "From how many recorded holes on players are ranked, 1 to 1800; 36 without it.")];
    routes.add(RouteDoc { query, ..ranked }, table);
    let table = "The season's own baseline: what its attested putts took from each distance.";
    routes.add(reads("/seasons/{id}/baseline", table, Member, putting::field_table()), field);
}
