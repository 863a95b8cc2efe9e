//! What organizers decide about a member's league index, as a committee does: adjust, freeze, cap.

use super::fault::{Fault, Rules};
use crate::rule::Rule;
use crate::units::Tenths;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::HashSet;
use uuid::Uuid;

/// What is decided. Days are inclusive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Decided {
    /// The differentials before a day move alike, so that the index is a value.
    Adjust { value: Tenths, from: Date },
    /// The index stays as it is on the first day.
    Freeze {
        from: Date,
        #[serde(default)]
        until: Option<Date>,
    },
    /// The index is not above a value.
    Cap {
        value: Tenths,
        from: Date,
        #[serde(default)]
        until: Option<Date>,
    },
    /// An earlier act has no effect.
    Undo { undoes: Uuid },
}

/// A decision with its reason.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HandicapAct {
    #[serde(flatten)]
    pub decided: Decided,
    pub reason: String,
}

impl Decided {
    /// Returns the first day on which it holds; none of an undoing.
    pub fn from(self) -> Option<Date> {
        match self {
            Decided::Adjust { from, .. } | Decided::Freeze { from, .. } | Decided::Cap { from, .. } => Some(from),
            Decided::Undo { .. } => None,
        }
    }
}

impl Rules for HandicapAct {
    fn broken(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        if self.reason.trim().is_empty() {
            faults.push(Fault::new("/reason", Rule::ReasonMissing, "a handicap act tells why"));
        }
        if let Decided::Freeze { from, until: Some(until) } | Decided::Cap { from, until: Some(until), .. } =
            self.decided
            && until < from
        {
            faults.push(Fault::new(
                "/until",
                Rule::DateOrder,
                format!("it begins on {from}: end it on that day or later"),
            ));
        }
        faults
    }
}

/// Returns what holds of a member's acts: those that no later one undid, by day and in the order in which they were said.
pub fn in_effect(acts: &[(Uuid, HandicapAct)]) -> Vec<Decided> {
    let undoes = |(_, act): &(Uuid, HandicapAct)| match act.decided {
        Decided::Undo { undoes } => Some(undoes),
        _ => None,
    };
    let undone: HashSet<Uuid> = acts.iter().filter_map(undoes).collect();
    let holding = acts.iter().filter(|(id, act)| act.decided.from().is_some() && !undone.contains(id));
    let mut decided: Vec<Decided> = holding.map(|(_, act)| act.decided).collect();
    decided.sort_by_key(|decided| decided.from());
    decided
}

/// What holds a member's index on a day.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Held {
    /// The day whose index stays.
    pub frozen_on: Option<Date>,
    /// The index that is not exceeded.
    pub cap: Option<Tenths>,
}

impl Held {
    /// Finds what holds on a day.
    pub fn on(decided: &[Decided], day: Date) -> Self {
        let covers = |from: Date, until: Option<Date>| from <= day && until.is_none_or(|until| day <= until);
        let frozen = |one: &Decided| match *one {
            Decided::Freeze { from, until } if covers(from, until) => Some(from),
            _ => None,
        };
        let cap = |one: &Decided| match *one {
            Decided::Cap { value, from, until } if covers(from, until) => Some(value),
            _ => None,
        };
        Self { frozen_on: decided.iter().find_map(frozen), cap: decided.iter().filter_map(cap).min() }
    }

    /// Returns an index as it is held.
    pub fn capped(self, index: Tenths) -> Tenths {
        self.cap.map_or(index, |cap| index.min(cap))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn day(day: i8) -> Date {
        date(2027, 1, day)
    }

    fn act(n: u128, decided: Decided) -> (Uuid, HandicapAct) {
        (Uuid::from_u128(n), HandicapAct { decided, reason: "-".into() })
    }

    #[test]
    fn acts_hold_on_their_days_until_they_are_undone() {
        let freeze = act(1, Decided::Freeze { from: day(10), until: Some(day(20)) });
        let low = act(2, Decided::Cap { value: Tenths(95), from: day(15), until: None });
        let high = act(3, Decided::Cap { value: Tenths(120), from: day(1), until: Some(day(31)) });
        let mut acts = vec![freeze, low.clone(), high];
        let on = |acts: &[(Uuid, HandicapAct)], n| Held::on(&in_effect(acts), day(n));
        assert_eq!(on(&acts, 9), Held { frozen_on: None, cap: Some(Tenths(120)) });
        assert_eq!(on(&acts, 10), Held { frozen_on: Some(day(10)), cap: Some(Tenths(120)) });
        assert_eq!(on(&acts, 20), Held { frozen_on: Some(day(10)), cap: Some(Tenths(95)) });
        assert_eq!(on(&acts, 21), Held { frozen_on: None, cap: Some(Tenths(95)) });
        acts.push(act(4, Decided::Undo { undoes: low.0 }));
        assert_eq!(on(&acts, 21).cap, Some(Tenths(120)));
        assert_eq!(on(&acts, 21).capped(Tenths(130)), Tenths(120));
        assert_eq!(on(&acts, 21).capped(Tenths(-12)), Tenths(-12));
    }

    #[test]
    fn what_ends_before_it_begins_or_has_no_reason_is_refused() {
        let decided = Decided::Freeze { from: day(10), until: Some(day(9)) };
        let broken = HandicapAct { decided, reason: " ".into() }.broken();
        let at: Vec<&str> = broken.iter().map(|fault| fault.pointer.as_ref()).collect();
        assert_eq!(at, ["/reason", "/until"]);
    }
}
