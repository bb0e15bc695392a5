//! Numbers, given out by two instances on one PostgreSQL at once while one of them is killed: none twice, none missing.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use futures_util::StreamExt;
use serde_json::{Value, json};

use super::life::with_cleats;
use super::program::Program;
use crate::fixture::each_database;

/// Quotes that are issued at once; the long run of the tests issues a thousand.
fn count() -> usize {
    std::env::var("TEST_ISSUES").ok().map_or(60, |text| text.parse().expect("a number of quotes"))
}

/// Requests that are under way at the same time.
const AT_ONCE: usize = 16;

const FREELY: [(&str, &str); 2] = [("RIGBILL_KEY_UNITS_PER_MINUTE", "0"), ("RIGBILL_ADDRESS_UNITS_PER_MINUTE", "0")];

async fn made(program: &Program, path: &str, body: &Value) -> Value {
    let answer = program.request("POST", path).json(body).send().await.unwrap();
    assert_eq!(answer.status(), 201);
    answer.json().await.unwrap()
}

/// Issues a quote; what was answered, if anything was.
async fn issue(program: &Program, key: &str, id: &str) -> Option<Value> {
    let request = program.client.post(format!("{}/v1/quotes/{id}/issue", program.url)).bearer_auth(key);
    let request = request.header("if-match", "\"v1\"").header("idempotency-key", format!("issue-{id}"));
    let answer = request.json(&json!({})).send().await.ok()?;
    let status = answer.status();
    let body: Value = answer.json().await.ok()?;
    // Who is too busy says so, and is asked again.
    (status != 503).then(|| {
        assert_eq!(status, 200, "{body}");
        body
    })
}

#[tokio::test(flavor = "multi_thread")]
async fn two_instances_of_which_one_is_killed_give_every_number_once() {
    each_database(async |database| {
        if !database.url.starts_with("postgres") {
            return; // One file belongs to one instance.
        }
        let count = count();
        let (doomed, lasting) = (Program::serve(&database.url, &FREELY), Program::serve(&database.url, &FREELY));
        let cleat = json!({
            "sku": "CLEAT", "description": "Cleat", "category": "hardware", "attributes": {"kind": "hardware"},
            "selling_unit": "each", "buying_unit": "each", "buying_quantity": "1",
            "prices": [{"kind": "cost", "valid_from": "2026-01-01", "minimum_quantity": "1", "amount": "10"}],
        });
        made(&lasting, "/v1/items", &cleat).await;
        let drafts: Vec<String> = futures_util::stream::iter(0..count)
            .map(|n| {
                let lasting = &lasting;
                async move {
                    let draft = made(lasting, "/v1/quotes", &with_cleats(&format!("Boat {n}"), 1)).await;
                    draft["id"].as_str().unwrap().to_owned()
                }
            })
            .buffer_unordered(AT_ONCE)
            .collect()
            .await;

        // Both take the same key, so that a request that one of them lost can be sent to the other.
        let key = &lasting.key;
        let answered = AtomicUsize::new(0);
        let lost = AtomicUsize::new(0);
        let issuing = futures_util::stream::iter(drafts.iter().enumerate())
            .map(|(n, id)| {
                let (doomed, lasting, answered, lost) = (&doomed, &lasting, &answered, &lost);
                async move {
                    let first = if n % 2 == 0 { doomed } else { lasting };
                    let mut answer = issue(first, key, id).await;
                    if answer.is_none() && n % 2 == 0 {
                        lost.fetch_add(1, Ordering::Relaxed);
                    }
                    while answer.is_none() {
                        answer = issue(lasting, key, id).await;
                    }
                    answered.fetch_add(1, Ordering::Relaxed);
                    answer.unwrap()["number"].as_str().unwrap().to_owned()
                }
            })
            .buffer_unordered(AT_ONCE)
            .collect::<Vec<String>>();
        let kill = async {
            while answered.load(Ordering::Relaxed) < count / 3 {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
            // Without a word, as a machine loses its power.
            assert!(
                std::process::Command::new("kill")
                    .args(["-KILL", &doomed.id().to_string()])
                    .status()
                    .unwrap()
                    .success()
            );
        };
        let (mut numbers, ()) = tokio::join!(issuing, kill);
        assert!(lost.load(Ordering::Relaxed) > 0, "it was killed while it worked");
        numbers.sort_by_key(|number| number.split_once('-').unwrap().1.parse::<usize>().unwrap());
        let year = numbers[0].split_once('-').unwrap().0.to_owned();
        let expected: Vec<String> = (1..=count).map(|n| format!("{year}-{n:04}")).collect();
        assert_eq!(numbers, expected);
        // What is kept says the same as what was answered.
        let mut kept = Vec::new();
        let mut next = Some("/v1/quotes?limit=200&state=issued".to_owned());
        while let Some(address) = next {
            let page: Value = lasting.request("GET", &address).send().await.unwrap().json().await.unwrap();
            let rows = page["rows"].as_array().unwrap().iter();
            kept.extend(rows.map(|row| row["quote"]["number"].as_str().unwrap().to_owned()));
            next = page["next"].as_str().map(|cursor| format!("/v1/quotes?limit=200&state=issued&cursor={cursor}"));
        }
        kept.sort_by_key(|number| number.split_once('-').unwrap().1.parse::<usize>().unwrap());
        assert_eq!(kept, expected);
    })
    .await;
}
