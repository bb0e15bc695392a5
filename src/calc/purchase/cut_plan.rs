//! Which stock length each piece of wire is cut from: the purchase's choices as a task for the planner of cuts.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use rust_decimal::Decimal;

use crate::cuts::labels::{LabelledCut, hand_out};
use crate::cuts::{Demand, Kind, Measure, Plan, Task, Work, solve};
use crate::purchase::price_break::{CostSteps, Order};
use crate::requirements::Piece;
use crate::units::{Length, Name};

/// Steps of work for one plan of a quote, which is waited for: it has one for each colour and size of wire. So much proves
/// 95 % of made-up jobs that are harder than a boat's.
const WORK: u64 = 30_000_000;
/// Longest wire that is planned, 1,000 km.
const LONGEST: i64 = 1_000 * Length::LONGEST.nanometres();
/// Most pieces that are planned at once.
const PIECES_MAX: usize = 20_000;

/// A length that lies on the shelf, and costs nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OnShelf {
    /// How many of it there are.
    pub there: u32,
    /// Whether it was left over, and is no whole spool.
    pub offcut: bool,
}

/// One item that the wire may be bought as, or a length of it that is there.
#[derive(Clone, Debug, PartialEq)]
pub struct StockChoice {
    /// The item.
    pub sku: Name,
    /// Length of one buying unit.
    pub length: Length,
    /// Whether any whole number of buying units comes as one unbroken length: sold by the foot or metre.
    pub cut_to_order: bool,
    /// Cost of one buying unit by number bought.
    pub costs: CostSteps,
    /// Days from order to shelf.
    pub lead_time_days: u16,
    /// Where it is on the shelf, it is not bought.
    pub on_shelf: Option<OnShelf>,
}

impl StockChoice {
    /// Whether any number of it can be bought.
    fn is_bought(&self) -> bool {
        self.on_shelf.is_none() && !self.costs.is_empty() && self.length > Length::ZERO
    }

    fn usable(&self) -> bool {
        self.is_bought() || self.on_shelf.is_some_and(|shelf| shelf.there > 0) && self.length > Length::ZERO
    }
}

/// One unbroken length and what is cut from it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenedStock {
    /// Place of its item in the list of choices.
    pub choice: usize,
    /// Its length as bought.
    pub length: Length,
    /// Places of the pieces cut from it, in order of cutting: the longest first.
    pub cuts: Vec<usize>,
}

impl OpenedStock {
    /// What the cuts take of it.
    pub fn taken(&self, pieces: &[Piece]) -> Length {
        self.cuts.iter().map(|&piece| pieces[piece].cut).sum()
    }
}

/// Which lengths are opened, what is cut from each, and what that costs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CutPlan {
    /// The opened lengths.
    pub opened: Vec<OpenedStock>,
    /// Buying units that are needed of each choice, by its place in the list.
    pub needed: BTreeMap<usize, u64>,
    /// What is ordered of each choice when it is ordered for this plan alone.
    pub orders: BTreeMap<usize, Order>,
    /// Cost of all orders, unrounded.
    pub cost: Decimal,
    /// What no plan can cost less than; equal to the cost where that is proven to be the least.
    pub lower_bound: Decimal,
    /// Places of the pieces that no choice is long enough for.
    pub too_long: Vec<usize>,
}

/// The cheapest plan that was found for cutting `pieces` from `stock`; every piece is one unbroken length, and what is cut
/// to order is one length of one choice.
///
/// The same pieces and choices in the same order give the same plan. Equal cost goes to less length used, then to fewer
/// opened lengths; of choices alike to the shorter lead time, then to the one that stands earlier. Where lengths lie on the
/// shelf, equal cost goes to less length used, and then to the fewest that were not left over, by a search of its own: of the
/// plans at one cost that were met it is the best, and the best of all where that search came to its end.
pub fn plan_cuts(pieces: &[Piece], stock: &[StockChoice]) -> CutPlan {
    plan_cuts_within(pieces, stock, &mut Work::steps(WORK))
}

/// The same as one of several plans that share a budget.
pub fn plan_cuts_within(pieces: &[Piece], stock: &[StockChoice], work: &mut Work) -> CutPlan {
    let longest = |bought_only: bool| {
        let usable = stock.iter().filter(|choice| if bought_only { choice.is_bought() } else { choice.usable() });
        let lengths = usable.map(|s| if s.cut_to_order { Length::LONGEST } else { s.length });
        lengths.max().unwrap_or(Length::ZERO)
    };
    let (bought, longest) = (longest(true), longest(false));
    let (mut placeable, mut too_long): (Vec<usize>, Vec<usize>) =
        (0..pieces.len()).partition(|&piece| pieces[piece].cut <= longest);
    let mut part = work.part(WORK);
    let planned = loop {
        let Some(workshop) = Workshop::new(pieces, stock, placeable.clone()) else { break None };
        match workshop.plan(&mut part) {
            Some(plan) => break Some(plan),
            // The shelf does not hold all that is too long for what can be bought: the longest is left out.
            None => {
                let only_there = placeable.iter().copied().filter(|&piece| pieces[piece].cut > bought);
                let Some(longest) = only_there.max_by_key(|&piece| (pieces[piece].cut, Reverse(piece))) else {
                    break None;
                };
                placeable.retain(|&piece| piece != longest);
                too_long.push(longest);
            }
        }
    };
    work.give_back(part);
    too_long.sort_unstable();
    CutPlan { too_long, ..planned.unwrap_or_default() }
}

struct Workshop<'a> {
    pieces: &'a [Piece],
    stock: &'a [StockChoice],
    /// Pieces of each length, in order of label.
    rows: BTreeMap<i64, Vec<usize>>,
    /// Length of all of them.
    whole: i64,
    count: usize,
}

impl<'a> Workshop<'a> {
    /// `None` without a piece, or beyond what is reckoned with.
    fn new(pieces: &'a [Piece], stock: &'a [StockChoice], placeable: Vec<usize>) -> Option<Self> {
        let mut rows: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
        let mut whole = 0i64;
        for &place in &placeable {
            // A piece of no length takes nothing, and is cut all the same.
            let cut = pieces[place].cut.nanometres().max(1);
            whole = whole.checked_add(cut).filter(|whole| *whole <= LONGEST)?;
            rows.entry(cut).or_default().push(place);
        }
        rows.values_mut().for_each(|row| row.sort_by_key(|&place| (&pieces[place].label, place)));
        let count = placeable.len();
        (1..=PIECES_MAX).contains(&count).then_some(Workshop { pieces, stock, rows, whole, count })
    }

    fn plan(&self, work: &mut Work) -> Option<CutPlan> {
        let mut spools: Vec<usize> = (0..self.stock.len())
            .filter(|&s| !self.stock[s].cut_to_order || self.stock[s].on_shelf.is_some())
            .filter(|&s| self.stock[s].usable())
            .collect();
        spools.sort_by_key(|&s| (self.stock[s].on_shelf.is_none(), self.stock[s].lead_time_days, s));
        let kind = |&s: &usize| {
            let stock = &self.stock[s];
            // What is longer than all pieces together is as good as that, but for what is wasted of what is there.
            let length = stock.length.nanometres().min(self.whole);
            let costs = match stock.on_shelf {
                Some(OnShelf { there, .. }) => vec![0; (there as usize).min(self.count) + 1],
                None => stock.costs.millionths(self.count as u64)?,
            };
            Some((s, Kind { length, costs }))
        };
        let (spools, kinds): (Vec<usize>, Vec<Kind>) = spools.iter().filter_map(kind).unzip();
        let demand = |(&length, row): (&i64, &Vec<usize>)| Demand { length, count: row.len() as u32 };
        let demands: Vec<Demand> = self.rows.iter().map(demand).collect();
        let measure = |s: usize| {
            let unit = self.stock[s].length.nanometres();
            let units = (self.whole - 1) / unit.max(1) + 1;
            let costs = u64::try_from(units).ok().filter(|units| *units <= 1_000_000)?;
            Some((s, Measure::Units { unit, costs: self.stock[s].costs.millionths(costs)? }))
        };
        let mut to_order: Vec<usize> =
            (0..self.stock.len()).filter(|&s| self.stock[s].cut_to_order && self.stock[s].is_bought()).collect();
        to_order.sort_by_key(|&s| (self.stock[s].lead_time_days, s));
        let mut measures: Vec<Option<(usize, Measure)>> = to_order.into_iter().filter_map(measure).map(Some).collect();
        if measures.is_empty() {
            measures.push(None);
        }
        let mut task = Task { demands, kinds, measure: None };
        let mut best: Option<(Plan, Option<(usize, Measure)>)> = None;
        let mut bound = i128::MAX;
        for measure in measures {
            task.measure = measure.as_ref().map(|(_, measure)| measure.clone());
            let Ok(plan) = solve(&task, work) else { continue };
            bound = bound.min(plan.bound);
            if best.as_ref().is_none_or(|(best, _)| plan.cost < best.cost) {
                best = Some((plan, measure));
            }
        }
        let (mut plan, by) = best?;
        task.measure = by.as_ref().map(|(_, measure)| measure.clone());
        if spools.iter().any(|&s| self.stock[s].on_shelf.is_some())
            && let Some(neater) = self.neater(&task, &plan, &spools, work)
        {
            plan = neater;
        }
        self.told(&plan, &spools, by.map(|(s, _)| s), bound)
    }

    /// A plan at the same cost with less length used, then with fewer lengths that were not left over: the same task with a
    /// cost in which one unit of money outweighs all length, and one of length all numbers. `None` where none was found, or
    /// the figures are too large for it.
    fn neater(&self, task: &Task, plan: &Plan, spools: &[usize], work: &mut Work) -> Option<Plan> {
        /// Steps of this search.
        const NEATER: u64 = 4_000_000;
        /// Lengths are weighed in tenths of a millimetre.
        const GRAIN: i64 = 100_000;
        const LARGEST: i128 = 1 << 112;
        let grains = |length: i64| i128::from(length / GRAIN);
        let is_offcut = |kind: usize| self.stock[spools[kind]].on_shelf.is_some_and(|shelf| shelf.offcut);
        let length = |kind: usize| self.stock[spools[kind]].length.nanometres();
        let rank = |plan: &Plan| {
            let used: i128 = plan.cuts.iter().map(|cut| grains(length(cut.kind)) * i128::from(cut.times)).sum();
            let measured = task.demands.iter().zip(&plan.measured).map(|(d, &n)| d.length * i64::from(n)).sum::<i64>();
            let whole: u32 = plan.cuts.iter().filter(|cut| !is_offcut(cut.kind)).map(|cut| cut.times).sum();
            (used + grains(measured), whole)
        };
        let tables = || {
            let measured = task.measure.as_ref().and_then(|measure| match measure {
                Measure::Units { costs, .. } => Some(costs.as_slice()),
                Measure::Each(_) => None,
            });
            task.kinds.iter().map(|kind| kind.costs.as_slice()).chain(measured)
        };
        let coin = tables().flatten().fold(0, |coin, &cost| gcd(coin, cost)).max(1);
        let (used, whole) = rank(plan);
        let by_number = i128::from(whole) + 1;
        let by_length = (used + 1).checked_mul(by_number)?;
        let weighed = |cost: i128, length: i128, number: i128| {
            let money = (cost / coin).checked_mul(by_length)?;
            money.checked_add(length.checked_mul(by_number)?)?.checked_add(number)
        };
        let kinds = task.kinds.iter().enumerate().map(|(kind, of_kind)| {
            let (each, number) = (grains(length(kind)), i128::from(!is_offcut(kind)));
            let costs = (0i128..).zip(&of_kind.costs).map(|(n, &cost)| weighed(cost, n * each, n * number));
            Some(Kind { length: of_kind.length, costs: costs.collect::<Option<_>>()? })
        });
        let measure = match &task.measure {
            Some(Measure::Units { unit, costs }) => {
                let costs = (0i128..).zip(costs).map(|(n, &cost)| weighed(cost, n * grains(*unit), 0));
                Some(Measure::Units { unit: *unit, costs: costs.collect::<Option<_>>()? })
            }
            Some(Measure::Each(_)) => return None,
            None => None,
        };
        let task = Task { demands: task.demands.clone(), kinds: kinds.collect::<Option<_>>()?, measure };
        let dearest = task.kinds.iter().filter_map(|kind| kind.costs.last()).max().copied().unwrap_or(0);
        if dearest.checked_mul(i128::from(self.whole)).is_none_or(|most| most > LARGEST) {
            return None;
        }
        let mut part = work.part(NEATER);
        let found = solve(&task, &mut part);
        work.give_back(part);
        let found = found.ok()?;
        let money = |cost: i128| cost / by_length * coin;
        let neater = Plan { cost: money(found.cost), bound: plan.bound, ..found };
        (neater.cost == plan.cost && rank(&neater) < (used, whole)).then_some(neater)
    }

    fn told(&self, plan: &Plan, spools: &[usize], by: Option<usize>, bound: i128) -> Option<CutPlan> {
        let rows: Vec<Vec<(usize, u32)>> =
            self.rows.values().map(|row| row.iter().map(|&place| (place, 1)).collect()).collect();
        let mut opened = Vec::new();
        let mut counts: BTreeMap<usize, u64> = BTreeMap::new();
        for LabelledCut { kind, take, times } in hand_out(plan, &rows) {
            debug_assert_eq!(times, 1, "each piece is a row of its own");
            let mut cuts: Vec<usize> = take.into_iter().map(|(place, _)| place).collect();
            cuts.sort_by_key(|&place| (Reverse(self.pieces[place].cut), &self.pieces[place].label, place));
            let choice = kind.map(|kind| spools[kind]).or(by)?;
            let one = self.stock[choice].length;
            let mut open = OpenedStock { choice, length: one, cuts };
            let mut units = 1;
            if kind.is_none() {
                let taken = open.taken(self.pieces).nanometres().max(1);
                units = (taken - 1) / one.nanometres() + 1;
                open.length = one * units;
            }
            if self.stock[choice].on_shelf.is_none() {
                *counts.entry(choice).or_default() += units.unsigned_abs();
            }
            opened.push(open);
        }
        let mut orders = BTreeMap::new();
        let mut cost = Decimal::ZERO;
        for (&choice, &count) in &counts {
            let order = self.stock[choice].costs.cheapest(count)?;
            cost = cost.checked_add(order.cost)?;
            orders.insert(choice, order);
        }
        let lower_bound = Decimal::try_from_i128_with_scale(bound, 6).ok()?.normalize().min(cost);
        Some(CutPlan { opened, needed: counts, orders, cost, lower_bound, too_long: Vec::new() })
    }
}

fn gcd(mut a: i128, mut b: i128) -> i128 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a.abs()
}

/// The fewest sticks of a length that pieces can be cut from, and what no cutting needs less than. `None` where a piece is
/// longer than a stick, or there are more than are planned.
pub fn fewest(pieces: &BTreeMap<Length, u32>, stick: Length) -> Option<(u64, u64)> {
    /// Steps of work for sticks: most are settled by their lengths alone.
    const STICKS: u64 = 300_000;
    let demands: Vec<Demand> = pieces
        .iter()
        .map(|(length, &count)| Demand { length: length.nanometres(), count })
        .filter(|demand| demand.length > 0 && demand.count > 0)
        .collect();
    let count = demands.iter().try_fold(0u32, |sum, demand| sum.checked_add(demand.count))?;
    if count as usize > PIECES_MAX {
        return None;
    }
    let costs = (0..=i128::from(count)).collect();
    let task = Task { demands, kinds: vec![Kind { length: stick.nanometres(), costs }], measure: None };
    let plan = solve(&task, &mut Work::steps(STICKS)).ok()?;
    Some((u64::try_from(plan.cost).ok()?, u64::try_from(plan.bound).ok()?))
}
