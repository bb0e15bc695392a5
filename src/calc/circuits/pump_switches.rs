//! Switches of bilge pumps: automatic, off, manual, with a light while the pump runs.
//!
//! 1. A pump that its float starts and that can be run by hand has such a switch, in its manual positive. Its
//!    automatic lead comes from the battery and has none (common practice).
//! 2. The switch is where the spec puts one that it names, in order of the circuits. Else it is at the pump's panel
//!    where that is at a helm, and otherwise at the helm, where its light is seen (common practice).
//! 3. Away from the panel the manual positive goes to the switch first, and from there on to the pump. The light hangs
//!    on that positive, which the motor keeps live while its float runs it, and has a return of its own to the bus.

use crate::circuits::loads::Load;
use crate::routes::Routes;
use crate::shop::item::{Attributes, Function, LeadRole, Stud};
use crate::spec::boat::Boat;

/// Screw of such a switch (common practice).
pub const SWITCH_SCREW: Stud = Stud::No8;
/// What its light is reckoned to draw, amperes: a small lamp, or less (common practice).
pub const LIGHT_A: f64 = 0.1;

/// The switch of one pump.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PumpSwitch {
    /// Place of the pump among the loads.
    pub load: usize,
    /// Place of the named switch in the boat's equipment; absent where none is named for it.
    pub piece: Option<usize>,
    /// Place of its station.
    pub station: usize,
    /// Whether that station is known or a helm; otherwise the panel's was taken.
    pub placed: bool,
    /// Whether it has a light.
    pub light: bool,
}

/// The switches of a boat's bilge pumps, in order of the circuits.
pub fn pump_switches(boat: &Boat, loads: &[Load], routes: &mut Routes) -> Vec<PumpSwitch> {
    let mut named = boat.equipment.iter().enumerate().filter_map(|(place, piece)| match piece.item.attributes {
        Attributes::BilgeSwitch { running_light, .. } => Some((place, piece.station, running_light)),
        _ => None,
    });
    let switched = loads.iter().enumerate().filter(|(_, load)| has_switch(load));
    switched
        .map(|(place, load)| {
            let (piece, stated, light) = match named.next() {
                Some((piece, station, light)) => (Some(piece), station, light),
                None => (None, None, true),
            };
            let found = stated.or_else(|| helm(boat, load, routes));
            let station = found.unwrap_or(boat.panels[load.panel].station);
            PumpSwitch { load: place, piece, station, placed: found.is_some(), light }
        })
        .collect()
}

/// Whether a load is a bilge pump with a lead for its float and one to run it by hand.
fn has_switch(load: &Load) -> bool {
    let has = |role: LeadRole| load.positives.iter().any(|lead| lead.role == role);
    load.function == Function::BilgePump && has(LeadRole::ConstantPositive) && has(LeadRole::SwitchedPositive)
}

/// The helm that a pump's switch goes to: its panel's, else the boat's, where cable leads there.
fn helm(boat: &Boat, load: &Load, routes: &mut Routes) -> Option<usize> {
    let is_helm = |station: usize| boat.stations[station].id.as_str().contains("helm");
    let panel = boat.panels[load.panel].station;
    if is_helm(panel) {
        return Some(panel);
    }
    let helms = (0..boat.stations.len()).filter(|station| is_helm(*station));
    // The plain 'helm' before 'fly_helm' and the like.
    let helm = helms.min_by_key(|station| (boat.stations[*station].id.as_str().len(), &boat.stations[*station].id))?;
    let bus = boat.buses[boat.panels[load.panel].bus].station;
    [panel, bus, load.station].into_iter().all(|end| routes.route(end, helm).is_some()).then_some(helm)
}
