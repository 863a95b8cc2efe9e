//! A fixture hole by hole: how it stands, conceding, and what an organizer decides.

use super::ask::{Question, is_answered};
use super::fields::{FormPage, Kind, field, version};
use super::form::{Form, checked_body};
use super::typed::text;
use super::{Frame, page, see_other};
use crate::domain::competition::match_shown::{FixtureShown, HoleShown, MatchShown, PlayerShown, SideShown};
use crate::domain::facts::concession::SaidOfFixture;
use crate::domain::facts::{Competition, Event, EventState, SideWord};
use crate::domain::ids::{FixtureId, TeamId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::views::{CompetitionView, EventView};
use crate::pages::home::events;
use crate::pages::words;
use crate::storage::documents::{COMPETITIONS, EVENTS};
use crate::wire::body::matches::concession_fields;
use crate::wire::schema::Schema;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde_json::json;

#[derive(Template)]
#[template(path = "fixture.html")]
struct FixturePage {
    frame: Frame,
    fixture: FixtureShown,
    version: i64,
    view: CompetitionView,
    event: EventView,
}

impl FixturePage {
    fn is_final(&self) -> bool {
        self.event.event.is_final()
    }

    /// Returns the teams that meet, with their names.
    fn teams(&self) -> Vec<(TeamId, &str)> {
        let sides = [&self.fixture.a, &self.fixture.b].into_iter().flatten();
        sides.filter_map(|side| Some((side.team_id?, side.display_name.as_str()))).collect()
    }

    /// Returns the sides for which the viewer may concede in a match.
    fn concedes(&self, one: &MatchShown) -> Vec<(SideWord, &SideShown)> {
        if self.is_final() {
            return Vec::new();
        }
        let is_own = |players: &[PlayerShown]| players.iter().any(|own| own.member_id == Some(self.frame.member()));
        let sides = [(SideWord::A, &self.fixture.a, &one.a), (SideWord::B, &self.fixture.b, &one.b)];
        let may = |players: &[PlayerShown]| self.frame.keeps_scores() || is_own(players);
        sides
            .into_iter()
            .filter(|(.., players)| may(players))
            .filter_map(|(word, side, _)| Some((word, side.as_ref()?)))
            .collect()
    }

    /// Writes what a side scored on a hole, with the strokes that it received there.
    fn scored(&self, players: &[PlayerShown], hole: &usize) -> String {
        let Some(player) = players.first() else { return words::MISSING.into() };
        let gross = player.gross.get(*hole).copied().flatten().map_or(words::MISSING.into(), |gross| gross.to_string());
        let received = player.received.get(*hole).copied().unwrap_or(0);
        match received {
            0 => gross,
            off if off > 0 => format!("{gross} (−{off})"),
            on => format!("{gross} (+{})", -on),
        }
    }

    fn won(&self, hole: &HoleShown) -> String {
        let name = |word: SideWord| match word {
            SideWord::A => words::side_name(&self.fixture.a),
            SideWord::B => words::side_name(&self.fixture.b),
        };
        match (hole.winner, hole.played) {
            (_, false) => String::new(),
            (Some(winner), true) if hole.conceded_by.is_some() => format!("{}, conceded", name(winner)),
            (Some(winner), true) => name(winner).to_owned(),
            (None, true) => "tied".into(),
        }
    }
}

async fn read(app: &App, caller: Caller, id: FixtureId) -> Result<FixturePage, Problem> {
    let (fixture, version) = app.leagues.fixture(caller, id).await?;
    let found = app.leagues.document::<Competition>(caller, &COMPETITIONS, fixture.competition_id.0).await?;
    let event = app.leagues.document::<Event>(caller, &EVENTS, fixture.event_id.0).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let event = EventView::of(event, app.leagues.now());
    Ok(FixturePage { frame, fixture, version, view: CompetitionView::from(found), event })
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&read(&app, caller, FixtureId(id.0)).await?)
}

/// A concession stands, so it is asked about first.
async fn concede(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = FixtureId(id.0);
    let shown = read(&app, caller, id).await?;
    let (by, other) = match form.text("by") {
        "a" => (&shown.fixture.a, &shown.fixture.b),
        _ => (&shown.fixture.b, &shown.fixture.a),
    };
    let (by, other) = (words::side_name(by).to_owned(), words::side_name(other).to_owned());
    let what = match form.given("hole") {
        Some(hole) => format!("hole {hole} of match {}", form.text("match")),
        None => format!("match {}", form.text("match")),
    };
    let kept = ["match", "hole", "by", "key"].map(|name| (name, form.text(name).to_owned()));
    let question = Question {
        title: format!("{by} concedes {what}?"),
        lost: vec![format!("{what} goes to {other}, whatever was scored or will be.")],
        stays: vec!["Every card as it is.".into()],
        action: format!("/fixtures/{id}/concessions"),
        kept: kept.to_vec(),
        button: "Concede".into(),
        back: format!("/fixtures/{id}"),
        frame: shown.frame,
        ..Question::default()
    };
    if !is_answered(&form) {
        return question.ask();
    }
    let hole = form.given("hole").and_then(|hole| hole.parse::<i64>().ok());
    let body = json!({ "match": form.text("match").parse::<i64>().ok(), "hole": hole, "by": form.text("by") });
    let done = async {
        let operation = format!("POST /fixtures/{id}/concessions");
        let schema = Schema::Object(concession_fields());
        let (key, said) = checked_body::<SaidOfFixture>(&app, caller, operation, &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.concede(key, said.in_fixture(id)).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/fixtures/{id}"))),
        Err(problem) => question.refused(&form, problem),
    }
}

async fn decision_form(app: &App, caller: Caller, id: FixtureId) -> Result<FormPage, Problem> {
    let shown = read(app, caller, id).await?;
    app.leagues.may_organize(caller, shown.frame.league.clone().ok_or_else(Problem::not_found)?.id).await?;
    let fixture = &shown.fixture;
    let a = format!("A walk-over to {}", words::side_name(&fixture.a));
    let b = format!("A walk-over to {}", words::side_name(&fixture.b));
    let states = [
        ("", "The cards decide"),
        ("postponed", "Postponed"),
        ("a", a.as_str()),
        ("b", b.as_str()),
        ("void", "Void: it counts for nothing"),
    ];
    let states = states.map(|(value, words)| (value.to_owned(), words.to_owned())).to_vec();
    let is = match (fixture.state, fixture.to) {
        ("walk_over", Some(to)) => words::side_letter(&to),
        (state @ ("postponed" | "void"), _) => state,
        _ => "",
    };
    let goes_on = [
        ("", "Whoever wins it".to_owned()),
        ("a", words::side_name(&fixture.a).to_owned()),
        ("b", words::side_name(&fixture.b).to_owned()),
    ];
    let goes_on = goes_on.map(|(value, words)| (value.to_owned(), words)).to_vec();
    let said = fixture.goes_on_by_word.as_ref().map_or("", words::side_letter);
    let mut all = events(app, caller, shown.view.season_id).await?;
    all.retain(|event| event.event.state != Some(EventState::Final) || event.id == fixture.event_id);
    let all: Vec<(String, String)> = all.iter().map(|event| (event.id.to_string(), event.event.name.clone())).collect();
    let fields = vec![
        field("state", "What becomes of it", Kind::Choice(states), is),
        text("reason", "Reason (everybody sees it)", fixture.reason.as_deref().unwrap_or_default()),
        field("event_id", "Event", Kind::Choice(all), fixture.event_id.to_string()),
        text("bay", "Bay (leave empty for none)", fixture.bay.as_deref().unwrap_or_default()),
        text("slot", "Time (leave empty for none)", fixture.slot.as_deref().unwrap_or_default()),
        text("name", "Name, such as Final (leave empty for none)", fixture.name.as_deref().unwrap_or_default()),
        field("goes_on", "Who goes on to the next round", Kind::Choice(goes_on), said),
    ];
    let title = format!("Decide {}", words::sides(fixture));
    let action = format!("/fixtures/{id}/decision");
    let mut form = FormPage::of_version(shown.frame, title, action, fields, shown.version);
    form.hint = "A postponed fixture is played in another event: choose that, and let the cards decide again.";
    Ok(form)
}

async fn decision(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&decision_form(&app, caller, FixtureId(id.0)).await?)
}

fn owner(pointer: &str) -> &'static str {
    match pointer.split('/').nth(1) {
        Some("event_id") => "event_id",
        Some("reason") => "reason",
        Some("bay") => "bay",
        Some("slot") => "slot",
        Some("name") => "name",
        Some("goes_on") => "goes_on",
        _ => "state",
    }
}

async fn decide(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = FixtureId(id.0);
    let shown = decision_form(&app, caller, id).await?;
    let (state, to) = match form.given("state") {
        Some(to @ ("a" | "b")) => (Some("walk_over"), Some(to)),
        state => (state, None),
    };
    let patch = json!({
        "state": state, "to": to, "reason": form.given("reason"), "event_id": form.text("event_id"),
        "bay": form.given("bay"), "slot": form.given("slot"), "name": form.given("name"),
        "goes_on": form.given("goes_on"),
    });
    let done = async {
        let sent = crate::http::body::Body(patch.to_string().into());
        let patched = sent.patch(|| Schema::Object(crate::wire::body::matches::fixture_fields()))?;
        Ok::<_, Problem>(app.leagues.change_fixture(caller, id, version(&form), patched).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/fixtures/{id}"))),
        Err(problem) => shown.again(&form, problem, owner),
    }
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = FixtureId(id.0);
    let shown = read(&app, caller, id).await?;
    let competition = shown.view.id;
    let question = Question {
        title: format!("Remove {}?", words::sides(&shown.fixture)),
        lost: vec!["The fixture, and what was conceded in it.".into()],
        stays: vec!["Every card, the teams and their line-ups.".into()],
        action: format!("/fixtures/{id}/removal"),
        button: "Remove it".into(),
        back: format!("/fixtures/{id}"),
        frame: shown.frame,
        ..Question::default()
    };
    if !is_answered(&form) {
        return question.ask();
    }
    match app.leagues.remove_fixture(caller, id, IfMatch::Version(shown.version)).await {
        Ok(()) => Ok(see_other(&format!("/competitions/{competition}/fixtures"))),
        Err(refusal) => question.refused(&form, refusal.into()),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/fixtures/{id}").route(super::reads().to(show)))
        .service(at("/fixtures/{id}/concessions").route(web::post().to(concede)))
        .service(at("/fixtures/{id}/decision").route(super::reads().to(decision)).route(web::post().to(decide)))
        .service(at("/fixtures/{id}/removal").route(web::post().to(remove)));
}
