//! What is to be cut, as a table below the drawing; what does not fit and what would mend it; and what to mind.

use super::{Anchor, Svg, WIDTH, by, on_a_rule};
use calc::shop::item::{CutOut, Outline};
use calc::spec::input::Side;
use calc::take_off::{DashLayout, DashPart};

/// A line of text below the drawing.
enum Row {
    /// Cells of the table.
    Cells(&'static str, Vec<String>),
    /// Text over the whole width.
    Text(&'static str, String),
    /// Room.
    Air,
}

/// Everything below the drawing.
pub(super) struct Rows(Vec<Row>);

/// Where the columns begin, pixels.
const COLUMNS: [f64; 7] = [24.0, 60.0, 360.0, 560.0, 730.0, 860.0, 960.0];
/// Height of a row, pixels.
const LINE: f64 = 19.0;
/// Longest line of text, characters; of bold text.
const LONGEST: usize = 168;
const LONGEST_BOLD: usize = 132;
/// Longest description in the table, characters.
const DESCRIPTION: usize = 42;

/// The rows of a dash.
pub(super) fn rows(dash: &DashLayout) -> Rows {
    let mut rows = Vec::new();
    let head = ["", "part", "cut-out", "outline", "from centre line", "up", "depth behind"];
    if !dash.parts.is_empty() {
        rows.push(Row::Cells("head", head.map(str::to_owned).to_vec()));
        rows.extend(dash.parts.iter().map(|part| Row::Cells("small", cells(part))));
        rows.push(Row::Air);
    }
    for mend in &dash.mends {
        text(&mut rows, "alarm", &format!("To make it fit: {}.", mend.text));
    }
    for opening in &dash.old_openings {
        text(&mut rows, "small", &format!("{}: {}.", opening.name, opening.advice));
    }
    let key = "Full line: outline. Dashed: cut-out, saw inside it and file to fit. Hatched: kept clear. Dotted: reserved, or an \
               old opening (grey). Long dashes: least size of a plate.";
    text(&mut rows, "small", key);
    for advice in &dash.advice {
        text(&mut rows, "small", advice);
    }
    Rows(rows)
}

fn cells(part: &DashPart) -> Vec<String> {
    let cut = match &part.cut_out {
        CutOut::Rectangle { width, height, corner_radius } => {
            let radius = corner_radius.map_or(String::new(), |radius| format!(", R {}", on_a_rule(radius)));
            format!("{}{radius}", by((*width, *height)))
        }
        CutOut::Round { diameter } => format!("hole {}", on_a_rule(*diameter)),
    };
    let outline = match part.outline {
        Outline::Rectangle { width, height } => by((width, height)),
        Outline::Round { diameter } => format!("round {}", on_a_rule(diameter)),
    };
    let (across, up) = match &part.centre {
        Some(centre) => {
            let side = match centre.side {
                Some(Side::Port) => format!("{} to port", on_a_rule(centre.from_centre)),
                Some(Side::Starboard) => format!("{} to stbd", on_a_rule(centre.from_centre)),
                None => "on it".to_owned(),
            };
            (side, on_a_rule(centre.from_lower_edge))
        }
        None => ("not placed".to_owned(), String::new()),
    };
    let depth = part.depth.as_ref().map_or(String::new(), |depth| {
        let usual = if depth.usual { " (usual)" } else { "" };
        if depth.lacking.value > 0.0 {
            format!("needs {}{usual}: LACKS {}", on_a_rule(depth.needed), on_a_rule(depth.lacking))
        } else {
            format!("needs {}{usual}", on_a_rule(depth.needed))
        }
    });
    let mut description = part.description.clone();
    if description.chars().count() > DESCRIPTION {
        description = description.chars().take(DESCRIPTION - 1).chain(['…']).collect();
    }
    vec![part.mark.clone(), description, cut, outline, across, up, depth]
}

/// A text in lines that fit the sheet.
fn text(rows: &mut Vec<Row>, class: &'static str, text: &str) {
    let longest = if class == "alarm" { LONGEST_BOLD } else { LONGEST };
    let mut line = String::new();
    for word in text.split_whitespace() {
        if line.chars().count() + word.chars().count() + 1 > longest {
            rows.push(Row::Text(class, std::mem::take(&mut line)));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    rows.push(Row::Text(class, line));
}

impl Rows {
    /// How high they are, pixels.
    pub(super) fn height(&self) -> f64 {
        self.0.iter().map(Row::height).sum()
    }

    pub(super) fn draw(&self, svg: &mut Svg, top: f64) {
        let mut y = top;
        for row in &self.0 {
            y += row.height();
            match row {
                Row::Cells(class, cells) => {
                    svg.line("row", &[(24.0, y + 5.0), (WIDTH - 24.0, y + 5.0)], false);
                    for (place, (x, cell)) in COLUMNS.iter().zip(cells).enumerate() {
                        let class = if place == 0 { "head" } else { class };
                        svg.text(class, (*x, y), Anchor::Start, cell);
                    }
                }
                Row::Text(class, text) => svg.text(class, (24.0, y), Anchor::Start, text),
                Row::Air => {}
            }
        }
    }
}

impl Row {
    fn height(&self) -> f64 {
        if matches!(self, Row::Air) { LINE / 2.0 } else { LINE }
    }
}
