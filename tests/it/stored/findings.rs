//! Findings: evidence opens them, those concerned are told and heard, a person rules, and nobody else learns of it.

use crate::support::harness::{Api, Cast, Night, Person, Twin, id, own, round, shared, softened, text};
use serde_json::{Value, json};

async fn finding(api: &Api, id: &str, by: &Person) -> Value {
    api.get(format!("/findings/{id}")).by(by).expect(200).await.json()
}

fn ids(items: &Value) -> Vec<String> {
    items.as_array().expect("items").iter().map(|item| text(item, "id")).collect()
}

#[tokio::test]
async fn a_finding_says_what_was_seen_its_odds_and_its_size() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (player, rounds) = api.finding(&cast, &night, &cast.ann, &night.ann).await;
    let seen = finding(&api, &player, &cast.olga).await;
    assert_eq!(seen["explained_by"], Value::Null);
    assert_eq!((&seen["state"], &seen["subject"]), (&json!("open"), &json!({ "member_id": night.ann })));
    let evidence = &seen["evidence"];
    let (factor, threshold) =
        (evidence["factor_log10"].as_f64().unwrap(), evidence["threshold_log10"].as_f64().unwrap());
    // 200 players or set-ups, 11 pairs of kind and subject, 5 %: log10 of 44,000.
    assert!((threshold - 44_000_f64.log10()).abs() < 1e-9 && factor >= threshold, "{evidence}");
    let mut named: Vec<String> =
        seen["rounds"].as_array().expect("rounds").iter().map(|id| id.as_str().expect("an id").to_owned()).collect();
    named.sort();
    let mut due = rounds.clone();
    due.sort();
    assert_eq!(named, due);
    assert!(!seen["summary"].as_str().expect("a sentence").is_empty());
    let reasons = seen["reasons"].to_string();
    for words in ["not the chance that anyone did something wrong", "of 100 seasons", "closest", "would decide it"] {
        assert!(reasons.contains(words), "{words}: {reasons}");
    }
    assert!(seen["effect"]["positions"].is_array());
    // The server told her, and she has not looked yet.
    assert_eq!(
        (&seen["concerned"][0]["told_at"], &seen["seen_at"]),
        (&json!(crate::support::harness::START), &Value::Null)
    );
    assert_eq!(seen["answer_by"], "2027-01-21T19:00:00Z");
    // Whoever plays on a set-up is concerned by the finding about it.
    let (setup, _) = api.setup_finding(&cast, &night, &cast.ann, &night.ann).await;
    let about_setup = finding(&api, &setup, &cast.olga).await;
    assert_eq!(about_setup["concerned"][0]["member_id"], night.ann.as_str());
    let own = finding(&api, &player, &cast.ann).await;
    assert_eq!(own["effect"].get("positions"), None, "a member sees nobody else's place");
    assert_eq!(own["seen_at"], crate::support::harness::START);
    let told = api.get("/me/notices?limit=200").by(&cast.ann).expect(200).await.json();
    let told = told["items"].as_array().expect("items").iter().filter(|notice| notice["kind"] == "finding");
    let about: Vec<&Value> = told.map(|notice| &notice["finding_id"]).collect();
    assert!(about.contains(&&json!(player)) && about.contains(&&json!(setup)));
}

#[tokio::test]
async fn nobody_rules_before_those_concerned_had_their_say() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let (player, _) = api.finding(&cast, &night, &cast.ann, &night.ann).await;
    let rulings = format!("/findings/{player}/rulings");
    let nothing = json!({ "decision": "no_action", "reason": "the mat explains it" });
    api.post(&rulings, &nothing).by(&cast.olga).key(&id()).refused(409, "answer-awaited").await;
    let statement = json!({ "text": "I was told that the bay softens nothing." });
    api.post(format!("/findings/{player}/statements"), &statement).by(&cast.ann).key(&id()).expect(201).await;
    let seen = finding(&api, &player, &cast.olga).await;
    assert_eq!((&seen["state"], &seen["statements"][0]["text"]), (&json!("answered"), &statement["text"]));
    let given = api.post(&rulings, &nothing).by(&cast.olga).key(&id()).expect(201).await.json();
    assert_eq!((&given["decision"], &given["moves"]), (&json!("no_action"), &json!([])));
    assert_eq!(finding(&api, &player, &cast.ann).await["state"], "ruled");

    // Evidence begins anew: one more softened round is not six, and it is held against twice the odds.
    let event = api.event(&cast, &night, json!({})).await;
    api.hand_in(&event, &cast.ann, &softened(&night.ann, &night.setup, 9)).await;
    let path = format!("/leagues/{}/findings", night.league);
    let all = api.get(&path).by(&cast.olga).expect(200).await.json();
    let about_ann = all["items"].as_array().expect("items").iter().filter(|found| {
        found["kind"] == "softened_line"
            && found["subject"]["member_id"] == night.ann.as_str()
            && found["id"] != player.as_str()
    });
    for again in about_ann {
        let threshold = again["evidence"]["threshold_log10"].as_f64().expect("a number");
        assert!((threshold - 88_000_f64.log10()).abs() < 1e-9, "{again}");
    }
}

#[tokio::test]
async fn without_an_answer_a_ruling_waits_for_the_day() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let path = format!("/leagues/{}/members", night.league);
    let walter = api.post(path, &json!({ "display_name": "Walter" })).by(&cast.olga).key(&id()).expect(201).await.id();
    let (player, _) = api.finding(&cast, &night, &cast.olga, &walter).await;
    // Without an account nobody was told, so no day runs.
    let seen = finding(&api, &player, &cast.olga).await;
    assert_eq!((&seen["told_at"], &seen["answer_by"]), (&Value::Null, &Value::Null));
    let told = format!("/findings/{player}/told");
    api.post(&told, &json!({ "member_id": night.ann })).by(&cast.olga).key(&id()).refused(422, "unknown-member").await;
    let noted = api.post(&told, &json!({ "member_id": walter })).by(&cast.olga).key(&id()).expect(201).await.json();
    assert_eq!(noted["told_by"], night.olga.as_str());
    api.post(&told, &json!({ "member_id": walter })).by(&cast.olga).key(&id()).refused(409, "invalid-transition").await;
    let rulings = format!("/findings/{player}/rulings");
    let nothing = json!({ "decision": "no_action", "reason": "a new bay" });
    api.server.pass(7 * 86_400 - 1);
    let olga = api.sign_in(&cast.olga.email).await;
    api.post(&rulings, &nothing).by(&olga).key(&id()).refused(409, "answer-awaited").await;
    api.server.pass(1);
    api.post(&rulings, &nothing).by(&olga).key(&id()).expect(201).await;
}

/// Everything that Ben can read of the league, ids and times apart.
async fn what_ben_reads(api: &Api, cast: &Cast, night: &Night, rounds: &[String]) -> Vec<String> {
    let mut paths = vec![
        format!("/leagues/{}", night.league),
        format!("/leagues/{}/members", night.league),
        format!("/leagues/{}/setups", night.league),
        format!("/leagues/{}/findings", night.league),
        format!("/seasons/{}", night.season),
        format!("/seasons/{}/standings", night.season),
        format!("/seasons/{}/standings/changes", night.season),
        format!("/seasons/{}/events", night.season),
        format!("/seasons/{}/baseline", night.season),
        format!("/members/{}", night.ann),
        format!("/members/{}/handicap", night.ann),
        format!("/members/{}/putting", night.ann),
        "/me/notices".to_owned(),
    ];
    for round in rounds {
        paths.extend(["", "/versions", "/working", "/queries"].map(|part| format!("/rounds/{round}{part}")));
    }
    let mut read = Vec::new();
    for path in paths {
        let seen = api.get(&path).by(&cast.ben).expect(200).await;
        let words = seen.text();
        let plain = words.split_inclusive(|c: char| !c.is_ascii_hexdigit() && c != '-');
        let plain = plain.map(|word| if word.len() >= 36 && word.matches('-').count() == 4 { "an id" } else { word });
        read.push(format!("{} {}", seen.header("etag"), plain.collect::<String>()));
    }
    read
}

/// S19: a league with a finding and its twin without one answer an uninvolved member alike.
#[tokio::test]
async fn an_uninvolved_member_learns_nothing() {
    let api = own();
    let cast = api.cast().await;
    let (twins, open) = api.twins(&cast).await;

    let compare = async |when: &str| {
        let mut read = Vec::new();
        for Twin { night, rounds, .. } in &twins {
            let mut all = what_ben_reads(&api, &cast, night, rounds).await;
            // The budget itself is laid down for everybody to read.
            all.iter_mut().for_each(|text| *text = text.replace("1e-100", "5.0"));
            read.push(all);
        }
        for (with, without) in read[0].iter().zip(&read[1]) {
            assert_eq!(with, without, "{when}: a member learns that there is a finding");
        }
    };
    compare("open").await;
    for found in &open {
        let path = format!("/findings/{found}");
        api.get(&path).by(&cast.ben).refused(404, "not-found").await;
        api.post(format!("{path}/statements"), &json!({ "text": "I did not know." }))
            .by(&cast.ann)
            .key(&id())
            .expect(201)
            .await;
    }
    compare("answered").await;
    for found in &open {
        let ruling = json!({ "decision": "no_action", "reason": "the bay" });
        api.post(format!("/findings/{found}/rulings"), &ruling).by(&cast.olga).key(&id()).expect(201).await;
    }
    compare("ruled").await;
}

#[tokio::test]
async fn a_ruling_shows_its_effect_first_leaves_rounds_or_putts_out_and_is_undone() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (player, rounds) = api.finding(&cast, &night, &cast.ann, &night.ann).await;
    api.post(format!("/findings/{player}/statements"), &json!({ "text": "ask the bay" }))
        .by(&cast.ann)
        .key(&id())
        .expect(201)
        .await;
    let rulings = format!("/findings/{player}/rulings");
    let rule = |decision: &str, rounds: &[String]| json!({ "decision": decision, "round_ids": rounds, "reason": "the bay softens inside 20 ft" });
    let send = |body: Value| api.post(&rulings, &body).by(&cast.olga).key(&id());
    let figures = async || {
        let table = api.get(format!("/seasons/{}/standings", night.season)).by(&cast.ben).expect(200).await.json();
        (table["items"][0]["total"].clone(), table["items"][0]["strokes_gained_putting_per_round"].clone())
    };
    let (total, gained) = figures().await;
    assert!(!gained.is_null());
    send(rule("exclude_putts", &[])).refused(422, "rounds-missing").await;
    send(rule("no_action", &rounds[..1])).refused(422, "rounds-missing").await;
    send(rule("exclude_round", &[id()])).refused(422, "unknown-id").await;
    send(rule("exclude_round", &[rounds[0].clone(), rounds[0].clone()])).refused(422, "repeated-id").await;
    send(rule("exclude_putts", &rounds)).expect(201).await;
    assert_eq!(figures().await, (total.clone(), Value::Null), "putting figures alone");
    send(rule("exclude_putts", &rounds)).refused(409, "invalid-transition").await;
    let of_the_round = format!("/rounds/{}/rulings", rounds[0]);
    let undo = json!({ "decision": "reinstate", "reason": "by the back door" });
    api.post(&of_the_round, &undo).by(&cast.olga).key(&id()).refused(409, "nothing-to-undo").await;
    send(rule("reinstate", &rounds)).expect(201).await;
    assert_eq!(figures().await, (total.clone(), gained.clone()));
    let history = api.get(format!("/rounds/{}/versions", rounds[0])).by(&cast.ben).expect(200).await;
    assert!(!history.text().contains("reinstated"), "of what others do not see, they do not see the end either");

    let shown = api.post(format!("{rulings}?validate_only=true"), &rule("exclude_round", &rounds[..1]));
    let shown = shown.by(&cast.olga).expect(200).await.json();
    assert_eq!((figures().await, &shown["id"]), ((total.clone(), gained.clone()), &Value::Null));
    let given = send(rule("exclude_round", &rounds[..1])).expect(201).await.json();
    assert_eq!(given["moves"], shown["moves"]);
    assert_ne!(figures().await.0, total);
    // Others see that a round was left out, and neither why nor that there was a finding.
    let history = api.get(format!("/rounds/{}/versions", rounds[0])).by(&cast.ben).expect(200).await;
    let excluded =
        history.json()["items"].as_array().expect("items").iter().find(|item| item["act"] == "excluded").cloned();
    assert_eq!(excluded.expect("the exclusion")["reason"], Value::Null);
    assert!(!history.text().contains(&player) && !history.text().contains("softens"));
    let changes = api.get(format!("/seasons/{}/standings/changes", night.season)).by(&cast.ben).expect(200).await;
    assert!(!changes.text().contains(&player) && !changes.text().contains("softens"));
    send(rule("reinstate", &rounds[..1])).expect(201).await;
    assert_eq!(figures().await, (total, gained));
}

/// A card on a set-up that treats short putts like long ones.
fn round_on(member: &str, setup: &str) -> Value {
    let mut card = softened(member, setup, 1);
    for hole in card["holes"].as_array_mut().expect("holes") {
        hole["putts"][0]["played_line_deg"] = hole["putts"][0]["start_line_deg"].clone();
    }
    card
}

#[tokio::test]
async fn rounds_on_two_set_ups_are_left_out_and_come_back_at_once() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let (player, mut rounds) = api.finding(&cast, &night, &cast.ann, &night.ann).await;
    let bay = json!({ "label": "Bay 2", "sensor": "camera", "shared": true });
    let path = format!("/leagues/{}/setups", night.league);
    let other = api.post(path, &bay).by(&cast.ann).key(&id()).expect(201).await.id();
    let event = api.event(&cast, &night, json!({})).await;
    api.hand_in(&event, &cast.ben, &round_on(&night.ben, &other)).await;
    rounds.push(api.hand_in(&event, &cast.ann, &round_on(&night.ann, &other)).await.id());
    let event = api.event(&cast, &night, json!({})).await;
    rounds.push(api.hand_in(&event, &cast.ann, &round_on(&night.ann, &night.setup)).await.id());
    let said = json!({ "text": "ask the bay" });
    api.post(format!("/findings/{player}/statements"), &said).by(&cast.ann).key(&id()).expect(201).await;
    for decision in ["exclude_round", "reinstate"] {
        let ruling = json!({ "decision": decision, "round_ids": rounds, "reason": "the bays" });
        api.post(format!("/findings/{player}/rulings"), &ruling).by(&cast.olga).key(&id()).expect(201).await;
        let found = api.server.app.leagues.verify().await.expect("verify runs");
        assert_eq!(found.differences, Vec::<String>::new(), "{decision}");
    }
}

#[tokio::test]
async fn what_was_ruled_on_the_round_itself_is_undone_there() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (player, rounds) = api.finding(&cast, &night, &cast.ann, &night.ann).await;
    let said = json!({ "text": "ask the bay" });
    api.post(format!("/findings/{player}/statements"), &said).by(&cast.ann).key(&id()).expect(201).await;
    let (of_the_finding, of_the_round) =
        (format!("/findings/{player}/rulings"), format!("/rounds/{}/rulings", rounds[0]));
    let rule = |path: &str, decision: &str| {
        let mut ruling = json!({ "decision": decision, "reason": "the wrong bay" });
        if path == of_the_finding {
            ruling["round_ids"] = json!([rounds[0]]);
        }
        api.post(path, &ruling).by(&cast.olga).key(&id())
    };
    rule(&of_the_finding, "exclude_putts").expect(201).await;
    rule(&of_the_round, "exclude_round").expect(201).await;
    rule(&of_the_finding, "reinstate").refused(409, "invalid-transition").await;
    rule(&of_the_round, "reinstate").expect(201).await;
    rule(&of_the_round, "reinstate").refused(409, "nothing-to-undo").await;
    rule(&of_the_finding, "reinstate").expect(201).await;
}

#[tokio::test]
async fn whoever_is_concerned_does_not_rule_and_a_reviewer_from_outside_may() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (player, _) = api.finding(&cast, &night, &cast.olga, &night.olga).await;
    api.post(format!("/findings/{player}/statements"), &json!({ "text": "mine" }))
        .by(&cast.olga)
        .key(&id())
        .expect(201)
        .await;
    let rulings = format!("/findings/{player}/rulings");
    let nothing = json!({ "decision": "no_action", "reason": "the bay" });
    api.post(&rulings, &nothing).by(&cast.olga).key(&id()).refused(403, "conflict-of-interest").await;
    let invite = format!("/leagues/{}/invitations", night.league);
    api.post(&invite, &json!({ "role": "reviewer" })).by(&cast.olga).expect(422).await;
    api.post(&invite, &json!({ "role": "reviewer", "finding_id": id() }))
        .by(&cast.olga)
        .refused(422, "unknown-id")
        .await;
    let code =
        api.post(&invite, &json!({ "role": "reviewer", "finding_id": player })).by(&cast.olga).expect(201).await.json();
    let accept = format!("/invitations/{}/acceptance", text(&code, "code"));
    api.call("POST", &accept).by(&cast.ann).refused(409, "already-member").await;
    let accepted = api.call("POST", &accept).by(&cast.otto).expect(201).await.json();
    assert_eq!(accepted["finding_id"], player.as_str());
    // One finding and nothing else.
    assert!(finding(&api, &player, &cast.otto).await["effect"]["positions"].is_array());
    api.get(format!("/leagues/{}", night.league)).by(&cast.otto).refused(404, "not-found").await;
    api.get(format!("/leagues/{}/findings", night.league)).by(&cast.otto).refused(404, "not-found").await;
    api.post(format!("/findings/{player}/statements"), &nothing).by(&cast.otto).key(&id()).expect(422).await;
    api.post(&rulings, &nothing).by(&cast.otto).key(&id()).expect(201).await;
    let seen = finding(&api, &player, &cast.olga).await;
    assert_eq!((&seen["state"], &seen["rulings"][0]["member_id"]), (&json!("ruled"), &Value::Null));
}

#[tokio::test]
async fn an_organizer_who_stepped_aside_does_not_rule() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (player, _) = api.finding(&cast, &night, &cast.ann, &night.ann).await;
    api.post(format!("/findings/{player}/statements"), &json!({ "text": "mine" }))
        .by(&cast.ann)
        .key(&id())
        .expect(201)
        .await;
    let recusals = format!("/findings/{player}/recusals");
    api.post(&recusals, &json!({})).by(&cast.olga).key(&id()).expect(201).await;
    api.post(&recusals, &json!({})).by(&cast.olga).key(&id()).refused(409, "invalid-transition").await;
    let nothing = json!({ "decision": "no_action", "reason": "the bay" });
    let rulings = format!("/findings/{player}/rulings");
    api.post(rulings, &nothing).by(&cast.olga).key(&id()).refused(403, "conflict-of-interest").await;
}

/// A set-up that softens has a finding; whoever plays on it has none, alone or with others.
#[tokio::test]
async fn nobody_has_a_finding_for_a_set_up_that_softens() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let listed = async || {
        let all = api.get(format!("/leagues/{}/findings?limit=200", night.league)).by(&cast.olga).expect(200).await;
        all.json()["items"].as_array().expect("items").clone()
    };
    for turn in 0..4 {
        let event = api.event(&cast, &night, json!({})).await;
        for (by, member) in [(&cast.ann, &night.ann), (&cast.ben, &night.ben)] {
            api.hand_in(&event, by, &softened(member, &night.setup, turn)).await;
        }
    }
    let found = listed().await;
    assert!(found.iter().any(|found| found["subject"]["setup_id"] == night.setup.as_str()), "{found:?}");
    assert!(found.iter().all(|found| found["subject"].get("member_id").is_none()), "{found:?}");
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    assert_eq!(found.differences, Vec::<String>::new());
}

/// A set-up explains a finding about a player later: that says so first, and waits until the set-up is ruled upon.
#[tokio::test]
async fn a_finding_that_a_set_up_explains_later_says_so_and_waits_for_it() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let (player, own_rounds) = api.finding(&cast, &night, &cast.ann, &night.ann).await;
    let said = json!({ "text": "ask the bay" });
    api.post(format!("/findings/{player}/statements"), &said).by(&cast.ann).key(&id()).expect(201).await;
    let alone = finding(&api, &player, &cast.olga).await;
    let (setup, rounds) = api.setup_finding(&cast, &night, &cast.ann, &night.ann).await;

    for by in [&cast.olga, &cast.ann] {
        let seen = finding(&api, &player, by).await;
        let explained = &seen["explained_by"];
        let about_setups = explained["finding_ids"].as_array().expect("findings");
        assert!(about_setups.contains(&json!(setup)), "{explained}");
        let counts = [&explained["rounds"], &explained["left_rounds"]].map(|count| count.as_u64().expect("a count"));
        assert_eq!(counts, [rounds.len() as u64, own_rounds.len() as u64]);
        assert_eq!(explained["left_log10"], alone["evidence"]["now_log10"], "what the other rounds give");
        let first = seen["reasons"][0].as_str().expect("a reason");
        assert!(
            first.starts_with("The simulator comes first")
                && first.contains("is possible after the one about the simulator"),
            "{first}"
        );
    }
    let rulings = format!("/findings/{player}/rulings");
    let nothing = json!({ "decision": "no_action", "reason": "a worn mat" });
    api.post(&rulings, &nothing).by(&cast.olga).key(&id()).refused(409, "setup-first").await;
    api.post(format!("{rulings}?validate_only=true"), &nothing).by(&cast.olga).refused(409, "setup-first").await;

    let seen = finding(&api, &player, &cast.olga).await;
    for about_setup in seen["explained_by"]["finding_ids"].as_array().expect("findings") {
        let about_setup = about_setup.as_str().expect("an id");
        api.post(format!("/findings/{about_setup}/statements"), &said).by(&cast.ann).key(&id()).expect(201).await;
        let path = format!("/findings/{about_setup}/rulings");
        let ruling = json!({ "decision": "no_action", "reason": "the bay was set up wrongly" });
        api.post(path, &ruling).by(&cast.olga).key(&id()).expect(201).await;
    }
    let seen = finding(&api, &player, &cast.olga).await;
    assert_eq!(seen["explained_by"]["awaits_ruling"], false);
    api.post(&rulings, &nothing).by(&cast.olga).key(&id()).expect(201).await;
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    assert_eq!(found.differences, Vec::<String>::new());

    // However it was ruled: more rounds on it are no finding about her.
    let before = api.get(format!("/leagues/{}/findings?limit=200", night.league)).by(&cast.olga).expect(200).await;
    for turn in 0..3 {
        let event = api.event(&cast, &night, json!({})).await;
        api.hand_in(&event, &cast.ann, &softened(&night.ann, &night.setup, turn)).await;
    }
    let after = api.get(format!("/leagues/{}/findings?limit=200", night.league)).by(&cast.olga).expect(200).await;
    let about_ann = |all: &Value| {
        let about = |found: &&Value| found["subject"]["member_id"] == night.ann.as_str();
        all["items"].as_array().expect("items").iter().filter(about).count()
    };
    assert_eq!(about_ann(&after.json()), about_ann(&before.json()));
}

/// The records can be taken away and read by `report`: for somebody concerned the own ones alone.
#[tokio::test]
async fn the_records_can_be_taken_away() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let bay = json!({ "label": "Bay 2", "sensor": "camera", "shared": true });
    let bay =
        api.post(format!("/leagues/{}/setups", night.league), &bay).by(&cast.ben).key(&id()).expect(201).await.id();
    let night = Night { setup: bay, ..night };
    let event = api.event(&cast, &night, json!({})).await;
    api.hand_in(&event, &cast.ben, &softened(&night.ben, &night.setup, 3)).await;
    let (setup, rounds) = api.setup_finding(&cast, &night, &cast.ann, &night.ann).await;
    let path = format!("/findings/{setup}/records");
    for (by, members, count) in [(&cast.olga, 2, rounds.len() + 1), (&cast.ann, 1, rounds.len()), (&cast.ben, 1, 1)] {
        let lines = api.get(&path).by(by).expect(200).await.text();
        let mut league = evenfield::wire::bundle::assemble::Assembler::default();
        for line in lines.lines() {
            let line = evenfield::wire::bundle::line::Line::read(line.as_bytes()).expect("a line");
            league.add(line).expect("a line that fits");
        }
        assert_eq!((league.book.members.len(), league.entries.len()), (members, count));
    }
    // Ben is concerned by what was opened about him and about the bay he used, and by nothing about Ann.
    let seen = api.get(format!("/leagues/{}/findings", night.league)).by(&cast.ben).expect(200).await.json();
    let about_ann = |found: &&Value| found["subject"]["member_id"] == night.ann.as_str();
    assert_eq!(seen["items"].as_array().expect("items").iter().filter(about_ann).count(), 0, "{seen}");
    assert_eq!(
        api.get(format!("/findings/{setup}")).by(&cast.ben).expect(200).await.json()["concerned"]
            .as_array()
            .map(Vec::len),
        Some(1)
    );
}

/// Declared softening opens nothing inside its radius.
#[tokio::test]
async fn a_declared_softening_is_no_finding() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = format!("/setups/{}", night.setup);
    api.patch(at, &json!({ "softening_radius_ft": 20 })).by(&cast.ann).matching("*").expect(200).await;
    for turn in 0..6 {
        let event = api.event(&cast, &night, json!({})).await;
        api.hand_in(&event, &cast.ann, &softened(&night.ann, &night.setup, turn)).await;
    }
    let all = api.get(format!("/leagues/{}/findings", night.league)).by(&cast.olga).expect(200).await.json();
    let kinds: Vec<&Value> = all["items"].as_array().expect("items").iter().map(|found| &found["kind"]).collect();
    assert!(!kinds.contains(&&json!("softened_line")), "{all}");
    api.hand_in(&night.event, &cast.ben, &round(&night.ben)).await;
}

/// A season that leaves declared putts out counts the others alone, whenever it says so; `count` takes them in again.
#[tokio::test]
async fn declared_putts_are_left_out_where_the_season_says_so() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = format!("/setups/{}", night.setup);
    api.patch(at, &json!({ "softening_radius_ft": 20 })).by(&cast.ann).matching("*").expect(200).await;
    let handed_in = api.hand_in(&night.event, &cast.ann, &softened(&night.ann, &night.setup, 1)).await.id();
    api.call("POST", &format!("/rounds/{handed_in}/attestation")).by(&cast.ben).expect(200).await;
    let figures = async || {
        let putting = format!("/members/{}/putting?season_id={}", night.ann, night.season);
        let putting = api.get(putting).by(&cast.ben).expect(200).await.json();
        let struck: u64 =
            putting["bands"].as_array().expect("bands").iter().map(|band| band["putts"].as_u64().unwrap()).sum();
        let inside: u64 =
            putting["bands"].as_array().expect("bands")[..6].iter().map(|b| b["putts"].as_u64().unwrap()).sum();
        let round = api.get(format!("/rounds/{handed_in}")).by(&cast.ben).expect(200).await.json();
        let gained = round["putting"]["strokes_gained"].clone();
        assert_eq!(putting["strokes_gained_per_round"], gained, "the report and the round agree");
        (struck, inside, gained)
    };
    let all = figures().await;
    // Two putts a hole: nine first ones inside 20 ft, and eighteen tap-ins.
    assert_eq!((all.0, all.1), (36, 27));
    let say = async |softened: &str| {
        let audit = json!({ "audit": { "softened_putts": softened } });
        api.patch(format!("/seasons/{}", night.season), &audit).by(&cast.olga).matching("*").expect(200).await;
    };
    say("leave_out").await;
    let left = figures().await;
    assert_eq!((left.0, left.1), (9, 0));
    assert_ne!(left.2, all.2);
    // The league's own baseline never takes them: nine putts from beyond 20 ft.
    let field = api.get(format!("/seasons/{}/baseline", night.season)).by(&cast.ben).expect(200).await.json();
    assert_eq!((&field["rounds"], &field["putts"]), (&json!(1), &json!(9)));
    say("count").await;
    assert_eq!(figures().await, all);
}

/// Opens findings about the set-up that Ann uses, that of narrow short lines among them: its picture goes by distance.
async fn narrow_lines(api: &Api, cast: &Cast, night: &Night) {
    api.setup_finding(cast, night, &cast.ann, &night.ann).await;
    for turn in 6..10 {
        let event = api.event(cast, night, json!({})).await;
        api.hand_in(&event, &cast.ann, &softened(&night.ann, &night.setup, turn)).await;
    }
}

/// Lets so many others hole every third putt of 4, 6, 8 ft and so on, and has their cards attested.
async fn others_putt(api: &Api, cast: &Cast, night: &Night, others: usize) {
    for n in 0..others {
        let path = format!("/leagues/{}/members", night.league);
        let member = json!({ "display_name": format!("Other {n}") });
        let member = api.post(path, &member).by(&cast.olga).key(&id()).expect(201).await.id();
        let mut card = round(&member);
        for n in 0..18 {
            let distance = 4.0 + 2.0 * n as f64;
            let putts = match n % 3 {
                0 => json!([{ "distance_ft": distance, "result": "holed" }]),
                _ => {
                    json!([{ "distance_ft": distance, "result": "missed" }, { "distance_ft": 1.5, "result": "holed" }])
                }
            };
            card["holes"][n]["putts"] = putts;
            card["holes"][n].as_object_mut().expect("a hole").remove("putt_count");
        }
        let handed_in = api.hand_in(&night.event, &cast.olga, &card).await.id();
        api.call("POST", &format!("/rounds/{handed_in}/attestation")).by(&cast.ben).expect(200).await;
    }
}

/// The shares that the field holed, a band each, in each finding that shows putts made by distance.
async fn field_shown(api: &Api, night: &Night, by: &Person) -> Vec<Vec<Value>> {
    let path = format!("/leagues/{}/findings?limit=200", night.league);
    let all = api.get(path).by(by).expect(200).await.json();
    let of = |found: &Value| {
        let bands = found["picture"]["made_by_distance"].as_array()?;
        Some(bands.iter().map(|band| band["others"].clone()).collect())
    };
    all["items"].as_array().expect("items").iter().filter_map(of).collect()
}

#[tokio::test]
async fn a_picture_sets_the_field_beside_a_finding_and_never_fewer_than_five_players() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    narrow_lines(&api, &cast, &night).await;
    others_putt(&api, &cast, &night, 4).await;
    let shown = field_shown(&api, &night, &cast.olga).await;
    assert!(!shown.is_empty(), "narrow lines have a picture by distance");
    assert!(shown.iter().flatten().all(Value::is_null), "four others are no field: {shown:?}");

    // The fifth makes a field. Of 4 ft, 6 ft, 8 and 10 ft the first and the last fell.
    others_putt(&api, &cast, &night, 1).await;
    for shown in field_shown(&api, &night, &cast.olga).await {
        assert_eq!(shown[..4], [json!(1.0), json!(1.0), json!(0.0), json!(0.5)], "{shown:?}");
    }
    assert_eq!(field_shown(&api, &night, &cast.ann).await, field_shown(&api, &night, &cast.olga).await);
}

/// `report` over the league's bundle finds what the server found, word for word.
#[tokio::test]
async fn a_report_has_the_servers_findings() {
    use evenfield::cli::report::{Against, Format, ReportArgs, run};
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    narrow_lines(&api, &cast, &night).await;
    others_putt(&api, &cast, &night, 5).await;
    let all = api.get(format!("/leagues/{}/findings?limit=200", night.league)).by(&cast.olga).expect(200).await.json();
    let bundle = api.get(format!("/leagues/{}/bundle", night.league)).by(&cast.olga).expect(200).await.text();
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("league.ndjson");
    std::fs::write(&path, bundle).expect("a file");
    let args = ReportArgs {
        bundle: path.to_str().expect("a path").to_owned(),
        format: Format::Json,
        season: None,
        as_of: None,
        event: None,
        from: None,
        to: None,
        setup: None,
        baseline: Against::Tour,
        without_findings: false,
    };
    let mut out = Vec::new();
    run(&args, &mut out).expect("a report");
    let reported: Value = serde_json::from_slice(&out).expect("JSON");
    let told = |found: &Value, id: &str| -> Value {
        let found = found.as_array().expect("findings").iter().find(|one| one["id"] == id).expect("the finding");
        let names =
            ["kind", "subject", "state", "opened_at_event_id", "rounds", "evidence", "summary", "reasons", "picture"];
        names.iter().map(|name| found[*name].clone()).collect()
    };
    let open = ids(&all["items"]);
    assert_eq!(open.len(), ids(&reported["findings"]).len());
    assert!(all.to_string().contains("\"others\":1.0"), "the field stands in a picture");
    for id in open {
        assert_eq!(told(&reported["findings"], &id), told(&all["items"], &id));
    }
}
