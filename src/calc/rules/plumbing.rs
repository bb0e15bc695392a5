//! What each kind of raw-water pump asks of the plumbing, and the sizes that hose and pipe come in.

use std::sync::LazyLock;

use super::{number, rows};
use crate::shop::item::{Attributes, DevicePlumbing, Function, PumpKind};
use crate::units::Length;

/// Clamps on an end of hose below the waterline (common practice; ABYC H-27 asks it of seacocks, from memory).
pub const CLAMPS_BELOW_WATERLINE: u32 = 2;
/// Clamps on any other end of hose (common practice).
pub const CLAMPS_ABOVE_WATERLINE: u32 = 1;
/// Wall of hose on either side, inches: what a clamp goes round is that much thicker than the bore (common practice).
pub const HOSE_WALL_IN: f64 = 0.16;

/// Nominal pipe sizes of through-hulls and seacocks, inches (ASME B1.20.1 nominal sizes).
pub const PIPE_SIZES_IN: [f64; 7] = [0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 3.0];

/// Where a pump's water goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Discharge {
    /// Through the hull's side, above the waterline.
    Overboard,
    /// Into a well.
    Well,
    /// To an outlet on deck.
    Deck,
}

impl Discharge {
    /// As written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Discharge::Overboard => "overboard",
            Discharge::Well => "well",
            Discharge::Deck => "deck",
        }
    }
}

/// What the plumbing of a kind of pump has.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Usual {
    /// Hose at its inlet; absent where none leads to it.
    pub inlet: Option<Length>,
    /// Hose at its outlet.
    pub outlet: Length,
    /// Whether it draws from the sea.
    pub sea: bool,
    /// Whether a strainer stands before it.
    pub strainer: bool,
    /// Where its water goes.
    pub discharge: Discharge,
}

const KINDS: [PumpKind; 4] = [PumpKind::Bilge, PumpKind::LiveWell, PumpKind::WashDown, PumpKind::Bait];

static USUAL: LazyLock<Vec<Usual>> = LazyLock::new(|| {
    let rows = rows(include_str!("tables/pump_plumbing.csv"));
    let usual = |(row, kind): (&csv::StringRecord, PumpKind)| {
        assert_eq!(&row[0], kind.word(), "pump_plumbing.csv is in the order of the kinds");
        Usual {
            inlet: (!row[1].is_empty()).then(|| Length::inches(number(row, 1))),
            outlet: Length::inches(number(row, 2)),
            sea: &row[3] == "yes",
            strainer: &row[4] == "yes",
            discharge: match &row[5] {
                "overboard" => Discharge::Overboard,
                "well" => Discharge::Well,
                "deck" => Discharge::Deck,
                other => panic!("'{other}' in pump_plumbing.csv is no place for water"),
            },
        }
    };
    rows[1..].iter().zip(KINDS).map(usual).collect()
});

/// What the plumbing of a kind of pump has.
pub fn usual(kind: PumpKind) -> &'static Usual {
    &USUAL[kind as usize]
}

/// Whether a kind of pump draws from the sea.
pub fn draws_from_sea(kind: PumpKind) -> bool {
    usual(kind).sea
}

/// The kind of raw-water pump that a function is; fresh-water and waste pumps are none.
pub const fn pump_kind(function: Function) -> Option<PumpKind> {
    match function {
        Function::BilgePump => Some(PumpKind::Bilge),
        Function::LiveWellPump => Some(PumpKind::LiveWell),
        Function::WashDownPump => Some(PumpKind::WashDown),
        _ => None,
    }
}

/// The kind of raw-water pump that an item is, and what it states of its plumbing.
pub fn pump_of(attributes: &Attributes) -> Option<(PumpKind, DevicePlumbing)> {
    let Attributes::Device { function, plumbing, .. } = attributes else { return None };
    let stated = plumbing.unwrap_or_default();
    Some((stated.pump_kind.or(pump_kind(*function))?, stated))
}

/// The smallest pipe whose bore has at least the area of hoses that draw through it at one time: `squares_in2` is the sum
/// of the squares of their diameters. The largest where none has.
pub fn pipe_for(squares_in2: f64) -> f64 {
    let fits = |size: &&f64| **size * **size >= squares_in2 * (1.0 - 1e-9);
    PIPE_SIZES_IN.iter().find(fits).copied().unwrap_or(PIPE_SIZES_IN[PIPE_SIZES_IN.len() - 1])
}
