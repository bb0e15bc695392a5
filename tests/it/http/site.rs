//! The service itself: its description, its pages, its answers to clients that compress or only ask for the head.

use std::collections::BTreeSet;

use super::app::TestApp;

#[tokio::test]
async fn the_committed_description_is_the_served_one() {
    let app = TestApp::spawn().await;
    let served = app.get("/openapi.json").await.text;
    let committed = include_str!("../../../api/openapi.json");
    assert!(
        served == committed,
        "the description has changed: look the change over and write it down with `cargo run -- openapi > api/openapi.json`"
    );
}

#[tokio::test]
async fn the_pages_under_docs_need_nothing_from_elsewhere() {
    let app = TestApp::spawn().await;
    let index = app.get("/docs/").await;
    assert_eq!(index.status, 200);
    assert_eq!(app.get("/docs").await.text, index.text, "the short address leads there");
    let start = app.get("/docs/swagger-initializer.js").await.text;
    assert!(start.contains("\"/openapi.json\"") && start.contains("\"validatorUrl\": \"none\""), "{start}");
    let mut files = BTreeSet::new();
    for part in index.text.split(['"', '\'']) {
        assert!(!part.starts_with("http") && !part.starts_with("//"), "{part}");
        if part.ends_with(".js") || part.ends_with(".css") || part.ends_with(".png") {
            files.insert(part.trim_start_matches("./").to_owned());
        }
    }
    assert!(files.len() >= 4, "{files:?}");
    for file in files {
        let answer = app.send("GET", &format!("/docs/{file}"), &[], "").await;
        assert_eq!(answer.status, 200, "{file}");
    }
    app.get("/docs/none.js").await.problem(404, "unknown-path");
}

#[tokio::test]
async fn every_answer_has_an_identifier_of_its_own() {
    let app = TestApp::spawn().await;
    let mut seen = BTreeSet::new();
    for path in ["/livez", "/livez", "/v1/boats", "/panic", "/v1/items?limit=x"] {
        assert!(seen.insert(app.get(path).await.header("x-request-id").to_owned()));
    }
}

#[tokio::test]
async fn answers_are_compressed_for_who_takes_it_and_head_has_no_body() {
    let app = TestApp::spawn().await;
    let gzip = [("accept-encoding", "gzip")];
    let answer = reqwest::Client::builder().no_proxy().build().unwrap();
    let answer = answer.get(format!("{}/openapi.json", app.url)).header(gzip[0].0, gzip[0].1).send().await.unwrap();
    assert_eq!(answer.headers()["content-encoding"], "gzip");
    let bytes = answer.bytes().await.unwrap();
    assert_eq!(bytes[..2], [0x1f, 0x8b], "RFC 1952 begins so");
    assert!(bytes.len() * 4 < app.get("/openapi.json").await.text.len());
    let head = app.send("HEAD", "/livez", &[], "").await;
    assert_eq!((head.status.as_u16(), head.text.as_str()), (200, ""));
}

#[tokio::test]
async fn it_stops_when_told_and_lets_go_of_its_port() {
    let app = TestApp::spawn().await;
    let address = app.url.trim_start_matches("http://").to_owned();
    app.stop().await;
    assert!(std::net::TcpStream::connect(address).is_err());
}
