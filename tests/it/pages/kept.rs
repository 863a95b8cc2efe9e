//! Pages that a browser keeps: asked about again, sent anew only when they changed, and never another viewer's.

use crate::support::browsing::{page, signed_in};
use crate::support::harness::{own, round, shared};
use serde_json::json;

#[tokio::test]
async fn a_page_that_did_not_change_is_not_sent_again() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let handed = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    let (ann, ben, otto) = (
        signed_in(&api, &cast.ann.email).await,
        signed_in(&api, &cast.ben.email).await,
        signed_in(&api, &cast.otto.email).await,
    );
    let paths = [
        format!("/seasons/{}", night.season),
        format!("/events/{}", night.event),
        format!("/rounds/{handed}"),
        format!("/members/{}", night.ann),
        format!("/leagues/{}", night.league),
        format!("/leagues/{}/members", night.league),
        "/leagues".to_owned(),
    ];
    let mut tags = Vec::new();
    for path in &paths {
        let first = page(&api, path, &ann).expect(200).await;
        let tag = first.header("etag").to_owned();
        assert!(tag.starts_with("W/\""), "{path}: {tag:?}");
        let again = page(&api, path, &ann).with("if-none-match", &format!("\"other\", {tag}")).expect(304).await;
        for name in ["etag", "cache-control", "vary"] {
            assert_eq!(again.header(name), first.header(name), "{path}: {name}");
        }
        assert_eq!(first.header("cache-control"), "private, no-cache", "{path}");
        assert!(first.header("vary").to_lowercase().contains("cookie"), "{path}");
        // Ann's tag opens nothing for anybody else.
        let other = page(&api, path, &ben).with("if-none-match", &tag).expect(200).await;
        let bens = if path == "/leagues" { ">Ben</a>".to_owned() } else { format!("\"/members/{}\"", night.ben) };
        assert!(other.text().contains(&bens) && other.header("etag") != tag, "{path}: {other}");
        page(&api, path, "").with("if-none-match", &tag).expect(303).await;
        let outside = page(&api, path, &otto).with("if-none-match", &tag).send().await;
        assert_eq!(outside.status, if path == "/leagues" { 200 } else { 404 }, "{path}");
        assert_eq!((outside.header("etag") == tag, outside.status == 304), (false, false), "{path}");
        tags.push(tag);
    }
    // A card that comes in changes the board, the table and its head on the league's page, not the card that was there.
    api.hand_in(&night.event, &cast.ben, &round(&night.ben)).await;
    for (n, changed) in [(0, 200), (1, 200), (2, 304), (3, 304), (4, 200)] {
        page(&api, &paths[n], &ann).with("if-none-match", &tags[n]).expect(changed).await;
    }
    let renamed = json!({ "display_name": "Ann of the Pond" });
    api.patch(format!("/members/{}", night.ann), &renamed).by(&cast.olga).matching("*").expect(200).await;
    for (n, changed) in [(2, 200), (3, 200), (5, 200)] {
        page(&api, &paths[n], &ann).with("if-none-match", &tags[n]).expect(changed).await;
    }
}

/// A board tells the time: the same board is the same page for a minute.
#[tokio::test]
async fn a_board_that_stands_still_is_sent_again_after_a_minute() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let ann = signed_in(&api, &cast.ann.email).await;
    let path = format!("/events/{}", night.event);
    let tag = page(&api, &path, &ann).expect(200).await.header("etag").to_owned();
    api.server.pass(59);
    page(&api, &path, &ann).with("if-none-match", &tag).expect(304).await;
    api.server.pass(1);
    let later = page(&api, &path, &ann).with("if-none-match", &tag).expect(200).await;
    assert!(later.text().contains("20:01:00"), "it says the time again: {later}");
}

/// What others must not find in a shared browser is not kept at all.
#[tokio::test]
async fn findings_forms_and_failures_are_not_kept() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let (player, _) = api.finding(&cast, &night, &cast.ann, &night.ann).await;
    let ann = signed_in(&api, &cast.ann.email).await;
    let (list, part) = (format!("/leagues/{}/findings", night.league), format!("/events/{}/board", night.event));
    let paths = [format!("/findings/{player}"), list, part, "/sign-in".into(), "/no".into()];
    for path in paths {
        let seen = page(&api, &path, &ann).send().await;
        assert_eq!((seen.header("cache-control"), seen.header("etag")), ("no-store", ""), "{path}");
    }
}

/// A device keeps Tonight for times without a network: without what waits for its player, marked with the account.
#[tokio::test]
async fn tonight_is_kept_without_what_is_the_players_alone() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let ann = signed_in(&api, &cast.ann.email).await;
    let path = format!("/leagues/{}", night.league);
    let shown = page(&api, &path, &ann).expect(200).await.text();
    let kept = page(&api, &format!("{path}?kept=1"), &ann).expect(200).await;
    assert_eq!((kept.header("cache-control"), kept.header("etag")), ("no-store", ""));
    let kept = kept.text();
    assert!(shown.contains("href=\"/notices\"") && !kept.contains("/notices") && !kept.contains("/findings"), "{kept}");
    assert!(kept.contains("data-account=\"") && kept.contains("This page is kept on this device"), "{kept}");
    assert!(kept.contains("/hand-in") && !shown.contains("kept on this device"), "{kept}");
    page(&api, &format!("{path}?kept=1"), "").expect(303).await;
}

/// What pages are dressed with is kept for ever, under an address that its content makes; the worker is asked for anew.
#[tokio::test]
async fn assets_have_the_address_of_their_content() {
    let (api, _) = shared().await;
    let door = api.outside("GET", "/sign-in").with("accept", "text/html").expect(200).await.text();
    let sheet = door.split("rel=\"stylesheet\" href=\"").nth(1).and_then(|rest| rest.split('"').next()).unwrap();
    let seen = api.outside("GET", sheet).expect(200).await;
    assert_eq!(seen.header("cache-control"), "public, max-age=31536000, immutable", "{sheet}");
    let worker = api.outside("GET", "/service-worker.js").expect(200).await;
    assert_eq!(worker.header("cache-control"), "no-cache");
    assert!(worker.text().contains(sheet), "{worker}");
    let other = sheet.replace("/assets/", "/assets/0");
    api.outside("GET", &other).refused(404, "not-found").await;
}
