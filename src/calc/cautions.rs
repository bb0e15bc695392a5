//! Cautions: what can hurt someone on this job, and who has the last word on it.

use crate::findings::Caution;
use crate::spec::boat::Boat;
use crate::spec::input::{JobType, Known, Propulsion};

const LAST_WORD: Caution = Caution {
    id: "local_rules_first",
    text: "This is a shop's calculation, not an approval. Local codes, the standards that apply to the boat, the makers' \
           instructions and a licensed or certified marine electrician come first; a qualified person checks the finished work.",
    source: "common practice",
};
const DISCONNECT: Caution = Caution {
    id: "disconnect_sources",
    text: "Disconnect every battery, charger and shore lead before working, and keep them so until the work is checked: \
           a battery can feed thousands of amperes into a dropped tool.",
    source: "common practice",
};
const FUSE_FIRST: Caution = Caution {
    id: "fuse_first",
    text: "No conductor is live before its fuse or breaker is in. At a battery post that device sits within 7 in along the \
           conductor, 72 in if the conductor is sheathed throughout and on the post itself; on another source 7 in, or 40 in if sheathed.",
    source: "ABYC E-11 overcurrent protection; 33 CFR 183.455",
};
const VAPOUR: Caution = Caution {
    id: "petrol_vapour",
    text: "Petrol vapour may be where this work is done: ventilate and sniff first, no flame, heat gun or sparking tool there, \
           and only ignition-protected devices.",
    source: "33 CFR 183.410; common practice",
};
const HEAT: Caution = Caution {
    id: "heat_and_solvent",
    text: "Let solvent dry before heat is used, and keep heat away from fuel, foam and other wiring.",
    source: "common practice",
};
const DUST: Caution = Caution {
    id: "glass_dust",
    text: "Cutting and drilling glass-fibre laminate makes dust that harms lungs and eyes: respirator, goggles, dust extraction.",
    source: "common practice",
};
const SHORE: Caution = Caution {
    id: "shore_power",
    text: "Shore-power and other AC wiring is left to a licensed electrician and kept out of the DC loom.",
    source: "common practice",
};
const HIGH_VOLTAGE: Caution = Caution {
    id: "series_bank",
    text: "A bank of 36 or 48 V burns and arcs worse than 12 V: its fuses, breakers and switches are rated for its charging voltage, \
           and nothing at 12 V is tapped from it.",
    source: "common practice",
};
const OLD_WIRING: Caution = Caution {
    id: "old_wiring",
    text: "On a boat that was rigged before, trace and prove dead what is there: colours and labels of old wiring cannot be trusted.",
    source: "common practice",
};
const TEST: Caution = Caution {
    id: "test_before_use",
    text: "Before the boat is used: check polarity, current with everything off, each float switch lifted by water, and the loaded voltage at each device.",
    source: "common practice",
};

/// The cautions that apply to a boat, the most general first.
pub fn cautions(boat: &Boat) -> Vec<Caution> {
    // 33 CFR 183 Subpart I is law for petrol engines in the hull: no part of it is cited for an outboard.
    let covered = boat.propulsion == Propulsion::PetrolInboard;
    let where_covered =
        |caution: Caution, elsewhere| Caution { source: if covered { caution.source } else { elsewhere }, ..caution };
    let mut cautions = vec![LAST_WORD, DISCONNECT, where_covered(FUSE_FIRST, "ABYC E-11 overcurrent protection")];
    if boat.stations.iter().any(|station| station.petrol_vapour != Known::No) {
        cautions.push(where_covered(VAPOUR, "common practice"));
    }
    if boat.banks.iter().any(|bank| bank.nominal_voltage_v > 24.0) {
        cautions.push(HIGH_VOLTAGE);
    }
    if boat.job_type == JobType::ReRig {
        cautions.push(OLD_WIRING);
    }
    cautions.extend([HEAT, DUST, SHORE, TEST]);
    cautions
}
