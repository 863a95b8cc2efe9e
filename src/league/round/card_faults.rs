//! How a card that somebody sends must fit: its event, its set-up, its day.

use crate::domain::facts::{Fault, Round};
use crate::domain::ids::{MemberId, SetupId};
use crate::domain::rule::Rule;
use crate::domain::season::Night;
use crate::league::memory::books::LeagueBook;
use jiff::Timestamp;
use jiff::civil::Date;

/// By what the day of a card is judged.
pub(in crate::league) struct Dates {
    /// When the card comes in.
    pub now: Timestamp,
    /// Whether its sender said that the day is right although it lies outside the event.
    pub is_confirmed: bool,
    /// The day on the card that it replaces.
    pub known: Option<Date>,
}

impl Dates {
    fn faults(&self, book: &LeagueBook, night: &Night, played_on: Date) -> Vec<Fault> {
        let (first, last) = (book.day(night.event.opens_at), book.day(night.event.closes_at));
        let today = book.day(self.now);
        if played_on > today {
            let detail = format!("{played_on} is still to come: today is {today} in the league's time zone");
            return vec![Fault::new("/played_on", Rule::PlayedInFuture, detail)];
        }
        let is_settled = self.is_confirmed || self.known == Some(played_on);
        if is_settled || (first..=last).contains(&played_on) {
            return Vec::new();
        }
        let detail = format!(
            "{played_on} is outside the event, which is played from {first} to {last}; if the date is right, confirm it"
        );
        vec![Fault::new("/played_on", Rule::PlayedOutsideEvent, detail)]
    }
}

/// Finds every way in which a card that somebody sends does not fit.
pub(in crate::league) fn faults_of(book: &LeagueBook, night: &Night, round: &Round, dates: &Dates) -> Vec<Fault> {
    let mut faults = use_faults(book, round.member_id, round.setup_id);
    faults.extend(dates.faults(book, night, round.played_on));
    faults.extend(book.book.card_faults(night, round));
    faults
}

/// Finds whether a member may not use a set-up: it is not the league's, or somebody else's and not shared.
pub(in crate::league) fn use_faults(book: &LeagueBook, member: MemberId, setup: Option<SetupId>) -> Vec<Fault> {
    let Some(setup) = setup else { return Vec::new() };
    let fault = |detail: &str| vec![Fault::new("/setup_id", Rule::UnknownSetup, detail)];
    match book.setups.get(&setup) {
        None => fault("this league has no such simulator"),
        Some((owner, setup)) if !setup.shared && *owner != Some(member) => {
            fault("this simulator is not shared, and the player is not its owner")
        }
        Some(_) => Vec::new(),
    }
}
