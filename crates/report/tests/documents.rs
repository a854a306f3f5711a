//! Documents as PDF and as a page: what is in them, on which page, and that equal ones give equal bytes.

mod common;

use common::pages;
use report::{Block, Document, Figure, Table, html, pdf, policy};

const SVG: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"400\" height=\"100\" viewBox=\"0 0 400 100\" \
                   font-family=\"'Atkinson Hyperlegible'\"><path d=\"M0 50 L400 50\" stroke=\"#c0303a\"/>\
                   <text x=\"10\" y=\"40\" font-size=\"12\">floor joint</text></svg>";

fn table(n_rows: usize) -> Block {
    Block::Table(Table {
        header: vec!["Place".into(), "Shown".into()],
        shares: vec![3.0, 1.0],
        rows: (1..=n_rows)
            .map(|at| vec![format!("voltage at terminal {at}"), format!("{at}.5 V")])
            .collect(),
    })
}

fn document(blocks: Vec<Block>) -> Document {
    Document {
        title: "Van 31: what was wrong".into(),
        subtitle: "for the customer".into(),
        language: "en".into(),
        blocks,
    }
}

fn whole() -> Document {
    document(vec![
        Block::Heading("What was found".into()),
        Block::Paragraph("Water joined two terminals of the floor joint. ".repeat(12)),
        Block::Facts(vec![
            ("Vehicle".into(), "delivery van".into()),
            ("Water".into(), "yes".into()),
        ]),
        Block::List(vec!["dried".into(), "sealed against 4.7 kΩ of damp".into()]),
        Block::Callout("Mind".into(), vec!["Key off first.".into()]),
        Block::Subheading("Where".into()),
        Block::Figure(Figure {
            svg: SVG.into(),
            caption: "The wiring".into(),
            alternative: "one red wire through the floor joint".into(),
        }),
        table(120),
        Block::Heading("At the end".into()),
        Block::Paragraph("Nothing else was seen.".into()),
    ])
}

#[test]
fn equal_documents_give_equal_bytes() {
    assert_eq!(pdf(&whole()).unwrap(), pdf(&whole()).unwrap());
    assert_eq!(html(&whole()), html(&whole()));
}

#[test]
fn the_pdf_holds_its_text_in_order_and_every_page_its_number_and_its_header() {
    let Some(pages) = pages(&pdf(&whole()).unwrap()) else {
        return;
    };
    assert!(pages.len() >= 3, "{}", pages.len());
    for (at, page) in pages.iter().enumerate() {
        let number = format!("page {} of {}", at + 1, pages.len());
        assert!(page.contains(&number), "{page}");
    }
    let all = pages.join("\n");
    let mut from = 0;
    for said in [
        "Van 31: what was wrong",
        "What was found",
        "Water joined two terminals",
        "delivery van",
        "sealed against 4.7 kΩ of damp",
        "Key off first.",
        "floor joint",
        "The wiring",
        "voltage at terminal 120",
        "Nothing else was seen.",
    ] {
        let at = all[from..]
            .find(said)
            .unwrap_or_else(|| panic!("`{said}` is not where it should be"));
        from += at;
    }
    // Every page with rows of the table says what its columns are.
    let with_rows: Vec<&String> = pages
        .iter()
        .filter(|page| page.contains("voltage at terminal"))
        .collect();
    assert!(with_rows.len() >= 2);
    for page in with_rows {
        let header = page
            .lines()
            .position(|line| line.contains("Place") && line.contains("Shown"));
        let row = page.lines().position(|line| line.contains("voltage at terminal"));
        assert!(header.is_some() && header < row, "{page}");
    }
}

#[test]
fn a_heading_is_not_left_alone_at_the_end_of_a_page() {
    for n_before in 30..60 {
        let mut blocks: Vec<Block> = (0..n_before).map(|at| Block::Paragraph(format!("line {at}"))).collect();
        blocks.push(Block::Heading("Proof".into()));
        blocks.push(Block::Paragraph("Two leads to the rows.".into()));
        blocks.push(table(3));
        let Some(pages) = pages(&pdf(&document(blocks)).unwrap()) else {
            return;
        };
        let page = pages.iter().find(|page| page.contains("Proof")).unwrap();
        assert!(page.contains("voltage at terminal 1"), "{n_before}: {page}");
    }
}

#[test]
fn a_word_is_not_broken_while_there_is_room_beside_it() {
    let narrow = Block::Table(Table {
        header: vec!["elsewhere".into(), "What".into()],
        shares: vec![0.3, 6.0],
        rows: vec![vec!["November".into(), "short".into()]],
    });
    let Some(pages) = pages(&pdf(&document(vec![narrow])).unwrap()) else {
        return;
    };
    assert!(
        pages[0].contains("elsewhere") && pages[0].contains("November"),
        "{}",
        pages[0]
    );
}

#[test]
fn a_short_table_stays_on_one_page() {
    for n_before in 30..60 {
        let mut blocks: Vec<Block> = (0..n_before).map(|at| Block::Paragraph(format!("line {at}"))).collect();
        blocks.push(table(6));
        let Some(pages) = pages(&pdf(&document(blocks)).unwrap()) else {
            return;
        };
        let page = pages
            .iter()
            .find(|page| page.contains("voltage at terminal 1\n") || page.contains("voltage at terminal 1 "));
        assert!(
            page.is_some_and(|page| page.contains("voltage at terminal 6")),
            "{n_before}: {pages:?}"
        );
    }
}

#[test]
fn a_picture_turns_a_page_only_where_that_makes_it_larger() {
    let sized = |w: u32, h: u32| {
        let svg = SVG.replace(
            "width=\"400\" height=\"100\" viewBox=\"0 0 400 100\"",
            &format!("width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\""),
        );
        let figure = Figure {
            svg,
            caption: "The wiring".into(),
            alternative: "wires".into(),
        };
        pages(&pdf(&document(vec![Block::Figure(figure)])).unwrap()).map(|pages| pages.len())
    };
    // Wide: a page of its own, laid across. Nearly square: as small there as here, so it stays below the title.
    let Some(wide) = sized(1300, 400) else { return };
    assert_eq!((wide, sized(1000, 900)), (2, Some(1)));
}

#[test]
fn a_cell_taller_than_a_page_goes_on_on_the_next() {
    let words: Vec<String> = (0..900).map(|at| format!("word{at}")).collect();
    let tall = Block::Table(Table {
        header: vec!["When".into(), "Note".into()],
        shares: vec![4.0, 1.0],
        rows: vec![vec!["12 min".into(), words.join(" ")]],
    });
    let Some(pages) = pages(&pdf(&document(vec![tall])).unwrap()) else {
        return;
    };
    let all = pages.join("\n");
    assert!(words.iter().all(|word| all.contains(word.as_str())));
    assert!(pages.iter().all(|page| page.contains("Note")), "{}", pages[0]);
}

#[test]
fn what_is_typed_is_never_markup() {
    let nasty = "<script>alert(1)</script>\" onload='x' & \u{1b}";
    let figure = Figure {
        svg: SVG.into(),
        caption: nasty.into(),
        alternative: nasty.into(),
    };
    let all = document(vec![
        Block::Heading(nasty.into()),
        Block::Subheading(nasty.into()),
        Block::Paragraph(nasty.into()),
        Block::List(vec![nasty.into()]),
        Block::Facts(vec![(nasty.into(), nasty.into())]),
        Block::Table(Table {
            header: vec![nasty.into()],
            shares: Vec::new(),
            rows: vec![vec![nasty.into()]],
        }),
        Block::Figure(figure),
        Block::Callout(nasty.into(), vec![nasty.into()]),
    ]);
    let all = Document {
        title: nasty.into(),
        subtitle: nasty.into(),
        language: nasty.into(),
        ..all
    };
    let page = html(&all);
    assert!(!page.contains("<script") && !page.contains("onload='"), "{page}");
    assert_eq!(page.matches("&lt;script&gt;").count(), 17);
    pdf(&all).unwrap();
}

#[test]
fn the_page_stands_alone_and_may_run_nothing() {
    let page = html(&whole());
    assert!(policy().starts_with("default-src 'none'; style-src 'sha256-"));
    for loads in ["<script", "<link", "src=", "url(", "@import", "style=\""] {
        assert!(!page.contains(loads), "{loads}");
    }
}

#[test]
fn a_picture_that_is_none_is_named() {
    let figure = Figure {
        svg: "no picture".into(),
        caption: "The wiring".into(),
        alternative: String::new(),
    };
    let why = pdf(&document(vec![Block::Figure(figure)])).unwrap_err().to_string();
    assert!(why.contains("The wiring"), "{why}");
}

#[test]
fn letters_that_the_typeface_lacks_are_told() {
    let strange = document(vec![Block::Paragraph("реле".into())]);
    let Some(pages) = pages(&pdf(&strange).unwrap()) else {
        return;
    };
    assert!(
        pages[0].contains("????") && pages[0].contains("? stands for a letter"),
        "{pages:?}"
    );
}
