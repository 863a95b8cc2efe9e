//! What a column holds, and in which unit and direction.

use crate::domain::units::{Feet, Inches, Mph};

/// Feet in a metre. International yard and pound agreement (1959): a foot is 0.3048 m, a yard 3 ft, an inch 0.0254 m.
const FT_PER_M: f64 = 1.0 / 0.3048;
/// Inches in a foot.
const IN_PER_FT: f64 = 12.0;
/// Metres a second in a mile an hour: a mile is 5,280 ft of 0.3048 m, an hour 3,600 s.
const MPS_PER_MPH: f64 = 1609.344 / 3600.0;

/// A unit of length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Length {
    /// Feet.
    Feet,
    /// Inches.
    Inches,
    /// Yards.
    Yards,
    /// Metres.
    Metres,
    /// Centimetres.
    Centimetres,
}

impl Length {
    const fn ft(self) -> f64 {
        match self {
            Length::Feet => 1.0,
            Length::Inches => 1.0 / IN_PER_FT,
            Length::Yards => 3.0,
            Length::Metres => FT_PER_M,
            Length::Centimetres => FT_PER_M / 100.0,
        }
    }

    /// Turns a number of this unit into a distance in feet.
    pub fn to_feet(self, number: f64) -> Option<Feet> {
        let is_ours = self == Length::Feet;
        Feet::new(if is_ours { number } else { hundredths(number * self.ft()) }).ok()
    }

    /// Turns a number of this unit into a height in inches.
    pub fn to_inches(self, number: f64) -> Option<Inches> {
        let is_ours = self == Length::Inches;
        Inches::new(if is_ours { number } else { hundredths(number * self.ft() * IN_PER_FT) }).ok()
    }

    /// What is written behind a number of this unit.
    pub const fn marks(self) -> &'static [&'static str] {
        match self {
            Length::Feet => &["ft", "feet", "foot", "'"],
            Length::Inches => &["in", "inch", "inches", "\""],
            Length::Yards => &["yd", "yds", "yards"],
            Length::Metres => &["m", "metres", "meters"],
            Length::Centimetres => &["cm"],
        }
    }
}

/// A unit of speed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Speed {
    /// Miles an hour.
    Mph,
    /// Metres a second.
    MetresPerSecond,
    /// Kilometres an hour.
    KilometresPerHour,
    /// Feet a second.
    FeetPerSecond,
}

impl Speed {
    /// Turns a number of this unit into a ball speed in miles an hour.
    pub fn to_mph(self, number: f64) -> Option<Mph> {
        let mps = match self {
            Speed::Mph => return Mph::new(number).ok(),
            Speed::MetresPerSecond => number,
            Speed::KilometresPerHour => number / 3.6,
            Speed::FeetPerSecond => number / FT_PER_M,
        };
        Mph::new(hundredths(mps / MPS_PER_MPH)).ok()
    }

    /// What is written behind a number of this unit.
    pub const fn marks(self) -> &'static [&'static str] {
        match self {
            Speed::Mph => &["mph"],
            Speed::MetresPerSecond => &["m/s"],
            Speed::KilometresPerHour => &["km/h", "kph"],
            Speed::FeetPerSecond => &["ft/s", "fps"],
        }
    }
}

/// Rounds a converted number to hundredths: finer than any sensor, and short enough to be read on a card.
fn hundredths(number: f64) -> f64 {
    (number * 100.0).round() / 100.0
}

/// Which way a number counts as positive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Positive {
    /// Uphill, or right of the intended line, as we store it.
    AsOurs,
    /// Downhill, or left of it.
    Opposite,
}

/// Which line of a putt a column is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Line {
    /// The direction that the sensor measured.
    Start,
    /// The direction that the simulator used.
    Played,
}

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meaning {
    /// Nothing that a card needs.
    NotUsed,
    /// What tells the rounds of one file apart.
    Round,
    /// The number of the hole.
    Hole,
    /// The strokes on the hole.
    Strokes,
    /// How many putts there were on the hole.
    PuttCount,
    /// Which putt of the hole it is.
    PuttNumber,
    /// From where it was struck.
    Distance(Length),
    /// How much higher the hole lies.
    Rise(Length, Positive),
    /// The ball speed that the sensor measured.
    BallSpeed(Speed),
    /// A direction off the intended line, in degrees.
    Direction(Line, Positive),
    /// The side of a direction whose number stands in another column.
    Side(Line),
    /// What became of the putt.
    Result,
}

/// A meaning with the word that forms and the store have for it, and the words that people have for it.
pub struct Choice {
    /// The word.
    pub word: &'static str,
    /// The group in which it is shown.
    pub group: &'static str,
    /// The words for people.
    pub label: &'static str,
    /// What it means.
    pub meaning: Meaning,
}

const fn choice(group: &'static str, word: &'static str, label: &'static str, meaning: Meaning) -> Choice {
    Choice { word, group, label, meaning }
}

const HOLE: &str = "The hole";
const PUTT: &str = "The putt";
const SENSOR: &str = "What the sensor says";

/// All that a column may hold, in groups.
pub const CHOICES: &[Choice] = &[
    choice("", "", "not used", Meaning::NotUsed),
    choice("", "round", "which round: rows of one are taken", Meaning::Round),
    choice(HOLE, "hole", "hole number", Meaning::Hole),
    choice(HOLE, "strokes", "strokes on the hole", Meaning::Strokes),
    choice(HOLE, "putt_count", "number of putts on the hole", Meaning::PuttCount),
    choice(PUTT, "putt", "which putt of the hole", Meaning::PuttNumber),
    choice(PUTT, "distance_ft", "distance to the hole, ft", Meaning::Distance(Length::Feet)),
    choice(PUTT, "distance_in", "distance to the hole, in", Meaning::Distance(Length::Inches)),
    choice(PUTT, "distance_yd", "distance to the hole, yd", Meaning::Distance(Length::Yards)),
    choice(PUTT, "distance_m", "distance to the hole, m", Meaning::Distance(Length::Metres)),
    choice(PUTT, "distance_cm", "distance to the hole, cm", Meaning::Distance(Length::Centimetres)),
    choice(PUTT, "result", "result: holed, missed, conceded", Meaning::Result),
    choice(PUTT, "rise_in", "rise, in (uphill positive)", Meaning::Rise(Length::Inches, Positive::AsOurs)),
    choice(PUTT, "rise_ft", "rise, ft (uphill positive)", Meaning::Rise(Length::Feet, Positive::AsOurs)),
    choice(PUTT, "rise_cm", "rise, cm (uphill positive)", Meaning::Rise(Length::Centimetres, Positive::AsOurs)),
    choice(PUTT, "rise_m", "rise, m (uphill positive)", Meaning::Rise(Length::Metres, Positive::AsOurs)),
    choice(PUTT, "fall_in", "fall, in (downhill positive)", Meaning::Rise(Length::Inches, Positive::Opposite)),
    choice(PUTT, "fall_ft", "fall, ft (downhill positive)", Meaning::Rise(Length::Feet, Positive::Opposite)),
    choice(PUTT, "fall_cm", "fall, cm (downhill positive)", Meaning::Rise(Length::Centimetres, Positive::Opposite)),
    choice(PUTT, "fall_m", "fall, m (downhill positive)", Meaning::Rise(Length::Metres, Positive::Opposite)),
    choice(SENSOR, "speed_mph", "ball speed, mph", Meaning::BallSpeed(Speed::Mph)),
    choice(SENSOR, "speed_mps", "ball speed, m/s", Meaning::BallSpeed(Speed::MetresPerSecond)),
    choice(SENSOR, "speed_kmh", "ball speed, km/h", Meaning::BallSpeed(Speed::KilometresPerHour)),
    choice(SENSOR, "speed_fps", "ball speed, ft/s", Meaning::BallSpeed(Speed::FeetPerSecond)),
    choice(SENSOR, "start_right", "start line, ° (right positive)", Meaning::Direction(Line::Start, Positive::AsOurs)),
    choice(SENSOR, "start_left", "start line, ° (left positive)", Meaning::Direction(Line::Start, Positive::Opposite)),
    choice(SENSOR, "start_side", "side of the start line, L or R", Meaning::Side(Line::Start)),
    choice(
        SENSOR,
        "played_right",
        "played line, ° (right positive)",
        Meaning::Direction(Line::Played, Positive::AsOurs),
    ),
    choice(
        SENSOR,
        "played_left",
        "played line, ° (left positive)",
        Meaning::Direction(Line::Played, Positive::Opposite),
    ),
    choice(SENSOR, "played_side", "side of the played line, L or R", Meaning::Side(Line::Played)),
];

/// Names of columns that say their unit as this league server's own fields do, and what they mean.
const OWN_NAMES: &[(&str, &str)] = &[
    ("number", "hole"),
    ("hole", "hole"),
    ("strokes", "strokes"),
    ("putt_count", "putt_count"),
    ("putt", "putt"),
    ("distance_ft", "distance_ft"),
    ("elevation_in", "rise_in"),
    ("ball_speed_mph", "speed_mph"),
    ("start_line_deg", "start_right"),
    ("played_line_deg", "played_right"),
    ("result", "result"),
];

impl Meaning {
    /// Finds a meaning by its word.
    pub fn from_word(word: &str) -> Option<Self> {
        CHOICES.iter().find(|choice| choice.word == word).map(|choice| choice.meaning)
    }

    /// Returns the word for it.
    pub fn word(self) -> &'static str {
        CHOICES.iter().find(|choice| choice.meaning == self).map_or("", |choice| choice.word)
    }

    /// Takes the meaning from the name of a column that is named as our own fields are; any other name says nothing.
    pub fn of_own_name(name: &str) -> Self {
        let known = OWN_NAMES.iter().find(|(own, _)| own.eq_ignore_ascii_case(name.trim()));
        known.and_then(|(_, word)| Self::from_word(word)).unwrap_or(Meaning::NotUsed)
    }

    /// Returns whether two columns with these meanings would say the same thing of a row.
    pub fn says_the_same(self, other: Self) -> bool {
        match (self, other) {
            (Meaning::NotUsed, _) => false,
            (Meaning::Direction(a, _), Meaning::Direction(b, _)) => a == b,
            _ if self == other => true,
            _ => std::mem::discriminant(&self) == std::mem::discriminant(&other) && !matches!(self, Meaning::Side(_)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_turned_into_our_units() {
        let feet = |unit: Length, number: f64| unit.to_feet(number).map(Feet::get);
        assert_eq!(feet(Length::Feet, 31.123), Some(31.123), "our own unit is kept as it is");
        assert_eq!(feet(Length::Metres, 3.048), Some(10.0));
        assert_eq!(feet(Length::Centimetres, 30.48), Some(1.0));
        assert_eq!(feet(Length::Inches, 18.0), Some(1.5));
        assert_eq!(feet(Length::Yards, 4.0), Some(12.0));
        assert_eq!(feet(Length::Metres, 2.5), Some(8.2));
        assert_eq!((feet(Length::Feet, 0.0), feet(Length::Metres, 61.0), feet(Length::Feet, -3.0)), (None, None, None));
        assert_eq!(Length::Centimetres.to_inches(-10.16).map(Inches::get), Some(-4.0));
        assert_eq!(Length::Feet.to_inches(0.5).map(Inches::get), Some(6.0));
        let mph = |unit: Speed, number: f64| unit.to_mph(number).map(Mph::get);
        assert_eq!(mph(Speed::Mph, 6.123), Some(6.123));
        assert_eq!(mph(Speed::MetresPerSecond, 2.2352), Some(5.0));
        assert_eq!(mph(Speed::KilometresPerHour, 16.09344), Some(10.0));
        assert_eq!(mph(Speed::FeetPerSecond, 22.0), Some(15.0));
        assert_eq!((mph(Speed::MetresPerSecond, 18.0), mph(Speed::Mph, 0.0)), (None, None));
    }

    #[test]
    fn each_meaning_has_one_word() {
        for choice in CHOICES {
            assert_eq!(Meaning::from_word(choice.word), Some(choice.meaning));
            assert_eq!(choice.meaning.word(), choice.word);
        }
        for (own, word) in OWN_NAMES {
            assert!(Meaning::from_word(word).is_some(), "{own}");
        }
        assert_eq!(Meaning::of_own_name("Distance_FT"), Meaning::Distance(Length::Feet));
        assert_eq!(Meaning::of_own_name("how far"), Meaning::NotUsed);
    }

    #[test]
    fn two_columns_may_not_say_the_same() {
        let of = |word| Meaning::from_word(word).unwrap();
        assert!(of("distance_ft").says_the_same(of("distance_m")));
        assert!(of("start_right").says_the_same(of("start_left")));
        assert!(!of("start_right").says_the_same(of("played_right")));
        assert!(!of("start_side").says_the_same(of("played_side")) && of("start_side").says_the_same(of("start_side")));
        assert!(!of("").says_the_same(of("")));
    }
}
