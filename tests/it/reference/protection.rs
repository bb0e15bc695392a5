//! Protective devices.

use std::collections::BTreeMap;

use rigbill::calc::circuits::sizing::{CannotCarry, Demand, carry};
use rigbill::calc::rules::drop::load_analysis_a;
use rigbill::calc::rules::protection::{
    CONTINUOUS_FACTOR, RATING_PER_ALLOWABLE_MAX, battery_interrupt, charging_voltage_v, conductor_allows_a, family,
    smallest_rating_a, standard_ratings,
};
use rigbill::calc::shop::item::FuseFamily;
use rigbill::calc::units::{AreaStandard, WireSize};

use super::{near, rows};

fn demand(current_a: f64, continuous: bool, maker_fuse_a: Option<f64>) -> Demand<'static> {
    Demand {
        current_a,
        continuous,
        insulation_c: 105,
        engine_space: false,
        bundled_conductors: 1,
        standard: AreaStandard::Awg,
        ratings_a: standard_ratings(),
        ratings: "standard",
        least_rating_a: 0.0,
        maker_fuse_a,
    }
}

#[test]
fn worked_examples_of_ampacity_fuses_and_loads() {
    let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
    for row in rows(include_str!("data/worked_electrical.csv")) {
        let (given, expected) = (row.nested("inputs"), row.nested("expected"));
        let what = format!("{} ({})", row.text("id"), row.text("source"));
        let allowable = |bundled_conductors| {
            let engine_space = given.text("space") == "engine";
            let insulation_c = given.number("insulation_c") as u16;
            let demand = Demand { insulation_c, engine_space, bundled_conductors, ..demand(1.0, false, None) };
            carry(&demand, given.gauge("awg")).unwrap().allowable_current_a
        };
        match row.text("kind") {
            "ampacity" => near(allowable(given.number("bundle") as u32), expected.number("amps"), 0.06, &what),
            "ampacity_whole_amp" => assert_eq!(allowable(1).trunc(), expected.number("amps"), "{what}"),
            "fuse" if row.text("id") == "WA027" => {
                near(given.number("device_a") / CONTINUOUS_FACTOR, expected.number("max_continuous_a"), 1e-9, &what);
            }
            "fuse" => {
                assert_eq!(CONTINUOUS_FACTOR, given.number("factor"));
                let carried = carry(&demand(given.number("load_a"), true, None), WireSize::Awg(10)).unwrap();
                assert_eq!(carried.rating_a, expected.number("device_a"), "{what}");
            }
            "fuse_cap" => {
                // The law's stop alone: the largest standard rating within 150 %. ABYC's next rating is below it.
                let stop_a = allowable(1) * RATING_PER_ALLOWABLE_MAX;
                near(stop_a, expected.number("cap_a"), 1e-9, &what);
                let largest = standard_ratings().iter().rfind(|&&rating| rating <= stop_a);
                assert_eq!(largest, Some(&expected.number("largest_standard_a")), "{what}");
                assert_eq!(conductor_allows_a(allowable(1), standard_ratings()), 25.0);
            }
            "aic" => {
                let total: f64 = given.numbers("cca").iter().sum();
                assert_eq!(total, expected.number("total_cca"), "{what}");
                assert_eq!(battery_interrupt(given.number("volts"), total).main_a, expected.number("main_aic_a"));
            }
            "panel_load" => {
                let (total, a, b, largest) = load_analysis_a(&given.numbers("a"), &given.numbers("b"));
                near(total, expected.number("required_a"), 1e-9, &what);
                assert_eq!(
                    (a, b, largest),
                    (expected.number("sum_a"), expected.number("sum_b"), expected.number("largest_b"))
                );
            }
            _ => continue,
        }
        *kinds.entry(row.text("kind").to_owned()).or_default() += 1;
    }
    let counted: Vec<(&str, usize)> = kinds.iter().map(|(kind, &count)| (kind.as_str(), count)).collect();
    let expected =
        [("aic", 1), ("ampacity", 8), ("ampacity_whole_amp", 2), ("fuse", 2), ("fuse_cap", 1), ("panel_load", 1)];
    assert_eq!(counted, expected);
}

/// The other branch of the load analysis: one large occasional load beats a tenth of all (ABYC E-11, from memory).
#[test]
fn the_largest_occasional_load_counts_in_full() {
    assert_eq!(load_analysis_a(&[5.0, 3.0], &[20.0, 4.0, 2.0]), (28.0, 8.0, 26.0, 20.0));
    assert_eq!(load_analysis_a(&[5.0], &[]), (5.0, 5.0, 0.0, 0.0));
    assert_eq!(load_analysis_a(&[], &[]), (0.0, 0.0, 0.0, 0.0));
}

#[test]
fn every_row_of_the_interrupt_table() {
    for row in rows(include_str!("data/battery_interrupt.csv")) {
        for cranking in [row.number("cranking_from"), row.number("cranking_to")] {
            let class = battery_interrupt(row.number("volts"), cranking);
            assert_eq!((class.main_a, class.branch_a), (row.number("main"), row.number("branch")), "{cranking} A");
            assert!(!class.beyond_table);
        }
    }
    // ABYC E-11 extract: more than 2200 A asks the battery maker, or 20 kA.
    for volts in [12.0, 24.0, 36.0, 48.0] {
        let class = battery_interrupt(volts, 2_201.0);
        assert!(class.beyond_table && class.main_a == 20_000.0, "{volts} V");
    }
    // Common practice: what the table does not hold asks no less than a bank of a lower voltage.
    for cranking in (0..=2_400).step_by(50).map(f64::from) {
        for volts in [36.0, 48.0] {
            assert_eq!(battery_interrupt(volts, cranking), battery_interrupt(32.0, cranking));
            assert!(
                battery_interrupt(volts, cranking).main_a
                    >= battery_interrupt(12.0, f64::min(cranking, 1_100.0)).main_a
            );
        }
    }
}

/// ABYC wording: the allowable current first, the next standard rating only, and that within 150 %.
#[test]
fn a_conductor_allows_the_next_rating_within_half_as_much_again() {
    let ratings = [5.0, 10.0, 15.0, 20.0, 30.0];
    for (allowable_a, expected_a) in [
        (3.0, 0.0), // 5 A is more than 4.5 A
        (4.0, 5.0),
        (6.0, 5.0),   // 10 A is more than 9 A
        (10.0, 15.0), // next above, at exactly 150 %
        (9.9, 10.0),
        (17.0, 20.0),
        (20.0, 30.0),
        (29.0, 30.0),
        (200.0, 30.0),
    ] {
        assert_eq!(conductor_allows_a(allowable_a, &ratings), expected_a, "{allowable_a} A");
    }
    assert_eq!(conductor_allows_a(20.0, &[]), 0.0);
}

#[test]
fn a_load_that_runs_for_hours_needs_a_larger_device_and_a_conductor_that_bears_it() {
    // 12 AWG at 105 °C: 45 A by Table 5, so 50 A at most; 44 A for hours needs 55 A.
    let carried = carry(&demand(44.0, false, None), WireSize::Awg(12)).unwrap();
    assert_eq!((carried.load_needs_a, carried.rating_a, carried.conductor_allows_a), (44.0, 50.0, 50.0));
    let refusal = carry(&demand(44.0, true, None), WireSize::Awg(12)).unwrap_err();
    assert_eq!(refusal, CannotCarry::Protection { load_needs_a: 55.0, conductor_allows_a: 50.0 });
    assert_eq!(carry(&demand(44.0, true, None), WireSize::Awg(10)).unwrap().rating_a, 60.0);
}

#[test]
fn the_makers_fuse_goes_first_and_the_conductor_must_bear_it() {
    // 16 AWG at 105 °C: 25 A, so 30 A at most.
    let carried = carry(&demand(5.0, true, Some(6.0)), WireSize::Awg(16)).unwrap();
    assert_eq!((carried.rating_a, carried.maker_fuse_a), (6.0, Some(6.0)), "a rating that no family has");
    assert_eq!(carry(&demand(5.0, true, Some(30.0)), WireSize::Awg(16)).unwrap().rating_a, 30.0);
    let refusal = carry(&demand(5.0, true, Some(35.0)), WireSize::Awg(16)).unwrap_err();
    assert_eq!(refusal, CannotCarry::Protection { load_needs_a: 5.0, conductor_allows_a: 30.0 });
    // A fuse that the load would blow is not taken.
    let carried = carry(&demand(12.0, true, Some(10.0)), WireSize::Awg(16)).unwrap();
    assert_eq!((carried.rating_a, carried.maker_fuse_a), (15.0, None));
    // A shop that keeps few ratings does not loosen the rule: the next standard rating above 25 A stays 30 A.
    let own = Demand { ratings_a: &[10.0, 20.0, 40.0], ..demand(5.0, true, Some(36.0)) };
    let refusal = carry(&own, WireSize::Awg(16)).unwrap_err();
    assert_eq!(refusal, CannotCarry::Protection { load_needs_a: 5.0, conductor_allows_a: 30.0 });
    let own = Demand { ratings_a: &[10.0, 20.0, 40.0], ..demand(24.0, true, None) };
    assert!(carry(&own, WireSize::Awg(16)).is_err(), "40 A is no device for a conductor of 25 A");
}

/// Fuse forms and where they stop: from memory and from makers' charts, as each family's source says.
#[test]
fn fuses_of_32_v_are_none_for_a_36_v_bank() {
    near(charging_voltage_v(12.0), 14.4, 1e-9, "common practice");
    near(charging_voltage_v(36.0), 44.0, 1.0, "common practice");
    near(charging_voltage_v(48.0), 58.0, 1.0, "common practice");
    use FuseFamily::*;
    for form in [Blade, MaxiBlade, GlassTube, SmallBolt, LargeBolt] {
        assert!(family(form).interrupt_at(charging_voltage_v(24.0)).is_some(), "{form:?}");
        assert_eq!(family(form).interrupt_at(charging_voltage_v(36.0)), None, "{form:?}");
    }
    assert_eq!(family(TerminalCube).interrupt_at(13.0), Some(10_000.0));
    assert_eq!(family(TerminalCube).interrupt_at(charging_voltage_v(12.0)), Some(5_000.0));
    assert_eq!(family(TerminalCube).interrupt_at(charging_voltage_v(48.0)), Some(2_000.0));
    assert_eq!(family(ClassT).interrupt_at(charging_voltage_v(48.0)), Some(20_000.0));
    for form in [Blade, MaxiBlade, GlassTube, TerminalCube, SmallBolt, LargeBolt, Anl, ClassT] {
        let facts = family(form);
        assert!(facts.ratings_a.is_sorted() && facts.interrupt.is_sorted_by_key(|&(volts, _)| volts), "{form:?}");
        assert!(facts.ratings_a.iter().all(|rating| standard_ratings().contains(rating)), "{form:?}");
    }
    assert!(standard_ratings().windows(2).all(|pair| pair[0] < pair[1]));
    assert_eq!(smallest_rating_a(12.5, standard_ratings()), Some(15.0));
    assert_eq!(smallest_rating_a(601.0, standard_ratings()), None);
}
