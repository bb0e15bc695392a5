//! The route graph: shortest chains of runs between stations, the same for the same boat whatever the input's order.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

use crate::calc::spec::boat::Run;
use crate::calc::spec::input::LengthSource;
use crate::calc::units::Length;

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
    trees: BTreeMap<usize, Vec<Option<Reached>>>,
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
        Routes { runs, neighbours, trees: BTreeMap::new() }
    }

    /// The shortest route from one station to another; `None` when no runs join them.
    pub fn route(&mut self, from: usize, to: usize) -> Option<Route> {
        if !self.trees.contains_key(&from) {
            let tree = self.tree(from);
            self.trees.insert(from, tree);
        }
        let tree = &self.trees[&from];
        let mut route = Route { stations: vec![to], ..Route::default() };
        let mut at = to;
        while at != from {
            let reached = tree[at]?;
            let run = &self.runs[reached.run];
            match run.source {
                LengthSource::Measured => route.measured += run.length,
                LengthSource::Estimated => route.estimated += run.length,
            }
            route.engine_space |= run.engine_space;
            route.runs.push(reached.run);
            route.stations.push(reached.from);
            at = reached.from;
        }
        route.runs.reverse();
        route.stations.reverse();
        Some(route)
    }

    /// Shortest ways from one station to all others (Dijkstra 1959).
    fn tree(&self, from: usize) -> Vec<Option<Reached>> {
        let mut tree: Vec<Option<Reached>> = vec![None; self.neighbours.len()];
        let mut settled = vec![false; self.neighbours.len()];
        let mut open = BinaryHeap::new();
        open.push(Reverse((Length::ZERO, 0u32, from)));
        while let Some(Reverse((length, runs, at))) = open.pop() {
            if std::mem::replace(&mut settled[at], true) {
                continue;
            }
            for &(next, run) in &self.neighbours[at] {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::spec::input::Access;

    fn run(a: usize, b: usize, feet: f64) -> Run {
        Run {
            a,
            b,
            length: Length::feet(feet),
            source: LengthSource::Measured,
            access: Access::Open,
            engine_space: false,
            inside_diameter: None,
        }
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
}
