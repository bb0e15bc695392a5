//! The database away, locked, out of connections or out of room, and a clock that is set back: a clear answer, nothing
//! half-written, and the service works again by itself.

use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use reqwest::StatusCode;
use rigbill::clock::Clock;
use rigbill::store::Store;
use sea_orm::{ConnectionTrait, Database as Connection, DbBackend, Statement};
use serde_json::{Value, json};

use super::app::{Answer, TestApp};
use super::bodies::boat;
use super::own_postgres::OwnPostgres;
use super::program::Program;
use crate::fixture::each_database;

fn quote(name: &str) -> Value {
    let mut spec = boat();
    spec["boat"]["name"] = json!(name);
    json!({"spec": spec})
}

/// Checks that an answer says: not now, come again.
fn not_now(answer: &Answer) {
    let problem = answer.problem(503, "unavailable");
    let wait: u64 = answer.header("retry-after").parse().unwrap_or_else(|_| panic!("no Retry-After: {problem}"));
    assert!((1..=60).contains(&wait), "{wait}");
}

/// Makes a quote, again and again until it can be made.
async fn until_made(app: &TestApp, name: &str) {
    let begun = Instant::now();
    loop {
        let answer = app.post("/v1/quotes", &quote(name)).await;
        if answer.status == StatusCode::CREATED {
            return;
        }
        not_now(&answer);
        assert!(begun.elapsed() < Duration::from_secs(30), "it does not come back by itself");
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
}

/// Names of the quotes that are there, newest first; each has its documents.
async fn names(app: &TestApp) -> Vec<String> {
    let listed = app.get("/v1/quotes?limit=200").await.json();
    let mut names = Vec::new();
    for row in listed["rows"].as_array().unwrap() {
        let document = app.get(&format!("{}/document", row["href"].as_str().unwrap())).await.json();
        assert_eq!(document["take_off"]["boat"]["name"], row["quote"]["name"], "whole, and its own");
        names.push(row["quote"]["name"].as_str().unwrap().to_owned());
    }
    names
}

#[tokio::test(flavor = "multi_thread")]
async fn postgresql_may_stop_and_start_under_the_running_service() {
    let server = OwnPostgres::start_new();
    let url = server.url();
    let app = TestApp::spawn_with(|config| {
        config.database = rigbill::config::DatabaseUrl::new(url);
        config.request_timeout = Duration::from_secs(3);
    })
    .await;
    until_made(&app, "Before").await;
    server.stop();
    let begun = Instant::now();
    for path in ["/v1/quotes", "/v1/items/A", "/v1/settings", "/readyz"] {
        not_now(&app.get(path).await);
    }
    not_now(&app.post("/v1/quotes", &quote("Never")).await);
    not_now(&app.post("/v1/take-offs", &boat()).await);
    assert!(begun.elapsed() < Duration::from_secs(40), "{:?}", begun.elapsed());
    assert_eq!(app.get("/livez").await.status, 200);
    assert!(app.get("/metrics").await.text.contains("rigbill_database_up 0"));
    server.start();
    until_made(&app, "After").await;
    assert_eq!(app.get("/readyz").await.status, 200);
    assert_eq!(names(&app).await, ["After", "Before"]);

    // It stands still: no connection breaks, and nothing answers.
    server.signal("STOP");
    let begun = Instant::now();
    not_now(&app.post("/v1/quotes", &quote("Never")).await);
    not_now(&app.get("/readyz").await);
    assert!(begun.elapsed() < Duration::from_secs(10), "{:?}", begun.elapsed());
    server.signal("CONT");
    until_made(&app, "At last").await;
    assert_eq!(names(&app).await.iter().filter(|name| *name == "At last").count(), 1);
    assert_eq!(app.get("/readyz").await.status, 200);
    app.stop().await;
}

/// Another process that holds the write lock of a SQLite file.
struct Holder(Child);

impl Holder {
    fn new(url: &str) -> Self {
        let file = url.trim_start_matches("sqlite://").split('?').next().unwrap();
        let script = "import sqlite3, sys\n\
            lock = sqlite3.connect(sys.argv[1], isolation_level=None)\n\
            lock.execute('BEGIN IMMEDIATE')\n\
            print('held', flush=True)\n\
            sys.stdin.read()";
        let mut command = Command::new("python3");
        command.args(["-c", script, file]).stdin(Stdio::piped()).stdout(Stdio::piped());
        let mut child = command.spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        assert_eq!(line, "held\n");
        Holder(child)
    }
}

impl Drop for Holder {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[tokio::test]
async fn a_sqlite_file_that_another_process_holds_can_be_read_and_written_later() {
    let folder = tempfile::tempdir().unwrap();
    let url = format!("sqlite://{}?mode=rwc", folder.path().join("shop.db").display());
    let database = rigbill::config::DatabaseUrl::new(url.clone());
    let app = TestApp::spawn_with(|config| config.database = database).await;
    until_made(&app, "Before").await;
    let holder = Holder::new(&url);
    not_now(&app.post("/v1/quotes", &quote("Never")).await);
    let settings = app.get("/v1/settings").await;
    not_now(&app.put("/v1/settings", settings.header("etag"), &settings.json()).await);
    assert_eq!(names(&app).await, ["Before"], "reading goes on");
    assert_eq!(app.get("/readyz").await.status, 200);
    drop(holder);
    until_made(&app, "After").await;
    assert_eq!(names(&app).await, ["After", "Before"]);
}

/// Takes all connections, and gives back what holds them.
async fn all_connections(store: &Store) -> Vec<Box<dyn Send>> {
    let mut held: Vec<Box<dyn Send>> = Vec::new();
    for pool in store.connections() {
        for _ in 0..pool.most {
            match pool.pool {
                "reader" => held.push(Box::new(store.snapshot().await.unwrap())),
                _ => held.push(Box::new(store.write().await.unwrap())),
            }
        }
    }
    held
}

#[tokio::test(flavor = "multi_thread")]
async fn without_a_free_connection_everyone_waits_a_little_and_is_told_to_come_again() {
    each_database(async |database| {
        let app = TestApp::spawn_on(&database).await;
        until_made(&app, "Before").await;
        let held = all_connections(app.service().store()).await;
        let begun = Instant::now();
        let (quote, listed, ready) = (quote("Never"), "/v1/quotes", "/readyz");
        let (made, listed, ready) = tokio::join!(app.post("/v1/quotes", &quote), app.get(listed), app.get(ready));
        for answer in [&made, &listed, &ready] {
            not_now(answer);
        }
        assert!(begun.elapsed() < Duration::from_secs(15), "{:?}", begun.elapsed());
        assert!(app.get("/metrics").await.text.contains("rigbill_unavailable_total{reason=\"no_connection\"}"));
        drop(held);
        until_made(&app, "After").await;
        assert_eq!(names(&app).await, ["After", "Before"]);
        assert_eq!(app.get("/readyz").await.status, 200);
    })
    .await;
}

#[tokio::test]
async fn a_full_disk_refuses_writes_whole_and_the_service_goes_on_when_there_is_room() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("shop.db");
    let url = format!("sqlite://{}?mode=rwc", file.display());
    // The system takes no more than 2 MiB into one file, as if there were no room for more; a signal that would end
    // the program instead is not listened to.
    let program = Program::serve_behind("trap '' XFSZ; ulimit -S -f 2048", &url, &[]);
    let post = async |name: String| {
        let request = program.request("POST", "/v1/quotes").header("content-type", "application/json");
        request.body(quote(&name).to_string()).send().await.unwrap()
    };
    let mut made = 0;
    let refused = loop {
        assert!(made < 200, "the disk never gets full");
        let answer = post(format!("Boat {made}")).await;
        if answer.status() != 201 {
            break answer;
        }
        made += 1;
    };
    assert!(made > 0, "there was room at first");
    let (status, wait) = (refused.status().as_u16(), refused.headers().contains_key("retry-after"));
    let problem: Value = serde_json::from_str(&refused.text().await.unwrap()).unwrap();
    assert_eq!((status, wait, problem["type"].as_str()), (503, true, Some("/problems/unavailable")), "{problem}");
    for _ in 0..3 {
        assert_eq!(post("Never".to_owned()).await.status(), 503, "refused again and again, always clearly");
    }
    let listed = async || -> Vec<Value> {
        let answer = program.request("GET", "/v1/quotes?limit=200").send().await.unwrap();
        assert_eq!(answer.status(), 200, "reading goes on");
        let page: Value = serde_json::from_str(&answer.text().await.unwrap()).unwrap();
        page["rows"].as_array().unwrap().clone()
    };
    assert_eq!(listed().await.len(), made, "what was refused is not there");

    let process = program.id().to_string();
    let room = Command::new("prlimit").args(["--pid", &process, "--fsize=unlimited:unlimited"]).status();
    assert!(room.unwrap().success());
    let answer = post("After".to_owned()).await;
    assert_eq!(answer.status(), 201, "{}", answer.text().await.unwrap());
    let rows = listed().await;
    assert_eq!((rows.len(), &rows[0]["quote"]["name"]), (made + 1, &json!("After")));
    for row in rows {
        let address = format!("{}/document", row["href"].as_str().unwrap());
        assert_eq!(program.request("GET", &address).send().await.unwrap().status(), 200, "whole");
    }
    let direct = Connection::connect(&url).await.unwrap();
    let check = Statement::from_string(DbBackend::Sqlite, "PRAGMA integrity_check");
    let sound: String = direct.query_one_raw(check).await.unwrap().unwrap().try_get_by_index(0).unwrap();
    assert_eq!(sound, "ok");
}

#[tokio::test]
async fn a_clock_that_is_set_back_brings_neither_order_nor_versions_into_disorder() {
    each_database(async |database| {
        let app = TestApp::spawn_on(&database).await;
        until_made(&app, "First").await;
        let address = app.get("/v1/quotes").await.json()["rows"][0]["href"].as_str().unwrap().to_owned();
        let seen = app.get(&address).await.header("etag").to_owned();
        app.set_clock("2026-11-25T09:00:00Z");
        until_made(&app, "Second").await;
        assert_eq!(app.put(&address, &seen, &quote("First again")).await.status, 200);
        app.put(&address, &seen, &quote("Never")).await.problem(412, "stale");
        assert_eq!(names(&app).await, ["Second", "First again"]);
        app.stop().await;

        // Set back further, while the service was not running.
        let earlier = Clock::fixed("2026-11-01T00:00:00Z".parse().unwrap());
        let app = TestApp::spawn_on_at(&database, &earlier).await;
        until_made(&app, "Third").await;
        until_made(&app, "Fourth").await;
        let mut walked = Vec::new();
        let mut next = Some("/v1/quotes?limit=1".to_owned());
        while let Some(page) = next {
            let page = app.get(&page).await.json();
            walked.push(page["rows"][0]["quote"]["name"].as_str().unwrap().to_owned());
            next = page["next"].as_str().map(|cursor| format!("/v1/quotes?limit=1&cursor={cursor}"));
        }
        assert_eq!(walked, ["Fourth", "Third", "Second", "First again"]);
        app.stop().await;
    })
    .await;
}
