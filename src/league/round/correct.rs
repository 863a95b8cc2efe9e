//! Rounds: accept, correct, withdraw, attest.

use crate::change;
use crate::domain::facts::{Event, EventState, Role, Round};
use crate::domain::ids::{EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::RoundState;
use crate::league::access::{self, IfMatch};
use crate::league::finding::evidence::Known;
use crate::league::member::notices::{self, About, Tells};
use crate::league::memory::books::LeagueBook;
use crate::league::refusal::final_event;
use crate::league::round::card_faults::{Dates, faults_of};
use crate::league::round::content::{content_hash_input, in_order};
use crate::league::round::digests::entry;
use crate::league::season::around::Around;
use crate::league::season::changes::Cause;
use crate::league::season::derive;
use crate::league::views::{FiguresView, RoundListed, RoundView};
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::{self, EVENTS, Kept};
use crate::storage::journal::{self, Act};
use crate::storage::members::{self, StoredMember};
use crate::storage::round_acts::{self, RoundAct};
use crate::storage::rounds::{self, RoundRow};
use crate::storage::row_hashes::{Written, wrote, wrote_version};
use crate::storage::{Conn, evidence as stored_evidence, leagues, results};
use jiff::Timestamp;
use uuid::Uuid;

/// A card that is to take the place of a round's.
#[derive(Clone)]
pub struct Correction {
    /// The card; without a member it is the round's own.
    pub round: Round,
    /// Whether the body named the member.
    pub names_member: bool,
    /// Whether the sender said that the day is right although it lies outside the event.
    pub confirms_dates: bool,
    /// Why; needed from somebody else than the player.
    pub reason: Option<String>,
}

impl Leagues {
    /// Corrects a round.
    ///
    /// # Errors
    /// As [`hand_in`](Self::hand_in); a stale version; no reason from somebody else than the player.
    pub async fn correct_round(
        &self,
        caller: Caller,
        id: RoundId,
        if_match: IfMatch,
        correction: Correction,
    ) -> Result<(RoundView, i64), Refusal> {
        let Correction { mut round, names_member, confirms_dates, reason } = correction;
        let leagues = self.clone();
        let now = self.now();
        let known = self.read_beforehand(caller, id).await?;
        let corrected = change!(self, id, |conn| {
            let (row, member, book) = leagues.round_for_change(conn, caller, id, now, reason.as_deref()).await?;
            if_match.check(row.version)?;
            if !names_member {
                round.member_id = row.member;
            }
            let fixed = "this is settled when the round is handed in";
            if round.member_id != row.member {
                return Err(Refusal::fault("/member_id", Rule::Settled, fixed));
            }
            if round.client_round_id != row.client_round_id {
                return Err(Refusal::fault("/client_round_id", Rule::Settled, fixed));
            }
            let night = book.book.nights.get(&row.event).ok_or(Refusal::NotFound)?;
            let dates = Dates { now, is_confirmed: confirms_dates, known: Some(row.played_on) };
            sound(faults_of(&book, night, &round, &dates))?;
            let round = in_order(round);
            let reason = reason.as_deref();
            let around = leagues.around_before(conn, &book, &row, &member, now).await?;
            let seq = leagues::next_seq(conn, book.league).await?;
            let change = Change { by: member.id, reason, seq, at: now, known: &known };
            let row = replace_card(conn, &book, &row, &round, change).await?;
            journal_round(conn, &row, caller, "correct", Some(&round), &corrected_from(&row), now).await?;
            let cause = Cause { by: member.id, act: "correct", kind: "round", thing: id.0, reason };
            write_down_after(conn, &book, around, cause, now).await?;
            let about = About::round(book.league, id);
            notices::tell(conn, about, Tells::RoundCorrected, &[row.member], member.id, now).await?;
            let figures = results::of_round(conn, row.league, (row.member, id)).await?;
            Ok((RoundView::of(&row, round, FiguresView::of(&book.book, figures.as_ref())), row.version))
        })?;
        self.boards.moved(corrected.0.event_id);
        Ok(corrected)
    }

    /// Withdraws a round: it stays, counts for nothing, and frees the event.
    ///
    /// # Errors
    /// As [`correct_round`](Self::correct_round).
    pub async fn withdraw_round(
        &self,
        caller: Caller,
        id: RoundId,
        if_match: IfMatch,
        reason: Option<String>,
    ) -> Result<(), Refusal> {
        let leagues = self.clone();
        let now = self.now();
        let known = self.read_beforehand(caller, id).await?;
        let event = change!(self, id, |conn| {
            let (row, member, book) = leagues.round_for_change(conn, caller, id, now, reason.as_deref()).await?;
            if_match.check(row.version)?;
            let reason = reason.as_deref();
            let around = leagues.around_before(conn, &book, &row, &member, now).await?;
            take_back(conn, &row, caller, member.id, reason, now).await?;
            derive::member_and_marks(conn, &book, row.member).await?;
            crate::league::finding::evidence::again(conn, &book, row.member, row.event, &known, now).await?;
            let cause = Cause { by: member.id, act: "withdraw", kind: "round", thing: id.0, reason };
            write_down_after(conn, &book, around, cause, now).await?;
            let about = About::round(book.league, id);
            notices::tell(conn, about, Tells::RoundWithdrawn, &[row.member], member.id, now).await?;
            Ok::<_, Refusal>(row.event)
        })?;
        self.boards.moved(event);
        Ok(())
    }

    /// Attests another member's round. Of a league's only organizer this lets a late card in too.
    ///
    /// # Errors
    /// An own round; a round that is withdrawn, excluded or final, or that waits otherwise.
    pub async fn attest_round(&self, caller: Caller, id: RoundId) -> Result<(RoundView, i64), Refusal> {
        let leagues = self.clone();
        let now = self.now();
        let attested = change!(self, id, |conn| {
            let row = rounds::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            let member = access::member(conn, caller, row.league).await?;
            if row.member == member.id {
                return Err(Refusal::Forbidden("nobody may confirm their own round as witness"));
            }
            let (event, _) = access::document::<Event>(conn, caller, &EVENTS, row.event.0).await?;
            if event.body.is_final() {
                return Err(final_event());
            }
            let mut row = row;
            if row.state == RoundState::Late && members::is_only_organizer(conn, row.league, row.member).await? {
                leagues.weigh_now(conn, row.league, now).await?;
                leagues.let_in(conn, &row, caller, member.id, now).await?;
                row.state = RoundState::Submitted;
            }
            match row.state {
                RoundState::Attested => {}
                RoundState::Submitted => {
                    let seq = leagues::next_seq(conn, row.league).await?;
                    let attestation = Uuid::now_v7();
                    let by = Some(member.id);
                    let done = RoundAct { id: attestation, round: row.id, member: by, seq, received_at: now };
                    round_acts::attest(conn, row.league, &done).await?;
                    rounds::set_state(conn, row.league, id, RoundState::Attested).await?;
                    let season = SeasonId(event.parent.unwrap_or_default());
                    documents::show_anew(conn, [(row.league, season, row.event)]).await?;
                    journal_round(conn, &row, caller, "attest", None, &[wrote("attestations", attestation)], now)
                        .await?;
                }
                other => return Err(invalid_transition(other)),
            }
            leagues.round_now(conn, id).await
        })?;
        self.boards.moved(attested.0.event_id);
        Ok(attested)
    }

    /// Accepts a card that waits: one handed in by another player, or after closing.
    ///
    /// # Errors
    /// Somebody else than the member or an organizer, for a late card than an organizer; a card that does not wait.
    pub async fn accept_round(&self, caller: Caller, id: RoundId) -> Result<(RoundView, i64), Refusal> {
        let leagues = self.clone();
        let now = self.now();
        self.read_beforehand(caller, id).await?;
        let accepted = change!(self, id, |conn| {
            let row = rounds::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            leagues.weigh_now(conn, row.league, now).await?;
            let member = access::member(conn, caller, row.league).await?;
            let is_organizer = member.member.role == Role::Organizer;
            if row.is_late && !is_organizer {
                return Err(Refusal::Forbidden("only an organizer may accept a late card"));
            }
            if row.is_late && row.member == member.id {
                return Err(Refusal::Forbidden(
                    "another organizer accepts your own late card; where there is none, any other member attests it",
                ));
            }
            if row.member != member.id && !is_organizer {
                return Err(Refusal::Forbidden("only the player or an organizer may accept this card"));
            }
            leagues.let_in(conn, &row, caller, member.id, now).await?;
            leagues.round_now(conn, id).await
        })?;
        self.boards.moved(accepted.0.event_id);
        Ok(accepted)
    }

    /// Lets a card in that waits, with everything that follows from it.
    async fn let_in(
        &self,
        conn: &mut Conn,
        row: &RoundRow,
        caller: Caller,
        by: MemberId,
        now: Timestamp,
    ) -> Result<(), Refusal> {
        let book = self.books.of(conn, row.league).await?;
        let night = book.book.nights.get(&row.event).ok_or(Refusal::NotFound)?;
        let mut life = rounds::life(conn, row).await?;
        if life.state() == RoundState::Withdrawn || !life.accept() {
            return Err(Refusal::conflict(Rule::NothingToAccept, format!("the round is {}", row.state.word())));
        }
        if night.event.is_final() {
            return Err(final_event());
        }
        let around = Around::of(self, conn, &book, [row.member]).await?;
        let seq = leagues::next_seq(conn, row.league).await?;
        let id = Uuid::now_v7();
        let done = RoundAct { id, round: row.id, member: Some(by), seq, received_at: now };
        round_acts::accept(conn, row.league, &done).await?;
        rounds::set_state(conn, row.league, row.id, life.state()).await?;
        derive::member_and_marks(conn, &book, row.member).await?;
        documents::show_anew(conn, [(row.league, night.season, row.event)]).await?;
        let card = rounds::whole(conn, row).await?;
        if life.state().counts() {
            crate::league::finding::evidence::took(conn, &book, row, &card, seq, now).await?;
        }
        journal_round(conn, row, caller, "accept", None, &[wrote("acceptances", id)], now).await?;
        let cause = Cause { by, act: "accept", kind: "round", thing: row.id.0, reason: None };
        around.write_down(conn, &book, cause, now).await?;
        let to: Vec<MemberId> = row.sent_by.into_iter().chain([row.member]).collect();
        let about = About::round(row.league, row.id);
        notices::tell(conn, about, Tells::RoundAccepted, &to, by, now).await?;
        Ok(())
    }

    /// Says whether a member is the only organizer: nobody else could let its late card in, or rule on its card.
    ///
    /// # Errors
    /// A failed database.
    pub async fn is_only_organizer(&self, league: LeagueId, member: MemberId) -> Result<bool, Refusal> {
        let mut conn = self.database.reader().await?;
        Ok(members::is_only_organizer(&mut conn, league, member).await?)
    }

    /// Reads a round as it is now, with its figures.
    pub(in crate::league) async fn round_now(&self, conn: &mut Conn, id: RoundId) -> Result<(RoundView, i64), Refusal> {
        let row = rounds::get(conn, id).await?.ok_or(Refusal::NotFound)?;
        let round = rounds::whole(conn, &row).await?;
        let book = self.books.of(conn, row.league).await?;
        let event = results::of_event(conn, row.league, row.event).await?;
        let field = event.iter().filter_map(|round| round.figures.as_ref());
        Ok((RoundView::of(&row, round, FiguresView::among(&book.book, id, field)), row.version))
    }

    /// Reads a round for a change of it: the round, the caller, the league's book.
    async fn round_for_change(
        &self,
        conn: &mut Conn,
        caller: Caller,
        id: RoundId,
        now: Timestamp,
        reason: Option<&str>,
    ) -> Result<(RoundRow, StoredMember, std::sync::Arc<LeagueBook>), Refusal> {
        let row = rounds::get(conn, id).await?.ok_or(Refusal::NotFound)?;
        self.weigh_now(conn, row.league, now).await?;
        let member = access::member(conn, caller, row.league).await?;
        let is_own = row.member == member.id;
        if !is_own && !member.member.role.keeps_scores() {
            return Err(Refusal::Forbidden("players can only change their own cards"));
        }
        let book = self.books.of(conn, row.league).await?;
        let night = book.book.nights.get(&row.event).ok_or(Refusal::NotFound)?;
        access::may_change_round(night, &row, &member, now)?;
        if matches!(row.state, RoundState::Withdrawn | RoundState::Excluded) {
            return Err(invalid_transition(row.state));
        }
        if !is_own && reason.is_none_or(|reason| reason.trim().is_empty()) {
            let detail = "a reason is needed for changing another player's card";
            return Err(Refusal::fault("/reason", Rule::ReasonMissing, detail));
        }
        Ok((row, member, book))
    }

    /// Reads a round.
    ///
    /// # Errors
    /// A round that is not there or not the caller's to see.
    pub async fn round(&self, caller: Caller, id: RoundId) -> Result<(RoundView, i64), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let row = rounds::get(&mut conn, id).await?.ok_or(Refusal::NotFound)?;
        access::member(&mut conn, caller, row.league).await?;
        self.round_now(&mut conn, id).await
    }

    /// Reads which rounds an event has, and whose they are.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see.
    pub async fn round_ids_of_event(
        &self,
        caller: Caller,
        event: EventId,
        most: i64,
    ) -> Result<Vec<(MemberId, RoundId)>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (document, _) = access::document::<Event>(&mut conn, caller, &EVENTS, event.0).await?;
        let rows = rounds::of_event(&mut conn, document.league, event, Uuid::nil(), most).await?;
        Ok(rows.iter().map(|row| (row.member, row.id)).collect())
    }

    /// Reads an event's rounds after an id, cards apart.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see.
    pub async fn rounds_of_event(
        &self,
        caller: Caller,
        event: EventId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<RoundListed>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (document, _) = access::document::<Event>(&mut conn, caller, &EVENTS, event.0).await?;
        let rows = rounds::of_event(&mut conn, document.league, event, after, limit).await?;
        let book = self.books.of(&mut conn, document.league).await?;
        let mut listed = Vec::with_capacity(rows.len());
        for row in rows {
            let figures = results::of_round(&mut conn, row.league, (row.member, row.id)).await?;
            listed.push(RoundListed::of(&row, FiguresView::of(&book.book, figures.as_ref())));
        }
        Ok(listed)
    }
}

pub(in crate::league) fn invalid_transition(state: RoundState) -> Refusal {
    Refusal::conflict(Rule::InvalidTransition, format!("the round is {}", state.word()))
}

/// Who changes a card, why and when.
#[derive(Clone, Copy)]
pub(in crate::league) struct Change<'a> {
    /// Who.
    pub by: MemberId,
    /// Why.
    pub reason: Option<&'a str>,
    /// The number of the fact.
    pub seq: i64,
    /// When.
    pub at: Timestamp,
    /// The player's rounds as they were read beforehand.
    pub known: &'a Known,
}

/// Puts another card in the place of a round's, with everything that follows from it. Returns the round as it is then.
pub(in crate::league) async fn replace_card(
    conn: &mut Conn,
    book: &LeagueBook,
    row: &RoundRow,
    round: &Round,
    change: Change<'_>,
) -> Result<RoundRow, Refusal> {
    keep_before(conn, row, change).await?;
    let mut life = rounds::life(conn, row).await?;
    life.replace_card();
    rounds::correct(conn, row, round, life.state(), change.seq, change.at).await?;
    if let Some(night) = book.book.nights.get(&row.event) {
        let field = stored_evidence::field_values(book.league, night.season, row.member, round.setup_id);
        stored_evidence::take_part(conn, field).await?;
    }
    // The journal tells of it; a bundle carries only attestations of the card as it is now.
    round_acts::clear_attestations(conn, book.league, row.id).await?;
    let row = rounds::get(conn, row.id).await?.ok_or(Refusal::NotFound)?;
    results::set_card(conn, book.league, &entry(book, &row, round)).await?;
    derive::member_and_marks(conn, book, row.member).await?;
    crate::league::finding::evidence::again(conn, book, row.member, row.event, change.known, change.at).await?;
    if let Some(night) = book.book.nights.get(&row.event) {
        documents::show_anew(conn, [(book.league, night.season, row.event)]).await?;
    }
    Ok(row)
}

/// Takes a round back; what follows from it is still to be derived.
pub(in crate::league) async fn take_back(
    conn: &mut Conn,
    row: &RoundRow,
    caller: Caller,
    by: MemberId,
    reason: Option<&str>,
    now: Timestamp,
) -> Result<(), Refusal> {
    let seq = leagues::next_seq(conn, row.league).await?;
    let id = Uuid::now_v7();
    let done = RoundAct { id, round: row.id, member: Some(by), seq, received_at: now };
    round_acts::withdraw(conn, row.league, &done, reason).await?;
    rounds::set_state(conn, row.league, row.id, RoundState::Withdrawn).await?;
    journal_round(conn, row, caller, "withdraw", None, &[wrote("withdrawals", id)], now).await
}

impl Leagues {
    /// Takes the tables down before a change that is to be told of: any but a player's own while the event is open.
    async fn around_before(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        row: &RoundRow,
        by: &StoredMember,
        now: Timestamp,
    ) -> Result<Option<Around>, Refusal> {
        let night = book.book.nights.get(&row.event);
        let is_open = night.is_some_and(|night| night.event.state_at(now) == EventState::Open);
        if is_open && row.member == by.id {
            return Ok(None);
        }
        Ok(Some(Around::of(self, conn, book, [row.member]).await?))
    }
}

async fn write_down_after(
    conn: &mut Conn,
    book: &LeagueBook,
    around: Option<Around>,
    cause: Cause<'_>,
    now: Timestamp,
) -> Result<(), Refusal> {
    if let Some(around) = around {
        around.write_down(conn, book, cause, now).await?;
    }
    Ok(())
}

async fn keep_before(conn: &mut Conn, row: &RoundRow, change: Change<'_>) -> Result<(), Refusal> {
    let before = rounds::whole(conn, row).await?;
    let body = serde_json::to_string(&before).expect("a round is plain values with text keys");
    let kept = Kept {
        version: row.version,
        seq: row.version_seq,
        received_at: row.version_at,
        by: Some(change.by.0),
        reason: change.reason,
        body: &body,
    };
    documents::keep_version(conn, "round", row.league, row.id.0, kept).await?;
    Ok(())
}

/// Names what a correction writes beside the round itself: the version that it replaced.
pub(in crate::league) fn corrected_from(row: &RoundRow) -> [Written; 1] {
    [wrote_version("round", row.id.0, row.version - 1)]
}

/// Journals what was done to a round, whose row it changed, and which other rows that wrote.
pub(in crate::league) async fn journal_round(
    conn: &mut Conn,
    row: &RoundRow,
    caller: Caller,
    act: &'static str,
    round: Option<&Round>,
    written: &[Written],
    at: Timestamp,
) -> Result<(), Refusal> {
    let content = round.map(content_hash_input).unwrap_or_default();
    let rows: Vec<Written> = [wrote("rounds", row.id)].iter().chain(written).cloned().collect();
    let act = Act { by: Some(caller.account), act, kind: "round", id: row.id.0, content: &content, rows: &rows };
    journal::append(conn, row.league, act, at).await?;
    Ok(())
}
