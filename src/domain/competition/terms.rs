//! The terms of a competition in sentences, written from what is computed.

use super::allowance::Source;
use super::match_sentences::match_sentences;
use super::quota::usual_table;
use super::term::{CUSTOM, Term, term};
use crate::exact::to_text;
use crate::facts::competition::{
    Award, Basis, Competition, LastHole, Maximum, MaximumByPar, Meeting, PointsByResult, Scoring,
};
use crate::facts::counted_events::{Counted, Take};
use crate::facts::handicap_policy::{HandicapPolicy, Nines, PlaysOff};
use crate::facts::side::counts_in_words;
use crate::facts::staggered::Start;
use crate::facts::tie::Tie;
use crate::ids::EventId;

/// Writes the terms of a competition; `parts` are the names of those that it adds up, `event` names an event.
pub fn terms(competition: &Competition, parts: &[&str], event: &dyn Fn(EventId) -> String) -> Vec<Term> {
    let mut terms = Vec::new();
    if !matches!(competition.meeting, Meeting::Sum { .. }) {
        terms.push(score(&competition.score));
        terms.push(strokes(competition));
    }
    terms.push(meeting(competition, parts));
    match competition.matches() {
        Some(matches) => terms.extend(match_sentences(matches, competition)),
        None => terms.push(award(&competition.award)),
    }
    terms.push(match competition.field.flights.as_slice() {
        [] if competition.is_of_teams() => term("Field", "Teams compete; each fixture names two of them.", CUSTOM),
        [] if !competition.ranks_cards() => term("Field", "Players compete; each fixture names two of them.", CUSTOM),
        [] => term("Field", "Everybody is ranked in one table.", CUSTOM),
        flights => term("Field", format!("Ranked apart: {}. Nobody else is ranked.", flights.join(", ")), CUSTOM),
    });
    if competition.field.by_entry {
        let text =
            "An event ranks only those whose entry names this competition; a player enters until the own card is in.";
        terms.push(term("Entry", text, CUSTOM));
    }
    terms.push(counting(competition));
    terms.push(ties(competition));
    terms.extend(competition.events.as_ref().map(|named| events(named, event)));
    terms.extend(competition.start.as_ref().map(|start| staggered(start, parts)));
    terms
}

/// Writes what a season plays off, where that is not simply the league index; `frozen` is the name of the event from which on
/// nobody's index moves.
pub fn handicaps(policy: &HandicapPolicy, frozen: Option<&str>) -> Option<Term> {
    let mut text = match policy.plays_off {
        PlaysOff::Computed {} => "Players play off their league index.".to_owned(),
        PlaysOff::Declared {} => "Players play off the handicap that an organizer declared.".to_owned(),
        PlaysOff::Average { last, best, pct } => format!(
            "Players play off {pct} % of the average of the best {best} of their latest {last} differentials; below three \
             of them off the starting handicap."
        ),
    };
    if let Some(event) = frozen {
        text = format!("{text} From {event} on nobody's handicap moves.");
    }
    if let Some(limit) = policy.limit {
        text = format!("{text} Nobody receives more than {limit} strokes, over nine holes half of that.");
    }
    if policy.nines == Nines::Double {
        text = format!("{text} A nine-hole differential counts twice, as one of 18 holes.");
    }
    (*policy != HandicapPolicy::default()).then(|| term("Handicap", text, CUSTOM))
}

fn staggered(start: &Start, parts: &[&str]) -> Term {
    let table: Vec<String> = start.table.iter().map(|strokes| to_text(strokes.0)).collect();
    let text = format!(
        "Players start with strokes to par by their place in {} before the first event: {}; whoever is not among those \
         starts as the last of them. Scores to par are added.",
        parts.last().copied().unwrap_or("another table"),
        table.join(", ")
    );
    term("Start", text, CUSTOM)
}

fn events(named: &[Counted], event: &dyn Fn(EventId) -> String) -> Term {
    let result = |counted: &Counted| {
        let names: Vec<String> = counted.event_ids.iter().map(|id| event(*id)).collect();
        let together = match (names.len(), counted.take) {
            (0 | 1, _) => "",
            (_, Take::Sum) => ", added up as one result",
            (_, Take::Best) => ", of which the best is the result",
        };
        let weight = to_text(counted.weight.0);
        let weight = if weight == "1" { String::new() } else { format!(", times {weight}") };
        format!("{}{together}{weight}", names.join(" and "))
    };
    let all: Vec<String> = named.iter().map(result).collect();
    term("Events", format!("{}. No other event counts.", all.join("; ")), CUSTOM)
}

fn table(table: &PointsByResult) -> String {
    let entry = |(result, points): (&i32, &i32)| {
        let result = match result {
            0 => "par".to_owned(),
            under if *under < 0 => format!("{} under", -under),
            over => format!("{over} over"),
        };
        format!("{result} {points}")
    };
    table.iter().map(entry).collect::<Vec<_>>().join(", ")
}

fn score(score: &Scoring) -> Term {
    let head = "Score";
    match score {
        Scoring::Strokes {} => term(head, "Strokes: the fewest win.", "Rules of Golf, Rule 3.3"),
        Scoring::Points { table: None } => {
            let text = "Stableford points: 2 for par, 1 more or less for each stroke under or over, none below 0. The most win.";
            term(head, text, "Rules of Golf, Rule 21.1")
        }
        Scoring::Points { table: Some(points) } => {
            let text = format!(
                "Points for each hole: {}; the fewest for a hole without a score. The most win.",
                table(points)
            );
            term(head, text, CUSTOM)
        }
        Scoring::ParBogey {} => {
            let text = "Each hole is won below par and lost above it or without a score. Holes won less holes lost.";
            term(head, text, "Rules of Golf, Rule 21.3")
        }
        Scoring::MaximumScore { maximum } => {
            let maximum = match maximum {
                Maximum::ByPar(MaximumByPar::DoublePar) => "twice its par".to_owned(),
                Maximum::ByPar(MaximumByPar::NetDoubleBogey) => "net double bogey".to_owned(),
                Maximum::OverPar { over_par } => format!("{over_par} over par"),
                Maximum::Fixed(strokes) => format!("{strokes} strokes"),
            };
            let text = format!("Strokes, each hole at most {maximum}. The fewest win.");
            term(head, text, "Rules of Golf, Rule 21.2")
        }
        Scoring::Quota { base, table: own } => {
            let points = table(own.as_ref().unwrap_or(&usual_table()));
            let text = format!(
                "Gross points ({points}) less {base} minus the playing handicap; over nine holes half of {base}. The most win.",
            );
            term(head, text, "from memory")
        }
    }
}

fn strokes(competition: &Competition) -> Term {
    let (pct, source) = competition.allowance();
    match competition.basis {
        Basis::Gross => term("Strokes received", "None: the gross score competes.", CUSTOM),
        Basis::Net => {
            let mut text = format!("{} per cent of the unrounded course handicap, rounded once.", pct.get());
            if !competition.ranks_cards() {
                text.push_str(" In a match the lowest of its players plays off none, the others off the difference.");
            }
            let source = match source {
                Some(Source::AppendixC) => "Rules of Handicapping, Appendix C",
                Some(Source::Custom) | None => CUSTOM,
            };
            term("Strokes received", text, source)
        }
    }
}

fn meeting(competition: &Competition, parts: &[&str]) -> Term {
    let text = match &competition.meeting {
        Meeting::Field {} => "Each event ranks the scores of all.".to_owned(),
        Meeting::Match(terms) if competition.side.balls() > 1 => format!(
            "Two teams meet in {}, hole by hole: {} players a side, each with an own ball, of which {} count.",
            if terms.matches == 1 { "one match".to_owned() } else { format!("{} matches", terms.matches) },
            competition.side.balls(),
            counts_in_words(competition.side.counts())
        ),
        Meeting::Match(terms) if terms.matches == 1 => "Two players meet in a match, hole by hole.".to_owned(),
        Meeting::Match(terms) => {
            format!("Two teams meet in {} matches of single players, hole by hole.", terms.matches)
        }
        Meeting::Hole { carry, last } => {
            let tied = match (carry, last) {
                (false, _) => "A hole that several are best on is nobody’s.",
                (true, LastHole::Split) => {
                    "A hole that several are best on is played for on the next one too; what hangs on the last is shared."
                }
                (true, LastHole::Void) => {
                    "A hole that several are best on is played for on the next one too; what hangs on the last is nobody’s."
                }
            };
            format!("Skins: each hole goes to the one player who is best on it. {tied}")
        }
        Meeting::Season {} => "The best of each hole over the season’s events is added up.".to_owned(),
        Meeting::Sum { .. } => format!("The values of other competitions, event by event: {}.", parts.join(", ")),
    };
    term("Meeting", text, "common practice, no source")
}

fn award(award: &Award) -> Term {
    let text = match award {
        Award::ByScore {} => "An event is worth its score.".to_owned(),
        Award::ByPoints {} => "An event is worth the skins won.".to_owned(),
        Award::ByPlace { table, beyond } => {
            let points: Vec<String> = table.iter().map(|points| to_text(points.0)).collect();
            let beyond = to_text(beyond.0);
            format!(
                "Points by place: {}; {beyond} for every place after that. Those level share the points of their places.",
                points.join(", "),
            )
        }
    };
    term("Worth", text, CUSTOM)
}

fn counting(competition: &Competition) -> Term {
    let counting = competition.counting;
    let who = if competition.is_of_teams() { "Teams" } else { "Players" };
    let mut text = match counting.best {
        None => "Every event counts.".to_owned(),
        Some(best) => format!("The best {best} events count."),
    };
    if counting.drop_worst > 0 {
        text.push_str(&format!(" The worst {} of those drop.", counting.drop_worst));
    }
    if counting.minimum > 0 {
        text.push_str(&format!(" {who} are ranked after {} events.", counting.minimum));
    }
    term("Season", text, CUSTOM)
}

fn ties(competition: &Competition) -> Term {
    let mut ways: Vec<&str> = Vec::new();
    for tie in &competition.ties {
        ways.push(match tie {
            Tie::Countback => continue,
            Tie::Firsts => "more first places",
            Tie::BestValues => "the best value, then the next best and so on",
            Tie::HeadToHead => "what the fixtures among them were worth, if all of them met equally often",
            Tie::Won => "more fixtures won",
            Tie::Points => "more points of fixtures",
        });
    }
    let who = if competition.is_of_teams() { "Teams" } else { "Players" };
    let mut text = match ways.as_slice() {
        [] => format!("{who} level in the table share the position."),
        ways => {
            format!("{who} level in the table are separated by {}; if still level they share it.", ways.join(", then "))
        }
    };
    if competition.counts_back() {
        text.insert_str(0, "Level scores of an event compare the last 9, 6, 3 and 1 holes. ");
    }
    term("Ties", text, "Rules of Golf, Committee Procedures, section 7")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(body: &str) -> Vec<String> {
        let competition: Competition = serde_json::from_str(body).unwrap();
        terms(&competition, &["Net", "Gross"], &|id| format!("Night {}", id.0.as_u128()))
            .into_iter()
            .map(|term| term.text)
            .collect()
    }

    #[test]
    fn terms_say_what_is_computed() {
        let usual = of(r#"{"name": "Net"}"#);
        assert_eq!(usual[1], "95 per cent of the unrounded course handicap, rounded once.");
        assert_eq!(usual[5], "Every event counts.");
        let skins = of(r#"{"name": "Skins", "basis": "gross", "meeting": {"kind": "hole", "carry": false}}"#);
        assert_eq!(skins[1], "None: the gross score competes.");
        assert!(skins[2].ends_with("A hole that several are best on is nobody’s."), "{skins:?}");
        assert_eq!(skins[3], "An event is worth the skins won.");
        let places =
            of(r#"{"name": "P", "award": {"kind": "by_place", "table": [5, 2.5], "beyond": 1}, "ties": ["countback"],
                "counting": {"best": 4, "drop_worst": 1, "minimum": 3}}"#);
        assert!(places[3].starts_with("Points by place: 5, 2.5; 1 for every place after that."), "{places:?}");
        assert_eq!(places[5], "The best 4 events count. The worst 1 of those drop. Players are ranked after 3 events.");
        assert!(places[6].contains("the last 9, 6, 3 and 1 holes"), "{places:?}");
        let [one, two, three] = [1, 2, 3].map(uuid::Uuid::from_u128);
        let named = of(&format!(
            r#"{{"name": "E", "events": [{{"event_ids": ["{one}"], "weight": 1.5}},
                {{"event_ids": ["{two}", "{three}"], "take": "best"}}]}}"#
        ));
        let due = "Night 1, times 1.5; Night 2 and Night 3, of which the best is the result. No other event counts.";
        assert_eq!(named[7], due);
        let sum = of(r#"{"name": "S", "meeting": {"kind": "sum", "of": []}}"#);
        assert_eq!(sum[0], "The values of other competitions, event by event: Net, Gross.");
    }
}
