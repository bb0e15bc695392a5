//! Hours: what is counted, and the spread of their sum.

use std::collections::BTreeMap;

use rigbill::calc::basis::{BasisRef, Ledger};
use rigbill::calc::labour::{Counts, labour, unknown_operations};
use rigbill::calc::rules::table::rule_of;
use rigbill::calc::shop::item::LabourUse;
use rigbill::calc::shop::labour::{BoatSystem, Driver, LabourOperation};
use rigbill::calc::shop::settings::Settings;
use rigbill::calc::spec::input::{JobType, OverruleInput};
use rigbill::calc::take_off::Labour;

use super::fixture::{Stream, decimal};

fn operation(code: &str, driver: Driver, low_min: f64, likely_min: f64, high_min: f64) -> LabourOperation {
    LabourOperation {
        code: code.into(),
        description: format!("Do {code}"),
        driver,
        phase: None,
        low_min,
        likely_min,
        high_min,
    }
}

fn counts(by_driver: &[(Driver, &str)], stated: &[(&str, &str)]) -> Counts {
    Counts {
        by_driver: by_driver.iter().map(|(driver, count)| (*driver, decimal(count))).collect(),
        of_systems: BTreeMap::new(),
        stated: stated
            .iter()
            .map(|(code, n)| (BoatSystem::WholeJob, LabourUse { operation: (*code).into(), quantity: decimal(n) }))
            .collect(),
    }
}

fn table() -> Vec<LabourOperation> {
    // Minutes: common practice, starting values of a labour table.
    vec![
        operation("label", Driver::Label, 0.5, 1.0, 2.0),
        operation("crimp_and_shrink", Driver::SmallEnd, 2.0, 3.0, 5.0),
        operation("pull_open", Driver::BundleFootOpen, 0.3, 0.5, 0.8),
        operation("sea_trial", Driver::Stated, 120.0, 180.0, 300.0),
    ]
}

fn hours(counts: &Counts, job_type: JobType, settings: &Settings, overrules: &[OverruleInput]) -> Labour {
    labour(counts, &table(), job_type, settings, overrules, &mut Ledger::default()).0
}

#[test]
fn each_operation_counts_what_it_names_and_nothing_else_is_listed() {
    let counts = counts(&[(Driver::SmallEnd, "10"), (Driver::BundleFootOpen, "40.5")], &[("sea_trial", "1")]);
    let labour = hours(&counts, JobType::FirstRig, &Settings::starting(), &[]);
    let listed: Vec<(&str, f64)> = labour.operations.iter().map(|o| (o.operation.as_str(), o.likely_h)).collect();
    assert_eq!(listed, [("crimp_and_shrink", 0.5), ("pull_open", 0.3375), ("sea_trial", 3.0)]);
    assert_eq!(labour.likely_h, 3.8375);
    assert_eq!(labour.low_h, 2.5358, "10 * 2 + 40.5 * 0.3 + 120 minutes");
    assert_eq!(labour.high_h, 6.3733, "10 * 5 + 40.5 * 0.8 + 300 minutes");
}

#[test]
fn one_terminal_less_is_its_minutes_less() {
    let settings = Settings::starting();
    let ten = hours(&counts(&[(Driver::SmallEnd, "10")], &[]), JobType::FirstRig, &settings, &[]);
    let nine = hours(&counts(&[(Driver::SmallEnd, "9")], &[]), JobType::FirstRig, &settings, &[]);
    assert!((ten.likely_h - nine.likely_h - 3.0 / 60.0).abs() < 1e-9);
    let none = hours(&counts(&[(Driver::SmallEnd, "0")], &[]), JobType::FirstRig, &settings, &[]);
    assert!(none.operations.is_empty() && none.likely_h == 0.0 && none.four_in_five_h == 0.0);
}

#[test]
fn the_kind_of_job_lengthens_every_operation() {
    let settings = Settings::starting();
    let counts = counts(&[(Driver::SmallEnd, "100")], &[("sea_trial", "2")]);
    // Factors: common practice.
    for (job_type, factor) in [(JobType::BareHull, 0.85), (JobType::FirstRig, 1.0), (JobType::ReRig, 1.4)] {
        let labour = hours(&counts, job_type, &settings, &[]);
        assert!((labour.likely_h - 11.0 * factor).abs() < 1e-4, "{job_type:?}");
        assert!((labour.high_h - (500.0 + 600.0) / 60.0 * factor).abs() < 1e-4, "{job_type:?}");
    }
}

#[test]
fn an_operation_may_be_counted_and_stated_too() {
    let counts = counts(&[(Driver::SmallEnd, "4")], &[("crimp_and_shrink", "2"), ("crimp_and_shrink", "3")]);
    let labour = hours(&counts, JobType::FirstRig, &Settings::starting(), &[]);
    assert_eq!(labour.operations[0].count, decimal("9"));
}

#[test]
fn stated_operations_that_the_table_lacks_are_listed() {
    let counts = counts(&[], &[("sea_trial", "1"), ("polish", "2"), ("wax", "0"), ("polish", "1")]);
    let unknown: Vec<String> = unknown_operations(&counts, &table()).iter().map(ToString::to_string).collect();
    assert_eq!(unknown, ["polish"]);
}

fn overrule(operation: &str, hours: &str) -> OverruleInput {
    OverruleInput::Hours { operation: operation.into(), hours: decimal(hours), reason: "Did it last week".to_owned() }
}

#[test]
fn a_persons_hours_stand_whatever_was_counted() {
    let settings = Settings::starting();
    let counts = counts(&[(Driver::SmallEnd, "10")], &[]);
    let overrules = [overrule("crimp_and_shrink", "2.5"), overrule("sea_trial", "1")];
    let mut ledger = Ledger::default();
    let (labour, applied) = labour(&counts, &table(), JobType::ReRig, &settings, &overrules, &mut ledger);
    assert_eq!((labour.low_h, labour.likely_h, labour.high_h), (3.5, 3.5, 3.5));
    assert_eq!(labour.four_in_five_h, 3.5, "hours that a person gave have no spread");
    let applied: Vec<(&str, &str, &str)> =
        applied.iter().map(|a| (a.about.as_str(), a.computed.as_str(), a.chosen.as_str())).collect();
    assert_eq!(applied, [("crimp_and_shrink", "0.7 h", "2.5 h"), ("sea_trial", "0 h", "1 h")]);
    assert_eq!(labour.operations[0].overrule.as_deref(), Some("Did it last week"));
    assert_eq!(ledger.get(labour.operations[0].basis).rule, "labour.overrule");
}

#[test]
fn the_stored_inputs_give_the_figures_again() {
    let mut ledger = Ledger::default();
    let counts = counts(&[(Driver::SmallEnd, "17"), (Driver::Label, "31")], &[("sea_trial", "1")]);
    let settings = Settings::starting();
    let (labour, _) = labour(&counts, &table(), JobType::ReRig, &settings, &[], &mut ledger);
    let basis = serde_json::to_value(ledger.into_basis(rule_of)).unwrap();
    crate::reevaluate::check_basis(&basis);
    let stated = |place: BasisRef| basis["derivations"][place.0 as usize]["result"].as_f64().unwrap();
    let input = |place: BasisRef, name: &str| match &basis["derivations"][place.0 as usize]["inputs"][name] {
        serde_json::Value::String(exact) => exact.parse().unwrap(),
        number => number.as_f64().unwrap(),
    };
    for operation in &labour.operations {
        assert!((stated(operation.basis) - operation.likely_h).abs() < 1e-4);
        let again = |name| input(operation.basis, "count") * input(operation.basis, name) / 60.0 * 1.4;
        assert!((again("low_min") - operation.low_h).abs() < 1e-4);
        assert!((again("high_min") - operation.high_h).abs() < 1e-4);
    }
    assert!((stated(labour.basis) - labour.four_in_five_h).abs() < 1e-4);
}

/// Mean and deviation behind the answer for one operation of one hour's unit, recovered from the four-in-five figure.
fn moments(low_h: f64, likely_h: f64, high_h: f64) -> (f64, f64) {
    let settings = Settings { labour_correlation: 0.0, ..Settings::starting() };
    let table = [operation("one", Driver::Stated, low_h * 60.0, likely_h * 60.0, high_h * 60.0)];
    let counts = counts(&[], &[("one", "1")]);
    let labour = labour(&counts, &table, JobType::FirstRig, &settings, &[], &mut Ledger::default()).0;
    (labour.mean_h, (labour.four_in_five_h - labour.mean_h) / 0.8416)
}

#[test]
fn moments_are_those_published_for_the_triangular_distribution() {
    // Variances printed in the stdlib reference, https://stdlib.io/docs/api/latest/@stdlib/stats/base/dists/triangular/variance
    // as (low, high, mode) -> variance; means by (a+b+c)/3, from memory.
    for (low, high, mode, variance) in [(0.0, 1.0, 0.8, 0.047), (4.0, 12.0, 5.0, 3.167), (2.0, 8.0, 5.0, 1.5)] {
        let (mean, deviation) = moments(low, mode, high);
        assert!((mean - (low + mode + high) / 3.0).abs() < 1e-4);
        assert!((deviation * deviation - variance).abs() < 1e-3, "{low} {mode} {high}: {}", deviation * deviation);
    }
}

/// Standard normal distribution function (Abramowitz and Stegun 26.2.17, from memory; error below 1e-7).
fn normal_below(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.231_641_9 * x.abs());
    let series =
        t * (0.319_381_530 + t * (-0.356_563_782 + t * (1.781_477_937 + t * (-1.821_255_978 + t * 1.330_274_429))));
    let tail = (-x * x / 2.0).exp() / std::f64::consts::TAU.sqrt() * series;
    if x >= 0.0 { 1.0 - tail } else { tail }
}

/// Inverse of the triangular distribution function.
fn triangular(share: f64, low: f64, mode: f64, high: f64) -> f64 {
    if share < (mode - low) / (high - low) {
        low + (share * (high - low) * (mode - low)).sqrt()
    } else {
        high - ((1.0 - share) * (high - low) * (high - mode)).sqrt()
    }
}

#[test]
fn four_boats_in_five_stay_within_the_figure_when_boats_are_drawn_at_random() {
    // Times drawn from a normal copula with the shop's correlation: an independent way to the same figure.
    let table = table();
    let counts = counts(
        &[(Driver::Label, "60"), (Driver::SmallEnd, "50"), (Driver::BundleFootOpen, "120")],
        &[("sea_trial", "1")],
    );
    let quantities: [f64; 4] = [60.0, 50.0, 120.0, 1.0];
    for correlation in [0.0, 0.5, 1.0] {
        let settings = Settings { labour_correlation: correlation, ..Settings::starting() };
        let labour = hours(&counts, JobType::FirstRig, &settings, &[]);
        let mut stream = Stream(20_261_125);
        let mut normal = || (-2.0 * stream.share().ln()).sqrt() * (std::f64::consts::TAU * stream.share()).cos();
        let mut boats: Vec<f64> = (0..60_000)
            .map(|_| {
                let common = normal();
                let times = table.iter().zip(quantities).map(|(o, n)| {
                    let own = normal();
                    let share = normal_below(correlation.sqrt() * common + (1.0 - correlation).sqrt() * own);
                    n * triangular(share, o.low_min, o.likely_min, o.high_min) / 60.0
                });
                times.sum()
            })
            .collect();
        boats.sort_by(f64::total_cmp);
        let mean = boats.iter().sum::<f64>() / boats.len() as f64;
        let four_in_five = boats[boats.len() * 4 / 5];
        assert!((mean - labour.mean_h).abs() < 0.005 * mean, "{correlation}: {mean} {}", labour.mean_h);
        let spread = (four_in_five - labour.four_in_five_h).abs();
        assert!(spread < 0.015 * four_in_five, "{correlation}: {four_in_five} {}", labour.four_in_five_h);
    }
}

#[test]
fn times_that_move_together_spread_wider() {
    let counts = counts(&[(Driver::SmallEnd, "40"), (Driver::Label, "40")], &[("sea_trial", "1")]);
    let four_in_five = |correlation| {
        let settings = Settings { labour_correlation: correlation, ..Settings::starting() };
        hours(&counts, JobType::FirstRig, &settings, &[]).four_in_five_h
    };
    assert!(four_in_five(0.0) < four_in_five(0.5) && four_in_five(0.5) < four_in_five(1.0));
}
