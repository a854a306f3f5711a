//! Names in the wiring picture of every circuit at hand: each stands where it belongs and can be read.

use roxmltree::Document;

use crate::wiring::{boxes, circuits, number, plain};

#[test]
fn the_name_of_a_feed_or_ground_stands_in_a_box() {
    let mut checked = 0;
    for (name, circuit) in circuits() {
        let picture = plain(&circuit);
        let document = Document::parse(&picture.svg).unwrap();
        let rects: Vec<[f64; 4]> = (document.descendants())
            .filter(|node| node.attribute("class") == Some("pw-box"))
            .map(|node| ["x", "y", "width", "height"].map(|key| number(node, key)))
            .collect();
        let parts = circuit.feeds.iter().map(|feed| feed.part);
        let parts = parts.chain(circuit.grounds.iter().map(|ground| ground.part));
        let names: Vec<&str> = parts.map(|part| circuit.parts[part.idx()].name.as_str()).collect();
        for text in boxes(&picture.svg) {
            if !names.contains(&text.text.as_str()) {
                continue;
            }
            let within = |[x, y, w, h]: &[f64; 4]| {
                text.left >= *x && text.right <= x + w && text.top >= *y && text.bottom <= y + h
            };
            assert!(rects.iter().any(within), "{name}: {:?} stands in no box", text.text);
            checked += 1;
        }
    }
    assert!(checked > 20, "{checked}");
}

#[test]
fn a_long_name_of_a_pin_takes_two_lines() {
    let texts_of = |file: &str| {
        let (_, circuit) = (circuits().into_iter())
            .find(|(name, _)| name.ends_with(file))
            .expect(file);
        boxes(&plain(&circuit).svg)
    };
    let boxes = texts_of("oxygen-wide-band.toml");
    let at = |text: &str| boxes.iter().find(|one| one.text == text).expect(text);
    assert!(at("minus").left == at("heater").left && at("minus").top > at("heater").bottom);
    // No second line where the first had no room: an accessory's pins `reference` and `reference_on` lie on one row.
    assert!(texts_of("accessory-between.toml").iter().all(|one| one.text != "on"));
}

/// Ends of every upright that a bent wire or cable makes.
fn uprights(svg: &str) -> Vec<[f64; 3]> {
    let document = Document::parse(svg).expect("a picture is a document");
    let paths = document.descendants().filter_map(|node| match node.tag_name().name() {
        "path" if node.attribute("fill") == Some("none") => node.attribute("d"),
        "polyline" => node.attribute("points"),
        _ => None,
    });
    let mut out = Vec::new();
    for path in paths {
        let numbers: Vec<f64> = (path.split(|c: char| !(c.is_ascii_digit() || c == '.')))
            .filter_map(|number| number.parse().ok())
            .collect();
        let corners: Vec<(f64, f64)> = numbers.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect();
        for pair in corners.windows(2).filter(|pair| pair[0].0 == pair[1].0) {
            out.push([pair[0].0, pair[0].1.min(pair[1].1), pair[0].1.max(pair[1].1)]);
        }
    }
    out
}

#[test]
fn a_name_that_a_wire_passes_behind_stays_clear_of_it() {
    let mut passed = 0;
    for (name, circuit) in circuits() {
        let picture = plain(&circuit);
        let uprights = uprights(&picture.svg);
        let document = Document::parse(&picture.svg).unwrap();
        let clear: Vec<bool> = (document.descendants().filter(|node| node.has_tag_name("text")))
            .map(|node| node.attribute("class").is_some_and(|class| class.contains("pw-clear")))
            .collect();
        for (text, clear) in boxes(&picture.svg).iter().zip(clear) {
            let crosses = |[x, top, bottom]: &[f64; 3]| {
                *x > text.left + 1.0 && *x < text.right - 1.0 && *top < text.top && *bottom > text.bottom
            };
            if uprights.iter().any(crosses) {
                assert!(clear, "{name}: a wire runs through {:?}", text.text);
                passed += 1;
            }
        }
    }
    assert!(passed > 0, "no wire passes behind a name: this test tells nothing");
}
