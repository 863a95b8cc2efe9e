//! Rounds.

use super::read_only;
use crate::domain::facts::{Decision, Fault, Query, Round, Rules};
use crate::domain::ids::{CompetitionId, EventId, RoundId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, done, json, paged, replied, versioned};
use crate::http::app::App;
use crate::http::body::{Body, broken_beside, decoded, parsed};
use crate::http::keys::Key;
use crate::http::kinds::Kind;
use crate::http::paging::PageOf;
use crate::http::problem::Problem;
use crate::http::routes::{Access, Media, RouteDoc, Routes, creates, lists, reads, removes, replaces};
use crate::http::who::Bearer;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::round::correct::Correction;
use crate::league::round::request::HandIn;
use crate::league::round::rule::Ruling;
use crate::league::views::Page;
use crate::wire::body::{life, round, views};
use crate::wire::json::Node;
use crate::wire::schema::{FieldError, Schema};
use actix_web::HttpRequest;
use actix_web::web::Data;
use std::sync::LazyLock;
use uuid::Uuid;

static BODY: LazyLock<Schema> = LazyLock::new(|| Schema::Object(round::round_fields()));

static RULING: LazyLock<Schema> = LazyLock::new(|| Schema::Object(life::ruling_fields()));

/// For looking at what a request would do.
pub const VALIDATE_ONLY: &[(&str, &str)] = &[("validate_only", "true: says what would follow, and does nothing.")];

/// Finds the fields of a round that are wrong and, where there are any, the rules of a card that the others break.
fn wrong(node: &Node<'_>) -> (Vec<FieldError>, Vec<Fault>) {
    let errors = BODY.check(node);
    if errors.is_empty() {
        return (errors, Vec::new());
    }
    let faults = broken_beside(node, &BODY, &errors, |mended| match named(mended) {
        Ok((round, _)) => round.broken(),
        Err(_) => Vec::new(),
    });
    (errors, faults)
}

/// Reads a round; says whether it names its member.
fn named(mut node: Node<'_>) -> Result<(Round, bool), Problem> {
    let names_member = node.get("member_id").is_some();
    node.set_absent("member_id", Uuid::nil());
    Ok((decoded(&node)?, names_member))
}

/// Whether the sender's session goes on is seen together with everything else that is looked up of a round; whoever is
/// refused before that learns of the session first.
async fn hand_in(app: Data<App>, bearer: Bearer, id: IdPath, key: Key, query: QueryOf, sent: Body) -> Answer {
    let Bearer { caller, session } = bearer;
    let read = || {
        key.is_there()?;
        let confirms_dates = query.confirms("dates")?;
        let node = parsed(&sent.0)?;
        let (errors, faults) = wrong(&node);
        if !errors.is_empty() {
            return Err(Problem::fields_and_faults(errors, faults));
        }
        let key = key.of_node(&app, caller, &node);
        let (round, names_member) = named(node)?;
        Ok((key, HandIn { event: EventId(id.0), season: None, round, names_member, confirms_dates, session }))
    };
    match read() {
        Ok((key, hand_in)) => Ok(replied(app.leagues.hand_in(key, hand_in).await?)),
        Err(problem) => {
            if session.is_some() {
                app.leagues.check_session(caller).await?;
            }
            Err(problem)
        }
    }
}

async fn list(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let rounds = app.leagues.rounds_of_event(caller, EventId(id.0), page.after_id()?, page.limit + 1).await?;
    Ok(paged(request.path(), page.limit, &page.cut(rounds, |round| round.id.to_string())))
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(versioned(app.leagues.round(caller, RoundId(id.0)).await?))
}

async fn correct(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, query: QueryOf, sent: Body) -> Answer {
    let mut node = parsed(&sent.0)?;
    let answered = read_only::take(&mut node);
    let (errors, mut faults) = wrong(&node);
    if !answered.is_empty() {
        let (view, version) = app.leagues.round(caller, RoundId(id.0)).await?;
        // Of another version the change itself tells.
        if if_match.check(version).is_ok() {
            faults.extend(answered.faults(&view));
        }
    }
    if !errors.is_empty() || !faults.is_empty() {
        return Err(Problem::fields_and_faults(errors, faults));
    }
    let (round, names_member) = named(node)?;
    let reason = reason(&query)?;
    let correction = Correction { round, names_member, confirms_dates: query.confirms("dates")?, reason };
    let corrected = app.leagues.correct_round(caller, RoundId(id.0), if_match, correction).await?;
    Ok(versioned(corrected))
}

async fn withdraw(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, query: QueryOf) -> Answer {
    app.leagues.withdraw_round(caller, RoundId(id.0), if_match, reason(&query)?).await?;
    Ok(done())
}

/// Reads why a round is changed.
///
/// # Errors
/// 422 for one that is too long.
pub fn reason(query: &QueryOf) -> Result<Option<String>, Problem> {
    match query.get("reason") {
        Some(text) if text.chars().count() > 2000 => {
            Err(Problem::parameter("reason", Kind::Malformed, "a reason has at most 2000 characters"))
        }
        reason => Ok(reason.map(str::to_owned)),
    }
}

async fn attest(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(versioned(app.leagues.attest_round(caller, RoundId(id.0)).await?))
}

async fn accept(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    Ok(versioned(app.leagues.accept_round(caller, RoundId(id.0)).await?))
}

#[derive(serde::Deserialize)]
struct Ruled {
    decision: Decision,
    reason: String,
}

async fn rule(app: Data<App>, caller: Caller, id: IdPath, key: Key, query: QueryOf, sent: Body) -> Answer {
    let key = key.of(&app, caller, &sent);
    let mut node = sent.node(&RULING)?;
    let card = node.get_mut("round").filter(|card| !matches!(card, Node::Null)).map(|card| {
        card.set_absent("member_id", Uuid::nil());
        decoded::<Round>(card)
    });
    let (round, Ruled { decision, reason }) = (card.transpose()?, decoded(&node)?);
    let ruling = Ruling { decision, round, reason };
    if query.flag("validate_only")? {
        return Ok(json(&app.leagues.preview_ruling(key, RoundId(id.0), ruling).await?));
    }
    Ok(replied(app.leagues.rule_on_round(key, RoundId(id.0), ruling).await?))
}

async fn history(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let items = app.leagues.history(caller, RoundId(id.0)).await?;
    Ok(json(&Page { items, next: None }))
}

async fn working(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let competition = query.id("competition")?.map(CompetitionId);
    Ok(json(&app.leagues.working(caller, RoundId(id.0), competition).await?))
}

async fn ask(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let query: Query = sent.read(&Schema::Object(life::query_fields()))?;
    Ok(replied(app.leagues.ask(key.of(&app, caller, &sent), RoundId(id.0), query).await?))
}

async fn queries(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let items = app.leagues.queries(caller, RoundId(id.0)).await?;
    Ok(json(&Page { items, next: None }))
}

async fn answer_query(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let given: crate::domain::facts::Answer = sent.read(&Schema::Object(life::answer_fields()))?;
    Ok(replied(app.leagues.answer(key.of(&app, caller, &sent), id.0, given).await?))
}

const WHY: (&str, &str) = ("reason", "Why; needed from somebody else than the player.");
const DATES: (&str, &str) = ("confirm", "dates: played_on is right although it lies outside the event.");

/// Why somebody else than the player changes a round.
const REASON: &[(&str, &str)] = &[WHY];
/// What may be said with a correction.
pub const CORRECTION: &[(&str, &str)] = &[WHY, DATES];

/// That the day of a round is right.
pub const CONFIRM_DATES: &[(&str, &str)] = &[DATES];

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Member, Organizer, OtherMember, OwnerOrOrganizer};
    let view = views::round;
    let path = "/events/{id}/rounds";
    let handed_in = creates(path, "Hands in a round.", OwnerOrOrganizer, BODY.clone(), view());
    routes.add(RouteDoc { query: CONFIRM_DATES, ..handed_in }, hand_in);
    routes.add(lists(path, "The event's rounds, cards apart.", Member, views::round_listed()), list);
    routes.add(reads("/rounds/{id}", "A round with its card.", Member, view()), show);
    let corrected = replaces("/rounds/{id}", "Corrects a round.", OwnerOrOrganizer, BODY.clone(), view());
    routes.add(RouteDoc { query: CORRECTION, ..corrected }, correct);
    let withdrawn = removes("/rounds/{id}", "Withdraws a round.", OwnerOrOrganizer, true);
    routes.add(RouteDoc { query: REASON, ..withdrawn }, withdraw);
    let attested =
        creates("/rounds/{id}/attestation", "Attests another's round.", OtherMember, Schema::Anything, view());
    routes.add(RouteDoc { takes: Media::Nothing, status: 200, keyed: false, ..attested }, attest);
    let accepted = creates(
        "/rounds/{id}/acceptance",
        "Accepts a card that another player handed in, or a late one.",
        OwnerOrOrganizer,
        Schema::Anything,
        view(),
    );
    routes.add(RouteDoc { takes: Media::Nothing, status: 200, keyed: false, ..accepted }, accept);
    let path = "/rounds/{id}/rulings";
    let ruled =
        creates(path, "Mends a slip, leaves a round out, or undoes that.", Organizer, RULING.clone(), views::ruling());
    routes.add(RouteDoc { query: VALIDATE_ONLY, ..ruled }, rule);
    let path = "/rounds/{id}/versions";
    routes.add(reads(path, "Who changed what, when and why.", Member, views::whole_list(views::happening())), history);
    let doc = "Every step from the card to the result, each with its rule.";
    let query = &[("competition", "In which competition; left out: the main one.")];
    let explained = reads("/rounds/{id}/working", doc, Member, views::working());
    routes.add(RouteDoc { query, ..explained }, working);
    let path = "/rounds/{id}/queries";
    let body = Schema::Object(life::query_fields());
    routes.add(creates(path, "Queries a card.", Member, body, views::query()), ask);
    let doc = "The queries about a card that I may see.";
    routes.add(reads(path, doc, Member, views::whole_list(views::query())), queries);
    let body = Schema::Object(life::answer_fields());
    routes.add(creates("/queries/{id}/answers", "Answers a query.", Organizer, body, views::answer()), answer_query);
}
