//! The boat spec: as it is sent, how it is checked against the shop, and the checked boat that the chain works on.

pub mod answers;
pub mod boat;
pub mod check;
pub mod power_input;
pub mod dash_input;
pub mod dash_check;
pub mod input;
pub mod fitted;
pub mod layouts;
pub mod network_input;
pub mod packages;
