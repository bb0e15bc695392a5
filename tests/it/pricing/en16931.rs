//! Random quotes, totalled again in whole numbers from what went in: prices by category, list and level, extra lines,
//! discount, freight, exemption, several tax classes, options, currencies of 0 to 4 decimal places. Nothing here is taken
//! from the program but the JSON of its documents.
//!
//! Rules: EN 16931-1, BR-CO-10 to BR-CO-17, BR-S-08 and BR-E-05, by the European Commission's validation artefacts,
//! https://github.com/ConnectingEurope/eInvoicing-EN16931. Roundings: half away from zero, as its samples have them.

use std::collections::BTreeMap;

use proptest::prelude::*;
use rigbill::calc::choices::{OptionInput, choices};
use rigbill::calc::pricing::{Discount, PriceRequest};
use rigbill::calc::quote::TaxExemption;
use rigbill::calc::shop::item::{Attributes, Item, PriceKind};
use rigbill::calc::shop::settings::{
    Category, Charge, Freight, FreightRule, LevelPrice, PriceFrom, PriceLevel, Settings, TaxClass, TaxTreatment,
};
use rigbill::calc::spec::input::BoatSpecInput;
use rust_decimal::Decimal;
use serde_json::{Value, json};

use super::fixture::{item, price, request, shop_with};
use super::{evaluate, half_away};

/// Treatment and rate, in basis points, of the tax classes: two are alike, three are not taxed.
const CLASSES: [(TaxTreatment, i128); 6] = [
    (TaxTreatment::Standard, 725),
    (TaxTreatment::Standard, 2_100),
    (TaxTreatment::ZeroRated, 0),
    (TaxTreatment::Exempt, 0),
    (TaxTreatment::OutsideScope, 0),
    (TaxTreatment::Standard, 725),
];

/// What the customer's level does to a category.
#[derive(Clone, Copy, Debug)]
enum Level {
    Nothing,
    /// Mark-up, ten-thousandths of a percent.
    MarkUp(i64),
    /// Percent off, ten-thousandths.
    Off(i64),
}

#[derive(Clone, Copy, Debug)]
struct Cat {
    mark_up_e4: i64,
    by_list: bool,
    level: Level,
    class: usize,
}

#[derive(Clone, Copy, Debug)]
struct Thing {
    category: usize,
    cost_e6: i64,
    list_e6: i64,
    pack: i64,
    class: Option<usize>,
}

/// An extra line: quantity in ten-thousandths, unit price in millionths, tax class.
type Extra = (i64, i64, usize);

/// Items by place with their quantities, and extra lines.
#[derive(Clone, Debug, Default)]
struct Wanted {
    things: Vec<(usize, u16)>,
    extras: Vec<Extra>,
}

#[derive(Clone, Copy, Debug)]
enum Off {
    None,
    PercentE4(i64),
    /// Thousandths of what the smallest choice comes to.
    Amount(i64),
}

#[derive(Clone, Copy, Debug)]
enum Carriage {
    None,
    /// Ten-thousandths of the currency, and from how many it is free.
    Amount(i64, Option<i64>),
    PercentE4(i64, Option<i64>),
    /// Minor units, as a person wrote it.
    Written(i64),
}

#[derive(Clone, Debug)]
struct Case {
    currency: (&'static str, u32),
    categories: Vec<Cat>,
    things: Vec<Thing>,
    base: Wanted,
    options: Vec<Wanted>,
    level: bool,
    exempt: bool,
    off: Off,
    carriage: Carriage,
    carriage_class: usize,
}

fn wanted(least: usize) -> impl Strategy<Value = Wanted> {
    let things = prop::collection::vec((0usize..5, 1u16..40), least..5);
    let extras = prop::collection::vec((-20_000i64..200_000, 0i64..90_000_000, 0usize..6), 0..3);
    (things, extras).prop_map(|(things, extras)| Wanted { things, extras })
}

fn case() -> impl Strategy<Value = Case> {
    let level = prop_oneof![
        Just(Level::Nothing),
        (0i64..2_000_000).prop_map(Level::MarkUp),
        (0i64..=1_000_000).prop_map(Level::Off)
    ];
    let category = (0i64..2_000_000, any::<bool>(), level, 0usize..6)
        .prop_map(|(mark_up_e4, by_list, level, class)| Cat { mark_up_e4, by_list, level, class });
    let thing = (0usize..3, 1i64..3_000_000_000, 1i64..3_000_000_000, 1i64..30, prop::option::of(0usize..6))
        .prop_map(|(category, cost_e6, list_e6, pack, class)| Thing { category, cost_e6, list_e6, pack, class });
    let off =
        prop_oneof![Just(Off::None), (0i64..=1_000_000).prop_map(Off::PercentE4), (0i64..=1_000).prop_map(Off::Amount)];
    let free = || prop::option::of(0i64..900_000_000);
    let carriage = prop_oneof![
        Just(Carriage::None),
        (0i64..9_000_000, free()).prop_map(|(amount, free)| Carriage::Amount(amount, free)),
        (0i64..=1_000_000, free()).prop_map(|(percent, free)| Carriage::PercentE4(percent, free)),
        (0i64..900_000).prop_map(Carriage::Written)
    ];
    let currency = prop::sample::select(vec![("JPY", 0u32), ("EUR", 2), ("BHD", 3), ("CLF", 4)]);
    let terms = (any::<bool>(), any::<bool>(), off, carriage, 0usize..6);
    let boat = (wanted(0), prop::collection::vec(wanted(1), 0..4));
    let shop = (prop::collection::vec(category, 3), prop::collection::vec(thing, 5));
    (currency, shop, boat, terms).prop_map(|(currency, (categories, things), (base, options), terms)| {
        let (level, exempt, off, carriage, carriage_class) = terms;
        Case { currency, categories, things, base, options, level, exempt, off, carriage, carriage_class }
    })
}

// What the program is given.

fn settings(case: &Case) -> Settings {
    let class = |n: usize| format!("c{n}").into();
    let category = |(n, cat): (usize, &Cat)| Category {
        code: format!("k{n}").into(),
        name: format!("Category {n}"),
        mark_up_percent: Decimal::new(cat.mark_up_e4, 4),
        charge: Charge::Used,
        price_from: if cat.by_list { PriceFrom::List } else { PriceFrom::MarkUp },
        tax_class: class(cat.class),
        valid_days: None,
    };
    let level_price = |(n, cat): (usize, &Cat)| match cat.level {
        Level::Nothing => None,
        Level::MarkUp(e4) => {
            Some(LevelPrice::MarkUp { category: format!("k{n}").into(), percent: Decimal::new(e4, 4) })
        }
        Level::Off(e4) => {
            Some(LevelPrice::PercentOff { category: format!("k{n}").into(), percent: Decimal::new(e4, 4) })
        }
    };
    let e4 = |amount: i64| Decimal::new(amount, 4);
    let rule = match case.carriage {
        Carriage::None | Carriage::Written(_) => FreightRule::None,
        Carriage::Amount(amount, free) => FreightRule::Amount { amount: e4(amount), free_from: free.map(e4) },
        Carriage::PercentE4(percent, free) => {
            FreightRule::PercentOfGoods { percent: e4(percent), free_from: free.map(e4) }
        }
    };
    let tax_class = |(n, (treatment, rate)): (usize, &(TaxTreatment, i128))| TaxClass {
        code: class(n),
        name: format!("Class {n}"),
        treatment: *treatment,
        rate_percent: Decimal::new(i64::try_from(*rate).unwrap(), 2),
    };
    Settings {
        currency: case.currency.0.to_owned(),
        categories: case.categories.iter().enumerate().map(category).collect(),
        price_levels: vec![PriceLevel {
            code: "club".into(),
            name: "Club".to_owned(),
            owner_only: false,
            prices: case.categories.iter().enumerate().filter_map(level_price).collect(),
        }],
        freight: Freight { rule, tax_class: class(case.carriage_class) },
        tax_classes: CLASSES.iter().enumerate().map(tax_class).collect(),
        labour_tax_class: class(0),
        shop_supplies_tax_class: class(0),
        ..Settings::starting()
    }
}

fn items(case: &Case) -> Vec<Item> {
    let make = |(n, thing): (usize, &Thing)| {
        let exact = |e6: i64| Decimal::new(e6, 6).to_string();
        let category = format!("k{}", thing.category);
        let mut made =
            item(&format!("I-{n}"), &category, Attributes::Hardware {}, &thing.pack.to_string(), &exact(thing.cost_e6));
        made.prices.push(price(PriceKind::List, "1", &exact(thing.list_e6)));
        made.tax_class = thing.class.map(|class| format!("c{class}").into());
        made
    };
    case.things.iter().enumerate().map(make).collect()
}

fn equipment(wanted: &Wanted) -> Value {
    let entry = |(thing, quantity): &(usize, u16)| json!({"sku": format!("I-{thing}"), "quantity": quantity, "station": "helm"});
    wanted.things.iter().map(entry).collect()
}

fn extra_lines(wanted: &Wanted) -> Value {
    let line = |(quantity, price, class): &Extra| {
        json!({"description": "Something", "quantity": Decimal::new(*quantity, 4).to_string(), "unit": "each",
            "unit_price": Decimal::new(*price, 6).to_string(), "tax_class": format!("c{class}")})
    };
    wanted.extras.iter().map(line).collect()
}

fn spec(case: &Case) -> BoatSpecInput {
    serde_json::from_value(json!({
        "boat": {"name": "Random", "job_type": "first_rig", "propulsion": "none",
            "stations": [{"id": "helm"}, {"id": "battery_bay"}],
            "runs": [{"from": "battery_bay", "to": "helm", "length": {"value": 9, "unit": "ft"}}]},
        "power": {"banks": [{"id": "house", "station": "battery_bay", "nominal_voltage_v": 12}],
            "panels": [{"id": "helm_panel", "station": "helm", "bank": "house"}]},
        "equipment": equipment(&case.base), "extra_lines": extra_lines(&case.base),
    }))
    .unwrap()
}

fn options(case: &Case) -> Vec<OptionInput> {
    let option = |(n, wanted): (usize, &Wanted)| {
        let option = json!({"id": format!("o{n}"), "title": format!("Option {n}"), "equipment": equipment(wanted),
            "extra_lines": extra_lines(wanted)});
        serde_json::from_value(option).unwrap()
    };
    case.options.iter().enumerate().map(option).collect()
}

// The same again, in whole numbers.

/// Price of one unit in millionths.
fn unit_price_e6(case: &Case, thing: &Thing) -> i128 {
    let cat = &case.categories[thing.category];
    let marked_up = |e4: i64| {
        half_away(i128::from(thing.cost_e6) * (1_000_000 + i128::from(e4)), 1_000_000 * i128::from(thing.pack))
    };
    let usual = if cat.by_list { i128::from(thing.list_e6) } else { marked_up(cat.mark_up_e4) };
    match cat.level {
        Level::MarkUp(e4) if case.level => marked_up(e4),
        Level::Off(e4) if case.level => half_away(usual * (1_000_000 - i128::from(e4)), 1_000_000),
        _ => usual,
    }
}

/// Net and tax class of every line, items first; and what the items come to. In minor units.
fn nets(case: &Case, on_board: &[&Wanted]) -> (Vec<(i128, usize)>, i128) {
    let scale = 10i128.pow(case.currency.1);
    let mut quantities: BTreeMap<usize, i128> = BTreeMap::new();
    for (thing, quantity) in on_board.iter().flat_map(|wanted| &wanted.things) {
        *quantities.entry(*thing).or_default() += i128::from(*quantity);
    }
    let mut lines: Vec<(i128, usize)> = quantities
        .into_iter()
        .map(|(place, quantity)| {
            let thing = &case.things[place];
            let class = thing.class.unwrap_or(case.categories[thing.category].class);
            (half_away(quantity * unit_price_e6(case, thing) * scale, 1_000_000), class)
        })
        .collect();
    let goods = lines.iter().map(|(net, _)| net).sum();
    for (quantity, price, class) in on_board.iter().flat_map(|wanted| &wanted.extras) {
        lines.push((half_away(i128::from(*quantity) * i128::from(*price) * scale, 10i128.pow(10)), *class));
    }
    (lines, goods)
}

fn freight(case: &Case, goods: i128) -> i128 {
    let scale = 10i128.pow(case.currency.1);
    // Goods in ten-thousandths of the currency, as thresholds are.
    let goods_e4 = goods * 10_000 / scale;
    let charged = |free: Option<i64>| goods > 0 && free.is_none_or(|free| goods_e4 < i128::from(free));
    match case.carriage {
        Carriage::Written(minor) => i128::from(minor),
        Carriage::Amount(amount, free) if charged(free) => half_away(i128::from(amount) * scale, 10_000),
        Carriage::PercentE4(percent, free) if charged(free) => half_away(goods * i128::from(percent), 1_000_000),
        _ => 0,
    }
}

/// A decimal string as minor units: exactly as many places as the currency has.
fn minor(amount: &Value, places: u32) -> i128 {
    let text = amount.as_str().unwrap_or_else(|| panic!("an amount, met {amount}"));
    let (_, fraction) = text.split_once('.').unwrap_or((text, ""));
    assert_eq!(fraction.len(), places as usize, "BR-DEC: {text} has the places of its currency");
    text.replace('.', "").parse().unwrap()
}

fn check_document(case: &Case, document: &Value, on_board: &[&Wanted], off: Option<(i128, bool)>) {
    let places = case.currency.1;
    let amount = |value: &Value| minor(value, places);
    let or_none = |value: &Value| if value.is_null() { 0 } else { amount(value) };
    let (lines, goods) = nets(case, on_board);
    let totals = &document["totals"];

    // BT-131: each line net is quantity times price, rounded once.
    let mut found: Vec<(i128, String)> = document["lines"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| (amount(&line["net"]), line["tax_class"].as_str().unwrap().to_owned()))
        .collect();
    let mut expected: Vec<(i128, String)> = lines.iter().map(|(net, class)| (*net, format!("c{class}"))).collect();
    found.sort();
    expected.sort();
    assert_eq!(found, expected, "BT-131");

    let sum: i128 = lines.iter().map(|(net, _)| net).sum();
    assert_eq!(amount(&totals["lines_net"]), sum, "BR-CO-10: BT-106 is the sum of the line nets");
    let allowance = match off {
        Some((percent_e4, true)) => half_away(sum * percent_e4, 1_000_000),
        Some((minor, false)) => minor,
        None => 0,
    };
    assert_eq!(amount(&totals["discount"]), allowance, "BR-CO-11: BT-107 is the sum of the document allowances");
    let charge = freight(case, goods);
    assert_eq!(or_none(&totals["freight"]), charge, "BR-CO-12: BT-108 is the sum of the document charges");
    assert_eq!(or_none(&document["freight"]["amount"]), charge, "BT-99");
    let reason = document["freight"]["reason"].as_str().unwrap_or_default();
    assert_eq!(charge == 0, reason.is_empty(), "BR-38: a document charge has a reason");
    let net = sum - allowance + charge;
    assert_eq!(amount(&totals["net"]), net, "BR-CO-13: BT-109 is BT-106 less BT-107 plus BT-108");

    // Lines and charge by treatment and rate; who is exempt is taxed nowhere.
    let treated = |class: usize| match CLASSES[class] {
        (TaxTreatment::Standard, _) if case.exempt => (TaxTreatment::Exempt, 0),
        other => other,
    };
    let mut bases: BTreeMap<(TaxTreatment, i128), (i128, i128)> = BTreeMap::new();
    for (net, class) in &lines {
        bases.entry(treated(*class)).or_default().0 += net;
    }
    if charge > 0 {
        bases.entry(treated(case.carriage_class)).or_default().1 += charge;
    }
    let groups = totals["tax_by_class"].as_array().unwrap();
    assert_eq!(groups.len(), bases.len(), "BR-CO-18 and BR-S-01: one breakdown for each treatment and rate");
    let (mut shares, mut taxes, mut taxable) = (0, 0, 0);
    for group in groups {
        let treatment: TaxTreatment = serde_json::from_value(group["treatment"].clone()).unwrap();
        let rate = basis_points(&group["rate_percent"]);
        let (of_lines, of_charge) = bases[&(treatment, rate)];
        assert!(treatment == TaxTreatment::Standard || rate == 0, "BR-E-05, BR-Z-05, BR-O-05");
        let share = amount(&group["discount"]);
        // In proportion to the lines, to within one minor unit.
        let exact = allowance * of_lines;
        assert!((share * sum - exact).abs() <= sum.abs(), "BT-92: {share} of {allowance} by {of_lines} of {sum}");
        let base = of_lines - share + of_charge;
        assert_eq!(or_none(&group["freight"]), of_charge, "BT-99 in its group");
        assert_eq!(amount(&group["taxable"]), base, "BR-S-08: BT-116 is lines less allowances plus charges");
        assert_eq!(amount(&group["tax"]), half_away(base * rate, 10_000), "BR-CO-17: BT-117 is BT-116 times the rate");
        shares += share;
        taxes += amount(&group["tax"]);
        taxable += base;
    }
    assert_eq!(shares, allowance, "BR-CO-11: the shares of the groups are the whole allowance");
    assert_eq!(taxable, net, "the bases are the whole net");
    assert_eq!(amount(&totals["tax"]), taxes, "BR-CO-14: BT-110 is the sum of the rounded taxes");
    assert_eq!(amount(&totals["total"]), net + taxes, "BR-CO-15: BT-112 is BT-109 plus BT-110");
    // Nothing was paid and nothing is rounded off: what is due is the total, of which the deposit is a part.
    let deposit = or_none(&document["deposit"]["total"]);
    assert!((0..=(net + taxes).max(0)).contains(&deposit), "BR-CO-16: BT-115 is BT-112, {deposit} of it ahead");
}

/// A rate in percent of at most two decimal places, in basis points.
fn basis_points(rate: &Value) -> i128 {
    let text = rate.as_str().expect("a rate");
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    format!("{whole}{fraction:0<2}").parse().expect("digits")
}

/// Every derivation behind the prices and the freight gives its result once more.
fn check_basis(costing: &Value) {
    for derivation in costing["basis"]["derivations"].as_array().unwrap() {
        let (rule, inputs) = (derivation["rule"].as_str().unwrap(), derivation["inputs"].as_object().unwrap());
        let again = evaluate(rule, inputs).unwrap_or_else(|| panic!("{rule} is not evaluated"));
        assert_eq!(again, derivation["result"], "{rule} of {inputs:?}");
    }
}

proptest! {
    #[test]
    fn random_quotes_keep_the_arithmetic_of_en_16931_to_the_minor_unit(case in case()) {
        let shop = shop_with(items(&case), settings(&case));
        // The smallest choice is what an amount can be taken from, and no share is taken from less than nothing.
        let sets: Vec<Vec<usize>> = (0..1usize << case.options.len())
            .map(|bits| (0..case.options.len()).filter(|place| (bits >> place) & 1 == 1).collect())
            .collect();
        let on_board = |set: &[usize]| -> Vec<&Wanted> {
            std::iter::once(&case.base).chain(set.iter().map(|&place| &case.options[place])).collect()
        };
        let sum = |set: &Vec<usize>| -> i128 { nets(&case, &on_board(set)).0.iter().map(|(net, _)| net).sum() };
        let smallest = sets.iter().map(sum).min().unwrap();
        let off = match case.off {
            _ if smallest < 0 => None,
            Off::None => None,
            Off::PercentE4(percent) => Some((i128::from(percent), true)),
            Off::Amount(thousandths) => Some((smallest * i128::from(thousandths) / 1_000, false)),
        };
        let exact = |minor: i128| Decimal::from_i128_with_scale(minor, case.currency.1);
        let asked = PriceRequest {
            discount: off.map(|(figure, percent)| match percent {
                true => Discount::Percent(Decimal::from_i128_with_scale(figure, 4)),
                false => Discount::Amount(exact(figure)),
            }),
            tax_exemption: case
                .exempt
                .then(|| TaxExemption { certificate: "RC-1".to_owned(), reason: "For resale".to_owned() }),
            price_level: case.level.then(|| "club".into()),
            freight: match case.carriage {
                Carriage::Written(minor) => Some(exact(i128::from(minor))),
                _ => None,
            },
            ..request()
        };
        let made = choices(&spec(&case), &options(&case), &asked, &shop);
        let made = made.unwrap_or_else(|faults| panic!("{faults:#?}"));
        prop_assert_eq!(made.len(), sets.len());
        let documents: BTreeMap<Vec<String>, Value> = made
            .iter()
            .map(|choice| {
                check_basis(&serde_json::to_value(&choice.quotation.costing).unwrap());
                let options = choice.options.iter().map(ToString::to_string).collect();
                (options, serde_json::to_value(&choice.quotation.document).unwrap())
            })
            .collect();
        for set in &sets {
            let names: Vec<String> = set.iter().map(|place| format!("o{place}")).collect();
            check_document(&case, &documents[&names], &on_board(set), off);
        }
        // What the document without options tells of the others is what they say themselves.
        let told = &documents[&Vec::new()];
        for choice in told["choices"].as_array().into_iter().flatten() {
            let names: Vec<String> = serde_json::from_value(choice["options"].clone()).unwrap();
            let own = &documents[&names];
            for (name, amount) in [("net", &own["totals"]["net"]), ("tax", &own["totals"]["tax"]),
                ("total", &own["totals"]["total"]), ("deposit", &own["deposit"]["total"])] {
                prop_assert_eq!(&choice[name], amount, "{} of {:?}", name, names);
            }
        }
        let amount = |value: &Value| minor(value, case.currency.1);
        for option in told["options"].as_array().into_iter().flatten() {
            let own = &documents[&vec![option["id"].as_str().unwrap().to_owned()]];
            for (difference, total) in [("net_difference", "net"), ("total_difference", "total")] {
                let more = amount(&own["totals"][total]) - amount(&told["totals"][total]);
                prop_assert_eq!(amount(&option[difference]), more);
            }
        }
    }
}
