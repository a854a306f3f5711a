//! A small circuit by hand for tests, a branch of every role: module M1, joint J, plugs S1 and P1, relay, fuse, splice.

use std::collections::BTreeMap;

use crate::*;

struct Builder(Circuit);

impl Builder {
    fn part(&mut self, id: &str, name: &str, kind: PartKind) -> PartId {
        self.0.parts.push(Part {
            id: id.into(),
            name: name.into(),
            kind,
            repair_minutes: None,
            price: None,
            is_new: false,
        });
        PartId::from(self.0.parts.len() - 1)
    }

    fn point(&mut self, path: &str, access: Access, part: PartId) -> PointId {
        self.0.points.push(Point {
            path: path.into(),
            words: format!("point {path}"),
            access,
            part,
        });
        PointId::from(self.0.points.len() - 1)
    }

    fn inside(&mut self, path: &str, part: PartId) -> PointId {
        self.point(path, Access::Inside, part)
    }

    fn open(&mut self, path: &str, part: PartId) -> PointId {
        self.point(path, Access::Open { tenths: 10 }, part)
    }

    fn branch(&mut self, path: &str, part: PartId, role: Role, kind: BranchKind) -> BranchId {
        self.0.branches.push(Branch {
            path: path.into(),
            part,
            role,
            kind,
            rating_amps: None,
            henries: 0.0,
        });
        BranchId::from(self.0.branches.len() - 1)
    }

    fn resistor(&mut self, path: &str, part: PartId, role: Role, ends: (PointId, PointId), ohms: f64) -> BranchId {
        let (a, b) = ends;
        self.branch(
            path,
            part,
            role,
            BranchKind::Resistor {
                a,
                b,
                ohms: Law::fixed(ohms),
            },
        )
    }

    fn connector(&mut self, id: &str, name: &str, rows: &[&[u16]], b: Owner, wet: bool) -> ConnectorId {
        let connector = ConnectorId::from(self.0.connectors.len());
        let part = self.part(id, name, PartKind::Connector(connector));
        self.0.connectors.push(Connector {
            part,
            rows: rows.iter().map(|row| row.to_vec()).collect(),
            halves: [
                Half {
                    words: "wire side".into(),
                    owner: Owner::Harness,
                },
                Half {
                    words: "far side".into(),
                    owner: b,
                },
            ],
            cavities: BTreeMap::new(),
            back_probe: true,
            reach_minutes: 2.0,
            part_minutes: 1.0,
            wet,
        });
        connector
    }

    /// A mated cavity; its terminals.
    fn cavity(&mut self, connector: ConnectorId, number: u16, words: &str) -> [PointId; 2] {
        let part = self.0.connectors[connector.idx()].part;
        let path = format!("{}.{number}", self.0.parts[part.idx()].id);
        let wired = self.0.connectors[connector.idx()].halves[1].owner == Owner::Harness;
        let names = if wired {
            [format!("{path}/a"), format!("{path}/b")]
        } else {
            [path.clone(), format!("{path}/pin")]
        };
        let far = if wired {
            Access::WireSide(connector)
        } else {
            Access::PinSide(connector)
        };
        let a = self.point(&names[0], Access::WireSide(connector), part);
        let b = self.point(&names[1], far, part);
        let kind = BranchKind::Switch {
            a,
            b,
            closed_ohms: Law::fixed(0.01),
            closed: Condition::Mated(connector),
        };
        let contact = self.branch(&format!("{path}/contact"), part, Role::Contact, kind);
        let cavity = Cavity {
            words: words.into(),
            contact,
            terminals: [a, b],
            wires: [None, None],
        };
        self.0.connectors[connector.idx()].cavities.insert(number, cavity);
        [a, b]
    }

    /// A point inside the crimp of a wire on one half of a cavity.
    fn crimp(&mut self, (connector, number, half): (ConnectorId, u16, usize), wire: WireId) -> PointId {
        let part = self.0.connectors[connector.idx()].part;
        let terminal = self.0.connectors[connector.idx()].cavities[&number].terminals[half];
        let path = format!("{}/crimp", self.0.points[terminal.idx()].path);
        let end = self.inside(&format!("{path} end"), part);
        let branch = self.resistor(&path, part, Role::Crimp, (terminal, end), 0.001);
        let cavity = self.0.connectors[connector.idx()].cavities.get_mut(&number).unwrap();
        cavity.wires[half] = Some((branch, wire));
        end
    }

    fn wire(&mut self, id: &str, colour: &str, area: f64, ends: [End; 2]) -> WireId {
        let wire = WireId::from(self.0.wires.len());
        let part = self.part(id, "", PartKind::Wire(wire));
        let ends = ends.map(|end| match end {
            End::Cavity(connector, number, half) => self.crimp((connector, number, half), wire),
            End::Splice(splice) => {
                let (point, splice_part) = (self.0.splices[splice].point, self.0.splices[splice].part);
                let end = self.inside(&format!("{id} at splice"), splice_part);
                let leg = self.resistor(&format!("{id} joint"), splice_part, Role::Splice, (end, point), 0.001);
                self.0.splices[splice].legs.push((leg, wire));
                end
            }
            End::At(point) => point,
        });
        let branch = self.resistor(id, part, Role::Wire, (ends[0], ends[1]), 0.04);
        let (colour, tracer) = colour
            .split_once('/')
            .map_or((colour, None), |(body, tracer)| (body, Some(tracer)));
        self.0.wires.push(Wire {
            part,
            branch,
            ends,
            colour: colour.into(),
            tracer: tracer.map(Into::into),
            length: 2.0,
            area,
        });
        wire
    }

    fn device(&mut self, id: &str, pins: &[(&str, PointId)], accessory: bool) -> (DeviceId, PartId) {
        let device = DeviceId::from(self.0.devices.len());
        let part = self.part(id, id, PartKind::Device(device));
        self.0.devices.push(Device {
            part,
            kind: "sample".into(),
            pins: pins.iter().map(|(name, point)| ((*name).into(), *point)).collect(),
            inside: Vec::new(),
            senses: None,
            accessory,
            acts: None,
        });
        (device, part)
    }
}

#[derive(Clone, Copy)]
enum End {
    Cavity(ConnectorId, u16, usize),
    Splice(usize),
    At(PointId),
}

use End::{At, Cavity as C, Splice as S};

pub(crate) fn circuit() -> Circuit {
    let nowhere = PointId(0);
    let mut b = Builder(Circuit {
        title: "sample".into(),
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
        sensed: vec![Sensed {
            id: "pressure".into(),
            words: "refrigerant pressure".into(),
            unit: "bar".into(),
            range: (0.0, 30.0),
            usual: 6.0,
            at_key: BTreeMap::new(),
            spread: 0.5,
            param: Some(ParamId(1)),
            set_minutes: Some(4.0),
        }],
        rhythms: vec![Rhythm {
            id: "pulses".into(),
            words: "pulses of the fan".into(),
            phases: vec![Phase {
                name: "on".into(),
                share: 0.4,
                sets: None,
            }],
            rate: Law::fixed(20.0),
            runs: Condition::Commanded(LoadId(0)),
        }],
        loads: vec![Load {
            id: "fan".into(),
            words: "condenser fan".into(),
            acts: Some("the fan turns".into()),
        }],
        unknowns: Vec::new(),
        params: ["battery", "pressure"]
            .map(|path| Param {
                path: path.into(),
                words: path.into(),
                nominal: 1.0,
                unit: quantity::Unit::One,
            })
            .to_vec(),
        channels: vec![],
        monitors: vec![],
        battery_plus: nowhere,
        battery_minus: nowhere,
        body: nowhere,
    });
    let pressure = SensedId(0);
    let fan = Condition::Commanded(LoadId(0));

    let battery = b.part("battery", "battery", PartKind::Battery);
    let plus = b.open("battery+", battery);
    let minus = b.open("battery-", battery);
    (b.0.battery_plus, b.0.battery_minus) = (plus, minus);
    let volts = Law {
        base: Base::Fixed(12.6),
        moved_by: vec![Moved {
            param: ParamId(0),
            factor: 0.0,
            shift: 0.3,
        }],
    };
    let source = |volts, ohms, present| BranchKind::Source {
        plus,
        minus,
        volts,
        ohms: Law::fixed(ohms),
        present,
    };
    b.branch(
        "battery",
        battery,
        Role::Battery,
        source(volts, 0.012, Condition::BatteryOn),
    );
    let charger = b.part("charger", "alternator", PartKind::Charger);
    let running = Condition::KeyIn([Key::Running].into());
    b.branch(
        "charger",
        charger,
        Role::Charger,
        source(Law::fixed(14.2), 0.05, running),
    );
    let ground = b.part("G1", "body strap", PartKind::Ground(0));
    let body = b.open("body", ground);
    b.0.body = body;
    let strap = b.resistor("G1", ground, Role::Ground, (body, minus), 0.003);
    b.0.grounds.push(Ground {
        part: ground,
        point: body,
        branch: strap,
    });
    let fuse = b.part("F1", "ignition fuse", PartKind::Fuse(FuseId(0)));
    let fused = b.open("F1/out", fuse);
    let holder = b.open("F1/in", fuse);
    b.resistor("F1/holder", fuse, Role::Contact, (plus, holder), 0.002);
    let kind = BranchKind::Fuse {
        fuse: FuseId(0),
        a: holder,
        b: fused,
        ohms: Law::fixed(0.006),
        rating_amps: 10.0,
    };
    let branch = b.branch("F1", fuse, Role::Fuse, kind);
    b.0.fuses.push(Fuse {
        part: fuse,
        branch,
        rating_amps: 10.0,
    });
    let ignition = b.part("ignition", "ignition feed", PartKind::Feed(0));
    let live = b.inside("ignition", ignition);
    let live_in = vec![Key::On, Key::Cranking, Key::Running];
    let closed = Condition::KeyIn(live_in.iter().copied().collect());
    let kind = BranchKind::Switch {
        a: fused,
        b: live,
        closed_ohms: Law::fixed(0.01),
        closed,
    };
    b.branch("ignition/switch", ignition, Role::FeedSwitch, kind);
    b.0.feeds.push(Feed {
        part: ignition,
        point: live,
        live_in,
    });
    let splice_part = b.part("SP1", "", PartKind::Splice(0));
    let splice_point = b.inside("splice SP1", splice_part);
    b.0.splices.push(Splice {
        part: splice_part,
        point: splice_point,
        legs: vec![],
    });

    let module_id = ModuleId(0);
    let m1 = b.connector(
        "M1",
        "climate module plug",
        &[&[1, 2, 3], &[4, 5, 6]],
        Owner::Module(module_id),
        false,
    );
    let joint = b.connector("J", "floor joint", &[&[7, 8, 9, 10]], Owner::Harness, true);
    let s1 = b.connector("S1", "sensor plug", &[&[1, 2, 3]], Owner::Device(DeviceId(0)), true);
    let p1 = b.connector("P1", "fan plug", &[&[1, 2]], Owner::Device(DeviceId(1)), false);

    // Module.
    let module = b.part("climate", "climate module", PartKind::Module(module_id));
    let rail = b.inside("climate/rail", module);
    let pins: Vec<PointId> = ["feed", "ground", "reference", "signal", "sensor ground", "fan relay"]
        .into_iter()
        .zip(1..)
        .map(|(words, number)| b.cavity(m1, number, words)[1])
        .collect();
    let [feed, gnd, reference, signal, sensor_ground, driver] = pins[..] else {
        unreachable!()
    };
    let module_ground = b.inside("climate/ground", module);
    let sense = b.inside("climate/signal sense", module);
    let regulated = |output| BranchKind::Output {
        supply: feed,
        ground: module_ground,
        output,
        offset_volts: Law::fixed(5.0),
        gain: Law::fixed(0.0),
        dropout_volts: 0.5,
        ohms: Law::fixed(0.5),
        source_limit_amps: 0.05,
        sink_limit_amps: 0.0,
    };
    let diode = |anode, cathode| BranchKind::Diode {
        anode,
        cathode,
        saturation_amps: 1e-14,
        thermal_volts: 0.026,
        series_ohms: 10.0,
    };
    let draw = BranchKind::CurrentSink {
        from: feed,
        to: module_ground,
        amps: Law::fixed(0.18),
        knee_volts: 5.0,
        drawn: Condition::Always,
    };
    let inside = [
        b.branch("climate/supply draw", module, Role::Quiescent, draw),
        b.resistor(
            "climate/ground path",
            module,
            Role::InsideGround,
            (gnd, module_ground),
            0.005,
        ),
        b.branch("climate/reference", module, Role::Reference, regulated(reference)),
        b.resistor(
            "climate/reference bleed",
            module,
            Role::Bias,
            (reference, module_ground),
            22e3,
        ),
        b.resistor("climate/pull", module, Role::Pull, (signal, rail), 100e3),
        b.resistor("climate/series", module, Role::Series, (signal, sense), 10e3),
        b.branch("climate/clamp", module, Role::ClampDiode, diode(sense, rail)),
        b.resistor(
            "climate/sensor ground path",
            module,
            Role::InsideGround,
            (sensor_ground, module_ground),
            0.03,
        ),
    ];
    b.branch("climate/rail", module, Role::Other, regulated(rail));
    let kind = BranchKind::Driver {
        a: driver,
        b: module_ground,
        on_ohms: Law::fixed(0.3),
        off_ohms: 1e7,
        limit_amps: 2.0,
        commanded: fan,
    };
    let transistor = b.branch("climate/fan driver", module, Role::Driver, kind);
    let pin = |cavity: usize, words: &str, kind, inside: &[BranchId]| Pin {
        connector: m1,
        cavity: cavity as u16,
        words: words.into(),
        kind,
        point: pins[cavity - 1],
        inside: inside.to_vec(),
        rating_amps: 0.05,
        rating_volts: None,
    };
    let pins = vec![
        pin(1, "feed", PinKind::Feed, &inside[..1]),
        pin(2, "ground", PinKind::Ground, &inside[1..2]),
        pin(3, "reference", PinKind::Reference, &inside[2..4]),
        pin(4, "pressure signal", PinKind::Input, &inside[4..7]),
        pin(5, "sensor ground", PinKind::SensorGround, &inside[7..]),
        pin(6, "fan relay", PinKind::LowSideDriver, &[transistor]),
    ];
    b.0.modules.push(Module {
        part: module,
        pins,
        rail,
        ground: module_ground,
        supply: Some(feed),
    });

    // Pressure sensor, its output a divider of the reference, behind a dongle in the signal line.
    for (number, words) in [(1, "signal"), (2, "ground"), (3, "reference")] {
        b.cavity(s1, number, words);
    }
    let at =
        |b: &Builder, connector: ConnectorId, number| b.0.connectors[connector.idx()].cavities[&number].terminals[1];
    let pins = [
        ("signal", at(&b, s1, 1)),
        ("ground", at(&b, s1, 2)),
        ("reference", at(&b, s1, 3)),
    ];
    let (_, sensor) = b.device("sensor", &pins, false);
    let tap = b.inside("sensor/tap", sensor);
    let table = |rows: &[(f64, f64)], logarithmic| Law {
        base: Base::Table {
            by: pressure,
            rows: rows.to_vec(),
            logarithmic,
        },
        moved_by: vec![],
    };
    let law = |(a, b), ohms| BranchKind::Resistor { a, b, ohms };
    let upper = law((pins[2].1, tap), table(&[(0.0, 4500.0), (30.0, 500.0)], false));
    let lower = law((tap, pins[1].1), table(&[(0.0, 500.0), (30.0, 4500.0)], false));
    let bead = law((pins[0].1, pins[1].1), table(&[(0.0, 1e6), (30.0, 1e5)], true));
    let ratiometric = BranchKind::Output {
        supply: pins[2].1,
        ground: pins[1].1,
        output: pins[0].1,
        offset_volts: Law::fixed(0.0),
        gain: table(&[(0.0, 0.1), (30.0, 0.9)], false),
        dropout_volts: 0.1,
        ohms: Law::fixed(100.0),
        source_limit_amps: 0.01,
        sink_limit_amps: 0.01,
    };
    let switched = BranchKind::Switch {
        a: tap,
        b: pins[1].1,
        closed_ohms: Law::fixed(100.0),
        closed: Condition::SensedAtLeast(pressure, 28.0),
    };
    b.0.devices[0].inside = vec![
        b.branch("sensor/upper track", sensor, Role::Track, upper),
        b.branch("sensor/lower track", sensor, Role::Track, lower),
        b.resistor("sensor/wiper", sensor, Role::Wiper, (tap, pins[0].1), 100.0),
        b.branch("sensor/bead", sensor, Role::SensingResistor, bead),
        b.branch("sensor/output", sensor, Role::SensorOutput, ratiometric),
        b.branch("sensor/switch", sensor, Role::SwitchContact, switched),
        b.resistor("sensor/ballast", sensor, Role::FixedResistor, (tap, pins[2].1), 47e3),
    ];
    b.0.devices[0].senses = Some(pressure);

    // Fan, with a lamp and a valve on its plug.
    let feed_pin = b.cavity(p1, 1, "fan feed")[1];
    let ground_pin = b.cavity(p1, 2, "fan ground")[1];
    let (_, motor) = b.device("fan motor", &[("feed", feed_pin), ("ground", ground_pin)], false);
    let ends = (feed_pin, ground_pin);
    let filament = BranchKind::Lamp {
        a: feed_pin,
        b: ground_pin,
        rated_volts: 12.0,
        rated_watts: Law::fixed(5.0),
        hot_to_cold: 10.0,
    };
    b.0.devices[1].inside = vec![
        b.resistor("fan motor/winding", motor, Role::Motor, ends, 1.5),
        b.resistor("fan motor/valve", motor, Role::Coil, ends, 14.0),
        b.branch("fan motor/lamp", motor, Role::Lamp, filament),
    ];

    // Accessory between the joint and the sensor plug, two paths through and a hard-wired bypass when it is out.
    let [a1, b1] = ["dongle/1/a", "dongle/1/b"].map(|path| b.inside(path, sensor));
    let [a2, b2] = ["dongle/2/a", "dongle/2/b"].map(|path| b.inside(path, sensor));
    let (dongle, dongle_part) = b.device("dongle", &[("1a", a1), ("1b", b1), ("2a", a2), ("2b", b2)], true);
    b.0.devices[2].inside = vec![
        b.resistor("dongle/path 1", dongle_part, Role::Other, (a1, b1), 0.05),
        b.resistor("dongle/path 2", dongle_part, Role::Other, (a2, b2), 0.05),
    ];
    let bypass = BranchKind::Switch {
        a: a1,
        b: b1,
        closed_ohms: Law::fixed(0.01),
        closed: Condition::Not(Box::new(Condition::Fitted(dongle))),
    };
    b.branch("dongle/bypass 1", dongle_part, Role::Contact, bypass);

    // Relay in a socket between splice and joint.
    let relay = b.part("K1", "fan relay", PartKind::Relay(RelayId(0)));
    let [relay_in, relay_out, coil_low] = ["K1/30", "K1/87", "K1/85"].map(|path| b.open(path, relay));
    let coil = b.resistor("K1/coil", relay, Role::RelayCoil, (splice_point, coil_low), 85.0);
    let contact = BranchKind::RelayContact {
        relay: Some(RelayId(0)),
        a: relay_in,
        b: relay_out,
        closed_ohms: Law::fixed(0.01),
        coil_plus: splice_point,
        coil_minus: coil_low,
        pull_in_volts: 7.0,
        drop_out_volts: 3.0,
        normally_closed: false,
    };
    let contact = b.branch("K1/contact", relay, Role::RelayContact, contact);
    b.0.relays.push(Relay {
        part: relay,
        coil,
        contacts: vec![contact],
    });
    let bridge = BranchKind::Switch {
        a: relay_in,
        b: relay_out,
        closed_ohms: Law::fixed(0.02),
        closed: Condition::RelayBridged(RelayId(0)),
    };
    b.branch("K1/bridge", relay, Role::RelayContact, bridge);

    // Wires.
    for (number, words) in [(7, "signal"), (8, "fan feed"), (10, "sensor ground")] {
        b.cavity(joint, number, words);
    }
    b.wire("W1", "red", 2.5, [At(live), S(0)]);
    b.wire("W2", "red/white", 0.75, [S(0), C(m1, 1, 0)]);
    b.wire("W3", "red/black", 2.5, [S(0), At(relay_in)]);
    b.wire("W4", "brown", 1.0, [C(m1, 2, 0), At(body)]);
    let signal_wires = [
        b.wire("W5", "violet/yellow", 0.5, [C(m1, 4, 0), C(joint, 7, 0)]),
        b.wire("W6", "red/blue", 2.5, [At(relay_out), C(joint, 8, 0)]),
        b.wire("W7", "brown/green", 0.5, [C(m1, 5, 0), C(joint, 10, 0)]),
    ];
    b.wire("W8", "violet/yellow", 0.5, [C(joint, 7, 1), At(a1)]);
    b.wire("W9", "violet/yellow", 0.5, [At(b1), C(s1, 1, 0)]);
    b.wire("W10", "brown/green", 0.5, [C(joint, 10, 1), At(a2)]);
    b.wire("W11", "brown/green", 0.5, [At(b2), C(s1, 2, 0)]);
    b.wire("W12", "red/blue", 2.5, [C(joint, 8, 1), C(p1, 1, 0)]);
    b.wire("W13", "brown", 2.5, [C(p1, 2, 0), At(body)]);
    b.wire("W14", "grey", 0.5, [C(m1, 3, 0), C(s1, 3, 0)]);
    b.wire("W15", "grey/black", 0.5, [C(m1, 6, 0), At(coil_low)]);
    b.0.bundles.push(Bundle {
        words: "dash to floor joint".into(),
        wires: signal_wires.to_vec(),
        repair_minutes: 40.0,
    });
    b.0.chafes.push(Chafe {
        words: "at the seat bracket".into(),
        wires: signal_wires[..1].to_vec(),
    });
    b.0
}
