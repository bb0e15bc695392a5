//! What a job takes from the shelf, and what it buys beside that.

use std::collections::{BTreeMap, BTreeSet};

use iso_currency::Currency;
use proptest::prelude::*;
use rigbill::calc::purchase::choose;
use rigbill::calc::purchase_list::{Heading, Job, Procurement, StockSource, StockSourceState, procure};
use rigbill::calc::requirements::{Need, Requirement};
use rigbill::calc::shelf::{Loose, Offcut, Shelf, Spot};
use rigbill::calc::shop::Shop;
use rigbill::calc::shop::item::{Attributes, Item};
use rigbill::calc::shop::settings::{Settings, StockTerms};
use rigbill::calc::units::{Length, LengthUnit, Name};
use rust_decimal::Decimal;

use super::fixture::{day, decimal, inches, item, named, pieces, shop, shop_with, spool, wire};

fn at(bin: &str) -> Spot {
    Spot { place: "Store".to_owned(), bin: bin.to_owned() }
}

fn loose(sku: &str, bin: &str, quantity: &str) -> Loose {
    Loose { sku: sku.into(), at: at(bin), quantity: decimal(quantity), on_hand: decimal(quantity) }
}

fn offcut(id: &str, sku: &str, feet: f64) -> Offcut {
    Offcut { id: id.into(), sku: sku.into(), at: at("Rack"), length: Length::feet(feet), unit: LengthUnit::Ft }
}

fn shelf(loose: Vec<Loose>, offcuts: Vec<Offcut>) -> Shelf {
    Shelf { loose, offcuts, held: false }
}

fn job(requirements: Vec<Requirement>) -> Job {
    Job { requirements, overrules: Vec::new(), by_hand: BTreeSet::new() }
}

fn hardware(sku: &str, pack: &str, cost: &str) -> Item {
    item(sku, "hardware", Attributes::Hardware {}, pack, cost)
}

/// Quantities taken, by item and bin.
fn taken(procured: &Procurement) -> BTreeMap<(String, String), Decimal> {
    let mut sums = BTreeMap::new();
    for take in &procured.takes {
        *sums.entry((take.item.sku.to_string(), take.at.bin.clone())).or_insert(Decimal::ZERO) += take.quantity;
    }
    sums
}

fn cost(procured: &Procurement) -> Decimal {
    procured.chosen.picks.iter().map(|pick| pick.order.cost).sum()
}

fn bought(procured: &Procurement, sku: &str) -> u64 {
    procured.chosen.picks.iter().filter(|pick| pick.item.sku.as_str() == sku).map(|pick| pick.order.count).sum()
}

#[test]
fn counted_things_come_from_the_bin_that_has_enough_and_the_rest_is_bought_in_packs() {
    let shop = shop(vec![hardware("CLIP", "10", "4")]);
    let there = shelf(vec![loose("CLIP", "A", "30"), loose("CLIP", "B", "6"), loose("CLIP", "C", "8")], Vec::new());
    let one = procure(&job(vec![named("CLIP", "7")]), &shop, &there, day());
    assert_eq!(
        taken(&one),
        BTreeMap::from([(("CLIP".into(), "C".into()), decimal("7"))]),
        "the emptiest that has enough"
    );
    assert_eq!(bought(&one, "CLIP"), 0);
    let much = procure(&job(vec![named("CLIP", "47")]), &shop, &there, day());
    assert_eq!(taken(&much).values().sum::<Decimal>(), decimal("44"), "all that is there");
    assert_eq!(bought(&much, "CLIP"), 1, "three more come in a pack of ten");
}

#[test]
fn an_open_box_is_used_before_a_small_pack_is_bought_and_a_dear_thing_is_left_alone() {
    let ring = |sku: &str, pack: &str, cost: &str| {
        let attributes = Attributes::RingTerminal {
            size_from: "16 AWG".parse().unwrap(),
            size_to: "14 AWG".parse().unwrap(),
            stud: serde_json::from_value("#8".into()).unwrap(),
        };
        item(sku, "terminals_and_fuses", attributes, pack, cost)
    };
    let shop = shop(vec![ring("R-5", "5", "3"), ring("R-100", "100", "20"), ring("R-GOLD", "1", "9")]);
    let need =
        Need::RingTerminal { size: "16 AWG".parse().unwrap(), stud: serde_json::from_value("#8".into()).unwrap() };
    let there = shelf(vec![loose("R-100", "A", "40"), loose("R-GOLD", "B", "40")], Vec::new());
    let procured = procure(&job(vec![pieces(need.clone(), "4")]), &shop, &there, day());
    // The pack of five would be bought: what comes from the box costs less to put back, the gold one more.
    assert_eq!(taken(&procured), BTreeMap::from([(("R-100".into(), "A".into()), decimal("4"))]));
    let gold = shelf(vec![loose("R-GOLD", "B", "40")], Vec::new());
    let procured = procure(&job(vec![pieces(need.clone(), "4")]), &shop, &gold, day());
    assert!(procured.takes.is_empty() && bought(&procured, "R-5") == 1);
    let held = Shelf { held: true, ..gold };
    let procured = procure(&job(vec![pieces(need, "4")]), &shop, &held, day());
    assert_eq!(taken(&procured).values().sum::<Decimal>(), decimal("4"), "what is held for the job is taken");
}

#[test]
fn wire_is_cut_from_what_was_left_over_then_from_spools_on_the_shelf_then_bought() {
    let shop = shop(vec![
        spool("W-100", "16 AWG", "brown", 105, "100", "31"),
        spool("W-25", "16 AWG", "brown", 105, "25", "9"),
    ]);
    let there = shelf(vec![loose("W-25", "A", "50")], vec![offcut("O-1", "W-100", 13.0), offcut("O-2", "W-100", 30.0)]);
    let needed = wire("16 AWG", "brown", 105, &[12.0, 29.0, 20.0, 18.0, 22.0, 24.0]);
    let procured = procure(&job(vec![needed]), &shop, &there, day());
    let mut lengths: Vec<(Option<&str>, Vec<f64>, f64)> = procured
        .takes
        .iter()
        .map(|take| {
            let length = take.length.as_ref().unwrap();
            let cuts = length.cuts.iter().map(|cut| cut.length.value).collect();
            (length.offcut.as_ref().map(Name::as_str), cuts, length.left.ft())
        })
        .collect();
    lengths.sort_by(|a, b| a.partial_cmp(b).unwrap());
    assert_eq!(
        lengths,
        [
            (None, vec![22.0], 3.0),
            (None, vec![24.0], 1.0),
            (Some("O-1"), vec![12.0], 1.0),
            (Some("O-2"), vec![29.0], 1.0),
        ],
        "each piece where it leaves the least"
    );
    assert_eq!(bought(&procured, "W-25"), 2, "20 and 18 ft are left to buy");
    assert_eq!(taken(&procured)[&("W-25".to_owned(), "A".to_owned())], decimal("50"), "whole spools leave the bin");
}

#[test]
fn a_piece_that_no_spool_holds_is_cut_from_a_long_offcut_and_the_gap_closes() {
    let shop = shop(vec![spool("W-25", "16 AWG", "brown", 105, "25", "9")]);
    let needed = wire("16 AWG", "brown", 105, &[40.0]);
    let without = procure(&job(vec![needed.clone()]), &shop, &Shelf::default(), day());
    assert_eq!(without.chosen.gaps.len(), 1);
    let with = procure(&job(vec![needed]), &shop, &shelf(Vec::new(), vec![offcut("O", "W-25", 41.0)]), day());
    assert!(with.chosen.gaps.is_empty() && with.takes.len() == 1 && cost(&with) == Decimal::ZERO);
}

#[test]
fn what_lies_there_is_planned_together_with_what_is_bought() {
    // 30 + 20 ft and 30 + 20 ft fill two lengths of 50 ft. The tightest length for each piece in turn would be 31 ft for one
    // of 30, and then a spool would have to be bought.
    let shop = shop(vec![spool("W-100", "16 AWG", "brown", 105, "100", "31")]);
    let offcuts = vec![offcut("A", "W-100", 50.0), offcut("B", "W-100", 50.0), offcut("C", "W-100", 31.0)];
    let needed = wire("16 AWG", "brown", 105, &[30.0, 30.0, 20.0, 20.0]);
    let procured = procure(&job(vec![needed]), &shop, &shelf(Vec::new(), offcuts), day());
    assert_eq!(cost(&procured), Decimal::ZERO);
    let opened: Vec<&str> =
        procured.takes.iter().filter_map(|take| take.length.as_ref()?.offcut.as_ref().map(Name::as_str)).collect();
    assert_eq!(opened, ["A", "B"], "and nothing is wasted");
}

#[test]
fn of_plans_at_one_cost_the_one_with_least_waste_and_then_the_most_offcuts_stands() {
    let shop = shop(vec![spool("W-25", "16 AWG", "brown", 105, "25", "9")]);
    let there = shelf(vec![loose("W-25", "A", "50")], vec![offcut("X", "W-25", 25.0), offcut("Y", "W-25", 21.0)]);
    let lengths = |feet: &[f64]| -> Vec<Option<String>> {
        let procured = procure(&job(vec![wire("16 AWG", "brown", 105, feet)]), &shop, &there, day());
        let taken = procured.takes.into_iter().filter_map(|take| take.length);
        taken.map(|length| length.offcut.map(|id| id.to_string())).collect()
    };
    assert_eq!(lengths(&[20.0]), [Some("Y".to_owned())], "one foot is wasted, and not five");
    assert_eq!(lengths(&[24.0]), [Some("X".to_owned())], "as long as a spool, and left over");
}

#[test]
fn of_two_at_one_cost_what_the_shop_has_of_goes_first() {
    let ring = |sku: &str| {
        let size: rigbill::calc::units::WireSize = "16 AWG".parse().unwrap();
        item(sku, "terminals_and_fuses", Attributes::ButtSplice { size_from: size, size_to: size }, "10", "4")
    };
    let shop = shop(vec![ring("A"), ring("B")]);
    let need = pieces(Need::ButtSplice { size: "16 AWG".parse().unwrap() }, "9");
    assert_eq!(bought(&procure(&job(vec![need.clone()]), &shop, &Shelf::default(), day()), "A"), 1);
    let there = shelf(vec![loose("B", "A", "4")], Vec::new());
    let procured = procure(&job(vec![need]), &shop, &there, day());
    assert_eq!((bought(&procured, "A"), bought(&procured, "B")), (0, 1));
}

#[test]
fn sticks_are_opened_one_after_the_other_and_shared() {
    let stick = item(
        "HS",
        "terminals_and_fuses",
        Attributes::HeatShrink {
            supplied_diameter: inches(0.25),
            recovered_diameter: inches(0.08),
            piece_length: inches(48.0),
        },
        "1",
        "3",
    );
    let shop = shop(vec![stick]);
    let need = |piece: f64| Need::HeatShrink {
        supplied_diameter: inches(0.25),
        recovered_diameter_max: inches(0.1),
        piece_length: inches(piece),
    };
    let there = shelf(vec![loose("HS", "A", "2")], Vec::new());
    // 60 × 0.75 in is 45 in of one stick; two pieces of 1.5 in are cut from what is left of it.
    let both = job(vec![pieces(need(0.75), "60"), pieces(need(1.5), "2")]);
    let procured = procure(&both, &shop, &there, day());
    assert_eq!(taken(&procured).values().sum::<Decimal>(), Decimal::ONE);
    assert_eq!(cost(&procured), Decimal::ZERO);
    let more = job(vec![pieces(need(0.75), "64"), pieces(need(1.5), "40")]);
    let procured = procure(&more, &shop, &there, day());
    assert_eq!(taken(&procured).values().sum::<Decimal>(), decimal("2"));
    assert_eq!(bought(&procured, "HS"), 1, "64 pieces fill one stick; of 40 longer ones 32 fill the other");
}

#[test]
fn with_stock_left_alone_only_lengths_that_were_left_over_are_used() {
    let settings =
        Settings { stock: StockTerms { use_stock_first: false, ..StockTerms::default() }, ..Settings::starting() };
    let items = vec![hardware("CLIP", "10", "4"), spool("W-25", "16 AWG", "brown", 105, "25", "9")];
    let shop = shop_with(items, settings);
    let there = shelf(vec![loose("CLIP", "A", "30"), loose("W-25", "A", "100")], vec![offcut("O", "W-25", 13.0)]);
    let needed = vec![named("CLIP", "7"), wire("16 AWG", "brown", 105, &[12.0, 20.0])];
    let procured = procure(&job(needed), &shop, &there, day());
    assert_eq!(procured.takes.iter().map(|take| take.item.sku.as_str()).collect::<Vec<_>>(), ["W-25"]);
    assert_eq!((bought(&procured, "CLIP"), bought(&procured, "W-25")), (1, 1));
}

#[test]
fn the_list_says_by_supplier_what_to_order_and_when_all_is_here() {
    let from = |item: Item, supplier: Option<&str>, lead_time_days: u16| Item {
        supplier: supplier.map(str::to_owned),
        lead_time_days,
        ..item
    };
    let shop = shop(vec![
        from(hardware("CLIP", "10", "4.10"), Some("North Quay"), 0),
        from(hardware("HORN", "1", "58"), Some("North Quay"), 35),
        from(hardware("CLEAT", "1", "7.005"), None, 3),
    ]);
    let job = job(vec![named("CLIP", "12"), named("HORN", "1"), named("CLEAT", "3")]);
    let there = shelf(vec![loose("CLIP", "A", "1")], Vec::new());
    let source = StockSource { state: StockSourceState::KeptHere, said: None };
    let heading = Heading { name: "Avocet".to_owned(), day: day(), source, warnings: Vec::new() };
    let procured = procure(&job, &shop, &there, day());
    let picks = procured.pick_list(&job.by_hand, heading.clone(), LengthUnit::Ft);
    let list = procured.purchase_list(&job, &there, heading, Currency::USD, LengthUnit::Ft).unwrap();
    let orders: Vec<_> = list
        .suppliers
        .iter()
        .map(|order| (order.supplier.as_deref(), order.cost.to_string(), order.here_on.to_string()))
        .collect();
    // 2026-11-25 and 35 days; 7.005 × 3 = 21.015, half away from zero.
    assert_eq!(
        orders,
        [
            (Some("North Quay"), "66.20".to_owned(), "2026-12-30".to_owned()),
            (None, "21.02".to_owned(), "2026-11-28".to_owned()),
        ]
    );
    assert_eq!((list.cost.to_string(), list.all_here_on.to_string()), ("87.22".to_owned(), "2026-12-30".to_owned()));
    let clip = &list.suppliers[0].lines[0];
    assert_eq!(
        (clip.from_shelf, clip.buy, clip.buying_quantity, clip.used),
        (decimal("1"), 2, decimal("10"), decimal("11"))
    );
    assert_eq!((picks.bins.len(), picks.bins[0].lines[0].quantity), (1, decimal("1")));
    assert_eq!(picks.awaited.iter().map(|line| line.sku.as_str()).collect::<Vec<_>>(), ["CLEAT", "CLIP", "HORN"]);
}

/// A small shop with two spools and a pack, and what is asked of it.
fn asked() -> impl Strategy<Value = (Vec<f64>, u32, Vec<f64>, u32, u32)> {
    let feet = prop::collection::vec((1u32..200).prop_map(|quarters| f64::from(quarters) / 4.0), 1..12);
    let offcuts = prop::collection::vec((1u32..240).prop_map(|quarters| f64::from(quarters) / 4.0), 0..8);
    (feet, 1u32..60, offcuts, 0u32..4, 0u32..80)
}

fn property_shop() -> Shop {
    shop(vec![
        spool("W-100", "16 AWG", "brown", 105, "100", "31"),
        spool("W-25", "16 AWG", "brown", 105, "25", "9"),
        hardware("CLIP", "10", "4"),
    ])
}

proptest! {
    #[test]
    fn nothing_is_lost_nothing_is_taken_twice_and_the_shelf_never_makes_it_dearer(
        (feet, clips, offcuts, spools, there) in asked(),
    ) {
        let shop = property_shop();
        let needed = wire("16 AWG", "brown", 105, &feet);
        let job = job(vec![needed.clone(), named("CLIP", &clips.to_string())]);
        let offcuts: Vec<Offcut> =
            offcuts.iter().enumerate().map(|(n, feet)| offcut(&format!("O-{n}"), "W-100", *feet)).collect();
        let counts = vec![
            loose("W-25", "A", &(spools * 25).to_string()),
            loose("CLIP", "A", &(there / 2).to_string()),
            loose("CLIP", "B", &(there - there / 2).to_string()),
        ];
        let there = shelf(counts, offcuts);
        let procured = procure(&job, &shop, &there, day());
        // Every piece once, wherever it is cut from.
        let from_shelf = procured.takes.iter().filter_map(|take| take.length.as_ref()).flat_map(|length| &length.cuts);
        let from_spools = procured.chosen.picks.iter().flat_map(|pick| &pick.stock).flat_map(|stock| &stock.cuts);
        let mut cut: Vec<&Name> = from_shelf.chain(from_spools).map(|cut| &cut.label).collect();
        cut.sort();
        let mut wanted: Vec<&Name> = needed.pieces.iter().map(|piece| &piece.label).collect();
        wanted.sort();
        prop_assert_eq!(cut, wanted);
        // No length gives more than it has, and no bin either.
        let mut used = BTreeSet::new();
        for length in procured.takes.iter().filter_map(|take| take.length.as_ref()) {
            let sum: Length = length.cuts.iter().map(|cut| cut.length.length().unwrap()).sum();
            prop_assert_eq!(sum + length.left, length.length);
            prop_assert!(length.left >= Length::ZERO);
            prop_assert!(length.offcut.as_ref().is_none_or(|id| used.insert(id.clone())), "an offcut once");
        }
        for ((sku, bin), quantity) in taken(&procured).iter().filter(|((_, bin), _)| bin != "Rack") {
            let has = there.loose.iter().find(|loose| loose.sku.as_str() == sku && loose.at.bin == *bin).unwrap();
            prop_assert!(*quantity <= has.quantity, "{} of {} in {}", quantity, sku, bin);
        }
        // Counted things by brute force: what is there, then whole packs.
        let clips = Decimal::from(clips);
        let on_hand: Decimal = there.by_item().get(&Name::from("CLIP")).copied().unwrap_or_default();
        let packs = ((clips - on_hand).max(Decimal::ZERO) / Decimal::TEN).ceil();
        prop_assert_eq!(Decimal::from(bought(&procured, "CLIP")), packs);
        let without: Decimal = choose(&job.requirements, &shop, day(), &[]).picks.iter().map(|pick| pick.order.cost).sum();
        prop_assert!(cost(&procured) <= without);
        // More of what is counted never costs more.
        let mut more = there.clone();
        more.loose[1].quantity += Decimal::from(3);
        prop_assert!(cost(&procure(&job, &shop, &more, day())) <= cost(&procured));
        // Nor does one more length, or one more spool, and nothing longer is opened than has to be.
        let mut one_more = there.clone();
        one_more.offcuts.push(offcut("O-more", "W-25", f64::from(spools) * 7.0 + 3.25));
        prop_assert!(cost(&procure(&job, &shop, &one_more, day())) <= cost(&procured));
        let mut one_spool = there.clone();
        one_spool.loose.push(loose("W-100", "C", "100"));
        prop_assert!(cost(&procure(&job, &shop, &one_spool, day())) <= cost(&procured));
        prop_assert_eq!(
            format!("{:?}", procure(&job, &shop, &there, day()).takes), format!("{:?}", procured.takes), "the same once more"
        );
    }
}
