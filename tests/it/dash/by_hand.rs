//! Layouts that were worked by hand, and what is cut and covered.

use rigbill::calc::dash::question::{DashAnswer, answer};
use serde_json::{Value, json};

fn inches(value: f64) -> Value {
    json!({"value": value, "unit": "in"})
}

fn box_part(id: &str, quantity: u16, part: &str, width: f64, height: f64) -> Value {
    json!({
        "id": id, "quantity": quantity, "mount": {
            "part": part,
            "cut_out": {"shape": "rectangle", "width": inches(width - 0.75), "height": inches(height - 0.75),
                "corner_radius": inches(0.25)},
            "outline": {"shape": "rectangle", "width": inches(width), "height": inches(height)},
            "depth_behind": inches(3.5)
        }
    })
}

fn gauge(id: &str, quantity: u16, diameter: f64) -> Value {
    json!({
        "id": id, "quantity": quantity, "mount": {
            "part": "gauge", "cut_out": {"shape": "round", "diameter": inches(diameter - 0.375)},
            "outline": {"shape": "round", "diameter": inches(diameter)}, "depth_behind": inches(3.0)
        }
    })
}

fn rectangle(width: f64, height: f64) -> Value {
    json!({"width": inches(width), "height": inches(height), "depth": inches(5.0)})
}

fn ask(face: Value, parts: Vec<Value>) -> DashAnswer {
    let request = serde_json::from_value(json!({"face": face, "parts": parts})).expect("a question");
    answer(&request).unwrap_or_else(|faults| panic!("{faults:?}"))
}

/// Key, inches from the centre line (port negative) and from the lower edge.
fn places(answer: &DashAnswer) -> Vec<(String, f64, f64)> {
    let dash = serde_json::to_value(&answer.dash).unwrap();
    let parts = dash["parts"].as_array().unwrap();
    let mut places: Vec<(String, f64, f64)> = parts
        .iter()
        .map(|part| {
            let centre = &part["centre"];
            let far = centre["from_centre"]["value"].as_f64().unwrap();
            let x = if centre["side"] == "port" { -far } else { far };
            (part["key"].as_str().unwrap().to_owned(), x, centre["from_lower_edge"]["value"].as_f64().unwrap())
        })
        .collect();
    places.sort_by(|a, b| a.0.cmp(&b.0));
    places
}

#[test]
fn one_display_stands_in_the_middle_with_the_same_gap_above_and_below() {
    // 16 less 8 is 8: 4 above, 4 below. Across, the centre line.
    let told = ask(rectangle(36.0, 16.0), vec![box_part("display", 1, "display", 12.0, 8.0)]);
    assert_eq!(places(&told), [("display".to_owned(), 0.0, 8.0)]);
    assert_eq!(told.dash.least_clearance.map(|gap| gap.value), Some(4.0));
    assert!(told.dash.fits && told.dash.proven && told.dash.broken_symmetries == Some(0));
}

#[test]
fn two_displays_mirror_each_other_with_equal_gaps() {
    // Across: 36 less 24 is 12, three gaps of 4, the same as above and below: 2 + 6 = 8 from the centre line.
    let told = ask(rectangle(36.0, 16.0), vec![box_part("display", 2, "display", 12.0, 8.0)]);
    let expected = [("display".to_owned(), 8.0, 8.0), ("display/2".to_owned(), -8.0, 8.0)];
    let mut found = places(&told);
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    assert_eq!(found.iter().map(|p| (p.1, p.2)).collect::<Vec<_>>(), expected.map(|p| (p.1, p.2)));
    assert_eq!(told.dash.least_clearance.map(|gap| gap.value), Some(4.0));
    assert!(told.dash.proven);
}

#[test]
fn a_stereo_goes_below_two_displays_and_all_gaps_are_even() {
    // Two displays of 12 by 8 in one row, a stereo of 8 by 3 on the centre line: over 30 in the stereo has to stand below.
    // In height 16 less 8 less 3 leaves 5 for three gaps: 1 10/16 each is the most that sixteenths allow with both parts
    // on the grid: 3 * 1.625 = 4.875. Across there are 6 for three gaps of 2.
    let told = ask(
        rectangle(30.0, 16.0),
        vec![box_part("display", 2, "display", 12.0, 8.0), box_part("stereo", 1, "stereo", 8.0, 3.0)],
    );
    let gap = told.dash.least_clearance.unwrap().value;
    assert!((gap - 1.625).abs() < 1e-9, "{gap}");
    let places = places(&told);
    assert_eq!((places[0].1.abs(), places[2].1), (7.0 - 0.0, 0.0), "{places:?}");
    // Displays as high as the gap allows, since the upper edge is eye height: 16 - 1.625 - 4.
    assert_eq!(places[0].2, 10.375);
    assert!(told.dash.proven && told.dash.broken_symmetries == Some(0));
}

#[test]
fn gauges_stand_in_pairs_and_an_odd_one_on_the_centre_line() {
    let told = ask(rectangle(24.0, 6.0), vec![gauge("gauge", 5, 3.375)]);
    // Five of 3 3/8 in one row over 24: six gaps of 7.125 / 6 = 1.1875; above and below 2.625 / 2 = 1.3125.
    assert!((told.dash.least_clearance.unwrap().value - 1.1875).abs() < 1e-9, "{:?}", told.dash.least_clearance);
    let mut xs: Vec<f64> = places(&told).iter().map(|place| place.1).collect();
    xs.sort_by(f64::total_cmp);
    assert_eq!(xs, [-9.125, -4.5625, 0.0, 4.5625, 9.125]);
    assert!(told.dash.proven && told.dash.broken_symmetries == Some(0));
}

#[test]
fn a_symmetry_that_cannot_be_kept_is_told_and_no_more_than_that() {
    // Two different parts of 5 in height on a dash of 8: they stand side by side, and one at least is off the centre line.
    let told = ask(
        rectangle(30.0, 8.0),
        vec![box_part("panel", 1, "panel", 7.0, 5.0), box_part("display", 1, "display", 9.0, 5.0)],
    );
    assert_eq!(told.dash.broken_symmetries, Some(1));
    assert!(told.dash.proven);
}

#[test]
fn what_does_not_fit_is_told_with_what_would_make_it_fit() {
    // 8 in of display on a face of 8 in, with half an inch of gap on both sides: 1 in is missing.
    let told = ask(rectangle(36.0, 8.0), vec![box_part("display", 2, "display", 12.0, 8.0)]);
    assert!(!told.dash.fits && !told.dash.placed && told.dash.proof.fit);
    let mends = serde_json::to_value(&told.dash.mends).unwrap();
    let of = |change: &str| mends.as_array().unwrap().iter().find(|mend| mend["change"] == change).cloned();
    assert_eq!(of("height").unwrap()["by"], inches(1.0));
    assert_eq!(of("clearance").unwrap()["by"], inches(0.5));
    assert!(of("width").is_none() && of("part_elsewhere").is_none(), "{mends}");
    // One display of the two has to go elsewhere where the width is missing.
    let told = ask(rectangle(20.0, 10.0), vec![box_part("display", 2, "display", 12.0, 8.0)]);
    let mends = serde_json::to_value(&told.dash.mends).unwrap();
    let of = |change: &str| mends.as_array().unwrap().iter().find(|mend| mend["change"] == change).cloned();
    // 24 and three gaps of 0.5 are 25.5.
    assert_eq!(of("width").unwrap()["by"], inches(5.5));
    assert_eq!(of("part_elsewhere").unwrap()["part"], "display");
    assert!(told.dash.advice.iter().any(|advice| advice.contains("respirator")));
}

#[test]
fn depth_that_is_missing_is_told_part_by_part() {
    let mut face = rectangle(36.0, 16.0);
    face["depth"] = inches(3.25);
    let mut deep = box_part("radio", 1, "radio", 7.0, 3.0);
    deep["mount"].as_object_mut().unwrap().remove("depth_behind");
    let told = ask(face, vec![box_part("display", 1, "display", 12.0, 8.0), deep, gauge("gauge", 1, 2.5)]);
    assert!(told.dash.placed && !told.dash.fits);
    let lacking: Vec<(String, f64, bool)> = told
        .dash
        .parts
        .iter()
        .filter_map(|part| part.depth.as_ref().map(|depth| (part.key.to_string(), depth.lacking.value, depth.usual)))
        .filter(|(_, lacking, _)| *lacking > 0.0)
        .collect();
    // 3.5 less 3.25; and 4 in where nobody has said, less 3.25.
    assert!(
        lacking.contains(&("display".to_owned(), 0.25, false)) && lacking.contains(&("radio".to_owned(), 0.75, true))
    );
    assert_eq!(lacking.len(), 2);
}

#[test]
fn old_openings_go_with_a_cut_out_or_take_a_plate() {
    let round = |x: f64, y: f64, diameter: f64| json!({"shape": "round", "from_left": inches(x), "from_bottom": inches(y), "diameter": inches(diameter)});
    let mut face = rectangle(36.0, 16.0);
    face["old_openings"] = json!([
        {"name": "within", "area": round(18.0, 8.0, 5.0)},
        {"name": "larger", "area": {"shape": "rectangle", "from_left": inches(11.0), "from_bottom": inches(5.0), "width": inches(14.0), "height": inches(6.0)}},
        {"name": "apart", "area": round(3.0, 3.0, 2.0)}
    ]);
    let told = ask(face, vec![box_part("display", 1, "display", 12.0, 8.0)]);
    let openings = serde_json::to_value(&told.dash.old_openings).unwrap();
    assert_eq!(openings[0]["fate"], "swallowed");
    // 14 by 6 under an outline of 12 by 8: the plate covers 14 by 8 and an inch more on every side.
    assert_eq!(openings[1]["fate"], "overlay_plate");
    assert_eq!((&openings[1]["plate"]["width"], &openings[1]["plate"]["height"]), (&inches(16.0), &inches(10.0)));
    assert_eq!(openings[2]["fate"], "cover_plate");
    assert_eq!(openings[2]["plate"]["width"], inches(4.0));
    // Sawn 1/32 in inside the line on every side, corners drilled at twice their radius.
    let cut = &serde_json::to_value(&told.dash.cut_list).unwrap()[0];
    assert_eq!((&cut["sawn"]["width"], &cut["sawn"]["height"]), (&inches(11.1875), &inches(7.1875)));
    assert_eq!(cut["corner_drill"], inches(0.5));
    assert_eq!((&cut["corner_holes"]["width"], &cut["corner_holes"]["height"]), (&inches(5.375), &inches(3.375)));
}

#[test]
fn a_dash_of_ten_parts_is_laid_out_and_proven() {
    let told = ask(
        rectangle(44.0, 20.0),
        vec![
            box_part("display", 2, "display", 12.5, 8.0),
            box_part("panel", 1, "panel", 9.75, 5.5),
            box_part("stereo", 1, "stereo", 5.25, 3.25),
            gauge("gauge", 4, 2.375),
            box_part("keypad", 2, "keypad", 3.0, 4.0),
        ],
    );
    assert!(told.dash.fits && told.dash.broken_symmetries == Some(0), "{:?}", told.dash);
    assert!(told.dash.proven, "{:?} after {} steps", told.dash.proof, told.dash.work);
}

#[test]
fn the_same_question_in_another_order_has_the_same_answer() {
    let parts = vec![
        box_part("display", 2, "display", 12.0, 8.0),
        box_part("stereo", 1, "stereo", 8.0, 3.0),
        gauge("gauge", 2, 2.375),
    ];
    let turned: Vec<Value> = parts.iter().rev().cloned().collect();
    let (one, other) = (ask(rectangle(40.0, 16.0), parts), ask(rectangle(40.0, 16.0), turned));
    assert_eq!(serde_json::to_string(&one).unwrap(), serde_json::to_string(&other).unwrap());
}
