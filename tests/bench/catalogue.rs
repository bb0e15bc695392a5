//! How long it takes to match a boat's needs to a catalogue of 500 items and of 200,000, and to take a change into the latter.
//!
//! Run with `cargo bench --bench catalogue`. The aim: matching against the large catalogue within 1.2 times its time on the
//! small one; a changed item within 50 ms, the first index within 2 s, both with what the database takes.

use std::hint::black_box;
use std::sync::Arc;
use std::time::Instant;

use chrono::NaiveDate;
use criterion::{Criterion, criterion_group, criterion_main};
use rigbill::calc::chain;
use rigbill::calc::purchase::choose;
use rigbill::calc::shop::Shop;
use rigbill::calc::shop::catalogue::Catalogue;
use rigbill::calc::shop::item::{Attributes, Item};
use rigbill::calc::spec::input::BoatSpecInput;
use rigbill::cli::demo;
use rigbill::clock::Clock;
use rigbill::service::Service;
use rigbill::store;

const BOAT: &str = include_str!("thirty_circuits.json");
const SIZES: [usize; 4] = [500, 5_000, 50_000, 200_000];

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

/// An item like another that no need of a boat is met by: of a colour, a rating or a family of its own, or a thing that is
/// only named. As in a wholesaler's list most of a large catalogue is of that sort.
fn like(item: &Item, number: usize) -> Item {
    let mut other = Item { sku: format!("{}-{number:06}", item.sku).as_str().into(), ..item.clone() };
    match &mut other.attributes {
        Attributes::Wire { colour, .. } => *colour = format!("shade {}", number % 40),
        Attributes::Fuse { rating_a, .. } | Attributes::Breaker { rating_a, .. } => *rating_a += 0.25,
        other => *other = Attributes::Hardware {},
    }
    other
}

fn large(shop: &Shop, items: usize) -> Vec<Item> {
    let own: Vec<Item> = shop.catalogue.items().iter().map(|item| (**item).clone()).collect();
    let more = (0..items.saturating_sub(own.len())).map(|number| like(&own[number % own.len()], number));
    own.iter().cloned().chain(more).collect()
}

fn matching(criterion: &mut Criterion) {
    let shop = demo_shop();
    let day = NaiveDate::from_ymd_opt(2026, 11, 25).expect("a day");
    let value: serde_json::Value = serde_json::from_str(BOAT).expect("JSON");
    let spec: BoatSpecInput = serde_json::from_value(value.get("spec").unwrap_or(&value).clone()).expect("a boat");
    let taken = chain::take_off(&spec, &shop).expect("a take-off");
    let mut group = criterion.benchmark_group("a boat's purchase");
    for items in SIZES {
        let rows = large(&shop, items);
        let started = Instant::now();
        let catalogue = Catalogue::new(rows);
        let indexed = started.elapsed();
        let mut changed = (**catalogue.items().last().expect("an item")).clone();
        changed.description.push('!');
        let started = Instant::now();
        let next = catalogue.with([changed]);
        println!("{items} items: indexed in {indexed:?}, one changed in {:?}", started.elapsed());
        let shop = Shop { catalogue: Arc::new(next), ..shop.clone() };
        group.bench_function(format!("{items} items"), |bench| {
            bench.iter(|| choose(black_box(&taken.requirements), black_box(&shop), day, &spec.overrules));
        });
    }
    group.finish();
}

/// The same through the database: the first snapshot, and the one after a change.
fn reading(_: &mut Criterion) {
    let shop = demo_shop();
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    runtime.block_on(async {
        let folder = tempfile::tempdir().expect("a folder");
        let url = format!("sqlite://{}?mode=rwc", folder.path().join("bench.db").display());
        let store = store::connect(&url).await.expect("a database");
        let clock = Clock::System;
        store.migrate(clock.now()).await.expect("the schema");
        let rows = large(&shop, 200_000);
        let changed = rows[0].clone();
        let versions: Vec<(Item, i64)> = rows.into_iter().map(|item| (item, 1)).collect();
        let write = store.write().await.expect("a write");
        store::items::put(&write, &versions, clock.now(), None).await.expect("items");
        store::shop::count_up(&write).await.expect("a version");
        write.commit().await.expect("a commit");
        let service = Service::new(store, clock);
        let started = Instant::now();
        service.shop().await.expect("the shop");
        println!("200000 items: first read in {:?}", started.elapsed());
        let changed = Item { description: format!("{} (new)", changed.description), ..changed };
        let sku = changed.sku.clone();
        service.replace_item(sku.as_str(), changed, 1).await.expect("a change");
        let started = Instant::now();
        let (_, shop) = service.shop().await.expect("the shop");
        println!("200000 items: a change seen in {:?}", started.elapsed());
        assert!(shop.catalogue.get(sku.as_str()).is_some_and(|item| item.description.ends_with("(new)")));
    });
}

criterion_group!(benches, matching, reading);
criterion_main!(benches);
