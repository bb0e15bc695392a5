//! Rules of jacketed cable.

use crate::basis::{Rule, Standing};

/// The smallest conductor in a jacket.
pub static MINIMUM: Rule = Rule {
    id: "jacket.minimum",
    says: "In a jacket a conductor may be smaller than by itself, where not too much of it comes out.",
    formula: "minimum = 18 AWG if break_out_mm <= 762 else 16 AWG; metric: 0.75 mm2 if break_out_mm <= 800 else 1 mm2",
    source: "ABYC E-11 clause 11.14.1.2 as quoted in public (30 in); ISO 10133 7.7",
    standing: Standing::Published,
};

/// Outside diameter of a jacket.
pub static OUTSIDE: Rule = Rule {
    id: "jacket.outside",
    says: "A jacket is the smallest circle round its conductors and a wall on both sides: check its sleeves against the cable that is bought.",
    formula: "outside_in = across * conductor_in + 2 * wall_in; across = 2 for two conductors, 1 + 2 / sqrt(3) for three",
    source: "geometry; the wall is common practice, the conductors' diameters from memory",
    standing: Standing::CommonPractice,
};

/// Colours inside a jacket.
pub static COLOUR: Rule = Rule {
    id: "colour.jacket",
    says: "Inside a jacket conductors have the cable's own colours, and labels at both ends show that of the function: red for a positive, brown for a second one, the boat's negative colour for the return. Of a switched and a constant positive the constant one is red.",
    formula: "colour = red for a positive, brown for a second positive, negative for a return",
    source: "common practice: two-conductor DC cable is red with black or yellow; red, black, yellow and brown as in ABYC E-11 Tables XIV and XV",
    standing: Standing::CommonPractice,
};

/// Every rule of this section.
pub static ALL: &[&Rule] = &[&MINIMUM, &OUTSIDE, &COLOUR];
