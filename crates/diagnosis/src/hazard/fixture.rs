//! For tests: a three-wire potentiometer on a module, and a fake bench that solves it as a linear network.
//!
//! The fake is independent of the real bench: plain nodal analysis over resistors and voltage sources, no limits, no
//! protection. Points are named as in circuit files.

use std::collections::{BTreeMap, BTreeSet};

use bench::{Batch, BenchError, Flows, Kind, Placement, Predict, Prediction, Probe, Question};
use circuit::*;

use crate::candidate::touched;

const TEST_LIGHT_OHMS: f64 = 48.0;

/// Battery 12.6 V; module plug `M1` and sensor plug `S1`, each with reference 1, signal 2 and ground 3; the track is 5 kΩ
/// with its wiper at the `position` (0 to 1) from ground.
pub(crate) fn pot(position: f64) -> Circuit {
    let mut build = Build::default();
    let plus = build.point("battery+", Access::Open { tenths: 0 });
    let minus = build.point("battery-", Access::Open { tenths: 0 });
    let rail = build.point("rail", Access::Inside);
    let ground = build.point("module ground", Access::Inside);
    build.source("battery", Role::Battery, plus, minus, 12.6, 0.02);
    build.source("logic", Role::Other, rail, ground, 5.0, 0.1);
    build.resistor("ground pin", Role::InsideGround, ground, minus, 0.02, None);
    let track = build.point("wiper", Access::Inside);
    let mut cavities: [BTreeMap<u16, Cavity>; 2] = [BTreeMap::new(), BTreeMap::new()];
    let mut pins = Vec::new();
    let mut component = Vec::new();
    let kinds = [PinKind::Reference, PinKind::Input, PinKind::SensorGround];
    for (number, kind) in (1_u16..).zip(kinds) {
        let pin = build.point(&format!("M1.{number}/pin"), Access::PinSide(ConnectorId(0)));
        let near = build.point(&format!("M1.{number}"), Access::WireSide(ConnectorId(0)));
        let far = build.point(&format!("S1.{number}"), Access::WireSide(ConnectorId(1)));
        let end = build.point(&format!("S1.{number}/pin"), Access::PinSide(ConnectorId(1)));
        let plug = build.contact(&format!("M1.{number}/contact"), near, pin, ConnectorId(0));
        let joint = build.contact(&format!("S1.{number}/contact"), far, end, ConnectorId(1));
        let wire = build.resistor(&format!("W{number}"), Role::Wire, near, far, 0.1, Some(10.0));
        build.wires.push((wire, [near, far]));
        cavities[0].insert(number, cavity(plug, near, pin));
        cavities[1].insert(number, cavity(joint, far, end));
        let (inside, rating_amps) = match kind {
            PinKind::Reference => (build.source("reference", Role::Reference, pin, ground, 5.0, 1.0), 0.05),
            PinKind::Input => (build.resistor("pull-up", Role::Pull, rail, pin, 10e3, None), 0.005),
            _ => (
                build.resistor("sensor ground", Role::InsideGround, pin, ground, 0.05, None),
                0.2,
            ),
        };
        let words = String::new();
        pins.push(Pin {
            connector: ConnectorId(0),
            cavity: number,
            words,
            kind,
            point: pin,
            inside: vec![inside],
            rating_amps,
            rating_volts: (kind == PinKind::Reference).then_some(6.5),
        });
        component.push(end);
    }
    build.resistor(
        "upper track",
        Role::Track,
        component[0],
        track,
        5e3 * (1.0 - position) + 1.0,
        None,
    );
    build.resistor(
        "lower track",
        Role::Track,
        track,
        component[2],
        5e3 * position + 1.0,
        None,
    );
    build.resistor("wiper", Role::Wiper, track, component[1], 50.0, Some(0.005));
    build.circuit(plus, minus, cavities, pins)
}

fn cavity(contact: BranchId, wire: PointId, pin: PointId) -> Cavity {
    Cavity {
        words: String::new(),
        contact,
        terminals: [wire, pin],
        wires: [None, None],
    }
}

/// A suspect of the fixture.
pub(crate) fn fault(path: &str, changes: Vec<Change>, parts: Vec<PartId>) -> Fault {
    Fault {
        path: path.into(),
        what: path.into(),
        place: String::new(),
        parts,
        points: Vec::new(),
        mode: Mode::Leak,
        severity: None,
        changes,
        weight: 1.0,
        repair: Repair {
            words: String::new(),
            key: path.into(),
            minutes: 10.0,
            parts_price: 0.0,
        },
    }
}

/// The point with this path.
pub(crate) fn at(circuit: &Circuit, path: &str) -> PointId {
    circuit
        .points
        .iter()
        .position(|point| point.path == path)
        .unwrap()
        .into()
}

/// The branch with this path.
pub(crate) fn branch(circuit: &Circuit, path: &str) -> BranchId {
    circuit
        .branches
        .iter()
        .position(|branch| branch.path == path)
        .unwrap()
        .into()
}

/// Every point that is reached in a set-up, 0.2 minutes each.
pub(crate) fn probes(circuit: &Circuit, set_up: &SetUp) -> Vec<Probe> {
    let reached = |access| match access {
        Access::Open { .. } | Access::WireSide(_) => true,
        Access::PinSide(connector) => set_up.apart.contains(&connector),
        Access::Inside => false,
    };
    let points = circuit
        .points
        .iter()
        .enumerate()
        .filter(|(_, point)| reached(point.access));
    points
        .map(|(idx, _)| Probe {
            point: idx.into(),
            minutes: 0.2,
            back_probed: true,
        })
        .collect()
}

#[derive(Default)]
struct Build {
    points: Vec<Point>,
    branches: Vec<Branch>,
    wires: Vec<(BranchId, [PointId; 2])>,
}

impl Build {
    fn point(&mut self, path: &str, access: Access) -> PointId {
        self.points.push(Point {
            path: path.into(),
            words: path.into(),
            access,
            part: PartId(0),
        });
        (self.points.len() - 1).into()
    }

    fn branch(&mut self, path: &str, role: Role, kind: BranchKind, rating_amps: Option<f64>) -> BranchId {
        self.branches.push(Branch {
            path: path.into(),
            part: PartId(0),
            role,
            kind,
            rating_amps,
            henries: 0.0,
        });
        (self.branches.len() - 1).into()
    }

    fn resistor(&mut self, path: &str, role: Role, a: PointId, b: PointId, ohms: f64, rating: Option<f64>) -> BranchId {
        self.branch(
            path,
            role,
            BranchKind::Resistor {
                a,
                b,
                ohms: Law::fixed(ohms),
            },
            rating,
        )
    }

    fn source(&mut self, path: &str, role: Role, plus: PointId, minus: PointId, volts: f64, ohms: f64) -> BranchId {
        let (volts, ohms) = (Law::fixed(volts), Law::fixed(ohms));
        self.branch(
            path,
            role,
            BranchKind::Source {
                plus,
                minus,
                volts,
                ohms,
                present: Condition::Always,
            },
            None,
        )
    }

    fn contact(&mut self, path: &str, a: PointId, b: PointId, connector: ConnectorId) -> BranchId {
        let closed = Condition::Mated(connector);
        let kind = BranchKind::Switch {
            a,
            b,
            closed_ohms: Law::fixed(0.015),
            closed,
        };
        self.branch(path, Role::Contact, kind, Some(5.0))
    }

    fn circuit(
        self,
        plus: PointId,
        minus: PointId,
        [plug, joint]: [BTreeMap<u16, Cavity>; 2],
        pins: Vec<Pin>,
    ) -> Circuit {
        let part = |id: &str, kind| Part {
            id: id.into(),
            name: id.into(),
            kind,
            repair_minutes: None,
            price: None,
            is_new: false,
        };
        let connector = |part, owner, cavities| Connector {
            part: PartId(part),
            rows: vec![vec![1, 2, 3]],
            halves: [
                Half {
                    words: "wire side".into(),
                    owner: Owner::Harness,
                },
                Half {
                    words: "pins".into(),
                    owner,
                },
            ],
            cavities,
            back_probe: true,
            reach_minutes: 3.0,
            part_minutes: 1.0,
            wet: false,
        };
        let wire = |(branch, ends)| Wire {
            part: PartId(0),
            branch,
            ends,
            colour: "grey".into(),
            tracer: None,
            length: 1.0,
            area: 0.5,
        };
        let (rail, ground) = (PointId(2), PointId(3));
        Circuit {
            title: String::new(),
            vehicle: String::new(),
            points: self.points,
            branches: self.branches,
            parts: vec![
                part("harness", PartKind::Battery),
                part("module plug", PartKind::Connector(ConnectorId(0))),
                part("sensor plug", PartKind::Connector(ConnectorId(1))),
                part("module", PartKind::Module(ModuleId(0))),
            ],
            connectors: vec![
                connector(1, Owner::Module(ModuleId(0)), plug),
                connector(2, Owner::Device(DeviceId(0)), joint),
            ],
            wires: self.wires.into_iter().map(wire).collect(),
            splices: Vec::new(),
            modules: vec![Module {
                part: PartId(3),
                pins,
                rail,
                ground,
                supply: None,
            }],
            devices: Vec::new(),
            fuses: Vec::new(),
            relays: Vec::new(),
            feeds: Vec::new(),
            grounds: Vec::new(),
            bundles: Vec::new(),
            chafes: Vec::new(),
            sensed: Vec::new(),
            loads: Vec::new(),
            rhythms: Vec::new(),
            params: Vec::new(),
            unknowns: Vec::new(),
            channels: Vec::new(),
            monitors: Vec::new(),
            battery_plus: plus,
            battery_minus: minus,
            body: minus,
        }
    }
}

/// The fake bench.
pub(crate) struct Linear<'a>(pub(crate) &'a Circuit);

/// (a, b, ohms, volts of `a` over `b` at no current)
type Element = (usize, usize, f64, f64);

impl Predict for Linear<'_> {
    fn predict(&self, question: Question<'_>) -> Result<Batch, BenchError> {
        let mut batch = Batch::default();
        for hypothesis in question.hypotheses {
            let changes: Vec<&Change> = hypothesis.faults.iter().flat_map(|(fault, _)| &fault.changes).collect();
            for placement in question.placements {
                let (prediction, flows) = self.one(&changes, question.set_up, placement);
                batch.predictions.push(prediction);
                if question.with_flows {
                    batch.flows.push(flows);
                }
            }
        }
        Ok(batch)
    }
}

impl Linear<'_> {
    fn one(&self, changes: &[&Change], set_up: &SetUp, placement: &Placement) -> (Prediction, Flows) {
        let mut elements: Vec<Element> = self.0.branches.iter().map(|branch| element(branch, set_up)).collect();
        let n_branches = elements.len();
        for change in changes {
            match change {
                Change::Open(branch) => elements[branch.idx()].2 = OPEN_OHMS,
                Change::BridgeOhms(a, b, ohms) => elements.push((a.idx(), b.idx(), *ohms, 0.0)),
                _ => unreachable!("not a change of the fixture"),
            }
        }
        let (first_placed, mut first_tool) = (elements.len(), elements.len());
        for placed in &set_up.placed {
            let (a, b) = placed.ends();
            let ohms = if let Placed::Resistor { ohms, .. } = placed {
                *ohms
            } else {
                0.02
            };
            elements.push((a.idx(), b.idx(), ohms, 0.0));
            first_tool += 1;
        }
        let n_points = self.0.points.len();
        let before = solve(n_points, self.0.battery_minus.idx(), &elements);
        let tool = touched(placement);
        if let Some((red, black)) = tool {
            let ohms = match placement {
                Placement::TestLight { .. } => TEST_LIGHT_OHMS,
                Placement::Ammeter { .. } => 0.02,
                Placement::Ohmmeter { .. } => 10e3,
                _ => 10e6,
            };
            elements.push((red.idx(), black.idx(), ohms, 0.0));
        }
        let point_volts = solve(n_points, self.0.battery_minus.idx(), &elements);
        let amps: Vec<f64> = elements
            .iter()
            .map(|&(a, b, ohms, volts)| (point_volts[a] - point_volts[b] - volts) / ohms)
            .collect();
        let across = |v: &[f64]| tool.map_or(0.0, |(red, black)| v[red.idx()] - v[black.idx()]);
        let tool_amps = amps.get(first_tool).copied().unwrap_or(0.0);
        let ohmmeter = matches!(placement, Placement::Ohmmeter { .. });
        // What stands there once the meter loads it.
        let kind = if ohmmeter && across(&point_volts).abs() > 5e-3 {
            Kind::Live
        } else {
            Kind::Number
        };
        let prediction = Prediction {
            kind,
            value: if matches!(placement, Placement::Ammeter { .. }) {
                tool_amps
            } else if ohmmeter {
                across(&before)
            } else {
                across(&point_volts)
            },
            beyond: 0.0,
            by_param: Vec::new(),
            by_severity: Vec::new(),
            source_ohms: 0.0,
            ghost_volts: (0.0, 0.0),
            unsaid: None,
        };
        let power = |idx: usize| (amps[idx], amps[idx].powi(2) * elements[idx].2);
        let flows = Flows {
            branch_amps: amps[..n_branches].to_vec(),
            tool_amps,
            tool_watts: tool_amps * across(&point_volts),
            volts_before: across(&before),
            placed: (first_placed..first_tool).map(power).collect(),
            trips: Vec::new(),
            point_volts,
        };
        (prediction, flows)
    }
}

fn element(branch: &Branch, set_up: &SetUp) -> Element {
    let fixed = |law: &Law| {
        if let Base::Fixed(value) = law.base {
            value
        } else {
            f64::NAN
        }
    };
    let (a, b) = branch.kind.ends();
    let (ohms, volts) = match &branch.kind {
        BranchKind::Resistor { ohms, .. } => (fixed(ohms), 0.0),
        BranchKind::Source { volts, ohms, .. } => (fixed(ohms), fixed(volts)),
        BranchKind::Switch {
            closed: Condition::Mated(connector),
            closed_ohms,
            ..
        } => (
            if set_up.apart.contains(connector) {
                OPEN_OHMS
            } else {
                fixed(closed_ohms)
            },
            0.0,
        ),
        _ => unreachable!("not a branch of the fixture"),
    };
    (a.idx(), b.idx(), ohms, volts)
}

/// Voltages of all points against `reference`, by Gaussian elimination with pivoting.
fn solve(n: usize, reference: usize, elements: &[Element]) -> Vec<f64> {
    let mut rows = vec![vec![0.0; n + 1]; n];
    for &(a, b, ohms, volts) in elements {
        let g = 1.0 / ohms;
        for (from, to, sign) in [(a, b, 1.0), (b, a, -1.0)] {
            rows[from][from] += g;
            rows[from][to] -= g;
            rows[from][n] += sign * g * volts;
        }
    }
    rows[reference] = vec![0.0; n + 1];
    rows[reference][reference] = 1.0;
    for col in 0..n {
        let pivot = (col..n)
            .max_by(|&a, &b| rows[a][col].abs().total_cmp(&rows[b][col].abs()))
            .unwrap();
        rows.swap(col, pivot);
        let top = rows[col].clone();
        for row in rows.iter_mut().skip(col + 1) {
            let factor = row[col] / top[col];
            row.iter_mut().zip(&top).skip(col).for_each(|(x, t)| *x -= factor * t);
        }
    }
    let mut volts = vec![0.0; n];
    for row in (0..n).rev() {
        let known: f64 = (row + 1..n).map(|col| rows[row][col] * volts[col]).sum();
        volts[row] = (rows[row][n] - known) / rows[row][row];
    }
    volts
}

/// A set-up with these connectors apart and these things clipped in.
pub(crate) fn set_up(apart: &[u32], placed: Vec<Placed>) -> SetUp {
    SetUp {
        apart: apart.iter().map(|&c| ConnectorId(c)).collect::<BTreeSet<_>>(),
        placed,
        ..SetUp::default()
    }
}
