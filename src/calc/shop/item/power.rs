//! What tells batteries and their chargers apart.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What is in a battery.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Chemistry {
    /// Lead and liquid acid.
    Flooded,
    /// Lead, the acid held in glass mat.
    Agm,
    /// Lead, the acid as gel.
    Gel,
    /// Lithium iron phosphate.
    LithiumIronPhosphate,
}

impl Chemistry {
    /// The chemistry as it is written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Chemistry::Flooded => "flooded",
            Chemistry::Agm => "agm",
            Chemistry::Gel => "gel",
            Chemistry::LithiumIronPhosphate => "lithium_iron_phosphate",
        }
    }
}
