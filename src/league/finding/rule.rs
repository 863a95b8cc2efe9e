//! Rulings on findings: given once those concerned had their say, shown first, undone.

use crate::domain::facts::{Decision, Fault};
use crate::domain::ids::{EventId, MemberId, RoundId};
use crate::domain::rule::Rule;
use crate::domain::season::RoundState;
use crate::domain::season::record::member_record;
use crate::domain::units::Tenths;
use crate::league::attempts::Undone;
use crate::league::finding::evidence::{self, Known};
use crate::league::finding::read::{Seated, awaits_setup, behind, deadlines, seated};
use crate::league::finding::views::{IndexMove, RulingView};
use crate::league::keys::{RequestKey, created};
use crate::league::member::notices::{self, About as NoticeAbout, Tells};
use crate::league::memory::books::LeagueBook;
use crate::league::round::digests::entry;
use crate::league::round::rule::latest_in_effect;
use crate::league::season::around::Around;
use crate::league::season::changes::Cause;
use crate::league::season::derive;
use crate::league::{Leagues, Refusal, access};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::rounds::{self, RoundRow};
use crate::storage::row::Value;
use crate::storage::row_hashes::{wrote, wrote_pair};
use crate::storage::{Conn, StorageError, documents, findings, leagues, results};
use crate::{change, sql, values};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// A ruling that somebody gives on a finding.
#[derive(Clone, Debug)]
pub struct FindingRuling {
    /// What is decided.
    pub decision: Decision,
    /// The rounds that it touches.
    pub rounds: Vec<RoundId>,
    /// Why.
    pub reason: String,
}

/// Leaves a round's putts out of putting figures, or takes them in again; what follows is still to be derived.
pub(in crate::league) async fn leave_putts_out(
    conn: &mut Conn,
    book: &LeagueBook,
    round: RoundId,
    out: bool,
) -> Result<(), StorageError> {
    conn.run(sql!("round_set_putts_excluded"), values![book.league, round, out]).await?;
    let Some(row) = rounds::get(conn, round).await? else { return Ok(()) };
    let card = rounds::whole(conn, &row).await?;
    results::set_card(conn, book.league, &entry(book, &row, &card)).await
}

/// Returns the league indexes of those who played rounds.
async fn indexes(
    conn: &mut Conn,
    book: &LeagueBook,
    rows: &[RoundRow],
) -> Result<BTreeMap<MemberId, Option<Tenths>>, StorageError> {
    let mut indexes = BTreeMap::new();
    for member in rows.iter().map(|row| row.member).collect::<BTreeSet<_>>() {
        let stored = results::of_member(conn, book.league, member).await?;
        let record = member_record(&book.book, member, stored.iter().map(|stored| &stored.entry), None);
        indexes.insert(member, record.league_index);
    }
    Ok(indexes)
}

impl Leagues {
    /// Rules on a finding.
    ///
    /// # Errors
    /// Whoever is concerned or stepped aside; before those concerned had their say; rounds that are not behind it.
    pub async fn rule_on_finding(&self, key: RequestKey, id: Uuid, ruling: FindingRuling) -> Result<Reply, Refusal> {
        let this = self.clone();
        let (reply, events) = change!(self, id, |conn| {
            let seated = seated(conn, key.caller, id).await?;
            seated.seat.may_rule()?;
            access::fresh(key.caller, key.now)?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok::<_, Refusal>((reply, Vec::new()));
            }
            let (view, events) = this.rule_finding(conn, &key, seated, ruling).await?;
            let reply = created(format!("/api/v1/findings/{id}"), 1, &view);
            Ok((key.keep(conn, reply).await?, events))
        })?;
        for event in events {
            self.boards.moved(event);
        }
        Ok(reply)
    }

    /// Works out what a ruling on a finding would do, and does nothing.
    ///
    /// # Errors
    /// As [`rule_on_finding`](Self::rule_on_finding).
    pub async fn preview_finding_ruling(
        &self,
        key: RequestKey,
        id: Uuid,
        ruling: FindingRuling,
    ) -> Result<RulingView, Refusal> {
        let this = self.clone();
        let attempt: Result<(), Undone<RulingView>> = change!(self, id, |conn| {
            let seated = seated(conn, key.caller, id).await?;
            seated.seat.may_rule()?;
            let (view, _) = this.rule_finding(conn, &key, seated, ruling).await?;
            Err(Undone::seen(RulingView { id: None, ..view }))
        });
        Undone::view(attempt)
    }

    async fn rule_finding(
        &self,
        conn: &mut Conn,
        key: &RequestKey,
        seated: Seated,
        ruling: FindingRuling,
    ) -> Result<(RulingView, Vec<EventId>), Refusal> {
        let FindingRuling { decision, rounds: named, reason } = ruling;
        let Seated { finding, seat, concerned, .. } = &seated;
        let (league, opened) = (finding.league, &finding.opened);
        self.weigh_now(conn, league, key.now).await?;
        let book = self.books.of(conn, league).await?;
        let policy = book.book.seasons.get(&opened.season).ok_or(Refusal::NotFound)?;
        let (_, answer_by) = deadlines(concerned, policy.audit.answer_days);
        let all_answered = concerned.iter().all(|known| seated.has_answered(known.member));
        if !all_answered && answer_by.is_none_or(|by| key.now < by) {
            let detail = "the players concerned have time to reply first; a ruling is possible when all have replied, or after the last day for it";
            return Err(Refusal::conflict(Rule::AnswerAwaited, detail));
        }
        let behind = behind(conn, &book, finding).await?;
        // What was ruled before can be undone at any time.
        if decision != Decision::Reinstate && awaits_setup(conn, finding, &behind).await? {
            let detail = match seat.member {
                Some(_) => "the simulator of these rounds has a finding of its own, which must be ruled on first",
                // Whoever reviews from outside learns of no other finding.
                None => "the league has another question to settle first; you can rule after that",
            };
            return Err(Refusal::conflict(Rule::SetupFirst, detail));
        }
        let ruled = findings::rulings(conn, league, opened.id).await?;
        let known = |round: &RoundId| {
            behind.rows.iter().any(|row| row.id == *round) || ruled.iter().any(|ruled| ruled.rounds.contains(round))
        };
        let mut faults = Vec::new();
        for (n, _) in named.iter().enumerate().filter(|(_, round)| !known(round)) {
            let detail = "this round is not behind the finding";
            faults.push(Fault::new(format!("/round_ids/{n}"), Rule::UnknownId, detail));
        }
        for (n, round) in named.iter().enumerate() {
            if named[..n].contains(round) {
                faults.push(Fault::new(format!("/round_ids/{n}"), Rule::RepeatedId, "this round is named twice"));
            }
        }
        let (is_empty, touches_rounds) = (named.is_empty(), decision != Decision::NoAction);
        if is_empty == touches_rounds {
            let detail = "a ruling names the rounds that it touches, and no_action touches none";
            faults.push(Fault::new("/round_ids", Rule::RoundsMissing, detail));
        }
        crate::league::sound(faults)?;
        if opened.kind.is_notice && touches_rounds {
            return Err(Refusal::conflict(Rule::InvalidTransition, "a notice about a simulator cannot exclude rounds"));
        }

        let (ruling_id, seq) = (Uuid::now_v7(), leagues::next_seq(conn, league).await?);
        let by = seat.id();
        let values = values![league, ruling_id, by, opened.id, decision.word(), &reason, seq, key.now];
        conn.run(sql!("ruling_insert"), values).await?;
        let mut rows = Vec::new();
        for round in &named {
            rows.push(rounds::get(conn, *round).await?.ok_or(Refusal::NotFound)?);
        }
        let around = Around::of(self, conn, &book, rows.iter().map(|row| row.member)).await?;
        let indexes_before = indexes(conn, &book, &rows).await?;
        for row in &rows {
            let mut life = rounds::life(conn, row).await?;
            // What was ruled elsewhere is undone there.
            let is_elsewhere = decision == Decision::Reinstate
                && latest_in_effect(conn, row).await?.is_some_and(|latest| latest.finding != Some(opened.id));
            if life.rule(decision).is_none() || is_elsewhere || row.state == RoundState::Withdrawn {
                let detail = format!("there is nothing that this ruling could do to the round {}", row.id);
                return Err(Refusal::conflict(Rule::InvalidTransition, detail));
            }
            let values: Vec<Value> = values![league, ruling_id, row.id, None::<i64>];
            conn.run(sql!("ruled_round_insert"), values).await?;
            if life.state() != row.state {
                rounds::set_state(conn, league, row.id, life.state()).await?;
            }
            if life.are_putts_excluded() != row.are_putts_excluded {
                leave_putts_out(conn, &book, row.id, life.are_putts_excluded()).await?;
            }
        }
        let mut members: BTreeMap<MemberId, EventId> = BTreeMap::new();
        for row in &rows {
            members.entry(row.member).or_insert(row.event);
            documents::show_anew(conn, [(league, opened.season, row.event)]).await?;
        }
        for (member, event) in members {
            derive::member_and_marks(conn, &book, member).await?;
            evidence::again(conn, &book, member, event, &Known::default(), key.now).await?;
        }
        if decision == Decision::NoAction {
            crate::storage::evidence::begin_anew(conn, league, opened.season, opened.kind.name, opened.about).await?;
        }
        let content = serde_json::to_vec(&(decision, &reason)).expect("a ruling is plain text");
        let mut written = vec![wrote("rulings", ruling_id)];
        written.extend(named.iter().flat_map(|id| [wrote_pair("ruled_rounds", ruling_id, *id), wrote("rounds", *id)]));
        let (by_account, id) = (Some(key.caller.account), opened.id);
        let act = Act { by: by_account, act: "rule", kind: "finding", id, content: &content, rows: &written };
        journal::append(conn, league, act, key.now).await?;
        let who = by.unwrap_or(MemberId(Uuid::nil()));
        let moves = match rows.first() {
            Some(row) => {
                // What others read says that a round was left out, and nothing of the finding.
                let cause = Cause { by: who, act: decision.word(), kind: "round", thing: row.id.0, reason: None };
                let after = around.write_down(conn, &book, cause, key.now).await?;
                around.before().moves(&after.tables, opened.season)
            }
            None => Vec::new(),
        };
        let after = indexes(conn, &book, &rows).await?;
        let moved = |(member_id, from): (MemberId, Option<Tenths>)| {
            let to = after.get(&member_id).copied().flatten();
            (from != to).then_some(IndexMove { member_id, from, to })
        };
        let handicaps = indexes_before.into_iter().filter_map(moved).collect();
        let to: Vec<MemberId> = concerned.iter().map(|known| known.member).collect();
        notices::tell(conn, NoticeAbout::finding(league, opened.id), Tells::Ruling, &to, who, key.now).await?;
        let view = RulingView {
            id: Some(ruling_id),
            member_id: by,
            decision,
            round_ids: named,
            reason,
            received_at: key.now,
            moves: Some(moves),
            handicaps: Some(handicaps),
        };
        Ok((view, rows.into_iter().map(|row| row.event).collect()))
    }
}
