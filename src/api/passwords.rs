//! `/me/password`, `/password-resets`.

use crate::http::answer::{Answer, done};
use crate::http::app::App;
use crate::http::body::{Body, decoded};
use crate::http::problem::Problem;
use crate::http::routes::{Access, Media, RouteDoc, Routes, creates, replaces};
use crate::http::who::Arriving;
use crate::league::Caller;
use crate::league::account::password::NewPassword;
use crate::wire::body::account;
use crate::wire::schema::Schema;
use actix_web::web::{Data, Path};
use serde::Deserialize;

#[derive(Deserialize)]
struct Change {
    current_password: String,
    new_password: String,
}

#[derive(Deserialize)]
struct Reset {
    password: String,
}

async fn change(app: Data<App>, caller: Caller, from: Arriving, body: Body) -> Answer {
    let Change { current_password, new_password } = decoded(&body.node(&account::password_change())?)?;
    let change = NewPassword { current: current_password, new: new_password };
    app.leagues.change_password(&app.door, caller, change, from.0).await.map_err(Problem::of_new_password)?;
    Ok(done())
}

async fn reset(app: Data<App>, from: Arriving, code: Path<String>, body: Body) -> Answer {
    let Reset { password } = decoded(&body.node(&account::password())?)?;
    app.leagues.reset_password(&app.door, &code, password, from.0).await?;
    Ok(done())
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let quiet = |doc: RouteDoc| RouteDoc { status: 204, answers: Media::Nothing, keyed: false, matched: false, ..doc };
    let (path, summary) = ("/me/password", "Changes my password; every other session ends.");
    let doc = replaces(path, summary, Access::SignedIn, account::password_change(), Schema::Anything);
    routes.add(quiet(doc), change);
    let (path, summary) = ("/password-resets/{code}", "Sets a new password with a code that the operator made.");
    routes.add(quiet(creates(path, summary, Access::Anyone, account::password(), Schema::Anything)), reset);
}
