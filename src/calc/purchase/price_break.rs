//! What it costs to buy so many of an item: cost prices by quantity, packs rounded up.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use smallvec::{SmallVec, smallvec};

use crate::shop::item::{Item, PriceKind};

/// The cost prices of one buying unit in force on a day, by least number of buying units, rising; and in what numbers it is
/// ordered.
#[derive(Clone, Debug, PartialEq)]
pub struct CostSteps {
    steps: SmallVec<[Step; 2]>,
    /// Least number of buying units in an order.
    least: u64,
    /// Numbers in between are not sold; 1 or more.
    multiple: u64,
}

impl Default for CostSteps {
    /// No price at all.
    fn default() -> Self {
        CostSteps { steps: SmallVec::new(), least: 1, multiple: 1 }
    }
}

/// One cost price.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Step {
    /// Least whole number of buying units that it holds for; `None` when no order reaches it.
    least: Option<u64>,
    unit_cost: Decimal,
}

/// So many buying units, and what they cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Order {
    /// How many buying units.
    pub count: u64,
    /// Cost of one of them.
    pub unit_cost: Decimal,
    /// Cost of all of them, unrounded.
    pub cost: Decimal,
}

impl CostSteps {
    /// From pairs of least number of buying units and cost of one at that number, in any order; of two for one number
    /// the later stands.
    pub fn new(steps: impl IntoIterator<Item = (Decimal, Decimal)>) -> Self {
        let by_quantity: std::collections::BTreeMap<Decimal, Decimal> = steps.into_iter().collect();
        let step = |(minimum, unit_cost): (Decimal, Decimal)| Step { least: least_count(minimum), unit_cost };
        CostSteps { steps: by_quantity.into_iter().map(step).collect(), ..CostSteps::default() }
    }

    /// The same where no fewer than so many are ordered, and only in multiples of a number.
    pub fn ordered_in(self, least: u32, multiple: u32) -> Self {
        CostSteps { least: u64::from(least), multiple: u64::from(multiple.max(1)), ..self }
    }

    /// Whether any number is sold, at one price.
    pub fn is_even(&self) -> bool {
        self.multiple == 1 && self.least <= 1 && matches!(self.steps.as_slice(), [Step { least: Some(..=1), .. }])
    }

    /// The fewest that can be ordered where so many are wanted.
    fn orderable(&self, at_least: u64) -> Option<u64> {
        at_least.max(self.least).div_ceil(self.multiple).checked_mul(self.multiple)
    }

    /// The cost prices of an item on a day; empty when it has none.
    pub fn of(item: &Item, day: NaiveDate) -> Self {
        CostSteps::priced(item, day).ordered_in(item.minimum_order, item.order_multiple)
    }

    fn priced(item: &Item, day: NaiveDate) -> Self {
        let mut costs = item.prices.iter().filter(|p| p.kind == PriceKind::Cost && p.valid_from <= day);
        // Most items have one, and there is nothing to sort out then.
        if let (Some(only), None) = (costs.clone().next(), costs.clone().nth(1)) {
            let step = Step { least: least_count(only.minimum_quantity), unit_cost: only.amount };
            return CostSteps { steps: smallvec![step], ..CostSteps::default() };
        }
        CostSteps::new(costs.by_ref().filter_map(|p| {
            let in_force = item.price_on(PriceKind::Cost, day, p.minimum_quantity)?;
            (in_force.minimum_quantity == p.minimum_quantity).then_some((p.minimum_quantity, in_force.amount))
        }))
    }

    /// Whether there is no cost price at all.
    pub fn is_empty(&self) -> bool {
        self.steps.is_empty()
    }

    /// The cheapest order of at least so many buying units: the fewest that can be ordered, or as many as reach a price
    /// break that makes the whole order cheaper. Of two at one cost the smaller. `None` without a cost price, or beyond what a
    /// decimal holds.
    pub fn cheapest(&self, at_least: u64) -> Option<Order> {
        let fewest = self.orderable(at_least)?;
        let breaks = self.steps.iter().filter_map(|step| self.orderable(step.least?)).filter(|&count| count > fewest);
        std::iter::once(fewest)
            .chain(breaks)
            .filter_map(|count| self.order(count))
            .min_by(|a, b| a.cost.cmp(&b.cost).then(a.count.cmp(&b.count)))
    }

    /// The least that a buying unit costs at any number.
    pub fn least(&self) -> Option<Decimal> {
        self.steps.iter().map(|step| step.unit_cost).min()
    }

    /// What the cheapest orders of at least so many buying units cost, by number from none up to `most`, in millionths.
    /// `None` without a cost price, or beyond what is reckoned with.
    pub fn millionths(&self, most: u64) -> Option<Vec<i128>> {
        let mut next = millionths(self.cheapest(most)?.cost)?;
        let steps: Option<Vec<(Option<u64>, i128)>> =
            self.steps.iter().map(|step| Some((step.least, millionths(step.unit_cost)?))).collect();
        let steps = steps?;
        let mut costs = vec![0; usize::try_from(most).ok()?.checked_add(1)?];
        for count in (1..=most).rev() {
            let sold = count >= self.least && count.is_multiple_of(self.multiple);
            let reached = steps.iter().rev().find(|(least, _)| sold && least.is_some_and(|least| least <= count));
            if let Some((_, unit_cost)) = reached {
                next = next.min(unit_cost.checked_mul(i128::from(count))?);
            }
            costs[count as usize] = next;
        }
        Some(costs)
    }

    /// Exactly so many buying units; `None` when no price reaches down to that number.
    fn order(&self, count: u64) -> Option<Order> {
        let Step { unit_cost, .. } =
            *self.steps.iter().rev().find(|step| step.least.is_some_and(|least| least <= count))?;
        Some(Order { count, unit_cost, cost: unit_cost.checked_mul(Decimal::from(count))? })
    }
}

/// Largest cost that is reckoned with, in millionths.
const MOST: i128 = 1_000_000_000_000_000_000;

/// A cost in whole millionths; `None` where it is none, or beyond what is reckoned with.
fn millionths(cost: Decimal) -> Option<i128> {
    let cost = cost.normalize();
    let by = 10i128.checked_pow(6u32.checked_sub(cost.scale())?)?;
    cost.mantissa().checked_mul(by).filter(|cost| (0..=MOST).contains(cost))
}

/// The least whole number that is not below a minimum; `None` beyond what a count holds.
fn least_count(minimum: Decimal) -> Option<u64> {
    minimum.ceil().max(Decimal::ZERO).to_u64()
}

#[cfg(test)]
mod tests {
    use rust_decimal::dec;

    use super::*;

    #[test]
    fn a_break_is_reached_for_when_the_whole_order_gets_cheaper() {
        let steps = CostSteps::new([(dec!(1), dec!(5)), (dec!(10), dec!(4))]);
        assert_eq!(steps.cheapest(7), Some(Order { count: 7, unit_cost: dec!(5), cost: dec!(35) }));
        assert_eq!(steps.cheapest(8).unwrap().count, 8, "forty either way: no more than needed");
        assert_eq!(steps.cheapest(9), Some(Order { count: 10, unit_cost: dec!(4), cost: dec!(40) }));
        assert_eq!(steps.cheapest(11).unwrap().cost, dec!(44));
    }

    #[test]
    fn a_least_order_is_filled_up() {
        let steps = CostSteps::new([(dec!(4), dec!(3))]);
        assert_eq!(steps.cheapest(1), Some(Order { count: 4, unit_cost: dec!(3), cost: dec!(12) }));
        assert_eq!(CostSteps::default().cheapest(1), None);
    }

    #[test]
    fn what_comes_in_multiples_is_rounded_up_and_breaks_are_reached_in_them() {
        let steps = CostSteps::new([(dec!(1), dec!(5)), (dec!(10), dec!(4))]).ordered_in(3, 4);
        assert_eq!(steps.cheapest(1), Some(Order { count: 4, unit_cost: dec!(5), cost: dec!(20) }));
        assert_eq!(steps.cheapest(7).unwrap().count, 8, "forty, where twelve at four are forty-eight");
        assert_eq!(steps.cheapest(9).unwrap(), Order { count: 12, unit_cost: dec!(4), cost: dec!(48) });
        assert!(!steps.is_even() && CostSteps::new([(dec!(1), dec!(5))]).is_even());
    }

    #[test]
    fn a_table_of_costs_is_that_of_the_cheapest_orders() {
        for steps in [
            vec![(dec!(1), dec!(5))],
            vec![(dec!(4), dec!(3.000001))],
            vec![(dec!(1), dec!(5)), (dec!(10), dec!(4)), (dec!(25), dec!(3.5))],
            vec![(dec!(1), dec!(2)), (dec!(3), dec!(2.5)), (dec!(7), dec!(0.3))],
        ]
        .into_iter()
        .flat_map(|steps| [(1, 1), (5, 1), (1, 3), (7, 4)].map(|order| (steps.clone(), order)))
        {
            let (steps, (least, multiple)) = steps;
            let steps = CostSteps::new(steps).ordered_in(least, multiple);
            let table = steps.millionths(30).unwrap();
            assert_eq!(table[0], 0);
            for count in 1..=30u64 {
                let cost = steps.cheapest(count).unwrap().cost;
                assert_eq!(Decimal::from_i128_with_scale(table[count as usize], 6), cost, "{count}");
            }
        }
        assert_eq!(CostSteps::default().millionths(3), None);
    }
}
