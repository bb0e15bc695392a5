//! The checked boat: every reference resolved to a place in a list, every length exact, everything in canonical order.

use std::sync::Arc;

use crate::shop::item::{BranchProtection, Chemistry, Function, Item, LabourUse, NetworkClass, Wiring};
use crate::spec::answers::AnswerInput;
use crate::spec::dash_input::{DashFaceInput, DashPointInput};
use crate::spec::input::{
    Access, ExtraLineInput, HullForm, JobType, Known, LengthSource, NegativeColour, OverruleInput, Propulsion,
};
pub use crate::spec::power_input::SwitchProvision;
use crate::units::{Length, Name};

/// A place within the hull.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Position {
    /// From the transom, towards the bow.
    pub x: Length,
    /// From the centre line, starboard positive.
    pub y: Length,
    /// Above the inside of the bottom.
    pub z: Length,
}

/// The hull that a layout is laid out over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hull {
    /// Its form.
    pub form: HullForm,
    /// Its length, without bracket or motor.
    pub length: Length,
    /// Its beam.
    pub beam: Length,
    /// Its depth amidships.
    pub depth: Length,
    /// Whether that depth was stated, and not taken from the beam.
    pub depth_stated: bool,
}

/// How the length of a run of the layout is estimated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Estimate {
    /// From the sizes of the hull.
    Sizes {
        /// Share of hull length.
        of_length: f64,
        /// Share of the beam.
        of_beam: f64,
        /// Share of the depth.
        of_depth: f64,
        /// What does not depend on the hull's size.
        more: Length,
    },
    /// Along the three axes between two stations, one of which the spec has moved.
    Way {
        /// Apart along the hull.
        dx: Length,
        /// Apart across it.
        dy: Length,
        /// Apart in height.
        dz: Length,
        /// Bulkheads and deck turns.
        turns: u8,
    },
}

/// A station.
#[derive(Clone, Debug)]
pub struct Station {
    /// Identifier.
    pub id: Name,
    /// As printed.
    pub name: String,
    /// Whether petrol vapour can be here.
    pub petrol_vapour: Known,
    /// From the runs' end to where things are mounted.
    pub rise: Length,
    /// Where it is, when that is known.
    pub position: Option<Position>,
}

/// What is in a tube before this job.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct InTube {
    /// Cables.
    pub cables: u32,
    /// Sum of the squares of their diameters, square inches.
    pub squares_in2: f64,
}

/// A run between two stations, given by their places in [`Boat::stations`].
#[derive(Clone, Debug)]
pub struct Run {
    /// One end.
    pub a: usize,
    /// The other end.
    pub b: usize,
    /// Length along the cable's path.
    pub length: Length,
    /// Whether it was measured.
    pub source: LengthSource,
    /// How cable gets through.
    pub access: Access,
    /// Whether it passes through an engine space.
    pub engine_space: bool,
    /// Inside diameter of the tube, when known.
    pub inside_diameter: Option<Length>,
    /// What is in the tube already.
    pub already: InTube,
    /// Bulkheads that it passes.
    pub bulkheads: u8,
    /// How its length was estimated, for a run of the layout; `None` for one that the spec states.
    pub estimate: Option<Estimate>,
}

/// A battery bank.
#[derive(Clone, Debug)]
pub struct Bank {
    /// Identifier.
    pub id: Name,
    /// Place of its station.
    pub station: usize,
    /// Nominal voltage.
    pub nominal_voltage_v: f64,
    /// Capacity, ampere-hours.
    pub capacity_ah: Option<f64>,
    /// Cold-cranking amperes of the whole bank.
    pub cold_cranking_a: Option<f64>,
    /// Its battery switch.
    pub switch: BankSwitch,
    /// Its batteries, where the job supplies them.
    pub batteries: Vec<(Arc<Item>, u16)>,
    /// Batteries in series: as named, else as many of 12 V as make its voltage.
    pub series: u16,
    /// Strings in parallel; 1 where nobody has said.
    pub parallel: u16,
    /// Least capacity and largest cold-cranking rating of one battery, where batteries are named.
    pub of_one: Option<(f64, Option<f64>)>,
    /// What is in them.
    pub chemistry: Option<Chemistry>,
    /// Charging current that the maker of one battery asks for, amperes.
    pub maker_charge_a: Option<f64>,
    /// Whether it starts the engine.
    pub starts_engine: bool,
}

/// How long something runs in a day, as the spec says.
#[derive(Clone, Debug)]
pub struct DailyUse {
    /// Key of one piece of equipment, or its beginning where an entry has several.
    pub equipment: Option<Name>,
    /// All of a function.
    pub function: Option<Function>,
    /// Hours.
    pub hours: f64,
}

/// The battery switch of a bank.
#[derive(Clone, Debug)]
pub struct BankSwitch {
    /// How it comes to the boat.
    pub provision: SwitchProvision,
    /// Place of its station.
    pub station: usize,
    /// The item, where one is named.
    pub item: Option<Arc<Item>>,
    /// Whether that item stands among the equipment, and is counted there.
    pub in_equipment: bool,
}

/// A negative bus.
#[derive(Clone, Debug)]
pub struct Bus {
    /// Identifier; a bus that was not in the spec is named after its panel.
    pub id: Name,
    /// Place of its station.
    pub station: usize,
    /// Place of the bank whose negative it joins.
    pub bank: usize,
    /// Place of the bus that it leads to; absent where it leads to the bank's negative itself.
    pub leads_to: Option<usize>,
    /// Item, when the quote supplies it.
    pub item: Option<Arc<Item>>,
}

/// A panel.
#[derive(Clone, Debug)]
pub struct Panel {
    /// Identifier.
    pub id: Name,
    /// Place of its station.
    pub station: usize,
    /// Place of the bank at its root.
    pub bank: usize,
    /// Place of the panel that feeds it; absent where the bank does.
    pub fed_from: Option<usize>,
    /// Place of its bus in [`Boat::buses`].
    pub bus: usize,
    /// What protects its branches.
    pub protection: BranchProtection,
    /// Highest voltage it is built for, when known.
    pub voltage_rating_v: Option<f64>,
    /// Item, when the quote supplies it.
    pub item: Option<Arc<Item>>,
}

/// How a pump is plumbed, as the spec says.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct PumpPlumbing {
    /// Place of the station that it discharges at.
    pub discharge: Option<usize>,
    /// Name of the intake that it shares.
    pub intake: Option<Name>,
    /// Whether through-hull and seacock are aboard.
    pub existing_through_hull: bool,
    /// Whether all of its plumbing is aboard.
    pub aboard: bool,
}

/// One piece of equipment: entries with a quantity are spread out, one value each.
#[derive(Clone, Debug)]
pub struct Equipment {
    /// Key that stays the same while the spec's entry stands: its id, with `/2`, `/3` … for further pieces.
    pub key: Name,
    /// The item.
    pub item: Arc<Item>,
    /// Place of its station; always there for a device.
    pub station: Option<usize>,
    /// Place of its panel; always there for a device.
    pub panel: Option<usize>,
    /// How it is wired, where the spec says so.
    pub wiring: Option<Wiring>,
    /// How it is plumbed, where the spec says so.
    pub plumbing: Option<PumpPlumbing>,
    /// Place of the station that its supplied cables lead to, where the spec says so.
    pub cables_to: Option<usize>,
    /// Whether the customer brings it.
    pub customer_supplied: bool,
    /// Whether the network's plan put it there: it is no item of the catalogue, but wired like one.
    pub planned: bool,
    /// Where it stands in the spec, as a JSON pointer.
    pub pointer: String,
}

/// Work for the whole job, where the spec says it.
#[derive(Clone, Copy, Debug, Default)]
pub struct WholeJobWork {
    /// Old circuits to strip out.
    pub old_circuits: Option<u16>,
    /// Hauls and launches together.
    pub hauls_and_launches: Option<u16>,
    /// Whether a sea trial is made.
    pub sea_trial: Option<bool>,
}

/// A dash.
#[derive(Clone, Debug)]
pub struct Dash {
    /// Identifier.
    pub id: Name,
    /// Place of its station.
    pub station: usize,
    /// Its face; checked.
    pub face: DashFaceInput,
    /// Keys of what goes into it, and where a person wants each; absent where it holds what is at its station.
    pub parts: Option<Vec<(Name, Option<DashPointInput>)>>,
}

/// What spec and packages ask of the data network.
#[derive(Clone, Debug, Default)]
pub struct NetworkAsked {
    /// Whether the spec asks for one, however many devices there are.
    pub asked: bool,
    /// Class of its backbone, where the spec says so.
    pub cable: Option<NetworkClass>,
    /// Place of the station of its power tap, where the spec says so.
    pub power_station: Option<usize>,
    /// Place of the panel that feeds it, where the spec says so.
    pub panel: Option<usize>,
    /// Place of the station of an engine gateway that is still to be matched.
    pub gateway: Option<usize>,
}

/// A checked boat spec.
#[derive(Clone, Debug)]
pub struct Boat {
    /// Name of the boat or job.
    pub name: String,
    /// Kind of job.
    pub job_type: JobType,
    /// The hull, when form, length and beam are known: its layout is part of stations and runs.
    pub hull: Option<Hull>,
    /// Whether bank and panel were assumed, since the spec states none.
    pub power_assumed: bool,
    /// What drives it.
    pub propulsion: Propulsion,
    /// Colour of DC negative.
    pub negative_colour: NegativeColour,
    /// Stations by id.
    pub stations: Vec<Station>,
    /// Runs, in order of their stations' places.
    pub runs: Vec<Run>,
    /// Banks by id.
    pub banks: Vec<Bank>,
    /// Buses by id.
    pub buses: Vec<Bus>,
    /// Panels by id.
    pub panels: Vec<Panel>,
    /// Rating of the engine's alternator, amperes.
    pub alternator_a: Option<f64>,
    /// Banks that share it where the spec names them, by place.
    pub alternator_banks: Option<Vec<usize>>,
    /// Days of use between charges.
    pub days_between_charges: f64,
    /// Hours that the spec states.
    pub daily_use: Vec<DailyUse>,
    /// Whether hull and deck have a core where they are drilled.
    pub cored: Known,
    /// Metal under water.
    pub underwater_metal: Vec<String>,
    /// Work for the whole job, as the spec says it.
    pub work: WholeJobWork,
    /// Equipment in canonical order.
    pub equipment: Vec<Equipment>,
    /// Dashes by id.
    pub dashes: Vec<Dash>,
    /// What is asked of its data network.
    pub network: NetworkAsked,
    /// Labour that packages and the spec state, by operation, summed.
    pub labour: Vec<LabourUse>,
    /// A person's choices, as sent.
    pub overrules: Vec<OverruleInput>,
    /// Answers to questions, as sent.
    pub answers: Vec<AnswerInput>,
    /// A person's lines, as sent.
    pub extra_lines: Vec<ExtraLineInput>,
    /// Gaps that reading the spec found: a retired item, for one.
    pub gaps: Vec<crate::findings::Gap>,
}

impl Boat {
    /// A panel and those that feed it, from it towards its bank.
    pub fn feeding(&self, panel: usize) -> impl Iterator<Item = usize> {
        std::iter::successors(Some(panel), |panel| self.panels[*panel].fed_from)
    }

    /// A bus and those that it leads through, from it towards its bank.
    pub fn led_through(&self, bus: usize) -> impl Iterator<Item = usize> {
        std::iter::successors(Some(bus), |bus| self.buses[*bus].leads_to)
    }
}
