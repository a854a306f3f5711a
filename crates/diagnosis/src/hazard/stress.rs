//! What a tool does to a circuit under one cause: the flows with it against the flows without it.
//!
//! Only what the tool adds counts: a fault that overloads a pin by itself is not the test's danger. After a fuse has
//! blown or a driver has shut off the current that did it is gone, so both are dangers of their own.

use bench::{Flows, Placement};
use circuit::{BranchId, Circuit, PinKind, Placed, PointId, SetUp};

use super::limits;
use crate::DangerKind;
use crate::candidate::net::Nets;
use crate::candidate::touched;

/// A circuit's ratings, gathered once.
pub(crate) struct Stress<'a> {
    circuit: &'a Circuit,
    /// By [`BranchId`].
    ratings: Vec<f64>,
    pins: Vec<PinStress>,
    volts: Vec<VoltStress>,
    /// Current in each device that acts while everything is commanded: (device, amperes).
    acting: Vec<(usize, f64)>,
}

struct PinStress {
    /// The contact that feeds the pin, and +1 if its current counts into the pin.
    contact: BranchId,
    sign: f64,
    point: PointId,
    rating: f64,
}

/// A pin that too much voltage ends.
struct VoltStress {
    point: PointId,
    /// The voltage counts from the lowest of these: the module's ground, the other pins of a device.
    against: Vec<PointId>,
    rating: f64,
}

impl VoltStress {
    fn volts(&self, flows: &Flows) -> f64 {
        let at = |point: PointId| flows.point_volts.get(point.idx()).copied().unwrap_or(0.0);
        let lowest = self
            .against
            .iter()
            .map(|&point| at(point))
            .fold(f64::INFINITY, f64::min);
        at(self.point) - lowest
    }
}

/// The pins of modules that have such a limit, and those of devices fed from a reference, which bear what that bears.
fn volt_stresses(circuit: &Circuit) -> Vec<VoltStress> {
    let pins = circuit
        .modules
        .iter()
        .flat_map(|module| module.pins.iter().map(|pin| (module.ground, pin)))
        .filter_map(|(ground, pin)| Some((ground, pin, pin.rating_volts?)));
    let nets = Nets::new(circuit, &SetUp::default());
    let mut found = Vec::new();
    for (ground, pin, rating) in pins {
        let (point, against) = (pin.point, vec![ground]);
        found.push(VoltStress { point, against, rating });
        if pin.kind != PinKind::Reference {
            continue;
        }
        for device in circuit.devices.iter().filter(|device| !device.accessory) {
            let points = || device.pins.iter().map(|(_, point)| *point);
            let supplies = points().filter(|&point| nets.same(point, pin.point));
            found.extend(supplies.filter_map(|point| {
                let against: Vec<PointId> = points().filter(|&other| !nets.same(other, pin.point)).collect();
                let alone = against.is_empty();
                (!alone).then_some(VoltStress { point, against, rating })
            }));
        }
    }
    found
}

/// One danger with how far it is past its limit (1: at it).
pub(crate) type Degree = (DangerKind, f64);

impl<'a> Stress<'a> {
    /// `normal`: flows of the healthy circuit with everything commanded.
    pub(crate) fn new(circuit: &'a Circuit, normal: &Flows) -> Self {
        let pins = circuit
            .modules
            .iter()
            .flat_map(|module| &module.pins)
            .filter_map(|pin| {
                let cavity = circuit.connectors.get(pin.connector.idx())?.cavities.get(&pin.cavity)?;
                let (_, second) = circuit.branches.get(cavity.contact.idx())?.kind.ends();
                let sign = if second == pin.point { 1.0 } else { -1.0 };
                Some(PinStress {
                    contact: cavity.contact,
                    sign,
                    point: pin.point,
                    rating: pin.rating_amps,
                })
            });
        let acting = circuit
            .devices
            .iter()
            .enumerate()
            .filter(|(_, device)| device.acts.is_some());
        Self {
            circuit,
            ratings: limits::branch_amps(circuit),
            pins: pins.collect(),
            volts: volt_stresses(circuit),
            acting: acting
                .map(|(idx, device)| (idx, most(normal, &device.inside)))
                .collect(),
        }
    }

    /// Every limit passed because of the tool and of what the set-up has clipped in.
    pub(crate) fn dangers(
        &self,
        placement: &Placement,
        placed: &[Placed],
        with: &Flows,
        without: &Flows,
    ) -> Vec<Degree> {
        let mut found = Vec::new();
        self.branches(with, without, &mut found);
        self.pins(placement, placed, with, without, &mut found);
        self.volts(with, without, &mut found);
        tools(placement, placed, with, &mut found);
        for &branch in &with.trips {
            found.push((DangerKind::Trips { branch }, 2.0));
        }
        for &(idx, normal) in &self.acting {
            let Some(device) = self.circuit.devices.get(idx) else {
                continue;
            };
            let enough = if normal > 1e-3 {
                limits::ACTS_SHARE * normal
            } else {
                limits::ACTS_AMPS
            };
            if most(with, &device.inside) >= enough && most(without, &device.inside) < enough {
                let words = device.acts.clone().unwrap_or_default();
                found.push((DangerKind::Acts { words }, 0.5));
            }
        }
        found
    }

    fn branches(&self, with: &Flows, without: &Flows, found: &mut Vec<Degree>) {
        for (idx, &rating) in self.ratings.iter().enumerate() {
            let amps = at(with, BranchId::from(idx)).abs();
            let before = at(without, BranchId::from(idx)).abs();
            if overloads(amps, before, rating) {
                found.push((
                    DangerKind::Overload {
                        branch: idx.into(),
                        amps,
                        rating,
                    },
                    amps / rating,
                ));
            }
        }
    }

    fn volts(&self, with: &Flows, without: &Flows, found: &mut Vec<Degree>) {
        for pin in &self.volts {
            let (volts, rating) = (pin.volts(with), pin.rating);
            if overloads(volts, pin.volts(without), rating) {
                let point = pin.point;
                found.push((DangerKind::OverVoltage { point, volts, rating }, volts / rating));
            }
        }
    }

    fn pins(&self, placement: &Placement, placed: &[Placed], with: &Flows, without: &Flows, found: &mut Vec<Degree>) {
        for pin in &self.pins {
            let injected: f64 = injections(placement, placed, with)
                .map(|(red, black, amps)| {
                    // What enters the tool at red leaves the pin there; what leaves the tool at black enters it.
                    f64::from(u8::from(black == pin.point)) * amps - f64::from(u8::from(red == pin.point)) * amps
                })
                .sum();
            let amps = (pin.sign * at(with, pin.contact) + injected).abs();
            let before = at(without, pin.contact).abs();
            let known =
                |(kind, _): &Degree| matches!(kind, DangerKind::Overload { branch, .. } if *branch == pin.contact);
            if overloads(amps, before, pin.rating) {
                found.retain(|degree| !known(degree));
                let kind = DangerKind::Overload {
                    branch: pin.contact,
                    amps,
                    rating: pin.rating,
                };
                found.push((kind, amps / pin.rating));
            }
        }
    }
}

/// Whether amperes, or volts, pass a rating and did not `before` the tool.
fn overloads(value: f64, before: f64, rating: f64) -> bool {
    value > rating && value - before > limits::ADDED_SHARE * rating.max(before)
}

fn at(flows: &Flows, branch: BranchId) -> f64 {
    flows.branch_amps.get(branch.idx()).copied().unwrap_or(0.0)
}

fn most(flows: &Flows, branches: &[BranchId]) -> f64 {
    branches
        .iter()
        .map(|&branch| at(flows, branch).abs())
        .fold(0.0, f64::max)
}

/// Each tool with its two points and the current through it from the first to the second.
fn injections<'a>(
    placement: &Placement,
    placed: &'a [Placed],
    with: &'a Flows,
) -> impl Iterator<Item = (PointId, PointId, f64)> + use<'a> {
    let tool = touched(placement).map(|(red, black)| (red, black, with.tool_amps));
    let clipped = placed.iter().zip(&with.placed).map(|(placed, &(amps, _))| {
        let (a, b) = placed.ends();
        (a, b, amps)
    });
    tool.into_iter().chain(clipped)
}

/// More voltage than a whole jumper could drop at any rating in use, volts.
const BLOWN_VOLTS: f64 = 1.0;

fn across(flows: &Flows, placed: &Placed) -> f64 {
    let (a, b) = placed.ends();
    let volts = |point: PointId| flows.point_volts.get(point.idx()).copied().unwrap_or(0.0);
    (volts(a) - volts(b)).abs()
}

fn tools(placement: &Placement, placed: &[Placed], with: &Flows, found: &mut Vec<Degree>) {
    let mut check = |tool: &'static str, amps: f64, watts: Option<f64>, rating: f64| {
        let amps = amps.abs();
        if amps > rating {
            found.push((
                DangerKind::Tool {
                    tool,
                    watts,
                    amps,
                    rating,
                },
                amps / rating,
            ));
        }
    };
    let (tool, watts) = match placement {
        Placement::TestLight { .. } => ("test light", Some(with.tool_watts)),
        _ => ("ammeter", None),
    };
    check(tool, with.tool_amps, watts, limits::tool_amps(placement));
    let mut blown = Vec::new();
    for (placed, &(amps, watts)) in placed.iter().zip(&with.placed) {
        let (tool, rating) = (limits::placed_name(placed), limits::placed_amps(placed));
        // A jumper's fuse that has blown carries nothing any more: it is known by the voltage across it.
        let fused = matches!(placed, Placed::Jumper { fuse_amps: Some(_), .. });
        if fused && (across(with, placed) > BLOWN_VOLTS || amps.abs() > rating) {
            blown.push((DangerKind::ToolFuse { tool, rating }, 1.0));
        } else {
            check(tool, amps, limits::placed_heats(placed).then_some(watts), rating);
        }
    }
    found.extend(blown);
}
