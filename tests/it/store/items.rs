//! Items: kept exactly, versioned, listed.

use rigbill::calc::shop::item::PriceKind;
use rigbill::service::Error;
use rigbill::service::items::ItemFilter;
use rust_decimal::Decimal;
use serde_json::json;

use super::shop::{day, exact, item, places, price};
use crate::fixture::{clock, each_database};

#[tokio::test(flavor = "multi_thread")]
async fn money_comes_back_to_the_last_place() {
    each_database(async |database| {
        let service = database.service().await;
        // A double holds 15 to 17 significant digits (IEEE 754): the first of these does not survive one.
        let amounts = ["999999999.999999", "0.000001", "123456789.012345", "31", "0.1", "70368744.177665"];
        let prices = amounts.iter().enumerate().map(|(place, amount)| {
            let mut price = price(PriceKind::Cost, "2026-01-01", amount);
            price.minimum_quantity = exact("1.000001") + Decimal::from(place);
            price
        });
        let mut sent = item(
            "M-1",
            json!({"buying_quantity": "33.333333", "labour": [{"operation": "mount", "quantity": "0.125"}]}),
        );
        sent.prices = prices.collect();
        let created = service.create_item(sent.clone()).await.unwrap();
        let read = service.item("M-1").await.unwrap();
        assert_eq!(read, created);
        assert_eq!(read.value, sent);
        assert_eq!(read.updated_at, clock().now());
        let written: Vec<String> = read.value.prices.iter().map(|price| price.amount.to_string()).collect();
        assert_eq!(written, amounts);
        assert_eq!(rigbill::store::items::version(service.store(), "M-1", 1).await.unwrap(), Some(sent));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_kind_comes_back_as_it_was_sent() {
    let device = json!({"attributes": {"kind": "device", "function": "bilge_pump", "rated_voltage_v": 13.6,
        "nominal_voltages_v": [12], "maker_fuse_a": 7.5, "leads": [
            {"role": "switched_positive", "current_a": 4.2, "size": "16 AWG", "length": {"value": 30.0, "unit": "in"}},
            {"role": "return", "stud": "#8", "maker_colour": "black"}]}});
    let wire = json!({"selling_unit": "foot", "buying_unit": "spool", "buying_quantity": "250",
        "attributes": {"kind": "wire", "size": "2.5 mm2", "colour": "brown/yellow", "insulation_c": 105}});
    let shrink = json!({"attributes": {"kind": "heat_shrink", "supplied_diameter": {"value": 0.75, "unit": "in"},
        "recovered_diameter": {"value": 6.4, "unit": "mm"}, "piece_length": {"value": 4.0, "unit": "ft"}}});
    // What is left out is not filled in before it is kept; an empty list of labour is something that was typed.
    let terse = json!({"attributes": {"kind": "device", "function": "radio"}});
    let no_work = json!({"attributes": {"kind": "device", "function": "radio", "draw_a": 5.5}, "labour": []});
    each_database(async |database| {
        let service = database.service().await;
        for (sku, changes) in [("D-1", &device), ("W-1", &wire), ("H-1", &shrink), ("T-1", &terse), ("T-2", &no_work)] {
            let sent = item(sku, changes.clone());
            service.create_item(sent.clone()).await.unwrap();
            assert_eq!(service.item(sku).await.unwrap().value, sent);
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_version_that_was_not_read_is_refused() {
    each_database(async |database| {
        let service = database.service().await;
        service.create_item(item("A-1", json!({}))).await.unwrap();
        let changed = service.replace_item("A-1", item("A-1", json!({"description": "Better"})), 1).await.unwrap();
        assert_eq!(changed.version, 2);
        let stale = service.replace_item("A-1", item("A-1", json!({})), 1).await.unwrap_err();
        assert!(matches!(stale, Error::Stale { current: 2, .. }), "{stale:?}");
        let stale = service.retire_item("A-1", 3).await.unwrap_err();
        assert!(matches!(stale, Error::Stale { current: 2, .. }), "{stale:?}");
        let again = service.create_item(item("A-1", json!({}))).await.unwrap_err();
        assert!(matches!(again, Error::AlreadyThere { .. }), "{again:?}");
        let none = service.retire_item("A-2", 1).await.unwrap_err();
        assert!(matches!(none, Error::NotFound { .. }), "{none:?}");

        let retired = service.retire_item("A-1", 2).await.unwrap();
        assert!(retired.value.retired);
        assert_eq!(service.retire_item("A-1", 3).await.unwrap(), retired, "retired twice is retired once");
        assert_eq!(service.item("A-1").await.unwrap().value.description, "Better");
        let first = rigbill::store::items::version(service.store(), "A-1", 1).await.unwrap().unwrap();
        assert_eq!(first.description, "Part A-1", "history keeps what it was");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn all_faults_of_an_item_are_told_and_nothing_is_kept() {
    each_database(async |database| {
        let service = database.service().await;
        let bad = item(
            "B 1",
            json!({"description": "", "category": "boats", "tax_class": "none", "buying_quantity": "0.0000001",
                "attributes": {"kind": "ring_terminal", "size_from": "10 AWG", "size_to": "16 AWG", "stud": "#8"},
                "selling_unit": "foot",
                "labour": [{"operation": "mount", "quantity": "0"}, {"operation": "mount", "quantity": "1"}],
                "prices": [{"kind": "cost", "valid_from": "2026-01-01", "amount": "0"},
                           {"kind": "cost", "valid_from": "2026-01-01", "amount": "2"}]}),
        );
        let expected = [
            "/attributes/size_from",
            "/buying_quantity",
            "/category",
            "/description",
            "/labour/0/quantity",
            "/labour/1/operation",
            "/prices/0/amount",
            "/prices/1",
            "/selling_unit",
            "/sku",
            "/tax_class",
        ];
        assert_eq!(places(service.create_item(bad).await), expected);
        assert!(service.list_items(&ItemFilter::default(), None, 10).await.unwrap().rows.is_empty());
        assert_eq!(service.shop().await.unwrap().0, 0, "nothing changed");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn attributes_that_make_no_sense_are_told_by_their_place() {
    let lead = |role: &str, current: f64| json!({"role": role, "current_a": current});
    // Windlasses differ too much for a usual draw (common practice).
    let device = |leads| {
        json!({"attributes": {"kind": "device", "function": "windlass", "rated_voltage_v": 12.0,
        "nominal_voltages_v": [12], "leads": leads}})
    };
    let cases = [
        (device(json!([])), vec!["/attributes/draw_a"]),
        (
            json!({"attributes": {"kind": "device", "function": "bow_motor"}}),
            vec!["/attributes/draw_a", "/attributes/nominal_voltages_v", "/attributes/rated_voltage_v"],
        ),
        (device(json!([lead("return", 5.0)])), vec!["/attributes/leads"]),
        (device(json!([lead("constant_positive", 5.0)])), vec!["/attributes/leads"]),
        (device(json!([lead("switched_positive", 0.0), lead("return", 1.0)])), vec!["/attributes/leads/0/current_a"]),
        (device(json!([{"role": "switched_positive"}, {"role": "return"}])), vec!["/attributes/leads/0/current_a"]),
        (device(json!([lead("switched_positive", -4.0), lead("return", 4.0)])), vec!["/attributes/leads/0/current_a"]),
        (
            json!({"attributes": {"kind": "wire", "size": "16 AWG", "colour": "red", "insulation_c": 104}}),
            vec!["/attributes/insulation_c", "/selling_unit"],
        ),
        (
            json!({"attributes": {"kind": "cable", "conductors": 4, "size": "16 AWG", "shape": "flat",
            "outside_diameter": {"value": 0.0, "unit": "in"}, "colours": ["red", "black"], "insulation_c": 104}}),
            vec![
                "/attributes/colours",
                "/attributes/conductors",
                "/attributes/insulation_c",
                "/attributes/outside_diameter",
                "/selling_unit",
            ],
        ),
        (
            json!({"attributes": {"kind": "heat_shrink", "supplied_diameter": {"value": 0.5, "unit": "in"},
            "recovered_diameter": {"value": 12.7, "unit": "mm"}, "piece_length": {"value": 0.0, "unit": "ft"}}}),
            vec!["/attributes/piece_length", "/attributes/recovered_diameter"],
        ),
        (
            json!({"attributes": {"kind": "fuse", "family": "blade", "rating_a": 0.0, "voltage_rating_v": 2000.0,
            "interrupt_a": 0.0}}),
            vec!["/attributes/interrupt_a", "/attributes/rating_a", "/attributes/voltage_rating_v"],
        ),
    ];
    each_database(async |database| {
        let service = database.service().await;
        for (changes, expected) in cases.clone() {
            assert_eq!(places(service.create_item(item("C-1", changes.clone())).await), expected, "{changes}");
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_price_is_not_in_force_before_its_day() {
    each_database(async |database| {
        let service = database.service().await;
        let mut sent = item("P-1", json!({}));
        sent.prices = vec![price(PriceKind::Cost, "2027-01-01", "12"), price(PriceKind::Cost, "2026-01-01", "10")];
        service.create_item(sent).await.unwrap();
        let (_, shop) = service.shop().await.unwrap();
        let kept = shop.catalogue.get("P-1").unwrap();
        let on = |text: &str| kept.price_on(PriceKind::Cost, day(text), Decimal::ONE).map(|price| price.amount);
        assert_eq!(on("2025-12-31"), None);
        assert_eq!(on("2026-12-31"), Some(exact("10")));
        assert_eq!(on("2027-01-01"), Some(exact("12")));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn lists_go_on_where_they_ended_whatever_is_added_meanwhile() {
    each_database(async |database| {
        let service = database.service().await;
        // In the order of bytes 'Z' stands before 'a'; a locale's order would mix them.
        for sku in ["a1", "Z9", "b/2", "A1", "a.1", "A-1", "M5"] {
            service.create_item(item(sku, json!({}))).await.unwrap();
        }
        let all = ItemFilter::default();
        let first = service.list_items(&all, None, 3).await.unwrap();
        let skus = |page: &rigbill::service::Page<rigbill::service::Stored<rigbill::calc::shop::item::Item>>| {
            page.rows.iter().map(|row| row.value.sku.to_string()).collect::<Vec<_>>()
        };
        assert_eq!(skus(&first), ["A-1", "A1", "M5"]);
        assert_eq!(first.next_after.as_deref(), Some("M5"));
        service.create_item(item("A0", json!({}))).await.unwrap();
        service.create_item(item("N1", json!({}))).await.unwrap();
        let second = service.list_items(&all, first.next_after.as_deref(), 3).await.unwrap();
        assert_eq!(skus(&second), ["N1", "Z9", "a.1"]);
        let third = service.list_items(&all, second.next_after.as_deref(), 3).await.unwrap();
        assert_eq!(skus(&third), ["a1", "b/2"]);
        assert_eq!(third.next_after, None);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn filters_find_text_in_any_case_and_take_wildcards_literally() {
    each_database(async |database| {
        let service = database.service().await;
        for (sku, description) in
            [("X1", "Cable 100 % tinned"), ("X2", "CABLE 100 x tinned"), ("X_3", "Ölkanne \\ drip")]
        {
            service.create_item(item(sku, json!({"description": description}))).await.unwrap();
        }
        service.retire_item("X2", 1).await.unwrap();
        let check = async |filter: ItemFilter, expected: &[&str]| {
            let page = service.list_items(&filter, None, 10).await.unwrap();
            let skus: Vec<_> = page.rows.iter().map(|row| row.value.sku.as_str()).collect();
            assert_eq!(skus, expected, "{filter:?}");
        };
        let text = |text: &str| ItemFilter { text: Some(text.to_owned()), ..ItemFilter::default() };
        check(text("cable"), &["X1", "X2"]).await;
        check(text("100 %"), &["X1"]).await;
        check(text("x_"), &["X_3"]).await;
        check(text("ölKANNE"), &["X_3"]).await;
        check(text("\\"), &["X_3"]).await;
        check(text("\0"), &[]).await;
        check(ItemFilter { retired: Some(true), ..text("cable") }, &["X2"]).await;
        check(ItemFilter { retired: Some(false), ..text("cable") }, &["X1"]).await;
        check(ItemFilter { kind: Some("hardware".to_owned()), ..ItemFilter::default() }, &["X1", "X2", "X_3"]).await;
        check(ItemFilter { kind: Some("fuse".to_owned()), ..ItemFilter::default() }, &[]).await;
        check(ItemFilter { category: Some("wire".to_owned()), ..ItemFilter::default() }, &[]).await;
        let none = service.item("X\0").await.unwrap_err();
        assert!(matches!(none, Error::NotFound { .. }));
    })
    .await;
}
