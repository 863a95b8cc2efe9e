//! Putting: what putts are worth, how a putt rolls, where to aim it and how often it drops.

use super::{Arguments, CalcError, Given, Operation};
use crate::domain::facts::round::MAX_PUTTS;
use crate::domain::putting::PuttResult;
use crate::domain::putting::baseline::{Baseline, BaselineAt};
use crate::domain::putting::capture;
use crate::domain::putting::gained::{self, GainedError};
use crate::domain::putting::make::{self, Scatter, TOUR_PAST_FT, TOUR_STIMP_FT};
use crate::domain::putting::read::{self, Section};
use crate::domain::putting::roll::{self, GreenChange, RollError};
use crate::domain::units::{
    Degrees, DistanceSpread, Feet, Inches, LineSpread, Mph, OutOfRange, Overrun, SlopePct, Stimp,
};
use serde_json::{Value, json};

pub(super) const OPERATIONS: &[Operation] = &[
    Operation { name: "expected_putts", summary: "Putts that a baseline takes from a distance.", run: expected_putts },
    Operation { name: "gained", summary: "Strokes gained by the putts of one hole.", run: strokes_gained },
    Operation { name: "pace", summary: "Ball speed that a putt needs, and the level putt it plays like.", run: pace },
    Operation { name: "feel", summary: "How far the same stroke rolls on another green speed.", run: feel },
    Operation { name: "capture", summary: "Whether a straight putt falls.", run: captured },
    Operation { name: "window", summary: "How much room a straight putt leaves for pace and line.", run: window },
    Operation { name: "make", summary: "How often a putt drops, from a player's spreads.", run: make_chance },
    Operation { name: "read", summary: "Aim and pace over slopes, in at most 20 sections.", run: line_and_pace },
];

/// How a baseline is fetched: its table is read when it is first asked for.
type Fetch = fn() -> &'static Baseline;

const BASELINES: &[(&str, Fetch)] = &[("tour", Baseline::tour)];
const RESULTS: &[(&str, PuttResult)] =
    &[("holed", PuttResult::Holed), ("missed", PuttResult::Missed), ("conceded", PuttResult::Conceded)];
/// The most sections of a putt here: more than anyone paces off, and few enough that a line stays quick.
const MOST_SECTIONS: usize = 20;
const DEFAULT_PAST_IN: f64 = 12.0;
const INCHES_PER_FOOT: f64 = 12.0;

fn expected_putts(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let at_the_hole = |given: Given<'_>| Ok(given.real(0.0..=Feet::MAX).is_ok_and(|feet| feet == 0.0));
    let is_in = arguments.required("distance_ft", at_the_hole)?;
    let distance = if is_in { None } else { Some(arguments.required("distance_ft", distance)?) };
    let baseline = baseline(arguments)?;
    arguments.finish()?;
    // 0 ft is one putt: the table's first row, which no putt is struck from.
    let in_the_hole = BaselineAt { expected_putts: 1.0, one_putt: 1.0, three_putt: 0.0 };
    Ok(json!(distance.map_or(in_the_hole, |distance| baseline.at(distance))))
}

fn strokes_gained(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let putts = arguments.list("putts", 0..=MAX_PUTTS, |given| {
        given.object(|fields| Ok((fields.required("distance_ft", distance)?, fields.choice("result", RESULTS)?)))
    })?;
    let baseline = baseline(arguments)?;
    arguments.finish()?;
    let gained = gained::finished_hole(&putts, baseline).map_err(|error| {
        let (GainedError::NoPuttAfterMiss { putt } | GainedError::PuttAfterTheHole { putt }) = error;
        CalcError::at("/result", error.to_string()).under(putt - 1).under("putts")
    })?;
    Ok(json!(gained))
}

fn pace(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let distance = arguments.required("distance_ft", distance)?;
    let stimp = arguments.required("stimp_ft", stimp)?;
    let elevation = elevation(arguments)?;
    let past = past(arguments, 0.0)?;
    arguments.finish()?;
    Ok(json!(roll::pace(distance, stimp, elevation, past).map_err(too_steep)?))
}

fn feel(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let distance = arguments.required("distance_ft", distance)?;
    let from = arguments.required("from_stimp_ft", stimp)?;
    let to = arguments.required("to_stimp_ft", stimp)?;
    arguments.finish()?;
    Ok(json!(roll::feel(distance, GreenChange { from, to })))
}

fn captured(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let line = arguments.required("start_line_deg", |given| quantity(given, Degrees::new))?;
    let distance = arguments.required("distance_ft", distance)?;
    let speed = arguments.required("ball_speed_mph", |given| quantity(given, Mph::new))?;
    let stimp = arguments.required("stimp_ft", stimp)?;
    let elevation = elevation(arguments)?;
    arguments.finish()?;
    Ok(json!(capture::capture(line, distance, speed, stimp, elevation)))
}

fn window(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let distance = arguments.required("distance_ft", distance)?;
    let stimp = arguments.required("stimp_ft", stimp)?;
    let elevation = elevation(arguments)?;
    let past = past(arguments, DEFAULT_PAST_IN)?;
    arguments.finish()?;
    Ok(json!(capture::window(distance, stimp, elevation, past).map_err(too_steep)?))
}

fn make_chance(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let distance = arguments.required("distance_ft", distance)?;
    let line = arguments.required("line_sd_deg", |given| quantity(given, LineSpread::new))?;
    let spread = arguments.required("distance_sd_share", |given| quantity(given, DistanceSpread::new))?;
    let stimp = or(arguments, "stimp_ft", Stimp::new, TOUR_STIMP_FT)?;
    let past_ft = arguments.real_or("past_ft", 0.0..=Overrun::MAX / INCHES_PER_FOOT, TOUR_PAST_FT)?;
    let past = Overrun::new(past_ft * INCHES_PER_FOOT).map_err(|error| CalcError::at("/past_ft", must_be(error)))?;
    let bias = or(arguments, "line_bias_deg", Degrees::new, 0.0)?;
    arguments.finish()?;
    Ok(json!(make::make(distance, &Scatter { line, distance: spread, past, bias }, stimp)))
}

fn line_and_pace(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let distance = arguments.required("distance_ft", distance)?;
    let stimp = arguments.required("stimp_ft", stimp)?;
    let sections = arguments.list("sections", 1..=MOST_SECTIONS, |given| given.object(section))?;
    let past = past(arguments, DEFAULT_PAST_IN)?;
    arguments.finish()?;
    let read = read::read(distance, stimp, &sections, past);
    Ok(json!(read.map_err(|error| CalcError::at("/sections", error.to_string()))?))
}

fn section(fields: &mut Arguments<'_>) -> Result<Section, CalcError> {
    Ok(Section {
        length: fields.required("length_ft", distance)?,
        side_slope: fields.required("side_slope_pct", |given| quantity(given, SlopePct::new))?,
        up_slope: fields.required("up_slope_pct", |given| quantity(given, SlopePct::new))?,
    })
}

fn baseline(arguments: &mut Arguments<'_>) -> Result<&'static Baseline, CalcError> {
    Ok(arguments.choice_or("baseline", BASELINES, Baseline::tour as Fetch)?())
}

fn distance(given: Given<'_>) -> Result<Feet, CalcError> {
    quantity(given, Feet::new)
}

fn stimp(given: Given<'_>) -> Result<Stimp, CalcError> {
    quantity(given, Stimp::new)
}

fn elevation(arguments: &mut Arguments<'_>) -> Result<Inches, CalcError> {
    or(arguments, "elevation_in", Inches::new, 0.0)
}

fn past(arguments: &mut Arguments<'_>, otherwise: f64) -> Result<Overrun, CalcError> {
    or(arguments, "past_hole_in", Overrun::new, otherwise)
}

/// Reads a quantity that may be left out.
fn or<T>(
    arguments: &mut Arguments<'_>,
    name: &str,
    new: fn(f64) -> Result<T, OutOfRange>,
    otherwise: f64,
) -> Result<T, CalcError> {
    match arguments.optional(name, |given| quantity(given, new))? {
        Some(value) => Ok(value),
        None => new(otherwise).map_err(|error| CalcError::here(must_be(error)).under(name)),
    }
}

/// Reads a quantity within the range of its type.
fn quantity<T>(given: Given<'_>, new: fn(f64) -> Result<T, OutOfRange>) -> Result<T, CalcError> {
    // What is no number is refused like one: the quantity's own limit says what is wanted.
    let number = given.real(f64::MIN..=f64::MAX).unwrap_or(f64::NAN);
    new(number).map_err(|error| CalcError::here(must_be(error)))
}

fn must_be(error: OutOfRange) -> String {
    format!("must be a number {}", error.limit)
}

fn too_steep(error: RollError) -> CalcError {
    CalcError::at("/elevation_in", error.to_string())
}

#[cfg(test)]
mod tests {
    use crate::cli::calc::answer_line;
    use proptest::prelude::*;
    use serde_json::{Value, json};

    #[test]
    fn refusals_point_at_the_argument_and_name_the_limit() {
        fn check(op: &str, arguments: &str, pointer: &str, detail: &str) {
            let answer = answer_line(format!(r#"{{"op": "{op}", {arguments}}}"#).as_bytes());
            let error = format!(r#""error": {}}}"#, json!({"pointer": pointer, "detail": detail}));
            assert!(answer.json().ends_with(&error), "{} does not end with {error}", answer.json());
        }
        let distance = "must be a number more than 0 and at most 200 ft";
        check("expected_putts", r#""distance_ft": -1"#, "/distance_ft", distance);
        check("expected_putts", r#""distance_ft": "far""#, "/distance_ft", distance);
        check("expected_putts", r#""distance_ft": 8, "baseline": "club""#, "/baseline", "must be one of tour");
        check("expected_putts", r#""distance_ft": 8, "stimp_ft": 9"#, "/stimp_ft", "unknown argument: stimp_ft");
        check(
            "gained",
            r#""putts": [{"distance_ft": 9, "result": "missed"}]"#,
            "/putts/0/result",
            "putt 1 was missed and no putt follows it",
        );
        check(
            "gained",
            r#""putts": [{"distance_ft": 9, "result": "holed"}, {"distance_ft": 9, "result": "holed"}]"#,
            "/putts/0/result",
            "putt 1 ended the hole, yet another putt follows it",
        );
        check(
            "gained",
            r#""putts": [{"distance_ft": 9, "result": "lost"}]"#,
            "/putts/0/result",
            "must be one of holed, missed, conceded",
        );
        let steep = "the fall to the hole is too steep for the ball ever to stop there";
        check("pace", r#""distance_ft": 10, "stimp_ft": 12, "elevation_in": -20"#, "/elevation_in", steep);
        check("window", r#""distance_ft": 10, "stimp_ft": 12, "elevation_in": -20"#, "/elevation_in", steep);
        check("pace", r#""distance_ft": 10, "stimp_ft": 3"#, "/stimp_ft", "must be a number from 4 to 16 ft");
        let spreads = r#""distance_ft": 10, "line_sd_deg": 1, "distance_sd_share": 0.1"#;
        check("make", &format!(r#"{spreads}, "past_ft": 21"#), "/past_ft", "must be a number from 0 to 20");
        let section =
            |length: u8, side: u8| format!(r#"{{"length_ft": {length}, "side_slope_pct": {side}, "up_slope_pct": 0}}"#);
        let read = |sections: &str| format!(r#""distance_ft": 20, "stimp_ft": 10, "sections": [{sections}]"#);
        check("read", &read(&section(19, 1)), "/sections", "the sections are 19 ft long together and the putt 20 ft");
        check(
            "read",
            &read(&vec![section(1, 0); 21].join(",")),
            "/sections",
            "must be an array with a number of elements from 1 to 20",
        );
        check("read", &read(&section(20, 21)), "/sections/0/side_slope_pct", "must be a number from -20 to 20 %");
        check(
            "read",
            &format!(
                r#"{}, "past_hole_in": 0"#,
                read(r#"{"length_ft": 20, "side_slope_pct": 0, "up_slope_pct": -20}"#)
            ),
            "/sections",
            "no line brings the ball to the hole at this pace: the green is too steep for it to arrive so slowly",
        );
    }

    #[test]
    fn what_is_left_out_holds_the_documented_value() {
        fn check(line: &str, defaults: &str) {
            let bare = answer_line(line.as_bytes());
            assert!(bare.is_ok(), "{}", bare.json());
            let full = line.replace('}', &format!(", {defaults}}}"));
            assert_eq!(bare.json(), answer_line(full.as_bytes()).json());
        }
        check(r#"{"op": "expected_putts", "distance_ft": 8}"#, r#""baseline": "tour""#);
        check(r#"{"op": "gained", "putts": []}"#, r#""baseline": "tour""#);
        check(r#"{"op": "pace", "distance_ft": 8, "stimp_ft": 9}"#, r#""elevation_in": 0, "past_hole_in": 0"#);
        check(r#"{"op": "window", "distance_ft": 8, "stimp_ft": 9}"#, r#""elevation_in": 0, "past_hole_in": 12"#);
        check(
            r#"{"op": "make", "distance_ft": 8, "line_sd_deg": 1, "distance_sd_share": 0.1}"#,
            r#""stimp_ft": 11, "past_ft": 1.61, "line_bias_deg": 0"#,
        );
    }

    /// Numbers that break arithmetic, among numbers that are legal.
    fn odd_number() -> impl Strategy<Value = f64> {
        let edges = vec![
            0.0,
            -0.0,
            5e-324,
            1e-310,
            f64::MIN_POSITIVE,
            1e-160,
            1e-30,
            1e-9,
            0.5,
            1.0,
            4.0,
            16.0,
            20.0,
            40.0,
            45.0,
            -45.0,
            200.0,
            200.000_000_1,
            240.0,
            -240.0,
            1e9,
            -1e9,
            1e300,
            f64::MAX,
            f64::MIN,
        ];
        prop_oneof![
            2 => prop::sample::select(edges),
            1 => -45.0..45.0f64,
            3 => 0.0..20.0f64,
            1 => (-320.0..309.0f64).prop_map(|power| 10f64.powf(power)),
        ]
    }

    /// A legal value, four times in five, or an odd one.
    fn mostly(legal: std::ops::Range<f64>) -> impl Strategy<Value = f64> {
        prop_oneof![4 => legal, 1 => odd_number()]
    }

    fn holds_only_finite_numbers(value: &Value) -> bool {
        match value {
            Value::Object(fields) => fields.values().all(holds_only_finite_numbers),
            Value::Array(items) => items.iter().all(holds_only_finite_numbers),
            Value::Number(number) => number.as_f64().is_some_and(f64::is_finite),
            Value::Bool(_) => true,
            Value::Null | Value::String(_) => false,
        }
    }

    fn is_sound(line: &Value) -> Result<(), TestCaseError> {
        let answer: Value = serde_json::from_str(answer_line(line.to_string().as_bytes()).json()).unwrap();
        if answer["ok"] == true {
            prop_assert!(holds_only_finite_numbers(&answer["result"]), "{} gives {}", line, answer);
        } else {
            prop_assert!(answer["error"]["pointer"].as_str().unwrap().starts_with('/'), "{} gives {}", line, answer);
        }
        Ok(())
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(1_000))]

        #[test]
        fn odd_values_get_finite_numbers_or_a_refusal(
            (d, s, t) in (mostly(0.1..60.0), mostly(4.0..16.0), mostly(4.0..16.0)),
            (climb, past, line) in (mostly(-12.0..12.0), mostly(0.0..40.0), mostly(-5.0..5.0)),
            (speed, line_sd, distance_sd) in (mostly(0.5..15.0), mostly(0.0..5.0), mostly(0.0..0.5)),
        ) {
            is_sound(&json!({"op": "expected_putts", "distance_ft": d}))?;
            is_sound(&json!({"op": "gained", "putts": [
                {"distance_ft": d, "result": "missed"}, {"distance_ft": past, "result": "holed"}]}))?;
            for op in ["pace", "window"] {
                is_sound(&json!({"op": op, "distance_ft": d, "stimp_ft": s, "elevation_in": climb,
                    "past_hole_in": past}))?;
            }
            is_sound(&json!({"op": "feel", "distance_ft": d, "from_stimp_ft": s, "to_stimp_ft": t}))?;
            is_sound(&json!({"op": "capture", "start_line_deg": line, "distance_ft": d, "ball_speed_mph": speed,
                "stimp_ft": s, "elevation_in": climb}))?;
            is_sound(&json!({"op": "make", "distance_ft": d, "line_sd_deg": line_sd, "distance_sd_share": distance_sd,
                "stimp_ft": s, "past_ft": past / 2.0, "line_bias_deg": line}))?;
        }

        #[test]
        fn odd_greens_get_a_finite_line_or_a_refusal(
            s in mostly(4.0..16.0), past in mostly(0.0..40.0),
            sections in prop::collection::vec((mostly(0.1..20.0), mostly(-6.0..6.0), mostly(-6.0..6.0)), 0..22),
        ) {
            let d: f64 = sections.iter().map(|(length, ..)| length).sum();
            let sections: Vec<Value> = sections
                .iter()
                .map(|(length, side, up)| json!({"length_ft": length, "side_slope_pct": side, "up_slope_pct": up}))
                .collect();
            is_sound(&json!({"op": "read", "distance_ft": d, "stimp_ft": s, "past_hole_in": past,
                "sections": sections}))?;
        }
    }
}
