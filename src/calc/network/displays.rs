//! Cables of a maker's own network between his displays: one chain for each plug, of least length.

use std::collections::BTreeMap;

use super::backbone::{Place, Question, least};
use super::way::{Way, exact};
use crate::routes::Routes;
use crate::shop::item::Attributes;
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::units::{Length, Name};

/// One cable from a display to the next.
#[derive(Clone, Debug)]
pub struct Link {
    /// Plug.
    pub plug: Name,
    /// Key of the display at one end.
    pub from: Name,
    /// Key of the display at the other end.
    pub to: Name,
    /// Its way.
    pub way: Way,
}

/// A display by place of its station and key.
type Display = (usize, Name);

/// The cables between displays that have the same plug.
pub fn links(boat: &Boat, settings: &Settings) -> Vec<Link> {
    let mut by_plug: BTreeMap<&str, Vec<Display>> = BTreeMap::new();
    for piece in &boat.equipment {
        if let (Attributes::Device { data_network: Some(on), .. }, Some(station)) =
            (&piece.item.attributes, piece.station)
            && let Some(plug) = &on.display_plug
        {
            by_plug.entry(plug).or_default().push((station, piece.key.clone()));
        }
    }
    by_plug.retain(|_, displays| displays.len() > 1);
    if by_plug.is_empty() {
        return Vec::new();
    }
    let mut routes = Routes::new(boat.stations.len(), &boat.runs);
    by_plug.into_iter().flat_map(|(plug, displays)| chain(plug, displays, boat, settings, &mut routes)).collect()
}

fn chain(plug: &str, displays: Vec<Display>, boat: &Boat, settings: &Settings, routes: &mut Routes) -> Vec<Link> {
    let slack = exact(settings.service_loop_device) * 2;
    let rise = |station: usize| boat.stations[station].rise;
    let mut way = |from: usize, to: usize| {
        let rises = if from == to { Length::ZERO } else { rise(from) + rise(to) };
        Way::along(routes, (from, to), rises, slack, settings)
    };
    let mut stations: Vec<usize> = displays.iter().map(|(station, _)| *station).collect();
    stations.sort_unstable();
    stations.dedup();
    let spans = stations
        .iter()
        .map(|&from| stations.iter().map(|&to| way(from, to).unwrap_or_default().needed).collect::<Vec<_>>());
    let question = Question {
        places: vec![Place { devices: 0, needed: true }; stations.len()],
        spans: spans.collect(),
        drops: vec![vec![None; stations.len()]; stations.len()],
        drops_max: Length::ZERO,
    };
    let order = least(&question).order;
    let along = |(station, _): &Display| order.iter().position(|place| stations[*place] == *station);
    let mut displays = displays;
    displays.sort_by(|a, b| (along(a), &a.1).cmp(&(along(b), &b.1)));
    let pairs = displays.windows(2).filter_map(|pair| {
        let way = way(pair[0].0, pair[1].0)?;
        Some(Link { plug: Name::from(plug), from: pair[0].1.clone(), to: pair[1].1.clone(), way })
    });
    pairs.collect()
}
