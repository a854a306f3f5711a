//! Circuits for the tests, made by hand.

use circuit::{Key, PinKind, Role};

use crate::maker::Maker;

/// The demo: pressure sensor, floor joint, fan behind a relay.
pub(crate) fn sensor_and_fan() -> Maker {
    let mut m = Maker::new("Refrigerant pressure sensor and condenser fan");
    m.feed("ignition", "ignition feed", &[Key::On, Key::Cranking, Key::Running]);
    m.fuse("F2", "climate fuse", "ignition", 10.0);
    m.fuse("F7", "fan fuse", "battery+", 30.0);
    m.relay("K2", "fan relay");
    m.ground("G1", "ground stud behind the glove box");
    m.ground("G4", "ground stud at the left front rail");
    m.module("climate", "climate module");
    m.connector("M1", "module plug", Some("climate"), &[&[1, 2, 3, 12, 16, 27]]);
    m.device("sensor", "pressure sensor", "three-wire sensor");
    m.connector("S1", "sensor plug", Some("sensor"), &[&[1, 2, 3]]);
    m.inside(
        &[
            ("reference", "S1.1/pin"),
            ("ground", "S1.2/pin"),
            ("signal", "S1.3/pin"),
        ],
        &[(Role::SensorOutput, 2, 1), (Role::Quiescent, 0, 1)],
    );
    m.device("fan", "condenser fan motor", "motor");
    m.connector("C5", "fan plug", Some("fan"), &[&[1, 2]]);
    m.inside(&[("plus", "C5.1/pin"), ("minus", "C5.2/pin")], &[(Role::Motor, 0, 1)]);
    m.connector("floor", "floor joint", None, &[&[5, 6, 7, 8]]);
    m.splice("SP1", "splice near the fuse box");
    m.pin("M1.1", PinKind::Feed, "ignition feed");
    m.pin("M1.2", PinKind::Ground, "module ground");
    m.pin("M1.3", PinKind::SensorGround, "sensor ground");
    m.pin("M1.12", PinKind::Reference, "5 V reference");
    m.pin("M1.16", PinKind::LowSideDriver, "fan relay control");
    m.pin("M1.27", PinKind::Input, "pressure signal");
    for (id, colour, from, to) in [
        ("W1", "red/blue", "F2/out", "SP1"),
        ("W2", "red/blue", "SP1", "M1.1"),
        ("W3", "red/blue", "SP1", "K2/86"),
        ("W4", "black", "M1.2", "G1"),
        ("W5", "white/green", "K2/85", "M1.16"),
        ("W6", "red", "F7/out", "K2/30"),
        ("W10", "grey/red", "M1.12", "floor.5/a"),
        ("W11", "brown", "M1.3", "floor.6/a"),
        ("W12", "violet/yellow", "M1.27", "floor.7/a"),
        ("W13", "green/cream", "K2/87", "floor.8/a"),
        ("W20", "grey/red", "floor.5/b", "S1.1"),
        ("W21", "brown", "floor.6/b", "S1.2"),
        ("W22", "violet/yellow", "floor.7/b", "S1.3"),
        ("W23", "green/cream", "floor.8/b", "C5.1"),
        ("W24", "black", "C5.2", "G4"),
    ] {
        m.wire(id, colour, from, to);
    }
    m
}

/// Two wires, one thermistor.
pub(crate) fn thermistor() -> Maker {
    let mut m = Maker::new("Coolant temperature");
    m.module("engine", "engine module");
    m.connector("E1", "engine module plug", Some("engine"), &[&[14, 31]]);
    m.device("ntc", "coolant temperature sensor", "thermistor");
    m.connector("T1", "temperature sensor plug", Some("ntc"), &[&[1, 2]]);
    m.inside(
        &[("1", "T1.1/pin"), ("2", "T1.2/pin")],
        &[(Role::SensingResistor, 0, 1)],
    );
    m.pin("E1.14", PinKind::Input, "coolant temperature");
    m.pin("E1.31", PinKind::SensorGround, "sensor ground");
    m.wire("W1", "blue/white", "E1.14", "T1.1");
    m.wire("W2", "black/green", "E1.31", "T1.2");
    m
}

/// A pump behind a relay and a fuse, on a stud.
pub(crate) fn pump() -> Maker {
    let mut m = Maker::new("Fuel pump");
    m.feed("ignition", "ignition feed", &[Key::On, Key::Cranking, Key::Running]);
    m.fuse("F2", "pump fuse", "battery+", 20.0);
    m.relay("K1", "pump relay");
    m.ground("G3", "ground stud under the rear seat");
    m.module("engine", "engine module");
    m.connector("E1", "engine module plug", Some("engine"), &[&[50]]);
    m.device("pump", "fuel pump", "motor");
    m.connector("P1", "pump plug", Some("pump"), &[&[1, 2]]);
    m.inside(&[("plus", "P1.1/pin"), ("minus", "P1.2/pin")], &[(Role::Motor, 0, 1)]);
    m.pin("E1.50", PinKind::LowSideDriver, "pump relay control");
    m.wire("W1", "red", "F2/out", "K1/30");
    m.wire("W2", "grey", "K1/87", "P1.1");
    m.wire("W3", "black", "P1.2", "G3");
    m.wire("W4", "yellow/red", "ignition", "K1/86");
    m.wire("W5", "white", "K1/85", "E1.50");
    m
}

/// Two injectors, a shared feed, two drivers.
pub(crate) fn injectors() -> Maker {
    let mut m = Maker::new("Injectors 1 and 2");
    m.feed("ignition", "ignition feed", &[Key::On, Key::Cranking, Key::Running]);
    m.fuse("F5", "injector fuse", "ignition", 15.0);
    m.module("engine", "engine module");
    m.connector("E1", "engine module plug", Some("engine"), &[&[1, 2]]);
    for n in 1..=2 {
        m.device(&format!("inj{n}"), &format!("injector {n}"), "coil");
        let plug = format!("I{n}");
        m.connector(
            &plug,
            &format!("injector {n} plug"),
            Some(&format!("inj{n}")),
            &[&[1, 2]],
        );
        let pins = [format!("{plug}.1/pin"), format!("{plug}.2/pin")];
        m.inside(&[("feed", &pins[0]), ("control", &pins[1])], &[(Role::Coil, 0, 1)]);
    }
    m.splice("SP3", "splice in the engine harness");
    m.pin("E1.1", PinKind::LowSideDriver, "injector 1 control");
    m.pin("E1.2", PinKind::LowSideDriver, "injector 2 control");
    m.wire("W1", "red/white", "F5/out", "SP3");
    m.wire("W2", "red/white", "SP3", "I1.1");
    m.wire("W3", "red/white", "SP3", "I2.1");
    m.wire("W4", "brown/blue", "E1.1", "I1.2");
    m.wire("W5", "brown/green", "E1.2", "I2.2");
    m
}

/// Forty terminals: two modules, eight devices of all kinds, a joint, shared reference and ground.
pub(crate) fn forty_terminals() -> Maker {
    let mut m = Maker::new("Engine sensors and lamps");
    m.feed("ignition", "ignition feed", &[Key::On, Key::Running]);
    m.fuse("F9", "sensor fuse", "ignition", 7.5);
    m.ground("G2", "ground stud at the engine block");
    m.module("engine", "engine module");
    m.connector(
        "A",
        "engine plug A",
        Some("engine"),
        &[&[1, 2, 3, 4, 5], &[6, 7, 8, 9, 10]],
    );
    m.pin("A.1", PinKind::Reference, "5 V reference");
    m.pin("A.2", PinKind::Input, "throttle signal");
    m.pin("A.3", PinKind::SensorGround, "sensor ground");
    m.pin("A.4", PinKind::Input, "coolant temperature");
    m.pin("A.5", PinKind::Input, "manifold pressure");
    m.pin("A.6", PinKind::LowSideDriver, "purge valve");
    m.pin("A.7", PinKind::Feed, "feed");
    m.pin("A.8", PinKind::Ground, "ground");
    m.pin("A.9", PinKind::Input, "oil switch");
    m.pin("A.10", PinKind::HighSideDriver, "lamp");
    m.module("body-module", "body module");
    m.connector("B", "body plug", Some("body-module"), &[&[1, 2, 3]]);
    m.pin("B.1", PinKind::Input, "bus");
    m.pin("B.2", PinKind::HighSideDriver, "stop lamp");
    m.pin("B.3", PinKind::Ground, "ground");
    m.connector("J", "bulkhead joint", None, &[&[1, 2, 3, 4, 5, 6]]);
    m.splice("SPR", "reference splice");
    m.splice("SPG", "sensor ground splice");
    m.device("throttle", "throttle position sensor", "potentiometer");
    m.connector("D1", "throttle plug", Some("throttle"), &[&[1, 2, 3]]);
    m.inside(
        &[("5 V", "D1.1/pin"), ("wiper", "D1.2/pin"), ("ground", "D1.3/pin")],
        &[(Role::Track, 0, 2), (Role::Wiper, 1, 2)],
    );
    m.device("map", "manifold pressure sensor", "three-wire sensor");
    m.connector("D2", "pressure plug", Some("map"), &[&[1, 2, 3]]);
    m.inside(
        &[("5 V", "D2.1/pin"), ("signal", "D2.2/pin"), ("ground", "D2.3/pin")],
        &[(Role::SensorOutput, 1, 2)],
    );
    m.device("ntc", "coolant temperature sensor", "thermistor");
    m.connector("D3", "coolant plug", Some("ntc"), &[&[1, 2]]);
    m.inside(&[("", "D3.1/pin"), ("", "D3.2/pin")], &[(Role::SensingResistor, 0, 1)]);
    m.device("purge", "purge valve", "coil");
    m.connector("D4", "purge plug", Some("purge"), &[&[1, 2]]);
    m.inside(&[("", "D4.1/pin"), ("", "D4.2/pin")], &[(Role::Coil, 0, 1)]);
    m.device("oil", "oil pressure switch", "switch");
    m.connector("D5", "oil plug", Some("oil"), &[&[1]]);
    m.inside(&[("", "D5.1/pin")], &[(Role::SwitchContact, 0, 0)]);
    m.device("lamp", "warning lamp", "lamp");
    m.connector("D6", "lamp plug", Some("lamp"), &[&[1, 2]]);
    m.inside(&[("", "D6.1/pin"), ("", "D6.2/pin")], &[(Role::Lamp, 0, 1)]);
    for (i, (colour, from, to)) in [
        ("grey/red", "A.1", "J.1/a"),
        ("violet", "A.2", "J.2/a"),
        ("brown", "A.3", "J.3/a"),
        ("blue/white", "A.4", "J.4/a"),
        ("green", "A.5", "J.5/a"),
        ("white/black", "A.6", "J.6/a"),
        ("red", "F9/out", "A.7"),
        ("black", "A.8", "G2"),
        ("orange", "A.9", "D5.1"),
        ("pink", "A.10", "D6.1"),
        ("black", "D6.2", "G2"),
        ("light blue", "B.1", "D4.1"),
        ("yellow", "B.2", "D4.2"),
        ("black/white", "B.3", "G2"),
        ("grey/red", "J.1/b", "SPR"),
        ("grey/red", "SPR", "D1.1"),
        ("grey/red", "SPR", "D2.1"),
        ("violet", "J.2/b", "D1.2"),
        ("brown", "J.3/b", "SPG"),
        ("brown", "SPG", "D1.3"),
        ("brown", "SPG", "D2.3"),
        ("brown", "SPG", "D3.2"),
        ("blue/white", "J.4/b", "D3.1"),
        ("green", "J.5/b", "D2.2"),
    ]
    .into_iter()
    .enumerate()
    {
        m.wire(&format!("W{i}"), colour, from, to);
    }
    m
}

/// An accessory plugged in between sensor and harness.
pub(crate) fn accessory() -> Maker {
    let mut m = Maker::new("Coolant temperature with an adapter");
    m.module("engine", "engine module");
    m.connector("E1", "engine module plug", Some("engine"), &[&[14, 31]]);
    m.pin("E1.14", PinKind::Input, "coolant temperature");
    m.pin("E1.31", PinKind::SensorGround, "sensor ground");
    let id = m.device("adapter", "remote starter adapter", "accessory");
    m.circuit.devices[id.idx()].accessory = true;
    m.connector("X1", "adapter plug, car side", Some("adapter"), &[&[1, 2]]);
    m.connector("X2", "adapter plug, sensor side", Some("adapter"), &[&[1, 2]]);
    m.inside(
        &[
            ("a1", "X1.1/pin"),
            ("a2", "X1.2/pin"),
            ("b1", "X2.1/pin"),
            ("b2", "X2.2/pin"),
        ],
        &[(Role::Other, 0, 2), (Role::Other, 1, 3)],
    );
    m.device("ntc", "coolant temperature sensor", "thermistor");
    m.connector("T1", "temperature sensor plug", Some("ntc"), &[&[1, 2]]);
    m.inside(
        &[("1", "T1.1/pin"), ("2", "T1.2/pin")],
        &[(Role::SensingResistor, 0, 1)],
    );
    m.wire("W1", "blue/white", "E1.14", "X1.1");
    m.wire("W2", "black/green", "E1.31", "X1.2");
    m.wire("W3", "blue/white", "X2.1", "T1.1");
    m.wire("W4", "black/green", "X2.2", "T1.2");
    m
}

/// Every circuit of the tests, by name.
pub(crate) fn all() -> Vec<(&'static str, Maker)> {
    vec![
        ("demo", sensor_and_fan()),
        ("thermistor", thermistor()),
        ("pump", pump()),
        ("injectors", injectors()),
        ("forty", forty_terminals()),
        ("accessory", accessory()),
    ]
}
