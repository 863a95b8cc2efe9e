//! Secret addresses: public pages and calendars, read without an account until they are revoked.

use crate::support::harness::{Api, Seen, id, round, shared, text};
use serde_json::json;

async fn looked(api: &Api, path: &str) -> String {
    api.outside("GET", path).expect(200).await.text()
}

async fn unknown(api: &Api, path: &str) {
    let seen = api.outside("GET", path).expect(404).await;
    assert!(!seen.text().contains("Cellar"), "{seen}");
}

fn path_of(made: &Seen) -> String {
    text(&made.json(), "path")
}

/// An organizer shows table, boards and schedule to people without an account, with initials or names, until the address
/// is revoked. Nobody else can, and an address opens its own league alone.
#[tokio::test]
async fn a_league_is_shown_by_a_secret_address_until_it_is_revoked() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let at = format!("/leagues/{}/addresses", night.league);
    let public = |names: &str| json!({ "kind": "public", "names": names });
    api.post(&at, &public("full")).by(&cast.ann).refused(403, "forbidden").await;
    api.post(&at, &public("nicknames")).by(&cast.olga).refused(422, "validation").await;
    api.post(&at, &json!({ "kind": "calendar", "names": "full" })).by(&cast.olga).refused(422, "validation").await;
    let initials = api.post(&at, &json!({ "kind": "public" })).by(&cast.olga).expect(201).await;
    let full = api.post(&at, &public("full")).by(&cast.olga).expect(201).await;
    let (by_initials, by_names) = (path_of(&initials), path_of(&full));
    assert_eq!(by_names.len(), "/s/".len() + 43, "256 bits: {by_names}");

    for (part, with_name) in [("", true), ("/screen", true), (&*format!("/events/{}", night.event), true)] {
        let page = looked(&api, &format!("{by_names}{part}")).await;
        assert_eq!(page.contains(">Ann<"), with_name, "{part}: {page}");
        let page = looked(&api, &format!("{by_initials}{part}")).await;
        assert!(page.contains(">A.<") && !page.contains("Ann") && page.contains("noindex"), "{part}: {page}");
        assert!(!page.contains("/members/") && !page.contains("/rounds/"), "nothing leads to what needs an account");
    }
    let seen = api.outside("GET", &by_names).expect(200).await;
    assert_eq!((seen.header("x-robots-tag"), seen.header("cache-control")), ("noindex", "no-store"));
    let elsewhere = api.night(&cast).await;
    unknown(&api, &format!("{by_names}/events/{}", elsewhere.event)).await;
    unknown(&api, &format!("{by_names}/calendar.ics")).await;
    unknown(&api, &format!("/s/{}", "A".repeat(43))).await;
    unknown(&api, "/s/none").await;

    let listed = api.get(&at).by(&cast.olga).expect(200).await.json();
    assert_eq!(listed["items"].as_array().map(Vec::len), Some(2));
    assert!(!listed.to_string().contains(&by_names), "where they lead is not kept");
    assert_eq!(api.get(&at).by(&cast.ann).expect(200).await.json()["items"], json!([]));
    let of = |made: &Seen| format!("/addresses/{}", made.id());
    api.delete(of(&full)).by(&cast.ann).refused(403, "forbidden").await;
    api.delete(of(&full)).by(&cast.olga).expect(204).await;
    unknown(&api, &by_names).await;
    unknown(&api, &format!("{by_names}/screen")).await;
    api.delete(of(&full)).by(&cast.olga).refused(404, "not-found").await;
    looked(&api, &by_initials).await;
    for _ in 1..20 {
        api.post(&at, &public("full")).by(&cast.olga).expect(201).await;
    }
    api.post(&at, &public("full")).by(&cast.olga).refused(409, "too-many").await;
}

/// A calendar has the nights with the same ids whatever becomes of them, and its holder's bay and time; it ends with the
/// right to read the league.
#[tokio::test]
async fn a_members_calendar_follows_the_nights() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = format!("/leagues/{}/addresses", night.league);
    let calendar = json!({ "kind": "calendar" });
    let made = api.post(&at, &calendar).by(&cast.ben).expect(201).await;
    let path = path_of(&made);
    assert!(path.ends_with("/calendar.ics"), "{path}");
    let lines = |text: String| text.replace("\r\n ", "").lines().map(str::to_owned).collect::<Vec<_>>();
    let seen = api.outside("GET", &path).expect(200).await;
    assert_eq!(seen.header("content-type"), "text/calendar; charset=utf-8");
    let before = lines(seen.text());
    let uid = format!("UID:{}@evenfield", night.event);
    assert!(before.contains(&uid) && before.contains(&"SEQUENCE:0".to_owned()), "{before:#?}");
    let place = json!({ "bay": "4", "slot": "19:30" });
    api.post(format!("/events/{}/entries", night.event), &place).by(&cast.ben).key(&id()).expect(201).await;
    let event = format!("/events/{}", night.event);
    api.patch(&event, &json!({ "name": "Opening night" })).by(&cast.olga).matching("*").expect(200).await;
    let after = lines(looked(&api, &path).await);
    assert!(after.contains(&uid) && after.contains(&"SEQUENCE:1".to_owned()), "{after:#?}");
    assert!(after.iter().any(|line| line.starts_with("SUMMARY:Opening night")), "{after:#?}");
    assert!(after.contains(&"LOCATION:bay 4".to_owned()) && after.concat().contains("19:30"), "{after:#?}");
    let anns = path_of(&api.post(&at, &calendar).by(&cast.ann).expect(201).await);
    assert!(!looked(&api, &anns).await.contains("19:30"), "the bay is Ben's");
    unknown(&api, path.trim_end_matches("/calendar.ics")).await;

    for _ in 1..5 {
        api.post(&at, &calendar).by(&cast.ben).expect(201).await;
    }
    api.post(&at, &calendar).by(&cast.ben).refused(409, "too-many").await;
    api.delete(format!("/members/{}", night.ben)).by(&cast.olga).matching("*").expect(204).await;
    unknown(&api, &path).await;
    looked(&api, &anns).await;
}
