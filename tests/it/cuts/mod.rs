//! Cut plans by their properties: every piece once, no stock overdrawn, nothing cheaper than the bound, and no answer that
//! depends on the order of what was sent.

use std::collections::BTreeMap;

use proptest::prelude::*;
use rigbill::calc::cuts::question::{CutPlanAnswer, CutPlanPiece, CutPlanRequest, CutPlanStock, answer, check};
use rigbill::calc::cuts::{Demand, Kind, Measure, Task, Work, solve};
use rigbill::calc::findings::Fault;
use rigbill::calc::units::LengthUnit;
use rust_decimal::Decimal;

fn tenths(tenths: u32) -> Decimal {
    Decimal::new(i64::from(tenths), 1)
}

fn piece(n: usize, length: u32, count: u32) -> CutPlanPiece {
    CutPlanPiece { label: format!("P{n}"), length: tenths(length), count }
}

fn stock(n: usize, length: u32, cents: u32, available: Option<u32>) -> CutPlanStock {
    CutPlanStock {
        sku: format!("S{n}"),
        length: Some(tenths(length)),
        price: Some(Decimal::new(cents.into(), 2)),
        price_per_unit: None,
        available,
    }
}

fn by_the_foot(cents: u32) -> CutPlanStock {
    CutPlanStock {
        sku: "FT".to_owned(),
        length: None,
        price: None,
        price_per_unit: Some(Decimal::new(cents.into(), 2)),
        available: None,
    }
}

fn request(pieces: Vec<CutPlanPiece>, stock: Vec<CutPlanStock>, allowance: u32) -> CutPlanRequest {
    CutPlanRequest {
        unit: LengthUnit::Ft,
        pieces,
        stock,
        allowance_per_cut: tenths(allowance),
        minimum_offcut: Decimal::from(3),
        time_limit_ms: 20,
    }
}

fn planned(request: &CutPlanRequest) -> Result<CutPlanAnswer, Vec<Fault>> {
    check(request).and_then(|question| answer(&question))
}

/// Asserts that a plan cuts every piece once from what there is, and costs what it says.
fn holds(request: &CutPlanRequest, plan: &CutPlanAnswer) {
    let mut left: BTreeMap<(String, Decimal), i64> = BTreeMap::new();
    for piece in &request.pieces {
        *left.entry((piece.label.clone(), piece.length)).or_default() += i64::from(piece.count);
    }
    let mut used: BTreeMap<&str, u32> = BTreeMap::new();
    let (mut cost, mut waste) = (Decimal::ZERO, Decimal::ZERO);
    for entry in &plan.used {
        let stock = request.stock.iter().find(|stock| stock.sku == entry.sku).unwrap();
        let (mut taken, mut in_pieces) = (Decimal::ZERO, Decimal::ZERO);
        for cut in &entry.cuts {
            *left.get_mut(&(cut.label.clone(), cut.length)).unwrap() -= i64::from(cut.count * entry.count);
            taken += (cut.length + request.allowance_per_cut) * Decimal::from(cut.count);
            in_pieces += cut.length * Decimal::from(cut.count);
        }
        let count = Decimal::from(entry.count);
        match stock.price_per_unit {
            Some(price) => {
                cost += taken * price;
                waste += taken - in_pieces;
                assert_eq!((entry.count, entry.offcut), (1, Decimal::ZERO));
            }
            None => {
                let length = stock.length.unwrap();
                assert!(taken <= length, "{} is overdrawn: {taken} of {length}", entry.sku);
                let end = length - taken;
                assert_eq!(entry.offcut, if end < request.minimum_offcut { Decimal::ZERO } else { end });
                *used.entry(&stock.sku).or_default() += entry.count;
                cost += stock.price.unwrap() * count;
                waste += (length - in_pieces) * count;
            }
        }
    }
    for stock in &request.stock {
        let count = used.get(stock.sku.as_str()).copied().unwrap_or(0);
        assert!(stock.available.is_none_or(|available| count <= available), "{count} of {}", stock.sku);
    }
    assert!(left.values().all(|&count| count == 0), "left over or cut twice: {left:?}");
    assert_eq!((plan.cost, plan.waste), (cost, waste));
    assert!(plan.lower_bound <= cost);
    assert_eq!(plan.optimal, plan.lower_bound == cost);
}

/// The least cost by trying everything: each piece in every opened length, in a new one of each kind, and to measure.
fn least(request: &CutPlanRequest) -> Option<Decimal> {
    struct Trial<'a> {
        request: &'a CutPlanRequest,
        pieces: Vec<Decimal>,
        best: Option<Decimal>,
    }
    fn at(trial: &mut Trial, piece: usize, rooms: &mut Vec<Decimal>, used: &mut Vec<u32>, cost: Decimal) {
        if trial.best.is_some_and(|best| cost >= best) {
            return;
        }
        let Some(&length) = trial.pieces.get(piece) else {
            trial.best = Some(cost);
            return;
        };
        for place in 0..rooms.len() {
            if rooms[place] >= length {
                rooms[place] -= length;
                at(trial, piece + 1, rooms, used, cost);
                rooms[place] += length;
            }
        }
        for kind in 0..used.len() {
            let stock = &trial.request.stock[kind];
            if let Some(price) = stock.price_per_unit {
                at(trial, piece + 1, rooms, used, cost + price * length);
            } else if stock.length.unwrap() >= length && stock.available.is_none_or(|most| used[kind] < most) {
                rooms.push(stock.length.unwrap() - length);
                used[kind] += 1;
                at(trial, piece + 1, rooms, used, cost + stock.price.unwrap());
                used[kind] -= 1;
                rooms.pop();
            }
        }
    }
    let lengths = request.pieces.iter().flat_map(|piece| std::iter::repeat_n(piece.length, piece.count as usize));
    let mut pieces: Vec<Decimal> = lengths.map(|length| length + request.allowance_per_cut).collect();
    pieces.sort_by(|a, b| b.cmp(a));
    let mut trial = Trial { request, pieces, best: None };
    at(&mut trial, 0, &mut Vec::new(), &mut vec![0; request.stock.len()], Decimal::ZERO);
    trial.best
}

/// Questions of a few pieces on a few kinds of stock, of which some may run out.
fn small() -> impl Strategy<Value = CutPlanRequest> {
    let pieces = prop::collection::vec((10u32..=300, 1u32..=2), 1..5);
    let kinds = prop::collection::vec((100u32..=700, 0u32..=4000, prop::option::weighted(0.4, 0u32..=3)), 1..4);
    (pieces, kinds, prop::option::weighted(0.3, 20u32..80), 0u32..=3).prop_map(|(pieces, kinds, foot, allowance)| {
        let pieces = pieces.into_iter().enumerate().map(|(n, (length, count))| piece(n, length, count)).collect();
        let kinds =
            kinds.into_iter().enumerate().map(|(n, (length, cents, available))| stock(n, length, cents, available));
        request(pieces, kinds.chain(foot.map(by_the_foot)).collect(), allowance)
    })
}

/// Questions of the size that a boat asks.
fn usual() -> impl Strategy<Value = CutPlanRequest> {
    let pieces = prop::collection::vec((50u32..=490, 1u32..=3), 2..16);
    let kinds = prop::collection::vec((500u32..=5000, 500u32..=20000, prop::option::weighted(0.2, 1u32..=3)), 1..4);
    (pieces, kinds, prop::option::weighted(0.4, 20u32..80), 0u32..=3).prop_map(|(pieces, kinds, foot, allowance)| {
        let pieces = pieces.into_iter().enumerate().map(|(n, (length, count))| piece(n, length, count)).collect();
        let mut kinds: Vec<CutPlanStock> = kinds
            .into_iter()
            .enumerate()
            .map(|(n, (length, cents, available))| stock(n, length, cents, available))
            .collect();
        kinds[0].available = None;
        request(pieces, kinds.into_iter().chain(foot.map(by_the_foot)).collect(), allowance)
    })
}

/// The least cost of a task by trying everything: each piece from every opened length, from a new one of each kind, and to
/// measure.
fn least_of(task: &Task) -> Option<i128> {
    struct Trial<'a> {
        task: &'a Task,
        pieces: Vec<i64>,
        best: Option<i128>,
    }
    fn at(trial: &mut Trial, piece: usize, rooms: &mut Vec<i64>, used: &mut Vec<usize>, measured: i64) {
        let Some(&length) = trial.pieces.get(piece) else {
            let of_kinds = trial.task.kinds.iter().zip(used.iter()).map(|(kind, &count)| kind.costs[count]);
            let of_measure = match &trial.task.measure {
                Some(Measure::Units { unit, costs }) => costs[usize::try_from((measured + unit - 1) / unit).unwrap()],
                Some(Measure::Each(cost)) => cost * i128::from(measured),
                None => 0,
            };
            let cost = of_kinds.sum::<i128>() + of_measure;
            trial.best = Some(trial.best.map_or(cost, |best| best.min(cost)));
            return;
        };
        for place in 0..rooms.len() {
            if rooms[place] >= length {
                rooms[place] -= length;
                at(trial, piece + 1, rooms, used, measured);
                rooms[place] += length;
            }
        }
        for kind in 0..trial.task.kinds.len() {
            let Kind { length: room, costs } = &trial.task.kinds[kind];
            if *room >= length && used[kind] + 1 < costs.len() {
                rooms.push(room - length);
                used[kind] += 1;
                at(trial, piece + 1, rooms, used, measured);
                used[kind] -= 1;
                rooms.pop();
            }
        }
        if trial.task.measure.is_some() {
            at(trial, piece + 1, rooms, used, measured + length);
        }
    }
    let pieces = task.demands.iter().flat_map(|demand| vec![demand.length; demand.count as usize]).collect();
    let mut trial = Trial { task, pieces, best: None };
    at(&mut trial, 0, &mut Vec::new(), &mut vec![0; task.kinds.len()], 0);
    trial.best
}

/// What so many cost where more may cost less: never falling, since more may be bought than is needed.
fn with_break(most: usize, each: i128, from: usize, then: i128) -> Vec<i128> {
    let plain = |n: usize| n as i128 * if n >= from { then } else { each };
    (0..=most).map(|n| (n..=most.max(from)).map(plain).min().unwrap()).collect()
}

#[test]
fn stock_that_has_too_few_places_is_not_enough_and_the_pieces_are_named() {
    // 30 stock lengths of which each holds one of the 31 long pieces, although they are long enough taken together.
    let stocks = (0..5).map(|n| stock(n, 1_000 - 10 * n as u32, 500 + n as u32, Some(6))).collect();
    let asked = request(vec![piece(1, 510, 31), piece(2, 200, 10)], stocks, 0);
    let faults = planned(&asked).unwrap_err();
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert_eq!(faults[0].pointer, "/stock");
    assert!(faults[0].message.contains("'P1'") && faults[0].message.contains("31 pieces"), "{}", faults[0].message);
    assert!(!faults[0].message.contains("'P2'"), "{}", faults[0].message);
}

proptest! {
    #[test]
    fn wire_to_order_with_price_breaks_is_never_said_to_cost_more_than_it_can(
        lengths in prop::collection::vec(1i64..40, 1..6),
        spools in prop::collection::vec((10i64..90, 100i128..4_000, 1usize..4), 0..3),
        each in 20i128..90,
        from in 2usize..150,
        off in 1i128..60,
        steps in prop::sample::select(vec![2_000u64, 200_000, 20_000_000]),
    ) {
        let whole = usize::try_from(lengths.iter().sum::<i64>()).unwrap();
        let measure = Measure::Units { unit: 1, costs: with_break(whole, each, from, (each - off).max(1)) };
        let kinds = spools.iter().map(|&(length, price, most)| {
            Kind { length, costs: (0..=most as i128).map(|n| n * price).collect() }
        });
        let demands = lengths.iter().map(|&length| Demand { length, count: 1 }).collect();
        let task = Task { demands, kinds: kinds.collect(), measure: Some(measure) };
        let least = least_of(&task).unwrap();
        let plan = solve(&task, &mut Work::steps(steps)).unwrap();
        prop_assert!(plan.bound <= least && least <= plan.cost, "{} <= {least} <= {}: {task:?}", plan.bound, plan.cost);
        prop_assert!(!plan.optimal() || plan.cost == least);
    }

    #[test]
    fn small_plans_cost_what_trying_everything_costs(request in small()) {
        match (planned(&request), least(&request)) {
            (Ok(plan), Some(least)) => {
                holds(&request, &plan);
                prop_assert_eq!(plan.cost, least);
                prop_assert!(plan.optimal, "a small plan is proven: {} of {}", plan.lower_bound, plan.cost);
            }
            (Err(faults), None) => {
                let named = faults.iter().all(|fault| fault.pointer.starts_with("/pieces/") || fault.pointer == "/stock");
                prop_assert!(named, "{:?}", faults);
            }
            (plan, least) => prop_assert!(false, "{plan:?}, and trying everything finds {least:?}"),
        }
    }

    #[test]
    fn every_piece_is_cut_once_and_the_order_of_the_lists_makes_no_difference(request in usual(), turn in 0usize..20) {
        let plan = planned(&request).unwrap();
        holds(&request, &plan);
        let mut turned = request.clone();
        let (pieces, kinds) = (turned.pieces.len(), turned.stock.len());
        turned.pieces.rotate_left(turn % pieces);
        turned.stock.rotate_left(turn % kinds);
        turned.pieces.reverse();
        prop_assert_eq!(planned(&turned).unwrap(), plan);
    }

    #[test]
    fn more_stock_never_costs_more_and_neither_does_an_offcut(request in usual(), length in 30u32..=500, cents in 1u32..9000) {
        let plan = planned(&request).unwrap();
        let with = |stock: CutPlanStock| {
            let mut more = request.clone();
            more.stock.push(stock);
            planned(&more).unwrap()
        };
        let offcut = with(stock(90, length, 0, Some(1)));
        let kind = with(stock(91, length * 10, cents, None));
        for more in [offcut, kind] {
            // What is proven costs no more than before; what is not, can still not cost less than its bound.
            prop_assert!(more.lower_bound <= plan.cost, "{} > {}", more.lower_bound, plan.cost);
            prop_assert!(!more.optimal || more.cost <= plan.cost, "{} > {}", more.cost, plan.cost);
        }
    }

    #[test]
    fn a_larger_budget_claims_nothing_else(request in usual()) {
        let little = planned(&CutPlanRequest { time_limit_ms: 1, ..request.clone() }).unwrap();
        let much = planned(&request).unwrap();
        holds(&request, &little);
        prop_assert!(little.lower_bound <= much.cost && much.lower_bound <= little.cost);
        if little.optimal && much.optimal {
            prop_assert_eq!(little.cost, much.cost);
        }
    }
}

#[test]
fn of_two_plans_at_one_cost_the_one_that_wastes_less_is_kept() {
    let pieces = vec![piece(1, 300, 2)];
    let stock = vec![stock(1, 1000, 2000, None), stock(2, 650, 2000, None)];
    let plan = planned(&request(pieces, stock, 0)).unwrap();
    assert_eq!((plan.used[0].sku.as_str(), plan.waste), ("S2", tenths(50)));
}

#[test]
fn very_long_and_very_fine_figures_are_reckoned_with_exactly() {
    let fine = |text: &str| text.parse::<Decimal>().unwrap();
    let mut question = request(vec![piece(1, 1, 1)], vec![by_the_foot(1)], 0);
    question.pieces[0] = CutPlanPiece { label: "P".to_owned(), length: fine("999999.999999"), count: 5000 };
    question.stock[0].price_per_unit = Some(fine("999999.999999"));
    let plan = planned(&question).unwrap();
    assert_eq!(plan.cost, fine("999999.999999") * fine("999999.999999") * Decimal::from(5000));
    assert!(plan.optimal);
}
