//! Courses.

use super::access::{self, IfMatch};
use super::keys::{RequestKey, created};
use super::views::CourseView;
use super::{Caller, Leagues, Refusal, sound};
use crate::change;
use crate::domain::facts::fit::tee_faults;
use crate::domain::facts::{Course, Fault};
use crate::domain::ids::{CourseId, LeagueId, TeeId};
use crate::domain::rule::Rule;
use crate::league::memory::books::{self, LeagueBook};
use crate::league::season::changes::{self, Cause, Tables};
use crate::league::season::derive;
use crate::storage::documents::{self, COURSES, Document};
use crate::storage::idempotency::Reply;
use crate::storage::journal::{self, Act};
use crate::storage::row_hashes::{wrote, wrote_version};
use crate::storage::{Conn, leagues};
use jiff::Timestamp;
use std::sync::Arc;
use uuid::Uuid;

fn text(course: &Course) -> String {
    serde_json::to_string(course).expect("a course is plain values with text keys")
}

/// Gives an id to every tee that has none.
fn with_tee_ids(mut course: Course) -> Course {
    for tee in &mut course.tees {
        if tee.id.0.is_nil() {
            tee.id = TeeId(Uuid::now_v7());
        }
    }
    course
}

impl Leagues {
    /// Adds a course.
    ///
    /// # Errors
    /// Anybody but an organizer; a course that does not fit itself; a tee id that another course has.
    pub async fn create_course(&self, key: RequestKey, league: LeagueId, course: Course) -> Result<Reply, Refusal> {
        let this = self.clone();
        change!(self, league, |conn| {
            access::organizer(conn, key.caller, league).await?;
            if let Some(reply) = key.replay(conn).await? {
                return Ok(reply);
            }
            let course = with_tee_ids(course);
            sound(course.faults())?;
            let book = this.books.of(conn, league).await?;
            let taken = course.tees.iter().position(|tee| book.book.tees.contains_key(&tee.id));
            if let Some(t) = taken {
                return Err(Refusal::fault(&format!("/tees/{t}/id"), Rule::TeeRepeated, "another course has this tee"));
            }
            let (id, body) = (Uuid::now_v7(), text(&course));
            let seq = leagues::next_seq(conn, league).await?;
            documents::insert(conn, &COURSES, league, id, None, 1, seq, key.now, &body).await?;
            books::mark(conn, league).await?;
            let (by, rows) = (Some(key.caller.account), [wrote("courses", id)]);
            let act = Act { by, act: "create", kind: "course", id, content: body.as_bytes(), rows: &rows };
            journal::append(conn, league, act, key.now).await?;
            let view = CourseView { id: CourseId(id), league_id: league, course };
            key.keep(conn, created(format!("/api/v1/courses/{id}"), 1, &view)).await
        })
    }

    /// Replaces a course; rounds of events that are not final are worked out afresh.
    ///
    /// # Errors
    /// As [`create_course`](Self::create_course); a stale version; a tee that events are played from is gone or no
    /// longer fits them.
    pub async fn replace_course(
        &self,
        caller: Caller,
        id: CourseId,
        if_match: IfMatch,
        course: Course,
    ) -> Result<(CourseView, i64), Refusal> {
        let this = self.clone();
        let now = self.now();
        change!(self, id, |conn| {
            let (before, member) = access::organized_document::<Course>(conn, caller, &COURSES, id.0).await?;
            if_match.check(before.version)?;
            this.weigh_now(conn, before.league, now).await?;
            let tables = this.tables(conn, before.league).await?;
            let course = with_tee_ids(course);
            sound(course.faults())?;
            let book = this.books.of(conn, before.league).await?;
            sound(tee_changes(&book.book, &before.body, &course))?;
            let body = text(&course);
            let seq = leagues::next_seq(conn, before.league).await?;
            documents::replace(conn, &COURSES, &before, Some(member.id.0), seq, now, &body).await?;
            let rows = [wrote("courses", id), wrote_version("course", id.0, before.version)];
            let (by, content) = (Some(caller.account), body.as_bytes());
            let act = Act { by, act: "replace", kind: "course", id: id.0, content, rows: &rows };
            journal::append(conn, before.league, act, now).await?;
            let cause = Cause { by: member.id, act: "replace", kind: "course", thing: id.0, reason: None };
            let book = this.terms_changed(conn, before.league, &tables, cause, now).await?;
            if before.body.tees != course.tees {
                for season in book.book.seasons.keys() {
                    crate::league::finding::evidence::afresh(conn, &book, *season, now).await?;
                }
            }
            let version = before.version + 1;
            Ok((CourseView::from(Document { body: course, ..before }), version))
        })
    }

    /// Removes a course from whose tees no event is played.
    ///
    /// # Errors
    /// Anybody but an organizer; a stale version; a course that an event is played on.
    pub async fn remove_course(&self, caller: Caller, id: CourseId, if_match: IfMatch) -> Result<(), Refusal> {
        let this = self.clone();
        let now = self.now();
        change!(self, id, |conn| {
            let (course, _) = access::organized_document::<Course>(conn, caller, &COURSES, id.0).await?;
            if_match.check(course.version)?;
            let book = this.books.of(conn, course.league).await?;
            let is_here = |tee: &TeeId| course.body.tees.iter().any(|own| own.id == *tee);
            if let Some(night) = book.book.nights.values().find(|night| night.event.tee_ids().iter().any(is_here)) {
                let detail = format!("the event {} is played from a tee of this course", night.event.name);
                return Err(Refusal::conflict(Rule::CourseInUse, detail));
            }
            documents::remove_course(conn, course.league, id.0).await?;
            books::mark(conn, course.league).await?;
            let by = Some(caller.account);
            let act = Act { by, act: "remove", kind: "course", id: id.0, content: &[], rows: &[] };
            Ok(journal::append(conn, course.league, act, now).await?)
        })
    }

    /// Takes the tables down before a change of terms.
    pub(super) async fn tables(&self, conn: &mut Conn, league: LeagueId) -> Result<Tables, Refusal> {
        let book = self.books.of(conn, league).await?;
        Ok(changes::tables(conn, &book).await?)
    }

    /// Works everybody out afresh after a change of terms, and writes down which rows it moved. Returns the changed book.
    pub(super) async fn terms_changed(
        &self,
        conn: &mut Conn,
        league: LeagueId,
        before: &Tables,
        cause: Cause<'_>,
        at: Timestamp,
    ) -> Result<Arc<LeagueBook>, Refusal> {
        books::mark(conn, league).await?;
        let book = self.books.of(conn, league).await?;
        derive::everybody(conn, &book).await?;
        changes::write_down(conn, &book, before, cause, at).await?;
        Ok(book)
    }
}

fn tee_changes(book: &crate::domain::season::Book, before: &Course, after: &Course) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (t, tee) in after.tees.iter().enumerate() {
        let is_elsewhere = book.tees.contains_key(&tee.id) && !before.tees.iter().any(|own| own.id == tee.id);
        if is_elsewhere {
            faults.push(Fault::new(format!("/tees/{t}/id"), Rule::TeeRepeated, "another course has this tee"));
        }
    }
    let find = |id: TeeId| {
        let own = before.tees.iter().any(|tee| tee.id == id);
        if own { after.tees.iter().find(|tee| tee.id == id) } else { book.tees.get(&id) }
    };
    for night in book.nights.values().filter(|night| night.kept.is_none()) {
        for fault in tee_faults(&night.event, find) {
            let detail =
                format!("the event {} is played from a tee of this course: {}", night.event.name, fault.detail);
            faults.push(Fault::new("/tees", Rule::TeeInUse, detail));
        }
    }
    faults
}
