//! An event is made final, or deleted, by forms that ask first, and that say why where it cannot be.

use crate::support::browsing::{page, send, signed_in, value};
use crate::support::harness::{Api, Cast, Night, round, shared};
use serde_json::json;

async fn start() -> (Api, Cast, Night, String) {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let olga = signed_in(&api, &cast.olga.email).await;
    (api, cast, night, olga)
}

/// Before an event is final its cards are shown, with what becomes fixed and what can still move. Cards that came after
/// the question was put are shown first; a form sent twice makes it final once.
#[tokio::test]
async fn making_an_event_final_is_asked_about() {
    let (api, cast, night, olga) = start().await;
    let path = format!("/events/{}/state", night.event);
    let state = || async {
        let event = api.get(format!("/events/{}", night.event)).by(&cast.olga).expect(200).await.json();
        event["state"].as_str().unwrap().to_owned()
    };
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let bens = api.hand_in(&night.event, &cast.ben, &round(&night.ben)).await.id();
    api.call("POST", &format!("/rounds/{bens}/attestation")).by(&cast.ann).expect(200).await;
    let proposed = api.hand_in(&night.event, &cast.ann, &round(&night.sam)).await.id();
    let entries = format!("/events/{}/entries", night.event);
    api.post(entries, &json!({ "member_id": night.olga }))
        .by(&cast.olga)
        .key(&crate::support::harness::id())
        .expect(201)
        .await;

    let fields = [("state", "final")];
    send(&api, &path, &signed_in(&api, &cast.sam.email).await, &fields).expect(403).await;
    let early = send(&api, &path, &olga, &fields).expect(409).await.text();
    assert!(
        early.contains("Second night cannot be final now")
            && early.contains("This event can be made final after it closes"),
        "{early}"
    );
    assert!(!early.contains("name=\"seen\""), "there is nothing to confirm: {early}");
    let over = json!({ "closes_at": "2027-01-14T18:59:00Z" });
    let event = format!("/events/{}", night.event);
    api.patch(&event, &over).by(&cast.olga).matching("*").expect(200).await;
    // Whatever a form says, a card that waits is accepted or withdrawn first; it is a tap away.
    for fields in [vec![("state", "final")], vec![("state", "final"), ("seen", "yes"), ("version", "2")]] {
        let waits = send(&api, &path, &olga, &fields).expect(409).await.text();
        assert!(waits.contains("1 card has to be accepted or withdrawn"), "{waits}");
        assert!(waits.contains(&format!("/rounds/{proposed}")) && !waits.contains("name=\"seen\""), "{waits}");
    }
    api.delete(format!("/rounds/{proposed}?reason=twice")).by(&cast.olga).matching("*").expect(204).await;

    let asked = send(&api, &path, &olga, &fields).expect(200).await.text();
    for shown in [
        "Make Second night final?",
        "2 cards count, 1 witnessed.",
        "1 card was withdrawn.",
        "1 player entered and has no card.",
        "<td>witnessed</td><td>yes</td>",
        "<td>handed in</td><td>yes</td>",
        "<td>withdrawn</td><td>no</td>",
        "What cannot be undone",
        "first final event",
        "What can still change",
        "is corrected by a scorer",
    ] {
        assert!(asked.contains(shown), "{shown}: {asked}");
    }
    assert_eq!(state().await, "closed", "asking does nothing");
    // A scorer brings a card meanwhile: it is seen before it is settled.
    let hidden = |asked: &str| ["state", "version", "mark"].map(|name| (name, value(asked, name)));
    let confirm = |hidden: [(&'static str, String); 3]| {
        let mut fields: Vec<_> = hidden.iter().map(|(name, value)| (*name, value.as_str())).collect();
        fields.push(("seen", "yes"));
        send(&api, &path, &olga, &fields)
    };
    api.hand_in(&night.event, &cast.sam, &round(&night.olga)).await;
    let again = confirm(hidden(&asked)).expect(409).await.text();
    assert!(again.contains("have changed in the meantime") && again.contains("3 cards count"), "{again}");
    assert_eq!(state().await, "closed");
    for _ in 0..2 {
        let done = confirm(hidden(&again)).expect(303).await;
        assert_eq!(done.header("location"), event);
    }
    assert_eq!(state().await, "final");
    // The next event of the season settles no terms.
    let next = api.event(&cast, &night, over).await;
    api.hand_in(&next, &cast.sam, &round(&night.ann)).await;
    let asked = send(&api, &format!("/events/{next}/state"), &olga, &fields).expect(200).await.text();
    assert!(asked.contains("1 card counts") && !asked.contains("first final event"), "{asked}");
}

/// An event that no card counts in has no results: the page says so, and asks nothing.
#[tokio::test]
async fn an_event_without_a_counting_card_cannot_be_final() {
    let (api, cast, night, olga) = start().await;
    let over = json!({ "closes_at": "2027-01-14T18:59:00Z" });
    api.patch(format!("/events/{}", night.event), &over).by(&cast.olga).matching("*").expect(200).await;
    let path = format!("/events/{}/state", night.event);
    let told = send(&api, &path, &olga, &[("state", "final")]).expect(409).await.text();
    assert!(told.contains("No card of this event counts") && !told.contains("name=\"seen\""), "{told}");
    assert!(told.contains("This event has no cards"), "{told}");
}

/// An event without cards is deleted by its button, once it was said what goes; one with a card has no button.
#[tokio::test]
async fn an_event_without_cards_is_deleted() {
    let (api, cast, night, olga) = start().await;
    let ben = signed_in(&api, &cast.ben.email).await;
    let (event, season) = (format!("/events/{}", night.event), format!("/seasons/{}", night.season));
    let path = format!("{event}/removal");
    let button = format!("action=\"{path}\"");
    assert!(page(&api, &event, &olga).expect(200).await.text().contains(&button));
    assert!(!page(&api, &event, &ben).expect(200).await.text().contains(&button));
    send(&api, &path, &ben, &[("seen", "yes")]).expect(403).await;

    // A card that was withdrawn stays on record, and its event with it.
    let other = api.event(&cast, &night, json!({})).await;
    let handed = api.hand_in(&other, &cast.ann, &round(&night.ann)).await.id();
    api.delete(format!("/rounds/{handed}")).by(&cast.ann).matching("*").expect(204).await;
    let at = format!("/events/{other}");
    assert!(!page(&api, &at, &olga).expect(200).await.text().contains("/removal"));
    let kept = send(&api, &format!("{at}/removal"), &olga, &[]).expect(409).await.text();
    assert!(kept.contains("withdrawn cards are kept") && !kept.contains("name=\"seen\""), "{kept}");

    let entry = json!({ "member_id": night.ben });
    api.post(format!("{event}/entries"), &entry).by(&cast.ben).key(&crate::support::harness::id()).expect(201).await;
    let asked = send(&api, &path, &olga, &[]).expect(200).await.text();
    assert!(asked.contains("Delete Second night?") && asked.contains("1 entry: who plays when and where"), "{asked}");
    api.get(&event).by(&cast.olga).expect(200).await;
    // Changed since it was asked about, it is asked about again.
    let named = json!({ "name": "Third night" });
    api.patch(&event, &named).by(&cast.olga).matching("*").expect(200).await;
    let (of, version) = (value(&asked, "season"), value(&asked, "version"));
    let fields = [("season", of.as_str()), ("version", version.as_str()), ("seen", "yes")];
    let again = send(&api, &path, &olga, &fields).expect(412).await.text();
    assert!(again.contains("Delete Third night?") && again.contains("Nothing was changed"), "{again}");
    let version = value(&again, "version");
    let fields = [("season", of.as_str()), ("version", version.as_str()), ("seen", "yes")];
    for _ in 0..2 {
        assert_eq!(send(&api, &path, &olga, &fields).expect(303).await.header("location"), season);
    }
    api.get(&event).by(&cast.olga).expect(404).await;
    assert!(!page(&api, &season, &olga).expect(200).await.text().contains(&night.event));
    send(&api, &path, &olga, &[]).expect(404).await;
}

/// An event becomes void, and counts again, once it was said what follows; the board, the table and *Tonight* say so.
#[tokio::test]
async fn making_an_event_void_is_asked_about() {
    let (api, cast, night, olga) = start().await;
    let ben = signed_in(&api, &cast.ben.email).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let (event, season) = (format!("/events/{}", night.event), format!("/seasons/{}", night.season));
    let path = format!("{event}/void");
    assert!(page(&api, &event, &olga).expect(200).await.text().contains(&format!("action=\"{path}\"")));
    assert!(!page(&api, &event, &ben).expect(200).await.text().contains(&path));
    send(&api, &path, &ben, &[("seen", "yes")]).expect(403).await;

    let asked = send(&api, &path, &olga, &[("handicap", "no")]).expect(200).await.text();
    assert!(
        asked.contains("Make Second night void?") && asked.contains("do not count for the league index"),
        "{asked}"
    );
    let version = value(&asked, "version");
    let fields = |reason| [("handicap", "no"), ("version", version.as_str()), ("seen", "yes"), ("reason", reason)];
    let again = send(&api, &path, &olga, &fields(" ")).expect(422).await.text();
    assert!(again.contains("Nothing was changed") && again.contains("name=\"reason\""), "{again}");
    assert!(!page(&api, &event, &ben).expect(200).await.text().contains("Void: no competition"));
    for _ in 0..2 {
        assert_eq!(send(&api, &path, &olga, &fields("no power")).expect(303).await.header("location"), event);
    }
    let seen = api.get(&event).by(&cast.ben).expect(200).await.json();
    assert_eq!(seen["void"], json!({ "reason": "no power", "handicap": false }));
    let board = page(&api, &event, &ben).expect(200).await.text();
    assert!(board.contains("Void: no competition counts this event. Reason: no power."), "{board}");
    assert!(board.contains("State: void") && !board.contains("Hand in my card"), "{board}");
    let table = page(&api, &season, &ben).expect(200).await.text();
    assert!(table.contains("Second night is void: no power."), "{table}");
    let tonight = page(&api, &format!("/leagues/{}", night.league), &ben).expect(200).await.text();
    assert!(tonight.contains("Void: Second night") && !tonight.contains(&format!("{event}/hand-in")), "{tonight}");
    let changes = page(&api, &format!("{season}/changes"), &ben).expect(200).await.text();
    assert!(changes.contains("Event: made void") && changes.contains("no power"), "{changes}");
    let told = page(&api, "/notices", &signed_in(&api, &cast.ann.email).await).expect(200).await.text();
    assert!(told.contains("An event is void"), "{told}");

    let asked = send(&api, &path, &olga, &[("undo", "yes")]).expect(200).await.text();
    assert!(asked.contains("Count Second night again?") && asked.contains("It is void: no power"), "{asked}");
    let version = value(&asked, "version");
    let fields = [("undo", "yes"), ("version", version.as_str()), ("seen", "yes")];
    assert_eq!(send(&api, &path, &olga, &fields).expect(303).await.header("location"), event);
    assert!(page(&api, &event, &ben).expect(200).await.text().contains("Hand in my card"));

    // After the next final it is said that it stays.
    api.settle(&night.event, &cast.olga).await;
    let next = api.event(&cast, &night, json!({})).await;
    api.hand_in(&next, &cast.ann, &round(&night.ann)).await;
    api.settle(&next, &cast.olga).await;
    let told = send(&api, &path, &olga, &[("handicap", "yes")]).expect(409).await.text();
    assert!(told.contains("a later event of this season is final") || told.contains("A later event"), "{told}");
    assert!(!told.contains("name=\"seen\""), "{told}");
}
