//! Handing in rounds: each is judged, and all that are let in are stored at once. A single round is a batch of one.

use crate::domain::ids::{EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::RoundState;
use crate::league::keys::{RequestKey, created};
use crate::league::member::notices::{self, About, Tells};
use crate::league::memory::books::LeagueBook;
use crate::league::memory::cards::Rounds;
use crate::league::round::content::{body_hash, in_order};
use crate::league::round::correct::take_back;
use crate::league::round::judge::{Verdict, judge};
use crate::league::round::prepared::{Derived, Prepared};
use crate::league::round::queue::{Answer, Card, NothingStored};
use crate::league::round::request::{HandIn, Request};
use crate::league::views::{FiguresView, RoundView};
use crate::league::{Leagues, Refusal};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{Act, Head};
use crate::storage::results::{self, StoredResult};
use crate::storage::rounds::{self, RoundRow};
use crate::storage::together::{Asked, Found, Known, Place, Rows, Sender, look_up};
use crate::storage::{Conn, StorageError, documents, evidence, leagues, members, row_hashes};
use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::sync::Arc;
use uuid::Uuid;

impl Request {
    /// Judges it by a book, given what else is known.
    fn judge(&self, book: &LeagueBook, sender: Sender, known: &Known) -> Result<Verdict, Refusal> {
        let night = book.book.nights.get(&self.sent.event).ok_or(Refusal::NotFound)?;
        judge(book, night, sender, known, &self.sent, self.key.now)
    }

    fn asked(&self) -> Asked<'_> {
        Asked {
            event: self.sent.event,
            account: self.key.caller.account,
            member: self.sent.round.member_id,
            client_round_id: self.sent.round.client_round_id,
            session: self.sent.session,
            operation: &self.key.operation,
            key: self.key.key,
        }
    }
}

impl Leagues {
    /// Hands in a round.
    ///
    /// The same round sent again answers the stored one, even after its key is forgotten and the event has closed.
    ///
    /// # Errors
    /// Not the caller's to hand in, not the event's time, a card that does not fit, a second round.
    pub async fn hand_in(&self, key: RequestKey, mut sent: HandIn) -> Result<Reply, Refusal> {
        let id = RoundId(Uuid::now_v7());
        // Whoever hands in has a place in a queue before this waits for anything: lines of a batch keep their order.
        let Some((mark, book)) = self.books.with_event(sent.event) else {
            return self.hand_in_alone(Request { id, key, sent: Arc::new(sent) }).await;
        };
        let sender = book.accounts.get(&key.caller.account).map(|&(member, role)| Sender { member, role });
        if let Some(sender) = sender.filter(|_| !sent.names_member) {
            sent.round.member_id = sender.member;
        }
        let league = book.league;
        let request = Request { id, key, sent: Arc::new(sent) };
        let verdict = sender.map(|sender| (sender, request.judge(&book, sender, &Known::default())));
        let prepared = if let Some((sender, Ok(Verdict::Admit(admission)))) = verdict {
            let mut prepared = Prepared::of((mark, book), sender, *admission, &request);
            if let Some(before) = self.cards.lately(league, prepared.row.member) {
                prepared.derive_beforehand(before, &request, self.hand_ins.derivations());
            }
            Some(prepared)
        } else {
            None
        };
        self.hand_in_with_others(league, Card { request, prepared }).await
    }

    /// Judges hand-ins in their order and stores those that are let in; returns an answer to each.
    pub(in crate::league) async fn judge_and_store(
        &self,
        conn: &mut Conn,
        cards: Vec<Card>,
    ) -> Result<Vec<Answer>, NothingStored> {
        let mut answers = BTreeMap::new();
        let mut waiting: Vec<(usize, Card)> = cards.into_iter().enumerate().collect();
        while !waiting.is_empty() {
            waiting = self.judge_some(conn, waiting, &mut answers).await.map_err(NothingStored::Failed)?;
        }
        let answers: Vec<Answer> = answers.into_values().collect();
        if answers.iter().all(Result::is_err) { Err(NothingStored::Refused(answers)) } else { Ok(answers) }
    }

    /// Judges and stores the hand-ins that do not wait for others; returns those that are still to be judged, in order.
    async fn judge_some(
        &self,
        conn: &mut Conn,
        cards: Vec<(usize, Card)>,
        answers: &mut BTreeMap<usize, Answer>,
    ) -> Result<Vec<(usize, Card)>, Refusal> {
        let mut seen: HashSet<Uuid> = HashSet::new();
        // A second round of a member, or a second use of a key, waits for the first.
        let (now, later): (Vec<_>, Vec<_>) = cards.into_iter().partition(|(_, Card { request, .. })| {
            seen.insert(request.sent.round.member_id.0) & request.key.key.is_none_or(|key| seen.insert(key))
        });
        let asked: Vec<Asked<'_>> = now.iter().map(|(_, card)| card.request.asked()).collect();
        let found = look_up(conn, &asked).await?;
        let (mut admitted, mut proposed, mut again) = (Vec::new(), Vec::new(), Vec::new());
        for ((n, mut card), found) in now.into_iter().zip(found) {
            let place = match found {
                Found::In(place) => place,
                Found::SignedOut => {
                    answers.insert(n, Err(Refusal::SignedOut));
                    continue;
                }
                Found::Nowhere => {
                    answers.insert(n, Err(Refusal::NotFound));
                    continue;
                }
            };
            let (sender, request) = (place.sender, &mut card.request);
            if !request.sent.names_member && request.sent.round.member_id != sender.member {
                // It was looked up for the record that the account stood for earlier.
                Arc::make_mut(&mut request.sent).round.member_id = sender.member;
                again.push((n, card));
                continue;
            }
            if let Some(prepared) = card.prepared.take()
                && place.known == Known::default()
                && prepared.still_holds(&place)
            {
                admitted.push(Admitted { n, request: card.request, prepared, place });
                continue;
            }
            let (mark, book) = match self.books.marked(place.league, place.book_mark) {
                Some(book) => (place.book_mark, book),
                None => self.books.with_mark(conn, place.league).await?,
            };
            let answer = match request.judge(&book, sender, &place.known) {
                Ok(Verdict::Admit(admission)) => {
                    let prepared = Prepared::of((mark, book), sender, *admission, request);
                    admitted.push(Admitted { n, request: card.request, prepared, place });
                    continue;
                }
                Ok(Verdict::Replace(id)) => {
                    proposed.push((id, request.key.clone(), sender));
                    again.push((n, card));
                    continue;
                }
                Ok(Verdict::Replay) => request.key.replay(conn).await.and_then(|reply| reply.ok_or(Refusal::NotFound)),
                Ok(Verdict::SentBefore) => self.sent_again(conn, place.league, request).await,
                Err(refusal) => Err(refusal),
            };
            if let Err(Refusal::Storage(error)) = answer {
                return Err(error.into());
            }
            answers.insert(n, answer.map(|reply| (reply, None)));
        }
        if !admitted.is_empty() {
            self.store(conn, admitted, answers).await?;
        }
        for (id, key, sender) in proposed {
            let row = rounds::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            let reason = Some("the player handed in an own card");
            take_back(conn, &row, key.caller, sender.member, reason, key.now).await?;
        }
        again.extend(later);
        Ok(again)
    }

    /// Stores rounds of different members with everything that follows from them.
    async fn store(
        &self,
        conn: &mut Conn,
        admitted: Vec<Admitted>,
        answers: &mut BTreeMap<usize, Answer>,
    ) -> Result<(), Refusal> {
        let mut unknown = Vec::new();
        let mut known = Vec::with_capacity(admitted.len());
        for Admitted { prepared, place, .. } in &admitted {
            let (league, member) = (place.league, prepared.row.member);
            if place.is_in_play {
                rounds::end_play(conn, league, prepared.row.event, member).await?;
            }
            let before = self.cards.of_member(league, member, place.rounds_mark);
            if before.is_none() {
                unknown.push((league, member));
            }
            known.push(before);
        }
        let mut read = results::of_members(conn, unknown).await?;
        let mut batch = Batch::default();
        for (mut admitted, before) in admitted.into_iter().zip(known) {
            let member = admitted.prepared.row.member;
            let before = before.unwrap_or_else(|| {
                let read = read.remove(&member).unwrap_or_default();
                Arc::new(read.into_iter().map(Arc::new).collect())
            });
            let derived = admitted.prepared.derived(before, &admitted.request, self.hand_ins.derivations());
            let (n, league) = (admitted.n, admitted.place.league);
            answers.insert(n, Ok((batch.add(admitted, derived), Some(league))));
        }
        self.cards.remember(batch.store(conn).await?);
        Ok(())
    }
}

/// A round that is to be stored, with its place among the hand-ins.
struct Admitted {
    n: usize,
    request: Request,
    prepared: Prepared,
    place: Box<Place>,
}

/// Where a league stands while rounds are stored.
struct Standing {
    seq: i64,
    head: Head,
}

/// What is to be stored of rounds together.
#[derive(Default)]
struct Batch {
    rows: Rows,
    standings: BTreeMap<LeagueId, Standing>,
    /// What other figures follow for earlier rounds.
    changed: Vec<(LeagueId, Arc<StoredResult>)>,
    shown: BTreeSet<(LeagueId, SeasonId, EventId)>,
    rounds: Vec<((LeagueId, MemberId), Rounds)>,
    /// The rounds that wait to be accepted.
    waiting: Vec<RoundRow>,
}

impl Batch {
    /// Gives a round its number and adds what is to be stored of it; returns its answer.
    fn add(&mut self, Admitted { request, prepared, place, .. }: Admitted, derived: Derived) -> Reply {
        let Prepared { mut row, admission, mut holes, mut putts, .. } = prepared;
        let (league, member) = (row.league, row.member);
        self.changed.extend(derived.changed.iter().map(|place| (league, Arc::clone(&derived.after[*place]))));
        if !derived.took_part {
            self.rows.field.extend(evidence::field_values(league, admission.season, member, row.setup));
        }
        let standing = self.standings.entry(league).or_insert(Standing { seq: place.seq, head: place.head });
        standing.seq += 1;
        (row.seq, row.version_seq) = (standing.seq, standing.seq);
        let by = Some(request.key.caller.account);
        let act = Act { by, act: "hand_in", kind: "round", id: row.id.0, content: &[], rows: &[] };
        let values = rounds::row_values(&row);
        let hashes = vec![row_hashes::of_round(&values)];
        self.rows.journal.extend(standing.head.step(league, act, admission.first_hash, hashes, row.received_at));
        self.rows.rounds.extend(values);
        self.rows.holes.append(&mut holes);
        self.rows.putts.append(&mut putts);
        self.rows.results.extend(derived.result);
        self.rows.replies.extend(derived.kept);
        self.shown.extend(derived.shown.into_iter().map(|(season, event)| (league, season, event)));
        self.rounds.push(((league, member), derived.after));
        if matches!(row.state, RoundState::Late | RoundState::Proposed) {
            self.waiting.push(row);
        }
        derived.reply
    }

    /// Stores it; returns what may be remembered.
    async fn store(self, conn: &mut Conn) -> Result<Vec<((LeagueId, MemberId), Rounds)>, StorageError> {
        self.rows.insert(conn).await?;
        for (league, result) in &self.changed {
            results::set_figures(conn, *league, result).await?;
        }
        documents::show_anew(conn, self.shown).await?;
        let moved = self.standings.into_iter().map(|(league, Standing { seq, head })| (league, seq, head));
        leagues::advance(conn, moved).await?;
        for row in self.waiting {
            let (tells, mut to) = match row.state {
                RoundState::Late => (Tells::RoundLate, members::organizers(conn, row.league).await?),
                _ => (Tells::RoundProposed, Vec::new()),
            };
            to.push(row.member);
            let by = row.sent_by.unwrap_or(row.member);
            notices::tell(conn, About::round(row.league, row.id), tells, &to, by, row.received_at).await?;
        }
        Ok(self.rounds)
    }
}

impl Leagues {
    /// Answers a round that was sent before: the stored one, if it is the same.
    async fn sent_again(&self, conn: &mut Conn, league: LeagueId, request: &Request) -> Result<Reply, Refusal> {
        let round = &request.sent.round;
        let known = rounds::by_client_round_id(conn, league, round.member_id, round.client_round_id).await?;
        let known = &known.ok_or(Refusal::NotFound)?;
        if known.event != request.sent.event || known.first_body_hash != body_hash(&in_order(round.clone())) {
            let detail = "another round of this player has this client_round_id";
            return Err(Refusal::conflict(Rule::RoundExists, detail));
        }
        let round = rounds::whole(conn, known).await?;
        let figures = results::of_round(conn, league, (known.member, known.id)).await?;
        let book = self.books.of(conn, league).await?;
        let view = RoundView::of(known, round, FiguresView::of(&book.book, figures.as_ref()));
        let reply = Reply { status: 200, ..created(format!("/api/v1/rounds/{}", known.id), known.version, &view) };
        request.key.keep(conn, reply).await
    }
}
