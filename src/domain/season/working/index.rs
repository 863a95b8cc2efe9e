//! The steps that make a league index.

use super::steps::Steps;
use crate::exact::{Exact, round_tenth, whole};
use crate::facts::{Decided, HandicapPolicy, Held, PlaysOff};
use crate::handicap::average::{FEWEST, selected};
use crate::handicap::index::{WINDOW, selection};
use crate::season::book::{Book, Night};
use crate::season::figures::Figures;
use crate::season::record::{DifferentialRow, MemberRecord};
use crate::season::working::Given;
use crate::units::Tenths;

const RULE_AVERAGE: &str = "The lowest of the latest 20 differentials count (Rules of Handicapping, Rule 5.2a).";
const RULE_CAPS: &str = "Rounded to a tenth; more than 3 above the low index counts half, more than 5 not at all; 54.0 \
                         at most (Rules of Handicapping, Rules 5.2b, 5.3 and 5.8).";

const RULE_HELD: &str =
    "An organizer froze or capped what is played off. The player's handicap acts say from when and why.";

/// Names of the steps that make an index.
pub(super) struct IndexNames {
    average: &'static str,
    rounded: &'static str,
    index: &'static str,
    round_formula: &'static str,
    capped_formula: &'static str,
    plain_formula: &'static str,
}

const IN_EFFECT: IndexNames = IndexNames {
    average: "average",
    rounded: "rounded_average",
    index: "league_index",
    round_formula: "round_tenth(average)",
    capped_formula: "min(54, round_tenth(min(rounded_average, low_index + 3 + max(0, rounded_average - low_index - 3) \
                     / 2, low_index + 5)))",
    plain_formula: "min(54, rounded_average)",
};

/// As [`IN_EFFECT`], where an organizer capped the index.
const UNCAPPED: IndexNames = IndexNames { index: "uncapped_index", ..IN_EFFECT };

pub(super) const AFTERWARDS: IndexNames = IndexNames {
    average: "average_afterwards",
    rounded: "rounded_average_afterwards",
    index: "league_index_afterwards",
    round_formula: "round_tenth(average_afterwards)",
    capped_formula: "min(54, round_tenth(min(rounded_average_afterwards, low_index + 3 + max(0, \
                     rounded_average_afterwards - low_index - 3) / 2, low_index + 5)))",
    plain_formula: "min(54, rounded_average_afterwards)",
};

/// Adds the steps of the index that a record makes; nothing below three differentials.
pub(super) fn index_of(steps: &mut Steps, record: &MemberRecord, names: &IndexNames) {
    let (Some(latest), Some(selection)) = (record.latest, selection(record.differentials.len())) else { return };
    let window = &record.differentials[record.differentials.len().saturating_sub(WINDOW)..];
    let values: Vec<Tenths> = window.iter().map(|row| row.value).collect();
    let counting = window.iter().filter(|row| row.counts).map(|row| Exact::from(row.value));
    let average = counting.sum::<Exact>() / whole(selection.lowest as i128) + whole(selection.adjustment);
    steps.add(
        names.average,
        RULE_AVERAGE,
        "sum(smallest(differentials, lowest)) / lowest + adjustment",
        vec![
            ("differentials", values.into()),
            ("lowest", Given::Number(whole(selection.lowest as i128))),
            ("adjustment", selection.adjustment.into()),
        ],
        average,
    );
    let rounded = round_tenth(average);
    steps.add(names.rounded, RULE_CAPS, names.round_formula, vec![], rounded);
    match latest.low_used {
        Some(low) => {
            steps.add(names.index, RULE_CAPS, names.capped_formula, vec![("low_index", low.into())], latest.index)
        }
        None => steps.add(names.index, RULE_CAPS, names.plain_formula, vec![], latest.index),
    }
}

pub(super) fn index_in_effect(
    steps: &mut Steps,
    book: &Book,
    night: &Night,
    figures: &Figures,
    earlier: &MemberRecord,
) {
    let kept = night.kept_of(figures.member).is_some();
    if kept {
        let rule = "A final event keeps the index that each player had.";
        let index = figures.handicap.league_index;
        steps.add("league_index", rule, "kept", vec![("kept", index.into())], index);
    } else {
        held_index(steps, book, night, figures, earlier);
    }
    let is_held = !kept && Held::on(&book.decided_of(figures.member), night.date) != Held::default();
    let policy = book.seasons.get(&night.season).map(|season| season.handicap).unwrap_or_default();
    let starting = book.members.get(&figures.member).and_then(|member| member.start_on(night.date));
    // A final event keeps what was played off, whatever the season says since.
    let is_kept_apart = kept && figures.handicap.played_off != figures.handicap.league_index.or(starting);
    if policy != HandicapPolicy::default() || is_kept_apart {
        return by_policy(steps, policy, (kept, is_held), figures, earlier);
    }
    if figures.handicap.league_index.is_some() {
        steps.add(
            "index",
            "The league index by events of earlier dates is in effect.",
            "league_index",
            vec![],
            figures.handicap.league_index,
        );
    } else if let Some(index) = figures.handicap.played_off.filter(|_| is_held) {
        steps.add("index", RULE_HELD, "held_index", vec![("held_index", index.into())], index);
    } else if figures.handicap.played_off.is_some() {
        let rule = "Below three differentials the starting handicap stands in.";
        steps.add("index", rule, "starting_handicap", vec![("starting_handicap", starting.into())], starting);
    } else {
        steps.notes.push("Without any index the player plays off 0, and holes are limited to par + 5.");
    }
}

/// Adds the steps of the index by earlier dates, and what organizers decided about it.
fn held_index(steps: &mut Steps, book: &Book, night: &Night, figures: &Figures, earlier: &MemberRecord) {
    let decided = book.decided_of(figures.member);
    let held = Held::on(&decided, night.date);
    let Some(index) = figures.handicap.league_index else {
        return index_of(steps, earlier, &IN_EFFECT);
    };
    let of_day = decided.iter().rev().find_map(|decided| match *decided {
        Decided::Adjust { value, from } if from == night.date => Some(value),
        _ => None,
    });
    let names = if held.cap.is_some() { &UNCAPPED } else { &IN_EFFECT };
    match (held.frozen_on, of_day) {
        (Some(_), _) => {
            let rule = "An organizer froze the index. The player's handicap acts say from when and why.";
            return steps.add("league_index", rule, "frozen_index", vec![("frozen_index", index.into())], index);
        }
        (None, Some(value)) => {
            let rule = "An organizer adjusted the index from this day on.";
            steps.add(names.index, rule, "adjusted_index", vec![("adjusted_index", value.into())], value);
        }
        (None, None) => index_of(steps, earlier, names),
    }
    if let Some(cap) = held.cap {
        let rule = "An organizer capped the index. The player's handicap acts say from when and why.";
        steps.add("league_index", rule, "min(uncapped_index, index_cap)", vec![("index_cap", cap.into())], index);
    }
}

/// What a season plays off that has a policy of its own.
fn by_policy(
    steps: &mut Steps,
    policy: HandicapPolicy,
    (kept, is_held): (bool, bool),
    figures: &Figures,
    earlier: &MemberRecord,
) {
    let Some(index) = figures.handicap.played_off else {
        steps.notes.push("Without any index the player plays off 0, and holes are limited to par + 5.");
        return;
    };
    match policy.plays_off {
        _ if kept => {
            let rule = "A final event keeps the index that each player played off.";
            steps.add("index", rule, "kept_played_off", vec![("kept_played_off", index.into())], index);
        }
        _ if is_held => steps.add("index", RULE_HELD, "held_index", vec![("held_index", index.into())], index),
        PlaysOff::Average { last, best, pct }
            if policy.frozen_from.is_none() && earlier.differentials.len() >= FEWEST =>
        {
            let given: Vec<Tenths> = earlier.differentials.iter().map(DifferentialRow::given).collect();
            let (latest, best) = selected(&given, last, best);
            let rule = "The season plays off a share of the average of the best of the latest differentials.";
            let values = vec![
                ("latest_differentials", latest.to_vec().into()),
                ("best", Given::Number(whole(best as i128))),
                ("pct", Given::Number(whole(i128::from(pct)))),
            ];
            let formula = "round_tenth(sum(smallest(latest_differentials, best)) / best * pct / 100)";
            steps.add("index", rule, formula, values, index);
        }
        PlaysOff::Computed {} if policy.frozen_from.is_none() && figures.handicap.league_index.is_some() => {
            let rule = "The league index by events of earlier dates is in effect.";
            steps.add("index", rule, "league_index", vec![], index);
        }
        PlaysOff::Declared {} if policy.frozen_from.is_none() => {
            let rule = "The season plays off the handicap that the organizer declared.";
            steps.add("index", rule, "starting_handicap", vec![("starting_handicap", index.into())], index);
        }
        _ if policy.frozen_from.is_some() => {
            let rule = "The season froze what is played off.";
            steps.add("index", rule, "frozen", vec![("frozen", index.into())], index);
        }
        _ => {
            let rule = "Below three differentials the starting handicap stands in.";
            steps.add("index", rule, "starting_handicap", vec![("starting_handicap", index.into())], index);
        }
    }
}
