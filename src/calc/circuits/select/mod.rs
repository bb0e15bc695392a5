//! Sizes: for each panel the least copper that keeps every limit, feeder and branches together.
//!
//! 1. A size must carry the leg's current and be protectable (`sizing::carry`).
//! 2. The feeder's own drop, there and back, stays within the feeder limit.
//! 3. The drop from bank to device, feeder included, stays within the limit of the load's class. A constant positive
//!    comes straight from the bank and shares only the feeder's return.
//! 4. A load's return and its main positive (the one of the largest current) are of one size, as are a feeder's
//!    positive and return unless its bus serves other panels; such a return is sized for half the feeder limit first.
//! 5. Of all feeder sizes the one with the least copper in the whole panel tree wins: every size is tried, so the
//!    result is exact.

mod branch;
mod candidate;
mod feeder;
mod universe;

pub use universe::construction_minimum;

use crate::calc::circuits::legs::{Laid, Owner};
use crate::calc::circuits::loads::Load;
use crate::calc::circuits::main_protection::{BankClass, bank_class};
use crate::calc::circuits::sizing::{CannotCarry, Carried, Demand};
use crate::calc::shop::item::FuseFamily;
use crate::calc::shop::settings::Settings;
use crate::calc::spec::boat::Boat;
use crate::calc::take_off::LimitedBy;
use crate::calc::units::WireSize;
use universe::Universe;

/// A size that a leg was given, and what it then carries.
#[derive(Clone, Copy, Debug)]
pub struct Chosen<'a> {
    /// What the leg asks of a size.
    pub demand: Demand<'a>,
    /// What the size carries and how it is protected.
    pub carried: Carried,
    /// What set it.
    pub limited_by: LimitedBy,
    /// Drop along the leg at its current, the maker's lead included, volts.
    pub drop_v: f64,
    /// Family of the fuse that protects it; absent for a breaker, for a return, and where no family will do.
    pub family: Option<FuseFamily>,
}

/// Why a circuit or feeder got no size.
#[derive(Clone, Debug)]
pub enum NoSize {
    /// No size in the shop carries it and can be protected.
    Carry {
        /// Current, amperes.
        current_a: f64,
        /// What the largest size says.
        because: CannotCarry,
    },
    /// No size keeps the drop limit.
    Drop {
        /// Limit, volts.
        limit_v: f64,
        /// Drop with the largest sizes, volts.
        least_v: f64,
    },
}

/// A person's size for a circuit or feeder, as it turned out.
#[derive(Clone, Debug)]
pub enum Overruled {
    /// It cannot be used: it could not carry the current, be protected, or is below the smallest allowed.
    Refused(String),
    /// It stands; the text says what good practice has against it.
    Unwise(String),
}

/// Sizes of one circuit: its positives in order, then its return.
#[derive(Clone, Debug)]
pub struct CircuitSizes<'a> {
    /// One for each positive.
    pub positives: Vec<Chosen<'a>>,
    /// The return.
    pub negative: Chosen<'a>,
    /// Worst drop from bank to device, volts.
    pub drop_v: f64,
    /// Which positive has the worst drop.
    pub worst: usize,
    /// What the feeder's positive and return take of it, volts.
    pub feeder_v: (f64, f64),
}

/// What the search found for the whole boat.
#[derive(Clone, Debug, Default)]
pub struct Sizes<'a> {
    /// Of each load.
    pub circuits: Vec<Option<CircuitSizes<'a>>>,
    /// Why a load got none.
    pub without: Vec<(usize, NoSize)>,
    /// Of each feeder: positive and return.
    pub feeders: Vec<Option<(Chosen<'a>, Chosen<'a>)>>,
    /// Of each feeder: the largest branch device behind its main fuse and the least rating of that fuse, amperes.
    pub mains: Vec<(f64, f64)>,
    /// Why a feeder got none.
    pub feeders_without: Vec<(usize, NoSize)>,
    /// What overrules came to: load or feeder, and how it turned out.
    pub overruled: Vec<(Owner, Overruled)>,
}

/// Finds all sizes. `wanted` is a person's size for a circuit or feeder.
pub fn select<'a>(
    boat: &'a Boat,
    loads: &'a [Load],
    laid: &'a Laid,
    settings: &'a Settings,
    wanted: &dyn Fn(Owner) -> Option<WireSize>,
) -> Sizes<'a> {
    let owners = (0..loads.len()).map(Owner::Circuit).chain((0..laid.feeders.len()).map(Owner::Feeder));
    let universe = Universe::new(settings, owners.filter_map(wanted));
    let classes: Vec<BankClass> = boat.banks.iter().map(bank_class).collect();
    let search = Search { boat, loads, laid, settings, universe: &universe, classes: &classes, wanted };
    let mut sizes = Sizes {
        circuits: vec![None; loads.len()],
        feeders: vec![None; laid.feeders.len()],
        mains: vec![(0.0, 0.0); laid.feeders.len()],
        ..Sizes::default()
    };
    let mut shared_returns = vec![None; laid.legs.len()];
    for (place, feeder) in laid.feeders.iter().enumerate() {
        search.panel(place, feeder, &mut shared_returns, &mut sizes);
    }
    sizes
}

/// Everything that the search reads.
struct Search<'a, 's> {
    boat: &'a Boat,
    loads: &'a [Load],
    laid: &'a Laid,
    settings: &'a Settings,
    universe: &'s Universe,
    classes: &'s [BankClass],
    wanted: &'s dyn Fn(Owner) -> Option<WireSize>,
}
