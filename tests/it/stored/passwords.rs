//! Passwords: changed by whoever knows them, reset with an operator's code (S3, S4, S7, S14).

use crate::support::browsing::{cookie, form, page, send, signed_in, value};
use crate::support::harness::{Api, PASSWORD, Person, Seen, own, text};
use futures_util::future::join_all;
use serde_json::json;

const NEW: &str = "another mat, another cellar";

async fn change(api: &Api, by: &Person, current: &str, new: &str) -> Seen {
    api.put("/me/password", &json!({ "current_password": current, "new_password": new })).by(by).send().await
}

async fn reset(api: &Api, code: &str, password: &str) -> Seen {
    api.post(format!("/password-resets/{code}"), &json!({ "password": password })).send().await
}

async fn opens(api: &Api, person: &Person, password: &str) -> bool {
    let seen = api.post("/sessions", &json!({ "email": person.email, "password": password })).send().await;
    assert!(matches!(seen.status, 200 | 401), "{seen}");
    seen.status == 200
}

async fn code(api: &Api, person: &Person) -> String {
    let made = api.server.app.leagues.operator_reset(&person.email.to_uppercase()).await.expect("it runs");
    made.expect("the account is there")
}

/// S4: the current password is needed, and every other session ends.
#[tokio::test]
async fn a_password_is_changed_by_whoever_knows_it() {
    let api = own();
    let ann = api.person("Ann").await;
    let phone = api.sign_in(&ann.email).await;
    let seen = change(&api, &ann, "not the one of Ann's", NEW).await.problem("wrong-password");
    assert_eq!((seen.status, seen.faults()), (422, vec![("/current_password".into(), "wrong-password".into())]));
    for (bad, rule) in
        [("too short", "too-short"), ("passwordpassword", "common"), ("1234 evenfield 1234", "context-word")]
    {
        let seen = change(&api, &ann, PASSWORD, bad).await.problem("password-refused");
        assert_eq!((seen.status, seen.faults()), (422, vec![("/new_password".into(), rule.into())]), "{bad}");
    }
    assert_eq!(api.put("/me/password", &json!({ "new_password": NEW })).by(&ann).send().await.status, 422);
    api.get("/me").by(&phone).expect(200).await;

    assert_eq!(change(&api, &ann, PASSWORD, NEW).await.status, 204);
    api.get("/me").by(&ann).expect(200).await;
    api.get("/me").by(&phone).refused(401, "unauthenticated").await;
    api.post("/sessions/refresh", &json!({ "refresh_token": phone.refresh })).expect(401).await;
    api.post("/sessions/refresh", &json!({ "refresh_token": ann.refresh })).expect(200).await;
    assert!(opens(&api, &ann, NEW).await);
    assert!(!opens(&api, &ann, PASSWORD).await, "the old one opens nothing");
}

/// S5: a browser that somebody left open is no place to guess either.
#[tokio::test]
async fn guessing_the_current_password_is_slowed() {
    let api = own();
    let ann = api.person("Ann").await;
    for _ in 0..5 {
        assert_eq!(change(&api, &ann, "not the one of Ann's", NEW).await.status, 422);
    }
    let seen = change(&api, &ann, "not the one of Ann's", NEW).await.problem("quota-exceeded");
    assert_eq!((seen.status, seen.header("retry-after")), (429, "1"));
}

/// S4: a code is good once and for half an hour; any change of the password makes it worthless.
#[tokio::test]
async fn a_code_sets_a_new_password_once() {
    let api = own();
    let ann = api.person("Ann").await;
    assert!(api.server.app.leagues.operator_reset("nobody@example.org").await.expect("it runs").is_none());
    let (first, second) = (code(&api, &ann).await, code(&api, &ann).await);
    assert!(first.len() >= 43 && first != second, "256 bits: {first}");
    reset(&api, "efp_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", NEW).await.problem("not-found");
    reset(&api, "no-code", NEW).await.problem("not-found");
    let seen = reset(&api, &first, "too short").await.problem("password-refused");
    assert_eq!(seen.faults(), [("/password".into(), "too-short".into())]);
    assert!(opens(&api, &ann, PASSWORD).await, "a refused one spends nothing");

    assert_eq!(reset(&api, &first, NEW).await.status, 204);
    api.get("/me").by(&ann).refused(401, "unauthenticated").await;
    assert!(opens(&api, &ann, NEW).await && !opens(&api, &ann, PASSWORD).await);
    for dead in [&first, &second] {
        let seen = reset(&api, dead, PASSWORD).await.problem("code-spent");
        assert_eq!(seen.status, 410);
    }
    // It runs out, and a change by its holder spends it.
    let late = code(&api, &ann).await;
    api.server.pass(30 * 60 - 1);
    assert_eq!(reset(&api, &late, "too short").await.status, 422, "still good");
    api.server.pass(1);
    reset(&api, &late, PASSWORD).await.problem("code-spent");
    let before = code(&api, &ann).await;
    let body = json!({ "email": ann.email, "password": NEW });
    let token = text(&api.post("/sessions", &body).expect(200).await.json(), "access_token");
    let ann = Person { token, ..ann };
    assert_eq!(change(&api, &ann, NEW, PASSWORD).await.status, 204);
    reset(&api, &before, NEW).await.problem("code-spent");
    assert!(opens(&api, &ann, PASSWORD).await);
}

/// Of ten at once with one code one sets the password.
#[tokio::test]
async fn a_code_that_is_used_ten_times_at_once_is_used_once() {
    let api = own();
    let ann = api.person("Ann").await;
    let code = code(&api, &ann).await;
    let passwords: Vec<String> = (0..10).map(|n| format!("cellar mat number {n}")).collect();
    let answers = join_all(passwords.iter().map(|password| reset(&api, &code, password))).await;
    let set: Vec<usize> = (0..10).filter(|n| answers[*n].status == 204).collect();
    assert_eq!(set.len(), 1, "{:?}", answers.iter().map(|seen| seen.status).collect::<Vec<_>>());
    assert!(answers.iter().all(|seen| matches!(seen.status, 204 | 410)));
    assert!(opens(&api, &ann, &passwords[set[0]]).await);
}

/// On the pages: the account's own, and the one that a link opens.
#[tokio::test]
async fn the_pages_change_and_reset_a_password() {
    let api = own();
    let ann = api.person("Ann").await;
    let (here, there) = (signed_in(&api, &ann.email).await, signed_in(&api, &ann.email).await);
    let shown = page(&api, "/account", &here).expect(200).await.text();
    for manager in ["current-password", "new-password", "username"] {
        assert!(shown.contains(&format!("autocomplete=\"{manager}\"")), "{shown}");
    }
    assert_eq!(value(&shown, "username"), ann.email);
    let wrong = [("current_password", "not the one of Ann's"), ("new_password", NEW)];
    let seen = send(&api, "/account", &here, &wrong).expect(422).await.text();
    assert!(seen.contains("id=\"current_password-fault\"") && !seen.contains(NEW), "{seen}");
    let right = [("current_password", PASSWORD), ("new_password", NEW)];
    form(&api, "/account", &right).with("cookie", &here).with("sec-fetch-site", "cross-site").expect(403).await;
    let seen = send(&api, "/account", &here, &right).expect(200).await.text();
    assert!(seen.contains("has been changed"), "{seen}");
    page(&api, "/account", &here).expect(200).await;
    assert!(page(&api, "/account", &there).expect(303).await.header("location").starts_with("/sign-in"));

    let code = code(&api, &ann).await;
    let shown = page(&api, "/new-password", "").expect(200).await.text();
    assert!(shown.contains("join.js") && shown.contains("autocomplete=\"new-password\""), "{shown}");
    let choose = |code: &str, password: &str| {
        let fields = [("code", code), ("password", password)];
        form(&api, "/new-password", &fields).with("sec-fetch-site", "same-origin")
    };
    let seen = choose(&code, "too short").expect(422).await.text();
    assert_eq!(value(&seen, "code"), code, "the code is kept");
    choose("efp_none", PASSWORD).expect(404).await;
    assert_eq!(choose(&code, PASSWORD).expect(303).await.header("location"), "/sign-in");
    let seen = choose(&code, NEW).expect(410).await.text();
    assert!(seen.contains("id=\"code-fault\""), "{seen}");
    assert!(!cookie(&choose(&code, NEW).expect(410).await).contains("ef="));
    signed_in(&api, &ann.email).await;
}

/// The operator's command prints a link with the code after the #, which browsers never send.
#[tokio::test]
async fn the_operator_makes_a_link() {
    let api = own();
    super::backup::to_the_present(&api);
    let ann = api.person("Ann").await;
    let database = api.server.store().url();
    let run = |email: &str| {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_evenfield"));
        let words = ["reset-password", email, "--origin", "https://golf.example/", "--database", &database];
        command.args(words).output().expect("it runs")
    };
    let made = run(&ann.email);
    let link = String::from_utf8(made.stdout).expect("text");
    let code = link.trim().strip_prefix("https://golf.example/new-password#").expect("a link").to_owned();
    assert_eq!(reset(&api, &code, NEW).await.status, 204);
    let none = run("nobody@example.org");
    assert_eq!((none.status.code(), none.stdout.len()), (Some(2), 0));
}
