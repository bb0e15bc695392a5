//! How long the least copper of a tree of panels takes to find: 500 circuits on 4 levels of feeders, and how it grows.
//!
//! Run with `cargo bench --bench panel_trees`. The aim for 500 circuits is 2 ms on one core.

#[path = "../it/least_copper/trees.rs"]
mod trees;

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use rigbill::calc::circuits::least_copper::solve;
use trees::{Shape, tree};

fn least_copper(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("least copper");
    let shape = |circuits: usize, odd_buses| Shape {
        panels: (circuits / 20).max(1),
        levels: (circuits / 20).clamp(1, 4),
        circuits,
        sizes: 11,
        odd_buses,
        entangled: false,
        constant: 0.05,
    };
    for (name, odd_buses) in [("buses follow panels", 0.0), ("one bus in ten is shared or leads elsewhere", 0.1)] {
        for circuits in [10, 30, 100, 200, 500, 1000] {
            let trees: Vec<_> = (0..8).map(|seed| tree(seed, shape(circuits, odd_buses))).collect();
            assert!(trees.iter().filter_map(solve).all(|found| found.proved), "a search that gave up measures nothing");
            let mut next = 0;
            group.bench_with_input(BenchmarkId::new(name, circuits), &trees, |bench, trees| {
                bench.iter(|| {
                    next = (next + 1) % trees.len();
                    solve(black_box(&trees[next]))
                });
            });
        }
    }
    group.finish();
}

criterion_group!(benches, least_copper);
criterion_main!(benches);
