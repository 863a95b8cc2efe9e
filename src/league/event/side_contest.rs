//! Side contests of an event: laid down by organizers, values noted by players and scorers or read from the cards.

use crate::change;
use crate::domain::competition::better::Better;
use crate::domain::facts::course::Layout;
use crate::domain::facts::side_contest::{FromCards, Noted, SideContest};
use crate::domain::facts::{Event, EventState, Fault, Role, Round, Rules};
use crate::domain::ids::{EventId, MemberId};
use crate::domain::rule::Rule;
use crate::domain::season::Night;
use crate::domain::season::side_contest::{ContestCard, ContestRow, places, value};
use crate::domain::units::{Feet, HoleNumber};
use crate::league::access::{self, IfMatch};
use crate::league::competition::stored::{self, By, New};
use crate::league::keys::{RequestKey, created};
use crate::league::memory::books::LeagueBook;
use crate::league::refusal::{final_event, void_event};
use crate::league::views::state_word;
use crate::league::{Caller, Leagues, Refusal, sound};
use crate::storage::documents::{Document, EVENTS};
use crate::storage::idempotency::Reply;
use crate::storage::members::StoredMember;
use crate::storage::season_facts::{Kind, SeasonFact};
use crate::storage::{Conn, StorageError, results, rounds};
use crate::wire::body::side_contest::{MOST_CONTESTS, MOST_NOTED};
use jiff::Timestamp;
use serde::Serialize;
use std::collections::HashMap;
use uuid::Uuid;

#[derive(Clone, Debug, Serialize)]
pub struct ContestView {
    pub id: Uuid,
    pub event_id: EventId,
    pub name: String,
    pub hole: Option<HoleNumber>,
    pub unit: String,
    pub better: Better,
    pub from_cards: Option<FromCards>,
    pub entries: Vec<Noted>,
    /// Who is where, best first.
    pub results: Vec<NamedRow>,
}

/// A member in a side contest, by name.
#[derive(Clone, Debug, Serialize)]
pub struct NamedRow {
    #[serde(flatten)]
    pub row: ContestRow,
    pub display_name: String,
}

/// What a side contest needs of its event.
fn misfits(book: &LeagueBook, night: &Night, contest: &SideContest) -> Vec<Fault> {
    let mut faults = contest.broken();
    let layout = book.book.layout(night, night.event.tee_id);
    let is_played =
        |number| layout.as_ref().is_some_and(|layout| layout.holes.iter().any(|hole| hole.number == number));
    if let Some(number) = contest.hole.filter(|number| !is_played(*number)) {
        let detail = format!("hole {} is not played in this event", number.get());
        faults.push(Fault::new("/hole", Rule::HoleNotOnCard, detail));
    }
    for (n, noted) in contest.entries.iter().enumerate() {
        if !book.book.members.contains_key(&noted.member_id) {
            let at = format!("/entries/{n}/member_id");
            faults.push(Fault::new(at, Rule::UnknownMember, "this league has no such member"));
        }
    }
    faults
}

/// Passes events whose side contests can still change.
fn is_open(event: &Event) -> Result<(), Refusal> {
    match event {
        event if event.is_void() => Err(void_event("values of side contests")),
        event if event.is_final() => Err(final_event()),
        _ => Ok(()),
    }
}

/// A side contest that somebody is about to change.
struct Changing {
    fact: SeasonFact,
    event: Document<Event>,
    member: StoredMember,
}

async fn changing(conn: &mut Conn, caller: Caller, id: Uuid) -> Result<Changing, Refusal> {
    let (fact, member) = access::season_fact(conn, caller, Kind::SideContest, id).await?;
    let (event, _) = access::document::<Event>(conn, caller, &EVENTS, fact.of).await?;
    Ok(Changing { fact, event, member })
}

impl Leagues {
    /// Adds a side contest to an event.
    ///
    /// # Errors
    /// Anybody but an organizer; a void or final event; terms that do not fit each other or the event.
    pub async fn create_contest(&self, key: RequestKey, id: EventId, contest: SideContest) -> Result<Reply, Refusal> {
        let this = self.clone();
        let reply = change!(self, id, |conn| {
            let (event, member) = access::organized_document::<Event>(conn, key.caller, &EVENTS, id.0).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            is_open(&event.body)?;
            let book = this.books.of(conn, event.league).await?;
            let night = book.book.nights.get(&id).ok_or(Refusal::NotFound)?;
            sound(misfits(&book, night, &contest))?;
            if book.book.contests.values().filter(|(of, _)| *of == id).count() >= MOST_CONTESTS {
                let detail = format!("an event has at most {MOST_CONTESTS} side contests");
                return Err(Refusal::conflict(Rule::TooMany, detail));
            }
            let by = By { caller: key.caller, member: member.id, now: key.now };
            let (season, of) = (night.season, id.0);
            let new = New { id: Uuid::now_v7(), season, kind: Kind::SideContest, of, event: None, body: &contest };
            let made = stored::create(conn, by, &book, new).await?;
            let view = shown(conn, &book, night, made, &contest).await?;
            key.keep(conn, created(format!("/api/v1/side-contests/{made}"), 1, &view)).await
        })?;
        self.boards.moved(id);
        Ok(reply)
    }

    /// Changes a side contest.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; a void or final event; terms that do not fit each other or the event.
    pub async fn change_contest(
        &self,
        caller: Caller,
        id: Uuid,
        if_match: IfMatch,
        patched: impl FnOnce(&str) -> Result<SideContest, Refusal> + Clone + Send + 'static,
    ) -> Result<(ContestView, i64), Refusal> {
        let organizes = |member: &StoredMember| {
            let is_organizer = member.member.role == Role::Organizer;
            is_organizer.then_some(()).ok_or(Refusal::Forbidden("only organizers change side contests"))
        };
        self.replace_contest(caller, id, if_match, move |changing| {
            organizes(&changing.member)?;
            patched(&changing.fact.text)
        })
        .await
    }

    /// Notes a member's value, in place of an earlier one.
    ///
    /// # Errors
    /// A player noting for somebody else, or while the event is not open; a void or final event; a contest whose values come
    /// from the cards.
    pub async fn note_in_contest(&self, caller: Caller, id: Uuid, noted: Noted) -> Result<(ContestView, i64), Refusal> {
        let now = self.now();
        self.replace_contest(caller, id, IfMatch::Any, move |changing| {
            may_note(changing, noted.member_id, now)?;
            let mut contest: SideContest = changing.fact.body()?;
            if contest.from_cards.is_some() {
                let detail = "the values of this side contest come from the cards";
                return Err(Refusal::fault("", Rule::SideContest, detail));
            }
            contest.entries.retain(|other| other.member_id != noted.member_id);
            if contest.entries.len() >= MOST_NOTED {
                let detail = format!("a side contest has at most {MOST_NOTED} values");
                return Err(Refusal::conflict(Rule::TooMany, detail));
            }
            contest.entries.push(noted);
            Ok(contest)
        })
        .await
    }

    /// Takes a noted value back.
    ///
    /// # Errors
    /// A player taking back somebody else's, or while the event is not open; a void or final event; a member without one.
    pub async fn take_back_in_contest(&self, caller: Caller, id: Uuid, member: MemberId) -> Result<(), Refusal> {
        let now = self.now();
        self.replace_contest(caller, id, IfMatch::Any, move |changing| {
            may_note(changing, member, now)?;
            let mut contest: SideContest = changing.fact.body()?;
            let before = contest.entries.len();
            contest.entries.retain(|noted| noted.member_id != member);
            if contest.entries.len() == before { Err(Refusal::NotFound) } else { Ok(contest) }
        })
        .await?;
        Ok(())
    }

    async fn replace_contest(
        &self,
        caller: Caller,
        id: Uuid,
        if_match: IfMatch,
        making: impl FnOnce(&Changing) -> Result<SideContest, Refusal> + Clone + Send + 'static,
    ) -> Result<(ContestView, i64), Refusal> {
        let this = self.clone();
        let now = self.now();
        let (event, done) = change!(self, id, |conn| {
            let changing = changing(conn, caller, id).await?;
            let contest = making(&changing)?;
            if_match.check(changing.fact.version)?;
            is_open(&changing.event.body)?;
            let event = EventId(changing.fact.of);
            let book = this.books.of(conn, changing.fact.league).await?;
            let night = book.book.nights.get(&event).ok_or(Refusal::NotFound)?;
            sound(misfits(&book, night, &contest))?;
            let by = By { caller, member: changing.member.id, now };
            let version = stored::replace(conn, by, &book, &changing.fact, &contest).await?;
            Ok::<_, Refusal>((event, (shown(conn, &book, night, id, &contest).await?, version)))
        })?;
        self.boards.moved(event);
        Ok(done)
    }

    /// Removes a side contest with what was noted in it.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; a void or final event.
    pub async fn remove_contest(&self, caller: Caller, id: Uuid, if_match: IfMatch) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        let event = change!(self, id, |conn| {
            let (before, member) = access::organized_season_fact(conn, caller, Kind::SideContest, id).await?;
            if_match.check(before.version)?;
            let (event, _) = access::document::<Event>(conn, caller, &EVENTS, before.of).await?;
            is_open(&event.body)?;
            let book = this.books.of(conn, before.league).await?;
            stored::remove(conn, By { caller, member: member.id, now }, &book, &before).await?;
            Ok::<_, Refusal>(EventId(before.of))
        })?;
        self.boards.moved(event);
        Ok(())
    }

    /// Reads a side contest.
    ///
    /// # Errors
    /// One that is not there or not the caller's to see.
    pub async fn contest(&self, caller: Caller, id: Uuid) -> Result<(ContestView, i64), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (fact, _) = access::season_fact(&mut conn, caller, Kind::SideContest, id).await?;
        let book = self.books.of(&mut conn, fact.league).await?;
        let night = book.book.nights.get(&EventId(fact.of)).ok_or(Refusal::NotFound)?;
        Ok((shown(&mut conn, &book, night, id, &fact.body()?).await?, fact.version))
    }

    /// Reads the side contests of an event, in the order in which they were made.
    ///
    /// # Errors
    /// An event that is not there or not the caller's to see.
    pub async fn contests(&self, caller: Caller, event: EventId) -> Result<Vec<ContestView>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let (found, _) = access::document::<Event>(&mut conn, caller, &EVENTS, event.0).await?;
        let book = self.books.of(&mut conn, found.league).await?;
        let night = book.book.nights.get(&event).ok_or(Refusal::NotFound)?;
        let of_event = || book.book.contests.iter().filter(|(_, (of, _))| *of == event);
        let cards = cards_for(&mut conn, &book, night, of_event().map(|(_, (_, contest))| contest)).await?;
        Ok(of_event().map(|(id, (_, contest))| ranked(&book, night, (*id, contest), &cards)).collect())
    }
}

/// Passes whoever may note a value for a member now.
fn may_note(changing: &Changing, member: MemberId, now: Timestamp) -> Result<(), Refusal> {
    if changing.member.member.role.keeps_scores() {
        return Ok(());
    }
    if changing.member.id != member {
        return Err(Refusal::Forbidden("players note their own value, scorers and organizers everybody's"));
    }
    match changing.event.body.state_at(now) {
        EventState::Open => Ok(()),
        state => {
            let detail = format!("the event {}: a scorer notes the value", state_word(state));
            Err(Refusal::conflict(Rule::EventNotOpen, detail))
        }
    }
}

/// A counting card of an event with what side contests read of it.
struct Card {
    member: MemberId,
    round: Round,
    layout: Layout,
    are_putts_out: bool,
    softened_ft: Option<f64>,
}

/// Reads the counting cards of an event once for all side contests; none where no contest needs them.
async fn cards_for<'a>(
    conn: &mut Conn,
    book: &LeagueBook,
    night: &Night,
    mut contests: impl Iterator<Item = &'a SideContest>,
) -> Result<Vec<Card>, StorageError> {
    if night.event.is_void() || !contests.any(|contest| contest.from_cards.is_some()) {
        return Ok(Vec::new());
    }
    let season = book.book.seasons.get(&night.season);
    let on_board = results::of_event(conn, book.league, night.id).await?.into_iter();
    let tees: HashMap<_, _> = on_board.filter_map(|found| Some((found.round, found.figures?.tee))).collect();
    let mut cards = Vec::new();
    for row in rounds::of_event(conn, book.league, night.id, Uuid::nil(), i64::MAX).await? {
        let layout = tees.get(&row.id).and_then(|tee| book.book.layout(night, *tee));
        let (true, Some(layout)) = (row.state.counts(), layout) else { continue };
        let declared = row.declared_radius_ft.and_then(|feet| Feet::new(feet).ok());
        cards.push(Card {
            member: row.member,
            round: rounds::whole(conn, &row).await?,
            layout,
            are_putts_out: row.are_putts_excluded,
            softened_ft: season.and_then(|season| season.left_out(declared)).map(|feet| feet.get()),
        });
    }
    Ok(cards)
}

/// Shows a side contest alone.
async fn shown(
    conn: &mut Conn,
    book: &LeagueBook,
    night: &Night,
    id: Uuid,
    contest: &SideContest,
) -> Result<ContestView, StorageError> {
    let cards = cards_for(conn, book, night, std::iter::once(contest)).await?;
    Ok(ranked(book, night, (id, contest), &cards))
}

fn ranked(book: &LeagueBook, night: &Night, (id, contest): (Uuid, &SideContest), cards: &[Card]) -> ContestView {
    let of_card = |from: FromCards, card: &Card| {
        let seen = ContestCard {
            round: &card.round,
            layout: &card.layout,
            are_putts_out: card.are_putts_out,
            softened_ft: card.softened_ft,
        };
        value(contest, from, &seen).map(|value| Noted { member_id: card.member, value })
    };
    let values = match contest.from_cards {
        _ if night.event.is_void() => Vec::new(),
        None => contest.entries.clone(),
        Some(from) => cards.iter().filter_map(|card| of_card(from, card)).collect(),
    };
    let named = |row: ContestRow| {
        let member = book.book.members.get(&row.member_id);
        NamedRow { display_name: member.map_or_else(String::new, |member| member.display_name.clone()), row }
    };
    ContestView {
        id,
        event_id: night.id,
        name: contest.name.clone(),
        hole: contest.hole,
        unit: contest.unit().to_owned(),
        better: contest.better(),
        from_cards: contest.from_cards,
        entries: contest.entries.clone(),
        results: places(contest, &values).into_iter().map(named).collect(),
    }
}
