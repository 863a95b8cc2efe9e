//! Values that statements are given, and the rows of their answers, on either database.

use super::error::StorageError;
use jiff::Timestamp;
use jiff::civil::Date;
use sqlx::postgres::PgRow;
use sqlx::sqlite::SqliteRow;
use sqlx::{Decode, Postgres, Row as _, Sqlite, Type};
use std::str::FromStr;
use uuid::Uuid;

/// What a statement is given.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// NULL.
    Null,
    /// True or false.
    Flag(bool),
    /// A whole number.
    Int(i64),
    /// A real number.
    Real(f64),
    /// A text.
    Text(String),
    /// An id.
    Id(Uuid),
    /// Bytes.
    Bytes(Vec<u8>),
}

macro_rules! value_from {
    ($($from:ty => |$x:ident| $value:expr),* $(,)?) => {$(
        impl From<$from> for Value {
            fn from($x: $from) -> Self { $value }
        }
    )*};
}

value_from! {
    i64 => |n| Value::Int(n),
    i32 => |n| Value::Int(n.into()),
    u32 => |n| Value::Int(n.into()),
    u8 => |n| Value::Int(n.into()),
    bool => |b| Value::Flag(b),
    f64 => |x| Value::Real(x),
    String => |s| Value::Text(s),
    &str => |s| Value::Text(s.to_owned()),
    &String => |s| Value::Text(s.clone()),
    Vec<u8> => |b| Value::Bytes(b),
    &[u8] => |b| Value::Bytes(b.to_vec()),
    [u8; 32] => |b| Value::Bytes(b.to_vec()),
    Uuid => |id| Value::Id(id),
    Timestamp => |at| Value::Text(at.to_string()),
    Date => |day| Value::Text(day.to_string()),
}

macro_rules! value_from_id {
    ($($id:ident),*) => {$(
        impl From<crate::domain::ids::$id> for Value {
            fn from(id: crate::domain::ids::$id) -> Self { id.0.into() }
        }
    )*};
}
value_from_id!(
    LeagueId,
    MemberId,
    SetupId,
    CourseId,
    TeeId,
    SeasonId,
    CompetitionId,
    EventId,
    RoundId,
    ClientRoundId,
    AccountId,
    TeamId,
    FixtureId
);

impl<T: Into<Value>> From<Option<T>> for Value {
    fn from(value: Option<T>) -> Self {
        value.map_or(Value::Null, Into::into)
    }
}

/// Makes a list of values for a statement.
#[macro_export]
macro_rules! values {
    ($($value:expr),* $(,)?) => { vec![$($crate::storage::row::Value::from($value)),*] };
}

/// A statement from its own file in `sql/`.
#[macro_export]
macro_rules! sql {
    ($($name:literal),+) => {
        include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/src/storage/sql/", $($name,)+ ".sql"))
    };
}

/// What a column can hold, on either database.
pub trait Column: for<'r> Decode<'r, Sqlite> + Type<Sqlite> + for<'r> Decode<'r, Postgres> + Type<Postgres> {}

macro_rules! columns {
    ($($type:ty),*) => { $(impl Column for $type {} impl Column for Option<$type> {})* };
}
columns!(bool, i64, f64, String, Uuid, Vec<u8>);

/// A row of an answer.
pub enum Row {
    /// From SQLite.
    Sqlite(SqliteRow),
    /// From PostgreSQL.
    Postgres(PgRow),
}

impl Row {
    /// Reads a column.
    ///
    /// # Errors
    /// A column that is not there or holds something else.
    pub fn get<T: Column>(&self, name: &str) -> Result<T, StorageError> {
        Ok(match self {
            Row::Sqlite(row) => row.try_get(name)?,
            Row::Postgres(row) => row.try_get(name)?,
        })
    }

    /// Reads an id.
    ///
    /// # Errors
    /// Anything that is not 16 bytes.
    pub fn id<T: From<Uuid>>(&self, name: &str) -> Result<T, StorageError> {
        Ok(T::from(self.get::<Uuid>(name)?))
    }

    /// Reads an id that may be missing.
    ///
    /// # Errors
    /// Anything else.
    pub fn optional_id<T: From<Uuid>>(&self, name: &str) -> Result<Option<T>, StorageError> {
        Ok(self.get::<Option<Uuid>>(name)?.map(T::from))
    }

    /// Reads a text that its type can parse.
    ///
    /// # Errors
    /// A text that it cannot.
    pub fn parsed<T: FromStr>(&self, table: &'static str, column: &'static str) -> Result<T, StorageError> {
        let text: String = self.get(column)?;
        text.parse().map_err(|_| StorageError::Corrupt { table, column, detail: format!("{text:?} cannot be read") })
    }

    /// Reads a JSON text.
    ///
    /// # Errors
    /// A text that its type refuses.
    pub fn json<T: serde::de::DeserializeOwned>(
        &self,
        table: &'static str,
        column: &'static str,
    ) -> Result<T, StorageError> {
        let text: String = self.get(column)?;
        serde_json::from_str(&text).map_err(|error| StorageError::Corrupt { table, column, detail: error.to_string() })
    }
}
