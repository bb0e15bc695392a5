//! Panel trees: what feeds each panel, where each bus leads, and that both end at a bank.

use std::collections::BTreeMap;

use super::panels::Known;
use crate::findings::Fault;
use crate::spec::boat::{Bank, Bus};
use crate::spec::power_input::{PanelInput, PowerInput};
use crate::units::Name;

/// Panels, or buses, in a row from a bank: no small craft has more, and what is longer is a slip of the keyboard.
const IN_A_ROW_MOST: usize = 8;

/// What feeds a panel.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Source {
    /// Place of the bank at its root.
    pub(super) bank: usize,
    /// Place of the panel that feeds it.
    pub(super) fed_from: Option<usize>,
}

/// How a walk towards the bank ended.
enum Walk {
    /// At an end, after so many steps.
    Ended(usize, usize),
    /// Back at where it began: the way there.
    Circle(Vec<usize>),
    /// In a circle that it does not lie on.
    Lost,
}

/// Walks from `start` along `next` until there is none.
fn walk(start: usize, next: impl Fn(usize) -> Option<usize>) -> Walk {
    let mut way = vec![start];
    let mut at = start;
    while let Some(following) = next(at) {
        if following == start {
            way.push(start);
            return Walk::Circle(way);
        }
        if way.contains(&following) {
            return Walk::Lost;
        }
        way.push(following);
        at = following;
    }
    Walk::Ended(at, way.len())
}

/// What feeds each panel of the spec, in its order.
pub(super) fn sources(panels: &[PanelInput], known: &Known, faults: &mut Vec<Fault>) -> Vec<Source> {
    let place_in_spec = |name: &Name| panels.iter().position(|panel| panel.id == *name);
    for (i, panel) in panels.iter().enumerate() {
        let at = |field: &str| format!("/power/panels/{i}/{field}");
        if let Some(bank) = &panel.bank {
            known.banks.find(bank, || at("bank"), faults);
        }
        if let Some(feeding) = &panel.fed_from {
            known.panels.find(feeding, || at("fed_from"), faults);
        }
        match (&panel.bank, &panel.fed_from) {
            (Some(bank), Some(feeding)) => faults.push(Fault::new(
                at("fed_from"),
                format!(
                    "the panel '{}' is fed by the bank '{bank}' and by the panel '{feeding}': leave one out",
                    panel.id
                ),
            )),
            (None, None) => faults.push(Fault::new(
                format!("/power/panels/{i}"),
                format!("nothing feeds the panel '{}': name its bank, or the panel it is fed_from", panel.id),
            )),
            _ => {}
        }
    }
    let next = |i: usize| panels[i].fed_from.as_ref().filter(|_| panels[i].bank.is_none()).and_then(place_in_spec);
    (0..panels.len())
        .map(|i| {
            let fed_from = match next(i) {
                Some(feeding) => known.panels.places.get(panels[feeding].id.as_str()).copied(),
                None => None,
            };
            let at = || format!("/power/panels/{i}/fed_from");
            let bank = match walk(i, next) {
                Walk::Ended(root, in_a_row) => {
                    if in_a_row > IN_A_ROW_MOST {
                        faults.push(Fault::new(
                            at(),
                            format!(
                                "the panel '{}' is the {in_a_row}th in a row from its bank, and there may be {IN_A_ROW_MOST}: \
                                 feed it from nearer the bank",
                                panels[i].id
                            ),
                        ));
                    }
                    let bank = panels[root].bank.as_ref();
                    bank.and_then(|bank| known.banks.places.get(bank.as_str()).copied()).unwrap_or(0)
                }
                Walk::Circle(way) => {
                    let way: Vec<&str> = way.iter().map(|panel| panels[*panel].id.as_str()).collect();
                    faults.push(Fault::new(
                        at(),
                        format!("the panel '{}' feeds itself ({}): feed one of them from a bank", panels[i].id, way.join(" from ")),
                    ));
                    0
                }
                Walk::Lost => 0,
            };
            Source { bank, fed_from }
        })
        .collect()
}

/// Says where each bus leads, and to which bank in the end. `uses` gives each panel of the spec its bank and its bus.
pub(super) fn lead_buses(
    power: &PowerInput,
    known: &Known,
    banks: &[Bank],
    (sources, uses): (&[Source], &[(usize, Option<usize>)]),
    (order, buses): (&BTreeMap<Name, usize>, &mut Vec<Bus>),
    faults: &mut Vec<Fault>,
) {
    let panels = &power.panels;
    let bus_of = |place: usize| {
        let panel = panels.iter().position(|panel| known.panels.places.get(panel.id.as_str()) == Some(&place));
        panel.and_then(|panel| uses[panel].1)
    };
    let pointers: BTreeMap<usize, usize> =
        (power.buses.iter().enumerate()).filter_map(|(i, bus)| Some((*order.get(&bus.id)?, i))).collect();
    // Where a bus is led by the spec; where it is not, by the panels that use it.
    let mut stated_bank: BTreeMap<usize, usize> = BTreeMap::new();
    let mut leads: Vec<Option<usize>> = vec![None; buses.len()];
    for bus in 0..buses.len() {
        let stated = pointers.get(&bus).and_then(|i| Some((*i, power.buses[*i].leads_to.as_ref()?)));
        match stated {
            Some((i, to)) => match (order.get(to), known.banks.places.get(to.as_str())) {
                (Some(&next), _) => leads[bus] = Some(next),
                (None, Some(&bank)) => {
                    stated_bank.insert(bus, bank);
                }
                (None, None) => {
                    known.buses.find(to, || format!("/power/buses/{i}/leads_to"), faults);
                }
            },
            None => {
                let users = (0..panels.len()).filter(|panel| uses[*panel].1 == Some(bus));
                let mut ways: Vec<Option<usize>> = users
                    .map(|panel| sources[panel].fed_from.and_then(bus_of))
                    // A panel on the bus of the panel that feeds it says nothing about where that bus leads.
                    .filter(|way| *way != Some(bus))
                    .collect();
                ways.sort_unstable();
                ways.dedup();
                // One that a bank-fed panel uses leads to the bank, whatever else uses it.
                if let ([first @ Some(_), _, ..], Some(i)) = (&ways[..], pointers.get(&bus)) {
                    leads[bus] = *first;
                    faults.push(Fault::new(
                        format!("/power/buses/{i}"),
                        format!(
                            "the bus '{}' takes returns of panels that are fed from different places: say which bus or bank it leads_to",
                            buses[bus].id
                        ),
                    ));
                } else {
                    leads[bus] = ways.first().copied().flatten();
                }
            }
        }
    }
    let at = |bus: usize, field: &str| match pointers.get(&bus) {
        Some(i) => format!("/power/buses/{i}{field}"),
        None => "/power/buses".to_owned(),
    };
    let mut used_by: Vec<Option<usize>> = vec![None; buses.len()];
    let mut in_circle = vec![false; buses.len()];
    for bus in 0..buses.len() {
        match walk(bus, |bus| leads[bus]) {
            Walk::Circle(way) => {
                let way: Vec<&str> = way.iter().map(|bus| buses[*bus].id.as_str()).collect();
                faults.push(Fault::new(
                    at(bus, "/leads_to"),
                    format!(
                        "the bus '{}' leads back to itself ({}), so it has no path to a battery: lead one of them to a bank",
                        buses[bus].id,
                        way.join(" to ")
                    ),
                ));
                in_circle[bus] = true;
            }
            Walk::Lost => in_circle[bus] = true,
            Walk::Ended(_, in_a_row) if in_a_row > IN_A_ROW_MOST && pointers.contains_key(&bus) => faults.push(Fault::new(
                at(bus, "/leads_to"),
                format!(
                    "the bus '{}' is the {in_a_row}th in a row from its bank, and there may be {IN_A_ROW_MOST}: lead it nearer to the bank",
                    buses[bus].id
                ),
            )),
            Walk::Ended(..) => {}
        }
    }
    // The banks whose returns come through each bus must be one.
    for (i, &(bank, bus)) in uses.iter().enumerate() {
        let Some(bus) = bus.filter(|bus| !in_circle[*bus]) else { continue };
        let mut told = false;
        for through in std::iter::successors(Some(bus), |bus| leads[*bus]) {
            let other = *used_by[through].get_or_insert(bank);
            let led_to = stated_bank.get(&through).copied().unwrap_or(bank);
            let wrong = if other != bank { other } else { led_to };
            if wrong != bank && !told {
                told = true;
                let name = |bank: usize| banks.get(bank).map_or("?", |b| b.id.as_str());
                faults.push(Fault::new(
                    format!("/power/panels/{i}/negative_bus"),
                    format!(
                        "the bus '{}' would take returns of the banks '{}' and '{}': give each bank a bus of its own",
                        buses[through].id,
                        name(wrong),
                        name(bank)
                    ),
                ));
            }
        }
    }
    for bus in 0..buses.len() {
        match used_by[bus] {
            Some(bank) => buses[bus] = Bus { bank, leads_to: leads[bus], ..buses[bus].clone() },
            None if in_circle[bus] => {}
            None => faults.push(Fault::new(
                at(bus, ""),
                format!(
                    "no panel uses the bus '{}': name it as a panel's negative_bus, lead another bus to it, or leave it out",
                    buses[bus].id
                ),
            )),
        }
    }
}
