//! The players of a league, and what one of them needs to know: handicap, putting, pace.

use super::charts::{self, Dot};
use super::{Frame, page};
use crate::api::extract::IdPath;
use crate::api::{Answer, App};
use crate::domain::facts::{EventState, Season};
use crate::domain::ids::{LeagueId, MemberId, SeasonId};
use crate::domain::putting::baseline::Yardstick;
use crate::domain::putting::report::PuttingReport;
use crate::domain::putting::roll::pace;
use crate::domain::season::overview::HandicapReport;
use crate::domain::season::record::DifferentialKind;
use crate::domain::standings::table::LeagueIndexes;
use crate::domain::units::{Feet, Inches, Overrun, Stimp};
use crate::league::views::{EventView, MemberView, SeasonView};
use crate::league::{Caller, Refusal};
use crate::pages::words;
use crate::storage::documents::SEASONS;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use uuid::Uuid;

const MOST: i64 = 1_000;
/// The putts of the pace table, in feet.
const PACE_FT: [f64; 8] = [3.0, 6.0, 10.0, 15.0, 20.0, 30.0, 40.0, 60.0];
/// How far a foot of putt rises and falls in the pace table's outer columns, in inches.
const SLOPE_IN_A_FOOT: f64 = 0.24;
/// How far past the hole a putt is meant.
const PAST_IN: f64 = 12.0;

#[derive(Template)]
#[template(path = "members.html")]
struct Members {
    frame: Frame,
    members: Vec<MemberView>,
    indexes: LeagueIndexes,
}

impl Members {
    fn index(&self, id: &MemberId) -> String {
        words::or_missing(self.indexes.get(id).unwrap_or(&None))
    }
}

async fn members(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let frame = Frame::in_league(&app, caller, LeagueId(id.0)).await?;
    let mut members = app.leagues.members_of(caller, LeagueId(id.0), Uuid::nil(), MOST).await?;
    members.sort_by_key(|member| (member.member.display_name.to_lowercase(), member.id));
    let indexes = app.leagues.league_indexes(caller, LeagueId(id.0)).await?;
    page(&Members { frame, members, indexes })
}

/// A row of the pace table: ball speeds in miles an hour downhill, level and uphill.
struct PaceLine {
    distance_ft: f64,
    speeds_mph: [Option<f64>; 3],
}

#[derive(Template)]
#[template(path = "member.html")]
struct MemberPage {
    frame: Frame,
    member: MemberView,
    handicap: HandicapReport,
    season: Option<SeasonView>,
    putting: Option<PuttingReport>,
    next: Option<EventView>,
    pace: Vec<PaceLine>,
}

impl MemberPage {
    fn band(&self, from: &f64, to: &f64) -> String {
        format!("{from}–{to} ft")
    }

    fn gained(&self, report: &PuttingReport) -> String {
        let rows = report.bands.iter().filter(|band| band.putts > 0).map(|band| Dot {
            label: format!("{} ({})", self.band(&band.from_ft, &band.to_ft), band.putts),
            value: band.strokes_gained,
            interval: band.low.zip(band.high),
        });
        charts::dots("Strokes gained by distance, with 95 % intervals", &rows.collect::<Vec<_>>())
    }

    fn made(&self, report: &PuttingReport) -> String {
        let rows = report.bands.iter().filter(|band| band.putts > 0).map(|band| Dot {
            label: format!("{} ({})", self.band(&band.from_ft, &band.to_ft), band.putts),
            value: f64::from(band.made) - band.expected_made,
            interval: made_interval(band.made, band.putts, band.expected_made),
        });
        charts::dots("Putts made above or below expectation, with 95 % intervals", &rows.collect::<Vec<_>>())
    }

    fn history(&self) -> String {
        let values = self.handicap.differentials.iter().rev();
        let values: Vec<(f64, bool)> = values.map(|row| (f64::from(row.value.0) / 10.0, row.counts)).collect();
        charts::history("Differentials, oldest first; filled ones count", &values)
    }

    fn kind(&self, kind: &DifferentialKind) -> &'static str {
        match kind {
            DifferentialKind::Round => "round",
            DifferentialKind::Pair => "two nines",
            DifferentialKind::Carried => "brought along",
        }
    }

    fn focus(&self, practice: &crate::domain::putting::advice::Practice) -> &'static str {
        use crate::domain::putting::advice::Focus;
        match practice.focus {
            Focus::Line => "start line",
            Focus::Pace => "pace",
            Focus::Read => "read",
        }
    }
}

/// Returns the interval of putts made above expectation.
///
/// # Source
/// The score interval of a proportion: E. B. Wilson, JASA 22 (1927) 209–212.
fn made_interval(made: u32, putts: u32, expected: f64) -> Option<(f64, f64)> {
    const Z: f64 = 1.959_964;
    let n = f64::from(putts);
    let share = f64::from(made) / n;
    let centre = (share + Z * Z / (2.0 * n)) / (1.0 + Z * Z / n);
    let half = Z / (1.0 + Z * Z / n) * (share * (1.0 - share) / n + Z * Z / (4.0 * n * n)).sqrt();
    (putts > 0).then_some(((centre - half) * n - expected, (centre + half) * n - expected))
}

fn pace_table(stimp: Stimp) -> Vec<PaceLine> {
    let speed = |distance_ft: f64, rise: f64| {
        let (distance, elevation) = (Feet::new(distance_ft).ok()?, Inches::new(rise * distance_ft).ok()?);
        Some(pace(distance, stimp, elevation, Overrun::new(PAST_IN).ok()?).ok()?.ball_speed_mph)
    };
    let line = |distance_ft| PaceLine {
        distance_ft,
        speeds_mph: [-SLOPE_IN_A_FOOT, 0.0, SLOPE_IN_A_FOOT].map(|rise| speed(distance_ft, rise)),
    };
    PACE_FT.into_iter().map(line).collect()
}

/// Reads the latest season and the event that is open or opens next.
async fn present(
    app: &App,
    caller: Caller,
    league: LeagueId,
) -> Result<(Option<SeasonView>, Option<EventView>), Refusal> {
    let found = app.leagues.documents::<Season>(caller, &SEASONS, league, Uuid::nil(), MOST).await?;
    let seasons = found.into_iter().map(SeasonView::from);
    let Some(season) = seasons.max_by_key(|season| (season.season.starts_on, season.id)) else {
        return Ok((None, None));
    };
    let events = super::home::events(app, caller, season.id).await?;
    let is_ahead = |event: &EventView| matches!(event.event.state, Some(EventState::Open | EventState::Scheduled));
    let next = events.into_iter().find(is_ahead);
    Ok((Some(season), next))
}

async fn member(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let id = MemberId(id.0);
    let (member, _) = app.leagues.member(caller, id).await?;
    let frame = Frame::in_league(&app, caller, member.league_id).await?;
    let handicap = app.leagues.handicap(caller, id).await?;
    let (season, next) = present(&app, caller, member.league_id).await?;
    let season_id: Option<SeasonId> = season.as_ref().map(|season| season.id);
    let putting = app.leagues.putting(caller, id, season_id, Yardstick::Tour).await?;
    let putting = Some(putting).filter(|report| report.bands.iter().any(|band| band.putts > 0));
    let pace = next.as_ref().map(|event| pace_table(event.event.stimp_ft)).unwrap_or_default();
    page(&MemberPage { frame, member, handicap, season, putting, next, pace })
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/leagues/{id}/members").route(super::reads().to(members)))
        .service(web::resource("/members/{id}").route(super::reads().to(member)));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_interval_of_makes_holds_what_was_made() {
        let (low, high) = made_interval(7, 10, 5.0).unwrap();
        assert!(low < 2.0 && 2.0 < high);
        // Wilson 1927 for 7 of 10: 0.3968 to 0.8922 (worked by hand from the formula).
        assert!((low + 5.0 - 3.968).abs() < 0.001 && (high + 5.0 - 8.922).abs() < 0.001, "{low} {high}");
        assert!(made_interval(0, 0, 0.0).is_none());
    }
}
