//! Events over HTTP: CloudEvents, read from a position on.

use rigbill::service::access::Role;
use serde_json::{Value, json};

use super::app::TestApp;
use super::life::{cleats, draft, step};
use crate::fixture::{Database, each_database};

#[tokio::test]
async fn what_happened_is_read_as_cloud_events_from_a_position_on() {
    each_database(async |database| events(&database).await).await;
}

async fn events(database: &Database) {
    let app = TestApp::spawn_on(database).await;
    assert_eq!(app.get("/v1/events").await.json(), json!({"events": [], "after": 0}));
    cleats(&app).await;
    let path = draft(&app, "Knot").await;
    assert_eq!(step(&app, &path, "issue", "\"v1\"", &[], &json!({})).await.status, 200);
    assert_eq!(step(&app, &path, "accept", "\"v2\"", &[], &json!({"remark": "By telephone"})).await.status, 200);
    let settings = app.get("/v1/settings").await;
    assert_eq!(app.put("/v1/settings", settings.header("etag"), &settings.json()).await.status, 200);
    let csv =
        "sku,description,category,kind,selling_unit,buying_unit,buying_quantity\nA,B,hardware,hardware,each,each,1\n";
    assert_eq!(app.send("POST", "/v1/imports", &[("content-type", "text/csv")], csv).await.status, 201);

    let bearer = format!("Bearer {}", app.new_key(Role::Inventory).await);
    let read = async |query: &str| {
        let answer = app.send("GET", &format!("/v1/events{query}"), &[("authorization", &bearer)], "").await;
        assert_eq!(answer.status, 200, "{}", answer.text);
        answer.json()
    };
    let whole = read("").await;
    let told = whole["events"].as_array().unwrap();
    let told: Vec<(&str, &str)> =
        told.iter().map(|one| (one["type"].as_str().unwrap(), one["source"].as_str().unwrap())).collect();
    assert_eq!(
        told,
        [
            ("quote.issued", "/v1/quotes"),
            ("quote.accepted", "/v1/quotes"),
            ("settings.changed", "/v1/settings"),
            ("items.imported", "/v1/imports"),
        ]
    );
    assert_eq!(whole["after"], 4);
    for one in whole["events"].as_array().unwrap() {
        // CloudEvents 1.0: what an event must have ("Required Attributes"), and the JSON event format, section 3.
        assert_eq!(one["specversion"], "1.0");
        for name in ["id", "source", "type", "subject", "sequence"] {
            assert!(one[name].as_str().is_some_and(|text| !text.is_empty()), "{one}");
        }
        let lower_case = |name: &String| name.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit());
        assert!(one.as_object().unwrap().keys().all(lower_case), "{one}");
        assert!(chrono::DateTime::parse_from_rfc3339(one["time"].as_str().unwrap()).is_ok(), "{one}");
        assert_eq!(one["datacontenttype"], "application/json");
        assert!(one["data"].is_object());
    }
    let id = path.rsplit('/').next().unwrap();
    assert_eq!(whole["events"][1]["subject"], id);
    assert_eq!(whole["events"][1]["data"]["demand"][0]["unit_code"], "XPK");
    let mut from = 0;
    let mut one_by_one: Vec<Value> = Vec::new();
    loop {
        let page = read(&format!("?after={from}&limit=1")).await;
        let events = page["events"].as_array().unwrap().clone();
        if events.is_empty() {
            assert_eq!(page["after"], from);
            break;
        }
        one_by_one.extend(events);
        from = page["after"].as_i64().unwrap();
    }
    assert_eq!(json!(one_by_one), whole["events"]);
    app.get("/v1/events?after=-1").await.problem(400, "bad-query");
    app.get("/v1/events?limit=501").await.problem(400, "bad-query");
    for role in [Role::FrontDesk, Role::Rigger, Role::Reader] {
        let bearer = format!("Bearer {}", app.new_key(role).await);
        app.send("GET", "/v1/events", &[("authorization", &bearer)], "").await.problem(403, "not-your-role");
    }
    app.stop().await;
}
