//! The purchase list and the pick list as CSV and as a page to print.

mod csv_cells;

use askama::Template;
use csv_cells::Table;
use rust_decimal::Decimal;

use calc::purchase_list::{Awaited, PickBin, PickLine, PickList, PurchaseList, ShelfUse, StockSource, SupplierOrder};
use calc::quote::PlannedCut;
use calc::shop::item::SellingUnit;
use calc::units::Name;

/// What a list says of the quote that it is of.
#[derive(Clone, Copy, Debug)]
pub struct Of<'a> {
    /// Its number and revision, or that it has none.
    pub number: &'a str,
    /// Where it is in its life.
    pub state: &'a str,
}

/// Cuts as they are printed.
fn cuts(cuts: &[PlannedCut]) -> String {
    cuts.iter().map(|PlannedCut { label, length }| format!("{label} {length}")).collect::<Vec<_>>().join(", ")
}

fn joined(names: &[Name]) -> String {
    names.iter().map(Name::as_str).collect::<Vec<_>>().join(", ")
}

/// A cost of one, with the places that prices have at least.
fn each(cost: &Decimal) -> String {
    let mut cost = *cost;
    if cost.scale() < 2 {
        cost.rescale(2);
    }
    cost.to_string()
}

/// A buying unit as it is printed.
fn buying(order: &calc::purchase_list::PurchaseLine) -> String {
    use calc::shop::item::BuyingUnit;
    let word = match order.buying_unit {
        BuyingUnit::Each => return "each".to_owned(),
        BuyingUnit::Foot => return "ft".to_owned(),
        BuyingUnit::Metre => return "m".to_owned(),
        BuyingUnit::Pack => "pack",
        BuyingUnit::Box => "box",
        BuyingUnit::Spool => "spool",
        BuyingUnit::Stick => "stick",
    };
    if order.unit == SellingUnit::Each && order.buying_quantity == Decimal::ONE {
        return word.to_owned();
    }
    let each = if order.unit == SellingUnit::Each { String::new() } else { format!(" {}", order.unit.symbol()) };
    format!("{word} of {}{each}", order.buying_quantity)
}

/// The purchase list as CSV (RFC 4180): what is taken from the shelf first, then what is bought, by supplier.
pub fn purchase_csv(list: &PurchaseList) -> Vec<u8> {
    let mut table = Table::new(&[
        "action",
        "supplier",
        "sku",
        "description",
        "place",
        "bin",
        "quantity",
        "unit",
        "in_multiples_of",
        "unit_cost",
        "cost",
        "currency",
        "lead_time_days",
        "here_on",
        "offcut",
        "cuts",
    ]);
    for line in &list.from_shelf {
        for ShelfUse { place, bin, quantity, offcut, cuts: planned, .. } in &line.from {
            let offcut = offcut.as_ref().map_or("", Name::as_str);
            let quantity = quantity.to_string();
            table.row(&[
                "take",
                "",
                line.sku.as_str(),
                &line.description,
                place,
                bin,
                &quantity,
                line.unit_code,
                "",
                "",
                "",
                "",
                "",
                "",
                offcut,
                &cuts(planned),
            ]);
        }
    }
    for SupplierOrder { supplier, lines, here_on, .. } in &list.suppliers {
        let supplier = supplier.as_deref().unwrap_or_default();
        for line in lines {
            let planned: Vec<PlannedCut> = line.stock.iter().flat_map(|stock| stock.cuts.iter().cloned()).collect();
            table.row(&[
                "buy",
                supplier,
                line.sku.as_str(),
                &line.description,
                "",
                "",
                &line.buy.to_string(),
                line.buying_unit_code,
                &line.buying_quantity.to_string(),
                &each(&line.unit_cost),
                &line.cost.to_string(),
                &list.currency,
                &line.lead_time_days.to_string(),
                &here_on.to_string(),
                "",
                &cuts(&planned),
            ]);
        }
    }
    table.bytes()
}

/// The pick list as CSV (RFC 4180): what is taken, in order of place and bin, then what has to come.
pub fn pick_csv(list: &PickList) -> Vec<u8> {
    let mut table = Table::new(&[
        "action",
        "place",
        "bin",
        "sku",
        "description",
        "quantity",
        "unit",
        "for",
        "offcut",
        "length",
        "cuts",
        "left",
        "here_on",
    ]);
    for PickBin { place, bin, lines } in &list.bins {
        for line in lines {
            let PickLine { sku, description, quantity, unit, used_by, offcut, length, cuts: planned, left } = line;
            table.row(&[
                "take",
                place,
                bin,
                sku.as_str(),
                description,
                &quantity.to_string(),
                unit.unece_code(),
                &joined(used_by),
                offcut.as_ref().map_or("", Name::as_str),
                &length.map(|length| length.to_string()).unwrap_or_default(),
                &cuts(planned),
                &left.map(|left| left.to_string()).unwrap_or_default(),
                "",
            ]);
        }
    }
    for Awaited { sku, description, quantity, unit, used_by, cuts: planned, here_on } in &list.awaited {
        let (quantity, here_on) = (quantity.to_string(), here_on.to_string());
        table.row(&[
            "await",
            "",
            "",
            sku.as_str(),
            description,
            &quantity,
            unit.unece_code(),
            &joined(used_by),
            "",
            "",
            &cuts(planned),
            "",
            &here_on,
        ]);
    }
    table.bytes()
}

#[derive(Template)]
#[template(path = "purchase_list.html", config = "askama.toml")]
struct PurchasePage<'a> {
    of: Of<'a>,
    list: &'a PurchaseList,
}

#[derive(Template)]
#[template(path = "pick_list.html", config = "askama.toml")]
struct PickPage<'a> {
    of: Of<'a>,
    list: &'a PickList,
}

/// What a page says of where the shelf was read.
fn source(source: &StockSource) -> &str {
    source.said.as_deref().unwrap_or_default()
}

/// The purchase list as a page to print.
pub fn purchase_page(of: Of<'_>, list: &PurchaseList) -> Vec<u8> {
    PurchasePage { of, list }.render().expect("a page is made of plain values").into_bytes()
}

/// The pick list as a page to print.
pub fn pick_page(of: Of<'_>, list: &PickList) -> Vec<u8> {
    PickPage { of, list }.render().expect("a page is made of plain values").into_bytes()
}
