//! Circuits: what each load needs, and whether a conductor can give it.

pub mod conductor;
pub mod sizing;
