//! The season's putting on a page.

use crate::support::browsing::{page, signed_in};
use crate::support::harness::{shared, softened};

#[tokio::test]
async fn the_seasons_putting_is_one_table() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let ann = signed_in(&api, &cast.ann.email).await;
    let at = format!("/seasons/{}/putting", night.season);
    assert!(page(&api, &at, &ann).expect(200).await.text().contains("No putts were recorded yet."));
    api.hand_in(&night.event, &cast.ann, &softened(&night.ann, &night.setup, 0)).await;
    let seen = page(&api, &format!("{at}?min_holes=18"), &ann).expect(200).await.text();
    assert!(seen.contains("<td class=\"n\">1</td>") && seen.contains("too few rounds"), "{seen}");
    let table = page(&api, &format!("/seasons/{}", night.season), &ann).expect(200).await.text();
    assert!(table.contains(&at), "{table}");
    page(&api, &format!("{at}?min_holes=x"), &ann).expect(400).await;
}
