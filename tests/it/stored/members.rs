//! Members: starting handicaps by date, plus handicaps, flights by hand, two people of one name.

use crate::support::harness::{Api, Cast, Night, id, merged, own, round, shared, text};
use serde_json::{Value, json};

async fn playing_strokes(api: &Api, cast: &Cast, round: &str) -> Value {
    api.get(format!("/rounds/{round}")).by(&cast.ann).expect(200).await.json()["playing_handicap"].clone()
}

async fn start(api: &Api, cast: &Cast, member: &str, query: &str, handicap: f64) -> Value {
    let body = json!({ "starting_handicap": handicap });
    api.patch(format!("/members/{member}{query}"), &body).by(&cast.olga).matching("*").expect(200).await.json()
}

fn sound(found: &evenfield::league::verify::Verification, night: &Night) {
    let here: Vec<_> = found.differences.iter().filter(|text| text.contains(&night.league)).collect();
    assert!(here.is_empty(), "{here:#?}");
}

/// 2: below three differentials the starting handicap of the event's date stands in. Another one holds for events to come,
/// and where an earlier day is named it is said first what it moves; final events never move.
#[tokio::test]
async fn a_corrected_starting_handicap_moves_only_what_is_still_to_come() {
    let api = own();
    let mut cast = api.cast().await;
    let night = api.night(&cast).await;
    let full = json!({ "allowance_pct": 100 });
    api.patch(format!("/competitions/{}", night.competition), &full).by(&cast.olga).matching("*").expect(200).await;
    // Before there is a card it holds at once, for the event that is open too.
    start(&api, &cast, &night.ann, "", 10.0).await;
    start(&api, &cast, &night.ann, "", 12.0).await;
    let first = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    assert_eq!(playing_strokes(&api, &cast, &first).await, 12);
    let next = json!({ "opens_at": "2027-01-15T17:00:00Z", "closes_at": "2027-01-15T22:00:00Z" });
    let next = api.event(&cast, &night, next).await;

    let member = start(&api, &cast, &night.ann, "", 20.0).await;
    assert_eq!(member["starting_handicap"], 20.0);
    assert_eq!(member["earlier_starting_handicaps"], json!([{ "before": "2027-01-15", "starting_handicap": 12.0 }]));
    assert_eq!(playing_strokes(&api, &cast, &first).await, 12, "a card that was handed in keeps its strokes");

    api.server.pass(24 * 3600);
    for person in [&mut cast.ann, &mut cast.olga] {
        *person = api.sign_in(&person.email).await;
    }
    let card = merged(round(&night.ann), &json!({ "played_on": "2027-01-15" }));
    let second = api.hand_in(&next, &cast.ann, &card).await.id();
    assert_eq!(playing_strokes(&api, &cast, &second).await, 20, "it holds from the next day on");

    // A slip that concerns a past night: what it would move is told first, and nothing is done.
    let slip = "?start_from=2027-01-14";
    let body = json!({ "starting_handicap": 15.0 });
    let at = format!("/members/{}", night.ann);
    let seen =
        api.patch(format!("{at}{slip}&validate_only=true"), &body).by(&cast.olga).matching("*").expect(200).await;
    // 36 points and the strokes, on each night: 12 + 20 before, twice 15 then.
    let moves = json!([{ "member_id": night.ann, "from": { "position": 1, "total": 104 },
                         "to": { "position": 1, "total": 102 } }]);
    assert_eq!(seen.json()["effect"], json!([{ "season_id": night.season, "moves": moves }]));
    assert_eq!(playing_strokes(&api, &cast, &first).await, 12);
    start(&api, &cast, &night.ann, slip, 15.0).await;
    for round in [&first, &second] {
        assert_eq!(playing_strokes(&api, &cast, round).await, 15);
    }
    // What is final stands, whatever day is named.
    api.patch(format!("/events/{}", night.event), &json!({ "state": "final" }))
        .by(&cast.olga)
        .matching("*")
        .expect(200)
        .await;
    start(&api, &cast, &night.ann, "?start_from=2027-01-01", 30.0).await;
    assert_eq!(playing_strokes(&api, &cast, &first).await, 15, "the final event keeps its strokes");
    assert_eq!(playing_strokes(&api, &cast, &second).await, 30);
    let odd = format!("{at}?start_from=tomorrow");
    let seen = api.patch(odd, &body).by(&cast.olga).matching("*").refused(400, "malformed").await;
    assert_eq!(seen.json()["parameter"], "start_from");
    let sent = json!({ "earlier_starting_handicaps": [] });
    api.patch(&at, &sent).by(&cast.olga).matching("*").refused(422, "validation").await;
    sound(&api.server.app.leagues.verify().await.expect("verify runs"), &night);

    // The bundle brings the days along.
    let other = own();
    let moved = super::journal_bundle::bundle(&api, &night.league, &cast.olga).await;
    let code = super::journal_bundle::import(&other.server.app.leagues, &moved).await;
    super::journal_bundle::clean(&other).await;
    let mover = other.person("Olga").await;
    other.call("POST", &format!("/invitations/{code}/acceptance")).by(&mover).expect(201).await;
    assert_eq!(super::journal_bundle::bundle(&other, &night.league, &mover).await, moved);
}

/// People write +2.8 for a plus handicap; it is the negative number -2.8 in bodies, and shown with its plus again.
#[tokio::test]
async fn a_plus_handicap_is_taken_as_people_write_it() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let roster = "display_name,starting_handicap\nAda,+2.8\nBo,\"+0,4\"\nCy,-1.5\nDi,4.0\n";
    let path = format!("/leagues/{}/rosters", night.league);
    let added = api.call("POST", &path).raw("text/csv", roster).by(&cast.olga).key(&id()).expect(201).await.json();
    let starts: Vec<Value> =
        added["items"].as_array().expect("items").iter().map(|item| item["starting_handicap"].clone()).collect();
    assert_eq!(starts, [-2.8, -0.4, -1.5, 4.0].map(|start| json!(start)));
    for (cell, pointer) in
        [("++2", "/2/starting_handicap"), ("+", "/2/starting_handicap"), ("+10.1", "/2/starting_handicap")]
    {
        let roster = format!("display_name,starting_handicap\nEd,{cell}\n");
        let call = api.call("POST", &path).raw("text/csv", roster).by(&cast.olga).key(&id());
        let seen = call.refused(422, "validation").await;
        assert_eq!(seen.faults()[0].0, pointer, "{cell}: {seen}");
    }
    let cookie = crate::support::browsing::signed_in(&api, &cast.olga.email).await;
    let ada = text(&added["items"][0], "id");
    let shown = crate::support::browsing::page(&api, &format!("/members/{ada}"), &cookie).expect(200).await.text();
    assert!(shown.contains("starting handicap of +2.8"), "{shown}");
    // A plus player gives strokes back: 36 points less the 3 of 95 % of 2.8.
    let card = api.hand_in(&night.event, &cast.olga, &round(&ada)).await;
    assert_eq!((&card.json()["playing_handicap"], &card.json()["points"]), (&json!(-3), &json!(33)));
    let shown =
        crate::support::browsing::page(&api, &format!("/rounds/{}", card.id()), &cookie).expect(200).await.text();
    assert!(shown.contains(">+3 strokes</dd>"), "{shown}");
}

/// Flights may be names without limits: who is in one, organizers say; nobody else gets into one by a handicap.
#[tokio::test]
async fn flights_may_be_names_alone() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/leagues/{}/seasons", night.league);
    let flights = json!({ "flights": [{ "name": "Ladies" }, { "name": "Seniors", "handicap_max": null }] });
    let field = json!({ "field": { "flights": ["Ladies", "Seniors"] } });
    let body = merged(crate::support::harness::season_with(&field), &flights);
    let season = api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id();
    let night = Night { season, ..night };
    let event = api.event(&cast, &night, json!({})).await;
    let ladies = json!({ "flight": "Ladies" });
    api.patch(format!("/members/{}", night.ann), &ladies).by(&cast.olga).matching("*").expect(200).await;
    start(&api, &cast, &night.ben, "", 12.0).await;
    for (person, member) in [(&cast.ann, &night.ann), (&cast.ben, &night.ben), (&cast.sam, &night.sam)] {
        api.hand_in(&event, person, &round(member)).await;
    }
    let table = api.get(format!("/seasons/{}/standings", night.season)).by(&cast.ann).expect(200).await.json();
    let rows = table["items"].as_array().expect("rows").iter();
    let rows: Vec<(String, Value, Value)> =
        rows.map(|row| (text(row, "display_name"), row["flight"].clone(), row["position"].clone())).collect();
    let due = [("Ann".to_owned(), json!("Ladies"), json!(1))];
    assert_eq!(rows, due, "who is in no flight is not ranked where flights are ranked apart");
    // One limit among them, and the order counts again.
    let mixed = json!({ "flights": [{ "name": "Ladies" }, { "name": "Seniors", "handicap_max": 9.9 }] });
    let at = format!("/seasons/{}", night.season);
    api.patch(at, &mixed).by(&cast.olga).matching("*").refused(422, "flights-overlap").await;
}

/// Somebody who joins under the name of a member may be that member: it is asked, and the code is not spent by the question.
#[tokio::test]
async fn a_second_member_of_one_name_is_asked_about() {
    let (api, cast) = shared().await;
    let (league, _) = api.found(&cast.olga).await;
    let members = format!("/leagues/{league}/members");
    let record = json!({ "display_name": " aNN " });
    let record = api.post(&members, &record).by(&cast.olga).key(&id()).expect(201).await.id();
    let invitations = format!("/leagues/{league}/invitations");
    let invite = || api.post(&invitations, &json!({ "role": "player" })).by(&cast.olga).expect(201);
    let code = text(&invite().await.json(), "code");
    let accept = format!("/invitations/{code}/acceptance");
    api.call("POST", &accept).by(&cast.ann).refused(409, "same-name").await;
    let odd = format!("{accept}?confirm=everything");
    api.call("POST", &odd).by(&cast.ann).refused(400, "malformed").await;
    let joined = api.call("POST", &format!("{accept}?confirm=name")).by(&cast.ann).expect(201).await.id();
    assert_ne!(joined, record);
    // Another name, the record itself, and the name of somebody who was erased are no question.
    let code = text(&invite().await.json(), "code");
    api.call("POST", &format!("/invitations/{code}/acceptance")).by(&cast.ben).expect(201).await;
    let ben = api.post(&members, &json!({ "display_name": "Sam" })).by(&cast.olga).key(&id()).expect(201).await.id();
    let claim = json!({ "role": "player", "member_id": ben });
    let code = text(&api.post(&invitations, &claim).by(&cast.olga).expect(201).await.json(), "code");
    api.call("POST", &format!("/invitations/{code}/acceptance")).by(&cast.sam).expect(201).await;

    // The page asks too.
    let zoe = api.person("Zoe").await;
    api.post(&members, &json!({ "display_name": "Zoe" })).by(&cast.olga).key(&id()).expect(201).await;
    let code = text(&invite().await.json(), "code");
    let cookie = crate::support::browsing::signed_in(&api, &zoe.email).await;
    let form = [("code", code.as_str())];
    let asked = crate::support::browsing::send(&api, "/join", &cookie, &form).expect(409).await.text();
    assert!(asked.to_lowercase().contains("already has a player called zoe"), "{asked}");
    assert!(asked.contains(r#"name="confirm" value="name""#), "{asked}");
    let form = [("code", code.as_str()), ("confirm", "name")];
    let joined = crate::support::browsing::send(&api, "/join", &cookie, &form).expect(303).await;
    assert_eq!(joined.header("location"), format!("/leagues/{league}"));
}
