//! The chain itself: a boat spec in, the take-off out, as a list of stages.

mod counting;
mod estimates;
mod jackets;
mod overrules;
mod parts;

use std::collections::BTreeMap;

use crate::calc::basis::Ledger;
use crate::calc::cautions::cautions;
use crate::calc::circuits::cables::WrittenCable;
use crate::calc::circuits::legs::{Laid, Leg, Owner, lay};
use crate::calc::circuits::loads::{Load, loads};
use crate::calc::circuits::main_protection::{BankClass, bank_class};
use crate::calc::circuits::schedule::{Schedule, Written};
use crate::calc::circuits::select::{CircuitSizes, CopperFound, Sizes, select};
use crate::calc::findings::{Fault, Gap, Warning};
use crate::calc::labour::{labour, unknown_operations};
use crate::calc::power::{Facts, PowerSide, power_side};
use crate::calc::questions::questions;
use crate::calc::rules::jackets::colour_word;
use crate::calc::rules::table::quantities::COPPER_SAVING;
use crate::calc::rules::table::rule_of;
use crate::calc::shop::Shop;
use crate::calc::shop::settings::Settings;
use crate::calc::spec::boat::{Boat, Hull, SwitchProvision};
use crate::calc::spec::check::check;
use crate::calc::spec::fitted::fitted;
use crate::calc::spec::input::{BoatSpecInput, Propulsion};
use crate::calc::take_off::{
    AlwaysOnSide, BoatSummary, Circuit, CopperSummary, Feeder, RunUse, TakeOff, WireKind, WireTotal,
};
use crate::calc::units::{AreaStandard, Length, Name, WireSize, rounded, within};
use parts::Parts;

/// Computes the take-off of a boat spec with the shop's tables.
///
/// # Errors
/// All faults of the spec, each with a JSON pointer into it.
pub fn take_off(input: &BoatSpecInput, shop: &Shop) -> Result<TakeOff, Vec<Fault>> {
    let shop = &*fitted(shop, &input.boat);
    let settings = &*shop.settings;
    let boat = check(input, shop)?;
    let mut loads = loads(&boat);
    let classes: Vec<_> = boat.banks.iter().map(bank_class).collect();
    let mut laid = lay(&boat, &loads, &classes, settings)?;

    let wanted = overrules::conductors(&boat, &loads, &laid, settings)?;
    let mut unjacketed = Vec::new();
    // Each round takes circuits out of their jackets, so that it ends.
    let sizes = loop {
        let sizes = select(&boat, &loads, &laid, settings, &|owner| wanted.size(owner));
        let unserved = jackets::unserved(&laid, &sizes);
        if unserved.is_empty() {
            break sizes;
        }
        jackets::in_single(&mut loads, &unserved, &mut unjacketed);
        laid = lay(&boat, &loads, &classes, settings)?;
    };
    let mut warnings = wanted.judged(&boat, &loads, &laid, &sizes)?;
    warnings.append(&mut unjacketed);
    warnings.extend(jackets::kept_single(&laid, &loads));

    warnings.extend(fuses_too_small(&loads));
    if !sizes.copper.proved {
        let message = "the sizes keep every limit, but the search for the least copper ended at its bound of work: \
                       buses that follow their panels would let it finish";
        warnings.push(warn(&Name::from("copper"), message.to_owned()));
    }

    // A conductor takes five derivations of its own; the rest are shared or few.
    let mut ledger = Ledger::with_room(6 * laid.legs.len());
    let mut written = write(&boat, &loads, &laid, &sizes, (&classes, settings), &mut ledger);
    let facts = Facts {
        boat: &boat,
        loads: &loads,
        classes: &classes,
        laid: &laid,
        sizes: &sizes,
        settings,
        feeders: &written.feeders,
        always_on: &written.always_on,
    };
    let mut power = power_side(facts, &mut ledger);
    written.power = std::mem::take(&mut power.cables);
    let mut parts = Parts::new(&boat, settings);
    parts.equipment();
    parts.circuits(&written, &laid);
    parts.power(&mut power);
    warnings.append(&mut parts.warnings);
    let mut gaps = boat.gaps.clone();
    gaps.append(&mut parts.gaps);
    gaps.extend(unsized_gaps(&boat, &loads, &laid, &sizes));

    let runs = run_uses(&boat, &laid, &written, settings, &mut ledger);
    let counts = counting::counts(&boat, &written, &laid, &power, &runs);
    gaps.extend(unknown_operations(&counts, &shop.labour_operations).into_iter().map(|operation| Gap {
        need: format!("labour operation '{operation}', which an item or package of this quote calls for"),
        reason: "the shop's labour table does not have it".to_owned(),
        mend: "add the operation to the table, or take it off the item".to_owned(),
        what: operation,
    }));
    let (labour, hours_overruled) =
        labour(&counts, &shop.labour_operations, boat.job_type, settings, &boat.overrules, &mut ledger);
    let mut overrules = wanted.applied(&boat, &loads, &laid, settings);
    overrules.extend(hours_overruled);

    let used_runs: Vec<usize> = laid.loaded.iter().enumerate().filter(|(_, n)| **n > 0).map(|(i, _)| i).collect();
    let laid_out = estimates::hull_in_use(&boat, &used_runs);
    warnings.extend(estimates::warnings(laid_out, settings));
    Ok(TakeOff {
        boat: summary(&boat, &laid, laid_out, settings),
        questions: [questions(&boat, &loads, &used_runs), power.questions].concat(),
        assumptions: assumptions(&boat, &laid, laid_out, settings),
        cautions: [cautions(&boat), power.cautions].concat(),
        copper: copper_summary(&sizes.copper, &mut ledger),
        wire: wire_totals(&laid, &written, settings),
        cables: written.cables.into_iter().map(|line| line.cable).collect(),
        requirements: parts.into_requirements(),
        circuits: written.circuits,
        feeders: written.feeders,
        always_on: written.always_on,
        banks: power.banks,
        alternator: power.alternator,
        panels: power.rooms,
        cut_list: written
            .conductors
            .into_iter()
            .flatten()
            .chain(written.power.into_iter().map(|(_, line)| line))
            .map(|line| line.conductor)
            .collect(),
        runs,
        labour,
        overrules,
        gaps,
        warnings,
        basis: ledger.into_basis(rule_of),
    })
}

/// A warning for each load whose maker's fuse would not hold it on this bank: the computed one stands instead.
fn fuses_too_small(loads: &[Load]) -> Vec<Warning> {
    let largest_a = |load: &Load| load.positives.iter().map(|lead| lead.current_a).fold(0.0, f64::max);
    loads
        .iter()
        .filter_map(|load| {
            let (fuse_a, current_a) = (load.maker_fuse_a?, largest_a(load));
            (!within(current_a, fuse_a)).then(|| {
                let message = format!(
                    "the maker's fuse of {fuse_a} A does not hold {current_a:.1} A at {} V: one is computed instead, check it with the maker",
                    load.voltage_v
                );
                warn(&load.key, message)
            })
        })
        .collect()
}

/// Everything written out, with each conductor by the place of its leg.
struct WrittenBoat {
    circuits: Vec<Circuit>,
    feeders: Vec<Feeder>,
    always_on: Vec<AlwaysOnSide>,
    /// By place of the leg; absent where no size was found.
    conductors: Vec<Option<Box<Written>>>,
    /// Cables of the sources.
    power: Vec<(Leg, Box<Written>)>,
    /// Jacketed cables.
    cables: Vec<WrittenCable>,
}

impl WrittenBoat {
    /// The lines of the cut list with their legs.
    fn lines<'a>(&'a self, laid: &'a Laid) -> impl Iterator<Item = (&'a Leg, &'a Written)> {
        let of_circuits = self.conductors.iter().enumerate();
        let of_circuits = of_circuits.filter_map(|(leg, line)| Some((&laid.legs[leg], line.as_deref()?)));
        of_circuits.chain(self.power.iter().map(|(leg, line)| (leg, &**line)))
    }
}

/// The key of a panel's feeder.
fn feeder_key(boat: &Boat, panel: usize) -> Name {
    Name::from(["feeder/", boat.panels[panel].id.as_str()].concat())
}

fn write(
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

/// Gaps of circuits and feeders that no size serves.
fn unsized_gaps(boat: &Boat, loads: &[Load], laid: &Laid, sizes: &Sizes) -> Vec<Gap> {
    use crate::calc::circuits::select::NoSize;
    use crate::calc::circuits::sizing::CannotCarry;
    let of_circuits = sizes.without.iter().map(|(place, why)| (loads[*place].key.clone(), "circuit", why));
    let of_feeders =
        sizes.feeders_without.iter().map(|(place, why)| (feeder_key(boat, laid.feeders[*place].panel), "feeder", why));
    of_circuits
        .chain(of_feeders)
        .map(|(what, kind, why)| {
            let (reason, mend) = match why {
                NoSize::Drop { limit_v, least_v } => (
                    format!("with the largest size the shop keeps it still drops {least_v:.2} V; the limit is {limit_v:.2} V"),
                    "shorten the route, raise the voltage of the bank, stock a larger size or overrule the conductor",
                ),
                NoSize::Carry { current_a, because: CannotCarry::Protection { load_needs_a, conductor_allows_a } } => (
                    format!(
                        "{current_a:.1} A asks for a fuse of {load_needs_a:.1} A, and the largest size the shop keeps allows {conductor_allows_a:.1} A"
                    ),
                    "stock a larger size, add a rating to the shop's settings, or choose another way of protection",
                ),
                NoSize::Carry { current_a, .. } => (
                    format!("no size the shop keeps may carry {current_a:.1} A where it lies"),
                    "stock a larger size, pull the bundle apart or take another route",
                ),
            };
            Gap { need: format!("conductors of the {kind} '{what}'"), what, reason, mend: mend.to_owned() }
        })
        .collect()
}

fn run_uses(boat: &Boat, laid: &Laid, written: &WrittenBoat, settings: &Settings, ledger: &mut Ledger) -> Vec<RunUse> {
    let mut uses: BTreeMap<usize, Vec<Name>> = BTreeMap::new();
    for (leg, line) in written.lines(laid) {
        for &run in &leg.route.runs {
            uses.entry(run).or_default().push(line.conductor.label.clone());
        }
    }
    uses.into_iter()
        .map(|(place, conductors)| {
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
            }
        })
        .collect()
}

/// Copper of all that got a size, beside what the plain choice would take.
fn copper_summary(found: &CopperFound, ledger: &mut Ledger) -> CopperSummary {
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

fn wire_totals(laid: &Laid, written: &WrittenBoat, settings: &Settings) -> Vec<WireTotal> {
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

fn summary(boat: &Boat, laid: &Laid, laid_out: Option<&Hull>, settings: &Settings) -> BoatSummary {
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

fn assumptions(boat: &Boat, laid: &Laid, laid_out: Option<&Hull>, settings: &Settings) -> Vec<String> {
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

/// A warning about a circuit or feeder.
fn warn(about: &Name, message: String) -> Warning {
    Warning { about: about.clone(), message }
}

/// The key of what owns a leg.
fn owner_key(owner: Owner, boat: &Boat, loads: &[Load], laid: &Laid) -> Name {
    match owner {
        Owner::Circuit(place) => loads[place].key.clone(),
        Owner::Feeder(place) => feeder_key(boat, laid.feeders[place].panel),
        Owner::Bank(place) => Name::from(format!("bank/{}", boat.banks[place].id)),
    }
}
