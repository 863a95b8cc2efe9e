//! What the servers of one PostgreSQL database share among themselves.

use super::db::Conn;
use super::error::StorageError;
use crate::{sql, values};

/// Returns the secret of a name; the first server that asks lays it down.
///
/// # Errors
/// A failed database.
pub async fn shared(conn: &mut Conn, name: &'static str, fresh: &str) -> Result<String, StorageError> {
    conn.run(sql!("secret_insert"), values![name, fresh]).await?;
    get(conn, name).await
}

/// Returns the secret of a name.
///
/// # Errors
/// A failed database; a secret that is not there.
pub async fn get(conn: &mut Conn, name: &'static str) -> Result<String, StorageError> {
    let row = conn.row(sql!("secret_get"), values![name]).await?;
    row.ok_or(StorageError::Database(sqlx::Error::RowNotFound))?.get("secret")
}

/// Puts another secret in the place of one.
///
/// # Errors
/// A failed database.
pub async fn replace(conn: &mut Conn, name: &'static str, secret: &str) -> Result<(), StorageError> {
    conn.run(sql!("secret_replace"), values![name, secret]).await?;
    Ok(())
}
