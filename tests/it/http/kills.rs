//! Killed without a word, again and again, while eight clients make, issue and accept quotes, and targets are told of it:
//! what was answered is there, what was not is there whole or not at all, every event once, no number is missing, and
//! every target hears of every event under one identifier.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use futures_util::future::join_all;
use serde_json::{Value, json};

use super::life::with_cleats;
use super::program::{Program, owner_key};
use crate::fixture::{Database, each_database};
use crate::receiver::{Does, Receiver};
use crate::store::events::Chance;

/// How often it is killed on each database; the long run of the tests does it a thousand times.
fn kills() -> usize {
    std::env::var("TEST_KILLS").ok().map_or(20, |text| text.parse().expect("a number of kills"))
}

const CLIENTS: usize = 8;

/// Cleats on the shelf: each accepted quote takes hold of one while there are any.
const ON_SHELF: usize = 25;

/// Targets that are told. The lease on one that was about to be told runs out after a while, so there are a few.
const TARGETS: usize = 6;

const FREELY: [(&str, &str); 6] = [
    ("RIGBILL_WEBHOOK_NETWORKS", "127.0.0.1"),
    ("RIGBILL_WEBHOOK_CONNECT_TIMEOUT_S", "1"),
    ("RIGBILL_WEBHOOK_TIMEOUT_S", "1"),
    ("RIGBILL_KEY_UNITS_PER_MINUTE", "0"),
    ("RIGBILL_ADDRESS_UNITS_PER_MINUTE", "0"),
    ("RIGBILL_FAILED_KEYS_PER_MINUTE", "0"),
];

/// One client's quote, as far as it knows.
#[derive(Clone, Default)]
struct Known {
    /// What was answered to making, issuing and accepting it.
    answers: [Option<Value>; 3],
}

impl Known {
    /// Makes the next of its requests; `false` when there was no answer.
    async fn go_on(&mut self, program: &Program, key: &str, name: &str) -> bool {
        let place = self.answers.iter().position(Option::is_none).expect("it is not accepted yet");
        let address = |known: &Known| {
            let made = known.answers[0].as_ref().expect("it was made");
            made["links"]["self"].as_str().unwrap().to_owned()
        };
        let (path, seen, body) = match place {
            0 => ("/v1/quotes".to_owned(), None, with_cleats(name, 1)),
            1 => (format!("{}/issue", address(self)), Some("\"v1\""), json!({})),
            _ => (format!("{}/accept", address(self)), Some("\"v2\""), json!({"remark": "Killed or not"})),
        };
        let mut request = program.client.post(format!("{}{path}", program.url)).bearer_auth(key);
        request = request.header("idempotency-key", format!("{name}-{place}"));
        if let Some(seen) = seen {
            request = request.header("if-match", seen);
        }
        let Ok(answer) = request.json(&body).send().await else { return false };
        let status = answer.status();
        let Ok(text) = answer.text().await else { return false };
        if status == 503 {
            return false;
        }
        assert!(status.is_success(), "{name} {path}: {status} {text}");
        self.answers[place] = Some(serde_json::from_str(&text).unwrap());
        true
    }

    fn is_done(&self) -> bool {
        self.answers.iter().all(Option::is_some)
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn killed_at_any_moment_it_keeps_what_it_answered_and_tells_it_once() {
    each_database(async |database| killed(&database).await).await;
}

async fn killed(database: &Database) {
    let key = owner_key(&database.url);
    let mut known: Vec<Vec<Known>> = vec![Vec::new(); CLIENTS];
    let mut chance = Chance::new(0x9e37_79b9_7f4a_7c15);
    let mut cut_off = 0;
    let mut targets = Vec::new();
    for _ in 0..TARGETS {
        targets.push(Receiver::that(Does::status(200)).await);
    }
    for round in 0..kills() {
        let program = Program::serve(&database.url, &FREELY);
        if round == 0 {
            let cleat = json!({
                "sku": "CLEAT", "description": "Cleat", "category": "hardware", "attributes": {"kind": "hardware"},
                "selling_unit": "each", "buying_unit": "each", "buying_quantity": "1",
                "prices": [{"kind": "cost", "valid_from": "2026-01-01", "minimum_quantity": "1", "amount": "10"}],
            });
            assert_eq!(program.request("POST", "/v1/items").json(&cleat).send().await.unwrap().status(), 201);
            let count = json!({"sku": "CLEAT", "place": "Store", "bin": "A-1", "quantity": ON_SHELF.to_string()});
            assert_eq!(program.request("POST", "/v1/stock").json(&count).send().await.unwrap().status(), 201);
            for target in &targets {
                let webhook = json!({"url": target.url});
                assert_eq!(program.request("POST", "/v1/webhooks").json(&webhook).send().await.unwrap().status(), 201);
            }
        }
        let (answered, gone) = (AtomicUsize::new(0), AtomicBool::new(false));
        let clients = known.iter_mut().enumerate().map(|(client, quotes)| {
            let (program, key, answered, gone) = (&program, &key, &answered, &gone);
            async move {
                // What was cut off before is sent once more, with the same keys.
                while !gone.load(Ordering::Relaxed) {
                    if quotes.last().is_none_or(Known::is_done) {
                        quotes.push(Known::default());
                    }
                    let name = format!("Boat-{client}.{}", quotes.len());
                    if quotes.last_mut().unwrap().go_on(program, key, &name).await {
                        answered.fetch_add(1, Ordering::Relaxed);
                    } else if gone.load(Ordering::Relaxed) {
                        return 1;
                    }
                }
                0
            }
        });
        let (some, pause) = (1 + chance.below(40), Duration::from_micros(chance.below(20_000) as u64));
        let kill = async {
            while answered.load(Ordering::Relaxed) < some {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
            tokio::time::sleep(pause).await;
            gone.store(true, Ordering::Relaxed);
            assert!(Command::new("kill").args(["-KILL", &program.id().to_string()]).status().unwrap().success());
        };
        let (lost, ()) = tokio::join!(join_all(clients), kill);
        cut_off += lost.into_iter().sum::<usize>();
    }
    assert!(cut_off > kills() / 2, "{cut_off} requests were cut off in {} kills", kills());

    let program = Program::serve(&database.url, &FREELY);
    // What was cut off last is sent once more.
    for (client, quotes) in known.iter_mut().enumerate() {
        let name = format!("Boat-{client}.{}", quotes.len());
        if let Some(last) = quotes.last_mut().filter(|last| !last.is_done()) {
            assert!(last.go_on(&program, &key, &name).await);
        }
    }
    let known: Vec<Known> = known.into_iter().flatten().collect();
    whole(&program, &known).await;
    let events = events(&program).await;
    for target in &targets {
        told(target, &events).await;
    }
}

/// Waits until a target heard of all events, and looks at what it heard.
async fn told(target: &Receiver, events: &[Value]) {
    let mut enough = events.len();
    loop {
        target.until(enough).await;
        let mut bodies: BTreeMap<String, String> = BTreeMap::new();
        let received = target.received();
        for one in &received {
            let first = bodies.entry(one.id().to_owned()).or_insert_with(|| one.body.clone());
            assert_eq!(*first, one.body, "what comes again is the same");
        }
        if bodies.len() == events.len() {
            for event in events {
                let met: Value = serde_json::from_str(&bodies[event["id"].as_str().unwrap()]).unwrap();
                assert_eq!(met, *event);
            }
            return;
        }
        // Some came twice: as many are still to come.
        enough = events.len() + received.len() - bodies.len();
    }
}

/// Everything in pages.
async fn all(program: &Program, list: &str) -> Vec<Value> {
    let mut rows = Vec::new();
    let mut next = Some(format!("{list}?limit=200"));
    while let Some(address) = next {
        let page: Value = program.request("GET", &address).send().await.unwrap().json().await.unwrap();
        rows.extend(page["rows"].as_array().unwrap().iter().cloned());
        next = page["next"].as_str().map(|cursor| format!("{list}?limit=200&cursor={cursor}"));
    }
    rows
}

async fn events(program: &Program) -> Vec<Value> {
    let mut events = Vec::new();
    loop {
        let address = format!("/v1/events?limit=500&after={}", events.len());
        let page: Value = program.request("GET", &address).send().await.unwrap().json().await.unwrap();
        let more = page["events"].as_array().unwrap();
        if more.is_empty() {
            return events;
        }
        events.extend(more.iter().cloned());
        assert_eq!(page["after"], events.len(), "positions have no gap");
    }
}

/// Compares what is kept with what was answered, and with what was told.
async fn whole(program: &Program, known: &[Known]) {
    let rows = all(program, "/v1/quotes").await;
    assert_eq!(rows.len(), known.len(), "each was made once, whether its answer arrived or not");
    let kept: BTreeMap<&str, &Value> =
        rows.iter().map(|row| (row["quote"]["id"].as_str().unwrap(), &row["quote"])).collect();
    for known in known {
        let Some(last) = known.answers.iter().flatten().next_back() else { continue };
        let quote = kept[last["id"].as_str().unwrap()];
        // The customer's address is told once and can be read nowhere.
        let mut last = last.clone();
        last.as_object_mut().unwrap().remove("customer_address");
        assert_eq!(quote, &last, "what was answered last is what is there");
    }
    let mut numbers: Vec<u64> = Vec::new();
    let mut expected = BTreeSet::new();
    for (id, quote) in &kept {
        let state = quote["state"].as_str().unwrap();
        if state == "draft" {
            continue;
        }
        numbers.push(quote["number"].as_str().unwrap().split_once('-').unwrap().1.parse().unwrap());
        expected.insert((*id, "quote.issued"));
        if state == "accepted" {
            expected.insert((*id, "quote.accepted"));
        }
    }
    let reserved = all(program, "/v1/reservations").await;
    let accepted = rows.iter().filter(|row| row["quote"]["state"] == "accepted").count();
    assert_eq!(
        reserved.len(),
        accepted.min(ON_SHELF),
        "each accepted quote holds one cleat, as long as there were any"
    );
    for held in &reserved {
        assert_eq!((held["sku"].as_str(), held["quantity"].as_str()), (Some("CLEAT"), Some("1")), "{held}");
        assert!(expected.insert((held["quote"].as_str().unwrap(), "stock.reserved")), "no quote holds two");
    }
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=numbers.len() as u64).collect::<Vec<_>>(), "every number once");
    let events = events(program).await;
    let told: BTreeSet<(&str, &str)> =
        events.iter().map(|event| (event["subject"].as_str().unwrap(), event["type"].as_str().unwrap())).collect();
    assert_eq!(told.len(), events.len(), "every event once");
    assert_eq!(told, expected, "what is there was told, and nothing else");
}
