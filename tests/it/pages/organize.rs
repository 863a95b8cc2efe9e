//! What an organizer typed is changed and deleted on pages, without script.

use crate::support::browsing::{page, pairs, send, signed_in, value};
use crate::support::harness::{Api, Cast, Night, id, round, shared};
use serde_json::{Value, json};

async fn start() -> (Api, Cast, Night, String) {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let olga = signed_in(&api, &cast.olga.email).await;
    (api, cast, night, olga)
}

/// The fields of the form of a page as a browser sends them, with some filled in otherwise.
fn filled(shown: &str, changes: &[(&str, &str)]) -> Vec<(String, String)> {
    let form = shown.split("<form class=\"fields\"").nth(1).expect("a form").split("</form>").next().expect("its end");
    let mut fields: Vec<(String, String)> = Vec::new();
    for tag in form.split('<').filter(|tag| tag.contains(" name=\"")) {
        let Some(name) = crate::support::browsing::attribute(tag, "name") else { continue };
        let plain = |text: &str| text.replace("&#39;", "'").replace("&#34;", "\"").replace("&#38;", "&");
        let stands = if tag.starts_with("select") {
            let options = form.split(&format!("name=\"{name}\"")).nth(1).expect("it").split("</select>").next();
            let chosen = options.expect("options").split("<option").find(|option| option.contains(" selected"));
            crate::support::browsing::attribute(chosen.expect("one is chosen"), "value").expect("a value")
        } else if tag.starts_with("textarea") {
            plain(tag.split_once('>').expect("a text").1).replace('\n', "\r\n")
        } else {
            value(form, &name)
        };
        fields.push((name, stands));
    }
    for (name, value) in changes {
        let field = fields.iter_mut().find(|(known, _)| known == name);
        field.unwrap_or_else(|| panic!("no field {name} in {form}")).1 = (*value).into();
    }
    fields
}

/// Opens the form of a page, changes some fields and sends it; returns where that leads.
async fn edit(api: &Api, cookie: &str, path: &str, changes: &[(&str, &str)]) -> String {
    let shown = page(api, path, cookie).expect(200).await.text();
    let fields = filled(&shown, changes);
    let to = path.split('?').next().expect("an address");
    send(api, to, cookie, &pairs(&fields)).expect(303).await.header("location").to_owned()
}

async fn read(api: &Api, cast: &Cast, path: &str) -> Value {
    api.get(path).by(&cast.olga).expect(200).await.json()
}

/// Every field that scripts can change is changed on a page; what was not touched stays to the second.
#[tokio::test]
async fn everything_that_was_typed_can_be_changed() {
    let (api, cast, night, olga) = start().await;
    let league = format!("/leagues/{}", night.league);
    let to =
        edit(&api, &olga, &format!("{league}/edit"), &[("name", "Heron League"), ("time_zone", "Asia/Tokyo")]).await;
    assert_eq!(to, format!("{league}/organize"));
    let stored = read(&api, &cast, &league).await;
    assert_eq!((&stored["name"], &stored["time_zone"]), (&json!("Heron League"), &json!("Asia/Tokyo")));

    let member = format!("/members/{}", night.ann);
    let changes = [("display_name", "Ann Fern"), ("starting_handicap", "+2,8"), ("role", "scorer"), ("flight", "A")];
    edit(&api, &olga, &format!("{member}/edit"), &changes).await;
    let stored = read(&api, &cast, &member).await;
    assert_eq!((&stored["display_name"], &stored["starting_handicap"]), (&json!("Ann Fern"), &json!(-2.8)));
    assert_eq!((&stored["role"], &stored["flight"]), (&json!("scorer"), &json!("A")));
    let shown = page(&api, &format!("{member}/edit"), &olga).expect(200).await.text();
    assert_eq!(value(&shown, "starting_handicap"), "+2.8");
    edit(&api, &olga, &format!("{member}/edit"), &[("starting_handicap", ""), ("flight", "")]).await;
    let stored = read(&api, &cast, &member).await;
    assert_eq!((&stored["starting_handicap"], &stored["flight"]), (&Value::Null, &Value::Null));

    let setup = format!("/setups/{}", night.setup);
    let changes = [("label", "Bay 7"), ("sensor", "radar"), ("shared", "false"), ("softening_radius_ft", "")];
    edit(&api, &olga, &format!("{setup}/edit"), &changes).await;
    edit(&api, &olga, &format!("{setup}/edit"), &[("notes", "left wall\r\nnew mat")]).await;
    let stored = read(&api, &cast, &setup).await;
    assert_eq!(
        (&stored["label"], &stored["sensor"], &stored["shared"]),
        (&json!("Bay 7"), &json!("radar"), &json!(false))
    );
    assert_eq!((&stored["softening_radius_ft"], &stored["notes"]), (&Value::Null, &json!("left wall\nnew mat")));

    let course = format!("/courses/{}", night.course);
    edit(&api, &olga, &format!("{course}/edit"), &[("name", "Mill Ponds")]).await;
    let tee = format!("{course}/tee?tee={}", night.tee);
    edit(&api, &olga, &tee, &[("tee_name", "Blue"), ("course_rating", "71,5"), ("back_slope", "120")]).await;
    let holes = [("pars", "4 4 4 4 4 4 4 4 4"), ("stroke_indexes", "1 2 3 4 5 6 7 8 9")];
    let added = [("tee_name", "Red"), ("course_rating", "34"), ("slope_rating", "100"), holes[0], holes[1]];
    edit(&api, &olga, &format!("{course}/tee"), &added).await;
    let stored = read(&api, &cast, &course).await;
    let tees = &stored["tees"];
    assert_eq!(
        (&stored["name"], &tees[0]["id"], &tees[0]["name"]),
        (&json!("Mill Ponds"), &json!(night.tee), &json!("Blue"))
    );
    assert_eq!((&tees[0]["course_rating"], &tees[0]["nines"][1]["slope_rating"]), (&json!(71.5), &json!(120)));
    assert_eq!((&tees[0]["holes"][17]["par"], &tees[2]["name"]), (&json!(4), &json!("Red")));

    let season = format!("/seasons/{}", night.season);
    let changes = [
        ("name", "Long winter"),
        ("ends_on", "2027-05-31"),
        ("concession_ft", "2.5"),
        ("query_hours", "24"),
        ("flights", "A = 9.9\r\nB"),
        ("softened_putts", "leave_out"),
        ("answer_days", "10"),
    ];
    edit(&api, &olga, &format!("{season}/edit"), &changes).await;
    let stored = read(&api, &cast, &season).await;
    let flights = json!([{ "name": "A", "handicap_max": 9.9 }, { "name": "B", "handicap_max": null }]);
    assert_eq!(
        (&stored["ends_on"], &stored["concession_ft"], &stored["flights"]),
        (&json!("2027-05-31"), &json!(2.5), &flights)
    );
    let audit = json!({ "false_alarm_pct": 5.0, "field_size": 200, "answer_days": 10, "softened_putts": "leave_out" });
    assert_eq!((&stored["query_hours"], &stored["audit"]), (&json!(24), &audit));

    let odd = json!({ "opens_at": "2027-01-14T17:00:21Z" });
    let event = format!("/events/{}", api.event(&cast, &night, odd).await);
    let changes = [
        ("name", "Third night"),
        ("stimp_ft", "11"),
        ("closes_at", "2027-01-15T08:30"),
        ("playing_conditions", "1"),
        ("tees", "B = Mill Ponds, Blue\r\nann fern = mill ponds, blue"),
    ];
    edit(&api, &olga, &format!("{event}/edit"), &changes).await;
    let stored = read(&api, &cast, &event).await;
    assert_eq!((&stored["name"], &stored["stimp_ft"]), (&json!("Third night"), &json!(11.0)));
    // 08:30 in Tokyo; the opening was not touched and keeps the seconds that the form does not show.
    assert_eq!(
        (&stored["closes_at"], &stored["opens_at"]),
        (&json!("2027-01-14T23:30:00Z"), &json!("2027-01-14T17:00:21Z"))
    );
    let tees = json!([{ "tee_id": night.tee, "flight": "B" }, { "tee_id": night.tee, "member_id": night.ann }]);
    assert_eq!((&stored["playing_conditions"], &stored["tees"]), (&json!(1), &tees));
    let shown = page(&api, &format!("{event}/edit"), &olga).expect(200).await.text();
    assert!(shown.contains("B = Mill Ponds, Blue\nAnn Fern = Mill Ponds, Blue</textarea>"), "{shown}");
    assert!(
        api.server
            .app
            .leagues
            .verify()
            .await
            .expect("verify runs")
            .differences
            .iter()
            .all(|text| !text.contains(&night.league))
    );
}

/// A form that is refused says so under its own labels and keeps what was typed; one from a page that is out of date
/// shows both, and replaces what is stored only when it is sent again.
#[tokio::test]
async fn a_refused_change_keeps_what_was_typed() {
    let (api, cast, night, olga) = start().await;
    let refused = |path: String, changes: Vec<(&'static str, &'static str)>| {
        let (api, olga) = (api.clone(), olga.clone());
        async move {
            let shown = page(&api, &path, &olga).expect(200).await.text();
            let to = path.split('?').next().expect("an address");
            send(&api, to, &olga, &pairs(&filled(&shown, &changes))).expect(422).await.text()
        }
    };
    let season = format!("/seasons/{}/edit", night.season);
    let told =
        refused(season, vec![("query_hours", "9999"), ("flights", "A = x\nA"), ("starts_on", "2028-01-01")]).await;
    for said in ["Hours in which a card can be queried must be", "href=\"#flights\"", "href=\"#query_hours\"", "A = x"]
    {
        assert!(told.contains(said), "{said} is missing: {told}");
    }
    let tee = format!("/courses/{}/tee?tee={}", night.course, night.tee);
    let told = refused(tee.clone(), vec![("slope_rating", "40"), ("back_rating", "95"), ("front_slope", "10")]).await;
    for said in ["href=\"#slope_rating\"", "href=\"#back_rating\"", "href=\"#front_slope\"", "value=\"95\""] {
        assert!(told.contains(said), "{said} is missing: {told}");
    }
    // The back nine alone is told under its own label, too.
    let told = refused(tee, vec![("front_rating", ""), ("front_slope", ""), ("back_rating", "95")]).await;
    assert!(told.contains("href=\"#back_rating\"") && !told.contains("href=\"#front_rating\""), "{told}");
    let event = format!("/events/{}/edit", night.event);
    let told = refused(event, vec![("tees", "Nobody = Mill Pond, White")]).await;
    assert!(told.contains("no player and no flight is called Nobody") && told.contains("href=\"#tees\""), "{told}");
    let member = format!("/members/{}/edit", night.ann);
    let told = refused(member, vec![("starting_handicap", "ninety"), ("start_from", "soon")]).await;
    assert!(told.contains("href=\"#start_from\"") && told.contains("ninety"), "{told}");

    let path = format!("/seasons/{}/edit", night.season);
    let shown = page(&api, &path, &olga).expect(200).await.text();
    edit(&api, &olga, &path, &[("name", "Autumn")]).await;
    let fields = filled(&shown, &[("name", "Spring")]);
    let stale = send(&api, &path, &olga, &pairs(&fields)).expect(412).await.text();
    assert!(stale.contains("Stored now: Autumn.") && value(&stale, "name") == "Spring", "{stale}");
    assert_eq!(read(&api, &cast, &format!("/seasons/{}", night.season)).await["name"], "Autumn");
    send(&api, &path, &olga, &pairs(&filled(&stale, &[]))).expect(303).await;
    assert_eq!(read(&api, &cast, &format!("/seasons/{}", night.season)).await["name"], "Spring");
    // Sent twice it is done once.
    send(&api, &path, &olga, &pairs(&filled(&stale, &[]))).expect(303).await;
}

/// Another starting handicap that moves rows of a table says so first.
#[tokio::test]
async fn a_handicap_that_moves_the_table_is_asked_about() {
    let (api, cast, night, olga) = start().await;
    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let path = format!("/members/{}/edit", night.ann);
    let shown = page(&api, &path, &olga).expect(200).await.text();
    let fields = filled(&shown, &[("starting_handicap", "20"), ("start_from", "2027-01-01")]);
    let asked = send(&api, &path, &olga, &pairs(&fields)).expect(200).await.text();
    assert!(asked.contains("Ann: place 1, total 36 becomes place 1, total 55."), "{asked}");
    let stored = || async { read(&api, &cast, &format!("/members/{}", night.ann)).await["starting_handicap"].clone() };
    assert_eq!(stored().await, Value::Null);
    let mut fields = filled(&asked, &[]);
    fields.push(("seen".into(), "yes".into()));
    send(&api, &path, &olga, &pairs(&fields)).expect(303).await;
    assert_eq!(stored().await, 20.0);
}

/// What has no cards is deleted after a question; what has is kept, and the page says why.
#[tokio::test]
async fn what_has_no_cards_can_be_deleted() {
    let (api, cast, night, olga) = start().await;
    let league = format!("/leagues/{}", night.league);
    let yes = [("seen", "yes")];
    let kept = |path: String, why: &'static str| {
        let (api, olga) = (api.clone(), olga.clone());
        async move {
            send(&api, &path, &olga, &[]).expect(200).await;
            let told = send(&api, &path, &olga, &yes).send().await;
            assert!((400..500).contains(&told.status) && told.text().to_lowercase().contains(why), "{path}: {told}");
        }
    };
    let mut card = round(&night.ann);
    card["setup_id"] = json!(night.setup);
    let card = api.hand_in(&night.event, &cast.ann, &card).await;
    api.delete(format!("/rounds/{}", card.id())).by(&cast.ann).matching("*").expect(204).await;
    kept(format!("/courses/{}/removal", night.course), "is played from a tee of this course").await;
    kept(format!("/courses/{}/tee/removal?tee={}", night.course, night.tee), "is played from a tee of this course")
        .await;
    kept(format!("/setups/{}/removal", night.setup), "cards or practice were played").await;
    kept(format!("/seasons/{}/removal", night.season), "has cards").await;
    // A tee that nobody plays from goes, and the course keeps the other.
    let at = format!("/courses/{}/tee/removal?tee={}", night.course, night.nine_tee);
    for _ in 0..2 {
        send(&api, &at, &olga, &yes).expect(303).await;
    }
    assert_eq!(
        read(&api, &cast, &format!("/courses/{}", night.course)).await["tees"].as_array().map(Vec::len),
        Some(1)
    );

    let create =
        |kind: &str, body: Value| api.post(format!("{league}/{kind}"), &body).by(&cast.olga).key(&id()).expect(201);
    let course = create("courses", crate::support::harness::course()).await.id();
    let setup = create("setups", json!({ "label": "Den", "sensor": "other" })).await.id();
    let season = create("seasons", crate::support::harness::season()).await.id();
    let spare = Night { season: season.clone(), ..night };
    let event = api.event(&cast, &spare, json!({ "name": "A trial" })).await;
    let carried = json!({ "member_id": spare.ann, "label": "Autumn", "value": 3, "source": "a sheet" });
    api.post(format!("/seasons/{season}/carried-results"), &carried).by(&cast.olga).key(&id()).expect(201).await;
    api.patch(format!("/seasons/{season}"), &json!({ "name": "Trials" }))
        .by(&cast.olga)
        .matching("*")
        .expect(200)
        .await;
    let asked = send(&api, &format!("/seasons/{season}/removal"), &olga, &[]).expect(200).await.text();
    assert!(asked.contains("Delete the season Trials?") && asked.contains("Its events: A trial."), "{asked}");
    let ben = signed_in(&api, &cast.ben.email).await;
    for path in [format!("/courses/{course}"), format!("/setups/{setup}"), format!("/seasons/{season}")] {
        send(&api, &format!("{path}/removal"), &ben, &yes).expect(403).await;
        send(&api, &format!("{path}/removal"), &olga, &yes).expect(303).await;
        api.get(&path).by(&cast.olga).expect(404).await;
    }
    api.get(format!("/events/{event}")).by(&cast.olga).expect(404).await;
    let verified = api.server.app.leagues.verify().await.expect("verify runs");
    let here: Vec<_> = verified.differences.iter().filter(|text| text.contains(&spare.league)).collect();
    assert!(here.is_empty(), "{here:#?}");
}

/// The owner of a simulator changes it; a player changes nobody else's, and organizes nothing.
#[tokio::test]
async fn players_change_their_own_simulators_alone() {
    let (api, cast, night, olga) = start().await;
    let (ann, ben) = (signed_in(&api, &cast.ann.email).await, signed_in(&api, &cast.ben.email).await);
    edit(&api, &ann, &format!("/setups/{}/edit", night.setup), &[("label", "Ann’s bay")]).await;
    let list = format!("/leagues/{}/setups", night.league);
    let shown = page(&api, &list, &ben).expect(200).await.text();
    assert!(shown.contains("Ann’s bay") && !shown.contains(&format!("/setups/{}/edit", night.setup)), "{shown}");
    edit(&api, &ben, &format!("{list}/new"), &[("label", "Ben’s garage"), ("sensor", "camera")]).await;
    assert!(page(&api, &list, &olga).expect(200).await.text().contains("Ben’s garage"));
    for path in [
        format!("/setups/{}/edit", night.setup),
        format!("/leagues/{}/edit", night.league),
        format!("/members/{}/edit", night.ben),
        format!("/courses/{}/edit", night.course),
        format!("/courses/{}/tee", night.course),
        format!("/seasons/{}/edit", night.season),
        format!("/events/{}/edit", night.event),
    ] {
        page(&api, &path, &ben).expect(403).await;
        send(&api, &path, &ben, &[("name", "Mine"), ("display_name", "Mine")]).expect(403).await;
    }
    let shown = page(&api, &format!("/courses/{}", night.course), &ben).expect(200).await.text();
    assert!(shown.contains("Mill Pond") && !shown.contains("/tee?tee="), "{shown}");
}

/// A roster player is invited from the own record, and joins as that record.
#[tokio::test]
async fn a_roster_player_is_invited_to_the_own_record() {
    let (api, cast, night, olga) = start().await;
    let path = format!("/leagues/{}/members", night.league);
    let made = api.post(path, &json!({ "display_name": "Ivo Fern" })).by(&cast.olga).key(&id()).expect(201).await.id();
    let shown = page(&api, &format!("/members/{made}"), &olga).expect(200).await.text();
    let form = shown.split("/invitations\"").nth(1).expect("the button");
    let fields = ["key", "role", "member"].map(|name| (name, value(form, name)));
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let at = format!("/leagues/{}/invitations", night.league);
    let invited = send(&api, &at, &olga, &fields).expect(200).await.text();
    assert!(invited.contains("Invitation as player, Ivo Fern"), "{invited}");
    let code = invited.split("<code>").nth(1).and_then(|rest| rest.split('<').next()).expect("a code").to_owned();
    let ivo = signed_in(&api, &cast.otto.email).await;
    send(&api, "/join", &ivo, &[("code", &code)]).expect(303).await;
    assert_eq!(read(&api, &cast, &format!("/members/{made}")).await["has_account"], true);
    let shown = page(&api, &format!("/members/{made}"), &olga).expect(200).await.text();
    assert!(!shown.contains("no account yet"), "{shown}");
    let refused = send(&api, &at, &olga, &[("role", "player"), ("member", &made), ("key", &id())]).expect(409).await;
    assert!(refused.text().contains("already belongs to an account"), "{refused}");
}

/// Last week's night is copied, and a season, after a look at the dates.
#[tokio::test]
async fn a_night_and_a_season_are_copied() {
    let (api, cast, night, olga) = start().await;
    let copied = |path: String, changes: Vec<(&'static str, &'static str)>, said: Vec<&'static str>| {
        let (api, olga) = (api.clone(), olga.clone());
        async move {
            let shown = page(&api, &path, &olga).expect(200).await.text();
            let asked = send(&api, &path, &olga, &pairs(&filled(&shown, &changes))).expect(200).await.text();
            for said in said {
                assert!(asked.contains(said), "{said} is missing: {asked}");
            }
            let mut fields = filled(&asked, &[]);
            fields.push(("seen".into(), "yes".into()));
            let first = send(&api, &path, &olga, &pairs(&fields)).expect(303).await.header("location").to_owned();
            let again = send(&api, &path, &olga, &pairs(&fields)).expect(303).await.header("location").to_owned();
            assert_eq!(first, again, "sent twice it is done once");
            first
        }
    };
    let events = || async {
        let list = read(&api, &cast, &format!("/seasons/{}/events", night.season)).await;
        list["items"].as_array().expect("events").len()
    };
    let path = format!("/events/{}/copies", night.event);
    let said = vec!["Add these 2 events?", "Second night 2: Thu 21 Jan 2027, 18:00 to 23:00", "Thu 4 Feb 2027"];
    copied(path.clone(), vec![("times", "2"), ("skip", "2027-01-28")], said).await;
    assert_eq!(events().await, 3);
    let shown = page(&api, &path, &olga).expect(200).await.text();
    let bad = filled(&shown, &[("days", "none"), ("times", "99"), ("skip", "Christmas")]);
    let refused = send(&api, &path, &olga, &pairs(&bad)).expect(422).await.text();
    for said in ["href=\"#days\"", "href=\"#times\"", "href=\"#skip\"", "value=\"Christmas\""] {
        assert!(refused.contains(said), "{said} is missing: {refused}");
    }
    let path = format!("/seasons/{}/copies", night.season);
    let said = vec!["Add the season Winter 2028?", "From 2027-12-31 to 2028-04-28", "Competitions: Winter 2027"];
    let to = copied(path, vec![], said).await;
    let made = read(&api, &cast, &to).await;
    assert_eq!(made["name"], "Winter 2028");
    assert_eq!(events().await, 3);
}
