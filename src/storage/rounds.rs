//! Rounds, hole by hole and putt by putt.

use super::db::Conn;
use super::error::StorageError;
use super::row::{Row, Value};
use crate::domain::facts::{CardHole, Decision, Outcome, Putt, PuttResult, Round};
use crate::domain::ids::{ClientRoundId, EventId, LeagueId, MemberId, RoundId, SeasonId, SetupId};
use crate::domain::season::{Life, RoundState};
use crate::domain::units::{Degrees, Feet, HoleNumber, Inches, Mph, OutOfRange, Strokes};
use crate::{sql, values};
use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

/// A round as stored, holes apart.
#[derive(Clone, Debug)]
pub struct RoundRow {
    /// Its id.
    pub id: RoundId,
    /// Its league.
    pub league: LeagueId,
    /// Its event.
    pub event: EventId,
    /// Whose it is.
    pub member: MemberId,
    /// What it was putted on.
    pub setup: Option<SetupId>,
    /// The sender's id for it.
    pub client_round_id: ClientRoundId,
    /// The hash of the body as it first came in.
    pub first_body_hash: Vec<u8>,
    /// The day on which it was played.
    pub played_on: Date,
    /// How it ended.
    pub outcome: Outcome,
    /// Where it stands.
    pub state: RoundState,
    /// What was declared on the set-up when it came in.
    pub declared_radius_ft: Option<f64>,
    /// The number of its version.
    pub version: i64,
    /// The number of its fact; a corrected round keeps it.
    pub seq: i64,
    /// When it first came in.
    pub received_at: Timestamp,
    /// The number of its latest version's fact.
    pub version_seq: i64,
    /// When that came in.
    pub version_at: Timestamp,
    /// Who sent it, where that is known.
    pub sent_by: Option<MemberId>,
    /// Whether another player handed it in.
    pub is_proposed: bool,
    /// Whether it came in after closing.
    pub is_late: bool,
    /// Whether a ruling leaves its putts out of putting figures.
    pub are_putts_excluded: bool,
}

const TABLE: &str = "rounds";

pub(super) fn state(word: String) -> Result<RoundState, StorageError> {
    RoundState::from_word(&word).ok_or(StorageError::Corrupt { table: TABLE, column: "state", detail: word })
}

pub(super) fn round_row(row: &Row) -> Result<RoundRow, StorageError> {
    let outcome: String = row.get("outcome")?;
    let outcomes = [Outcome::Complete, Outcome::NoReturn, Outcome::Disqualified];
    Ok(RoundRow {
        id: row.id("id")?,
        league: row.id("league_id")?,
        event: row.id("event_id")?,
        member: row.id("member_id")?,
        setup: row.optional_id("setup_id")?,
        client_round_id: row.id("client_round_id")?,
        first_body_hash: row.get("first_body_hash")?,
        played_on: row.parsed(TABLE, "played_on")?,
        outcome: outcomes.into_iter().find(|known| known.word() == outcome).ok_or(StorageError::Corrupt {
            table: TABLE,
            column: "outcome",
            detail: outcome,
        })?,
        state: state(row.get("state")?)?,
        declared_radius_ft: row.get("declared_radius_ft")?,
        version: row.get("version")?,
        seq: row.get("seq")?,
        received_at: row.parsed(TABLE, "received_at")?,
        version_seq: row.get("version_seq")?,
        version_at: row.parsed(TABLE, "version_at")?,
        sent_by: row.optional_id("sent_by")?,
        is_proposed: row.get("proposed")?,
        is_late: row.get("late")?,
        are_putts_excluded: row.get("putts_excluded")?,
    })
}

/// Stores a round with its holes and putts.
///
/// # Errors
/// A failed database; a conflict where the member has a round in the event or under this `client_round_id`.
pub async fn insert(conn: &mut Conn, row: &RoundRow, round: &Round) -> Result<(), StorageError> {
    insert_rows(conn, row_values(row)).await?;
    let (holes, putts) = card_values(row.league, row.id, &round.holes);
    insert_cards(conn, holes, putts).await
}

/// Writes a round, holes apart, as its row's values.
pub fn row_values(row: &RoundRow) -> Vec<Value> {
    values![
        row.league,
        row.id,
        row.event,
        row.member,
        row.setup,
        row.client_round_id,
        row.first_body_hash.as_slice(),
        row.played_on,
        row.outcome.word(),
        row.state.word(),
        row.declared_radius_ft,
        row.version,
        row.seq,
        row.received_at,
        row.version_seq,
        row.version_at,
        row.sent_by,
        row.is_proposed,
        row.is_late,
        row.are_putts_excluded
    ]
}

/// Stores rounds, holes apart, by their rows' values.
///
/// # Errors
/// A failed database.
pub async fn insert_rows(conn: &mut Conn, rows: Vec<Value>) -> Result<(), StorageError> {
    conn.insert_rows(sql!("round_insert_head"), 20, rows).await
}

/// Stores holes and putts by their rows' values.
///
/// # Errors
/// A failed database.
pub async fn insert_cards(conn: &mut Conn, holes: Vec<Value>, putts: Vec<Value>) -> Result<(), StorageError> {
    conn.insert_rows(sql!("hole_insert_head"), 8, holes).await?;
    conn.insert_rows(sql!("putt_insert_head"), 10, putts).await
}

/// Writes a card as the values of its holes' rows and of its putts'.
pub fn card_values(league: LeagueId, round: RoundId, card: &[CardHole]) -> (Vec<Value>, Vec<Value>) {
    let mut holes: Vec<Value> = Vec::with_capacity(card.len() * 8);
    let mut putts: Vec<Value> = Vec::with_capacity(card.len() * 20);
    for hole in card {
        let number = hole.number.get();
        holes.extend(values![
            league,
            round,
            number,
            hole.strokes.map(|strokes| strokes.get()),
            hole.picked_up,
            hole.not_played,
            hole.putts.is_some(),
            hole.putt_count
        ]);
        for (n, putt) in hole.putts.iter().flatten().enumerate() {
            putts.extend(values![league, round, number, n as i64 + 1]);
            putts.extend(putt_values(putt));
        }
    }
    (holes, putts)
}

/// Writes a putt, its hole apart, as [`bare_putt`] reads it: from `distance_ft` to `result`.
pub(super) fn putt_values(putt: &Putt) -> [Value; 6] {
    [
        putt.distance_ft.get().into(),
        putt.elevation_in.map(Inches::get).into(),
        putt.ball_speed_mph.map(Mph::get).into(),
        putt.start_line_deg.map(Degrees::get).into(),
        putt.played_line_deg.map(Degrees::get).into(),
        putt.result.word().into(),
    ]
}

/// Replaces what was handed in.
///
/// # Errors
/// A failed database.
pub async fn correct(
    conn: &mut Conn,
    row: &RoundRow,
    round: &Round,
    state: RoundState,
    seq: i64,
    at: Timestamp,
) -> Result<(), StorageError> {
    conn.run(sql!("putt_delete"), values![row.league, row.id]).await?;
    conn.run(sql!("hole_delete"), values![row.league, row.id]).await?;
    let values =
        values![row.league, row.id, round.setup_id, round.played_on, round.outcome.word(), state.word(), seq, at];
    conn.run(sql!("round_correct"), values).await?;
    let (holes, putts) = card_values(row.league, row.id, &round.holes);
    insert_cards(conn, holes, putts).await
}

/// Moves a round to another state.
///
/// # Errors
/// A failed database.
pub async fn set_state(conn: &mut Conn, league: LeagueId, id: RoundId, state: RoundState) -> Result<(), StorageError> {
    conn.run(sql!("round_set_state"), values![league, id, state.word()]).await?;
    Ok(())
}

/// Reads a round, holes apart.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn get(conn: &mut Conn, id: RoundId) -> Result<Option<RoundRow>, StorageError> {
    conn.row(conn.text(sql!("round_get"), sql!("round_get_postgres")), values![id])
        .await?
        .map(|row| round_row(&row))
        .transpose()
}

/// Reads a member's round by the sender's id for it.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn by_client_round_id(
    conn: &mut Conn,
    league: LeagueId,
    member: MemberId,
    client_round_id: ClientRoundId,
) -> Result<Option<RoundRow>, StorageError> {
    let row = conn.row(sql!("round_by_client_round_id"), values![league, member, client_round_id]).await?;
    row.map(|row| round_row(&row)).transpose()
}

/// Takes a member's card out of play: the round itself has come in.
///
/// # Errors
/// A failed database.
pub async fn end_play(conn: &mut Conn, league: LeagueId, event: EventId, member: MemberId) -> Result<(), StorageError> {
    conn.run(sql!("card_in_play_delete"), values![league, event, member]).await?;
    Ok(())
}

/// Says whether a member has a round in an event that was not withdrawn.
///
/// # Errors
/// A failed database.
pub async fn is_in_event(
    conn: &mut Conn,
    league: LeagueId,
    event: EventId,
    member: MemberId,
) -> Result<bool, StorageError> {
    let row = conn.row(sql!("round_is_in_event"), values![league, event, member]).await?;
    row.map_or(Ok(false), |row| row.get("is_in_event"))
}

/// Reads the rounds of a season that met a declared softening, whatever their state.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn declared_in(conn: &mut Conn, league: LeagueId, season: SeasonId) -> Result<Vec<RoundRow>, StorageError> {
    conn.rows(sql!("round_list_declared"), values![league, season]).await?.iter().map(round_row).collect()
}

/// Reads what was said of a round after it came in.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn life(conn: &mut Conn, round: &RoundRow) -> Result<Life, StorageError> {
    let mut life = Life::new(round.is_proposed, round.is_late);
    for row in conn.rows(sql!("round_life"), values![round.league, round.id]).await? {
        match row.get::<String>("what")?.as_str() {
            "acceptance" => {
                life.accept();
            }
            "attestation" => life.attest(),
            "ruling" => {
                life.rule(decision(&row)?);
            }
            _ => life.withdraw(),
        }
    }
    Ok(life)
}

/// Reads the decision of a ruling.
///
/// # Errors
/// An unreadable row.
pub fn decision(row: &Row) -> Result<Decision, StorageError> {
    let word: String = row.get("decision")?;
    Decision::from_word(&word).ok_or(StorageError::Corrupt { table: "rulings", column: "decision", detail: word })
}

/// Reads an event's rounds after an id, in order of ids, holes apart.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn of_event(
    conn: &mut Conn,
    league: LeagueId,
    event: EventId,
    after: Uuid,
    limit: i64,
) -> Result<Vec<RoundRow>, StorageError> {
    let rows = conn.rows(sql!("round_list_by_event"), values![league, after, limit, event]).await?;
    rows.iter().map(round_row).collect()
}

/// Reads a league's rounds after a number, in the order received, holes apart.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn in_order(
    conn: &mut Conn,
    league: LeagueId,
    after_seq: i64,
    limit: i64,
) -> Result<Vec<RoundRow>, StorageError> {
    conn.rows(sql!("round_list_by_seq"), values![league, after_seq, limit]).await?.iter().map(round_row).collect()
}

/// Says whether a card of a season, whatever its state, has a longer putt that was conceded on a hole that counts as
/// holed out.
///
/// # Errors
/// A failed database.
pub async fn is_conceded_beyond(
    conn: &mut Conn,
    league: LeagueId,
    season: SeasonId,
    concession_ft: f64,
) -> Result<bool, StorageError> {
    let row = conn.row(sql!("round_conceded_beyond"), values![league, season, concession_ft]).await?;
    row.ok_or(StorageError::Database(sqlx::Error::RowNotFound))?.get("is_conceded_beyond")
}

/// How many rounds an event has.
#[derive(Clone, Copy, Debug)]
pub struct Counted {
    /// Whatever their state, withdrawn ones too.
    pub all: i64,
    /// Those that wait to be accepted.
    pub waiting: i64,
    /// Those that count for results.
    pub counting: i64,
}

/// Counts the rounds of an event.
///
/// # Errors
/// A failed database.
pub async fn count_in_event(conn: &mut Conn, league: LeagueId, event: EventId) -> Result<Counted, StorageError> {
    let row = conn.row(sql!("round_count_by_event"), values![league, event]).await?;
    let row = row.ok_or(StorageError::Database(sqlx::Error::RowNotFound))?;
    Ok(Counted { all: row.get("rounds")?, waiting: row.get("waiting")?, counting: row.get("counting")? })
}

fn unit<T, N>(value: N, make: impl Fn(N) -> Result<T, OutOfRange>, column: &'static str) -> Result<T, StorageError> {
    make(value).map_err(|error| StorageError::Corrupt { table: "putts", column, detail: error.to_string() })
}

/// Reads a quantity that may be missing.
pub(super) fn optional_unit<T>(
    row: &Row,
    make: impl Fn(f64) -> Result<T, OutOfRange>,
    column: &'static str,
) -> Result<Option<T>, StorageError> {
    row.get::<Option<f64>>(column)?.map(|value| unit(value, &make, column)).transpose()
}

/// Reads what became of a putt.
pub(super) fn result(row: &Row) -> Result<PuttResult, StorageError> {
    let word: String = row.get("result")?;
    let results = [PuttResult::Holed, PuttResult::Missed, PuttResult::Conceded];
    let known = results.into_iter().find(|known| known.word() == word);
    known.ok_or(StorageError::Corrupt { table: "putts", column: "result", detail: word })
}

/// Reads a distance.
pub(super) fn feet(row: &Row, column: &'static str) -> Result<Feet, StorageError> {
    unit(row.get(column)?, Feet::new, column)
}

/// Reads a putt, its hole apart.
pub(super) fn bare_putt(row: &Row) -> Result<Putt, StorageError> {
    Ok(Putt {
        distance_ft: feet(row, "distance_ft")?,
        elevation_in: optional_unit(row, Inches::new, "elevation_in")?,
        ball_speed_mph: optional_unit(row, Mph::new, "ball_speed_mph")?,
        start_line_deg: optional_unit(row, Degrees::new, "start_line_deg")?,
        played_line_deg: optional_unit(row, Degrees::new, "played_line_deg")?,
        result: result(row)?,
    })
}

fn putt(row: &Row) -> Result<(i64, Putt), StorageError> {
    Ok((row.get("hole")?, bare_putt(row)?))
}

/// Reads a whole round as it was handed in.
///
/// # Errors
/// A failed database or an unreadable row.
pub async fn whole(conn: &mut Conn, row: &RoundRow) -> Result<Round, StorageError> {
    let holes = conn.rows(sql!("hole_list"), values![row.league, row.id]).await?;
    let putts = conn.rows(sql!("putt_list"), values![row.league, row.id]).await?;
    let mut putts = putts.iter().map(putt).collect::<Result<Vec<_>, _>>()?.into_iter().peekable();
    let mut card = Vec::with_capacity(holes.len());
    for hole in &holes {
        let number: i64 = hole.get("number")?;
        let mut on_hole = Vec::new();
        while let Some((_, putt)) = putts.next_if(|(hole, _)| *hole == number) {
            on_hole.push(putt);
        }
        let strokes: Option<i64> = hole.get("strokes")?;
        card.push(CardHole {
            number: unit(number, HoleNumber::new, "number")?,
            strokes: strokes.map(|strokes| unit(strokes, Strokes::new, "strokes")).transpose()?,
            picked_up: hole.get("picked_up")?,
            not_played: hole.get("not_played")?,
            putts: hole.get::<bool>("putts_recorded")?.then_some(on_hole),
            putt_count: hole.get::<Option<i64>>("putt_count")?.map(|count| count as u8),
        });
    }
    Ok(Round {
        client_round_id: row.client_round_id,
        member_id: row.member,
        setup_id: row.setup,
        played_on: row.played_on,
        outcome: row.outcome,
        holes: card,
    })
}
