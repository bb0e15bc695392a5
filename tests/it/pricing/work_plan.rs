//! The work in days, and hours by system.

use std::collections::BTreeMap;

use proptest::prelude::*;
use rigbill::calc::basis::Ledger;
use rigbill::calc::labour::{Counts, labour};
use rigbill::calc::rules::table::rule_of;
use rigbill::calc::shop::item::LabourUse;
use rigbill::calc::shop::labour::{BoatSystem, Driver, LabourOperation, WorkPhase};
use rigbill::calc::shop::settings::Settings;
use rigbill::calc::spec::input::{JobType, OverruleInput};
use rigbill::calc::take_off::{Labour, WorkPlan};
use rigbill::calc::work_plan::work_plan;
use serde_json::Value;

use super::fixture::decimal;

/// An operation of so many minutes, of which items state how many.
fn operation(code: &str, phase: WorkPhase, likely_min: f64) -> LabourOperation {
    let driver = if code == "clean" { Driver::WorkDay } else { Driver::Stated };
    LabourOperation {
        code: code.into(),
        description: format!("Do {code}"),
        driver,
        phase: Some(phase),
        low_min: likely_min,
        likely_min,
        high_min: likely_min,
    }
}

fn stated(hours: &[(&str, &str)]) -> Counts {
    let used = |code: &str, quantity: &str| LabourUse { operation: code.into(), quantity: decimal(quantity) };
    Counts { stated: hours.iter().map(|(code, n)| (BoatSystem::Pumps, used(code, n))).collect(), ..Counts::default() }
}

/// An hour of each kind of work, and half an hour of cleaning a day.
fn table() -> Vec<LabourOperation> {
    vec![
        operation("clean", WorkPhase::Prepare, 30.0),
        operation("crimp", WorkPhase::Terminate, 60.0),
        operation("cut", WorkPhase::Cut, 60.0),
        operation("mount", WorkPhase::Mount, 60.0),
        operation("pull", WorkPhase::Pull, 60.0),
        operation("seal", WorkPhase::Seal, 60.0),
    ]
}

fn planned(counts: &Counts) -> (Labour, WorkPlan) {
    let (settings, mut ledger) = (Settings::starting(), Ledger::default());
    let (labour, _) = labour(counts, &table(), JobType::FirstRig, &settings, &[], &mut ledger);
    let plan = work_plan(&labour, &settings, &mut ledger);
    crate::reevaluate::check_basis(&serde_json::to_value(ledger.into_basis(rule_of)).unwrap());
    (labour, plan)
}

/// Each day's work as text, `operation hours`.
fn days(plan: &WorkPlan) -> Vec<String> {
    let work = |day: &rigbill::calc::take_off::PlannedDay| {
        let parts: Vec<String> = day.work.iter().map(|work| format!("{} {}", work.operation, work.hours)).collect();
        parts.join(", ")
    };
    plan.days.iter().map(work).collect()
}

/// Worked by hand: 20 h at 8 h a day fill three days, so cleaning is counted three times, half an hour each, and 7.5 h of a
/// day are left. Cutting (2 h) may not share its day with the sealing that comes next, so it has one alone. The second day
/// takes sealing (1 h), mounting (4 h) and 2.5 h of pulling, the third the other 5.5 h of pulling and 2 h of crimping, for
/// which the solvent has had a night to dry. The 1.5 h of cleaning fall on four days, 0.375 h each.
#[test]
fn dust_keeps_away_from_open_wiring_and_solvent_from_heat() {
    let (labour, plan) =
        planned(&stated(&[("crimp", "5"), ("cut", "2"), ("mount", "4"), ("pull", "8"), ("seal", "1")]));
    assert_eq!((labour.work_days, labour.likely_h), (3, 21.5));
    assert_eq!(
        days(&plan),
        [
            "clean 0.375, cut 2",
            "clean 0.375, seal 1, mount 4, pull 2.5",
            "clean 0.375, pull 5.5, crimp 2",
            "clean 0.375, crimp 3",
        ]
    );
    assert_eq!(plan.days.iter().map(|day| day.hours).collect::<Vec<_>>(), [2.375, 7.875, 7.875, 3.375]);
}

/// What is done within one day keeps the order and not the distance.
#[test]
fn a_small_job_stays_in_one_day() {
    let (labour, plan) = planned(&stated(&[("crimp", "1"), ("cut", "0.5"), ("pull", "1")]));
    assert_eq!(labour.work_days, 1);
    assert_eq!(days(&plan), ["clean 0.5, cut 0.5, pull 1, crimp 1"]);
    let (_, none) = planned(&stated(&[]));
    assert!(none.days.is_empty());
}

proptest! {
    /// Whatever the hours: each operation is planned for as long as it takes, in order of the phases, no day is longer than
    /// the shop's, and dust never meets open wiring on a day of a longer job.
    #[test]
    fn the_plan_holds_all_hours_once(hours in prop::collection::vec(0u32..400, 5)) {
        let codes = ["crimp", "cut", "mount", "pull", "seal"];
        let texts: Vec<String> = hours.iter().map(|tenths| format!("{}.{}", tenths / 10, tenths % 10)).collect();
        let counts: Vec<(&str, &str)> = codes.iter().copied().zip(texts.iter().map(String::as_str)).collect();
        let (labour, plan) = planned(&stated(&counts));
        let mut of_operation: BTreeMap<&str, f64> = BTreeMap::new();
        for work in plan.days.iter().flat_map(|day| &day.work) {
            *of_operation.entry(work.operation.as_str()).or_default() += work.hours;
        }
        for operation in &labour.operations {
            let found = of_operation.remove(operation.operation.as_str()).unwrap_or_default();
            let places = 1e-4 * plan.days.len() as f64;
            prop_assert!((found - operation.likely_h).abs() <= places, "{}: {found} {}", operation.operation, operation.likely_h);
        }
        prop_assert!(of_operation.is_empty());
        let all: f64 = hours.iter().map(|tenths| f64::from(*tenths) / 10.0).sum();
        for day in &plan.days {
            prop_assert!(day.hours <= plan.hours_a_day + 1e-6, "{day:?}");
            let has = |code: &str| day.work.iter().any(|work| work.operation.as_str() == code);
            let dusty = has("cut") && (has("pull") || has("crimp") || has("seal"));
            prop_assert!(all <= 7.5 || !(dusty || has("seal") && has("crimp")), "{day:?}");
        }
        let phases: Vec<WorkPhase> = plan.days.iter().flat_map(|day| &day.work[1..]).map(|work| work.phase).collect();
        prop_assert!(phases.is_sorted());
    }

    /// Hours by system are the same hours, however they were counted.
    #[test]
    fn systems_add_up_to_the_whole(ends in 0u32..50, of_lights in 0u32..50, pumps in 0u32..9, written in prop::option::of(0u32..90)) {
        let ends = ends + of_lights;
        let mut counts = stated(&[("cut", &pumps.to_string())]);
        counts.by_driver.insert(Driver::SmallEnd, ends.into());
        counts.of_systems.insert((Driver::SmallEnd, BoatSystem::Lights), of_lights.into());
        let mut table = table();
        table.push(LabourOperation { driver: Driver::SmallEnd, phase: None, ..operation("end", WorkPhase::Pull, 3.0) });
        let overrules: Vec<OverruleInput> = written.iter().map(|hours| OverruleInput::Hours {
            operation: "end".into(), hours: (*hours).into(), reason: "Did it before".to_owned(),
        }).collect();
        let (settings, mut ledger) = (Settings::starting(), Ledger::default());
        let (labour, _) = labour(&counts, &table, JobType::ReRig, &settings, &overrules, &mut ledger);
        let sum: f64 = labour.by_system.iter().map(|system| system.likely_h).sum();
        prop_assert!((sum - labour.likely_h).abs() < 1e-3, "{sum} {}", labour.likely_h);
        let lights = labour.by_system.iter().find(|system| system.system == BoatSystem::Lights);
        let share = f64::from(of_lights) / f64::from(ends.max(1));
        let expected = written.map_or(f64::from(of_lights) * 3.0 / 60.0 * 1.4, |hours| f64::from(hours) * share);
        prop_assert!((lights.map_or(0.0, |system| system.likely_h) - expected).abs() < 1e-3);
        let basis: Value = serde_json::to_value(ledger.into_basis(rule_of)).unwrap();
        crate::reevaluate::check_basis(&basis);
    }
}
