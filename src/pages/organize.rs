//! Setting up a league without a terminal: roster, invitations, courses, seasons, events.

use super::ask::{Question, is_answered};
use super::door::ShownCode;
use super::fields::{FormPage, Kind, field};
use super::form::{Form, checked_body};
use super::home::events;
use super::typed::{choice, id_of, number, same_name, text};
use super::{Frame, page, see_other};
use crate::accounts::code;
use crate::domain::facts::{Course, Event, League, Member, Role, Season};
use crate::domain::ids::{LeagueId, SeasonId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::http::{downloads, roster};
use crate::league::keys::RequestKey;
use crate::league::member::invite::USUAL_HOURS;
use crate::league::member::open_invitations::OpenInvitation;
use crate::league::reading::JournalEntry;
use crate::league::views::{CourseView, EventView, NewSeason, SeasonView};
use crate::league::{Caller, Refusal};
use crate::pages::words;
use crate::storage::documents::{COURSES, SEASONS};
use crate::wire::body;
use crate::wire::schema::Schema;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use jiff::tz::TimeZone;
use serde_json::{Value, json};
use uuid::Uuid;

const MOST: i64 = 200;

// ---- a league ----

fn league_form(frame: Frame) -> FormPage {
    let zone = text("time_zone", "Time zone, such as Europe/Lisbon: dates and closing times follow it", "");
    let fields = vec![text("name", "Name of the league", ""), zone];
    let mut form = FormPage::new(frame, "Create a league", "/leagues/new".into(), fields);
    form.hint = "You will be its organizer.";
    form.button = "Create league";
    form
}

async fn new_league(app: Data<App>, caller: Caller) -> Answer {
    super::page(&league_form(Frame::of(&app, caller).await?))
}

async fn found_league(app: Data<App>, caller: Caller, form: Form) -> Answer {
    let body = json!({ "name": form.text("name"), "time_zone": form.text("time_zone").trim() });
    let schema = Schema::Object(body::league::league_fields());
    let done = async {
        let (key, league) = checked_body::<League>(&app, caller, "POST /leagues/new".into(), &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.create_league(key, league).await?)
    };
    match done.await {
        Ok(reply) => Ok(see_other(&format!("/leagues/{}/organize", id_of(&reply)))),
        Err(problem) => league_form(Frame::of(&app, caller).await?).again(&form, problem, same_name),
    }
}

// ---- the desk ----

#[derive(Template)]
#[template(path = "organize.html")]
struct Desk {
    frame: Frame,
    league: LeagueId,
    courses: Vec<CourseView>,
    seasons: Vec<(SeasonView, Vec<EventView>)>,
    /// The code of an invitation that was just made, and whom it is for.
    invited: Option<(ShownCode, String)>,
    /// The invitations that can still be taken up, each with whose record it claims.
    open: Vec<(OpenInvitation, Option<String>)>,
    key: String,
}

/// Reads the invitations that can still be taken up.
async fn open_invitations(
    app: &App,
    caller: Caller,
    league: LeagueId,
) -> Result<Vec<(OpenInvitation, Option<String>)>, Refusal> {
    let mut open = Vec::new();
    for invitation in app.leagues.open_invitations(caller, league, Uuid::nil(), MOST).await? {
        let claims = match invitation.member_id {
            Some(member) => Some(app.leagues.member(caller, member).await?.0.member.display_name),
            None => None,
        };
        open.push((invitation, claims));
    }
    Ok(open)
}

async fn desk(app: &App, caller: Caller, league: LeagueId, invited: Option<(ShownCode, String)>) -> Answer {
    app.leagues.may_organize(caller, league).await?;
    let frame = Frame::in_league(app, caller, league).await?;
    let courses = app.leagues.documents::<Course>(caller, &COURSES, league, Uuid::nil(), MOST).await?;
    let mut seasons = Vec::new();
    for season in app.leagues.documents::<Season>(caller, &SEASONS, league, Uuid::nil(), MOST).await? {
        let events = events(app, caller, SeasonId(season.id)).await?;
        seasons.push((SeasonView::from(season), events));
    }
    let courses = courses.into_iter().map(CourseView::from).collect();
    let open = open_invitations(app, caller, league).await?;
    page(&Desk { frame, league, courses, seasons, invited, open, key: Uuid::new_v4().to_string() })
}

async fn organize(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    desk(&app, caller, LeagueId(id.0), None).await
}

async fn invite(app: Data<App>, caller: Caller, id: IdPath, form: Form, request: HttpRequest) -> Answer {
    let role = Role::from_word(form.text("role")).ok_or_else(|| Problem::malformed("choose a role"))?;
    let words = format!("invitation {} {} {} {}", caller.account, id.0, role.word(), form.text("key"));
    let code = code::kept(&app.config.cursor_secret, &words);
    let made = app.leagues.invite(caller, LeagueId(id.0), role, None, USUAL_HOURS, code).await?;
    let shown = ShownCode::of(&request, made.code);
    desk(&app, caller, LeagueId(id.0), Some((shown, form.text("role").to_owned()))).await
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

// ---- a roster ----

fn roster_form(frame: Frame, league: LeagueId) -> FormPage {
    let lines = field("roster", "Players", Kind::Lines, "display_name,flight,starting_handicap\n");
    let mut form = FormPage::new(frame, "Add players from a list", format!("/leagues/{league}/roster"), vec![lines]);
    form.hint = "One player per line; the first line is the header. Flight and starting handicap may be empty. \
                 If one line is wrong, none is added.";
    form.button = "Check the list";
    form
}

async fn new_roster(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    app.leagues.may_organize(caller, LeagueId(id.0)).await?;
    page(&roster_form(Frame::in_league(&app, caller, LeagueId(id.0)).await?, LeagueId(id.0)))
}

/// A roster as it would be stored.
#[derive(Template)]
#[template(path = "roster.html")]
struct RosterPage {
    frame: Frame,
    league: LeagueId,
    members: Vec<Member>,
    roster: String,
    key: String,
}

async fn add_roster(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let league = LeagueId(id.0);
    if form.given("back").is_some() {
        let mut shown = roster_form(Frame::in_league(&app, caller, league).await?, league);
        form.text("roster").clone_into(&mut shown.fields[0].value);
        return page(&shown);
    }
    let sent = Body(Bytes::from(form.text("roster").to_owned()));
    let key = Uuid::try_parse(form.text("key")).ok();
    let operation = format!("POST /leagues/{league}/roster");
    let key = RequestKey { caller, operation, key, body_hash: sent.canonical_hash(), now: app.leagues.now() };
    let done = async {
        let lines = app.offload.run(move || roster::lines(&sent.0)).await??;
        if form.given("seen").is_none() {
            return Ok::<_, Problem>(Some(app.leagues.preview_roster(key, league, lines).await?));
        }
        app.leagues.add_roster(key, league, lines).await?;
        Ok(None)
    };
    match done.await {
        Ok(None) => Ok(see_other(&format!("/leagues/{league}/members"))),
        Ok(Some(members)) => {
            let frame = Frame::in_league(&app, caller, league).await?;
            let (roster, key) = (form.text("roster").to_owned(), form.text("key").to_owned());
            page(&RosterPage { frame, league, members, roster, key })
        }
        Err(problem) => {
            let shown = roster_form(Frame::in_league(&app, caller, league).await?, league);
            shown.again(&form, problem, |_| "roster")
        }
    }
}

// ---- a season ----

fn season_form(frame: Frame, league: LeagueId) -> FormPage {
    let fields = vec![
        text("name", "Name of the season", ""),
        field("starts_on", "First day", Kind::Input("date"), ""),
        field("ends_on", "Last day", Kind::Input("date"), ""),
        text("concession_ft", "Gimme distance, ft (0 = none)", "0"),
    ];
    let fields = fields.into_iter().chain(super::competition::questions()).filter(|field| field.name != "apart");
    let action = format!("/leagues/{league}/seasons/new");
    let mut form = FormPage::new(frame, "Create a season", action, fields.collect());
    form.hint = "Its first competition comes with it; you can add others later.";
    form
}

async fn new_season(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    app.leagues.may_organize(caller, LeagueId(id.0)).await?;
    page(&season_form(Frame::in_league(&app, caller, LeagueId(id.0)).await?, LeagueId(id.0)))
}

fn season_body(form: &Form) -> Value {
    let name = form.text("name");
    json!({
        "name": name, "starts_on": form.text("starts_on"), "ends_on": form.text("ends_on"),
        "concession_ft": number(form, "concession_ft"),
        "competitions": [super::competition::answered(form, name, &[])],
    })
}

async fn add_season(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let league = LeagueId(id.0);
    let schema = body::season::new_season();
    let done = async {
        let operation = format!("POST /leagues/{league}/seasons/new");
        let (key, made) = checked_body::<NewSeason>(&app, caller, operation, &form, &season_body(&form), &schema)?;
        Ok::<_, Problem>(app.leagues.create_season(key, league, made).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/leagues/{league}/organize"))),
        Err(problem) => {
            season_form(Frame::in_league(&app, caller, league).await?, league).again(&form, problem, same_name)
        }
    }
}

// ---- an event ----

async fn event_form(app: &App, caller: Caller, season: SeasonId) -> Result<FormPage, Problem> {
    let found = app.leagues.document::<Season>(caller, &SEASONS, season.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let frame = Frame::in_league(app, caller, found.league).await?;
    let courses = app.leagues.documents::<Course>(caller, &COURSES, found.league, Uuid::nil(), MOST).await?;
    let tees: Vec<(String, String)> = courses
        .iter()
        .flat_map(|course| course.body.tees.iter().map(move |tee| (course, tee)))
        .map(|(course, tee)| (tee.id.to_string(), format!("{}, {}", course.body.name, tee.name)))
        .collect();
    let first = tees.first().map(|(id, _)| id.clone()).unwrap_or_default();
    let fields = vec![
        text("name", "Name of the event", ""),
        field("tee_id", "Course and tee", Kind::Choice(tees), first),
        text("stimp_ft", "Green speed, ft (4 to 16)", "10"),
        field("opens_at", "Opening time (league time)", Kind::Input("datetime-local"), ""),
        field("closes_at", "Closing time (league time)", Kind::Input("datetime-local"), ""),
        choice("holes", "Holes", &[("18", "18"), ("9", "9")]),
        choice("first_hole", "First hole", &[("1", "1"), ("10", "10")]),
    ];
    let title = format!("Add an event to {}", found.body.name);
    let mut form = FormPage::new(frame, title, format!("/seasons/{season}/events/new"), fields);
    if courses.is_empty() {
        form.hint = "Add a course first. An event is played from one of its tees.";
    }
    Ok(form)
}

async fn new_event(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&event_form(&app, caller, SeasonId(id.0)).await?)
}

/// Reads a time of the league's zone; other text goes on to where it is refused by name.
fn instant(form: &Form, name: &str, zone: &TimeZone) -> Value {
    let typed = form.text(name);
    let local = typed.parse::<jiff::civil::DateTime>().ok();
    let instant = local.and_then(|local| zone.to_timestamp(local).ok());
    instant.map_or_else(|| typed.into(), |instant| instant.to_string().into())
}

async fn add_event(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let season = SeasonId(id.0);
    let shown = event_form(&app, caller, season).await?;
    let zone = shown.frame.zone();
    let body = json!({
        "name": form.text("name"), "tee_id": form.text("tee_id"), "stimp_ft": number(&form, "stimp_ft"),
        "opens_at": instant(&form, "opens_at", &zone), "closes_at": instant(&form, "closes_at", &zone),
        "holes": number(&form, "holes"), "first_hole": number(&form, "first_hole"),
    });
    let schema = Schema::Object(body::event::event_fields());
    let done = async {
        let operation = format!("POST /seasons/{season}/events/new");
        let (key, event) = checked_body::<Event>(&app, caller, operation, &form, &body, &schema)?;
        Ok::<_, Problem>(app.leagues.create_event(key, season, event).await?)
    };
    match done.await {
        Ok(reply) => Ok(see_other(&format!("/events/{}", id_of(&reply)))),
        Err(problem) => shown.again(&form, problem, same_name),
    }
}

// ---- the journal ----

#[derive(Template)]
#[template(path = "journal.html")]
struct Journal {
    frame: Frame,
    league: LeagueId,
    entries: Vec<JournalEntry>,
    next: Option<i64>,
}

impl Journal {
    fn in_words(&self, name: &str) -> String {
        name.replace('_', " ")
    }
}

async fn journal(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Result<HttpResponse, Problem> {
    let league = LeagueId(id.0);
    let after = query.get("after").and_then(|text| text.parse().ok()).unwrap_or(0);
    let stored = app.leagues.journal(caller, league, after, MOST).await?;
    let next = (stored.len() as i64 == MOST).then(|| stored.last().map(|entry| entry.n)).flatten();
    let entries = stored.iter().filter_map(JournalEntry::of).collect();
    page(&Journal { frame: Frame::in_league(&app, caller, league).await?, league, entries, next })
}

async fn journal_heads(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let heads = downloads::journal_heads(&app, caller, LeagueId(id.0)).await?;
    Ok(super::held::file(heads, "attachment; filename=\"journal-heads.ndjson\""))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    use super::reads;
    let at = web::resource::<&str>;
    config
        .service(at("/leagues/new").route(reads().to(new_league)).route(web::post().to(found_league)))
        .service(at("/leagues/{id}/organize").route(reads().to(organize)))
        .service(at("/leagues/{id}/invitations").route(web::post().to(invite)))
        .service(at("/leagues/{id}/invitations/revocation").route(web::post().to(revoke)))
        .service(at("/leagues/{id}/roster").route(reads().to(new_roster)).route(web::post().to(add_roster)))
        .service(at("/leagues/{id}/seasons/new").route(reads().to(new_season)).route(web::post().to(add_season)))
        .service(at("/leagues/{id}/journal").route(reads().to(journal)))
        .service(at("/leagues/{id}/journal/heads").route(reads().to(journal_heads)))
        .service(at("/seasons/{id}/events/new").route(reads().to(new_event)).route(web::post().to(add_event)));
}
