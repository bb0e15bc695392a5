//! Whether the service can work, and what it works with.

use std::time::Duration;

use super::Service;
use crate::store;
use crate::store::condition::Connections;

/// How long a look at the database may take: whoever asks for readiness does not wait as long as a request does.
const PATIENCE: Duration = Duration::from_secs(2);

/// Why the service cannot work.
#[derive(Debug, thiserror::Error)]
pub enum NotReady {
    /// The database answers with an error.
    #[error("the database does not answer as it should")]
    Database(#[from] store::Error),
    /// The database does not answer.
    #[error("the database has not answered within {} s", PATIENCE.as_secs())]
    Silent,
    /// The schema is older than the program.
    #[error("the database's schema is older than this program: {} missing; run `rigbill migrate`", .0.join(", "))]
    Schema(Vec<String>),
}

/// What the service works with, for whoever watches it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Condition {
    /// Whether the database answers.
    pub database_answers: bool,
    /// Version of the shop's tables; the last that was seen while the database does not answer, if one was.
    pub catalogue_version: Option<i64>,
    /// How busy the connections to the database are.
    pub connections: Vec<Connections>,
}

impl Service {
    /// Whether the service can work: the database answers, and its schema is up to date. A schema that is newer than
    /// this program is none of its business.
    ///
    /// # Errors
    /// With what is not ready.
    pub async fn ready(&self) -> Result<(), NotReady> {
        let missing = tokio::time::timeout(PATIENCE, self.store.missing_migrations());
        let missing = missing.await.map_err(|_| NotReady::Silent)??;
        if missing.is_empty() { Ok(()) } else { Err(NotReady::Schema(missing)) }
    }

    /// What the service works with at this moment.
    pub async fn condition(&self) -> Condition {
        // Looked at before the database is asked, which takes a connection.
        let connections = self.store.connections();
        let asked = tokio::time::timeout(PATIENCE, store::shop::version(&self.store)).await;
        let version = asked.ok().and_then(Result::ok);
        Condition {
            database_answers: version.is_some(),
            catalogue_version: version.or_else(|| self.snapshot.version()),
            connections,
        }
    }
}
