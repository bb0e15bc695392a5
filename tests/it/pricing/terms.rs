//! Deposit, exemption from tax and margin, against arithmetic in whole numbers.

use proptest::prelude::*;
use rigbill::calc::pricing::{Discount, PriceRequest, Quotation, quotation};
use rigbill::calc::quote::TaxExemption;
use rigbill::calc::shop::Shop;
use rigbill::calc::shop::item::{Attributes, Item};
use rigbill::calc::shop::settings::{Settings, TaxClass, TaxTreatment};
use rust_decimal::Decimal;

use super::fixture::{decimal, item, named, request, shop_with, take_off};
use super::half_away;

/// Settings with hardware at cost, goods taxed at a rate and service at none, no labour, and a share that is paid ahead.
fn settings(rate: &str, share: &str) -> Settings {
    let mut settings = Settings::starting();
    let class = |code: &str, rate: &str| TaxClass {
        code: code.into(),
        name: code.to_owned(),
        treatment: TaxTreatment::Standard,
        rate_percent: decimal(rate),
    };
    settings.tax_classes = vec![class("goods", rate), class("service", "0")];
    settings.categories.iter_mut().for_each(|category| category.mark_up_percent = Decimal::ZERO);
    settings.terms.deposit_percent = decimal(share);
    settings
}

fn hardware(sku: &str, cost: &str, special_order: bool) -> Item {
    Item { special_order, ..item(sku, "hardware", Attributes::Hardware {}, "1", cost) }
}

fn quote(shop: &Shop, pieces: &[(&str, &str)], change: impl FnOnce(&mut PriceRequest)) -> Quotation {
    let mut request = request();
    change(&mut request);
    let requirements = pieces.iter().map(|(sku, quantity)| named(sku, quantity)).collect();
    quotation(take_off(requirements, 0.0), &[], &[], &request, shop).unwrap()
}

#[test]
fn special_orders_are_paid_ahead_in_full_and_a_share_of_the_rest() {
    // Common practice: special orders in full plus 30 % of the rest.
    let items = vec![hardware("ARCH", "1000.00", true), hardware("CLEAT", "10.00", false)];
    let shop = shop_with(items, settings("10", "30"));
    let made = quote(&shop, &[("ARCH", "1"), ("CLEAT", "10")], |_| {});
    let deposit = made.document.deposit.unwrap();
    // 1000.00 and 10 % tax; 30 % of 100.00 and 10 % tax.
    assert_eq!(deposit.special_orders.to_string(), "1100.00");
    assert_eq!((deposit.share.to_string().as_str(), deposit.total.to_string().as_str()), ("33.00", "1133.00"));
    let discounted = quote(&shop, &[("ARCH", "1"), ("CLEAT", "10")], |request| {
        request.discount = Some(Discount::Percent(decimal("50")));
    });
    assert_eq!(discounted.document.deposit.unwrap().total.to_string(), "566.50", "half of everything");
    let unmet = quote(&shop, &[("ARCH", "1"), ("NOTHING", "1")], |_| {});
    assert!(unmet.document.deposit.is_none(), "no deposit on what has no total");
    let nothing = shop_with(vec![hardware("CLEAT", "10.00", false)], settings("10", "0"));
    assert!(quote(&nothing, &[("CLEAT", "1")], |_| {}).document.deposit.is_none());
}

#[test]
fn who_shows_a_certificate_is_exempt_from_what_is_taxed() {
    let shop = shop_with(vec![hardware("CLEAT", "10.00", false)], settings("8.25", "30"));
    let taxed = quote(&shop, &[("CLEAT", "4")], |_| {}).document;
    assert_eq!((taxed.totals.tax.to_string().as_str(), taxed.tax_exemption), ("3.30", None));
    let exemption = TaxExemption { certificate: "RC-2026-118".to_owned(), reason: "For resale".to_owned() };
    let exempt = quote(&shop, &[("CLEAT", "4")], |request| request.tax_exemption = Some(exemption.clone())).document;
    assert_eq!(exempt.totals.total.unwrap().to_string(), "40.00");
    assert_eq!(exempt.tax_exemption, Some(exemption));
    // EN 16931 BR-E-05 and BR-E-09: an exempt group has the rate 0 and no tax.
    let [group] = &exempt.totals.tax_by_class[..] else { panic!("{:?}", exempt.totals.tax_by_class) };
    assert_eq!((group.treatment, group.rate_percent, group.tax.minor()), (TaxTreatment::Exempt, Decimal::ZERO, 0));
}

#[test]
fn the_margin_is_what_is_left_of_the_items_after_cost_and_discount() {
    let mut settings = settings("0", "0");
    settings.categories.iter_mut().for_each(|category| category.mark_up_percent = decimal("25"));
    let shop = shop_with(vec![hardware("CLEAT", "10.00", false)], settings);
    let margin = |discount: Option<&str>| {
        let made = quote(&shop, &[("CLEAT", "8")], |request| {
            request.discount = discount.map(|percent| Discount::Percent(decimal(percent)));
        });
        made.costing.margin_percent.map(|margin| margin.to_string())
    };
    // 80.00 bought and sold for 100.00; with 10 % off for 90.00; with 20 % off for what it cost; and for nothing.
    assert_eq!(margin(None).as_deref(), Some("20"));
    assert_eq!(margin(Some("10")).as_deref(), Some("11.1111"));
    assert_eq!(margin(Some("20")).as_deref(), Some("0"));
    assert_eq!(margin(Some("100")).as_deref(), Some("-100"));
    let empty = quotation(take_off(Vec::new(), 1.0), &[], &[], &request(), &shop).unwrap();
    assert_eq!(empty.costing.margin_percent, None, "labour alone has no cost that is known");
}

proptest! {
    #[test]
    fn a_deposit_is_right_to_the_cent(
        prices in prop::collection::vec((1i64..5_000_000, any::<bool>()), 1..8),
        rate_bp in 0i64..3_000,
        share_bp in 0i64..10_001,
        discount_bp in 0i64..9_000,
    ) {
        let percent = |basis_points: i64| format!("{}.{:02}", basis_points / 100, basis_points % 100);
        let items: Vec<Item> = prices
            .iter()
            .enumerate()
            .map(|(n, (cents, special))| {
                hardware(&format!("I-{n}"), &format!("{}.{:02}", cents / 100, cents % 100), *special)
            })
            .collect();
        let names: Vec<String> = items.iter().map(|item| item.sku.to_string()).collect();
        let pieces: Vec<(&str, &str)> = names.iter().map(|name| (name.as_str(), "1")).collect();
        let shop = shop_with(items, settings(&percent(rate_bp), &percent(share_bp)));
        let made = quote(&shop, &pieces, |request| {
            request.discount = Some(Discount::Percent(decimal(&percent(discount_bp))));
        });
        // One tax group, in cents: everything special bears discount and tax by its part of the lines.
        let lines: i128 = prices.iter().map(|(cents, _)| i128::from(*cents)).sum();
        let special: i128 = prices.iter().filter(|(_, special)| *special).map(|(cents, _)| i128::from(*cents)).sum();
        let discount = half_away(lines * i128::from(discount_bp), 10_000);
        let taxable = lines - discount;
        let total = taxable + half_away(taxable * i128::from(rate_bp), 10_000);
        let special = half_away(total * special, lines);
        let share = half_away((total - special) * i128::from(share_bp), 10_000);
        let expected = special + share;
        let met = made.document.deposit.map_or(0, |deposit| i128::from(deposit.total.minor()));
        prop_assert_eq!(met, expected);
        prop_assert_eq!(i128::from(made.document.totals.total.unwrap().minor()), total);
    }
}
