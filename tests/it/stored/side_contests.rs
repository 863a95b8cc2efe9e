//! Side contests of an event: values that people note, and values from the cards.

use crate::support::harness::{Api, Cast, Night, Seen, id, own, round, shared, text};
use serde_json::{Value, json};

async fn contest(api: &Api, cast: &Cast, night: &Night, body: Value) -> String {
    let path = format!("/events/{}/side-contests", night.event);
    api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id()
}

/// Place, name and value of each row.
fn rows(seen: &Seen) -> Vec<String> {
    let seen = seen.json();
    let rows = seen["results"].as_array().expect("rows").iter();
    rows.map(|row| format!("{} {} {}", row["place"], text(row, "display_name"), row["value"])).collect()
}

#[tokio::test]
async fn noted_values_are_ranked_and_equal_ones_share_a_place() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let nearest = json!({ "name": "Nearest the hole", "hole": 7, "unit": "ft", "better": "lower" });
    let nearest = contest(&api, &cast, &night, nearest).await;
    let at = format!("/side-contests/{nearest}");
    let entries = format!("{at}/entries");
    let note = async |who, member: &str, value: f64| {
        let body = json!({ "member_id": member, "value": value });
        api.post(&entries, &body).by(who).expect(200).await
    };
    note(&cast.ann, &night.ann, 6.5).await;
    note(&cast.sam, &night.ben, 4.25).await;
    let wren = super::matches::member(&api, &cast, &night, "Wren", None).await;
    let seen = note(&cast.olga, &wren, 6.5).await;
    let (first, rest) = (rows(&seen)[0].clone(), rows(&seen)[1..].to_vec());
    assert_eq!(first, "1 Ben 4.25");
    assert!(rest.iter().all(|row| row.starts_with("2 ") && row.ends_with(" 6.5")) && rest.len() == 2, "{rest:?}");
    // A later value of the same member stands in place of the earlier one.
    assert_eq!(rows(&note(&cast.ann, &night.ann, 3.0).await)[..2], ["1 Ann 3", "2 Ben 4.25"]);
    // Players note their own value alone.
    let of_ben = json!({ "member_id": night.ben, "value": 1 });
    api.post(&entries, &of_ben).by(&cast.ann).refused(403, "forbidden").await;
    api.delete(format!("{entries}/{}", night.ben)).by(&cast.ann).refused(403, "forbidden").await;
    api.delete(format!("{entries}/{}", night.ann)).by(&cast.ann).expect(204).await;
    api.delete(format!("{entries}/{}", night.ann)).by(&cast.ann).refused(404, "not-found").await;
    assert_eq!(rows(&api.get(&at).by(&cast.ann).expect(200).await), ["1 Ben 4.25", "2 Wren 6.5"]);
    // The other way round, and with another name: organizers alone.
    let turned = json!({ "better": "higher", "name": "Longest drive", "unit": "yd" });
    api.patch(&at, &turned).by(&cast.sam).matching("*").refused(403, "forbidden").await;
    let seen = api.patch(&at, &turned).by(&cast.olga).matching("*").expect(200).await;
    assert_eq!(rows(&seen), ["1 Wren 6.5", "2 Ben 4.25"]);
    crate::stored::journal_bundle::clean(&api).await;

    // The same elsewhere, byte for byte.
    let (other, mover) = crate::stored::journal_bundle::moved(&api, &night.league, &cast.olga).await;
    assert_eq!(rows(&other.get(&at).by(&mover).expect(200).await), ["1 Wren 6.5", "2 Ben 4.25"]);

    // A void event ranks nothing; once it is final nothing moves.
    let path = format!("/events/{}", night.event);
    let void = json!({ "void": { "reason": "the screen failed", "handicap": true } });
    api.patch(&path, &void).by(&cast.olga).matching("*").expect(200).await;
    assert!(rows(&api.get(&at).by(&cast.ann).expect(200).await).is_empty());
    let again = json!({ "member_id": night.ben, "value": 5 });
    api.post(&entries, &again).by(&cast.olga).refused(409, "event-void").await;
    api.patch(&path, &json!({ "void": null })).by(&cast.olga).matching("*").expect(200).await;
    api.settle(&night.event, &cast.olga).await;
    assert_eq!(rows(&api.get(&at).by(&cast.ann).expect(200).await), ["1 Wren 6.5", "2 Ben 4.25"]);
    api.post(&entries, &again).by(&cast.olga).refused(409, "event-final").await;
    api.delete(&at).by(&cast.olga).matching("*").refused(409, "event-final").await;
    crate::stored::journal_bundle::clean(&api).await;
}

/// ```text
/// Ann   par on each hole, 2 putts on each, on the first a missed putt of 31 ft and a conceded one: 36 putts, none holed
/// Ben   two under on the first four holes of par 4 or more, 1 putt on the second hole holed from 18 ft
/// ```
#[tokio::test]
async fn values_come_from_the_cards() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let of = async |from: &str| contest(&api, &cast, &night, json!({ "name": from, "from_cards": from })).await;
    let (putts, longest, under) = (of("putts").await, of("longest_holed").await, of("under_par").await);
    let on_second = json!({ "name": "Putts on the second", "hole": 2, "from_cards": "putts" });
    let on_second = contest(&api, &cast, &night, on_second).await;
    let ann = round(&night.ann);
    let mut ben = round(&night.ben);
    for hole in 1..=2_usize {
        let strokes = ben["holes"][hole]["strokes"].as_u64().expect("strokes");
        ben["holes"][hole]["strokes"] = json!(strokes - 1);
    }
    let putts_of_second = json!([{ "distance_ft": 18.5, "result": "holed" }]);
    ben["holes"][1].as_object_mut().expect("a hole").remove("putt_count");
    ben["holes"][1]["putts"] = putts_of_second;
    api.hand_in(&night.event, &cast.ann, &ann).await;
    let card = api.hand_in(&night.event, &cast.ben, &ben).await.id();
    let seen = async |id: &str| rows(&api.get(format!("/side-contests/{id}")).by(&cast.sam).expect(200).await);
    assert_eq!(seen(&putts).await, ["1 Ben 35", "2 Ann 36"]);
    assert_eq!(seen(&on_second).await, ["1 Ben 1", "2 Ann 2"]);
    assert_eq!(seen(&longest).await, ["1 Ben 18.5"]);
    assert_eq!(seen(&under).await, ["1 Ben 2"]);
    let all = api.get(format!("/events/{}/side-contests", night.event)).by(&cast.ann).expect(200).await.json();
    let units: Vec<(String, String)> =
        all["items"].as_array().expect("all").iter().map(|one| (text(one, "unit"), text(one, "better"))).collect();
    let due = [("putts", "lower"), ("ft", "higher"), ("holes", "higher"), ("putts", "lower")];
    assert_eq!(units, due.map(|(unit, better)| (unit.to_owned(), better.to_owned())));
    // A card that a ruling leaves out has no value.
    let ruling = json!({ "decision": "exclude_round", "reason": "the wrong tee" });
    api.post(format!("/rounds/{card}/rulings"), &ruling).by(&cast.olga).key(&id()).expect(201).await;
    assert_eq!(seen(&under).await, [""; 0]);
    assert_eq!(seen(&putts).await, ["1 Ann 36"]);
}

#[tokio::test]
async fn side_contests_that_mean_nothing_are_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/side-contests", night.event);
    let noted = json!([{ "member_id": night.ann, "value": 1 }]);
    let twice = json!([{ "member_id": night.ann, "value": 1 }, { "member_id": night.ann, "value": 2 }]);
    let stranger = json!([{ "member_id": id(), "value": 1 }]);
    let base = json!({ "name": "Drive", "unit": "yd", "better": "higher" });
    let cases = [
        (json!({ "unit": null }), "side-contest", "/unit"),
        (json!({ "better": null }), "side-contest", "/better"),
        (json!({ "better": "longer" }), "validation", "/better"),
        (json!({ "hole": 19 }), "validation", "/hole"),
        (json!({ "from_cards": "putts" }), "side-contest", "/unit"),
        (json!({ "from_cards": "putts", "unit": null, "better": null, "entries": noted }), "side-contest", "/entries"),
        (json!({ "entries": twice }), "side-contest", "/entries/1/member_id"),
        (json!({ "entries": stranger }), "unknown-member", "/entries/0/member_id"),
    ];
    for (change, kind, pointer) in cases {
        let mut body = base.clone();
        body.as_object_mut().expect("a contest").extend(change.as_object().expect("a change").clone());
        let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, kind).await;
        assert_eq!(seen.faults()[0].0, pointer, "{change}");
    }
    api.post(&path, &base).by(&cast.sam).key(&id()).refused(403, "forbidden").await;
    let made = contest(&api, &cast, &night, base.clone()).await;
    let minus = json!({ "member_id": night.ann, "value": -1 });
    api.post(format!("/side-contests/{made}/entries"), &minus).by(&cast.ann).refused(422, "validation").await;
    let from_cards = contest(&api, &cast, &night, json!({ "name": "Putts", "from_cards": "putts" })).await;
    let own = json!({ "member_id": night.ann, "value": 30 });
    api.post(format!("/side-contests/{from_cards}/entries"), &own).by(&cast.ann).refused(422, "side-contest").await;
    // Twenty in an event.
    for n in 2..20 {
        let body = json!({ "name": format!("Drive {n}"), "unit": "yd", "better": "higher" });
        contest(&api, &cast, &night, body).await;
    }
    api.post(&path, &base).by(&cast.olga).key(&id()).refused(409, "too-many").await;
    // They go with an event that has no cards.
    api.delete(format!("/side-contests/{made}")).by(&cast.olga).matching("*").expect(204).await;
    api.delete(format!("/events/{}", night.event)).by(&cast.olga).matching("*").expect(204).await;
    api.get(format!("/side-contests/{from_cards}")).by(&cast.olga).refused(404, "not-found").await;
}
