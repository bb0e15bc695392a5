//! The search itself: down the order of decision, with floors to cut off by and step functions for what lies deep.

use std::borrow::Cow;

use smallvec::SmallVec;

use super::order::{Grows, Order};
use super::place_costs::{PlaceCosts, Range};
use super::steps::{Steps, Summing};
use super::{Cost, Place, Problem};
use crate::units::within;

/// Decisions above a subtree from which it is summed up as a step function where it can be.
pub const SUMMED_FROM: usize = 2;
/// Steps of each part that a mere bound is made of.
const BOUND_STEPS: usize = 64;
/// Sizes that may be tried, and steps that may be built, before the search gives up.
pub const WORK_MAX: usize = 1_000_000;

/// How a search ended.
pub(super) enum Found {
    /// With the place of the size of each variable.
    Least(Vec<usize>),
    /// No choice keeps all own limits.
    Nothing,
    /// At the bound of work, with a choice that need not be the least and may break an own limit.
    OutOfWork(Vec<usize>),
}

/// Searches.
pub(super) fn search(problem: &Problem) -> Found {
    let order = Order::of(problem);
    let mut search = Search::new(problem, &order);
    for &root in &order.roots {
        if !search.nothing {
            search.assign(root);
        }
    }
    if search.work > WORK_MAX {
        Found::OutOfWork(search.chosen)
    } else if search.nothing {
        Found::Nothing
    } else {
        Found::Least(search.chosen)
    }
}

/// What the search knows of a node beforehand.
#[derive(Default)]
struct Known {
    /// Sizes that the own limits which hang on this variable alone leave.
    allowed: Vec<usize>,
    /// Places whose own limit hangs on this variable and on some above.
    own: Vec<usize>,
    /// No choice at or below it costs less.
    floor: Cost,
    /// The same without its own variable.
    rest: Cost,
    /// No choice at or below it costs less than this, by the least that the feeders above take of any of its places.
    summary: Option<Steps>,
    /// Whether some choice costs just that.
    exact: bool,
    /// Whether the decisions above it take the same of all its places.
    alike: bool,
}

struct Search<'a> {
    problem: &'a Problem,
    order: &'a Order,
    costs: Vec<PlaceCosts<'a>>,
    known: Vec<Known>,
    /// Of each place, what the variables decided so far take: positives and returns together, returns alone, volts.
    taken_v: Vec<(f64, f64)>,
    saved_v: Vec<(f64, f64)>,
    chosen: Vec<usize>,
    work: usize,
    nothing: bool,
}

impl<'a> Search<'a> {
    fn new(problem: &'a Problem, order: &'a Order) -> Self {
        let fixed = |place: &Place| (place.fixed_v.0 + place.fixed_v.1, place.fixed_v.1);
        // The least and the most that the feeders of each place can take.
        let range = |place: &Place| {
            let (mut least, mut most) = (fixed(place), fixed(place));
            for &variable in &place.positives {
                let sizes = &problem.variables[variable].sizes;
                least.0 += sizes.iter().map(|size| size.positive_v).fold(f64::INFINITY, f64::min);
                most.0 += sizes.iter().map(|size| size.positive_v).fold(0.0, f64::max);
            }
            for &variable in &place.returns {
                let sizes = &problem.variables[variable].sizes;
                let (low, high) = (
                    sizes.iter().map(|size| size.return_v).fold(f64::INFINITY, f64::min),
                    sizes.iter().map(|size| size.return_v).fold(0.0, f64::max),
                );
                least = (least.0 + low, least.1 + low);
                most = (most.0 + high, most.1 + high);
            }
            // A hair wider than the sums of either order of adding.
            let wider = |(a, b): (f64, f64), by: f64| (a * (1.0 + by), b * (1.0 + by));
            (wider(least, -1e-9), wider(most, 1e-9))
        };
        let ranges: Vec<_> = problem.places.iter().map(range).collect();
        let mut search = Search {
            problem,
            order,
            costs: problem.places.iter().zip(&ranges).map(|(place, range)| PlaceCosts::of(place, *range)).collect(),
            known: order.nodes.iter().map(|_| Known::default()).collect(),
            taken_v: problem.places.iter().map(fixed).collect(),
            saved_v: Vec::new(),
            chosen: vec![0; problem.variables.len()],
            work: 0,
            nothing: false,
        };
        for at in 0..order.nodes.len() {
            search.own_limits(at);
        }
        let mut ways: Vec<Vec<(usize, Grows)>> = vec![Vec::new(); order.nodes.len()];
        for (at, node) in order.nodes.iter().enumerate() {
            for &child in &node.children {
                let here = node.grows.iter().map(|grows| (node.variable, *grows));
                let below = &order.nodes[child].places;
                let way = ways[at].iter().copied().chain(here);
                ways[child] = way.filter(|(_, grows)| below.contains(&grows.place)).collect();
            }
        }
        // Children stand after their parents, so from the last to the first.
        for at in (0..order.nodes.len()).rev() {
            search.know(at, &ways[at], &ranges);
        }
        search
    }

    fn own_limits(&mut self, at: usize) {
        let node = &self.order.nodes[at];
        let sizes = &self.problem.variables[node.variable].sizes;
        let (mut alone, mut shared) = (Vec::new(), Vec::new());
        for &place in &node.ready {
            let Some(own) = &self.problem.places[place].own else { continue };
            let mut variables = own.positives.iter().chain(&own.returns);
            if variables.all(|variable| *variable == node.variable) { alone.push(own) } else { shared.push(place) }
        }
        let keeps = |size: usize, own: &super::OwnLimit| {
            let positive_v = if own.positives.is_empty() { 0.0 } else { sizes[size].positive_v };
            let return_v = if own.returns.is_empty() { 0.0 } else { sizes[size].return_v };
            within(positive_v + return_v, own.limit_v)
        };
        self.known[at].allowed = (0..sizes.len()).filter(|size| alone.iter().all(|own| keeps(*size, own))).collect();
        self.known[at].own = shared;
    }

    /// Floor and step function of a node whose children are known.
    fn know(&mut self, at: usize, way: &[(usize, Grows)], ranges: &[Range]) {
        let node = &self.order.nodes[at];
        let sizes = &self.problem.variables[node.variable].sizes;
        let cheapest = self.known[at].allowed.first().map_or(0, |size| sizes[*size].copper);
        let below: Cost = node.children.iter().map(|child| self.known[*child].floor).sum();
        let here: Cost = node.ready.iter().map(|place| self.costs[*place].at(ranges[*place].0)).sum();
        self.known[at].rest = here + below;
        self.known[at].floor = Cost::of(cheapest) + here + below;
        self.known[at].alike = self.alike_above(at, way);
        self.known[at].exact = self.exact(at);
        self.nothing |= self.known[at].allowed.is_empty();
        // Near the bank what can be asked of a subtree is little, and the subtree is large: it is asked and not summed.
        let summed_from = if self.known[at].exact { SUMMED_FROM } else { 1 };
        if !self.nothing && node.depth >= summed_from {
            self.known[at].summary = Some(self.summary(at, way, ranges));
        } else {
            self.known[at].exact = false;
        }
    }

    /// Whether the decisions above a node take the same of all its places.
    fn alike_above(&self, at: usize, way: &[(usize, Grows)]) -> bool {
        let places = &self.order.nodes[at].places;
        let fixed_v = self.taken_v[places[0]].0;
        let of = |place: usize| {
            way.iter().filter(move |(_, grows)| grows.place == place).map(|(v, g)| (v, g.positive, g.negative))
        };
        places.iter().all(|place| self.taken_v[*place].0 == fixed_v && of(*place).eq(of(places[0])))
    }

    /// Whether the step function of a node is what it costs and no mere bound.
    fn exact(&self, at: usize) -> bool {
        let node = &self.order.nodes[at];
        let plain = |place: &usize| self.costs[*place].both.is_empty() && self.costs[*place].returns.is_nothing();
        self.known[at].alike
            && self.known[at].own.is_empty()
            && node.ready.iter().all(plain)
            && node.children.iter().all(|child| self.known[*child].exact)
    }

    /// Whether positive and return of a node's variable are in the way of each place that it leaves ready and of each
    /// child, in this order; of a child's places the least.
    fn part_takes(&self, at: usize) -> Vec<(bool, bool)> {
        let node = &self.order.nodes[at];
        let of = |place: &usize| {
            let grows = node.grows.iter().find(|grows| grows.place == *place);
            grows.map_or((false, false), |grows| (grows.positive, grows.negative))
        };
        let least = |places: &Vec<usize>| places.iter().map(of).fold((true, true), |a, b| (a.0 && b.0, a.1 && b.1));
        let children = node.children.iter().map(|child| least(&self.order.nodes[*child].places));
        node.ready.iter().map(of).chain(children).collect()
    }

    fn summary(&mut self, at: usize, way: &[(usize, Grows)], ranges: &[Range]) -> Steps {
        let node = &self.order.nodes[at];
        let takes_v = |(positive, negative): (bool, bool), size: &super::FeederSize| {
            f64::from(u8::from(positive)) * size.positive_v + f64::from(u8::from(negative)) * size.return_v
        };
        // What the decisions above can leave its places with.
        let (mut from_v, mut to_v) = (f64::INFINITY, 0.0);
        for &place in &node.places {
            let (mut low_v, mut high_v) = (self.taken_v[place].0, self.taken_v[place].0);
            for (variable, grows) in way.iter().filter(|(_, grows)| grows.place == place) {
                let drops = self.problem.variables[*variable].sizes.iter();
                let drops = drops.map(|size| takes_v((grows.positive, grows.negative), size));
                let (low, high) = drops.fold((f64::INFINITY, 0.0), |(l, h), v| (f64::min(l, v), f64::max(h, v)));
                (low_v, high_v) = (low_v + low, high_v + high);
            }
            (from_v, to_v) = (f64::min(from_v, low_v * (1.0 - 1e-9)), f64::max(to_v, high_v * (1.0 + 1e-9)));
        }
        let most_v = node.places.iter().map(|place| ranges[*place].1.0).fold(0.0, f64::max);
        let sizes: Vec<super::FeederSize> =
            self.known[at].allowed.iter().map(|size| self.problem.variables[node.variable].sizes[*size]).collect();
        let takes = self.part_takes(at);
        let parts = (node.ready.iter().map(|place| &self.costs[*place].bound))
            .chain(node.children.iter().map(|child| self.known[*child].summary.as_ref().expect("deeper than this")));
        // A bound need not be close to be useful, and it is quicker by that.
        let most = if self.known[at].exact { usize::MAX } else { BOUND_STEPS };
        let parts: Vec<Cow<Steps>> = parts
            .map(|part| if part.len() > most { Cow::Owned(part.below(most)) } else { Cow::Borrowed(part) })
            .collect();
        let (lowered, work) = if takes.windows(2).all(|pair| pair[0] == pair[1]) {
            let mut summing = Summing::between(from_v, most_v);
            parts.iter().for_each(|part| summing.steps(part, 0.0));
            let summed = summing.summed();
            let moved =
                sizes.iter().map(|size| (&summed, size.copper, takes.first().map_or(0.0, |t| takes_v(*t, size))));
            (Steps::least(moved, from_v, to_v), sizes.len() * summed.len())
        } else {
            let each = sizes.iter().map(|size| {
                let mut summing = Summing::between(from_v, most_v);
                parts.iter().zip(&takes).for_each(|(part, takes)| summing.steps(part, takes_v(*takes, size)));
                summing.summed()
            });
            let each: Vec<Steps> = each.collect();
            let moved = each.iter().zip(&sizes).map(|(steps, size)| (steps, size.copper, 0.0));
            (Steps::least(moved, from_v, to_v), each.iter().map(Steps::len).sum())
        };
        self.work += work;
        lowered
    }

    /// No choice at or below a node costs less beside what is decided above it.
    fn bound(&self, at: usize) -> Cost {
        let known = &self.known[at];
        let Some(summary) = &known.summary else { return known.floor };
        let places = &self.order.nodes[at].places;
        let places = if known.alike { &places[..1] } else { places };
        summary.at(places.iter().map(|place| self.taken_v[*place].0).fold(f64::INFINITY, f64::min))
    }

    /// The least at or below a node, beside what is decided above it, and the place of the node's size; `None` when
    /// nothing is below `cutoff`.
    fn least(&mut self, at: usize, mut cutoff: Cost) -> Option<(Cost, usize)> {
        let order = self.order;
        let node = &order.nodes[at];
        let saved = self.saved_v.len();
        for grows in &node.grows {
            self.saved_v.push(self.taken_v[grows.place]);
        }
        let exact = node.children.iter().all(|child| self.known[*child].exact);
        let mut best = None;
        // Sizes by the bound of what they cost, so that a good choice is known early.
        let mut hopeful: SmallVec<[(Cost, usize, Cost); 16]> = SmallVec::new();
        for i in 0..self.known[at].allowed.len() {
            let size = self.known[at].allowed[i];
            let own = Cost::of(self.problem.variables[node.variable].sizes[size].copper);
            // Copper only grows from here on.
            if own + self.known[at].rest >= cutoff || self.work > 2 * WORK_MAX {
                break;
            }
            self.work += node.grows.len();
            self.take(at, size, saved);
            if self.breaks_own_limit(at) {
                continue;
            }
            let here = own + node.ready.iter().map(|place| self.costs[*place].at(self.taken_v[*place])).sum();
            let bound = here + node.children.iter().map(|child| self.bound(*child)).sum();
            if bound >= cutoff {
                continue;
            }
            if exact {
                cutoff = bound;
                best = Some((bound, size));
            } else {
                hopeful.push((bound, size, here));
            }
        }
        hopeful.sort_unstable_by_key(|(bound, size, _)| (*bound, *size));
        for &(bound, size, here) in &hopeful {
            // Past the bound of work the first choice that does is taken, as long as that is soon found.
            if bound >= cutoff || (self.work > WORK_MAX && best.is_some()) || self.work > 2 * WORK_MAX {
                break;
            }
            self.take(at, size, saved);
            if let Some(cost) = self.children(&node.children, here, cutoff) {
                cutoff = cost;
                best = Some((cost, size));
            }
        }
        for (i, grows) in node.grows.iter().enumerate() {
            self.taken_v[grows.place] = self.saved_v[saved + i];
        }
        self.saved_v.truncate(saved);
        best
    }

    /// What children add to a cost; `None` when that is not below the cutoff.
    fn children(&mut self, children: &[usize], mut cost: Cost, cutoff: Cost) -> Option<Cost> {
        let bounds: SmallVec<[Cost; 16]> = children.iter().map(|child| self.bound(*child)).collect();
        let mut bounds_left: Cost = bounds.iter().copied().sum();
        for (&child, &bound) in children.iter().zip(&bounds) {
            if cost + bounds_left >= cutoff {
                return None;
            }
            bounds_left = less(bounds_left, bound);
            cost += match self.known[child].exact {
                true => bound,
                false => self.least(child, less(cutoff, cost + bounds_left))?.0,
            };
        }
        (cost < cutoff).then_some(cost)
    }

    /// Gives a node's variable a size: what its places have taken is what was saved before, and this.
    fn take(&mut self, at: usize, size: usize, saved: usize) {
        let node = &self.order.nodes[at];
        let taken = &self.problem.variables[node.variable].sizes[size];
        self.chosen[node.variable] = size;
        for (i, grows) in node.grows.iter().enumerate() {
            let (mut through_v, mut return_v) = self.saved_v[saved + i];
            if grows.positive {
                through_v += taken.positive_v;
            }
            if grows.negative {
                through_v += taken.return_v;
                return_v += taken.return_v;
            }
            self.taken_v[grows.place] = (through_v, return_v);
        }
    }

    fn breaks_own_limit(&self, at: usize) -> bool {
        let of = |variable: &usize| &self.problem.variables[*variable].sizes[self.chosen[*variable]];
        self.known[at].own.iter().filter_map(|place| self.problem.places[*place].own.as_ref()).any(|own| {
            let positive_v: f64 = own.positives.iter().map(|variable| of(variable).positive_v).sum();
            let return_v: f64 = own.returns.iter().map(|variable| of(variable).return_v).sum();
            !within(positive_v + return_v, own.limit_v)
        })
    }

    /// Decides a node and all below it for good.
    fn assign(&mut self, at: usize) {
        let Some((_, size)) = self.least(at, Cost::MOST) else {
            self.nothing = true;
            return;
        };
        let order = self.order;
        let node = &order.nodes[at];
        let saved = self.saved_v.len();
        for grows in &node.grows {
            self.saved_v.push(self.taken_v[grows.place]);
        }
        self.take(at, size, saved);
        for &child in &node.children {
            self.assign(child);
        }
    }
}

/// What is left of a cost when some of it is taken away. Fewer unmet branches are worth any copper: where some may be
/// left unmet, what copper is short of makes no difference.
fn less(cost: Cost, taken: Cost) -> Cost {
    Cost { unmet: cost.unmet - taken.unmet, copper: cost.copper.saturating_sub(taken.copper) }
}
