//! What the attested rounds of a season say of its players together, kept by the mark of its table.

use crate::domain::ids::SeasonId;
use crate::domain::putting::field::Field;
use crate::domain::putting::holed::HoledByFoot;
use crate::league::Refusal;
use crate::league::memory::books::LeagueBook;
use crate::storage::{Conn, documents, putts};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// How many seasons' fields are remembered.
const MOST_FIELDS: usize = 64;

/// The fields that are remembered. Whatever changes a card, its state or the order of events moves the mark of its
/// season's table.
#[derive(Clone, Default)]
pub struct Fields(Arc<Mutex<Remembered>>);

/// Each season's field with the mark under which it was read.
type Remembered = HashMap<SeasonId, (i64, Arc<SeasonField>)>;

/// What a season's attested rounds say of its players together.
pub(in crate::league) struct SeasonField {
    /// The baseline fitted to them.
    pub(in crate::league) fitted: Field,
    /// What each member holed.
    pub(in crate::league) holed: HoledByFoot,
}

impl Fields {
    /// Returns a season's field as it is now.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub(in crate::league) async fn of(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        season: SeasonId,
    ) -> Result<Arc<SeasonField>, Refusal> {
        let mark = documents::season_shown(conn, book.league, season).await?;
        let known = |fields: &Self| {
            let remembered = fields.0.lock().unwrap_or_else(PoisonError::into_inner);
            remembered.get(&season).filter(|(known, _)| *known == mark).map(|(_, field)| Arc::clone(field))
        };
        if let Some(field) = known(self) {
            return Ok(field);
        }
        let mut rounds = putts::attested(conn, book.league, season).await?;
        rounds.sort_by_key(|round| {
            (round.member, book.book.nights.get(&round.event).map(|night| night.key()), round.round)
        });
        let holed = HoledByFoot::of(rounds.iter().map(|round| (round.member, &round.holes)));
        let fitted = Field::of(rounds.into_iter().map(|round| round.holes));
        let field = Arc::new(SeasonField { fitted, holed });
        let mut remembered = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if remembered.len() >= MOST_FIELDS {
            remembered.clear();
        }
        remembered.insert(season, (mark, Arc::clone(&field)));
        Ok(field)
    }
}
