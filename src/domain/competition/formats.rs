//! The ways to score, to meet and to share a ball: one row each.

macro_rules! rows {
    ($(#[$doc:meta])* $type:ident { $($(#[$row_doc:meta])* $row:ident $word:literal,)* }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum $type { $($(#[$row_doc])* $row,)* }

        impl $type {
            /// Every row with its word in JSON.
            pub const NAMED: &'static [(&'static str, $type)] = &[$(($word, $type::$row),)*];
        }
    };
}

rows! {
    /// How a ball scores on a hole.
    Score {
        /// Strokes.
        Strokes "strokes",
        /// Points by result against par: Stableford, or a committee's table.
        Points "points",
        /// Won, tied or lost against par.
        ParBogey "par_bogey",
        /// Strokes with a limit on each hole.
        MaximumScore "maximum_score",
        /// Gross points against a number that the playing handicap lowers.
        Quota "quota",
    }
}

rows! {
    /// How sides compete.
    Meeting {
        /// Totals of all sides are ranked.
        Field "field",
        /// Two sides, hole by hole.
        Match "match",
        /// Each hole is a contest of all: skins.
        Hole "hole",
        /// Each hole's best over several events: eclectic.
        Season "season",
    }
}

rows! {
    /// How several players play one ball.
    SharedBall {
        /// Alternate strokes.
        Foursomes "foursomes",
        /// Both drive, then alternate strokes with the better ball.
        Greensomes "greensomes",
        /// Both play two strokes, swapping balls, then alternate strokes with one.
        Chapman "chapman",
        /// Everybody plays from where the best ball lies.
        Scramble "scramble",
    }
}
