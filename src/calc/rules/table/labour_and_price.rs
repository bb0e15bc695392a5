//! Rules that give hours and prices.

use crate::calc::basis::Rule;

/// Every rule of this section.
pub static ALL: &[&Rule] = &[];
