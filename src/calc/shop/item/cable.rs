//! Jacketed cable: how a circuit is wired, and the forms that cable comes in.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// How the conductors of a circuit are run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Wiring {
    /// Each by itself, with the insulation colour of its function.
    #[default]
    SingleConductors,
    /// All under one jacket, with the cable's own colours inside and the colour of the function on the labels.
    JacketedCable,
}

/// The form of a jacketed cable.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CableShape {
    /// Conductors twisted together under a round jacket.
    Round,
    /// Conductors side by side.
    Flat,
}
