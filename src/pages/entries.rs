//! Who plays in an event: players enter, scorers and organizers say when and where.

use super::ask::{Question, is_answered};
use super::fields::{Field, FormPage, Kind, field};
use super::form::{Form, checked_body};
use super::{Frame, lines, page, see_other};
use crate::domain::facts::{Event, EventEntry};
use crate::domain::ids::{CompetitionId, EventId, LeagueId, MemberId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::access::IfMatch;
use crate::league::event::enter::EntrantView;
use crate::league::views::EventView;
use crate::storage::documents::EVENTS;
use crate::wire::body::life::entry_fields;
use crate::wire::schema::{Schema, list};
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde_json::{Value, json};
use uuid::Uuid;

/// The most players who are entered by lines.
const MOST: usize = 1_000;

#[derive(Template)]
#[template(path = "entries.html")]
struct EntriesPage {
    frame: Frame,
    event: EventView,
    entrants: Vec<EntrantView>,
    members: Vec<(MemberId, String)>,
    /// The competitions of the event that players enter.
    competitions: Vec<(CompetitionId, String)>,
    /// The name of the event before, whose players can be taken over.
    before: Option<String>,
    /// Sent with the form, so that it enters once.
    key: Uuid,
}

impl EntriesPage {
    fn own(&self) -> Option<&EntrantView> {
        self.entrants.iter().find(|entrant| entrant.member_id == self.frame.member())
    }

    fn is_open(&self) -> bool {
        !self.event.event.is_final() && !self.event.event.is_void()
    }

    fn name(&self, member: &MemberId) -> &str {
        name_of(&self.members, *member)
    }

    /// Writes when and where somebody plays, and in what.
    fn details(&self, entrant: &EntrantView) -> String {
        let EventEntry { slot, bay, competitions } = &entrant.entry;
        let bay = bay.as_ref().map(|bay| format!("bay {bay}"));
        let named = competitions.iter().map(|id| name_of(&self.competitions, *id).to_owned());
        slot.clone().into_iter().chain(bay).chain(named).collect::<Vec<_>>().join(", ")
    }

    /// Writes the entries as they are typed: name; time; bay; competitions.
    fn typed(&self) -> String {
        let line = |entrant: &EntrantView| {
            let EventEntry { slot, bay, competitions } = &entrant.entry;
            let place = [self.name(&entrant.member_id), slot.as_deref().unwrap_or(""), bay.as_deref().unwrap_or("")];
            let cells = place.into_iter().chain(competitions.iter().map(|id| name_of(&self.competitions, *id)));
            cells.collect::<Vec<_>>().join("; ").trim_end_matches([';', ' ']).to_owned()
        };
        self.entrants.iter().map(line).collect::<Vec<_>>().join("\n")
    }
}

fn name_of<T: PartialEq>(names: &[(T, String)], id: T) -> &str {
    names.iter().find(|(known, _)| *known == id).map_or("", |(_, name)| name)
}

async fn read(app: &App, caller: Caller, id: EventId) -> Result<(EntriesPage, LeagueId), Problem> {
    let found = app.leagues.document::<Event>(caller, &EVENTS, id.0).await?;
    let league = found.league;
    let frame = Frame::in_league(app, caller, league).await?;
    let event = EventView::of(found, app.leagues.now());
    let entrants = app.leagues.entrants(caller, id).await?;
    let members = app.leagues.members_of(caller, league, Uuid::nil(), i64::MAX).await?;
    let members = members.into_iter().map(|member| (member.id, member.member.display_name)).collect();
    let mut competitions = app.leagues.competitions_by_position(caller, event.season_id).await?;
    competitions.retain(|listed| listed.terms.field.by_entry && listed.terms.counts_event(id));
    let competitions = competitions.into_iter().map(|listed| (listed.id, listed.terms.name)).collect();
    let key = Uuid::new_v4();
    Ok((EntriesPage { frame, event, entrants, members, competitions, before: None, key }, league))
}

async fn entries(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let (mut shown, _) = read(&app, caller, EventId(id.0)).await?;
    if shown.frame.keeps_scores() {
        shown.before = before(&app, caller, &shown.event).await?.map(|(_, name)| name);
    }
    page(&shown)
}

async fn enter(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let event = EventId(id.0);
    let named: Vec<&str> = form.all("competition").collect();
    let body = json!({ "competitions": named });
    let operation = format!("POST /events/{event}/entries");
    let schema = Schema::Object(entry_fields());
    let (key, entry) = checked_body::<EventEntry>(&app, caller, operation, &form, &body, &schema)?;
    app.leagues.enter(key, event, None, entry).await?;
    Ok(see_other(&format!("/events/{event}/entries")))
}

async fn leave(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let event = EventId(Uuid::try_parse(form.text("event")).map_err(|_| Problem::not_found())?);
    let (shown, _) = read(&app, caller, event).await?;
    let own = shown.entrants.iter().find(|entrant| entrant.id == id.0).ok_or_else(Problem::not_found)?;
    let details = shown.details(own);
    let place = if details.is_empty() { "The entry.".to_owned() } else { format!("The entry: {details}.") };
    let question = Question {
        title: format!("Withdraw the entry of {}?", shown.name(&own.member_id)),
        lost: vec![place],
        stays: vec!["A card that is in.".into()],
        action: format!("/entries/{}/removal", id.0),
        kept: vec![("event", event.to_string())],
        button: "Withdraw it".into(),
        back: format!("/events/{event}/entries"),
        frame: shown.frame,
        ..Question::default()
    };
    if !is_answered(&form) {
        return question.ask();
    }
    match app.leagues.leave_event(caller, id.0, IfMatch::Version(1)).await {
        Ok(()) => Ok(see_other(&format!("/events/{event}/entries"))),
        Err(refusal) => question.refused(&form, refusal.into()),
    }
}

/// Finds the event before one in its season.
async fn before(app: &App, caller: Caller, event: &EventView) -> Result<Option<(EventId, String)>, Problem> {
    let mut events = app.leagues.events_of(caller, event.season_id, Uuid::nil(), i64::MAX).await?;
    events.retain(|other| other.body.opens_at < event.event.opens_at);
    let last = events.into_iter().max_by_key(|other| (other.body.opens_at, other.id));
    Ok(last.map(|last| (EventId(last.id), last.body.name)))
}

fn arranging(shown: EntriesPage) -> FormPage {
    let typed = shown.typed();
    arranging_as(shown, typed)
}

/// The form with other lines than those that are stored.
fn arranging_as(shown: EntriesPage, typed: String) -> FormPage {
    let label = "A player a line: name; time; bay; competitions that are entered (leave out what is not set)";
    let known: Vec<String> = shown.entrants.iter().map(|entrant| entrant.id.to_string()).collect();
    let fields: Vec<Field> =
        vec![field("lines", label, Kind::Lines, typed), field("known", "", Kind::Kept, known.join(" "))];
    let title = format!("Who plays, {}", shown.event.event.name);
    let action = format!("/events/{}/entries/all", shown.event.id);
    FormPage::new(shown.frame, title, action, fields)
}

async fn arrange(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let (shown, _) = read(&app, caller, EventId(id.0)).await?;
    // The form begins with who played before; nothing is stored until it is sent.
    if query.get("as").is_some_and(|word| word == "before")
        && let Some((before, _)) = before(&app, caller, &shown.event).await?
    {
        let typed = read(&app, caller, before).await?.0.typed();
        return page(&arranging_as(shown, typed));
    }
    page(&arranging(shown))
}

/// Reads a line: name; time; bay; competitions.
fn line(shown: &EntriesPage, text: &str) -> Result<Value, String> {
    let mut cells = text.split(';').map(str::trim);
    let member = lines::only(&shown.members, cells.next().unwrap_or_default(), "nobody", "players")?;
    let mut given = || cells.next().filter(|cell| !cell.is_empty());
    let (slot, bay) = (given(), given());
    let named = cells.filter(|cell| !cell.is_empty());
    let named = named.map(|name| lines::only(&shown.competitions, name, "no competition to enter", "competitions"));
    let named: Vec<CompetitionId> = named.collect::<Result<_, _>>()?;
    Ok(json!({ "member_id": member, "slot": slot, "bay": bay, "competitions": named }))
}

#[derive(serde::Deserialize)]
struct Named {
    member_id: MemberId,
    #[serde(flatten)]
    entry: EventEntry,
}

async fn put(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let event = EventId(id.0);
    let (shown, _) = read(&app, caller, event).await?;
    let done = async {
        let body = Value::Array(lines::read(form.text("lines"), MOST, "/lines", |text| line(&shown, text))?);
        let wanted: Vec<Named> = Body(body.to_string().into()).read(&list(Schema::Object(entry_fields()), 0, MOST))?;
        let wanted = wanted.into_iter().map(|named| (named.member_id, named.entry)).collect();
        let known: Vec<Uuid> = form.text("known").split(' ').filter_map(|id| Uuid::try_parse(id).ok()).collect();
        Ok::<_, Problem>(app.leagues.arrange_entries(caller, event, &known, wanted).await?)
    };
    match done.await {
        Ok(()) => Ok(see_other(&format!("/events/{event}/entries"))),
        Err(problem) => arranging(shown).again(&form, problem, |_| "lines"),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    config
        .service(at("/events/{id}/entries").route(super::reads().to(entries)).route(web::post().to(enter)))
        .service(at("/events/{id}/entries/all").route(super::reads().to(arrange)).route(web::post().to(put)))
        .service(at("/entries/{id}/removal").route(web::post().to(leave)));
}
