//! Practice: a member's own.

use crate::domain::facts::Practice;
use crate::domain::ids::MemberId;
use crate::http::address::IdPath;
use crate::http::answer::{Answer, done, json, paged, replied, versioned};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::keys::Key;
use crate::http::paging::PageOf;
use crate::http::routes::{Access, Routes, creates, lists, reads, removes, replaces};
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::member::practice::PracticeView;
use crate::wire::body::practice;
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

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(versioned(app.leagues.practice_block(caller, id.0).await?))
}

async fn replace(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, sent: Body) -> Answer {
    let block: Practice = sent.read(&practice::body())?;
    Ok(versioned(app.leagues.mend_practice(caller, id.0, if_match, block).await?))
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.throw_practice_away(caller, id.0, if_match).await?;
    Ok(done())
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
    let one = "/practice/{id}";
    routes.add(reads(one, "A block of my practice.", Owner, practice::view()), show);
    let mended = "Puts another block in the place of one.";
    routes.add(replaces(one, mended, Owner, practice::body(), practice::view()), replace);
    routes.add(removes(one, "Throws a block of my practice away.", Owner, true), remove);
    let told = "The putting report of my practice.";
    routes.add(reads("/members/{id}/practice/report", told, Owner, practice::report()), report);
}
