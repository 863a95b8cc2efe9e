//! What people read who write scripts: every route, and what each refusal means. The words are those of the list of
//! routes and of the project's documents.

use super::door::open_frame;
use super::kept::kept;
use super::{Frame, prose};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::kinds::{About, Kind};
use crate::http::problem::Problem;
use crate::http::routes::RouteDoc;
use actix_web::HttpRequest;
use actix_web::web::{self, Data, Path, ServiceConfig};
use askama::Template;
use std::sync::LazyLock;

/// What a script needs to know beside the routes.
static GUIDE: LazyLock<String> = LazyLock::new(|| prose::html(include_str!("../../docs/api.md")));

/// The routes whose paths begin alike.
struct Group<'a> {
    name: &'a str,
    routes: Vec<&'a RouteDoc>,
}

fn grouped(docs: &[RouteDoc]) -> Vec<Group<'_>> {
    let mut groups: Vec<Group> = Vec::new();
    for doc in docs {
        let name = doc.path.split('/').nth(1).unwrap_or_default();
        match groups.iter_mut().find(|group| group.name == name) {
            Some(group) => group.routes.push(doc),
            None => groups.push(Group { name, routes: vec![doc] }),
        }
    }
    groups
}

#[derive(Template)]
#[template(path = "reference.html")]
struct Reference<'a> {
    frame: Frame,
    guide: &'a str,
    groups: Vec<Group<'a>>,
    problems: Vec<&'static About>,
}

impl Reference<'_> {
    fn who(&self, doc: &RouteDoc) -> &'static str {
        doc.access.words()
    }
}

async fn reference(app: Data<App>, docs: Data<Vec<RouteDoc>>, request: HttpRequest) -> Answer {
    let frame = open_frame(&app, &request).await?;
    let mut problems: Vec<_> = Kind::ALL.iter().map(|kind| kind.about()).collect();
    problems.sort_unstable_by_key(|about| about.slug);
    let shown = Reference { frame, guide: &GUIDE, groups: grouped(&docs), problems };
    kept(&request, &shown.frame, &shown)
}

#[derive(Template)]
#[template(path = "problem_kind.html")]
struct ProblemKind {
    frame: Frame,
    about: &'static About,
    text: String,
}

async fn problem_kind(app: Data<App>, slug: Path<String>, request: HttpRequest) -> Answer {
    let mut known = Kind::ALL.iter().map(|kind| kind.about());
    let about = known.find(|about| about.slug == *slug).ok_or_else(Problem::not_found)?;
    let shown = ProblemKind { frame: open_frame(&app, &request).await?, about, text: prose::html(about.page) };
    kept(&request, &shown.frame, &shown)
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/api").route(super::reads().to(reference)))
        .service(web::resource("/problems/{kind}").route(super::reads().to(problem_kind)));
}
