//! The chain itself: a boat spec in, the take-off out, as a list of stages.

mod assumptions;
mod counting;
mod estimates;
mod jackets;
mod job;
mod overrules;
mod parts;
mod totals;
mod writing;

use crate::along::{AlongSide, along};
use std::collections::{BTreeMap, BTreeSet};

use crate::basis::Ledger;
use crate::cautions::cautions;
use crate::circuits::legs::{Laid, Owner, lay};
use crate::circuits::loads::{Load, loads};
use crate::circuits::main_protection::bank_class;
use crate::circuits::select::{Sizes, select};
use crate::dash;
use crate::findings::{Fault, Gap, Warning};
use crate::labour::{labour, unknown_operations};
use crate::network::{Planned, network_side, plan};
use crate::plumbing::plumb;
use crate::power::{Facts, PowerSide, power_side};
use crate::questions::{omissions, questions};
use crate::rules::table::rule_of;
use crate::shop::Shop;
use crate::spec::boat::Boat;
use crate::spec::check::check;
use crate::spec::fitted::fitted;
use crate::spec::input::{Access, BoatSpecInput};
use crate::supplied::supplied_side;
use crate::take_off::TakeOff;
use crate::units::{Name, within};
use crate::work_plan::work_plan;
use parts::Parts;
use totals::{copper_summary, run_uses, summary, wire_totals};
use writing::write;

/// Computes the take-off of a boat spec with the shop's tables.
///
/// # Errors
/// All faults of the spec, each with a JSON pointer into it.
pub fn take_off(input: &BoatSpecInput, shop: &Shop) -> Result<TakeOff, Vec<Fault>> {
    let shop = &*fitted(shop, &input.boat);
    let settings = &*shop.settings;
    let mut boat = check(input, shop)?;
    // The network's power tap is a circuit like any other, so the network is planned before the circuits.
    let (planned, unreached) = match plan(&boat, settings) {
        Ok(planned) => (planned, Vec::new()),
        Err(faults) => (Planned::default(), faults),
    };
    boat.equipment.extend(planned.tap);
    let boat = boat;
    let mut loads = loads(&boat);
    let classes: Vec<_> = boat.banks.iter().map(bank_class).collect();
    let mut laid = match lay(&boat, &loads, &classes, settings) {
        Ok(laid) if unreached.is_empty() => laid,
        Ok(_) => return Err(unreached),
        Err(mut faults) => {
            faults.extend(unreached);
            faults.sort();
            faults.dedup();
            return Err(faults);
        }
    };

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
    warnings.extend(planned.warnings);
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
    let mut plumbing = plumb(&boat, settings, &mut ledger);
    let (bundles, drivers) = (totals::bundles(&laid, &written), totals::drivers(&laid, &written));
    let mut on_the_way = along(&boat, settings, &bundles, drivers, &mut ledger);
    let mut network = network_side(planned.plan.as_ref(), &boat, &written.circuits, settings, &mut ledger);
    let mut supplied = supplied_side(&boat, settings, &mut ledger);
    let mut parts = Parts::new(&boat, settings);
    parts.equipment();
    parts.circuits(&written, &laid);
    parts.power(&mut power);
    parts.fit_out(&mut plumbing.parts, &mut plumbing.pieces);
    parts.along(&mut on_the_way);
    parts.network(&mut network, &mut supplied);
    warnings.append(&mut parts.warnings);
    let mut gaps = boat.gaps.clone();
    gaps.append(&mut parts.gaps);
    gaps.extend(unsized_gaps(&boat, &loads, &laid, &sizes));

    let dashes = dash::boat::dashes(&boat, settings.length_unit, &mut ledger);
    gaps.extend(dashes.iter().flat_map(dash::findings::gaps));
    warnings.extend(dashes.iter().flat_map(dash::findings::warnings));

    network.through.append(&mut supplied.through);
    warnings.extend(not_in_the_fill(&boat, &network.through));
    let runs = run_uses(&boat, &laid, &written, &network.through, settings, &mut ledger);
    let holes = plumbing.plumbing.as_ref().map_or(0, |plumbing| plumbing.holes.below_waterline);
    let counted = counting::Counted {
        boat: &boat,
        loads: &loads,
        written: &written,
        laid: &laid,
        power: &power,
        network: &network,
        runs: &runs,
        holes,
    };
    let mut counts = counting::counts(counted, &shop.labour_operations);
    counts.add(&plumbing.counts);
    counts.add(&on_the_way.counts);
    gaps.extend(unknown_operations(&counts, &shop.labour_operations).into_iter().map(|operation| Gap {
        need: format!("labour operation '{operation}', which an item or package of this quote calls for"),
        reason: "the shop's labour table does not have it".to_owned(),
        mend: "add the operation to the table, or take it off the item".to_owned(),
        what: operation,
    }));
    let (labour, hours_overruled) =
        labour(&counts, &shop.labour_operations, boat.job_type, settings, &boat.overrules, &mut ledger);
    let work_plan = work_plan(&labour, settings, &mut ledger);
    let left_out = omissions(&boat, &loads, &labour);
    gaps.extend(left_out.gaps);
    warnings.extend(left_out.warnings);
    let mut overrules = wanted.applied(&boat, &loads, &laid, settings);
    overrules.extend(hours_overruled);

    let through = |run: usize| network.through.iter().any(|(used, _)| *used == run);
    let used_runs: Vec<usize> = (0..boat.runs.len()).filter(|run| laid.loaded[*run] > 0 || through(*run)).collect();
    let laid_out = estimates::hull_in_use(&boat, &used_runs);
    warnings.extend(estimates::warnings(laid_out, settings));
    Ok(TakeOff {
        boat: summary(&boat, &laid, laid_out, settings),
        questions: [
            questions(&boat, &loads, &used_runs),
            left_out.questions,
            power.questions,
            supplied.questions,
            plumbing.questions,
        ]
        .concat(),
        answers: left_out.answers,
        assumptions: assumptions::assumptions(&boat, (&laid, &written.circuits, holes), laid_out, shop),
        cautions: [cautions(&boat), power.cautions, network.cautions, plumbing.cautions].concat(),
        copper: copper_summary(&sizes.copper, &mut ledger),
        wire: wire_totals(&laid, &written, settings),
        cables: written.cables.into_iter().map(|line| line.cable).collect(),
        dashes,
        plumbing: plumbing.plumbing,
        along: on_the_way.along,
        requirements: parts.into_requirements(),
        circuits: written.circuits,
        feeders: written.feeders,
        always_on: written.always_on,
        banks: power.banks,
        alternator: power.alternator,
        panels: power.rooms,
        network: network.network,
        supplied_cables: supplied.cables,
        cut_list: written
            .conductors
            .into_iter()
            .flatten()
            .chain(written.power.into_iter().map(|(_, line)| line))
            .map(|line| line.conductor)
            .collect(),
        runs,
        labour,
        work_plan,
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

/// The key of a panel's feeder.
fn feeder_key(boat: &Boat, panel: usize) -> Name {
    Name::from(["feeder/", boat.panels[panel].id.as_str()].concat())
}

/// Gaps of circuits and feeders that no size serves.
fn unsized_gaps(boat: &Boat, loads: &[Load], laid: &Laid, sizes: &Sizes) -> Vec<Gap> {
    use crate::circuits::select::NoSize;
    use crate::circuits::sizing::CannotCarry;
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

/// Tubes that network cable or a supplied cable goes through, which their fill does not count: makers print no thickness of
/// these, and a plug is thicker than its cable.
fn not_in_the_fill(boat: &Boat, through: &[(usize, Name)]) -> Vec<Warning> {
    let mut tubes: BTreeMap<usize, BTreeSet<&str>> = BTreeMap::new();
    for (run, label) in through.iter().filter(|(run, _)| boat.runs[*run].access == Access::Tube) {
        tubes.entry(*run).or_default().insert(label.as_str());
    }
    let told = |(run, labels): (usize, BTreeSet<&str>)| {
        let [a, b] = [boat.runs[run].a, boat.runs[run].b].map(|place| &boat.stations[place]);
        let labels = labels.into_iter().collect::<Vec<_>>().join(", ");
        let message = format!(
            "the tube from '{}' to '{}' takes {labels} too, which its fill does not count: see that each passes with its plug",
            a.name, b.name
        );
        warn(&Name::from(format!("tube/{}-{}", a.id, b.id)), message)
    };
    tubes.into_iter().map(told).collect()
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
