//! What organizers decided about a player's league index: read by everybody, said and undone by organizers.

use super::ask::{Question, Typed, is_answered};
use super::fields::{FormPage, Kind, field};
use super::form::{Form, checked_body};
use super::typed::{choice, handicap_of, one_of, text};
use super::{Frame, page, see_other, words};
use crate::domain::facts::{Decided, HandicapAct};
use crate::domain::ids::MemberId;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::member::handicap_act::HandicapActView;
use crate::wire::body::handicap_act;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use jiff::civil::Date;
use serde_json::json;
use uuid::Uuid;

#[derive(Template)]
#[template(path = "handicap_acts.html")]
struct ActsPage {
    frame: Frame,
    member: MemberId,
    name: String,
    acts: Vec<HandicapActView>,
}

fn until_in_words(until: Option<Date>) -> String {
    until.map(|until| format!(" until {until}")).unwrap_or_default()
}

/// Says in words what was decided.
fn said(decided: Decided) -> String {
    match decided {
        Decided::Adjust { value, from } => format!("Adjusted to {} from {from} on", words::handicap(&Some(value))),
        Decided::Freeze { from, until } => format!("Frozen from {from}{}", until_in_words(until)),
        Decided::Cap { value, from, until } => {
            format!("At most {} from {from}{}", words::handicap(&Some(value)), until_in_words(until))
        }
        Decided::Undo { .. } => "Undone".to_owned(),
    }
}

impl ActsPage {
    /// Says in words what was decided, and whether it still holds.
    fn says(&self, act: &HandicapActView) -> String {
        match act.act.decided {
            Decided::Undo { undoes } => {
                let of = self.acts.iter().find(|other| other.id == undoes);
                format!("Undone: {}", of.map_or_else(String::new, |of| said(of.act.decided)))
            }
            decided if self.is_undone(act) => format!("{} (undone)", said(decided)),
            decided => said(decided),
        }
    }

    fn is_undone(&self, act: &HandicapActView) -> bool {
        self.acts.iter().any(|other| other.act.decided == Decided::Undo { undoes: act.id })
    }

    /// Returns whether the reader may decide about this index.
    fn may_decide(&self) -> bool {
        self.frame.is_organizer() && self.frame.member() != self.member
    }

    fn may_undo(&self, act: &HandicapActView) -> bool {
        self.may_decide() && act.act.decided.from().is_some() && !self.is_undone(act)
    }
}

async fn read(app: &App, caller: Caller, id: MemberId) -> Result<ActsPage, Problem> {
    let (found, _) = app.leagues.member(caller, id).await?;
    let frame = Frame::in_league(app, caller, found.league_id).await?;
    let acts = app.leagues.handicap_acts(caller, id).await?;
    Ok(ActsPage { frame, member: id, name: found.member.display_name, acts })
}

async fn acts(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&read(&app, caller, MemberId(id.0)).await?)
}

const KINDS: [(&str, &str); 3] = [
    ("adjust", "Adjust: it is this value from the day on, and moves on from there"),
    ("cap", "Cap: it is at most this value"),
    ("freeze", "Freeze: it stays as it is on the first day"),
];

async fn form_page(app: &App, caller: Caller, id: MemberId) -> Result<FormPage, Problem> {
    let shown = read(app, caller, id).await?;
    let league = shown.frame.league.clone().ok_or_else(Problem::not_found)?.id;
    app.leagues.may_organize(caller, league).await?;
    let fields = vec![
        choice("kind", "What happens to the league index", &KINDS),
        text("value", "Value, such as 12.3 or +2.0 (not for a freeze)", ""),
        field("from", "First day", Kind::Input("date"), ""),
        field("until", "Last day (leave empty for no end; not for an adjustment)", Kind::Input("date"), ""),
        text("reason", "Reason, which everybody in the league reads", ""),
    ];
    let title = format!("Decide about the league index of {}", shown.name);
    let mut form = FormPage::new(shown.frame, title, format!("/members/{id}/handicap-acts/new"), fields);
    form.hint = "Final events keep the index that they were played with. The player is told.";
    Ok(form)
}

async fn new_act(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    page(&form_page(&app, caller, MemberId(id.0)).await?)
}

async fn add(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = MemberId(id.0);
    let shown = form_page(&app, caller, id).await?;
    let kind = form.text("kind");
    let mut body = json!({ "kind": kind, "from": form.text("from"), "reason": form.text("reason") });
    if kind != "freeze" {
        body["value"] = handicap_of(form.text("value"));
    }
    if kind != "adjust" {
        body["until"] = form.given("until").into();
    }
    let done = async {
        let operation = format!("POST /members/{id}/handicap-acts/new");
        let (key, act) = checked_body::<HandicapAct>(&app, caller, operation, &form, &body, &handicap_act::act())?;
        Ok::<_, Problem>(app.leagues.decide_handicap(key, id, act).await?)
    };
    let owner = |pointer: &str| one_of(pointer, &["value", "from", "until", "reason"], "kind");
    match done.await {
        Ok(_) => Ok(see_other(&format!("/members/{id}/handicap-acts"))),
        Err(problem) => shown.again(&form, problem, owner),
    }
}

async fn undo(app: Data<App>, caller: Caller, id: IdPath, form: Form) -> Answer {
    let id = MemberId(id.0);
    let shown = read(&app, caller, id).await?;
    let act = Uuid::try_parse(form.text("act")).map_err(|_| Problem::not_found())?;
    let undone = shown.acts.iter().find(|other| other.id == act).ok_or_else(Problem::not_found)?;
    let key = form.given("key").map_or_else(|| Uuid::new_v4().to_string(), str::to_owned);
    let question = Question {
        title: format!("Undo for {}: {}?", shown.name, said(undone.act.decided)),
        moves: vec!["The league index from that day on, and what is played off in events that are not final.".into()],
        stays: vec!["Final events, and this act in the list.".into()],
        action: format!("/members/{id}/handicap-acts/undo"),
        kept: vec![("act", act.to_string()), ("key", key)],
        typed: Some(Typed {
            name: "reason",
            label: "Reason, which everybody in the league reads".into(),
            is_required: true,
            value: String::new(),
        }),
        button: "Undo it".into(),
        back: format!("/members/{id}/handicap-acts"),
        frame: shown.frame,
        ..Question::default()
    };
    if !is_answered(&form) {
        return question.ask();
    }
    let done = async {
        let body = json!({ "kind": "undo", "undoes": act, "reason": form.text("reason") });
        let operation = format!("POST /members/{id}/handicap-acts/undo");
        let (key, act) = checked_body::<HandicapAct>(&app, caller, operation, &form, &body, &handicap_act::act())?;
        Ok::<_, Problem>(app.leagues.decide_handicap(key, id, act).await?)
    };
    match done.await {
        Ok(_) => Ok(see_other(&format!("/members/{id}/handicap-acts"))),
        Err(problem) => question.refused(&form, problem),
    }
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let at = web::resource::<&str>;
    let read = super::reads;
    config
        .service(at("/members/{id}/handicap-acts").route(read().to(acts)))
        .service(at("/members/{id}/handicap-acts/new").route(read().to(new_act)).route(web::post().to(add)))
        .service(at("/members/{id}/handicap-acts/undo").route(web::post().to(undo)));
}
