//! Makes a circuit by hand: points by their path, as the circuit file names them.

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
            rhythms: Vec::new(),
            params: vec![],
            channels: vec![],
            monitors: vec![],
            battery_plus: none,
            battery_minus: none,
            body: none,
            unknowns: Vec::new(),
        };
        let mut maker = Self {
            circuit,
            paths: BTreeMap::new(),
        };
        let battery = maker.part("battery", "battery", PartKind::Battery);
        maker.circuit.battery_minus = maker.point("battery-", "battery, negative post", open(), battery);
        maker.circuit.battery_plus = maker.point("battery+", "battery, positive post", open(), battery);
        maker.ground("body", "body metal");
        maker.circuit.body = maker.at("body");
        maker
    }

    pub(crate) fn part(&mut self, id: &str, name: &str, kind: PartKind) -> PartId {
        let part = Part {
            id: id.into(),
            name: name.into(),
            kind,
            repair_minutes: None,
            price: None,
            is_new: false,
        };
        self.circuit.parts.push(part);
        PartId::from(self.circuit.parts.len() - 1)
    }

    pub(crate) fn point(&mut self, path: &str, words: &str, access: Access, part: PartId) -> PointId {
        self.circuit.points.push(Point {
            path: path.into(),
            words: words.into(),
            access,
            part,
        });
        let id = PointId::from(self.circuit.points.len() - 1);
        self.paths.insert(path.into(), id);
        id
    }

    pub(crate) fn at(&self, path: &str) -> PointId {
        *self.paths.get(path).unwrap_or_else(|| panic!("no point {path}"))
    }

    pub(crate) fn branch(&mut self, path: &str, part: PartId, role: Role, kind: BranchKind) -> BranchId {
        self.circuit.branches.push(Branch {
            path: path.into(),
            part,
            role,
            kind,
            rating_amps: None,
            henries: 0.0,
        });
        BranchId::from(self.circuit.branches.len() - 1)
    }

    fn resistor(&mut self, path: &str, part: PartId, role: Role, a: PointId, b: PointId, ohms: f64) -> BranchId {
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

    pub(crate) fn ground(&mut self, id: &str, name: &str) {
        let part = self.part(id, name, PartKind::Ground(self.circuit.grounds.len()));
        let point = self.point(id, name, open(), part);
        let to = if id == "body" {
            self.circuit.battery_minus
        } else {
            self.circuit.body
        };
        let branch = self.resistor(id, part, Role::Ground, point, to, 0.001);
        self.circuit.grounds.push(Ground { part, point, branch });
    }

    pub(crate) fn feed(&mut self, id: &str, name: &str, live_in: &[Key]) {
        let part = self.part(id, name, PartKind::Feed(self.circuit.feeds.len()));
        let point = self.point(id, name, open(), part);
        let closed = Condition::KeyIn(live_in.iter().copied().collect());
        let kind = BranchKind::Switch {
            a: self.circuit.battery_plus,
            b: point,
            closed_ohms: Law::fixed(0.01),
            closed,
        };
        self.branch(&format!("{id}/switch"), part, Role::FeedSwitch, kind);
        self.circuit.feeds.push(Feed {
            part,
            point,
            live_in: live_in.to_vec(),
        });
    }

    pub(crate) fn fuse(&mut self, id: &str, name: &str, from: &str, amps: f64) {
        let fuse = FuseId::from(self.circuit.fuses.len());
        let part = self.part(id, name, PartKind::Fuse(fuse));
        let a = self.point(&format!("{id}/in"), &format!("{name}, feed side"), open(), part);
        let b = self.point(&format!("{id}/out"), &format!("{name}, load side"), open(), part);
        let kind = BranchKind::Fuse {
            fuse,
            a,
            b,
            ohms: Law::fixed(0.005),
            rating_amps: amps,
        };
        let branch = self.branch(id, part, Role::Fuse, kind);
        let from = self.at(from);
        self.resistor(&format!("{id}/holder"), part, Role::Contact, from, a, 0.001);
        self.circuit.fuses.push(Fuse {
            part,
            branch,
            rating_amps: amps,
        });
    }

    pub(crate) fn relay(&mut self, id: &str, name: &str) {
        let relay = RelayId::from(self.circuit.relays.len());
        let part = self.part(id, name, PartKind::Relay(relay));
        let [common, minus, plus, b] = ["30", "85", "86", "87"].map(|n| {
            self.point(
                &format!("{id}/{n}"),
                &format!("{name}, socket terminal {n}"),
                open(),
                part,
            )
        });
        let coil = self.resistor(&format!("{id}/coil"), part, Role::RelayCoil, plus, minus, 85.0);
        let kind = BranchKind::RelayContact {
            relay: Some(relay),
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
        self.circuit.relays.push(Relay {
            part,
            coil,
            contacts: vec![contact],
        });
    }

    pub(crate) fn module(&mut self, id: &str, name: &str) {
        let part = self.part(id, name, PartKind::Module(ModuleId::from(self.circuit.modules.len())));
        let rail = self.point(&format!("{id}/rail"), "", Access::Inside, part);
        let ground = self.point(&format!("{id}/ground"), "", Access::Inside, part);
        self.circuit.modules.push(Module {
            part,
            pins: vec![],
            rail,
            ground,
            supply: None,
        });
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
                (
                    [format!("{id}.{number}/a"), format!("{id}.{number}/b")],
                    Access::WireSide(connector),
                )
            } else {
                (
                    [format!("{id}.{number}"), format!("{id}.{number}/pin")],
                    Access::PinSide(connector),
                )
            };
            let a = self.point(
                &paths[0],
                &format!("{name}, cavity {number}"),
                Access::WireSide(connector),
                part,
            );
            let b = self.point(&paths[1], &format!("{name}, cavity {number}, other half"), access, part);
            let contact = self.resistor(&format!("{id}.{number}/contact"), part, Role::Contact, a, b, 0.004);
            cavities.insert(
                number,
                Cavity {
                    words: String::new(),
                    contact,
                    terminals: [a, b],
                    wires: [None, None],
                },
            );
        }
        let half = |words: &str, owner| Half {
            words: words.into(),
            owner,
        };
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
        self.circuit.splices.push(Splice {
            part,
            point,
            legs: vec![],
        });
    }

    /// `colour` is "body" or "body/tracer".
    pub(crate) fn wire(&mut self, id: &str, colour: &str, from: &str, to: &str) {
        let wire = WireId::from(self.circuit.wires.len());
        let (body, tracer) = colour
            .split_once('/')
            .map_or((colour, None), |(body, tracer)| (body, Some(tracer)));
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
                cavity
                    .terminals
                    .iter()
                    .position(|terminal| *terminal == at)
                    .map(|half| (*number, half))
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
        let kind_of = self
            .circuit
            .parts
            .iter()
            .find(|part| part.id == connector)
            .unwrap()
            .kind;
        let PartKind::Connector(connector) = kind_of else {
            panic!("{cavity} is no cavity")
        };
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
                let to = if words.contains("temperature") {
                    module.rail
                } else {
                    module.ground
                };
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
        let pin = Pin {
            connector,
            cavity: number,
            words: words.into(),
            kind,
            point,
            inside,
            rating_amps: 1.0,
            rating_volts: None,
        };
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
        let points: Vec<(String, PointId)> = pins
            .iter()
            .map(|(name, path)| ((*name).to_owned(), self.at(path)))
            .collect();
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
