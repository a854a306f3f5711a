//! Points, branches, wires and connectors made by name, on first use.

use std::collections::BTreeMap;

use circuit::{
    Access, Base, Branch, BranchId, BranchKind, Cavity, Circuit, Condition, Connector, ConnectorId, Fuse, FuseId, Half,
    Law, Moved, Owner, Param, ParamId, Part, PartId, PartKind, Point, PointId, Role, Wire,
};

pub(crate) struct Builder {
    pub(crate) circuit: Circuit,
}

/// The one part that everything belongs to here.
pub(crate) const ALL: PartId = PartId(0);

impl Builder {
    pub(crate) fn new() -> Self {
        let part = Part {
            id: "all".into(),
            name: "everything".into(),
            kind: PartKind::Battery,
            repair_minutes: None,
            price: None,
            is_new: false,
        };
        let circuit = Circuit {
            title: "by hand".into(),
            vehicle: String::new(),
            points: vec![],
            branches: vec![],
            parts: vec![part],
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
            battery_plus: PointId(0),
            battery_minus: PointId(1),
            body: PointId(2),
            unknowns: Vec::new(),
        };
        let mut builder = Self { circuit };
        for path in ["battery+", "battery-", "body"] {
            builder.at(path);
        }
        builder
    }

    pub(crate) fn point(&mut self, path: &str, access: Access) -> PointId {
        if let Some(found) = self.circuit.points.iter().position(|point| point.path == path) {
            return PointId::from(found);
        }
        self.circuit.points.push(Point {
            path: path.into(),
            words: format!("the point {path}"),
            access,
            part: ALL,
        });
        PointId::from(self.circuit.points.len() - 1)
    }

    /// A point that is always in reach, made on first use.
    pub(crate) fn at(&mut self, path: &str) -> PointId {
        self.point(path, Access::Open { tenths: 10 })
    }

    pub(crate) fn param(&mut self, path: &str) -> ParamId {
        self.circuit.params.push(Param {
            path: path.into(),
            words: path.into(),
            nominal: 1.0,
            unit: quantity::Unit::One,
        });
        ParamId::from(self.circuit.params.len() - 1)
    }

    pub(crate) fn branch(&mut self, path: &str, role: Role, kind: BranchKind) -> BranchId {
        self.circuit.branches.push(Branch {
            path: path.into(),
            part: ALL,
            role,
            kind,
            rating_amps: None,
            henries: 0.0,
        });
        BranchId::from(self.circuit.branches.len() - 1)
    }

    pub(crate) fn r(&mut self, path: &str, role: Role, a: &str, b: &str, ohms: Law) -> BranchId {
        let (a, b) = (self.at(a), self.at(b));
        self.branch(path, role, BranchKind::Resistor { a, b, ohms })
    }

    pub(crate) fn wire(&mut self, path: &str, a: &str, b: &str, ohms: f64) -> BranchId {
        let param = self.param(path);
        let branch = self.r(path, Role::Wire, a, b, by_factor(ohms, param, 0.06));
        let ends = [self.at(a), self.at(b)];
        self.circuit.wires.push(Wire {
            part: ALL,
            branch,
            ends,
            colour: "violet".into(),
            tracer: None,
            length: 1.0,
            area: 0.5,
        });
        branch
    }

    /// A connector with cavities in one row; the far side of each is called with `far` behind.
    pub(crate) fn connector(&mut self, id: &str, cavities: &[u16], sides: [&str; 2], back_probe: bool) -> ConnectorId {
        let connector = ConnectorId::from(self.circuit.connectors.len());
        let half = |words: &str| Half {
            words: words.into(),
            owner: Owner::Harness,
        };
        self.circuit.connectors.push(Connector {
            part: ALL,
            rows: vec![cavities.to_vec()],
            halves: [half("one side"), half("other side")],
            cavities: BTreeMap::new(),
            back_probe,
            reach_minutes: 3.0,
            part_minutes: 1.0,
            wet: false,
        });
        for &number in cavities {
            let far = if sides[1] == "/pin" {
                Access::PinSide(connector)
            } else {
                Access::WireSide(connector)
            };
            let a = self.point(&format!("{id}.{number}{}", sides[0]), Access::WireSide(connector));
            let b = self.point(&format!("{id}.{number}{}", sides[1]), far);
            let contact = self.branch(
                &format!("{id}.{number}/contact"),
                Role::Contact,
                BranchKind::Switch {
                    a,
                    b,
                    closed_ohms: Law::fixed(0.012),
                    closed: Condition::Mated(connector),
                },
            );
            let cavity = Cavity {
                words: String::new(),
                contact,
                terminals: [a, b],
                wires: [None, None],
            };
            self.circuit.connectors[connector.idx()].cavities.insert(number, cavity);
        }
        connector
    }

    pub(crate) fn fuse(&mut self, path: &str, a: &str, b: &str, rating_amps: f64) -> FuseId {
        let (a, b) = (self.at(a), self.at(b));
        let fuse = FuseId::from(self.circuit.fuses.len());
        let kind = BranchKind::Fuse {
            fuse,
            a,
            b,
            ohms: Law::fixed(0.008),
            rating_amps,
        };
        let branch = self.branch(path, Role::Fuse, kind);
        self.circuit.fuses.push(Fuse {
            part: ALL,
            branch,
            rating_amps,
        });
        fuse
    }
}

pub(crate) fn by_factor(value: f64, param: ParamId, factor: f64) -> Law {
    Law {
        base: Base::Fixed(value),
        moved_by: vec![Moved {
            param,
            factor,
            shift: 0.0,
        }],
    }
}

pub(crate) fn by_shift(value: f64, param: ParamId, shift: f64) -> Law {
    Law {
        base: Base::Fixed(value),
        moved_by: vec![Moved {
            param,
            factor: 0.0,
            shift,
        }],
    }
}
