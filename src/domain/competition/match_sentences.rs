//! The terms of matches in sentences.

use super::term::{CUSTOM, Term, term};
use crate::exact::{Value, to_text, whole};
use crate::facts::match_terms::MatchPoints;
use crate::facts::{AbsentTerms, Competition, MatchTerms, Share, TiedMatch};

/// Writes what is at stake in a fixture, and what becomes of a tied match, a walk-over, a bye and an absent player.
pub fn match_sentences(terms: &MatchTerms, competition: &Competition) -> Vec<Term> {
    let mut sentences = vec![worth(terms), tied(terms), walk_over(terms), absent(competition.absent)];
    if competition.is_of_teams() {
        let substitutes = competition.substitutes;
        let text = match (substitutes.allowed, substitutes.most) {
            (false, _) => "Nobody plays in a member’s place.".to_owned(),
            (true, None) => "Somebody of no team may play in a member’s place.".to_owned(),
            (true, Some(most)) => {
                format!("Somebody of no team may play in a member’s place, on at most {most} nights of the season.")
            }
        };
        sentences.push(term("Substitutes", text, CUSTOM));
    }
    sentences
}

fn worth(terms: &MatchTerms) -> Term {
    let MatchPoints { per_hole, per_match, per_nine, per_total } = terms.points;
    let stakes = [
        (per_hole, "for each hole won"),
        (per_nine, "for each nine of 18 holes won"),
        (per_match, "for each match won"),
        (per_total, "for the lower net total of all matches"),
    ];
    let stakes = stakes.into_iter().filter(|(Value(points), _)| *points > whole(0));
    let stakes: Vec<String> = stakes.map(|(points, what)| format!("{} {what}", to_text(points.0))).collect();
    let mut text = format!("A fixture has points: {}. What is tied gives half to each.", stakes.join(", "));
    match terms.result {
        None => text.push_str(" The table adds them up."),
        Some([won, tied, lost]) => text.push_str(&format!(
            " Whoever has more wins the fixture: the table counts {} for one won, {} for one tied, {} for one lost.",
            to_text(won.0),
            to_text(tied.0),
            to_text(lost.0)
        )),
    }
    if terms.bye.0 > whole(0) {
        text.push_str(&format!(" A bye counts {}.", to_text(terms.bye.0)));
    }
    term("Worth", text, CUSTOM)
}

fn tied(terms: &MatchTerms) -> Term {
    let text = match terms.tied {
        TiedMatch::Half => "A match that is tied after its holes is shared.",
        TiedMatch::ExtraHoles => "A match that is tied after its holes goes on from the first one until a hole is won.",
    };
    term("Tied match", text, "Rules of Golf, Rule 3.2a")
}

fn walk_over(terms: &MatchTerms) -> Term {
    let share = |share: Share| if share == Share::All { "all of them" } else { "half of them" };
    let text = format!(
        "Whoever has a walk-over gets the points of the match, {} of the holes, and {} of the lower total; the other side \
         gets the rest.",
        share(terms.walk_over.per_hole),
        share(terms.walk_over.per_total)
    );
    term("Walk-over", text, CUSTOM)
}

fn absent(terms: AbsentTerms) -> Term {
    let text = match terms {
        AbsentTerms::Forfeit => "The opponent of a player who does not come has a walk-over.".to_owned(),
        AbsentTerms::NetParPlus { plus: Value(plus) } if plus == whole(0) => {
            "Net par on each hole plays for a player who does not come.".to_owned()
        }
        AbsentTerms::NetParPlus { plus: Value(plus) } => {
            format!("Net par and {} on each hole play for a player who does not come.", to_text(plus))
        }
        AbsentTerms::OwnAverage { last } => format!(
            "The average of the player’s own last {last} net totals to par, spread over the holes, plays for a player who \
             does not come."
        ),
        AbsentTerms::OpponentToPar => "The opponent of a player who does not come plays against net par.".to_owned(),
    };
    term("Absent players", text, CUSTOM)
}
