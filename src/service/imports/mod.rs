//! Imports of catalogue items from CSV: all or nothing.

use bytes::Bytes;
use chrono::{DateTime, Utc};
use futures_util::Stream;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Error, Service};

/// Where an import is. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ImportState {
    /// Rows are being read.
    Reading,
    /// All rows were good and are in the catalogue.
    Applied,
    /// Some row was bad: the catalogue is as it was.
    Refused,
    /// All rows were good, and the catalogue is as it was: it was only a trial.
    DryRun,
}

/// What is wrong with one row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct RowFault {
    /// Line of the file, counted from 1.
    pub line: u64,
    /// Column by its name in the header; absent when it is about the whole row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub column: Option<String>,
    /// What was met, what was expected, and what to do.
    pub message: String,
}

/// An import of items.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Import {
    /// Identifier.
    pub id: Uuid,
    /// Where it is.
    pub state: ImportState,
    /// Whether it was a trial.
    pub dry_run: bool,
    /// Rows read so far, without the header.
    pub rows_read: u64,
    /// Rows with a fault.
    pub rows_bad: u64,
    /// What is wrong: the first thousand faults.
    pub report: Vec<RowFault>,
    /// When it began.
    pub created_at: DateTime<Utc>,
    /// When it ended.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub finished_at: Option<DateTime<Utc>>,
}

impl Service {
    /// Begins an import; [`Service::import_csv`] carries it out.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn start_import(&self, dry_run: bool) -> Result<Import, Error> {
        let _ = dry_run;
        todo!()
    }

    /// Reads the CSV of an import that was begun, and applies it when every row is good and it is no trial.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::NotAllowed`] when it has ended already; [`Error::Store`]. Bad rows are no error:
    /// the answer's state and report speak of them.
    pub async fn import_csv<S, E>(&self, id: Uuid, csv: S) -> Result<Import, Error>
    where
        S: Stream<Item = Result<Bytes, E>> + Unpin,
        E: std::fmt::Display,
    {
        let _ = (id, csv);
        todo!()
    }

    /// An import: while it is being read, how far it has come.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn import(&self, id: Uuid) -> Result<Import, Error> {
        let _ = id;
        todo!()
    }
}
