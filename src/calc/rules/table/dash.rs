//! Rules of a dash: gaps, depth behind, what is sawn, and plates over old openings.

use crate::basis::{Rule, Standing};

/// The gap between two boxes.
pub static GAP: Rule = Rule {
    id: "dash.gap",
    says: "A gap is measured across or along the height, whichever is more, between the box round the outline of a part and what is next to it: another box, a straight edge or a corner. The true distance is never less.",
    formula: "gap_mm = max(across_mm - half_widths_mm, along_mm - half_heights_mm)",
    source: "geometry",
    standing: Standing::CommonPractice,
};

/// The gap to a slanted edge.
pub static GAP_SLANT: Rule = Rule {
    id: "dash.gap_slant",
    says: "The gap to a slanted edge is what the box of the part can grow on all sides until its corner meets the edge.",
    formula: "gap_mm = (abs(run_mm * up_mm - rise_mm * across_mm) - abs(rise_mm) * half_width_mm - abs(run_mm) * half_height_mm) / (abs(run_mm) + abs(rise_mm)); across_mm and up_mm from one end of the edge to the middle of the part",
    source: "geometry",
    standing: Standing::CommonPractice,
};

/// The gap to a circle.
pub static GAP_ROUND: Rule = Rule {
    id: "dash.gap_round",
    says: "The gap to a round area is what the box of the part can grow on all sides until it meets the circle.",
    formula: "gap_mm = far_mm - radius_mm if far_mm - near_mm >= radius_mm else (far_mm + near_mm - sqrt(2 * radius_mm^2 - (far_mm - near_mm)^2)) / 2; far and near: the distances of the box from the middle of the circle across and in height",
    source: "geometry",
    standing: Standing::CommonPractice,
};

/// Mean distance from eye height.
pub static EYE: Rule = Rule {
    id: "dash.eye_height",
    says: "How far the parts are from eye height, each weighed by the area of its outline: what is looked at most is largest.",
    formula: "from_eye_mm = weighed_mm3 / area_mm2",
    source: "common practice",
    standing: Standing::CommonPractice,
};

/// Depth behind a part.
pub static DEPTH: Rule = Rule {
    id: "dash.depth",
    says: "Behind the face a part needs the depth of its case, plugs and the bend of its cables: 4 in unless its item says, since 3 to 4 in are usual.",
    formula: "lacking_mm = max(0, needed_mm - available_mm)",
    source: "common practice",
    standing: Standing::CommonPractice,
};

/// What is sawn of a cut-out.
pub static SAWN: Rule = Rule {
    id: "dash.sawn",
    says: "An opening is sawn under size and filed to fit: what is cut away does not come back.",
    formula: "sawn_mm = cut_out_mm - 2 * to_file_mm",
    source: "common practice",
    standing: Standing::CommonPractice,
};

/// A plate over an old opening.
pub static PLATE: Rule = Rule {
    id: "dash.plate",
    says: "A plate reaches beyond all that it covers, far enough to be fastened and bedded.",
    formula: "plate_mm = covered_mm + 2 * beyond_mm",
    source: "common practice",
    standing: Standing::CommonPractice,
};

/// Every rule of this section.
pub static ALL: &[&Rule] = &[&GAP, &GAP_SLANT, &GAP_ROUND, &EYE, &DEPTH, &SAWN, &PLATE];
