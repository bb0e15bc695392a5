//! Several writers at once, through two instances on one database.

use std::sync::Arc;

use futures_util::future::join_all;
use rigbill::calc::shop::item::PriceKind;
use rigbill::calc::shop::package::Package;
use rigbill::service::items::ItemFilter;
use rigbill::service::{Error, Service};
use sea_orm::ConnectionTrait;
use serde_json::{Value, json};

use super::shop::{item, price, request};
use crate::fixture::{Database, clock, each_database};

/// Two instances of the service on one database, with connections of their own. They share a clock, for two that count
/// up from one would make the same identifiers.
async fn instances(database: &Database) -> Arc<[Service; 2]> {
    let clock = clock();
    Arc::new([Service::new(database.store().await, clock.clone()), Service::new(database.store().await, clock)])
}

/// Runs a piece of work many times at once, shared out between the instances.
async fn at_once<T: Send + 'static, F: Future<Output = T> + Send + 'static>(
    instances: &Arc<[Service; 2]>,
    count: usize,
    work: impl Fn(Service, usize) -> F,
) -> Vec<T> {
    let tasks = (0..count).map(|place| tokio::spawn(work(instances[place % 2].clone(), place)));
    join_all(tasks).await.into_iter().map(|done| done.expect("the work does not panic")).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn every_change_counts_once() {
    each_database(async |database| {
        let instances = instances(&database).await;
        let made = at_once(&instances, 24, |service, place| async move {
            service.create_item(item(&format!("I-{place:02}"), json!({}))).await.map(drop)
        })
        .await;
        assert!(made.iter().all(Result::is_ok), "{made:?}");
        for service in instances.iter() {
            let (version, shop) = service.shop().await.unwrap();
            assert_eq!(version, 24);
            assert_eq!(shop.catalogue.items().len(), 24, "the snapshot holds what its version counts");
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn of_many_changes_to_one_version_one_wins() {
    each_database(async |database| {
        let instances = instances(&database).await;
        instances[0].create_item(item("I", json!({}))).await.unwrap();
        let outcomes = at_once(&instances, 12, |service, place| async move {
            service.replace_item("I", item("I", json!({"description": format!("By {place}")})), 1).await
        })
        .await;
        let won: Vec<_> = outcomes.iter().filter_map(|outcome| outcome.as_ref().ok()).collect();
        assert_eq!(won.len(), 1);
        let lost = outcomes.iter().filter(|outcome| matches!(outcome, Err(Error::Stale { current: 2, .. })));
        assert_eq!(lost.count(), 11);
        assert_eq!(&instances[1].item("I").await.unwrap(), won[0]);

        let made =
            at_once(&instances, 8, |service, _| async move { service.create_item(item("J", json!({}))).await }).await;
        assert_eq!(made.iter().filter(|outcome| outcome.is_ok()).count(), 1);
        assert!(made.iter().all(|outcome| matches!(outcome, Ok(_) | Err(Error::AlreadyThere { .. }))), "{made:?}");

        let draft = instances[0].create_quote(request("Godwit", json!([]))).await.unwrap().value.id;
        let outcomes = at_once(&instances, 8, |service, place| async move {
            service.replace_quote(draft, request(&format!("Godwit {place}"), json!([])), 1).await
        })
        .await;
        assert_eq!(outcomes.iter().filter(|outcome| outcome.is_ok()).count(), 1, "{outcomes:?}");
        let lost = outcomes.iter().filter(|outcome| matches!(outcome, Err(Error::Stale { current: 2, .. })));
        assert_eq!(lost.count(), 7, "{outcomes:?}");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn two_packages_cannot_slip_into_each_other() {
    let package = |code: &str, inner: &[&str]| -> Package {
        serde_json::from_value(json!({"code": code, "description": "Set", "packages": inner})).unwrap()
    };
    each_database(async |database| {
        let instances = instances(&database).await;
        for round in 0..6 {
            let [one, other] = [format!("a{round}"), format!("b{round}")];
            for code in [&one, &other] {
                instances[0].create_package(package(code, &[])).await.unwrap();
            }
            let (first, second) = tokio::join!(
                instances[0].replace_package(&one, package(&one, &[&other]), 1),
                instances[1].replace_package(&other, package(&other, &[&one]), 1),
            );
            assert_ne!(first.is_ok(), second.is_ok(), "{first:?} {second:?}");
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_quote_stands_on_one_state_of_the_shop() {
    each_database(async |database| {
        let instances = instances(&database).await;
        // Each change writes the version it makes into the settings or, by turns, into the description of an item.
        let mut cleat = item("CLEAT", json!({}));
        cleat.prices = vec![price(PriceKind::Cost, "2026-01-01", "1")];
        instances[0].create_item(cleat.clone()).await.unwrap();
        let owner = instances[0].clone();
        let changes = tokio::spawn(async move {
            for round in 1..=10 {
                let mut settings = owner.settings().await.unwrap();
                settings.value.shop_name = format!("Shop {}", 2 * round);
                owner.replace_settings(settings.value, round).await.unwrap();
                let mut cleat = cleat.clone();
                cleat.description = format!("Cleat {}", 2 * round + 1);
                owner.replace_item("CLEAT", cleat, round).await.unwrap();
            }
        });
        let quotes = at_once(&instances, 40, |service, place| async move {
            let asked = request(&format!("Boat {place}"), json!([{"sku": "CLEAT", "quantity": 1, "station": "helm"}]));
            let id = service.create_quote(asked).await.unwrap().value.id;
            serde_json::from_slice::<Value>(&service.quote_document(id).await.unwrap().bytes).unwrap()
        })
        .await;
        changes.await.unwrap();
        for quote in quotes {
            let version = quote["catalogue_version"].as_i64().unwrap();
            let line = quote["lines"].as_array().unwrap().iter().find(|line| line["sku"] == "CLEAT").unwrap();
            if let Some(renamed) = (version > 1).then_some(version - version % 2) {
                assert_eq!(quote["shop_name"], json!(format!("Shop {renamed}")), "version {version}");
            }
            if version > 2 {
                let renamed = if version % 2 == 1 { version } else { version - 1 };
                assert_eq!(line["description"], json!(format!("Cleat {renamed}")), "version {version}");
            }
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn quotes_that_share_a_document_come_and_go_at_once() {
    each_database(async |database| {
        let instances = instances(&database).await;
        let left = at_once(&instances, 24, |service, place| async move {
            let id = service.create_quote(request("Sanderling", json!([]))).await.unwrap().value.id;
            if place % 3 == 0 {
                service.quote_document(id).await.unwrap();
                return 1;
            }
            service.delete_quote(id, 1).await.unwrap();
            0
        })
        .await;
        let listed = instances[0].list_quotes(&Default::default(), None, 100).await.unwrap().rows;
        assert_eq!(listed.len(), left.iter().sum::<usize>());
        for row in listed {
            instances[1].quote_document(row.value.id).await.unwrap();
            instances[1].quote_costing(row.value.id).await.unwrap();
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_instance_sees_what_another_changed() {
    each_database(async |database| {
        let instances = instances(&database).await;
        assert_eq!(instances[1].shop().await.unwrap().0, 0);
        instances[0].create_item(item("I", json!({}))).await.unwrap();
        let (version, shop) = instances[1].shop().await.unwrap();
        assert_eq!(version, 1);
        assert!(shop.catalogue.get("I").is_some());
        let (same, again) = instances[1].shop().await.unwrap();
        assert_eq!(same, 1);
        assert!(Arc::ptr_eq(&shop.catalogue, &again.catalogue), "an unchanged shop is not read again");
        assert_eq!(instances[1].list_items(&ItemFilter::default(), None, 5).await.unwrap().rows.len(), 1);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn only_what_changed_is_read_again() {
    each_database(async |database| {
        let instances = instances(&database).await;
        for sku in ["A", "B"] {
            instances[0].create_item(item(sku, json!({}))).await.unwrap();
        }
        let (_, before) = instances[1].shop().await.unwrap();
        instances[0].replace_item("B", item("B", json!({"description": "Changed"})), 1).await.unwrap();
        instances[0].create_item(item("AA", json!({"order_multiple": 5}))).await.unwrap();
        let (_, after) = instances[1].shop().await.unwrap();
        let kept = |sku: &str| Arc::ptr_eq(before.catalogue.get(sku).unwrap(), after.catalogue.get(sku).unwrap());
        assert!(kept("A") && !kept("B"), "A was not read again, B was");
        assert_eq!(after.catalogue.get("B").unwrap().description, "Changed");
        assert_eq!(after.catalogue.get("AA").unwrap().order_multiple, 5);
        // A program from before the column changes an item and says no version of the shop.
        let connection = sea_orm::Database::connect(&database.url).await.unwrap();
        for statement in [
            "UPDATE items SET description = 'By an older program', version = version + 1 WHERE sku = 'A'",
            "UPDATE counters SET value = value + 1 WHERE name = 'shop_version'",
        ] {
            assert_eq!(connection.execute_unprepared(statement).await.unwrap().rows_affected(), 1);
        }
        let (_, again) = instances[1].shop().await.unwrap();
        assert_eq!(again.catalogue.get("A").unwrap().description, "By an older program");
    })
    .await;
}
