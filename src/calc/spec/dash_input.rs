//! What a spec says of its dashes: the face, what is in the way on it, and what goes into it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::units::{LengthValue, Name};

/// Most dashes of a boat.
pub const DASHES_MOST: usize = 10;
/// Most parts of a dash.
pub const PARTS_MOST: usize = 24;

/// What a dash is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DashMaterial {
    /// Glass-fibre laminate.
    #[default]
    Fiberglass,
    /// Aluminum.
    Aluminum,
    /// Plastic sheet.
    PlasticSheet,
    /// Acrylic.
    Acrylic,
}

/// A point on the face of a dash, as it is seen from the helm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DashPointInput {
    /// From the left end of the dash.
    pub from_left: LengthValue,
    /// From its lower edge.
    pub from_bottom: LengthValue,
}

/// An area of the face.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "shape", rename_all = "snake_case", deny_unknown_fields)]
pub enum DashAreaInput {
    /// A rectangle.
    Rectangle {
        /// Its left edge, from the left end of the dash.
        from_left: LengthValue,
        /// Its lower edge, from the lower edge of the dash.
        from_bottom: LengthValue,
        /// Across.
        width: LengthValue,
        /// In height.
        height: LengthValue,
    },
    /// A circle.
    Round {
        /// Its middle, from the left end of the dash.
        from_left: LengthValue,
        /// Its middle, from the lower edge of the dash.
        from_bottom: LengthValue,
        /// Its diameter.
        diameter: LengthValue,
    },
}

/// What is kept clear on a dash.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DashKeepOutInput {
    /// What it is, as printed: the wheel, a hatch, what is to come later.
    #[schema(min_length = 1, max_length = 60, example = "Wheel hub")]
    pub name: String,
    /// Where it is.
    pub area: DashAreaInput,
}

/// An opening that is in the dash already.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DashOldOpeningInput {
    /// What it is, as printed.
    #[schema(min_length = 1, max_length = 60, example = "Old plotter")]
    pub name: String,
    /// Where it is.
    pub area: DashAreaInput,
    /// Whether nothing new may lie over it. Unless so, a part may, and the answer says what plate that takes.
    #[serde(default)]
    pub keep_clear: bool,
}

/// The face of a dash and the room behind it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DashFaceInput {
    /// Its width, where it is a rectangle; either `width` and `height` or `corners`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width: Option<LengthValue>,
    /// Its height, where it is a rectangle, measured along the face.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height: Option<LengthValue>,
    /// Its corners in turn, where it is a polygon.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 40)]
    pub corners: Vec<DashPointInput>,
    /// Depth behind the face.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth: Option<LengthValue>,
    /// Its centre line, from the left end; half-way unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub centre_line: Option<LengthValue>,
    /// Least gap between the outlines of two parts; half an inch unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clearance: Option<LengthValue>,
    /// Least gap between an outline and an edge of the dash, or what is kept clear; half an inch unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edge_clearance: Option<LengthValue>,
    /// Eye height above the lower edge, along the face; the upper edge unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub eye_height: Option<LengthValue>,
    /// What it is made of.
    #[serde(default)]
    pub material: DashMaterial,
    /// What is in the way: wheel, hatch, compass.
    #[serde(default)]
    #[schema(max_items = 20)]
    pub keep_outs: Vec<DashKeepOutInput>,
    /// Space that is kept for what comes later.
    #[serde(default)]
    #[schema(max_items = 20)]
    pub reserved: Vec<DashKeepOutInput>,
    /// Openings that are there already.
    #[serde(default)]
    #[schema(max_items = 20)]
    pub old_openings: Vec<DashOldOpeningInput>,
}

/// A part that a dash of a boat holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DashEquipmentInput {
    /// Key of a piece of equipment or of a panel, as the take-off gives it; of several of one entry the beginning.
    #[schema(value_type = String, min_length = 1, max_length = 130, example = "disp-a9@helm")]
    pub equipment: Name,
    /// Where its middle has to be; placed by the search unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub centre: Option<DashPointInput>,
}

/// A dash of a boat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DashInput {
    /// Identifier.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "helm_dash")]
    pub id: Name,
    /// Station whose equipment it holds.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "helm")]
    pub station: Name,
    /// The face.
    pub face: DashFaceInput,
    /// What it holds; all at its station whose item says how it goes into a dash, unless stated.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 24)]
    pub parts: Vec<DashEquipmentInput>,
}
