//! A round: one member's card in one event, with the putts that were recorded.

use super::fault::{Fault, Rules};
use crate::ids::{ClientRoundId, MemberId, SetupId};
use crate::rule::Rule;
use crate::units::{Degrees, Feet, HoleNumber, Inches, Mph, Strokes};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// The most putts that a hole may have.
pub const MAX_PUTTS: usize = 10;

/// How a round ended.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// The card is whole.
    #[default]
    Complete,
    /// The player did not return a whole card.
    NoReturn,
    /// The player was disqualified.
    Disqualified,
}

impl Outcome {
    /// Returns the word for it.
    pub fn word(self) -> &'static str {
        match self {
            Outcome::Complete => "complete",
            Outcome::NoReturn => "no_return",
            Outcome::Disqualified => "disqualified",
        }
    }
}

/// What became of a putt.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PuttResult {
    /// It fell.
    Holed,
    /// It did not.
    Missed,
    /// It was not played: it counts one stroke under the league's house rule.
    Conceded,
}

impl PuttResult {
    /// Returns the word for it.
    pub fn word(self) -> &'static str {
        match self {
            PuttResult::Holed => "holed",
            PuttResult::Missed => "missed",
            PuttResult::Conceded => "conceded",
        }
    }
}

/// One putt as it was recorded.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Putt {
    /// From the ball to the hole.
    pub distance_ft: Feet,
    /// How much higher the hole lies.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub elevation_in: Option<Inches>,
    /// The speed that the sensor measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ball_speed_mph: Option<Mph>,
    /// The direction that the sensor measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start_line_deg: Option<Degrees>,
    /// The direction that the simulator used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub played_line_deg: Option<Degrees>,
    /// What became of it.
    pub result: PuttResult,
}

/// One hole of a card.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CardHole {
    /// Its number.
    pub number: HoleNumber,
    /// Every stroke, putts and conceded putts included; on a picked-up hole the most likely score.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strokes: Option<Strokes>,
    /// The player did not hole out.
    #[serde(default)]
    pub picked_up: bool,
    /// The hole was never started.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub not_played: bool,
    /// The putts in order; empty where the ball was holed from off the green; absent where nobody recorded them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub putts: Option<Vec<Putt>>,
    /// How many putts there were, where only their number is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub putt_count: Option<u8>,
}

impl CardHole {
    /// Returns how many putts were taken, where that is known; none on a hole that was not played.
    pub fn putts_taken(&self) -> Option<u32> {
        if self.not_played {
            return Some(0);
        }
        self.putts.as_ref().map(|putts| putts.len() as u32).or(self.putt_count.map(u32::from))
    }
}

/// A round as it was handed in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Round {
    /// The id that the sender made once for it.
    pub client_round_id: ClientRoundId,
    /// Whose card it is.
    pub member_id: MemberId,
    /// What it was putted on, where that is known.
    #[serde(default)]
    pub setup_id: Option<SetupId>,
    /// The day on which it was played: information; the event's date decides.
    pub played_on: Date,
    /// How it ended.
    #[serde(default)]
    pub outcome: Outcome,
    /// Its holes.
    pub holes: Vec<CardHole>,
}

impl Round {
    /// Finds every way in which the card does not fit itself, with putts conceded up to `concession_ft`.
    pub fn own_faults(&self, concession_ft: f64) -> Vec<Fault> {
        let mut faults = Vec::new();
        for (h, hole) in self.holes.iter().enumerate() {
            let at = format!("/holes/{h}");
            if self.holes[..h].iter().any(|other| other.number == hole.number) {
                let detail = format!("hole {} is given twice", hole.number.get());
                faults.push(Fault::new(format!("{at}/number"), Rule::HoleRepeated, detail));
            }
            hole_faults(hole, &at, concession_ft, &mut faults);
        }
        faults
    }
}

impl CardHole {
    /// Finds every way in which the hole does not fit itself, whatever may be conceded.
    pub fn own_faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        hole_faults(self, "", f64::INFINITY, &mut faults);
        faults
    }
}

fn hole_faults(hole: &CardHole, at: &str, concession_ft: f64, faults: &mut Vec<Fault>) {
    let mut fault = |place: &str, rule, detail: String| faults.push(Fault::new(format!("{at}{place}"), rule, detail));
    if hole.not_played {
        if hole.picked_up || hole.strokes.is_some() || hole.putts.is_some() || hole.putt_count.is_some() {
            fault("/not_played", Rule::HoleNotPlayed, "a hole that was not played has no strokes and no putts".into());
        }
        return;
    }
    let strokes = hole.strokes.map(|strokes| usize::from(strokes.get()));
    if strokes.is_none() && !hole.picked_up {
        fault(
            "/strokes",
            Rule::StrokesMissing,
            "strokes are missing; leave them out only if the hole was picked up or not played".into(),
        );
    }
    let taken = hole.putts_taken().unwrap_or(0) as usize;
    if hole.putts.is_some() && hole.putt_count.is_some() {
        fault("/putt_count", Rule::PuttCount, "putts are listed or counted, not both".into());
    }
    let conceded = |putt: &&Putt| putt.result == PuttResult::Conceded;
    let struck = taken - hole.putts.iter().flatten().filter(conceded).count();
    match strokes {
        Some(strokes) if hole.picked_up && strokes < struck + 1 => {
            let detail =
                format!("{strokes} strokes are too few for {struck} putts; there must be at least {}", struck + 1);
            fault("/strokes", Rule::PuttsExceedStrokes, detail);
        }
        Some(strokes) if taken > strokes => {
            let place = if hole.putts.is_some() { "/putts" } else { "/putt_count" };
            fault(place, Rule::PuttsExceedStrokes, format!("{taken} putts are more than {strokes} strokes"));
        }
        _ => {}
    }
    let putts = hole.putts.as_deref().unwrap_or_default();
    for (p, putt) in putts.iter().enumerate() {
        let is_last = p + 1 == putts.len();
        let place = format!("/putts/{p}/result");
        match putt.result {
            PuttResult::Missed if is_last && !hole.picked_up => {
                fault(&place, Rule::LastPuttUnholed, "the last putt of a hole must be holed or a gimme".into());
            }
            PuttResult::Holed | PuttResult::Conceded if !is_last => {
                fault(&place, Rule::PuttAfterHoling, "no putt may follow one that was holed or a gimme".into());
            }
            PuttResult::Conceded if !hole.picked_up && putt.distance_ft.get() > concession_ft => {
                let detail = format!(
                    "a putt of {} ft was a gimme; this season allows gimmes up to {concession_ft} ft",
                    putt.distance_ft.get()
                );
                fault(&format!("/putts/{p}/distance_ft"), Rule::ConcessionTooLong, detail);
            }
            _ => {}
        }
    }
}

impl Rules for Round {
    fn broken(&self) -> Vec<Fault> {
        self.own_faults(f64::INFINITY)
    }
}

impl Rules for CardHole {
    fn broken(&self) -> Vec<Fault> {
        self.own_faults()
    }
}
