//! Side contests of an event: who is where, a value to note, and what organizers lay down.

use super::ask::{Question, is_answered};
use super::fields::{Field, FormPage};
use super::form::{Form, checked_body};
use super::typed::{choice, number, text};
use super::{Frame, faults, page, page_with, see_other, words};
use crate::domain::competition::better::Better;
use crate::domain::facts::side_contest::{FromCards, Noted, SideContest};
use crate::domain::facts::{Event, EventState};
use crate::domain::ids::{EventId, MemberId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::event::side_contest::ContestView;
use crate::league::views::EventView;
use crate::storage::documents::EVENTS;
use crate::wire::body::side_contest::{contest_fields, noted_fields};
use crate::wire::schema::Schema;
use actix_web::http::StatusCode;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde_json::{Value, json};
use uuid::Uuid;

#[derive(Template)]
#[template(path = "side_contests.html")]
struct ContestsPage {
    frame: Frame,
    event: EventView,
    contests: Vec<ContestView>,
    /// Those for whom the reader may note a value.
    members: Vec<(MemberId, String)>,
    is_open: bool,
    /// What was wrong with a value that was sent, and in which side contest.
    fault: Option<(Uuid, String)>,
}

impl ContestsPage {
    /// Says what is ranked.
    fn says(&self, contest: &ContestView) -> String {
        let hole = contest.hole.map(|hole| format!(" on hole {}", hole.get())).unwrap_or_default();
        match contest.from_cards {
            Some(FromCards::Putts) => format!("The fewest putts{hole}, from the cards."),
            Some(FromCards::LongestHoled) => format!("The longest holed putt{hole}, from the cards."),
            Some(FromCards::UnderPar) => format!("The most holes under par{hole}, from the cards."),
            None if contest.better == Better::Lower => format!("The lowest value{hole} leads."),
            None => format!("The highest value{hole} leads."),
        }
    }

    fn may_note(&self, contest: &ContestView) -> bool {
        self.is_open && contest.from_cards.is_none() && !self.members.is_empty()
    }

    fn fault_of(&self, contest: &ContestView) -> Option<&str> {
        self.fault.as_ref().filter(|(id, _)| *id == contest.id).map(|(_, detail)| detail.as_str())
    }
}

async fn read(app: &App, caller: Caller, id: EventId) -> Result<ContestsPage, Problem> {
    let found = app.leagues.document::<Event>(caller, &EVENTS, id.0).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let members = app.leagues.members_of(caller, found.league, Uuid::nil(), i64::MAX).await?;
    let now = app.leagues.now();
    let is_playing = found.body.state_at(now) == EventState::Open;
    let may = |member: MemberId| frame.keeps_scores() || (member == frame.member() && is_playing);
    let members = members.into_iter().filter(|member| may(member.id));
    let members = members.map(|member| (member.id, member.member.display_name)).collect();
    let is_open = !found.body.is_final() && !found.body.is_void();
    let contests = app.leagues.contests(caller, id).await?;
    Ok(ContestsPage { frame, event: EventView::of(found, now), contests, members, is_open, fault: None })
}

async fn contests(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&read(&app, caller, EventId(id.0)).await?)
}

fn contest_of(form: &Form) -> Result<Uuid, Problem> {
    Uuid::try_parse(form.text("contest")).map_err(|_| Problem::not_found())
}

/// Notes a value, or takes it back where none was typed.
async fn note(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let event = EventId(id.0);
    let contest = contest_of(&form)?;
    let mut shown = read(&app, caller, event).await?;
    let done = async {
        let value = number(&form, "value");
        if value == Value::Null {
            let member = Uuid::try_parse(form.text("member_id")).map_err(|_| Problem::not_found())?;
            return Ok(app.leagues.take_back_in_contest(caller, contest, MemberId(member)).await?);
        }
        let body = json!({ "member_id": form.text("member_id"), "value": value });
        let noted: Noted = Body(body.to_string().into()).read(&Schema::Object(noted_fields()))?;
        app.leagues.note_in_contest(caller, contest, noted).await?;
        Ok::<_, Problem>(())
    };
    match done.await {
        Ok(()) => Ok(see_other(&format!("/events/{event}/contests"))),
        Err(problem) if problem.status() == StatusCode::UNPROCESSABLE_ENTITY => {
            shown.fault = Some((contest, faults::all(&problem).join(" ")));
            page_with(problem.status(), &shown)
        }
        Err(problem) => Err(problem),
    }
}

const VALUES: [(&str, &str); 5] = [
    ("lower", "Typed in: the lowest leads, such as nearest the hole"),
    ("higher", "Typed in: the highest leads, such as the longest drive"),
    ("putts", "From the cards: the fewest putts"),
    ("longest_holed", "From the cards: the longest holed putt"),
    ("under_par", "From the cards: the most holes under par"),
];

async fn form_page(app: &App, caller: Caller, id: EventId) -> Result<FormPage, Problem> {
    let shown = read(app, caller, id).await?;
    let league = shown.frame.league.clone().ok_or_else(Problem::not_found)?.id;
    app.leagues.may_organize(caller, league).await?;
    let fields: Vec<Field> = vec![
        text("name", "Name, such as Nearest the hole", ""),
        choice("better", "Its values", &VALUES),
        text("unit", "Unit of typed values, such as ft", ""),
        text("hole", "Hole (leave empty for all)", ""),
    ];
    let title = format!("Add a side contest, {}", shown.event.event.name);
    Ok(FormPage::new(shown.frame, title, format!("/events/{id}/contests/new"), fields))
}

async fn new_contest(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&form_page(&app, caller, EventId(id.0)).await?)
}

async fn add(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let event = EventId(id.0);
    let shown = form_page(&app, caller, event).await?;
    let kind = form.text("better");
    let values = match FromCards::WORDS.contains(&kind) {
        true => json!({ "from_cards": kind }),
        false => json!({ "better": kind, "unit": form.given("unit") }),
    };
    let mut body = json!({ "name": form.text("name").trim(), "hole": number(&form, "hole") });
    body.as_object_mut().expect("an object").extend(values.as_object().cloned().unwrap_or_default());
    let done = async {
        let operation = format!("POST /events/{event}/contests/new");
        let schema = Schema::Object(contest_fields());
        let (key, contest) = checked_body::<SideContest>(&app, caller, operation, &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.create_contest(key, event, contest).await?)
    };
    let owner = |pointer: &str| match pointer.trim_start_matches('/') {
        "unit" => "unit",
        "hole" => "hole",
        "better" | "from_cards" => "better",
        _ => "name",
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/events/{event}/contests"))),
        Err(problem) => shown.again(&form, problem, owner),
    }
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let event = EventId(id.0);
    let contest = contest_of(&form)?;
    let shown = read(&app, caller, event).await?;
    let (seen, version) = app.leagues.contest(caller, contest).await?;
    let lost = match seen.entries.len() {
        0 => vec![],
        noted => vec![format!("The values that were noted: {noted}.")],
    };
    let question = Question {
        title: format!("Delete the side contest {}?", seen.name),
        lost,
        stays: vec!["Every card.".into()],
        action: format!("/events/{event}/contests/removal"),
        kept: vec![("contest", contest.to_string())],
        button: "Delete it".into(),
        back: format!("/events/{event}/contests"),
        frame: shown.frame,
        ..Question::default()
    };
    if !is_answered(&form) {
        return question.ask();
    }
    match app.leagues.remove_contest(caller, contest, IfMatch::Version(version)).await {
        Ok(()) => Ok(see_other(&format!("/events/{event}/contests"))),
        Err(refusal) => question.refused(&form, refusal.into()),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    let read = super::reads;
    config
        .service(at("/events/{id}/contests").route(read().to(contests)).route(web::post().to(note)))
        .service(at("/events/{id}/contests/new").route(read().to(new_contest)).route(web::post().to(add)))
        .service(at("/events/{id}/contests/removal").route(web::post().to(remove)));
}
