//! Teams, line-ups, fixtures and conceding on the pages.

use crate::support::browsing::{page, send, signed_in, value};
use crate::support::harness::{round, shared};
use serde_json::json;

/// An organizer lays a competition of teams down by questions, makes teams, draws a round robin, names who plays and decides;
/// Ann, who plays, concedes a hole. All of it without script.
#[tokio::test]
async fn a_team_match_is_run_from_the_pages() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (olga, ann) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ann.email).await);
    let new = format!("/seasons/{}/competitions/new", night.season);
    let asked = page(&api, &new, &olga).expect(200).await.text();
    assert!(asked.contains("Matches of a fixture"), "{asked}");
    let pairs = [
        ("name", "Pairs"),
        ("score", "strokes"),
        ("basis", "net"),
        ("meeting", "match"),
        ("matches", "2"),
        ("per_match", "2"),
        ("per_hole", "0"),
        ("per_total", "1"),
        ("position", "2"),
        ("minimum", "0"),
    ];
    let made = send(&api, &new, &olga, &pairs).expect(303).await;
    let pairs = made.header("location").to_owned();
    let terms = page(&api, &pairs, &ann).expect(200).await.text();
    assert!(terms.contains("Two teams meet in 2 matches") && terms.contains("2 for each match won"), "{terms}");

    let teams = format!("/seasons/{}/teams", night.season);
    let new = format!("{teams}/new");
    let unknown = send(&api, &new, &olga, &[("name", "Herons"), ("members", "Nobody")]).expect(422).await.text();
    assert!(unknown.contains("fault_members"), "{unknown}");
    for _ in 0..2 {
        let twin = json!({ "display_name": "Tern" });
        api.post(format!("/leagues/{}/members", night.league), &twin).by(&cast.olga).expect(201).await;
    }
    let shared = send(&api, &new, &olga, &[("name", "Terns"), ("members", "Tern")]).expect(422).await.text();
    assert!(shared.contains("fault_members"), "a name that two share tells neither: {shared}");
    send(&api, &new, &olga, &[("name", "Herons"), ("members", "Ann\nOlga"), ("captain", "Ann")]).expect(303).await;
    send(&api, &new, &olga, &[("name", "Plovers"), ("members", "Ben\nSam, from 2027-01-01")]).expect(303).await;
    let listed = page(&api, &teams, &ann).expect(200).await.text();
    assert!(listed.contains("Ann; Olga") && listed.contains("Sam, from 2027-01-01"), "{listed}");
    let path = format!("/seasons/{}/teams", night.season);
    let known = api.get(path).by(&cast.ann).expect(200).await.json();
    let herons = known["items"][0]["id"].as_str().expect("a team").to_owned();
    let edit = format!("/teams/{herons}");
    assert!(page(&api, &edit, &olga).expect(200).await.text().contains("value=\"Herons\""));
    page(&api, &edit, &ann).expect(403).await;
    let again = [("name", "Grey herons"), ("members", "Ann\nOlga"), ("captain", ""), ("results", ""), ("version", "1")];
    send(&api, &edit, &olga, &again).expect(303).await;

    let fixtures = format!("{pairs}/fixtures");
    let drawn = [("how", "1"), ("event", night.event.as_str()), ("bays", "1, 2")];
    send(&api, &format!("{fixtures}/new"), &olga, &drawn).expect(303).await;
    let too_often = [("how", "2"), ("event", night.event.as_str())];
    let refused = send(&api, &format!("{fixtures}/new"), &olga, &too_often).expect(422).await.text();
    assert!(refused.contains("meet in 2 rounds"), "{refused}");
    let listed = page(&api, &fixtures, &ann).expect(200).await.text();
    assert!(listed.contains("Grey herons v Plovers"), "{listed}");
    let at = listed.split("href=\"/fixtures/").nth(1).and_then(|rest| rest.split('"').next()).expect("a fixture");
    let at = format!("/fixtures/{at}");

    let sheet = page(&api, &format!("/events/{}/hand-in", night.event), &ann).expect(200).await.text();
    assert!(sheet.contains("Pairs, against Ben: no strokes."), "{sheet}");

    // A knock-out of the two, seeded as the lines say; nobody of a wrong name.
    let cup = [("how", "knock_out"), ("event", night.event.as_str()), ("seeds", "Plovers\nNobody"), ("beside", "no")];
    let refused = send(&api, &format!("{fixtures}/new"), &olga, &cup).expect(422).await.text();
    assert!(refused.contains("fault_seeds") && refused.contains("Line 2"), "{refused}");
    let cup =
        [("how", "knock_out"), ("event", night.event.as_str()), ("seeds", "Plovers\ngrey herons"), ("beside", "no")];
    send(&api, &format!("{fixtures}/new"), &olga, &cup).expect(303).await;
    let listed = page(&api, &fixtures, &ann).expect(200).await.text();
    assert!(listed.contains("Final: Plovers v Grey herons"), "{listed}");

    let line_up = format!("/events/{}/line-ups/{herons}", night.event);
    let shown = page(&api, &line_up, &olga).expect(200).await.text();
    assert!(shown.contains("substitute: Ben"), "{shown}");
    let (said_ann, said_olga) = (format!("said_{}", night.ann), format!("said_{}", night.olga));
    let (place_ann, place_olga) = (format!("place_{}", night.ann), format!("place_{}", night.olga));
    let fields = [
        ("version", "0"),
        ("as_named", "yes"),
        (said_ann.as_str(), "plays"),
        (said_olga.as_str(), "absent"),
        (place_ann.as_str(), "2"),
        (place_olga.as_str(), "1"),
    ];
    send(&api, &line_up, &olga, &fields).expect(303).await;
    let named = api.get(&line_up).by(&cast.ann).expect(200).await.json();
    assert_eq!(named["players"][0]["member_id"], json!(night.olga));
    assert_eq!((&named["players"][0]["absent"], &named["order"]), (&json!(true), &json!("as_named")));

    api.hand_in(&night.event, &cast.ann, &round(&night.ann)).await;
    let shown = page(&api, &at, &ann).expect(200).await.text();
    assert!(shown.contains("Olga (absent)") && shown.contains("Match 2, hole by hole"), "{shown}");
    let hole = [("match", "2"), ("hole", "3"), ("by", "a")];
    let asked = send(&api, &format!("{at}/concessions"), &ann, &hole).expect(200).await.text();
    assert!(asked.contains("concedes hole 3 of match 2?"), "{asked}");
    let key = value(&asked, "key");
    let hole = [("match", "2"), ("hole", "3"), ("by", "a"), ("key", key.as_str()), ("seen", "yes")];
    send(&api, &format!("{at}/concessions"), &ann, &hole).expect(303).await;
    let shown = page(&api, &at, &ann).expect(200).await.text();
    assert!(shown.contains("Plovers, conceded"), "{shown}");
    let board = page(&api, &format!("/events/{}?competition={}", night.event, &pairs["/competitions/".len()..]), &ann);
    assert!(board.expect(200).await.text().contains("Plovers 1 up"));

    page(&api, &format!("{at}/decision"), &ann).expect(403).await;
    let event = night.event.as_str();
    let decided = [("state", "b"), ("reason", ""), ("event_id", event), ("version", "1")];
    let refused = send(&api, &format!("{at}/decision"), &olga, &decided).expect(422).await.text();
    assert!(refused.contains("fault_reason"), "{refused}");
    let decided = [("state", "b"), ("reason", "no bay"), ("event_id", event), ("version", "1")];
    send(&api, &format!("{at}/decision"), &olga, &decided).expect(303).await;
    let table = format!("/seasons/{}?competition={}", night.season, &pairs["/competitions/".len()..]);
    let table = page(&api, &table, &ann).expect(200).await.text();
    // A walk-over: both matches, 2 each, and half of the point for the total.
    assert!(table.contains("Plovers") && table.contains("4.5") && table.contains("0.5"), "{table}");
    let asked = send(&api, &format!("{at}/removal"), &olga, &[]).expect(200).await.text();
    assert!(asked.contains("Remove Grey herons v Plovers?"), "{asked}");
    send(&api, &format!("{at}/removal"), &olga, &[("seen", "yes")]).expect(303).await;
    assert!(!page(&api, &fixtures, &ann).expect(200).await.text().contains(&at));

    // Ann was named and a match of hers was decided; what she conceded herself she knows, and who plays
    // against her is told.
    let told = async |person: &str| page(&api, "/notices", person).expect(200).await.text();
    let (to_ann, to_sam) = (told(&ann).await, told(&signed_in(&api, &cast.sam.email).await).await);
    let (line_up, conceded) = ("line-up names you otherwise", "Something was conceded in a match of yours");
    assert!(to_ann.contains(line_up) && to_ann.contains("A match of yours was moved or decided"), "{to_ann}");
    assert!(!to_ann.contains(conceded) && to_sam.contains(conceded) && !to_sam.contains(line_up), "{to_sam}");
}
