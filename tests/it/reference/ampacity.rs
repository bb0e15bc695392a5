//! Allowable current.

use rigbill::calc::circuits::sizing::{Demand, carry};
use rigbill::calc::rules::ampacity::{bundle_factor, engine_space_factor, table_current_a};
use rigbill::calc::rules::protection::standard_ratings;
use rigbill::calc::units::{AreaStandard, WireSize};

use super::{near, rows};

const TABLE5_C: [u16; 7] = [60, 75, 80, 90, 105, 125, 200];

fn demand(current_a: f64, insulation_c: u16, engine_space: bool, bundled_conductors: u32) -> Demand<'static> {
    Demand {
        current_a,
        continuous: false,
        insulation_c,
        engine_space,
        bundled_conductors,
        standard: AreaStandard::Awg,
        ratings_a: standard_ratings(),
        ratings: "standard",
        least_rating_a: 0.0,
        maker_fuse_a: None,
    }
}

#[test]
fn every_cell_of_table_5() {
    let published = rows(include_str!("data/cfr183_table5.csv"));
    let mut cells = 0;
    for row in &published {
        for insulation_c in TABLE5_C {
            let (size, amperes) = (row.gauge("awg"), row.number(&insulation_c.to_string()));
            assert_eq!(table_current_a(size, insulation_c), Some(amperes), "{size} at {insulation_c} °C");
            cells += 1;
        }
    }
    assert_eq!(cells, 15 * 7);
}

#[test]
fn every_correction_of_table_5() {
    let factors = rows(include_str!("data/cfr183_engine_space.csv"));
    assert_eq!(factors.len(), 7);
    for row in &factors {
        let factor = engine_space_factor(WireSize::Awg(12), row.number("insulation_c") as u16);
        assert_eq!(factor, Some(row.number("factor")), "{} °C", row.text("insulation_c"));
    }
    for row in rows(include_str!("data/bundle.csv")) {
        for loaded in [row.number("from"), row.number("to")] {
            assert_eq!(bundle_factor(loaded as u32), row.number("factor"), "{loaded} conductors");
        }
    }
}

/// Every corrected cell: the size carries exactly that current, and no more.
#[test]
fn every_corrected_cell_is_what_a_conductor_carries() {
    let factors = rows(include_str!("data/cfr183_engine_space.csv"));
    for row in rows(include_str!("data/cfr183_table5.csv")) {
        let size = row.gauge("awg");
        for correction in &factors {
            let insulation_c = correction.number("insulation_c") as u16;
            for bundle in rows(include_str!("data/bundle.csv")) {
                let (loaded, bundle) = (bundle.number("to") as u32, bundle.number("factor"));
                let table_a = row.number(&insulation_c.to_string());
                let allowed_a = table_a * correction.number("factor") * bundle;
                let carried = carry(&demand(allowed_a, insulation_c, true, loaded), size).unwrap();
                near(carried.allowable_current_a, allowed_a, 1e-9, "allowable");
                assert!(carry(&demand(allowed_a * 1.001, insulation_c, true, loaded), size).is_err());
            }
        }
    }
}

#[test]
fn every_cell_of_the_boat_cable_table() {
    let published = rows(include_str!("data/boat_cable_105c.csv"));
    assert_eq!(published.len(), 70);
    for row in &published {
        let size = row.gauge("awg");
        let loaded: u32 = row.text("bundle").split('-').next_back().unwrap().parse().unwrap();
        let engine_space = row.text("space") == "engine_space";
        let carried = carry(&demand(1.0, 105, engine_space, loaded), size).unwrap();
        near(carried.allowable_current_a, row.number("amperes"), 0.0501, &format!("{size}, {loaded} conductors"));
    }
}

#[test]
fn every_cell_of_the_metric_table() {
    let published = rows(include_str!("data/iso_ampacity.csv"));
    assert_eq!(published.len(), 16);
    for insulation_c in [60, 70, 85, 90, 105, 125, 200] {
        let column = insulation_c.to_string();
        let mut sizes = Vec::new();
        for row in &published[..15] {
            let size = WireSize::Metric((row.number("mm2") * 100.0).round() as u32);
            assert_eq!(table_current_a(size, insulation_c), Some(row.number(&column)), "{size} at {insulation_c} °C");
            sizes.push(size);
        }
        let engine_space = published[15].text(&column).parse().ok();
        assert!(sizes.iter().all(|&size| engine_space_factor(size, insulation_c) == engine_space), "{insulation_c}");
    }
}

#[test]
fn a_size_or_rating_that_is_not_tabled_has_no_current() {
    assert_eq!(table_current_a(WireSize::Awg(20), 105), None);
    assert_eq!(table_current_a(WireSize::Awg(12), 70), None);
    assert_eq!(table_current_a(WireSize::Metric(400), 75), None);
    assert_eq!(table_current_a(WireSize::Metric(300), 105), None);
}
