//! Cut plans: every piece once, no spool overdrawn, never dearer than taking the pieces as they come.

use proptest::prelude::*;
use rigbill::calc::purchase::cut_plan::{CutPlan, StockChoice, plan_cuts};
use rigbill::calc::purchase::price_break::CostSteps;
use rigbill::calc::requirements::Piece;
use rigbill::calc::units::Length;
use rust_decimal::Decimal;

use super::fixture::decimal;

fn choice(sku: &str, feet: f64, cost: &str, cut_to_order: bool) -> StockChoice {
    StockChoice {
        sku: sku.into(),
        length: Length::feet(feet),
        cut_to_order,
        costs: CostSteps::new([(Decimal::ONE, decimal(cost))]),
        lead_time_days: 0,
        on_shelf: None,
    }
}

fn cut(feet: &[f64]) -> Vec<Piece> {
    let piece = |(n, &feet): (usize, &f64)| Piece { label: format!("C{n:02}").into(), cut: Length::feet(feet) };
    feet.iter().enumerate().map(piece).collect()
}

fn spools(plan: &CutPlan, choice: usize) -> u64 {
    plan.orders.get(&choice).map_or(0, |order| order.count)
}

#[test]
fn pieces_are_packed_and_the_last_spool_is_the_shortest_that_holds_them() {
    let stock = [choice("W-25", 25.0, "10", false), choice("W-100", 100.0, "30", false)];
    let plan = plan_cuts(&cut(&[40.0, 35.0, 25.0, 12.0, 12.0]), &stock);
    assert_eq!(
        (spools(&plan, 0), spools(&plan, 1)),
        (1, 1),
        "40 + 35 + 25 from the hundred, 12 + 12 from the short one"
    );
    assert_eq!(plan.cost, decimal("40"));
}

#[test]
fn wire_by_the_foot_is_bought_where_it_is_cheaper() {
    let stock = [choice("W-100", 100.0, "30", false), choice("W-FOOT", 1.0, "0.50", true)];
    assert_eq!(plan_cuts(&cut(&[10.2]), &stock).cost, decimal("5.50"), "eleven whole feet");
    assert_eq!(plan_cuts(&cut(&[30.0, 45.0]), &stock).cost, decimal("30"));
    let both = plan_cuts(&cut(&[60.0, 40.0, 8.0]), &stock);
    assert_eq!((both.cost, spools(&both, 1)), (decimal("34.00"), 8), "a spool, and the rest by the foot");
}

#[test]
fn a_piece_longer_than_every_spool_is_named_and_the_others_are_cut() {
    let stock = [choice("W-25", 25.0, "10", false), choice("W-50", 50.0, "18", false)];
    let plan = plan_cuts(&cut(&[20.0, 51.0, 50.0]), &stock);
    assert_eq!(plan.too_long, [1]);
    assert_eq!(plan.opened.iter().map(|opened| opened.cuts.len()).sum::<usize>(), 2);
    assert_eq!(plan_cuts(&cut(&[1.0]), &[]).too_long, [0]);
}

#[test]
fn spools_with_a_price_break_are_counted_together() {
    let breaks = CostSteps::new([(decimal("1"), decimal("20")), (decimal("3"), decimal("12"))]);
    let stock = [StockChoice { costs: breaks, ..choice("W-50", 50.0, "20", false) }];
    let plan = plan_cuts(&cut(&[50.0, 50.0]), &stock);
    assert_eq!((spools(&plan, 0), plan.cost), (3, decimal("36")), "three at twelve cost less than two at twenty");
}

/// Cost of taking pieces in their order from one spool after another of one choice.
fn next_fit_cost(pieces: &[Piece], choice: &StockChoice) -> Option<Decimal> {
    let mut spools = 0;
    let mut left = 0;
    for piece in pieces {
        let cut = piece.cut.nanometres();
        if cut > choice.length.nanometres() {
            return None;
        }
        if cut > left {
            (spools, left) = (spools + 1, choice.length.nanometres());
        }
        left -= cut;
    }
    let unit_cost = choice.costs.cheapest(1)?.unit_cost;
    Some(unit_cost * Decimal::from(spools))
}

/// Least cost by trying every way to put pieces into spools of every choice.
fn least_cost(pieces: &[Piece], stock: &[StockChoice]) -> Decimal {
    fn open(rest: &[i64], spools: &mut Vec<i64>, stock: &[StockChoice], cost: Decimal, best: &mut Option<Decimal>) {
        if best.is_some_and(|best| cost >= best) {
            return;
        }
        let Some((&piece, rest)) = rest.split_first() else {
            *best = Some(cost);
            return;
        };
        for spool in 0..spools.len() {
            if spools[spool] >= piece {
                spools[spool] -= piece;
                open(rest, spools, stock, cost, best);
                spools[spool] += piece;
            }
        }
        for choice in stock.iter().filter(|choice| choice.length.nanometres() >= piece) {
            spools.push(choice.length.nanometres() - piece);
            open(rest, spools, stock, cost + choice.costs.cheapest(1).unwrap().unit_cost, best);
            spools.pop();
        }
    }
    let cuts: Vec<i64> = pieces.iter().map(|piece| piece.cut.nanometres()).collect();
    let mut best = None;
    open(&cuts, &mut Vec::new(), stock, Decimal::ZERO, &mut best);
    best.unwrap()
}

fn stock_strategy() -> impl Strategy<Value = Vec<StockChoice>> {
    prop::collection::vec((20u32..=200, 100u32..=9000, prop::bool::weighted(0.2)), 1..4).prop_map(|rows| {
        let row = |(n, (feet, cents, by_foot)): (usize, (u32, u32, bool))| {
            let cost = Decimal::new(i64::from(cents), 2).to_string();
            let length = if by_foot { 1.0 } else { f64::from(feet) };
            choice(&format!("W-{n}"), length, &cost, by_foot)
        };
        rows.into_iter().enumerate().map(row).collect()
    })
}

proptest! {
    #[test]
    fn every_piece_is_cut_once_and_no_spool_is_overdrawn(
        tenths in prop::collection::vec(1u32..=2200, 0..40),
        stock in stock_strategy(),
    ) {
        let feet: Vec<f64> = tenths.iter().map(|&tenth| f64::from(tenth) / 10.0).collect();
        let pieces = cut(&feet);
        let plan = plan_cuts(&pieces, &stock);
        let mut met: Vec<usize> = plan.opened.iter().flat_map(|opened| opened.cuts.clone()).collect();
        met.extend(&plan.too_long);
        met.sort_unstable();
        prop_assert_eq!(met, (0..pieces.len()).collect::<Vec<_>>());
        for opened in &plan.opened {
            prop_assert!(opened.taken(&pieces) <= opened.length);
            prop_assert!(!opened.cuts.is_empty());
            let one = stock[opened.choice].length;
            let whole = opened.length.nanometres() % one.nanometres() == 0;
            let as_sold = if stock[opened.choice].cut_to_order { whole } else { opened.length == one };
            prop_assert!(as_sold, "{:?} is sold by {:?}", opened.length, one);
        }
        for &piece in &plan.too_long {
            prop_assert!(stock.iter().all(|choice| !choice.cut_to_order && choice.length < pieces[piece].cut));
        }
        // What is ordered covers what is opened, and the cost is that of the orders.
        for (&place, order) in &plan.orders {
            let opened = plan.opened.iter().filter(|opened| opened.choice == place);
            let opened: i64 = opened.map(|opened| opened.length.nanometres()).sum();
            prop_assert!(opened <= stock[place].length.nanometres() * i64::try_from(order.count).unwrap());
        }
        prop_assert_eq!(plan.cost, plan.orders.values().map(|order| order.cost).sum::<Decimal>());
        prop_assert!(plan.lower_bound <= plan.cost);
        prop_assert_eq!(&plan, &plan_cuts(&pieces, &stock));
    }

    #[test]
    fn it_is_never_dearer_than_taking_the_pieces_as_they_come(
        tenths in prop::collection::vec(1u32..=2000, 1..40),
        stock in stock_strategy(),
    ) {
        let feet: Vec<f64> = tenths.iter().map(|&tenth| f64::from(tenth) / 10.0).collect();
        let pieces = cut(&feet);
        let plan = plan_cuts(&pieces, &stock);
        for choice in stock.iter().filter(|choice| !choice.cut_to_order) {
            if let Some(plain) = next_fit_cost(&pieces, choice) {
                prop_assert!(plan.cost <= plain, "{} > {plain}", plan.cost);
            }
        }
    }

    #[test]
    fn small_plans_cost_the_least_possible_and_say_so(
        tenths in prop::collection::vec(1u32..=1000, 1..7),
        costs in (500u32..3000, 1500u32..6000),
    ) {
        let feet: Vec<f64> = tenths.iter().map(|&tenth| f64::from(tenth) / 10.0).collect();
        let pieces = cut(&feet);
        let cents = |cents: u32| Decimal::new(i64::from(cents), 2).to_string();
        let stock = [choice("W-50", 50.0, &cents(costs.0), false), choice("W-100", 100.0, &cents(costs.1), false)];
        let plan = plan_cuts(&pieces, &stock);
        prop_assert_eq!(plan.cost, least_cost(&pieces, &stock));
        prop_assert_eq!(plan.lower_bound, plan.cost);
    }
}
