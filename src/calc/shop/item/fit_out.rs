//! What goes into a boat beside its wiring: hose and its fittings, what holds and covers cable, and what batteries stand in.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::units::LengthValue;

/// A raw-water pump, by what it does with the water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PumpKind {
    /// Out of the bilge and over the side.
    Bilge,
    /// From the sea into a live well.
    LiveWell,
    /// From the sea to a hose on deck.
    WashDown,
    /// From the sea into a bait well.
    Bait,
}

impl PumpKind {
    /// As written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            PumpKind::Bilge => "bilge",
            PumpKind::LiveWell => "live_well",
            PumpKind::WashDown => "wash_down",
            PumpKind::Bait => "bait",
        }
    }
}

/// What a pump asks of the plumbing, where it is not what is usual for its kind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DevicePlumbing {
    /// What it does with the water; by its function unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pump_kind: Option<PumpKind>,
    /// Hose that its inlet takes, by inside diameter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inlet: Option<LengthValue>,
    /// Hose that its outlet takes, by inside diameter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outlet: Option<LengthValue>,
    /// Pipe thread of its ports, where they take an adapter and not the hose itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pipe_thread: Option<LengthValue>,
    /// Whether it is screwed on its seacock, so that no hose leads to it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub on_seacock: bool,
}

/// How hose is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum HoseType {
    /// With wire or hard helix in its wall: it stands suction, and may be used below the waterline.
    Reinforced,
    /// Smooth inside, without reinforcement.
    SmoothBore,
    /// Corrugated inside.
    Corrugated,
}

/// A fitting of the plumbing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Fitting {
    /// Through-hull below the waterline.
    ThroughHull,
    /// Seacock on a through-hull.
    Seacock,
    /// Strainer in a hose.
    Strainer,
    /// Manifold: one inlet, several outlets with a valve each.
    Manifold,
    /// Discharge in the hull's side, above the waterline.
    Discharge,
    /// Inlet in the wall of a well.
    WellInlet,
    /// Outlet on deck that a wash-down hose is put on.
    DeckOutlet,
    /// Adapter from pipe thread to hose.
    HoseAdapter,
}

impl Fitting {
    /// As written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Fitting::ThroughHull => "through_hull",
            Fitting::Seacock => "seacock",
            Fitting::Strainer => "strainer",
            Fitting::Manifold => "manifold",
            Fitting::Discharge => "discharge",
            Fitting::WellInlet => "well_inlet",
            Fitting::DeckOutlet => "deck_outlet",
            Fitting::HoseAdapter => "hose_adapter",
        }
    }

    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Fitting::ThroughHull => "through-hull",
            Fitting::Seacock => "seacock",
            Fitting::Strainer => "raw-water strainer",
            Fitting::Manifold => "raw-water manifold",
            Fitting::Discharge => "discharge fitting",
            Fitting::WellInlet => "well inlet",
            Fitting::DeckOutlet => "wash-down outlet",
            Fitting::HoseAdapter => "hose adapter",
        }
    }
}

/// What closes on a hose or goes round a cable or bundle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Fastener {
    /// Hose clamp.
    HoseClamp,
    /// Clamp that holds a cable or bundle to the boat, with its screw.
    CableClamp,
    /// Cable tie.
    CableTie,
    /// Grommet in a bulkhead.
    Grommet,
}

impl Fastener {
    /// As written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Fastener::HoseClamp => "hose_clamp",
            Fastener::CableClamp => "cable_clamp",
            Fastener::CableTie => "cable_tie",
            Fastener::Grommet => "grommet",
        }
    }
}

/// What is used up and counted by the pack.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Consumable {
    /// Sealant that fittings are bedded in: a cartridge.
    BeddingSealant,
    /// Thickened resin that seals the core round a hole: a kit.
    CoreSealer,
    /// Protectant for terminals: a can.
    TerminalProtectant,
    /// Solvent that parts are cleaned with before they are sealed: a can.
    Solvent,
}

impl Consumable {
    /// As written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Consumable::BeddingSealant => "bedding_sealant",
            Consumable::CoreSealer => "core_sealer",
            Consumable::TerminalProtectant => "terminal_protectant",
            Consumable::Solvent => "solvent",
        }
    }
}

/// What comes with a battery.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BatteryPart {
    /// Tray or box that it stands in.
    Tray,
    /// Strap or bracket that holds it down.
    HoldDown,
    /// Hose and cowl that let hydrogen out of its space.
    Vent,
    /// What the supplier charges until a worn-out battery comes back.
    CoreCharge,
    /// What it costs to be rid of an old battery.
    Disposal,
}

impl BatteryPart {
    /// As written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            BatteryPart::Tray => "tray",
            BatteryPart::HoldDown => "hold_down",
            BatteryPart::Vent => "vent",
            BatteryPart::CoreCharge => "core_charge",
            BatteryPart::Disposal => "disposal",
        }
    }

    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            BatteryPart::Tray => "battery tray",
            BatteryPart::HoldDown => "battery hold-down",
            BatteryPart::Vent => "battery ventilation",
            BatteryPart::CoreCharge => "core charge",
            BatteryPart::Disposal => "disposal of an old battery",
        }
    }
}
