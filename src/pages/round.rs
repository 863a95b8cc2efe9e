//! A round: its card, its putts, what it came to.

use super::ask::{Question, Typed, is_answered};
use super::form::Form;
use super::kept::kept;
use super::queries::{self, CardQuery};
use super::{Frame, charts, see_other};
use crate::domain::facts::{CardHole, Event, EventState, Putt, PuttResult, Season};
use crate::domain::ids::RoundId;
use crate::domain::putting::baseline::Baseline;
use crate::domain::putting::gained::{self, CardHoleGained};
use crate::domain::season::RoundState;
use crate::domain::units::{Degrees, Feet, Inches, Mph, StrokesGained};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::league::access::IfMatch;
use crate::league::round::rule::Ruler;
use crate::league::views::{EventView, RoundView};
use crate::league::{Caller, Refusal};
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
    queries: Vec<CardQuery>,
    /// As what the viewer rules on the round.
    ruler: Option<Ruler>,
    /// Whether it is the card of the only organizer.
    is_only_organizers: bool,
}

/// Whether the viewer may change a card on its form, or withdraw it: an own one while the event is open or the card
/// waits to be accepted, another's by whoever keeps scores; none of a final event.
pub(super) fn may_change(frame: &Frame, round: &RoundView, event: EventState) -> bool {
    let is_there = !matches!(round.state, RoundState::Withdrawn | RoundState::Excluded);
    let waits = matches!(round.state, RoundState::Proposed | RoundState::Late);
    let may = match round.member_id == frame.member() {
        true => waits || event == EventState::Open,
        false => frame.keeps_scores(),
    };
    is_there && may && event != EventState::Final
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

    /// Whether another member's attestation lets the card in, as nobody else could accept it.
    fn is_let_in_by_attestation(&self) -> bool {
        self.round.state == RoundState::Late && self.is_only_organizers
    }

    fn may_attest(&self) -> bool {
        let may_be = self.round.state == RoundState::Submitted || self.is_let_in_by_attestation();
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
        is_own_late.then_some(match self.is_only_organizers {
            true => "Your late card counts as soon as another member confirms it as witness, because you are the only organizer.",
            false => "Your late card counts as soon as another organizer accepts it.",
        })
    }

    fn may_change(&self) -> bool {
        self.event.event.state.is_some_and(|state| may_change(&self.frame, &self.round, state))
    }

    fn may_rule(&self) -> bool {
        let may = match self.ruler {
            Some(Ruler::Organizer) => true,
            // Before that a scorer changes the card without a ruling.
            Some(Ruler::Scorer) => self.is_final(),
            None => false,
        };
        may && self.round.state != RoundState::Withdrawn
    }

    /// Says who puts a slip on the viewer's own card right, once the viewer no longer can.
    fn who_mends(&self) -> Option<&'static str> {
        let can_be_mended = self.is_mine() && !self.may_change() && self.round.state != RoundState::Withdrawn;
        let is_over = matches!(self.event.event.state, Some(EventState::Closed | EventState::Final));
        (can_be_mended && is_over).then_some(match (self.is_final(), self.frame.is_organizer()) {
            (false, true) => "The event is closed. Only another organizer or a scorer can change your card now.",
            (false, false) => "The event is closed. Only an organizer or a scorer can change your card now.",
            (true, false) => {
                "The event is final. An organizer can still correct your card by a ruling: query this card below."
            }
            (true, true) if self.is_only_organizers => {
                "The event is final, and nobody may rule on their own card. You are the only organizer, so a scorer \
                 has to correct it. You can invite a scorer on the page Organize."
            }
            (true, true) => "The event is final, and nobody may rule on their own card. Ask another organizer: query this card below.",
        })
    }

    /// Returns the address of the form on which the card is changed.
    fn change_address(&self) -> Option<String> {
        let whose = if self.is_mine() { String::new() } else { format!("?member={}", self.round.member_id) };
        self.may_change().then(|| format!("/events/{}/hand-in{whose}", self.round.event_id))
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
            return "none (holed from off the green)".into();
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
    let queries = queries::of(app, caller, &round).await?;
    let player = player.member.display_name;
    let season = app.leagues.document::<Season>(caller, &SEASONS, event.season_id.0).await?.body;
    let gained = gained_by_hole(&round, &season);
    let ruler = match app.leagues.ruler(caller, id).await {
        Ok(ruler) => Some(ruler),
        Err(Refusal::Forbidden(_) | Refusal::Concerned(_)) => None,
        Err(refusal) => return Err(refusal.into()),
    };
    let is_only_organizers = app.leagues.is_only_organizer(league, round.member_id).await?;
    let is_saved = false;
    Ok(RoundPage { frame, version, is_saved, event, player, round, gained, queries, ruler, is_only_organizers })
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

impl RoundPage {
    fn question(self, title: String, act: &str, button: &str) -> Question {
        let id = self.round.id;
        Question {
            frame: self.frame,
            title,
            action: format!("/rounds/{id}/{act}"),
            kept: vec![("version", self.version.to_string())],
            button: button.to_owned(),
            back: format!("/rounds/{id}"),
            ..Question::default()
        }
    }

    fn ask_for_attestation(self) -> Question {
        let title = format!("Did you witness {}’s round, {}?", self.player, self.event.event.name);
        let lost = vec!["You are named as the witness, and cannot undo this.".to_owned()];
        let stays = vec!["The card does not change. If it is corrected later, it needs a witness again.".to_owned()];
        Question { lost, stays, ..self.question(title, "attestation", "Yes, I witnessed this round") }
    }

    fn ask_for_withdrawal(self) -> Question {
        let whose = if self.is_mine() { "your".to_owned() } else { format!("{}’s", self.player) };
        let title = format!("Withdraw {whose} round, {}?", self.event.event.name);
        let lost = vec![
            "The round no longer counts: not in this event, the standings, the handicap or the putting figures.".into(),
            "A withdrawn round cannot be restored.".into(),
        ];
        let after = match self.event.event.state {
            Some(EventState::Open) => "The event is still open, so another card can be handed in.",
            _ => "The event is closed, so another card from the player has to be accepted by an organizer.",
        };
        let stays = vec!["The card can still be read; it is marked as withdrawn.".into(), after.into()];
        let typed = Some(Typed {
            name: "reason",
            label: if self.is_mine() {
                "Reason (optional)".into()
            } else {
                format!("Reason, for {} to read", self.player)
            },
            is_required: !self.is_mine(),
            value: String::new(),
        });
        Question { lost, stays, typed, ..self.question(title, "withdrawal", "Withdraw it") }
    }
}

async fn attest(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    if !is_answered(&form) {
        let shown = read(&app, caller, RoundId(id.0)).await?;
        if shown.may_attest() {
            return shown.ask_for_attestation().ask();
        }
    }
    app.leagues.attest_round(caller, RoundId(id.0)).await?;
    Ok(see_other(&format!("/rounds/{}", id.0)))
}

async fn accept(app: Data<App>, caller: Caller, id: IdPath, _: Form) -> Answer {
    app.leagues.accept_round(caller, RoundId(id.0)).await?;
    Ok(see_other(&format!("/rounds/{}", id.0)))
}

async fn withdraw(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let shown = read(&app, caller, RoundId(id.0)).await?;
    let may_change = shown.may_change();
    let question = shown.ask_for_withdrawal();
    if may_change && !is_answered(&form) {
        return question.ask();
    }
    let version = form.text("version").parse().map_or(IfMatch::Never, IfMatch::Version);
    let reason = form.given("reason").map(str::to_owned);
    let done = match reason.as_ref().map_or(0, |reason| reason.chars().count()) {
        0..=MOST_REASON => {
            app.leagues.withdraw_round(caller, RoundId(id.0), version, reason).await.map_err(Problem::from)
        }
        _ => {
            Err(Problem::parameter("reason", Kind::Malformed, format!("a reason has at most {MOST_REASON} characters")))
        }
    };
    match done {
        Ok(()) => Ok(see_other(&format!("/rounds/{}", id.0))),
        Err(problem) if may_change => question.refused(&form, problem),
        Err(problem) => Err(problem),
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
