//! Practice: a member's own.

use super::extract::{Body, IdPath, Key, PageOf};
use super::routes::{Access, Routes, creates, lists, reads};
use super::{Answer, App, json, paged, replied};
use crate::bodies::practice;
use crate::domain::facts::Practice;
use crate::domain::ids::MemberId;
use crate::league::Caller;
use crate::league::practice::PracticeView;
use actix_web::HttpRequest;
use actix_web::web::Data;

async fn create(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let block: Practice = sent.read(&practice::body())?;
    Ok(replied(app.leagues.keep_practice(key.of(&app, caller, &sent), MemberId(id.0), block).await?))
}

async fn list(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let blocks = app.leagues.practice_of(caller, MemberId(id.0), page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(blocks, |block: &PracticeView| block.id.to_string())))
}

async fn report(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(json(&app.leagues.practice_report(caller, MemberId(id.0)).await?))
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::Owner;
    let path = "/members/{id}/practice";
    let kept = "Keeps a block of practice; it counts for nothing.";
    routes.add(creates(path, kept, Owner, practice::body(), practice::view()), create);
    routes.add(lists(path, "My blocks of practice.", Owner, practice::view()), list);
    let told = "The putting report of my practice.";
    routes.add(reads("/members/{id}/practice/report", told, Owner, practice::report()), report);
}
