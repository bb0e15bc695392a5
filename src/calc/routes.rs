//! The route graph: shortest chains of runs between stations, the same for the same boat whatever the input's order.
//!
//! Runs that the spec states go before those of the hull form's layout:
//!
//! 1. Between two stations that stated runs join, the route is the shortest chain of those.
//! 2. Any other route is the shortest chain of all runs; where it meets two stations that stated runs join, it is then
//!    laid along those between the first and the last of them.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

use crate::spec::boat::Run;
use crate::spec::input::LengthSource;
use crate::units::Length;

/// The shortest chain of runs from one station to another; empty when both are the same.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Route {
    /// Places of its runs, in order from the start.
    pub runs: Vec<usize>,
    /// Places of its stations, in order, both ends included.
    pub stations: Vec<usize>,
    /// Length on measured runs.
    pub measured: Length,
    /// Length on estimated runs.
    pub estimated: Length,
    /// Whether any of its runs passes through an engine space.
    pub engine_space: bool,
}

impl Route {
    /// Length of its runs.
    pub fn length(&self) -> Length {
        self.measured + self.estimated
    }
}

/// Shortest routes of one boat, found once for each station that a route starts from.
///
/// Of two routes of equal length the one with fewer runs wins, then the one whose last stations come first by name.
#[derive(Debug)]
pub struct Routes<'a> {
    runs: &'a [Run],
    neighbours: Vec<Vec<(usize, usize)>>,
    trees: BTreeMap<(usize, Among), Vec<Option<Reached>>>,
    /// For each station the first of those that stated runs join it to; empty where no run is the layout's.
    joined: Vec<usize>,
}

/// The runs that a tree goes along.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Among {
    /// Those that the spec states.
    Stated,
    /// All.
    All,
}

/// How a station is reached from the start of a tree.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Reached {
    length: Length,
    runs: u32,
    from: usize,
    run: usize,
}

impl<'a> Routes<'a> {
    /// The graph of `stations` stations joined by `runs`.
    pub fn new(stations: usize, runs: &'a [Run]) -> Self {
        let mut neighbours = vec![Vec::new(); stations];
        for (place, run) in runs.iter().enumerate() {
            neighbours[run.a].push((run.b, place));
            neighbours[run.b].push((run.a, place));
        }
        let joined = if runs.iter().any(|run| run.estimate.is_some()) { joined(stations, runs) } else { Vec::new() };
        Routes { runs, neighbours, trees: BTreeMap::new(), joined }
    }

    /// The route from one station to another; `None` when no runs join them.
    pub fn route(&mut self, from: usize, to: usize) -> Option<Route> {
        if self.joined.is_empty() {
            return self.shortest(from, to, Among::All);
        }
        if self.joined[from] == self.joined[to] {
            return self.shortest(from, to, Among::Stated);
        }
        let route = self.shortest(from, to, Among::All)?;
        Some(self.laid_along_stated(route))
    }

    /// The shortest chain of runs from one station to another; `None` when there is none.
    fn shortest(&mut self, from: usize, to: usize, among: Among) -> Option<Route> {
        if !self.trees.contains_key(&(from, among)) {
            let tree = self.tree(from, among);
            self.trees.insert((from, among), tree);
        }
        let tree = &self.trees[&(from, among)];
        let (mut runs, mut stations) = (Vec::new(), vec![to]);
        let mut at = to;
        while at != from {
            let reached = tree[at]?;
            runs.push(reached.run);
            stations.push(reached.from);
            at = reached.from;
        }
        runs.reverse();
        stations.reverse();
        Some(self.measured_up(runs, stations))
    }

    /// The same route with each stretch between stations that stated runs join laid along those.
    fn laid_along_stated(&mut self, route: Route) -> Route {
        let (mut runs, mut stations) = (Vec::new(), vec![route.stations[0]]);
        let mut at = 0;
        while at < route.stations.len() {
            let here = route.stations[at];
            let last = route.stations.iter().rposition(|other| self.joined[*other] == self.joined[here]).unwrap_or(at);
            if let Some(stretch) =
                (last > at).then(|| self.shortest(here, route.stations[last], Among::Stated)).flatten()
            {
                runs.extend(stretch.runs);
                stations.extend(&stretch.stations[1..]);
            }
            if let Some(run) = route.runs.get(last) {
                runs.push(*run);
                stations.push(route.stations[last + 1]);
            }
            at = last + 1;
        }
        self.measured_up(runs, stations)
    }

    /// A chain of runs with what its runs come to.
    fn measured_up(&self, runs: Vec<usize>, stations: Vec<usize>) -> Route {
        let mut route = Route { runs, stations, ..Route::default() };
        for &place in &route.runs {
            let run = &self.runs[place];
            match run.source {
                LengthSource::Measured => route.measured += run.length,
                LengthSource::Estimated => route.estimated += run.length,
            }
            route.engine_space |= run.engine_space;
        }
        route
    }

    /// Shortest ways from one station to all others (Dijkstra 1959).
    fn tree(&self, from: usize, among: Among) -> Vec<Option<Reached>> {
        let mut tree: Vec<Option<Reached>> = vec![None; self.neighbours.len()];
        let mut settled = vec![false; self.neighbours.len()];
        let mut open = BinaryHeap::new();
        open.push(Reverse((Length::ZERO, 0u32, from)));
        while let Some(Reverse((length, runs, at))) = open.pop() {
            if std::mem::replace(&mut settled[at], true) {
                continue;
            }
            for &(next, run) in &self.neighbours[at] {
                if among == Among::Stated && self.runs[run].estimate.is_some() {
                    continue;
                }
                let way = Reached { length: length + self.runs[run].length, runs: runs + 1, from: at, run };
                if !settled[next] && tree[next].is_none_or(|known| way < known) {
                    tree[next] = Some(way);
                    open.push(Reverse((way.length, way.runs, next)));
                }
            }
        }
        tree
    }
}

/// For each station the first, by place, of those that stated runs join it to, itself included.
fn joined(stations: usize, runs: &[Run]) -> Vec<usize> {
    let mut first: Vec<usize> = (0..stations).collect();
    let root = |first: &[usize], mut station: usize| {
        while first[station] != station {
            station = first[station];
        }
        station
    };
    for run in runs.iter().filter(|run| run.estimate.is_none()) {
        let (a, b) = (root(&first, run.a), root(&first, run.b));
        first[a.max(b)] = a.min(b);
    }
    (0..stations).map(|station| root(&first, station)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::boat::{Estimate, InTube};
    use crate::spec::input::Access;

    fn run(a: usize, b: usize, feet: f64) -> Run {
        Run {
            a,
            b,
            length: Length::feet(feet),
            source: LengthSource::Measured,
            access: Access::Open,
            engine_space: false,
            inside_diameter: None,
            already: InTube::default(),
            bulkheads: 0,
            estimate: None,
        }
    }

    fn of_layout(a: usize, b: usize, feet: f64) -> Run {
        let more = Length::feet(feet);
        let estimate = Some(Estimate::Sizes { of_length: 0.0, of_beam: 0.0, of_depth: 0.0, more });
        Run { source: LengthSource::Estimated, estimate, ..run(a, b, feet) }
    }

    #[test]
    fn the_shortest_chain_wins_and_a_station_without_a_run_is_not_reached() {
        let runs = [run(0, 1, 4.0), run(1, 2, 4.0), run(0, 2, 9.0), run(0, 3, 1.0)];
        let mut routes = Routes::new(5, &runs);
        let route = routes.route(0, 2).unwrap();
        assert_eq!(route.stations, [0, 1, 2]);
        assert_eq!(route.length(), Length::feet(8.0));
        assert_eq!(routes.route(2, 2).unwrap().length(), Length::ZERO);
        assert_eq!(routes.route(0, 4), None);
    }

    #[test]
    fn of_equal_lengths_the_chain_of_fewer_runs_wins() {
        let runs = [run(0, 1, 4.0), run(0, 2, 8.0), run(1, 2, 4.0)];
        assert_eq!(Routes::new(3, &runs).route(0, 2).unwrap().runs, [1]);
    }

    #[test]
    fn a_stated_run_wins_over_a_shorter_way_through_the_layout() {
        let runs = [of_layout(0, 1, 2.0), of_layout(1, 2, 2.0), run(0, 2, 14.0), of_layout(2, 3, 9.0)];
        let mut routes = Routes::new(4, &runs);
        assert_eq!(routes.route(0, 2).unwrap().runs, [2]);
        // Beyond it too: the shortest chain to 3 would go by 1.
        let route = routes.route(0, 3).unwrap();
        assert_eq!((route.runs, route.stations), (vec![2, 3], vec![0, 2, 3]));
        assert_eq!((route.measured, route.estimated), (Length::feet(14.0), Length::feet(9.0)));
        // A way that meets only one end of it stays as short as it is.
        assert_eq!(routes.route(0, 1).unwrap().runs, [0]);
    }
}
