//! The least copper of panel trees, against every choice there is on small ones, and handed over to a mixed-integer
//! solver on larger ones (`tests/reference/least_copper.py`).

pub mod trees;

use std::fmt::Write;

use proptest::prelude::*;
use rigbill::calc::circuits::least_copper::{Place, Problem, even_split, price, solve};
use trees::{Shape, tree};

/// What a choice of sizes comes to, written apart from the program; `None` when it breaks a feeder's own limit.
fn worth(problem: &Problem, sizes: &[usize]) -> Option<(u32, u64)> {
    let of = |variable: &usize| &problem.variables[*variable].sizes[sizes[*variable]];
    let mut copper: u64 = (0..sizes.len()).map(|variable| of(&variable).copper).sum();
    let mut unmet = 0;
    for place in &problem.places {
        if let Some(own) = &place.own {
            let takes: f64 = own.positives.iter().map(|v| of(v).positive_v).sum::<f64>()
                + own.returns.iter().map(|v| of(v).return_v).sum::<f64>();
            if takes > own.limit_v * (1.0 + 1e-9) + 1e-12 {
                return None;
            }
        }
        let there: f64 = place.positives.iter().map(|v| of(v).positive_v).sum();
        let back: f64 = place.returns.iter().map(|v| of(v).return_v).sum();
        for branch in &place.branches {
            let fitting = branch.ways.iter().filter(|way| there + back <= way.through_v && back <= way.return_v);
            match fitting.map(|way| way.copper).min() {
                Some(least) => copper += least,
                None => unmet += 1,
            }
        }
    }
    Some((unmet, copper))
}

/// The best of every choice of sizes.
fn exhaustive(problem: &Problem) -> Option<(u32, u64)> {
    let mut sizes = vec![0; problem.variables.len()];
    let mut best: Option<(u32, u64)> = None;
    loop {
        if let Some(worth) = worth(problem, &sizes) {
            best = Some(best.map_or(worth, |known| known.min(worth)));
        }
        let Some(next) = (0..sizes.len()).find(|v| sizes[*v] + 1 < problem.variables[*v].sizes.len()) else {
            return best;
        };
        sizes[next] += 1;
        sizes[..next].fill(0);
    }
}

fn check_exhaustively(problem: &Problem) -> bool {
    let Some(found) = solve(problem) else {
        assert_eq!(exhaustive(problem), None, "a choice was missed");
        return false;
    };
    assert!(found.proved);
    let cost = (found.cost.unmet, found.cost.copper);
    assert_eq!(Some(cost), exhaustive(problem));
    assert_eq!(Some(cost), worth(problem, &found.sizes), "the sizes found are worth what is said of them");
    true
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_choice_costs_less(
        seed in any::<u64>(), panels in 1usize..5, levels in 1usize..5, circuits in 1usize..12, sizes in 2usize..12,
        odd_buses in 0.0f64..1.0, entangled in any::<bool>(), constant in 0.0f64..0.6,
    ) {
        // Six variables at most, so that there are no more than some ten thousand choices.
        let sizes = if panels > 3 { sizes.min(4) } else { sizes.min(7) };
        let levels = levels.min(panels);
        check_exhaustively(&tree(seed, Shape { panels, levels, circuits, sizes, odd_buses, entangled, constant }));
    }

    /// Chains are deep enough for step functions to be merged.
    #[test]
    fn no_choice_costs_less_on_a_chain(
        seed in any::<u64>(), levels in 4usize..7, circuits in 4usize..16, constant in 0.0f64..0.2,
    ) {
        let sizes = if levels > 5 { 4 } else { 5 };
        check_exhaustively(&tree(seed, Shape { panels: levels, levels, circuits, sizes, odd_buses: 0.0, entangled: false, constant }));
    }

    /// The plain choice keeps the same limits, so it never costs less.
    #[test]
    fn the_plain_choice_never_costs_less(seed in any::<u64>(), panels in 1usize..20, odd_buses in 0.0f64..0.4) {
        let shape = Shape { panels, levels: panels.min(3), circuits: panels * 5, sizes: 11, odd_buses, entangled: false, constant: 0.1 };
        let problem = tree(seed, shape);
        if let (Some(found), Some(plain)) = (solve(&problem), price(&problem, &even_split(&problem))) {
            prop_assert!(found.cost <= plain.cost, "{:?} against {:?}", found.cost, plain.cost);
        }
    }

    /// What is further away never takes less: with all drops of a tree a little larger, its copper is no less.
    #[test]
    fn more_drop_never_takes_less_copper(seed in any::<u64>(), panels in 1usize..12, more in 1.0f64..1.3, odd_buses in 0.0f64..0.4) {
        let shape = Shape { panels, levels: panels.min(4), circuits: panels * 4, sizes: 11, odd_buses, entangled: false, constant: 0.1 };
        let near = tree(seed, shape);
        let mut far = near.clone();
        for size in far.variables.iter_mut().flat_map(|variable| &mut variable.sizes) {
            size.positive_v *= more;
            size.return_v *= more;
        }
        if let (Some(near), Some(far)) = (solve(&near), solve(&far)) {
            prop_assert!(near.cost <= far.cost);
        }
    }
}

/// Of the trees above, enough have a choice for the comparison to mean something.
#[test]
fn most_generated_trees_can_be_sized() {
    let shape = Shape { panels: 3, levels: 2, circuits: 8, sizes: 7, odd_buses: 0.5, entangled: false, constant: 0.3 };
    let sized = (0..100).filter(|seed| check_exhaustively(&tree(*seed, shape))).count();
    assert!(sized > 50, "{sized} of 100");
}

/// Eight levels, returns that follow the panels: step functions keep it small.
#[test]
fn a_deep_tree_is_solved_within_the_bound_of_work() {
    for seed in 0..20 {
        let shape =
            Shape { panels: 40, levels: 8, circuits: 400, sizes: 11, odd_buses: 0.0, entangled: false, constant: 0.02 };
        let problem = tree(seed, shape);
        if let Some(found) = solve(&problem) {
            assert!(found.proved, "seed {seed}");
        }
    }
}

/// Buses laid out against the panels as perversely as can be: an answer comes all the same, and keeps all limits.
#[test]
fn a_perverse_tree_gets_an_answer() {
    for seed in 0..6 {
        let shape =
            Shape { panels: 50, levels: 8, circuits: 500, sizes: 11, odd_buses: 1.0, entangled: true, constant: 0.3 };
        let problem = tree(seed, shape);
        if let Some(found) = solve(&problem) {
            assert_eq!(worth(&problem, &found.sizes), Some((found.cost.unmet, found.cost.copper)));
        }
    }
}

fn place_json(place: &Place) -> String {
    let own = place.own.as_ref().map_or("null".to_owned(), |own| {
        format!("{{\"positives\":{:?},\"returns\":{:?},\"limit_v\":{:?}}}", own.positives, own.returns, own.limit_v)
    });
    let mut branches = String::new();
    for branch in &place.branches {
        let most = |volts: f64| if volts.is_finite() { format!("{volts:?}") } else { "null".to_owned() };
        let ways = branch.ways.iter().map(|w| format!("[{},{},{}]", w.copper, most(w.through_v), most(w.return_v)));
        let comma = if branches.is_empty() { "" } else { "," };
        write!(branches, "{comma}[{}]", ways.collect::<Vec<_>>().join(",")).unwrap();
    }
    format!(
        "{{\"positives\":{:?},\"returns\":{:?},\"own\":{own},\"branches\":[{branches}]}}",
        place.positives, place.returns
    )
}

/// Writes larger trees and what was found for each to `target/least_copper.jsonl`, where the solver reads them.
#[test]
fn trees_are_handed_over_to_the_solver() {
    let mut lines = String::new();
    let mut written = 0;
    for seed in 0..120u64 {
        let panels = [6, 10, 16, 24][seed as usize % 4];
        let odd_buses = [0.0, 0.15, 0.3][seed as usize % 3];
        let shape = Shape {
            panels,
            levels: 2 + seed as usize % 3,
            circuits: panels * 5,
            sizes: 11,
            odd_buses,
            entangled: false,
            constant: 0.15,
        };
        let problem = tree(7000 + seed, shape);
        let Some(found) = solve(&problem) else { continue };
        assert!(found.proved, "seed {seed}");
        let variables = problem.variables.iter().map(|variable| {
            let sizes = variable.sizes.iter().map(|s| format!("[{},{:?},{:?}]", s.copper, s.positive_v, s.return_v));
            format!("[{}]", sizes.collect::<Vec<_>>().join(","))
        });
        let variables = variables.collect::<Vec<_>>().join(",");
        let places = problem.places.iter().map(place_json).collect::<Vec<_>>().join(",");
        writeln!(
            lines,
            "{{\"seed\":{seed},\"variables\":[{variables}],\"places\":[{places}],\"unmet\":{},\"copper\":{},\"sizes\":{:?}}}",
            found.cost.unmet, found.cost.copper, found.sizes
        )
        .unwrap();
        written += 1;
    }
    assert!(written >= 60, "only {written} trees can be sized");
    std::fs::write(crate::fixture::target().join("least_copper.jsonl"), lines).unwrap();
}
