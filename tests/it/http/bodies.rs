//! What bad bodies get: all faults at once, each with its place, in words.

use serde_json::{Value, json};

use super::app::TestApp;

/// A boat that nothing is wrong with.
pub fn boat() -> Value {
    json!({
        "boat": {
            "name": "Kittiwake", "job_type": "first_rig", "propulsion": "outboard",
            "stations": [{"id": "battery_bay", "petrol_vapour": "no"}, {"id": "helm", "petrol_vapour": "no"}],
            "runs": [{"from": "battery_bay", "to": "helm", "length": {"value": 9.5, "unit": "ft"}}]
        },
        "power": {
            "banks": [{"id": "house", "station": "battery_bay", "nominal_voltage_v": 12}],
            "panels": [{"id": "helm_panel", "station": "helm", "bank": "house"}]
        }
    })
}

fn message(problem: &Value, pointer: &str) -> String {
    let errors = problem["errors"].as_array().unwrap();
    let found = errors.iter().find(|error| error["pointer"] == pointer);
    found.unwrap_or_else(|| panic!("nothing about {pointer}: {problem}"))["message"].as_str().unwrap().to_owned()
}

#[tokio::test]
async fn every_fault_against_the_description_is_told_at_once() {
    let app = TestApp::spawn().await;
    let mut spec = boat();
    spec["boat"]["stations"][0]["statoin"] = json!("x");
    spec["boat"]["runs"][0]["length"] = json!({"value": -2, "unit": "foot"});
    spec["boat"]["name"] = json!(5);
    spec["boat"].as_object_mut().unwrap().remove("propulsion");
    spec["power"]["banks"][0]["nominal_voltage_v"] = json!(13);
    spec["equipment"] = json!([{"sku": "A", "quantity": 0, "customer_supplied": null}]);
    spec["extra_lines"] =
        json!([{"description": "Haul", "quantity": "1", "unit": "each", "unit_price": 350, "tax_class": "service"}]);
    let answer = app.post("/v1/take-offs", &spec).await;
    let problem = answer.problem(422, "invalid");
    for (pointer, words) in [
        ("/boat/stations/0/statoin", "no field 'statoin'"),
        ("/boat/runs/0/length/value", "-2 is too small; the least is 0"),
        ("/boat/runs/0/length/unit", "possible is: in, ft, mm, cm, m"),
        ("/boat/name", "5 stands here; expected is a text in quotes"),
        ("/boat/propulsion", "'propulsion' is missing: What drives it"),
        ("/power/banks/0/nominal_voltage_v", "expected is a multiple of 12"),
        ("/equipment/0/quantity", "0 is too small; the least is 1"),
        ("/equipment/0/customer_supplied", "a field that does not apply is left out"),
        ("/extra_lines/0/unit_price", "write money and quantities in quotes: \"350\""),
    ] {
        assert!(message(&problem, pointer).contains(words), "{pointer}: {}", message(&problem, pointer));
    }
    assert_eq!(answer.places().len(), 9, "{problem}");
}

#[tokio::test]
async fn a_mistyped_name_gets_the_near_one_as_a_proposal() {
    let app = TestApp::spawn().await;
    let mut spec = boat();
    spec["equipment"] = json!([{"sku": "A", "quantitiy": 1}]);
    spec["boat"]["propulsion"] = json!("outbord");
    let problem = app.post("/v1/take-offs", &spec).await.problem(422, "invalid");
    assert!(message(&problem, "/equipment/0/quantitiy").contains("did you mean 'quantity'?"));
    assert!(message(&problem, "/boat/propulsion").contains("did you mean 'outboard'?"));
}

#[tokio::test]
async fn of_several_forms_only_the_one_that_was_meant_is_spoken_of() {
    let app = TestApp::spawn().await;
    let mut spec = boat();
    spec["overrules"] = json!([
        {"what": "conductor", "circuit": "a", "gauge": "12", "reason": "spare", "colour": "red"},
        {"what": "wire", "reason": "spare"},
        {"reason": "spare"},
        7,
    ]);
    let answer = app.post("/v1/take-offs", &spec).await;
    let problem = answer.problem(422, "invalid");
    assert_eq!(
        answer.places(),
        ["/overrules/0/colour", "/overrules/0/gauge", "/overrules/1/what", "/overrules/2/what", "/overrules/3"]
    );
    assert!(message(&problem, "/overrules/0/gauge").contains("write a gauge such as '12 AWG'"));
    assert!(message(&problem, "/overrules/1/what").contains("conductor, item, hours"));
}

#[tokio::test]
async fn faults_of_form_and_faults_of_meaning_come_in_one_answer() {
    let app = TestApp::with_demo_shop().await;
    let mut spec = boat();
    spec["power"]["panels"][0]["station"] = json!("bridge");
    spec["boat"]["colour"] = json!("white");
    let quote = json!({"spec": spec, "customer": "", "priced_on": "2026-02-30"});
    assert_eq!(
        app.post("/v1/quotes", &quote).await.places(),
        ["/customer", "/priced_on", "/spec/boat/colour", "/spec/power/panels/0/station"]
    );
    assert_eq!(app.get("/v1/quotes").await.json()["rows"], json!([]), "nothing was stored");
}

#[tokio::test]
async fn what_is_no_json_says_where() {
    let app = TestApp::spawn().await;
    let send = async |body: &str| {
        app.send("POST", "/v1/take-offs", &[("content-type", "application/json")], body.to_owned()).await
    };
    let problem = send("{\n  \"boat\": }").await.problem(400, "malformed-json");
    assert!(problem["detail"].as_str().unwrap().starts_with("Line 2, column 11"), "{problem}");
    send("").await.problem(400, "malformed-json");
    let twice = boat().to_string().replacen("\"name\":", "\"name\":\"Tern\",\"name\":", 1);
    let problem = send(&twice).await.problem(400, "malformed-json");
    assert!(problem["detail"].as_str().unwrap().contains("duplicate field `name`"), "{problem}");
    let bytes = vec![b'"', 0xff, b'"'];
    let answer = app.send("POST", "/v1/take-offs", &[("content-type", "application/json")], bytes).await;
    answer.problem(400, "malformed-json");
}

#[tokio::test]
async fn a_whole_number_written_with_a_point_is_taken() {
    let app = TestApp::spawn().await;
    let spec = boat().to_string().replace("\"nominal_voltage_v\":12", "\"nominal_voltage_v\":12.0");
    assert!(spec.contains("12.0"));
    let answer = app.send("POST", "/v1/take-offs", &[("content-type", "application/json")], spec).await;
    assert_eq!(answer.status, 200, "{}", answer.text);
}

#[tokio::test]
async fn a_hostile_body_is_refused_in_bounded_time() {
    let app = TestApp::spawn().await;
    let json = [("content-type", "application/json")];
    let begun = std::time::Instant::now();
    let deep = "[".repeat(500_000);
    app.send("POST", "/v1/quotes", &json, deep).await.problem(400, "too-deep");
    let wide = format!("{{\"equipment\":[{}1]}}", "1,".repeat(500_000));
    app.send("POST", "/v1/take-offs", &json, wide).await.problem(422, "invalid");
    let fields: String = (0..60_000).map(|n| format!("\"field{n}\":1,")).collect();
    let answer = app.send("POST", "/v1/take-offs", &json, format!("{{{fields}\"boat\":1}}")).await;
    let problem = answer.problem(422, "invalid");
    assert_eq!(problem["errors"].as_array().unwrap().len(), 200);
    assert!(problem["more_errors"].as_u64().unwrap() > 59_000);
    // Far more than it takes even unoptimised beside other tests, far less than a body without bounds would take.
    assert!(begun.elapsed().as_secs() < 20, "{:?}", begun.elapsed());
}
