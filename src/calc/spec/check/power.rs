//! Sources: battery switches, batteries, what shares the alternator and a day's use, checked against the rest.

use std::sync::Arc;

use super::names::Names;
use super::panels::item_of_kind;
use crate::findings::Fault;
use crate::rules::protection::charging_voltage_v;
use crate::shop::Shop;
use crate::shop::item::{Attributes, Chemistry, Item};
use crate::spec::boat::{Bank, BankSwitch, DailyUse, Equipment};
use crate::spec::power_input::SwitchProvision;
use crate::spec::power_input::{BankInput, PowerInput};

/// The switch of a bank at `station`: one there is supplied unless the spec says otherwise.
pub(super) fn switch(
    bank: &BankInput,
    pointer: &str,
    station: usize,
    stations: &Names,
    shop: &Shop,
    faults: &mut Vec<Fault>,
) -> BankSwitch {
    let Some(stated) = &bank.switch else {
        return BankSwitch { provision: SwitchProvision::Supply, station, item: None, in_equipment: false };
    };
    let at = stated.station.as_ref().map(|name| stations.find(name, || format!("{pointer}/station"), faults));
    let sku = format!("{pointer}/sku");
    let item = stated.sku.as_ref().and_then(|name| item_of_kind(name, "battery_switch", shop, || sku.clone(), faults));
    let charging_v = charging_voltage_v(f64::from(bank.nominal_voltage_v));
    if let Some(rated_v) = item.as_ref().and_then(|item| item.attributes.voltage_rating_v()).filter(|v| *v < charging_v)
    {
        let message = format!(
            "the switch is built for {rated_v} V, and the bank '{}' charges at {charging_v:.1} V: choose one rated for at least that",
            bank.id
        );
        faults.push(Fault::new(sku, message));
    }
    if stated.provision == SwitchProvision::None && (stated.sku.is_some() || stated.station.is_some()) {
        let message = "a bank without a switch has no item or station for one: leave them out, or change the provision";
        faults.push(Fault::new(format!("{pointer}/provision"), message));
    }
    BankSwitch { provision: stated.provision, station: at.unwrap_or(station), item, in_equipment: false }
}

/// Gives each bank that wants a switch one of those that the equipment names: first one at its station, then one without
/// a station; of a voltage that stands the bank's.
pub(super) fn claim_switches(banks: &mut [Bank], equipment: &[Equipment]) {
    let switches: Vec<&Equipment> =
        equipment.iter().filter(|piece| matches!(piece.item.attributes, Attributes::BatterySwitch { .. })).collect();
    let mut claimed = vec![false; switches.len()];
    for bank in banks.iter_mut() {
        if bank.switch.provision != SwitchProvision::Supply || bank.switch.item.is_some() {
            continue;
        }
        let charging_v = charging_voltage_v(bank.nominal_voltage_v);
        let suits = |place: &usize| {
            let rated_v = switches[*place].item.attributes.voltage_rating_v().unwrap_or_default();
            !claimed[*place] && rated_v >= charging_v
        };
        let here = |place: &usize| switches[*place].station == Some(bank.switch.station);
        let free = |place: &usize| switches[*place].station.is_none();
        let found =
            (0..switches.len()).filter(suits).find(here).or_else(|| (0..switches.len()).filter(suits).find(free));
        if let Some(place) = found {
            claimed[place] = true;
            bank.switch.item = Some(switches[place].item.clone());
            bank.switch.in_equipment = true;
        }
    }
}

/// Batteries of a bank as they stand.
pub(super) struct Batteries {
    pub(super) items: Vec<(Arc<Item>, u16)>,
    pub(super) series: u16,
    pub(super) parallel: u16,
    /// Least capacity and largest cold-cranking rating of one, where they are named.
    pub(super) of_one: Option<(f64, Option<f64>)>,
    pub(super) chemistry: Option<Chemistry>,
    pub(super) maker_charge_a: Option<f64>,
}

impl Batteries {
    /// Capacity of the bank: that of the least battery for each string.
    pub(super) fn capacity_ah(&self) -> Option<f64> {
        self.of_one.map(|(ah, _)| ah * f64::from(self.parallel))
    }

    /// Cold-cranking amperes of the bank: those of the strongest battery for each string.
    pub(super) fn cold_cranking_a(&self) -> Option<f64> {
        self.of_one.and_then(|(_, a)| a).map(|a| a * f64::from(self.parallel))
    }
}

/// The batteries of a bank: how many in series and in parallel follows from their voltage and count.
pub(super) fn batteries(bank: &BankInput, pointer: &str, shop: &Shop, faults: &mut Vec<Fault>) -> Batteries {
    let nominal = bank.nominal_voltage_v;
    let mut found = Batteries {
        items: Vec::new(),
        // Where nobody has said, a bank is a string of 12 V batteries (common practice).
        series: (nominal / 12).max(1),
        parallel: 1,
        of_one: None,
        chemistry: None,
        maker_charge_a: None,
    };
    let Some(named) = &bank.batteries else { return found };
    if named.is_empty() {
        let message = format!("the bank '{}' has no battery: name its batteries, or leave the list out", bank.id);
        faults.push(Fault::new(pointer, message));
        return found;
    }
    let mut count = 0u32;
    let mut volts: Vec<u16> = Vec::new();
    for (i, entry) in named.iter().enumerate() {
        if entry.quantity == 0 || entry.quantity > 64 {
            let message =
                format!("a bank of {} such batteries makes no sense: it must be from 1 to 64", entry.quantity);
            faults.push(Fault::new(format!("{pointer}/{i}/quantity"), message));
        }
        count += u32::from(entry.quantity);
        let Some(item) = item_of_kind(&entry.sku, "battery", shop, || format!("{pointer}/{i}/sku"), faults) else {
            continue;
        };
        if let Attributes::Battery { nominal_voltage_v, capacity_ah, cold_cranking_a, chemistry, charge_a, .. } =
            &item.attributes
        {
            volts.push(*nominal_voltage_v);
            let (ah, a) = found.of_one.unwrap_or((f64::INFINITY, None));
            let strongest = match (a, *cold_cranking_a) {
                (Some(a), Some(b)) => Some(f64::max(a, b)),
                (a, b) => a.or(b),
            };
            found.of_one = Some((ah.min(*capacity_ah), strongest));
            found.chemistry = found.chemistry.or(*chemistry);
            found.maker_charge_a = match (found.maker_charge_a, *charge_a) {
                (Some(a), Some(b)) => Some(f64::min(a, b)),
                (a, b) => a.or(b),
            };
        }
        found.items.push((item, entry.quantity));
    }
    found.items.sort_by(|a, b| a.0.sku.cmp(&b.0.sku));
    let Some(&first) = volts.first() else { return found };
    if volts.iter().any(|v| *v != first) {
        let message = "batteries of different voltage cannot stand in one bank: name batteries of one voltage";
        faults.push(Fault::new(pointer, message));
        return found;
    }
    if first == 0 || !nominal.is_multiple_of(first) {
        let message = format!("batteries of {first} V do not make {nominal} V: name batteries that do");
        faults.push(Fault::new(pointer, message));
        return found;
    }
    found.series = nominal / first;
    if !count.is_multiple_of(u32::from(found.series)) {
        let message = format!(
            "{count} batteries of {first} V make no whole strings of {nominal} V: name a multiple of {}",
            found.series
        );
        faults.push(Fault::new(pointer, message));
        return found;
    }
    found.parallel = u16::try_from(count / u32::from(found.series)).unwrap_or(u16::MAX).max(1);
    found
}

/// What shares the alternator, and a day's use.
pub(super) struct SourcesOf {
    pub(super) alternator_banks: Option<Vec<usize>>,
    pub(super) daily_use: Vec<DailyUse>,
}

/// Checks the figures of alternator and use, and finds what they are about.
pub(super) fn sources(
    power: &PowerInput,
    (names, banks): (&Names, &[Bank]),
    equipment: &[Equipment],
    faults: &mut Vec<Fault>,
) -> SourcesOf {
    let mut within = |figure: Option<f64>, (least, most): (f64, f64), pointer: String| {
        if let Some(figure) = figure.filter(|figure| !(*figure >= least && *figure <= most)) {
            let message = format!("{figure} makes no sense here: it must be from {least} to {most}");
            faults.push(Fault::new(pointer, message));
        }
    };
    within(power.alternator_a, (1.0, 500.0), "/power/alternator_a".to_owned());
    within(power.days_between_charges, (0.25, 30.0), "/power/days_between_charges".to_owned());
    for (i, entry) in power.daily_use.iter().enumerate() {
        within(Some(entry.hours_per_day), (0.0, 24.0), format!("/power/daily_use/{i}/hours_per_day"));
    }
    let alternator_banks = power.alternator_banks.as_ref().map(|named| {
        let mut places: Vec<usize> = Vec::new();
        for (i, name) in named.iter().enumerate() {
            let (pointer, known) = (format!("/power/alternator_banks/{i}"), faults.len());
            let place = names.find(name, || pointer.clone(), faults);
            if faults.len() > known {
                continue;
            }
            // A combiner joins positives: batteries of unlike voltage would short through it.
            if let Some((first, this)) = places.first().and_then(|first| Some((banks.get(*first)?, banks.get(place)?)))
                && first.nominal_voltage_v != this.nominal_voltage_v
            {
                let message = format!(
                    "'{}' is a bank of {} V and '{}' one of {} V: a combiner joins banks of one voltage, so leave one out",
                    this.id, this.nominal_voltage_v, first.id, first.nominal_voltage_v
                );
                faults.push(Fault::new(pointer, message));
            }
            places.push(place);
        }
        places.sort_unstable();
        places.dedup();
        places
    });
    if power.alternator_banks.is_some() && power.alternator_a.is_none() {
        let message = "banks share an alternator whose rating is not stated: state power.alternator_a";
        faults.push(Fault::new("/power/alternator_banks", message));
    }
    let mut daily_use = Vec::new();
    for (i, entry) in power.daily_use.iter().enumerate() {
        let pointer = format!("/power/daily_use/{i}");
        match (&entry.equipment, entry.function) {
            (Some(key), None) => {
                let of_entry =
                    |piece: &Equipment| piece.key == *key || piece.key.as_str().starts_with(&format!("{key}/"));
                if !equipment.iter().any(of_entry) {
                    let near = super::nearest(key.as_str(), equipment.iter().map(|piece| piece.key.as_str()));
                    let mend =
                        near.map_or("name an id of the equipment".to_owned(), |near| format!("did you mean '{near}'?"));
                    let message = format!("there is no equipment '{key}': {mend}");
                    faults.push(Fault::new(format!("{pointer}/equipment"), message));
                }
            }
            (None, Some(_)) => {}
            _ => faults.push(Fault::new(pointer, "say either which equipment or which function, one of the two")),
        }
        daily_use.push(DailyUse {
            equipment: entry.equipment.clone(),
            function: entry.function,
            hours: entry.hours_per_day,
        });
    }
    SourcesOf { alternator_banks, daily_use }
}
