//! What happens around every request: a request id, security headers, how much may still be asked, known query
//! parameters, problems from every layer, a log line and a count.

use crate::http::address::query_pairs;
use crate::http::app::App;
use crate::http::connection::{Answered, Exchange};
use crate::http::hosts;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::http::quota::Standing;
use crate::http::routes::RouteDoc;
use actix_web::HttpMessage;
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::web::Data;
use std::time::Instant;
use uuid::Uuid;

const HEADERS: &[(&str, &str)] = &[
    (
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; \
         form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'; \
         manifest-src 'self'; worker-src 'self'",
    ),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", ""),
];

const ONE_YEAR: &str = "max-age=31536000; includeSubDomains";

/// Adds the headers that every answer has.
pub(crate) fn secure(headers: &mut HeaderMap, request: Uuid, behind_proxy: bool) {
    for (name, value) in HEADERS {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    if behind_proxy {
        headers.insert(header::STRICT_TRANSPORT_SECURITY, HeaderValue::from_static(ONE_YEAR));
    }
    if !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
    if let Ok(value) = HeaderValue::from_str(&request.to_string()) {
        headers.insert(HeaderName::from_static("x-request-id"), value);
    }
}

/// The most bytes of a request's target: path and query.
pub(crate) const MOST_TARGET: usize = 8 * 1024;
/// The most bytes of a request's header fields together: names and values, and four for each `: ` and line end.
pub(crate) const MOST_HEADERS: usize = 16 * 1024;

/// Refuses what no route would take.
fn not_ours(request: &ServiceRequest, hosts: &[String]) -> Option<Problem> {
    if !hosts.is_empty() && !hosts::is_named(hosts, request) {
        let detail = format!("this server answers for {}", hosts.join(", "));
        return Some(Problem::new(Kind::MisdirectedRequest, detail));
    }
    if request.uri().path_and_query().is_some_and(|target| target.as_str().len() > MOST_TARGET) {
        let detail = format!("path and query have at most {MOST_TARGET} bytes together");
        return Some(Problem::new(Kind::UriTooLong, detail));
    }
    let headers = request.headers().iter().map(|(name, value)| name.as_str().len() + value.len() + 4);
    if headers.sum::<usize>() > MOST_HEADERS {
        let detail = format!("header fields have at most {MOST_HEADERS} bytes together");
        return Some(Problem::new(Kind::RequestHeaderFieldsTooLarge, detail));
    }
    None
}

/// Refuses query parameters that the route does not take, and repeated ones.
fn unknown_parameter(request: &ServiceRequest, docs: &[RouteDoc]) -> Option<Problem> {
    let pattern = request.match_pattern()?;
    let path = pattern.strip_prefix("/api/v1")?;
    let method = if request.method() == "HEAD" { "GET" } else { request.method().as_str() };
    let doc = docs.iter().find(|doc| doc.path == path && doc.method == method)?;
    let pairs = query_pairs(request.query_string());
    let mut seen = Vec::new();
    for (name, _) in &pairs {
        if !doc.query.iter().any(|(known, _)| known == name) {
            let known: Vec<&str> = doc.query.iter().map(|(known, _)| *known).collect();
            let detail = match known.as_slice() {
                [] => "there are no parameters here".to_owned(),
                known => format!("the parameters here are {}", known.join(", ")),
            };
            return Some(Problem::parameter(name, Kind::UnknownParameter, detail));
        }
        if seen.contains(&name) {
            return Some(Problem::parameter(name, Kind::UnknownParameter, format!("{name} is given twice")));
        }
        seen.push(name);
    }
    None
}

/// Returns the name of a method; one that a client made up is not counted by its name, as there is no end of them.
fn known_method(method: &Method) -> &'static str {
    let known = ["GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"];
    known.into_iter().find(|known| method == known).unwrap_or("other")
}

/// Wraps a request.
///
/// # Errors
/// None of its own: every failure becomes an answer.
pub async fn watch(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<Answered>, actix_web::Error> {
    let exchange = Exchange::begin(&mut request);
    let app = request.app_data::<Data<App>>().expect("the server is built with its App").clone();
    let docs = request.app_data::<Data<Vec<RouteDoc>>>().cloned();
    let id = Uuid::now_v7();
    let began = Instant::now();
    let method = known_method(request.method());
    let route = request.match_pattern().unwrap_or_else(|| "none".into());
    let refused = not_ours(&request, &app.config.hosts);
    let refused = refused.or_else(|| docs.and_then(|docs| unknown_parameter(&request, &docs)));
    let mut response = match refused {
        Some(problem) => request.into_response(problem.answer(Some(id))),
        None => next.call(request).await?.map_into_boxed_body(),
    };
    let problem = problem_of(&response);
    if let Some(problem) = problem {
        let (http_request, _) = response.into_parts();
        response = ServiceResponse::new(http_request, problem.answer(Some(id)));
    }
    let status = response.status().as_u16();
    secure(response.headers_mut(), id, app.config.behind_proxy);
    if route.starts_with("/s/") {
        // The address itself is a secret.
        response.headers_mut().insert(header::REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    }
    let standing = response.request().extensions().get::<Standing>().copied();
    if let Some(standing) = standing {
        standing.show(response.headers_mut());
    }
    let took = began.elapsed();
    app.measures.count(&route, method, status, took);
    let duration_ms = took.as_secs_f64() * 1000.0;
    tracing::info!(request = %id, %method, route, status, duration_ms, "answered");
    Ok(exchange.end_with(response))
}

/// Returns the problem that an answer stands for, also where the framework made it.
fn problem_of(response: &ServiceResponse<BoxBody>) -> Option<Problem> {
    let status = response.status();
    if !status.is_client_error() && !status.is_server_error() {
        return None;
    }
    if let Some(problem) = response.response().error().and_then(|error| error.as_error::<Problem>()) {
        return Some(problem.clone());
    }
    let kind = response.headers().get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
    if kind.is_some_and(|kind| kind == "application/problem+json" || kind.starts_with("text/html")) {
        return None;
    }
    let kind = match status {
        StatusCode::NOT_FOUND => return Some(Problem::not_found()),
        StatusCode::METHOD_NOT_ALLOWED => Kind::MethodNotAllowed,
        StatusCode::PAYLOAD_TOO_LARGE => Kind::PayloadTooLarge,
        StatusCode::REQUEST_TIMEOUT => Kind::RequestTimeout,
        StatusCode::UNSUPPORTED_MEDIA_TYPE => Kind::UnsupportedMediaType,
        StatusCode::SERVICE_UNAVAILABLE => return Some(Problem::busy()),
        status if status.is_server_error() => {
            let detail = "the server failed; try again";
            return Some(Problem::new(Kind::Internal, detail));
        }
        _ => Kind::Malformed,
    };
    let detail = status.canonical_reason().unwrap_or("the request cannot be read");
    Some(Problem::new(kind, detail).with_status(status))
}
