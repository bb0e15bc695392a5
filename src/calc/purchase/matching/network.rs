//! Parts of the data network and of supplied cables: which of a need an item misses.

use super::{Miss, Misses};
use crate::requirements::Need;
use crate::shop::item::Attributes;
use crate::units::{LengthValue, within};

/// The same for the data network and for extensions.
pub(super) fn misses(need: &Need, item: &Attributes, misses: &mut Misses) -> bool {
    let reaches = |length: &LengthValue, least_m: f64, most_m: f64| {
        // Needs are stated to the millimetre.
        length.length().is_some_and(|length| (least_m - 5e-4..=most_m + 5e-4).contains(&length.m()))
    };
    match (need, item) {
        (Need::NetworkCable { class, length_m_min, length_m_max }, Attributes::NetworkCable { class: c, length }) => {
            misses.note(class != c, Miss::Size);
            misses.note(!reaches(length, *length_m_min, *length_m_max), Miss::PieceLength);
        }
        (Need::NetworkTee { connector }, Attributes::NetworkTee { connector: c })
        | (Need::NetworkTerminator { connector }, Attributes::NetworkTerminator { connector: c }) => {
            misses.note(connector != c, Miss::Stud);
        }
        (Need::NetworkPowerTap { connector, rating_a_min }, Attributes::NetworkPowerTap { connector: c, rating_a }) => {
            misses.note(connector != c, Miss::Stud);
            misses.note(!within(*rating_a_min, *rating_a), Miss::Rating);
        }
        (Need::DisplayCable { plug, length_m_min }, Attributes::DisplayCable { plug: p, length }) => {
            misses.note(plug.as_str() != p, Miss::Stud);
            misses.note(!reaches(length, *length_m_min, f64::INFINITY), Miss::PieceLength);
        }
        (Need::EngineGateway { load_equivalency_max }, Attributes::EngineGateway { load_equivalency }) => {
            misses.note(load_equivalency > load_equivalency_max, Miss::Rating);
        }
        (
            Need::CableExtension { extends, plug, length_m_min },
            Attributes::CableExtension { extends: e, plug: p, length },
        ) => {
            misses.note(extends != e, Miss::Family);
            misses.note(plug.as_str() != p, Miss::Stud);
            misses.note(!reaches(length, *length_m_min, f64::INFINITY), Miss::PieceLength);
        }
        _ => return false,
    }
    true
}
