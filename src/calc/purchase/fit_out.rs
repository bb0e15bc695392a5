//! Hose and its fittings, what holds and covers cable, and what batteries stand in: does an item meet such a need, in what
//! does it fall short, and both in words.

use crate::purchase::matching::{Miss, Misses, by_length};
use crate::requirements::Need;
use crate::shop::item::{Attributes, Consumable, Fastener, HoseType, Item};
use crate::units::LengthValue;

/// The kind of item that a need of the fit-out asks for.
///
/// # Panics
/// For any other need.
pub(super) fn kind_of(need: &Need) -> &'static str {
    match need {
        Need::Hose { .. } => "hose",
        Need::PlumbingFitting { .. } => "plumbing_fitting",
        Need::Fastener { .. } => "fastener",
        Need::Loom { .. } => "loom",
        Need::MessengerLine {} => "messenger_line",
        Need::Consumable { .. } => "consumable",
        Need::BatteryHardware { .. } => "battery_hardware",
        _ => panic!("{} is no need of the fit-out", need.key()),
    }
}

fn same(a: Option<LengthValue>, b: Option<LengthValue>) -> bool {
    a.and_then(LengthValue::length) == b.and_then(LengthValue::length)
}

/// Notes in what an item falls short, and says whether the need is one of the fit-out.
pub(super) fn misses(need: &Need, item: &Item, misses: &mut Misses) -> bool {
    match (need, &item.attributes) {
        (Need::Hose { inside_diameter: wanted, reinforced }, Attributes::Hose { inside_diameter, hose_type }) => {
            misses.note(!same(Some(*wanted), Some(*inside_diameter)), Miss::Size);
            let does = *hose_type == HoseType::Reinforced || !reinforced && *hose_type == HoseType::SmoothBore;
            misses.note(!does, Miss::Does);
            misses.note(!by_length(item), Miss::Unit);
        }
        (
            Need::PlumbingFitting { fitting: wanted, nominal_size: size, pipe_thread: by_thread, least_ways },
            Attributes::PlumbingFitting { fitting, nominal_size, pipe_thread, ways },
        ) => {
            misses.note(wanted != fitting, Miss::Family);
            misses.note(!same(Some(*size), Some(*nominal_size)), Miss::Size);
            misses.note(by_thread.is_some() && !same(*by_thread, *pipe_thread), Miss::Stud);
            misses.note(least_ways.is_some_and(|least| ways.is_none_or(|ways| ways < least)), Miss::Positions);
        }
        (
            Need::Fastener { fastener: wanted, around },
            Attributes::Fastener { fastener, diameter_from, diameter_to },
        ) => {
            misses.note(wanted != fastener, Miss::Family);
            let around = around.length();
            misses.note(around < diameter_from.length() || around > diameter_to.length(), Miss::Size);
        }
        (Need::Loom { inside_diameter_min }, Attributes::Loom { inside_diameter }) => {
            misses.note(inside_diameter.length() < inside_diameter_min.length(), Miss::Size);
            misses.note(!by_length(item), Miss::Unit);
        }
        (Need::MessengerLine {}, Attributes::MessengerLine {}) => misses.note(!by_length(item), Miss::Unit),
        (Need::Consumable { consumable: wanted }, Attributes::Consumable { consumable }) => {
            misses.note(wanted != consumable, Miss::Family);
        }
        (
            Need::BatteryHardware { battery_part: wanted, group: by_group },
            Attributes::BatteryHardware { battery_part, group },
        ) => {
            misses.note(wanted != battery_part, Miss::Family);
            let other = by_group.as_ref().zip(group.as_ref()).is_some_and(|(wanted, group)| wanted.as_str() != group);
            misses.note(other, Miss::Size);
        }
        _ => return false,
    }
    true
}

/// What an item of the fit-out is, in the respect in which it misses.
pub(super) fn is(miss: Miss, attributes: &Attributes) -> Option<String> {
    Some(match (miss, attributes) {
        (Miss::Size, Attributes::Hose { inside_diameter, .. }) => format!("{inside_diameter} inside"),
        (Miss::Does, Attributes::Hose { hose_type, .. }) => match hose_type {
            HoseType::Corrugated => "corrugated inside".to_owned(),
            HoseType::SmoothBore | HoseType::Reinforced => "not reinforced".to_owned(),
        },
        (Miss::Size, Attributes::PlumbingFitting { nominal_size, .. }) => format!("of {nominal_size}"),
        (Miss::Family, Attributes::PlumbingFitting { fitting, .. }) => format!("a {}", fitting.words()),
        (Miss::Stud, Attributes::PlumbingFitting { pipe_thread, .. }) => match pipe_thread {
            Some(pipe_thread) => format!("made with {pipe_thread} thread"),
            None => "made without such a thread".to_owned(),
        },
        (Miss::Positions, Attributes::PlumbingFitting { ways, .. }) => match ways {
            Some(ways) => format!("made with {ways} ways only"),
            None => "made with ways that nobody counted".to_owned(),
        },
        (Miss::Family, Attributes::Fastener { fastener, .. }) => format!("a {}", fastener_words(*fastener)),
        (Miss::Size, Attributes::Fastener { diameter_from, diameter_to, .. }) => {
            format!("for {diameter_from} to {diameter_to}")
        }
        (Miss::Size, Attributes::Loom { inside_diameter }) => format!("{inside_diameter} inside"),
        (Miss::Family, Attributes::Consumable { consumable }) => consumable_words(*consumable).to_owned(),
        (Miss::Family, Attributes::BatteryHardware { battery_part, .. }) => format!("for {}", battery_part.words()),
        (Miss::Size, Attributes::BatteryHardware { group: Some(group), .. }) => {
            format!("for batteries of group {group}")
        }
        _ => return None,
    })
}

const fn fastener_words(fastener: Fastener) -> &'static str {
    match fastener {
        Fastener::HoseClamp => "hose clamp",
        Fastener::CableClamp => "cable clamp",
        Fastener::CableTie => "cable tie",
        Fastener::Grommet => "grommet",
    }
}

const fn consumable_words(consumable: Consumable) -> &'static str {
    match consumable {
        Consumable::BeddingSealant => "bedding sealant",
        Consumable::CoreSealer => "core sealer",
        Consumable::TerminalProtectant => "terminal protectant",
        Consumable::Solvent => "solvent",
    }
}

/// A need of the fit-out in plain words; any other by its key.
pub(super) fn needed(need: &Need) -> String {
    match need {
        Need::Hose { inside_diameter, reinforced } => {
            let made = if *reinforced { "reinforced" } else { "reinforced or smooth-bore" };
            format!("{made} hose, {inside_diameter} inside")
        }
        Need::PlumbingFitting { fitting, nominal_size, pipe_thread, least_ways } => {
            let by = pipe_thread.map(|size| format!(" on {size} thread")).unwrap_or_default();
            let ways = least_ways.map(|ways| format!(" of {ways} ways or more")).unwrap_or_default();
            format!("{nominal_size} {}{by}{ways}", fitting.words())
        }
        Need::Fastener { fastener, around } => format!("{} to go round {around}", fastener_words(*fastener)),
        Need::Loom { inside_diameter_min } => format!("split loom, {inside_diameter_min} inside or more"),
        Need::MessengerLine {} => "messenger line".to_owned(),
        Need::Consumable { consumable } => consumable_words(*consumable).to_owned(),
        Need::BatteryHardware { battery_part, group } => {
            let group = group.as_ref().map(|group| format!(" for a battery of group {group}")).unwrap_or_default();
            format!("{}{group}", battery_part.words())
        }
        _ => need.key(),
    }
}
