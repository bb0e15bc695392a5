//! Drawings as shapes: what SVG and PDF both can show.

/// A drawing in units of its own; it is scaled to the room that it gets.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// What it shows, for those who do not see it.
    pub title: String,
    /// Width and height, units of the drawing.
    pub size: (f32, f32),
    /// Points of 1/72 in that a unit of the drawing takes at most on paper.
    pub scale_max: f32,
    /// What is drawn, the first at the bottom.
    pub shapes: Vec<Shape>,
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Width, units of the drawing.
    pub width: f32,
    /// Whether it is dashed.
    pub dashed: bool,
    /// Red, green, blue.
    pub colour: (u8, u8, u8),
}

/// What is inside a shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fill(pub u8, pub u8, pub u8);

/// A part of a drawing.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// Lines through points.
    Path {
        /// The points.
        points: Vec<(f32, f32)>,
        /// Whether the last is joined to the first.
        closed: bool,
        /// Its line.
        line: Option<Line>,
        /// What is inside.
        fill: Option<Fill>,
    },
    /// A circle.
    Circle {
        /// Its middle.
        centre: (f32, f32),
        /// Its radius.
        radius: f32,
        /// Its line.
        line: Option<Line>,
        /// What is inside.
        fill: Option<Fill>,
    },
    /// A line of text on its base line.
    Label {
        /// Where it is anchored.
        at: (f32, f32),
        /// Where the anchor is: 0 at its beginning, 0.5 in its middle, 1 at its end.
        anchor: f32,
        /// Height of the type, units of the drawing.
        size: f32,
        /// Whether it is bold.
        strong: bool,
        /// What it says.
        text: String,
    },
}
