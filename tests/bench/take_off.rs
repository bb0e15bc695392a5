//! How long the calculation takes: the take-off of a boat of 30 circuits, and its price, against the demo shop.
//!
//! Run with `cargo bench --bench take_off`. The aim for the take-off is 100 µs on one core.

use std::hint::black_box;

use chrono::NaiveDate;
use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use rigbill::calc::chain;
use rigbill::calc::pricing::{PriceRequest, quotation};
use rigbill::calc::shop::Shop;
use rigbill::calc::spec::input::BoatSpecInput;
use rigbill::cli::demo;
use rigbill::clock::Clock;
use rigbill::service::Service;
use rigbill::store;

const BOAT: &str = include_str!("thirty_circuits.json");

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

fn take_off(criterion: &mut Criterion) {
    let shop = demo_shop();
    let spec: BoatSpecInput = serde_json::from_str(BOAT).expect("the boat");
    let taken = chain::take_off(&spec, &shop).expect("a take-off");
    assert_eq!(taken.circuits.len(), 30, "the boat is meant to have 30 circuits");
    assert!(taken.gaps.is_empty(), "a boat with gaps is no full day's work: {:?}", taken.gaps);

    let day = NaiveDate::from_ymd_opt(2026, 11, 25).expect("a day");
    let mut group = criterion.benchmark_group("30 circuits");
    group.bench_function("take-off", |bench| {
        bench.iter(|| chain::take_off(black_box(&spec), black_box(&shop)));
    });
    let request = PriceRequest {
        customer: None,
        day,
        discount: None,
        tax_exemption: None,
        settlements: Vec::new(),
        price_level: None,
        freight: None,
        catalogue_version: 1,
    };
    group.bench_function("price", |bench| {
        bench.iter_batched(
            || taken.clone(),
            |taken| quotation(taken, &spec.extra_lines, &spec.overrules, &request, black_box(&shop)),
            BatchSize::SmallInput,
        );
    });
    group.bench_function("parse the spec", |bench| {
        bench.iter(|| serde_json::from_str::<BoatSpecInput>(black_box(BOAT)));
    });
    group.bench_function("write the take-off", |bench| {
        bench.iter(|| serde_json::to_vec(black_box(&taken)));
    });
    group.finish();
}

criterion_group!(benches, take_off);
criterion_main!(benches);
