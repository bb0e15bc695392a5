//! Parts of the fit-out: hose and its fittings, what holds and covers cable, and what batteries stand in.

use super::inches;
use crate::requirements::Need;
use crate::shop::item::{BatteryPart, Consumable, Fastener, Fitting};
use crate::units::{Length, Name};

/// A need of the fit-out in a form that can be ordered.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FitOut {
    /// Hose.
    Hose {
        /// Inside diameter.
        inside: Length,
        /// Whether it must be reinforced.
        reinforced: bool,
    },
    /// Fitting of the plumbing.
    Fitting {
        /// Which.
        fitting: Fitting,
        /// Nominal size.
        size: Length,
        /// Thread of an adapter.
        pipe_thread: Option<Length>,
        /// Outlets of a manifold.
        ways: Option<u16>,
    },
    /// What closes on a hose or goes round a cable or bundle.
    Fastener(Fastener, Length),
    /// Split loom, by its least inside diameter.
    Loom(Length),
    /// Messenger line.
    MessengerLine,
    /// What is used up and counted by the pack.
    Consumable(Consumable),
    /// What comes with a battery, and the battery's group.
    Battery(BatteryPart, Option<Name>),
}

impl FitOut {
    /// A fitting without thread or ways.
    pub const fn fitting(fitting: Fitting, size: Length) -> Self {
        FitOut::Fitting { fitting, size, pipe_thread: None, ways: None }
    }

    pub(super) fn need(self) -> Need {
        match self {
            FitOut::Hose { inside, reinforced } => Need::Hose { inside_diameter: inches(inside), reinforced },
            FitOut::Fitting { fitting, size, pipe_thread, ways } => Need::PlumbingFitting {
                fitting,
                nominal_size: inches(size),
                pipe_thread: pipe_thread.map(inches),
                least_ways: ways,
            },
            FitOut::Fastener(fastener, around) => Need::Fastener { fastener, around: inches(around) },
            FitOut::Loom(inside) => Need::Loom { inside_diameter_min: inches(inside) },
            FitOut::MessengerLine => Need::MessengerLine {},
            FitOut::Consumable(consumable) => Need::Consumable { consumable },
            FitOut::Battery(battery_part, group) => Need::BatteryHardware { battery_part, group },
        }
    }
}
