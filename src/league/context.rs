//! What every act is given: the store, the clock, and what is remembered between requests.

use crate::league::jobs::boards::Boards;
use crate::league::jobs::clearing::Clearing;
use crate::league::memory::books::Books;
use crate::league::memory::cards::Cards;
use crate::league::memory::fields::Fields;
use crate::league::memory::marks::Marks;
use crate::league::memory::season_figures::SeasonFigures;
use crate::league::memory::to_weigh::Weighing;
use crate::league::round::queue::HandIns;
use crate::storage::heads::HeadKey;
use crate::storage::lasting::LastingActs;
use crate::storage::{Database, Writer};
use jiff::Timestamp;
use std::sync::Arc;
use tokio::runtime::Handle;

/// Where the time comes from.
pub type Clock = Arc<dyn Fn() -> Timestamp + Send + Sync>;

/// The leagues of one server: its store, its clock, and what it remembers between requests.
#[derive(Clone)]
pub struct Leagues {
    /// For reading.
    pub database: Database,
    /// For changing.
    pub writer: Writer,
    /// The time.
    pub clock: Clock,
    /// Books of leagues, by their mark.
    pub books: Books,
    /// Members' rounds, by the head of their league's journal.
    pub cards: Cards,
    /// Fields of seasons, by the mark of the season's table.
    pub fields: Fields,
    /// Figures of seasons, by the marks of their events' boards.
    pub season_figures: SeasonFigures,
    /// Those who wait to be told the mark of a table or board.
    pub marks: Marks,
    /// Hand-ins that wait to be judged.
    pub hand_ins: HandIns,
    /// What waits to be taken into the evidence.
    pub weighing: Weighing,
    /// Tells that an event's board shows something else.
    pub boards: Boards,
    /// Tells that something was erased.
    pub clearing: Clearing,
    /// Where acts are written down that outlast a restore.
    pub lasting: LastingActs,
    /// Signs heads of journals; none where a command found no key.
    pub head_key: Option<HeadKey>,
}

impl Leagues {
    /// Puts the parts together, in the runtime that the writer runs in.
    ///
    /// # Panics
    /// Outside a runtime.
    pub fn new(database: Database, writer: Writer, clock: Clock) -> Self {
        let (books, cards, fields) = (Books::default(), Cards::default(), Fields::default());
        let season_figures = SeasonFigures::default();
        let (hand_ins, weighing, boards) = (HandIns::on(Handle::current()), Weighing::default(), Boards::default());
        let (marks, clearing) = (Marks::default(), Clearing::default());
        let (lasting, head_key) = (LastingActs::default(), None);
        Self {
            database,
            writer,
            clock,
            books,
            cards,
            fields,
            season_figures,
            marks,
            hand_ins,
            weighing,
            boards,
            clearing,
            lasting,
            head_key,
        }
    }

    /// Returns the time.
    pub fn now(&self) -> Timestamp {
        let now = (self.clock)();
        Timestamp::from_millisecond(now.as_millisecond()).unwrap_or(now)
    }
}
