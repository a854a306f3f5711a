//! Faults of one branch: resistance added, interrupted, stuck, weak, shorted in part. Every role has its own.

use super::place::{Places, resistance_ends};
use super::{Change, Fault, Mode, Repair, Severity, devices, modules, rates};
use crate::branch::{BranchKind, Role};
use crate::id::{BranchId, ConnectorId, PartId, PointId, WireId};
use crate::model::PartKind;
use crate::set_up::Condition;

/// Most added resistance: with 10 MΩ in a voltmeter, more is an open.
pub(super) const MOST_SERIES_OHMS: f64 = 1e7;
/// Least added resistance that could matter in a battery cable, strap or ground: half a millivolt an ampere.
const LEAST_CABLE_OHMS: f64 = 5e-4;

/// Least added resistance that could matter behind a wire of this cross-section in mm²: about 0.1 V at the current that
/// one would fuse the wire for. Common practice, no source.
fn least_series_ohms(area: f64) -> f64 {
    match area {
        10.0.. => LEAST_CABLE_OHMS,
        4.0.. => 2e-3,
        1.5.. => 1e-2,
        _ => 5e-2,
    }
}

/// What faults of one place have in common.
pub(super) struct Spot {
    pub(super) place: String,
    pub(super) parts: Vec<PartId>,
    pub(super) points: Vec<PointId>,
    pub(super) repair: Repair,
}

impl Spot {
    /// A fault here.
    pub(super) fn fault(
        &self,
        path: String,
        what: &str,
        mode: Mode,
        severity: Option<Severity>,
        change: Change,
        weight: f64,
    ) -> Fault {
        Fault {
            path,
            what: what.to_owned(),
            place: self.place.clone(),
            parts: self.parts.clone(),
            points: self.points.clone(),
            mode,
            severity,
            changes: vec![change],
            weight,
            repair: self.repair.clone(),
        }
    }

    /// Inside a part; the work replaces it.
    pub(super) fn inside(places: &Places<'_>, branch: BranchId) -> Self {
        let inside = &places.circuit.branches[branch.idx()];
        Self {
            place: places.inside_words(branch),
            parts: vec![inside.part],
            points: branch_points(&inside.kind),
            repair: rates::renew(places.circuit, inside.part, "replace"),
        }
    }
}

/// The points that a branch conducts between.
fn branch_points(kind: &BranchKind) -> Vec<PointId> {
    match *kind {
        BranchKind::Source { plus, minus, .. } => vec![plus, minus],
        BranchKind::Diode { anode, cathode, .. } | BranchKind::Clamp { anode, cathode, .. } => vec![anode, cathode],
        BranchKind::Output { output, .. } => vec![output],
        BranchKind::CurrentSink { from, to, .. } => vec![from, to],
        _ => resistance_ends(kind).map(Vec::from).unwrap_or_default(),
    }
}

/// All faults of one branch by its role.
pub(super) fn of_branch(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    if places.is_bypass(id) {
        return;
    }
    match places.circuit.branches[id.idx()].role {
        Role::Contact => match places.contact(id) {
            Some((connector, number)) => contact(places, id, connector, number, out),
            None => holder(places, id, out),
        },
        Role::Crimp => match places.crimp(id) {
            Some(at) => crimp(places, id, at, out),
            None => devices::other(places, id, out),
        },
        Role::Wire => match places.wire(id) {
            Some(wire) => along_wire(places, id, wire, out),
            None => devices::other(places, id, out),
        },
        Role::Splice => match places.leg(id) {
            Some(leg) => splice(places, id, leg, out),
            None => devices::other(places, id, out),
        },
        Role::Battery | Role::Charger => supply(places, id, out),
        Role::Ground => ground(places, id, out),
        Role::Fuse => fuse(places, id, out),
        Role::FeedSwitch | Role::SwitchContact => {
            let weights = [
                rates::SWITCH_RESISTANCE,
                rates::SWITCH_STUCK_OPEN,
                rates::SWITCH_STUCK_CLOSED,
            ];
            contacts(places, id, weights, out);
        }
        Role::RelayContact => {
            contacts(
                places,
                id,
                [rates::RELAY_RESISTANCE, rates::RELAY_STUCK_OPEN, rates::RELAY_WELDED],
                out,
            );
        }
        Role::RelayCoil | Role::Coil => devices::coil(places, id, out),
        Role::Reference => modules::reference(places, id, out),
        Role::Pull => modules::pull(places, id, out),
        Role::Series => modules::series(places, id, out),
        Role::Quiescent => modules::quiescent(places, id, out),
        Role::InsideGround => modules::inside_ground(places, id, out),
        Role::Driver => modules::driver(places, id, out),
        Role::Bias => modules::bias(places, id, out),
        // A clamp's leak is the leak of the pin, its loss nothing shows. The others are how a part is, not what ails it.
        Role::ClampDiode | Role::InputLeak | Role::OneWay => {}
        Role::Track => devices::track(places, id, out),
        Role::Wiper => devices::wiper(places, id, out),
        Role::SensingResistor => devices::sensing(places, id, out),
        Role::SensorOutput => devices::output(places, id, out),
        Role::FixedResistor => devices::fixed_resistor(places, id, out),
        Role::Motor => devices::motor(places, id, out),
        Role::Lamp => devices::lamp(places, id, out),
        Role::Other => match places.circuit.parts[places.circuit.branches[id.idx()].part.idx()].kind {
            PartKind::Module(_) => modules::other(places, id, out),
            // What a rhythm alone opens and closes is how the part works, no contact of it.
            _ if is_of_a_phase(&places.circuit.branches[id.idx()].kind) => {}
            _ => devices::other(places, id, out),
        },
    }
}

/// A switch that follows phases of what repeats and nothing else.
fn is_of_a_phase(kind: &BranchKind) -> bool {
    let BranchKind::Switch { closed, .. } = kind else {
        return false;
    };
    let follows_else = |condition: &Condition| {
        !matches!(
            condition,
            Condition::InPhase(..) | Condition::Not(_) | Condition::All(_) | Condition::Any(_)
        )
    };
    closed.any(&|condition| matches!(condition, Condition::InPhase(..))) && !closed.any(&follows_else)
}

fn contact(places: &Places<'_>, id: BranchId, connector: ConnectorId, number: u16, out: &mut Vec<Fault>) {
    let plug = places.connector(connector);
    let Some(cavity) = plug.cavities.get(&number) else {
        return;
    };
    let area = cavity
        .wires
        .iter()
        .flatten()
        .map(|(_, wire)| places.circuit.wires[wire.idx()].area)
        .fold(0.0, f64::max);
    let wet = if plug.wet { rates::WET } else { 1.0 };
    let path = places.cavity_path(connector, number);
    let spot = Spot {
        place: places.cavity_words(connector, number),
        parts: vec![plug.part],
        points: cavity.terminals.to_vec(),
        repair: rates::renew_terminals(places.circuit, connector, number),
    };
    out.push(spot.fault(
        format!("{path}/contact resistance"),
        "added resistance in the contact: dirty, corroded or spread",
        Mode::SeriesResistance,
        Some(Severity::ohms(least_series_ohms(area), MOST_SERIES_OHMS)),
        Change::AddSeries(id),
        rates::CONTACT_RESISTANCE * wet,
    ));
    out.push(spot.fault(
        format!("{path}/bad terminal"),
        "no contact: terminal pushed back, bent or crushed",
        Mode::BadTerminal,
        None,
        Change::Open(id),
        rates::BAD_TERMINAL,
    ));
}

fn crimp(places: &Places<'_>, id: BranchId, at: (ConnectorId, u16, usize), out: &mut Vec<Fault>) {
    let (connector, number, half) = at;
    let plug = places.connector(connector);
    let Some(cavity) = plug.cavities.get(&number) else {
        return;
    };
    let Some((_, wire)) = cavity.wires[half] else { return };
    let terminal = cavity.terminals[half];
    let spot = Spot {
        place: format!(
            "{}, {}",
            places.cavity_words(connector, number),
            plug.halves[half].words
        ),
        parts: vec![plug.part, places.circuit.wires[wire.idx()].part],
        points: branch_points(&places.circuit.branches[id.idx()].kind),
        repair: rates::renew_terminals(places.circuit, connector, number),
    };
    out.push(spot.fault(
        format!("{}/crimp resistance", places.circuit.points[terminal.idx()].path),
        "added resistance in the crimp",
        Mode::SeriesResistance,
        Some(Severity::ohms(
            least_series_ohms(places.circuit.wires[wire.idx()].area),
            MOST_SERIES_OHMS,
        )),
        Change::AddSeries(id),
        rates::CRIMP_RESISTANCE * if plug.wet { rates::WET } else { 1.0 },
    ));
}

fn along_wire(places: &Places<'_>, id: BranchId, wire: WireId, out: &mut Vec<Fault>) {
    let run = &places.circuit.wires[wire.idx()];
    let path = places.id(run.part);
    let spot = Spot {
        place: places.run_words(wire),
        parts: vec![run.part],
        points: run.ends.to_vec(),
        repair: rates::renew(places.circuit, run.part, "repair"),
    };
    out.push(spot.fault(
        format!("{path}/added resistance"),
        "added resistance along the wire: strands broken or eaten away",
        Mode::SeriesResistance,
        Some(Severity::ohms(least_series_ohms(run.area), MOST_SERIES_OHMS)),
        Change::AddSeries(id),
        rates::WIRE_RESISTANCE,
    ));
    out.push(spot.fault(
        format!("{path}/broken"),
        "wire broken, or out of its crimp",
        Mode::Open,
        None,
        Change::Open(id),
        rates::WIRE_BROKEN,
    ));
}

fn splice(places: &Places<'_>, id: BranchId, (splice, wire): (usize, WireId), out: &mut Vec<Fault>) {
    let joint = &places.circuit.splices[splice];
    let run = &places.circuit.wires[wire.idx()];
    let path = format!("{}/{}", places.id(joint.part), places.id(run.part));
    let spot = Spot {
        place: format!("{}, at the {}", places.part_words(joint.part), places.run_words(wire)),
        parts: vec![joint.part, run.part],
        points: branch_points(&places.circuit.branches[id.idx()].kind),
        repair: rates::renew(places.circuit, joint.part, "remake"),
    };
    out.push(spot.fault(
        format!("{path} joint resistance"),
        "added resistance where the wire joins the splice",
        Mode::SeriesResistance,
        Some(Severity::ohms(least_series_ohms(run.area), MOST_SERIES_OHMS)),
        Change::AddSeries(id),
        rates::SPLICE_RESISTANCE,
    ));
    out.push(spot.fault(
        format!("{path} joint open"),
        "wire off the splice",
        Mode::Open,
        None,
        Change::Open(id),
        rates::SPLICE_OPEN,
    ));
}

fn ground(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let branch = &places.circuit.branches[id.idx()];
    let path = &branch.path;
    let mut spot = Spot::inside(places, id);
    spot.repair = rates::renew(places.circuit, branch.part, "clean and tighten the ground at");
    out.push(spot.fault(
        format!("{path}/added resistance"),
        "added resistance in the ground: rust, paint or a loose bolt",
        Mode::SeriesResistance,
        Some(Severity::ohms(LEAST_CABLE_OHMS, MOST_SERIES_OHMS)),
        Change::AddSeries(id),
        rates::GROUND_RESISTANCE,
    ));
    out.push(spot.fault(
        format!("{path}/off"),
        "ground off or torn",
        Mode::Open,
        None,
        Change::Open(id),
        rates::GROUND_OFF,
    ));
}

fn supply(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let branch = &places.circuit.branches[id.idx()];
    let path = &branch.path;
    let spot = Spot::inside(places, id);
    let mut push = |name: &str, what, severity, change, weight| {
        out.push(spot.fault(
            format!("{path}/{name}"),
            what,
            Mode::WeakSupply,
            severity,
            change,
            weight,
        ));
    };
    if branch.role == Role::Battery {
        let weak = "internal resistance up, or a loose or corroded post";
        push(
            "weak",
            weak,
            Some(Severity::ohms(5e-3, 10.0)),
            Change::AddSeries(id),
            rates::BATTERY_WEAK,
        );
        push(
            "flat",
            "discharged",
            Some(Severity::factor(0.3, 0.96)),
            Change::Scale(id),
            rates::BATTERY_FLAT,
        );
        push(
            "open",
            "interrupted inside, or post off",
            None,
            Change::Open(id),
            rates::BATTERY_OPEN,
        );
    } else {
        push("dead", "does not charge", None, Change::Open(id), rates::CHARGER_DEAD);
        push(
            "too high",
            "charges too high",
            Some(Severity::factor(1.05, 1.4)),
            Change::Scale(id),
            rates::CHARGER_HIGH,
        );
    }
}

fn fuse(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let branch = &places.circuit.branches[id.idx()];
    let BranchKind::Fuse { fuse, .. } = branch.kind else {
        return devices::other(places, id, out);
    };
    out.push(Spot::inside(places, id).fault(
        format!("{}/blown", branch.path),
        "fuse blown, what blew it gone",
        Mode::BlownFuse,
        None,
        Change::Blown(fuse),
        rates::FUSE_BLOWN,
    ));
}

/// A contact outside of connectors: the holder of a fuse, the socket of a relay.
fn holder(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let branch = &places.circuit.branches[id.idx()];
    let path = &branch.path;
    let mut spot = Spot::inside(places, id);
    spot.repair = rates::renew(places.circuit, branch.part, "clean the holder of");
    out.push(spot.fault(
        format!("{path}/contact resistance"),
        "added resistance in the holder: burnt, corroded or spread",
        Mode::SeriesResistance,
        Some(Severity::ohms(1e-2, MOST_SERIES_OHMS)),
        Change::AddSeries(id),
        rates::HOLDER_RESISTANCE,
    ));
    out.push(spot.fault(
        format!("{path}/bad terminal"),
        "no contact in the holder",
        Mode::BadTerminal,
        None,
        Change::Open(id),
        rates::HOLDER_OPEN,
    ));
}

/// Contacts that something moves; `weights` of resistance, stuck open, stuck closed.
pub(super) fn contacts(places: &Places<'_>, id: BranchId, weights: [f64; 3], out: &mut Vec<Fault>) {
    let branch = &places.circuit.branches[id.idx()];
    let path = &branch.path;
    let spot = Spot::inside(places, id);
    let [resistance, stuck_open, stuck_closed] = weights;
    out.push(spot.fault(
        format!("{path}/added resistance"),
        "added resistance in the contacts: burnt or dirty",
        Mode::SeriesResistance,
        Some(Severity::ohms(1e-2, MOST_SERIES_OHMS)),
        Change::AddSeries(id),
        resistance,
    ));
    if resistance_ends(&branch.kind).is_none() || matches!(branch.kind, BranchKind::Resistor { .. }) {
        return;
    }
    let mut stuck = |name: &str, what, change, weight| {
        out.push(spot.fault(format!("{path}/{name}"), what, Mode::Stuck, None, change, weight));
    };
    stuck("stuck open", "contacts do not close", Change::StuckOpen(id), stuck_open);
    stuck(
        "stuck closed",
        "contacts do not open: welded or jammed",
        Change::StuckClosed(id),
        stuck_closed,
    );
}
