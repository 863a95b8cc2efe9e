//! The terms of a competition are changed, but for how it is scored and how its sides meet.

use super::counted_events;
use super::fields::{FormPage, Kind, field, version};
use super::form::Form;
use super::typed::{choice, number, one_of, text, typed};
use super::{Frame, page, reads};
use crate::domain::facts::Competition;
use crate::domain::facts::competition::{Award, Basis, Meeting};
use crate::domain::ids::{CompetitionId, EventId, SeasonId};
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::storage::documents::COMPETITIONS;
use crate::wire::body;
use crate::wire::schema::Schema;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use serde_json::{Value, json};
use uuid::Uuid;

const FIELDS: [&str; 6] = ["position", "basis", "allowance_pct", "award", "events", "start"];
const BASIS: [(&str, &str); 2] = [("net", "Net"), ("gross", "Gross")];

/// What the form of a competition is made from.
struct EditForm {
    shown: FormPage,
    events: Vec<(EventId, String)>,
    before: Competition,
}

/// Writes values as they are typed, one after another.
fn listed(values: &[crate::domain::exact::Value]) -> String {
    values.iter().map(|value| typed(&json!(value))).collect::<Vec<_>>().join(" ")
}

fn is_by_place(terms: &Competition) -> bool {
    matches!(terms.meeting, Meeting::Field {})
}

/// Returns whether players can have strokes to begin with.
fn may_start_apart(terms: &Competition) -> bool {
    matches!(terms.award, Award::ByScore {}) && is_by_place(terms)
}

async fn edit_form(app: &App, caller: Caller, id: CompetitionId) -> Result<EditForm, Problem> {
    let found = app.leagues.document::<Competition>(caller, &COMPETITIONS, id.0).await?;
    app.leagues.may_organize(caller, found.league).await?;
    let season = SeasonId(found.parent.unwrap_or_default());
    let frame = Frame::in_league(app, caller, found.league).await?;
    let events = app.leagues.events_of(caller, season, Uuid::nil(), i64::MAX).await?;
    let events: Vec<_> = events.into_iter().map(|event| (EventId(event.id), event.body.name)).collect();
    let others = app.leagues.competitions_by_position(caller, season).await?.into_iter();
    let competitions: Vec<_> =
        others.filter(|other| other.id != id).map(|other| (other.id, other.terms.name)).collect();
    let terms = found.body;
    let mut basis = choice("basis", "With or without handicap strokes", &BASIS);
    basis.value = if terms.basis == Basis::Gross { "gross" } else { "net" }.to_owned();
    let allowance = terms.allowance_pct.map(|pct| pct.get().to_string()).unwrap_or_default();
    let mut fields = vec![
        text("name", "Name of the competition", &terms.name),
        text(
            "position",
            "Place among the competitions (1 to 1000; the lowest is the main one)",
            &terms.position.to_string(),
        ),
        basis,
        text("allowance_pct", "Handicap allowance, % (0 to 200; leave empty for the usual one)", &allowance),
    ];
    if is_by_place(&terms) {
        let table = match &terms.award {
            Award::ByPlace { table, .. } => listed(table),
            _ => String::new(),
        };
        fields.push(text("award", "Points by finishing place (leave empty to add up scores)", &table));
    }
    let best = terms.counting.best.map(|best| best.to_string()).unwrap_or_default();
    fields.extend([
        text("best", "Best results that count (leave empty for all)", &best),
        text("drop_worst", "Worst results that are dropped of those", &terms.counting.drop_worst.to_string()),
        text("minimum", "Events to play before being ranked", &terms.counting.minimum.to_string()),
        field("events", counted_events::LABEL, Kind::Lines, counted_events::write(terms.events.as_deref(), &events)),
    ]);
    if may_start_apart(&terms) {
        let mut tables = vec![(String::new(), "everybody level".to_owned())];
        tables.extend(competitions.iter().map(|(id, name)| (id.to_string(), format!("the table of {name}"))));
        let start = terms.start.as_ref();
        let of = start.map(|start| start.competition_id.to_string()).unwrap_or_default();
        fields.push(field("start", "Staggered start by", Kind::Choice(tables), of));
        let strokes = start.map(|start| listed(&start.table)).unwrap_or_default();
        fields.push(text("start_strokes", "Strokes to par at the start, by place there, such as -5 -3 0", &strokes));
    }
    let title = format!("Edit {}", terms.name);
    let mut form = FormPage::of_version(frame, title, format!("/competitions/{id}/edit"), fields, found.version);
    form.hint = "Once an event is final, the terms are settled but for name and place. To score in another way, remove the \
                 competition and add one: the cards stay.";
    form.back = format!("/competitions/{id}");
    Ok(EditForm { shown: form, events, before: terms })
}

async fn edit(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&edit_form(&app, caller, CompetitionId(id.0)).await?.shown)
}

/// Reads numbers with blanks between; other words go on to where they are refused by name.
pub(super) fn numbers(typed: &str) -> Vec<Value> {
    let words = typed.split([' ', ';', '\t']).filter(|word| !word.is_empty());
    words
        .map(|word| serde_json::from_str::<serde_json::Number>(word).map_or_else(|_| word.into(), Value::Number))
        .collect()
}

/// Makes the patch of what was answered.
fn patch(form: &Form, found: &EditForm) -> Result<Value, Problem> {
    let mut patch = json!({
        "name": form.text("name").trim(), "position": number(form, "position"), "basis": form.text("basis"),
        "allowance_pct": number(form, "allowance_pct"),
        "counting": {
            "best": number(form, "best"), "drop_worst": number(form, "drop_worst"),
            "minimum": number(form, "minimum"),
        },
        "events": counted_events::read(form.text("events"), &found.events)?,
    });
    if is_by_place(&found.before) {
        let places = numbers(form.text("award"));
        let was_by_place = matches!(found.before.award, Award::ByPlace { .. });
        patch["award"] = match (places.is_empty(), was_by_place) {
            (true, true) => json!({ "kind": "by_score", "table": null, "beyond": null }),
            (true, false) => json!({ "kind": "by_score" }),
            (false, _) => json!({ "kind": "by_place", "table": places }),
        };
    }
    let mut patch = found.shown.only_changed(form, patch);
    if may_start_apart(&found.before) {
        let start = match form.given("start") {
            None => Value::Null,
            Some(of) => json!({ "competition_id": of, "table": numbers(form.text("start_strokes")) }),
        };
        if start != json!(found.before.start) {
            patch["start"] = start;
        }
    }
    Ok(patch)
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = CompetitionId(id.0);
    let found = edit_form(&app, caller, id).await?;
    let done = async {
        let body = || Schema::Object(body::competition::competition_fields());
        let patch = patch(&form, &found)?;
        let patched = Body(Bytes::from(patch.to_string())).patch::<Competition>(body)?;
        Ok::<_, Problem>(app.leagues.change_competition(caller, id, version(&form), patched).await?)
    };
    let owner = |pointer: &str| {
        let mut parts = pointer.trim_start_matches('/').split('/');
        match (parts.next().unwrap_or_default(), parts.next()) {
            ("start", Some("table")) => "start_strokes",
            ("counting", Some("best")) => "best",
            ("counting", Some("drop_worst")) => "drop_worst",
            ("counting", _) => "minimum",
            (first, _) => one_of(first, &FIELDS, "name"),
        }
    };
    let done = done.await;
    found.shown.changed(&form, done, owner, &format!("/competitions/{id}"))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config.service(web::resource("/competitions/{id}/edit").route(reads().to(edit)).route(web::post().to(change)));
}
