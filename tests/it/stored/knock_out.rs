//! Knock-outs: drawn by seed, played night by night, kept once final.

use super::matches::{competition, member, nine, nine_holes, report, team};
use crate::support::harness::{Api, Cast, Night, id, own, shared, text};
use serde_json::{Value, json};

/// Five players off 0 in a cup over three nights: the quarter-final of seeds 4 and 5, then the semi-finals, then the final
/// with the match for third place.
struct Cup {
    api: Api,
    cast: Cast,
    night: Night,
    cup: String,
    /// By seed.
    players: Vec<String>,
    events: Vec<String>,
    /// In the order of the draw.
    fixtures: Vec<String>,
}

impl Cup {
    async fn draw() -> Self {
        let api = own();
        let cast = api.cast().await;
        let night = api.night(&cast).await;
        let mut players = Vec::new();
        for name in ["Auk", "Brant", "Coot", "Dunlin", "Eider"] {
            players.push(member(&api, &cast, &night, name, Some(0.0)).await);
        }
        let meeting = json!({ "kind": "match" });
        let cup = competition(&api, &cast, &night, json!({ "name": "Cup", "meeting": meeting, "position": 2 })).await;
        let mut events = Vec::new();
        for day in 4..=6 {
            events.push(nine_holes(&api, &cast, &night, day).await);
        }
        let seeds: Vec<Value> = players.iter().map(|player| json!({ "member_id": player })).collect();
        let asked = json!({ "knock_out": { "seeds": seeds, "events": events, "third_place": true } });
        let path = format!("/competitions/{cup}/fixtures");
        let made = api.post(&path, &asked).by(&cast.olga).key(&id()).expect(201).await.json();
        let fixtures: Vec<String> =
            made["items"].as_array().expect("fixtures").iter().map(|one| text(one, "fixture_id")).collect();
        Self { api, cast, night, cup, players, events, fixtures }
    }

    /// Hands in a card of a night: the seed, so many over par on the first hole.
    async fn card(&self, event: usize, seed: usize, over: i8) {
        let card = nine(&self.players[seed - 1], &[over]);
        self.api.hand_in(&self.events[event], &self.cast.olga, &card).await;
    }

    async fn fixture(&self, n: usize) -> Value {
        self.api.get(format!("/fixtures/{}", self.fixtures[n])).by(&self.cast.ben).expect(200).await.json()
    }

    /// Name, sides and state of a fixture, and which side goes on.
    async fn told(&self, n: usize) -> String {
        let seen = self.fixture(n).await;
        let [a, b] = ["a", "b"].map(|side| text(&seen[side], "display_name"));
        format!("{}: {a} v {b}, {}, {}", text(&seen, "name"), text(&seen, "state"), seen["goes_on"])
    }

    async fn change(&self, n: usize, change: Value) {
        let path = format!("/fixtures/{}", self.fixtures[n]);
        self.api.patch(path, &change).by(&self.cast.olga).matching("*").expect(200).await;
    }
}

#[tokio::test]
async fn a_cup_of_five_is_played_to_its_end_and_what_is_final_stays() {
    let cup = Cup::draw().await;
    let Cup { api, cast, night, players, events, .. } = &cup;
    let drawn = [
        "Quarter-final 1: Dunlin v Eider, planned, null",
        "Semi-final 1: Auk v Winner of Quarter-final 1, planned, null",
        "Semi-final 2: Brant v Coot, planned, null",
        "Final: Winner of Semi-final 1 v Winner of Semi-final 2, planned, null",
        "Third place: Loser of Semi-final 1 v Loser of Semi-final 2, planned, null",
    ];
    for (n, due) in drawn.iter().enumerate() {
        assert_eq!(cup.told(n).await, *due);
    }
    // Seeds 4 and 5 are level: nobody goes on until an organizer says so.
    cup.card(0, 4, 0).await;
    cup.card(0, 5, 0).await;
    assert_eq!(cup.told(0).await, "Quarter-final 1: Dunlin v Eider, played, null");
    assert_eq!(cup.told(1).await, drawn[1]);
    cup.change(0, json!({ "goes_on": "b", "reason": "by lot" })).await;
    assert_eq!(cup.told(1).await, "Semi-final 1: Auk v Eider, planned, null");
    let seen = cup.fixture(1).await;
    assert_eq!((&seen["b"]["member_id"], &seen["b"]["winner_of"]), (&json!(players[4]), &json!(cup.fixtures[0])));
    api.settle(&events[0], &cast.olga).await;

    // Eider beats Auk, and Brant beats Coot.
    for (seed, over) in [(1, 1), (5, 0), (2, 0), (3, 1)] {
        cup.card(1, seed, over).await;
    }
    assert_eq!(cup.told(1).await, "Semi-final 1: Auk v Eider, played, \"b\"");
    assert_eq!(cup.told(3).await, "Final: Eider v Brant, planned, null");
    assert_eq!(cup.told(4).await, "Third place: Auk v Coot, planned, null");
    api.settle(&events[1], &cast.olga).await;
    for (seed, over) in [(5, 0), (2, 1), (1, 0), (3, 1)] {
        cup.card(2, seed, over).await;
    }
    assert_eq!(cup.told(3).await, "Final: Eider v Brant, played, \"a\"");
    assert_eq!(cup.told(4).await, "Third place: Auk v Coot, played, \"a\"");
    let board = api.get(format!("/events/{}/board?competition={}", events[2], cup.cup));
    let board = board.by(&cast.ben).expect(200).await.json();
    assert_eq!(board["items"].as_array().map(Vec::len), Some(2));
    api.settle(&events[2], &cast.olga).await;

    // A slip of the semi-final is mended after the final: its own result changes, and the final stays as it was played.
    let rounds = api.get(format!("/events/{}/rounds", events[1])).by(&cast.olga).expect(200).await.json();
    let of_eider =
        rounds["items"].as_array().expect("rounds").iter().find(|round| round["member_id"] == json!(players[4]));
    let path = format!("/rounds/{}/rulings", text(of_eider.expect("a round"), "id"));
    let mended = json!({ "decision": "exclude_round", "reason": "the wrong tee" });
    api.post(path, &mended).by(&cast.olga).key(&id()).expect(201).await;
    assert_eq!(cup.told(1).await, "Semi-final 1: Auk v Eider, played, \"a\"");
    assert_eq!(cup.told(3).await, "Final: Eider v Brant, played, \"a\"");
    assert_eq!(cup.told(4).await, "Third place: Auk v Coot, played, \"a\"");

    // The same league elsewhere has the same fixtures, and the report is the server's.
    crate::stored::journal_bundle::clean(api).await;
    let whole = crate::stored::journal_bundle::bundle(api, &night.league, &cast.olga).await;
    let other = own();
    let code = crate::stored::journal_bundle::import(&other.server.app.leagues, &whole).await;
    let mover = other.person("Olga").await;
    other.call("POST", &format!("/invitations/{code}/acceptance")).by(&mover).expect(201).await;
    let path = format!("/competitions/{}/fixtures", cup.cup);
    let here = api.get(&path).by(&cast.olga).expect(200).await.json();
    assert_eq!(other.get(&path).by(&mover).expect(200).await.json(), here);
    assert_eq!(crate::stored::journal_bundle::bundle(&other, &night.league, &mover).await, whole);
    let report = report(&whole, &night.season);
    let reported = report["competitions"].as_array().expect("competitions");
    let reported = reported.iter().find(|one| one["id"] == json!(cup.cup)).expect("the cup");
    assert_eq!(reported["fixtures"], here["items"]);
}

#[tokio::test]
async fn a_side_without_an_opponent_goes_on_and_a_walk_over_decides_before_the_other_side_is_known() {
    let cup = Cup::draw().await;
    cup.change(1, json!({ "state": "walk_over", "to": "a", "reason": "nobody else came" })).await;
    assert_eq!(cup.told(1).await, "Semi-final 1: Auk v Winner of Quarter-final 1, walk_over, \"a\"");
    assert_eq!(cup.told(3).await, "Final: Auk v Winner of Semi-final 2, planned, null");
    let bye = json!([{ "event_id": cup.events[1], "a": { "member_id": cup.players[1] }, "b": null }]);
    let path = format!("/competitions/{}/fixtures", cup.cup);
    let made = cup.api.post(path, &bye).by(&cup.cast.olga).key(&id()).expect(201).await.json();
    let bye = text(&made["items"][0], "fixture_id");
    cup.change(3, json!({ "b": { "winner_of": bye } })).await;
    assert_eq!(cup.told(3).await, "Final: Auk v Brant, planned, null");
    // Whoever meets nobody leaves no loser behind.
    cup.change(4, json!({ "b": { "loser_of": bye } })).await;
    let third = "Third place: Loser of Semi-final 1 v Loser of a fixture of Night 5, planned, null";
    assert_eq!(cup.told(4).await, third);
}

#[tokio::test]
async fn a_knock_out_that_does_not_fit_is_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let [first, second] = [nine_holes(&api, &cast, &night, 13).await, nine_holes(&api, &cast, &night, 14).await];
    let olga = &cast.olga;
    let meeting = json!({ "kind": "match", "matches": 2, "points": { "per_match": 1 } });
    let cup = competition(&api, &cast, &night, json!({ "name": "Cup", "meeting": meeting, "position": 2 })).await;
    let mut teams = Vec::new();
    for name in ["Herons", "Plovers", "Rails", "Terns"] {
        teams.push(team(&api, &cast, &night, name, &[]).await);
    }
    let seeds: Vec<Value> = teams.iter().map(|team| json!({ "team_id": team })).collect();
    let path = format!("/competitions/{cup}/fixtures");
    let twice = [seeds[0].clone(), seeds[1].clone(), seeds[0].clone(), seeds[2].clone()];
    let cases = [
        (json!({ "seeds": seeds, "events": [first] }), "fixture", "/knock_out/events"),
        (json!({ "seeds": twice, "events": [first, second] }), "repeated-id", "/knock_out/seeds/2"),
        (json!({ "seeds": [seeds[0], null], "events": [first] }), "validation", "/knock_out/seeds/1"),
        (json!({ "seeds": seeds[..1], "events": [first] }), "validation", "/knock_out/seeds"),
        (
            json!({ "seeds": seeds[..3], "events": [first, second], "third_place": true }),
            "fixture",
            "/knock_out/third_place",
        ),
        (
            json!({ "seeds": seeds, "events": [first, second], "third_place": true, "consolation": true }),
            "fixture",
            "/knock_out/consolation",
        ),
        (json!({ "seeds": [{ "member_id": night.ann }, seeds[1]], "events": [first] }), "fixture", "/0/a/member_id"),
        (json!({ "seeds": seeds, "events": [second, first] }), "fixture", "/2/a/winner_of"),
    ];
    for (asked, kind, pointer) in cases {
        let seen = api.post(&path, &json!({ "knock_out": asked })).by(olga).key(&id()).refused(422, kind).await;
        assert_eq!(seen.faults()[0].0, pointer, "{asked}");
    }
    assert_eq!(api.get(&path).by(olga).expect(200).await.json()["items"], json!([]), "nothing is half made");

    let asked = json!({ "knock_out": { "seeds": seeds, "events": [first, second] } });
    let made = api.post(&path, &asked).by(olga).key(&id()).expect(201).await.json();
    let at = |n: usize| format!("/fixtures/{}", text(&made["items"][n], "fixture_id"));
    let final_id = text(&made["items"][2], "fixture_id");
    let change = async |n: usize, body: Value| {
        let seen = api.patch(at(n), &body).by(olga).matching("*").refused(422, "fixture").await;
        seen.faults()[0].0.clone()
    };
    assert_eq!(
        change(0, json!({ "a": { "team_id": null, "winner_of": final_id } })).await,
        "/a/winner_of",
        "of a later event"
    );
    assert_eq!(change(2, json!({ "event_id": first, "a": { "winner_of": null, "loser_of": final_id } })).await, "/a");
    assert_eq!(
        change(0, json!({ "a": { "team_id": null, "winner_of": night.event } })).await,
        "/a/winner_of",
        "no fixture"
    );
    api.patch(at(2), &json!({ "event_id": first })).by(olga).matching("*").expect(200).await;
    assert_eq!(
        change(0, json!({ "event_id": second })).await,
        "/event_id",
        "the final waits for it on the night before"
    );
    api.delete(at(0)).by(olga).matching("*").refused(409, "has-fixtures").await;
    api.delete(at(2)).by(olga).matching("*").expect(204).await;
    api.delete(at(0)).by(olga).matching("*").expect(204).await;
}
