//! How long cut plans take, and how many are proven: made-up jobs, and the whole purchase of the example boats.
//!
//! Run with `cargo bench --bench cut_plan`. The aim for a whole purchase is 5 ms at the median, on one core; for the jobs that
//! at least 95 % are proven.

use std::hint::black_box;
use std::time::{Duration, Instant};

use chrono::NaiveDate;
use criterion::{Criterion, criterion_group, criterion_main};
use rigbill::calc::chain;
use rigbill::calc::cuts::{Demand, Kind, Measure, Task, Work, solve};
use rigbill::calc::purchase::choose;
use rigbill::calc::shop::Shop;
use rigbill::calc::spec::input::BoatSpecInput;
use rigbill::cli::demo;
use rigbill::clock::Clock;
use rigbill::service::Service;
use rigbill::store;

const BOATS: [(&str, &str); 4] = [
    ("skiff", include_str!("../../api/examples/skiff.json")),
    ("bay boat", include_str!("../../api/examples/bay-boat.json")),
    ("re-rig", include_str!("../../api/examples/re-rig-yellow.json")),
    ("30 circuits", include_str!("thirty_circuits.json")),
];

/// The demo shop's tables, read once from a database in memory as the service reads them.
fn demo_shop() -> Shop {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    runtime.block_on(async {
        let store = store::connect("sqlite::memory:").await.expect("a database in memory");
        let clock = Clock::System;
        store.migrate(clock.now()).await.expect("the schema");
        let service = Service::new(store, clock);
        demo::shop::load(&service).await.expect("the demo shop");
        service.shop().await.expect("the shop's tables").1
    })
}

/// Numbers that look thrown, the same at every run (G. Marsaglia, Xorshift RNGs, Journal of Statistical Software 8, 2003).
struct Dice(u64);

impl Dice {
    fn between(&mut self, least: i64, most: i64) -> i64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        least + (self.0 % (most - least + 1) as u64) as i64
    }
}

/// A job of 5 to 60 pieces of 5 to 49 ft, in tenths of a foot, on 1 to 5 stock lengths of 25 to 500 ft, some of which run
/// out, or to measure.
fn job(dice: &mut Dice) -> Task {
    let pieces = dice.between(5, 60);
    let step = [1, 5, 10][dice.between(0, 2) as usize];
    let pool: Vec<i64> = (0..dice.between(2, 60)).map(|_| dice.between(50 / step, 490 / step) * step).collect();
    let mut demands: Vec<Demand> = Vec::new();
    for _ in 0..pieces {
        let length = pool[dice.between(0, pool.len() as i64 - 1) as usize];
        match demands.iter_mut().find(|demand| demand.length == length) {
            Some(demand) => demand.count += 1,
            None => demands.push(Demand { length, count: 1 }),
        }
    }
    let mut kinds: Vec<Kind> = Vec::new();
    for place in 0..dice.between(1, 5) {
        let length = if place == 0 { 500 * dice.between(1, 10) } else { 250 * dice.between(1, 20) };
        let price = i128::from(length * dice.between(25, 45) * 10);
        let most = if place > 0 && dice.between(0, 3) == 0 { dice.between(1, 4) } else { pieces };
        kinds.push(Kind { length, costs: (0..=i128::from(most)).map(|count| count * price).collect() });
    }
    let measure = (dice.between(0, 2) == 0).then(|| Measure::Each(dice.between(300, 700).into()));
    Task { demands, kinds, measure }
}

fn jobs(criterion: &mut Criterion) {
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
    let jobs: Vec<Task> = (0..500).map(|_| job(&mut dice)).collect();
    for (name, steps) in [("a quote's budget", 30_000_000), ("a second's budget", 1_000_000_000)] {
        let mut times: Vec<Duration> = Vec::new();
        let mut proven = 0;
        for job in &jobs {
            let started = Instant::now();
            let plan =
                solve(black_box(job), &mut Work::steps(steps)).expect("the first stock length holds every piece");
            times.push(started.elapsed());
            proven += usize::from(plan.optimal());
        }
        times.sort();
        let (median, slow, slowest) = (times[250], times[495], times[499]);
        println!("{name}: {proven} of 500 proven; median {median:?}, p99 {slow:?}, slowest {slowest:?}");
    }
    let small = &jobs[..20];
    criterion.bench_function("20 jobs at a quote's budget", |bench| {
        bench.iter(|| small.iter().for_each(|job| drop(black_box(solve(job, &mut Work::steps(30_000_000))))));
    });
}

fn purchases(criterion: &mut Criterion) {
    let shop = demo_shop();
    let day = NaiveDate::from_ymd_opt(2026, 11, 25).expect("a day");
    let mut group = criterion.benchmark_group("purchase");
    for (name, text) in BOATS {
        let value: serde_json::Value = serde_json::from_str(text).expect("JSON");
        let spec = value.get("spec").unwrap_or(&value).clone();
        let spec: BoatSpecInput = serde_json::from_value(spec).expect("a boat");
        let taken = chain::take_off(&spec, &shop).expect("a take-off");
        let chosen = choose(&taken.requirements, &shop, day, &spec.overrules);
        let proven = chosen.components.iter().filter(|component| component.optimal).count();
        println!("{name}: {proven} of {} components proven", chosen.components.len());
        group.bench_function(name, |bench| {
            bench.iter(|| choose(black_box(&taken.requirements), black_box(&shop), day, &spec.overrules));
        });
    }
    group.finish();
}

criterion_group!(benches, jobs, purchases);
criterion_main!(benches);
