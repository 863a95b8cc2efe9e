//! Sessions: listed, ended one by one, and what an account is told of sign-ins and changed passwords (S4, S12).

use crate::support::browsing::{cookie, form, page, send, signed_in};
use crate::support::harness::{Api, PASSWORD, Person, own, text};
use evenfield::accounts::throttle::network_of;
use evenfield::domain::ids::AccountId;
use evenfield::league::account::session::Arrival;
use serde_json::{Value, json};
use std::net::{IpAddr, Ipv4Addr};

const FIREFOX: &str = "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:140.0) Gecko/20100101 Firefox/140.0";

async fn listed(api: &Api, by: &Person) -> Vec<Value> {
    api.get("/me/sessions").by(by).expect(200).await.json()["items"].as_array().expect("a list").clone()
}

/// The notices about the account: what happened, and from which device.
async fn told(api: &Api, by: &Person) -> Vec<(String, String)> {
    let notices = api.get("/me/notices").by(by).expect(200).await.json();
    let notices = notices["items"].as_array().expect("a list").clone();
    let mine = notices.iter().filter(|notice| notice["league_id"].is_null());
    mine.map(|notice| (text(notice, "kind"), text(notice, "device"))).collect()
}

fn sign_in(api: &Api, email: &str, agent: &str) -> crate::support::harness::Call {
    let fields = [("email", email), ("password", PASSWORD), ("then", "/")];
    form(api, "/sign-in", &fields).with("sec-fetch-site", "same-origin").with("user-agent", agent)
}

#[tokio::test]
async fn sessions_are_listed_and_ended_one_by_one() {
    let api = own();
    let (ann, ben) = (api.person("Ann").await, api.person("Ben").await);
    api.server.pass(60);
    let phone = api.sign_in(&ann.email).await;
    let browser = cookie(&sign_in(&api, &ann.email, FIREFOX).expect(303).await);

    let sessions = listed(&api, &phone).await;
    let shown: Vec<(String, Value)> =
        sessions.iter().map(|session| (text(session, "device"), session["is_current"].clone())).collect();
    let due = [("Firefox on Windows", false), ("unknown program", true), ("unknown program", false)];
    assert_eq!(shown, due.map(|(device, is_current)| (device.to_owned(), json!(is_current))), "newest first");
    assert_eq!(text(&sessions[2], "created_at"), "2027-01-14T19:00:00Z");
    assert_eq!(text(&sessions[1], "last_used_at"), "2027-01-14T19:01:00Z");
    // Page by page, too.
    let first = api.get("/me/sessions?limit=2").by(&phone).expect(200).await.json();
    assert_eq!(first["items"].as_array().map(Vec::len), Some(2));
    assert!(first["next"].is_string() || first.get("next").is_none(), "{first}");

    // Nobody else ends it, and it is there once.
    let path = format!("/me/sessions/{}", text(&sessions[0], "id"));
    api.delete(&path).by(&ben).refused(404, "not-found").await;
    page(&api, "/account", &browser).expect(200).await;
    api.delete(&path).by(&phone).expect(204).await;
    assert!(page(&api, "/account", &browser).expect(303).await.header("location").starts_with("/sign-in"));
    api.delete(&path).by(&phone).refused(404, "not-found").await;
    let oldest = format!("/me/sessions/{}", text(&sessions[2], "id"));
    api.delete(&oldest).by(&phone).expect(204).await;
    api.get("/me").by(&ann).refused(401, "unauthenticated").await;
    api.post("/sessions/refresh", &json!({ "refresh_token": ann.refresh })).expect(401).await;
    assert_eq!(listed(&api, &phone).await.len(), 1);
    // One's own too, as signing out does.
    let own = format!("/me/sessions/{}", text(&sessions[1], "id"));
    api.delete(&own).by(&phone).expect(204).await;
    api.get("/me").by(&phone).refused(401, "unauthenticated").await;
}

/// What is over is not listed: elsewhere after 14 idle days, an organizer's browser after 12 idle hours.
#[tokio::test]
async fn sessions_that_are_over_are_not_listed() {
    let api = own();
    let (ann, olga) = (api.person("Ann").await, api.person("Olga").await);
    api.found(&olga).await;
    signed_in(&api, &ann.email).await;
    signed_in(&api, &olga.email).await;
    api.server.pass(12 * 3600);
    let (ann, olga) = (api.sign_in(&ann.email).await, api.sign_in(&olga.email).await);
    assert_eq!(listed(&api, &ann).await.len(), 3);
    assert_eq!(listed(&api, &olga).await.len(), 2, "the organizer's browser is signed out");
    api.server.pass(14 * 24 * 3600 - 12 * 3600);
    let ann = api.sign_in(&ann.email).await;
    assert_eq!(listed(&api, &ann).await.len(), 2);
}

/// Each sign-in has an id and a token of its own, whatever the browser brings.
#[tokio::test]
async fn a_sign_in_takes_no_id_from_the_browser() {
    let api = own();
    let ann = api.person("Ann").await;
    let planted = "ef=efb_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";
    let fresh = cookie(&sign_in(&api, &ann.email, FIREFOX).with("cookie", planted).expect(303).await);
    assert!(fresh.starts_with("ef=efb_") && fresh != planted, "{fresh}");
    assert!(page(&api, "/account", planted).expect(303).await.header("location").starts_with("/sign-in"));
    // The password once more: another token and another session, and the one before is over.
    let before = text(&listed(&api, &ann).await[0], "id");
    let fields = [("afresh_to", "/account"), ("afresh_password", PASSWORD)];
    let afresh = cookie(&send(&api, "/sign-in/afresh", &fresh, &fields).expect(307).await);
    assert_ne!(afresh, fresh);
    assert!(page(&api, "/account", &fresh).expect(303).await.header("location").starts_with("/sign-in"));
    let sessions = listed(&api, &ann).await;
    assert!(sessions.len() == 2 && text(&sessions[0], "id") != before, "{sessions:?}");
}

#[tokio::test]
async fn an_account_is_told_of_sign_ins_that_it_may_not_know() {
    let api = own();
    let (ann, ben) = (api.person("Ann").await, api.person("Ben").await);
    assert!(told(&api, &ann).await.is_empty(), "the first one is the holder's own");
    let browser = cookie(&sign_in(&api, &ann.email, FIREFOX).expect(303).await);
    let new = ("signed_in".to_owned(), "Firefox on Windows".to_owned());
    assert_eq!(told(&api, &ann).await, std::slice::from_ref(&new));
    // The same browser once more, also when its session is over; the same cookie shows nothing of another account.
    api.server.pass(15 * 24 * 3600);
    sign_in(&api, &ann.email, FIREFOX).with("cookie", &browser).expect(303).await;
    let ann = api.sign_in(&ann.email).await;
    assert_eq!(told(&api, &ann).await, [("signed_in".to_owned(), "unknown program".to_owned()), new.clone()]);
    sign_in(&api, &ben.email, FIREFOX).with("cookie", &browser).expect(303).await;
    let ben = api.sign_in(&ben.email).await;
    assert_eq!(told(&api, &ben).await[1], new);
    assert_eq!(told(&api, &ann).await.len(), 2, "and others learn nothing");

    // A notice leads to the account's page and is seen once.
    let notice = api.get("/me/notices").by(&ann).expect(200).await.json()["items"][0].clone();
    let seen = format!("/notices/{}/seen", text(&notice, "id"));
    let browser = signed_in(&api, &ann.email).await;
    let shown = page(&api, "/notices", &browser).expect(200).await.text();
    assert!(shown.contains("New sign-in to your account: Firefox on Windows"), "{shown}");
    assert_eq!(send(&api, &seen, &browser, &[]).expect(303).await.header("location"), "/account");
    api.post(&seen, &json!({})).by(&ben).refused(404, "not-found").await;
    let at = api.post(&seen, &json!({})).by(&ann).expect(200).await.json()["seen_at"].clone();
    assert!(at.is_string());
    api.server.pass(60);
    assert_eq!(api.post(&seen, &json!({})).by(&ann).expect(200).await.json()["seen_at"], at);
}

#[tokio::test]
async fn an_account_is_told_of_changed_passwords() {
    let api = own();
    let ann = api.person("Ann").await;
    let body = json!({ "current_password": PASSWORD, "new_password": "another mat, another cellar" });
    api.put("/me/password", &body).by(&ann).with("user-agent", "bay-machine/3").expect(204).await;
    assert_eq!(told(&api, &ann).await, [("password_changed".to_owned(), "bay-machine".to_owned())]);
    let code = api.server.app.leagues.operator_reset(&ann.email).await.expect("it runs").expect("a code");
    let reset = api.post(format!("/password-resets/{code}"), &json!({ "password": PASSWORD }));
    reset.with("user-agent", FIREFOX).expect(204).await;
    let ann = api.sign_in(&ann.email).await;
    let kinds: Vec<String> = told(&api, &ann).await.into_iter().map(|(kind, _)| kind).collect();
    assert_eq!(kinds, ["signed_in", "password_changed", "password_changed"]);
    assert_eq!(told(&api, &ann).await[1].1, "Firefox on Windows");
}

/// Whoever has a password cannot fill the database with notices.
#[tokio::test]
async fn the_newest_fifty_notices_about_an_account_are_kept() {
    let api = own();
    let ann = api.person("Ann").await;
    let account = AccountId(api.get("/me").by(&ann).expect(200).await.id().parse().expect("an id"));
    for n in 0..55 {
        let arrival = Arrival {
            network: network_of(IpAddr::V4(Ipv4Addr::LOCALHOST)),
            device: format!("machine {n}"),
            shown: None,
        };
        api.server.app.leagues.begin_browser(account, arrival).await.expect("a session");
    }
    let notices = api.get("/me/notices?limit=200").by(&ann).expect(200).await.json();
    let notices = notices["items"].as_array().expect("a list");
    assert_eq!((notices.len(), text(&notices[0], "device")), (50, "machine 54".into()));
}

#[tokio::test]
async fn the_account_page_lists_sessions_and_ends_them() {
    let api = own();
    let ann = api.person("Ann").await;
    let here = cookie(&sign_in(&api, &ann.email, FIREFOX).expect(303).await);
    let shown = page(&api, "/account", &here).expect(200).await.text();
    assert!(shown.contains("<b>Firefox on Windows</b>, this one"), "{shown}");
    assert_eq!(shown.matches("/end\"").count(), 1, "one other: {shown}");
    let end = shown.split("action=\"/account/sessions/").nth(1).expect("a form").split('"').next().expect("an address");
    let path = format!("/account/sessions/{end}");
    let elsewhere = form(&api, &path, &[]).with("cookie", &here);
    elsewhere.with("sec-fetch-site", "cross-site").expect(403).await;
    api.get("/me").by(&ann).expect(200).await;
    assert_eq!(send(&api, &path, &here, &[]).expect(303).await.header("location"), "/account");
    api.get("/me").by(&ann).refused(401, "unauthenticated").await;
    assert!(!page(&api, "/account", &here).expect(200).await.text().contains("/end\""));
    send(&api, &path, &here, &[]).expect(404).await;
}
