//! What is read of putting: reports, and the field's baseline.

use crate::domain::ids::{MemberId, SeasonId};
use crate::domain::putting::baseline::{Baseline, Yardstick};
use crate::domain::putting::picture::PuttingPicture;
use crate::domain::putting::report::{PuttedRound, PuttingReport};
use crate::domain::rule::Rule;
use crate::domain::season::overview::FieldTable;
use crate::domain::season::putting::putted_rounds;
use crate::domain::season::record::member_record;
use crate::league::memory::fields::SeasonField;
use crate::league::reading::season_league;
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::putts;
use crate::wire::bundle::assemble::latest_season;
use serde::Serialize;
use std::sync::Arc;

/// A member's putting against both baselines.
#[derive(Debug, Serialize)]
pub struct PuttingCompared {
    /// The season.
    pub season_id: SeasonId,
    /// Against the tour.
    pub tour: PuttingReport,
    /// Against the people the member plays with.
    pub field: PuttingReport,
}

fn baseline(yardstick: Yardstick, field: Option<&SeasonField>) -> &Baseline {
    match (yardstick, field) {
        (Yardstick::Field, Some(field)) => &field.fitted.baseline,
        _ => Baseline::tour(),
    }
}

fn season_missing() -> Refusal {
    Refusal::fault("/season_id", Rule::SeasonMissing, "the field is that of a season: say which with season_id")
}

impl Leagues {
    /// Reads a member's putting, of one season or of all.
    ///
    /// # Errors
    /// A member of a league that the caller is not in; a season of another; the field without a season.
    pub async fn putting(
        &self,
        caller: Caller,
        id: MemberId,
        season: Option<SeasonId>,
        yardstick: Yardstick,
    ) -> Result<PuttingReport, Refusal> {
        let [report] = self.putting_against(caller, id, season, [yardstick]).await?;
        Ok(report)
    }

    /// Reads a member's putting of a season, or else of the latest one, against both baselines.
    ///
    /// # Errors
    /// As [`putting`](Self::putting); a league without a season.
    pub async fn putting_compared(
        &self,
        caller: Caller,
        id: MemberId,
        season: Option<SeasonId>,
    ) -> Result<PuttingCompared, Refusal> {
        let both = [Yardstick::Tour, Yardstick::Field];
        let season = match season {
            Some(season) => season,
            None => {
                let mut conn = self.database.reader().await?;
                conn.begin_read().await?;
                let (book, _) = self.member_entries(&mut conn, caller, id).await?;
                latest_season(&book.book).ok_or_else(season_missing)?
            }
        };
        let [tour, field] = self.putting_against(caller, id, Some(season), both).await?;
        Ok(PuttingCompared { season_id: season, tour, field })
    }

    /// Reads a member's putting with what is drawn of it.
    ///
    /// # Errors
    /// As [`putting`](Self::putting).
    pub async fn putting_drawn(
        &self,
        caller: Caller,
        id: MemberId,
        season: Option<SeasonId>,
        yardstick: Yardstick,
    ) -> Result<(PuttingReport, PuttingPicture), Refusal> {
        let (rounds, field) = self.putted(caller, id, season, &[yardstick]).await?;
        let baseline = baseline(yardstick, field.as_deref());
        let report = PuttingReport::of(id, &rounds, baseline);
        let picture = PuttingPicture::of(&rounds, &report, baseline);
        Ok((report, picture))
    }

    async fn putting_against<const N: usize>(
        &self,
        caller: Caller,
        id: MemberId,
        season: Option<SeasonId>,
        yardsticks: [Yardstick; N],
    ) -> Result<[PuttingReport; N], Refusal> {
        let (rounds, field) = self.putted(caller, id, season, &yardsticks).await?;
        Ok(yardsticks.map(|yardstick| PuttingReport::of(id, &rounds, baseline(yardstick, field.as_deref()))))
    }

    /// Reads a member's counting rounds with their putts, and the field where one of the yardsticks is it.
    async fn putted(
        &self,
        caller: Caller,
        id: MemberId,
        season: Option<SeasonId>,
        yardsticks: &[Yardstick],
    ) -> Result<(Vec<PuttedRound>, Option<Arc<SeasonField>>), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let conn = &mut conn;
        let (book, entries) = self.member_entries(conn, caller, id).await?;
        if season.is_some_and(|season| !book.book.seasons.contains_key(&season)) {
            return Err(Refusal::fault("/season_id", Rule::UnknownSeason, "this league has no such season"));
        }
        let field = match (yardsticks.contains(&Yardstick::Field), season) {
            (false, _) => None,
            (true, Some(season)) => Some(self.fields.of(conn, &book, season).await?),
            (true, None) => return Err(season_missing()),
        };
        let mut putts = putts::of_member(conn, book.league, id, season).await?;
        let record = member_record(&book.book, id, &entries, None);
        let played = record.figures.iter().filter(|round| season.is_none_or(|season| round.season == season));
        let of_round = |round| putts.remove(&round).unwrap_or_default();
        Ok((putted_rounds(&book.book, played, &entries, of_round), field))
    }

    /// Reads a season's own baseline.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see.
    pub async fn field_table(&self, caller: Caller, season: SeasonId) -> Result<FieldTable, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let league = season_league(&mut conn, caller, season).await?;
        let book = self.books.of(&mut conn, league).await?;
        Ok(FieldTable::of(season, &self.fields.of(&mut conn, &book, season).await?.fitted))
    }
}
