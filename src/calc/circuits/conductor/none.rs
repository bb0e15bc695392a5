//! When no single conductor does: what would.

use std::fmt;

use serde::Serialize;
use utoipa::ToSchema;

use super::Question;
use crate::rules::sizes;
use crate::take_off::LimitedBy;
use crate::units::{AreaStandard, WireSize, rounded};

/// Several conductors side by side that would do, each with its own protective device.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct InParallel {
    /// How many for the positive, and as many for the return.
    pub conductors: u32,
    /// Size of each: the smallest that does, of those that are run in parallel (1/0 AWG or 50 mm² and larger).
    pub gauge: WireSize,
    /// Whether a smaller size would carry it too; practice does not run those in parallel.
    pub smaller_would_do: bool,
}

/// A higher nominal voltage at which one conductor would do for a load of the same power.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct AtVoltage {
    /// Nominal voltage, volts: the lowest of 12, 24, 36 and 48 that does.
    pub nominal_voltage_v: f64,
    /// Current of the same power there, amperes.
    pub current_a: f64,
    /// The size that does.
    pub gauge: WireSize,
}

/// No single conductor does.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct NoConductor {
    /// The largest size there is.
    pub largest: WireSize,
    /// What refuses it.
    pub limited_by: LimitedBy,
    /// How many side by side would do.
    pub in_parallel: InParallel,
    /// What higher nominal voltage would do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_voltage: Option<AtVoltage>,
}

/// More than this many conductors side by side is a figure and not a proposal (common practice).
const PARALLEL_PRACTICAL_MAX: u32 = 4;

impl fmt::Display for NoConductor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let why = match self.limited_by {
            LimitedBy::VoltageDrop => "it would lose more voltage than the limit",
            LimitedBy::Protection => "no protective device both carries the load and protects it",
            _ => "it may not carry the current",
        };
        write!(f, "No single conductor up to {} does: {why}. ", self.largest)?;
        let InParallel { conductors, gauge, smaller_would_do } = self.in_parallel;
        if conductors > PARALLEL_PRACTICAL_MAX {
            write!(f, "It would take {conductors} of {gauge} in parallel each way, which is not practical")?;
        } else {
            write!(f, "{conductors} of {gauge} in parallel each way would do, each with its own fuse")?;
        }
        if smaller_would_do {
            f.write_str(" (smaller ones would carry it, but only 1/0 AWG, 50 mm2 and larger are run in parallel)")?;
        }
        match self.at_voltage {
            Some(at) => write!(
                f,
                ". A load of the same power at {} V draws {} A and needs {}.",
                at.nominal_voltage_v,
                rounded(at.current_a, 1),
                at.gauge
            ),
            None => f.write_str(
                ". No nominal voltage up to 48 V would do: shorten the run, split the load or allow more drop.",
            ),
        }
    }
}

impl std::error::Error for NoConductor {}

impl NoConductor {
    /// What would do where `limited_by` refuses the largest single conductor.
    pub(super) fn of(question: &Question, limited_by: LimitedBy) -> Self {
        let all = sizes::all(question.standard);
        NoConductor {
            largest: all[all.len() - 1],
            limited_by,
            in_parallel: question.in_parallel(),
            at_voltage: question.at_voltage(),
        }
    }
}

impl Question {
    /// The share of one of `conductors` side by side. In a bundle that counts, the added ones lie in it too.
    fn share(&self, conductors: u32) -> Question {
        let added = if self.bundled_conductors > 2 { 2 * (conductors - 1) } else { 0 };
        Question {
            current_a: self.current_a / f64::from(conductors),
            bundled_conductors: self.bundled_conductors.saturating_add(added),
            ..*self
        }
    }

    /// How many of the largest size would do, and the smallest size of which as many do.
    fn in_parallel(&self) -> InParallel {
        let all = sizes::all(self.standard);
        let largest = all[all.len() - 1];
        let limit_v = self.system_voltage_v * self.max_drop_percent / 100.0;
        let drop_v = sizes::area_cmil(largest, self.standard).map_or(0.0, |area_cmil| self.drop_v(area_cmil));
        let start = f64::max(2.0, (drop_v / limit_v).floor()) as u32;
        let conductors = (start..)
            .find(|&conductors| self.share(conductors).try_size(largest).is_ok())
            .expect("a share falls towards nothing, and what the largest size may carry has a floor");
        let share = self.share(conductors);
        let least = match self.standard {
            AreaStandard::Metric => WireSize::Metric(5_000),
            AreaStandard::Awg | AreaStandard::Sae => WireSize::Awg(0),
        };
        let (small, large): (Vec<WireSize>, Vec<WireSize>) = all.iter().partition(|size| !size.at_least(least));
        let does = |&size: &WireSize| share.try_size(size).is_ok();
        InParallel {
            conductors,
            gauge: large.into_iter().find(does).unwrap_or(largest),
            smaller_would_do: small.iter().any(does),
        }
    }

    /// The lowest higher nominal voltage at which one conductor does for the same power.
    fn at_voltage(&self) -> Option<AtVoltage> {
        [12.0, 24.0, 36.0, 48.0].into_iter().filter(|&volts| volts > self.system_voltage_v).find_map(|volts| {
            let current_a = self.current_a * self.system_voltage_v / volts;
            let there = Question { system_voltage_v: volts, current_a, ..*self };
            let (carried, _) = there.smallest().ok()?;
            Some(AtVoltage { nominal_voltage_v: volts, current_a, gauge: carried.size })
        })
    }
}
