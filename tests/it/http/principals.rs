//! Whatever is written says in whose name.

use rigbill::service::access::Role;
use sea_orm::{ConnectionTrait, Database as Connection, Statement};
use serde_json::{Value, json};

use super::app::TestApp;
use super::versions::{item, operation};
use crate::fixture::{Database, each_database};

/// A key by its name.
async fn key(app: &TestApp, name: &str, role: Role) -> String {
    let made = app.post("/v1/keys", &json!({"name": name, "role": role})).await.json();
    format!("Bearer {}", made["secret"].as_str().unwrap())
}

async fn send(app: &TestApp, key: &str, method: &str, path: &str, seen: &str, body: &Value) -> Value {
    let headers = [("authorization", key), ("content-type", "application/json"), ("if-match", seen)];
    let answer = app.send(method, path, &headers, body.to_string()).await;
    assert!(answer.status.is_success(), "{method} {path}: {}", answer.text);
    answer.json()
}

#[tokio::test]
async fn every_write_says_in_whose_name() {
    each_database(async |database| writes(&database).await).await;
}

async fn writes(database: &Database) {
    let app = TestApp::spawn_on(database).await.stocked().await;
    let desk = key(&app, "Till", Role::FrontDesk).await;
    let rigger = key(&app, "Sam's tablet", Role::Rigger).await;
    let stock = key(&app, "Stockroom", Role::Inventory).await;
    let office = key(&app, "Office", Role::Owner).await;
    let row = async |list: &str, field: &str, name: &str, value: &str| {
        let mut page = format!("{list}?limit=200");
        loop {
            let rows = app.get(&page).await.json();
            let found = rows["rows"].as_array().unwrap().iter().find(|row| row[field][name] == value).cloned();
            if let Some(found) = found {
                return found;
            }
            page = format!("{list}?limit=200&cursor={}", rows["next"].as_str().expect("it is on one of the pages"));
        }
    };

    let quote: Value = serde_json::from_str(include_str!("../../../api/examples/skiff.json")).unwrap();
    let made = send(&app, &desk, "POST", "/v1/quotes", "", &quote).await;
    assert_eq!((&made["created_by"], &made["changed_by"]), (&json!("Till"), &json!("Till")));
    let path = made["links"]["self"].as_str().unwrap();
    let changed = send(&app, &rigger, "PUT", path, "\"v1\"", &quote).await;
    assert_eq!((&changed["created_by"], &changed["changed_by"]), (&json!("Till"), &json!("Sam's tablet")));
    assert_eq!(app.get("/v1/quotes").await.json()["rows"][0]["quote"]["changed_by"], "Sam's tablet");

    send(&app, &stock, "POST", "/v1/items", "", &item("NEW-1")).await;
    assert_eq!(row("/v1/items", "item", "sku", "NEW-1").await["changed_by"], "Stockroom");
    send(&app, &office, "PUT", "/v1/items/NEW-1", "\"v1\"", &item("NEW-1")).await;
    assert_eq!(row("/v1/items", "item", "sku", "NEW-1").await["changed_by"], "Office");
    send(&app, &stock, "DELETE", "/v1/items/NEW-1", "\"v2\"", &Value::Null).await;
    assert_eq!(row("/v1/items", "item", "sku", "NEW-1").await["changed_by"], "Stockroom");
    let connection = Connection::connect(&database.url).await.unwrap();
    let history = "SELECT changed_by FROM item_history WHERE sku = 'NEW-1' ORDER BY version";
    let history = Statement::from_string(connection.get_database_backend(), history);
    let history = connection.query_all_raw(history).await.unwrap();
    let history: Vec<String> = history.iter().map(|row| row.try_get("", "changed_by").unwrap()).collect();
    assert_eq!(history, ["Stockroom", "Office", "Stockroom"]);
    connection.close().await.unwrap();

    let sku = app.get("/v1/items?limit=1").await.json()["rows"][0].clone();
    assert_eq!(sku["changed_by"], "command line", "the demo shop came in without a key");
    let csv = include_str!("../../../api/examples/items.csv");
    let headers = [("authorization", stock.as_str()), ("content-type", "text/csv")];
    let import = app.send("POST", "/v1/imports", &headers, csv).await;
    assert_eq!(import.json()["created_by"], "Stockroom", "{}", import.text);
    assert_eq!(app.get(import.header("location")).await.json()["created_by"], "Stockroom");
    let first = csv.lines().nth(1).unwrap().split(',').next().unwrap();
    assert_eq!(row("/v1/items", "item", "sku", first).await["changed_by"], "Stockroom");

    send(&app, &office, "POST", "/v1/labour-operations", "", &operation("polish")).await;
    let polish = row("/v1/labour-operations", "labour_operation", "code", "polish").await;
    assert_eq!(polish["changed_by"], "Office");
    send(&app, &office, "POST", "/v1/packages", "", &json!({"code": "SET", "description": "A set"})).await;
    assert_eq!(row("/v1/packages", "package", "code", "SET").await["changed_by"], "Office");
    let home = key(&app, "Home", Role::Owner).await;
    send(&app, &home, "PUT", "/v1/packages/SET", "\"v1\"", &json!({"code": "SET", "description": "The set"})).await;
    assert_eq!(row("/v1/packages", "package", "code", "SET").await["changed_by"], "Home");

    let mine = send(&app, &home, "POST", "/v1/keys", "", &json!({"name": "Cloud", "role": "reader"})).await;
    assert_eq!(mine["created_by"], "Home");
    let path = format!("/v1/keys/{}", mine["id"].as_str().unwrap());
    let revoked = send(&app, &office, "DELETE", &path, "\"v1\"", &Value::Null).await;
    assert_eq!((&revoked["created_by"], &revoked["changed_by"]), (&json!("Home"), &json!("Office")));
    app.stop().await;
}
