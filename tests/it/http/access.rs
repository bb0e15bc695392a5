//! Keys and roles over HTTP: who may call what, and the life of a key.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use chrono::TimeDelta;
use rigbill::clock::Clock;
use rigbill::service::access::Role;
use serde_json::{Value, json};

use super::app::{Answer, NO_KEY, NOW, TestApp};

/// An address of a path of the description.
fn address(path: &str) -> String {
    path.replace("{id}", "00000000-0000-7000-8000-000000000001").replace("{sku}", "A").replace("{code}", "a")
}

async fn ask(app: &TestApp, method: &str, path: &str, secret: &str) -> Answer {
    let bearer = format!("Bearer {secret}");
    let authorization = if secret.is_empty() { NO_KEY } else { ("authorization", bearer.as_str()) };
    app.send(method, path, &[("content-type", "application/json"), authorization], "{}").await
}

#[tokio::test]
async fn every_operation_is_for_the_roles_that_the_description_names_and_for_no_other() {
    // More keys fail here in a minute than an address may have failing.
    let app = TestApp::spawn_with(|config| config.failed_keys_per_minute = 0).await;
    let mut keys = Vec::new();
    for role in Role::ALL {
        keys.push((role, app.new_key(role).await));
    }
    let description = app.get("/openapi.json").await.json();
    let mut tried = 0;
    for (path, operations) in description["paths"].as_object().unwrap() {
        for (method, operation) in operations.as_object().unwrap() {
            let (method, path) = (method.to_uppercase(), address(path));
            let none = ask(&app, &method, &path, "").await;
            let Some(roles) = operation.get("x-roles") else {
                assert_eq!(operation["security"], json!([]), "{path}");
                assert!(none.status.as_u16() < 400, "{method} {path} needs a key: {}", none.text);
                continue;
            };
            assert_eq!(operation["security"], json!([{"bearer": []}]), "{path}");
            none.problem(401, "no-key");
            assert_eq!(none.header("www-authenticate"), "Bearer realm=\"rigbill\"");
            let roles: Vec<&str> = roles.as_array().unwrap().iter().map(|role| role.as_str().unwrap()).collect();
            for (role, secret) in &keys {
                let answer = ask(&app, &method, &path, secret).await;
                if roles.contains(&role.as_str()) {
                    assert!(![401, 403].contains(&answer.status.as_u16()), "{role} {method} {path}: {}", answer.text);
                } else {
                    answer.problem(403, "not-your-role");
                    assert!(operation["responses"].get("403").is_some(), "{method} {path}");
                }
                let vary = answer
                    .headers
                    .get_all("vary")
                    .iter()
                    .any(|value| value.to_str().unwrap().contains("Authorization"));
                assert!(vary, "{method} {path}");
                tried += 1;
            }
        }
    }
    assert!(tried > 150, "only {tried} were tried");
}

#[tokio::test]
async fn a_key_that_asks_too_much_is_told_to_wait_and_other_keys_go_on() {
    let app = TestApp::spawn_with(|config| config.key_units_per_minute = 20).await;
    let (busy, calm) = (app.new_key(Role::Reader).await, app.new_key(Role::Reader).await);
    let first = ask(&app, "GET", "/v1/items", &busy).await;
    assert!(first.header("ratelimit").contains("\"key\";r=19"), "{:?}", first.headers);
    assert!(first.header("ratelimit-policy").contains("\"key\";q=20;w=60"), "{:?}", first.headers);
    let mut refused = None;
    for _ in 0..40 {
        let answer = ask(&app, "GET", "/v1/items", &busy).await;
        if answer.status == 429 {
            refused = Some(answer);
            break;
        }
        assert_eq!(answer.status, 200, "{}", answer.text);
    }
    let refused = refused.expect("a busy key is refused");
    let problem = refused.problem(429, "too-many");
    assert!(problem["detail"].as_str().unwrap().contains("key"), "{problem}");
    // Twenty units a minute: one comes back every three seconds.
    assert!((1..=3).contains(&refused.header("retry-after").parse::<u64>().unwrap()), "{:?}", refused.headers);
    assert_eq!(ask(&app, "GET", "/v1/items", &calm).await.status, 200);
}

#[tokio::test]
async fn who_tries_keys_is_told_to_wait_and_a_good_key_from_there_goes_on() {
    let app = TestApp::spawn_with(|config| config.failed_keys_per_minute = 10).await;
    let good = app.new_key(Role::Reader).await;
    let mut tried = 0;
    loop {
        let guess = format!("rigbill_{}_{}", "0".repeat(32), "A".repeat(43));
        let answer = ask(&app, "GET", "/v1/items", &guess).await;
        if answer.status == 429 {
            answer.problem(429, "too-many");
            assert!(answer.header("retry-after").parse::<u64>().unwrap() >= 1, "{:?}", answer.headers);
            break;
        }
        answer.problem(401, "no-key");
        tried += 1;
        assert!(tried < 30, "keys can be tried without end");
    }
    assert!(tried >= 10, "refused after {tried}");
    assert_eq!(ask(&app, "GET", "/v1/items", &good).await.status, 200);
}

#[tokio::test]
async fn what_roles_are_for_stands_in_the_description() {
    // The roles as the shop's people have them: written here a second time, and not read from the table.
    let app = TestApp::spawn().await;
    let description = app.get("/openapi.json").await.json();
    let may = |role: &str| -> Vec<String> {
        let operations = description["paths"].as_object().unwrap().values();
        let operations = operations.flat_map(|path| path.as_object().unwrap().values());
        let mine = operations.filter(|operation| {
            operation["x-roles"].as_array().is_some_and(|roles| roles.iter().any(|one| one == role))
        });
        mine.map(|operation| operation["operationId"].as_str().unwrap().to_owned()).collect()
    };
    for costly in ["read_quote_costing", "read_settings", "replace_settings", "list_keys", "create_key", "revoke_key"] {
        for role in Role::ALL {
            let allowed = may(role.as_str()).iter().any(|id| id == costly);
            assert_eq!(allowed, role == Role::Owner, "{role} {costly}");
        }
    }
    let reader = may("reader");
    let changes = ["create_", "replace_", "delete_", "retire_", "rotate_", "revoke_"];
    assert!(!reader.iter().any(|id| changes.iter().any(|change| id.starts_with(change))), "{reader:?}");
    assert!(reader.contains(&"read_quote_document".to_owned()));
    let rigger = may("rigger");
    assert!(rigger.contains(&"replace_quote".to_owned()) && !rigger.contains(&"delete_quote".to_owned()));
    let inventory = may("inventory");
    assert!(inventory.contains(&"create_import".to_owned()) && !inventory.iter().any(|id| id.contains("quote")));
    assert!(may("front_desk").contains(&"create_quote".to_owned()));
}

#[tokio::test]
async fn a_key_that_is_not_valid_is_refused_without_saying_why() {
    let app = TestApp::spawn().await;
    let other = "rigbill_00000000000070008000000000000001_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";
    for text in [
        "Bearer x".to_owned(),
        format!("Bearer {other}"),
        format!("Bearer {}x", app.key),
        format!("Basic {}", app.key),
        app.key.clone(),
    ] {
        let answer = app.send("GET", "/v1/items", &[("authorization", &text)], "").await;
        answer.problem(401, "no-key");
        assert_eq!(answer.header("www-authenticate"), "Bearer realm=\"rigbill\", error=\"invalid_token\"");
        assert!(!answer.text.contains(other) && !answer.text.contains(&app.key));
    }
    let bearer = format!("bearer {}", app.key);
    assert_eq!(app.send("GET", "/v1/items", &[("authorization", &bearer)], "").await.status, 200);
    let twice = [("authorization", bearer.as_str()), ("authorization", bearer.as_str())];
    app.send("GET", "/v1/items", &twice, "").await.problem(401, "no-key");
}

#[tokio::test]
async fn no_way_of_writing_an_address_leads_past_the_check() {
    let app = TestApp::spawn().await;
    let reader = app.new_key(Role::Reader).await;
    for path in ["/v1/settings", "/%761/settings", "/v1/%73ettings", "/v%31/settin%67s", "/v1/settings?x=1"] {
        ask(&app, "GET", path, "").await.problem(401, "no-key");
        ask(&app, "GET", path, &reader).await.problem(403, "not-your-role");
    }
    assert_eq!(ask(&app, "HEAD", "/v1/settings", "").await.status, 401);
    assert_eq!(ask(&app, "HEAD", "/v1/settings", &reader).await.status, 403);
    for path in ["/v1", "/v1/", "/v1/nothing", "/v1/settings/"] {
        ask(&app, "GET", path, "").await.problem(401, "no-key");
        ask(&app, "GET", path, &reader).await.problem(404, "unknown-path");
    }
    ask(&app, "PATCH", "/v1/settings", "").await.problem(401, "no-key");
    ask(&app, "PATCH", "/v1/settings", &reader).await.problem(405, "method-not-allowed");
}

#[tokio::test]
async fn a_key_is_looked_at_before_the_body() {
    let app = TestApp::spawn().await;
    let body = "x".repeat(2 << 20);
    let json = ("content-type", "application/json");
    app.send("POST", "/v1/take-offs", &[json, NO_KEY], body).await.problem(401, "no-key");
}

fn wanted(name: &str, role: &str) -> Value {
    json!({"name": name, "role": role})
}

#[tokio::test]
async fn a_key_is_made_used_rotated_and_revoked() {
    let app = TestApp::spawn().await;
    let made = app.post("/v1/keys", &wanted("Till", "front_desk")).await;
    assert_eq!((made.status.as_u16(), made.header("cache-control")), (201, "no-store"), "{}", made.text);
    let (path, key) = (made.header("location").to_owned(), made.json());
    let first = key["secret"].as_str().unwrap().to_owned();
    assert_eq!((key["created_by"].as_str(), &key["role"]), (Some("Test owner 1"), &json!("front_desk")));
    assert_eq!(ask(&app, "GET", "/v1/quotes", &first).await.status, 200);
    ask(&app, "GET", "/v1/keys", &first).await.problem(403, "not-your-role");
    app.post("/v1/keys", &wanted("Till", "reader")).await.problem(409, "already-there");
    let keyed = [("content-type", "application/json"), ("idempotency-key", "k-1")];
    let tablet = wanted("Tablet", "rigger").to_string();
    let once = app.send("POST", "/v1/keys", &keyed, tablet.clone()).await;
    assert_eq!(once.status, 201, "{}", once.text);
    let again = app.send("POST", "/v1/keys", &keyed, tablet).await;
    let detail = again.problem(409, "shown-once")["detail"].as_str().unwrap().to_owned();
    assert!(detail.contains(once.header("location")), "{detail}");
    assert!(!again.text.contains(&once.json()["secret"].as_str().unwrap()[41..]));
    assert_eq!(app.post("/v1/keys", &wanted("", "captain")).await.places(), ["/name", "/role"]);
    let past = json!({"name": "Past", "role": "reader", "expires_at": "2026-11-24T00:00:00Z"});
    assert_eq!(app.post("/v1/keys", &past).await.places(), ["/expires_at"]);

    let rotations = format!("{path}/rotations");
    let send = async |seen: &str, body: Value| {
        app.send("POST", &rotations, &[("content-type", "application/json"), ("if-match", seen)], body.to_string())
            .await
    };
    app.post(&rotations, &json!({})).await.problem(428, "version-needed");
    let rotated = send(made.header("etag"), json!({"overlap_min": 60})).await;
    assert_eq!((rotated.status.as_u16(), rotated.header("etag")), (200, "\"v2\""), "{}", rotated.text);
    assert_eq!(rotated.json()["earlier_secret_until"], "2026-11-25T13:00:00Z");
    let second = rotated.json()["secret"].as_str().unwrap().to_owned();
    for secret in [&first, &second] {
        assert_eq!(ask(&app, "GET", "/v1/quotes", secret).await.status, 200);
    }
    send(made.header("etag"), json!({})).await.problem(412, "stale");
    assert_eq!(send("\"v2\"", json!({"overlap_min": 10_081})).await.places(), ["/overlap_min"]);

    let page = app.get("/v1/keys?limit=1").await;
    assert!(page.header("link").contains("/v1/keys?limit=1&cursor="), "{}", page.header("link"));
    let rows = app.get("/v1/keys").await;
    let rows_json = rows.json();
    let row = rows_json["rows"].as_array().unwrap().iter().find(|row| row["key"]["name"] == "Till").unwrap();
    assert_eq!((&row["key"]["name"], &row["href"], &row["etag"]), (&json!("Till"), &json!(path), &json!("\"v2\"")));
    let read = app.get(&path).await;
    for answer in [&rows, &read] {
        for secret in [&first, &second] {
            assert!(!answer.text.contains(&secret[41..]), "a secret is shown once");
        }
        assert!(!answer.text.contains("hash"));
    }

    app.send("DELETE", &path, &[], "").await.problem(428, "version-needed");
    let revoked = app.delete(&path, "\"v2\"").await;
    assert_eq!((revoked.status.as_u16(), revoked.header("etag")), (200, "\"v3\""), "{}", revoked.text);
    assert_eq!(revoked.json()["revoked_at"], NOW);
    for secret in [&first, &second] {
        ask(&app, "GET", "/v1/quotes", secret).await.problem(401, "no-key");
    }
    send("\"v3\"", json!({})).await.problem(409, "not-allowed");
    assert_eq!(app.get(&path).await.json()["revoked_at"], NOW, "it stays in the list");
}

#[tokio::test]
async fn the_last_owner_key_cannot_lock_the_owner_out() {
    let app = TestApp::spawn().await;
    let own = app.get("/v1/keys").await.json()["rows"][0].clone();
    let path = own["href"].as_str().unwrap();
    let problem = app.delete(path, "\"v1\"").await.problem(409, "not-allowed");
    assert!(problem["detail"].as_str().unwrap().contains("last owner key"), "{problem}");
    let other = app.post("/v1/keys", &wanted("Home", "owner")).await.json();
    assert_eq!(app.delete(path, "\"v1\"").await.status, 200);
    app.get("/v1/keys").await.problem(401, "no-key");
    let other = other["secret"].as_str().unwrap();
    assert_eq!(ask(&app, "GET", "/v1/keys", other).await.status, 200);
}

#[tokio::test]
async fn a_key_ends_at_its_time() {
    let app = TestApp::spawn().await;
    let season = json!({"name": "Season", "role": "rigger", "expires_at": "2026-11-25T13:00:00Z"});
    let made = app.post("/v1/keys", &season).await.json();
    let secret = made["secret"].as_str().unwrap();
    let Clock::Fixed(clock) = app.service().clock() else { panic!("a test has a fixed clock") };
    let start: chrono::DateTime<chrono::Utc> = NOW.parse().unwrap();
    clock.set(start + TimeDelta::minutes(59));
    assert_eq!(ask(&app, "GET", "/v1/quotes", secret).await.status, 200);
    clock.set(start + TimeDelta::minutes(60));
    let answer = ask(&app, "GET", "/v1/quotes", secret).await;
    assert!(!answer.problem(401, "no-key").to_string().contains("Season"));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_key_that_is_rotated_under_load_is_never_refused_within_the_overlap() {
    let app = Arc::new(TestApp::spawn().await);
    let made = app.post("/v1/keys", &wanted("Till", "front_desk")).await;
    let path = made.header("location").to_owned();
    let mut secret = made.json()["secret"].as_str().unwrap().to_owned();
    let (stop, asked) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicUsize::new(0)));
    for version in 1..=5 {
        let users: Vec<_> = (0..4)
            .map(|_| {
                let (app, secret) = (app.clone(), secret.clone());
                let (stop, asked) = (stop.clone(), asked.clone());
                tokio::spawn(async move {
                    while !stop.load(Ordering::Relaxed) {
                        let answer = ask(&app, "GET", "/v1/quotes?limit=1", &secret).await;
                        assert_eq!(answer.status, 200, "{}", answer.text);
                        asked.fetch_add(1, Ordering::Relaxed);
                    }
                })
            })
            .collect();
        tokio::time::sleep(Duration::from_millis(50)).await;
        let seen = format!("\"v{version}\"");
        let headers = [("content-type", "application/json"), ("if-match", seen.as_str())];
        let rotated = app.send("POST", &format!("{path}/rotations"), &headers, r#"{"overlap_min": 60}"#).await;
        assert_eq!(rotated.status, 200, "{}", rotated.text);
        let new = rotated.json()["secret"].as_str().unwrap().to_owned();
        for _ in 0..20 {
            assert_eq!(ask(&app, "GET", "/v1/quotes?limit=1", &new).await.status, 200, "the new one holds at once");
        }
        stop.store(true, Ordering::Relaxed);
        for user in users {
            user.await.expect("nobody was refused");
        }
        stop.store(false, Ordering::Relaxed);
        let Clock::Fixed(clock) = app.service().clock() else { panic!("a test has a fixed clock") };
        clock.set(app.service().clock().now() + TimeDelta::minutes(60));
        ask(&app, "GET", "/v1/quotes?limit=1", &secret).await.problem(401, "no-key");
        assert_eq!(ask(&app, "GET", "/v1/quotes?limit=1", &new).await.status, 200);
        secret = new;
    }
    assert!(asked.load(Ordering::Relaxed) > 50, "there was hardly any load");
}
