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
        description: "One dot per range of distance, with the number of putts in brackets; right of 0 is better than the \
                      comparison. The table of putting by distance has the figures.",
    };
    charts::dots(&about, &rows.collect::<Vec<_>>())
}

/// Draws the putts made by distance.
pub fn made(picture: &PuttingPicture) -> String {
    let about = Words {
        id: "made",
        title: "Putts made by distance, with 95 % intervals",
        description: "One dot per range of distance, at the average distance of its putts; the line is what is expected. \
                      The table of putting by distance has the figures.",
    };
    charts::made(&about, &picture.curve, &picture.made)
}

/// Draws the putts of a band one by one.
pub fn strikes(found: &StrikeBand) -> String {
    let about = Words {
        id: &format!("strikes-{}", found.to_ft),
        title: &format!("Aim and speed of putts of {}", band(&found.from_ft, &found.to_ft)),
        description: &format!(
            "Across: how far off the intended line a putt started; upwards: how far past the hole it would roll. \
             Dots: holed; crosses: missed. Level putts from {} ft at a green speed of {:.1} ft go in inside the shaded \
             area, those from {} ft inside the dashed line. The table below counts them.",
            found.to_ft,
            found.stimp.get(),
            found.from_ft
        ),
    };
    charts::strikes(&about, found)
}

/// Where putts lie against the window, in the order of the table.
const PLACES: [(Place, &str); 5] = [
    (Place::Inside, "inside the area"),
    (Place::Short, "short"),
    (Place::TooFirm, "too hard"),
    (Place::Left, "too far left"),
    (Place::Right, "too far right"),
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
        line("Aim", told.line, intervals.line),
        line("Speed", told.pace, intervals.pace),
        line("Aim and speed together", told.both, intervals.both),
        line("Read", told.read, intervals.read),
        line("Cause not recorded", told.unknown, intervals.unknown),
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
        title: "Strokes lost per round on missed putts, by cause, with 95 % intervals",
        description: "One dot per cause; right of 0: strokes lost. The table beside the chart has the figures.",
    };
    let chart = charts::dots(&about, &rows.collect::<Vec<_>>());
    Some(ShownCauses { lines, chart })
}

/// Says what a practice would save. It is a quarter less spread that is reckoned with.
pub fn advised(practice: &Practice) -> String {
    let better = match practice.focus {
        Focus::Line => "25 % tighter aim",
        Focus::Pace => "25 % tighter speed control",
        Focus::Read => "25 % better reading",
    };
    format!(
        "On putts of {}, {better} would save about {:.1} strokes per round ({} to {}).",
        band(&practice.from_ft, &practice.to_ft),
        practice.strokes_per_round,
        signed(&practice.low, 1),
        signed(&practice.high, 1)
    )
}

/// Says to which side putts start on average.
pub fn aim_bias(deg: &f64) -> String {
    let side = if *deg < 0.0 { "left" } else { "right" };
    let size = format!("{:.2}°", deg.abs());
    if size == "0.00°" { size } else { format!("{size} {side}") }
}

/// Says how much farther or shorter than meant putts roll on average.
pub fn speed_bias(pct: &f64) -> String {
    let way = if *pct < 0.0 { "too soft" } else { "too hard" };
    let size = format!("{:.1} %", pct.abs());
    if size == "0.0 %" { size } else { format!("{size} {way} on average") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bias_is_said_with_its_side() {
        assert_eq!([aim_bias(&-0.07), aim_bias(&0.5), aim_bias(&-0.001)], ["0.07° left", "0.50° right", "0.00°"]);
        assert_eq!(
            [speed_bias(&0.94), speed_bias(&-2.0), speed_bias(&0.01)],
            ["0.9 % too hard on average", "2.0 % too soft on average", "0.0 %"]
        );
    }
}
