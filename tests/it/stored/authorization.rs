//! Each route × role × own, another's and no object (S17). The routes come from the
//! server's own list, so a route without a line in [`expected`] fails.

use crate::support::harness::{
    Api, Call, Cast, Night, Person, Seen, card, course, docs, event, id, own, round, season, shared, text,
};
use serde_json::{Value, json};

/// Who asks. In the league it is Ann's objects that are asked for: Ann is the player whose own they are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Who {
    Anonymous,
    Outsider,
    Owner,
    OtherPlayer,
    Scorer,
    Organizer,
}

use Who::{Anonymous, Organizer, OtherPlayer, Outsider, Owner, Scorer};

const EVERYBODY: [Who; 6] = [Anonymous, Outsider, Owner, OtherPlayer, Scorer, Organizer];

/// The statuses that are due, in the order of [`EVERYBODY`].
fn expected(method: &str, path: &str) -> Option<[u16; 6]> {
    let anyone = |status| [status; 6];
    let signed_in = |status| [401, status, status, status, status, status];
    let members = |status| [401, 404, status, status, status, status];
    let organizers = |status| [401, 404, 403, 403, 403, status];
    Some(match (method, path) {
        ("POST", "/accounts") => anyone(201),
        ("POST", "/sessions" | "/sessions/refresh") | ("GET", "/pace" | "/openapi.json") => anyone(200),
        ("POST", "/password-resets/{code}") => anyone(204),
        ("DELETE", "/sessions/current" | "/me") | ("PUT", "/me/password") => signed_in(204),
        ("GET", "/me" | "/leagues" | "/me/notices" | "/me/sessions") => signed_in(200),
        ("DELETE", "/me/sessions/{id}") => [401, 404, 204, 404, 404, 404],
        ("POST", "/leagues") => signed_in(201),
        ("POST", "/invitations/{code}/acceptance") => [401, 201, 409, 409, 409, 409],
        (
            "PATCH",
            "/leagues/{id}"
            | "/members/{id}"
            | "/seasons/{id}"
            | "/competitions/{id}"
            | "/events/{id}"
            | "/teams/{id}"
            | "/fixtures/{id}"
            | "/side-contests/{id}",
        )
        | ("PUT", "/courses/{id}")
        | ("POST", "/seasons/{id}/round-batches")
        | (
            "GET",
            "/leagues/{id}/journal"
            | "/leagues/{id}/journal/heads"
            | "/leagues/{id}/bundle"
            | "/leagues/{id}/members.csv"
            | "/seasons/{id}/entries.csv"
            | "/seasons/{id}/cards.csv"
            | "/seasons/{id}/putts.csv"
            | "/leagues/{id}/invitations",
        ) => organizers(200),
        ("DELETE", "/invitations/{id}") => organizers(204),
        (
            "POST",
            "/leagues/{id}/invitations"
            | "/leagues/{id}/members"
            | "/leagues/{id}/courses"
            | "/leagues/{id}/seasons"
            | "/seasons/{id}/competitions"
            | "/seasons/{id}/events"
            | "/seasons/{id}/copies"
            | "/events/{id}/copies"
            | "/members/{id}/carried-differentials"
            | "/members/{id}/handicap-acts"
            | "/seasons/{id}/carried-results"
            | "/seasons/{id}/teams"
            | "/events/{id}/side-contests"
            | "/competitions/{id}/fixtures"
            | "/competitions/{id}/adjustments"
            | "/leagues/{id}/rosters"
            | "/rounds/{id}/rulings",
        ) => organizers(201),
        ("DELETE", "/members/{id}") => [401, 404, 204, 403, 403, 204],
        (
            "GET",
            "/members/{id}/export" | "/members/{id}/practice" | "/members/{id}/practice/report" | "/practice/{id}",
        )
        | ("PUT", "/practice/{id}") => [401, 404, 200, 403, 403, 403],
        ("DELETE", "/practice/{id}") => [401, 404, 204, 403, 403, 403],
        ("POST", "/members/{id}/practice") => [401, 404, 201, 403, 403, 403],
        // A calendar address, which every member may make.
        ("POST", "/leagues/{id}/setups" | "/leagues/{id}/addresses") => members(201),
        ("DELETE", "/addresses/{id}") => [401, 404, 204, 403, 403, 204],
        ("PATCH", "/setups/{id}") => [401, 404, 200, 403, 403, 200],
        // Another player's card is proposed.
        ("POST", "/events/{id}/rounds") => [401, 404, 201, 201, 201, 201],
        ("POST", "/rounds/{id}/acceptance") => [401, 404, 200, 403, 403, 200],
        ("POST", "/rounds/{id}/queries") => members(201),
        // Ben asked: Ann, whose card it is, and Ben know of it, Sam does not.
        ("POST", "/queries/{id}/answers") => [401, 404, 403, 403, 404, 201],
        ("GET", "/leagues/{id}/findings") => members(200),
        // Ann is concerned: to everybody else but organizers there is no finding.
        ("GET", "/findings/{id}" | "/findings/{id}/records") => [401, 404, 200, 404, 404, 200],
        ("POST", "/findings/{id}/statements") => [401, 404, 201, 404, 404, 403],
        ("POST", "/findings/{id}/requests" | "/findings/{id}/rulings" | "/findings/{id}/recusals") => {
            [401, 404, 403, 404, 404, 201]
        }
        ("POST", "/findings/{id}/told") => [401, 404, 403, 404, 404, 409],
        ("POST", "/notices/{id}/seen") => [401, 404, 200, 404, 404, 404],
        ("POST", "/events/{id}/entries") => [401, 404, 201, 403, 201, 201],
        (
            "DELETE",
            "/events/{id}"
            | "/competitions/{id}"
            | "/courses/{id}"
            | "/seasons/{id}"
            | "/teams/{id}"
            | "/fixtures/{id}"
            | "/adjustments/{id}"
            | "/carried-differentials/{id}"
            | "/carried-results/{id}"
            | "/side-contests/{id}",
        ) => organizers(204),
        // Of Ann: she and scorers note it while the event is open.
        ("POST", "/side-contests/{id}/entries") => [401, 404, 200, 403, 200, 200],
        ("DELETE", "/side-contests/{id}/entries/{member_id}") => [401, 404, 204, 403, 204, 204],
        ("DELETE", "/setups/{id}") => [401, 404, 204, 403, 403, 204],
        // Ann is of the team; the event that is asked for is still to open.
        ("PUT", "/events/{id}/line-ups/{team_id}") => [401, 404, 200, 403, 200, 200],
        ("DELETE", "/events/{id}/line-ups/{team_id}") => [401, 404, 204, 403, 204, 204],
        ("POST", "/fixtures/{id}/concessions") => [401, 404, 201, 403, 201, 201],
        ("DELETE", "/concessions/{id}") => [401, 404, 403, 403, 204, 204],
        ("DELETE", "/entries/{id}") => [401, 404, 204, 403, 204, 204],
        ("PUT", "/events/{id}/progress") => [401, 404, 200, 403, 200, 200],
        ("PUT", "/rounds/{id}") | ("PATCH", "/rounds/{id}/holes/{number}") => [401, 404, 200, 403, 200, 200],
        ("DELETE", "/rounds/{id}") => [401, 404, 204, 403, 204, 204],
        ("POST", "/rounds/{id}/attestation") => [401, 404, 403, 200, 200, 200],
        (
            "GET",
            "/leagues/{id}"
            | "/leagues/{id}/members"
            | "/leagues/{id}/courses"
            | "/leagues/{id}/setups"
            | "/leagues/{id}/addresses"
            | "/leagues/{id}/seasons"
            | "/members/{id}"
            | "/members/{id}/handicap"
            | "/members/{id}/carried-differentials"
            | "/members/{id}/handicap-acts"
            | "/seasons/{id}/carried-results"
            | "/members/{id}/putting"
            | "/members/{id}/putting/comparison"
            | "/members/{id}/putting/trend"
            | "/members/{id}/putting/putts"
            | "/courses/{id}"
            | "/setups/{id}"
            | "/seasons/{id}"
            | "/seasons/{id}/events"
            | "/seasons/{id}/competitions"
            | "/competitions/{id}"
            | "/competitions/{id}/terms"
            | "/competitions/{id}/standings"
            | "/competitions/{id}/fixtures"
            | "/competitions/{id}/adjustments"
            | "/seasons/{id}/teams"
            | "/teams/{id}"
            | "/events/{id}/line-ups/{team_id}"
            | "/fixtures/{id}"
            | "/fixtures/{id}/concessions"
            | "/seasons/{id}/standings"
            | "/seasons/{id}/baseline"
            | "/seasons/{id}/putting-table"
            | "/events/{id}"
            | "/events/{id}/rounds"
            | "/events/{id}/board"
            | "/events/{id}/board/stream"
            | "/events/{id}/entries"
            | "/events/{id}/entry-sheet"
            | "/events/{id}/side-contests"
            | "/side-contests/{id}"
            | "/seasons/{id}/standings/changes"
            | "/rounds/{id}/versions"
            | "/rounds/{id}/working"
            | "/rounds/{id}/queries"
            | "/rounds/{id}",
        ) => members(200),
        _ => return None,
    })
}

async fn carried_differential(api: &Api, cast: &Cast, night: &Night) -> String {
    let path = format!("/members/{}/carried-differentials", night.ann);
    let body = json!({ "played_on": "2026-12-01", "differential": 12.3, "source": "an old sheet" });
    api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id()
}

async fn carried_result(api: &Api, cast: &Cast, night: &Night) -> String {
    let path = format!("/seasons/{}/carried-results", night.season);
    let body = json!({ "member_id": night.ann, "label": "Autumn", "value": 12, "source": "an old sheet" });
    api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id()
}

/// A side contest with a value of Ann's.
pub async fn side_contest(api: &Api, cast: &Cast, night: &Night) -> String {
    let path = format!("/events/{}/side-contests", night.event);
    let entries = json!([{ "member_id": night.ann, "value": 6.5 }]);
    let body = json!({ "name": "Nearest", "unit": "ft", "better": "lower", "entries": entries });
    api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id()
}

/// A league of Olga's or of Otto's, with an object of every kind.
struct World {
    api: Api,
    cast: Cast,
    night: Night,
    round: Value,
    round_id: String,
    query: String,
    entry: String,
    contest: String,
    notice: String,
    session: String,
    finding: String,
    invitation: String,
    address: String,
    practice: String,
    /// A differential and a value that were brought along.
    carried: (String, String),
    /// A second competition: the first one stays.
    competition: String,
    matches: Matches,
}

/// Teams and what they play, in an event that is still to open.
struct Matches {
    event: String,
    /// Of Ann.
    team: String,
    /// Of nobody.
    other: String,
    pairs: String,
    fixture: String,
    concession: String,
    adjustment: String,
}

impl Matches {
    async fn new(api: &Api, cast: &Cast, night: &Night) -> Self {
        let post = async |path: String, body: Value| api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await;
        let later = json!({ "opens_at": "2027-03-14T17:00:00Z", "closes_at": "2027-03-14T22:00:00Z" });
        let event = api.event(cast, night, later).await;
        let path = format!("/seasons/{}/teams", night.season);
        let team = json!({ "name": "Herons", "members": [{ "member_id": night.ann }] });
        let team = post(path.clone(), team).await.id();
        let other = post(path, json!({ "name": "Plovers" })).await.id();
        let pairs = json!({ "name": "Pairs", "meeting": { "kind": "match", "matches": 2 } });
        let pairs = post(format!("/seasons/{}/competitions", night.season), pairs).await.id();
        let sides = Self::sides(&event, &team, &other);
        let made = post(format!("/competitions/{pairs}/fixtures"), sides).await.json();
        let fixture = crate::support::harness::text(&made["items"][0], "fixture_id");
        let path = format!("/events/{event}/line-ups/{team}");
        let line_up = json!({ "players": [{ "member_id": night.ann }] });
        api.put(path, &line_up).by(&cast.olga).matching("*").expect(200).await;
        let hole = json!({ "hole": 9, "by": "a" });
        let concession = post(format!("/fixtures/{fixture}/concessions"), hole).await.id();
        let points = json!({ "team_id": team, "points": 1, "reason": "a bay that failed" });
        let adjustment = post(format!("/competitions/{pairs}/adjustments"), points).await.id();
        Self { event, team, other, pairs, fixture, concession, adjustment }
    }

    fn sides(event: &str, team: &str, other: &str) -> Value {
        json!([{ "event_id": event, "a": { "team_id": team }, "b": { "team_id": other } }])
    }
}

impl World {
    async fn new(api: Api, cast: Cast) -> Self {
        let night = api.night(&cast).await;
        Self::around(api, cast, night).await
    }

    /// Ann's round, Ben's query about it, Ann's entry, and what Ann was told.
    async fn around(api: Api, cast: Cast, night: Night) -> Self {
        let round = round(&night.ann);
        let round_id = api.hand_in(&night.event, &cast.ann, &round).await.id();
        let path = format!("/rounds/{round_id}/queries");
        let query = api.post(path, &json!({ "text": "a five?" })).by(&cast.ben).key(&id()).expect(201).await.id();
        let path = format!("/events/{}/entries", night.event);
        let entry = api.post(path, &json!({ "bay": "2" })).by(&cast.ann).key(&id()).expect(201).await.id();
        let path = format!("/leagues/{}/members", night.league);
        let cara = api.post(path, &json!({ "display_name": "Cara" })).by(&cast.olga).key(&id()).expect(201).await.id();
        // An organizer's correction of a member's card, and a query about it, are told to that member alone.
        let told = if night.ann == night.ben { cara } else { night.ann.clone() };
        let event = api.event(&cast, &night, json!({})).await;
        let by = if told == night.ann { &cast.ben } else { &cast.ann };
        api.hand_in(&event, by, &crate::support::harness::round(&told)).await;
        let notices = api.get("/me/notices").by(&cast.ann).expect(200).await.json();
        let in_league = |notice: &&Value| !notice["league_id"].is_null();
        let notice =
            notices["items"].as_array().and_then(|items| items.iter().find(in_league).map(|item| text(item, "id")));
        let notice = notice.unwrap_or_else(id);
        let session = api.another_session(&cast.ann).await;
        let (finding, _) = api.finding(&cast, &night, &cast.ann, &night.ann).await;
        let view = format!("/findings/{finding}/statements");
        api.post(view, &json!({ "text": "it is how the bay came" })).by(&cast.ann).key(&id()).expect(201).await;
        let path = format!("/leagues/{}/addresses", night.league);
        let address = api.post(path, &json!({ "kind": "calendar" })).by(&cast.ann).expect(201).await.id();
        let path = format!("/leagues/{}/invitations", night.league);
        let invitation = api.post(path, &json!({ "role": "player" })).by(&cast.olga).expect(201).await.id();
        let path = format!("/members/{}/practice", night.ann);
        let block = super::practice::block(&night.setup);
        let practice = api.post(path, &block).by(&cast.ann).key(&id()).expect(201).await.id();
        let contest = side_contest(&api, &cast, &night).await;
        let carried = (carried_differential(&api, &cast, &night).await, carried_result(&api, &cast, &night).await);
        let path = format!("/seasons/{}/competitions", night.season);
        let skins = json!({ "name": "Skins", "meeting": { "kind": "hole" } });
        let competition = api.post(path, &skins).by(&cast.olga).key(&id()).expect(201).await.id();
        let matches = Matches::new(&api, &cast, &night).await;
        Self {
            api,
            cast,
            night,
            round,
            round_id,
            query,
            entry,
            contest,
            notice,
            session,
            finding,
            invitation,
            address,
            practice,
            carried,
            competition,
            matches,
        }
    }

    fn person(&self, who: Who) -> Option<&Person> {
        match who {
            Anonymous => None,
            Outsider => Some(&self.cast.otto),
            Owner => Some(&self.cast.ann),
            OtherPlayer => Some(&self.cast.ben),
            Scorer => Some(&self.cast.sam),
            Organizer => Some(&self.cast.olga),
        }
    }

    /// The object of this league that a route is tried on.
    fn object(&self, path: &str) -> String {
        let night = &self.night;
        let kind = path.split('/').nth(1).unwrap_or_default();
        match kind {
            "leagues" => &night.league,
            "members" => &night.ann,
            "courses" => &night.course,
            "setups" => &night.setup,
            "seasons" => &night.season,
            "competitions" if path.ends_with("/fixtures") || path.ends_with("/adjustments") => &self.matches.pairs,
            "competitions" => &self.competition,
            "events" if path.contains("{team_id}") => &self.matches.event,
            "teams" => &self.matches.team,
            "fixtures" => &self.matches.fixture,
            "concessions" => &self.matches.concession,
            "adjustments" => &self.matches.adjustment,
            "events" => &night.event,
            "rounds" => &self.round_id,
            "queries" => &self.query,
            "entries" => &self.entry,
            "side-contests" => &self.contest,
            "carried-differentials" => &self.carried.0,
            "carried-results" => &self.carried.1,
            "notices" => &self.notice,
            "me" if path.contains("/sessions/") => &self.session,
            "addresses" => &self.address,
            "invitations" if !path.contains("{code}") => &self.invitation,
            "findings" => &self.finding,
            "practice" => &self.practice,
            // A code that nobody made.
            _ => return "abcdefghijklmnopqrstuvwxyz".into(),
        }
        .clone()
    }

    /// Builds the request with a body that is good, so that only permission decides.
    fn request(&self, method: &str, path: &str, object: &str) -> Call {
        let night = &self.night;
        let at = path.replace("{id}", object).replace("{code}", object).replace("{number}", "3");
        let at = at.replace("{team_id}", &self.matches.team).replace("{member_id}", &night.ann);
        let reasoned = format!("{at}?reason=a%20slip%20on%20hole%203");
        let call = |path: &str| self.api.call(method, path).key(&id()).matching("*");
        match (method, path) {
            ("GET", "/pace") => call("/pace?stimp_ft=10"),
            ("GET", _) => self.api.get(at),
            ("PUT" | "DELETE", "/rounds/{id}") if method == "PUT" => call(&reasoned).body(&self.round),
            ("DELETE", "/rounds/{id}" | "/carried-differentials/{id}" | "/carried-results/{id}") => call(&reasoned),
            ("PATCH", "/rounds/{id}/holes/{number}") => call(&reasoned).body(&self.good_body(method, path, night)),
            ("DELETE", _)
            | (
                "POST",
                "/invitations/{code}/acceptance"
                | "/rounds/{id}/attestation"
                | "/rounds/{id}/acceptance"
                | "/notices/{id}/seen",
            ) => call(&at),
            ("POST", "/leagues/{id}/rosters") => call(&at).raw("text/csv", format!("display_name\n{}\n", id())),
            ("POST", "/seasons/{id}/round-batches") => call(&at).raw("application/x-ndjson", ""),
            _ => call(&at).body(&self.good_body(method, path, night)),
        }
    }

    fn good_body(&self, method: &str, path: &str, night: &Night) -> Value {
        match (method, path) {
            ("POST", "/accounts") => json!({
                "email": format!("{}@example.org", id()), "password": "a long walk to the first tee",
                "display_name": "Somebody",
            }),
            ("POST", "/sessions") => {
                json!({ "email": self.cast.ann.email, "password": crate::support::harness::PASSWORD })
            }
            ("PUT", "/me/password") => {
                json!({ "current_password": crate::support::harness::PASSWORD, "new_password": "a long walk to the last tee" })
            }
            ("POST", "/password-resets/{code}") => json!({ "password": "a long walk to the last tee" }),
            ("POST", "/leagues") => json!({ "name": "Another league", "time_zone": "Europe/Oslo" }),
            ("PATCH", "/leagues/{id}") => json!({ "name": "Renamed" }),
            ("POST", "/leagues/{id}/invitations") => json!({ "role": "player" }),
            ("POST", "/leagues/{id}/members") => json!({ "display_name": "Walter" }),
            ("PATCH", "/members/{id}") => json!({ "starting_handicap": 12.5 }),
            ("POST", "/leagues/{id}/courses") => course(),
            ("PUT", "/courses/{id}") => {
                let mut same = course();
                same["tees"][0]["id"] = json!(night.tee);
                same["tees"][1]["id"] = json!(night.nine_tee);
                same
            }
            ("POST", "/members/{id}/carried-differentials") => {
                json!({ "played_on": "2026-12-01", "differential": 12.3, "source": "an old sheet" })
            }
            ("POST", "/seasons/{id}/carried-results") => {
                json!({ "member_id": night.ann, "label": "Autumn", "value": 12, "source": "an old sheet" })
            }
            ("POST", "/members/{id}/practice") | ("PUT", "/practice/{id}") => super::practice::block(&night.setup),
            ("POST", "/leagues/{id}/addresses") => json!({ "kind": "calendar" }),
            ("POST", "/leagues/{id}/setups") => json!({ "label": "At home", "sensor": "radar" }),
            ("PATCH", "/setups/{id}") => json!({ "notes": "moved to the left wall" }),
            ("POST", "/leagues/{id}/seasons") => season(),
            ("PATCH", "/seasons/{id}" | "/competitions/{id}") => json!({ "name": "Winter" }),
            ("POST", "/seasons/{id}/competitions") => json!({ "name": "Skins", "meeting": { "kind": "hole" } }),
            ("POST", "/seasons/{id}/teams") => json!({ "name": id() }),
            ("POST", "/members/{id}/handicap-acts") => {
                json!({ "kind": "cap", "value": 30, "from": "2030-01-01", "reason": "-" })
            }
            ("POST", "/events/{id}/side-contests") => json!({ "name": "Putts", "from_cards": "putts" }),
            ("PATCH", "/side-contests/{id}") => json!({ "hole": 7 }),
            ("POST", "/side-contests/{id}/entries") => json!({ "member_id": night.ann, "value": 5 }),
            ("PATCH", "/teams/{id}") => json!({ "captain": night.ann }),
            ("PUT", "/events/{id}/line-ups/{team_id}") => json!({ "players": [{ "member_id": night.ann }] }),
            ("POST", "/competitions/{id}/fixtures") => {
                Matches::sides(&self.matches.event, &self.matches.team, &self.matches.other)
            }
            ("PATCH", "/fixtures/{id}") => json!({ "bay": "2" }),
            ("POST", "/fixtures/{id}/concessions") => json!({ "hole": 1, "by": "a" }),
            ("POST", "/competitions/{id}/adjustments") => {
                json!({ "team_id": self.matches.team, "points": 1, "reason": "a bay that failed" })
            }
            ("POST", "/seasons/{id}/events") => event(&night.tee),
            ("POST", "/events/{id}/copies" | "/seasons/{id}/copies") => json!({ "days": 7 }),
            ("PATCH", "/events/{id}") => json!({ "name": "Third night" }),
            ("POST", "/events/{id}/rounds") => card(&night.ann, &[4; 18]),
            ("PATCH", "/rounds/{id}/holes/{number}") => json!({ "strokes": 5 }),
            ("POST", "/rounds/{id}/rulings") => {
                json!({ "decision": "exclude_round", "reason": "played from the wrong tee" })
            }
            ("POST", "/rounds/{id}/queries") => json!({ "pointer": "/holes/3/strokes", "text": "was that not a six?" }),
            ("POST", "/queries/{id}/answers") => json!({ "text": "it was" }),
            ("POST", "/findings/{id}/statements") => json!({ "text": "the sensor was replaced in January" }),
            ("POST", "/findings/{id}/requests") => json!({ "text": "ten putts from 8 ft on the other bay" }),
            ("POST", "/findings/{id}/recusals") => json!({}),
            ("POST", "/findings/{id}/told") => json!({ "member_id": night.ann }),
            ("POST", "/findings/{id}/rulings") => json!({ "decision": "no_action", "reason": "the bay explains it" }),
            ("POST", "/events/{id}/entries") => json!({ "member_id": night.ann, "slot": "19:00", "bay": "2" }),
            ("PUT", "/events/{id}/progress") => {
                json!({ "member_id": night.ann, "holes": [{ "number": 1, "strokes": 4 }] })
            }
            _ => panic!("give {method} {path} a good body in authorization.rs"),
        }
    }

    /// Makes what a permitted request uses up, and sends it.
    async fn permitted(&self, who: Who, method: &str, path: &str) -> Seen {
        let (api, cast) = (&self.api, &self.cast);
        let as_person = |call: Call| match self.person(who) {
            Some(person) => call.by(person),
            None => call,
        };
        match (method, path) {
            ("POST", "/sessions/refresh") => {
                let fresh = api.sign_in(&cast.ben.email).await;
                let body = json!({ "refresh_token": fresh.refresh });
                as_person(api.post(path, &body)).send().await
            }
            ("DELETE", "/sessions/current") => {
                let email = &self.person(who).expect("somebody signed in").email;
                let fresh = api.sign_in(email).await;
                api.delete(path).by(&fresh).send().await
            }
            ("DELETE", "/me/sessions/{id}") => {
                let session = api.another_session(self.person(who).expect("somebody signed in")).await;
                as_person(self.request(method, path, &session)).send().await
            }
            ("DELETE", "/me") => {
                let fresh = api.person("Leaver").await;
                api.delete(path).by(&fresh).send().await
            }
            ("PUT", "/me/password") => {
                let fresh = api.person("Changer").await;
                self.request(method, path, "").by(&fresh).send().await
            }
            ("POST", "/password-resets/{code}") => {
                let fresh = api.person("Forgetful").await;
                let made = api.server.app.leagues.operator_reset(&fresh.email).await.expect("it runs");
                as_person(self.request(method, path, &made.expect("a code"))).send().await
            }
            ("POST", "/invitations/{code}/acceptance") => {
                let invited = format!("/leagues/{}/invitations", self.night.league);
                let made = api.post(invited, &json!({ "role": "player" })).by(&cast.olga).expect(201).await.json();
                let code = made["code"].as_str().expect("a code");
                let seen = as_person(self.request(method, path, code)).send().await;
                if seen.status == 201 {
                    // The outsider stays one.
                    let member = format!("/members/{}", seen.id());
                    api.delete(member).by(&cast.olga).matching("*").expect(204).await;
                }
                seen
            }
            ("DELETE", "/members/{id}") => {
                let (league, _) = api.found(&cast.olga).await;
                let ann = api.join(&league, &cast.olga, &cast.ann, "player").await;
                as_person(self.request(method, path, &ann)).send().await
            }
            ("POST", "/events/{id}/rounds" | "/events/{id}/entries") | ("PUT", "/events/{id}/progress") => {
                let event = api.event(cast, &self.night, json!({})).await;
                as_person(self.request(method, path, &event)).send().await
            }
            ("POST", "/rounds/{id}/acceptance") => {
                let event = api.event(cast, &self.night, json!({})).await;
                let proposed = api.hand_in(&event, &cast.ben, &round(&self.night.ann)).await.id();
                as_person(self.request(method, path, &proposed)).send().await
            }
            ("POST", "/rounds/{id}/rulings") => {
                let event = api.event(cast, &self.night, json!({})).await;
                let handed_in = api.hand_in(&event, &cast.ann, &round(&self.night.ann)).await.id();
                as_person(self.request(method, path, &handed_in)).send().await
            }
            ("DELETE", "/events/{id}") => {
                let event = api.event(cast, &self.night, json!({})).await;
                as_person(self.request(method, path, &event)).send().await
            }
            ("DELETE", "/courses/{id}" | "/seasons/{id}" | "/setups/{id}") => {
                let (kind, body) = match path {
                    "/courses/{id}" => ("courses", course()),
                    "/seasons/{id}" => ("seasons", season()),
                    _ => ("setups", json!({ "label": "Spare", "sensor": "other" })),
                };
                let by = if kind == "setups" { &cast.ann } else { &cast.olga };
                let path_of = format!("/leagues/{}/{kind}", self.night.league);
                let made = api.post(path_of, &body).by(by).key(&id()).expect(201).await.id();
                as_person(self.request(method, path, &made)).send().await
            }
            ("DELETE", "/addresses/{id}") => {
                let path_of = format!("/leagues/{}/addresses", self.night.league);
                let made = api.post(path_of, &json!({ "kind": "calendar" })).by(&cast.ann).expect(201).await.id();
                let seen = as_person(self.request(method, path, &made)).send().await;
                // A member has only so many.
                api.delete(format!("/addresses/{made}")).by(&cast.ann).once().await;
                seen
            }
            ("DELETE", "/competitions/{id}") => {
                let path_of = format!("/seasons/{}/competitions", self.night.season);
                let body = json!({ "name": "Gross", "basis": "gross" });
                let made = api.post(path_of, &body).by(&cast.olga).key(&id()).expect(201).await.id();
                as_person(self.request(method, path, &made)).send().await
            }
            ("DELETE", "/teams/{id}") => {
                let path_of = format!("/seasons/{}/teams", self.night.season);
                let made = api.post(path_of, &json!({ "name": id() })).by(&cast.olga).key(&id()).expect(201).await.id();
                as_person(self.request(method, path, &made)).send().await
            }
            ("DELETE", "/side-contests/{id}" | "/side-contests/{id}/entries/{member_id}") => {
                let event = api.event(cast, &self.night, json!({})).await;
                let made = side_contest(&self.api, cast, &Night { event, ..self.night.clone() }).await;
                as_person(self.request(method, path, &made)).send().await
            }
            ("POST", "/events/{id}/side-contests") => {
                let event = api.event(cast, &self.night, json!({})).await;
                as_person(self.request(method, path, &event)).send().await
            }
            ("DELETE", "/carried-differentials/{id}") => {
                let made = carried_differential(&self.api, cast, &self.night).await;
                as_person(self.request(method, path, &made)).send().await
            }
            ("DELETE", "/carried-results/{id}") => {
                let made = carried_result(&self.api, cast, &self.night).await;
                as_person(self.request(method, path, &made)).send().await
            }
            ("DELETE", "/adjustments/{id}") => {
                let path_of = format!("/competitions/{}/adjustments", self.matches.pairs);
                let points = json!({ "team_id": self.matches.team, "points": 1, "reason": "a bay that failed" });
                let made = api.post(path_of, &points).by(&cast.olga).key(&id()).expect(201).await.id();
                as_person(self.request(method, path, &made)).send().await
            }
            ("POST", "/fixtures/{id}/concessions") | ("DELETE", "/fixtures/{id}" | "/concessions/{id}") => {
                let path_of = format!("/competitions/{}/fixtures", self.matches.pairs);
                let sides = Matches::sides(&self.matches.event, &self.matches.team, &self.matches.other);
                let made = api.post(path_of, &sides).by(&cast.olga).key(&id()).expect(201).await.json();
                let fixture = crate::support::harness::text(&made["items"][0], "fixture_id");
                if path != "/concessions/{id}" {
                    return as_person(self.request(method, path, &fixture)).send().await;
                }
                let path_of = format!("/fixtures/{fixture}/concessions");
                let hole = json!({ "hole": 1, "by": "a" });
                let made = api.post(path_of, &hole).by(&cast.olga).key(&id()).expect(201).await.id();
                as_person(self.request(method, path, &made)).send().await
            }
            ("DELETE", "/events/{id}/line-ups/{team_id}") => {
                let at = format!("/events/{}/line-ups/{}", self.matches.event, self.matches.team);
                let players = json!({ "players": [{ "member_id": self.night.ann }] });
                api.put(at, &players).by(&cast.olga).matching("*").expect(200).await;
                as_person(self.request(method, path, &self.matches.event)).send().await
            }
            ("DELETE", "/entries/{id}") => {
                let event = api.event(cast, &self.night, json!({})).await;
                let path_of = format!("/events/{event}/entries");
                let entry = api.post(path_of, &json!({})).by(&cast.ann).key(&id()).expect(201).await.id();
                as_person(self.request(method, path, &entry)).send().await
            }
            ("DELETE", "/practice/{id}") => {
                let path_of = format!("/members/{}/practice", self.night.ann);
                let block = super::practice::block(&self.night.setup);
                let practice = api.post(path_of, &block).by(&cast.ann).key(&id()).expect(201).await.id();
                as_person(self.request(method, path, &practice)).send().await
            }
            ("DELETE", "/rounds/{id}") => {
                let event = api.event(cast, &self.night, json!({})).await;
                let round = api.hand_in(&event, &cast.ann, &round(&self.night.ann)).await.id();
                as_person(self.request(method, path, &round)).send().await
            }
            ("GET", "/events/{id}/board/stream") => {
                let answer = as_person(self.request(method, path, &self.night.event)).open().await;
                let (status, headers) = (answer.status().as_u16(), answer.headers().clone());
                Seen { asked: "the stream".into(), status, headers, bytes: Vec::new() }
            }
            _ => as_person(self.request(method, path, &self.object(path))).send().await,
        }
    }
}

impl Api {
    /// Signs a person in once more; returns the id of that session.
    async fn another_session(&self, person: &Person) -> String {
        let other = self.sign_in(&person.email).await;
        let sessions = self.get("/me/sessions?limit=200").by(&other).expect(200).await.json();
        let current =
            sessions["items"].as_array().and_then(|items| items.iter().find(|item| item["is_current"] == true));
        text(current.expect("the one that asks"), "id")
    }
}

/// The matrix: every route, every role, in the league.
#[tokio::test]
async fn every_route_lets_in_whom_the_table_names_and_nobody_else() {
    let api = own();
    let cast = api.cast().await;
    let world = World::new(api, cast).await;
    let mut wrong = Vec::new();
    for doc in docs() {
        let (method, path) = (doc.method.as_str(), doc.path);
        let due = expected(method, path).unwrap_or_else(|| {
            panic!("add a line for {method} {path} to `expected` in tests/it/stored/authorization.rs")
        });
        for (who, due) in EVERYBODY.into_iter().zip(due) {
            let seen = if due < 400 || path == "/invitations/{code}/acceptance" && due != 401 {
                world.permitted(who, method, path).await
            } else {
                let call = world.request(method, path, &world.object(path));
                match world.person(who) {
                    Some(person) => call.by(person).send().await,
                    None => call.send().await,
                }
            };
            if seen.status != due {
                wrong.push(format!("{method} {path} as {who:?}: {} where {due} is due", seen.status));
            }
        }
    }
    assert!(wrong.is_empty(), "permissions differ from the table; mend the route in league/:\n{}", wrong.join("\n"));
}

/// S17: an object of another league answers as one that does not exist, byte for byte but for the request's id.
#[tokio::test]
async fn another_leagues_object_looks_like_none() {
    let (api, cast) = shared().await;
    let world = World::new(api.clone(), cast.clone()).await;
    // The other league has every role taken by people who are nothing in the first one.
    let (otto, ida) = (cast.otto.clone(), cast.olga.clone());
    let foreign_cast = Cast { olga: otto.clone(), sam: otto.clone(), ann: otto.clone(), ben: otto.clone(), otto: ida };
    let (league, otto_id) = api.found(&otto).await;
    let made = api.post(format!("/leagues/{league}/courses"), &course()).by(&otto).key(&id()).expect(201).await.json();
    let season =
        api.post(format!("/leagues/{league}/seasons"), &season()).by(&otto).key(&id()).expect(201).await.json();
    let setup = api
        .post(format!("/leagues/{league}/setups"), &json!({ "label": "Den", "sensor": "other" }))
        .by(&otto)
        .key(&id())
        .expect(201)
        .await
        .id();
    let mut foreign = Night {
        league,
        olga: otto_id.clone(),
        sam: otto_id.clone(),
        ann: otto_id.clone(),
        ben: otto_id,
        course: made["id"].as_str().expect("an id").into(),
        tee: made["tees"][0]["id"].as_str().expect("an id").into(),
        nine_tee: made["tees"][1]["id"].as_str().expect("an id").into(),
        setup,
        season: season["id"].as_str().expect("an id").into(),
        competition: season["competitions"][0]["id"].as_str().expect("an id").into(),
        event: String::new(),
    };
    foreign.event = api.event(&foreign_cast, &foreign, json!({})).await;
    let foreign = World::around(api.clone(), foreign_cast, foreign).await;

    let plain = |seen: &Seen| {
        let mut json = seen.json();
        json["instance"] = Value::Null;
        (seen.status, json)
    };
    for doc in docs().iter().filter(|doc| doc.path.contains("{id}")) {
        let (method, path) = (doc.method.as_str(), doc.path);
        for who in [Owner, OtherPlayer, Scorer, Organizer] {
            let person = world.person(who).expect("a member");
            let theirs = world.request(method, path, &foreign.object(path)).by(person).send().await;
            let none = world.request(method, path, &id()).by(person).send().await;
            assert_eq!(plain(&theirs), plain(&none), "{method} {path} as {who:?} tells that the other league has this");
            assert_eq!(theirs.status, 404, "{method} {path} as {who:?}: {theirs}");
        }
        let odd = world.request(method, path, "no-id").by(&cast.olga).send().await;
        assert_eq!(odd.status, 404, "{method} {path} with an id that is no UUID: {odd}");
    }

    // The same for ids inside bodies.
    let night = &world.night;
    let both = |theirs: String| [theirs, id()];
    let mut answers = Vec::new();
    for tee in both(foreign.night.tee.clone()) {
        let path = format!("/seasons/{}/events", night.season);
        answers.push(plain(&api.post(path, &event(&tee)).by(&cast.olga).key(&id()).send().await));
    }
    for member in both(foreign.night.ann.clone()) {
        let path = format!("/seasons/{}/events", night.season);
        let mut body = event(&night.tee);
        body["tees"] = json!([{ "tee_id": night.tee, "member_id": member }]);
        answers.push(plain(&api.post(path, &body).by(&cast.olga).key(&id()).send().await));
    }
    let fresh = api.event(&cast, night, json!({})).await;
    for member in both(foreign.night.ann.clone()) {
        let path = format!("/events/{fresh}/rounds");
        answers.push(plain(&api.post(path, &round(&member)).by(&cast.olga).key(&id()).send().await));
    }
    for setup in both(foreign.night.setup.clone()) {
        let mut body = round(&night.ann);
        body["setup_id"] = json!(setup);
        let path = format!("/events/{fresh}/rounds");
        answers.push(plain(&api.post(path, &body).by(&cast.olga).key(&id()).send().await));
    }
    for member in both(foreign.night.ann.clone()) {
        let path = format!("/leagues/{}/invitations", night.league);
        answers.push(plain(
            &api.post(path, &json!({ "role": "player", "member_id": member })).by(&cast.olga).send().await,
        ));
    }
    for event in both(foreign.night.event.clone()) {
        let path = format!("/members/{}/putting?event_id={event}", night.ann);
        answers.push(plain(&api.get(path).by(&cast.olga).send().await));
    }
    for report in ["putting", "putting/comparison"] {
        for season in both(foreign.night.season.clone()) {
            let path = format!("/members/{}/{report}?season_id={season}", night.ann);
            answers.push(plain(&api.get(path).by(&cast.olga).send().await));
        }
    }
    for setup in both(foreign.night.setup.clone()) {
        let path = format!("/members/{}/practice", night.ann);
        let body = super::practice::block(&setup);
        answers.push(plain(&api.post(path, &body).by(&cast.ann).key(&id()).send().await));
    }
    for event in both(foreign.night.event.clone()) {
        let path = format!("/seasons/{}/standings?after_event={event}", night.season);
        answers.push(plain(&api.get(path).by(&cast.olga).send().await));
    }
    for pair in answers.chunks(2) {
        let blank = |answer: &(u16, Value)| {
            let words = answer.1.to_string();
            let words = words
                .split_inclusive(|c: char| !c.is_ascii_hexdigit() && c != '-')
                .map(|word| if word.len() >= 36 && word.matches('-').count() == 4 { "an id" } else { word });
            words.collect::<String>()
        };
        assert_eq!(blank(&pair[0]), blank(&pair[1]), "an id in a body tells that another league has it (S17)");
        assert_eq!(pair[0].0, 422, "{:?}", pair[0]);
    }
    assert_eq!(api.rounds(&fresh, &cast.olga).await, 0);
}

/// S18: what the server owns is refused in every write, and nothing changes.
#[tokio::test]
async fn fields_of_the_server_are_refused() {
    let (api, cast) = shared().await;
    let world = World::new(api.clone(), cast.clone()).await;
    let writes = docs().iter().filter(|doc| matches!(doc.method.as_str(), "POST" | "PUT" | "PATCH"));
    let bodied = writes.filter(|doc| {
        !matches!(doc.path, "/sessions/refresh" | "/seasons/{id}/round-batches")
            && !matches!(doc.takes, evenfield::http::routes::Media::Nothing | evenfield::http::routes::Media::Csv)
    });
    for doc in bodied {
        let (method, path) = (doc.method.as_str(), doc.path);
        let mut body = world.good_body_or_round(method, path);
        let owned = ["id", "league_id", "received_at", "version", "gross", "has_account"];
        let (first, of_first) = if body.is_array() { (&mut body[0], "/0") } else { (&mut body, "") };
        for name in owned {
            first[name] = json!(id());
        }
        let at = path.replace("{id}", &world.object(path)).replace("{number}", "3");
        let at = at.replace("{team_id}", &world.matches.team);
        let seen = api.call(method, &at).key(&id()).matching("*").by(&cast.olga).body(&body).expect(422).await;
        let faults = seen.faults();
        for name in owned {
            // What a round is answered with may come back as it is, and as nothing else.
            let is_answered = (method, path) == ("PUT", "/rounds/{id}") && !matches!(name, "league_id" | "has_account");
            let code = if is_answered { "read-only" } else { "unknown-field" };
            let due = (format!("{of_first}/{name}"), code.to_owned());
            assert!(faults.contains(&due), "{method} {path} takes {name} (S18): {seen}");
        }
    }
    // A role is given by invitations and by organizers' patches alone.
    let path = format!("/leagues/{}/members", world.night.league);
    let body = json!({ "display_name": "Mallory", "role": "organizer" });
    let seen = api.post(path, &body).by(&cast.olga).key(&id()).expect(422).await;
    assert_eq!(seen.faults(), [("/role".into(), "unknown-field".into())]);
}

impl World {
    fn good_body_or_round(&self, method: &str, path: &str) -> Value {
        if (method, path) == ("PUT", "/rounds/{id}") {
            return self.round.clone();
        }
        self.good_body(method, path, &self.night)
    }
}

/// Membership is read for every request: a demotion bites at once, with the same access token (S9).
#[tokio::test]
async fn a_demotion_bites_at_once() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let olga = format!("/members/{}", night.olga);
    let sam = format!("/members/{}", night.sam);
    api.patch(&sam, &json!({ "role": "organizer" })).by(&cast.olga).matching("*").expect(200).await;
    api.get(format!("/leagues/{}/journal", night.league)).by(&cast.sam).expect(200).await;
    api.patch(&olga, &json!({ "role": "player" })).by(&cast.sam).matching("*").expect(200).await;
    api.get(format!("/leagues/{}/journal", night.league)).by(&cast.olga).refused(403, "forbidden").await;
    // Once erased, a former member is an outsider.
    api.delete(&olga).by(&cast.sam).matching("*").expect(204).await;
    api.get(format!("/leagues/{}", night.league)).by(&cast.olga).refused(404, "not-found").await;
}

/// S17: the last organizer stays.
#[tokio::test]
async fn the_last_organizer_stays() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let olga = format!("/members/{}", night.olga);
    let down = json!({ "role": "scorer" });
    api.patch(&olga, &down).by(&cast.olga).matching("*").refused(409, "last-organizer").await;
    api.delete(&olga).by(&cast.olga).matching("*").refused(409, "last-organizer").await;
    api.delete("/me").by(&cast.olga).refused(409, "last-organizer").await;
    let league = api.get(format!("/leagues/{}", night.league)).by(&cast.olga).expect(200).await.json();
    assert_eq!(league["role"], "organizer");
}
