//! Matches of sides with several balls: of each hole the best so many count.

use crate::support::harness::{Api, Cast, Night, PARS, card, id, merged, own, shared, text};
use serde_json::{Value, json};

async fn member(api: &Api, cast: &Cast, night: &Night, name: &str, start: f64) -> String {
    let path = format!("/leagues/{}/members", night.league);
    let body = json!({ "display_name": name, "starting_handicap": start });
    api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id()
}

async fn add(api: &Api, cast: &Cast, night: &Night, what: &str, body: Value) -> String {
    let path = format!("/seasons/{}/{what}", night.season);
    api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id()
}

/// A card over nine holes of par 36 with strokes over par on some holes.
fn nine(member: &str, over: &[(usize, i8)]) -> Value {
    let mut strokes = PARS;
    for (hole, over) in over {
        strokes[hole - 1] = strokes[hole - 1].checked_add_signed(*over).expect("a score");
    }
    card(member, &strokes)
}

/// Auks: one off 2 over nine holes (4.0; strokes on holes 1 and 2), par; the other off 0, one over on hole 3.
/// Boobies: both off 0; one par, the other one under on hole 1.
/// ```text
/// best 1 of 2, 90 per cent: 4.0 / 2 · 0.9 = 1.8, so 2 strokes
///   hole 1   3 (4 − 1) and 3: tied    hole 2   4 (5 − 1) and 5: Auks    hole 3   3 and 3: tied    the rest tied
///   Auks 1 up; totals over all balls 34 + 37 = 71 and 36 + 35 = 71: half each
///   a hole 1, the match 2, the total 1: Auks 1 + 8/2 + 2 + 0.5 = 7.5, Boobies 8/2 + 0.5 = 4.5
/// both balls, 100 per cent
///   hole 1   3 + 4 and 4 + 3: tied    hole 2   4 + 5 and 5 + 5: Auks    hole 3   3 + 4 and 3 + 3: Boobies
///   tied: 6 each
/// ```
#[tokio::test]
async fn the_best_balls_of_a_side_meet_in_a_match() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let mut members = Vec::new();
    for (name, start) in [("Ada", 4.0), ("Abe", 0.0), ("Bea", 0.0), ("Bob", 0.0)] {
        members.push(member(&api, &cast, &night, name, start).await);
    }
    let mut teams = Vec::new();
    for (name, of) in [("Auks", &members[..2]), ("Boobies", &members[2..])] {
        let of: Vec<Value> = of.iter().map(|member| json!({ "member_id": member })).collect();
        teams.push(add(&api, &cast, &night, "teams", json!({ "name": name, "members": of })).await);
    }
    let event = api.event(&cast, &night, json!({ "name": "Nine", "tee_id": night.nine_tee, "holes": 9 })).await;
    let points = json!({ "per_hole": 1, "per_match": 2, "per_total": 1 });
    let mut fixtures = Vec::new();
    let mut competitions = Vec::new();
    for (count, pct) in [(json!(1), 90), (json!({ "3": 2, "4": 2, "5": 2 }), 100)] {
        let terms = json!({ "name": "Fours", "position": 2, "meeting": { "kind": "match", "points": points },
                            "side": { "kind": "best", "of": 2, "count": count } });
        let made = add(&api, &cast, &night, "competitions", terms).await;
        let seen = api.get(format!("/competitions/{made}")).by(&cast.ann).expect(200).await.json();
        assert_eq!((&seen["computed"]["allowance_pct"], &seen["side"]["by"]), (&json!(pct), &json!("hole")));
        assert_eq!(seen["computed"]["allowance_source"], "RoH Appendix C");
        let sides = json!([{ "event_id": event, "a": { "team_id": teams[0] }, "b": { "team_id": teams[1] } }]);
        let path = format!("/competitions/{made}/fixtures");
        let drawn = api.post(path, &sides).by(&cast.olga).key(&id()).expect(201).await.json();
        fixtures.push(format!("/fixtures/{}", text(&drawn["items"][0], "fixture_id")));
        competitions.push(made);
    }
    let terms = api.get(format!("/competitions/{}/terms", competitions[0])).by(&cast.ann).expect(200).await.text();
    assert!(
        terms.contains("2 players a side, each with an own ball, of which the best 1 on each hole count"),
        "{terms}"
    );
    let stands = async |fixture: &str| {
        let seen = api.get(fixture).by(&cast.ben).expect(200).await.json();
        format!(
            "{} {}:{} {}",
            text(&seen, "state"),
            seen["points"]["a"],
            seen["points"]["b"],
            seen["matches"][0]["result"]
        )
    };
    assert_eq!(stands(&fixtures[0]).await, "planned 0:0 \"in progress\"");
    for (n, over) in [&[][..], &[(3, 1)], &[]].into_iter().enumerate() {
        api.hand_in(&event, &cast.olga, &nine(&members[n], over)).await;
    }
    assert_eq!(stands(&fixtures[0]).await, "in_play 0:0 \"in progress\"");
    api.hand_in(&event, &cast.olga, &nine(&members[3], &[(1, -1)])).await;
    assert_eq!(stands(&fixtures[0]).await, "played 7.5:4.5 \"1 up\"");
    assert_eq!(stands(&fixtures[1]).await, "played 6:6 \"tied\"");
    let seen = api.get(&fixtures[0]).by(&cast.ben).expect(200).await.json();
    let one = &seen["matches"][0];
    assert_eq!(one["a"].as_array().map(Vec::len), Some(2));
    assert_eq!((&one["holes"][1]["a"], &one["holes"][1]["b"]), (&json!(4), &json!(5)));
    let table = api.get(format!("/competitions/{}/standings", competitions[0])).by(&cast.ben).expect(200).await.json();
    assert_eq!((&table["items"][0]["display_name"], &table["items"][0]["total"]), (&json!("Auks"), &json!(7.5)));

    // A player of a pair concedes a hole; the report and another server see the same.
    crate::stored::journal_bundle::clean(&api).await;
    let bundle = crate::stored::journal_bundle::bundle(&api, &night.league, &cast.olga).await;
    let report = crate::stored::matches::report(&bundle, &night.season);
    let reported = report["competitions"].as_array().expect("competitions").iter();
    let reported = reported.filter(|one| one["id"] == json!(competitions[0])).map(|one| one["standings"].clone());
    assert_eq!(reported.collect::<Vec<_>>(), [table["items"].clone()]);
    let hole = json!({ "match": 1, "hole": 2, "by": "a" });
    api.post(format!("{}/concessions", fixtures[0]), &hole).by(&cast.sam).key(&id()).expect(201).await;
    // Hole 2 goes over: Boobies win 1 up.
    assert_eq!(stands(&fixtures[0]).await, "played 4.5:7.5 \"1 up\"");
}

#[tokio::test]
async fn sides_that_mean_nothing_are_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/seasons/{}/competitions", night.season);
    let best = |more: Value| merged(json!({ "kind": "best", "of": 2, "count": 1 }), &more);
    let meeting = json!({ "kind": "match" });
    let cases = [
        (json!({ "side": best(json!({})) }), "competition-misfit", "/side"),
        (json!({ "side": best(json!({})), "meeting": { "kind": "hole" } }), "competition-misfit", "/side"),
        (json!({ "side": best(json!({ "by": "card" })), "meeting": meeting }), "competition-misfit", "/side/by"),
        (json!({ "side": best(json!({ "count": 3 })), "meeting": meeting }), "competition-misfit", "/side/count"),
        (
            json!({ "side": best(json!({ "count": { "3": 1, "4": 1 } })), "meeting": meeting }),
            "competition-misfit",
            "/side/count",
        ),
        (json!({ "side": best(json!({ "of": 7 })), "meeting": meeting }), "validation", "/side/of"),
        (json!({ "side": best(json!({ "of": 1 })), "meeting": meeting }), "validation", "/side/of"),
        (json!({ "side": best(json!({ "count": 0 })), "meeting": meeting }), "validation", "/side/count"),
        (
            json!({ "side": best(json!({})), "meeting": { "kind": "match", "tied": "extra_holes" } }),
            "competition-misfit",
            "/meeting/tied",
        ),
    ];
    for (terms, kind, pointer) in cases {
        let body = merged(json!({ "name": "X" }), &terms);
        let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, kind).await;
        let pointers: Vec<String> = seen.faults().into_iter().map(|(pointer, _)| pointer).collect();
        assert_eq!(pointers, [pointer], "{terms}");
    }
    // Teams meet in it, even in a single match.
    let pairs = json!({ "name": "Fours", "meeting": meeting, "side": best(json!({})) });
    let pairs = add(&api, &cast, &night, "competitions", pairs).await;
    let sides = json!([{ "event_id": night.event, "a": { "member_id": night.ann }, "b": { "member_id": night.ben } }]);
    let path = format!("/competitions/{pairs}/fixtures");
    let seen = api.post(path, &sides).by(&cast.olga).key(&id()).refused(422, "fixture").await;
    assert_eq!(seen.faults()[0].0, "/0/a/member_id");
}
