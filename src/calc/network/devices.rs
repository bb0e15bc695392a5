//! What is on the data network: equipment that says so, and an engine gateway that is still to be matched.

use crate::network::way::exact;
use crate::rules::network::GATEWAY_LEN;
use crate::shop::item::Attributes;
use crate::spec::boat::Boat;
use crate::units::{Length, Name};

/// Key of the engine gateway that is matched.
pub const GATEWAY: &str = "network/engine_gateway";

/// One device.
#[derive(Clone, Debug)]
pub struct Device {
    /// Its key.
    pub key: Name,
    /// Where it stands in the spec, as a JSON pointer.
    pub pointer: String,
    /// Place of its station.
    pub station: usize,
    /// What it draws, in load equivalency numbers.
    pub load_equivalency: u8,
    /// Length of the drop that comes with it.
    pub supplied: Option<Length>,
    /// Whether it is screwed on its tee.
    pub on_tee: bool,
    /// Whether it has a terminator in it.
    pub terminator: bool,
}

/// All devices in canonical order.
pub fn devices(boat: &Boat) -> Vec<Device> {
    let of_equipment = boat.equipment.iter().filter_map(|piece| {
        let device = |load_equivalency| Device {
            key: piece.key.clone(),
            pointer: piece.pointer.clone(),
            station: piece.station.unwrap_or_default(),
            load_equivalency,
            supplied: None,
            on_tee: false,
            terminator: false,
        };
        piece.station?;
        match &piece.item.attributes {
            Attributes::Device { data_network: Some(on), .. } => Some(Device {
                supplied: on.drop_supplied.map(exact),
                on_tee: on.on_tee,
                terminator: on.terminator,
                ..device(on.load_equivalency)
            }),
            Attributes::EngineGateway { load_equivalency } => Some(device(*load_equivalency)),
            _ => None,
        }
    });
    let gateway = boat.network.gateway.map(|station| Device {
        key: Name::from(GATEWAY),
        pointer: "/network/engine_gateway".to_owned(),
        station,
        load_equivalency: GATEWAY_LEN,
        supplied: None,
        on_tee: false,
        terminator: false,
    });
    of_equipment.chain(gateway).collect()
}
