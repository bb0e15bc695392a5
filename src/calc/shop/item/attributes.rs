//! What an item is, by the attributes that requirements are matched on.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::cable::{CableShape, Wiring};
use super::dash::DashMount;
use super::device::{DropClass, Duty, Function, Lead, LoadColumn, Stud};
use super::fit_out::{BatteryPart, Consumable, DevicePlumbing, Fastener, Fitting, HoseType};
use super::network::{DataNetwork, NetworkClass, NetworkConnector, SuppliedCable, SuppliedCableKind};
use super::power::Chemistry;
use super::protection::{BranchProtection, FuseFamily};
use crate::units::{LengthValue, WireSize};

fn is_false(flag: &bool) -> bool {
    !flag
}

/// What the thing is. Requirements are matched on these attributes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Attributes {
    /// Equipment that is wired: it has leads, is on the data network, or comes with a cable.
    Device {
        /// What it does.
        function: Function,
        /// Voltage at which the currents of its leads are stated; as usual for its function unless stated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(minimum = 1, maximum = 100)]
        rated_voltage_v: Option<f64>,
        /// Nominal system voltages it may be wired to; a current at another voltage than the rated one is that of equal
        /// power. As usual for its function unless stated.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        #[schema(max_items = 8)]
        nominal_voltages_v: Vec<u16>,
        /// What it draws at the rated voltage, amperes: for the positive lead that states no current of its own. As usual for
        /// its function unless stated; where that has no usual draw, it must be stated here or on the lead.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(minimum = 0, maximum = 1000)]
        draw_a: Option<f64>,
        /// Its leads; as usual for its function unless stated.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        #[schema(max_items = 16)]
        leads: Vec<Lead>,
        /// Whether it has no leads: what only the data network feeds, or what only has a cable of its own. It hangs on no
        /// panel.
        #[serde(default, skip_serializing_if = "is_false")]
        unwired: bool,
        /// How long it runs; by function unless stated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        duty: Option<Duty>,
        /// Load analysis column; by function unless stated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        load_column: Option<LoadColumn>,
        /// Drop class; by function unless stated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        drop_class: Option<DropClass>,
        /// Fuse rating that its maker states, amperes.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(minimum = 0.5, maximum = 600)]
        maker_fuse_a: Option<f64>,
        /// How it is wired; the shop's way unless stated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        wiring: Option<Wiring>,
        /// How it goes into a dash, if it does.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        dash_mount: Option<Box<DashMount>>,
        /// What it asks of the plumbing, where that is not what is usual for a raw-water pump of its function.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        plumbing: Option<DevicePlumbing>,
        /// What it is on the data network; absent for what is not on it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        data_network: Option<DataNetwork>,
        /// Cables that come with it.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        #[schema(max_items = 8)]
        supplied_cables: Vec<SuppliedCable>,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Single-conductor wire or cable.
    Wire {
        /// Conductor size.
        size: WireSize,
        /// Insulation colour.
        #[schema(min_length = 1, max_length = 40)]
        colour: String,
        /// Temperature rating of the insulation, °C.
        insulation_c: u16,
        /// Whether the copper is tinned.
        #[serde(default)]
        tinned: bool,
    },
    /// Cable: two or three conductors under one jacket.
    Cable {
        /// Conductors in it.
        #[schema(minimum = 2, maximum = 3)]
        conductors: u8,
        /// Size of each conductor.
        size: WireSize,
        /// Its form.
        shape: CableShape,
        /// Outside diameter of the jacket; of a flat cable its width.
        outside_diameter: LengthValue,
        /// Insulation colours of its conductors.
        #[schema(min_items = 2, max_items = 3)]
        colours: Vec<String>,
        /// Temperature rating of the insulation, °C.
        insulation_c: u16,
        /// Whether the copper is tinned.
        #[serde(default)]
        tinned: bool,
    },
    /// Ring terminal, insulated.
    RingTerminal {
        /// Smallest wire it takes.
        size_from: WireSize,
        /// Largest wire it takes.
        size_to: WireSize,
        /// Stud it fits.
        stud: Stud,
    },
    /// Butt splice.
    ButtSplice {
        /// Smallest wire it takes.
        size_from: WireSize,
        /// Largest wire it takes.
        size_to: WireSize,
    },
    /// Heavy lug.
    Lug {
        /// The wire size it takes.
        size: WireSize,
        /// Stud it fits.
        stud: Stud,
    },
    /// Adhesive-lined heat-shrink tubing.
    HeatShrink {
        /// Inside diameter as supplied.
        supplied_diameter: LengthValue,
        /// Inside diameter after full recovery.
        recovered_diameter: LengthValue,
        /// Length of one selling unit: the stick, or the ready-cut piece.
        piece_length: LengthValue,
    },
    /// Fuse.
    Fuse {
        /// Form of the fuse.
        family: FuseFamily,
        /// Rating, amperes.
        #[schema(minimum = 0.25, maximum = 1000)]
        rating_a: f64,
        /// Highest voltage it may break, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Current it can interrupt at that voltage, amperes.
        #[schema(minimum = 1, maximum = 1000000)]
        interrupt_a: f64,
    },
    /// Holder for one fuse.
    FuseHolder {
        /// Form of fuse it holds.
        family: FuseFamily,
        /// Largest fuse it takes, amperes.
        #[schema(minimum = 1, maximum = 1000)]
        rating_max_a: f64,
        /// Highest voltage, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Circuit breaker.
    Breaker {
        /// Rating, amperes.
        #[schema(minimum = 0.5, maximum = 1000)]
        rating_a: f64,
        /// Highest voltage it may break, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Current it can interrupt at that voltage, amperes.
        #[schema(minimum = 1, maximum = 1000000)]
        interrupt_a: f64,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Label for a conductor end.
    WireLabel {
        /// Largest outside diameter it goes round.
        diameter_max: LengthValue,
    },
    /// Switch panel.
    Panel {
        /// Switched positions.
        #[schema(minimum = 1, maximum = 100)]
        positions: u16,
        /// What protects each branch.
        protection: BranchProtection,
        /// Highest voltage, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Stud or screw that a branch lands on.
        stud: Stud,
        /// How it goes into a dash, if it does.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        dash_mount: Option<Box<DashMount>>,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Bus: studs or screws on one bar.
    Bus {
        /// Places for branches.
        #[schema(minimum = 1, maximum = 100)]
        positions: u16,
        /// Stud or screw that a branch lands on.
        stud: Stud,
        /// Continuous rating, amperes.
        #[schema(minimum = 1, maximum = 2000)]
        rating_a: f64,
    },
    /// Battery.
    Battery {
        /// Nominal voltage, volts.
        nominal_voltage_v: u16,
        /// Capacity at the 20 h rate, ampere-hours.
        #[schema(minimum = 1, maximum = 2000)]
        capacity_ah: f64,
        /// Cold-cranking rating, amperes; absent for one that has none.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(minimum = 1, maximum = 5000)]
        cold_cranking_a: Option<f64>,
        /// What is in it; absent where nobody has said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        chemistry: Option<Chemistry>,
        /// Charging current that its maker asks for, amperes.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(minimum = 0.5, maximum = 1000)]
        charge_a: Option<f64>,
        /// Its size by the trade's group number, so that tray and hold-down suit it; absent where nobody has said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(min_length = 1, max_length = 20, example = "31")]
        group: Option<String>,
    },
    /// Battery switch.
    BatterySwitch {
        /// Continuous rating, amperes.
        #[schema(minimum = 1, maximum = 2000)]
        rating_a: f64,
        /// Highest voltage, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Stud its cables land on.
        stud: Stud,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Insulating boot over a lug or terminal that stays live.
    TerminalBoot {
        /// Smallest cable it goes over.
        size_from: WireSize,
        /// Largest cable it goes over.
        size_to: WireSize,
        /// Its colour.
        #[schema(min_length = 1, max_length = 40)]
        colour: String,
    },
    /// Fuse block: several fuses behind one stud.
    FuseBlock {
        /// Places for fuses.
        #[schema(minimum = 1, maximum = 100)]
        positions: u16,
        /// Form of the fuses it holds.
        family: FuseFamily,
        /// Continuous rating of the whole block, amperes.
        #[schema(minimum = 1, maximum = 2000)]
        rating_a: f64,
        /// Highest voltage, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Screw that a branch lands on.
        stud: Stud,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Battery charger.
    Charger {
        /// Outputs, each for one battery.
        #[schema(minimum = 1, maximum = 12)]
        outputs: u16,
        /// Charging current of one output, amperes.
        #[schema(minimum = 0.5, maximum = 500)]
        output_a: f64,
        /// Nominal voltage of the batteries it charges.
        #[schema(minimum = 6, maximum = 96)]
        nominal_voltage_v: u16,
        /// What it can charge.
        #[schema(min_items = 1, max_items = 4)]
        chemistries: Vec<Chemistry>,
        /// Whether each output is fused at its battery end by the maker.
        #[serde(default)]
        fused_outputs: bool,
        /// Whether its case must be grounded.
        #[serde(default)]
        case_ground: bool,
        /// Stud of its outputs.
        stud: Stud,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Combiner: joins banks while one source charges them.
    Combiner {
        /// Continuous rating, amperes.
        #[schema(minimum = 1, maximum = 2000)]
        rating_a: f64,
        /// Highest voltage, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Whether it parts the banks while the engine cranks.
        #[serde(default)]
        isolates_while_cranking: bool,
        /// Whether it limits the current into a lithium bank.
        #[serde(default)]
        limits_charging: bool,
        /// Stud its cables land on.
        stud: Stud,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Receptacle and plug of a bow motor.
    BowReceptacle {
        /// Continuous rating, amperes.
        #[schema(minimum = 1, maximum = 500)]
        rating_a: f64,
        /// Highest voltage, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Switch of a bilge pump: automatic, off, manual.
    BilgeSwitch {
        /// Rating, amperes.
        #[schema(minimum = 0.5, maximum = 100)]
        rating_a: f64,
        /// Highest voltage, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Whether a light shows that the pump runs.
        #[serde(default)]
        running_light: bool,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Hose.
    Hose {
        /// Inside diameter.
        inside_diameter: LengthValue,
        /// How it is made.
        hose_type: HoseType,
    },
    /// Fitting of the plumbing.
    PlumbingFitting {
        /// Which.
        fitting: Fitting,
        /// Nominal size: of the pipe thread of a through-hull or seacock, else of the hose it takes.
        nominal_size: LengthValue,
        /// Pipe thread at the other end of an adapter.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pipe_thread: Option<LengthValue>,
        /// Outlets of a manifold.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(minimum = 2, maximum = 12)]
        ways: Option<u16>,
    },
    /// What closes on a hose or goes round a cable or bundle.
    Fastener {
        /// Which.
        fastener: Fastener,
        /// Smallest outside diameter that it goes round.
        diameter_from: LengthValue,
        /// Largest outside diameter that it goes round.
        diameter_to: LengthValue,
    },
    /// Split loom that a bundle lies in.
    Loom {
        /// Inside diameter.
        inside_diameter: LengthValue,
    },
    /// Line that is left in a tube for the next pull.
    MessengerLine {},
    /// What is used up and counted by the pack.
    Consumable {
        /// Which.
        consumable: Consumable,
    },
    /// What comes with a battery.
    BatteryHardware {
        /// Which.
        battery_part: BatteryPart,
        /// Battery that it suits, by the trade's group number; absent where it suits any.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(min_length = 1, max_length = 20, example = "31")]
        group: Option<String>,
    },
    /// Network cable with a connector on both ends, as backbone or as drop.
    NetworkCable {
        /// Class of its conductors.
        class: NetworkClass,
        /// Its length.
        length: LengthValue,
    },
    /// Tee of the data network, for one device or the power tap.
    NetworkTee {
        /// Connectors of the backbone that it goes into.
        connector: NetworkConnector,
    },
    /// Terminator at an end of the data network.
    NetworkTerminator {
        /// Connectors of the backbone that it goes into.
        connector: NetworkConnector,
    },
    /// Cable that feeds the data network, with leads for its own circuit.
    NetworkPowerTap {
        /// Connectors of the backbone that it goes into.
        connector: NetworkConnector,
        /// Most current that it carries, amperes.
        #[schema(minimum = 0.5, maximum = 20)]
        rating_a: f64,
    },
    /// Cable of a maker's own network from one display to the next.
    DisplayCable {
        /// Its plug, as the shop calls it.
        #[schema(min_length = 1, max_length = 40)]
        plug: String,
        /// Its length.
        length: LengthValue,
    },
    /// Gateway that puts an engine's data on the network.
    EngineGateway {
        /// What it draws from the network, in load equivalency numbers.
        #[schema(minimum = 0, maximum = 20)]
        load_equivalency: u8,
    },
    /// Extension of a cable that came with a device.
    CableExtension {
        /// What it extends.
        extends: SuppliedCableKind,
        /// Its plug, as the shop calls it.
        #[schema(min_length = 1, max_length = 40)]
        plug: String,
        /// Its length.
        length: LengthValue,
    },
    /// Anything that is counted and not wired.
    Hardware {},
}
