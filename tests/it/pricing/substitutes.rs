//! What the shop takes in place of exactly what is needed, what else was looked at, and why it was refused.

use std::sync::Arc;

use rigbill::calc::chain;
use rigbill::calc::pricing::{Quotation, quotation};
use rigbill::calc::purchase::alternatives::considered;
use rigbill::calc::purchase::choose;
use rigbill::calc::quote::Considered;
use rigbill::calc::requirements::{Frozen, Need, Requirement};
use rigbill::calc::shop::Shop;
use rigbill::calc::shop::catalogue::Catalogue;
use rigbill::calc::shop::item::{Attributes, Item, Stud};
use rigbill::calc::shop::settings::{AcceptedColour, Settings, Substitutes};
use rigbill::calc::spec::input::BoatSpecInput;
use rust_decimal::Decimal;
use serde_json::json;

use super::fixture::{day, decimal, inches, item, pieces, request, shop_with, spool, wire};
use crate::chain::{shop as boat_shop, small_boat};

fn taking(substitutes: Substitutes) -> Settings {
    Settings { substitutes, ..Settings::starting() }
}

fn looked_at(shop: &Shop, needs: &[Requirement]) -> (Vec<String>, Vec<Considered>) {
    let chosen = choose(needs, shop, day(), &[]);
    let told = considered(needs, &chosen, Default::default(), shop, day());
    (chosen.picks.iter().map(|pick| pick.item.sku.to_string()).collect(), told)
}

#[test]
fn a_colour_that_the_shop_accepts_stands_where_it_is_cheaper() {
    let items =
        vec![spool("W-BRN", "16 AWG", "brown", 105, "100", "30"), spool("W-TAN", "16 AWG", "Tan", 105, "100", "20")];
    let needs = [wire("16 AWG", "brown", 105, &[40.0])];
    let (bought, told) = looked_at(&shop_with(items.clone(), Settings::starting()), &needs);
    assert_eq!((bought.as_slice(), told.len()), (&["W-BRN".to_owned()][..], 0), "no colour but the needed one");
    let colours = vec![AcceptedColour { colour: "brown".to_owned(), instead: vec!["tan".to_owned()] }];
    let settings = taking(Substitutes { colours, ..Substitutes::default() });
    let (bought, told) = looked_at(&shop_with(items.clone(), settings.clone()), &needs);
    assert_eq!(bought, ["W-TAN"]);
    let costs: Vec<_> = told[0]
        .items
        .iter()
        .map(|item| (item.sku.as_str(), item.cost, item.chosen, item.substitute.as_deref()))
        .collect();
    assert_eq!(
        costs,
        [
            ("W-TAN", Some(decimal("20")), true, Some("Tan in place of brown")),
            ("W-BRN", Some(decimal("30")), false, None)
        ]
    );
    // The other way round nothing was said.
    let tan_only = shop_with(vec![items[0].clone()], settings);
    assert_eq!(choose(&[wire("16 AWG", "tan", 105, &[40.0])], &tan_only, day(), &[]).gaps.len(), 1);
}

#[test]
fn what_is_better_than_needed_is_refused_where_the_shop_does_not_take_it() {
    let needs = [wire("16 AWG", "brown", 105, &[40.0])];
    let items =
        vec![spool("W-125", "16 AWG", "brown", 125, "100", "20"), spool("W-105", "16 AWG", "brown", 105, "100", "30")];
    assert_eq!(looked_at(&shop_with(items.clone(), Settings::starting()), &needs).0, ["W-125"]);
    let settings = taking(Substitutes { higher_temperature: false, ..Substitutes::default() });
    let (bought, told) = looked_at(&shop_with(items, settings), &needs);
    assert_eq!(bought, ["W-105"]);
    assert_eq!(told[0].refused[0].sku.as_str(), "W-125");
    assert_eq!(
        told[0].refused[0].why,
        "it is rated 125 °C where 105 °C would do, and the shop takes nothing better in that than what is needed"
    );
    let tubing = |sku: &str, wide: f64, cost: &str| {
        let attributes = Attributes::HeatShrink {
            supplied_diameter: inches(wide),
            recovered_diameter: inches(0.08),
            piece_length: inches(48.0),
        };
        item(sku, "terminals_and_fuses", attributes, "1", cost)
    };
    let need = Need::HeatShrink {
        supplied_diameter: inches(0.25),
        recovered_diameter_max: inches(0.083),
        piece_length: inches(1.5),
    };
    let (needs, items) = ([pieces(need, "4")], vec![tubing("HS-3/8", 0.375, "2"), tubing("HS-1/4", 0.25, "3")]);
    assert_eq!(looked_at(&shop_with(items.clone(), Settings::starting()), &needs).0, ["HS-3/8"]);
    let settings = taking(Substitutes { wider_shrink: false, ..Substitutes::default() });
    assert_eq!(looked_at(&shop_with(items, settings), &needs).0, ["HS-1/4"]);
}

#[test]
fn what_comes_near_is_told_with_what_it_lacks_and_what_cannot_be_cut_has_no_cost() {
    let items = vec![
        spool("W-100", "16 AWG", "brown", 105, "100", "30"),
        spool("W-25", "16 AWG", "brown", 105, "25", "9"),
        spool("W-COOL", "16 AWG", "brown", 75, "100", "10"),
    ];
    let (bought, told) =
        looked_at(&shop_with(items, Settings::starting()), &[wire("16 AWG", "brown", 105, &[60.0, 30.0])]);
    assert_eq!(bought, ["W-100"]);
    let told = &told[0];
    assert_eq!((told.items[1].sku.as_str(), told.items[1].cost), ("W-25", None), "60 ft are not on 25");
    assert_eq!((told.refused[0].sku.as_str(), told.refused[0].why.as_str()), ("W-COOL", "it is only rated 75 °C"));
}

/// A shop for the light of a small boat: every end for 22 to `ends_to`, wire of 16 and of 14 AWG.
fn light_shop(ends_to: &str, fourteen: &str, next_size_up: bool) -> Shop {
    let (from, to) = ("22 AWG".parse().unwrap(), ends_to.parse().unwrap());
    let small =
        |sku: &str, attributes: Attributes, cost: &str| item(sku, "terminals_and_fuses", attributes, "100", cost);
    let mut items: Vec<Item> = boat_shop::shop().catalogue.items().iter().map(|item| (**item).clone()).collect();
    for stud in [Stud::No6, Stud::No8, Stud::No10, Stud::Quarter, Stud::FiveSixteenths, Stud::ThreeEighths] {
        let attributes = Attributes::RingTerminal { size_from: from, size_to: to, stud };
        items.push(small(&format!("RING-{}", stud.symbol().replace(['#', '/', ' '], "")), attributes, "9"));
    }
    items.push(small("SPLICE", Attributes::ButtSplice { size_from: from, size_to: to }, "9"));
    items.push(small("LABEL", Attributes::WireLabel { diameter_max: inches(1.0) }, "9"));
    for wide in [0.125, 0.1875, 0.25, 0.375, 0.5, 0.75, 1.0] {
        let attributes = Attributes::HeatShrink {
            supplied_diameter: inches(wide),
            recovered_diameter: inches(wide / 3.5),
            piece_length: inches(48.0),
        };
        items.push(small(&format!("HS-{wide}"), attributes, "9"));
    }
    for colour in ["blue", "dark blue", "black", "orange", "brown", "red", "gray"] {
        let name = colour.replace(' ', "");
        let cost = if colour == "black" { "90" } else { fourteen };
        items.push(spool(&format!("W16-{name}"), "16 AWG", colour, 105, "100", "30"));
        items.push(spool(&format!("W14-{name}"), "14 AWG", colour, 105, "100", cost));
    }
    let substitutes = Substitutes { next_size_up, ..Substitutes::default() };
    Shop { catalogue: Arc::new(Catalogue::new(items)), settings: Arc::new(taking(substitutes)), ..boat_shop::shop() }
}

fn light(shop: &Shop) -> Quotation {
    let spec = small_boat(json!([{"sku": "LIGHT-1", "quantity": 1, "station": "aft_bilge", "panel": "helm_panel"}]));
    let spec: BoatSpecInput = serde_json::from_value(spec).unwrap();
    let taken = chain::take_off(&spec, shop).unwrap();
    quotation(taken, &[], &[], &request(), shop).unwrap()
}

#[test]
fn wire_of_the_next_size_is_taken_with_all_that_goes_on_its_ends() {
    let plain = light(&light_shop("10 AWG", "20", false));
    assert!(plain.document.substitutions.is_empty());
    assert!(plain.costing.purchases.iter().any(|bought| bought.sku.as_str().starts_with("W16-")));
    let shop = light_shop("10 AWG", "20", true);
    let found = light(&shop);
    let made = &found.document.substitutions;
    assert_eq!(made.len(), 1, "the positive, not the return: {made:?}");
    let Need::Wire { size, colour, .. } = &made[0].need else { panic!("{:?}", made[0].need) };
    assert_eq!(size.to_string(), "14 AWG");
    assert_ne!(*colour, "black");
    // Every end of it has a terminal or a splice, and a label: as many more of one size as fewer of the other.
    let ends = 2 * made[0].conductors.len() as i64;
    let sum = |wanted: &dyn Fn(&Need) -> bool| -> (i64, i64) {
        let of_it = made[0].parts.iter().filter(|part| wanted(&part.need)).map(|part| part.more);
        of_it.fold((0, 0), |(less, more), n| if n < 0 { (less + n, more) } else { (less, more + n) })
    };
    let terminals = sum(&|need| matches!(need, Need::RingTerminal { .. } | Need::ButtSplice { .. }));
    assert_eq!(terminals, (-ends, ends));
    assert_eq!(sum(&|need| matches!(need, Need::WireLabel { .. })), (-ends, ends));
    assert!(found.document.take_off.warnings.iter().any(|warning| warning.message == made[0].message));
    // It costs less than without, by what the costing says of it.
    let cost = |quotation: &Quotation| quotation.costing.purchase_cost.decimal();
    let told = found.costing.considered.iter().find(|told| told.requirement == made[0].requirement).unwrap();
    let size = told.next_size.as_ref().unwrap();
    assert!(size.chosen);
    assert_eq!(cost(&found) - cost(&plain), size.cost_difference.unwrap());
    assert_eq!(size.labour_difference, Some(Decimal::ZERO));
    // What was reckoned stands, and what is bought is read from the document again.
    let keys = |requirements: &[Requirement]| -> Vec<String> {
        requirements
            .iter()
            .map(|requirement| format!("{} x {}", requirement.quantity.normalize(), requirement.key))
            .collect()
    };
    assert_eq!(found.document.take_off.requirements, plain.document.take_off.requirements);
    let frozen = Frozen::read(&serde_json::to_vec(&found.document).unwrap()).unwrap();
    let rebought = choose(&frozen.requirements, &shop, day(), &[]);
    let sum: Decimal = rebought.picks.iter().map(|pick| pick.order.cost).sum();
    assert_eq!(sum, cost(&found), "{:?}", keys(&frozen.requirements));
}

#[test]
fn wire_of_the_next_size_is_refused_where_an_end_has_nothing_that_fits_or_it_costs_no_less() {
    for (ends_to, fourteen, says) in [("16 AWG", "20", "no item meets"), ("10 AWG", "30", "it costs no less to buy")] {
        let found = light(&light_shop(ends_to, fourteen, true));
        assert!(found.document.substitutions.is_empty());
        let told: Vec<&str> = found
            .costing
            .considered
            .iter()
            .filter_map(|told| told.next_size.as_ref())
            .filter(|size| size.size == "14 AWG")
            .map(|size| size.why.as_str())
            .collect();
        assert!(!told.is_empty() && told.iter().all(|why| why.contains(says)), "{told:?}");
    }
}
