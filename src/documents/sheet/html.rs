//! The same document as HTML: no script, and for a screen of any width.

use std::fmt::Write;

use super::drawing::{Drawing, Fill, Line, Shape};
use super::{Block, RowKind, Sheet, Side, Table, Text, Tone};

/// The style of a page.
const STYLE: &str = include_str!("../templates/sheet.css");

/// A whole page.
pub fn html(sheet: &Sheet) -> String {
    let mut out = String::with_capacity(16 * 1024);
    let _ = write!(
        out,
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{}</title>\n\
         <style>{STYLE}</style>\n</head>\n<body>\n<main>\n",
        escaped(&sheet.title)
    );
    blocks(&sheet.blocks, &mut out);
    out.push_str("</main>\n");
    if !sheet.foot.is_empty() {
        let _ = writeln!(out, "<footer><p>{}</p></footer>", escaped(&sheet.foot));
    }
    out.push_str("</body>\n</html>\n");
    out
}

/// Blocks for the inside of a page.
pub fn html_of(of: &[Block]) -> String {
    let mut out = String::new();
    blocks(of, &mut out);
    out
}

fn blocks(blocks: &[Block], out: &mut String) {
    for block in blocks {
        match block {
            Block::Letterhead { name, lines } => {
                let _ = writeln!(out, "<div class=\"letterhead\"><p class=\"shop\">{}</p>", escaped(name));
                if !lines.is_empty() {
                    let lines: Vec<String> = lines.iter().map(|line| escaped(line)).collect();
                    let _ = writeln!(out, "<address>{}</address>", lines.join("<br>"));
                }
                out.push_str("</div>\n");
            }
            Block::Title(title, below) => {
                let _ = writeln!(out, "<h1>{}</h1>", escaped(title));
                if let Some(below) = below {
                    let _ = writeln!(out, "<p class=\"about\">{}</p>", escaped(below));
                }
            }
            Block::Heading(text) => element(out, "h2", &text.into()),
            Block::SubHeading(text) => element(out, "h3", &text.into()),
            Block::Paragraph(text) => element(out, "p", text),
            Block::Small(text) => {
                let _ = writeln!(out, "<p class=\"small\">{}</p>", spans(text));
            }
            Block::Facts(facts) => terms(out, "facts", facts),
            Block::Sums(sums) => terms(out, "sums", sums),
            Block::List(points) => {
                out.push_str("<ul>\n");
                points.iter().for_each(|point| element(out, "li", point));
                out.push_str("</ul>\n");
            }
            Block::Notice(texts) => {
                out.push_str("<div class=\"notice\">\n");
                texts.iter().for_each(|text| element(out, "p", text));
                out.push_str("</div>\n");
            }
            Block::Table(table) => tabled(out, table),
            Block::Drawing(drawing) => drawn(out, drawing),
            Block::Signatures(what) => {
                out.push_str("<div class=\"sign\">\n");
                what.iter().for_each(|text| element(out, "p", &text.into()));
                out.push_str("</div>\n");
            }
            Block::NewPage => out.push_str("<hr class=\"page\">\n"),
        }
    }
}

fn element(out: &mut String, name: &str, text: &Text) {
    let _ = writeln!(out, "<{name}>{}</{name}>", spans(text));
}

fn terms(out: &mut String, class: &str, terms: &[(String, Text)]) {
    let _ = writeln!(out, "<dl class=\"{class}\">");
    for (name, text) in terms {
        let _ = writeln!(out, "<div><dt>{}</dt><dd>{}</dd></div>", escaped(name), spans(text));
    }
    out.push_str("</dl>\n");
}

fn tabled(out: &mut String, table: &Table) {
    // A table that is wider than a telephone is moved within its own frame, also by the keyboard.
    let label = if table.caption.is_empty() { "Table".to_owned() } else { escaped(&table.caption) };
    let _ = writeln!(out, "<div class=\"wide\" role=\"region\" tabindex=\"0\" aria-label=\"{label}\"><table>");
    if !table.caption.is_empty() {
        let _ = writeln!(out, "<caption>{}</caption>", escaped(&table.caption));
    }
    let side = |place: usize| match table.columns.get(place).map(|column| column.side) {
        Some(Side::Right) => " class=\"figure\"",
        _ => "",
    };
    if table.columns.iter().any(|column| !column.title.is_empty()) {
        out.push_str("<thead><tr>");
        for (place, column) in table.columns.iter().enumerate() {
            // A heading that says nothing is a cell and no heading.
            let cell = if column.title.is_empty() { "td" } else { "th" };
            let scope = if column.title.is_empty() { "" } else { " scope=\"col\"" };
            let _ = write!(out, "<{cell}{scope}{}>{}</{cell}>", side(place), escaped(&column.title));
        }
        out.push_str("</tr></thead>\n");
    }
    out.push_str("<tbody>\n");
    for row in &table.rows {
        match row.kind {
            RowKind::Group => {
                let text = row.cells.first().map(spans).unwrap_or_default();
                let columns = table.columns.len();
                let _ =
                    writeln!(out, "<tr class=\"group\"><th scope=\"rowgroup\" colspan=\"{columns}\">{text}</th></tr>");
                continue;
            }
            RowKind::Plain => out.push_str("<tr>"),
            RowKind::Sum => out.push_str("<tr class=\"sum\">"),
            RowKind::Total => out.push_str("<tr class=\"total\">"),
        }
        for place in 0..table.columns.len() {
            let text = row.cells.get(place).map(spans).unwrap_or_default();
            let _ = write!(out, "<td{}>{text}</td>", side(place));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table></div>\n");
}

fn spans(text: &Text) -> String {
    let mut out = String::new();
    for span in &text.0 {
        let said = escaped(&span.text).replace('\n', "<br>");
        match span.tone {
            Tone::Plain => out.push_str(&said),
            Tone::Strong => {
                let _ = write!(out, "<strong>{said}</strong>");
            }
            Tone::Quiet => {
                let _ = write!(out, "<span class=\"quiet\">{said}</span>");
            }
        }
    }
    out
}

fn drawn(out: &mut String, drawing: &Drawing) {
    let (wide, tall) = drawing.size;
    let _ =
        writeln!(out, "<svg viewBox=\"0 0 {wide} {tall}\" role=\"img\" aria-label=\"{}\">", escaped(&drawing.title));
    let paint = |line: &Option<Line>, fill: &Option<Fill>| {
        let fill = fill.map_or("none".to_owned(), |Fill(r, g, b)| format!("#{r:02x}{g:02x}{b:02x}"));
        let stroke = line.map_or(String::new(), |Line { width, dashed, colour: (r, g, b) }| {
            let dash =
                if dashed { format!(" stroke-dasharray=\"{} {}\"", width * 4.0, width * 3.0) } else { String::new() };
            format!(" stroke=\"#{r:02x}{g:02x}{b:02x}\" stroke-width=\"{width}\"{dash}")
        });
        format!("fill=\"{fill}\"{stroke}")
    };
    for shape in &drawing.shapes {
        let _ = match shape {
            Shape::Path { points, closed, line, fill } => {
                let mut d = String::new();
                for (place, (x, y)) in points.iter().enumerate() {
                    let _ = write!(d, "{}{x} {y}", if place == 0 { "M" } else { " L" });
                }
                let z = if *closed { " Z" } else { "" };
                writeln!(out, "<path d=\"{d}{z}\" {}/>", paint(line, fill))
            }
            Shape::Circle { centre: (x, y), radius, line, fill } => {
                writeln!(out, "<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" {}/>", paint(line, fill))
            }
            Shape::Label { at: (x, y), anchor, size, strong, text } => {
                let anchor = if *anchor < 0.25 {
                    "start"
                } else if *anchor > 0.75 {
                    "end"
                } else {
                    "middle"
                };
                let weight = if *strong { " font-weight=\"bold\"" } else { "" };
                writeln!(
                    out,
                    "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" text-anchor=\"{anchor}\"{weight}>{}</text>",
                    escaped(text)
                )
            }
        };
    }
    out.push_str("</svg>\n");
}

fn escaped(text: &str) -> String {
    crate::svg::escaped(text)
}
