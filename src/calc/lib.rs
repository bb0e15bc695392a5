//! The calculation: values in, values out. It knows no clock, no database, no HTTP and no async; what it needs comes
//! in as arguments. Data goes one way, and the modules stand in that order: a module imports only what is above it.

pub mod units;
pub mod money;
pub mod basis;
pub mod findings;
pub mod shop;
pub mod shelf;
pub mod rules;
pub mod spec;
pub mod cuts;
pub mod requirements;
pub mod take_off;
pub mod routes;
pub mod circuits;
pub mod gathering;
pub mod power;
pub mod dash;
pub mod plumbing;
pub mod along;
pub mod network;
pub mod supplied;
pub mod labour;
pub mod work_plan;
pub mod questions;
pub mod cautions;
pub mod chain;
pub mod quote;
pub mod customer;
pub mod difference;
pub mod purchase;
pub mod purchase_list;

pub mod pricing;
pub mod choices;
