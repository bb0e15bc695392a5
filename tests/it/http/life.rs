//! A quote's life over HTTP: each move with the version that was seen, done once, told, and refused with a reason.

use futures_util::future::join_all;
use rigbill::clock::Clock;
use rigbill::service::access::Role;
use serde_json::{Value, json};

use super::app::{Answer, NOW, TestApp};
use super::leaks::HIDDEN;
use crate::fixture::{Database, each_database};
use crate::store::shop::request;

/// A shop with a cleat to sell.
pub async fn cleats(app: &TestApp) {
    let cleat = json!({
        "sku": "CLEAT", "description": "Cleat", "category": "hardware", "attributes": {"kind": "hardware"},
        "selling_unit": "each", "buying_unit": "pack", "buying_quantity": "4",
        "prices": [{"kind": "cost", "valid_from": "2026-01-01", "minimum_quantity": "1", "amount": "40"}],
    });
    assert_eq!(app.post("/v1/items", &cleat).await.status, 201);
}

/// What a quote of so many cleats is made from.
pub fn with_cleats(name: &str, count: u32) -> Value {
    serde_json::to_value(request(name, json!([{"sku": "CLEAT", "quantity": count, "station": "helm"}]))).unwrap()
}

/// A draft's address.
pub async fn draft(app: &TestApp, name: &str) -> String {
    let made = app.post("/v1/quotes", &with_cleats(name, 1)).await;
    assert_eq!(made.status, 201, "{}", made.text);
    made.header("location").to_owned()
}

/// Sends a step, having seen a version, with more headers.
pub async fn step(app: &TestApp, path: &str, step: &str, seen: &str, more: &[(&str, &str)], body: &Value) -> Answer {
    let mut headers = vec![("content-type", "application/json"), ("if-match", seen)];
    headers.extend(more);
    app.send("POST", &format!("{path}/{step}"), &headers, body.to_string()).await
}

#[tokio::test]
async fn a_front_desk_takes_a_quote_from_draft_to_acceptance_and_sees_no_cost() {
    each_database(async |database| from_draft_to_acceptance(&database).await).await;
}

async fn from_draft_to_acceptance(database: &Database) {
    let app = TestApp::spawn_on(database).await;
    cleats(&app).await;
    let bearer = format!("Bearer {}", app.new_key(Role::FrontDesk).await);
    let desk = [("authorization", bearer.as_str())];
    let hidden = |answer: &Answer| {
        for name in HIDDEN {
            assert!(!answer.text.contains(&format!("\"{name}\":")), "{name} in {}", answer.text);
        }
    };
    let path = draft(&app, "Kittiwake").await;
    let remark = json!({"remark": "Handed over at the counter"});
    app.send("POST", &format!("{path}/issue"), &[("content-type", "application/json"), desk[0]], "{}")
        .await
        .problem(428, "version-needed");
    step(&app, &path, "issue", "\"v9\"", &desk, &remark).await.problem(412, "stale");
    // What is issued is what was seen.
    step(&app, &path, "issue", "*", &desk, &remark).await.problem(428, "version-needed");
    let wrong = step(&app, &path, "accept", "\"v1\"", &desk, &remark).await;
    let problem = wrong.problem(409, "not-allowed");
    assert_eq!(problem["allowed"], json!(["replace", "delete", "issue"]));

    let issued = step(&app, &path, "issue", "\"v1\"", &desk, &remark).await;
    assert_eq!((issued.status.as_u16(), issued.header("etag")), (200, "\"v2\""), "{}", issued.text);
    hidden(&issued);
    let quote = issued.json();
    assert_eq!((&quote["state"], &quote["number"]), (&json!("issued"), &json!("2026-0001")));
    assert_eq!(quote["lapses_at"], "2026-12-26T00:00:00Z", "the end of the thirtieth day, in universal time");
    let document = app.send("GET", &format!("{path}/document"), &desk, "").await;
    assert_eq!(document.json()["issue"]["number"], "2026-0001");
    assert_eq!(document.header("etag"), format!("\"{}\"", quote["document_hash"].as_str().unwrap()));
    for (method, body) in [("PUT", with_cleats("Kittiwake", 2)), ("DELETE", Value::Null)] {
        let headers = [("content-type", "application/json"), ("if-match", "\"v2\""), desk[0]];
        let problem = app.send(method, &path, &headers, body.to_string()).await.problem(409, "not-allowed");
        assert_eq!(problem["allowed"], json!(["accept", "decline", "withdraw", "revise"]));
    }

    let revision = step(&app, &path, "revisions", "\"v2\"", &desk, &with_cleats("Kittiwake", 3)).await;
    assert_eq!((revision.status.as_u16(), revision.header("etag")), (201, "\"v1\""), "{}", revision.text);
    let second = revision.header("location").to_owned();
    assert_eq!((&revision.json()["number"], &revision.json()["revision"]), (&json!("2026-0001"), &json!(2)));
    let changes = app.send("GET", &format!("{second}/changes"), &desk, "").await;
    hidden(&changes);
    let changed = changes.json();
    assert_eq!((&changed["revises"], &changed["difference"]["net"]["difference"]), (&json!(path), &json!("29.00")));
    let issued = step(&app, &second, "issue", "\"v1\"", &desk, &json!({})).await;
    assert_eq!(issued.status, 200, "{}", issued.text);
    let superseded = step(&app, &path, "accept", "\"v3\"", &desk, &json!({})).await.problem(409, "not-allowed");
    assert_eq!(superseded["allowed"], json!([]));
    let accepted = step(&app, &second, "accept", "\"v2\"", &desk, &json!({"remark": "By telephone"})).await;
    assert_eq!(accepted.json()["state"], "accepted", "{}", accepted.text);
    hidden(&accepted);
    let moves = app.send("GET", &format!("{path}/moves"), &desk, "").await;
    hidden(&moves);
    let moves = moves.json();
    assert_eq!(moves["moves"][0]["remark"], "Handed over at the counter");
    assert!(moves["moves"][0]["by"].as_str().unwrap().starts_with("Test front_desk"), "{moves}");
    assert_eq!((&moves["moves"][1]["to"], &moves["moves"][1]["superseded_by"]), (&json!("superseded"), &json!(second)));
    let found = app.send("GET", "/v1/quotes?text=2026-0001&state=accepted", &desk, "").await.json();
    assert_eq!(found["rows"].as_array().unwrap().len(), 1);

    let bearer = format!("Bearer {}", app.new_key(Role::Rigger).await);
    let other = draft(&app, "Tern").await;
    step(&app, &other, "issue", "\"v1\"", &[("authorization", &bearer)], &json!({}))
        .await
        .problem(403, "not-your-role");
    app.stop().await;
}

#[tokio::test]
async fn what_moved_or_is_missing_is_told_and_nothing_is_issued() {
    let app = TestApp::spawn().await;
    cleats(&app).await;
    let path = draft(&app, "Knot").await;
    let mut settings = app.get("/v1/settings").await.json();
    settings["categories"].as_array_mut().unwrap().iter_mut().for_each(|one| one["mark_up_percent"] = json!("50"));
    assert_eq!(app.put("/v1/settings", "\"v1\"", &settings).await.status, 200);
    let problem = step(&app, &path, "issue", "\"v1\"", &[], &json!({})).await.problem(409, "moved");
    // A cleat at 10.00: first with 45 %, then with 50 % on it.
    assert_eq!(problem["difference"]["total"], json!({"before": "14.50", "after": "15.00", "difference": "0.50"}));
    let request = app.get(&format!("{path}/request")).await;
    assert_eq!(app.put(&path, request.header("etag"), &request.json()).await.status, 200);
    assert_eq!(step(&app, &path, "issue", "\"v2\"", &[], &json!({})).await.status, 200);

    assert_eq!(
        app.post(
            "/v1/items",
            &json!({
        "sku": "BOLLARD", "description": "Bollard", "category": "hardware", "attributes": {"kind": "hardware"},
        "selling_unit": "each", "buying_unit": "each", "buying_quantity": "1"})
        )
        .await
        .status,
        201
    );
    let mut asked = with_cleats("Ruff", 1);
    asked["spec"]["equipment"][0]["sku"] = json!("BOLLARD");
    let gap = app.post("/v1/quotes", &asked).await;
    let problem =
        step(&app, gap.header("location"), "issue", "\"v1\"", &[], &json!({})).await.problem(409, "gaps-stand");
    let name = problem["gaps"][0]["what"].clone();
    asked["settlements"] = json!([{"kind": "exclusion", "gap": name, "reason": "Fitted by the builder"}]);
    assert_eq!(app.put(gap.header("location"), "\"v1\"", &asked).await.json()["total"], "0.00");
    asked["settlements"][0]["gap"] = json!("another");
    assert_eq!(app.put(gap.header("location"), "\"v2\"", &asked).await.places(), ["/settlements/0/gap"]);
    assert_eq!(step(&app, gap.header("location"), "issue", "\"v2\"", &[], &json!({})).await.status, 200);
}

/// The moves of a quote that the description has: their names below a quote's address.
#[tokio::test]
async fn settings_that_leave_out_the_terms_take_no_limit_away() {
    let app = TestApp::spawn().await;
    let before = app.get("/v1/settings").await;
    let mut older = before.json();
    assert!(older.as_object_mut().unwrap().remove("terms").is_some());
    let headers = [("content-type", "application/json"), ("if-match", before.header("etag"))];
    let refused = app.send("PUT", "/v1/settings", &headers, older.to_string()).await;
    let problem = refused.problem(422, "invalid");
    assert!(problem["errors"][0]["pointer"] == "/terms", "{problem}");
    assert_eq!(app.get("/v1/settings").await.text, before.text);
}

fn moves_of(description: &Value) -> Vec<String> {
    let paths = description["paths"].as_object().unwrap().iter();
    paths
        // What is done on the shelf for a quote needs no version of the quote; `stock` walks through that.
        .filter(|(_, operations)| {
            operations["post"]["parameters"].as_array().into_iter().flatten().any(|one| one["name"] == "If-Match")
        })
        .filter_map(|(path, _)| path.strip_prefix("/v1/quotes/{id}/").map(str::to_owned))
        // A link is no move, and its secret is told once; `links` looks at it.
        .filter(|name| name != "link")
        .collect()
}

/// A fresh quote that can make a move, its version then, and what is sent.
async fn before(app: &TestApp, name: &str) -> (String, String, Value) {
    let path = draft(app, "Dunlin").await;
    match name {
        "issue" => (path, "\"v1\"".to_owned(), json!({"remark": "Out"})),
        "accept" | "decline" | "withdraw" | "revisions" => {
            assert_eq!(step(app, &path, "issue", "\"v1\"", &[], &json!({})).await.status, 200);
            let body = if name == "revisions" { with_cleats("Dunlin", 5) } else { json!({"remark": "So be it"}) };
            (path, "\"v2\"".to_owned(), body)
        }
        other => panic!("a quote can be moved by '{other}': say here how it comes to that"),
    }
}

/// What lasts of an answer: all but the customer's address, which is told once.
fn lasting(answer: &Answer) -> (u16, String, String, Value) {
    let header = |name: &str| answer.header(name).to_owned();
    let mut told = answer.json();
    let address = told.as_object_mut().unwrap().remove("customer_address");
    assert!(address.is_none() || answer.header("idempotent-replay").is_empty(), "a repeat shows {address:?}");
    (answer.status.as_u16(), header("location"), header("etag"), told)
}

#[tokio::test]
async fn a_move_is_made_once_however_often_and_by_how_many_it_is_sent() {
    each_database(async |database| moves_are_made_once(&database).await).await;
}

async fn moves_are_made_once(database: &Database) {
    let clock = Clock::fixed(NOW.parse().unwrap());
    let apps = [TestApp::spawn_on_at(database, &clock).await, TestApp::spawn_on_at(database, &clock).await];
    let app = &apps[0];
    cleats(app).await;
    let moves = moves_of(&app.get("/openapi.json").await.json());
    assert!(moves.len() >= 5, "{moves:?}");
    for name in &moves {
        let (path, seen, body) = before(app, name).await;
        let key = format!("{name}-1");
        let keyed = [("idempotency-key", key.as_str())];
        let first = step(app, &path, name, &seen, &keyed, &body).await;
        assert!(first.status.is_success() && first.header("idempotent-replay").is_empty(), "{name}: {}", first.text);
        let again = step(&apps[1], &path, name, &seen, &keyed, &body).await;
        assert_eq!((lasting(&again), again.header("idempotent-replay")), (lasting(&first), "true"), "{name}");
        let other = json!({"remark": "Another"});
        step(app, &path, name, &seen, &keyed, &other).await.problem(422, "key-reused");
        // Without the key it is a second request, which comes too late.
        let late = step(app, &path, name, &seen, &[], &body).await;
        assert!([409, 412].contains(&late.status.as_u16()), "{name}: {}", late.text);

        let (path, seen, body) = before(app, name).await;
        let key = format!("{name}-2");
        let keyed = [("idempotency-key", key.as_str())];
        let answers = join_all((0..20).map(|n| step(&apps[n % 2], &path, name, &seen, &keyed, &body))).await;
        let (repeats, made): (Vec<_>, Vec<_>) =
            answers.iter().partition(|answer| !answer.header("idempotent-replay").is_empty());
        assert_eq!(made.len(), 1, "{name}: {:?}", answers.iter().map(lasting).collect::<Vec<_>>());
        assert!(repeats.iter().all(|again| lasting(again) == lasting(made[0])), "{name}");
    }
    // Each round issued one draft, or began with an issued one; the two revisions are drafts still.
    let issued = app.get("/v1/quotes?limit=200").await.json();
    let mut numbers: Vec<String> = issued["rows"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|row| row["quote"]["revision"] == 1)
        .map(|row| row["quote"]["number"].as_str().unwrap().to_owned())
        .collect();
    numbers.sort();
    let expected: Vec<String> = (1..=2 * moves.len()).map(|n| format!("2026-{n:04}")).collect();
    assert_eq!(numbers, expected);
    for app in apps {
        app.stop().await;
    }
}
