//! Sizes: the least copper of the whole boat that keeps every limit, feeders and branches together.
//!
//! 1. A size must carry the leg's current and be protectable (`sizing::carry`).
//! 2. A feeder's own drop, its positive and its own returns, stays within the feeder limit.
//! 3. The drop from bank to device, all feeders and returns on the way included, stays within the limit of the load's
//!    class. A constant positive comes straight from the bank and shares only the returns.
//! 4. A load's return and its main positive (the one of the largest current) are of one size, as are a feeder's positive
//!    and the return of its bus where no other panel's returns go through that.
//!    All conductors under one jacket are of one size, and so are the two parts of a positive that goes through a switch.
//! 5. Of all choices the one wins that leaves the fewest loads without a size, and of those the one of least copper:
//!    [`least_copper`](super::least_copper) finds it, and says how it is exact.

mod branch;
mod candidate;
mod tree;
mod universe;

pub use universe::construction_minimum;

use crate::circuits::legs::{Laid, Owner};
use crate::circuits::loads::Load;
use crate::circuits::main_protection::{BankClass, bank_class};
use crate::circuits::sizing::{CannotCarry, Carried, Demand};
use crate::shop::item::FuseFamily;
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::take_off::LimitedBy;
use crate::units::WireSize;
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
    /// The positive to a switch that is elsewhere: of one size with the positive that continues it.
    pub switch_feed: Option<Chosen<'a>>,
    /// The return of the light in such a switch.
    pub light: Option<Chosen<'a>>,
    /// Worst drop from bank to device, volts.
    pub drop_v: f64,
    /// Which positive has the worst drop.
    pub worst: usize,
    /// What the feeder's positive and return take of it, volts.
    pub feeder_v: (f64, f64),
}

/// Sizes of one feeder.
#[derive(Clone, Debug)]
pub struct FeederSizes<'a> {
    /// The positive.
    pub positive: Chosen<'a>,
    /// Its own returns, in the order of [`FeederLegs::returns`](crate::circuits::legs::FeederLegs).
    pub returns: Vec<Chosen<'a>>,
    /// What positives and returns from the bank to its panel take, volts.
    pub from_bank_v: (f64, f64),
}

/// What is asked of the device that protects a feeder.
#[derive(Clone, Copy, Debug, Default)]
pub struct Main {
    /// Largest device behind it, amperes.
    pub largest_branch_a: f64,
    /// Its least rating, amperes.
    pub least_rating_a: f64,
    /// Whether it is a breaker of the panel that feeds a sub-panel.
    pub breaker: bool,
}

/// Copper of everything that got a size, in thousandths of a circular mil foot.
#[derive(Clone, Copy, Debug, Default)]
pub struct CopperFound {
    /// The least.
    pub least: u64,
    /// With each device's limit split evenly over its feeders and its branch; absent where that serves fewer.
    pub even_split: Option<u64>,
    /// Whether the search was finished.
    pub proved: bool,
}

/// What the search found for the whole boat.
#[derive(Clone, Debug, Default)]
pub struct Sizes<'a> {
    /// Of each load.
    pub circuits: Vec<Option<CircuitSizes<'a>>>,
    /// Why a load got none.
    pub without: Vec<(usize, NoSize)>,
    /// Of each feeder.
    pub feeders: Vec<Option<FeederSizes<'a>>>,
    /// Of each feeder: what protects it.
    pub mains: Vec<Main>,
    /// Why a feeder got none.
    pub feeders_without: Vec<(usize, NoSize)>,
    /// What overrules came to: load or feeder, and how it turned out.
    pub overruled: Vec<(Owner, Overruled)>,
    /// Copper of it all.
    pub copper: CopperFound,
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
        mains: vec![Main::default(); laid.feeders.len()],
        ..Sizes::default()
    };
    search.tree(&mut sizes);
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
