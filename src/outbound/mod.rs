//! The only place that calls out. Nothing here is ever called inside a transaction.

pub mod addresses;
pub mod inventory;
pub mod webhooks;
