//! `Idempotency-Key`: what is sent again is done once, and answered as the first was.

use std::collections::BTreeSet;

use chrono::Duration;
use futures_util::future::join_all;
use rigbill::clock::Clock;
use sea_orm::{ConnectionTrait, Database as Connection, DatabaseConnection, Statement, TransactionTrait};
use serde_json::{Value, json};

use super::app::{Answer, NOW, TestApp};
use super::versions::{item, operation};
use crate::fixture::{Database, each_database};
use crate::store::shop::request;

fn shared_clock() -> Clock {
    Clock::fixed(NOW.parse().unwrap())
}

/// Moves the clock of a test.
fn set(clock: &Clock, after: Duration) {
    let Clock::Fixed(fixed) = clock else { panic!("the clock of a test is fixed") };
    let begin: chrono::DateTime<chrono::Utc> = NOW.parse().unwrap();
    fixed.set(begin + after);
}

fn quote(name: &str) -> Value {
    serde_json::to_value(request(name, json!([]))).unwrap()
}

const HEADER: &str = "sku,description,category,kind,selling_unit,buying_unit,buying_quantity,cost,valid_from\n";

fn csv(sku: &str) -> String {
    format!("{HEADER}{sku},Cleat,hardware,hardware,each,each,1,10.00,2026-01-01\n")
}

/// What is sent to a creating address: media type, one body, and another that is as good. An address that a test does
/// not know of stops it: whoever adds one adds its bodies here.
fn bodies(path: &str) -> (&'static str, [String; 2]) {
    let json = |one: Value, other: Value| ("application/json", [one.to_string(), other.to_string()]);
    match path {
        "/v1/quotes" => json(quote("Kittiwake"), quote("Fulmar")),
        "/v1/items" => json(item("W16"), item("W18")),
        "/v1/packages" => {
            let package = |code: &str| json!({"code": code, "description": "A set"});
            json(package("ONE"), package("TWO"))
        }
        "/v1/labour-operations" => json(operation("polish"), operation("wax")),
        "/v1/keys" => {
            json(json!({"name": "Till one", "role": "reader"}), json!({"name": "Till two", "role": "reader"}))
        }
        "/v1/webhooks" => {
            let target = |url: &str| json!({"url": url, "event_types": ["quote.accepted"]});
            json(target("https://stock.example/one"), target("https://stock.example/two"))
        }
        "/v1/imports" => ("text/csv", [csv("CLEAT-1"), csv("CLEAT-2")]),
        // Of items that came in before: the addresses are gone through in their order.
        "/v1/stock" => {
            let count = |bin: &str| json!({"sku": "CLEAT-1", "place": "Store", "bin": bin, "quantity": "12"});
            json(count("A-1"), count("A-2"))
        }
        "/v1/offcuts" => {
            let length = |feet: f64| json!({"value": feet, "unit": "ft"});
            let offcut = |feet| json!({"sku": "W16", "place": "Store", "bin": "Rack", "length": length(feet)});
            json(offcut(12.5), offcut(7.25))
        }
        other => panic!("{other} creates something: say here what a test sends to it"),
    }
}

/// The addresses that take a key, by the description.
fn keyed(description: &Value) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for (path, operations) in description["paths"].as_object().unwrap() {
        let post = &operations["post"];
        let takes_key =
            post["parameters"].as_array().into_iter().flatten().any(|parameter| parameter["name"] == "Idempotency-Key");
        let creates = post["responses"]["201"].is_object();
        // What is done to a quote or a count is done once too; `life` and `stock` walk through that.
        let moves_a_quote = path.starts_with("/v1/quotes/{id}/") || path.starts_with("/v1/stock/{id}/");
        assert_eq!(
            takes_key,
            creates || (post.is_object() && moves_a_quote),
            "{path}: what creates something or moves a quote takes an Idempotency-Key, and nothing else does"
        );
        if takes_key {
            let told = post["responses"]["422"]["description"].as_str().unwrap();
            assert!(told.contains("/problems/key-reused"), "{path}: {told}");
            assert!(post["responses"]["400"]["description"].as_str().unwrap().contains("/problems/bad-header"));
            let done = if creates { "201" } else { "200" };
            assert!(post["responses"][done]["headers"]["Idempotent-Replay"].is_object(), "{path}");
        }
        if takes_key && !moves_a_quote {
            found.insert(path.clone());
        }
    }
    found
}

/// Whether what an address creates is shown only once, so that a repeat is told where it is and not what it said.
fn is_shown_once(description: &Value, path: &str) -> bool {
    let told = &description["paths"][path]["post"]["responses"]["409"]["description"];
    told.as_str().is_some_and(|told| told.contains("/problems/shown-once"))
}

async fn create(app: &TestApp, path: &str, key: &str, body: impl Into<reqwest::Body>) -> Answer {
    let (media_type, _) = bodies(path.split('?').next().unwrap());
    app.send("POST", path, &[("content-type", media_type), ("idempotency-key", key)], body).await
}

/// Everything of an answer but what belongs to one transmission of it.
fn lasting(answer: &Answer) -> (u16, Vec<(String, String)>, String) {
    let once = ["x-request-id", "date", "idempotent-replay", "ratelimit"];
    let headers = answer.headers.iter().filter(|(name, _)| !once.contains(&name.as_str()));
    let mut headers: Vec<_> =
        headers.map(|(name, value)| (name.to_string(), value.to_str().unwrap().to_owned())).collect();
    headers.sort();
    (answer.status.as_u16(), headers, answer.text.clone())
}

fn is_replay(answer: &Answer) -> bool {
    answer.header("idempotent-replay") == "true"
}

fn given_again(description: &Value, path: &str, first: &Answer, again: &Answer) {
    if is_shown_once(description, path) {
        let problem = again.problem(409, "shown-once").to_string();
        assert!(problem.contains(first.header("location")), "{path}: {problem}");
    } else {
        assert!(is_replay(again), "{path}: {}", again.text);
        assert_eq!(lasting(again), lasting(first), "{path}");
    }
}

#[tokio::test]
async fn a_repeat_is_answered_as_the_first_was_for_a_day_also_after_a_restart() {
    each_database(async |database| repeats(&database).await).await;
}

async fn repeats(database: &Database) {
    let clock = shared_clock();
    let app = TestApp::spawn_on_at(database, &clock).await;
    let description = app.get("/openapi.json").await.json();
    let paths = keyed(&description);
    assert!(paths.len() >= 5, "{paths:?}");
    let mut firsts = Vec::new();
    for path in &paths {
        let (_, [one, other]) = bodies(path);
        // The same text at every address would be one key; each address has its own here.
        let key = format!("key-of{}", path.replace('/', "-"));
        let first = create(&app, path, &key, one.clone()).await;
        assert_eq!((first.status.as_u16(), is_replay(&first)), (201, false), "{path}: {}", first.text);
        assert!(!first.header("location").is_empty(), "{path}");
        let again = create(&app, path, &format!("\"{key}\""), one.clone()).await;
        given_again(&description, path, &first, &again);

        let detail = create(&app, path, &key, other.clone()).await.problem(422, "key-reused");
        assert!(!detail.to_string().contains(&key), "no one's key is told: {detail}");
        create(&app, path, &key, "").await.problem(422, "key-reused");
        let elsewhere = paths.iter().find(|other| *other != path).unwrap();
        create(&app, elsewhere, &key, bodies(elsewhere).1[0].clone()).await.problem(422, "key-reused");
        firsts.push((path, key, one, first));
    }
    let listed = app.get("/v1/quotes").await.json();
    assert_eq!(listed["rows"].as_array().unwrap().len(), 1);
    assert_eq!(app.get("/v1/items/CLEAT-1").await.header("etag"), "\"v1\"", "imported once");
    app.stop().await;

    let app = TestApp::spawn_on_at(database, &clock).await;
    set(&clock, Duration::hours(24) - Duration::microseconds(1));
    for (path, key, one, first) in &firsts {
        let again = create(&app, path, key, one.clone()).await;
        given_again(&description, path, first, &again);
    }
    set(&clock, Duration::hours(24));
    for (path, key, one, first) in &firsts {
        let anew = create(&app, path, key, one.clone()).await;
        assert!(!is_replay(&anew), "{path}");
        match path.as_str() {
            "/v1/quotes" | "/v1/imports" | "/v1/offcuts" | "/v1/webhooks" => {
                assert_eq!(anew.status, 201, "{path}: {}", anew.text);
                assert_ne!(anew.header("location"), first.header("location"), "{path}");
            }
            _ => drop(anew.problem(409, "already-there")),
        }
    }
    app.stop().await;
}

#[tokio::test]
async fn a_refusal_keeps_no_key() {
    each_database(async |database| refusals(&database).await).await;
}

async fn refusals(database: &Database) {
    let app = TestApp::spawn_on(database).await;
    let mut bad = quote("Knot");
    bad["spec"]["power"]["banks"][0]["station"] = json!("nowhere");
    create(&app, "/v1/quotes", "k1", bad.to_string()).await.problem(422, "invalid");
    create(&app, "/v1/quotes", "k1", "{").await.problem(400, "malformed-json");
    let made = create(&app, "/v1/quotes", "k1", quote("Knot").to_string()).await;
    assert_eq!((made.status.as_u16(), is_replay(&made)), (201, false), "{}", made.text);

    assert_eq!(app.post("/v1/items", &item("W16")).await.status, 201);
    create(&app, "/v1/items", "k2", item("W16").to_string()).await.problem(409, "already-there");
    assert_eq!(create(&app, "/v1/items", "k2", item("W18").to_string()).await.status, 201);

    let broken = csv("CLEAT").replace("10.00", "ten");
    create(&app, "/v1/imports", "k3", broken).await.problem(422, "import-refused");
    let taken = create(&app, "/v1/imports", "k3", csv("CLEAT")).await;
    assert_eq!((taken.status.as_u16(), is_replay(&taken)), (201, false), "{}", taken.text);
    app.stop().await;
}

#[tokio::test]
async fn a_trial_import_and_the_import_are_two_requests() {
    each_database(async |database| trials(&database).await).await;
}

async fn trials(database: &Database) {
    let app = TestApp::spawn_on(database).await;
    let trial = create(&app, "/v1/imports?dry_run=true", "k", csv("CLEAT")).await;
    assert_eq!((trial.status.as_u16(), &trial.json()["state"]), (201, &json!("dry_run")), "{}", trial.text);
    let again = create(&app, "/v1/imports?dry_run=true", "k", csv("CLEAT")).await;
    assert!(is_replay(&again));
    assert_eq!(lasting(&again), lasting(&trial));
    create(&app, "/v1/imports", "k", csv("CLEAT")).await.problem(422, "key-reused");
    app.get("/v1/items/CLEAT").await.problem(404, "not-found");
    let taken = create(&app, "/v1/imports", "k2", csv("CLEAT")).await;
    assert_eq!(taken.json()["state"], "applied", "{}", taken.text);
    app.stop().await;
}

#[tokio::test]
async fn a_key_that_is_none_is_told_and_nothing_is_made() {
    let app = TestApp::spawn().await;
    for key in ["", "\"\"", "a b", "\"a", &"k".repeat(256)] {
        create(&app, "/v1/quotes", key, quote("Ruff").to_string()).await.problem(400, "bad-header");
        create(&app, "/v1/imports", key, csv("CLEAT")).await.problem(400, "bad-header");
    }
    let twice = [("content-type", "application/json"), ("idempotency-key", "a"), ("idempotency-key", "a")];
    app.send("POST", "/v1/quotes", &twice, quote("Ruff").to_string()).await.problem(400, "bad-header");
    assert_eq!(app.get("/v1/quotes").await.json()["rows"], json!([]));
}

#[tokio::test]
async fn of_twenty_at_once_one_does_the_work_and_the_others_repeat_its_answer() {
    each_database(async |database| twenty(&database).await).await;
}

async fn twenty(database: &Database) {
    let clock = shared_clock();
    // Two instances, with connections of their own, also on the one file.
    let apps = [TestApp::spawn_on_at(database, &clock).await, TestApp::spawn_on_at(database, &clock).await];
    let description = apps[0].get("/openapi.json").await.json();
    let paths = keyed(&description);
    for path in &paths {
        let (_, [body, _]) = bodies(path);
        let answers = join_all((0..20).map(|n| create(&apps[n % 2], path, "same", body.clone())));
        let answers = answers.await;
        // One address after the other uses the same text; what the last one claimed is forgotten in between.
        let (done, repeats): (Vec<_>, Vec<_>) =
            answers.iter().partition(|answer| answer.status == 201 && !is_replay(answer));
        assert_eq!(done.len(), 1, "{path}: {:?}", answers.iter().map(|a| (a.status, &a.text)).collect::<Vec<_>>());
        for again in repeats {
            given_again(&description, path, done[0], again);
        }
        execute(database, "DELETE FROM idempotency").await;
    }
    assert_eq!(count(database, "quotes").await, 1);
    assert_eq!(count(database, "items").await, 2, "one by itself, one imported");
    assert_eq!(count(database, "item_history").await, 2, "none was written a second time");
    assert_eq!(count(database, "imports").await, 1, "those that came too late leave nothing behind");
    assert_eq!(count(database, "import_rows").await, 0);
    for app in apps {
        app.stop().await;
    }
}

async fn connected(database: &Database) -> DatabaseConnection {
    Connection::connect(&database.url).await.unwrap()
}

async fn execute(database: &Database, statement: &str) {
    let connection = connected(database).await;
    connection.execute_unprepared(statement).await.unwrap();
    connection.close().await.unwrap();
}

async fn number(connection: &impl ConnectionTrait, question: &str) -> i64 {
    let question = Statement::from_string(connection.get_database_backend(), question);
    connection.query_one_raw(question).await.unwrap().unwrap().try_get("", "n").unwrap()
}

async fn count(database: &Database, table: &str) -> i64 {
    let connection = connected(database).await;
    let counted = number(&connection, &format!("SELECT COUNT(*) AS n FROM {table}")).await;
    connection.close().await.unwrap();
    counted
}

/// Two instances on one PostgreSQL, held up between the work and its end: a table is locked that the work needs after
/// it has claimed. (One file of SQLite has one writer: there the second waits before it begins.)
#[tokio::test(flavor = "multi_thread")]
async fn who_comes_second_waits_for_the_first_and_takes_over_if_its_connection_breaks() {
    each_database(async |database| {
        if database.url.starts_with("postgres") {
            held_up(&database, false).await;
            held_up(&database, true).await;
        }
    })
    .await;
}

async fn held_up(database: &Database, broken: bool) {
    let clock = shared_clock();
    let apps = [TestApp::spawn_on_at(database, &clock).await, TestApp::spawn_on_at(database, &clock).await];
    execute(database, "DELETE FROM idempotency; DELETE FROM quotes; DELETE FROM documents").await;
    let admin = connected(database).await;
    let lock = admin.begin().await.unwrap();
    lock.execute_unprepared("LOCK TABLE quotes IN EXCLUSIVE MODE").await.unwrap();
    let body = quote("Godwit").to_string();
    let [one, other] = &apps;
    let waiting = "FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'";
    let until = async |wanted: i64| {
        for _ in 0..400 {
            if number(&admin, &format!("SELECT COUNT(*) AS n {waiting}")).await == wanted {
                return;
            }
            tokio::time::sleep(std::time::Duration::from_millis(10)).await;
        }
        panic!("{wanted} connections never waited for a lock");
    };
    let watch = async {
        until(2).await;
        if broken {
            // The connection that is held up at the table, and not the one that waits for it at the claim.
            let ended = number(
                &admin,
                &format!("SELECT COUNT(pg_terminate_backend(pid)) AS n {waiting} AND wait_event = 'relation'"),
            )
            .await;
            assert_eq!(ended, 1);
            // Now the other one has claimed, and is held up in its place.
            until(1).await;
            assert_eq!(number(&admin, "SELECT COUNT(*) AS n FROM idempotency").await, 0, "nothing is to be seen yet");
        }
        lock.rollback().await.unwrap();
    };
    let first = create(one, "/v1/quotes", "k", body.clone());
    let second = async {
        until(1).await;
        create(other, "/v1/quotes", "k", body.clone()).await
    };
    let (first, second, ()) = tokio::join!(first, second, watch);
    if broken {
        assert!(first.status.is_server_error(), "{}", first.text);
        assert_eq!((second.status.as_u16(), is_replay(&second)), (201, false), "{}", second.text);
        let repeat = create(one, "/v1/quotes", "k", body.clone()).await;
        assert_eq!((is_replay(&repeat), lasting(&repeat)), (true, lasting(&second)));
    } else {
        assert_eq!((first.status.as_u16(), is_replay(&first)), (201, false), "{}", first.text);
        assert_eq!((is_replay(&second), lasting(&second)), (true, lasting(&first)));
    }
    assert_eq!(number(&admin, "SELECT COUNT(*) AS n FROM quotes").await, 1);
    assert_eq!(number(&admin, "SELECT COUNT(*) AS n FROM documents").await, 2);
    admin.close().await.unwrap();
    for app in apps {
        app.stop().await;
    }
}
