//! Opening a database by its address, and bringing its schema up to date.

use std::time::Duration;

use chrono::{DateTime, Utc};
use migrations::Migrator;
use sea_orm::sqlx::Connection;
use sea_orm::{ConnectOptions, ConnectionTrait, Database, DatabaseConnection, DbBackend, Statement, TransactionTrait};
use sea_orm_migration::MigratorTrait;

use super::{Error, Store, shop};

/// How long a statement or the wait for a connection may take.
const PATIENCE: Duration = Duration::from_secs(5);
/// For how long a connection that nobody used is taken to be alive without asking it.
const FRESH: Duration = Duration::from_secs(1);
/// Connections of the SQLite reader pool.
const SQLITE_READERS: u32 = 4;
/// Connections to PostgreSQL: on two cores more of them only lengthen the tail.
const POSTGRES_CONNECTIONS: u32 = 8;
/// Key of the lock under which one instance at a time changes a PostgreSQL schema.
const MIGRATION_LOCK: i64 = 0x7269_6762_696c_6c00;

/// Opens a database: `sqlite://PATH?mode=rwc`, `sqlite::memory:` or `postgres://…`.
///
/// SQLite gets one connection that writes and a pool that reads: several writers wait for each other far longer than
/// one that queues. A database in memory belongs to its connection, so there one does both.
///
/// # Errors
/// [`Error::Address`] for another kind of address; [`Error::Database`] when it cannot be opened.
pub async fn connect(url: &str) -> Result<Store, Error> {
    if url.starts_with("postgres://") || url.starts_with("postgresql://") {
        let pool = Database::connect(postgres(url)).await?;
        return Ok(Store { reader: pool.clone(), writer: pool });
    }
    if !url.starts_with("sqlite:") {
        return Err(Error::Address("begins with neither 'sqlite:' nor 'postgres:'"));
    }
    let writer = Database::connect(sqlite(url, 1, false)).await?;
    let in_memory = url.contains(":memory:") || url.contains("mode=memory");
    let reader = if in_memory { writer.clone() } else { Database::connect(sqlite(url, SQLITE_READERS, true)).await? };
    Ok(Store { reader, writer })
}

fn common(url: &str) -> ConnectOptions {
    let mut options = ConnectOptions::new(url);
    options.sqlx_logging(false).acquire_timeout(PATIENCE).connect_timeout(PATIENCE);
    // A busy shop's connection is asked for a sign of life when it is given back, and not once more when it is taken.
    options.test_before_acquire_if_idle_for(FRESH);
    options
}

fn postgres(url: &str) -> ConnectOptions {
    let mut options = common(url);
    options.max_connections(POSTGRES_CONNECTIONS).statement_timeout(PATIENCE);
    options
}

fn sqlite(url: &str, connections: u32, only_reads: bool) -> ConnectOptions {
    let mut options = common(url);
    // A connection is kept for good: one to a database in memory takes its content along when it goes.
    options.max_connections(connections).min_connections(1).idle_timeout(None).max_lifetime(None);
    // When the disk is full SQLite may undo a transaction by itself. The driver fails to undo it once more and goes on
    // believing in it: it would take all that follows for parts of it, and after the next of those that is undone
    // nothing would ever be made lasting, though each commit says so. Such a connection is closed, and a fresh one opened
    // in its place. What the driver was told before is done by now, as it was asked for a sign of life when it was
    // given back.
    options.map_sqlx_sqlite_before_acquire(|connection, _| {
        let ready = !connection.is_in_transaction();
        Box::pin(async move { Ok(ready) })
    });
    options.map_sqlx_sqlite_opts(move |options| {
        options
            .busy_timeout(PATIENCE)
            .foreign_keys(true)
            .pragma("journal_mode", "WAL")
            .pragma("synchronous", "FULL")
            .pragma("query_only", if only_reads { "ON" } else { "OFF" })
    });
    options
}

impl Store {
    /// Brings the schema up to date, and gives a new shop its starting settings. `now` is written as the time of
    /// that change.
    ///
    /// # Errors
    /// When the database does not answer, or another instance is still at it after five seconds.
    pub async fn migrate(&self, now: DateTime<Utc>) -> Result<(), Error> {
        match self.backend() {
            DbBackend::Postgres => {
                let lock = self.writer.begin().await?;
                let take = format!("SELECT pg_advisory_xact_lock({MIGRATION_LOCK})");
                lock.execute_raw(Statement::from_string(DbBackend::Postgres, take)).await?;
                up(&self.writer).await?;
                lock.commit().await?;
            }
            _ => up(&self.writer).await?,
        }
        let write = self.write().await?;
        shop::seed_settings(&write, now).await?;
        write.commit().await
    }
}

async fn up(connection: &DatabaseConnection) -> Result<(), Error> {
    Ok(Migrator::up(connection, None).await?)
}

#[cfg(test)]
mod tests {
    use super::super::Trouble;
    use super::*;

    #[tokio::test]
    async fn a_write_that_a_full_disk_refused_or_undid_does_not_stand_in_the_way_of_the_next() {
        let folder = tempfile::tempdir().unwrap();
        let store = connect(&format!("sqlite://{}?mode=rwc", folder.path().join("shop.db").display())).await.unwrap();
        store.migrate("2026-11-25T12:00:00Z".parse().unwrap()).await.unwrap();
        // From here on the file may grow by a few pages only; SQLite says the same as when the disk is full.
        store.writer.execute_unprepared("PRAGMA max_page_count = 1").await.unwrap();
        let write = store.write().await.unwrap();
        write.0.execute_unprepared("UPDATE counters SET value = value + 1").await.unwrap();
        let grow = "CREATE TABLE filler AS SELECT zeroblob(10000000)";
        let error = Error::from(write.0.execute_unprepared(grow).await.unwrap_err());
        assert_eq!(error.trouble(), Some(Trouble::Full), "{error:?}");
        drop(write);

        let before = shop::version(&store).await.unwrap();
        assert_eq!(before, 0, "the first part was undone with the second");
        let write = store.write().await.unwrap();
        shop::count_up(&write).await.unwrap();
        write.commit().await.unwrap();
        assert_eq!(shop::version(&store).await.unwrap(), before + 1);

        // What SQLite may do by itself on a full disk (https://www.sqlite.org/lang_transaction.html, "Response To
        // Errors Within A Transaction"): the whole is undone, and the driver does not know.
        let write = store.write().await.unwrap();
        shop::count_up(&write).await.unwrap();
        write.0.execute_unprepared("ROLLBACK").await.unwrap();
        drop(write);
        drop(store.write().await.unwrap());
        let write = store.write().await.unwrap();
        shop::count_up(&write).await.unwrap();
        write.commit().await.unwrap();
        assert_eq!(shop::version(&store).await.unwrap(), before + 2, "lasting, as other connections see it");
    }
}
