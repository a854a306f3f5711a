//! The electrical side of a circuit: points, and branches between them whose values follow the set-up.

use crate::id::*;
use crate::set_up::Condition;

/// What an open contact, switch or lifted fuse still conducts: insulation, not infinity. From memory of contact makers'
/// data (≥ 1e8 … 1e12 Ω dry); a float above it reads as the meter's own 0 V.
pub const OPEN_OHMS: f64 = 1e11;

/// A point. Within it everything is at one voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Unique name used in files and commands: `S1.2` (wire side), `S1.2/pin` (component side), `floor.7/a`,
    /// `floor.7/b` (two wire sides of a joint), `battery+`, `battery-`, `body`, `F1/in`, `F1/out`, `splice SP1`.
    pub path: String,
    /// Where it is, in plain words: "sensor plug, cavity 2, wire side".
    pub words: String,
    /// How a probe reaches it.
    pub access: Access,
    /// The part it belongs to.
    pub part: PartId,
}

/// How a probe reaches a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// Always: battery posts, body metal, studs, fuse test points.
    Open {
        /// Minutes to reach it, in tenths (kept whole so that it can be compared).
        tenths: u32,
    },
    /// A terminal with a wire on it: back-probed if the connector allows it, or front-probed when parted.
    WireSide(ConnectorId),
    /// A component's pin: only when its connector is parted.
    PinSide(ConnectorId),
    /// Nothing reaches it (inside a module or a device, a taped splice, a wire's end in its crimp).
    Inside,
}

/// One element between points.
#[derive(Clone, Debug, PartialEq)]
pub struct Branch {
    /// Unique name: `S1.2/contact`, `S1.2/crimp`, `W3`, `sensor/upper track`.
    pub path: String,
    /// The part it belongs to.
    pub part: PartId,
    /// What it is.
    pub role: Role,
    /// The element.
    pub kind: BranchKind,
    /// Most current it bears, amperes; `None` where nothing limits it in practice.
    pub rating_amps: Option<f64>,
}

/// What a branch is, physically. Faults are enumerated and hazards judged by it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Role {
    /// Battery with its internal resistance.
    Battery,
    /// Charger or alternator.
    Charger,
    /// Ground strap, stud or ring terminal on body metal.
    Ground,
    /// Mated contact of a cavity.
    Contact,
    /// Crimp between wire and terminal.
    Crimp,
    /// Wire from end to end.
    Wire,
    /// Joint of a splice leg.
    Splice,
    /// Fuse.
    Fuse,
    /// Contacts of the ignition switch or another feed switch.
    FeedSwitch,
    /// Relay contacts.
    RelayContact,
    /// Relay coil.
    RelayCoil,
    /// Module: reference output.
    Reference,
    /// Module: pull-up or pull-down.
    Pull,
    /// Module: series resistor in front of the converter.
    Series,
    /// Module: clamp diode.
    ClampDiode,
    /// Module: what it draws from its feed.
    Quiescent,
    /// Module: path from a sensor-ground or ground pin to the module's ground.
    InsideGround,
    /// Module: output transistor.
    Driver,
    /// Module: open-load bias of a driver, or bleed of a reference.
    Bias,
    /// Device: track of a potentiometer.
    Track,
    /// Device: wiper.
    Wiper,
    /// Device: thermistor or another resistance that follows a sensed value.
    SensingResistor,
    /// Device: active output of a sensor.
    SensorOutput,
    /// Device: fixed resistor.
    FixedResistor,
    /// Device: coil, solenoid, injector winding.
    Coil,
    /// Device: motor.
    Motor,
    /// Device: filament lamp.
    Lamp,
    /// Device: switch contacts.
    SwitchContact,
    /// Device: anything else in a composed device.
    Other,
}

/// The element of a branch. Semantics are those of the network's elements of the same name.
#[derive(Clone, Debug, PartialEq)]
pub enum BranchKind {
    /// A resistance.
    Resistor { a: PointId, b: PointId, ohms: Law },
    /// Contacts: `closed_ohms` where the condition holds, [`OPEN_OHMS`] otherwise.
    Switch { a: PointId, b: PointId, closed_ohms: Law, closed: Condition },
    /// A voltage with a resistance, present where the condition holds.
    Source { plus: PointId, minus: PointId, volts: Law, ohms: Law, present: Condition },
    /// A diode.
    Diode { anode: PointId, cathode: PointId, saturation_amps: f64, thermal_volts: f64, series_ohms: f64 },
    /// A zener or transient clamp.
    Clamp { anode: PointId, cathode: PointId, breakdown_volts: Law, series_ohms: f64 },
    /// Regulated or ratiometric output: target = offset + gain · (supply − ground), within 0 and supply − dropout.
    Output {
        supply: PointId,
        ground: PointId,
        output: PointId,
        offset_volts: Law,
        gain: Law,
        dropout_volts: f64,
        ohms: Law,
        source_limit_amps: f64,
        sink_limit_amps: f64,
    },
    /// A load of constant current.
    CurrentSink { from: PointId, to: PointId, amps: Law, knee_volts: f64, drawn: Condition },
    /// A filament.
    Lamp { a: PointId, b: PointId, rated_volts: f64, rated_watts: Law, hot_to_cold: f64 },
    /// Relay contacts; the coil is a resistor branch of its own between the coil points.
    RelayContact {
        relay: RelayId,
        a: PointId,
        b: PointId,
        closed_ohms: Law,
        coil_plus: PointId,
        coil_minus: PointId,
        pull_in_volts: f64,
        drop_out_volts: f64,
        normally_closed: bool,
    },
    /// A fuse.
    Fuse { fuse: FuseId, a: PointId, b: PointId, ohms: Law, rating_amps: f64 },
    /// An output transistor; protected if `limit_amps` is finite.
    Driver { a: PointId, b: PointId, on_ohms: Law, off_ohms: f64, limit_amps: f64, commanded: Condition },
}

/// A value: what it is in a set-up, and how uncertain parameters move it.
///
/// `value = base(set-up) · exp(Σ factor_p · θ_p) + Σ shift_p · θ_p`, with θ standard normal.
#[derive(Clone, Debug, PartialEq)]
pub struct Law {
    /// The value in a set-up, all parameters at their centre.
    pub base: Base,
    /// How parameters move it.
    pub moved_by: Vec<Moved>,
}

/// One parameter's hold on a value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// The parameter.
    pub param: ParamId,
    /// Relative standard deviation (log scale), 0 if none.
    pub factor: f64,
    /// Absolute standard deviation in the value's unit, 0 if none.
    pub shift: f64,
}

/// A value as it follows the set-up.
#[derive(Clone, Debug, PartialEq)]
pub enum Base {
    /// Always the same.
    Fixed(f64),
    /// By a sensed value; rows sorted by it, held constant outside.
    Table {
        /// The sensed quantity.
        by: SensedId,
        /// (sensed value, value).
        rows: Vec<(f64, f64)>,
        /// Interpolate the logarithm of the value (thermistors).
        logarithmic: bool,
    },
    /// One of two values.
    When {
        /// In these set-ups …
        condition: Condition,
        /// … this value,
        then: f64,
        /// else this.
        otherwise: f64,
    },
}

impl Law {
    /// A value that is known exactly.
    pub fn fixed(value: f64) -> Self {
        Self { base: Base::Fixed(value), moved_by: Vec::new() }
    }
}

/// A named uncertain parameter: standard normal, shared by every value that it moves.
#[derive(Clone, Debug, PartialEq)]
pub struct Param {
    /// Unique name: `battery`, `climate.27/pull`.
    pub path: String,
    /// In plain words: "pull-up at pin 27".
    pub words: String,
    /// The value at θ = 0 and the unit, for showing what was learnt.
    pub nominal: f64,
    /// Unit of `nominal`.
    pub unit: quantity::Unit,
}
