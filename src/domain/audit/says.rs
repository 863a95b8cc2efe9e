//! What a finding says: what was seen, with counts; its odds; the honest explanation that comes closest and what would
//! settle it; a picture; its size. Plain sentences for people, who judge.

use super::evidence::{Evidence, State};
use super::geometry::reach_ft;
use super::readings::{PuttReading, RoundReadings, Zeros};
use super::repeated_round::longest_run;
use super::size::{Size, replay};
use super::skills::Skills;
use super::switched::Switched;
use super::{Kind, Sizing, holed_off_line, narrow_short_line, sensor_misread};
use jiff::civil::Date;
use serde::Serialize;

/// What a finding says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Said {
    /// What was seen, with counts.
    pub summary: String,
    /// The odds, what they are not, the budget, the closest honest explanation, what would settle it, and the size: a
    /// sentence or two each.
    pub reasons: Vec<String>,
    /// The nights on which the unfair cause was rather on than off; `None` for kinds whose causes don't switch.
    pub nights: Option<Vec<Date>>,
    /// What to draw.
    pub picture: Picture,
    /// What the effect is worth, on those nights where there are such; `None` where putts cannot be replayed.
    pub size: Option<Size>,
}

/// What to draw.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Picture {
    /// Putts made by distance, against what the same players' longer putts show and what the rest of the field holes.
    MadeByDistance(Vec<MadeBand>),
    /// Measured and played line of each putt, in degrees, and its distance in feet.
    Lines(Vec<(f64, f64, f64)>),
    /// Parts of wholes.
    Counts(Vec<Count>),
}

impl Picture {
    /// Sets what the rest of a field holed beside the bands of distance, where the picture has such.
    pub fn beside(&mut self, others: impl Fn(&MadeBand) -> Option<f64>) {
        if let Picture::MadeByDistance(bands) = self {
            bands.iter_mut().for_each(|band| band.others = others(band));
        }
    }
}

/// A band of distance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MadeBand {
    /// From this distance, itself excluded.
    pub from_ft: f64,
    /// To this one, itself included.
    pub to_ft: f64,
    /// Putts struck.
    pub putts: u32,
    /// Putts made.
    pub made: u32,
    /// Putts that the players' longer ones lead one to expect.
    pub expected: f64,
    /// The share that everybody else in the season made; `None` where too few others putted to be a field.
    pub others: Option<f64>,
}

/// A part of a whole.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Count {
    /// Of what.
    pub label: &'static str,
    /// How many.
    pub part: u32,
    /// Of how many.
    pub of: u32,
}

/// The bands of the picture, in feet.
const BANDS_FT: [f64; 8] = [0.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 60.0];
/// A start this far off line is worth counting, in degrees.
const OFF_LINE_DEG: f64 = 1.0;
/// A line that small says nothing about a share of it, in degrees.
const SMALL_LINE_DEG: f64 = 0.5;
/// The error of read and sensor that the counted putts are expected with, in degrees (as the size is).
const ERROR_DEG: f64 = 0.55;
/// The radius that sentences use where a kind has none of its own, in feet.
const USUAL_RADIUS_FT: f64 = 20.0;

/// Says a finding. `players` are the subject's rounds, a slice for each player in the order received; `rows` as for
/// [`evidence`](super::evidence()).
pub(super) fn says(
    kind: &Kind,
    evidence: &Evidence,
    false_alarm_pct: f64,
    rows: &[&State],
    players: &[&[RoundReadings]],
    switched: Option<&Switched>,
) -> Said {
    let cause = kind.strongest(rows);
    let radius_ft = cause.map_or(USUAL_RADIUS_FT, |cause| cause.radius_ft);
    let sized = switched.and_then(Switched::players).unwrap_or_else(|| players.to_vec());
    let (size, replayed) = match kind.size {
        Sizing::InRadius => (replay(&sized, radius_ft), format!("putts inside {radius_ft:.0} ft")),
        Sizing::Fell(size) => (size(rows, players), "putts that fell with a recorded speed".to_owned()),
        Sizing::Untold(_) => (None, String::new()),
    };
    let (summary, picture) = (kind.tell)(&Seen { players, radius_ft }, rows);
    let mut reasons = vec![
        odds(kind, evidence.log10),
        format!(
            "False alarms: of 100 seasons in which everybody is honest, at most {false_alarm_pct} show any finding at \
             all."
        ),
        format!("The closest honest explanation: {}.", kind.nearest(rows)),
        format!("What would decide it: {}.", kind.settles),
    ];
    if kind.is_notice {
        reasons[1] = "This is a notice to check the simulator. Nobody is asked to explain anything.".to_owned();
    }
    reasons.extend(switched.and_then(Switched::said));
    if let Some(size) = size {
        reasons.push(format!(
            "Effect: about {} strokes per round (could be {} to {}), from replaying {} {replayed}.",
            signed(size.strokes_per_round),
            signed(size.low),
            signed(size.high),
            size.putts
        ));
    } else if let Sizing::Untold(why) = kind.size {
        reasons.push(format!("The effect in strokes cannot be computed: {why}."));
    }
    let nights = switched.map(|switched| switched.on().collect());
    Said { summary, reasons, nights, picture, size }
}

/// Writes strokes with their sign.
fn signed(strokes: f64) -> String {
    let text = format!("{strokes:+.1}");
    if text.ends_with("0.0") { "0.0".to_owned() } else { text.replace('-', "\u{2212}") }
}

/// Returns the odds as odds, and what they are not.
fn odds(kind: &Kind, log10: f64) -> String {
    format!(
        "These records are {} likelier if {} {}. That is not the chance that anyone did something wrong.",
        times(log10),
        kind.unfair,
        kind.than
    )
}

/// Returns a factor in words, with one digit that counts.
fn times(log10: f64) -> String {
    if log10 >= 9.0 {
        return "more than a billion times".to_owned();
    }
    if log10 < 0.3 {
        return "no".to_owned();
    }
    let unit = 10f64.powf(log10.floor());
    let rounded = ((10f64.powf(log10) / unit).round() * unit) as u64;
    let digits = rounded.to_string();
    let mut text = String::new();
    for (n, digit) in digits.chars().enumerate() {
        if n > 0 && (digits.len() - n).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    format!("about {text} times")
}

/// The records that a finding rests on.
pub(super) struct Seen<'a> {
    players: &'a [&'a [RoundReadings]],
    radius_ft: f64,
}

impl Seen<'_> {
    fn rounds(&self) -> impl Iterator<Item = &RoundReadings> {
        self.players.iter().flat_map(|rounds| rounds.iter())
    }

    fn putts(&self) -> impl Iterator<Item = (&PuttReading, &RoundReadings)> {
        self.rounds().flat_map(|round| round.undeclared().map(move |putt| (putt, round)))
    }

    fn is_near(&self, putt: &PuttReading) -> bool {
        putt.distance_ft <= self.radius_ft
    }

    pub(super) fn both_lines(&self) -> (String, Picture) {
        let mut counts = [[0u32; 2]; 2];
        let mut points = Vec::new();
        for (putt, _) in self.putts() {
            let Some((measured, played)) = putt.start_line_deg.zip(putt.played_line_deg) else { continue };
            points.push((measured, played, putt.distance_ft));
            if measured.abs() >= SMALL_LINE_DEG {
                let [all, halved] = &mut counts[usize::from(!self.is_near(putt))];
                *all += 1;
                *halved += u32::from((played / measured).abs() < 0.75);
            }
        }
        let [[near, near_less], [far, far_less]] = counts;
        let text = format!(
            "Of {near} putts inside {:.0} ft that the sensor measured half a degree or more off line, {near_less} were \
             played on less than three quarters of that; of {far} longer ones, {far_less}.",
            self.radius_ft
        );
        (text, Picture::Lines(points))
    }

    pub(super) fn spreads(&self) -> String {
        let spread = |is_near: bool| {
            let lines = self.rounds().flat_map(narrow_short_line::lines);
            let lines = lines.filter(|(putt, ..)| self.is_near(putt) == is_near);
            let lines: Vec<f64> = lines.map(|(_, line, _)| line).collect();
            let square: f64 = lines.iter().map(|line| line * line).sum();
            (lines.len(), (square / (lines.len().max(1) as f64)).sqrt())
        };
        let ((near, near_deg), (far, far_deg)) = (spread(true), spread(false));
        format!(
            "Inside {:.0} ft the lines of {near} putts spread by {near_deg:.2}°; those of {far} longer ones by \
             {far_deg:.2}°.",
            self.radius_ft
        )
    }

    pub(super) fn off_line(&self) -> String {
        let (mut putts, mut fell, mut expected) = (0, 0, 0.0);
        for (putt, round) in self.putts().filter(|(putt, _)| self.is_near(putt)) {
            if let Some(line) = putt.start_line_deg.filter(|line| line.abs() > OFF_LINE_DEG) {
                putts += 1;
                fell += u32::from(putt.is_holed);
                expected += holed_off_line::chance(putt, line, round.stimp, ERROR_DEG);
            }
        }
        format!(
            "Of {putts} putts inside {:.0} ft that started more than 1° off line, {fell} fell; a ball and a hole allow \
             about {expected:.0}.",
            self.radius_ft
        )
    }

    pub(super) fn results(&self) -> String {
        let count = |is_near: bool| {
            let putts = self.putts().filter(|(putt, _)| self.is_near(putt) == is_near);
            putts.fold((0, 0), |(all, fell), (putt, _)| (all + 1, fell + u32::from(putt.is_holed)))
        };
        let ((near, near_fell), (far, far_fell)) = (count(true), count(false));
        let expected: f64 = self.bands().iter().filter(|band| band.to_ft <= self.radius_ft).map(|b| b.expected).sum();
        format!(
            "Inside {:.0} ft {near_fell} of {near} putts fell. Of {far} longer ones {far_fell} did, which leads one to \
             expect about {expected:.0} of the short ones.",
            self.radius_ft
        )
    }

    pub(super) fn made(&self) -> Picture {
        Picture::MadeByDistance(self.bands())
    }

    fn bands(&self) -> Vec<MadeBand> {
        // a band ends at the radius, so that what is inside it can be added up
        let mut edges: Vec<f64> = BANDS_FT.into_iter().chain([self.radius_ft]).collect();
        edges.sort_by(f64::total_cmp);
        edges.dedup();
        let band = |ends: &[f64]| MadeBand {
            from_ft: ends[0],
            to_ft: ends[1],
            putts: 0,
            made: 0,
            expected: 0.0,
            others: None,
        };
        let mut bands: Vec<MadeBand> = edges.windows(2).map(band).collect();
        for player in self.players {
            let putts = || player.iter().flat_map(RoundReadings::undeclared);
            let skill = Skills::shown_by(putts().filter(|putt| !self.is_near(putt))).quantile(0.5);
            for putt in putts() {
                let at = edges[1..].iter().position(|edge| putt.distance_ft <= *edge);
                if let Some(band) = at.and_then(|at| bands.get_mut(at)) {
                    band.putts += 1;
                    band.made += u32::from(putt.is_holed);
                    band.expected += Skills::chance(skill, putt.distance_ft);
                }
            }
        }
        bands
    }

    pub(super) fn speeds(&self) -> (String, Picture) {
        // the worst calibration that a sensor may have either way, as a share of the roll
        const MOST_ROLL: f64 = 1.0 / (0.85 * 0.85);
        const LEAST_ROLL: f64 = 1.0 / (1.15 * 1.15);
        let (mut all, mut short, mut fast) = (0, 0, 0);
        for (putt, round) in self.putts().filter(|(putt, _)| putt.is_holed && putt.distance_ft >= 2.0) {
            let Some(roll) = putt.level_roll_ft else { continue };
            all += 1;
            short += u32::from(roll * MOST_ROLL < putt.plays_like_ft);
            fast += u32::from(roll * LEAST_ROLL > putt.plays_like_ft + reach_ft(round.stimp));
        }
        let text = format!(
            "Of {all} putts that fell with a recorded speed, {short} were too slow to arrive and {fast} too fast to \
             fall, even if the sensor is 15 % off."
        );
        let counts = vec![
            Count { label: "fell, too slow to arrive", part: short, of: all },
            Count { label: "fell, too fast to fall", part: fast, of: all },
        ];
        (text, Picture::Counts(counts))
    }

    pub(super) fn cards(&self) -> (String, Picture) {
        let mut counts = ["par or better", "bogey", "worse"].map(|label| Count { label, part: 0, of: 0 });
        for round in self.rounds() {
            let recorded = round.holes.iter().filter(|hole| hole.is_recorded).count();
            if recorded > 0 && recorded < round.holes.len() {
                for hole in &round.holes {
                    let count = &mut counts[hole.to_par.clamp(0, 2) as usize];
                    count.of += 1;
                    count.part += u32::from(hole.is_recorded);
                }
            }
        }
        let [par, bogey, worse] = &counts;
        let text = format!(
            "Putts were recorded on {} of {} holes at par or better, on {} of {} bogeys and on {} of {} worse holes.",
            par.part, par.of, bogey.part, bogey.of, worse.part, worse.of
        );
        (text, Picture::Counts(counts.to_vec()))
    }

    pub(super) fn copies(&self, rows: &[&State]) -> (String, Picture) {
        let Some(run) = longest_run(rows) else {
            return ("No two rounds share a putt.".to_owned(), Picture::Counts(vec![]));
        };
        let text = format!(
            "{} putts in a row have the same distance, speed and line in two rounds (received as number {} and {}).",
            run.putts, run.rounds.0, run.rounds.1
        );
        let of =
            self.rounds().filter(|round| round.received == run.rounds.1).map(|round| round.putts.len() as u32).sum();
        (text, Picture::Counts(vec![Count { label: "putts in a row alike", part: run.putts as u32, of }]))
    }

    pub(super) fn misreads(&self) -> (String, Picture) {
        let mut counts =
            ["wrong inside 10 ft", "wrong from farther away", "no line inside 10 ft", "no line from farther away"]
                .map(|label| Count { label, part: 0, of: 0 });
        for (putt, _) in self.putts() {
            let far = usize::from(putt.distance_ft > 10.0);
            if let Some(is_wrong) = sensor_misread::is_wrong(putt) {
                counts[far].of += 1;
                counts[far].part += u32::from(is_wrong);
            }
            counts[2 + far].of += 1;
            counts[2 + far].part += u32::from(putt.start_line_deg.is_none());
        }
        let [near, far, no_near, no_far] = &counts;
        let mut zeros = Zeros::default();
        for round in self.rounds() {
            let Zeros { near, far } = sensor_misread::zeros(round);
            for (sum, count) in [(&mut zeros.near, near), (&mut zeros.far, far)] {
                *sum = [sum[0] + count[0], sum[1] + count[1]];
            }
        }
        let mut text = format!(
            "Of {} readings inside 10 ft {} cannot be, of {} from farther away {}; {} of {} putts inside 10 ft have no \
             line, and {} of {} longer ones.",
            near.of, near.part, far.of, far.part, no_near.part, no_near.of, no_far.part, no_far.of
        );
        if zeros.are_missing() {
            let Zeros { near, far } = zeros;
            text.push_str(&format!(
                " {} of {} lines inside 10 ft are exactly 0, and {} of {} beyond 20 ft: a sensor that writes 0 where it \
                 saw nothing.",
                near[0], near[1], far[0], far[1]
            ));
        }
        (text, Picture::Counts(counts.to_vec()))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{KINDS, Subject, evidence, simulated};
    use super::*;

    #[test]
    fn odds_are_said_with_one_digit_that_counts() {
        for (log10, text) in [
            (4.78, "about 60,000 times"),
            (2.0, "about 100 times"),
            (6.54, "about 3,000,000 times"),
            (12.0, "more than a billion times"),
            (0.0, "no"),
        ] {
            assert_eq!(times(log10), text);
        }
    }

    fn putt(distance_ft: f64, line: f64, is_holed: bool) -> PuttReading {
        PuttReading {
            level_roll_ft: Some(distance_ft + 1.5),
            ball_speed_mph: Some(5.0),
            start_line_deg: Some(line),
            played_line_deg: Some(0.1 * line),
            is_holed,
            leave_ft: (!is_holed).then_some(2.0),
            ..simulated::putt(distance_ft)
        }
    }

    /// Forty putts of 8 ft that start 2° off line and fall, and twenty of 30 ft that start 1° off and miss.
    fn round() -> RoundReadings {
        let near = (0..40).map(|n| putt(8.0, if n % 2 == 0 { 2.0 } else { -2.0 }, true));
        let far = (0..20).map(|n| PuttReading { played_line_deg: Some(1.0), ..putt(30.0 + f64::from(n), 1.0, false) });
        simulated::round(near.chain(far).collect())
    }

    fn said(name: &str, round: &RoundReadings) -> Said {
        let kind = super::super::kind(name).unwrap();
        let mut state = State::default();
        state.add(kind, round);
        let found = evidence(kind, Subject::Player, &[&state]);
        says(kind, &found, 5.0, &[&state], &[std::slice::from_ref(round)], None)
    }

    #[test]
    fn every_kind_speaks_plainly_of_every_record() {
        let bare = RoundReadings { putts: vec![], ..round() };
        for kind in KINDS {
            for round in [&round(), &bare] {
                let said = said(kind.name, round);
                let text = format!("{} {}", said.summary, said.reasons.join(" ")).to_lowercase();
                for word in ["cheat", "guilt", "nan", "inf ", "accus", "suspect"] {
                    assert!(!text.contains(word), "{}: {text}", kind.name);
                }
                assert!(text.contains("not the chance"), "{}: {text}", kind.name);
            }
        }
    }

    #[test]
    fn putts_that_fall_off_line_are_counted_against_what_a_hole_allows() {
        let said = said("holed_off_line", &round());
        let expect =
            "Of 40 putts inside 12 ft that started more than 1° off line, 40 fell; a ball and a hole allow about";
        assert!(said.summary.starts_with(expect), "{}", said.summary);
        let size = said.size.unwrap();
        assert_eq!((size.putts, size.holed), (40, 40));
        // at 8 ft the hole is 1.27° wide at most: 2° off falls only by an error of three quarters of a degree
        assert!(size.expected < 8.0, "{size:?}");
        assert!(size.low < size.strokes_per_round && size.strokes_per_round < size.high && size.low > 25.0, "{size:?}");
    }

    #[test]
    fn putts_that_fell_without_arriving_are_sized_and_what_cannot_be_says_why() {
        // forty putts of 8 ft that roll 5 ft on the level, even with a sensor that reads 15 % low at most 6.9 ft
        let roll = |feet: f64, is_holed: bool| PuttReading { level_roll_ft: Some(feet), ..putt(8.0, 0.0, is_holed) };
        let slow = (0..40).map(|_| roll(5.0, true)).chain((0..20).map(|_| roll(9.5, false)));
        let size = said("unreachable_pace", &simulated::round(slow.collect())).size.unwrap();
        assert_eq!((size.putts, size.holed), (40, 40));
        // a miss from 8 ft costs 0.990 + 0.0676 · 8 = 1.53 ft, a little over one putt
        assert!(size.low > 25.0 && size.low < size.strokes_per_round && size.high < 42.0, "{size:?}");
        let fair = (0..40).map(|_| roll(9.5, true)).chain((0..20).map(|_| roll(9.5, false)));
        let size = said("unreachable_pace", &simulated::round(fair.collect())).size.unwrap();
        assert!(size.low < 0.0 && size.strokes_per_round < 5.0, "{size:?}");
        for name in ["chosen_records", "repeated_round", "sensor_misread"] {
            let said = said(name, &round());
            assert!(
                said.size.is_none() && said.reasons[4].starts_with("The effect in strokes cannot be computed: "),
                "{name}"
            );
        }
    }

    #[test]
    fn both_lines_are_counted_near_and_far() {
        let said = said("softened_line", &round());
        assert!(said.summary.contains("Of 40 putts inside"), "{}", said.summary);
        assert!(said.summary.ends_with("of 20 longer ones, 0."), "{}", said.summary);
        assert!(matches!(said.picture, Picture::Lines(points) if points.len() == 60));
    }

    #[test]
    fn without_lines_the_size_comes_from_the_skill_of_the_long_putts() {
        let mut bare = round();
        for putt in &mut bare.putts {
            (putt.start_line_deg, putt.played_line_deg) = (None, None);
        }
        let size = said("short_range_excess", &bare).size.unwrap();
        assert!(size.strokes_per_round > 0.0 && size.expected > 10.0 && size.expected < 40.0, "{size:?}");
    }
}
