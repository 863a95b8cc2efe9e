//! Decisions about a league index, on the pages.

use crate::support::browsing::{page, send, signed_in};
use crate::support::harness::shared;

#[tokio::test]
async fn an_organizer_caps_an_index_and_undoes_it() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (olga, ann) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ann.email).await);
    let at = format!("/members/{}/handicap-acts", night.ann);
    let own = page(&api, &format!("/members/{}", night.ann), &ann).expect(200).await.text();
    assert!(own.contains(&at), "{own}");
    page(&api, &format!("{at}/new"), &ann).expect(403).await;
    let mut fields = vec![("kind", "cap"), ("value", "5,x"), ("from", "2027-02-01"), ("until", ""), ("reason", "-")];
    let wrong = send(&api, &format!("{at}/new"), &olga, &fields).expect(422).await.text();
    assert!(wrong.contains("fault_value"), "{wrong}");
    fields[1].1 = "+2,5";
    send(&api, &format!("{at}/new"), &olga, &fields).expect(303).await;
    let shown = page(&api, &at, &ann).expect(200).await.text();
    assert!(shown.contains("At most +2.5 from 2027-02-01") && !shown.contains("Undo…"), "{shown}");
    let shown = page(&api, &at, &olga).expect(200).await.text();
    let act = shown.split("name=\"act\" value=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("an act");
    let asked = send(&api, &format!("{at}/undo"), &olga, &[("act", act)]).expect(200).await.text();
    assert!(asked.contains("At most +2.5 from 2027-02-01?"), "{asked}");
    let answered = [("act", act), ("seen", "yes"), ("reason", "a mistake")];
    send(&api, &format!("{at}/undo"), &olga, &answered).expect(303).await;
    let shown = page(&api, &at, &ann).expect(200).await.text();
    assert!(shown.contains("(undone)") && shown.contains("a mistake"), "{shown}");
    let told = page(&api, "/notices", &ann).expect(200).await.text();
    assert!(told.contains("decided about your league index"), "{told}");
}
