//! Putting: the report with everything that the putts say, the field's own baseline, and that `report` says the same.

use crate::support::harness::{Api, Cast, Night, card, id, merged, round, shared};
use crate::support::simulated::{Player, Random, players};
use evenfield::cli::report::{Against, Format, ReportArgs, run};
use serde_json::{Value, json};

/// The holes that a simulated player putts out, as a card lists them.
fn played(player: &Player, random: &mut Random) -> Vec<Value> {
    let mut holes: Vec<Vec<Value>> = vec![Vec::new()];
    for struck in player.play(80, random).expect("values in range").0 {
        holes.last_mut().expect("a hole").push(serde_json::to_value(struck.putt).expect("a putt"));
        if struck.leave_ft.is_none() {
            holes.push(Vec::new());
        }
    }
    // a fifth putt is conceded from wherever it lies
    holes.retain(|putts| (1..=4).contains(&putts.len()));
    let numbered = holes.into_iter().take(18).enumerate();
    let holes: Vec<Value> =
        numbered.map(|(n, putts)| json!({ "number": n + 1, "strokes": putts.len() + 2, "putts": putts })).collect();
    assert_eq!(holes.len(), 18);
    holes
}

pub(crate) struct World {
    pub(crate) api: Api,
    pub(crate) cast: Cast,
    pub(crate) night: Night,
    events: Vec<String>,
}

/// Ann and Ben putt through three nights; Ben's rounds are attested.
pub(crate) async fn world() -> World {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    // Nothing is declared, so that every attested putt is of the field.
    let at = format!("/setups/{}", night.setup);
    api.patch(at, &json!({ "softening_radius_ft": null })).by(&cast.ann).matching("*").expect(200).await;
    let mut events = vec![night.event.clone()];
    for hour in [18, 19] {
        let opens = json!({ "opens_at": format!("2027-01-14T{hour}:00:00Z"), "stimp_ft": hour as f64 - 7.5 });
        events.push(api.event(&cast, &night, opens).await);
    }
    let ([(_, tidy), (_, wild), ..], mut random) = (players(), Random(42));
    for (event, stimp) in events.iter().zip([10.5, 10.5, 11.5]) {
        let [tidy, wild] = [tidy, wild].map(|player| Player { stimps_ft: (stimp, 0.0), ..player });
        let cards = [(&night.ann, &cast.ann, tidy), (&night.ben, &cast.ben, wild)];
        for (member, by, player) in cards {
            let holes = json!({ "holes": played(&player, &mut random), "setup_id": night.setup });
            let mut body = merged(round(member), &holes);
            // a card may come in any order
            body["holes"].as_array_mut().expect("holes").reverse();
            let handed_in = api.hand_in(event, by, &body).await.id();
            if by.email == cast.ben.email {
                api.call("POST", &format!("/rounds/{handed_in}/attestation")).by(&cast.ann).expect(200).await;
            }
        }
    }
    World { api, cast, night, events }
}

impl World {
    async fn report(&self, query: &str) -> String {
        let path = format!("/members/{}/putting?season_id={}{query}", self.night.ann, self.night.season);
        self.api.get(path).by(&self.cast.ben).expect(200).await.text()
    }

    async fn bundle(&self) -> String {
        self.api.get(format!("/leagues/{}/bundle", self.night.league)).by(&self.cast.olga).expect(200).await.text()
    }

    async fn field(&self) -> Value {
        let path = format!("/seasons/{}/baseline", self.night.season);
        self.api.get(path).by(&self.cast.ann).expect(200).await.json()
    }
}

/// Runs `report` over a bundle; returns its text.
fn reported(bundle: &str, baseline: Against, as_of: Option<&str>) -> String {
    reported_with(bundle, baseline, as_of, |_| {})
}

fn reported_with(bundle: &str, baseline: Against, as_of: Option<&str>, choose: impl FnOnce(&mut ReportArgs)) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("league.ndjson");
    std::fs::write(&path, bundle).expect("the bundle is written");
    let bundle = path.to_str().expect("UTF-8").to_owned();
    let as_of = as_of.map(|event| event.parse().expect("an id"));
    let mut out = Vec::new();
    let (event, from, to, setup) = (None, None, None, None);
    let (format, season, without_findings) = (Format::Json, None, false);
    let mut args = ReportArgs { bundle, format, season, as_of, event, from, to, setup, baseline, without_findings };
    choose(&mut args);
    run(&args, &mut out).expect("the bundle is sound");
    String::from_utf8(out).expect("UTF-8")
}

#[tokio::test]
async fn a_report_says_what_the_putts_say() {
    let world = world().await;
    let report: Value = serde_json::from_str(&world.report("").await).expect("JSON");
    assert_eq!(
        (&report["rounds"], &report["recorded_holes"], &report["baseline"]),
        (&json!(3), &json!(54), &json!("tour"))
    );
    let line = &report["start_line"];
    // a player of known habits: 0.9 degrees and 8 %, over 80 putts or more
    assert!((0.7..1.1).contains(&line["sd_deg"].as_f64().unwrap_or_default()), "{line}");
    assert!((6.0..10.5).contains(&report["pace"]["sd_pct"].as_f64().unwrap_or_default()), "{}", report["pace"]);
    assert_eq!(report["setups"][0]["setup_id"], world.night.setup.as_str());
    assert!((0.97..1.03).contains(&report["setups"][0]["speed_ratio"].as_f64().unwrap_or_default()));
    assert_eq!(report["causes"]["unknown"]["lost_per_round"], json!(0.0));
    // the green speed is the event's: on another one the same speeds mean another pace
    let quicker = json!({ "stimp_ft": 14.0 });
    let path = format!("/events/{}", world.events[0]);
    world.api.patch(&path, &quicker).by(&world.cast.olga).matching("*").expect(200).await;
    let quicker: Value = serde_json::from_str(&world.report("").await).expect("JSON");
    assert_ne!(quicker["pace"], report["pace"]);
    assert_eq!(quicker["start_line"], report["start_line"]);
}

/// Ben is wild all over, and so is nothing about him weak for his level: the bands and all other figures are there, and
/// what is missing is said in numbers.
#[tokio::test]
async fn what_is_too_early_to_say_names_the_putts_that_are_missing() {
    let world = world().await;
    let path = format!("/members/{}/putting?season_id={}", world.night.ben, world.night.season);
    let report = world.api.get(path).by(&world.cast.ben).expect(200).await.json();
    let advice = &report["advice"];
    assert_eq!(
        (&advice["certainty"], &advice["focus"], &advice["from_ft"]),
        (&json!("early"), &Value::Null, &Value::Null)
    );
    assert!(advice["probability"].as_f64().expect("a number") < 0.6, "{advice}");
    assert!(advice["needs_putts"].as_u64().expect("a number") > 0, "{advice}");
}

/// The contract: null or empty below the least numbers of putts.
#[tokio::test]
async fn few_putts_say_nothing() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let none = api.get(format!("/members/{}/putting", night.ann)).by(&cast.ann).expect(200).await.json();
    api.hand_in(&night.event, &cast.ann, &card(&night.ann, &[4; 18])).await;
    let few = api.get(format!("/members/{}/putting", night.ann)).by(&cast.ann).expect(200).await.json();
    assert_eq!((&none["rounds"], &few["rounds"]), (&json!(0), &json!(1)));
    for report in [none, few] {
        for name in ["start_line", "pace", "causes"] {
            assert_eq!(report[name], Value::Null, "{name}");
        }
        assert_eq!((&report["setups"], &report["advice"]["certainty"]), (&json!([]), &json!("early")));
        assert!(report["advice"]["needs_putts"].as_u64().expect("a number") > 0);
    }
}

#[tokio::test]
async fn a_bundles_report_has_the_servers_bytes() {
    let world = world().await;
    let bundle = world.bundle().await;
    for (baseline, query) in [(Against::Tour, ""), (Against::Field, "&baseline=field")] {
        let (told, report) = (world.report(query).await, reported(&bundle, baseline, None));
        assert!(report.contains(&told), "{baseline:?}: the server answers\n{told}\n`report` says\n{report}");
    }
    let field: Value = serde_json::from_str(&reported(&bundle, Against::Field, None)).expect("JSON");
    assert_eq!(field["field"], world.field().await);
    // Looking back is as if the later nights' cards had never been.
    let later =
        |line: &&str| !world.events[1..].iter().any(|event| line.contains(&format!("\"event_id\":\"{event}\"")));
    let rounds: Vec<String> = bundle
        .lines()
        .filter(|line| !later(line))
        .map(|line| serde_json::from_str::<Value>(line).expect("JSON")["id"].as_str().expect("an id").to_owned())
        .collect();
    let of_later = |line: &&str| rounds.iter().any(|round| line.contains(&format!("\"round_id\":\"{round}\"")));
    let first: String =
        bundle.lines().filter(|line| later(line) && !of_later(line)).map(|line| format!("{line}\n")).collect();
    for baseline in [Against::Tour, Against::Field] {
        let back: Value = serde_json::from_str(&reported(&bundle, baseline, Some(&world.events[0]))).expect("JSON");
        let due: Value = serde_json::from_str(&reported(&first, baseline, None)).expect("JSON");
        assert_eq!(back["putting"][0]["rounds"], json!(1));
        assert_eq!((&back["putting"], &back["field"]), (&due["putting"], &due["field"]), "{baseline:?}");
    }
}

/// Each choice of rounds gives the same bytes in the interface and in `report`, and nights add up to the season.
#[tokio::test]
async fn a_choice_of_rounds_is_the_same_everywhere_and_nights_add_up() {
    let world = world().await;
    let bundle = world.bundle().await;
    let other = id();
    let event = &world.events[1];
    type Choose<'a> = Box<dyn FnOnce(&mut ReportArgs) + 'a>;
    let uuid = |text: &str| Some(text.parse().expect("an id"));
    let day = |text: &str| Some(text.parse().expect("a day"));
    let choices: [(String, Choose); 5] = [
        (format!("&event_id={event}"), Box::new(|args| args.event = uuid(event))),
        (format!("&setup_id={}", world.night.setup), Box::new(|args| args.setup = uuid(&world.night.setup))),
        (format!("&setup_id={other}"), Box::new(|args| args.setup = uuid(&other))),
        (
            "&from=2027-01-14&to=2027-01-14".into(),
            Box::new(|args| (args.from, args.to) = (day("2027-01-14"), day("2027-01-14"))),
        ),
        ("&from=2027-01-15".into(), Box::new(|args| args.from = day("2027-01-15"))),
    ];
    for (query, choose) in choices {
        let told = world.report(&query).await;
        assert!(reported_with(&bundle, Against::Tour, None, choose).contains(&told), "{query}: {told}");
    }
    let season: Value = serde_json::from_str(&world.report("").await).expect("JSON");
    let mut nights = Vec::new();
    for event in &world.events {
        nights.push(serde_json::from_str::<Value>(&world.report(&format!("&event_id={event}")).await).expect("JSON"));
    }
    let figure = |report: &Value, place: &str| report.pointer(place).and_then(Value::as_f64).expect("a figure");
    let mut places: Vec<String> = ["rounds", "putts", "recorded_holes", "strokes_gained_total", "feet_holed_total"]
        .map(|name| format!("/{name}"))
        .to_vec();
    places.push("/first_putts/three_putt/expected_total".into());
    places.push("/first_putts/one_putt/holes_total".into());
    places.push("/slopes/uphill/strokes_gained_total".into());
    places.push("/misses/unrecorded".into());
    for band in 0..9 {
        places.extend(
            ["putts", "made", "expected_made", "strokes_gained_total"].map(|name| format!("/bands/{band}/{name}")),
        );
    }
    for place in places {
        let together: f64 = nights.iter().map(|night| figure(night, &place)).sum();
        // each is rounded to six decimals
        assert!((together - figure(&season, &place)).abs() < 3e-6, "{place}: {together}");
    }
    let path = format!("/members/{}/putting", world.night.ann);
    let ann = &world.cast.ann;
    world.api.get(format!("{path}?event_id={other}")).by(ann).refused(422, "unknown-event").await;
    world.api.get(format!("{path}?from=2027-01-15&to=2027-01-14")).by(ann).refused(422, "date-order").await;
    world.api.get(format!("{path}?to=tomorrow")).by(ann).refused(400, "malformed").await;
    world.api.get(format!("{path}?setup_id=7")).by(ann).refused(400, "malformed").await;
}

#[tokio::test]
async fn the_trend_has_each_nights_figures_and_the_file_each_putt() {
    let world = world().await;
    let path = format!("/members/{}/putting", world.night.ann);
    let query = format!("?season_id={}", world.night.season);
    let trend = world.api.get(format!("{path}/trend{query}")).by(&world.cast.ben).expect(200).await.json();
    let nights = trend["items"].as_array().expect("nights");
    assert_eq!(nights.iter().map(|night| night["event_id"].as_str().expect("an id")).collect::<Vec<_>>(), world.events);
    for night in nights {
        let event = night["event_id"].as_str().expect("an id");
        let report: Value = serde_json::from_str(&world.report(&format!("&event_id={event}")).await).expect("JSON");
        for name in ["strokes_gained_per_round", "putts", "recorded_holes", "start_line"] {
            assert_eq!(night[name], report[name], "{name}");
        }
        let [low, gained, high] = ["low_per_round", "strokes_gained_per_round", "high_per_round"]
            .map(|name| night[name].as_f64().expect("a figure"));
        assert!(low < gained && gained < high, "{night}");
    }
    // one night is the later half of three
    assert_eq!(trend["change"]["since"], "2027-01-14");
    let season: Value = serde_json::from_str(&world.report("").await).expect("JSON");
    let file = world.api.get(format!("{path}/putts{query}")).by(&world.cast.ben).expect(200).await.text();
    let mut lines = file.split("\r\n");
    assert!(lines.next().expect("a head").starts_with("date,event_id,setup_id,stimp_ft,hole,putt,distance_ft"));
    let rows: Vec<Vec<&str>> = lines.filter(|line| !line.is_empty()).map(|line| line.split(',').collect()).collect();
    assert_eq!(Some(rows.len() as u64), season["putts"].as_u64());
    let gained: f64 = rows.iter().map(|row| row[12].parse::<f64>().unwrap_or_default()).sum();
    assert!((gained - season["strokes_gained_total"].as_f64().expect("a figure")).abs() < 1e-6, "{gained}");
    assert!(rows.iter().all(|row| row.len() == 13 && (1..=18).contains(&row[4].parse::<u8>().unwrap_or_default())));
    let one = world
        .api
        .get(format!("{path}/putts{query}&event_id={}", world.events[0]))
        .by(&world.cast.ben)
        .expect(200)
        .await
        .text();
    assert!(one.lines().skip(1).all(|line| line.contains(&world.events[0])) && one.lines().count() > 18);
}

#[tokio::test]
async fn a_player_sees_both_baselines() {
    let world = world().await;
    let path = format!("/members/{}/putting/comparison", world.night.ann);
    let both = world.api.get(format!("{path}?season_id={}", world.night.season)).by(&world.cast.ann).expect(200).await;
    let told = both.text();
    assert!(told.contains(&world.report("").await) && told.contains(&world.report("&baseline=field").await));
    let both = both.json();
    assert_eq!((&both["tour"]["baseline"], &both["field"]["baseline"]), (&json!("tour"), &json!("field")));
    let against = |name: &str| both[name]["strokes_gained_per_round"].as_f64().unwrap_or_default();
    // Ann is tidy and the field is Ben, who is wild
    assert!(against("field") > against("tour") + 0.2, "{} {}", against("field"), against("tour"));
    // the latest season without one
    assert_eq!(world.api.get(&path).by(&world.cast.ann).expect(200).await.json(), both);
    let unknown = format!("{path}?season_id={}", id());
    world.api.get(unknown).by(&world.cast.ann).refused(422, "unknown-season").await;
    let plain = format!("/members/{}/putting", world.night.ann);
    world.api.get(format!("{plain}?baseline=field")).by(&world.cast.ann).refused(422, "season-missing").await;
    world.api.get(format!("{plain}?baseline=club")).by(&world.cast.ann).refused(400, "malformed").await;
}

/// The field rests on attested rounds alone, and follows them at once.
#[tokio::test]
async fn the_field_is_what_was_attested() {
    let world = world().await;
    let before = world.field().await;
    assert_eq!((&before["rounds"], &before["baseline"]), (&json!(3), &json!("field")));
    let rows = before["items"].as_array().expect("rows");
    let ten = rows.iter().find(|row| row["distance_ft"] == 10.0).expect("10 ft");
    assert!(ten["expected_putts"].as_f64() > ten["tour_expected_putts"].as_f64(), "Ben is wild: {ten}");
    let path = format!("/events/{}/rounds", world.events[2]);
    let rounds = world.api.get(path).by(&world.cast.ann).expect(200).await.json();
    let of_ann =
        rounds["items"].as_array().expect("rounds").iter().find(|round| round["member_id"] == world.night.ann.as_str());
    let of_ann = of_ann.expect("Ann's round")["id"].as_str().expect("an id").to_owned();
    world.api.call("POST", &format!("/rounds/{of_ann}/attestation")).by(&world.cast.ben).expect(200).await;
    let after = world.field().await;
    assert_eq!(after["rounds"], json!(4));
    assert_ne!(after["items"], before["items"]);
    world.api.delete(format!("/rounds/{of_ann}")).by(&world.cast.ann).matching("*").expect(204).await;
    assert_eq!(world.field().await, before, "a withdrawn round is of no field");
}
