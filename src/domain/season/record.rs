//! One member's record: events in order, the index in effect at each, the figures that follow.

use super::book::{Book, Night, NightKey};
use super::entry::{CardDigest, Entry, RoundState};
use super::figures::{self, Figures, Handicap};
use crate::exact::{Exact, whole};
use crate::facts::handicap_policy::MOST_LATEST;
use crate::facts::{CarriedDifferential, Decided, HandicapPolicy, Held, Member, Nines, Outcome, PlaysOff, Season};
use crate::handicap::average::average;
use crate::handicap::record::{ExceptionalTest, Options, Record, Score, Step};
use crate::ids::{EventId, MemberId, RoundId, SeasonId};
use crate::putting::PuttingTotals;
use crate::units::{HoleCount, Tenths};
use jiff::civil::Date;
use std::collections::HashMap;
use uuid::Uuid;

/// What a differential of the record comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum DifferentialKind {
    /// A round of 18 holes.
    Round,
    /// Two rounds of nine holes.
    Pair,
    /// Brought along.
    Carried,
}

/// A differential of the record.
#[derive(Clone, Debug, PartialEq)]
pub struct DifferentialRow {
    /// The event that it comes from; for a pair the second one's.
    pub event: Option<EventId>,
    /// The day that counts for it: the event's, or for one brought along the day on which it was played.
    pub played_on: Date,
    /// The differential after any reductions for exceptional scores and adjustments of the index.
    pub value: Tenths,
    /// By how much those have moved it so far, in tenths.
    pub reduction: Tenths,
    /// What it comes from.
    pub kind: DifferentialKind,
    /// Whether the index rests on it now.
    pub counts: bool,
}

/// One member's record and the figures of its counting rounds, in the order of events.
#[derive(Clone, Debug, Default)]
pub struct MemberRecord {
    /// The figures of each counting round.
    pub figures: Vec<Figures>,
    /// The differentials, oldest first.
    pub differentials: Vec<DifferentialRow>,
    /// The league index that each of them made, as it stood then.
    pub indexes: Vec<Option<Tenths>>,
    /// The league index for an event that opens after all of these; `None` below three differentials.
    pub league_index: Option<Tenths>,
    /// What adding the latest differential did.
    pub latest: Option<Step>,
}

impl DifferentialRow {
    /// Returns the differential before any reduction or adjustment.
    pub fn given(&self) -> Tenths {
        Tenths(self.value.0 - self.reduction.0)
    }
}

/// Derives one member's record from its rounds.
///
/// `until` looks back: only events up to it are taken.
pub fn member_record<'a>(
    book: &'a Book,
    member: MemberId,
    entries: impl IntoIterator<Item = &'a Entry>,
    until: Option<NightKey>,
) -> MemberRecord {
    let Some(person) = book.members.get(&member) else { return MemberRecord::default() };
    let mut played: Vec<(&Night, &Entry)> = entries
        .into_iter()
        .filter(|entry| entry.member == member && entry.state.counts())
        .filter_map(|entry| Some((book.nights.get(&entry.event)?, entry)))
        .filter(|(night, _)| until.is_none_or(|until| night.key() <= until))
        .collect();
    played.sort_by_key(|(night, entry)| (night.key(), entry.id));

    let mut walk = Walk::new(book, member, person, until);
    for (night, entry) in played {
        walk.event(night, entry);
    }
    walk.finish()
}

/// Works out what a member brings to an event in which there is no card yet: the figures of a blank one. `entries` of the
/// event are passed over.
pub fn figures_without_card<'a>(
    book: &'a Book,
    member: MemberId,
    entries: impl IntoIterator<Item = &'a Entry>,
    night: &Night,
) -> Option<Figures> {
    let blank = Entry {
        id: RoundId(Uuid::nil()),
        event: night.id,
        member,
        setup: None,
        state: RoundState::Submitted,
        played_on: night.date,
        card: CardDigest { outcome: Outcome::NoReturn, holes: Vec::new(), putts: None },
        putting: PuttingTotals::default(),
    };
    let others = entries.into_iter().filter(|entry| entry.event != night.id);
    let entries: Vec<Entry> = others.cloned().chain([blank]).collect();
    let record = member_record(book, member, &entries, Some(night.key()));
    record.figures.into_iter().find(|figures| figures.event == night.id)
}

/// Works out the figures of a round that comes after all the member's others, whose figures are known. `None` where it
/// does not come last, or has no figures, or one of the others lacks them: then the whole record is derived.
pub fn figures_of_latest<'a>(
    book: &'a Book,
    member: MemberId,
    known: impl IntoIterator<Item = (&'a Entry, Option<&'a Figures>)>,
    new: &'a Entry,
) -> Option<Figures> {
    let person = book.members.get(&member)?;
    let last = book.nights.get(&new.event).filter(|_| new.state.counts())?;
    let mut played: Vec<(&Night, &Entry, &Figures)> = Vec::new();
    for (entry, figures) in known.into_iter().filter(|(entry, _)| entry.state.counts()) {
        let night = book.nights.get(&entry.event)?;
        if (night.key(), entry.id) >= (last.key(), new.id) {
            return None;
        }
        played.push((night, entry, figures?));
    }
    played.sort_by_key(|(night, entry, _)| (night.key(), entry.id));
    let mut walk = Walk::new(book, member, person, None);
    for (night, _, figures) in played {
        walk.pass(night, figures);
    }
    walk.event(last, new);
    walk.figures.pop()
}

struct Walk<'a> {
    book: &'a Book,
    member: MemberId,
    person: &'a Member,
    carried: std::vec::IntoIter<&'a CarriedDifferential>,
    next_carried: Option<&'a CarriedDifferential>,
    until: Option<Date>,
    decided: Vec<Decided>,
    /// How many of them the walk has passed.
    passed: usize,
    record: Record,
    rows: Vec<(DifferentialRow, Tenths)>,
    waiting_nine: Option<Exact>,
    flights: HashMap<SeasonId, Option<String>>,
    figures: Vec<Figures>,
    latest: Option<Step>,
}

impl<'a> Walk<'a> {
    fn new(book: &'a Book, member: MemberId, person: &'a Member, until: Option<NightKey>) -> Self {
        let mut carried: Vec<&CarriedDifferential> =
            book.carried_differentials.get(&member).into_iter().flatten().collect();
        carried.sort_by_key(|carried| carried.played_on);
        let mut carried = carried.into_iter();
        Self {
            book,
            member,
            person,
            next_carried: carried.next(),
            carried,
            until: until.map(|(date, ..)| date),
            decided: book.decided_of(member),
            passed: 0,
            record: Record::new(Options::default()),
            rows: Vec::new(),
            waiting_nine: None,
            flights: HashMap::new(),
            figures: Vec::new(),
            latest: None,
        }
    }

    /// Takes in what was carried along from days up to `date`: it stands before the events of its day.
    fn take_carried(&mut self, date: Option<Date>) {
        while let Some(carried) = self.next_carried.filter(|carried| date.is_none_or(|date| carried.played_on <= date))
        {
            self.take_adjustments(Some(carried.played_on));
            self.next_carried = self.carried.next();
            self.add(
                carried.played_on,
                carried.differential.into(),
                ExceptionalTest::Never,
                (None, carried.played_on, DifferentialKind::Carried),
            );
        }
        self.take_adjustments(date);
    }

    /// Adjusts the index as organizers decided for days up to `date`: before what is played on them.
    fn take_adjustments(&mut self, date: Option<Date>) {
        while let Some(decided) = self.decided.get(self.passed).copied() {
            if date.is_some() && decided.from() > date {
                return;
            }
            self.passed += 1;
            if let Decided::Adjust { value, from } = decided
                && let Some(step) = self.record.adjust(value, from)
            {
                self.latest = Some(step);
            }
        }
    }

    /// Returns the league index of a day, as organizers hold it.
    fn index_on(&self, day: Date) -> Option<Tenths> {
        let held = Held::on(&self.decided, day);
        self.record.index_before(held.frozen_on.unwrap_or(day)).map(|index| held.capped(index))
    }

    fn add(
        &mut self,
        date: Date,
        differential: Exact,
        test: ExceptionalTest,
        (event, played_on, kind): (Option<EventId>, Date, DifferentialKind),
    ) {
        let step = self.record.add(Score { date, differential, test });
        self.latest = Some(step);
        let row =
            DifferentialRow { event, played_on, value: step.differential, reduction: Tenths(0), kind, counts: false };
        self.rows.push((row, step.differential));
    }

    fn event(&mut self, night: &'a Night, entry: &'a Entry) {
        self.take_carried(Some(night.date));
        let book = self.book;
        let Some(season) = book.seasons.get(&night.season) else { return };
        let handicap = match night.kept_of(self.member).or_else(|| night.kept_of_absent(self.member)) {
            Some(kept) => Handicap { league_index: kept.league_index, played_off: kept.played_off },
            None => {
                let league_index = self.index_on(night.date);
                Handicap { league_index, played_off: self.played_off(night.date, season.handicap) }
            }
        };
        let flight = self.flight(night.season, season, handicap);
        let tee = night.event.tee_of(self.member, flight.as_deref());
        let Some(layout) = book.layout(night, tee) else { return };
        let figures = figures::figures(entry, night, tee, &layout, handicap, flight);
        self.score(night, &figures);
        self.figures.push(figures);
    }

    /// Returns what is played off on a day under a season's policy.
    fn played_off(&self, day: Date, policy: HandicapPolicy) -> Option<Tenths> {
        let frozen = policy.frozen_from.and_then(|event| self.book.nights.get(&event)).map(|night| night.date);
        let day = frozen.map_or(day, |frozen| frozen.min(day));
        let held = Held::on(&self.decided, day);
        let looked_at = held.frozen_on.unwrap_or(day);
        let known = match policy.plays_off {
            PlaysOff::Computed {} => self.record.index_before(looked_at),
            PlaysOff::Declared {} => None,
            PlaysOff::Average { last, best, pct } => average(&self.before(looked_at), last, best, pct),
        };
        known.or_else(|| self.person.start_on(looked_at)).map(|index| held.capped(index))
    }

    /// Returns the differentials of earlier days, as they were before any reduction: the latest that an average looks at.
    fn before(&self, day: Date) -> Vec<Tenths> {
        let end = self.rows.partition_point(|(row, _)| row.played_on < day);
        let first = end.saturating_sub(MOST_LATEST as usize);
        self.rows[first..end].iter().map(|(_, given)| *given).collect()
    }

    /// Takes in a round whose figures are known.
    fn pass(&mut self, night: &'a Night, figures: &Figures) {
        self.take_carried(Some(night.date));
        self.flights.entry(figures.season).or_insert_with(|| figures.flight.clone());
        self.score(night, figures);
    }

    /// Adds a round's differential to the record.
    fn score(&mut self, night: &'a Night, figures: &Figures) {
        let Some(differential) = figures.differential else { return };
        let test = figures.handicap.league_index.map_or(ExceptionalTest::Never, ExceptionalTest::Against);
        let source = (Some(night.id), night.date);
        let nines = self.book.seasons.get(&night.season).map(|season| season.handicap.nines).unwrap_or_default();
        match (night.event.holes, self.waiting_nine) {
            (HoleCount::Nine, _) if nines == Nines::Double => {
                self.add(night.date, differential * whole(2), test, (source.0, source.1, DifferentialKind::Round));
            }
            (HoleCount::Eighteen, _) => {
                self.add(night.date, differential, test, (source.0, source.1, DifferentialKind::Round));
            }
            (HoleCount::Nine, None) => self.waiting_nine = Some(differential),
            (HoleCount::Nine, Some(first)) => {
                self.waiting_nine = None;
                self.add(night.date, first + differential, test, (source.0, source.1, DifferentialKind::Pair));
            }
        }
    }

    /// Returns the member's flight in a season: kept by its first final event, else by the member's own flight,
    /// else by the index before the first event that the member plays in it.
    fn flight(&mut self, id: SeasonId, season: &Season, handicap: Handicap) -> Option<String> {
        if let Some(known) = self.flights.get(&id) {
            return known.clone();
        }
        let flight = match self.book.kept_member(id, self.member) {
            Some(kept) => kept.flight.clone(),
            None => flight_of(season, self.person, handicap.played_off),
        };
        self.flights.insert(id, flight.clone());
        flight
    }

    fn finish(mut self) -> MemberRecord {
        self.take_carried(self.until);
        let adjusted = self.record.adjusted();
        let counting = self.record.counting();
        let rows = self.rows.into_iter().zip(adjusted).enumerate();
        let differentials = rows
            .map(|(n, ((row, given), value))| DifferentialRow {
                value,
                reduction: Tenths(value.0 - given.0),
                counts: counting.contains(&n),
                ..row
            })
            .collect();
        MemberRecord {
            figures: self.figures,
            differentials,
            indexes: self.record.indexes().collect(),
            league_index: self.record.index(),
            latest: self.latest,
        }
    }
}

/// Returns the flight that a member with that index belongs to: the member's own where the season has it, else the
/// first whose limit is not below the index, else the last; in flights without limits only the member's own.
pub fn flight_of(season: &Season, member: &Member, index: Option<Tenths>) -> Option<String> {
    let own = member.flight.as_ref().filter(|own| season.flights.iter().any(|known| known.name == **own));
    if let Some(own) = own {
        return Some(own.clone());
    }
    if season.are_flights_by_hand() {
        return None;
    }
    let fits = |limit: Option<Tenths>| match (limit, index) {
        (None, Some(_)) => true,
        (Some(limit), Some(index)) => index <= limit,
        (_, None) => false,
    };
    let flight = season.flights.iter().find(|flight| fits(flight.handicap_max)).or(season.flights.last());
    flight.map(|flight| flight.name.clone())
}
