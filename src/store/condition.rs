//! How the database is: which steps of its schema are missing, and how busy its connections are.

use std::collections::BTreeSet;

use migrations::Migrator;
use sea_orm::sea_query::{Alias, Query};
use sea_orm::{ConnectionTrait, DatabaseConnection, DbBackend};
use sea_orm_migration::MigratorTrait;

use super::{Error, Store};

/// One pool of connections.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Connections {
    /// What the pool is for: `reader` and `writer` on SQLite, `all` on PostgreSQL and in memory.
    pub pool: &'static str,
    /// Connections that are open.
    pub open: u32,
    /// Of those, connections that nobody uses.
    pub idle: u32,
    /// Most that may be open; who wants one more waits.
    pub most: u32,
}

impl Store {
    /// Names of the steps of the schema that this program knows and the database has not taken, oldest first. Asks
    /// the database, so it shows whether that answers too.
    ///
    /// # Errors
    /// When the database does not answer, or has no schema at all.
    pub async fn missing_migrations(&self) -> Result<Vec<String>, Error> {
        let column = Alias::new("version");
        let query = Query::select().column(column).from(Alias::new("seaql_migrations")).take();
        let taken: Result<BTreeSet<String>, _> =
            self.reader.query_all(&query).await?.iter().map(|row| row.try_get("", "version")).collect();
        let taken = taken?;
        let known = Migrator::migrations();
        Ok(known.iter().map(|step| step.name().to_owned()).filter(|name| !taken.contains(name)).collect())
    }

    /// How busy the connections are at this moment.
    pub fn connections(&self) -> Vec<Connections> {
        let sqlite_file = self.backend() == DbBackend::Sqlite && most(&self.reader) != most(&self.writer);
        if sqlite_file {
            vec![connections("reader", &self.reader), connections("writer", &self.writer)]
        } else {
            vec![connections("all", &self.writer)]
        }
    }
}

fn most(of: &DatabaseConnection) -> u32 {
    connections("", of).most
}

fn connections(pool: &'static str, of: &DatabaseConnection) -> Connections {
    macro_rules! told {
        ($from:expr) => {{
            let from = $from;
            let idle = u32::try_from(from.num_idle()).unwrap_or(u32::MAX);
            // The two are not read at one moment.
            Connections {
                pool,
                open: from.size(),
                idle: idle.min(from.size()),
                most: from.options().get_max_connections(),
            }
        }};
    }
    match of.get_database_backend() {
        DbBackend::Postgres => told!(of.get_postgres_connection_pool()),
        _ => told!(of.get_sqlite_connection_pool()),
    }
}
