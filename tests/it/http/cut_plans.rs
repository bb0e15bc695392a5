//! The cut-plan calculator over HTTP: its contract to the letter, and every fault at once.

use serde_json::{Value, json};

use super::app::TestApp;

const PATH: &str = "/v1/calculators/cut-plan";

fn example() -> Value {
    serde_json::from_str(include_str!("../../../api/examples/cut-plan.json")).unwrap()
}

#[tokio::test]
async fn the_contract_is_kept_to_the_letter() {
    let app = TestApp::spawn().await;
    let answer = app.post(PATH, &example()).await;
    assert_eq!(answer.status, 200, "{}", answer.text);
    // Reckoned by hand: 25 ft by the foot are 13.00, and that is less than a spool at 31.00.
    let by_the_foot = json!({
        "cost": "13.00", "lower_bound": "13.00", "optimal": true, "waste": "0.0",
        "used": [{"sku": "W16-BRN-FT", "count": 1,
            "cuts": [{"label": "C1+", "length": "12.5", "count": 2}], "offcut": "0.0"}]
    });
    assert_eq!(answer.json(), by_the_foot);
    // A spool is opened where it is the cheaper: here wire by the foot costs twice as much.
    let mut dear = example();
    dear["stock"][1]["price_per_unit"] = json!("1.30");
    let spool = json!({
        "cost": "31.00", "lower_bound": "31.00", "optimal": true, "waste": "75.0",
        "used": [{"sku": "W16-BRN-100", "count": 1,
            "cuts": [{"label": "C1+", "length": "12.5", "count": 2}], "offcut": "75.0"}]
    });
    assert_eq!(app.post(PATH, &dear).await.json(), spool);
    // What may be left out is as if it had been sent so.
    let few = json!({
        "unit": "ft", "pieces": [{"label": "C1+", "length": "12.5", "count": 2}],
        "stock": [{"sku": "W16-BRN-100", "length": "100", "price": "31.00"}]
    });
    assert_eq!(app.post(PATH, &few).await.json(), spool);
    app.stop().await;
}

#[tokio::test]
async fn stock_pieces_cut_alike_are_one_entry_and_a_short_end_is_no_offcut() {
    let app = TestApp::spawn().await;
    let question = json!({
        "unit": "m", "allowance_per_cut": "0.01", "minimum_offcut": "0.5",
        "pieces": [{"label": "A", "length": "2.50", "count": 6}, {"label": "B", "length": "7", "count": 1}],
        "stock": [{"sku": "S8", "length": "8", "price": "4", "available": 9}]
    });
    let answer = app.post(PATH, &question).await.json();
    // Reckoned by hand: three of A take 7.53 of 8 and leave 0.47, which is no offcut; B takes 7.01 and leaves 0.99.
    let expected = json!({
        "cost": "12", "lower_bound": "12", "optimal": true, "waste": "2.00",
        "used": [
            {"sku": "S8", "count": 1, "cuts": [{"label": "B", "length": "7", "count": 1}], "offcut": "0.99"},
            {"sku": "S8", "count": 2, "cuts": [{"label": "A", "length": "2.50", "count": 3}], "offcut": "0.00"}
        ]
    });
    assert_eq!(answer, expected);
    app.stop().await;
}

#[tokio::test]
async fn lengths_of_one_item_stand_in_rows_of_their_own() {
    let app = TestApp::spawn().await;
    let question = json!({
        "unit": "ft", "pieces": [{"label": "A", "length": "12", "count": 1}, {"label": "B", "length": "20", "count": 1}],
        "stock": [
            {"sku": "W", "length": "100", "price": "31.00"},
            {"sku": "W", "length": "21", "price": "0", "available": 1},
            {"sku": "W", "length": "13", "price": "0", "available": 1}
        ]
    });
    let answer = app.post(PATH, &question).await.json();
    // Reckoned by hand: each piece has an offcut that it fits into.
    let expected = json!({
        "cost": "0.00", "lower_bound": "0.00", "optimal": true, "waste": "2",
        "used": [
            {"sku": "W", "count": 1, "cuts": [{"label": "B", "length": "20", "count": 1}], "offcut": "1"},
            {"sku": "W", "count": 1, "cuts": [{"label": "A", "length": "12", "count": 1}], "offcut": "1"}
        ]
    });
    assert_eq!(answer, expected);
    app.stop().await;
}

#[tokio::test]
async fn what_cannot_be_cut_is_named() {
    let app = TestApp::spawn().await;
    let mut long = example();
    long["stock"].as_array_mut().unwrap().pop();
    long["pieces"].as_array_mut().unwrap().push(json!({"label": "C2+", "length": "100.5", "count": 1}));
    let problem = app.post(PATH, &long).await.problem(422, "invalid");
    assert_eq!(problem["errors"][0]["pointer"], "/pieces/1/length");
    let message = problem["errors"][0]["message"].as_str().unwrap();
    assert!(message.contains("'C2+' is 100.5 ft") && message.contains("'W16-BRN-100', is 100 ft"), "{message}");
    let short = json!({
        "unit": "ft", "pieces": [{"label": "C1+", "length": "60", "count": 3}, {"label": "C2", "length": "5", "count": 1}],
        "stock": [{"sku": "W16-BRN-100", "length": "100", "price": "31.00", "available": 2}]
    });
    let problem = app.post(PATH, &short).await.problem(422, "invalid");
    assert_eq!(problem["errors"][0]["pointer"], "/stock");
    let message = problem["errors"][0]["message"].as_str().unwrap();
    assert!(message.contains("'C1+'") && message.contains("3 pieces are wanted"), "{message}");
    // Two of 40 ft to a hundred: 200 ft are enough by length for five of them, and not by number.
    let left_over = json!({
        "unit": "ft", "pieces": [{"label": "A", "length": "40", "count": 5}],
        "stock": [{"sku": "S", "length": "100", "price": "1", "available": 2}]
    });
    let problem = app.post(PATH, &left_over).await.problem(422, "invalid");
    assert!(problem["errors"][0]["message"].as_str().unwrap().contains("'A'"), "{problem}");
    app.stop().await;
}

#[tokio::test]
async fn all_faults_are_listed_at_once() {
    let app = TestApp::spawn().await;
    let wrong = json!({
        "unit": "ft",
        "pieces": [
            {"label": "A", "length": "0", "count": 1},
            {"label": "B", "length": "-3", "count": 1},
            {"label": "C", "length": "1.1234567", "count": 1},
            {"label": "D", "length": 4, "count": 0}
        ],
        "stock": [
            {"sku": "S", "length": "10", "price": "1"},
            {"sku": "S", "length": "20", "price": "1"},
            {"sku": "T", "length": "0", "price": "1"},
            {"sku": "U", "length": "5"},
            {"sku": "V", "price_per_unit": "1", "available": 3},
            {"sku": "W"},
            {"sku": "X", "length": "5", "price": "1", "price_per_unit": "1"}
        ],
        "kerf": "1"
    });
    let places = app.post(PATH, &wrong).await.places();
    for place in ["/kerf", "/pieces/1/length", "/pieces/2/length", "/pieces/3/count", "/pieces/3/length"] {
        assert!(places.iter().any(|met| met == place), "{place} is not in {places:?}");
    }
    let mut readable = wrong;
    readable["pieces"] = json!([{"label": "A", "length": "0", "count": 1}]);
    readable.as_object_mut().unwrap().remove("kerf");
    assert_eq!(
        app.post(PATH, &readable).await.places(),
        ["/pieces/0/length", "/stock/2/length", "/stock/3", "/stock/4/available", "/stock/5", "/stock/6"]
    );
    let many = json!({
        "unit": "ft", "stock": [{"sku": "S", "length": "10", "price": "1"}],
        "pieces": [{"label": "A", "length": "1", "count": 5000}, {"label": "B", "length": "1", "count": 1}]
    });
    assert_eq!(app.post(PATH, &many).await.places(), ["/pieces"]);
    app.stop().await;
}
