//! A person's conductor sizes: found their circuit, judged, and told beside what was computed.

use super::{owner_key, warn};
use crate::circuits::legs::{Laid, Owner};
use crate::circuits::loads::Load;
use crate::circuits::select::{Overruled, Sizes, select};
use crate::findings::{Fault, Warning};
use crate::rules::sizes::area_cmil;
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::spec::check::nearest;
use crate::spec::input::OverruleInput;
use crate::take_off::AppliedOverrule;
use crate::units::{Name, WireSize};

/// One overrule of a conductor, with its place in the spec.
struct Entry<'a> {
    place: usize,
    owner: Owner,
    size: WireSize,
    reason: &'a str,
}

/// The conductor sizes that a person wants.
pub(super) struct Wanted<'a>(Vec<Entry<'a>>);

/// Finds the circuit or feeder of each conductor overrule.
///
/// # Errors
/// Faults for keys that no circuit or feeder has, and for sizes of another area standard than the shop's.
pub(super) fn conductors<'a>(
    boat: &'a Boat,
    loads: &[Load],
    laid: &Laid,
    settings: &Settings,
) -> Result<Wanted<'a>, Vec<Fault>> {
    let owners = || (0..loads.len()).map(Owner::Circuit).chain((0..laid.feeders.len()).map(Owner::Feeder));
    let mut entries = Vec::new();
    let mut faults = Vec::new();
    for (place, overrule) in boat.overrules.iter().enumerate() {
        let OverruleInput::Conductor { circuit, gauge, reason } = overrule else { continue };
        if area_cmil(*gauge, settings.area_standard).is_none() {
            faults.push(Fault::new(
                format!("/overrules/{place}/gauge"),
                format!("{gauge} is no size of the standard that the shop's wire is made to: name one that is"),
            ));
        }
        match owners().find(|owner| owner_key(*owner, boat, loads, laid) == *circuit) {
            Some(owner) => entries.push(Entry { place, owner, size: *gauge, reason }),
            None => {
                let keys: Vec<Name> = owners().map(|owner| owner_key(owner, boat, loads, laid)).collect();
                let mend = match nearest(circuit.as_str(), keys.iter().map(Name::as_str)) {
                    Some(near) => format!("did you mean '{near}'?"),
                    None => "the take-off gives each circuit and feeder its key".to_owned(),
                };
                faults.push(Fault::new(
                    format!("/overrules/{place}/circuit"),
                    format!("there is no circuit or feeder '{circuit}': {mend}"),
                ));
            }
        }
    }
    if faults.is_empty() { Ok(Wanted(entries)) } else { Err(faults) }
}

impl Wanted<'_> {
    fn entry(&self, owner: Owner) -> Option<&Entry<'_>> {
        self.0.iter().find(|entry| entry.owner == owner)
    }

    /// The size that a person wants for a circuit or feeder.
    pub(super) fn size(&self, owner: Owner) -> Option<WireSize> {
        self.entry(owner).map(|entry| entry.size)
    }

    /// Warnings for sizes that only good practice speaks against.
    ///
    /// # Errors
    /// A fault for each size that is unsafe.
    pub(super) fn judged(
        &self,
        boat: &Boat,
        loads: &[Load],
        laid: &Laid,
        sizes: &Sizes,
    ) -> Result<Vec<Warning>, Vec<Fault>> {
        let mut warnings = Vec::new();
        let mut faults = Vec::new();
        for (owner, outcome) in &sizes.overruled {
            let Some(entry) = self.entry(*owner) else { continue };
            let key = owner_key(*owner, boat, loads, laid);
            match outcome {
                Overruled::Refused(why) => faults.push(Fault::new(
                    format!("/overrules/{}/gauge", entry.place),
                    format!(
                        "{} for '{key}' is refused: {why}. Choose a larger size, or leave the overrule out",
                        entry.size
                    ),
                )),
                Overruled::Unwise(why) => {
                    warnings.push(warn(&key, format!("overruled to {} ({}): it {why}", entry.size, entry.reason)));
                }
            }
        }
        if faults.is_empty() { Ok(warnings) } else { Err(faults) }
    }

    /// Each overrule beside the size that would have been computed.
    pub(super) fn applied(
        &self,
        boat: &Boat,
        loads: &[Load],
        laid: &Laid,
        settings: &Settings,
    ) -> Vec<AppliedOverrule> {
        if self.0.is_empty() {
            return Vec::new();
        }
        let computed = select(boat, loads, laid, settings, &|_| None);
        let size_of = |owner: Owner| match owner {
            Owner::Circuit(place) => computed.circuits[place].as_ref().map(|sizes| sizes.negative.carried.size),
            Owner::Feeder(place) => computed.feeders[place].as_ref().map(|found| found.positive.carried.size),
            // A bank's cables follow from its feeders: nobody chooses them.
            Owner::Bank(_) => None,
        };
        self.0
            .iter()
            .map(|entry| AppliedOverrule {
                about: owner_key(entry.owner, boat, loads, laid),
                computed: size_of(entry.owner).map_or("no size".to_owned(), |size| size.to_string()),
                chosen: entry.size.to_string(),
                reason: entry.reason.to_owned(),
            })
            .collect()
    }
}
