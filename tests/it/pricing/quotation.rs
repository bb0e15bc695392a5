//! Whole quotes: lines, charges, discounts, gaps, and what each document may hold.

use proptest::prelude::*;
use rigbill::calc::basis::Value;
use rigbill::calc::findings::{Fault, Gap};
use rigbill::calc::pricing::{Discount, DiscountInput, PriceRequest, Quotation, quotation};
use rigbill::calc::quote::{Line, LineKind};
use rigbill::calc::requirements::Requirement;
use rigbill::calc::shop::Shop;
use rigbill::calc::shop::item::{Attributes, Item, PriceKind};
use rigbill::calc::shop::settings::{Charge, LabourCharge, PriceFrom, Settings, TaxClass, TaxTreatment};
use rigbill::calc::spec::input::{ExtraLineInput, JobType, OverruleInput};
use rigbill::calc::take_off::TakeOff;
use rust_decimal::Decimal;

use super::fixture::{Stream, day, decimal, item, named, price, request, shop, shop_with, spool, take_off, wire};
use super::half_away;

fn hardware(sku: &str, category: &str, pack: &str, cost: &str) -> Item {
    item(sku, category, Attributes::Hardware {}, pack, cost)
}

fn quote(take_off: TakeOff, shop: &Shop) -> Quotation {
    quotation(take_off, &[], &[], &request(), shop).unwrap()
}

fn extra(quantity: &str, unit_price: &str, tax_class: &str) -> ExtraLineInput {
    ExtraLineInput {
        description: "Haul out and block".to_owned(),
        quantity: decimal(quantity),
        unit: "each".to_owned(),
        unit_price: decimal(unit_price),
        tax_class: tax_class.into(),
    }
}

fn written(line: &Line) -> String {
    let name = line.sku.as_ref().map_or(line.description.as_str(), |sku| sku.as_str());
    format!("{name}: {} {} at {} = {}", line.quantity, line.unit, line.unit_price, line.net)
}

fn lines(quotation: &Quotation) -> Vec<String> {
    quotation.document.lines.iter().map(written).collect()
}

/// Settings where one category is changed.
fn category(code: &str, change: impl FnOnce(&mut rigbill::calc::shop::settings::Category)) -> Settings {
    let mut settings = Settings::starting();
    change(settings.categories.iter_mut().find(|category| category.code.as_str() == code).unwrap());
    settings
}

#[test]
fn the_customer_pays_for_the_feet_used_and_not_for_the_spool() {
    let items = vec![spool("W-100", "16 AWG", "brown", 105, "100", "31.00")];
    let need = vec![wire("16 AWG", "brown", 105, &[20.0, 21.0])];
    let used = quote(take_off(need.clone(), 0.0), &shop(items.clone()));
    // 0.31 a foot and 80 % on it: common practice.
    assert_eq!(lines(&used), ["W-100: 41 ft at 0.558 = 22.88"]);
    assert_eq!(used.document.lines[0].unit_code, "FOT");
    assert_eq!(used.costing.purchase_cost.to_string(), "31.00");
    assert_eq!(used.costing.lines[0].cost.to_string(), "12.71");
    assert_eq!(used.costing.margin.to_string(), "10.17");
    let settings = category("wire", |category| category.charge = Charge::Purchased);
    let purchased = quote(take_off(need, 0.0), &shop_with(items, settings));
    assert_eq!(lines(&purchased), ["W-100: 100 ft at 0.558 = 55.80"]);
}

#[test]
fn a_list_price_stands_where_the_category_goes_by_it() {
    let mut listed = hardware("LISTED", "electronics", "1", "100");
    listed.prices.push(price(PriceKind::List, "1", "149.95"));
    listed.prices.push(price(PriceKind::List, "10", "139.95"));
    let items = vec![listed, hardware("UNLISTED", "electronics", "1", "100")];
    let need = vec![named("LISTED", "2"), named("UNLISTED", "1")];
    let by_mark_up = quote(take_off(need.clone(), 0.0), &shop(items.clone()));
    assert_eq!(lines(&by_mark_up), ["LISTED: 2 each at 120 = 240.00", "UNLISTED: 1 each at 120 = 120.00"]);
    let settings = category("electronics", |category| category.price_from = PriceFrom::List);
    let by_list = quote(take_off(need, 0.0), &shop_with(items.clone(), settings.clone()));
    assert_eq!(lines(&by_list), ["LISTED: 2 each at 149.95 = 299.90", "UNLISTED: 1 each at 120 = 120.00"]);
    let many = quote(take_off(vec![named("LISTED", "10")], 0.0), &shop_with(items, settings));
    assert_eq!(lines(&many), ["LISTED: 10 each at 139.95 = 1399.50"]);
}

#[test]
fn lines_stand_in_the_order_of_the_shops_categories_and_end_with_what_a_person_wrote() {
    let items = vec![
        hardware("A-TERMINAL", "terminals_and_fuses", "10", "5"),
        hardware("B-DISPLAY", "electronics", "1", "900"),
        hardware("A-DISPLAY", "electronics", "1", "500"),
    ];
    let need = vec![named("A-TERMINAL", "4"), named("B-DISPLAY", "1"), named("A-DISPLAY", "1")];
    let shop = shop(items);
    let extra = [extra("1", "350.00", "service")];
    let quotation = quotation(take_off(need, 10.0), &extra, &[], &request(), &shop).unwrap();
    // Labour 140 an hour, 10 % for the unknown, shop supplies 6 % and 200 at most: common practice.
    assert_eq!(
        lines(&quotation),
        [
            "A-DISPLAY: 1 each at 600 = 600.00",
            "B-DISPLAY: 1 each at 1080 = 1080.00",
            "A-TERMINAL: 4 each at 1.1 = 4.40",
            "Labour: 10 h at 140 = 1400.00",
            "Allowance for the unknown: 1 each at 140 = 140.00",
            "Shop supplies: 1 each at 84 = 84.00",
            "Haul out and block: 1 each at 350.00 = 350.00",
        ]
    );
    assert_eq!(quotation.document.totals.total.unwrap().to_string(), "3658.40");
    let numbers: Vec<u32> = quotation.document.lines.iter().map(|line| line.number).collect();
    assert_eq!(numbers, [1, 2, 3, 4, 5, 6, 7]);
}

#[test]
fn the_allowance_is_larger_on_a_re_rig_and_shop_supplies_are_capped() {
    let mut boat = take_off(Vec::new(), 100.0);
    boat.boat.job_type = JobType::ReRig;
    let quotation = quote(boat, &shop(Vec::new()));
    assert_eq!(
        lines(&quotation),
        [
            "Labour: 100 h at 140 = 14000.00",
            "Allowance for the unknown: 1 each at 2800 = 2800.00",
            "Shop supplies: 1 each at 200 = 200.00",
        ]
    );
    let none = Settings { shop_supplies_percent: Decimal::ZERO, ..Settings::starting() };
    let quotation = quote(take_off(Vec::new(), 1.0), &shop_with(Vec::new(), none));
    assert!(quotation.document.lines.iter().all(|line| line.kind != LineKind::ShopSupplies));
}

#[test]
fn the_shop_chooses_which_hours_it_charges() {
    let mut boat = take_off(Vec::new(), 10.0);
    boat.labour.four_in_five_h = 12.345;
    let settings = Settings { labour_charge: LabourCharge::FourInFive, ..Settings::starting() };
    let quotation = quote(boat, &shop_with(Vec::new(), settings));
    assert_eq!(lines(&quotation)[0], "Labour: 12.35 h at 140 = 1729.00");
    assert_eq!(quotation.document.lines[0].unit_code, "HUR");
}

#[test]
fn a_gap_leaves_the_quote_without_a_total() {
    let shop = shop(vec![hardware("HERE", "hardware", "1", "10")]);
    let mut boat = take_off(vec![named("HERE", "1"), named("GONE", "1")], 0.0);
    let whole = quote(take_off(vec![named("HERE", "1")], 0.0), &shop).document.totals;
    assert!(!whole.incomplete && whole.total.is_some() && whole.priced_subtotal.is_none());
    boat.gaps.push(Gap { what: "C01".into(), need: "n".into(), reason: "r".into(), mend: "m".into() });
    let quotation = quote(boat, &shop);
    let totals = &quotation.document.totals;
    assert!(totals.incomplete && totals.total.is_none());
    assert_eq!(totals.priced_subtotal.unwrap().to_string(), "14.50");
    let gaps: Vec<&str> = quotation.document.gaps.iter().map(|gap| gap.what.as_str()).collect();
    assert_eq!(gaps, ["C01", "item/GONE"]);
    let json = serde_json::to_value(totals).unwrap();
    assert!(json.get("total").is_none(), "what does not apply is absent");
}

#[test]
fn the_quote_holds_for_the_shortest_promise_on_it() {
    let shop = shop(vec![hardware("DISPLAY", "electronics", "1", "900"), hardware("CLAMP", "hardware", "1", "1")]);
    let until = |sku: &str| quote(take_off(vec![named(sku, "1")], 0.0), &shop).document.valid_until.to_string();
    assert_eq!(until("DISPLAY"), "2026-12-09", "electronics 14 days");
    assert_eq!(until("CLAMP"), "2026-12-25", "the shop's 30 days");
}

#[test]
fn the_longest_lead_time_is_told() {
    let slow = Item { lead_time_days: 21, ..hardware("SLOW", "hardware", "1", "1") };
    let shop = shop(vec![slow, hardware("FAST", "hardware", "1", "1")]);
    assert_eq!(quote(take_off(vec![named("SLOW", "1"), named("FAST", "1")], 0.0), &shop).document.lead_time_days, 21);
}

#[test]
fn what_the_front_desk_reads_holds_nothing_of_cost() {
    let shop = shop(vec![
        spool("W-100", "16 AWG", "brown", 105, "100", "31.37"),
        Item { special_order: true, ..hardware("DISPLAY", "electronics", "1", "917.13") },
    ]);
    let need = vec![wire("16 AWG", "brown", 105, &[20.0]), named("DISPLAY", "1")];
    let quotation = quote(take_off(need, 3.0), &shop);
    let document = serde_json::to_string(&quotation.document).unwrap().to_lowercase();
    for secret in ["cost", "mark_up", "margin", "supplier", "31.37", "917.13", "price.mark_up"] {
        assert!(!document.contains(secret), "{secret} in {document}");
    }
    let costing = serde_json::to_string(&quotation.costing).unwrap();
    for told in ["31.37", "917.13", "Secret supplier", "price.mark_up", "W-100"] {
        assert!(costing.contains(told), "{told}");
    }
}

#[test]
fn every_price_follows_from_its_stored_inputs() {
    let mut listed = hardware("LISTED", "electronics", "3", "100");
    listed.prices.push(price(PriceKind::List, "1", "49.95"));
    let items = vec![
        listed,
        hardware("PACK", "terminals_and_fuses", "7", "5.55"),
        spool("W", "16 AWG", "red", 105, "100", "31"),
    ];
    let need = vec![named("LISTED", "2"), named("PACK", "3"), wire("16 AWG", "red", 105, &[3.3])];
    let settings = category("electronics", |category| category.price_from = PriceFrom::List);
    let quotation = quote(take_off(need, 0.0), &shop_with(items, settings));
    assert_eq!(quotation.costing.lines.len(), 3);
    crate::reevaluate::check_basis(&serde_json::to_value(&quotation.costing.basis).unwrap());
    for costing in &quotation.costing.lines {
        let line = &quotation.document.lines[costing.number as usize - 1];
        let derivation = &quotation.costing.basis.derivations[costing.basis.0 as usize];
        assert_eq!(derivation.result, Value::Exact(line.unit_price));
    }
}

#[test]
fn an_item_overrule_is_kept_with_its_reason() {
    let shop = shop(vec![
        spool("W-A", "16 AWG", "brown", 105, "100", "31"),
        spool("W-B", "16 AWG", "brown", 105, "100", "40"),
        spool("W-O", "16 AWG", "orange", 105, "100", "40"),
    ]);
    let key = "wire/16 AWG/brown/105 C";
    let overrule = |sku: &str| OverruleInput::Item { requirement: key.into(), sku: sku.into(), reason: "Shelf".into() };
    let boat = || take_off(vec![wire("16 AWG", "brown", 105, &[20.0])], 0.0);
    let kept = quotation(boat(), &[], &[overrule("W-B")], &request(), &shop).unwrap().document.take_off;
    assert_eq!((kept.overrules[0].chosen.as_str(), kept.overrules[0].reason.as_str()), ("W-B", "Shelf"));
    assert!(kept.warnings.is_empty());
    let warned = quotation(boat(), &[], &[overrule("W-O")], &request(), &shop).unwrap().document.take_off;
    assert_eq!(warned.warnings[0].about.as_str(), key);
}

#[test]
fn all_faults_are_listed_at_their_places() {
    let shop = shop(vec![hardware("HERE", "hardware", "1", "10")]);
    let extra_lines = [
        extra("1", "1", "service"),
        extra("1", "1", "nothing"),
        extra("1", "-1", "service"),
        extra("9999999", "999999999", "goods"),
    ];
    let overrules = [OverruleInput::Item { requirement: "item/GONE".into(), sku: "HERE".into(), reason: "r".into() }];
    let request = PriceRequest { discount: Some(Discount::Percent(decimal("120"))), ..request() };
    let faults =
        quotation(take_off(vec![named("HERE", "1")], 1.0), &extra_lines, &overrules, &request, &shop).unwrap_err();
    let pointers: Vec<&str> = faults.iter().map(|fault: &Fault| fault.pointer.as_str()).collect();
    assert_eq!(
        pointers,
        [
            "/overrules/0/requirement",
            "/extra_lines/1/tax_class",
            "/extra_lines/2/unit_price",
            "/extra_lines/3",
            "/discount/percent",
        ]
    );
}

#[test]
fn absurd_amounts_are_told_and_never_panic() {
    let huge = hardware("HUGE", "hardware", "0.000001", "999999999.999999");
    let much = Requirement { quantity: Decimal::MAX, ..named("HUGE", "1") };
    let told = quotation(take_off(vec![much], 0.0), &[], &[], &request(), &shop(vec![huge.clone()])).unwrap();
    assert!(told.document.gaps[0].reason.contains("too large"), "{:?}", told.document.gaps);
    let dear = quotation(take_off(vec![named("HUGE", "99999999")], 0.0), &[], &[], &request(), &shop(vec![huge]));
    assert!(!dear.unwrap_err().is_empty());
    let long = quotation(take_off(Vec::new(), 1e300), &[], &[], &request(), &shop(Vec::new())).unwrap_err();
    assert_eq!(long[0].pointer, "/labour");
    let settings = Settings { currency: "XXQ".to_owned(), ..Settings::starting() };
    let faults =
        quotation(take_off(Vec::new(), 1.0), &[], &[], &request(), &shop_with(Vec::new(), settings)).unwrap_err();
    assert!(faults[0].message.contains("XXQ"));
}

#[test]
fn a_discount_is_read_as_it_is_described() {
    let read = |text: &str| serde_json::from_str::<DiscountInput>(text).map(Discount::from);
    assert_eq!(read(r#"{"kind":"percent","percent":"5"}"#).unwrap(), Discount::Percent(decimal("5")));
    assert_eq!(read(r#"{"kind":"amount","amount":"50.00"}"#).unwrap(), Discount::Amount(decimal("50.00")));
    assert!(read(r#"{"kind":"amount","amount":"50.00","percent":"5"}"#).is_err(), "unknown fields are refused");
}

/// One random item: pack size, cost in millionths, quantity needed.
type Row = (u32, i64, u32);

fn random_shop(rows: &[Row], mark_up_e4: i64, currency: &str, charge: Charge) -> (Shop, Vec<Requirement>) {
    let mut settings = category("hardware", |category| {
        category.mark_up_percent = Decimal::new(mark_up_e4, 4);
        category.charge = charge;
    });
    settings.currency = currency.to_owned();
    settings.tax_classes[0].rate_percent = decimal("7.25");
    settings.tax_classes.push(TaxClass {
        code: "free".into(),
        name: "Free".to_owned(),
        treatment: TaxTreatment::Exempt,
        rate_percent: decimal("0"),
    });
    let items = rows.iter().enumerate().map(|(n, (pack, cost_e6, _))| {
        hardware(&format!("ITEM-{n:03}"), "hardware", &pack.to_string(), &Decimal::new(*cost_e6, 6).to_string())
    });
    let needs =
        rows.iter().enumerate().map(|(n, (.., quantity))| named(&format!("ITEM-{n:03}"), &quantity.to_string()));
    let needs = needs.collect();
    (shop_with(items.collect(), settings), needs)
}

proptest! {
    #[test]
    fn quotes_agree_with_whole_numbers_to_the_minor_unit(
        rows in prop::collection::vec((1u32..1000, 1i64..2_000_000_000, 1u32..5000), 1..12),
        extras in prop::collection::vec((-50_000i64..2_000_000, 0i64..900_000_000, prop::bool::ANY), 0..6),
        mark_up_e4 in 0i64..3_000_000,
        purchased in prop::bool::ANY,
        currency in prop::sample::select(vec![("JPY", 0u32), ("EUR", 2), ("BHD", 3)]),
    ) {
        let (code, places) = currency;
        let charge = if purchased { Charge::Purchased } else { Charge::Used };
        let (shop, needs) = random_shop(&rows, mark_up_e4, code, charge);
        let extra_lines: Vec<ExtraLineInput> = extras
            .iter()
            .map(|(quantity_e4, price_e6, free)| ExtraLineInput {
                quantity: Decimal::new(*quantity_e4, 4),
                unit_price: Decimal::new(*price_e6, 6),
                ..extra("1", "1", if *free { "free" } else { "goods" })
            })
            .collect();
        let quotation = quotation(take_off(needs, 0.0), &extra_lines, &[], &request(), &shop).unwrap();

        let scale = 10i128.pow(places);
        let (mut taxed, mut free) = (0i128, 0i128);
        for (line, (pack, cost_e6, quantity)) in quotation.document.lines.iter().zip(&rows) {
            let (pack, cost_e6) = (i128::from(*pack), i128::from(*cost_e6));
            let packs = (i128::from(*quantity) + pack - 1) / pack;
            let charged = if purchased { packs * pack } else { i128::from(*quantity) };
            let price_e6 = half_away(cost_e6 * (1_000_000 + i128::from(mark_up_e4)), 1_000_000 * pack);
            let net = half_away(charged * price_e6 * scale, 1_000_000);
            prop_assert_eq!(line.quantity, Decimal::from(charged));
            prop_assert_eq!(line.unit_price, Decimal::from(price_e6) / Decimal::from(1_000_000));
            prop_assert_eq!(i128::from(line.net.minor()), net);
            taxed += net;
        }
        for (line, (quantity_e4, price_e6, of_free)) in quotation.document.lines[rows.len()..].iter().zip(&extras) {
            let net = half_away(i128::from(*quantity_e4) * i128::from(*price_e6) * scale, 10i128.pow(10));
            prop_assert_eq!(i128::from(line.net.minor()), net);
            if *of_free { free += net } else { taxed += net }
        }
        let totals = &quotation.document.totals;
        prop_assert_eq!(i128::from(totals.lines_net.minor()), taxed + free);
        let tax = half_away(taxed * 725, 10_000);
        prop_assert_eq!(i128::from(totals.tax.minor()), tax);
        prop_assert_eq!(i128::from(totals.total.unwrap().minor()), taxed + free + tax);
        let cost: i128 = rows
            .iter()
            .map(|(pack, cost_e6, quantity)| {
                let packs = i128::from(quantity.div_ceil(*pack));
                half_away(packs * i128::from(*cost_e6) * scale, 1_000_000)
            })
            .sum();
        prop_assert_eq!(i128::from(quotation.costing.purchase_cost.minor()), cost);
    }

    #[test]
    fn lines_add_up_to_the_totals(
        hours in 0u32..4000, percent in 0u32..=100, rows in prop::collection::vec((1u32..50, 1i64..900_000_000, 1u32..90), 0..9),
    ) {
        let (shop, needs) = random_shop(&rows, 450_000, "USD", Charge::Used);
        let request = PriceRequest { discount: Some(Discount::Percent(Decimal::from(percent))), ..request() };
        let extra_lines = [extra("3", "19.99", "free")];
        let boat = take_off(needs, f64::from(hours) / 16.0);
        let document = quotation(boat, &extra_lines, &[], &request, &shop).unwrap().document;
        let totals = &document.totals;
        let sum = |amounts: &mut dyn Iterator<Item = i64>| amounts.sum::<i64>();
        prop_assert_eq!(sum(&mut document.lines.iter().map(|line| line.net.minor())), totals.lines_net.minor());
        prop_assert_eq!(sum(&mut totals.tax_by_class.iter().map(|c| c.lines_net.minor())), totals.lines_net.minor());
        prop_assert_eq!(sum(&mut totals.tax_by_class.iter().map(|c| c.discount.minor())), totals.discount.minor());
        prop_assert_eq!(sum(&mut totals.tax_by_class.iter().map(|c| c.taxable.minor())), totals.net.minor());
        prop_assert_eq!(sum(&mut totals.tax_by_class.iter().map(|c| c.tax.minor())), totals.tax.minor());
        prop_assert_eq!(totals.net.minor() + totals.tax.minor(), totals.total.unwrap().minor());
    }

    #[test]
    fn the_order_of_the_requirements_never_changes_a_byte(seed in any::<u64>()) {
        let mut stream = Stream(seed);
        let items: Vec<Item> = (0..8)
            .map(|n| hardware(&format!("H-{n}"), "hardware", &(1 + stream.below(9)).to_string(), "7.77"))
            .chain((0..3).map(|n| {
                let feet = 30 * (n + 1);
                spool(&format!("W-{n}"), "16 AWG", "brown", 105, &feet.to_string(), &(feet / 3 - n).to_string())
            }))
            .collect();
        let shop = shop(items);
        let mut needs: Vec<Requirement> = (0..8).map(|n| named(&format!("H-{n}"), "5")).collect();
        let feet: Vec<f64> = (0..9).map(|_| 1.0 + 25.0 * stream.share()).collect();
        needs.push(wire("16 AWG", "brown", 105, &feet));
        needs.push(wire("16 AWG", "brown", 75, &[4.0, 6.5]));
        needs.push(named("GONE", "1"));
        let bytes = |needs: &[Requirement]| {
            // The take-off lists its requirements as it got them, so only what follows from them is compared.
            let mut quotation = quote(take_off(needs.to_vec(), 2.0), &shop);
            quotation.document.take_off.requirements.clear();
            serde_json::to_string(&(quotation.document, quotation.costing)).unwrap()
        };
        let as_given = bytes(&needs);
        for place in (1..needs.len()).rev() {
            needs.swap(place, stream.below(place as u64 + 1) as usize);
        }
        prop_assert_eq!(as_given, bytes(&needs));
    }
}

#[test]
fn the_fixture_prices_on_the_day_it_says() {
    assert_eq!(quote(take_off(Vec::new(), 1.0), &shop(Vec::new())).document.priced_on, day());
}
