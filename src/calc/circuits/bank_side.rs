//! The bank's side of the feeders: what stands between a battery post and the first feeder, decided before anything is
//! laid, since feeders start where it ends and its copper counts in their drop.
//!
//! 1. The main protection is at the post, before the switch. A bank with one feeder has that feeder's fuse as its main;
//!    a bank with several has a main of its own, and each feeder its fuse on a feed bus behind the switch.
//! 2. Cable from post to main fuse to switch to feed bus is sized for all that the bank feeds, by load analysis; it takes
//!    a tenth of the feeder limit at most, and each feeder counts its drop (common practice).
//! 3. More terminals on a negative post than a stud takes ask for a bus there. Its cable and the jumpers between the
//!    batteries count in the returns, through which all of the bank's circuits go.
//! 4. An always-on circuit counts the link and the cable of the always-on side before it.

mod before;

pub use before::{Before, jumpers_counted, switch_cable};

use before::{always_on_before, before, settle_negative};

use crate::circuits::charging::Allotted;
use crate::circuits::legs::{FUSE_STUD, LegEnd, analyse, battery_stud};
use crate::circuits::loads::{DeviceLead, Load};
use crate::circuits::main_protection::{BankClass, always_on_family};
use crate::circuits::through::{Through, through};
use crate::findings::Fault;
use crate::routes::{Route, Routes};
use crate::rules::power::{LINK_IN, TERMINALS_ON_STUD_MAX};
use crate::rules::protection::CONTINUOUS_FACTOR;
use crate::shop::item::{Attributes, Function, FuseFamily, LeadRole, Stud};
use crate::shop::settings::Settings;
use crate::spec::boat::{Boat, SwitchProvision};
use crate::take_off::LandsOn;
use crate::units::Length;

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
    /// What else may flow at its posts.
    pub through: Through,
    /// Where its feeders start.
    pub start: LegEnd,
    /// The bank's end of its feeders' returns.
    pub negative: LegEnd,
    /// Route from the bank to its switch; absent without one.
    pub to_switch: Option<Route>,
    /// The cables before the feeders; absent where there are none.
    pub before: Option<Before>,
    /// The cable between its negative post and the bus there, and the jumpers between its batteries.
    pub negative_before: Option<Before>,
    /// What its always-on circuits have before them, as one cable.
    pub always_on_before: Option<Before>,
    /// Whether its feeders have their fuses on a feed bus behind the switch.
    pub feed_bus: bool,
    /// Returns and other cables that end at its negative post or bus.
    pub negative_terminals: usize,
    /// Whether its always-on fuses are in a block.
    pub fuse_block: bool,
    /// Whether what would crowd its positive post stands on a bus there.
    pub positive_bus: bool,
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
    (allotted, alternator_banks): (&Allotted, &[usize]),
    classes: &[BankClass],
    settings: &Settings,
    routes: &mut Routes,
    faults: &mut Vec<Fault>,
) -> Vec<BankSide> {
    let joined: Vec<usize> = (0..boat.banks.len()).filter(|bank| !bow_bank(boat, loads, *bank)).collect();
    // Cables to the bank before and to the one after.
    let neighbours = |banks: &[usize], bank: usize| banks.windows(2).filter(|pair| pair.contains(&bank)).count();
    (0..boat.banks.len())
        .map(|bank| {
            let outputs = || allotted.outputs.iter().filter(move |output| output.task.bank == bank);
            let series = boat.banks[bank].series;
            let on_positive = outputs().filter(|o| series == 1 || [0, series].contains(&o.task.battery)).count();
            // Strings in parallel have a link on either post.
            let link = usize::from(boat.banks[bank].of_one.is_some() && boat.banks[bank].parallel > 1);
            let crowd = on_positive + neighbours(alternator_banks, bank) + link;
            let mut side = side(boat, bank, loads, crowd, &classes[bank], settings, routes, faults);
            // Beside the feeders' returns: charger returns, a case's ground, joined negatives, the engine's own cable.
            let outputs = outputs().filter(|o| o.task.battery <= 1).count();
            let engine = usize::from(boat.banks[bank].starts_engine);
            let chargers = 0..boat.equipment.len();
            let grounds =
                chargers.filter(|charger| grounds_case(boat, loads, allotted, *charger) == Some(bank)).count();
            side.negative_terminals += outputs + grounds + neighbours(&joined, bank) + engine + link;
            side.through = through(boat, bank, allotted, alternator_banks);
            settle_negative(&mut side, boat, bank, &classes[bank], settings);
            side.always_on_before = always_on_before(boat, bank, loads, &side, &classes[bank], settings);
            side
        })
        .collect()
}

/// Whether a bank feeds a bow motor: nothing else is tapped from it, and its negative stays apart.
pub fn bow_bank(boat: &Boat, loads: &[Load], bank: usize) -> bool {
    loads.iter().any(|load| load.function == Function::BowMotor && boat.panels[load.panel].bank == bank)
}

/// The bank whose negative grounds the case of a charger: the first that it charges and that feeds no bow motor. `None`
/// where there is none, and where the case needs no ground.
pub fn grounds_case(boat: &Boat, loads: &[Load], allotted: &Allotted, charger: usize) -> Option<usize> {
    let Attributes::Charger { case_ground: true, .. } = boat.equipment[charger].item.attributes else { return None };
    boat.equipment[charger].station?;
    let charged = allotted.outputs.iter().filter(|output| output.charger == charger).map(|output| output.task.bank);
    charged.filter(|bank| !bow_bank(boat, loads, *bank)).min()
}

/// The banks that share the alternator: those that the spec names, else all of 12 V without a bow motor. `faults` gets one
/// for each bow motor's bank that the spec names, since a combiner would join its negative.
pub fn alternator_banks(boat: &Boat, loads: &[Load], faults: &mut Vec<Fault>) -> Vec<usize> {
    if boat.alternator_a.is_none() {
        return Vec::new();
    }
    let named = boat.alternator_banks.iter().flatten();
    for bank in named.filter(|bank| bow_bank(boat, loads, **bank)) {
        let message = format!(
            "the bank '{}' feeds a bow motor and stays apart from the others: leave it out, and give it a charger of its own",
            boat.banks[*bank].id
        );
        faults.push(Fault::new("/power/alternator_banks", message));
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

/// `crowd` is what lands on the positive post beside mains and always-on fuses.
#[expect(clippy::too_many_arguments, reason = "one bank out of everything that lays banks")]
fn side(
    boat: &Boat,
    place: usize,
    loads: &[Load],
    crowd: usize,
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
    let has_switch = bank.switch.provision != SwitchProvision::None && (!panels.is_empty() || bank.starts_engine);
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
        through: Through::default(),
        start,
        negative: LegEnd { station: bank.station, lands_on, stud: Some(battery_stud()) },
        to_switch,
        before: None,
        negative_before: None,
        always_on_before: None,
        feed_bus,
        negative_terminals,
        fuse_block: false,
        positive_bus: false,
    };
    let blades = always_on_blades(boat, place, loads, class, settings).count();
    side.fuse_block = blades >= TERMINALS_ON_STUD_MAX;
    let mains = if has_switch { side.panels.len().min(1) } else { side.panels.len() };
    let always_on = usize::from(blades > 0) + always_on_leads(boat, place, loads).count() - blades;
    let cranking = usize::from(bank.starts_engine);
    side.positive_bus = mains + always_on + cranking + crowd > TERMINALS_ON_STUD_MAX;
    let needs = (current_a, load.needs_a());
    let ends = settings.battery_termination_allowance.length().unwrap_or_default() * 2;
    if side.panels.is_empty() {
        return side;
    }
    if let Some(route) = side.to_switch.clone() {
        // To the main; with a bus at the post to that, and to the main before it.
        let link = Length::inches(LINK_IN) * if side.positive_bus { 3 } else { 1 };
        let bus_link = if side.feed_bus { ends } else { Length::ZERO };
        let length = link + switch_cable(boat, place, &route, settings) + bus_link;
        side.before = before(boat, place, needs, (route.engine_space, length), class, settings);
    } else if side.panels.len() == 1 {
        side.before = side.post_before(boat, place, needs, Length::ZERO, class, settings);
    }
    side
}

/// Positive leads of a bank's devices that stay live with the switch off.
fn always_on_leads<'a>(
    boat: &'a Boat,
    bank: usize,
    loads: &'a [Load],
) -> impl Iterator<Item = (&'a Load, &'a DeviceLead)> {
    let here = loads.iter().filter(move |load| boat.panels[load.panel].bank == bank);
    let leads = here.flat_map(|load| load.positives.iter().map(move |lead| (load, lead)));
    leads.filter(|(_, lead)| lead.role == LeadRole::ConstantPositive)
}

/// Always-on leads of a bank whose fuse is a blade: each would put a holder's lead on the always-on main's stud.
fn always_on_blades<'a>(
    boat: &'a Boat,
    bank: usize,
    loads: &'a [Load],
    class: &'a BankClass,
    settings: &'a Settings,
) -> impl Iterator<Item = &'a DeviceLead> {
    always_on_leads(boat, bank, loads)
        .filter(|(load, lead)| {
            let needs_a = load.fuse_needs_a(lead.current_a);
            always_on_family(class, needs_a, settings).is_none_or(|fuse| fuse == FuseFamily::Blade)
        })
        .map(|(_, lead)| lead)
}
