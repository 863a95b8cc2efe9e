//! The players of a league, and what one of them needs to know: handicap, putting, pace.

use super::Frame;
use super::charts::{self, Differential, Words};
use super::kept::kept;
use crate::domain::competition::table::LeagueIndexes;
use crate::domain::facts::{EventState, Setup};
use crate::domain::ids::{EventId, LeagueId, MemberId, SetupId};
use crate::domain::putting::baseline::Yardstick;
use crate::domain::putting::holes::FirstPutts;
use crate::domain::putting::report::PuttingReport;
use crate::domain::putting::roll::pace;
use crate::domain::season::overview::{DifferentialReport, HandicapReport};
use crate::domain::season::putting::Chosen;
use crate::domain::season::record::DifferentialKind;
use crate::domain::units::{Feet, Inches, Overrun, Stimp, Tenths};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::member::putting::{Asked, PuttingDrawn};
use crate::league::views::{EventView, MemberView, SeasonView, SetupView};
use crate::league::{Caller, Refusal};
use crate::pages::{putting, words};
use crate::storage::documents::SETUPS;
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
    asked: Asked,
    putting: Option<PuttingDrawn>,
    /// The season's nights, and the simulators of the league.
    nights: Vec<EventView>,
    setups: Vec<SetupView>,
    /// What is chosen of the season, if anything is.
    chosen: Option<Chosen>,
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

    fn count(&self, number: &u32, thing: &str) -> String {
        format!("{number} {thing}{}", if *number == 1 { "" } else { "s" })
    }

    /// Names what putting is compared with.
    fn against(&self) -> &'static str {
        match self.asked.yardstick {
            Yardstick::Tour => "tour putting",
            Yardstick::Field => "this league",
        }
    }

    fn is_against(&self, word: &str) -> bool {
        Yardstick::from_word(word) == Some(self.asked.yardstick)
    }

    fn is_chosen(&self, event: &EventId) -> bool {
        self.asked.chosen.event == Some(*event)
    }

    fn is_on(&self, setup: &SetupId) -> bool {
        self.asked.chosen.setup == Some(*setup)
    }

    /// Writes what is chosen as parameters of an address.
    fn choice(&self) -> Vec<String> {
        let Chosen { event, from, to, setup } = self.asked.chosen;
        let given = [
            event.map(|event| format!("event_id={event}")),
            from.map(|day| format!("from={day}")),
            to.map(|day| format!("to={day}")),
            setup.map(|setup| format!("setup_id={setup}")),
        ];
        given.into_iter().flatten().collect()
    }

    /// Returns the address of the same putting against another baseline.
    fn address(&self, baseline: &str) -> String {
        let mut given = self.choice();
        if Yardstick::from_word(baseline) != Some(Yardstick::Tour) {
            given.push(format!("against={baseline}"));
        }
        let given = given.join("&");
        format!("/members/{}{}{given}", self.member.id, if given.is_empty() { "" } else { "?" })
    }

    /// Returns the parameters that name the same putts in the interface for scripts.
    fn address_of_putts(&self) -> String {
        let mut given = self.choice();
        given.extend(self.asked.season.map(|season| format!("season_id={season}")));
        if self.asked.yardstick == Yardstick::Field {
            given.push("baseline=field".into());
        }
        if given.is_empty() { String::new() } else { format!("?{}", given.join("&")) }
    }

    /// Returns the distances of first putts that there were.
    fn first_putts<'a>(&self, report: &'a PuttingReport) -> Vec<&'a FirstPutts> {
        let by_distance = report.first_putts_by_distance.iter().filter(|row| row.holes > 0);
        by_distance.chain([&report.first_putts]).collect()
    }
}

/// The league index and what it rests on, and the putting of one season.
async fn member(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf, request: HttpRequest) -> Answer {
    let id = MemberId(id.0);
    let (member, _) = app.leagues.member(caller, id).await?;
    let mut frame = Frame::in_league(&app, caller, member.league_id).await?;
    frame.is_mine = frame.member() == id;
    let (handicap, indexes) = app.leagues.handicap_history(caller, id).await?;
    let (season, nights) = present(&app, caller, member.league_id).await?;
    let named = query.get("against").and_then(Yardstick::from_word).unwrap_or_default();
    let mut asked =
        Asked { season: season.as_ref().map(|season| season.id), yardstick: named, chosen: chosen(&query)? };
    if asked.season.is_none() {
        // the field is that of a season
        asked.yardstick = Yardstick::Tour;
    }
    let putting = app.leagues.putting_drawn(caller, id, asked).await?;
    let putting = Some(putting).filter(|drawn| drawn.report.bands.iter().any(|band| band.putts > 0));
    let setups = app.leagues.documents::<Setup>(caller, &SETUPS, member.league_id, Uuid::nil(), MOST).await?;
    let setups = setups.into_iter().map(SetupView::from).collect();
    let chosen = Some(asked.chosen).filter(|chosen| *chosen != Chosen::default());
    let is_ahead = |event: &&EventView| {
        !event.event.is_void() && matches!(event.event.state, Some(EventState::Open | EventState::Scheduled))
    };
    let next = nights.iter().find(is_ahead).cloned();
    let pace = next.as_ref().map(|event| pace_table(event.event.stimp_ft)).unwrap_or_default();
    let key = Uuid::new_v4();
    let shown = MemberPage {
        frame,
        member,
        handicap,
        indexes,
        season,
        asked,
        putting,
        nights,
        setups,
        chosen,
        next,
        pace,
        key,
    };
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

/// Reads which of the season's rounds are chosen; a form leaves empty what is not.
fn chosen(query: &QueryOf) -> Result<Chosen, Problem> {
    let day = |name| if query.get(name) == Some("") { Ok(None) } else { query.date(name) };
    Ok(Chosen {
        event: query.given_id("event_id")?.map(EventId),
        from: day("from")?,
        to: day("to")?,
        setup: query.given_id("setup_id")?.map(SetupId),
    })
}

/// Reads the latest season and its events.
async fn present(app: &App, caller: Caller, league: LeagueId) -> Result<(Option<SeasonView>, Vec<EventView>), Refusal> {
    let (listed, _) = super::home::seasons(app, caller, league).await?;
    Ok(listed.map_or((None, Vec::new()), |listed| (Some(listed.season), listed.events)))
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/leagues/{id}/members").route(super::reads().to(members)))
        .service(web::resource("/members/{id}").route(super::reads().to(member)));
}
