//! The shop's labour table: unit times, and what each operation counts.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::item::Function;
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
    /// A device of navigation electronics, to be configured.
    ElectronicDevice,
    /// An old circuit that a re-rig strips out.
    OldCircuit,
    /// The survey of what is aboard: once on a re-rig.
    ReRig,
    /// A haul or a launch.
    HaulOrLaunch,
    /// A sea trial.
    SeaTrial,
    /// A day of work: as many as the hours of all else take.
    WorkDay,
    /// The job: once wherever something is wired.
    Job,
    /// A through-hull with its seacock.
    ThroughHull,
    /// A fitting above the waterline, or in a well, with its hole.
    HullFitting,
    /// A hole whose core is sealed.
    CoreHole,
    /// A strainer that comes with no pump.
    Strainer,
    /// A manifold of several pumps.
    Manifold,
    /// A clamp that holds a bundle.
    Clamp,
    /// A grommet in a bulkhead.
    Grommet,
    /// A foot of split loom.
    LoomFoot,
    /// A foot of hose.
    HoseFoot,
    /// An end of hose, clamped.
    HoseEnd,
    /// A tee of the data network that was planned; one that is named brings its own labour.
    NetworkTee,
    /// A power tap of the data network that was planned.
    NetworkPowerTap,
    /// Counted where an item, a package or the spec names the operation.
    Stated,
}

impl Driver {
    /// When its work is done unless the operation says otherwise.
    pub const fn phase(self) -> WorkPhase {
        match self {
            Driver::OldCircuit | Driver::ReRig | Driver::WorkDay => WorkPhase::Prepare,
            Driver::Clamp
            | Driver::Grommet
            | Driver::LoomFoot
            | Driver::Bundle
            | Driver::BundleFootOpen
            | Driver::BundleFootTube
            | Driver::BundleFootGunwale
            | Driver::BundleFootBlind => WorkPhase::Pull,
            Driver::SmallEnd | Driver::Splice | Driver::MediumLug | Driver::LargeLug | Driver::JacketEnd => {
                WorkPhase::Terminate
            }
            Driver::Label
            | Driver::PanelPosition
            | Driver::ChargerOutput
            | Driver::NetworkTee
            | Driver::NetworkPowerTap => WorkPhase::Connect,
            Driver::Circuit | Driver::ElectronicDevice => WorkPhase::Prove,
            Driver::BowReceptacle | Driver::ThroughHull | Driver::HullFitting => WorkPhase::Cut,
            Driver::CoreHole => WorkPhase::Seal,
            Driver::HaulOrLaunch | Driver::SeaTrial | Driver::Job => WorkPhase::HandOver,
            Driver::MainDevice
            | Driver::BatterySwitch
            | Driver::BusOrBlock
            | Driver::Charger
            | Driver::Combiner
            | Driver::BilgeSwitch
            | Driver::Strainer
            | Driver::Manifold
            | Driver::HoseFoot
            | Driver::HoseEnd
            | Driver::Stated => WorkPhase::Mount,
        }
    }

    /// The system that its work belongs to where no circuit or item says so.
    pub const fn system(self) -> BoatSystem {
        match self {
            Driver::ElectronicDevice | Driver::NetworkTee | Driver::NetworkPowerTap => BoatSystem::Electronics,
            Driver::BowReceptacle => BoatSystem::DeckGear,
            Driver::BilgeSwitch => BoatSystem::Pumps,
            Driver::ThroughHull
            | Driver::HullFitting
            | Driver::CoreHole
            | Driver::Strainer
            | Driver::Manifold
            | Driver::HoseFoot
            | Driver::HoseEnd => BoatSystem::Plumbing,
            Driver::OldCircuit
            | Driver::ReRig
            | Driver::HaulOrLaunch
            | Driver::SeaTrial
            | Driver::WorkDay
            | Driver::Job
            | Driver::Stated => BoatSystem::WholeJob,
            _ => BoatSystem::Distribution,
        }
    }
}

/// When a piece of work is done: the phases of a rigging job, in their order (common practice).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WorkPhase {
    /// Survey, strip out, protect, prepare on the bench.
    Prepare,
    /// Cut and drill: makes dust.
    Cut,
    /// Bed and seal: sealant and solvent.
    Seal,
    /// Mount what stays dry.
    Mount,
    /// Pull bundles: wiring is open from here on.
    Pull,
    /// Crimp, shrink and splice: heat.
    Terminate,
    /// Land, connect and label.
    Connect,
    /// Configure and test.
    Prove,
    /// Launch, sea trial, papers.
    HandOver,
}

/// A system of the boat that hours are summed by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BoatSystem {
    /// Batteries, charging, panels, buses, mains and feeders, and the pulls that circuits share.
    Distribution,
    /// Pumps and blowers.
    Pumps,
    /// Through-hulls, strainers and hose.
    Plumbing,
    /// Displays, sounder, radar, instruments and their network.
    Electronics,
    /// Radio and sound.
    RadioAndSound,
    /// Lights.
    Lights,
    /// Horn and alarms.
    SignalsAndAlarms,
    /// Windlass, bow motor, trim tabs.
    DeckGear,
    /// Outlets and refrigeration.
    Comfort,
    /// Accessories.
    Accessories,
    /// What belongs to no system: survey, launch, trial, papers, cleaning.
    WholeJob,
}

impl BoatSystem {
    /// How many there are.
    pub const COUNT: usize = BoatSystem::WholeJob as usize + 1;

    /// All of them, in order.
    pub const ALL: [BoatSystem; BoatSystem::COUNT] = [
        BoatSystem::Distribution,
        BoatSystem::Pumps,
        BoatSystem::Plumbing,
        BoatSystem::Electronics,
        BoatSystem::RadioAndSound,
        BoatSystem::Lights,
        BoatSystem::SignalsAndAlarms,
        BoatSystem::DeckGear,
        BoatSystem::Comfort,
        BoatSystem::Accessories,
        BoatSystem::WholeJob,
    ];

    /// The system of a circuit, by what its load does.
    pub const fn of(function: Function) -> Self {
        match function {
            Function::BilgePump
            | Function::LiveWellPump
            | Function::WashDownPump
            | Function::FreshWaterPump
            | Function::WastePump
            | Function::BilgeBlower => BoatSystem::Pumps,
            Function::NavigationElectronics | Function::Instrument => BoatSystem::Electronics,
            Function::Radio | Function::Audio => BoatSystem::RadioAndSound,
            Function::NavigationLight | Function::InteriorLight | Function::Floodlight => BoatSystem::Lights,
            Function::Horn | Function::Alarm => BoatSystem::SignalsAndAlarms,
            Function::TrimTabs | Function::Windlass | Function::BowMotor => BoatSystem::DeckGear,
            Function::Refrigerator | Function::Outlet => BoatSystem::Comfort,
            Function::Accessory => BoatSystem::Accessories,
        }
    }
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
    /// When it is done; by what it counts unless stated. What makes dust is `cut`, what takes sealant or solvent `seal`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub phase: Option<WorkPhase>,
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

impl LabourOperation {
    /// When it is done.
    pub fn phase(&self) -> WorkPhase {
        self.phase.unwrap_or(self.driver.phase())
    }
}
