//! What the running service tells of itself: counters, readiness, and a log without secrets.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};

use sea_orm::{ConnectionTrait, Database as Connection};
use serde_json::{Value, json};

use super::app::TestApp;
use super::bodies::boat;
use super::program::Program;
use crate::fixture::each_database;

/// The samples of a page of metrics (Prometheus text format 0.0.4), by name with labels.
fn samples(text: &str) -> BTreeMap<String, f64> {
    let mut samples = BTreeMap::new();
    for line in text.lines().filter(|line| !line.is_empty() && !line.starts_with('#')) {
        let (name, value) = line.rsplit_once(' ').unwrap_or_else(|| panic!("{line}"));
        let value = value.parse().unwrap_or_else(|_| panic!("{line}"));
        assert!(samples.insert(name.to_owned(), value).is_none(), "twice: {line}");
    }
    samples
}

#[tokio::test]
async fn requests_are_counted_by_route_and_class_and_never_by_what_a_client_makes_up() {
    let app = TestApp::spawn().await;
    for _ in 0..3 {
        app.get("/v1/items/NOBODY-KNOWS-THIS").await.problem(404, "not-found");
    }
    app.post("/v1/take-offs", &json!({"boat": 1})).await.problem(422, "invalid");
    assert_eq!(app.post("/v1/take-offs", &boat()).await.status, 200);
    app.get("/nobody-knows-that").await.problem(404, "unknown-path");
    app.send("BREW", "/livez", &[], "").await.problem(405, "method-not-allowed");
    app.get("/panic").await.problem(500, "internal");
    let page = app.get("/metrics").await;
    assert_eq!(page.status, 200);
    assert!(page.header("content-type").starts_with("text/plain; version=0.0.4"), "{}", page.header("content-type"));
    assert!(!page.text.to_lowercase().contains("knows") && !page.text.contains("BREW"), "{}", page.text);
    let samples = samples(&page.text);
    let requests = |method: &str, route: &str, status: &str| {
        let name = format!("rigbill_http_requests_total{{method=\"{method}\",route=\"{route}\",status=\"{status}\"}}");
        samples.get(&name).copied().unwrap_or_else(|| panic!("{name} is not in {}", page.text))
    };
    assert_eq!(requests("GET", "/v1/items/{sku}", "4xx"), 3.0);
    assert_eq!((requests("POST", "/v1/take-offs", "2xx"), requests("POST", "/v1/take-offs", "4xx")), (1.0, 1.0));
    assert_eq!((requests("GET", "unknown", "4xx"), requests("other", "/livez", "4xx")), (1.0, 1.0));
    assert_eq!(requests("GET", "/panic", "5xx"), 1.0);
    let took = "rigbill_http_request_duration_seconds";
    let labels = "method=\"POST\",route=\"/v1/take-offs\",status=\"2xx\"";
    assert_eq!(samples[&format!("{took}_count{{{labels}}}")], 1.0);
    assert_eq!(samples[&format!("{took}_bucket{{{labels},le=\"+Inf\"}}")], 1.0);
    assert!(samples[&format!("{took}_sum{{{labels}}}")] > 0.0);
}

#[tokio::test]
async fn metrics_tell_of_database_catalogue_and_build() {
    each_database(async |database| {
        let app = TestApp::spawn_on(&database).await;
        let before = samples(&app.get("/metrics").await.text);
        let csv = "sku,category,description,kind,selling_unit,buying_unit,buying_quantity\n\
            CLEAT,hardware,Cleat,hardware,each,each,1\n";
        let answer = app.send("POST", "/v1/imports", &[("content-type", "text/csv")], csv).await;
        assert_eq!(answer.status, 201, "{}", answer.text);
        let after = samples(&app.get("/metrics").await.text);
        assert_eq!(after["rigbill_catalogue_version"], before["rigbill_catalogue_version"] + 1.0);
        assert_eq!(after["rigbill_database_up"], 1.0);
        let build = format!("version=\"{}\"", env!("CARGO_PKG_VERSION"));
        assert!(after.keys().any(|name| name.starts_with("rigbill_build_info{") && name.contains(&build)), "{after:?}");
        // Eight connections to PostgreSQL; one writer and four readers of a SQLite file.
        let most: Vec<f64> = after
            .iter()
            .filter(|(name, _)| name.starts_with("rigbill_database_connections_max"))
            .map(|(_, n)| *n)
            .collect();
        let postgres = database.url.starts_with("postgres");
        assert_eq!(most, if postgres { vec![8.0] } else { vec![4.0, 1.0] });
        let pool = if postgres { "all" } else { "writer" };
        let open: f64 = ["idle", "used"]
            .map(|state| after[&format!("rigbill_database_connections{{pool=\"{pool}\",state=\"{state}\"}}")])
            .iter()
            .sum();
        assert!((1.0..=8.0).contains(&open), "{open}");
    })
    .await;
}

#[tokio::test]
async fn it_is_not_ready_while_a_step_of_the_schema_is_missing() {
    each_database(async |database| {
        let app = TestApp::spawn_on(&database).await;
        assert_eq!(app.get("/readyz").await.status, 200);
        let admin = Connection::connect(&database.url).await.unwrap();
        let step = "m0005_imports";
        let forget = format!("DELETE FROM seaql_migrations WHERE version = '{step}'");
        assert_eq!(admin.execute_unprepared(&forget).await.unwrap().rows_affected(), 1);
        let answer = app.get("/readyz").await;
        let problem = answer.problem(503, "unavailable");
        assert!(!answer.header("retry-after").is_empty());
        let detail = problem["detail"].as_str().unwrap();
        assert!(detail.contains(step) && detail.contains("rigbill migrate"), "{detail}");
        assert_eq!(app.get("/livez").await.status, 200, "it lives all the same");
        // A step that only a later version knows is none of this one's business.
        for version in [step, "m9999_of_a_later_version"] {
            let insert = format!("INSERT INTO seaql_migrations (version, applied_at) VALUES ('{version}', 1)");
            admin.execute_unprepared(&insert).await.unwrap();
        }
        assert_eq!(app.get("/readyz").await.status, 200);
        admin.close().await.unwrap();
    })
    .await;
}

#[tokio::test]
async fn a_database_without_a_schema_is_not_ready() {
    let app = TestApp::spawn_with(|config| config.migrate_at_start = false).await;
    app.get("/readyz").await.problem(503, "unavailable");
    assert_eq!(samples(&app.get("/metrics").await.text)["rigbill_database_up"], 0.0);
}

/// What must never stand in a line: each is sent with every request, in every place where it may be sent.
const REPEAT: &str = "mark-of-the-idempotency-key-77a1";
const CUSTOMER: &str = "Mark-Of-The-Customer-0b3d";
const BOAT: &str = "Mark-Of-The-Boat-91e4";
const PASSWORD: &str = "mark-of-the-password-c5d8";
const SIGNED: &str = "Mark-Of-The-Signer-5e2a";

/// A boat and a customer with marked names, and fields that nobody asked for if it is to be refused.
fn marked(fit: bool) -> Value {
    let mut spec = boat();
    spec["boat"]["name"] = json!(BOAT);
    let mut request = json!({"spec": spec, "customer": CUSTOMER});
    if !fit {
        request["spec"]["boat"]["stations"][0]["id"] = json!(format!("{BOAT} !"));
        request["spec"]["boat"]["job_type"] = json!(CUSTOMER);
        request[CUSTOMER] = json!(BOAT);
    }
    request
}

async fn send(program: &Program, method: &str, path: &str, body: &str, kind: &str) -> (u16, Value) {
    let request = program.request(method, path);
    // A key for each request: the same one would be answered as before.
    static SENT: AtomicUsize = AtomicUsize::new(0);
    let repeat = format!("{REPEAT}-{}", SENT.fetch_add(1, Ordering::Relaxed));
    let request = request.header("idempotency-key", repeat).header("if-match", "\"v1\"").header("content-type", kind);
    let answer = request.body(body.to_owned()).send().await.unwrap();
    let status = answer.status().as_u16();
    (status, serde_json::from_str(&answer.text().await.unwrap()).unwrap_or(Value::Null))
}

/// Sends every operation of the description fitting and unfitting bodies, then does the main job.
async fn everything(program: &Program) {
    let (_, description) = send(program, "GET", "/openapi.json", "", "").await;
    let mut met = 0;
    for (path, operations) in description["paths"].as_object().unwrap() {
        let address = path.replace("{id}", "0190a0a0-0000-7000-8000-000000000001");
        let address = address.replace("{sku}", BOAT).replace("{code}", CUSTOMER);
        for method in operations.as_object().unwrap().keys().map(|method| method.to_uppercase()) {
            for body in [marked(true).to_string(), marked(false).to_string(), format!("{{\"{CUSTOMER}\": {BOAT}")] {
                for address in [address.clone(), format!("{address}?text={CUSTOMER}&{BOAT}=1")] {
                    send(program, &method, &address, &body, "application/json").await;
                    met += 1;
                }
            }
        }
    }
    assert!(met > 100, "only {met} requests were made: this test has gone blind");
    let (status, quote) = send(program, "POST", "/v1/quotes", &marked(true).to_string(), "application/json").await;
    assert_eq!(status, 201, "{quote}");
    let address = format!("/v1/quotes/{}", quote["id"].as_str().unwrap());
    for path in ["", "/document", "/costing", "/request"] {
        assert_eq!(send(program, "GET", &format!("{address}{path}"), "", "").await.0, 200);
    }
    let (status, found) = send(program, "GET", &format!("/v1/quotes?text={CUSTOMER}"), "", "").await;
    assert_eq!((status, &found["rows"][0]["quote"]["id"]), (200, &quote["id"]));
    assert_eq!(send(program, "PUT", &address, &marked(true).to_string(), "application/json").await.0, 200);
    assert_eq!(send(program, "DELETE", &address, "", "").await.0, 412);
    let csv = format!("sku,category,description,kind\n{BOAT},\"{CUSTOMER}\n");
    assert_eq!(send(program, "POST", "/v1/imports", &csv, "text/csv").await.0, 422);
    customers(program).await;
}

/// A customer opens his link, answers wrongly and well, and someone tries secrets. The address that was sent.
async fn customers(program: &Program) {
    let issue = async || {
        let (status, quote) = send(program, "POST", "/v1/quotes", &marked(true).to_string(), "application/json").await;
        assert_eq!(status, 201, "{quote}");
        let path = format!("/v1/quotes/{}/issue", quote["id"].as_str().unwrap());
        let (status, issued) = send(program, "POST", &path, "{}", "application/json").await;
        assert_eq!(status, 200, "{issued}");
        issued["customer_address"].as_str().unwrap().to_owned()
    };
    for (answer, field) in [("accept", "name"), ("decline", "reason")] {
        let address = issue().await;
        let (page, secret) = address.rsplit_once('/').unwrap();
        sent_secrets().push(secret.to_owned());
        let ask = async |method: &str, path: &str, body: &str| {
            let request = program.client.request(method.parse().unwrap(), format!("{}{path}", program.url));
            let request = request.header("cookie", format!("quote={secret}"));
            let request = request.header("content-type", "application/x-www-form-urlencoded");
            request.body(body.to_owned()).send().await.unwrap().status().as_u16()
        };
        assert_eq!(ask("GET", &address, "").await, 200, "the client follows to the page");
        assert_eq!(ask("GET", &format!("{page}/{SIGNED}"), "").await, 404);
        let at = format!("{page}/{answer}");
        let long = format!("{field}={}", SIGNED.repeat(100));
        assert_eq!(ask("POST", &at, &long).await, 422);
        assert_eq!(ask("POST", &format!("{at}?{SIGNED}={secret}"), &format!("{field}={SIGNED}")).await, 200);
        assert_eq!(ask("POST", &at, &format!("{field}={SIGNED}")).await, 409);
    }
}

/// Secrets of links that were sent.
fn sent_secrets() -> std::sync::MutexGuard<'static, Vec<String>> {
    static SENT: std::sync::Mutex<Vec<String>> = std::sync::Mutex::new(Vec::new());
    SENT.lock().unwrap()
}

#[tokio::test]
async fn no_line_holds_a_secret_or_anything_of_a_customer() {
    each_database(async |database| {
        // The server trusts whoever comes, so any password does.
        let url = database.url.replacen("rigbill@", &format!("rigbill:{PASSWORD}@"), 1);
        let mut program = Program::serve(&url, &[("RUST_LOG", "debug"), ("RIGBILL_LOG_FORMAT", "json")]);
        everything(&program).await;
        // A database that fails is told of too.
        let admin = Connection::connect(&database.url).await.unwrap();
        for table in ["quotes", "items", "imports"] {
            admin.execute_unprepared(&format!("ALTER TABLE {table} RENAME TO {table}_gone")).await.unwrap();
        }
        let body = marked(true).to_string();
        for (method, path) in [("POST", "/v1/quotes"), ("GET", "/v1/quotes?text=x"), ("GET", "/v1/items/A")] {
            assert_eq!(send(&program, method, path, &body, "application/json").await.0, 500, "{method} {path}");
        }
        assert!(program.stop().success());
        let log = program.log();
        let lines: Vec<Value> =
            log.lines().map(|line| serde_json::from_str(line).unwrap_or_else(|_| panic!("{line}"))).collect();
        let requests = lines.iter().filter(|line| line["span"]["name"] == "request" && line["message"] == "close");
        assert!(requests.count() > 100, "a line for every request: {log}");
        assert!(lines.iter().any(|line| line["message"] == "a request failed"), "{log}");
        assert!(lines.iter().any(|line| line["level"] == "DEBUG"), "down to the level of debugging");
        let secret = &program.key[program.key.len() - 43..];
        let links = sent_secrets().clone();
        assert!(links.len() >= 2, "{}", links.len());
        let links = links.iter().map(String::as_str);
        for mark in [secret, REPEAT, CUSTOMER, BOAT, PASSWORD, SIGNED].into_iter().chain(links) {
            let held: Vec<&str> =
                log.lines().filter(|line| line.to_lowercase().contains(&mark.to_lowercase())).take(3).collect();
            assert!(held.is_empty(), "{mark} stands in {held:#?}");
        }
    })
    .await;
}
