//! The shop's habits in plumbing and along the way: figures that no standard gives.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::units::{LengthUnit, LengthValue};

/// What the shop reckons with where hose is led. All of it is common practice: starting values that the shop changes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlumbingHabits {
    /// Hose between two things that stand beside each other: seacock and strainer, strainer and pump. No hose is shorter.
    pub between_fittings: LengthValue,
    /// Discharge hose where no station is known that it could lead to.
    pub unknown_discharge: LengthValue,
    /// What the loop above the waterline adds to a discharge through the hull's side.
    pub discharge_loop: LengthValue,
    /// Fittings that a cartridge of bedding sealant does.
    #[schema(minimum = 1, maximum = 100)]
    pub fittings_per_cartridge: u16,
    /// Holes whose core a kit of sealer seals.
    #[schema(minimum = 1, maximum = 100)]
    pub holes_per_core_kit: u16,
}

impl Default for PlumbingHabits {
    fn default() -> Self {
        let length = |value, unit| LengthValue { value, unit };
        PlumbingHabits {
            between_fittings: length(24.0, LengthUnit::In),
            unknown_discharge: length(6.0, LengthUnit::Ft),
            discharge_loop: length(12.0, LengthUnit::In),
            fittings_per_cartridge: 6,
            holes_per_core_kit: 6,
        }
    }
}

/// How what is used up along the way is charged.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Consumables {
    /// By the piece: each is a requirement, and the shop supplies leave it out.
    Counted,
    /// Within the percentage for shop supplies: it is counted for the rigger, and no line has it.
    #[default]
    ShopSupplies,
}

/// Where bundles lie in split loom.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LoomOn {
    /// Nowhere.
    Nowhere,
    /// On runs through engine spaces.
    #[default]
    EngineSpaces,
    /// On all runs outside tubes.
    AllOutsideTubes,
}

/// What the shop does along the way of cable. All of it is common practice: starting values that the shop changes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AlongHabits {
    /// How clamps, ties, grommets, loom, line, protectant and solvent are charged: by the piece or in the shop supplies.
    pub consumables: Consumables,
    /// How far apart supports stand outside tubes; never further than the published 18 in, or 450 mm where wire is metric.
    pub support_spacing: LengthValue,
    /// How far apart ties stand on a bundle.
    pub tie_spacing: LengthValue,
    /// Where bundles lie in split loom.
    pub loom: LoomOn,
    /// How far the messenger line hangs out of a tube at each end.
    pub messenger_tail: LengthValue,
    /// Ends on studs that a can of terminal protectant does.
    #[schema(minimum = 1, maximum = 10000)]
    pub ends_per_can: u16,
    /// Splices that a can of solvent does.
    #[schema(minimum = 1, maximum = 10000)]
    pub splices_per_can: u16,
}

impl Default for AlongHabits {
    fn default() -> Self {
        let inches = |value| LengthValue { value, unit: LengthUnit::In };
        AlongHabits {
            consumables: Consumables::default(),
            support_spacing: inches(18.0),
            tie_spacing: inches(12.0),
            loom: LoomOn::default(),
            messenger_tail: inches(24.0),
            ends_per_can: 150,
            splices_per_can: 100,
        }
    }
}
