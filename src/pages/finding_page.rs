//! What the page of a finding shows, as far as the viewer's seat allows.

use super::ask::Question;
use super::door::ShownCode;
use super::form::Form;
use super::masked::{letter, masked};
use super::names::Names;
use super::{Frame, charts, faults, page_with};
use crate::domain::audit::ledger::About;
use crate::domain::audit::{Picture, title};
use crate::domain::facts::{Decision, Opinion, Setup};
use crate::domain::ids::{LeagueId, MemberId, RoundId};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::Caller;
use crate::league::finding::desk::{Desk, DeskRound, Sight};
use crate::league::finding::views::{ConcernedView, FindingView, RulingView};
use crate::pages::fields::is_beyond_typing;
use crate::pages::words;
use crate::storage::documents::SETUPS;
use askama::Template;
use uuid::Uuid;

/// The page of a finding.
#[derive(Template)]
#[template(path = "finding.html")]
pub struct FindingPage {
    /// What is around it.
    pub frame: Frame,
    finding: FindingView,
    desk: Desk,
    names: Names,
    /// The label of the set-up that it is about.
    setup: Option<String>,
    key: String,
    /// What was typed: the form is told by its field `form`.
    pub typed: Form,
    /// What a ruling would do.
    pub preview: Option<RulingView>,
    /// The code for a reviewer from outside, shown once.
    pub code: Option<ShownCode>,
    /// What is wrong, with the field that it is wrong in.
    faults: Vec<(&'static str, String)>,
}

/// A ruling on the finding that can be undone, with the rounds that it holds in effect.
struct InEffect<'a> {
    ruling: Uuid,
    decision: Decision,
    rounds: Vec<&'a RoundId>,
}

fn decision_words(decision: Decision) -> &'static str {
    match decision {
        Decision::NoAction => "Dismissed; evidence is collected afresh",
        Decision::ExcludePutts => "The putts are excluded from putting figures",
        Decision::ExcludeRound => "The rounds are excluded from all results",
        Decision::Reinstate => "The ruling is undone",
        Decision::Correct => "The card is corrected",
    }
}

fn opinion_words(opinion: Opinion) -> &'static str {
    match opinion {
        Opinion::UnfairCause => "an unfair cause is likely",
        Opinion::HonestCause => "an honest cause is likely",
        Opinion::CannotSay => "cannot say",
    }
}

/// Reads the page of a finding, as its viewer may see it.
///
/// # Errors
/// A finding that is not the viewer's to know of.
pub async fn read(app: &App, caller: Caller, id: Uuid) -> Result<FindingPage, Problem> {
    let (finding, desk) = app.leagues.finding_on_desk(caller, id).await?;
    let (mut names, mut setup) = (Names::default(), None);
    // An outside reviewer sees the finding and nothing else of the league: no frame, no names.
    let frame = match desk.sight {
        Sight::Outside => Frame::of(app, caller).await?,
        Sight::Own | Sight::NoNames | Sight::All => Frame::in_league(app, caller, desk.league).await?,
    };
    if desk.sight != Sight::Outside {
        names = Names::of(app, caller, desk.league).await?;
        if let About::Setup(id) = finding.report.subject {
            setup = Some(app.leagues.document::<Setup>(caller, &SETUPS, id.0).await?.body.label);
        }
    }
    let (key, typed) = (Uuid::new_v4().to_string(), Form::default());
    Ok(FindingPage { frame, finding, desk, names, setup, key, typed, preview: None, code: None, faults: Vec::new() })
}

/// Shows the page again with what was wrong and everything that was typed.
///
/// # Errors
/// A problem that no other typing would mend.
pub async fn again(app: &App, caller: Caller, id: Uuid, form: Form, problem: Problem) -> Answer {
    if is_beyond_typing(&problem) {
        return Err(problem);
    }
    let mut shown = read(app, caller, id).await?;
    let field = |pointer: &str| match pointer.split('/').nth(1).unwrap_or_default() {
        "decision" => "decision",
        "round_ids" => "rounds",
        "reason" => "reason",
        "opinion" => "opinion",
        "due_at" => "due_on",
        "text" => "text",
        _ => "",
    };
    let places = problem.errors().iter().map(|error| field(&error.pointer)).chain([""]);
    shown.faults = places.zip(faults::all(&problem)).collect();
    shown.typed = form;
    page_with(problem.status(), &shown)
}

impl FindingPage {
    fn kind(&self) -> &str {
        title(self.finding.report.kind)
    }

    fn is_named(&self) -> bool {
        self.desk.sight == Sight::All
    }

    fn is_nameless(&self) -> bool {
        self.desk.sight == Sight::NoNames
    }

    fn is_own(&self) -> bool {
        self.desk.sight == Sight::Own
    }

    fn is_outside(&self) -> bool {
        self.desk.sight == Sight::Outside
    }

    fn has_stepped_aside(&self) -> bool {
        !self.is_outside() && self.finding.recusals.iter().any(|said| said.member_id == Some(self.frame.member()))
    }

    /// Whether the viewer may rule: the server has the last word.
    fn may_rule(&self) -> bool {
        (self.is_named() || self.is_outside()) && !self.has_stepped_aside()
    }

    /// The findings about set-ups that may explain this one.
    fn first_of_all(&self) -> &[Uuid] {
        self.finding.report.explained_by.as_ref().map_or(&[], |explained| &explained.finding_ids)
    }

    /// The reasons below the summary: that of the set-up stands above it.
    fn reasons(&self) -> &[String] {
        &self.finding.report.reasons[usize::from(self.finding.report.explained_by.is_some())..]
    }

    fn may_step_aside(&self) -> bool {
        (self.is_nameless() || self.is_named()) && !self.has_stepped_aside()
    }

    fn question(self, act: &str, kept: Vec<(&'static str, String)>) -> Question {
        let id = self.finding.report.id;
        Question {
            frame: self.frame,
            action: format!("/findings/{id}/{act}"),
            kept,
            back: format!("/findings/{id}"),
            ..Question::default()
        }
    }

    /// Asks an organizer who is about to step aside; `None`: the viewer cannot.
    pub fn ask_before_stepping_aside(self, form: &Form) -> Option<Question> {
        self.may_step_aside().then(|| Question {
            title: "Step aside from this finding?".into(),
            lost: vec!["You can no longer rule on this finding, and others see that you stepped aside.".into()],
            stays: vec![
                "Everything said and noted so far. Another organizer, or an outside reviewer, can rule.".into(),
            ],
            button: "Step aside".into(),
            ..self.question("recusals", vec![("key", form.text("key").to_owned())])
        })
    }

    /// Asks an organizer whose word it is that a player was told; `None`: the viewer gives no such word.
    pub fn ask_whether_told(self, form: &Form) -> Option<Question> {
        let member = form.text("member_id");
        let waits = |known: &&ConcernedView| known.member_id.to_string() == member && known.told_at.is_none();
        let known = self.finding.concerned.iter().find(waits).filter(|_| self.is_named())?.member_id;
        let name = self.player(&known);
        let kept = vec![("key", form.text("key").to_owned()), ("member_id", member.to_owned())];
        Some(Question {
            title: format!("Did you tell {name} of this finding?"),
            lost: vec![format!("The league notes that you told {name}, and the time to reply may start now.")],
            button: format!("Yes, I told {name}"),
            ..self.question("told", kept)
        })
    }

    fn letter(&self, member: MemberId) -> Option<String> {
        self.finding.concerned.iter().position(|known| known.member_id == member).map(letter)
    }

    /// Names a player, by a letter where names are not shown.
    fn player(&self, member: &MemberId) -> String {
        let name = || self.names.known(member).map(str::to_owned);
        let named = match self.desk.sight {
            Sight::All => name(),
            Sight::Own => name().filter(|_| *member == self.frame.member()),
            Sight::NoNames | Sight::Outside => self.letter(*member),
        };
        named.unwrap_or_else(|| "another player".into())
    }

    /// Names whoever said something.
    fn who(&self, member: &Option<MemberId>) -> String {
        let Some(member) = member else { return "An outside reviewer".into() };
        match self.desk.sight {
            Sight::All => self.names.known(member).unwrap_or("A former member").to_owned(),
            Sight::Own if *member == self.frame.member() => self.player(member),
            Sight::Own => "An organizer".into(),
            Sight::NoNames | Sight::Outside => self.letter(*member).unwrap_or_else(|| "An organizer".into()),
        }
    }

    /// Writes what somebody said, without names where they are not shown.
    fn said(&self, text: &str) -> String {
        if !self.is_nameless() && !self.is_outside() {
            return text.to_owned();
        }
        let named = self.desk.concerned.iter().enumerate().map(|(n, name)| (name.clone(), letter(n)));
        masked(text, &named.collect::<Vec<_>>())
    }

    fn subject(&self) -> String {
        match (&self.finding.report.subject, &self.setup) {
            (About::Player(member), _) => self.player(member),
            (About::Setup(_), Some(label)) if !self.is_nameless() => {
                format!("the simulator {label}, for everybody who putted on it")
            }
            (About::Setup(_), _) => "a simulator, for everybody who putted on it".into(),
        }
    }

    /// Without names the hour is not shown either: it is that of somebody's card.
    fn opened(&self) -> String {
        match self.is_nameless() {
            true => words::day(&self.finding.opened_at, self.frame.zone()),
            false => words::moment(&self.finding.opened_at, self.frame.zone()),
        }
    }

    fn picture(&self) -> Option<String> {
        charts::picture(&self.finding.report.picture)
    }

    fn made(&self) -> &[crate::domain::audit::MadeBand] {
        match &self.finding.report.picture {
            Picture::MadeByDistance(bands) => bands,
            Picture::Lines(_) | Picture::Counts(_) => &[],
        }
    }

    fn lines(&self) -> &[(f64, f64, f64)] {
        match &self.finding.report.picture {
            Picture::Lines(lines) => lines,
            Picture::MadeByDistance(_) | Picture::Counts(_) => &[],
        }
    }

    fn counts(&self) -> &[crate::domain::audit::Count] {
        match &self.finding.report.picture {
            Picture::Counts(counts) => counts,
            Picture::MadeByDistance(_) | Picture::Lines(_) => &[],
        }
    }

    /// The positions that would change without the rounds. Places are public, so they would give names away.
    fn positions(&self) -> &[crate::domain::season::findings::PositionMove] {
        match &self.finding.report.effect.positions {
            Some(positions) if !self.is_nameless() => positions,
            _ => &[],
        }
    }

    fn decided(&self, decision: &Decision) -> &'static str {
        decision_words(*decision)
    }

    fn holds(&self, opinion: &Option<Opinion>) -> &'static str {
        opinion.map_or("", opinion_words)
    }

    /// Writes which round it is.
    fn round(&self, n: &usize, round: &DeskRound) -> String {
        let state = match (round.state.counts(), round.are_putts_out) {
            (false, _) => format!(", {}", words::round_state(&round.state)),
            (true, true) => ", putts excluded".into(),
            (true, false) => String::new(),
        };
        match self.is_outside() {
            true => format!("Round {n}, {}{state}", self.player(&round.member)),
            false => format!("{}, {}{state}", self.player(&round.member), round.event),
        }
    }

    /// The rulings that hold rounds out, for undoing them.
    fn in_effect(&self) -> Vec<InEffect<'_>> {
        let rulings = &self.finding.rulings;
        let holds = |n: usize, round: &RoundId| {
            let later = rulings[n + 1..].iter().filter(|ruled| ruled.round_ids.contains(round));
            let mut depth = 0_i32;
            for ruled in later {
                depth += if ruled.decision == Decision::Reinstate { -1 } else { 1 };
                if depth < 0 {
                    return false;
                }
            }
            // What was ruled later is undone first.
            depth == 0
        };
        let outs = rulings.iter().enumerate().filter_map(|(n, ruled)| {
            let is_out = matches!(ruled.decision, Decision::ExcludePutts | Decision::ExcludeRound);
            let rounds: Vec<&RoundId> = ruled.round_ids.iter().filter(|round| is_out && holds(n, round)).collect();
            (!rounds.is_empty()).then_some(InEffect { ruling: ruled.id?, decision: ruled.decision, rounds })
        });
        outs.collect()
    }

    /// The league.
    pub fn league(&self) -> LeagueId {
        self.desk.league
    }

    fn is_form(&self, name: &str) -> bool {
        self.typed.text("form") == name
    }

    /// What stands in a field of a form.
    fn typed(&self, form: &str, field: &str) -> &str {
        if self.is_form(form) { self.typed.text(field) } else { "" }
    }

    fn is_typed(&self, form: &str, field: &str, value: &str) -> bool {
        self.typed(form, field) == value
    }

    /// The nights on which the cause was rather on than off; without names they are not shown, like cards.
    fn nights(&self) -> String {
        let nights = self.finding.report.nights.as_deref().filter(|_| !self.is_nameless()).unwrap_or_default();
        nights.iter().map(|night| night.strftime("%-d %b %Y").to_string()).collect::<Vec<_>>().join(", ")
    }

    /// Rounds are ticked at first, those of the nights that are named where there are such; later as they were.
    fn is_ticked(&self, round: &DeskRound) -> bool {
        if !self.is_form("ruling") {
            let nights = self.finding.report.nights.as_deref().unwrap_or_default();
            return nights.is_empty() || nights.contains(&round.played_on);
        }
        let id = round.id.to_string();
        self.typed.0.iter().any(|(name, value)| name == "round_id" && *value == id)
    }

    fn undoes(&self, ruling: &Uuid) -> bool {
        self.is_form("undo") && self.typed.text("of") == ruling.to_string()
    }

    /// What was typed, to be sent once more with the ruling.
    fn kept(&self) -> impl Iterator<Item = &(String, String)> {
        self.typed.0.iter().filter(|(name, _)| !["key", "seen", "not_yet"].contains(&name.as_str()))
    }
}
