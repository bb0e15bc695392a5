//! The only place that knows sea-orm.

/// The store failed.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The database answered with an error.
    #[error("the database answered with an error")]
    Database(#[from] sea_orm::DbErr),
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
