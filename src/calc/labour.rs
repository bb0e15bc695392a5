//! Hours from what the take-off counts: each operation counts something, so that one end less is its minutes less.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use rustc_hash::FxHashMap;
use smallvec::SmallVec;

use crate::basis::{BasisRef, Ledger, Value};
use crate::rules::table::labour_and_price::{
    LABOUR_FOUR_IN_FIVE, LABOUR_OPERATION, LABOUR_OVERRULE, LABOUR_SYSTEM, LABOUR_WORK_DAYS,
};
use crate::shop::item::LabourUse;
use crate::shop::labour::{BoatSystem, Driver, LabourOperation};
use crate::shop::settings::Settings;
use crate::spec::input::{JobType, OverruleInput};
use crate::take_off::{AppliedOverrule, Labour, OperationHours, SystemHours};
use crate::units::{Name, rounded};

/// The 0.8 quantile of the standard normal distribution.
const FOUR_IN_FIVE_DEVIATIONS: f64 = 0.8416;
/// Decimal places of hours in an answer: a third of a second.
const HOUR_PLACES: i32 = 4;

/// What labour operations count on one boat.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Counts {
    /// How many of what each computed driver counts; a driver that is not here counts nothing.
    pub by_driver: BTreeMap<Driver, Decimal>,
    /// How many of these belong to the circuits of a system; the rest belongs to the driver's own.
    pub of_systems: BTreeMap<(Driver, BoatSystem), Decimal>,
    /// Operations that items, packages and the spec name, each with its system and quantity; the same one may stand several
    /// times.
    pub stated: Vec<(BoatSystem, LabourUse)>,
}

/// How many of one operation, by system; each system may stand several times.
type Parts = SmallVec<[(BoatSystem, Decimal); 8]>;

impl Counts {
    /// Counts more of some drivers.
    pub fn add(&mut self, counts: &[(Driver, Decimal)]) {
        for (driver, quantity) in counts.iter().filter(|(_, quantity)| !quantity.is_zero()) {
            *self.by_driver.entry(*driver).or_default() += quantity;
        }
    }

    /// What was stated of each operation.
    fn stated_parts(&self) -> FxHashMap<&str, Parts> {
        let mut parts: FxHashMap<&str, Parts> = FxHashMap::default();
        for (system, used) in &self.stated {
            parts.entry(used.operation.as_str()).or_default().push((*system, used.quantity));
        }
        parts
    }

    /// How many of an operation: what its driver counts, and what was stated of it by name.
    fn parts_of(&self, operation: &LabourOperation, stated: &FxHashMap<&str, Parts>) -> Parts {
        let mut parts = stated.get(operation.code.as_str()).cloned().unwrap_or_default();
        let driver = operation.driver;
        if driver != Driver::Stated {
            let mut rest = self.by_driver.get(&driver).copied().unwrap_or_default();
            let every = (driver, BoatSystem::ALL[0])..=(driver, BoatSystem::WholeJob);
            for ((_, system), count) in self.of_systems.range(every) {
                parts.push((*system, *count));
                rest -= *count;
            }
            parts.push((driver.system(), rest));
        }
        parts
    }
}

/// Operations that were stated by name and that the shop's labour table does not have: each is a gap.
pub fn unknown_operations(counts: &Counts, operations: &[LabourOperation]) -> Vec<Name> {
    let known: BTreeSet<&Name> = operations.iter().map(|o| &o.code).collect();
    let stated: BTreeSet<&Name> =
        counts.stated.iter().filter(|(_, u)| u.quantity > Decimal::ZERO).map(|(_, u)| &u.operation).collect();
    stated.difference(&known).map(|&name| name.clone()).collect()
}

/// One operation's hours, unrounded.
#[derive(Clone, Copy, Debug)]
struct Spread {
    low_h: f64,
    likely_h: f64,
    high_h: f64,
}

impl Spread {
    /// Mean of the triangular distribution.
    fn mean_h(self) -> f64 {
        (self.low_h + self.likely_h + self.high_h) / 3.0
    }

    /// Variance of the triangular distribution, from the differences so that a spread of nothing is exactly zero.
    fn variance_h2(self) -> f64 {
        let (left, right) = (self.likely_h - self.low_h, self.high_h - self.likely_h);
        (left * left + left * right + right * right) / 18.0
    }
}

fn job_factor(job_type: JobType, settings: &Settings) -> f64 {
    match job_type {
        JobType::BareHull => settings.job_factors.bare_hull,
        JobType::FirstRig => settings.job_factors.first_rig,
        JobType::ReRig => settings.job_factors.re_rig,
    }
}

/// The hours of a boat: every operation that counts something, in order of code, and their sum as a distribution.
///
/// Times are minutes in the table and hours in the answer. A person's hours replace an operation's low, likely and high
/// hours, also where nothing was counted. That its operation is in the table is checked with the spec. Days are counted
/// from the likely hours of all else, so what is done on each day comes last.
pub fn labour(
    counts: &Counts,
    operations: &[LabourOperation],
    job_type: JobType,
    settings: &Settings,
    overrules: &[OverruleInput],
    ledger: &mut Ledger,
) -> (Labour, Vec<AppliedOverrule>) {
    let by_code: BTreeMap<&Name, &LabourOperation> = operations.iter().map(|o| (&o.code, o)).collect();
    let (daily, others): (Vec<_>, Vec<_>) = by_code.into_values().partition(|o| o.driver == Driver::WorkDay);
    let mut summing = Summing {
        factor: job_factor(job_type, settings),
        overrules,
        ledger,
        listed: Vec::with_capacity(operations.len()),
        applied: Vec::new(),
        systems: [SystemSum::default(); BoatSystem::COUNT],
    };
    let stated = counts.stated_parts();
    for operation in others {
        summing.add(operation, &counts.parts_of(operation, &stated));
    }
    let other_h: f64 = summing.listed.iter().map(|(_, spread)| spread.likely_h).fold(0.0, |sum, h| sum + h);
    let work_days = (other_h / settings.hours_a_day).ceil();
    for operation in daily {
        let mut parts = stated.get(operation.code.as_str()).cloned().unwrap_or_default();
        parts.push((Driver::WorkDay.system(), Decimal::from_f64(work_days).unwrap_or_default()));
        summing.add(operation, &parts);
    }
    let Summing { factor, mut listed, mut applied, systems, ledger, .. } = summing;
    listed.sort_by(|a, b| a.0.operation.cmp(&b.0.operation));
    applied.sort_by(|a, b| a.about.cmp(&b.about));
    let inputs = [("other_h", other_h.into()), ("hours_a_day", settings.hours_a_day.into())];
    let days = (work_days, ledger.note(&LABOUR_WORK_DAYS, &inputs, work_days));
    let by_system = by_system(&systems, factor, ledger);
    let (operations, spreads): (Vec<_>, Vec<_>) = listed.into_iter().unzip();
    (sum((operations, &spreads), by_system, days, settings.labour_correlation, ledger), applied)
}

/// Hours of one system so far: minutes of its counts before the job factor, and hours that a person wrote.
#[derive(Clone, Copy, Debug, Default)]
struct SystemSum {
    low_min: f64,
    likely_min: f64,
    high_min: f64,
    written_h: f64,
}

/// Operations as they are added up.
struct Summing<'a> {
    factor: f64,
    overrules: &'a [OverruleInput],
    ledger: &'a mut Ledger,
    listed: Vec<(OperationHours, Spread)>,
    applied: Vec<AppliedOverrule>,
    systems: [SystemSum; BoatSystem::COUNT],
}

impl Summing<'_> {
    fn add(&mut self, operation: &LabourOperation, parts: &Parts) {
        let count: Decimal = parts.iter().map(|(_, count)| count).sum();
        let chosen = self.overrules.iter().find_map(|overrule| match overrule {
            OverruleInput::Hours { operation: code, hours, reason } if *code == operation.code => Some((hours, reason)),
            _ => None,
        });
        if count <= Decimal::ZERO && chosen.is_none() {
            return;
        }
        let computed = spread(operation, count, self.factor);
        let (spread, basis) = match chosen {
            Some((hours, reason)) => {
                self.applied.push(AppliedOverrule {
                    about: operation.code.clone(),
                    computed: format!("{} h", rounded(computed.likely_h, 2)),
                    chosen: format!("{} h", hours.normalize()),
                    reason: reason.clone(),
                });
                let h = hours.to_f64().unwrap_or_default();
                let basis = self.ledger.note(&LABOUR_OVERRULE, &[("hours", Value::Exact(*hours))], h);
                (Spread { low_h: h, likely_h: h, high_h: h }, basis)
            }
            None => (computed, note_operation(operation, count, self.factor, computed, self.ledger)),
        };
        self.share_by_system(operation, parts, count, chosen.map(|_| spread.likely_h));
        self.listed.push((
            OperationHours {
                operation: operation.code.clone(),
                description: operation.description.clone(),
                counts: operation.driver,
                phase: operation.phase(),
                count: count.normalize(),
                low_h: rounded(spread.low_h, HOUR_PLACES),
                likely_h: rounded(spread.likely_h, HOUR_PLACES),
                high_h: rounded(spread.high_h, HOUR_PLACES),
                overrule: chosen.map(|(_, reason)| reason.clone()),
                basis,
            },
            spread,
        ));
    }

    /// Gives each system its share of an operation, hours that a person wrote by what was counted.
    fn share_by_system(&mut self, operation: &LabourOperation, parts: &Parts, count: Decimal, written_h: Option<f64>) {
        let all = count.to_f64().unwrap_or_default();
        if let Some(hours) = written_h.filter(|_| all <= 0.0) {
            self.systems[operation.driver.system() as usize].written_h += hours;
            return;
        }
        for (system, of_it) in parts {
            let of_it = of_it.to_f64().unwrap_or_default();
            let sum = &mut self.systems[*system as usize];
            match written_h {
                Some(hours) => sum.written_h += hours * of_it / all,
                None => {
                    sum.low_min += of_it * operation.low_min;
                    sum.likely_min += of_it * operation.likely_min;
                    sum.high_min += of_it * operation.high_min;
                }
            }
        }
    }
}

fn by_system(systems: &[SystemSum; BoatSystem::COUNT], factor: f64, ledger: &mut Ledger) -> Vec<SystemHours> {
    let worked = BoatSystem::ALL.into_iter().zip(systems).filter(|(_, sum)| sum.high_min > 0.0 || sum.written_h > 0.0);
    worked
        .map(|(system, sum)| {
            let hours = |minutes: f64| minutes / 60.0 * factor + sum.written_h;
            let likely_h = hours(sum.likely_min);
            let inputs = [
                ("likely_min", sum.likely_min.into()),
                ("job_factor", factor.into()),
                ("written_h", sum.written_h.into()),
            ];
            SystemHours {
                system,
                low_h: rounded(hours(sum.low_min), HOUR_PLACES),
                likely_h: rounded(likely_h, HOUR_PLACES),
                high_h: rounded(hours(sum.high_min), HOUR_PLACES),
                basis: ledger.note(&LABOUR_SYSTEM, &inputs, likely_h),
            }
        })
        .collect()
}

fn spread(operation: &LabourOperation, count: Decimal, factor: f64) -> Spread {
    let count = count.to_f64().unwrap_or_default();
    let hours = |minutes: f64| count * minutes / 60.0 * factor;
    Spread { low_h: hours(operation.low_min), likely_h: hours(operation.likely_min), high_h: hours(operation.high_min) }
}

fn note_operation(
    operation: &LabourOperation,
    count: Decimal,
    factor: f64,
    computed: Spread,
    ledger: &mut Ledger,
) -> BasisRef {
    let inputs = [
        ("count", Value::Exact(count.normalize())),
        ("low_min", operation.low_min.into()),
        ("likely_min", operation.likely_min.into()),
        ("high_min", operation.high_min.into()),
        ("job_factor", factor.into()),
    ];
    ledger.note(&LABOUR_OPERATION, &inputs, computed.likely_h)
}

fn sum(
    (operations, spreads): (Vec<OperationHours>, &[Spread]),
    by_system: Vec<SystemHours>,
    (work_days, work_days_basis): (f64, BasisRef),
    correlation: f64,
    ledger: &mut Ledger,
) -> Labour {
    let total = |part: fn(&Spread) -> f64| spreads.iter().map(part).fold(0.0, |sum, h| sum + h);
    let mean_h = total(|s| s.mean_h());
    let sum_of_deviations_h = total(|s| s.variance_h2().sqrt());
    let sum_of_variances_h2 = total(|s| s.variance_h2());
    let variance_h2 =
        correlation * sum_of_deviations_h * sum_of_deviations_h + (1.0 - correlation) * sum_of_variances_h2;
    let four_in_five_h = mean_h + FOUR_IN_FIVE_DEVIATIONS * variance_h2.sqrt();
    let inputs = [
        ("mean_h", mean_h.into()),
        ("sum_of_deviations_h", sum_of_deviations_h.into()),
        ("sum_of_variances_h2", sum_of_variances_h2.into()),
        ("correlation", correlation.into()),
    ];
    let basis = ledger.note(&LABOUR_FOUR_IN_FIVE, &inputs, four_in_five_h);
    Labour {
        operations,
        by_system,
        work_days: work_days as u32,
        work_days_basis,
        low_h: rounded(total(|s| s.low_h), HOUR_PLACES),
        likely_h: rounded(total(|s| s.likely_h), HOUR_PLACES),
        high_h: rounded(total(|s| s.high_h), HOUR_PLACES),
        mean_h: rounded(mean_h, HOUR_PLACES),
        four_in_five_h: rounded(four_in_five_h, HOUR_PLACES),
        basis,
    }
}
