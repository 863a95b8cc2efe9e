//! Collections page by page, with cursors that are signed.

use crate::domain::rule::Rule;
use crate::http::address::query_pairs;
use crate::http::app::App;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::league::views::Page;
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest};
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;
use uuid::Uuid;

/// Which page of a collection is asked for.
pub struct PageOf {
    /// How many items.
    pub limit: i64,
    /// The key of the last item before the page.
    pub after: Option<String>,
    route: String,
    secret: [u8; 32],
}

impl FromRequest for PageOf {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        std::future::ready(page_of(request))
    }
}

fn page_of(request: &HttpRequest) -> Result<PageOf, Problem> {
    let (route, secret) = (request.path().to_owned(), App::of(request).config.cursor_secret);
    let mut page = PageOf { limit: 50, after: None, route, secret };
    for (name, value) in query_pairs(request.query_string()) {
        match name.as_str() {
            "limit" => {
                page.limit = value.parse().ok().filter(|limit| (1..=200).contains(limit)).ok_or_else(|| {
                    Problem::parameter("limit", Rule::Validation, "limit is a whole number from 1 to 200")
                })?;
            }
            "after" => page.after = Some(page.open(&value)?),
            _ => {}
        }
    }
    Ok(page)
}

impl PageOf {
    /// Returns the id after which the page begins.
    ///
    /// # Errors
    /// 400 for a cursor that is not ours.
    pub fn after_id(&self) -> Result<Uuid, Problem> {
        let bad = |_| Problem::parameter("after", Kind::BadCursor, "take the cursor from the page before");
        self.after.as_deref().map_or(Ok(Uuid::nil()), |text| Uuid::try_parse(text).map_err(bad))
    }

    /// Returns the number after which the page begins.
    ///
    /// # Errors
    /// 400 for a cursor that is not ours.
    pub fn after_number(&self) -> Result<i64, Problem> {
        let bad = |_| Problem::parameter("after", Kind::BadCursor, "take the cursor from the page before");
        self.after.as_deref().map_or(Ok(0), |text| text.parse().map_err(bad))
    }

    /// Cuts items that were read one beyond the page, and makes the cursor of the next.
    pub fn cut<T>(&self, mut items: Vec<T>, key: impl Fn(&T) -> String) -> Page<T> {
        let more = items.len() as i64 > self.limit;
        items.truncate(self.limit as usize);
        let next = items.last().filter(|_| more).map(|last| self.seal(&key(last)));
        Page { items, next }
    }

    fn seal(&self, key: &str) -> String {
        let tag = data_encoding::BASE64URL_NOPAD.encode(&self.tag(key)[..12]);
        data_encoding::BASE64URL_NOPAD.encode(format!("{tag}{key}").as_bytes())
    }

    fn open(&self, cursor: &str) -> Result<String, Problem> {
        let bad = || Problem::parameter("after", Kind::BadCursor, "take the cursor from the page before");
        let bytes = data_encoding::BASE64URL_NOPAD.decode(cursor.as_bytes()).map_err(|_| bad())?;
        let text = String::from_utf8(bytes).map_err(|_| bad())?;
        let (_, key) = text.split_at_checked(16).ok_or_else(bad)?;
        if self.seal(key) == cursor { Ok(key.to_owned()) } else { Err(bad()) }
    }

    /// A cursor belongs to one collection of one server.
    fn tag(&self, key: &str) -> [u8; 32] {
        let mut mac = <Hmac<Sha256> as KeyInit>::new_from_slice(&self.secret).expect("HMAC takes keys of any length");
        mac.update(self.route.as_bytes());
        mac.update(b"\n");
        mac.update(key.as_bytes());
        mac.finalize().into_bytes().into()
    }
}
