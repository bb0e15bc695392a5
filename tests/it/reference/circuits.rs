//! What follows from a device's function.

use rigbill::calc::rules::functions::{FEEDER_COLOUR, colours, defaults, known_colour};
use rigbill::calc::shop::item::{DropClass, Function, LoadColumn};

use super::{Row, rows};

const ALL: [Function; 21] = [
    Function::BilgePump,
    Function::LiveWellPump,
    Function::WashDownPump,
    Function::FreshWaterPump,
    Function::WastePump,
    Function::BilgeBlower,
    Function::NavigationLight,
    Function::InteriorLight,
    Function::Floodlight,
    Function::NavigationElectronics,
    Function::Instrument,
    Function::Radio,
    Function::Audio,
    Function::Horn,
    Function::Alarm,
    Function::TrimTabs,
    Function::Windlass,
    Function::BowMotor,
    Function::Refrigerator,
    Function::Outlet,
    Function::Accessory,
];

fn function(row: &Row) -> Function {
    serde_json::from_value(row.text("function").into()).expect("a function")
}

#[test]
fn every_function_of_the_published_lists_has_its_colour_and_its_column() {
    for row in rows(include_str!("data/dc_colours.csv")) {
        assert_eq!(defaults(function(&row)).positive_colour, row.text("colour"), "{}", row.text("function"));
    }
    for row in rows(include_str!("data/load_columns.csv")) {
        let column: LoadColumn = serde_json::from_value(row.text("column").into()).unwrap();
        assert_eq!(defaults(function(&row)).load_column, column, "{}", row.text("function"));
    }
    // Common practice: live wells run all day, a wash-down now and then.
    assert_eq!(defaults(Function::LiveWellPump).load_column, LoadColumn::Always);
    assert_eq!(defaults(Function::WashDownPump).load_column, LoadColumn::Occasional);
}

/// ABYC E-11 clause 11.14.2.6 and the note of ISO 10133 name these; everything else is at 10 %.
#[test]
fn the_three_percent_circuits_are_those_of_the_standards() {
    use Function::*;
    let named = [BilgePump, BilgeBlower, NavigationLight, NavigationElectronics, Instrument, Radio, Audio, Horn, Alarm];
    for function in ALL {
        let critical = defaults(function).drop_class == DropClass::Critical;
        assert_eq!(critical, named.contains(&function), "{function:?}");
    }
}

#[test]
fn every_default_colour_is_known_and_none_is_a_negatives() {
    for function in ALL {
        let colour = defaults(function).positive_colour;
        assert_eq!(known_colour(colour), Some(colour));
        assert!(!["black", "yellow", "green"].contains(&colour), "{function:?}");
    }
    for colour in [FEEDER_COLOUR, "black", "yellow", "dark grey", "green/stripe"] {
        assert_eq!(known_colour(colour), Some(colour));
    }
    assert_eq!(known_colour("Black"), None);
    assert_eq!(known_colour("ultraviolet"), None);
    let mut sorted = colours().to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    assert_eq!(sorted.len(), colours().len(), "each colour stands once");
}
