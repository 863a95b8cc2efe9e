//! The answer to a hand-in as it is kept: the figures, without the card, which stands in the round or in its first version.
//! Half of a hand-in's bytes would be its answer otherwise.

use crate::domain::facts::Round;
use crate::domain::ids::RoundId;
use crate::domain::season::Life;
use crate::league::Refusal;
use crate::league::views::{FiguresView, RoundView};
use crate::storage::idempotency::Reply;
use crate::storage::rounds::{self, RoundRow};
use crate::storage::{Conn, StorageError, documents};
use crate::wire::json::Node;
use uuid::Uuid;

/// No JSON begins with it.
const MARK: char = '@';

fn text_of(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).expect("answers are plain values with text keys")
}

/// Writes figures as they stand in the answer: without the braces.
fn inner(figures: &FiguresView) -> String {
    let text = text_of(figures);
    text[1..text.len() - 1].to_owned()
}

/// Returns the answer to a hand-in as it is kept. It names its member, so that it goes with whoever is erased.
pub fn without_card(reply: &Reply, view: &RoundView) -> Reply {
    Reply { body: format!("{MARK}{} {}", view.member_id, inner(&view.figures)), ..reply.clone() }
}

/// Returns a kept answer as it was given.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn whole(conn: &mut Conn, reply: Reply) -> Result<Reply, Refusal> {
    let Some((_, figures)) = reply.body.strip_prefix(MARK).and_then(|kept| kept.split_once(' ')) else {
        return Ok(reply);
    };
    let id = reply.location.as_deref().and_then(|location| Uuid::try_parse(location.rsplit('/').next()?).ok());
    let row = rounds::get(conn, RoundId(id.ok_or(Refusal::NotFound)?)).await?.ok_or(Refusal::NotFound)?;
    let round = first_version(conn, &row).await?;
    let state = Life::new(row.is_proposed, row.is_late).state();
    let first = RoundRow {
        state,
        version: 1,
        setup: round.setup_id,
        played_on: round.played_on,
        outcome: round.outcome,
        ..row
    };
    let view = RoundView::of(&first, round, FiguresView::default());
    let body = text_of(&view).replacen(&inner(&view.figures), figures, 1);
    Ok(Reply { body, ..reply })
}

async fn first_version(conn: &mut Conn, row: &RoundRow) -> Result<Round, Refusal> {
    if row.version == 1 {
        return Ok(rounds::whole(conn, row).await?);
    }
    let unreadable = |detail: String| StorageError::Corrupt { table: "versions", column: "body", detail };
    let text = documents::first_body(conn, "round", row.league, row.id.0).await?.ok_or(Refusal::NotFound)?;
    let node = Node::parse(text.as_bytes()).map_err(|error| unreadable(error.to_string()))?;
    Ok(node.decode().map_err(|error| unreadable(error.to_string()))?)
}
