//! Hand-in over HTTP, durable, against a bare program that inserts the same rows in grouped commits.
//!
//! `cargo bench --bench hand_in` prints rounds a second of both and their ratio. Clients, server and database share
//! the machine; the bare program has it for itself.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on stops")]

use evenfield::accounts::token::SessionId;
use evenfield::api::quota::Allowance;
use evenfield::bodies::bundle::{Line, OfLeague, OfSeason, Own, Received, Sent};
use evenfield::domain::facts::{
    CardHole, Course, Event, Hole, League, Member, Outcome, Putt, PuttResult, Role, Round, Season, Tee,
};
use evenfield::domain::ids::{AccountId, ClientRoundId, CourseId, EventId, LeagueId, MemberId, SeasonId, TeeId};
use evenfield::domain::units::{
    Degrees, Feet, HoleNumber, Inches, Mph, Par, SlopeRating, StrokeIndex, Strokes, Tenths,
};
use evenfield::startup::{Application, Options, system_clock};
use evenfield::storage::accounts::{self, Account};
use evenfield::storage::{Store, members};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use uuid::Uuid;

const CLIENTS: usize = 64;
const PLAYERS: usize = 400;
const EVENTS: usize = 20;

fn sent<I, B>(ids: I, body: B) -> Sent<I, B> {
    Sent { ids, body, received: Received::default(), versions: Vec::new() }
}

/// A card of 18 holes with 32 putts: fourteen holes of two, four of one; readings as a sensor shows them, no two rounds
/// alike.
fn card(member: MemberId, seed: usize) -> Round {
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
        played_on: "2027-01-14".parse().unwrap(),
        outcome: Outcome::Complete,
        holes: (1..=18).map(hole).collect(),
    }
}

struct Field {
    members: Vec<MemberId>,
    events: Vec<EventId>,
    organizer: MemberId,
    lines: Vec<Line>,
}

fn field() -> Field {
    let league_id = LeagueId(Uuid::now_v7());
    let in_league = |id| OfLeague { id, league_id };
    let (tee, season) = (TeeId(Uuid::now_v7()), SeasonId(Uuid::now_v7()));
    let members: Vec<MemberId> = (0..PLAYERS).map(|_| MemberId(Uuid::now_v7())).collect();
    let organizer = MemberId(Uuid::now_v7());
    let person = |id, role| {
        let member =
            Member { display_name: "Bench player".into(), role, division: None, starting_handicap: Some(Tenths(120)) };
        Line::Member(sent(OfLeague { id, league_id }, member))
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
        "name": "Bench", "starts_on": "2020-01-01", "ends_on": "2030-01-01", "scoring": "net", "allowance_pct": 95,
        "award": { "kind": "by_place", "table": [25, 20, 16] }, "counting": { "best": 10, "minimum": 1 },
    }))
    .unwrap();
    let mut lines =
        vec![Line::League(sent(Own { id: league_id }, League { name: "Bench".into(), time_zone: "UTC".into() }))];
    lines.push(person(organizer, Role::Organizer));
    lines.extend(members.iter().map(|id| person(*id, Role::Player)));
    let course = Course { name: "Bench".into(), tees: vec![tee_body] };
    lines.push(Line::Course(sent(in_league(CourseId(Uuid::now_v7())), course)));
    lines.push(Line::Season(sent(OfLeague { id: season, league_id }, policy)));
    let mut events = Vec::new();
    for n in 0..EVENTS {
        let id = EventId(Uuid::now_v7());
        let event: Event = serde_json::from_value(serde_json::json!({
            "name": format!("Night {n}"), "tee_id": tee, "stimp_ft": 10.0, "holes": 18, "state": "open",
            "opens_at": format!("2026-{:02}-{:02}T18:00:00Z", 1 + n / 20, 1 + n % 20), "closes_at": "2029-01-01T00:00:00Z",
        }))
        .unwrap();
        lines.push(Line::Event(sent(OfSeason { id, season_id: season }, event)));
        events.push(id);
    }
    Field { members, events, organizer, lines }
}

fn main() {
    if std::env::args().any(|word| word == "--list" || word == "--test") {
        return;
    }
    let folder = tempfile::tempdir_in(std::env::current_dir().unwrap()).unwrap();
    let server = actix_web::rt::System::new().block_on(over_http(folder.path()));
    let bare = tokio::runtime::Runtime::new().unwrap().block_on(bare(folder.path()));
    println!("hand-in over HTTP, {CLIENTS} clients, 32 putts a round, synchronous=FULL: {server:.0} rounds/s");
    println!("bare single-writer inserts of the same rows, 64 rounds a commit:       {bare:.0} rounds/s");
    println!("ratio: {:.2}", server / bare);
}

async fn over_http(folder: &std::path::Path) -> f64 {
    let plenty = 1e12;
    let application = Application::build(Options {
        database: Store::File(folder.join("server.sqlite")),
        signing_key: None,
        listen: "127.0.0.1:0".parse().unwrap(),
        behind_proxy: false,
        registration: None,
        allowance: Allowance { reads: plenty, reads_per_minute: plenty, writes: plenty, writes_per_minute: plenty },
        clock: system_clock(),
    })
    .await
    .unwrap();
    let field = field();
    let app = application.app.clone();
    let mut import = app.leagues.import().await.unwrap();
    for line in &field.lines {
        import.add(line).await.unwrap();
    }
    import.finish().await.unwrap();
    let (account, session, now) = (AccountId(Uuid::now_v7()), Uuid::now_v7(), app.leagues.now());
    let organizer = field.organizer;
    app.leagues
        .writer
        .change(organizer, move |conn| {
            Box::pin(async move {
                let person = Account {
                    id: account,
                    email: "bench@demo.example".into(),
                    password_hash: String::new(),
                    display_name: "Bench".into(),
                };
                accounts::insert(conn, &person, now).await?;
                let stored = members::get(conn, organizer).await?.unwrap();
                members::claim(conn, stored.league, organizer, account, Role::Organizer).await?;
                accounts::begin_session(conn, session, account, now, [0; 32]).await
            })
        })
        .await
        .unwrap();
    let token = app.door.keys.issue(account, SessionId(session), now).unwrap();
    let address = application.address;
    let handle = tokio::spawn(application.run());
    let requests: Vec<Vec<u8>> = field
        .events
        .iter()
        .flat_map(|event| field.members.iter().map(move |member| (*event, *member)))
        .enumerate()
        .map(|(n, (event, member))| {
            let body = serde_json::to_string(&card(member, n)).unwrap();
            format!(
                "POST /api/v1/events/{event}/rounds HTTP/1.1\r\nHost: bench\r\nAuthorization: Bearer {token}\r\n\
                 Content-Type: application/json\r\nIdempotency-Key: {}\r\nContent-Length: {}\r\n\r\n{body}",
                Uuid::now_v7(),
                body.len()
            )
            .into_bytes()
        })
        .collect();
    let total = requests.len();
    let requests = Arc::new(requests);
    let next = Arc::new(AtomicUsize::new(0));
    let began = Instant::now();
    let clients: Vec<_> = (0..CLIENTS)
        .map(|_| {
            let (requests, next) = (Arc::clone(&requests), Arc::clone(&next));
            tokio::spawn(async move {
                let mut socket = TcpStream::connect(address).await.unwrap();
                let mut buffer = vec![0; 64 * 1024];
                loop {
                    let n = next.fetch_add(1, Ordering::Relaxed);
                    let Some(request) = requests.get(n) else { break };
                    socket.write_all(request).await.unwrap();
                    read_answer(&mut socket, &mut buffer).await;
                }
            })
        })
        .collect();
    for client in clients {
        client.await.unwrap();
    }
    let rate = total as f64 / began.elapsed().as_secs_f64();
    handle.abort();
    rate
}

/// Reads one answer and makes sure that the round was stored.
async fn read_answer(socket: &mut TcpStream, buffer: &mut [u8]) {
    let mut have = 0;
    loop {
        have += socket.read(&mut buffer[have..]).await.unwrap();
        let Some(end) = buffer[..have].windows(4).position(|four| four == b"\r\n\r\n") else { continue };
        let head = std::str::from_utf8(&buffer[..end]).unwrap().to_ascii_lowercase();
        assert!(head.starts_with("http/1.1 201"), "{}", String::from_utf8_lossy(&buffer[..have]));
        let length = head.lines().find_map(|line| line.strip_prefix("content-length: ")).unwrap();
        let due = end + 4 + length.trim().parse::<usize>().unwrap();
        while have < due {
            have += socket.read(&mut buffer[have..]).await.unwrap();
        }
        return;
    }
}

/// Inserts the same rows with nothing around them: one connection, 64 rounds a commit, three statements each.
async fn bare(folder: &std::path::Path) -> f64 {
    use evenfield::storage::Database;
    use evenfield::{sql, values};
    let database = Database::open(&Store::File(folder.join("bare.sqlite"))).await.unwrap();
    let mut conn = database.writer().await.unwrap();
    let (league, event) = (Uuid::now_v7(), Uuid::now_v7());
    let total = PLAYERS * EVENTS;
    let rounds: Vec<(Uuid, Round)> = (0..total).map(|n| (Uuid::now_v7(), card(MemberId(Uuid::now_v7()), n))).collect();
    conn.run("PRAGMA foreign_keys = OFF", vec![]).await.unwrap();
    let began = Instant::now();
    for group in rounds.chunks(64) {
        conn.begin_write().await.unwrap();
        let (mut heads, mut holes, mut putts) = (Vec::new(), Vec::new(), Vec::new());
        for (id, round) in group {
            heads.extend(values![
                league,
                *id,
                event,
                round.member_id,
                None::<Uuid>,
                round.client_round_id,
                vec![0_u8; 32],
                round.played_on,
                "complete",
                "submitted",
                None::<f64>,
                1_i64,
                1_i64,
                "2027-01-14T18:00:00Z",
                1_i64,
                "2027-01-14T18:00:00Z"
            ]);
            for hole in &round.holes {
                let number = hole.number.get();
                let strokes = hole.strokes.map(|strokes| strokes.get());
                holes.extend(values![league, *id, number, strokes, false, false, true, None::<u8>]);
                for (n, putt) in hole.putts.iter().flatten().enumerate() {
                    putts.extend(values![
                        league,
                        *id,
                        number,
                        n as i64 + 1,
                        putt.distance_ft.get(),
                        putt.elevation_in.map(Inches::get),
                        putt.ball_speed_mph.map(Mph::get),
                        putt.start_line_deg.map(Degrees::get),
                        putt.played_line_deg.map(Degrees::get),
                        putt.result.word()
                    ]);
                }
            }
        }
        let head = "INSERT INTO rounds (league_id, id, event_id, member_id, setup_id, client_round_id, first_body_hash, \
                    played_on, outcome, state, declared_radius_ft, version, seq, received_at, version_seq, version_at)";
        conn.insert_rows(head, 16, heads).await.unwrap();
        conn.insert_rows(sql!("hole_insert_head"), 8, holes).await.unwrap();
        conn.insert_rows(sql!("putt_insert_head"), 10, putts).await.unwrap();
        conn.commit().await.unwrap();
    }
    total as f64 / began.elapsed().as_secs_f64()
}
