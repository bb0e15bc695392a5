//! Circuits: what each load needs, along which routes, in which size, how protected and how ended.
//!
//! The stages in order: [`loads`] reads the equipment, [`legs`] lays every conductor along its route,
//! [`select`] gives each its size, [`ends`] says how its ends are made.

pub mod conductor;
pub mod sizing;

pub mod ends;
pub mod loads;
pub mod main_protection;
pub mod charging;
pub mod through;
pub mod bank_side;
pub mod pump_switches;
pub mod legs;
pub mod least_copper;
pub mod select;
pub mod schedule;
pub mod cables;
