//! Rules that give lengths and counts.

use crate::calc::basis::Rule;

/// Every rule of this section.
pub static ALL: &[&Rule] = &[];
