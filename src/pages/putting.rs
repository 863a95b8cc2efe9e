//! How a player's putting is shown: each chart with its words, each figure as it is written.

use super::charts::{self, Dot, Words};
use super::words::signed;
use crate::domain::putting::advice::{Advice, Certainty, Focus};
use crate::domain::putting::causes::{Causes, LostPerRound};
use crate::domain::putting::conditions::Condition;
use crate::domain::putting::holes::Holes;
use crate::domain::putting::picture::{Place, PuttingPicture, StrikeBand};
use crate::domain::putting::report::PuttingReport;
use crate::domain::putting::trend::PuttingTrend;

/// Writes a band of distance.
pub fn band(from_ft: &f64, to_ft: &f64) -> String {
    format!("{from_ft}–{to_ft} ft")
}

/// Draws strokes gained a round by distance, the advised range ringed.
pub fn gained(report: &PuttingReport) -> String {
    let about = Words {
        id: "gained",
        title: "Strokes gained per round by distance, with 95 % intervals",
        description: "One dot per range of distance; above 0 is better than the comparison. The range to practise has a \
                      ring. The table of putting by distance has the figures.",
    };
    charts::level(&about, &report.bands, report.advice.from_ft.zip(report.advice.to_ft))
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

/// Counts the putts and the holed ones by where they lie.
pub fn by_place(found: &StrikeBand) -> Vec<(&'static str, usize, usize)> {
    let count = |(place, name): (Place, &'static str)| {
        let at = found.strikes.iter().filter(|strike| strike.place == place);
        (name, at.clone().count(), at.filter(|strike| strike.is_holed).count())
    };
    PLACES.into_iter().map(count).collect()
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

fn cause_lines(told: &Causes) -> Vec<CauseLine> {
    let line =
        |name, lost: LostPerRound| CauseLine { name, strokes: lost.lost_per_round, interval: (lost.low, lost.high) };
    vec![
        line("Aim", told.line),
        line("Speed", told.pace),
        line("Aim and speed together", told.both),
        line("Read", told.read),
        line("Cause not recorded", told.unknown),
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
pub fn causes(report: &PuttingReport) -> Option<ShownCauses> {
    let lines = cause_lines(report.player.causes.as_ref()?);
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

/// What a putting report advises, in words.
pub struct Answer {
    /// Where most is lost, in a sentence.
    pub sentence: String,
    /// What to practise; missing while it is too early to say.
    pub practise: Option<String>,
    /// What that would save.
    pub saves: Option<String>,
    /// How sure it is, and what would settle it.
    pub sure: String,
}

/// Says what a report advises; `against` names what putting is compared with.
pub fn answer(report: &PuttingReport, against: &str) -> Answer {
    let advice = &report.advice;
    let told = || Some((advice.focus?, advice.from_ft?, advice.to_ft?));
    let Some((focus, from_ft, to_ft)) = told() else { return too_early(advice) };
    let (name, better) = match focus {
        Focus::Line => ("aim", "steadier aim"),
        Focus::Pace => ("speed", "steadier speed"),
        Focus::Read => ("reading", "better reading"),
    };
    let found = report.bands.iter().find(|band| (band.from_ft, band.to_ft) == (from_ft, to_ft));
    let (sentence, at, what) = match found {
        Some(found) => (
            format!(
                "Most strokes are lost from {}: {} of {} made, where {against} makes {:.1}.",
                band(&from_ft, &to_ft),
                found.made,
                found.putts,
                found.expected_made
            ),
            format!("from {}", band(&from_ft, &to_ft)),
            "distance",
        ),
        None => (
            format!("Most strokes are lost by {name}, at every distance."),
            "at every distance".into(),
            "part of putting",
        ),
    };
    let worth = || Some((advice.worth_per_round?, advice.low?, advice.high?));
    Answer {
        sentence,
        practise: Some(format!("Practise {name} {at}")),
        saves: worth().map(|(worth, low, high)| {
            let (low, high) = (signed(&low, 1), signed(&high, 1));
            format!("25 % {better} would save about {worth:.1} strokes per round ({low} to {high}).")
        }),
        sure: format!(
            "How sure: {}, {} in 100 that this is the weakest {what}.{}",
            certainty(advice.certainty),
            (100.0 * advice.probability).floor(),
            needed(advice)
        ),
    }
}

fn too_early(advice: &Advice) -> Answer {
    let sure = match advice.needs_putts {
        Some(putts) => format!("About {putts} more putts with start line and ball speed would tell."),
        None => "No weakness stands out in the putts so far.".into(),
    };
    Answer { sentence: "Too early to say what to practise.".into(), practise: None, saves: None, sure }
}

fn needed(advice: &Advice) -> String {
    match advice.needs_putts {
        None | Some(0) => String::new(),
        Some(putts) => format!(" About {putts} more putts would settle it."),
    }
}

fn certainty(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Clear => "clear",
        Certainty::Likely => "likely",
        Certainty::Hint => "a hint",
        Certainty::Early => "too early to say",
    }
}

/// Writes holes of a kind beside what is expected.
pub fn holes(found: &Holes) -> String {
    let plural = if found.holes_total == 1 { "hole" } else { "holes" };
    format!("{} {plural}, expected {:.1}", found.holes_total, found.expected_total)
}

/// Writes strokes gained with the ends of their interval, where there is one.
pub fn with_ends(gained: &Option<f64>, low: &Option<f64>, high: &Option<f64>) -> String {
    match (gained, low, high) {
        (Some(gained), Some(low), Some(high)) => {
            format!("{} ({} to {})", signed(gained, 2), signed(low, 2), signed(high, 2))
        }
        (Some(gained), ..) => signed(gained, 2),
        (None, ..) => "–".into(),
    }
}

/// Writes the strokes gained under a condition.
pub fn total(found: &Condition) -> String {
    with_ends(&Some(found.strokes_gained_total), &found.low_total, &found.high_total)
}

/// Writes a share in per cent with the ends of its interval.
pub fn share(pct: &Option<f64>, low: &Option<f64>, high: &Option<f64>) -> String {
    match (pct, low, high) {
        (Some(pct), Some(low), Some(high)) => format!("{pct:.0} % ({low:.0} to {high:.0})"),
        _ => "–".into(),
    }
}

/// Names the putts by slope and by green speed.
pub fn conditions(report: &PuttingReport) -> [(&'static str, Condition); 6] {
    [
        ("Uphill", report.slopes.uphill),
        ("Level", report.slopes.level),
        ("Downhill", report.slopes.downhill),
        ("Greens below 9 ft", report.greens.slow),
        ("Greens of 9 to 11 ft", report.greens.usual),
        ("Greens above 11 ft", report.greens.quick),
    ]
}

/// Says whether putting has changed.
pub fn change(trend: &PuttingTrend) -> String {
    let Some(found) = &trend.change else {
        return "A change can be told from 18 recorded holes on in either half of the nights.".into();
    };
    let by = signed(&found.strokes_gained_per_round, 2);
    let ends = format!("{} to {}", signed(&found.low_per_round, 2), signed(&found.high_per_round, 2));
    let luck = if found.may_be_luck { " Luck alone could have done that." } else { "" };
    format!("Since {}: {by} strokes per round against the nights before ({ends}).{luck}", found.since)
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
