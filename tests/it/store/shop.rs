//! A few items, and a boat that needs no more than them.

use chrono::NaiveDate;
use rigbill::calc::findings::Fault;
use rigbill::calc::shop::item::{Item, Price, PriceKind};
use rigbill::service::Error;
use rigbill::service::quotes::QuoteRequest;
use rust_decimal::Decimal;
use serde_json::{Value, json};

/// A day.
pub fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

/// A decimal.
pub fn exact(text: &str) -> Decimal {
    text.parse().expect("a decimal")
}

/// An item from JSON over the least that a piece of hardware has.
pub fn item(sku: &str, changes: Value) -> Item {
    let mut whole = json!({
        "sku": sku,
        "description": format!("Part {sku}"),
        "category": "hardware",
        "attributes": {"kind": "hardware"},
        "selling_unit": "each",
        "buying_unit": "each",
        "buying_quantity": "1",
    });
    let (Value::Object(whole_members), Value::Object(changes)) = (&mut whole, changes) else { panic!("objects") };
    whole_members.extend(changes);
    serde_json::from_value(whole).expect("an item")
}

/// A price from a day on, for one and more.
pub fn price(kind: PriceKind, from: &str, amount: &str) -> Price {
    Price { kind, valid_from: day(from), minimum_quantity: Decimal::ONE, amount: exact(amount) }
}

/// A request for a boat with a bank, a panel and some pieces of an item that is only mounted, not wired.
pub fn request(name: &str, equipment: Value) -> QuoteRequest {
    serde_json::from_value(json!({
        "spec": {
            "boat": {
                "name": name,
                "job_type": "first_rig",
                "propulsion": "outboard",
                "stations": [{"id": "helm"}, {"id": "battery_bay", "petrol_vapour": "no"}],
                "runs": [{"from": "battery_bay", "to": "helm", "length": {"value": 9.5, "unit": "ft"}}],
            },
            "power": {
                "banks": [{"id": "house", "station": "battery_bay", "nominal_voltage_v": 12}],
                "panels": [{"id": "helm_panel", "station": "helm", "bank": "house"}],
            },
            "equipment": equipment,
        },
        "customer": "R. Calder",
    }))
    .expect("a request")
}

/// The faults that an error holds.
pub fn faults<T: std::fmt::Debug>(outcome: Result<T, Error>) -> Vec<Fault> {
    match outcome {
        Err(Error::Faults(faults)) => faults,
        other => panic!("expected faults, met {other:?}"),
    }
}

/// The places of faults.
pub fn places<T: std::fmt::Debug>(outcome: Result<T, Error>) -> Vec<String> {
    faults(outcome).into_iter().map(|fault| fault.pointer).collect()
}
