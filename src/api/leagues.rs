//! `/leagues`, their invitations and their journal.

use crate::accounts::code;
use crate::domain::facts::{League, Role};
use crate::domain::ids::{LeagueId, MemberId};
use crate::domain::rule::Rule;
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, done, paged, replied, versioned};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::downloads;
use crate::http::keys::Key;
use crate::http::paging::PageOf;
use crate::http::problem::Problem;
use crate::http::routes::{Access, Media, RouteDoc, Routes, creates, lists, patches, reads, removes};
use crate::league::access::IfMatch;
use crate::league::member::invite::USUAL_HOURS;
use crate::league::reading::JournalEntry;
use crate::league::views::Page;
use crate::league::{Caller, Refusal};
use crate::wire::body::{league, views};
use crate::wire::schema::Schema;
use actix_web::http::header;
use actix_web::web::{Data, Path};
use actix_web::{HttpRequest, HttpResponse};
use serde::Deserialize;
use uuid::Uuid;

fn body() -> Schema {
    Schema::Object(league::league_fields())
}

async fn create(app: Data<App>, caller: Caller, key: Key, sent: Body) -> Answer {
    let league: League = sent.read(&body())?;
    Ok(replied(app.leagues.create_league(key.of(&app, caller, &sent), league).await?))
}

async fn list(app: Data<App>, caller: Caller, page: PageOf, request: HttpRequest) -> Answer {
    let leagues = app.leagues.leagues_of(caller, page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(leagues, |league| league.id.to_string())))
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(versioned(app.leagues.league(caller, LeagueId(id.0)).await?))
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, sent: Body) -> Answer {
    let patched = sent.patch::<League>(body)?;
    Ok(versioned(app.leagues.change_league(caller, LeagueId(id.0), if_match, patched).await?))
}

#[derive(Deserialize)]
struct Invitation {
    role: String,
    #[serde(default)]
    finding_id: Option<Uuid>,
    #[serde(default)]
    expires_in_h: Option<i64>,
    #[serde(default)]
    member_id: Option<MemberId>,
}

async fn invite(app: Data<App>, caller: Caller, id: IdPath, sent: Body) -> Answer {
    let Invitation { role, finding_id, expires_in_h, member_id } = sent.read(&league::invitation())?;
    let hours = expires_in_h.unwrap_or(USUAL_HOURS);
    let league = LeagueId(id.0);
    let fault = |pointer, detail: &str| Refusal::fault(pointer, Rule::Validation, detail);
    let code = code::generate().map_err(|error| Problem::internal(&error))?;
    let made = match (Role::from_word(&role), finding_id) {
        (Some(role), None) => app.leagues.invite(caller, league, role, member_id, hours, code).await?,
        (Some(_), Some(_)) => return Err(fault("/finding_id", "a finding is for a reviewer alone").into()),
        (None, None) => return Err(fault("/finding_id", "a reviewer rules on one finding: name it").into()),
        (None, Some(_)) if member_id.is_some() => {
            return Err(fault("/member_id", "a reviewer comes from outside and claims no record").into());
        }
        (None, Some(finding)) => app.leagues.invite_reviewer(caller, league, finding, hours, code).await?,
    };
    Ok(HttpResponse::Created().insert_header(("cache-control", "no-store")).json(made))
}

async fn invitations(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let open = app.leagues.open_invitations(caller, LeagueId(id.0), page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(open, |invitation| invitation.id.to_string())))
}

async fn revoke(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    app.leagues.revoke_invitation(caller, id.0).await?;
    Ok(done())
}

async fn accept(app: Data<App>, caller: Caller, code: Path<String>, query: QueryOf) -> Answer {
    let code = code.into_inner();
    if let Some(finding_id) = app.leagues.accept_review(caller, code.clone()).await? {
        let answer = serde_json::json!({ "finding_id": finding_id });
        return Ok(HttpResponse::Created()
            .insert_header(("location", format!("/api/v1/findings/{finding_id}")))
            .json(answer));
    }
    let (member, version) = app.leagues.accept_invitation(caller, code, query.confirms("name")?).await?;
    let mut answer = HttpResponse::Created();
    answer.insert_header(("etag", crate::http::tag::etag(version)));
    Ok(answer.insert_header(("location", format!("/api/v1/members/{}", member.id))).json(member))
}

async fn journal(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let entries = app.leagues.journal(caller, LeagueId(id.0), page.after_number()?, page.limit + 1).await?;
    let shown: Vec<JournalEntry> = entries.iter().filter_map(JournalEntry::of).collect();
    let page_shown: Page<JournalEntry> = page.cut(shown, |shown| shown.entry.n.to_string());
    let mut answer = paged(request.path(), page.limit, &page_shown);
    answer.headers_mut().insert(header::CACHE_CONTROL, header::HeaderValue::from_static("no-store"));
    Ok(answer)
}

async fn journal_heads(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    downloads::journal_heads(&app, caller, LeagueId(id.0)).await
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Member, Organizer, SignedIn};
    let view = views::league;
    routes.add(creates("/leagues", "Founds a league.", SignedIn, body(), view()), create);
    routes.add(lists("/leagues", "My leagues.", SignedIn, view()), list);
    routes.add(reads("/leagues/{id}", "A league.", Member, view()), show);
    routes.add(patches("/leagues/{id}", "Changes a league.", Organizer, body(), view()), change);
    let invited = creates(
        "/leagues/{id}/invitations",
        "Makes an invitation; its code is shown once.",
        Organizer,
        league::invitation(),
        views::invitation(),
    );
    routes.add(RouteDoc { keyed: false, ..invited }, invite);
    let open = "Invitations that can still be taken up; without their codes, which are not kept.";
    routes.add(lists("/leagues/{id}/invitations", open, Organizer, views::open_invitation()), invitations);
    let doc = "Revokes an invitation: its code is refused as an unknown one.";
    routes.add(removes("/invitations/{id}", doc, Organizer, false), revoke);
    let accepted = creates(
        "/invitations/{code}/acceptance",
        "Accepts an invitation.",
        SignedIn,
        Schema::Object(vec![]),
        views::accepted(),
    );
    let query = &[("confirm", "name: I am another person than the member of my name.")];
    routes.add(RouteDoc { keyed: false, takes: Media::Nothing, query, ..accepted }, accept);
    routes
        .add(lists("/leagues/{id}/journal", "Every change of the league.", Organizer, views::journal_entry()), journal);
    let doc = "Signed heads of the journal, to be kept elsewhere; the last is signed now.";
    let heads = reads("/leagues/{id}/journal/heads", doc, Organizer, Schema::Anything);
    routes.add(RouteDoc { answers: Media::Lines(views::signed_head()), ..heads }, journal_heads);
}
