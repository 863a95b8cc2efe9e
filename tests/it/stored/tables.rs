//! Tables for a spreadsheet: names as they are, nothing that it would run, ids when they are asked for.

use crate::support::browsing::{page, signed_in};
use crate::support::harness::{Api, Person, id, round, shared};
use serde_json::json;

async fn rows(api: &Api, path: &str, by: &Person) -> Vec<Vec<String>> {
    let seen = api.get(path).by(by).expect(200).await;
    assert_eq!(seen.header("content-type"), "text/csv; charset=utf-8");
    let text = seen.text();
    assert!(text.is_ascii() || !text.contains('\u{fffd}'));
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    reader.records().map(|record| record.expect("CSV").iter().map(str::to_owned).collect()).collect()
}

fn strings(cells: &[&str]) -> Vec<String> {
    cells.iter().map(|cell| (*cell).to_owned()).collect()
}

#[tokio::test]
async fn an_organizer_takes_tables_along() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let name = json!({ "display_name": "=Ann; \"A\"", "starting_handicap": -0.4 });
    api.patch(format!("/members/{}", night.ann), &name).by(&cast.olga).matching("*").expect(200).await;
    api.patch(format!("/events/{}", night.event), &json!({ "name": "+Night 1" }))
        .by(&cast.olga)
        .matching("*")
        .expect(200)
        .await;
    let path = format!("/events/{}/entries", night.event);
    let place = json!({ "slot": "19:00", "bay": "07" });
    api.post(path, &place).by(&cast.ann).key(&id()).expect(201).await;
    let mut card = round(&night.ann);
    card["holes"][1] = json!({ "number": 2, "picked_up": true });
    card["holes"][2]["putts"] = json!([
        { "distance_ft": 12.5, "elevation_in": -2.0, "start_line_deg": -0.42, "result": "missed" },
        { "distance_ft": 1.5, "result": "conceded" },
    ]);
    card["holes"][2].as_object_mut().expect("a hole").remove("putt_count");
    let handed = api.hand_in(&night.event, &cast.ann, &card).await.id();
    let season = format!("/seasons/{}", night.season);
    // A text that a spreadsheet would run has a mark before it; a negative number stays a number.
    let (event, ann) = ("'+Night 1", "'=Ann; \"A\"");

    let members = rows(&api, &format!("/leagues/{}/members.csv", night.league), &cast.olga).await;
    let head = ["display_name", "flight", "starting_handicap", "league_index", "role", "has_account"];
    assert_eq!(members[0], strings(&head));
    assert!(members.contains(&strings(&[ann, "", "-0.4", "", "player", "true"])), "{members:?}");

    let entries = rows(&api, &format!("{season}/entries.csv"), &cast.olga).await;
    assert_eq!(entries[0], strings(&["date", "event", "player", "slot", "bay"]));
    assert_eq!(entries[1..], [strings(&["2027-01-14", event, ann, "19:00", "07"])]);

    let cards = rows(&api, &format!("{season}/cards.csv?ids=1"), &cast.olga).await;
    assert_eq!(cards.len(), 19, "{cards:?}");
    let ids = [night.event.as_str(), night.ann.as_str(), handed.as_str()];
    let hole = |n: usize, rest: [&str; 5]| {
        let start = ["2027-01-14", event, ann, "submitted", "complete"];
        assert_eq!(cards[n], strings(&[&start[..], &rest, &ids].concat()));
    };
    hole(2, ["2", "", "true", "false", ""]);
    hole(3, ["3", "3", "false", "false", "2"]);
    assert_eq!(cards[0][10..], strings(&["event_id", "member_id", "round_id"]));

    let putts = rows(&api, &format!("{season}/putts.csv"), &cast.olga).await;
    let third: Vec<&Vec<String>> = putts.iter().filter(|row| row[4] == "3").collect();
    let start = ["2027-01-14", event, ann, "submitted", "3"];
    assert_eq!(*third[0], strings(&[&start[..], &["1", "12.5", "-2", "", "-0.42", "", "missed"]].concat()));
    assert_eq!(*third[1], strings(&[&start[..], &["2", "1.5", "", "", "", "", "conceded"]].concat()));

    let marked = api.get(format!("{season}/putts.csv?bom=1")).by(&cast.olga).expect(200).await.text();
    assert!(marked.starts_with("\u{feff}date,event"), "{marked}");
    let odd = api.get(format!("{season}/cards.csv?ids=yes")).by(&cast.olga).refused(400, "malformed").await;
    assert_eq!(odd.json()["parameter"], "ids");

    // A browser gets the same as a file.
    let olga = signed_in(&api, &cast.olga.email).await;
    let shown = page(&api, &season, &olga).expect(200).await.text();
    assert!(shown.contains(&format!("href=\"{season}/cards.csv\"")), "{shown}");
    let file = page(&api, &format!("{season}/cards.csv"), &olga).expect(200).await;
    assert_eq!(file.header("content-disposition"), "attachment; filename=\"cards.csv\"");
    assert_eq!(file.text(), api.get(format!("{season}/cards.csv")).by(&cast.olga).expect(200).await.text());
    let ann = signed_in(&api, &cast.ann.email).await;
    page(&api, &format!("/leagues/{}/members.csv", night.league), &ann).expect(403).await;
}
