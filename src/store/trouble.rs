//! What is wrong with the database, as far as it can pass by itself.

use sea_orm::{ConnAcquireErr, DbErr, RuntimeErr, SqlxError};

use super::Error;

/// Trouble that can pass: the same request may do later.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// There is no connection: the database is away, or all connections are taken.
    NoConnection,
    /// Another is at it: a lock was not given in time, a statement took too long, or two writes got into each
    /// other's way.
    Busy,
    /// The place where the database keeps its files takes nothing more: there is no room left, most often.
    Full,
}

impl Trouble {
    /// All of them.
    pub const ALL: [Trouble; 3] = [Trouble::NoConnection, Trouble::Busy, Trouble::Full];

    /// Its word, for counters.
    pub const fn as_str(self) -> &'static str {
        match self {
            Trouble::NoConnection => "no_connection",
            Trouble::Busy => "busy",
            Trouble::Full => "full",
        }
    }
}

impl Error {
    /// The trouble behind this error; `None` when it is a fault that stays.
    pub fn trouble(&self) -> Option<Trouble> {
        match self {
            Error::Database(cause) | Error::InDoubt(cause) => of(cause),
            Error::Shared(cause) => cause.trouble(),
            Error::Overtaken => Some(Trouble::Busy),
            Error::Address(_) | Error::BrokenRow { .. } => None,
        }
    }
}

/// What has become of a commit that the database answered with `cause`: when the connection broke, nobody knows.
pub(super) fn of_commit(cause: DbErr) -> Error {
    match of(&cause) {
        Some(Trouble::NoConnection) => Error::InDoubt(cause),
        _ => Error::Database(cause),
    }
}

fn of(error: &DbErr) -> Option<Trouble> {
    match error {
        DbErr::ConnectionAcquire(ConnAcquireErr::Timeout | ConnAcquireErr::ConnectionClosed) => {
            Some(Trouble::NoConnection)
        }
        DbErr::Conn(RuntimeErr::SqlxError(cause))
        | DbErr::Exec(RuntimeErr::SqlxError(cause))
        | DbErr::Query(RuntimeErr::SqlxError(cause)) => of_driver(cause),
        _ => None,
    }
}

fn of_driver(error: &SqlxError) -> Option<Trouble> {
    match error {
        SqlxError::Io(_) | SqlxError::Tls(_) | SqlxError::Protocol(_) | SqlxError::WorkerCrashed => {
            Some(Trouble::NoConnection)
        }
        SqlxError::PoolTimedOut | SqlxError::PoolClosed => Some(Trouble::NoConnection),
        // The connection is in a state in which it cannot begin; the next one can.
        SqlxError::InvalidSavePointStatement | SqlxError::BeginFailed => Some(Trouble::Busy),
        SqlxError::Database(cause) => {
            let code = cause.code()?;
            match cause.try_downcast_ref::<sea_orm::SqlxSqliteError>() {
                Some(_) => of_sqlite(code.parse().ok()?),
                None => of_postgres(&code),
            }
        }
        _ => None,
    }
}

/// Result codes of SQLite (https://www.sqlite.org/rescode.html); the low byte of an extended code is the primary one.
fn of_sqlite(code: u32) -> Option<Trouble> {
    match code & 0xff {
        // SQLITE_BUSY, SQLITE_LOCKED, SQLITE_PROTOCOL (the locks of the write-ahead log), SQLITE_INTERRUPT.
        5 | 6 | 15 | 9 => Some(Trouble::Busy),
        // SQLITE_FULL; SQLITE_IOERR_WRITE, _FSYNC, _TRUNCATE and _SHMSIZE (the index of the write-ahead log).
        13 => Some(Trouble::Full),
        10 if [778, 1034, 1546, 4874].contains(&code) => Some(Trouble::Full),
        // Other kinds of SQLITE_IOERR; SQLITE_CANTOPEN, SQLITE_READONLY: the disk or the folder does not let us.
        10 | 14 | 8 => Some(Trouble::NoConnection),
        _ => None,
    }
}

/// Error codes of PostgreSQL (its manual, appendix A).
fn of_postgres(code: &str) -> Option<Trouble> {
    match code {
        // serialization_failure, deadlock_detected, lock_not_available, query_canceled (statement_timeout).
        "40001" | "40P01" | "55P03" | "57014" => Some(Trouble::Busy),
        // disk_full.
        "53100" => Some(Trouble::Full),
        // too_many_connections; admin_shutdown, crash_shutdown, cannot_connect_now, database_dropped; a standby that
        // takes no writes (read_only_sql_transaction) until it is told to.
        "53300" | "57P01" | "57P02" | "57P03" | "57P04" | "25006" => Some(Trouble::NoConnection),
        // Class 08, connection exception; class 53, insufficient resources; class 58, errors outside of PostgreSQL.
        _ if code.starts_with("08") => Some(Trouble::NoConnection),
        _ if code.starts_with("53") || code.starts_with("58") => Some(Trouble::Busy),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_told_apart() {
        // https://www.sqlite.org/rescode.html: BUSY, BUSY_SNAPSHOT, FULL, IOERR_WRITE, IOERR_READ, CANTOPEN,
        // CONSTRAINT_UNIQUE, CORRUPT.
        let sqlite = [5, 517, 13, 778, 266, 14, 2067, 11].map(of_sqlite);
        let (busy, full, away) = (Some(Trouble::Busy), Some(Trouble::Full), Some(Trouble::NoConnection));
        assert_eq!(sqlite, [busy, busy, full, full, away, away, None, None]);
        // PostgreSQL manual, appendix A: unique_violation and data_corrupted stay; the others pass.
        let postgres = ["40001", "57014", "53100", "53200", "57P03", "08006", "23505", "XX001"].map(of_postgres);
        assert_eq!(postgres, [busy, busy, full, busy, away, away, None, None]);
    }
}
