//! Side contests of an event.

use crate::domain::facts::side_contest::{Noted, SideContest};
use crate::domain::ids::EventId;
use crate::http::address::{IdPath, MemberPath};
use crate::http::answer::{Answer, done, json, replied, versioned};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::keys::Key;
use crate::http::routes::{Access, RouteDoc, Routes, creates, patches, reads, removes, replaces};
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::views::Page;
use crate::wire::body::{side_contest, views};
use crate::wire::schema::Schema;
use actix_web::http::Method;
use actix_web::web::Data;

fn body() -> Schema {
    Schema::Object(side_contest::contest_fields())
}

async fn create(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let contest: SideContest = sent.read_with_rules(&body())?;
    Ok(replied(app.leagues.create_contest(key.of(&app, caller, &sent), EventId(id.0), contest).await?))
}

async fn list(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let items = app.leagues.contests(caller, EventId(id.0)).await?;
    Ok(json(&Page { items, next: None }))
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(versioned(app.leagues.contest(caller, id.0).await?))
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, sent: Body) -> Answer {
    let patched = sent.patch::<SideContest>(body)?;
    Ok(versioned(app.leagues.change_contest(caller, id.0, if_match, patched).await?))
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.remove_contest(caller, id.0, if_match).await?;
    Ok(done())
}

async fn note(app: Data<App>, caller: Caller, id: IdPath, sent: Body) -> Answer {
    let noted: Noted = sent.read(&Schema::Object(side_contest::noted_fields()))?;
    Ok(versioned(app.leagues.note_in_contest(caller, id.0, noted).await?))
}

async fn take_back(app: Data<App>, caller: Caller, id: IdPath, member: MemberPath) -> Answer {
    app.leagues.take_back_in_contest(caller, id.0, member.0).await?;
    Ok(done())
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Member, Organizer, OwnerOrOrganizer};
    let view = side_contest::contest;
    let path = "/events/{id}/side-contests";
    routes.add(creates(path, "Adds a side contest to an event.", Organizer, body(), view()), create);
    routes.add(reads(path, "The event's side contests as they stand.", Member, views::whole_list(view())), list);
    let path = "/side-contests/{id}";
    routes.add(reads(path, "A side contest as it stands.", Member, view()), show);
    routes.add(patches(path, "Changes a side contest.", Organizer, body(), view()), change);
    routes.add(removes(path, "Removes a side contest.", Organizer, true), remove);
    let notes =
        "Notes a member's value, in place of an earlier one: the member while the event is open, scorers, organizers.";
    let takes = Schema::Object(side_contest::noted_fields());
    let path = "/side-contests/{id}/entries";
    let doc = replaces(path, notes, OwnerOrOrganizer, takes, view());
    routes.add(RouteDoc { method: Method::POST, matched: false, ..doc }, note);
    let takes_back = "Takes a noted value back: whoever may note it.";
    let path = "/side-contests/{id}/entries/{member_id}";
    routes.add(removes(path, takes_back, OwnerOrOrganizer, false), take_back);
}
