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
    // When the disk is full SQLite may undo a transaction by itself. The driver then fails to undo it once more, and
    // goes on believing that it is under way: that connection could never begin another. It is closed, and a fresh one
    // opened in its place. What the driver was told before is done by now, as it was asked for a sign of life first.
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
