//! Handing in a card, or changing it while the event is open.

use super::form::Form;
use super::round::may_change;
use super::{Frame, card_text, faults, page, page_with, see_other, sensor_text};
use crate::domain::facts::{CardHole, EventState, Round};
use crate::domain::ids::{EventId, MemberId};
use crate::domain::rule::Rule;
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::{Body, checked, decoded};
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::competition::seen::OwnMatch;
use crate::league::event::entry_sheet::{EntrySheet, SheetHole, SheetStrokes};
use crate::league::keys::RequestKey;
use crate::league::round::correct::Correction;
use crate::league::round::request::HandIn;
use crate::league::views::RoundView;
use crate::pages::words;
use crate::wire::body::round::round_fields;
use crate::wire::card_file::card::Reading;
use crate::wire::schema::Schema;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use askama::Template;
use serde_json::{Value, json};
use std::sync::LazyLock;
use uuid::Uuid;

static BODY: LazyLock<Schema> = LazyLock::new(|| Schema::Object(round_fields()));

/// The field in which the player says that the day is right although it lies outside the event.
const CONFIRMS_DATES: &str = "confirm_dates";

/// How many holes are shown at a time without script.
const NINE: usize = 9;

/// A hole as it stands on the form.
pub(super) struct Row {
    pub(super) hole: SheetHole,
    pub(super) strokes: String,
    pub(super) putts: String,
    sensor: String,
    /// Whether a file gave the strokes, and the putts with their numbers: a draft does not replace them.
    is_brought: (bool, bool),
    pub(super) faults: Vec<String>,
}

/// A hole of a card that somebody else stored meanwhile.
struct Theirs {
    hole: u8,
    strokes: String,
    putts: String,
    sensor: String,
}

/// A card as it is filled in.
#[derive(Template)]
#[template(path = "hand_in.html")]
pub(super) struct HandInPage {
    pub(super) frame: Frame,
    /// Whose card it is, if not the viewer's own.
    player: Option<String>,
    pub(super) sheet: EntrySheet,
    pub(super) rows: Vec<Row>,
    client_round_id: String,
    key: String,
    version: Option<i64>,
    pub(super) setup: String,
    played_on: String,
    outcome: String,
    reason: String,
    /// Whether the day is asked about, and the player's word that it is right.
    asks_about_day: bool,
    confirms_dates: bool,
    /// What stood on the card when it was stored meanwhile, where that differs from what was typed.
    theirs: Vec<Theirs>,
    /// Whether a file filled it in.
    is_brought: bool,
    /// What is wrong beside the holes.
    pub(super) faults: Vec<String>,
}

impl HandInPage {
    /// Returns whose card it is, if not the viewer's own.
    pub(super) fn player(&self) -> Option<&str> {
        self.player.as_deref()
    }

    /// Returns what addresses of the card end with: whose it is, if not the viewer's own.
    pub(super) fn query(&self) -> String {
        self.player.as_ref().map_or_else(String::new, |_| format!("?member={}", self.sheet.member_id))
    }

    /// Whether a file may fill it in: an own card, or another's where the viewer keeps scores.
    pub(super) fn may_bring(&self) -> bool {
        self.player.is_none() || self.frame.keeps_scores()
    }

    /// Returns the name of the event.
    pub(super) fn event_name(&self) -> &str {
        &self.sheet.name
    }

    pub(super) fn has_faults(&self) -> bool {
        !self.faults.is_empty() || self.rows.iter().any(|row| !row.faults.is_empty())
    }

    fn has_sensor(&self) -> bool {
        self.rows.iter().any(|row| !row.sensor.is_empty())
    }

    /// Whether a sensor said something of the holes that differ, in either version.
    fn has_sensor_apart(&self) -> bool {
        let typed = |hole: u8| self.rows.iter().any(|row| row.hole.number == hole && !row.sensor.trim().is_empty());
        self.theirs.iter().any(|theirs| !theirs.sensor.is_empty() || typed(theirs.hole))
    }

    /// Says for each match of the player who the others are, in which competition, and where strokes fall.
    fn matches(&self) -> Vec<String> {
        let said = |strokes: &SheetStrokes, played: &OwnMatch| {
            let opponents = match played.opponents.as_slice() {
                [] => "nobody yet".to_owned(),
                names => names.join(", "),
            };
            format!("{}, against {opponents}: {}.", strokes.name, words::strokes_on(&self.played(), &played.received))
        };
        let all = self.sheet.strokes.iter();
        all.flat_map(|strokes| strokes.matches.iter().map(move |played| said(strokes, played))).collect()
    }

    fn is_setup(&self, id: &crate::domain::ids::SetupId) -> bool {
        self.setup == id.to_string()
    }
}

/// Reads what the form starts from: the entry sheet, and the card that is there already.
pub(super) async fn start(
    app: &App,
    caller: Caller,
    id: EventId,
    member: Option<MemberId>,
) -> Result<(HandInPage, Option<RoundView>), Problem> {
    let mut sheet = app.leagues.entry_sheet(caller, id, member).await?;
    let (member, _) = app.leagues.member(caller, sheet.member_id).await?;
    let frame = Frame::in_league(app, caller, member.league_id).await?;
    let (round, version) = match sheet.round_id {
        Some(round) => {
            let (round, version) = app.leagues.round(caller, round).await?;
            (Some(round), Some(version))
        }
        None => (None, None),
    };
    let on_card = |number: u8| round.as_ref()?.holes.iter().find(|hole| hole.number.get() == number);
    let rows = std::mem::take(&mut sheet.holes).into_iter().map(|hole| {
        let known = on_card(hole.number);
        let text = |write: fn(&CardHole) -> String| known.map(write).unwrap_or_default();
        Row {
            strokes: text(card_text::strokes_text),
            putts: text(card_text::putts_text),
            sensor: text(sensor_text::of_hole),
            is_brought: (false, false),
            faults: Vec::new(),
            hole,
        }
    });
    let rows = rows.collect();
    let outcome = round.as_ref().map_or("complete", |round| round.outcome.word()).to_owned();
    let shown = HandInPage {
        player: (member.id != frame.member()).then_some(member.member.display_name),
        frame,
        rows,
        client_round_id: round.as_ref().map_or_else(Uuid::new_v4, |round| round.client_round_id.0).to_string(),
        key: Uuid::new_v4().to_string(),
        version,
        setup: round.as_ref().and_then(|round| round.setup_id).map(|setup| setup.to_string()).unwrap_or_default(),
        played_on: round.as_ref().map_or(sheet.today, |round| round.played_on).to_string(),
        outcome,
        asks_about_day: false,
        confirms_dates: false,
        theirs: Vec::new(),
        is_brought: false,
        faults: Vec::new(),
        reason: String::new(),
        sheet,
    };
    Ok((shown, round))
}

async fn form(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let member = query.given_id("member")?.map(MemberId);
    let (shown, round) = start(&app, caller, EventId(id.0), member).await?;
    match shown.elsewhere(round.as_ref()) {
        Some(address) => Ok(see_other(&address)),
        None => page(&shown),
    }
}

impl HandInPage {
    /// Returns where to go instead of a form that could not be sent: the card that is there and can no longer be
    /// changed, or the event that takes no cards.
    pub(super) fn elsewhere(&self, round: Option<&RoundView>) -> Option<String> {
        let state = self.sheet.state;
        match round {
            Some(round) => (!may_change(&self.frame, round, state)).then(|| format!("/rounds/{}", round.id)),
            None => matches!(state, EventState::Scheduled | EventState::Final)
                .then(|| format!("/events/{}", self.sheet.event_id)),
        }
    }

    /// Takes over what was typed.
    pub(super) fn type_in(&mut self, form: &Form) {
        for row in &mut self.rows {
            let typed = |kind: &str| form.text(&format!("{kind}_{}", row.hole.number)).to_owned();
            let has = |kind: &str| form.has(&format!("{kind}_{}", row.hole.number));
            // A form without these fields leaves them as they are; a sensor's numbers go with their putts.
            let same_putts = !has("putts") || typed("putts").trim() == row.putts;
            if !same_putts || has("sensor") {
                row.sensor = typed("sensor");
            }
            if has("putts") {
                row.putts = typed("putts");
            }
            row.strokes = typed("strokes");
        }
        let fields = [
            (&mut self.client_round_id, "client_round_id"),
            (&mut self.key, "key"),
            (&mut self.setup, "setup_id"),
            (&mut self.played_on, "played_on"),
            (&mut self.outcome, "outcome"),
            (&mut self.reason, "reason"),
        ];
        for (field, name) in fields {
            form.text(name).clone_into(field);
        }
        self.confirms_dates = form.has(CONFIRMS_DATES);
    }

    /// Returns the numbers of the holes on the card.
    pub(super) fn played(&self) -> Vec<u8> {
        self.rows.iter().map(|row| row.hole.number).collect()
    }

    /// Fills in what a file says. What it says nothing of stays as it is; what it got wrong stands beside its hole.
    pub(super) fn fill_in(&mut self, reading: &Reading, setup: &str, beside: Vec<String>) {
        self.is_brought = true;
        self.faults = beside;
        if !setup.is_empty() {
            setup.clone_into(&mut self.setup);
        }
        for row in &mut self.rows {
            let Some(hole) = reading.holes.iter().find(|hole| hole.number.get() == row.hole.number) else { continue };
            let (strokes, putts) = (card_text::file_strokes(hole), card_text::file_putts(hole));
            row.is_brought = (!strokes.is_empty(), !putts.is_empty());
            if row.is_brought.0 {
                row.strokes = strokes;
            }
            if row.is_brought.1 {
                (row.putts, row.sensor) = (putts, sensor_text::of_file(&hole.putts));
            }
            row.faults = reading.faults_of(hole);
        }
    }

    /// Makes the round of what was typed.
    pub(super) fn body(&mut self, before: Option<&RoundView>) -> Value {
        let mut holes = Vec::new();
        for row in &mut self.rows {
            let known = before.and_then(|round| round.holes.iter().find(|hole| hole.number.get() == row.hole.number));
            match hole(row, known) {
                Ok(hole) => holes.push(hole),
                Err(fault) => row.faults.push(fault),
            }
        }
        json!({
            "client_round_id": self.client_round_id,
            "setup_id": Some(&self.setup).filter(|setup| !setup.is_empty()),
            "played_on": self.played_on,
            "outcome": self.outcome,
            "holes": holes,
        })
    }

    /// Shows what was stored meanwhile beside what was typed; sent again, the card replaces that.
    fn compare(&mut self, stored: &RoundView) {
        for row in &self.rows {
            let known = stored.holes.iter().find(|hole| hole.number.get() == row.hole.number);
            let text = |write: fn(&CardHole) -> String| known.map(write).unwrap_or_default();
            let [strokes, putts, sensor] =
                [card_text::strokes_text, card_text::putts_text, sensor_text::of_hole].map(text);
            let typed = [&row.strokes, &row.putts, &row.sensor].map(|typed| typed.trim());
            if [&strokes, &putts, &sensor] != typed {
                self.theirs.push(Theirs { hole: row.hole.number, strokes, putts, sensor });
            }
        }
    }

    /// Puts each fault of a problem to its hole.
    pub(super) fn blame(&mut self, problem: &Problem) {
        let outside = Kind::Broken(Rule::PlayedOutsideEvent).about().slug;
        self.asks_about_day = problem.errors().iter().any(|error| error.code == outside);
        for error in problem.errors() {
            let hole = error
                .pointer
                .trim_start_matches("/round")
                .strip_prefix("/holes/")
                .and_then(|rest| rest.split('/').next()?.parse().ok());
            let fault = faults::of_field(&faults::label(&error.pointer), error);
            match hole.and_then(|hole: usize| self.rows.get_mut(hole)) {
                Some(row) => row.faults.push(fault),
                None => self.faults.push(fault),
            }
        }
        if problem.errors().is_empty() {
            self.faults = faults::all(problem);
        }
    }
}

fn hole(row: &Row, known: Option<&CardHole>) -> Result<Value, String> {
    let mut hole = card_text::strokes(&row.strokes)?;
    hole["number"] = row.hole.number.into();
    let is_picked_up = hole["picked_up"] == Value::Bool(true);
    let is_known = |known: &&CardHole| {
        card_text::putts_text(known) == row.putts.trim() && sensor_text::of_hole(known) == row.sensor.trim()
    };
    if let Some(known) = known.filter(is_known) {
        let same_end = known.picked_up == is_picked_up;
        if let Some(kept) = same_end.then(|| serde_json::to_value(known).ok()).flatten() {
            for name in ["putts", "putt_count"] {
                if let Some(value) = kept.get(name) {
                    hole[name] = value.clone();
                }
            }
            return Ok(hole);
        }
    }
    if let Value::Object(putts) = card_text::putts(&row.putts, is_picked_up)? {
        for (name, value) in putts {
            hole[name] = value;
        }
    }
    sensor_text::add(&row.sensor, &mut hole)?;
    Ok(hole)
}

async fn send(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf, form: Form) -> Answer {
    // A card that another account filled in at this browser waits for that account.
    if form.given("account").is_some_and(|account| account != caller.account.to_string()) {
        return Err(Problem::unauthenticated(
            "this card was filled in with another account: sign in with that account to send it",
        ));
    }
    let member = query.given_id("member")?.map(MemberId);
    let (mut shown, before) = start(&app, caller, EventId(id.0), member).await?;
    shown.type_in(&form);
    // A card that is sent again after its answer was lost meets itself: it is no change of itself.
    let is_change = before.as_ref().is_some_and(|_| form.given("version").is_some());
    let body = shown.body(before.as_ref().filter(|_| is_change));
    if shown.has_faults() {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown);
    }
    let sent = match &before {
        Some(round) if is_change => change(&app, caller, round, &form, body).await,
        _ => hand_in(&app, caller, &id, &form, body, shown.sheet.member_id).await,
    };
    match sent {
        Ok(answer) => Ok(answer),
        Err(problem) if problem.status().is_server_error() => Err(problem),
        Err(problem) => {
            shown.blame(&problem);
            if let (StatusCode::PRECONDITION_FAILED, Some(stored)) = (problem.status(), &before) {
                shown.compare(stored);
            }
            page_with(problem.status(), &shown)
        }
    }
}

fn read(body: &Value) -> Result<(Round, Body), Problem> {
    let bytes = Bytes::from(body.to_string());
    let mut node = checked(&bytes, &BODY)?;
    node.set_absent("member_id", Uuid::nil());
    let round = decoded(&node)?;
    drop(node);
    Ok((round, Body(bytes)))
}

async fn hand_in(app: &App, caller: Caller, id: &IdPath, form: &Form, mut body: Value, member: MemberId) -> Answer {
    body["member_id"] = member.to_string().into();
    let (round, sent) = read(&body)?;
    let key = RequestKey {
        caller,
        operation: format!("POST /events/{}/hand-in", id.0),
        key: Uuid::try_parse(form.text("key")).ok(),
        body_hash: sent.canonical_hash(),
        now: app.leagues.now(),
    };
    let (event, confirms_dates) = (EventId(id.0), form.has(CONFIRMS_DATES));
    let hand_in = HandIn { event, season: None, round, names_member: true, confirms_dates, session: None };
    let reply = app.leagues.hand_in(key, hand_in).await?;
    let stored: Value = serde_json::from_str(&reply.body).unwrap_or_default();
    Ok(stored_at(stored["id"].as_str().unwrap_or_default()))
}

async fn change(app: &App, caller: Caller, round: &RoundView, form: &Form, body: Value) -> Answer {
    let (card, _) = read(&body)?;
    let version = form.text("version").parse().map_or(IfMatch::Never, IfMatch::Version);
    let reason = form.given("reason").map(str::to_owned);
    let confirms_dates = form.has(CONFIRMS_DATES);
    let correction = Correction { round: card, names_member: false, confirms_dates, reason };
    app.leagues.correct_round(caller, round.id, version, correction).await?;
    Ok(stored_at(&round.id.to_string()))
}

fn stored_at(round: &str) -> HttpResponse {
    see_other(&format!("/rounds/{round}?saved=1"))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let resource = web::resource("/events/{id}/hand-in");
    config.service(resource.route(super::reads().to(form)).route(web::post().to(send)));
}
