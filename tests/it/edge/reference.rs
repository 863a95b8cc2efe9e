//! The pages for people who write scripts: every route, and what each refusal means.

use crate::support::browsing::{page, signed_in};
use crate::support::harness::own;
use evenfield::http::kinds::{About, Kind};

/// Whoever is refused finds at the problem's `type` what happened and what to do, signed in or not.
#[tokio::test]
async fn every_refusal_has_a_page_at_its_type() {
    let api = own();
    let refused = api.get("/me").refused(401, "unauthenticated").await.json();
    let seen = page(&api, refused["type"].as_str().unwrap(), "").expect(200).await.text();
    assert!(seen.contains("<h1>Not signed in</h1>") && seen.contains("<strong>What to do.</strong>"), "{seen}");
    for About { slug, title, .. } in Kind::ALL.iter().map(|kind| kind.about()) {
        let seen = page(&api, &format!("/problems/{slug}"), "").expect(200).await.text();
        let text = &seen[seen.find("<main").unwrap()..seen.find("</main>").unwrap()];
        assert!(text.contains(&format!("<code>{slug}</code>")) && text.contains("<h1>"), "{title}: {text}");
        for mark in ["**", "`", "](", "\n- ", "\n|"] {
            assert!(
                !text.contains(mark),
                "docs/problems/{slug}.md uses Markdown that its page does not read: {mark:?}"
            );
        }
    }
    page(&api, "/problems/no-such-kind", "").expect(404).await;
}

/// The page lists all that the interface's description has, and links lead to pages that are there.
#[tokio::test]
async fn the_page_for_scripts_lists_every_request() {
    let api = own();
    let cast = api.cast().await;
    let seen = page(&api, "/api", &signed_in(&api, &cast.ann.email).await).expect(200).await.text();
    assert!(seen.contains(">Ann</a>"), "{seen}");
    let description = api.get("/openapi.json").expect(200).await.json();
    for (path, methods) in description["paths"].as_object().unwrap() {
        for method in methods.as_object().unwrap().keys() {
            let line = format!("<code>{} /api/v1{path}</code>", method.to_uppercase());
            assert!(seen.contains(&line), "{line} is missing");
        }
    }
    for mark in ["**", "`", "]("] {
        assert!(!seen.contains(mark), "docs/api.md uses Markdown that its page does not read: {mark:?}");
    }
    for link in seen.split("href=\"/").skip(1).map(|rest| rest.split('"').next().unwrap()) {
        let is_there =
            link.strip_prefix("problems/").is_none_or(|slug| Kind::ALL.iter().any(|kind| kind.about().slug == slug));
        assert!(is_there, "/{link} leads nowhere");
    }
}
