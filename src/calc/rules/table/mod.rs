//! The rule table: every rule that a derivation may name, in sections.

pub mod labour_and_price;
