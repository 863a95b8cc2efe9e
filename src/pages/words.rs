//! How figures, times and states are written on pages.

use crate::domain::competition::match_shown::{FixtureShown, MatchShown, PlayerShown, PointsShown, SideShown};
use crate::domain::exact::Value;
use crate::domain::facts::SideWord;
use crate::domain::facts::competition::{Basis, Competition, Meeting, Scoring};
use crate::domain::facts::{Event, EventState};
use crate::domain::season::RoundState;
use crate::domain::units::{AsHandicap, Tenths};
use crate::league::event::board::{BoardRow, ENTERED, IN_PLAY};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use std::collections::BTreeMap;
use std::fmt::Display;

/// What stands for a missing figure.
pub const MISSING: &str = "–";

/// Writes a number with the minus sign that typesetters use.
pub fn number(value: impl Display) -> String {
    value.to_string().replace('-', "\u{2212}")
}

/// Writes a number with its sign.
pub fn signed(value: &f64, decimals: usize) -> String {
    let text = format!("{value:+.decimals$}");
    let is_zero = text.bytes().all(|byte| !byte.is_ascii_digit() || byte == b'0');
    number(if is_zero { text.trim_start_matches(['+', '-']) } else { &text })
}

/// Writes a handicap that may be missing; a plus handicap has its plus.
pub fn handicap(value: &Option<Tenths>) -> String {
    value.map_or_else(|| MISSING.to_owned(), |index| AsHandicap(index).to_string())
}

/// Writes strokes that a player receives; a plus player gives them back, which is written with a plus as the handicap is.
pub fn handicap_strokes(value: &Option<i32>) -> String {
    value.map_or_else(
        || MISSING.to_owned(),
        |strokes| match strokes {
            ..0 => format!("+{}", strokes.unsigned_abs()),
            _ => strokes.to_string(),
        },
    )
}

/// Writes a figure that may be missing.
pub fn or_missing<T: Display>(value: &Option<T>) -> String {
    value.as_ref().map_or_else(|| MISSING.to_owned(), number)
}

/// Writes a value of a table: whole, or with two decimals.
pub fn value(value: &Option<Value>) -> String {
    let Some(value) = value else { return MISSING.to_owned() };
    let written = serde_json::to_value(value).unwrap_or_default();
    match (written.as_i64(), written.as_f64()) {
        (Some(whole), _) => number(whole),
        (None, Some(real)) => number(format!("{real:.2}")),
        (None, None) => MISSING.to_owned(),
    }
}

/// Writes strokes over or under par in words.
pub fn over_par(strokes: &i32) -> String {
    match *strokes {
        0 => "level par".into(),
        over if over > 0 => format!("{over} over par"),
        under => format!("{} under par", -under),
    }
}

/// Writes a moment in a league's zone.
pub fn moment(at: &Timestamp, zone: TimeZone) -> String {
    zone.to_datetime(*at).strftime("%a %-d %b %Y, %H:%M").to_string()
}

/// Writes a time of the day in a league's zone.
pub fn time_of_day(at: &Timestamp, zone: TimeZone) -> String {
    zone.to_datetime(*at).strftime("%H:%M:%S").to_string()
}

/// Writes where an event stands.
pub fn event_state(event: &Event) -> &'static str {
    match event.state {
        _ if event.is_void() => "void",
        Some(EventState::Open) => "open",
        Some(EventState::Closed) => "closed",
        Some(EventState::Final) => "final",
        Some(EventState::Scheduled) | None => "upcoming",
    }
}

/// Writes where a round stands.
pub fn round_state(state: &RoundState) -> &'static str {
    match state {
        RoundState::Submitted => "handed in",
        RoundState::Attested => "witnessed",
        RoundState::Proposed => "waiting to be accepted",
        RoundState::Late => "late, waiting to be accepted",
        RoundState::Excluded => "excluded",
        RoundState::Withdrawn => "withdrawn",
    }
}

/// Writes where a row of a board stands.
pub fn row_state(state: &str) -> &'static str {
    match state {
        IN_PLAY => "in play",
        ENTERED => "not in yet",
        other => RoundState::from_word(other).map_or("", |state| round_state(&state)),
    }
}

/// Writes what decides an event of a competition.
pub fn decided_by(terms: &Competition) -> String {
    let net = if terms.basis == Basis::Net { "net" } else { "gross" };
    let score = match (&terms.meeting, &terms.score) {
        (Meeting::Sum { .. }, _) => return "other competitions added up".into(),
        (_, Scoring::Strokes {}) => format!("{net} strokes"),
        (_, Scoring::Points { table: None }) => format!("{net} Stableford points"),
        (_, Scoring::Points { table: Some(_) }) => format!("{net} points"),
        (_, Scoring::ParBogey {}) => format!("{net} score against par, hole by hole"),
        (_, Scoring::MaximumScore { .. }) => format!("{net} strokes with a maximum a hole"),
        (_, Scoring::Quota { .. }) => "points above quota".into(),
    };
    match terms.meeting {
        Meeting::Match(_) => format!("matches, {score}"),
        Meeting::Hole { .. } => format!("skins, {score}"),
        Meeting::Season {} => format!("the best of each hole over the season, {score}"),
        Meeting::Field {} | Meeting::Sum { .. } => score,
    }
}

/// Says whether a figure of a card decides an event of a competition.
pub fn is_decided_by(terms: &Competition, figure: &str) -> bool {
    let decides = match (&terms.meeting, &terms.score, terms.basis) {
        (Meeting::Field {}, Scoring::Strokes {}, Basis::Gross) => "gross",
        (Meeting::Field {}, Scoring::Strokes {}, Basis::Net) => "net",
        (Meeting::Field {}, Scoring::Points { .. }, _) => "points",
        _ => "score",
    };
    decides == figure
}

/// Puts the rows of a board together by flight, in their order.
pub fn flights(rows: &[BoardRow]) -> Vec<(Option<&str>, Vec<&BoardRow>)> {
    let mut parts: Vec<(Option<&str>, Vec<&BoardRow>)> = Vec::new();
    for row in rows {
        let name = row.flight.as_deref();
        match parts.iter_mut().find(|(known, _)| *known == name) {
            Some((_, part)) => part.push(row),
            None => parts.push((name, vec![row])),
        }
    }
    parts
}

/// Writes a day in a league's zone.
pub fn day(at: &Timestamp, zone: TimeZone) -> String {
    zone.to_datetime(*at).strftime("%-d %b").to_string()
}

/// Writes the name of a side of a fixture.
pub fn side_name(side: &Option<SideShown>) -> &str {
    side.as_ref().map_or("bye", |side| &side.display_name)
}

/// Returns how a form names a side.
pub fn side_letter(side: &SideWord) -> &'static str {
    match side {
        SideWord::A => "a",
        SideWord::B => "b",
    }
}

/// Writes who meets whom, and what people call it.
pub fn sides(fixture: &FixtureShown) -> String {
    let sides = format!("{} v {}", side_name(&fixture.a), side_name(&fixture.b));
    fixture.name.as_ref().map_or_else(|| sides.clone(), |name| format!("{name}: {sides}"))
}

/// Writes where a fixture stands.
pub fn fixture_state(state: &str) -> String {
    match state {
        "planned" => "not begun".into(),
        "walk_over" => "walk-over".into(),
        other => other.replace('_', " "),
    }
}

/// Writes a value that is there.
pub fn exactly(of: &Value) -> String {
    value(&Some(*of))
}

/// Writes the points of both sides.
pub fn points(points: &PointsShown) -> String {
    format!("{}:{}", value(&Some(points.a)), value(&Some(points.b)))
}

/// Writes who plays on a side of a match, each with what there is to say.
pub fn players(players: &[PlayerShown]) -> String {
    let one = |player: &PlayerShown| {
        let name = if player.member_id.is_none() { "nobody" } else { &player.display_name };
        let place = if player.substitute_for.is_some() { " (substitute)" } else { "" };
        let presence = match player.presence {
            "absent" => " (absent)",
            "stand_in" => " (absent, a score stands in)",
            "disqualified" => " (disqualified)",
            _ => "",
        };
        format!("{name}{place}{presence}")
    };
    players.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// Writes how a match stands: who is up, or how it ended.
pub fn stands(one: &MatchShown, fixture: &FixtureShown) -> String {
    let ahead = if one.lead > 0 { &fixture.a } else { &fixture.b };
    match (one.result.as_str(), one.through, one.lead) {
        ("in progress", 0, _) => "not begun".into(),
        ("in progress", _, 0) => "tied".into(),
        ("in progress", _, lead) => format!("{} {} up", side_name(ahead), lead.abs()),
        (result, ..) => match one.winner {
            Some(SideWord::A) => format!("{}: {result}", side_name(&fixture.a)),
            Some(SideWord::B) => format!("{}: {result}", side_name(&fixture.b)),
            None => result.to_owned(),
        },
    }
}

/// Says on which holes strokes fall, most strokes first: `2 strokes on hole 1; 1 on holes 7, 9`.
pub fn strokes_on(holes: &[u8], received: &[i32]) -> String {
    let mut by_count: BTreeMap<i32, Vec<String>> = BTreeMap::new();
    for (hole, count) in holes.iter().zip(received).filter(|(_, count)| **count != 0) {
        by_count.entry(*count).or_default().push(hole.to_string());
    }
    let said = by_count.iter().rev().enumerate().map(|(n, (count, holes))| {
        let strokes = match (n, count) {
            (0, 1) => " stroke",
            (0, _) => " strokes",
            _ => "",
        };
        let noun = if holes.len() == 1 { "hole" } else { "holes" };
        format!("{}{strokes} on {noun} {}", number(count), holes.join(", "))
    });
    let said = said.collect::<Vec<_>>().join("; ");
    if said.is_empty() { "no strokes".to_owned() } else { said }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strokes_are_said_hole_by_hole_with_most_first() {
        for (received, due) in [
            ([0, 0, 0], "no strokes"),
            ([0, 1, 0], "1 stroke on hole 8"),
            ([1, 2, 1], "2 strokes on hole 8; 1 on holes 7, 9"),
            ([0, 0, -1], "−1 strokes on hole 9"),
        ] {
            assert_eq!(strokes_on(&[7, 8, 9], &received), due);
        }
    }

    #[test]
    fn figures_are_written_as_people_read_them() {
        assert_eq!(signed(&-0.42, 1), "\u{2212}0.4");
        assert_eq!(signed(&0.04, 1), "0.0");
        assert_eq!(signed(&-0.04, 1), "0.0");
        assert_eq!(signed(&1.25, 1), "+1.2");
        assert_eq!(or_missing::<i32>(&None), "–");
        assert_eq!([over_par(&-3), over_par(&0), over_par(&2)], ["3 under par", "level par", "2 over par"]);
    }
}
