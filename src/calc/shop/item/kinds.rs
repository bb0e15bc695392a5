//! What all kinds of items are asked: their word, their voltage rating, whether they can spark.

use super::attributes::Attributes;
use super::dash::DashMount;

impl Attributes {
    /// The kind as it is written in JSON.
    pub const fn kind(&self) -> &'static str {
        match self {
            Attributes::Device { .. } => "device",
            Attributes::Wire { .. } => "wire",
            Attributes::Cable { .. } => "cable",
            Attributes::RingTerminal { .. } => "ring_terminal",
            Attributes::ButtSplice { .. } => "butt_splice",
            Attributes::Lug { .. } => "lug",
            Attributes::HeatShrink { .. } => "heat_shrink",
            Attributes::Fuse { .. } => "fuse",
            Attributes::FuseHolder { .. } => "fuse_holder",
            Attributes::Breaker { .. } => "breaker",
            Attributes::WireLabel { .. } => "wire_label",
            Attributes::Panel { .. } => "panel",
            Attributes::Bus { .. } => "bus",
            Attributes::Battery { .. } => "battery",
            Attributes::BatterySwitch { .. } => "battery_switch",
            Attributes::TerminalBoot { .. } => "terminal_boot",
            Attributes::FuseBlock { .. } => "fuse_block",
            Attributes::Charger { .. } => "charger",
            Attributes::Combiner { .. } => "combiner",
            Attributes::BowReceptacle { .. } => "bow_receptacle",
            Attributes::BilgeSwitch { .. } => "bilge_switch",
            Attributes::Hose { .. } => "hose",
            Attributes::PlumbingFitting { .. } => "plumbing_fitting",
            Attributes::Fastener { .. } => "fastener",
            Attributes::Loom { .. } => "loom",
            Attributes::MessengerLine {} => "messenger_line",
            Attributes::Consumable { .. } => "consumable",
            Attributes::BatteryHardware { .. } => "battery_hardware",
            Attributes::NetworkCable { .. } => "network_cable",
            Attributes::NetworkTee { .. } => "network_tee",
            Attributes::NetworkTerminator { .. } => "network_terminator",
            Attributes::NetworkPowerTap { .. } => "network_power_tap",
            Attributes::DisplayCable { .. } => "display_cable",
            Attributes::EngineGateway { .. } => "engine_gateway",
            Attributes::CableExtension { .. } => "cable_extension",
            Attributes::Hardware {} => "hardware",
        }
    }

    /// How the thing goes into a dash, if it does.
    pub fn dash_mount(&self) -> Option<&DashMount> {
        match self {
            Attributes::Device { dash_mount, .. } | Attributes::Panel { dash_mount, .. } => dash_mount.as_deref(),
            _ => None,
        }
    }

    /// Highest voltage that a protective or switching item is built for, volts DC.
    pub const fn voltage_rating_v(&self) -> Option<f64> {
        match self {
            Attributes::Fuse { voltage_rating_v, .. }
            | Attributes::FuseHolder { voltage_rating_v, .. }
            | Attributes::Breaker { voltage_rating_v, .. }
            | Attributes::Panel { voltage_rating_v, .. }
            | Attributes::BatterySwitch { voltage_rating_v, .. }
            | Attributes::FuseBlock { voltage_rating_v, .. }
            | Attributes::Combiner { voltage_rating_v, .. }
            | Attributes::BowReceptacle { voltage_rating_v, .. }
            | Attributes::BilgeSwitch { voltage_rating_v, .. } => Some(*voltage_rating_v),
            _ => None,
        }
    }

    /// Whether an item that can spark is ignition protected; `None` for one that cannot.
    pub const fn ignition_protected(&self) -> Option<bool> {
        match self {
            Attributes::Device { ignition_protected, .. }
            | Attributes::FuseHolder { ignition_protected, .. }
            | Attributes::Breaker { ignition_protected, .. }
            | Attributes::Panel { ignition_protected, .. }
            | Attributes::BatterySwitch { ignition_protected, .. }
            | Attributes::FuseBlock { ignition_protected, .. }
            | Attributes::Charger { ignition_protected, .. }
            | Attributes::Combiner { ignition_protected, .. }
            | Attributes::BowReceptacle { ignition_protected, .. }
            | Attributes::BilgeSwitch { ignition_protected, .. } => Some(*ignition_protected),
            _ => None,
        }
    }
}
