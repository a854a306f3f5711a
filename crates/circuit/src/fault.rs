//! What can break, as changes to points and branches.
//!
//! [`possible_faults`] enumerates what physics allows, from the circuit alone: each branch by its role, leaks between
//! physical neighbours, and shorts between the pins of a device or inside a module pin. Not every pair of nets, and no
//! double faults: those are combined where suspects are weighed.

mod devices;
mod leaks;
mod modules;
mod place;
mod rates;
mod series;
#[cfg(test)]
mod tests;
mod unlisted;

pub use unlisted::unlisted_bridges;

use crate::file::nearest;
use crate::id::{BranchId, DeviceId, FaultId, FuseId, PartId, PointId};
use crate::model::Circuit;

/// A physical change to the circuit that could be the cause.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// Stable name, kept by stored jobs: `S1.2/contact resistance`.
    pub path: String,
    /// What it is, in plain words: "added resistance in the contact".
    pub what: String,
    /// Exactly where, in plain words: "sensor plug, cavity 2, violet/yellow wire".
    pub place: String,
    /// The parts it is at, the one to repair first.
    pub parts: Vec<PartId>,
    /// Points it touches, for marking the picture.
    pub points: Vec<PointId>,
    /// How it fails.
    pub mode: Mode,
    /// Its severity; `None` if it is all or nothing.
    pub severity: Option<Severity>,
    /// What changes in the circuit.
    pub changes: Vec<Change>,
    /// How often it happens relative to others, before this vehicle is known (any scale).
    pub weight: f64,
    /// What would repair it.
    pub repair: Repair,
}

impl Fault {
    /// One that no list of possible faults holds: what it changes, without a place, a rate or a repair.
    pub fn unlisted(path: impl Into<String>, mode: Mode, changes: Vec<Change>) -> Self {
        Self {
            path: path.into(),
            what: String::new(),
            place: String::new(),
            parts: Vec::new(),
            points: Vec::new(),
            mode,
            severity: None,
            changes,
            weight: 0.0,
            repair: Repair {
                words: String::new(),
                key: String::new(),
                minutes: 0.0,
                parts_price: 0.0,
            },
        }
    }
}

/// How something fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Mode {
    /// Resistance added in series, up to open.
    SeriesResistance,
    /// Interrupted.
    Open,
    /// Terminal pushed back, bent, spread or crushed: no contact or a poor one.
    BadTerminal,
    /// Leak or short to a neighbour in connector or bundle.
    Leak,
    /// Leak or short to body metal.
    LeakToBody,
    /// Water across cavities.
    Water,
    /// Sensor drifted, or track worn.
    Drift,
    /// Winding or element shorted in part.
    ShortedInside,
    /// Motor slow or blocked.
    Drag,
    /// Inside a module: reference, pull, driver or input.
    ModuleInside,
    /// Contacts or transistor stuck.
    Stuck,
    /// Blown fuse.
    BlownFuse,
    /// Battery or charging weak.
    WeakSupply,
}

/// The range of a severity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Severity {
    /// What it measures.
    pub unit: quantity::Unit,
    /// Least that would matter.
    pub low: f64,
    /// Most.
    pub high: f64,
    /// Spread evenly over the logarithm (resistances) rather than the value.
    pub logarithmic: bool,
}

/// One change to the circuit. `severity` stands for the fault's severity.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Severity in ohms, in series with any branch; inside an output it weakens what the output gives.
    AddSeries(BranchId),
    /// The branch conducts no more than [`OPEN_OHMS`](crate::branch::OPEN_OHMS).
    Open(BranchId),
    /// Severity in ohms between two points.
    Bridge(PointId, PointId),
    /// A fixed resistance between two points.
    BridgeOhms(PointId, PointId, f64),
    /// The branch's main value (ohms, amperes, watts, volts) times severity; of an output the whole target.
    Scale(BranchId),
    /// The branch's main value times this, its tolerance in proportion.
    Times(BranchId, f64),
    /// The branch's main value becomes this.
    Set(BranchId, f64),
    /// The device's branches that follow a sensed value see it shifted by severity × span / 100.
    ShiftSensed(DeviceId),
    /// Contacts, transistor or relay contact stay closed.
    StuckClosed(BranchId),
    /// … stay open.
    StuckOpen(BranchId),
    /// The fuse is blown.
    Blown(FuseId),
}

/// What would repair a fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Repair {
    /// In plain words: "replace the terminal".
    pub words: String,
    /// Faults with the same key are repaired by the same work.
    pub key: String,
    /// Minutes.
    pub minutes: f64,
    /// Parts, in the shop's money.
    pub parts_price: f64,
}

/// Every possible single fault, in an order that depends on the circuit alone: branches in their order, then leaks in
/// connectors, bundles and at chafes, then devices, then module pins. A [`FaultId`] is a position in this list.
///
/// Added resistance and a bad contact are one fault over eight decades of ohms; a clean break is one of its own, since an
/// unloaded voltmeter tells 10 MΩ from nothing. A wire that came out of its crimp is that wire broken: no probe reaches
/// between the two. Branches without a fault of their own: a bypass or bridge that is not part of the vehicle as it
/// drives, clamp diodes, whose leak is the leak of their pin and whose loss nothing shows, and what merely describes a
/// battery, a charger or an input.
pub fn possible_faults(circuit: &Circuit) -> Vec<Fault> {
    let places = place::Places::new(circuit);
    let mut faults = Vec::new();
    for branch in (0..circuit.branches.len()).map(BranchId::from) {
        series::of_branch(&places, branch, &mut faults);
    }
    leaks::in_connectors(&places, &mut faults);
    leaks::in_bundles(&places, &mut faults);
    leaks::to_body(&places, &mut faults);
    for device in (0..circuit.devices.len()).map(DeviceId::from) {
        devices::of_device(&places, device, &mut faults);
    }
    for module in &circuit.modules {
        modules::of_pins(&places, module, &mut faults);
    }
    faults
}

/// A fault's path that the circuit does not know.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("no fault `{found}` is possible in this circuit{}", nearest.as_ref().map(|path| format!("; did you mean `{path}`?")).unwrap_or_default())]
pub struct UnknownFault {
    /// The path asked for.
    pub found: String,
    /// The known one that differs least.
    pub nearest: Option<String>,
}

/// Position of the fault with this path in the list of [`possible_faults`].
///
/// # Errors
/// [`UnknownFault`] with the nearest known path.
pub fn fault_by_path(faults: &[Fault], path: &str) -> Result<FaultId, UnknownFault> {
    faults
        .iter()
        .position(|fault| fault.path == path)
        .map(FaultId::from)
        .ok_or_else(|| UnknownFault {
            found: path.to_owned(),
            nearest: nearest(path, faults.iter().map(|fault| fault.path.as_str())).map(str::to_owned),
        })
}

impl Severity {
    /// A resistance, spread over its logarithm.
    fn ohms(low: f64, high: f64) -> Self {
        Self {
            unit: quantity::Unit::Ohm,
            low,
            high,
            logarithmic: true,
        }
    }

    /// A factor, spread over its logarithm.
    fn factor(low: f64, high: f64) -> Self {
        Self {
            unit: quantity::Unit::One,
            low,
            high,
            logarithmic: true,
        }
    }

    /// Percent of a sensor's span.
    fn percent(low: f64, high: f64) -> Self {
        Self {
            unit: quantity::Unit::Percent,
            low,
            high,
            logarithmic: false,
        }
    }
}
