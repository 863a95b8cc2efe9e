//! `/accounts`, `/sessions`, `/me`.

use crate::http::address::IdPath;
use crate::http::answer::{Answer, done, paged};
use crate::http::app::App;
use crate::http::body::{Body, decoded};
use crate::http::paging::PageOf;
use crate::http::routes::{Access, Media, RouteDoc, Routes, creates, lists, reads, removes};
use crate::http::who::{Arriving, From};
use crate::league::Caller;
use crate::league::account::register::NewAccount;
use crate::wire::body::{account, views};
use actix_web::http::header;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse, http::header::CacheDirective};
use serde::Deserialize;

#[derive(Deserialize)]
struct SignIn {
    email: String,
    password: String,
}

#[derive(Deserialize)]
struct Refresh {
    refresh_token: String,
}

fn private(mut answer: actix_web::HttpResponseBuilder) -> actix_web::HttpResponseBuilder {
    answer.insert_header(header::CacheControl(vec![CacheDirective::NoStore]));
    answer
}

async fn register(app: Data<App>, from: From, body: Body) -> Answer {
    let new: NewAccount = body.read(&account::registration())?;
    let account = app.leagues.register(&app.door, new, from.0).await?;
    Ok(private(HttpResponse::Created()).json(account))
}

async fn sign_in(app: Data<App>, from: Arriving, body: Body) -> Answer {
    let SignIn { email, password } = decoded(&body.node(&account::sign_in())?)?;
    let tokens = app.leagues.sign_in(&app.door, &email, password, from.0).await?;
    Ok(private(HttpResponse::Ok()).json(tokens))
}

async fn refresh(app: Data<App>, body: Body) -> Answer {
    let Refresh { refresh_token } = decoded(&body.node(&account::refresh())?)?;
    let tokens = app.leagues.refresh(&app.door, refresh_token).await?;
    Ok(private(HttpResponse::Ok()).json(tokens))
}

async fn sign_out(app: Data<App>, caller: Caller) -> Answer {
    app.leagues.sign_out(caller).await?;
    Ok(done())
}

async fn sessions(app: Data<App>, caller: Caller, page: PageOf, request: HttpRequest) -> Answer {
    let found = app.leagues.sessions(caller, page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(found, |session| session.id.to_string())))
}

async fn end_session(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    app.leagues.end_session(caller, id.0).await?;
    Ok(done())
}

async fn me(app: Data<App>, caller: Caller) -> Answer {
    Ok(private(HttpResponse::Ok()).json(app.leagues.me(caller).await?))
}

async fn end(app: Data<App>, caller: Caller) -> Answer {
    app.leagues.end_account(caller).await?;
    Ok(done())
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Anyone, SignedIn};
    let unkeyed = |doc: RouteDoc| RouteDoc { keyed: false, ..doc };
    let made = creates("/accounts", "Registers an account.", Anyone, account::registration(), views::account());
    routes.add(unkeyed(made), register);
    let signed_in = creates("/sessions", "Signs in.", Anyone, account::sign_in(), account::tokens());
    routes.add(RouteDoc { status: 200, ..unkeyed(signed_in) }, sign_in);
    let refreshed = creates(
        "/sessions/refresh",
        "Exchanges a refresh token for a new pair.",
        Anyone,
        account::refresh(),
        account::tokens(),
    );
    routes.add(RouteDoc { status: 200, ..unkeyed(refreshed) }, refresh);
    routes.add(removes("/sessions/current", "Signs out.", SignedIn, false), sign_out);
    let (path, summary) = ("/me/sessions", "Where I am signed in, newest first.");
    routes.add(lists(path, summary, SignedIn, account::session()), sessions);
    let (path, summary) = ("/me/sessions/{id}", "Ends one of my sessions.");
    routes.add(removes(path, summary, Access::Owner, false), end_session);
    routes.add(reads("/me", "My account and memberships.", SignedIn, views::me()), me);
    routes.add(RouteDoc { answers: Media::Nothing, ..removes("/me", "Ends my account.", SignedIn, false) }, end);
}
