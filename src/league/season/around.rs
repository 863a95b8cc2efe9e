//! What a change of members' cards can move: the tables of the seasons that they have rounds in. Everybody else's figures are
//! taken from what the server remembers, so that the writer reads what has moved since, whatever the season's length.

use crate::domain::competition::table::{StandingsRow, season_table};
use crate::domain::facts::CarriedResult;
use crate::domain::ids::{MemberId, RoundId, SeasonId};
use crate::domain::season::Figures;
use crate::league::finding::evidence::{self, Known};
use crate::league::memory::books::LeagueBook;
use crate::league::reading::carried_indexes;
use crate::league::season::changes::{self, Cause, Tables};
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::evidence::Whose;
use crate::storage::results::{self, StoredResult};
use crate::storage::{Conn, StorageError, rounds};
use jiff::Timestamp;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The tables around members, before a change of their cards.
pub(in crate::league) struct Around {
    members: BTreeSet<MemberId>,
    /// The figures of everybody else.
    others: BTreeMap<SeasonId, Vec<Arc<Figures>>>,
    before: Tables,
}

/// The tables after a change.
pub(in crate::league) struct After {
    /// What was written down.
    pub tables: Tables,
    rows: BTreeMap<SeasonId, Vec<StandingsRow>>,
}

impl After {
    /// Takes the rows of a season's table, which holds for any that a member has a round in.
    pub fn rows(&mut self, season: SeasonId) -> Vec<StandingsRow> {
        self.rows.remove(&season).unwrap_or_default()
    }
}

/// The seasons in which members have rounds, or a value that they brought along.
fn seasons(book: &LeagueBook, members: &BTreeSet<MemberId>, rounds: &[StoredResult]) -> BTreeSet<SeasonId> {
    let played = rounds.iter().filter_map(|round| book.book.nights.get(&round.entry.event)).map(|night| night.season);
    let carried = book.book.carried_results.iter();
    let carried =
        carried.filter(|(_, of)| of.iter().filter_map(CarriedResult::member).any(|member| members.contains(&member)));
    played.chain(carried.map(|(season, _)| *season)).collect()
}

async fn rounds_of(
    conn: &mut Conn,
    book: &LeagueBook,
    members: &BTreeSet<MemberId>,
) -> Result<Vec<StoredResult>, StorageError> {
    let asked = members.iter().map(|member| (book.league, *member));
    Ok(results::of_members(conn, asked).await?.into_values().flatten().collect())
}

impl Around {
    /// Makes the tables as they are now.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub async fn of(
        leagues: &Leagues,
        conn: &mut Conn,
        book: &LeagueBook,
        members: impl IntoIterator<Item = MemberId>,
    ) -> Result<Self, StorageError> {
        let members: BTreeSet<MemberId> = members.into_iter().collect();
        let own = rounds_of(conn, book, &members).await?;
        let mut others = BTreeMap::new();
        for season in seasons(book, &members, &own) {
            let mut figures = leagues.season_figures.in_change(conn, book.league, season).await?;
            figures.retain(|round| !members.contains(&round.member));
            others.insert(season, figures);
        }
        let mut around = Self { members, others, before: Tables::default() };
        around.before = changes::tables_of(&around.rows(conn, book, &own).await?);
        Ok(around)
    }

    async fn rows(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        own: &[StoredResult],
    ) -> Result<BTreeMap<SeasonId, Vec<StandingsRow>>, StorageError> {
        let mut rows = BTreeMap::new();
        for (season, others) in &self.others {
            let own = own.iter().filter_map(|round| round.figures.as_ref());
            let figures = || others.iter().map(|round| &**round).chain(own.clone());
            let indexes = carried_indexes(conn, book, *season, figures(), None).await?;
            rows.insert(*season, season_table(&book.book, *season, figures(), None, &indexes));
        }
        Ok(rows)
    }

    /// Writes down what the change has moved, and returns the tables after it.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub async fn write_down(
        &self,
        conn: &mut Conn,
        book: &LeagueBook,
        cause: Cause<'_>,
        at: Timestamp,
    ) -> Result<After, StorageError> {
        let own = rounds_of(conn, book, &self.members).await?;
        let rows = self.rows(conn, book, &own).await?;
        let tables = changes::tables_of(&rows);
        changes::write_down_moves(conn, book, &self.before, &tables, cause, at).await?;
        Ok(After { tables, rows })
    }

    /// The tables before the change.
    pub fn before(&self) -> &Tables {
        &self.before
    }
}

impl Leagues {
    /// Reads beside the writer what a change of a round's card will need: weighs what waits, remembers the figures of the
    /// player's seasons, and reads the player's rounds as evidence takes them. Nothing is read for somebody who may not see
    /// the round: the change tells why.
    ///
    /// # Errors
    /// A failed database or an unreadable row.
    pub(in crate::league) async fn read_beforehand(&self, caller: Caller, round: RoundId) -> Result<Known, Refusal> {
        let mut conn = self.database.reader().await?;
        let Some(row) = rounds::get(&mut conn, round).await? else { return Ok(Known::default()) };
        if access::member(&mut conn, caller, row.league).await.is_err() {
            return Ok(Known::default());
        }
        drop(conn);
        self.weighed(row.league).await?;
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let book = self.books.of(&mut conn, row.league).await?;
        let members = BTreeSet::from([row.member]);
        let own = rounds_of(&mut conn, &book, &members).await?;
        for season in seasons(&book, &members, &own) {
            self.season_figures.of_season(&mut conn, row.league, season).await?;
        }
        let Some(night) = book.book.nights.get(&row.event) else { return Ok(Known::default()) };
        let taken =
            evidence::taken(&mut conn, &book, night.season, Whose::Member(row.member), &Known::default()).await?;
        drop(conn);
        Ok(Known::of(book, taken))
    }
}
