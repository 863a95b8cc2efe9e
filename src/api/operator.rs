//! What an operator watches: `/livez`, `/readyz`, `/metrics`.

use super::App;
use super::problem::Problem;
use actix_web::http::{StatusCode, header};
use actix_web::web::{self, Data, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::watch;

/// The upper ends of the classes of a duration, in seconds.
const CLASSES: [f64; 9] = [0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0];

#[derive(Clone, Default)]
struct Durations {
    counts: [u64; CLASSES.len() + 1],
    sum: f64,
}

/// Counts and durations of requests, by route template, method and status.
pub struct Measures {
    requests: Mutex<BTreeMap<(String, String, u16), Durations>>,
    stop: watch::Sender<bool>,
}

impl Default for Measures {
    fn default() -> Self {
        Self { requests: Mutex::new(BTreeMap::new()), stop: watch::channel(false).0 }
    }
}

impl Measures {
    /// Counts a request.
    pub fn count(&self, route: &str, method: &str, status: u16, took: Duration) {
        let mut requests = self.requests.lock().unwrap_or_else(PoisonError::into_inner);
        let durations = requests.entry((route.to_owned(), method.to_owned(), status)).or_default();
        let seconds = took.as_secs_f64();
        let class = CLASSES.iter().position(|end| seconds <= *end).unwrap_or(CLASSES.len());
        durations.counts[class] += 1;
        durations.sum += seconds;
    }

    /// Tells streams that the server stops.
    pub fn stop(&self) {
        let _ = self.stop.send(true);
    }

    /// Returns what tells that the server stops.
    pub fn stopping(&self) -> watch::Receiver<bool> {
        self.stop.subscribe()
    }

    fn is_stopping(&self) -> bool {
        *self.stop.borrow()
    }

    /// Writes OpenMetrics.
    fn open_metrics(&self, app: &App) -> String {
        let mut text =
            String::from("# TYPE evenfield_request_seconds histogram\n# UNIT evenfield_request_seconds seconds\n");
        let requests = self.requests.lock().unwrap_or_else(PoisonError::into_inner).clone();
        for ((route, method, status), durations) in requests {
            let labels = format!("route=\"{route}\",method=\"{method}\",status=\"{status}\"");
            let mut total = 0;
            for (class, count) in durations.counts.iter().enumerate() {
                total += count;
                let end = CLASSES.get(class).map_or("+Inf".into(), |end| end.to_string());
                let _ = writeln!(text, "evenfield_request_seconds_bucket{{{labels},le=\"{end}\"}} {total}");
            }
            let _ = writeln!(text, "evenfield_request_seconds_count{{{labels}}} {total}");
            let _ = writeln!(text, "evenfield_request_seconds_sum{{{labels}}} {}", durations.sum);
        }
        let waiting = app.leagues.writer.waiting();
        let _ = writeln!(text, "# TYPE evenfield_changes_waiting gauge\nevenfield_changes_waiting {waiting}");
        let up = app.started.elapsed().as_secs();
        let _ = writeln!(text, "# TYPE evenfield_uptime_seconds gauge\nevenfield_uptime_seconds {up}\n# EOF");
        text
    }
}

async fn livez() -> HttpResponse {
    HttpResponse::Ok().content_type("text/plain").body("alive\n")
}

async fn readyz(app: Data<App>) -> HttpResponse {
    let database = app.leagues.database.reader().await;
    let ready = database.is_ok() && !app.measures.is_stopping();
    let mut answer = if ready { HttpResponse::Ok() } else { HttpResponse::ServiceUnavailable() };
    answer.content_type("text/plain").body(if ready { "ready\n" } else { "not ready\n" })
}

/// Behind a proxy everybody is loopback, so nobody gets measures there.
async fn metrics(app: Data<App>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let is_local = request.peer_addr().is_some_and(|peer| peer.ip().is_loopback());
    if app.config.behind_proxy || !is_local {
        return Err(Problem::not_found());
    }
    let text = app.measures.open_metrics(&app);
    Ok(HttpResponse::build(StatusCode::OK)
        .content_type("application/openmetrics-text; version=1.0.0; charset=utf-8")
        .body(text))
}

/// Serves the operator's routes.
pub fn serve(config: &mut ServiceConfig) {
    let read_only = |path: &str| {
        web::resource(path).default_service(web::to(|| async {
            let detail = "this address takes GET, HEAD";
            let problem = Problem::new(StatusCode::METHOD_NOT_ALLOWED, "method-not-allowed", detail);
            Err::<HttpResponse, _>(problem.with(header::ALLOW, "GET, HEAD"))
        }))
    };
    config
        .service(read_only("/livez").route(web::get().to(livez)).route(web::head().to(livez)))
        .service(read_only("/readyz").route(web::get().to(readyz)).route(web::head().to(readyz)))
        .service(read_only("/metrics").route(web::get().to(metrics)).route(web::head().to(metrics)));
}
