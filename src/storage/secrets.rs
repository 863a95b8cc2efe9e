//! What the servers of one PostgreSQL database share among themselves.

use super::db::{Conn, StorageError};
use crate::{sql, values};

/// Returns the secret of a name; the first server that asks lays it down.
///
/// # Errors
/// A failed database.
pub async fn shared(conn: &mut Conn, name: &'static str, fresh: &str) -> Result<String, StorageError> {
    conn.run(sql!("secret_insert"), values![name, fresh]).await?;
    let row = conn.row(sql!("secret_get"), values![name]).await?;
    row.ok_or(StorageError::Database(sqlx::Error::RowNotFound))?.get("secret")
}
