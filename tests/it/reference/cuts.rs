//! Cut plans of published instances: the fewest stock lengths are those that are known, and are proven to be.

use std::collections::BTreeMap;

use rigbill::calc::cuts::{Demand, Kind, Plan, Task, Work, solve};

use super::rows;

/// The plan of so many pieces of each length, from stock of one length at a cost of 1.
fn planned(stock_length: i64, pieces: &BTreeMap<i64, u32>) -> Plan {
    let demands: Vec<Demand> = pieces.iter().map(|(&length, &count)| Demand { length, count }).collect();
    let all: i128 = pieces.values().map(|&count| i128::from(count)).sum();
    let kind = Kind { length: stock_length, costs: (0..=all).collect() };
    let plan = solve(&Task { demands, kinds: vec![kind], measure: None }, &mut Work::steps(1_000_000_000)).unwrap();
    let mut cut: BTreeMap<i64, u32> = BTreeMap::new();
    let lengths: Vec<i64> = pieces.keys().copied().collect();
    for stock in &plan.cuts {
        assert!(
            stock.take.iter().map(|&(place, count)| lengths[place] * i64::from(count)).sum::<i64>() <= stock_length
        );
        stock.take.iter().for_each(|&(place, count)| *cut.entry(lengths[place]).or_default() += count * stock.times);
    }
    assert_eq!(&cut, pieces);
    plan
}

#[test]
fn packing_instances_of_the_or_library_are_planned_with_the_best_known_count_and_proven() {
    for row in rows(include_str!("data/cutting_u120.csv")) {
        let mut pieces: BTreeMap<i64, u32> = BTreeMap::new();
        for length in row.text("lengths").split(' ') {
            *pieces.entry(length.parse().unwrap()).or_default() += 1;
        }
        let plan = planned(row.number("stock_length") as i64, &pieces);
        assert_eq!(plan.cost, row.number("best_known") as i128, "{}", row.text("instance"));
        assert!(plan.optimal(), "{}: bound {}", row.text("instance"), plan.bound);
    }
}

#[test]
fn a_textbook_instance_of_cutting_stock_is_planned_with_its_optimum_and_proven() {
    for row in rows(include_str!("data/cutting_examples.csv")) {
        let demand = row.text("demand (length x count)").split(' ').map(|pair| pair.split_once('x').unwrap());
        let pieces = demand.map(|(length, count)| (length.parse().unwrap(), count.parse().unwrap())).collect();
        let plan = planned(row.number("stock_length") as i64, &pieces);
        assert_eq!(plan.cost, row.number("fewest_stock_pieces") as i128, "{}", row.text("id"));
        assert!(plan.optimal(), "{}: bound {}", row.text("id"), plan.bound);
    }
}
