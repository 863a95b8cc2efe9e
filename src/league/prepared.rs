//! What is derived from a card before it is stored: beside the writer, where the member's earlier rounds are cached.

use super::boiled::entry;
use super::books::LeagueBook;
use super::cards::Rounds;
use super::hand_in::Request;
use super::judge::Admission;
use super::keys::created;
use super::together::HandIns;
use super::views::RoundView;
use super::{derive, kept_answers};
use crate::domain::season;
use crate::storage::idempotency::{self, Reply};
use crate::storage::results;
use crate::storage::rounds::{self, RoundRow};
use crate::storage::row::Value;
use crate::storage::together::{Place, Sender};
use std::sync::Arc;
use std::time::Instant;

/// A card that is let in, as its rows, under a state of the league's book.
pub(super) struct Prepared {
    book: Arc<LeagueBook>,
    mark: i64,
    sender: Sender,
    pub(super) admission: Admission,
    /// Its number is still to be given.
    pub(super) row: RoundRow,
    entry: season::Entry,
    pub(super) holes: Vec<Value>,
    pub(super) putts: Vec<Value>,
    derived: Option<Derived>,
}

/// What follows from a round, given the member's rounds before it.
pub(super) struct Derived {
    before: Rounds,
    pub(super) after: Rounds,
    /// The places of earlier rounds whose figures are others now.
    pub(super) changed: Vec<usize>,
    /// Whether the member, on that set-up, took part in the season before.
    pub(super) took_part: bool,
    pub(super) shown: derive::Shown,
    pub(super) result: Vec<Value>,
    pub(super) reply: Reply,
    pub(super) kept: Vec<Value>,
}

impl Prepared {
    /// Prepares a card that was let in under a book and its mark.
    pub(super) fn of(
        (mark, book): (i64, Arc<LeagueBook>),
        sender: Sender,
        admission: Admission,
        request: &Request,
    ) -> Self {
        let row = admission.row(request.id, 1, 0);
        let entry = entry(&book, &row, &admission.round);
        let (holes, putts) = rounds::card_values(row.league, row.id, &admission.round.holes);
        Self { book, mark, sender, admission, row, entry, holes, putts, derived: None }
    }

    /// Derives what follows from it after the member's rounds as they were last known.
    pub(super) fn derive_beforehand(&mut self, before: Rounds, request: &Request, tallies: &HandIns) {
        self.derived = Some(self.derive(before, request, tallies));
    }

    /// Returns what follows from it after these rounds of the member.
    pub(super) fn derived(&mut self, before: Rounds, request: &Request, tallies: &HandIns) -> Derived {
        match self.derived.take() {
            Some(derived) if Arc::ptr_eq(&derived.before, &before) => derived,
            _ => self.derive(before, request, tallies),
        }
    }

    fn derive(&self, before: Rounds, request: &Request, tallies: &HandIns) -> Derived {
        let began = Instant::now();
        let mut after = before.as_ref().clone();
        let (changed, shown) = derive::followed_by(&self.book, &mut after, self.entry.clone());
        let (result, figures) = match after.last() {
            Some(new) => (results::row_values(self.book.league, self.admission.season, new), new.figures.as_ref()),
            None => (Vec::new(), None),
        };
        tallies.count_derived(began.elapsed());
        let took_part = before.iter().any(|known| {
            let night = self.book.book.nights.get(&known.entry.event);
            known.entry.setup == self.row.setup && night.is_some_and(|night| night.season == self.admission.season)
        });
        let view = RoundView::of(&self.row, self.admission.round.clone(), figures);
        let reply = created(format!("/api/v1/rounds/{}", self.row.id), self.row.version, &view);
        let kept = request.key.key.map(|key| {
            let kept = kept_answers::without_card(&reply, &view);
            let of = &request.key;
            idempotency::row_values(of.caller.account, &of.operation, key, of.body_hash, &kept, of.now)
        });
        let (after, kept) = (Arc::new(after), kept.unwrap_or_default());
        Derived { before, after, changed, took_part, shown, result, reply, kept }
    }

    /// Says whether it was prepared under the book that holds, for this sender.
    pub(super) fn still_holds(&self, place: &Place) -> bool {
        (self.book.league, self.mark, self.sender) == (place.league, place.book_mark, place.sender)
    }
}
