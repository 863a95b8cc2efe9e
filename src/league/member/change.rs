//! Members: add, change, erase.

use crate::change;
use crate::domain::facts::{Member, Role};
use crate::domain::ids::{AccountId, LeagueId, MemberId};
use crate::domain::rule::Rule;
use crate::domain::season::RoundState;
use crate::league::access::{self, IfMatch};
use crate::league::attempts::Undone;
use crate::league::keys::{RequestKey, created};
use crate::league::member::handicap_act::{self, HandicapActView};
use crate::league::memory::books;
use crate::league::season::changes::{self, Cause, SeasonMoves, Tables};
use crate::league::views::MemberView;
use crate::league::{Caller, Leagues, Refusal, setups};
use crate::storage::documents::{self, Kept};
use crate::storage::idempotency::{self, Reply};
use crate::storage::journal::{self, Act};
use crate::storage::lasting::Deed;
use crate::storage::members::{self, StoredMember};
use crate::storage::row_hashes::{wrote, wrote_version};
use crate::storage::{
    Conn, StorageError, entrants, erasure, file_columns, findings, leagues, notices, practice, queries, results,
    secret_addresses,
};
use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

fn text(member: &Member) -> String {
    serde_json::to_string(member).expect("a member is plain values with text keys")
}

/// Returns what two names share that people take for one.
pub(in crate::league) fn folded(name: &str) -> String {
    name.trim().to_lowercase()
}

/// Passes unless a league would be left without an organizer.
pub(in crate::league) async fn may_step_down(conn: &mut Conn, member: &StoredMember) -> Result<(), Refusal> {
    let is_last = member.member.role == Role::Organizer && members::count_organizers(conn, member.league).await? <= 1;
    if is_last {
        return Err(Refusal::conflict(Rule::LastOrganizer, "a league needs at least one organizer"));
    }
    Ok(())
}

/// A member as a change would leave it, with the rows of the tables that it would move.
#[derive(Debug, serde::Serialize)]
pub struct ChangedMember {
    /// The member.
    #[serde(flatten)]
    pub member: MemberView,
    /// What would move.
    pub effect: Vec<SeasonMoves>,
}

/// A changed record, and the tables before.
struct Changed {
    stored: StoredMember,
    before: Tables,
    is_demoted: bool,
}

impl Leagues {
    /// Adds a member without an account.
    ///
    /// # Errors
    /// Anybody but an organizer.
    pub async fn create_member(&self, key: RequestKey, league: LeagueId, member: Member) -> Result<Reply, Refusal> {
        change!(self, league, |conn| {
            access::organizer(conn, key.caller, league).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let stored = add(conn, &key, league, member).await?;
            books::mark(conn, league).await?;
            let location = format!("/api/v1/members/{}", stored.id);
            key.keep(conn, created(location, 1, &MemberView::from(&stored))).await
        })
    }

    /// Changes a member: name, role, flight, starting handicap.
    ///
    /// Another starting handicap holds from `start_from` on; where nobody says from when, it moves no card that was
    /// handed in: it holds from the day after the member's last event with one.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; the last organizer stepping down.
    pub async fn change_member(
        &self,
        caller: Caller,
        id: MemberId,
        if_match: IfMatch,
        start_from: Option<Date>,
        patched: impl FnOnce(&str) -> Result<Member, Refusal> + Clone + Send + 'static,
    ) -> Result<(MemberView, i64), Refusal> {
        let this = self.clone();
        let now = self.now();
        let changed = change!(self, id, |conn| {
            let changed = this.change_record(conn, caller, id, if_match, (start_from, now), patched).await?;
            if changed.is_demoted {
                let role = changed.stored.member.role;
                this.lasting.note(conn, Deed::Demote { member_id: id, role }, now).await?;
            }
            Ok((MemberView::from(&changed.stored), changed.stored.version))
        });
        self.marks.right_ended();
        changed
    }

    /// Says what a change of a member would move, and changes nothing.
    ///
    /// # Errors
    /// As [`change_member`](Self::change_member).
    pub async fn preview_member(
        &self,
        caller: Caller,
        id: MemberId,
        if_match: IfMatch,
        start_from: Option<Date>,
        patched: impl FnOnce(&str) -> Result<Member, Refusal> + Clone + Send + 'static,
    ) -> Result<ChangedMember, Refusal> {
        let this = self.clone();
        let now = self.now();
        let attempt: Result<(), Undone<ChangedMember>> = change!(self, id, |conn| {
            let changed = this.change_record(conn, caller, id, if_match, (start_from, now), patched).await?;
            let book = this.books.of(conn, changed.stored.league).await?;
            let after = changes::tables(conn, &book).await?;
            let effect = changed.before.all_moves(&after);
            Err(Undone::seen(ChangedMember { member: MemberView::from(&changed.stored), effect }))
        });
        Undone::view(attempt)
    }

    async fn change_record(
        &self,
        conn: &mut Conn,
        caller: Caller,
        id: MemberId,
        if_match: IfMatch,
        (start_from, now): (Option<Date>, Timestamp),
        patched: impl FnOnce(&str) -> Result<Member, Refusal>,
    ) -> Result<Changed, Refusal> {
        let before = members::get(conn, id).await?.ok_or(Refusal::NotFound)?;
        let by = access::organizer(conn, caller, before.league).await?;
        if_match.check(before.version)?;
        if before.is_erased {
            return Err(Refusal::conflict(Rule::InvalidTransition, "this player has been erased"));
        }
        let tables = self.tables(conn, before.league).await?;
        // Earlier starting handicaps follow from later ones; nobody sends them.
        let earlier_starts = before.member.earlier_starts.clone();
        let mut member = patched(&text(&Member { earlier_starts: Vec::new(), ..before.member.clone() }))?;
        member.earlier_starts = earlier_starts;
        let start = member.starting_handicap;
        if start != before.member.starting_handicap || start_from.is_some() {
            member.starting_handicap = before.member.starting_handicap;
            let from = match start_from {
                None => self.day_after_cards(conn, before.league, id).await?,
                said => said,
            };
            member.start_from(from, start);
        }
        if member.guest != before.member.guest {
            let book = self.books.of(conn, before.league).await?;
            if book.book.nights.values().any(|night| night.kept_of(id).is_some()) {
                let detail = "a final event has a card of this player: whether it is ranked is settled";
                return Err(Refusal::conflict(Rule::TermsSettled, detail));
            }
        }
        match (before.member.role, member.role) {
            (Role::Organizer, Role::Organizer) => {}
            (_, Role::Organizer) => access::fresh(caller, now)?,
            _ => may_step_down(conn, &before).await?,
        }
        replace(conn, &before, &member, Some((by.id, caller.account)), now).await?;
        let cause = Cause { by: by.id, act: "replace", kind: "member", thing: id.0, reason: None };
        self.terms_changed(conn, before.league, &tables, cause, now).await?;
        let stored = members::get(conn, id).await?.ok_or(Refusal::NotFound)?;
        let is_demoted = member.role < before.member.role;
        Ok(Changed { stored, before: tables, is_demoted })
    }

    /// Returns the day after the last event in which a member has a card, if there is one.
    async fn day_after_cards(
        &self,
        conn: &mut Conn,
        league: LeagueId,
        member: MemberId,
    ) -> Result<Option<Date>, Refusal> {
        let book = self.books.of(conn, league).await?;
        let cards = results::of_member(conn, league, member).await?;
        let cards = cards.iter().filter(|card| card.entry.state != RoundState::Withdrawn);
        let last = cards.filter_map(|card| book.book.nights.get(&card.entry.event)).map(|night| night.date).max();
        Ok(last.and_then(|last| last.tomorrow().ok()))
    }

    /// Erases the person from a record: name, account, and texts by and about the person go, the numbers stay.
    ///
    /// # Errors
    /// Anybody but the member and the organizers; a stale version; the last organizer.
    pub async fn erase_member(&self, caller: Caller, id: MemberId, if_match: IfMatch) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        let erased = change!(self, id, |conn| {
            let before = members::get(conn, id).await?.ok_or(Refusal::NotFound)?;
            let by = access::member(conn, caller, before.league).await?;
            if by.id != id && by.member.role != Role::Organizer {
                return Err(Refusal::Forbidden("only the player or an organizer may erase a player"));
            }
            access::fresh(caller, now)?;
            if_match.check(before.version)?;
            if before.is_erased {
                return Err(Refusal::conflict(Rule::InvalidTransition, "this player has been erased"));
            }
            may_step_down(conn, &before).await?;
            this.erase(conn, &before, by.id, Some(caller.account), now).await?;
            Ok(this.lasting.note(conn, Deed::EraseMember { member_id: id }, now).await?)
        });
        self.marks.right_ended();
        self.clearing.is_due();
        erased
    }

    /// Erases the person from a record, whoever is left to organize the league: what the person wrote, and what others
    /// wrote in fields about the person.
    pub(in crate::league) async fn erase(
        &self,
        conn: &mut Conn,
        before: &StoredMember,
        by: MemberId,
        account: Option<AccountId>,
        now: Timestamp,
    ) -> Result<(), Refusal> {
        let tables = self.tables(conn, before.league).await?;
        let (league, id) = (before.league, before.id);
        let name = format!("Former player {}", members::count_erased(conn, league).await? + 1);
        void_invitations(conn, before, now).await?;
        secret_addresses::void_of(conn, league, id, now).await?;
        members::erase(conn, league, id, &name, now).await?;
        erasure::versions(conn, league, id).await?;
        let mut rows = vec![wrote("members", id)];
        rows.extend(setups::erase(conn, league, id).await?);
        erasure::words(conn, league, id).await?;
        practice::erase(conn, league, id).await?;
        file_columns::erase(conn, league, id).await?;
        let about = erasure::about(conn, league, id).await?;
        idempotency::erase(conn, id, about).await?;
        let act = Act { by: account, act: "erase", kind: "member", id: id.0, content: &[], rows: &rows };
        journal::append(conn, league, act, now).await?;
        let cause = Cause { by, act: "erase", kind: "member", thing: id.0, reason: None };
        self.terms_changed(conn, league, &tables, cause, now).await?;
        Ok(())
    }

    /// Reads a member.
    ///
    /// # Errors
    /// A member of a league that the caller is not in.
    pub async fn member(&self, caller: Caller, id: MemberId) -> Result<(MemberView, i64), Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let stored = members::get(&mut conn, id).await?.ok_or(Refusal::NotFound)?;
        access::member(&mut conn, caller, stored.league).await?;
        Ok((MemberView::from(&stored), stored.version))
    }

    /// Reads a league's members after an id.
    ///
    /// # Errors
    /// A league that the caller is not in.
    pub async fn members_of(
        &self,
        caller: Caller,
        league: LeagueId,
        after: Uuid,
        limit: i64,
    ) -> Result<Vec<MemberView>, Refusal> {
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        access::member(&mut conn, caller, league).await?;
        Ok(members::list(&mut conn, league, after, limit).await?.iter().map(MemberView::from).collect())
    }
}

/// Stores a new member without an account; the league's book still has to be marked.
pub(in crate::league) async fn add(
    conn: &mut Conn,
    key: &RequestKey,
    league: LeagueId,
    member: Member,
) -> Result<StoredMember, StorageError> {
    let stored = StoredMember {
        id: MemberId(Uuid::now_v7()),
        league,
        account: None,
        member,
        is_erased: false,
        version: 1,
        seq: leagues::next_seq(conn, league).await?,
        received_at: key.now,
    };
    members::insert(conn, &stored).await?;
    let (body, by) = (text(&stored.member), Some(key.caller.account));
    let rows = [wrote("members", stored.id)];
    let act = Act { by, act: "create", kind: "member", id: stored.id.0, content: body.as_bytes(), rows: &rows };
    journal::append(conn, league, act, key.now).await?;
    Ok(stored)
}

/// Takes a role from a member, as the operator, whoever is left to organize the league.
pub(in crate::league) async fn demote(
    conn: &mut Conn,
    before: &StoredMember,
    role: Role,
    now: Timestamp,
) -> Result<(), Refusal> {
    let member = Member { role, ..before.member.clone() };
    replace(conn, before, &member, None, now).await?;
    Ok(books::mark(conn, before.league).await?)
}

/// Stores what a record is now, keeps what it was, and writes down who did it, an operator if nobody is named.
async fn replace(
    conn: &mut Conn,
    before: &StoredMember,
    member: &Member,
    by: Option<(MemberId, AccountId)>,
    now: Timestamp,
) -> Result<(), Refusal> {
    if member.role < before.member.role {
        void_invitations(conn, before, now).await?;
    }
    keep_before(conn, before, by.map(|(member, _)| member)).await?;
    members::update(conn, before.league, before.id, member).await?;
    let (by, body) = (by.map(|(_, account)| account), text(member));
    let rows = [wrote("members", before.id), wrote_version("member", before.id.0, before.version)];
    let act = Act { by, act: "replace", kind: "member", id: before.id.0, content: body.as_bytes(), rows: &rows };
    Ok(journal::append(conn, before.league, act, now).await?)
}

/// Ends the invitations that a member made, and those that give the record with the role that it had: whoever loses a role
/// must not come back by a code from before.
pub(in crate::league) async fn void_invitations(
    conn: &mut Conn,
    before: &StoredMember,
    now: Timestamp,
) -> Result<(), Refusal> {
    Ok(leagues::void_invitations(conn, before.league, before.account, before.id, now).await?)
}

async fn keep_before(conn: &mut Conn, before: &StoredMember, by: Option<MemberId>) -> Result<(), Refusal> {
    let body = text(&before.member);
    let kept = Kept {
        version: before.version,
        seq: before.seq,
        received_at: before.received_at,
        by: by.map(|by| by.0),
        reason: None,
        body: &body,
    };
    documents::keep_version(conn, "member", before.league, before.id.0, kept).await?;
    Ok(())
}

/// Makes of stored facts what is shown of them.
fn views<T, V: From<T>>(stored: Vec<T>) -> Vec<V> {
    stored.into_iter().map(V::from).collect()
}

/// Everything held on a member.
#[derive(Debug, serde::Serialize)]
pub struct MemberExport {
    /// The account.
    pub account: crate::league::account::view::AccountView,
    /// The record.
    pub member: MemberView,
    /// Earlier versions of it.
    pub versions: Vec<crate::wire::bundle::line::EarlierVersion>,
    /// The member's own set-ups.
    pub setups: Vec<crate::league::views::SetupView>,
    /// The rounds, with their earlier versions.
    pub rounds: Vec<ExportedRound>,
    /// The differentials that were brought along.
    pub carried_differentials:
        Vec<crate::league::member::bring_along::CarriedView<crate::domain::facts::CarriedDifferential>>,
    /// What organizers decided about the index.
    pub handicap_acts: Vec<HandicapActView>,
    /// The events that the member is entered in.
    pub entries: Vec<crate::league::event::enter::EntrantView>,
    /// The queries that the member raised.
    pub queries: Vec<crate::league::round::queries::QueryView>,
    /// The answers that the member gave.
    pub answers: Vec<crate::league::round::queries::AnswerView>,
    /// What the member said of findings.
    pub statements: Vec<crate::league::finding::views::WordView>,
    /// What the member was told.
    pub notices: Vec<crate::league::member::notices::NoticeView>,
    /// The practice.
    pub practice: Vec<crate::league::member::practice::PracticeView>,
    /// How the files of set-ups are read.
    pub file_columns: Vec<crate::league::member::file_columns::FileColumnsView>,
}

/// A round of an export.
#[derive(Debug, serde::Serialize)]
pub struct ExportedRound {
    /// The round.
    #[serde(flatten)]
    pub round: crate::league::views::RoundView,
    /// Earlier versions of it.
    pub versions: Vec<crate::wire::bundle::line::EarlierVersion>,
}

impl Leagues {
    /// Collects everything held on a member, for that member alone.
    ///
    /// # Errors
    /// Anybody else.
    pub async fn member_export(&self, caller: Caller, id: MemberId) -> Result<MemberExport, Refusal> {
        use crate::domain::facts::Setup;
        use crate::storage::documents::{Document, SETUPS, versions};
        use crate::storage::{accounts, results, rounds};
        let mut conn = self.database.reader().await?;
        conn.begin_read().await?;
        let conn = &mut conn;
        let stored = members::get(conn, id).await?.ok_or(Refusal::NotFound)?;
        let by = access::member(conn, caller, stored.league).await?;
        if by.id != id {
            return Err(Refusal::Forbidden("only the player may download the data of a player"));
        }
        access::fresh(caller, self.now())?;
        let league = stored.league;
        let account = accounts::get(conn, caller.account).await?.ok_or(Refusal::NotFound)?;
        let all: Vec<Document<Setup>> = documents::list(conn, &SETUPS, league, Uuid::nil(), i64::MAX).await?;
        let own = all.into_iter().filter(|setup| setup.parent == Some(id.0)).map(crate::league::views::SetupView::from);
        let own = own.collect();
        let book = self.books.of(conn, league).await?;
        let mut exported = Vec::new();
        for result in results::of_member(conn, league, id).await? {
            let Some(row) = rounds::get(conn, result.entry.id).await? else { continue };
            let round = rounds::whole(conn, &row).await?;
            let earlier = versions(conn, "round", league, row.id.0).await?;
            exported.push(ExportedRound {
                round: crate::league::views::RoundView::of(
                    &row,
                    round,
                    crate::league::views::FiguresView::of(&book.book, result.figures.as_ref()),
                ),
                versions: earlier.into_iter().map(|(version, _)| version).collect(),
            });
        }
        let earlier = versions(conn, "member", league, id.0).await?;
        let columns = file_columns::of_member(conn, league, id).await?;
        let practised = practice::of_member(conn, league, id, Uuid::nil(), i64::MAX).await?;
        Ok(MemberExport {
            account: (&account).into(),
            member: MemberView::from(&stored),
            versions: earlier.into_iter().map(|(version, _)| version).collect(),
            setups: own,
            rounds: exported,
            carried_differentials: crate::league::member::bring_along::differentials_of(conn, league, id).await?,
            handicap_acts: handicap_act::of(conn, league, id).await?,
            entries: views(entrants::of_member(conn, league, id).await?),
            queries: views(queries::of_member(conn, league, id).await?),
            answers: views(queries::answers_of_member(conn, league, id).await?),
            statements: views(findings::words_of_member(conn, league, id).await?),
            notices: views(notices::of_member(conn, league, id).await?),
            practice: practised.into_iter().map(Into::into).collect(),
            file_columns: columns.into_iter().map(Into::into).collect(),
        })
    }
}
