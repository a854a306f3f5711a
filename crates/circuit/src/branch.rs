//! The electrical side of a circuit: points, and branches between them whose values follow the set-up.

#[cfg(test)]
mod tests;

use crate::id::{ConnectorId, FuseId, ParamId, PartId, PointId, RelayId, SensedId};
use crate::model::Circuit;
use crate::set_up::{Condition, SetUp};

/// What an open contact, switch or lifted fuse still conducts: insulation, not infinity. From memory of contact makers'
/// data (≥ 1e8 … 1e12 Ω dry); a float above it reads as the meter's own 0 V.
pub const OPEN_OHMS: f64 = 1e11;

/// A point. Within it everything is at one voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Unique name used in files and commands: `S1.2` (wire side), `S1.2/pin` (component side), `floor.7/a`,
    /// `floor.7/b` (two wire sides of a joint), `battery+`, `battery-`, `body`, `F1/in`, `F1/out`, `SP1` (a splice), `G1` (a stud), `K1/87`, `ignition` (a feed).
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
    /// Inductance in series with its resistance, henries; 0 where there is none to speak of. Says when a current that is
    /// switched often flows on between: see [`rhythm`](crate::rhythm).
    pub henries: f64,
}

/// What a branch is, physically. Faults are enumerated and hazards judged by it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Role {
    /// Battery with its internal resistance.
    Battery,
    /// Charger or alternator.
    Charger,
    /// What lets a current through one way: an alternator's rectifier, a battery that takes less readily than it gives.
    /// Nothing breaks here that is not a fault of the battery or the charger.
    OneWay,
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
    /// Module: leakage of a converter's input.
    InputLeak,
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

impl Role {
    /// The way between modules and devices: wires and what joins, protects and switches them.
    pub fn is_harness(self) -> bool {
        matches!(
            self,
            Self::Ground
                | Self::Contact
                | Self::Crimp
                | Self::Wire
                | Self::Splice
                | Self::Fuse
                | Self::FeedSwitch
                | Self::RelayContact
        )
    }
}

/// The element of a branch. Semantics are those of the network's elements of the same name.
#[derive(Clone, Debug, PartialEq)]
#[expect(
    missing_docs,
    reason = "the fields are those of the network's elements, described there"
)]
pub enum BranchKind {
    /// A resistance.
    Resistor { a: PointId, b: PointId, ohms: Law },
    /// Contacts: `closed_ohms` where the condition holds, [`OPEN_OHMS`] otherwise.
    Switch {
        a: PointId,
        b: PointId,
        closed_ohms: Law,
        closed: Condition,
    },
    /// A voltage with a resistance, present where the condition holds.
    Source {
        plus: PointId,
        minus: PointId,
        volts: Law,
        ohms: Law,
        present: Condition,
    },
    /// A diode.
    Diode {
        anode: PointId,
        cathode: PointId,
        saturation_amps: f64,
        thermal_volts: f64,
        series_ohms: f64,
    },
    /// A zener or transient clamp.
    Clamp {
        anode: PointId,
        cathode: PointId,
        breakdown_volts: Law,
        series_ohms: f64,
    },
    /// Regulated or ratiometric output: sources up to the lesser of offset + gain · (supply − ground) and supply −
    /// dropout, sinks above that or 0.
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
    CurrentSink {
        from: PointId,
        to: PointId,
        amps: Law,
        knee_volts: f64,
        drawn: Condition,
    },
    /// A filament.
    Lamp {
        a: PointId,
        b: PointId,
        rated_volts: f64,
        rated_watts: Law,
        hot_to_cold: f64,
    },
    /// Relay contacts; the coil is a resistor branch of its own between the coil points. Without a relay a transistor inside
    /// a device, which the voltage between those points switches.
    RelayContact {
        relay: Option<RelayId>,
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
    Fuse {
        fuse: FuseId,
        a: PointId,
        b: PointId,
        ohms: Law,
        rating_amps: f64,
    },
    /// An output transistor; protected if `limit_amps` is finite.
    Driver {
        a: PointId,
        b: PointId,
        on_ohms: Law,
        off_ohms: f64,
        limit_amps: f64,
        commanded: Condition,
    },
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

/// Where a law or a condition is evaluated.
#[derive(Clone, Copy, Debug)]
pub struct At<'a> {
    /// The circuit whose law it is.
    pub circuit: &'a Circuit,
    /// How the vehicle stands.
    pub set_up: &'a SetUp,
    /// The uncertain parameters θ, one a parameter of the circuit; those beyond its end count as 0, so empty is the centre.
    pub theta: &'a [f64],
    /// What a drifted device sees on top of the true sensed value, percent of the quantity's span (see
    /// [`Change::ShiftSensed`](crate::Change::ShiftSensed)); 0 for every device that has not drifted.
    pub shift_percent: f64,
}

impl<'a> At<'a> {
    /// In a set-up, at the centre of every parameter, nothing drifted.
    pub fn centre(circuit: &'a Circuit, set_up: &'a SetUp) -> Self {
        Self {
            circuit,
            set_up,
            theta: &[],
            shift_percent: 0.0,
        }
    }

    /// The same place, seen by a device that has drifted.
    #[must_use]
    pub fn shifted(self, shift_percent: f64) -> Self {
        Self { shift_percent, ..self }
    }

    /// The parameter's value.
    pub fn theta(&self, param: ParamId) -> f64 {
        self.theta.get(param.idx()).copied().unwrap_or(0.0)
    }

    /// What a device senses: the set-up's value, moved by the technician's doubt about it and by the device's own drift.
    pub fn sensed(&self, sensed: SensedId) -> f64 {
        let quantity = &self.circuit.sensed[sensed.idx()];
        let doubt = quantity.param.map_or(0.0, |param| quantity.spread * self.theta(param));
        self.circuit.sensed_value(self.set_up, sensed) + doubt + self.shift_percent * quantity.span() / 100.0
    }
}

impl Law {
    /// A value that is known exactly.
    pub fn fixed(value: f64) -> Self {
        Self {
            base: Base::Fixed(value),
            moved_by: Vec::new(),
        }
    }

    /// The value. NaN for a table without rows, which no file check lets through.
    pub fn value(&self, at: &At<'_>) -> f64 {
        let shift: f64 = self
            .moved_by
            .iter()
            .map(|moved| moved.shift * at.theta(moved.param))
            .sum();
        self.base.value(at) * self.factor(at) + shift
    }

    /// Derivatives by each θ that moves the value, the doubt about a sensed value included. A parameter may come more
    /// than once: its derivative is the sum. A step (`When`) has none.
    pub fn derivatives<'s>(&'s self, at: &At<'s>) -> impl Iterator<Item = (ParamId, f64)> + use<'s> {
        let factor = self.factor(at);
        let scaled = self.base.value(at) * factor;
        let by_sensed = self.base.slope(at).and_then(|(sensed, slope)| {
            let quantity = &at.circuit.sensed[sensed.idx()];
            quantity.param.map(|param| (param, slope * quantity.spread * factor))
        });
        self.moved_by
            .iter()
            .map(move |moved| (moved.param, scaled * moved.factor + moved.shift))
            .chain(by_sensed)
    }

    /// Derivative by [`At::shift_percent`].
    pub fn by_shift(&self, at: &At<'_>) -> f64 {
        self.base.slope(at).map_or(0.0, |(sensed, slope)| {
            slope * at.circuit.sensed[sensed.idx()].span() / 100.0 * self.factor(at)
        })
    }

    fn factor(&self, at: &At<'_>) -> f64 {
        let log: f64 = self
            .moved_by
            .iter()
            .map(|moved| moved.factor * at.theta(moved.param))
            .sum();
        log.exp()
    }
}

impl Base {
    /// The value with parameters at their centre, except for those that move what is sensed.
    fn value(&self, at: &At<'_>) -> f64 {
        match self {
            Self::Fixed(value) => *value,
            Self::Table { by, rows, logarithmic } => interpolate(rows, at.sensed(*by), *logarithmic).0,
            Self::When {
                condition,
                then,
                otherwise,
            } => {
                if condition.holds(at) {
                    *then
                } else {
                    *otherwise
                }
            }
        }
    }

    /// The sensed quantity that it follows, and its slope there.
    fn slope(&self, at: &At<'_>) -> Option<(SensedId, f64)> {
        match self {
            Self::Table { by, rows, logarithmic } => Some((*by, interpolate(rows, at.sensed(*by), *logarithmic).1)),
            Self::Fixed(_) | Self::When { .. } => None,
        }
    }
}

/// Value and slope at `x` of a table sorted by its first column, held constant outside. At a row the slope is that
/// toward the next one. A logarithmic table with a value that is not positive is read linearly there.
fn interpolate(rows: &[(f64, f64)], x: f64, logarithmic: bool) -> (f64, f64) {
    let after = rows.partition_point(|row| row.0 <= x);
    match (
        after.checked_sub(1).map(|before| rows[before]),
        rows.get(after).copied(),
    ) {
        (Some((x0, y0)), Some((x1, y1))) => {
            let part = (x - x0) / (x1 - x0);
            if logarithmic && y0 > 0.0 && y1 > 0.0 {
                let log_slope = (y1 / y0).ln() / (x1 - x0);
                let y = y0 * (y1 / y0).powf(part);
                (y, y * log_slope)
            } else {
                (y0 + (y1 - y0) * part, (y1 - y0) / (x1 - x0))
            }
        }
        (Some((_, y)), None) | (None, Some((_, y))) => (y, 0.0),
        (None, None) => (f64::NAN, 0.0),
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

impl Branch {
    /// Whether it follows a condition of which `of_condition` is true, or a sensed value of which `of_sensed` is.
    pub fn follows(&self, of_condition: &dyn Fn(&Condition) -> bool, of_sensed: &dyn Fn(SensedId) -> bool) -> bool {
        let by_table = |law: &&Law| matches!(&law.base, Base::Table { by, .. } if of_sensed(*by));
        self.kind
            .conditions()
            .iter()
            .any(|condition| condition.any(of_condition))
            || self.kind.laws().iter().any(by_table)
    }
}

impl BranchKind {
    /// The two points between which it carries its current; an output carries it from its supply to its output.
    pub fn ends(&self) -> (PointId, PointId) {
        match *self {
            Self::Resistor { a, b, .. }
            | Self::Switch { a, b, .. }
            | Self::Lamp { a, b, .. }
            | Self::RelayContact { a, b, .. }
            | Self::Fuse { a, b, .. }
            | Self::Driver { a, b, .. } => (a, b),
            Self::Source { plus, minus, .. } => (plus, minus),
            Self::Diode { anode, cathode, .. } | Self::Clamp { anode, cathode, .. } => (anode, cathode),
            Self::Output { supply, output, .. } => (supply, output),
            Self::CurrentSink { from, to, .. } => (from, to),
        }
    }

    /// The values that it has.
    pub(crate) fn laws(&self) -> Vec<&Law> {
        match self {
            Self::Resistor { ohms, .. } | Self::Fuse { ohms, .. } => vec![ohms],
            Self::RelayContact { closed_ohms, .. } | Self::Switch { closed_ohms, .. } => vec![closed_ohms],
            Self::Source { volts, ohms, .. } => vec![volts, ohms],
            Self::Diode { .. } => Vec::new(),
            Self::Clamp { breakdown_volts, .. } => vec![breakdown_volts],
            Self::Output {
                offset_volts,
                gain,
                ohms,
                ..
            } => vec![offset_volts, gain, ohms],
            Self::CurrentSink { amps, .. } => vec![amps],
            Self::Lamp { rated_watts, .. } => vec![rated_watts],
            Self::Driver { on_ohms, .. } => vec![on_ohms],
        }
    }

    /// The conditions that it follows, those within its values included.
    pub(crate) fn conditions(&self) -> Vec<&Condition> {
        let own = match self {
            Self::Switch { closed, .. } => Some(closed),
            Self::Source { present, .. } => Some(present),
            Self::CurrentSink { drawn, .. } => Some(drawn),
            Self::Driver { commanded, .. } => Some(commanded),
            _ => None,
        };
        let within = self.laws().into_iter().filter_map(|law| match &law.base {
            Base::When { condition, .. } => Some(condition),
            Base::Fixed(_) | Base::Table { .. } => None,
        });
        own.into_iter().chain(within).collect()
    }
}
