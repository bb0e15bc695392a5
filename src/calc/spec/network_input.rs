//! What a spec asks of the data network.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::shop::item::NetworkClass;
use crate::units::Name;

/// What is asked of the data network; whatever is left out is chosen.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NetworkInput {
    /// Class of its backbone cable; the shop's unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cable: Option<NetworkClass>,
    /// Station of its power tap. Absent, the tee station nearest the panel at which the voltage holds at both ends.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "helm")]
    pub power_station: Option<Name>,
    /// Panel that feeds it, at 12 V. Absent, the nearest one whose bank does not start an engine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "helm_panel")]
    pub panel: Option<Name>,
    /// Station of a gateway that puts the engine's data on it; it is matched from the catalogue. Where only a package
    /// asks for one, it goes to the engine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "outboard")]
    pub engine_gateway: Option<Name>,
}
