//! The story of one season: a league of twelve comes in from a roster, plays eight nights, argues, and reaches its final
//! standings. Every figure is worked by hand in the comments beside it.
//!
//! # The ground
//! White: par 72, rating 72.0, slope 113; front nine rated 36.3, back nine 35.7, par 36 each. Yellow: hole 17 is a par 4,
//! so par 71; rating 70.0, slope 113. With slope 113, for a card of k strokes over par (Rules of Handicapping, Rule 5.1):
//!
//! ```text
//! White        differential = 72 + k − 72.0 = k          Yellow   71 + k − 70.0 = k + 1
//! front nine   36 + k − 36.3 = k − 0.3                   back     36 + k − 35.7 = k + 0.3
//! a pair       k(front) + k(back): the tenths cancel     fifth night: 1 less, its playing conditions are +1
//! ```
//!
//! # Strokes
//! Net, allowance 80 % of the unrounded course strokes, rounded once, halves up (Rules of Handicapping, Rules 6.1, 6.2):
//!
//! ```text
//! White    index · 0.8               Yellow: (index − 1.0) · 0.8, as rating − par = 70.0 − 71
//! front    (half + 0.3) · 0.8        back: (half − 0.3) · 0.8;   half = index / 2, to a tenth
//! ```
//! On nights with both tees White's players get one more, par 72 less par 71 (USGA FAQ on different tees). So on each
//! night every net total is the night's lowest par + k − h, h being the strokes without that one.
//!
//! # Whose index stands still
//! Who brings along seven differentials of d and plays none below d keeps the index d. From 7 to 14 differentials the
//! lowest 2 to 4 count, without adjustment (Rules of Handicapping, Rule 5.2a), and those are ds. No more than 14 come
//! together: seven, six nights of 18 holes and a pair.
//!
//! ```text
//! Low    d = index   h White  front               back                High   d      White  Yellow       front  back
//! Ada     5.0        4        2.8 · 0.8 → 2       2.2 · 0.8 → 2       Greta  15.0   12     11.2 → 11    6      6
//! Ben    10.0        8        5.3 · 0.8 → 4       4.7 · 0.8 → 4       Ida    17.5   14     13.2 → 13    7      7
//! Cleo    7.5        6        (3.8 + 0.3) → 3     (3.8 − 0.3) → 3     Jon    25.0   20
//! Dov     2.5        2
//! Edda   12.0        9.6 → 10; Yellow 11.0 · 0.8 → 9; front 6.3 · 0.8 → 5, back 5.7 · 0.8 → 5
//! ```
//! (Greta: 7.8 · 0.8 = 6.24, 7.2 · 0.8 = 5.76. Ida: 9.1 · 0.8 = 7.28, 8.5 · 0.8 = 6.8, as half of 17.5 is 8.75 → 8.8.)
//! Finn, Hugo, Kaya and Levi move; their indexes are worked night by night.
//!
//! # Values
//! Places within the flight: 12, 9, 7, 5, 3, 1. Level players: countback by exact shares over the last 9, 6, 3, 1
//! holes, over nine holes the last 6, 3, 1 (hazelmeremensclub.org "Deciding Ties"; juniorgolfscotland.co.uk); still level,
//! they share what the places that they cover are worth (pcga.ca/point-system). The best five count, from four played;
//! where equal ones compete the earlier drops, and more first places decide between level totals (common practice, no
//! source).

use crate::support::harness::{Api, Person, event, id, merged, own, par, season, text};
use serde_json::{Value, json};
use std::collections::HashMap;

const DAYS: [&str; 8] =
    ["2027-01-14", "2027-01-21", "2027-01-28", "2027-02-04", "2027-02-11", "2027-02-18", "2027-02-25", "2027-03-04"];

/// The roster. Finn's and Levi's figures are starting ones. Levi is put into High, although 11.0 would make him Low.
const ROSTER: &str = "\
display_name,flight,starting_handicap
Ada,,
Ben,,
Cleo,,
Dov,,
Edda,,
Finn,,9.0
Greta,,
Hugo,,
Ida,,
Jon,,
Kaya,,
Levi,High,11.0
";

/// Differentials brought along: how many of which. Kaya's three of 22.0 make an index of 22.0 − 2.0 = 20.0 (Rules of
/// Handicapping, Rule 5.2a: of three the lowest, less 2.0).
const CARRIED: [(&str, u32, f64); 10] = [
    ("Ada", 7, 5.0),
    ("Ben", 7, 10.0),
    ("Cleo", 7, 7.5),
    ("Dov", 7, 2.5),
    ("Edda", 7, 12.0),
    ("Greta", 7, 15.0),
    ("Hugo", 7, 20.0),
    ("Ida", 7, 17.5),
    ("Jon", 7, 25.0),
    ("Kaya", 3, 22.0),
];

/// A row of the table: name, position (0: none), total, every value in order: `*` where it counts, `c` if carried in.
type Ranked = (&'static str, u64, f64, &'static str);

#[derive(Clone, Copy, PartialEq)]
enum Tee {
    White,
    Yellow,
}

/// The strokes of a card from hole `first` on: one over par on a hole after the other, around again until `over` is used
/// up. So the first holes carry the most.
fn strokes(tee: Tee, first: usize, count: usize, over: u32) -> Vec<(usize, u32)> {
    let pars = (first..first + count).map(|n| (n, u32::from(par(n)) - u32::from(tee == Tee::Yellow && n == 17)));
    let share = |n: usize| (over + (count - 1 - (n - first)) as u32) / count as u32;
    pars.map(|(n, par)| (n, par + share(n))).collect()
}

fn card(member: &str, night: usize, holes: &[(usize, u32)]) -> Value {
    let hole = |(n, strokes): &(usize, u32)| json!({ "number": n, "strokes": strokes });
    json!({ "client_round_id": id(), "member_id": member, "played_on": DAYS[night - 1],
            "holes": holes.iter().map(hole).collect::<Vec<_>>() })
}

struct Story {
    api: Api,
    people: HashMap<&'static str, Person>,
    league: String,
    season: String,
    members: HashMap<String, String>,
    /// The events, in order.
    nights: Vec<String>,
    /// What was handed in last for a night and a name.
    rounds: HashMap<(usize, String), String>,
}

impl Story {
    /// A league, its roster, its course, its season and eight nights; what it brings along.
    async fn begin() -> Self {
        let api = own();
        let names = ["Olga", "Ada", "Ben", "Cleo", "Finn"];
        let mut people = HashMap::new();
        for name in names {
            people.insert(name, api.person(name).await);
        }
        let (league, _) = api.found(&people["Olga"]).await;
        let (members, rounds, season) = (HashMap::new(), HashMap::new(), String::new());
        let mut story = Self { api, people, league, season, members, nights: Vec::new(), rounds };
        story.roster().await;
        story.lay_down().await;
        story.bring_along().await;
        // Finn claims his record later; the others never sign in.
        for (name, role) in [("Ada", "player"), ("Ben", "player"), ("Cleo", "scorer")] {
            story.claim(name, role).await;
        }
        story
    }

    /// A first try has two bad lines: both are named and nobody is added.
    async fn roster(&mut self) {
        let path = format!("/leagues/{}/rosters", self.league);
        let send = |csv: String| self.api.call("POST", &path).by(&self.people["Olga"]).key(&id()).raw("text/csv", csv);
        let bad = send(ROSTER.replace("Dov,,", "Dov,,99").replace("Ida,,", ",,")).expect(422).await;
        let pointers: Vec<String> = bad.faults().into_iter().map(|(pointer, _)| pointer).collect();
        assert_eq!(pointers, ["/5/starting_handicap", "/10/display_name"]);
        let added = send(ROSTER.into()).expect(201).await.json();
        for member in added["items"].as_array().expect("items") {
            self.members.insert(text(member, "display_name"), text(member, "id"));
        }
        let path = format!("/leagues/{}/members?limit=200", self.league);
        let listed = self.get(&path).await;
        assert_eq!(listed["items"].as_array().expect("items").len(), 13, "twelve and the organizer");
    }

    async fn lay_down(&mut self) {
        let olga = self.people["Olga"].clone();
        let holes = |tee: Tee| -> Vec<Value> {
            let index = |n: usize| if n <= 9 { 2 * n - 1 } else { 2 * (n - 9) };
            let level = strokes(tee, 1, 18, 0).into_iter();
            level.map(|(n, par)| json!({ "number": n, "par": par, "stroke_index": index(n) })).collect()
        };
        let course = json!({ "name": "Three Sheds", "tees": [
            { "name": "White", "course_rating": 72.0, "slope_rating": 113, "holes": holes(Tee::White), "nines": [
                { "first_hole": 1, "course_rating": 36.3, "slope_rating": 113 },
                { "first_hole": 10, "course_rating": 35.7, "slope_rating": 113 },
            ] },
            { "name": "Yellow", "course_rating": 70.0, "slope_rating": 113, "holes": holes(Tee::Yellow) },
        ] });
        let path = format!("/leagues/{}/courses", self.league);
        let course = self.api.post(path, &course).by(&olga).key(&id()).expect(201).await.json();
        let (white, yellow) = (text(&course["tees"][0], "id"), text(&course["tees"][1], "id"));
        let policy = json!({
            "name": "Winter in the sheds",
            "competitions": [{
                "name": "Net", "allowance_pct": 80, "award": { "kind": "by_place", "table": [12, 9, 7, 5, 3, 1] },
                "counting": { "best": 5, "minimum": 4 }, "ties": ["countback", "firsts", "best_values"],
                "field": { "flights": ["Low", "High"] },
            }],
            "flights": [{ "name": "Low", "handicap_max": 12.0 }, { "name": "High", "handicap_max": null }],
        });
        let path = format!("/leagues/{}/seasons", self.league);
        self.season = self.api.post(path, &merged(season(), &policy)).by(&olga).key(&id()).expect(201).await.id();
        for (n, day) in DAYS.iter().enumerate() {
            let times = json!({ "name": format!("Night {}", n + 1), "opens_at": format!("{day}T17:00:00Z"),
                                "closes_at": format!("{day}T22:00:00Z") });
            let differs = match n + 1 {
                // High plays from the forward tee, and so does Edda, who is Low.
                3 | 6 => json!({ "tees": [{ "tee_id": yellow, "flight": "High" },
                                          { "tee_id": yellow, "member_id": self.members["Edda"] }] }),
                4 => json!({ "holes": 9, "first_hole": 1 }),
                5 => json!({ "playing_conditions": 1 }),
                7 => json!({ "holes": 9, "first_hole": 10 }),
                _ => json!({}),
            };
            let body = merged(merged(event(&white), &times), &differs);
            let path = format!("/seasons/{}/events", self.season);
            self.nights.push(self.api.post(path, &body).by(&olga).key(&id()).expect(201).await.id());
        }
    }

    async fn bring_along(&self) {
        let olga = &self.people["Olga"];
        for (name, count, differential) in CARRIED {
            for day in 1..=count {
                let body = json!({ "played_on": format!("2026-11-{day:02}"), "differential": differential,
                                   "source": "the league's spreadsheet" });
                let path = format!("/members/{}/carried-differentials", self.members[name]);
                self.api.post(path, &body).by(olga).key(&id()).expect(201).await;
            }
        }
        for (name, value) in [("Cleo", 7), ("Jon", 9)] {
            let body = json!({ "member_id": self.members[name], "label": "December", "value": value,
                               "source": "the league's spreadsheet" });
            let path = format!("/seasons/{}/carried-results", self.season);
            self.api.post(path, &body).by(olga).key(&id()).expect(201).await;
        }
    }

    async fn claim(&self, name: &str, role: &str) {
        let path = format!("/leagues/{}/invitations", self.league);
        let body = json!({ "role": role, "member_id": self.members[name] });
        let code = self.api.post(path, &body).by(&self.people["Olga"]).expect(201).await.json();
        let path = format!("/invitations/{}/acceptance", text(&code, "code"));
        let claimed = self.api.call("POST", &path).by(&self.people[name]).expect(201).await.id();
        assert_eq!(claimed, self.members[name]);
    }

    /// Lets time pass. Tokens last ten minutes, so everybody signs in again.
    async fn pass(&mut self, hours: i64) {
        self.api.server.pass(hours * 3600);
        for person in self.people.values_mut() {
            *person = self.api.sign_in(&person.email).await;
        }
    }

    async fn finish(&self, night: usize) {
        let at = format!("/events/{}", self.nights[night - 1]);
        let body = json!({ "state": "final" });
        self.api.patch(at, &body).by(&self.people["Olga"]).matching("*").expect(200).await;
    }

    async fn get(&self, path: &str) -> Value {
        self.api.get(path).by(&self.people["Olga"]).expect(200).await.json()
    }

    fn usual_card(&self, night: usize, name: &str, over: u32) -> Value {
        let forward = matches!(night, 3 | 6) && ["Edda", "Greta", "Hugo", "Ida", "Jon", "Kaya", "Levi"].contains(&name);
        let (first, count) = match night {
            4 => (1, 9),
            7 => (10, 9),
            _ => (1, 18),
        };
        let tee = if forward { Tee::Yellow } else { Tee::White };
        card(&self.members[name], night, &strokes(tee, first, count, over))
    }

    /// Hands in a card and checks its state.
    async fn hand_in(&mut self, night: usize, by: &str, name: &str, card: &Value, state: &str) -> Value {
        let seen = self.api.hand_in(&self.nights[night - 1], &self.people[by], card).await.json();
        assert_eq!(seen["state"], state, "{name} on night {night}");
        self.rounds.insert((night, name.to_owned()), text(&seen, "id"));
        seen
    }

    /// The scorer hands in the night's cards: names with strokes over par.
    async fn cards(&mut self, night: usize, cards: &[(&str, u32)]) {
        for (name, over) in cards {
            self.hand_in(night, "Cleo", name, &self.usual_card(night, name, *over), "submitted").await;
        }
    }

    fn round(&self, night: usize, name: &str) -> String {
        format!("/rounds/{}", self.rounds[&(night, name.to_owned())])
    }

    /// Checks a night's places in a flight: name, place, net, value; `-` where there is none, `=` before a shared place.
    async fn board(&self, night: usize, flight: &str, due: &str) {
        let seen = self.get(&format!("/events/{}/board", self.nights[night - 1])).await;
        let shown = |value: &Value| if value.is_null() { "-".to_owned() } else { value.to_string() };
        let rows = seen["items"].as_array().expect("rows").iter().filter(|row| row["flight"] == flight);
        let rows = rows.map(|row| {
            let shared = if row["tied"] == true { "=" } else { "" };
            let (name, place) = (text(row, "display_name"), shown(&row["position"]));
            format!("{name} {shared}{place} {} {}", shown(&row["net"]), shown(&row["value"]))
        });
        assert_eq!(rows.collect::<Vec<_>>().join(" | "), due, "night {night}, {flight}");
    }

    /// Checks the season's table of a flight.
    async fn table(&self, query: &str, flight: &str, due: &[Ranked]) {
        let path = format!("/seasons/{}/standings?flight={flight}{query}", self.season);
        let seen = self.get(&path).await;
        let cell = |cell: &Value| {
            let mark = |name: &str, mark: &'static str| if cell[name] == true { mark } else { "" };
            let carried = if cell["carried"] == "December" { "c" } else { "" };
            format!("{carried}{}{}", cell["value"], mark("counted", "*"))
        };
        let rows = seen["items"].as_array().expect("rows").iter();
        let found: Vec<(String, u64, Option<f64>, String)> = rows
            .map(|row| {
                let cells: Vec<String> = row["results"].as_array().expect("results").iter().map(cell).collect();
                let position = row["position"].as_u64().unwrap_or(0);
                (text(row, "display_name"), position, row["total"].as_f64(), cells.join(" "))
            })
            .collect();
        let due: Vec<_> = due
            .iter()
            .map(|(name, position, total, values)| ((*name).to_owned(), *position, Some(*total), (*values).to_owned()))
            .collect();
        assert_eq!(found, due, "{flight}{query}");
    }

    async fn index(&self, name: &str, due: impl Into<Option<f64>>) {
        let seen = self.get(&format!("/members/{}/handicap", self.members[name])).await;
        assert_eq!(seen["league_index"].as_f64(), due.into(), "{name}");
    }

    async fn indexes(&self, due: &[(&str, f64)]) {
        for (name, index) in due {
            self.index(name, *index).await;
        }
    }

    /// Returns what the notices of somebody tell, newest first.
    async fn notices(&self, name: &str) -> Vec<String> {
        let seen = self.api.get("/me/notices").by(&self.people[name]).expect(200).await.json();
        let of_league = |notice: &&Value| !notice["league_id"].is_null();
        seen["items"].as_array().expect("items").iter().filter(of_league).map(|notice| text(notice, "kind")).collect()
    }

    /// Returns the latest change of the table: its act, reason and moves, these by name.
    async fn latest_change(&self) -> (String, Value, Vec<Moved>) {
        let seen = self.get(&format!("/seasons/{}/standings/changes?limit=200", self.season)).await;
        let latest = seen["items"].as_array().expect("items").last().expect("a change").clone();
        (text(&latest, "act"), latest["reason"].clone(), self.moves(&latest["moves"]))
    }

    fn moves(&self, moves: &Value) -> Vec<Moved> {
        let name = |member: &Value| {
            let known = self.members.iter().find(|(_, id)| *member == id.as_str());
            known.expect("a member").0.clone()
        };
        let standing = |at: &Value| (at["position"].as_u64().unwrap_or(0), at["total"].as_f64().unwrap_or(-1.0));
        let moves = moves.as_array().expect("moves").iter();
        let mut moves: Vec<Moved> =
            moves.map(|row| (name(&row["member_id"]), standing(&row["from"]), standing(&row["to"]))).collect();
        moves.sort_by(|a, b| a.0.cmp(&b.0));
        moves
    }
}

/// A position (0: none) with its total.
type Standing = (u64, f64);
/// Who moved, from where to where.
type Moved = (String, Standing, Standing);

fn moved(moves: &[(&str, Standing, Standing)]) -> Vec<Moved> {
    moves.iter().map(|(name, from, to)| ((*name).to_owned(), *from, *to)).collect()
}

#[tokio::test]
async fn a_season_from_its_roster_to_its_final_standings() {
    let mut story = Story::begin().await;
    what_was_brought_along_counts_from_the_first_night(&story).await;
    night_1_with_a_doubt(&mut story).await;
    night_2_with_a_proposed_card_an_unfinished_one_and_an_exceptional_score(&mut story).await;
    night_3_from_two_tees(&mut story).await;
    night_4_over_the_front_nine(&mut story).await;
    night_5_with_a_late_card(&mut story).await;
    a_slip_of_the_third_night_is_found(&mut story).await;
    night_6_with_a_withdrawal_and_a_disqualified_card(&mut story).await;
    night_7_over_the_back_nine(&mut story).await;
    night_8(&mut story).await;
    the_end(&story).await;
    elsewhere_it_is_the_same_league(&story).await;
}

async fn what_was_brought_along_counts_from_the_first_night(story: &Story) {
    for (name, count, differential) in CARRIED {
        story.index(name, if count == 7 { differential } else { 20.0 }).await;
    }
    story.index("Finn", None).await;
    // One played is short of four. Jon's 25.0 is above 12.0.
    story.table("", "Low", &[("Cleo", 0, 7.0, "c7*")]).await;
    story.table("", "High", &[("Jon", 0, 9.0, "c9*")]).await;
}

/// Finn plays off his starting 9.0: 7.2 → 7, Levi off 11.0: 8.8 → 9. Kaya 16.0 → 16, Hugo 16.
///
/// ```text
/// Low   k   h   net         High   k   h   net
/// Ada    5   4  73          Greta  16  12  76
/// Ben   12   8  76          Hugo   22  16  78
/// Cleo   8   6  74          Ida    18  14  76
/// Dov    6   2  76          Jon    25  20  77
/// Edda  13  10  75          Kaya   23  16  79
/// Finn  12   7  77          Levi   17   9  80
/// ```
/// Ben and Dov: bogeys on holes 1–12 and 1–6. Last nine 36 + 3 − 8/2 = 35 and 36 − 2/2 = 35: level. Last six
/// 24 − 8/3 = 21 1/3 and 24 − 2/3 = 23 1/3: Ben. Greta and Ida: bogeys on 1–16 and all: 43 − 6 = 37, 45 − 7 = 38: Greta.
async fn night_1_with_a_doubt(story: &mut Story) {
    let ada = story.usual_card(1, "Ada", 5);
    story.hand_in(1, "Ada", "Ada", &ada, "submitted").await;
    story.cards(1, &[("Ben", 12), ("Cleo", 8), ("Dov", 6), ("Edda", 13), ("Finn", 12)]).await;
    story.cards(1, &[("Greta", 16), ("Hugo", 22), ("Ida", 18), ("Jon", 25), ("Kaya", 23), ("Levi", 17)]).await;
    story.board(1, "Low", "Ada 1 73 12 | Cleo 2 74 9 | Edda 3 75 7 | Ben 4 76 5 | Dov 5 76 3 | Finn 6 77 1").await;
    story.board(1, "High", "Greta 1 76 12 | Ida 2 76 9 | Jon 3 77 7 | Hugo 4 78 5 | Kaya 5 79 3 | Levi 6 80 1").await;
    // Kaya: 22.0 three times, 23.0. Of four the lowest, less 1.0 (Rules of Handicapping, Rule 5.2a).
    story.index("Kaya", 21.0).await;
    story.index("Hugo", 20.0).await;

    let query = json!({ "pointer": "/holes/4/strokes", "text": "I counted six on the fifth" });
    let path = format!("{}/queries", story.round(1, "Ada"));
    let asked = story.api.post(&path, &query).by(&story.people["Ben"]).key(&id()).expect(201).await.id();
    let answer = json!({ "text": "the camera shows five" });
    let answers = format!("/queries/{asked}/answers");
    story.api.post(answers, &answer).by(&story.people["Olga"]).key(&id()).expect(201).await;
    let seen = story.api.get(&path).by(&story.people["Ada"]).expect(200).await.json();
    assert_eq!(seen["items"][0]["answers"][0]["text"], answer["text"]);
    assert_eq!(story.notices("Ada").await, ["answer", "query"]);
    assert_eq!(story.notices("Ben").await, ["answer"]);
    assert_eq!(story.notices("Olga").await, ["query"]);
    // Closed at 22:00; queries have 48 hours.
    let board = format!("/events/{}/board", story.nights[0]);
    assert_eq!(story.get(&board).await["provisional_until"], "2027-01-16T22:00:00Z");
    story.pass(7 * 24).await;
    story.finish(1).await;
    assert_eq!(story.get(&board).await["provisional_until"], Value::Null);
}

/// Kaya plays off 21.0: 16.8 → 17.
///
/// ```text
/// Low   k   h   net          High   k   h   net
/// Ada   10   4  78           Greta  17  12  77
/// Ben   11   8  75           Hugo   12  16  68
/// Cleo  10   6  76           Ida    20  14  78
/// Dov   no return: 0         Jon    27  20  79
/// Edda  12  10  74           Kaya   25  17  80
/// Finn  11   7  76           Levi   18   9  81
/// ```
/// Cleo and Finn: last nine 37 − 6/2 = 34 and 38 − 7/2 = 34.5: Cleo, as shares are exact.
///
/// Ada: bogeys on 1–5 and a nine on the par 4 of hole 18. Her course strokes, 5, fall on stroke indexes 1 to 5, not on
/// hole 18 with its 18: at most 4 + 2 = 6 there (Rules of Handicapping, Rule 3.1). 72 + 5 + 2 = 79: differential 7.0.
async fn night_2_with_a_proposed_card_an_unfinished_one_and_an_exceptional_score(story: &mut Story) {
    let mut holes = strokes(Tee::White, 1, 18, 5);
    holes[17].1 = 9;
    let ada = story.hand_in(2, "Cleo", "Ada", &card(&story.members["Ada"], 2, &holes), "submitted").await;
    let figures = ["gross", "adjusted_gross", "course_handicap", "playing_handicap", "net", "score_differential"];
    let figures: Vec<f64> = figures.iter().map(|name| ada[name].as_f64().expect("a figure")).collect();
    assert_eq!(figures, [82.0, 79.0, 5.0, 4.0, 78.0, 7.0]);

    let mut holes = strokes(Tee::White, 1, 18, 2);
    holes.truncate(12);
    let mut dov = merged(card(&story.members["Dov"], 2, &holes), &json!({ "outcome": "no_return" }));
    let unplayed = (13..=18).map(|n| json!({ "number": n, "not_played": true }));
    dov["holes"].as_array_mut().expect("holes").extend(unplayed);
    let dov = story.hand_in(2, "Cleo", "Dov", &dov, "submitted").await;
    assert_eq!((&dov["net"], &dov["score_differential"]), (&Value::Null, &Value::Null));
    story.cards(2, &[("Cleo", 10), ("Edda", 12), ("Finn", 11)]).await;
    story.cards(2, &[("Greta", 17), ("Hugo", 12), ("Ida", 20), ("Jon", 27), ("Kaya", 25), ("Levi", 18)]).await;

    let ben = story.usual_card(2, "Ben", 11);
    story.hand_in(2, "Ada", "Ben", &ben, "proposed").await;
    // A proposed card counts for nothing: without Ben, Cleo is second, Finn third and Ada fourth.
    let low = [
        ("Ada", 0, 17.0, "12* 5*"),
        ("Ben", 0, 5.0, "5*"),
        ("Cleo", 0, 25.0, "c7* 9* 9*"),
        ("Dov", 0, 3.0, "3* 0*"),
        ("Edda", 0, 19.0, "7* 12*"),
        ("Finn", 0, 8.0, "1* 7*"),
    ];
    story.table("", "Low", &low).await;
    let accept = format!("{}/acceptance", story.round(2, "Ben"));
    story.api.call("POST", &accept).by(&story.people["Ben"]).expect(200).await;
    assert_eq!(story.notices("Ben").await, ["round_proposed", "answer"]);
    assert_eq!(story.notices("Ada").await[0], "round_accepted");
    story.board(2, "Low", "Edda 1 74 12 | Ben 2 75 9 | Cleo 3 76 7 | Finn 4 76 5 | Ada 5 78 3 | Dov - - 0").await;
    story.board(2, "High", "Hugo 1 68 12 | Greta 2 77 9 | Ida 3 78 7 | Jon 4 79 5 | Kaya 5 80 3 | Levi 6 81 1").await;

    // Hugo: 20.0 in effect less 12.0 is 8.0, from 7.0 to 9.9: each differential is lowered by 1.0, this one too (Rules
    // of Handicapping, Rule 5.9). 19.0 seven times, 21.0, 11.0; of nine the lowest three: (11 + 19 + 19) / 3 → 16.3.
    // Among equal ones the later counts (common practice, no source: the index is the same).
    let seen = story.get(&format!("/members/{}/handicap", story.members["Hugo"])).await;
    let rows = seen["differentials"].as_array().expect("differentials").iter();
    let rows: Vec<(f64, f64, bool)> = rows
        .map(|row| {
            let tenth = |name: &str| row[name].as_f64().expect("a number");
            (tenth("value"), tenth("reduction"), row["counts"] == true)
        })
        .collect();
    let mut due = vec![(11.0, -1.0, true), (21.0, -1.0, false), (19.0, -1.0, true), (19.0, -1.0, true)];
    due.resize(9, (19.0, -1.0, false));
    assert_eq!(rows, due);
    story.index("Hugo", 16.3).await;
    // 22.0 three times, 23.0, 25.0: of five the lowest, without adjustment.
    story.index("Kaya", 22.0).await;
    story.pass(7 * 24).await;
    story.finish(2).await;
}

/// Cleo and Jon are away. High and Edda play from Yellow: Hugo 15.3 · 0.8 = 12.24 → 12, Kaya 21.0 · 0.8 = 16.8 → 17,
/// Levi 10.0 · 0.8 = 8. Net is 71 + k − h.
///
/// ```text
/// Low   k   h   net          High   k   h   net
/// Ada    6   4  73           Greta  15  11  75
/// Ben   15   8  78           Hugo   19  12  78
/// Dov    7   2  76           Ida    18  13  76
/// Edda  13   9  75           Kaya   20  17  74
/// Finn  10   7  74           Levi   14   8  77
/// ```
async fn night_3_from_two_tees(story: &mut Story) {
    story.cards(3, &[("Ada", 6), ("Ben", 15), ("Dov", 7), ("Edda", 13), ("Finn", 10)]).await;
    story.cards(3, &[("Greta", 15), ("Hugo", 19), ("Ida", 18), ("Kaya", 20), ("Levi", 14)]).await;
    story.board(3, "Low", "Ada 1 73 12 | Finn 2 74 9 | Edda 3 75 7 | Dov 4 76 5 | Ben 5 78 3").await;
    story.board(3, "High", "Kaya 1 74 12 | Greta 2 75 9 | Ida 3 76 7 | Levi 4 77 5 | Hugo 5 78 3").await;
    // Ada: 4 and the one for White's par. Edda, Yellow: 71 + 13 − 70.0 = 14.0.
    for (name, playing, differential) in [("Ada", 5, 6.0), ("Edda", 9, 14.0)] {
        let seen = story.get(&story.round(3, name)).await;
        let shown = (seen["playing_handicap"].as_i64(), seen["score_differential"].as_f64());
        assert_eq!(shown, (Some(playing), Some(differential)), "{name}");
    }
    // Finn: 12, 11, 10 and Levi: 17, 18, 14 + 1: of three the lowest, less 2.0. Kaya: 21 and a 22 are the lowest two of
    // six, less 1.0: 20.5. Hugo: 20 is the tenth, and 11, 19, 19 still count.
    story.indexes(&[("Finn", 8.0), ("Levi", 13.0), ("Kaya", 20.5), ("Hugo", 16.3)]).await;
    story.pass(7 * 24).await;
    story.finish(3).await;
}

/// Dov has left, Jon is away. Finn (4.0 + 0.3) · 0.8 = 3.44 → 3. Hugo: half of 16.3 is 8.15 → 8.2, 8.5 · 0.8 = 6.8 → 7.
/// Kaya: 10.25 → 10.3, 10.6 · 0.8 = 8.48 → 8. Levi (6.5 + 0.3) · 0.8 = 5.44 → 5. Net is 36 + k − h.
///
/// ```text
/// Low   k   h   net          High   k   h   net
/// Ada    4   2  38           Greta   9   6  39
/// Ben    5   4  37           Hugo   11   7  40
/// Cleo   6   3  39           Ida    12   7  41
/// Edda   7   5  38           Kaya   10   8  38
/// Finn   6   3  39           Levi   11   5  42
/// ```
/// Ada and Edda: last six (par 24) 25 − 2 · 6/9 = 23 2/3 and 28 − 5 · 6/9 = 24 2/3: Ada. Cleo and Finn have the same card
/// off the same 3: fourth and fifth shared, (5 + 3) / 2 = 4.
async fn night_4_over_the_front_nine(story: &mut Story) {
    story.cards(4, &[("Ada", 4), ("Ben", 5), ("Cleo", 6), ("Edda", 7), ("Finn", 6)]).await;
    story.cards(4, &[("Greta", 9), ("Hugo", 11), ("Ida", 12), ("Kaya", 10), ("Levi", 11)]).await;
    story.board(4, "Low", NIGHT_4_LOW).await;
    story.board(4, "High", "Kaya 1 38 12 | Greta 2 39 9 | Hugo 3 40 7 | Ida 4 41 5 | Levi 5 42 3").await;
    // A nine waits for another: no index moves.
    story.indexes(&[("Finn", 8.0), ("Levi", 13.0), ("Kaya", 20.5), ("Hugo", 16.3)]).await;
    // Half the season: a carried value counts as played, three played are too few for a position.
    let low = [
        ("Ada", 1, 36.0, "12* 3* 12* 9*"),
        ("Edda", 2, 33.0, "7* 12* 7* 7*"),
        ("Ben", 3, 29.0, "5* 9* 3* 12*"),
        ("Cleo", 4, 27.0, "c7* 9* 7* 4*"),
        ("Finn", 5, 19.0, "1* 5* 9* 4*"),
        ("Dov", 0, 8.0, "3* 0* 5*"),
    ];
    story.table("", "Low", &low).await;
    story.table("", "High", &HALF_SEASON_HIGH).await;
    story.pass(7 * 24).await;
    story.finish(4).await;
}

const NIGHT_4_LOW: &str = "Ben 1 37 12 | Ada 2 38 9 | Edda 3 38 7 | Cleo =4 39 4 | Finn =4 39 4";

const HALF_SEASON_HIGH: [Ranked; 6] = [
    ("Greta", 1, 39.0, "12* 9* 9* 9*"),
    ("Kaya", 2, 30.0, "3* 3* 12* 12*"),
    ("Ida", 3, 28.0, "9* 7* 7* 5*"),
    ("Hugo", 4, 27.0, "5* 12* 3* 7*"),
    ("Levi", 5, 10.0, "1* 1* 5* 3*"),
    ("Jon", 0, 21.0, "c9* 7* 5*"),
];

/// Edda is away. Finn 8.0: 6.4 → 6. Hugo 16.3: 13.04 → 13. Kaya 20.5: 16.4 → 16. Levi 13.0: 10.4 → 10.
///
/// ```text
/// Low   k   h   net               High   k   h   net
/// Ada    6   4  74                Greta  17  12  77
/// Ben   13   8  77, late          Hugo   21  13  80
/// Cleo   9   6  75                Ida    20  14  78
/// Finn  12   6  78                Jon    27  20  79
///                                 Kaya   19  16  75
///                                 Levi   19  10  81
/// ```
async fn night_5_with_a_late_card(story: &mut Story) {
    story.cards(5, &[("Ada", 6), ("Cleo", 9), ("Finn", 12)]).await;
    story.cards(5, &[("Greta", 17), ("Hugo", 21), ("Ida", 20), ("Jon", 27), ("Kaya", 19), ("Levi", 19)]).await;
    story.board(5, "High", "Kaya 1 75 12 | Greta 2 77 9 | Ida 3 78 7 | Jon 4 79 5 | Hugo 5 80 3 | Levi 6 81 1").await;
    // Four hours later it is 23:00 and the event has closed at 22:00.
    story.pass(4).await;
    let late = story.usual_card(5, "Ben", 13);
    story.hand_in(5, "Ben", "Ben", &late, "late").await;
    story.board(5, "Low", "Ada 1 74 12 | Cleo 2 75 9 | Finn 3 78 7").await;
    assert_eq!(story.notices("Olga").await, ["round_late", "query"]);
    let accept = format!("{}/acceptance", story.round(5, "Ben"));
    story.api.call("POST", &accept).by(&story.people["Olga"]).expect(200).await;
    story.board(5, "Low", "Ada 1 74 12 | Cleo 2 75 9 | Ben 3 77 7 | Finn 4 78 5").await;
    // Ben 29 + 7 = 36 is level with Cleo's 27 + 9 and has a first place, of the fourth night; Finn 19 + 5 in place of 7.
    let moves = moved(&[
        ("Ben", (4, 29.0), (2, 36.0)),
        ("Cleo", (2, 36.0), (3, 36.0)),
        ("Edda", (3, 33.0), (4, 33.0)),
        ("Finn", (5, 26.0), (5, 24.0)),
    ]);
    assert_eq!(story.latest_change().await, ("accept".into(), Value::Null, moves));
    // The day's conditions take 1 off. Finn's 11: of 12, 11, 10, 11 the lowest, less 1.0. Levi's 18: 15.0 less 1.0.
    // Kaya's 18 and 21 are the lowest two of seven. Hugo's 20 is his eleventh, and 11, 19, 19 still count.
    story.indexes(&[("Finn", 9.0), ("Levi", 14.0), ("Kaya", 19.5), ("Hugo", 16.3), ("Ben", 10.0)]).await;
}

/// On the third night Finn had bogeys on holes 11 to 13 too: 13 over, not 10. Nights 1 to 4 are final, the fifth is not.
///
/// - Night 3: 71 + 13 − 7 = 77, fourth behind Edda and Dov: 5 for 9; Edda 9 for 7, Dov 7 for 5.
/// - His differentials 12, 11, 13 make 11 − 2.0 = 9.0 where they made 8.0.
/// - Night 4 keeps what it was played off. 4.8 · 0.8 = 3.84 → 4 would have put him before Cleo.
/// - Night 5 follows: 9.0 · 0.8 = 7.2 → 7, net 77, level with Ben. Last nine: Finn, bogeys on 1–12, 39 − 7/2 = 35.5; Ben,
///   1–13, 40 − 8/2 = 36. Finn is third, 7 for 5; Ben fourth, 5 for 7.
async fn a_slip_of_the_third_night_is_found(story: &mut Story) {
    story.claim("Finn", "player").await;
    let at = story.round(3, "Finn");
    let before = story.get(&at).await;
    let known = json!({ "client_round_id": before["client_round_id"] });
    let mended = merged(story.usual_card(3, "Finn", 13), &known);
    let olga = &story.people["Olga"];
    let put = story.api.put(format!("{at}?reason=slip"), &mended).by(olga).matching("*");
    put.refused(409, "event-final").await;
    let reason = "holes 11 to 13 were bogeys, as the bay's own card shows";
    let ruling = json!({ "decision": "correct", "round": mended, "reason": reason });
    let rulings = format!("{at}/rulings");
    // Ben 36 − 7 + 5; Edda 33 − 7 + 9; Finn 24 − 9 + 5 − 5 + 7; Dov, with three played, has no position.
    let moves = moved(&[
        ("Ben", (2, 36.0), (4, 34.0)),
        ("Cleo", (3, 36.0), (2, 36.0)),
        ("Dov", (0, 8.0), (0, 10.0)),
        ("Edda", (4, 33.0), (3, 35.0)),
        ("Finn", (5, 24.0), (5, 22.0)),
    ]);
    let shown = story.api.post(format!("{rulings}?validate_only=true"), &ruling).by(olga).expect(200).await.json();
    assert_eq!(story.moves(&shown["effect"]["moves"]), moves);
    assert_eq!(story.get(&at).await, before, "shown is not done");
    story.index("Finn", 9.0).await;
    story.api.post(&rulings, &ruling).by(olga).key(&id()).expect(201).await;
    assert_eq!(story.latest_change().await, ("correct".into(), json!(reason), moves));
    assert_eq!(story.notices("Finn").await, ["ruling"]);

    let history = story.get(&format!("{at}/versions")).await;
    let change = |hole: usize, par: u8| {
        let pointer = format!("/holes/{}/strokes", hole - 1);
        json!({ "pointer": pointer, "from": par, "to": par + 1 })
    };
    // Pars 5, 3, 4.
    assert_eq!(history["items"][1]["changes"], json!([change(11, 5), change(12, 3), change(13, 4)]));
    story.board(3, "Low", "Ada 1 73 12 | Edda 2 75 9 | Dov 3 76 7 | Finn 4 77 5 | Ben 5 78 3").await;
    story.board(4, "Low", NIGHT_4_LOW).await;
    story.board(5, "Low", "Ada 1 74 12 | Cleo 2 75 9 | Finn 3 77 7 | Ben 4 77 5").await;
    // 12, 11, 13, 11: the lowest, less 1.0.
    story.index("Finn", 10.0).await;
    story.pass(7 * 24 - 4).await;
    story.finish(5).await;
}

/// Jon is away. Finn 10.0: 8. Hugo 15.3 · 0.8 = 12.24 → 12, Kaya 18.5 · 0.8 = 14.8 → 15. Net is 71 + k − h.
///
/// ```text
/// Low   k   h   net          High   k   h   net
/// Ada    5   4  72           Greta  14  11  74
/// Ben   11   8  74           Hugo   13  12  72
/// Cleo  11   6  76           Ida    17  13  75
/// Edda  11   9  73           Kaya   20  15  76
/// Finn   8   8  71           Levi   disqualified: 0
/// ```
async fn night_6_with_a_withdrawal_and_a_disqualified_card(story: &mut Story) {
    // Ada keyed in last week's card, takes it back, and the night is free for the right one.
    let wrong = story.usual_card(6, "Ada", 6);
    story.hand_in(6, "Ada", "Ada", &wrong, "submitted").await;
    let withdrawn = story.round(6, "Ada");
    story.api.delete(&withdrawn).by(&story.people["Ada"]).matching("*").expect(204).await;
    let right = story.usual_card(6, "Ada", 5);
    story.hand_in(6, "Ada", "Ada", &right, "submitted").await;
    assert_eq!(story.get(&withdrawn).await["state"], "withdrawn");
    story.cards(6, &[("Ben", 11), ("Cleo", 11), ("Edda", 11), ("Finn", 8)]).await;
    story.cards(6, &[("Greta", 14), ("Hugo", 13), ("Ida", 17), ("Kaya", 20)]).await;
    let levi = merged(story.usual_card(6, "Levi", 9), &json!({ "outcome": "disqualified" }));
    story.hand_in(6, "Cleo", "Levi", &levi, "submitted").await;
    story.board(6, "Low", "Finn 1 71 12 | Ada 2 72 9 | Edda 3 73 7 | Ben 4 74 5 | Cleo 5 76 3").await;
    story.board(6, "High", "Hugo 1 72 12 | Greta 2 74 9 | Ida 3 75 7 | Kaya 4 76 5 | Levi - - 0").await;
    // Finn: 8 is the lowest of five. Levi's card gives no differential. Kaya's 21 is her eighth, 18 and 21 count. Hugo:
    // 14, the lowest four of twelve are 11, 14, 19, 19: 15.75 → 15.8.
    story.indexes(&[("Finn", 8.0), ("Levi", 14.0), ("Kaya", 19.5), ("Hugo", 15.8)]).await;
    story.pass(7 * 24).await;
    story.finish(6).await;
}

/// Finn and Jon are away. Hugo (7.9 − 0.3) · 0.8 = 6.08 → 6. Kaya: half of 19.5 is 9.75 → 9.8, 9.5 · 0.8 = 7.6 → 8. Levi
/// (7.0 − 0.3) · 0.8 = 5.36 → 5. Net is 36 + k − h.
///
/// ```text
/// Low   k   h   net          High   k   h   net
/// Ada    3   2  37           Greta   9   6  39
/// Ben    7   4  39           Hugo   10   6  40
/// Cleo   5   3  38           Ida     9   7  38
/// Edda   9   5  40           Kaya    7   8  35
///                            Levi   11   5  42
/// ```
async fn night_7_over_the_back_nine(story: &mut Story) {
    // Who plays, and who is not in yet: Ada has played holes 10 to 12, pars 4, 5, 3, in 5, 5, 3.
    let entries = format!("/events/{}/entries", story.nights[6]);
    let place = json!({ "slot": "19:00", "bay": "2" });
    story.api.post(&entries, &place).by(&story.people["Ada"]).key(&id()).expect(201).await;
    let kaya = json!({ "member_id": story.members["Kaya"], "slot": "20:00" });
    story.api.post(&entries, &kaya).by(&story.people["Cleo"]).key(&id()).expect(201).await;
    let progress = json!({ "holes": [{ "number": 10, "strokes": 5 }, { "number": 11, "strokes": 5 },
                                     { "number": 12, "strokes": 3 }] });
    let path = format!("/events/{}/progress", story.nights[6]);
    story.api.put(path, &progress).by(&story.people["Ada"]).matching("*").expect(200).await;
    let board = story.get(&format!("/events/{}/board", story.nights[6])).await;
    assert_eq!((&board["cards_in"], &board["still_out"]), (&json!(0), &json!(2)));
    let rows = board["items"].as_array().expect("rows").iter();
    let fields = ["display_name", "state", "holes_played", "over_par_so_far", "slot", "bay"];
    let rows: Vec<Value> = rows.map(|row| fields.iter().map(|field| row[field].clone()).collect()).collect();
    let ada = json!(["Ada", "in_play", 3, 1, "19:00", "2"]);
    assert_eq!(rows, [ada, json!(["Kaya", "entered", 0, null, "20:00", null])]);

    story.cards(7, &[("Ada", 3), ("Ben", 7), ("Cleo", 5), ("Edda", 9)]).await;
    story.cards(7, &[("Greta", 9), ("Hugo", 10), ("Ida", 9), ("Kaya", 7), ("Levi", 11)]).await;
    let board = story.get(&format!("/events/{}/board", story.nights[6])).await;
    assert_eq!((&board["cards_in"], &board["still_out"]), (&json!(9), &json!(0)));
    story.board(7, "Low", "Ada 1 37 12 | Cleo 2 38 9 | Ben 3 39 7 | Edda 4 40 5").await;
    story.board(7, "High", "Kaya 1 35 12 | Ida 2 38 9 | Greta 3 39 7 | Hugo 4 40 5 | Levi 5 42 3").await;
    // Pairs: Kaya 10 + 7 = 17, the lowest three of nine are 17, 18, 21: 18 2/3 → 18.7. Levi 22, of five the lowest: 15.0.
    // Hugo 21 changes nothing. Finn's front nine waits on.
    story.indexes(&[("Finn", 8.0), ("Levi", 15.0), ("Kaya", 18.7), ("Hugo", 15.8)]).await;
    kaya_s_working(story).await;
    story.pass(7 * 24).await;
}

/// Kaya on the back nine. Her course strokes 9.5 are rounded to 10 for the limits, one a hole and two on the first: a
/// card of bogeys is within them. 36 + 7 = 43; 43 − 35.7 = 7.3; her front nine waits with 46 − 36.3 = 9.7.
async fn kaya_s_working(story: &Story) {
    let seen = story.get(&format!("{}/working", story.round(7, "Kaya"))).await;
    assert_eq!(seen["holes"], json!([10, 11, 12, 13, 14, 15, 16, 17, 18]));
    let steps = seen["steps"].as_array().expect("steps");
    let due = [
        ("index", json!(19.5)),
        ("half_index", json!(9.8)),
        ("course_handicap_unrounded", json!(9.5)),
        ("course_handicap", json!(10)),
        ("allowed_strokes", json!(8)),
        ("playing_handicap", json!(8)),
        ("course_strokes_received", json!([2, 1, 1, 1, 1, 1, 1, 1, 1])),
        ("hole_limits", json!([8, 8, 6, 7, 7, 7, 6, 8, 7])),
        ("gross", json!(43)),
        ("net", json!(35)),
        ("adjusted_gross", json!(43)),
        ("differential", json!(7.3)),
        ("record_differential", json!(17)),
        ("score_differential", json!(17)),
        ("reduction", json!(0)),
        ("average_afterwards", json!(18.666667)),
        ("league_index_afterwards", json!(18.7)),
        ("place", json!(1)),
        ("value", json!(12)),
    ];
    for (name, result) in due {
        let step = steps.iter().find(|step| step["name"] == name).unwrap_or_else(|| panic!("no step {name}: {seen}"));
        assert_eq!(step["result"], result, "{step}");
        assert!(step["rule"].as_str().is_some_and(|rule| !rule.is_empty()), "{step}");
    }
    let round = story.get(&story.round(7, "Kaya")).await;
    for name in ["course_handicap", "playing_handicap", "gross", "net", "adjusted_gross"] {
        let step = steps.iter().find(|step| step["name"] == name).expect("a step");
        assert_eq!(round[name], step["result"], "{name}");
    }
}

/// Ada and Jon are away. Finn 8.0: 6.4 → 6. Hugo 15.8: 12.64 → 13. Kaya 18.7: 14.96 → 15. Levi 15.0: 12.
///
/// ```text
/// Low   k   h   net          High   k   h   net
/// Ben   10   8  74           Greta  16  12  76
/// Cleo  10   6  76           Hugo   15  13  74
/// Edda  13  10  75           Ida    19  14  77
/// Finn  11   6  77           Kaya   22  15  79
///                            Levi   18  12  78
/// ```
async fn night_8(story: &mut Story) {
    story.cards(8, &[("Ben", 10), ("Cleo", 10), ("Edda", 13), ("Finn", 11)]).await;
    story.cards(8, &[("Greta", 16), ("Hugo", 15), ("Ida", 19), ("Kaya", 22), ("Levi", 18)]).await;
    story.board(8, "Low", "Ben 1 74 12 | Edda 2 75 9 | Cleo 3 76 7 | Finn 4 77 5").await;
    story.board(8, "High", "Hugo 1 74 12 | Greta 2 76 9 | Ida 3 77 7 | Levi 4 78 5 | Kaya 5 79 3").await;
    // Finn: 8 and an 11 are the lowest two of six, less 1.0. Levi: 15 and 17, less 1.0. Kaya's 22 does not count. Hugo:
    // (11 + 14 + 15 + 19) / 4 = 14.75 → 14.8. The others stand where they began.
    story.indexes(&[("Finn", 8.5), ("Levi", 15.0), ("Kaya", 18.7), ("Hugo", 14.8)]).await;
    for (name, _, index) in CARRIED.into_iter().filter(|(name, ..)| !["Hugo", "Kaya"].contains(name)) {
        story.index(name, index).await;
    }
    story.pass(7 * 24).await;
    story.finish(7).await;
    story.finish(8).await;
}

/// The best five. Dov played three times. Hugo and Greta are level at 48; he has three first places among his, she none.
/// Disqualified is not played, but Levi has enough without it.
async fn the_end(story: &Story) {
    let low = [
        ("Ada", 1, 57.0, "12* 3 12* 9 12* 9* 12*"),
        ("Ben", 2, 45.0, "5 9* 3 12* 5 5* 7* 12*"),
        ("Edda", 3, 44.0, "7 12* 9* 7* 7* 5 9*"),
        ("Cleo", 4, 41.0, "c7 9* 7* 4 9* 3 9* 7*"),
        ("Finn", 5, 34.0, "1 5* 5* 4 7* 12* 5*"),
        ("Dov", 0, 10.0, "3* 0* 7*"),
    ];
    story.table("", "Low", &low).await;
    let high = [
        ("Kaya", 1, 53.0, "3 3 12* 12* 12* 5* 12* 3"),
        ("Hugo", 2, 48.0, "5 12* 3 7* 3 12* 5* 12*"),
        ("Greta", 3, 48.0, "12* 9 9 9* 9* 9* 7 9*"),
        ("Ida", 4, 39.0, "9* 7 7 5 7* 7* 9* 7*"),
        ("Jon", 5, 26.0, "c9* 7* 5* 5*"),
        ("Levi", 6, 17.0, "1 1 5* 3* 1* 0 3* 5*"),
    ];
    story.table("", "High", &high).await;
    let seen = story.get(&format!("/seasons/{}/standings", story.season)).await;
    assert_eq!(seen["provisional_until"], Value::Null);
    let rows = seen["items"].as_array().expect("rows");
    let played = |name: &str| {
        let row = rows.iter().find(|row| row["display_name"] == name).expect("a row");
        (row["events_played"].as_u64(), row["events_counted"].as_u64())
    };
    // Dov's card without a return counts as played, Levi's disqualified one does not, Jon's carried value does.
    assert_eq!(played("Dov"), (Some(3), Some(3)));
    assert_eq!(played("Levi"), (Some(7), Some(5)));
    assert_eq!(played("Jon"), (Some(4), Some(4)));

    // Looking back to half the season, with today's cards: the third night is the corrected one.
    let after = format!("&after_event={}", story.nights[3]);
    let low = [
        ("Ada", 1, 36.0, "12* 3* 12* 9*"),
        ("Edda", 2, 35.0, "7* 12* 9* 7*"),
        ("Ben", 3, 29.0, "5* 9* 3* 12*"),
        ("Cleo", 4, 27.0, "c7* 9* 7* 4*"),
        ("Finn", 5, 15.0, "1* 5* 5* 4*"),
        ("Dov", 0, 10.0, "3* 0* 7*"),
    ];
    story.table(&after, "Low", &low).await;
    story.table(&after, "High", &HALF_SEASON_HIGH).await;
    let found = story.api.server.app.leagues.verify().await.expect("verifies");
    assert_eq!(found.differences, Vec::<String>::new());
}

/// Another server takes the bundle in: the same table, the same indexes, nothing that differs when worked afresh.
async fn elsewhere_it_is_the_same_league(story: &Story) {
    let bundle = story.api.get(format!("/leagues/{}/bundle", story.league)).by(&story.people["Olga"]);
    let bundle = bundle.expect(200).await.text();
    let elsewhere = own();
    let leagues = &elsewhere.server.app.leagues;
    let mut import = leagues.import().await.expect("begins");
    for line in bundle.lines() {
        let line = evenfield::wire::bundle::line::Line::read(line.as_bytes()).expect("a line that was written");
        import.add(&line).await.expect("a line that fits");
    }
    let (league, organizers) = import.finish().await.expect("a league");
    let claim = Some((league, Some(organizers[0].0), evenfield::domain::facts::Role::Organizer));
    let code = leagues.operator_code(claim).await.expect("a code");
    let olga = elsewhere.person("Olga").await;
    elsewhere.call("POST", &format!("/invitations/{code}/acceptance")).by(&olga).expect(201).await;

    let mut paths = vec![format!("/seasons/{}/standings", story.season)];
    paths.extend(story.nights.iter().map(|night| format!("/events/{night}/board")));
    for path in paths {
        let there = elsewhere.get(&path).by(&olga).expect(200).await.json();
        assert_eq!(there["items"], story.get(&path).await["items"], "{path}");
    }
    for id in story.members.values() {
        let path = format!("/members/{id}/handicap");
        let there = elsewhere.get(&path).by(&olga).expect(200).await.json();
        assert_eq!(there, story.get(&path).await);
    }
    assert_eq!(leagues.verify().await.expect("verifies").differences, Vec::<String>::new());
}
