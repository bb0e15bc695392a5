//! Hours from what the take-off counts: each operation counts something, so that one end less is its minutes less.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::basis::{BasisRef, Ledger, Value};
use crate::rules::table::labour_and_price::{LABOUR_FOUR_IN_FIVE, LABOUR_OPERATION, LABOUR_OVERRULE};
use crate::shop::item::LabourUse;
use crate::shop::labour::{Driver, LabourOperation};
use crate::shop::settings::Settings;
use crate::spec::input::{JobType, OverruleInput};
use crate::take_off::{AppliedOverrule, Labour, OperationHours};
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
    /// Operations that items, packages and the spec name, each with its quantity; the same one may stand several times.
    pub stated: Vec<LabourUse>,
}

impl Counts {
    /// How many of an operation: what its driver counts, and what was stated of it by name.
    fn of(&self, operation: &LabourOperation) -> Decimal {
        let counted = match operation.driver {
            Driver::Stated => Decimal::ZERO,
            driver => self.by_driver.get(&driver).copied().unwrap_or_default(),
        };
        counted + crate::spec::boat::stated_quantity(&self.stated, operation.code.as_str())
    }
}

/// Operations that were stated by name and that the shop's labour table does not have: each is a gap.
pub fn unknown_operations(counts: &Counts, operations: &[LabourOperation]) -> Vec<Name> {
    let known: BTreeSet<&Name> = operations.iter().map(|o| &o.code).collect();
    let stated: BTreeSet<&Name> =
        counts.stated.iter().filter(|u| u.quantity > Decimal::ZERO).map(|u| &u.operation).collect();
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
/// hours, also where nothing was counted. That its operation is in the table is checked with the spec.
pub fn labour(
    counts: &Counts,
    operations: &[LabourOperation],
    job_type: JobType,
    settings: &Settings,
    overrules: &[OverruleInput],
    ledger: &mut Ledger,
) -> (Labour, Vec<AppliedOverrule>) {
    let factor = job_factor(job_type, settings);
    let by_code: BTreeMap<&Name, &LabourOperation> = operations.iter().map(|o| (&o.code, o)).collect();
    let mut listed = Vec::new();
    let mut spreads = Vec::new();
    let mut applied = Vec::new();
    for operation in by_code.into_values() {
        let count = counts.of(operation);
        let chosen = overrules.iter().find_map(|overrule| match overrule {
            OverruleInput::Hours { operation: code, hours, reason } if *code == operation.code => Some((hours, reason)),
            _ => None,
        });
        if count <= Decimal::ZERO && chosen.is_none() {
            continue;
        }
        let computed = spread(operation, count, factor);
        let (spread, basis) = match chosen {
            Some((hours, reason)) => {
                applied.push(AppliedOverrule {
                    about: operation.code.clone(),
                    computed: format!("{} h", rounded(computed.likely_h, 2)),
                    chosen: format!("{} h", hours.normalize()),
                    reason: reason.clone(),
                });
                let h = hours.to_f64().unwrap_or_default();
                let basis = ledger.note(&LABOUR_OVERRULE, &[("hours", Value::Exact(*hours))], h);
                (Spread { low_h: h, likely_h: h, high_h: h }, basis)
            }
            None => (computed, note_operation(operation, count, factor, computed, ledger)),
        };
        spreads.push(spread);
        listed.push(OperationHours {
            operation: operation.code.clone(),
            description: operation.description.clone(),
            counts: operation.driver,
            count: count.normalize(),
            low_h: rounded(spread.low_h, HOUR_PLACES),
            likely_h: rounded(spread.likely_h, HOUR_PLACES),
            high_h: rounded(spread.high_h, HOUR_PLACES),
            overrule: chosen.map(|(_, reason)| reason.clone()),
            basis,
        });
    }
    (sum(listed, &spreads, settings.labour_correlation, ledger), applied)
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

fn sum(operations: Vec<OperationHours>, spreads: &[Spread], correlation: f64, ledger: &mut Ledger) -> Labour {
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
        low_h: rounded(total(|s| s.low_h), HOUR_PLACES),
        likely_h: rounded(total(|s| s.likely_h), HOUR_PLACES),
        high_h: rounded(total(|s| s.high_h), HOUR_PLACES),
        mean_h: rounded(mean_h, HOUR_PLACES),
        four_in_five_h: rounded(four_in_five_h, HOUR_PLACES),
        basis,
    }
}
