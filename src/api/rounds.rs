//! Rounds.

use super::extract::{Body, IdPath, Key, PageOf, QueryOf, decoded};
use super::problem::Problem;
use super::routes::{Access, Media, RouteDoc, Routes, creates, lists, reads, removes, replaces};
use super::{Answer, App, done, paged, replied, versioned};
use crate::bodies::{round, views};
use crate::domain::facts::Round;
use crate::domain::ids::{EventId, RoundId};
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::rounds::HandIn;
use crate::schema::Schema;
use actix_web::HttpRequest;
use actix_web::web::Data;
use std::sync::LazyLock;
use uuid::Uuid;

static BODY: LazyLock<Schema> = LazyLock::new(|| Schema::Object(round::round_fields()));

/// Reads a round; says whether it names its member.
fn read(sent: &Body) -> Result<(Round, bool), Problem> {
    let mut node = sent.node(&BODY)?;
    let names_member = node.get("member_id").is_some();
    node.set_absent("member_id", Uuid::nil());
    Ok((decoded(&node)?, names_member))
}

async fn hand_in(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let key = key.required(&app, caller, &sent)?;
    let (round, names_member) = read(&sent)?;
    let hand_in = HandIn { event: EventId(id.0), season: None, round, names_member };
    Ok(replied(app.leagues.hand_in(key, hand_in).await?))
}

async fn list(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let rounds = app.leagues.rounds_of_event(caller, EventId(id.0), page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(rounds, |round| round.id.to_string())))
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(versioned(app.leagues.round(caller, RoundId(id.0)).await?))
}

async fn correct(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, query: QueryOf, sent: Body) -> Answer {
    let (round, names_member) = read(&sent)?;
    let reason = reason(&query)?;
    let corrected = app.leagues.correct_round(caller, RoundId(id.0), if_match, round, names_member, reason).await?;
    Ok(versioned(corrected))
}

async fn withdraw(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, query: QueryOf) -> Answer {
    app.leagues.withdraw_round(caller, RoundId(id.0), if_match, reason(&query)?).await?;
    Ok(done())
}

fn reason(query: &QueryOf) -> Result<Option<String>, Problem> {
    match query.get("reason") {
        Some(text) if text.chars().count() > 2000 => {
            Err(Problem::parameter("reason", "malformed", "a reason has at most 2000 characters"))
        }
        reason => Ok(reason.map(str::to_owned)),
    }
}

async fn attest(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(versioned(app.leagues.attest_round(caller, RoundId(id.0)).await?))
}

/// Why somebody else than the player changes a round.
const REASON: &[(&str, &str)] = &[("reason", "Why; needed from somebody else than the player.")];

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Member, OtherMember, OwnerOrOrganizer};
    let view = views::round;
    let path = "/events/{id}/rounds";
    routes.add(creates(path, "Hands in a round.", OwnerOrOrganizer, BODY.clone(), view()), hand_in);
    routes.add(lists(path, "The event's rounds, cards apart.", Member, views::round_listed()), list);
    routes.add(reads("/rounds/{id}", "A round with its card.", Member, view()), show);
    let corrected = replaces("/rounds/{id}", "Corrects a round.", OwnerOrOrganizer, BODY.clone(), view());
    routes.add(RouteDoc { query: REASON, ..corrected }, correct);
    let withdrawn = removes("/rounds/{id}", "Withdraws a round.", OwnerOrOrganizer, true);
    routes.add(RouteDoc { query: REASON, ..withdrawn }, withdraw);
    let attested =
        creates("/rounds/{id}/attestation", "Attests another's round.", OtherMember, Schema::Anything, view());
    routes.add(RouteDoc { takes: Media::Nothing, status: 200, keyed: false, ..attested }, attest);
}
