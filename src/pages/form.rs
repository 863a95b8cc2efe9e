//! What a form sends.

use crate::api::extract::{MOST_BYTES, cross_site, is_same_site, query_pairs, read, unsupported};
use crate::api::problem::Problem;
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpMessage, HttpRequest};
use futures_util::future::LocalBoxFuture;

/// The fields of a form that a page of this server sent, in order.
pub struct Form(pub Vec<(String, String)>);

impl FromRequest for Form {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let is_form = request.content_type().eq_ignore_ascii_case("application/x-www-form-urlencoded");
        let is_ours = is_same_site(request);
        let body = read(request, payload, MOST_BYTES);
        Box::pin(async move {
            if !is_ours {
                return Err(cross_site());
            }
            if !is_form {
                return Err(unsupported("application/x-www-form-urlencoded"));
            }
            let body = body.await?;
            let text = std::str::from_utf8(&body).map_err(|_| Problem::malformed("a form is UTF-8"))?;
            Ok(Form(query_pairs(text)))
        })
    }
}

impl Form {
    /// Returns a field; an empty text without it.
    pub fn text(&self, name: &str) -> &str {
        self.0.iter().find(|(known, _)| known == name).map_or("", |(_, value)| value.as_str())
    }

    /// Returns a field that says something.
    pub fn given(&self, name: &str) -> Option<&str> {
        Some(self.text(name).trim()).filter(|text| !text.is_empty())
    }
}
