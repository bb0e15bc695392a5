//! Everything that goes wrong below the bodies is a problem too.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use rigbill::http::{problem, problem_pages};
use serde_json::Value;

use super::app::TestApp;
use super::bodies::boat;

#[tokio::test]
async fn an_unknown_path_is_a_problem_and_a_wrong_method_says_which_are_right() {
    let app = TestApp::spawn().await;
    app.get("/v1/boats").await.problem(404, "unknown-path");
    app.get("/v1/quotes/").await.problem(404, "unknown-path");
    app.get("/v1/quotes/7").await.problem(404, "not-found");
    let description = app.get("/openapi.json").await.json();
    for (path, operations) in description["paths"].as_object().unwrap() {
        let address =
            path.replace("{id}", "00000000-0000-7000-8000-000000000001").replace("{sku}", "A").replace("{code}", "a");
        for method in ["GET", "POST", "PUT", "DELETE", "PATCH", "TRACE", "OPTIONS"] {
            if operations.get(method.to_lowercase()).is_none() {
                let answer = app.send(method, &address, &[], "").await;
                answer.problem(405, "method-not-allowed");
                for allowed in answer.header("allow").split(", ").filter(|allowed| *allowed != "HEAD") {
                    assert!(operations.get(allowed.to_lowercase()).is_some(), "{path} {allowed}");
                }
                assert!(!answer.header("allow").is_empty());
            }
        }
    }
}

#[tokio::test]
async fn a_panic_is_a_problem_and_the_service_lives() {
    let app = TestApp::spawn().await;
    for _ in 0..3 {
        let answer = app.get("/panic").await;
        let problem = answer.problem(500, "internal");
        assert!(!problem.to_string().contains("asked for"), "nothing of the inside is told: {problem}");
    }
    assert_eq!(app.get("/livez").await.status, 200);
    assert_eq!(app.get("/readyz").await.status, 200);
}

#[tokio::test]
async fn a_body_over_the_limit_is_413_whether_announced_or_not() {
    let app = TestApp::spawn().await;
    let json = [("content-type", "application/json")];
    let body = format!("{{\"boat\":\"{}\"}}", "x".repeat(1 << 20));
    app.send("POST", "/v1/take-offs", &json, body.clone()).await.problem(413, "too-large");
    let mut chunked = "POST /v1/take-offs HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n\
        Transfer-Encoding: chunked\r\n\r\n"
        .to_owned();
    for chunk in body.as_bytes().chunks(10_000) {
        chunked.push_str(&format!("{:x}\r\n{}\r\n", chunk.len(), String::from_utf8_lossy(chunk)));
    }
    chunked.push_str("0\r\n\r\n");
    let answer = raw(&app, chunked).await;
    assert!(answer.starts_with("HTTP/1.1 413") && answer.contains("application/problem+json"), "{answer}");
}

/// Sends bytes as they are but for a key behind the first line, and returns the beginning of the answer.
async fn raw(app: &TestApp, request: String) -> String {
    let address = app.url.trim_start_matches("http://").to_owned();
    let request = request.replacen("\r\n", &format!("\r\nAuthorization: Bearer {}\r\n", app.key), 1);
    let exchange = move || {
        let mut stream = TcpStream::connect(address).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(10))).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = [0; 1000];
        let length = stream.read(&mut answer).unwrap();
        String::from_utf8_lossy(&answer[..length]).into_owned()
    };
    tokio::task::spawn_blocking(exchange).await.unwrap()
}

#[tokio::test]
async fn another_content_type_is_415() {
    let app = TestApp::spawn().await;
    let body = boat().to_string();
    for headers in [
        &[][..],
        &[("content-type", "text/plain")],
        &[("content-type", "application/x-www-form-urlencoded")],
        &[("content-type", "application/json; charset=utf-16")],
        &[("content-type", "application/json"), ("content-encoding", "gzip")],
    ] {
        app.send("POST", "/v1/take-offs", headers, body.clone()).await.problem(415, "wrong-content-type");
    }
    app.send("POST", "/v1/imports", &[("content-type", "application/json")], "sku\n")
        .await
        .problem(415, "wrong-content-type");
    let utf8 = [("content-type", "application/json; charset=UTF-8")];
    assert_eq!(app.send("POST", "/v1/take-offs", &utf8, body).await.status, 200);
}

#[tokio::test]
async fn a_body_that_does_not_arrive_is_408_and_the_service_goes_on() {
    let app = TestApp::spawn_with(|config| config.body_timeout = Duration::from_secs(1)).await;
    let begun = Instant::now();
    let head =
        "POST /v1/take-offs HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{";
    let answer = raw(&app, head.to_owned()).await;
    assert!(answer.starts_with("HTTP/1.1 408"), "{answer}");
    assert!(answer.contains("application/problem+json"), "{answer}");
    assert!(begun.elapsed() < Duration::from_secs(8));
    assert_eq!(app.get("/livez").await.status, 200);
}

#[tokio::test]
async fn a_query_that_is_not_understood_is_told_parameter_by_parameter() {
    let app = TestApp::spawn().await;
    let problem = app.get("/v1/items?limit=0&retired=maybe&knid=wire").await.problem(400, "bad-query");
    let named: Vec<&Value> = problem["errors"].as_array().unwrap().iter().map(|error| &error["parameter"]).collect();
    assert_eq!(named, ["retired", "limit", "knid"]);
    app.get("/livez?verbose=1").await.problem(400, "bad-query");
}

#[tokio::test]
async fn every_problem_has_a_page_at_its_address() {
    let app = TestApp::spawn().await;
    let list = app.get("/problems").await;
    for row in problem::ALL.map(problem::Kind::row) {
        let address = format!("/problems/{}", row.slug);
        assert!(list.text.contains(&format!("href=\"{address}\"")), "{address}");
        let page = app.get(&address).await;
        assert_eq!(page.status, 200);
        assert!(page.header("content-type").starts_with("text/html"));
        for told in [row.title, row.cause, row.mend, row.status.as_str()] {
            assert!(page.text.contains(told), "{address}: {}", page.text);
        }
    }
    app.get("/problems/none").await.problem(404, "not-found");
}

#[test]
fn the_committed_page_of_problems_is_the_printed_one() {
    assert!(
        problem_pages::markdown() == include_str!("../../../api/problems.md"),
        "the problems have changed: write them down with `cargo run -- openapi --problems > api/problems.md`"
    );
}
