//! From blocks to pages: each block becomes pieces of a height, and the pieces are put below each other until a page is
//! full. A piece is never cut; a heading stays with what follows it; a table's heading begins each page that its rows do.

use super::drawing::{Drawing, Shape};
use super::table;
use super::text::{Run, SetLine, set, width};
use super::{Block, Paper, Sheet, Side, Text};

/// Room at the left and right, points.
const MARGIN_PT: f32 = 54.0;
/// Room at the top and at the bottom, points.
const TOP_PT: f32 = 56.0;
const BOTTOM_PT: f32 = 60.0;
/// Base line of the foot and the running head from the edge of the paper, points.
const FOOT_PT: f32 = 34.0;
const HEAD_PT: f32 = 38.0;
/// Sizes of type, points.
pub(super) const BODY_PT: f32 = 9.5;
pub(super) const SMALL_PT: f32 = 8.0;
const TITLE_PT: f32 = 19.0;
const NAME_PT: f32 = 13.0;
const HEADING_PT: f32 = 12.0;
const SUBHEADING_PT: f32 = 10.0;
const SUM_PT: f32 = 14.0;
/// Where the text of a point begins, and a fact's at least, points.
const INDENT_PT: f32 = 11.0;
const FACT_PT: f32 = 80.0;
/// Shades of grey.
const HAIR: u8 = 0xbb;
const DARK: u8 = 0x22;

/// What is put on a page, by points from the piece's or the page's upper left corner.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Mark {
    /// Glyphs on a base line.
    Type { x: f32, y: f32, size: f32, run: Run },
    /// A straight line.
    Rule { from: (f32, f32), to: (f32, f32), width: f32, grey: u8 },
    /// A shape of a drawing, with the drawing's corner and scale.
    Drawn { at: (f32, f32), scale: f32, shape: Shape },
}

impl Mark {
    fn moved(&self, (dx, dy): (f32, f32)) -> Mark {
        let by = |(x, y): (f32, f32)| (x + dx, y + dy);
        match self.clone() {
            Mark::Type { x, y, size, run } => Mark::Type { x: x + dx, y: y + dy, size, run },
            Mark::Rule { from, to, width, grey } => Mark::Rule { from: by(from), to: by(to), width, grey },
            Mark::Drawn { at, scale, shape } => Mark::Drawn { at: by(at), scale, shape },
        }
    }
}

/// Something that is never cut.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Piece {
    /// Room above it, left out at the top of a page, points.
    pub(super) gap: f32,
    /// Its height, points.
    pub(super) height: f32,
    /// Whether the next piece must be on the same page.
    pub(super) sticks: bool,
    /// Whether it begins a page.
    pub(super) new_page: bool,
    /// The heading, by its place, that is put above it where it begins a page.
    pub(super) head: Option<usize>,
    /// What is on it.
    pub(super) marks: Vec<Mark>,
}

/// The pieces of a document.
pub(super) struct Pieces {
    /// Width that there is, points.
    pub(super) width: f32,
    /// Height of a page's content, points.
    pub(super) page: f32,
    /// The pieces, in order.
    pub(super) out: Vec<Piece>,
    /// Headings of tables.
    pub(super) heads: Vec<Piece>,
}

impl Pieces {
    fn block(&mut self, block: &Block) {
        match block {
            Block::Letterhead { name, lines } => self.letterhead(name, lines),
            Block::Title(title, below) => {
                self.lines(&title.into(), (TITLE_PT, true), (14.0, 0.0), true);
                if let Some(below) = below {
                    self.lines(&Text::default().quiet(below), (BODY_PT, false), (1.0, 0.0), true);
                }
            }
            Block::Heading(text) => self.lines(&text.into(), (HEADING_PT, true), (15.0, 0.0), true),
            Block::SubHeading(text) => self.lines(&text.into(), (SUBHEADING_PT, true), (9.0, 0.0), true),
            Block::Paragraph(text) => self.lines(text, (BODY_PT, false), (5.0, 0.0), false),
            Block::Small(text) => self.lines(text, (SMALL_PT, false), (4.0, 0.0), false),
            Block::Facts(facts) => self.facts(facts),
            Block::Sums(sums) => self.sums(sums),
            Block::List(points) => points.iter().for_each(|point| self.point(point)),
            Block::Notice(texts) => self.notice(texts),
            Block::Table(table) => table::pieces(table, self),
            Block::Drawing(drawing) => self.drawing(drawing),
            Block::Signatures(what) => self.signatures(what),
            Block::NewPage => self.out.push(Piece { new_page: true, ..Piece::default() }),
        }
    }

    /// Lines of a text from `x` on, after a gap; the first two and the last two stay together, and all of them where they
    /// stick to what follows.
    fn lines(&mut self, text: &Text, (size, strong): (f32, bool), (gap, x): (f32, f32), sticks: bool) {
        let set = set(text, size, strong, self.width - x);
        let count = set.len();
        for (place, line) in set.into_iter().enumerate() {
            let orphan = place == 0 || place + 2 == count;
            self.out.push(Piece {
                gap: if place == 0 { gap } else { 0.0 },
                height: line.height,
                sticks: sticks || (place + 1 < count && orphan),
                marks: typed(line, (x, 0.0), size),
                ..Piece::default()
            });
        }
    }

    fn letterhead(&mut self, name: &str, lines: &[String]) {
        let name = set(&name.into(), NAME_PT, true, self.width * 0.55);
        let mut left = 0.0;
        let mut marks = Vec::new();
        for line in name {
            let height = line.height;
            marks.extend(typed(line, (0.0, left), NAME_PT));
            left += height;
        }
        let mut right = 2.0;
        for text in lines {
            for line in set(&Text::default().quiet(text), SMALL_PT, false, self.width * 0.42) {
                let (height, x) = (line.height, self.width - line.width);
                marks.extend(typed(line, (x, right), SMALL_PT));
                right += height;
            }
        }
        let height = left.max(right) + 6.0;
        marks.push(Mark::Rule { from: (0.0, height), to: (self.width, height), width: 1.2, grey: DARK });
        self.out.push(Piece { height: height + 2.0, marks, ..Piece::default() });
    }

    fn point(&mut self, text: &Text) {
        let at = self.out.len();
        self.lines(text, (BODY_PT, false), (2.5, INDENT_PT), false);
        if let Some(first) = self.out.get_mut(at) {
            for line in set(&"\u{2022}".into(), BODY_PT, false, INDENT_PT) {
                first.marks.extend(typed(line, (1.5, 0.0), BODY_PT));
            }
        }
    }

    fn facts(&mut self, facts: &[(String, Text)]) {
        let quiet = |name: &String| Text::default().quiet(name);
        let widest = facts.iter().map(|(name, _)| width(&quiet(name), BODY_PT, false)).fold(0.0, f32::max);
        let x = (widest + 14.0).clamp(FACT_PT, self.width * 0.4);
        for (place, (name, text)) in facts.iter().enumerate() {
            let at = self.out.len();
            self.lines(text, (BODY_PT, false), (if place == 0 { 10.0 } else { 1.5 }, x), false);
            let named = set(&quiet(name), BODY_PT, false, x - 10.0);
            let room = named.len().saturating_sub(self.out.len() - at);
            self.out.extend((0..room).map(|_| Piece { height: BODY_PT * 1.36, ..Piece::default() }));
            for (piece, line) in self.out[at..].iter_mut().zip(named) {
                piece.marks.extend(typed(line, (0.0, 0.0), BODY_PT));
            }
        }
    }

    fn sums(&mut self, sums: &[(String, Text)]) {
        let x = self.width * 0.36;
        for (place, (name, text)) in sums.iter().enumerate() {
            let mut marks = Vec::new();
            if place == 0 {
                marks.push(Mark::Rule { from: (0.0, 0.0), to: (self.width, 0.0), width: 0.6, grey: HAIR });
            }
            let size = if place == 0 { SUM_PT } else { SUBHEADING_PT };
            let mut height = 5.0;
            let shown = set(text, size, place == 0, self.width - x);
            let base = shown.first().map_or(0.0, |line| line.baseline);
            for line in shown {
                let tall = line.height;
                marks.extend(typed(line, (x, height), size));
                height += tall;
            }
            for line in set(&name.into(), BODY_PT, false, x - 10.0) {
                let y = 5.0 + base - line.baseline;
                marks.extend(typed(line, (0.0, y), BODY_PT));
            }
            height += 5.0;
            marks.push(Mark::Rule { from: (0.0, height), to: (self.width, height), width: 0.6, grey: HAIR });
            let gap = if place == 0 { 10.0 } else { 0.0 };
            self.out.push(Piece { gap, height, marks, sticks: place + 1 < sums.len(), ..Piece::default() });
        }
    }

    fn notice(&mut self, texts: &[Text]) {
        let from = self.out.len();
        for (place, text) in texts.iter().enumerate() {
            self.lines(text, (BODY_PT, false), (if place == 0 { 8.0 } else { 3.0 }, INDENT_PT), false);
        }
        for (place, piece) in self.out[from..].iter_mut().enumerate() {
            // The bar goes on through the room between two texts.
            let above = if place == 0 { 0.0 } else { -piece.gap };
            piece.marks.push(Mark::Rule { from: (2.0, above), to: (2.0, piece.height), width: 2.5, grey: DARK });
        }
    }

    fn drawing(&mut self, drawing: &Drawing) {
        let (wide, tall) = drawing.size;
        if wide <= 0.0 || tall <= 0.0 {
            return;
        }
        let scale = (self.width / wide).min(self.page * 0.92 / tall).min(drawing.scale_max);
        let x = (self.width - wide * scale) / 2.0;
        let marks =
            drawing.shapes.iter().map(|shape| Mark::Drawn { at: (x, 0.0), scale, shape: shape.clone() }).collect();
        self.out.push(Piece { gap: 8.0, height: tall * scale, marks, ..Piece::default() });
    }

    fn signatures(&mut self, what: &[String]) {
        let each = self.width / what.len().max(1) as f32;
        let mut marks = Vec::new();
        for (place, text) in what.iter().enumerate() {
            let x = each * place as f32;
            marks.push(Mark::Rule { from: (x, 30.0), to: (x + each - 18.0, 30.0), width: 0.6, grey: DARK });
            for line in set(&Text::default().quiet(text), SMALL_PT, false, each - 18.0).into_iter().take(1) {
                marks.extend(typed(line, (x, 32.0), SMALL_PT));
            }
        }
        self.out.push(Piece { gap: 18.0, height: 46.0, marks, ..Piece::default() });
    }
}

/// The marks of a line, its upper left corner at `x`, `y`.
pub(super) fn typed(line: SetLine, (x, y): (f32, f32), size: f32) -> Vec<Mark> {
    let at = |run: Run| Mark::Type { x: x + run.x, y: y + line.baseline, size, run };
    line.runs.into_iter().map(at).collect()
}

/// A line of type at the left or the right end of a width, on a base line.
fn edge(text: &str, side: Side, (x, width): (f32, f32), base: f32) -> Vec<Mark> {
    let Some(line) = set(&Text::default().quiet(text), SMALL_PT, false, width).into_iter().next() else {
        return Vec::new();
    };
    let x = if side == Side::Right { x + width - line.width } else { x };
    let y = base - line.baseline;
    typed(line, (x, y), SMALL_PT)
}

/// The pages of a document: what is on each of them, by points from the upper left corner of the paper.
pub(super) fn pages(sheet: &Sheet, paper: Paper) -> Vec<Vec<Mark>> {
    let (wide, tall) = paper.size_pt();
    let room = tall - TOP_PT - BOTTOM_PT;
    let mut pieces = Pieces { width: wide - 2.0 * MARGIN_PT, page: room, out: Vec::new(), heads: Vec::new() };
    sheet.blocks.iter().for_each(|block| pieces.block(block));
    let (width, Pieces { out, heads, .. }) = (pieces.width, pieces);

    let mut pages: Vec<Vec<Mark>> = vec![Vec::new()];
    let mut y = 0.0;
    let mut at = 0;
    while at < out.len() {
        let group = 1 + out[at..].iter().take_while(|piece| piece.sticks).count();
        let group = &out[at..(at + group).min(out.len())];
        let tall: f32 =
            group.iter().enumerate().map(|(i, of)| of.height + if i == 0 && y == 0.0 { 0.0 } else { of.gap }).sum();
        let fresh = y == 0.0;
        // What is taller than a page is let go piece by piece.
        let together = tall <= room;
        if (group[0].new_page || (together && y + tall > room)) && !fresh {
            pages.push(Vec::new());
            y = 0.0;
        }
        for piece in group {
            let needed = piece.height + if y == 0.0 { 0.0 } else { piece.gap };
            if y > 0.0 && y + needed > room {
                pages.push(Vec::new());
                y = 0.0;
            }
            let page = pages.last_mut().expect("there is always a page");
            if y == 0.0 {
                if let Some(head) = piece.head.map(|place| &heads[place]) {
                    page.extend(head.marks.iter().map(|mark| mark.moved((MARGIN_PT, TOP_PT))));
                    y += head.height;
                }
            } else {
                y += piece.gap;
            }
            page.extend(piece.marks.iter().map(|mark| mark.moved((MARGIN_PT, TOP_PT + y))));
            y += piece.height;
        }
        at += group.len();
    }

    let count = pages.len();
    for (place, page) in pages.iter_mut().enumerate() {
        let across = (MARGIN_PT, width);
        page.extend(edge(&sheet.foot, Side::Left, (MARGIN_PT, width - 90.0), tall - FOOT_PT));
        page.extend(edge(&format!("Page {} of {count}", place + 1), Side::Right, across, tall - FOOT_PT));
        if place > 0 {
            page.extend(edge(&sheet.head.0, Side::Left, (MARGIN_PT, width * 0.6), HEAD_PT));
            page.extend(edge(&sheet.head.1, Side::Right, across, HEAD_PT));
        }
    }
    pages
}
