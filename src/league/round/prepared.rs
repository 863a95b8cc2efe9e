//! What is derived from a card before it is stored: beside the writer, where the member's earlier rounds are cached.

use crate::domain::season;
use crate::league::keys::created;
use crate::league::memory::books::LeagueBook;
use crate::league::memory::cards::Rounds;
use crate::league::round::derivations::Derivations;
use crate::league::round::digests::entry;
use crate::league::round::judge::Admission;
use crate::league::round::kept_answers;
use crate::league::round::request::Request;
use crate::league::season::derive;
use crate::league::views::{FiguresView, RoundView};
use crate::storage::idempotency::{self, Reply};
use crate::storage::results;
use crate::storage::rounds::{self, RoundRow};
use crate::storage::row::Value;
use crate::storage::together::{Place, Sender};
use std::sync::Arc;
use std::time::Instant;

/// A card that is let in, as its rows, under a state of the league's book.
pub(in crate::league) struct Prepared {
    book: Arc<LeagueBook>,
    mark: i64,
    sender: Sender,
    pub(in crate::league) admission: Admission,
    /// Its number is still to be given.
    pub(in crate::league) row: RoundRow,
    entry: season::Entry,
    pub(in crate::league) holes: Vec<Value>,
    pub(in crate::league) putts: Vec<Value>,
    derived: Option<Derived>,
}

/// What follows from a round, given the member's rounds before it.
pub(in crate::league) struct Derived {
    before: Rounds,
    pub(in crate::league) after: Rounds,
    /// The places of earlier rounds whose figures are others now.
    pub(in crate::league) changed: Vec<usize>,
    /// Whether the member, on that set-up, took part in the season before.
    pub(in crate::league) took_part: bool,
    pub(in crate::league) shown: derive::Shown,
    pub(in crate::league) result: Vec<Value>,
    pub(in crate::league) reply: Reply,
    pub(in crate::league) kept: Vec<Value>,
}

impl Prepared {
    /// Prepares a card that was let in under a book and its mark.
    pub(in crate::league) fn of(
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
    pub(in crate::league) fn derive_beforehand(&mut self, before: Rounds, request: &Request, tallies: &Derivations) {
        self.derived = Some(self.derive(before, request, tallies));
    }

    /// Returns what follows from it after these rounds of the member.
    pub(in crate::league) fn derived(&mut self, before: Rounds, request: &Request, tallies: &Derivations) -> Derived {
        match self.derived.take() {
            Some(derived) if Arc::ptr_eq(&derived.before, &before) => derived,
            _ => self.derive(before, request, tallies),
        }
    }

    fn derive(&self, before: Rounds, request: &Request, tallies: &Derivations) -> Derived {
        let began = Instant::now();
        let mut after = Vec::with_capacity(before.len() + 1);
        after.extend(before.iter().cloned());
        let (changed, shown) = derive::followed_by(&self.book, &mut after, self.entry.clone());
        let (result, figures) = match after.last() {
            Some(new) => (results::row_values(self.book.league, new), new.figures.as_ref()),
            None => (Vec::new(), None),
        };
        tallies.add(began.elapsed());
        let took_part = before.iter().any(|known| {
            let night = self.book.book.nights.get(&known.entry.event);
            known.entry.setup == self.row.setup && night.is_some_and(|night| night.season == self.admission.season)
        });
        let view = RoundView::of(&self.row, self.admission.round.clone(), FiguresView::of(&self.book.book, figures));
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
    pub(in crate::league) fn still_holds(&self, place: &Place) -> bool {
        (self.book.league, self.mark, self.sender) == (place.league, place.book_mark, place.sender)
    }
}
