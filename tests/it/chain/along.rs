//! Along the way of cable: tubes, supports, grommets and what else is counted by what drives it.

use rigbill::calc::rules::along::{fill_share, narrowest_in, room};
use serde_json::{Value, json};

use super::{near, row, run, small_boat, taken};

fn light() -> Value {
    json!({"id": "light", "sku": "LIGHT-1", "quantity": 1, "station": "aft_bilge"})
}

/// Inside diameters and areas of electrical metallic tubing: NEC Chapter 9 Table 4, from memory. The columns are trade size,
/// inside diameter in inches, and square inches for one cable, for two, and for more.
const TABLE_4: [(&str, f64, f64, f64, f64); 6] = [
    ("1/2", 0.622, 0.161, 0.094, 0.122),
    ("3/4", 0.824, 0.283, 0.165, 0.213),
    ("1", 1.049, 0.458, 0.268, 0.346),
    ("1 1/4", 1.380, 0.793, 0.464, 0.598),
    ("1 1/2", 1.610, 1.079, 0.631, 0.814),
    ("2", 2.067, 1.778, 1.040, 1.342),
];

#[test]
fn the_shares_of_a_tube_are_the_areas_of_the_codes_own_table() {
    for (size, inside_in, one, two, more) in TABLE_4 {
        let area = std::f64::consts::FRAC_PI_4 * inside_in * inside_in;
        for (cables, expected) in [(1, one), (2, two), (3, more), (40, more)] {
            let found = fill_share(cables) * area;
            assert!((found - expected).abs() < 0.0006, "{size}, {cables} cables: {found}, not {expected}");
        }
    }
}

/// How many conductors of one size go into tubing: NEC Annex C Table C.1 for THHN of 14, 12, 10 and 8 AWG, whose diameters
/// stand in Chapter 9 Table 5; both from memory. Rows where the code rounds up by note 7 (eight tenths and more) are left out,
/// since here it is always rounded down.
#[test]
fn what_fits_is_what_the_codes_annex_counts() {
    let diameters_in = [0.111, 0.130, 0.164, 0.216];
    let annex: [(f64, [Option<u32>; 4]); 3] = [
        (0.622, [Some(12), Some(9), Some(5), Some(3)]),
        (0.824, [None, Some(16), Some(10), None]),
        (1.049, [Some(35), Some(26), Some(16), Some(9)]),
    ];
    for (inside_in, counts) in annex {
        for (across_in, count) in diameters_in.into_iter().zip(counts) {
            if let Some(count) = count {
                assert_eq!(room(inside_in, 0, 0.0, across_in), count, "{across_in} in {inside_in}");
            }
        }
    }
}

#[test]
fn the_narrowest_tube_holds_what_it_was_reckoned_for_and_no_more() {
    for (cables, squares_in2) in [(1, 0.02), (2, 0.04), (3, 0.06), (17, 0.9)] {
        let inside_in = narrowest_in(cables, squares_in2);
        assert!(squares_in2 <= fill_share(cables) * inside_in * inside_in * (1.0 + 1e-9));
        let each_in = f64::sqrt(squares_in2 / f64::from(cables));
        assert!(room(inside_in * 0.999, cables - 1, squares_in2 - each_in * each_in, each_in) == 0 || cables == 2);
    }
}

/// A light's two 16 AWG conductors, 0.115 in thick, in a tube of 1/2 in: 2 * 0.115^2 / 0.5^2 = 10.6 % of the 31 % for two.
#[test]
fn a_tube_is_filled_by_what_is_pulled_and_by_what_is_in_it() {
    let mut spec = small_boat(json!([light()]));
    let tube = &mut spec["boat"]["runs"][1];
    tube["inside_diameter"] = json!({"value": 0.5, "unit": "in"});
    let first = taken(&spec);
    let fill = row(&first["along"]["runs"], "from", "aft_bilge")["tube"].clone();
    near(&fill["fill_percent"], 10.6, 0.1);
    near(&fill["most_percent"], 31.0, 1e-9);
    assert!(row(&first["along"]["runs"], "from", "aft_bilge").get("supports").is_none());

    // Five more of 1/8 in: 0.1046 square inches of diameters, 41.9 % of the 40 % for seven.
    spec["boat"]["runs"][1]["in_tube"] = json!([{"outside_diameter": {"value": 0.125, "unit": "in"}, "count": 5}]);
    let fuller = taken(&spec);
    let fill = &row(&fuller["along"]["runs"], "from", "aft_bilge")["tube"];
    near(&fill["fill_percent"], 41.9, 0.15);
    near(&fill["most_percent"], 40.0, 1e-9);
    assert_eq!((&fill["already"], &fill["room"]), (&json!(5), &json!(0)));
    let warned = fuller["warnings"].to_string();
    assert!(warned.contains("run/aft_bilge-battery_bay") && warned.contains("full"), "{warned}");
    assert!(!first["warnings"].to_string().contains("full"));

    // What has more area than the tube cannot be pulled at all.
    spec["boat"]["runs"][1]["in_tube"][0]["count"] = json!(30);
    assert!(taken(&spec)["gaps"].to_string().contains("through a tube"));
}

/// ABYC E-11 (from memory): supports at most every 18 in. 9.5 ft are 114 in and 6.3 spacings, 11 ft are 132 in and 7.3.
#[test]
fn supports_stand_at_the_published_spacing_and_never_further() {
    let spec = small_boat(json!([light()]));
    let taken = taken(&spec);
    let supports = |from: &str| row(&taken["along"]["runs"], "from", from)["supports"]["count"].clone();
    assert_eq!((supports("battery_bay"), supports("aft_bilge")), (json!(7), json!(8)));
    // ISO 10133, 7.3: 450 mm where wire is metric. 132 in are 3352.8 mm, 7.5 spacings; 114 in are 2895.6 mm, 6.4.
    let shop = super::shop::shop();
    let mut settings = (*shop.settings).clone();
    settings.along.support_spacing = serde_json::from_value(json!({"value": 36, "unit": "in"})).unwrap();
    let shop = rigbill::calc::shop::Shop { settings: settings.into(), ..shop };
    let wider = super::take_off(&serde_json::from_value(spec).unwrap(), &shop).unwrap();
    let counts: Vec<u32> = wider.along.unwrap().runs.iter().map(|run| run.supports.unwrap().count).collect();
    assert_eq!(counts, [8, 7], "the shop's wider spacing does not stand");
}

#[test]
fn every_bulkhead_has_a_grommet_and_every_tube_a_messenger_line() {
    let mut spec = small_boat(json!([light()]));
    spec["boat"]["runs"][0]["bulkheads"] = json!(2);
    spec["boat"]["runs"][1]["access"] = json!("tube");
    let taken = taken(&spec);
    let along = &taken["along"];
    assert_eq!(row(&along["runs"], "from", "battery_bay")["grommets"]["count"], 2);
    // 11 ft and 2 ft out at both ends, 10 % waste.
    let line = row(&along["pieces"], "requirement", "messenger_line");
    near(&line["cut_length"]["value"], 16.5, 1e-9);
    assert_eq!(along["drip_loops"]["count"], 1);
    assert_eq!(along["labels"]["count"].as_u64().unwrap(), 2 * taken["cut_list"].as_array().unwrap().len() as u64);
}

/// Counted or percent, never both (common practice).
#[test]
fn what_is_used_up_is_charged_by_the_piece_or_in_the_shop_supplies() {
    let input = serde_json::from_value(small_boat(json!([light()]))).unwrap();
    let kinds = |consumables: &str| {
        let shop = super::shop::shop();
        let mut settings = (*shop.settings).clone();
        settings.along.consumables = serde_json::from_value(json!(consumables)).unwrap();
        let shop = rigbill::calc::shop::Shop { settings: settings.into(), ..shop };
        let taken = super::take_off(&input, &shop).unwrap();
        let kinds = taken.requirements.iter().map(|r| serde_json::to_value(&r.need).unwrap()["kind"].clone());
        (kinds.filter(|kind| kind == "fastener" || kind == "consumable").count(), taken.along.unwrap().runs.len())
    };
    let (listed, runs) = kinds("counted");
    assert!(listed >= 4, "clamps, ties, protectant, solvent: {listed}");
    assert_eq!(kinds("shop_supplies"), (0, runs));
}

/// A foot less of run never takes more of anything.
#[test]
fn a_shorter_run_never_takes_more() {
    let mut spec = small_boat(json!([light()]));
    let mut before = [u64::MAX; 2];
    for tenths in (1..200).rev() {
        spec["boat"]["runs"][1]["length"]["value"] = json!(f64::from(tenths) / 10.0);
        let taken = taken(&spec);
        let bundle = row(&taken["along"]["runs"], "from", "aft_bilge");
        let now = ["supports", "ties"].map(|what| bundle[what]["count"].as_u64().unwrap());
        assert!(now[0] <= before[0] && now[1] <= before[1], "{tenths}: {now:?} after {before:?}");
        before = now;
    }
}

#[test]
fn a_tube_that_makes_no_sense_is_refused_with_its_place() {
    let mut spec = small_boat(json!([light()]));
    spec["boat"]["runs"][1]["in_tube"] = json!([{"outside_diameter": {"value": 0.0, "unit": "in"}, "count": 0}]);
    spec["boat"]["runs"][1]["bulkheads"] = json!(40);
    let at: Vec<String> = run(&spec).unwrap_err().into_iter().map(|fault| fault.pointer).collect();
    assert_eq!(
        at,
        ["/boat/runs/1/bulkheads", "/boat/runs/1/in_tube/0/count", "/boat/runs/1/in_tube/0/outside_diameter"]
    );
}
