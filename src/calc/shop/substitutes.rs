//! What the shop takes in place of exactly what is needed, where that costs less.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Colours that may stand in place of one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AcceptedColour {
    /// Insulation colour that is needed: of a positive.
    #[schema(min_length = 1, max_length = 40, example = "brown")]
    pub colour: String,
    /// Colours that may be used in its place; its labels tell what it is.
    #[schema(min_items = 1, max_items = 10)]
    pub instead: Vec<String>,
}

/// What the shop takes in place of exactly what is needed, where that costs less. A least rating (volts, amperes, amperes
/// that can be interrupted, places) is met by whatever reaches it: there is nothing to allow.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Substitutes {
    /// Whether wire may be one size larger, with terminals, splices, lugs, tubing and labels of that size, where they are
    /// made in the same way.
    #[serde(default)]
    pub next_size_up: bool,
    /// Whether insulation may be rated for a higher temperature.
    #[serde(default = "yes")]
    #[schema(default = true)]
    pub higher_temperature: bool,
    /// Whether heat shrink may be wider as supplied, if it shrinks as far.
    #[serde(default = "yes")]
    #[schema(default = true)]
    pub wider_shrink: bool,
    /// Colours of wire that may stand in place of others.
    #[serde(default)]
    #[schema(max_items = 50)]
    pub colours: Vec<AcceptedColour>,
}

fn yes() -> bool {
    true
}

impl Default for Substitutes {
    /// Starting values for a new shop (common practice, no source).
    fn default() -> Self {
        Substitutes { next_size_up: false, higher_temperature: true, wider_shrink: true, colours: Vec::new() }
    }
}

impl Substitutes {
    /// The colours that may stand in place of one.
    pub fn instead_of<'a>(&'a self, colour: &'a str) -> impl Iterator<Item = &'a str> {
        let accepted = self.colours.iter().filter(move |accepted| accepted.colour.eq_ignore_ascii_case(colour));
        accepted.flat_map(|accepted| &accepted.instead).map(String::as_str)
    }

    /// Whether one colour may stand in place of another.
    pub fn take_colour(&self, needed: &str, met: &str) -> bool {
        self.instead_of(needed).any(|accepted| accepted.eq_ignore_ascii_case(met))
    }
}
