//! The courses of the demo league: three that exist nowhere.

use super::{Stream, id};
use crate::domain::facts::{Course, Hole, Nine, Tee};
use crate::domain::ids::CourseId;
use crate::domain::units::{HoleNumber, Par, SlopeRating, StrokeIndex, Tenths};

/// A course with its id; the first tee is the back one, the second the forward one.
#[derive(Clone, Debug)]
pub struct Ground {
    /// Its id.
    pub id: CourseId,
    /// The course.
    pub course: Course,
}

/// A rating and a slope.
type Rated = (i32, i64);

struct Plan {
    name: &'static str,
    pars: &'static [i64],
    stroke_indexes: &'static [i64],
    tees: [TeePlan; 2],
}

struct TeePlan {
    name: &'static str,
    whole: Rated,
    nines: Option<[Rated; 2]>,
}

/// The two courses of 18 holes, then the one of 9.
const PLANS: [Plan; 3] = [
    Plan {
        name: "Grumblewick Sands",
        pars: &[4, 5, 3, 4, 4, 3, 4, 5, 4, 4, 3, 5, 4, 4, 4, 3, 5, 4],
        stroke_indexes: &[9, 13, 17, 1, 7, 15, 3, 11, 5, 8, 16, 12, 2, 10, 6, 18, 14, 4],
        tees: [
            TeePlan { name: "Back", whole: (723, 131), nines: Some([(359, 129), (364, 133)]) },
            TeePlan { name: "Forward", whole: (699, 122), nines: Some([(347, 120), (352, 124)]) },
        ],
    },
    Plan {
        name: "Upper Noodleham",
        pars: &[4, 4, 3, 5, 4, 4, 3, 4, 4, 5, 4, 3, 4, 4, 3, 4, 5, 4],
        stroke_indexes: &[4, 12, 16, 8, 2, 10, 18, 6, 14, 11, 1, 17, 5, 13, 15, 3, 9, 7],
        tees: [
            TeePlan { name: "Long", whole: (706, 126), nines: Some([(351, 124), (355, 128)]) },
            TeePlan { name: "Short", whole: (684, 117), nines: Some([(340, 115), (344, 119)]) },
        ],
    },
    Plan {
        name: "Teapot Fen",
        pars: &[4, 3, 5, 4, 4, 3, 4, 5, 4],
        stroke_indexes: &[5, 9, 3, 1, 7, 8, 2, 6, 4],
        tees: [
            TeePlan { name: "Handle", whole: (357, 125), nines: None },
            TeePlan { name: "Spout", whole: (343, 116), nines: None },
        ],
    },
];

/// The place of the course of nine holes.
pub const NINE_HOLES: usize = 2;

/// Lays out the courses.
pub fn lay_out(seed: u64) -> Vec<Ground> {
    PLANS.iter().enumerate().map(|(n, plan)| ground(seed, n as u64, plan)).collect()
}

fn ground(seed: u64, n: u64, plan: &Plan) -> Ground {
    let rows = plan.pars.iter().zip(plan.stroke_indexes).enumerate();
    let holes: Vec<Hole> = rows
        .map(|(h, (par, stroke_index))| Hole {
            number: hole_number(h as i64 + 1),
            par: Par::new(*par).expect("the plans have legal pars"),
            stroke_index: StrokeIndex::new(*stroke_index).expect("the plans have legal stroke indexes"),
        })
        .collect();
    let tees = plan.tees.iter().enumerate().map(|(t, tee)| Tee {
        id: id(seed, Stream::Tee, &[n, t as u64]).into(),
        name: tee.name.to_owned(),
        course_rating: Tenths(tee.whole.0),
        slope_rating: slope(tee.whole.1),
        holes: holes.clone(),
        nines: tee.nines.into_iter().flatten().zip([1, 10]).map(|(rated, first)| nine(first, rated)).collect(),
    });
    Ground {
        id: id(seed, Stream::Course, &[n]).into(),
        course: Course { name: plan.name.to_owned(), tees: tees.collect() },
    }
}

fn nine(first: i64, (rating, slope_rating): Rated) -> Nine {
    Nine { first_hole: hole_number(first), course_rating: Tenths(rating), slope_rating: slope(slope_rating) }
}

fn slope(rating: i64) -> SlopeRating {
    SlopeRating::new(rating).expect("the plans have legal slopes")
}

/// Returns a hole number that is known to be one.
pub fn hole_number(number: i64) -> HoleNumber {
    HoleNumber::new(number).expect("the demo's holes are numbered 1 to 18")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_courses_have_no_fault_and_their_nines_add_up() {
        for Ground { course, .. } in lay_out(1) {
            assert_eq!(course.faults(), []);
            for tee in course.tees.iter().filter(|tee| !tee.nines.is_empty()) {
                let sum: i32 = tee.nines.iter().map(|nine| nine.course_rating.0).sum();
                assert_eq!(sum, tee.course_rating.0, "{}, {}", course.name, tee.name);
            }
        }
    }
}
