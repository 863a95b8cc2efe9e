//! What a request carries: who asks, the body, keys, tags, pages.

use super::App;
use super::canonical::hash_of;
use super::intake::read;
use super::kinds::Kind;
use super::problem::Problem;
use super::proxies;
use super::rules::broken_of;
use crate::accounts::cookie;
use crate::accounts::throttle::{Network, network_of};
use crate::domain::facts::Rules;
use crate::domain::rule::Rule;
use crate::json::Node;
use crate::league::access::IfMatch;
use crate::league::keys::RequestKey;
use crate::league::{Caller, Refusal};
use crate::schema::{FieldError, MOST_FAULTS, Schema, repeated_fields};
use actix_web::dev::Payload;
use actix_web::http::Method;
use actix_web::http::header::{self, HeaderMap};
use actix_web::web::{Bytes, Data};
use actix_web::{FromRequest, HttpMessage, HttpRequest};
use futures_util::future::LocalBoxFuture;
use hmac::{Hmac, KeyInit, Mac};
use jiff::Timestamp;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};
use std::net::{IpAddr, Ipv4Addr};
use uuid::Uuid;

/// The largest body that is read, after decompression.
pub const MOST_BYTES: usize = 64 * 1024;

fn app(request: &HttpRequest) -> Data<App> {
    request.app_data::<Data<App>>().expect("the server is built with its App").clone()
}

/// Who asks, by a token that is valid.
pub struct Bearer {
    /// Who.
    pub caller: Caller,
    /// The session, where it is still to be seen whether it goes on.
    pub session: Option<Uuid>,
}

impl FromRequest for Bearer {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let app = app(request);
        let token = bearer(request.headers());
        let is_write = !matches!(*request.method(), Method::GET | Method::HEAD);
        let cookie = token.is_none().then(|| browser_token(request)).flatten();
        let is_ours = is_same_site(request);
        let request = request.clone();
        let count = move |app: &App, caller: Caller| {
            let (standing, may) = app.quota.take(caller.account, is_write, app.leagues.now());
            request.extensions_mut().insert(standing);
            // Kept for the page that says why the request failed.
            request.extensions_mut().insert(caller);
            may
        };
        Box::pin(async move {
            if let Some(cookie) = cookie {
                if is_write && !is_ours {
                    return Err(cross_site());
                }
                let caller = app.leagues.browser(&cookie).await?;
                count(&app, caller)?;
                return Ok(Self { caller, session: None });
            }
            let token =
                token.ok_or_else(|| Problem::unauthenticated("send Authorization: Bearer with an access token"))?;
            let holder = app
                .door
                .keys
                .now()
                .verify(&token, app.leagues.now())
                .map_err(|_| Problem::unauthenticated("the access token is not valid; refresh it or sign in"))?;
            let caller = Caller { account: holder.account, session: holder.session.0, browser_since: None };
            count(&app, caller)?;
            Ok(Self { caller, session: Some(caller.session) })
        })
    }
}

impl FromRequest for Caller {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let app = app(request);
        let bearer = Bearer::from_request(request, payload);
        Box::pin(async move {
            let Bearer { caller, session } = bearer.await?;
            if session.is_some() {
                app.leagues.check_session(caller).await?;
            }
            Ok(caller)
        })
    }
}

/// Returns the token in a browser's cookie.
pub fn browser_token(request: &HttpRequest) -> Option<String> {
    let name = if app(request).config.behind_proxy { cookie::NAME } else { cookie::LOOPBACK_NAME };
    request.cookie(name).map(|cookie| cookie.value().to_owned())
}

/// Says whether a browser sent a request from a page of this server: it says so itself, or names an origin of ours.
pub fn is_same_site(request: &HttpRequest) -> bool {
    let text = |name: &str| request.headers().get(name).and_then(|value| value.to_str().ok());
    match text("sec-fetch-site") {
        Some(site) => site == "same-origin",
        None => text("origin")
            .and_then(|origin| origin.strip_prefix("http://"))
            .is_some_and(|host| app(request).config.hosts.iter().any(|known| known == host)),
    }
}

/// Returns the origin that the pages of this server have in the browser that sent a form from one of them: the one that
/// the browser names, or the address that it asked, where that is one of ours.
pub fn own_origin(request: &HttpRequest) -> Option<String> {
    let text = |name: &str| request.headers().get(name).and_then(|value| value.to_str().ok());
    let config = &app(request).config;
    let scheme = if config.behind_proxy { "https" } else { "http" };
    let asked = || Some(format!("{scheme}://{}", text("host")?));
    let named = text("origin").filter(|origin| *origin != "null" && is_same_site(request)).map(str::to_owned);
    // Without a proxy the hosts are known; a proxy answers for its own.
    let is_ours = |origin: &String| {
        let host = origin.split_once("://").map_or("", |(_, host)| host);
        config.hosts.is_empty() || config.hosts.iter().any(|known| known == host)
    };
    named.or_else(asked).filter(is_ours)
}

/// The problem of a request that another site had sent.
pub fn cross_site() -> Problem {
    let detail = "a browser sent this from another site; send it from a page of this server, or with a bearer token";
    Problem::new(Kind::CrossSite, detail)
}

fn bearer(headers: &HeaderMap) -> Option<String> {
    let mut given = headers.get_all(header::AUTHORIZATION);
    let (first, second) = (given.next()?, given.next());
    let (scheme, token) = first.to_str().ok()?.split_once(' ')?;
    (second.is_none() && scheme.eq_ignore_ascii_case("bearer")).then(|| token.trim().to_owned())
}

/// The network that a request came from: the peer, or what a trusted proxy says.
pub struct From(pub Network);

impl FromRequest for From {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let peer = request.peer_addr().map_or(IpAddr::V4(Ipv4Addr::UNSPECIFIED), |peer| peer.ip());
        // A line that is no text stands for a hop that nobody can read.
        let lines = request.headers().get_all("x-forwarded-for").map(|value| value.to_str().unwrap_or_default());
        let lines: Vec<&str> = lines.collect();
        let client = proxies::client(&app(request).config.trusted_proxies, peer, &lines);
        std::future::ready(Ok(From(network_of(client))))
    }
}

/// A JSON body as it came.
pub struct Body(pub Bytes);

impl FromRequest for Body {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let kind = request.content_type().to_ascii_lowercase();
        let is_json = matches!(kind.as_str(), "application/json" | "application/merge-patch+json");
        let read = read(request, payload, MOST_BYTES);
        Box::pin(async move {
            if !is_json {
                return Err(unsupported("application/json"));
            }
            Ok(Body(read.await?))
        })
    }
}

/// The problem of a body of another media type.
pub fn unsupported(wanted: &str) -> Problem {
    Problem::new(Kind::UnsupportedMediaType, format!("send {wanted}")).with(header::ACCEPT, wanted)
}

/// Reads a text as JSON of a shape.
///
/// # Errors
/// 400 for what is not JSON; 422 with every field that is wrong.
pub fn checked<'a>(text: &'a [u8], schema: &Schema) -> Result<Node<'a>, Problem> {
    let node = parsed(text)?;
    let errors = schema.check(&node);
    if errors.is_empty() { Ok(node) } else { Err(Problem::fields(errors)) }
}

/// Reads a text as JSON of any shape.
///
/// # Errors
/// 400 for what is not JSON.
pub fn parsed(text: &[u8]) -> Result<Node<'_>, Problem> {
    Node::parse(text).map_err(|malformed| Problem::malformed(format!("not JSON: {malformed}")))
}

/// Turns a checked value into its type.
///
/// # Errors
/// 422, where the type refuses what its shape let through.
pub fn decoded<T: DeserializeOwned>(node: &Node<'_>) -> Result<T, Problem> {
    node.decode().map_err(|unreadable| {
        Problem::fields(vec![FieldError {
            pointer: String::new(),
            detail: unreadable.to_string(),
            code: "unreadable",
            min: None,
            max: None,
        }])
    })
}

impl Body {
    /// Reads the body as JSON of a shape.
    ///
    /// # Errors
    /// As [`checked`].
    pub fn node(&self, schema: &Schema) -> Result<Node<'_>, Problem> {
        checked(&self.0, schema)
    }

    /// Reads the body as a type.
    ///
    /// # Errors
    /// As [`checked`] and [`decoded`].
    pub fn read<T: DeserializeOwned>(&self, schema: &Schema) -> Result<T, Problem> {
        decoded(&self.node(schema)?)
    }

    /// Makes of a merge patch (RFC 7396) the function that patches a stored body and checks the whole.
    ///
    /// # Errors
    /// 400 for what is not JSON; 422 for what is no object.
    pub fn patch<T: DeserializeOwned + Rules>(
        &self,
        schema: fn() -> Schema,
    ) -> Result<impl FnOnce(&str) -> Result<T, Refusal> + Clone + Send + 'static, Problem> {
        let any_object = checked(&self.0, &Schema::Anything)?;
        if !matches!(any_object, Node::Object(_)) {
            return Err(Problem::malformed("a merge patch is an object"));
        }
        let bytes = self.0.clone();
        Ok(move |before: &str| {
            let unreadable = |what: String| Refusal::fault("", Rule::Validation, what);
            let before = Node::parse(before.as_bytes()).map_err(|error| unreadable(error.0))?;
            let patch = Node::parse(&bytes).map_err(|error| unreadable(error.0))?;
            // Merging keeps one of two fields of a name, so repetitions are looked for before.
            let mut errors = repeated_fields(&patch);
            let merged = merge(before, patch);
            let faults = schema().check(&merged);
            errors.extend(faults.into_iter().filter(|fault| fault.code != "repeated-field"));
            errors.truncate(MOST_FAULTS);
            if !errors.is_empty() {
                let faults = broken_of::<T>(&merged, &schema(), &errors);
                return Err(Refusal::Fields(errors, faults));
            }
            merged.decode().map_err(|error| unreadable(error.to_string()))
        })
    }

    /// Returns the hash of the body in canonical form: keys in order, no white space; of anything but JSON as it came.
    pub fn canonical_hash(&self) -> [u8; 32] {
        match Node::parse(&self.0) {
            Ok(node) => hash_of(&node),
            Err(_) => Sha256::digest(&self.0).into(),
        }
    }
}

fn merge<'a>(before: Node<'a>, patch: Node<'a>) -> Node<'a> {
    let Node::Object(changes) = patch else { return patch };
    let mut fields = match before {
        Node::Object(fields) => fields,
        _ => Vec::new(),
    };
    for (name, change) in changes {
        let place = fields.iter().position(|(known, _)| *known == name);
        match (change, place) {
            (Node::Null, Some(place)) => {
                fields.remove(place);
            }
            // A null that removes nothing still names its field, so that a misspelt one is seen.
            (Node::Null, None) => fields.push((name, Node::Null)),
            (change, Some(place)) => {
                let before = std::mem::replace(&mut fields[place].1, Node::Null);
                fields[place].1 = merge(before, change);
            }
            (change, None) => fields.push((name, merge(Node::Null, change))),
        }
    }
    Node::Object(fields)
}

/// The idempotency key of a request, where it has one.
pub struct Key {
    key: Option<Uuid>,
    operation: String,
}

impl FromRequest for Key {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let given = request.headers().get("idempotency-key").map(|value| {
            let text = value.to_str().unwrap_or_default().trim();
            let bare = text.strip_prefix('"').and_then(|text| text.strip_suffix('"')).unwrap_or(text);
            Uuid::try_parse(bare).map_err(|_| Problem::malformed("Idempotency-Key is a UUID, bare or in quotes"))
        });
        let operation = format!("{} {}", request.method(), request.path());
        std::future::ready(given.transpose().map(|key| Key { key, operation }))
    }
}

impl Key {
    /// Puts the key together with who sent it and what.
    pub fn of(self, app: &App, caller: Caller, body: &Body) -> RequestKey {
        self.of_hash(caller, body.canonical_hash(), app.leagues.now())
    }

    /// As [`of`](Self::of), for a body whose hash is known.
    pub fn of_hash(self, caller: Caller, body_hash: [u8; 32], now: Timestamp) -> RequestKey {
        RequestKey { caller, operation: self.operation, key: self.key, body_hash, now }
    }

    /// As [`of`](Self::of), for a body that was read already.
    pub fn of_node(self, app: &App, caller: Caller, body: &Node<'_>) -> RequestKey {
        self.of_hash(caller, hash_of(body), app.leagues.now())
    }

    /// Passes requests that bring the key that they need.
    ///
    /// # Errors
    /// 400 without a key.
    pub fn is_there(&self) -> Result<(), Problem> {
        if self.key.is_none() {
            let detail = "send Idempotency-Key: a UUID that stays the same when the round is sent again";
            return Err(Problem::new(Kind::IdempotencyKeyMissing, detail));
        }
        Ok(())
    }
}

impl FromRequest for IfMatch {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let given = request.headers().get(header::IF_MATCH).map(|value| value.to_str().unwrap_or_default().trim());
        let quoted = |text: &str| text.strip_prefix('"')?.strip_suffix('"')?.parse().ok();
        std::future::ready(Ok(match given {
            None => IfMatch::Missing,
            Some("*") => IfMatch::Any,
            Some(text) => quoted(text).map_or(IfMatch::Never, IfMatch::Version),
        }))
    }
}

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
    let (route, secret) = (request.path().to_owned(), app(request).config.cursor_secret);
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
    pub fn cut<T>(&self, mut items: Vec<T>, key: impl Fn(&T) -> String) -> crate::league::views::Page<T> {
        let more = items.len() as i64 > self.limit;
        items.truncate(self.limit as usize);
        let next = items.last().filter(|_| more).map(|last| self.seal(&key(last)));
        crate::league::views::Page { items, next }
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

/// Splits a query string into names and values.
pub fn query_pairs(query: &str) -> Vec<(String, String)> {
    actix_web::web::Query::<Vec<(String, String)>>::from_query(query)
        .map(|pairs| pairs.into_inner())
        .unwrap_or_default()
}

/// The query parameters of a request, by name.
pub struct QueryOf(pub(super) Vec<(String, String)>);

impl FromRequest for QueryOf {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        std::future::ready(Ok(Self(query_pairs(request.query_string()))))
    }
}

/// An id in the path; anything else is nothing that the caller may see.
pub struct IdPath(pub Uuid);

impl FromRequest for IdPath {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let id = request.match_info().get("id").and_then(|text| Uuid::try_parse(text).ok());
        std::future::ready(id.map(IdPath).ok_or_else(Problem::not_found))
    }
}
