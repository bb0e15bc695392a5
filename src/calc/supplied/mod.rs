//! Cables that come with a device: does each reach along this boat's routes, and what is done about it if not?
//!
//! 1. A cable leads to the station that the spec names; else to the nearest device that such a cable goes to and that has
//!    none of its own; else to the helm.
//! 2. It must be as long as its way, the rises and a service loop at both ends. What is missing is an extension where it
//!    takes one, and else a gap. What is much too long is told.
//! 3. A transducer's cable is never cut, whatever the item says.

use crate::basis::Ledger;
use crate::findings::{Gap, Question, Warning};
use crate::gathering::{Part, millimetres_up};
use crate::network::way::{Way, exact};
use crate::routes::Routes;
use crate::rules::table::network::SURPLUS;
use crate::shop::item::{Attributes, Function, SuppliedCable, SuppliedCableKind};
use crate::shop::settings::Settings;
use crate::spec::boat::{Boat, Equipment};
use crate::take_off::SuppliedCableUse;
use crate::units::{Length, LengthUnit, Name, rounded};

/// What supplied cables come to.
#[derive(Default)]
pub struct SuppliedSide {
    /// Each of them.
    pub cables: Vec<SuppliedCableUse>,
    /// Extensions: what, and who needs it.
    pub parts: Vec<(Part, Name)>,
    /// Runs that they go through, each with the label of the cable.
    pub through: Vec<(usize, Name)>,
    /// Those that do not reach.
    pub gaps: Vec<Gap>,
    /// Those that are much too long.
    pub warnings: Vec<Warning>,
    /// What to ask.
    pub questions: Vec<Question>,
}

/// The cables that come with a boat's equipment.
pub fn supplied_side(boat: &Boat, settings: &Settings, ledger: &mut Ledger) -> SuppliedSide {
    let mut side = SuppliedSide::default();
    let mut routes: Option<Routes> = None;
    for piece in &boat.equipment {
        let (cables, Some(station)) = (cables(piece), piece.station) else { continue };
        for cable in cables {
            let routes = routes.get_or_insert_with(|| Routes::new(boat.stations.len(), &boat.runs));
            let label = Name::from(format!("S{}", side.cables.len() + 1));
            let mut leading = Leading { boat, settings, ledger, side: &mut side, piece, cable, label };
            match leading.target(station, routes) {
                Some((to, key)) => leading.led((station, to), key, routes),
                None => leading.nowhere(),
            }
        }
    }
    side
}

fn cables(piece: &Equipment) -> &[SuppliedCable] {
    match &piece.item.attributes {
        Attributes::Device { supplied_cables, .. } => supplied_cables,
        _ => &[],
    }
}

/// One cable that is led.
struct Leading<'a, 'o> {
    boat: &'a Boat,
    settings: &'a Settings,
    ledger: &'o mut Ledger,
    side: &'o mut SuppliedSide,
    piece: &'a Equipment,
    cable: &'a SuppliedCable,
    label: Name,
}

impl Leading<'_, '_> {
    fn word(&self) -> String {
        self.cable.cable.word().replace('_', " ")
    }

    /// The station that it leads to, with the device there where it was found by that.
    fn target(&mut self, from: usize, routes: &mut Routes) -> Option<(usize, Option<Name>)> {
        if let Some(to) = self.piece.cables_to {
            return Some((to, None));
        }
        let function = self.cable.leads_to.unwrap_or(self.cable.cable.leads_to());
        let fits = |piece: &&Equipment| does(piece, function) && cables(piece).is_empty() && !piece.planned;
        let near = self.boat.equipment.iter().filter(fits).filter_map(|piece| {
            let station = piece.station?;
            Some((routes.route(from, station)?.length(), &piece.key, station))
        });
        if let Some((_, key, station)) = near.min() {
            return Some((station, Some(key.clone())));
        }
        let helm = self.boat.stations.iter().position(|station| station.id.as_str() == "helm")?;
        let text = format!(
            "What does the {} cable of '{}' lead to? Nothing on the list takes it, so it is taken to lead to the helm",
            self.word(),
            self.piece.key
        );
        self.side.questions.push(Question { id: "supplied_cable_end", about: Some(self.piece.key.clone()), text });
        Some((helm, None))
    }

    fn gap(&mut self, need: String, reason: String, mend: String) {
        // One device may have several cables, and each may be a gap.
        let what = Name::from(format!("supplied_cable/{}/{}", self.piece.key, self.label));
        self.side.gaps.push(Gap { what, need, reason, mend });
    }

    fn nowhere(&mut self) {
        let need = format!("a way for the {} cable of '{}'", self.word(), self.piece.key);
        let mend = "state cables_to on that piece of equipment".to_owned();
        self.gap(need, "nothing on the list takes it, and the boat has no helm".to_owned(), mend);
    }

    fn led(&mut self, (from, to): (usize, usize), key: Option<Name>, routes: &mut Routes) {
        let rise = |station: usize| self.boat.stations[station].rise;
        let rises = if from == to { Length::ZERO } else { rise(from) + rise(to) };
        let slack = exact(self.settings.service_loop_device) * 2;
        let Some(way) = Way::along(routes, (from, to), rises, slack, self.settings) else {
            let id = |station: usize| &self.boat.stations[station].id;
            let need = format!("a way for the {} cable of '{}'", self.word(), self.piece.key);
            let (reason, mend) = (
                format!("no run leads from '{}' to '{}'", id(from), id(to)),
                "add the runs that it takes to /boat/runs, or state cables_to".to_owned(),
            );
            return self.gap(need, reason, mend);
        };
        let length = exact(self.cable.length);
        let surplus = length - way.needed;
        let needed_basis = way.note(self.settings, self.ledger);
        let inputs = [("length_m", length.m().into()), ("needed_m", way.needed.m().into())];
        let surplus_basis = self.ledger.note(&SURPLUS, &inputs, surplus.m());
        let may_be_cut = self.cable.may_be_cut && self.cable.cable != SuppliedCableKind::Transducer;
        let extension = (surplus < Length::ZERO).then(|| Length::ZERO - surplus);
        let advice = self.advice(surplus, may_be_cut);
        let extended = extension.filter(|missing| self.extended(*missing, &way));
        let unit = self.settings.length_unit;
        self.side.through.extend(way.runs.iter().map(|run| (*run, self.label.clone())));
        self.side.cables.push(SuppliedCableUse {
            label: self.label.clone(),
            equipment: self.piece.key.clone(),
            cable: self.cable.cable,
            to: key,
            route: way.route(self.boat),
            length: length.written(unit),
            needed_length: way.needed.written(unit),
            needed_basis,
            surplus: extension.is_none().then(|| surplus.written(unit)),
            surplus_basis,
            extension: extended.map(|missing| missing.written(unit)),
            may_be_cut,
            advice,
        });
    }

    /// Asks for an extension, or says that there is none.
    fn extended(&mut self, missing: Length, way: &Way) -> bool {
        let extends = self.cable.cable;
        if let Some(plug) = &self.cable.extension_plug {
            let plug = Name::from(plug.as_str());
            let part = Part::CableExtension { extends, plug, min_mm: millimetres_up(missing) };
            self.side.parts.push((part, self.piece.key.clone()));
            return true;
        }
        let m = |length: Length| rounded(length.m(), 2);
        let need = format!("{} m of {} cable for '{}'", m(way.needed), self.word(), self.piece.key);
        let reason = format!("its own is {} long, and takes no extension", self.cable.length);
        let mend = "order it with a longer cable, mount it nearer, or state in cables_to where it leads".to_owned();
        self.gap(need, reason, mend);
        false
    }

    /// What is done with what is too long or too short, with a warning where it is much.
    fn advice(&mut self, surplus: Length, may_be_cut: bool) -> String {
        if surplus < Length::ZERO {
            return match &self.cable.extension_plug {
                Some(plug) => format!("does not reach: fit an extension with the plug {plug}"),
                None => "does not reach, and takes no extension".to_owned(),
            };
        }
        let advice = match (may_be_cut, self.cable.cable) {
            (true, _) => "reaches; cut what is over and make a new end, or coil it",
            (false, SuppliedCableKind::Transducer) => {
                "reaches; coil what is over in a wide loop, and never cut or splice it"
            }
            (false, _) => "reaches; coil what is over in a wide loop, and do not cut it",
        };
        if surplus > exact(self.settings.network.surplus_told) {
            let unit: LengthUnit = self.settings.length_unit;
            let message = format!(
                "{} of its {} cable are over: {}",
                surplus.written(unit),
                self.word(),
                if may_be_cut {
                    "cut it to length, or plan a place to coil it"
                } else {
                    "plan a place to coil it; it is not cut"
                }
            );
            self.side.warnings.push(Warning { about: self.piece.key.clone(), message });
        }
        advice.to_owned()
    }
}

/// Whether a piece of equipment does something.
fn does(piece: &Equipment, wanted: Function) -> bool {
    matches!(&piece.item.attributes, Attributes::Device { function, unwired: false, .. } if *function == wanted)
}
