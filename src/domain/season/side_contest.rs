//! The values and places of a side contest.

use crate::competition::places::{Placed, rank_by};
use crate::exact::{Value, parse, whole};
use crate::facts::course::Layout;
use crate::facts::side_contest::{FromCards, Noted, SideContest};
use crate::facts::{CardHole, Outcome, PuttResult, Round};
use crate::ids::MemberId;
use serde::Serialize;

/// A member in a side contest.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ContestRow {
    /// Equal values share it.
    pub place: usize,
    pub member_id: MemberId,
    pub value: Value,
}

/// Ranks values: equal ones share a place, and the next place counts all before it.
pub fn places(contest: &SideContest, values: &[Noted]) -> Vec<ContestRow> {
    let mut values = values.to_vec();
    values.sort_by_key(|noted| noted.member_id);
    let row = |Placed { item, place }: &Placed| {
        let Noted { member_id, value } = values[*item];
        ContestRow { place: *place, member_id, value }
    };
    rank_by(&values, |a, b| contest.better().compare(&a.value.0, &b.value.0)).iter().map(row).collect()
}

/// A card in a side contest.
pub struct ContestCard<'a> {
    pub round: &'a Round,
    /// The tee that it was played from.
    pub layout: &'a Layout,
    /// Whether a ruling leaves its putts out.
    pub are_putts_out: bool,
    /// The distance in feet up to which its putts do not count as measured.
    pub softened_ft: Option<f64>,
}

/// Reads the value of a card; `None` where it has none.
pub fn value(contest: &SideContest, from: FromCards, card: &ContestCard<'_>) -> Option<Value> {
    if card.round.outcome == Outcome::Disqualified {
        return None;
    }
    let on_holes: Vec<&CardHole> = match contest.hole {
        Some(number) => card.round.holes.iter().filter(|hole| hole.number == number).collect(),
        None => card.round.holes.iter().collect(),
    };
    match from {
        FromCards::Putts => {
            let due = if contest.hole.is_some() { 1 } else { card.layout.holes.len() };
            let is_whole = on_holes.len() == due && on_holes.iter().all(|hole| is_holed_out(hole));
            let putts = on_holes.iter().map(|hole| hole.putts_taken()).sum::<Option<u32>>();
            putts.filter(|_| is_whole).map(|putts| Value(whole(i128::from(putts))))
        }
        FromCards::LongestHoled => {
            let putts = on_holes.iter().flat_map(|hole| hole.putts.iter().flatten());
            let counts = |feet: f64| !card.are_putts_out && card.softened_ft.is_none_or(|softened| feet > softened);
            let holed = putts.filter(|putt| putt.result == PuttResult::Holed).map(|putt| putt.distance_ft.get());
            let longest = holed.filter(|feet| counts(*feet)).max_by(f64::total_cmp)?;
            parse(&format!("{longest:.2}")).ok().map(Value)
        }
        FromCards::UnderPar => {
            let par = |hole: &CardHole| card.layout.holes.iter().find(|known| known.number == hole.number);
            let is_under = |hole: &&&CardHole| {
                let strokes = hole.strokes.filter(|_| is_holed_out(hole)).map(|strokes| strokes.get());
                strokes.zip(par(hole)).is_some_and(|(strokes, known)| strokes < known.par.get())
            };
            let under = on_holes.iter().filter(is_under).count();
            (under > 0).then(|| Value(whole(under as i128)))
        }
    }
}

fn is_holed_out(hole: &CardHole) -> bool {
    !hole.picked_up && !hole.not_played && hole.strokes.is_some()
}
