//! Matching by what things are, packs, price breaks, gaps and overrules.

use std::collections::BTreeMap;

use proptest::prelude::*;
use rigbill::calc::findings::Gap;
use rigbill::calc::purchase::{Chosen, choose};
use rigbill::calc::requirements::{Need, Requirement};
use rigbill::calc::shop::item::{
    Attributes, BuyingUnit, CableShape, FuseFamily, Item, Price, PriceKind, SellingUnit, Stud,
};
use rigbill::calc::spec::input::OverruleInput;
use rigbill::calc::units::WireSize;
use rust_decimal::Decimal;

use super::fixture::{day, decimal, inches, item, named, pieces, price, shop, spool, wire};

fn size(text: &str) -> WireSize {
    text.parse().unwrap()
}

fn ring(sku: &str, from: &str, to: &str, stud: Stud, pack: &str, cost: &str) -> Item {
    let attributes = Attributes::RingTerminal { size_from: size(from), size_to: size(to), stud };
    item(sku, "terminals_and_fuses", attributes, pack, cost)
}

fn ring_need(wire: &str, stud: Stud, quantity: &str) -> Requirement {
    pieces(Need::RingTerminal { size: size(wire), stud }, quantity)
}

fn chosen(items: Vec<Item>, requirements: &[Requirement]) -> Chosen {
    choose(requirements, &shop(items), day(), &[])
}

fn bought(chosen: &Chosen) -> Vec<(&str, u64, String)> {
    chosen
        .picks
        .iter()
        .map(|pick| (pick.item.sku.as_str(), pick.order.count, pick.used.normalize().to_string()))
        .collect()
}

fn only_gap(chosen: &Chosen) -> &Gap {
    assert_eq!(chosen.gaps.len(), 1, "{:?}", chosen.gaps);
    &chosen.gaps[0]
}

#[test]
fn the_cheapest_for_the_whole_quantity_is_bought_in_packs() {
    let items = vec![
        ring("RING-25", "16 AWG", "14 AWG", Stud::No8, "25", "20"),
        ring("RING-1", "16 AWG", "14 AWG", Stud::No8, "1", "1"),
        ring("RING-S10", "16 AWG", "14 AWG", Stud::No10, "25", "1"),
        ring("RING-RED", "22 AWG", "18 AWG", Stud::No8, "25", "1"),
    ];
    let few = chosen(items.clone(), &[ring_need("16 AWG", Stud::No8, "19")]);
    assert_eq!(bought(&few), [("RING-1", 19, "19".to_owned())]);
    let many = chosen(items.clone(), &[ring_need("16 AWG", Stud::No8, "21")]);
    assert_eq!(bought(&many), [("RING-25", 1, "21".to_owned())]);
    // Twelve of each size alone would be singles; together a pack holds them all.
    let shared = [ring_need("16 AWG", Stud::No8, "12"), ring_need("14 AWG", Stud::No8, "12")];
    let shared = chosen(items, &shared);
    assert_eq!(bought(&shared), [("RING-25", 1, "24".to_owned())]);
    assert_eq!(shared.picks[0].meets.len(), 2);
}

#[test]
fn of_equal_costs_the_sooner_and_then_the_first_by_sku() {
    let late = Item { lead_time_days: 9, ..ring("A", "16 AWG", "14 AWG", Stud::No8, "1", "1") };
    let items = vec![
        late,
        ring("C", "16 AWG", "14 AWG", Stud::No8, "1", "1"),
        ring("B", "16 AWG", "14 AWG", Stud::No8, "1", "1"),
    ];
    assert_eq!(bought(&chosen(items, &[ring_need("16 AWG", Stud::No8, "2")])), [("B", 2, "2".to_owned())]);
}

#[test]
fn only_prices_of_the_day_count() {
    let mut early = ring("RING", "16 AWG", "14 AWG", Stud::No8, "1", "1");
    early.prices.push(Price { valid_from: day(), ..price(PriceKind::Cost, "1", "3") });
    early.prices.push(Price { valid_from: day().succ_opt().unwrap(), ..price(PriceKind::Cost, "1", "9") });
    let found = chosen(vec![early], &[ring_need("16 AWG", Stud::No8, "2")]);
    assert_eq!(found.picks[0].order.cost, decimal("6"));
    let mut late = ring("RING", "16 AWG", "14 AWG", Stud::No8, "1", "1");
    late.prices = vec![price(PriceKind::List, "1", "5")];
    late.prices.push(Price { valid_from: day().succ_opt().unwrap(), ..price(PriceKind::Cost, "1", "9") });
    let found = chosen(vec![late], &[ring_need("16 AWG", Stud::No8, "2")]);
    assert!(only_gap(&found).reason.contains("RING comes nearest, but it has no cost price that holds on 2026-11-25"));
    assert_eq!(only_gap(&found).mend, "Give RING a cost price that holds on 2026-11-25.");
}

#[test]
fn a_gap_names_the_nearest_item_and_what_it_lacks() {
    let items = vec![
        spool("W16-BRN-75", "16 AWG", "brown", 75, "100", "30"),
        spool("W14-BRN", "14 AWG", "brown", 105, "100", "30"),
        spool("W16-RED", "16 AWG", "red", 105, "100", "30"),
    ];
    let found = chosen(items, &[wire("16 AWG", "brown", 105, &[10.0])]);
    let gap = only_gap(&found);
    assert!(found.picks.is_empty());
    assert_eq!(gap.what.as_str(), "wire/16 AWG/brown/105 C");
    assert_eq!(gap.need, "10 ft of 16 AWG brown wire, insulation rated 105 °C or more");
    assert_eq!(gap.reason, "no item meets it; W16-BRN-75 comes nearest, but it is only rated 75 °C");
}

#[test]
fn what_is_not_there_or_has_left_is_a_gap() {
    let retired = Item { retired: true, ..item("OLD", "hardware", Attributes::Hardware {}, "1", "1") };
    let found = chosen(vec![retired], &[named("OLD", "1"), named("GONE", "2")]);
    let reasons: Vec<&str> = found.gaps.iter().map(|gap| gap.reason.as_str()).collect();
    assert_eq!(reasons, ["the catalogue has no item GONE", "OLD cannot be quoted: it has left the catalogue"]);
    let misfiled = Item { category: "nowhere".into(), ..item("A", "hardware", Attributes::Hardware {}, "1", "1") };
    let found = chosen(vec![misfiled], &[named("A", "1")]);
    assert!(only_gap(&found).reason.contains("its price category 'nowhere' is not in the shop's settings"));
}

#[test]
fn what_the_customer_brings_is_not_bought() {
    let items = vec![item("DISPLAY", "electronics", Attributes::Hardware {}, "1", "900")];
    let brought = Requirement { customer_supplied: decimal("2"), ..named("DISPLAY", "3") };
    assert_eq!(bought(&chosen(items.clone(), std::slice::from_ref(&brought))), [("DISPLAY", 1, "1".to_owned())]);
    let all = Requirement { customer_supplied: decimal("3"), ..brought };
    let found = chosen(items, &[all]);
    assert!(found.picks.is_empty() && found.gaps.is_empty());
}

fn fuse(sku: &str, rating_a: f64, voltage_rating_v: f64, interrupt_a: f64, cost: &str) -> Item {
    let attributes = Attributes::Fuse { family: FuseFamily::Blade, rating_a, voltage_rating_v, interrupt_a };
    item(sku, "terminals_and_fuses", attributes, "5", cost)
}

#[test]
fn a_fuse_is_matched_by_rating_and_by_what_it_can_break() {
    let items = vec![
        fuse("F10-32", 10.0, 32.0, 1000.0, "1"),
        fuse("F10-58", 10.0, 58.0, 1000.0, "2"),
        fuse("F15-58", 15.0, 58.0, 1000.0, "1"),
        fuse("F10-58-HI", 10.0, 58.0, 5000.0, "9"),
    ];
    let need = |voltage_v_min, interrupt_a_min| {
        pieces(Need::Fuse { family: FuseFamily::Blade, rating_a: 10.0, voltage_v_min, interrupt_a_min }, "2")
    };
    let sku = |need| bought(&chosen(items.clone(), &[need]))[0].0.to_owned();
    assert_eq!(sku(need(14.4, 0.0)), "F10-32");
    // A 36 V bank charges near 44 V: no 32 V fuse there (common practice).
    assert_eq!(sku(need(43.2, 0.0)), "F10-58");
    assert_eq!(sku(need(43.2, 3000.0)), "F10-58-HI");
    let none = chosen(items, &[need(70.0, 0.0)]);
    assert!(only_gap(&none).reason.contains("it is only rated 32 V"), "{:?}", none.gaps);
}

fn shrink(sku: &str, supplied: f64, recovered: f64, piece: f64, pack: &str, cost: &str) -> Item {
    let attributes = Attributes::HeatShrink {
        supplied_diameter: inches(supplied),
        recovered_diameter: inches(recovered),
        piece_length: inches(piece),
    };
    Item { buying_unit: BuyingUnit::Stick, ..item(sku, "terminals_and_fuses", attributes, pack, cost) }
}

fn shrink_need(supplied: f64, recovered: f64, piece: f64, quantity: &str) -> Requirement {
    let need = Need::HeatShrink {
        supplied_diameter: inches(supplied),
        recovered_diameter_max: inches(recovered),
        piece_length: inches(piece),
    };
    pieces(need, quantity)
}

#[test]
fn heat_shrink_is_cut_from_sticks_in_whole_pieces() {
    let stick = shrink("HS-STICK", 0.25, 0.083, 6.0, "1", "2");
    // Four pieces of 1 1/2 in or eight of 3/4 in to a stick of 6 in.
    let nine = chosen(vec![stick.clone()], &[shrink_need(0.25, 0.083, 1.5, "9")]);
    assert_eq!(bought(&nine), [("HS-STICK", 3, "2.25".to_owned())]);
    let mixed = [shrink_need(0.25, 0.083, 1.5, "5"), shrink_need(0.25, 0.083, 0.75, "10")];
    let mixed = chosen(vec![stick.clone()], &mixed);
    assert_eq!(
        bought(&mixed),
        [("HS-STICK", 3, "2.5".to_owned())],
        "one whole of each, and 1 1/2 + 2 x 3/4 from a third"
    );
    // 4 + 3 + 3 in twice fill two sticks of 10 in; 4 + 4 and then 3 + 3 + 3 would leave a piece over.
    let ten = shrink("HS-TEN", 0.25, 0.083, 10.0, "1", "2");
    let planned = [shrink_need(0.25, 0.083, 4.0, "2"), shrink_need(0.25, 0.083, 3.0, "4")];
    let planned = chosen(vec![ten], &planned);
    assert_eq!(planned.picks[0].order.count, 2);
    assert!(planned.components[0].optimal && planned.components[0].requirements.len() == 2);
    let long = chosen(vec![stick.clone()], &[shrink_need(0.25, 0.083, 7.0, "1")]);
    assert!(only_gap(&long).reason.ends_with("it is only 6 in long"));
    // Ready-cut pieces are bought where they are cheaper; cheaper ones may be wider if they shrink as far.
    let ready = shrink("HS-CUT", 0.25, 0.083, 1.5, "100", "5");
    assert_eq!(bought(&chosen(vec![stick.clone(), ready], &[shrink_need(0.25, 0.083, 1.5, "9")]))[0].0, "HS-CUT");
    let wide = chosen(vec![stick.clone()], &[shrink_need(0.375, 0.125, 1.5, "1")]);
    assert!(only_gap(&wide).reason.ends_with("it is 0.25 in wide"), "a nominal size too small");
    let thin = chosen(vec![stick], &[shrink_need(0.25, 0.062, 1.5, "1")]);
    assert!(only_gap(&thin).reason.ends_with("it is still 0.083 in wide when shrunk"));
}

#[test]
fn wire_is_bought_in_spools_and_charged_as_the_item_most_of_it_comes_from() {
    let items =
        vec![spool("W-025", "16 AWG", "brown", 105, "25", "10"), spool("W-100", "16 AWG", "brown", 105, "100", "30")];
    let found = chosen(items, &[wire("16 AWG", "brown", 105, &[60.0, 40.0, 20.0])]);
    assert_eq!(bought(&found), [("W-025", 1, "20".to_owned()), ("W-100", 1, "100".to_owned())]);
    let charged: Vec<Decimal> = found.picks.iter().map(|pick| pick.charged_when_used).collect();
    assert_eq!(charged, [decimal("0"), decimal("120")]);
    let stock = &found.picks[1].stock[0];
    assert_eq!(stock.cuts.iter().map(|cut| cut.label.as_str()).collect::<Vec<_>>(), ["C01+", "C02+"]);
    assert_eq!(stock.left.value, 0.0);
}

#[test]
fn spools_come_in_the_numbers_that_are_ordered() {
    let pair = Item { order_multiple: 2, ..spool("W-100", "16 AWG", "brown", 105, "100", "30") };
    let items = vec![pair, spool("W-25", "16 AWG", "brown", 105, "25", "12")];
    // Reckoned by hand: one hundred cannot be bought alone, two cost 60; four of 25 ft are 48.
    let found = chosen(items.clone(), &[wire("16 AWG", "brown", 105, &[20.0, 20.0, 20.0, 20.0])]);
    assert_eq!(bought(&found), [("W-25", 4, "80".to_owned())]);
    let found = chosen(items, &[wire("16 AWG", "brown", 105, &[20.0; 6])]);
    assert_eq!(bought(&found), [("W-100", 2, "120".to_owned())]);
    assert!(found.components[0].optimal);
}

#[test]
fn wire_that_is_named_as_equipment_too_is_one_component() {
    let items = vec![spool("W-100", "16 AWG", "brown", 105, "100", "30")];
    let found = chosen(items, &[wire("16 AWG", "brown", 105, &[20.0]), named("W-100", "50")]);
    assert_eq!(found.components.len(), 1);
    assert_eq!(found.components[0].requirements.len(), 2);
    let told: Decimal = found.picks.iter().map(|pick| pick.order.cost).sum();
    assert_eq!(found.components[0].cost, told, "what is bought is counted once");
}

#[test]
fn a_piece_longer_than_every_spool_is_a_gap_and_the_rest_is_bought() {
    let items = vec![spool("W-025", "16 AWG", "brown", 105, "25", "10")];
    let found = chosen(items, &[wire("16 AWG", "brown", 105, &[10.0, 30.0])]);
    let reason = &only_gap(&found).reason;
    assert_eq!(reason, "C02+ (30 ft) must be one unbroken length, and the longest spool kept is 25 ft");
    assert_eq!(bought(&found), [("W-025", 1, "10".to_owned())]);
}

#[test]
fn wire_sold_by_the_metre_meets_a_need_in_feet() {
    let by_metre = Item { selling_unit: SellingUnit::Metre, ..spool("W-30M", "16 AWG", "brown", 105, "30", "30") };
    let found = chosen(vec![by_metre], &[wire("16 AWG", "brown", 105, &[10.0])]);
    assert_eq!(bought(&found), [("W-30M", 1, "3.048".to_owned())]);
}

fn overrule(requirement: &str, sku: &str) -> OverruleInput {
    OverruleInput::Item { requirement: requirement.into(), sku: sku.into(), reason: "On the shelf".to_owned() }
}

#[test]
fn a_persons_item_stands_and_is_recorded() {
    let items = vec![
        ring("DEAR", "16 AWG", "14 AWG", Stud::No8, "1", "9"),
        ring("CHEAP", "16 AWG", "14 AWG", Stud::No8, "1", "1"),
    ];
    let overrules = [overrule("ring_terminal/16 AWG/#8", "DEAR")];
    let found = choose(&[ring_need("16 AWG", Stud::No8, "2")], &shop(items), day(), &overrules);
    assert_eq!(bought(&found), [("DEAR", 2, "2".to_owned())]);
    assert_eq!((found.applied[0].computed.as_str(), found.applied[0].chosen.as_str()), ("CHEAP", "DEAR"));
    assert!(found.warnings.is_empty() && found.faults.is_empty());
}

#[test]
fn an_unwise_item_is_warned_about_and_an_unsafe_one_refused() {
    let items = vec![
        spool("W-BRN", "16 AWG", "brown", 105, "100", "30"),
        spool("W-ORG", "16 AWG", "orange", 105, "100", "30"),
        spool("W-THIN", "18 AWG", "brown", 105, "100", "30"),
        spool("W-COOL", "16 AWG", "brown", 75, "100", "30"),
        Item { retired: true, ..spool("W-OLD", "16 AWG", "brown", 105, "100", "30") },
        ring("RING", "16 AWG", "14 AWG", Stud::No8, "1", "9"),
    ];
    let key = "wire/16 AWG/brown/105 C";
    let need = [wire("16 AWG", "brown", 105, &[10.0])];
    let shop = shop(items);
    let orange = choose(&need, &shop, day(), &[overrule(key, "W-ORG")]);
    assert_eq!(bought(&orange)[0].0, "W-ORG");
    assert!(orange.warnings[0].message.contains("it is orange"), "{:?}", orange.warnings);
    assert_eq!(orange.applied[0].computed, "W-BRN");
    for (sku, says) in [
        ("W-THIN", "it is for 18 AWG"),
        ("W-COOL", "only rated 75 °C"),
        ("W-OLD", "left the catalogue"),
        ("RING", "of kind ring_terminal, and wire is required"),
        ("NONE", "no item 'NONE'"),
    ] {
        let refused = choose(&need, &shop, day(), &[overrule(key, sku)]);
        assert_eq!(refused.faults[0].pointer, "/overrules/0/sku");
        assert!(refused.faults[0].message.contains(says), "{:?}", refused.faults);
        assert!(refused.applied.is_empty());
    }
    let astray =
        choose(&need, &shop, day(), &[overrule(key, "W-ORG"), overrule(key, "W-BRN"), overrule("wire/x", "W-BRN")]);
    let pointers: Vec<&str> = astray.faults.iter().map(|fault| fault.pointer.as_str()).collect();
    assert_eq!(pointers, ["/overrules/1/requirement", "/overrules/2/requirement"]);
}

/// Least cost of so many pieces, by trying every number of packs up to twice the largest break.
fn least_pack_cost(quantity: u64, pack: u64, breaks: &[(u64, u64)]) -> u64 {
    let unit_cost = |packs: u64| breaks.iter().filter(|(minimum, _)| *minimum <= packs).max().map(|(_, cost)| *cost);
    (1..=200)
        .filter(|packs| packs * pack >= quantity)
        .filter_map(|packs| Some(packs * unit_cost(packs)?))
        .min()
        .unwrap()
}

fn with_breaks(sku: &str, pack: u64, breaks: &[(u64, u64)]) -> Item {
    let attributes = Attributes::ButtSplice { size_from: size("16 AWG"), size_to: size("14 AWG") };
    let mut item = item(sku, "terminals_and_fuses", attributes, &pack.to_string(), "1");
    let row = |(minimum, cost): &(u64, u64)| price(PriceKind::Cost, &minimum.to_string(), &cost.to_string());
    item.prices = breaks.iter().map(row).collect();
    item
}

type Row = (u64, Vec<(u64, u64)>);

fn rows() -> impl Strategy<Value = Vec<Row>> {
    let breaks = prop::collection::btree_map(2u64..40, 1u64..60, 0..3);
    // More at once never costs more apiece.
    let row = (1u64..30, 1u64..60, breaks).prop_map(|(pack, first, breaks)| {
        let falling = breaks.into_iter().scan(first, |least, (minimum, cost)| {
            *least = cost.min(*least);
            Some((minimum, *least))
        });
        (pack, std::iter::once((1, first)).chain(falling).collect())
    });
    prop::collection::vec(row, 1..4)
}

/// Least cost of so many pieces where packs come in multiples, by trying every number of packs.
fn least_multiple_cost(quantity: u64, pack: u64, breaks: &[(u64, u64)], (least, multiple): (u64, u64)) -> u64 {
    let unit_cost = |packs: u64| breaks.iter().filter(|(minimum, _)| *minimum <= packs).max().map(|(_, cost)| *cost);
    (least..=400)
        .filter(|packs| packs * pack >= quantity && packs % multiple == 0)
        .filter_map(|packs| Some(packs * unit_cost(packs)?))
        .min()
        .unwrap()
}

proptest! {
    #[test]
    fn orders_in_multiples_are_those_of_trying_everything(
        rows in rows(), orders in prop::collection::vec((1u32..20, 1u32..12), 3), quantity in 1u64..200,
    ) {
        let items = rows.iter().zip(&orders).enumerate().map(|(n, ((pack, breaks), (least, multiple)))| Item {
            minimum_order: *least,
            order_multiple: *multiple,
            ..with_breaks(&format!("S{n}"), *pack, breaks)
        });
        let need = pieces(Need::ButtSplice { size: size("16 AWG") }, &quantity.to_string());
        let found = chosen(items.collect(), &[need]);
        let least = rows.iter().zip(&orders).map(|((pack, breaks), (least, multiple))| {
            least_multiple_cost(quantity, *pack, breaks, (u64::from(*least), u64::from(*multiple)))
        });
        prop_assert_eq!(found.picks[0].order.cost, Decimal::from(least.min().unwrap()));
        let Item { minimum_order, order_multiple, .. } = &*found.picks[0].item;
        let count = found.picks[0].order.count;
        prop_assert!(count >= u64::from(*minimum_order) && count.is_multiple_of(u64::from(*order_multiple)));
    }

    #[test]
    fn packs_and_breaks_are_those_of_trying_everything(rows in rows(), quantity in 1u64..200) {
        let items = rows.iter().enumerate().map(|(n, (pack, breaks))| with_breaks(&format!("S{n}"), *pack, breaks));
        let need = pieces(Need::ButtSplice { size: size("16 AWG") }, &quantity.to_string());
        let found = chosen(items.collect(), &[need]);
        let least = rows.iter().map(|(pack, breaks)| least_pack_cost(quantity, *pack, breaks)).min().unwrap();
        prop_assert_eq!(found.picks.len(), 1);
        prop_assert_eq!(found.picks[0].order.cost, Decimal::from(least));
    }

    #[test]
    fn sharing_packs_is_never_dearer_than_buying_apart(
        rows in rows(), first in 1u64..60, second in 1u64..60,
    ) {
        let items = rows.iter().enumerate().map(|(n, (pack, breaks))| with_breaks(&format!("S{n}"), *pack, breaks));
        let needs = [
            pieces(Need::ButtSplice { size: size("16 AWG") }, &first.to_string()),
            pieces(Need::ButtSplice { size: size("14 AWG") }, &second.to_string()),
        ];
        let found = chosen(items.collect(), &needs);
        let cost: Decimal = found.picks.iter().map(|pick| pick.order.cost).sum();
        let alone = |quantity| {
            rows.iter().map(|(pack, breaks)| least_pack_cost(quantity, *pack, breaks)).min().unwrap()
        };
        prop_assert!(cost <= Decimal::from(alone(first) + alone(second)));
        let held: Decimal =
            found.picks.iter().map(|pick| Decimal::from(pick.order.count) * pick.item.buying_quantity).sum();
        prop_assert!(held >= Decimal::from(first + second));
    }
}

/// Least cost of several requirements by trying every item for each.
fn least_by_trying(needs: &[(Vec<usize>, u64)], rows: &[Row], chosen: &mut Vec<usize>) -> u64 {
    let Some((fitting, _)) = needs.get(chosen.len()) else {
        let cost = |item: usize| {
            let of_it = needs.iter().zip(chosen.iter()).filter(|(_, chosen)| **chosen == item);
            let quantity: u64 = of_it.map(|((_, quantity), _)| quantity).sum();
            if quantity == 0 { 0 } else { least_pack_cost(quantity, rows[item].0, &rows[item].1) }
        };
        return (0..rows.len()).map(cost).sum();
    };
    let mut least = u64::MAX;
    for &item in fitting {
        chosen.push(item);
        least = least.min(least_by_trying(needs, rows, chosen));
        chosen.pop();
    }
    least
}

proptest! {
    #[test]
    fn a_whole_purchase_is_that_of_trying_everything_and_says_so(
        rows in prop::collection::vec((1u64..30, prop::collection::btree_map(1u64..20, 1u64..60, 1..3), 0usize..4), 1..5),
        quantities in prop::collection::vec(1u64..60, 1..5),
    ) {
        // Items for one size, for two or for all four of a purchase.
        let sizes = ["18 AWG", "16 AWG", "14 AWG", "12 AWG"];
        let spans = [(0, 3), (0, 1), (1, 2), (2, 3)];
        let spread = |(pack, breaks, span): (u64, BTreeMap<u64, u64>, usize)| -> (Row, usize) {
            ((pack, breaks.into_iter().collect()), span)
        };
        let (mut rows, mut of_span): (Vec<Row>, Vec<usize>) = rows.into_iter().map(spread).unzip();
        // Falling prices, from one on; and one item fits all.
        for (_, breaks) in &mut rows {
            breaks[0].0 = 1;
            for n in 1..breaks.len() {
                breaks[n].1 = breaks[n].1.min(breaks[n - 1].1);
            }
        }
        of_span[0] = 0;
        let items = rows.iter().zip(&of_span).enumerate().map(|(n, ((pack, breaks), span))| {
            let (from, to) = spans[*span];
            let attributes = Attributes::ButtSplice { size_from: size(sizes[from]), size_to: size(sizes[to]) };
            Item { attributes, ..with_breaks(&format!("S{n}"), *pack, breaks) }
        });
        let needs: Vec<Requirement> = quantities
            .iter()
            .zip(sizes)
            .map(|(quantity, wire)| pieces(Need::ButtSplice { size: size(wire) }, &quantity.to_string()))
            .collect();
        let found = chosen(items.collect(), &needs);
        let fitting = |place: usize| {
            (0..rows.len()).filter(|&n| (spans[of_span[n]].0..=spans[of_span[n]].1).contains(&place)).collect::<Vec<_>>()
        };
        let asked: Vec<(Vec<usize>, u64)> =
            quantities.iter().enumerate().map(|(place, &quantity)| (fitting(place), quantity)).collect();
        let least = least_by_trying(&asked, &rows, &mut Vec::new());
        let cost: Decimal = found.picks.iter().map(|pick| pick.order.cost).sum();
        prop_assert_eq!(cost, Decimal::from(least));
        let told: Decimal = found.components.iter().map(|component| component.cost).sum();
        prop_assert_eq!(told, cost);
        prop_assert!(found.components.iter().all(|component| component.optimal), "{:?}", found.components);
    }
}

#[test]
fn wire_that_one_spool_serves_is_cut_from_it_together() {
    let items = vec![
        spool("W-100", "16 AWG", "brown", 105, "100", "30"),
        spool("W-040-COOL", "16 AWG", "brown", 75, "40", "20"),
        spool("W-RED", "16 AWG", "red", 105, "100", "31"),
    ];
    let needs = [
        wire("16 AWG", "brown", 105, &[50.0]),
        wire("16 AWG", "brown", 60, &[30.0]),
        wire("16 AWG", "red", 105, &[10.0]),
    ];
    let found = chosen(items, &needs);
    assert_eq!(bought(&found), [("W-100", 1, "80".to_owned()), ("W-RED", 1, "10".to_owned())]);
    assert_eq!(found.picks[0].meets.len(), 2);
    let told: Vec<(usize, &str, String, bool)> = found
        .components
        .iter()
        .map(|c| (c.requirements.len(), c.items[0].as_str(), c.cost.to_string(), c.optimal))
        .collect();
    assert_eq!(told, [(2, "W-100", "30".to_owned(), true), (1, "W-RED", "31".to_owned(), true)]);
}

fn cable(sku: &str, wire: &str, colours: &[&str], thick: f64, feet: &str, cost: &str) -> Item {
    let attributes = Attributes::Cable {
        conductors: colours.len() as u8,
        size: size(wire),
        shape: CableShape::Round,
        outside_diameter: inches(thick),
        colours: colours.iter().map(|colour| (*colour).to_owned()).collect(),
        insulation_c: 105,
        tinned: true,
    };
    Item {
        selling_unit: SellingUnit::Foot,
        buying_unit: BuyingUnit::Spool,
        ..item(sku, "wire", attributes, feet, cost)
    }
}

/// A pair of 14 AWG in two pieces, its jacket no thicker than 0.4 in.
fn cable_need(feet: &[f64]) -> Requirement {
    let need = Need::Cable {
        conductors: 2,
        size: size("14 AWG"),
        colours: &["red", "black"],
        insulation_c_min: 105,
        outside_diameter_max: Some(inches(0.4)),
    };
    Requirement { key: need.key().into(), need, ..wire("14 AWG", "red", 105, feet) }
}

#[test]
fn cable_is_matched_by_what_it_is_and_cut_from_spools() {
    let need = [cable_need(&[30.0, 60.0, 20.0])];
    let fits = chosen(vec![cable("PAIR", "14 AWG", &["Black", "red"], 0.33, "100", "80")], &need);
    assert!(fits.gaps.is_empty(), "{:?}", fits.gaps);
    assert_eq!(bought(&fits), [("PAIR", 2, "110".to_owned())]);
    assert_eq!(fits.picks[0].stock.iter().map(|stock| stock.cuts.len()).sum::<usize>(), 3);
    for (other, lacks) in [
        (cable("X", "14 AWG", &["red", "yellow"], 0.33, "100", "80"), "red + yellow inside"),
        (cable("X", "14 AWG", &["red", "brown", "black"], 0.33, "100", "80"), "made with 3 conductors"),
        (cable("X", "12 AWG", &["red", "black"], 0.33, "100", "80"), "of 12 AWG"),
        (cable("X", "14 AWG", &["red", "black"], 0.41, "100", "80"), "0.41 in thick"),
        (spool("X", "14 AWG", "red", 105, "100", "8"), "no item of this kind"),
    ] {
        let unmet = chosen(vec![other], &need);
        assert!(only_gap(&unmet).reason.contains(lacks), "{:?}", unmet.gaps);
    }
    let long = chosen(vec![cable("PAIR", "14 AWG", &["red", "black"], 0.33, "100", "80")], &[cable_need(&[130.0])]);
    assert!(only_gap(&long).reason.contains("one unbroken length"));
}
