//! The pages of a player and of a card show the interface's figures, digit for digit; findings leave no trace on pages.

use crate::stored::putting::world;
use crate::support::browsing::{page, signed_in};
use crate::support::harness::{Api, Night, Twin, id, own};
use serde_json::{Value, json};

/// Writes a figure with its sign, as pages do.
fn signed(value: &Value) -> String {
    let text = format!("{:+.2}", value.as_f64().expect("a figure"));
    let text = if matches!(text.as_str(), "+0.00" | "-0.00") { text[1..].to_owned() } else { text };
    text.replace('-', "−")
}

fn plain(value: &Value) -> String {
    value.to_string().replace('-', "−")
}

fn band(found: &Value) -> String {
    format!("{}–{} ft", found["from_ft"].as_f64().expect("feet"), found["to_ft"].as_f64().expect("feet"))
}

#[track_caller]
fn holds(page: &str, part: &str) {
    assert!(page.contains(part), "{part} is not on the page:\n{page}");
}

#[tokio::test]
async fn the_players_page_shows_the_figures_of_the_interface() {
    let world = world().await;
    let (api, night) = (&world.api, &world.night);
    let ben = signed_in(api, &world.cast.ben.email).await;
    let read = async |path: String| api.get(path).by(&world.cast.ben).expect(200).await.json();
    let mut gained = Vec::new();
    for (against, word) in [("", "tour putting"), ("?against=field", "this league")] {
        let baseline = if against.is_empty() { "tour" } else { "field" };
        let query = format!("?season_id={}&baseline={baseline}", night.season);
        let report = read(format!("/members/{}/putting{query}", night.ann)).await;
        let shown = page(api, &format!("/members/{}{against}", night.ann), &ben).expect(200).await.text();
        holds(&shown, &format!("compared with {word}</dt><dd>{}</dd>", signed(&report["strokes_gained_per_round"])));
        gained.push(report["strokes_gained_per_round"].clone());
        holds(&shown, &format!("<dd>{} of {}</dd>", report["recorded_holes"], report["holes"]));
        let bands = report["bands"].as_array().expect("bands");
        assert!(bands.iter().filter(|band| band["putts"] != 0).count() > 4, "{bands:?}");
        for found in bands {
            let (putts, made) = (&found["putts"], &found["made"]);
            let expected = found["expected_made"].as_f64().expect("a figure");
            let row = format!(
                "<tr><th scope=\"row\">{}</th><td class=\"n\">{putts}</td><td class=\"n\">{made}</td>\
                 <td class=\"n\">{expected:.1}</td>",
                band(found)
            );
            let row = &shown[shown.find(&row).unwrap_or_else(|| panic!("no {row} in {shown}"))..];
            let row = &row[..row.find("</tr>").expect("its end")];
            holds(row, &format!(">{}</td>", signed(&found["strokes_gained_total"])));
            if !found["low_total"].is_null() {
                holds(row, &format!(">{} to {}</td>", signed(&found["low_total"]), signed(&found["high_total"])));
            }
        }
        for (name, cause) in [
            ("Aim", "line"),
            ("Speed", "pace"),
            ("Aim and speed together", "both"),
            ("Read", "read"),
            ("Cause not recorded", "unknown"),
        ] {
            let lost = &report["causes"][cause];
            let figures = ["lost_per_round", "low", "high"].map(|name| signed(&lost[name]));
            let [figure, low, high] = figures;
            let cells = format!("<td class=\"n\">{figure}</td><td class=\"n\">{low} to {high}</td>");
            holds(&shown, &format!("<th scope=\"row\">{name}</th>{cells}"));
        }
        let advice = &report["advice"];
        match advice["worth_per_round"].as_f64() {
            Some(saved) => holds(&shown, &format!("would save about {saved:.1} strokes per round")),
            None => holds(&shown, &format!("About {} more putts with start line", advice["needs_putts"])),
        }
        // Each putt of the bands that are drawn lies somewhere: a putt with both readings is counted once.
        for (n, struck) in shown.split("compared with the window for their own distance").skip(1).enumerate() {
            let table = &struck[..struck.find("</table>").expect("a table")];
            let cells: Vec<usize> = table
                .split("<td class=\"n\">")
                .skip(1)
                .filter_map(|cell| cell.split('<').next()?.parse().ok())
                .collect();
            let drawn: usize = cells.iter().step_by(2).sum();
            let svg = &shown[shown.find(&format!("id=\"strikes-{}-t\"", [6, 10, 20][n])).expect("its chart")..];
            let svg = &svg[..svg.find("</svg>").expect("its end")];
            let marks = |class: &str| {
                let path = svg.split(&format!("class=\"{class}\" d=\"")).nth(1).expect("a path");
                path.split('"').next().unwrap_or_default().matches('M').count()
            };
            assert!(drawn > 0 && drawn == marks("points") + marks("cross"), "{drawn} putts: {svg}");
        }
    }
    assert_ne!(gained[0], gained[1], "the two baselines differ, or the test shows nothing");
    let handicap = read(format!("/members/{}/handicap", night.ann)).await;
    let shown = page(api, &format!("/members/{}", night.ann), &ben).expect(200).await.text();
    assert_eq!(handicap["league_index"], -15.0, "a plus index is negative in bodies and has its plus on pages");
    holds(&shown, "League index <b>+15.0</b>");
    let rows = handicap["differentials"].as_array().expect("differentials");
    assert_eq!(rows.len(), 3);
    for row in rows {
        let counts = if row["counts"] == true { "counts" } else { "no" };
        let cells = format!("<td class=\"n\">{}</td><td>round</td><td>{counts}</td>", plain(&row["value"]));
        holds(&shown, &cells);
    }
    // Three differentials make the index: the last row has it, the two before none.
    let indexes = "<td class=\"n\">+15.0</td></tr>";
    assert_eq!(shown[shown.find("Index after").expect("a column")..].matches(indexes).count(), 1);
}

/// One night chosen on the page is the interface's report of it.
#[tokio::test]
async fn the_players_page_shows_the_nights_that_are_chosen() {
    let world = world().await;
    let (api, night) = (&world.api, &world.night);
    let ben = signed_in(api, &world.cast.ben.email).await;
    let query = format!("event_id={}", night.event);
    let path = format!("/members/{}/putting?season_id={}&{query}", night.ann, night.season);
    let report = api.get(path).by(&world.cast.ben).expect(200).await.json();
    let shown =
        page(api, &format!("/members/{}?{query}&from=&to=&setup_id=", night.ann), &ben).expect(200).await.text();
    holds(&shown, &format!("compared with tour putting</dt><dd>{}</dd>", signed(&report["strokes_gained_per_round"])));
    let one = &report["first_putts"]["one_putt"];
    let (holes, expected) = (&one["holes_total"], one["expected_total"].as_f64().expect("a figure"));
    holds(&shown, &format!("{holes} hole"));
    holds(&shown, &format!("expected {expected:.1}"));
    let misses = &report["misses"];
    for name in ["left_long", "right_long", "left_short", "right_short"] {
        holds(&shown, &format!("<td class=\"n\">{}</td>", misses[name]));
    }
    holds(&shown, &format!("<option value=\"{}\" selected>", night.event));
    holds(&shown, &format!("/putting/putts?event_id={}&#38;season_id={}", night.event, night.season));
    let none = page(api, &format!("/members/{}?from=2027-02-01", night.ann), &ben).expect(200).await.text();
    holds(&none, "No putts of these nights were recorded.");
    page(api, &format!("/members/{}?from=soon", night.ann), &ben).expect(400).await;
}

#[tokio::test]
async fn a_card_shows_what_each_hole_gained_and_nothing_once_it_is_left_out() {
    let world = world().await;
    let (api, night) = (&world.api, &world.night);
    let ann = signed_in(api, &world.cast.ann.email).await;
    let rounds = api.get(format!("/events/{}/rounds", night.event)).by(&world.cast.ann).expect(200).await.json();
    let mut items = rounds["items"].as_array().expect("items").iter();
    let round = items.find(|round| round["member_id"] == night.ann.as_str()).expect("Ann's")["id"].clone();
    let round = round.as_str().expect("an id");
    let report = api.get(format!("/rounds/{round}")).by(&world.cast.ann).expect(200).await.json();
    let putting = &report["putting"];
    let shown = page(api, &format!("/rounds/{round}"), &ann).expect(200).await.text();
    holds(&shown, "id=\"holes-t\"");
    // 18 recorded holes: the figure for 18 holes is the card's sum.
    assert_eq!(putting["recorded_holes"], 18);
    let total = format!("all recorded holes</th><td class=\"n\">{}</td>", signed(&putting["strokes_gained"]));
    holds(&shown, &total);
    let putts: usize = report["holes"]
        .as_array()
        .expect("holes")
        .iter()
        .filter_map(|hole| hole["putts"].as_array())
        .map(Vec::len)
        .sum();
    let every = &shown[shown.find("Every recorded putt").expect("the table")..];
    assert_eq!(every[..every.find("</table>").expect("its end")].matches("<tr><th scope=\"row\">").count(), putts);
    let ruling = json!({ "decision": "exclude_round", "reason": "the mat was folded" });
    let path = format!("/rounds/{round}/rulings");
    api.post(path, &ruling).by(&world.cast.olga).matching("*").key(&id()).expect(201).await;
    let shown = page(api, &format!("/rounds/{round}"), &ann).expect(200).await.text();
    assert!(!shown.contains("id=\"holes-t\"") && !shown.contains("Gained</th>"), "{shown}");
}

/// Everything that Ben's browser can show of the league, ids apart.
async fn what_ben_sees(api: &Api, cookie: &str, night: &Night, events: &[String], rounds: &[String]) -> Vec<String> {
    let mut paths = vec![
        format!("/leagues/{}", night.league),
        format!("/leagues/{}/members", night.league),
        format!("/leagues/{}/findings", night.league),
        format!("/seasons/{}", night.season),
        format!("/members/{}", night.ann),
        format!("/members/{}?against=field", night.ann),
        format!("/members/{}", night.ben),
        "/notices".to_owned(),
    ];
    for event in events {
        paths.extend(["", "/board", "/hand-in"].map(|part| format!("/events/{event}{part}")));
    }
    for round in rounds {
        paths.extend(["", "/working"].map(|part| format!("/rounds/{round}{part}")));
    }
    let mut seen = Vec::new();
    for path in paths {
        let text = page(api, &path, cookie).expect(200).await.text();
        let words = text.split_inclusive(|c: char| !c.is_ascii_hexdigit() && c != '-');
        let words = words.map(|word| match word.char_indices().nth(36) {
            Some((end, _)) if word.matches('-').count() == 4 => format!("an id{}", &word[end..]),
            _ => word.to_owned(),
        });
        // A receipt is made of the round's id.
        let words: String = words.collect();
        let parts = words.split("receipt ").enumerate();
        seen.push(parts.map(|(n, part)| if n == 0 { part } else { &part[4..] }).collect());
    }
    seen
}

/// S19, for pages: a league with a finding and its twin without one look alike to an uninvolved member.
#[tokio::test]
async fn an_uninvolved_member_sees_no_trace_of_a_finding() {
    let api = own();
    let cast = api.cast().await;
    let (twins, open) = api.twins(&cast).await;
    let (ben, ann) = (signed_in(&api, &cast.ben.email).await, signed_in(&api, &cast.ann.email).await);
    // The control: to whom it concerns the two look different.
    let mut concerned = Vec::new();
    for Twin { night, .. } in &twins {
        let path = format!("/leagues/{}/findings", night.league);
        concerned.push(page(&api, &path, &ann).expect(200).await.text().matches("short putts helped on line").count());
    }
    assert!(concerned[0] > 0 && concerned[1] == 0, "{concerned:?}");

    let compare = async |when: &str| {
        let mut seen = Vec::new();
        for Twin { night, events, rounds } in &twins {
            seen.push(what_ben_sees(&api, &ben, night, events, rounds).await);
        }
        for (with, without) in seen[0].iter().zip(&seen[1]) {
            assert_eq!(with, without, "{when}: a member sees that there is a finding");
        }
    };
    compare("open").await;
    let absent = page(&api, &format!("/findings/{}", id()), &ben).expect(404).await;
    for found in &open {
        let hidden = page(&api, &format!("/findings/{found}"), &ben).expect(404).await;
        assert_eq!(hidden.text(), absent.text(), "what is hidden looks like what is not there");
        let words = json!({ "text": "I did not know." });
        api.post(format!("/findings/{found}/statements"), &words).by(&cast.ann).key(&id()).expect(201).await;
    }
    compare("answered").await;
    for found in &open {
        let path = format!("/findings/{found}/rulings");
        let ruling = json!({ "decision": "no_action", "reason": "the bay" });
        api.post(path, &ruling).by(&cast.olga).key(&id()).expect(201).await;
    }
    compare("ruled").await;
}
