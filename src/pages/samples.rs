//! Every piece that pages are put together from, once, for whoever changes one. Only debug builds serve it.

use super::charts::{self, Dot, Words};
use super::{Frame, page};
use crate::http::answer::Answer;
use actix_web::web::{self, ServiceConfig};
use askama::Template;

#[derive(Template)]
#[template(path = "samples.html")]
struct Samples {
    frame: Frame,
    faults: Vec<(&'static str, &'static str)>,
    chart: String,
}

impl Samples {
    fn fault(&self, field: &str) -> Option<&'static str> {
        self.faults.iter().find(|(known, _)| *known == field).map(|(_, detail)| *detail)
    }
}

async fn samples() -> Answer {
    let dot = |label: &str, value, interval| Dot { label: label.into(), value, interval, beside: None };
    let rows = [
        dot("3–5 ft (61)", 0.4, Some((-0.3, 1.1))),
        dot("5–7 ft (48)", -0.9, Some((-1.6, -0.2))),
        dot("7–10 ft (4)", 0.1, None),
    ];
    let about = Words { id: "sample", title: "Strokes gained by distance", description: "Right of 0 is better." };
    let faults = vec![("stimp_ft", "Green speed must be from 4 to 16 ft; it is 40.")];
    page(&Samples { frame: Frame::default(), faults, chart: charts::dots(&about, &rows) })
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config.service(web::resource("/samples").route(super::reads().to(samples)));
}
