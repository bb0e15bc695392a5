//! `TestApp`: the service as a test drives it.

use std::collections::BTreeMap;
use std::sync::Arc;

use reqwest::header::{CONTENT_TYPE, HeaderMap};
use reqwest::{Client, Method, StatusCode};
use rigbill::app;
use rigbill::clock::Clock;
use rigbill::config::{Config, DatabaseUrl};
use rigbill::service::access::Role;
use rigbill::service::keys::KeyRequest;
use rigbill::service::{Error, Service};
use serde_json::Value;
use tempfile::TempDir;
use tokio::sync::{Mutex, oneshot};
use tokio::task::JoinHandle;

use crate::fixture::Database;

/// The time on the clock of every test.
pub const NOW: &str = "2026-11-25T12:00:00Z";

/// The service, on a port of its own until it is dropped.
pub struct TestApp {
    pub url: String,
    client: Client,
    /// Secret of an owner key, which goes with every request that names no other.
    pub key: String,
    service: Service,
    running: Option<(oneshot::Sender<()>, JoinHandle<std::io::Result<()>>)>,
    _folder: TempDir,
}

/// What came back.
pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub text: String,
}

impl Answer {
    /// The body as JSON.
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|error| panic!("{error}: {}", self.text))
    }

    /// A header as text; empty when it is not there.
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map(|value| value.to_str().unwrap()).unwrap_or_default()
    }

    /// Checks that this is a problem (RFC 9457) of that kind with that status, and returns it.
    pub fn problem(&self, status: u16, slug: &str) -> Value {
        assert_eq!(self.status.as_u16(), status, "{}", self.text);
        assert_eq!(self.header("content-type"), "application/problem+json");
        let problem = self.json();
        assert_eq!(problem["type"], format!("/problems/{slug}"), "{problem}");
        assert_eq!(problem["status"], status);
        assert!(problem["title"].as_str().is_some_and(|title| !title.is_empty()));
        problem
    }

    /// Places of the faults that a problem of an invalid body lists.
    pub fn places(&self) -> Vec<String> {
        let problem = self.problem(422, "invalid");
        let errors = problem["errors"].as_array().unwrap();
        errors.iter().map(|error| error["pointer"].as_str().unwrap().to_owned()).collect()
    }
}

impl TestApp {
    /// The service as it is started, on a SQLite file.
    pub async fn spawn() -> Self {
        Self::spawn_with(|_| {}).await
    }

    /// The same, with other settings.
    pub async fn spawn_with(change: impl FnOnce(&mut Config)) -> Self {
        Self::spawn_at(Clock::fixed(NOW.parse().unwrap()), change).await
    }

    /// The same, on a clock that it shares with another instance or an earlier one.
    pub async fn spawn_at(clock: Clock, change: impl FnOnce(&mut Config)) -> Self {
        // Another test of this binary may have chosen it already.
        let _ = rustls::crypto::ring::default_provider().install_default();
        let folder = tempfile::tempdir().unwrap();
        let mut config = Config::read(None, [], &[("port", "0".to_owned())]).unwrap();
        config.database = DatabaseUrl::new(format!("sqlite://{}?mode=rwc", folder.path().join("test.db").display()));
        config.workers = 1;
        change(&mut config);
        let store = app::open(&config, &clock).await.unwrap();
        let service = Service::new(store, clock);
        // Without a schema there is nothing to keep a key in.
        let key = match config.migrate_at_start {
            true => owner_key(&service, config.database.with_password()).await,
            false => String::new(),
        };
        let more: app::MoreRoutes = Arc::new(|config| {
            config.route("/panic", actix_web::web::to(panics));
        });
        let app = app::build_on(&config, service.clone(), Some(more)).unwrap();
        let url = app.url();
        let (stop, stopped) = oneshot::channel();
        let run = tokio::spawn(app.run(async {
            let _ = stopped.await;
        }));
        let client = Client::builder().no_proxy().build().unwrap();
        TestApp { url, client, key, service, running: Some((stop, run)), _folder: folder }
    }

    /// The same, on a database of the fixture.
    pub async fn spawn_on(database: &Database) -> Self {
        Self::spawn_with(|config| config.database = DatabaseUrl::new(database.url.clone())).await
    }

    /// The same, on a clock that it shares.
    pub async fn spawn_on_at(database: &Database, clock: &Clock) -> Self {
        Self::spawn_at(clock.clone(), |config| config.database = DatabaseUrl::new(database.url.clone())).await
    }

    /// The same, with the demo shop in it.
    pub async fn with_demo_shop() -> Self {
        Self::spawn().await.stocked().await
    }

    /// Brings the demo shop in.
    pub async fn stocked(self) -> Self {
        let app = self;
        rigbill::cli::demo::shop::load(&app.service).await.unwrap();
        app
    }

    /// Takes the database away from under the service.
    pub async fn close_database(&self) {
        self.service.store().clone().close().await.unwrap();
    }

    /// The service behind it.
    pub fn service(&self) -> &Service {
        &self.service
    }

    /// Sets its clock.
    pub fn set_clock(&self, now: &str) {
        let Clock::Fixed(clock) = self.service.clock() else { panic!("the clock of a test is fixed") };
        clock.set(now.parse().unwrap());
    }

    /// Stops it as a signal would, and waits until it has ended.
    pub async fn stop(mut self) {
        let (stop, run) = self.running.take().unwrap();
        stop.send(()).unwrap();
        run.await.unwrap().unwrap();
    }

    /// The secret of a new key of a role.
    pub async fn new_key(&self, role: Role) -> String {
        new_key(&self.service, role).await
    }

    /// A request with headers and a body; with an owner key, unless the headers say otherwise ([`NO_KEY`]).
    pub async fn send(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: impl Into<reqwest::Body>,
    ) -> Answer {
        let method = Method::from_bytes(method.as_bytes()).unwrap();
        let mut request = self.client.request(method, format!("{}{path}", self.url)).body(body);
        if !headers.iter().any(|(name, _)| name.eq_ignore_ascii_case("authorization")) {
            request = request.bearer_auth(&self.key);
        }
        for (name, value) in headers.iter().filter(|header| **header != NO_KEY) {
            request = request.header(*name, *value);
        }
        let answer = request.send().await.unwrap();
        let (status, headers) = (answer.status(), answer.headers().clone());
        let answer = Answer { status, headers, text: answer.text().await.unwrap() };
        assert!(!answer.header("x-request-id").is_empty(), "every answer carries its identifier");
        answer
    }

    /// Reads.
    pub async fn get(&self, path: &str) -> Answer {
        self.send("GET", path, &[], "").await
    }

    /// Sends JSON.
    pub async fn post(&self, path: &str, body: &Value) -> Answer {
        self.send("POST", path, &[(CONTENT_TYPE.as_str(), "application/json")], body.to_string()).await
    }

    /// Replaces, having seen a version.
    pub async fn put(&self, path: &str, seen: &str, body: &Value) -> Answer {
        self.send("PUT", path, &[("content-type", "application/json"), ("if-match", seen)], body.to_string()).await
    }

    /// Deletes, having seen a version.
    pub async fn delete(&self, path: &str, seen: &str) -> Answer {
        self.send("DELETE", path, &[("if-match", seen)], "").await
    }
}

/// Stands for the header of a request that comes without any key.
pub const NO_KEY: (&str, &str) = ("authorization", "");

/// The secret of the owner key of a database: several instances on it, and one after another, get the same.
async fn owner_key(service: &Service, database: &str) -> String {
    static KNOWN: Mutex<BTreeMap<String, String>> = Mutex::const_new(BTreeMap::new());
    let mut known = KNOWN.lock().await;
    if !known.contains_key(database) {
        known.insert(database.to_owned(), new_key(service, Role::Owner).await);
    }
    known[database].clone()
}

/// The secret of a new key. It was made in the year before, so that identifiers and times of what a test makes are the
/// same whether it has such a key or not.
async fn new_key(service: &Service, role: Role) -> String {
    for n in 1..100 {
        let place = Role::ALL.iter().position(|one| *one == role).unwrap() as i64;
        let then: chrono::DateTime<chrono::Utc> = "2025-01-01T00:00:00Z".parse().unwrap();
        let then = then + chrono::TimeDelta::days(n) + chrono::TimeDelta::hours(place);
        let maker = Service::new(service.store().clone(), Clock::fixed(then));
        let request = KeyRequest { name: format!("Test {role} {n}"), role, expires_at: None };
        match maker.create_key(request).await {
            Ok((_, secret)) => return secret.expose().to_owned(),
            Err(Error::AlreadyThere { .. }) => {}
            Err(error) => panic!("{error:?}"),
        }
    }
    panic!("a test needs no hundred keys of a role")
}

async fn panics() -> actix_web::HttpResponse {
    panic!("a panic that a test asked for")
}
