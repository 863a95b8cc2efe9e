//! The balls of one match: who plays, with how many strokes, and what each side scored on each hole.

use super::absent::StandIn;
use super::better::Better;
use super::fixture::Pairing;
use super::match_play::{Concession, Side, hole_winners};
use super::seats::{MatchCard, MatchHole, NightPlayer, Players, Seat};
use super::side::best_balls;
use crate::exact::{Exact, whole};
use crate::facts::{AbsentTerms, Hole};
use crate::handicap::playing::match_strokes;
use crate::ids::MemberId;
use crate::scoring::strokes_received::strokes_received;
use crate::units::{HoleNumber, Strokes};
use std::collections::HashMap;

/// What decides a match, beside its stakes.
#[derive(Clone, Copy, Debug)]
pub struct BallTerms {
    /// Whether strokes received come off.
    pub is_net: bool,
    /// The balls of a side.
    pub of: usize,
    /// How many of them count on holes of par 3, 4, 5 and 6.
    pub counts: [usize; 4],
    pub absent: AbsentTerms,
}

impl BallTerms {
    fn count_on(&self, hole: &Hole) -> usize {
        let n = usize::from(hole.par.get().saturating_sub(3));
        self.counts.get(n).or(self.counts.last()).copied().unwrap_or(1)
    }
}

/// Whether a player plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// There is no card yet.
    Expected,
    Plays,
    Absent,
    /// Absent, and a score stands in.
    StandIn,
    Disqualified,
}

impl Presence {
    /// Returns the word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Expected => "expected",
            Self::Plays => "plays",
            Self::Absent => "absent",
            Self::StandIn => "stand_in",
            Self::Disqualified => "disqualified",
        }
    }
}

/// One ball of a match.
#[derive(Clone, Debug, PartialEq)]
pub struct Ball {
    pub seat: Seat,
    pub presence: Presence,
    pub playing_handicap: Option<i32>,
    /// Strokes received hole by hole.
    pub received: Vec<i32>,
    /// What was scored hole by hole; `None`: nothing, or not yet.
    pub gross: Vec<Option<u8>>,
    /// What competes: the gross less the strokes received, or a stand-in's score.
    pub net: Vec<Option<Exact>>,
    /// Holes that a card in play has not come to.
    open: Vec<bool>,
}

/// One hole of a match.
#[derive(Clone, Debug, PartialEq)]
pub struct MatchHoleSeen {
    /// Its number on the card.
    pub number: HoleNumber,
    pub a: Option<Exact>,
    pub b: Option<Exact>,
    /// Who won it; `None`: tied, or open.
    pub winner: Option<Side>,
    /// Whether both sides are through it.
    pub is_played: bool,
    pub conceded_by: Option<Side>,
}

/// One match, ball by ball and hole by hole.
#[derive(Clone, Debug, PartialEq)]
pub struct MatchSeen {
    pub a: Vec<Ball>,
    pub b: Vec<Ball>,
    pub holes: Vec<MatchHoleSeen>,
    pub pairing: Pairing,
}

impl MatchSeen {
    /// Returns the net totals of both sides over all their balls; `None` where a ball has none.
    pub fn totals(&self) -> [Option<Exact>; 2] {
        [&self.a, &self.b].map(|side| side.iter().flat_map(|ball| &ball.net).copied().sum())
    }
}

/// What was conceded in a match: holes by their number on the card, and the match.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ConcededInMatch {
    pub holes: Vec<(HoleNumber, Side)>,
    pub given_up: Option<Side>,
}

/// The night of a match: what all matches of it share.
#[derive(Clone, Copy, Debug)]
pub struct MatchNight<'n> {
    /// The holes from the event's own tee.
    pub holes: &'n [Hole],
    /// Whether who has no card is absent.
    pub is_final: bool,
    pub players: &'n Players<'n>,
    /// Earlier net totals to par of a player over as many holes, the latest last.
    pub recent: &'n HashMap<MemberId, Vec<Exact>>,
}

/// Plays one match.
///
/// A side whose balls are all absent has lost by walk-over if nobody stands in for them; whoever was disqualified has no
/// score on any hole. As long as a ball is expected the match is open. Strokes are those beyond the lowest playing
/// handicap of the match; with a stand-in all have their full strokes, since its score is net.
///
/// # Source
/// Rules of Golf, Rules 3.2 and 23 (a side may be represented by one partner); Rules of Handicapping, Appendix C.
/// Stand-ins and walk-overs: common practice, no source.
pub fn play_match(
    [a, b]: [&[Seat]; 2],
    night: MatchNight<'_>,
    terms: BallTerms,
    conceded: &ConcededInMatch,
    extra: &[[Option<Strokes>; 2]],
) -> MatchSeen {
    let is_gone = |seats: &[Seat]| seats.iter().all(|seat| night.is_absent(seat));
    let nobody_came = is_gone(a) && is_gone(b);
    let stands_in = terms.absent != AbsentTerms::Forfeit && !nobody_came;
    let presence = |seat: &Seat| night.presence(seat, stands_in);
    let has_stand_in = a.iter().chain(b).any(|seat| presence(seat) == Presence::StandIn);
    let here = || a.iter().chain(b).filter(|seat| !night.is_absent(seat));
    let handicaps: Vec<i32> = here().filter_map(|seat| Some(night.player(seat)?.playing_handicap)).collect();
    let mut given = if has_stand_in { handicaps } else { match_strokes(&handicaps) }.into_iter();
    let mut balls = |seats: &[Seat]| -> Vec<Ball> {
        let ball = |seat: &Seat| {
            let plays_off = !night.is_absent(seat) && night.player(seat).is_some();
            let strokes = if plays_off { given.next() } else { None };
            night.ball(seat, presence(seat), strokes.filter(|_| terms.is_net).unwrap_or(0), terms.absent)
        };
        seats.iter().map(ball).collect()
    };
    let (a, b) = (balls(a), balls(b));
    let mut holes: Vec<MatchHoleSeen> = night
        .holes
        .iter()
        .enumerate()
        .map(|(h, hole)| {
            let is_open = a.iter().chain(&b).any(|ball| ball.open[h]);
            let of_side = |side: &[Ball]| {
                let count = terms.count_on(hole);
                best_balls(side.iter().map(|ball| ball.net[h]), count, Better::Lower).filter(|_| !is_open)
            };
            let conceded = conceded.holes.iter().find(|(number, _)| *number == hole.number);
            MatchHoleSeen {
                number: hole.number,
                a: of_side(&a),
                b: of_side(&b),
                winner: None,
                is_played: !is_open || conceded.is_some(),
                conceded_by: conceded.map(|(_, by)| *by),
            }
        })
        .collect();
    let pairing = pairing(
        &a,
        &b,
        &mut holes,
        conceded.given_up,
        |side, hole| {
            let [of_a, of_b] = extra.get(hole)?;
            let (ball, gross) = match side {
                Side::A => (a.first()?, (*of_a)?),
                Side::B => (b.first()?, (*of_b)?),
            };
            let received = ball.received.get(hole % ball.received.len().max(1)).copied().unwrap_or(0);
            Some(whole(gross.get()) - whole(received))
        },
        extra.len(),
    );
    MatchSeen { a, b, holes, pairing }
}

fn pairing(
    a: &[Ball],
    b: &[Ball],
    holes: &mut [MatchHoleSeen],
    given_up: Option<Side>,
    extra: impl Fn(Side, usize) -> Option<Exact>,
    extra_holes: usize,
) -> Pairing {
    let has = |side: &[Ball], presences: &[Presence]| side.iter().any(|ball| presences.contains(&ball.presence));
    let plays = |side: &[Ball]| has(side, &[Presence::Plays, Presence::StandIn]);
    let is_expected = |side: &[Ball]| !plays(side) && has(side, &[Presence::Expected]);
    let is_out = |side: &[Ball]| has(side, &[Presence::Disqualified]);
    if given_up.is_none() && !is_expected(a) && !is_expected(b) {
        let without_play = match (plays(a), plays(b)) {
            (true, true) => None,
            (true, false) if is_out(b) => Some(Pairing::Disqualified { winner: Some(Side::A) }),
            (false, true) if is_out(a) => Some(Pairing::Disqualified { winner: Some(Side::B) }),
            (true, false) => Some(Pairing::WalkOver { present: Side::A }),
            (false, true) => Some(Pairing::WalkOver { present: Side::B }),
            (false, false) if is_out(a) || is_out(b) => Some(Pairing::Disqualified { winner: None }),
            (false, false) => Some(Pairing::NobodyCame),
        };
        if let Some(pairing) = without_play {
            for hole in holes {
                hole.is_played = false;
            }
            return pairing;
        }
    }
    if let Some(by) = given_up {
        for hole in holes.iter_mut().filter(|hole| !hole.is_played || hole.of(by).is_none()) {
            hole.is_played = true;
            hole.conceded_by.get_or_insert(by);
        }
    }
    let played: Vec<usize> = (0..holes.len()).filter(|h| holes[*h].is_played).collect();
    let mut scores: [Vec<Option<Exact>>; 2] =
        [Side::A, Side::B].map(|side| played.iter().map(|h| holes[*h].of(side)).collect());
    let conceded: Vec<Concession> = (1..)
        .zip(&played)
        .filter_map(|(place, h)| Some(Concession { hole: place, by: holes[*h].conceded_by? }))
        .collect();
    for (h, winner) in played.iter().zip(hole_winners(&scores[0], &scores[1], &conceded)) {
        holes[*h].winner = winner;
    }
    if played.len() == holes.len() && given_up.is_none() {
        for (list, side) in scores.iter_mut().zip([Side::A, Side::B]) {
            list.extend((0..extra_holes).map(|hole| extra(side, hole)));
        }
    }
    let [a, b] = scores;
    Pairing::Played { a, b, conceded, given_up }
}

impl MatchHoleSeen {
    fn of(&self, side: Side) -> Option<Exact> {
        match side {
            Side::A => self.a,
            Side::B => self.b,
        }
    }
}

impl MatchNight<'_> {
    fn player(&self, seat: &Seat) -> Option<&NightPlayer<'_>> {
        self.players.get(&seat.member?)
    }

    fn card(&self, seat: &Seat) -> Option<&MatchCard> {
        self.player(seat)?.card.as_ref()
    }

    fn is_absent(&self, seat: &Seat) -> bool {
        seat.is_absent || (self.is_final && self.card(seat).is_none())
    }

    fn presence(&self, seat: &Seat, stands_in: bool) -> Presence {
        match self.card(seat) {
            _ if self.is_absent(seat) && stands_in => Presence::StandIn,
            _ if self.is_absent(seat) => Presence::Absent,
            None => Presence::Expected,
            Some(card) if card.is_out => Presence::Disqualified,
            Some(_) => Presence::Plays,
        }
    }

    fn ball(&self, seat: &Seat, presence: Presence, strokes: i32, absent: AbsentTerms) -> Ball {
        let player = self.player(seat);
        let playing_handicap = player.map(|player| player.playing_handicap);
        let own_holes = player.map_or(self.holes, |player| player.holes);
        let stroke_indexes: Vec<u8> = own_holes.iter().map(|hole| hole.stroke_index.get()).collect();
        let received = strokes_received(strokes, &stroke_indexes);
        let card = self.card(seat).filter(|_| presence == Presence::Plays);
        let on_card = |h: usize| card.and_then(|card| card.holes.get(h).copied());
        let gross: Vec<Option<u8>> = (0..self.holes.len())
            .map(|h| match on_card(h) {
                Some(MatchHole::Scored(strokes)) => Some(strokes),
                Some(MatchHole::Open | MatchHole::Unscored) | None => None,
            })
            .collect();
        let net = match presence {
            Presence::StandIn => self.stand_in(seat, absent),
            _ => {
                gross.iter().zip(&received).map(|(gross, off)| gross.map(|gross| whole(gross) - whole(*off))).collect()
            }
        };
        let is_open = |h| presence == Presence::Expected || on_card(h) == Some(MatchHole::Open);
        Ball {
            seat: *seat,
            presence,
            playing_handicap,
            received,
            gross,
            net,
            open: (0..self.holes.len()).map(is_open).collect(),
        }
    }

    fn stand_in(&self, seat: &Seat, absent: AbsentTerms) -> Vec<Option<Exact>> {
        let stand_in = match absent {
            AbsentTerms::Forfeit => StandIn::Forfeit,
            AbsentTerms::NetParPlus { plus } => StandIn::NetParPlus(plus.0),
            AbsentTerms::OpponentToPar => StandIn::OpponentToPar,
            AbsentTerms::OwnAverage { last } => {
                let all = seat.member.and_then(|member| self.recent.get(&member)).map_or(&[][..], Vec::as_slice);
                let recent = all[all.len().saturating_sub(last.into())..].to_vec();
                StandIn::OwnAverage { recent, otherwise: whole(0) }
            }
        };
        let pars: Vec<u8> = self.holes.iter().map(|hole| hole.par.get()).collect();
        match stand_in.net_holes(&pars) {
            Some(net) => net.into_iter().map(Some).collect(),
            None => vec![None; pars.len()],
        }
    }
}
