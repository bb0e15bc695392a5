//! Published limits of the data network (NMEA 2000), and its formulas.

use std::sync::LazyLock;

use super::{number, rows};
use crate::shop::item::NetworkClass;
use crate::units::{Length, LengthUnit};

/// A class of cable, as the table has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cable {
    /// Most current through its power conductors, amperes.
    pub current_a_max: f64,
    /// Longest backbone between its two farthest points, metres.
    pub backbone_m_max: f64,
    /// Resistance of one power conductor, ohms per metre.
    pub ohm_per_m: f64,
}

/// Limits that hold for every network.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Current of one load equivalency number, amperes.
    pub current_of_len_a: f64,
    /// Most devices.
    pub devices_max: u32,
    /// Longest drop.
    pub drop_max: Length,
    /// Longest sum of all drops.
    pub drops_max: Length,
    /// Terminators.
    pub terminators: u32,
    /// Most volts lost from power tap to the last device of a leg, fed from a battery.
    pub voltage_drop_v_max: f64,
}

/// Most that an engine gateway is planned to draw from the network, in load equivalency numbers (common practice).
pub const GATEWAY_LEN: u8 = 2;

static CABLES: LazyLock<[Cable; 3]> = LazyLock::new(|| {
    let table = rows(include_str!("tables/network_cable.csv"));
    [NetworkClass::Light, NetworkClass::Mid, NetworkClass::Heavy].map(|class| {
        let row = table.iter().find(|row| &row[0] == class.word()).expect("a row for every class of network cable");
        Cable { current_a_max: number(row, 2), backbone_m_max: number(row, 3), ohm_per_m: number(row, 4) }
    })
});

static LIMITS: LazyLock<Limits> = LazyLock::new(|| {
    let table = rows(include_str!("tables/network_limits.csv"));
    let of = |name: &str| {
        let row = table.iter().find(|row| &row[0] == name).expect("a row for every limit of a network");
        number(row, 1)
    };
    let metres = |value: f64| Length::new(value, LengthUnit::M).expect("limits are lengths");
    Limits {
        current_of_len_a: of("current_of_len_a"),
        devices_max: of("devices_max") as u32,
        drop_max: metres(of("drop_m_max")),
        drops_max: metres(of("drops_m_max")),
        terminators: of("terminators") as u32,
        voltage_drop_v_max: of("voltage_drop_v_max"),
    }
});

/// The figures of a class of cable.
pub fn cable(class: NetworkClass) -> Cable {
    CABLES[class as usize]
}

/// The limits that hold for every network.
pub fn limits() -> Limits {
    *LIMITS
}

/// Volts lost from the power tap to the last device of a leg: all of the leg's load is taken to be there.
pub fn voltage_drop_v(load_equivalency: u32, length_m: f64, ohm_per_m: f64) -> f64 {
    // 50 mA in each of two conductors.
    2.0 * limits().current_of_len_a * f64::from(load_equivalency) * length_m * ohm_per_m
}

/// Length that a cable must have which is not cut: its way, made longer by the waste of the basis that each part was
/// measured on, and slack at its ends.
pub fn reach(measured: Length, estimated: Length, waste_percent: (f64, f64), slack: Length) -> Length {
    measured.scaled(1.0 + waste_percent.0 / 100.0) + estimated.scaled(1.0 + waste_percent.1 / 100.0) + slack
}
