//! Pages: who is let in, what a browser may send, what is shown (S12, S13, S21, S22, U7).

use crate::support::browsing::{cookie, form, page, signed_in};
use crate::support::harness::{Api, Call, PASSWORD, own, round, shared};
use serde_json::json;

async fn registered(api: &Api, name: &str) -> (String, String) {
    let email = format!("{}@example.org", uuid::Uuid::new_v4());
    let fields = [("email", email.as_str()), ("password", PASSWORD), ("display_name", name), ("then", "/leagues")];
    let seen = form(api, "/register", &fields).with("sec-fetch-site", "same-origin").expect(303).await;
    assert_eq!(seen.header("location"), "/leagues");
    (email, cookie(&seen))
}

/// S13: the cookie is opaque, out of scripts' reach, and signs nobody in as a token.
#[tokio::test]
async fn a_browser_signs_in_and_out() {
    let (api, _) = shared().await;
    let (email, first) = registered(&api, "Ada Quill").await;
    let fields = [("email", email.as_str()), ("password", PASSWORD), ("then", "//elsewhere.example/")];
    let seen = form(&api, "/sign-in", &fields).with("sec-fetch-site", "same-origin").expect(303).await;
    assert_eq!(seen.header("location"), "/", "nobody is led to another site");
    for word in ["HttpOnly", "SameSite=Lax", "Path=/"] {
        assert!(seen.header("set-cookie").contains(word), "{}", seen.header("set-cookie"));
    }
    let mine = cookie(&seen);
    assert_ne!(mine, first, "each sign-in has its own session (S12)");
    assert!(page(&api, "/leagues", &mine).expect(200).await.text().contains("Ada Quill"));
    // It opens the interface for scripts too, where its pages read.
    let me = api.outside("GET", "/api/v1/me").with("cookie", &mine).expect(200).await;
    assert_eq!(me.json()["display_name"], "Ada Quill");
    let token = mine.trim_start_matches("ef=").to_owned();
    api.get("/me").with("authorization", &format!("Bearer {token}")).refused(401, "unauthenticated").await;
    let exchanged = api.call("POST", "/sessions/refresh").body(&json!({ "refresh_token": token }));
    exchanged.refused(401, "unauthenticated").await;
    let out = form(&api, "/sign-out", &[]).with("cookie", &mine).with("sec-fetch-site", "same-origin");
    assert!(out.expect(303).await.header("clear-site-data").contains("cache"));
    let seen = page(&api, "/leagues", &mine).expect(303).await;
    assert_eq!(seen.header("location"), "/sign-in?then=/leagues");
    page(&api, "/leagues", &first).expect(200).await;
}

/// A wrong password says so on the page and keeps the address; so does a refused registration.
#[tokio::test]
async fn what_is_refused_is_said_on_the_page() {
    let api = own();
    let (email, _) = registered(&api, "Bo <b>Reed</b>").await;
    let fields = [("email", email.as_str()), ("password", "wrong"), ("then", "/leagues")];
    let seen = form(&api, "/sign-in", &fields).with("sec-fetch-site", "same-origin").expect(401).await;
    assert!(seen.text().contains("Wrong e-mail or password.") && seen.text().contains(&email), "{seen}");
    assert_eq!(seen.header("set-cookie"), "");
    let fields = [("email", email.as_str()), ("password", PASSWORD), ("display_name", "Bo Again")];
    let seen = form(&api, "/register", &fields).with("sec-fetch-site", "same-origin").expect(409).await;
    assert!(seen.text().contains("aria-describedby=\"email-fault\""), "{seen}");
    let fields = [("email", "c@example.org"), ("password", "short"), ("display_name", "C")];
    let seen = form(&api, "/register", &fields).with("sec-fetch-site", "same-origin").expect(422).await;
    assert!(seen.text().contains("aria-describedby=\"password-fault\""), "{seen}");
    assert!(!seen.text().contains("\"short\""), "a password is never written back");
    let mine = signed_in(&api, &email).await;
    let shown = page(&api, "/leagues", &mine).expect(200).await.text();
    assert!(shown.contains("Bo &#60;b&#62;Reed") && !shown.contains("<b>Reed"), "names are text (S24): {shown}");
}

/// S21: {cross-site, same-site, none, absent} × {own origin, another, null, absent}.
#[tokio::test]
async fn another_site_cannot_send_for_a_browser() {
    let (api, _) = shared().await;
    let (_, mine) = registered(&api, "Cleo Marsh").await;
    let own_origin = format!("http://{}", api.server.address);
    let sites = [Some("cross-site"), Some("same-site"), Some("none"), Some("same-origin"), None];
    let origins = [Some(own_origin.as_str()), Some("https://elsewhere.example"), Some("null"), None];
    for site in sites {
        for origin in origins {
            let is_ours = site == Some("same-origin") || (site.is_none() && origin == Some(&own_origin));
            let with = |mut call: Call| {
                for (name, value) in [("sec-fetch-site", site), ("origin", origin)] {
                    if let Some(value) = value {
                        call = call.with(name, value);
                    }
                }
                call
            };
            let league = json!({ "name": "Reed Bank Indoor League", "time_zone": "Europe/Dublin" });
            let scripted = with(api.call("POST", "/leagues").body(&league).with("cookie", &mine)).send().await;
            let signing = with(form(&api, "/sign-in", &[("email", "a@b"), ("password", "x")])).send().await;
            assert_eq!(scripted.status == 201, is_ours, "{site:?} {origin:?}: {scripted}");
            assert_eq!(signing.status != 403, is_ours, "{site:?} {origin:?}: {signing}");
            if !is_ours {
                scripted.problem("cross-site");
            }
        }
    }
    // A bearer token is no browser's, wherever it is sent from.
    let (api, cast) = shared().await;
    let league = json!({ "name": "Reed Bank Indoor League", "time_zone": "Europe/Dublin" });
    let call = api.call("POST", "/leagues").body(&league).by(&cast.otto).with("sec-fetch-site", "cross-site");
    call.expect(201).await;
}

/// An invitation is taken up by whoever signs in, or registers, with it.
#[tokio::test]
async fn an_invitation_leads_into_the_league() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/leagues/{}/invitations", night.league);
    let invite = || api.call("POST", &path).by(&cast.olga).body(&json!({ "role": "player" }));
    let code = crate::support::harness::text(&invite().expect(201).await.json(), "code");
    let asked = form(&api, "/join", &[("code", &code), ("with", "register")]).with("sec-fetch-site", "same-origin");
    assert!(asked.expect(200).await.text().contains(&code), "the code is carried along");
    let email = format!("{}@example.org", uuid::Uuid::new_v4());
    let fields = [("email", email.as_str()), ("password", PASSWORD), ("display_name", "Dov"), ("invitation", &code)];
    let seen = form(&api, "/register", &fields).with("sec-fetch-site", "same-origin").expect(303).await;
    assert_eq!(seen.header("location"), format!("/leagues/{}", night.league));
    let mine = cookie(&seen);
    assert!(page(&api, &format!("/leagues/{}", night.league), &mine).expect(200).await.text().contains("Hand in"));
    let (_, other) = registered(&api, "Eve Late").await;
    let spent = form(&api, "/join", &[("code", &code)]).with("cookie", &other).with("sec-fetch-site", "same-origin");
    assert!(spent.expect(410).await.text().contains("has been used or has expired"));
    page(&api, &format!("/leagues/{}", night.league), &other).expect(404).await;
}

/// The pages show what the interface for scripts answers, to members alone.
#[tokio::test]
async fn a_member_reads_board_standings_and_card() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let handed = api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let ann = signed_in(&api, &cast.ann.email).await;
    let round = handed.json();
    let event = page(&api, &format!("/events/{}", night.event), &ann).expect(200).await.text();
    assert!(event.contains(&format!("/rounds/{}", handed.id())) && event.contains("1 card in"), "{event}");
    let card = page(&api, &format!("/rounds/{}", handed.id()), &ann).expect(200).await.text();
    for name in ["gross", "net", "points", "putts"] {
        assert!(card.contains(&format!("<b>{}</b>", round[name])), "{name} {}: {card}", round[name]);
    }
    let standings = page(&api, &format!("/seasons/{}", night.season), &ann).expect(200).await.text();
    assert!(standings.contains(&format!("/members/{}", night.ann)), "{standings}");
    let otto = signed_in(&api, &cast.otto.email).await;
    for path in ["seasons", "events", "rounds", "leagues"] {
        let id = match path {
            "seasons" => &night.season,
            "events" => &night.event,
            "leagues" => &night.league,
            _ => &handed.id(),
        };
        let seen = page(&api, &format!("/{path}/{id}"), &otto).expect(404).await;
        assert_eq!(seen.header("content-type"), "text/html; charset=utf-8");
        page(&api, &format!("/{path}/{id}"), "").expect(303).await;
        api.outside("HEAD", &format!("/{path}/{id}")).with("cookie", &ann).expect(200).await;
    }
}

/// What was declared of a set-up is marked on the putts that it touches.
#[tokio::test]
async fn putts_inside_a_declared_softening_are_marked() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let setup =
        json!({ "label": "Bay 3", "sensor": "camera", "shared": false, "softening_radius_ft": 12, "notes": "" });
    let path = format!("/leagues/{}/setups", night.league);
    let setup = api.post(path, &setup).by(&cast.ann).key(&crate::support::harness::id()).expect(201).await.id();
    let mut card = round(&night.ann);
    card["setup_id"] = json!(setup);
    card["holes"][0]["strokes"] = json!(4);
    card["holes"][0]["putts"] =
        json!([{ "distance_ft": 13, "result": "missed" }, { "distance_ft": 3, "result": "holed" }]);
    card["holes"][0].as_object_mut().unwrap().remove("putt_count");
    let handed = api.hand_in(&night.event, &cast.ann, &card).await;
    let ann = signed_in(&api, &cast.ann.email).await;
    let shown = page(&api, &format!("/rounds/{}", handed.id()), &ann).expect(200).await.text();
    assert!(shown.contains("13 ft missed, 3 ft holed (softening declared)"), "{shown}");
}

/// S12: whoever organizes a league stays signed in for 12 idle hours, others for 14 days.
#[tokio::test]
async fn an_organizers_browser_is_signed_out_sooner() {
    let api = own();
    let cast = api.cast().await;
    api.night(&cast).await;
    let (olga, ann) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ann.email).await);
    api.server.pass(11 * 3600);
    page(&api, "/leagues", &olga).expect(200).await;
    api.server.pass(11 * 3600);
    page(&api, "/leagues", &olga).expect(200).await;
    api.server.pass(12 * 3600);
    page(&api, "/leagues", &olga).expect(303).await;
    page(&api, "/leagues", &ann).expect(200).await;
    api.server.pass(14 * 24 * 3600);
    page(&api, "/leagues", &ann).expect(303).await;
}

/// A league's first page says what is open, how the viewer stands, and leads to the table; the frame says where one is.
#[tokio::test]
async fn the_first_page_says_what_to_do_and_how_one_stands() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let ann = signed_in(&api, &cast.ann.email).await;
    let league = format!("/leagues/{}", night.league);
    let before = page(&api, &league, &ann).expect(200).await.text();
    assert!(before.contains("Open now: ") && before.contains(&format!("/events/{}/hand-in", night.event)), "{before}");
    assert!(before.contains("aria-label=\"Night 1 of 1\"") && !before.contains("My place"), "{before}");
    assert_eq!(before.matches("aria-current=\"page\"").count(), 1, "{before}");
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let after = page(&api, &league, &ann).expect(200).await.text();
    assert!(after.contains("My place") && after.contains(" (you)</th>"), "{after}");
    let seen = page(&api, &format!("{league}/table"), &ann).expect(303).await;
    assert_eq!(seen.header("location"), format!("/seasons/{}", night.season));
    let more = page(&api, &format!("{league}/more"), &ann).expect(200).await.text();
    assert!(more.contains(&format!("{league}/members")) && !more.contains(&format!("{league}/organize")), "{more}");
    let otto = signed_in(&api, &cast.otto.email).await;
    for path in [league.clone(), format!("{league}/table"), format!("{league}/more")] {
        page(&api, &path, &otto).expect(404).await;
    }
    // The table shows places; the nights stand on a page of their own.
    let places = page(&api, &format!("/seasons/{}", night.season), &ann).expect(200).await.text();
    let nights = page(&api, &format!("/seasons/{}/nights", night.season), &ann).expect(200).await.text();
    assert!(places.contains(">behind</th>") && !places.contains("Putting gained"), "{places}");
    assert!(nights.contains("Putting gained") && nights.contains(&format!("/events/{}", night.event)), "{nights}");
}
