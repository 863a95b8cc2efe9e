//! What pages cannot undo they ask about first: what is lost, what stays, and only then it is done. And what pages show
//! of a card that can no longer be changed.

use crate::support::browsing::{form, page, send, signed_in, value};
use crate::support::harness::{Api, Cast, Night, Server, Settings, id, own, round, shared};
use evenfield::http::quota::Allowance;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;

async fn start() -> (Api, Cast, Night) {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    (api, cast, night)
}

/// What every form of the pages is: nothing is lost by it, it is seen before it is done, or it asks.
const FORMS: &[(&str, &str)] = &[
    // Signing in and out, and what asks for the password. Signing out asks on the page about cards that are only there.
    ("/sign-in", "nothing is lost"),
    ("/sign-in/afresh", "nothing is lost"),
    ("/sign-out", "nothing is lost"),
    ("/register", "nothing is lost"),
    ("/join", "nothing is lost"),
    ("/account", "takes the current password"),
    ("/account/sessions/{id}/end", "signing in again undoes it"),
    ("/new-password", "takes a code"),
    // What can be changed or revoked later.
    ("/leagues/new", "nothing is lost"),
    ("/leagues/{id}/invitations", "can be revoked"),
    ("/leagues/{id}/roster", "is seen first"),
    ("/leagues/{id}/courses/new", "nothing is lost"),
    ("/leagues/{id}/seasons/new", "nothing is lost"),
    ("/seasons/{id}/competitions/new", "nothing is lost"),
    ("/leagues/{id}/edit", "can be changed back"),
    ("/members/{id}/edit", "can be changed back; asks where it moves rows of tables"),
    ("/leagues/{id}/setups/new", "nothing is lost"),
    ("/setups/{id}/edit", "can be changed back"),
    ("/setups/{id}/removal", "asks"),
    ("/courses/{id}/edit", "can be changed back"),
    ("/courses/{id}/tee", "can be changed back"),
    ("/courses/{id}/tee/removal", "asks"),
    ("/courses/{id}/removal", "asks"),
    ("/seasons/{id}/edit", "can be changed back"),
    ("/seasons/{id}/removal", "asks"),
    ("/seasons/{id}/close", "asks"),
    ("/events/{id}/edit", "can be changed back"),
    ("/events/{id}/copies", "is seen first"),
    ("/seasons/{id}/copies", "is seen first"),
    ("/competitions/{id}/adjustments/new", "can be removed"),
    ("/competitions/{id}/adjustments/removal", "asks"),
    ("/competitions/{id}/edit", "can be changed back"),
    ("/competitions/{id}/removal", "asks"),
    ("/seasons/{id}/events/new", "nothing is lost"),
    ("/seasons/{id}/teams/new", "nothing is lost"),
    ("/teams/{id}", "can be changed back"),
    ("/events/{id}/line-ups/{team_id}", "can be changed back"),
    ("/competitions/{id}/fixtures/new", "can be removed"),
    ("/fixtures/{id}/decision", "can be changed back"),
    ("/fixtures/{id}/concessions", "asks"),
    ("/fixtures/{id}/removal", "asks"),
    ("/seasons/{id}/carried/new", "can be removed"),
    ("/seasons/{id}/carried/removal", "asks"),
    ("/members/{id}/handicap-acts/new", "can be undone"),
    ("/members/{id}/handicap-acts/undo", "asks"),
    ("/members/{id}/carried/new", "can be removed"),
    ("/members/{id}/carried/removal", "asks"),
    ("/events/{id}/contests", "can be changed back"),
    ("/events/{id}/contests/new", "can be removed"),
    ("/events/{id}/contests/removal", "asks"),
    ("/events/{id}/entries", "can be taken back"),
    ("/events/{id}/entries/all", "can be changed back"),
    ("/entries/{id}/removal", "asks"),
    ("/events/{id}/state", "can be set back; asks before final"),
    ("/events/{id}/hand-in", "can be corrected or withdrawn"),
    ("/events/{id}/bring-file", "is seen first"),
    ("/rounds/{id}/acceptance", "can be withdrawn"),
    ("/rounds/{id}/ruling", "is seen first"),
    ("/findings/{id}/rulings", "is seen first"),
    ("/findings/{id}/reviewers", "can be revoked"),
    ("/leagues/{id}/addresses", "can be revoked"),
    // What somebody says: it is typed, and added to what is there.
    ("/rounds/{id}/queries", "nothing is lost"),
    ("/queries/{id}/answers", "nothing is lost"),
    ("/findings/{id}/statements", "nothing is lost"),
    ("/findings/{id}/requests", "nothing is lost"),
    ("/findings/{id}/first-opinions", "nothing is lost"),
    ("/notices/{id}/seen", "nothing is lost"),
    // What is only read.
    ("/members/{id}/export", "nothing is lost"),
    ("/leagues/{id}/bundle", "nothing is lost"),
    // What cannot be undone.
    ("/members/{id}/erasure", "asks"),
    ("/rounds/{id}/withdrawal", "asks"),
    ("/rounds/{id}/attestation", "asks"),
    ("/leagues/{id}/invitations/revocation", "asks"),
    ("/leagues/{id}/addresses/revocation", "asks"),
    ("/events/{id}/removal", "asks"),
    ("/events/{id}/void", "asks; can be undone until the season's next final"),
    ("/findings/{id}/told", "asks"),
    ("/findings/{id}/recusals", "asks"),
];

/// Every address that takes a form is in the list above: whoever adds one decides whether it asks.
#[test]
fn every_form_was_decided_on() {
    let mut taken = BTreeSet::new();
    let files = ["src/pages", "src/pages/organize"].map(|folder| fs::read_dir(folder).expect("the pages"));
    for file in files.into_iter().flatten() {
        let path = file.expect("a file").path();
        if path.extension().is_none_or(|kind| kind != "rs") {
            continue;
        }
        let text = fs::read_to_string(&path).expect("text");
        let routes = text.split("pub fn routes(").nth(1).unwrap_or_default();
        // A resource's routes stand after its address, up to the next address.
        for (n, part) in routes.split("\"/").enumerate() {
            let address = part.split('"').next().unwrap_or_default();
            if n > 0 && part.contains("web::post()") {
                taken.insert(format!("/{address}"));
            }
        }
    }
    let listed: BTreeSet<String> = FORMS.iter().map(|(path, _)| (*path).to_owned()).collect();
    assert_eq!(taken, listed, "decide in FORMS what this form is, and ask where it cannot be undone");
}

/// Every form that asks does nothing before the question is answered, says what is lost, and keeps cross-site senders
/// out as everywhere (S21).
#[tokio::test]
async fn what_cannot_be_undone_is_asked_about_first() {
    let (api, cast, night) = start().await;
    let handed = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let (olga, ben) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ben.email).await);
    let at = format!("/rounds/{}", handed.id());
    let state = || async { api.get(&at).by(&cast.olga).expect(200).await.json()["state"].clone() };

    let asked = send(&api, &format!("{at}/attestation"), &ben, &[]).expect(200).await.text();
    assert!(asked.contains("Did you witness Ann’s round") && asked.contains("cannot undo this"), "{asked}");
    assert_eq!(state().await, "submitted");
    let elsewhere = form(&api, &format!("{at}/attestation"), &[("seen", "yes")]).with("cookie", &ben);
    elsewhere.with("sec-fetch-site", "cross-site").expect(403).await;
    assert_eq!(state().await, "submitted");
    send(&api, &format!("{at}/attestation"), &ben, &[("seen", "yes")]).expect(303).await;
    assert_eq!(state().await, "attested");

    let version = [("version", "1")];
    let asked = send(&api, &format!("{at}/withdrawal"), &olga, &version).expect(200).await.text();
    assert!(
        asked.contains("Withdraw Ann’s round") && asked.contains("A withdrawn round cannot be restored"),
        "{asked}"
    );
    assert!(asked.contains("another card can be handed in") && asked.contains("name=\"reason\""), "{asked}");
    assert_eq!(state().await, "attested");

    let path = format!("/leagues/{}/invitations", night.league);
    let made = api.post(&path, &json!({ "role": "player" })).by(&cast.olga).key(&id()).expect(201).await.json();
    let organize = format!("/leagues/{}/organize", night.league);
    let shown = page(&api, &organize, &olga).expect(200).await.text();
    let named = value(&shown, "invitation");
    let revocation = format!("{path}/revocation");
    let asked = send(&api, &revocation, &olga, &[("invitation", &named)]).expect(200).await.text();
    assert!(asked.contains("Revoke the invitation as player") && asked.contains("stop working"), "{asked}");
    assert!(page(&api, &organize, &olga).expect(200).await.text().contains(&named), "nothing was revoked yet");
    send(&api, &revocation, &olga, &[("invitation", &named), ("seen", "yes")]).expect(303).await;
    let code = crate::support::harness::text(&made, "code");
    send(&api, "/join", &signed_in(&api, &cast.otto.email).await, &[("code", &code)]).expect(404).await;
}

/// Erasing asks, and takes the name of whoever is erased; another name erases nobody.
#[tokio::test]
async fn erasing_takes_the_name() {
    let (api, cast, night) = start().await;
    let (olga, ann) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ann.email).await);
    let name = || async {
        let member = api.get(format!("/members/{}", night.ann)).by(&cast.olga).expect(200).await.json();
        member["display_name"].as_str().unwrap().to_owned()
    };
    let path = format!("/members/{}/erasure", night.ann);
    let asked = send(&api, &path, &ann, &[("version", "1")]).expect(200).await.text();
    assert!(asked.contains("Erase yourself from") && asked.contains("Your account, and your membership"), "{asked}");
    let version = value(&asked, "version");
    for (browser, typed) in [(&olga, ""), (&olga, "Ben"), (&ann, "yes")] {
        let fields = [("version", version.as_str()), ("seen", "yes"), ("name", typed)];
        let again = send(&api, &path, browser, &fields).expect(422).await.text();
        assert!(again.contains("does not match the name of this player"), "{again}");
        assert_eq!(value(&again, "name"), typed, "what was typed stays");
        assert_eq!(name().await, "Ann", "nobody was erased");
    }
    let fields = [("version", version.as_str()), ("seen", "yes"), ("name", " ann ")];
    send(&api, &path, &olga, &fields).expect(303).await;
    assert!(name().await.starts_with("Former player"));
}

/// A link of an invitation is whole: scheme, host and code, as the browser reaches this server.
#[tokio::test]
async fn an_invitation_is_a_whole_link() {
    let (api, cast, night) = start().await;
    let olga = signed_in(&api, &cast.olga.email).await;
    let origin = format!("http://{}", api.server.address);
    let path = format!("/leagues/{}/invitations", night.league);
    for named in [Some(origin.as_str()), None] {
        let mut call = send(&api, &path, &olga, &[("role", "player"), ("key", &id())]);
        if let Some(origin) = named {
            call = call.with("origin", origin);
        }
        let shown = call.expect(200).await.text();
        let link =
            shown.split("id=\"link\"").nth(1).and_then(|rest| crate::support::browsing::attribute(rest, "value"));
        let code = shown.split("<code>").nth(1).and_then(|rest| rest.split('<').next()).expect("a code");
        assert_eq!(link.expect("a link"), format!("{origin}/join#{code}"));
    }
}

/// A card that can no longer be changed is read, not filled in; nor is a form offered that could not be sent.
#[tokio::test]
async fn a_card_that_cannot_be_changed_opens_as_a_card() {
    let (api, cast, night) = start().await;
    let handed = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let (ann, ben) = (signed_in(&api, &cast.ann.email).await, signed_in(&api, &cast.ben.email).await);
    let (olga, sam) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.sam.email).await);
    let (form, card) = (format!("/events/{}/hand-in", night.event), format!("/rounds/{}", handed.id()));
    let set = |state: Value| {
        let (api, cast, night) = (&api, &cast, &night);
        async move {
            let at = format!("/events/{}", night.event);
            let tag = api.get(&at).by(&cast.olga).expect(200).await.etag();
            let patch = json!({ "state": state });
            api.call("PATCH", &at).by(&cast.olga).body(&patch).with("if-match", &tag).expect(200).await;
        }
    };
    page(&api, &form, &ann).expect(200).await;
    set(json!("closed")).await;
    for path in [&form, &form.replace("hand-in", "bring-file")] {
        assert_eq!(page(&api, path, &ann).expect(303).await.header("location"), card, "{path}");
    }
    // A late card is still taken, and whoever keeps scores still corrects.
    page(&api, &form, &ben).expect(200).await;
    page(&api, &format!("{form}?member={}", night.ann), &sam).expect(200).await;
    set(json!("scheduled")).await;
    let event = format!("/events/{}", night.event);
    assert_eq!(page(&api, &form, &ben).expect(303).await.header("location"), event);
    api.settle(&night.event, &cast.olga).await;
    assert_eq!(page(&api, &form, &ben).expect(303).await.header("location"), event);
    let seen = page(&api, &format!("{form}?member={}", night.ann), &olga).expect(303).await;
    assert_eq!(seen.header("location"), card);
}

/// The page of a corrected card tells when it was corrected, not when it first came in.
#[tokio::test]
async fn a_corrected_card_tells_when_it_was_saved() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let handed = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let ann = signed_in(&api, &cast.ann.email).await;
    let path = format!("/rounds/{}?saved=1", handed.id());
    let saved = |page: String| page.split("Saved at ").nth(1).unwrap_or_default().chars().take(8).collect::<String>();
    let first = saved(page(&api, &path, &ann).expect(200).await.text());
    api.server.pass(120);
    let mut card = round(&night.ann);
    card["holes"][0]["strokes"] = json!(9);
    card["client_round_id"] = handed.json()["client_round_id"].clone();
    let at = format!("/rounds/{}", handed.id());
    let corrected = api.call("PUT", &at).by(&cast.ann).body(&card).with("if-match", "\"1\"").expect(200).await;
    assert_eq!(corrected.json()["version"], 2);
    let shown = page(&api, &path, &ann).expect(200).await.text();
    let second = saved(shown.clone());
    let minutes = |time: &str| time[..2].parse::<i32>().unwrap() * 60 + time[3..5].parse::<i32>().unwrap();
    assert_eq!((minutes(&second) - minutes(&first)).rem_euclid(24 * 60), 2, "{first} and {second}");
    assert!(shown.contains("last changed"), "{shown}");
}

/// A page that says that too much was asked, or that the server is busy, says for how long, as the interface does.
#[tokio::test]
async fn a_page_of_a_failure_says_when_to_try_again() {
    let allowance = Allowance { reads: 3.0, reads_per_minute: 1.0, ..Settings::default().allowance };
    let api = Api::new(Server::start(Settings { allowance, ..Settings::default() }));
    let ann = api.person("Ann").await;
    let ann = signed_in(&api, &ann.email).await;
    for _ in 0..3 {
        page(&api, "/notices", &ann).expect(200).await;
    }
    let refused = page(&api, "/notices", &ann).expect(429).await;
    assert!(refused.header("retry-after").parse::<u32>().is_ok_and(|seconds| seconds > 0), "{refused}");
    assert!(refused.text().contains("data-account"), "its cards that wait are shown here too: {refused}");
}

/// U6: a card that one account filled in is not handed in by another that signed in at the same browser.
#[tokio::test]
async fn a_card_is_not_sent_with_another_accounts_session() {
    let (api, cast, night) = start().await;
    let (ann, ben) = (signed_in(&api, &cast.ann.email).await, signed_in(&api, &cast.ben.email).await);
    let form = format!("/events/{}/hand-in", night.event);
    let sheet = page(&api, &form, &ann).expect(200).await.text();
    let mut fields: Vec<(String, String)> = (1..=18).map(|hole| (format!("strokes_{hole}"), "5".into())).collect();
    for (name, value) in [("played_on", "2027-01-14"), ("outcome", "complete"), ("setup_id", "")] {
        fields.push((name.into(), value.into()));
    }
    for name in ["client_round_id", "key", "account"] {
        fields.push((name.into(), value(&sheet, name)));
    }
    let fields = crate::support::browsing::pairs(&fields);
    let refused = send(&api, &form, &ben, &fields).expect(303).await;
    assert!(refused.header("location").starts_with("/sign-in"), "{refused}");
    let rounds = api.get(format!("/events/{}/rounds", night.event)).by(&cast.ben).expect(200).await.json();
    assert_eq!(rounds["items"], json!([]), "nothing was handed in");
    send(&api, &form, &ann, &fields).expect(303).await;
}
