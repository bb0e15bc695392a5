//! What flows at a bank's posts and between its batteries beside its loads: the starter's current, the alternator's, the
//! chargers'.

use crate::circuits::charging::Allotted;
use crate::rules::power::CRANKING_A;
use crate::rules::protection::CONTINUOUS_FACTOR;
use crate::shop::item::Attributes;
use crate::spec::boat::Boat;

/// What may flow at a bank, amperes. None of it runs at once with the loads through one cable, except on a bus.
#[derive(Clone, Copy, Debug, Default)]
pub struct Through {
    /// The starter's current, where the bank starts the engine.
    pub cranking_a: f64,
    /// The alternator's rating, where the bank shares it.
    pub alternator_a: f64,
    /// Largest charger output of the bank.
    pub charger_a: f64,
    /// All charger outputs that meet on one post.
    pub chargers_a: f64,
    /// Least rating of the largest fuse of a combiner or of a charger lead.
    pub fuse_a: f64,
}

impl Through {
    /// The largest that flows into the batteries from outside.
    pub fn charging_a(&self) -> f64 {
        self.alternator_a.max(self.charger_a)
    }

    /// The largest that a cable between the batteries carries, with loads of so many amperes.
    pub fn between_batteries_a(&self, load_a: f64) -> f64 {
        load_a.max(self.cranking_a).max(self.charging_a())
    }

    /// The largest that a bus at a post carries, with loads of so many amperes.
    pub fn on_bus_a(&self, load_a: f64) -> f64 {
        load_a + self.alternator_a.max(self.chargers_a)
    }
}

/// What may flow at a bank.
pub fn through(boat: &Boat, bank: usize, allotted: &Allotted, alternator_banks: &[usize]) -> Through {
    let shares = alternator_banks.contains(&bank);
    let alternator_a = boat.alternator_a.filter(|_| shares).unwrap_or_default();
    // With one bank alone the alternator's cable is the engine's own, and no combiner has a fuse.
    let combined_a = if alternator_banks.len() > 1 { alternator_a } else { 0.0 };
    let mut found = Through { alternator_a, fuse_a: combined_a * CONTINUOUS_FACTOR, ..Through::default() };
    if boat.banks[bank].starts_engine {
        found.cranking_a = CRANKING_A;
    }
    for output in allotted.outputs.iter().filter(|output| output.task.bank == bank) {
        let Attributes::Charger { output_a, fused_outputs, .. } = boat.equipment[output.charger].item.attributes else {
            continue;
        };
        // Where each battery has an output of its own, one of each string ends at a post.
        let strings =
            if output.task.battery == 0 || boat.banks[bank].series == 1 { 1 } else { boat.banks[bank].parallel };
        found.charger_a = found.charger_a.max(output_a);
        found.chargers_a = found.chargers_a.max(output_a * f64::from(strings));
        if !fused_outputs {
            found.fuse_a = found.fuse_a.max(output_a * CONTINUOUS_FACTOR);
        }
    }
    found
}
