//! What an organizer takes away: the whole league, the signed heads of its journal.

use crate::domain::ids::LeagueId;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::league::Caller;
use crate::storage::heads::SignedHead;
use crate::wire::bundle::line::Line;
use actix_web::HttpResponse;
use actix_web::web::Bytes;
use tokio::sync::mpsc;

/// Answers a league as a bundle.
///
/// # Errors
/// Anybody but an organizer; a browser whose password was given a while ago.
pub async fn whole_league(app: &App, caller: Caller, league: LeagueId) -> Answer {
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

/// Answers the signed heads of a league's journal, a line each.
///
/// # Errors
/// Anybody but an organizer.
pub async fn journal_heads(app: &App, caller: Caller, league: LeagueId) -> Answer {
    let heads = app.leagues.journal_heads(caller, league).await?;
    let line = |head: &SignedHead| serde_json::to_string(head).expect("a head is plain values") + "\n";
    let lines: String = heads.iter().map(line).collect();
    let mut answer = HttpResponse::Ok();
    Ok(answer.content_type("application/x-ndjson").insert_header(("cache-control", "no-store")).body(lines))
}
