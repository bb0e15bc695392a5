//! What the take-off takes for granted, told beside it.

use super::estimates;
use crate::circuits::legs::Laid;
use crate::shop::settings::Settings;
use crate::spec::boat::{Boat, Hull, SwitchProvision};
use crate::spec::input::Propulsion;
use crate::units::AreaStandard;

/// All of it, as sentences.
pub(super) fn assumptions(boat: &Boat, laid: &Laid, laid_out: Option<&Hull>, settings: &Settings) -> Vec<String> {
    let mut assumptions = vec![
        format!("Conductors are stranded copper with {} °C insulation.", settings.insulation_c),
        match settings.area_standard {
            AreaStandard::Metric => "Ambient is 30 °C outside engine spaces and 60 °C inside them.".to_owned(),
            _ => "Ambient is 30 °C outside engine spaces and 50 °C inside them.".to_owned(),
        },
        "Voltage drop is in percent of nominal voltage, from bank to device and back, with the feeder at its own current.".to_owned(),
        format!(
            "Waste is {} % on measured and {} % on estimated length.",
            settings.waste_measured_percent, settings.waste_estimated_percent
        ),
    ];
    assumptions.extend(laid_out.map(|hull| estimates::assumption(hull, settings)));
    if boat.power_assumed {
        assumptions.push(estimates::power_assumption(boat));
    }
    if settings.derate_bundles {
        assumptions
            .push("Three or more loaded conductors in a run lower what each may carry, below 50 V too.".to_owned());
    }
    if boat.panels.iter().any(|panel| panel.item.is_none()) {
        assumptions
            .push("Panels and buses without an item are aboard already, sound, and have positions free.".to_owned());
    }
    for (bank, side) in boat.banks.iter().zip(&laid.sides) {
        if bank.switch.provision == SwitchProvision::Aboard && side.feed_bus {
            assumptions.push(format!(
                "The main fuse at the post of '{}', the cable to its switch and the feed bus behind it are aboard already and carry what its panels draw.",
                bank.id
            ));
        }
    }
    if matches!(boat.propulsion, Propulsion::DieselInboard | Propulsion::Electric | Propulsion::None) {
        assumptions.push("No petrol is aboard, so no station has petrol vapour unless the spec says so.".to_owned());
    }
    assumptions
}
