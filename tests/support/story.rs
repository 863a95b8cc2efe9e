//! A real server on a free port with a clock that is set by hand, and people who use it.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use crate::support::serving::Serving;
use crate::support::serving::options::options;
use crate::support::store::TestStore;
use evenfield::api::routes::all;
use evenfield::http::routes::{Media, RouteDoc};
use evenfield::league::account::register::Registration;
use evenfield::startup::Options;
use evenfield::wire::json::Node;
use jiff::Timestamp;
use reqwest::{Client, Method, StatusCode};
use serde_json::{Value, json};
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::LazyLock;
use std::sync::atomic::{AtomicI64, Ordering};
use uuid::Uuid;

static DOCS: LazyLock<Vec<RouteDoc>> = LazyLock::new(|| all().docs);

/// The first moment of every test.
pub const START: &str = "2027-01-14T19:00:00Z";

/// A server of its own.
pub struct Server {
    pub address: SocketAddr,
    pub leagues: evenfield::league::Leagues,
    clock: Arc<AtomicI64>,
    client: Client,
    /// It ends before its database does.
    _serving: Serving,
    _store: TestStore,
}

/// What came back.
pub struct Answer {
    pub status: StatusCode,
    pub headers: reqwest::header::HeaderMap,
    pub text: String,
}

impl Answer {
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|_| panic!("not JSON: {}", self.text))
    }

    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status.as_u16(), status, "answered {}", self.text);
        self
    }

    pub fn id(&self) -> String {
        self.json()["id"].as_str().expect("an answer with an id").to_owned()
    }

    pub fn etag(&self) -> String {
        self.headers["etag"].to_str().unwrap().to_owned()
    }

    /// The last part of a problem's type.
    pub fn problem(&self) -> String {
        assert_eq!(self.headers["content-type"], "application/problem+json", "{}", self.text);
        self.json()["type"].as_str().unwrap().trim_start_matches("/problems/").to_owned()
    }

    /// Every pointer that a problem names.
    pub fn pointers(&self) -> Vec<String> {
        let errors = self.json()["errors"].as_array().cloned().unwrap_or_default();
        errors.iter().map(|error| error["pointer"].as_str().unwrap().to_owned()).collect()
    }
}

impl Server {
    pub async fn start() -> Self {
        let store = TestStore::new();
        let start: Timestamp = START.parse().unwrap();
        let clock = Arc::new(AtomicI64::new(start.as_millisecond()));
        let hand = Arc::clone(&clock);
        let now = Arc::new(move || Timestamp::from_millisecond(hand.load(Ordering::SeqCst)).unwrap());
        let options = Options { registration: Some(Registration::Open), ..options(store.store.clone(), now) };
        let serving = Serving::start(options);
        let (address, leagues) = (serving.address, serving.app.leagues.clone());
        Self { address, leagues, clock, client: Client::new(), _serving: serving, _store: store }
    }

    pub fn set_clock(&self, at: &str) {
        let at: Timestamp = at.parse().unwrap();
        self.clock.store(at.as_millisecond(), Ordering::SeqCst);
    }

    /// Sends a request; a successful JSON answer must have the shape that its route declares.
    pub async fn send(
        &self,
        method: Method,
        path: &str,
        token: Option<&str>,
        headers: &[(&str, &str)],
        body: Option<String>,
    ) -> Answer {
        let mut request = self.client.request(method.clone(), format!("http://{}/api/v1{path}", self.address));
        if let Some(token) = token {
            request = request.bearer_auth(token);
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        if let Some(body) = body {
            if !headers.iter().any(|(name, _)| name.eq_ignore_ascii_case("content-type")) {
                request = request.header("content-type", "application/json");
            }
            request = request.body(body);
        }
        let answer = request.send().await.unwrap();
        let (status, headers) = (answer.status(), answer.headers().clone());
        let answer = Answer { status, headers, text: answer.text().await.unwrap() };
        self.check_shape(&method, path, &answer);
        answer
    }

    fn check_shape(&self, method: &Method, path: &str, answer: &Answer) {
        let is_json = answer.headers.get("content-type").is_some_and(|kind| kind == "application/json");
        let path = path.split('?').next().unwrap_or_default();
        let Some(doc) = DOCS.iter().find(|doc| doc.method == method.as_str() && fits(doc.path, path)) else { return };
        if !answer.status.is_success() || !is_json {
            return;
        }
        if let Media::Json(schema) | Media::JsonOrCsv(schema) = &doc.answers {
            let node = Node::parse(answer.text.as_bytes()).unwrap();
            let errors = schema.check(&node);
            assert!(errors.is_empty(), "{method} {path} answers what it does not declare: {errors:?}\n{}", answer.text);
        }
    }
}

/// Whether a path is one of a template.
pub fn fits(template: &str, path: &str) -> bool {
    let (template, path): (Vec<_>, Vec<_>) = (template.split('/').collect(), path.split('/').collect());
    template.len() == path.len()
        && template.iter().zip(path).all(|(part, given)| part.starts_with('{') || *part == given)
}

/// Somebody who is signed in.
#[derive(Clone)]
pub struct Person<'s> {
    pub server: &'s Server,
    pub token: String,
    pub email: String,
}

pub const PASSWORD: &str = "putts on a cellar mat";

impl<'s> Person<'s> {
    pub async fn join(server: &'s Server, name: &str) -> Self {
        let email = format!("{}@demo.example", name.to_lowercase());
        let account = json!({ "email": email, "password": PASSWORD, "display_name": name });
        server.send(Method::POST, "/accounts", None, &[], Some(account.to_string())).await.expect(201);
        let token = sign_in(server, &email).await;
        Self { server, token, email }
    }

    pub async fn get(&self, path: &str) -> Answer {
        self.server.send(Method::GET, path, Some(&self.token), &[], None).await
    }

    pub async fn post(&self, path: &str, body: &Value) -> Answer {
        self.server.send(Method::POST, path, Some(&self.token), &[], Some(body.to_string())).await
    }

    pub async fn with_tag(&self, method: Method, path: &str, tag: &str, body: &Value) -> Answer {
        let body = (method != Method::DELETE).then(|| body.to_string());
        self.server.send(method, path, Some(&self.token), &[("if-match", tag)], body).await
    }

    pub async fn hand_in(&self, event: &str, round: &Value) -> Answer {
        self.hand_in_under(event, round, &Uuid::new_v4().to_string()).await
    }

    pub async fn hand_in_under(&self, event: &str, round: &Value, key: &str) -> Answer {
        let path = format!("/events/{event}/rounds");
        let headers = [("idempotency-key", key)];
        self.server.send(Method::POST, &path, Some(&self.token), &headers, Some(round.to_string())).await
    }
}

pub async fn sign_in(server: &Server, email: &str) -> String {
    let body = json!({ "email": email, "password": PASSWORD });
    let answer = server.send(Method::POST, "/sessions", None, &[], Some(body.to_string())).await.expect(200);
    answer.json()["access_token"].as_str().unwrap().to_owned()
}

/// A league with a course, a season and an open event.
pub struct League<'s> {
    pub organizer: Person<'s>,
    pub id: String,
    pub organizer_member: String,
    pub course: String,
    pub tee: String,
    pub season: String,
    pub competition: String,
    pub event: String,
}

pub fn season(scoring: &str) -> Value {
    json!({
        "name": "Season", "starts_on": "2027-01-01", "ends_on": "2027-06-30", "concession_ft": 2.0,
        "competitions": [{
            "name": "Season", "allowance_pct": 95, "award": { "kind": "by_place", "table": [4, 3, 2, 1] },
            "basis": if scoring == "gross" { "gross" } else { "net" },
            "score": { "kind": if scoring == "points" { "points" } else { "strokes" } },
            "counting": { "best": null, "minimum": 1 },
        }],
    })
}

pub fn course() -> Value {
    let holes: Vec<Value> = (1..=9).map(|n| json!({ "number": n, "par": 4, "stroke_index": n })).collect();
    json!({ "name": "Puddle Nine", "tees": [
        { "name": "mat", "course_rating": 35.3, "slope_rating": 121, "holes": holes },
    ] })
}

pub fn event(tee: &str, opens: &str, closes: &str) -> Value {
    json!({ "name": "Night", "tee_id": tee, "stimp_ft": 10, "opens_at": opens, "closes_at": closes, "holes": 9 })
}

/// Nine holes with these strokes, no putts recorded.
pub fn round(strokes: [u8; 9]) -> Value {
    let holes: Vec<Value> =
        strokes.iter().zip(1..).map(|(strokes, n)| json!({ "number": n, "strokes": strokes })).collect();
    json!({ "client_round_id": Uuid::new_v4(), "played_on": "2027-01-14", "holes": holes })
}

impl<'s> League<'s> {
    pub async fn found(server: &'s Server, organizer: &str, scoring: &str) -> Self {
        let organizer = Person::join(server, organizer).await;
        let league =
            organizer.post("/leagues", &json!({ "name": "Cellar", "time_zone": "Europe/Zurich" })).await.expect(201);
        let id = league.id();
        let made = organizer.post(&format!("/leagues/{id}/courses"), &course()).await.expect(201);
        let tee = made.json()["tees"][0]["id"].as_str().unwrap().to_owned();
        let season = organizer.post(&format!("/leagues/{id}/seasons"), &season(scoring)).await.expect(201);
        let competition = season.json()["competitions"][0]["id"].as_str().unwrap().to_owned();
        let season = season.id();
        let night = event(&tee, "2027-01-14T18:00:00Z", "2027-01-14T23:00:00Z");
        let event = organizer.post(&format!("/seasons/{season}/events"), &night).await.expect(201).id();
        let organizer_member = league.json()["member_id"].as_str().unwrap().to_owned();
        Self { organizer, id, organizer_member, course: made.id(), tee, season, competition, event }
    }

    /// Invites somebody in; returns the person and the record.
    pub async fn welcome(&self, name: &str, role: &str) -> (Person<'s>, String) {
        let person = Person::join(self.organizer.server, name).await;
        let path = format!("/leagues/{}/invitations", self.id);
        let made = self.organizer.post(&path, &json!({ "role": role })).await.expect(201);
        let code = made.json()["code"].as_str().unwrap().to_owned();
        let member = person.post(&format!("/invitations/{code}/acceptance"), &json!({})).await.expect(201).id();
        (person, member)
    }
}
