//! The terms of a competition are changed on a page.

use crate::stored::matches::competition;
use crate::support::browsing::{page, send, signed_in};
use crate::support::harness::shared;
use serde_json::{Value, json};

/// The fields of the page's form, as they stand.
fn fields(html: &str) -> Vec<(String, String)> {
    let form = html.split("/edit\"").nth(1).expect("a form");
    let attribute = |tag: &str, name: &str| {
        tag.split(&format!("{name}=\"")).nth(1).and_then(|rest| rest.split('"').next()).map(str::to_owned)
    };
    let mut found = Vec::new();
    for tag in form.split('<').skip(1) {
        let name = attribute(tag, "name");
        match (tag.split([' ', '>']).next().unwrap_or_default(), name) {
            ("input", Some(name)) => found.push((name, attribute(tag, "value").unwrap_or_default())),
            ("select", Some(name)) => found.push((name, String::new())),
            ("textarea", Some(name)) => {
                found.push((name, tag.split_once('>').map(|(_, text)| text.to_owned()).unwrap_or_default()));
            }
            ("option", _) if tag.contains(" selected") => {
                found.last_mut().expect("a select").1 = attribute(tag, "value").unwrap_or_default();
            }
            _ => {}
        }
    }
    found
}

#[tokio::test]
async fn an_organizer_changes_what_counts_and_nothing_else_moves() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (olga, ann) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ann.email).await);
    let terms = json!({ "name": "Gross", "basis": "gross", "counting": { "best": 3 }, "position": 2 });
    let id = competition(&api, &cast, &night, terms).await;
    let at = format!("/competitions/{id}/edit");
    page(&api, &at, &ann).expect(403).await;
    let shown = page(&api, &format!("/competitions/{id}"), &olga).expect(200).await.text();
    assert!(shown.contains(&at), "{shown}");
    let stored = async || api.get(format!("/competitions/{id}")).by(&cast.olga).expect(200).await.json();
    let put = async |changes: &[(&str, &str)], status: u16| {
        let mut filled = fields(&page(&api, &at, &olga).expect(200).await.text());
        for (name, value) in changes {
            (*value).clone_into(&mut filled.iter_mut().find(|(known, _)| known == name).expect("a field").1);
        }
        let filled: Vec<(&str, &str)> = filled.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        send(&api, &at, &olga, &filled).expect(status).await.text()
    };
    let before = stored().await;
    put(&[], 303).await;
    assert_eq!(stored().await, before);
    put(&[("best", "4"), ("award", "5 3 1"), ("allowance_pct", "90")], 303).await;
    let mut due = before.clone();
    due["counting"]["best"] = json!(4);
    due["award"] = json!({ "kind": "by_place", "table": [5, 3, 1], "beyond": 0 });
    due["allowance_pct"] = json!(90);
    let seen = stored().await;
    for name in ["counting", "award", "allowance_pct", "basis", "score", "meeting", "events", "ties"] {
        assert_eq!(seen[name], due[name], "{name}");
    }
    // Back to scores, with a staggered start by the main table.
    let start = [("award", ""), ("start", night.competition.as_str()), ("start_strokes", "-4 -2 0")];
    put(&[("award", "")], 303).await;
    put(&start[1..], 303).await;
    let seen = stored().await;
    assert_eq!(seen["award"]["kind"], "by_score");
    assert_eq!(seen["start"], json!({ "competition_id": night.competition, "table": [-4, -2, 0] }));
    put(&[("start", "")], 303).await;
    assert_eq!(stored().await["start"], Value::Null);
    let wrong = put(&[("best", "many"), ("events", "Nothing")], 422).await;
    assert!(wrong.contains("fault_events"), "{wrong}");
    let wrong = put(&[("drop_worst", "many")], 422).await;
    assert!(wrong.contains("fault_drop_worst"), "{wrong}");
}
