//! Price levels of customers, and freight.

use rigbill::calc::shop::item::PriceKind;
use rigbill::calc::shop::settings::{
    Freight, FreightRule, LevelPrice, PriceFrom, PriceLevel, Settings, TaxTreatment, Terms,
};
use rigbill::service::access::{Principal, Role};
use rigbill::service::life::Step;
use rigbill::service::quotes::QuoteRequest;
use rigbill::service::{Error, Service};
use rust_decimal::{Decimal, dec};
use serde_json::{Value, json};
use uuid::Uuid;

use super::life::{cleats, refused, step, with_cleats};
use super::shop::{faults, item, places, price};
use crate::fixture::each_database;

fn by(service: &Service, role: Role) -> Service {
    service.by(Principal { key: Uuid::nil(), name: format!("A {role}"), role })
}

fn level(code: &str, owner_only: bool, prices: Vec<LevelPrice>) -> PriceLevel {
    PriceLevel { code: code.into(), name: format!("The {code}"), owner_only, prices }
}

fn off(percent: Decimal) -> Vec<LevelPrice> {
    vec![LevelPrice::PercentOff { category: "hardware".into(), percent }]
}

/// Cleats cost 10.00 and are sold for 14.50; nobody but an owner gives a discount, nor goes below a margin of 25 %.
async fn shop(service: &Service) {
    cleats(service).await;
    let own = vec![LevelPrice::MarkUp { category: "hardware".into(), percent: dec!(5) }];
    let terms = Terms { discount_limit_percent: dec!(0), margin_floor_percent: Some(dec!(25)), ..Terms::default() };
    let settings = Settings {
        price_levels: vec![
            level("trade", false, off(dec!(7.5))),
            level("staff", true, own),
            level("club", false, off(dec!(10))),
        ],
        terms,
        ..Settings::starting()
    };
    service.replace_settings(settings, 1).await.unwrap();
}

fn at_level(code: &str) -> QuoteRequest {
    QuoteRequest { price_level: Some(code.into()), ..with_cleats("Avocet", 4) }
}

async fn read(service: &Service, id: Uuid) -> (Value, Value) {
    let json = |bytes: Vec<u8>| serde_json::from_slice(&bytes).unwrap();
    let costing = service.quote_costing(id).await.unwrap();
    (json(service.quote_document(id).await.unwrap().bytes), json(costing.bytes))
}

#[tokio::test(flavor = "multi_thread")]
async fn a_price_level_changes_prices_and_is_no_discount_but_counts_in_the_margin() {
    each_database(async |database| {
        let owner = database.service().await;
        shop(&owner).await;
        let desk = by(&owner, Role::FrontDesk);
        let draft = desk.create_quote(at_level("trade")).await.unwrap();
        let (document, costing) = read(&owner, draft.value.id).await;
        // 14.50 less 7.5 % is 13.4125.
        let line = &document["lines"][0];
        assert_eq!((&line["unit_price"], &line["net"]), (&json!("13.4125"), &json!("53.65")));
        assert_eq!(document["totals"]["discount"], "0.00");
        assert_eq!(document["price_level"], json!({"code": "trade", "name": "The trade"}));
        let line = &costing["lines"][0];
        assert_eq!((&line["level_percent_off"], &line["usual_unit_price"]), (&json!("7.5"), &json!("14.5")));
        let derivation = &costing["basis"]["derivations"][line["basis"].as_u64().unwrap() as usize];
        assert_eq!(derivation["rule"], "price.level_off");
        assert_eq!(derivation["inputs"], json!({"usual_price": "14.5", "level_percent_off": "7.5"}));
        // (53.65 - 40.00) / 53.65
        assert_eq!(costing["margin_percent"], "25.4427");
        step(&desk, &draft, Step::Issue).await.unwrap();
        // 13.05 for what cost 10.00 is 23.4 %, which is below the floor.
        let club = desk.create_quote(at_level("club")).await.unwrap();
        assert!(refused(step(&desk, &club, Step::Issue).await).0.contains("only an owner"));

        // A list price is lowered by a percentage, and a level's own mark-up is on the cost whatever the list says.
        let mut cleat = item("CLEAT", json!({}));
        cleat.prices = vec![price(PriceKind::Cost, "2026-01-01", "10"), price(PriceKind::List, "2026-01-01", "19.99")];
        owner.replace_item("CLEAT", cleat, 1).await.unwrap();
        let mut settings = owner.settings().await.unwrap().value;
        settings.categories.iter_mut().for_each(|category| category.price_from = PriceFrom::List);
        owner.replace_settings(settings, 2).await.unwrap();
        for (code, expected) in [("trade", "18.49075"), ("staff", "10.5")] {
            let made = owner.create_quote(at_level(code)).await.unwrap();
            assert_eq!(read(&owner, made.value.id).await.0["lines"][0]["unit_price"], expected);
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_level_is_one_of_the_shops_and_one_that_only_an_owner_gives_is_his() {
    each_database(async |database| {
        let owner = database.service().await;
        shop(&owner).await;
        let (desk, rigger) = (by(&owner, Role::FrontDesk), by(&owner, Role::Rigger));
        let told = faults(desk.create_quote(at_level("trad")).await);
        assert_eq!(told[0].pointer, "/price_level");
        assert!(told[0].message.contains("trade, staff, club"), "{told:?}");
        assert_eq!(places(desk.create_quote(at_level("staff")).await), ["/price_level"]);
        let plain = desk.create_quote(with_cleats("Avocet", 4)).await.unwrap();
        assert_eq!(places(rigger.replace_quote(plain.value.id, at_level("staff"), 1).await), ["/price_level"]);
        let given = owner.replace_quote(plain.value.id, at_level("staff"), 1).await.unwrap();
        let mut more = at_level("staff");
        more.spec.equipment[0].quantity = 6;
        let changed = rigger.replace_quote(given.value.id, more, 2).await.unwrap();
        assert_eq!(changed.value.net.to_string(), "63.00", "six at 10.50: what an owner gave stays");
    })
    .await;
}

fn freight(rule: FreightRule) -> Freight {
    Freight { rule, tax_class: "goods".into() }
}

#[tokio::test(flavor = "multi_thread")]
async fn freight_is_a_charge_of_the_whole_quote_by_rule_or_as_written_and_frozen() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let mut settings = Settings::starting();
        settings.tax_classes[0].treatment = TaxTreatment::Standard;
        settings.tax_classes[0].rate_percent = dec!(10);
        let by_rule = async |rule: FreightRule, count: u32| {
            let version = service.settings().await.unwrap().version;
            let settings = Settings { freight: freight(rule), ..settings.clone() };
            service.replace_settings(settings, version).await.unwrap();
            let draft = service.create_quote(with_cleats("Avocet", count)).await.unwrap();
            (read(&service, draft.value.id).await, draft)
        };
        let amount = FreightRule::Amount { amount: dec!(12.345), free_from: Some(dec!(145)) };
        let ((document, costing), _) = by_rule(amount.clone(), 2).await;
        // 29.00 and 12.35 of freight, 10 % of 41.35 on them.
        let totals = &document["totals"];
        let met = ["lines_net", "freight", "net", "tax", "total"].map(|name| totals[name].as_str().unwrap());
        assert_eq!(met, ["29.00", "12.35", "41.35", "4.14", "45.49"]);
        assert_eq!(
            (&totals["tax_by_class"][0]["freight"], &totals["tax_by_class"][0]["taxable"]),
            (&json!("12.35"), &json!("41.35"))
        );
        let charge = json!({"amount": "12.35", "tax_class": "goods", "reason": "Freight", "reason_code": "FC"});
        assert_eq!(document["freight"], charge);
        let basis = costing["freight_basis"].as_u64().unwrap() as usize;
        assert_eq!(costing["basis"]["derivations"][basis]["rule"], "freight.amount");
        // (29.00 - 20.00) / 29.00: freight earns nothing.
        assert_eq!(costing["margin_percent"], "31.0345");
        let ((free, _), _) = by_rule(amount, 10).await;
        assert!(free.get("freight").is_none() && free["totals"].get("freight").is_none(), "free from 145.00");
        let share = FreightRule::PercentOfGoods { percent: dec!(2.5), free_from: None };
        let ((document, _), draft) = by_rule(share, 3).await;
        // 43.50: 1.0875.
        assert_eq!(document["totals"]["freight"], "1.09");

        // What moves between the draft and its issue is told, and what is issued stays.
        let version = service.settings().await.unwrap().version;
        let dearer = FreightRule::PercentOfGoods { percent: dec!(5), free_from: None };
        service.replace_settings(Settings { freight: freight(dearer), ..settings.clone() }, version).await.unwrap();
        match step(&service, &draft, Step::Issue).await {
            Err(Error::Moved { difference: Some(moved), .. }) => {
                let told = serde_json::to_value(&moved).unwrap();
                assert_eq!(told["freight"], json!({"before": "1.09", "after": "2.18", "difference": "1.09"}));
                assert!(moved.lines.is_empty() && moved.parts_changed.contains(&"freight".to_owned()), "{moved:?}");
            }
            other => panic!("{other:?}"),
        }
        let mut written = with_cleats("Avocet", 3);
        written.freight = Some(dec!(40));
        let written = service.replace_quote(draft.value.id, written, 1).await.unwrap();
        let issued = step(&service, &written, Step::Issue).await.unwrap();
        let frozen = service.quote_document(issued.value.id).await.unwrap().bytes;
        service.replace_settings(settings.clone(), version + 1).await.unwrap();
        assert_eq!(service.quote_document(issued.value.id).await.unwrap().bytes, frozen);
        assert_eq!(read(&service, issued.value.id).await.0["freight"]["reason"], "Freight, as agreed");
        for wrong in [dec!(-1), dec!(1.005)] {
            let asked = QuoteRequest { freight: Some(wrong), ..with_cleats("Avocet", 1) };
            assert_eq!(places(service.create_quote(asked).await), ["/freight"]);
        }
        let none = QuoteRequest { freight: Some(dec!(0)), ..with_cleats("Avocet", 1) };
        let none = service.create_quote(none).await.unwrap();
        assert!(read(&service, none.value.id).await.0.get("freight").is_none());
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn freight_is_no_part_of_what_is_bought_nor_of_special_orders() {
    each_database(async |database| {
        let service = database.service().await;
        let mut arch = item("ARCH", json!({"special_order": true}));
        arch.prices = vec![price(PriceKind::Cost, "2026-01-01", "100")];
        service.create_item(arch).await.unwrap();
        let rule = FreightRule::Amount { amount: dec!(50), free_from: None };
        service.replace_settings(Settings { freight: freight(rule), ..Settings::starting() }, 1).await.unwrap();
        let asked = super::shop::request("Tern", json!([{"sku": "ARCH", "quantity": 1, "station": "helm"}]));
        let made = service.create_quote(asked).await.unwrap();
        let (document, costing) = read(&service, made.value.id).await;
        assert_eq!(costing["purchase_cost"], "100.00");
        // 145.00 in full, and 30 % of the 50.00 of freight.
        let deposit = &document["deposit"];
        let met = ["special_orders", "share", "total"].map(|name| deposit[name].as_str().unwrap());
        assert_eq!(met, ["145.00", "15.00", "160.00"]);
    })
    .await;
}
