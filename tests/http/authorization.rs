//! Every route × everybody. A route without a line here fails.

use super::harness::{League, Server, round, season};
use evenfield::api::routes::{Access, all};
use reqwest::Method;
use serde_json::{Value, json};
use uuid::Uuid;

/// A good body for each route that takes one, so that permission alone decides.
fn body(method: &Method, path: &str, tee: &str) -> Option<Value> {
    let night = json!({
        "name": "N", "tee_id": tee, "stimp_ft": 9, "opens_at": "2027-02-01T18:00:00Z",
        "closes_at": "2027-02-02T18:00:00Z", "holes": 9,
    });
    Some(match (method.as_str(), path) {
        ("POST", "/accounts") => json!({
            "email": format!("{}@demo.example", Uuid::new_v4()), "password": "another cellar mat", "display_name": "N",
        }),
        ("POST", "/sessions") => json!({ "email": "nobody@demo.example", "password": "no such password" }),
        ("POST", "/sessions/refresh") => json!({ "refresh_token": "efr_nothing" }),
        ("POST", "/leagues") => json!({ "name": "L", "time_zone": "UTC" }),
        ("PATCH", "/leagues/{id}") => json!({ "name": "Cellar" }),
        ("POST", "/leagues/{id}/invitations") => json!({ "role": "player" }),
        ("POST", "/leagues/{id}/members") => json!({ "display_name": "M" }),
        ("PATCH", "/members/{id}") => json!({ "division": null }),
        ("POST", "/leagues/{id}/courses") => super::harness::course(),
        ("PUT", "/courses/{id}") => {
            let mut course = super::harness::course();
            course["tees"][0]["id"] = json!(tee);
            course
        }
        ("POST", "/members/{id}/carried-differentials") => {
            json!({ "played_on": "2026-12-01", "differential": 12.3, "source": "an old sheet" })
        }
        ("POST", "/seasons/{id}/carried-results") => {
            json!({ "member_id": Uuid::nil(), "label": "Autumn", "value": 12, "source": "an old sheet" })
        }
        ("POST", "/leagues/{id}/setups") => json!({ "label": "S", "sensor": "radar" }),
        ("PATCH", "/setups/{id}") => json!({ "notes": "n" }),
        ("POST", "/leagues/{id}/seasons") => season("net"),
        ("PATCH", "/seasons/{id}") => json!({ "name": "Season" }),
        ("POST", "/seasons/{id}/events") => night,
        ("PATCH", "/events/{id}") => json!({ "name": "Night" }),
        ("POST", "/events/{id}/rounds") | ("PUT", "/rounds/{id}") => round([4; 9]),
        _ => return None,
    })
}

/// What each caller gets: nobody, somebody of another league, another player, the player concerned, a scorer, an
/// organizer. Where success depends on more than permission any answer but 401, 403 and 404 counts as "may".
fn allowed(access: Access, method: &Method, path: &str) -> [Verdict; 6] {
    use Verdict::{Hidden, May, Not, SignIn};
    let is_round = path.contains("/rounds");
    match (access, path) {
        (Access::Anyone, _) => [May; 6],
        (Access::SignedIn, _) => [SignIn, May, May, May, May, May],
        (Access::Owner, _) => [SignIn, Hidden, Not, May, Not, Not],
        (Access::Member, _) => [SignIn, Hidden, May, May, May, May],
        (Access::Organizer, _) => [SignIn, Hidden, Not, Not, Not, May],
        (Access::OwnerOrOrganizer, _) if is_round && *method == Method::POST => [SignIn, Hidden, Not, May, May, May],
        (Access::OwnerOrOrganizer, _) => [SignIn, Hidden, Not, May, if is_round { May } else { Not }, May],
        (Access::OtherMember, _) => [SignIn, Hidden, May, Not, May, May],
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Verdict {
    May,
    Not,
    Hidden,
    SignIn,
}

#[actix_web::test]
async fn everybody_may_do_what_the_list_of_routes_says_and_nothing_else() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "net").await;
    let (player, player_member) = league.welcome("Pia", "player").await;
    let (other, _) = league.welcome("Otto", "player").await;
    let (scorer, _) = league.welcome("Sven", "scorer").await;
    let stranger = League::found(&server, "Xenia", "net").await;
    let members = format!("/leagues/{}/members", league.id);
    let spare = league.organizer.post(&members, &json!({ "display_name": "Z" })).await.expect(201).id();
    assert_ne!(spare, player_member);
    let callers =
        [None, Some(&stranger.organizer), Some(&other), Some(&player), Some(&scorer), Some(&league.organizer)];
    let mut tried = 0;
    for doc in all().docs {
        for (n, caller) in callers.iter().enumerate() {
            // Fresh things for every try: a try that succeeds changes them.
            if matches!(doc.path, "/me" | "/sessions/current") && doc.method == "DELETE" {
                continue;
            }
            let setups = format!("/leagues/{}/setups", league.id);
            let setup = json!({ "label": "S", "sensor": "radar" });
            let setup = player.post(&setups, &setup).await.expect(201).id();
            let night = super::harness::event(&league.tee, "2027-01-14T18:00:00Z", "2027-01-14T23:00:00Z");
            let event =
                league.organizer.post(&format!("/seasons/{}/events", league.season), &night).await.expect(201).id();
            let needs_round = doc.path.starts_with("/rounds");
            let handed_in =
                if needs_round { Some(player.hand_in(&event, &round([4; 9])).await.expect(201)) } else { None };
            let victim = if doc.method == "DELETE" && doc.path == "/members/{id}" && n != 3 {
                spare.clone()
            } else {
                player_member.clone()
            };
            if doc.method == "DELETE" && doc.path == "/members/{id}" && n == 3 {
                continue;
            }
            let id = match doc.path {
                path if path.starts_with("/leagues/") => league.id.clone(),
                path if path.starts_with("/members/") => victim,
                path if path.starts_with("/courses/") => league.course.clone(),
                path if path.starts_with("/setups/") => setup,
                path if path.starts_with("/seasons/") => league.season.clone(),
                path if path.starts_with("/events/") => event.clone(),
                path if path.starts_with("/rounds/") => handed_in.as_ref().unwrap().id(),
                _ => String::new(),
            };
            let method = Method::from_bytes(doc.method.as_str().as_bytes()).unwrap();
            let path = doc.path.replace("{id}", &id).replace("{code}", "AAAAAAAAAAAAAAAAAAAAAAAAAA");
            let mut sent = body(&method, doc.path, &league.tee);
            if let (Some(sent), true) = (&mut sent, doc.path == "/events/{id}/rounds") {
                sent["member_id"] = json!(player_member);
            }
            if let (Some(sent), Some(handed_in)) = (&mut sent, &handed_in) {
                sent["client_round_id"] = handed_in.json()["client_round_id"].clone();
            }
            let key = Uuid::new_v4().to_string();
            let mut headers = vec![("idempotency-key", key.as_str())];
            if doc.matched {
                headers.push(("if-match", "*"));
            }
            if doc.path.ends_with("/round-batches") {
                headers.push(("content-type", "application/x-ndjson"));
                sent = Some(json!({}));
            }
            let query = if doc.path.starts_with("/rounds/") && doc.matched { "?reason=tried" } else { "" };
            let query = if doc.path == "/pace" { "?stimp_ft=10" } else { query };
            if doc.path.ends_with("/stream") && allowed(doc.access, &method, doc.path)[n] == Verdict::May {
                continue;
            }
            let token = caller.map(|person| person.token.as_str());
            let answer = server
                .send(method.clone(), &format!("{path}{query}"), token, &headers, sent.map(|b| b.to_string()))
                .await;
            let found = match answer.status.as_u16() {
                401 if doc.access != Access::Anyone => Verdict::SignIn,
                403 => Verdict::Not,
                404 if doc.path != "/invitations/{code}/acceptance" => Verdict::Hidden,
                _ => Verdict::May,
            };
            let due = allowed(doc.access, &method, doc.path)[n];
            assert_eq!(
                found, due,
                "{method} {} as caller {n}: answered {} {}; mend the handler or its line in the list of routes",
                doc.path, answer.status, answer.text
            );
            assert!(answer.status.as_u16() < 500, "{method} {}: {}", doc.path, answer.text);
            tried += 1;
            // Another league's id and one that is nobody's look alike.
            if due == Verdict::Hidden {
                let unknown = path.replace(&id, &Uuid::new_v4().to_string());
                let body = body(&method, doc.path, &league.tee).map(|body| body.to_string());
                let other = server.send(method.clone(), &format!("{unknown}{query}"), token, &headers, body).await;
                assert_eq!(other.status, answer.status, "{method} {}", doc.path);
                assert_eq!(other.json()["detail"], answer.json()["detail"]);
            }
        }
    }
    assert!(tried > 200, "only {tried} tries");
}

/// A demotion bites at once, though the token is still good.
#[actix_web::test]
async fn a_demoted_organizer_is_a_player_at_once() {
    let server = Server::start().await;
    let league = League::found(&server, "Olga", "net").await;
    let (second, member) = league.welcome("Pia", "organizer").await;
    let path = format!("/leagues/{}/members", league.id);
    second.post(&path, &json!({ "display_name": "A" })).await.expect(201);
    let record = league.organizer.get(&format!("/members/{member}")).await.expect(200);
    let demoted = json!({ "role": "player" });
    let path_of = format!("/members/{member}");
    league.organizer.with_tag(Method::PATCH, &path_of, &record.etag(), &demoted).await.expect(200);
    second.post(&path, &json!({ "display_name": "B" })).await.expect(403);
    let own = league.organizer.get(&format!("/members/{}", league.organizer_member)).await.expect(200);
    let path_of = format!("/members/{}", league.organizer_member);
    let last = league.organizer.with_tag(Method::PATCH, &path_of, &own.etag(), &demoted).await.expect(409);
    assert_eq!(last.problem(), "last-organizer");
}
