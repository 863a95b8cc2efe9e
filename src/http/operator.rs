//! What an operator watches: `/livez`, `/readyz`, `/metrics`.

use crate::http::app::App;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::storage::findings;
use actix_web::http::{StatusCode, header};
use actix_web::web::{self, Data, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};

async fn livez() -> HttpResponse {
    HttpResponse::Ok().content_type("text/plain").body("alive\n")
}

async fn readyz(app: Data<App>) -> Result<HttpResponse, Problem> {
    app.leagues.database.check().await.map_err(|error| match error {
        // Whoever runs the server is told what to do.
        error if error.stops_changes() => Problem::new(Kind::StorageStopped, error.to_string()),
        error => {
            tracing::warn!(error = error.to_string(), "the database does not answer");
            Problem::busy()
        }
    })?;
    if app.measures.is_stopping() || !app.leagues.writer.tasks().are_running() {
        return Err(Problem::busy());
    }
    Ok(HttpResponse::Ok().content_type("text/plain").body("ready\n"))
}

/// Behind a proxy everybody is loopback, so nobody gets measures there.
async fn metrics(app: Data<App>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let is_local = request.peer_addr().is_some_and(|peer| peer.ip().is_loopback());
    if app.config.behind_proxy || !is_local {
        return Err(Problem::not_found());
    }
    // What the process knows by itself is told when the database is out of reach, too.
    let findings = match app.leagues.database.reader().await {
        Ok(mut conn) => findings::count(&mut conn).await.ok(),
        Err(_) => None,
    };
    let text = app.measures.open_metrics(&app.leagues, app.started.elapsed(), findings);
    Ok(HttpResponse::build(StatusCode::OK)
        .content_type("application/openmetrics-text; version=1.0.0; charset=utf-8")
        .body(text))
}

/// Serves the operator's routes.
pub fn serve(config: &mut ServiceConfig) {
    let read_only = |path: &str| {
        web::resource(path).default_service(web::to(|| async {
            let detail = "this address takes GET, HEAD";
            let problem = Problem::new(Kind::MethodNotAllowed, detail);
            Err::<HttpResponse, _>(problem.with(header::ALLOW, "GET, HEAD"))
        }))
    };
    config
        .service(read_only("/livez").route(web::get().to(livez)).route(web::head().to(livez)))
        .service(read_only("/readyz").route(web::get().to(readyz)).route(web::head().to(readyz)))
        .service(read_only("/metrics").route(web::get().to(metrics)).route(web::head().to(metrics)));
}
