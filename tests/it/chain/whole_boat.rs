//! One whole boat, plumbing and data network included, against what such a job is known to take.

use rigbill::cli::demo::examples;
use rigbill::service::quotes::QuoteRequest;
use serde_json::Value;

use crate::demo::demo_service;

/// A fully rigged 22 to 24 ft center console of about 16 circuits, plumbing included, comes to roughly 70 h likely (common
/// practice).
#[tokio::test]
async fn a_fully_rigged_center_console_takes_about_seventy_hours() {
    let service = demo_service().await;
    let request: QuoteRequest = serde_json::from_str(&examples::example("center-console-rigged").unwrap()).unwrap();
    let quote = service.create_quote(request).await.unwrap();
    let document = service.quote_document(quote.value.id).await.unwrap();
    let document: Value = serde_json::from_slice(&document.bytes).unwrap();
    let take_off = &document["take_off"];
    let circuits = take_off["circuits"].as_array().unwrap();
    assert!((15..=17).contains(&circuits.len()), "{} circuits", circuits.len());
    assert!(take_off["plumbing"].is_object() && take_off["network"].is_object());
    let labour = &take_off["labour"];
    let hours = |name: &str| labour[name].as_f64().unwrap();
    assert!((63.0..=77.0).contains(&hours("likely_h")), "{} h likely", hours("likely_h"));
    assert!(hours("low_h") < hours("likely_h") && hours("likely_h") < hours("four_in_five_h"));
    assert!(hours("four_in_five_h") < hours("high_h"));
    let plan = take_off["work_plan"]["days"].as_array().unwrap();
    let planned: f64 = plan.iter().map(|day| day["hours"].as_f64().unwrap()).sum();
    assert!((planned - hours("likely_h")).abs() < 0.01, "{planned} h in {} days", plan.len());
    // Plumbing is counted from the pumps, and nothing of it is stated by name too.
    let operations = labour["operations"].as_array().unwrap();
    let count = |code: &str| {
        let found = operations.iter().find(|operation| operation["operation"] == code);
        found.unwrap_or_else(|| panic!("{code} is not counted"))["count"].as_str().unwrap().parse::<f64>().unwrap()
    };
    let holes = &take_off["plumbing"]["holes"]["below_waterline"];
    assert_eq!(count("through_hull_and_seacock"), holes.as_f64().unwrap());
    assert_eq!(count("haul_or_launch"), 2.0, "in and out once, for the holes and for the trial");
}
