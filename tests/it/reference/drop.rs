//! Voltage drop: printed grids and worked examples.

use std::collections::BTreeMap;

use rigbill::calc::rules::drop::{COPPER_OHM_CMIL_PER_FT, drop_v};
use rigbill::calc::rules::sizes::{CMIL_PER_MM2, all, area_cmil};
use rigbill::calc::units::{AreaStandard, Length, LengthUnit, WireSize, within};

use super::{near, rows};

/// The smallest size that keeps a drop, of those that printed grids hold: they skip 3 AWG.
fn smallest(copper: f64, current_a: f64, feet: f64, limit_v: f64, standard: AreaStandard) -> WireSize {
    let keeps = |&&size: &&WireSize| {
        let area_cmil = area_cmil(size, standard).unwrap();
        size != WireSize::Awg(3) && within(drop_v(copper, current_a, Length::feet(feet), area_cmil), limit_v)
    };
    *all(standard).iter().find(keeps).expect("a size up to 4/0")
}

/// Steps between two sizes of the printed grids, from the smaller to the larger.
fn steps(from: WireSize, to: WireSize) -> isize {
    let place = |size| all(AreaStandard::Sae).iter().position(|&s| s == size).unwrap() as isize;
    place(to) - place(from)
}

#[test]
fn every_cell_of_every_grid_is_the_formula_or_one_size_off() {
    let mut exact: BTreeMap<String, (usize, usize, usize)> = BTreeMap::new();
    for row in rows(include_str!("data/drop_grids.csv")) {
        let (current_a, feet) = (row.number("amperes"), row.number("round_trip_ft"));
        let limit_v = 12.0 * row.number("drop_percent") / 100.0;
        let by = |standard| smallest(COPPER_OHM_CMIL_PER_FT, current_a, feet, limit_v, standard);
        let (sae, awg, printed) = (by(AreaStandard::Sae), by(AreaStandard::Awg), row.gauge("printed"));
        let cell = format!("{} {current_a} A {feet} ft ({})", row.text("grid"), row.text("source"));
        // Recomputed apart from this code by CM = K × I × L ÷ E; the exactly equal cell is the check of the formula.
        assert_eq!(sae, row.gauge("by_sae_area"), "{cell}, by SAE area");
        assert_eq!(awg, row.gauge("by_awg_area"), "{cell}, by AWG area");
        // The prints follow one area or the other, or were rounded: at most one size apart.
        assert!(steps(sae, printed).abs() <= 1 && steps(awg, printed).abs() <= 1, "{cell}: {printed}");
        let count = exact.entry(row.text("grid").to_owned()).or_default();
        *count = (count.0 + usize::from(sae == printed), count.1 + usize::from(awg == printed), count.2 + 1);
    }
    // Cells equal to the print by SAE area, by AWG area, and in all. E-11 follows SAE areas.
    let expected = [
        ("catalogue_10pct_12v", (77, 71, 77)),
        ("catalogue_3pct_12v", (67, 62, 73)),
        ("chart_3pct_12v", (42, 47, 50)),
        ("e11_10pct_12v", (132, 116, 133)),
        ("e11_3pct_12v", (105, 89, 107)),
        ("wiki_3pct_12v", (37, 38, 40)),
    ];
    assert_eq!(exact, expected.map(|(grid, counts)| (grid.to_owned(), counts)).into());
}

/// A grid made with 11.2 ohm circular mil per foot and full AWG areas: every cell, once that constant is given.
#[test]
fn a_grid_of_another_copper_constant_is_met_in_every_cell() {
    let wiki = rows(include_str!("data/drop_grids.csv")).into_iter().filter(|row| row.text("grid") == "wiki_3pct_12v");
    let mut cells = 0;
    for row in wiki {
        let size = smallest(11.2, row.number("amperes"), row.number("round_trip_ft"), 0.36, AreaStandard::Awg);
        assert_eq!(size, row.gauge("printed"), "{} A {} ft", row.text("amperes"), row.text("round_trip_ft"));
        cells += 1;
    }
    assert_eq!(cells, 40);
}

/// Prints that are slips: the formula is taken, and each is named here.
#[test]
fn the_flagged_prints_are_slips() {
    let flagged: Vec<_> = rows(include_str!("data/drop_grids.csv"))
        .into_iter()
        .filter(|row| !row.text("flag").is_empty())
        .map(|row| {
            let limit_v = 12.0 * row.number("drop_percent") / 100.0;
            let (amperes, feet) = (row.number("amperes"), row.number("round_trip_ft"));
            let printed_cmil = area_cmil(row.gauge("printed"), AreaStandard::Sae).unwrap();
            let keeps = within(drop_v(COPPER_OHM_CMIL_PER_FT, amperes, Length::feet(feet), printed_cmil), limit_v);
            (row.text("grid").to_owned(), amperes, feet, keeps)
        })
        .collect();
    // Whether the printed size would keep the limit by its SAE area: those that do are merely larger than needed.
    let expected = [
        ("e11_3pct_12v", 15.0, 60.0, false),
        ("e11_3pct_12v", 80.0, 50.0, true),
        ("e11_10pct_12v", 100.0, 140.0, false),
        ("catalogue_3pct_12v", 25.0, 25.0, true),
    ];
    assert_eq!(flagged, expected.map(|(grid, amperes, feet, keeps)| (grid.to_owned(), amperes, feet, keeps)));
}

/// Feet of conductor that lose a given voltage at a resistance per thousand feet.
fn feet_until(limit_v: f64, current_a: f64, ohm_per_kft: f64) -> f64 {
    // A conductor of one circular mil stands for any: the constant is then its resistance per foot.
    limit_v / drop_v(ohm_per_kft / 1000.0, current_a, Length::feet(1.0), 1.0)
}

#[test]
fn worked_examples_of_drop() {
    let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
    for row in rows(include_str!("data/worked_electrical.csv")) {
        let (given, expected) = (row.nested("inputs"), row.nested("expected"));
        let what = format!("{} ({})", row.text("id"), row.text("source"));
        let by_formula = |feet: f64, limit_v: f64, standard| {
            smallest(COPPER_OHM_CMIL_PER_FT, given.number("amps"), feet, limit_v, standard)
        };
        match row.text("kind") {
            "size_by_drop" => {
                let limit_v = given.number("volts") * given.number("drop_pct") / 100.0;
                let feet = given.number("round_trip_ft");
                assert_eq!(by_formula(feet, limit_v, AreaStandard::Awg), expected.gauge("awg"), "{what}");
                if row.text("id") == "WA001" {
                    assert_eq!(by_formula(feet, limit_v, AreaStandard::Sae), expected.gauge("sae"), "{what}");
                    // The area at which the limit is just met: a conductor of 1 cmil loses CM times the limit.
                    let cmil = drop_v(COPPER_OHM_CMIL_PER_FT, given.number("amps"), Length::feet(feet), 1.0) / limit_v;
                    near(cmil, expected.number("cmil"), 1.0, &what);
                }
            }
            "drop_metric" => {
                let mm2 = WireSize::Metric((given.number("mm2") * 100.0) as u32);
                // The ISO annex: 0.0164 ohm mm² per metre, in the other units of the constant.
                let copper = given.number("rho") * CMIL_PER_MM2 * 0.3048;
                let length = Length::new(given.number("conductor_m"), LengthUnit::M).unwrap();
                let drop_v =
                    drop_v(copper, given.number("amps"), length, area_cmil(mm2, AreaStandard::Metric).unwrap());
                near(drop_v, expected.number("drop_v"), 0.001, &what);
            }
            "size_by_drop_table" => {
                let size = by_formula(given.number("conductor_ft"), given.number("limit_v"), AreaStandard::Awg);
                assert_eq!(size, expected.gauge("awg"), "{what}");
                // FAA AC 43.13-1B Table 11-9, 20 °C, tinned: ohms per 1000 ft of the two gauges.
                let ohm_per_kft = if size == WireSize::Awg(4) { 0.28 } else { 3.06 };
                let length = Length::feet(given.number("conductor_ft"));
                let drop_v = drop_v(ohm_per_kft / 1000.0, given.number("amps"), length, 1.0);
                near(drop_v, expected.number("drop_v"), 0.002, &what);
            }
            "max_run" => {
                let (amps, ohm_per_kft) = (given.number("amps"), given.number("ohm_per_kft"));
                let tolerance = if given.number("limit_v") > 1.0 { 3.0 } else { 1.0 };
                near(
                    feet_until(given.number("limit_v"), amps, ohm_per_kft),
                    expected.number("max_ft"),
                    tolerance,
                    &what,
                );
                let drop_v = drop_v(ohm_per_kft / 1000.0, amps, Length::feet(expected.number("max_ft")), 1.0);
                near(drop_v, expected.number("drop_v"), 0.005, &what);
            }
            "drop_table" => {
                // These charts count one way; a pair is twice that. WA009 to WA012 differ in which they print.
                let printed_v = expected.number("drop_v");
                let feet = given.number("one_way_ft") * 2.0;
                let drop_v =
                    drop_v(given.number("ohm_per_kft") / 1000.0, given.number("amps"), Length::feet(feet), 1.0);
                near(drop_v, printed_v, 0.01, &what);
            }
            "drop_index" => {
                // The index chart rounds down to 4 AWG; by area it takes 44,792 cmil, which is 2 AWG of the printed sizes.
                let limit_v = given.number("volts") * given.number("drop_pct") / 100.0;
                let size = by_formula(given.number("one_way_ft") * 2.0, limit_v, AreaStandard::Awg);
                assert_eq!((size, expected.gauge("printed_awg")), (WireSize::Awg(2), WireSize::Awg(4)), "{what}");
            }
            "max_run_oneway" => {
                let feet = feet_until(given.number("limit_v"), given.number("amps"), given.number("ohm_per_kft"));
                assert_eq!((feet / 2.0).floor(), expected.number("max_one_way_ft"), "{what}");
            }
            _ => continue,
        }
        *kinds.entry(row.text("kind").to_owned()).or_default() += 1;
    }
    let counted: Vec<(&str, usize)> = kinds.iter().map(|(kind, &count)| (kind.as_str(), count)).collect();
    let expected = [
        ("drop_index", 1),
        ("drop_metric", 1),
        ("drop_table", 4),
        ("max_run", 2),
        ("max_run_oneway", 3),
        ("size_by_drop", 2),
        ("size_by_drop_table", 2),
    ];
    assert_eq!(counted, expected);
}
