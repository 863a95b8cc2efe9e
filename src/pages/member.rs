//! The players of a league, and what one of them needs to know: handicap, putting, pace.

use super::Frame;
use super::charts::{self, Differential, Words};
use super::kept::kept;
use crate::domain::competition::table::LeagueIndexes;
use crate::domain::facts::EventState;
use crate::domain::ids::{LeagueId, MemberId, SeasonId};
use crate::domain::putting::baseline::Yardstick;
use crate::domain::putting::picture::PuttingPicture;
use crate::domain::putting::report::PuttingReport;
use crate::domain::putting::roll::pace;
use crate::domain::season::overview::{DifferentialReport, HandicapReport};
use crate::domain::season::record::DifferentialKind;
use crate::domain::units::{Feet, Inches, Overrun, Stimp, Tenths};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::league::views::{EventView, MemberView, SeasonView};
use crate::league::{Caller, Refusal};
use crate::pages::{putting, words};
use actix_web::HttpRequest;
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
        words::handicap(self.indexes.get(id).unwrap_or(&None))
    }
}

async fn members(app: Data<App>, caller: Caller, id: IdPath, request: HttpRequest) -> Answer {
    let frame = Frame::in_league(&app, caller, LeagueId(id.0)).await?;
    let mut members = app.leagues.members_of(caller, LeagueId(id.0), Uuid::nil(), MOST).await?;
    members.sort_by_key(|member| (member.member.display_name.to_lowercase(), member.id));
    let indexes = app.leagues.league_indexes(caller, LeagueId(id.0)).await?;
    let shown = Members { frame, members, indexes };
    kept(&request, &shown.frame, &shown)
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
    /// The index that each differential made, newest first as those.
    indexes: Vec<Option<Tenths>>,
    season: Option<SeasonView>,
    yardstick: Yardstick,
    putting: Option<(PuttingReport, PuttingPicture)>,
    next: Option<EventView>,
    pace: Vec<PaceLine>,
    key: Uuid,
}

impl MemberPage {
    fn history(&self) -> String {
        let index = |n: usize| self.indexes.get(n).copied().flatten();
        let row = |(n, row): (usize, &DifferentialReport)| Differential {
            date: row.played_on,
            value: f64::from(row.value.0) / 10.0,
            kind: row.kind,
            counts: row.counts,
            index: index(n).map(|index| f64::from(index.0) / 10.0),
        };
        let rows: Vec<_> = self.handicap.differentials.iter().enumerate().rev().map(row).collect();
        let about = Words {
            id: "history",
            title: "Differentials by date, and the league index",
            description: "One mark per differential, by its date: filled marks count for the index now, \
                          hollow marks do not; dots: rounds, squares: two nine-hole rounds, triangles: earlier results \
                          carried over. The line is the league index. The table of differentials has the figures.",
        };
        charts::history(&about, &rows)
    }

    fn index_after(&self, n: &usize) -> String {
        words::handicap(&self.indexes.get(*n).copied().flatten())
    }

    fn kind(&self, kind: &DifferentialKind) -> &'static str {
        match kind {
            DifferentialKind::Round => "round",
            DifferentialKind::Pair => "two nine-hole rounds",
            DifferentialKind::Carried => "carried over",
        }
    }

    /// Names what putting is compared with.
    fn against(&self) -> &'static str {
        match self.yardstick {
            Yardstick::Tour => "tour putting",
            Yardstick::Field => "this league",
        }
    }

    fn is_against(&self, word: &str) -> bool {
        Yardstick::from_word(word) == Some(self.yardstick)
    }
}

/// The league index and what it rests on, and the putting of one season.
async fn member(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf, request: HttpRequest) -> Answer {
    let id = MemberId(id.0);
    let (member, _) = app.leagues.member(caller, id).await?;
    let mut frame = Frame::in_league(&app, caller, member.league_id).await?;
    frame.is_mine = frame.member() == id;
    let (handicap, indexes) = app.leagues.handicap_history(caller, id).await?;
    let (season, next) = present(&app, caller, member.league_id).await?;
    let season_id: Option<SeasonId> = season.as_ref().map(|season| season.id);
    let asked = query.get("against").and_then(Yardstick::from_word).unwrap_or_default();
    // The field is that of a season.
    let yardstick = if season_id.is_some() { asked } else { Yardstick::Tour };
    let putting = app.leagues.putting_drawn(caller, id, season_id, yardstick).await?;
    let putting = Some(putting).filter(|(report, _)| report.bands.iter().any(|band| band.putts > 0));
    let pace = next.as_ref().map(|event| pace_table(event.event.stimp_ft)).unwrap_or_default();
    let key = Uuid::new_v4();
    let shown = MemberPage { frame, member, handicap, indexes, season, yardstick, putting, next, pace, key };
    kept(&request, &shown.frame, &shown)
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
    let (Some(listed), _) = super::home::seasons(app, caller, league).await? else { return Ok((None, None)) };
    let is_ahead = |event: &EventView| matches!(event.event.state, Some(EventState::Open | EventState::Scheduled));
    let next = listed.events.into_iter().find(is_ahead);
    Ok((Some(listed.season), next))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/leagues/{id}/members").route(super::reads().to(members)))
        .service(web::resource("/members/{id}").route(super::reads().to(member)));
}
