//! What a form with a file sends.

use super::form::Form;
use crate::http::body::unsupported;
use crate::http::incoming::read;
use crate::http::problem::Problem;
use crate::http::who::{cross_site, is_same_site};
use crate::wire::card_file::table::MOST_BYTES as MOST_FILE_BYTES;
use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::web::Bytes;
use actix_web::{FromRequest, HttpRequest};
use futures_util::future::LocalBoxFuture;
use futures_util::stream;
use multer::Multipart;
use std::convert::Infallible;

/// The largest body: a file, or its text, with the fields around it.
const MOST_BYTES: usize = 2 * MOST_FILE_BYTES + 64 * 1024;
const MOST_FIELDS: usize = 200;

/// The fields of a form that a page of this server sent, and the bytes of its file.
pub struct Upload {
    /// The fields.
    pub form: Form,
    /// The file; none if the field was left empty.
    pub file: Option<Bytes>,
}

impl FromRequest for Upload {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let kind = request.headers().get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
        let boundary = multer::parse_boundary(kind);
        let is_ours = is_same_site(request);
        let body = read(request, payload, MOST_BYTES);
        Box::pin(async move {
            if !is_ours {
                return Err(cross_site());
            }
            let boundary = boundary.map_err(|_| unsupported("multipart/form-data"))?;
            let body = body.await?;
            let whole = stream::once(async move { Ok::<Bytes, Infallible>(body) });
            parts(Multipart::new(whole, boundary)).await.map_err(|error| match error {
                Unread::TooMany => Problem::malformed("the form has too many fields"),
                Unread::Broken(error) => Problem::malformed(format!("the form cannot be read: {error}")),
            })
        })
    }
}

enum Unread {
    TooMany,
    Broken(multer::Error),
}

impl From<multer::Error> for Unread {
    fn from(error: multer::Error) -> Self {
        Unread::Broken(error)
    }
}

async fn parts(mut parts: Multipart<'_>) -> Result<Upload, Unread> {
    let (mut fields, mut file) = (Vec::new(), None);
    while let Some(part) = parts.next_field().await? {
        if fields.len() >= MOST_FIELDS {
            return Err(Unread::TooMany);
        }
        let name = part.name().unwrap_or_default().to_owned();
        if part.file_name().is_some() {
            file = Some(part.bytes().await?).filter(|bytes| !bytes.is_empty());
        } else {
            fields.push((name, String::from_utf8_lossy(&part.bytes().await?).into_owned()));
        }
    }
    Ok(Upload { form: Form(fields), file })
}
