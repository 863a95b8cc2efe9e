//! The allowance that holds where the terms name none.

use super::formats::{Meeting, Score, SharedBall};

/// What a side plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Balls {
    /// Everybody an own ball, of which the best so many count: one of one is a player alone, all of them their sum.
    Own {
        /// The balls that count.
        count: usize,
        /// The balls played.
        of: usize,
    },
    /// One ball together.
    Shared {
        /// How it is played.
        ball: SharedBall,
        players: usize,
    },
}

/// The usual allowance, in per cent of the course handicap.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Allowance {
    /// One number for everybody, or one for each player who shares the ball, from the lowest handicap upwards.
    pub percentages: &'static [u8],
    /// Who says so.
    pub source: Source,
}

/// Where an allowance comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Rules of Handicapping, Appendix C.
    AppendixC,
    /// Nobody: where nothing is published it is 100.
    Custom,
}

impl Source {
    /// Returns its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::AppendixC => "RoH Appendix C",
            Self::Custom => "custom",
        }
    }
}

use Meeting::{Field, Match};
use Score::{MaximumScore, ParBogey, Points, Quota, Strokes};

/// A published allowance of own balls.
struct Own {
    meeting: Meeting,
    scores: &'static [Score],
    balls: Balls,
    percentages: &'static [u8],
}

/// Writes a row: in a meeting, with one of the scores, the best `count` balls `of` so many, per cent.
const fn own(meeting: Meeting, scores: &'static [Score], count: usize, of: usize, percentages: &'static [u8]) -> Own {
    Own { meeting, scores, balls: Balls::Own { count, of }, percentages }
}

/// Own balls.
///
/// # Source
/// Rules of Handicapping, Appendix C (for fields of medium size; a committee may set its own). That a player's allowance in
/// a field holds with quota too is evenfield's reading.
const OWN: &[Own] = &[
    own(Field, &[Strokes, Points, ParBogey, MaximumScore, Quota], 1, 1, &[95]),
    own(Field, &[Strokes, Points], 1, 2, &[85]),
    own(Field, &[ParBogey], 1, 2, &[90]),
    own(Field, &[Strokes], 1, 4, &[75]),
    own(Field, &[Strokes], 2, 4, &[85]),
    own(Field, &[Strokes], 3, 4, &[100]),
    own(Field, &[Strokes], 4, 4, &[100]),
    own(Field, &[ParBogey], 1, 4, &[75]),
    own(Field, &[ParBogey], 2, 4, &[80]),
    own(Field, &[ParBogey], 3, 4, &[90]),
    own(Field, &[ParBogey], 4, 4, &[100]),
    own(Match, &[Strokes], 1, 1, &[100]),
    own(Match, &[Strokes], 1, 2, &[90]),
    own(Match, &[Strokes], 2, 2, &[100]),
];

/// Shared balls: a share for each player, from the lowest handicap upwards; they add up to the side's strokes.
///
/// # Source
/// Rules of Handicapping, Appendix C.
pub const SHARES: &[(SharedBall, &[u8])] = &[
    (SharedBall::Foursomes, &[50, 50]),
    (SharedBall::Greensomes, &[60, 40]),
    (SharedBall::Chapman, &[60, 40]),
    (SharedBall::Scramble, &[35, 15]),
    (SharedBall::Scramble, &[30, 20, 10]),
    (SharedBall::Scramble, &[25, 20, 15, 10]),
];

/// Returns the usual allowance of a way to score, a side and a way to meet.
///
/// A shared ball has its shares whatever the score and the meeting; `None`: there are no shares for so many players. Own
/// balls without a published allowance have 100 per cent.
///
/// # Source
/// The answer names it.
pub fn usual_allowance(score: Score, balls: Balls, meeting: Meeting) -> Option<Allowance> {
    let published = match balls {
        Balls::Shared { ball, players } => {
            let shares = SHARES.iter().find(|(shared, shares)| *shared == ball && shares.len() == players);
            Some(shares.map(|(_, shares)| *shares)?)
        }
        Balls::Own { .. } => OWN
            .iter()
            .find(|row| row.meeting == meeting && row.scores.contains(&score) && row.balls == balls)
            .map(|row| row.percentages),
    };
    Some(match published {
        Some(percentages) => Allowance { percentages, source: Source::AppendixC },
        None => Allowance { percentages: &[100], source: Source::Custom },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(score: Score, balls: Balls, meeting: Meeting, expect: Option<(&[u8], Source)>) {
        let found = usual_allowance(score, balls, meeting);
        assert_eq!(found.map(|found| (found.percentages, found.source)), expect, "{score:?} {balls:?} {meeting:?}");
    }

    #[test]
    fn what_appendix_c_does_not_name_is_a_hundred_per_cent() {
        let own = |score, count, of, meeting, percentage, source| {
            check(score, Balls::Own { count, of }, meeting, Some((&[percentage], source)));
        };
        for (_, score) in Score::NAMED {
            own(*score, 1, 1, Field, 95, Source::AppendixC);
            let source = if *score == Strokes { Source::AppendixC } else { Source::Custom };
            own(*score, 1, 1, Match, 100, source);
            own(*score, 1, 1, Meeting::Hole, 100, Source::Custom);
            own(*score, 1, 1, Meeting::Season, 100, Source::Custom);
        }
        own(Points, 1, 2, Field, 85, Source::AppendixC);
        own(MaximumScore, 1, 2, Field, 100, Source::Custom);
        own(Points, 2, 4, Field, 100, Source::Custom);
        own(Strokes, 2, 4, Field, 85, Source::AppendixC);
        own(Strokes, 2, 2, Field, 100, Source::Custom);
        own(Strokes, 2, 2, Match, 100, Source::AppendixC);
        own(Strokes, 1, 2, Match, 90, Source::AppendixC);
        own(ParBogey, 1, 2, Match, 100, Source::Custom);
    }

    #[test]
    fn a_shared_ball_has_its_shares_whatever_the_score_and_the_meeting() {
        for (ball, shares) in SHARES {
            let balls = Balls::Shared { ball: *ball, players: shares.len() };
            for (_, score) in Score::NAMED {
                for (_, meeting) in Meeting::NAMED {
                    check(*score, balls, *meeting, Some((shares, Source::AppendixC)));
                }
            }
        }
        check(Strokes, Balls::Shared { ball: SharedBall::Scramble, players: 5 }, Field, None);
        check(Strokes, Balls::Shared { ball: SharedBall::Chapman, players: 3 }, Field, None);
    }
}
