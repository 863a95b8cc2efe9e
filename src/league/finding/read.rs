//! Findings: read, answer, rule. Nobody but organizers, those concerned and a finding's reviewers learns that there is one.

use crate::change;
use crate::domain::audit::ledger::{SetupFinding, Taken};
use crate::domain::competition::table::{LeagueIndexes, StandingsRow, season_table};
use crate::domain::facts::{Opinion, Role};
use crate::domain::ids::{LeagueId, MemberId, RoundId, SeasonId};
use crate::domain::rule::Rule;
use crate::domain::season::findings::{FindingReport, PositionMove, state};
use crate::domain::season::record::member_record;
use crate::domain::season::{Figures, RoundState};
use crate::league::finding::evidence::{self, Known};
use crate::league::finding::views::{ConcernedView, FindingView, RulingView, WordView};
use crate::league::keys::{RequestKey, created};
use crate::league::member::notices::{self, About as NoticeAbout, Tells};
use crate::league::memory::books::LeagueBook;
use crate::league::memory::fields::Fields;
use crate::league::reading::{carried_indexes, table};
use crate::league::{Caller, Leagues, Refusal, access};
use crate::storage::findings::{self, Concerned, StoredFinding, Word};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::members::{self, StoredMember};
use crate::storage::rounds::RoundRow;
use crate::storage::row_hashes::wrote;
use crate::storage::{Conn, StorageError, evidence as stored_evidence, leagues, results};
use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Where somebody stands towards a finding.
pub(in crate::league) struct Seat {
    /// The caller's record; none for a reviewer from outside.
    pub(in crate::league) member: Option<StoredMember>,
    /// Whether the finding concerns the caller.
    pub(in crate::league) is_concerned: bool,
    /// Whether the caller stepped aside.
    is_recused: bool,
}

impl Seat {
    /// Returns the caller's record; none for a reviewer from outside.
    pub(in crate::league) fn id(&self) -> Option<MemberId> {
        self.member.as_ref().map(|member| member.id)
    }

    /// Returns whether the caller organizes the league.
    pub(in crate::league) fn is_organizer(&self) -> bool {
        self.member.as_ref().is_some_and(|member| member.member.role == Role::Organizer)
    }

    /// Organizers and reviewers see everybody; those concerned see themselves alone.
    pub(super) fn sees_all(&self) -> bool {
        !self.is_concerned && (self.member.is_none() || self.is_organizer())
    }

    /// Passes whoever may rule.
    pub(in crate::league) fn may_rule(&self) -> Result<(), Refusal> {
        if self.is_concerned && !self.is_organizer() {
            return Err(Refusal::Forbidden("only an organizer or a reviewer may rule"));
        }
        if self.is_concerned {
            return Err(Refusal::Concerned("nobody may rule on a finding about themselves"));
        }
        if self.is_recused {
            return Err(Refusal::Concerned("you stepped aside"));
        }
        Ok(())
    }
}

/// A finding with whom it concerns and what was said of it, as the caller's seat allows.
pub(in crate::league) struct Seated {
    pub(in crate::league) finding: StoredFinding,
    pub(in crate::league) seat: Seat,
    pub(in crate::league) concerned: Vec<Concerned>,
    pub(in crate::league) words: Vec<Word>,
}

impl Seated {
    /// Says whether somebody concerned has spoken.
    pub(in crate::league) fn has_answered(&self, member: MemberId) -> bool {
        self.words.iter().any(|said| said.kind == "statement" && said.member == Some(member))
    }
}

/// Reads a finding that the caller may know of, and the caller's seat.
pub(in crate::league) async fn seated(conn: &mut Conn, caller: Caller, id: Uuid) -> Result<Seated, Refusal> {
    let finding = findings::get(conn, id).await?.ok_or(Refusal::NotFound)?;
    let member = members::by_account(conn, caller.account, finding.league).await?;
    seated_at(conn, caller, finding, member).await
}

/// Seats the caller, whose record in the league is known, at a finding.
async fn seated_at(
    conn: &mut Conn,
    caller: Caller,
    finding: StoredFinding,
    member: Option<StoredMember>,
) -> Result<Seated, Refusal> {
    let (league, id) = (finding.league, finding.opened.id);
    let concerned = findings::concerned(conn, league, id).await?;
    let is_concerned = member.as_ref().is_some_and(|member| concerned.iter().any(|known| known.member == member.id));
    let mut seat = Seat { is_recused: false, is_concerned, member };
    let may_know = match &seat.member {
        Some(_) => is_concerned || seat.is_organizer(),
        None => findings::is_reviewer(conn, league, id, caller.account).await?,
    };
    if !may_know {
        return Err(Refusal::NotFound);
    }
    let words = findings::words(conn, league, id).await?;
    let own = seat.id();
    seat.is_recused = own.is_some() && words.iter().any(|said| said.kind == "recusal" && said.member == own);
    Ok(Seated { finding, seat, concerned, words })
}

/// The rounds behind a finding, in the order received.
pub(in crate::league) struct Behind {
    /// Their rows.
    pub(in crate::league) rows: Vec<RoundRow>,
    /// What evidence reads of them.
    taken: Vec<Taken>,
}

/// Reads the rounds behind a finding.
pub(in crate::league) async fn behind(
    conn: &mut Conn,
    book: &LeagueBook,
    finding: &StoredFinding,
) -> Result<Behind, StorageError> {
    let opened = &finding.opened;
    let restarts = stored_evidence::restarts(conn, finding.league, opened.season).await?;
    let mut rounds = evidence::taken(conn, book, opened.season, opened.about.into(), &Known::default()).await?;
    rounds.retain(|(_, taken)| opened.rests_on(&restarts, taken));
    let (rows, taken) = rounds.into_iter().unzip();
    Ok(Behind { rows, taken })
}

/// Says whether a finding about a set-up may explain this one and is not ruled upon yet.
pub(in crate::league) async fn awaits_setup(
    conn: &mut Conn,
    finding: &StoredFinding,
    behind: &Behind,
) -> Result<bool, StorageError> {
    let others = about_setups(conn, finding, &behind.taken).await?;
    let taken: Vec<&Taken> = behind.taken.iter().collect();
    Ok(finding.opened.explained_by(&others, &taken).is_some_and(|explained| explained.awaits_ruling))
}

/// Reads the findings about the set-ups of rounds.
async fn about_setups(
    conn: &mut Conn,
    finding: &StoredFinding,
    taken: &[Taken],
) -> Result<Vec<SetupFinding>, StorageError> {
    let mut found = Vec::new();
    for setup in taken.iter().filter_map(|taken| taken.setup).collect::<BTreeSet<_>>() {
        for other in findings::about_setup(conn, finding.league, finding.opened.season, setup).await? {
            let is_ruled = !findings::rulings(conn, finding.league, other.opened.id).await?.is_empty();
            found.push(SetupFinding { opened: other.opened, is_ruled });
        }
    }
    Ok(found)
}

/// Says when everyone concerned has been told and until when they are waited for.
pub(in crate::league) fn deadlines(concerned: &[Concerned], days: u32) -> (Option<Timestamp>, Option<Timestamp>) {
    let told: Option<Vec<Timestamp>> = concerned.iter().map(|known| known.told_at).collect();
    let told_at = told.and_then(|told| told.into_iter().max());
    (told_at, told_at.map(|told| told + SignedDuration::from_hours(24 * i64::from(days))))
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
    let mut brought = carried_indexes(conn, book, season, &then, None).await?;
    brought.extend(indexes);
    let then = season_table(&book.book, season, &then, None, &brought);
    let positions = |rows: Vec<StandingsRow>| -> BTreeMap<MemberId, Option<u32>> {
        rows.into_iter().map(|row| (row.member_id, row.position)).collect()
    };
    let (now, then) = (positions(table(conn, book, season).await?), positions(then));
    let members: BTreeSet<MemberId> = now.keys().chain(then.keys()).copied().collect();
    let at = |table: &BTreeMap<MemberId, Option<u32>>, member| table.get(&member).copied().flatten();
    let moves = members.into_iter().map(|member_id| PositionMove {
        member_id,
        from: at(&now, member_id),
        to: at(&then, member_id),
    });
    Ok(moves.filter(|moved| moved.from != moved.to).collect())
}

/// Shows a finding to whoever is seated.
pub(in crate::league) async fn view(
    fields: &Fields,
    conn: &mut Conn,
    book: &LeagueBook,
    seated: &Seated,
    behind: &Behind,
) -> Result<FindingView, Refusal> {
    let Seated { finding, seat, concerned, words } = seated;
    let Behind { rows, taken } = behind;
    let opened = &finding.opened;
    let audit = &book.book.seasons.get(&opened.season).ok_or(Refusal::NotFound)?.audit;
    let rulings = findings::rulings(conn, finding.league, opened.id).await?;
    let (all_told, mut answer_by) = deadlines(concerned, audit.answer_days);
    let shown = |member: Option<MemberId>| seat.sees_all() || member.is_none() || member == seat.id();
    let known: Vec<&Concerned> = concerned.iter().filter(|known| shown(Some(known.member))).collect();
    let seen: Option<Vec<Timestamp>> = known.iter().map(|known| known.seen_at).collect();
    let told_at = if seat.sees_all() { all_told } else { known.first().and_then(|known| known.told_at) };
    if !seat.sees_all() && all_told.is_none() {
        answer_by = None;
    }
    let state = state(!rulings.is_empty(), concerned.iter().map(|known| seated.has_answered(known.member)));
    let ids = rows.iter().filter(|row| shown(Some(row.member))).map(|row| row.id).collect();
    let behind: Vec<&Taken> = taken.iter().collect();
    // Whoever reviews from outside learns of no other finding.
    let others = if seat.member.is_some() { about_setups(conn, finding, taken).await? } else { Vec::new() };
    let mut report = FindingReport::of(opened, state, ids, &behind, &others, audit.false_alarm_pct);
    if report.needs_field() {
        report = report.beside(&fields.of(conn, book, opened.season).await?.holed, &behind);
    }
    if let (false, Some(nights)) = (seat.sees_all(), &mut report.nights) {
        let own = |night: &Date| rows.iter().any(|row| row.played_on == *night && shown(Some(row.member)));
        nights.retain(own);
    }
    if seat.sees_all() {
        report.effect.positions = Some(without(conn, book, opened.season, rows).await?);
    }
    let of = |kind: &str| {
        let of_kind = words.iter().filter(|said| said.kind == kind);
        let seen = of_kind.filter(|said| kind != "statement" || shown(said.member));
        seen.cloned().map(WordView::from).collect::<Vec<_>>()
    };
    Ok(FindingView {
        report,
        opened_at: finding.received_at,
        told_at,
        seen_at: seen.filter(|seen| !seen.is_empty()).and_then(|seen| seen.into_iter().max()),
        answer_by,
        concerned: known
            .into_iter()
            .map(|known| ConcernedView {
                member_id: known.member,
                told_at: known.told_at,
                told_by: known.told_by,
                seen_at: known.seen_at,
                has_answered: seated.has_answered(known.member),
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
        self.weighed(league).await?;
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let member = access::member(&mut conn, caller, league).await?;
        let only = (member.member.role != Role::Organizer).then_some(member.id);
        let book = self.books.of(&mut conn, league).await?;
        let mut views = Vec::new();
        for finding in findings::list(&mut conn, league, only, after, limit).await? {
            let seated = seated_at(&mut conn, caller, finding, Some(member.clone())).await?;
            let behind = behind(&mut conn, &book, &seated.finding).await?;
            views.push(view(&self.fields, &mut conn, &book, &seated, &behind).await?);
        }
        Ok(views)
    }

    /// Reads a finding; notes that somebody concerned has looked.
    ///
    /// # Errors
    /// A finding that is not the caller's to know of.
    pub async fn finding(&self, caller: Caller, id: Uuid) -> Result<FindingView, Refusal> {
        self.look_at(caller, id).await?;
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let seated = seated(&mut conn, caller, id).await?;
        let book = self.books.of(&mut conn, seated.finding.league).await?;
        let behind = behind(&mut conn, &book, &seated.finding).await?;
        view(&self.fields, &mut conn, &book, &seated, &behind).await
    }

    /// Weighs what waits before a finding is read, and notes that somebody concerned looks at it.
    pub(in crate::league) async fn look_at(&self, caller: Caller, id: Uuid) -> Result<(), Refusal> {
        let now = self.now();
        let mut conn = self.database.reader().await?;
        let Seated { finding, seat, concerned, .. } = seated(&mut conn, caller, id).await?;
        let league = finding.league;
        let is_first = concerned.iter().any(|known| Some(known.member) == seat.id() && known.seen_at.is_none());
        drop(conn);
        self.weighed(league).await?;
        if is_first {
            change!(self, id, |conn| {
                let Seated { finding, seat, .. } = seated(conn, caller, id).await?;
                if let Some(member) = seat.id() {
                    findings::see(conn, finding.league, id, member, now).await?;
                }
                Ok::<_, Refusal>(())
            })?;
        }
        Ok(())
    }

    /// Stores the word of somebody concerned.
    ///
    /// # Errors
    /// Anybody else.
    pub async fn state(&self, key: RequestKey, id: Uuid, text: String) -> Result<Reply, Refusal> {
        change!(self, id, |conn| {
            let Seated { finding, seat, .. } = seated(conn, key.caller, id).await?;
            let (true, Some(member)) = (seat.is_concerned, seat.member) else {
                return Err(Refusal::Forbidden("only the players concerned can reply to a finding"));
            };
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let said =
                say(conn, &key, &finding, "statement", Some(member.id), Said { text, ..Said::default() }).await?;
            let to = members::organizers(conn, finding.league).await?;
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
        change!(self, id, |conn| {
            let Seated { finding, seat, concerned, .. } = seated(conn, key.caller, id).await?;
            seat.may_rule()?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let by = seat.id();
            let said = say(conn, &key, &finding, "request", by, Said { text, due_at, opinion: None }).await?;
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
        change!(self, id, |conn| {
            let Seated { finding, seat, .. } = seated(conn, key.caller, id).await?;
            let (true, Some(member)) = (seat.is_organizer(), &seat.member) else {
                return Err(Refusal::Forbidden("only an organizer may step aside"));
            };
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            if seat.is_recused {
                return Err(Refusal::conflict(Rule::InvalidTransition, "you stepped aside already"));
            }
            let said = say(conn, &key, &finding, "recusal", Some(member.id), Said::default()).await?;
            key.keep(conn, created(format!("/api/v1/findings/{id}"), 1, &WordView::from(said))).await
        })
    }

    /// Notes an organizer's word that somebody without an account was told.
    ///
    /// # Errors
    /// Anybody but an organizer; somebody whom it does not concern or who was told.
    pub async fn note_told(&self, key: RequestKey, id: Uuid, told: MemberId) -> Result<Reply, Refusal> {
        change!(self, id, |conn| {
            let Seated { finding, seat, concerned, .. } = seated(conn, key.caller, id).await?;
            let (true, Some(member)) = (seat.is_organizer(), &seat.member) else {
                return Err(Refusal::Forbidden("only an organizer may tell players without an account"));
            };
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            match concerned.iter().find(|known| known.member == told) {
                None => {
                    return Err(Refusal::fault(
                        "/member_id",
                        Rule::UnknownMember,
                        "the finding does not concern this member",
                    ));
                }
                Some(known) if known.told_at.is_some() => {
                    return Err(Refusal::conflict(Rule::InvalidTransition, "this player has already been told"));
                }
                Some(_) => {}
            }
            findings::tell(conn, finding.league, id, told, key.now, Some(member.id)).await?;
            let (by, content) = (Some(key.caller.account), told.0.as_bytes());
            let act = Act { by, act: "tell", kind: "finding", id, content, rows: &[] };
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
}

/// What is said of a finding.
#[derive(Default)]
pub(in crate::league) struct Said {
    pub(in crate::league) text: String,
    pub(in crate::league) due_at: Option<Timestamp>,
    pub(in crate::league) opinion: Option<Opinion>,
}

/// Stores and journals what somebody says of a finding.
pub(in crate::league) async fn say(
    conn: &mut Conn,
    key: &RequestKey,
    finding: &StoredFinding,
    kind: &'static str,
    member: Option<MemberId>,
    Said { text, due_at, opinion }: Said,
) -> Result<Word, Refusal> {
    let seq = leagues::next_seq(conn, finding.league).await?;
    let (id, finding_id) = (Uuid::now_v7(), finding.opened.id);
    let (kind_word, received_at) = (kind.to_owned(), key.now);
    let said = Word { id, finding: finding_id, kind: kind_word, member, text, due_at, opinion, seq, received_at };
    findings::say(conn, finding.league, &said).await?;
    let by = Some(key.caller.account);
    let content = [opinion.map_or("", Opinion::word), &said.text].concat().into_bytes();
    let rows = [wrote("finding_words", id)];
    let act = Act { by, act: kind, kind: "finding", id: finding.opened.id, content: &content, rows: &rows };
    journal::append(conn, finding.league, act, key.now).await?;
    Ok(said)
}
