//! Packages: named, reusable sets of equipment.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::shop::item::{LabourUse, Wiring};
use crate::units::Name;

/// One thing in a package, and where it goes unless the spec says otherwise.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PackageEntry {
    /// The item.
    #[schema(value_type = String, min_length = 1, max_length = 60)]
    pub sku: Name,
    /// How many of it.
    #[schema(minimum = 1, maximum = 100)]
    pub quantity: u16,
    /// Station it is mounted at; a wired device needs one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 60)]
    pub station: Option<Name>,
    /// Panel that feeds it. Absent, the boat's only panel of a fitting voltage.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 60)]
    pub panel: Option<Name>,
    /// How it is wired; the item's way unless stated, and else the shop's. Only what has a circuit can say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wiring: Option<Wiring>,
}

/// A named, reusable set of equipment. It may contain other packages, but never itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Package {
    /// The shop's code for it.
    #[schema(value_type = String, min_length = 1, max_length = 60, pattern = r"^[A-Za-z0-9][A-Za-z0-9._-]*$", example = "HELM-12-BASIC")]
    pub code: Name,
    /// What a customer reads.
    #[schema(min_length = 1, max_length = 200)]
    pub description: String,
    /// What is in it.
    #[serde(default)]
    #[schema(max_items = 200)]
    pub equipment: Vec<PackageEntry>,
    /// Codes of packages that it contains.
    #[serde(default)]
    #[schema(value_type = Vec<String>, max_items = 50)]
    pub packages: Vec<Name>,
    /// Labour that comes with the package beside that of its items.
    #[serde(default)]
    #[schema(max_items = 50)]
    pub labour: Vec<LabourUse>,
    /// Whether it asks for a gateway that puts the engine's data on the network.
    #[serde(default)]
    pub engine_gateway: bool,
}
