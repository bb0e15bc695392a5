//! How a thing goes into a dash: its cut-out, its outline in front and the depth that it needs behind.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::units::LengthValue;

/// What is cut out of the dash for a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "shape", rename_all = "snake_case", deny_unknown_fields)]
pub enum CutOut {
    /// A rectangle, as the maker's template has it.
    Rectangle {
        /// Across.
        width: LengthValue,
        /// In height.
        height: LengthValue,
        /// Radius of its corners; square unless stated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        corner_radius: Option<LengthValue>,
    },
    /// A round hole.
    Round {
        /// Its diameter.
        diameter: LengthValue,
    },
}

/// What is seen of a part from the front: its bezel, with whatever covers it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "shape", rename_all = "snake_case", deny_unknown_fields)]
pub enum Outline {
    /// A rectangle.
    Rectangle {
        /// Across.
        width: LengthValue,
        /// In height.
        height: LengthValue,
    },
    /// A round bezel.
    Round {
        /// Its diameter.
        diameter: LengthValue,
    },
}

/// What kind of part it is, for the drawing and the work. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DashKind {
    /// Display.
    Display,
    /// Keypad or control head.
    Keypad,
    /// Stereo.
    Stereo,
    /// Gauge.
    Gauge,
    /// Switch or breaker panel.
    Panel,
    /// Radio.
    Radio,
    /// Single switch or socket.
    Switch,
    /// Anything else.
    #[default]
    Other,
}

/// How a thing goes into a dash. Cut-out and outline have the same middle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DashMount {
    /// What kind of part it is.
    #[serde(default)]
    pub part: DashKind,
    /// What is cut out for it.
    pub cut_out: CutOut,
    /// What is seen of it from the front; no smaller than the cut-out.
    pub outline: Outline,
    /// Depth that it needs behind the face, with its plugs and the bend of its cables. Absent, 4 in are reckoned with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth_behind: Option<LengthValue>,
}
