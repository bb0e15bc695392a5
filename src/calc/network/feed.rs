//! Where a network is fed: at which tee station its power tap keeps the voltage at both ends, and from which panel.

use std::sync::Arc;

use rust_decimal::Decimal;

use super::plan::Plan;
use super::power_key;
use crate::routes::Routes;
use crate::rules::network::{cable, limits, voltage_drop_v};
use crate::shop::item::{Attributes, BuyingUnit, Function, Item, Lead, LeadRole, NetworkClass, SellingUnit};
use crate::shop::settings::Settings;
use crate::spec::boat::{Boat, Equipment};
use crate::units::{Length, Name, within};

/// Nominal voltage of a network's supply.
const SUPPLY_V: u16 = 12;

/// One way from the power tap along the backbone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leg {
    /// Place of the last tee station, along the backbone.
    pub to: usize,
    /// Sum of its devices' load equivalency numbers; those at the tap's own station count in each leg, since where their
    /// tees stand is the rigger's choice.
    pub load_equivalency: u32,
    /// Length from the tap to the farthest device, its drop included.
    pub length: Length,
    /// What it loses, volts.
    pub drop_v: f64,
}

/// Where and how a network is fed.
#[derive(Clone, Debug, PartialEq)]
pub struct Feed {
    /// Place of the tap's tee station, along the backbone.
    pub tee: usize,
    /// Place of its station.
    pub station: usize,
    /// Place of the panel.
    pub panel: usize,
    /// Its legs, one or two.
    pub legs: Vec<Leg>,
    /// Current of all devices, amperes.
    pub current_a: f64,
    /// Rating of its fuse, amperes; `None` where no rating of the shop holds the current and protects the cable.
    pub fuse_a: Option<f64>,
}

impl Feed {
    /// The most that a leg loses, volts.
    pub fn worst_v(&self) -> f64 {
        worst_v(&self.legs)
    }

    /// Whether the tap stands at an end of the backbone.
    pub fn at_end(&self, plan: &Plan) -> bool {
        self.tee == 0 || self.tee + 1 == plan.tees.len()
    }

    /// The tap as equipment: a device that draws what the network does, on a circuit of its own.
    pub fn equipment(&self, plan: &Plan) -> Equipment {
        let lead = |role, current_a| Lead { role, current_a, size: None, length: None, stud: None, maker_colour: None };
        let attributes = Attributes::Device {
            function: Function::NavigationElectronics,
            rated_voltage_v: Some(f64::from(SUPPLY_V)),
            nominal_voltages_v: vec![SUPPLY_V],
            draw_a: None,
            unwired: false,
            leads: vec![lead(LeadRole::SwitchedPositive, Some(self.current_a)), lead(LeadRole::Return, None)],
            duty: None,
            load_column: None,
            drop_class: None,
            maker_fuse_a: self.fuse_a,
            wiring: None,
            dash_mount: None,
            plumbing: None,
            data_network: None,
            supplied_cables: Vec::new(),
            ignition_protected: false,
        };
        let item = Item {
            sku: power_key(),
            description: format!("Data network power tap, {} devices", plan.hung.len()),
            category: Name::from(""),
            attributes,
            selling_unit: SellingUnit::Each,
            buying_unit: BuyingUnit::Each,
            buying_quantity: Decimal::ONE,
            minimum_order: 1,
            order_multiple: 1,
            tax_class: None,
            lead_time_days: 0,
            special_order: false,
            labour: Some(Vec::new()),
            prices: Vec::new(),
            supplier: None,
            retired: false,
        };
        Equipment {
            key: power_key(),
            item: Arc::new(item),
            station: Some(self.station),
            panel: Some(self.panel),
            wiring: None,
            plumbing: None,
            cables_to: None,
            customer_supplied: false,
            planned: true,
            pointer: "/network".to_owned(),
        }
    }
}

fn worst_v(legs: &[Leg]) -> f64 {
    legs.iter().map(|leg| leg.drop_v).fold(0.0, f64::max)
}

/// Where a network is fed best. Of the tee stations, or the one that the spec names: those that keep the voltage first, then
/// the nearest to the panel, then that which loses least. So a tap at an end gives way to one in the middle where the end
/// does not hold.
pub fn feed(plan: &Plan, boat: &Boat, settings: &Settings, routes: &mut Routes) -> Option<Feed> {
    let panels = panels(boat);
    let named = boat.network.power_station;
    let tees = (0..plan.tees.len()).filter(|tee| named.is_none_or(|named| plan.tees[*tee] == named));
    /// Whether the voltage fails, how unwise the panel is, how far it is, what is lost on the way, and the panel.
    type Order = (bool, u8, Length, f64, usize);
    let mut best: Option<(Order, Feed)> = None;
    // A device draws something, or its wire could not be sized.
    let current_a = f64::from(plan.load_equivalency().max(1)) * limits().current_of_len_a;
    let fuse_a = fuse_a(plan.class, current_a, settings);
    for tee in tees {
        let legs = legs(plan, tee);
        let worst_v = worst_v(&legs);
        let fails = !within(worst_v, limits().voltage_drop_v_max);
        for &(panel, unwise) in &panels {
            let Some(route) = routes.route(boat.panels[panel].station, plan.tees[tee]) else { continue };
            let order = (fails, unwise, route.length(), worst_v, panel);
            if best.as_ref().is_none_or(|(known, _)| order < *known) {
                let station = plan.tees[tee];
                best = Some((order, Feed { tee, station, panel, legs: legs.clone(), current_a, fuse_a }));
            }
        }
    }
    best.map(|(_, feed)| feed)
}

/// Panels that can feed it: the one that is named, else all of 12 V; a bank that starts an engine or feeds a bow motor is
/// unwise (a radar maker's and a network cable maker's guides).
fn panels(boat: &Boat) -> Vec<(usize, u8)> {
    let unwise = |panel: usize| {
        let bank = boat.panels[panel].bank;
        let motor = |piece: &Equipment| {
            let bow = matches!(piece.item.attributes, Attributes::Device { function: Function::BowMotor, .. });
            bow && piece.panel.is_some_and(|panel| boat.panels[panel].bank == bank)
        };
        u8::from(boat.banks[bank].starts_engine || boat.equipment.iter().any(motor))
    };
    match boat.network.panel {
        Some(panel) => vec![(panel, unwise(panel))],
        None => {
            let fits = |panel: &usize| boat.banks[boat.panels[*panel].bank].nominal_voltage_v == f64::from(SUPPLY_V);
            (0..boat.panels.len()).filter(fits).map(|panel| (panel, unwise(panel))).collect()
        }
    }
}

/// The legs of a tap at a tee station: one along each side that has a span, or one where all tees stand together.
fn legs(plan: &Plan, tee: usize) -> Vec<Leg> {
    let last = plan.tees.len() - 1;
    let mut ends: Vec<usize> = [0, last].into_iter().filter(|end| *end != tee).collect();
    if ends.is_empty() {
        ends.push(tee);
    }
    ends.dedup();
    let leg = |to: usize| {
        let here = || plan.hung.iter().filter(|hung| (to.min(tee)..=to.max(tee)).contains(&hung.tee));
        let load_equivalency = here().map(|hung| u32::from(hung.device.load_equivalency)).sum();
        let length = here().map(|hung| plan.between(tee, hung.tee) + hung.planned).max().unwrap_or_default();
        let drop_v = voltage_drop_v(load_equivalency, length.m(), cable(plan.class).ohm_per_m);
        Leg { to, load_equivalency, length, drop_v }
    };
    ends.into_iter().map(leg).collect()
}

/// The largest of the shop's ratings that the cable and its connectors carry, if it holds the current: 3 A on light cable,
/// as makers' manuals of small networks have it.
fn fuse_a(class: NetworkClass, current_a: f64, settings: &Settings) -> Option<f64> {
    let most_a = cable(class).current_a_max;
    let fits = settings.branch_ratings_a.iter().copied().filter(|rating| within(*rating, most_a));
    fits.filter(|rating| within(current_a, *rating)).max_by(f64::total_cmp)
}
