//! Pages as PDF. No date and no chance goes in: the same sheet gives the same bytes.

use std::cell::RefCell;

use krilla::color::rgb::Color;
use krilla::geom::{PathBuilder, Point};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill as PdfFill, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Document, SerializeSettings};

use super::drawing::{Fill, Line, Shape};
use super::flow::{Mark, pages};
use super::text::{FACES, Run, set};
use super::{Paper, Sheet, Text, Tone};

/// Shade of what is set quietly: dark enough for a copy of a copy.
const QUIET: u8 = 0x55;
/// How far the handles of a quarter of a circle are from its ends, by its radius.
const QUARTER: f32 = 0.552_285;

thread_local! {
    static FONTS: RefCell<Option<[Font; 2]>> = const { RefCell::new(None) };
}

fn fonts() -> [Font; 2] {
    FONTS.with_borrow_mut(|kept| {
        kept.get_or_insert_with(|| FACES.map(|face| Font::new(face.into(), 0).expect("the fonts are whole"))).clone()
    })
}

/// Writes a document on paper.
pub fn pdf(sheet: &Sheet, paper: Paper) -> Vec<u8> {
    let settings = SerializeSettings::default();
    let mut document = Document::new_with(settings);
    document.set_metadata(Metadata::new().title(sheet.title.clone()).language("en".to_owned()));
    let fonts = fonts();
    let (wide, tall) = paper.size_pt();
    for marks in pages(sheet, paper) {
        let mut page = document.start_page_with(PageSettings::from_wh(wide, tall).expect("paper has a size"));
        let mut surface = page.surface();
        for mark in &marks {
            draw(&mut surface, mark, &fonts);
        }
        surface.finish();
        page.finish();
    }
    document.finish().expect("text and lines can always be written")
}

fn draw(surface: &mut Surface<'_>, mark: &Mark, fonts: &[Font; 2]) {
    match mark {
        Mark::Type { x, y, size, run } => typed(surface, (*x, *y), *size, run, fonts),
        Mark::Rule { from, to, width, grey } => {
            let line = Line { width: *width, dashed: false, colour: (*grey, *grey, *grey) };
            path(surface, &[*from, *to], false, (Some(line), None));
        }
        Mark::Drawn { at, scale, shape } => drawn(surface, *at, *scale, shape, fonts),
    }
}

fn typed(surface: &mut Surface<'_>, (x, y): (f32, f32), size: f32, run: &Run, fonts: &[Font; 2]) {
    let grey = if run.tone == Tone::Quiet { QUIET } else { 0 };
    surface.set_stroke(None);
    surface.set_fill(Some(filled(Fill(grey, grey, grey))));
    let glyph = |glyph: &super::text::Glyph| {
        let (dx, dy) = glyph.offset;
        let place = (glyph.advance / size, dx / size, dy / size);
        KrillaGlyph::new(GlyphId::new(glyph.id), place.0, place.1, place.2, 0.0, glyph.range.clone(), None)
    };
    let glyphs: Vec<KrillaGlyph> = run.glyphs.iter().map(glyph).collect();
    let font = fonts[usize::from(run.strong)].clone();
    surface.draw_glyphs(Point::from_xy(x, y), &glyphs, font, &run.text, size, false);
}

fn filled(Fill(r, g, b): Fill) -> PdfFill {
    PdfFill { paint: Color::new(r, g, b).into(), opacity: NormalizedF32::ONE, rule: krilla::paint::FillRule::default() }
}

fn style(surface: &mut Surface<'_>, line: Option<Line>, fill: Option<Fill>) {
    surface.set_fill(fill.map(filled));
    surface.set_stroke(line.map(|Line { width, dashed, colour: (r, g, b) }| Stroke {
        paint: Color::new(r, g, b).into(),
        width,
        dash: dashed.then(|| StrokeDash { array: vec![width * 4.0, width * 3.0], offset: 0.0 }),
        ..Stroke::default()
    }));
}

fn path(surface: &mut Surface<'_>, points: &[(f32, f32)], closed: bool, (line, fill): (Option<Line>, Option<Fill>)) {
    let mut builder = PathBuilder::new();
    for (place, (x, y)) in points.iter().enumerate() {
        match place {
            0 => builder.move_to(*x, *y),
            _ => builder.line_to(*x, *y),
        }
    }
    if closed {
        builder.close();
    }
    // Fewer than two points are no line.
    if let Some(path) = builder.finish() {
        style(surface, line, fill);
        surface.draw_path(&path);
    }
}

fn drawn(surface: &mut Surface<'_>, at: (f32, f32), scale: f32, shape: &Shape, fonts: &[Font; 2]) {
    let to = |(x, y): (f32, f32)| (at.0 + x * scale, at.1 + y * scale);
    let scaled = |line: &Option<Line>| line.map(|line| Line { width: line.width * scale, ..line });
    match shape {
        Shape::Path { points, closed, line, fill } => {
            let points: Vec<_> = points.iter().copied().map(to).collect();
            path(surface, &points, *closed, (scaled(line), *fill));
        }
        Shape::Circle { centre, radius, line, fill } => {
            let ((x, y), r) = (to(*centre), radius * scale);
            let handle = r * QUARTER;
            let mut builder = PathBuilder::new();
            builder.move_to(x + r, y);
            builder.cubic_to(x + r, y + handle, x + handle, y + r, x, y + r);
            builder.cubic_to(x - handle, y + r, x - r, y + handle, x - r, y);
            builder.cubic_to(x - r, y - handle, x - handle, y - r, x, y - r);
            builder.cubic_to(x + handle, y - r, x + r, y - handle, x + r, y);
            builder.close();
            if let Some(path) = builder.finish() {
                style(surface, scaled(line), *fill);
                surface.draw_path(&path);
            }
        }
        Shape::Label { at: anchor_at, anchor, size, strong, text } => {
            let (x, y) = to(*anchor_at);
            let text = if *strong { Text::strong(text.clone()) } else { text.clone().into() };
            let size = size * scale;
            for line in set(&text, size, *strong, f32::MAX).into_iter().take(1) {
                let x = x - line.width * anchor;
                for run in &line.runs {
                    typed(surface, (x + run.x, y), size, run, fonts);
                }
            }
        }
    }
}
