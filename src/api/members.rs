//! Members: their records, league indexes, and what is held on them.

use crate::domain::facts::Member;
use crate::domain::ids::{LeagueId, MemberId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, done, json, paged, replied, versioned};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::keys::Key;
use crate::http::paging::PageOf;
use crate::http::roster::{NewMember, new_member};
use crate::http::routes::{Access, RouteDoc, Routes, creates, lists, patches, reads, removes};
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::wire::body::{league, views};
use crate::wire::schema::Schema;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};

async fn create(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let member: NewMember = sent.read(&new_member())?;
    Ok(replied(app.leagues.create_member(key.of(&app, caller, &sent), LeagueId(id.0), member.into()).await?))
}

async fn list(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let members = app.leagues.members_of(caller, LeagueId(id.0), page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(members, |member| member.id.to_string())))
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(versioned(app.leagues.member(caller, MemberId(id.0)).await?))
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, query: QueryOf, sent: Body) -> Answer {
    let patched = sent.patch::<Member>(league::changed_member)?;
    let (id, start_from) = (MemberId(id.0), query.date("start_from")?);
    if query.flag("validate_only")? {
        return Ok(json(&app.leagues.preview_member(caller, id, if_match, start_from, patched).await?));
    }
    Ok(versioned(app.leagues.change_member(caller, id, if_match, start_from, patched).await?))
}

/// From when another starting handicap holds, and what it would move.
const CHANGE: &[(&str, &str)] = &[
    (
        "start_from",
        "The day from which another starting handicap holds; without it the day after the member's last event with a card. \
         Final events keep theirs.",
    ),
    ("validate_only", "true: says which rows of the tables would move, and does nothing."),
];

async fn erase(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.erase_member(caller, MemberId(id.0), if_match).await?;
    Ok(done())
}

async fn handicap(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(json(&app.leagues.handicap(caller, MemberId(id.0)).await?))
}

async fn export(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let held = app.leagues.member_export(caller, MemberId(id.0)).await?;
    Ok(HttpResponse::Ok().insert_header(("cache-control", "no-store")).json(held))
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Member, Organizer, Owner, OwnerOrOrganizer};
    let view = views::member;
    let path = "/leagues/{id}/members";
    routes.add(creates(path, "Adds a member without an account.", Organizer, new_member(), view()), create);
    routes.add(lists(path, "The league's members.", Member, view()), list);
    routes.add(reads("/members/{id}", "A member.", Member, view()), show);
    let changed =
        patches("/members/{id}", "Changes a member.", Organizer, league::changed_member(), views::changed_member());
    routes.add(RouteDoc { query: CHANGE, ..changed }, change);
    let erased = removes("/members/{id}", "Erases the person; the numbers stay.", OwnerOrOrganizer, true);
    routes.add(erased, erase);
    let handicap_doc = "The league index with the differentials that count. It is not an official handicap.";
    routes.add(reads("/members/{id}/handicap", handicap_doc, Member, views::handicap()), handicap);
    let held = reads("/members/{id}/export", "Everything held on me.", Owner, Schema::Anything);
    routes.add(held, export);
}
