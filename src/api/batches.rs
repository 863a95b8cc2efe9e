//! Batches: many rounds of a season in one request, taken in as their lines come.

use super::rounds::CONFIRM_DATES;
use crate::accounts::throttle::Network;
use crate::domain::facts::Round;
use crate::domain::ids::{EventId, SeasonId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::body::{MOST_BYTES as MOST_LINE_BYTES, checked, decoded, unsupported};
use crate::http::incoming::{BODY_TIME, Incoming, hold_for, too_large, too_late};
use crate::http::intake::counted;
use crate::http::problem::Problem;
use crate::http::routes::{Access, Media, RouteDoc, Routes, creates};
use crate::league::round::batch::client_round_id;
use crate::league::{Caller, Leagues};
use crate::storage::idempotency::Reply;
use crate::wire::body::{round, season, views};
use crate::wire::json::Node;
use crate::wire::schema::{Schema, field, optional};
use actix_web::web::{Bytes, Data, Payload};
use actix_web::{HttpMessage, HttpRequest, HttpResponse};
use futures_util::StreamExt;
use std::sync::{Arc, LazyLock};
use std::time::{Duration, Instant};
use tokio::sync::{Semaphore, mpsc};
use uuid::Uuid;

/// The most lines of a batch.
const MOST_LINES: usize = 10_000;
/// The most bytes of a batch.
const MOST_BYTES: usize = 64 << 20;
/// How long a batch may take to arrive, without the time that the server takes for its lines.
const BATCH_TIME: Duration = Duration::from_secs(600);
/// How many lines of a batch are stored at once; they share commits.
const LINES_AT_ONCE: usize = 64;
/// How many bytes the lines of a batch have that are stored at once.
const BYTES_AT_ONCE: usize = 1 << 20;
/// What a batch holds in memory: those lines, and what was read beyond them.
const HELD: usize = BYTES_AT_ONCE + 4 * MOST_LINE_BYTES;
/// How often an answer for which there is no room looks again.
const LOOK_AGAIN: Duration = Duration::from_millis(50);

/// The shape of a line.
static LINE: LazyLock<Schema> = LazyLock::new(|| {
    let mut fields = round::round_fields();
    fields.retain(|field| !matches!(field.name, "member_id" | "client_round_id"));
    fields.extend([
        field("event_id", Schema::Id),
        field("member_id", Schema::Id),
        field("ref", Schema::Text(1, 100)),
        optional("client_round_id", Schema::Id),
    ]);
    Schema::Object(fields)
});

async fn batch(
    app: Data<App>,
    caller: Caller,
    id: IdPath,
    query: QueryOf,
    request: HttpRequest,
    payload: Payload,
) -> Answer {
    let season = SeasonId(id.0);
    if !matches!(request.content_type(), "application/x-ndjson" | "application/jsonl") {
        return Err(unsupported("application/x-ndjson"));
    }
    let mut lines = Lines::new(Incoming::new(request.headers(), payload.into_inner())?, MOST_LINES, MOST_BYTES);
    app.leagues.may_batch(caller, season).await?;
    let sent = Sent { caller, season, confirms_dates: query.confirms("dates")? };
    let mut hold = hold_for(&request)?;
    hold.grow(HELD)?;
    let network = hold.network();
    // What keeps the first line from coming is answered with a status of its own; later faults are answered as a line.
    let first = lines.next().await?;
    let (sender, mut answers) = mpsc::unbounded_channel::<Bytes>();
    // Beside the answer: a client that reads no answer before it has sent all of its lines must not be held up.
    actix_web::rt::spawn(async move {
        let leagues = app.leagues.clone();
        let written = answers_of(leagues, sent, first, lines);
        let mut written = std::pin::pin!(written);
        while let Some(answer) = written.next().await {
            let Some(answer) = with_room(&app, network, answer, &sender).await else { continue };
            // If nobody listens any more, lines that are on their way are still stored.
            let _ = sender.send(answer);
        }
        drop(hold);
    });
    let stream = async_stream::stream! {
        while let Some(answer) = answers.recv().await {
            yield Ok::<_, Problem>(answer);
        }
    };
    Ok(HttpResponse::Ok().content_type("application/x-ndjson").streaming(Box::pin(stream)))
}

/// What holds of every line of a batch.
#[derive(Clone, Copy)]
struct Sent {
    caller: Caller,
    season: SeasonId,
    confirms_dates: bool,
}

/// Waits until there is room for an answer that the client has not read; none once nobody listens.
async fn with_room(app: &App, network: Network, answer: String, to: &mpsc::UnboundedSender<Bytes>) -> Option<Bytes> {
    loop {
        if to.is_closed() {
            return None;
        }
        let mut hold = app.intake.hold(network);
        if hold.grow(answer.len()).is_ok() {
            return Some(counted(answer.into_bytes(), hold));
        }
        tokio::time::sleep(LOOK_AGAIN).await;
    }
}

/// Hands in lines in order, so that they enter the store in order, and answers them in order.
fn answers_of(
    leagues: Leagues,
    sent: Sent,
    first: Option<Line>,
    mut lines: Lines,
) -> impl futures_util::Stream<Item = String> {
    let room = Arc::new(Semaphore::new(BYTES_AT_ONCE));
    let given = async_stream::stream! {
        let mut next = Ok(first);
        loop {
            match next {
                Ok(None) => break,
                Ok(Some(line)) => yield line,
                // What is wrong with the batch as a whole ends it.
                Err(problem) => {
                    yield Line { number: lines.number + 1, content: Err(problem) };
                    break;
                }
            }
            next = lines.next().await;
        }
    };
    let handed_in = given.then(move |line| {
        let room = Arc::clone(&room);
        async move {
            let bytes = line.content.as_ref().map_or(0, Vec::len) as u32;
            (line, room.acquire_many_owned(bytes).await)
        }
    });
    handed_in
        .map(move |(Line { number, content }, room)| {
            let leagues = leagues.clone();
            async move {
                let outcome = match content {
                    Ok(line) => hand_in_line(&leagues, sent, &line).await,
                    Err(problem) => Err(problem),
                };
                drop(room);
                line_answer(number, outcome)
            }
        })
        .buffered(LINES_AT_ONCE)
}

/// A line that says something.
struct Line {
    /// Its number, from 1, blank lines counted.
    number: usize,
    content: Result<Vec<u8>, Problem>,
}

/// Cuts a body into lines as it comes.
struct Lines {
    incoming: Incoming,
    /// What came and is not cut yet.
    rest: Vec<u8>,
    /// How much of that was searched for the end of a line.
    searched: usize,
    /// Whether the beginning of the line was dropped because it is too long.
    is_dropping: bool,
    has_ended: bool,
    number: usize,
    said: usize,
    bytes: usize,
    waited: Duration,
    most_lines: usize,
    most_bytes: usize,
}

impl Lines {
    fn new(incoming: Incoming, most_lines: usize, most_bytes: usize) -> Self {
        Self {
            incoming,
            rest: Vec::new(),
            searched: 0,
            is_dropping: false,
            has_ended: false,
            number: 0,
            said: 0,
            bytes: 0,
            waited: Duration::ZERO,
            most_lines,
            most_bytes,
        }
    }

    /// Returns the next line that is not blank; none at the end.
    async fn next(&mut self) -> Result<Option<Line>, Problem> {
        loop {
            if let Some(line) = self.cut() {
                self.number += 1;
                if line.as_ref().is_ok_and(|line| line.trim_ascii().is_empty()) {
                    continue;
                }
                self.said += 1;
                if self.said > self.most_lines {
                    self.number -= 1;
                    return Err(too_large(format!("a batch has at most {} lines", self.most_lines)));
                }
                return Ok(Some(Line { number: self.number, content: line }));
            }
            if self.has_ended {
                return Ok(None);
            }
            self.fill().await?;
        }
    }

    /// Cuts a line off what has come.
    fn cut(&mut self) -> Option<Result<Vec<u8>, Problem>> {
        let end = self.rest[self.searched..].iter().position(|byte| *byte == b'\n').map(|end| self.searched + end);
        self.searched = end.unwrap_or(self.rest.len());
        let is_too_long = self.is_dropping || self.searched > MOST_LINE_BYTES;
        match end {
            None if !self.has_ended => {
                if is_too_long {
                    (self.is_dropping, self.searched) = (true, 0);
                    self.rest.clear();
                }
                return None;
            }
            None if self.rest.is_empty() && !self.is_dropping => return None,
            _ => {}
        }
        let after = self.rest.split_off(self.searched.saturating_add(1).min(self.rest.len()));
        let mut line = std::mem::replace(&mut self.rest, after);
        line.truncate(self.searched);
        (self.searched, self.is_dropping) = (0, false);
        Some(if is_too_long { Err(too_large(format!("a line has at most {MOST_LINE_BYTES} bytes"))) } else { Ok(line) })
    }

    async fn fill(&mut self) -> Result<(), Problem> {
        let began = Instant::now();
        let patience = BODY_TIME.min(BATCH_TIME.saturating_sub(self.waited));
        let piece = tokio::time::timeout(patience, self.incoming.next()).await.map_err(|_| too_late())??;
        self.waited += began.elapsed();
        match piece {
            None => self.has_ended = true,
            Some(piece) => {
                self.bytes += piece.len();
                if self.bytes > self.most_bytes {
                    return Err(too_large(format!("a batch has at most {} bytes", self.most_bytes)));
                }
                self.rest.extend_from_slice(&piece);
            }
        }
        Ok(())
    }
}

async fn hand_in_line(leagues: &Leagues, sent: Sent, line: &[u8]) -> Result<Reply, Problem> {
    let mut node = checked(line, &LINE)?;
    let text = |name: &str| node.get(name).and_then(Node::as_text).unwrap_or_default().to_owned();
    let event = EventId(Uuid::try_parse(&text("event_id")).unwrap_or_default());
    let stands_for = client_round_id(sent.season, &text("ref"));
    node.set_absent("client_round_id", stands_for);
    let round: Round = decoded(&node)?;
    Ok(leagues.hand_in_line(sent.caller, sent.season, event, round, sent.confirms_dates).await?)
}

fn line_answer(line: usize, outcome: Result<Reply, Problem>) -> String {
    let answer = match outcome {
        Ok(reply) => {
            let round: serde_json::Value = serde_json::from_str(&reply.body).unwrap_or_default();
            serde_json::json!({ "line": line, "status": reply.status, "round_id": round["id"] })
        }
        Err(problem) => {
            let status = problem.status().as_u16();
            serde_json::json!({ "line": line, "status": status, "problem": problem.to_json(None) })
        }
    };
    format!("{answer}\n")
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let path = "/seasons/{id}/round-batches";
    let body = Schema::Object(season::season_fields());
    let batched = creates(path, "Hands in many rounds.", Access::Organizer, body, Schema::Anything);
    let batched = RouteDoc {
        takes: Media::Lines(LINE.clone()),
        answers: Media::Lines(views::batch_line()),
        status: 200,
        keyed: false,
        query: CONFIRM_DATES,
        ..batched
    };
    routes.add(batched, batch);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::http::incoming::in_chunks;
    use actix_web::http::header::HeaderMap;

    /// Cuts a body that comes in chunks: the numbers and lengths of its lines, none for one that is too long, and what
    /// ended it.
    async fn cut(body: &[u8], chunk: usize) -> (Vec<(usize, Option<usize>)>, Option<u16>) {
        let mut lines = Lines::new(in_chunks(&HeaderMap::new(), body, chunk).unwrap(), 3, 1 << 20);
        let mut found = Vec::new();
        loop {
            match lines.next().await {
                Ok(Some(line)) => found.push((line.number, line.content.ok().map(|line| line.len()))),
                Ok(None) => return (found, None),
                Err(problem) => return (found, Some(problem.status().as_u16())),
            }
            assert!(lines.rest.len() <= 4 * MOST_LINE_BYTES.max(chunk), "{} bytes are held", lines.rest.len());
        }
    }

    #[tokio::test]
    async fn lines_are_cut_however_they_come() {
        for chunk in [1, 2, 3, 7, 100] {
            let cut = |body: &'static str| cut(body.as_bytes(), chunk);
            assert_eq!(cut("").await, (vec![], None));
            assert_eq!(cut("ab\n\n \r\ncd").await, (vec![(1, Some(2)), (4, Some(2))], None));
            assert_eq!(cut("a\nb\nc\n\n").await.0.len(), 3, "as many as may be");
            assert_eq!(cut("a\nb\nc\n\nd\ne").await.1, Some(413), "one more");
        }
    }

    #[tokio::test]
    async fn a_line_that_is_too_long_is_not_kept() {
        let most = "x".repeat(MOST_LINE_BYTES);
        for chunk in [1000, 1 << 20] {
            let body = format!("{most}\n{most}x\n{}", "y".repeat(3 * MOST_LINE_BYTES));
            let due = vec![(1, Some(MOST_LINE_BYTES)), (2, None), (3, None)];
            assert_eq!(cut(body.as_bytes(), chunk).await, (due, None), "in chunks of {chunk}");
        }
    }

    #[tokio::test]
    async fn a_batch_ends_at_its_most_bytes() {
        let body = vec![b'\n'; 1 << 20];
        assert_eq!(cut(&body, 1 << 16).await, (vec![], None));
        assert_eq!(cut(&[body, vec![b'\n']].concat(), 1 << 16).await, (vec![], Some(413)));
    }
}
