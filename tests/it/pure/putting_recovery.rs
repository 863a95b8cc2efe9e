//! Players whose habits are known: the putting report must find them again.

#![expect(clippy::unwrap_used, reason = "a test's own values are in range, or it fails")]

use crate::support::simulated::recovery::recovered;
use crate::support::simulated::{Random, SETUP, players};
use evenfield::domain::facts::PuttResult;
use evenfield::domain::ids::MemberId;
use evenfield::domain::putting::baseline::Baseline;
use evenfield::domain::putting::player::PlayerPutting;
use evenfield::domain::putting::report::{PuttedRound, PuttingReport};
use evenfield::domain::putting::struck::Struck;
use evenfield::domain::units::StrokesGained;

/// 300 players make a share of 95 % uncertain by 1.3 points: four times that is allowed. `benches/recovery.rs` tells
/// more closely.
const PLAYERS: u32 = 300;
const ALLOWED_PCT: std::ops::RangeInclusive<f64> = 90.0..=99.4;

fn report(struck: Vec<Struck>, holes: u32) -> PlayerPutting {
    PlayerPutting::of(struck, holes, Baseline::tour(), |_| true)
}

fn season() -> (Vec<Struck>, u32) {
    players()[0].1.play(400, &mut Random(7)).unwrap()
}

#[test]
fn known_habits_lie_inside_their_intervals_95_times_in_100() {
    for (name, player) in players() {
        let found = recovered(&player, PLAYERS, 120, 20).unwrap();
        for (what, pct) in [("line", found.line_pct), ("pace", found.pace_pct), ("ratio", found.ratio_pct)] {
            assert!(ALLOWED_PCT.contains(&pct), "{name}: {what} in {pct} % of {PLAYERS}; {found:?}");
        }
        // 0.0005: what the model's slices and a few times the error of 300 fits leave open
        assert!((found.mean_ratio - 1.0).abs() < 0.0005, "{name}: {found:?}");
        assert!((0.003..0.02).contains(&found.ratio_width), "{name}: {found:?}");
    }
}

#[test]
fn a_report_has_everything_where_the_record_has() {
    let (struck, holes) = season();
    let found = report(struck.clone(), holes);
    let causes = found.causes.unwrap();
    assert_eq!(causes.unknown, 0.0);
    let lost: i64 = struck.iter().filter(|putt| putt.putt.result == PuttResult::Missed).map(|putt| putt.gain.0).sum();
    let together = causes.line + causes.pace + causes.both + causes.read;
    // 3e-6: five figures, each rounded to six decimals
    assert!((together + 18.0 * StrokesGained(lost).to_strokes() / f64::from(holes)).abs() < 3e-6);
    assert_eq!((found.setups.len(), found.practice.len()), (1, 2));
    for practice in &found.practice {
        assert!(practice.low <= practice.strokes_per_round && practice.strokes_per_round <= practice.high);
    }
    assert!(found.practice[0].strokes_per_round >= found.practice[1].strokes_per_round);
    let line = found.start_line.unwrap();
    assert!((line.within_1_deg_pct - 73.0).abs() < 8.0, "{line:?}");
}

#[test]
fn the_fields_are_those_of_the_putting_report() {
    let (struck, holes) = season();
    let json = serde_json::to_value(report(struck, holes)).unwrap();
    let check = |place: &str, expect: &str| {
        let found: Vec<_> = json.pointer(place).unwrap().as_object().unwrap().keys().cloned().collect();
        assert_eq!(found.join(" "), expect, "{place}");
    };
    check("", "start_line pace causes setups practice");
    let shares = "within_1_deg_pct within_half_deg_inside_5_ft_pct";
    check("/start_line", &format!("putts bias_deg sd_deg sd_low_deg sd_high_deg {shares}"));
    check("/pace", "putts bias_pct sd_pct sd_low_pct sd_high_pct");
    check("/causes", "line pace both read unknown");
    check("/setups/0", "setup_id putts speed_ratio low high");
    check("/practice/0", "focus from_ft to_ft strokes_per_round low high");
    assert_eq!(json["setups"][0]["setup_id"], SETUP.to_string());
    assert!(["line", "pace", "read"].contains(&json["practice"][0]["focus"].as_str().unwrap()));
}

#[test]
fn without_angles_there_is_no_line_and_no_cause_is_known() {
    let (mut struck, holes) = season();
    struck.iter_mut().for_each(|putt| putt.putt.start_line_deg = None);
    let found = report(struck, holes);
    let causes = found.causes.unwrap();
    assert_eq!((causes.line, causes.pace, causes.both, causes.read), (0.0, 0.0, 0.0, 0.0));
    assert!(found.start_line.is_none() && found.pace.is_some() && found.practice.is_empty());
    assert_eq!(found.setups.len(), 1);
}

#[test]
fn without_speeds_there_is_no_pace_and_no_set_up() {
    let (mut struck, holes) = season();
    struck.iter_mut().for_each(|putt| putt.putt.ball_speed_mph = None);
    let found = report(struck, holes);
    assert!(found.start_line.is_some() && found.pace.is_none() && found.setups.is_empty());
    assert!(found.practice.is_empty());
}

#[test]
fn without_a_set_up_speeds_are_taken_as_recorded() {
    let (mut struck, holes) = season();
    struck.iter_mut().for_each(|putt| putt.setup = None);
    let found = report(struck, holes);
    assert!(found.setups.is_empty() && found.pace.is_some());
}

#[test]
fn three_putts_say_nothing() {
    let (mut struck, _) = season();
    struck.truncate(3);
    assert_eq!(report(struck, 2), PlayerPutting::default());
    assert_eq!(report(Vec::new(), 0), PlayerPutting::default());
}

#[test]
fn conceded_putts_say_nothing() {
    let (mut struck, holes) = season();
    struck.iter_mut().for_each(|putt| putt.putt.result = PuttResult::Conceded);
    assert_eq!(report(struck, holes), PlayerPutting::default());
}

#[test]
fn putts_that_all_fell_leave_no_ratio_and_no_causes() {
    let (mut struck, holes) = season();
    struck.retain(|putt| putt.putt.result == PuttResult::Holed);
    let found = report(struck, holes);
    assert!(found.causes.is_none() && found.setups.is_empty());
    assert!(found.start_line.is_some() && found.pace.is_some());
}

#[test]
fn no_recorded_hole_means_no_figure_a_round() {
    let (struck, _) = season();
    let found = report(struck, 0);
    assert!(found.causes.is_none() && found.practice.is_empty() && found.pace.is_some());
}

/// A round of all the putts that a player struck on one green.
fn one_round(struck: &[Struck], holes: u32) -> PuttedRound {
    let by_hole = struck.split_inclusive(|putt| putt.putt.result != PuttResult::Missed);
    PuttedRound {
        setup: Some(SETUP),
        stimp: struck[0].stimp,
        holes,
        recorded_holes: holes,
        putts: Some(struck.len() as u32),
        by_hole: by_hole.map(|hole| hole.iter().map(|putt| putt.putt).collect()).collect(),
        left_out: None,
    }
}

/// Whatever a player did: nobody is told to practise a distance at which the chart shows them better than at another, or
/// better than what they are compared with.
#[test]
fn advice_never_contradicts_the_chart_beside_it() {
    let (mut told, mut left_out) = (0, 0);
    for (name, player) in players() {
        for seed in 0..25 {
            let (struck, holes) = player.play(40 + 15 * seed as usize, &mut Random(seed)).unwrap();
            let report = PuttingReport::of(MemberId(uuid::Uuid::nil()), &[one_round(&struck, holes)], Baseline::tour());
            let modelled = PlayerPutting::of(
                struck.iter().map(|putt| Struck { stimp: struck[0].stimp, ..*putt }),
                holes,
                Baseline::tour(),
                |_| true,
            );
            told += report.player.practice.len();
            left_out += modelled.practice.iter().filter(|advice| !report.player.practice.contains(advice)).count();
            for advice in &report.player.practice {
                let own = report.bands.iter().find(|band| band.from_ft == advice.from_ft).unwrap();
                for other in report.bands.iter().filter(|band| band.putts > 0) {
                    let is_better = own.strokes_gained > other.strokes_gained;
                    assert!(!is_better, "{name}, seed {seed}: {advice:?} beside {own:?} and {other:?}");
                }
                let above = own.low.unwrap_or(own.strokes_gained) > 0.0;
                assert!(!above, "{name}, seed {seed}: {advice:?} beside {own:?}");
            }
        }
    }
    assert!(told > 10 && left_out > 10, "{told} told and {left_out} left out: both were met");
}
