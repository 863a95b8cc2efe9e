//! Courses and set-ups.

use crate::domain::facts::{Course, Setup};
use crate::domain::ids::{CourseId, LeagueId, SetupId};
use crate::http::address::IdPath;
use crate::http::answer::{Answer, done, paged, replied, versioned};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::keys::Key;
use crate::http::paging::PageOf;
use crate::http::routes::{Access, Routes, creates, lists, patches, reads, removes, replaces};
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::views::{CourseView, SetupView};
use crate::storage::documents::{COURSES, SETUPS};
use crate::wire::body::{course, setup, views};
use crate::wire::schema::Schema;
use actix_web::HttpRequest;
use actix_web::web::Data;

fn course_body() -> Schema {
    Schema::Object(course::course_fields())
}

fn setup_body() -> Schema {
    Schema::Object(setup::setup_fields())
}

async fn create_course(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let course: Course = sent.read_with_rules(&course_body())?;
    Ok(replied(app.leagues.create_course(key.of(&app, caller, &sent), LeagueId(id.0), course).await?))
}

async fn list_courses(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let found = app.leagues.documents(caller, &COURSES, LeagueId(id.0), page.after_id()?, page.limit + 1).await?;
    let views = found.into_iter().map(CourseView::from).collect();
    Ok(paged(request.path(), page.limit, &page.cut(views, |view: &CourseView| view.id.to_string())))
}

async fn show_course(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let found = app.leagues.document::<Course>(caller, &COURSES, id.0).await?;
    let version = found.version;
    Ok(versioned((CourseView::from(found), version)))
}

async fn replace_course(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, sent: Body) -> Answer {
    let course: Course = sent.read_with_rules(&course_body())?;
    Ok(versioned(app.leagues.replace_course(caller, CourseId(id.0), if_match, course).await?))
}

async fn create_setup(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let setup: Setup = sent.read(&setup_body())?;
    Ok(replied(app.leagues.create_setup(key.of(&app, caller, &sent), LeagueId(id.0), setup).await?))
}

async fn list_setups(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let found = app.leagues.documents(caller, &SETUPS, LeagueId(id.0), page.after_id()?, page.limit + 1).await?;
    let views = found.into_iter().map(SetupView::from).collect();
    Ok(paged(request.path(), page.limit, &page.cut(views, |view: &SetupView| view.id.to_string())))
}

async fn show_setup(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let found = app.leagues.document::<Setup>(caller, &SETUPS, id.0).await?;
    let version = found.version;
    Ok(versioned((SetupView::from(found), version)))
}

async fn change_setup(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, sent: Body) -> Answer {
    let patched = sent.patch::<Setup>(setup_body)?;
    Ok(versioned(app.leagues.change_setup(caller, SetupId(id.0), if_match, patched).await?))
}

async fn remove_course(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.remove_course(caller, CourseId(id.0), if_match).await?;
    Ok(done())
}

async fn remove_setup(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.remove_setup(caller, SetupId(id.0), if_match).await?;
    Ok(done())
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Member, Organizer, OwnerOrOrganizer};
    let (courses, setups) = ("/leagues/{id}/courses", "/leagues/{id}/setups");
    routes.add(creates(courses, "Adds a course.", Organizer, course_body(), views::course()), create_course);
    routes.add(lists(courses, "The league's courses.", Member, views::course()), list_courses);
    routes.add(reads("/courses/{id}", "A course.", Member, views::course()), show_course);
    let replaced = replaces("/courses/{id}", "Replaces a course.", Organizer, course_body(), views::course());
    routes.add(replaced, replace_course);
    routes.add(creates(setups, "Adds a set-up of mine.", Member, setup_body(), views::setup()), create_setup);
    routes.add(lists(setups, "The league's set-ups.", Member, views::setup()), list_setups);
    routes.add(reads("/setups/{id}", "A set-up.", Member, views::setup()), show_setup);
    let changed = patches("/setups/{id}", "Changes a set-up.", OwnerOrOrganizer, setup_body(), views::setup());
    routes.add(changed, change_setup);
    let doc = "Removes a course that no event is played on.";
    routes.add(removes("/courses/{id}", doc, Organizer, true), remove_course);
    let doc = "Removes a set-up that nothing was played on.";
    routes.add(removes("/setups/{id}", doc, OwnerOrOrganizer, true), remove_setup);
}
