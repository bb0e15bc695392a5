//! The only place that knows sea-orm: connections, transactions, and one file for each thing that is kept.
//!
//! Reading functions take anything with [`Access`]: the [`Store`] itself, or a [`Write`] that is under way. Writing
//! functions take a [`Write`].

pub mod choices;
pub mod condition;
mod connect;
pub mod counters;
pub mod deliveries;
mod documents;
mod entities;
pub mod events;
pub mod idempotency;
pub mod imports;
pub mod items;
pub mod keys;
pub mod links;
pub mod moves;
pub mod offcuts;
mod quote_state;
pub mod quotes;
pub mod reservations;
pub mod scaled;
pub mod shop;
pub mod stock;
mod trouble;
pub mod webhooks;

use std::sync::Arc;

use sea_orm::{
    ConnectionTrait, DatabaseConnection, DatabaseTransaction, DbBackend, DbErr, IsolationLevel, SqlErr,
    SqliteTransactionMode, TransactionOptions, TransactionTrait,
};

pub use connect::connect;
pub use trouble::Trouble;

/// The store failed.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The database answered with an error.
    #[error("the database answered with an error")]
    Database(#[from] DbErr),
    /// The connection broke while a write was made lasting: it is there whole or not at all, and nobody knows which.
    #[error("the connection broke off while a write was made lasting")]
    InDoubt(#[source] DbErr),
    /// Others were faster, however often it was begun anew.
    #[error("others changed what was to be written, however often it was begun anew")]
    Overtaken,
    /// What several waited for failed.
    #[error(transparent)]
    Shared(Arc<Error>),
    /// The address of the database cannot be used.
    #[error("the address of the database {0}")]
    Address(&'static str),
    /// A row holds what the program never writes.
    #[error("table {table}, row {row}, column {column}: {reason}")]
    BrokenRow {
        /// Table.
        table: &'static str,
        /// Row, by its key.
        row: String,
        /// Column.
        column: &'static str,
        /// What is wrong.
        reason: String,
    },
}

impl Error {
    /// Whether another row that this one points to has gone, or still points to this one.
    pub(crate) fn is_dangling(&self) -> bool {
        matches!(self, Error::Database(cause)
            if matches!(cause.sql_err(), Some(SqlErr::ForeignKeyConstraintViolation(_))))
    }

    /// Whether another row has what only one may have.
    pub(crate) fn is_taken(&self) -> bool {
        matches!(self, Error::Database(cause) if matches!(cause.sql_err(), Some(SqlErr::UniqueConstraintViolation(_))))
    }
}

/// An open database: cheap to clone, safe to share.
#[derive(Clone, Debug)]
pub struct Store {
    reader: DatabaseConnection,
    writer: DatabaseConnection,
}

/// A write that is under way: whole when committed, nothing when dropped.
#[derive(Debug)]
pub struct Write(DatabaseTransaction);

/// Several reads that see one state of the database.
#[derive(Debug)]
pub struct Snapshot(DatabaseTransaction);

/// What rows can be read through.
pub trait Access: sealed::Sealed {}

mod sealed {
    /// Hides the connection from those who only read through it.
    pub trait Sealed {
        type Connection: sea_orm::ConnectionTrait;

        fn connection(&self) -> &Self::Connection;
    }
}

macro_rules! access {
    ($name:ty, $connection:ty, $field:tt) => {
        impl Access for $name {}
        impl sealed::Sealed for $name {
            type Connection = $connection;

            fn connection(&self) -> &Self::Connection {
                &self.$field
            }
        }
    };
}

access!(Store, DatabaseConnection, reader);
access!(Write, DatabaseTransaction, 0);
access!(Snapshot, DatabaseTransaction, 0);

impl Store {
    fn backend(&self) -> DbBackend {
        self.writer.get_database_backend()
    }

    /// Begins a write. On SQLite it takes the file's write lock at once: a transaction that reads first and writes
    /// later fails without waiting when another has written in between.
    ///
    /// # Errors
    /// When the database does not answer, or another write holds it for longer than five seconds.
    pub async fn write(&self) -> Result<Write, Error> {
        let options = TransactionOptions {
            sqlite_transaction_mode: (self.backend() == DbBackend::Sqlite).then_some(SqliteTransactionMode::Immediate),
            ..TransactionOptions::default()
        };
        Ok(Write(self.writer.begin_with_options(options).await?))
    }

    /// Begins to read one state of the database.
    ///
    /// # Errors
    /// When the database does not answer.
    pub async fn snapshot(&self) -> Result<Snapshot, Error> {
        // A read transaction on SQLite is a snapshot already; on PostgreSQL only a repeatable read is.
        let options = TransactionOptions {
            isolation_level: (self.backend() == DbBackend::Postgres).then_some(IsolationLevel::RepeatableRead),
            ..TransactionOptions::default()
        };
        Ok(Snapshot(self.reader.begin_with_options(options).await?))
    }

    /// Whether the database answers.
    ///
    /// # Errors
    /// When it does not.
    pub async fn ping(&self) -> Result<(), Error> {
        Ok(self.reader.ping().await?)
    }

    /// Closes all connections; what is under way is finished first.
    ///
    /// # Errors
    /// When the database does not answer.
    pub async fn close(self) -> Result<(), Error> {
        self.reader.close_by_ref().await?;
        Ok(self.writer.close_by_ref().await?)
    }
}

impl Write {
    /// Makes everything written lasting.
    ///
    /// # Errors
    /// When the database could not: then nothing was written, but for [`Error::InDoubt`].
    pub async fn commit(self) -> Result<(), Error> {
        self.0.commit().await.map_err(trouble::of_commit)
    }

    fn backend(&self) -> DbBackend {
        self.0.get_database_backend()
    }
}

/// Whether no row holds this text: PostgreSQL keeps no zero character, and answers a comparison with one with an error.
fn unkept(text: &str) -> bool {
    text.contains('\0')
}

/// A stored value with the version that `ETag` and `If-Match` speak of.
#[derive(Clone, Debug, PartialEq)]
pub struct Stored<T> {
    /// The value.
    pub value: T,
    /// Counts up with every change; 1 when created.
    pub version: i64,
    /// When it was last changed.
    pub updated_at: chrono::DateTime<chrono::Utc>,
    /// Name of the key that changed it last, or `command line`; absent for what was written before keys were.
    pub changed_by: Option<String>,
}

impl<T> Stored<T> {
    /// The same row with another value, such as the part of it that may be shown.
    pub fn map<U>(self, value: impl FnOnce(T) -> U) -> Stored<U> {
        let Stored { value: before, version, updated_at, changed_by } = self;
        Stored { value: value(before), version, updated_at, changed_by }
    }
}
