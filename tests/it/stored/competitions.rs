//! Competitions: one card counts in several, each by its own terms.

use crate::support::harness::{Api, Cast, Night, card, id, par, round, shared, text};
use serde_json::{Value, json};

async fn add(api: &Api, cast: &Cast, night: &Night, terms: Value) -> String {
    let path = format!("/seasons/{}/competitions", night.season);
    api.post(path, &terms).by(&cast.olga).key(&id()).expect(201).await.id()
}

async fn rows(api: &Api, cast: &Cast, competition: &str) -> Vec<(String, Value, Value)> {
    let path = format!("/competitions/{competition}/standings");
    let table = api.get(path).by(&cast.ben).expect(200).await.json();
    assert_eq!(table["competition_id"], competition);
    let row = |row: &Value| (text(row, "display_name"), row["position"].clone(), row["total"].clone());
    table["items"].as_array().expect("rows").iter().map(row).collect()
}

/// Three cards without handicap strokes over pars of 72. Ann plays par on every hole, Ben is one under on hole 4 and one over
/// on hole 5, Sam is one over on hole 1.
/// ```text
/// points      Ann 36, Ben 36 − 1 + 1 = 36, Sam 35
/// strokes     Ann 72, Ben 72, Sam 73: the first two places share (5 + 3) / 2 = 4, the third has 1
/// par/bogey   Ann 0, Ben 1 − 1 = 0, Sam −1
/// skins       holes 1 to 3 are tied, so hole 4 is worth 4: Ben. Hole 5 is tied by Ann and Sam, 6 to 18 by all: those level
///             on the last hole share the 14 that hang on it: 4 2/3 each
/// sum         points and skins: Ann 40 2/3, Ben 44 2/3, Sam 39 2/3
/// ```
#[tokio::test]
async fn one_card_counts_in_every_competition_of_its_season() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let places = add(
        &api,
        &cast,
        &night,
        json!({ "name": "Places", "basis": "gross", "position": 2,
                "award": { "kind": "by_place", "table": [5, 3, 1], "beyond": 0.5 } }),
    );
    let places = places.await;
    let against_par = json!({ "name": "Par", "score": { "kind": "par_bogey" }, "position": 3 });
    let against_par = add(&api, &cast, &night, against_par).await;
    let pars = |changes: &[(usize, i8)]| -> Vec<u8> {
        let mut strokes: Vec<u8> = (1..=18).map(par).collect();
        for (hole, over) in changes {
            strokes[hole - 1] = strokes[hole - 1].checked_add_signed(*over).expect("a score");
        }
        strokes
    };
    let first = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.json();
    api.hand_in(&night.event, &cast.ben, &card(&night.ben, &pars(&[(4, -1), (5, 1)]))).await;
    api.hand_in(&night.event, &cast.sam, &card(&night.sam, &pars(&[(1, 1)]))).await;
    // Those that come after the cards count them too.
    let skins = json!({ "name": "Skins", "basis": "gross", "meeting": { "kind": "hole" }, "position": 4 });
    let skins = add(&api, &cast, &night, skins).await;
    let sum = json!({ "name": "All", "meeting": { "kind": "sum", "of": [night.competition, skins] }, "position": 5 });
    let sum = add(&api, &cast, &night, sum).await;

    let due = |rows: [(&str, Value, Value); 3]| rows.map(|(name, position, total)| (name.to_owned(), position, total));
    let one = json!(1);
    let seen = rows(&api, &cast, &night.competition).await;
    assert_eq!(
        seen,
        due([("Ann", one.clone(), json!(36)), ("Ben", one.clone(), json!(36)), ("Sam", json!(3), json!(35))])
    );
    let seen = rows(&api, &cast, &places).await;
    assert_eq!(
        seen,
        due([("Ann", one.clone(), json!(4)), ("Ben", one.clone(), json!(4)), ("Sam", json!(3), json!(1))])
    );
    let seen = rows(&api, &cast, &against_par).await;
    assert_eq!(
        seen,
        due([("Ann", one.clone(), json!(0)), ("Ben", one.clone(), json!(0)), ("Sam", json!(3), json!(-1))])
    );
    let seen = rows(&api, &cast, &skins).await;
    let thirds = |n: f64| json!(((n / 3.0) * 1e6).round() / 1e6);
    let (two, level) = (json!(2), thirds(14.0));
    assert_eq!(seen[0], ("Ben".into(), one.clone(), thirds(26.0)));
    assert_eq!(seen[1..], [("Sam".into(), two.clone(), level.clone()), ("Ann".into(), two.clone(), level)]);
    let seen = rows(&api, &cast, &sum).await;
    let due = [("Ben", one, thirds(134.0)), ("Ann", two, thirds(122.0)), ("Sam", json!(3), thirds(119.0))];
    assert_eq!(seen, due.map(|(name, position, total)| (name.to_owned(), position, total)));

    // The card says what it is in each, and where it stands.
    let seen = api.get(format!("/rounds/{}", text(&first, "id"))).by(&cast.ben).expect(200).await.json();
    let listed: Vec<(&Value, &Value, &Value)> = seen["competitions"]
        .as_array()
        .expect("competitions")
        .iter()
        .map(|own| (&own["score"], &own["place"], &own["value"]))
        .collect();
    let none = &Value::Null;
    assert_eq!(listed[0], (&json!(36), &json!(1), &json!(36)));
    assert_eq!(listed[1], (&json!(72), &json!(1), &json!(4)));
    assert_eq!(listed[2], (&json!(0), &json!(1), &json!(0)));
    assert_eq!((listed[3].0, listed[3].1), (none, &json!(2)));
    // The board goes by the competition that is asked for.
    let path = format!("/events/{}/board?competition={skins}", night.event);
    let board = api.get(&path).by(&cast.ben).expect(200).await.json();
    assert_eq!(
        (&board["items"][0]["display_name"], &board["items"][0]["holes"][3]),
        (&json!("Ben"), &json!(par(4) - 1))
    );
    let wrong = format!("/events/{}/board?competition={}", night.event, id());
    api.get(&wrong).by(&cast.ben).refused(422, "unknown-competition").await;
}

#[tokio::test]
async fn terms_that_mean_nothing_together_are_refused_with_the_nearest() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let other = api.night(&cast).await;
    let path = format!("/seasons/{}/competitions", night.season);
    let by_place = json!({ "kind": "by_place", "table": [3, 2] });
    let sum = |of: &[&str]| json!({ "kind": "sum", "of": of });
    let eclectic = add(&api, &cast, &night, json!({ "name": "E", "meeting": { "kind": "season" } })).await;
    let places = add(&api, &cast, &night, json!({ "name": "P", "award": by_place })).await;
    let strokes = add(&api, &cast, &night, json!({ "name": "S" })).await;
    let cases = [
        (json!({ "meeting": { "kind": "hole" }, "award": by_place }), "competition-misfit", "/award"),
        (json!({ "meeting": { "kind": "season" }, "award": by_place }), "competition-misfit", "/award"),
        (json!({ "award": { "kind": "by_points" } }), "competition-misfit", "/award"),
        (json!({ "meeting": { "kind": "hole" }, "score": { "kind": "quota" } }), "competition-misfit", "/score"),
        (json!({ "score": { "kind": "points", "table": { "-1": 3, "1": 1 } } }), "points-table", "/score/table"),
        (json!({ "award": { "kind": "by_place", "table": [1, 2] } }), "award-order", "/award/table/1"),
        (json!({ "award": { "kind": "by_place", "table": [2], "beyond": 3 } }), "award-order", "/award/beyond"),
        (json!({ "field": { "flights": ["Ghosts"] } }), "unknown-flight", "/field/flights/0"),
        (json!({ "meeting": sum(&[&other.competition]) }), "unknown-competition", "/meeting/of/0"),
        (json!({ "meeting": sum(&[&eclectic]) }), "competition-misfit", "/meeting/of/0"),
        (json!({ "meeting": sum(&[&places, &strokes]) }), "competition-misfit", "/meeting/of/1"),
        (json!({ "meeting": sum(&[&places, &places]) }), "repeated-id", "/meeting/of/1"),
        (json!({ "score": { "kind": "maximum_score", "maximum": 1 } }), "validation", "/score/maximum"),
        (
            json!({ "score": { "kind": "maximum_score", "maximum": { "over_par": 21 } } }),
            "validation",
            "/score/maximum/over_par",
        ),
        (json!({ "score": { "kind": "points", "table": { "par": 3 } } }), "validation", "/score/table/par"),
    ];
    for (terms, kind, pointer) in cases {
        let body = crate::support::harness::merged(json!({ "name": "X" }), &terms);
        let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, kind).await;
        let pointers: Vec<String> = seen.faults().into_iter().map(|(pointer, _)| pointer).collect();
        assert_eq!(pointers, [pointer], "{terms}");
    }
    for maximum in [json!("double_par"), json!("net_double_bogey"), json!({ "over_par": 3 }), json!(8)] {
        let score = json!({ "kind": "maximum_score", "maximum": maximum });
        let made = add(&api, &cast, &night, json!({ "name": "M", "score": score })).await;
        let seen = api.get(format!("/competitions/{made}")).by(&cast.ann).expect(200).await.json();
        assert_eq!(seen["score"], score);
        assert_eq!(seen["computed"]["allowance_pct"], 95);
    }
}

/// The last competition stays; one that another adds up stays; one that a final event knows stays, and a later one reads that
/// event too.
#[tokio::test]
async fn a_competition_goes_unless_something_rests_on_it() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = |id: &str| format!("/competitions/{id}");
    let main = at(&night.competition);
    api.delete(&main).by(&cast.olga).matching("*").refused(409, "last-competition").await;
    let skins = add(&api, &cast, &night, json!({ "name": "Skins", "meeting": { "kind": "hole" } })).await;
    let sum = json!({ "name": "All", "meeting": { "kind": "sum", "of": [skins, night.competition] } });
    let sum = add(&api, &cast, &night, sum).await;
    api.delete(at(&skins)).by(&cast.olga).matching("*").refused(409, "competition-in-use").await;
    // A merge patch takes the other kind's fields away only if it says so.
    let season = json!({ "kind": "season", "carry": null, "last": null });
    let turned = json!({ "meeting": season, "award": { "kind": "by_score" } });
    let seen = api.patch(at(&skins), &turned).by(&cast.olga).matching("*").refused(422, "competition-misfit").await;
    assert_eq!(seen.faults()[0].0, "/meeting");
    api.delete(at(&sum)).by(&cast.olga).matching("*").expect(204).await;
    api.delete(at(&skins)).by(&cast.olga).matching("*").expect(204).await;
    api.get(at(&skins)).by(&cast.olga).refused(404, "not-found").await;

    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    api.settle(&night.event, &cast.olga).await;
    let gross = add(&api, &cast, &night, json!({ "name": "Gross", "basis": "gross" })).await;
    assert_eq!(rows(&api, &cast, &gross).await, [("Ann".to_owned(), json!(1), json!(72))]);
    api.delete(&main).by(&cast.olga).matching("*").refused(409, "terms-settled").await;
    api.patch(at(&gross), &json!({ "basis": "net" })).by(&cast.olga).matching("*").expect(200).await;
    api.delete(at(&gross)).by(&cast.olga).matching("*").expect(204).await;
    let terms = api.get(format!("{main}/terms")).by(&cast.ann).expect(200).await.json();
    assert_eq!(terms[0]["source"], "Rules of Golf, Rule 21.1");
}
