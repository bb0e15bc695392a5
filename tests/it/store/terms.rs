//! What only an owner gives: a discount beyond the shop's limit, and a quote below its least margin.

use rigbill::calc::shop::settings::{Settings, Terms};
use rigbill::service::Service;
use rigbill::service::access::{Principal, Role};
use rigbill::service::life::Step;
use rigbill::service::quotes::QuoteRequest;
use rust_decimal::dec;
use serde_json::json;
use uuid::Uuid;

use super::life::{cleats, refused, step, with_cleats};
use super::shop::places;
use crate::fixture::each_database;

/// The service with the key of a role.
fn by(service: &Service, role: Role) -> Service {
    service.by(Principal { key: Uuid::nil(), name: format!("A {role}"), role })
}

fn discounted(percent: &str) -> QuoteRequest {
    let mut asked = with_cleats("Avocet", 10);
    asked.discount = serde_json::from_value(json!({"kind": "percent", "percent": percent})).unwrap();
    asked
}

async fn shop(service: &Service, terms: Terms) {
    cleats(service).await;
    service.replace_settings(Settings { terms, ..Settings::starting() }, 1).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_discount_beyond_the_limit_is_an_owners() {
    each_database(async |database| {
        let owner = database.service().await;
        shop(&owner, Terms { discount_limit_percent: dec!(7.5), ..Terms::default() }).await;
        let (desk, rigger) = (by(&owner, Role::FrontDesk), by(&owner, Role::Rigger));
        assert_eq!(places(desk.create_quote(discounted("7.6")).await), ["/discount"]);
        let mut amount = discounted("0");
        // Ten cleats at 14.50: 7.5 % of 145.00 are 10.875, which a discount of 7.5 % rounds up.
        for (off, fits) in [("10.88", true), ("10.89", false)] {
            amount.discount = serde_json::from_value(json!({"kind": "amount", "amount": off})).unwrap();
            assert_eq!(desk.create_quote(amount.clone()).await.is_ok(), fits, "{off}");
        }
        let draft = desk.create_quote(discounted("7.5")).await.unwrap();
        assert_eq!(places(desk.replace_quote(draft.value.id, discounted("8"), 1).await), ["/discount"]);
        let given = owner.replace_quote(draft.value.id, discounted("20"), 1).await.unwrap();
        // What an owner gave stays when someone else changes the rest, and is not raised by them.
        let mut more = discounted("20");
        more.spec.equipment[0].quantity = 12;
        let changed = rigger.replace_quote(given.value.id, more, 2).await.unwrap();
        assert_eq!(changed.value.net.to_string(), "139.20", "80 % of twelve cleats");
        assert_eq!(places(rigger.replace_quote(given.value.id, discounted("21"), 3).await), ["/discount"]);
        let issued = step(&desk, &changed, Step::Issue).await.unwrap();
        let revise = async |percent: &str| {
            let once = rigbill::service::once::Once::unclaimed();
            desk.revise_quote(issued.value.id, discounted(percent), issued.version, once).await
        };
        assert_eq!(places(revise("25").await), ["/discount"]);
        assert!(revise("20").await.is_ok());
    })
    .await;
}

/// Ten cleats, and a line that takes so much off.
fn with_goodwill(off: &str) -> QuoteRequest {
    let mut asked = with_cleats("Avocet", 10);
    let line = json!({"description": "Goodwill", "quantity": "-1", "unit": "each", "unit_price": off,
        "tax_class": "goods"});
    asked.spec.extra_lines = vec![serde_json::from_value(line).unwrap()];
    asked
}

#[tokio::test(flavor = "multi_thread")]
async fn a_line_that_takes_something_off_is_a_discount_too() {
    each_database(async |database| {
        let owner = database.service().await;
        let terms =
            Terms { discount_limit_percent: dec!(10), margin_floor_percent: Some(dec!(30)), ..Terms::default() };
        shop(&owner, terms).await;
        let desk = by(&owner, Role::FrontDesk);
        // Ten cleats at 14.50: a tenth is 14.50.
        assert_eq!(places(desk.create_quote(with_goodwill("14.51")).await), ["/spec/extra_lines"]);
        let mut both = with_goodwill("10");
        both.discount = serde_json::from_value(json!({"kind": "amount", "amount": "4.51"})).unwrap();
        assert_eq!(places(desk.create_quote(both).await), ["/spec/extra_lines"]);
        // (145 - 14.50 - 100) / (145 - 14.50) = 23.4 % of what they then sell for, which is below the floor.
        let low = desk.create_quote(with_goodwill("14.50")).await.unwrap();
        let (told, _) = refused(step(&desk, &low, Step::Issue).await);
        assert!(told.contains("only an owner"), "{told}");
        let given = owner.create_quote(with_goodwill("50")).await.unwrap();
        assert!(step(&owner, &given, Step::Issue).await.is_ok());
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn prices_of_a_day_to_come_are_not_issued() {
    each_database(async |database| {
        let owner = database.service().await;
        shop(&owner, Terms::default()).await;
        let mut asked = with_cleats("Avocet", 1);
        asked.priced_on = Some(super::shop::day("2026-11-27"));
        let made = owner.create_quote(asked).await.unwrap();
        let (told, allowed) = refused(step(&owner, &made, Step::Issue).await);
        assert!(told.contains("2026-11-27, which has not come"), "{told}");
        assert_eq!(allowed, [Step::Replace, Step::Delete]);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn below_the_floor_only_an_owner_issues_and_nobody_else_learns_the_margin() {
    each_database(async |database| {
        let owner = database.service().await;
        // 14.50 for what costs 10.00: 31.03 % as it stands, 22.48 % with 11 % off.
        shop(&owner, Terms { margin_floor_percent: Some(dec!(25)), ..Terms::default() }).await;
        let desk = by(&owner, Role::FrontDesk);
        let fine = desk.create_quote(discounted("5")).await.unwrap();
        step(&desk, &fine, Step::Issue).await.unwrap();
        let low = desk.create_quote(discounted("11")).await.unwrap();
        let (told, allowed) = refused(step(&desk, &low, Step::Issue).await);
        assert!(told.contains("only an owner"), "{told}");
        let apart = told.replace(&low.value.id.to_string(), "");
        assert!(!apart.contains(|c: char| c.is_ascii_digit()), "no figure is told: {told}");
        assert_eq!(allowed, [Step::Replace, Step::Delete]);
        let issued = step(&owner, &low, Step::Issue).await.unwrap();
        assert_eq!(issued.changed_by.as_deref(), Some("command line"));
        let costing: serde_json::Value =
            serde_json::from_slice(&owner.quote_costing(low.value.id).await.unwrap().bytes).unwrap();
        assert_eq!(costing["margin_percent"], "22.5107");
        let wrong = Terms { margin_floor_percent: Some(dec!(100)), deposit_percent: dec!(101), ..Terms::default() };
        let settings = Settings { terms: wrong, ..Settings::starting() };
        assert_eq!(
            places(owner.replace_settings(settings, 2).await),
            ["/terms/deposit_percent", "/terms/margin_floor_percent"]
        );
        assert!(matches!(owner.settings().await, Ok(stored) if stored.version == 2));
    })
    .await;
}
