//! The question before an act that cannot be undone: what is lost, what stays, and the name typed where a person is
//! erased.
//!
//! A form that leads to such an act is answered with this page; only the form of this page does it.

use super::form::Form;
use super::{Frame, faults, page, page_with};
use crate::domain::ids::RoundId;
use crate::http::answer::Answer;
use crate::http::problem::Problem;
use crate::pages::fields::is_beyond_typing;
use actix_web::http::StatusCode;
use askama::Template;

/// What is typed on the page of a question.
pub struct Typed {
    /// The name of its field.
    pub name: &'static str,
    /// Its label.
    pub label: String,
    /// Whether nothing is done without it.
    pub is_required: bool,
    /// What stands in it.
    pub value: String,
}

/// What an event has of a player: a card, or an entry without one.
pub struct CardLine {
    pub player: String,
    pub round: Option<RoundId>,
    /// Where the card stands.
    pub state: &'static str,
    pub counts: &'static str,
}

/// A question.
#[derive(Default, Template)]
#[template(path = "ask.html")]
pub struct Question {
    /// What is around it.
    pub frame: Frame,
    /// The question itself.
    pub title: String,
    /// How things are now, in short.
    pub now: Vec<String>,
    /// The cards of the event that the question is about.
    pub cards: Vec<CardLine>,
    /// What is gone afterwards, or can no longer be changed.
    pub lost: Vec<String>,
    /// What can still change afterwards.
    pub moves: Vec<String>,
    /// What stays as it is.
    pub stays: Vec<String>,
    /// Where the answer is sent.
    pub action: String,
    /// What is sent along.
    pub kept: Vec<(&'static str, String)>,
    /// What is typed.
    pub typed: Option<Typed>,
    /// What the button says that does it; nothing where it cannot be done now.
    pub button: String,
    /// Where somebody goes who does not want it.
    pub back: String,
    /// Why it was not done.
    pub fault: Option<String>,
}

/// Whether a form comes from the page of its question.
pub fn is_answered(form: &Form) -> bool {
    form.given("seen").is_some()
}

impl Question {
    /// Asks.
    ///
    /// # Errors
    /// A template that fails.
    pub fn ask(self) -> Answer {
        page(&self)
    }

    /// Asks again, with what was typed and why nothing was done.
    ///
    /// # Errors
    /// A template that fails.
    pub fn ask_again(mut self, status: StatusCode, form: &Form, fault: &str) -> Answer {
        if let Some(typed) = &mut self.typed {
            form.text(typed.name).clone_into(&mut typed.value);
        }
        self.fault = Some(faults::sentence(fault));
        page_with(status, &self)
    }

    /// Asks again after a refusal that some other answer may mend.
    ///
    /// # Errors
    /// A problem that no other typing would mend.
    pub fn refused(self, form: &Form, problem: Problem) -> Answer {
        if is_beyond_typing(&problem) {
            return Err(problem);
        }
        self.ask_again(problem.status(), form, &faults::all(&problem).join(" "))
    }
}
