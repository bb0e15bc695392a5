//! What is printed, as blocks: one model of a document from which a page of HTML and a PDF are made, so that both say the
//! same. `flow` breaks the blocks into pages, `text` sets their lines, `pdf` and `html` write them.

mod drawing;
mod flow;
mod html;
mod pdf;
mod table;
#[cfg(test)]
mod tests;
mod text;

pub use drawing::{Drawing, Fill, Line, Shape};
pub use html::{html, html_of};
pub use pdf::pdf;

/// A document before it has pages.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// Its name, for whoever lists documents.
    pub title: String,
    /// What stands at the head of every page but the first: left and right.
    pub head: (String, String),
    /// What stands at the foot of every page, left of the page's number.
    pub foot: String,
    /// What it says, in order.
    pub blocks: Vec<Block>,
}

/// Paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Paper {
    /// ISO 216 A4, 210 by 297 mm.
    A4,
    /// US letter, 8 1/2 by 11 in.
    Letter,
}

impl Paper {
    /// Width and height, points of 1/72 in.
    pub const fn size_pt(self) -> (f32, f32) {
        match self {
            Paper::A4 => (595.276, 841.89),
            Paper::Letter => (612.0, 792.0),
        }
    }
}

/// A part of a document.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// Who writes: a name, and lines below it.
    Letterhead {
        /// Name of the shop.
        name: String,
        /// Address and how to reach it, one line each.
        lines: Vec<String>,
    },
    /// The document's own heading, and what stands below it.
    Title(String, Option<String>),
    /// A heading of a part; it never stands last on a page.
    Heading(String),
    /// A heading below that.
    SubHeading(String),
    /// A paragraph.
    Paragraph(Text),
    /// A paragraph in small type.
    Small(Text),
    /// Names and what they are, side by side.
    Facts(Vec<(String, Text)>),
    /// Names and amounts that everybody looks for first, in large type.
    Sums(Vec<(String, Text)>),
    /// Points.
    List(Vec<Text>),
    /// A frame around what must not be overlooked.
    Notice(Vec<Text>),
    /// A table.
    Table(Table),
    /// A drawing, with what it is for those who do not see it.
    Drawing(Drawing),
    /// Lines to sign on, each with what is signed.
    Signatures(Vec<String>),
    /// What follows begins a page.
    NewPage,
}

/// A text whose parts are set differently.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Text(pub Vec<Span>);

/// A part of a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Span {
    /// What it says.
    pub text: String,
    /// How it is set.
    pub tone: Tone,
}

/// How a part of a text is set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Tone {
    /// As text.
    #[default]
    Plain,
    /// Bold.
    Strong,
    /// In a lighter shade.
    Quiet,
}

impl Text {
    /// A text in bold.
    pub fn strong(text: impl Into<String>) -> Self {
        Text(vec![Span { text: text.into(), tone: Tone::Strong }])
    }

    /// The text with a part in a lighter shade behind it, after a space; nothing is added where that part is empty.
    #[must_use]
    pub fn quiet(mut self, text: impl Into<String>) -> Self {
        let text = text.into();
        if !text.is_empty() {
            if !self.is_empty() {
                self.0.push(Span { text: " ".to_owned(), tone: Tone::Plain });
            }
            self.0.push(Span { text, tone: Tone::Quiet });
        }
        self
    }

    /// Whether it says nothing.
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(|span| span.text.is_empty())
    }
}

impl<T: Into<String>> From<T> for Text {
    fn from(text: T) -> Self {
        Text(vec![Span { text: text.into(), tone: Tone::Plain }])
    }
}

/// A table whose heading is repeated on every page, and none of whose rows is cut in two.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// What it shows, for those who do not see it; printed above it.
    pub caption: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows, each with a cell for every column.
    pub rows: Vec<Row>,
}

/// A column of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Heading; a table whose headings are all empty has no row of them.
    pub title: String,
    /// Where its cells begin.
    pub side: Side,
    /// Its share of what is left when the columns that fit their content have theirs; 0 for one that fits its content.
    pub share: f32,
}

/// Where a cell's text stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// At the left.
    Left,
    /// At the right: figures.
    Right,
}

impl Column {
    /// A column of texts that takes a share of the width.
    pub fn wide(title: &str, share: f32) -> Self {
        Column { title: title.to_owned(), side: Side::Left, share }
    }

    /// A column of texts as wide as the widest of them.
    pub fn fitted(title: &str) -> Self {
        Column { title: title.to_owned(), side: Side::Left, share: 0.0 }
    }

    /// A column of figures as wide as the widest of them.
    pub fn figures(title: &str) -> Self {
        Column { title: title.to_owned(), side: Side::Right, share: 0.0 }
    }
}

/// A row of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Its cells, one for each column; empty ones may be left out at the end.
    pub cells: Vec<Text>,
    /// What it is.
    pub kind: RowKind,
}

/// What a row is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RowKind {
    /// One of many.
    Plain,
    /// A name for the rows below it, which it stays with.
    Group,
    /// A sum of rows above it.
    Sum,
    /// The last sum.
    Total,
}

impl Row {
    /// One row of many.
    pub fn plain<T: Into<Text>>(cells: impl IntoIterator<Item = T>) -> Self {
        Row { cells: cells.into_iter().map(Into::into).collect(), kind: RowKind::Plain }
    }

    /// A name for the rows below.
    pub fn group(name: impl Into<String>) -> Self {
        Row { cells: vec![Text::strong(name)], kind: RowKind::Group }
    }
}
