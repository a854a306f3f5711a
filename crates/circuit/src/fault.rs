//! What can break, as changes to points and branches.

use crate::id::*;

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
    /// Severity in ohms, in series with a resistor, switch, source, fuse, driver, relay contact or lamp branch.
    AddSeries(BranchId),
    /// The branch conducts no more than [`OPEN_OHMS`](crate::branch::OPEN_OHMS).
    Open(BranchId),
    /// Severity in ohms between two points.
    Bridge(PointId, PointId),
    /// A fixed resistance between two points.
    BridgeOhms(PointId, PointId, f64),
    /// The branch's main value (ohms, amperes, watts, gain, volts) times severity.
    Scale(BranchId),
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
