//! A member's putts as CSV: a row a putt.

use crate::domain::facts::PuttResult;
use crate::domain::putting::baseline::Baseline;
use crate::domain::putting::gained;
use crate::domain::putting::report::PuttedRound;
use std::fmt::Write as _;

/// The names of the columns.
pub const COLUMNS: &str = "date,event_id,setup_id,stimp_ft,hole,putt,distance_ft,elevation_in,ball_speed_mph,\
                           start_line_deg,played_line_deg,result,strokes_gained";

/// Writes the putts of rounds (RFC 4180); a cell is empty where nothing was recorded, and where a putt has no value.
pub fn putts_csv(rounds: &[PuttedRound], baseline: &Baseline) -> String {
    let mut text = format!("{COLUMNS}\r\n");
    let some = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    for round in rounds {
        let setup = round.setup.map(|setup| setup.to_string()).unwrap_or_default();
        for (hole, number) in round.by_hole.iter().zip(&round.numbers) {
            let putts: Vec<_> = hole.iter().map(|putt| (putt.distance_ft, putt.result)).collect();
            for (n, (putt, gain)) in hole.iter().zip(gained::hole(&putts, baseline)).enumerate() {
                let counts = round.left_out.is_none_or(|left_out| putt.distance_ft > left_out);
                let has_value = counts && (putt.result != PuttResult::Missed || n + 1 < hole.len());
                let _ = write!(
                    text,
                    "{},{},{setup},{},{number},{},{},{},{},{},{},{},{}\r\n",
                    round.date,
                    round.event,
                    round.stimp.get(),
                    n + 1,
                    putt.distance_ft.get(),
                    some(putt.elevation_in.map(|climb| climb.get())),
                    some(putt.ball_speed_mph.map(|speed| speed.get())),
                    some(putt.start_line_deg.map(|line| line.get())),
                    some(putt.played_line_deg.map(|line| line.get())),
                    match putt.result {
                        PuttResult::Holed => "holed",
                        PuttResult::Missed => "missed",
                        PuttResult::Conceded => "conceded",
                    },
                    some(has_value.then(|| gain.to_strokes())),
                );
            }
        }
    }
    text
}
