//! What was laid and sized, written out: circuits, feeders, always-on sides, and the line of each conductor.

use super::feeder_key;
use crate::basis::Ledger;
use crate::circuits::cables::WrittenCable;
use crate::circuits::legs::{Laid, Leg};
use crate::circuits::loads::Load;
use crate::circuits::main_protection::BankClass;
use crate::circuits::schedule::{Schedule, Written};
use crate::circuits::select::{CircuitSizes, Sizes};
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::take_off::{AlwaysOnSide, Circuit, Feeder};

/// Everything written out, with each conductor by the place of its leg.
pub(super) struct WrittenBoat {
    pub(super) circuits: Vec<Circuit>,
    pub(super) feeders: Vec<Feeder>,
    pub(super) always_on: Vec<AlwaysOnSide>,
    /// By place of the leg; absent where no size was found.
    pub(super) conductors: Vec<Option<Box<Written>>>,
    /// Cables of the sources.
    pub(super) power: Vec<(Leg, Box<Written>)>,
    /// Jacketed cables.
    pub(super) cables: Vec<WrittenCable>,
}

impl WrittenBoat {
    /// The lines of the cut list with their legs.
    pub(super) fn lines<'a>(&'a self, laid: &'a Laid) -> impl Iterator<Item = (&'a Leg, &'a Written)> {
        let of_circuits = self.conductors.iter().enumerate();
        let of_circuits = of_circuits.filter_map(|(leg, line)| Some((&laid.legs[leg], line.as_deref()?)));
        of_circuits.chain(self.power.iter().map(|(leg, line)| (leg, &**line)))
    }
}

/// Writes out what got a size.
pub(super) fn write(
    boat: &Boat,
    loads: &[Load],
    laid: &Laid,
    sizes: &Sizes,
    (classes, settings): (&[BankClass], &Settings),
    ledger: &mut Ledger,
) -> WrittenBoat {
    let mut schedule = Schedule { boat, loads, laid, settings, classes, ledger };
    let mut written = WrittenBoat {
        circuits: Vec::with_capacity(loads.len()),
        feeders: Vec::with_capacity(laid.feeders.len()),
        always_on: Vec::new(),
        conductors: laid.legs.iter().map(|_| None).collect(),
        power: Vec::new(),
        cables: Vec::with_capacity(laid.cables.len()),
    };
    for (place, found) in sizes.circuits.iter().enumerate() {
        let Some(found) = found else { continue };
        let legs = &laid.circuits[place];
        let mut lines = Vec::with_capacity(legs.positives.len() + 1);
        for (&leg, chosen) in legs.positives.iter().zip(&found.positives).chain([(&legs.negative, &found.negative)]) {
            lines.push((leg, Box::new(schedule.conductor(&laid.legs[leg], chosen, &loads[place].key))));
        }
        if let Some(cable) = laid.cable_of(place) {
            written.cables.push(schedule.cable(cable, &mut lines));
        }
        let through_switch = [(legs.switch_feed(laid), &found.switch_feed), (legs.light, &found.light)];
        for (leg, chosen) in through_switch.into_iter().filter_map(|(leg, chosen)| leg.zip(chosen.as_ref())) {
            lines.push((leg, Box::new(schedule.conductor(&laid.legs[leg], chosen, &loads[place].key))));
        }
        written.circuits.push(schedule.circuit(place, found, &lines));
        for (leg, line) in lines {
            written.conductors[leg] = Some(line);
        }
    }
    for ((feeder, found), main) in laid.feeders.iter().zip(&sizes.feeders).zip(&sizes.mains) {
        let Some(found) = found else { continue };
        let key = feeder_key(boat, feeder.panel);
        let positive = Box::new(schedule.conductor(&laid.legs[feeder.positive], &found.positive, &key));
        for (&leg, chosen) in feeder.returns.iter().zip(&found.returns) {
            // A return that several panels share is written once, with the first of them.
            written.conductors[leg].get_or_insert_with(|| Box::new(schedule.conductor(&laid.legs[leg], chosen, &key)));
        }
        written.feeders.push(schedule.feeder(feeder, found, *main, key, &positive));
        written.conductors[feeder.positive] = Some(positive);
    }
    let sized: Vec<(usize, &CircuitSizes)> =
        sizes.circuits.iter().enumerate().filter_map(|(place, found)| Some((place, found.as_ref()?))).collect();
    written.always_on = (0..boat.banks.len()).filter_map(|bank| schedule.always_on(bank, &sized)).collect();
    written
}
