//! The dashes of a take-off: where each part goes, what is cut, and what would mend what does not fit.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::basis::BasisRef;
use crate::shop::item::{CutOut, DashKind, Outline};
use crate::spec::dash_input::DashMaterial;
use crate::spec::input::Side;
use crate::units::{LengthValue, Name};

/// A place on the face of a dash.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DashPlace {
    /// From the centre line.
    pub from_centre: LengthValue,
    /// To which side of it, as seen from the helm; absent on the centre line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// From the lower edge.
    pub from_lower_edge: LengthValue,
}

/// How a part stands about the centre line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum DashSymmetry {
    /// Its middle is on it.
    Centred {},
    /// It mirrors an equal part.
    Mirrors {
        /// Key of that part.
        #[schema(value_type = String)]
        part: Name,
    },
    /// Neither.
    Broken {},
    /// A person put it where it is.
    Pinned {},
}

/// The gap from a part to what is nearest to it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DashGap {
    /// How wide, across or along the height, whichever is more.
    pub gap: LengthValue,
    /// What is there: the key of a part, an edge, or what is kept clear.
    pub to: String,
    /// Why it is so.
    pub basis: BasisRef,
}

/// The depth behind a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DashDepth {
    /// What it needs, plugs and the bend of its cables included.
    pub needed: LengthValue,
    /// Whether that is what is usual, since its item does not say.
    pub usual: bool,
    /// What there is.
    pub available: LengthValue,
    /// What is missing; 0 where it fits.
    pub lacking: LengthValue,
    /// Why that is so.
    pub basis: BasisRef,
}

/// A part of a dash.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DashPart {
    /// Its key: of its equipment or panel.
    #[schema(value_type = String, example = "disp-a9@helm")]
    pub key: Name,
    /// Letter or letters by which the drawing and the cut list call it.
    #[schema(example = "A")]
    pub mark: String,
    /// What it is.
    pub description: String,
    /// What kind of part.
    pub part: DashKind,
    /// What is cut out for it.
    pub cut_out: CutOut,
    /// What is seen of it.
    pub outline: Outline,
    /// Where its middle is; absent where no layout was found.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub centre: Option<DashPlace>,
    /// How it stands about the centre line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub symmetry: Option<DashSymmetry>,
    /// What is nearest to it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nearest: Option<DashGap>,
    /// Depth behind it; absent where that of the dash is not stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth: Option<DashDepth>,
}

/// A row of the drill and cut list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DashCut {
    /// Mark of the part, as on the drawing.
    pub mark: String,
    /// Key of the part.
    #[schema(value_type = String)]
    pub part: Name,
    /// Middle of the opening.
    pub centre: DashPlace,
    /// The opening as it has to be in the end.
    pub cut_out: CutOut,
    /// What is sawn first, to be filed to fit; absent for a round hole, which a hole saw cuts to size.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sawn: Option<DashSize>,
    /// Drill for its four corners; absent for a round hole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corner_drill: Option<LengthValue>,
    /// Middles of these holes from the middle of the opening, across and in height.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corner_holes: Option<DashSize>,
    /// What is done, in order.
    pub steps: Vec<String>,
    /// Why the sawn width and height are so.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub basis: Vec<BasisRef>,
}

/// A width and a height.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DashSize {
    /// Across.
    pub width: LengthValue,
    /// In height.
    pub height: LengthValue,
}

/// What becomes of an opening that is there already. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OldOpeningFate {
    /// It lies within the new cut-out of a part and goes with it.
    Swallowed,
    /// A part lies over it, and an overlay plate has to give that part something to hold on to.
    OverlayPlate,
    /// Nothing new covers it: it is closed by a plate of its own.
    CoverPlate,
    /// It stays as it is, and is kept clear.
    KeptClear,
}

/// An opening that is there already, and what becomes of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DashOldOpening {
    /// What it is.
    pub name: String,
    /// Its middle.
    pub centre: DashPlace,
    /// Its width and height.
    pub size: DashSize,
    /// Whether it is round.
    pub round: bool,
    /// What becomes of it.
    pub fate: OldOpeningFate,
    /// Keys of the parts that lie over it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub parts: Vec<Name>,
    /// Least size of the plate, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plate: Option<DashSize>,
    /// Middle of that plate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plate_centre: Option<DashPlace>,
    /// Why the width and height of the plate are so.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub basis: Vec<BasisRef>,
    /// What to do, in words.
    pub advice: String,
}

/// What would make everything fit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DashMend {
    /// What would be changed: `height`, `width`, `depth`, `clearance`, `part_size` or `part_elsewhere`. Expect new values.
    #[schema(value_type = String)]
    pub change: String,
    /// Key of the part that it is about, if it is about one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub part: Option<Name>,
    /// By how much.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<LengthValue>,
    /// The same in words.
    pub text: String,
}

/// An area of the face that is kept clear.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DashKeptClear {
    /// What it is.
    pub name: String,
    /// Its middle.
    pub centre: DashPlace,
    /// Its width and height.
    pub size: DashSize,
    /// Whether it is round.
    pub round: bool,
    /// Whether it is kept for what comes later.
    pub reserved: bool,
}

/// What is proven of a layout, each for places on the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DashProof {
    /// That all parts fit, or that they do not.
    pub fit: bool,
    /// That no layout breaks fewer symmetries.
    pub symmetry: bool,
    /// That none of these has a larger least clearance.
    pub clearance: bool,
    /// That none of these is nearer to eye height.
    pub eye_height: bool,
}

/// The layout of one dash.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DashLayout {
    /// Its identifier.
    #[schema(value_type = String, example = "helm_dash")]
    pub id: Name,
    /// Its station.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub station: Option<Name>,
    /// Its width and height.
    pub size: DashSize,
    /// Its corners in turn.
    pub corners: Vec<DashPlace>,
    /// Depth behind it, where that is stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth: Option<LengthValue>,
    /// What it is made of.
    pub material: DashMaterial,
    /// Whether all parts have a place and depth enough.
    pub fits: bool,
    /// Whether all parts have a place.
    pub placed: bool,
    /// Whether no layout is better: all four of `proof`.
    pub proven: bool,
    /// What of it is proven.
    pub proof: DashProof,
    /// Steps of work that the search took; its budget is one of work and not of time.
    pub work: u64,
    /// Middles of parts stand on multiples of this from the centre line and the lower edge.
    pub step: LengthValue,
    /// Why the grid is that wide.
    pub step_because: String,
    /// Symmetries about the centre line that are broken: pairs of equal parts that do not mirror each other, and single
    /// parts off the centre line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub broken_symmetries: Option<u32>,
    /// The least of all gaps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_clearance: Option<LengthValue>,
    /// Why it is so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_clearance_basis: Option<BasisRef>,
    /// Mean distance of the parts from eye height, weighed by area.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_eye_height: Option<LengthValue>,
    /// Why it is so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_eye_height_basis: Option<BasisRef>,
    /// Eye height above the lower edge.
    pub eye_height: LengthValue,
    /// Least gap asked for between parts.
    pub clearance: LengthValue,
    /// Least gap asked for to edges and what is kept clear.
    pub edge_clearance: LengthValue,
    /// The parts, in order of their marks.
    pub parts: Vec<DashPart>,
    /// Drill and cut list.
    pub cut_list: Vec<DashCut>,
    /// Openings that are there already.
    pub old_openings: Vec<DashOldOpening>,
    /// What is kept clear.
    pub kept_clear: Vec<DashKeptClear>,
    /// What would make it fit, where it does not.
    pub mends: Vec<DashMend>,
    /// What to mind at the work.
    pub advice: Vec<String>,
    /// Keys of devices at its station whose items do not say how they go into a dash: placed elsewhere, or forgotten.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub without_dash_data: Vec<Name>,
}
