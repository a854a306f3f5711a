//! A circuit made by hand: a three-wire pressure sensor on a climate module, a fan through a relay, a floor joint.
//!
//! Terminals are `S1.1` (wire side) and `S1.1/pin`, at the floor joint `floor.7/a` and `floor.7/b`. Crimps are left out.
#![allow(dead_code, reason = "each test file uses its part")]

mod builder;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use bench::{Bench, Hypothesis, Placement, Predict, Prediction, Question, parse_placement};
pub(crate) use builder::{ALL, Builder, by_factor, by_shift};
use circuit::{
    Access, Base, BranchId, BranchKind, Bundle, Change, Channel, ChannelId, Circuit, Condition, ConnectorId, Device,
    Fault, FuseId, Key, Law, Limits, Load, LoadId, Mode, Module, ModuleId, Monitor, Placed, PointId, Relay, RelayId,
    Repair, Role, Sensed, SensedId, SetUp, Severity, Watches, WireId,
};

fn keys(keys: &[Key]) -> Condition {
    Condition::KeyIn(keys.iter().copied().collect::<BTreeSet<_>>())
}

/// The whole circuit.
pub(crate) fn van() -> Circuit {
    let mut b = Builder::new();
    let on = [Key::On, Key::Cranking, Key::Running];
    // Battery, charger, grounds, ignition feed, fuses.
    let rest = b.param("battery");
    let (plus, minus) = (b.at("battery+"), b.at("battery-"));
    let source = |volts, ohms, present| BranchKind::Source {
        plus,
        minus,
        volts,
        ohms,
        present,
    };
    b.branch(
        "battery",
        Role::Battery,
        source(by_shift(12.6, rest, 0.15), Law::fixed(0.012), Condition::BatteryOn),
    );
    b.branch(
        "charger",
        Role::Charger,
        source(Law::fixed(14.2), Law::fixed(0.02), keys(&[Key::Running])),
    );
    b.r("strap", Role::Ground, "battery-", "body", Law::fixed(0.001));
    let stud = b.param("G1");
    b.r("G1", Role::Ground, "G1", "body", by_factor(0.002, stud, 0.4));
    b.r("G4", Role::Ground, "G4", "body", Law::fixed(0.002));
    let feed = (b.at("battery+"), b.at("ignition"));
    let closed = BranchKind::Switch {
        a: feed.0,
        b: feed.1,
        closed_ohms: Law::fixed(0.006),
        closed: keys(&on),
    };
    b.branch("ignition switch", Role::FeedSwitch, closed);
    b.fuse("F2", "ignition", "F2/out", 10.0);
    b.fuse("F7", "battery+", "F7/out", 30.0);
    // Fan relay.
    let fan = LoadId(0);
    b.circuit.loads.push(Load {
        id: "fan".into(),
        words: "condenser fan".into(),
        acts: None,
    });
    let coil = b.r("K2/coil", Role::RelayCoil, "K2/86", "K2/85", Law::fixed(85.0));
    let (from, to, coil_plus, coil_minus) = (b.at("K2/30"), b.at("K2/87"), b.at("K2/86"), b.at("K2/85"));
    let contact = b.branch(
        "K2/contact",
        Role::RelayContact,
        BranchKind::RelayContact {
            relay: Some(RelayId(0)),
            a: from,
            b: to,
            closed_ohms: Law::fixed(0.01),
            coil_plus,
            coil_minus,
            pull_in_volts: 8.0,
            drop_out_volts: 2.5,
            normally_closed: false,
        },
    );
    b.circuit.relays.push(Relay {
        part: ALL,
        coil,
        contacts: vec![contact],
    });
    // Connectors and wires.
    let m1 = b.connector("M1", &[1, 2, 3, 12, 16, 27], ["", "/pin"], true);
    b.connector("floor", &[5, 6, 7, 8], ["/a", "/b"], true);
    let s1 = b.connector("S1", &[1, 2, 3], ["", "/pin"], true);
    b.wire("W2", "F2/out", "M1.1", 0.04);
    b.wire("W3", "F2/out", "K2/86", 0.02);
    b.wire("W4", "M1.2", "G1", 0.02);
    b.wire("W5", "K2/85", "M1.16", 0.06);
    b.wire("W6", "F7/out", "K2/30", 0.002);
    b.wire("W10", "M1.12", "floor.5/a", 0.08);
    b.wire("W11", "M1.3", "floor.6/a", 0.08);
    b.wire("W12", "M1.27", "floor.7/a", 0.08);
    b.wire("W13", "K2/87", "floor.8/a", 0.01);
    b.wire("W20", "floor.5/b", "S1.1", 0.09);
    b.wire("W21", "floor.6/b", "S1.2", 0.09);
    b.wire("W22", "floor.7/b", "S1.3", 0.09);
    b.wire("W23", "floor.8/b", "fan+", 0.02);
    b.wire("W24", "fan-", "G4", 0.004);
    b.circuit.bundles.push(Bundle {
        words: "floor joint to sensor".into(),
        wires: [9, 10, 11, 12].map(WireId).to_vec(),
        repair_minutes: 30.0,
    });
    // What the sensor plug's wires are, for neighbours.
    for (cavity, wire) in [(1u16, 9), (2, 10), (3, 11)] {
        let branch = b.circuit.wires[wire].branch;
        let cavity = b.circuit.connectors[s1.idx()]
            .cavities
            .get_mut(&cavity)
            .expect("the circuit made by hand is right");
        cavity.wires[0] = Some((branch, WireId::from(wire)));
    }
    climate(&mut b, m1, fan);
    sensor(&mut b);
    let motor = b.param("fan");
    b.r("fan", Role::Motor, "fan+", "fan-", by_factor(0.85, motor, 0.08));
    b.circuit
}

fn climate(b: &mut Builder, connector: ConnectorId, fan: LoadId) {
    let (rail, ground) = (
        b.point("climate/rail", Access::Inside),
        b.point("climate/ground", Access::Inside),
    );
    let (supply, adc) = (
        b.point("climate/supply", Access::Inside),
        b.point("climate/adc", Access::Inside),
    );
    b.r(
        "climate/feed",
        Role::Other,
        "M1.1/pin",
        "climate/supply",
        Law::fixed(0.05),
    );
    b.r(
        "climate/ground path",
        Role::InsideGround,
        "M1.2/pin",
        "climate/ground",
        Law::fixed(0.01),
    );
    b.r(
        "climate/sensor ground",
        Role::InsideGround,
        "M1.3/pin",
        "climate/ground",
        Law::fixed(0.3),
    );
    let draw = Law::fixed(0.15);
    let sink = BranchKind::CurrentSink {
        from: supply,
        to: ground,
        amps: draw,
        knee_volts: 4.0,
        drawn: Condition::Always,
    };
    b.branch("climate/draw", Role::Quiescent, sink);
    let rail_param = b.param("climate rail");
    let reference_param = b.param("climate reference");
    let output = |output, offset_volts, source_limit_amps, sink_limit_amps| BranchKind::Output {
        supply,
        ground,
        output,
        offset_volts,
        gain: Law::fixed(0.0),
        dropout_volts: 0.5,
        ohms: Law::fixed(0.5),
        source_limit_amps,
        sink_limit_amps,
    };
    b.branch(
        "climate/rail",
        Role::Other,
        output(rail, by_factor(5.0, rail_param, 0.005), 1.0, 1.0),
    );
    let pin = b.at("M1.12/pin");
    b.branch(
        "climate/reference",
        Role::Reference,
        output(pin, by_factor(5.0, reference_param, 0.01), 0.05, 0.0),
    );
    b.r(
        "climate/bleed",
        Role::Bias,
        "M1.12/pin",
        "climate/ground",
        Law::fixed(22e3),
    );
    let pull = b.param("climate pull");
    b.r(
        "climate/pull",
        Role::Pull,
        "M1.27/pin",
        "climate/ground",
        by_factor(150e3, pull, 0.5),
    );
    b.r(
        "climate/series",
        Role::Series,
        "M1.27/pin",
        "climate/adc",
        Law::fixed(10e3),
    );
    for (path, anode, cathode) in [("climate/clamp high", adc, rail), ("climate/clamp low", ground, adc)] {
        let diode = BranchKind::Diode {
            anode,
            cathode,
            saturation_amps: 1e-14,
            thermal_volts: 0.02585,
            series_ohms: 1.0,
        };
        b.branch(path, Role::ClampDiode, diode);
    }
    let low_side = b.at("M1.16/pin");
    b.branch(
        "climate/fan driver",
        Role::Driver,
        BranchKind::Driver {
            a: low_side,
            b: ground,
            on_ohms: Law::fixed(0.4),
            off_ohms: 2e6,
            limit_amps: 1.0,
            commanded: Condition::Commanded(fan),
        },
    );
    b.circuit.modules.push(Module {
        part: ALL,
        pins: vec![],
        rail,
        ground,
        supply: Some(supply),
    });
    let _ = connector;
    b.circuit.channels.push(Channel {
        id: "pressure".into(),
        words: "refrigerant pressure".into(),
        module: ModuleId(0),
        sense: adc,
        against: ground,
        ratiometric: true,
        low_volts: 0.0,
        high_volts: 5.0,
        steps: 1024,
        scaling: vec![(0.5, 0.0), (4.5, 32.0)],
        unit: "bar".into(),
        filter_seconds: 0.1,
        counts: None,
        substitute: None,
    });
    for (code, below, above) in [("P0532", Some(0.25), None), ("P0533", None, Some(4.75))] {
        b.circuit.monitors.push(Monitor {
            code: code.into(),
            words: "pressure sensor circuit".into(),
            watches: Watches::Channel(ChannelId(0)),
            limits: Limits {
                below,
                above,
                between: None,
            },
            runs: keys(&[Key::On, Key::Running]),
            seconds: 2.0,
            then: String::new(),
        });
    }
}

fn sensor(b: &mut Builder) {
    let doubt = b.param("pressure");
    b.circuit.sensed.push(Sensed {
        id: "pressure".into(),
        words: "refrigerant pressure".into(),
        unit: "bar".into(),
        range: (0.0, 32.0),
        usual: 8.0,
        at_key: BTreeMap::new(),
        spread: 1.0,
        param: Some(doubt),
        set_minutes: None,
    });
    let (supply, ground, output) = (b.at("S1.1/pin"), b.at("S1.2/pin"), b.at("S1.3/pin"));
    let gain = Law {
        base: Base::Table {
            by: SensedId(0),
            rows: vec![(0.0, 0.1), (32.0, 0.9)],
            logarithmic: false,
        },
        moved_by: vec![],
    };
    let out = b.branch(
        "sensor/output",
        Role::SensorOutput,
        BranchKind::Output {
            supply,
            ground,
            output,
            offset_volts: Law::fixed(0.0),
            gain,
            dropout_volts: 0.05,
            ohms: Law::fixed(100.0),
            source_limit_amps: 0.01,
            sink_limit_amps: 0.01,
        },
    );
    // What the sensor itself draws, as a resistance: with its ground open this is what lifts the signal to reference.
    let own = b.r("sensor/own", Role::Other, "S1.1/pin", "S1.2/pin", Law::fixed(1000.0));
    b.circuit.devices.push(Device {
        part: ALL,
        kind: "three-wire sensor".into(),
        pins: vec![],
        inside: vec![out, own],
        senses: Some(SensedId(0)),
        accessory: false,
        acts: None,
    });
}

/// A bench with the circuit on it.
pub(crate) fn bench() -> Bench {
    Bench::new(Arc::new(van())).expect("the circuit made by hand is right")
}

pub(crate) fn fault(path: &str, severity: Option<(f64, f64)>, changes: Vec<Change>) -> Fault {
    Fault {
        path: path.into(),
        what: path.into(),
        place: path.into(),
        parts: vec![],
        points: vec![],
        mode: Mode::Open,
        severity: severity.map(|(low, high)| Severity {
            unit: quantity::Unit::Ohm,
            low,
            high,
            logarithmic: true,
        }),
        changes,
        weight: 1.0,
        repair: Repair {
            words: String::new(),
            key: String::new(),
            minutes: 0.0,
            parts_price: 0.0,
        },
    }
}

pub(crate) fn branch(circuit: &Circuit, path: &str) -> BranchId {
    let at = circuit.branches.iter().position(|branch| branch.path == path);
    BranchId::from(at.unwrap_or_else(|| panic!("no branch {path}")))
}

pub(crate) fn point(circuit: &Circuit, path: &str) -> PointId {
    let at = circuit.points.iter().position(|point| point.path == path);
    PointId::from(at.unwrap_or_else(|| panic!("no point {path}")))
}

pub(crate) fn open(circuit: &Circuit, path: &str) -> Fault {
    fault(&format!("{path} open"), None, vec![Change::Open(branch(circuit, path))])
}

pub(crate) fn leak(circuit: &Circuit, a: &str, b: &str) -> Fault {
    let change = Change::Bridge(point(circuit, a), point(circuit, b));
    fault(&format!("leak {a} {b}"), Some((0.01, 1e8)), vec![change])
}

pub(crate) fn set_up(circuit: &Circuit, text: &str) -> SetUp {
    let mut set_up = SetUp::default();
    for item in text.split("; ").filter(|item| !item.is_empty()) {
        match item {
            "key off" => set_up.key = Key::Off,
            "key on" => set_up.key = Key::On,
            "running" => set_up.key = Key::Running,
            "fan" => drop(set_up.commanded.insert(LoadId(0))),
            "M1 apart" => drop(set_up.apart.insert(ConnectorId(0))),
            "floor apart" => drop(set_up.apart.insert(ConnectorId(1))),
            "S1 apart" => drop(set_up.apart.insert(ConnectorId(2))),
            "F2 out" => drop(set_up.fuses_out.insert(FuseId(0))),
            "battery off" => set_up.battery_off = true,
            other => match other.split(' ').collect::<Vec<_>>()[..] {
                ["pressure", bar] => drop(
                    set_up
                        .sensed
                        .insert(SensedId(0), bar.parse().expect("the circuit made by hand is right")),
                ),
                ["jumper", a, b] => {
                    set_up.placed.push(Placed::Jumper {
                        a: point(circuit, a),
                        b: point(circuit, b),
                        fuse_amps: None,
                    });
                }
                _ => panic!("no set-up item {other}"),
            },
        }
    }
    set_up
}

/// What one test shows under some faults.
#[track_caller]
pub(crate) fn show(bench: &Bench, set_up_text: &str, test: &str, faults: &[(&Fault, f64)]) -> Prediction {
    at(bench, set_up_text, test, faults, &[])
}

#[track_caller]
pub(crate) fn at(bench: &Bench, set_up_text: &str, test: &str, faults: &[(&Fault, f64)], theta: &[f64]) -> Prediction {
    let placement = placement(bench.circuit(), test);
    let set_up = set_up(bench.circuit(), set_up_text);
    let hypotheses = [Hypothesis {
        faults: faults.to_vec(),
    }];
    let question = Question {
        hypotheses: &hypotheses,
        set_up: &set_up,
        placements: &[placement],
        theta,
        with_flows: false,
    };
    bench
        .predict(question)
        .expect("the circuit made by hand is right")
        .predictions
        .remove(0)
}

#[track_caller]
pub(crate) fn placement(circuit: &Circuit, test: &str) -> Placement {
    parse_placement(circuit, test).unwrap_or_else(|error| panic!("{test}: {error}"))
}
