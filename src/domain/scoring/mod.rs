//! Results of one card: strokes where they fall, adjusted scores, points and countback.

pub mod countback;
pub mod hole_limit;
pub mod maximum_score;
pub mod par_bogey;
pub mod points;
pub mod strokes_received;
