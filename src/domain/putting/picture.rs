//! What a player's putting looks like drawn: made by distance, and each putt beside the window that the hole leaves.

use super::PuttResult;
use super::band::Band;
use super::baseline::Baseline;
use super::capture::{EdgePoint, edge, reach_ft};
use super::gained;
use super::pacing::Rolled;
use super::player::ratio_of;
use super::report::{PuttedRound, PuttingReport};
use super::spread::limits;
use super::sums::band_of;
use crate::putting::struck::Struck;
use crate::units::{Feet, Stimp};

/// The bands whose putts are drawn one by one, in feet: from, itself excluded, to, itself included.
pub const STRIKE_BANDS_FT: [(f64, f64); 3] = [(3.0, 6.0), (6.0, 10.0), (10.0, 20.0)];
/// The distances at which the baseline's curve is taken, per foot where it bends most.
const CURVE_FT: [f64; 24] = [
    1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 23.0, 26.0, 30.0, 35.0, 40.0,
    45.0, 50.0, 55.0, 60.0,
];

/// What is drawn of a player's putting beside the report's figures.
#[derive(Clone, Debug, PartialEq)]
pub struct PuttingPicture {
    /// The share that the baseline holes: distance in feet, chance.
    pub curve: Vec<(f64, f64)>,
    /// What the player made by distance; bands without a putt are left out.
    pub made: Vec<MadeShare>,
    /// Each putt whose line and speed are known, by band.
    pub strikes: Vec<StrikeBand>,
}

/// A band of the report and where its putts lie on the scale of distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MadeShare {
    /// The mean distance of the putts.
    pub mean_ft: f64,
    pub band: Band,
}

/// The putts of a band whose line and speed are known.
#[derive(Clone, Debug, PartialEq)]
pub struct StrikeBand {
    /// From this distance, itself excluded.
    pub from_ft: f64,
    /// To this one, itself included.
    pub to_ft: f64,
    /// The putts, oldest first.
    pub strikes: Vec<Strike>,
    /// Putts of the band without a measured line or a recorded speed.
    pub unmeasured: u32,
    /// Putts whose line or speed was misread, as the spreads take it.
    pub misread: u32,
    /// The mean green speed of the putts, which the edges are for.
    pub stimp: Stimp,
    /// The edge of the window of a level putt from the band's near end.
    pub near: Vec<EdgePoint>,
    /// The edge from its far end.
    pub far: Vec<EdgePoint>,
}

/// A putt as it was struck.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strike {
    /// How far to the right of the intended line it started, in degrees.
    pub line_deg: f64,
    /// How far past the hole it would roll on the level, in feet; below zero it stops short.
    pub past_ft: f64,
    /// Whether it was holed.
    pub is_holed: bool,
    /// Where it lies against the window of a level putt of its own length and green.
    pub place: Place,
}

/// Where a putt lies against the window of its length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Inside: a level putt struck so falls.
    Inside,
    /// It does not reach the hole.
    Short,
    /// No line holds it.
    TooFirm,
    /// Off to the left for its pace.
    Left,
    /// Off to the right for its pace.
    Right,
}

impl PuttingPicture {
    /// Draws a member's counting rounds; `report` is the report of the same rounds against the same baseline.
    pub fn of(rounds: &[PuttedRound], report: &PuttingReport, baseline: &Baseline) -> Self {
        let mut struck: Vec<Struck> = Vec::new();
        for round in rounds {
            for hole in &round.by_hole {
                let putts: Vec<_> = hole.iter().map(|putt| (putt.distance_ft, putt.result)).collect();
                struck.extend(round.struck(hole, gained::hole(&putts, baseline)));
            }
        }
        struck.retain(|putt| putt.putt.result != PuttResult::Conceded);
        let ratio = |putt: &Struck| ratio_of(&report.player.setups, putt);
        Self { curve: curve(report, baseline), made: made(&struck, report), strikes: strikes(&struck, ratio) }
    }
}

/// Takes the baseline's chances up to the end of the farthest band with a putt.
fn curve(report: &PuttingReport, baseline: &Baseline) -> Vec<(f64, f64)> {
    let farthest = report.bands.iter().filter(|band| band.putts > 0).map(|band| band.to_ft).fold(0.0, f64::max);
    let distances = CURVE_FT.into_iter().filter(|distance| *distance <= farthest);
    distances.filter_map(|distance| Some((distance, baseline.one_putt(Feet::new(distance).ok()?)))).collect()
}

fn made(struck: &[Struck], report: &PuttingReport) -> Vec<MadeShare> {
    let share = |(n, band): (usize, &Band)| {
        let of_band = struck.iter().map(|putt| putt.putt.distance_ft).filter(|feet| usize::from(band_of(*feet)) == n);
        Some(MadeShare { mean_ft: mean(of_band.map(Feet::get))?, band: *band })
    };
    report.bands.iter().enumerate().filter_map(share).collect()
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, count) = values.fold((0.0, 0), |(sum, count), value| (sum + value, count + 1));
    (count > 0).then(|| sum / f64::from(count))
}

/// A putt with both readings: its roll over what was meant, and what is drawn.
struct Measured {
    error: f64,
    strike: Strike,
}

fn measured(putt: &Struck, ratio: f64) -> Option<Measured> {
    let (line_deg, rolled) = (putt.putt.start_line_deg?.get(), Rolled::of(putt)?);
    let past_ft = rolled.level_ft / (ratio * ratio) - rolled.plays_like_ft;
    let strike = Strike {
        line_deg,
        past_ft,
        is_holed: putt.putt.result == PuttResult::Holed,
        place: Place::of(line_deg, past_ft, putt.putt.distance_ft, putt.stimp),
    };
    Some(Measured { error: rolled.error(ratio), strike })
}

impl Place {
    /// Places a putt against the window of a level one.
    ///
    /// # Formula
    /// ```text
    /// short: past ≤ 0      too firm: past ≥ v_max² / (2 a)
    /// else inside where |line| < atan(R · sqrt(1 - sqrt(2 a past) / v_max) / d)
    /// ```
    ///
    /// # Source
    /// As [`capture`](super::capture::capture).
    fn of(line_deg: f64, past_ft: f64, distance: Feet, stimp: Stimp) -> Self {
        let reach = reach_ft(stimp);
        if past_ft <= 0.0 {
            return Self::Short;
        }
        if past_ft >= reach {
            return Self::TooFirm;
        }
        match super::capture::half_line_deg((past_ft / reach).sqrt(), distance) {
            half if line_deg.abs() < half => Self::Inside,
            _ if line_deg < 0.0 => Self::Left,
            _ => Self::Right,
        }
    }
}

fn strikes(struck: &[Struck], ratio: impl Fn(&Struck) -> f64) -> Vec<StrikeBand> {
    let all: Vec<(&Struck, Option<Measured>)> = struck.iter().map(|putt| (putt, measured(putt, ratio(putt)))).collect();
    let readings = |of: fn(&Measured) -> f64| all.iter().filter_map(|(_, found)| found.as_ref().map(of)).collect();
    let lines: Vec<f64> = readings(|found| found.strike.line_deg);
    let errors: Vec<f64> = readings(|found| found.error);
    let (lines, errors) = (limits(&lines), limits(&errors));
    let is_read = |found: &Measured| {
        lines.as_ref().is_none_or(|limits| limits.contains(&found.strike.line_deg))
            && errors.as_ref().is_none_or(|limits| limits.contains(&found.error))
    };
    let band = |(from_ft, to_ft): (f64, f64)| {
        let (mut strikes, mut stimps, mut unmeasured, mut misread) = (Vec::new(), Vec::new(), 0, 0);
        for (putt, found) in &all {
            let distance = putt.putt.distance_ft.get();
            if !(from_ft < distance && distance <= to_ft) {
                continue;
            }
            match found {
                Some(found) if is_read(found) => {
                    strikes.push(found.strike);
                    stimps.push(putt.stimp.get());
                }
                Some(_) => misread += 1,
                None => unmeasured += 1,
            }
        }
        let stimp = Stimp::new(mean(stimps.into_iter())?).ok()?;
        let edge_from = |feet| Some(edge(Feet::new(feet).ok()?, stimp));
        let (near, far) = (edge_from(from_ft)?, edge_from(to_ft)?);
        Some(StrikeBand { from_ft, to_ft, strikes, unmeasured, misread, stimp, near, far })
    };
    STRIKE_BANDS_FT.into_iter().filter_map(band).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::Putt;
    use crate::ids::{EventId, MemberId};
    use crate::putting::{capture, roll};
    use crate::units::{Degrees, Inches, Mph};
    use proptest::prelude::*;
    use uuid::Uuid;

    fn putt(distance: f64, readings: Option<(f64, f64)>, result: PuttResult) -> Putt {
        Putt {
            distance_ft: Feet::new(distance).unwrap(),
            elevation_in: None,
            ball_speed_mph: readings.map(|(_, speed)| Mph::new(speed).unwrap()),
            start_line_deg: readings.map(|(line, _)| Degrees::new(line).unwrap()),
            played_line_deg: None,
            result,
        }
    }

    fn drawn(by_hole: Vec<Vec<Putt>>) -> PuttingPicture {
        let holes = by_hole.len() as u32;
        let stimp = Stimp::new(11.0).unwrap();
        let (recorded_holes, putts, left_out) = (holes, None, None);
        let (event, date, numbers) = (EventId(Uuid::nil()), jiff::civil::date(2027, 1, 14), Vec::new());
        let round =
            PuttedRound { event, date, setup: None, stimp, holes, recorded_holes, putts, by_hole, numbers, left_out };
        let rounds = [round];
        let report = PuttingReport::of(MemberId(Uuid::nil()), &rounds, Baseline::tour());
        PuttingPicture::of(&rounds, &report, Baseline::tour())
    }

    #[test]
    fn each_putt_lies_where_its_line_and_speed_put_it() {
        // 10 ft at 11: 4.34 mph just arrives, 5.93 is the fastest that falls
        let check = |line, speed, expect| {
            let picture = drawn(vec![vec![putt(10.0, Some((line, speed)), PuttResult::Holed)]]);
            assert_eq!(picture.strikes[0].strikes[0].place, expect, "{line}° at {speed} mph");
        };
        check(0.1, 4.55, Place::Inside);
        check(0.0, 4.3, Place::Short);
        check(0.0, 6.0, Place::TooFirm);
        check(-2.0, 4.55, Place::Left);
        check(2.0, 4.55, Place::Right);
    }

    #[test]
    fn putts_without_readings_are_counted_and_conceded_ones_are_not_drawn() {
        let hole = |last| vec![putt(8.0, Some((0.2, 4.2)), PuttResult::Missed), last];
        let picture = drawn(vec![
            hole(putt(5.0, None, PuttResult::Holed)),
            hole(putt(4.0, Some((0.1, 3.0)), PuttResult::Conceded)),
        ]);
        let bands: Vec<_> = picture.strikes.iter().map(|band| (band.to_ft, band.strikes.len())).collect();
        assert_eq!(bands, [(10.0, 2)], "a band without a drawn putt is left out");
        let made: Vec<_> =
            picture.made.iter().map(|made| (made.band.to_ft, made.band.putts, made.band.made, made.mean_ft)).collect();
        assert_eq!(made, [(5.0, 1, 1, 5.0), (10.0, 2, 0, 8.0)]);
        assert_eq!(picture.curve.last().map(|(distance, _)| *distance), Some(10.0));
        let nothing = drawn(vec![]);
        assert!(nothing.curve.is_empty() && nothing.made.is_empty() && nothing.strikes.is_empty());
    }

    proptest! {
        /// Inside the window is where the model of the hole takes a level putt.
        #[test]
        fn inside_is_where_the_hole_takes_the_ball(line in -3.0..3.0f64, speed in 1.0..9.0f64, d in 3.1..20.0f64) {
            let picture = drawn(vec![vec![putt(d, Some((line, speed)), PuttResult::Holed)]]);
            let strike = picture.strikes[0].strikes[0];
            let stimp = Stimp::new(11.0).unwrap();
            // at the very edge the two ways to the same number may differ in the last digit
            prop_assume!(strike.past_ft.abs() > 1e-9 && (strike.past_ft - reach_ft(stimp)).abs() > 1e-9);
            let (line, speed) = (Degrees::new(line).unwrap(), Mph::new(speed).unwrap());
            let level = Inches::new(0.0).unwrap();
            let holed = capture::capture(line, Feet::new(d).unwrap(), speed, stimp, level).holed;
            prop_assert_eq!(strike.place == Place::Inside, holed);
            let level_ft = roll::level_roll_ft(speed.get(), stimp);
            prop_assert!((strike.past_ft - (level_ft - d)).abs() < 1e-9);
        }
    }
}
