//! Points given and taken, on the pages.

use crate::support::browsing::{page, send, signed_in};
use crate::support::harness::{round, shared};

#[tokio::test]
async fn points_are_taken_in_a_table_of_cards_and_given_back() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (olga, ann) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ann.email).await);
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let at = format!("/competitions/{}/adjustments", night.competition);
    let terms = page(&api, &format!("/competitions/{}", night.competition), &ann).expect(200).await.text();
    assert!(terms.contains(&at), "{terms}");
    page(&api, &format!("{at}/new"), &ann).expect(403).await;
    let who = format!("member_id {}", night.ann);
    let mut fields = vec![("who", who.as_str()), ("points", "two"), ("counts", "after"), ("reason", "slow play")];
    let wrong = send(&api, &format!("{at}/new"), &olga, &fields).expect(422).await.text();
    assert!(wrong.contains("fault_points"), "{wrong}");
    fields[1].1 = "-2";
    send(&api, &format!("{at}/new"), &olga, &fields).expect(303).await;
    let shown = page(&api, &at, &ann).expect(200).await.text();
    assert!(shown.contains("slow play") && shown.contains("-2") && !shown.contains("Take back"), "{shown}");
    let table = page(&api, &format!("/seasons/{}/nights", night.season), &ann).expect(200).await.text();
    assert!(table.contains("adjusted by"), "{table}");
    let shown = page(&api, &at, &olga).expect(200).await.text();
    let id = shown.split("name=\"id\" value=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("an id");
    send(&api, &format!("{at}/removal"), &olga, &[("id", id)]).expect(200).await;
    send(&api, &format!("{at}/removal"), &olga, &[("id", id), ("seen", "yes")]).expect(303).await;
    assert!(page(&api, &at, &ann).expect(200).await.text().contains("No points were given or taken."));
}
