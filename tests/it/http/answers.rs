//! The examples that the description shows: a conversation with the demo shop, recorded in `api/answers.json`.
//!
//! The test holds the conversation again and compares. After a change that is meant,
//! `RECORD_ANSWERS=1 cargo nextest run -E 'test(answers)'` writes the file anew; the program then has to be built again,
//! and `api/openapi.json` written again, since the description holds what is recorded.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use rigbill::http::openapi;
use rigbill::http::problem;
use rigbill::service::access::Role;
use serde_json::{Map, Value, json};

use super::app::{Answer, TestApp};

const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../api/answers.json");

/// Most entries that a shortened list keeps.
const KEPT: usize = 2;

/// What was said so far.
struct Recorder<'a> {
    app: &'a TestApp,
    operations: Map<String, Value>,
    problems: Map<String, Value>,
}

impl Recorder<'_> {
    /// Sends a request that the operation takes, and records it with its answer.
    async fn record(
        &mut self,
        operation: &str,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: Option<&Value>,
    ) -> Answer {
        let mut headers = headers.to_vec();
        let text = match body {
            Some(Value::String(text)) => {
                headers.push(("content-type", "text/csv"));
                text.clone()
            }
            Some(json) => {
                headers.push(("content-type", "application/json"));
                json.to_string()
            }
            None => String::new(),
        };
        let answer = self.app.send(method, path, &headers, text).await;
        assert!(answer.status.is_success() || answer.status == 304, "{operation}: {}", answer.text);
        let said = self.operations.entry(operation).or_insert_with(|| json!({"answers": {}}));
        if let Some(body) = body {
            said["request"] = body.clone();
        }
        let mut told = json!({});
        // The description is too long to be its own example; counters and a picture are no JSON.
        if answer.header("content-type").contains("json") && operation != "openapi" {
            let mut whole = answer.json();
            // Nobody's secret stands in a file, and each is another one.
            for name in ["address", "customer_address"] {
                if let Some(address) = whole.get_mut(name) {
                    let told = address.as_str().unwrap().rsplit_once('/').unwrap().0.to_owned();
                    *address = json!(format!("{told}/{}", "A".repeat(43)));
                }
            }
            if let Some(secret) = whole.get_mut("secret") {
                let text = secret.as_str().unwrap();
                *secret = match text.strip_prefix("whsec_") {
                    Some(_) => json!(format!("whsec_{}=", "A".repeat(43))),
                    None => json!(format!("{}{}", &text[..41], "A".repeat(43))),
                };
            }
            let short = shortened(&whole);
            told = if short == whole { json!({"body": whole}) } else { json!({"body": short, "shortened": true}) };
        }
        said["answers"][answer.status.as_str()] = told;
        answer
    }

    /// Records a problem.
    fn problem(&mut self, answer: &Answer, status: u16, slug: &str) {
        let mut problem = answer.problem(status, slug);
        if let Some(report) = problem.pointer_mut("/import/report") {
            *report = shortened(report);
        }
        self.problems.insert(slug.to_owned(), problem);
    }
}

/// Lists longer than a page of examples needs are cut; a short answer stays whole.
fn shortened(value: &Value) -> Value {
    if value.to_string().len() < 1_500 {
        return value.clone();
    }
    match value {
        Value::Array(entries) => entries.iter().take(KEPT).map(cut).collect(),
        Value::Object(fields) => fields.iter().map(|(name, field)| (name.clone(), cut(field))).collect(),
        other => other.clone(),
    }
}

fn cut(value: &Value) -> Value {
    match value {
        Value::Array(entries) => entries.iter().take(KEPT).map(cut).collect(),
        Value::Object(fields) => fields.iter().map(|(name, field)| (name.clone(), cut(field))).collect(),
        other => other.clone(),
    }
}

fn example(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

async fn conversation(app: &TestApp) -> Recorder<'_> {
    let mut recorder = Recorder { app, operations: Map::new(), problems: Map::new() };
    the_service(&mut recorder).await;
    the_shop(&mut recorder).await;
    jobs(&mut recorder).await;
    webhooks(&mut recorder).await;
    keys(&mut recorder).await;
    refusals(&mut recorder).await;
    recorder
}

async fn the_service(recorder: &mut Recorder<'_>) {
    for (operation, path) in
        [("livez", "/livez"), ("readyz", "/readyz"), ("metrics", "/metrics"), ("openapi", "/openapi.json")]
    {
        recorder.record(operation, "GET", path, &[], None).await;
    }
    let layout = "/v1/layouts/center_console?hull_length=22&beam=8.5";
    let plan = "/v1/layouts/center_console/plan?hull_length=22&beam=8.5&from=helm&to=aft_bilge";
    for (operation, path) in [("list_layouts", "/v1/layouts"), ("read_layout", layout), ("draw_layout_plan", plan)] {
        recorder.record(operation, "GET", path, &[], None).await;
    }
}

/// Items, packages, labour and settings.
async fn the_shop(recorder: &mut Recorder<'_>) {
    let item = json!({
        "sku": "HORN-SHELL", "description": "Horn, trumpet, stainless, 12 V", "category": "electronics",
        "attributes": {
            "kind": "device", "function": "horn",
            "leads": [
                {"role": "switched_positive", "current_a": 4.5, "size": "16 AWG", "length": {"value": 8, "unit": "in"}},
                {"role": "return", "size": "16 AWG", "length": {"value": 8, "unit": "in"}},
            ],
            "rated_voltage_v": 12, "nominal_voltages_v": [12],
        },
        "selling_unit": "each", "buying_unit": "each", "buying_quantity": "1",
        "prices": [{"kind": "list", "valid_from": "2026-01-01", "minimum_quantity": "1", "amount": "58.00"}],
    });
    let package = json!({
        "code": "DECK-LIGHTS", "description": "Two deck flood lights on the T-top",
        "equipment": [{"sku": "LIGHT-SPREADER", "quantity": 2, "station": "t_top"}],
    });
    let operation = json!({
        "code": "polish_rail", "description": "Polish a rail", "driver": "stated",
        "low_min": 10.0, "likely_min": 20.0, "high_min": 40.0,
    });
    for (single, list, name, thing) in [
        ("item", "/v1/items", "sku", item),
        ("package", "/v1/packages", "code", package),
        ("labour_operation", "/v1/labour-operations", "code", operation),
    ] {
        let key = [("idempotency-key", "\"monday-1\"")];
        let keyed: &[_] = if single == "package" { &key } else { &[] };
        let created = recorder.record(&format!("create_{single}"), "POST", list, keyed, Some(&thing)).await;
        let path = created.header("location").to_owned();
        let read = recorder.record(&format!("read_{single}"), "GET", &path, &[], None).await;
        let seen = read.header("etag").to_owned();
        recorder.record(&format!("read_{single}"), "GET", &path, &[("if-none-match", &seen)], None).await;
        recorder.record(&format!("list_{single}s"), "GET", &format!("{list}?limit=2"), &[], None).await;
        let mut changed = read.json();
        changed["description"] = json!(format!("{} (new)", thing["description"].as_str().unwrap()));
        let replaced =
            recorder.record(&format!("replace_{single}"), "PUT", &path, &[("if-match", &seen)], Some(&changed)).await;
        if single == "package" {
            let headers = [("content-type", "application/json"), key[0]];
            let other = recorder.app.send("POST", list, &headers, changed.to_string()).await;
            recorder.problem(&other, 422, "key-reused");
            let again = recorder.app.post(list, &thing).await;
            recorder.problem(&again, 409, "already-there");
            let unseen = recorder.app.send("DELETE", &path, &[], "").await;
            recorder.problem(&unseen, 428, "version-needed");
            recorder.problem(&recorder.app.delete(&path, &seen).await, 412, "stale");
            let bare = recorder.app.delete(&path, seen.trim_matches('"')).await;
            recorder.problem(&bare, 400, "bad-header");
        }
        let gone = if single == "item" { "retire_item".to_owned() } else { format!("delete_{single}") };
        recorder.record(&gone, "DELETE", &path, &[("if-match", replaced.header("etag"))], None).await;
        assert_eq!(thing[name].as_str().unwrap(), path.rsplit('/').next().unwrap());
    }
    the_shelf(recorder).await;
    let settings = recorder.record("read_settings", "GET", "/v1/settings", &[], None).await;
    let seen = settings.header("etag").to_owned();
    recorder.record("read_settings", "GET", "/v1/settings", &[("if-none-match", &seen)], None).await;
    recorder.record("replace_settings", "PUT", "/v1/settings", &[("if-match", &seen)], Some(&settings.json())).await;
    let levels = recorder.record("list_price_levels", "GET", "/v1/price-levels", &[], None).await;
    let seen = levels.header("etag").to_owned();
    recorder.record("list_price_levels", "GET", "/v1/price-levels", &[("if-none-match", &seen)], None).await;
    let csv = include_str!("../../../api/examples/items.csv");
    let imported = recorder.record("create_import", "POST", "/v1/imports", &[], Some(&json!(csv))).await;
    recorder.record("read_import", "GET", imported.header("location"), &[], None).await;
    let bad = csv.replacen("20.50", "twenty", 1);
    let refused = recorder.app.send("POST", "/v1/imports", &[("content-type", "text/csv")], bad).await;
    recorder.problem(&refused, 422, "import-refused");
}

/// What is on the shelf.
async fn the_shelf(recorder: &mut Recorder<'_>) {
    let count = json!({"sku": "FB5-25", "place": "Main store", "bin": "B-01", "quantity": "14"});
    let offcut = json!({
        "sku": "W14-BLK-100", "length": {"value": 21.5, "unit": "ft"}, "place": "Main store", "bin": "Rack 2",
    });
    for (single, list, thing, gone) in
        [("stock", "/v1/stock", count, "delete_stock"), ("offcut", "/v1/offcuts", offcut, "remove_offcut")]
    {
        let created = recorder.record(&format!("create_{single}"), "POST", list, &[], Some(&thing)).await;
        let path = created.header("location").to_owned();
        let read = recorder.record(&format!("read_{single}"), "GET", &path, &[], None).await;
        let seen = read.header("etag").to_owned();
        recorder.record(&format!("read_{single}"), "GET", &path, &[("if-none-match", &seen)], None).await;
        let lists = if single == "stock" { "list_stock" } else { "list_offcuts" };
        recorder.record(lists, "GET", &format!("{list}?limit=2"), &[], None).await;
        let mut moved = thing.clone();
        moved["bin"] = json!("B-03");
        let replaced =
            recorder.record(&format!("replace_{single}"), "PUT", &path, &[("if-match", &seen)], Some(&moved)).await;
        let mut seen = replaced.header("etag").to_owned();
        if single == "stock" {
            let left = json!({"delta": "-2"});
            let key = [("idempotency-key", "\"tuesday-7\"")];
            let adjusted =
                recorder.record("adjust_stock", "POST", &format!("{path}/adjustments"), &key, Some(&left)).await;
            seen = adjusted.header("etag").to_owned();
        }
        recorder.record(gone, "DELETE", &path, &[("if-match", &seen)], None).await;
    }
}

/// A take-off, a quote and a question.
async fn jobs(recorder: &mut Recorder<'_>) {
    let quote = example(include_str!("../../../api/examples/skiff.json"));
    recorder.record("take_off", "POST", "/v1/take-offs", &[], Some(&quote["spec"])).await;
    let created = recorder.record("create_quote", "POST", "/v1/quotes", &[], Some(&quote)).await;
    let path = created.header("location").to_owned();
    recorder.record("list_quotes", "GET", "/v1/quotes?text=sprat", &[], None).await;
    for (operation, below) in [
        ("read_quote", ""),
        ("read_quote_document", "/document"),
        ("read_quote_costing", "/costing"),
        ("read_quote_request", "/request"),
    ] {
        let address = format!("{path}{below}");
        let read = recorder.record(operation, "GET", &address, &[], None).await;
        recorder.record(operation, "GET", &address, &[("if-none-match", read.header("etag"))], None).await;
    }
    let document = format!("{path}/document");
    let picture = recorder.app.send("GET", &document, &[("accept", "image/png")], "").await;
    recorder.problem(&picture, 406, "not-acceptable");
    let seen = [("if-match", created.header("etag"))];
    let replaced = recorder.record("replace_quote", "PUT", &path, &seen, Some(&quote)).await;
    recorder.record("delete_quote", "DELETE", &path, &[("if-match", replaced.header("etag"))], None).await;
    let inches = |value: f64| json!({"value": value, "unit": "in"});
    let face = json!({"width": inches(30.0), "height": inches(14.0), "depth": inches(6.0)});
    let mut with_dash = quote.clone();
    with_dash["spec"]["dashes"] = json!([{"id": "helm_dash", "station": "helm", "face": face}]);
    let drawn = recorder.app.post("/v1/quotes", &with_dash).await;
    let address = format!("{}/dashes/helm_dash", drawn.header("location"));
    let read = recorder.record("draw_quote_dash", "GET", &address, &[], None).await;
    recorder.record("draw_quote_dash", "GET", &address, &[("if-none-match", read.header("etag"))], None).await;
    life(recorder, &quote).await;
    let question = example(include_str!("../../../api/examples/conductor.json"));
    recorder.record("size_conductor", "POST", "/v1/calculators/conductor", &[], Some(&question)).await;
    let mut much = question;
    much["current_a"] = json!(900);
    let refused = recorder.app.post("/v1/calculators/conductor", &much).await;
    recorder.problem(&refused, 422, "no-conductor");
    let question = example(include_str!("../../../api/examples/cut-plan.json"));
    recorder.record("plan_cuts", "POST", "/v1/calculators/cut-plan", &[], Some(&question)).await;
    let question = example(include_str!("../../../api/examples/dash.json"));
    recorder.record("lay_out_dash", "POST", "/v1/calculators/dash", &[], Some(&question)).await;
}

/// What becomes of quotes.
async fn life(recorder: &mut Recorder<'_>, quote: &Value) {
    let app = recorder.app;
    let draft = app.post("/v1/quotes", quote).await;
    let path = draft.header("location").to_owned();
    let settings = app.get("/v1/settings").await;
    let mut dearer = settings.json();
    dearer["labour_rate"] = json!("150");
    let changed = app.put("/v1/settings", settings.header("etag"), &dearer).await;
    let at = |step: &str| format!("{path}/{step}");
    let headers = [("content-type", "application/json"), ("if-match", draft.header("etag"))];
    recorder.problem(&app.send("POST", &at("issue"), &headers, "{}").await, 409, "moved");
    app.put("/v1/settings", changed.header("etag"), &settings.json()).await;

    let remark = json!({"remark": "Handed over at the counter"});
    let seen = [("if-match", draft.header("etag")), ("idempotency-key", "\"sprat-out\"")];
    let issued = recorder.record("issue_quote", "POST", &at("issue"), &seen, Some(&remark)).await;
    let read = recorder.record("read_quote_link", "GET", &at("link"), &[], None).await;
    recorder.record("read_quote_link", "GET", &at("link"), &[("if-none-match", read.header("etag"))], None).await;
    let seen = [("if-match", issued.header("etag")), ("idempotency-key", "\"sprat-link-2\"")];
    let made = recorder.record("make_quote_link", "POST", &at("link"), &seen, Some(&json!({}))).await;
    let seen = [("if-match", made.header("etag"))];
    let issued = recorder.record("revoke_quote_link", "DELETE", &at("link"), &seen, None).await;
    let mut larger = quote.clone();
    larger["spec"]["equipment"][1]["quantity"] = json!(2);
    larger["options"] = json!([{"id": "alarm", "title": "High-water alarm", "description": "Float in the bilge, buzzer at the helm",
        "equipment": [{"id": "alarm", "sku": "ALARM-WATER", "quantity": 1, "station": "helm"}]}]);
    let seen = [("if-match", issued.header("etag"))];
    let revision = recorder.record("revise_quote", "POST", &at("revisions"), &seen, Some(&larger)).await;
    let second = revision.header("location").to_owned();
    let changes = format!("{second}/changes");
    let read = recorder.record("read_quote_changes", "GET", &changes, &[], None).await;
    recorder.record("read_quote_changes", "GET", &changes, &[("if-none-match", read.header("etag"))], None).await;
    let headers = [("content-type", "application/json"), ("if-match", revision.header("etag"))];
    let issued = app.send("POST", &format!("{second}/issue"), &headers, "{}").await;
    let read = recorder.record("list_quote_moves", "GET", &at("moves"), &[], None).await;
    recorder.record("list_quote_moves", "GET", &at("moves"), &[("if-none-match", read.header("etag"))], None).await;
    let seen = [("if-match", issued.header("etag"))];
    let remark = json!({"remark": "By telephone", "options": ["alarm"]});
    recorder.record("accept_quote", "POST", &format!("{second}/accept"), &seen, Some(&remark)).await;
    for (operation, part) in [("read_purchase_list", "purchase-list"), ("read_pick_list", "pick-list")] {
        let address = format!("{second}/{part}");
        let read = recorder.record(operation, "GET", &address, &[], None).await;
        recorder.record(operation, "GET", &address, &[("if-none-match", read.header("etag"))], None).await;
    }
    let reserve = format!("{second}/reservations");
    recorder.record("reserve_stock", "POST", &reserve, &[], Some(&json!({"release": false}))).await;
    recorder.record("list_reservations", "GET", "/v1/reservations?limit=2", &[], None).await;
    recorder.record("pick_stock", "POST", &format!("{second}/pick"), &[], Some(&json!({}))).await;
    for (operation, step, told) in
        [("decline_quote", "decline", "Has found a used boat"), ("withdraw_quote", "withdraw", "Wrong hull")]
    {
        let draft = app.post("/v1/quotes", quote).await;
        let path = draft.header("location").to_owned();
        let headers = [("content-type", "application/json"), ("if-match", draft.header("etag"))];
        let issued = app.send("POST", &format!("{path}/issue"), &headers, "{}").await;
        let seen = [("if-match", issued.header("etag"))];
        recorder.record(operation, "POST", &format!("{path}/{step}"), &seen, Some(&json!({"remark": told}))).await;
    }
    recorder.record("list_events", "GET", "/v1/events?after=4&limit=3", &[], None).await;
    let gap = app.post("/v1/quotes", &example(include_str!("../../../api/examples/gap.json"))).await;
    let headers = [("content-type", "application/json"), ("if-match", gap.header("etag"))];
    let refused = app.send("POST", &format!("{}/issue", gap.header("location")), &headers, "{}").await;
    recorder.problem(&refused, 409, "gaps-stand");
}

/// A webhook's life. It is disabled, so that nothing is sent while it is looked at.
async fn webhooks(recorder: &mut Recorder<'_>) {
    let types = json!(["quote.accepted", "stock.reserved"]);
    let wanted = json!({
        "url": "https://stock.example/rigbill", "description": "Inventory system", "event_types": types, "enabled": false,
    });
    let once = [("idempotency-key", "stock-1")];
    let made = recorder.record("create_webhook", "POST", "/v1/webhooks", &once, Some(&wanted)).await;
    let path = made.header("location").to_owned();
    recorder.record("read_webhook", "GET", &path, &[], None).await;
    recorder.record("list_webhooks", "GET", "/v1/webhooks?limit=2", &[], None).await;
    let overlap = json!({"overlap_min": 60});
    let seen = [("if-match", made.header("etag"))];
    let rotated = recorder.record("rotate_webhook", "POST", &format!("{path}/rotations"), &seen, Some(&overlap)).await;
    let mut changed = wanted;
    changed["description"] = json!("Inventory system, main store");
    let seen = [("if-match", rotated.header("etag"))];
    let replaced = recorder.record("replace_webhook", "PUT", &path, &seen, Some(&changed)).await;
    let range = json!({"from": 1, "to": 5});
    recorder.record("replay_events", "POST", &format!("{path}/replays"), &[], Some(&range)).await;
    recorder.record("list_webhook_attempts", "GET", &format!("{path}/attempts?limit=2"), &[], None).await;
    recorder.record("delete_webhook", "DELETE", &path, &[("if-match", replaced.header("etag"))], None).await;
}

/// A key's life.
async fn keys(recorder: &mut Recorder<'_>) {
    let app = recorder.app;
    let wanted = json!({"name": "Front desk, left till", "role": "front_desk", "expires_at": "2027-02-01T05:00:00Z"});
    let once = [("idempotency-key", "till-1")];
    let made = recorder.record("create_key", "POST", "/v1/keys", &once, Some(&wanted)).await;
    let headers = [once[0], ("content-type", "application/json")];
    recorder.problem(&app.send("POST", "/v1/keys", &headers, wanted.to_string()).await, 409, "shown-once");
    let path = made.header("location").to_owned();
    let read = recorder.record("read_key", "GET", &path, &[], None).await;
    recorder.record("list_keys", "GET", "/v1/keys?limit=2", &[], None).await;
    let secret = format!("Bearer {}", made.json()["secret"].as_str().unwrap());
    let reader = format!("Bearer {}", app.new_key(Role::Reader).await);
    recorder.problem(&app.send("GET", "/v1/settings", &[("authorization", &reader)], "").await, 403, "not-your-role");
    let overlap = json!({"overlap_min": 60});
    let seen = [("if-match", read.header("etag"))];
    let rotations = format!("{path}/rotations");
    let rotated = recorder.record("rotate_key", "POST", &rotations, &seen, Some(&overlap)).await;
    recorder.record("revoke_key", "DELETE", &path, &[("if-match", rotated.header("etag"))], None).await;
    recorder.problem(&app.send("GET", "/v1/quotes", &[("authorization", &secret)], "").await, 401, "no-key");
}

/// What is met on the way when something is wrong.
async fn refusals(recorder: &mut Recorder<'_>) {
    let app = recorder.app;
    let take_off =
        async |body: String| app.send("POST", "/v1/take-offs", &[("content-type", "application/json")], body).await;
    recorder.problem(&take_off("{\n  \"boat\": }".to_owned()).await, 400, "malformed-json");
    recorder.problem(&take_off("[".repeat(100)).await, 400, "too-deep");
    recorder.problem(&take_off(format!("\"{}\"", "x".repeat(1 << 20))).await, 413, "too-large");
    let mut spec = example(include_str!("../../../api/examples/skiff.json"))["spec"].take();
    spec["equipment"][0]["statoin"] = json!("aft_bilge");
    spec["power"]["panels"][0]["station"] = json!("bridge");
    recorder.problem(&take_off(spec.to_string()).await, 422, "invalid");
    let text = app.send("POST", "/v1/take-offs", &[("content-type", "text/plain")], "a boat").await;
    recorder.problem(&text, 415, "wrong-content-type");
    recorder.problem(&app.get("/v1/items?limit=0&knid=wire").await, 400, "bad-query");
    recorder.problem(&app.get("/v1/items?cursor=made-up").await, 400, "bad-cursor");
    recorder.problem(&app.get("/v1/items/NO-SUCH-SKU").await, 404, "not-found");
    recorder.problem(&app.get("/v1/boats").await, 404, "unknown-path");
    recorder.problem(&app.send("PATCH", "/v1/items", &[], "").await, 405, "method-not-allowed");
    let outer = json!({"code": "DECK-SET", "description": "A set", "packages": ["BILGE-AUTO"]});
    assert_eq!(app.post("/v1/packages", &outer).await.status, 201);
    let inner = "/v1/packages/BILGE-AUTO";
    let seen = app.get(inner).await.header("etag").to_owned();
    recorder.problem(&app.delete(inner, &seen).await, 409, "not-allowed");
    recorder.problem(&app.get("/panic").await, 500, "internal");
    let head = "POST /v1/take-offs HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Type: application/json\r\n";
    let head = format!("{head}Authorization: Bearer {}\r\n", app.key);
    // A key that was just looked at is taken from memory: what breaks off while one is looked up gets no answer.
    assert_eq!(app.get("/v1/quotes?limit=1").await.status, 200);
    let broken = raw(app, format!("{head}Transfer-Encoding: chunked\r\n\r\n5\r\n{{\"bo\r\nno length\r\n")).await;
    recorder.problem(&broken, 400, "bad-request");
    let stalled = raw(app, format!("{head}Content-Length: 100\r\n\r\n{{")).await;
    recorder.problem(&stalled, 408, "too-slow");
    let strict = TestApp::spawn_with(|config| config.address_units_per_minute = 1).await;
    assert_eq!(strict.get("/livez").await.status, 200);
    recorder.problem(&strict.get("/livez").await, 429, "too-many");
    app.close_database().await;
    recorder.problem(&app.get("/readyz").await, 503, "unavailable");
}

/// Sends bytes as they are, keeps the connection open, and reads the one answer.
async fn raw(app: &TestApp, request: String) -> Answer {
    let address = app.url.trim_start_matches("http://").to_owned();
    let exchange = move || {
        let mut stream = TcpStream::connect(address).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).unwrap();
        String::from_utf8(answer).unwrap()
    };
    let text = tokio::task::spawn_blocking(exchange).await.unwrap();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or_else(|| panic!("no answer: {text}"));
    let mut lines = head.lines();
    let status = lines.next().unwrap().split(' ').nth(1).unwrap().parse().unwrap();
    let headers = lines.filter_map(|line| line.split_once(": ")).map(|(name, value)| {
        let name: reqwest::header::HeaderName = name.parse().unwrap();
        (name, value.parse::<reqwest::header::HeaderValue>().unwrap())
    });
    Answer { status, headers: headers.collect(), text: body.to_owned() }
}

#[tokio::test]
async fn the_recorded_answers_are_what_the_demo_shop_answers() {
    let app = TestApp::spawn_with(|config| config.body_timeout = Duration::from_secs(2)).await.stocked().await;
    let Recorder { operations, problems, .. } = conversation(&app).await;
    for kind in problem::ALL {
        let slug = kind.row().slug;
        assert!(problems.contains_key(slug), "the conversation does not meet the problem '{slug}': let it");
    }
    for (_, operations_of_path) in openapi::description()["paths"].as_object().unwrap() {
        for (_, operation) in operations_of_path.as_object().unwrap() {
            let id = operation["operationId"].as_str().unwrap();
            assert!(operations.contains_key(id), "the conversation does not use the operation '{id}': let it");
        }
    }
    let mut now = serde_json::to_string_pretty(&json!({"operations": operations, "problems": problems})).unwrap();
    now.push('\n');
    if std::env::var_os("RECORD_ANSWERS").is_some() {
        std::fs::write(FILE, &now).unwrap();
    }
    assert!(
        now == std::fs::read_to_string(FILE).unwrap(),
        "the answers have changed: look the change over and record it with RECORD_ANSWERS=1, as this file's head says"
    );
}
