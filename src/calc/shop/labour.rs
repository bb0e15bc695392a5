//! The shop's labour table: unit times, and what each operation counts.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::units::Name;

/// What an operation counts. All but `stated` are counted from the take-off, so that one end less is its minutes less.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Driver {
    /// A bundle set up for pulling: once for each run that new wire goes through.
    Bundle,
    /// A foot of bundle through open space.
    BundleFootOpen,
    /// A foot of bundle through a tube with a messenger line.
    BundleFootTube,
    /// A foot of bundle under the gunwale or behind the liner.
    BundleFootGunwale,
    /// A foot of bundle fished blind or through a full tube.
    BundleFootBlind,
    /// A crimped and shrunk end, 10 AWG (6 mm²) and smaller.
    SmallEnd,
    /// A two-layer splice.
    Splice,
    /// A lug on 8 to 1 AWG (10 to 35 mm²).
    MediumLug,
    /// A lug on 1/0 to 4/0 AWG (50 mm² and larger).
    LargeLug,
    /// A jacket opened at one end of a cable, with the sleeve over it.
    JacketEnd,
    /// A wire label.
    Label,
    /// A circuit.
    Circuit,
    /// A circuit landed at a panel or fuse block.
    PanelPosition,
    /// A main fuse at the battery.
    MainDevice,
    /// A battery switch that was matched; one that is named brings its own labour.
    BatterySwitch,
    /// A bus or fuse block that was matched.
    BusOrBlock,
    /// A charger that was matched.
    Charger,
    /// An output of a charger connected to its battery.
    ChargerOutput,
    /// A combiner that was matched.
    Combiner,
    /// A bow-motor receptacle with its breaker.
    BowReceptacle,
    /// A switch of a bilge pump that was matched.
    BilgeSwitch,
    /// Counted where an item, a package or the spec names the operation.
    Stated,
}

/// One labour operation: minutes for one of what it counts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LabourOperation {
    /// The shop's code for it.
    #[schema(value_type = String, min_length = 1, max_length = 60, pattern = r"^[a-z0-9][a-z0-9_]*$", example = "crimp_and_shrink")]
    pub code: Name,
    /// What is done.
    #[schema(min_length = 1, max_length = 200)]
    pub description: String,
    /// What it counts.
    pub driver: Driver,
    /// Minutes when all goes well.
    #[schema(minimum = 0, maximum = 10000)]
    pub low_min: f64,
    /// Minutes most likely.
    #[schema(minimum = 0, maximum = 10000)]
    pub likely_min: f64,
    /// Minutes when much goes wrong.
    #[schema(minimum = 0, maximum = 10000)]
    pub high_min: f64,
}
