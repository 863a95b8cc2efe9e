//! Rulings on a round: a slip mended at any time, a round left out, the latest of these undone.

use crate::domain::competition::table::StandingsRow;
use crate::domain::facts::{Decision, Role, Round};
use crate::domain::ids::{MemberId, RoundId};
use crate::domain::rule::Rule;
use crate::domain::season::RoundState;
use crate::league::attempts::Undone;
use crate::league::event::board::{BoardRow, board_of};
use crate::league::finding::evidence::Known;
use crate::league::keys::RequestKey;
use crate::league::member::notices::{self, About, Tells};
use crate::league::memory::books::LeagueBook;
use crate::league::round::card_faults::{Dates, faults_of};
use crate::league::round::content::in_order;
use crate::league::round::correct::{Change, corrected_from, invalid_transition, journal_round, replace_card};
use crate::league::season::around::Around;
use crate::league::season::changes::{Cause, Move};
use crate::league::season::derive;
use crate::league::{Caller, Leagues, Refusal, access, sound};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::rounds::{self, RoundRow};
use crate::storage::row_hashes::{wrote, wrote_pair};
use crate::storage::{Conn, StorageError, documents, leagues, members};
use crate::{change, sql, values};
use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

/// A ruling that somebody gives.
#[derive(Clone, Debug)]
pub struct Ruling {
    /// What is decided.
    pub decision: Decision,
    /// The card as it should have been, for a correction; without a member it is the round's own.
    pub round: Option<Round>,
    /// Why.
    pub reason: String,
}

/// As what somebody rules on a round. Nobody rules on an own one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ruler {
    /// Decides anything.
    Organizer,
    /// Corrects a slip on the card of the only organizer, who may name a scorer for that.
    Scorer,
}

/// A ruling with what it does.
#[derive(Debug, Serialize)]
pub struct RulingView {
    /// Its id; null where nothing was done.
    pub id: Option<Uuid>,
    /// The round.
    pub round_id: RoundId,
    /// Who ruled.
    pub member_id: MemberId,
    /// What was decided.
    pub decision: Decision,
    /// Why.
    pub reason: String,
    /// Where the round stands then.
    pub state: RoundState,
    /// What follows from it.
    pub effect: Effect,
}

/// What a ruling does to the event and its season.
#[derive(Debug, Serialize)]
pub struct Effect {
    /// The rows of the season's table that move.
    pub moves: Vec<Move>,
    /// The event's board.
    pub board: Vec<BoardRow>,
    /// The season's table.
    pub standings: Vec<StandingsRow>,
}

impl Leagues {
    /// Returns as what the caller may rule on a round.
    ///
    /// # Errors
    /// Anybody but an organizer, or a scorer where the card is that of the only organizer; an own round.
    pub async fn ruler(&self, caller: Caller, id: RoundId) -> Result<Ruler, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        Ok(seat(&mut conn, caller, id).await?.2)
    }

    /// Rules on a round, also after its event is final.
    ///
    /// # Errors
    /// Anybody but an organizer; an own round; a round that was withdrawn; nothing that the ruling could do; a card that
    /// does not fit.
    pub async fn rule_on_round(&self, key: RequestKey, id: RoundId, ruling: Ruling) -> Result<Reply, Refusal> {
        let this = self.clone();
        let known = self.read_beforehand(key.caller, id).await?;
        let (reply, event) = change!(self, id, |conn| {
            let (row, by) = concerned(conn, &key, id, ruling.decision).await?;
            access::fresh(key.caller, key.now)?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok::<_, Refusal>((reply, row.event));
            }
            let view = this.rule(conn, &key, &row, by, ruling, &known).await?;
            let reply = crate::league::keys::created(format!("/api/v1/rounds/{id}/versions"), 1, &view);
            Ok((key.keep(conn, reply).await?, row.event))
        })?;
        if !reply.is_replay {
            self.boards.moved(event);
        }
        Ok(reply)
    }

    /// Works out what a ruling would do, and does nothing.
    ///
    /// # Errors
    /// As [`rule_on_round`](Self::rule_on_round).
    pub async fn preview_ruling(&self, key: RequestKey, id: RoundId, ruling: Ruling) -> Result<RulingView, Refusal> {
        let this = self.clone();
        let known = self.read_beforehand(key.caller, id).await?;
        let attempt: Result<(), Undone<RulingView>> = change!(self, id, |conn| {
            let (row, by) = concerned(conn, &key, id, ruling.decision).await?;
            let view = this.rule(conn, &key, &row, by, ruling, &known).await?;
            Err(Undone::seen(RulingView { id: None, ..view }))
        });
        Undone::view(attempt)
    }

    async fn rule(
        &self,
        conn: &mut Conn,
        key: &RequestKey,
        row: &RoundRow,
        by: MemberId,
        ruling: Ruling,
        known: &Known,
    ) -> Result<RulingView, Refusal> {
        self.weigh_now(conn, row.league, key.now).await?;
        let book = self.books.of(conn, row.league).await?;
        let night = book.book.nights.get(&row.event).ok_or(Refusal::NotFound)?;
        let Ruling { decision, round, reason } = ruling;
        if row.state == RoundState::Withdrawn {
            return Err(Refusal::conflict(Rule::RoundWithdrawn, "the round was withdrawn"));
        }
        let mut life = rounds::life(conn, row).await?;
        let Some(undone) = life.rule(decision) else {
            return Err(match decision {
                Decision::Reinstate => Refusal::conflict(Rule::NothingToUndo, "no ruling on this round is in effect"),
                _ => invalid_transition(row.state),
            });
        };
        let latest = if decision == Decision::Reinstate { latest_in_effect(conn, row).await? } else { None };
        // Only whoever may rule on a finding undoes what answers it.
        if latest.as_ref().is_some_and(|latest| latest.finding.is_some()) {
            let detail = "this was ruled elsewhere, and is undone there";
            return Err(Refusal::conflict(Rule::NothingToUndo, detail));
        }
        let around = Around::of(self, conn, &book, [row.member]).await?;
        let (ruling_id, seq) = (Uuid::now_v7(), leagues::next_seq(conn, row.league).await?);
        let change = Change { by, reason: Some(&reason), seq, at: key.now, known };
        let mut replaced = None;
        match (decision, undone) {
            (Decision::Correct, _) => {
                let round = corrected(&book, row, round, key.now)?;
                replaced = Some(row.version);
                let row = replace_card(conn, &book, row, &round, change).await?;
                journal_round(conn, &row, key.caller, "correct", Some(&round), &corrected_from(&row), key.now).await?;
            }
            (Decision::Reinstate, Some(Decision::Correct)) => {
                let round = card_before(conn, row, latest.and_then(|latest| latest.replaced)).await?;
                let row = replace_card(conn, &book, row, &round, change).await?;
                journal_round(conn, &row, key.caller, "correct", Some(&round), &corrected_from(&row), key.now).await?;
            }
            _ => {
                rounds::set_state(conn, row.league, row.id, life.state()).await?;
                derive::member_and_marks(conn, &book, row.member).await?;
                crate::league::finding::evidence::again(conn, &book, row.member, row.event, known, key.now).await?;
                documents::show_anew(conn, [(row.league, night.season, row.event)]).await?;
            }
        }
        let values = values![row.league, ruling_id, by, None::<Uuid>, decision.word(), &reason, seq, key.now];
        conn.run(sql!("ruling_insert"), values).await?;
        conn.run(sql!("ruled_round_insert"), values![row.league, ruling_id, row.id, replaced]).await?;
        let content = serde_json::to_vec(&(decision, &reason)).expect("a ruling is plain text");
        let ruled = wrote_pair("ruled_rounds", ruling_id, row.id);
        let rows = [wrote("rulings", ruling_id), ruled, wrote("rounds", row.id)];
        let (by_account, id) = (Some(key.caller.account), row.id.0);
        let act = Act { by: by_account, act: "rule", kind: "round", id, content: &content, rows: &rows };
        journal::append(conn, row.league, act, key.now).await?;
        // Why a round was left out is for those concerned alone.
        let told = (decision == Decision::Correct).then_some(reason.as_str());
        let cause = Cause { by, act: decision.word(), kind: "round", thing: row.id.0, reason: told };
        let mut after = around.write_down(conn, &book, cause, key.now).await?;
        let about = About::round(row.league, row.id);
        notices::tell(conn, about, Tells::Ruling, &[row.member], by, key.now).await?;
        let state = rounds::get(conn, row.id).await?.ok_or(Refusal::NotFound)?.state;
        let effect = Effect {
            moves: around.before().moves(&after.tables, night.season),
            board: board_of(conn, &book, row.event, book.book.main_for(night)).await?,
            standings: after.rows(night.season),
        };
        Ok(RulingView { id: Some(ruling_id), round_id: row.id, member_id: by, decision, reason, state, effect })
    }
}

/// Reads a round, the caller's record, and as what the caller rules on the round.
async fn seat(conn: &mut Conn, caller: Caller, id: RoundId) -> Result<(RoundRow, MemberId, Ruler), Refusal> {
    let row = rounds::get(conn, id).await?.ok_or(Refusal::NotFound)?;
    let member = access::member(conn, caller, row.league).await?;
    let is_own = row.member == member.id;
    let ruler = match member.member.role {
        Role::Organizer if is_own => {
            return Err(Refusal::Concerned(
                "another organizer rules on your own round; where there is none, a scorer corrects it",
            ));
        }
        Role::Organizer => Ruler::Organizer,
        Role::Scorer if !is_own && members::is_only_organizer(conn, row.league, row.member).await? => Ruler::Scorer,
        Role::Scorer | Role::Player => return Err(only_organizers()),
    };
    Ok((row, member.id, ruler))
}

fn only_organizers() -> Refusal {
    Refusal::Forbidden("only an organizer may rule on a round")
}

/// Reads a round that the caller may rule on in this way, and the caller's record.
async fn concerned(
    conn: &mut Conn,
    key: &RequestKey,
    id: RoundId,
    decision: Decision,
) -> Result<(RoundRow, MemberId), Refusal> {
    let (row, by, ruler) = seat(conn, key.caller, id).await?;
    if ruler == Ruler::Scorer && decision != Decision::Correct {
        return Err(only_organizers());
    }
    Ok((row, by))
}

/// Returns the card that a correction puts in place, once it fits.
fn corrected(book: &LeagueBook, row: &RoundRow, round: Option<Round>, now: Timestamp) -> Result<Round, Refusal> {
    let missing = || Refusal::fault("/round", Rule::RoundMissing, "a correction gives the card as it should have been");
    let mut round = round.ok_or_else(missing)?;
    if round.member_id.0.is_nil() {
        round.member_id = row.member;
    }
    let fixed = "this is settled when the round is handed in";
    if round.member_id != row.member {
        return Err(Refusal::fault("/round/member_id", Rule::Settled, fixed));
    }
    if round.client_round_id != row.client_round_id {
        return Err(Refusal::fault("/round/client_round_id", Rule::Settled, fixed));
    }
    let night = book.book.nights.get(&row.event).ok_or(Refusal::NotFound)?;
    // A ruling gives its reason, which confirms a day outside the event too.
    let dates = Dates { now, is_confirmed: true, known: None };
    let mut faults = faults_of(book, night, &round, &dates);
    faults.iter_mut().for_each(|fault| fault.pointer = format!("/round{}", fault.pointer));
    sound(faults)?;
    Ok(in_order(round))
}

/// A ruling that is in effect.
pub(in crate::league) struct InEffect {
    /// The finding that it answers.
    pub(in crate::league) finding: Option<Uuid>,
    /// The version that it replaced.
    replaced: Option<i64>,
}

/// Reads the latest ruling in effect on a round: the one that a reinstatement undoes.
pub(in crate::league) async fn latest_in_effect(
    conn: &mut Conn,
    row: &RoundRow,
) -> Result<Option<InEffect>, StorageError> {
    let mut in_effect = Vec::new();
    for ruling in conn.rows(sql!("ruling_list_by_round"), values![row.league, row.id]).await? {
        match rounds::decision(&ruling)? {
            Decision::Reinstate => {
                in_effect.pop();
            }
            _ => in_effect
                .push(InEffect { finding: ruling.get("finding_id")?, replaced: ruling.get("replaced_version")? }),
        }
    }
    Ok(in_effect.pop())
}

/// Returns the card that a correction by ruling replaced, if no other came after it.
async fn card_before(conn: &mut Conn, row: &RoundRow, replaced: Option<i64>) -> Result<Round, Refusal> {
    let kept = documents::versions(conn, "round", row.league, row.id.0).await?;
    let since = "the card was corrected again after that ruling; correct it instead";
    match kept.last() {
        Some((last, _)) if Some(last.version) == replaced => {
            let unreadable = |error: serde_json::Error| StorageError::Corrupt {
                table: "versions",
                column: "body",
                detail: error.to_string(),
            };
            Ok(in_order(serde_json::from_value(last.body.clone()).map_err(unreadable)?))
        }
        _ => Err(Refusal::conflict(Rule::NothingToUndo, since)),
    }
}
