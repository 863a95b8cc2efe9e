//! The life of a round: what was said of it after it came in, and where it stands for it.

use super::entry::RoundState;
use crate::facts::ruling::Decision;

/// Everything that decides where a round stands.
///
/// A card for another member waits for that member or an organizer; a card after the closing time waits for an
/// organizer. Rulings undo one another from the latest: a reinstatement takes back the last one in effect.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Life {
    /// It was handed in by another player.
    pub is_proposed: bool,
    /// It was handed in after closing.
    pub is_late: bool,
    is_accepted: bool,
    is_attested: bool,
    is_withdrawn: bool,
    in_effect: Vec<Decision>,
}

impl Life {
    /// Begins with a round as it came in.
    pub fn new(is_proposed: bool, is_late: bool) -> Self {
        Self { is_proposed, is_late, ..Self::default() }
    }

    /// Returns where the round stands.
    pub fn state(&self) -> RoundState {
        if self.is_withdrawn {
            RoundState::Withdrawn
        } else if self.in_effect.contains(&Decision::ExcludeRound) {
            RoundState::Excluded
        } else if self.is_late && !self.is_accepted {
            RoundState::Late
        } else if self.is_proposed && !self.is_accepted {
            RoundState::Proposed
        } else if self.is_attested {
            RoundState::Attested
        } else {
            RoundState::Submitted
        }
    }

    /// Returns whether its putts count for no putting figure.
    pub fn are_putts_excluded(&self) -> bool {
        self.in_effect.contains(&Decision::ExcludePutts)
    }

    /// Takes in that the card was accepted; `false`: it did not wait for that.
    pub fn accept(&mut self) -> bool {
        let waits = (self.is_late || self.is_proposed) && !self.is_accepted;
        self.is_accepted |= waits;
        waits
    }

    /// Takes in that another member attests the card as it is now.
    pub fn attest(&mut self) {
        self.is_attested = true;
    }

    /// Takes in that the card is another one now: what was attested was the old one.
    pub fn replace_card(&mut self) {
        self.is_attested = false;
    }

    /// Takes in that the round was taken back.
    pub fn withdraw(&mut self) {
        self.is_withdrawn = true;
    }

    /// Takes in a ruling; `None`: there is nothing that it could do. Returns the ruling that a reinstatement undoes.
    pub fn rule(&mut self, decision: Decision) -> Option<Option<Decision>> {
        match decision {
            Decision::ExcludeRound | Decision::ExcludePutts if self.in_effect.contains(&decision) => None,
            Decision::NoAction => None,
            Decision::Correct | Decision::ExcludeRound | Decision::ExcludePutts => {
                self.in_effect.push(decision);
                Some(None)
            }
            Decision::Reinstate => self.in_effect.pop().map(Some),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Decision::{Correct, ExcludeRound, Reinstate};

    #[test]
    fn a_late_card_waits_for_an_organizer_even_if_it_is_proposed() {
        let mut life = Life::new(true, true);
        assert_eq!(life.state(), RoundState::Late);
        assert!(life.accept());
        assert_eq!(life.state(), RoundState::Submitted);
        assert!(!life.accept(), "a card is accepted once");
        assert!(!Life::new(false, false).accept(), "a card handed in on time waits for nothing");
    }

    #[test]
    fn rulings_undo_one_another_from_the_latest() {
        let mut life = Life::new(false, false);
        life.attest();
        assert_eq!(life.rule(Reinstate), None, "nothing to undo");
        assert_eq!(life.rule(Correct), Some(None));
        assert_eq!(life.rule(ExcludeRound), Some(None));
        assert_eq!(life.rule(ExcludeRound), None, "it is excluded");
        assert_eq!(life.state(), RoundState::Excluded);
        assert_eq!(life.rule(Reinstate), Some(Some(ExcludeRound)));
        assert_eq!(life.state(), RoundState::Attested);
        assert_eq!(life.rule(Reinstate), Some(Some(Correct)));
        assert_eq!(life.rule(Reinstate), None);
    }

    #[test]
    fn a_withdrawn_round_stays_withdrawn() {
        let mut life = Life::new(true, false);
        life.withdraw();
        life.attest();
        assert_eq!(life.state(), RoundState::Withdrawn);
    }
}
