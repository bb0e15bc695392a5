//! Catalogue items from CSV over HTTP: all or nothing, with a report that names line and column.

use serde_json::json;

use super::app::{Answer, TestApp};

const CSV: &str = include_str!("../../../api/examples/items.csv");

async fn import(app: &TestApp, query: &str, csv: impl Into<reqwest::Body>) -> Answer {
    app.send("POST", &format!("/v1/imports{query}"), &[("content-type", "text/csv; charset=utf-8")], csv).await
}

async fn skus(app: &TestApp) -> usize {
    app.get("/v1/items?limit=200").await.json()["rows"].as_array().unwrap().len()
}

/// A shop whose labour table has what the example's items name.
async fn shop() -> TestApp {
    let app = TestApp::spawn().await;
    let row = CSV.lines().count();
    assert!(row > 3, "the example has rows");
    for code in ["bilge_pump_and_float", "mount_display", "display_opening_fiberglass", "configure_electronics"] {
        assert_eq!(app.post("/v1/labour-operations", &super::versions::operation(code)).await.status, 201);
    }
    app
}

#[tokio::test]
async fn a_good_file_is_tried_and_then_taken_whole() {
    let app = shop().await;
    let rows = CSV.lines().count() - 1;
    let tried = import(&app, "?dry_run=true", CSV).await;
    assert_eq!((tried.status.as_u16(), &tried.json()["state"]), (201, &json!("dry_run")), "{}", tried.text);
    assert_eq!(skus(&app).await, 0);
    let taken = import(&app, "", CSV).await;
    assert_eq!((taken.status.as_u16(), &taken.json()["state"]), (201, &json!("applied")), "{}", taken.text);
    assert_eq!(skus(&app).await, rows);
    let read = app.get(taken.header("location")).await;
    assert_eq!(read.json(), taken.json());
}

#[tokio::test]
async fn one_bad_row_refuses_all_and_the_report_says_where() {
    let app = shop().await;
    let bad = CSV.replacen("20.50", "twenty", 1);
    let problem = import(&app, "", bad).await.problem(422, "import-refused");
    let fault = &problem["import"]["report"][0];
    assert_eq!((&fault["line"], &fault["column"]), (&json!(2), &json!("cost")), "{problem}");
    assert_eq!(problem["import"]["state"], "refused");
    assert_eq!(skus(&app).await, 0);
    let id = problem["import"]["id"].as_str().unwrap();
    assert_eq!(app.get(&format!("/v1/imports/{id}")).await.json(), problem["import"]);
}

#[tokio::test]
async fn another_encoding_is_refused_with_words_and_nothing_is_stored() {
    let app = shop().await;
    // "°" as Latin-1 writes it (ISO 8859-1): no UTF-8.
    let position = CSV.find('°').expect("the example has a degree sign");
    let mut bytes = CSV.as_bytes().to_vec();
    bytes.splice(position..position + '°'.len_utf8(), [0xb0]);
    let problem = import(&app, "", bytes).await.problem(422, "import-refused");
    assert!(problem["import"]["report"][0]["message"].as_str().unwrap().contains("UTF-8"), "{problem}");
    assert_eq!(skus(&app).await, 0);
}

#[tokio::test]
async fn a_file_beyond_the_limit_is_413_and_nothing_is_stored() {
    let app = TestApp::spawn_with(|config| config.import_limit_bytes = 2_000).await;
    import(&app, "", CSV.repeat(3)).await.problem(413, "too-large");
    assert_eq!(skus(&app).await, 0);
}
