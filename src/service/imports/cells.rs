//! How the cells of a file are read: each function gives the JSON of a value, or says what was met and expected.

use rust_decimal::Decimal;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};

use crate::calc::shop::item::{
    BatteryPart, BranchProtection, BuyingUnit, CableShape, Chemistry, Consumable, DropClass, Duty, Fastener, Fitting,
    Function, FuseFamily, HoseType, LeadRole, LoadColumn, NetworkClass, NetworkConnector, PumpKind, SellingUnit, Stud,
    SuppliedCableKind, Wiring,
};
use crate::calc::units::{LengthUnit, LengthValue, WireSize};

type Cell = Result<Value, String>;

/// Any text.
pub fn text(cell: &str) -> Cell {
    Ok(json!(cell))
}

/// A number.
pub fn number(cell: &str) -> Cell {
    figure(cell).map(|number| json!(number)).ok_or_else(|| format!("'{cell}' is no number: expected one such as 7.5"))
}

/// A finite number.
fn figure(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

/// A whole number.
pub fn whole(cell: &str) -> Cell {
    let whole: Option<u16> = cell.parse().ok();
    whole.map(|whole| json!(whole)).ok_or_else(|| format!("'{cell}' is no whole number from 0 to 65535"))
}

/// Whole numbers separated by `;`.
pub fn wholes(cell: &str) -> Cell {
    Ok(Value::Array(parts(cell).map(whole).collect::<Result<_, _>>()?))
}

/// Chemistries separated by `;`.
pub fn chemistries(cell: &str) -> Cell {
    Ok(Value::Array(parts(cell).map(chemistry).collect::<Result<_, _>>()?))
}

/// Texts separated by `;`.
pub fn texts(cell: &str) -> Cell {
    Ok(parts(cell).map(|part| json!(part)).collect())
}

/// `yes` or `no`.
pub fn flag(cell: &str) -> Cell {
    match cell {
        "yes" => Ok(json!(true)),
        "no" => Ok(json!(false)),
        _ => Err(format!("'{cell}' is neither yes nor no")),
    }
}

/// An exact decimal.
pub fn decimal(cell: &str) -> Result<Decimal, String> {
    Decimal::from_str_exact(cell).map_err(|_| format!("'{cell}' is no amount: expected one such as 31.00"))
}

/// A length with its unit.
pub fn length(cell: &str) -> Cell {
    let read = cell.split_once(' ').and_then(|(value, unit)| length_of(value, unit.trim()));
    let length = read
        .ok_or_else(|| format!("'{cell}' is no length: expected a number and in, ft, mm, cm or m, as in '0.25 in'"))?;
    Ok(json!(length))
}

fn length_of(value: &str, unit: &str) -> Option<LengthValue> {
    let unit = [LengthUnit::In, LengthUnit::Ft, LengthUnit::Mm, LengthUnit::Cm, LengthUnit::M]
        .into_iter()
        .find(|known| known.symbol() == unit)?;
    Some(LengthValue { value: figure(value)?, unit })
}

/// A wire size.
pub fn size(cell: &str) -> Cell {
    cell.parse::<WireSize>().map(|size| json!(size)).map_err(|fault| fault.to_string())
}

/// A plain word of one of the closed lists.
pub fn word<T: DeserializeOwned + Serialize>(cell: &str, what: &str) -> Cell {
    let value = json!(cell);
    match serde_json::from_value::<T>(value.clone()) {
        Ok(_) => Ok(value),
        Err(cause) => {
            // The parser's own words end with the list of what it knows.
            let cause = cause.to_string();
            let known = cause.split_once("expected ").map_or("", |(_, known)| known);
            Err(format!("'{cell}' is no {what}: expected {}", known.replace('`', "")))
        }
    }
}

macro_rules! words {
    ($($(#[$doc:meta])* $name:ident: $type:ty, $what:literal;)*) => {
        $($(#[$doc])* pub fn $name(cell: &str) -> Cell { word::<$type>(cell, $what) })*
    };
}

words! {
    /// Form of a cable.
    shape: CableShape, "shape of cable";
    /// How a device is wired.
    wiring: Wiring, "way of wiring";
    /// A stud.
    stud: Stud, "stud";
    /// What a device does.
    function: Function, "function";
    /// How long it runs.
    duty: Duty, "duty";
    /// Column of the load analysis.
    load_column: LoadColumn, "load column";
    /// Drop class.
    drop_class: DropClass, "drop class";
    /// What is in a battery.
    chemistry: Chemistry, "chemistry";
    /// Fuse family.
    family: FuseFamily, "fuse family";
    /// What protects a branch.
    protection: BranchProtection, "branch protection";
    /// What comes with a battery.
    battery_part: BatteryPart, "part of a battery";
    /// What is used up.
    consumable: Consumable, "consumable";
    /// What closes on a hose or goes round a cable.
    fastener: Fastener, "fastener";
    /// Fitting of the plumbing.
    fitting: Fitting, "fitting";
    /// How hose is made.
    hose_type: HoseType, "type of hose";
    /// Selling unit.
    selling_unit: SellingUnit, "selling unit";
    /// Class of network cable.
    network_class: NetworkClass, "class of network cable";
    /// Connector of the data network.
    network_connector: NetworkConnector, "network connector";
    /// What a supplied cable is.
    supplied_cable_kind: SuppliedCableKind, "supplied cable";
    /// Buying unit.
    buying_unit: BuyingUnit, "buying unit";
}

/// The parts of a list separated by `;`, without empty ones.
pub fn parts(cell: &str) -> impl Iterator<Item = &str> {
    cell.split(';').map(str::trim).filter(|part| !part.is_empty())
}

/// What a pump asks of the plumbing: parts such as `pump_kind bait`, `inlet 0.75 in` and `on_seacock yes`.
pub fn plumbing(cell: &str) -> Cell {
    let mut plumbing = serde_json::Map::new();
    for part in parts(cell) {
        let (name, rest) = part.split_once(' ').unwrap_or((part, ""));
        let value = match name {
            "pump_kind" => word::<PumpKind>(rest.trim(), "kind of pump")?,
            "inlet" | "outlet" | "pipe_thread" => length(rest.trim())?,
            "on_seacock" => flag(rest.trim())?,
            _ => {
                return Err(format!(
                    "'{part}' is nothing that plumbing has: expected parts such as 'pump_kind bait', 'inlet 0.75 in', \
                     'outlet 0.75 in', 'pipe_thread 0.5 in' and 'on_seacock yes', with ';' between them"
                ));
            }
        };
        if plumbing.insert(name.to_owned(), value).is_some() {
            return Err(format!("'{name}' stands here twice: take one of the two out"));
        }
    }
    Ok(Value::Object(plumbing))
}

/// Labour operations with their quantities; `none` where the item takes no work, which an empty cell does not say.
pub fn labour(cell: &str) -> Cell {
    if cell == "none" {
        return Ok(Value::Array(Vec::new()));
    }
    let used = |part: &str| {
        let read = part.rsplit_once(' ').and_then(|(operation, quantity)| {
            Some(json!({ "operation": operation.trim(), "quantity": decimal(quantity).ok()? }))
        });
        read.ok_or_else(|| {
            format!("'{part}' is no labour: expected an operation and its quantity, as in 'mount_display 1'")
        })
    };
    Ok(Value::Array(parts(cell).map(used).collect::<Result<_, _>>()?))
}

/// Leads of a device.
pub fn leads(cell: &str) -> Cell {
    Ok(Value::Array(parts(cell).map(lead).collect::<Result<_, _>>()?))
}

/// One lead: its role, then parts in any order.
fn lead(part: &str) -> Cell {
    let words: Vec<&str> = part.split_whitespace().collect();
    let mut rest = words.as_slice();
    let mut lead = serde_json::Map::new();
    let Some(role) = take(&mut rest, 1) else { return Err("a lead is empty".to_owned()) };
    lead.insert("role".to_owned(), word::<LeadRole>(&role, "lead role")?);
    while let Some(first) = rest.first().copied() {
        let (name, value) = match first {
            "stud" => {
                rest = &rest[1..];
                // '#8' is one word and '1/4 in' two.
                let words = if rest.first().is_some_and(|word| word.starts_with('#')) { 1 } else { 2 };
                ("stud", stud(&take(&mut rest, words).unwrap_or_default())?)
            }
            "colour" => {
                rest = &rest[1..];
                let words = rest.iter().take_while(|word| !begins_a_part(word)).count();
                let colour = take(&mut rest, words).filter(|colour| !colour.is_empty());
                ("maker_colour", json!(colour.ok_or("'colour' stands without a colour behind it")?))
            }
            _ => {
                let unknown = || {
                    format!(
                        "'{first}' in the lead '{part}' cannot be read: expected parts such as 4.2 A, 16 AWG, 30 in, \
                         stud #8, colour red"
                    )
                };
                let figure_and_unit = take(&mut rest, 2).ok_or_else(unknown)?;
                let (value, unit) = figure_and_unit.split_once(' ').ok_or_else(unknown)?;
                match unit {
                    "A" => ("current_a", number(value).map_err(|_| unknown())?),
                    "AWG" | "mm2" => ("size", size(&figure_and_unit)?),
                    _ => ("length", json!(length_of(value, unit).ok_or_else(unknown)?)),
                }
            }
        };
        if lead.insert(name.to_owned(), value).is_some() {
            return Err(format!("the lead '{part}' says its {} twice", name.replace('_', " ")));
        }
    }
    Ok(Value::Object(lead))
}

fn begins_a_part(word: &str) -> bool {
    word == "stud" || word == "colour" || word.starts_with(|c: char| c.is_ascii_digit())
}

/// Takes so many words from the front, joined by spaces.
fn take(words: &mut &[&str], count: usize) -> Option<String> {
    let (taken, rest) = words.split_at_checked(count)?;
    *words = rest;
    Some(taken.join(" "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::shop::item::Lead;

    #[test]
    fn a_lead_is_read_whatever_the_order_of_its_parts() {
        let read = |text: &str| serde_json::from_value::<Vec<Lead>>(leads(text).unwrap()).unwrap();
        let ordered = read("constant_positive 4.2 A 16 AWG 30 in stud 1/4 in colour dark blue");
        assert_eq!(ordered, read("constant_positive colour dark blue stud 1/4 in 30 in 16 AWG 4.2 A;"));
        assert_eq!(ordered[0].current_a, Some(4.2));
        assert_eq!(ordered[0].size, Some(WireSize::Awg(16)));
        assert_eq!(ordered[0].length, Some(LengthValue { value: 30.0, unit: LengthUnit::In }));
        assert_eq!(ordered[0].stud, Some(Stud::Quarter));
        assert_eq!(ordered[0].maker_colour.as_deref(), Some("dark blue"));
        assert_eq!(read("return; signal colour brown/yellow").len(), 2);
    }

    #[test]
    fn what_is_no_lead_is_told_with_the_place() {
        for (text, part) in [
            ("positive 4 A", "positive"),
            ("return 4", "'4'"),
            ("return 4 A 5 A", "current a twice"),
            ("return stud #9", "#9"),
            ("return colour", "without a colour"),
            ("return NaN A", "NaN"),
            ("return 16 AWG 30 furlongs", "30"),
        ] {
            let fault = leads(text).unwrap_err();
            assert!(fault.contains(part), "{text}: {fault}");
        }
    }

    #[test]
    fn plain_words_are_refused_with_the_list_of_what_is_known() {
        assert_eq!(duty("always").unwrap_err(), "'always' is no duty: expected continuous or intermittent");
    }
}
