//! A card from a file: columns and units, rows that cannot be taken, what is remembered, and who may (S19, S21, S25).

use crate::support::browsing::{form, page, pairs, send, signed_in, value};
use crate::support::harness::{Api, Call, Cast, Night, Person, Seen, id, par, shared};
use evenfield::domain::ids::{LeagueId, MemberId};
use evenfield::league::member::file_columns::FileColumns;
use evenfield::storage::file_columns::of_member;
use serde_json::json;

const BOUNDARY: &str = "two-balls-on-one-green";

/// A browser that sends a form with a file from a page of the server. A field named `file` is the file.
fn upload(api: &Api, path: &str, cookie: &str, fields: &[(&str, &str)]) -> Call {
    upload_from(api, path, cookie, fields, "same-origin")
}

fn upload_from(api: &Api, path: &str, cookie: &str, fields: &[(&str, &str)], site: &str) -> Call {
    let mut body = String::new();
    for (name, value) in fields {
        let file = if *name == "file" { "; filename=\"night.csv\"\r\nContent-Type: text/csv" } else { "" };
        body += &format!("--{BOUNDARY}\r\nContent-Disposition: form-data; name=\"{name}\"{file}\r\n\r\n{value}\r\n");
    }
    body += &format!("--{BOUNDARY}--\r\n");
    api.outside("POST", path)
        .with("accept", "text/html")
        .with("cookie", cookie)
        .with("sec-fetch-site", site)
        .raw(&format!("multipart/form-data; boundary={BOUNDARY}"), body.into_bytes())
}

/// Reads what is chosen in a field of a page.
fn chosen(page: &str, name: &str) -> String {
    let Some((_, rest)) = page.split_once(&format!("<select name=\"{name}\"")) else { panic!("no {name} in {page}") };
    let options = rest.split("</select>").next().unwrap_or_default();
    let chosen = options.split("<option value=\"").find(|option| option.contains(" selected"));
    chosen.and_then(|option| option.split('"').next()).unwrap_or_default().to_owned()
}

/// A player before the page of an event.
struct At {
    api: Api,
    cast: Cast,
    night: Night,
    cookie: String,
    path: String,
}

async fn at() -> At {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let cookie = signed_in(&api, &cast.ann.email).await;
    let path = format!("/events/{}/bring-file", night.event);
    At { api, cast, night, cookie, path }
}

impl At {
    async fn send(&self, fields: &[(&str, &str)]) -> String {
        upload(&self.api, &self.path, &self.cookie, fields).expect(200).await.text()
    }

    /// Says what the columns hold, looks at the rows, and then fills the card in; answers both pages.
    async fn fill(&self, text: &str, setup: &str, words: &[&str]) -> (String, String) {
        let first = self.send(&[("setup_id", setup), ("file", text)]).await;
        let columns: Vec<String> = (0..words.len()).map(|n| format!("column_{n}")).collect();
        let cut = value(&first, "cut");
        let mut fields = vec![("setup_id", setup), ("text", text), ("cut", cut.as_str())];
        fields.extend(columns.iter().map(String::as_str).zip(words.iter().copied()));
        let looked = self.send(&[fields.as_slice(), &[("do", "look")]].concat()).await;
        let seen = value(&looked, "seen");
        let filled = self.send(&[fields.as_slice(), &[("seen", seen.as_str()), ("do", "fill")]].concat()).await;
        (looked, filled)
    }

    /// Sends the card that stands on a page, with some fields typed anew.
    async fn hand_in(&self, filled: &str, typed: &[(&str, &str)]) -> Seen {
        let mut fields = Vec::new();
        for name in ["client_round_id", "key", "played_on"] {
            fields.push((name.to_owned(), value(filled, name)));
        }
        for hole in 1..=18 {
            for kind in ["strokes", "putts", "sensor"] {
                let name = format!("{kind}_{hole}");
                let value = value(filled, &name);
                fields.push((name, value));
            }
        }
        fields.push(("setup_id".into(), self.night.setup.clone()));
        fields.push(("outcome".into(), "complete".into()));
        for (name, value) in typed {
            let field = fields.iter_mut().find(|(known, _)| known == name).expect("a field of the card");
            field.1 = (*value).into();
        }
        let path = self.path.replace("bring-file", "hand-in");
        send(&self.api, &path, &self.cookie, &pairs(&fields)).send().await
    }
}

/// A file in metres and m/s with decimal commas: the first hole with two putts, the others with their strokes.
fn metric() -> String {
    let mut text = String::from("\u{feff}Green;Shots;Away;Pace;Off;\"Up; down\"\r\n");
    text += "1;5;9,144;2,682;L 0,8;-10,16\r\n1;5;0,762;;;\r\n";
    for hole in 2..=18 {
        text += &format!("{hole};{};;;;\r\n", par(hole));
    }
    text
}

const METRIC: [&str; 6] = ["hole", "strokes", "distance_m", "speed_mps", "start_right", "rise_cm"];

/// Columns are shown with their first values; what they hold is said with its unit; rows stand as they will be stored;
/// and the round that is handed in has them so.
#[tokio::test]
async fn a_file_fills_the_card_in_our_units() {
    let at = at().await;
    let first = at.send(&[("setup_id", &at.night.setup), ("file", &metric())]).await;
    assert!(first.contains("separator: semicolon") && first.contains("19 rows of 6 columns"), "{first}");
    assert!(first.contains(">Up; down</th>") && first.contains("9,144") && first.contains("L 0,8"), "{first}");
    assert!(first.contains("No column says which hole"), "what is lacking is said: {first}");
    assert!(!first.contains("value=\"fill\""), "nothing to fill in yet");
    let (looked, filled) = at.fill(&metric(), &at.night.setup, &METRIC).await;
    for cell in ["<td>30</td>", "<td>6</td>", "<td>0.8° left</td>", "<td>\u{2212}4</td>", "<td>missed</td>"] {
        assert!(looked.contains(cell), "{cell}: {looked}");
    }
    assert!(looked.contains("19 rows are good.") && looked.contains("Fill in my card"), "{looked}");
    assert_eq!(value(&filled, "strokes_1"), "5");
    assert_eq!(value(&filled, "putts_1"), "30 2.5");
    assert_eq!(value(&filled, "sensor_1"), "6 0.8L - -4");
    assert!(filled.contains("data-brought") && !filled.contains("id=\"faults\""), "{filled}");
    let stored = at.hand_in(&filled, &[("putts_1", "30 2.5c")]).await;
    assert_eq!(stored.status, 303, "{stored}");
    let round = stored.header("location").trim_end_matches("?saved=1").to_owned();
    let round = at.api.get(round).by(&at.cast.ann).expect(200).await.json();
    let due = json!([
        { "distance_ft": 30.0, "elevation_in": -4.0, "ball_speed_mph": 6.0, "start_line_deg": -0.8, "result": "missed" },
        { "distance_ft": 2.5, "result": "conceded", "softened": true },
    ]);
    assert_eq!(round["holes"][0]["putts"], due);
    assert_eq!(round["gross"], 73);
    assert_eq!(round["setup_id"], at.night.setup.as_str());
    assert_eq!(round["holes"][1].get("putts"), None);
    // The same card once more counts once.
    at.hand_in(&filled, &[("putts_1", "30 2.5c")]).await;
    assert_eq!(at.api.rounds(&at.night.event, &at.cast.ann).await, 1);
}

/// Each bad row is named with its reason; the good ones are filled in if the player says so; a card with a bad row in it
/// cannot be handed in before it is put right.
#[tokio::test]
async fn bad_rows_are_named_and_hold_the_card_back() {
    let at = at().await;
    let mut text = String::from("hole,strokes,distance_ft,putt_count,ball_speed_mph\n");
    text += "1,4,thirty,,5.1\n1,4,3,,\n2,5,20,,900\n2,5,2,,\n99,4,,2,\n3,x,,2,\n4,4,,2\n";
    text += &(5..=18).map(|hole| format!("{hole},{},,2,\n", par(hole))).collect::<String>();
    let words = ["hole", "strokes", "distance_ft", "putt_count", "speed_mph"];
    let (looked, filled) = at.fill(&text, "", &words).await;
    for reason in [
        "Row 2: “thirty” under distance_ft is no distance in that unit of more than 0 and at most 200 ft",
        "Row 4: “900” under ball_speed_mph is no speed in that unit of more than 0 and at most 40 mph",
        "Row 6: “99” under hole is no hole number from 1 to 18",
        "Row 7: “x” under strokes is no number of strokes",
        "Row 8: 4 cells under 5 columns",
        "16 rows are good, 5 are not.",
        "Import the good rows",
        "Cancel",
    ] {
        assert!(looked.contains(reason), "{reason}: {looked}");
    }
    assert_eq!((value(&filled, "putts_1"), value(&filled, "strokes_1")), ("? 3".into(), "4".into()));
    assert_eq!((value(&filled, "putts_2"), value(&filled, "sensor_2")), ("20 2".into(), "?".into()));
    assert_eq!((value(&filled, "strokes_3"), value(&filled, "putts_3")), ("?".into(), "2 putts".into()));
    assert_eq!((value(&filled, "strokes_4"), value(&filled, "putts_18")), (String::new(), "2 putts".into()));
    assert!(filled.contains("id=\"fault_1\">row 2: “thirty”"), "the reason stands beside its hole: {filled}");
    assert!(filled.contains("Row 6 of the file belongs to no hole"), "{filled}");
    let held = at.hand_in(&filled, &[]).await;
    assert_eq!(held.status, 422, "{held}");
    assert!(held.text().contains("&#34;?&#34; is no distance"), "{held}");
    assert_eq!(at.api.rounds(&at.night.event, &at.cast.ann).await, 0, "nothing was stored");
    let right = [("putts_1", "30 3"), ("sensor_2", ""), ("strokes_3", "3"), ("strokes_4", "4"), ("putts_4", "2 putts")];
    let stored = at.hand_in(&filled, &right).await;
    assert_eq!(stored.status, 303, "{stored}");
}

/// A putt that was missed with none after it is filled in as missed, which holds the card back.
#[tokio::test]
async fn a_miss_without_a_putt_after_it_is_asked_about() {
    let at = at().await;
    let mut text = String::from("hole,strokes,distance_ft,result\n1,4,31,missed\n");
    text += &(2..=18).map(|hole| format!("{hole},{},,\n", par(hole))).collect::<String>();
    let (looked, filled) = at.fill(&text, "", &["hole", "strokes", "distance_ft", "result"]).await;
    assert!(looked.contains("Hole 1: row 2: missed, and no putt of the hole follows"), "{looked}");
    assert_eq!(value(&filled, "putts_1"), "31m");
    let held = at.hand_in(&filled, &[]).await;
    assert!(held.status == 422 && held.text().contains("The last putt of a hole must be holed or a gimme"), "{held}");
    assert_eq!(at.hand_in(&filled, &[("putts_1", "31 2c")]).await.status, 303);
}

/// What was said of the columns is remembered for that member and set-up, and for nobody else.
#[tokio::test]
async fn columns_are_remembered_for_a_set_up_of_one_member() {
    let at = at().await;
    at.fill(&metric(), &at.night.setup, &METRIC).await;
    let again = at.send(&[("setup_id", &at.night.setup), ("file", &metric())]).await;
    assert!(again.contains("as you chose last time") && again.contains("19 rows are good."), "{again}");
    let shown: Vec<String> = (0..6).map(|n| chosen(&again, &format!("column_{n}"))).collect();
    assert_eq!(shown, METRIC);
    // Another order of the columns, and one more: names are what counts.
    let moved = "Away;Green;Note;Shots;Pace;Off;Up; down\n";
    assert!(!at.send(&[("setup_id", &at.night.setup), ("file", moved)]).await.contains("as you chose last time"));
    let moved = "Away;Green;Note;Shots;Pace;Off;\"Up; down\"\n9,144;1;a note;5;;;\n";
    let moved = at.send(&[("setup_id", &at.night.setup), ("file", moved)]).await;
    assert_eq!(
        [chosen(&moved, "column_0"), chosen(&moved, "column_1"), chosen(&moved, "column_2")],
        ["distance_m", "hole", ""]
    );
    let without = at.send(&[("setup_id", ""), ("file", &metric())]).await;
    assert_eq!(chosen(&without, "column_0"), "", "nothing is remembered without a set-up");
    // The set-up is shared, what Ann said of it is not.
    let ben = signed_in(&at.api, &at.cast.ben.email).await;
    let fields = [("setup_id", at.night.setup.as_str()), ("file", &metric())];
    let seen = upload(&at.api, &at.path, &ben, &fields).expect(200).await.text();
    assert_eq!(chosen(&seen, "column_0"), "");
    let held = |person: &Person, member: &str| at.api.get(format!("/members/{member}/export")).by(person).expect(200);
    let mine = held(&at.cast.ann, &at.night.ann).await.json();
    assert_eq!(mine["file_columns"][0]["columns"][2], json!({ "name": "Away", "meaning": "distance_m" }));
    assert_eq!(held(&at.cast.ben, &at.night.ben).await.json()["file_columns"], json!([]));
    assert_eq!(kept(&at).await, 1);
    let member = at.api.get(format!("/members/{}", at.night.ann)).by(&at.cast.ann).expect(200).await;
    at.api.delete(format!("/members/{}", at.night.ann)).by(&at.cast.olga).matching(&member.etag()).expect(204).await;
    assert_eq!(kept(&at).await, 0, "nothing is kept of a member who was erased");
}

/// Counts the set-ups for which something is remembered of Ann.
async fn kept(at: &At) -> usize {
    let (league, ann) = (at.night.league.parse().map(LeagueId), at.night.ann.parse().map(MemberId));
    let mut conn = at.api.server.app.leagues.database.reader().await.expect("a reader");
    let all = of_member::<FileColumns>(&mut conn, league.expect("an id"), ann.expect("an id")).await;
    all.expect("rows that can be read").len()
}

/// Whoever keeps scores brings a file to another's card, on a set-up of that player's; a player to an own card alone.
#[tokio::test]
async fn a_scorer_brings_a_file_for_somebody_else() {
    let At { api, cast, night, path, .. } = at().await;
    let garage = json!({ "label": "Ann's garage", "sensor": "radar", "shared": false, "notes": "" });
    let setups = format!("/leagues/{}/setups", night.league);
    let garage = api.post(setups, &garage).by(&cast.ann).key(&id()).expect(201).await.id();
    let (ben, sam) = (signed_in(&api, &cast.ben.email).await, signed_in(&api, &cast.sam.email).await);
    let card = format!("/events/{}/hand-in?member={}", night.event, night.ann);
    let path = format!("{path}?member={}", night.ann);
    let link = format!("href=\"{path}\"");
    assert!(
        !page(&api, &card, &ben).expect(200).await.text().contains("bring-file"),
        "a player proposes a card by hand"
    );
    assert!(page(&api, &card, &sam).expect(200).await.text().contains(&link));
    page(&api, &path, &ben).expect(403).await;
    upload(&api, &path, &ben, &[("pasted", "hole,strokes\n1,4\n")]).expect(403).await;
    let picked = page(&api, &path, &sam).expect(200).await.text();
    assert!(picked.contains("Import Ann’s card from a file") && picked.contains("garage"), "{picked}");
    let refused = upload(&api, &path, &sam, &[("setup_id", &id()), ("pasted", "1,4")]).expect(422).await.text();
    assert!(refused.contains("this simulator is not Ann’s: choose another"), "{refused}");

    let sam_at = At { cookie: sam, path: path.clone(), api, cast, night };
    let (looked, filled) = sam_at.fill(&metric(), &garage, &METRIC).await;
    assert!(looked.contains(&format!("action=\"{path}\"")) && looked.contains("Fill in the card"), "{looked}");
    assert!(filled.contains("Card of Ann") && filled.contains(&format!("action=\"{card}\"")), "{filled}");
    assert_eq!(kept(&sam_at).await, 0, "what the scorer said of the columns is not Ann's");
    let again = sam_at.send(&[("setup_id", &garage), ("file", &metric())]).await;
    assert!(again.contains("as you chose last time"), "it is remembered for the scorer: {again}");
    let stored = sam_at.hand_in(&filled, &[("putts_1", "30 2.5c"), ("setup_id", &garage)]).await;
    assert_eq!(stored.status, 303, "{stored}");
    let round = stored.header("location").trim_end_matches("?saved=1").to_owned();
    let round = sam_at.api.get(round).by(&sam_at.cast.ann).expect(200).await.json();
    assert_eq!((&round["member_id"], &round["state"]), (&json!(sam_at.night.ann), &json!("submitted")));
    assert_eq!((&round["setup_id"], &round["gross"]), (&json!(garage), &json!(73)));
}

/// Somebody else's set-up is refused, and nothing is said or kept of it.
#[tokio::test]
async fn anothers_set_up_is_refused() {
    let at = at().await;
    let path = format!("/leagues/{}/setups", at.night.league);
    let garage = json!({ "label": "Ben's garage", "sensor": "radar", "shared": false, "notes": "" });
    let garage = at.api.post(path, &garage).by(&at.cast.ben).key(&id()).expect(201).await.id();
    for setup in [garage.as_str(), &id(), "no id"] {
        let fields = [("setup_id", setup), ("file", &metric())];
        let refused = upload(&at.api, &at.path, &at.cookie, &fields).expect(422).await.text();
        assert!(
            refused.contains("this simulator is not yours: choose another") && !refused.contains("garage"),
            "{refused}"
        );
    }
}

/// What the rows are taken for was looked at: another meaning, another round or another cut shows them again first.
#[tokio::test]
async fn nothing_is_filled_in_unseen() {
    let at = at().await;
    let text = "day,hole,ft\nMon,1,31\nTue,1,8\n";
    let words = [("column_0", "round"), ("column_1", "hole"), ("column_2", "distance_ft")];
    let base = [("text", text), ("cut", "comma true")];
    let looked = at.send(&[&base[..], &words[..]].concat()).await;
    assert!(looked.contains("<td>8</td>") && !looked.contains("<td>31</td>"), "the last round is taken: {looked}");
    let seen = value(&looked, "seen");
    let fill = |more: &[(&'static str, &'static str)]| {
        let seen = [("seen", seen.as_str()), ("do", "fill")];
        let fields: Vec<(&str, &str)> = [more, &base[..], &words[..], &seen[..]].concat();
        let call = upload(&at.api, &at.path, &at.cookie, &fields);
        async move { call.expect(200).await.text() }
    };
    let other = fill(&[("round", "Mon")]).await;
    assert!(other.contains("Check the rows again") && other.contains("<td>31</td>"), "{other}");
    assert!(fill(&[("column_2", "distance_m")]).await.contains("Check the rows again"));
    let cut = fill(&[("separator", "semicolon")]).await;
    assert!(cut.contains("separator: semicolon") && !cut.contains("id=\"card\""), "{cut}");
    assert_eq!(value(&fill(&[]).await, "putts_1"), "8");
}

/// Files that are none, too large or too wide are refused with the reason; so is whoever may not.
#[tokio::test]
async fn what_is_no_file_of_rows_is_refused() {
    let at = at().await;
    let long = "1,2\n".repeat(70_000);
    let wide = format!("1{}\n", ",2".repeat(70));
    for (file, reason) in [
        ("", "choose a file, or paste its text"),
        (" \n", "the file is empty"),
        ("PK\u{3}\u{4}\0\0", "the file is not plain text"),
        (&long, "the file has more than 256 kB"),
        (&wide, "row 1 has more than 60 columns"),
    ] {
        let refused = upload(&at.api, &at.path, &at.cookie, &[("file", file)]).expect(422).await.text();
        assert!(refused.contains(reason) && refused.contains("aria-describedby=\"fault\""), "{reason}: {refused}");
    }
    let pasted = at.send(&[("file", ""), ("pasted", "hole,strokes\n1,4\n")]).await;
    assert!(
        pasted.contains("1 row is good.") && chosen(&pasted, "column_0") == "hole",
        "own names are known: {pasted}"
    );
    let marked = at.send(&[("pasted", "hole,<b>x</b>\n1,<i>\n")]).await;
    assert!(!marked.contains("<b>x") && !marked.contains("<i>"), "cells are text (S24): {marked}");
    let huge = "x".repeat(700_000);
    upload(&at.api, &at.path, &at.cookie, &[("file", &huge)]).expect(413).await;
    send(&at.api, &at.path, &at.cookie, &[("pasted", "1,2")]).expect(415).await;
    let broken = at.api.outside("POST", &at.path).with("cookie", &at.cookie).with("accept", "text/html");
    let broken = broken.with("sec-fetch-site", "same-origin").raw("multipart/form-data; boundary=x", "--x\r\nno");
    broken.expect(400).await;
}

/// S21 and membership: another site, a stranger and nobody get nothing.
#[tokio::test]
async fn only_a_member_from_our_own_pages_brings_a_file() {
    let at = at().await;
    let cross = form(&at.api, &at.path, &[]).with("cookie", &at.cookie).with("sec-fetch-site", "cross-site");
    cross.expect(403).await;
    let fields = [("pasted", "hole,strokes\n1,4\n")];
    for site in ["cross-site", "same-site", "none"] {
        upload_from(&at.api, &at.path, &at.cookie, &fields, site).expect(403).await;
    }
    let otto = signed_in(&at.api, &at.cast.otto.email).await;
    upload(&at.api, &at.path, &otto, &fields).expect(404).await;
    page(&at.api, &at.path, &otto).expect(404).await;
    page(&at.api, &at.path, "").expect(303).await;
    let shown = page(&at.api, &at.path, &at.cookie).expect(200).await.text();
    assert!(shown.contains("enctype=\"multipart/form-data\"") && shown.contains("Bay 1"), "{shown}");
}

/// Numbers of a sensor are typed on the card, come back with it, and are refused by name.
#[tokio::test]
async fn sensor_numbers_stand_on_the_card() {
    let at = at().await;
    let path = format!("/events/{}/hand-in", at.night.event);
    let card = page(&at.api, &path, &at.cookie).expect(200).await.text();
    let strokes: Vec<(String, String)> =
        (1..=18).map(|hole| (format!("strokes_{hole}"), par(hole).to_string())).collect();
    let mut typed = pairs(&strokes);
    typed.extend([("putts_1", "31 2.5c"), ("putts_2", "2 putts"), ("sensor_1", "6,1 fast 0.7L -4")]);
    let refused = at.hand_in(&card, &typed).await;
    assert!(refused.status == 422 && refused.text().contains("&#34;fast&#34; is not the start line"), "{refused}");
    typed.last_mut().expect("a field").1 = "50";
    let refused = at.hand_in(&card, &typed).await;
    assert!(refused.status == 422 && refused.text().contains("at most 40"), "the limit is named: {refused}");
    typed.last_mut().expect("a field").1 = "6,1 0.8L 0.7L -4; 2";
    let stored = at.hand_in(&card, &typed).await;
    assert_eq!(stored.status, 303, "{stored}");
    let round = stored.header("location").trim_end_matches("?saved=1").to_owned();
    let round = at.api.get(round).by(&at.cast.ann).expect(200).await.json();
    let due = json!({ "distance_ft": 31.0, "elevation_in": -4.0, "ball_speed_mph": 6.1, "start_line_deg": -0.8,
        "played_line_deg": -0.7, "result": "missed" });
    assert_eq!(round["holes"][0]["putts"][0], due);
    assert_eq!(round["holes"][1]["putt_count"], 2);
    let back = page(&at.api, &path, &at.cookie).expect(200).await.text();
    assert_eq!(value(&back, "sensor_1"), "6.1 0.8L 0.7L -4; 2");
    assert_eq!((value(&back, "putts_1"), value(&back, "putts_2")), ("31 2.5c".into(), "2 putts".into()));
    // Where other numbers were stored meanwhile, they stand beside what was typed, also of a hole that differs in them alone.
    typed.last_mut().expect("a field").1 = "6,1 0.8L 0.7L -4; 3";
    let fields = ["client_round_id", "key", "played_on"].map(|name| (name, value(&back, name)));
    let mut sent: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    sent.extend([("version", "7"), ("outcome", "complete"), ("setup_id", at.night.setup.as_str())]);
    let stale = send(&at.api, &path, &at.cookie, &[sent.as_slice(), &typed].concat()).expect(412).await.text();
    let row = "<tr><th scope=\"row\">1</th><td class=\"n\">4</td><td>31 2.5c</td><td>6.1 0.8L 0.7L -4; 2</td></tr>";
    assert!(stale.contains(row) && stale.contains("Sensor: speed"), "{stale}");
    assert_eq!(value(&stale, "sensor_1"), "6,1 0.8L 0.7L -4; 3", "what was typed stays");
}
