//! The plan of a network: tee stations in order, spans, drops, and where it is fed.

use std::collections::BTreeMap;

use super::backbone::{self, EXACT_MOST, Place, Question};
use super::devices::{Device, devices};
use super::feed::{Feed, feed};
use super::sold::{self, Piece};
use super::way::{Way, exact};
use crate::findings::{Fault, Warning};
use crate::routes::Routes;
use crate::rules::network::limits;
use crate::shop::item::NetworkClass;
use crate::shop::settings::Settings;
use crate::spec::boat::{Boat, Equipment};
use crate::units::{Length, Name};

/// A stretch of the backbone between two tee stations.
#[derive(Clone, Debug)]
pub struct Span {
    /// Its way.
    pub way: Way,
    /// The cables that it is made of.
    pub pieces: Vec<Piece>,
}

impl Span {
    /// Its length as the limits are reckoned with.
    pub fn planned(&self) -> Length {
        self.pieces.iter().map(|piece| piece.planned).sum()
    }
}

/// How a device hangs on the backbone.
#[derive(Clone, Debug)]
pub struct Hung {
    /// The device.
    pub device: Device,
    /// Place of its tee along the backbone.
    pub tee: usize,
    /// The way of its drop; `None` for one that is screwed on its tee.
    pub drop: Option<Way>,
    /// Length of the drop as the limits are reckoned with.
    pub planned: Length,
    /// The drop cable that is needed; `None` where the device's own reaches, where it needs none, and where none is kept.
    pub bought: Option<Piece>,
}

/// A network that is laid.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Class of its backbone cable.
    pub class: NetworkClass,
    /// Tee stations in order along the backbone, by place of the station.
    pub tees: Vec<usize>,
    /// Spans between them.
    pub spans: Vec<Span>,
    /// Devices in canonical order.
    pub hung: Vec<Hung>,
    /// Whether no other backbone takes less cable.
    pub proved: bool,
    /// Where it is fed; `None` where no panel of 12 V can.
    pub feed: Option<Feed>,
}

impl Plan {
    /// Sum of the devices' load equivalency numbers.
    pub fn load_equivalency(&self) -> u32 {
        self.hung.iter().map(|hung| u32::from(hung.device.load_equivalency)).sum()
    }

    /// Length along the backbone between two of its tee stations, as the limits are reckoned with.
    pub fn between(&self, a: usize, b: usize) -> Length {
        self.spans[a.min(b)..a.max(b)].iter().map(Span::planned).sum()
    }

    /// The longest drop at a tee station.
    pub fn longest_drop_at(&self, tee: usize) -> Length {
        self.hung.iter().filter(|hung| hung.tee == tee).map(|hung| hung.planned).max().unwrap_or_default()
    }
}

/// What planning came to.
#[derive(Clone, Debug, Default)]
pub struct Planned {
    /// The network; `None` where none is laid.
    pub plan: Option<Plan>,
    /// Its power tap as a piece of equipment, to be wired like any other.
    pub tap: Option<Equipment>,
    /// What is unwise.
    pub warnings: Vec<Warning>,
}

/// Lays the network of a boat that has one: where two devices or more are on it, or where the spec asks for it.
///
/// # Errors
/// A fault for each device that no run leads to.
pub fn plan(boat: &Boat, settings: &Settings) -> Result<Planned, Vec<Fault>> {
    let devices = devices(boat);
    if devices.is_empty() {
        let message =
            "the spec asks something of a data network, and nothing aboard is on one: none is laid".to_owned();
        let warning = Warning { about: Name::from("network"), message };
        return Ok(Planned {
            warnings: boat.network.asked.then_some(warning).into_iter().collect(),
            ..Planned::default()
        });
    }
    if devices.len() < 2 && !boat.network.asked && boat.network.gateway.is_none() {
        return Ok(Planned::default());
    }
    let mut routes = Routes::new(boat.stations.len(), &boat.runs);
    let faults = unreached(boat, &devices, &mut routes);
    if !faults.is_empty() {
        return Err(faults);
    }
    let laying = Laying { boat, settings, stations: stations(boat, &devices, &mut routes) };
    let mut plan = laying.plan(devices, &mut routes);
    plan.feed = feed(&plan, boat, settings, &mut routes);
    let tap = plan.feed.as_ref().map(|feed| feed.equipment(&plan));
    let mut warnings = Vec::new();
    if !plan.proved {
        let message = format!(
            "its tees stand at more than {EXACT_MOST} stations: the order of the backbone was improved and not proven the shortest"
        );
        warnings.push(Warning { about: Name::from("network"), message });
    }
    Ok(Planned { plan: Some(plan), tap, warnings })
}

/// Faults of devices that no run leads to from the first.
fn unreached(boat: &Boat, devices: &[Device], routes: &mut Routes) -> Vec<Fault> {
    let from = devices[0].station;
    let id = |station: usize| &boat.stations[station].id;
    let apart = devices.iter().filter(|device| routes.route(from, device.station).is_none());
    let message = |to: usize| {
        format!("no run leads from '{}' to '{}': add the runs that network cable takes to /boat/runs", id(from), id(to))
    };
    let mut faults: Vec<Fault> = apart.map(|device| Fault::new(&*device.pointer, message(device.station))).collect();
    if let Some(tap) = boat.network.power_station.filter(|tap| routes.route(from, *tap).is_none()) {
        faults.push(Fault::new("/network/power_station", message(tap)));
    }
    faults
}

/// Stations at which tees can stand, in order: those with devices, that of the tap where it is named, and those at which
/// the ways between these part, as long as all can be searched.
fn stations(boat: &Boat, devices: &[Device], routes: &mut Routes) -> Vec<usize> {
    let mut own: Vec<usize> = devices.iter().map(|device| device.station).chain(boat.network.power_station).collect();
    own.sort_unstable();
    own.dedup();
    let mut joined: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (at, &from) in own.iter().enumerate() {
        for &to in &own[at + 1..] {
            for &run in routes.route(from, to).iter().flat_map(|route| &route.runs) {
                for end in [boat.runs[run].a, boat.runs[run].b] {
                    let runs = joined.entry(end).or_default();
                    if !runs.contains(&run) {
                        runs.push(run);
                    }
                }
            }
        }
    }
    let forks = joined.into_iter().filter(|(station, runs)| runs.len() > 2 && !own.contains(station));
    let room = EXACT_MOST.saturating_sub(own.len());
    let forks: Vec<usize> = forks.map(|(station, _)| station).take(room).collect();
    own.extend(forks);
    own.sort_unstable();
    own
}

struct Laying<'a> {
    boat: &'a Boat,
    settings: &'a Settings,
    stations: Vec<usize>,
}

impl Laying<'_> {
    fn span(&self, routes: &mut Routes, from: usize, to: usize) -> Way {
        let slack = exact(self.settings.service_loop_device);
        Way::along(routes, (from, to), Length::ZERO, slack, self.settings).unwrap_or_default()
    }

    /// The way of a drop from a tee at one station to a device at another.
    fn drop(&self, routes: &mut Routes, tee: usize, device: usize) -> Way {
        let (rise, slack) = (self.boat.stations[device].rise, exact(self.settings.service_loop_device));
        Way::along(routes, (tee, device), rise, slack, self.settings).unwrap_or_default()
    }

    fn question(&self, devices: &[Device], routes: &mut Routes) -> Question {
        let here = |station: usize| devices.iter().filter(move |device| device.station == station);
        let places = self.stations.iter().map(|&station| Place {
            devices: here(station).filter(|device| !device.on_tee).count() as u32,
            needed: here(station).any(|device| device.on_tee) || self.boat.network.power_station == Some(station),
        });
        let most = self.longest_drop();
        let mut spans = Vec::new();
        let mut drops = Vec::new();
        for &from in &self.stations {
            let span = |routes: &mut Routes, to| {
                let way = self.span(routes, from, to);
                // Its slack would make a long drop look better than a longer backbone.
                way.needed - way.slack
            };
            spans.push(self.stations.iter().map(|&to| span(routes, to)).collect());
            let drop = |routes: &mut Routes, to| Some(self.drop(routes, from, to).needed).filter(|long| *long <= most);
            drops.push(self.stations.iter().map(|&to| drop(routes, to)).collect());
        }
        Question { places: places.collect(), spans, drops, drops_max: limits().drops_max }
    }

    /// The longest kept cable that a drop may be.
    fn longest_drop(&self) -> Length {
        let most = limits().drop_max;
        let kept = self.settings.network.cable_lengths.iter().map(|kept| exact(*kept));
        kept.filter(|kept| *kept <= most).max().unwrap_or(most)
    }

    fn plan(&self, devices: Vec<Device>, routes: &mut Routes) -> Plan {
        let line = backbone::least(&self.question(&devices, routes));
        let tees: Vec<usize> = line.order.iter().map(|place| self.stations[*place]).collect();
        let spans = tees.windows(2).map(|pair| {
            let way = self.span(routes, pair[0], pair[1]);
            let pieces = sold::span(way.needed, &self.settings.network);
            Span { way, pieces }
        });
        let spans = spans.collect();
        let hung = devices.into_iter().map(|device| {
            let place = self.stations.iter().position(|station| *station == device.station).unwrap_or_default();
            let hub = line.hubs[place];
            let tee = line.order.iter().position(|on| *on == hub).unwrap_or_default();
            self.hang(device, tee, tees[tee], routes)
        });
        let hung = hung.collect();
        let class = self.boat.network.cable.unwrap_or(self.settings.network.cable);
        Plan { class, tees, spans, hung, proved: line.proved, feed: None }
    }

    fn hang(&self, device: Device, tee: usize, station: usize, routes: &mut Routes) -> Hung {
        if device.on_tee {
            return Hung { device, tee, drop: None, planned: Length::ZERO, bought: None };
        }
        let way = self.drop(routes, station, device.station);
        let own = device.supplied.filter(|own| *own >= way.needed && *own <= limits().drop_max);
        let bought = match own {
            Some(_) => None,
            None => sold::single(way.needed, &self.settings.network, Some(limits().drop_max)),
        };
        let planned = own.or(bought.map(|piece| piece.planned)).unwrap_or(way.needed);
        Hung { device, tee, drop: Some(way), planned, bought }
    }
}
