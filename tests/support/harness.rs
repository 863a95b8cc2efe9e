//! The server under test and a client that checks, with every answer, what holds for all answers: the security
//! headers (S22), the request id, the form of problems (A1), that the status is described, and that the body has the
//! shape that the description promises (A6).

use crate::support::serving::Serving;
use crate::support::serving::options::{options, plenty};
use crate::support::store::TestStore;
use actix_web::web::Data;
use evenfield::api::routes::{self, DOCUMENT};
use evenfield::http::app::App;
use evenfield::http::quota::Allowance;
use evenfield::http::routes::{Media, RouteDoc};
use evenfield::league::account::register::Registration;
use evenfield::startup::Options;
use evenfield::startup::backups::Backups;
use evenfield::wire::body::views;
use evenfield::wire::json::Node;
use futures_util::StreamExt;
use jiff::Timestamp;
use reqwest::header::HeaderMap;
use serde_json::{Value, json};
use std::net::SocketAddr;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant};
use tokio::sync::OnceCell;
use uuid::Uuid;

/// When every server starts: a league night in January.
pub const START: &str = "2027-01-14T19:00:00Z";
/// Nothing here takes longer, on however slow a machine, unless the server hangs.
pub const PATIENCE: Duration = Duration::from_secs(300);
/// A good password.
pub const PASSWORD: &str = "nine quiet greens at dusk";

/// The routes as the server describes them.
pub fn docs() -> &'static [RouteDoc] {
    static DOCS: OnceLock<Vec<RouteDoc>> = OnceLock::new();
    DOCS.get_or_init(|| routes::all().docs)
}

/// Makes an id.
pub fn id() -> String {
    Uuid::now_v7().to_string()
}

/// A running server.
pub struct Server {
    /// Where it listens.
    pub address: SocketAddr,
    /// What its handlers share.
    pub app: Data<App>,
    clock: Arc<AtomicI64>,
    settings: Settings,
    /// It ends before its database does.
    _serving: Serving,
    /// Where its data is.
    pub store: Arc<TestStore>,
}

/// How a server differs from the usual one.
#[derive(Clone, Copy)]
pub struct Settings {
    /// Who may register.
    pub registration: Registration,
    /// How much an account may ask.
    pub allowance: Allowance,
    /// Whether a proxy stands in front.
    pub behind_proxy: bool,
    /// Which proxy is believed; without it those on this machine.
    pub trusted_proxy: Option<&'static str>,
    /// The file of acts that outlast a restore.
    pub lasting_acts: Option<&'static str>,
    /// The backups that it makes in turns.
    pub backups: Option<&'static Backups>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            registration: Registration::Open,
            allowance: plenty(),
            behind_proxy: false,
            trusted_proxy: None,
            lasting_acts: None,
            backups: None,
        }
    }
}

impl Server {
    /// Starts a server on a free port with an empty database.
    pub fn start(settings: Settings) -> Arc<Self> {
        Self::start_on(Arc::new(TestStore::new()), settings)
    }

    /// Starts a server on a database.
    pub fn start_on(store: Arc<TestStore>, settings: Settings) -> Arc<Self> {
        let start: Timestamp = START.parse().expect("START is a time");
        Self::on(store, settings, Arc::new(AtomicI64::new(start.as_millisecond())))
    }

    /// Starts another server on the same database, under the same clock.
    pub fn beside(&self) -> Arc<Self> {
        Self::on(self.store.clone(), self.settings, self.clock.clone())
    }

    fn on(store: Arc<TestStore>, settings: Settings, clock: Arc<AtomicI64>) -> Arc<Self> {
        let hands = clock.clone();
        let now = Arc::new(move || {
            Timestamp::from_millisecond(hands.load(Ordering::SeqCst)).expect("the clock shows a time")
        });
        let options = Options {
            behind_proxy: settings.behind_proxy,
            trusted_proxies: settings.trusted_proxy.map(|block| block.parse().expect("a block")).into_iter().collect(),
            registration: Some(settings.registration),
            allowance: settings.allowance,
            lasting_acts: settings.lasting_acts.map(Into::into),
            backups: settings.backups.cloned(),
            ..options(store.store.clone(), now)
        };
        let serving = Serving::start(options);
        let (address, app) = (serving.address, serving.app.clone());
        Arc::new(Self { address, app, clock, settings, _serving: serving, store })
    }

    /// Returns the database.
    pub fn store(&self) -> &TestStore {
        &self.store
    }

    /// Moves the clock on.
    pub fn pass(&self, seconds: i64) {
        self.clock.fetch_add(seconds * 1000, Ordering::SeqCst);
    }
}

/// What a person signs in with.
#[derive(Clone)]
pub struct Person {
    /// The address.
    pub email: String,
    /// The access token.
    pub token: String,
    /// The refresh token.
    pub refresh: String,
}

/// A client of one server.
#[derive(Clone)]
pub struct Api {
    /// The server.
    pub server: Arc<Server>,
    client: reqwest::Client,
}

/// The accounts that tests share where nobody signs out: one who founds leagues, one who scores, two players, and the
/// organizer of another league.
#[derive(Clone)]
pub struct Cast {
    /// Founds the league.
    pub olga: Person,
    /// Its scorer.
    pub sam: Person,
    /// A player.
    pub ann: Person,
    /// Another player.
    pub ben: Person,
    /// Organizes another league.
    pub otto: Person,
}

static SHARED: OnceCell<(Arc<Server>, Cast)> = OnceCell::const_new();

/// Returns a client of the server that tests share, and its cast. Its clock stands still.
pub async fn shared() -> (Api, Cast) {
    let (server, cast) = SHARED
        .get_or_init(|| async {
            let api = Api::new(Server::start(Settings::default()));
            let cast = api.cast().await;
            (api.server, cast)
        })
        .await;
    (Api::new(server.clone()), cast.clone())
}

/// Starts a server of one's own.
pub fn own() -> Api {
    Api::new(Server::start(Settings::default()))
}

/// A request in the making.
#[derive(Clone)]
#[must_use = "a call does nothing until it is sent"]
pub struct Call {
    api: Api,
    method: String,
    path: String,
    headers: Vec<(String, String)>,
    body: Option<Vec<u8>>,
}

/// An answer that was read to its end.
#[derive(Clone, Debug)]
pub struct Seen {
    /// What was asked, for messages.
    pub asked: String,
    /// The status.
    pub status: u16,
    /// The headers.
    pub headers: HeaderMap,
    /// The body.
    pub bytes: Vec<u8>,
}

impl Seen {
    /// Returns the body as JSON.
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.bytes).unwrap_or_else(|error| panic!("{}: not JSON: {error}\n{self}", self.asked))
    }

    /// Returns the body as text.
    pub fn text(&self) -> String {
        String::from_utf8(self.bytes.clone()).expect("answers are UTF-8")
    }

    /// Returns a header, empty where there is none.
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().expect("headers are ASCII"))
    }

    /// Returns the entity tag.
    pub fn etag(&self) -> String {
        let tag = self.header("etag");
        assert!(tag.starts_with('"'), "{}: a strong ETag is expected (A3), not {tag:?}", self.asked);
        tag.to_owned()
    }

    /// Returns the id in the body.
    pub fn id(&self) -> String {
        text(&self.json(), "id")
    }

    /// Checks the kind of a problem.
    #[track_caller]
    pub fn problem(self, kind: &str) -> Self {
        let is = self.json()["type"].as_str().unwrap_or_default().to_owned();
        assert_eq!(is, format!("/problems/{kind}"), "{self}");
        self
    }

    /// Returns each wrong field with its kind of fault.
    pub fn faults(&self) -> Vec<(String, String)> {
        let json = self.json();
        let errors = json["errors"].as_array().cloned().unwrap_or_default();
        errors.iter().map(|error| (text(error, "pointer"), text(error, "code"))).collect()
    }
}

impl std::fmt::Display for Seen {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} answered {}\n{}", self.asked, self.status, String::from_utf8_lossy(&self.bytes))
    }
}

/// Returns a text of an object.
#[track_caller]
pub fn text(object: &Value, name: &str) -> String {
    object[name].as_str().unwrap_or_else(|| panic!("no text {name} in {object}")).to_owned()
}

impl Call {
    /// Sends it as somebody.
    pub fn by(self, person: &Person) -> Self {
        let token = format!("Bearer {}", person.token);
        self.with("authorization", &token)
    }

    /// Adds a header.
    pub fn with(mut self, name: &str, value: &str) -> Self {
        self.headers.push((name.into(), value.into()));
        self
    }

    /// Says which version is meant.
    pub fn matching(self, tag: &str) -> Self {
        self.with("if-match", tag)
    }

    /// Gives it an idempotency key.
    pub fn key(self, key: &str) -> Self {
        self.with("idempotency-key", key)
    }

    /// Gives it a JSON body.
    pub fn body(self, body: &Value) -> Self {
        self.raw("application/json", body.to_string().into_bytes())
    }

    /// Gives it a body of some media type.
    pub fn raw(mut self, kind: &str, body: impl Into<Vec<u8>>) -> Self {
        self.body = Some(body.into());
        self.with("content-type", kind)
    }

    fn template(&self) -> Option<&'static RouteDoc> {
        let path = self.path.strip_prefix("/api/v1")?.split('?').next()?;
        let fits = |doc: &&RouteDoc| {
            let (due, given): (Vec<_>, Vec<_>) = (doc.path.split('/').collect(), path.split('/').collect());
            due.len() == given.len() && due.iter().zip(&given).all(|(due, given)| due.starts_with('{') || due == given)
        };
        let method = if self.method == "HEAD" { "GET" } else { &self.method };
        docs().iter().filter(|doc| doc.method.as_str() == method).find(fits)
    }

    /// Sends it; returns what comes back with its body still to be read.
    pub async fn open(self) -> reqwest::Response {
        let url = format!("http://{}{}", self.api.server.address, self.path);
        let mut request = self.api.client.request(self.method.parse().expect("a method"), url);
        for (name, value) in &self.headers {
            request = request.header(name, value);
        }
        if let Some(body) = self.body {
            request = request.body(body);
        }
        let answer = request.send().await;
        answer.unwrap_or_else(|error| panic!("{} {}: no answer: {error:?}", self.method, self.path))
    }

    /// Sends it and checks what holds for all answers. A server that is busy is asked again, as clients are told to do:
    /// tests share a machine, and a request that waits for seconds is not what they look for.
    pub async fn send(self) -> Seen {
        let began = Instant::now();
        loop {
            let seen = self.clone().once().await;
            if seen.status != 503 || began.elapsed() > PATIENCE {
                return seen;
            }
            eprintln!("busy; asked again: {seen}");
            let wait = seen.header("retry-after").parse().unwrap_or(1);
            tokio::time::sleep(Duration::from_secs(wait)).await;
        }
    }

    /// As [`send`](Self::send), but a busy server's answer is what is looked for.
    pub async fn once(self) -> Seen {
        let doc = self.template();
        let is_head = self.method == "HEAD";
        let asked = format!("{} {}", self.method, self.path);
        let answer = self.open().await;
        let (status, headers) = (answer.status().as_u16(), answer.headers().clone());
        let bytes = answer.bytes().await.unwrap_or_else(|error| panic!("{asked}: the answer broke off: {error}"));
        let seen = Seen { asked, status, headers, bytes: bytes.to_vec() };
        always(&seen, doc, is_head);
        seen
    }

    /// Sends it and expects a status.
    pub async fn expect(self, status: u16) -> Seen {
        let seen = if status == 503 { self.once().await } else { self.send().await };
        assert_eq!(seen.status, status, "{status} was expected: {seen}");
        seen
    }

    /// Sends it and expects a problem.
    pub async fn refused(self, status: u16, kind: &str) -> Seen {
        self.expect(status).await.problem(kind)
    }
}

/// The headers that every answer has (S22).
pub const SECURITY_HEADERS: &[(&str, &str)] = &[
    (
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; \
         form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'; \
         manifest-src 'self'; worker-src 'self'",
    ),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", ""),
];

/// Checks the headers that every answer has.
pub fn secure(asked: &str, headers: &HeaderMap) {
    for (name, value) in SECURITY_HEADERS {
        let is = headers.get(*name).map(|value| value.to_str().expect("ASCII"));
        let due = if *name == "referrer-policy" && asked.contains(" /s/") { "no-referrer" } else { value };
        assert_eq!(is, Some(due), "{asked}: the header {name} (S22); see http/watch.rs");
    }
    let id = headers.get("x-request-id").and_then(|id| id.to_str().ok()).unwrap_or_default();
    assert!(Uuid::try_parse(id).is_ok(), "{asked}: X-Request-Id is a UUID (A1), not {id:?}");
}

fn always(seen: &Seen, doc: Option<&RouteDoc>, is_head: bool) {
    secure(&seen.asked, &seen.headers);
    if let Some(doc) = doc.filter(|_| !matches!(seen.status, 304 | 405 | 408 | 500)) {
        let described = &DOCUMENT["paths"][doc.path][doc.method.as_str().to_lowercase()]["responses"];
        let status = seen.status.to_string();
        assert!(
            described.get(&status).is_some(),
            "{} {} answers {status}, which the OpenAPI document does not list (A6): add it in api/openapi.rs\n{seen}",
            doc.method,
            doc.path
        );
    }
    if is_head || seen.status == 304 {
        assert!(seen.bytes.is_empty(), "{}: no body is expected", seen.asked);
        return;
    }
    if doc.is_none() && seen.header("content-type").starts_with("text/html") {
        return;
    }
    let node = || Node::parse(&seen.bytes).unwrap_or_else(|error| panic!("not JSON: {error}\n{seen}"));
    if seen.status >= 400 {
        assert_eq!(seen.header("content-type"), "application/problem+json", "{seen}");
        let faults = views::problem().check(&node());
        assert!(faults.is_empty(), "the problem has not the shape of wire/body/views.rs: {faults:?}\n{seen}");
        let problem = seen.json();
        assert_eq!(problem["status"], seen.status, "{seen}");
        assert_eq!(problem["instance"], format!("urn:uuid:{}", seen.header("x-request-id")), "{seen}");
        if seen.status == 401 {
            assert_eq!(seen.header("www-authenticate"), "Bearer", "{seen}");
        }
        return;
    }
    let Some(doc) = doc else { return };
    match &doc.answers {
        Media::Json(schema) | Media::JsonOrCsv(schema) if seen.header("content-type") == "application/json" => {
            let faults = schema.check(&node());
            let (method, path) = (&doc.method, doc.path);
            assert!(
                faults.is_empty(),
                "{method} {path} answers another shape than it declares (A6); mend wire/body/views.rs or the answer: \
                 {faults:?}\n{seen}"
            );
        }
        Media::Nothing => assert!(seen.bytes.is_empty(), "{seen}"),
        Media::Lines(schema) => {
            for line in seen.bytes.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()) {
                let faults = schema.check(&Node::parse(line).expect("each line is JSON"));
                assert!(faults.is_empty(), "a line of another shape than declared (A6): {faults:?}\n{seen}");
            }
        }
        _ => {}
    }
}

impl Api {
    /// Makes a client.
    pub fn new(server: Arc<Server>) -> Self {
        let client = reqwest::Client::builder()
            .timeout(PATIENCE)
            .redirect(reqwest::redirect::Policy::none())
            .no_proxy()
            .build()
            .expect("a client");
        Self { server, client }
    }

    /// Begins a request by its method and path under `/api/v1`.
    pub fn call(&self, method: &str, path: &str) -> Call {
        self.outside(method, &format!("/api/v1{path}"))
    }

    /// Begins a request by its method and whole path.
    pub fn outside(&self, method: &str, path: &str) -> Call {
        Call { api: self.clone(), method: method.into(), path: path.into(), headers: Vec::new(), body: None }
    }

    /// Begins a GET.
    pub fn get(&self, path: impl AsRef<str>) -> Call {
        self.call("GET", path.as_ref())
    }

    /// Begins a POST.
    pub fn post(&self, path: impl AsRef<str>, body: &Value) -> Call {
        self.call("POST", path.as_ref()).body(body)
    }

    /// Begins a PATCH.
    pub fn patch(&self, path: impl AsRef<str>, body: &Value) -> Call {
        self.call("PATCH", path.as_ref()).body(body)
    }

    /// Begins a PUT.
    pub fn put(&self, path: impl AsRef<str>, body: &Value) -> Call {
        self.call("PUT", path.as_ref()).body(body)
    }

    /// Begins a DELETE.
    pub fn delete(&self, path: impl AsRef<str>) -> Call {
        self.call("DELETE", path.as_ref())
    }

    /// Registers a person and signs it in.
    pub async fn person(&self, name: &str) -> Person {
        static COUNT: AtomicU64 = AtomicU64::new(1);
        let email = format!("{}.{}@example.org", name.to_lowercase(), COUNT.fetch_add(1, Ordering::SeqCst));
        let body = json!({ "email": email, "password": PASSWORD, "display_name": name });
        self.post("/accounts", &body).expect(201).await;
        self.sign_in(&email).await
    }

    /// Signs in.
    pub async fn sign_in(&self, email: &str) -> Person {
        let body = json!({ "email": email, "password": PASSWORD });
        let tokens = self.post("/sessions", &body).expect(200).await.json();
        Person { email: email.into(), token: text(&tokens, "access_token"), refresh: text(&tokens, "refresh_token") }
    }

    /// Registers the whole cast.
    pub async fn cast(&self) -> Cast {
        let names = ["Olga", "Sam", "Ann", "Ben", "Otto"];
        let people = futures_util::future::join_all(names.map(|name| self.person(name))).await;
        let [olga, sam, ann, ben, otto] = people.try_into().unwrap_or_else(|_| panic!("five people"));
        Cast { olga, sam, ann, ben, otto }
    }

    /// Founds a league; returns its id and the founder's record.
    pub async fn found(&self, founder: &Person) -> (String, String) {
        let body = json!({ "name": "Thursday league", "time_zone": "Europe/Zurich" });
        let league = self.post("/leagues", &body).by(founder).key(&id()).expect(201).await.json();
        (text(&league, "id"), text(&league, "member_id"))
    }

    /// Invites a person into a league and accepts; returns the record.
    pub async fn join(&self, league: &str, organizer: &Person, person: &Person, role: &str) -> String {
        let path = format!("/leagues/{league}/invitations");
        let code = self.post(path, &json!({ "role": role })).by(organizer).expect(201).await.json();
        let path = format!("/invitations/{}/acceptance", text(&code, "code"));
        self.call("POST", &path).by(person).expect(201).await.id()
    }

    /// Founds a league with everything in it that a round needs.
    pub async fn night(&self, cast: &Cast) -> Night {
        let (league, olga) = self.found(&cast.olga).await;
        let sam = self.join(&league, &cast.olga, &cast.sam, "scorer").await;
        let ann = self.join(&league, &cast.olga, &cast.ann, "player").await;
        let ben = self.join(&league, &cast.olga, &cast.ben, "player").await;
        let path = format!("/leagues/{league}/courses");
        let course = self.post(path, &course()).by(&cast.olga).key(&id()).expect(201).await.json();
        let tee = text(&course["tees"][0], "id");
        let nine_tee = text(&course["tees"][1], "id");
        let path = format!("/leagues/{league}/seasons");
        let season = self.post(path, &season()).by(&cast.olga).key(&id()).expect(201).await.json();
        let path = format!("/leagues/{league}/setups");
        let bay = json!({ "label": "Bay 1", "sensor": "camera", "shared": true, "softening_radius_ft": 5.0 });
        let setup = self.post(path, &bay).by(&cast.ann).key(&id()).expect(201).await.id();
        let mut night = Night {
            league,
            olga,
            sam,
            ann,
            ben,
            course: text(&course, "id"),
            tee,
            nine_tee,
            setup,
            season: text(&season, "id"),
            competition: text(&season["competitions"][0], "id"),
            event: String::new(),
        };
        night.event = self.event(cast, &night, json!({})).await;
        night
    }

    /// Lays down an event that is open now, with some fields changed.
    pub async fn event(&self, cast: &Cast, night: &Night, changes: Value) -> String {
        let body = merged(event(&night.tee), &changes);
        let path = format!("/seasons/{}/events", night.season);
        self.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id()
    }

    /// Makes an event final, which has to be over and to have a card that counts: its closing time is put before
    /// [`START`] first.
    pub async fn settle(&self, event: &str, organizer: &Person) -> Seen {
        let body = json!({ "closes_at": "2027-01-14T18:59:00Z", "state": "final" });
        self.patch(format!("/events/{event}"), &body).by(organizer).matching("*").expect(200).await
    }

    /// Hands in a round; returns the answer.
    pub async fn hand_in(&self, event: &str, by: &Person, round: &Value) -> Seen {
        self.post(format!("/events/{event}/rounds"), round).by(by).key(&id()).expect(201).await
    }

    /// Hands in cards with softened short lines until a finding about their player is open: they name no set-up that could
    /// explain it. Returns its id and the cards'.
    pub async fn finding(&self, cast: &Cast, night: &Night, by: &Person, member: &str) -> (String, Vec<String>) {
        self.found_by(cast, night, (by, member), None).await
    }

    /// Hands in cards on the night's set-up, which softens, until a finding about that is open; returns its id and the
    /// cards'.
    pub async fn setup_finding(&self, cast: &Cast, night: &Night, by: &Person, member: &str) -> (String, Vec<String>) {
        self.found_by(cast, night, (by, member), Some(&night.setup)).await
    }

    async fn found_by(
        &self,
        cast: &Cast,
        night: &Night,
        (by, member): (&Person, &str),
        setup: Option<&str>,
    ) -> (String, Vec<String>) {
        let subject = setup.map_or(json!({ "member_id": member }), |setup| json!({ "setup_id": setup }));
        let mut rounds = Vec::new();
        for turn in 0..6 {
            let event = self.event(cast, night, json!({})).await;
            let card = softened_on(member, setup, turn);
            rounds.push(self.hand_in(&event, by, &card).await.id());
            let path = format!("/leagues/{}/findings?limit=200", night.league);
            let open = self.get(path).by(&cast.olga).expect(200).await.json();
            let mut items = open["items"].as_array().expect("items").iter();
            let found = items.find(|found| found["kind"] == "softened_line" && found["subject"] == subject);
            if let Some(found) = found {
                return (text(found, "id"), rounds);
            }
        }
        panic!("six softened cards and no finding");
    }

    /// Two leagues with the same cards, of which the first has a finding of softened lines about Ann's and its twin none;
    /// and the ids of the first one's findings.
    pub async fn twins(&self, cast: &Cast) -> ([Twin; 2], Vec<String>) {
        let twins = [self.twin(cast, 5.0).await, self.twin(cast, 1e-100).await];
        let mut found = Vec::new();
        for twin in &twins {
            let path = format!("/leagues/{}/findings", twin.night.league);
            let seen = self.get(path).by(&cast.olga).expect(200).await.json();
            found.push(seen["items"].as_array().expect("items").clone());
        }
        let softened = |found: &Value| found["kind"] == "softened_line";
        let of_setup = |found: &Value| found["subject"].get("setup_id").is_some();
        for is_of_setup in [true, false] {
            let one = found[0].iter().find(|found| softened(found) && of_setup(found) == is_of_setup);
            assert!(one.is_some(), "the cards open a finding about Ann and one about the set-up");
        }
        assert!(!found[1].iter().any(softened), "the twin has none");
        // Set-ups first: so they are ruled.
        found[0].sort_by_key(|found| !of_setup(found));
        (twins, found[0].iter().map(|found| text(found, "id")).collect())
    }

    /// A league with a budget of false alarms: a small one lets the same cards open nothing.
    async fn twin(&self, cast: &Cast, budget: f64) -> Twin {
        let night = self.night(cast).await;
        let audit = json!({ "audit": { "false_alarm_pct": budget } });
        self.patch(format!("/seasons/{}", night.season), &audit).by(&cast.olga).matching("*").expect(200).await;
        let (mut events, mut rounds) = (Vec::new(), Vec::new());
        // A finding about her first, then one about the set-up, which may explain a part of it.
        for turn in 0..4 {
            let event = self.event(cast, &night, json!({})).await;
            let card = softened_on(&night.ann, (turn > 1).then_some(&night.setup), turn);
            rounds.push(self.hand_in(&event, &cast.ann, &card).await.id());
            events.push(event);
        }
        Twin { night, events, rounds }
    }

    /// Counts the rounds of an event, withdrawn ones too.
    pub async fn rounds(&self, event: &str, by: &Person) -> usize {
        let page = self.get(format!("/events/{event}/rounds?limit=200")).by(by).expect(200).await.json();
        page["items"].as_array().expect("items").len()
    }

    /// Opens a stream and reads events from it.
    pub async fn stream(&self, event: &str, by: &Person) -> Stream {
        let answer = self.get(format!("/events/{event}/board/stream")).by(by).open().await;
        assert_eq!(answer.status().as_u16(), 200);
        secure("the stream", answer.headers());
        Stream { headers: answer.headers().clone(), answer: Box::pin(answer.bytes_stream()), left: String::new() }
    }
}

/// A league of [`Api::twins`].
pub struct Twin {
    /// The league.
    pub night: Night,
    /// Its events with Ann's cards.
    pub events: Vec<String>,
    /// These cards.
    pub rounds: Vec<String>,
}

/// Server-sent events as they come in.
pub struct Stream {
    /// The headers.
    pub headers: HeaderMap,
    answer: std::pin::Pin<Box<dyn futures_util::Stream<Item = reqwest::Result<bytes_of::Bytes>> + Send>>,
    left: String,
}

mod bytes_of {
    pub use actix_web::web::Bytes;
}

impl Stream {
    /// Returns the next event: its name and its data. Comments and `retry` are passed over.
    pub async fn next(&mut self) -> Option<(String, Value)> {
        loop {
            if let Some((whole, rest)) = self.left.split_once("\n\n") {
                let (whole, rest) = (whole.to_owned(), rest.to_owned());
                self.left = rest;
                let line = |name: &str| {
                    let line = whole.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(": "));
                    line.map(str::to_owned)
                };
                if let (Some(name), Some(data)) = (line("event"), line("data")) {
                    return Some((name, serde_json::from_str(&data).expect("the data of an event is JSON")));
                }
                continue;
            }
            let next = tokio::time::timeout(PATIENCE, self.answer.next()).await;
            let chunk = next.unwrap_or_else(|_| panic!("no event came within {PATIENCE:?}; before it: {}", self.left));
            self.left.push_str(std::str::from_utf8(&chunk?.ok()?).expect("events are UTF-8"));
        }
    }
}

/// A league with everything in it that a round needs.
#[derive(Clone, Debug)]
pub struct Night {
    /// The league.
    pub league: String,
    /// The organizer's record.
    pub olga: String,
    /// The scorer's record.
    pub sam: String,
    /// A player's record.
    pub ann: String,
    /// Another player's record.
    pub ben: String,
    /// The course.
    pub course: String,
    /// Its tee of 18 holes.
    pub tee: String,
    /// Its tee of 9 holes.
    pub nine_tee: String,
    /// A shared set-up of Ann's.
    pub setup: String,
    /// The season: points, by score.
    pub season: String,
    /// Its competition.
    pub competition: String,
    /// An event of 18 holes that is open.
    pub event: String,
}

/// Lays the fields of one object over another's.
pub fn merged(mut body: Value, changes: &Value) -> Value {
    for (name, value) in changes.as_object().expect("an object") {
        body[name] = value.clone();
    }
    body
}

/// The pars of the front nine; the back nine has the same. 36 and 72 together.
pub const PARS: [u8; 9] = [4, 5, 3, 4, 4, 4, 3, 5, 4];

/// Returns the par of a hole.
pub fn par(number: usize) -> u8 {
    PARS[(number - 1) % 9]
}

fn holes(count: usize) -> Vec<Value> {
    // Odd indexes on the front nine, even ones on the back nine, rising with the holes.
    let index = |n: usize| if n <= 9 { 2 * n - 1 } else { 2 * (n - 9) };
    (1..=count).map(|n| json!({ "number": n, "par": par(n), "stroke_index": index(n) })).collect()
}

/// A course: 18 holes of par 72 with its nines, and 9 holes of par 36. Scratch scores are par, slopes standard, so
/// that course strokes are the index itself.
pub fn course() -> Value {
    json!({ "name": "Mill Pond", "tees": [
        { "name": "White", "course_rating": 72.0, "slope_rating": 113, "holes": holes(18), "nines": [
            { "first_hole": 1, "course_rating": 36.0, "slope_rating": 113 },
            { "first_hole": 10, "course_rating": 36.0, "slope_rating": 113 },
        ] },
        { "name": "Nine", "course_rating": 36.0, "slope_rating": 113, "holes": holes(9) },
    ] })
}

/// A season: points, the score itself counts.
pub fn season() -> Value {
    json!({
        "name": "Winter 2027", "starts_on": "2027-01-01", "ends_on": "2027-04-30", "concession_ft": 3.0,
        "competitions": [{ "name": "Winter 2027", "score": { "kind": "points" }, "allowance_pct": 95 }],
    })
}

/// That season with other terms of its competition.
pub fn season_with(terms: &Value) -> Value {
    let mut season = season();
    season["competitions"][0] = merged(season["competitions"][0].clone(), terms);
    season
}

/// An event of 18 holes, open around [`START`].
pub fn event(tee: &str) -> Value {
    json!({
        "name": "Second night", "tee_id": tee, "stimp_ft": 10.5, "opens_at": "2027-01-14T17:00:00Z",
        "closes_at": "2027-01-14T22:00:00Z", "holes": 18,
    })
}

/// A card: par on every hole, two putts on each, those of the first hole measured.
pub fn round(member: &str) -> Value {
    card(member, &(1..=18).map(par).collect::<Vec<_>>())
}

/// A card of par with a putt of 4 to 38 ft on each hole, its line as measured and as played, on a set-up that plays lines
/// inside 20 ft at an eighth.
pub fn softened(member: &str, setup: &str, turn: usize) -> Value {
    let mut body = round(member);
    body["setup_id"] = json!(setup);
    for n in 0..18 {
        let distance = 4.0 + 2.0 * n as f64;
        let line = [0.9, -1.4, 0.6, -0.8, 1.7, -2.1, 1.1][(n + turn) % 7];
        let played = if distance <= 20.0 { (line * 1.25_f64).round() / 10.0 } else { line };
        body["holes"][n] = json!({ "number": n + 1, "strokes": par(n + 1), "putts": [
            { "distance_ft": distance, "start_line_deg": line, "played_line_deg": played, "result": "missed" },
            { "distance_ft": 1.5, "result": "holed" },
        ] });
    }
    body
}

/// As [`softened`], on a set-up or on one that is not named.
fn softened_on(member: &str, setup: Option<impl AsRef<str>>, turn: usize) -> Value {
    let mut card = softened(member, "", turn);
    card["setup_id"] = json!(setup.as_ref().map(AsRef::as_ref));
    card
}

/// A card with the given strokes, from the first hole on.
pub fn card(member: &str, strokes: &[u8]) -> Value {
    let hole = |(n, strokes): (usize, &u8)| {
        if n == 0 {
            json!({ "number": 1, "strokes": strokes, "picked_up": false, "putts": [
                { "distance_ft": 31.0, "elevation_in": -4.0, "ball_speed_mph": 6.1, "start_line_deg": -0.8,
                  "played_line_deg": -0.7, "result": "missed" },
                { "distance_ft": 2.5, "result": "conceded" },
            ] })
        } else {
            json!({ "number": n + 1, "strokes": strokes, "putt_count": 2 })
        }
    };
    json!({
        "client_round_id": Uuid::new_v4(), "member_id": member, "played_on": "2027-01-14",
        "holes": strokes.iter().enumerate().map(hole).collect::<Vec<_>>(),
    })
}
