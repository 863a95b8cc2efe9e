//! The history of a round: who handed it in, changed it or said something of it, when and why.

use crate::domain::facts::{Decision, Role};
use crate::domain::ids::{MemberId, RoundId};
use crate::domain::season::Life;
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::{documents, round_acts, rounds};
use crate::wire::json::pointer_to;
use crate::{sql, values};
use jiff::Timestamp;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeSet;

/// Something that was done to a round.
#[derive(Debug, Serialize)]
pub struct Happening {
    /// What.
    pub act: &'static str,
    /// When.
    pub at: Timestamp,
    /// Who, where that is known.
    pub member_id: Option<MemberId>,
    /// Why, where somebody said so and the reader may know.
    pub reason: Option<String>,
    /// What is different on the card.
    pub changes: Vec<Difference>,
    #[serde(skip)]
    seq: i64,
}

/// A field that a correction changed.
#[derive(Debug, PartialEq, Serialize)]
pub struct Difference {
    /// JSON Pointer into the round.
    pub pointer: String,
    /// What stood there.
    pub from: Value,
    /// What stands there now.
    pub to: Value,
}

/// Finds every place at which two values differ, as deep as they have the same shape.
fn differences(pointer: &str, from: &Value, to: &Value, found: &mut Vec<Difference>) {
    match (from, to) {
        (Value::Object(a), Value::Object(b)) => {
            let names: BTreeSet<&String> = a.keys().chain(b.keys()).collect();
            for name in names {
                let (a, b) = (a.get(name).unwrap_or(&Value::Null), b.get(name).unwrap_or(&Value::Null));
                differences(&pointer_to(pointer, name), a, b, found);
            }
        }
        (Value::Array(a), Value::Array(b)) => {
            for n in 0..a.len().max(b.len()) {
                let (a, b) = (a.get(n).unwrap_or(&Value::Null), b.get(n).unwrap_or(&Value::Null));
                differences(&format!("{pointer}/{n}"), a, b, found);
            }
        }
        _ if from == to => {}
        _ => found.push(Difference { pointer: pointer.to_owned(), from: from.clone(), to: to.clone() }),
    }
}

impl Leagues {
    /// Reads the history of a round, oldest first.
    ///
    /// Why a round was left out is told to its player and to organizers alone.
    ///
    /// # Errors
    /// A round that is not there or not the caller's to see.
    pub async fn history(&self, caller: Caller, id: RoundId) -> Result<Vec<Happening>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let conn = &mut conn;
        let row = rounds::get(conn, id).await?.ok_or(Refusal::NotFound)?;
        let member = access::member(conn, caller, row.league).await?;
        let is_concerned = member.member.role == Role::Organizer || member.id == row.member;
        let happening =
            |act, at, member_id, reason, seq| Happening { act, at, member_id, reason, changes: Vec::new(), seq };
        let mut items = vec![happening("handed_in", row.received_at, row.sent_by, None, row.seq)];

        let kept = documents::versions(conn, "round", row.league, id.0).await?;
        let now = serde_json::to_value(rounds::whole(conn, &row).await?).unwrap_or_default();
        for (n, (version, by)) in kept.iter().enumerate() {
            let (body, at, seq) = match kept.get(n + 1) {
                Some((next, _)) => {
                    let (at, seq) = (next.received.received_at, next.received.seq);
                    (&next.body, at.unwrap_or(row.version_at), seq.unwrap_or(row.version_seq))
                }
                None => (&now, row.version_at, row.version_seq),
            };
            let mut corrected = happening("corrected", at, by.map(MemberId), version.reason.clone(), seq);
            differences("", &version.body, body, &mut corrected.changes);
            items.push(corrected);
        }
        for done in round_acts::acceptances_of(conn, row.league, id).await? {
            items.push(happening("accepted", done.received_at, done.member, None, done.seq));
        }
        for done in round_acts::attestations_of(conn, row.league, id).await? {
            items.push(happening("attested", done.received_at, done.member, None, done.seq));
        }
        for (done, reason) in round_acts::withdrawals_of(conn, row.league, id).await? {
            items.push(happening("withdrawn", done.received_at, done.member, reason, done.seq));
        }
        let mut life = Life::default();
        for said in conn.rows(sql!("ruling_list_by_round"), values![row.league, id]).await? {
            let decision = rounds::decision(&said)?;
            let undone = life.rule(decision).flatten();
            let act = match (decision, undone) {
                // The correction itself stands above.
                (Decision::Correct, _) => continue,
                (Decision::ExcludeRound, _) => "excluded",
                // What changed no state that others see, and its undoing, is not shown either.
                (Decision::ExcludePutts | Decision::NoAction, _)
                | (Decision::Reinstate, Some(Decision::ExcludePutts)) => continue,
                (Decision::Reinstate, _) => "reinstated",
            };
            let reason = if is_concerned { Some(said.get("reason")?) } else { None };
            let at = said.parsed("rulings", "received_at")?;
            items.push(happening(act, at, said.optional_id("member_id")?, reason, said.get("seq")?));
        }
        items.sort_by_key(|item| item.seq);
        Ok(items)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_correction_shows_what_is_different_and_where() {
        let before = json!({ "holes": [{ "number": 1, "strokes": 4 }, { "number": 2, "strokes": 5 }], "x/y": 1 });
        let after = json!({ "holes": [{ "number": 1, "strokes": 6 }], "x/y": 2 });
        let mut found = Vec::new();
        differences("", &before, &after, &mut found);
        let seen: Vec<_> = found.iter().map(|d| (d.pointer.as_str(), &d.from, &d.to)).collect();
        let second = json!({ "number": 2, "strokes": 5 });
        assert_eq!(
            seen,
            [
                ("/holes/0/strokes", &json!(4), &json!(6)),
                ("/holes/1", &second, &Value::Null),
                ("/x~1y", &json!(1), &json!(2)),
            ]
        );
    }
}
