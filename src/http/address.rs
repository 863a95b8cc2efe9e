//! What the address of a request says: the id in its path, its query parameters.

use crate::domain::ids::{MemberId, TeamId};
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest};
use jiff::civil::Date;
use std::ops::RangeInclusive;
use uuid::Uuid;

/// Splits a query string into names and values.
pub fn query_pairs(query: &str) -> Vec<(String, String)> {
    actix_web::web::Query::<Vec<(String, String)>>::from_query(query)
        .map(|pairs| pairs.into_inner())
        .unwrap_or_default()
}

/// The query parameters of a request, by name.
pub struct QueryOf(Vec<(String, String)>);

impl FromRequest for QueryOf {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        std::future::ready(Ok(Self(query_pairs(request.query_string()))))
    }
}

impl QueryOf {
    /// Returns a parameter.
    pub fn get(&self, name: &str) -> Option<&str> {
        self.0.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    /// Returns an id that a form may leave empty.
    ///
    /// # Errors
    /// 400 for what is no id.
    pub fn given_id(&self, name: &str) -> Result<Option<Uuid>, Problem> {
        if self.get(name) == Some("") { Ok(None) } else { self.id(name) }
    }

    /// Returns a parameter that is `true` or `false`; without it `false`.
    ///
    /// # Errors
    /// 400 for anything else.
    pub fn flag(&self, name: &str) -> Result<bool, Problem> {
        let bad = |_| Problem::parameter(name, Kind::Malformed, format!("{name} is true or false"));
        self.get(name).map_or(Ok(false), |text| text.parse().map_err(bad))
    }

    /// Says whether the caller confirms what a request is otherwise asked about: `confirm` names it.
    ///
    /// # Errors
    /// 400 where it names anything else.
    pub fn confirms(&self, what: &str) -> Result<bool, Problem> {
        match self.get("confirm") {
            None => Ok(false),
            Some(named) if named == what => Ok(true),
            Some(_) => Err(Problem::parameter("confirm", Kind::Malformed, format!("confirm is {what} here"))),
        }
    }

    /// Returns a parameter that is a day.
    ///
    /// # Errors
    /// 400 for anything else.
    pub fn date(&self, name: &str) -> Result<Option<Date>, Problem> {
        let bad = |_| Problem::parameter(name, Kind::Malformed, format!("{name} is a date YYYY-MM-DD"));
        self.get(name).map(|text| text.parse().map_err(bad)).transpose()
    }

    /// Returns a parameter that is a whole number within a range.
    ///
    /// # Errors
    /// 400 for anything else.
    pub fn whole(&self, name: &'static str, within: RangeInclusive<u32>) -> Result<Option<u32>, Problem> {
        let bad = || {
            let detail = format!("{name} is a whole number from {} to {}", within.start(), within.end());
            Problem::parameter(name, Kind::Malformed, detail)
        };
        let read = |text: &str| text.parse().ok().filter(|number| within.contains(number)).ok_or_else(bad);
        self.get(name).map(read).transpose()
    }

    /// Returns a parameter that is an id.
    ///
    /// # Errors
    /// 400 for anything else.
    pub fn id(&self, name: &str) -> Result<Option<Uuid>, Problem> {
        let bad = |_| Problem::parameter(name, Kind::Malformed, format!("{name} is a UUID"));
        self.get(name).map(|text| Uuid::try_parse(text).map_err(bad)).transpose()
    }
}

fn id_in_path(request: &HttpRequest, name: &str) -> Result<Uuid, Problem> {
    request.match_info().get(name).and_then(|text| Uuid::try_parse(text).ok()).ok_or_else(Problem::not_found)
}

/// The id of a team in the path, after that of something else.
pub struct TeamPath(pub TeamId);

impl FromRequest for TeamPath {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        std::future::ready(id_in_path(request, "team_id").map(|id| TeamPath(TeamId(id))))
    }
}

/// The id of a member in the path, after that of something else.
pub struct MemberPath(pub MemberId);

impl FromRequest for MemberPath {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        std::future::ready(id_in_path(request, "member_id").map(|id| MemberPath(MemberId(id))))
    }
}

/// An id in the path; anything else is nothing that the caller may see.
pub struct IdPath(pub Uuid);

impl FromRequest for IdPath {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        std::future::ready(id_in_path(request, "id").map(IdPath))
    }
}
