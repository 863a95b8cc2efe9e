//! One player's card on one night: the way to the green, then the putts.

use super::calendar::{CONCESSION_FT, Night};
use super::chance::Chance;
use super::people::{Person, Recording};
use super::putt::{Measuring, hole_out};
use crate::domain::facts::{CardHole, Hole, Putt};
use crate::domain::units::{Par, Strokes};

/// On the way to a green this many shots may each cost a stroke.
const SLIPS: u32 = 5;
/// The most strokes that a lost hole adds to that.
const MOST_LOST: usize = 3;

/// Plays a card: every hole is holed out.
pub fn play(chance: &mut Chance, person: &Person, night: &Night, measuring: &Measuring) -> Vec<CardHole> {
    let way = Way::of(chance, person, night);
    let layout = night.layout(person.flight());
    layout.holes.iter().map(|hole| play_hole(chance, person, night, measuring, &way, hole)).collect()
}

/// Leaves the holes from the thirteenth of a card on unplayed.
pub fn walk_off(holes: &mut [CardHole]) {
    for hole in holes.iter_mut().skip(12) {
        *hole = CardHole {
            number: hole.number,
            strokes: None,
            picked_up: false,
            not_played: true,
            putts: None,
            putt_count: None,
        };
    }
}

/// How somebody gets to the greens of one round.
struct Way {
    /// Mean of the strokes beyond the usual way on a hole of middling difficulty.
    extra: f64,
    /// How much the hardest hole adds to that and the easiest takes away.
    spread: f64,
    /// The highest stroke index of the holes.
    ranks: f64,
}

impl Way {
    /// Works out the mean from the skill, so that the better half of the rounds come out at the index.
    ///
    /// # Formula
    /// ```text
    /// over par  = skill · slope / 113 + rating - par + 4.4 + 0.02 skill + form     for 18 holes
    /// extra     = over par / holes + 2 - putts a hole
    /// putts a hole = 1.615 + 0.0083 putting skill      form ~ N(0, 1.2 + 0.03 skill)
    /// ```
    /// evenfield estimate: an index rests on the best 8 of 20 differentials, which lie about that much below the mean.
    fn of(chance: &mut Chance, person: &Person, night: &Night) -> Self {
        let layout = night.layout(person.flight());
        let holes = layout.holes.len() as f64;
        let part = holes / 18.0;
        let slope = f64::from(layout.slope_rating.get()) / 113.0;
        let rating = f64::from(layout.course_rating.0) / 10.0 - f64::from(layout.par());
        let form = (1.2 + 0.03 * person.skill) * chance.normal();
        let over_par = rating + (person.skill * slope + 4.4 + 0.02 * person.skill + form) * part;
        let putts = 1.615 + 0.0083 * person.putting_skill;
        let ranks = layout.stroke_indexes().into_iter().max().map_or(1.0, f64::from);
        Self { extra: over_par / holes + 2.0 - putts, spread: 0.25 + 0.01 * person.skill.max(0.0), ranks }
    }

    /// Draws the strokes beyond the usual way to a green: `par - 2` strokes.
    fn draw(&self, chance: &mut Chance, hole: &Hole, skill: f64) -> i32 {
        let rank = f64::from(hole.stroke_index.get()) - 0.5;
        let difficulty = self.spread * (1.0 - 2.0 * rank / self.ranks);
        let reach = if hole.par.get() >= 5 { (0.30 - 0.012 * skill).clamp(0.0, 0.35) } else { 0.0 };
        if chance.happens(reach) {
            return -1;
        }
        // good and bad days on one hole spread wider than independent slips alone
        let mean = (self.extra + difficulty + reach).max(0.06) * (0.35 * chance.normal() - 0.061).exp();
        let slips = (0..SLIPS).filter(|_| chance.happens((mean / f64::from(SLIPS)).min(0.9))).count();
        let is_lost = slips > 0 && chance.happens(0.003 * skill.max(0.0));
        let lost = if is_lost { 1 + chance.below(MOST_LOST) } else { 0 };
        (slips + lost) as i32
    }
}

fn play_hole(
    chance: &mut Chance,
    person: &Person,
    night: &Night,
    measuring: &Measuring,
    way: &Way,
    hole: &Hole,
) -> CardHole {
    let extra = way.draw(chance, hole, person.skill);
    let to_green = usual_way(hole.par) + extra;
    let is_chip = extra > 0;
    let putts = if is_chip && chance.happens(0.02) {
        Vec::new()
    } else {
        let first_ft = first_putt_ft(chance, person.skill.max(0.0), is_chip);
        hole_out(chance, &person.putter, measuring, night.event.stimp_ft, first_ft, CONCESSION_FT)
    };
    let strokes = i64::from(to_green) + putts.len() as i64;
    let over_par = strokes - i64::from(hole.par.get());
    let (putts, putt_count) = recorded(chance, person.recording, putts, over_par);
    CardHole {
        number: hole.number,
        strokes: Some(Strokes::new(strokes).expect("at most 4 + 5 + 3 strokes and 8 putts")),
        picked_up: false,
        not_played: false,
        putts,
        putt_count,
    }
}

/// Returns the strokes in which a green is usually reached.
fn usual_way(par: Par) -> i32 {
    i32::from(par.get()) - 2
}

/// Draws how far from the hole the first putt lies.
///
/// evenfield estimate: log-normal, its median 20 ft and more after an approach, 6 ft and more after a chip.
fn first_putt_ft(chance: &mut Chance, skill: f64, is_chip: bool) -> f64 {
    let (median, spread) = if is_chip { (6.0 + 0.20 * skill, 0.65) } else { (20.0 + 0.25 * skill, 0.55) };
    let distance: f64 = median * (spread * chance.normal()).exp();
    distance.clamp(0.4, 85.0)
}

fn recorded(
    chance: &mut Chance,
    recording: Recording,
    putts: Vec<Putt>,
    over_par: i64,
) -> (Option<Vec<Putt>>, Option<u8>) {
    match recording {
        Recording::Chosen => {
            let share = match over_par {
                ..=0 => 0.95,
                1 => 0.7,
                _ => 0.3,
            };
            if chance.happens(share) { (Some(putts), None) } else { (None, None) }
        }
        Recording::CountOnly(share) if chance.happens(share) => (None, Some(putts.len() as u8)),
        Recording::Nothing(share) if chance.happens(share) => (None, None),
        _ => (Some(putts), None),
    }
}
