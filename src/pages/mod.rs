//! The pages: HTML that the server writes, a typed context each. Files mirror the URL tree.
//!
//! Every page works without script; scripts add live boards and drafts. A page knows no rule of golf: it shows what
//! [`league`](crate::league) answers.

mod addresses;
mod adjustments;
mod afresh;
mod answer;
mod ask;
mod assets;
mod bring_file;
mod card_text;
mod carried;
mod charts;
mod competition;
mod competition_edit;
mod counted_events;
mod desk;
mod door;
mod entries;
mod event;
mod event_end;
mod event_void;
mod faults;
mod fields;
mod finding;
mod finding_page;
mod fixture;
mod fixtures;
mod form;
mod frame;
mod hand_in;
mod handicap_acts;
mod held;
mod home;
mod kept;
pub mod last_shown;
mod line_up;
mod lines;
mod masked;
mod member;
mod names;
mod nights_end;
mod notices;
mod organize;
mod password;
mod problem;
mod prose;
mod public;
mod putting;
mod putting_table;
mod queries;
mod reference;
mod round;
mod ruling;
#[cfg(debug_assertions)]
mod samples;
mod season;
mod sensor_text;
mod side_contests;
mod team;
mod typed;
mod upload;
mod why;
pub mod words;

pub use answer::{page, page_with, reads, see_other};
pub use frame::{Frame, Place};

use crate::http::problem::Problem;
use actix_web::middleware::from_fn;
use actix_web::web::{self, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};

/// Serves the pages. They come last: whatever no other part answers is looked for here.
pub fn serve(config: &mut ServiceConfig) {
    #[cfg(debug_assertions)]
    config.configure(samples::routes);
    config.service(
        web::scope("")
            .wrap(from_fn(problem::as_page))
            .configure(assets::routes)
            .configure(door::routes)
            .configure(afresh::routes)
            .configure(password::routes)
            .configure(reference::routes)
            .configure(organize::serve)
            .configure(home::routes)
            .configure(season::routes)
            .configure(putting_table::routes)
            .configure(competition::routes)
            .configure(competition_edit::routes)
            .configure(adjustments::routes)
            .configure(carried::routes)
            .configure(handicap_acts::routes)
            .configure(addresses::routes)
            .configure(public::routes)
            .configure(team::routes)
            .configure(fixtures::routes)
            .configure(fixture::routes)
            .configure(line_up::routes)
            .configure(entries::routes)
            .configure(side_contests::routes)
            .configure(event::routes)
            .configure(event_end::routes)
            .configure(nights_end::routes)
            .configure(event_void::routes)
            .configure(hand_in::routes)
            .configure(bring_file::routes)
            .configure(round::routes)
            .configure(queries::routes)
            .configure(ruling::routes)
            .configure(why::routes)
            .configure(notices::routes)
            .configure(member::routes)
            .configure(finding::routes)
            .configure(desk::routes)
            .configure(held::routes)
            .default_service(web::to(|_: HttpRequest| async { Err::<HttpResponse, _>(Problem::not_found()) })),
    );
}
