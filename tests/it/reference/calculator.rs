//! The conductor calculator: its fixed contract, what it says when nothing does, and what must hold for any question.

use proptest::prelude::*;
use rigbill::calc::circuits::conductor::{ConductorAnswer, ConductorRequest, NoConductor, answer, check};
use rigbill::calc::rules::sizes;
use rigbill::calc::take_off::LimitedBy;
use rigbill::calc::units::{AreaStandard, WireSize};
use serde_json::{Value, json};
use utoipa::PartialSchema;

use super::near;
use crate::reevaluate;

fn request(body: Value) -> ConductorRequest {
    serde_json::from_value(body).expect("a request")
}

fn ask(body: Value) -> Result<ConductorAnswer, NoConductor> {
    answer(&check(&request(body)).expect("a question without fault"))
}

fn gauge(size: &str) -> WireSize {
    size.parse().expect("a size")
}

/// A chandlery handbook's example: 10 A, 11 ft out and 10 ft back, 3 % of 12 V: 12 AWG by its full area (6530 cmil).
#[test]
fn the_example_of_the_contract() {
    let got = ask(json!({
        "system_voltage_v": 12, "current_a": 10, "round_trip_length": {"value": 21, "unit": "ft"}, "max_drop_percent": 3,
        "insulation_c": 105, "in_engine_space": false, "bundled_conductors": 1, "area_standard": "awg", "continuous": true
    }));
    let written = serde_json::to_value(got.unwrap()).unwrap();
    for (field, expected) in [
        ("gauge", json!("12 AWG")),
        ("area_cmil", json!(6530)),
        ("limited_by", json!("voltage_drop")),
        ("allowable_current_a", json!(45.0)),
        ("drop_v", json!(0.35)),
        ("drop_percent", json!(2.9)),
    ] {
        assert_eq!(written[field], expected, "{field}");
    }
    assert!(written.get("area_mm2").is_none());
}

#[test]
fn the_five_defaults_are_those_of_the_contract() {
    let short = request(json!({
        "system_voltage_v": 12, "current_a": 10, "round_trip_length": {"value": 21, "unit": "ft"}, "max_drop_percent": 3
    }));
    let long = request(json!({
        "system_voltage_v": 12, "current_a": 10, "round_trip_length": {"value": 21, "unit": "ft"}, "max_drop_percent": 3,
        "insulation_c": 105, "in_engine_space": false, "bundled_conductors": 1, "area_standard": "awg", "continuous": true
    }));
    assert_eq!(short, long);
}

/// What the description promises is what is taken: its defaults are the contract's, and every value of its lists is read.
#[test]
fn the_description_of_the_question_is_what_is_read() {
    let schema = serde_json::to_value(ConductorRequest::schema()).unwrap();
    let defaults = [
        ("insulation_c", json!(105)),
        ("in_engine_space", json!(false)),
        ("bundled_conductors", json!(1)),
        ("area_standard", json!("awg")),
        ("continuous", json!(true)),
    ];
    for (field, default) in defaults {
        assert_eq!(schema["properties"][field]["default"], default, "{field}");
    }
    for standard in schema["properties"]["area_standard"]["enum"].as_array().unwrap() {
        for insulation_c in schema["properties"]["insulation_c"]["enum"].as_array().unwrap() {
            let asked = with(body(12.0, 5.0, 10.0, 3.0), "area_standard", standard.clone());
            let faults = check(&request(with(asked, "insulation_c", insulation_c.clone()))).err().unwrap_or_default();
            // 70 and 85 °C are columns of the metric table only, 75 and 80 °C of the other.
            let metric_only = ["70", "85"].contains(&insulation_c.to_string().as_str());
            let gauge_only = ["75", "80"].contains(&insulation_c.to_string().as_str());
            let refused = if standard == "metric" { gauge_only } else { metric_only };
            assert_eq!(faults.len(), usize::from(refused), "{standard} {insulation_c}: {faults:?}");
        }
    }
}

fn body(volts: f64, amperes: f64, feet: f64, percent: f64) -> Value {
    json!({
        "system_voltage_v": volts, "current_a": amperes, "round_trip_length": {"value": feet, "unit": "ft"},
        "max_drop_percent": percent
    })
}

fn with(mut body: Value, field: &str, value: impl Into<Value>) -> Value {
    body[field] = value.into();
    body
}

/// The same example by SAE minimum areas: 12 AWG has only 5833 cmil, the next is 10 AWG.
#[test]
fn each_standard_has_its_own_area() {
    let sae = ask(with(body(12.0, 10.0, 21.0, 3.0), "area_standard", "sae")).unwrap();
    assert_eq!((sae.gauge, sae.area_cmil, sae.area_mm2), (gauge("10 AWG"), Some(9343), None));
    let metric = ask(with(body(12.0, 10.0, 21.0, 3.0), "area_standard", "metric")).unwrap();
    assert_eq!((metric.gauge, metric.area_cmil, metric.area_mm2), (gauge("4 mm2"), None, Some(4.0)));
    let written = serde_json::to_value(&metric).unwrap();
    assert_eq!((&written["gauge"], &written["area_mm2"]), (&json!("4 mm2"), &json!(4.0)));
    assert!(written.get("area_cmil").is_none());
}

/// 33 CFR 183.425 Table 5, 105 °C: what refuses the next smaller size.
#[test]
fn it_says_what_refused_the_next_smaller_size() {
    let short = |amperes| with(body(12.0, amperes, 1.0, 10.0), "continuous", false);
    let limited = |body: Value| {
        let got = ask(body).unwrap();
        (got.gauge.to_string(), got.limited_by)
    };
    assert_eq!(limited(short(1.0)), ("18 AWG".to_owned(), LimitedBy::MinimumSize));
    // 12 AWG carries 45 A.
    assert_eq!(limited(short(46.0)), ("10 AWG".to_owned(), LimitedBy::Ampacity));
    // 45 × 0.85 = 38.25 A in an engine space.
    assert_eq!(limited(with(short(40.0), "in_engine_space", true)), ("10 AWG".to_owned(), LimitedBy::EngineSpace));
    // 45 × 0.6 = 27 A with four in the bundle.
    assert_eq!(limited(with(short(30.0), "bundled_conductors", 4)), ("10 AWG".to_owned(), LimitedBy::Bundling));
    // 44 A for hours needs 55 A; 12 AWG allows 50 A.
    assert_eq!(limited(with(short(44.0), "continuous", true)), ("10 AWG".to_owned(), LimitedBy::Protection));
    // Drop and current both refuse 12 AWG (46 A over 6.5 ft at 3 %: 8,928 cmil): the drop is named.
    assert_eq!(limited(body(12.0, 46.0, 6.5, 3.0)), ("10 AWG".to_owned(), LimitedBy::VoltageDrop));
    // 3 AWG is considered, though printed grids skip it: 44,792 cmil.
    assert_eq!(limited(body(24.0, 10.0, 200.0, 2.0)), ("3 AWG".to_owned(), LimitedBy::VoltageDrop));
}

#[test]
fn when_nothing_does_it_says_what_would() {
    // 100 A over 200 ft at 3 % of 12 V: 597,222 cmil, three of 4/0 (211,600) each way; four times less at twice the voltage.
    let none = ask(body(12.0, 100.0, 200.0, 3.0)).unwrap_err();
    assert_eq!((none.largest, none.limited_by), (gauge("4/0 AWG"), LimitedBy::VoltageDrop));
    assert_eq!((none.in_parallel.conductors, none.in_parallel.gauge), (3, gauge("4/0 AWG")));
    let at = none.at_voltage.unwrap();
    assert_eq!((at.nominal_voltage_v, at.current_a, at.gauge), (24.0, 50.0, gauge("3/0 AWG")));
    let text = none.to_string();
    assert!(text.contains("3 of 4/0 AWG in parallel") && text.contains("24 V draws 50 A and needs 3/0 AWG"), "{text}");

    // 480 A over 2 ft: 4/0 carries 445 A. Two of 1 AWG would (245 A each), but 1/0 is the least that is paralleled.
    let none = ask(with(body(12.0, 480.0, 2.0, 10.0), "continuous", false)).unwrap_err();
    assert_eq!(none.limited_by, LimitedBy::Ampacity);
    assert_eq!((none.in_parallel.conductors, none.in_parallel.gauge), (2, gauge("1/0 AWG")));
    assert!(none.in_parallel.smaller_would_do);

    // The worst that can be asked is answered too, at once.
    let worst = json!({
        "system_voltage_v": 1, "current_a": 1000, "round_trip_length": {"value": 1, "unit": "m"}, "max_drop_percent": 0.1,
        "insulation_c": 60, "in_engine_space": true, "bundled_conductors": 1000
    });
    let none = ask(with(worst, "round_trip_length", json!({"value": 1000, "unit": "m"}))).unwrap_err();
    // 10.75 × 1000 A × 3280.84 ft ÷ 211,600 cmil = 166.678 V of 0.001 V.
    assert_eq!((none.in_parallel.conductors, none.at_voltage.is_some()), (166_678, false));
}

#[test]
fn every_fault_is_told_with_its_place() {
    let faults = check(&request(json!({
        "system_voltage_v": 0, "current_a": -1, "round_trip_length": {"value": 0, "unit": "ft"}, "max_drop_percent": 90,
        "insulation_c": 70, "bundled_conductors": 0
    })))
    .unwrap_err();
    let places: Vec<&str> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
    let expected = [
        "/system_voltage_v",
        "/current_a",
        "/round_trip_length",
        "/max_drop_percent",
        "/bundled_conductors",
        "/insulation_c",
    ];
    assert_eq!(places, expected);
    assert!(faults[5].message.contains("60, 75, 80, 90, 105, 125 or 200"), "{}", faults[5].message);
    // ISO 10133: insulation of 60 °C is not for engine spaces (from memory).
    let metric = with(with(body(12.0, 5.0, 10.0, 3.0), "area_standard", "metric"), "in_engine_space", true);
    let faults = check(&request(with(metric, "insulation_c", 60))).unwrap_err();
    assert_eq!(faults.len(), 1);
    assert!(serde_json::from_value::<ConductorRequest>(with(body(12.0, 5.0, 10.0, 3.0), "colour", "red")).is_err());
}

/// Any question that can be asked.
fn any_question() -> impl Strategy<Value = Value> {
    let standard = prop_oneof![Just("awg"), Just("sae"), Just("metric")];
    let insulation = prop_oneof![Just(60u16), Just(90), Just(105), Just(125), Just(200)];
    let load =
        (prop_oneof![Just(12.0), Just(24.0), Just(36.0), Just(48.0), 1.0..1000.0], 0.01..600.0, 0.1..400.0, 0.1..50.0);
    (load, standard, insulation, any::<bool>(), 1u32..40, any::<bool>()).prop_map(
        |((volts, amperes, feet, percent), standard, insulation, engine_space, bundled, continuous)| {
            let engine_space = engine_space && !(standard == "metric" && insulation == 60);
            json!({
                "system_voltage_v": volts, "current_a": amperes, "round_trip_length": {"value": feet, "unit": "ft"},
                "max_drop_percent": percent, "insulation_c": insulation, "in_engine_space": engine_space,
                "bundled_conductors": bundled, "area_standard": standard, "continuous": continuous
            })
        },
    )
}

/// Copper of an answer; without one more than any.
fn copper(body: &Value) -> f64 {
    ask(body.clone()).map_or(f64::INFINITY, |got| got.gauge.nominal_cmil())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn asking_more_never_gives_a_smaller_conductor(body in any_question(), more in 1.0f64..4.0) {
        let least = copper(&body);
        let number = |field: &str| body[field].as_f64().unwrap();
        let longer = json!({"value": body["round_trip_length"]["value"].as_f64().unwrap() * more, "unit": "ft"});
        for harder in [
            with(body.clone(), "round_trip_length", longer),
            with(body.clone(), "current_a", (number("current_a") * more).min(1000.0)),
            with(body.clone(), "max_drop_percent", (number("max_drop_percent") / more).max(0.1)),
            with(body.clone(), "bundled_conductors", (number("bundled_conductors") * more) as u32),
            with(body.clone(), "continuous", true),
        ] {
            prop_assert!(copper(&harder) >= least, "{harder}");
        }
        if body["insulation_c"] != 60 || body["area_standard"] != "metric" {
            prop_assert!(copper(&with(body.clone(), "in_engine_space", true)) >= least);
        }
    }

    #[test]
    fn an_answer_keeps_every_limit_and_its_basis_gives_it_again(body in any_question()) {
        if let Ok(got) = ask(body.clone()) {
            let at = |place: rigbill::calc::basis::BasisRef| {
                let derivation = serde_json::to_value(&got.basis.derivations[place.0 as usize]).unwrap();
                derivation["result"].as_f64().unwrap()
            };
            let number = |field: &str| body[field].as_f64().unwrap();
            prop_assert!(at(got.because.drop_percent) <= number("max_drop_percent") * (1.0 + 1e-8));
            prop_assert!(at(got.because.allowable_current_a) >= number("current_a") * (1.0 - 1e-8));
            prop_assert!(got.rating_a >= at(got.because.load_needs_a.unwrap()) * (1.0 - 1e-8));
            prop_assert!(got.rating_a <= got.conductor_allows_a);
            prop_assert!(got.conductor_allows_a <= got.table_current_a * 1.5);
            near(got.drop_v, at(got.because.drop_v), 0.00501, "drop_v");
            near(got.drop_percent, at(got.because.drop_percent), 0.0501, "drop_percent");
            near(got.allowable_current_a, at(got.because.allowable_current_a), 0.000501, "allowable_current_a");
            reevaluate::check_basis(&serde_json::to_value(&got.basis).unwrap());
        }
    }

    #[test]
    fn without_an_answer_the_proposals_hold(body in any_question()) {
        if let Err(none) = ask(body.clone()) {
            let number = |field: &str| body[field].as_f64().unwrap();
            if let Some(at) = none.at_voltage {
                let there = with(body.clone(), "system_voltage_v", at.nominal_voltage_v);
                let got = ask(with(there, "current_a", at.current_a));
                prop_assert_eq!(got.unwrap().gauge, at.gauge);
            }
            let share = |of: u32| {
                let added = if number("bundled_conductors") > 2.0 { 2 * (of - 1) } else { 0 };
                let bundled = number("bundled_conductors") as u32 + added;
                let body = with(body.clone(), "current_a", number("current_a") / f64::from(of));
                ask(with(body, "bundled_conductors", bundled))
            };
            if none.in_parallel.conductors < 100 {
                let got = share(none.in_parallel.conductors).unwrap();
                prop_assert!(none.in_parallel.gauge.at_least(got.gauge));
                if none.in_parallel.conductors > 2 {
                    prop_assert!(share(none.in_parallel.conductors - 1).is_err(), "one less does not do");
                }
            }
        }
    }
}

#[test]
fn every_size_can_be_the_answer() {
    for (standard, name) in [(AreaStandard::Awg, "awg"), (AreaStandard::Sae, "sae"), (AreaStandard::Metric, "metric")] {
        for &size in sizes::all(standard) {
            // A drop limit that this size just keeps and the next smaller does not, at a current that any size carries.
            let drop_v = 10.75 * 0.5 * 100.0 / sizes::area_cmil(size, standard).unwrap();
            let percent = 100.0 * drop_v * 1.0001;
            let body = body(1.0, 0.5, 100.0, percent);
            assert_eq!(ask(with(body, "area_standard", name)).unwrap().gauge, size);
        }
    }
}
