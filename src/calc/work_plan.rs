//! The work in days: operations by phase, with what makes dust kept away from open wiring, and heat from solvent.

use crate::basis::Ledger;
use crate::rules::table::labour_and_price::PLAN_DAY;
use crate::shop::labour::{Driver, WorkPhase};
use crate::shop::settings::Settings;
use crate::take_off::{Labour, OperationHours, PlannedDay, PlannedWork, WorkPlan};
use crate::units::rounded;

const KEPT_APART: &str = "Cutting that makes dust shares no day with sealing, open wiring or crimping, and solvent shares none with the heat \
     of crimping. A job of one day keeps the order instead: cut and clean up first, and let solvent dry before heat.";

/// Decimal places of hours, as those of the operations.
const PLACES: i32 = 4;
/// Hours that are not worth planning: less than the places show.
const NOTHING_H: f64 = 1e-4;
/// The share of a day that other work gets at least, however long the daily work is.
const LEAST_SHARE: f64 = 0.25;

/// Whether two phases may not share a day.
fn apart(one: WorkPhase, other: WorkPhase) -> bool {
    let pair = if one <= other { (one, other) } else { (other, one) };
    matches!(
        pair,
        (WorkPhase::Cut, WorkPhase::Seal | WorkPhase::Pull | WorkPhase::Terminate | WorkPhase::Connect)
            | (WorkPhase::Seal, WorkPhase::Terminate)
    )
}

/// A day as it fills.
#[derive(Default)]
struct Filling {
    used_h: f64,
    work: Vec<PlannedWork>,
}

/// Spreads the likely hours over days. What is done on every day takes an even share of each.
pub fn work_plan(labour: &Labour, settings: &Settings, ledger: &mut Ledger) -> WorkPlan {
    let (daily, mut others): (Vec<&OperationHours>, Vec<_>) =
        labour.operations.iter().filter(|o| o.likely_h > 0.0).partition(|o| o.counts == Driver::WorkDay);
    // Within a phase in the order of what is counted: a pull is set up before it is made.
    others.sort_by_key(|operation| (operation.phase, operation.counts));
    let hours = |list: &[&OperationHours]| list.iter().map(|o| o.likely_h).fold(0.0, |sum, h| sum + h);
    let (daily_h, others_h) = (hours(&daily), hours(&others));
    let a_day = settings.hours_a_day;
    let daily_share = daily_h / f64::from(labour.work_days.max(1));
    let room_h = f64::max(a_day - daily_share, a_day * LEAST_SHARE);
    let days = fill(&others, room_h, others_h <= room_h);

    let count = days.len() as f64;
    let mut before_h = 0.0;
    let days = days.into_iter().enumerate().map(|(place, Filling { used_h, work })| {
        let until_h = before_h + used_h;
        let daily_h = daily_h / count;
        let inputs = [("before_h", before_h.into()), ("until_h", until_h.into()), ("daily_h", daily_h.into())];
        let hours = until_h - before_h + daily_h;
        let basis = ledger.note(&PLAN_DAY, &inputs, hours);
        before_h = until_h;
        let of_each_day = daily.iter().map(|operation| PlannedWork {
            phase: operation.phase,
            operation: operation.operation.clone(),
            hours: rounded(operation.likely_h / count, PLACES),
        });
        PlannedDay {
            day: u32::try_from(place + 1).unwrap_or(u32::MAX),
            hours: rounded(hours, PLACES),
            work: of_each_day.chain(work).collect(),
            basis,
        }
    });
    WorkPlan { hours_a_day: a_day, kept_apart: KEPT_APART, days: days.collect() }
}

/// Fills one day after the other, in order. `one_day` says that all fits into one, where only the order counts.
fn fill(operations: &[&OperationHours], room_h: f64, one_day: bool) -> Vec<Filling> {
    let mut days = Vec::new();
    let mut day = Filling::default();
    for operation in operations {
        let mut left_h = operation.likely_h;
        if !one_day && day.work.iter().any(|work| apart(work.phase, operation.phase)) {
            days.push(std::mem::take(&mut day));
        }
        // An operation longer than any job takes ends here all the same: each round takes a whole day's room of it.
        while left_h > NOTHING_H {
            if room_h - day.used_h <= NOTHING_H {
                days.push(std::mem::take(&mut day));
            }
            let hours = f64::min(left_h, room_h - day.used_h);
            day.used_h += hours;
            left_h -= hours;
            let (phase, hours) = (operation.phase, rounded(hours, PLACES));
            day.work.push(PlannedWork { phase, operation: operation.operation.clone(), hours });
        }
    }
    if !day.work.is_empty() {
        days.push(day);
    }
    days
}
