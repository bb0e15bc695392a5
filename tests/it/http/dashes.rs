//! Dashes over HTTP: the calculator as JSON and as a drawing, and the dashes of take-offs and quotes.

use serde_json::{Value, json};

use super::app::TestApp;

const PATH: &str = "/v1/calculators/dash";

fn question() -> Value {
    serde_json::from_str(include_str!("../../../api/examples/dash.json")).unwrap()
}

fn center_console() -> Value {
    serde_json::from_str(include_str!("../../../api/examples/center-console-22.json")).unwrap()
}

#[tokio::test]
async fn a_dash_is_laid_out_as_json_or_drawn() {
    let app = TestApp::spawn().await;
    let answer = app.post(PATH, &question()).await;
    assert_eq!(answer.status, 200, "{}", answer.text);
    let dash = &answer.json()["dash"];
    assert_eq!((&dash["fits"], &dash["proven"], &dash["broken_symmetries"]), (&json!(true), &json!(true), &json!(0)));
    assert_eq!(dash["parts"].as_array().unwrap().len(), 5);
    let body = question().to_string();
    let svg = [("accept", "image/svg+xml"), ("content-type", "application/json")];
    let drawn = app.send("POST", PATH, &svg, body.clone()).await;
    assert_eq!((drawn.status.as_u16(), drawn.header("content-type")), (200, "image/svg+xml"));
    // An outline and a cut-out for each part, and the marks of the table.
    assert_eq!(drawn.text.matches("class=\"part\"").count(), 5);
    assert_eq!(drawn.text.matches("class=\"cut\"").count(), 5);
    let png = [("accept", "image/png"), ("content-type", "application/json")];
    app.send("POST", PATH, &png, body).await.problem(406, "not-acceptable");
    app.stop().await;
}

#[tokio::test]
async fn everything_that_makes_no_sense_is_told_at_once() {
    let app = TestApp::spawn().await;
    let mut wrong = question();
    wrong["face"]["corners"] = json!([]);
    wrong["face"].as_object_mut().unwrap().remove("height");
    wrong["parts"][0]["mount"]["outline"]["width"]["value"] = json!(5);
    wrong["parts"][1]["id"] = json!("plotter");
    let refused = app.post(PATH, &wrong).await;
    let pointers = refused.places();
    assert_eq!(pointers, ["/face", "/parts/0/mount/outline", "/parts/1/id"], "{}", refused.text);
    // A figure of eight is no dash.
    let inches = |value: f64| json!({"value": value, "unit": "in"});
    let corner = |(x, y): (f64, f64)| json!({"from_left": inches(x), "from_bottom": inches(y)});
    let corners: Vec<Value> = [(0.0, 0.0), (30.0, 15.0), (30.0, 0.0), (0.0, 15.0)].into_iter().map(corner).collect();
    wrong = question();
    wrong["face"] = json!({"corners": corners});
    let refused = app.post(PATH, &wrong).await;
    assert!(refused.text.contains("as one walks round the dash"), "{}", refused.text);
    app.stop().await;
}

#[tokio::test]
async fn a_quote_carries_its_dashes_and_draws_them() {
    let app = TestApp::with_demo_shop().await;
    let made = app.post("/v1/quotes", &center_console()).await;
    assert_eq!(made.status, 201, "{}", made.text);
    let path = made.header("location").to_owned();
    let document = app.get(&format!("{path}/document")).await.json();
    let dash = &document["take_off"]["dashes"][0];
    assert_eq!((&dash["id"], &dash["fits"]), (&json!("helm_dash"), &json!(true)), "{dash}");
    // Two displays mirror each other; the radio is on the centre line.
    assert_eq!(dash["broken_symmetries"], 0);
    let drawn = app.get(&format!("{path}/dashes/helm_dash")).await;
    assert_eq!((drawn.status.as_u16(), drawn.header("content-type")), (200, "image/svg+xml"));
    assert!(drawn.text.starts_with("<svg") && drawn.text.contains("Dash helm_dash"));
    let none = app.get(&format!("{path}/dashes/aft_dash")).await;
    assert!(none.problem(404, "not-found")["detail"].as_str().unwrap().contains("helm_dash"));
    app.stop().await;
}

#[tokio::test]
async fn what_does_not_fit_is_a_gap_and_wrong_references_are_faults() {
    let app = TestApp::with_demo_shop().await;
    let mut spec = center_console()["spec"].clone();
    spec["dashes"][0]["face"]["height"]["value"] = json!(8);
    spec["dashes"][0]["face"]["depth"]["value"] = json!(4);
    let taken_off = app.post("/v1/take-offs", &spec).await;
    assert_eq!(taken_off.status, 200, "{}", taken_off.text);
    let gaps = taken_off.json()["gaps"].clone();
    let whats: Vec<&str> = gaps.as_array().unwrap().iter().map(|gap| gap["what"].as_str().unwrap()).collect();
    // The radio needs 4 1/2 in behind; two displays of 8 in do not fit on a face of 8 in.
    assert_eq!(whats, ["dash/helm_dash", "dash/helm_dash/vhf-25@helm"], "{gaps}");
    assert!(gaps[0]["mend"].as_str().unwrap().contains("taller"), "{gaps}");
    spec["dashes"][0]["station"] = json!("hlem");
    spec["dashes"][0]["parts"] = json!([{"equipment": "disp-a12@hell"}, {"equipment": "horn-single@helm"}]);
    let refused = app.post("/v1/take-offs", &spec).await;
    let pointers = refused.places();
    assert_eq!(pointers, ["/dashes/0/parts/0/equipment", "/dashes/0/parts/1/equipment", "/dashes/0/station"]);
    app.stop().await;
}
