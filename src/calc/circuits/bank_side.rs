//! The bank's side of the feeders: what stands between a battery post and the first feeder, decided before anything is
//! laid, since feeders start where it ends and its copper counts in their drop.
//!
//! 1. The main protection is at the post, before the switch. A bank with one feeder has that feeder's fuse as its main;
//!    a bank with several has a main of its own, and each feeder its fuse on a feed bus behind the switch.
//! 2. Cable from post to main fuse to switch to feed bus is sized for all that the bank feeds, by load analysis; it takes
//!    a tenth of the feeder limit at most, and each feeder counts its drop (common practice).
//! 3. More terminals on a negative post than a stud takes ask for a bus there.

use crate::calc::circuits::charging::Allotted;
use crate::calc::circuits::legs::{FUSE_STUD, LegEnd, analyse, battery_stud};
use crate::calc::circuits::loads::Load;
use crate::calc::circuits::main_protection::{BankClass, always_on_family, main_family};
use crate::calc::circuits::select::construction_minimum;
use crate::calc::circuits::sizing::{Demand, carry};
use crate::calc::findings::Fault;
use crate::calc::routes::{Route, Routes};
use crate::calc::rules::drop::drop_v;
use crate::calc::rules::power::{LINK_IN, SHARE_BEFORE_FEEDERS, TERMINALS_ON_STUD_MAX};
use crate::calc::rules::protection::{CONTINUOUS_FACTOR, family, standard_ratings};
use crate::calc::rules::sizes::area_cmil;
use crate::calc::shop::item::{Attributes, Function, FuseFamily, LeadRole, Stud};
use crate::calc::shop::settings::Settings;
use crate::calc::spec::boat::{Boat, SwitchProvision};
use crate::calc::take_off::LandsOn;
use crate::calc::units::{Length, WireSize, within};

/// Stud of a battery switch where no item says otherwise (common practice).
const SWITCH_STUD: Stud = Stud::ThreeEighths;

/// Load analysis of all that a bank feeds, amperes.
#[derive(Clone, Copy, Debug, Default)]
pub struct BankLoad {
    /// Current by load analysis.
    pub current_a: f64,
    /// Sum of the loads that may run at any time.
    pub always_a: f64,
    /// Sum of the occasional loads.
    pub occasional_a: f64,
    /// Largest occasional load.
    pub largest_occasional_a: f64,
}

impl BankLoad {
    /// Least rating of the bank's main protection before the devices behind it are known, amperes.
    pub fn needs_a(&self) -> f64 {
        self.always_a * CONTINUOUS_FACTOR + (self.occasional_a / 10.0).max(self.largest_occasional_a)
    }
}

/// What is decided of a bank before it is laid.
#[derive(Clone, Debug)]
pub struct BankSide {
    /// Places of the panels that it feeds itself; sub-panels are fed by these.
    pub panels: Vec<usize>,
    /// What they draw together.
    pub load: BankLoad,
    /// Where its feeders start.
    pub start: LegEnd,
    /// The bank's end of its feeders' returns.
    pub negative: LegEnd,
    /// Route from the bank to its switch; absent without one.
    pub to_switch: Option<Route>,
    /// Length of the cables before the feeders, and the size they have at least; absent where there are none.
    pub before: Option<(WireSize, Length)>,
    /// The same of the cable between its negative post and the bus there.
    pub negative_before: Option<(WireSize, Length)>,
    /// Whether its feeders have their fuses on a feed bus behind the switch.
    pub feed_bus: bool,
    /// Returns and other cables that end at its negative post or bus.
    pub negative_terminals: usize,
    /// Whether its always-on fuses are in a block.
    pub fuse_block: bool,
}

impl BankSide {
    /// The lead that a feeder of `current_a` counts before it: as long as gives the drop that all of the bank's current
    /// makes in the bank's cables.
    pub fn lead(&self, before: Option<(WireSize, Length)>, current_a: f64) -> Option<(WireSize, Length)> {
        let (size, length) = before?;
        (current_a > 0.0).then(|| (size, length.scaled(self.load.current_a / current_a)))
    }
}

/// Stud of a bank's switch.
pub fn switch_stud(boat: &Boat, bank: usize) -> Stud {
    match boat.banks[bank].switch.item.as_deref().map(|item| &item.attributes) {
        Some(Attributes::BatterySwitch { stud, .. }) => *stud,
        _ => SWITCH_STUD,
    }
}

/// The sides of all banks. `faults` gets one for each switch that no runs join to its bank.
pub fn bank_sides(
    boat: &Boat,
    loads: &[Load],
    allotted: &Allotted,
    classes: &[BankClass],
    settings: &Settings,
    routes: &mut Routes,
    faults: &mut Vec<Fault>,
) -> Vec<BankSide> {
    let joined = (0..boat.banks.len()).filter(|bank| !bow_bank(boat, loads, *bank)).count();
    (0..boat.banks.len())
        .map(|bank| {
            let mut side = side(boat, bank, loads, &classes[bank], settings, routes, faults);
            // Beside the feeders' returns: charger returns, a case's ground, joins to the banks before and after.
            let outputs = allotted.outputs.iter().filter(|o| o.task.bank == bank && o.task.battery <= 1).count();
            let joins = if bow_bank(boat, loads, bank) { 0 } else { joined.saturating_sub(1).min(2) };
            side.negative_terminals += outputs + usize::from(outputs > 0) + joins;
            settle_negative(&mut side, boat, bank, &classes[bank], settings);
            side
        })
        .collect()
}

/// Puts what lands on a negative post on a bus there, where it is more than a stud takes.
fn settle_negative(side: &mut BankSide, boat: &Boat, bank: usize, class: &BankClass, settings: &Settings) {
    if side.negative_terminals <= TERMINALS_ON_STUD_MAX {
        return;
    }
    side.negative.lands_on = LandsOn::BankNegativeBus;
    let ends = settings.battery_termination_allowance.length().unwrap_or_default() * 2;
    side.negative_before = before(boat, bank, side, (false, ends), class, settings);
}

/// Whether a bank feeds a bow motor: nothing else is tapped from it, and its negative stays apart.
pub fn bow_bank(boat: &Boat, loads: &[Load], bank: usize) -> bool {
    loads.iter().any(|load| load.function == Function::BowMotor && boat.panels[load.panel].bank == bank)
}

/// The banks that share the alternator: those that the spec names, else all of 12 V without a bow motor.
pub fn alternator_banks(boat: &Boat, loads: &[Load]) -> Vec<usize> {
    if boat.alternator_a.is_none() {
        return Vec::new();
    }
    boat.alternator_banks.clone().unwrap_or_else(|| {
        let shares = |bank: &usize| boat.banks[*bank].nominal_voltage_v == 12.0 && !bow_bank(boat, loads, *bank);
        (0..boat.banks.len()).filter(shares).collect()
    })
}

/// The routes of charger leads, there and back, and of the cables between banks that share the alternator: they fill the
/// runs too. `faults` gets one for each that no runs join.
pub fn charging_routes(
    boat: &Boat,
    allotted: &Allotted,
    alternator_banks: &[usize],
    routes: &mut Routes,
    faults: &mut Vec<Fault>,
) -> Vec<Route> {
    let mut found = Vec::new();
    let mut join = |from: usize, to: usize, pointer: &str, times: usize| match routes.route(from, to) {
        Some(route) => found.extend(vec![route; times]),
        None => {
            let (from, to) = (&boat.stations[from].id, &boat.stations[to].id);
            faults.push(Fault::new(
                pointer,
                format!(
                    "no run leads from '{from}' to '{to}': add the runs that cable takes between them to /boat/runs"
                ),
            ));
        }
    };
    for output in &allotted.outputs {
        let charger = &boat.equipment[output.charger];
        if let Some(station) = charger.station {
            join(boat.banks[output.task.bank].station, station, &charger.pointer, 2);
        }
    }
    for pair in alternator_banks.windows(2) {
        let station = |bank: usize| boat.banks[bank].station;
        join(station(pair[1]), station(pair[0]), "/power/alternator_banks", 1);
    }
    found
}

fn side(
    boat: &Boat,
    place: usize,
    loads: &[Load],
    class: &BankClass,
    settings: &Settings,
    routes: &mut Routes,
    faults: &mut Vec<Fault>,
) -> BankSide {
    let bank = &boat.banks[place];
    // A sub-panel's feeder starts at the panel that feeds it, so it is none of the bank's.
    let fed = |&panel: &usize| {
        let root = boat.panels[panel].bank == place && boat.panels[panel].fed_from.is_none();
        root && loads.iter().any(|load| boat.feeding(load.panel).any(|feeding| feeding == panel))
    };
    let panels: Vec<usize> = (0..boat.panels.len()).filter(fed).collect();
    let (current_a, always_a, occasional_a, largest_occasional_a) =
        analyse(loads.iter().filter(|load| boat.panels[load.panel].bank == place));
    let load = BankLoad { current_a, always_a, occasional_a, largest_occasional_a };
    let has_switch = bank.switch.provision != SwitchProvision::None && !panels.is_empty();
    let to_switch = has_switch.then(|| routes.route(bank.station, bank.switch.station)).flatten();
    if has_switch && to_switch.is_none() {
        let (from, to) = (&boat.stations[bank.station].id, &boat.stations[bank.switch.station].id);
        faults.push(Fault::new(
            "/power/banks",
            format!(
                "no run leads from the bank '{}' at '{from}' to its switch at '{to}': add the runs that cable takes between them",
                bank.id
            ),
        ));
    }
    let feed_bus = has_switch && panels.len() > 1;
    let start = match (has_switch, feed_bus) {
        (false, _) => LegEnd { station: bank.station, lands_on: LandsOn::MainFuse, stud: Some(FUSE_STUD) },
        (true, false) => LegEnd {
            station: bank.switch.station,
            lands_on: LandsOn::BatterySwitch,
            stud: Some(switch_stud(boat, place)),
        },
        (true, true) => LegEnd { station: bank.switch.station, lands_on: LandsOn::FeedFuse, stud: Some(FUSE_STUD) },
    };
    let comes_in = |&bus: &usize| {
        let last = boat.buses[bus].bank == place && boat.buses[bus].leads_to.is_none();
        last && loads.iter().any(|load| boat.led_through(boat.panels[load.panel].bus).any(|through| through == bus))
    };
    let negative_terminals = (0..boat.buses.len()).filter(comes_in).count();
    let lands_on = LandsOn::BatteryNegative;
    let mut side = BankSide {
        panels,
        load,
        start,
        negative: LegEnd { station: bank.station, lands_on, stud: Some(battery_stud()) },
        to_switch,
        before: None,
        negative_before: None,
        feed_bus,
        negative_terminals,
        fuse_block: false,
    };
    side.fuse_block = always_on_blades(boat, place, loads, class, settings) >= TERMINALS_ON_STUD_MAX;
    let ends = settings.battery_termination_allowance.length().unwrap_or_default() * 2;
    if let Some(route) = side.to_switch.clone() {
        let bus_link = if side.feed_bus { ends } else { Length::ZERO };
        let length = Length::inches(LINK_IN) + switch_cable(boat, place, &route, settings) + bus_link;
        side.before = before(boat, place, &side, (route.engine_space, length), class, settings);
    } else if side.panels.len() == 1 && main_family(class, load.needs_a(), settings) != Some(FuseFamily::TerminalCube) {
        // The link from the post to a main fuse that does not sit on it.
        side.before = before(boat, place, &side, (false, Length::inches(LINK_IN)), class, settings);
    }
    side
}

/// Always-on circuits of a bank whose fuse is a blade: each would put a holder's lead on the always-on main's stud.
fn always_on_blades(boat: &Boat, bank: usize, loads: &[Load], class: &BankClass, settings: &Settings) -> usize {
    let here = loads.iter().filter(|load| boat.panels[load.panel].bank == bank);
    here.flat_map(|load| load.positives.iter().map(move |lead| (load, lead)))
        .filter(|(load, lead)| {
            let needs_a = load.fuse_needs_a(lead.current_a);
            let blade = always_on_family(class, needs_a, settings).is_none_or(|fuse| fuse == FuseFamily::Blade);
            lead.role == LeadRole::ConstantPositive && blade
        })
        .count()
}

/// Length of the cable from a main fuse to the switch, rises and ends included.
pub fn switch_cable(boat: &Boat, bank: usize, route: &Route, settings: &Settings) -> Length {
    let bank = &boat.banks[bank];
    let rises = if bank.station == bank.switch.station {
        Length::ZERO
    } else {
        boat.stations[bank.station].rise + boat.stations[bank.switch.station].rise
    };
    route.length() + rises + settings.battery_termination_allowance.length().unwrap_or_default() * 2
}

/// Size and length of the cables before the feeders: the least that carries the bank's current, lets a fuse carry what
/// runs for hours, and takes no more of the drop than its share.
fn before(
    boat: &Boat,
    place: usize,
    side: &BankSide,
    (engine_space, length): (bool, Length),
    class: &BankClass,
    settings: &Settings,
) -> Option<(WireSize, Length)> {
    let needs_a = side.load.needs_a();
    let fuse = main_family(class, needs_a, settings);
    let demand = Demand {
        current_a: side.load.current_a,
        continuous: false,
        insulation_c: settings.insulation_c,
        engine_space,
        bundled_conductors: 1,
        standard: settings.area_standard,
        ratings_a: fuse.map_or(standard_ratings(), |fuse| family(fuse).ratings_a),
        ratings: fuse.map_or("standard", FuseFamily::word),
        maker_fuse_a: None,
        least_rating_a: needs_a,
    };
    let share_v = boat.banks[place].nominal_voltage_v * settings.feeder_drop_percent / 100.0 * SHARE_BEFORE_FEEDERS;
    let mut sizes: Vec<(f64, WireSize)> = settings
        .stocked_sizes
        .iter()
        .filter(|size| size.at_least(construction_minimum(settings.area_standard)))
        .filter_map(|size| Some((area_cmil(*size, settings.area_standard)?, *size)))
        .collect();
    sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let carrying: Vec<&(f64, WireSize)> = sizes.iter().filter(|(_, size)| carry(&demand, *size).is_ok()).collect();
    let drop_of = |area: f64| drop_v(settings.copper_ohm_cmil_per_ft, side.load.current_a, length, area);
    let (_, size) = carrying.iter().find(|(area, _)| within(drop_of(*area), share_v)).or(carrying.last())?;
    Some((*size, length))
}
