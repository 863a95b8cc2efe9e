//! Competitions that rank only those who enter them.

use super::matches::competition;
use crate::support::harness::{Seen, id, own, round, shared, text};
use serde_json::{Value, json};

fn skins() -> Value {
    json!({ "name": "Skins", "position": 2, "meeting": { "kind": "hole" }, "field": { "by_entry": true } })
}

fn names(seen: &Seen) -> Vec<String> {
    seen.json()["items"].as_array().expect("rows").iter().map(|row| text(row, "display_name")).collect()
}

#[tokio::test]
async fn an_event_ranks_those_who_entered_and_its_table_knows_nobody_else() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let skins = competition(&api, &cast, &night, skins()).await;
    let entries = format!("/events/{}/entries", night.event);
    let entry = json!({ "slot": "19:00", "competitions": [skins] });
    let of_ann = api.post(&entries, &entry).by(&cast.ann).key(&id()).expect(201).await.json();
    assert_eq!(of_ann["competitions"], json!([skins]));
    api.post(&entries, &json!({})).by(&cast.ben).key(&id()).expect(201).await;
    let board = format!("/events/{}/board?competition={skins}", night.event);
    assert_eq!(names(&api.get(&board).by(&cast.ben).expect(200).await), ["Ann"]);
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    api.hand_in(&night.event, &cast.ben, &round(&night.ben)).await;
    assert_eq!(names(&api.get(&board).by(&cast.ben).expect(200).await), ["Ann"]);
    let table = format!("/competitions/{skins}/standings");
    assert_eq!(names(&api.get(&table).by(&cast.ben).expect(200).await), ["Ann"]);
    let main = format!("/seasons/{}/standings", night.season);
    assert_eq!(names(&api.get(&main).by(&cast.ben).expect(200).await).len(), 2, "the main table ranks every card");

    // After the own card nobody enters or leaves by themselves; who keeps scores does it for them.
    let left = format!("/entries/{}", text(&of_ann, "id"));
    api.delete(&left).by(&cast.ann).matching("*").refused(403, "forbidden").await;
    let of_ben = api.get(&entries).by(&cast.ben).expect(200).await.json();
    let of_ben = of_ben["items"].as_array().expect("entries").iter().find(|one| one["member_id"] == json!(night.ben));
    let of_ben = format!("/entries/{}", text(of_ben.expect("an entry"), "id"));
    api.delete(&of_ben).by(&cast.ben).matching("*").expect(204).await;
    api.post(&entries, &json!({ "competitions": [skins] })).by(&cast.ben).key(&id()).refused(403, "forbidden").await;
    let for_ben = json!({ "member_id": night.ben, "competitions": [skins] });
    api.post(&entries, &for_ben).by(&cast.sam).key(&id()).expect(201).await;
    assert_eq!(names(&api.get(&table).by(&cast.ben).expect(200).await).len(), 2);
    api.delete(format!("/competitions/{skins}")).by(&cast.olga).matching("*").refused(409, "competition-in-use").await;
    let terms = api.get(format!("/competitions/{skins}/terms")).by(&cast.ann).expect(200).await.text();
    assert!(terms.contains("only those whose entry names this competition"), "{terms}");

    // The same league elsewhere ranks the same players.
    crate::stored::journal_bundle::clean(&api).await;
    let (other, mover) = crate::stored::journal_bundle::moved(&api, &night.league, &cast.olga).await;
    let here = api.get(&table).by(&cast.olga).expect(200).await.json();
    assert_eq!(other.get(&table).by(&mover).expect(200).await.json(), here);
    crate::stored::journal_bundle::clean(&other).await;
}

#[tokio::test]
async fn nobody_enters_what_ranks_everybody_or_the_same_twice() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let skins = competition(&api, &cast, &night, skins()).await;
    let entries = format!("/events/{}/entries", night.event);
    let cases = [
        (json!([night.competition]), "unknown-competition", "/competitions/0"),
        (json!([skins, skins]), "repeated-id", "/competitions/1"),
        (json!([night.event]), "unknown-competition", "/competitions/0"),
        (json!(["skins"]), "validation", "/competitions/0"),
    ];
    for (named, kind, pointer) in cases {
        let entry = json!({ "competitions": named });
        let seen = api.post(&entries, &entry).by(&cast.ann).key(&id()).refused(422, kind).await;
        assert_eq!(seen.faults()[0].0, pointer, "{named}");
    }
    let matches = json!({ "name": "Ladder", "meeting": { "kind": "match" }, "field": { "by_entry": true } });
    let path = format!("/seasons/{}/competitions", night.season);
    let seen = api.post(path, &matches).by(&cast.olga).key(&id()).refused(422, "competition-misfit").await;
    assert_eq!(seen.faults()[0].0, "/field/by_entry");
}
