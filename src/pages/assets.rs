//! What pages are dressed with, built into the program.

use actix_web::HttpResponse;
use actix_web::http::header;
use actix_web::web::{self, ServiceConfig};

const FILES: &[(&str, &str, &str)] = &[
    ("/assets/style.css", "text/css; charset=utf-8", include_str!("assets/style.css")),
    ("/assets/mark.svg", "image/svg+xml", include_str!("assets/mark.svg")),
    ("/assets/mark-dark.svg", "image/svg+xml", include_str!("assets/mark-dark.svg")),
    ("/assets/join.js", "text/javascript; charset=utf-8", include_str!("assets/join.js")),
    ("/assets/pad.js", "text/javascript; charset=utf-8", include_str!("assets/pad.js")),
    ("/assets/hand-in.js", "text/javascript; charset=utf-8", include_str!("assets/hand-in.js")),
    ("/assets/cards.js", "text/javascript; charset=utf-8", include_str!("assets/cards.js")),
    ("/assets/copy.js", "text/javascript; charset=utf-8", include_str!("assets/copy.js")),
    ("/service-worker.js", "text/javascript; charset=utf-8", include_str!("assets/service-worker.js")),
    ("/assets/board.js", "text/javascript; charset=utf-8", include_str!("assets/board.js")),
];

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    for (path, kind, text) in FILES {
        let show = move || async move {
            HttpResponse::Ok()
                .content_type(*kind)
                // An hour: a page and its script change together within an evening.
                .insert_header((header::CACHE_CONTROL, "public, max-age=3600"))
                .body(*text)
        };
        config.service(web::resource(*path).route(super::reads().to(show)));
    }
}
