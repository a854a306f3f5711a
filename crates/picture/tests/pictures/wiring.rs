//! The wiring picture of every circuit at hand: nothing covers anything, everything can be tapped, rows are straight.

use crate::common;

use std::collections::BTreeMap;

use circuit::{Access, BranchId, Circuit, ConnectorId, PartId, PointId, SetUp};
use picture::text::Face;
use picture::{Chosen, Flag, Look, Marks, Next, Picture, SuspectPlace, Suspicion, Tone, wiring};
use roxmltree::{Document, Node};

/// Circuits of this repository, ready-made ones too, and those made by hand.
pub(crate) fn circuits() -> Vec<(String, Circuit)> {
    let mut out: Vec<(String, Circuit)> = common::all()
        .into_iter()
        .map(|(name, maker)| (name.to_owned(), maker.circuit))
        .collect();
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");
    let mut files = Vec::new();
    for folder in ["circuits", "crates/circuit/archetypes"] {
        let before = files.len();
        let entries = std::fs::read_dir(format!("{root}/{folder}")).unwrap();
        files.extend(entries.map(|entry| entry.unwrap().path()));
        files.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
        assert!(files.len() > before, "{folder} is empty");
    }
    files.sort();
    for path in files {
        let text = std::fs::read_to_string(&path).unwrap();
        let circuit = circuit::parse(&text).unwrap_or_else(|mistakes| panic!("{}: {mistakes:?}", path.display()));
        out.push((path.display().to_string(), circuit));
    }
    out
}

fn draw(circuit: &Circuit, set_up: &SetUp, marks: &Marks) -> Picture {
    wiring(circuit, set_up, marks, &Look::default())
}

pub(crate) fn plain(circuit: &Circuit) -> Picture {
    draw(circuit, &SetUp::default(), &Marks::default())
}

pub(crate) fn number(node: Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name)
        .unwrap_or_else(|| panic!("{node:?} has no {name}"))
        .parse()
        .unwrap()
}

pub(crate) struct Box {
    pub(crate) text: String,
    pub(crate) left: f64,
    pub(crate) right: f64,
    pub(crate) top: f64,
    pub(crate) bottom: f64,
}

/// Boxes of all texts, from the document alone.
pub(crate) fn boxes(svg: &str) -> Vec<Box> {
    let document = Document::parse(svg).unwrap();
    let texts = document.descendants().filter(|node| node.has_tag_name("text"));
    texts
        .map(|node| {
            let text = node.text().unwrap_or("").to_owned();
            let size = number(node, "font-size");
            let face = Face {
                size,
                bold: node.attribute("font-weight") == Some("700"),
            };
            let (width, x, y) = (face.width(&text), number(node, "x"), number(node, "y"));
            let left = match node.attribute("text-anchor") {
                Some("middle") => x - width / 2.0,
                Some("end") => x - width,
                _ => x,
            };
            Box {
                text,
                left,
                right: left + width,
                top: y - 0.75 * size,
                bottom: y + 0.2 * size,
            }
        })
        .collect()
}

#[track_caller]
fn no_text_covers_another(name: &str, picture: &Picture) {
    let boxes = boxes(&picture.svg);
    for (i, a) in boxes.iter().enumerate() {
        assert!(
            a.left >= 0.0 && a.right <= picture.width + 1.0 && a.top >= 0.0 && a.bottom <= picture.height + 1.0,
            "{name}: {:?} leaves the canvas",
            a.text
        );
        for b in boxes.iter().skip(i + 1) {
            let apart = a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top;
            assert!(apart, "{name}: {:?} and {:?} cover each other", a.text, b.text);
        }
    }
}

fn everything_apart(circuit: &Circuit) -> SetUp {
    SetUp {
        apart: (0..circuit.connectors.len()).map(ConnectorId::from).collect(),
        ..SetUp::default()
    }
}

fn flag(point: PointId) -> Flag {
    Flag {
        point,
        big: "10.42 V".into(),
        small: "should be 0.0 V".into(),
        tone: Tone::Off,
    }
}

/// A job in full swing: readings at every third point, suspicions everywhere, something next, both leads on.
fn busy(circuit: &Circuit) -> Marks {
    let spots = plain(circuit).spots;
    Marks {
        flags: spots.iter().step_by(3).map(|spot| flag(spot.point)).collect(),
        suspicions: (0..circuit.branches.len())
            .step_by(4)
            .map(|i| Suspicion {
                place: SuspectPlace::Branches(vec![BranchId::from(i)]),
                strength: i as f64 / circuit.branches.len() as f64,
                label: format!("{i} %"),
            })
            .collect(),
        next: Some(Next {
            points: spots.iter().take(2).map(|s| s.point).collect(),
            label: "measure here next".into(),
        }),
        chosen: Chosen {
            red: spots.last().map(|spot| spot.point),
            black: Some(circuit.battery_minus),
        },
    }
}

#[test]
fn no_text_covers_another_in_any_circuit() {
    for (name, circuit) in circuits() {
        no_text_covers_another(&name, &plain(&circuit));
        no_text_covers_another(
            &format!("{name}, apart"),
            &draw(&circuit, &everything_apart(&circuit), &Marks::default()),
        );
        no_text_covers_another(
            &format!("{name}, busy"),
            &draw(&circuit, &SetUp::default(), &busy(&circuit)),
        );
        let both = draw(&circuit, &everything_apart(&circuit), &busy(&circuit));
        no_text_covers_another(&format!("{name}, apart and busy"), &both);
    }
}

#[test]
fn a_reading_stands_close_to_where_it_was_taken() {
    for (name, circuit) in circuits() {
        for spot in plain(&circuit).spots {
            let marks = Marks {
                flags: vec![flag(spot.point)],
                ..Marks::default()
            };
            let picture = draw(&circuit, &SetUp::default(), &marks);
            let at = picture.spots.iter().find(|other| other.point == spot.point).unwrap();
            let found = boxes(&picture.svg)
                .into_iter()
                .find(|text| text.text == "10.42 V")
                .unwrap();
            let far = (f64::midpoint(found.left, found.right) - at.x).hypot(found.top - at.y);
            assert!(
                far < 190.0,
                "{name}: {far} px from {}",
                circuit.points[spot.point.idx()].path
            );
        }
    }
}

#[test]
fn every_point_that_a_probe_reaches_can_be_tapped() {
    for (name, circuit) in circuits() {
        let picture = plain(&circuit);
        let document = Document::parse(&picture.svg).unwrap();
        let taps: BTreeMap<&str, Node<'_, '_>> = document
            .descendants()
            .filter(|node| {
                node.attribute("class")
                    .is_some_and(|class| class.split(' ').any(|class| class == "spot"))
            })
            .filter_map(|node| Some((node.attribute("data-point")?, node)))
            .collect();
        for point in circuit.points.iter().filter(|point| point.access != Access::Inside) {
            let tap = taps
                .get(point.path.as_str())
                .unwrap_or_else(|| panic!("{name}: no spot for {}", point.path));
            let title = tap.children().find(|node| node.has_tag_name("title")).unwrap();
            assert!(title.text().unwrap().contains(&point.path), "{name}: {title:?}");
            let circle = tap.children().find(|node| node.has_tag_name("circle")).unwrap();
            assert!(number(circle, "r") >= 22.0);
        }
        assert_eq!(taps.len(), picture.spots.len(), "{name}");
    }
}

#[test]
fn two_spots_are_a_thumb_apart() {
    for (name, circuit) in circuits() {
        let picture = plain(&circuit);
        let document = Document::parse(&picture.svg).unwrap();
        let circles: Vec<(f64, f64)> = document
            .descendants()
            .filter(|node| node.attribute("class") == Some("pw-hit"))
            .map(|node| (number(node, "cx"), number(node, "cy")))
            .collect();
        for (i, a) in circles.iter().enumerate() {
            for b in circles.iter().skip(i + 1) {
                let far = (a.0 - b.0).hypot(a.1 - b.1);
                assert!(far >= 40.0, "{name}: spots {far} px apart at {a:?} and {b:?}");
            }
        }
    }
}

#[test]
fn every_point_lies_on_the_canvas() {
    for (name, circuit) in circuits() {
        let picture = plain(&circuit);
        assert_eq!(picture.anchors.len(), circuit.points.len());
        for (point, anchor) in circuit.points.iter().zip(&picture.anchors) {
            let (x, y) = anchor.unwrap_or_else(|| panic!("{name}: {} is nowhere", point.path));
            let inside = x >= 0.0 && x <= picture.width && y >= 0.0 && y <= picture.height;
            assert!(inside, "{name}: {} at {x}, {y}", point.path);
        }
    }
}

#[test]
fn a_signal_runs_straight_from_module_to_device() {
    let maker = common::sensor_and_fan();
    let picture = plain(&maker.circuit);
    let at = |path: &str| picture.anchors[maker.at(path).idx()].unwrap();
    for path in [
        ["M1.27/pin", "M1.27", "floor.7/a", "floor.7/b", "S1.3", "S1.3/pin"],
        ["M1.12/pin", "M1.12", "floor.5/a", "floor.5/b", "S1.1", "S1.1/pin"],
        ["F7/in", "F7/out", "K2/30", "K2/87", "floor.8/a", "C5.1"],
    ] {
        let places = path.map(at);
        assert!(
            places.windows(2).all(|pair| pair[0].1 == pair[1].1),
            "{path:?} changes rows: {places:?}"
        );
        assert!(
            places.windows(2).all(|pair| pair[0].0 < pair[1].0),
            "{path:?} doubles back: {places:?}"
        );
    }
}

#[test]
fn the_coil_of_a_relay_stands_in_one_box() {
    let mut checked = 0;
    for (name, circuit) in circuits() {
        let picture = plain(&circuit);
        let document = Document::parse(&picture.svg).unwrap();
        let rects: Vec<[f64; 4]> = (document.descendants())
            .filter(|node| node.has_tag_name("rect") && node.attribute("class") == Some("pw-box"))
            .map(|node| ["x", "y", "width", "height"].map(|key| number(node, key)))
            .collect();
        for relay in &circuit.relays {
            let id = &circuit.parts[relay.part.idx()].id;
            let ends = ["85", "86"].map(|end| {
                let path = format!("{id}/{end}");
                let point = circuit.points.iter().position(|point| point.path == path).unwrap();
                picture.anchors[point].unwrap()
            });
            let holds = |[x, y, width, height]: &[f64; 4], (px, py): (f64, f64)| {
                (x - 1.0..=x + width + 1.0).contains(&px) && (*y..=y + height).contains(&py)
            };
            let together = rects.iter().any(|rect| ends.iter().all(|end| holds(rect, *end)));
            assert!(together, "{name}: the coil of {id} from {:?} to {:?}", ends[0], ends[1]);
            checked += 1;
        }
    }
    assert!(checked > 4, "{checked}");
}

#[test]
fn a_fuse_lies_between_what_is_before_it_and_what_is_behind() {
    let mut checked = 0;
    for (name, circuit) in circuits() {
        let picture = plain(&circuit);
        let document = Document::parse(&picture.svg).unwrap();
        let at = |path: &str| {
            let point = circuit.points.iter().position(|point| point.path == path).unwrap();
            picture.anchors[point].unwrap().0
        };
        for fuse in &circuit.fuses {
            let id = &circuit.parts[fuse.part.idx()].id;
            let terminals = ["in", "out"].map(|side| format!("{id}/{side}"));
            let [before, behind] = [at(&terminals[0]), at(&terminals[1])];
            assert!((before - behind).abs() > 20.0, "{name}: {id} from {before} to {behind}");
            for wire in &circuit.wires {
                let paths = wire.ends.map(|end| circuit.points[end.idx()].path.clone());
                let Some(end) = terminals.iter().find(|terminal| paths.contains(terminal)) else {
                    continue;
                };
                let part = circuit.parts[wire.part.idx()].id.as_str();
                let drawn = (document.descendants())
                    .find(|node| node.attribute("data-part") == Some(part))
                    .and_then(|node| node.children().find(|child| child.has_tag_name("path")))
                    .and_then(|path| path.attribute("d"))
                    .unwrap();
                let numbers: Vec<f64> = (drawn.split(|c: char| !(c.is_ascii_digit() || c == '.')))
                    .filter_map(|number| number.parse().ok())
                    .collect();
                let ends = [numbers[0], numbers[numbers.len() - 2]];
                let meets = ends.iter().any(|x| (x - at(end)).abs() < 1.0);
                assert!(meets, "{name}: {part} from {ends:?} does not meet {end} at {}", at(end));
                checked += 1;
            }
        }
    }
    assert!(checked > 20, "{checked}");
}

#[test]
fn modules_stand_left_of_devices_and_joints_between() {
    let maker = common::sensor_and_fan();
    let names: Vec<String> = plain(&maker.circuit)
        .columns
        .into_iter()
        .map(|column| column.name)
        .collect();
    let position = |name: &str| {
        names
            .iter()
            .position(|other| other == name)
            .unwrap_or_else(|| panic!("{name}: {names:?}"))
    };
    let order = [
        "climate module",
        "module plug",
        "fan relay",
        "floor joint",
        "sensor plug",
        "pressure sensor",
    ];
    assert!(
        order.windows(2).all(|pair| position(pair[0]) < position(pair[1])),
        "{names:?}"
    );
}

#[test]
fn nothing_moves_but_the_halves_when_a_connector_comes_apart() {
    let maker = common::sensor_and_fan();
    let joined = plain(&maker.circuit);
    let apart = draw(&maker.circuit, &everything_apart(&maker.circuit), &Marks::default());
    assert_eq!(
        (joined.width, joined.height, &joined.columns),
        (apart.width, apart.height, &apart.columns)
    );
    let gap = |picture: &Picture, a: &str, b: &str| {
        picture.anchors[maker.at(b).idx()].unwrap().0 - picture.anchors[maker.at(a).idx()].unwrap().0
    };
    assert!(gap(&apart, "floor.7/a", "floor.7/b") > gap(&joined, "floor.7/a", "floor.7/b") + 25.0);
    let reachable = |picture: &Picture, path: &str| {
        picture
            .spots
            .iter()
            .find(|spot| spot.point == maker.at(path))
            .unwrap()
            .reachable
    };
    assert!(!reachable(&joined, "S1.3/pin") && reachable(&apart, "S1.3/pin"));
}

#[test]
fn a_wire_has_its_own_colours_in_a_casing() {
    let maker = common::sensor_and_fan();
    let svg = plain(&maker.circuit).svg;
    let document = Document::parse(&svg).unwrap();
    let wire = document
        .descendants()
        .find(|node| node.attribute("data-part") == Some("W12"))
        .unwrap();
    let strokes: Vec<(&str, bool)> = wire
        .children()
        .filter(|node| node.has_tag_name("path"))
        .map(|node| {
            (
                node.attribute("stroke").unwrap(),
                node.attribute("stroke-dasharray").is_some(),
            )
        })
        .collect();
    assert_eq!(
        strokes,
        [("#5b616b", false), ("#7b4aa8", false), ("#f0d040", true)],
        "casing, violet, yellow tracer"
    );
}

#[test]
fn suspicion_is_hatched_on_its_place_and_denser_where_stronger() {
    let maker = common::sensor_and_fan();
    let suspect = |points: &[&str], strength| Suspicion {
        place: SuspectPlace::Points(points.iter().map(|path| maker.at(path)).collect()),
        strength,
        label: "wet".into(),
    };
    let marks = Marks {
        suspicions: vec![suspect(&["floor.7/a", "floor.8/a"], 0.6), suspect(&["S1.3"], 0.03)],
        ..Marks::default()
    };
    let picture = draw(&maker.circuit, &SetUp::default(), &marks);
    let document = Document::parse(&picture.svg).unwrap();
    let rects: Vec<Node<'_, '_>> = document
        .descendants()
        .filter(|node| node.attribute("class") == Some("pw-hatch-edge"))
        .collect();
    let covers = |rect: Node<'_, '_>, path: &str| {
        let (x, y) = picture.anchors[maker.at(path).idx()].unwrap();
        let (left, top) = (number(rect, "x"), number(rect, "y"));
        x >= left && x <= left + number(rect, "width") && y >= top && y <= top + number(rect, "height")
    };
    assert_eq!(rects.len(), 2);
    assert!(covers(rects[0], "floor.7/a") && covers(rects[0], "floor.8/a") && !covers(rects[0], "floor.6/a"));
    assert!(covers(rects[1], "S1.3"));
    let level = |rect: Node<'_, '_>| {
        rect.attribute("fill")
            .unwrap()
            .trim_end_matches(')')
            .chars()
            .last()
            .unwrap()
    };
    assert!(level(rects[0]) > level(rects[1]));
}

#[test]
fn two_wires_side_by_side_are_hatched_together() {
    let maker = common::sensor_and_fan();
    let branch = |path: &str| BranchId::from(maker.circuit.branches.iter().position(|b| b.path == path).unwrap());
    let suspicion = Suspicion {
        place: SuspectPlace::Branches(vec![branch("W22"), branch("W23")]),
        strength: 0.3,
        label: String::new(),
    };
    let marks = Marks {
        suspicions: vec![suspicion],
        ..Marks::default()
    };
    let picture = draw(&maker.circuit, &SetUp::default(), &marks);
    let document = Document::parse(&picture.svg).unwrap();
    let rects: Vec<_> = document
        .descendants()
        .filter(|node| node.attribute("class") == Some("pw-hatch-edge"))
        .collect();
    assert_eq!(rects.len(), 1);
    let rows = ["S1.3", "C5.1"].map(|path| picture.anchors[maker.at(path).idx()].unwrap().1);
    let (top, bottom) = (
        number(rects[0], "y"),
        number(rects[0], "y") + number(rects[0], "height"),
    );
    assert!(
        rows.iter().all(|y| *y > top && *y < bottom),
        "{rows:?} in {top}..{bottom}"
    );
}

#[test]
fn hostile_names_stay_text() {
    let hostile = "</text><script>alert(1)</script>\"'&<!-- \u{0}\u{1b}\u{202e} ]]>";
    for (name, maker) in common::all() {
        let mut circuit = maker.circuit;
        circuit.title = hostile.into();
        for part in &mut circuit.parts {
            part.name = hostile.repeat(9);
            part.id = format!("{}{hostile}", part.id);
        }
        for point in &mut circuit.points {
            point.words = hostile.into();
            point.path = format!("{}{hostile}", point.path);
        }
        for wire in &mut circuit.wires {
            wire.colour = hostile.into();
            wire.tracer = Some(hostile.into());
        }
        for pin in circuit.modules.iter_mut().flat_map(|module| &mut module.pins) {
            pin.words = hostile.into();
        }
        let mut marks = busy(&circuit);
        for flag in &mut marks.flags {
            flag.big = hostile.into();
            flag.small = hostile.into();
        }
        let look = Look {
            id_prefix: "\"><script>".into(),
            ..Look::default()
        };
        let picture = wiring(&circuit, &SetUp::default(), &marks, &look);
        let document = Document::parse(&picture.svg).unwrap();
        assert!(
            !document.descendants().any(|node| node.has_tag_name("script")),
            "{name}"
        );
        assert!(
            !document
                .descendants()
                .any(|node| node.attributes().any(|a| a.name().starts_with("on"))),
            "{name}"
        );
        no_text_covers_another(name, &picture);
    }
}

#[test]
fn what_the_circuit_does_not_have_is_left_out() {
    let maker = common::thermistor();
    let nowhere = PointId(9999);
    let marks = Marks {
        flags: vec![flag(nowhere)],
        suspicions: vec![
            Suspicion {
                place: SuspectPlace::Points(vec![nowhere]),
                strength: f64::NAN,
                label: String::new(),
            },
            Suspicion {
                place: SuspectPlace::Branches(vec![BranchId(9999)]),
                strength: 2.0,
                label: String::new(),
            },
            Suspicion {
                place: SuspectPlace::Part(PartId(9999)),
                strength: -1.0,
                label: String::new(),
            },
        ],
        next: Some(Next {
            points: vec![nowhere],
            label: "here".into(),
        }),
        chosen: Chosen {
            red: Some(nowhere),
            black: Some(nowhere),
        },
    };
    assert_eq!(
        draw(&maker.circuit, &SetUp::default(), &marks).svg,
        plain(&maker.circuit).svg
    );
}

#[test]
fn a_wider_page_gets_a_wider_picture_and_a_narrow_one_pans() {
    let maker = common::thermistor();
    let wide = |fill_width| {
        let look = Look {
            fill_width,
            ..Look::default()
        };
        wiring(&maker.circuit, &SetUp::default(), &Marks::default(), &look).width
    };
    assert!((wide(1200.0) - 1200.0).abs() < 1.0);
    assert_eq!(wide(100.0), wide(0.0));
    assert_eq!(wide(f64::NAN), wide(0.0));
}

#[test]
fn without_themes_there_is_no_style_sheet() {
    let maker = common::thermistor();
    let look = Look {
        themed: false,
        ..Look::default()
    };
    let svg = wiring(&maker.circuit, &SetUp::default(), &Marks::default(), &look).svg;
    assert!(!svg.contains("<style>") && !svg.contains("var("));
    assert!(plain(&maker.circuit).svg.contains("var(--ink,"));
}

#[test]
fn equal_inputs_give_equal_pictures() {
    for (name, circuit) in circuits() {
        let marks = busy(&circuit);
        assert!(
            draw(&circuit, &SetUp::default(), &marks) == draw(&circuit, &SetUp::default(), &marks),
            "{name}"
        );
    }
}
