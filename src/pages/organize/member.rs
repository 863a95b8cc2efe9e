//! A member's record is changed: name, role, flight, starting handicap.

use crate::domain::facts::{Fault, Member};
use crate::domain::ids::MemberId;
use crate::domain::rule::Rule;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::member::change::ChangedMember;
use crate::pages::ask::{Question, is_answered};
use crate::pages::fields::{FormPage, Kind, field, version};
use crate::pages::form::Form;
use crate::pages::names::Names;
use crate::pages::typed::{choice, first_part, handicap_of, text};
use crate::pages::{Frame, page, reads, words};
use crate::wire::body::league;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use jiff::civil::Date;
use serde_json::json;

const ROLES: [(&str, &str); 3] = [
    ("player", "Player"),
    ("scorer", "Scorer: also hands in and corrects for others"),
    ("organizer", "Organizer: runs the league"),
];

const GUEST: [(&str, &str); 2] = [("false", "Yes"), ("true", "No: a guest, on the boards of events alone")];

async fn edit_form(app: &App, caller: Caller, id: MemberId) -> Result<FormPage, Problem> {
    let (view, version) = app.leagues.member(caller, id).await?;
    app.leagues.may_organize(caller, view.league_id).await?;
    let frame = Frame::in_league(app, caller, view.league_id).await?;
    let member = view.member;
    let mut role = choice("role", "Role", &ROLES);
    member.role.word().clone_into(&mut role.value);
    let mut guest = choice("guest", "Stands in tables", &GUEST);
    guest.value = member.guest.to_string();
    let start = member.starting_handicap.map(|start| words::handicap(&Some(start))).unwrap_or_default();
    let from = "Day from which another starting handicap holds (empty: the day after the last card)";
    let fields = vec![
        text("display_name", "Name", &member.display_name),
        role,
        text("flight", "Flight (empty: by handicap)", member.flight.as_deref().unwrap_or_default()),
        text("starting_handicap", "Starting handicap, such as 12.4 or +2.8 (empty: none)", &start),
        field("start_from", from, Kind::Input("date"), ""),
        guest,
    ];
    let title = format!("Edit {}", member.display_name);
    let mut form = FormPage::of_version(frame, title, format!("/members/{id}/edit"), fields, version);
    form.hint = "A starting handicap counts until three results are in. Final events keep theirs.";
    form.back = format!("/members/{id}");
    Ok(form)
}

async fn edit(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&edit_form(&app, caller, MemberId(id.0)).await?)
}

/// Reads the day from which another starting handicap holds.
fn start_from(form: &Form) -> Result<Option<Date>, Problem> {
    let unreadable = || {
        let detail = "must be a day, such as 2027-01-14";
        Problem::faults(vec![Fault::new("/start_from", Rule::Validation, detail)])
    };
    form.given("start_from").map(|day| day.parse().map_err(|_| unreadable())).transpose()
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = MemberId(id.0);
    let shown = edit_form(&app, caller, id).await?;
    let patch = json!({
        "display_name": form.text("display_name").trim(), "role": form.text("role"),
        "guest": form.text("guest") == "true", "flight": form.given("flight"), "starting_handicap": handicap_of(form.text("starting_handicap")),
    });
    let body = Body(Bytes::from(shown.only_changed(&form, patch).to_string()));
    let done = async {
        let from = start_from(&form)?;
        if !is_answered(&form) {
            let patched = body.patch::<Member>(league::changed_member)?;
            let seen = app.leagues.preview_member(caller, id, version(&form), from, patched).await?;
            if !seen.effect.is_empty() {
                return Ok(Some(seen));
            }
        }
        let patched = body.patch::<Member>(league::changed_member)?;
        app.leagues.change_member(caller, id, version(&form), from, patched).await?;
        Ok::<_, Problem>(None)
    };
    match done.await {
        Ok(Some(seen)) => {
            let names = Names::of(&app, caller, seen.member.league_id).await?;
            question(shown.frame, &names, &seen, &form).ask()
        }
        done => shown.changed(&form, done, first_part, &format!("/members/{id}")),
    }
}

/// Asks before a change that moves rows of tables.
fn question(frame: Frame, names: &Names, seen: &ChangedMember, form: &Form) -> Question {
    let place = |position: Option<u32>| position.map_or("not ranked".to_owned(), |place| format!("place {place}"));
    let line = |name: &str, from: (String, String), to: (String, String)| {
        format!("{name}: {}, total {} becomes {}, total {}.", from.0, from.1, to.0, to.1)
    };
    let moves = seen.effect.iter().flat_map(|season| &season.moves).map(|moved| {
        let (from, to) = (&moved.from, &moved.to);
        let at = |position, total| (place(position), words::value(&total));
        line(names.name(&moved.member_id), at(from.position, from.total), at(to.position, to.total))
    });
    let sent = ["version", "display_name", "role", "flight", "starting_handicap", "start_from", "guest"];
    let id = seen.member.id;
    Question {
        title: format!("Change the record of {}?", seen.member.member.display_name),
        now: std::iter::once("Rows of the standings would change:".to_owned()).chain(moves).collect(),
        action: format!("/members/{id}/edit"),
        kept: sent.into_iter().map(|name| (name, form.text(name).to_owned())).collect(),
        button: "Change it".into(),
        back: format!("/members/{id}/edit"),
        frame,
        ..Question::default()
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let form = web::resource("/members/{id}/edit");
    config.service(form.route(reads().to(edit)).route(web::post().to(change)));
}
