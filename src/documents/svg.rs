//! Just enough of SVG 1.1: elements with escaped attributes and text, numbers without noise.

use std::fmt::Write;

/// Writes one SVG document.
pub(super) struct Svg {
    out: String,
}

/// How a text stands to its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    /// It begins there.
    Start,
    /// Its middle is there.
    Middle,
    /// It ends there.
    End,
}

impl Svg {
    /// A document of a size in pixels, with what it is for those who do not see it, and its style sheet.
    pub(super) fn new((width, height): (f64, f64), title: &str, style: &str) -> Self {
        let (w, h) = (figure(width), figure(height));
        let mut svg = Svg { out: String::with_capacity(16 * 1024) };
        let _ = write!(
            svg.out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" height=\"{h}\" role=\"img\">\n\
             <title>{}</title>\n<style>{style}</style>\n",
            escaped(title)
        );
        svg
    }

    /// A path through points.
    pub(super) fn line(&mut self, class: &str, points: &[(f64, f64)], closed: bool) {
        let mut d = String::new();
        for (i, (x, y)) in points.iter().enumerate() {
            let _ = write!(d, "{}{} {}", if i == 0 { "M" } else { " L" }, figure(*x), figure(*y));
        }
        if closed {
            d.push_str(" Z");
        }
        let _ = writeln!(self.out, "<path class=\"{class}\" d=\"{d}\"/>");
    }

    /// A rectangle with rounded corners, by its opposite corners.
    pub(super) fn rectangle(&mut self, class: &str, (x0, y0): (f64, f64), (x1, y1): (f64, f64), round: f64) {
        let _ = writeln!(
            self.out,
            "<rect class=\"{class}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"{}\"/>",
            figure(x0.min(x1)),
            figure(y0.min(y1)),
            figure((x1 - x0).abs()),
            figure((y1 - y0).abs()),
            figure(round)
        );
    }

    /// A circle.
    pub(super) fn circle(&mut self, class: &str, (x, y): (f64, f64), radius: f64) {
        let (x, y, r) = (figure(x), figure(y), figure(radius));
        let _ = writeln!(self.out, "<circle class=\"{class}\" cx=\"{x}\" cy=\"{y}\" r=\"{r}\"/>");
    }

    /// A line of text on its base line.
    pub(super) fn text(&mut self, class: &str, (x, y): (f64, f64), anchor: Anchor, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let (x, y, text) = (figure(x), figure(y), escaped(text));
        let _ =
            writeln!(self.out, "<text class=\"{class}\" x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\">{text}</text>");
    }

    /// The whole document.
    pub(super) fn finish(mut self) -> String {
        self.out.push_str("</svg>\n");
        self.out
    }
}

/// A number to a tenth of a pixel.
fn figure(value: f64) -> String {
    let text = format!("{value:.1}");
    let short = text.strip_suffix(".0").unwrap_or(&text);
    if short == "-0" { "0".to_owned() } else { short.to_owned() }
}

/// Text for XML; what XML cannot hold at all is left out.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() => out.push(' '),
            '\u{fffe}' | '\u{ffff}' => {}
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_cannot_leave_its_element() {
        let mut svg = Svg::new((10.0, 20.5), "a & b", "");
        svg.text("label", (1.04, -0.01), Anchor::End, "</text><script>\u{1}\"");
        let out = svg.finish();
        assert!(out.contains("viewBox=\"0 0 10 20.5\"") && out.contains("<title>a &amp; b</title>"), "{out}");
        assert!(out.contains("x=\"1\" y=\"0\" text-anchor=\"end\">&lt;/text&gt;&lt;script&gt; &quot;</text>"), "{out}");
    }
}
