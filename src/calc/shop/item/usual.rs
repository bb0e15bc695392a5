//! What a device of a function usually is, so that a shop types only where its item differs: draw, voltages, leads,
//! terminals and the work of fitting it. What is typed always wins, and the stored item keeps what was typed.

use std::sync::LazyLock;

use serde::Serialize;
use serde::de::DeserializeOwned;
use utoipa::ToSchema;

use super::{Attributes, Function, Item, Lead, LeadRole, Stud};
use crate::units::{LengthUnit, LengthValue, Name, WireSize};

/// Where all of these figures come from.
pub const SOURCE: &str = "common practice, from memory";

/// What a fuse is rated at over what runs for hours behind it (common practice).
const FUSE_OVER_DRAW: f64 = 1.25;

/// What a device of one function usually is.
#[derive(Clone, Debug, PartialEq)]
pub struct Usual {
    /// The function.
    pub function: Function,
    /// Draw at the rated voltage, amperes; absent where devices of the function differ too much.
    pub draw_a: Option<f64>,
    /// Voltage at which the draw is stated.
    pub rated_voltage_v: Option<f64>,
    /// Nominal voltages it may be wired to.
    pub nominal_voltages_v: Vec<u16>,
    /// Roles of its leads, in order.
    pub leads: Vec<LeadRole>,
    /// The stud that conductors land on; absent, the leads are pigtails.
    pub stud: Option<Stud>,
    /// Size and length of the maker's pigtails.
    pub pigtail: Option<(WireSize, LengthValue)>,
    /// Labour operation that fits one of it.
    pub labour: Option<Name>,
}

/// A figure that was taken as usual, since the item does not say it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct TakenAsUsual {
    /// The field of the item that is left out.
    #[schema(value_type = String, example = "draw_a")]
    pub field: &'static str,
    /// What is taken in its place, in words.
    #[schema(example = "5 A")]
    pub value: String,
}

static ROWS: LazyLock<Vec<Usual>> = LazyLock::new(|| {
    let text = include_str!("usual.csv");
    let rows = csv::ReaderBuilder::new().comment(Some(b'#')).has_headers(false).from_reader(text.as_bytes());
    rows.into_records().map(|row| usual_of(&row.expect("the table of usual devices is well-formed CSV"))).collect()
});

fn usual_of(row: &csv::StringRecord) -> Usual {
    let cell = |column: usize| Some(row[column].trim()).filter(|cell| !cell.is_empty());
    let number = |column: usize| cell(column).map(|cell| cell.parse::<f64>().expect("a number"));
    let parts = |column: usize| cell(column).into_iter().flat_map(|cell| cell.split(';'));
    Usual {
        function: word(&row[0]),
        draw_a: number(1),
        rated_voltage_v: number(2),
        nominal_voltages_v: parts(3).map(|volts| volts.parse().expect("whole volts")).collect(),
        leads: parts(4).map(word).collect(),
        stud: cell(5).map(word),
        pigtail: cell(6).map(|size| {
            let length = LengthValue { value: number(7).expect("a length beside the size"), unit: LengthUnit::In };
            (size.parse().expect("a wire size"), length)
        }),
        labour: cell(8).map(Name::from),
    }
}

fn word<T: DeserializeOwned>(text: &str) -> T {
    serde_json::from_value(text.into())
        .unwrap_or_else(|cause| panic!("'{text}' in the table of usual devices: {cause}"))
}

/// What a device of a function usually is.
///
/// # Panics
/// When the table has no row for it; a test holds that it has one for each.
pub fn usual(function: Function) -> &'static Usual {
    // The rows stand in the order of the functions; a test holds that too.
    &ROWS[function as usize]
}

/// The item with what is usual of its kind in place of what it leaves out, and what that is. Anything but a device is
/// as it was typed. A draw that has no usual figure stays open, and no such item can be kept.
pub fn filled(mut item: Item) -> (Item, Vec<TakenAsUsual>) {
    let taken = fill(&mut item.attributes);
    (item, taken)
}

fn fill(attributes: &mut Attributes) -> Vec<TakenAsUsual> {
    let Attributes::Device {
        function,
        rated_voltage_v,
        nominal_voltages_v,
        draw_a,
        leads,
        unwired: false,
        maker_fuse_a,
        ..
    } = attributes
    else {
        return Vec::new();
    };
    let usual = usual(*function);
    let mut taken = Vec::new();
    let typed_v = *rated_voltage_v;
    if let (None, Some(usual_v)) = (typed_v, usual.rated_voltage_v) {
        // A current that the shop typed for a thing of 24 V is none at 12 V: what is not for the usual voltage is rated at
        // the lowest that it is for.
        let fits = |volts: &u16| f64::from(*volts) == usual_v;
        let lowest = nominal_voltages_v.iter().min().filter(|_| !nominal_voltages_v.iter().any(fits));
        let volts = lowest.map_or(usual_v, |volts| f64::from(*volts));
        *rated_voltage_v = Some(volts);
        taken.push(TakenAsUsual { field: "rated_voltage_v", value: format!("{volts} V") });
    }
    if nominal_voltages_v.is_empty() && !usual.nominal_voltages_v.is_empty() {
        // Of a thing that is rated at another voltage only that one is known.
        let whole = |volts: &f64| (1.0..=100.0).contains(volts) && volts.fract() == 0.0;
        let other = typed_v.filter(whole).map(|volts| volts as u16).filter(|v| !usual.nominal_voltages_v.contains(v));
        *nominal_voltages_v = other.map_or_else(|| usual.nominal_voltages_v.clone(), |volts| vec![volts]);
        let volts: Vec<String> = nominal_voltages_v.iter().map(|volts| format!("{volts} V")).collect();
        taken.push(TakenAsUsual { field: "nominal_voltages_v", value: volts.join(" or ") });
    }
    if leads.is_empty() {
        leads.extend(usual.leads.iter().map(|role| Lead {
            role: *role,
            current_a: None,
            size: usual.pigtail.map(|(size, _)| size),
            length: usual.pigtail.map(|(_, length)| length),
            stud: usual.stud,
            maker_colour: None,
        }));
        taken.push(TakenAsUsual { field: "leads", value: leads_told(usual) });
    }
    let open = leads.iter().filter(|lead| lead.role.is_positive() && lead.current_a.is_none()).count();
    // Of several positives nobody knows which draws what, but for a bilge pump, which has one motor behind both.
    if open == 1 || open > 1 && *function == Function::BilgePump {
        // A maker's fuse that is smaller than the usual draw tells that this one draws less; of a larger one, that it may
        // draw what such a fuse holds for hours.
        let by_fuse = |draw_a: f64, fuse_a: f64| draw_a.max(fuse_a / FUSE_OVER_DRAW).min(fuse_a);
        let usual_a = usual.draw_a.map(|draw_a| maker_fuse_a.map_or(draw_a, |fuse_a| by_fuse(draw_a, fuse_a)));
        if let (None, Some(amperes)) = (*draw_a, usual_a) {
            taken.push(TakenAsUsual { field: "draw_a", value: format!("{amperes} A") });
        }
        let current_a = draw_a.or(usual_a);
        for lead in leads.iter_mut().filter(|lead| lead.role.is_positive() && lead.current_a.is_none()) {
            lead.current_a = current_a;
        }
    }
    taken
}

fn leads_told(usual: &Usual) -> String {
    let positives = usual.leads.iter().filter(|role| role.is_positive()).count();
    let ends = match (&usual.pigtail, usual.stud) {
        (Some((size, length)), _) => format!("pigtails of {size}, {length}"),
        (None, Some(stud)) => format!("{} studs", stud.symbol()),
        (None, None) => "pigtails".to_owned(),
    };
    let positives = if positives == 1 { "one positive".to_owned() } else { format!("{positives} positives") };
    format!("{positives} and a return, {ends}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_function_has_its_row_in_its_place() {
        for (place, row) in ROWS.iter().enumerate() {
            assert_eq!(row.function as usize, place, "{:?} stands in another place than in its list", row.function);
            assert!(row.leads.iter().any(|role| role.is_positive()) && row.leads.contains(&LeadRole::Return));
        }
        assert_eq!(ROWS.len(), Function::Accessory as usize + 1);
    }
}
