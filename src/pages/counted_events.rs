//! Which events a competition counts, as it is typed: a line for each result.

use super::lines;
use super::typed::typed;
use crate::domain::exact::whole;
use crate::domain::facts::counted_events::{Counted, MOST_RESULTS};
use crate::domain::ids::EventId;
use crate::http::problem::Problem;
use serde_json::{Value, json};

/// What the label of the field says.
pub const LABEL: &str = "Events that count (leave empty for all), one result per line: event, or event + event = sum or \
                         best, and after a comma how many times it counts";

/// Reads such lines; `events` are those of the season by name. Nothing typed is every event.
///
/// # Errors
/// Every line that names no event, several of one name, or anything but a way and a weight after `=`.
pub fn read(typed: &str, events: &[(EventId, String)]) -> Result<Value, Problem> {
    let results = lines::read(typed, MOST_RESULTS, "/events", |line| result(line, events))?;
    Ok(if results.is_empty() { Value::Null } else { results.into() })
}

/// Writes what a competition counts as it is typed.
pub fn write(counted: Option<&[Counted]>, events: &[(EventId, String)]) -> String {
    let name = |id: &EventId| events.iter().find(|(known, _)| known == id).map_or("", |(_, name)| name.as_str());
    let line = |result: &Counted| {
        let names = result.event_ids.iter().map(name).collect::<Vec<_>>().join(" + ");
        let take = (result.event_ids.len() > 1).then(|| typed(&json!(result.take)));
        let weight = (result.weight.0 != whole(1)).then(|| typed(&json!(result.weight)));
        let how: Vec<String> = take.into_iter().chain(weight).collect();
        if how.is_empty() { names } else { format!("{names} = {}", how.join(", ")) }
    };
    counted.into_iter().flatten().map(line).collect::<Vec<_>>().join("\n")
}

fn result(line: &str, events: &[(EventId, String)]) -> Result<Value, String> {
    let (names, how) = match named(line, events) {
        Ok(_) => (line, ""),
        Err(_) => line.rsplit_once('=').unwrap_or((line, "")),
    };
    let ids = match named(names, events) {
        Ok(id) => vec![id],
        Err(_) => names.split(" + ").map(|name| named(name, events)).collect::<Result<_, _>>()?,
    };
    let mut result = json!({ "event_ids": ids });
    for word in how.split([',', ' ']).filter(|word| !word.is_empty()) {
        match (word, serde_json::from_str::<serde_json::Number>(word)) {
            ("sum" | "best", _) => result["take"] = word.into(),
            (_, Ok(weight)) => result["weight"] = Value::Number(weight),
            (_, Err(_)) => return Err(format!("write sum, best or a number after =, not {word}")),
        }
    }
    Ok(result)
}

fn named(name: &str, events: &[(EventId, String)]) -> Result<EventId, String> {
    lines::only(events, name.trim(), "no event of this season", "events")
}

#[cfg(test)]
mod tests {
    use super::*;
    use uuid::Uuid;

    #[test]
    fn lines_name_events_how_they_count_and_how_often() {
        let [one, two, three] = [1, 2, 3].map(|n| EventId(Uuid::from_u128(n)));
        let named = [(one, "Night 1"), (two, "Day = two"), (three, "A + B"), (one, "Twice"), (two, "twice")];
        let events = named.map(|(id, name)| (id, name.to_owned()));
        let check =
            |typed: &str, expect: Value| assert_eq!(read(typed, &events).expect("good lines"), expect, "{typed}");
        check(" \n", Value::Null);
        check("night  1\n\nA + B = 2", json!([{ "event_ids": [one] }, { "event_ids": [three], "weight": 2 }]));
        check("Day = two", json!([{ "event_ids": [two] }]));
        let both = json!([{ "event_ids": [one, two], "take": "best", "weight": 1.5 }]);
        check("Night 1 + Day = two = best, 1.5", both);
        for text in ["", "Night 1\nA + B = 2", "Night 1 + Day = two = best, 1.5", "Night 1 + Day = two = sum"] {
            let counted: Option<Vec<Counted>> =
                serde_json::from_value(read(text, &events).expect("good")).expect("read");
            assert_eq!(write(counted.as_deref(), &events), text);
        }
        for (line, said) in [
            ("Nothing", "line 1: no event of this season is called Nothing"),
            ("Night 1 + Nothing = sum", "no event of this season is called Nothing"),
            ("Twice", "several events are called Twice"),
            ("Night 1 = worst", "write sum, best or a number after =, not worst"),
        ] {
            let problem = read(line, &events).expect_err("refused");
            assert!(problem.errors()[0].detail.contains(said), "{line}: {:?}", problem.errors());
        }
    }
}
