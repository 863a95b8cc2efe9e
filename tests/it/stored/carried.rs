//! What a league brings along: into the table of any competition, of players and teams, and out again.

use super::matches::{competition, team};
use crate::support::harness::{Seen, id, own, round, shared, text};
use serde_json::{Value, json};

/// Name, position, total, and each value with its label.
fn rows(seen: &Seen) -> Vec<String> {
    let row = |row: &Value| {
        let cells = row["results"].as_array().expect("results").iter();
        let cells: Vec<String> = cells.map(|cell| format!("{}{}", cell["carried"], cell["value"])).collect();
        format!("{} {} {}: {}", text(row, "display_name"), row["position"], row["total"], cells.join(", "))
    };
    seen.json()["items"].as_array().expect("rows").iter().map(row).collect()
}

/// ```text
/// net points of the season    Ann 36 from a card (a par round off 0), 30 brought along: 66
/// Stroke play (gross)         Ben 70 brought along: 70, and no card
/// Pairs                       Herons 12 brought along and a walk-over of 1 + 1: 14; Plovers 0
/// ```
#[tokio::test]
async fn values_stand_in_the_table_of_their_competition_and_go_again() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let gross = json!({ "name": "Gross", "basis": "gross", "position": 2 });
    let gross = competition(&api, &cast, &night, gross).await;
    let meeting = json!({ "kind": "match", "matches": 2, "points": { "per_match": 1 } });
    let pairs = competition(&api, &cast, &night, json!({ "name": "Pairs", "meeting": meeting, "position": 3 })).await;
    let herons = team(&api, &cast, &night, "Herons", &[]).await;
    let plovers = team(&api, &cast, &night, "Plovers", &[]).await;
    let sides = json!([{ "event_id": night.event, "a": { "team_id": herons }, "b": { "team_id": plovers },
                         "state": "walk_over", "to": "a", "reason": "no bay" }]);
    let path = format!("/competitions/{pairs}/fixtures");
    api.post(path, &sides).by(&cast.olga).key(&id()).expect(201).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let path = format!("/seasons/{}/carried-results", night.season);
    let bring = async |body: Value| api.post(&path, &body).by(&cast.olga).key(&id()).expect(201).await.id();
    let with = |value: i32| json!({ "label": "Autumn", "value": value, "source": "an old sheet" });
    let to = |mut body: Value, name: &str, is: &str| {
        body[name] = json!(is);
        body
    };
    let own_value = bring(to(with(30), "member_id", &night.ann)).await;
    let of_ben = to(to(with(70), "member_id", &night.ben), "competition_id", &gross);
    bring(of_ben).await;
    let of_team = bring(to(to(with(12), "team_id", &herons), "competition_id", &pairs)).await;
    let table =
        async |id: &str| rows(&api.get(format!("/competitions/{id}/standings")).by(&cast.ann).expect(200).await);
    let main = table(&night.competition).await;
    assert!(main[0].starts_with("Ann 1 ") && main[0].contains("\"Autumn\"30, null"), "{main:?}");
    assert_eq!(main.len(), 1, "{main:?}");
    assert!(table(&gross).await.contains(&"Ben 1 70: \"Autumn\"70".to_owned()), "{:?}", table(&gross).await);
    let due = ["Herons 1 14: \"Autumn\"12, null2", "Plovers 2 0: null0"];
    assert_eq!(table(&pairs).await, due);
    let csv = api.get(format!("/competitions/{pairs}/standings")).by(&cast.ben).with("accept", "text/csv");
    assert!(csv.expect(200).await.text().contains(",Herons,2,2,14,"));

    // The same league elsewhere has the same tables.
    crate::stored::journal_bundle::clean(&api).await;
    let (other, mover) = crate::stored::journal_bundle::moved(&api, &night.league, &cast.olga).await;
    for id in [&night.competition, &gross, &pairs] {
        let path = format!("/competitions/{id}/standings");
        assert_eq!(
            other.get(&path).by(&mover).expect(200).await.json(),
            api.get(&path).by(&cast.olga).expect(200).await.json()
        );
    }

    // What is named stays; what was brought along goes with a reason, and tells what it moved.
    let olga = &cast.olga;
    api.delete(format!("/competitions/{gross}")).by(olga).matching("*").refused(409, "competition-in-use").await;
    let at = format!("/carried-results/{own_value}");
    api.delete(&at).by(olga).matching("*").refused(422, "reason-missing").await;
    api.delete(format!("{at}?reason=counted%20twice")).by(olga).refused(428, "if-match-missing").await;
    api.delete(format!("{at}?reason=counted%20twice")).by(olga).matching("*").expect(204).await;
    api.delete(format!("{at}?reason=counted%20twice")).by(olga).matching("*").refused(404, "not-found").await;
    let main = table(&night.competition).await;
    assert!(!main[0].contains("Autumn"), "{main:?}");
    api.delete(format!("/carried-results/{of_team}?reason=not%20ours")).by(olga).matching("\"1\"").expect(204).await;
    assert_eq!(table(&pairs).await, ["Herons 1 2: null2", "Plovers 2 0: null0"]);
    let changes =
        api.get(format!("/seasons/{}/standings/changes", night.season)).by(&cast.ann).expect(200).await.text();
    assert!(changes.contains("counted twice"), "{changes}");
    crate::stored::journal_bundle::clean(&api).await;
}

#[tokio::test]
async fn a_differential_goes_and_so_does_what_it_did_to_the_index() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/members/{}/carried-differentials", night.ann);
    let mut ids = Vec::new();
    for (day, differential) in [(1, 10.0), (2, 11.0), (3, 30.0)] {
        let body = json!({ "played_on": format!("2026-12-0{day}"), "differential": differential, "source": "a sheet" });
        ids.push(api.post(&path, &body).by(&cast.olga).key(&id()).expect(201).await.id());
    }
    let index = async || {
        let seen = api.get(format!("/members/{}/handicap", night.ann)).by(&cast.ann).expect(200).await.json();
        seen["league_index"].clone()
    };
    // Rules of Handicapping, Rule 5.2a: of three the lowest less 2.0.
    assert_eq!(index().await, json!(8.0));
    let at = format!("/carried-differentials/{}?reason=another%20player", ids[2]);
    api.delete(&at).by(&cast.ann).matching("*").refused(403, "forbidden").await;
    api.delete(&at).by(&cast.olga).matching("*").expect(204).await;
    assert_eq!(index().await, Value::Null, "fewer than three give no index");
}

#[tokio::test]
async fn what_has_no_row_is_not_brought_along() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let eclectic = json!({ "name": "Eclectic", "meeting": { "kind": "season" }, "position": 2 });
    let eclectic = competition(&api, &cast, &night, eclectic).await;
    let meeting = json!({ "kind": "match", "matches": 2, "points": { "per_match": 1 } });
    let pairs = competition(&api, &cast, &night, json!({ "name": "Pairs", "meeting": meeting, "position": 3 })).await;
    let herons = team(&api, &cast, &night, "Herons", &[]).await;
    let path = format!("/seasons/{}/carried-results", night.season);
    let cases = [
        (json!({ "member_id": night.ann, "competition_id": eclectic }), "competition-misfit", "/competition_id"),
        (json!({ "member_id": night.ann, "competition_id": night.event }), "unknown-competition", "/competition_id"),
        (json!({ "member_id": night.ann, "competition_id": pairs }), "fixture", "/member_id"),
        (json!({ "team_id": herons }), "competition-misfit", "/team_id"),
        (json!({ "team_id": night.ann, "competition_id": pairs }), "unknown-team", "/team_id"),
        (json!({ "member_id": night.event }), "unknown-member", "/member_id"),
        (json!({ "member_id": night.ann, "team_id": herons }), "validation", "/team_id"),
    ];
    for (mut body, kind, pointer) in cases {
        for (name, value) in [("label", json!("Autumn")), ("value", json!(3)), ("source", json!("a sheet"))] {
            body[name] = value;
        }
        let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, kind).await;
        assert_eq!(seen.faults()[0].0, pointer, "{body}");
    }
}
