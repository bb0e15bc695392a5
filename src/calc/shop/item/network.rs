//! What an item is on the data network (NMEA 2000), and what cable it comes with.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::device::Function;
use crate::units::LengthValue;

/// A class of network cable, by what its power conductors carry.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum NetworkClass {
    /// 22 AWG power conductors, micro connectors.
    #[default]
    Light,
    /// 16 AWG power conductors, micro connectors.
    Mid,
    /// 16 AWG power conductors, mini connectors.
    Heavy,
}

impl NetworkClass {
    /// The class as it is written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            NetworkClass::Light => "light",
            NetworkClass::Mid => "mid",
            NetworkClass::Heavy => "heavy",
        }
    }

    /// The connectors on its ends.
    pub const fn connector(self) -> NetworkConnector {
        match self {
            NetworkClass::Light | NetworkClass::Mid => NetworkConnector::Micro,
            NetworkClass::Heavy => NetworkConnector::Mini,
        }
    }
}

/// The connectors of a backbone and of what is screwed into it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum NetworkConnector {
    /// The small one, of light and mid cable.
    Micro,
    /// The large one, of heavy cable.
    Mini,
}

impl NetworkConnector {
    /// The connector as it is written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            NetworkConnector::Micro => "micro",
            NetworkConnector::Mini => "mini",
        }
    }
}

/// What a device is on the data network.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DataNetwork {
    /// What it draws from the network, in load equivalency numbers: 50 mA each, rounded up. At most 20, since a device
    /// may draw 1 A. 0 for one that draws nothing from it.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 20, default = 0)]
    pub load_equivalency: u8,
    /// Length of the drop cable that comes with it; absent where none does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drop_supplied: Option<LengthValue>,
    /// Whether it is screwed on its tee and has no drop.
    #[serde(default)]
    pub on_tee: bool,
    /// Whether it has a terminator in it.
    #[serde(default)]
    pub terminator: bool,
    /// The maker's own network that displays are joined by, as the shop calls its plug; absent where it has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 40)]
    pub display_plug: Option<String>,
}

/// What a cable that comes with a device is. It sets where the cable leads, and what may be done to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SuppliedCableKind {
    /// Cable of a sounder's transducer; it is never cut.
    Transducer,
    /// Coaxial cable of an antenna.
    Antenna,
    /// Data cable of a radar.
    Radar,
    /// Harness from the engine to its instruments.
    EngineHarness,
    /// Anything else.
    Other,
}

impl SuppliedCableKind {
    /// The kind as it is written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            SuppliedCableKind::Transducer => "transducer",
            SuppliedCableKind::Antenna => "antenna",
            SuppliedCableKind::Radar => "radar",
            SuppliedCableKind::EngineHarness => "engine_harness",
            SuppliedCableKind::Other => "other",
        }
    }

    /// What it leads to unless the item says otherwise (common practice).
    pub const fn leads_to(self) -> Function {
        match self {
            SuppliedCableKind::Transducer | SuppliedCableKind::Radar => Function::NavigationElectronics,
            SuppliedCableKind::Antenna => Function::Radio,
            SuppliedCableKind::EngineHarness => Function::Instrument,
            SuppliedCableKind::Other => Function::Accessory,
        }
    }
}

/// A cable that comes with a device, fixed to it or made for it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SuppliedCable {
    /// What it is.
    pub cable: SuppliedCableKind,
    /// Its length.
    pub length: LengthValue,
    /// What it leads to: the nearest device of this function that has no such cable of its own, else the helm.
    /// Navigation electronics for a transducer or a radar, a radio for an antenna and an instrument for an engine
    /// harness unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leads_to: Option<Function>,
    /// Plug of the extension that it takes, as the shop calls it; absent where it cannot be extended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 40)]
    pub extension_plug: Option<String>,
    /// Whether what is too long may be cut off and a new end made. Never for a transducer.
    #[serde(default)]
    pub may_be_cut: bool,
}
