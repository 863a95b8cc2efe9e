//! Findings: read, answer, rule. Nobody but organizers, those concerned and a finding's reviewers learns that there is one.

use super::access;
use super::books::LeagueBook;
use super::changes::{self, Cause, Move};
use super::evidence;
use super::keys::{RequestKey, created};
use super::notices::{self, About as NoticeAbout, Tells};
use super::records::Records;
use super::rounds::entry;
use super::{Caller, Leagues, Refusal, derive};
use crate::change;
use crate::domain::audit::ledger::{About, Ledger};
use crate::domain::audit::{Picture, RoundReadings, Said, State, says};
use crate::domain::facts::{Decision, Fault, Role};
use crate::domain::ids::{EventId, LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::season::record::member_record;
use crate::domain::season::{Figures, RoundState};
use crate::domain::standings::table::{LeagueIndexes, season_table};
use crate::storage::db::Value;
use crate::storage::evidence as stored_evidence;
use crate::storage::findings::{self, Concerned, Ruled, StoredFinding, Word};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::members::{self, StoredMember};
use crate::storage::rounds::RoundRow;
use crate::storage::{Conn, StorageError, documents, leagues, results, rounds};
use crate::{sql, values};
use jiff::{SignedDuration, Timestamp};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Where somebody stands towards a finding.
struct Seat {
    /// The caller's record; none for a reviewer from outside.
    member: Option<StoredMember>,
    /// Whether the finding concerns the caller.
    is_concerned: bool,
    /// Whether the caller stepped aside.
    is_recused: bool,
}

impl Seat {
    fn is_organizer(&self) -> bool {
        self.member.as_ref().is_some_and(|member| member.member.role == Role::Organizer)
    }

    /// Organizers and reviewers see everybody; those concerned see themselves alone.
    fn sees_all(&self) -> bool {
        !self.is_concerned && (self.member.is_none() || self.is_organizer())
    }

    /// Passes whoever may rule.
    fn may_rule(&self) -> Result<(), Refusal> {
        if self.is_concerned && !self.is_organizer() {
            return Err(Refusal::Forbidden("an organizer or a reviewer rules"));
        }
        if self.is_concerned {
            return Err(Refusal::Concerned("nobody rules on a finding that concerns oneself"));
        }
        if self.is_recused {
            return Err(Refusal::Concerned("you stepped aside"));
        }
        Ok(())
    }
}

/// A finding as it is answered.
#[derive(Debug, Serialize)]
pub struct FindingView {
    /// Its id.
    pub id: Uuid,
    /// Its kind.
    pub kind: &'static str,
    /// Whom it is about.
    pub subject: About,
    /// Its season.
    pub season_id: SeasonId,
    /// Where it stands.
    pub state: &'static str,
    /// The event whose round made it cross.
    pub opened_at_event_id: EventId,
    /// When it opened.
    pub opened_at: Timestamp,
    /// When everyone concerned had been told; for a member when it was told.
    pub told_at: Option<Timestamp>,
    /// When everyone concerned had looked; for a member when it looked.
    pub seen_at: Option<Timestamp>,
    /// Until when those concerned may be waited for.
    pub answer_by: Option<Timestamp>,
    /// The rounds behind it.
    pub rounds: Vec<RoundId>,
    /// The odds.
    pub evidence: EvidenceView,
    /// What was seen, in one sentence.
    pub summary: String,
    /// The odds and what they are not, the budget, the closest honest explanation, what would settle it, the size.
    pub reasons: Vec<String>,
    /// What to draw.
    pub picture: Picture,
    /// What it is worth, and what leaving the rounds out would do.
    pub effect: Option<EffectView>,
    /// Whom it concerns.
    pub concerned: Vec<ConcernedView>,
    /// What they said.
    pub statements: Vec<WordView>,
    /// What organizers wish for.
    pub requests: Vec<WordView>,
    /// Who stepped aside.
    pub recusals: Vec<WordView>,
    /// What was ruled.
    pub rulings: Vec<RulingView>,
}

/// The odds of a finding.
#[derive(Debug, Serialize)]
pub struct EvidenceView {
    /// When it opened, as a power of ten.
    pub factor_log10: f64,
    /// What it crossed.
    pub threshold_log10: f64,
    /// As it is now.
    pub now_log10: f64,
    /// Readings that it rests on now.
    pub putts: u32,
    /// Rounds that it rests on now.
    pub rounds: u32,
    /// In how many of a hundred honest seasons any finding may show.
    pub false_alarm_pct: f64,
}

/// What a finding is worth.
#[derive(Debug, Serialize)]
pub struct EffectView {
    /// Strokes a round.
    pub strokes_per_round: Option<f64>,
    /// The lower end.
    pub low: Option<f64>,
    /// The upper end.
    pub high: Option<f64>,
    /// The positions that would change if the rounds were left out; for organizers and reviewers alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub positions: Option<Vec<PositionMove>>,
}

/// A position that would change.
#[derive(Debug, PartialEq, Serialize)]
pub struct PositionMove {
    /// Whose.
    pub member_id: MemberId,
    /// The position now.
    pub from: Option<u32>,
    /// The position then.
    pub to: Option<u32>,
}

/// Somebody whom a finding concerns.
#[derive(Debug, Serialize)]
pub struct ConcernedView {
    /// The member.
    pub member_id: MemberId,
    /// When it was told.
    pub told_at: Option<Timestamp>,
    /// Who told it, where a notice could not.
    pub told_by: Option<MemberId>,
    /// When it looked.
    pub seen_at: Option<Timestamp>,
    /// Whether it said something.
    pub has_answered: bool,
}

/// Something that was said of a finding.
#[derive(Debug, Serialize)]
pub struct WordView {
    /// Its id.
    pub id: Uuid,
    /// Who said it.
    pub member_id: Option<MemberId>,
    /// The words.
    pub text: String,
    /// Until when an answer is wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub due_at: Option<Timestamp>,
    /// When it came in.
    pub received_at: Timestamp,
}

impl From<Word> for WordView {
    fn from(said: Word) -> Self {
        let Word { id, member, text, due_at, received_at, .. } = said;
        Self { id, member_id: member, text, due_at, received_at }
    }
}

/// A ruling on a finding.
#[derive(Debug, Serialize)]
pub struct RulingView {
    /// Its id; null where nothing was done.
    pub id: Option<Uuid>,
    /// Who ruled; null: a reviewer from outside.
    pub member_id: Option<MemberId>,
    /// What was decided.
    pub decision: Decision,
    /// The rounds that it touches.
    pub round_ids: Vec<RoundId>,
    /// Why.
    pub reason: String,
    /// When.
    pub received_at: Timestamp,
    /// The rows of the season's table that it moves; for the answer to it alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub moves: Option<Vec<Move>>,
}

impl From<Ruled> for RulingView {
    fn from(ruled: Ruled) -> Self {
        let Ruled { id, member, decision, rounds, reason, received_at } = ruled;
        Self { id: Some(id), member_id: member, decision, round_ids: rounds, reason, received_at, moves: None }
    }
}

/// A ruling that somebody gives on a finding.
#[derive(Clone, Debug)]
pub struct FindingRuling {
    /// What is decided.
    pub decision: Decision,
    /// The rounds that it touches.
    pub rounds: Vec<RoundId>,
    /// Why.
    pub reason: String,
}

/// Reads a finding that the caller may know of, and the caller's seat.
async fn seated(conn: &mut Conn, caller: Caller, id: Uuid) -> Result<(StoredFinding, Seat, Vec<Concerned>), Refusal> {
    let finding = findings::get(conn, id).await?.ok_or(Refusal::NotFound)?;
    let member = members::by_account(conn, caller.account, finding.league).await?;
    let concerned = findings::concerned(conn, finding.league, id).await?;
    let is_concerned = member.as_ref().is_some_and(|member| concerned.iter().any(|known| known.member == member.id));
    let seat = Seat { is_recused: false, is_concerned, member };
    let may_know = match &seat.member {
        Some(_) => is_concerned || seat.is_organizer(),
        None => findings::is_reviewer(conn, finding.league, id, caller.account).await?,
    };
    if !may_know {
        return Err(Refusal::NotFound);
    }
    let words = findings::words(conn, finding.league, id).await?;
    let own = seat.member.as_ref().map(|member| member.id);
    let is_recused = words.iter().any(|said| said.kind == "recusal" && said.member.is_some() && said.member == own);
    Ok((finding, Seat { is_recused, ..seat }, concerned))
}

/// The rounds behind a finding with what evidence reads of them, in the order received.
async fn behind(
    conn: &mut Conn,
    book: &LeagueBook,
    finding: &StoredFinding,
) -> Result<Vec<(RoundRow, crate::domain::audit::ledger::Taken)>, StorageError> {
    let restarts = stored_evidence::restarts(conn, finding.league, finding.season).await?;
    let rulings = restarts.get(&(finding.kind.name, finding.about));
    let since = rulings.and_then(|rulings| rulings.get((finding.restart as usize).checked_sub(1)?)).copied();
    let mut rounds = evidence::taken(conn, book, finding.season, finding.about.into()).await?;
    rounds.retain(|(_, taken)| since.is_none_or(|since| taken.seq > since));
    Ok(rounds)
}

/// Says when everyone concerned has been told and until when they are waited for.
fn deadlines(concerned: &[Concerned], days: u32) -> (Option<Timestamp>, Option<Timestamp>) {
    let told: Option<Vec<Timestamp>> = concerned.iter().map(|known| known.told_at).collect();
    let told_at = told.and_then(|told| told.into_iter().max());
    (told_at, told_at.map(|told| told + SignedDuration::from_hours(24 * i64::from(days))))
}

fn has_answered(words: &[Word], member: MemberId) -> bool {
    words.iter().any(|said| said.kind == "statement" && said.member == Some(member))
}

/// Says which positions would change if rounds were left out.
async fn without(
    conn: &mut Conn,
    book: &LeagueBook,
    season: SeasonId,
    rounds: &[RoundRow],
) -> Result<Vec<PositionMove>, StorageError> {
    let all = results::of_season(conn, book.league, season).await?;
    let left_out: BTreeSet<RoundId> = rounds.iter().map(|row| row.id).collect();
    let affected: BTreeSet<MemberId> = rounds.iter().map(|row| row.member).collect();
    let mut then: Vec<Figures> = all.iter().filter(|figures| !affected.contains(&figures.member)).cloned().collect();
    let mut indexes = LeagueIndexes::new();
    for member in affected {
        let mut stored = results::of_member(conn, book.league, member).await?;
        for known in stored.iter_mut().filter(|known| left_out.contains(&known.entry.id)) {
            known.entry.state = RoundState::Excluded;
        }
        let record = member_record(&book.book, member, stored.iter().map(|stored| &stored.entry), None);
        indexes.insert(member, record.league_index);
        then.extend(record.figures.into_iter().filter(|figures| figures.season == season));
    }
    let positions = |figures: &[Figures], indexes: &LeagueIndexes| -> BTreeMap<MemberId, Option<u32>> {
        let rows = season_table(&book.book, season, figures, None, indexes);
        rows.into_iter().map(|row| (row.member_id, row.position)).collect()
    };
    let (now, then) = (positions(&all, &LeagueIndexes::new()), positions(&then, &indexes));
    let members: BTreeSet<MemberId> = now.keys().chain(then.keys()).copied().collect();
    let at = |table: &BTreeMap<MemberId, Option<u32>>, member| table.get(&member).copied().flatten();
    let moves = members.into_iter().map(|member_id| PositionMove {
        member_id,
        from: at(&now, member_id),
        to: at(&then, member_id),
    });
    Ok(moves.filter(|moved| moved.from != moved.to).collect())
}

/// What the rounds behind a finding say now.
fn said_now(
    finding: &StoredFinding,
    ledger: &Ledger,
    rounds: &[(RoundRow, crate::domain::audit::ledger::Taken)],
    false_alarm_pct: f64,
) -> (Said, crate::domain::audit::Evidence) {
    let rows: Vec<&State> = ledger.rows_of(finding.kind, finding.about, finding.restart);
    let now = crate::domain::audit::evidence(finding.kind, finding.about.subject(), &rows);
    let mut players: BTreeMap<MemberId, Vec<RoundReadings>> = BTreeMap::new();
    for (row, taken) in rounds {
        players.entry(row.member).or_default().push(taken.readings.clone());
    }
    let players: Vec<&[RoundReadings]> = players.values().map(Vec::as_slice).collect();
    (says(finding.kind, &now, false_alarm_pct, &rows, &players), now)
}

/// Shows a finding to a seat.
async fn view(
    conn: &mut Conn,
    book: &LeagueBook,
    finding: StoredFinding,
    seat: &Seat,
    concerned: Vec<Concerned>,
) -> Result<FindingView, Refusal> {
    let policy = book.book.seasons.get(&finding.season).ok_or(Refusal::NotFound)?;
    let rounds = behind(conn, book, &finding).await?;
    let ledger = match finding.about {
        About::Player(member) => stored_evidence::of_member(conn, finding.league, finding.season, member, None).await?,
        About::Setup(setup) => stored_evidence::of_setup(conn, finding.league, finding.season, setup).await?,
    };
    let (said, now) = said_now(&finding, &ledger, &rounds, policy.audit.false_alarm_pct);
    let words = findings::words(conn, finding.league, finding.id).await?;
    let rulings = findings::rulings(conn, finding.league, finding.id).await?;
    let state = if !rulings.is_empty() {
        "ruled"
    } else if !concerned.is_empty() && concerned.iter().all(|known| has_answered(&words, known.member)) {
        "answered"
    } else {
        "open"
    };
    let own = seat.member.as_ref().map(|member| member.id);
    let (all_told, mut answer_by) = deadlines(&concerned, policy.audit.answer_days);
    let shown = |member: Option<MemberId>| seat.sees_all() || member.is_none() || member == own;
    let mut known: Vec<&Concerned> = concerned.iter().collect();
    known.retain(|known| shown(Some(known.member)));
    let seen: Option<Vec<Timestamp>> = known.iter().map(|known| known.seen_at).collect();
    let told_at = if seat.sees_all() { all_told } else { known.first().and_then(|known| known.told_at) };
    if !seat.sees_all() && all_told.is_none() {
        answer_by = None;
    }
    let rows: Vec<RoundRow> = rounds.into_iter().map(|(row, _)| row).collect();
    let positions = if seat.sees_all() { Some(without(conn, book, finding.season, &rows).await?) } else { None };
    let of = |kind: &str| {
        let of_kind = words.iter().filter(|said| said.kind == kind);
        let seen = of_kind.filter(|said| kind != "statement" || shown(said.member));
        seen.cloned().map(WordView::from).collect::<Vec<_>>()
    };
    Ok(FindingView {
        id: finding.id,
        kind: finding.kind.name,
        subject: finding.about,
        season_id: finding.season,
        state,
        opened_at_event_id: finding.event,
        opened_at: finding.received_at,
        told_at,
        seen_at: seen.filter(|seen| !seen.is_empty()).and_then(|seen| seen.into_iter().max()),
        answer_by,
        rounds: rows.iter().filter(|row| shown(Some(row.member))).map(|row| row.id).collect(),
        evidence: EvidenceView {
            factor_log10: finding.factor_log10,
            threshold_log10: finding.threshold_log10,
            now_log10: now.log10,
            putts: now.usable,
            rounds: now.rounds,
            false_alarm_pct: policy.audit.false_alarm_pct,
        },
        summary: said.summary,
        reasons: said.reasons,
        picture: said.picture,
        effect: Some(EffectView {
            strokes_per_round: said.size.map(|size| size.strokes_per_round),
            low: said.size.map(|size| size.low),
            high: said.size.map(|size| size.high),
            positions,
        }),
        concerned: known
            .into_iter()
            .map(|known| ConcernedView {
                member_id: known.member,
                told_at: known.told_at,
                told_by: known.told_by,
                seen_at: known.seen_at,
                has_answered: has_answered(&words, known.member),
            })
            .collect(),
        statements: of("statement"),
        requests: of("request"),
        recusals: of("recusal"),
        rulings: rulings
            .into_iter()
            .map(|mut ruled| {
                let touched = |round: &RoundId| {
                    rows.iter().find(|row| row.id == *round).is_none_or(|row| shown(Some(row.member)))
                };
                ruled.rounds.retain(|round| touched(round));
                RulingView::from(ruled)
            })
            .collect(),
    })
}

/// Names the records behind a finding that the caller may take away.
///
/// # Errors
/// A finding that is not the caller's to know of.
pub(super) async fn seen_rounds(
    leagues: &Leagues,
    conn: &mut Conn,
    caller: Caller,
    id: Uuid,
) -> Result<(LeagueId, Records), Refusal> {
    let (finding, seat, _) = seated(conn, caller, id).await?;
    let book = leagues.books.of(conn, finding.league).await?;
    let own = seat.member.as_ref().map(|member| member.id);
    let rounds = behind(conn, &book, &finding).await?.into_iter().map(|(row, _)| row);
    let rows: Vec<RoundRow> = rounds.filter(|row| seat.sees_all() || Some(row.member) == own).collect();
    let records = Records {
        finding: id,
        season: finding.season,
        rounds: rows.iter().map(|row| row.id).collect(),
        members: rows.iter().map(|row| row.member).collect(),
        setups: rows.iter().filter_map(|row| row.setup).collect(),
    };
    Ok((finding.league, records))
}

/// Leaves a round's putts out of putting figures, or takes them in again; what follows is still to be derived.
pub(super) async fn leave_putts_out(
    conn: &mut Conn,
    league: LeagueId,
    round: RoundId,
    out: bool,
) -> Result<(), StorageError> {
    conn.run(sql!("round_set_putts_excluded"), values![league, round, out]).await?;
    let Some(row) = rounds::get(conn, round).await? else { return Ok(()) };
    let card = rounds::whole(conn, &row).await?;
    results::set_card(conn, league, &entry(&row, &card)).await
}

/// How an attempt ends that leaves nothing behind.
enum Undone {
    Refused(Refusal),
    Seen(Box<RulingView>),
}

impl From<Refusal> for Undone {
    fn from(refusal: Refusal) -> Self {
        Undone::Refused(refusal)
    }
}

impl From<StorageError> for Undone {
    fn from(error: StorageError) -> Self {
        Undone::Refused(error.into())
    }
}

impl Leagues {
    /// Reads the findings of a league that the caller may know of, after an id.
    ///
    /// # Errors
    /// A league that the caller is not in.
    pub async fn findings_of(
        &self,
        caller: Caller,
        league: LeagueId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<FindingView>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let member = access::member(&mut conn, caller, league).await?;
        let only = (member.member.role != Role::Organizer).then_some(member.id);
        let book = self.books.of(&mut conn, league).await?;
        let mut views = Vec::new();
        for finding in findings::list(&mut conn, league, only, after, limit).await? {
            let (finding, seat, concerned) = seated(&mut conn, caller, finding.id).await?;
            views.push(view(&mut conn, &book, finding, &seat, concerned).await?);
        }
        Ok(views)
    }

    /// Reads a finding; notes that somebody concerned has looked.
    ///
    /// # Errors
    /// A finding that is not the caller's to know of.
    pub async fn finding(&self, caller: Caller, id: Uuid) -> Result<FindingView, Refusal> {
        let this = self.clone();
        let now = self.now();
        let mut conn = self.database.reader().await?;
        let (_, seat, concerned) = seated(&mut conn, caller, id).await?;
        let own = seat.member.as_ref().map(|member| member.id);
        let is_first = concerned.iter().any(|known| Some(known.member) == own && known.seen_at.is_none());
        drop(conn);
        if is_first {
            change!(self, |conn| {
                let (finding, seat, _) = seated(conn, caller, id).await?;
                if let Some(member) = seat.member {
                    findings::see(conn, finding.league, id, member.id, now).await?;
                }
                Ok::<_, Refusal>(())
            })?;
        }
        let mut conn = this.database.reader().await?;
        conn.begin_read().await?;
        let (finding, seat, concerned) = seated(&mut conn, caller, id).await?;
        let book = this.books.of(&mut conn, finding.league).await?;
        view(&mut conn, &book, finding, &seat, concerned).await
    }

    /// Stores the word of somebody concerned.
    ///
    /// # Errors
    /// Anybody else.
    pub async fn state(&self, key: RequestKey, id: Uuid, text: String) -> Result<Reply, Refusal> {
        change!(self, |conn| {
            let (finding, seat, _) = seated(conn, key.caller, id).await?;
            let (true, Some(member)) = (seat.is_concerned, seat.member) else {
                return Err(Refusal::Forbidden("those whom a finding concerns state their view"));
            };
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let said = say(conn, &key, &finding, "statement", Some(member.id), text, None).await?;
            let to = notices::organizers(conn, finding.league).await?;
            notices::tell(conn, NoticeAbout::finding(finding.league, id), Tells::Finding, &to, member.id, key.now)
                .await?;
            key.keep(conn, created(format!("/api/v1/findings/{id}"), 1, &WordView::from(said))).await
        })
    }

    /// Stores an organizer's wish for what would settle a finding.
    ///
    /// # Errors
    /// Anybody but an organizer or reviewer whom it does not concern.
    pub async fn request(
        &self,
        key: RequestKey,
        id: Uuid,
        text: String,
        due_at: Option<Timestamp>,
    ) -> Result<Reply, Refusal> {
        change!(self, |conn| {
            let (finding, seat, concerned) = seated(conn, key.caller, id).await?;
            seat.may_rule()?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let by = seat.member.as_ref().map(|member| member.id);
            let said = say(conn, &key, &finding, "request", by, text, due_at).await?;
            let to: Vec<MemberId> = concerned.iter().map(|known| known.member).collect();
            let by = by.unwrap_or(MemberId(Uuid::nil()));
            notices::tell(conn, NoticeAbout::finding(finding.league, id), Tells::Finding, &to, by, key.now).await?;
            key.keep(conn, created(format!("/api/v1/findings/{id}"), 1, &WordView::from(said))).await
        })
    }

    /// Lets an organizer step aside from a finding.
    ///
    /// # Errors
    /// Anybody but an organizer.
    pub async fn recuse(&self, key: RequestKey, id: Uuid) -> Result<Reply, Refusal> {
        change!(self, |conn| {
            let (finding, seat, _) = seated(conn, key.caller, id).await?;
            let (true, Some(member)) = (seat.is_organizer(), &seat.member) else {
                return Err(Refusal::Forbidden("an organizer steps aside"));
            };
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            if seat.is_recused {
                return Err(Refusal::conflict("invalid-transition", "you stepped aside already"));
            }
            let said = say(conn, &key, &finding, "recusal", Some(member.id), String::new(), None).await?;
            key.keep(conn, created(format!("/api/v1/findings/{id}"), 1, &WordView::from(said))).await
        })
    }

    /// Notes an organizer's word that somebody without an account was told.
    ///
    /// # Errors
    /// Anybody but an organizer; somebody whom it does not concern or who was told.
    pub async fn note_told(&self, key: RequestKey, id: Uuid, told: MemberId) -> Result<Reply, Refusal> {
        change!(self, |conn| {
            let (finding, seat, concerned) = seated(conn, key.caller, id).await?;
            let (true, Some(member)) = (seat.is_organizer(), &seat.member) else {
                return Err(Refusal::Forbidden("an organizer tells those without an account"));
            };
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            match concerned.iter().find(|known| known.member == told) {
                None => {
                    return Err(Refusal::fault(
                        "/member_id",
                        "unknown-member",
                        "the finding does not concern this member",
                    ));
                }
                Some(known) if known.told_at.is_some() => {
                    return Err(Refusal::conflict("invalid-transition", "this member was told already"));
                }
                Some(_) => {}
            }
            findings::tell(conn, finding.league, id, told, key.now, Some(member.id)).await?;
            let act =
                Act { by: Some(key.caller.account), act: "tell", kind: "finding", id, content: told.0.as_bytes() };
            journal::append(conn, finding.league, act, key.now).await?;
            let view = ConcernedView {
                member_id: told,
                told_at: Some(key.now),
                told_by: Some(member.id),
                seen_at: None,
                has_answered: false,
            };
            key.keep(conn, created(format!("/api/v1/findings/{id}"), 1, &view)).await
        })
    }

    /// Rules on a finding.
    ///
    /// # Errors
    /// Whoever is concerned or stepped aside; before those concerned had their say; rounds that are not behind it.
    pub async fn rule_on_finding(&self, key: RequestKey, id: Uuid, ruling: FindingRuling) -> Result<Reply, Refusal> {
        let this = self.clone();
        let (reply, events) = change!(self, |conn| {
            let (finding, seat, concerned) = seated(conn, key.caller, id).await?;
            seat.may_rule()?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok::<_, Refusal>((reply, Vec::new()));
            }
            let (view, events) = this.rule_finding(conn, &key, finding, &seat, &concerned, ruling).await?;
            let reply = created(format!("/api/v1/findings/{id}"), 1, &view);
            Ok((key.keep(conn, reply).await?, events))
        })?;
        for event in events {
            let _ = self.board_changes.send(event);
        }
        Ok(reply)
    }

    /// Works out what a ruling on a finding would do, and does nothing.
    ///
    /// # Errors
    /// As [`rule_on_finding`](Self::rule_on_finding).
    pub async fn preview_finding_ruling(
        &self,
        key: RequestKey,
        id: Uuid,
        ruling: FindingRuling,
    ) -> Result<RulingView, Refusal> {
        let this = self.clone();
        let attempt: Result<(), Undone> = change!(self, |conn| {
            let (finding, seat, concerned) = seated(conn, key.caller, id).await?;
            seat.may_rule()?;
            let (view, _) = this.rule_finding(conn, &key, finding, &seat, &concerned, ruling).await?;
            Err(Undone::Seen(Box::new(RulingView { id: None, ..view })))
        });
        match attempt {
            Err(Undone::Seen(view)) => Ok(*view),
            Err(Undone::Refused(refusal)) => Err(refusal),
            Ok(()) => Err(Refusal::NotFound),
        }
    }

    async fn rule_finding(
        &self,
        conn: &mut Conn,
        key: &RequestKey,
        finding: StoredFinding,
        seat: &Seat,
        concerned: &[Concerned],
        ruling: FindingRuling,
    ) -> Result<(RulingView, Vec<EventId>), Refusal> {
        let FindingRuling { decision, rounds: named, reason } = ruling;
        let league = finding.league;
        let book = self.books.of(conn, league).await?;
        let policy = book.book.seasons.get(&finding.season).ok_or(Refusal::NotFound)?;
        let words = findings::words(conn, league, finding.id).await?;
        let (_, answer_by) = deadlines(concerned, policy.audit.answer_days);
        let all_answered = concerned.iter().all(|known| has_answered(&words, known.member));
        if !all_answered && answer_by.is_none_or(|by| key.now < by) {
            let detail = "those concerned have their say first: all of them, or until answer_by";
            return Err(Refusal::conflict("answer-awaited", detail));
        }
        let behind = behind(conn, &book, &finding).await?;
        let ruled = findings::rulings(conn, league, finding.id).await?;
        let known = |round: &RoundId| {
            behind.iter().any(|(row, _)| row.id == *round) || ruled.iter().any(|ruled| ruled.rounds.contains(round))
        };
        let mut faults = Vec::new();
        for (n, _) in named.iter().enumerate().filter(|(_, round)| !known(round)) {
            let detail = "this round is not behind the finding";
            faults.push(Fault::new(format!("/round_ids/{n}"), "unknown-id", detail));
        }
        let (is_empty, touches_rounds) = (named.is_empty(), decision != Decision::NoAction);
        if is_empty == touches_rounds {
            let detail = "a ruling names the rounds that it touches, and no_action touches none";
            faults.push(Fault::new("/round_ids", "rounds-missing", detail));
        }
        super::sound(faults)?;
        if finding.kind.is_notice && touches_rounds {
            return Err(Refusal::conflict(
                "invalid-transition",
                "a notice about a set-up asks for nothing of its rounds",
            ));
        }

        let before = changes::tables(conn, &book).await?;
        let (ruling_id, seq) = (Uuid::now_v7(), leagues::next_seq(conn, league).await?);
        let by = seat.member.as_ref().map(|member| member.id);
        let values = values![league, ruling_id, by, finding.id, decision.word(), &reason, seq, key.now];
        conn.run(sql!("ruling_insert"), values).await?;
        let mut rows = Vec::new();
        for round in &named {
            let row = rounds::get(conn, *round).await?.ok_or(Refusal::NotFound)?;
            let mut life = rounds::life(conn, &row).await?;
            if life.rule(decision).is_none() || row.state == RoundState::Withdrawn {
                let detail = format!("there is nothing that this ruling could do to the round {round}");
                return Err(Refusal::conflict("invalid-transition", detail));
            }
            let values: Vec<Value> = values![league, ruling_id, *round, None::<i64>];
            conn.run(sql!("ruled_round_insert"), values).await?;
            if life.state() != row.state {
                rounds::set_state(conn, league, *round, life.state()).await?;
            }
            if life.are_putts_excluded() != row.are_putts_excluded {
                leave_putts_out(conn, league, *round, life.are_putts_excluded()).await?;
            }
            rows.push(row);
        }
        for member in rows.iter().map(|row| row.member).collect::<BTreeSet<_>>() {
            derive::member_and_marks(conn, &book, member).await?;
        }
        for row in &rows {
            evidence::again(conn, &book, row, key.now).await?;
            documents::show_anew(conn, league, finding.season, row.event).await?;
        }
        let content = serde_json::to_vec(&(decision, &reason)).expect("a ruling is plain text");
        let act = Act { by: Some(key.caller.account), act: "rule", kind: "finding", id: finding.id, content: &content };
        journal::append(conn, league, act, key.now).await?;
        let after = changes::tables(conn, &book).await?;
        if let Some(row) = rows.first() {
            // What others read says that a round was left out, and nothing of the finding.
            let who = by.unwrap_or(MemberId(Uuid::nil()));
            let cause = Cause { by: who, act: decision.word(), kind: "round", thing: row.id.0, reason: None };
            changes::write_down(conn, league, &before, &after, cause, key.now).await?;
        }
        let to: Vec<MemberId> = concerned.iter().map(|known| known.member).collect();
        let who = by.unwrap_or(MemberId(Uuid::nil()));
        notices::tell(conn, NoticeAbout::finding(league, finding.id), Tells::Ruling, &to, who, key.now).await?;
        let view = RulingView {
            id: Some(ruling_id),
            member_id: by,
            decision,
            round_ids: named,
            reason,
            received_at: key.now,
            moves: Some(before.moves(&after, finding.season)),
        };
        Ok((view, rows.into_iter().map(|row| row.event).collect()))
    }
}

async fn say(
    conn: &mut Conn,
    key: &RequestKey,
    finding: &StoredFinding,
    kind: &'static str,
    member: Option<MemberId>,
    text: String,
    due_at: Option<Timestamp>,
) -> Result<Word, Refusal> {
    let seq = leagues::next_seq(conn, finding.league).await?;
    let said = Word { id: Uuid::now_v7(), kind: kind.to_owned(), member, text, due_at, seq, received_at: key.now };
    findings::say(conn, finding.league, finding.id, &said).await?;
    let by = Some(key.caller.account);
    let act = Act { by, act: kind, kind: "finding", id: finding.id, content: said.text.as_bytes() };
    journal::append(conn, finding.league, act, key.now).await?;
    Ok(said)
}
