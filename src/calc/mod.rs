//! The calculation: values in, values out. It knows no clock, no database, no HTTP and no async; what it needs comes
//! in as arguments. Data goes one way, and the modules stand in that order: a module imports only what is above it.

pub mod basis;
pub mod circuits;
pub mod findings;
pub mod money;
pub mod quote;
pub mod requirements;
pub mod rules;
pub mod shop;
pub mod spec;
pub mod take_off;
pub mod units;
