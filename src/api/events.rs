//! Events and their boards.

use crate::domain::facts::{CardInPlay, Event, EventEntry};
use crate::domain::ids::{CompetitionId, EventId, MemberId, SeasonId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::{Answer, done, json, paged, replied, versioned};
use crate::http::app::App;
use crate::http::body::Body;
use crate::http::keys::Key;
use crate::http::paging::PageOf;
use crate::http::problem::Problem;
use crate::http::rendered::{Asked, Written};
use crate::http::routes::{Access, Media, RouteDoc, Routes, creates, lists, patches, reads, removes, replaces};
use crate::http::tag::{etag, is_known};
use crate::http::who::Bearer;
use crate::league::access::IfMatch;
use crate::league::memory::marks::Mark;
use crate::league::views::{EventView, Page};
use crate::league::{Caller, Refusal};
use crate::storage::StorageError;
use crate::storage::documents::EVENTS;
use crate::wire::body::{event, life, tables, views};
use crate::wire::schema::Schema;
use actix_web::http::{Method, header};
use actix_web::web::{Bytes, Data};
use actix_web::{HttpRequest, HttpResponse};
use std::time::Duration;
use tokio::sync::broadcast::error::RecvError;

fn body() -> Schema {
    Schema::Object(event::event_fields())
}

async fn create(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let event: Event = sent.read_with_rules(&body())?;
    Ok(replied(app.leagues.create_event(key.of(&app, caller, &sent), SeasonId(id.0), event).await?))
}

async fn list(app: Data<App>, caller: Caller, id: IdPath, page: PageOf, request: HttpRequest) -> Answer {
    let found = app.leagues.events_of(caller, SeasonId(id.0), page.after_id()?, page.limit + 1).await?;
    let now = app.leagues.now();
    let views = found.into_iter().map(|event| EventView::of(event, now)).collect();
    Ok(paged(request.path(), page.limit, &page.cut(views, |view: &EventView| view.id.to_string())))
}

async fn show(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let found = app.leagues.document::<Event>(caller, &EVENTS, id.0).await?;
    let version = found.version;
    Ok(versioned((EventView::of(found, app.leagues.now()), version)))
}

async fn change(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, sent: Body) -> Answer {
    let patched = sent.patch::<Event>(body)?;
    Ok(versioned(app.leagues.change_event(caller, EventId(id.0), if_match, patched).await?))
}

async fn remove(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.remove_event(caller, EventId(id.0), if_match).await?;
    Ok(done())
}

async fn board(app: Data<App>, bearer: Bearer, id: IdPath, query: QueryOf, request: HttpRequest) -> Answer {
    let (Bearer { caller, session }, event) = (bearer, EventId(id.0));
    let competition = query.id("competition")?.map(CompetitionId);
    let shown = app.leagues.event_mark(caller, session, event).await?;
    if let Some(age) = shown.age {
        let written = app.tables.last(Asked::Board(event, competition), shown.mark).await.ok_or(StorageError::Away)?;
        let tag = etag(written.mark);
        return Ok(written.answer_aged(tag, "application/json", age));
    }
    let tag = etag(shown.mark);
    if is_known(&request, &tag) {
        return Ok(HttpResponse::NotModified().insert_header((header::ETAG, tag)).finish());
    }
    let written = board_of(&app, caller, (event, competition), shown.mark).await?;
    let tag = etag(written.mark);
    Ok(written.answer(tag, "application/json"))
}

/// Returns a board that is no older than `mark`, for whoever was told it.
async fn board_of(
    app: &App,
    caller: Caller,
    (event, competition): (EventId, Option<CompetitionId>),
    mark: i64,
) -> Result<Written, Problem> {
    let write = || async {
        let board = app.leagues.board(caller, event, competition).await?;
        let body = serde_json::to_string(&board).expect("a board is plain values with text keys");
        Ok(Written { mark: board.version, body: body.into() })
    };
    app.tables.of(Asked::Board(event, competition), mark, write).await
}

async fn entry_sheet(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let member = query.id("member_id")?.map(MemberId);
    Ok(json(&app.leagues.entry_sheet(caller, EventId(id.0), member).await?))
}

#[derive(serde::Deserialize)]
struct Entry {
    #[serde(default)]
    member_id: Option<MemberId>,
    #[serde(flatten)]
    entry: EventEntry,
}

async fn enter(app: Data<App>, caller: Caller, id: IdPath, key: Key, sent: Body) -> Answer {
    let Entry { member_id, entry } = sent.read(&Schema::Object(life::entry_fields()))?;
    Ok(replied(app.leagues.enter(key.of(&app, caller, &sent), EventId(id.0), member_id, entry).await?))
}

async fn entries(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let items = app.leagues.entrants(caller, EventId(id.0)).await?;
    Ok(json(&Page { items, next: None }))
}

async fn leave(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch) -> Answer {
    app.leagues.leave_event(caller, id.0, if_match).await?;
    Ok(done())
}

#[derive(serde::Deserialize)]
struct Progress {
    #[serde(default)]
    member_id: Option<MemberId>,
    #[serde(flatten)]
    card: CardInPlay,
}

async fn progress(app: Data<App>, caller: Caller, id: IdPath, if_match: IfMatch, sent: Body) -> Answer {
    let Progress { member_id, card } = sent.read(&Schema::Object(life::card_in_play_fields()))?;
    Ok(versioned(app.leagues.put_card_in_play(caller, EventId(id.0), member_id, if_match, card).await?))
}

/// How often a stream that has nothing to say says so.
const KEEP_ALIVE: Duration = Duration::from_secs(15);
/// How often a stream asks whether its reader may still read.
const RECHECK: Duration = Duration::from_secs(4);
/// The shortest time between two boards.
const LEAST_PAUSE: Duration = Duration::from_secs(1);

async fn stream(app: Data<App>, bearer: Bearer, id: IdPath, query: QueryOf, request: HttpRequest) -> Answer {
    let (Bearer { caller, session }, event) = (bearer, EventId(id.0));
    let competition = query.id("competition")?.map(CompetitionId);
    let mut answer = HttpResponse::Ok();
    answer
        .content_type("text/event-stream")
        .insert_header((header::CACHE_CONTROL, "no-store"))
        // Compression would hold events back until a block is full.
        .insert_header(header::ContentEncoding::Identity)
        .insert_header(("x-accel-buffering", "no"));
    if request.method() == Method::HEAD {
        app.leagues.event_mark(caller, session, event).await?;
        return Ok(answer.finish());
    }
    let open = app.quota.open_stream(caller.account)?;
    // Subscribed before the first board is read, so that no change falls between the two.
    let mut changes = app.leagues.boards.subscribe();
    let mut stopping = app.measures.stopping();
    let mark = app.leagues.event_mark(caller, session, event).await?;
    if mark.age.is_some() {
        return Err(StorageError::Away.into());
    }
    let first = board_of(&app, caller, (event, competition), mark.mark).await?;
    let stream = async_stream::stream! {
        let _open = open;
        let retry = 2_000 + uuid::Uuid::new_v4().as_u128() % 6_000;
        yield Ok::<_, actix_web::Error>(Bytes::from(format!("retry: {retry}\n\n")));
        let mut shown = first.mark;
        yield Ok(board_event(&first));
        let mut recheck = tokio::time::interval(RECHECK);
        let mut spoke = tokio::time::Instant::now();
        loop {
            tokio::select! {
                _ = stopping.wait_for(|stops| *stops) => {
                    yield Ok(bye());
                    break;
                }
                // Also shows what a change of the season, the course or a name did to the board.
                _ = recheck.tick() => {}
                change = changes.recv() => match change {
                    Ok(changed) if changed != event => continue,
                    Ok(_) | Err(RecvError::Lagged(_)) => {}
                    Err(RecvError::Closed) => break,
                },
            }
            let mark = match app.leagues.event_mark(caller, Some(caller.session), event).await {
                Ok(Mark { mark, age: None }) => mark,
                // The database does not answer: what is shown stays until it does.
                Ok(_) | Err(Refusal::Storage(StorageError::Away)) => shown,
                // The reader may read no more: the session is over, or the membership.
                Err(_) => {
                    yield Ok(bye());
                    break;
                }
            };
            if mark > shown {
                let board = match board_of(&app, caller, (event, competition), mark).await {
                    Ok(board) => board,
                    Err(problem) if problem.is_away() => continue,
                    Err(_) => {
                        yield Ok(bye());
                        break;
                    }
                };
                shown = board.mark;
                spoke = tokio::time::Instant::now();
                yield Ok(board_event(&board));
                tokio::time::sleep(LEAST_PAUSE).await;
            } else if spoke.elapsed() >= KEEP_ALIVE {
                spoke = tokio::time::Instant::now();
                yield Ok(Bytes::from_static(b": still here\n\n"));
            }
        }
    };
    Ok(answer.streaming(Box::pin(stream)))
}

fn bye() -> Bytes {
    Bytes::from_static(b"event: bye\ndata: {}\n\n")
}

fn board_event(board: &Written) -> Bytes {
    let head = format!("id: {}\nevent: board\ndata: ", board.mark);
    Bytes::from([head.as_bytes(), &board.body, b"\n\n"].concat())
}

const SHEET_OF: &[(&str, &str)] = &[("member_id", "Whose card it is; without it my own.")];

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    use Access::{Member, Organizer, OwnerOrOrganizer};
    let view = views::event;
    let path = "/seasons/{id}/events";
    routes.add(creates(path, "Lays down an event.", Organizer, body(), view()), create);
    routes.add(lists(path, "The season's events.", Member, view()), list);
    routes.add(reads("/events/{id}", "An event.", Member, view()), show);
    routes.add(patches("/events/{id}", "Changes an event; final settles it.", Organizer, body(), view()), change);
    routes.add(removes("/events/{id}", "Removes an event without cards.", Organizer, true), remove);
    const COMPETITION: &[(&str, &str)] = &[("competition", "By which competition; left out: the main one.")];
    let shown = reads("/events/{id}/board", "The event's board.", Member, tables::board());
    routes.add(RouteDoc { query: COMPETITION, ..shown }, board);
    let sheet = reads("/events/{id}/entry-sheet", "All that a card is filled in with.", Member, event::entry_sheet());
    routes.add(RouteDoc { query: SHEET_OF, ..sheet }, entry_sheet);
    let path = "/events/{id}/entries";
    let body = Schema::Object(life::entry_fields());
    routes.add(creates(path, "Enters a member.", OwnerOrOrganizer, body, views::entry()), enter);
    routes.add(reads(path, "Who plays, when and where.", Member, views::whole_list(views::entry())), entries);
    routes.add(removes("/entries/{id}", "Takes an entry back.", OwnerOrOrganizer, true), leave);
    let body = Schema::Object(life::card_in_play_fields());
    let path = "/events/{id}/progress";
    let doc = "Puts the holes so far of a card in play; If-Match: * for the first.";
    routes.add(replaces(path, doc, OwnerOrOrganizer, body, views::card_in_play()), progress);
    let streamed = reads("/events/{id}/board/stream", "The board, whenever it changes.", Member, Schema::Anything);
    routes.add(RouteDoc { answers: Media::Events(tables::board()), query: COMPETITION, ..streamed }, stream);
}
