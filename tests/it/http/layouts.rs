//! Layouts over HTTP: their forms, their figures, their pictures.

use super::app::TestApp;

#[tokio::test]
async fn every_form_that_is_listed_has_a_layout_and_a_plan() {
    let app = TestApp::spawn().await;
    let list = app.get("/v1/layouts").await;
    assert_eq!(list.status, 200);
    let list = list.json();
    let rows = list["rows"].as_array().unwrap();
    assert_eq!(rows.len(), 10);
    for row in rows {
        let href = row["href"].as_str().unwrap();
        let middle = |size: &str| {
            let bound = |end: &str| row[size][end]["value"].as_f64().unwrap();
            f64::midpoint(bound("min"), bound("max"))
        };
        let beam = middle("hull_length")
            * f64::midpoint(row["beam_share"]["min"].as_f64().unwrap(), row["beam_share"]["max"].as_f64().unwrap());
        let query = format!("hull_length={}&beam={beam}", middle("hull_length"));
        let layout = app.get(&format!("{href}?{query}")).await;
        assert_eq!(layout.status, 200, "{href}: {}", layout.text);
        let layout = layout.json();
        let stations = layout["stations"].as_array().unwrap();
        assert_eq!(stations.len(), row["stations"].as_array().unwrap().len());
        let plan = app.get(&format!("{href}/plan?{query}&from=helm&to=bow")).await;
        assert_eq!(
            (plan.status.as_u16(), plan.header("content-type")),
            (200, "image/svg+xml"),
            "{href}: {}",
            plan.text
        );
        for station in stations {
            let name = station["name"].as_str().unwrap();
            let word = name.split(' ').next().unwrap();
            assert!(plan.text.contains(&format!(">{word}")), "{href}: {name} is not on the plan");
        }
        let reader = quick_look(&plan.text);
        assert!(reader.contains("class=\"route\""), "{href}: no route on the plan");
    }
}

/// The text of a picture, once each of its elements has been seen to end.
fn quick_look(svg: &str) -> &str {
    for element in ["svg", "title", "style", "text"] {
        let begun = svg.matches(&format!("<{element} ")).count() + svg.matches(&format!("<{element}>")).count();
        assert_eq!(begun, svg.matches(&format!("</{element}>")).count(), "{element}");
    }
    svg
}

/// 22 ft by 8.5 ft: console base to aft bilge is 0.40 L + 2 = 10.8 ft through a tube (common practice).
#[tokio::test]
async fn a_layout_says_where_things_are_and_how_long_the_ways_are() {
    let app = TestApp::spawn().await;
    let answer = app.get("/v1/layouts/center_console?hull_length=22&beam=8.5").await;
    let layout = answer.json();
    let run = |from: &str, to: &str| {
        let runs = layout["runs"].as_array().unwrap();
        runs.iter().find(|run| run["from"] == from && run["to"] == to).unwrap().clone()
    };
    let tube = run("aft_bilge", "console_base");
    assert_eq!(tube["length"], serde_json::json!({"value": 10.8, "unit": "ft"}));
    assert_eq!((tube["access"].as_str(), tube["inside_diameter"]["value"].as_f64()), (Some("tube"), Some(2.0)));
    let bow = layout["stations"].as_array().unwrap().iter().find(|station| station["id"] == "bow").unwrap();
    assert_eq!(bow["from_transom"], serde_json::json!({"value": 21.34, "unit": "ft"}));
    assert!(bow.get("side").is_none());
    // The same hull in metres.
    let metric = app.get("/v1/layouts/center_console?hull_length=6.7056&beam=2.5908&unit=m").await.json();
    let runs = metric["runs"].as_array().unwrap();
    let tube = runs.iter().find(|run| run["from"] == "aft_bilge" && run["to"] == "console_base").unwrap();
    assert_eq!(tube["length"], serde_json::json!({"value": 3.292, "unit": "m"}));

    let tag = answer.header("etag").to_owned();
    let again =
        app.send("GET", "/v1/layouts/center_console?hull_length=22&beam=8.5", &[("if-none-match", &tag)], "").await;
    assert_eq!((again.status.as_u16(), again.text.as_str()), (304, ""));
    let other = app.get("/v1/layouts/center_console?hull_length=23&beam=8.5").await;
    assert_ne!(other.header("etag"), tag);
}

#[tokio::test]
async fn what_is_wrong_with_a_layout_query_is_told_at_once() {
    let app = TestApp::spawn().await;
    app.get("/v1/layouts/submarine?hull_length=22&beam=8").await.problem(404, "not-found");
    for (query, named) in [
        ("/v1/layouts/skiff", vec!["hull_length", "beam"]),
        ("/v1/layouts/skiff?hull_length=x&beam=4&unit=yard&colour=red", vec!["hull_length", "unit", "colour"]),
        ("/v1/layouts/skiff?hull_length=200&beam=8", vec!["hull_length"]),
        ("/v1/layouts/skiff?hull_length=16&beam=1&depth=9", vec!["beam", "depth"]),
        ("/v1/layouts/skiff/plan?hull_length=16&beam=6&from=helm", vec!["to"]),
        ("/v1/layouts/skiff/plan?hull_length=16&beam=6&from=hlem&to=attic", vec!["from", "to"]),
    ] {
        let answer = app.get(query).await;
        let body = answer.json();
        assert_eq!(answer.status, 400, "{query}: {body}");
        let found: Vec<&str> =
            body["errors"].as_array().unwrap().iter().map(|error| error["parameter"].as_str().unwrap()).collect();
        assert_eq!(found, named, "{query}: {body}");
    }
}
