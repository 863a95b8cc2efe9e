//! Every failure as RFC 9457 `application/problem+json`.

use crate::accounts::password::PasswordRefusal;
use crate::domain::facts::Fault;
use crate::domain::rule::Rule;
use crate::http::kinds::Kind;
use crate::http::tag::etag;
use crate::league::Refusal;
use crate::league::account::register::AccountRefusal;
use crate::storage::StorageError;
use crate::wire::body::views;
use crate::wire::schema::FieldError;
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
    kind: Kind,
    status: StatusCode,
    detail: String,
    errors: Vec<ProblemField>,
    parameter: Option<String>,
    headers: Vec<(HeaderName, String)>,
}

impl Problem {
    /// Makes a problem of a kind.
    pub fn new(kind: impl Into<Kind>, detail: impl Into<String>) -> Self {
        let kind = kind.into();
        let (status, errors, headers) = (kind.about().status, Vec::new(), Vec::new());
        Self(Box::new(Parts { kind, status, detail: detail.into(), errors, parameter: None, headers }))
    }

    /// Adds a header to the answer.
    pub fn with(mut self, name: HeaderName, value: impl Into<String>) -> Self {
        self.0.headers.push((name, value.into()));
        self
    }

    /// Nothing here, or not the caller's to know.
    pub fn not_found() -> Self {
        Self::new(Kind::NotFound, "this was not found, or you have no access to it")
    }

    /// Not signed in.
    pub fn unauthenticated(detail: &str) -> Self {
        Self::new(Kind::Unauthenticated, detail).with(header::WWW_AUTHENTICATE, "Bearer")
    }

    /// A request that is not what it should be, before its meaning is looked at.
    pub fn malformed(detail: impl Into<String>) -> Self {
        Self::new(Kind::Malformed, detail)
    }

    /// A query parameter that is unknown or unusable.
    pub fn parameter(name: &str, kind: impl Into<Kind>, detail: impl Into<String>) -> Self {
        let mut problem = Self::new(kind, detail);
        // A name that a client made up may have any length and any characters.
        problem.0.parameter = Some(name.chars().filter(|c| !c.is_control()).take(views::MOST_PARAMETER).collect());
        problem
    }

    /// What cannot be taken as sent is unprocessable, also where the same rule can be broken by asking at a wrong time.
    fn with_errors(rule: Rule, detail: String, errors: impl Iterator<Item = ProblemField>) -> Self {
        let mut problem = Self::new(rule, detail).with_status(StatusCode::UNPROCESSABLE_ENTITY);
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
            kind: Kind::Broken(Rule::Validation).address(),
            min: error.min,
            max: error.max,
        });
        let detail = format!("{count} {} wrong", if count == 1 { "field is" } else { "fields are" });
        Self::with_errors(Rule::Validation, detail, errors)
    }

    /// Rules that a body breaks: of one kind its own problem, of several one problem with each named.
    pub fn faults(faults: Vec<Fault>) -> Self {
        let same = faults.windows(2).all(|pair| pair[0].rule == pair[1].rule);
        let rule = faults.first().filter(|_| same).map_or(Rule::Validation, |fault| fault.rule);
        let detail = match faults.as_slice() {
            [only] => only.detail.clone(),
            many => format!("{} rules are broken", many.len()),
        };
        let errors = faults.into_iter().take(crate::wire::schema::MOST_FAULTS).map(|fault| ProblemField {
            pointer: fault.pointer,
            detail: fault.detail,
            code: Kind::Broken(fault.rule).about().slug,
            kind: Kind::Broken(fault.rule).address(),
            min: None,
            max: None,
        });
        Self::with_errors(rule, detail, errors)
    }

    /// Fields that do not have their shape, together with the rules that the others break.
    pub fn fields_and_faults(errors: Vec<FieldError>, faults: Vec<Fault>) -> Self {
        if errors.is_empty() {
            return Self::faults(faults);
        }
        let rules = Self::faults(faults);
        let mut problem = Self::fields(errors);
        problem.0.errors.extend(rules.0.errors);
        problem.0.errors.truncate(crate::wire::schema::MOST_FAULTS);
        let count = problem.0.errors.len();
        problem.0.detail = format!("{count} {} wrong", if count == 1 { "field is" } else { "fields are" });
        problem
    }

    /// A password that is not acceptable, and the field that it stands in.
    pub fn password(pointer: &str, reason: &PasswordRefusal) -> Self {
        let mut problem = Self::faults(vec![Fault::new(pointer, Rule::PasswordRefused, reason.to_string())]);
        problem.0.errors.iter_mut().for_each(|error| error.code = reason.rule());
        problem
    }

    /// A change of password that was refused; the new one stands in its own field.
    pub fn of_new_password(refusal: AccountRefusal) -> Self {
        match refusal {
            AccountRefusal::Password(reason) => Self::password("/new_password", &reason),
            other => other.into(),
        }
    }

    /// Busy: try again soon.
    pub fn busy() -> Self {
        let wait = 1 + Uuid::new_v4().as_u128() % 3;
        let detail = "the server is busy at the moment; try again in a few seconds";
        Self::new(Kind::TemporaryReducedCapacity, detail).with(header::RETRY_AFTER, wait.to_string())
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
        let detail = "the server failed; try again";
        Self::new(Kind::Internal, detail)
    }

    /// Answers with another status than that of its kind.
    pub(super) fn with_status(mut self, status: StatusCode) -> Self {
        self.0.status = status;
        self
    }

    /// Returns the HTTP status.
    pub fn status(&self) -> StatusCode {
        self.0.status
    }

    /// Says whether it is of a kind.
    pub fn is(&self, kind: impl Into<Kind>) -> bool {
        self.0.kind == kind.into()
    }

    /// Returns the title of its kind.
    pub fn title(&self) -> &'static str {
        self.0.kind.about().title
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
            "type": self.0.kind.address(),
            "title": self.title(),
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
        write!(f, "{}: {}", self.title(), self.0.detail)
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
const AWAY: &str = "the database does not answer, and what you sent may not be saved; try again in a few seconds";

impl From<StorageError> for Problem {
    fn from(error: StorageError) -> Self {
        match error {
            StorageError::Busy | StorageError::Overtaken => Problem::busy(),
            StorageError::Away => Problem::away(),
            StorageError::LastingActs(source) => {
                tracing::error!(error = source.to_string(), "the file of lasting acts cannot be written");
                let detail = "this act must outlast a restore and could not be written down for that; nothing was done";
                Problem::new(Kind::TemporaryReducedCapacity, detail).with(header::RETRY_AFTER, "30")
            }
            StorageError::Full => {
                Problem::new(Kind::StorageFull, "the disk is full; nothing was stored").with(header::RETRY_AFTER, "30")
            }
            error if error.stops_changes() => {
                let detail = "the server's database takes no changes until its operator has mended it; nothing was \
                              stored: keep what you sent, and send it again later";
                Problem::new(Kind::StorageStopped, detail).with(header::RETRY_AFTER, "60")
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
            Refusal::Forbidden(detail) => Problem::new(Kind::Forbidden, detail),
            Refusal::Concerned(detail) => Problem::new(Kind::ConflictOfInterest, detail),
            Refusal::PasswordDue => {
                Problem::new(Kind::ReauthRequired, refusal.to_string()).with(header::WWW_AUTHENTICATE, "Bearer")
            }
            Refusal::Faults(faults) => Problem::faults(faults),
            Refusal::Fields(errors, faults) => Problem::fields_and_faults(errors, faults),
            Refusal::Conflict { rule, detail } => Problem::new(rule, detail),
            Refusal::CodeSpent => Problem::new(Kind::CodeSpent, refusal.to_string()),
            Refusal::Stale(version) => Problem::new(Kind::Stale, refusal.to_string()).with(header::ETAG, etag(version)),
            Refusal::IfMatchMissing => {
                Problem::new(Kind::IfMatchMissing, "say with If-Match which version you mean: the ETag that you read")
            }
            Refusal::KeyReused => Problem::new(Kind::IdempotencyKeyReused, refusal.to_string()),
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
                Problem::new(Kind::QuotaExceeded, refusal.to_string()).with(header::RETRY_AFTER, seconds.to_string())
            }
            AccountRefusal::Busy => Problem::busy(),
            AccountRefusal::Password(reason) => Problem::password("/password", &reason),
            AccountRefusal::Taken => Problem::new(Kind::AccountExists, refusal.to_string()),
            AccountRefusal::Closed(detail) => Problem::new(Kind::RegistrationClosed, detail),
            AccountRefusal::Hashing(error) => Problem::internal(&error),
            AccountRefusal::Issuing(error) => Problem::internal(&error),
            AccountRefusal::Randomness(error) => Problem::internal(&error),
            AccountRefusal::Refused(refusal) => refusal.into(),
        }
    }
}
