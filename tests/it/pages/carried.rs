//! What a league brings along, on the pages.

use crate::support::browsing::{page, send, signed_in};
use crate::support::harness::shared;

#[tokio::test]
async fn an_organizer_brings_values_and_differentials_along_and_takes_them_out() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (olga, ann) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ann.email).await);
    let at = format!("/seasons/{}/carried", night.season);
    page(&api, &format!("{at}/new"), &ann).expect(403).await;
    let who = format!("member_id {}", night.ann);
    let competition = night.competition.as_str();
    let mut fields = vec![
        ("who", who.as_str()),
        ("competition_id", competition),
        ("label", "Autumn"),
        ("value", "x"),
        ("source", "a sheet"),
    ];
    let wrong = send(&api, &format!("{at}/new"), &olga, &fields).expect(422).await.text();
    assert!(wrong.contains("fault_value"), "{wrong}");
    fields[3].1 = "12,5";
    send(&api, &format!("{at}/new"), &olga, &fields).expect(303).await;
    let shown = page(&api, &at, &ann).expect(200).await.text();
    assert!(shown.contains("Ann: Autumn, Winter 2027") && shown.contains("12.5"), "{shown}");
    assert!(!shown.contains("Remove"), "{shown}");
    let shown = page(&api, &at, &olga).expect(200).await.text();
    let id =
        shown.split("name=\"id\" value=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("an id").to_owned();
    let asked = send(&api, &format!("{at}/removal"), &olga, &[("id", &id)]).expect(200).await.text();
    assert!(asked.contains("Ann: Autumn, Winter 2027, 12.5?"), "{asked}");
    let bare = [("id", id.as_str()), ("seen", "yes")];
    send(&api, &format!("{at}/removal"), &olga, &bare).expect(422).await;
    let why = [("id", id.as_str()), ("seen", "yes"), ("reason", "counted twice")];
    send(&api, &format!("{at}/removal"), &olga, &why).expect(303).await;
    assert!(page(&api, &at, &ann).expect(200).await.text().contains("Nothing was brought along"));

    let at = format!("/members/{}/carried", night.ann);
    let fields = [("played_on", "2026-12-01"), ("differential", "12.3"), ("source", "an old sheet")];
    send(&api, &format!("{at}/new"), &olga, &fields).expect(303).await;
    let shown = page(&api, &at, &ann).expect(200).await.text();
    assert!(shown.contains("2026-12-01") && shown.contains("12.3"), "{shown}");
}
