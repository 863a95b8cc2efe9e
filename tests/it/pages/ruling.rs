//! Who puts a slip on a card right after its event is final, by forms: an organizer; on the only organizer's a scorer.

use crate::support::browsing::{page, pairs, send, signed_in, value};
use crate::support::harness::{round, shared};
use serde_json::json;

/// Who was asked about an own card is told who puts it right; nobody does so alone.
#[tokio::test]
async fn a_scorer_mends_the_only_organizers_card_on_its_page() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let handed = api.hand_in(&night.event, &cast.olga, &round(&night.olga)).await;
    let anns = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await.id();
    let card = format!("/rounds/{}", handed.id());
    let address = format!("{card}/ruling");
    let link = format!("href=\"{address}\"");
    let (olga, sam) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.sam.email).await);
    let (ann, otto) = (signed_in(&api, &cast.ann.email).await, signed_in(&api, &cast.otto.email).await);
    let shown = |at: String, browser: &str| {
        let call = page(&api, &at, browser);
        async move { call.expect(200).await.text() }
    };
    let before = shown(card.clone(), &sam).await;
    assert!(before.contains("Change this card") && !before.contains(&link), "{before}");
    assert!(!shown(card.clone(), &olga).await.contains("puts a slip"), "the player changes it");
    api.settle(&night.event, &cast.olga).await;

    let own = shown(card.clone(), &olga).await;
    assert!(own.contains("You are the only organizer, so a scorer has to correct it") && !own.contains(&link));
    page(&api, &address, &olga).expect(403).await;
    let anns = format!("/rounds/{anns}");
    assert!(shown(anns.clone(), &ann).await.contains("An organizer can still correct your card by a ruling"));
    assert!(!shown(card.clone(), &ann).await.contains("puts a slip"), "it is nobody else's card");
    page(&api, &format!("{anns}/ruling"), &sam).expect(403).await;
    page(&api, &address, &ann).expect(403).await;

    assert!(shown(card.clone(), &sam).await.contains(&link));
    let form = shown(address.clone(), &sam).await;
    assert!(form.contains("value=\"correct\"") && !form.contains("exclude_round"), "{form}");
    let mut fields: Vec<(String, String)> = Vec::new();
    for kind in ["strokes", "putts"] {
        fields.extend((1..=18).map(|hole| format!("{kind}_{hole}")).map(|name| (name.clone(), value(&form, &name))));
    }
    fields[0].1 = "6".into();
    let was = value(&form, "strokes_1");
    fields.extend([("decision".into(), "correct".into()), ("key".into(), value(&form, "key"))]);
    let refused = send(&api, &address, &sam, &pairs(&fields)).expect(422).await.text();
    assert!(refused.contains("Not saved") && refused.contains("value=\"6\""), "it takes a reason: {refused}");
    fields.push(("reason".into(), "hole 1 was a six".into()));
    let preview = send(&api, &address, &sam, &pairs(&fields)).expect(200).await.text();
    let stored = || async { api.get(&card).by(&cast.ann).expect(200).await.json() };
    let (old, new) = (handed.json()["gross"].as_i64().unwrap(), handed.json()["gross"].as_i64().unwrap() + 2);
    for seen in [
        format!("<th scope=\"row\">1</th><td>{was}</td><td>6</td>"),
        format!("<th scope=\"row\">now</th><td class=\"n\">1</td><td class=\"n\">{old}</td>"),
        format!("<th scope=\"row\">then</th><td class=\"n\">2</td><td class=\"n\">{new}</td>"),
    ] {
        assert!(preview.contains(&seen), "{seen}: {preview}");
    }
    assert!(!preview.contains("<th scope=\"row\">2</th><td>"), "no other hole changes: {preview}");
    assert_eq!(stored().await["gross"], old, "asking does nothing");
    let mut out = fields.clone();
    out.push(("seen".into(), "yes".into()));
    let mut other = out.clone();
    other.retain(|(name, _)| name != "decision");
    other.push(("decision".into(), "exclude_round".into()));
    send(&api, &address, &sam, &pairs(&other)).expect(403).await;
    send(&api, &address, &sam, &pairs(&out)).expect(303).await;
    assert_eq!(stored().await["gross"], json!(new));

    // Beside another organizer it is that one.
    api.join(&night.league, &cast.olga, &cast.otto, "organizer").await;
    page(&api, &address, &sam).expect(403).await;
    assert!(!shown(card.clone(), &sam).await.contains(&link));
    assert!(shown(card.clone(), &olga).await.contains("Ask another organizer"));
    assert!(shown(card.clone(), &otto).await.contains(&link));
    assert!(shown(address.clone(), &otto).await.contains("exclude_round"));
}
