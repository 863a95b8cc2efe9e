//! The audit log of a league.

use crate::domain::ids::LeagueId;
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::downloads;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::reading::JournalEntry;
use crate::pages::{Frame, page, reads, words};
use actix_web::HttpResponse;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;

const MOST: i64 = 200;

#[derive(Template)]
#[template(path = "journal.html")]
struct Journal {
    frame: Frame,
    league: LeagueId,
    entries: Vec<JournalEntry>,
    next: Option<i64>,
}

impl Journal {
    fn in_words(&self, name: &str) -> String {
        name.replace('_', " ")
    }
}

async fn journal(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Result<HttpResponse, Problem> {
    let league = LeagueId(id.0);
    let after = query.get("after").and_then(|text| text.parse().ok()).unwrap_or(0);
    let stored = app.leagues.journal(caller, league, after, MOST).await?;
    let next = (stored.len() as i64 == MOST).then(|| stored.last().map(|entry| entry.n)).flatten();
    let entries = stored.iter().filter_map(JournalEntry::of).collect();
    page(&Journal { frame: Frame::in_league(&app, caller, league).await?, league, entries, next })
}

async fn journal_heads(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let heads = downloads::journal_heads(&app, caller, LeagueId(id.0)).await?;
    Ok(crate::pages::held::file(heads, "attachment; filename=\"journal-heads.ndjson\""))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/leagues/{id}/journal").route(reads().to(journal)))
        .service(at("/leagues/{id}/journal/heads").route(reads().to(journal_heads)));
}
