//! The data network and the cables that come with devices, in the take-off.

use serde::Serialize;
use utoipa::ToSchema;

use crate::basis::BasisRef;
use crate::shop::item::{NetworkClass, NetworkConnector, SuppliedCableKind};
use crate::spec::input::LengthSource;
use crate::units::{LengthValue, Name};

/// Where on the backbone a network is fed. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum NetworkFeed {
    /// At one end.
    End,
    /// Between its ends.
    Middle,
}

/// One device on the network.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct NetworkDevice {
    /// Key of the equipment; that of an engine gateway that is matched is `network/engine_gateway`.
    #[schema(value_type = String)]
    pub equipment: Name,
    /// Station of the device.
    #[schema(value_type = String)]
    pub station: Name,
    /// Station of its tee.
    #[schema(value_type = String)]
    pub tee_station: Name,
    /// What it draws, in load equivalency numbers of 50 mA.
    pub load_equivalency: u8,
    /// Its drop; absent for one that is screwed on its tee.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drop: Option<NetworkDrop>,
}

/// The drop of a device.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct NetworkDrop {
    /// Label of both its ends.
    #[schema(value_type = String, example = "D1")]
    pub label: Name,
    /// Stations along its way, tee to device.
    #[schema(value_type = Vec<String>)]
    pub route: Vec<Name>,
    /// How long it must be.
    pub needed_length: LengthValue,
    /// Length that the limits are reckoned with: the device's own drop, or the kept one that reaches.
    pub planned_length: LengthValue,
    /// Whether the drop that comes with the device is used.
    pub supplied: bool,
    /// Whether all of its way was measured.
    pub length_source: LengthSource,
    /// Why it must be as long.
    pub basis: BasisRef,
}

/// A stretch of the backbone between two tee stations.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct NetworkSpan {
    /// Label of both its ends.
    #[schema(value_type = String, example = "N1")]
    pub label: Name,
    /// Stations along its way, tee to tee.
    #[schema(value_type = Vec<String>)]
    pub route: Vec<Name>,
    /// How long it must be.
    pub needed_length: LengthValue,
    /// Lengths of the kept cables that it is made of, screwed end to end; the limits are reckoned with these.
    pub pieces: Vec<LengthValue>,
    /// Whether all of its way was measured.
    pub length_source: LengthSource,
    /// Why it must be as long.
    pub basis: BasisRef,
}

/// One way from the power tap along the backbone.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct NetworkLeg {
    /// Its last tee station.
    #[schema(value_type = String)]
    pub to: Name,
    /// Load equivalency numbers of its devices, those at the tap's station included.
    pub load_equivalency: u32,
    /// Length from the tap to its farthest device, the drop included.
    pub length: LengthValue,
    /// What it loses at most, volts.
    pub drop_v: f64,
    /// Why it loses as much.
    pub basis: BasisRef,
    /// Voltage at its end, volts, with the bank at its nominal voltage.
    pub end_voltage_v: f64,
    /// Why.
    pub voltage_basis: BasisRef,
}

/// How a network is fed.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct NetworkPower {
    /// Key of its circuit.
    #[schema(value_type = String, example = "network/power")]
    pub circuit: Name,
    /// Station of the power tap.
    #[schema(value_type = String)]
    pub station: Name,
    /// Panel that feeds it.
    #[schema(value_type = String)]
    pub panel: Name,
    /// Where on the backbone that is.
    pub feed: NetworkFeed,
    /// Most that a leg may lose, volts.
    pub drop_limit_v: f64,
    /// Its legs.
    pub legs: Vec<NetworkLeg>,
}

/// One cable from a display to the next, of the maker's own network.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct DisplayLink {
    /// Label of both its ends.
    #[schema(value_type = String, example = "L1")]
    pub label: Name,
    /// Its plug, as the shop calls it.
    #[schema(value_type = String)]
    pub plug: Name,
    /// Key of the display at one end.
    #[schema(value_type = String)]
    pub from: Name,
    /// Key of the display at the other end.
    #[schema(value_type = String)]
    pub to: Name,
    /// Stations along its way.
    #[schema(value_type = Vec<String>)]
    pub route: Vec<Name>,
    /// How long it must be.
    pub needed_length: LengthValue,
    /// Why.
    pub basis: BasisRef,
}

/// The data network.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Network {
    /// Class of its backbone cable; drops are light.
    pub cable: NetworkClass,
    /// Connectors of its backbone.
    pub connector: NetworkConnector,
    /// Tee stations in order along the backbone.
    #[schema(value_type = Vec<String>)]
    pub tee_stations: Vec<Name>,
    /// Whether no other backbone takes less cable, drops included.
    pub proved: bool,
    /// Stretches of the backbone, in order.
    pub spans: Vec<NetworkSpan>,
    /// Its devices.
    pub devices: Vec<NetworkDevice>,
    /// Length between its two farthest points, in planned lengths.
    pub backbone_length: LengthValue,
    /// Why.
    pub backbone_basis: BasisRef,
    /// Most that this may be.
    pub backbone_limit: LengthValue,
    /// Why.
    pub backbone_limit_basis: BasisRef,
    /// Planned length of all drops together.
    pub drops_length: LengthValue,
    /// Most that this may be.
    pub drops_limit: LengthValue,
    /// Why the drops come to as much.
    pub drops_basis: BasisRef,
    /// Sum of the load equivalency numbers.
    pub load_equivalency: u32,
    /// Current of all devices, amperes.
    pub current_a: f64,
    /// Why.
    pub current_basis: BasisRef,
    /// Most that the cable carries, amperes.
    pub current_limit_a: f64,
    /// Why.
    pub current_limit_basis: BasisRef,
    /// Tees.
    pub tees: u32,
    /// Why as many.
    pub tees_basis: BasisRef,
    /// Terminators that are needed beside those in devices.
    pub terminators: u32,
    /// Why as many.
    pub terminators_basis: BasisRef,
    /// How it is fed; absent where no panel can.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub power: Option<NetworkPower>,
    /// Cables between displays of one maker.
    pub display_links: Vec<DisplayLink>,
}

/// A cable that comes with a device, on this boat.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct SuppliedCableUse {
    /// Label of both its ends.
    #[schema(value_type = String, example = "S1")]
    pub label: Name,
    /// Key of the equipment that it comes with.
    #[schema(value_type = String)]
    pub equipment: Name,
    /// What it is.
    pub cable: SuppliedCableKind,
    /// Key of the equipment that it leads to; absent where it leads to a station.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub to: Option<Name>,
    /// Stations along its way.
    #[schema(value_type = Vec<String>)]
    pub route: Vec<Name>,
    /// Its length.
    pub length: LengthValue,
    /// How long it must be.
    pub needed_length: LengthValue,
    /// Why.
    pub needed_basis: BasisRef,
    /// What is left of its length; absent where it does not reach.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub surplus: Option<LengthValue>,
    /// Why.
    pub surplus_basis: BasisRef,
    /// Least length of the extension that it needs; absent where it reaches, and where it takes none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub extension: Option<LengthValue>,
    /// Whether what is too long may be cut off.
    pub may_be_cut: bool,
    /// What to do with it.
    pub advice: String,
}
