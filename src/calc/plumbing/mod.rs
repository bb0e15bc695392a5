//! The plumbing of raw-water pumps: where each draws from, the hoses that lead to it and from it, and what they take.
//!
//! 1. A pump that draws from the sea has an intake: through-hull and seacock, a strainer behind it, and where several pumps
//!    share it, a manifold. It stands where the first of its pumps does (common practice).
//! 2. Hose leads from one thing to the next, along the route that cable takes and never shorter than the shop's stretch.
//! 3. All hose on the sea's side of a pump is reinforced and below the waterline, and so is the pump.
//! 4. A discharge leads to the station that the spec names, else to the nearest that is usual for its kind; where there is
//!    none, the shop's length is taken and asked about.
//! 5. What is aboard is not counted. Every new hole has its core sealed, unless hull and deck are known to have none.

mod hoses;

use std::collections::BTreeMap;

use rust_decimal::Decimal;

use crate::basis::{Ledger, Value};
use crate::findings::{Caution, Question};
use crate::gathering::{FitOut, Part};
use crate::requirements::Piece;
use crate::routes::Routes;
use crate::rules::plumbing::{Discharge, Usual, pipe_for, pump_of, usual};
use crate::rules::table::plumbing as table;
use crate::shop::item::{Consumable, Fitting, PumpKind};
use crate::shop::labour::Driver;
use crate::shop::settings::Settings;
use crate::spec::boat::{Boat, PumpPlumbing};
use crate::spec::input::Known;
use crate::take_off::{Holes, Intake, PlumbedPump, Plumbing};
use crate::units::{Length, LengthUnit, LengthValue, Name, rounded};
use hoses::{End, Wanted};

/// Stations where a kind of discharge usually is, by the end of their name (common practice).
const SIDES: [&str; 1] = ["quarter"];
const WELLS: [&str; 3] = ["live_well", "bait_well", "well"];
const DECKS: [&str; 3] = ["quarter", "gunwale", "cockpit"];

const AFLOAT: Caution = Caution {
    id: "below_waterline",
    text: "Holes below the waterline are made with the boat ashore and her batteries disconnected. When she is launched every \
           new fitting is looked at before the slings are let go, and again after an hour afloat.",
    source: "common practice",
};

/// What the plumbing comes to.
#[derive(Default)]
pub struct PlumbingSide {
    /// As the take-off shows it; absent where no pump is plumbed.
    pub plumbing: Option<Plumbing>,
    /// What it is made of: what, how many, and who needs it.
    pub parts: Vec<(Part, u32, Name)>,
    /// Hoses to cut.
    pub pieces: Vec<(Part, Piece, Name)>,
    /// What labour counts of it.
    pub counts: Vec<(Driver, Decimal)>,
    /// What to ask.
    pub questions: Vec<Question>,
    /// What can hurt someone.
    pub cautions: Vec<Caution>,
}

/// A pump that is plumbed.
struct Pump<'a> {
    key: &'a Name,
    kind: PumpKind,
    usual: &'static Usual,
    station: usize,
    spec: &'a PumpPlumbing,
    inlet: Option<Length>,
    outlet: Length,
    pipe_thread: Option<Length>,
    on_seacock: bool,
    told: PlumbedPump,
}

struct Plumber<'a, 'l> {
    boat: &'a Boat,
    settings: &'a Settings,
    ledger: &'l mut Ledger,
    routes: Routes<'a>,
    out: PlumbingSide,
    hoses: Vec<crate::take_off::HosePiece>,
    feet: Length,
}

static UNSAID: PumpPlumbing =
    PumpPlumbing { discharge: None, intake: None, existing_through_hull: false, aboard: false };

/// Plumbs every raw-water pump of a boat.
pub fn plumb(boat: &Boat, settings: &Settings, ledger: &mut Ledger) -> PlumbingSide {
    let routes = Routes::new(boat.stations.len(), &boat.runs);
    let out = PlumbingSide::default();
    let mut plumber = Plumber { boat, settings, ledger, routes, out, hoses: Vec::new(), feet: Length::ZERO };
    let pumps = plumber.pumps();
    if pumps.is_empty() {
        return plumber.out;
    }
    let intakes = plumber.intakes(&pumps);
    let told = pumps.iter().map(|pump| plumber.discharge(pump)).collect();
    let holes = plumber.holes(&pumps, &intakes);
    let hoses = std::mem::take(&mut plumber.hoses);
    plumber.labour(&pumps, &intakes, &holes, &hoses);
    if holes.below_waterline > 0 {
        plumber.out.cautions.push(AFLOAT);
    }
    plumber.out.plumbing = Some(Plumbing { pumps: told, intakes, hoses, holes });
    plumber.out
}

/// Diameters of hose and pipe are traded in inches.
fn inches(length: Length) -> LengthValue {
    LengthValue { value: rounded(length.inch(), 3), unit: LengthUnit::In }
}

fn exact(value: LengthValue) -> Length {
    value.length().unwrap_or_default()
}

impl<'a> Plumber<'a, '_> {
    fn pumps(&mut self) -> Vec<Pump<'a>> {
        let mut pumps = Vec::new();
        for piece in &self.boat.equipment {
            let spec = piece.plumbing.as_ref().unwrap_or(&UNSAID);
            let Some((kind, stated)) = pump_of(&piece.item.attributes).filter(|_| !spec.aboard) else { continue };
            let Some(station) = piece.station else { continue };
            let usual = usual(kind);
            let bore = |length: Option<LengthValue>| length.and_then(LengthValue::length);
            let inlet = usual.sea.then(|| bore(stated.inlet).or(usual.inlet)).flatten();
            let outlet = bore(stated.outlet).unwrap_or(usual.outlet);
            let inlet_basis = inlet.map(|inlet| self.bore(kind, "inlet", bore(stated.inlet), inlet));
            let outlet_basis = self.bore(kind, "outlet", bore(stated.outlet), outlet);
            pumps.push(Pump {
                key: &piece.key,
                kind,
                usual,
                station,
                spec,
                inlet,
                outlet,
                pipe_thread: bore(stated.pipe_thread),
                on_seacock: stated.on_seacock,
                told: PlumbedPump {
                    pump: piece.key.clone(),
                    pump_kind: kind,
                    station: self.boat.stations[station].id.clone(),
                    intake: inlet.map(|_| spec.intake.clone().unwrap_or_else(|| piece.key.clone())),
                    inlet: inlet.map(inches),
                    inlet_basis,
                    outlet: inches(outlet),
                    outlet_basis,
                    discharge: usual.discharge.word(),
                    discharge_station: None,
                },
            });
        }
        pumps
    }

    fn bore(
        &mut self,
        kind: PumpKind,
        port: &'static str,
        stated: Option<Length>,
        bore: Length,
    ) -> crate::basis::BasisRef {
        let which = [("pump_kind", Value::Text(kind.word())), ("port", Value::Text(port))];
        match stated {
            Some(stated) => {
                let inputs = [which[0], which[1], ("stated_in", Value::Number(stated.inch()))];
                self.ledger.note(&table::BORE, &inputs, bore.inch())
            }
            None => self.ledger.note(&table::BORE, &which, bore.inch()),
        }
    }

    fn fitting(&mut self, fitting: Fitting, size: Length, owner: &Name) {
        self.out.parts.push((Part::FitOut(FitOut::fitting(fitting, size)), 1, owner.clone()));
    }

    /// The adapters between a pump's threaded port and its hose.
    fn adapter(&mut self, pump: &Pump, hose: Length) {
        if let Some(pipe_thread) = pump.pipe_thread {
            let adapter = FitOut::Fitting {
                fitting: Fitting::HoseAdapter,
                size: hose,
                pipe_thread: Some(pipe_thread),
                ways: None,
            };
            self.out.parts.push((Part::FitOut(adapter), 1, pump.key.clone()));
        }
    }

    /// Every intake, with all that stands between the sea and its pumps.
    fn intakes(&mut self, pumps: &[Pump<'a>]) -> Vec<Intake> {
        let mut by_name: BTreeMap<&Name, Vec<&Pump<'a>>> = BTreeMap::new();
        for pump in pumps.iter().filter(|pump| pump.inlet.is_some()) {
            by_name.entry(pump.spec.intake.as_ref().unwrap_or(pump.key)).or_default().push(pump);
        }
        by_name.into_iter().map(|(name, pumps)| self.intake(name, &pumps)).collect()
    }

    fn intake(&mut self, name: &Name, pumps: &[&Pump<'a>]) -> Intake {
        let station = pumps[0].station;
        let squares_in2: f64 = pumps.iter().filter_map(|pump| pump.inlet).map(|bore| bore.inch().powi(2)).sum();
        let pipe_in = pipe_for(squares_in2);
        let basis = self.ledger.note(&table::INTAKE, &[("squares_in2", Value::Number(squares_in2))], pipe_in);
        let pipe = Length::inches(pipe_in);
        let aboard = pumps.iter().any(|pump| pump.spec.existing_through_hull);
        if !aboard {
            self.fitting(Fitting::ThroughHull, pipe, name);
            self.fitting(Fitting::Seacock, pipe, name);
        }
        let strainer = pumps.iter().any(|pump| pump.usual.strainer && !pump.on_seacock);
        let ways = u16::try_from(pumps.len()).ok().filter(|ways| *ways > 1);
        // What a single pump draws through is as wide as its inlet.
        let trunk = match pumps {
            [only] => only.inlet.unwrap_or(pipe),
            _ => pipe,
        };
        let below = |station, on| End { station: Some(station), on, below_waterline: true };
        let mut at = below(station, "seacock");
        let next = [(strainer, Fitting::Strainer, "strainer"), (ways.is_some(), Fitting::Manifold, "manifold")];
        for (_, fitting, word) in next.into_iter().filter(|(there, ..)| *there) {
            let ways = ways.filter(|_| fitting == Fitting::Manifold);
            let part = FitOut::Fitting { fitting, size: trunk, pipe_thread: None, ways };
            self.out.parts.push((Part::FitOut(part), 1, name.clone()));
            let to = below(station, word);
            self.hose(Wanted { owner: name, bore: trunk, reinforced: true, from: at, to, fixed: None, lift: false });
            at = to;
        }
        for pump in pumps {
            let Some(bore) = pump.inlet.filter(|_| !(pump.on_seacock && pumps.len() == 1)) else { continue };
            let to = below(pump.station, "pump");
            self.hose(Wanted { owner: pump.key, bore, reinforced: true, from: at, to, fixed: None, lift: false });
            self.adapter(pump, bore);
        }
        Intake {
            intake: name.clone(),
            station: self.boat.stations[station].id.clone(),
            pipe: inches(pipe),
            basis,
            aboard,
            strainer,
            manifold_ways: ways,
            pumps: pumps.iter().map(|pump| pump.key.clone()).collect(),
        }
    }

    /// A pump's discharge; the pump as the take-off shows it.
    fn discharge(&mut self, pump: &Pump<'a>) -> PlumbedPump {
        let (fitting, on, names): (_, _, &[&str]) = match pump.usual.discharge {
            Discharge::Overboard => (Fitting::Discharge, "discharge", &SIDES),
            Discharge::Well => (Fitting::WellInlet, "well_inlet", &WELLS),
            Discharge::Deck => (Fitting::DeckOutlet, "deck_outlet", &DECKS),
        };
        let station = pump.spec.discharge.or_else(|| self.nearest(pump.station, names));
        let reachable = station.filter(|station| self.routes.route(pump.station, *station).is_some());
        if reachable.is_none() {
            let text = format!(
                "Where does '{}' discharge, and how far is that from the pump? {} of hose are reckoned with",
                pump.key, self.settings.plumbing.unknown_discharge
            );
            self.out.questions.push(Question {
                id: "plumbing_discharge_unstated",
                about: Some(pump.key.clone()),
                text,
            });
        }
        let fixed = reachable.is_none().then(|| exact(self.settings.plumbing.unknown_discharge));
        self.fitting(fitting, pump.outlet, pump.key);
        self.adapter(pump, pump.outlet);
        let from = End { station: Some(pump.station), on: "pump", below_waterline: true };
        let to = End { station: reachable, on, below_waterline: false };
        let lift = pump.usual.discharge == Discharge::Overboard;
        self.hose(Wanted { owner: pump.key, bore: pump.outlet, reinforced: false, from, to, fixed, lift });
        let discharge_station = reachable.map(|station| self.boat.stations[station].id.clone());
        PlumbedPump { discharge_station, ..pump.told.clone() }
    }

    /// The station nearest by route whose name ends with one of these; of two as near the first by name.
    fn nearest(&mut self, from: usize, names: &[&str]) -> Option<usize> {
        let boat = self.boat;
        let named = (0..boat.stations.len())
            .filter(|place| names.iter().any(|name| boat.stations[*place].id.as_str().ends_with(name)));
        named.filter_map(|place| Some((self.routes.route(from, place)?.length(), place))).min().map(|(_, place)| place)
    }

    fn holes(&mut self, pumps: &[Pump], intakes: &[Intake]) -> Holes {
        let below = intakes.iter().filter(|intake| !intake.aboard).count() as u32;
        let above = pumps.iter().filter(|pump| pump.usual.discharge != Discharge::Well).count() as u32;
        let holes = below + above;
        let cored = match self.boat.cored {
            Known::Yes => "yes",
            Known::No => "no",
            Known::Unknown => "unknown",
        };
        let core_sealed = if cored == "no" { 0 } else { holes };
        let inputs = [("holes", Value::Number(f64::from(holes))), ("cored", Value::Text(cored))];
        let core_basis = self.ledger.note(&table::CORE, &inputs, f64::from(core_sealed));
        if cored == "unknown" && holes > 0 {
            self.out.questions.push(Question {
                id: "hull_core_unstated",
                about: None,
                text:
                    "Do hull and deck have a core where they are drilled? It is reckoned with, and sealed at every hole"
                        .to_owned(),
            });
        }
        let habits = self.settings.plumbing;
        let owner = Name::from("plumbing");
        let mut packs = |what: Consumable, count: u32, each: u16| {
            let packs = count.div_ceil(u32::from(each.max(1)));
            let inputs =
                [("count", Value::Number(f64::from(count))), ("per_pack", Value::Number(f64::from(each.max(1))))];
            if packs > 0 {
                self.out.parts.push((Part::FitOut(FitOut::Consumable(what)), packs, owner.clone()));
            }
            (packs, self.ledger.note(&table::PACKS, &inputs, f64::from(packs)))
        };
        let bedded = below + pumps.len() as u32;
        let (core_kits, core_kits_basis) = packs(Consumable::CoreSealer, core_sealed, habits.holes_per_core_kit);
        let (cartridges, cartridges_basis) = packs(Consumable::BeddingSealant, bedded, habits.fittings_per_cartridge);
        Holes {
            below_waterline: below,
            above_waterline: above,
            core_sealed,
            core_basis,
            core_kits,
            core_kits_basis,
            cartridges,
            cartridges_basis,
        }
    }

    fn labour(&mut self, pumps: &[Pump], intakes: &[Intake], holes: &Holes, hoses: &[crate::take_off::HosePiece]) {
        // A wash-down pump's own operation has the strainer in it.
        let washes = |intake: &Intake| {
            let of_it = |pump: &&Pump| pump.kind == PumpKind::WashDown && intake.pumps.contains(pump.key);
            pumps.iter().any(|pump| of_it(&pump))
        };
        let strainers = intakes.iter().filter(|intake| intake.strainer && !washes(intake)).count();
        let manifolds = intakes.iter().filter(|intake| intake.manifold_ways.is_some()).count();
        let feet = crate::requirements::length_quantity(self.feet, LengthUnit::Ft).0;
        self.out.counts.extend([
            (Driver::ThroughHull, Decimal::from(holes.below_waterline)),
            (Driver::HullFitting, Decimal::from(pumps.len())),
            (Driver::CoreHole, Decimal::from(holes.core_sealed)),
            (Driver::Strainer, Decimal::from(strainers)),
            (Driver::Manifold, Decimal::from(manifolds)),
            (Driver::HoseFoot, feet),
            (Driver::HoseEnd, Decimal::from(2 * hoses.len())),
        ]);
    }
}
