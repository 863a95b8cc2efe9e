//! What is read of putting: reports, and the field's baseline.

use crate::domain::ids::{EventId, MemberId, SeasonId};
use crate::domain::putting::baseline::{Baseline, Yardstick};
use crate::domain::putting::picture::PuttingPicture;
use crate::domain::putting::report::{PuttedRound, PuttingReport};
use crate::domain::putting::table::{PuttingRow, putting_table};
use crate::domain::putting::trend::PuttingTrend;
use crate::domain::rule::Rule;
use crate::domain::season::overview::FieldTable;
use crate::domain::season::putting::{Chosen, putted_rounds};
use crate::domain::season::record::member_record;
use crate::league::memory::fields::SeasonField;
use crate::league::reading::season_league;
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::putts;
use crate::wire::bundle::assemble::latest_season;
use crate::wire::putts_csv::putts_csv;
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

/// A member's putting with everything that a page shows of it.
#[derive(Debug)]
pub struct PuttingDrawn {
    pub report: PuttingReport,
    /// What is drawn beside it.
    pub picture: PuttingPicture,
    /// Night by night.
    pub trend: PuttingTrend,
    /// The latest of its nights with a report of its own.
    pub latest: Option<(EventId, PuttingReport)>,
}

/// Which putting is asked for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked {
    /// That of one season; of all without it.
    pub season: Option<SeasonId>,
    /// Which of its rounds.
    pub chosen: Chosen,
    /// What it is compared with.
    pub yardstick: Yardstick,
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

/// The putting of a season's players.
#[derive(Debug, Serialize)]
pub struct PuttingTable {
    pub season_id: SeasonId,
    /// What strokes gained are compared with.
    pub baseline: Yardstick,
    /// The fewest recorded holes of whom is ranked.
    pub fewest_holes: u32,
    pub items: Vec<NamedPuttingRow>,
    /// There is one page.
    pub next: Option<String>,
}

/// A player's putting with the name.
#[derive(Debug, Serialize)]
pub struct NamedPuttingRow {
    pub display_name: String,
    #[serde(flatten)]
    pub row: PuttingRow,
}

impl Leagues {
    /// Reads a member's putting.
    ///
    /// # Errors
    /// A member of a league that the caller is not in; a season or an event of another; days in the wrong order; the field
    /// without a season.
    pub async fn putting(&self, caller: Caller, id: MemberId, asked: Asked) -> Result<PuttingReport, Refusal> {
        let (rounds, field) = self.putted(caller, id, asked, &[asked.yardstick]).await?;
        Ok(PuttingReport::of(id, &rounds, baseline(asked.yardstick, field.as_deref())))
    }

    /// Reads a member's putting night by night.
    ///
    /// # Errors
    /// As [`putting`](Self::putting).
    pub async fn putting_trend(&self, caller: Caller, id: MemberId, asked: Asked) -> Result<PuttingTrend, Refusal> {
        let (rounds, field) = self.putted(caller, id, asked, &[asked.yardstick]).await?;
        Ok(PuttingTrend::of(id, &rounds, baseline(asked.yardstick, field.as_deref())))
    }

    /// Writes a member's putts as CSV.
    ///
    /// # Errors
    /// As [`putting`](Self::putting).
    pub async fn putts_csv(&self, caller: Caller, id: MemberId, asked: Asked) -> Result<String, Refusal> {
        let (rounds, field) = self.putted(caller, id, asked, &[asked.yardstick]).await?;
        Ok(putts_csv(&rounds, baseline(asked.yardstick, field.as_deref())))
    }

    /// Reads a member's putting of a season, or else of the latest one, against both baselines.
    ///
    /// # Errors
    /// As [`putting`](Self::putting); a league without a season.
    pub async fn putting_compared(
        &self,
        caller: Caller,
        id: MemberId,
        mut asked: Asked,
    ) -> Result<PuttingCompared, Refusal> {
        let season_id = match asked.season {
            Some(season) => season,
            None => {
                let mut conn = self.database.reader().await?;
                conn.begin_read().await?;
                let (book, _) = self.member_entries(&mut conn, caller, id).await?;
                latest_season(&book.book).ok_or_else(season_missing)?
            }
        };
        asked.season = Some(season_id);
        let both = [Yardstick::Tour, Yardstick::Field];
        let (rounds, field) = self.putted(caller, id, asked, &both).await?;
        let [tour, field] = both.map(|one| PuttingReport::of(id, &rounds, baseline(one, field.as_deref())));
        Ok(PuttingCompared { season_id, tour, field })
    }

    /// Reads a member's putting with what is drawn of it, its trend and its latest night.
    ///
    /// # Errors
    /// As [`putting`](Self::putting).
    pub async fn putting_drawn(&self, caller: Caller, id: MemberId, asked: Asked) -> Result<PuttingDrawn, Refusal> {
        let (rounds, field) = self.putted(caller, id, asked, &[asked.yardstick]).await?;
        let baseline = baseline(asked.yardstick, field.as_deref());
        let report = PuttingReport::of(id, &rounds, baseline);
        let picture = PuttingPicture::of(&rounds, &report, baseline);
        let latest =
            rounds.last().map(|round| (round.event, PuttingReport::of(id, std::slice::from_ref(round), baseline)));
        Ok(PuttingDrawn { picture, trend: PuttingTrend::of(id, &rounds, baseline), report, latest })
    }

    /// Reads those of a member's counting rounds that are asked for with their putts, and the field where one of the
    /// yardsticks is it.
    async fn putted(
        &self,
        caller: Caller,
        id: MemberId,
        asked: Asked,
        yardsticks: &[Yardstick],
    ) -> Result<(Vec<PuttedRound>, Option<Arc<SeasonField>>), Refusal> {
        let Asked { season, chosen, .. } = asked;
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let conn = &mut conn;
        let (book, entries) = self.member_entries(conn, caller, id).await?;
        if season.is_some_and(|season| !book.book.seasons.contains_key(&season)) {
            return Err(Refusal::fault("/season_id", Rule::UnknownSeason, "this league has no such season"));
        }
        if chosen.event.is_some_and(|event| !book.book.nights.contains_key(&event)) {
            return Err(Refusal::fault("/event_id", Rule::UnknownEvent, "this league has no such event"));
        }
        if chosen.from.zip(chosen.to).is_some_and(|(from, to)| to < from) {
            return Err(Refusal::fault("/to", Rule::DateOrder, "the last day must not be before the first day"));
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
        Ok((putted_rounds(&book.book, played, &entries, of_round, chosen), field))
    }

    /// Makes the table of a season's putting, everybody but guests, ranked from so many recorded holes on.
    ///
    /// # Errors
    /// A season that is not there or not the caller's to see.
    pub async fn putting_table(
        &self,
        caller: Caller,
        season: SeasonId,
        fewest_holes: u32,
    ) -> Result<PuttingTable, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let league = season_league(&mut conn, caller, season).await?;
        let book = self.books.of(&mut conn, league).await?;
        let figures = self.season_figures.of_season(&mut conn, league, season).await?;
        let rounds = figures.iter().map(|round| (round.member, round.putting));
        let rounds = rounds.filter(|(member, _)| !book.book.is_guest(*member));
        let name = |row: PuttingRow| {
            let member = book.book.members.get(&row.member_id);
            NamedPuttingRow { display_name: member.map_or_else(String::new, |found| found.display_name.clone()), row }
        };
        let items = putting_table(rounds, fewest_holes).into_iter().map(name).collect();
        Ok(PuttingTable { season_id: season, baseline: Yardstick::Tour, fewest_holes, items, next: None })
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
