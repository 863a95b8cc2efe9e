//! Seasons: standings as JSON and CSV, looking back, flights, ETags.

use crate::support::harness::{Api, Cast, Night, Seen, card, id, par, round, season, shared};
use serde_json::{Value, json};

/// Three players, two nights: by place 10, 6, 3.
///
/// ```text
///            first night        second night         total
/// Sam        36 points → 10     not there            10, one played
/// Ann        35, level with Ben: (6 + 3) / 2 = 4.5   36 → 10: 14.5
/// Ben        4.5                34 → 6               10.5
/// ```
struct Table {
    api: Api,
    cast: Cast,
    night: Night,
    second: String,
}

async fn table() -> Table {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let award = json!({ "award": { "kind": "by_place", "table": [10, 6, 3] } });
    api.patch(format!("/competitions/{}", night.competition), &award).by(&cast.olga).matching("*").expect(200).await;
    let times = json!({ "opens_at": "2027-01-14T18:00:00Z", "closes_at": "2027-01-14T22:00:00Z", "name": "Later" });
    let second = api.event(&cast, &night, times).await;
    let over = |strokes: u8| {
        let mut all: Vec<u8> = (1..=18).map(par).collect();
        all[3] += strokes;
        all
    };
    api.hand_in(&night.event, &cast.sam, &round(&night.sam)).await;
    api.hand_in(&night.event, &cast.ann, &card(&night.ann, &over(1))).await;
    api.hand_in(&night.event, &cast.ben, &card(&night.ben, &over(1))).await;
    api.hand_in(&second, &cast.ann, &round(&night.ann)).await;
    api.hand_in(&second, &cast.ben, &card(&night.ben, &over(2))).await;
    Table { api, cast, night, second }
}

impl Table {
    fn path(&self) -> String {
        format!("/seasons/{}/standings", self.night.season)
    }

    async fn rows(&self, query: &str) -> Vec<(String, Value, Value)> {
        let seen = self.api.get(self.path() + query).by(&self.cast.ben).expect(200).await.json();
        let row = |row: &Value| {
            (row["display_name"].as_str().expect("a name").to_owned(), row["position"].clone(), row["total"].clone())
        };
        seen["items"].as_array().expect("rows").iter().map(row).collect()
    }

    async fn csv(&self) -> (Seen, Vec<Vec<String>>) {
        let seen = self.api.get(self.path()).by(&self.cast.ben).with("accept", "text/csv").expect(200).await;
        assert_eq!(seen.header("content-type"), "text/csv; charset=utf-8");
        let cells = read_csv(&seen.text());
        (seen, cells)
    }
}

/// Reads CSV as RFC 4180 says: CRLF after every record, quotes doubled inside quotes.
fn read_csv(text: &str) -> Vec<Vec<String>> {
    let mut records = Vec::new();
    let (mut record, mut cell, mut quoted) = (Vec::new(), String::new(), false);
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        match c {
            '"' if quoted && rest.peek() == Some(&'"') => {
                rest.next();
                cell.push('"');
            }
            '"' if quoted => quoted = false,
            '"' if cell.is_empty() => quoted = true,
            ',' if !quoted => record.push(std::mem::take(&mut cell)),
            '\r' if !quoted => {
                assert_eq!(rest.next(), Some('\n'), "a bare CR in {text:?}");
                record.push(std::mem::take(&mut cell));
                records.push(std::mem::take(&mut record));
            }
            '\n' if !quoted => panic!("a bare LF in {text:?}"),
            c => cell.push(c),
        }
    }
    assert!(record.is_empty() && cell.is_empty() && !quoted, "CSV ends with CRLF: {text:?}");
    assert!(records.windows(2).all(|pair| pair[0].len() == pair[1].len()), "records of unequal length: {text}");
    records
}

fn due(rows: &[(&str, Value, Value)]) -> Vec<(String, Value, Value)> {
    rows.iter().map(|(name, position, total)| ((*name).to_owned(), position.clone(), total.clone())).collect()
}

#[tokio::test]
async fn places_are_shared_added_up_and_ranked() {
    let table = table().await;
    let ranked = [("Ann", json!(1), json!(14.5)), ("Ben", json!(2), json!(10.5)), ("Sam", json!(3), json!(10))];
    assert_eq!(table.rows("").await, due(&ranked));
    // Best one alone: Ann and Sam have a 10 each and one first place each; Ann played more but counts one.
    let best = json!({ "counting": { "best": 1, "minimum": 2 } });
    let competition = format!("/competitions/{}", table.night.competition);
    table.api.patch(&competition, &best).by(&table.cast.olga).matching("*").expect(200).await;
    let ranked = [("Ann", json!(1), json!(10)), ("Ben", json!(2), json!(6)), ("Sam", Value::Null, json!(10))];
    assert_eq!(table.rows("").await, due(&ranked), "below the minimum there is no position");
    let seen = table.api.get(table.path()).by(&table.cast.ann).expect(200).await.json();
    let ann = &seen["items"][0];
    assert_eq!((&ann["events_played"], &ann["events_counted"]), (&json!(2), &json!(1)));
    let counted: Vec<&Value> =
        ann["results"].as_array().expect("results").iter().map(|cell| &cell["counted"]).collect();
    assert_eq!(counted, [false, true]);
}

/// 10: looking back shows the events up to one.
#[tokio::test]
async fn after_event_looks_back() {
    let table = table().await;
    let rows = table.rows(&format!("?after_event={}", table.night.event)).await;
    assert_eq!(rows[0], ("Sam".into(), json!(1), json!(10)));
    assert!(rows[1..].iter().all(|row| (&row.1, &row.2) == (&json!(2), &json!(4.5))), "{rows:?}");
    let path = format!("{}?after_event={}", table.path(), table.night.event);
    let seen = table.api.get(&path).by(&table.cast.ann).expect(200).await.json();
    assert_eq!(seen["event_ids"], json!([table.night.event]));
    assert_eq!(seen["as_of_event_id"], table.night.event.as_str());
    assert_eq!(table.rows(&format!("?after_event={}", table.second)).await, table.rows("").await);
    let unknown = format!("{}?after_event={}", table.path(), id());
    table.api.get(unknown).by(&table.cast.ann).refused(422, "unknown-event").await;
    let odd = format!("{}?after_event=last", table.path());
    let seen = table.api.get(odd).by(&table.cast.ann).refused(400, "malformed").await;
    assert_eq!(seen.json()["parameter"], "after_event");
}

/// 4: places and positions are within the flight.
#[tokio::test]
async fn flights_have_places_of_their_own() {
    let table = table().await;
    let Table { api, cast, night, .. } = &table;
    let flights = json!({ "flights": [{ "name": "A", "handicap_max": 9.9 }, { "name": "B", "handicap_max": null }] });
    api.patch(format!("/seasons/{}", night.season), &flights).by(&cast.olga).matching("*").expect(200).await;
    let field = json!({ "field": { "flights": ["A", "B"] } });
    api.patch(format!("/competitions/{}", night.competition), &field).by(&cast.olga).matching("*").expect(200).await;
    let member = json!({ "starting_handicap": 9.9 });
    let from = format!("/members/{}?start_from=2027-01-01", night.ann);
    api.patch(from, &member).by(&cast.olga).matching("*").expect(200).await;
    // Ann is in A by her handicap; Ben by the organizer's word; Sam has neither and is in the last.
    let member = json!({ "flight": "A" });
    api.patch(format!("/members/{}", night.ben), &member).by(&cast.olga).matching("*").expect(200).await;
    let names = |rows: Vec<(String, Value, Value)>| rows.into_iter().map(|row| (row.0, row.1)).collect::<Vec<_>>();
    assert_eq!(names(table.rows("?flight=A").await), [("Ann".into(), json!(1)), ("Ben".into(), json!(2))]);
    assert_eq!(names(table.rows("?flight=B").await), [("Sam".into(), json!(1))]);
    assert_eq!(table.rows("?flight=C").await, []);
    assert_eq!(table.rows("").await.len(), 3);
}

/// S24: text that a spreadsheet would run is defused, numbers are not.
#[tokio::test]
async fn csv_is_rfc_4180_and_runs_no_formulas() {
    let table = table().await;
    let Table { api, cast, night, .. } = &table;
    let names = ["=SUM(A1,A2)", "+1", "-1", "@here", "'quoted", "say \"fore\", then hit", "Zoë"];
    for name in names {
        let path = format!("/leagues/{}/members", night.league);
        let body = json!({ "display_name": name });
        let member = api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id();
        api.hand_in(&night.event, &cast.sam, &round(&member)).await;
    }
    let (seen, records) = table.csv().await;
    let head = [
        "position",
        "tied",
        "member_id",
        "display_name",
        "flight",
        "events_played",
        "events_counted",
        "total",
        "strokes_gained_putting_per_round",
        &night.event,
        &table.second,
    ];
    assert_eq!(records[0], head);
    for name in names {
        let risky = name.starts_with(['=', '+', '-', '@', '\'']);
        let cell = if risky { format!("'{name}") } else { name.to_owned() };
        assert!(records.iter().any(|record| record[3] == cell), "{cell} is not in {}", seen.text());
    }
    // The same figures as in JSON.
    let json = api.get(table.path()).by(&cast.ben).expect(200).await.json();
    for (row, record) in json["items"].as_array().expect("rows").iter().zip(&records[1..]) {
        assert_eq!(record[2], row["member_id"].as_str().expect("an id"));
        assert_eq!(record[0], row["position"].to_string());
        assert_eq!(record[7], row["total"].to_string());
        let gained = row["strokes_gained_putting_per_round"].to_string();
        assert_eq!(record[8], gained, "a number is a number, also below 0");
    }
    let ben = json["items"].as_array().expect("rows").iter().find(|row| row["member_id"] == night.ben.as_str());
    assert!(ben.expect("Ben")["strokes_gained_putting_per_round"].as_f64().is_some_and(|gained| gained < 0.0));
    // Some spreadsheets take a file for UTF-8 by its first bytes only.
    let marked = api.get(table.path() + "?bom=1").by(&cast.ben).with("accept", "text/csv").expect(200).await;
    assert_eq!(marked.text(), format!("\u{feff}{}", seen.text()));
    assert_ne!(marked.etag(), seen.etag());
    let plain = api.get(table.path() + "?bom=1").by(&cast.ben).expect(200).await;
    assert_eq!(plain.json(), json, "JSON has no such mark");
    api.get(table.path() + "?bom=yes").by(&cast.ben).refused(400, "malformed").await;
    // Sam has no value in the second event: an empty cell, never 0.
    let sam = records.iter().find(|record| record[2] == night.sam).expect("Sam");
    assert_eq!(sam[10], "");
}

#[tokio::test]
async fn accept_chooses_json_or_csv() {
    let table = table().await;
    let cases = [
        ("*/*", "application/json"),
        ("application/json", "application/json"),
        ("text/csv;q=0.5, application/json", "application/json"),
        ("text/csv, application/json;q=0.9", "text/csv; charset=utf-8"),
        ("text/*", "text/csv; charset=utf-8"),
        ("TEXT/CSV", "text/csv; charset=utf-8"),
    ];
    for (accept, kind) in cases {
        let seen = table.api.get(table.path()).by(&table.cast.ann).with("accept", accept).expect(200).await;
        assert_eq!(seen.header("content-type"), kind, "{accept}");
    }
    for accept in ["image/png", "text/csv;q=0"] {
        let call = table.api.get(table.path()).by(&table.cast.ann).with("accept", accept);
        call.refused(406, "not-acceptable").await;
    }
}

/// The tag changes when the table does, and only then; JSON and CSV have tags of their own.
#[tokio::test]
async fn an_unchanged_table_is_not_sent_again() {
    let table = table().await;
    let Table { api, cast, night, .. } = &table;
    let json = api.get(table.path()).by(&cast.ann).expect(200).await.etag();
    let csv = table.csv().await.0.etag();
    assert_ne!(json, csv);
    let ask = |accept: &str, tag: &str| {
        api.get(table.path()).by(&cast.ann).with("accept", accept).with("if-none-match", tag).send()
    };
    assert_eq!(ask("application/json", &json).await.status, 304);
    assert_eq!(ask("text/csv", &csv).await.status, 304);
    assert_eq!(ask("text/csv", &json).await.status, 200);
    // What shows nothing else leaves the tag; a round moves it.
    let path = format!("/leagues/{}/setups", night.league);
    api.post(path, &json!({ "label": "Den", "sensor": "other" })).by(&cast.ann).key(&id()).expect(201).await;
    assert_eq!(ask("application/json", &json).await.status, 304);
    api.hand_in(&night.event, &cast.olga, &round(&night.olga)).await;
    let moved = ask("application/json", &json).await;
    assert_eq!((moved.status, moved.json()["items"].as_array().map(Vec::len)), (200, Some(4)));
    // So does a name.
    let renamed = json!({ "display_name": "Samuel" });
    api.patch(format!("/members/{}", night.sam), &renamed).by(&cast.olga).matching("*").expect(200).await;
    assert_eq!(ask("application/json", &moved.etag()).await.status, 200);
}

#[tokio::test]
async fn a_season_fits_itself() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/leagues/{}/seasons", night.league);
    let flight = |name: &str, max: Value| json!({ "name": name, "handicap_max": max });
    let cases = [
        (json!({ "ends_on": "2026-12-31" }), "date-order", "/ends_on"),
        (
            json!({ "flights": [flight("A", json!(9.9)), flight("B", json!(9.9))] }),
            "flights-overlap",
            "/flights/1/handicap_max",
        ),
        (
            json!({ "flights": [flight("A", Value::Null), flight("B", json!(9.9))] }),
            "flights-overlap",
            "/flights/1/handicap_max",
        ),
        (
            json!({ "flights": [flight("A", json!(9.9)), flight("A", Value::Null)] }),
            "flight-repeated",
            "/flights/1/name",
        ),
    ];
    for (changes, kind, pointer) in cases {
        let body = crate::support::harness::merged(season(), &changes);
        let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, kind).await;
        assert_eq!(seen.faults(), [(pointer.into(), kind.into())]);
        // The same as a patch, checked as a whole.
        let season = format!("/seasons/{}", night.season);
        api.patch(&season, &changes).by(&cast.olga).matching("*").refused(422, kind).await;
    }
}
