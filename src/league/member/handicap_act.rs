//! What organizers decide about a member's league index.

use crate::change;
use crate::domain::facts::{Decided, Fault, HandicapAct, Rules};
use crate::domain::ids::{EventId, LeagueId, MemberId};
use crate::domain::rule::Rule;
use crate::domain::season::record::member_record;
use crate::league::keys::{RequestKey, created};
use crate::league::member::notices::{self, About, Tells};
use crate::league::memory::books::{self, LeagueBook};
use crate::league::season::changes::{self, Cause};
use crate::league::season::derive;
use crate::league::{Caller, Leagues, Refusal, access, sound};
use crate::storage::handicap_acts::{self, StoredAct};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::row_hashes::wrote;
use crate::storage::{Conn, StorageError, leagues, members, results};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use uuid::Uuid;

/// The most handicap acts of a member.
const MOST_ACTS: usize = 200;

/// A handicap act as it is shown.
#[derive(Debug, Serialize)]
pub struct HandicapActView {
    pub id: Uuid,
    pub member_id: MemberId,
    #[serde(flatten)]
    pub act: HandicapAct,
    pub received_at: Timestamp,
}

impl From<StoredAct> for HandicapActView {
    fn from(StoredAct { id, member, act, received_at, .. }: StoredAct) -> Self {
        Self { id, member_id: member, act, received_at }
    }
}

/// Returns the day of a member's last final event.
fn last_final(book: &LeagueBook, member: MemberId) -> Option<Date> {
    let kept = |night: &&crate::domain::season::Night| {
        night.kept_of(member).is_some() || night.kept_of_absent(member).is_some()
    };
    book.book.nights.values().filter(kept).map(|night| night.date).max()
}

/// Finds why an act does not fit a member's record.
async fn misfits(
    conn: &mut Conn,
    book: &LeagueBook,
    member: MemberId,
    act: &HandicapAct,
) -> Result<Vec<Fault>, Refusal> {
    let mut faults = act.broken();
    let fault = |at: &str, detail: String| Fault::new(at, Rule::HandicapAct, detail);
    let last = last_final(book, member);
    if let (Some(from), Some(last)) = (act.decided.from(), last)
        && from <= last
    {
        faults.push(fault("/from", format!("an event of {last} is final: it begins after that day")));
    }
    match act.decided {
        Decided::Adjust { from, .. } => {
            let rounds = results::of_member(conn, book.league, member).await?;
            let before = from.yesterday().unwrap_or(from);
            let until = (before, Timestamp::MAX, EventId(Uuid::max()));
            let record = member_record(&book.book, member, rounds.iter().map(|stored| &stored.entry), Some(until));
            if record.league_index.is_none() {
                let detail = "there is no league index before three differentials: change the starting handicap";
                faults.push(fault("/kind", detail.into()));
            }
        }
        Decided::Undo { undoes } => {
            let acts = book.book.handicap_acts.get(&member).map_or(&[][..], Vec::as_slice);
            let is_undone = acts.iter().any(|(_, other)| other.decided == act.decided);
            let known = acts.iter().find(|(id, _)| *id == undoes);
            match known {
                None => faults.push(Fault::new("/undoes", Rule::UnknownId, "this member has no such handicap act")),
                Some((_, other)) if other.decided.from().is_none() => {
                    faults.push(fault("/undoes", "this is an undoing: decide anew instead".into()));
                }
                Some(_) if is_undone => faults.push(fault("/undoes", "this was undone before".into())),
                Some(_) => {}
            }
        }
        Decided::Freeze { .. } | Decided::Cap { .. } => {}
    }
    Ok(faults)
}

impl Leagues {
    /// Decides about a member's league index. Final events keep theirs.
    ///
    /// # Errors
    /// Anybody but an organizer; an own index; a member who was erased; a day of a final event; what is not there to undo.
    pub async fn decide_handicap(&self, key: RequestKey, member: MemberId, act: HandicapAct) -> Result<Reply, Refusal> {
        let this = self.clone();
        change!(self, member, |conn| {
            let stored = members::get(conn, member).await?.ok_or(Refusal::NotFound)?;
            let league = stored.league;
            let by = access::organizer(conn, key.caller, league).await?;
            if by.id == member {
                return Err(Refusal::Forbidden("another organizer decides about your index"));
            }
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            if stored.is_erased {
                return Err(Refusal::conflict(Rule::InvalidTransition, "this player has been erased"));
            }
            let book = this.books.of(conn, league).await?;
            sound(misfits(conn, &book, member, &act).await?)?;
            if book.book.handicap_acts.get(&member).is_some_and(|acts| acts.len() >= MOST_ACTS) {
                return Err(Refusal::conflict(
                    Rule::TooMany,
                    format!("a member has at most {MOST_ACTS} handicap acts"),
                ));
            }
            let tables = this.tables(conn, league).await?;
            let (id, seq) = (Uuid::now_v7(), leagues::next_seq(conn, league).await?);
            let stored = StoredAct { id, member, act, seq, received_at: key.now };
            handicap_acts::insert(conn, league, &stored).await?;
            let content = serde_json::to_vec(&stored.act).expect("facts are plain values with text keys");
            let (account, rows) = (Some(key.caller.account), [wrote("handicap_acts", id)]);
            let entry = Act { by: account, act: "create", kind: "handicap_act", id, content: &content, rows: &rows };
            journal::append(conn, league, entry, key.now).await?;
            books::mark(conn, league).await?;
            let book = this.books.of(conn, league).await?;
            derive::member_and_marks(conn, &book, member).await?;
            let reason = Some(stored.act.reason.as_str());
            let cause = Cause { by: by.id, act: "create", kind: "handicap_act", thing: id, reason };
            changes::write_down(conn, &book, &tables, cause, key.now).await?;
            notices::tell(conn, About::member(league), Tells::HandicapAct, &[member], by.id, key.now).await?;
            let at = format!("/api/v1/members/{member}/handicap-acts");
            key.keep(conn, created(at, 1, &HandicapActView::from(stored))).await
        })
    }

    /// Reads what organizers decided about a member's index, in the order in which they did.
    ///
    /// # Errors
    /// A member of a league that the caller is not in.
    pub async fn handicap_acts(&self, caller: Caller, member: MemberId) -> Result<Vec<HandicapActView>, Refusal> {
        let mut conn = self.database.reader().await?;
        let stored = members::get(&mut conn, member).await?.ok_or(Refusal::NotFound)?;
        access::member(&mut conn, caller, stored.league).await?;
        Ok(of(&mut conn, stored.league, member).await?)
    }
}

/// Reads what was decided about a member's index, in order.
///
/// # Errors
/// A failed database or an unreadable row.
pub(in crate::league) async fn of(
    conn: &mut Conn,
    league: LeagueId,
    member: MemberId,
) -> Result<Vec<HandicapActView>, StorageError> {
    let all = handicap_acts::list(conn, league).await?.into_iter();
    Ok(all.filter(|stored| stored.member == member).map(HandicapActView::from).collect())
}
