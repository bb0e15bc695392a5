//! The work of the take-off: hours by operation and by system, and the days they fill.

use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use crate::basis::BasisRef;
use crate::shop::labour::{BoatSystem, Driver, WorkPhase};
use crate::units::Name;

/// One labour operation on this boat.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct OperationHours {
    /// Code of the operation.
    #[schema(value_type = String)]
    pub operation: Name,
    /// What is done.
    pub description: String,
    /// What it counts.
    pub counts: Driver,
    /// When it is done.
    pub phase: WorkPhase,
    /// How many.
    #[schema(value_type = String)]
    pub count: Decimal,
    /// Hours when all goes well.
    pub low_h: f64,
    /// Hours most likely.
    pub likely_h: f64,
    /// Hours when much goes wrong.
    pub high_h: f64,
    /// Why a person's hours stand here, if they do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub overrule: Option<String>,
    /// Why the likely hours are so.
    pub basis: BasisRef,
}

/// Hours of one system of the boat.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct SystemHours {
    /// The system.
    pub system: BoatSystem,
    /// Hours when all goes well.
    pub low_h: f64,
    /// Hours most likely.
    pub likely_h: f64,
    /// Hours when much goes wrong.
    pub high_h: f64,
    /// Why the likely hours are so.
    pub basis: BasisRef,
}

/// Labour in all.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Labour {
    /// Operations in order of code.
    pub operations: Vec<OperationHours>,
    /// The same hours by system of the boat: ends, labels and tests with their circuit, pulls with the distribution.
    pub by_system: Vec<SystemHours>,
    /// Days that the likely hours of all but the daily work fill.
    pub work_days: u32,
    /// Why there are so many.
    pub work_days_basis: BasisRef,
    /// Sum when all goes well, hours.
    pub low_h: f64,
    /// Sum most likely, hours.
    pub likely_h: f64,
    /// Sum when much goes wrong, hours.
    pub high_h: f64,
    /// Mean of the sum, hours.
    pub mean_h: f64,
    /// Hours that four boats in five stay within.
    pub four_in_five_h: f64,
    /// Why the four-in-five figure is so.
    pub basis: BasisRef,
}

/// Work of one operation on one day.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PlannedWork {
    /// Phase of the job.
    pub phase: WorkPhase,
    /// Code of the operation.
    #[schema(value_type = String)]
    pub operation: Name,
    /// Likely hours of it on this day.
    pub hours: f64,
}

/// One day of the work plan.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PlannedDay {
    /// Which day, counted from 1.
    pub day: u32,
    /// Likely hours on it.
    pub hours: f64,
    /// What is done, in order; what is done on every day first.
    pub work: Vec<PlannedWork>,
    /// Why it is so many hours.
    pub basis: BasisRef,
}

/// The work in days, by its likely hours.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct WorkPlan {
    /// Hours that the shop puts into a boat on a day.
    pub hours_a_day: f64,
    /// What is kept apart.
    pub kept_apart: &'static str,
    /// The days.
    pub days: Vec<PlannedDay>,
}
