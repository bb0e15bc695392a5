//! What a layout means for the job. What cannot stand where it is wanted cannot be met, so it is a gap, and a quote with
//! it has no total until someone decides; what was only not found, or not stated, is a warning.

use crate::findings::{Gap, Warning};
use crate::take_off::{DashLayout, OldOpeningFate};
use crate::units::Name;

fn about(dash: &DashLayout) -> Name {
    Name::from(format!("dash/{}", dash.id))
}

/// What cannot be met on a dash.
pub fn gaps(dash: &DashLayout) -> Vec<Gap> {
    let mut gaps = Vec::new();
    if !dash.placed && dash.proof.fit {
        let mends: Vec<&str> =
            dash.mends.iter().filter(|mend| mend.change != "depth").map(|mend| mend.text.as_str()).collect();
        gaps.push(Gap {
            what: about(dash),
            need: format!(
                "room for {} parts on the dash '{}', {} by {}",
                dash.parts.len(),
                dash.id,
                dash.size.width,
                dash.size.height
            ),
            reason: format!(
                "they do not fit with {} between them and {} to the edges, however they are placed",
                dash.clearance, dash.edge_clearance
            ),
            mend: if mends.is_empty() { "take parts off this dash".to_owned() } else { mends.join("; or ") },
        });
    }
    for mend in dash.mends.iter().filter(|mend| mend.change == "depth") {
        let Some(part) = dash.parts.iter().find(|part| Some(&part.key) == mend.part.as_ref()) else { continue };
        let Some(depth) = &part.depth else { continue };
        gaps.push(Gap {
            what: Name::from(format!("dash/{}/{}", dash.id, part.key)),
            need: format!("{} behind the dash '{}' for {}", depth.needed, dash.id, part.description),
            reason: format!("there are {}, which is {} too little", depth.available, depth.lacking),
            mend: mend.text.clone(),
        });
    }
    gaps
}

/// What is unwise, not found or not known.
pub fn warnings(dash: &DashLayout) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let mut warn = |message: String| warnings.push(Warning { about: about(dash), message });
    if !dash.placed && !dash.proof.fit {
        warn(format!(
            "no place for all {} parts was found within the budget of work, and that there is none is not proven: lay it out by hand, or take parts off",
            dash.parts.len()
        ));
    }
    if dash.depth.is_none() && !dash.parts.is_empty() {
        warn(
            "the depth behind it is not stated: measure it before anything is ordered, 3 to 4 in are usual".to_owned(),
        );
    }
    let usual: Vec<&str> = dash
        .parts
        .iter()
        .filter(|part| part.depth.as_ref().is_some_and(|depth| depth.usual))
        .map(|part| part.key.as_str())
        .collect();
    if !usual.is_empty() {
        warn(format!(
            "the items of {} do not say what depth they need: 4 in are reckoned with, look it up",
            usual.join(", ")
        ));
    }
    for opening in &dash.old_openings {
        if let (OldOpeningFate::OverlayPlate | OldOpeningFate::CoverPlate, Some(plate)) = (opening.fate, opening.plate)
        {
            warn(format!(
                "the old opening '{}' takes a plate of at least {} by {}: add it to the quote if it is not there",
                opening.name, plate.width, plate.height
            ));
        }
    }
    warnings
}
