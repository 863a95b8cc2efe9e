//! A season and its policy.

use super::fault::{Fault, Rules};
use super::handicap_policy::HandicapPolicy;
use crate::rule::Rule;
use crate::units::{Feet, Tenths};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A part of the field with places and positions of its own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Flight {
    /// What people call it.
    pub name: String,
    /// The highest league index in it; `None`: no limit. Where no flight has one, all are filled by hand.
    #[serde(default)]
    pub handicap_max: Option<Tenths>,
}

/// Whether putts that a declared set-up softened count in strokes gained.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SoftenedPutts {
    /// They count like others.
    #[default]
    Count,
    /// They are left out.
    LeaveOut,
}

/// The fair-play terms of a season.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Audit {
    /// In how many of a hundred seasons of a wholly honest league any finding may show.
    #[serde(default = "five")]
    pub false_alarm_pct: f64,
    /// The number of players that the budget is shared among.
    #[serde(default = "two_hundred")]
    pub field_size: u32,
    /// Days to answer a finding.
    #[serde(default = "seven")]
    pub answer_days: u32,
    /// Whether declared softened putts count.
    #[serde(default)]
    pub softened_putts: SoftenedPutts,
}

fn five() -> f64 {
    5.0
}
fn two_hundred() -> u32 {
    200
}
fn seven() -> u32 {
    7
}
fn forty_eight() -> u32 {
    48
}

impl Default for Audit {
    fn default() -> Self {
        Self { false_alarm_pct: 5.0, field_size: 200, answer_days: 7, softened_putts: SoftenedPutts::Count }
    }
}

/// A season: its dates and the terms that hold for all its competitions.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Season {
    /// What people call it.
    pub name: String,
    /// Its first day.
    pub starts_on: Date,
    /// Its last day.
    pub ends_on: Date,
    /// The longest putt that may be conceded, in feet; a house rule outside the Rules of Golf.
    #[serde(default)]
    pub concession_ft: f64,
    /// Hours in which results may be queried before they stand.
    #[serde(default = "forty_eight")]
    pub query_hours: u32,
    /// What is played off in its events.
    #[serde(default)]
    pub handicap: HandicapPolicy,
    /// The flights, lowest league indexes first, or names alone; none: one field.
    #[serde(default)]
    pub flights: Vec<Flight>,
    /// The fair-play terms.
    #[serde(default)]
    pub audit: Audit,
}

impl Season {
    /// Returns up to which distance putts count for nothing, given what was declared when their round came in.
    pub fn left_out(&self, declared_radius_ft: Option<Feet>) -> Option<Feet> {
        declared_radius_ft.filter(|_| self.audit.softened_putts == SoftenedPutts::LeaveOut)
    }

    /// Returns whether flights are names without handicap limits: then a member is in one by the organizer's word alone.
    pub fn are_flights_by_hand(&self) -> bool {
        self.flights.len() > 1 && self.flights.iter().all(|flight| flight.handicap_max.is_none())
    }

    /// Finds what no single field shows: dates in the wrong order, flights that overlap.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        if self.ends_on < self.starts_on {
            faults.push(Fault::new("/ends_on", Rule::DateOrder, "the last day must not be before the first day"));
        }
        let banded = if self.are_flights_by_hand() { &[] } else { self.flights.as_slice() };
        for (d, pair) in banded.windows(2).enumerate() {
            let ascending = match (pair[0].handicap_max, pair[1].handicap_max) {
                (Some(low), Some(high)) => low < high,
                (Some(_), None) => true,
                (None, _) => false,
            };
            if !ascending {
                let detail = "each handicap_max is above the one before it, and null comes last; or all are null";
                faults.push(Fault::new(format!("/flights/{}/handicap_max", d + 1), Rule::FlightsOverlap, detail));
            }
        }
        faults.extend(self.handicap.faults());
        for (d, flight) in self.flights.iter().enumerate() {
            if self.flights[..d].iter().any(|other| other.name == flight.name) {
                let detail = "two flights have this name";
                faults.push(Fault::new(format!("/flights/{d}/name"), Rule::FlightRepeated, detail));
            }
        }
        faults
    }

    /// Returns which terms that decide results differ from those of `other`, by the names of their fields.
    pub fn deciding_terms_changed(&self, other: &Self) -> Vec<&'static str> {
        // Every field is listed, so that a new one has to be put on one side or the other.
        #[rustfmt::skip]
        let Self {
            name: _, starts_on: _, ends_on: _, concession_ft, query_hours: _, handicap, flights, audit: _,
        } = self;
        let terms = [
            ("concession_ft", *concession_ft == other.concession_ft),
            ("handicap", handicap.settles_as(&other.handicap)),
            ("flights", *flights == other.flights),
        ];
        terms.into_iter().filter(|(_, is_same)| !is_same).map(|(name, _)| name).collect()
    }
}

impl Rules for Season {
    fn broken(&self) -> Vec<Fault> {
        self.faults()
    }
}
