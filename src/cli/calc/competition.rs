//! One step of a competition each: a ball's score, a side's, skins, quota, eclectic, an absent player's.

use super::handicap::{HANDICAP, MAX_BALLS, MAX_ITEMS, rated_holes};
use super::holes::{Holes, MAX_HOLES, STROKES, for_each_hole, holes_and_total, nets, number, pars, same_holes, scores};
use super::standings::better;
use super::{Arguments, CalcError, Given, Operation};
use crate::domain::competition::absent::StandIn;
use crate::domain::competition::better::Better;
use crate::domain::competition::eclectic;
use crate::domain::competition::formats::Score;
use crate::domain::competition::quota;
use crate::domain::competition::score::HoleScore;
use crate::domain::competition::side::{self, Count};
use crate::domain::competition::skins::{self, Unwon};
use crate::domain::exact::{Exact, to_text, whole};
use crate::domain::scoring::points::PointsTable;
use serde_json::{Map, Value, json};
use std::ops::RangeInclusive;

pub(super) const OPERATIONS: &[Operation] = &[
    Operation { name: "score_holes", summary: "What one ball scores on each hole.", run: score_holes },
    Operation { name: "side_holes", summary: "Best balls of a side on each hole.", run: side_holes },
    Operation { name: "skins", summary: "Skins won hole by hole.", run: skins_op },
    Operation { name: "quota", summary: "Gross points against a quota.", run: quota_op },
    Operation { name: "eclectic", summary: "Best score of each hole over several rounds.", run: eclectic_op },
    Operation { name: "absent", summary: "Net scores that stand in for an absent player.", run: absent },
];

/// Results against par that a table may name.
const TO_PAR: RangeInclusive<i32> = -99..=99;
const POINTS: RangeInclusive<i32> = -1000..=1000;
const MAX_CARDS: usize = 100;
const MAX_ROUNDS: usize = 200;
const BASE: RangeInclusive<i32> = 0..=1000;
/// Strokes over net par on a hole, or over a round.
const OVER_PAR: RangeInclusive<i32> = -1000..=1000;

/// The scores that a hole has by itself; a quota is against a whole card.
const BY_HOLE: &[(&str, Score)] = &[
    ("strokes", Score::Strokes),
    ("points", Score::Points),
    ("par_bogey", Score::ParBogey),
    ("maximum_score", Score::MaximumScore),
];

fn points_table(given: Given<'_>) -> Result<PointsTable, CalcError> {
    let entries = given.numbered(1..=MAX_TABLE, TO_PAR, |given| given.integer(POINTS))?;
    PointsTable::new(&entries).map_err(|error| CalcError::here(error.to_string()))
}

/// One entry for each result of [`TO_PAR`].
const MAX_TABLE: usize = 199;

fn score_holes(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let scores = arguments.required("scores", scores)?;
    let holes = Holes::read(arguments, "playing_handicap")?;
    let is_net = arguments.choice_or("basis", &[("net", true), ("gross", false)], true)?;
    let score = arguments.choice_or("score", BY_HOLE, Score::Strokes)?;
    let table = arguments.optional("table", points_table)?;
    let maxima: Option<Vec<u8>> =
        arguments.optional("maxima", |given| given.list(1..=MAX_HOLES, |given| given.integer(STROKES)))?;
    arguments.finish()?;
    for_each_hole("pars", &holes.pars, scores.len())?;
    if table.is_some() && score != Score::Points {
        return Err(CalcError::at("/table", "must be left out where score is not points"));
    }
    let maxima = match (maxima, score == Score::MaximumScore) {
        (Some(maxima), true) => maxima,
        (None, false) => Vec::new(),
        (Some(_), false) => return Err(CalcError::at("/maxima", "must be left out where score is not maximum_score")),
        (None, true) => return Err(CalcError::at("/maxima", "is required where score is maximum_score")),
    };
    if score == Score::MaximumScore {
        for_each_hole("maxima", &maxima, scores.len())?;
    }
    let holes = if is_net { holes } else { holes.gross() };
    let rule = |hole: usize| match score {
        Score::Strokes => HoleScore::Strokes,
        Score::Points | Score::Quota => HoleScore::Points(table.as_ref()),
        Score::ParBogey => HoleScore::ParBogey,
        Score::MaximumScore => HoleScore::MaximumScore(maxima[hole]),
    };
    let targets = holes.targets()?.zip(&scores).enumerate();
    let found: Vec<Option<i32>> =
        targets.map(|(hole, ((par, received), score))| rule(hole).of(par, received, *score)).collect();
    let total: Option<i32> = found.iter().copied().sum();
    Ok(json!({"holes": found, "total": total}))
}

fn count(given: Given<'_>) -> Result<Count, CalcError> {
    let number = |given: Given<'_>| given.integer(1..=MAX_BALLS);
    Ok(if given.is_object() {
        Count::ByPar(given.numbered(1..=10, 1..=10, number)?)
    } else {
        Count::Always(number(given)?)
    })
}

fn side_holes(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let balls = arguments.list("balls", 1..=MAX_BALLS, |given| nets(given, 1..=MAX_HOLES))?;
    let count = arguments.required("count", count)?;
    let pars = arguments.optional("pars", pars)?;
    let better = better(arguments, Better::Lower)?;
    arguments.finish()?;
    let holes = same_holes("balls", &balls)?;
    if let Some(pars) = &pars {
        for_each_hole("pars", pars, holes)?;
    }
    let counts = match (&count, pars) {
        (Count::Always(count), _) => vec![*count; holes],
        (Count::ByPar(_), None) => return Err(CalcError::at("/pars", "is required where count goes by par")),
        (Count::ByPar(_), Some(pars)) => {
            let of = |par: &u8| {
                count.of(*par).ok_or_else(|| CalcError::at("/count", format!("must have a number for par {par}")))
            };
            pars.iter().map(of).collect::<Result<_, _>>()?
        }
    };
    Ok(holes_and_total(&side::side_holes(&balls, &counts, better)))
}

fn skins_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let cards = arguments.required("cards", |given| given.named(1..=MAX_CARDS, |given| nets(given, 1..=MAX_HOLES)))?;
    let carry = arguments.flag_or("carry", true)?;
    let split_last = arguments.choice_or("last", &[("split", true), ("void", false)], true)?;
    let better = better(arguments, Better::Lower)?;
    arguments.finish()?;
    let holes = cards.first().map_or(0, |(_, card)| card.len());
    for (name, card) in &cards {
        for_each_hole(name, card, holes).map_err(|error| error.under("cards"))?;
    }
    let scores: Vec<&[Option<Exact>]> = cards.iter().map(|(_, card)| card.as_slice()).collect();
    let unwon = if carry { Unwon::Carried { split_last } } else { Unwon::Void };
    let found = skins::skins(&scores, unwon, better);
    let by_hole: Vec<Value> = found
        .holes
        .iter()
        .map(|hole| json!({"winner": hole.winner.map(|card| cards[card].0), "worth": hole.worth}))
        .collect();
    let won: Map<String, Value> =
        cards.iter().zip(&found.skins).map(|((name, _), skins)| ((*name).into(), to_text(*skins).into())).collect();
    Ok(json!({"holes": by_hole, "skins": won, "left": found.left}))
}

fn quota_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let scores = arguments.required("scores", scores)?;
    let pars = arguments.required("pars", pars)?;
    let playing_handicap = arguments.integer("playing_handicap", HANDICAP)?;
    let base = arguments.decimal_or("base", BASE, quota::USUAL_BASE)?;
    let table = arguments.optional("table", points_table)?.unwrap_or_else(quota::usual_points);
    let holes = rated_holes(arguments)?;
    arguments.finish()?;
    for_each_hole("scores", &scores, holes.get())?;
    for_each_hole("pars", &pars, scores.len())?;
    let points = quota::gross_points(&table, &pars, &scores);
    let quota = quota::quota(base, playing_handicap, holes);
    Ok(json!({"points": points, "quota": number(quota), "result": number(whole(points) - quota)}))
}

fn eclectic_op(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let rounds = arguments.list("rounds", 1..=MAX_ROUNDS, |given| nets(given, 1..=MAX_HOLES))?;
    arguments.finish()?;
    same_holes("rounds", &rounds)?;
    Ok(holes_and_total(&eclectic::eclectic(&rounds, Better::Lower)))
}

#[derive(Clone, Copy)]
enum Kind {
    NetParPlus,
    OwnAverage,
    OpponentToPar,
    Forfeit,
}

const KINDS: &[(&str, Kind)] = &[
    ("net_par_plus", Kind::NetParPlus),
    ("own_average", Kind::OwnAverage),
    ("opponent_to_par", Kind::OpponentToPar),
    ("forfeit", Kind::Forfeit),
];

fn absent(arguments: &mut Arguments<'_>) -> Result<Value, CalcError> {
    let kind = arguments.choice("kind", KINDS)?;
    let pars = arguments.required("pars", pars)?;
    let strokes: Vec<i32> = arguments.list("strokes", 1..=MAX_HOLES, |given| given.integer(HANDICAP))?;
    let plus = arguments.decimal_or("plus", OVER_PAR, 0)?;
    let recent = arguments
        .optional("recent", |given| given.list(0..=MAX_ITEMS, |given| given.decimal(OVER_PAR)))?
        .unwrap_or_default();
    arguments.finish()?;
    for_each_hole("strokes", &strokes, pars.len())?;
    let stand_in = match kind {
        Kind::NetParPlus => StandIn::NetParPlus(plus),
        Kind::OwnAverage => StandIn::OwnAverage { recent, otherwise: plus },
        Kind::OpponentToPar => StandIn::OpponentToPar,
        Kind::Forfeit => StandIn::Forfeit,
    };
    Ok(match stand_in.net_holes(&pars) {
        None => json!({"holes": vec![Value::Null; pars.len()], "total": null}),
        Some(holes) => {
            let by_hole: Vec<String> = holes.iter().map(|net| to_text(*net)).collect();
            json!({"holes": by_hole, "total": to_text(holes.iter().sum())})
        }
    })
}
