//! Options over HTTP: what a desk reads of them, and what it accepts.

use rigbill::service::access::Role;
use serde_json::json;

use super::app::{Answer, TestApp};
use super::leaks::HIDDEN;
use super::life::{cleats, step, with_cleats};
use crate::fixture::{Database, each_database};

#[tokio::test]
async fn a_desk_reads_every_choice_and_accepts_one_and_sees_no_cost() {
    each_database(async |database| read_and_accepted(&database).await).await;
}

async fn read_and_accepted(database: &Database) {
    let app = TestApp::spawn_on(database).await;
    cleats(&app).await;
    let bearer = format!("Bearer {}", app.new_key(Role::FrontDesk).await);
    let desk = [("authorization", bearer.as_str())];
    let hidden = |answer: &Answer| {
        assert!(answer.status.is_success(), "{}", answer.text);
        for name in HIDDEN {
            assert!(!answer.text.contains(&format!("\"{name}\":")), "{name} in {}", answer.text);
        }
    };
    let mut asked = with_cleats("Kittiwake", 1);
    asked["options"] = json!([
        {"id": "more", "title": "More cleats", "equipment": [{"sku": "CLEAT", "quantity": 2, "station": "helm"}]},
        {"id": "polish", "title": "Polish", "extra_lines": [
            {"description": "Polish", "quantity": "1", "unit": "h", "unit_price": "80", "tax_class": "service"}]},
    ]);
    let headers = [("content-type", "application/json"), desk[0]];
    let made = app.send("POST", "/v1/quotes", &headers, asked.to_string()).await;
    hidden(&made);
    let path = made.header("location").to_owned();
    assert!(made.json()["links"].get("accepted_document").is_none());
    let of_draft = app.send("GET", &format!("{path}/document?options=more"), &desk, "").await;
    hidden(&of_draft);
    assert_eq!(of_draft.json()["totals"]["net"], "43.50");

    let issued = step(&app, &path, "issue", "\"v1\"", &desk, &json!({})).await;
    hidden(&issued);
    let read = async |query: &str| app.send("GET", &format!("{path}/document{query}"), &desk, "").await;
    let both = read("?options=polish,more").await;
    hidden(&both);
    assert_eq!(both.json()["totals"]["net"], "123.50", "three cleats at 14.50 and an hour");
    assert_eq!(read("?options=more,polish").await.header("etag"), both.header("etag"), "in whatever order");
    let again = [desk[0], ("if-none-match", both.header("etag"))];
    assert_eq!(app.send("GET", &format!("{path}/document?options=more,polish"), &again, "").await.status, 304);
    let unknown = read("?options=more,paint").await.problem(400, "bad-query");
    assert_eq!(unknown["errors"][0]["parameter"], "options", "{unknown}");
    let nothing = read("?option=more").await;
    assert_eq!(nothing.status, 400, "{}", nothing.text);
    let costing = format!("{path}/costing?options=more");
    app.send("GET", &costing, &desk, "").await.problem(403, "not-your-role");
    assert_eq!(app.get(&costing).await.json()["purchases"][0]["buy"], 1, "three of a pack of four");

    let wrong = json!({"options": ["paint", "more", "more"]});
    let problem = step(&app, &path, "accept", "\"v2\"", &desk, &wrong).await.problem(422, "invalid");
    let places: Vec<&str> =
        problem["errors"].as_array().unwrap().iter().map(|e| e["pointer"].as_str().unwrap()).collect();
    assert_eq!(places, ["/options/0", "/options/2"]);
    let chosen = json!({"options": ["more", "polish"], "remark": "By telephone"});
    let once = [desk[0], ("idempotency-key", "yes-1")];
    let accepted = step(&app, &path, "accept", "\"v2\"", &once, &chosen).await;
    hidden(&accepted);
    let repeated = step(&app, &path, "accept", "\"v2\"", &once, &chosen).await;
    assert_eq!(repeated.text, accepted.text);
    let quote = accepted.json();
    assert_eq!((&quote["net"], &quote["accepted_options"]), (&json!("123.50"), &json!(["more", "polish"])));
    let link = quote["links"]["accepted_document"].as_str().unwrap();
    assert_eq!(app.send("GET", link, &desk, "").await.text, both.text);
    let owner = app.get(&path).await.json();
    assert_eq!(app.get(owner["links"]["accepted_costing"].as_str().unwrap()).await.status, 200);
    let moves = app.send("GET", &format!("{path}/moves"), &desk, "").await;
    hidden(&moves);
    assert_eq!(moves.json()["moves"][1]["options"], json!(["more", "polish"]));
    let without = read("").await.json();
    assert_eq!(without["totals"]["net"], "14.50", "what was issued stays");
    app.stop().await;
}

#[tokio::test]
async fn the_desk_is_told_the_names_of_the_price_levels_and_not_what_they_do() {
    let app = TestApp::with_demo_shop().await;
    for role in [Role::FrontDesk, Role::Rigger] {
        let bearer = format!("Bearer {}", app.new_key(role).await);
        let told = app.send("GET", "/v1/price-levels", &[("authorization", &bearer)], "").await;
        assert_eq!(
            told.json(),
            json!({"rows": [{"code": "trade", "name": "Trade", "owner_only": false},
                {"code": "staff", "name": "Staff", "owner_only": true}]})
        );
    }
    app.stop().await;
}
