//! Packages and labour operations.

use rigbill::calc::shop::labour::LabourOperation;
use rigbill::calc::shop::package::Package;
use rigbill::service::Error;
use serde_json::{Value, json};

use super::shop::{faults, item, places};
use crate::fixture::each_database;

fn package(code: &str, contents: &[&str]) -> Package {
    serde_json::from_value(json!({"code": code, "description": format!("Set {code}"), "packages": contents})).unwrap()
}

fn operation(code: &str, minutes: [f64; 3]) -> LabourOperation {
    let [low, likely, high] = minutes;
    let whole: Value = json!({"code": code, "description": "Work", "driver": "stated", "low_min": low,
        "likely_min": likely, "high_min": high});
    serde_json::from_value(whole).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_package_that_contains_itself_is_refused_with_the_way_round() {
    each_database(async |database| {
        let service = database.service().await;
        service.create_package(package("C", &[])).await.unwrap();
        service.create_package(package("B", &["C"])).await.unwrap();
        service.create_package(package("A", &["B"])).await.unwrap();
        let round = faults(service.replace_package("C", package("C", &["A"]), 1).await);
        assert_eq!(round.len(), 1);
        assert_eq!(round[0].pointer, "/packages/0");
        assert!(round[0].message.contains("C → A → B → C"), "{}", round[0].message);
        let itself = faults(service.replace_package("C", package("C", &["C"]), 1).await);
        assert!(itself[0].message.contains("C → C"), "{}", itself[0].message);
        assert_eq!(service.package("C").await.unwrap().value, package("C", &[]));
        assert_eq!(service.package("C").await.unwrap().version, 1);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_package_names_must_be_there_once() {
    each_database(async |database| {
        let service = database.service().await;
        service.create_item(item("I-1", json!({}))).await.unwrap();
        let bad: Package = serde_json::from_value(json!({
            "code": "P 1", "description": "Set",
            "equipment": [{"sku": "I-1", "quantity": 1}, {"sku": "I-2", "quantity": 0, "station": "Helm!"},
                          {"sku": "I-1", "quantity": 2},
                          {"sku": "I-1", "quantity": 1, "station": "helm", "wiring": "jacketed_cable"}],
            "packages": ["Q", "Q"],
        }))
        .unwrap();
        let expected = [
            "/code",
            "/equipment/1/quantity",
            "/equipment/1/sku",
            "/equipment/1/station",
            "/equipment/2",
            "/equipment/3/wiring",
            "/packages/0",
            "/packages/1",
            "/packages/1",
        ];
        assert_eq!(places(service.create_package(bad).await), expected);
        let listed = service.list_packages(None, 10).await.unwrap();
        assert!(listed.rows.is_empty());
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_package_that_another_contains_cannot_be_deleted() {
    each_database(async |database| {
        let service = database.service().await;
        service.create_package(package("inner", &[])).await.unwrap();
        service.create_package(package("outer", &["inner"])).await.unwrap();
        match service.delete_package("inner", 1).await.unwrap_err() {
            Error::NotAllowed(reason) => assert!(reason.contains("outer"), "{reason}"),
            other => panic!("{other:?}"),
        }
        assert!(matches!(service.delete_package("outer", 2).await.unwrap_err(), Error::Stale { current: 1, .. }));
        service.delete_package("outer", 1).await.unwrap();
        service.delete_package("inner", 1).await.unwrap();
        assert!(matches!(service.package("inner").await.unwrap_err(), Error::NotFound { .. }));
        assert!(matches!(service.delete_package("inner", 1).await.unwrap_err(), Error::NotFound { .. }));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn labour_operations_are_kept_versioned_and_paged() {
    each_database(async |database| {
        let service = database.service().await;
        for code in ["mount", "crimp", "label"] {
            service.create_labour_operation(operation(code, [1.0, 2.5, 4.0])).await.unwrap();
        }
        assert!(matches!(
            service.create_labour_operation(operation("mount", [1.0, 2.0, 3.0])).await.unwrap_err(),
            Error::AlreadyThere { .. }
        ));
        assert_eq!(
            places(service.create_labour_operation(operation("Pull", [3.0, 2.0, f64::from(1)])).await),
            ["/code", "/high_min", "/low_min"]
        );
        let other = operation("crimp", [1.0, 2.0, 3.0]);
        assert_eq!(places(service.replace_labour_operation("label", other, 1).await), ["/code"]);
        let page = service.list_labour_operations(None, 2).await.unwrap();
        assert_eq!(page.next_after.as_deref(), Some("label"));
        let rest = service.list_labour_operations(page.next_after.as_deref(), 2).await.unwrap();
        assert_eq!(rest.rows[0].value.code.as_str(), "mount");
        assert_eq!(rest.next_after, None);
        let changed = service.replace_labour_operation("mount", operation("mount", [0.1, 0.2, 0.3]), 1).await.unwrap();
        assert_eq!(service.labour_operation("mount").await.unwrap(), changed);
        service.delete_labour_operation("mount", 2).await.unwrap();
        let (version, shop) = service.shop().await.unwrap();
        assert_eq!(shop.labour_operations.len(), 2);
        assert_eq!(version, 5, "three made, one replaced, one deleted");
    })
    .await;
}
