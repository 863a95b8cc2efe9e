//! Players whose habits are known: the putting report must find them again.

#![expect(clippy::unwrap_used, reason = "a test's own values are in range, or it fails")]

use crate::support::simulated::recovery::recovered;
use crate::support::simulated::{Random, SETUP, players};
use evenfield::domain::facts::PuttResult;
use evenfield::domain::putting::player::PlayerPutting;
use evenfield::domain::putting::struck::Struck;
use evenfield::domain::units::StrokesGained;

/// 300 players make a share of 95 % uncertain by 1.3 points: four times that is allowed. `benches/recovery.rs` tells
/// more closely.
const PLAYERS: u32 = 300;
const ALLOWED_PCT: std::ops::RangeInclusive<f64> = 90.0..=99.4;

fn report(struck: Vec<Struck>, holes: u32) -> PlayerPutting {
    PlayerPutting::of(&struck, holes)
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
    assert_eq!(causes.unknown.lost_per_round, 0.0);
    let lost: i64 = struck.iter().filter(|putt| putt.putt.result == PuttResult::Missed).map(|putt| putt.gain.0).sum();
    let by_cause = [causes.line, causes.pace, causes.both, causes.read];
    let together: f64 = by_cause.iter().map(|cause| cause.lost_per_round).sum();
    // 3e-6: five figures, each rounded to six decimals
    assert!((together + 18.0 * StrokesGained(lost).to_strokes() / f64::from(holes)).abs() < 3e-6);
    assert!(by_cause.iter().all(|cause| cause.low <= cause.lost_per_round && cause.lost_per_round <= cause.high));
    assert_eq!(found.setups.len(), 1);
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
    check("", "start_line pace causes setups");
    let shares = "within_1_deg_pct within_half_deg_inside_5_ft_pct";
    check("/start_line", &format!("putts bias_deg sd_deg sd_low_deg sd_high_deg {shares}"));
    check("/pace", "putts bias_pct sd_pct sd_low_pct sd_high_pct");
    check("/causes", "line pace both read unknown");
    check("/setups/0", "setup_id putts speed_ratio low high");
    check("/causes/both", "lost_per_round low high");
    assert_eq!(json["setups"][0]["setup_id"], SETUP.to_string());
}

#[test]
fn without_angles_there_is_no_line_and_no_cause_is_known() {
    let (mut struck, holes) = season();
    struck.iter_mut().for_each(|putt| putt.putt.start_line_deg = None);
    let found = report(struck, holes);
    let causes = found.causes.unwrap();
    let known = [causes.line, causes.pace, causes.both, causes.read];
    assert!(known.iter().all(|cause| cause.lost_per_round == 0.0));
    assert!(found.start_line.is_none() && found.pace.is_some());
    assert_eq!(found.setups.len(), 1);
}

#[test]
fn without_speeds_there_is_no_pace_and_no_set_up() {
    let (mut struck, holes) = season();
    struck.iter_mut().for_each(|putt| putt.putt.ball_speed_mph = None);
    let found = report(struck, holes);
    assert!(found.start_line.is_some() && found.pace.is_none() && found.setups.is_empty());
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
    assert!(found.causes.is_none() && found.pace.is_some());
}
