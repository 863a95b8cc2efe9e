//! How an event ends: its state set by hand, made final, or deleted. The last two are asked about first.

use super::ask::{CardLine, Question, is_answered};
use super::fields::version;
use super::form::Form;
use super::names::Names;
use super::{Frame, see_other};
use crate::domain::facts::Event;
use crate::domain::ids::{EventId, MemberId};
use crate::domain::season::RoundState;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::event::lay_down::EventOverview;
use crate::league::{Caller, Refusal};
use crate::pages::words;
use crate::wire::body::event::event_fields;
use crate::wire::schema::Schema;
use actix_web::http::StatusCode;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use serde_json::{Value, json};
use uuid::Uuid;

/// Takes over a state, of the version that the form was made from.
async fn change_state(app: &App, caller: Caller, id: EventId, form: &Form) -> Result<(), Problem> {
    let state = form.given("state").map_or(Value::Null, Value::from);
    let patch = Body(Bytes::from(json!({ "state": state }).to_string()));
    let patched = patch.patch::<Event>(|| Schema::Object(event_fields()))?;
    app.leagues.change_event(caller, id, version(form), patched).await?;
    Ok(())
}

async fn set_state(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = EventId(id.0);
    if form.text("state") == "final" {
        return make_final(&app, caller, id, &form).await;
    }
    change_state(&app, caller, id, &form).await?;
    Ok(see_other(&format!("/events/{id}")))
}

async fn make_final(app: &App, caller: Caller, id: EventId, form: &Form) -> Answer {
    let mut seen = app.leagues.event_overview(caller, id).await?;
    let there = format!("/events/{id}");
    if seen.event.event.is_final() && is_answered(form) {
        // Sent twice it is done once.
        return Ok(see_other(&there));
    }
    let refusal = seen.is_not_final_for.take();
    let frame = Frame::in_league(app, caller, seen.league).await?;
    let question = before_final(frame, &Names::of(app, caller, seen.league).await?, &seen);
    match refusal {
        Some(refusal) => cannot(question, form, refusal, format!("{} cannot be final now", seen.event.event.name)),
        None if !is_answered(form) => question.ask(),
        None if form.text("mark") != seen.mark.to_string() => {
            let fault = "the event or its cards have changed in the meantime, so please check them again";
            question.ask_again(StatusCode::CONFLICT, form, fault)
        }
        None => match change_state(app, caller, id, form).await {
            Ok(()) => Ok(see_other(&there)),
            Err(problem) => question.refused(form, problem),
        },
    }
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let mut seen = match app.leagues.event_overview(caller, EventId(id.0)).await {
        // Sent twice it is done once.
        Err(Refusal::NotFound) if is_answered(&form) => return Ok(see_other(&season_of(&form)?)),
        seen => seen?,
    };
    let refusal = seen.is_kept_for.take();
    let question = before_removal(Frame::in_league(&app, caller, seen.league).await?, &seen);
    match refusal {
        Some(refusal) => cannot(question, &form, refusal, format!("{} cannot be deleted now", seen.event.event.name)),
        None if !is_answered(&form) => question.ask(),
        None => match app.leagues.remove_event(caller, EventId(id.0), version(&form)).await {
            Ok(season) => Ok(see_other(&format!("/seasons/{season}"))),
            Err(refusal) => question.refused(&form, refusal.into()),
        },
    }
}

/// Returns the address of the season of an event that is gone.
fn season_of(form: &Form) -> Result<String, Problem> {
    let season = Uuid::try_parse(form.text("season")).map_err(|_| Problem::not_found())?;
    Ok(format!("/seasons/{season}"))
}

/// Says why nothing can be done now; the page has no button then.
pub(super) fn cannot(question: Question, form: &Form, refusal: Refusal, title: String) -> Answer {
    let problem = Problem::from(refusal);
    let Question { frame, now, cards, back, .. } = question;
    let shown = Question { frame, title, now, cards, back, ..Question::default() };
    shown.ask_again(problem.status(), form, problem.detail())
}

/// What a final event settles.
pub(super) const SETTLED: [&str; 3] = [
    "The results: handicap strokes, places and league points, with the tees, handicaps and terms of this moment.",
    "The cards: no more can be handed in, and none can be accepted, witnessed, changed or withdrawn.",
    "The event itself: it cannot be opened, changed or deleted.",
];

fn before_final(frame: Frame, names: &Names, seen: &EventOverview) -> Question {
    let event = &seen.event;
    let mut lost: Vec<String> = SETTLED.map(str::to_owned).into();
    if seen.is_first {
        lost.push(
            "The season’s terms, because this is its first final event: scoring, allowance, points, how many results \
             count, ties, gimmes and flights."
                .to_owned(),
        );
    }
    let moves = [
        "Handicaps: later cards change a league index, but only for later events.",
        "Rulings: an organizer can correct or exclude a card, with a reason, and places here then change. The card of \
         a league’s only organizer is corrected by a scorer.",
        "Queries: a card can still be queried, and an organizer answers.",
    ];
    Question {
        title: format!("Make {} final?", event.event.name),
        now: in_short(seen),
        cards: cards(names, seen),
        lost,
        moves: moves.map(str::to_owned).into(),
        action: format!("/events/{}/state", event.id),
        kept: vec![("state", "final".into()), ("version", event.version.to_string()), ("mark", seen.mark.to_string())],
        button: "Make it final".into(),
        back: format!("/events/{}", event.id),
        frame,
        ..Question::default()
    }
}

fn before_removal(frame: Frame, seen: &EventOverview) -> Question {
    let event = &seen.event;
    let mut lost = vec![format!("{}, with its times, its tee and its column in the standings.", event.event.name)];
    if !seen.entered.is_empty() {
        lost.push(many(seen.entered.len(), "entry", "entries") + ": who plays when and where.");
    }
    if seen.in_play > 0 {
        lost.push(many(seen.in_play, "card", "cards") + " that somebody began and did not hand in.");
    }
    let stays = [
        "The season with its other events, and every handicap: no card was handed in for this event.",
        "The audit log, which says that you deleted the event.",
    ];
    Question {
        title: format!("Delete {}?", event.event.name),
        lost,
        stays: stays.map(str::to_owned).into(),
        action: format!("/events/{}/removal", event.id),
        kept: vec![("season", event.season_id.to_string()), ("version", event.version.to_string())],
        button: "Delete this event".into(),
        back: format!("/events/{}", event.id),
        frame,
        ..Question::default()
    }
}

fn many(count: usize, one: &str, more: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { more })
}

/// Says how many cards count, wait and do not count.
pub(super) fn in_short(seen: &EventOverview) -> Vec<String> {
    use RoundState::{Attested, Excluded, Late, Proposed, Submitted, Withdrawn};
    let count = |states: &[RoundState]| seen.cards.iter().filter(|(_, _, state)| states.contains(state)).count();
    let (attested, counting) = (count(&[Attested]), count(&[Submitted, Attested]));
    let mut lines = vec![match counting {
        0 if seen.cards.is_empty() => "This event has no cards. You can delete it on its own page.".to_owned(),
        0 => "No card counts.".to_owned(),
        _ => many(counting, "card counts", "cards count") + &format!(", {attested} witnessed."),
    }];
    let rest = [
        (count(&[Proposed, Late]), "card has to be accepted or withdrawn", "cards have to be accepted or withdrawn"),
        (count(&[Excluded]), "card is excluded by a ruling", "cards are excluded by a ruling"),
        (count(&[Withdrawn]), "card was withdrawn", "cards were withdrawn"),
        (without(seen).count(), "player entered and has no card", "players entered and have no card"),
    ];
    lines.extend(rest.into_iter().filter(|(n, ..)| *n > 0).map(|(n, one, more)| many(n, one, more) + "."));
    lines
}

/// Returns who entered and has no card.
fn without(seen: &EventOverview) -> impl Iterator<Item = &MemberId> {
    seen.entered.iter().filter(|entered| seen.cards.iter().all(|(member, ..)| member != *entered))
}

/// Lists the cards: what waits first, then what counts.
fn cards(names: &Names, seen: &EventOverview) -> Vec<CardLine> {
    let line = |member, round, state, counts| CardLine { player: names.name(member).to_owned(), round, state, counts };
    let handed_in = seen.cards.iter().map(|(member, round, state)| {
        let (order, counts) = match state {
            RoundState::Proposed | RoundState::Late => (0, "not yet"),
            RoundState::Submitted | RoundState::Attested => (1, "yes"),
            RoundState::Excluded | RoundState::Withdrawn => (2, "no"),
        };
        (order, line(member, Some(*round), words::round_state(state), counts))
    });
    let missing = without(seen).map(|member| (3, line(member, None, "none", "no")));
    let mut lines: Vec<(u8, CardLine)> = handed_in.chain(missing).collect();
    lines.sort_by_cached_key(|(order, line)| (*order, line.player.to_lowercase()));
    lines.into_iter().map(|(_, line)| line).collect()
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/events/{id}/state").route(web::post().to(set_state)))
        .service(web::resource("/events/{id}/removal").route(web::post().to(remove)));
}
