//! Courses, tees and holes.

use super::fault::{Fault, Rules};
use crate::ids::TeeId;
use crate::rule::Rule;
use crate::units::{HoleCount, HoleNumber, Par, SlopeRating, StrokeIndex, Tenths};
use serde::{Deserialize, Serialize};

/// A course with the tees that it is played from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Course {
    /// What people call it.
    pub name: String,
    /// Its tees.
    pub tees: Vec<Tee>,
}

/// A tee: the holes as played from it, and how hard they are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tee {
    /// The tee's id; the server makes one where none is given.
    #[serde(default = "no_id_yet")]
    pub id: TeeId,
    /// What people call it.
    pub name: String,
    /// The score that a scratch player is expected to make over all its holes.
    pub course_rating: Tenths,
    /// How much harder it plays for others, 113 being standard.
    pub slope_rating: SlopeRating,
    /// Its 9 or 18 holes.
    pub holes: Vec<Hole>,
    /// The ratings of the nines of an 18-hole tee that events of nine holes are played on.
    #[serde(default)]
    pub nines: Vec<Nine>,
}

fn no_id_yet() -> TeeId {
    TeeId(uuid::Uuid::nil())
}

/// A hole.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hole {
    /// Its number on the card.
    pub number: HoleNumber,
    /// Its par.
    pub par: Par,
    /// Its place in the order in which strokes fall.
    pub stroke_index: StrokeIndex,
}

/// The ratings of one nine of an 18-hole tee.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Nine {
    /// 1 or 10.
    pub first_hole: HoleNumber,
    /// The rating of the nine alone.
    pub course_rating: Tenths,
    /// The slope of the nine alone.
    pub slope_rating: SlopeRating,
}

/// The holes of one event as one player meets them.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// The holes in playing order of their numbers.
    pub holes: Vec<Hole>,
    /// The rating of these holes.
    pub course_rating: Tenths,
    /// The slope of these holes.
    pub slope_rating: SlopeRating,
    /// 9 or 18.
    pub count: HoleCount,
}

impl Layout {
    /// Returns the par of these holes together.
    pub fn par(&self) -> i32 {
        self.holes.iter().map(|hole| i32::from(hole.par.get())).sum()
    }

    /// Returns the pars in order.
    pub fn pars(&self) -> Vec<u8> {
        self.holes.iter().map(|hole| hole.par.get()).collect()
    }

    /// Returns the stroke indexes in order.
    pub fn stroke_indexes(&self) -> Vec<u8> {
        self.holes.iter().map(|hole| hole.stroke_index.get()).collect()
    }
}

impl Tee {
    /// Returns the holes that an event of `count` holes from `first_hole` plays, with their ratings; `None` where this
    /// tee cannot stage it: 18 holes on a 9-hole tee, or a nine of an 18-hole tee that has no ratings of its own.
    pub fn layout(&self, count: HoleCount, first_hole: HoleNumber) -> Option<Layout> {
        let whole = |mut holes: Vec<Hole>| Layout {
            holes: {
                holes.sort_by_key(|hole| hole.number);
                holes
            },
            course_rating: self.course_rating,
            slope_rating: self.slope_rating,
            count,
        };
        if self.holes.len() == count.get() {
            let first = self.holes.iter().map(|hole| hole.number).min()?;
            return (first_hole == first || first_hole.get() == 1).then(|| whole(self.holes.clone()));
        }
        let nine = self.nines.iter().find(|nine| nine.first_hole == first_hole)?;
        let numbers = first_hole.get()..first_hole.get() + 9;
        let holes: Vec<Hole> = self.holes.iter().copied().filter(|hole| numbers.contains(&hole.number.get())).collect();
        (count == HoleCount::Nine && holes.len() == 9).then(|| Layout {
            course_rating: nine.course_rating,
            slope_rating: nine.slope_rating,
            ..whole(holes)
        })
    }
}

impl Course {
    /// Finds what no single field shows: holes and stroke indexes that repeat, or a count that is neither 9 nor 18.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        for (t, tee) in self.tees.iter().enumerate() {
            let at = format!("/tees/{t}");
            let n = tee.holes.len();
            if n != 9 && n != 18 {
                faults.push(Fault::new(
                    format!("{at}/holes"),
                    Rule::HoleCount,
                    format!("{n} holes; a tee has 9 or 18"),
                ));
                continue;
            }
            for (h, hole) in tee.holes.iter().enumerate() {
                let before = &tee.holes[..h];
                let number = hole.number.get();
                if before.iter().any(|other| other.number == hole.number) {
                    let detail = format!("hole {number} is given twice");
                    faults.push(Fault::new(format!("{at}/holes/{h}/number"), Rule::HoleRepeated, detail));
                } else if (number > 9) != (tee.holes[0].number.get() > 9) && n == 9 {
                    let detail = "a tee of nine holes has 1 to 9 or 10 to 18";
                    faults.push(Fault::new(format!("{at}/holes/{h}/number"), Rule::HoleCount, detail));
                }
                if before.iter().any(|other| other.stroke_index == hole.stroke_index) {
                    let detail = format!("stroke index {} is given twice", hole.stroke_index.get());
                    faults.push(Fault::new(format!("{at}/holes/{h}/stroke_index"), Rule::StrokeIndexRepeated, detail));
                }
            }
            for (i, nine) in tee.nines.iter().enumerate() {
                let first = nine.first_hole.get();
                if n == 9 || (first != 1 && first != 10) {
                    let detail = "a nine starts at hole 1 or 10 of an 18-hole tee";
                    faults.push(Fault::new(format!("{at}/nines/{i}/first_hole"), Rule::NineStart, detail));
                } else if tee.nines[..i].iter().any(|other| other.first_hole == nine.first_hole) {
                    let detail = "the ratings of this nine are given twice";
                    faults.push(Fault::new(format!("{at}/nines/{i}/first_hole"), Rule::NineRepeated, detail));
                }
            }
            if tee.id.0.is_nil() || self.tees[..t].iter().any(|other| other.id == tee.id) {
                faults.push(Fault::new(format!("{at}/id"), Rule::TeeRepeated, "two tees share this id"));
            }
        }
        faults
    }
}

impl Rules for Course {
    /// Tees that are sent without an id get theirs later.
    fn broken(&self) -> Vec<Fault> {
        self.faults().into_iter().filter(|fault| fault.rule != Rule::TeeRepeated).collect()
    }
}
