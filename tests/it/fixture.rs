//! A fresh database of each kind for every test, and a shop to work with.

use std::panic::AssertUnwindSafe;
use std::path::PathBuf;

use futures_util::FutureExt;
use rigbill::clock::Clock;
use rigbill::service::Service;
use rigbill::store::{Store, connect};
use sea_orm::{ConnectionTrait, Database as Connection};

/// The time at which the clock of a test stands.
pub const NOW: &str = "2026-11-25T15:30:00.123456Z";

/// The folder of what is built, where tests leave what other programs are to check.
pub fn target() -> PathBuf {
    let beside = concat!(env!("CARGO_MANIFEST_DIR"), "/../target");
    std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| beside.into(), PathBuf::from)
}

/// An empty database of a test's own.
pub struct Database {
    /// Its address, as `DATABASE_URL` takes it.
    pub url: String,
}

impl Database {
    /// Opens it and brings its schema up to date.
    pub async fn store(&self) -> Store {
        let store = connect(&self.url).await.expect("the database opens");
        store.migrate(clock().now()).await.expect("the schema can be brought up to date");
        store
    }

    /// A service on it, with a clock that stands at [`NOW`].
    pub async fn service(&self) -> Service {
        Service::new(self.store().await, clock())
    }
}

/// A clock that stands at [`NOW`].
pub fn clock() -> Clock {
    Clock::fixed(NOW.parse().expect("a moment"))
}

/// Runs a test on a fresh SQLite file, and then on a fresh PostgreSQL database, which is dropped behind it.
///
/// # Panics
/// When `TEST_POSTGRES_URL` is not set: a test that skips PostgreSQL would not be seen to.
pub async fn each_database(test: impl AsyncFn(Database)) {
    let server = std::env::var("TEST_POSTGRES_URL").expect(
        "TEST_POSTGRES_URL is not set: give the address of a PostgreSQL server on which databases can be created, such \
         as postgres://user@127.0.0.1:5432/postgres (tests/run starts one)",
    );
    on_sqlite(&test).await;
    on_postgres(&server, &test).await;
}

async fn on_sqlite(test: &impl AsyncFn(Database)) {
    let folder = tempfile::tempdir().expect("a folder for the database");
    let url = format!("sqlite://{}?mode=rwc", folder.path().join("shop.sqlite").display());
    test(Database { url }).await;
}

async fn on_postgres(server: &str, test: &impl AsyncFn(Database)) {
    let name = format!("rigbill_test_{}", Clock::System.new_id().simple());
    let admin = Connection::connect(server).await.expect("TEST_POSTGRES_URL answers");
    // template0 is never in use by another session, which would be a reason to refuse a copy of it.
    let create = format!("CREATE DATABASE {name} TEMPLATE template0");
    admin.execute_unprepared(&create).await.expect("a database can be created");
    let (path, options) = server.split_once('?').map_or((server, ""), |(path, options)| (path, options));
    let (host, _) = path.rsplit_once('/').expect("TEST_POSTGRES_URL ends with the name of a database");
    let url = if options.is_empty() { format!("{host}/{name}") } else { format!("{host}/{name}?{options}") };
    let outcome = AssertUnwindSafe(test(Database { url })).catch_unwind().await;
    let drop = format!("DROP DATABASE {name} WITH (FORCE)");
    admin.execute_unprepared(&drop).await.expect("the database can be dropped");
    if let Err(panic) = outcome {
        std::panic::resume_unwind(panic);
    }
}
