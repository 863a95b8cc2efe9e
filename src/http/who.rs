//! Who asks, and from where.

use crate::accounts::throttle::{Network, network_of};
use crate::accounts::{cookie, device};
use crate::http::app::App;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::http::proxies;
use crate::http::quota::Asker;
use crate::league::Caller;
use crate::league::account::session::Arrival;
use actix_web::dev::Payload;
use actix_web::http::Method;
use actix_web::http::header::{self, HeaderMap};
use actix_web::{FromRequest, HttpMessage, HttpRequest};
use futures_util::future::LocalBoxFuture;
use std::net::{IpAddr, Ipv4Addr};
use uuid::Uuid;

/// Who asks, by a token that is valid.
pub struct Bearer {
    pub caller: Caller,
    /// The session, where it is still to be seen whether it goes on.
    pub session: Option<Uuid>,
}

impl FromRequest for Bearer {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let app = App::of(request);
        let token = bearer(request.headers());
        let is_write = !matches!(*request.method(), Method::GET | Method::HEAD);
        let cookie = token.is_none().then(|| browser_token(request)).flatten();
        let is_ours = is_same_site(request);
        let request = request.clone();
        let count = move |app: &App, caller: Caller| {
            let (standing, may) = app.quota.take(Asker::Account(caller.account), is_write, app.leagues.now());
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
        let app = App::of(request);
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
    let name = if App::of(request).config.behind_proxy { cookie::NAME } else { cookie::LOOPBACK_NAME };
    request.cookie(name).map(|cookie| cookie.value().to_owned())
}

/// Says whether a browser sent a request from a page of this server: it says so itself, or names an origin of ours.
pub fn is_same_site(request: &HttpRequest) -> bool {
    let text = |name: &str| request.headers().get(name).and_then(|value| value.to_str().ok());
    match text("sec-fetch-site") {
        Some(site) => site == "same-origin",
        None => text("origin")
            .and_then(|origin| origin.strip_prefix("http://"))
            .is_some_and(|host| App::of(request).config.hosts.iter().any(|known| known == host)),
    }
}

/// Returns the origin that the pages of this server have in the browser that sent a form from one of them: the one that
/// the browser names, or the address that it asked, where that is one of ours.
pub fn own_origin(request: &HttpRequest) -> Option<String> {
    let text = |name: &str| request.headers().get(name).and_then(|value| value.to_str().ok());
    let config = &App::of(request).config;
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
        let client = proxies::client(&App::of(request).config.trusted_proxies, peer, &lines);
        std::future::ready(Ok(From(network_of(client))))
    }
}

/// Where a sign-in comes from: the network, the device, and the cookie of an earlier one.
pub struct Arriving(pub Arrival);

impl FromRequest for Arriving {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let agent = request.headers().get(header::USER_AGENT).and_then(|value| value.to_str().ok());
        let (device, shown) = (device::words(agent), browser_token(request));
        let arrival = |From(network)| Self(Arrival { network, device, shown });
        std::future::ready(From::from_request(request, payload).into_inner().map(arrival))
    }
}
