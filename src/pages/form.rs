//! What a form sends.

use crate::http::address::query_pairs;
use crate::http::app::App;
use crate::http::body::{Body, MOST_BYTES, unsupported};
use crate::http::incoming::read;
use crate::http::problem::Problem;
use crate::http::who::{cross_site, is_same_site};
use crate::league::Caller;
use crate::league::keys::RequestKey;
use crate::wire::schema::Schema;
use actix_web::dev::Payload;
use actix_web::web::Bytes;
use actix_web::{FromRequest, HttpMessage, HttpRequest};
use futures_util::future::LocalBoxFuture;
use uuid::Uuid;

/// The most fields of a form. A whole card has some hundred.
const MOST_FIELDS: usize = 1_000;

/// The fields of a form that a page of this server sent, in order.
#[derive(Clone, Debug, Default)]
pub struct Form(pub Vec<(String, String)>);

impl FromRequest for Form {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let is_form = request.content_type().eq_ignore_ascii_case("application/x-www-form-urlencoded");
        let is_ours = is_same_site(request);
        let body = read(request, payload, MOST_BYTES);
        let request = request.clone();
        Box::pin(async move {
            if !is_ours {
                return Err(cross_site());
            }
            if !is_form {
                return Err(unsupported("application/x-www-form-urlencoded"));
            }
            let body = body.await?;
            let text = std::str::from_utf8(&body).map_err(|_| Problem::malformed("a form is UTF-8"))?;
            if text.split('&').nth(MOST_FIELDS).is_some() {
                return Err(Problem::malformed(format!("a form has at most {MOST_FIELDS} fields")));
            }
            let form = Form(query_pairs(text));
            if form.0.iter().any(|(_, value)| value.contains('\0')) {
                return Err(Problem::malformed("no field of a form holds a NUL"));
            }
            // Kept for the page that asks for the password before it goes on with this.
            request.extensions_mut().insert(form.clone());
            Ok(form)
        })
    }
}

impl Form {
    /// Returns every value of a field.
    pub fn all(&self, name: &str) -> impl Iterator<Item = &str> {
        self.0.iter().filter(move |(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    /// Returns a field; an empty text without it.
    pub fn text(&self, name: &str) -> &str {
        self.0.iter().find(|(known, _)| known == name).map_or("", |(_, value)| value.as_str())
    }

    /// Returns whether a field was sent at all.
    pub fn has(&self, name: &str) -> bool {
        self.0.iter().any(|(known, _)| known == name)
    }

    /// Returns a field that says something.
    pub fn given(&self, name: &str) -> Option<&str> {
        Some(self.text(name).trim()).filter(|text| !text.is_empty())
    }
}

/// Checks what a form says against the shape of the body that scripts send, so that limits stand in one place; answers
/// the value with the key under which it is done once.
///
/// # Errors
/// 422 with every field that is wrong.
pub fn checked_body<T: serde::de::DeserializeOwned>(
    app: &App,
    caller: Caller,
    operation: String,
    form: &Form,
    body: &serde_json::Value,
    schema: &Schema,
) -> Result<(RequestKey, T), Problem> {
    let body = Body(Bytes::from(body.to_string()));
    let value = body.read(schema)?;
    let key = Uuid::try_parse(form.text("key")).ok();
    Ok((RequestKey { caller, operation, key, body_hash: body.canonical_hash(), now: app.leagues.now() }, value))
}
