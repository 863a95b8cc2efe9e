//! Phones that hand in rounds, and the league that they hand them in to.

use super::chance::Chance;
use reqwest::redirect::Policy;
use reqwest::{Client, Method};
use serde_json::{Value, json};
use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;
use tokio::task::JoinSet;

const PASSWORD: &str = "nine quiet greens at night";

/// How long a phone rests between two rounds at most.
const REST_MS: u64 = 200;

/// A league whose events are all open, laid down over HTTP.
pub struct World {
    pub league: String,
    pub season: String,
    /// The events by date.
    pub events: Vec<String>,
    pub members: Vec<String>,
    organizer: Holder,
    holders: Vec<Holder>,
}

/// Somebody with an account.
#[derive(Clone)]
struct Holder {
    email: String,
    token: String,
}

pub fn client() -> Client {
    Client::builder().timeout(Duration::from_secs(5)).build().unwrap()
}

async fn ask(origin: &str, method: Method, path: &str, token: &str, body: Value) -> Value {
    let mut request = client().request(method, format!("{origin}/api/v1{path}"));
    if !token.is_empty() {
        request = request.bearer_auth(token);
    }
    request = match body {
        Value::Null => request,
        Value::String(csv) => request.header("content-type", "text/csv").body(csv),
        body => request.json(&body),
    };
    let answer = request.send().await.unwrap();
    let status = answer.status();
    let text = answer.text().await.unwrap();
    assert!(status.is_success(), "{path} {status} {text}");
    serde_json::from_str(&text).unwrap()
}

async fn post(origin: &str, path: &str, token: &str, body: Value) -> Value {
    ask(origin, Method::POST, path, token, body).await
}

fn id(of: &Value) -> String {
    of["id"].as_str().unwrap().to_owned()
}

impl Holder {
    async fn join(origin: &str, name: &str) -> Self {
        let email = format!("{name}@demo.example");
        let account = json!({ "email": email, "password": PASSWORD, "display_name": name });
        post(origin, "/accounts", "", account).await;
        let mut holder = Self { email, token: String::new() };
        holder.sign_in(origin).await.unwrap();
        holder
    }

    async fn sign_in(&mut self, origin: &str) -> reqwest::Result<()> {
        let body = json!({ "email": self.email, "password": PASSWORD });
        let answer = client().post(format!("{origin}/api/v1/sessions")).json(&body).send().await?;
        let tokens: Value = answer.error_for_status()?.json().await?;
        self.token = tokens["access_token"].as_str().unwrap().to_owned();
        Ok(())
    }
}

impl World {
    /// Founds a league with so many phones, members a phone, and events.
    pub async fn found(origin: &str, phones: usize, members: usize, events: usize) -> Self {
        let organizer = Holder::join(origin, "organizer").await;
        let token = organizer.token.clone();
        let league = id(&post(origin, "/leagues", &token, json!({ "name": "Cellar", "time_zone": "UTC" })).await);
        let holes: Vec<Value> = (1..=9).map(|n| json!({ "number": n, "par": 4, "stroke_index": n })).collect();
        let tee = json!({ "name": "mat", "course_rating": 35.3, "slope_rating": 121, "holes": holes });
        let course = json!({ "name": "Puddle Nine", "tees": [tee] });
        let course = post(origin, &format!("/leagues/{league}/courses"), &token, course).await;
        let season = json!({
            "name": "Season", "starts_on": "2020-01-01", "ends_on": "2036-12-31",
            "competitions": [{ "name": "Season", "basis": "gross", "counting": { "best": 3, "minimum": 1 } }],
        });
        let season = id(&post(origin, &format!("/leagues/{league}/seasons"), &token, season).await);
        let first: jiff::civil::Date = "2020-01-01".parse().unwrap();
        let mut nights = Vec::new();
        for (n, date) in first.series(jiff::Span::new().days(1)).take(events).enumerate() {
            let event = json!({
                "name": format!("Night {n}"), "tee_id": course["tees"][0]["id"], "stimp_ft": 10, "holes": 9,
                "opens_at": format!("{date}T18:00:00Z"), "closes_at": "2036-01-01T00:00:00Z",
            });
            nights.push(id(&post(origin, &format!("/seasons/{season}/events"), &token, event).await));
        }
        let mut roster = String::from("display_name\n");
        for n in 0..phones * members {
            roster.push_str(&format!("Player {n}\n"));
        }
        let roster = post(origin, &format!("/leagues/{league}/rosters"), &token, roster.into()).await;
        let members = roster["items"].as_array().unwrap().iter().map(id).collect();
        let mut holders = Vec::new();
        for n in 0..phones {
            let holder = Holder::join(origin, &format!("phone{n}")).await;
            let invitation = json!({ "role": "scorer" });
            let code = post(origin, &format!("/leagues/{league}/invitations"), &token, invitation).await;
            let path = format!("/invitations/{}/acceptance", code["code"].as_str().unwrap());
            post(origin, &path, &holder.token, json!({})).await;
            holders.push(holder);
        }
        Self { league, season, events: nights, members, organizer, holders }
    }

    /// Signs the organizer in again.
    pub async fn token(&self, origin: &str) -> String {
        let mut organizer = self.organizer.clone();
        organizer.sign_in(origin).await.unwrap();
        organizer.token
    }

    /// The token that a phone signed in with first.
    pub fn phone_token(&self, n: usize) -> &str {
        &self.holders[n].token
    }

    /// Signs the organizer in as a browser; returns its cookie.
    pub async fn browser(&self, origin: &str) -> String {
        let browser = Client::builder().redirect(Policy::none()).build().unwrap();
        let request = browser.post(format!("{origin}/sign-in")).header("sec-fetch-site", "same-origin");
        let form =
            format!("email={}&password={}", self.organizer.email.replace('@', "%40"), PASSWORD.replace(' ', "+"));
        let form = request.header("content-type", "application/x-www-form-urlencoded").body(form);
        let answer = form.send().await.unwrap();
        let cookie = answer.headers()["set-cookie"].to_str().unwrap();
        cookie.split(';').next().unwrap().to_owned()
    }

    /// Signs every phone in again.
    pub async fn phone_tokens(&self, origin: &str) -> Vec<String> {
        let mut tokens = Vec::new();
        for mut holder in self.holders.clone() {
            holder.sign_in(origin).await.unwrap();
            tokens.push(holder.token);
        }
        tokens
    }

    /// Reads the season's table.
    pub async fn table(&self, origin: &str, token: &str) -> Vec<Value> {
        let path = format!("/seasons/{}/standings", self.season);
        let table = ask(origin, Method::GET, &path, token, Value::Null).await;
        assert!(table["next"].is_null(), "the table comes in pages");
        table["items"].as_array().unwrap().clone()
    }
}

/// Phones at work.
pub struct Crowd {
    /// How often a phone was told that the disk is full.
    pub full: Arc<AtomicUsize>,
    unanswered: Arc<AtomicUsize>,
    stop: Arc<AtomicBool>,
    phones: JoinSet<()>,
}

impl Crowd {
    /// Sends all phones off: each hands in a round for every member of its own and every event, one after the other, and
    /// asks the next of the origins where one does not answer. Their ledgers go to the folder.
    pub fn start(world: &World, origins: &[String], folder: &Path, seed: u64) -> Self {
        let (full, unanswered): (Arc<AtomicUsize>, Arc<AtomicUsize>) = Default::default();
        let stop = Arc::new(AtomicBool::new(false));
        let mut phones = JoinSet::new();
        let own = world.members.len() / world.holders.len();
        for ((n, holder), members) in world.holders.iter().enumerate().zip(world.members.chunks(own)) {
            let phone = Phone {
                n,
                holder: holder.clone(),
                origins: origins.to_vec(),
                client: client(),
                ledger: Ledger::open(folder.join(format!("phone-{n}.ledger"))),
                chance: Chance::new(seed, n as u64 + 1),
                full: full.clone(),
                unanswered: unanswered.clone(),
                stop: stop.clone(),
            };
            phones.spawn(phone.work(world.events.clone(), members.to_vec()));
        }
        Self { full, unanswered, stop, phones }
    }

    /// Whether a phone still has something to hand in; a crowd that has not tests nothing.
    pub fn is_busy(&mut self) -> bool {
        while let Some(ended) = self.phones.try_join_next() {
            ended.unwrap();
        }
        !self.phones.is_empty()
    }

    /// Waits until the phones have handed everything in or fallen silent; returns how many sends no acknowledgement
    /// answered.
    pub async fn finish(mut self) -> usize {
        while let Some(ended) = self.phones.join_next().await {
            ended.unwrap();
        }
        self.unanswered()
    }

    /// How often a phone got no answer so far.
    pub fn unanswered(&self) -> usize {
        self.unanswered.load(Ordering::SeqCst)
    }

    /// Tells the phones to send nothing more, whatever they still wait for.
    pub fn fall_silent(&self) {
        self.stop.store(true, Ordering::SeqCst);
    }
}

struct Phone {
    n: usize,
    holder: Holder,
    origins: Vec<String>,
    client: Client,
    ledger: Ledger,
    chance: Chance,
    full: Arc<AtomicUsize>,
    unanswered: Arc<AtomicUsize>,
    stop: Arc<AtomicBool>,
}

impl Phone {
    async fn work(mut self, events: Vec<String>, members: Vec<String>) {
        for event in &events {
            for member in &members {
                if self.stop.load(Ordering::SeqCst) {
                    return;
                }
                let card = card(&mut self.chance, member);
                let key = self.chance.id();
                self.ledger.note(&json!({ "intent": card["client_round_id"], "phone": self.n, "event_id": event, "key": key, "card": card }));
                let Some(answer) = self.hand_in(event, &key, &card).await else { return };
                self.ledger.note(&json!({ "ack": card["client_round_id"], "answer": answer }));
                tokio::time::sleep(Duration::from_millis(self.chance.below(REST_MS))).await;
            }
        }
    }

    /// Sends the same request until it is acknowledged; nothing if the phone falls silent before.
    async fn hand_in(&mut self, event: &str, key: &str, card: &Value) -> Option<String> {
        let body = card.to_string();
        loop {
            let origin = self.origins[0].clone();
            match send(&self.client, &origin, &self.holder.token, event, key, &body).await {
                Ok((200 | 201, answer)) => return Some(answer),
                // A token lasts ten minutes.
                Ok((401, _)) => drop(self.holder.sign_in(&origin).await),
                Ok((503, problem)) if problem.contains("storage-full") => {
                    self.full.fetch_add(1, Ordering::SeqCst);
                }
                Ok((503, _)) | Err(_) => self.origins.rotate_left(1),
                Ok((409, problem)) if problem.contains("key-in-flight") => {}
                Ok((status, problem)) => panic!("a sound round is refused: {status} {problem}"),
            }
            if self.stop.load(Ordering::SeqCst) {
                return None;
            }
            self.unanswered.fetch_add(1, Ordering::SeqCst);
            tokio::time::sleep(Duration::from_millis(10 + self.chance.below(50))).await;
        }
    }
}

/// Sends a round; returns the status and the body.
pub async fn send(
    client: &Client,
    origin: &str,
    token: &str,
    event: &str,
    key: &str,
    body: &str,
) -> reqwest::Result<(u16, String)> {
    let request = client.post(format!("{origin}/api/v1/events/{event}/rounds")).bearer_auth(token);
    let request = request.header("content-type", "application/json").header("idempotency-key", key);
    let answer = request.body(body.to_owned()).send().await?;
    Ok((answer.status().as_u16(), answer.text().await?))
}

/// Nine holes, the putts of two recorded.
pub fn card(chance: &mut Chance, member: &str) -> Value {
    let mut holes = Vec::new();
    for number in 1..=9 {
        let mut hole = json!({ "number": number, "strokes": 3 + chance.below(5) });
        if number <= 2 {
            let feet = |tenths: u64| tenths as f64 / 10.0;
            hole["putts"] = json!([
                { "distance_ft": feet(60 + chance.below(400)), "result": "missed" },
                { "distance_ft": feet(5 + chance.below(40)), "result": "holed" },
            ]);
        }
        holes.push(hole);
    }
    json!({
        "client_round_id": chance.id(), "member_id": member, "played_on": "2026-01-14", "holes": holes,
    })
}

/// What a phone remembers, on disk before it goes on.
struct Ledger(File);

impl Ledger {
    fn open(path: PathBuf) -> Self {
        Self(OpenOptions::new().create(true).append(true).open(path).unwrap())
    }

    fn note(&mut self, line: &Value) {
        tokio::task::block_in_place(|| {
            self.0.write_all(format!("{line}\n").as_bytes()).unwrap();
            self.0.sync_data().unwrap();
        });
    }
}
