//! The desk with its invitations: made, for anybody or for one record, and revoked.

use super::desk::{desk, open_invitations};
use crate::accounts::code;
use crate::domain::facts::Role;
use crate::domain::ids::{LeagueId, MemberId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::member::invite::USUAL_HOURS;
use crate::league::member::open_invitations::OpenInvitation;
use crate::league::{Caller, Refusal};
use crate::pages::ask::{Question, is_answered};
use crate::pages::door::ShownCode;
use crate::pages::form::Form;
use crate::pages::{Frame, reads, see_other, words};
use actix_web::HttpRequest;
use actix_web::web::{self, Data, ServiceConfig};
use uuid::Uuid;

async fn organize(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    desk(&app, caller, LeagueId(id.0), None).await
}

async fn invite(app: Data<App>, caller: Caller, id: IdPath, form: Form, request: HttpRequest) -> Answer {
    let role = Role::from_word(form.text("role")).ok_or_else(|| Problem::malformed("choose a role"))?;
    let member = match form.given("member") {
        Some(id) => Some(MemberId(Uuid::try_parse(id).map_err(|_| Problem::malformed("the form names its player"))?)),
        None => None,
    };
    let record = member.map(|id| id.to_string()).unwrap_or_default();
    let words = format!("invitation {} {} {} {record} {}", caller.account, id.0, role.word(), form.text("key"));
    let code = code::kept(&app.config.cursor_secret, &words);
    let made = app.leagues.invite(caller, LeagueId(id.0), role, member, USUAL_HOURS, code).await?;
    let shown = ShownCode::of(&request, made.code);
    let mut whom = role.word().to_owned();
    if let Some(member) = member {
        whom = format!("{whom}, {}", app.leagues.member(caller, member).await?.0.member.display_name);
    }
    desk(&app, caller, LeagueId(id.0), Some((shown, whom))).await
}

fn revocation(frame: Frame, league: LeagueId, invitation: &OpenInvitation, claims: Option<&str>) -> Question {
    let whom = claims.map_or_else(String::new, |name| format!(", {name}"));
    let until = words::moment(&invitation.expires_at, frame.zone());
    Question {
        title: format!("Revoke the invitation as {}{whom}?", invitation.role),
        lost: vec![format!("The code and the link stop working. They would have worked until {until}.")],
        stays: vec![
            "Everybody who has already joined.".into(),
            "You can create another invitation at any time; it will have another code.".into(),
        ],
        action: format!("/leagues/{league}/invitations/revocation"),
        kept: vec![("invitation", invitation.id.to_string())],
        button: "Revoke invitation".into(),
        back: format!("/leagues/{league}/organize#invitations"),
        frame,
        ..Question::default()
    }
}

async fn revoke(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    app.leagues.may_organize(caller, LeagueId(id.0)).await?;
    let named = Uuid::try_parse(form.text("invitation"));
    let invitation = named.map_err(|_| Problem::malformed("the form names its invitation"))?;
    if !is_answered(&form) {
        let open = open_invitations(&app, caller, LeagueId(id.0)).await?;
        if let Some((found, claims)) = open.into_iter().find(|(open, _)| open.id == invitation) {
            let frame = Frame::in_league(&app, caller, LeagueId(id.0)).await?;
            return revocation(frame, LeagueId(id.0), &found, claims.as_deref()).ask();
        }
    }
    match app.leagues.revoke_invitation(caller, invitation).await {
        // Sent twice it is done once.
        Ok(()) | Err(Refusal::NotFound) => Ok(see_other(&format!("/leagues/{}/organize#invitations", id.0))),
        Err(refusal) => Err(refusal.into()),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/leagues/{id}/organize").route(reads().to(organize)))
        .service(at("/leagues/{id}/invitations").route(web::post().to(invite)))
        .service(at("/leagues/{id}/invitations/revocation").route(web::post().to(revoke)));
}
