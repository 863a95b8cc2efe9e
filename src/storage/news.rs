//! News between the servers of one PostgreSQL database. It may get lost: whoever needs to be sure looks for itself.

use super::db::Database;
use super::error::StorageError;
use crate::{sql, values};
use sqlx::postgres::PgListener;
use uuid::Uuid;

const CHANNEL: &str = "evenfield_boards";
/// How many ids fit into what PostgreSQL carries at once, 8,000 bytes.
const MOST_IDS: usize = 200;

/// Tells the other servers of events whose boards moved.
///
/// # Errors
/// A failed database.
pub async fn tell(
    database: &Database,
    server: Uuid,
    events: impl IntoIterator<Item = Uuid>,
) -> Result<(), StorageError> {
    let events: Vec<String> = events.into_iter().map(|event| event.to_string()).collect();
    // Not in the transaction of the change: a commit that carries news waits for every other that does.
    let mut conn = database.reader().await?;
    for some in events.chunks(MOST_IDS) {
        let text = format!("{server} {}", some.join(" "));
        conn.rows(sql!("news_tell"), values![CHANNEL, text]).await?;
    }
    Ok(())
}

/// Hears what servers tell, this one too, until the database is closed.
///
/// # Errors
/// A failed database.
pub async fn hear(
    database: &Database,
    mut heard: impl FnMut(Uuid, std::vec::IntoIter<Uuid>),
) -> Result<(), StorageError> {
    let Database::Postgres(database) = database else { return Ok(()) };
    let mut listener = PgListener::connect_with(database.readers()).await?;
    listener.listen(CHANNEL).await?;
    loop {
        let news = match listener.recv().await {
            Err(sqlx::Error::PoolClosed) => return Ok(()),
            news => news?,
        };
        let mut ids = news.payload().split(' ').filter_map(|id| id.parse().ok());
        if let Some(server) = ids.next() {
            heard(server, ids.collect::<Vec<_>>().into_iter());
        }
    }
}
