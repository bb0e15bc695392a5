//! ETag, If-Match, If-None-Match, and what creating and deleting answer.

use serde_json::{Value, json};

use super::app::TestApp;
use crate::fixture::{Database, each_database};

pub fn operation(code: &str) -> Value {
    json!({
        "code": code, "description": "Polish the hull", "driver": "stated",
        "low_min": 10.0, "likely_min": 20.0, "high_min": 40.0
    })
}

pub fn item(sku: &str) -> Value {
    json!({
        "sku": sku, "description": "Boat cable 16 AWG brown", "category": "wire",
        "attributes": {"kind": "wire", "size": "16 AWG", "colour": "brown", "insulation_c": 105, "tinned": true},
        "selling_unit": "foot", "buying_unit": "spool", "buying_quantity": "100",
        "prices": [{"kind": "cost", "valid_from": "2026-01-01", "minimum_quantity": "1", "amount": "31.005"}]
    })
}

#[tokio::test]
async fn a_change_needs_the_version_that_was_seen() {
    each_database(async |database| changes(&database).await).await;
}

async fn changes(database: &Database) {
    let app = TestApp::spawn_on(database).await;
    let created = app.post("/v1/labour-operations", &operation("polish")).await;
    assert_eq!((created.status.as_u16(), created.header("etag")), (201, "\"v1\""), "{}", created.text);
    assert_eq!(created.header("location"), "/v1/labour-operations/polish");
    assert!(created.header("vary").contains("Accept"));
    let path = "/v1/labour-operations/polish";

    let json = [("content-type", "application/json")];
    let body = operation("polish").to_string();
    app.send("PUT", path, &json, body.clone()).await.problem(428, "version-needed");
    app.put(path, "v1", &operation("polish")).await.problem(400, "bad-header");
    app.put(path, "\"v7\"", &operation("polish")).await.problem(412, "stale");
    app.send("DELETE", path, &[], "").await.problem(428, "version-needed");
    app.delete(path, "\"v7\"").await.problem(412, "stale");

    let mut changed = operation("polish");
    changed["high_min"] = json!(50.0);
    let replaced = app.put(path, "\"v1\"", &changed).await;
    assert_eq!((replaced.status.as_u16(), replaced.header("etag")), (200, "\"v2\""), "{}", replaced.text);
    app.put(path, "\"v1\"", &changed).await.problem(412, "stale");

    let read = app.get(path).await;
    assert_eq!((read.json(), read.header("etag")), (changed, "\"v2\""));
    let known = app.send("GET", path, &[("if-none-match", "\"v1\", \"v2\"")], "").await;
    assert_eq!((known.status.as_u16(), known.header("etag"), known.text.as_str()), (304, "\"v2\"", ""));
    let outdated = app.send("GET", path, &[("if-none-match", "\"v1\"")], "").await;
    assert_eq!(outdated.status, 200);

    assert_eq!(app.delete(path, "\"v2\"").await.status, 204);
    app.get(path).await.problem(404, "not-found");
    app.delete(path, "\"v2\"").await.problem(404, "not-found");
    app.stop().await;
}

#[tokio::test]
async fn a_name_that_is_taken_is_409_and_one_that_differs_from_the_address_is_a_fault() {
    let app = TestApp::spawn().await;
    assert_eq!(app.post("/v1/labour-operations", &operation("polish")).await.status, 201);
    app.post("/v1/labour-operations", &operation("polish")).await.problem(409, "already-there");
    let other = app.put("/v1/labour-operations/polish", "\"v1\"", &operation("wax")).await;
    assert_eq!(other.places(), ["/code"]);
}

#[tokio::test]
async fn an_item_is_read_as_it_was_written_and_retired_instead_of_deleted() {
    let app = TestApp::spawn().await;
    let created = app.post("/v1/items", &item("W16/BRN-100")).await;
    assert_eq!(created.status, 201, "{}", created.text);
    assert_eq!(created.header("location"), "/v1/items/W16%2FBRN-100");
    let read = app.get(created.header("location")).await;
    assert_eq!(read.status, 200, "{}", read.text);
    assert_eq!(read.json()["prices"], item("")["prices"]);
    let replaced = app.put(created.header("location"), read.header("etag"), &read.json()).await;
    assert_eq!((replaced.status.as_u16(), replaced.header("etag")), (200, "\"v2\""), "{}", replaced.text);
    let retired = app.delete(created.header("location"), "\"v2\"").await;
    assert_eq!((retired.status.as_u16(), &retired.json()["retired"]), (200, &json!(true)), "{}", retired.text);
    assert_eq!(app.get(created.header("location")).await.json()["retired"], true);
    app.post("/v1/items", &item("W16/BRN-100")).await.problem(409, "already-there");
}

#[tokio::test]
async fn settings_are_replaced_as_a_whole_and_a_package_may_not_contain_itself() {
    let app = TestApp::spawn().await;
    let read = app.get("/v1/settings").await;
    let mut settings = read.json();
    settings["shop_name"] = json!("Tern Creek");
    let replaced = app.put("/v1/settings", read.header("etag"), &settings).await;
    assert_eq!(replaced.status, 200, "{}", replaced.text);
    assert_eq!(app.get("/v1/settings").await.json()["shop_name"], "Tern Creek");
    settings["currency"] = json!("XYZ");
    assert_eq!(app.put("/v1/settings", replaced.header("etag"), &settings).await.places(), ["/currency"]);

    let package = |code: &str, within: Value| json!({"code": code, "description": "A set", "packages": within});
    assert_eq!(app.post("/v1/packages", &package("INNER", json!([]))).await.status, 201);
    assert_eq!(app.post("/v1/packages", &package("OUTER", json!(["INNER"]))).await.status, 201);
    let cycle = app.put("/v1/packages/INNER", "\"v1\"", &package("INNER", json!(["OUTER"]))).await;
    assert_eq!(cycle.places(), ["/packages/0"]);
}
