//! Settles requirements that share items: an exact search over which item meets which, as far as its budget goes.
//!
//! What more of an item costs never falls. So what the requirements that have their item already cost is a bound, together
//! with what each of some others adds that share no item; and so is what all of them cost at the least cost of a selling
//! unit that any number of packs has.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;

use super::{Market, priced};
use crate::purchase::matching::Candidate;
use crate::purchase::{Bought, Decided, joined, outstanding};
use crate::requirements::{Need, Requirement};
use crate::shop::item::Attributes;

/// Most ways that are looked at for one group, and most costs that are reckoned for them.
const STEPS: usize = 20_000;
const COSTS: usize = 2_000;
/// Most requirements of a group for which ways are looked at.
const ROWS: usize = 64;

/// Looks for cheaper choices in each group of requirements that share items, and notes what it cannot cost less than.
pub(super) fn settle(market: &Market, places: &mut [Option<usize>], bought: &mut Bought) {
    let skus = market.counted.iter().map(|row| row.candidates.iter().map(|candidate| &candidate.item.sku).collect());
    for rows in joined(skus) {
        let chosen: Option<Vec<usize>> = rows.iter().map(|&row| places[row]).collect();
        let settled = chosen.and_then(|chosen| Group::new(market, &rows)?.settled(chosen));
        // Beyond what is reckoned with they stand as they are, and nothing is certain of what they cost.
        let lower_bound = settled.as_ref().map_or(Decimal::ZERO, |settled| settled.lower_bound);
        for (&row, place) in rows.iter().zip(settled.into_iter().flat_map(|settled| settled.places)) {
            places[row] = Some(place);
        }
        let counted = || rows.iter().map(|&row| &market.counted[row]);
        bought.decided.push(Decided {
            requirements: counted().map(|row| row.requirement.key.clone()).collect(),
            items: counted().flat_map(|row| row.candidates.iter().map(|c| c.item.sku.clone())).collect(),
            lower_bound,
        });
    }
}

struct Settled {
    places: Vec<usize>,
    lower_bound: Decimal,
}

struct Group<'a> {
    market: &'a Market<'a>,
    /// Rows, those with the fewest candidates first.
    rows: Vec<usize>,
    /// Place of each of them in the order they were given in.
    given: Vec<usize>,
    /// What all of them cost at the least.
    least: Decimal,
}

/// A way through the group.
struct Walk {
    chosen: Vec<usize>,
    /// The rows of each item so far, a bit each.
    items: BTreeMap<usize, u64>,
    best: Option<(Decimal, Vec<usize>)>,
    limit: Decimal,
    steps: usize,
    /// What items cost for rows.
    known: BTreeMap<(usize, u64), Option<Decimal>>,
    /// Whether all of these are certainly the least.
    certain: bool,
}

impl Walk {
    fn rows(&self, item: usize) -> u64 {
        self.items.get(&item).copied().unwrap_or(0)
    }

    fn is_left(&self) -> bool {
        self.steps > STEPS || self.known.len() > COSTS
    }
}

impl<'a> Group<'a> {
    fn new(market: &'a Market<'a>, rows: &[usize]) -> Option<Self> {
        let mut given: Vec<usize> = (0..rows.len()).collect();
        given.sort_by_key(|&place| (market.counted[rows[place]].candidates.len(), place));
        let mut least = Decimal::ZERO;
        for &row in rows {
            let row = &market.counted[row];
            let costs = row.candidates.iter().filter_map(|candidate| least_cost(candidate, row.requirement));
            least = least.checked_add(costs.min().unwrap_or_default())?;
        }
        Some(Group { market, rows: given.iter().map(|&place| rows[place]).collect(), given, least })
    }

    /// The cheapest choices, from those that stand.
    fn settled(&self, standing: Vec<usize>) -> Option<Settled> {
        let mut by_item: BTreeMap<usize, Vec<&Requirement>> = BTreeMap::new();
        for (&place, &row) in self.given.iter().zip(&self.rows) {
            by_item
                .entry(self.market.items[row][standing[place]])
                .or_default()
                .push(self.market.counted[row].requirement);
        }
        let (mut standing_cost, mut certain) = (Decimal::ZERO, true);
        for (&item, of_it) in &by_item {
            let (cost, of_it_certain) = priced(self.market.candidate(item), of_it)?;
            standing_cost = standing_cost.checked_add(cost)?;
            certain &= of_it_certain;
        }
        let told = |lower_bound: Decimal| lower_bound.min(standing_cost);
        // By itself, or with no choice, the cheapest was taken.
        if self.rows.len() == 1 || self.rows.iter().all(|&row| self.market.counted[row].candidates.len() == 1) {
            let lower_bound = if certain { standing_cost } else { told(self.least) };
            return Some(Settled { places: standing, lower_bound });
        }
        if self.rows.len() > ROWS {
            return Some(Settled { places: standing, lower_bound: told(self.least) });
        }
        let mut walk = Walk {
            chosen: Vec::new(),
            items: BTreeMap::new(),
            best: None,
            limit: standing_cost,
            steps: 0,
            known: BTreeMap::new(),
            certain,
        };
        let first = self.ahead(&mut walk).unwrap_or_default();
        self.at(&mut walk, Decimal::ZERO);
        let whole = !walk.is_left() && walk.certain;
        let least = if walk.certain { self.least.max(first) } else { self.least };
        let Some((cost, chosen)) = walk.best else {
            let lower_bound = if whole { standing_cost } else { told(least) };
            return Some(Settled { places: standing, lower_bound });
        };
        let mut places = standing;
        self.given.iter().zip(chosen).for_each(|(&place, chosen)| places[place] = chosen);
        Some(Settled { places, lower_bound: if whole { cost } else { least.min(cost) } })
    }

    /// What an item costs for rows.
    fn cost_of(&self, walk: &mut Walk, item: usize, rows: u64) -> Option<Decimal> {
        if let Some(known) = walk.known.get(&(item, rows)) {
            return *known;
        }
        let places = (0..self.rows.len()).filter(|place| rows >> place & 1 == 1);
        let of_it: Vec<&Requirement> = places.map(|place| self.market.counted[self.rows[place]].requirement).collect();
        let found = priced(self.market.candidate(item), &of_it);
        walk.certain &= found.is_none_or(|(_, certain)| certain);
        let cost = found.map(|(cost, _)| cost);
        walk.known.insert((item, rows), cost);
        cost
    }

    /// What one more row adds to the cost by each of its candidates, the least first.
    fn added(&self, walk: &mut Walk, place: usize) -> Vec<(Decimal, usize)> {
        let items = &self.market.items[self.rows[place]];
        let mut ways = Vec::with_capacity(items.len());
        for (candidate, &item) in items.iter().enumerate() {
            let rows = walk.rows(item);
            let costs = self.cost_of(walk, item, rows | 1 << place).zip(self.cost_of(walk, item, rows));
            ways.extend(costs.and_then(|(after, before)| Some((after.checked_sub(before)?, candidate))));
        }
        ways.sort();
        ways
    }

    /// What the rows that have no item yet add at the least: those of them that share no item with each other.
    fn ahead(&self, walk: &mut Walk) -> Option<Decimal> {
        let mut taken: BTreeSet<usize> = BTreeSet::new();
        let mut sum = Decimal::ZERO;
        for place in walk.chosen.len()..self.rows.len() {
            let items = &self.market.items[self.rows[place]];
            if items.iter().all(|item| !taken.contains(item)) {
                sum = sum.checked_add(self.added(walk, place).first()?.0)?;
                taken.extend(items);
            }
        }
        Some(sum)
    }

    fn at(&self, walk: &mut Walk, cost_so_far: Decimal) {
        walk.steps += 1;
        let ahead = self.ahead(walk).and_then(|ahead| cost_so_far.checked_add(ahead));
        if ahead.is_none_or(|ahead| ahead.max(self.least) >= walk.limit) || walk.is_left() {
            return;
        }
        let place = walk.chosen.len();
        let Some(&row) = self.rows.get(place) else {
            walk.limit = cost_so_far;
            walk.best = Some((cost_so_far, walk.chosen.clone()));
            return;
        };
        for (added, candidate) in self.added(walk, place) {
            let Some(cost) = cost_so_far.checked_add(added) else { continue };
            let item = self.market.items[row][candidate];
            let rows = walk.rows(item);
            walk.items.insert(item, rows | 1 << place);
            walk.chosen.push(candidate);
            self.at(walk, cost);
            walk.chosen.pop();
            walk.items.insert(item, rows);
        }
    }
}

/// The least that a requirement can cost as a part of whatever is bought of an item.
fn least_cost(candidate: &Candidate, requirement: &Requirement) -> Option<Decimal> {
    let rate = candidate.costs.least()?.checked_div(candidate.item.buying_quantity)?;
    let quantity = outstanding(requirement);
    let units = match (&requirement.need, &candidate.item.attributes) {
        // A stick holds no more than its length.
        (Need::HeatShrink { piece_length, .. }, Attributes::HeatShrink { piece_length: stick, .. }) => {
            let stick = Decimal::from(stick.length()?.nanometres());
            quantity.ceil().checked_mul(Decimal::from(piece_length.length()?.nanometres()))?.checked_div(stick)?
        }
        _ => quantity,
    };
    // Divisions are rounded: a millionth less is certain.
    let cost = rate.checked_mul(units)?.checked_sub(Decimal::new(1, 6))?;
    Some(cost.max(Decimal::ZERO))
}
