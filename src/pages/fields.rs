//! Plain forms: fields with their labels, what was typed, and what is wrong with it.

use super::form::Form;
use super::{Frame, faults, page_with, see_other};
use crate::http::answer::Answer;
use crate::http::kinds;
use crate::http::problem::Problem;
use crate::league::access::IfMatch;
use actix_web::http::StatusCode;
use askama::Template;
use serde_json::Value;
use uuid::Uuid;

/// Says whether no other typing would mend a problem: it is shown, or asked about, on a page of its own.
pub fn is_beyond_typing(problem: &Problem) -> bool {
    problem.status() == StatusCode::NOT_FOUND
        || problem.status().is_server_error()
        || problem.is(kinds::Kind::ReauthRequired)
}

/// The field that says which version a form was made from.
const VERSION: &str = "version";

/// Reads which version a form was made from.
pub fn version(form: &Form) -> IfMatch {
    form.text(VERSION).parse().map_or(IfMatch::Never, IfMatch::Version)
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
    /// Writes what stands in it as people see it.
    fn in_words(&self) -> String {
        let words = match &self.kind {
            Kind::Choice(choices) => choices.iter().find(|(value, _)| *value == self.value).map(|(_, words)| words),
            _ => None,
        };
        words.unwrap_or(&self.value).clone()
    }

    /// Says whether a form says something else than what stands in it.
    fn is_changed(&self, form: &Form) -> bool {
        // Browsers end lines with both characters.
        !self.is_kept() && form.text(self.name).replace("\r\n", "\n").trim() != self.value.trim()
    }

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
    /// Where somebody goes who does not want it; nowhere where it is empty.
    pub back: String,
    /// Other acts on the same thing: the address of each with its words.
    pub acts: Vec<(String, &'static str)>,
    /// The key under which it is done once.
    pub key: String,
    /// What is wrong with no field of its own.
    pub faults: Vec<String>,
}

impl FormPage {
    /// Makes a form that is not filled in.
    pub fn new(frame: Frame, title: impl Into<String>, action: String, fields: Vec<Field>) -> Self {
        let (title, key) = (title.into(), Uuid::new_v4().to_string());
        let (acts, faults) = (Vec::new(), Vec::new());
        Self { frame, title, hint: "", action, fields, button: "Save", back: String::new(), acts, key, faults }
    }

    /// Makes a form of something that is there, in the version that it shows.
    pub fn of_version(
        frame: Frame,
        title: impl Into<String>,
        action: String,
        fields: Vec<Field>,
        version: i64,
    ) -> Self {
        let mut form = Self::new(frame, title, action, fields);
        form.fields.push(field(VERSION, "", Kind::Kept, version.to_string()));
        form
    }

    /// Leaves out of a body what the form's fields of the same names did not change.
    pub fn only_changed(&self, form: &Form, mut body: Value) -> Value {
        let is_changed = |name: &str| self.fields.iter().all(|field| field.name != name || field.is_changed(form));
        if let Value::Object(fields) = &mut body {
            for group in fields.values_mut().filter_map(Value::as_object_mut) {
                group.retain(|name, _| is_changed(name));
            }
            fields.retain(|name, value| is_changed(name) && value.as_object().is_none_or(|group| !group.is_empty()));
        }
        body
    }

    /// Sends the browser on after a change, or shows the form again. What was sent twice is done once; where somebody
    /// else changed the thing meanwhile, both are shown, and sending the form again replaces what is stored.
    ///
    /// # Errors
    /// As [`again`](Self::again).
    pub fn changed<T>(mut self, form: &Form, done: Result<T, Problem>, owner: fn(&str) -> &str, to: &str) -> Answer {
        match done {
            Ok(_) => Ok(see_other(to)),
            Err(problem) if problem.is(kinds::Kind::Stale) => {
                let mut is_same = true;
                for field in self.fields.iter_mut().filter(|field| field.is_changed(form)) {
                    let stored = if field.value.is_empty() { "nothing".to_owned() } else { field.in_words() };
                    field.faults.push(format!("Stored now: {stored}."));
                    form.text(field.name).clone_into(&mut field.value);
                    is_same = false;
                }
                if is_same {
                    return Ok(see_other(to));
                }
                let meanwhile = "Somebody else changed it in the meantime. Save again to replace what is stored.";
                self.faults.push(meanwhile.into());
                page_with(problem.status(), &self)
            }
            Err(problem) => self.again(form, problem, owner),
        }
    }

    fn has_faults(&self) -> bool {
        !self.faults.is_empty() || self.fields.iter().any(|field| !field.faults.is_empty())
    }

    /// Shows the form again with what was typed and what was wrong with it. `owner` names the field that a pointer
    /// into the body stems from.
    ///
    /// # Errors
    /// A problem that no other typing would mend.
    pub fn again(mut self, form: &Form, problem: Problem, owner: fn(&str) -> &str) -> Answer {
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
