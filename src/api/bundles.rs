//! A whole league as a bundle.

use super::extract::IdPath;
use super::routes::{Access, Media, RouteDoc, Routes, reads};
use super::{Answer, App};
use crate::bodies::bundle::Line;
use crate::domain::ids::LeagueId;
use crate::league::Caller;
use crate::schema::Schema;
use actix_web::HttpResponse;
use actix_web::web::{Bytes, Data};
use tokio::sync::mpsc;

/// Answers a league as a bundle.
///
/// # Errors
/// Anybody but an organizer; a browser whose password was given a while ago.
pub async fn bundle(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let league = LeagueId(id.0);
    app.leagues.may_take_away(caller, league).await?;
    let (sender, mut lines) = mpsc::channel::<Line>(64);
    let leagues = app.leagues.clone();
    let exporting = tokio::spawn(async move { leagues.export(league, sender).await });
    let stream = async_stream::stream! {
        while let Some(line) = lines.recv().await {
            yield Ok::<_, actix_web::Error>(Bytes::from(line.to_json() + "\n"));
        }
        // A bundle that broke off must not look like a whole one.
        if !matches!(exporting.await, Ok(Ok(()))) {
            yield Err(actix_web::error::ErrorInternalServerError("the bundle broke off"));
        }
    };
    Ok(HttpResponse::Ok()
        .content_type("application/x-ndjson")
        .insert_header(("cache-control", "no-store"))
        .streaming(Box::pin(stream)))
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let doc = reads("/leagues/{id}/bundle", "The whole league as a bundle.", Access::Organizer, Schema::Anything);
    routes.add(RouteDoc { answers: Media::Lines(Schema::Anything), ..doc }, bundle);
}
