//! `ETag`, `If-Match` and `If-None-Match` on every operation that the description has, by RFC 9110, section 13.

use serde_json::{Value, json};

use super::app::{Answer, TestApp};
use super::life::step;
use super::versions::{item, operation};
use crate::fixture::{Database, each_database};
use crate::store::shop::request;

/// Single things that are always sent whole: an import moves while it is read and nobody edits it, and when a key was
/// last used, or how far a webhook was told, moves without its version. What was tried for one comes in pages.
const ALWAYS_SENT: [&str; 4] = ["/v1/imports/{id}", "/v1/keys/{id}", "/v1/webhooks/{id}", "/v1/webhooks/{id}/attempts"];

/// How a thing that can be edited is made: the address that creates it and its body. Settings are there from the
/// start. A thing that this does not know stops the test: whoever adds one adds it here.
fn made_by(path: &str) -> Option<(&'static str, Value)> {
    Some(match path {
        "/v1/settings" | "/v1/price-levels" => return None,
        "/v1/quotes/{id}" | "/v1/quotes/{id}/link" => {
            ("/v1/quotes", serde_json::to_value(request("Avocet", json!([]))).unwrap())
        }
        "/v1/items/{sku}" => ("/v1/items", item("W16/BRN")),
        "/v1/packages/{code}" => ("/v1/packages", json!({"code": "SET", "description": "A set"})),
        "/v1/keys/{id}" => ("/v1/keys", json!({"name": "The till", "role": "reader"})),
        "/v1/webhooks/{id}" => ("/v1/webhooks", json!({"url": "https://stock.example/rigbill"})),
        "/v1/labour-operations/{code}" => ("/v1/labour-operations", operation("polish")),
        "/v1/stock/{id}" => ("/v1/stock", json!({"sku": "REEL", "place": "Store", "bin": "A-1", "quantity": "200"})),
        "/v1/offcuts/{id}" => {
            let length = json!({"value": 12.5, "unit": "ft"});
            ("/v1/offcuts", json!({"sku": "REEL", "place": "Store", "bin": "A-1", "length": length}))
        }
        other => panic!("{other} can be edited: say here how one is made"),
    })
}

fn has_parameter(operation: &Value, name: &str) -> bool {
    operation["parameters"].as_array().into_iter().flatten().any(|parameter| parameter["name"] == name)
}

/// A path that names nothing of its kind.
fn nothing(path: &str) -> String {
    path.replace("{id}", "00000000-0000-7000-8000-00000000dead").replace("{sku}", "NONE").replace("{code}", "none")
}

#[tokio::test]
async fn whatever_can_be_edited_has_a_version_and_asks_for_it() {
    each_database(async |database| every_editable(&database).await).await;
}

async fn every_editable(database: &Database) {
    let app = TestApp::spawn_on(database).await;
    let description = app.get("/openapi.json").await.json();
    assert_eq!(app.post("/v1/items", &item("REEL")).await.status, 201);
    let mut edited = 0;
    for (path, operations) in description["paths"].as_object().unwrap() {
        for (method, operation) in operations.as_object().unwrap() {
            let seen = has_parameter(operation, "If-Match");
            let changes = ["put", "patch", "delete"].contains(&method.as_str());
            // What is sent to a thing to move it on (a POST below its address) may ask for the version too.
            assert!(seen || !changes, "{method} {path}");
            assert!(!seen || changes || method == "post", "{method} {path}");
            for status in ["400", "412", "428"].into_iter().filter(|_| seen) {
                assert!(operation["responses"][status].is_object(), "{method} {path} tells of no {status}");
            }
        }
        if operations.get("put").is_none() && operations.get("delete").is_none() {
            continue;
        }
        edited += 1;
        let get = &operations["get"];
        assert!(get["responses"]["200"]["headers"]["ETag"].is_object(), "{path}");
        let address = match made_by(path) {
            None => path.clone(),
            Some((list, body)) => {
                let created = app.post(list, &body).await;
                assert_eq!(created.status, 201, "{path}: {}", created.text);
                assert_eq!(app.get(created.header("location")).await.header("etag"), created.header("etag"), "{path}");
                let address = created.header("location").to_owned();
                // A quote has a link from its issue on, with the quote's own version.
                match path.strip_prefix("/v1/quotes/{id}") {
                    Some(part) if !part.is_empty() => {
                        let issued = step(&app, &address, "issue", "\"v1\"", &[], &json!({})).await;
                        assert_eq!(issued.status, 200, "{}", issued.text);
                        format!("{address}{part}")
                    }
                    _ => address,
                }
            }
        };
        if operations.get("put").is_some() {
            let sent = &operations["put"]["requestBody"]["content"]["application/json"]["schema"]["$ref"];
            let sent = description.pointer(&sent.as_str().unwrap()[1..]).unwrap();
            replaced_by_version(&app, path, &address, sent).await;
        }
        if operations.get("delete").is_some() {
            deleted_by_version(&app, path, &address).await;
        }
    }
    assert!(edited >= 5, "{edited}");
    app.stop().await;
}

fn depends_on_who_asks(answer: &Answer) {
    let told: Vec<&str> = answer.headers.get_all("vary").iter().map(|value| value.to_str().unwrap()).collect();
    let told = told.join(", ").to_lowercase();
    assert!(told.contains("accept, authorization"), "{told}");
}

/// What is sent back to replace a thing with itself: of what is read that which the description says is sent.
async fn body_of(app: &TestApp, address: &str, sent: &Value) -> String {
    let mut whole = app.get(address).await.json();
    if let Some(request) = whole["links"]["request"].as_str() {
        return app.get(request).await.text;
    }
    whole.as_object_mut().unwrap().retain(|name, _| sent["properties"].get(name).is_some());
    whole.to_string()
}

async fn version_of(app: &TestApp, address: &str) -> i64 {
    let read = app.get(address).await;
    depends_on_who_asks(&read);
    read.header("etag").trim_start_matches("\"v").trim_end_matches('"').parse().unwrap()
}

async fn replaced_by_version(app: &TestApp, path: &str, address: &str, sent: &Value) {
    let body = body_of(app, address, sent).await;
    let send = async |address: &str, headers: &[(&str, &str)]| {
        let headers: Vec<_> = headers.iter().copied().chain([("content-type", "application/json")]).collect();
        app.send("PUT", address, &headers, body.clone()).await
    };
    // The present version is N; the others never were.
    for (lines, status, slug) in [
        (&[][..], 428, "version-needed"),
        (&[("if-match", "")], 400, "bad-header"),
        (&[("if-match", "vN")], 400, "bad-header"),
        (&[("if-match", "\"vN\" \"vN\"")], 400, "bad-header"),
        (&[("if-match", "\"vN\""), ("if-none-match", "\"v9999\"")], 400, "bad-header"),
        (&[("if-match", "W/\"vN\"")], 412, "stale"),
        (&[("if-match", "\"abc\"")], 412, "stale"),
        (&[("if-match", "\"v9999\"")], 412, "stale"),
        (&[("if-match", "\"v9999\", W/\"vN\"")], 412, "stale"),
        (&[("if-match", "\"vN\"")], 200, ""),
        (&[("if-match", "\"v9999\", \"vN\"")], 200, ""),
        (&[("if-match", "W/\"v9999\""), ("if-match", "\"vN\"")], 200, ""),
        (&[("if-match", "\"vN.gzip\"")], 200, ""),
        (&[("if-match", "*")], 200, ""),
    ] {
        let version = version_of(app, address).await;
        let lines: Vec<(&str, String)> =
            lines.iter().map(|(name, value)| (*name, value.replace("vN", &format!("v{version}")))).collect();
        let lines: Vec<(&str, &str)> = lines.iter().map(|(name, value)| (*name, value.as_str())).collect();
        let answer = send(address, &lines).await;
        depends_on_who_asks(&answer);
        if status == 200 {
            assert_eq!(answer.status, 200, "{path} {lines:?}: {}", answer.text);
            assert_eq!(answer.header("etag"), format!("\"v{}\"", version + 1), "{path} {lines:?}");
            let before = format!("\"v{version}\"");
            send(address, &[("if-match", &before)]).await.problem(412, "stale");
        } else {
            answer.problem(status, slug);
            assert_eq!(version_of(app, address).await, version, "{path} {lines:?}");
        }
        // Whatever is asked of a thing that is not there, it is not there.
        if path.contains('{') && status != 428 && status != 400 {
            let absent = send(&nothing(path), &lines).await;
            assert!(absent.status == 404 || absent.status == 422, "{path} {lines:?}: {}", absent.text);
        }
    }
}

async fn deleted_by_version(app: &TestApp, path: &str, address: &str) {
    let current = format!("\"v{}\"", version_of(app, address).await);
    let weak = format!("W/{current}");
    app.send("DELETE", address, &[], "").await.problem(428, "version-needed");
    for (seen, status, slug) in
        [("v1", 400, "bad-header"), ("\"v9999\"", 412, "stale"), (&weak, 412, "stale"), ("\"abc\"", 412, "stale")]
    {
        app.delete(address, seen).await.problem(status, slug);
    }
    for seen in [current.as_str(), "*", "\"abc\""] {
        app.delete(&nothing(path), seen).await.problem(404, "not-found");
    }
    let gone = app.delete(address, &format!("\"v9999\", {current}")).await;
    assert!(gone.status.is_success(), "{path}: {}", gone.text);
}

#[tokio::test]
async fn whatever_is_read_alone_is_not_sent_again_to_who_has_it() {
    each_database(async |database| every_read(&database).await).await;
}

async fn every_read(database: &Database) {
    let app = TestApp::spawn_on(database).await;
    let description = app.get("/openapi.json").await.json();
    assert_eq!(app.post("/v1/items", &item("REEL")).await.status, 201);
    let mut quote = String::new();
    let mut read = 0;
    for (path, operations) in description["paths"].as_object().unwrap() {
        // Layouts are calculated and not kept: their own tests look at their tags.
        if path.starts_with("/v1/layouts") {
            continue;
        }
        let get = &operations["get"];
        // The price levels are a part of the settings, as they stand at one version of these.
        let single = path.starts_with("/v1/")
            && (path.contains('{') || operations.get("put").is_some() || path == "/v1/price-levels");
        if get.is_null() || !single || ALWAYS_SENT.contains(&path.as_str()) {
            assert!(!has_parameter(get, "If-None-Match"), "{path}");
            continue;
        }
        read += 1;
        assert!(has_parameter(get, "If-None-Match"), "{path}");
        assert!(
            get["responses"]["304"].is_object() && get["responses"]["200"]["headers"]["ETag"].is_object(),
            "{path}"
        );
        // What belongs to a quote stands below its address.
        let address = match path.strip_prefix("/v1/quotes/{id}/") {
            Some("dashes/{dash}") => {
                let mut with_dash = serde_json::to_value(request("Avocet", json!([]))).unwrap();
                let inches = |value: f64| json!({"value": value, "unit": "in"});
                let face = json!({"width": inches(30.0), "height": inches(15.0)});
                with_dash["spec"]["dashes"] = json!([{"id": "helm_dash", "station": "helm", "face": face}]);
                let made = app.post("/v1/quotes", &with_dash).await;
                format!("{}/dashes/helm_dash", made.header("location"))
            }
            Some(part) => format!("{quote}/{part}"),
            None => match made_by(path) {
                Some((list, body)) => app.post(list, &body).await.header("location").to_owned(),
                None => path.clone(),
            },
        };
        if path == "/v1/quotes/{id}" {
            quote = address.clone();
        }
        not_sent_again(&app, &address).await;
    }
    assert!(read >= 8, "{read}");
    app.stop().await;
}

async fn not_sent_again(app: &TestApp, address: &str) {
    let whole = app.get(address).await;
    assert_eq!(whole.status, 200, "{address}: {}", whole.text);
    depends_on_who_asks(&whole);
    let tag = whole.header("etag").to_owned();
    let packed = app.send("GET", address, &[("accept-encoding", "gzip")], "").await;
    assert_eq!(packed.header("content-encoding"), "gzip", "{address}");
    let of_packed = packed.header("etag").to_owned();
    // A strong tag tells the bytes of one coding from those of another (RFC 9110, section 8.8.3.3).
    assert_ne!(of_packed, tag, "{address}");

    let (weak, listed) = (format!("W/{tag}"), format!("\"abc\",, W/\"v9999\" , {tag}"));
    for (met, expected) in [(&tag, &tag), (&weak, &tag), (&listed, &tag), (&of_packed, &of_packed)] {
        let known = app.send("GET", address, &[("if-none-match", met.as_str())], "").await;
        assert_eq!((known.status.as_u16(), known.text.as_str()), (304, ""), "{address} {met}");
        assert_eq!(known.header("etag"), expected, "{address}");
        depends_on_who_asks(&known);
    }
    let lines = [("if-none-match", "\"abc\""), ("if-none-match", tag.as_str())];
    assert_eq!(app.send("GET", address, &lines, "").await.status, 304, "{address}: in several lines");
    assert_eq!(app.send("GET", address, &[("if-none-match", "*")], "").await.status, 304, "{address}");
    for other in ["\"abc\"", "\"v9999\"", "v1", ""] {
        let sent = app.send("GET", address, &[("if-none-match", other)], "").await;
        assert_eq!((sent.status.as_u16(), &sent.text), (200, &whole.text), "{address} {other}");
    }
}
