//! A ruling on a round: a slip mended, a round left out, the latest of these undone; what it does is shown first.

use super::fields::is_beyond_typing;
use super::form::Form;
use super::hand_in::{self, HandInPage};
use super::names::Names;
use super::{Frame, card_text, page, page_with, see_other};
use crate::domain::facts::{Decision, Round};
use crate::domain::ids::{LeagueId, MemberId, RoundId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::{Body, checked, decoded};
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::event::board::BoardRow;
use crate::league::keys::RequestKey;
use crate::league::round::rule::{Ruler, Ruling, RulingView};
use crate::league::views::RoundView;
use crate::pages::words;
use crate::wire::body::life::ruling_fields;
use crate::wire::json::Node;
use crate::wire::schema::Schema;
use actix_web::http::StatusCode;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use askama::Template;
use serde_json::{Value, json};
use uuid::Uuid;

/// The decisions with their words.
const CHOICES: [(&str, &str); 3] = [
    ("correct", "Correct the card as below"),
    ("exclude_round", "Exclude this round from results"),
    ("reinstate", "Undo the latest ruling on this round"),
];

#[derive(Template)]
#[template(path = "ruling.html")]
struct RulingPage {
    frame: Frame,
    player: String,
    event: String,
    league: LeagueId,
    round: RoundView,
    card: HandInPage,
    key: String,
    decision: String,
    reason: String,
    /// What it would do, once that was asked for.
    effect: Option<RulingView>,
    names: Names,
    /// As what the viewer rules.
    ruler: Ruler,
    /// The row of the event's board as it is now.
    row: Option<BoardRow>,
}

/// A hole that a mending changes, now and then, as people type it.
struct Mended {
    number: u8,
    strokes: [String; 2],
    putts: [String; 2],
}

impl RulingPage {
    fn choices(&self) -> &'static [(&'static str, &'static str)] {
        match self.ruler {
            Ruler::Organizer => &CHOICES,
            Ruler::Scorer => &CHOICES[..1],
        }
    }

    /// Returns the player's row of the event's board now, and as it would be then.
    fn rows<'a>(&'a self, view: &'a RulingView) -> Vec<(&'static str, &'a BoardRow)> {
        let then = view.effect.board.iter().find(|row| row.member_id == self.round.member_id);
        let now = self.row.as_ref().map(|row| ("now", row));
        now.into_iter().chain(then.map(|row| ("then", row))).collect()
    }

    /// Finds the holes that the typed card changes.
    fn mended(&self) -> Vec<Mended> {
        let holes = self.card.rows.iter().filter_map(|row| {
            let known = self.round.holes.iter().find(|hole| hole.number.get() == row.hole.number)?;
            let typed = |text: &str| text.trim().to_owned();
            Some(Mended {
                number: row.hole.number,
                strokes: [card_text::strokes_text(known), typed(&row.strokes)],
                putts: [card_text::putts_text(known), typed(&row.putts)],
            })
        });
        holes.filter(|hole| hole.strokes[0] != hole.strokes[1] || hole.putts[0] != hole.putts[1]).collect()
    }

    fn is_chosen(&self, word: &str) -> bool {
        self.decision == word
    }

    fn decided(&self) -> &'static str {
        CHOICES.into_iter().find(|(word, _)| *word == self.decision).map_or("", |(_, words)| words)
    }

    fn player(&self, id: &MemberId) -> &str {
        self.names.name(id)
    }

    fn mends(&self) -> bool {
        self.decision == Decision::Correct.word()
    }
}

async fn start(app: &App, caller: Caller, id: RoundId) -> Result<RulingPage, Problem> {
    let ruler = app.leagues.ruler(caller, id).await?;
    let (round, _) = app.leagues.round(caller, id).await?;
    let (player, _) = app.leagues.member(caller, round.member_id).await?;
    let (mut card, _) = hand_in::start(app, caller, round.event_id, Some(round.member_id)).await?;
    Ok(RulingPage {
        frame: std::mem::take(&mut card.frame),
        player: player.member.display_name,
        league: player.league_id,
        event: card.event_name().to_owned(),
        round,
        card,
        key: Uuid::new_v4().to_string(),
        decision: if ruler == Ruler::Scorer { Decision::Correct.word().into() } else { String::new() },
        reason: String::new(),
        effect: None,
        names: Names::default(),
        ruler,
        row: None,
    })
}

impl RulingPage {
    fn type_in(&mut self, form: &Form) {
        self.card.type_in(form);
        form.text("decision").clone_into(&mut self.decision);
        form.text("reason").trim().clone_into(&mut self.reason);
        form.text("key").clone_into(&mut self.key);
    }

    /// Makes the body that scripts would send.
    fn body(&mut self) -> Value {
        let mut body = json!({ "decision": self.decision, "reason": self.reason });
        if self.mends() {
            let mut card = self.card.body(Some(&self.round));
            // A form says nothing of these: they stay as they were.
            let known = [
                ("client_round_id", json!(self.round.client_round_id)),
                ("setup_id", json!(self.round.setup_id)),
                ("played_on", json!(self.round.played_on)),
                ("outcome", json!(self.round.outcome.word())),
            ];
            for (name, value) in known {
                card[name] = value;
            }
            body["round"] = card;
        }
        body
    }
}

fn read(body: &Value) -> Result<(Ruling, Body), Problem> {
    let sent = Body(Bytes::from(body.to_string()));
    let mut node = checked(&sent.0, &Schema::Object(ruling_fields()))?;
    let card = node.get_mut("round").map(|card: &mut Node| {
        card.set_absent("member_id", Uuid::nil());
        decoded::<Round>(card)
    });
    let round = card.transpose()?;
    let decision = body["decision"].as_str().and_then(Decision::from_word);
    let decision = decision.ok_or_else(|| Problem::malformed("choose a decision first"))?;
    let reason = body["reason"].as_str().unwrap_or_default().to_owned();
    Ok((Ruling { decision, round, reason }, sent))
}

async fn form(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&start(&app, caller, RoundId(id.0)).await?)
}

async fn rule(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = RoundId(id.0);
    let mut shown = start(&app, caller, id).await?;
    shown.type_in(&form);
    if form.given("back").is_some() {
        return page(&shown);
    }
    let body = shown.body();
    if shown.card.has_faults() {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown);
    }
    let is_seen = form.given("seen").is_some();
    let done = async {
        let (ruling, sent) = read(&body)?;
        let operation = format!("POST /rounds/{id}/ruling");
        let key = Uuid::try_parse(form.text("key")).ok();
        let key = RequestKey { caller, operation, key, body_hash: sent.canonical_hash(), now: app.leagues.now() };
        if is_seen {
            app.leagues.rule_on_round(key, id, ruling).await?;
            return Ok::<_, Problem>(None);
        }
        Ok(Some(app.leagues.preview_ruling(key, id, ruling).await?))
    };
    match done.await {
        Ok(None) => Ok(see_other(&format!("/rounds/{id}"))),
        Ok(effect) => {
            let board = app.leagues.board(caller, shown.round.event_id, None).await?.items;
            shown.row = board.into_cards().into_iter().find(|row| row.member_id == shown.round.member_id);
            shown.effect = effect;
            shown.names = Names::of(&app, caller, shown.league).await?;
            page(&shown)
        }
        Err(problem) if is_beyond_typing(&problem) => Err(problem),
        Err(problem) => {
            shown.card.blame(&problem);
            page_with(problem.status(), &shown)
        }
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config.service(web::resource("/rounds/{id}/ruling").route(super::reads().to(form)).route(web::post().to(rule)));
}
