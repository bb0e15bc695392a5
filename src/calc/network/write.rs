//! The network written out: the take-off's section with why, what is needed and counted, and what is told.

use super::devices::GATEWAY;
use super::displays::{Link, links};
use super::feed::Feed;
use super::limits::{Backbone, built_in, drops, gaps};
use super::plan::{Hung, Plan};
use super::{POWER, power_key};
use crate::basis::Ledger;
use crate::findings::{Caution, Gap, Warning};
use crate::gathering::{Part, millimetres_up, thousandths};
use crate::rules::network::{GATEWAY_LEN, cable, limits};
use crate::rules::table::network as rules;
use crate::shop::item::NetworkClass;
use crate::shop::labour::Driver;
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::take_off::{
    Circuit, DisplayLink, Network, NetworkDevice, NetworkDrop, NetworkFeed, NetworkLeg, NetworkPower, NetworkSpan,
};
use crate::units::{Length, LengthUnit, LengthValue, Name, rounded};

/// What is measured on every network before it is used.
const RESISTANCE: Caution = Caution {
    id: "network_resistance",
    text: "Before the data network is powered, measure about 60 Ω between its two data wires: two terminators of 120 Ω side by \
           side. Ground its shield and negative at one point only, and feed it from no start battery, thruster or autopilot.",
    source: "a network cable maker's installation guide (NMEA 2000); the 120 Ω from memory",
};

/// What the network comes to beside its circuit.
#[derive(Default)]
pub struct NetworkSide {
    /// The take-off's section.
    pub network: Option<Network>,
    /// What it is made of: what, how many, and who needs it.
    pub parts: Vec<(Part, u32, Name)>,
    /// What labour counts of it.
    pub counts: Vec<(Driver, u32)>,
    /// Runs that its cables go through, each with the label of the cable.
    pub through: Vec<(usize, Name)>,
    /// Limits that it breaks.
    pub gaps: Vec<Gap>,
    /// What is unwise.
    pub warnings: Vec<Warning>,
    /// What can hurt.
    pub cautions: Vec<Caution>,
}

/// Writes a plan out, once its circuit is written.
pub fn network_side(
    plan: Option<&Plan>,
    boat: &Boat,
    circuits: &[Circuit],
    settings: &Settings,
    ledger: &mut Ledger,
) -> NetworkSide {
    let Some(plan) = plan else { return NetworkSide::default() };
    let mut writing = Writing { plan, boat, settings, ledger, side: NetworkSide::default() };
    let spans = writing.spans();
    let devices = writing.devices();
    let display_links =
        links(boat, settings).into_iter().enumerate().map(|(at, link)| writing.link(at, link)).collect();
    let power = plan.feed.as_ref().map(|feed| writing.power(feed, circuits));
    let network = writing.network(spans, devices, power, display_links);
    let mut side = writing.side;
    side.network = Some(network);
    side.gaps = gaps(plan, boat);
    side.cautions.push(RESISTANCE);
    side
}

struct Writing<'a, 'l> {
    plan: &'a Plan,
    boat: &'a Boat,
    settings: &'a Settings,
    ledger: &'l mut Ledger,
    side: NetworkSide,
}

/// Who needs what belongs to no device.
fn owner() -> Name {
    Name::from("network")
}

impl Writing<'_, '_> {
    fn written(&self, length: Length) -> LengthValue {
        length.written(self.settings.length_unit)
    }

    fn station(&self, tee: usize) -> Name {
        self.boat.stations[self.plan.tees[tee]].id.clone()
    }

    fn part(&mut self, part: Part, count: u32, owner: &Name) {
        if count > 0 {
            self.side.parts.push((part, count, owner.clone()));
        }
    }

    fn cable(&mut self, class: NetworkClass, least: Length, planned: Length, owner: &Name) {
        let (min_mm, max_mm) = (millimetres_up(least), millimetres_up(planned));
        self.part(Part::NetworkCable { class, min_mm, max_mm }, 1, owner);
    }

    fn through(&mut self, runs: &[usize], label: &Name) {
        self.side.through.extend(runs.iter().map(|run| (*run, label.clone())));
    }

    fn spans(&mut self) -> Vec<NetworkSpan> {
        let mut written = Vec::new();
        for (at, span) in self.plan.spans.iter().enumerate() {
            let label = Name::from(format!("N{}", at + 1));
            for piece in &span.pieces {
                self.cable(self.plan.class, piece.least, piece.planned, &owner());
            }
            self.through(&span.way.runs, &label);
            written.push(NetworkSpan {
                label,
                route: span.way.route(self.boat),
                needed_length: self.written(span.way.needed),
                pieces: span.pieces.iter().map(|piece| piece.planned.written(LengthUnit::M)).collect(),
                length_source: span.way.length_source(),
                basis: span.way.note(self.settings, self.ledger),
            });
        }
        written
    }

    fn devices(&mut self) -> Vec<NetworkDevice> {
        let plan = self.plan;
        let mut written = Vec::new();
        let mut drops = 0;
        for hung in &plan.hung {
            let Hung { device, tee, drop, planned, bought } = hung;
            let drop = drop.as_ref().map(|way| {
                drops += 1;
                let label = Name::from(format!("D{drops}"));
                if let Some(piece) = bought {
                    // Drops are light whatever the backbone is.
                    self.cable(NetworkClass::Light, piece.least, piece.planned, &device.key);
                }
                self.through(&way.runs, &label);
                NetworkDrop {
                    label,
                    route: way.route(self.boat),
                    needed_length: self.written(way.needed),
                    planned_length: planned.written(LengthUnit::M),
                    supplied: bought.is_none() && device.supplied.is_some_and(|own| own >= way.needed),
                    length_source: way.length_source(),
                    basis: way.note(self.settings, self.ledger),
                }
            });
            if device.key.as_str() == GATEWAY {
                self.part(Part::EngineGateway(GATEWAY_LEN), 1, &device.key);
            }
            written.push(NetworkDevice {
                equipment: device.key.clone(),
                station: self.boat.stations[device.station].id.clone(),
                tee_station: self.station(*tee),
                load_equivalency: device.load_equivalency,
                drop,
            });
        }
        written
    }

    fn link(&mut self, at: usize, link: Link) -> DisplayLink {
        let label = Name::from(format!("L{}", at + 1));
        let Link { plug, from, to, way } = link;
        let min_mm = millimetres_up(way.needed);
        self.part(Part::DisplayCable { plug: plug.clone(), min_mm }, 1, &from);
        self.through(&way.runs, &label);
        DisplayLink {
            label,
            plug,
            from,
            to,
            route: way.route(self.boat),
            needed_length: self.written(way.needed),
            basis: way.note(self.settings, self.ledger),
        }
    }

    fn power(&mut self, feed: &Feed, circuits: &[Circuit]) -> NetworkPower {
        let plan = self.plan;
        let rating_ma = thousandths(feed.fuse_a.unwrap_or(feed.current_a));
        self.part(Part::NetworkPowerTap { connector: plan.class.connector(), rating_ma }, 1, &power_key());
        self.side.counts.push((Driver::NetworkPowerTap, 1));
        let panel = &self.boat.panels[feed.panel];
        let bank = &self.boat.banks[panel.bank];
        if bank.starts_engine {
            let message = format!("it is fed from '{}', which starts the engine: feed it from another bank", bank.id);
            self.side.warnings.push(Warning { about: power_key(), message });
        }
        // Without a size of its own circuit the tap is reckoned to have what the bank gives; that gap is told anyway.
        let circuit = circuits.iter().find(|circuit| circuit.key.as_str() == POWER);
        let tap_v = circuit.map_or(bank.nominal_voltage_v, |circuit| circuit.loaded_voltage_v);
        let legs = feed.legs.iter().map(|leg| {
            let inputs = [
                ("load_equivalency", f64::from(leg.load_equivalency).into()),
                ("length_m", leg.length.m().into()),
                ("ohm_per_m", cable(plan.class).ohm_per_m.into()),
            ];
            let basis = self.ledger.note(&rules::DROP, &inputs, leg.drop_v);
            let end_v = tap_v - leg.drop_v;
            let inputs = [("tap_voltage_v", tap_v.into()), ("drop_v", leg.drop_v.into())];
            NetworkLeg {
                to: self.station(leg.to),
                load_equivalency: leg.load_equivalency,
                length: self.written(leg.length),
                drop_v: rounded(leg.drop_v, 3),
                basis,
                end_voltage_v: rounded(end_v, 3),
                voltage_basis: self.ledger.note(&rules::END_VOLTAGE, &inputs, end_v),
            }
        });
        NetworkPower {
            circuit: power_key(),
            legs: legs.collect(),
            station: self.boat.stations[feed.station].id.clone(),
            panel: panel.id.clone(),
            feed: if feed.at_end(plan) { NetworkFeed::End } else { NetworkFeed::Middle },
            drop_limit_v: limits().voltage_drop_v_max,
        }
    }

    fn network(
        &mut self,
        spans: Vec<NetworkSpan>,
        devices: Vec<NetworkDevice>,
        power: Option<NetworkPower>,
        display_links: Vec<DisplayLink>,
    ) -> Network {
        let (plan, class) = (self.plan, cable(self.plan.class));
        let backbone = Backbone::of(plan);
        let inputs = [
            ("spans_m", backbone.spans.m().into()),
            ("first_drop_m", backbone.first_drop.m().into()),
            ("last_drop_m", backbone.last_drop.m().into()),
        ];
        let backbone_basis = self.ledger.note(&rules::BACKBONE, &inputs, backbone.length().m());
        let of_class = [("class", plan.class.word().into())];
        let backbone_limit_basis = self.ledger.note(&rules::BACKBONE_LIMIT, &of_class, class.backbone_m_max);
        let current_limit_basis = self.ledger.note(&rules::CURRENT_LIMIT, &of_class, class.current_a_max);
        let (longest, others) = drops(plan);
        let inputs = [("longest_m", longest.m().into()), ("others_m", others.m().into())];
        let drops_basis = self.ledger.note(&rules::DROPS, &inputs, (longest + others).m());
        let load_equivalency = plan.load_equivalency();
        let current_a = limits().current_of_len_a * f64::from(load_equivalency);
        let inputs = [("load_equivalency", f64::from(load_equivalency).into())];
        let current_basis = self.ledger.note(&rules::LOAD, &inputs, current_a);
        let number = devices.len() as u32;
        let tees = number + 1;
        let tees_basis = self.ledger.note(&rules::TEES, &[("devices", f64::from(number).into())], f64::from(tees));
        let built_in = built_in(plan);
        let terminators = limits().terminators - built_in;
        let inputs = [("built_in", f64::from(built_in).into())];
        let terminators_basis = self.ledger.note(&rules::TERMINATORS, &inputs, f64::from(terminators));
        let connector = plan.class.connector();
        self.part(Part::NetworkTee(connector), tees, &owner());
        self.part(Part::NetworkTerminator(connector), terminators, &owner());
        self.side.counts.push((Driver::NetworkTee, tees));
        let limit = Length::new(class.backbone_m_max, LengthUnit::M).unwrap_or_default();
        Network {
            cable: plan.class,
            connector,
            tee_stations: (0..plan.tees.len()).map(|tee| self.station(tee)).collect(),
            proved: plan.proved,
            spans,
            devices,
            backbone_length: self.written(backbone.length()),
            backbone_basis,
            backbone_limit: self.written(limit),
            backbone_limit_basis,
            drops_length: self.written(longest + others),
            drops_limit: self.written(limits().drops_max),
            drops_basis,
            load_equivalency,
            current_a: rounded(current_a, 3),
            current_basis,
            current_limit_a: class.current_a_max,
            current_limit_basis,
            tees,
            tees_basis,
            terminators,
            terminators_basis,
            power,
            display_links,
        }
    }
}
