//! A round: its card, its putts, what it came to.

use super::doubts::{self, Doubt};
use super::fields::is_beyond_typing;
use super::form::Form;
use super::kept::kept;
use super::{Frame, charts, page_with, see_other};
use crate::api::extract::{IdPath, QueryOf};
use crate::api::problem::Problem;
use crate::api::{Answer, App};
use crate::domain::facts::{CardHole, Event, EventState, Putt, PuttResult, Season};
use crate::domain::ids::RoundId;
use crate::domain::putting::baseline::Baseline;
use crate::domain::putting::gained::{self, CardHoleGained};
use crate::domain::season::RoundState;
use crate::domain::units::{Degrees, Feet, Inches, Mph, StrokesGained};
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::views::{EventView, RoundView};
use crate::pages::words;
use crate::storage::documents::{EVENTS, SEASONS};
use actix_web::HttpRequest;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use sha2::{Digest, Sha256};
use uuid::Uuid;

/// The longest reason, in characters.
const MOST_REASON: usize = 2000;

#[derive(Template)]
#[template(path = "round.html")]
struct RoundPage {
    frame: Frame,
    version: i64,
    is_saved: bool,
    event: EventView,
    player: String,
    round: RoundView,
    /// What each hole gained; empty where the round's putts count for nothing.
    gained: Vec<Option<CardHoleGained>>,
    doubts: Vec<Doubt>,
    /// Whether another member's attestation lets the card in.
    is_let_in_by_attestation: bool,
    /// What was wrong with a withdrawal, and the reason that was typed.
    refused: Option<(String, String)>,
}

impl RoundPage {
    fn is_mine(&self) -> bool {
        self.round.member_id == self.frame.member()
    }

    fn waits(&self) -> bool {
        matches!(self.round.state, RoundState::Proposed | RoundState::Late)
    }

    fn is_final(&self) -> bool {
        self.event.event.state == Some(EventState::Final)
    }

    fn may_attest(&self) -> bool {
        let may_be = self.round.state == RoundState::Submitted || self.is_let_in_by_attestation;
        !self.is_mine() && may_be && !self.is_final()
    }

    fn may_accept(&self) -> bool {
        match self.round.state {
            RoundState::Late => self.frame.is_organizer() && !self.is_mine(),
            _ => self.waits() && (self.is_mine() || self.frame.is_organizer()),
        }
    }

    /// Says who lets the player's own late card in.
    fn waits_for(&self) -> Option<&'static str> {
        let is_own_late = self.is_mine() && self.round.state == RoundState::Late && self.frame.is_organizer();
        is_own_late.then_some(match self.is_let_in_by_attestation {
            true => "Your late card counts once another member attests it: you are the only organizer.",
            false => "Your late card counts once another organizer accepts it.",
        })
    }

    fn may_change(&self) -> bool {
        let is_open = self.is_there() && self.event.event.state == Some(EventState::Open);
        self.is_mine() && !self.is_final() && (is_open || self.waits())
    }

    fn may_withdraw(&self) -> bool {
        self.may_change() || (self.is_there() && !self.is_mine() && !self.is_final() && self.frame.keeps_scores())
    }

    fn may_rule(&self) -> bool {
        !self.is_mine() && self.frame.is_organizer() && self.round.state != RoundState::Withdrawn
    }

    /// Returns the address at which the card is changed: an own one, or another's by whoever keeps scores.
    fn change_address(&self) -> Option<String> {
        let address = format!("/events/{}/hand-in", self.round.event_id);
        match self.is_mine() {
            true => self.may_change().then_some(address),
            false if self.is_there() && self.frame.keeps_scores() && !self.is_final() => {
                Some(format!("{address}?member={}", self.round.member_id))
            }
            false => None,
        }
    }

    /// Whether it was neither withdrawn nor left out.
    fn is_there(&self) -> bool {
        !matches!(self.round.state, RoundState::Withdrawn | RoundState::Excluded)
    }

    /// Four characters that tell this version of this card from others, to be read out.
    fn receipt(&self) -> String {
        // Crockford's base 32: no I, L, O, U (from memory).
        const ALPHABET: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
        let told = Sha256::digest(format!("{} {}", self.round.id, self.version));
        told.iter().take(4).map(|byte| char::from(ALPHABET[usize::from(byte % 32)])).collect()
    }

    fn new_key(&self) -> Uuid {
        Uuid::new_v4()
    }

    fn strokes(&self, hole: &CardHole) -> String {
        match hole.strokes {
            _ if hole.not_played => "not played".into(),
            Some(strokes) if hole.picked_up => format!("{} (picked up)", strokes.get()),
            None if hole.picked_up => "picked up".into(),
            Some(strokes) => strokes.get().to_string(),
            None => words::MISSING.into(),
        }
    }

    /// Writes the putts of a hole in order.
    fn putts(&self, hole: &CardHole) -> String {
        let Some(putts) = &hole.putts else { return words::MISSING.into() };
        if putts.is_empty() {
            return "none: holed from off the green".into();
        }
        let written = putts.iter().map(|putt| {
            let softened = if self.is_softened(putt) { " (softening declared)" } else { "" };
            format!("{} ft {}{softened}", putt.distance_ft.get(), result(&putt.result))
        });
        written.collect::<Vec<_>>().join(", ")
    }

    fn is_softened(&self, putt: &Putt) -> bool {
        self.round.declared_radius_ft.is_some_and(|radius| putt.distance_ft.get() <= radius)
    }

    /// Returns what the table of putts shows of a putt beside its distance: rise, speed, measured and played line.
    fn readings(&self, putt: &Putt) -> [Option<f64>; 4] {
        let (rise, speed) = (putt.elevation_in.map(Inches::get), putt.ball_speed_mph.map(Mph::get));
        [rise, speed, putt.start_line_deg.map(Degrees::get), putt.played_line_deg.map(Degrees::get)]
    }

    fn result(&self, of: &PuttResult) -> &'static str {
        result(of)
    }

    /// Writes what a hole gained.
    fn hole_gained(&self, n: &usize) -> String {
        let gained = self.gained.get(*n).and_then(Option::as_ref);
        gained.map_or_else(|| words::MISSING.into(), |hole| words::signed(&hole.strokes_gained.to_strokes(), 2))
    }

    /// Writes what a putt gained.
    fn putt_gained(&self, n: &usize, putt: &usize) -> String {
        let hole = self.gained.get(*n).and_then(Option::as_ref);
        let gained = hole.and_then(|hole| hole.by_putt.get(*putt).copied().flatten());
        gained.map_or_else(|| words::MISSING.into(), |gained| words::signed(&gained.to_strokes(), 2))
    }

    fn total_gained(&self) -> String {
        let total: StrokesGained = self.gained.iter().flatten().map(|hole| hole.strokes_gained).sum();
        words::signed(&total.to_strokes(), 2)
    }

    fn has_putts(&self) -> bool {
        self.round.holes.iter().any(|hole| hole.putts.as_ref().is_some_and(|putts| !putts.is_empty()))
    }

    fn chart(&self) -> String {
        let figure = |gained: &Option<CardHoleGained>| gained.as_ref().map(|hole| hole.strokes_gained.to_strokes());
        let holes = self.round.holes.iter().zip(&self.gained);
        let holes: Vec<_> = holes.map(|(hole, gained)| (hole.number.get(), figure(gained))).collect();
        let about = charts::Words {
            id: "holes",
            title: "Strokes gained putting, hole by hole",
            description: "A dot a hole on a level line of zero; above it is better than tour putting. The figures \
                          stand in the card's table.",
        };
        charts::by_hole(&about, &holes)
    }
}

fn result(of: &PuttResult) -> &'static str {
    match of {
        PuttResult::Holed => "holed",
        PuttResult::Missed => "missed",
        PuttResult::Conceded => "conceded",
    }
}

async fn read(app: &App, caller: Caller, id: RoundId) -> Result<RoundPage, Problem> {
    let (round, version) = app.leagues.round(caller, id).await?;
    let found = app.leagues.document::<Event>(caller, &EVENTS, round.event_id.0).await?;
    let (frame, league) = (Frame::in_league(app, caller, found.league).await?, found.league);
    let (player, _) = app.leagues.member(caller, round.member_id).await?;
    let event = EventView::of(found, app.leagues.now());
    let doubts = doubts::of(app, caller, &round).await?;
    let player = player.member.display_name;
    let season = app.leagues.document::<Season>(caller, &SEASONS, event.season_id.0).await?.body;
    let gained = gained_by_hole(&round, &season);
    let is_let_in_by_attestation = app.leagues.is_let_in_by_attestation(&round, league).await?;
    Ok(RoundPage {
        frame,
        version,
        is_saved: false,
        event,
        player,
        round,
        gained,
        doubts,
        is_let_in_by_attestation,
        refused: None,
    })
}

async fn round(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf, request: HttpRequest) -> Answer {
    let shown = read(&app, caller, RoundId(id.0)).await?;
    let shown = RoundPage { is_saved: query.get("saved").is_some(), ..shown };
    kept(&request, &shown.frame, &shown)
}

/// Works out what each hole gained, by the terms that the round's own figure has.
fn gained_by_hole(round: &RoundView, season: &Season) -> Vec<Option<CardHoleGained>> {
    if round.figures.putting.strokes_gained.is_none() {
        return Vec::new();
    }
    let declared = round.declared_radius_ft.and_then(|radius| Feet::new(radius).ok());
    gained::card(&round.holes, Baseline::tour(), season.left_out(declared))
}

async fn attest(app: Data<App>, caller: Caller, id: IdPath, _: Form) -> Answer {
    app.leagues.attest_round(caller, RoundId(id.0)).await?;
    Ok(see_other(&format!("/rounds/{}", id.0)))
}

async fn accept(app: Data<App>, caller: Caller, id: IdPath, _: Form) -> Answer {
    app.leagues.accept_round(caller, RoundId(id.0)).await?;
    Ok(see_other(&format!("/rounds/{}", id.0)))
}

async fn withdraw(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let version = form.text("version").parse().map_or(IfMatch::Never, IfMatch::Version);
    let reason = form.given("reason").map(str::to_owned);
    let done = match reason.as_ref().map_or(0, |reason| reason.chars().count()) {
        0..=MOST_REASON => {
            app.leagues.withdraw_round(caller, RoundId(id.0), version, reason).await.map_err(Problem::from)
        }
        _ => Err(Problem::parameter("reason", "malformed", format!("a reason has at most {MOST_REASON} characters"))),
    };
    match done {
        Ok(()) => Ok(see_other(&format!("/rounds/{}", id.0))),
        Err(problem) if is_beyond_typing(&problem) => Err(problem),
        Err(problem) => {
            let mut shown = read(&app, caller, RoundId(id.0)).await?;
            let detail = problem.errors().first().map_or(problem.detail(), |error| &error.detail).to_owned();
            shown.refused = Some((detail, form.text("reason").to_owned()));
            page_with(problem.status(), &shown)
        }
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/rounds/{id}").route(super::reads().to(round)))
        .service(web::resource("/rounds/{id}/attestation").route(web::post().to(attest)))
        .service(web::resource("/rounds/{id}/acceptance").route(web::post().to(accept)))
        .service(web::resource("/rounds/{id}/withdrawal").route(web::post().to(withdraw)));
}
