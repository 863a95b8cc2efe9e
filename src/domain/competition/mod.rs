//! A competition: card → score of each ball → side → meeting → award → season.
//!
//! Each step is a pure function of the one before: [`score`], [`side`], then one meeting ([`match_play`] with [`fixture`],
//! [`skins`], [`quota`], [`eclectic`], or plain totals), then [`places`] and [`ranking`] of an event, or of several [`together`], [`season_total`] and [`table`]. What a step may
//! be is a row of a list in [`formats`].
//!
//! Where sides meet in matches, [`mod@matches`] reads the league's book and its cards, and the steps are [`seats`] (who
//! plays), [`balls`] (one match), [`meetings`] (the fixtures, those of a [`knock_out`] [`waiting`] for others) and [`match_table`]; [`match_shown`] is what is seen of them.

pub mod absent;
pub mod allowance;
pub mod ball;
pub mod balls;
pub mod better;
pub mod eclectic;
pub mod fixture;
pub mod formats;
pub mod knock_out;
pub mod level;
pub mod match_play;
pub mod match_sentences;
pub mod match_shown;
pub mod match_table;
pub mod matches;
pub mod meetings;
pub mod places;
pub mod promotion;
pub mod quota;
pub mod ranking;
pub mod round_robin;
pub mod score;
pub mod season_total;
pub mod seats;
pub mod side;
pub mod skins;
pub mod spread;
pub mod table;
pub mod term;
pub mod terms;
pub mod together;
pub mod waiting;
