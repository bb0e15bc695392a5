//! A quote's life over HTTP, with the demo shop.

use serde_json::{Value, json};

use super::app::TestApp;
use crate::fixture::{Database, each_database};

fn example() -> Value {
    serde_json::from_str(include_str!("../../../api/examples/bay-boat.json")).unwrap()
}

#[tokio::test]
async fn a_draft_is_made_read_replaced_and_deleted() {
    each_database(async |database| life_of_a_draft(&database).await).await;
}

async fn life_of_a_draft(database: &Database) {
    let app = TestApp::spawn_on(database).await.stocked().await;
    let created = app.post("/v1/quotes", &example()).await;
    assert_eq!(created.status, 201, "{}", created.text);
    let path = created.header("location").to_owned();
    let quote = created.json();
    assert_eq!(quote["state"], "draft");
    assert_eq!(quote["links"]["self"], path);

    let document = app.get(quote["links"]["document"].as_str().unwrap()).await;
    assert_eq!(document.header("etag"), format!("\"{}\"", quote["document_hash"].as_str().unwrap()));
    let totals = &document.json()["totals"];
    assert_eq!((&totals["net"], &totals["tax"]), (&quote["net"], &quote["tax"]));
    let lines = document.json()["lines"].as_array().unwrap().len();
    assert!(lines > 10, "{lines} lines");
    for secret in ["unit_cost", "supplier", "margin", "purchases"] {
        assert!(!document.text.contains(&format!("\"{secret}\"")), "the document holds {secret}");
    }
    let costing = app.get(quote["links"]["costing"].as_str().unwrap()).await;
    assert!(costing.json()["purchases"].as_array().is_some_and(|purchases| !purchases.is_empty()));
    let again = app.send("GET", &format!("{path}/document"), &[("if-none-match", document.header("etag"))], "").await;
    assert_eq!(again.status, 304);
    app.send("GET", &format!("{path}/document"), &[("accept", "application/pdf")], "")
        .await
        .problem(406, "not-acceptable");

    let request = app.get(quote["links"]["request"].as_str().unwrap()).await;
    let mut changed = request.json();
    changed["customer"] = json!("R. Calder");
    app.send("PUT", &path, &[("content-type", "application/json")], changed.to_string())
        .await
        .problem(428, "version-needed");
    let replaced = app.put(&path, request.header("etag"), &changed).await;
    assert_eq!((replaced.status.as_u16(), replaced.header("etag")), (200, "\"v2\""), "{}", replaced.text);
    assert_eq!(app.get("/v1/quotes?text=calder").await.json()["rows"][0]["quote"]["id"], quote["id"]);
    app.delete(&path, "\"v1\"").await.problem(412, "stale");
    assert_eq!(app.delete(&path, "\"v2\"").await.status, 204);
    app.get(&path).await.problem(404, "not-found");
    app.stop().await;
}

#[tokio::test]
async fn the_conductor_calculator_answers_or_says_what_would_do() {
    let app = TestApp::spawn().await;
    let path = "/v1/calculators/conductor";
    let question: Value = serde_json::from_str(include_str!("../../../api/examples/conductor.json")).unwrap();
    let answer = app.post(path, &question).await;
    assert_eq!(answer.status, 200, "{}", answer.text);
    assert_eq!((&answer.json()["gauge"], &answer.json()["limited_by"]), (&json!("12 AWG"), &json!("voltage_drop")));
    let mut much = question.clone();
    much["current_a"] = json!(900);
    let problem = app.post(path, &much).await.problem(422, "no-conductor");
    assert!(problem["would_do"]["in_parallel"]["conductors"].as_u64().unwrap() > 1, "{problem}");
    let mut wrong = question;
    wrong["insulation_c"] = json!(85);
    wrong["ampere"] = json!(1);
    assert_eq!(app.post(path, &wrong).await.places(), ["/ampere", "/insulation_c"]);
}
