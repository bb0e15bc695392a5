//! Setting of type: a text becomes lines of glyphs of a width. Fonts come with the program, so that a document looks the
//! same wherever it was made.

use std::cell::RefCell;
use std::ops::Range;
use std::sync::Arc;

use parley::fontique::{Blob, Collection, CollectionOptions, SourceCache};
use parley::style::{FontFamily, FontFamilyName, FontWeight, LineHeight, OverflowWrap, StyleProperty};
use parley::{FontContext, Layout, LayoutContext};

use super::{Text, Tone};

/// Regular and bold, as TrueType.
pub(super) static FACES: [&[u8]; 2] =
    [include_bytes!("../fonts/NotoSans-Regular.ttf"), include_bytes!("../fonts/NotoSans-Bold.ttf")];

/// The name under which the fonts are known to each other.
const FAMILY: &str = "Noto Sans";

/// Height of a line over that of its type.
const LINE_HEIGHT: f32 = 1.36;

/// One glyph.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Glyph {
    /// Its number in the font.
    pub(super) id: u32,
    /// How far the next one is, points.
    pub(super) advance: f32,
    /// Where it stands beside its place, points.
    pub(super) offset: (f32, f32),
    /// The part of the text that it shows, bytes.
    pub(super) range: Range<usize>,
}

/// Glyphs of one font and shade in a row.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Run {
    /// From the beginning of the line, points.
    pub(super) x: f32,
    /// Whether the font is the bold one.
    pub(super) strong: bool,
    /// How it is set.
    pub(super) tone: Tone,
    /// The text that the glyphs show parts of.
    pub(super) text: Arc<str>,
    /// The glyphs.
    pub(super) glyphs: Vec<Glyph>,
}

/// A line of type.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct SetLine {
    /// Height, points.
    pub(super) height: f32,
    /// Base line from the top, points.
    pub(super) baseline: f32,
    /// Width without the white space at its end, points.
    pub(super) width: f32,
    /// What stands on it.
    pub(super) runs: Vec<Run>,
}

struct Setting {
    fonts: FontContext,
    layouts: LayoutContext<Tone>,
}

thread_local! {
    /// Reading the fonts takes longer than a page; each thread does it once.
    static SETTING: RefCell<Setting> = RefCell::new(Setting::new());
}

impl Setting {
    fn new() -> Self {
        let options = CollectionOptions { shared: false, system_fonts: false };
        let mut collection = Collection::new(options);
        for face in FACES {
            collection.register_fonts(Blob::new(Arc::new(face)), None);
        }
        let fonts = FontContext { collection, source_cache: SourceCache::default() };
        Setting { fonts, layouts: LayoutContext::new() }
    }

    fn layout(&mut self, text: &str, spans: &[(Range<usize>, Tone)], size_pt: f32, strong: bool) -> Layout<Tone> {
        let mut builder = self.layouts.ranged_builder(&mut self.fonts, text, 1.0, false);
        builder.push_default(StyleProperty::FontFamily(FontFamily::Single(FontFamilyName::Named(FAMILY.into()))));
        builder.push_default(StyleProperty::FontSize(size_pt));
        builder.push_default(StyleProperty::LineHeight(LineHeight::FontSizeRelative(LINE_HEIGHT)));
        builder.push_default(StyleProperty::OverflowWrap(OverflowWrap::Anywhere));
        builder.push_default(StyleProperty::Brush(Tone::Plain));
        if strong {
            builder.push_default(StyleProperty::FontWeight(FontWeight::BOLD));
        }
        for (range, tone) in spans {
            builder.push(StyleProperty::Brush(*tone), range.clone());
            if *tone == Tone::Strong {
                builder.push(StyleProperty::FontWeight(FontWeight::BOLD), range.clone());
            }
        }
        builder.build(text)
    }
}

/// Sets a text in lines no wider than `width_pt`; a word that is wider alone is broken.
pub(super) fn set(text: &Text, size_pt: f32, strong: bool, width_pt: f32) -> Vec<SetLine> {
    let mut whole = String::new();
    let mut spans: Vec<(Range<usize>, Tone)> = Vec::new();
    for span in &text.0 {
        let from = whole.len();
        whole.extend(span.text.chars().filter(|c| !turns_direction(*c)).map(|c| match c {
            '\n' => c,
            c if c.is_control() => ' ',
            c => c,
        }));
        spans.push((from..whole.len(), span.tone));
    }
    // White space at the end would be a line of its own where the line before it is full.
    whole.truncate(whole.trim_end().len());
    spans.iter_mut().for_each(|(range, _)| range.end = range.end.min(whole.len()));
    spans.retain(|(range, _)| range.start < range.end);
    let mut layout = SETTING.with_borrow_mut(|setting| setting.layout(&whole, &spans, size_pt, strong));
    layout.break_all_lines(Some(width_pt.max(size_pt)));
    let whole: Arc<str> = whole.into();
    layout.lines().map(|line| lines_of(&line, &layout, &whole, strong)).collect()
}

/// Whether a character does nothing but turn the direction of what stands behind it (Unicode, UAX 9): a name that holds one
/// would set the rest of its line backwards.
fn turns_direction(c: char) -> bool {
    matches!(c, '\u{200e}' | '\u{200f}' | '\u{061c}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

fn lines_of(line: &parley::Line<'_, Tone>, layout: &Layout<Tone>, whole: &Arc<str>, strong: bool) -> SetLine {
    let metrics = line.metrics();
    let mut runs: Vec<Run> = Vec::new();
    let mut x = 0.0;
    for run in line.runs() {
        let mut fresh = true;
        for cluster in run.visual_clusters() {
            if cluster.is_ligature_continuation() {
                // It has no glyph of its own: the ligature shows its letters too.
                // From right to left it stands before the ligature, and beside another glyph.
                if let Some(glyph) = runs.last_mut().and_then(|run| run.glyphs.last_mut()).filter(|_| !run.is_rtl()) {
                    glyph.range.end = glyph.range.end.max(cluster.text_range().end);
                }
                continue;
            }
            for glyph in cluster.glyphs() {
                let tone = layout.styles()[usize::from(glyph.style_index)].brush;
                if fresh || runs.last().is_none_or(|run| run.tone != tone) {
                    let strong = strong || tone == Tone::Strong;
                    runs.push(Run { x, strong, tone, text: whole.clone(), glyphs: Vec::new() });
                    fresh = false;
                }
                let at = runs.last_mut().expect("one was just added");
                at.glyphs.push(Glyph {
                    id: glyph.id,
                    advance: glyph.advance,
                    offset: (glyph.x, glyph.y),
                    range: cluster.text_range(),
                });
                x += glyph.advance;
            }
        }
    }
    SetLine {
        height: metrics.line_height,
        baseline: metrics.baseline - metrics.block_min_coord,
        width: x - metrics.trailing_whitespace,
        runs,
    }
}

/// How wide a text is in one line, points.
pub(super) fn width(text: &Text, size_pt: f32, strong: bool) -> f32 {
    set(text, size_pt, strong, f32::MAX).iter().map(|line| line.width).fold(0.0, f32::max)
}
