//! Every rule again, written apart from the program: from the inputs that a basis stores, to the figure it states.
//!
//! Published tables come from `reference/data`, not from the program's own.

pub mod network;

use serde_json::{Map, Value, json};

use crate::reference::{Row, rows};

/// The ratings of fuses and breakers that the trade can buy, amperes (makers' charts and memory).
const RATINGS_A: [f64; 41] = [
    0.25, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 8.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 50.0, 60.0, 70.0, 75.0,
    80.0, 90.0, 100.0, 110.0, 120.0, 125.0, 130.0, 135.0, 150.0, 175.0, 200.0, 225.0, 250.0, 275.0, 300.0, 325.0,
    350.0, 400.0, 450.0, 500.0, 600.0,
];

/// What a rule gives from its inputs, with the ratings of the trade. `None` for a rule that is not known here.
pub fn evaluate(rule: &str, inputs: &Map<String, Value>) -> Option<Value> {
    evaluate_with(rule, inputs, &RATINGS_A)
}

/// The same with the ratings that a shop keeps, rising.
pub fn evaluate_with(rule: &str, inputs: &Map<String, Value>, ratings_a: &[f64]) -> Option<Value> {
    let of = |name: &str| inputs[name].as_f64().unwrap_or_else(|| panic!("{rule}: input '{name}' in {inputs:?}"));
    let figure = match rule {
        "area.awg" => gauge_row(of("awg")).number("nec_cmil"),
        "area.sae" => gauge_row(of("awg")).number("sae_cmil"),
        // One circular mil is a circle of a thousandth of an inch.
        "area.metric" => of("mm2") / (std::f64::consts::FRAC_PI_4 * 0.0254f64.powi(2)),
        "ampacity.table5" => row(include_str!("reference/data/cfr183_table5.csv"), "awg", of("awg"))
            .number(&of("insulation_c").to_string()),
        "ampacity.metric" => row(include_str!("reference/data/iso_ampacity.csv"), "mm2", of("mm2"))
            .number(&of("insulation_c").to_string()),
        "ampacity.engine_space" => {
            let insulation_c = of("insulation_c");
            row(include_str!("reference/data/cfr183_engine_space.csv"), "insulation_c", insulation_c).number("factor")
        }
        "ampacity.engine_space_metric" => rows(include_str!("reference/data/iso_ampacity.csv"))
            .last()
            .expect("the row of factors")
            .number(&of("insulation_c").to_string()),
        "ampacity.bundle" => {
            let bundles = rows(include_str!("reference/data/bundle.csv"));
            let holds = |row: &&Row| row.number("from").max(1.0) <= of("loaded_conductors").max(1.0);
            bundles.iter().rfind(holds).expect("a row for every bundle").number("factor")
        }
        "ampacity.corrected" => of("engine_space_factor") * of("bundle_factor") * of("table_current_a"),
        "dash.gap" => {
            let (across, along) = (of("across_mm") - of("half_widths_mm"), of("along_mm") - of("half_heights_mm"));
            if across > along { across } else { along }
        }
        "dash.gap_slant" => {
            // The distance of the middle from the line, less what the box reaches towards it, in the growth of a corner.
            let (run, rise) = (of("run_mm"), of("rise_mm"));
            let long = run.hypot(rise);
            let far = (run * of("up_mm") - rise * of("across_mm")).abs() / long;
            let reach = (rise.abs() * of("half_width_mm") + run.abs() * of("half_height_mm")) / long;
            (far - reach) * long / (run.abs() + rise.abs())
        }
        "dash.gap_round" => {
            let (near, far, r) = (of("near_mm"), of("far_mm"), of("radius_mm"));
            if far - near >= r {
                far - r
            } else {
                let mean = (near + far) / 2.0;
                mean - (r * r / 2.0 - ((far - near) / 2.0).powi(2)).sqrt()
            }
        }
        "dash.eye_height" => of("weighed_mm3") / of("area_mm2"),
        "dash.depth" => f64::max(0.0, of("needed_mm") - of("available_mm")),
        "dash.sawn" => of("cut_out_mm") - of("to_file_mm") - of("to_file_mm"),
        "dash.plate" => of("beyond_mm") + of("covered_mm") + of("beyond_mm"),
        "drop.copper" => of("length_ft") / of("area_cmil") * of("copper_ohm_cmil_per_ft") * of("current_a"),
        "drop.percent" => of("drop_v") / of("nominal_voltage_v") * 100.0,
        "load.panel" => {
            let tenth = of("occasional_a") * 0.1;
            of("always_a") + if tenth > of("largest_occasional_a") { tenth } else { of("largest_occasional_a") }
        }
        "protection.need" => f64::max(of("continuous_factor") * of("current_a"), of("least_rating_a")),
        "protection.main" => {
            let occasional = f64::max(0.1 * of("occasional_a"), of("largest_occasional_a"));
            f64::max(of("continuous_factor") * of("always_a") + occasional, of("largest_branch_a"))
        }
        "protection.conductor" => allowed_a(of("allowable_current_a"), &RATINGS_A),
        "protection.conductor_maker" => {
            let mut ratings: Vec<f64> = RATINGS_A.iter().copied().chain([of("maker_fuse_a")]).collect();
            ratings.sort_by(f64::total_cmp);
            allowed_a(of("allowable_current_a"), &ratings)
        }
        "protection.rating" => {
            let list: Vec<f64> = match inputs["ratings"].as_str().expect("the name of a list") {
                "branch" => ratings_a.to_vec(),
                "standard" => RATINGS_A.to_vec(),
                // Terminal-mount cubes as makers' charts list them; class T and ANL from the same and from memory.
                "terminal_cube" => vec![
                    30.0, 40.0, 50.0, 60.0, 75.0, 80.0, 90.0, 100.0, 125.0, 150.0, 175.0, 200.0, 225.0, 250.0, 300.0,
                ],
                "anl" => vec![
                    35.0, 40.0, 50.0, 60.0, 80.0, 100.0, 130.0, 150.0, 175.0, 200.0, 225.0, 250.0, 275.0, 300.0, 325.0,
                    350.0, 400.0,
                ],
                "class_t" => {
                    vec![110.0, 125.0, 150.0, 175.0, 200.0, 225.0, 250.0, 300.0, 350.0, 400.0, 450.0, 500.0, 600.0]
                }
                // ISO 8820-3 and breaker makers' charts, from memory.
                "blade" => vec![1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0],
                "breaker" => vec![
                    5.0, 8.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 50.0, 60.0, 70.0, 80.0, 100.0, 120.0, 135.0,
                    150.0, 175.0, 200.0,
                ],
                other => panic!("no list of ratings is carried over for {other}"),
            };
            let rating_a = list.into_iter().find(|rating| rating * (1.0 + 1e-9) >= of("load_needs_a"))?;
            assert!(rating_a <= of("conductor_allows_a"), "{rating_a} A is more than {inputs:?} allows");
            rating_a
        }
        "protection.maker" => {
            assert!(of("maker_fuse_a") <= of("conductor_allows_a"), "the maker's fuse is more than {inputs:?} allows");
            of("maker_fuse_a")
        }
        "protection.interrupt" | "protection.interrupt_branch" => {
            let (column, beyond) =
                if rule == "protection.interrupt" { ("main", 20_000.0) } else { ("branch", 10_000.0) };
            let table = rows(include_str!("reference/data/battery_interrupt.csv"));
            let volts = [12.0, 24.0, 32.0].into_iter().find(|&v| of("nominal_voltage_v") <= v).unwrap_or(32.0);
            let holds = |row: &&Row| row.number("volts") == volts && of("cold_cranking_a") <= row.number("cranking_to");
            table.iter().find(holds).map_or(beyond, |row| row.number(column))
        }
        _ => return crate::pricing::evaluate(rule, inputs),
    };
    Some(json!(figure))
}

/// Every rule of a take-off, with the ratings that the shop keeps for branches.
pub fn evaluate_chain(rule: &str, inputs: &Map<String, Value>, ratings_a: &[f64]) -> Option<Value> {
    let of = |name: &str| inputs[name].as_f64().unwrap_or_else(|| panic!("{rule}: input '{name}' in {inputs:?}"));
    let figure = match rule {
        "length.installed" => of("ends_m") + of("rises_m") + of("route_m"),
        "length.cut" => {
            let grown = |length: &str, waste: &str| of(length) + of(length) * of(waste) / 100.0;
            grown("measured_m", "waste_measured_percent") + grown("estimated_m", "waste_estimated_percent")
        }
        "run.layout" => {
            let share = |of_what: &str, size: &str| of(of_what) * of(size);
            share("of_beam", "beam_m")
                + share("of_depth", "depth_m")
                + share("of_length", "hull_length_m")
                + of("more_m")
        }
        "run.way" => of("turns") * of("turn_m") + of("slack_factor") * (of("dz_m") + of("dy_m") + of("dx_m")),
        "drop.conductor" => {
            let per_area = of("length_ft") / of("area_cmil") + of("lead_length_ft") / of("lead_area_cmil");
            // Where cables of the bank stand before it.
            let before =
                inputs.get("before_length_ft").map_or(0.0, |feet| feet.as_f64().unwrap() / of("before_area_cmil"));
            (per_area + before) * of("current_a") * of("copper_ohm_cmil_per_ft")
        }
        "power.distance" => match (inputs["sheathed"].as_str()?, inputs["source"].as_str()?) {
            // ABYC E-11.12 as quoted in the trade.
            ("no", _) => 7.0,
            ("yes", "battery terminal") => 72.0,
            ("yes", "other") => 40.0,
            other => panic!("no distance for {other:?}"),
        },
        "power.spare_positions" => {
            let share = (of("used") * of("spare_positions_percent") / 100.0).ceil();
            of("used") + f64::max(share, of("least_spare_positions"))
        }
        "bank.capacity" => of("parallel") * of("least_battery_ah"),
        "bank.cranking" => of("parallel") * of("largest_battery_a"),
        "bank.jumpers" => of("parallel") * (of("series") - 1.0) + (of("parallel") - 1.0) * 2.0,
        "charge.target" => inputs.get("maker_a").and_then(Value::as_f64).unwrap_or_else(|| of("capacity_ah") / 5.0),
        "charge.floor" => of("capacity_ah") / 10.0,
        "charge.case_ground" => {
            // Trade sizes, falling; the last row is the least for one conductor by itself.
            let (lead, sizes): (f64, &[f64]) = match inputs.get("lead_awg") {
                Some(awg) => {
                    (awg.as_f64()?, &[-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0])
                }
                None => {
                    (of("lead_mm2"), &[150.0, 120.0, 95.0, 70.0, 50.0, 35.0, 25.0, 16.0, 10.0, 6.0, 4.0, 2.5, 1.5, 1.0])
                }
            };
            let place = sizes.iter().position(|size| *size == lead).unwrap_or(sizes.len());
            sizes[(place + 1).min(sizes.len() - 1)]
        }
        "charge.idle" => of("alternator_a") * 0.4,
        "energy.load" => of("hours") * of("current_a"),
        "energy.bank" => of("days") * of("daily_ah") / of("depth_of_discharge"),
        "energy.hours" => of("daily_ah") / of("charge_a"),
        "power.switch_rating" => of("main_rating_a"),
        "power.engine_switch" => of("cranking_a"),
        "power.stud" => {
            // Four, as two trade articles on ABYC E-11 say.
            assert!(of("terminals_max") == 4.0, "{inputs:?}");
            return Some(json!(if of("terminals") > 4.0 { "bus" } else { "stud" }));
        }
        "along.fill" => of("squares_in2") * 100.0 / of("tube_in").powi(2),
        "along.fill_most" => share_of_tube(of("cables")) * 100.0,
        "along.narrowest" => f64::sqrt(of("squares_in2") / share_of_tube(of("cables"))),
        "along.room" => {
            let inside = of("tube_in").powi(2);
            let fits = |more: f64| {
                let all = of("squares_in2") + more * of("more_in").powi(2);
                all <= share_of_tube(of("cables") + more) * inside * (1.0 + 1e-9)
            };
            // Two cables may fill less than three: so the most that fits, and not the first that does not.
            (1..2000).map(f64::from).filter(|more| fits(*more)).fold(0.0, f64::max)
        }
        "along.bundle" => {
            let thick = of("squares_in2").sqrt() * if of("cables") > 1.5 { 1.2 } else { 1.0 };
            let sizes = [0.25, 0.375, 0.5, 0.625, 0.75, 1.0, 1.25, 1.5, 2.0, 3.0, 4.0];
            sizes.into_iter().find(|size| *size >= thick - 1e-9).unwrap_or(4.0)
        }
        "along.spaced" => (of("run_m") / of("spacing_m") - 1e-9).ceil(),
        "along.each" => of("drivers") * of("per_driver"),
        "along.by_run" => of("tail_m") + of("tail_m") + of("run_m"),
        "plumbing.bore" => match inputs.get("stated_in") {
            Some(stated) => stated.as_f64()?,
            // Common practice: 1 1/8 in out of a bilge, 3/4 in from the sea, 1/2 in to a wash-down hose.
            None => match (inputs["pump_kind"].as_str()?, inputs["port"].as_str()?) {
                ("bilge", "outlet") => 1.125,
                ("wash_down", "outlet") => 0.5,
                ("live_well" | "wash_down" | "bait", _) => 0.75,
                other => panic!("no usual hose for {other:?}"),
            },
        },
        "plumbing.intake" => {
            let pipes = [0.5f64, 0.75, 1.0, 1.25, 1.5, 2.0, 3.0];
            let across = of("squares_in2").sqrt();
            pipes.into_iter().find(|pipe| *pipe >= across - 1e-9).unwrap_or(3.0)
        }
        "plumbing.hose" => of("loop_m") + f64::max(of("least_m"), of("rises_m") + of("route_m")),
        "plumbing.clamps" => of("ends_above") + of("ends_below") + of("ends_below"),
        "plumbing.packs" => (of("count") / of("per_pack")).ceil(),
        "plumbing.core" if inputs["cored"] == "no" => 0.0,
        "plumbing.core" => of("holes"),
        "power.before_feeder" => of("before_current_a") / of("current_a") * of("length_ft"),
        "drop.circuit" => {
            let volts = of("feeder_positive_v") + of("feeder_return_v") + of("positive_v") + of("return_v");
            volts / of("nominal_voltage_v") * 100.0
        }
        "jacket.minimum" => {
            // ABYC E-11 clause 11.14.1.2 lets 30 in lie bare, ISO 10133 7.7 800 mm.
            let bare = of("break_out_mm");
            return Some(json!(match inputs["sizes"].as_str()? {
                "gauge" if bare / 25.4 <= 30.0 => "18 AWG",
                "gauge" => "16 AWG",
                "metric" if bare <= 800.0 => "0.75 mm2",
                "metric" => "1 mm2",
                other => panic!("no such sizes: {other}"),
            }));
        }
        // The circle round three equal ones: their centres are two thirds of a height from its own.
        "jacket.outside" => {
            let height = f64::sqrt(3.0) / 2.0;
            let across = if of("conductors") == 2.0 { 2.0 } else { 1.0 + 2.0 * height * 2.0 / 3.0 };
            of("wall_in") * 2.0 + of("conductor_in") * across
        }
        "colour.jacket" => {
            return Some(json!(match inputs["role"].as_str()? {
                "positive" => "red",
                "second positive" => "brown",
                _ => inputs["negative"].as_str()?,
            }));
        }
        "copper.saving" => 100.0 - of("least_cmil_ft") / of("even_split_cmil_ft") * 100.0,
        "colour.function" if inputs["lead"] == "constant" && inputs["function"] != "bilge_pump" => {
            return Some(json!("red"));
        }
        "colour.function" => return Some(json!(function_colour(inputs["function"].as_str()?))),
        "labour.operation" => {
            let count: f64 = inputs["count"].as_str().map_or_else(|| of("count"), |count| count.parse().unwrap());
            count * of("likely_min") * of("job_factor") / 60.0
        }
        "labour.four_in_five" => {
            let rho = of("correlation");
            let variance = rho * of("sum_of_deviations_h").powi(2) + (1.0 - rho) * of("sum_of_variances_h2");
            of("mean_h") + 0.8416 * variance.sqrt()
        }
        _ => return network::evaluate(rule, inputs).or_else(|| evaluate_with(rule, inputs, ratings_a)),
    };
    Some(json!(figure))
}

/// NEC Chapter 9 Table 1: one cable 53 %, two 31 %, more 40 %.
fn share_of_tube(cables: f64) -> f64 {
    match cables as u32 {
        0 | 1 => 0.53,
        2 => 0.31,
        _ => 0.40,
    }
}

/// ABYC E-11 Tables XIV and XV as listed in public, by function; what they do not name is an accessory feed.
fn function_colour(function: &str) -> &'static str {
    match function {
        "bilge_pump" | "live_well_pump" | "wash_down_pump" | "fresh_water_pump" | "waste_pump" => "brown",
        "bilge_blower" => "brown/yellow",
        "navigation_light" => "dark grey",
        "interior_light" => "dark blue",
        "instrument" => "purple",
        // Motors at the bow are main feeds (common practice).
        "windlass" | "bow_motor" => "red",
        _ => "orange",
    }
}

fn row(text: &'static str, column: &str, value: f64) -> Row {
    let found = rows(text).into_iter().find(|row| row.text(column).parse() == Ok(value));
    found.unwrap_or_else(|| panic!("no row with {column} {value}"))
}

fn gauge_row(awg: f64) -> Row {
    row(include_str!("reference/data/awg_areas.csv"), "awg", awg)
}

/// ABYC E-11 as quoted in the trade: up to the allowable current, or the next rating if within half as much again.
fn allowed_a(allowable_a: f64, ratings_a: &[f64]) -> f64 {
    let (mut below, mut next) = (0.0, f64::INFINITY);
    for &rating in ratings_a {
        if rating <= allowable_a * (1.0 + 1e-9) {
            below = f64::max(below, rating);
        } else {
            next = f64::min(next, rating);
        }
    }
    if next <= allowable_a * 1.5 * (1.0 + 1e-9) { next } else { below }
}

/// Re-evaluates every derivation of a basis in JSON, and checks that it carries each of its rules once.
pub fn check_basis(basis: &Value) {
    check_basis_with(basis, evaluate);
}

/// The same with another evaluation, such as one with a shop's own ratings.
pub fn check_basis_with(basis: &Value, evaluate: impl Fn(&str, &Map<String, Value>) -> Option<Value>) {
    let ids: Vec<&str> = basis["rules"].as_array().unwrap().iter().map(|rule| rule["id"].as_str().unwrap()).collect();
    assert!(ids.windows(2).all(|pair| pair[0] < pair[1]), "each rule once, in order: {ids:?}");
    for derivation in basis["derivations"].as_array().unwrap() {
        let rule = derivation["rule"].as_str().unwrap();
        assert!(ids.contains(&rule), "the basis does not carry its rule {rule}");
        let inputs = derivation["inputs"].as_object().unwrap();
        let again = evaluate(rule, inputs).unwrap_or_else(|| panic!("no evaluation of {rule}"));
        match (again.as_f64(), derivation["result"].as_f64()) {
            (Some(again), Some(stated)) => {
                let tolerance = 1e-9 * f64::max(1.0, stated.abs());
                assert!((again - stated).abs() <= tolerance, "{rule} {inputs:?}: {again}, not {stated}");
            }
            _ => assert_eq!(again, derivation["result"], "{rule} {inputs:?}"),
        }
    }
}

#[test]
fn a_figure_put_in_by_hand_is_found() {
    let basis = |result: f64| {
        json!({
            "rules": [{"id": "drop.percent"}],
            "derivations": [{"rule": "drop.percent", "inputs": {"drop_v": 0.36, "nominal_voltage_v": 12.0}, "result": result}]
        })
    };
    check_basis(&basis(3.0));
    assert!(std::panic::catch_unwind(|| check_basis(&basis(2.9))).is_err());
}
