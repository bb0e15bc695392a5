//! The shelf over HTTP: its forms, its roles, and the lists of a quote as JSON, CSV and a page.

use rigbill::service::access::Role;
use serde_json::{Value, json};

use super::app::{Answer, TestApp};
use super::life::with_cleats;
use crate::fixture::{Database, each_database};

/// An item whose text and supplier a spreadsheet would take for formulas, and a browser for markup.
fn cleat() -> Value {
    json!({
        "sku": "CLEAT", "description": "=HYPERLINK(\"x\") <b>Cleat</b>", "category": "hardware",
        "attributes": {"kind": "hardware"}, "selling_unit": "each", "buying_unit": "pack", "buying_quantity": "4",
        "supplier": "@North, Quay", "lead_time_days": 6,
        "prices": [{"kind": "cost", "valid_from": "2026-01-01", "minimum_quantity": "1", "amount": "40"}],
    })
}

pub async fn shop_with_cleats(app: &TestApp, on_shelf: &str) {
    assert_eq!(app.post("/v1/items", &cleat()).await.status, 201);
    let count = json!({"sku": "CLEAT", "place": "Store", "bin": "+A", "quantity": on_shelf});
    let made = app.post("/v1/stock", &count).await;
    assert_eq!(made.status, 201, "{}", made.text);
}

async fn moved(app: &TestApp, path: &str, step: &str, seen: &str) {
    let headers = [("content-type", "application/json"), ("if-match", seen)];
    let answer = app.send("POST", &format!("{path}/{step}"), &headers, "{}").await;
    assert_eq!(answer.status, 200, "{}", answer.text);
}

/// An accepted quote of so many cleats.
pub async fn accepted(app: &TestApp, name: &str, cleats: u32) -> String {
    let made = app.post("/v1/quotes", &with_cleats(name, cleats)).await;
    let path = made.header("location").to_owned();
    moved(app, &path, "issue", "\"v1\"").await;
    moved(app, &path, "accept", "\"v2\"").await;
    path
}

#[tokio::test]
async fn the_shelf_is_kept_by_owner_and_inventory_and_read_by_all() {
    let app = TestApp::spawn().await;
    shop_with_cleats(&app, "3").await;
    let row = app.get("/v1/stock").await.json()["rows"][0].clone();
    let address = row["href"].as_str().unwrap().to_owned();
    for role in Role::ALL {
        let bearer = format!("Bearer {}", app.new_key(role).await);
        let headers = [("authorization", bearer.as_str()), ("content-type", "application/json")];
        let keeps = matches!(role, Role::Owner | Role::Inventory);
        assert_eq!(app.send("GET", &address, &headers, "").await.status, 200, "{role}");
        let adjusted = app.send("POST", &format!("{address}/adjustments"), &headers, r#"{"delta": "+1"}"#).await;
        assert_eq!(adjusted.status.as_u16(), if keeps { 200 } else { 403 }, "{role}: {}", adjusted.text);
    }
    assert_eq!(app.get(&address).await.json()["quantity"], "5");
    let refused = app.post(&format!("{address}/adjustments"), &json!({"delta": "-6"})).await;
    let problem = refused.problem(409, "not-allowed");
    assert!(problem["detail"].as_str().unwrap().contains("5 each of CLEAT lie at Store, +A"), "{problem}");
    let keyed = [("content-type", "application/json"), ("idempotency-key", "monday")];
    let adjustments = format!("{address}/adjustments");
    let first = app.send("POST", &adjustments, &keyed, r#"{"delta": "-2"}"#).await;
    let again = app.send("POST", &adjustments, &keyed, r#"{"delta": "-2"}"#).await;
    assert_eq!((&again.text, again.header("etag")), (&first.text, first.header("etag")));
    assert_eq!(app.get(&address).await.json()["quantity"], "3", "counted once");
    app.send("POST", &adjustments, &keyed, r#"{"delta": "-1"}"#).await.problem(422, "key-reused");
    for bad in [r#"{"delta": 2}"#, r#"{"delta": "two"}"#, r#"{"delta": "0"}"#, r#"{"delta": "1", "why": "x"}"#, "{}"] {
        let answer = app.send("POST", &adjustments, &[("content-type", "application/json")], bad).await;
        assert!(answer.places().iter().all(|place| place.starts_with('/')), "{bad}");
    }
}

#[tokio::test]
async fn reservations_are_listed_in_pages_and_picked_once() {
    each_database(async |database| picked(&database).await).await;
}

async fn picked(database: &Database) {
    let app = TestApp::spawn_on(database).await;
    shop_with_cleats(&app, "5").await;
    let quotes = [accepted(&app, "Avocet", 2).await, accepted(&app, "Ruff", 2).await, accepted(&app, "Knot", 2).await];
    let mut met = Vec::new();
    let mut next = Some("/v1/reservations?limit=1".to_owned());
    while let Some(address) = next {
        let page = app.get(&address).await;
        assert_eq!(page.status, 200, "{}", page.text);
        let page = page.json();
        met.extend(page["rows"].as_array().unwrap().iter().map(|row| row["quantity"].as_str().unwrap().to_owned()));
        next = page["next"].as_str().map(|cursor| format!("/v1/reservations?limit=1&cursor={cursor}"));
    }
    assert_eq!(met, ["1", "2", "2"], "newest first, each once");
    app.get("/v1/reservations?cursor=x").await.problem(400, "bad-cursor");
    app.get("/v1/reservations?quote=x").await.problem(400, "bad-query");
    let bearer = format!("Bearer {}", app.new_key(Role::Rigger).await);
    let headers =
        [("authorization", bearer.as_str()), ("content-type", "application/json"), ("idempotency-key", "van")];
    let pick = async || app.send("POST", &format!("{}/pick", quotes[0]), &headers, "{}").await;
    let answers = futures_util::future::join_all((0..6).map(|_| pick())).await;
    let done = answers.iter().filter(|answer| answer.header("idempotent-replay").is_empty()).count();
    assert!(answers.iter().all(|answer| answer.status == 200 && answer.text == answers[0].text), "{}", answers[0].text);
    assert_eq!(done, 1);
    assert_eq!(app.get("/v1/stock").await.json()["rows"][0]["count"]["quantity"], "3");
    let open = app.get("/v1/reservations?picked=false").await.json();
    assert_eq!(open["rows"].as_array().unwrap().len(), 2, "{open}");
    app.post(&format!("{}/pick", quotes[0]), &json!({})).await.problem(409, "not-allowed");
    let events = app.get("/v1/events").await.json();
    let last = events["events"].as_array().unwrap().last().unwrap().clone();
    assert_eq!((&last["type"], &last["source"]), (&json!("stock.picked"), &json!("/v1/reservations")));
    assert_eq!(last["data"]["lines"][0]["bin"], "+A");
    app.stop().await;
}

/// Rows of a CSV text by their header.
fn rows(answer: &Answer) -> Vec<std::collections::BTreeMap<String, String>> {
    assert!(answer.text.ends_with("\r\n"), "RFC 4180, section 2");
    csv::Reader::from_reader(answer.text.as_bytes()).deserialize().map(Result::unwrap).collect()
}

#[tokio::test]
async fn the_lists_are_given_as_json_csv_and_a_page_and_none_of_them_runs_anything() {
    let app = TestApp::spawn().await;
    shop_with_cleats(&app, "3").await;
    let quote = accepted(&app, "<script>Tern</script>", 8).await;
    let list = format!("{quote}/purchase-list?ordered_on=2026-12-01");
    let json = app.get(&list).await;
    let said = json.json();
    assert_eq!(said["quote"]["number"], "2026-0001", "{}", json.text);
    let [order] = said["list"]["suppliers"].as_array().unwrap().as_slice() else { panic!("{said}") };
    assert_eq!(
        (&order["cost"], &order["here_on"]),
        (&json!("80.00"), &json!("2026-12-07")),
        "five more, in packs of four"
    );
    assert_eq!(said["list"]["from_shelf"][0]["taken"], "3");
    assert_eq!(said["list"]["cost"], "80.00");
    let known = app.send("GET", &list, &[("if-none-match", json.header("etag"))], "").await;
    assert_eq!(known.status, 304);

    let csv = app.send("GET", &list, &[("accept", "text/csv")], "").await;
    assert!(csv.header("content-type").starts_with("text/csv"), "{:?}", csv.headers);
    assert!(csv.header("content-disposition").contains("purchase-list-2026-0001.csv"), "{:?}", csv.headers);
    let table = rows(&csv);
    assert_eq!(table.len(), 2);
    assert_eq!((&*table[0]["action"], &*table[0]["bin"], &*table[0]["quantity"]), ("take", "'+A", "3"));
    assert_eq!(
        (&*table[1]["supplier"], &*table[1]["quantity"], &*table[1]["in_multiples_of"]),
        ("'@North, Quay", "2", "4")
    );
    assert!(table[1]["description"].starts_with("'=HYPERLINK"), "{:?}", table[1]);

    let page = app.send("GET", &list, &[("accept", "text/html,*/*;q=0.5")], "").await;
    assert!(page.header("content-type").starts_with("text/html"), "{:?}", page.headers);
    assert!(page.header("content-security-policy").contains("default-src 'none'"), "{:?}", page.headers);
    assert!(!page.text.contains("<script>") && !page.text.contains("<b>"), "{}", page.text);
    assert!(page.text.contains("80.00") && page.text.contains("2026-12-07") && page.text.contains("&#60;script"));

    let picks = app.get(&format!("{quote}/pick-list?form=csv")).await;
    let table = rows(&picks);
    assert_eq!((&*table[0]["action"], &*table[0]["quantity"], &*table[1]["action"]), ("take", "3", "await"));
    let page = app.get(&format!("{quote}/pick-list?form=html")).await;
    for hidden in ["40", "80.00", "North"] {
        assert!(!page.text.contains(hidden) && !picks.text.contains(hidden), "{hidden} is of cost");
    }
    app.send("GET", &list, &[("accept", "application/pdf")], "").await.problem(406, "not-acceptable");
    app.get(&format!("{quote}/purchase-list?form=pdf")).await.problem(400, "bad-query");
    app.get(&format!("{quote}/purchase-list?ordered_on=2026-02-30")).await.problem(400, "bad-query");
    app.get("/v1/quotes/00000000-0000-7000-8000-000000000001/pick-list").await.problem(404, "not-found");
}

#[tokio::test]
async fn the_demo_shops_boats_take_from_its_shelf_and_their_price_stays() {
    let app = TestApp::with_demo_shop().await;
    let example: Value = serde_json::from_str(include_str!("../../../api/examples/bay-boat.json")).unwrap();
    let made = app.post("/v1/quotes", &example).await;
    assert_eq!(made.status, 201, "{}", made.text);
    let path = made.header("location").to_owned();
    let before = app.get(&format!("{path}/costing")).await.json();
    let list = app.get(&format!("{path}/purchase-list")).await.json();
    let taken = list["list"]["from_shelf"].as_array().unwrap();
    assert!(taken.len() >= 4, "{taken:?}");
    let cost = |text: &Value| text.as_str().unwrap().parse::<rust_decimal::Decimal>().unwrap();
    assert!(cost(&list["list"]["cost"]) < cost(&before["purchase_cost"]), "what is there is not bought");
    assert_eq!(list["list"]["gaps"], json!([]));
    let picks = app.get(&format!("{path}/pick-list")).await.json();
    let bins = picks["list"]["bins"].as_array().unwrap();
    assert!(
        bins.iter().flat_map(|bin| bin["lines"].as_array().unwrap()).any(|line| line["offcut"].is_string()),
        "{bins:?}"
    );
    let placed = bins.iter().map(|bin| (bin["place"].as_str(), bin["bin"].as_str())).collect::<Vec<_>>();
    assert!(placed.is_sorted(), "{placed:?}");
}
