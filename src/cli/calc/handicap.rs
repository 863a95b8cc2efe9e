//! Round differentials, rounding, the index and course, playing and team strokes.

use super::{Arguments, CalcError, Operation};
use crate::domain::competition::allowance::{Balls, SHARES, usual_allowance};
use crate::domain::competition::formats::{Meeting, Score, SharedBall};
use crate::domain::exact::{Exact, round_tenth, round_whole, to_text, whole};
use crate::domain::handicap::caps::{Cap, Rounding, capped, rounded};
use crate::domain::handicap::playing::{match_strokes, playing_handicap, team_handicap};
use crate::domain::handicap::{course, differential, exceptional, index};
use crate::domain::units::{HoleCount, PlayingConditions, SlopeRating};
use serde_json::{Value, json};
use std::ops::RangeInclusive;

pub(super) const OPERATIONS: &[Operation] = &[
    Operation { name: "differential", summary: "Round differential of an adjusted gross score.", run: differential_op },
    Operation {
        name: "differential_stableford",
        summary: "Round differential over 18 holes of a Stableford total.",
        run: differential_stableford,
    },
    Operation {
        name: "combine_nine",
        summary: "Round differential of an unrounded nine-hole one and a second one.",
        run: combine_nine,
    },
    Operation { name: "round_tenth", summary: "Nearest tenth, a half upwards.", run: round_tenth_op },
    Operation { name: "round_whole", summary: "Nearest whole number, a half upwards.", run: round_whole_op },
    Operation { name: "index", summary: "League index of adjusted differentials.", run: index_op },
    Operation { name: "cap", summary: "Soft and hard cap of an average.", run: cap },
    Operation { name: "exceptional", summary: "Reduction for an exceptional score.", run: exceptional_op },
    Operation { name: "course_handicap", summary: "Course strokes of a league index.", run: course_handicap },
    Operation { name: "playing_handicap", summary: "Playing strokes for a format.", run: playing_handicap_op },
    Operation { name: "team_handicap", summary: "Strokes of a team that plays one ball.", run: team_handicap_op },
    Operation { name: "allowance", summary: "Usual allowance of a competition.", run: allowance },
    Operation { name: "match_strokes", summary: "Everybody's strokes in a match.", run: match_strokes_op },
];

/// Limits of the calculator: wider than any real course or player, and far inside exact arithmetic.
pub(super) const GROSS: RangeInclusive<i32> = 0..=1000;
pub(super) const RATING: RangeInclusive<i32> = 0..=200;
pub(super) const DIFFERENTIAL: RangeInclusive<i32> = -1000..=1000;
pub(super) const HANDICAP: RangeInclusive<i32> = -200..=200;
pub(super) const VALUE: RangeInclusive<i32> = -1_000_000..=1_000_000;
pub(super) const MAX_ITEMS: usize = 1000;
/// The most balls of a side.
pub(super) const MAX_BALLS: usize = 100;
const INDEX: RangeInclusive<i32> = -100..=100;

const HOLES: &[(i32, HoleCount)] = &[(9, HoleCount::Nine), (18, HoleCount::Eighteen)];

pub(super) fn slope(arguments: &mut Arguments<'_>) -> Result<SlopeRating, CalcError> {
    let slope = arguments.integer("slope", SlopeRating::MIN..=SlopeRating::MAX)?;
    SlopeRating::new(slope).map_err(|error| CalcError::at("/slope", error.to_string()))
}

pub(super) fn playing_conditions(arguments: &mut Arguments<'_>) -> Result<PlayingConditions, CalcError> {
    let pcc = arguments.integer_or("pcc", PlayingConditions::MIN..=PlayingConditions::MAX, 0)?;
    PlayingConditions::new(pcc).map_err(|error| CalcError::at("/pcc", error.to_string()))
}

pub(super) fn rated_holes(arguments: &mut Arguments<'_>) -> Result<HoleCount, CalcError> {
    let holes = arguments.integer_or("holes", 9..=18, 18)?;
    let found = HOLES.iter().find(|(count, _)| *count == holes).map(|(_, holes)| *holes);
    found.ok_or_else(|| CalcError::at("/holes", "must be 9 or 18"))
}

fn rounding(arguments: &mut Arguments<'_>) -> Result<Rounding, CalcError> {
    let before = arguments.flag_or("round_before_cap", true)?;
    Ok(if before { Rounding::BeforeCap } else { Rounding::AfterCap })
}

fn to_tenth(unrounded: Exact) -> Value {
    json!({"rounded": round_tenth(unrounded).to_string(), "unrounded": to_text(unrounded)})
}

fn to_whole(unrounded: Exact) -> Value {
    json!({"rounded": round_whole(unrounded), "unrounded": to_text(unrounded)})
}

fn differential_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let gross = arguments.decimal("ags", GROSS)?;
    let rating = arguments.decimal("course_rating", RATING)?;
    let slope = slope(arguments)?;
    let pcc = playing_conditions(arguments)?;
    let holes = rated_holes(arguments)?;
    arguments.finish()?;
    Ok(to_tenth(differential::differential(gross, rating, slope, pcc, holes)))
}

fn differential_stableford(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let points = arguments.integer("points", 0..=200)?;
    let par = arguments.integer("par", RATING)?;
    let course_strokes = arguments.integer("course_handicap", HANDICAP)?;
    let rating = arguments.decimal("course_rating", RATING)?;
    let slope = slope(arguments)?;
    let pcc = playing_conditions(arguments)?;
    arguments.finish()?;
    let gross = differential::gross_of_points(points, par, course_strokes);
    Ok(to_tenth(differential::differential(gross, rating, slope, pcc, HoleCount::Eighteen)))
}

fn combine_nine(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let first = arguments.decimal("nine_differential", DIFFERENTIAL)?;
    let second = arguments.decimal("other", DIFFERENTIAL)?;
    arguments.finish()?;
    Ok(to_tenth(differential::combine_nines(first, second)))
}

fn round_tenth_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let value = arguments.decimal("value", VALUE)?;
    arguments.finish()?;
    Ok(json!({"rounded": round_tenth(value).to_string()}))
}

fn round_whole_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let value = arguments.decimal("value", VALUE)?;
    arguments.finish()?;
    Ok(json!({"rounded": round_whole(value)}))
}

fn index_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let differentials = arguments.list("differentials", 0..=MAX_ITEMS, |given| given.decimal(DIFFERENTIAL))?;
    let low = arguments.optional("low_index", |given| given.decimal(INDEX))?;
    let rounding = rounding(arguments)?;
    arguments.finish()?;
    let Some(average) = index::average(&differentials) else {
        return Ok(json!({"index": null, "used": 0, "adjustment": 0, "cap": "none", "average": null}));
    };
    let (value, cap) = match low {
        None => (rounded(average.adjusted(), rounding), Cap::None),
        Some(low) => capped(average.adjusted(), low, rounding),
    };
    Ok(json!({
        "index": index::issued(value).to_string(),
        "used": average.selection.lowest,
        "adjustment": average.selection.adjustment,
        "cap": cap.name(),
        "average": to_text(average.average),
    }))
}

fn cap(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let average = arguments.decimal("average", DIFFERENTIAL)?;
    let low = arguments.decimal("low_index", INDEX)?;
    let rounding = rounding(arguments)?;
    arguments.finish()?;
    let (value, cap) = capped(average, low, rounding);
    Ok(json!({"index": index::issued(value).to_string(), "cap": cap.name()}))
}

fn exceptional_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let differential = arguments.decimal("differential", DIFFERENTIAL)?;
    let index = arguments.decimal("index", INDEX)?;
    arguments.finish()?;
    Ok(json!({"reduction": exceptional::reduction(differential, index)}))
}

/// What turns an index into course strokes, apart from the slope.
struct Layout {
    rating_less_par: Exact,
    holes: HoleCount,
}

impl Layout {
    fn read(arguments: &mut Arguments<'_>) -> Result<Self, CalcError> {
        let rating = arguments.decimal_or("course_rating", RATING, 0)?;
        let par = arguments.decimal_or("par", RATING, 0)?;
        let holes = rated_holes(arguments)?;
        let subtract_par = arguments.flag_or("subtract_par", true)?;
        Ok(Self { rating_less_par: if subtract_par { rating - par } else { whole(0) }, holes })
    }

    fn course_handicap(&self, index: Exact, slope: SlopeRating) -> Exact {
        match self.holes {
            HoleCount::Eighteen => course::course_handicap(index, slope, self.rating_less_par),
            HoleCount::Nine => course::course_handicap_nine(index, slope, self.rating_less_par),
        }
    }
}

fn course_handicap(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let index = arguments.decimal("index", INDEX)?;
    let slope = slope(arguments)?;
    let layout = Layout::read(arguments)?;
    arguments.finish()?;
    Ok(to_whole(layout.course_handicap(index, slope)))
}

/// Score, balls that count, balls played, meeting.
type OwnBalls = (Score, usize, usize, Meeting);

/// Names of competitions in which everybody plays an own ball.
const FORMATS: &[(&str, OwnBalls)] = &[
    ("stroke", (Score::Strokes, 1, 1, Meeting::Field)),
    ("stableford", (Score::Points, 1, 1, Meeting::Field)),
    ("par_bogey", (Score::ParBogey, 1, 1, Meeting::Field)),
    ("maximum_score", (Score::MaximumScore, 1, 1, Meeting::Field)),
    ("match", (Score::Strokes, 1, 1, Meeting::Match)),
    ("total_of_2_match", (Score::Strokes, 2, 2, Meeting::Match)),
    ("four_ball_stroke", (Score::Strokes, 1, 2, Meeting::Field)),
    ("four_ball_stableford", (Score::Points, 1, 2, Meeting::Field)),
    ("four_ball_par_bogey", (Score::ParBogey, 1, 2, Meeting::Field)),
    ("four_ball_match", (Score::Strokes, 1, 2, Meeting::Match)),
    ("best_1_of_4", (Score::Strokes, 1, 4, Meeting::Field)),
    ("best_2_of_4", (Score::Strokes, 2, 4, Meeting::Field)),
    ("best_3_of_4", (Score::Strokes, 3, 4, Meeting::Field)),
    ("all_4_of_4", (Score::Strokes, 4, 4, Meeting::Field)),
    ("best_1_of_4_par_bogey", (Score::ParBogey, 1, 4, Meeting::Field)),
    ("best_2_of_4_par_bogey", (Score::ParBogey, 2, 4, Meeting::Field)),
    ("best_3_of_4_par_bogey", (Score::ParBogey, 3, 4, Meeting::Field)),
    ("all_4_of_4_par_bogey", (Score::ParBogey, 4, 4, Meeting::Field)),
];

/// Names of competitions in which a team plays one ball, with its players.
const TEAM_FORMATS: &[(&str, (SharedBall, usize))] = &[
    ("foursomes", (SharedBall::Foursomes, 2)),
    ("greensomes", (SharedBall::Greensomes, 2)),
    ("chapman", (SharedBall::Chapman, 2)),
    ("scramble_2", (SharedBall::Scramble, 2)),
    ("scramble_3", (SharedBall::Scramble, 3)),
    ("scramble_4", (SharedBall::Scramble, 4)),
];

fn playing_handicap_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let given = arguments.optional("course_handicap", |given| given.decimal(HANDICAP))?;
    let index = arguments.optional("index", |given| given.decimal(INDEX))?;
    let layout = Layout::read(arguments)?;
    let course_handicap = match (given, index) {
        (Some(given), None) => {
            // Nothing that would change the course strokes given, but the slope is no unknown argument.
            arguments.optional("slope", |given| given.integer(SlopeRating::MIN..=SlopeRating::MAX))?;
            given
        }
        (None, Some(index)) => layout.course_handicap(index, slope(arguments)?),
        (Some(_), Some(_)) => return Err(CalcError::at("/index", "give either index or course_handicap, not both")),
        (None, None) => {
            return Err(CalcError::at("/index", "is required, with slope, where no course_handicap is given"));
        }
    };
    let format = arguments.optional("format", |given| given.choice(FORMATS))?;
    let allowance = arguments.optional("allowance", |given| given.decimal(0..=200))?;
    let round_course_first = arguments.flag_or("round_course_first", false)?;
    let par_difference = arguments.integer_or("par_difference", -20..=20, 0)?;
    arguments.finish()?;
    let course_handicap = if round_course_first { whole(round_whole(course_handicap)) } else { course_handicap };
    let usual = format.and_then(|(score, count, of, meeting)| {
        usual_allowance(score, Balls::Own { count, of }, meeting)?.percentages.first()
    });
    let allowance = allowance.unwrap_or_else(|| whole(*usual.unwrap_or(&100)));
    let unrounded = playing_handicap(course_handicap, allowance);
    Ok(json!({"rounded": round_whole(unrounded) + par_difference, "unrounded": to_text(unrounded)}))
}

fn team_handicap_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let (ball, players) = arguments.choice("format", TEAM_FORMATS)?;
    let course_handicaps = arguments.list("course_handicaps", 2..=4, |given| given.decimal(HANDICAP))?;
    arguments.finish()?;
    let usual = usual_allowance(Score::Strokes, Balls::Shared { ball, players }, Meeting::Field);
    let shares = usual.map(|usual| usual.percentages).unwrap_or_default();
    let unrounded = team_handicap(shares, &course_handicaps);
    Ok(to_whole(unrounded.map_err(|error| CalcError::at("/course_handicaps", error.to_string()))?))
}

fn match_strokes_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let playing_handicaps = arguments.list("playing_handicaps", 1..=MAX_ITEMS, |given| given.integer(HANDICAP))?;
    arguments.finish()?;
    Ok(json!({"strokes": match_strokes(&playing_handicaps)}))
}

/// The kinds of side that the operation `allowance` knows.
#[derive(Clone, Copy)]
enum SideKind {
    Player,
    Best,
    Sum,
    Shared,
}

const SIDES: &[(&str, SideKind)] =
    &[("player", SideKind::Player), ("best", SideKind::Best), ("sum", SideKind::Sum), ("shared", SideKind::Shared)];

fn balls(fields: &mut Arguments<'_>) -> Result<Balls, CalcError> {
    Ok(match fields.choice("kind", SIDES)? {
        SideKind::Player => Balls::Own { count: 1, of: 1 },
        SideKind::Best => {
            let of = fields.integer("of", 1..=MAX_BALLS)?;
            Balls::Own { count: fields.integer("count", 1..=of)?, of }
        }
        SideKind::Sum => {
            let of = fields.integer("of", 1..=MAX_BALLS)?;
            Balls::Own { count: of, of }
        }
        SideKind::Shared => {
            let ball = fields.choice("ball", SharedBall::NAMED)?;
            let given = fields.optional("of", |given| given.integer(1..=MAX_BALLS))?;
            let known: Vec<usize> =
                SHARES.iter().filter(|(shared, _)| *shared == ball).map(|(_, shares)| shares.len()).collect();
            let players = given.or(if let [only] = known[..] { Some(only) } else { None });
            let players = players.filter(|players| known.contains(players)).ok_or_else(|| {
                let numbers: Vec<String> = known.iter().map(usize::to_string).collect();
                CalcError::at("/of", format!("must be one of {}: the players who share this ball", numbers.join(", ")))
            })?;
            Balls::Shared { ball, players }
        }
    })
}

fn allowance(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let score = arguments.choice("score", Score::NAMED)?;
    let balls = arguments.required("side", |given| given.object(balls))?;
    let meeting = arguments.choice("meeting", Meeting::NAMED)?;
    arguments.finish()?;
    let usual = usual_allowance(score, balls, meeting);
    let usual = usual.ok_or_else(|| CalcError::at("/side", "must be a ball with published shares"))?;
    Ok(json!({"percentages": usual.percentages, "source": usual.source.name()}))
}
