//! The data network of a spec: stations and panel resolved, and where an engine gateway goes.

use super::names::Names;
use crate::findings::Fault;
use crate::shop::item::Attributes;
use crate::spec::boat::{Bank, Equipment, NetworkAsked, Panel};
use crate::spec::input::BoatSpecInput;

/// Stations of layouts at which the engine is, the likeliest first.
const ENGINE_STATIONS: [&str; 3] = ["outboard", "engine_room", "port_engine_room"];

/// What the spec and its packages ask. `gateway_by` is where a package stands that asks for an engine gateway.
pub(super) fn network(
    input: &BoatSpecInput,
    (stations, panels): (&Names, &Names),
    (panel_list, banks): (&[Panel], &[Bank]),
    gateway_by: Option<String>,
    equipment: &[Equipment],
    faults: &mut Vec<Fault>,
) -> NetworkAsked {
    let own = input.network.clone().unwrap_or_default();
    let mut station = |name: Option<&crate::units::Name>, field: &str| {
        name.map(|name| stations.find(name, || format!("/network/{field}"), faults))
    };
    let power_station = station(own.power_station.as_ref(), "power_station");
    let stated = station(own.engine_gateway.as_ref(), "engine_gateway");
    let panel = own.panel.as_ref().map(|panel| panels.find(panel, || "/network/panel".to_owned(), faults));
    let of_panel = panel.and_then(|panel| panel_list.get(panel)).and_then(|panel| banks.get(panel.bank));
    if let Some(bank) = of_panel.filter(|bank| bank.nominal_voltage_v != 12.0) {
        let message = format!(
            "a data network is fed with 12 V, and this panel is at {} V: choose another panel",
            bank.nominal_voltage_v
        );
        faults.push(Fault::new("/network/panel", message));
    }
    let named = equipment.iter().any(|piece| matches!(piece.item.attributes, Attributes::EngineGateway { .. }));
    let gateway = match (stated, gateway_by) {
        (Some(place), _) => Some(place),
        (None, Some(pointer)) if !named => {
            let known = ENGINE_STATIONS.iter().find_map(|id| stations.places.get(id).copied());
            if known.is_none() {
                let message = "this package asks for an engine gateway, and no station is known to be at the engine: say which \
                               in network.engine_gateway";
                faults.push(Fault::new(pointer, message));
            }
            known
        }
        _ => None,
    };
    NetworkAsked { asked: input.network.is_some(), cable: own.cable, power_station, panel, gateway }
}
