//! Sign-in, sign-out, registration, and the door of a league.

use super::form::Form;
use super::{Frame, page, page_with, see_other};
use crate::accounts::cookie as token;
use crate::domain::rule::Rule;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::http::who::{Arriving, browser_token, own_origin};
use crate::league::account::register::NewAccount;
use crate::league::{Caller, Refusal};
use crate::wire::body::account;
use actix_web::cookie::{Cookie, SameSite, time::Duration};
use actix_web::http::header;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use serde_json::json;

/// Returns the address of the sign-in page that leads back to another.
pub fn sign_in_address(back: &str) -> String {
    match back {
        "" | "/" => "/sign-in".into(),
        back => format!("/sign-in?then={}", percent(back)),
    }
}

fn percent(text: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte);
    text.bytes().map(|byte| if plain(byte) { char::from(byte).to_string() } else { format!("%{byte:02X}") }).collect()
}

/// The longest address that is led back to.
const LONGEST_ADDRESS: usize = 2_000;

/// Only addresses of this server are led back to: a path with its query, of the characters of RFC 3986 alone. Browsers
/// drop some others, and read `/\` and what is then left of `/<tab>/` as another site.
pub(super) fn own_address(text: &str) -> &str {
    let is_plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-._~!$&'()*+,;=:@%/?".contains(&byte);
    let is_path = text.starts_with('/') && !text.starts_with("//");
    if is_path && text.len() <= LONGEST_ADDRESS && text.bytes().all(is_plain) { text } else { "/" }
}

#[derive(Default, Template)]
#[template(path = "sign_in.html")]
struct SignIn {
    frame: Frame,
    email: String,
    then: String,
    invitation: String,
    fault: Option<String>,
}

#[derive(Default, Template)]
#[template(path = "register.html")]
struct Register {
    frame: Frame,
    email: String,
    display_name: String,
    then: String,
    invitation: String,
    faults: Vec<(&'static str, String)>,
}

#[derive(Default, Template)]
#[template(path = "join.html")]
struct Join {
    frame: Frame,
    code: String,
    fault: Option<String>,
    /// Whether the league has a member of the visitor's name, which is asked about.
    is_same_name: bool,
}

/// The code of an invitation that was just made, and the whole address that is sent to whoever is invited.
pub struct ShownCode {
    /// The code.
    pub code: String,
    /// The address; browsers never send what stands after the `#`, so that the code is in no log.
    pub link: String,
}

impl ShownCode {
    /// Shows a code to the browser that asked for it.
    pub fn of(request: &HttpRequest, code: String) -> Self {
        let link = format!("{}/join#{code}", own_origin(request).unwrap_or_default());
        Self { code, link }
    }
}

fn asked(request: &HttpRequest, name: &str) -> String {
    let pairs = crate::http::address::query_pairs(request.query_string());
    pairs.into_iter().find(|(known, _)| known == name).map(|(_, value)| value).unwrap_or_default()
}

async fn sign_in_page(request: HttpRequest) -> Answer {
    page(&SignIn { then: own_address(&asked(&request, "then")).into(), ..SignIn::default() })
}

async fn sign_in(app: Data<App>, from: Arriving, form: Form) -> Answer {
    let (email, password) = (form.text("email"), form.text("password").to_owned());
    match app.leagues.sign_in_browser(&app.door, email, password, from.0).await {
        Ok((token, caller)) => enter(&app, caller, token, &form, false).await,
        Err(refusal) => {
            let problem = Problem::from(refusal);
            let shown = SignIn {
                email: email.to_owned(),
                then: own_address(form.text("then")).into(),
                invitation: form.text("invitation").into(),
                fault: Some(super::faults::sentence(problem.detail())),
                ..SignIn::default()
            };
            page_with(problem.status(), &shown)
        }
    }
}

/// Lets a browser in, takes up an invitation that it brought, and sends it where it wanted to go.
async fn enter(app: &App, caller: Caller, token: String, form: &Form, is_new: bool) -> Answer {
    let mut to = own_address(form.text("then")).to_owned();
    if let Some(code) = form.given("invitation") {
        match accept(app, caller, code, false).await {
            Ok(joined) => to = joined,
            // The code of an operator is spent on the account itself.
            Err(problem) if is_new && problem.is(Kind::CodeSpent) => {}
            Err(_) => to = format!("/join#{}", percent(code)),
        }
    }
    let mut answer = see_other(&to);
    answer.add_cookie(&session_cookie(app, token)).map_err(|error| Problem::internal(&error))?;
    Ok(answer)
}

pub(super) fn session_cookie(app: &App, value: String) -> Cookie<'static> {
    let is_tls = app.config.behind_proxy;
    let name = if is_tls { token::NAME } else { token::LOOPBACK_NAME };
    let builder = Cookie::build(name, value).path("/").http_only(true).secure(is_tls).same_site(SameSite::Lax);
    builder.max_age(Duration::days(90)).finish()
}

async fn sign_out(app: Data<App>, caller: Caller, form: Form) -> Answer {
    drop(form);
    app.leagues.sign_out(caller).await?;
    let mut answer = see_other("/sign-in");
    let mut gone = session_cookie(&app, String::new());
    gone.make_removal();
    answer.add_cookie(&gone).map_err(|error| Problem::internal(&error))?;
    answer.headers_mut().insert(
        header::HeaderName::from_static("clear-site-data"),
        // Not "storage": a card that another account left on this phone is not this one's to discard.
        header::HeaderValue::from_static("\"cache\""),
    );
    Ok(answer)
}

async fn register_page(request: HttpRequest) -> Answer {
    page(&Register { then: own_address(&asked(&request, "then")).into(), ..Register::default() })
}

async fn register(app: Data<App>, from: Arriving, form: Form) -> Answer {
    let made = match new_account(&form) {
        Ok(new) => app.leagues.register(&app.door, new, from.0.network).await.map_err(Problem::from),
        Err(problem) => Err(problem),
    };
    let account = match made {
        Ok(account) => account,
        Err(problem) => {
            let shown = Register {
                email: form.text("email").into(),
                display_name: form.text("display_name").into(),
                then: own_address(form.text("then")).into(),
                invitation: form.text("invitation").into(),
                faults: faults(&problem, "invitation"),
                ..Register::default()
            };
            return page_with(problem.status(), &shown);
        }
    };
    let (token, caller) = app.leagues.begin_browser(account.id, from.0).await?;
    enter(&app, caller, token, &form, true).await
}

/// Reads a registration, with the limits that scripts have.
fn new_account(form: &Form) -> Result<NewAccount, Problem> {
    let mut body = json!({
        "email": form.text("email").trim(),
        "password": form.text("password"),
        "display_name": form.text("display_name").trim(),
    });
    if let Some(code) = form.given("invitation") {
        body["invitation"] = code.into();
    }
    Body(Bytes::from(body.to_string())).read(&account::registration())
}

/// Puts each fault to its field; one of no field to another.
pub(super) fn faults(problem: &Problem, other: &'static str) -> Vec<(&'static str, String)> {
    let field = |pointer: &str| match pointer {
        "/email" => "email",
        "/password" => "password",
        "/current_password" => "current_password",
        "/new_password" => "new_password",
        "/display_name" => "display_name",
        _ if problem.status() == 409 => "email",
        _ => other,
    };
    let places = problem.errors().iter().map(|error| field(&error.pointer)).chain([field("")]);
    places.zip(super::faults::all(problem)).collect()
}

impl Register {
    fn fault(&self, field: &str) -> Option<&str> {
        self.faults.iter().find(|(known, _)| *known == field).map(|(_, detail)| detail.as_str())
    }
}

async fn join_page(app: Data<App>, request: HttpRequest) -> Answer {
    page(&Join { frame: open_frame(&app, &request).await?, ..Join::default() })
}

/// Makes the frame of a page that anybody may see.
///
/// # Errors
/// An account that was ended.
pub(super) async fn open_frame(app: &App, request: &HttpRequest) -> Result<Frame, Refusal> {
    match visitor(app, request).await {
        Some(caller) => Frame::of(app, caller).await,
        None => Ok(Frame::default()),
    }
}

async fn visitor(app: &App, request: &HttpRequest) -> Option<Caller> {
    app.leagues.browser(&browser_token(request)?).await.ok()
}

async fn join(app: Data<App>, request: HttpRequest, form: Form) -> Answer {
    let code = form.text("code").trim();
    let Some(caller) = visitor(&app, &request).await else {
        return match form.text("with") {
            "register" => page(&Register { invitation: code.into(), then: "/".into(), ..Register::default() }),
            _ => page(&SignIn { invitation: code.into(), then: "/".into(), ..SignIn::default() }),
        };
    };
    match accept(&app, caller, code, form.given("confirm") == Some("name")).await {
        Ok(to) => Ok(see_other(&to)),
        Err(problem) => {
            let frame = Frame::of(&app, caller).await?;
            let detail = match problem.status().as_u16() {
                404 => "There is no invitation with this code. Check it, or ask your organizer for a new one.".into(),
                410 => "This invitation has been used or has expired. Ask your organizer for a new one.".into(),
                _ => super::faults::sentence(problem.detail()),
            };
            let is_same_name = problem.is(Rule::SameName);
            page_with(problem.status(), &Join { frame, code: code.into(), fault: Some(detail), is_same_name })
        }
    }
}

/// Takes up an invitation and returns where it leads.
async fn accept(app: &App, caller: Caller, code: &str, confirms_name: bool) -> Result<String, Problem> {
    if let Some(finding) = app.leagues.accept_review(caller, code.to_owned()).await? {
        return Ok(format!("/findings/{finding}"));
    }
    let (member, _) = app.leagues.accept_invitation(caller, code.to_owned(), confirms_name).await?;
    Ok(format!("/leagues/{}", member.league_id))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/sign-in").route(super::reads().to(sign_in_page)).route(web::post().to(sign_in)))
        .service(web::resource("/register").route(super::reads().to(register_page)).route(web::post().to(register)))
        .service(web::resource("/join").route(super::reads().to(join_page)).route(web::post().to(join)))
        .service(web::resource("/sign-out").route(web::post().to(sign_out)))
        .service(web::resource("/favicon.ico").to(|| async { HttpResponse::NoContent().finish() }));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_led_to_another_site() {
        for own in ["/", "/seasons/1?flight=A%20B&after=x_y-z", "/rounds/1?saved=1"] {
            assert_eq!(own_address(own), own);
        }
        for foreign in ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example", "", "x", "///x"] {
            assert_eq!(own_address(foreign), "/", "{foreign}");
        }
        // What browsers drop, what no header holds, and whatever else is in no address.
        for byte in (0..=0x20).chain([b'"', b'#', b'<', b'>', b'[', b'\\', b']', b'^', b'`', b'{', b'|', b'}', 0x7f]) {
            for text in [format!("/{}/elsewhere.example", char::from(byte)), format!("/a{}", char::from(byte))] {
                assert_eq!(own_address(&text), "/", "{text:?}");
            }
        }
        assert_eq!(own_address("/müller"), "/");
        let longest = format!("/{}", "a".repeat(LONGEST_ADDRESS - 1));
        assert_eq!(own_address(&longest), longest);
        assert_eq!(own_address(&format!("{longest}a")), "/");
    }
}
