//! Competitions of a season, and their tables.

use crate::api::seasons;
use crate::domain::facts::Competition;
use crate::domain::ids::{CompetitionId, SeasonId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, done, json, paged, replied, versioned};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::keys::Key;
use crate::http::paging::PageOf;
use crate::http::routes::{Access, Routes, creates, lists, patches, reads, removes};
use crate::http::who::Bearer;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::views::CompetitionView;
use crate::storage::documents::COMPETITIONS;
use crate::wire::body::{competition, views};
use crate::wire::schema::Schema;
use actix_web::HttpRequest;
use actix_web::web::Data;

fn body() -> Schema {
    Schema::Object(competition::competition_fields())
}

async fn create(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let terms: Competition = sent.read_with_rules(&body())?;
    Ok(replied(app.leagues.create_competition(key.of(&app, caller, &sent), SeasonId(id.0), terms).await?))
}

async fn list(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let found = app.leagues.competitions_of(caller, SeasonId(id.0), page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(found, |view: &CompetitionView| view.id.to_string())))
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let found = app.leagues.document::<Competition>(caller, &COMPETITIONS, id.0).await?;
    let version = found.version;
    Ok(versioned((CompetitionView::from(found), version)))
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, sent: Body) -> Answer {
    let patched = sent.patch::<Competition>(body)?;
    Ok(versioned(app.leagues.change_competition(caller, CompetitionId(id.0), if_match, patched).await?))
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.remove_competition(caller, CompetitionId(id.0), if_match).await?;
    Ok(done())
}

async fn terms(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(json(&app.leagues.terms_of(caller, CompetitionId(id.0)).await?))
}

async fn standings(app: Data<App>, bearer: Bearer, id: IdPath, query: QueryOf, request: HttpRequest) -> Answer {
    let season = app.leagues.season_of_competition(bearer.caller, CompetitionId(id.0)).await?;
    seasons::table(&app, bearer, (season, Some(CompetitionId(id.0))), &query, &request).await
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Member, Organizer};
    let view = views::competition;
    let path = "/seasons/{id}/competitions";
    routes.add(creates(path, "Adds a competition to a season.", Organizer, body(), view()), create);
    routes.add(lists(path, "The season's competitions.", Member, view()), list);
    let one = "/competitions/{id}";
    routes.add(reads(one, "A competition and what follows from its terms.", Member, view()), show);
    let settles = "Changes a competition; a final event settles what decides results.";
    routes.add(patches(one, settles, Organizer, body(), view()), change);
    routes.add(removes(one, "Removes a competition that no final event settled.", Organizer, true), remove);
    let written = "The terms in sentences, each with its source.";
    routes.add(reads("/competitions/{id}/terms", written, Member, views::terms()), terms);
    routes.add(seasons::table_route("/competitions/{id}/standings", "The competition's table."), standings);
}
