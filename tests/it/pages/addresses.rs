//! The page of secret addresses.

use crate::support::browsing::{page, send, signed_in};
use crate::support::harness::shared;

/// An address is shown once, listed for those who may revoke it, and revoked after a question.
#[tokio::test]
async fn an_address_is_made_and_revoked_on_its_page() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let at = format!("/leagues/{}/addresses", night.league);
    let (olga, ann) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ann.email).await);
    let links = |html: &str| {
        html.split("value=\"")
            .filter_map(|part| part.split_once("/s/"))
            .map(|(_, rest)| rest[..43].to_owned())
            .collect::<Vec<_>>()
    };
    assert!(!page(&api, &at, &ann).expect(200).await.text().contains("Public pages"), "a player makes none");
    send(&api, &at, &ann, &[("key", "one"), ("names", "full")]).expect(403).await;
    send(&api, &at, &olga, &[("key", "one"), ("names", "nicknames")]).expect(400).await;
    let made = send(&api, &at, &olga, &[("key", "one"), ("names", "initials")]).expect(200).await.text();
    let again = send(&api, &at, &olga, &[("key", "one"), ("names", "initials")]).expect(200).await.text();
    assert_eq!((links(&made).len(), links(&made)), (1, links(&again)), "sent twice it is one address");
    let code = links(&made).remove(0);
    api.outside("GET", &format!("/s/{code}")).expect(200).await;
    let calendar = send(&api, &at, &ann, &[("key", "two")]).expect(200).await.text();
    assert!(calendar.contains("/calendar.ics"), "{calendar}");

    let listed = page(&api, &at, &olga).expect(200).await.text();
    assert!(links(&listed).is_empty() && listed.contains("public pages with initials"), "{listed}");
    let address = listed.split("name=\"address\" value=\"").nth(1).expect("listed")[..36].to_owned();
    let asked = send(&api, &format!("{at}/revocation"), &olga, &[("address", &address)]).expect(200).await.text();
    assert!(asked.contains("stops working at once"), "{asked}");
    api.outside("GET", &format!("/s/{code}")).expect(200).await;
    let answered = [("address", address.as_str()), ("seen", "yes")];
    send(&api, &format!("{at}/revocation"), &olga, &answered).expect(303).await;
    api.outside("GET", &format!("/s/{code}")).expect(404).await;
    // The form of before, sent once more, does not show a link that leads nowhere.
    send(&api, &at, &olga, &[("key", "one"), ("names", "initials")]).expect(409).await;
}
