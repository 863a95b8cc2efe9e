//! What a player needs in order to fill in a card: the holes, the strokes given, the set-ups.

use crate::domain::competition::ball::{self, given};
use crate::domain::competition::ranking::part;
use crate::domain::facts::{Event, EventState, Setup};
use crate::domain::ids::{CompetitionId, EventId, MemberId, RoundId, SetupId};
use crate::domain::scoring::strokes_received::strokes_received;
use crate::domain::season::record::figures_without_card;
use crate::domain::season::{Entry, RoundState};
use crate::league::competition::seen::OwnMatch;
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::documents::EVENTS;
use crate::storage::results;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

/// All that a card of one member in one event is filled in with.
#[derive(Debug, Serialize)]
pub struct EntrySheet {
    /// The event.
    pub event_id: EventId,
    /// Its name.
    pub name: String,
    /// Where the event stands.
    #[serde(skip)]
    pub state: EventState,
    /// Until when cards are taken.
    pub closes_at: Timestamp,
    /// The longest putt that may be conceded, in feet.
    pub concession_ft: f64,
    /// Whose card it is.
    pub member_id: MemberId,
    /// The day that it is now, in the league's zone.
    pub today: Date,
    /// The playing strokes that fall on the holes.
    pub playing_strokes: i32,
    /// The holes in order.
    pub holes: Vec<SheetHole>,
    /// The strokes in each competition of the season.
    pub strokes: Vec<SheetStrokes>,
    /// The set-ups that the member may use.
    pub setups: Vec<SheetSetup>,
    /// The member's card in the event, if there is one.
    pub round_id: Option<RoundId>,
}

/// A hole of an entry sheet.
#[derive(Debug, Serialize)]
pub struct SheetHole {
    /// Its number.
    pub number: u8,
    /// Its par.
    pub par: u8,
    /// Its place in the order in which strokes fall.
    pub stroke_index: u8,
    /// The strokes that the member receives on it.
    pub strokes_received: i32,
}

/// The strokes that a member receives in one competition.
#[derive(Debug, Serialize)]
pub struct SheetStrokes {
    pub competition_id: CompetitionId,
    /// What the competition is called.
    #[serde(skip)]
    pub name: String,
    pub playing_handicap: i32,
    /// Those on each hole, in the order of the holes.
    pub holes: Vec<i32>,
    /// The member's matches in the event.
    pub matches: Vec<OwnMatch>,
}

/// A set-up to choose.
#[derive(Debug, Serialize)]
pub struct SheetSetup {
    /// Its id.
    pub id: SetupId,
    /// What people call it.
    pub label: String,
}

impl Leagues {
    /// Makes the entry sheet of a member for an event; without one the caller's own.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see; a member of another league.
    pub async fn entry_sheet(
        &self,
        caller: Caller,
        id: EventId,
        member: Option<MemberId>,
    ) -> Result<EntrySheet, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (document, own) = access::document::<Event>(&mut conn, caller, &EVENTS, id.0).await?;
        let book = self.books.of(&mut conn, document.league).await?;
        let member = member.unwrap_or(own.id);
        if !book.book.members.contains_key(&member) {
            return Err(Refusal::NotFound);
        }
        let night = book.book.nights.get(&id).ok_or(Refusal::NotFound)?;
        let stored = results::of_member(&mut conn, document.league, member).await?;
        let entries: Vec<Entry> = stored.into_iter().map(|stored| stored.entry).collect();
        let present = |entry: &&Entry| entry.event == id && entry.state != RoundState::Withdrawn;
        let round_id = entries.iter().find(present).map(|entry| entry.id);
        // The strokes are those of a card that is not filled in yet: no other way to work them out is needed.
        let figures = figures_without_card(&book.book, member, &entries, night).ok_or(Refusal::NotFound)?;
        let layout = book.book.layout(night, figures.tee).ok_or(Refusal::NotFound)?;
        let allowed = given(&book.book, night, &book.book.main_terms(night), &layout, figures.handicap).allowed;
        let received = strokes_received(allowed, &layout.stroke_indexes());
        let strokes = book.book.competitions_of(night.season).into_iter().filter_map(|(competition_id, _)| {
            let terms = book.book.terms(night, competition_id).filter(|terms| terms.counts_event(id))?;
            part(terms, figures.flight.as_deref())?;
            let strokes = given(&book.book, night, terms, &layout, figures.handicap);
            let (playing_handicap, holes) = (strokes.playing_handicap, ball::received(terms, strokes, &layout));
            let name = terms.name.clone();
            Some(SheetStrokes { competition_id, name, playing_handicap, holes, matches: Vec::new() })
        });
        let mut strokes: Vec<SheetStrokes> = strokes.collect();
        for strokes in &mut strokes {
            strokes.matches = self.matches_of(&mut conn, &book, strokes.competition_id, (id, member)).await?;
        }
        let holes = layout.holes.iter().zip(received).map(|(hole, strokes_received)| SheetHole {
            number: hole.number.get(),
            par: hole.par.get(),
            stroke_index: hole.stroke_index.get(),
            strokes_received,
        });
        let is_usable = |owner: Option<MemberId>, setup: &Setup| setup.shared || owner == Some(member);
        let usable = book.setups.iter().filter(|(_, (owner, setup))| is_usable(*owner, setup));
        let mut setups: Vec<SheetSetup> =
            usable.map(|(id, (_, setup))| SheetSetup { id: *id, label: setup.label.clone() }).collect();
        setups.sort_by(|a, b| (&a.label, a.id).cmp(&(&b.label, b.id)));
        let season = book.book.seasons.get(&night.season).ok_or(Refusal::NotFound)?;
        Ok(EntrySheet {
            event_id: id,
            name: night.event.name.clone(),
            state: night.event.state_at(self.now()),
            closes_at: night.event.closes_at,
            concession_ft: season.concession_ft,
            member_id: member,
            today: book.zone.to_datetime(self.now()).date(),
            playing_strokes: allowed,
            strokes,
            holes: holes.collect(),
            setups,
            round_id,
        })
    }
}
