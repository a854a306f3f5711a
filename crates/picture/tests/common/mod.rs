//! Circuits for the tests, made by hand: points by their path, as the circuit file names them.

#![expect(dead_code, reason = "each test file uses its own part of this")]

use std::collections::BTreeMap;

use circuit::*;

/// Makes a circuit by paths: `S1.2`, `floor.7/a`, `F1/out`, `G1`, `SP1`, `battery+`.
pub(crate) struct Maker {
    pub(crate) circuit: Circuit,
    paths: BTreeMap<String, PointId>,
}

impl Maker {
    pub(crate) fn new(title: &str) -> Self {
        let none = PointId(0);
        let circuit = Circuit {
            title: title.into(),
            vehicle: String::new(),
            points: vec![],
            branches: vec![],
            parts: vec![],
            connectors: vec![],
            wires: vec![],
            splices: vec![],
            modules: vec![],
            devices: vec![],
            fuses: vec![],
            relays: vec![],
            feeds: vec![],
            grounds: vec![],
            bundles: vec![],
            chafes: vec![],
            sensed: vec![],
            loads: vec![],
            params: vec![],
            channels: vec![],
            monitors: vec![],
            battery_plus: none,
            battery_minus: none,
            body: none,
        };
        let mut maker = Self { circuit, paths: BTreeMap::new() };
        let battery = maker.part("battery", "battery", PartKind::Battery);
        maker.circuit.battery_minus = maker.point("battery-", "battery, negative post", open(), battery);
        maker.circuit.battery_plus = maker.point("battery+", "battery, positive post", open(), battery);
        maker.ground("body", "body metal");
        maker.circuit.body = maker.at("body");
        maker
    }

    pub(crate) fn part(&mut self, id: &str, name: &str, kind: PartKind) -> PartId {
        let part =
            Part { id: id.into(), name: name.into(), kind, repair_minutes: None, price: None, is_new: false };
        self.circuit.parts.push(part);
        PartId::from(self.circuit.parts.len() - 1)
    }

    pub(crate) fn point(&mut self, path: &str, words: &str, access: Access, part: PartId) -> PointId {
        self.circuit.points.push(Point { path: path.into(), words: words.into(), access, part });
        let id = PointId::from(self.circuit.points.len() - 1);
        self.paths.insert(path.into(), id);
        id
    }

    pub(crate) fn at(&self, path: &str) -> PointId {
        *self.paths.get(path).unwrap_or_else(|| panic!("no point {path}"))
    }

    pub(crate) fn branch(&mut self, path: &str, part: PartId, role: Role, kind: BranchKind) -> BranchId {
        self.circuit.branches.push(Branch { path: path.into(), part, role, kind, rating_amps: None });
        BranchId::from(self.circuit.branches.len() - 1)
    }

    fn resistor(&mut self, path: &str, part: PartId, role: Role, a: PointId, b: PointId, ohms: f64) -> BranchId {
        self.branch(path, part, role, BranchKind::Resistor { a, b, ohms: Law::fixed(ohms) })
    }

    pub(crate) fn ground(&mut self, id: &str, name: &str) {
        let part = self.part(id, name, PartKind::Ground(self.circuit.grounds.len()));
        let point = self.point(id, name, open(), part);
        let to = if id == "body" { self.circuit.battery_minus } else { self.circuit.body };
        let branch = self.resistor(id, part, Role::Ground, point, to, 0.001);
        self.circuit.grounds.push(Ground { part, point, branch });
    }

    pub(crate) fn feed(&mut self, id: &str, name: &str, live_in: &[Key]) {
        let part = self.part(id, name, PartKind::Feed(self.circuit.feeds.len()));
        let point = self.point(id, name, open(), part);
        let closed = Condition::KeyIn(live_in.iter().copied().collect());
        let kind = BranchKind::Switch { a: self.circuit.battery_plus, b: point, closed_ohms: Law::fixed(0.01), closed };
        self.branch(&format!("{id}/switch"), part, Role::FeedSwitch, kind);
        self.circuit.feeds.push(Feed { part, point, live_in: live_in.to_vec() });
    }

    pub(crate) fn fuse(&mut self, id: &str, name: &str, from: &str, amps: f64) {
        let fuse = FuseId::from(self.circuit.fuses.len());
        let part = self.part(id, name, PartKind::Fuse(fuse));
        let a = self.point(&format!("{id}/in"), &format!("{name}, feed side"), open(), part);
        let b = self.point(&format!("{id}/out"), &format!("{name}, load side"), open(), part);
        let kind = BranchKind::Fuse { fuse, a, b, ohms: Law::fixed(0.005), rating_amps: amps };
        let branch = self.branch(id, part, Role::Fuse, kind);
        let from = self.at(from);
        self.resistor(&format!("{id}/holder"), part, Role::Contact, from, a, 0.001);
        self.circuit.fuses.push(Fuse { part, branch, rating_amps: amps });
    }

    pub(crate) fn relay(&mut self, id: &str, name: &str) {
        let relay = RelayId::from(self.circuit.relays.len());
        let part = self.part(id, name, PartKind::Relay(relay));
        let [common, minus, plus, b] = ["30", "85", "86", "87"]
            .map(|n| self.point(&format!("{id}/{n}"), &format!("{name}, socket terminal {n}"), open(), part));
        let coil = self.resistor(&format!("{id}/coil"), part, Role::RelayCoil, plus, minus, 85.0);
        let kind = BranchKind::RelayContact {
            relay,
            a: common,
            b,
            closed_ohms: Law::fixed(0.005),
            coil_plus: plus,
            coil_minus: minus,
            pull_in_volts: 7.0,
            drop_out_volts: 3.0,
            normally_closed: false,
        };
        let contact = self.branch(&format!("{id}/87"), part, Role::RelayContact, kind);
        self.circuit.relays.push(Relay { part, coil, contacts: vec![contact] });
    }

    pub(crate) fn module(&mut self, id: &str, name: &str) {
        let part = self.part(id, name, PartKind::Module(ModuleId::from(self.circuit.modules.len())));
        let rail = self.point(&format!("{id}/rail"), "", Access::Inside, part);
        let ground = self.point(&format!("{id}/ground"), "", Access::Inside, part);
        self.circuit.modules.push(Module { part, pins: vec![], rail, ground, supply: None });
    }

    /// A connector; `owner` is the part that its second half belongs to, none for a joint.
    pub(crate) fn connector(&mut self, id: &str, name: &str, owner: Option<&str>, rows: &[&[u16]]) {
        let connector = ConnectorId::from(self.circuit.connectors.len());
        let part = self.part(id, name, PartKind::Connector(connector));
        let owner = owner.map(|owner| self.circuit.parts.iter().find(|part| part.id == owner).unwrap().kind);
        let owner = match owner {
            Some(PartKind::Module(module)) => Owner::Module(module),
            Some(PartKind::Device(device)) => Owner::Device(device),
            _ => Owner::Harness,
        };
        let mut cavities = BTreeMap::new();
        for number in rows.iter().flat_map(|row| row.iter().copied()) {
            let (paths, access) = if owner == Owner::Harness {
                ([format!("{id}.{number}/a"), format!("{id}.{number}/b")], Access::WireSide(connector))
            } else {
                ([format!("{id}.{number}"), format!("{id}.{number}/pin")], Access::PinSide(connector))
            };
            let a = self.point(&paths[0], &format!("{name}, cavity {number}"), Access::WireSide(connector), part);
            let b = self.point(&paths[1], &format!("{name}, cavity {number}, other half"), access, part);
            let contact = self.resistor(&format!("{id}.{number}/contact"), part, Role::Contact, a, b, 0.004);
            cavities.insert(number, Cavity { words: String::new(), contact, terminals: [a, b], wires: [None, None] });
        }
        let half = |words: &str, owner| Half { words: words.into(), owner };
        self.circuit.connectors.push(Connector {
            part,
            rows: rows.iter().map(|row| row.to_vec()).collect(),
            halves: [half("wire side", Owner::Harness), half("pins", owner)],
            cavities,
            back_probe: true,
            reach_minutes: 3.0,
            part_minutes: 1.0,
            wet: false,
        });
    }

    pub(crate) fn splice(&mut self, id: &str, name: &str) {
        let part = self.part(id, name, PartKind::Splice(self.circuit.splices.len()));
        let point = self.point(id, name, Access::Inside, part);
        self.circuit.splices.push(Splice { part, point, legs: vec![] });
    }

    /// `colour` is "body" or "body/tracer".
    pub(crate) fn wire(&mut self, id: &str, colour: &str, from: &str, to: &str) {
        let wire = WireId::from(self.circuit.wires.len());
        let (body, tracer) = colour.split_once('/').map_or((colour, None), |(body, tracer)| (body, Some(tracer)));
        let part = self.part(id, &format!("{colour} wire"), PartKind::Wire(wire));
        let ends = [from, to].map(|path| self.wire_end(id, wire, part, path));
        let branch = self.resistor(id, part, Role::Wire, ends[0], ends[1], 0.03);
        self.circuit.wires.push(Wire {
            part,
            branch,
            ends,
            colour: body.into(),
            tracer: tracer.map(Into::into),
            length: 2.0,
            area: 0.5,
        });
    }

    fn wire_end(&mut self, id: &str, wire: WireId, part: PartId, path: &str) -> PointId {
        let at = self.at(path);
        if let Some(i) = self.circuit.splices.iter().position(|splice| splice.point == at) {
            let end = self.point(&format!("{id}@{path}"), "", Access::Inside, part);
            let owner = self.circuit.splices[i].part;
            let leg = self.resistor(&format!("{path}/{id}"), owner, Role::Splice, at, end, 0.001);
            self.circuit.splices[i].legs.push((leg, wire));
            return end;
        }
        for i in 0..self.circuit.connectors.len() {
            let found = self.circuit.connectors[i].cavities.iter().find_map(|(number, cavity)| {
                cavity.terminals.iter().position(|terminal| *terminal == at).map(|half| (*number, half))
            });
            if let Some((number, half)) = found {
                let end = self.point(&format!("{id}@{path}"), "", Access::Inside, part);
                let owner = self.circuit.connectors[i].part;
                let crimp = self.resistor(&format!("{path}/crimp"), owner, Role::Crimp, at, end, 0.001);
                let cavity = self.circuit.connectors[i].cavities.get_mut(&number).unwrap();
                cavity.wires[half] = Some((crimp, wire));
                return end;
            }
        }
        at
    }

    /// A pin of the last module at a cavity, with what is usual behind it.
    pub(crate) fn pin(&mut self, cavity: &str, kind: PinKind, words: &str) {
        let (connector, number) = cavity.split_once('.').unwrap();
        let kind_of = self.circuit.parts.iter().find(|part| part.id == connector).unwrap().kind;
        let PartKind::Connector(connector) = kind_of else { panic!("{cavity} is no cavity") };
        let point = self.at(&format!("{cavity}/pin"));
        let module = self.circuit.modules.last().unwrap().clone();
        let path = format!("{cavity} inside");
        let mut inside = vec![];
        match kind {
            PinKind::Reference => {
                let kind = BranchKind::Output {
                    supply: module.rail,
                    ground: module.ground,
                    output: point,
                    offset_volts: Law::fixed(5.0),
                    gain: Law::fixed(0.0),
                    dropout_volts: 0.5,
                    ohms: Law::fixed(1.0),
                    source_limit_amps: 0.05,
                    sink_limit_amps: 0.0,
                };
                inside.push(self.branch(&path, module.part, Role::Reference, kind));
            }
            PinKind::Input => {
                let sense = self.point(&format!("{cavity}/sense"), "", Access::Inside, module.part);
                inside.push(self.resistor(&path, module.part, Role::Series, point, sense, 10e3));
                let to = if words.contains("temperature") { module.rail } else { module.ground };
                inside.push(self.resistor(&format!("{path} pull"), module.part, Role::Pull, point, to, 2200.0));
            }
            PinKind::LowSideDriver | PinKind::HighSideDriver => {
                let kind = BranchKind::Driver {
                    a: point,
                    b: module.ground,
                    on_ohms: Law::fixed(0.2),
                    off_ohms: 1e6,
                    limit_amps: 2.0,
                    commanded: Condition::Never,
                };
                inside.push(self.branch(&path, module.part, Role::Driver, kind));
            }
            _ => inside.push(self.resistor(&path, module.part, Role::InsideGround, point, module.ground, 0.05)),
        }
        let number = number.parse().unwrap();
        let pin = Pin { connector, cavity: number, words: words.into(), kind, point, inside, rating_amps: 1.0 };
        self.circuit.modules.last_mut().unwrap().pins.push(pin);
    }

    pub(crate) fn device(&mut self, id: &str, name: &str, kind: &str) -> DeviceId {
        let device = DeviceId::from(self.circuit.devices.len());
        let part = self.part(id, name, PartKind::Device(device));
        self.circuit.devices.push(Device {
            part,
            kind: kind.into(),
            pins: vec![],
            inside: vec![],
            senses: None,
            accessory: false,
            acts: None,
        });
        device
    }

    /// Pins of the last device (name, path), and one element of this role between each pair of them.
    pub(crate) fn inside(&mut self, pins: &[(&str, &str)], elements: &[(Role, usize, usize)]) {
        let points: Vec<(String, PointId)> =
            pins.iter().map(|(name, path)| ((*name).to_owned(), self.at(path))).collect();
        let part = self.circuit.devices.last().unwrap().part;
        let made: Vec<BranchId> = elements
            .iter()
            .map(|(role, a, b)| self.resistor("inside", part, *role, points[*a].1, points[*b].1, 100.0))
            .collect();
        let device = self.circuit.devices.last_mut().unwrap();
        device.pins = points;
        device.inside = made;
    }
}

pub(crate) fn open() -> Access {
    Access::Open { tenths: 10 }
}

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
        &[("reference", "S1.1/pin"), ("ground", "S1.2/pin"), ("signal", "S1.3/pin")],
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
    m.inside(&[("1", "T1.1/pin"), ("2", "T1.2/pin")], &[(Role::SensingResistor, 0, 1)]);
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
        m.connector(&plug, &format!("injector {n} plug"), Some(&format!("inj{n}")), &[&[1, 2]]);
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
    m.connector("A", "engine plug A", Some("engine"), &[&[1, 2, 3, 4, 5], &[6, 7, 8, 9, 10]]);
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
        &[("a1", "X1.1/pin"), ("a2", "X1.2/pin"), ("b1", "X2.1/pin"), ("b2", "X2.2/pin")],
        &[(Role::Other, 0, 2), (Role::Other, 1, 3)],
    );
    m.device("ntc", "coolant temperature sensor", "thermistor");
    m.connector("T1", "temperature sensor plug", Some("ntc"), &[&[1, 2]]);
    m.inside(&[("1", "T1.1/pin"), ("2", "T1.2/pin")], &[(Role::SensingResistor, 0, 1)]);
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
