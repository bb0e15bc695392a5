//! Imports of catalogue items from CSV: all or nothing.

use bytes::Bytes;
use futures_util::Stream;
use uuid::Uuid;

use super::{Error, Service};

pub use crate::store::imports::{Import, ImportState, RowFault};

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
