//! What organizers, scorers and players do by forms: cards for others, rulings, queries, rosters, invitations.

use crate::support::browsing::{page, pairs, send, signed_in, value};
use crate::support::harness::{Api, Cast, Night, own, round, shared, text};
use serde_json::{Value, json};

/// The fields of a card: the strokes that a round has, and no putts.
fn card(round: &Value) -> Vec<(String, String)> {
    let holes = round["holes"].as_array().expect("holes").iter();
    holes.map(|hole| (format!("strokes_{}", hole["number"]), hole["strokes"].to_string())).collect()
}

async fn start() -> (Api, Cast, Night) {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    (api, cast, night)
}

/// A player's card for another waits for that other; a scorer's counts at once, and is changed with a reason.
#[tokio::test]
async fn a_card_is_handed_in_for_somebody_else() {
    let (api, cast, night) = start().await;
    let (ben, sam) = (signed_in(&api, &cast.ben.email).await, signed_in(&api, &cast.sam.email).await);
    let event = page(&api, &format!("/events/{}", night.event), &ben).expect(200).await.text();
    assert!(event.contains("Hand in for another player") && event.contains(&night.ann), "{event}");
    let address = format!("/events/{}/hand-in?member={}", night.event, night.ann);
    let sheet = page(&api, &address, &ben).expect(200).await.text();
    assert!(sheet.contains("Card of Ann") && sheet.contains("Handicap strokes: "), "{sheet}");
    let mut fields = card(&round(&night.ann));
    for (name, value) in [("played_on", "2027-01-14"), ("outcome", "complete"), ("setup_id", "")] {
        fields.push((name.into(), value.into()));
    }
    for name in ["client_round_id", "key"] {
        fields.push((name.into(), value(&sheet, name)));
    }
    let seen = send(&api, &address, &ben, &pairs(&fields)).expect(303).await;
    let path = seen.header("location").split('?').next().unwrap().to_owned();
    let stored = api.get(&path).by(&cast.ben).expect(200).await.json();
    assert_eq!((&stored["state"], &stored["member_id"]), (&json!("proposed"), &json!(night.ann)));
    // A scorer changes it; without a reason nothing happens, and what was typed stays.
    let sheet = page(&api, &address, &sam).expect(200).await.text();
    fields.retain(|(name, _)| name != "key" && name != "strokes_1");
    fields.push(("strokes_1".into(), "9".into()));
    fields.push(("version".into(), value(&sheet, "version")));
    let refused = send(&api, &address, &sam, &pairs(&fields)).expect(422).await.text();
    assert!(refused.contains("reason is needed") && refused.contains("value=\"9\""), "{refused}");
    fields.push(("reason".into(), "hole 1 was read wrongly".into()));
    send(&api, &address, &sam, &pairs(&fields)).expect(303).await;
    assert_eq!(api.get(&path).by(&cast.ben).expect(200).await.json()["holes"][0]["strokes"], 9);
    // Sent again from a page that is out of date, both versions are shown and nothing is lost.
    fields.retain(|(name, _)| name != "strokes_1");
    fields.push(("strokes_1".into(), "8".into()));
    let stale = send(&api, &address, &sam, &pairs(&fields)).expect(412).await.text();
    assert!(stale.contains("Stored meanwhile") && stale.contains("<td class=\"n\">9</td>"), "{stale}");
    assert!(stale.contains("value=\"8\"") && value(&stale, "version") != value(&sheet, "version"), "{stale}");
}

/// A ruling shows what it would do, keeps what was typed when it is not given yet, and is given once.
#[tokio::test]
async fn an_organizer_rules_on_a_round() {
    // A server of its own: the first notice is of this round.
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let handed = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let (olga, ben) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ben.email).await);
    let address = format!("/rounds/{}/ruling", handed.id());
    page(&api, &address, &ben).expect(403).await;
    let shown = page(&api, &address, &olga).expect(200).await.text();
    let mut fields = card(&handed.json());
    fields[2].1 = "9".into();
    fields.extend((1..=18).map(|hole| format!("putts_{hole}")).map(|name| (name.clone(), value(&shown, &name))));
    for (name, value) in [("decision", "correct"), ("reason", "a slip on hole 3"), ("key", &value(&shown, "key"))] {
        fields.push((name.into(), value.into()));
    }
    let preview = send(&api, &address, &olga, &pairs(&fields)).expect(200).await.text();
    assert!(preview.contains("Confirm ruling") && preview.contains("Standings that would change"));
    let stored = || async { api.get(format!("/rounds/{}", handed.id())).by(&cast.olga).expect(200).await.json() };
    assert_eq!(stored().await["holes"][2], handed.json()["holes"][2], "a look changes nothing");
    fields.push(("back".into(), "yes".into()));
    let back = send(&api, &address, &olga, &pairs(&fields)).expect(200).await.text();
    assert!(back.contains("a slip on hole 3") && back.contains("value=\"9\"") && back.contains("checked"), "{back}");
    fields.pop();
    fields.push(("seen".into(), "yes".into()));
    send(&api, &address, &olga, &pairs(&fields)).expect(303).await;
    send(&api, &address, &olga, &pairs(&fields)).expect(303).await;
    let ruled = stored().await;
    assert_eq!((&ruled["holes"][2]["strokes"], &ruled["version"]), (&json!(9), &json!(2)), "given once");
    assert_eq!(ruled["holes"][2]["putt_count"], handed.json()["holes"][2]["putt_count"], "putts stay");
    let why = page(&api, &format!("/rounds/{}/working", handed.id()), &ben).expect(200).await.text();
    assert!(why.contains("hole 3 strokes: 3 changed to 9") && why.contains("a slip on hole 3"), "{why}");
    let working = api.get(format!("/rounds/{}/working", handed.id())).by(&cast.ben).expect(200).await.json();
    for step in working["steps"].as_array().expect("steps") {
        assert!(why.contains(step["name"].as_str().expect("a name")), "{step}: {why}");
    }
    let moved = page(&api, &format!("/seasons/{}/changes", night.season), &ben).expect(200).await.text();
    assert!(moved.contains("a slip on hole 3") && moved.contains("Ann"), "{moved}");
    let ann = signed_in(&api, &cast.ann.email).await;
    let told = page(&api, "/notices", &ann).expect(200).await.text();
    assert!(told.contains("New ruling on your card") && told.contains("Notices (2 new)"), "{told}");
    // The newest one tells of this sign-in.
    let notice =
        told.split("action=\"/notices/").nth(2).expect("a notice").split('/').next().expect("an id").to_owned();
    let opened = send(&api, &format!("/notices/{notice}/seen"), &ann, &[]).expect(303).await;
    assert_eq!(opened.header("location"), format!("/rounds/{}", handed.id()));
    assert!(page(&api, "/leagues", &ann).expect(200).await.text().contains("(1 new)"), "what was seen is not counted");
    send(&api, &format!("/notices/{notice}/seen"), &ben, &[]).expect(404).await;
    let undo = [("decision", "reinstate"), ("reason", "the card was right"), ("seen", "yes")];
    send(&api, &address, &olga, &undo).expect(303).await;
    assert_eq!(stored().await["holes"][2]["strokes"], handed.json()["holes"][2]["strokes"]);
    let refused = send(&api, &address, &olga, &[("decision", "exclude_round"), ("reason", "")]).expect(422).await;
    assert!(refused.text().contains("Not saved"), "{refused}");
}

/// A query is seen by whoever asks, the player and the organizers, who answer.
#[tokio::test]
async fn a_card_is_queried_and_answered() {
    let (api, cast, night) = start().await;
    let handed = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let (olga, ben) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ben.email).await);
    let path = format!("/rounds/{}", handed.id());
    let asked = [("hole", "4"), ("text", "Was this not <six>?")];
    // A form that is refused keeps its hole; a hole that is not on the card is named.
    let long = "x".repeat(2001);
    let kept = send(&api, &format!("{path}/queries"), &ben, &[("hole", "4"), ("text", &long)]).expect(422).await.text();
    assert!(kept.contains("<option value=\"4\" selected>hole 4</option>") && kept.contains(&long), "{kept}");
    let none =
        send(&api, &format!("{path}/queries"), &ben, &[("hole", "19"), ("text", "This?")]).expect(422).await.text();
    assert!(none.contains("<a href=\"#hole\">There is no hole 19 on this card.</a>"), "{none}");
    assert!(none.contains("This?</textarea>"), "{none}");
    assert!(!page(&api, &path, &olga).expect(200).await.text().contains("This?"), "nothing was stored");
    send(&api, &format!("{path}/queries"), &ben, &asked).expect(303).await;
    let shown = page(&api, &path, &olga).expect(200).await.text();
    assert!(shown.contains("Hole 4: Was this not &#60;six&#62;?"), "{shown}");
    let query = shown.split("action=\"/queries/").nth(1).expect("a form").split('/').next().expect("an id").to_owned();
    let answer = |text: &str| {
        let fields = [("round", handed.id()), ("text", text.to_owned())];
        let fields = fields.iter().map(|(name, value)| (*name, value.as_str())).collect::<Vec<_>>();
        send(&api, &format!("/queries/{query}/answers"), &olga, &fields)
    };
    assert!(answer(&long).expect(422).await.text().contains(&long), "what was typed stays");
    answer("It was: mended.").expect(303).await;
    for cookie in [&ben, &olga] {
        assert!(page(&api, &path, cookie).expect(200).await.text().contains("It was: mended."));
    }
    let sam = signed_in(&api, &cast.sam.email).await;
    assert!(!page(&api, &path, &sam).expect(200).await.text().contains("Was this not"), "nobody else sees it");
}

/// A roster is looked at first; an invitation's form that is sent again makes no second code; a state that was set by
/// somebody else meanwhile stays.
#[tokio::test]
async fn the_desk_does_things_once() {
    let (api, cast, night) = start().await;
    let olga = signed_in(&api, &cast.olga.email).await;
    let path = format!("/leagues/{}/roster", night.league);
    let roster = "display_name,flight,starting_handicap\nIvo Fern,A,12.5\n";
    let preview = send(&api, &path, &olga, &[("roster", roster)]).expect(200).await.text();
    assert!(preview.contains("Ivo Fern") && preview.contains("12.5") && preview.contains("Add them"), "{preview}");
    let members =
        || async { page(&api, &format!("/leagues/{}/members", night.league), &olga).expect(200).await.text() };
    assert!(!members().await.contains("Ivo Fern"));
    let back = send(&api, &path, &olga, &[("roster", roster), ("back", "yes")]).expect(200).await.text();
    assert!(back.contains("Ivo Fern,A,12.5"), "{back}");
    send(&api, &path, &olga, &[("roster", roster), ("seen", "yes")]).expect(303).await;
    assert!(members().await.contains("Ivo Fern"));

    let organize = page(&api, &format!("/leagues/{}/organize", night.league), &olga).expect(200).await.text();
    let key = value(&organize, "key");
    let code = |role: &'static str, key: String| {
        let call =
            send(&api, &format!("/leagues/{}/invitations", night.league), &olga, &[("role", role), ("key", &key)]);
        async move {
            let shown = call.expect(200).await.text();
            shown.split("<code>").nth(1).expect("a code").split('<').next().expect("a code").to_owned()
        }
    };
    let first = code("player", key.clone()).await;
    assert_eq!(code("player", key.clone()).await, first, "sent again");
    assert_ne!(code("scorer", key).await, first);
    let joined = api.call("POST", &format!("/invitations/{first}/acceptance")).by(&cast.otto).expect(201).await.json();
    assert_eq!(text(&joined, "role"), "player");

    // What was not taken up is revoked by its button, once; the form that made it brings it back to nobody.
    let key = uuid::Uuid::new_v4().to_string();
    let lost = code("organizer", key.clone()).await;
    let at = format!("/leagues/{}/organize", night.league);
    let shown = page(&api, &at, &olga).expect(200).await.text();
    assert!(shown.contains("Pending invitations") && !shown.contains(&lost), "{shown}");
    let of_organizer = shown.split("<tr><th scope=\"row\">organizer</th>").nth(1).expect("the invitation");
    let named = value(of_organizer, "invitation");
    let revocation = format!("/leagues/{}/invitations/revocation", night.league);
    let sam = signed_in(&api, &cast.sam.email).await;
    send(&api, &revocation, &sam, &[("invitation", &named)]).expect(403).await;
    for _ in 0..2 {
        let seen = send(&api, &revocation, &olga, &[("invitation", &named), ("seen", "yes")]).expect(303).await;
        assert_eq!(seen.header("location"), format!("{at}#invitations"));
    }
    assert!(!page(&api, &at, &olga).expect(200).await.text().contains(&named), "it is not listed any more");
    let refused = send(&api, "/join", &sam, &[("code", &lost)]).expect(404).await.text();
    assert!(refused.contains("There is no invitation with this code"), "{refused}");
    let fields = [("role", "organizer"), ("key", key.as_str())];
    let again = send(&api, &format!("/leagues/{}/invitations", night.league), &olga, &fields).expect(409).await.text();
    assert!(again.contains("was revoked") && !again.contains(&lost), "{again}");

    let version = value(&organize, "version");
    let path = format!("/events/{}/state", night.event);
    send(&api, &path, &olga, &[("state", "closed"), ("version", &version)]).expect(303).await;
    send(&api, &path, &olga, &[("state", "open"), ("version", &version)]).expect(412).await;
    send(&api, &path, &olga, &[("state", "open")]).expect(412).await;
    let event = api.get(format!("/events/{}", night.event)).by(&cast.olga).expect(200).await.json();
    assert_eq!(event["state"], "closed");
}

/// A withdrawal that is refused says why and keeps its reason.
#[tokio::test]
async fn a_refused_withdrawal_keeps_its_reason() {
    let (api, cast, night) = start().await;
    let handed = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let sam = signed_in(&api, &cast.sam.email).await;
    let path = format!("/rounds/{}/withdrawal", handed.id());
    let version = handed.json()["version"].to_string();
    let long = "y".repeat(2001);
    for (reason, told) in [("", "reason is needed"), (long.as_str(), "at most 2000")] {
        let fields = [("version", version.as_str()), ("reason", reason), ("seen", "yes")];
        let shown = send(&api, &path, &sam, &fields).send().await;
        assert!((400..500).contains(&shown.status), "{shown}");
        assert!(shown.text().contains(told) && shown.text().contains(reason), "{shown}");
    }
    send(&api, &path, &sam, &[("version", &version), ("reason", "handed in twice"), ("seen", "yes")]).expect(303).await;
    assert_eq!(
        api.get(format!("/rounds/{}", handed.id())).by(&cast.sam).expect(200).await.json()["state"],
        "withdrawn"
    );
}

/// A form names each fault as its labels do, says that nothing was saved, and keeps what was typed.
#[tokio::test]
async fn a_fault_is_named_as_the_form_names_the_field() {
    let (api, cast, night) = start().await;
    let olga = signed_in(&api, &cast.olga.email).await;
    let typed = [
        ("name", ""),
        ("starts_on", "2027-05-01"),
        ("ends_on", "2027-04-01"),
        ("score", "strokes"),
        ("basis", "net"),
        ("meeting", "field"),
        ("allowance_pct", "300"),
        ("award", "4 3"),
        ("minimum", "0"),
        ("concession_ft", "nine"),
    ];
    let at = format!("/leagues/{}/seasons/new", night.league);
    let refused = send(&api, &at, &olga, &typed).expect(422).await.text();
    for said in [
        "Not saved. Please correct:",
        "Name of the season must not be empty, and has at most 80 characters.",
        "Handicap allowance must be a whole number from 0 to 200 %; it is 300.",
        "Gimme distance must be a number, not text.",
        "value=\"nine\"",
    ] {
        assert!(refused.contains(said), "{said} is missing: {refused}");
    }
}

/// The samples of the pieces are there for whoever builds the program, and for nobody else.
#[tokio::test]
async fn a_debug_build_shows_each_piece_once() {
    let (api, cast) = shared().await;
    let olga = signed_in(&api, &cast.olga.email).await;
    if !cfg!(debug_assertions) {
        page(&api, "/samples", &olga).expect(404).await;
        return;
    }
    let shown = page(&api, "/samples", &olga).expect(200).await.text();
    for piece in [
        "class=\"figures\"",
        "class=\"rows\"",
        "class=\"faults\"",
        "class=\"choice\"",
        "class=\"chart\"",
        "class=\"fault\"",
    ] {
        assert!(shown.contains(piece), "{piece} is missing: {shown}");
    }
}
