//! Rounds as the derivation takes them: a card boiled down under its season's policy.

use crate::domain::facts::{Round, Season};
use crate::domain::ids::SeasonId;
use crate::domain::putting::PuttingTotals;
use crate::domain::putting::baseline::Baseline;
use crate::domain::season::{CardDigest, Entry};
use crate::domain::units::Feet;
use crate::league::Refusal;
use crate::league::memory::books::LeagueBook;
use crate::storage::rounds::{self, RoundRow};
use crate::storage::{Conn, results};

/// Boils the rounds of a season down afresh that met a declared softening; what follows is still to be derived.
pub(in crate::league) async fn boil_again(conn: &mut Conn, book: &LeagueBook, season: SeasonId) -> Result<(), Refusal> {
    for row in rounds::declared_in(conn, book.league, season).await? {
        let round = rounds::whole(conn, &row).await?;
        results::set_card(conn, book.league, &entry(book, &row, &round)).await?;
    }
    Ok(())
}

/// Boils a stored round down for the derivation.
pub fn entry(book: &LeagueBook, row: &RoundRow, round: &Round) -> Entry {
    let season = book.book.nights.get(&row.event).and_then(|night| book.book.seasons.get(&night.season));
    entry_under(season, row, round)
}

/// Boils a round down under a season's policy.
pub(in crate::league) fn entry_under(season: Option<&Season>, row: &RoundRow, round: &Round) -> Entry {
    let declared = row.declared_radius_ft.and_then(|feet| Feet::new(feet).ok());
    let left_out = season.and_then(|season| season.left_out(declared));
    Entry {
        id: row.id,
        event: row.event,
        member: row.member,
        setup: round.setup_id,
        state: row.state,
        played_on: round.played_on,
        card: CardDigest::of(round),
        putting: if row.are_putts_excluded {
            PuttingTotals::default()
        } else {
            PuttingTotals::of(&round.holes, Baseline::tour(), left_out)
        },
    }
}
