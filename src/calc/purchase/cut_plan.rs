//! Which stock length each piece of wire is cut from.
//!
//! Several packings are made and the cheapest stands: best fit of the longest first over each spool length; the same
//! with opened spools exchanged for cheaper ones that hold their cuts; the pieces as they come, spool after spool; and
//! bought to length where the item is sold so. That is a good plan, not a proof that none is cheaper.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;

use crate::calc::purchase::price_break::{CostSteps, Order};
use crate::calc::requirements::Piece;
use crate::calc::units::{Length, Name};

/// One item that the wire may be bought as.
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
}

/// One unbroken length and what is cut from it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenedStock {
    /// Place of its item in the list of choices.
    pub choice: usize,
    /// Its length as bought.
    pub length: Length,
    /// Places of the pieces cut from it, in order of cutting.
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
    /// What is ordered of each choice, by its place in the list.
    pub orders: BTreeMap<usize, Order>,
    /// Cost of all orders, unrounded.
    pub cost: Decimal,
    /// Places of the pieces that no choice is long enough for.
    pub too_long: Vec<usize>,
}

/// The cheapest plan that was found for cutting `pieces` from `stock`; every piece is one unbroken length.
///
/// The same pieces and choices in the same order give the same plan. Equal cost goes to fewer opened lengths, then to
/// less length bought, then to the shorter lead time, then to the choice that stands earlier.
pub fn plan_cuts(pieces: &[Piece], stock: &[StockChoice]) -> CutPlan {
    let longest =
        stock.iter().filter(|s| !s.costs.is_empty()).map(|s| if s.cut_to_order { Length::LONGEST } else { s.length });
    let longest = longest.max().unwrap_or(Length::ZERO);
    let (placeable, too_long): (Vec<usize>, Vec<usize>) =
        (0..pieces.len()).partition(|&piece| pieces[piece].cut <= longest);
    if placeable.is_empty() {
        return CutPlan { too_long, ..CutPlan::default() };
    }
    let shop = Workshop { pieces, stock };
    let mut best: Option<(Rank, CutPlan)> = None;
    for opened in shop.packings(&placeable) {
        let exchanged = Some(shop.exchanged(opened.clone())).filter(|exchanged| *exchanged != opened);
        for packing in [Some(opened), exchanged].into_iter().flatten() {
            let Some(plan) = shop.costed(packing) else { continue };
            let rank = shop.rank(&plan);
            if best.as_ref().is_none_or(|(best, _)| rank < *best) {
                best = Some((rank, plan));
            }
        }
    }
    CutPlan { too_long, ..best.map(|(_, plan)| plan).unwrap_or_default() }
}

/// What the cheapest of several plans is told by: cost, opened lengths, length bought, lead time, choices.
type Rank = (Decimal, usize, i128, u16, Vec<usize>);

struct Workshop<'a> {
    pieces: &'a [Piece],
    stock: &'a [StockChoice],
}

impl Workshop<'_> {
    fn cut(&self, piece: usize) -> Length {
        self.pieces[piece].cut
    }

    /// First packings, one or more for each choice.
    fn packings(&self, placeable: &[usize]) -> Vec<Vec<OpenedStock>> {
        let mut falling = placeable.to_vec();
        falling.sort_by_key(|&piece| (Reverse(self.cut(piece)), piece));
        let mut packings = Vec::new();
        for (choice, stock) in self.stock.iter().enumerate() {
            if stock.costs.is_empty() || stock.length <= Length::ZERO {
                continue;
            }
            if stock.cut_to_order {
                packings.push(vec![self.to_order(choice, placeable.to_vec())]);
                continue;
            }
            let fits = |piece: &usize| self.cut(*piece) <= stock.length;
            let (fitting, longer): (Vec<usize>, Vec<usize>) = falling.iter().partition(|piece| fits(piece));
            let Some(longer) = self.each_by_itself(&longer) else { continue };
            packings.push(self.best_fit(choice, &fitting, longer.clone()));
            let as_they_come: Vec<usize> = placeable.iter().copied().filter(|piece| fits(piece)).collect();
            packings.push([longer, self.next_fit(choice, &as_they_come)].concat());
        }
        packings
    }

    /// Each piece where it leaves the least of what is opened already, or from a new spool.
    fn best_fit(&self, choice: usize, falling: &[usize], mut opened: Vec<OpenedStock>) -> Vec<OpenedStock> {
        let length = self.stock[choice].length;
        let mut left: BTreeSet<(Length, usize)> = BTreeSet::new();
        for (spool, opened) in opened.iter().enumerate() {
            left.insert((opened.length - opened.taken(self.pieces), spool));
        }
        for &piece in falling {
            let cut = self.cut(piece);
            let tightest = left.range((cut, 0)..).next().copied();
            let (remaining, spool) = match tightest {
                Some(found) => {
                    left.remove(&found);
                    found
                }
                None => {
                    opened.push(OpenedStock { choice, length, cuts: Vec::new() });
                    (length, opened.len() - 1)
                }
            };
            opened[spool].cuts.push(piece);
            left.insert((remaining - cut, spool));
        }
        opened
    }

    /// Pieces in the order they came, a new spool whenever the last one is too short.
    fn next_fit(&self, choice: usize, pieces: &[usize]) -> Vec<OpenedStock> {
        let length = self.stock[choice].length;
        let mut opened: Vec<OpenedStock> = Vec::new();
        let mut left = Length::ZERO;
        for &piece in pieces {
            let cut = self.cut(piece);
            match opened.last_mut() {
                Some(spool) if cut <= left => spool.cuts.push(piece),
                _ => {
                    opened.push(OpenedStock { choice, length, cuts: vec![piece] });
                    left = length;
                }
            }
            left = left - cut;
        }
        opened
    }

    /// Pieces that are longer than the spool a packing is built on: each from whatever holds it at the least cost.
    fn each_by_itself(&self, pieces: &[usize]) -> Option<Vec<OpenedStock>> {
        pieces
            .iter()
            .map(|&piece| {
                let holders = (0..self.stock.len()).filter_map(|choice| self.holding(choice, &[piece]));
                let priced = holders.filter_map(|opened| Some((self.costed(vec![opened.clone()])?.cost, opened)));
                priced.min_by_key(|(cost, opened)| (*cost, opened.choice)).map(|(_, opened)| opened)
            })
            .collect()
    }

    /// One length of a choice that holds these cuts, if it can.
    fn holding(&self, choice: usize, cuts: &[usize]) -> Option<OpenedStock> {
        let stock = &self.stock[choice];
        if stock.costs.is_empty() || stock.length <= Length::ZERO {
            return None;
        }
        if stock.cut_to_order {
            return Some(self.to_order(choice, cuts.to_vec()));
        }
        let opened = OpenedStock { choice, length: stock.length, cuts: cuts.to_vec() };
        (opened.taken(self.pieces) <= stock.length).then_some(opened)
    }

    /// One length to order: the cuts, rounded up to whole buying units.
    fn to_order(&self, choice: usize, cuts: Vec<usize>) -> OpenedStock {
        let unit = self.stock[choice].length.nanometres();
        let mut opened = OpenedStock { choice, length: Length::ZERO, cuts };
        let taken = opened.taken(self.pieces).nanometres();
        opened.length = Length::from_nanometres((taken + unit - 1) / unit * unit);
        opened
    }

    /// Exchanges one opened length after another for whatever holds its cuts, as long as the whole gets cheaper.
    fn exchanged(&self, mut packing: Vec<OpenedStock>) -> Vec<OpenedStock> {
        let mut counts = vec![0u64; self.stock.len()];
        for (choice, count) in self.counts(&packing) {
            counts[choice] = count;
        }
        let of_choices: Option<Vec<Decimal>> =
            counts.iter().enumerate().map(|(choice, &count)| self.cost_of(choice, count)).collect();
        let Some(mut costs) = of_choices else { return packing };
        for opened in packing.iter_mut().rev() {
            for choice in 0..self.stock.len() {
                // The same choice again holds the cuts at the same cost.
                if choice == opened.choice || !self.could_hold(choice, opened) {
                    continue;
                }
                let Some(other) = self.holding(choice, &opened.cuts) else { continue };
                let (fewer, more) =
                    (counts[opened.choice] - self.buying_units(opened), counts[choice] + self.buying_units(&other));
                let Some((less, dearer)) = self.cost_of(opened.choice, fewer).zip(self.cost_of(choice, more)) else {
                    continue;
                };
                let sums = costs[opened.choice].checked_add(costs[choice]).zip(less.checked_add(dearer));
                if sums.is_some_and(|(before, after)| after < before) {
                    (counts[opened.choice], costs[opened.choice]) = (fewer, less);
                    (counts[choice], costs[choice]) = (more, dearer);
                    *opened = other;
                }
            }
        }
        packing
    }

    /// Cost of so many buying units of a choice, nothing for none; `None` when it cannot be had or reckoned with.
    fn cost_of(&self, choice: usize, count: u64) -> Option<Decimal> {
        if count == 0 { Some(Decimal::ZERO) } else { Some(self.stock[choice].costs.cheapest(count)?.cost) }
    }

    /// Whether a length of a choice may be long enough for what is cut from another.
    fn could_hold(&self, choice: usize, opened: &OpenedStock) -> bool {
        let stock = &self.stock[choice];
        stock.cut_to_order || opened.taken(self.pieces) <= stock.length
    }

    fn buying_units(&self, opened: &OpenedStock) -> u64 {
        let stock = &self.stock[opened.choice];
        let units = if stock.cut_to_order { opened.length.nanometres() / stock.length.nanometres() } else { 1 };
        units.unsigned_abs()
    }

    /// Buying units of each choice that is used.
    fn counts(&self, packing: &[OpenedStock]) -> BTreeMap<usize, u64> {
        let mut counts = BTreeMap::new();
        for opened in packing {
            *counts.entry(opened.choice).or_default() += self.buying_units(opened);
        }
        counts
    }

    /// The orders for so many buying units and what they cost; `None` when an amount no longer fits a decimal.
    fn orders(&self, counts: &BTreeMap<usize, u64>) -> Option<(BTreeMap<usize, Order>, Decimal)> {
        let mut orders = BTreeMap::new();
        let mut cost = Decimal::ZERO;
        for (&choice, &count) in counts.iter().filter(|(_, count)| **count > 0) {
            let order = self.stock[choice].costs.cheapest(count)?;
            cost = cost.checked_add(order.cost)?;
            orders.insert(choice, order);
        }
        Some((orders, cost))
    }

    fn costed(&self, opened: Vec<OpenedStock>) -> Option<CutPlan> {
        let (orders, cost) = self.orders(&self.counts(&opened))?;
        Some(CutPlan { opened, orders, cost, too_long: Vec::new() })
    }

    fn rank(&self, plan: &CutPlan) -> Rank {
        let choices: Vec<usize> = plan.orders.keys().copied().collect();
        let bought = plan
            .orders
            .iter()
            .map(|(&choice, o)| i128::from(self.stock[choice].length.nanometres()) * i128::from(o.count));
        let lead_time = choices.iter().map(|&choice| self.stock[choice].lead_time_days).max().unwrap_or(0);
        (plan.cost, plan.opened.len(), bought.sum(), lead_time, choices)
    }
}
