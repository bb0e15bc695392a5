//! What a sheet holds to: nothing is cut, nothing is lost, headings go along, the same bytes come out each time.

use super::flow::{Mark, pages};
use super::*;

/// Texts of a page by their base lines, from top to bottom.
fn texts(page: &[Mark]) -> Vec<String> {
    let mut lines: Vec<(i32, f32, String)> = Vec::new();
    for mark in page {
        if let Mark::Type { x, y, run, .. } = mark {
            let text: String = run.glyphs.iter().map(|glyph| &run.text[glyph.range.clone()]).collect();
            lines.push(((y * 10.0) as i32, *x, text));
        }
    }
    lines.sort_by(|a, b| (a.0, a.1).partial_cmp(&(b.0, b.1)).expect("figures"));
    lines.into_iter().map(|(_, _, text)| text).collect()
}

fn long_table(rows: usize) -> Table {
    let row = |n: usize| Row::plain([format!("row {n}"), format!("{}", n * 7)]);
    let columns = vec![Column::wide("What", 1.0), Column::figures("How much")];
    Table { caption: String::new(), columns, rows: (0..rows).map(row).collect() }
}

fn sheet(blocks: Vec<Block>) -> Sheet {
    Sheet { title: "A sheet".to_owned(), head: ("Shop".into(), "Quote 1".into()), foot: "Foot".to_owned(), blocks }
}

#[test]
fn a_long_table_begins_each_page_with_its_heading_and_loses_no_row() {
    for paper in [Paper::A4, Paper::Letter] {
        let pages = pages(&sheet(vec![Block::Table(long_table(200))]), paper);
        assert!(pages.len() > 3, "{}", pages.len());
        let mut met = Vec::new();
        for (place, page) in pages.iter().enumerate() {
            let texts = texts(page);
            assert_eq!(texts.iter().filter(|text| *text == "What").count(), 1, "page {place}");
            assert!(texts.contains(&format!("Page {} of {}", place + 1, pages.len())), "{texts:?}");
            assert_eq!(
                texts.contains(&"Quote 1".to_owned()),
                place > 0,
                "the running head stands from the second page on"
            );
            met.extend(texts.into_iter().filter(|text| text.starts_with("row ")));
        }
        assert_eq!(met, (0..200).map(|n| format!("row {n}")).collect::<Vec<_>>());
    }
}

#[test]
fn nothing_is_put_outside_the_margins_of_the_paper() {
    let word = "unbreakable".repeat(30);
    let blocks = vec![
        Block::Letterhead { name: "A shop with a name that is long ".repeat(4), lines: vec!["Line ".repeat(60)] },
        Block::Title(word.clone(), Some(word.clone())),
        Block::Facts(vec![(word.clone(), Text::from(&word))]),
        Block::Sums(vec![("Total".to_owned(), Text::from(&word))]),
        Block::List(vec![Text::from(&word); 40]),
        Block::Table(Table {
            caption: word.clone(),
            columns: vec![Column::fitted("a"), Column::wide("b", 1.0), Column::figures("c")],
            rows: vec![Row::plain([word.clone(), word.clone(), word.clone()]); 5],
        }),
        Block::Notice(vec![Text::from(&word); 3]),
    ];
    for paper in [Paper::A4, Paper::Letter] {
        let (wide, tall) = paper.size_pt();
        for page in pages(&sheet(blocks.clone()), paper) {
            for mark in page {
                if let Mark::Type { x, y, run, .. } = mark {
                    let end = x + run.glyphs.iter().map(|glyph| glyph.advance).sum::<f32>();
                    assert!(x >= 50.0 && end <= wide - 50.0, "{x} to {end} of {wide}");
                    assert!(y >= 20.0 && y <= tall - 20.0, "{y} of {tall}");
                }
            }
        }
    }
}

#[test]
fn a_heading_and_a_groups_name_never_stand_last_on_a_page() {
    for lines in 30..70 {
        let rows = vec![Row::group("A group"), Row::plain(["first of the group", "1"])];
        let table = Table { caption: String::new(), columns: vec![Column::wide("", 1.0), Column::figures("")], rows };
        let mut blocks: Vec<Block> = (0..lines).map(|n| Block::Paragraph(format!("line {n}").into())).collect();
        blocks.push(Block::Heading("A heading".to_owned()));
        blocks.push(Block::Table(table));
        let pages = pages(&sheet(blocks), Paper::A4);
        let on = |what: &str| pages.iter().position(|page| texts(page).iter().any(|text| text == what));
        assert_eq!(on("A heading"), on("first of the group"), "{lines} lines before");
        assert_eq!(on("A group"), on("first of the group"), "{lines} lines before");
    }
}

#[test]
fn a_long_paragraph_leaves_no_line_alone() {
    for lines in 30..60 {
        let mut blocks: Vec<Block> = (0..lines).map(|n| Block::Paragraph(format!("line {n}").into())).collect();
        blocks.push(Block::Paragraph("word ".repeat(120).into()));
        let counts: Vec<usize> = pages(&sheet(blocks), Paper::Letter)
            .iter()
            .map(|page| texts(page).iter().filter(|text| text.starts_with("word ")).count())
            .collect();
        assert!(counts.iter().all(|count| *count != 1), "{lines} lines before: {counts:?}");
    }
}

#[test]
fn the_same_sheet_gives_the_same_bytes_in_every_thread() {
    let of = || {
        pdf(&sheet(vec![Block::Heading("Ærø, Łódź, Ωμέγα, ½ in".to_owned()), Block::Table(long_table(3))]), Paper::A4)
    };
    let first = of();
    assert!(first.starts_with(b"%PDF-"));
    assert_eq!(first, of());
    assert_eq!(first, std::thread::spawn(of).join().expect("it is written"));
}

#[test]
fn a_text_of_any_script_and_direction_is_set() {
    for text in [
        "\u{202e}fi\u{2060}fi",
        "שלום fi עולם ffi",
        "مرحبا fi بالعالم",
        "a\tb\u{0}c",
        "\u{2067}ﬁ fi\u{2069}",
        "王小明 🚤 boat",
        "e\u{301}\u{323} fi\u{200d}fi",
        "",
    ] {
        let made = pdf(&sheet(vec![Block::Title(text.to_owned(), Some(text.to_owned()))]), Paper::A4);
        assert!(made.starts_with(b"%PDF-"), "{text:?}");
    }
}

#[test]
fn what_was_written_by_others_is_text_in_html() {
    let bad = "</p><script>alert(1)</script>";
    let out = html(&Sheet {
        title: bad.to_owned(),
        head: (bad.to_owned(), bad.to_owned()),
        foot: bad.to_owned(),
        blocks: vec![
            Block::Letterhead { name: bad.to_owned(), lines: vec![bad.to_owned()] },
            Block::Title(bad.to_owned(), Some(bad.to_owned())),
            Block::Facts(vec![(bad.to_owned(), bad.into())]),
            Block::Table(Table {
                caption: bad.to_owned(),
                columns: vec![Column::wide(bad, 1.0)],
                rows: vec![Row::group(bad), Row::plain([bad])],
            }),
            Block::Drawing(Drawing {
                title: format!("\"{bad}"),
                size: (1.0, 1.0),
                scale_max: 1.0,
                shapes: vec![Shape::Label {
                    at: (0.0, 0.0),
                    anchor: 0.0,
                    size: 1.0,
                    strong: false,
                    text: bad.to_owned(),
                }],
            }),
        ],
    });
    assert!(!out.contains("<script"), "{out}");
    assert_eq!(out.matches("&lt;script&gt;").count(), 15, "{out}");
}
