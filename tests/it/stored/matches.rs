//! Teams, fixtures, line-ups, concessions and adjustments: what becomes of them in a table of matches.

use crate::support::harness::{Api, Cast, Night, PARS, card, id, merged, own, shared, text};
use serde_json::{Value, json};

pub async fn member(api: &Api, cast: &Cast, night: &Night, name: &str, start: Option<f64>) -> String {
    let path = format!("/leagues/{}/members", night.league);
    let body = json!({ "display_name": name, "starting_handicap": start });
    api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id()
}

pub async fn team(api: &Api, cast: &Cast, night: &Night, name: &str, members: &[&str]) -> String {
    let members: Vec<Value> = members.iter().map(|member| json!({ "member_id": member })).collect();
    let path = format!("/seasons/{}/teams", night.season);
    let body = json!({ "name": name, "members": members });
    api.post(path, &body).by(&cast.olga).key(&id()).expect(201).await.id()
}

pub async fn competition(api: &Api, cast: &Cast, night: &Night, terms: Value) -> String {
    let path = format!("/seasons/{}/competitions", night.season);
    api.post(path, &terms).by(&cast.olga).key(&id()).expect(201).await.id()
}

/// Two single matches a fixture: 2 points a match, 1 for the lower total.
fn pairs() -> Value {
    json!({ "name": "Pairs", "position": 2,
            "meeting": { "kind": "match", "matches": 2, "points": { "per_match": 2, "per_total": 1 } } })
}

/// An event over nine holes on a day of January 2027, still open.
pub async fn nine_holes(api: &Api, cast: &Cast, night: &Night, day: u32) -> String {
    let opens_at = format!("2027-01-{day:02}T17:00:00Z");
    let changes = json!({ "name": format!("Night {day}"), "tee_id": night.nine_tee, "holes": 9, "opens_at": opens_at });
    api.event(cast, night, changes).await
}

/// A card over nine holes of par, so much over on the first holes.
pub fn nine(member: &str, over: &[i8]) -> Value {
    let strokes =
        |(hole, par): (usize, &u8)| par.checked_add_signed(over.get(hole).copied().unwrap_or(0)).expect("a score");
    card(member, &PARS.iter().enumerate().map(strokes).collect::<Vec<u8>>())
}

/// Everything of a team match in an event: a competition, two teams, a line-up, a fixture, a concession, an adjustment, and
/// of each an earlier version where it has one. Ben is of the first team.
pub async fn a_team_match(api: &Api, cast: &Cast, night: &Night, event: &str) -> [String; 6] {
    let by = &cast.olga;
    let guest = member(api, cast, night, "Gwen", None).await;
    let herons = team(api, cast, night, "Herons", &[&night.ben, &night.olga]).await;
    let plovers = team(api, cast, night, "Plovers", &[&night.sam]).await;
    let pairs = competition(api, cast, night, pairs()).await;
    let captain = json!({ "captain": night.ben });
    api.patch(format!("/teams/{herons}"), &captain).by(by).matching("*").expect(200).await;
    let path = format!("/events/{event}/line-ups/{herons}");
    let players = json!({ "players": [{ "member_id": night.ben }, { "member_id": night.olga }] });
    api.put(&path, &players).by(by).matching("*").expect(200).await;
    let players = json!({ "players": [{ "member_id": guest, "substitute_for": night.olga }, { "member_id": night.ben }],
                          "order": "as_named" });
    let line_up = api.put(&path, &players).by(by).matching("\"1\"").expect(200).await.id();
    let path = format!("/competitions/{pairs}/fixtures");
    let sides = json!([{ "event_id": event, "a": { "team_id": herons }, "b": { "team_id": plovers }, "bay": "2" }]);
    let made = api.post(&path, &sides).by(by).key(&id()).expect(201).await.json();
    let fixture = text(&made["items"][0], "fixture_id");
    let slot = json!({ "slot": "19:00" });
    api.patch(format!("/fixtures/{fixture}"), &slot).by(by).matching("*").expect(200).await;
    let path = format!("/fixtures/{fixture}/concessions");
    let concession = json!({ "match": 2, "hole": 3, "by": "a" });
    let concession = api.post(path, &concession).by(by).key(&id()).expect(201).await.id();
    let path = format!("/competitions/{pairs}/adjustments");
    let points = json!({ "team_id": herons, "points": -0.5, "reason": "late three times" });
    let adjustment = api.post(path, &points).by(by).key(&id()).expect(201).await.id();
    [pairs, herons, line_up, fixture, concession, adjustment]
}

/// The rows of a table: name, position, total, fixtures played, won, tied and lost, points for and against.
async fn rows(api: &Api, cast: &Cast, competition: &str) -> Vec<(String, Value, Value, String, Value, Value)> {
    let path = format!("/competitions/{competition}/standings");
    let table = api.get(path).by(&cast.ben).expect(200).await.json();
    let row = |row: &Value| {
        let of = &row["fixtures"];
        let fixtures = format!("{} {}-{}-{}", of["played"], of["won"], of["tied"], of["lost"]);
        let [position, total, points_for, against] =
            ["position", "total", "points_for", "points_against"].map(|name| row[name].clone());
        (text(row, "display_name"), position, total, fixtures, points_for, against)
    };
    table["items"].as_array().expect("rows").iter().map(row).collect()
}

struct Four {
    api: Api,
    cast: Cast,
    night: Night,
    pairs: String,
    teams: [String; 4],
    members: Vec<[String; 2]>,
    substitute: String,
    events: Vec<String>,
    /// By round, in the order of the draw.
    fixtures: Vec<[String; 2]>,
}

impl Four {
    /// Teams A to D with two players each, all off 0 but A’s first, who starts with 4.0: over nine holes off 2, on holes 1
    /// and 2. Events on 4 to 9 January hold the double round robin, that on 10 January nothing yet.
    async fn draw() -> Self {
        let api = own();
        let cast = api.cast().await;
        let night = api.night(&cast).await;
        let mut members = Vec::new();
        let mut teams = Vec::new();
        for (n, name) in ["Auks", "Boobies", "Cranes", "Dippers"].into_iter().enumerate() {
            let start = if n == 0 { 4.0 } else { 0.0 };
            let first = member(&api, &cast, &night, &format!("{name} one"), Some(start)).await;
            let second = member(&api, &cast, &night, &format!("{name} two"), Some(0.0)).await;
            teams.push(team(&api, &cast, &night, name, &[&first, &second]).await);
            members.push([first, second]);
        }
        let substitute = member(&api, &cast, &night, "Stand-by", Some(0.0)).await;
        let pairs = competition(&api, &cast, &night, pairs()).await;
        let mut events = Vec::new();
        for day in 4..=10 {
            events.push(nine_holes(&api, &cast, &night, day).await);
        }
        let path = format!("/competitions/{pairs}/fixtures");
        let drawn = json!({ "round_robin": { "times": 2, "events": events[..6], "bays": ["1", "2"] } });
        let made = api.post(&path, &drawn).by(&cast.olga).key(&id()).expect(201).await.json();
        let made = made["items"].as_array().expect("fixtures").clone();
        assert_eq!(made.len(), 12, "every pair meets twice");
        let fixtures = made.chunks(2).map(|round| [0, 1].map(|n| text(&round[n], "fixture_id"))).collect();
        let names: Vec<String> = made
            .iter()
            .map(|one| format!("{}{}", &text(&one["a"], "display_name")[..1], &text(&one["b"], "display_name")[..1]))
            .collect();
        // The Berger table of four, its last two rounds exchanged, then with sides reversed.
        assert_eq!(names, ["AD", "BC", "BD", "CA", "DC", "AB", "DA", "CB", "CD", "BA", "DB", "AC"]);
        let teams = teams.try_into().expect("four teams");
        Self { api, cast, night, pairs, teams, members, substitute, events, fixtures }
    }

    /// Hands in cards of an event: team, player, strokes over par from the first hole on.
    async fn cards(&self, event: usize, cards: &[(usize, usize, &[i8])]) {
        for (team, player, over) in cards {
            let card = nine(&self.members[*team][*player], over);
            self.api.hand_in(&self.events[event], &self.cast.olga, &card).await;
        }
    }

    async fn decide(&self, fixture: &str, change: Value) {
        let path = format!("/fixtures/{fixture}");
        self.api.patch(path, &change).by(&self.cast.olga).matching("*").expect(200).await;
    }

    /// Points and state of a fixture, and how its matches ended.
    async fn fixture(&self, id: &str) -> String {
        let seen = self.api.get(format!("/fixtures/{id}")).by(&self.cast.ben).expect(200).await.json();
        let results: Vec<String> =
            seen["matches"].as_array().expect("matches").iter().map(|one| text(one, "result")).collect();
        format!("{} {}:{} {}", text(&seen, "state"), seen["points"]["a"], seen["points"]["b"], results.join(", "))
    }
}

const PAR: &[i8] = &[];
/// One over on hole 1, which it loses.
const LOSES: &[i8] = &[1];
/// One over on holes 1 and 2: net par on both for A’s first player.
const NET_PAR: &[i8] = &[1, 1];

/// ```text
/// round 1  A 2.5 : 2.5 D   all tied net; totals 72 and 72: half each
///          B 4 : 1 C       B’s first wins 1 up (2), the others tie (1 each), totals 72 and 73 (1)
/// round 2  B 1 : 4 D       B’s second loses, B’s substitute ties; totals 73 and 72
///          C 3.5 : 1.5 A   one tied; A’s first is absent: walk-over, 2 and half of the total
/// round 3  D 4 : 1 C       one tied, one won; totals 72 and 73
///          A – B           postponed, played on 10 January: 2.5 : 2.5
/// round 4  D withdraws from 7 January, results stand: walk-overs of 2 · 2 + 0.5 : 0.5 in rounds 4, 5 and 6
///          C 2.5 : 2.5 B
/// round 5  B 1 : 4 A       A’s second, who plays first, wins; the others tie; totals 73 and 72
/// round 6  A 2.5 : 2.5 C
///
/// A 2.5 + 1.5 + 2.5 + 4.5 + 4 + 2.5 = 17.5     won 2, tied 3, lost 1
/// B 4 + 1 + 2.5 + 2.5 + 1 + 4.5 = 15.5         won 2, tied 2, lost 2
/// C 1 + 3.5 + 1 + 2.5 + 4.5 + 2.5 = 15         won 2, tied 2, lost 2
/// D 2.5 + 4 + 4 + 3 · 0.5 = 12                 won 2, tied 1, lost 3
/// together 60 = 12 fixtures of 5 points; a side's points against are 30 less its own
/// ```
#[tokio::test]
async fn four_teams_play_a_double_round_robin() {
    let four = Four::draw().await;
    let Four { api, cast, night, pairs, teams, members, substitute, events, fixtures } = &four;
    let (a, b, c, d) = (0, 1, 2, 3);
    assert_eq!(four.fixture(&fixtures[0][0]).await, "planned 0:0 in progress, in progress");
    // What the entry sheets say before the first card: A’s first plays second, as line-ups go by handicap, and is given two
    // strokes by a Dipper who is off 0.
    for (member, received, opponent) in [
        (&members[a][0], json!([1, 1, 0, 0, 0, 0, 0, 0, 0]), "Dippers two"),
        (&members[d][0], json!(vec![0; 9]), "Auks two"),
    ] {
        let path = format!("/events/{}/entry-sheet?member_id={member}", events[0]);
        let sheet = api.get(&path).by(&cast.olga).expect(200).await.json();
        let of_pairs = |strokes: &&Value| strokes["competition_id"] == json!(pairs);
        let strokes = sheet["strokes"].as_array().expect("competitions").iter().find(of_pairs).expect("its strokes");
        let due = json!([{ "fixture_id": fixtures[0][0], "opponents": [opponent], "received": received }]);
        assert_eq!(strokes["matches"], due);
    }
    four.cards(0, &[(a, 0, NET_PAR), (a, 1, PAR), (d, 0, PAR), (d, 1, PAR)]).await;
    four.cards(0, &[(b, 0, PAR), (b, 1, PAR), (c, 0, LOSES), (c, 1, PAR)]).await;
    assert_eq!(four.fixture(&fixtures[0][0]).await, "played 2.5:2.5 tied, tied");
    assert_eq!(four.fixture(&fixtures[0][1]).await, "played 4:1 1 up, tied");

    let path = format!("/events/{}/line-ups/{}", events[1], teams[b]);
    let named = json!({ "order": "as_named", "players": [
        { "member_id": members[b][1] }, { "member_id": substitute, "substitute_for": members[b][0] },
    ] });
    api.put(&path, &named).by(&cast.sam).matching("*").expect(200).await;
    four.cards(1, &[(b, 1, LOSES), (d, 0, PAR), (d, 1, PAR), (c, 0, PAR), (c, 1, PAR), (a, 1, PAR)]).await;
    assert_eq!(four.fixture(&fixtures[1][0]).await, "in_play 0:2 1 up, in progress");
    api.hand_in(&events[1], &cast.olga, &nine(substitute, PAR)).await;
    assert_eq!(four.fixture(&fixtures[1][0]).await, "played 1:4 1 up, tied");
    // Who has no card is expected until the event is final, then absent.
    assert_eq!(four.fixture(&fixtures[1][1]).await, "in_play 1:1 tied, in progress");
    api.settle(&events[1], &cast.olga).await;
    assert_eq!(four.fixture(&fixtures[1][1]).await, "played 3.5:1.5 tied, walk-over");
    let absent = api.get(format!("/fixtures/{}", fixtures[1][1])).by(&cast.ben).expect(200).await.json();
    assert_eq!(absent["matches"][1]["b"][0]["presence"], "absent");
    assert_eq!(absent["matches"][1]["b"][0]["member_id"], json!(members[a][0]));

    four.cards(2, &[(d, 0, PAR), (d, 1, PAR), (c, 0, PAR), (c, 1, LOSES)]).await;
    assert_eq!(four.fixture(&fixtures[2][0]).await, "played 4:1 tied, 1 up");
    four.decide(&fixtures[2][1], json!({ "state": "postponed", "reason": "no power" })).await;
    assert_eq!(four.fixture(&fixtures[2][1]).await, "postponed null:null ");
    let gone = json!({ "withdrawn": { "from": "2027-01-07", "results": "stand" } });
    api.patch(format!("/teams/{}", teams[d]), &gone).by(&cast.olga).matching("*").expect(200).await;
    assert_eq!(four.fixture(&fixtures[3][0]).await, "walk_over 0.5:4.5 ");
    four.cards(3, &[(b, 0, PAR), (b, 1, PAR), (c, 0, PAR), (c, 1, PAR)]).await;
    four.cards(4, &[(b, 0, LOSES), (b, 1, PAR), (a, 0, NET_PAR), (a, 1, PAR)]).await;
    assert_eq!(four.fixture(&fixtures[4][1]).await, "played 1:4 1 up, tied");
    four.cards(5, &[(a, 0, NET_PAR), (a, 1, PAR), (c, 0, PAR), (c, 1, PAR)]).await;
    four.decide(&fixtures[2][1], json!({ "state": null, "event_id": events[6] })).await;
    four.cards(6, &[(a, 0, NET_PAR), (a, 1, PAR), (b, 0, PAR), (b, 1, PAR)]).await;
    assert_eq!(four.fixture(&fixtures[2][1]).await, "played 2.5:2.5 tied, tied");

    let row = |name: &str, position: u32, total: f64, fixtures: &str| {
        let number = |x: f64| if x.fract() == 0.0 { json!(x as i64) } else { json!(x) };
        (name.to_owned(), json!(position), number(total), fixtures.to_owned(), number(total), number(30.0 - total))
    };
    let due = [
        row("Auks", 1, 17.5, "6 2-3-1"),
        row("Boobies", 2, 15.5, "6 2-2-2"),
        row("Cranes", 3, 15.0, "6 2-2-2"),
        row("Dippers", 4, 12.0, "6 2-1-3"),
    ];
    assert_eq!(rows(api, cast, pairs).await, due);

    // With half a point more C is level with B; B has 4 + 2.5 of the fixtures between them, C 1 + 2.5.
    let path = format!("/competitions/{pairs}/adjustments");
    let half = json!({ "team_id": teams[c], "points": 0.5, "reason": "a bay that failed" });
    let half = api.post(&path, &half).by(&cast.olga).key(&id()).expect(201).await.id();
    let seen = rows(api, cast, pairs).await;
    let places: Vec<(&str, &Value, &Value)> = seen.iter().map(|row| (row.0.as_str(), &row.1, &row.2)).collect();
    assert_eq!(places[1..3], [("Boobies", &json!(2), &json!(15.5)), ("Cranes", &json!(3), &json!(15.5))]);
    api.delete(format!("/adjustments/{half}")).by(&cast.olga).matching("*").expect(204).await;

    // Looking back to the second night: A 4, B 5, C 4.5, D 6.5.
    let back = format!("/competitions/{pairs}/standings?after_event={}", events[1]);
    let table = api.get(&back).by(&cast.ben).expect(200).await.json();
    let totals: Vec<(String, &Value)> =
        table["items"].as_array().expect("rows").iter().map(|row| (text(row, "display_name"), &row["total"])).collect();
    let due = [("Dippers", json!(6.5)), ("Boobies", json!(5)), ("Cranes", json!(4.5)), ("Auks", json!(4))];
    assert_eq!(totals, due.each_ref().map(|(name, total)| ((*name).to_owned(), total)));

    let csv = api.get(format!("/competitions/{pairs}/standings")).by(&cast.ben).with("accept", "text/csv");
    let csv = csv.expect(200).await.text();
    let lines: Vec<&str> = csv.lines().collect();
    assert!(
        lines[0]
            .starts_with("position,tied,member_id,team_id,display_name,events_played,events_counted,total,fixtures_")
    );
    assert!(lines[1].starts_with(&format!("1,false,,{},Auks,6,6,17.5,6,2,3,1,17.5,12.5,", teams[a])), "{csv}");

    // The board shows a row a fixture; the season's own table and board still rank cards.
    let board =
        api.get(format!("/events/{}/board?competition={pairs}", events[1])).by(&cast.ben).expect(200).await.json();
    let board_rows = board["items"].as_array().expect("rows");
    assert_eq!(board_rows.len(), 2);
    assert!(board_rows.iter().any(|row| row["points"] == json!({ "a": 1, "b": 4 })), "{board}");
    assert_eq!((&board["cards_in"], &board["still_out"]), (&json!(7), &json!(0)));
    let main = api.get(format!("/seasons/{}/standings", night.season)).by(&cast.ben).expect(200).await.json();
    assert_eq!(main["competition_id"], json!(night.competition));
    let own_board = api.get(format!("/events/{}/board", events[1])).by(&cast.ben).expect(200).await.json();
    assert_eq!(own_board["items"].as_array().map(Vec::len), Some(7));

    // The same league elsewhere has the same table, and the report is the server's.
    crate::stored::journal_bundle::clean(api).await;
    let whole = crate::stored::journal_bundle::bundle(api, &night.league, &cast.olga).await;
    let other = own();
    let code = crate::stored::journal_bundle::import(&other.server.app.leagues, &whole).await;
    let mover = other.person("Olga").await;
    other.call("POST", &format!("/invitations/{code}/acceptance")).by(&mover).expect(201).await;
    let path = format!("/competitions/{pairs}/standings");
    let here = api.get(&path).by(&cast.olga).expect(200).await.json();
    assert_eq!(other.get(&path).by(&mover).expect(200).await.json(), here);
    crate::stored::journal_bundle::clean(&other).await;
    let report = report(&whole, &night.season);
    let reported = report["competitions"].as_array().expect("competitions");
    let reported = reported.iter().find(|one| one["id"] == json!(pairs)).expect("the pairs");
    assert_eq!(reported["standings"], here["items"]);
    assert_eq!(reported["fixtures"].as_array().map(Vec::len), Some(12));

    // Void: no table counts a fixture of D, finals too. A 17.5 − 2.5 − 4.5, B 15.5 − 1 − 4.5, C 15 − 1 − 4.5.
    let void = json!({ "withdrawn": { "from": "2027-01-07", "results": "void" } });
    api.patch(format!("/teams/{}", teams[d]), &void).by(&cast.olga).matching("*").expect(200).await;
    let seen = rows(api, cast, pairs).await;
    let totals: Vec<(&Value, &Value)> = seen.iter().map(|row| (&row.1, &row.2)).collect();
    let none = &Value::Null;
    assert_eq!(totals, [(&json!(1), &json!(10.5)), (&json!(2), &json!(10)), (&json!(3), &json!(9.5)), (none, none)]);
}

/// Ann and Ben meet over nine holes, both off 0; a hole is worth 1, the match 4.
/// ```text
/// Ann concedes hole 1 before a card is in: 0 : 1
/// Ann wins hole 2 by a stroke, the other seven are tied, hole 1 stays conceded: 1 + 3.5 : 1 + 3.5, the match is tied, 2 : 2
/// Ben concedes the match: its 4 are Ann’s, the holes stay as they are
/// ```
#[tokio::test]
async fn what_is_conceded_is_lost_whatever_was_scored() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let event = nine_holes(&api, &cast, &night, 14).await;
    let meeting = json!({ "kind": "match", "points": { "per_hole": 1, "per_match": 4 } });
    let single = competition(&api, &cast, &night, json!({ "name": "Ladder", "meeting": meeting })).await;
    let path = format!("/competitions/{single}/fixtures");
    let sides = json!([{ "event_id": event, "a": { "member_id": night.ann }, "b": { "member_id": night.ben } }]);
    let made = api.post(&path, &sides).by(&cast.olga).key(&id()).expect(201).await.json();
    let at = format!("/fixtures/{}", text(&made["items"][0], "fixture_id"));
    let concede = |body: Value| api.post(format!("{at}/concessions"), &body).key(&id());
    let points = async || {
        let seen = api.get(&at).by(&cast.ben).expect(200).await.json();
        format!(
            "{} {}:{} {}",
            text(&seen, "state"),
            seen["points"]["a"],
            seen["points"]["b"],
            seen["matches"][0]["result"]
        )
    };

    concede(json!({ "hole": 1, "by": "a" })).by(&cast.ben).refused(403, "forbidden").await;
    concede(json!({ "hole": 1, "by": "a" })).by(&cast.otto).refused(404, "not-found").await;
    concede(json!({ "hole": 10, "by": "a" })).by(&cast.ann).refused(422, "hole-not-on-card").await;
    concede(json!({ "match": 2, "by": "a" })).by(&cast.ann).refused(403, "forbidden").await;
    concede(json!({ "match": 2, "by": "a" })).by(&cast.olga).refused(422, "fixture").await;
    concede(json!({ "hole": 1, "by": "a" })).by(&cast.ann).expect(201).await;
    concede(json!({ "hole": 1, "by": "b" })).by(&cast.ben).refused(422, "repeated-id").await;
    assert_eq!(points().await, "planned 0:1 \"in progress\"");
    // Cards in play are seen as far as both have come.
    let so_far = |strokes: u8| json!({ "holes": [{ "number": 2, "strokes": strokes }] });
    let path = format!("/events/{event}/progress");
    api.put(&path, &so_far(4)).by(&cast.ann).matching("*").expect(200).await;
    api.put(&path, &so_far(5)).by(&cast.ben).matching("*").expect(200).await;
    assert_eq!(points().await, "in_play 1:1 \"in progress\"");
    api.hand_in(&event, &cast.ann, &nine(&night.ann, &[0, -1])).await;
    api.hand_in(&event, &cast.ben, &nine(&night.ben, PAR)).await;
    assert_eq!(points().await, "played 6.5:6.5 \"tied\"");
    let match_ = concede(json!({ "by": "b" })).by(&cast.sam).expect(201).await.id();
    assert_eq!(points().await, "played 8.5:4.5 \"conceded\"");
    api.delete(format!("/concessions/{match_}")).by(&cast.ben).matching("*").refused(403, "forbidden").await;
    api.delete(format!("/concessions/{match_}")).by(&cast.sam).matching("*").expect(204).await;
    assert_eq!(points().await, "played 6.5:6.5 \"tied\"");
    // A card that a ruling leaves out is disqualified: the other side has every hole and the match.
    let rounds = api.get(format!("/events/{event}/rounds")).by(&cast.olga).expect(200).await.json();
    let of_ben =
        rounds["items"].as_array().expect("rounds").iter().find(|round| round["member_id"] == json!(night.ben));
    let path = format!("/rounds/{}/rulings", text(of_ben.expect("a round"), "id"));
    let out = json!({ "decision": "exclude_round", "reason": "the wrong tee" });
    api.post(path, &out).by(&cast.olga).key(&id()).expect(201).await;
    assert_eq!(points().await, "played 13:0 \"disqualified\"");
}

#[tokio::test]
async fn terms_of_matches_that_mean_nothing_are_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let path = format!("/seasons/{}/competitions", night.season);
    let match_ = |more: Value| merged(json!({ "kind": "match" }), &more);
    let cases = [
        (json!({ "meeting": match_(json!({})), "score": { "kind": "points" } }), "competition-misfit", "/score"),
        (json!({ "meeting": match_(json!({})), "award": { "kind": "by_score" } }), "competition-misfit", "/award"),
        (json!({ "meeting": match_(json!({})), "ties": ["firsts"] }), "competition-misfit", "/ties/0"),
        (json!({ "ties": ["head_to_head"] }), "competition-misfit", "/ties/0"),
        (json!({ "meeting": match_(json!({})), "teams": [] }), "competition-misfit", "/teams"),
        (json!({ "absent": { "kind": "opponent_to_par" } }), "competition-misfit", "/absent"),
        (json!({ "meeting": match_(json!({ "matches": 2 })), "teams": [night.ann] }), "unknown-team", "/teams/0"),
        (json!({ "meeting": match_(json!({ "matches": 17 })) }), "validation", "/meeting/matches"),
        (json!({ "meeting": match_(json!({ "points": {} })) }), "fixture", "/meeting/points"),
        (json!({ "meeting": match_(json!({ "result": [1, 2, 0] })) }), "award-order", "/meeting/result"),
        (json!({ "meeting": match_(json!({ "matches": 2, "tied": "extra_holes" })) }), "fixture", "/meeting/tied"),
    ];
    for (terms, kind, pointer) in cases {
        let body = merged(json!({ "name": "X" }), &terms);
        let seen = api.post(&path, &body).by(&cast.olga).key(&id()).refused(422, kind).await;
        let pointers: Vec<String> = seen.faults().into_iter().map(|(pointer, _)| pointer).collect();
        assert_eq!(pointers, [pointer], "{terms}");
    }
    let single = competition(&api, &cast, &night, json!({ "name": "Single", "meeting": match_(json!({})) })).await;
    let seen = api.get(format!("/competitions/{single}")).by(&cast.ann).expect(200).await.json();
    assert_eq!((&seen["award"]["kind"], &seen["ties"]), (&json!("by_points"), &json!(["head_to_head", "won"])));
    // Rules of Handicapping, Appendix C: singles match play 100 per cent.
    assert_eq!(seen["computed"]["allowance_pct"], 100);
    let terms = api.get(format!("/competitions/{single}/terms")).by(&cast.ann).expect(200).await.text();
    assert!(terms.contains("1 for each match won"), "{terms}");
    // A season keeps a competition that ranks cards, which its own table shows.
    let main = format!("/competitions/{}", night.competition);
    api.delete(&main).by(&cast.olga).matching("*").refused(409, "last-competition").await;
    let only = json!({ "name": "S", "starts_on": "2027-01-01", "ends_on": "2027-02-01",
                       "competitions": [{ "name": "Single", "meeting": { "kind": "match" } }] });
    let seasons = format!("/leagues/{}/seasons", night.league);
    api.post(seasons, &only).by(&cast.olga).key(&id()).refused(422, "last-competition").await;
}

#[tokio::test]
async fn teams_line_ups_and_fixtures_that_do_not_fit_are_refused() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let event = nine_holes(&api, &cast, &night, 14).await;
    let later = json!({ "opens_at": "2027-01-15T17:00:00Z", "closes_at": "2027-01-15T22:00:00Z" });
    let later = api.event(&cast, &night, later).await;
    let guest = member(&api, &cast, &night, "Gwen", None).await;
    let herons = team(&api, &cast, &night, "Herons", &[&night.ann, &night.olga]).await;
    let plovers = team(&api, &cast, &night, "Plovers", &[&night.ben, &night.sam]).await;
    let terms = merged(pairs(), &json!({ "substitutes": { "allowed": true, "most": 1 } }));
    let pairs = competition(&api, &cast, &night, terms).await;
    let of = |seen: crate::support::harness::Seen| seen.faults()[0].0.clone();

    // A team: one a day, one of a name, members of the league.
    let path = format!("/seasons/{}/teams", night.season);
    let olga = &cast.olga;
    let new =
        async |body: Value, status, kind| of(api.post(&path, &body).by(olga).key(&id()).refused(status, kind).await);
    let again = json!({ "name": "Third", "members": [{ "member_id": guest }, { "member_id": night.ben }] });
    assert_eq!(new(again, 422, "second-team").await, "/members/1");
    assert_eq!(new(json!({ "name": "Herons" }), 422, "name-taken").await, "/name");
    let stranger = json!({ "name": "Third", "members": [{ "member_id": night.event }] });
    assert_eq!(new(stranger, 422, "unknown-member").await, "/members/0/member_id");
    let left =
        json!({ "name": "Third", "members": [{ "member_id": guest, "from": "2027-01-09", "until": "2027-01-08" }] });
    assert_eq!(new(left, 422, "date-order").await, "/members/0/until");
    assert_eq!(new(json!({ "name": "Third", "captain": guest }), 422, "not-in-team").await, "/captain");

    // A line-up: each player once, of the team or in a member’s place, of one team a night.
    let at = |event: &str, team: &str| format!("/events/{event}/line-ups/{team}");
    let put = async |event: &str, team: &str, players: Value, status, kind| {
        let body = json!({ "players": players });
        of(api.put(at(event, team), &body).by(&cast.sam).matching("*").refused(status, kind).await)
    };
    let twice = json!([{ "member_id": night.ann }, { "member_id": night.ann }]);
    assert_eq!(put(&event, &herons, twice, 422, "repeated-id").await, "/players/1/member_id");
    let other = json!([{ "member_id": night.ben }]);
    assert_eq!(put(&event, &herons, other, 422, "not-in-team").await, "/players/0/member_id");
    let in_place = |of: &str| json!({ "players": [{ "member_id": guest, "substitute_for": of }] });
    api.put(at(&event, &herons), &in_place(&night.ann)).by(&cast.sam).matching("*").expect(200).await;
    api.put(at(&event, &herons), &in_place(&night.olga)).by(&cast.sam).matching("\"7\"").refused(412, "stale").await;
    let players = in_place(&night.ben)["players"].clone();
    assert_eq!(put(&event, &plovers, players.clone(), 422, "second-team").await, "/players/0/member_id");
    assert_eq!(put(&later, &plovers, players, 422, "substitute").await, "/players/0/substitute_for");
    // The team’s players name it until the event opens; others do not.
    let own = json!({ "players": [{ "member_id": night.ann }] });
    api.put(at(&later, &herons), &own).by(&cast.ann).matching("*").expect(200).await;
    api.put(at(&event, &herons), &own).by(&cast.ann).matching("*").refused(403, "forbidden").await;
    api.put(at(&later, &herons), &own).by(&cast.ben).matching("*").refused(403, "forbidden").await;
    api.delete(at(&later, &herons)).by(&cast.ann).matching("*").expect(204).await;
    api.get(at(&later, &herons)).by(&cast.ann).refused(404, "not-found").await;

    // A fixture: two sides that compete here, in an event of the season.
    let path = format!("/competitions/{pairs}/fixtures");
    let (a, b) = (json!({ "team_id": herons }), json!({ "team_id": plovers }));
    let cases = [
        (json!({ "event_id": event, "a": a, "b": a }), "fixture", "/0/b"),
        (json!({ "event_id": event, "a": null, "b": null }), "fixture", "/0/b"),
        (json!({ "event_id": event, "a": a, "b": { "member_id": night.ben } }), "fixture", "/0/b/member_id"),
        (json!({ "event_id": event, "a": a, "b": { "team_id": night.ben } }), "unknown-team", "/0/b/team_id"),
        (json!({ "event_id": night.season, "a": a, "b": b }), "unknown-event", "/0/event_id"),
        (json!({ "event_id": event, "a": a, "b": b, "state": "walk_over", "to": "a" }), "reason-missing", "/0/reason"),
        (json!({ "event_id": event, "a": a }), "validation", "/0/b"),
        (json!({ "event_id": event, "a": a, "b": {} }), "validation", "/0/b/member_id"),
    ];
    for (body, kind, pointer) in cases {
        let seen = api.post(&path, &json!([body])).by(olga).key(&id()).refused(422, kind).await;
        assert_eq!(of(seen), pointer, "{body}");
    }
    let two = json!({ "round_robin": { "events": [event, later] } });
    assert_eq!(of(api.post(&path, &two).by(olga).key(&id()).refused(422, "fixture").await), "/round_robin/events");
    let cards = format!("/competitions/{}/fixtures", night.competition);
    let body = json!([{ "event_id": event, "a": a, "b": b }]);
    api.post(cards, &body).by(olga).key(&id()).refused(422, "fixture").await;
    let made = api.post(&path, &body).by(olga).key(&id()).expect(201).await.json();
    let fixture = format!("/fixtures/{}", text(&made["items"][0], "fixture_id"));
    let bye = json!([{ "event_id": later, "a": a, "b": null }]);
    api.post(&path, &bye).by(olga).key(&id()).expect(201).await;
    // A scorer adds extra holes and nothing else.
    api.patch(&fixture, &json!({ "bay": "3" })).by(&cast.sam).matching("*").refused(403, "forbidden").await;
    api.patch(&fixture, &json!({ "extra": [[4, 5]] })).by(&cast.sam).matching("*").expect(200).await;

    // What is named stays.
    api.delete(format!("/teams/{herons}")).by(olga).matching("*").refused(409, "has-fixtures").await;
    api.delete(format!("/events/{later}")).by(olga).matching("*").refused(409, "has-fixtures").await;
    api.delete(format!("/competitions/{pairs}")).by(olga).matching("*").refused(409, "has-fixtures").await;
    let singles = json!({ "meeting": { "matches": 1 } });
    api.patch(format!("/competitions/{pairs}"), &singles).by(olga).matching("*").refused(409, "has-fixtures").await;
    let points = json!({ "member_id": night.ann, "points": 1, "reason": "x" });
    api.post(format!("/competitions/{pairs}/adjustments"), &points).by(olga).key(&id()).refused(422, "fixture").await;

    // Once the event is final, who was in a team on its day stands, and so does what was said of its fixtures.
    api.hand_in(&event, &cast.ben, &nine(&night.ben, PAR)).await;
    api.settle(&event, olga).await;
    let fewer = json!({ "members": [{ "member_id": night.ben }] });
    api.patch(format!("/teams/{plovers}"), &fewer).by(olga).matching("*").refused(409, "team-settled").await;
    let leaves = json!({ "members": [{ "member_id": night.ben }, { "member_id": night.sam, "until": "2027-01-14" }] });
    api.patch(format!("/teams/{plovers}"), &leaves).by(olga).matching("*").expect(200).await;
    api.put(at(&event, &plovers), &json!({ "players": [{ "member_id": night.ben }] }))
        .by(olga)
        .matching("*")
        .refused(409, "event-final")
        .await;
    api.patch(&fixture, &json!({ "bay": "3" })).by(olga).matching("*").refused(409, "event-final").await;
    api.delete(&fixture).by(olga).matching("*").refused(409, "event-final").await;
    let hole = json!({ "hole": 1, "by": "b" });
    api.post(format!("{fixture}/concessions"), &hole).by(&cast.ben).key(&id()).refused(409, "event-final").await;
    let gross = json!({ "basis": "gross" });
    api.patch(format!("/competitions/{pairs}"), &gross).by(olga).matching("*").refused(409, "terms-settled").await;
}

/// What goes leaves no difference behind: `verify` is told of each removal.
#[tokio::test]
async fn what_is_removed_is_told_to_the_journal() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &crate::support::harness::round(&night.ann)).await;
    let event = nine_holes(&api, &cast, &night, 14).await;
    let [pairs, herons, _, fixture, _, adjustment] = a_team_match(&api, &cast, &night, &event).await;
    crate::stored::journal_bundle::clean(&api).await;
    let gone = [
        format!("/adjustments/{adjustment}"),
        format!("/fixtures/{fixture}"),
        format!("/events/{event}/line-ups/{herons}"),
        format!("/teams/{herons}"),
        format!("/competitions/{pairs}"),
    ];
    for path in gone {
        api.delete(&path).by(&cast.olga).matching("*").expect(204).await;
    }
    crate::stored::journal_bundle::clean(&api).await;
}

/// What the report says of a season.
pub fn report(bundle: &str, season: &str) -> Value {
    use evenfield::domain::season::overview::{Asked, overview};
    use evenfield::wire::bundle::{assemble::Assembler, line::Line};
    let mut assembler = Assembler::default();
    for text in bundle.lines() {
        assembler.add(Line::read(text.as_bytes()).expect("a line")).expect("it fits");
    }
    let Assembler { book, mut entries, putts, facts, .. } = assembler;
    let season = evenfield::domain::ids::SeasonId(season.parse().expect("an id"));
    serde_json::to_value(overview(&book, &mut entries, &putts, &facts, Asked::now(season))).expect("a report")
}
