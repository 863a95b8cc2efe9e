//! Who plays for a side: its line-up, or who is there where none was named.

use crate::facts::{Hole, LineUp, PlayingOrder};
use crate::ids::MemberId;
use crate::units::Tenths;
use std::collections::HashMap;

/// A hole of a card as a match reads it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MatchHole {
    /// A card in play has not come to it.
    Open,
    /// It has no score, and is lost.
    Unscored,
    /// Holed out, or the last putt was conceded.
    Scored(u8),
}

/// A card as a match reads it: whole, or as far as it is in play.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MatchCard {
    /// One entry for each hole of the event, in order.
    pub holes: Vec<MatchHole>,
    /// Whether the player was disqualified, or a ruling leaves the card out.
    pub is_out: bool,
}

/// What a competition knows of a player in an event.
#[derive(Clone, Debug)]
pub struct NightPlayer<'a> {
    /// The playing handicap by the competition's allowance, before the lowest of a match is taken off.
    pub playing_handicap: i32,
    /// The index that it comes from.
    pub index: Option<Tenths>,
    /// The holes from the player's tee.
    pub holes: &'a [Hole],
    pub card: Option<MatchCard>,
}

/// The players of an event.
pub type Players<'a> = HashMap<MemberId, NightPlayer<'a>>;

/// A place in a side's order of play.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seat {
    /// `None`: the team has nobody for it.
    pub member: Option<MemberId>,
    pub substitute_for: Option<MemberId>,
    /// Whether the line-up says that the player does not come.
    pub is_absent: bool,
}

impl Seat {
    pub fn of(member: MemberId) -> Self {
        Self { member: Some(member), substitute_for: None, is_absent: false }
    }

    const EMPTY: Self = Self { member: None, substitute_for: None, is_absent: false };
}

/// Returns who plays for a team, in order of play; places without a player come last.
///
/// Where no line-up was named, it is the members on the roster with a card, in the order of the roster, then the others: it
/// depends on which cards there are, not on the order in which they came. Those needed are the first of the line-up; the
/// order of play is made of these. By handicap it is the lowest playing handicap first, then the lowest index, then the
/// place in the roster, where a substitute has the place of whoever is replaced.
///
/// # Source
/// Common practice, no source.
pub fn seats(line_up: Option<&LineUp>, roster: &[MemberId], needed: usize, players: &Players<'_>) -> Vec<Seat> {
    let mut seats: Vec<Seat> = match line_up {
        Some(named) => named
            .players
            .iter()
            .map(|player| Seat {
                member: Some(player.member_id),
                substitute_for: player.substitute_for,
                is_absent: player.absent,
            })
            .collect(),
        None => {
            let has_card = |member: &&MemberId| players.get(member).is_some_and(|player| player.card.is_some());
            let (here, others): (Vec<&MemberId>, Vec<&MemberId>) = roster.iter().partition(has_card);
            here.into_iter().chain(others).map(|member| Seat::of(*member)).collect()
        }
    };
    seats.truncate(needed);
    if line_up.is_none_or(|named| named.order == PlayingOrder::ByHandicap) {
        seats.sort_by_key(|seat| {
            let player = seat.member.and_then(|member| players.get(&member));
            let of_team = seat.substitute_for.or(seat.member);
            let place = roster.iter().position(|member| Some(*member) == of_team).unwrap_or(roster.len());
            let index = player.and_then(|player| player.index);
            (player.map_or(i32::MAX, |player| player.playing_handicap), index.is_none(), index, place)
        });
    }
    seats.resize(needed, Seat::EMPTY);
    seats
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::LinedUp;
    use uuid::Uuid;

    fn id(n: u128) -> MemberId {
        MemberId(Uuid::from_u128(n))
    }

    /// Members 1 to 4, off 10, 8, 8 and 5; the indexes of the two off 8 are 7.9 and 7.4. Those in `with_card` have a card.
    fn players(with_card: &[u128]) -> Players<'static> {
        let card = MatchCard { holes: Vec::new(), is_out: false };
        let handicaps = [(1, 10, 95), (2, 8, 79), (3, 8, 74), (4, 5, 50)];
        let player = |(n, playing_handicap, index)| {
            let card = with_card.contains(&n).then(|| card.clone());
            (id(n), NightPlayer { playing_handicap, index: Some(Tenths(index)), holes: &[], card })
        };
        handicaps.into_iter().map(player).collect()
    }

    fn members(seats: &[Seat]) -> Vec<u128> {
        seats.iter().map(|seat| seat.member.map_or(0, |member| member.0.as_u128())).collect()
    }

    #[test]
    fn without_a_line_up_those_with_a_card_play_then_others() {
        let roster = [1, 2, 3].map(id);
        let of = |needed, with_card: &[u128]| members(&seats(None, &roster, needed, &players(with_card)));
        // Members 1 and 3 have cards: they play, the lower handicap first.
        assert_eq!(of(2, &[3, 1]), [3, 1]);
        // Nobody has one yet: the first two of the roster are expected.
        assert_eq!(of(2, &[]), [2, 1]);
        // Only member 3 has one; member 1 is the next of the roster.
        assert_eq!(of(2, &[3]), [3, 1]);
        assert_eq!(of(5, &[]), [3, 2, 1, 0, 0]);
    }

    #[test]
    fn a_line_up_names_who_plays_and_may_name_the_order() {
        let player = |n, substitute_for: Option<u128>| LinedUp {
            member_id: id(n),
            substitute_for: substitute_for.map(id),
            absent: false,
        };
        let named = [player(1, None), player(4, Some(2)), player(3, None)].to_vec();
        let of = |order, needed| {
            let line_up = LineUp { players: named.clone(), order };
            members(&seats(Some(&line_up), &[1, 2, 3].map(id), needed, &players(&[])))
        };
        assert_eq!(of(PlayingOrder::AsNamed, 2), [1, 4]);
        assert_eq!(of(PlayingOrder::ByHandicap, 2), [4, 1]);
        assert_eq!(of(PlayingOrder::ByHandicap, 3), [4, 3, 1]);
        assert_eq!(of(PlayingOrder::AsNamed, 4), [1, 4, 3, 0]);
    }
}
