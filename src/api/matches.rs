//! Teams, line-ups, fixtures, and what is said of them.

use crate::domain::competition::match_shown::FixtureShown;
use crate::domain::facts::concession::SaidOfFixture;
use crate::domain::facts::{Adjustment, Fixture, LineUp, Team};
use crate::domain::ids::{CompetitionId, EventId, FixtureId, SeasonId, TeamId};
use crate::http::address::{IdPath, TeamPath};
use crate::http::answer::{Answer, done, json, paged, replied, versioned};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::keys::Key;
use crate::http::paging::PageOf;
use crate::http::routes::{Access, Routes, creates, lists, patches, reads, removes, replaces};
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::competition::fixture::NewFixtures;
use crate::league::competition::team::TeamView;
use crate::league::views::Page;
use crate::wire::body::{match_views, matches, views};
use crate::wire::schema::Schema;
use actix_web::HttpRequest;
use actix_web::web::Data;

fn team_body() -> Schema {
    Schema::Object(matches::team_fields())
}

async fn create_team(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let team: Team = sent.read_with_rules(&team_body())?;
    Ok(replied(app.leagues.create_team(key.of(&app, caller, &sent), SeasonId(id.0), team).await?))
}

async fn list_teams(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let found = app.leagues.teams(caller, SeasonId(id.0), page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(found, |view: &TeamView| view.id.to_string())))
}

async fn show_team(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(versioned(app.leagues.team(caller, TeamId(id.0)).await?))
}

async fn change_team(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, sent: Body) -> Answer {
    let patched = sent.patch::<Team>(team_body)?;
    Ok(versioned(app.leagues.change_team(caller, TeamId(id.0), if_match, patched).await?))
}

async fn remove_team(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.remove_team(caller, TeamId(id.0), if_match).await?;
    Ok(done())
}

fn line_up_body() -> Schema {
    Schema::Object(matches::line_up_fields())
}

async fn put_line_up(
    app: Data<App>,
    caller: Caller,
    id: IdPath,
    team: TeamPath,
    if_match: IfMatch,
    sent: Body,
) -> Answer {
    let line_up: LineUp = sent.read_with_rules(&line_up_body())?;
    Ok(versioned(app.leagues.put_line_up(caller, EventId(id.0), team.0, if_match, line_up).await?))
}

async fn show_line_up(app: Data<App>, caller: Caller, id: IdPath, team: TeamPath) -> Answer {
    Ok(versioned(app.leagues.line_up(caller, EventId(id.0), team.0).await?))
}

async fn remove_line_up(app: Data<App>, caller: Caller, id: IdPath, team: TeamPath, if_match: IfMatch) -> Answer {
    app.leagues.remove_line_up(caller, EventId(id.0), team.0, if_match).await?;
    Ok(done())
}

fn fixture_body() -> Schema {
    Schema::Object(matches::fixture_fields())
}

async fn create_fixtures(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let asked: NewFixtures = sent.read(&matches::new_fixtures())?;
    Ok(replied(app.leagues.create_fixtures(key.of(&app, caller, &sent), CompetitionId(id.0), asked).await?))
}

async fn list_fixtures(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let found = app.leagues.fixtures(caller, CompetitionId(id.0), page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(found, |shown: &FixtureShown| shown.fixture_id.to_string())))
}

async fn show_fixture(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(versioned(app.leagues.fixture(caller, FixtureId(id.0)).await?))
}

async fn change_fixture(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, sent: Body) -> Answer {
    let patched = sent.patch::<Fixture>(fixture_body)?;
    Ok(versioned(app.leagues.change_fixture(caller, FixtureId(id.0), if_match, patched).await?))
}

async fn remove_fixture(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.remove_fixture(caller, FixtureId(id.0), if_match).await?;
    Ok(done())
}

async fn concede(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let said: SaidOfFixture = sent.read(&Schema::Object(matches::concession_fields()))?;
    Ok(replied(app.leagues.concede(key.of(&app, caller, &sent), said.in_fixture(FixtureId(id.0))).await?))
}

async fn concessions(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let items = app.leagues.concessions(caller, FixtureId(id.0)).await?;
    Ok(json(&Page { items, next: None }))
}

async fn remove_concession(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.remove_concession(caller, id.0, if_match).await?;
    Ok(done())
}

async fn adjust(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let adjustment: Adjustment = sent.read(&matches::adjustment())?;
    Ok(replied(app.leagues.adjust(key.of(&app, caller, &sent), CompetitionId(id.0), adjustment).await?))
}

async fn adjustments(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let items = app.leagues.adjustments(caller, CompetitionId(id.0)).await?;
    Ok(json(&Page { items, next: None }))
}

async fn remove_adjustment(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.remove_adjustment(caller, id.0, if_match).await?;
    Ok(done())
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Member, Organizer, OwnerOrOrganizer};
    let (path, view) = ("/seasons/{id}/teams", match_views::team);
    routes.add(creates(path, "Adds a team to a season.", Organizer, team_body(), view()), create_team);
    routes.add(lists(path, "The season's teams.", Member, view()), list_teams);
    routes.add(reads("/teams/{id}", "A team.", Member, view()), show_team);
    routes.add(patches("/teams/{id}", "Changes a team.", Organizer, team_body(), view()), change_team);
    routes.add(removes("/teams/{id}", "Removes a team that nothing names.", Organizer, true), remove_team);

    let (path, view) = ("/events/{id}/line-ups/{team_id}", match_views::line_up);
    let names = "Names who plays for a team; If-Match: * at first. Players of the team until the event opens.";
    routes.add(replaces(path, names, OwnerOrOrganizer, line_up_body(), view()), put_line_up);
    routes.add(reads(path, "Who plays for a team.", Member, view()), show_line_up);
    routes.add(removes(path, "Takes a line-up back.", OwnerOrOrganizer, true), remove_line_up);

    let (path, view) = ("/competitions/{id}/fixtures", match_views::fixture);
    let adds = "Adds fixtures: a list, or those of a round robin; all or none.";
    routes.add(creates(path, adds, Organizer, matches::new_fixtures(), views::whole_list(view())), create_fixtures);
    routes.add(lists(path, "The competition's fixtures as they stand.", Member, view()), list_fixtures);
    routes.add(reads("/fixtures/{id}", "A fixture, hole by hole.", Member, view()), show_fixture);
    let decides = "Changes or decides a fixture; scorers add extra holes.";
    routes.add(patches("/fixtures/{id}", decides, Organizer, fixture_body(), view()), change_fixture);
    routes.add(removes("/fixtures/{id}", "Removes a fixture.", Organizer, true), remove_fixture);

    let (path, view) = ("/fixtures/{id}/concessions", match_views::concession);
    let concedes = "Concedes a hole, or without one the match: players of that side, scorers, organizers.";
    let body = Schema::Object(matches::concession_fields());
    routes.add(creates(path, concedes, OwnerOrOrganizer, body, view()), concede);
    routes.add(reads(path, "What was conceded.", Member, views::whole_list(view())), concessions);
    let corrects = "Removes a concession entered by mistake: scorers and organizers.";
    routes.add(removes("/concessions/{id}", corrects, OwnerOrOrganizer, true), remove_concession);

    let (path, view) = ("/competitions/{id}/adjustments", match_views::adjustment);
    let adds = "Gives or takes points in the table of a competition of matches.";
    routes.add(creates(path, adds, Organizer, matches::adjustment(), view()), adjust);
    routes.add(reads(path, "Points given and taken.", Member, views::whole_list(view())), adjustments);
    routes.add(removes("/adjustments/{id}", "Takes an adjustment back.", Organizer, true), remove_adjustment);
}
