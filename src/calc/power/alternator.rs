//! The alternator, and the combiners between the banks that share it.

use super::Sources;
use super::cables::Cable;
use crate::basis::Value;
use crate::circuits::legs::{FUSE_STUD, LegEnd};
use crate::circuits::main_protection::main_family;
use crate::findings::{Gap, Question};
use crate::gathering::{Part, thousandths};
use crate::routes::Routes;
use crate::rules::energy::IDLE_SHARE;
use crate::rules::functions::FEEDER_COLOUR;
use crate::rules::protection::{CONTINUOUS_FACTOR, charging_voltage_v, family};
use crate::rules::table::energy as table;
use crate::shop::item::{Attributes, Chemistry, Stud};
use crate::shop::labour::Driver;
use crate::spec::boat::Equipment;
use crate::take_off::{Alternator, ConductorRole, LandsOn};
use crate::units::{Name, rounded};

/// Stud of a combiner (common practice).
const COMBINER_STUD: Stud = Stud::ThreeEighths;

impl Sources<'_, '_> {
    /// The alternator, and a combiner with its cables for each further bank that shares it.
    pub(super) fn alternator(&mut self, routes: &mut Routes) -> Option<Alternator> {
        let facts = self.facts;
        let rating_a = facts.boat.alternator_a?;
        let idle_a = IDLE_SHARE * rating_a;
        let idle_basis =
            self.ledger.note(&table::ALTERNATOR_IDLE, &[("alternator_a", Value::Number(rating_a))], idle_a);
        let banks = facts.laid.alternator_banks.clone();
        let first_cable = self.out.cables.len();
        let mut named =
            facts.boat.equipment.iter().filter(|e| matches!(e.item.attributes, Attributes::Combiner { .. }));
        for pair in banks.windows(2) {
            self.combined((pair[0], pair[1]), rating_a, named.next(), routes);
        }
        for &bank in &banks {
            let bank = &facts.boat.banks[bank];
            if bank.chemistry == Some(Chemistry::LithiumIronPhosphate) {
                self.warn(
                    &bank.id,
                    format!("a lithium bank can draw all of the {rating_a} A until the alternator burns: its charging must be limited"),
                );
                self.out.questions.push(Question {
                    id: "lithium_charging",
                    about: Some(bank.id.clone()),
                    text: format!(
                        "What limits the charging of the lithium bank '{}' from the alternator: its regulator, a limiting combiner or a charger between?",
                        bank.id
                    ),
                });
            }
        }
        Some(Alternator {
            rating_a,
            idle_a: rounded(idle_a, 3),
            idle_basis,
            banks: banks.iter().map(|bank| facts.boat.banks[*bank].id.clone()).collect(),
            cables: self.out.cables[first_cable..].iter().map(|(leg, _)| leg.label.clone()).collect(),
        })
    }

    /// A gap for a combiner that the spec names and that does not do between its two banks.
    fn named_combiner(
        &mut self,
        piece: &Equipment,
        (rating_a, charging_v): (f64, f64),
        lithium: bool,
        ignition_protected: bool,
    ) {
        let Attributes::Combiner {
            rating_a: rated_a,
            voltage_rating_v,
            isolates_while_cranking,
            limits_charging,
            ignition_protected: sealed,
            ..
        } = piece.item.attributes
        else {
            return;
        };
        let mut short = Vec::new();
        if rated_a < rating_a {
            short.push(format!("it is rated for {rated_a} A, and the alternator gives {rating_a} A"));
        }
        if voltage_rating_v < rounded(charging_v, 1) {
            short.push(format!("it is built for {voltage_rating_v} V, and the banks charge at {charging_v:.1} V"));
        }
        if !isolates_while_cranking {
            short.push("it does not part the banks while the engine cranks".to_owned());
        }
        if lithium && !limits_charging {
            short.push("it does not limit the current into a lithium bank".to_owned());
        }
        if ignition_protected && !sealed {
            short.push("it is not ignition protected, and petrol vapour may be there".to_owned());
        }
        if !short.is_empty() {
            self.out.gaps.push(Gap {
                what: piece.key.clone(),
                need: format!("a combiner for {rating_a} A at {charging_v:.1} V"),
                reason: short.join("; "),
                mend: "name another, or none: one that fits is then found".to_owned(),
            });
        }
    }

    /// The combiner between two banks, and a cable to each with a fuse at its battery: either may feed the other.
    fn combined(
        &mut self,
        (one, other): (usize, usize),
        rating_a: f64,
        named: Option<&Equipment>,
        routes: &mut Routes,
    ) {
        let facts = self.facts;
        let owner = Name::from(format!("combiner/{}/{}", facts.boat.banks[one].id, facts.boat.banks[other].id));
        let at = facts.boat.banks[one].station;
        let charging_v = charging_voltage_v(facts.boat.banks[one].nominal_voltage_v);
        let lithium =
            [one, other].iter().any(|bank| facts.boat.banks[*bank].chemistry == Some(Chemistry::LithiumIronPhosphate));
        let ignition_protected = self.vapour(at);
        if let Some(piece) = named {
            self.named_combiner(piece, (rating_a, charging_v), lithium, ignition_protected);
        } else {
            let part = Part::Combiner {
                rating_ma: thousandths(rating_a),
                voltage_mv: thousandths(rounded(charging_v, 1)),
                stud: COMBINER_STUD,
                limits_charging: lithium,
                ignition_protected,
            };
            self.part(part, 1, &owner);
            self.out.counts.push((Driver::Combiner, 1));
        }
        let stud = named.and_then(|piece| match piece.item.attributes {
            Attributes::Combiner { stud, .. } => Some(stud),
            _ => None,
        });
        for (place, side) in [(one, 'A'), (other, 'B')] {
            let bank = &facts.boat.banks[place];
            let class = &facts.classes[place];
            let needs_a = rating_a * CONTINUOUS_FACTOR;
            let Some(fuse) = main_family(class, needs_a, facts.settings) else {
                self.out.gaps.push(Gap {
                    what: owner.clone(),
                    need: format!("a fuse for {needs_a:.1} A between the bank '{}' and its combiner", bank.id),
                    reason:
                        "no fuse family of the shop's settings has the rating, the voltage and the interrupt rating"
                            .to_owned(),
                    mend: "add a family to main_fuse_families".to_owned(),
                });
                continue;
            };
            let Some(route) = routes.route(bank.station, at) else { continue };
            let made = self.cable(
                Cable {
                    bank: place,
                    role: ConductorRole::CombinerCable,
                    label: format!("X{}{side}", one + 1),
                    colour: FEEDER_COLOUR,
                    current_a: rating_a,
                    route,
                    from: LegEnd { station: bank.station, lands_on: LandsOn::MainFuse, stud: Some(FUSE_STUD) },
                    to: LegEnd { station: at, lands_on: LandsOn::Combiner, stud: Some(stud.unwrap_or(COMBINER_STUD)) },
                    ratings: (family(fuse).ratings_a, fuse.word()),
                    least_rating_a: 0.0,
                    continuous: true,
                    at_least: None,
                    limit_v: bank.nominal_voltage_v * facts.settings.critical_drop_percent / 200.0,
                },
                &owner,
            );
            if let Some(made) = made {
                let protection = self.charger_fuse(place, class, fuse, needs_a, &made);
                self.out.mains.push((protection, owner.clone()));
                self.part(Part::Boot(made.size, FEEDER_COLOUR), 1, &owner);
                let label = (format!("B{}L {}", place + 1, made.label), made.label.to_string());
                let landing = self.landing(place, label, (fuse, made.rating_a), rating_a, Some(made.size), &owner);
                self.landed.extend(landing.map(|terminal| (place, true, terminal)));
            }
        }
    }
}
