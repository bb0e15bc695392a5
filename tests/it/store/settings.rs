//! Settings.

use rigbill::calc::shop::settings::Settings;
use rigbill::service::Error;
use rigbill::service::shop_documents::check_settings;
use serde_json::{Value, json};

use super::shop::{item, places};
use crate::fixture::each_database;

fn changed(changes: Value) -> Settings {
    let mut whole = serde_json::to_value(Settings::starting()).unwrap();
    let (Value::Object(members), Value::Object(changes)) = (&mut whole, changes) else { panic!("objects") };
    members.extend(changes);
    serde_json::from_value(whole).unwrap()
}

#[test]
fn starting_settings_have_no_fault() {
    assert_eq!(check_settings(&Settings::starting()), []);
}

#[test]
fn each_fault_of_settings_is_told_by_its_place() {
    let class = |code: &str, treatment: &str, rate: &str| json!({"code": code, "name": "Class", "treatment": treatment, "rate_percent": rate});
    let level = |code: &str, prices: Value| json!({"code": code, "name": "Level", "prices": prices});
    let cases: [(Value, &[&str]); 18] = [
        // ISO 4217 has no XYZ; XXX stands for no currency.
        (json!({"currency": "XYZ"}), &["/currency"]),
        (json!({"time_zone": "Mars/Olympus"}), &["/time_zone"]),
        (
            json!({"area_standard": "metric"}),
            &[
                "/stocked_sizes/0",
                "/stocked_sizes/1",
                "/stocked_sizes/10",
                "/stocked_sizes/2",
                "/stocked_sizes/3",
                "/stocked_sizes/4",
                "/stocked_sizes/5",
                "/stocked_sizes/6",
                "/stocked_sizes/7",
                "/stocked_sizes/8",
                "/stocked_sizes/9",
            ],
        ),
        (json!({"area_standard": "metric", "stocked_sizes": ["1.5 mm2"], "insulation_c": 75}), &["/insulation_c"]),
        (json!({"stocked_sizes": ["16 AWG", "16 AWG"]}), &["/stocked_sizes/1"]),
        (json!({"cable_sizes": ["18 AWG", "4 mm2", "18 AWG"]}), &["/cable_sizes/2"]),
        // ISO 10133, 7.7: 800 mm of a core may lie bare of its sheath.
        (json!({"break_out": {"value": 80.1, "unit": "cm"}}), &["/break_out"]),
        // Some cable is used up where it lands on a battery.
        (json!({"battery_termination_allowance": {"value": 0, "unit": "in"}}), &["/battery_termination_allowance"]),
        (json!({"branch_ratings_a": [5.0, 3.0, 3.0]}), &["/branch_ratings_a/1", "/branch_ratings_a/2"]),
        (json!({"labour_tax_class": "work"}), &["/labour_tax_class"]),
        (
            json!({"tax_classes": [class("goods", "standard", "7.25"), class("service", "exempt", "1")]}),
            &["/tax_classes/1/rate_percent"],
        ),
        (
            json!({"tax_classes": [class("goods", "standard", "7.25"), class("service", "exempt", "0"),
            class("goods", "standard", "1")]}),
            &["/tax_classes/2/code"],
        ),
        (
            json!({"colours": [{"function": "horn", "colour": "black"}, {"function": "horn", "colour": "orange"}]}),
            &["/colours/0/colour", "/colours/1/function"],
        ),
        (
            json!({"main_fuse_families": ["anl", "anl"], "shop_supplies_percent": "100.5", "labour_rate": "-1"}),
            &["/labour_rate", "/main_fuse_families/1", "/shop_supplies_percent"],
        ),
        (
            json!({"negative_colour": "green", "valid_days": 0, "labour_correlation": 1.5, "shop_name": "a\nb"}),
            &["/labour_correlation", "/negative_colour", "/shop_name", "/valid_days"],
        ),
        (
            json!({"price_levels": [
                level("Trade", json!([{"kind": "mark_up", "category": "wires", "percent": "10000"}])),
                level("club", json!([
                    {"kind": "percent_off", "category": "wire", "percent": "100.5"},
                    {"kind": "mark_up", "category": "wire", "percent": "5"},
                ])),
                level("club", json!([])),
            ]}),
            &[
                "/price_levels/0/code",
                "/price_levels/0/prices/0/category",
                "/price_levels/0/prices/0/percent",
                "/price_levels/1/prices/0/percent",
                "/price_levels/1/prices/1/category",
                "/price_levels/2/code",
            ],
        ),
        (
            json!({"freight": {"rule": {"by": "percent_of_goods", "percent": "101", "free_from": "-1"}, "tax_class": "post"}}),
            &["/freight/rule/free_from", "/freight/rule/percent", "/freight/tax_class"],
        ),
        (
            json!({"freight": {"rule": {"by": "amount", "amount": "1.23456"}, "tax_class": "goods"}}),
            &["/freight/rule/amount"],
        ),
    ];
    for (changes, expected) in cases {
        let met: Vec<String> =
            check_settings(&changed(changes.clone())).into_iter().map(|fault| fault.pointer).collect();
        assert_eq!(met, expected, "{changes}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn settings_keep_what_items_refer_to() {
    each_database(async |database| {
        let service = database.service().await;
        service.create_item(item("S-1", json!({"category": "wire", "tax_class": "service"}))).await.unwrap();
        let mut without = Settings::starting();
        without.categories.retain(|category| category.code.as_str() != "wire");
        without.labour_tax_class = "goods".into();
        without.tax_classes.retain(|class| class.code.as_str() != "service");
        assert_eq!(places(service.replace_settings(without.clone(), 1).await), ["/categories", "/tax_classes"]);
        service.replace_item("S-1", item("S-1", json!({})), 1).await.unwrap();
        let replaced = service.replace_settings(without.clone(), 1).await.unwrap();
        assert_eq!((replaced.version, &replaced.value), (2, &without));
        assert_eq!(*service.shop().await.unwrap().1.settings, without);
        assert!(matches!(
            service.replace_settings(Settings::starting(), 1).await.unwrap_err(),
            Error::Stale { current: 2, .. }
        ));
        assert_eq!(places(service.create_item(item("S-2", json!({"category": "wire"}))).await), ["/category"]);
    })
    .await;
}
