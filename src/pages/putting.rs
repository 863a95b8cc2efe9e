//! How a player's putting is shown: each chart with its words, each figure as it is written.

use super::charts::{self, Dot, Words};
use super::words::signed;
use crate::domain::putting::advice::{Focus, Practice};
use crate::domain::putting::causes::{CauseIntervals, Causes};
use crate::domain::putting::picture::{Place, PuttingPicture, StrikeBand};
use crate::domain::putting::report::PuttingReport;

/// Writes a band of distance.
pub fn band(from_ft: &f64, to_ft: &f64) -> String {
    format!("{from_ft}–{to_ft} ft")
}

/// Writes a part of a whole in per cent.
pub fn part_of(share: &f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

/// Draws strokes gained by distance.
pub fn gained(report: &PuttingReport) -> String {
    let rows = report.bands.iter().filter(|band| band.putts > 0).map(|found| Dot {
        label: format!("{} ({})", band(&found.from_ft, &found.to_ft), found.putts),
        value: found.strokes_gained,
        interval: found.low.zip(found.high),
        beside: None,
    });
    let about = Words {
        id: "gained",
        title: "Strokes gained by distance, with 95 % intervals",
        description: "A dot a band of distance, the number of putts in brackets; right of 0 is better than what they \
                      are compared with. The figures stand in the table of putting by distance.",
    };
    charts::dots(&about, &rows.collect::<Vec<_>>())
}

/// Draws the putts made by distance.
pub fn made(picture: &PuttingPicture) -> String {
    let about = Words {
        id: "made",
        title: "Putts made by distance, with 95 % intervals",
        description: "A dot a band of distance, at the mean length of its putts; the line is what is expected. The \
                      figures stand in the table of putting by distance.",
    };
    charts::made(&about, &picture.curve, &picture.made)
}

/// Draws the putts of a band one by one.
pub fn strikes(found: &StrikeBand) -> String {
    let about = Words {
        id: &format!("strikes-{}", found.to_ft),
        title: &format!("Start line and pace of putts of {}", band(&found.from_ft, &found.to_ft)),
        description: &format!(
            "Across how far off the intended line a putt started, upwards how far past the hole it would roll. Dots \
             were holed, crosses missed. A level putt from {} ft at {:.1} ft of green speed falls inside the shaded \
             area, one from {} ft inside the dashed line. How many putts lie where stands in the table below.",
            found.to_ft,
            found.stimp.get(),
            found.from_ft
        ),
    };
    charts::strikes(&about, found)
}

/// Where putts lie against the window, in the order of the table.
const PLACES: [(Place, &str); 5] = [
    (Place::Inside, "in the window"),
    (Place::Short, "short"),
    (Place::TooFirm, "too firm for any line"),
    (Place::Left, "off to the left"),
    (Place::Right, "off to the right"),
];

impl StrikeBand {
    /// Counts the putts and the holed ones by where they lie.
    pub fn by_place(&self) -> Vec<(&'static str, usize, usize)> {
        let count = |(place, name): (Place, &'static str)| {
            let at = self.strikes.iter().filter(|strike| strike.place == place);
            (name, at.clone().count(), at.filter(|strike| strike.is_holed).count())
        };
        PLACES.into_iter().map(count).collect()
    }
}

/// What misses lost to a cause.
pub struct CauseLine {
    /// The cause.
    pub name: &'static str,
    /// Strokes a round.
    pub strokes: f64,
    /// Its 95 % interval.
    pub interval: (f64, f64),
}

impl CauseLine {
    /// Writes the interval.
    pub fn ends(&self) -> String {
        format!("{} to {}", signed(&self.interval.0, 2), signed(&self.interval.1, 2))
    }
}

/// Puts the causes together with their intervals.
fn cause_lines(told: &Causes, intervals: &CauseIntervals) -> Vec<CauseLine> {
    let line = |name, strokes, interval| CauseLine { name, strokes, interval };
    vec![
        line("Start line", told.line, intervals.line),
        line("Pace", told.pace, intervals.pace),
        line("Line and pace together", told.both, intervals.both),
        line("Read", told.read, intervals.read),
        line("Not known", told.unknown, intervals.unknown),
    ]
}

/// The causes as lines, and their chart.
pub struct ShownCauses {
    /// A line a cause.
    pub lines: Vec<CauseLine>,
    /// The chart.
    pub chart: String,
}

/// Shows what misses lost by cause; `None` where too few were seen.
pub fn causes(report: &PuttingReport, picture: &PuttingPicture) -> Option<ShownCauses> {
    let lines = cause_lines(report.player.causes.as_ref()?, picture.causes.as_ref()?);
    let rows = lines.iter().map(|line| Dot {
        label: line.name.into(),
        value: line.strokes,
        interval: Some(line.interval),
        beside: None,
    });
    let about = Words {
        id: "causes",
        title: "Strokes lost a round on misses, by cause, with 95 % intervals",
        description: "A dot a cause; right of 0 are strokes lost. The figures stand in the table beside it.",
    };
    let chart = charts::dots(&about, &rows.collect::<Vec<_>>());
    Some(ShownCauses { lines, chart })
}

/// Names what a practice is about.
pub fn practised(practice: &Practice) -> &'static str {
    match practice.focus {
        Focus::Line => "start line",
        Focus::Pace => "pace",
        Focus::Read => "read",
    }
}
