//! What roles may not see is not there: every answer that they can get from the demo shop is looked through for cost,
//! margin and suppliers, by name and by value.

use std::collections::{BTreeMap, BTreeSet};

use rigbill::service::access::Role;
use serde_json::{Value, json};

use super::app::{Answer, TestApp};
use super::life::step;
use super::links::Customer;

const ITEMS: [&str; 2] =
    [include_str!("../../../src/cli/demo/shop/items.csv"), include_str!("../../../src/cli/demo/shop/helm.csv")];
/// Put behind every cost, so that a cost is known wherever it stands: no price has as many places.
const MARK: &str = "0731";

/// Whether a marked cost stands in a JSON text: a decimal string with two places and the mark behind them.
fn shows_cost(text: &str) -> bool {
    let bytes = text.as_bytes();
    text.match_indices(&format!("{MARK}\""))
        .any(|(at, _)| at >= 3 && bytes[at - 3] == b'.' && bytes[at - 2..at].iter().all(u8::is_ascii_digit))
}

/// Names that say what a thing costs, what it earns, who supplies it or how it is bought.
pub const HIDDEN: [&str; 15] = [
    "cost",
    "unit_cost",
    "purchase_cost",
    "margin",
    "margin_percent",
    "mark_up_percent",
    "mark_up",
    "supplier",
    "purchases",
    "prices",
    "buying_unit",
    "buying_quantity",
    "costing",
    "costing_hash",
    "default_mark_up_percent",
];

struct Shop {
    app: TestApp,
    suppliers: BTreeSet<String>,
    /// What stands for the parameter of a path, by the path up to it.
    known: BTreeMap<&'static str, Vec<String>>,
    examples: Vec<Value>,
}

/// The demo shop with marked costs, quotes of all its examples, and everything's names.
async fn shop() -> Shop {
    let app = TestApp::with_demo_shop().await;
    let mut suppliers = BTreeSet::new();
    for items in ITEMS {
        let mut reader = csv::Reader::from_reader(items.as_bytes());
        let header = reader.headers().unwrap().clone();
        let column = |name: &str| header.iter().position(|met| met == name).unwrap();
        let (cost, supplier) = (column("cost"), column("supplier"));
        let mut marked = csv::Writer::from_writer(Vec::new());
        marked.write_record(&header).unwrap();
        for row in reader.records().map(Result::unwrap) {
            suppliers.extend(Some(row[supplier].to_owned()).filter(|name| !name.is_empty()));
            let mark = |(place, cell): (usize, &str)| match cell.split_once('.') {
                Some((_, places)) if place == cost && places.len() == 2 => format!("{cell}{MARK}"),
                _ => cell.to_owned(),
            };
            marked.write_record(row.iter().enumerate().map(mark)).unwrap();
        }
        let csv = marked.into_inner().unwrap();
        let taken = app.send("POST", "/v1/imports", &[("content-type", "text/csv")], csv).await;
        assert_eq!(taken.status, 201, "{}", taken.text);
    }
    assert!(suppliers.len() > 2, "{suppliers:?}");

    let examples: Vec<Value> = [
        include_str!("../../../api/examples/bay-boat.json"),
        include_str!("../../../api/examples/trolling-36v.json"),
        include_str!("../../../api/examples/re-rig-yellow.json"),
        include_str!("../../../api/examples/gap.json"),
        // The last: it is what the quotes are left with.
        include_str!("../../../api/examples/options.json"),
    ]
    .map(|text| serde_json::from_str(text).unwrap())
    .into();
    let mut quotes = Vec::new();
    for example in &examples {
        let made = app.post("/v1/quotes", example).await;
        assert_eq!(made.status, 201, "{}", made.text);
        quotes.push(made.json()["id"].as_str().unwrap().to_owned());
    }
    let mut known = BTreeMap::from([("/v1/quotes/", quotes), ("/v1/layouts/", vec!["center_console".to_owned()])]);
    for (list, field, name) in [
        ("/v1/items/", "item", "sku"),
        ("/v1/packages/", "package", "code"),
        ("/v1/labour-operations/", "labour_operation", "code"),
        ("/v1/stock/", "count", "id"),
        ("/v1/offcuts/", "offcut", "id"),
    ] {
        let rows = app.get(&format!("{}?limit=200", list.trim_end_matches('/'))).await.json();
        let names = rows["rows"].as_array().unwrap().iter().map(|row| row[field][name].as_str().unwrap().to_owned());
        known.insert(list, names.step_by(3).collect());
    }
    Shop { app, suppliers, known, examples }
}

impl Shop {
    /// Every address of a path of the description.
    fn addresses(&self, path: &str) -> Vec<String> {
        let Some((before, rest)) = path.split_once('{') else { return vec![path.to_owned()] };
        let (_, after) = rest.split_once('}').unwrap();
        let names = self.known.get(before).unwrap_or_else(|| {
            panic!("{path} is open to a role without cost: say in this test what can stand for its parameter")
        });
        // A layout is that of a hull of some size.
        let query = if before == "/v1/layouts/" { "?hull_length=22&beam=8.5" } else { "" };
        names.iter().map(|name| format!("{before}{}{after}{query}", name.replace('/', "%2F"))).collect()
    }

    fn hides(&self, role: Role, what: &str, answer: &Answer) {
        assert!(answer.status.is_success(), "{role} {what}: {}", answer.text);
        for hidden in HIDDEN {
            assert!(!answer.text.contains(&format!("\"{hidden}\":")), "{role} {what} shows {hidden}");
        }
        for supplier in &self.suppliers {
            assert!(!answer.text.contains(supplier), "{role} {what} shows {supplier}");
        }
        assert!(!shows_cost(&answer.text), "{role} {what} shows a cost");
    }
}

fn authorization(secret: &str) -> String {
    format!("Bearer {secret}")
}

#[tokio::test]
async fn no_answer_to_a_role_without_cost_holds_cost_margin_or_supplier() {
    let shop = shop().await;
    let description = shop.app.get("/openapi.json").await.json();
    for role in [Role::FrontDesk, Role::Rigger, Role::Reader] {
        let bearer = authorization(&shop.app.new_key(role).await);
        let headers = [("authorization", bearer.as_str()), ("content-type", "application/json")];
        let mut looked_through = 0;
        for (path, operations) in description["paths"].as_object().unwrap() {
            for (method, operation) in operations.as_object().unwrap() {
                let roles = operation["x-roles"].as_array();
                if !roles.is_some_and(|roles| roles.iter().any(|one| one == role.as_str())) {
                    continue;
                }
                let id = operation["operationId"].as_str().unwrap();
                let bodies: Vec<Value> = match id {
                    "create_quote" | "replace_quote" => shop.examples.clone(),
                    "take_off" => shop.examples.iter().map(|example| example["spec"].clone()).collect(),
                    "size_conductor" => {
                        vec![serde_json::from_str(include_str!("../../../api/examples/conductor.json")).unwrap()]
                    }
                    // It reckons with the prices that were sent, and reads nothing of the shop.
                    "plan_cuts" => continue,
                    "lay_out_dash" => {
                        vec![serde_json::from_str(include_str!("../../../api/examples/dash.json")).unwrap()]
                    }
                    // A drawing of what the document holds, which is looked through.
                    "draw_quote_dash" => continue,
                    "delete_quote" => continue,
                    // Answered in the same forms; `life` goes through a life with the key of a front desk.
                    "issue_quote" | "accept_quote" | "decline_quote" | "withdraw_quote" | "revise_quote" => continue,
                    // Answers of a few fields, written out in the description.
                    "make_quote_link" | "revoke_quote_link" => continue,
                    // What is answered to it are the rows of `list_reservations`.
                    "pick_stock" => continue,
                    _ => {
                        assert_eq!(method, "get", "{id}: say in this test what to send");
                        vec![Value::Null]
                    }
                };
                for address in shop.addresses(path) {
                    for body in &bodies {
                        let body = if body.is_null() { String::new() } else { body.to_string() };
                        let answer = if id == "replace_quote" {
                            let seen = shop.app.get(&address).await;
                            let headers = [headers[0], headers[1], ("if-match", seen.header("etag"))];
                            shop.app.send("PUT", &address, &headers, body).await
                        } else {
                            shop.app.send(&method.to_uppercase(), &address, &headers, body).await
                        };
                        shop.hides(role, &format!("{method} {address}"), &answer);
                        looked_through += 1;
                    }
                }
            }
        }
        // What the quote would be with options in it is there for whoever reads the quote.
        let quote = &shop.known["/v1/quotes/"][4];
        for chosen in ["second-display", "music,deck-lights"] {
            let address = format!("/v1/quotes/{quote}/document?options={chosen}");
            let answer = shop.app.send("GET", &address, &headers[..1], "").await;
            shop.hides(role, &address, &answer);
            assert_eq!(answer.json()["chosen"].as_array().map(Vec::len), Some(chosen.split(',').count()));
            let costing = format!("/v1/quotes/{quote}/costing?options={chosen}");
            assert_eq!(shop.app.send("GET", &costing, &headers[..1], "").await.status, 403, "{role}");
        }
        assert!(looked_through > 80, "{role}: only {looked_through} answers");
        let mut page = Some("/v1/items?limit=200".to_owned());
        let mut rows = 0;
        while let Some(address) = page {
            let answer = shop.app.send("GET", &address, &headers, "").await;
            shop.hides(role, &address, &answer);
            rows += answer.json()["rows"].as_array().unwrap().len();
            page = answer.json()["next"].as_str().map(|next| format!("/v1/items?limit=200&cursor={next}"));
        }
        assert!(rows > 1_000, "{role}: {rows} items");
    }
}

#[tokio::test]
async fn a_customer_finds_nothing_of_it_and_none_of_the_shops_own_lists() {
    let shop = shop().await;
    let ids = shop.known["/v1/quotes/"].clone();
    let mut read = 0;
    for id in ids {
        let quote = format!("/v1/quotes/{id}");
        let issued = step(&shop.app, &quote, "issue", "\"v1\"", &[], &json!({})).await;
        // One of the examples has a gap.
        let Some(address) = issued.json()["customer_address"].as_str().map(str::to_owned) else { continue };
        let page = Customer::of(&shop.app, &address).open().await;
        assert_eq!(page.status, 200, "{}", page.text);
        let (_, page) = page.text.split_once("<body>").unwrap();
        let document = shop.app.get(&format!("{quote}/document")).await.json();
        let take_off = &document["take_off"];
        let mut unwanted: Vec<String> = shop.suppliers.iter().cloned().collect();
        unwanted.extend(["margin", "mark-up", "supplier", "waste", "hours", MARK].map(str::to_owned));
        for (list, name) in [("cut_list", "label"), ("lines", "sku"), ("feeders", "key")] {
            let holder = if list == "lines" { &document[list] } else { &take_off[list] };
            let names = holder.as_array().unwrap().iter().filter_map(|one| one[name].as_str());
            unwanted.extend(names.map(str::to_owned));
        }
        assert!(unwanted.len() > 50, "{unwanted:?}");
        for text in unwanted {
            assert!(!page.contains(&text), "{text} stands in the page of {quote}");
        }
        read += 1;
    }
    assert_eq!(read, 4);
}

#[tokio::test]
async fn the_owner_finds_all_of_it() {
    // Were it nowhere, the search above would be blind.
    let shop = shop().await;
    let items = shop.app.get("/v1/items?limit=200").await;
    let quote = format!("/v1/quotes/{}", shop.known["/v1/quotes/"][0]);
    let quote = shop.app.get(&quote).await;
    let costing = shop.app.get(quote.json()["links"]["costing"].as_str().unwrap()).await;
    let all = format!("{}{}{}", items.text, quote.text, costing.text);
    for hidden in HIDDEN.iter().filter(|name| !["mark_up", "default_mark_up_percent"].contains(name)) {
        assert!(all.contains(&format!("\"{hidden}\":")), "{hidden}");
    }
    assert!(shows_cost(&items.text) && shows_cost(&costing.text));
    assert!(shop.suppliers.iter().any(|name| items.text.contains(name.as_str())));
    assert!(shop.suppliers.iter().any(|name| costing.text.contains(name.as_str())));
    let inventory = authorization(&shop.app.new_key(Role::Inventory).await);
    let sku = &shop.known["/v1/items/"][0];
    let item = shop.app.send("GET", &format!("/v1/items/{sku}"), &[("authorization", &inventory)], "").await;
    assert!(item.text.contains("\"cost\"") && item.json()["buying_unit"].is_string(), "{}", item.text);
}

#[tokio::test]
async fn what_is_hidden_cannot_be_searched_for_either() {
    let shop = shop().await;
    let bearer = authorization(&shop.app.new_key(Role::FrontDesk).await);
    let ask = async |query: &str| shop.app.send("GET", query, &[("authorization", &bearer)], "").await;
    for supplier in &shop.suppliers {
        let found = ask(&format!("/v1/items?text={}", supplier.replace(' ', "%20"))).await;
        assert_eq!(found.json()["rows"], json!([]), "{supplier}");
    }
    assert_eq!(ask(&format!("/v1/items?text={MARK}")).await.json()["rows"], json!([]));
    for parameter in ["supplier", "cost", "cost_max", "sort"] {
        ask(&format!("/v1/items?{parameter}=x")).await.problem(400, "bad-query");
    }
}

#[tokio::test]
async fn the_forms_fit_what_the_description_says_of_them() {
    let shop = shop().await;
    let description = shop.app.get("/openapi.json").await.json();
    let forms = |path: &str, status: &str| {
        let schema = &description["paths"][path]["get"]["responses"][status]["content"]["application/json"]["schema"];
        let choice = schema["$ref"].as_str().and_then(|reference| description.pointer(&reference[1..]));
        let forms = choice.unwrap_or(schema)["anyOf"].as_array().unwrap_or_else(|| panic!("{path}: {schema}"));
        forms
            .iter()
            .map(|form| form["$ref"].as_str().unwrap().rsplit('/').next().unwrap().to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(forms("/v1/items", "200"), ["ItemPage", "ItemForSalePage"]);
    assert_eq!(forms("/v1/items/{sku}", "200"), ["Item", "ItemForSale"]);
    assert_eq!(forms("/v1/quotes", "200"), ["CostedQuotePage", "QuotePage"]);
    assert_eq!(forms("/v1/quotes/{id}", "200"), ["CostedQuote", "Quote"]);
    let front_desk = authorization(&shop.app.new_key(Role::FrontDesk).await);
    let owner = authorization(&shop.app.key);
    let item = format!("/v1/items/{}", shop.known["/v1/items/"][0]);
    let quote = format!("/v1/quotes/{}", shop.known["/v1/quotes/"][0]);
    for (address, names) in [
        ("/v1/items?limit=200".to_owned(), ["ItemPage", "ItemForSalePage"]),
        (item, ["Item", "ItemForSale"]),
        ("/v1/quotes".to_owned(), ["CostedQuotePage", "QuotePage"]),
        (quote, ["CostedQuote", "Quote"]),
    ] {
        for (name, bearer) in names.into_iter().zip([&owner, &front_desk]) {
            let answer = shop.app.send("GET", &address, &[("authorization", bearer)], "").await.json();
            let root = json!({
                "$ref": format!("#/components/schemas/{name}"),
                "components": {"schemas": description["components"]["schemas"]},
            });
            let faults: Vec<String> =
                jsonschema::validator_for(&root).unwrap().iter_errors(&answer).map(|fault| fault.to_string()).collect();
            assert!(faults.is_empty(), "{address} as {name}: {faults:?}");
        }
    }
}
