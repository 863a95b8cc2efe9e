//! Notices: what concerns me.

use crate::http::address::IdPath;
use crate::http::answer::{Answer, json, paged};
use crate::http::app::App;
use crate::http::paging::PageOf;
use crate::http::routes::{Access, Media, RouteDoc, Routes, creates, lists};
use crate::league::Caller;
use crate::wire::body::views;
use crate::wire::schema::Schema;
use actix_web::HttpRequest;
use actix_web::web::Data;

async fn list(app: Data<App>, caller: Caller, page: PageOf, request: HttpRequest) -> Answer {
    let found = app.leagues.notices(caller, page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(found, |notice| notice.id.to_string())))
}

async fn see(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(json(&app.leagues.see_notice(caller, id.0).await?))
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let view = views::notice;
    routes.add(lists("/me/notices", "What concerns me, newest first.", Access::SignedIn, view()), list);
    let path = "/notices/{id}/seen";
    let seen = creates(path, "Notes that I saw a notice.", Access::Owner, Schema::Anything, view());
    routes.add(RouteDoc { takes: Media::Nothing, status: 200, keyed: false, ..seen }, see);
}
