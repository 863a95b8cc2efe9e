//! Competitions of a season: laid down, their teams, and who meets whom.

pub mod adjustment;
pub mod concession;
pub mod fixture;
pub mod knock_out;
pub mod lay_down;
pub mod line_up;
pub mod round_robin;
pub mod seen;
pub(in crate::league) mod stored;
pub mod team;

use crate::domain::ids::{CompetitionId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::Night;
use crate::league::Refusal;
use crate::league::memory::books::LeagueBook;

/// Returns the competition that an event is asked to be ranked by: the first that counts it where none is named; `None`: no
/// competition counts it.
///
/// # Errors
/// A competition of another season, or one that does not count the event.
pub(in crate::league) fn asked_for_event(
    book: &LeagueBook,
    night: &Night,
    asked: Option<CompetitionId>,
) -> Result<Option<CompetitionId>, Refusal> {
    if asked.is_none() {
        return Ok(book.book.main_for(night));
    }
    let id = asked_for(book, night.season, asked)?;
    match book.book.terms(night, id).is_some_and(|terms| terms.counts_event(night.id)) {
        true => Ok(Some(id)),
        false => {
            let detail = "this competition does not count this event";
            Err(Refusal::fault("/competition", Rule::UnknownCompetition, detail))
        }
    }
}

/// Returns the competition of a season that is asked for: the main one where none is named.
///
/// # Errors
/// A competition of another season.
pub(in crate::league) fn asked_for(
    book: &LeagueBook,
    season: SeasonId,
    asked: Option<CompetitionId>,
) -> Result<CompetitionId, Refusal> {
    let Some(id) = asked else { return book.book.main_of(season).ok_or(Refusal::NotFound) };
    match book.book.competitions.get(&id) {
        Some((of, _)) if *of == season => Ok(id),
        _ => Err(Refusal::fault("/competition", Rule::UnknownCompetition, "this season has no such competition")),
    }
}
