//! Clients that take more than their share, each tried on the real service: they get a clear answer or a closed
//! connection, and others go on being served.

use std::net::Ipv4Addr;
use std::time::{Duration, Instant};

use super::app::TestApp;
use super::wire::{ELSEWHERE, HERE, Wire, ask};

/// Works with blocking sockets beside the service.
async fn apart<T: Send + 'static>(app: TestApp, work: impl FnOnce(&TestApp) -> T + Send + 'static) -> (TestApp, T) {
    tokio::task::spawn_blocking(move || {
        let given = work(&app);
        (app, given)
    })
    .await
    .unwrap()
}

fn served(app: &TestApp, from: Ipv4Addr) {
    let answer = ask(app, from, "GET /livez");
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
}

#[tokio::test]
async fn a_head_that_comes_slowly_or_never_is_given_up() {
    let app = TestApp::spawn_with(|config| config.head_timeout = Duration::from_secs(1)).await;
    apart(app, |app| {
        for beginning in ["", "GET /livez HTTP/1.1\r\nHost: x\r\nX-Slow: "] {
            let mut slow = Wire::open(app, HERE);
            slow.send(beginning);
            served(app, HERE);
            let begun = Instant::now();
            let answer = if beginning.is_empty() { slow.rest() } else { slow.drip(b"x", Duration::from_millis(200)).0 };
            assert!(answer.is_empty() || answer.starts_with("HTTP/1.1 408"), "{answer}");
            assert!(begun.elapsed() < Duration::from_secs(8), "{:?}", begun.elapsed());
        }
        served(app, HERE);
    })
    .await;
}

#[tokio::test]
async fn a_body_that_comes_drop_by_drop_is_given_up() {
    let app = TestApp::spawn_with(|config| {
        config.body_timeout = Duration::from_secs(1);
        config.import_pause = Duration::from_secs(1);
    })
    .await;
    apart(app, |app| {
        for (path, kind) in [("/v1/take-offs", "application/json"), ("/v1/imports", "text/csv")] {
            let mut slow = Wire::open(app, HERE);
            slow.send(format!(
                "POST {path} HTTP/1.1\r\nHost: x\r\nContent-Type: {kind}\r\nContent-Length: 500000\r\n\r\n"
            ));
            // Never a pause as long as the import's: it is the whole that takes too long.
            let (answer, took) = slow.drip(b" ", Duration::from_millis(200));
            assert!(answer.starts_with("HTTP/1.1 408") && answer.contains("/problems/too-slow"), "{path}: {answer}");
            assert!(took < Duration::from_secs(10), "{path}: {took:?}");
            served(app, HERE);
        }
    })
    .await;
}

#[tokio::test]
async fn a_head_that_is_too_large_is_431() {
    let app = TestApp::spawn().await;
    apart(app, |app| {
        let long = format!("X-Long: {}\r\n", "x".repeat(300_000));
        let many: String = (0..200).map(|n| format!("X-{n}: x\r\n")).collect();
        for headers in [long, many] {
            let mut wire = Wire::open(app, HERE);
            wire.send(format!("GET /livez HTTP/1.1\r\nHost: x\r\n{headers}\r\n"));
            let answer = wire.rest();
            assert!(answer.is_empty() || answer.starts_with("HTTP/1.1 431"), "{answer}");
            served(app, HERE);
        }
    })
    .await;
}

#[tokio::test]
async fn a_body_that_is_announced_as_huge_is_refused_before_it_comes() {
    let app = TestApp::spawn().await;
    apart(app, |app| {
        let mut wire = Wire::open(app, HERE);
        let head = "POST /v1/quotes HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 90000000000\r\n\r\n{";
        wire.send(head);
        let (answer, took) = wire.drip(b" ", Duration::from_millis(100));
        assert!(answer.starts_with("HTTP/1.1 413") && answer.contains("/problems/too-large"), "{answer}");
        assert!(took < Duration::from_secs(5), "{took:?}");
        served(app, HERE);
    })
    .await;
}

#[tokio::test]
async fn an_address_with_too_many_connections_is_refused_one_more_and_others_are_not() {
    let app = TestApp::spawn_with(|config| config.max_connections_per_address = 5).await;
    apart(app, |app| {
        let mut held: Vec<Wire> = (0..5).map(|_| Wire::open(app, HERE)).collect();
        // The service takes connections in at its own pace.
        std::thread::sleep(Duration::from_millis(300));
        for request in ["", "POST /v1/quotes HTTP/1.1\r\nHost: x\r\n\r\n"] {
            let mut more = Wire::open(app, HERE);
            more.send(request);
            let answer = more.rest();
            let clear = answer.starts_with("HTTP/1.1 429") && answer.contains("/problems/too-many");
            // Bytes that nobody has read make the system close the connection at once, whatever was answered.
            assert!(clear || (answer.is_empty() && !request.is_empty()), "{answer}");
        }
        served(app, ELSEWHERE);
        for wire in &mut held {
            wire.send("GET /livez HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n");
            assert!(wire.rest().starts_with("HTTP/1.1 200"), "those that were there first go on");
        }
        drop(held);
        std::thread::sleep(Duration::from_millis(300));
        served(app, HERE);
    })
    .await;
}

#[tokio::test]
async fn connections_that_do_nothing_hold_up_others_for_no_longer_than_a_head_may_take() {
    let app = TestApp::spawn_with(|config| {
        config.max_connections = 4;
        config.head_timeout = Duration::from_secs(1);
    })
    .await;
    apart(app, |app| {
        let held: Vec<Wire> = (0..40).map(|_| Wire::open(app, HERE)).collect();
        let begun = Instant::now();
        served(app, ELSEWHERE);
        assert!(begun.elapsed() < Duration::from_secs(15), "{:?}", begun.elapsed());
        drop(held);
    })
    .await;
}

#[tokio::test]
async fn who_does_not_take_his_answers_loses_his_connection() {
    let app = TestApp::spawn_with(|config| {
        config.answer_timeout = Duration::from_secs(2);
        config.max_connections_per_address = 1;
        config.address_units_per_minute = 0;
    })
    .await;
    apart(app, |app| {
        let mut greedy = Wire::open(app, HERE);
        // Answers of a few hundred kilobytes each fill what the system keeps for a connection.
        let request = "GET /openapi.json HTTP/1.1\r\nHost: x\r\n\r\n";
        for _ in 0..200 {
            if !greedy.send(request) {
                break;
            }
        }
        assert!(ask(app, HERE, "GET /livez").starts_with("HTTP/1.1 429"), "it holds the only connection");
        served(app, ELSEWHERE);
        let begun = Instant::now();
        while !ask(app, HERE, "GET /livez").starts_with("HTTP/1.1 200") {
            assert!(begun.elapsed() < Duration::from_secs(20), "the connection is still held");
            std::thread::sleep(Duration::from_millis(200));
        }
    })
    .await;
}

/// The parameters of a field such as `"address";r=5;t=10`.
fn parameter(answer: &str, field: &str, name: &str) -> u32 {
    let line = answer
        .lines()
        .find(|line| line.to_lowercase().starts_with(&format!("{field}: ")) && line.contains("\"address\""))
        .unwrap_or_default();
    let part = line.split(';').find_map(|part| part.strip_prefix(&format!("{name}=")));
    part.and_then(|text| text.parse().ok()).unwrap_or_else(|| panic!("no {name} in {field} of {answer}"))
}

#[tokio::test]
async fn a_flood_gets_429_with_the_time_to_wait_and_others_are_served() {
    let app = TestApp::spawn_with(|config| config.address_units_per_minute = 60).await;
    let (app, _) = apart(app, |app| {
        let first = ask(app, HERE, "GET /livez");
        assert_eq!((parameter(&first, "ratelimit-policy", "q"), parameter(&first, "ratelimit-policy", "w")), (60, 60));
        assert_eq!(parameter(&first, "ratelimit", "r"), 59);
        let heavy = ask(app, HERE, "POST /v1/take-offs");
        assert!(heavy.starts_with("HTTP/1.1 415"), "{heavy}");
        assert!((53..=56).contains(&parameter(&heavy, "ratelimit", "r")), "a take-off weighs 5: {heavy}");
        let refused =
            (0..120).map(|_| ask(app, HERE, "GET /v1/none")).find(|answer| answer.starts_with("HTTP/1.1 429"));
        let refused = refused.expect("a flood is refused");
        assert!(refused.contains("application/problem+json") && refused.contains("/problems/too-many"), "{refused}");
        assert!(refused.to_lowercase().contains("x-content-type-options: nosniff"), "{refused}");
        assert_eq!(parameter(&refused, "ratelimit", "r"), 0);
        let wait = refused.lines().find_map(|line| line.to_lowercase().strip_prefix("retry-after: ")?.parse().ok());
        let wait: u64 = wait.expect("it says how long to wait");
        assert!((1..=5).contains(&wait), "a unit comes back every second: {wait}");
        served(app, ELSEWHERE);
        std::thread::sleep(Duration::from_secs(wait));
        served(app, HERE);
    })
    .await;
    tokio::time::sleep(Duration::from_secs(2)).await;
    let metrics = app.get("/metrics").await.text;
    assert!(metrics.contains("rigbill_refused_total{by=\"address\"}"), "{metrics}");
}

#[tokio::test]
async fn a_proxy_is_believed_only_when_it_is_trusted() {
    let from = |client: &str| format!("GET /livez\nX-Forwarded-For: {client}");
    for trusted in [false, true] {
        let app = TestApp::spawn_with(|config| {
            config.address_units_per_minute = 20;
            if trusted {
                config.proxies.networks = vec!["127.0.0.0/8".parse().unwrap()];
            }
        })
        .await;
        let (_, (same, another)) = apart(app, move |app| {
            let same = (0..30).filter(|_| ask(app, HERE, &from("203.0.113.9")).starts_with("HTTP/1.1 429")).count();
            let another = ask(app, HERE, &from("198.51.100.7"));
            (same, another)
        })
        .await;
        assert!(same > 0, "one client is limited either way");
        let status = if trusted { "HTTP/1.1 200" } else { "HTTP/1.1 429" };
        assert!(another.starts_with(status), "trusted {trusted}: {another}");
    }
}
