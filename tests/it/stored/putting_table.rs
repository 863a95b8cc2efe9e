//! The putting of a season's players: the same figures as their own reports, ranked from so many holes on.

use crate::support::harness::{id, own, round, softened};
use serde_json::{Value, json};

#[tokio::test]
async fn the_table_has_the_figures_of_the_reports_and_guests_stand_in_none() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let path = format!("/leagues/{}/members", night.league);
    let guest = json!({ "display_name": "Wren", "guest": true });
    let guest = api.post(&path, &guest).by(&cast.olga).key(&id()).expect(201).await.id();
    for turn in 0..5 {
        let times = json!({ "opens_at": format!("2027-01-0{}T17:00:00Z", turn + 3) });
        let event = api.event(&cast, &night, times).await;
        for member in [&night.ann, &guest] {
            let mut card = softened(member, &night.setup, turn);
            // Another night each: so many of the second putts are not needed.
            for hole in 0..turn {
                card["holes"][hole]["putts"] = json!([{ "distance_ft": 12.0, "result": "holed" }]);
            }
            api.hand_in(&event, &cast.olga, &card).await;
        }
        if turn == 0 {
            api.hand_in(&event, &cast.ben, &softened(&night.ben, &night.setup, 2)).await;
            // Without recorded distances nobody is in it.
            api.hand_in(&event, &cast.sam, &bare(&night.sam)).await;
        }
    }
    let path = format!("/seasons/{}/putting-table", night.season);
    let table = api.get(&path).by(&cast.sam).expect(200).await.json();
    let rows = table["items"].as_array().expect("rows");
    let names: Vec<(&Value, &Value)> = rows.iter().map(|row| (&row["display_name"], &row["position"])).collect();
    assert_eq!(names, [(&json!("Ann"), &json!(1)), (&json!("Ben"), &Value::Null)]);
    assert_eq!(
        (&rows[0]["recorded_holes"], &rows[0]["rounds"], &table["fewest_holes"]),
        (&json!(90), &json!(5), &json!(36))
    );
    assert!(rows[0]["low_per_round"].as_f64() < rows[0]["strokes_gained_per_round"].as_f64());
    assert_eq!(rows[1]["low_per_round"], Value::Null);
    let report = api.get(format!("/members/{}/putting?season_id={}", night.ann, night.season)).by(&cast.sam);
    let report = report.expect(200).await.json();
    assert_eq!(rows[0]["strokes_gained_per_round"], report["strokes_gained_per_round"]);
    let from_ten = api.get(format!("{path}?min_holes=10")).by(&cast.sam).expect(200).await.json();
    assert!(from_ten["items"].as_array().expect("rows").iter().all(|row| row["position"].is_number()));
    for wrong in ["0", "1801", "ten"] {
        api.get(format!("{path}?min_holes={wrong}")).by(&cast.sam).expect(400).await;
    }
}

/// A card that tells how many putts there were and no distance.
fn bare(member: &str) -> Value {
    let mut card = round(member);
    for hole in card["holes"].as_array_mut().expect("holes") {
        hole.as_object_mut().expect("a hole").remove("putts");
        hole["putt_count"] = json!(2);
    }
    card
}
