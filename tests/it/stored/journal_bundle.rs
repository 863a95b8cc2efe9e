//! The journal, the bundle, `verify`, and what is held on one person.

use crate::support::harness::{Api, Cast, Night, Person, card, course, id, merged, own, par, round, text};
use evenfield::league::Leagues;
use evenfield::wire::bundle::assemble::Assembler;
use evenfield::wire::bundle::line::Line;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

/// A league in which everything happened that leaves a trace: edits of every kind, a correction, an attestation, a
/// withdrawal and another round after it, a claimed record, a final event, rounds without a result.
pub async fn eventful(api: &Api, cast: &Cast) -> Night {
    let night = api.night(cast).await;
    let olga = &cast.olga;
    let patch = |path: String, body: Value| async move {
        api.patch(path, &body).by(olga).matching("*").expect(200).await;
    };
    patch(
        format!("/members/{}", night.ann),
        json!({ "starting_handicap": 9.5, "display_name": "Ann-Marie \"Ace\" Ø" }),
    )
    .await;
    patch(format!("/leagues/{}", night.league), json!({ "name": "Thursdays, 7 o’clock" })).await;
    patch(format!("/setups/{}", night.setup), json!({ "softening_radius_ft": 6.25, "notes": "two\nlines" })).await;
    let path = format!("/leagues/{}/members", night.league);
    let walter = api.post(path, &json!({ "display_name": "Walter" })).by(olga).key(&id()).expect(201).await.id();
    let path = format!("/leagues/{}/invitations", night.league);
    let claim = json!({ "role": "player", "member_id": walter });
    let code = text(&api.post(path, &claim).by(olga).expect(201).await.json(), "code");
    api.call("POST", &format!("/invitations/{code}/acceptance")).by(&cast.otto).expect(201).await;
    patch(format!("/members/{walter}"), json!({ "flight": "B" })).await;

    let mut strokes: Vec<u8> = (1..=18).map(par).collect();
    strokes[0] = 9;
    let mut body = merged(card(&night.ann, &strokes), &json!({ "setup_id": night.setup }));
    let first = api.hand_in(&night.event, &cast.ann, &body).await.id();
    api.call("POST", &format!("/rounds/{first}/attestation")).by(&cast.ben).expect(200).await;
    body["holes"][0]["strokes"] = json!(8);
    let at = format!("/rounds/{first}?reason=counted%20again");
    api.put(at, &body).by(&cast.sam).matching("*").expect(200).await;
    api.call("POST", &format!("/rounds/{first}/attestation")).by(&cast.ben).expect(200).await;
    let second = api.hand_in(&night.event, &cast.ben, &round(&night.ben)).await.id();
    api.delete(format!("/rounds/{second}?reason=wrong%20bay")).by(olga).matching("*").expect(204).await;
    api.hand_in(&night.event, &cast.ben, &round(&night.ben)).await;
    let gave_up =
        merged(round(&walter), &json!({ "outcome": "no_return", "holes": [{ "number": 1, "picked_up": true }] }));
    api.hand_in(&night.event, &cast.otto, &gave_up).await;
    patch(format!("/events/{}", night.event), json!({ "stimp_ft": 11.0, "playing_conditions": 1 })).await;
    patch(format!("/competitions/{}", night.competition), json!({ "allowance_pct": 90 })).await;
    api.settle(&night.event, olga).await;

    let mut harder = course();
    harder["tees"][0]["id"] = json!(night.tee);
    harder["tees"][1]["id"] = json!(night.nine_tee);
    harder["tees"][0]["course_rating"] = json!(73.1);
    api.put(format!("/courses/{}", night.course), &harder).by(olga).matching("*").expect(200).await;
    let later = json!({ "name": "Third", "opens_at": "2027-01-14T18:00:00Z", "closes_at": "2027-01-15T18:00:00Z" });
    let later = api.event(cast, &night, later).await;
    api.hand_in(&later, &cast.ann, &round(&night.ann)).await;
    api.hand_in(&later, &cast.sam, &round(&night.sam)).await;
    crate::stored::matches::a_team_match(api, cast, &night, &later).await;
    night
}

pub async fn import(leagues: &Leagues, bundle: &str) -> String {
    let mut import = leagues.import().await.expect("an import begins");
    let mut assembler = Assembler::default();
    for (n, text) in bundle.lines().enumerate() {
        let line = Line::read(text.as_bytes()).unwrap_or_else(|faults| panic!("line {}: {faults:?}\n{text}", n + 1));
        import.add(&line).await.unwrap_or_else(|refusal| panic!("line {}: {refusal}\n{text}", n + 1));
        assembler.add(line).unwrap_or_else(|faults| panic!("line {}: {faults:?}\n{text}", n + 1));
    }
    assembler.finish().expect("the bundle is whole");
    let (league, organizers) = import.finish().await.expect("the import ends");
    let (organizer, _) = organizers.into_iter().next().expect("an organizer");
    leagues
        .operator_code(Some((league, Some(organizer), evenfield::domain::facts::Role::Organizer)))
        .await
        .expect("a claiming code")
}

/// Takes a league's bundle once its evidence has taken every round in.
pub async fn bundle(api: &Api, league: &str, by: &Person) -> String {
    api.server.app.leagues.all_weighed().await.expect("evidence takes what waits");
    let seen = api.get(format!("/leagues/{league}/bundle")).by(by).expect(200).await;
    assert_eq!(seen.header("content-type"), "application/x-ndjson");
    seen.text()
}

/// Moves a league to a server of its own, where it is the same byte for byte; returns that server, and who organizes it there.
pub async fn moved(api: &Api, league: &str, by: &Person) -> (Api, Person) {
    let whole = bundle(api, league, by).await;
    let other = own();
    let code = import(&other.server.app.leagues, &whole).await;
    let mover = other.person("Olga").await;
    other.call("POST", &format!("/invitations/{code}/acceptance")).by(&mover).expect(201).await;
    assert_eq!(bundle(&other, league, &mover).await, whole);
    (other, mover)
}

pub async fn clean(api: &Api) {
    let found = api.server.app.leagues.verify().await.expect("verify runs");
    assert!(found.differences.is_empty(), "{:#?}", found.differences);
    assert!(found.rounds > 0 && found.entries > 0);
}

/// A bundle does not wait for the evidence: it says how far that has come, findings that open later are not in it, and it
/// goes through an import with the same bytes. Once the evidence has come to its end, all of it is as it would have been.
#[tokio::test]
async fn a_bundle_does_not_wait_for_the_evidence() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.finding(&cast, &night, &cast.ann, &night.ann).await;
    let whole = bundle(&api, &night.league, &cast.olga).await;
    let lines: Vec<Value> = whole.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
    let first = lines.iter().find(|line| line["kind"] == "round").expect("a round")["seq"].as_i64().expect("a number");
    let upto = json!(first - 1);
    let of_kind = |text: &str, kind: &str| -> Vec<Value> {
        let lines = text.lines().map(|line| serde_json::from_str::<Value>(line).expect("JSON"));
        lines.filter(|line| line["kind"] == kind).map(|line| line["id"].clone()).collect()
    };
    // As if no round had been taken in.
    let early: String = lines
        .iter()
        .filter(|line| line["kind"] != "finding_opened")
        .map(|line| match line["kind"] == "league" {
            true => merged(line.clone(), &json!({ "evidence_seq": upto })).to_string() + "\n",
            false => line.to_string() + "\n",
        })
        .collect();
    let stores = [crate::support::store::TestStore::new(), crate::support::store::TestStore::new()];
    let clock = evenfield::startup::system_clock;
    let mut last = early;
    for store in &stores {
        let leagues = evenfield::startup::open(&store.store, clock()).await.expect("opens");
        import(&leagues, &last).await;
        let again = exported(&leagues, &night.league).await;
        let league: Value = serde_json::from_str(again.lines().next().expect("a line")).expect("JSON");
        assert_eq!(league["evidence_seq"], upto);
        assert_eq!(of_kind(&again, "round").len(), of_kind(&whole, "round").len(), "every round is there");
        assert_eq!(of_kind(&again, "finding_opened"), Vec::<Value>::new());
        if store.url() != stores[0].url() {
            assert_eq!(again, last, "the same bytes");
        }
        last = again;
    }
    let leagues = evenfield::startup::open(&stores[1].store, clock()).await.expect("opens");
    assert_eq!(leagues.verify().await.expect("verifies").differences, Vec::<String>::new());
    let late = exported(&leagues, &night.league).await;
    assert!(!late.contains("evidence_seq"));
    let sorted = |text: &str| {
        let mut ids: Vec<String> = of_kind(text, "finding_opened").iter().map(Value::to_string).collect();
        ids.sort();
        ids
    };
    assert_eq!(sorted(&late), sorted(&whole), "the findings that the rounds give");
}

/// Reads a league's bundle from a store that nobody serves.
async fn exported(leagues: &Leagues, league: &str) -> String {
    let (sender, mut lines) = tokio::sync::mpsc::channel(16);
    let (leagues, league) = (leagues.clone(), evenfield::domain::ids::LeagueId(league.parse().expect("an id")));
    let export = tokio::spawn(async move { leagues.export(league, sender).await });
    let mut text = String::new();
    while let Some(line) = lines.recv().await {
        text.push_str(&(line.to_json() + "\n"));
    }
    export.await.expect("it ends").expect("it exports");
    text
}

/// export → import into an empty server → export gives the same bytes, the same standings, and a league that lives on.
#[tokio::test]
async fn a_league_moves_to_another_server_unchanged() {
    let (api, other) = (own(), own());
    let cast = api.cast().await;
    let night = eventful(&api, &cast).await;
    let first = bundle(&api, &night.league, &cast.olga).await;
    clean(&api).await;
    let kinds: Vec<String> =
        first.lines().map(|line| text(&serde_json::from_str(line).expect("JSON"), "kind")).collect();
    let order = ["league", "member", "setup", "course", "season", "event", "competition", "team", "round"];
    let places: Vec<usize> =
        kinds.iter().map(|kind| order.iter().position(|known| known == kind).unwrap_or(order.len())).collect();
    assert!(places.is_sorted(), "the kinds stand in another order than the contract's: {kinds:?}");
    for secret in [&cast.ann.email, &cast.ann.token, "password", "code"] {
        assert!(!first.contains(secret), "a bundle holds no accounts and no tokens");
    }

    let code = import(&other.server.app.leagues, &first).await;
    clean(&other).await;
    let mover = other.person("Olga").await;
    let at = format!("/invitations/{code}/acceptance");
    let claimed = other.call("POST", &at).by(&mover).expect(201).await.json();
    assert_eq!((&claimed["id"], &claimed["role"]), (&json!(night.olga), &json!("organizer")));
    other.call("POST", &at).by(&mover).refused(410, "code-spent").await;
    let again = bundle(&other, &night.league, &mover).await;
    for (first, again) in first.lines().zip(again.lines()) {
        assert_eq!(first, again);
    }
    assert_eq!(first, again);
    for path in [format!("/seasons/{}/standings", night.season), format!("/members/{}/handicap", night.ann)] {
        let here = api.get(&path).by(&cast.olga).expect(200).await.json();
        assert_eq!(other.get(&path).by(&mover).expect(200).await.json(), here, "{path}");
    }

    // It goes on there: everything that has earlier versions takes another one.
    let lines: Vec<Value> = first.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
    for line in &lines {
        let at = text(line, "id");
        let change = match line["kind"].as_str().unwrap_or_default() {
            "league" => Some((format!("/leagues/{at}"), json!({ "name": "Moved" }))),
            "member" => Some((format!("/members/{at}"), json!({ "flight": "C" }))),
            "setup" => Some((format!("/setups/{at}"), json!({ "label": "Moved" }))),
            "season" => Some((format!("/seasons/{at}"), json!({ "name": "Moved" }))),
            _ => None,
        };
        if let Some((path, body)) = change {
            let seen = other.patch(&path, &body).by(&mover).matching("*").send().await;
            assert_eq!(seen.status, 200, "an imported {} cannot be edited: {seen}", line["kind"]);
        }
    }
    clean(&other).await;
}

/// A round that was attested before it was corrected has gaps in its kept versions; it is corrected again after a move.
#[tokio::test]
async fn a_moved_round_can_be_corrected_again() {
    let (api, other) = (own(), own());
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let body = round(&night.ann);
    let at = format!("/rounds/{}", api.hand_in(&night.event, &cast.ann, &body).await.id());
    api.call("POST", &format!("{at}/attestation")).by(&cast.ben).expect(200).await;
    let changed = merged(body, &json!({ "outcome": "no_return" }));
    api.put(&at, &changed).by(&cast.ann).matching("*").expect(200).await;
    let code = import(&other.server.app.leagues, &bundle(&api, &night.league, &cast.olga).await).await;
    let mover = other.person("Olga").await;
    other.call("POST", &format!("/invitations/{code}/acceptance")).by(&mover).expect(201).await;
    for day in ["2027-01-12", "2027-01-11"] {
        let changed = merged(changed.clone(), &json!({ "played_on": day }));
        let at = format!("{at}?reason=moved&confirm=dates");
        other.put(&at, &changed).by(&mover).matching("*").expect(200).await;
    }
    clean(&other).await;
}

/// A half bundle leaves nothing behind, and a league is imported once.
#[tokio::test]
async fn a_broken_import_leaves_nothing() {
    let (api, other) = (own(), own());
    let cast = api.cast().await;
    let night = eventful(&api, &cast).await;
    let whole = bundle(&api, &night.league, &cast.olga).await;
    {
        let mut import = other.server.app.leagues.import().await.expect("an import begins");
        for text in whole.lines().take(8) {
            import.add(&Line::read(text.as_bytes()).expect("a line")).await.expect("it fits");
        }
    }
    import(&other.server.app.leagues, &whole).await;
    let mut second = other.server.app.leagues.import().await.expect("an import begins");
    let line = Line::read(whole.lines().next().expect("a line").as_bytes()).expect("a line");
    assert!(second.add(&line).await.is_err(), "the league is there already");
    drop(second);
    clean(&other).await;
}

/// S31: each entry's hash covers the one before it; the test does the sums itself.
#[tokio::test]
async fn the_journal_is_a_chain() {
    let api = own();
    let cast = api.cast().await;
    let night = eventful(&api, &cast).await;
    let mut entries = Vec::new();
    let mut next = format!("/api/v1/leagues/{}/journal?limit=7", night.league);
    loop {
        let page = api.outside("GET", &next).by(&cast.olga).expect(200).await;
        entries.extend(page.json()["items"].as_array().expect("items").clone());
        match page.header("link").split(['<', '>']).nth(1) {
            Some(link) => next = link.to_owned(),
            None => break,
        }
    }
    let mut before: Vec<u8> = Vec::new();
    for (n, entry) in entries.iter().enumerate() {
        assert_eq!(entry["n"], n + 1);
        let mut told = entry.clone();
        let hash = told.as_object_mut().expect("an object").shift_remove("hash").expect("a hash");
        let due = Sha256::new().chain_update(&before).chain_update(told.to_string()).finalize();
        assert_eq!(hash, data_encoding::HEXLOWER.encode(&due), "entry {} does not follow: {entry}", n + 1);
        before = due.to_vec();
    }
    let acts: Vec<String> =
        entries.iter().map(|entry| format!("{} {}", text(entry, "act"), text(entry, "kind"))).collect();
    let due = [
        "create league",
        "create course",
        "create season",
        "create setup",
        "create event",
        "create member",
        "replace league",
        "replace member",
        "replace course",
        "replace competition",
        "replace setup",
        "replace event",
        "invite league",
        "join member",
        "hand_in round",
        "attest round",
        "correct round",
        "withdraw round",
    ];
    for act in due {
        assert!(acts.iter().any(|known| known == act), "{act} is not in the journal: {acts:?}");
    }
    // No text that a person typed stands in it.
    let whole = json!(entries).to_string();
    for typed in ["Ann-Marie", "Thursdays", "wrong bay", "counted again"] {
        assert!(!whole.contains(typed), "{typed} stands in the journal");
    }
    clean(&api).await;
}

/// S28, S29: what is held on a person is exported to that person; erasing leaves the numbers.
#[tokio::test]
async fn erasure_takes_the_person_and_leaves_the_numbers() {
    let api = own();
    let cast = api.cast().await;
    let night = eventful(&api, &cast).await;
    let path = format!("/leagues/{}/setups", night.league);
    let den = json!({ "label": "Annabel's den", "sensor": "other", "notes": "ring twice" });
    let den = api.post(path, &den).by(&cast.ann).key(&id()).expect(201).await.id();
    let held = api.get(format!("/members/{}/export", night.ann)).by(&cast.ann).expect(200).await;
    for mine in [&cast.ann.email, "Ann-Marie", "Annabel's den", "ring twice", "counted again"] {
        assert!(held.text().contains(mine), "{mine} is missing from the export (S28)");
    }
    assert!(!held.text().contains(&cast.ben.email) && !held.text().contains("wrong bay"));
    assert_eq!(held.json()["rounds"].as_array().map(Vec::len), Some(2));

    let standings = format!("/seasons/{}/standings", night.season);
    let plain = |mut table: Value| {
        for row in table["items"].as_array_mut().expect("rows") {
            row["display_name"] = Value::Null;
        }
        table
    };
    let before = plain(api.get(&standings).by(&cast.olga).expect(200).await.json());
    let member = format!("/members/{}", night.ann);
    let tag = api.get(&member).by(&cast.ann).expect(200).await.etag();
    api.delete(&member).by(&cast.ann).refused(428, "if-match-missing").await;
    api.delete(&member).by(&cast.ann).matching("\"0\"").refused(412, "stale").await;
    api.delete(&member).by(&cast.ann).matching(&tag).expect(204).await;
    let after = api.get(&standings).by(&cast.olga).expect(200).await.json();
    let names: Vec<&str> =
        after["items"].as_array().expect("rows").iter().filter_map(|row| row["display_name"].as_str()).collect();
    assert!(names.contains(&"Former player 1"), "{names:?}");
    assert_eq!(plain(after.clone()), before, "standings equal but for names (S29)");
    api.get(format!("/leagues/{}", night.league)).by(&cast.ann).refused(404, "not-found").await;
    api.get("/me").by(&cast.ann).expect(200).await;
    let whole = bundle(&api, &night.league, &cast.olga).await;
    for gone in ["Ann-Marie", "\"Ann\"", "Annabel's den", "ring twice"] {
        assert!(!whole.contains(gone), "{gone} is still in the league (S29)");
    }
    let seen = api.get(format!("/setups/{den}")).by(&cast.olga).expect(200).await.json();
    assert_eq!(seen["label"], "A former player's simulator");
    let change = json!({ "display_name": "Ann" });
    api.patch(&member, &change).by(&cast.olga).matching("*").refused(409, "invalid-transition").await;
    // Erased once and for all: a second time changes nothing.
    api.delete(&member).by(&cast.olga).matching("*").refused(409, "invalid-transition").await;
    let same = api.get(&member).by(&cast.olga).expect(200).await.json();
    assert_eq!(same["display_name"], "Former player 1", "erasing twice gives another name");
    clean(&api).await;

    // A league that moves takes along that nobody comes back to that record.
    let other = own();
    let code = import(&other.server.app.leagues, &whole).await;
    let olga = other.person("Olga").await;
    other.call("POST", &format!("/invitations/{code}/acceptance")).by(&olga).expect(201).await;
    assert_eq!(bundle(&other, &night.league, &olga).await, whole);
    other.patch(&member, &change).by(&olga).matching("*").refused(409, "invalid-transition").await;
    let claim = json!({ "role": "player", "member_id": night.ann });
    let invitations = format!("/leagues/{}/invitations", night.league);
    other.post(invitations, &claim).by(&olga).refused(409, "already-member").await;
    let ben = format!("/members/{}", night.ben);
    other.delete(&ben).by(&olga).matching("*").expect(204).await;
    let ben = other.get(&ben).by(&olga).expect(200).await.json();
    assert_eq!(ben["display_name"], "Former player 2");
    clean(&other).await;
}
