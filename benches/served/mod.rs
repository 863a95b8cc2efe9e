//! A server with a league full of open events, and clients that speak HTTP to it over sockets that stay open.

#[path = "../../tests/support/serving/options.rs"]
mod options;

use evenfield::accounts::token::SessionId;
use evenfield::domain::facts::{
    CardHole, Course, Event, Hole, League, Member, Outcome, Putt, PuttResult, Role, Round, Season, Tee,
};
use evenfield::domain::ids::{
    AccountId, ClientRoundId, CompetitionId, CourseId, EventId, LeagueId, MemberId, RoundId, SeasonId, TeeId,
};
use evenfield::domain::units::{
    Degrees, Feet, HoleNumber, Inches, Mph, Par, SlopeRating, StrokeIndex, Strokes, Tenths,
};
use evenfield::http::app::App;
use evenfield::league::Caller;
use evenfield::startup::{Application, Options, system_clock};
use evenfield::storage::accounts::{self, Account};
use evenfield::storage::{Scope, Store, members};
use evenfield::wire::bundle::ids::{LeagueIds, MemberIds, OfLeague, OfSeason};
use evenfield::wire::bundle::line::{Line, Received, Sent};
use options::options;
use std::net::SocketAddr;
use std::path::Path;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::runtime::{Builder, Runtime};
use uuid::Uuid;

fn sent<I, B>(ids: I, body: B) -> Sent<I, B> {
    Sent { ids, body, received: Received::default(), versions: Vec::new() }
}

/// A card of 18 holes with 32 putts: fourteen holes of two, four of one; readings as a sensor shows them, no two rounds
/// alike.
pub fn card(member: MemberId, seed: usize) -> Round {
    let mut state = seed as u64 ^ member.0.as_u64_pair().1;
    let mut drawn = |most: u64| {
        // Knuth's multiplier (from memory); the high bits are the good ones.
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % most
    };
    let hole = |n: u8| {
        let putts = if n.is_multiple_of(4) { 1 } else { 2 };
        let putt = |p: usize| Putt {
            distance_ft: Feet::new(if p + 1 == putts {
                1.5 + drawn(40) as f64 / 10.0
            } else {
                8.0 + drawn(300) as f64 / 10.0
            })
            .unwrap(),
            elevation_in: Some(Inches::new(drawn(80) as f64 / 10.0 - 4.0).unwrap()),
            ball_speed_mph: Some(Mph::new(3.0 + drawn(50) as f64 / 10.0).unwrap()),
            start_line_deg: Some(Degrees::new(drawn(30) as f64 / 10.0 - 1.5).unwrap()),
            played_line_deg: Some(Degrees::new(drawn(30) as f64 / 10.0 - 1.5).unwrap()),
            result: if p + 1 == putts { PuttResult::Holed } else { PuttResult::Missed },
        };
        CardHole {
            number: HoleNumber::new(n.into()).unwrap(),
            strokes: Some(Strokes::new(4 + (seed + usize::from(n)) as i64 % 3).unwrap()),
            picked_up: false,
            not_played: false,
            putts: Some((0..putts).map(putt).collect()),
            putt_count: None,
        }
    };
    Round {
        client_round_id: ClientRoundId(Uuid::now_v7()),
        member_id: member,
        setup_id: None,
        played_on: "2026-01-14".parse().unwrap(),
        outcome: Outcome::Complete,
        holes: (1..=18).map(hole).collect(),
    }
}

/// A league with players and open events.
pub struct Field {
    /// The players.
    pub members: Vec<MemberId>,
    /// The events, all open.
    pub events: Vec<EventId>,
    /// The league.
    pub league: LeagueId,
    /// The season.
    pub season: SeasonId,
    organizer: MemberId,
    lines: Vec<Line>,
}

/// Makes a league.
pub fn field(players: usize, nights: usize) -> Field {
    let league_id = LeagueId(Uuid::now_v7());
    let in_league = |id| OfLeague { id, league_id };
    let (tee, season) = (TeeId(Uuid::now_v7()), SeasonId(Uuid::now_v7()));
    let members: Vec<MemberId> = (0..players).map(|_| MemberId(Uuid::now_v7())).collect();
    let organizer = MemberId(Uuid::now_v7());
    let person = |id, role| {
        let member = Member {
            display_name: "Bench player".into(),
            role,
            flight: None,
            starting_handicap: Some(Tenths(120)),
            guest: false,
            earlier_starts: Vec::new(),
        };
        Line::Member(sent(MemberIds { id, league_id, erased: false }, member))
    };
    let holes = (1..=18).map(|n| Hole {
        number: HoleNumber::new(n).unwrap(),
        par: Par::new(4).unwrap(),
        stroke_index: StrokeIndex::new(n).unwrap(),
    });
    let tee_body = Tee {
        id: tee,
        name: "Only".into(),
        course_rating: Tenths(712),
        slope_rating: SlopeRating::new(125).unwrap(),
        holes: holes.collect(),
        nines: Vec::new(),
    };
    let policy: Season = serde_json::from_value(serde_json::json!({
        "name": "Bench", "starts_on": "2020-01-01", "ends_on": "2030-01-01",
    }))
    .unwrap();
    let mut lines =
        vec![Line::League(sent(LeagueIds::new(league_id), League { name: "Bench".into(), time_zone: "UTC".into() }))];
    lines.push(person(organizer, Role::Organizer));
    lines.extend(members.iter().map(|id| person(*id, Role::Player)));
    let course = Course { name: "Bench".into(), tees: vec![tee_body] };
    lines.push(Line::Course(sent(in_league(CourseId(Uuid::now_v7())), course)));
    lines.push(Line::Season(sent(OfLeague { id: season, league_id }, policy)));
    let mut events = Vec::new();
    for n in 0..nights {
        let id = EventId(Uuid::now_v7());
        let event: Event = serde_json::from_value(serde_json::json!({
            "name": format!("Night {n}"), "tee_id": tee, "stimp_ft": 10.0, "holes": 18, "state": "open",
            "opens_at": format!("2025-{:02}-{:02}T18:00:00Z", 1 + n / 28 % 12, 1 + n % 28), "closes_at": "2029-01-01T00:00:00Z",
        }))
        .unwrap();
        lines.push(Line::Event(sent(OfSeason { id, season_id: season }, event)));
        events.push(id);
    }
    let terms = serde_json::from_value(serde_json::json!({
        "name": "Bench", "allowance_pct": 95, "award": { "kind": "by_place", "table": [16, 15, 14] },
        "counting": { "best": 10, "minimum": 1 },
    }))
    .unwrap();
    let ids = OfSeason { id: CompetitionId(Uuid::now_v7()), season_id: season };
    lines.push(Line::Competition(Box::new(sent(ids, terms))));
    Field { members, events, league: league_id, season, organizer, lines }
}

/// Builds a server on a store, with limits that no load reaches.
pub async fn application(store: Store) -> Application {
    Application::build(Options { behind_proxy: true, ..options(store, system_clock()) }).await.unwrap()
}

/// Stores leagues, with one account that is organizer of all; returns its access token.
pub async fn lay_down(app: &App, fields: &[Field]) -> String {
    for field in fields {
        let mut import = app.leagues.import().await.unwrap();
        for line in &field.lines {
            import.add(line).await.unwrap();
        }
        import.finish().await.unwrap();
    }
    let (account, session, now) = (AccountId(Uuid::now_v7()), Uuid::now_v7(), app.leagues.now());
    let organizers: Vec<MemberId> = fields.iter().map(|field| field.organizer).collect();
    let claimed = app.leagues.writer.change(Scope::Nothing, move |conn| {
        Box::pin(async move {
            let person = Account {
                id: account,
                email: "bench@demo.example".into(),
                password_hash: String::new(),
                display_name: "Bench".into(),
            };
            accounts::insert(conn, &person, now).await?;
            for organizer in organizers {
                let stored = members::get(conn, organizer).await?.unwrap();
                members::claim(conn, stored.league, organizer, account, Role::Organizer).await?;
                evenfield::league::memory::books::mark(conn, stored.league).await?;
            }
            accounts::begin_session(conn, session, account, now, [0; 32], ("a bench", false)).await
        })
    });
    claimed.await.unwrap();
    app.door.keys.now().issue(account, SessionId(session), now).unwrap()
}

/// Writes the request that hands in a member's card; `seed` makes the card.
pub fn hand_in(token: &str, event: EventId, member: MemberId, seed: usize) -> Vec<u8> {
    let body = serde_json::to_string(&card(member, seed)).unwrap();
    format!(
        "POST /api/v1/events/{event}/rounds HTTP/1.1\r\nHost: bench\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/json\r\nIdempotency-Key: {}\r\nContent-Length: {}\r\n\r\n{body}",
        Uuid::now_v7(),
        body.len()
    )
    .into_bytes()
}

/// Writes the request that puts another card in the place of a member's.
pub fn correction(
    token: &str,
    round: RoundId,
    version: i64,
    client_round_id: ClientRoundId,
    member: MemberId,
    seed: usize,
) -> Vec<u8> {
    let body = serde_json::to_string(&Round { client_round_id, ..card(member, seed) }).unwrap();
    format!(
        "PUT /api/v1/rounds/{round}?reason=slip HTTP/1.1\r\nHost: bench\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/json\r\nIf-Match: \"{version}\"\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )
    .into_bytes()
}

/// A server that runs, and who speaks to it.
pub struct Served {
    /// What its handlers share.
    pub app: actix_web::web::Data<App>,
    /// The league in it.
    pub field: Field,
    /// Where it listens.
    pub address: SocketAddr,
    /// The organizer's access token.
    pub token: String,
    handle: tokio::task::JoinHandle<std::io::Result<()>>,
}

impl Served {
    /// Starts a server over a new database with a league in it.
    pub async fn start(folder: &Path, players: usize, events: usize) -> Self {
        let application = application(Store::File(folder.join("server.sqlite"))).await;
        let (app, address) = (application.app.clone(), application.address);
        let field = field(players, events);
        let token = lay_down(&app, std::slice::from_ref(&field)).await;
        Self { app, field, address, token, handle: tokio::spawn(application.run()) }
    }

    /// The organizer, as acts are asked for without HTTP.
    pub fn caller(&self) -> Caller {
        let holder = self.app.door.keys.now().verify(&self.token, self.app.leagues.now()).unwrap();
        Caller { account: holder.account, session: holder.session.0, browser_since: None }
    }

    /// Stops the server.
    pub fn stop(self) {
        self.handle.abort();
    }
}

/// Makes a thread of their own for clients.
pub fn crowd() -> Runtime {
    Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap()
}

/// A socket that stays open.
pub struct Client {
    socket: TcpStream,
    buffer: Vec<u8>,
}

/// What came back.
pub struct Answer {
    /// The HTTP status.
    pub status: u16,
    /// Its headers, in lower case.
    pub head: String,
    /// How long the body is.
    pub length: usize,
}

impl Client {
    /// Connects.
    pub async fn new(address: SocketAddr) -> Self {
        let socket = TcpStream::connect(address).await.unwrap();
        socket.set_nodelay(true).unwrap();
        Self { socket, buffer: vec![0; 1 << 20] }
    }

    /// Sends a request and reads its answer.
    pub async fn ask(&mut self, request: &[u8]) -> Answer {
        self.socket.write_all(request).await.unwrap();
        let mut have = 0;
        loop {
            let came = self.socket.read(&mut self.buffer[have..]).await.unwrap();
            assert!(came > 0, "the server hung up");
            have += came;
            let Some(end) = self.buffer[..have].windows(4).position(|four| four == b"\r\n\r\n") else { continue };
            let head = std::str::from_utf8(&self.buffer[..end]).unwrap().to_ascii_lowercase();
            let status = head.split(' ').nth(1).unwrap().parse().unwrap();
            let length = head.lines().find_map(|line| line.strip_prefix("content-length: "));
            let length = length.map_or(0, |length| length.trim().parse::<usize>().unwrap());
            while have < end + 4 + length {
                have += self.socket.read(&mut self.buffer[have..]).await.unwrap();
            }
            return Answer { status, head, length };
        }
    }
}

/// Returns the processor time that this process has used, in seconds.
pub fn processor_seconds() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields = stat.rsplit(')').next().unwrap_or_default().split_whitespace();
    // in hundredths of a second
    fields.skip(11).take(2).filter_map(|ticks| ticks.parse::<f64>().ok()).sum::<f64>() / 100.0
}
