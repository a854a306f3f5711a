//! The voltage staircase and the connector face.

use crate::common;

use circuit::{ConnectorId, PartKind, PointId};
use picture::{Band, Chosen, Flag, Look, Marks, Path, PathPlace, Ring, Tone, connector_face, staircase};
use roxmltree::Document;

fn place(name: &str, x: Option<f64>, healthy: f64, measured: &[f64]) -> PathPlace {
    let ring = |volts: &f64| Ring {
        volts: *volts,
        label: format!("{volts} V"),
        tone: Tone::Plain,
    };
    PathPlace {
        name: name.into(),
        x,
        healthy: Some(healthy),
        measured: measured.iter().map(ring).collect(),
    }
}

fn path() -> Path {
    Path {
        title: "Voltage along the ground".into(),
        places: vec![
            place("pump plug", Some(600.0), 0.1, &[1.9]),
            place("stud", Some(300.0), 0.05, &[0.2]),
            place("battery −", Some(90.0), 0.0, &[]),
        ],
        bands: vec![Band {
            label: "if the stud is loose".into(),
            strength: 0.7,
            volts: vec![Some((1.5, 2.2)), Some((1.4, 2.1)), None],
        }],
    }
}

#[test]
fn rings_stand_at_their_place_and_higher_where_the_voltage_is_higher() {
    let svg = staircase(&path(), 260.0, &Look::default());
    let document = Document::parse(&svg).unwrap();
    let rings: Vec<(f64, f64)> = document
        .descendants()
        .filter(|node| node.has_tag_name("circle"))
        .map(|node| {
            (
                node.attribute("cx").unwrap().parse().unwrap(),
                node.attribute("cy").unwrap().parse().unwrap(),
            )
        })
        .collect();
    assert_eq!(rings.iter().map(|ring| ring.0).collect::<Vec<_>>(), [600.0, 300.0]);
    // The scale is linear: 0 V at the foot, the heights above it in proportion to the volts.
    let foot = 260.0 - 46.0;
    let ratio = (foot - rings[0].1) / (foot - rings[1].1);
    assert!((ratio - 9.5).abs() < 0.2, "1.9 V over 0.2 V is 9.5, drawn as {ratio}");
}

#[test]
fn a_band_is_hatched_between_its_limits_and_named() {
    let svg = staircase(
        &path(),
        260.0,
        &Look {
            id_prefix: "stairs".into(),
            ..Look::default()
        },
    );
    assert!(svg.contains("url(#stairs-h4)"));
    assert!(svg.contains("<title>if the stud is loose</title>"));
}

#[test]
fn where_all_lies_at_nothing_the_axis_still_goes_to_a_tenth_of_a_volt() {
    let flat = Path {
        title: "Voltage along a dead wire".into(),
        places: vec![place("plug", None, 0.0, &[0.004]), place("joint", None, 0.0, &[])],
        bands: Vec::new(),
    };
    let svg = staircase(&flat, 300.0, &Look::default());
    let document = Document::parse(&svg).unwrap();
    let figures: Vec<f64> = document
        .descendants()
        .filter(|node| node.has_tag_name("text"))
        .filter_map(|node| node.text()?.parse().ok())
        .collect();
    let most = figures.iter().copied().fold(0.0, f64::max);
    assert!((0.1..0.13).contains(&most) && figures.len() >= 3, "{figures:?}");
}

#[test]
fn odd_input_is_drawn_without_complaint() {
    let mut odd = path();
    odd.places[0].healthy = Some(f64::NAN);
    odd.places[1].x = None;
    odd.places[2].measured.push(Ring {
        volts: f64::INFINITY,
        label: "<OL>".into(),
        tone: Tone::Off,
    });
    odd.bands[0].volts = vec![Some((f64::NAN, 1.0)); 9];
    odd.title = "<b>&".into();
    for path in [odd, Path::default()] {
        for height in [f64::NAN, -5.0, 300.0] {
            Document::parse(&staircase(&path, height, &Look::default())).unwrap();
        }
    }
}

fn connector(circuit: &circuit::Circuit, id: &str) -> ConnectorId {
    let part = circuit.parts.iter().find(|part| part.id == id).unwrap();
    let PartKind::Connector(connector) = part.kind else {
        panic!("{id} is no connector")
    };
    connector
}

#[test]
fn cavities_stand_as_moulded_and_mirrored_on_the_other_half() {
    let maker = common::forty_terminals();
    let a = connector(&maker.circuit, "A");
    let taps = |half: usize| {
        let svg = connector_face(&maker.circuit, a, half, &Marks::default(), &Look::default());
        let document = Document::parse(&svg).unwrap();
        let mut taps: Vec<(i64, i64, String)> = document
            .descendants()
            .filter_map(|node| {
                let point = node.attribute("data-point")?.to_owned();
                let rect = node.children().find(|child| child.has_tag_name("rect"))?;
                let at = |name: &str| rect.attribute(name).unwrap().parse::<f64>().unwrap() as i64;
                Some((at("y"), at("x"), point))
            })
            .collect();
        taps.sort();
        taps.into_iter().map(|(.., point)| point).collect::<Vec<_>>()
    };
    assert_eq!(taps(0)[..6], ["A.1", "A.2", "A.3", "A.4", "A.5", "A.6"]);
    assert_eq!(
        taps(1)[..6],
        ["A.5/pin", "A.4/pin", "A.3/pin", "A.2/pin", "A.1/pin", "A.10/pin"]
    );
}

#[test]
fn a_face_shows_the_reading_and_the_lead() {
    let maker = common::sensor_and_fan();
    let point = maker.at("S1.3");
    let marks = Marks {
        flags: vec![Flag {
            point,
            big: "10.4 V".into(),
            small: String::new(),
            tone: Tone::Off,
        }],
        chosen: Chosen {
            red: Some(point),
            black: Some(PointId(9999)),
        },
        ..Marks::default()
    };
    let svg = connector_face(
        &maker.circuit,
        connector(&maker.circuit, "S1"),
        0,
        &marks,
        &Look::default(),
    );
    assert!(svg.contains(">10.4 V</text>") && svg.contains(">+</text>") && !svg.contains(">−</text>"));
    assert_eq!(
        connector_face(&maker.circuit, ConnectorId(999), 0, &marks, &Look::default()),
        ""
    );
}
