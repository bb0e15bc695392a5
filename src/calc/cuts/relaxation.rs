//! The task with fractions of cut patterns allowed, within a range of how many of each kind.
//!
//! Columns are found by pricing every kind with the duals. The bound is Lagrange's: with any values of the pieces that
//! are not negative, no plan costs less than all pieces are worth, less what each stock length may hold more than it
//! costs. The values are whole numbers there, and so is all that is reckoned with them.

use std::collections::BTreeMap;

use super::Work;
use super::case::{Case, ceil_div};
use super::covers::Range;
use super::knapsack::{Fill, Knapsack};
use super::simplex::{Column, SMALL, Simplex};

/// The value that stands for the cost of the best plan.
const ONE: i128 = 1 << 44;
/// What it costs, in this value, not to have a piece at all.
const MISSING: f64 = 4.0;

/// Something that one stock length can be cut into.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Pattern {
    pub(super) kind: usize,
    pub(super) take: Vec<(usize, u32)>,
}

/// All patterns that were found so far, and the values' scale.
pub(super) struct Relaxation<'a> {
    case: &'a Case,
    knapsack: Knapsack,
    patterns: Vec<Pattern>,
    known: BTreeMap<Pattern, usize>,
    /// The cost that [`ONE`] stands for.
    scale: i128,
}

/// The relaxed answer.
pub(super) struct Relaxed {
    /// No plan within the range costs less.
    pub(super) bound: i128,
    /// How much of each pattern.
    pub(super) used: Vec<(Pattern, f64)>,
    /// How many of each kind.
    pub(super) kinds: Vec<f64>,
}

/// What kinds cost within a range: the cost of the least number, and at least so much for each further one.
struct Slopes {
    base: i128,
    slopes: Vec<i64>,
}

impl<'a> Relaxation<'a> {
    /// `scale` is about what the best plan costs.
    pub(super) fn new(case: &'a Case, scale: i128, work: Work) -> Self {
        Relaxation {
            case,
            knapsack: Knapsack::new(case, work),
            patterns: Vec::new(),
            known: BTreeMap::new(),
            scale: scale.max(1),
        }
    }

    /// Keeps a pattern for all that follows.
    pub(super) fn learn(&mut self, pattern: Pattern) -> bool {
        if pattern.take.is_empty() || self.known.contains_key(&pattern) {
            return false;
        }
        self.known.insert(pattern.clone(), self.patterns.len());
        self.patterns.push(pattern);
        true
    }

    fn slopes(&self, range: &Range) -> Slopes {
        let slope = |kind: usize| {
            let costs = &self.case.costs[kind];
            let (least, most) = (range.least[kind] as usize, range.most[kind] as usize);
            // All are the same where one costs as much as the next.
            let most = if self.case.even[kind] { most.min(least + 1) } else { most };
            let steps =
                (least + 1..=most).map(|n| (costs[n] - costs[least]) * ONE / (self.scale * (n - least) as i128));
            // A kind that no more may be taken of costs nothing more.
            steps.min().map_or(0, |slope| i64::try_from(slope).unwrap_or(i64::MAX / 4096))
        };
        let slopes = (0..self.case.rooms.len()).map(slope).collect();
        Slopes { base: self.case.kinds_cost(&range.least), slopes }
    }

    /// The bound that whole values of the pieces give.
    fn lagrange(&self, values: &[i64], demand: &[u32], best: &[i64], range: &Range, slopes: &Slopes) -> i128 {
        let worth: i128 = values.iter().zip(demand).map(|(&v, &n)| i128::from(v) * i128::from(n)).sum();
        // With all values lowered in one proportion no kind without a limit may be worth more than it costs.
        let all: u32 = demand.iter().sum();
        let (mut part, mut of) = (1i128, 1i128);
        for (kind, &best) in best.iter().enumerate() {
            let (slope, best) = (i128::from(slopes.slopes[kind]), i128::from(best));
            if range.most[kind] >= all && best > slope && slope * of < best * part {
                (part, of) = (slope, best);
            }
        }
        let bound = |part: i128, of: i128| {
            let mut sum = worth * part;
            for (kind, &best) in best.iter().enumerate() {
                let (slope, best) = (i128::from(slopes.slopes[kind]) * of, i128::from(best) * part);
                // Each stock length that is opened beyond the least number has a piece in it.
                let most = range.most[kind].min(all.max(range.least[kind]));
                let (least, most) = (i128::from(range.least[kind]), i128::from(most));
                let each = slope - best;
                sum += each * if each < 0 { most } else { least } - slope * least;
            }
            sum.div_euclid(of)
        };
        let value = bound(1, 1).max(bound(part, of));
        slopes.base + self.cost(value).max(0)
    }

    /// The least whole cost of a value. Where they are too large to multiply, what is lost makes it lower.
    fn cost(&self, value: i128) -> i128 {
        match value.checked_mul(self.scale) {
            Some(cost) => ceil_div(cost, ONE),
            None => value.div_euclid(ONE) * self.scale + value.rem_euclid(ONE) * (self.scale >> 20) / (ONE >> 20),
        }
    }

    /// A pattern of each kind at a glance: the pieces that are worth most for their length first.
    fn glance(&self, values: &[i64], demand: &[u32], work: &mut Work) -> Vec<Pattern> {
        let mut order: Vec<usize> = (0..values.len()).filter(|&place| values[place] > 0 && demand[place] > 0).collect();
        let worth = |place: usize| values[place] as f64 / self.case.lengths[place] as f64;
        order.sort_by(|&a, &b| worth(b).total_cmp(&worth(a)).then(a.cmp(&b)));
        work.spend(order.len() * (10 + 3 * self.case.rooms.len()));
        let pattern = |(kind, &room): (usize, &i64)| {
            let mut left = room;
            let mut take: Vec<(usize, u32)> = Vec::new();
            for &place in &order {
                let count = i64::from(demand[place]).min(left / self.case.lengths[place]);
                if count > 0 {
                    left -= count * self.case.lengths[place];
                    take.push((place, count as u32));
                }
            }
            take.sort_unstable();
            Pattern { kind, take }
        };
        self.case.rooms.iter().enumerate().map(pattern).collect()
    }

    /// Solves it for what is demanded of each type. It is left as soon as the bound reaches `stop_at`.
    ///
    /// Where only a plan is wanted and no bound, the best patterns are looked for a few `rounds` only.
    pub(super) fn solve(
        &mut self,
        range: &Range,
        demand: &[u32],
        stop_at: i128,
        mut rounds: usize,
        work: &mut Work,
    ) -> Relaxed {
        let kinds = self.case.rooms.len();
        let slopes = self.slopes(range);
        let mut programme = Programme::new(self, range, demand, &slopes);
        let mut bound = i128::MIN;
        loop {
            let duals = programme.simplex.settle(work);
            let values: Vec<i64> = (0..demand.len()).map(|t| programme.value(t, &duals)).collect();
            // As long as patterns at a glance lower the cost, the best of all are not looked for.
            let mut glanced = false;
            for take in self.glance(&values, demand, work) {
                let Pattern { kind, .. } = take;
                glanced |= range.most[kind] > 0 && programme.price_in(self, take, &duals);
            }
            if glanced && !work.is_over() {
                continue;
            }
            if rounds == 0 {
                break;
            }
            rounds -= 1;
            let priced = self.knapsack.price(&values, demand, work);
            bound = bound.max(self.lagrange(&values, demand, &priced.bounds, range, &slopes));
            if bound >= stop_at || work.is_over() {
                break;
            }
            // Where the costs are whole, rounding up has closed what is left of a gap.
            let value = programme.cost() * self.scale as f64 + slopes.base as f64;
            if programme.complete() && bound as f64 >= value - 1e-7 * value.abs().max(1.0) {
                break;
            }
            let mut added = false;
            for (kind, Fill { take, .. }) in priced.fills.into_iter().enumerate() {
                if range.most[kind] > 0 {
                    added |= programme.price_in(self, Pattern { kind, take }, &duals);
                }
            }
            if !added {
                break;
            }
        }
        let mut used = Vec::new();
        let mut counts: Vec<f64> = vec![0.0; kinds];
        for (&column, &value) in programme.simplex.basis.iter().zip(&programme.simplex.values) {
            if value > 1e-7 {
                match programme.names[column] {
                    Name::Pattern(place) => {
                        counts[self.patterns[place].kind] += value;
                        used.push((self.patterns[place].clone(), value));
                    }
                    Name::Idle(kind) => counts[kind] += value,
                    Name::Other => {}
                }
            }
        }
        used.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        Relaxed { bound, used, kinds: counts }
    }
}

/// What a column is.
#[derive(Clone, Copy)]
enum Name {
    Pattern(usize),
    /// A stock length that is taken and not cut.
    Idle(usize),
    Other,
}

/// The linear programme of one range.
struct Programme {
    simplex: Simplex,
    names: Vec<Name>,
    /// Row of each type that is demanded.
    rows: Vec<Option<usize>>,
    /// Row that limits each kind from above, and from below.
    limits: Vec<(Option<usize>, Option<usize>)>,
    slopes: Vec<f64>,
    /// What a piece of each type costs to measure.
    measured: Vec<Option<i64>>,
    missing: Vec<usize>,
    /// What the programme counts for the least numbers, which the base counts too.
    in_base: f64,
}

impl Programme {
    fn new(relaxation: &Relaxation, range: &Range, demand: &[u32], slopes: &Slopes) -> Self {
        let case = relaxation.case;
        let one = ONE as f64;
        let mut programme = Programme {
            simplex: Simplex::new(Vec::new(), Vec::new(), Vec::new(), Vec::new()),
            names: Vec::new(),
            rows: vec![None; demand.len()],
            limits: vec![(None, None); case.rooms.len()],
            slopes: slopes.slopes.iter().map(|&slope| slope as f64 / one).collect(),
            measured: vec![None; demand.len()],
            missing: Vec::new(),
            in_base: 0.0,
        };
        programme.in_base = programme.slopes.iter().zip(&range.least).map(|(slope, &n)| slope * f64::from(n)).sum();
        let mut columns: Vec<Column> = Vec::new();
        let mut basis = Vec::new();
        let mut values = Vec::new();
        let mut rows = 0;
        let mut add = |programme: &mut Programme, name, cost, rows| {
            columns.push(Column { cost, rows });
            programme.names.push(name);
            columns.len() - 1
        };
        for (place, &count) in demand.iter().enumerate().filter(|(_, count)| **count > 0) {
            programme.rows[place] = Some(rows);
            let measured = case.measure_rate.map(|rate| {
                let cost = rate.cost * i128::from(case.lengths[place]);
                let value = match cost.checked_mul(ONE).zip(rate.length.checked_mul(relaxation.scale)) {
                    Some((value, by)) => value / by,
                    // Too large to multiply: rounded so that it is no more than it is.
                    None => cost / rate.length / ((relaxation.scale >> 44) + 1),
                };
                i64::try_from(value).unwrap_or(i64::MAX / 4096).min(4 * ONE as i64)
            });
            programme.measured[place] = measured;
            let cost = measured.map_or(MISSING, |value| value as f64 / one);
            let column = add(&mut programme, Name::Other, cost, vec![(rows, 1.0)]);
            if measured.is_none() {
                programme.missing.push(column);
            }
            basis.push(column);
            values.push(f64::from(count));
            add(&mut programme, Name::Other, 0.0, vec![(rows, -1.0)]);
            rows += 1;
        }
        let all: u32 = demand.iter().sum();
        let mut idle_over_limit = Vec::new();
        for kind in 0..case.rooms.len() {
            let (least, most) = (range.least[kind], range.most[kind]);
            if most < all {
                programme.limits[kind].0 = Some(rows);
                basis.push(add(&mut programme, Name::Other, 0.0, vec![(rows, 1.0)]));
                values.push(f64::from(most));
                rows += 1;
            }
            if least > 0 && least < most {
                programme.limits[kind].1 = Some(rows);
                add(&mut programme, Name::Other, 0.0, vec![(rows, -1.0)]);
                let mut figures = vec![(rows, 1.0)];
                if let Some(limit) = programme.limits[kind].0 {
                    figures.push((limit, 1.0));
                    idle_over_limit.push((limit, rows));
                    values[limit] -= f64::from(least);
                }
                let slope = programme.slopes[kind];
                basis.push(add(&mut programme, Name::Idle(kind), slope, figures));
                values.push(f64::from(least));
                rows += 1;
            }
        }
        let mut inverse = vec![0.0; rows * rows];
        for row in 0..rows {
            inverse[row * rows + row] = 1.0;
        }
        for (limit, least) in idle_over_limit {
            inverse[limit * rows + least] = -1.0;
        }
        programme.simplex = Simplex::new(columns, basis, inverse, values);
        for (place, pattern) in relaxation.patterns.iter().enumerate() {
            let fits = range.most[pattern.kind] > 0 && pattern.take.iter().all(|&(t, n)| n <= demand[t]);
            if fits {
                programme.enter(place, pattern);
            }
        }
        programme
    }

    fn figures(&self, pattern: &Pattern) -> Vec<(usize, f64)> {
        let pieces = pattern.take.iter().filter_map(|&(place, count)| Some((self.rows[place]?, f64::from(count))));
        let (above, below) = self.limits[pattern.kind];
        pieces.chain(above.map(|row| (row, 1.0))).chain(below.map(|row| (row, 1.0))).collect()
    }

    fn enter(&mut self, place: usize, pattern: &Pattern) {
        let rows = self.figures(pattern);
        self.simplex.add(Column { cost: self.slopes[pattern.kind], rows });
        self.names.push(Name::Pattern(place));
    }

    /// Takes a pattern in where it is worth more than it costs.
    fn price_in(&mut self, relaxation: &mut Relaxation, pattern: Pattern, duals: &[f64]) -> bool {
        let slope = self.slopes[pattern.kind];
        let reduced = self.figures(&pattern).iter().fold(slope, |cost, &(row, figure)| cost - duals[row] * figure);
        if reduced >= -10.0 * SMALL || pattern.take.is_empty() {
            return false;
        }
        // One that is known stands in the programme already, if it fits: its price is a matter of rounding then.
        if !relaxation.learn(pattern.clone()) {
            return false;
        }
        self.enter(relaxation.patterns.len() - 1, &pattern);
        true
    }

    /// The value of a piece, a whole number: never negative, and never more than it costs to measure.
    fn value(&self, place: usize, duals: &[f64]) -> i64 {
        let Some(row) = self.rows[place] else { return 0 };
        let value = (duals[row] * ONE as f64).clamp(0.0, 16.0 * ONE as f64) as i64;
        self.measured[place].map_or(value, |most| value.min(most))
    }

    /// The cost beyond that of the least numbers.
    fn cost(&self) -> f64 {
        let basic = self.simplex.basis.iter().zip(&self.simplex.values);
        basic.map(|(&column, &value)| self.simplex.columns[column].cost * value).sum::<f64>() - self.in_base
    }

    /// Whether no piece is missing.
    fn complete(&self) -> bool {
        let basic = self.simplex.basis.iter().zip(&self.simplex.values);
        basic.into_iter().all(|(column, &value)| value < 1e-7 || !self.missing.contains(column))
    }
}
