//! What the written boat is made of: equipment, wire, terminals, tubing, labels, fuses and holders as requirements.

use super::writing::WrittenBoat;
use super::{AlongSide, Laid, PowerSide, warn};
use crate::circuits::cables::WrittenCable;
use crate::circuits::ends::{EndParts, end_parts};
use crate::circuits::legs::{FUSE_STUD, LegEnd};
use crate::findings::{Gap, Warning};
use crate::gathering::{Gathering, Part, thousandths};
use crate::network::NetworkSide;
use crate::requirements::{Piece, Requirement};
use crate::rules::power::TERMINALS_ON_STUD_MAX;
use crate::rules::sizes::overall_diameter;
use crate::shop::item::{Attributes, FuseFamily, Item};
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::spec::input::Known;
use crate::supplied::SuppliedSide;
use crate::take_off::{AlwaysOnSide, Cable, Feeder, LandsOn, Protection, Termination};
use crate::units::{Name, WireSize};

/// Wire of the lead of an inline fuse holder that goes on the always-on main's stud (common practice).
const HOLDER_LEAD: WireSize = WireSize::Awg(12);

/// Where a protective device stands.
#[derive(Clone, Copy, Default)]
struct Place {
    /// In a position of a panel, which holds it.
    in_panel: bool,
    /// At a bank whose always-on fuses are in a block.
    block: bool,
}

/// Gathers requirements, and finds what is unwise or missing on the way.
pub(super) struct Parts<'a> {
    boat: &'a Boat,
    settings: &'a Settings,
    gathering: Gathering,
    pub(super) gaps: Vec<Gap>,
    pub(super) warnings: Vec<Warning>,
    /// Of each bank: whether its always-on fuses are in a block.
    blocks: Vec<bool>,
}

impl<'a> Parts<'a> {
    pub(super) fn new(boat: &'a Boat, settings: &'a Settings) -> Self {
        Parts {
            boat,
            settings,
            gathering: Gathering::default(),
            gaps: Vec::new(),
            warnings: Vec::new(),
            blocks: Vec::new(),
        }
    }

    /// Whether petrol vapour must be reckoned with at a station.
    fn vapour(&self, station: usize) -> bool {
        self.boat.stations[station].petrol_vapour != Known::No
    }

    /// Equipment, panels and buses, each as the item that the spec or a package names.
    pub(super) fn equipment(&mut self) {
        for piece in self.boat.equipment.iter().filter(|piece| !piece.planned) {
            let part = Part::Item(piece.item.sku.clone());
            if piece.customer_supplied {
                self.gathering.add_customer_supplied(part, &piece.key);
            } else {
                self.gathering.add(part, &piece.key);
            }
            if let Some(station) = piece.station {
                self.ignition(&piece.item, station, &piece.key);
            }
        }
        for panel in &self.boat.panels {
            if let Some(item) = &panel.item {
                self.ignition(item, panel.station, &panel.id);
            }
        }
        let panels = self.boat.panels.iter().filter_map(|panel| Some((panel.item.as_ref()?, &panel.id)));
        let buses = self.boat.buses.iter().filter_map(|bus| Some((bus.item.as_ref()?, &bus.id)));
        for (item, id) in panels.chain(buses) {
            self.gathering.add(Part::Item(item.sku.clone()), id);
        }
    }

    /// A gap for an item that can spark where petrol vapour must be reckoned with.
    fn ignition(&mut self, item: &Item, station: usize, key: &Name) {
        if item.attributes.ignition_protected() != Some(false) || !self.vapour(station) {
            return;
        }
        let place = &self.boat.stations[station];
        let known = if place.petrol_vapour == Known::Yes { "can be there" } else { "may be there: nobody has said" };
        self.gaps.push(Gap {
            what: key.clone(),
            need: format!("{} at '{}'", item.description, place.name),
            reason: format!("it is not ignition protected, and petrol vapour {known}"),
            mend: format!(
                "choose an ignition-protected item, mount it elsewhere, or state petrol_vapour \"no\" for '{}' if that was looked at",
                place.id
            ),
        });
    }

    /// What a panel, a bus and a battery post must hold beside what they can.
    fn room(&mut self, written: &WrittenBoat) {
        for panel in &self.boat.panels {
            let Some(Attributes::Panel { positions, .. }) = panel.item.as_deref().map(|item| &item.attributes) else {
                continue;
            };
            let here = written.circuits.iter().filter(|circuit| circuit.panel == panel.id);
            let branches = here.flat_map(|circuit| &circuit.protection).filter(|device| !device.always_on).count();
            let fed = written.feeders.iter().filter(|feeder| feeder.fed_from.as_ref() == Some(&panel.id));
            let sub_mains = fed.filter(|feeder| feeder.in_feeding_panel()).count();
            let landed = branches + sub_mains;
            if landed > usize::from(*positions) {
                self.no_room(&panel.id, format!("{landed} positions at the panel '{}'", panel.id), *positions);
            }
        }
        for (place, bus) in self.boat.buses.iter().enumerate() {
            let Some(Attributes::Bus { positions, rating_a, .. }) = bus.item.as_deref().map(|item| &item.attributes)
            else {
                continue;
            };
            let fed = |panel: &Name| self.boat.panels.iter().any(|p| p.id == *panel && p.bus == place);
            let landed = written.circuits.iter().filter(|circuit| fed(&circuit.panel)).count();
            // What leads through it, once: a feeder's current has that of its sub-panels in it.
            let through = |panel: &Name| {
                let bus = self.boat.panels.iter().find(|p| p.id == *panel).map(|p| p.bus);
                bus.is_some_and(|bus| self.boat.led_through(bus).any(|bus| bus == place))
            };
            let topmost = |f: &&Feeder| through(&f.panel) && !f.fed_from.as_ref().is_some_and(&through);
            let current_a: f64 = written.feeders.iter().filter(topmost).map(|f| f.design_current_a).sum();
            let returns = self.boat.buses.iter().filter(|bus| bus.leads_to == Some(place)).count();
            if returns + 1 > TERMINALS_ON_STUD_MAX {
                self.warnings.push(warn(
                    &bus.id,
                    format!("{} cables would put more than {TERMINALS_ON_STUD_MAX} terminals on its main stud: fit a bus with more studs", returns + 1),
                ));
            }
            if landed > usize::from(*positions) {
                self.no_room(&bus.id, format!("{landed} places at the bus '{}'", bus.id), *positions);
            }
            if current_a > *rating_a {
                self.gaps.push(Gap {
                    what: bus.id.clone(),
                    need: format!("{current_a:.1} A through the bus '{}'", bus.id),
                    reason: format!("it is rated for {rating_a} A"),
                    mend: "choose a larger bus, or give a panel a bus of its own".to_owned(),
                });
            }
        }
    }

    fn no_room(&mut self, what: &Name, need: String, positions: u16) {
        self.gaps.push(Gap {
            what: what.clone(),
            need,
            reason: format!("the item has {positions}"),
            mend: "choose a larger one, or move circuits to another panel".to_owned(),
        });
    }

    /// Conductors with their ends and labels, protective devices with their holders.
    pub(super) fn circuits(&mut self, written: &WrittenBoat, laid: &Laid) {
        self.blocks = laid.sides.iter().map(|side| side.fuse_block).collect();
        for (_, line) in written.lines(laid) {
            let conductor = &line.conductor;
            let (size, circuit) = (conductor.gauge, &conductor.circuit);
            if conductor.cable.is_none() {
                let wire = Part::Wire { size, colour: conductor.colour, insulation_c: conductor.insulation_c };
                let piece = Piece { label: conductor.label.clone(), cut: line.cut };
                self.gathering.add_piece(wire, piece, circuit);
            }
            for end in [&line.from, &line.to] {
                self.end(end, &conductor.label, circuit);
                self.gathering.add(Part::Label(overall_diameter(size)), circuit);
            }
        }
        for line in &written.cables {
            self.cable(line);
        }
        for circuit in &written.circuits {
            let block = self.in_block(&circuit.bank);
            for protection in &circuit.protection {
                let place = Place { in_panel: !protection.always_on, block };
                self.protection(protection, &circuit.key, place);
            }
        }
        self.room(written);
        for feeder in &written.feeders {
            match &feeder.protection {
                Some(protection) => {
                    let place = Place { in_panel: feeder.in_feeding_panel(), block: false };
                    self.protection(protection, &feeder.key, place);
                }
                None => {
                    let at = match &feeder.fed_from {
                        Some(panel) => format!("the panel '{panel}'"),
                        None => format!("the bank '{}'", feeder.bank),
                    };
                    self.no_main_fuse(&feeder.key, feeder.design_current_a, &at);
                }
            }
        }
        for side in &written.always_on {
            let key = Name::from(format!("always_on/{}", side.bank));
            match &side.protection {
                Some(protection) => {
                    self.protection(protection, &key, Place::default());
                    if self.in_block(&side.bank) {
                        self.block(side, protection, written, &key);
                    }
                }
                None if written.circuits.iter().any(|circuit| circuit.protection.iter().any(blade_at_battery)) => {
                    self.no_main_fuse(&key, side.current_a, &format!("the bank '{}'", side.bank));
                }
                None => {}
            }
        }
    }

    /// A cable with the sleeves over both ends of its jacket.
    fn cable(&mut self, line: &WrittenCable) {
        let Cable { label, circuit, gauge: size, insulation_c, .. } = &line.cable;
        let cable = Part::Cable { size: *size, colours: line.colours, insulation_c: *insulation_c };
        self.gathering.add_piece(cable, Piece { label: label.clone(), cut: line.cut }, circuit);
        match line.sleeve {
            Some(sleeve) => {
                for _ in 0..2 {
                    self.gathering.add(Part::Shrink(sleeve), circuit);
                }
            }
            None => self.gaps.push(Gap {
                what: circuit.clone(),
                need: format!("adhesive heat shrink over the jacket of {label}, {} thick", line.cable.outside_diameter),
                reason: "no published size of tubing goes over it and shrinks tight on its conductors".to_owned(),
                mend: "run the circuit in single conductors, or overrule them with a smaller size".to_owned(),
            }),
        }
    }

    fn end(&mut self, end: &EndParts, label: &Name, circuit: &Name) {
        match (end.termination, end.stud) {
            (Termination::RingTerminal, Some(stud)) => self.gathering.add(Part::Ring(end.size, stud), circuit),
            (Termination::Lug, Some(stud)) => self.gathering.add(Part::Lug(end.size, stud), circuit),
            _ => self.gathering.add(Part::Splice(end.size), circuit),
        }
        for layer in &end.shrink {
            self.gathering.add(Part::Shrink(*layer), circuit);
        }
        if end.loose_on_thin_wire {
            self.warnings.push(warn(
                circuit,
                format!("{label}: no tubing shrinks tight on the maker's thin lead; fold the lead back in the splice, or step down with a short tail"),
            ));
        }
        if end.much_thinner_lead {
            self.warnings.push(warn(
                circuit,
                format!(
                    "{label}: a {} splice does not hold the maker's thin lead by itself; step down with a short tail",
                    end.size
                ),
            ));
        }
        if end.no_tubing {
            self.gaps.push(Gap {
                what: circuit.clone(),
                need: format!("adhesive heat shrink over the {} end of {label}", end.size),
                reason: "no published size of tubing goes over its barrel".to_owned(),
                mend: "overrule the conductor with a smaller size, or choose a device with studs".to_owned(),
            });
        }
    }

    fn protection(&mut self, protection: &Protection, owner: &Name, Place { in_panel, block }: Place) {
        let (rating_ma, voltage_mv) = (thousandths(protection.rating_a), thousandths(protection.voltage_v_min));
        let interrupt_a = protection.interrupt_a_min.round() as u64;
        let station = self.boat.stations.iter().position(|station| station.id == protection.station);
        let ignition_protected = station.is_some_and(|station| self.vapour(station));
        let Some(family) = protection.family else {
            self.gathering.add(Part::Breaker { rating_ma, voltage_mv, interrupt_a, ignition_protected }, owner);
            return;
        };
        self.gathering.add(Part::Fuse { family, rating_ma, voltage_mv, interrupt_a }, owner);
        if !(in_panel || block && blade_at_battery(protection)) {
            self.gathering.add(Part::Holder { family, rating_ma, voltage_mv, ignition_protected }, owner);
        }
        if blade_at_battery(protection) && !block {
            // The holder's lead goes on the stud of the always-on main fuse.
            let end = LegEnd { station: 0, lands_on: LandsOn::MainFuse, stud: Some(FUSE_STUD) };
            let parts = end_parts(&end, HOLDER_LEAD, None);
            self.end(&parts, &protection.protects, owner);
        }
    }

    fn in_block(&self, bank: &Name) -> bool {
        let place = self.boat.banks.iter().position(|known| known.id == *bank);
        place.is_some_and(|place| self.blocks[place])
    }

    /// The fuse block of an always-on side, beside its main fuse.
    fn block(&mut self, side: &AlwaysOnSide, main: &Protection, written: &WrittenBoat, owner: &Name) {
        let here = written.circuits.iter().filter(|circuit| circuit.bank == side.bank);
        let fuses = here.flat_map(|circuit| &circuit.protection).filter(|device| blade_at_battery(device)).count();
        let station = self.boat.stations.iter().position(|station| station.id == main.station);
        let block = Part::FuseBlock {
            positions: u16::try_from(fuses).unwrap_or(u16::MAX),
            family: FuseFamily::Blade,
            rating_ma: thousandths(main.rating_a),
            voltage_mv: thousandths(main.voltage_v_min),
            ignition_protected: station.is_some_and(|station| self.vapour(station)),
        };
        self.gathering.add(block, owner);
    }

    /// What the sources need beside their cables, and what was found amiss there.
    pub(super) fn power(&mut self, power: &mut PowerSide) {
        for (protection, owner) in &power.mains {
            self.protection(protection, owner, Place::default());
        }
        for (part, count, owner) in power.parts.drain(..) {
            for _ in 0..count {
                self.gathering.add(part.clone(), &owner);
            }
        }
        self.gaps.append(&mut power.gaps);
        self.warnings.append(&mut power.warnings);
    }

    /// Parts of the fit-out and what is cut for it.
    pub(super) fn fit_out(&mut self, parts: &mut Vec<(Part, u32, Name)>, pieces: &mut Vec<(Part, Piece, Name)>) {
        for (part, piece, owner) in pieces.drain(..) {
            self.gathering.add_piece(part, piece, &owner);
        }
        for (part, count, owner) in parts.drain(..) {
            self.gathering.add_many(part, count, &owner);
        }
    }

    /// What is met along the way, and what was found amiss there.
    pub(super) fn along(&mut self, along: &mut AlongSide) {
        self.fit_out(&mut along.parts, &mut along.pieces);
        self.gaps.append(&mut along.gaps);
        self.warnings.append(&mut along.warnings);
    }

    /// What the data network and the cables that come with devices need, and what was found amiss there.
    pub(super) fn network(&mut self, network: &mut NetworkSide, supplied: &mut SuppliedSide) {
        for (part, count, owner) in network.parts.drain(..) {
            for _ in 0..count {
                self.gathering.add(part.clone(), &owner);
            }
        }
        for (part, owner) in supplied.parts.drain(..) {
            self.gathering.add(part, &owner);
        }
        self.gaps.append(&mut network.gaps);
        self.gaps.append(&mut supplied.gaps);
        self.warnings.append(&mut network.warnings);
        self.warnings.append(&mut supplied.warnings);
    }

    fn no_main_fuse(&mut self, owner: &Name, current_a: f64, at: &str) {
        self.gaps.push(Gap {
            what: owner.clone(),
            need: format!("a main fuse for {current_a:.1} A at {at}"),
            reason: "no fuse family of the shop's settings has the rating, the voltage and the interrupt rating"
                .to_owned(),
            mend: "add a family to main_fuse_families, or split the panel".to_owned(),
        });
    }

    /// The requirements in order of key.
    pub(super) fn into_requirements(self) -> Vec<Requirement> {
        self.gathering.into_requirements(self.settings.length_unit)
    }
}

/// Whether a device is a blade fuse in a holder of its own on the always-on side.
pub(super) fn blade_at_battery(protection: &Protection) -> bool {
    protection.always_on && protection.family == Some(FuseFamily::Blade)
}
