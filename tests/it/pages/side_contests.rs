//! Side contests on the pages.

use crate::support::browsing::{page, send, signed_in};
use crate::support::harness::shared;

#[tokio::test]
async fn an_organizer_lays_one_down_and_players_note_their_values() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (olga, ann) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ann.email).await);
    let at = format!("/events/{}/contests", night.event);
    let board = page(&api, &format!("/events/{}", night.event), &ann).expect(200).await.text();
    assert!(board.contains(&at), "{board}");
    page(&api, &format!("{at}/new"), &ann).expect(403).await;
    let mut fields = vec![("name", "Nearest the hole"), ("better", "lower"), ("unit", ""), ("hole", "7")];
    let wrong = send(&api, &format!("{at}/new"), &olga, &fields).expect(422).await.text();
    assert!(wrong.contains("fault_unit"), "{wrong}");
    fields[2].1 = "ft";
    send(&api, &format!("{at}/new"), &olga, &fields).expect(303).await;
    let of_cards = [("name", "Putts"), ("better", "putts"), ("unit", ""), ("hole", "")];
    send(&api, &format!("{at}/new"), &olga, &of_cards).expect(303).await;

    let shown = page(&api, &at, &ann).expect(200).await.text();
    assert!(shown.contains("The lowest value on hole 7 leads.") && shown.contains("The fewest putts, from the cards."));
    assert!(!shown.contains("Delete…"), "{shown}");
    let after = |text: &str| shown.split(text).nth(1).and_then(|rest| rest.split('"').next()).map(str::to_owned);
    let contest = after("name=\"contest\" value=\"").expect("a contest");
    let note = async |value: &str, status| {
        let fields = [("contest", contest.as_str()), ("member_id", night.ann.as_str()), ("value", value)];
        send(&api, &at, &ann, &fields).expect(status).await.text()
    };
    let wrong = note("near", 422).await;
    assert!(wrong.contains("aria-invalid"), "{wrong}");
    note("6,5", 303).await;
    assert!(page(&api, &at, &ann).expect(200).await.text().contains("<td class=\"n\">6.50</td>"));
    note("", 303).await;
    assert!(!page(&api, &at, &ann).expect(200).await.text().contains("6.50"));
    note("7", 303).await;

    let fields = [("contest", contest.as_str())];
    let asked = send(&api, &format!("{at}/removal"), &olga, &fields).expect(200).await.text();
    assert!(
        asked.contains("Delete the side contest Nearest the hole?") && asked.contains("The values that were noted: 1."),
        "{asked}"
    );
    let answered = [("contest", contest.as_str()), ("seen", "yes")];
    send(&api, &format!("{at}/removal"), &ann, &answered).expect(403).await;
    send(&api, &format!("{at}/removal"), &olga, &answered).expect(303).await;
    assert!(!page(&api, &at, &ann).expect(200).await.text().contains("Nearest"));
}
