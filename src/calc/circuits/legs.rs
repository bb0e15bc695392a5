//! Legs: every conductor of the boat laid along its route, with its lengths and the company it keeps on the way.
//!
//! 1. A positive runs from its panel to the device, through a bilge pump's switch on the way, a constant positive from
//!    the bank; a return runs from the device to the bus of its panel. A sub-panel's feeder runs from the panel that feeds it, and the return of a bus to the bus
//!    that it leads to. Each has a route of its own.
//! 2. Installed length is the route, the rises at both ends and what the ends use up; service loops are added to it,
//!    and the waste of the basis on which each part was measured.
//! 3. The loaded conductors of a run are counted over all legs; the fullest run on a leg's route governs it.
//! 4. Circuits that are to be in a jacket are put into one, where their conductors go one way.

mod branches;
mod feeders;
mod jackets;
mod lengths;

pub use jackets::Cable;
pub use lengths::lengths;

use crate::circuits::bank_side::{BankSide, Before, alternator_banks, bank_sides, charging_routes};
use crate::circuits::charging::{Allotted, allot};
use crate::circuits::loads::Load;
use crate::circuits::main_protection::BankClass;
use crate::circuits::pump_switches::{PumpSwitch, pump_switches};
use crate::findings::Fault;
use crate::routes::{Route, Routes};
use crate::rules::drop::load_analysis_a;
use crate::rules::protection::CONTINUOUS_FACTOR;
use crate::shop::item::{Attributes, LoadColumn, Stud};
use crate::shop::settings::Settings;
use crate::spec::boat::{Boat, Panel};
use crate::spec::input::{LengthSource, NegativeColour};
use crate::take_off::{ConductorRole, LandsOn};
use crate::units::{Length, Name, WireSize};

/// Stud of a panel's or bus's branch positions where no item says otherwise (common practice).
const BRANCH_STUD: Stud = Stud::No8;
/// Stud of a panel's main positive and a bus's main (common practice).
const MAIN_STUD: Stud = Stud::Quarter;
/// Stud of a battery-mounted main fuse (common practice).
pub const FUSE_STUD: Stud = Stud::FiveSixteenths;
/// Stud of a battery post that takes ring lugs (common practice).
const BATTERY_STUD: Stud = Stud::ThreeEighths;
/// Screw of a fuse block (common practice).
const BLOCK_STUD: Stud = Stud::No8;

/// Stud of a battery post that takes ring lugs.
pub const fn battery_stud() -> Stud {
    BATTERY_STUD
}

/// What a leg belongs to: a load or a feeder, by its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Owner {
    /// A load's circuit.
    Circuit(usize),
    /// A panel's feeder.
    Feeder(usize),
    /// A bank's own cables.
    Bank(usize),
}

/// One end of a leg.
#[derive(Clone, Copy, Debug)]
pub struct LegEnd {
    /// Place of the station.
    pub station: usize,
    /// What it lands on.
    pub lands_on: LandsOn,
    /// Stud, where it lands on one.
    pub stud: Option<Stud>,
}

/// The lengths of a leg.
#[derive(Clone, Copy, Debug, Default)]
pub struct LegLengths {
    /// Rises at both ends.
    pub rises: Length,
    /// What both ends use up.
    pub ends: Length,
    /// Service loops at both ends.
    pub loops: Length,
    /// Route, rises and ends.
    pub installed: Length,
    /// All copper that carries the current: installed and loops.
    pub carrying: Length,
    /// Length to cut.
    pub cut: Length,
}

/// One conductor before it has a size.
#[derive(Clone, Debug)]
pub struct Leg {
    /// What it belongs to.
    pub owner: Owner,
    /// What it does.
    pub role: ConductorRole,
    /// Label of both its ends.
    pub label: Name,
    /// Insulation colour.
    pub colour: &'static str,
    /// Current it is sized for, amperes.
    pub current_a: f64,
    /// Its route, from the source's side to the load's.
    pub route: Route,
    /// End at the source's side.
    pub from: LegEnd,
    /// End at the load's side.
    pub to: LegEnd,
    /// Cables of the bank before it, whose drop counts in its own.
    pub before: Option<Before>,
    /// The leg that it continues behind a switch, by place in [`Laid::legs`]: both have one size, and the drop of that one
    /// counts in its own.
    pub continues: Option<usize>,
    /// The maker's lead that it meets: its copper carries the current too.
    pub maker_lead: Option<(WireSize, Length)>,
    /// Its lengths.
    pub lengths: LegLengths,
    /// Loaded conductors in the fullest run of its route; 1 when it goes through none.
    pub bundled: u32,
}

impl Leg {
    /// Whether all of its route was measured.
    pub fn length_source(&self) -> LengthSource {
        if self.route.estimated > Length::ZERO { LengthSource::Estimated } else { LengthSource::Measured }
    }
}

/// The legs of one circuit, by place in [`Laid::legs`].
#[derive(Clone, Debug, Default)]
pub struct CircuitLegs {
    /// One for each positive of the load, in its order.
    pub positives: Vec<usize>,
    /// The return.
    pub negative: usize,
    /// The return of the light in its switch, where that is not at its panel and bus.
    pub light: Option<usize>,
}

impl CircuitLegs {
    /// The leg that one of its positives continues behind a switch.
    pub fn switch_feed(&self, laid: &Laid) -> Option<usize> {
        self.positives.iter().find_map(|leg| laid.legs[*leg].continues)
    }
}

/// The legs and load analysis of one panel's feeder.
#[derive(Clone, Debug)]
pub struct FeederLegs {
    /// Place of the panel.
    pub panel: usize,
    /// Number on drawings and labels, `F1` and on.
    pub number: Name,
    /// Place of the feeder of the panel that feeds it in [`Laid::feeders`]; absent where the bank does.
    pub fed_from: Option<usize>,
    /// Positive, by place in [`Laid::legs`].
    pub positive: usize,
    /// Its own returns, from its bus towards the bank, by place in [`Laid::legs`]: those that the returns of the panel
    /// that feeds it do not go through. None where both have one bus.
    pub returns: Vec<usize>,
    /// The one of these that carries what the positive carries and nothing else, and so has its size.
    pub paired: Option<usize>,
    /// All returns from its bus to the bank, by place in [`Laid::legs`].
    pub all_returns: Vec<usize>,
    /// Current by load analysis of all that it feeds, sub-panels included, amperes.
    pub current_a: f64,
    /// Sum of the loads that may run at any time, amperes.
    pub always_a: f64,
    /// Sum of the occasional loads, amperes.
    pub occasional_a: f64,
    /// Largest occasional load, amperes.
    pub largest_occasional_a: f64,
}

impl FeederLegs {
    /// Least rating of the device that protects it, amperes: what may run for hours at 125 %, the occasional loads beside
    /// it, and no less than the largest device behind it.
    pub fn main_needs_a(&self, largest_branch_a: f64) -> f64 {
        let occasional = (self.occasional_a / 10.0).max(self.largest_occasional_a);
        (self.always_a * CONTINUOUS_FACTOR + occasional).max(largest_branch_a)
    }
}

/// Every conductor of the boat, laid.
#[derive(Clone, Debug, Default)]
pub struct Laid {
    /// All legs: circuits first, in order of number, then feeders.
    pub legs: Vec<Leg>,
    /// Of each load.
    pub circuits: Vec<CircuitLegs>,
    /// Of each panel that something hangs on, in order of panel.
    pub feeders: Vec<FeederLegs>,
    /// Loaded conductors of each run of the boat.
    pub loaded: Vec<u32>,
    /// Of each bank: what stands before its feeders.
    pub sides: Vec<BankSide>,
    /// Switches of bilge pumps, in order of the circuits.
    pub pump_switches: Vec<PumpSwitch>,
    /// Charger outputs and what they charge.
    pub allotted: Allotted,
    /// Banks that share the alternator, by place.
    pub alternator_banks: Vec<usize>,
    /// Circuits in a jacket, in order of number.
    pub cables: Vec<Cable>,
    /// Of each leg: the cable that it lies in, by place in `cables`; shorter where the rest are in none.
    pub in_cable: Vec<Option<usize>>,
    /// Loads that were to be in a jacket and cannot be, and why.
    pub kept_single: Vec<(usize, String)>,
}

impl Laid {
    /// The cable that a load's conductors lie in.
    pub fn cable_of(&self, load: usize) -> Option<&Cable> {
        let negative = self.circuits[load].negative;
        self.in_cable.get(negative).copied().flatten().map(|cable| &self.cables[cable])
    }
}

/// Lays every conductor of the boat.
///
/// # Errors
/// A fault for each load, panel or bus that no runs join to where its conductors must go.
pub fn lay(boat: &Boat, loads: &[Load], classes: &[BankClass], settings: &Settings) -> Result<Laid, Vec<Fault>> {
    let mut routes = Routes::new(boat.stations.len(), &boat.runs);
    let mut faults = Vec::new();
    let allotted = allot(boat);
    let alternator_banks = alternator_banks(boat, loads, &mut faults);
    let charging = charging_routes(boat, &allotted, &alternator_banks, &mut routes, &mut faults);
    let charged = (&allotted, &*alternator_banks);
    let sides = bank_sides(boat, loads, charged, classes, settings, &mut routes, &mut faults);
    let pump_switches = pump_switches(boat, loads, &mut routes);
    let laid = Laid {
        // Most loads have a positive and a return, and some a second positive.
        legs: Vec::with_capacity(3 * loads.len() + 2 * boat.panels.len()),
        circuits: Vec::with_capacity(loads.len()),
        sides,
        pump_switches,
        allotted,
        alternator_banks,
        ..Laid::default()
    };
    let mut laying = Laying { boat, settings, classes, routes, laid, faults };
    for (place, load) in loads.iter().enumerate() {
        laying.circuit(place, load);
    }
    laying.feeders(loads);
    if !laying.faults.is_empty() {
        laying.faults.sort();
        laying.faults.dedup();
        return Err(laying.faults);
    }
    let mut laid = laying.laid;
    jackets::jacket(&mut laid, boat, loads, settings);
    let mut loaded = vec![0u32; boat.runs.len()];
    let routes = laid.legs.iter().map(|leg| &leg.route);
    for route in routes.chain(laid.sides.iter().filter_map(|side| side.to_switch.as_ref())).chain(&charging) {
        for &run in &route.runs {
            loaded[run] += 1;
        }
    }
    for leg in &mut laid.legs {
        leg.bundled = leg.route.runs.iter().map(|&run| loaded[run]).max().unwrap_or(1);
    }
    for cable in &laid.cables {
        for &leg in &cable.legs {
            let bundled = &mut laid.legs[leg].bundled;
            *bundled = (*bundled).max(cable.legs.len() as u32);
        }
    }
    laid.loaded = loaded;
    Ok(laid)
}

struct Laying<'a> {
    boat: &'a Boat,
    settings: &'a Settings,
    classes: &'a [BankClass],
    routes: Routes<'a>,
    laid: Laid,
    faults: Vec<Fault>,
}

impl Laying<'_> {
    /// The route from a source's station to another, or a fault at the place that asked for it.
    fn joined(&mut self, from: usize, to: usize, pointer: &str) -> Option<Route> {
        let route = self.routes.route(from, to);
        if route.is_none() {
            let (from, to) = (&self.boat.stations[from].id, &self.boat.stations[to].id);
            self.faults.push(Fault::new(
                pointer,
                format!(
                    "no run leads from '{from}' to '{to}': add the runs that cable takes between them to /boat/runs{}",
                    if self.boat.hull.is_none() {
                        ", or state hull_form, hull_length and beam for an estimate"
                    } else {
                        ""
                    }
                ),
            ));
        }
        route
    }

    fn leg(&mut self, mut leg: Leg) {
        leg.lengths = lengths(&leg, self.boat, self.settings);
        self.laid.legs.push(leg);
    }
}

/// Stud of a panel's positions.
fn panel_stud(panel: &Panel) -> Stud {
    match panel.item.as_deref().map(|item| &item.attributes) {
        Some(Attributes::Panel { stud, .. }) => *stud,
        _ => BRANCH_STUD,
    }
}

fn labelled(number: &Name, sign: &str, nth: u32) -> Name {
    if nth == 1 { joined_name(&[number.as_str(), sign]) } else { Name::from(format!("{number}{sign}{nth}")) }
}

fn joined_name(parts: &[&str]) -> Name {
    Name::from(parts.concat())
}

/// The colour of the boat's DC negative.
pub fn negative_colour(boat: &Boat) -> &'static str {
    match boat.negative_colour {
        NegativeColour::Black => "black",
        NegativeColour::Yellow => "yellow",
    }
}

/// Load analysis over loads: current, always, occasional, largest occasional.
pub fn analyse<'a>(loads: impl Iterator<Item = &'a Load>) -> (f64, f64, f64, f64) {
    let (mut always, mut occasional) = (Vec::new(), Vec::new());
    for load in loads {
        match load.load_column {
            LoadColumn::Always => always.push(load.negative.current_a),
            LoadColumn::Occasional => occasional.push(load.negative.current_a),
        }
    }
    load_analysis_a(&always, &occasional)
}
