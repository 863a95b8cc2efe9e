//! Plain forms: fields with their labels, what was typed, and what is wrong with it.

use super::form::Form;
use super::{Frame, faults, page_with};
use crate::http::answer::Answer;
use crate::http::kinds;
use crate::http::problem::Problem;
use actix_web::http::StatusCode;
use askama::Template;
use uuid::Uuid;

/// Says whether no other typing would mend a problem: it is shown, or asked about, on a page of its own.
pub fn is_beyond_typing(problem: &Problem) -> bool {
    problem.status() == StatusCode::NOT_FOUND
        || problem.status().is_server_error()
        || problem.is(kinds::Kind::ReauthRequired)
}

/// How a field is filled in.
pub enum Kind {
    /// A line, a date, a number: an `input` of that type.
    Input(&'static str),
    /// One of some values, with the words for each.
    Choice(Vec<(String, String)>),
    /// Many lines.
    Lines,
    /// Nothing to fill in: it is sent back as it is.
    Kept,
}

/// A field.
pub struct Field {
    /// Its name.
    pub name: &'static str,
    /// Its label, with unit and limits.
    pub label: &'static str,
    /// How it is filled in.
    pub kind: Kind,
    /// What stands in it.
    pub value: String,
    /// What is wrong with it.
    pub faults: Vec<String>,
}

impl Field {
    fn is_kept(&self) -> bool {
        matches!(self.kind, Kind::Kept)
    }
}

/// Makes a field with what stands in it at first.
pub fn field(name: &'static str, label: &'static str, kind: Kind, value: impl Into<String>) -> Field {
    Field { name, label, kind, value: value.into(), faults: Vec::new() }
}

/// A page with one form.
#[derive(Template)]
#[template(path = "fields.html")]
pub struct FormPage {
    /// What is around it.
    pub frame: Frame,
    /// Its title.
    pub title: String,
    /// What to know before filling it in.
    pub hint: &'static str,
    /// Where it is sent.
    pub action: String,
    /// Its fields.
    pub fields: Vec<Field>,
    /// What its button says.
    pub button: &'static str,
    /// The key under which it is done once.
    pub key: String,
    /// What is wrong with no field of its own.
    pub faults: Vec<String>,
}

impl FormPage {
    /// Makes a form that is not filled in.
    pub fn new(frame: Frame, title: impl Into<String>, action: String, fields: Vec<Field>) -> Self {
        let (title, key) = (title.into(), Uuid::new_v4().to_string());
        Self { frame, title, hint: "", action, fields, button: "Save", key, faults: Vec::new() }
    }

    fn has_faults(&self) -> bool {
        !self.faults.is_empty() || self.fields.iter().any(|field| !field.faults.is_empty())
    }

    /// Shows the form again with what was typed and what was wrong with it. `owner` names the field that a pointer
    /// into the body stems from.
    ///
    /// # Errors
    /// A problem that no other typing would mend.
    pub fn again(mut self, form: &Form, problem: Problem, owner: fn(&str) -> &'static str) -> Answer {
        if is_beyond_typing(&problem) {
            return Err(problem);
        }
        for field in &mut self.fields {
            form.text(field.name).clone_into(&mut field.value);
        }
        form.text("key").clone_into(&mut self.key);
        for error in problem.errors() {
            let name = owner(&error.pointer);
            match self.fields.iter_mut().find(|field| field.name == name) {
                // Two places of a body may stem from one field.
                Some(field) => {
                    let fault = faults::of_field(field.label, error);
                    field.faults.extend((!field.faults.contains(&fault)).then_some(fault));
                }
                None => self.faults.push(faults::of_field(&faults::label(&error.pointer), error)),
            }
        }
        if problem.errors().is_empty() {
            self.faults = faults::all(&problem);
        }
        page_with(problem.status(), &self)
    }
}
