//! Points given and taken in tables of cards.

use super::matches::competition;
use crate::support::harness::{id, own, round, text};
use serde_json::{Value, json};

/// ```text
/// net points; each par round off 0 is worth 36; the best two count
/// three events                          36 + 36 of 36, 36, 36: 72
/// −2 added                              70
/// 40 competing, as the value of an event  36 + 40 − 2: 74
/// looking back to the first event       36 and 40; the −2 belongs to the last and is not seen: 76
/// ```
#[tokio::test]
async fn points_are_added_to_the_total_or_compete_for_it() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let terms = json!({ "name": "Best two", "score": { "kind": "points" }, "counting": { "best": 2 }, "position": 2 });
    let best_two = competition(&api, &cast, &night, terms).await;
    let mut events = vec![night.event.clone()];
    for day in ["04", "05"] {
        events.push(api.event(&cast, &night, json!({ "opens_at": format!("2027-01-{day}T17:00:00Z") })).await);
    }
    for event in &events {
        api.hand_in(event, &cast.olga, &round(&night.ann)).await;
    }
    let path = format!("/competitions/{best_two}/standings");
    let row = async |query: &str| {
        let seen = api.get(format!("{path}{query}")).by(&cast.ann).expect(200).await.json();
        let row =
            seen["items"].as_array().expect("rows").iter().find(|row| text(row, "display_name") == "Ann").cloned();
        let row = row.expect("a row");
        (row["total"].clone(), row.get("adjusted").cloned().unwrap_or(Value::Null), row["events_counted"].clone())
    };
    let value = row("").await.0.as_f64().expect("a total") / 2.0;
    let at = format!("/competitions/{best_two}/adjustments");
    let adjust = async |body: Value| api.post(&at, &body).by(&cast.olga).key(&id()).expect(201).await.id();
    let taken = json!({ "member_id": night.ann, "points": -2, "reason": "slow play", "event_id": events[0] });
    let taken = adjust(taken).await;
    let (total, adjusted, counted) = row("").await;
    assert_eq!((total.as_f64(), adjusted, counted), (Some(2.0 * value - 2.0), json!(-2), json!(2)));
    let bonus = json!({ "member_id": night.ann, "points": value + 4.0, "reason": "a bonus", "counts": "before" });
    adjust(bonus).await;
    let (total, adjusted, counted) = row("").await;
    assert_eq!((total.as_f64(), adjusted.as_f64(), counted), (Some(2.0 * value + 2.0), Some(value + 2.0), json!(2)));
    let back = format!("?after_event={}", events[1]);
    assert_eq!(row(&back).await.0.as_f64(), Some(2.0 * value + 4.0));
    let notices = api.get("/me/notices").by(&cast.ann).expect(200).await.json();
    let notices = notices["items"].as_array().expect("notices").iter();
    let told: Vec<&Value> =
        notices.filter(|one| one["kind"] == json!("adjustment")).map(|one| &one["event_id"]).collect();
    assert_eq!(told, [&Value::Null, &json!(events[0])], "the newest first");
    crate::stored::journal_bundle::clean(&api).await;
    api.delete(format!("/adjustments/{taken}")).by(&cast.olga).matching("*").expect(204).await;
    assert_eq!(row("").await.0.as_f64(), Some(2.0 * value + 4.0));
    // Who never played and was given points stands unranked, with them.
    adjust(json!({ "member_id": night.ben, "points": 5, "reason": "he built the bays" })).await;
    let seen = api.get(&path).by(&cast.ann).expect(200).await.json();
    let ben = seen["items"].as_array().expect("rows").iter().find(|row| text(row, "display_name") == "Ben");
    let ben = ben.expect("a row");
    assert_eq!((&ben["position"], &ben["total"]), (&Value::Null, &json!(5)));
    // What means nothing is refused.
    let eclectic = json!({ "name": "Best holes", "meeting": { "kind": "season" }, "position": 3 });
    let eclectic = competition(&api, &cast, &night, eclectic).await;
    let before = json!({ "member_id": night.ann, "points": 1, "reason": "-", "counts": "before" });
    let path = format!("/competitions/{eclectic}/adjustments");
    api.post(path, &before).by(&cast.olga).key(&id()).refused(422, "competition-misfit").await;
    let team = super::matches::team(&api, &cast, &night, "Herons", &[]).await;
    let of_team = json!({ "team_id": team, "points": 1, "reason": "-" });
    api.post(&at, &of_team).by(&cast.olga).key(&id()).refused(422, "competition-misfit").await;
}
