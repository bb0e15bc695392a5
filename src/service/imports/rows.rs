//! Rows of a file as items.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde_json::{Map, Value};

use super::columns::{self, COMMON, Kind};
use super::read::Record;
use super::{RowFault, cells};
use crate::calc::findings::Fault;
use crate::calc::shop::item::{Item, Price, PriceKind};
use crate::calc::shop::settings::Settings;
use crate::service::items::check_item;

/// The names of the columns, in the order of the file.
pub struct Header {
    names: Vec<String>,
}

/// What a row came to.
pub struct Row {
    /// Its sku, where one could be read.
    pub sku: Option<String>,
    /// The item, unless a cell of it could not be read.
    pub item: Option<Item>,
    /// All that is wrong with it.
    pub faults: Vec<RowFault>,
}

fn not_utf8() -> String {
    "this is not UTF-8 text: save the file as CSV in UTF-8 and send it again".to_owned()
}

impl Header {
    /// Reads the first row of a file.
    ///
    /// # Errors
    /// Columns that no item has, columns that stand there twice, and columns that every item needs and that are
    /// missing.
    pub fn read(record: &Record<'_>) -> Result<Header, Vec<RowFault>> {
        let fault = |column: Option<&str>, message: String| RowFault {
            line: record.line,
            column: column.map(str::to_owned),
            message,
        };
        let mut names: Vec<String> = Vec::new();
        let mut faults = Vec::new();
        for field in record.fields() {
            let Ok(name) = std::str::from_utf8(field).map(str::trim) else {
                return Err(vec![fault(None, not_utf8())]);
            };
            if names.iter().any(|earlier| earlier == name) {
                faults
                    .push(fault(Some(name), format!("the column '{name}' stands here twice: take one of the two out")));
            }
            if !COMMON.iter().any(|(known, _)| *known == name) && columns::attribute(name).is_none() {
                let near = near(name).map(|near| format!("; did you mean '{near}'?")).unwrap_or_default();
                faults.push(fault(Some(name), format!("there is no column '{name}'{near}")));
            }
            names.push(name.to_owned());
        }
        for (name, needed) in COMMON {
            if needed && !names.iter().any(|known| known == name) {
                faults.push(fault(Some(name), format!("the column '{name}' is missing: every item needs it")));
            }
        }
        if faults.is_empty() { Ok(Header { names }) } else { Err(faults) }
    }

    /// Reads one row of items.
    pub fn row(&self, record: &Record<'_>, settings: &Settings, today: NaiveDate) -> Row {
        let mut cells = Cells { line: record.line, texts: BTreeMap::new(), faults: Vec::new() };
        if record.fields().len() != self.names.len() {
            let (met, expected) = (record.fields().len(), self.names.len());
            cells.refuse(
                None,
                format!(
                    "this row has {met} fields where the first row has {expected}: is a comma in a text left unquoted?"
                ),
            );
            return Row { sku: None, item: None, faults: cells.faults };
        }
        for (name, field) in self.names.iter().zip(record.fields()) {
            match std::str::from_utf8(field) {
                Ok(text) if text.trim().is_empty() => {}
                Ok(text) => {
                    cells.texts.insert(name, text.trim());
                }
                Err(_) => cells.refuse(Some(name), not_utf8()),
            }
        }
        let sku = cells.texts.get("sku").map(|sku| (*sku).to_owned());
        let item = item(&mut cells, today);
        let mut faults = cells.faults;
        if let Some(item) = &item {
            faults.extend(check_item(item, settings).into_iter().map(|fault| row_fault(record.line, fault)));
        }
        // A sku that no column of the table could hold is told as a fault, and is not staged.
        let sku = sku.filter(|sku| !sku.contains('\0'));
        Row { sku, item, faults }
    }
}

/// A fault of an item as a fault of its row.
pub fn row_fault(line: u64, fault: Fault) -> RowFault {
    let mut steps = fault.pointer.trim_start_matches('/').split('/');
    let column = match (steps.next(), steps.next(), steps.next()) {
        (Some("attributes"), Some(name), _) => Some(name),
        // Prices of a row are its cost and its list price, in this order.
        (Some("prices"), _, Some("valid_from")) => Some("valid_from"),
        (Some("prices"), ..) => Some("cost"),
        (Some(name), ..) if !name.is_empty() => Some(name),
        _ => None,
    };
    RowFault { line, column: column.map(str::to_owned), message: fault.message }
}

/// The known column that is nearest to a name, if one is near.
fn near(name: &str) -> Option<&'static str> {
    let known = COMMON.iter().map(|(known, _)| *known).chain(columns::ATTRIBUTES.iter().map(|(known, _)| *known));
    let nearest = known.map(|known| (strsim::damerau_levenshtein(known, name), known)).min()?;
    (nearest.0 <= 2).then_some(nearest.1)
}

/// The filled cells of one row, and what was found wrong with them.
struct Cells<'a> {
    line: u64,
    texts: BTreeMap<&'a str, &'a str>,
    faults: Vec<RowFault>,
}

impl Cells<'_> {
    fn refuse(&mut self, column: Option<&str>, message: String) {
        self.faults.push(RowFault { line: self.line, column: column.map(str::to_owned), message });
    }

    /// A cell that may be empty.
    fn read<T>(&mut self, column: &str, cell: impl Fn(&str) -> Result<T, String>) -> Option<T> {
        match cell(self.texts.get(column)?) {
            Ok(value) => Some(value),
            Err(message) => {
                self.refuse(Some(column), message);
                None
            }
        }
    }

    /// A cell that must be filled.
    fn need<T>(&mut self, column: &str, cell: impl Fn(&str) -> Result<T, String>) -> Option<T> {
        if !self.texts.contains_key(column) {
            self.refuse(Some(column), "this cell is empty: every item needs it".to_owned());
        }
        self.read(column, cell)
    }
}

fn item(cells: &mut Cells<'_>, today: NaiveDate) -> Option<Item> {
    let mut whole = Map::new();
    let mut put = |name: &str, value: Option<Value>| {
        if let Some(value) = value {
            whole.insert(name.to_owned(), value);
        }
    };
    for name in ["sku", "description", "category"] {
        put(name, cells.need(name, cells::text));
    }
    put("selling_unit", cells.need("selling_unit", cells::selling_unit));
    put("buying_unit", cells.need("buying_unit", cells::buying_unit));
    put(
        "buying_quantity",
        cells.need("buying_quantity", |cell| cells::decimal(cell).map(|exact| Value::from(exact.to_string()))),
    );
    put("minimum_order", cells.read("minimum_order", cells::whole));
    put("order_multiple", cells.read("order_multiple", cells::whole));
    put("tax_class", cells.read("tax_class", cells::text));
    put("lead_time_days", cells.read("lead_time_days", cells::whole));
    put("special_order", cells.read("special_order", cells::flag));
    put("supplier", cells.read("supplier", cells::text));
    put("labour", cells.read("labour", cells::labour));
    put("attributes", attributes(cells));
    let prices = prices(cells, today);
    // An item that can be made is checked even where a cell of the row is bad, so that all faults are told at once.
    match serde_json::from_value::<Item>(Value::Object(whole)) {
        Ok(item) => Some(Item { prices, ..item }),
        Err(_) if !cells.faults.is_empty() => None,
        Err(cause) => {
            cells.refuse(None, format!("this row makes no item: {cause}"));
            None
        }
    }
}

fn attributes(cells: &mut Cells<'_>) -> Option<Value> {
    let kind = cells.need("kind", |cell| {
        columns::kind(cell).ok_or_else(|| {
            let known: Vec<&str> = columns::KINDS.iter().map(|kind| kind.name).collect();
            format!("'{cell}' is no kind of item: expected one of {}", known.join(", "))
        })
    })?;
    let mut attributes = Map::from_iter([("kind".to_owned(), Value::from(kind.name))]);
    for (name, cell) in columns::ATTRIBUTES {
        let filled = cells.texts.contains_key(name);
        match (has(kind, name), filled) {
            (Some(true), false) => {
                cells.refuse(Some(name), format!("this cell is empty: a {} needs it", kind.name));
            }
            (Some(_), true) => {
                if let Some(value) = cells.read(name, cell) {
                    attributes.insert(name.to_owned(), value);
                }
            }
            (None, true) => {
                cells.refuse(Some(name), format!("a {} has no '{name}': leave this cell empty", kind.name));
            }
            (_, false) => {}
        }
    }
    Some(Value::Object(attributes))
}

/// Whether a kind has an attribute, and whether it needs it.
fn has(kind: &Kind, name: &str) -> Option<bool> {
    if kind.needs.contains(&name) { Some(true) } else { kind.may.contains(&name).then_some(false) }
}

fn prices(cells: &mut Cells<'_>, today: NaiveDate) -> Vec<Price> {
    let day = cells.read("valid_from", |cell| {
        cell.parse::<NaiveDate>().map_err(|_| format!("'{cell}' is no day: expected one such as 2026-01-31"))
    });
    let mut prices = Vec::new();
    for (column, kind) in [("cost", PriceKind::Cost), ("list_price", PriceKind::List)] {
        let positive = |cell: &str| match cells::decimal(cell)? {
            amount if amount > Decimal::ZERO => Ok(amount),
            _ => Err(format!("'{cell}' is no price: expected more than 0; leave the cell empty where there is none")),
        };
        if let Some(amount) = cells.read(column, positive) {
            prices.push(Price { kind, valid_from: day.unwrap_or(today), minimum_quantity: Decimal::ONE, amount });
        }
    }
    prices
}
