//! The data network (NMEA 2000) by its published limits. It has two stages, since its power tap is a circuit like any other:
//!
//! 1. [`plan`] comes before the circuits: which stations the backbone goes through, which sold lengths it is made of, where
//!    the drops hang, and at which tee station the power tap keeps the voltage at both ends. The tap becomes a load.
//! 2. [`network_side`] comes after them: what is needed and counted, what the take-off tells, and which limit is broken.
//!
//! Limits are reckoned with the sold lengths, and a requirement asks for no longer one: whatever is bought keeps them.

pub mod backbone;
mod devices;
mod displays;
mod feed;
mod limits;
mod plan;
pub mod sold;
pub mod way;
mod write;

pub use plan::{Plan, Planned, plan};
pub use write::{NetworkSide, network_side};

use crate::units::Name;

/// Key of the circuit that feeds the network.
pub const POWER: &str = "network/power";

/// The key of that circuit.
fn power_key() -> Name {
    Name::from(POWER)
}
