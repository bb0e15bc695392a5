//! What a boat of each form looks like from above: its outline and what stands on its deck, over hull length and beam.
//!
//! `u` goes from the transom (0) to the stem (1) in hull lengths, `v` from port to starboard in beams (±0.5). The shapes
//! are drawn to be known again, and measured from no boat (common practice).

use calc::spec::input::HullForm;

/// A shape on the deck, with the class that styles it.
pub(super) enum Shape {
    /// Rounded rectangle between two corners; the last figure rounds its corners, in beams.
    Plate(&'static str, (f64, f64), (f64, f64), f64),
    /// Open line.
    Line(&'static str, &'static [(f64, f64)]),
    /// Closed line.
    Ring(&'static str, &'static [(f64, f64)]),
    /// Circle about a point; its radius in beams.
    Round(&'static str, (f64, f64), f64),
    /// The hull's side from one `u` to another at a share of its half-breadth, on both sides.
    Inset(&'static str, f64, f64, f64),
    /// The same as one closed line.
    Trunk(&'static str, f64, f64, f64),
}

use Shape::{Inset, Line, Plate, Ring, Round, Trunk};

/// How the half-breadth of a hull goes from transom to stem.
struct Lines {
    /// At the transom, share of the greatest.
    transom: f64,
    /// Where the hull is widest.
    widest: f64,
    /// How full the bow is: 2 is fine, 4 is full.
    fullness: f64,
    /// At the stem, share of the greatest.
    stem: f64,
}

const fn lines(form: HullForm) -> Lines {
    let (transom, widest, fullness, stem) = match form {
        HullForm::CenterConsole => (0.92, 0.42, 2.4, 0.0),
        HullForm::BayBoat => (0.95, 0.38, 2.7, 0.0),
        HullForm::Skiff => (0.84, 0.45, 2.2, 0.0),
        HullForm::DualConsole => (0.94, 0.42, 3.4, 0.0),
        HullForm::Walkaround => (0.92, 0.42, 2.3, 0.0),
        HullForm::Express => (0.90, 0.36, 2.1, 0.0),
        HullForm::Pontoon | HullForm::Catamaran => (1.0, 0.5, 40.0, 1.0),
        HullForm::AluminumUtility => (0.86, 0.42, 2.8, 0.34),
        HullForm::SailingMonohull => (0.56, 0.42, 1.9, 0.0),
    };
    Lines { transom, widest, fullness, stem }
}

/// Half-breadth of the hull at `u`, in beams.
pub(super) fn half_breadth(form: HullForm, u: f64) -> f64 {
    let Lines { transom, widest, fullness, stem } = lines(form);
    let u = u.clamp(0.0, 1.0);
    let share = if u < widest {
        transom + (1.0 - transom) * (std::f64::consts::FRAC_PI_2 * u / widest).sin()
    } else {
        let t = (u - widest) / (1.0 - widest);
        stem + (1.0 - stem) * (1.0 - t.powf(fullness))
    };
    0.5 * share
}

/// The outlines of a form, one for each body in the water or the deck: closed lines with their classes.
pub(super) fn outlines(form: HullForm) -> Vec<(&'static str, Vec<(f64, f64)>)> {
    match form {
        HullForm::Pontoon => vec![
            ("tube", float(-0.02, 1.07, -0.35, 0.14)),
            ("tube", float(-0.02, 1.07, 0.35, 0.14)),
            ("hull", vec![(0.0, -0.5), (0.95, -0.5), (0.985, -0.42), (0.985, 0.42), (0.95, 0.5), (0.0, 0.5)]),
            ("under", float(-0.02, 1.07, -0.35, 0.14)),
            ("under", float(-0.02, 1.07, 0.35, 0.14)),
        ],
        HullForm::Catamaran => vec![
            ("hull", vec![(0.05, -0.34), (0.66, -0.34), (0.68, -0.3), (0.68, 0.3), (0.66, 0.34), (0.05, 0.34)]),
            ("hull", float(0.0, 1.0, -0.39, 0.11)),
            ("hull", float(0.0, 1.0, 0.39, 0.11)),
        ],
        _ => {
            let side = side(form, 0.0, 1.0, 1.0);
            let other = side.iter().rev().map(|(u, v)| (*u, -v));
            vec![("hull", side.iter().copied().chain(other).collect())]
        }
    }
}

/// A float or slender hull about a line at `v`: square aft, pointed forward.
fn float(from: f64, to: f64, v: f64, half: f64) -> Vec<(f64, f64)> {
    let breadth = |t: f64| half * (1.0 - ((t - 0.6).max(0.0) / 0.4).powf(2.6)) * (0.86 + 0.14 * (t / 0.3).min(1.0));
    let along = |i: i32| f64::from(i) / 40.0;
    let place = |t: f64, sign: f64| (from + (to - from) * t, v + sign * breadth(t));
    let there = (0..=40).map(|i| place(along(i), 1.0));
    there.chain((0..=40).rev().map(|i| place(along(i), -1.0))).collect()
}

/// The starboard side of a hull from one `u` to another, at a share of its half-breadth.
pub(super) fn side(form: HullForm, from: f64, to: f64, share: f64) -> Vec<(f64, f64)> {
    (0..=48).map(|i| from + (to - from) * f64::from(i) / 48.0).map(|u| (u, share * half_breadth(form, u))).collect()
}

const OUTBOARD: Shape = Plate("motor", (-0.062, -0.055), (-0.004, 0.055), 0.03);

/// What stands on the deck of a form, the lowest first.
pub(super) const fn deck(form: HullForm) -> &'static [Shape] {
    match form {
        HullForm::CenterConsole => &[
            OUTBOARD,
            Trunk("sole", 0.065, 0.90, 0.82),
            Line("deck", &[(0.0, -0.16), (0.055, -0.12), (0.055, 0.12), (0.0, 0.16)]),
            Inset("deck", 0.66, 0.90, 0.52),
            Line("deck", &[(0.66, -0.21), (0.66, 0.21)]),
            Plate("raised", (0.265, -0.14), (0.315, 0.14), 0.03),
            Plate("raised", (0.375, -0.15), (0.53, 0.15), 0.05),
            Line("glass", &[(0.39, -0.13), (0.435, -0.12), (0.45, 0.0), (0.435, 0.12), (0.39, 0.13)]),
            Plate("top", (0.255, -0.22), (0.475, 0.22), 0.05),
        ],
        HullForm::BayBoat => &[
            OUTBOARD,
            Trunk("sole", 0.19, 0.64, 0.86),
            Line("deck", &[(0.19, -0.42), (0.19, 0.42)]),
            Plate("raised", (0.03, -0.38), (0.15, -0.18), 0.02),
            Plate("raised", (0.03, 0.18), (0.15, 0.38), 0.02),
            Line("deck", &[(0.64, -0.41), (0.64, 0.41)]),
            Plate("deck", (0.70, -0.16), (0.79, 0.16), 0.02),
            Inset("deck", 0.64, 0.97, 0.86),
            Plate("raised", (0.27, -0.12), (0.32, 0.12), 0.03),
            Plate("raised", (0.38, -0.14), (0.525, 0.14), 0.05),
            Line("glass", &[(0.395, -0.12), (0.44, -0.10), (0.45, 0.0), (0.44, 0.10), (0.395, 0.12)]),
            Plate("top", (0.265, -0.20), (0.47, 0.20), 0.05),
            Line("motor", &[(0.88, 0.03), (1.03, 0.09)]),
            Round("motor", (1.035, 0.092), 0.022),
        ],
        HullForm::Skiff => &[
            OUTBOARD,
            Trunk("sole", 0.05, 0.80, 0.84),
            Line("deck", &[(0.80, -0.29), (0.80, 0.29)]),
            Plate("raised", (0.16, -0.37), (0.215, 0.37), 0.02),
            Plate("raised", (0.385, -0.12), (0.525, 0.13), 0.04),
            Line("glass", &[(0.40, -0.10), (0.43, 0.0), (0.40, 0.11)]),
            Plate("raised", (0.62, -0.33), (0.665, 0.33), 0.02),
        ],
        HullForm::DualConsole => &[
            OUTBOARD,
            Trunk("sole", 0.09, 0.90, 0.84),
            Plate("raised", (0.02, -0.32), (0.08, 0.32), 0.03),
            Plate("raised", (0.34, 0.12), (0.40, 0.34), 0.03),
            Plate("raised", (0.34, -0.34), (0.40, -0.12), 0.03),
            Plate("raised", (0.47, 0.11), (0.60, 0.42), 0.04),
            Plate("raised", (0.47, -0.42), (0.60, -0.11), 0.04),
            Line("glass", &[(0.47, 0.46), (0.575, 0.38), (0.595, 0.11)]),
            Line("glass", &[(0.47, -0.46), (0.575, -0.38), (0.595, -0.11)]),
            Inset("deck", 0.64, 0.88, 0.48),
            Line("deck", &[(0.64, -0.24), (0.64, -0.41)]),
            Line("deck", &[(0.64, 0.24), (0.64, 0.41)]),
            Plate("top", (0.30, -0.38), (0.54, 0.38), 0.05),
        ],
        HullForm::Walkaround => &[
            OUTBOARD,
            Trunk("sole", 0.09, 0.47, 0.84),
            Plate("raised", (0.02, -0.32), (0.08, 0.32), 0.03),
            Trunk("raised", 0.47, 0.90, 0.62),
            Plate("raised", (0.35, 0.07), (0.405, 0.25), 0.03),
            Plate("raised", (0.35, -0.25), (0.405, -0.07), 0.03),
            Line("glass", &[(0.47, -0.30), (0.55, -0.24), (0.575, 0.0), (0.55, 0.24), (0.47, 0.30)]),
            Plate("deck", (0.70, -0.09), (0.77, 0.09), 0.02),
            Inset("deck", 0.47, 0.97, 0.93),
            Plate("top", (0.31, -0.30), (0.545, 0.30), 0.05),
        ],
        HullForm::Express => &[
            Plate("raised", (-0.06, -0.40), (-0.002, 0.40), 0.03),
            Trunk("sole", 0.06, 0.47, 0.84),
            Plate("deck", (0.07, -0.20), (0.24, 0.20), 0.02),
            Plate("raised", (0.26, -0.40), (0.33, -0.05), 0.03),
            Plate("raised", (0.345, 0.08), (0.395, 0.32), 0.03),
            Trunk("raised", 0.47, 0.93, 0.80),
            Line(
                "glass",
                &[
                    (0.40, -0.44),
                    (0.49, -0.36),
                    (0.535, -0.18),
                    (0.545, 0.0),
                    (0.535, 0.18),
                    (0.49, 0.36),
                    (0.40, 0.44),
                ],
            ),
            Plate("deck", (0.63, -0.08), (0.69, 0.08), 0.02),
            Round("deck", (0.80, 0.0), 0.06),
            Plate("deck", (0.885, -0.035), (0.93, 0.035), 0.01),
            Plate("top", (0.27, -0.40), (0.41, 0.40), 0.05),
        ],
        HullForm::Pontoon => &[
            OUTBOARD,
            Line("rail", &[(0.09, -0.12), (0.09, -0.475), (0.93, -0.475), (0.965, -0.39), (0.965, -0.10)]),
            Line("rail", &[(0.965, 0.10), (0.965, 0.39), (0.93, 0.475), (0.09, 0.475), (0.09, 0.12)]),
            Plate("raised", (0.10, -0.46), (0.19, 0.05), 0.03),
            Plate("raised", (0.16, 0.31), (0.33, 0.46), 0.03),
            Plate("raised", (0.30, -0.46), (0.52, -0.32), 0.03),
            Plate("raised", (0.68, -0.46), (0.90, -0.31), 0.03),
            Plate("raised", (0.68, 0.31), (0.90, 0.46), 0.03),
            Plate("raised", (0.375, 0.19), (0.42, 0.36), 0.03),
            Plate("raised", (0.455, 0.15), (0.53, 0.46), 0.03),
            Line("glass", &[(0.485, 0.18), (0.515, 0.30), (0.485, 0.42)]),
            Plate("top", (0.20, -0.47), (0.45, 0.47), 0.04),
        ],
        HullForm::AluminumUtility => &[
            OUTBOARD,
            Trunk("sole", 0.10, 0.74, 0.86),
            Line("deck", &[(0.10, -0.40), (0.10, 0.40)]),
            Line("rib", &[(0.18, -0.40), (0.18, 0.40)]),
            Line("rib", &[(0.60, -0.42), (0.60, 0.42)]),
            Line("rib", &[(0.68, -0.40), (0.68, 0.40)]),
            Plate("raised", (0.26, -0.42), (0.345, 0.42), 0.01),
            Plate("raised", (0.37, 0.20), (0.415, 0.38), 0.03),
            Plate("raised", (0.465, 0.20), (0.54, 0.42), 0.02),
            Line("glass", &[(0.475, 0.22), (0.51, 0.30), (0.475, 0.40)]),
            Line("deck", &[(0.74, -0.37), (0.74, 0.37)]),
            Plate("deck", (0.77, -0.12), (0.86, 0.12), 0.01),
            Inset("deck", 0.74, 0.985, 0.86),
            Line("deck", &[(0.985, -0.17), (0.985, 0.17)]),
        ],
        HullForm::SailingMonohull => &[
            Trunk("raised", 0.36, 0.84, 0.58),
            Ring("sole", &[(0.05, -0.20), (0.35, -0.27), (0.35, 0.27), (0.05, 0.20)]),
            Line("deck", &[(0.05, -0.11), (0.35, -0.14)]),
            Line("deck", &[(0.05, 0.11), (0.35, 0.14)]),
            Line("wheel", &[(0.145, -0.10), (0.145, 0.10)]),
            Plate("deck", (0.36, -0.07), (0.42, 0.07), 0.01),
            Plate("glass", (0.44, -0.19), (0.54, -0.15), 0.01),
            Plate("glass", (0.44, 0.15), (0.54, 0.19), 0.01),
            Plate("deck", (0.72, -0.07), (0.77, 0.07), 0.01),
            Inset("deck", 0.0, 0.99, 0.93),
            Line("rigging", &[(0.60, 0.0), (1.0, 0.0)]),
            Line("rigging", &[(0.60, 0.0), (0.565, 0.47)]),
            Line("rigging", &[(0.60, 0.0), (0.565, -0.47)]),
            Line("rigging", &[(0.60, 0.0), (0.0, 0.0)]),
            Line("boom", &[(0.60, 0.0), (0.21, 0.0)]),
            Round("mast", (0.60, 0.0), 0.028),
        ],
        HullForm::Catamaran => &[
            Ring("net", &[(0.69, -0.29), (0.89, -0.29), (0.89, 0.29), (0.69, 0.29)]),
            Line("net", &[(0.74, -0.29), (0.74, 0.29)]),
            Line("net", &[(0.79, -0.29), (0.79, 0.29)]),
            Line("net", &[(0.84, -0.29), (0.84, 0.29)]),
            Line("net", &[(0.69, -0.15), (0.89, -0.15)]),
            Line("net", &[(0.69, 0.0), (0.89, 0.0)]),
            Line("net", &[(0.69, 0.15), (0.89, 0.15)]),
            Line("beam", &[(0.89, -0.39), (0.89, 0.39)]),
            Plate("sole", (0.07, -0.28), (0.30, 0.28), 0.02),
            Plate("raised", (0.09, -0.27), (0.13, 0.27), 0.01),
            Plate("raised", (0.30, -0.29), (0.64, 0.29), 0.08),
            Line("glass", &[(0.57, -0.26), (0.615, -0.18), (0.625, 0.0), (0.615, 0.18), (0.57, 0.26)]),
            Line("wheel", &[(0.325, 0.11), (0.325, 0.21)]),
            Plate("deck", (0.60, -0.42), (0.64, -0.36), 0.01),
            Plate("deck", (0.60, 0.36), (0.64, 0.42), 0.01),
            Plate("top", (0.14, -0.25), (0.40, 0.25), 0.04),
        ],
    }
}
