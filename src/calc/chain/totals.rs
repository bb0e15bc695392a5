//! Sums over the written boat: runs and what lies in them, copper, wire, and how much of it was measured.

use std::collections::BTreeMap;

use super::estimates;
use super::writing::WrittenBoat;
use crate::along::{Bundle, Drivers};
use crate::basis::Ledger;
use crate::circuits::legs::Laid;
use crate::circuits::select::CopperFound;
use crate::rules::jackets::{colour_word, outside_in};
use crate::rules::sizes::overall_diameter;
use crate::rules::table::quantities::COPPER_SAVING;
use crate::shop::settings::Settings;
use crate::spec::boat::{Boat, Hull};
use crate::take_off::{BoatSummary, CopperSummary, RunUse, Termination, WireKind, WireTotal};
use crate::units::{Length, Name, WireSize, rounded};

/// What lies in each run that is used.
pub(super) fn run_uses(
    boat: &Boat,
    laid: &Laid,
    written: &WrittenBoat,
    through: &[(usize, Name)],
    settings: &Settings,
    ledger: &mut Ledger,
) -> Vec<RunUse> {
    let mut uses: BTreeMap<usize, (Vec<Name>, Vec<Name>)> = BTreeMap::new();
    for (leg, line) in written.lines(laid) {
        for &run in &leg.route.runs {
            uses.entry(run).or_default().0.push(line.conductor.label.clone());
        }
    }
    for (run, label) in through {
        uses.entry(*run).or_default().1.push(label.clone());
    }
    uses.into_iter()
        .map(|(place, (conductors, other_cables))| {
            let run = &boat.runs[place];
            RunUse {
                from: boat.stations[run.a].id.clone(),
                to: boat.stations[run.b].id.clone(),
                length: run.length.written(settings.length_unit),
                length_source: run.source,
                access: run.access,
                engine_space: run.engine_space,
                loaded_conductors: laid.loaded[place],
                basis: estimates::run_basis(run, boat, ledger),
                exact_length: run.length,
                conductors,
                other_cables,
            }
        })
        .collect()
}

/// What lies in each run that is used: conductors under one jacket as one cable.
pub(super) fn bundles(laid: &Laid, written: &WrittenBoat) -> Vec<Bundle> {
    let mut bundles: Vec<Bundle> = vec![Bundle::default(); laid.loaded.len()];
    for (leg, line) in written.lines(laid) {
        let conductor = &line.conductor;
        let across_in = match &conductor.cable {
            None => overall_diameter(conductor.gauge).inch(),
            Some(label) => {
                let cable = written.cables.iter().map(|line| &line.cable).find(|cable| cable.label == *label);
                // The first of a cable's conductors stands for all of it.
                match cable.filter(|cable| cable.conductors.first() == Some(&conductor.label)) {
                    Some(cable) => outside_in(cable.conductors.len(), cable.gauge),
                    None => continue,
                }
            }
        };
        for &run in &leg.route.runs {
            bundles[run].cables += 1;
            bundles[run].squares_in2 += across_in * across_in;
        }
    }
    bundles.iter_mut().enumerate().for_each(|(place, bundle)| bundle.run = place);
    bundles.retain(|bundle| bundle.cables > 0);
    bundles
}

/// What drives the rest of what is met along the way.
pub(super) fn drivers(laid: &Laid, written: &WrittenBoat) -> Drivers {
    let mut drivers = Drivers { equipment: written.circuits.len() as u32, ..Drivers::default() };
    for (_, line) in written.lines(laid) {
        drivers.conductors += 1;
        for end in [&line.from, &line.to] {
            match end.termination {
                Termination::TwoLayerSplice => drivers.splices += 1,
                _ => drivers.stud_ends += 1,
            }
        }
    }
    drivers
}

/// Copper of all that got a size, beside what the plain choice would take.
pub(super) fn copper_summary(found: &CopperFound, ledger: &mut Ledger) -> CopperSummary {
    // The search counts in thousandths of a circular mil foot.
    let cmil_ft = |thousandths: u64| thousandths as f64 / 1000.0;
    let least_cmil_ft = cmil_ft(found.least);
    let even_split_cmil_ft = found.even_split.map(cmil_ft).filter(|plain| *plain > 0.0);
    let saving = even_split_cmil_ft.map(|plain| {
        let percent = 100.0 * (plain - least_cmil_ft) / plain;
        let inputs = [("least_cmil_ft", least_cmil_ft.into()), ("even_split_cmil_ft", plain.into())];
        (percent, ledger.note(&COPPER_SAVING, &inputs, percent))
    });
    CopperSummary {
        least_cmil_ft,
        proved: found.proved,
        even_split_cmil_ft,
        saving_percent: saving.map(|(percent, _)| rounded(percent, 1)),
        basis: saving.map(|(_, basis)| basis),
    }
}

/// Wire by size and colour, cable by make-up.
pub(super) fn wire_totals(laid: &Laid, written: &WrittenBoat, settings: &Settings) -> Vec<WireTotal> {
    type Made = (WireKind, u8, WireSize, &'static str);
    let mut totals: BTreeMap<Made, (u32, Length, Length)> = BTreeMap::new();
    let single = written.lines(laid).filter(|(_, line)| line.conductor.cable.is_none()).map(|(leg, line)| {
        ((WireKind::Wire, 1, line.conductor.gauge, line.conductor.colour), leg.lengths.installed, leg.lengths.cut)
    });
    let jacketed = written.cables.iter().map(|line| {
        let many = line.colours.len() as u8;
        ((WireKind::Cable, many, line.cable.gauge, colour_word(line.colours)), line.installed, line.cut)
    });
    for (what, installed, cut) in single.chain(jacketed) {
        let total = totals.entry(what).or_default();
        total.0 += 1;
        total.1 += installed;
        total.2 += cut;
    }
    let mut totals: Vec<WireTotal> = totals
        .into_iter()
        .map(|((kind, conductors, gauge, colour), (pieces, installed, cut))| WireTotal {
            kind,
            conductors,
            gauge,
            colour,
            pieces,
            installed_length: installed.written(settings.length_unit),
            cut_length: cut.written(settings.length_unit),
            // Of nothing installed nothing is added.
            added_percent: if installed == Length::ZERO {
                0.0
            } else {
                rounded(100.0 * (cut - installed).m() / installed.m(), 1)
            },
        })
        .collect();
    // From the smallest copper up: gauge numbers fall as wires grow.
    totals.sort_by(|a, b| {
        let size = a.gauge.nominal_cmil().total_cmp(&b.gauge.nominal_cmil());
        (a.kind, a.conductors).cmp(&(b.kind, b.conductors)).then(size).then(a.colour.cmp(b.colour))
    });
    totals
}

/// The boat as the answer tells it.
pub(super) fn summary(boat: &Boat, laid: &Laid, laid_out: Option<&Hull>, settings: &Settings) -> BoatSummary {
    let measured: Length = laid.legs.iter().map(|leg| leg.route.measured).sum();
    let all: Length = laid.legs.iter().map(|leg| leg.route.length()).sum();
    let measured = if all == Length::ZERO { 100.0 } else { 100.0 * measured.m() / all.m() };
    BoatSummary {
        name: boat.name.clone(),
        job_type: boat.job_type,
        propulsion: boat.propulsion,
        negative_colour: boat.negative_colour,
        hull: laid_out.map(|hull| estimates::summary(hull, settings)),
        measured_percent: rounded(measured, 1),
    }
}
