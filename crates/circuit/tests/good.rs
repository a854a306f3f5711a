//! Circuit files that are right: what they become.

#![expect(clippy::unwrap_used, reason = "a test helper fails by panicking")]

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use circuit::{At, BranchKind, Circuit, DEMO, Law, Role, SensedId, SetUp, device_kinds, parse_with};

#[track_caller]
fn read(text: &str) -> Circuit {
    let kinds = include_str!("circuits/kinds.txt").to_owned();
    parse_with(text, &mut |name| {
        if name == "kinds.toml" {
            Ok(kinds.clone())
        } else {
            Err(format!("no `{name}`"))
        }
    })
    .unwrap_or_else(|mistakes| {
        panic!(
            "{}",
            mistakes.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
        )
    })
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/circuits")
}

fn file(name: &str) -> Circuit {
    read(&fs::read_to_string(folder().join(name)).unwrap())
}

/// Everything of a circuit as text, points by their path.
fn listing(circuit: &Circuit) -> String {
    let mut text = String::new();
    for point in &circuit.points {
        writeln!(text, "point {} | {} | {:?}", point.path, point.words, point.access).unwrap();
    }
    for branch in &circuit.branches {
        let mut kind = format!("{:?}", branch.kind);
        for (idx, point) in circuit.points.iter().enumerate().rev() {
            kind = kind.replace(&format!("PointId({idx})"), &point.path);
        }
        writeln!(
            text,
            "branch {} | {:?} | {:?} | {kind}",
            branch.path, branch.role, branch.rating_amps
        )
        .unwrap();
    }
    let Circuit {
        parts,
        connectors,
        wires,
        splices,
        modules,
        devices,
        fuses,
        relays,
        feeds,
        grounds,
        ..
    } = circuit;
    for part in parts {
        writeln!(text, "{part:?}").unwrap();
    }
    writeln!(
        text,
        "{connectors:#?}\n{wires:#?}\n{splices:?}\n{modules:#?}\n{devices:#?}"
    )
    .unwrap();
    writeln!(text, "{fuses:?}\n{relays:?}\n{feeds:?}\n{grounds:?}").unwrap();
    let Circuit {
        bundles,
        chafes,
        sensed,
        loads,
        params,
        channels,
        monitors,
        ..
    } = circuit;
    writeln!(
        text,
        "{bundles:#?}\n{chafes:#?}\n{sensed:#?}\n{loads:#?}\n{channels:#?}\n{monitors:#?}"
    )
    .unwrap();
    for param in params {
        writeln!(text, "{param:?}").unwrap();
    }
    text
}

#[test]
fn good_files_become_what_they_became_before() {
    let mut files: Vec<PathBuf> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.retain(|path| path.extension().is_some_and(|extension| extension == "toml"));
    files.push(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../circuits/van-31.toml"));
    assert!(files.len() >= 4);
    for path in files {
        let listing = listing(&read(&fs::read_to_string(&path).unwrap()));
        let stored = folder().join(path.file_stem().unwrap()).with_extension("listing");
        if std::env::var_os("UPDATE_EXPECTED").is_some() {
            fs::write(&stored, &listing).unwrap();
        }
        let before = fs::read_to_string(&stored).unwrap_or_default();
        let first = listing.lines().zip(before.lines()).find(|(now, before)| now != before);
        assert!(
            listing == before,
            "{} differs (UPDATE_EXPECTED=1 accepts): {first:#?}",
            path.display()
        );
    }
}

/// Every id points into its list, every path is there once.
#[test]
fn circuits_are_consistent() {
    for circuit in [
        read(DEMO),
        file("three-wire.toml"),
        file("composed.toml"),
        file("accessory.toml"),
    ] {
        let unique = |mut paths: Vec<&str>| {
            let n = paths.len();
            paths.sort_unstable();
            paths.dedup();
            assert_eq!(paths.len(), n);
        };
        unique(circuit.points.iter().map(|point| point.path.as_str()).collect());
        unique(circuit.branches.iter().map(|branch| branch.path.as_str()).collect());
        unique(circuit.parts.iter().map(|part| part.id.as_str()).collect());
        unique(circuit.params.iter().map(|param| param.path.as_str()).collect());
        for point in &circuit.points {
            assert_eq!(
                circuit.point(&point.path).map(|id| &circuit.points[id.idx()]),
                Some(point)
            );
        }
        for connector in &circuit.connectors {
            for cavity in connector.cavities.values() {
                assert_eq!(circuit.branches[cavity.contact.idx()].role, Role::Contact);
                for (crimp, wire) in cavity.wires.iter().flatten() {
                    assert_eq!(circuit.branches[crimp.idx()].role, Role::Crimp);
                    assert_eq!(
                        circuit.branches[circuit.wires[wire.idx()].branch.idx()].role,
                        Role::Wire
                    );
                }
            }
        }
        for fuse in &circuit.fuses {
            assert_eq!(circuit.branches[fuse.branch.idx()].role, Role::Fuse);
        }
        for relay in &circuit.relays {
            assert_eq!(circuit.branches[relay.coil.idx()].role, Role::RelayCoil);
            assert!(!relay.contacts.is_empty());
        }
        for ground in &circuit.grounds {
            assert_eq!(circuit.branches[ground.branch.idx()].role, Role::Ground);
        }
    }
}

#[track_caller]
fn law<'c>(circuit: &'c Circuit, path: &str) -> &'c Law {
    match &circuit.branches[circuit.branch(path).unwrap().idx()].kind {
        BranchKind::Resistor { ohms, .. } => ohms,
        BranchKind::Switch { closed_ohms, .. } => closed_ohms,
        BranchKind::Output { gain, .. } => gain,
        other => panic!("{path} is {other:?}"),
    }
}

#[track_caller]
fn value(circuit: &Circuit, path: &str, sensed: f64) -> f64 {
    let mut set_up = SetUp::normal();
    if !circuit.sensed.is_empty() {
        set_up.sensed.insert(SensedId(0), sensed);
    }
    law(circuit, path).value(&At::centre(circuit, &set_up))
}

#[track_caller]
fn near(value: f64, expected: f64) {
    assert!(
        (value - expected).abs() <= 1.2e-4 * expected.abs(),
        "{value} is not {expected}"
    );
}

#[test]
fn the_demo_is_wired_as_the_bench_shows_it() {
    let circuit = read(DEMO);
    let joint = &circuit.connectors[circuit.connector("floor").unwrap().idx()];
    assert_eq!(joint.rows, [[5, 6, 7, 8]]);
    assert_eq!(joint.cavities[&7].words, "pressure signal");
    assert!(joint.wet && joint.reach_minutes == 3.0);
    let wire = &circuit.wires[circuit.wire("W12").unwrap().idx()];
    assert_eq!(
        (wire.colour.as_str(), wire.tracer.as_deref()),
        ("violet", Some("yellow"))
    );
    assert!(circuit.parts[circuit.part("sensor").unwrap().idx()].is_new);
    // 0–32 bar is 0.5–4.5 V of a 5 V reference.
    for (bar, volts) in [(0.0, 0.5), (8.0, 1.5), (32.0, 4.5)] {
        near(value(&circuit, "sensor/output", bar) * 5.0, volts);
    }
    assert_eq!(circuit.nearest_point("flor.7/a"), Some("floor.7/a"));
}

#[test]
fn wire_resistance_comes_from_length_and_gauge() {
    let circuit = file("three-wire.toml");
    // 20 AWG is 33.3 Ω/km solid (ASTM B258); a stranded vehicle wire is a little above. 6 ft is 1.8288 m.
    let ohms = value(&circuit, "W1", 0.0);
    assert!((0.0666..0.0700).contains(&ohms), "{ohms}");
    assert_eq!(circuit.wires[1].length, 6.0 * 0.3048);
    near(value(&circuit, "W3", 0.0), quantity::wire_ohms(0.5, 1.5, 20.0));
}

#[test]
fn the_tracks_of_a_potentiometer_share_their_total() {
    let circuit = file("three-wire.toml");
    for (percent, upper) in [(0.0, 4500.0), (50.0, 2500.0), (100.0, 500.0)] {
        near(value(&circuit, "sensor/upper track", percent), upper);
        near(value(&circuit, "sensor/lower track", percent), 5000.0 - upper);
    }
    let [upper, lower] = ["sensor/upper track", "sensor/lower track"].map(|path| &law(&circuit, path).moved_by);
    assert_eq!((upper.len(), upper[0].param), (1, lower[0].param));
    // ± 10 % is two standard deviations.
    near(upper[0].factor, 0.05);
    near(lower[0].factor, 0.05);
}

#[test]
fn a_thermistor_follows_its_two_point_law() {
    let text = r#"
title = "temperature"
[sensed.coolant]
range = [-40, 140]
[device.sensor]
kind = "thermistor"
senses = "coolant"
pins = { a = "battery+", b = "body" }
values = { r25 = "10k", beta = 3700 }
[device.other]
kind = "thermistor curve"
senses = "coolant"
pins = { a = "battery+", b = "body" }
values = { curve = [[-20, "15k"], [25, "2k"], [100, "180 Ω"]] }
"#;
    let circuit = read(text);
    for celsius in [-40.0, -7.5, 5.0, 25.0, 80.0, 140.0] {
        let kelvin: f64 = celsius + 273.15;
        near(
            value(&circuit, "sensor/thermistor", celsius),
            10e3 * (3700.0 * (1.0 / kelvin - 1.0 / 298.15)).exp(),
        );
    }
    near(value(&circuit, "other/thermistor", 25.0), 2e3);
    near(value(&circuit, "other/thermistor", 62.5), (2e3_f64 * 180.0).sqrt()); // half way on a logarithmic scale
    near(value(&circuit, "other/thermistor", 130.0), 180.0); // held outside
}

#[test]
fn with_the_accessory_out_its_connectors_are_joined() {
    let circuit = file("accessory.toml");
    let closed = |path: &str, set_up: &SetUp| match &circuit.branches[circuit.branch(path).unwrap().idx()].kind {
        BranchKind::Switch { closed, .. } => closed.holds(&At::centre(&circuit, set_up)),
        other => panic!("{path} is {other:?}"),
    };
    let fitted = SetUp::normal();
    let mut out = SetUp::normal();
    out.taken_out.insert(circuit.device("box").unwrap());
    let mut apart = out.clone();
    apart.apart.insert(circuit.connector("T2").unwrap());
    for (set_up, contact, direct) in [(&fitted, true, false), (&out, false, true), (&apart, false, false)] {
        assert_eq!(closed("T1.3/contact", set_up), contact);
        assert_eq!(closed("T1.3/direct", set_up), direct);
    }
    assert!(circuit.branch("box/straight through 3").is_some());
    assert!(
        circuit.branch("T1.1/direct").is_none(),
        "cavity 1 leads nowhere on the far side"
    );
}

#[test]
fn kinds_made_in_the_file_follow_state_and_table() {
    let circuit = file("composed.toml");
    near(value(&circuit, "sender/float", 50.0), f64::midpoint(280.0, 38.0));
    near(value(&circuit, "sender/end stop", 50.0), 28.0);
    let mut on = SetUp::normal();
    near(law(&circuit, "sender/warmer").value(&At::centre(&circuit, &on)), 1e6);
    on.commanded.insert(circuit.load("mirror").unwrap());
    near(law(&circuit, "sender/warmer").value(&At::centre(&circuit, &on)), 12.0);
    let moved = &law(&circuit, "sender/float").moved_by;
    assert_eq!(moved.len(), 2, "both ends of the table are uncertain");
    // A value without tolerance takes that of its default: 38 Ω ± 5 %, half of it in the middle of the range.
    let full = circuit.param("sender/full").unwrap();
    let by_full = moved.iter().find(|moved| moved.param == full).unwrap();
    near(by_full.factor, 38.0 * 0.025 * 0.5 / f64::midpoint(280.0, 38.0));
}

#[test]
fn what_is_left_out_is_uncertain_where_it_matters() {
    let circuit = read(
        "title = \"little\"\n[module.m.pin]\nP.1 = { kind = \"input\" }\n[connector.P]\n[wire]\nW = { from = \"P.1\", to = \"body\" }\n",
    );
    let paths: Vec<&str> = circuit.params.iter().map(|param| param.path.as_str()).collect();
    assert_eq!(
        paths,
        [
            "battery",
            "m/draws",
            "m/rail",
            "P.1/pull_up",
            "P.1/pull_down",
            "P.1/series"
        ]
    );
    assert!(circuit.modules[0].supply.is_none());
    assert!(circuit.branch("m/feed").is_some() && circuit.branch("m/ground to body").is_some());
}

#[test]
fn the_input_of_a_converter_leaks_to_ground_unless_it_says_otherwise() {
    let leak = |keys: &str| {
        let circuit = read(&format!(
            "title = \"little\"\n[module.m.pin]\nP.1 = {{ kind = \"input\"{keys} }}\n[connector.P]\n[wire]\nW = {{ from = \"P.1\", to = \"body\" }}\n",
        ));
        let branch = circuit.branch("P.1/leak")?;
        let BranchKind::Resistor { a, b, ohms } = &circuit.branches[branch.idx()].kind else {
            panic!("a leak is a resistance")
        };
        let [a, b] = [a, b].map(|point| circuit.points[point.idx()].path.clone());
        Some((a, b, ohms.value(&At::centre(&circuit, &SetUp::normal()))))
    };
    let at = |a: &str, b: &str, ohms: f64| Some((a.to_owned(), b.to_owned(), ohms));
    assert_eq!(leak(""), at("P.1/sense", "m/ground", 1e7));
    assert_eq!(
        leak(", leak = \"2M\", leak_to = \"rail\""),
        at("P.1/sense", "m/rail", 2e6)
    );
    assert_eq!(leak(", leak = \"none\""), None);
}

#[test]
fn a_pin_without_papers_is_one_of_several_of_which_the_likeliest_is_compiled() {
    let input = |keys: &str| {
        read(&format!(
            "title = \"little\"\n[module.m.pin]\nP.1 = {{ kind = \"input\", {keys} }}\nP.2 = {{ kind = \"reference\", insides = \"unknown\" }}\n[connector.P]\n[wire]\nW = {{ from = \"P.1\", to = \"body\" }}\nV = {{ from = \"P.2\", to = \"body\" }}\n",
        ))
    };
    let listed = |circuit: &Circuit| -> Vec<String> {
        let unknown = &circuit.unknowns[0];
        assert_eq!(unknown.place, "input at P.1");
        let each = unknown.alternatives.iter();
        each.map(|one| format!("{:.2} {}: {:?}", one.chance, one.words(), one.changes.changes))
            .collect()
    };
    let own = input(
        "insides = [{ pull_down = \"47k\" }, { chance = 2, pull_up = \"10k ± 10 %\" }, { pull_up = \"1k\", clamps = false }]",
    );
    let branch = |path: &str| own.branch(path).unwrap().0;
    let [up, down] = ["P.1/pull_up", "P.1/pull_down"].map(branch);
    let clamps = ["P.1/upper clamp", "P.1/lower clamp"].map(branch);
    assert_eq!(
        listed(&own),
        [
            format!("0.50 a pull-up of about 10 kΩ: [Open(BranchId({down}))]"),
            format!("0.25 a pull-down of about 47 kΩ: [Open(BranchId({up})), Times(BranchId({down}), 4.7e-7)]"),
            format!(
                "0.25 no clamp diodes and a pull-up of about 1 kΩ: [Times(BranchId({up}), 0.1), Open(BranchId({down})), \
                 Open(BranchId({})), Open(BranchId({}))]",
                clamps[0], clamps[1]
            ),
        ]
    );
    near(value(&own, "P.1/pull_up", 0.0), 1e4);
    near(law(&own, "P.1/pull_up").moved_by[0].factor, 0.1);
    let usual = input("insides = \"unknown\"");
    for unknown in &usual.unknowns {
        let sum: f64 = unknown.alternatives.iter().map(|one| one.chance).sum();
        near(sum, 1.0);
    }
    let paths: Vec<(&str, usize)> = usual
        .unknowns
        .iter()
        .map(|one| (one.path.as_str(), one.alternatives.len()))
        .collect();
    assert_eq!(paths, [("P.1/pull", 8), ("P.1/clamps", 2), ("P.2/volts", 3)]);
    assert_eq!(input("insides = \"unknown\", clamps = true").unknowns.len(), 2);
    assert!(own.modules[0].pins[0].rating_volts.is_some(), "it may have no clamps");
}

#[test]
fn built_in_kinds_tell_what_they_need() {
    let kinds = device_kinds();
    assert!(kinds.iter().all(|kind| !kind.about.is_empty() && !kind.pins.is_empty()));
    let resistor = kinds.iter().find(|kind| kind.name == "resistor").unwrap();
    assert_eq!(
        resistor.values,
        [("resistance".to_owned(), "resistance".to_owned(), None)]
    );
}
