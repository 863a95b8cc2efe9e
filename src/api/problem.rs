//! Every failure as RFC 9457 `application/problem+json`: one row a kind.

use crate::accounts::password::PasswordRefusal;
use crate::bodies::views;
use crate::domain::facts::Fault;
use crate::league::Refusal;
use crate::league::accounts::AccountRefusal;
use crate::schema::FieldError;
use crate::storage::StorageError;
use actix_web::body::BoxBody;
use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use std::fmt;
use uuid::Uuid;

/// A field that is wrong, as it is answered.
#[derive(Clone, Debug, Serialize)]
pub struct ProblemField {
    /// JSON Pointer into the body.
    pub pointer: String,
    /// What is wrong, with the limit.
    pub detail: String,
    /// The kind of fault.
    pub code: &'static str,
    /// The problem type of this fault alone.
    #[serde(rename = "type")]
    pub kind: String,
    /// The least legal value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub min: Option<f64>,
    /// The greatest legal value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max: Option<f64>,
}

/// A failure on its way to the caller.
#[derive(Clone, Debug)]
pub struct Problem(Box<Parts>);

#[derive(Clone, Debug)]
struct Parts {
    status: StatusCode,
    slug: &'static str,
    title: &'static str,
    detail: String,
    errors: Vec<ProblemField>,
    parameter: Option<String>,
    headers: Vec<(HeaderName, String)>,
}

/// Lists the kinds of problems: the title of each, and its page under `docs/problems`, without which it does not compile.
macro_rules! kinds {
    ($($slug:literal: $title:literal,)*) => {
        /// The title of each kind of problem.
        pub const TITLES: &[(&str, &str)] = &[$(($slug, $title)),*];
        /// The page of each kind, in Markdown, in the same order.
        pub const PAGES: &[&str] = &[$(include_str!(concat!("../../docs/problems/", $slug, ".md"))),*];
    };
}

kinds! {
    "account-exists": "This address has an account",
    "already-entered": "Entered already",
    "already-member": "Already a member",
    "answer-awaited": "Those concerned have their say first",
    "award-order": "A later place is worth more",
    "bad-cursor": "Unusable cursor",
    "cards-waiting": "Cards wait to be accepted",
    "code-spent": "The code was used or has run out",
    "concession-too-long": "Too long a putt was conceded",
    "conflict-of-interest": "Not on oneself",
    "cross-site": "Sent from another site",
    "date-order": "Dates in the wrong order",
    "division-repeated": "Two divisions share a name",
    "divisions-overlap": "Divisions overlap",
    "event-final": "The event is final",
    "event-has-cards": "The event has cards",
    "event-not-open": "The event is not open",
    "event-not-over": "The event is not over",
    "first-hole": "Not a first hole",
    "forbidden": "Not allowed",
    "hole-count": "Neither 9 nor 18 holes",
    "hole-missing": "A hole is missing",
    "hole-not-on-card": "The hole is not played",
    "hole-not-played": "A hole that was not played has strokes",
    "hole-repeated": "A hole is given twice",
    "holes-settled": "Rounds were handed in already",
    "idempotency-key-missing": "Idempotency-Key is needed",
    "idempotency-key-reused": "The key was used for something else",
    "if-match-missing": "If-Match is needed",
    "internal": "Internal error",
    "invalid-transition": "Not from here",
    "last-organizer": "The last organizer",
    "league-exists": "The league is there already",
    "last-putt-unholed": "The last putt was not holed",
    "leave-of-holed": "A holed putt with a leave",
    "malformed": "The request cannot be read",
    "method-not-allowed": "Method Not Allowed",
    "misdirected-request": "Misdirected Request",
    "name-taken": "The name is taken",
    "nine-repeated": "A nine is rated twice",
    "nine-start": "Not the start of a nine",
    "no-counting-card": "No card counts",
    "no-league": "No league",
    "not-acceptable": "Not Acceptable",
    "not-an-address": "Not an address",
    "not-found": "Nothing here",
    "not-a-zone": "Not a time zone",
    "nothing-to-accept": "Nothing to accept",
    "nothing-to-undo": "Nothing to undo",
    "outside-season": "Outside the season",
    "own-round": "Nobody attests an own round",
    "repeated-id": "An id is given twice",
    "season-missing": "A season is needed",
    "same-name": "Somebody has this name",
    "second-league": "A second league",
    "password-refused": "The password is not acceptable",
    "payload-too-large": "Payload Too Large",
    "played-in-future": "Played on a day to come",
    "played-outside-event": "Played outside the event",
    "putt-after-holing": "A putt after the ball was holed",
    "putt-count": "Putts listed and counted",
    "putts-exceed-strokes": "More putts than strokes",
    "quota-exceeded": "Too many requests",
    "read-only": "Worked out, not sent",
    "reason-missing": "A reason is needed",
    "reauth-required": "Sign in afresh",
    "registration-closed": "Registration is not open",
    "request-header-fields-too-large": "Request Header Fields Too Large",
    "request-timeout": "Request Timeout",
    "round-exists": "Another round has this client_round_id",
    "round-missing": "The card is missing",
    "round-withdrawn": "The round was withdrawn",
    "rounds-missing": "The rounds are missing",
    "second-round": "A second round in one event",
    "settled": "Settled when it was handed in",
    "setup-first": "The set-up comes first",
    "stale": "Changed in the meantime",
    "storage-full": "The disk is full",
    "storage-stopped": "The database takes no changes",
    "stroke-index-repeated": "A stroke index is given twice",
    "strokes-missing": "Strokes are missing",
    "tee-assignment": "Not an assignment of a tee",
    "tee-does-not-fit": "The tee cannot stage the event",
    "tee-in-use": "The tee is played",
    "tee-repeated": "Two tees share an id",
    "temporary-reduced-capacity": "Busy",
    "terms-in-use": "Cards hold what the terms would forbid",
    "terms-settled": "The season's terms are settled",
    "time-order": "Times in the wrong order",
    "unauthenticated": "Not signed in",
    "unequal-holes": "Events of unequal holes",
    "unknown-division": "No such division",
    "unknown-event": "No such event",
    "unknown-id": "No such id",
    "unknown-member": "No such member",
    "unknown-parameter": "Unknown parameter",
    "unknown-season": "No such season",
    "unknown-setup": "Not a set-up for this player",
    "unknown-tee": "No such tee",
    "unsupported-media-type": "Unsupported Media Type",
    "uri-too-long": "URI Too Long",
    "validation": "Fields are wrong",
    "wrong-password": "The password is wrong",
}

fn title_of(slug: &str) -> (&'static str, &'static str) {
    let known = TITLES.iter().find(|(known, _)| *known == slug);
    *known.unwrap_or(&("validation", "Fields are wrong"))
}

impl Problem {
    /// Makes a problem of a kind.
    pub fn new(status: StatusCode, slug: &str, detail: impl Into<String>) -> Self {
        let (slug, title) = title_of(slug);
        let (errors, headers) = (Vec::new(), Vec::new());
        Self(Box::new(Parts { status, slug, title, detail: detail.into(), errors, parameter: None, headers }))
    }

    /// Adds a header to the answer.
    pub fn with(mut self, name: HeaderName, value: impl Into<String>) -> Self {
        self.0.headers.push((name, value.into()));
        self
    }

    /// Nothing here, or not the caller's to know.
    pub fn not_found() -> Self {
        Self::new(StatusCode::NOT_FOUND, "not-found", "there is nothing here that you may see")
    }

    /// Not signed in.
    pub fn unauthenticated(detail: &str) -> Self {
        Self::new(StatusCode::UNAUTHORIZED, "unauthenticated", detail).with(header::WWW_AUTHENTICATE, "Bearer")
    }

    /// A request that is not what it should be, before its meaning is looked at.
    pub fn malformed(detail: impl Into<String>) -> Self {
        Self::new(StatusCode::BAD_REQUEST, "malformed", detail)
    }

    /// A query parameter that is unknown or unusable.
    pub fn parameter(name: &str, slug: &str, detail: impl Into<String>) -> Self {
        let mut problem = Self::new(StatusCode::BAD_REQUEST, slug, detail);
        // A name that a client made up may have any length and any characters.
        problem.0.parameter = Some(name.chars().filter(|c| !c.is_control()).take(views::MOST_PARAMETER).collect());
        problem
    }

    fn with_errors(status: StatusCode, slug: &str, detail: String, errors: impl Iterator<Item = ProblemField>) -> Self {
        let mut problem = Self::new(status, slug, detail);
        problem.0.errors = errors.collect();
        problem
    }

    /// Fields that do not have the shape of their body.
    pub fn fields(errors: Vec<FieldError>) -> Self {
        let count = errors.len();
        let errors = errors.into_iter().map(|error| ProblemField {
            pointer: error.pointer,
            detail: error.detail,
            code: error.code,
            kind: "/problems/validation".into(),
            min: error.min,
            max: error.max,
        });
        let detail = format!("{count} field{} cannot be taken as sent", if count == 1 { "" } else { "s" });
        Self::with_errors(StatusCode::UNPROCESSABLE_ENTITY, "validation", detail, errors)
    }

    /// Rules that a body breaks: of one kind its own problem, of several one problem with each named.
    pub fn faults(faults: Vec<Fault>) -> Self {
        let same = faults.windows(2).all(|pair| pair[0].rule == pair[1].rule);
        let slug = faults.first().filter(|_| same).map_or("validation", |fault| fault.rule);
        let detail = match faults.as_slice() {
            [only] => only.detail.clone(),
            many => format!("{} rules are broken", many.len()),
        };
        let errors = faults.into_iter().take(crate::schema::MOST_FAULTS).map(|fault| ProblemField {
            pointer: fault.pointer,
            detail: fault.detail,
            code: fault.rule,
            kind: format!("/problems/{}", title_of(fault.rule).0),
            min: None,
            max: None,
        });
        Self::with_errors(StatusCode::UNPROCESSABLE_ENTITY, slug, detail, errors)
    }

    /// Fields that do not have their shape, together with the rules that the others break.
    pub fn fields_and_faults(errors: Vec<FieldError>, faults: Vec<Fault>) -> Self {
        if errors.is_empty() {
            return Self::faults(faults);
        }
        let rules = Self::faults(faults);
        let mut problem = Self::fields(errors);
        problem.0.errors.extend(rules.0.errors);
        problem.0.errors.truncate(crate::schema::MOST_FAULTS);
        let count = problem.0.errors.len();
        problem.0.detail = format!("{count} field{} cannot be taken as sent", if count == 1 { "" } else { "s" });
        problem
    }

    /// A password that is not acceptable, and the field that it stands in.
    pub fn password(pointer: &str, reason: &PasswordRefusal) -> Self {
        let mut problem = Self::faults(vec![Fault::new(pointer, "password-refused", reason.to_string())]);
        problem.0.errors.iter_mut().for_each(|error| error.code = reason.rule());
        problem
    }

    /// Busy: try again soon.
    pub fn busy() -> Self {
        let wait = 1 + Uuid::new_v4().as_u128() % 3;
        let detail = "the server takes no more work just now; send the same request again";
        Self::new(StatusCode::SERVICE_UNAVAILABLE, "temporary-reduced-capacity", detail)
            .with(header::RETRY_AFTER, wait.to_string())
    }

    /// The database is not reached, so that it is not known what became of what was sent.
    fn away() -> Self {
        let mut problem = Self::busy();
        problem.0.detail = AWAY.into();
        problem
    }

    /// Says whether the database is not reached.
    pub fn is_away(&self) -> bool {
        self.0.detail == AWAY
    }

    /// A failure of ours: the caller learns no more than that.
    pub fn internal(error: &(dyn std::error::Error + 'static)) -> Self {
        let mut chain = error.to_string();
        let mut cause = error.source();
        while let Some(next) = cause {
            chain = format!("{chain}: {next}");
            cause = next.source();
        }
        tracing::error!(error = chain, "a request failed");
        let detail = "the server failed; the request may be sent again";
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, "internal", detail)
    }

    /// Answers with another status.
    pub fn set_status(&mut self, status: StatusCode) {
        self.0.status = status;
    }

    /// Returns the HTTP status.
    pub fn status(&self) -> StatusCode {
        self.0.status
    }

    /// Says whether it is of a kind.
    pub fn is(&self, slug: &str) -> bool {
        self.0.slug == slug
    }

    /// Returns the title of its kind.
    pub fn title(&self) -> &'static str {
        self.0.title
    }

    /// Returns what happened.
    pub fn detail(&self) -> &str {
        &self.0.detail
    }

    /// Returns the fields that are wrong.
    pub fn errors(&self) -> &[ProblemField] {
        &self.0.errors
    }

    /// Writes the body, with the request that it answers.
    pub fn to_json(&self, request: Option<Uuid>) -> serde_json::Value {
        let mut body = serde_json::json!({
            "type": format!("/problems/{}", self.0.slug),
            "title": self.0.title,
            "status": self.0.status.as_u16(),
            "detail": self.0.detail,
        });
        if let Some(request) = request {
            body["instance"] = format!("urn:uuid:{request}").into();
        }
        if let Some(parameter) = &self.0.parameter {
            body["parameter"] = parameter.as_str().into();
        }
        if !self.0.errors.is_empty() {
            body["errors"] = serde_json::json!(self.0.errors);
        }
        body
    }

    /// Makes the answer, with the request that it answers.
    pub fn answer(&self, request: Option<Uuid>) -> HttpResponse {
        let mut answer = HttpResponse::build(self.0.status);
        answer.insert_header((header::CONTENT_TYPE, "application/problem+json"));
        let mut answer = answer.body(self.to_json(request).to_string());
        self.add_headers(answer.headers_mut());
        answer
    }

    /// Adds the headers that go with the problem, such as `Retry-After`, in whatever form it is answered.
    pub fn add_headers(&self, headers: &mut HeaderMap) {
        for (name, value) in &self.0.headers {
            if let Ok(value) = HeaderValue::from_str(value) {
                headers.append(name.clone(), value);
            }
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.0.title, self.0.detail)
    }
}

impl std::error::Error for Problem {}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        self.0.status
    }

    fn error_response(&self) -> HttpResponse<BoxBody> {
        self.answer(None)
    }
}

/// What is said while the database is not reached.
const AWAY: &str = "the database does not answer; send the same request again";

/// Writes an entity tag for a version.
pub fn etag(version: impl fmt::Display) -> String {
    format!("\"{version}\"")
}

impl From<StorageError> for Problem {
    fn from(error: StorageError) -> Self {
        match error {
            StorageError::Busy | StorageError::Overtaken => Problem::busy(),
            StorageError::Away => Problem::away(),
            StorageError::LastingActs(source) => {
                tracing::error!(error = source.to_string(), "the file of lasting acts cannot be written");
                let detail = "this act must outlast a restore and could not be written down for that; nothing was done";
                Problem::new(StatusCode::SERVICE_UNAVAILABLE, "temporary-reduced-capacity", detail)
                    .with(header::RETRY_AFTER, "30")
            }
            StorageError::Full => {
                Problem::new(StatusCode::SERVICE_UNAVAILABLE, "storage-full", "the disk is full; nothing was stored")
                    .with(header::RETRY_AFTER, "30")
            }
            error if error.stops_changes() => {
                let detail = "the server's database takes no changes until its operator has mended it; nothing was \
                              stored: keep what you sent, and send it again later";
                Problem::new(StatusCode::SERVICE_UNAVAILABLE, "storage-stopped", detail).with(header::RETRY_AFTER, "60")
            }
            error => Problem::internal(&error),
        }
    }
}

impl From<Refusal> for Problem {
    fn from(refusal: Refusal) -> Self {
        match refusal {
            Refusal::NotFound => Problem::not_found(),
            Refusal::SignedOut => Problem::unauthenticated(&refusal.to_string()),
            Refusal::Forbidden(detail) => Problem::new(StatusCode::FORBIDDEN, "forbidden", detail),
            Refusal::Concerned(detail) => Problem::new(StatusCode::FORBIDDEN, "conflict-of-interest", detail),
            Refusal::PasswordDue => Problem::new(StatusCode::UNAUTHORIZED, "reauth-required", refusal.to_string())
                .with(header::WWW_AUTHENTICATE, "Bearer"),
            Refusal::Faults(faults) => Problem::faults(faults),
            Refusal::Fields(errors, faults) => Problem::fields_and_faults(errors, faults),
            Refusal::Conflict { rule, detail } => Problem::new(StatusCode::CONFLICT, rule, detail),
            Refusal::CodeSpent => Problem::new(StatusCode::GONE, "code-spent", refusal.to_string()),
            Refusal::Stale(version) => Problem::new(StatusCode::PRECONDITION_FAILED, "stale", refusal.to_string())
                .with(header::ETAG, etag(version)),
            Refusal::IfMatchMissing => Problem::new(
                StatusCode::PRECONDITION_REQUIRED,
                "if-match-missing",
                "say with If-Match which version you mean: the ETag that you read",
            ),
            Refusal::KeyReused => {
                Problem::new(StatusCode::UNPROCESSABLE_ENTITY, "idempotency-key-reused", refusal.to_string())
            }
            Refusal::Storage(error) => error.into(),
            Refusal::Randomness(error) => Problem::internal(&error),
        }
    }
}

impl From<AccountRefusal> for Problem {
    fn from(refusal: AccountRefusal) -> Self {
        match refusal {
            AccountRefusal::Wrong | AccountRefusal::SignedOut => Problem::unauthenticated(&refusal.to_string()),
            AccountRefusal::Wait(seconds) => {
                Problem::new(StatusCode::TOO_MANY_REQUESTS, "quota-exceeded", refusal.to_string())
                    .with(header::RETRY_AFTER, seconds.to_string())
            }
            AccountRefusal::Busy => Problem::busy(),
            AccountRefusal::Password(reason) => Problem::password("/password", &reason),
            AccountRefusal::Taken => Problem::new(StatusCode::CONFLICT, "account-exists", refusal.to_string()),
            AccountRefusal::Closed(detail) => Problem::new(StatusCode::FORBIDDEN, "registration-closed", detail),
            AccountRefusal::Hashing(error) => Problem::internal(&error),
            AccountRefusal::Issuing(error) => Problem::internal(&error),
            AccountRefusal::Randomness(error) => Problem::internal(&error),
            AccountRefusal::Refused(refusal) => refusal.into(),
        }
    }
}
