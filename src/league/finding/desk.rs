//! The review desk: first opinions, noted before names are shown, and what was ruled on findings of the kind before.

use crate::change;
use crate::domain::facts::{Decision, Opinion};
use crate::domain::ids::{LeagueId, MemberId, RoundId};
use crate::domain::rule::Rule;
use crate::domain::season::RoundState;
use crate::league::finding::read::{Behind, Said, Seated, awaits_setup, behind, say, seated, view};
use crate::league::finding::views::{FindingView, WordView};
use crate::league::keys::{RequestKey, created};
use crate::league::memory::books::LeagueBook;
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::findings::{self, Concerned, StoredFinding, Word};
use crate::storage::idempotency::Reply;
use crate::storage::rounds::RoundRow;
use crate::storage::{Conn, StorageError};
use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

/// How much of a finding the pages show to somebody.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sight {
    /// To somebody concerned: the own part.
    Own,
    /// To an organizer without a first opinion: everything but names.
    NoNames,
    /// To an organizer with one: everything.
    All,
    /// To a reviewer from outside: this finding, without names, and nothing else of the league.
    Outside,
}

/// What stands beside a finding on the desk.
#[derive(Debug)]
pub struct Desk {
    /// The league.
    pub league: LeagueId,
    /// How much the caller is shown.
    pub sight: Sight,
    /// The names of those concerned, in their order: what was said of it is shown without them where sight has no names.
    pub concerned: Vec<String>,
    /// Whether a finding about a set-up is ruled upon before it.
    pub awaits_setup: bool,
    /// The rounds behind it, in the order received.
    pub rounds: Vec<DeskRound>,
    /// The first opinions, once the caller's own is among them.
    pub opinions: Vec<WordView>,
    /// Rulings on findings of this kind in this league, oldest first; once names are shown.
    pub earlier: Vec<EarlierRuling>,
}

/// A round behind a finding.
#[derive(Debug)]
pub struct DeskRound {
    /// Its id.
    pub id: RoundId,
    /// Whose it is.
    pub member: MemberId,
    /// The name of its event.
    pub event: String,
    /// The day on which it was played.
    pub played_on: Date,
    /// Where it stands.
    pub state: RoundState,
    /// Whether its putts are left out of putting figures.
    pub are_putts_out: bool,
}

/// A ruling on another finding of the kind.
#[derive(Debug)]
pub struct EarlierRuling {
    /// That finding.
    pub finding: Uuid,
    /// What its evidence was, as a power of ten.
    pub factor_log10: f64,
    /// What was decided.
    pub decision: Decision,
    /// How many rounds it touched.
    pub rounds: usize,
    /// Why.
    pub reason: String,
    /// When.
    pub received_at: Timestamp,
}

/// Reads what was ruled on other findings of the kind of one.
async fn earlier(conn: &mut Conn, finding: &StoredFinding) -> Result<Vec<EarlierRuling>, StorageError> {
    let all = findings::in_order(conn, finding.league).await?;
    let of_kind = |id: Uuid| {
        let known = all.iter().find(|known| known.opened.id == id)?;
        (id != finding.opened.id && known.opened.kind.name == finding.opened.kind.name).then_some(known)
    };
    let rulings = findings::all_rulings(conn, finding.league).await?;
    let earlier = rulings.into_iter().filter_map(|ruled| {
        let known = of_kind(ruled.finding?)?;
        Some(EarlierRuling {
            finding: known.opened.id,
            factor_log10: known.opened.factor_log10,
            decision: ruled.decision,
            rounds: ruled.rounds.len(),
            reason: ruled.reason,
            received_at: ruled.received_at,
        })
    });
    Ok(earlier.collect())
}

fn is_opinion_of(said: &Word, by: Option<MemberId>) -> bool {
    said.kind == "first_opinion" && said.member == by
}

/// Says whether somebody ruled on a finding: an opinion after that is no first one.
async fn has_ruled(conn: &mut Conn, finding: &StoredFinding, by: Option<MemberId>) -> Result<bool, StorageError> {
    let rulings = findings::rulings(conn, finding.league, finding.opened.id).await?;
    Ok(rulings.iter().any(|ruled| ruled.member == by))
}

/// Says how much of a finding is shown to whoever is seated.
async fn sight(conn: &mut Conn, seated: &Seated) -> Result<Sight, StorageError> {
    let Seated { finding, seat, words, .. } = seated;
    let own = seat.id();
    Ok(match own {
        None => Sight::Outside,
        Some(_) if seat.is_concerned => Sight::Own,
        Some(_) if words.iter().any(|said| is_opinion_of(said, own)) => Sight::All,
        Some(_) if has_ruled(conn, finding, own).await? => Sight::All,
        Some(_) => Sight::NoNames,
    })
}

/// Lays out what stands beside a finding for whoever is seated.
async fn desk(conn: &mut Conn, book: &LeagueBook, seated: &Seated, behind: &Behind) -> Result<Desk, StorageError> {
    let Seated { finding, seat, concerned, words } = seated;
    let (sight, own) = (sight(conn, seated).await?, seat.id());
    let name = |event| book.book.nights.get(&event).map_or_else(String::new, |night| night.event.name.clone());
    let named = |known: &Concerned| book.book.members.get(&known.member).map(|member| member.display_name.clone());
    let is_shown = |row: &&RoundRow| sight != Sight::Own || Some(row.member) == own;
    let rounds = behind.rows.iter().filter(is_shown).map(|row| DeskRound {
        id: row.id,
        member: row.member,
        event: name(row.event),
        played_on: row.played_on,
        state: row.state,
        are_putts_out: row.are_putts_excluded,
    });
    let is_open = sight == Sight::All;
    let opinions = words.iter().filter(|said| is_open && said.kind == "first_opinion");
    Ok(Desk {
        league: finding.league,
        sight,
        concerned: concerned.iter().map(|known| named(known).unwrap_or_default()).collect(),
        awaits_setup: awaits_setup(conn, finding, behind).await?,
        rounds: rounds.collect(),
        opinions: opinions.cloned().map(WordView::from).collect(),
        earlier: if is_open { earlier(conn, finding).await? } else { Vec::new() },
    })
}

impl Leagues {
    /// Reads a finding with what the pages show beside it; notes that somebody concerned has looked.
    ///
    /// # Errors
    /// A finding that is not the caller's to know of.
    pub async fn finding_on_desk(&self, caller: Caller, id: Uuid) -> Result<(FindingView, Desk), Refusal> {
        self.look_at(caller, id).await?;
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let seated = seated(&mut conn, caller, id).await?;
        let book = self.books.of(&mut conn, seated.finding.league).await?;
        let behind = behind(&mut conn, &book, &seated.finding).await?;
        let desk = desk(&mut conn, &book, &seated, &behind).await?;
        Ok((view(&self.fields, &mut conn, &book, &seated, &behind).await?, desk))
    }

    /// Reads whose finding it is, and how much of it the pages show to the caller.
    ///
    /// # Errors
    /// A finding that is not the caller's to know of.
    pub async fn finding_sight(&self, caller: Caller, id: Uuid) -> Result<(LeagueId, Sight), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let seated = seated(&mut conn, caller, id).await?;
        Ok((seated.finding.league, sight(&mut conn, &seated).await?))
    }

    /// Notes what an organizer thinks of a finding before knowing whom it is about.
    ///
    /// # Errors
    /// Anybody but an organizer whom it does not concern; a second one; one after an own ruling.
    pub async fn note_first_opinion(
        &self,
        key: RequestKey,
        id: Uuid,
        opinion: Opinion,
        text: String,
    ) -> Result<Reply, Refusal> {
        change!(self, id, |conn| {
            let Seated { finding, seat, words, .. } = seated(conn, key.caller, id).await?;
            seat.may_rule()?;
            let Some(by) = seat.id() else {
                return Err(Refusal::Forbidden("a reviewer sees no names and notes no first opinion"));
            };
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            if words.iter().any(|said| is_opinion_of(said, Some(by))) {
                return Err(Refusal::conflict(
                    Rule::InvalidTransition,
                    "your first opinion is noted, and stays the first",
                ));
            }
            if has_ruled(conn, &finding, Some(by)).await? {
                let detail = "you ruled on this finding: an opinion after that is no first one";
                return Err(Refusal::conflict(Rule::InvalidTransition, detail));
            }
            let said = Said { text, due_at: None, opinion: Some(opinion) };
            let said = say(conn, &key, &finding, "first_opinion", Some(by), said).await?;
            key.keep(conn, created(format!("/findings/{id}"), 1, &WordView::from(said))).await
        })
    }
}
