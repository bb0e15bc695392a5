//! Distribution: spare positions, joined negatives, bilge switches, the bow motor's receptacle, bonding.

use super::Sources;
use super::cables::Cable;
use super::mains::larger;
use crate::basis::Value;
use crate::circuits::bank_side::{bow_bank, grounds_case};
use crate::circuits::legs::negative_colour;
use crate::findings::{Caution, Gap, Question};
use crate::gathering::{Part, thousandths};
use crate::routes::Routes;
use crate::rules::power::CRANKING_A;
use crate::rules::protection::{charging_voltage_v, standard_ratings};
use crate::rules::table::power::SPARE_POSITIONS;
use crate::shop::item::{Attributes, Function, LeadRole};
use crate::shop::labour::Driver;
use crate::spec::boat::{Equipment, Panel, SwitchProvision};
use crate::take_off::{ConductorRole, PanelRoom};
use crate::units::{Name, rounded};

const BOW_APART: Caution = Caution {
    id: "bow_bank_apart",
    text: "The negative of a bow motor's bank stays apart from the 12 V negative unless the motor's maker says otherwise.",
    source: "common practice",
};
const CHARGER_PLACE: Caution = Caution {
    id: "charger_place",
    text: "A charger is not mounted above batteries, its case is grounded, and its shore-power side is left to a licensed electrician.",
    source: "common practice",
};
const BONDING: Caution = Caution {
    id: "bonding",
    text: "Metal under water is bonded, or left alone, as a whole: a part joined by chance corrodes. A corrosion specialist decides.",
    source: "common practice",
};

const BILGE_OFF: Caution = Caution {
    id: "bilge_switch_off",
    text: "Off at a bilge pump's switch stops what runs by hand. The automatic lead stays live from the battery, and the pump may start.",
    source: "common practice",
};

/// A thing that the spec names and that is not enough for what is needed.
fn unfit(piece: &Equipment, need: String) -> Gap {
    Gap {
        what: piece.key.clone(),
        need,
        reason: format!(
            "{} does not stand that, or is not ignition protected where vapour may be",
            piece.item.description
        ),
        mend: "name another, or none: one that fits is then found".to_owned(),
    }
}

impl Sources<'_, '_> {
    /// Everything that is not of one bank.
    pub(super) fn distribution(&mut self) {
        self.bilge_switches();
        self.bow_motors();
        let boat = self.facts.boat;
        if boat.equipment.iter().any(|piece| matches!(piece.item.attributes, Attributes::Charger { .. })) {
            self.out.cautions.push(CHARGER_PLACE);
            self.ungrounded_cases();
        }
        for (place, bank) in boat.banks.iter().enumerate() {
            if !bank.starts_engine {
                continue;
            }
            let id = &bank.id;
            let text = match (self.facts.laid.sides[place].panels.is_empty(), bank.switch.provision) {
                (true, SwitchProvision::Supply) => format!(
                    "What does the engine's starter draw, and do its own cables reach the switch and the negative post of the bank '{id}'? {CRANKING_A} A are reckoned with."
                ),
                (true, _) => format!("Does the engine's cranking cable from the bank '{id}' have a switch aboard?"),
                (false, _) => format!(
                    "Where does the engine's cranking cable leave the bank '{id}', and where is its switch? It does not go through the bank's main fuse."
                ),
            };
            self.ask("cranking_cable", Some(id), text);
        }
        if !boat.underwater_metal.is_empty() {
            self.out.cautions.push(BONDING);
        }
        self.out.rooms = self.rooms();
    }

    pub(super) fn ask(&mut self, id: &'static str, about: Option<&Name>, text: String) {
        self.out.questions.push(Question { id, about: about.cloned(), text });
    }

    /// Asks about each charger whose case no negative of a bank may ground.
    fn ungrounded_cases(&mut self) {
        let facts = self.facts;
        for (place, piece) in facts.boat.equipment.iter().enumerate() {
            let in_use = facts.laid.allotted.outputs.iter().any(|output| output.charger == place);
            let Attributes::Charger { case_ground: true, .. } = piece.item.attributes else { continue };
            if in_use && grounds_case(facts.boat, facts.loads, &facts.laid.allotted, place).is_none() {
                let text = format!(
                    "To what is the case of the charger '{}' grounded? It charges a bow motor's bank alone, whose negative stays apart, and no conductor is reckoned with",
                    piece.key
                );
                self.ask("case_ground", Some(&piece.key), text);
            }
        }
    }

    /// Negatives of banks are joined from one to the next, a bow motor's bank apart.
    pub(super) fn joined_negatives(&mut self, routes: &mut Routes) {
        let facts = self.facts;
        let joined: Vec<usize> =
            (0..facts.boat.banks.len()).filter(|bank| !bow_bank(facts.boat, facts.loads, *bank)).collect();
        for pair in joined.windows(2) {
            let (one, other) = (&facts.boat.banks[pair[0]], &facts.boat.banks[pair[1]]);
            let owner = Name::from(format!("negatives/{}/{}", one.id, other.id));
            let Some(route) = routes.route(one.station, other.station) else {
                self.out.gaps.push(Gap {
                    what: owner,
                    need: format!("a conductor that joins the negatives of the banks '{}' and '{}'", one.id, other.id),
                    reason: "no run leads from one to the other".to_owned(),
                    mend: "add the runs that cable takes between them".to_owned(),
                });
                continue;
            };
            let sides = &facts.laid.sides;
            let of_loads = sides[pair[0]].load.current_a.min(sides[pair[1]].load.current_a);
            let shared = pair.iter().all(|bank| facts.laid.alternator_banks.contains(bank));
            let current_a = facts.boat.alternator_a.filter(|_| shared).unwrap_or(0.0).max(of_loads);
            let made = self.cable(
                Cable {
                    bank: pair[0],
                    role: ConductorRole::NegativeJoin,
                    label: format!("N{}{}", pair[0] + 1, pair[1] + 1),
                    colour: negative_colour(facts.boat),
                    current_a,
                    route,
                    from: sides[pair[0]].negative,
                    to: sides[pair[1]].negative,
                    ratings: (standard_ratings(), "standard"),
                    // What one bank's fuse lets through may come back by the other's negative.
                    least_rating_a: self.largest_fuse_a(pair[0]).max(self.largest_fuse_a(pair[1])),
                    continuous: true,
                    at_least: pair.iter().filter_map(|bank| self.cranking_size(*bank)).reduce(larger),
                    limit_v: one.nominal_voltage_v * facts.settings.critical_drop_percent / 200.0,
                },
                &owner,
            );
            if let Some(made) = made {
                self.landed.extend(pair.iter().map(|bank| (*bank, false, made.terminal())));
            }
        }
    }

    /// A pump that its float starts has a switch at the helm: automatic, off, manual, with a light while it runs.
    fn bilge_switches(&mut self) {
        let facts = self.facts;
        for switch in &facts.laid.pump_switches {
            let pump = &facts.loads[switch.load];
            let panel = &facts.boat.panels[pump.panel];
            let charging_v = facts.classes[panel.bank].charging_v;
            let ignition_protected = self.vapour(switch.station);
            let manual = pump.positives.iter().find(|lead| lead.role == LeadRole::SwitchedPositive);
            let needs_a = manual.map_or(0.0, |manual| manual.current_a);
            if !switch.placed {
                let text = format!(
                    "Where is the switch of the bilge pump '{}', and which cable goes to it and to its light? It is taken to be at its panel, at '{}', since no helm is known that cable leads to",
                    pump.key, facts.boat.stations[panel.station].name
                );
                self.ask("bilge_switch_place", Some(&pump.key), text);
            }
            let at_switch = |other: &&Panel| other.station == switch.station && other.bank == panel.bank;
            if panel.station != switch.station
                && let Some(other) = facts.boat.panels.iter().find(at_switch)
            {
                let message = format!(
                    "its switch is at '{}' and its panel is not: its positive goes there first and then to the pump. Fed from the panel '{}', which is there, it would take less copper",
                    facts.boat.stations[switch.station].name, other.id
                );
                self.warn(&pump.key, message);
            }
            if let Some(piece) = switch.piece.map(|place| &facts.boat.equipment[place]) {
                let Attributes::BilgeSwitch { rating_a, voltage_rating_v, ignition_protected: sealed, .. } =
                    piece.item.attributes
                else {
                    continue;
                };
                if rating_a < needs_a || voltage_rating_v < charging_v || ignition_protected && !sealed {
                    let pump = &pump.key;
                    let need = format!("a switch for {needs_a:.1} A at {charging_v:.1} V for the bilge pump '{pump}'");
                    self.out.gaps.push(unfit(piece, need));
                }
                continue;
            }
            let part = Part::BilgeSwitch {
                rating_ma: thousandths(needs_a),
                voltage_mv: thousandths(rounded(charging_v, 1)),
                ignition_protected,
            };
            self.part(part, 1, &pump.key);
            self.out.counts.push((Driver::BilgeSwitch, 1));
        }
        if !facts.laid.pump_switches.is_empty() {
            self.out.cautions.push(BILGE_OFF);
        }
    }

    /// A bow motor's receptacle and plug, unless one is named.
    fn bow_motors(&mut self) {
        let facts = self.facts;
        let is_receptacle = |attributes: &Attributes| matches!(attributes, Attributes::BowReceptacle { .. });
        let mut named: Vec<_> =
            facts.boat.equipment.iter().filter(|piece| is_receptacle(&piece.item.attributes)).collect();
        let motors: Vec<_> = facts.loads.iter().filter(|load| load.function == Function::BowMotor).collect();
        if !motors.is_empty() {
            self.out.cautions.push(BOW_APART);
        }
        for motor in motors {
            self.out.counts.push((Driver::BowReceptacle, 1));
            let charging_v = rounded(charging_voltage_v(motor.voltage_v), 1);
            let current_a = motor.negative.current_a;
            let ignition_protected = self.vapour(motor.station);
            if let Some(piece) = named.pop() {
                let Attributes::BowReceptacle { rating_a, voltage_rating_v, ignition_protected: sealed } =
                    piece.item.attributes
                else {
                    continue;
                };
                if rating_a < current_a || voltage_rating_v < charging_v || ignition_protected && !sealed {
                    let need = format!("a receptacle for {current_a:.1} A at {charging_v} V at the bow");
                    self.out.gaps.push(unfit(piece, need));
                }
                continue;
            }
            let part = Part::BowReceptacle {
                rating_ma: thousandths(rounded(current_a, 3)),
                voltage_mv: thousandths(charging_v),
                ignition_protected,
            };
            self.part(part, 1, &motor.key);
        }
    }

    /// Positions of each panel: a quarter of them spare, and two at least, unless the shop says otherwise.
    fn rooms(&mut self) -> Vec<PanelRoom> {
        let facts = self.facts;
        let settings = facts.settings;
        let mut rooms = Vec::new();
        for (place, panel) in facts.boat.panels.iter().enumerate() {
            let here = facts.loads.iter().filter(|load| load.panel == place);
            let branches = here.flat_map(|load| &load.positives);
            let branches = branches.filter(|lead| lead.role == LeadRole::SwitchedPositive).count();
            // A sub-panel's breaker or blade takes a position too.
            let fed = facts.feeders.iter().filter(|feeder| feeder.fed_from.as_ref() == Some(&panel.id));
            let used = branches + fed.filter(|feeder| feeder.in_feeding_panel()).count();
            let positions = panel.item.as_deref().and_then(|item| match &item.attributes {
                Attributes::Panel { positions, .. } => Some(u32::from(*positions)),
                _ => None,
            });
            // A panel of one position, or for a bow motor alone, is made for just that.
            if used == 0 || positions == Some(1) || bow_bank(facts.boat, facts.loads, panel.bank) {
                continue;
            }
            let share = (used as f64 * settings.spare_positions_percent / 100.0).ceil();
            let wanted = used as f64 + share.max(f64::from(settings.least_spare_positions));
            let basis = self.ledger.note(
                &SPARE_POSITIONS,
                &[
                    ("used", Value::Number(used as f64)),
                    ("spare_positions_percent", Value::Number(settings.spare_positions_percent)),
                    ("least_spare_positions", Value::Number(f64::from(settings.least_spare_positions))),
                ],
                wanted,
            );
            if let Some(positions) = positions.filter(|n| f64::from(*n) < wanted && *n as usize >= used) {
                self.warn(
                    &panel.id,
                    format!(
                        "{used} of its {positions} positions are taken, and {wanted} would leave the spares that the shop wants"
                    ),
                );
            }
            rooms.push(PanelRoom {
                panel: panel.id.clone(),
                used: used as u32,
                wanted: wanted as u32,
                positions,
                basis,
            });
        }
        rooms
    }
}
