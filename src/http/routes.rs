//! A route: what serves it, who may use it, what it takes and answers.

use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::wire::body::views;
use crate::wire::schema::Schema;
use actix_web::guard;
use actix_web::http::Method;
use actix_web::http::header;
use actix_web::web::{self, ServiceConfig};
use actix_web::{FromRequest, Handler, HttpResponse, Responder, Route};
use std::collections::BTreeMap;

/// Who may use a route.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// Anybody.
    Anyone,
    /// Whoever is signed in.
    SignedIn,
    /// Members of the league that the id in the path belongs to.
    Member,
    Organizer,
    /// The member whose record it is.
    Owner,
    /// The member whose record or round it is, and its organizers (and scorers, for rounds).
    OwnerOrOrganizer,
    /// Any member but the one whose round it is.
    OtherMember,
    /// Those whom a finding concerns, organizers and its reviewers; to others it is not there.
    Concerned,
}

impl Access {
    /// Says in words who may.
    pub fn words(self) -> &'static str {
        match self {
            Access::Anyone => "Anybody.",
            Access::SignedIn => "Whoever is signed in.",
            Access::Member => "Members of the league.",
            Access::Organizer => "Organizers of the league.",
            Access::Owner => "The member concerned.",
            Access::OwnerOrOrganizer => "The member concerned and organizers (scorers too, for rounds).",
            Access::Concerned => "Those whom the finding concerns, organizers and its reviewers.",
            Access::OtherMember => "Members other than the one concerned.",
        }
    }
}

/// What a body holds.
#[derive(Clone)]
pub enum Media {
    /// JSON of a shape.
    Json(Schema),
    /// A merge patch of JSON of a shape.
    Patch(Schema),
    /// A line of JSON each.
    Lines(Schema),
    JsonOrCsv(Schema),
    /// Server-sent events.
    Events(Schema),
    Csv,
    Text,
    Nothing,
}

pub struct RouteDoc {
    pub method: Method,
    /// The path, with `{id}` for the id, `{number}` for that of a hole.
    pub path: &'static str,
    /// What it does, in one line.
    pub summary: &'static str,
    /// Who may use it.
    pub access: Access,
    /// The query parameters that it takes, with what they mean.
    pub query: &'static [(&'static str, &'static str)],
    pub takes: Media,
    /// The status of its success.
    pub status: u16,
    pub answers: Media,
    /// Whether the request carries an idempotency key.
    pub keyed: bool,
    /// Whether the request must say which version it means.
    pub matched: bool,
}

/// The list in the making.
#[derive(Default)]
pub struct Routes {
    /// What each route is.
    pub docs: Vec<RouteDoc>,
    handlers: Vec<(Method, &'static str, Route)>,
}

/// The query parameters of a collection.
pub const PAGE: &[(&str, &str)] =
    &[("limit", "How many items, 1 to 200; 50 without it."), ("after", "The cursor of the page before.")];

impl Routes {
    /// Adds a route.
    pub fn add<H, Args>(&mut self, doc: RouteDoc, handler: H)
    where
        H: Handler<Args>,
        Args: FromRequest + 'static,
        H::Output: Responder + 'static,
    {
        let route = Route::new().method(doc.method.clone()).to(handler.clone());
        self.handlers.push((doc.method.clone(), doc.path, route));
        if doc.method == Method::GET {
            // HEAD wherever GET: the server drops the body.
            self.handlers.push((Method::HEAD, doc.path, Route::new().method(Method::HEAD).to(handler)));
        }
        self.docs.push(doc);
    }

    /// Serves the routes; a method that a path does not have gets 405 with those that it has.
    pub fn serve(self, config: &mut ServiceConfig) {
        let mut by_path: BTreeMap<&'static str, Vec<(Method, Route)>> = BTreeMap::new();
        for (method, path, route) in self.handlers {
            by_path.entry(path).or_default().push((method, route));
        }
        for (path, routes) in by_path {
            let mut allowed: Vec<String> = routes.iter().map(|(method, _)| method.to_string()).collect();
            allowed.sort();
            let allowed = allowed.join(", ");
            let mut resource = web::resource(path);
            for (_, route) in routes {
                resource = resource.route(route);
            }
            config.service(resource.default_service(web::route().guard(guard::fn_guard(|_| true)).to(move || {
                let problem = Problem::new(Kind::MethodNotAllowed, format!("this address takes {allowed}"))
                    .with(header::ALLOW, allowed.clone());
                async move { Err::<HttpResponse, _>(problem) }
            })));
        }
    }
}

/// A route that reads.
pub fn reads(path: &'static str, summary: &'static str, access: Access, answers: Schema) -> RouteDoc {
    RouteDoc {
        method: Method::GET,
        path,
        summary,
        access,
        query: &[],
        takes: Media::Nothing,
        status: 200,
        answers: Media::Json(answers),
        keyed: false,
        matched: false,
    }
}

/// A route that reads a collection page by page.
pub fn lists(path: &'static str, summary: &'static str, access: Access, item: Schema) -> RouteDoc {
    RouteDoc { query: PAGE, ..reads(path, summary, access, views::page(item)) }
}

/// A route that creates.
pub fn creates(path: &'static str, summary: &'static str, access: Access, takes: Schema, answers: Schema) -> RouteDoc {
    RouteDoc {
        method: Method::POST,
        takes: Media::Json(takes),
        status: 201,
        keyed: true,
        ..reads(path, summary, access, answers)
    }
}

/// A route that changes some fields of a resource.
pub fn patches(path: &'static str, summary: &'static str, access: Access, takes: Schema, answers: Schema) -> RouteDoc {
    RouteDoc {
        method: Method::PATCH,
        takes: Media::Patch(takes),
        matched: true,
        ..reads(path, summary, access, answers)
    }
}

/// A route that replaces a resource.
pub fn replaces(path: &'static str, summary: &'static str, access: Access, takes: Schema, answers: Schema) -> RouteDoc {
    RouteDoc { method: Method::PUT, takes: Media::Json(takes), matched: true, ..reads(path, summary, access, answers) }
}

/// A route that removes.
pub fn removes(path: &'static str, summary: &'static str, access: Access, matched: bool) -> RouteDoc {
    RouteDoc {
        method: Method::DELETE,
        status: 204,
        answers: Media::Nothing,
        matched,
        ..reads(path, summary, access, Schema::Anything)
    }
}
