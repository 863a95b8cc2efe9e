//! Boards of events.

use crate::domain::competition::ball::shown;
use crate::domain::competition::match_shown::FixtureShown;
use crate::domain::competition::ranking::{part, places, unranked};
use crate::domain::exact::Value;
use crate::domain::facts::Event;
use crate::domain::facts::event::Void;
use crate::domain::ids::{CompetitionId, EventId, MemberId};
use crate::domain::season::{Figures, RoundState};
use crate::league::competition::asked_for_event;
use crate::league::memory::books::LeagueBook;
use crate::league::reading::provisional_until;
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::documents::{self, EVENTS};
use crate::storage::{Conn, StorageError, entrants, results};
use jiff::Timestamp;
use serde::Serialize;
use std::borrow::Cow;

#[derive(Debug, Serialize)]
pub struct Board {
    pub event_id: EventId,
    /// The competition that ranks it; `None`: no competition counts the event.
    pub competition_id: Option<CompetitionId>,
    /// Rises whenever the board shows something else.
    pub version: i64,
    /// Until when queries may still change what it shows; `None` once the event is final.
    pub provisional_until: Option<Timestamp>,
    /// Why no competition counts the event.
    pub void: Option<Void>,
    pub cards_in: u32,
    /// Entered members whose card is not in.
    pub still_out: u32,
    pub items: BoardRows,
    /// There is one page.
    pub next: Option<String>,
}

/// The rows of a board: cards, or the fixtures of a competition of matches.
#[derive(Debug, Serialize)]
#[serde(untagged)]
pub enum BoardRows {
    Cards(Vec<BoardRow>),
    Fixtures(Vec<FixtureShown>),
}

impl BoardRows {
    /// Returns the rows of cards; none of a competition of matches.
    pub fn cards(&self) -> &[BoardRow] {
        if let Self::Cards(rows) = self { rows } else { &[] }
    }

    /// Takes the rows of cards; none of a competition of matches.
    pub fn into_cards(self) -> Vec<BoardRow> {
        if let Self::Cards(rows) = self { rows } else { Vec::new() }
    }
}

/// A row of a board.
#[derive(Debug, Serialize)]
pub struct BoardRow {
    /// The position in the flight.
    pub position: Option<u32>,
    /// Whether others share it.
    pub tied: bool,
    /// Whose row it is.
    pub member_id: MemberId,
    pub display_name: String,
    pub flight: Option<String>,
    /// Holes started.
    pub holes_played: u32,
    pub gross: Option<i32>,
    /// The gross less the playing strokes.
    pub net: Option<i32>,
    pub points: Option<i32>,
    /// What the player receives.
    pub playing_handicap: Option<i32>,
    /// The score of the card in the competition.
    pub score: Option<Value>,
    /// What each hole is worth, where holes are won or the best of each counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub holes: Option<Vec<Option<i32>>>,
    /// What the event is worth in the season so far.
    pub value: Option<Value>,
    /// Strokes over par on the holes holed out so far, for a card in play.
    pub over_par_so_far: Option<i32>,
    /// When the member plays.
    pub slot: Option<String>,
    /// Where the member plays.
    pub bay: Option<String>,
    /// Where the round stands; a member without one is in play or entered.
    pub state: &'static str,
}

/// The state of a row whose card is in play.
pub const IN_PLAY: &str = "in_play";
/// The state of a row whose member entered and has no card.
pub const ENTERED: &str = "entered";

impl Leagues {
    /// Makes an event's board.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see.
    pub async fn board(
        &self,
        caller: Caller,
        event: EventId,
        competition: Option<CompetitionId>,
    ) -> Result<Board, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (document, _) = access::document::<Event>(&mut conn, caller, &EVENTS, event.0).await?;
        let version = documents::event_shown(&mut conn, document.league, event).await?;
        let book = self.books.of(&mut conn, document.league).await?;
        let night = book.book.nights.get(&event).ok_or(Refusal::NotFound)?;
        let competition = asked_for_event(&book, night, competition)?;
        let terms = competition.and_then(|id| book.book.competitions.get(&id));
        let of_matches = competition.filter(|_| terms.is_some_and(|(_, terms)| !terms.ranks_cards()));
        let of_cards = if of_matches.is_some() { book.book.main_for(night) } else { competition };
        let cards = board_of(&mut conn, &book, event, of_cards).await?;
        let count = |state: &str| cards.iter().filter(|row| row.state == state).count() as u32;
        let (in_play, entered) = (count(IN_PLAY), count(ENTERED));
        Ok(Board {
            event_id: event,
            competition_id: competition,
            version,
            provisional_until: book.book.nights.get(&event).and_then(|night| provisional_until(&book.book, night)),
            void: document.body.void,
            cards_in: cards.len() as u32 - in_play - entered,
            still_out: in_play + entered,
            items: match of_matches {
                None => BoardRows::Cards(cards),
                Some(id) => BoardRows::Fixtures(self.fixtures_of_event(&mut conn, &book, event, id).await?),
            },
            next: None,
        })
    }
}

/// Makes the rows of an event's board: cards that count in order of their places, then cards that do not count, then
/// cards in play, then members who entered. Without a competition no card has a place.
///
/// # Errors
/// A failed database or an unreadable row.
pub(in crate::league) async fn board_of(
    conn: &mut Conn,
    book: &LeagueBook,
    event: EventId,
    competition: Option<CompetitionId>,
) -> Result<Vec<BoardRow>, StorageError> {
    let rounds = results::of_event(conn, book.league, event).await?;
    let Some(night) = book.book.nights.get(&event) else { return Ok(Vec::new()) };
    let terms = &match competition {
        None => book.book.main_terms(night),
        Some(id) => match book.book.terms(night, id) {
            None => return Ok(Vec::new()),
            Some(terms) => Cow::Borrowed(terms),
        },
    };
    let entered = entrants::of_event(conn, book.league, event).await?;
    let place_of = |member| entered.iter().find(|entrant| entrant.member == member);
    let bare = |member: MemberId, state: &'static str| BoardRow {
        position: None,
        tied: false,
        member_id: member,
        display_name: book.book.members.get(&member).map(|member| member.display_name.clone()).unwrap_or_default(),
        flight: None,
        holes_played: 0,
        gross: None,
        net: None,
        points: None,
        playing_handicap: None,
        score: None,
        holes: None,
        value: None,
        over_par_so_far: None,
        slot: place_of(member).and_then(|entrant| entrant.entry.slot.clone()),
        bay: place_of(member).and_then(|entrant| entrant.entry.bay.clone()),
        state,
    };
    let state_of = |figures: &Figures| {
        let round = rounds.iter().find(|round| round.round == figures.round);
        round.map_or(RoundState::Submitted, |round| round.state).word()
    };
    let figures = || rounds.iter().filter_map(|round| round.figures.as_ref());
    let placed = match competition {
        Some(id) => {
            let mut placed = places(&book.book, night, id, figures());
            // A guest's card is seen and has no place.
            let is_seen = |figures: &&Figures| book.book.is_guest(figures.member) && !terms.field.by_entry;
            placed.extend(unranked(&book.book, night, terms, figures().filter(is_seen)));
            placed
        }
        None => unranked(&book.book, night, terms, figures()),
    };
    let by_hole = terms.goes_by_hole();
    let mut rows: Vec<BoardRow> = placed
        .iter()
        .map(|row| {
            let shown = shown(&book.book, night, terms, row.figures);
            let flight = part(terms, row.figures.flight.as_deref()).flatten();
            BoardRow {
                position: row.place,
                tied: row.is_tied,
                flight: flight.map(str::to_owned),
                holes_played: row.figures.card.holes_played(),
                gross: row.figures.gross,
                net: shown.and_then(|shown| shown.net),
                points: shown.and_then(|shown| shown.points),
                playing_handicap: shown.map(|shown| shown.playing_handicap),
                score: row.score().filter(|_| !by_hole).map(Value),
                holes: row.ball.as_ref().filter(|_| by_hole).map(|ball| ball.holes.clone()),
                value: row.value.map(Value),
                ..bare(row.figures.member, state_of(row.figures))
            }
        })
        .collect();
    let is_in = |member| competition.is_none_or(|id| book.book.is_entered(event, (id, terms), member));
    let waiting = rounds.iter().filter(|round| round.figures.is_none() && round.state != RoundState::Withdrawn);
    let waiting = waiting.filter(|round| is_in(round.member));
    rows.extend(waiting.map(|round| bare(round.member, round.state.word())));
    if !night.event.is_final() {
        for card in entrants::cards_of(conn, book.league, event).await?.into_iter().filter(|card| is_in(card.member)) {
            let flight = book.book.members.get(&card.member).and_then(|member| member.flight.as_deref());
            let layout = book.book.layout(night, night.event.tee_of(card.member, flight));
            rows.push(BoardRow {
                holes_played: card.card.holes_played(),
                over_par_so_far: layout.map(|layout| card.card.over_par(&layout)),
                ..bare(card.member, IN_PLAY)
            });
        }
    }
    for entrant in entered.iter().filter(|entrant| is_in(entrant.member)) {
        if !rows.iter().any(|row| row.member_id == entrant.member) {
            rows.push(bare(entrant.member, ENTERED));
        }
    }
    Ok(rows)
}
