//! The shop's inventory system in place of our own counts: what it answers, and what comes of it when it is slow, dead,
//! wrong, half there, far too much, or sends us elsewhere.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use rigbill::config::{Hidden, InventorySystem};
use serde_json::{Value, json};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpListener;

use super::app::TestApp;
use super::life::with_cleats;

const KEY: &str = "shelf-key-0731";

/// How the stand-in answers.
#[derive(Clone, Debug)]
enum Does {
    /// This status and body.
    Says(u16, String),
    /// The first so many times it says the first, then the second.
    Then(usize, Box<Does>, Box<Does>),
    /// Nothing.
    Sleeps,
    /// A head that promises more than comes.
    BreaksOff,
    /// A body without end.
    Floods,
    /// Elsewhere.
    SendsOn(String),
}

/// A stand-in for an inventory system, with how often it was asked and what it was asked last.
struct StandIn {
    url: String,
    asked: Arc<AtomicUsize>,
    last: Arc<std::sync::Mutex<String>>,
}

async fn stand_in(does: Does) -> StandIn {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let url = format!("http://{}/rigbill", listener.local_addr().unwrap());
    let (asked, last) = (Arc::new(AtomicUsize::new(0)), Arc::new(std::sync::Mutex::new(String::new())));
    let seen = (asked.clone(), last.clone());
    tokio::spawn(async move {
        loop {
            let (mut stream, _) = listener.accept().await.unwrap();
            let (does, (asked, last)) = (does.clone(), seen.clone());
            tokio::spawn(async move {
                let mut met = Vec::new();
                let mut buffer = [0; 65_536];
                // The whole request: its body is as long as its head says.
                loop {
                    let Ok(read) = stream.read(&mut buffer).await else { return };
                    if read == 0 {
                        return;
                    }
                    met.extend_from_slice(&buffer[..read]);
                    let text = String::from_utf8_lossy(&met).into_owned();
                    let Some((head, body)) = text.split_once("\r\n\r\n") else { continue };
                    let length = head
                        .lines()
                        .find_map(|line| line.to_lowercase().strip_prefix("content-length: ")?.parse().ok());
                    if body.len() >= length.unwrap_or(0usize) {
                        *last.lock().unwrap() = text;
                        break;
                    }
                }
                let n = asked.fetch_add(1, Ordering::SeqCst);
                let now = match does {
                    Does::Then(times, first, second) => {
                        if n < times {
                            *first
                        } else {
                            *second
                        }
                    }
                    other => other,
                };
                answer(&mut stream, now).await;
            });
        }
    });
    StandIn { url, asked, last }
}

async fn answer(stream: &mut tokio::net::TcpStream, does: Does) {
    let head = |status: u16, length: usize| {
        format!(
            "HTTP/1.1 {status} X\r\nContent-Type: application/json\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n"
        )
    };
    let _ = match does {
        Does::Says(status, body) => stream.write_all(format!("{}{body}", head(status, body.len())).as_bytes()).await,
        Does::BreaksOff => stream.write_all(format!("{}{{\"counts\": [", head(200, 5_000)).as_bytes()).await,
        Does::SendsOn(to) => {
            let text = format!("HTTP/1.1 307 X\r\nLocation: {to}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n");
            stream.write_all(text.as_bytes()).await
        }
        Does::Floods => {
            let _ = stream.write_all(head(200, 1 << 40).as_bytes()).await;
            let chunk = vec![b' '; 1 << 16];
            while stream.write_all(&chunk).await.is_ok() {}
            Ok(())
        }
        Does::Sleeps => std::future::pending().await,
        Does::Then(..) => unreachable!("it was taken apart"),
    };
    let _ = stream.shutdown().await;
}

async fn shop(url: &str, kept_s: u64) -> TestApp {
    let app = TestApp::spawn_with(|config| {
        config.inventory = Some(InventorySystem {
            url: Hidden::new(url),
            key: Some(Hidden::new(KEY)),
            timeout: Duration::from_millis(400),
            total: Duration::from_millis(1_500),
            kept_for: Duration::from_secs(kept_s),
        });
    })
    .await;
    let cleat = json!({
        "sku": "CLEAT", "description": "Cleat", "category": "hardware", "attributes": {"kind": "hardware"},
        "selling_unit": "each", "buying_unit": "each", "buying_quantity": "1",
        "prices": [{"kind": "cost", "valid_from": "2026-01-01", "minimum_quantity": "1", "amount": "10"}],
    });
    assert_eq!(app.post("/v1/items", &cleat).await.status, 201);
    app
}

fn says(quantity: &str) -> Does {
    let counts = json!([{"sku": "CLEAT", "place": "Store", "bin": "A-1", "quantity": quantity, "colour": "not ours"}]);
    Does::Says(200, json!({"counts": counts, "offcuts": []}).to_string())
}

async fn draft(app: &TestApp, cleats: u32) -> String {
    app.post("/v1/quotes", &with_cleats("Avocet", cleats)).await.header("location").to_owned()
}

async fn list(app: &TestApp, quote: &str) -> Value {
    let answer = app.get(&format!("{quote}/purchase-list")).await;
    assert_eq!(answer.status, 200, "{}", answer.text);
    answer.json()["list"].clone()
}

async fn moved(app: &TestApp, path: &str, step: &str, seen: &str) {
    let headers = [("content-type", "application/json"), ("if-match", seen)];
    let answer = app.send("POST", &format!("{path}/{step}"), &headers, "{}").await;
    assert_eq!(answer.status, 200, "{}", answer.text);
}

#[tokio::test]
async fn what_it_has_is_taken_and_what_quotes_hold_is_not_there_for_others() {
    let system = stand_in(says("5")).await;
    let app = shop(&system.url, 0).await;
    let first = draft(&app, 3).await;
    let met = list(&app, &first).await;
    assert_eq!((&met["stock_source"], &met["from_shelf"][0]["taken"]), (&json!({"state": "answered"}), &json!("3")));
    let last = system.last.lock().unwrap().to_lowercase();
    assert!(last.starts_with("post /rigbill ") && last.contains(&format!("authorization: bearer {KEY}")), "{last}");
    assert!(last.ends_with(r#"{"skus":["cleat"]}"#), "{last}");
    moved(&app, &first, "issue", "\"v1\"").await;
    moved(&app, &first, "accept", "\"v2\"").await;
    let second = draft(&app, 3).await;
    let met = list(&app, &second).await;
    assert_eq!((&met["from_shelf"][0]["taken"], &met["cost"]), (&json!("2"), &json!("10.00")));
    // What was picked it takes off itself; from then on nothing of it is held here.
    assert_eq!(app.post(&format!("{first}/pick"), &json!({})).await.status, 200);
    assert_eq!(list(&app, &second).await["from_shelf"][0]["taken"], "3");
}

#[tokio::test]
async fn whatever_goes_wrong_is_told_and_counts_as_nothing_on_hand() {
    let beside = stand_in(says("5")).await;
    let wrong = |counts: Value| Does::Says(200, json!({"counts": counts}).to_string());
    let count = |sku: &str, quantity: &str| json!({"sku": sku, "place": "S", "bin": "A", "quantity": quantity});
    let offcut = json!([{"id": "x", "sku": "CLEAT", "place": "S", "bin": "A", "length": {"value": -3, "unit": "ft"}}]);
    for (does, told, tries) in [
        (Does::Sleeps, "had not answered within", 3),
        (Does::Says(503, String::new()), "status 503", 3),
        (Does::Says(429, String::new()), "status 429", 3),
        (Does::Says(401, String::new()), "status 401", 1),
        (Does::Says(204, String::new()), "status 204", 1),
        (Does::Says(200, "<html>".to_owned()), "is not what was agreed", 1),
        (Does::Says(200, "{\"counts\": [".to_owned()), "ends too early", 1),
        (Does::BreaksOff, "broke off", 3),
        (Does::Floods, "", 1),
        (Does::SendsOn(beside.url.clone()), "elsewhere (307)", 1),
        (wrong(json!([count("OTHER", "1")])), "which was not asked for", 1),
        (wrong(json!([count("CLEAT", "-1")])), "makes no sense", 1),
        (wrong(json!([count("CLEAT", "99999999999")])), "makes no sense", 1),
        (wrong(json!([count("CLEAT", "1"), count("CLEAT", "2")])), "twice", 1),
        (wrong(json!([{"sku": "CLEAT"}])), "is not what was agreed", 1),
        (Does::Says(200, json!({"offcuts": offcut}).to_string()), "makes no sense", 1),
    ] {
        let system = stand_in(does.clone()).await;
        let app = shop(&system.url, 0).await;
        let quote = draft(&app, 3).await;
        let begun = std::time::Instant::now();
        let met = list(&app, &quote).await;
        assert!(begun.elapsed() < Duration::from_secs(4), "{does:?} took {:?}", begun.elapsed());
        assert_eq!(met["stock_source"]["state"], "failed", "{does:?}");
        let said = met["stock_source"]["said"].as_str().unwrap();
        assert!(said.contains(told) && said.ends_with("counted as nothing on hand"), "{does:?}: {said}");
        assert!(!said.contains(KEY) && !said.contains("127.0.0.1"), "{said}");
        assert_eq!((&met["from_shelf"], &met["cost"]), (&json!([]), &json!("30.00")), "{does:?}");
        assert!(system.asked.load(Ordering::SeqCst) <= tries, "{does:?}");
        moved(&app, &quote, "issue", "\"v1\"").await;
        moved(&app, &quote, "accept", "\"v2\"").await;
    }
    assert_eq!(beside.asked.load(Ordering::SeqCst), 0, "no redirect is followed");
    let dead = {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        format!("http://{}/", listener.local_addr().unwrap())
    };
    let app = shop(&dead, 0).await;
    let quote = draft(&app, 1).await;
    let said = list(&app, &quote).await["stock_source"]["said"].clone();
    assert!(said.as_str().unwrap().contains("cannot be reached"), "{said}");
}

#[tokio::test]
async fn it_is_asked_again_when_it_stumbles_and_not_at_all_for_a_short_while() {
    let stumbles = Does::Then(2, Box::new(Does::Says(500, String::new())), Box::new(says("5")));
    let system = stand_in(stumbles).await;
    let app = shop(&system.url, 5).await;
    let quote = draft(&app, 3).await;
    assert_eq!(list(&app, &quote).await["stock_source"]["state"], "answered");
    assert_eq!(system.asked.load(Ordering::SeqCst), 3);
    list(&app, &quote).await;
    assert_eq!(system.asked.load(Ordering::SeqCst), 3, "the answer is used again");
    app.set_clock("2026-11-25T12:00:06Z");
    list(&app, &quote).await;
    assert_eq!(system.asked.load(Ordering::SeqCst), 4);
}
