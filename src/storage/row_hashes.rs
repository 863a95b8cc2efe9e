//! Hashes of rows in the journal: an entry carries one for each row that its change wrote, so that a row which was changed
//! by other means is noticed.

use super::db::Conn;
use super::error::StorageError;
use super::journal::hex;
use super::row::{Row, Value};
use crate::domain::ids::LeagueId;
use crate::values;
use futures_util::TryStreamExt;
use sha2::{Digest, Sha256};
use std::fmt::Write;
use std::sync::LazyLock;
use uuid::Uuid;

/// The tables of a league, but for its journal and its cards, holes and putts: first those whose rows the journal tells
/// of, then the others.
///
/// A column that is part of the row's key is marked `*`. The hash of a row is over its key and all columns but those
/// marked `?`, which an erasure or the end of an account clears and which have a hash of their own, and those marked `-`,
/// which change without an entry.
const COLUMNS: [(&str, &str); 39] = [
    (
        "leagues",
        "*id:id name:text time_zone:text -seq:int -book_mark:int -journal_n:int -journal_hash:bytes version:int \
         created_seq:int received_at:text -weighed_seq:int",
    ),
    (
        "members",
        "*id:id ?account_id:id role:text display_name:text flight:text starting_handicap:int guest:flag earlier_starts:json \
         erased_at:text version:int seq:int received_at:text",
    ),
    (
        "invitations",
        "*id:id code_hash:bytes role:text member_id:id expires_at:text created_by:id finding_id:id -spent_at:text \
         -revoked_at:text",
    ),
    ("secret_addresses", "*id:id code_hash:bytes kind:text names:text member_id:id created_at:text -revoked_at:text"),
    ("courses", "*id:id version:int seq:int received_at:text body:json"),
    ("setups", "*id:id member_id:id version:int seq:int received_at:text body:json"),
    ("seasons", "*id:id version:int seq:int received_at:text body:json -shown:int"),
    ("competitions", "*id:id season_id:id version:int seq:int received_at:text body:json"),
    ("events", "*id:id season_id:id version:int seq:int received_at:text body:json -shown:int"),
    (
        "season_facts",
        "*id:id season_id:id kind:text of_id:id event_id:id version:int seq:int received_at:text body:json",
    ),
    ("versions", "*kind:text *id:id *version:int seq:int received_at:text replaced_by:id ?reason:text body:json"),
    (
        "rounds",
        "*id:id event_id:id member_id:id setup_id:id client_round_id:id first_body_hash:bytes played_on:text \
         outcome:text -state:text declared_radius_ft:real version:int seq:int received_at:text version_seq:int \
         version_at:text sent_by:id proposed:flag late:flag -putts_excluded:flag",
    ),
    ("attestations", "*id:id round_id:id member_id:id seq:int received_at:text"),
    ("acceptances", "*id:id round_id:id member_id:id seq:int received_at:text"),
    ("withdrawals", "*id:id round_id:id member_id:id ?reason:text seq:int received_at:text"),
    (
        "carried_differentials",
        "*id:id member_id:id played_on:text differential:int ?source:text seq:int received_at:text",
    ),
    (
        "carried_results",
        "*id:id season_id:id member_id:id team_id:id competition_id:id ?label:text value:real ?source:text seq:int received_at:text",
    ),
    ("handicap_acts", "*id:id member_id:id decided:json ?reason:text seq:int received_at:text"),
    ("events_kept", "*event_id:id id:id seq:int received_at:text body:json"),
    ("rulings", "*id:id member_id:id finding_id:id decision:text ?reason:text seq:int received_at:text"),
    ("ruled_rounds", "*ruling_id:id *round_id:id replaced_version:int"),
    ("queries", "*id:id round_id:id member_id:id ?pointer:text ?text:text seq:int received_at:text"),
    ("answers", "*id:id query_id:id member_id:id ?text:text seq:int received_at:text"),
    ("entrants", "*id:id event_id:id member_id:id ?slot:text ?bay:text competitions:text seq:int received_at:text"),
    (
        "findings",
        "*id:id season_id:id kind:text member_id:id setup_id:id restart:int event_id:id factor_log10:real \
         threshold_log10:real seq:int received_at:text",
    ),
    (
        "finding_words",
        "*id:id finding_id:id kind:text member_id:id opinion:text ?text:text due_at:text seq:int received_at:text",
    ),
    ("reviewers", "*finding_id:id *account_id:id since:text"),
    ("results", "*round_id:id -member_id:id -event_id:id -card:bytes -putting:bytes -figures:bytes -stamp:int"),
    ("journal_heads", "*n:int -at:text -event_id:id -head:json"),
    ("evidence_rows", "*season_id:id *member_id:id *setup_id:id *kind:text *about:text *restart:int -state:bytes"),
    ("evidence_digests", "*season_id:id *setup_id:id *kind:text *restart:int -digest:json"),
    ("evidence_field", "*season_id:id *about:text *id:id"),
    ("finding_concerned", "*finding_id:id *member_id:id -told_at:text -told_by:id -seen_at:text"),
    ("cards_in_play", "*event_id:id *member_id:id -version:int -updated_at:text -body:json"),
    (
        "notices",
        "*id:id -member_id:id -kind:text -round_id:id -query_id:id -finding_id:id -event_id:id -at:text -seen_at:text",
    ),
    (
        "standings_changes",
        "*season_id:id *id:id -at:text -member_id:id -act:text -kind:text -thing_id:id -reason:text -moves:json",
    ),
    (
        "practice_blocks",
        "*id:id -member_id:id -setup_id:id -played_on:text -stimp_ft:real -received_at:text -version:int",
    ),
    (
        "practice_putts",
        "*block_id:id *number:int -distance_ft:real -elevation_in:real -ball_speed_mph:real -start_line_deg:real \
         -played_line_deg:real -result:text -leave_ft:real",
    ),
    ("file_columns", "*member_id:id *setup_id:id -updated_at:text -body:json"),
];

/// The last table whose rows the journal tells of.
const LAST_TOLD: &str = "reviewers";

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// An id.
    Id,
    /// A text.
    Text,
    /// A text that is JSON.
    Json,
    /// A whole number.
    Int,
    /// A real number.
    Real,
    /// True or false.
    Flag,
    /// Bytes.
    Bytes,
}

/// What becomes of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// It is part of the row's key.
    Key,
    /// It stays as it was written, or an entry tells of the row again.
    Fixed,
    /// An erasure, or the end of an account, clears it.
    Erasable,
    /// It changes without an entry.
    Loose,
}

/// A column.
#[derive(Debug)]
pub struct Column {
    /// Its name.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// What becomes of it.
    pub role: Role,
}

/// A table of a league.
#[derive(Debug)]
pub struct Table {
    /// Its name.
    pub name: &'static str,
    /// Its columns, that of the league apart.
    pub columns: Vec<Column>,
    /// Whether the journal tells of its rows.
    pub is_told: bool,
    list: String,
    get: String,
}

/// The tables that are listed.
pub static TABLES: LazyLock<Vec<Table>> = LazyLock::new(|| {
    let last = COLUMNS.iter().position(|(name, _)| *name == LAST_TOLD);
    COLUMNS.iter().enumerate().map(|(n, (name, columns))| Table::new(name, columns, Some(n) <= last)).collect()
});

impl Table {
    fn new(name: &'static str, columns: &'static str, is_told: bool) -> Self {
        let columns: Vec<Column> = columns.split_whitespace().map(Column::new).collect();
        let names: Vec<&str> = columns.iter().map(|column| column.name).collect();
        let league = if name == "leagues" { "id" } else { "league_id" };
        let list = format!("SELECT {} FROM {name} WHERE {league} = $1", names.join(", "));
        let keys = columns.iter().filter(|column| column.role == Role::Key).enumerate();
        let get = keys.fold(list.clone(), |sql, (n, key)| format!("{sql} AND {} = ${}", key.name, n + 2));
        Self { name, columns, is_told, list, get }
    }

    /// Returns a table by its name.
    fn named(name: &str) -> &'static Table {
        TABLES.iter().find(|table| table.name == name).expect("rows are of tables that are listed")
    }

    /// Looks at each row of a league.
    ///
    /// # Errors
    /// A failed database.
    pub async fn each(
        &'static self,
        conn: &mut Conn,
        league: LeagueId,
        mut look: impl FnMut(&Row),
    ) -> Result<(), StorageError> {
        let mut rows = conn.each(&self.list, values![league]);
        while let Some(row) = rows.try_next().await? {
            look(&row);
        }
        Ok(())
    }

    /// Writes a row's key: its values, joined.
    pub fn key(&self, values: &[Value]) -> String {
        let keys = self.columns.iter().zip(values).filter(|(column, _)| column.role == Role::Key);
        keys.map(|(_, value)| plain(value)).collect::<Vec<_>>().join("/")
    }

    /// Returns the hash of a row's columns that stay, and of those that an erasure clears, where it has any.
    pub fn hashes(&self, values: &[Value]) -> (String, Option<String>) {
        let of = |roles: &[Role]| {
            let mut text = String::new();
            for (column, value) in self.columns.iter().zip(values).filter(|(column, _)| roles.contains(&column.role)) {
                // As JSON, so that no text can be taken for a further column.
                let quoted = serde_json::to_string(&plain(value)).expect("a text is JSON");
                let value = if *value == Value::Null { "null" } else { quoted.as_str() };
                writeln!(text, "{}:{value}", column.name).expect("a text takes a line");
            }
            (!text.is_empty()).then(|| hex(&Sha256::digest(text)))
        };
        (of(&[Role::Key, Role::Fixed]).unwrap_or_default(), of(&[Role::Erasable]))
    }

    fn text(&self, values: &[Value]) -> String {
        let (fixed, erasable) = self.hashes(values);
        let erasable = erasable.map(|hash| format!(" {hash}")).unwrap_or_default();
        format!("{} {} {fixed}{erasable}", self.name, self.key(values))
    }
}

impl Column {
    fn new(text: &'static str) -> Self {
        let (role, rest) = match text.split_at(1) {
            ("*", rest) => (Role::Key, rest),
            ("?", rest) => (Role::Erasable, rest),
            ("-", rest) => (Role::Loose, rest),
            _ => (Role::Fixed, text),
        };
        let (name, kind) = rest.split_once(':').expect("a column has a kind");
        let kind = match kind {
            "id" => Kind::Id,
            "json" => Kind::Json,
            "int" => Kind::Int,
            "real" => Kind::Real,
            "flag" => Kind::Flag,
            "bytes" => Kind::Bytes,
            _ => Kind::Text,
        };
        Self { name, kind, role }
    }

    /// Reads the column of a row.
    ///
    /// # Errors
    /// Whatever it does not hold.
    pub fn read(&self, row: &Row) -> Result<Value, StorageError> {
        let name = self.name;
        Ok(match self.kind {
            Kind::Id => row.get::<Option<Uuid>>(name)?.into(),
            Kind::Text | Kind::Json => row.get::<Option<String>>(name)?.into(),
            Kind::Int => row.get::<Option<i64>>(name)?.into(),
            Kind::Real => row.get::<Option<f64>>(name)?.into(),
            Kind::Flag => row.get::<Option<bool>>(name)?.into(),
            Kind::Bytes => row.get::<Option<Vec<u8>>>(name)?.into(),
        })
    }
}

/// Writes a value in the same way whichever database it came from.
fn plain(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::Flag(flag) => flag.to_string(),
        Value::Int(n) => n.to_string(),
        Value::Real(x) => x.to_string(),
        Value::Text(text) => text.clone(),
        Value::Id(id) => id.to_string(),
        Value::Bytes(bytes) => hex(bytes),
    }
}

/// A row that a change wrote.
#[derive(Clone, Debug)]
pub struct Written {
    table: &'static str,
    key: Vec<Value>,
}

/// Names a row by its table and its key.
pub fn wrote(table: &'static str, key: impl Into<Value>) -> Written {
    Written { table, key: vec![key.into()] }
}

/// Names an earlier version of something.
pub fn wrote_version(kind: &'static str, id: Uuid, version: i64) -> Written {
    Written { table: "versions", key: values![kind, id, version] }
}

/// Names a row whose key has two parts.
pub fn wrote_pair(table: &'static str, first: impl Into<Value>, second: impl Into<Value>) -> Written {
    Written { table, key: vec![first.into(), second.into()] }
}

/// Reads rows that a change wrote, and returns what the journal says of each.
///
/// # Errors
/// A failed database; a row that is not there or cannot be read.
pub async fn of(conn: &mut Conn, league: LeagueId, written: &[Written]) -> Result<Vec<String>, StorageError> {
    let mut texts = Vec::with_capacity(written.len());
    for Written { table, key } in written {
        let table = Table::named(table);
        let mut given = values![league];
        given.extend_from_slice(key);
        let gone = || StorageError::Corrupt { table: table.name, column: "id", detail: "the row is gone".into() };
        let row = conn.row(&table.get, given).await?.ok_or_else(gone)?;
        let values: Vec<Value> = table.columns.iter().map(|column| column.read(&row)).collect::<Result<_, _>>()?;
        texts.push(table.text(&values));
    }
    Ok(texts)
}

/// Returns what the journal says of a round's row, by its values as they are inserted.
pub fn of_round(values: &[Value]) -> String {
    Table::named("rounds").text(&values[1..])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sql;

    #[test]
    fn a_round_is_hashed_as_it_is_inserted() {
        let columns: Vec<&str> = Table::named("rounds").columns.iter().map(|column| column.name).collect();
        let inserted = sql!("round_insert_head").split_once('(').and_then(|(_, rest)| rest.split_once(')'));
        let inserted: Vec<&str> =
            inserted.map(|(names, _)| names.split(',').map(str::trim).collect()).unwrap_or_default();
        assert_eq!(inserted[0], "league_id");
        assert_eq!(columns, inserted[1..]);
    }

    #[test]
    fn columns_do_not_run_into_one_another() {
        let answers = Table::named("answers");
        let values = |round: &str, at: &str| {
            let id = Uuid::nil();
            values![id, id, id, round, 7, at]
        };
        assert_ne!(answers.hashes(&values("a\nseq:7", "b")), answers.hashes(&values("a", "seq:7\nb")));
        assert_ne!(answers.hashes(&values("", "b")).1, answers.hashes(&values("null", "b")).1);
    }

    #[test]
    fn what_is_erased_leaves_the_hash_of_the_rest() {
        let withdrawals = Table::named("withdrawals");
        let values = |reason: Option<&str>| values![Uuid::nil(), Uuid::nil(), Uuid::nil(), reason, 7, "then"];
        let (before, after) = (withdrawals.hashes(&values(Some("ill"))), withdrawals.hashes(&values(None)));
        assert_eq!(before.0, after.0);
        assert_ne!(before.1, after.1);
    }
}
